"""Makes air_grid.csv: moist air by two independent libraries, for test_air_checks.py. Never run by a test.

Needs psychrolib 2.5.0 (ASHRAE 2017 equations, ideal gas) and CoolProp 8.0.0 (HAPropsSI, real gas), both in
requirements-oracle.lock. Run from the top of the repository, in an environment that holds them:

    python tests/checks/make_air_grid.py

Both libraries take relative humidity over ice below 0.01 degC, and ice on a wet bulb below 0 degC.
"""

from __future__ import annotations

import csv
import itertools
from importlib import metadata
from pathlib import Path

import CoolProp
import psychrolib
from CoolProp.HumidAirProp import HAPropsSI

TEMPERATURES = range(-15, 46, 5)  # degC
HUMIDITIES = (10, 20, 30, 40, 50, 60, 70, 80, 90, 98)  # %
PRESSURES = (80_000, 101_325)  # Pa
COLUMNS = ("dew_point", "wet_bulb", "humidity_ratio", "vapour_pressure", "enthalpy", "specific_volume")
PSYCHROLIB_TOLERANCE = 1e-11  # K; its own 0.001 K would be the largest error here


def ideal(temperature: float, humidity: float, pressure: float) -> tuple[float, ...]:
    """psychrolib, in the order and units of COLUMNS."""
    fraction = humidity / 100
    ratio = psychrolib.GetHumRatioFromRelHum(temperature, fraction, pressure)
    return (
        psychrolib.GetTDewPointFromRelHum(temperature, fraction),
        psychrolib.GetTWetBulbFromHumRatio(temperature, ratio, pressure),
        1000 * ratio,
        psychrolib.GetVapPresFromRelHum(temperature, fraction),
        psychrolib.GetMoistAirEnthalpy(temperature, ratio) / 1000,
        psychrolib.GetMoistAirVolume(temperature, ratio, pressure),
    )


def real(temperature: float, humidity: float, pressure: float) -> tuple[float, ...]:
    """CoolProp, in the order and units of COLUMNS."""
    kelvin, fraction = temperature + 273.15, humidity / 100

    def asked(name: str) -> float:
        return float(HAPropsSI(name, "T", kelvin, "R", fraction, "P", pressure))

    return (
        asked("D") - 273.15,
        asked("B") - 273.15,
        1000 * asked("W"),
        asked("P_w"),
        asked("H") / 1000,
        asked("V"),
    )


def main() -> None:
    """Write the file beside this one."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    psychrolib.PSYCHROLIB_TOLERANCE = PSYCHROLIB_TOLERANCE
    with Path(__file__).with_name("air_grid.csv").open("w", encoding="utf-8", newline="") as file:
        ideal_gas = f"psychrolib {metadata.version('psychrolib')} (tolerance {PSYCHROLIB_TOLERANCE:g} K)"
        versions = f"{ideal_gas} and CoolProp {CoolProp.__version__}"
        file.write(f"# made by tests/checks/make_air_grid.py with {versions}; humidity over ice below 0.01 degC\n")
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(
            ["air_temperature", "relative_humidity", "pressure"]
            + [f"psychrolib_{name}" for name in COLUMNS]
            + [f"coolprop_{name}" for name in COLUMNS]
        )
        for temperature, humidity, pressure in itertools.product(TEMPERATURES, HUMIDITIES, PRESSURES):
            state = ideal(temperature, humidity, pressure) + real(temperature, humidity, pressure)
            rows.writerow([temperature, humidity, pressure, *(f"{value:.13g}" for value in state)])


if __name__ == "__main__":
    main()
