"""Conversions at the doors. Inside the house: SI and degC; relative humidity in % at the doors.

Each factor shows its derivation; exact definitions are those of the international yard and pound
agreement of 1959 (1 in = 25.4 mm, 1 lb = 0.45359237 kg; from memory, exact by definition).
"""

from __future__ import annotations

MM_PER_INCH = 25.4  # exact by definition
M_PER_FOOT = 12 * MM_PER_INCH / 1000  # 0.3048
GRAINS_PER_POUND = 7000  # exact by definition of the grain
GRAINS_PER_POUND_PER_G_PER_KG = GRAINS_PER_POUND / 1000  # 1 g/kg = 7 grains/lb
ZERO_CELSIUS_IN_KELVIN = 273.15  # exact by definition
SECONDS_PER_HOUR = 60 * 60
SECONDS_PER_DAY = 24 * SECONDS_PER_HOUR


def celsius_from_fahrenheit(fahrenheit: float) -> float:
    """Temperature. [degF] -> [degC]"""
    return (fahrenheit - 32) * 5 / 9


def fahrenheit_from_celsius(celsius: float) -> float:
    """Temperature. [degC] -> [degF]"""
    return celsius * 9 / 5 + 32


def grains_per_pound_from_g_per_kg(humidity_ratio: float) -> float:
    """Humidity ratio. [g/kg dry air] -> [grains/lb dry air]"""
    return humidity_ratio * GRAINS_PER_POUND_PER_G_PER_KG


def g_per_kg_from_grains_per_pound(humidity_ratio: float) -> float:
    """Humidity ratio. [grains/lb dry air] -> [g/kg dry air]"""
    return humidity_ratio / GRAINS_PER_POUND_PER_G_PER_KG


def metres_from_feet(feet: float) -> float:
    """Length. [ft] -> [m]"""
    return feet * M_PER_FOOT


def feet_from_metres(metres: float) -> float:
    """Length. [m] -> [ft]"""
    return metres / M_PER_FOOT


def millimetres_from_inches(inches: float) -> float:
    """Length. [in] -> [mm]"""
    return inches * MM_PER_INCH
