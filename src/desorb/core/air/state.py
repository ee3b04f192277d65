"""The state of moist air, from any two readings that determine it.

Contents: AirState (one) and AirStates (many); air_state; all the fields. Pairs and refusals stand in `pairs`.
Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Generic, TypeVar, overload

import numpy as np

from desorb.core.air import equations
from desorb.core.air.pairs import (
    LIMITS,
    WORDS,
    require_more_than_one_percent,
    temperature_and_vapour,
    two_that_determine,
    within_limits,
)
from desorb.core.saturation import (
    Array,
    Phase,
    Q,
    Quantity,
    frost_point,
    pressure_over,
    require_in_range,
    temperature_over,
)
from desorb.errors import InputError

FrostPoint = TypeVar("FrostPoint", float | None, Array)


@dataclass(frozen=True)
class _Air(Generic[Q, FrostPoint]):
    air_temperature: Q
    relative_humidity: Q
    dew_point: Q
    frost_point: FrostPoint
    wet_bulb: Q
    humidity_ratio: Q
    vapour_pressure: Q
    absolute_humidity: Q
    enthalpy: Q
    specific_volume: Q
    pressure: Q
    convention: str

    @property
    def vapour_pressure_deficit(self) -> Q:
        """What is missing to saturation, in the convention of the relative humidity. [Pa]"""
        return self.vapour_pressure * (100 / self.relative_humidity - 1)


class AirState(_Air[float, float | None]):
    """The state of one body of moist air.

    air_temperature [degC]; relative_humidity [%], over water unless `convention` says ice; dew_point [degC], over
    water, supercooled below 0; frost_point [degC], over ice, None where only dew can form; wet_bulb [degC];
    humidity_ratio [g/kg dry air]; vapour_pressure [Pa]; absolute_humidity [g/m3]; enthalpy [kJ/kg dry air], zero for
    dry air and liquid water at 0 degC; specific_volume [m3/kg dry air]; pressure [Pa]; convention: a sentence.
    """


class AirStates(_Air[Array, Array]):
    """Many states of air: the fields of AirState as arrays of one shape; frost_point is NaN where only dew can form."""


_CONVENTIONS: dict[Phase, str] = {
    "water": "relative humidity and wet bulb over water, also below 0 degC; dew point over water, frost point over ice",
    "ice": "relative humidity and wet bulb over ice below 0 degC; dew point over water, frost point over ice",
}


@overload
def air_state(
    *,
    air_temperature: float | None = None,
    relative_humidity: float | None = None,
    dew_point: float | None = None,
    wet_bulb: float | None = None,
    humidity_ratio: float | None = None,
    vapour_pressure: float | None = None,
    pressure: float | None = None,
    altitude: float | None = None,
    relative_humidity_over: Phase = "water",
) -> AirState: ...
@overload
def air_state(
    *,
    air_temperature: Quantity | None = None,
    relative_humidity: Quantity | None = None,
    dew_point: Quantity | None = None,
    wet_bulb: Quantity | None = None,
    humidity_ratio: Quantity | None = None,
    vapour_pressure: Quantity | None = None,
    pressure: Quantity | None = None,
    altitude: Quantity | None = None,
    relative_humidity_over: Phase = "water",
) -> AirStates: ...
def air_state(
    *,
    air_temperature: Quantity | None = None,
    relative_humidity: Quantity | None = None,
    dew_point: Quantity | None = None,
    wet_bulb: Quantity | None = None,
    humidity_ratio: Quantity | None = None,
    vapour_pressure: Quantity | None = None,
    pressure: Quantity | None = None,
    altitude: Quantity | None = None,
    relative_humidity_over: Phase = "water",
) -> AirState | AirStates:
    """The full state of moist air from exactly two of the first six.

    Scalars give an AirState of floats; arrays broadcast and give AirStates.

    air_temperature: -45 to 60 degC. relative_humidity: above 1 % (so that a fraction is refused) to 100.5 %, where the
    last half is taken as saturated. dew_point, over water also below 0: -50 to 60 degC. wet_bulb: -50 to 60 degC.
    humidity_ratio: 0.03 to 420 g/kg of dry air. vapour_pressure: 6.4 to 20 000 Pa.
    pressure: 50 000 to 110 000 Pa, or altitude: metres above sea level; neither means sea level, 101 325 Pa.
    relative_humidity_over: below 0 degC, "water" is what instruments show, "ice" is the ASHRAE convention; the same
    word decides what covers the wet bulb.

    Raises InputError, with a sentence, if a reading is missing or too many, if the two do not determine a state (any
    two of dew point, vapour pressure and humidity ratio) or contradict each other, or if both pressure and altitude are
    given. Raises OutOfRange, an InputError, if a reading or the state that follows lies outside the ranges above.
    Source: [ASHRAE17] chapter 1, ideal-gas equations.
    """
    given = {
        "air_temperature": air_temperature,
        "relative_humidity": relative_humidity,
        "dew_point": dew_point,
        "wet_bulb": wet_bulb,
        "humidity_ratio": humidity_ratio,
        "vapour_pressure": vapour_pressure,
    }
    pair = two_that_determine([name for name, value in given.items() if value is not None])
    if relative_humidity_over not in _CONVENTIONS:
        raise InputError("relative humidity is over water or over ice", got=repr(relative_humidity_over))
    if altitude is not None and pressure is not None:
        raise InputError("both air pressure and altitude are given", next_step="give the one that was measured")
    if altitude is not None:
        pressure = equations.pressure_at_altitude(altitude)  # type: ignore[type-var]
    readings = {name: given[name] for name in pair}
    readings["pressure"] = equations.STANDARD_PRESSURE if pressure is None else pressure
    known = {name: within_limits(name, value) for name, value in readings.items()}
    try:
        known = dict(zip(known, np.broadcast_arrays(*known.values()), strict=True))
    except ValueError:
        shapes = " and ".join(f"{WORDS[name]} {values.shape}" for name, values in known.items())
        raise InputError(
            "the readings differ in number", got=shapes, next_step="give one value or equally many"
        ) from None
    fields = _fields(known, relative_humidity_over)
    convention = _CONVENTIONS[relative_humidity_over]
    if known["pressure"].ndim:
        return AirStates(**fields, convention=convention)
    one = {name: float(values) for name, values in fields.items() if name != "frost_point"}
    frost = float(fields["frost_point"])
    return AirState(**one, frost_point=None if math.isnan(frost) else frost, convention=convention)


def _fields(known: dict[str, Array], phase: Phase) -> dict[str, Array]:
    """Every field, from two readings and the pressure, all of one shape."""
    pressure = known["pressure"]
    temperature, vapour = temperature_and_vapour(known, phase)
    saturated = pressure_over(phase, temperature)
    rounded = vapour > saturated
    vapour = np.minimum(vapour, saturated)
    relative_humidity = 100 * vapour / saturated  # [ASHRAE17] eq. 22
    require_more_than_one_percent(relative_humidity)
    require_in_range(vapour, "the vapour pressure that follows,", LIMITS["vapour_pressure"], derived=True)
    ratio = equations.humidity_ratio(vapour, pressure)
    volume = equations.specific_volume(temperature, ratio, pressure)
    fields = {
        "air_temperature": temperature,
        "relative_humidity": relative_humidity,
        "dew_point": temperature_over("water", vapour),
        "frost_point": frost_point(np.asarray(vapour)),
        "wet_bulb": equations.wet_bulb(temperature, vapour, pressure, phase),
        "humidity_ratio": 1000 * ratio,
        "vapour_pressure": vapour,
        "absolute_humidity": 1000 * ratio / volume,  # [ASHRAE17] by definition
        "enthalpy": equations.enthalpy(temperature, ratio),
        "specific_volume": volume,
    }
    kept = {
        name: np.where(rounded & (name != "pressure"), fields.get(name, values), values)
        for name, values in known.items()
    }
    return {name: np.asarray(values) for name, values in (fields | kept).items()}
