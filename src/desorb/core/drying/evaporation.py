"""Water leaving a wet surface: five published forms, side by side, because they disagree by a factor of about two.

Contents: FORMS - free_water (one form, with the span of all) - carrier_inch_pound - first_stage (Lewis' relation, surface
temperature given or found) - latent_heat.

All of this holds only while the surface is wet (the first stage of drying). In the second stage the material limits and
air speed hardly matters (RULES section 7). No figure comes without its span. Negative: water settles on the surface.
"""

from __future__ import annotations

from dataclasses import dataclass

from desorb.core.air import AirState
from desorb.core.drying.given import figure
from desorb.core.saturation import saturation_vapour_pressure_over_water
from desorb.core.transport.climate import vapour_exchange
from desorb.errors import InputError
from desorb.units import SECONDS_PER_HOUR

WET_ONLY = (
    "only while the surface is wet; once the material limits, air speed hardly matters (common practice, no source)"
)
STILL_WATER_SHARE = 0.74  # still pools measured, as a share of the Carrier form; RULES section 7, read second hand
FEET_PER_MINUTE = 196.850394  # in 1 m/s, 60 / 0.3048, exact
INCHES_OF_MERCURY = 1 / 3386.389  # in 1 Pa; conventional inch of mercury, from memory
BTU_PER_POUND = 1 / 2.326  # in 1 kJ/kg, exact by definition
KG_M2H_PER_LB_FT2H = 0.45359237 / 0.3048**2  # exact by definition
LEWIS_TEMPERATURE = 20.0  # degC at which the coefficient of [LEWIS22] is taken; setting of ours, 6.75e-9 h_c
SPREAD = "published forms for one wet surface disagree by a factor of about two: go by readings"

FORMS = {
    "carrier": "Carrier/ASHRAE (0.089 + 0.0782 v)(pw - pa)/Y; IP form read, SI from memory",
    "uno": "Uno 1998, read second hand; the project's physics notes, section 8",
    "handbook": "(25 + 19 v)(xs - x), read in a web handbook; the project's physics notes, section 8",
    "penman": "Penman 0.26 (1 + 0.54 v)(es - ea) mm/day, from memory; the project's physics notes, section 8",
}


@dataclass(frozen=True, slots=True)
class Evaporation:
    """rate, low, high: kg/(m2 h), low and high over the published forms. form: whose it is. words: what it holds for."""

    rate: float
    low: float
    high: float
    form: str
    words: str


@dataclass(frozen=True, slots=True)
class FirstStage:
    """Lewis' relation. adiabatic: the surface finds its temperature [degC]; isothermal: the surface at air temperature.

    Rates kg/(m2 h). The two differ by a factor of about three: evaporation cools the surface.
    """

    adiabatic: float
    isothermal: float
    surface_temperature: float
    words: str


def latent_heat(temperature: float) -> float:
    """Heat of evaporation of water. [degC, -5 to 60] -> [kJ/kg] Source: 2501 - 2.369 t, RULES section 6."""
    degrees = figure(temperature, "water temperature", -5.0, 60.0, "degC")
    return 2501 - 2.369 * degrees  # RULES section 6, derived


def free_water(water_temperature: float, air: AirState, speed: float, form: str = "carrier") -> Evaporation:
    """Evaporation of a wet surface by one of FORMS, with the span of them all. [degC, 0 to 60], air, [m/s, 0 to 10]

    Raises InputError for a form that is not known, OutOfRange.
    """
    water = figure(water_temperature, "water temperature", 0.0, 60.0, "degC")
    wind = figure(speed, "air speed", 0.0, 10.0, "m/s")
    figure(air.air_temperature, "air temperature at a wet surface", 0.0, 60.0, "degC")
    if form not in FORMS:
        raise InputError("The form is not known", got=repr(form), wanted=", ".join(FORMS), next_step="name one of them")
    rates = {name: _rate(name, water, air, wind) for name in FORMS}
    still = [STILL_WATER_SHARE * rates["carrier"]] if wind == 0 else []
    every = [*rates.values(), *still]
    low, high = min(every), max(every)
    rate = rates[form]
    settles = "; water settles on this surface rather than leaves it" if rate < 0 else ""
    words = f"{rate:.2f} kg/m2h by this form, {low:.2f} to {high:.2f} by all{settles}: {SPREAD}; {WET_ONLY}"
    return Evaporation(rate, low, high, FORMS[form], words)


