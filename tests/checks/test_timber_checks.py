"""Published and recomputed values for timber: data in timber.toml and wood_emc.csv, which may never be regenerated."""

from __future__ import annotations

import csv
import importlib
import tomllib
from pathlib import Path
from typing import Any

import pytest

from desorb.core.timber import equilibrium_moisture_content, equilibrium_moisture_content_from_fahrenheit
from desorb.units import celsius_from_fahrenheit

HERE = Path(__file__).parent
CHECKS: list[dict[str, Any]] = tomllib.loads((HERE / "timber.toml").read_text("utf-8"))["check"]
CELLS = list(csv.DictReader((HERE / "wood_emc.csv").read_text("utf-8").splitlines()))

# Every row WD-* of the project's list of check values: none may drop out unnoticed.
ROWS = {
    *(f"WD-EMC-{t}" for t in ("20-30", "20-65", "20-80", "20-90", "20-95", "10-80", "30-50", "60-55")),
    *("WD-TAB-30", "WD-TAB-140", "WD-INV-20-16", "WD-INV-20-12", "WD-INV-10-18"),
    *(f"WD-TC-{t}" for t in ("15-0", "15-10", "15-30", "20-10", "20--10", "RULE")),
}


@pytest.mark.parametrize("check", CHECKS, ids=[check["id"] for check in CHECKS])
def test_agrees_with_its_source(check: dict[str, Any]) -> None:
    module, _, name = check["function"].rpartition(".")
    result = getattr(importlib.import_module(module), name)(**check["inputs"])
    assert result == pytest.approx(check["expected"], abs=check["abs"], rel=0), f"{check['source']}; {check['why']}"


def test_every_row_of_the_list_is_checked() -> None:
    assert {check["row"] for check in CHECKS if check["row"].startswith("WD-")} == ROWS


def test_every_check_has_a_passport_and_a_tolerance_that_can_fail() -> None:
    assert len({check["id"] for check in CHECKS}) == len(CHECKS)
    for check in CHECKS:
        assert all(check[name].strip() for name in ("why", "source", "read")), check["id"]
        assert 0 < check["abs"] <= 0.01 * check["expected"], check["id"]


def test_the_table_lies_on_the_formula() -> None:
    """All 228 cells (from memory) within 0.055 points of the formula, 221 equal to it after rounding."""
    equal = 0
    for cell in CELLS:
        celsius = celsius_from_fahrenheit(float(cell["temperature_degF"]))
        formula = equilibrium_moisture_content(celsius, int(cell["relative_humidity_percent"]) / 100)
        assert formula == pytest.approx(float(cell["table_percent"]), abs=0.055), cell
        equal += round(formula, 1) == float(cell["table_percent"])
    assert (len(CELLS), equal) == (228, 221)


def test_the_formula_column_is_met_to_its_last_digit() -> None:
    """Computed elsewhere from the coefficients read in public code; printed to three decimals."""
    for cell in CELLS:
        celsius = celsius_from_fahrenheit(float(cell["temperature_degF"]))
        formula = equilibrium_moisture_content(celsius, int(cell["relative_humidity_percent"]) / 100)
        assert formula == pytest.approx(float(cell["formula_percent"]), abs=5.01e-4), cell


def test_the_two_sets_of_coefficients_agree() -> None:
    """Largest difference seen 0.0126 points: the printed coefficients are rounded to three digits."""
    for cell in CELLS:
        fahrenheit, humidity = float(cell["temperature_degF"]), int(cell["relative_humidity_percent"]) / 100
        by_celsius = equilibrium_moisture_content(celsius_from_fahrenheit(fahrenheit), humidity)
        by_fahrenheit = equilibrium_moisture_content_from_fahrenheit(fahrenheit, humidity)
        assert by_fahrenheit == pytest.approx(by_celsius, abs=0.015), cell


def test_every_cell_says_how_it_was_read() -> None:
    for cell in CELLS:
        assert cell["table_source"].startswith("MEMORY"), cell
        assert cell["formula_source"].startswith("READ"), cell
