"""The equations of moist air as an ideal gas mixture, on arrays and unchecked, and pressure at altitude, checked.

Contents: pressure at altitude; humidity ratio and back; enthalpy, volume; the heat balance of a wet bulb, solved for
the humidity ratio, for the bulb and for the air temperature. Temperatures in degC, pressures in Pa; here, inside, the
humidity ratio is in kg per kg of dry air. Keys in square brackets stand in docs/references.md.

Notes
-----
Real moist air holds 0.4 to 0.7 % more water than these equations say, because they leave out the enhancement factor.
That is a fifth or less of what a +-3 %RH instrument leaves open, and ASHRAE, whose equations they are, accepts it.

The wet bulb below 0 degC follows the convention of the humidity: over "water" the bulb is wetted with supercooled water
and eq. 33 is continued; over "ice" it is iced and eq. 35 holds, as ASHRAE has it. The two equations do not meet: near
0 degC there is air for which a wetted bulb stays just above and an iced bulb just below. Both are real; over "ice" the
wetted one is given where it exists.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from desorb.core.saturation import (
    Array,
    Phase,
    Q,
    Range,
    increasing_root,
    numbers,
    pressure_over,
    require_in_range,
    shaped,
    slope_over,
    temperature_over,
)
from desorb.units import ZERO_CELSIUS_IN_KELVIN

STANDARD_PRESSURE = 101_325.0  # Pa, the standard atmosphere at sea level, exact by definition
MASS_RATIO = 0.621945  # molar mass of water over that of dry air  [ASHRAE17] eq. 20
GAS_CONSTANT_DRY_AIR = 287.042  # J/(kg K)  [ASHRAE17]
ALTITUDES = Range("the standard atmosphere", -5000.0, 11_000.0, "m", "[ASHRAE17], range from memory")


def pressure_at_altitude(altitude: Q) -> Q:
    """Air pressure of the standard atmosphere. [m above sea level] -> [Pa]

    altitude: -5000 to 11 000 m, any shape. Weather moves the true pressure by some 3 % either way, hence the humidity
    ratio too. Raises OutOfRange, InputError if missing. Source: [ASHRAE17] eq. 3.
    """
    metres = numbers(altitude, "altitude")
    require_in_range(metres, "altitude", ALTITUDES)
    pressure = STANDARD_PRESSURE * (1 - 2.25577e-5 * metres) ** 5.2559  # [ASHRAE17] eq. 3
    return shaped(pressure, altitude)  # type: ignore[return-value]


def humidity_ratio(vapour_pressure: Array, pressure: Array) -> Array:
    """Water per dry air. [Pa], [Pa] -> [kg/kg]"""
    return MASS_RATIO * vapour_pressure / (pressure - vapour_pressure)  # [ASHRAE17] eq. 20


def vapour_pressure_from_ratio(ratio: Array, pressure: Array) -> Array:
    """`humidity_ratio` backwards. [kg/kg], [Pa] -> [Pa]"""
    return pressure * ratio / (MASS_RATIO + ratio)  # [ASHRAE17] eq. 20


def enthalpy(air_temperature: Array, ratio: Array) -> Array:
    """Of dry air and its vapour, zero for dry air and liquid water at 0 degC. [degC], [kg/kg] -> [kJ/kg dry air]"""
    return 1.006 * air_temperature + ratio * (2501 + 1.86 * air_temperature)  # [ASHRAE17] eq. 30


def specific_volume(air_temperature: Array, ratio: Array, pressure: Array) -> Array:
    """Of the mixture that holds 1 kg of dry air. [degC], [kg/kg], [Pa] -> [m3/kg dry air]"""
    kelvin = air_temperature + ZERO_CELSIUS_IN_KELVIN
    return GAS_CONSTANT_DRY_AIR * kelvin * (1 + 1.607858 * ratio) / pressure  # [ASHRAE17] eq. 26


@dataclass(frozen=True, slots=True)
class Bulb:
    """What covers the wet bulb: the coefficients of its heat balance, in kJ/kg and kJ/(kg K).

    (latent - fall bulb) saturated - cooling (t - bulb) = ratio (latent + vapour t - liquid bulb)
    """

    latent: float
    fall: float
    liquid: float
    cooling: float = 1.006
    vapour: float = 1.86

    def ratio(self, t: Array, bulb: Array, saturated: Array) -> Array:
        """The balance solved for the humidity ratio of the air. [degC], [degC], [kg/kg] -> [kg/kg]"""
        gained = (self.latent - self.fall * bulb) * saturated - self.cooling * (t - bulb)
        return gained / (self.latent + self.vapour * t - self.liquid * bulb)

    def air_temperature(self, bulb: Array, ratio: Array, saturated: Array) -> Array:
        """The balance solved for the air temperature, in which it is linear. [degC], [kg/kg], [kg/kg] -> [degC]"""
        warmed = (self.latent - self.fall * bulb) * saturated + self.cooling * bulb
        return (warmed - ratio * (self.latent - self.liquid * bulb)) / (self.cooling + self.vapour * ratio)

    def balance(self, t: Array, bulb: Array, ratio: Array, saturated: Array, slope: Array) -> tuple[Array, Array]:
        """Left minus right side, and its derivative by the bulb temperature. [kJ/kg], [kJ/(kg K)]"""
        left = (self.latent - self.fall * bulb) * saturated - self.cooling * (t - bulb)
        right = ratio * (self.latent + self.vapour * t - self.liquid * bulb)
        steep = (self.latent - self.fall * bulb) * slope - self.fall * saturated + self.cooling + self.liquid * ratio
        return left - right, steep


WETTED = Bulb(2501, 2.326, 4.186)  # [ASHRAE17] eq. 33
ICED = Bulb(2830, 0.24, 2.1)  # [ASHRAE17] eq. 35


def ratio_from_wet_bulb(air_temperature: Array, wet_bulb: Array, pressure: Array, phase: Phase) -> Array:
    """Humidity ratio; zero or negative where no air could cool the bulb so far. [degC], [degC], [Pa] -> [kg/kg]"""
    saturated, _ = saturated_ratio(wet_bulb, pressure, phase)
    wetted = WETTED.ratio(air_temperature, wet_bulb, saturated)
    if phase == "water":
        return wetted
    return np.where(wet_bulb < 0, ICED.ratio(air_temperature, wet_bulb, saturated), wetted)


def air_temperature_from_wet_bulb(wet_bulb: Array, ratio: Array, pressure: Array, phase: Phase) -> Array:
    """Air temperature from wet bulb and humidity ratio. [degC], [kg/kg], [Pa] -> [degC]"""
    saturated, _ = saturated_ratio(wet_bulb, pressure, phase)
    wetted = WETTED.air_temperature(wet_bulb, ratio, saturated)
    if phase == "water":
        return wetted
    return np.where(wet_bulb < 0, ICED.air_temperature(wet_bulb, ratio, saturated), wetted)


def wet_bulb(air_temperature: Array, vapour_pressure: Array, pressure: Array, phase: Phase) -> Array:
    """Wet-bulb temperature of air no moister than saturated. Shapes alike. [degC], [Pa], [Pa] -> [degC]"""
    t = air_temperature
    ratio = humidity_ratio(vapour_pressure, pressure)
    lowest = np.minimum(temperature_over(phase, vapour_pressure), t)

    def wetted(bulb: Array) -> tuple[Array, Array]:
        return WETTED.balance(t, bulb, ratio, *saturated_ratio(bulb, pressure, phase))

    def iced(bulb: Array) -> tuple[Array, Array]:
        return ICED.balance(t, bulb, ratio, *saturated_ratio(bulb, pressure, phase))

    if phase == "water":
        return increasing_root(wetted, lowest, t)
    stays_wet = (t >= 0) & (wetted(np.zeros_like(t))[0] <= 0)
    warm = increasing_root(wetted, np.maximum(lowest, 0.0), np.maximum(t, 0.0))
    cold = increasing_root(iced, np.minimum(lowest, 0.0), np.minimum(t, 0.0))
    return np.where(stays_wet, warm, cold)


def air_temperature_from_humidity(
    wet_bulb: Array, relative_humidity: Array, pressure: Array, phase: Phase, highest: float
) -> Array:
    """Air temperature from wet bulb and relative humidity, between the bulb and `highest`, or `highest` where warmer.

    Shapes alike. [degC], [%], [Pa], "water" or "ice", [degC] -> [degC]
    """

    def surplus(t: Array) -> tuple[Array, Array]:
        return ratio_surplus(t, wet_bulb, relative_humidity, pressure, phase)

    return increasing_root(surplus, wet_bulb, np.full_like(wet_bulb, highest))


def ratio_surplus(
    air_temperature: Array, wet_bulb: Array, relative_humidity: Array, pressure: Array, phase: Phase
) -> tuple[Array, Array]:
    """What the relative humidity says of the humidity ratio less what the wet bulb says, and its slope by temperature.

    [degC], [degC], [%], [Pa] -> [kg/kg], [kg/(kg K)]
    """
    t, melted = air_temperature, (wet_bulb >= 0) | (phase == "water")
    held = relative_humidity / 100 * pressure_over(phase, t)
    ratio = humidity_ratio(held, pressure)
    rising = ratio * slope_over(phase, t) * pressure / (pressure - held)
    shown = ratio_from_wet_bulb(t, wet_bulb, pressure, phase)
    latent = np.where(melted, WETTED.latent - WETTED.liquid * wet_bulb, ICED.latent - ICED.liquid * wet_bulb)
    falling = -(WETTED.cooling + WETTED.vapour * shown) / (latent + WETTED.vapour * t)
    return ratio - shown, rising - falling


def saturated_ratio(bulb: Array, pressure: Array, phase: Phase) -> tuple[Array, Array]:
    """Humidity ratio of saturated air, and its slope with temperature. [kg/kg], [kg/(kg K)]"""
    held = pressure_over(phase, bulb)
    ratio = humidity_ratio(held, pressure)
    return ratio, ratio * slope_over(phase, bulb) * pressure / (pressure - held)