def carrier_inch_pound(water_temperature: float, air: AirState, speed: float) -> float:
    """The Carrier form in its inch-pound coefficients, for comparison. [degC], air, [m/s] -> [kg/(m2 h)]

    W = (95 + 0.425 v)(pw - pa)/Y lb/(h ft2), v in ft/min, p in inHg, Y in Btu/lb. Agrees with the SI form to 0.6 %.
    """
    water = figure(water_temperature, "water temperature", 0.0, 60.0, "degC")
    wind = figure(speed, "air speed", 0.0, 10.0, "m/s") * FEET_PER_MINUTE
    driving = (saturation_vapour_pressure_over_water(water) - air.vapour_pressure) * INCHES_OF_MERCURY
    pounds = (95 + 0.425 * wind) * driving / (latent_heat(water) * BTU_PER_POUND)  # RULES section 7, read
    return pounds * KG_M2H_PER_LB_FT2H


def first_stage(air: AirState, heat_exchange: float) -> FirstStage:
    """A wet wall in air by Lewis' relation, with and without its own cooling. air, [W/(m2 K), 0.5 to 100]

    The surface takes heat from the air only: radiation and the wall behind it would add some. Source: [LEWIS22].
    """
    figure(air.air_temperature, "air temperature at a wet surface", 0.0, 60.0, "degC")
    exchange = figure(heat_exchange, "heat exchange", 0.5, 100.0, "W/(m2 K)")
    coefficient = vapour_exchange(exchange, LEWIS_TEMPERATURE)  # kg/(m2 s Pa)
    surface = _wet_surface(air, exchange, coefficient)
    adiabatic, isothermal = (
        coefficient * (saturation_vapour_pressure_over_water(at) - air.vapour_pressure) * SECONDS_PER_HOUR
        for at in (surface, air.air_temperature)
    )
    words = (
        f"{adiabatic:.3f} kg/m2h with the surface at {surface:.1f} degC, which evaporation cools; {isothermal:.3f} if"
        f" something kept it at air temperature; {WET_ONLY}"
    )
    return FirstStage(adiabatic, isothermal, surface, words)


def _wet_surface(air: AirState, exchange: float, coefficient: float) -> float:
    """Where the heat from the air equals the heat of evaporation, by halving. [degC]"""
    low, high = air.air_temperature - 40, air.air_temperature  # a surface cools no further than this in any air
    low = max(low, -5.0)
    for _ in range(60):
        middle = (low + high) / 2
        drives = saturation_vapour_pressure_over_water(middle) - air.vapour_pressure
        leaves = 1000 * latent_heat(middle) * coefficient * drives  # W/m2
        if leaves > exchange * (air.air_temperature - middle):
            high = middle
        else:
            low = middle
    return (low + high) / 2


def _rate(form: str, water: float, air: AirState, wind: float) -> float:
    """One form. [degC], air, [m/s] -> [kg/(m2 h)] Sources: FORMS."""
    at_water = saturation_vapour_pressure_over_water(water)  # Pa
    driving = at_water - air.vapour_pressure
    if form == "carrier":
        return (0.089 + 0.0782 * wind) * driving / 1000 / latent_heat(water) * SECONDS_PER_HOUR
    if form == "uno":
        moist = air.relative_humidity / 100 * (air.air_temperature + 18) ** 2.5
        return float(5e-6 * ((water + 18) ** 2.5 - moist) * (3.6 * wind + 4))
    if form == "handbook":
        saturated = 0.622 * at_water / (air.pressure - at_water)  # kg/kg, ratio of masses rounded as in that text
        return (25 + 19 * wind) * (saturated - air.humidity_ratio / 1000)
    return 0.26 * (1 + 0.54 * wind) * driving / 100 / 24  # mm/day with hPa, to kg/(m2 h)
