"""Published and recomputed values for moist air: data in air.toml, and a grid by two other libraries in air_grid.csv.

What is checked is whether the code is right, not whether it changed: neither file may be regenerated from the code.
"""

from __future__ import annotations

import csv
import importlib
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from desorb import units
from desorb.core import air, saturation
from desorb.core.saturation import Array

HERE = Path(__file__).parent
CHECKS: list[dict[str, Any]] = tomllib.loads((HERE / "air.toml").read_text("utf-8"))["check"]

# Every row PSY-* and SALT-* of the project's list of check values: none may drop out unnoticed.
ROWS = {
    *(f"PSY-SAT-{t}" for t in (-20, -5, 25, 50)),
    *(f"PSY-WS-{t}" for t in (-20, -5, 25, 50)),
    *(f"PSY-ATM-{z}" for z in (0, 500, 4000)),
    *("PSY-EX1", "PSY-EX1C"),
    *(f"PSY-ST-{n:02}" for n in (1, 3, 4, 6, 7, 9, 10)),
    *("PSY-ALT-1000", "PSY-ALT-1500"),
    *("PSY-WMO-0", "PSY-WMO-10", "PSY-WMO-30", "PSY-WMO--10", "PSY-WMO-RH"),
    *("PSY-ISO-20", "PSY-ISO--5", "PSY-ISO-12.6246"),
    *("PSY-HEAT", "PSY-SURF", "PSY-PROBE-75"),
    *(f"SALT-{salt}" for salt in ("LiCl", "Mg(NO3)2", "Ca(NO3)2", "NaCl", "KCl", "K2SO4")),
}


def grains_per_pound(air_temperature: float, relative_humidity: float, pressure: float) -> float:
    state = air.air_state(air_temperature=air_temperature, relative_humidity=relative_humidity, pressure=pressure)
    return units.grains_per_pound_from_g_per_kg(state.humidity_ratio)


def wmo_relative_humidity(mixing_ratio: float, temperature: float, pressure: float) -> float:
    """[WMO8] 4.A.6 and 4.B, with its own ratio of molar masses. [kg/kg], [degC], [Pa] -> [%]"""
    vapour = pressure * mixing_ratio / (0.62198 + mixing_ratio)
    saturated = saturation.wmo_saturation_vapour_pressure_over_water(temperature)
    return 100 * vapour / (saturation.wmo_enhancement_factor(pressure) * saturated)


def relative_humidity_after_heating(air_temperature: float, relative_humidity: float, heated_to: float) -> float:
    before = air.air_state(air_temperature=air_temperature, relative_humidity=relative_humidity)
    return air.air_state(air_temperature=heated_to, vapour_pressure=before.vapour_pressure).relative_humidity


def relative_humidity_at_surface(air_temperature: float, relative_humidity: float, surface_temperature: float) -> float:
    room = air.air_state(air_temperature=air_temperature, relative_humidity=relative_humidity)
    return air.surface_relative_humidity(room.vapour_pressure, surface_temperature)


def relative_humidity_error_of_a_warm_probe(
    air_temperature: float, relative_humidity: float, probe_warmer_by: float
) -> float:
    at_the_probe = air_temperature + probe_warmer_by
    return relative_humidity_at_surface(air_temperature, relative_humidity, at_the_probe) - relative_humidity


def saturated_salt_coefficients(salt: str) -> list[float]:
    return list(air.SATURATED_SALTS[salt])


TOGETHER: dict[str, Callable[..., Any]] = {
    function.__name__: function
    for function in (
        grains_per_pound,
        wmo_relative_humidity,
        relative_humidity_after_heating,
        relative_humidity_at_surface,
        relative_humidity_error_of_a_warm_probe,
        saturated_salt_coefficients,
    )
}


def computed(check: dict[str, Any]) -> Any:
    module, _, name = check["function"].rpartition(".")
    function = getattr(importlib.import_module(module), name) if module else TOGETHER[name]
    result: Any = function(**check["inputs"])
    return getattr(result, check["part"]) if "part" in check else result


@pytest.mark.parametrize("check", CHECKS, ids=[check["id"] for check in CHECKS])
def test_agrees_with_its_source(check: dict[str, Any]) -> None:
    known = check["expected"]
    if "bias_abs" in check or "bias_rel" in check:
        known = known * (1 + check.get("bias_rel", 0.0)) + check.get("bias_abs", 0.0)
    wanted = pytest.approx(known, abs=check.get("abs", 0.0), rel=check.get("rel", 0.0))
    assert computed(check) == wanted, f"{check['source']}; tolerance: {check['why']}"


def test_every_row_of_the_list_is_checked() -> None:
    assert {check["row"] for check in CHECKS} == ROWS


def test_every_check_has_a_passport_and_a_tolerance_that_can_fail() -> None:
    assert len({check["id"] for check in CHECKS}) == len(CHECKS)
    for check in CHECKS:
        assert all(check[name].strip() for name in ("why", "source", "read")), check["id"]
        assert ("abs" in check) != ("rel" in check), check["id"]
        assert check.get("rel", 0.0) <= 0.01, check["id"]
        if "bias_abs" in check or "bias_rel" in check:
            assert "real moist air" in check["why"], check["id"]
            kind = "abs" if "bias_abs" in check else "rel"
            assert check[kind] <= abs(check[f"bias_{kind}"]), check["id"]


