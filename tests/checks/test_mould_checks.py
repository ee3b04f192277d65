"""Published and recomputed values for mould and surface humidity, rows MO-* of the project's list, never regenerated.

Sources as the list names them: polynomial and weeks of Hukka and Viitanen 1999; classes of Ojanen and others 2010; the
isopleth from one paper on cellars. Values of MO-S by explicit Euler at 1 h.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from desorb.core.air.surface import temperature_factor
from desorb.core.mould import (
    critical_relative_humidity,
    isopleth,
    maximum_index,
    mould_index,
    original_rate_after_one,
    weeks_to_first_growth,
    weeks_to_visible,
)
from desorb.core.surface_log import Log

CRITICAL = {"MO-RHC-1": (1, 97.03), "MO-RHC-5": (5, 88.02), "MO-RHC-15": (15, 80.04), "MO-RHC-20": (20, 80.04)}
WEEKS = {  # T, RH, tm, tv, highest index on very sensitive material
    "MO-T-20-80": (20, 80, 21.601, 34.597, 0.986),
    "MO-T-20-90": (20, 90, 4.202, 7.734, 3.995),
    "MO-T-10-90": (10, 90, 6.732, 12.917, 3.711),
    "MO-T-5-97": (5, 97, 3.808, 8.32, 5.124),
}
SERIES = {  # class, T, RH, index after 28, 84, 365 days, tolerance
    "MO-S-very-20-97": ("very sensitive", 20, 97, 4.3575, 5.5039, 5.5039, 5e-3),
    "MO-S-very-10-90": ("very sensitive", 10, 90, 0.5939, 2.5342, 3.7112, 2e-3),
    "MO-S-sens-20-97": ("sensitive", 20, 97, 1.3734, 3.4297, 4.6762, 2e-3),
    "MO-S-sens-10-90": ("sensitive", 10, 90, 0.3425, 1.0155, 2.6587, 2e-3),
    "MO-S-med-20-97": ("medium resistant", 20, 97, 0.1939, 0.5813, 2.7492, 2e-3),
    "MO-S-med-10-90": ("medium resistant", 10, 90, 0.0414, 0.1236, 0.5231, 2e-3),
    "MO-S-res-20-97": ("resistant", 20, 97, 0.0873, 0.2605, 1.0294, 2e-3),
    "MO-S-res-10-90": ("resistant", 10, 90, 0.017, 0.0507, 0.2127, 2e-3),
}
DECLINE = {"MO-D-24": (24, 1.0, 2.992), "MO-D-48": (48, 1.0, 2.976), "MO-D-c": (720, 0.1, 2.9528)}
ISOPLETH = {"MO-LIM-5": (5, 90.89), "MO-LIM-20": (20, 79.71), "MO-LIM-30": (30, 78.17)}


def steady(hours: int, temperature: float, relative_humidity: float) -> Log:
    """One row an hour, first and last included."""
    rows = np.arange(hours + 1.0)
    return Log(rows, rows * 0 + temperature, rows * 0 + relative_humidity)


@pytest.mark.parametrize("row", CRITICAL)
def test_critical_humidity(row: str) -> None:
    """How damp must it be before anything grows at this temperature?"""
    temperature, expected = CRITICAL[row]
    assert critical_relative_humidity(temperature, "very sensitive") == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize("row", WEEKS)
def test_weeks_and_highest_index(row: str) -> None:
    """How many weeks of this until growth starts, until it is seen, and where does it end?"""
    temperature, humidity, first, visible, highest = WEEKS[row]
    assert weeks_to_first_growth(temperature, humidity) == pytest.approx(first, abs=1e-3)
    assert weeks_to_visible(temperature, humidity) == pytest.approx(visible, abs=1e-3)
    assert maximum_index(temperature, humidity, "very sensitive") == pytest.approx(highest, abs=1e-3)


@pytest.mark.parametrize("row", SERIES)
def test_index_over_a_year_of_steady_damp(row: str) -> None:
    """What does the index come to after four weeks, twelve weeks and a year of the same air?"""
    sensitivity, temperature, humidity, month, quarter, year, tolerance = SERIES[row]
    index = mould_index(steady(365 * 24, temperature, humidity), sensitivity).index
    got = [index[24 * days] for days in (28, 84, 365)]
    assert got == pytest.approx([month, quarter, year], abs=tolerance)


@pytest.mark.parametrize("row", DECLINE)
@pytest.mark.parametrize("step", [0.25, 1.0, 4.0])
def test_decline_in_dry_air(row: str, step: float) -> None:
    """How far does the index fall once it is dry, whatever the step of the log?"""
    hours, factor, expected = DECLINE[row]
    rows = np.arange(0.0, hours + step / 2, step)
    result = mould_index(Log(rows, rows * 0 + 20, rows * 0 + 50), "very sensitive", decline_factor=factor, start=3.0)
    assert result.index[-1] == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("row", ISOPLETH)
def test_isopleth(row: str) -> None:
    """Where does the lowest isopleth lie, by the one approximation we have?"""
    temperature, expected = ISOPLETH[row]
    assert isopleth(temperature) == pytest.approx(expected, abs=0.01)


def test_temperature_factor_of_the_list() -> None:
    """MO-FRSI2: inside 20, outside 0, surface 15: the factor is 0.75."""
    assert temperature_factor(15.0, 20.0, 0.0) == 0.75


def test_days_and_decline_of_the_rules() -> None:
    """RULES 5.1: very sensitive at 20 C and 90 %: index 1 on day 29.5, 3 on day 59.5; 30 dry days from 3.0: 2.528."""
    index = mould_index(steady(70 * 24, 20, 90), "very sensitive").index
    assert int(np.argmax(index >= 1)) / 24 == pytest.approx(29.5, abs=0.15)
    assert int(np.argmax(index >= 3)) / 24 == pytest.approx(59.5, abs=0.15)
    sensitive = mould_index(steady(300 * 24, 20, 90), "sensitive").index
    assert int(np.argmax(sensitive >= 1)) / 24 == pytest.approx(51.1, abs=0.15)
    assert int(np.argmax(sensitive >= 3)) / 24 == pytest.approx(280, abs=0.6)
    assert mould_index(steady(720, 20, 50), "very sensitive", start=3.0).index[-1] == pytest.approx(2.528, abs=1e-6)


def test_critical_humidity_does_not_carry_the_misprinted_sign() -> None:
    """RULES 9 row 4: public code prints +3.13 T, which puts 5 C at 119 %: it must not agree with us."""
    misprinted = -0.00267 * 5**3 + 0.160 * 5**2 + 3.13 * 5 + 100
    assert misprinted == pytest.approx(119.3, abs=0.1)
    assert abs(critical_relative_humidity(5, "very sensitive") - misprinted) > 30


def test_rate_after_one_does_not_carry_the_misplaced_bracket() -> None:
    """RULES 9 row 4: public code prints tv/(tm-1); from index 1 to 3 must take tv - tm weeks, as defined."""
    first, visible = 4.202, 7.734  # MO-T-20-90
    rate = original_rate_after_one(20, 90)
    assert 2 / (rate / first) == pytest.approx(visible - first, abs=2e-3)
    for misplaced in (2 / (visible / (first - 1)), visible / (first - 1)):
        assert not math.isclose(rate, misplaced, abs_tol=0.03)
