"""Does the dew point or the g/kg that an instrument displays follow from its own temperature and relative humidity?

A figure that does not is a slip of the pen, another unit, another air pressure, or a fault: someone must ask.
"""

from __future__ import annotations

from desorb.core.air.state import AirState, air_state
from desorb.core.saturation import Range, numbers, require_in_range
from desorb.units import GRAINS_PER_POUND_PER_G_PER_KG, celsius_from_fahrenheit

DEW_POINT_TOLERANCE = 0.3  # K, setting of ours
HUMIDITY_RATIO_TOLERANCE = 0.2  # g/kg, setting of ours


def displayed_disagreement(
    air_temperature: float | None,
    relative_humidity: float | None,
    displayed_dew_point: float | None = None,
    displayed_humidity_ratio: float | None = None,
    pressure: float | None = None,
    altitude: float | None = None,
    dew_point_tolerance: float = DEW_POINT_TOLERANCE,
    humidity_ratio_tolerance: float = HUMIDITY_RATIO_TOLERANCE,
) -> list[str]:
    """Plain sentences where a displayed figure is off; none if all that is displayed agrees, or nothing is.

    air_temperature [degC], relative_humidity [%] over water, displayed_dew_point [degC], displayed_humidity_ratio
    [g/kg dry air]. pressure [Pa] or altitude [m]; neither means sea level. Tolerances [K] and [g/kg], 0.01 to 5: off is
    more than that, unrounded. Raises InputError if temperature or humidity is missing, OutOfRange; see `air_state`.
    """
    for name, tolerance in (("dew point", dew_point_tolerance), ("humidity ratio", humidity_ratio_tolerance)):
        limits = Range("a tolerance", 0.01, 5.0, "K" if name == "dew point" else "g/kg", "ours")
        require_in_range(numbers(tolerance, f"{name} tolerance"), f"{name} tolerance", limits)
    state = air_state(
        air_temperature=float(numbers(air_temperature, "air temperature")),
        relative_humidity=float(numbers(relative_humidity, "relative humidity")),
        pressure=pressure,
        altitude=altitude,
    )
    said = f"{state.air_temperature:g} degC and {state.relative_humidity:g} % RH make"
    found = []
    if displayed_dew_point is not None:
        shown = float(numbers(displayed_dew_point, "displayed dew point"))
        off = shown - state.dew_point
        if abs(off) > dew_point_tolerance:
            why = _dew_point_reason(shown, state, dew_point_tolerance)
            found.append(
                f"displayed dew point {shown:g} degC is {abs(off):.1f} K {_side(off)} the {state.dew_point:.1f} degC "
                f"that {said}{why}"
            )
    if displayed_humidity_ratio is not None:
        shown = float(numbers(displayed_humidity_ratio, "displayed humidity ratio"))
        off = shown - state.humidity_ratio
        if abs(off) > humidity_ratio_tolerance:
            why = _humidity_ratio_reason(shown, state, humidity_ratio_tolerance)
            found.append(
                f"displayed humidity ratio {shown:g} g/kg is {abs(off):.2f} g/kg {_side(off)} the "
                f"{state.humidity_ratio:.2f} g/kg that {said} at {state.pressure / 100:.0f} hPa{why}"
            )
    return found


def _side(off: float) -> str:
    return "above" if off > 0 else "below"


def _dew_point_reason(shown: float, state: AirState, tolerance: float) -> str:
    reasons: list[tuple[str, float]] = [
        ("it agrees as degF", celsius_from_fahrenheit(shown) - state.dew_point),
        ("it agrees as the wet bulb", state.wet_bulb - shown),
    ]
    if state.frost_point is not None:
        reasons.append(("it agrees as a frost point", state.frost_point - shown))
    return "".join(f"; {words}" for words, off in reasons if abs(off) <= tolerance)


def _humidity_ratio_reason(shown: float, state: AirState, tolerance: float) -> str:
    at_sea_level = air_state(air_temperature=state.air_temperature, relative_humidity=state.relative_humidity)
    reasons: list[tuple[str, float]] = [
        ("it agrees as grains per pound", shown / GRAINS_PER_POUND_PER_G_PER_KG - state.humidity_ratio),
        ("it agrees as g/m3 of air", shown - state.absolute_humidity),
        ("it agrees at sea level: the instrument may not know its altitude", shown - at_sea_level.humidity_ratio),
    ]
    return "".join(f"; {words}" for words, off in reasons if abs(off) <= tolerance)
