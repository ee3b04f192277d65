"""What air does at a surface: its relative humidity there, the room humidity a surface allows, and why it is cold.

Contents: surface and required relative humidity; vapour pressure excess; temperature factor; wet-bulb bound.
Scalars give floats, arrays broadcast. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import overload

import numpy as np

from desorb.core.air.pairs import LIMITS
from desorb.core.saturation import (
    Array,
    Phase,
    Quantity,
    Range,
    numbers,
    place,
    pressure_over,
    require_in_range,
    shaped,
)
from desorb.errors import InputError, Refused

SURFACE_CRITERION = 80.0  # %RH at a surface for several days: mould risk  [ISO-13788] as summarised in BS 5250 annex D
SMALLEST_DIFFERENCE = 10.0  # K between inside and outside, setting of ours: below it f_Rsi is mostly error

NOT_EVAPORATION_ALONE = "not evaporation alone"
CANNOT_SAY = "cannot say from temperature"
NOT_COOLER = "not cooler than the air"


def _reading(value: object, quantity: str, limits: str) -> Array:
    values = numbers(value, quantity)
    require_in_range(values, quantity, LIMITS[limits])
    return values


def _saturated(value: object, quantity: str, phase: Phase) -> Array:
    if phase not in ("water", "ice"):
        raise InputError("relative humidity is over water or over ice", got=repr(phase))
    return pressure_over(phase, _reading(value, quantity, "air_temperature"))


@overload
def surface_relative_humidity(
    vapour_pressure: float, surface_temperature: float | None, relative_humidity_over: Phase = "water"
) -> float: ...
@overload
def surface_relative_humidity(
    vapour_pressure: Quantity, surface_temperature: Quantity | None, relative_humidity_over: Phase = "water"
) -> Quantity: ...
def surface_relative_humidity(
    vapour_pressure: Quantity, surface_temperature: Quantity | None, relative_humidity_over: Phase = "water"
) -> Quantity:
    """Relative humidity of the air that touches a surface; 100 and above: condensing. [Pa], [degC] -> [%]

    vapour_pressure of the room: 6.4 to 20 000 Pa. surface_temperature: -45 to 60 degC; there is no result without it.
    relative_humidity_over: "ice" tells when frost forms on a surface below 0 degC. The result is not cut at 100.
    Raises InputError if one is missing, OutOfRange. Source: [ASHRAE17] eq. 22 taken at the surface; [ISO-13788].
    """
    vapour = _reading(vapour_pressure, "vapour pressure", "vapour_pressure")
    saturated = _saturated(surface_temperature, "surface temperature", relative_humidity_over)
    return shaped(np.asarray(100 * vapour / saturated), vapour_pressure, surface_temperature)  # [ASHRAE17] eq. 22


@overload
def required_relative_humidity(
    air_temperature: float, surface_temperature: float, surface_criterion: float = SURFACE_CRITERION
) -> float: ...
@overload
def required_relative_humidity(
    air_temperature: Quantity, surface_temperature: Quantity, surface_criterion: float = SURFACE_CRITERION
) -> Quantity: ...
def required_relative_humidity(
    air_temperature: Quantity, surface_temperature: Quantity, surface_criterion: float = SURFACE_CRITERION
) -> Quantity:
    """The highest room humidity that keeps a surface at or below a criterion. [degC], [degC], [%] -> [%]

    Temperatures: -45 to 60 degC. surface_criterion: above 1 to 100 %. Above 100 the result says that no room humidity
    breaks the criterion: the surface is warmer than the air. Humidity over water throughout.
    Raises InputError if one is missing, OutOfRange. Source: [ISO-13788] criterion, [ASHRAE17] eq. 22.
    """
    criterion = numbers(surface_criterion, "surface criterion")
    require_in_range(criterion, "surface criterion", Range("a criterion", 1.01, 100.0, "%", "ours"))
    room = _saturated(air_temperature, "air temperature", "water")
    surface = _saturated(surface_temperature, "surface temperature", "water")
    return shaped(np.asarray(criterion * surface / room), air_temperature, surface_temperature)  # [ASHRAE17] eq. 22


@overload
def vapour_pressure_excess(inside_vapour_pressure: float, outside_vapour_pressure: float) -> float: ...
@overload
def vapour_pressure_excess(inside_vapour_pressure: Quantity, outside_vapour_pressure: Quantity) -> Quantity: ...
def vapour_pressure_excess(inside_vapour_pressure: Quantity, outside_vapour_pressure: Quantity) -> Quantity:
    """Inside minus outside: what the use of the building, or wet fabric, adds. [Pa], [Pa] -> [Pa]

    Both 6.4 to 20 000 Pa. Negative: the air inside is the drier. Raises InputError if one is missing, OutOfRange.
    """
    inside = _reading(inside_vapour_pressure, "inside vapour pressure", "vapour_pressure")
    outside = _reading(outside_vapour_pressure, "outside vapour pressure", "vapour_pressure")
    return shaped(np.asarray(inside - outside), inside_vapour_pressure, outside_vapour_pressure)


@overload
def temperature_factor(
    surface_temperature: float,
    inside_temperature: float,
    outside_temperature: float,
    smallest_difference: float = SMALLEST_DIFFERENCE,
) -> float: ...
@overload
def temperature_factor(
    surface_temperature: Quantity,
    inside_temperature: Quantity,
    outside_temperature: Quantity,
    smallest_difference: float = SMALLEST_DIFFERENCE,
) -> Quantity: ...
def temperature_factor(
    surface_temperature: Quantity,
    inside_temperature: Quantity,
    outside_temperature: Quantity,
    smallest_difference: float = SMALLEST_DIFFERENCE,
) -> Quantity:
    """f_Rsi: how near the inner surface is to the room, 1, rather than to outside, 0. [degC], [degC], [degC] -> [-]

    Temperatures: -45 to 60 degC, near steady for hours; that cannot be seen from one reading. A surface that dries is
    colder and its factor too low. smallest_difference: setting, 1 to 100 K; Refused where inside is not that much
    warmer than outside, in any place of an array. Raises InputError if one is missing, OutOfRange.
    Source: [ISO-13788].
    """
    least = numbers(smallest_difference, "smallest difference")
    require_in_range(least, "smallest difference", Range("a difference that bears a factor", 1.0, 100.0, "K", "ours"))
    surface = _reading(surface_temperature, "surface temperature", "air_temperature")
    inside = _reading(inside_temperature, "inside temperature", "air_temperature")
    outside = _reading(outside_temperature, "outside temperature", "air_temperature")
    difference = np.asarray(inside - outside)
    small = np.asarray(difference < least)
    if small.any():
        first = float(difference[tuple(np.argwhere(small)[0])])
        raise Refused(
            f"inside is {first:.3g} K warmer than outside{place(small)}, too little for a temperature factor",
            wanted=f"at least {float(least):g} K",
            next_step="read again on a colder day",
        )
    factor = np.asarray((surface - outside) / difference)  # [ISO-13788] f_Rsi
    return shaped(factor, surface_temperature, inside_temperature, outside_temperature)


@dataclass(frozen=True, slots=True)
class WetBulbBound:
    """What a surface temperature says about evaporation: `finding` is one of three phrases, `because` a sentence."""

    finding: str
    because: str


def wet_bulb_bound(
    surface_temperature: float, air_temperature: float, wet_bulb: float, uncertainty: float = 0.0
) -> WetBulbBound:
    """Can evaporation alone have made this surface so cold? Never a wetness status. [degC], [degC], [degC], [K]

    Evaporation alone cools no surface below the wet bulb of the air that touches it. uncertainty: of the two
    temperatures compared [K], 0 to 10; inside it nothing is concluded. Temperatures -45 to 60 degC.
    Raises InputError if one is missing or the wet bulb is above the air, OutOfRange. Source: [ASHRAE17] wet bulb; ours.
    """
    surface = float(_reading(surface_temperature, "surface temperature", "air_temperature"))
    air = float(_reading(air_temperature, "air temperature", "air_temperature"))
    bulb = float(_reading(wet_bulb, "wet bulb", "wet_bulb"))
    margin = numbers(uncertainty, "uncertainty")
    require_in_range(margin, "uncertainty", Range("an uncertainty", 0.0, 10.0, "K", "ours"))
    if bulb > air:
        raise InputError(
            f"wet bulb {bulb:g} degC is above the air temperature {air:g} degC", next_step="read both again"
        )
    if surface < bulb - margin:
        because = (
            f"{surface:.1f} degC is below the wet bulb of {bulb:.1f} degC: conduction to something colder takes part"
        )
        return WetBulbBound(NOT_EVAPORATION_ALONE, because)
    if surface >= air + margin:
        because = (
            f"{surface:.1f} degC is not below the air at {air:.1f} degC: neither evaporation nor a cold bridge shows"
        )
        return WetBulbBound(NOT_COOLER, because)
    because = (
        f"{surface:.1f} degC lies between the wet bulb of {bulb:.1f} degC and the air at {air:.1f} degC: "
        "evaporation or a cold bridge, either may be"
    )
    return WetBulbBound(CANNOT_SAY, because)
