"""Two readings of air, taken in or refused in words, and the temperature and vapour pressure they determine.

Contents: limits, as data; which two determine a state; the limits kept; the solution of every pair; impossible pairs.
Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import numpy as np

from desorb.core.air import equations
from desorb.core.saturation import (
    Array,
    Phase,
    Range,
    numbers,
    place,
    pressure_over,
    require_in_range,
    temperature_over,
)
from desorb.errors import InputError, OutOfRange

SATURATION_TOLERANCE = 0.5  # %RH, ours: from 100 to 100.5 is rounding and taken as saturated, above is refused

LIMITS = {
    "air_temperature": Range("air in buildings", -45.0, 60.0, "degC", "ours, that of the form of [WMO8]"),
    "relative_humidity": Range(
        "what air holds, with 0.5 % for rounding", 1.0, 100.0 + SATURATION_TOLERANCE, "%", "ours"
    ),
    "dew_point": Range("air in buildings", -50.0, 60.0, "degC", "ours, down to where the supercooled form ends"),
    "wet_bulb": Range("air in buildings", -50.0, 60.0, "degC", "ours, down to where the supercooled form ends"),
    "humidity_ratio": Range("dew points from -50 to 60 degC", 0.03, 420.0, "g/kg", "ours"),
    "vapour_pressure": Range("dew points from -50 to 60 degC", 6.4, 20e3, "Pa", "ours"),
    "pressure": Range("inhabited altitudes", 50e3, 110e3, "Pa", "ours"),
}
WORDS = {name: name.replace("_", " ") for name in LIMITS} | {"pressure": "air pressure"}
_MOISTURES = ("dew_point", "vapour_pressure", "humidity_ratio")


def two_that_determine(names: list[str]) -> list[str]:
    """`names` if they are two that determine a state; else InputError that says what to add."""
    words = [WORDS[name] for name in names]
    if len(names) < 2:
        wanted = [WORDS[name] for name in ("air_temperature", "relative_humidity", "dew_point") if name not in names]
        only = f"only {words[0]} is given" if names else "nothing is given"
        raise InputError(
            f"a state of air needs two readings and {only}", next_step=f"measure {' or '.join(wanted)} too"
        )
    if len(names) > 2:
        raise InputError(
            f"two readings make a state of air and {len(names)} are given, which may contradict",
            got=", ".join(words),
            next_step="give two; the others can be compared with what they make",
        )
    if set(names) <= set(_MOISTURES):
        raise InputError(
            f"{words[0]} and {words[1]} say the same thing twice and leave the temperature open",
            next_step="keep one of them and add air temperature, relative humidity or wet bulb",
        )
    return names


def within_limits(name: str, value: object) -> Array:
    """Numbers inside LIMITS; humidity from 100 to 100.5 % is rounding and taken as 100. InputError, OutOfRange."""
    values = numbers(value, WORDS[name])
    require_in_range(values, WORDS[name], LIMITS[name])
    if name == "relative_humidity":
        require_more_than_one_percent(values)
        return np.minimum(values, 100.0)
    return values


def require_more_than_one_percent(relative_humidity: Array) -> None:
    """At or below 1 % a number is a fraction, another unit or a probe at the end of its scale. OutOfRange."""
    low = np.asarray(relative_humidity <= LIMITS["relative_humidity"].low)
    if low.any():
        first = float(relative_humidity[tuple(np.argwhere(low)[0])])
        raise OutOfRange(
            f"relative humidity {first:.3g} %{place(low)} is not above 1 %, and air in buildings is",
            next_step="check the unit: a fraction for %, hPa for Pa, kg/kg for g/kg? If not, the probe is at its end",
        )


def temperature_and_vapour(known: dict[str, Array], phase: Phase) -> tuple[Array, Array]:
    """Air temperature [degC] and vapour pressure [Pa], from which all else follows.

    known: a pair by the names of LIMITS, and the pressure, of one shape. The vapour pressure may lie above saturation
    by SATURATION_TOLERANCE. InputError if the two contradict, OutOfRange if the temperature that follows does.
    """
    pressure, vapour = known["pressure"], _vapour_pressure(known)
    if "air_temperature" in known:
        temperature = known["air_temperature"]
        if vapour is None and "relative_humidity" in known:
            vapour = known["relative_humidity"] / 100 * pressure_over(phase, temperature)  # [ASHRAE17] eq. 22
        elif vapour is None:
            ratio = equations.ratio_from_wet_bulb(temperature, known["wet_bulb"], pressure, phase)
            _require_cooling_possible(ratio, temperature, known["wet_bulb"])
            vapour = equations.vapour_pressure_from_ratio(ratio, pressure)
        _require_possible(known, "air_temperature", vapour, phase)
        return temperature, vapour
    if vapour is None:
        bulb, humidity = known["wet_bulb"], known["relative_humidity"]
        highest = LIMITS["air_temperature"].high + 1
        temperature = equations.air_temperature_from_humidity(bulb, humidity, pressure, phase, highest)
    elif "relative_humidity" in known:
        temperature = temperature_over(phase, vapour / (known["relative_humidity"] / 100))  # [ASHRAE17] eq. 22
    else:
        _require_possible(known, "wet_bulb", vapour, phase)
        ratio = equations.humidity_ratio(vapour, pressure)
        temperature = equations.air_temperature_from_wet_bulb(known["wet_bulb"], ratio, pressure, phase)
    require_in_range(temperature, "the air temperature that follows,", LIMITS["air_temperature"], derived=True)
    if vapour is None:
        vapour = known["relative_humidity"] / 100 * pressure_over(phase, temperature)  # [ASHRAE17] eq. 22
    return temperature, vapour


def _vapour_pressure(known: dict[str, Array]) -> Array | None:
    if "dew_point" in known:
        return pressure_over("water", known["dew_point"])
    if "humidity_ratio" in known:
        return equations.vapour_pressure_from_ratio(known["humidity_ratio"] / 1000, known["pressure"])
    return known.get("vapour_pressure")


def _require_possible(known: dict[str, Array], ceiling: str, vapour: Array, phase: Phase) -> None:
    """Air holds no more than saturation at its temperature, nor more than saturation at its wet bulb."""
    saturated = pressure_over(phase, known[ceiling])
    impossible = np.asarray(vapour > saturated * (1 + SATURATION_TOLERANCE / 100))
    if not impossible.any():
        return
    first = tuple(np.argwhere(impossible)[0])
    name = next(name for name in known if name not in (ceiling, "pressure"))
    value, top = float(known[name][first]), float(known[ceiling][first])
    subject = f"{WORDS[name]} {value:g} {LIMITS[name].unit}{place(impossible)}"
    at = f"{WORDS[ceiling]} {top:g} degC"
    if LIMITS[name].unit == "degC" and value > top:
        sentence = f"{subject} is above the {at}, which cannot be"
    else:
        percent = float(100 * vapour[first] / saturated[first])
        sentence = f"{subject} at the {at} would be {percent:.1f} % relative humidity over {phase}, which cannot be"
    by_water = " If the humidity was taken over water, say relative_humidity_over='water'" if phase == "ice" else ""
    raise InputError(
        sentence, next_step=f"check both figures, their order and their units.{by_water}".removesuffix(".")
    )


def _require_cooling_possible(ratio: Array, temperature: Array, wet_bulb: Array) -> None:
    impossible = np.asarray(ratio <= 0)
    if impossible.any():
        first = tuple(np.argwhere(impossible)[0])
        raise InputError(
            f"wet bulb {float(wet_bulb[first]):g} degC{place(impossible)} is too cold for air at "
            f"{float(temperature[first]):g} degC: even dry air would not cool it so far",
            next_step="check both figures, their order and their units",
        )