def grid() -> dict[str, Array]:
    lines = (HERE / "air_grid.csv").read_text("utf-8").splitlines()
    assert lines[0].startswith("# made by tests/checks/make_air_grid.py with psychrolib 2.5.0"), "who made this file?"
    rows = list(csv.DictReader(lines[1:]))
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}


GRID = grid()
FIELDS = ("dew_point", "wet_bulb", "humidity_ratio", "vapour_pressure", "enthalpy", "specific_volume")


def ours() -> dict[str, Array]:
    """Our fields in the convention of both libraries: ice below zero, and there a dew point that is a frost point."""
    states = air.air_state(
        air_temperature=GRID["air_temperature"],
        relative_humidity=GRID["relative_humidity"],
        pressure=GRID["pressure"],
        relative_humidity_over="ice",
    )
    found = {name: getattr(states, name) for name in FIELDS}
    found["dew_point"] = np.where(np.isnan(states.frost_point), states.dew_point, states.frost_point)
    return found


def at_the_freezing_switch(found: dict[str, Array]) -> NDArray[np.bool_]:
    """Where we have a wetted bulb above zero and the library an iced one below; both satisfy the equations."""
    return (found["wet_bulb"] >= 0) & (GRID["psychrolib_wet_bulb"] < 0)


def test_grid_reaches_where_people_work() -> None:
    assert len(GRID["pressure"]) == 260
    assert (GRID["air_temperature"].min(), GRID["air_temperature"].max()) == (-15, 45)
    assert (GRID["relative_humidity"].min(), GRID["relative_humidity"].max()) == (10, 98)
    assert set(GRID["pressure"]) == {80_000, 101_325}


# The library has the same equations of ASHRAE 2017 with the same coefficients, and the file has 13 digits: what is left
# is rounding and the stop of two root finders, 1e-11 K there and 1e-10 K here.
@pytest.mark.parametrize("field", FIELDS)
def test_grid_by_the_same_equations(field: str) -> None:
    found = ours()
    settled = ~at_the_freezing_switch(found) if field == "wet_bulb" else np.ones_like(found[field], dtype=bool)
    difference = np.abs(found[field] - GRID[f"psychrolib_{field}"])
    allowed = (
        np.full_like(difference, 1e-9) if field in ("dew_point", "wet_bulb") else 1e-11 * np.abs(found[field]) + 1e-9
    )
    assert settled.sum() >= 259
    assert (difference <= allowed)[settled].all(), difference[settled].max()


def test_grid_where_the_bulb_may_be_wet_or_iced() -> None:
    found = ours()
    there = at_the_freezing_switch(found)
    assert there.sum() == 1
    iced = air.air_state(
        air_temperature=GRID["air_temperature"][there],
        wet_bulb=GRID["psychrolib_wet_bulb"][there],
        pressure=GRID["pressure"][there],
        relative_humidity_over="ice",
    )
    assert iced.humidity_ratio == pytest.approx(found["humidity_ratio"][there], rel=1e-9)


# Against real moist air, the largest deviations of the rules of trade 1.4, which were measured from -10 degC up. Our
# grid begins at -15 degC, where the volume of real air departs a little further: 0.082 % at 80 kPa, hence 0.09.
REAL_GAS = {
    "dew_point": (0.026, 0.0),
    "wet_bulb": (0.03, 0.0),
    "humidity_ratio": (0.0, 0.0073),
    "vapour_pressure": (0.0, 0.0059),
    "enthalpy": (2.96, 0.0),
    "specific_volume": (0.0, 0.0009),
}


@pytest.mark.parametrize("field", FIELDS)
def test_grid_by_real_gas(field: str) -> None:
    found = ours()
    settled = ~at_the_freezing_switch(found) if field == "wet_bulb" else np.ones_like(found[field], dtype=bool)
    real = GRID[f"coolprop_{field}"]
    absolute, relative = REAL_GAS[field]
    assert (np.abs(found[field] - real) <= absolute + relative * np.abs(real))[settled].all()


def test_grid_shows_the_bias_of_an_ideal_gas() -> None:
    """Below real air everywhere, and not by nothing: a bias that vanished would mean that a factor crept in."""
    found = ours()
    for field, least in (("humidity_ratio", 0.003), ("vapour_pressure", 0.003)):
        low = 1 - found[field] / GRID[f"coolprop_{field}"]
        assert low.min() > least
    comfortable = (GRID["air_temperature"] >= 5) & (GRID["air_temperature"] <= 40)
    assert np.abs(found["enthalpy"] - GRID["coolprop_enthalpy"])[comfortable].max() <= 0.68  # rules of trade 1.4


def test_grid_knows_the_convention_below_zero() -> None:
    """Over water, as instruments show it, one figure of relative humidity means a tenth more vapour at -10 degC."""
    over = {
        phase: air.air_state(air_temperature=-10.0, relative_humidity=50.0, relative_humidity_over=phase)
        for phase in ("water", "ice")
    }
    ratio = over["water"].vapour_pressure / over["ice"].vapour_pressure
    assert ratio == pytest.approx(287.03 / 259.90, rel=0.002)  # rules of trade 1.2, by the WMO forms
    there = (GRID["air_temperature"] == -10) & (GRID["relative_humidity"] == 50) & (GRID["pressure"] == 101_325)
    assert over["ice"].humidity_ratio == pytest.approx(float(GRID["psychrolib_humidity_ratio"][there][0]), rel=1e-9)
    assert over["water"].humidity_ratio > 1.09 * over["ice"].humidity_ratio
