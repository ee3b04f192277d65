"""What the mould index and the plainer criteria do with real logs: gaps, short logs, cold, hot and wrong figures."""

from __future__ import annotations

import re

import numpy as np
import pytest

from desorb.core.mould import (
    CLASS_WORDS,
    SENSITIVITIES,
    critical_relative_humidity,
    isopleth,
    maximum_index,
    mould_index,
    weeks_to_first_growth,
    weeks_to_visible,
)
from desorb.core.surface_log import Log, hours_above, thirty_day_criterion
from desorb.errors import InputError, OutOfRange, Refused


def steady(hours: float, temperature: float, humidity: float, step: float = 1.0) -> Log:
    rows = np.arange(0.0, hours + step / 2, step)
    return Log(rows, rows * 0 + temperature, rows * 0 + humidity)


def test_words_name_a_class_and_a_band_and_no_decimals() -> None:
    """The index comes in words for the owner: class, band, and that nobody looked."""
    result = mould_index(steady(84 * 24, 20, 97), "sensitive")
    assert result.final_class == 3
    assert CLASS_WORDS[3] in result.words
    assert result.band[0] <= result.final_class <= result.band[1]
    assert "nobody looked for mould" in result.words
    assert not re.search(r"\d\.\d", result.words)


@pytest.mark.parametrize("sensitivity", SENSITIVITIES)
def test_band_holds_the_class_for_every_material(sensitivity: str) -> None:
    """The band comes from the neighbouring classes and the logger: it never excludes the class itself."""
    result = mould_index(steady(60 * 24, 18, 92), sensitivity)
    assert result.band[0] <= result.final_class <= result.band[1]
    assert result.band[0] < result.band[1] or sensitivity == "resistant"


@pytest.mark.parametrize("temperature", [-5.0, 0.0, 50.0, 55.0])
def test_nothing_grows_in_frost_or_heat(temperature: float) -> None:
    """The log of an unheated loft: at 0 C and below, and at 50 C and above, nothing grows however damp."""
    result = mould_index(steady(90 * 24, temperature, 99), "very sensitive")
    assert result.index.max() == 0
    assert result.final_class == 0


def test_growth_starts_at_the_critical_humidity_itself() -> None:
    """Growth needs humidity at or above the critical one: a hair below, nothing."""
    critical = critical_relative_humidity(10, "very sensitive")
    assert mould_index(steady(240, 10, critical), "very sensitive").index[-1] > 0
    assert mould_index(steady(240, 10, critical - 0.001), "very sensitive").index[-1] == 0


def test_resistant_materials_have_their_own_floor() -> None:
    """Concrete at 20 C needs 85 %, pine 80 %; cold lifts both alike."""
    assert critical_relative_humidity(25, "medium resistant") == 85
    assert critical_relative_humidity(25, "very sensitive") == 80
    assert critical_relative_humidity(5, "resistant") == critical_relative_humidity(5, "sensitive")


def test_growth_resets_the_clock_of_decline() -> None:
    """A damp hour in dry weeks: the decline starts again with its fast six hours."""
    rows = np.arange(0.0, 61.0)
    humidity = np.where(rows == 30, 90.0, 50.0)
    index = mould_index(Log(rows, rows * 0 + 20, humidity), "resistant", start=2.0).index
    assert index[30] - index[0] == pytest.approx(-(0.008 + 0.016 * 6 / 24))
    assert index[31] >= index[30]
    assert index[37] - index[31] == pytest.approx(-0.008)
    assert index[55] == pytest.approx(index[37])


def test_index_never_falls_below_zero() -> None:
    """Months of dry air end at 0, not below."""
    assert mould_index(steady(60 * 24, 20, 40), "sensitive", start=0.2).index[-1] == 0


def test_a_gap_counts_as_nothing_and_is_reported() -> None:
    """The logger stopped for two days: those days neither grow nor decline, and the result says so."""
    rows = np.concatenate((np.arange(0.0, 25.0), np.arange(73.0, 98.0)))
    log = Log(rows, rows * 0 + 20, rows * 0 + 97)
    result = mould_index(log, "very sensitive")
    assert result.gaps == ((24.0, 73.0),)
    assert result.index[25] == result.index[24]
    assert result.index[-1] == pytest.approx(mould_index(steady(48, 20, 97), "very sensitive").index[-1])
    assert "1 gap of more than 6 h counts as nothing" in result.words
    above = hours_above(log, 80)
    assert (above.hours, above.hours_logged, above.gaps) == (48.0, 48.0, ((24.0, 73.0),))


def test_hours_above_counts_above_only() -> None:
    """How many hours above 80 %? Exactly 80 % is not above, and each row stands until the next."""
    log = Log(np.array([0.0, 1.0, 3.0, 4.0]), np.full(4, 15.0), np.array([80.0, 81.0, 70.0, 99.0]))
    above = hours_above(log, 80)
    assert (above.hours, above.hours_logged) == (2.0, 4.0)


def test_ten_minute_rows_agree_with_hourly_rows() -> None:
    """The same air logged every ten minutes gives the same index."""
    hourly = mould_index(steady(28 * 24, 20, 97), "sensitive").index[-1]
    finer = mould_index(steady(28 * 24, 20, 97, 1 / 6), "sensitive").index[-1]
    assert finer == pytest.approx(hourly, abs=2e-3)


def test_thirty_days_meets_and_does_not_meet() -> None:
    """Running 30-day mean: 79 meets, 80 does not, and the worst 30 days are found wherever they lie."""
    assert thirty_day_criterion(steady(40 * 24, 20, 79)).meets is True
    assert thirty_day_criterion(steady(40 * 24, 20, 80)).meets is False
    rows = np.arange(0.0, 90 * 24 + 1)
    humidity = np.where((rows >= 720) & (rows < 1440), 85.0, 60.0)
    result = thirty_day_criterion(Log(rows, rows * 0 + 20, humidity))
    assert result.meets is False
    assert (result.worst_mean, result.worst_ends) == (pytest.approx(85.0), 1440.0)
    assert result.words.startswith("Does not meet")


def test_thirty_days_looks_only_at_mean_temperatures_it_is_meant_for() -> None:
    """An unheated shed in winter at 90 %: the criterion says nothing, and that is not a pass."""
    result = thirty_day_criterion(steady(40 * 24, 2, 90))
    assert result.meets is None
    assert result.words.startswith("Cannot say")


def test_thirty_days_refuses_a_short_or_broken_log() -> None:
    """Three weeks, or a month with a hole of a week: refused with what to do next."""
    with pytest.raises(Refused, match="Next: log on"):
        thirty_day_criterion(steady(29 * 24, 20, 90))
    rows = np.concatenate((np.arange(0.0, 300.0), np.arange(468.0, 721.0)))
    with pytest.raises(Refused, match="1 gap"):
        thirty_day_criterion(Log(rows, rows * 0 + 20, rows * 0 + 90))


@pytest.mark.parametrize(
    ("hours", "temperature", "humidity"),
    [
        ([0.0], [20.0], [50.0]),
        ([0.0, 1.0], [20.0], [50.0, 50.0]),
        ([0.0, 0.0], [20.0, 20.0], [50.0, 50.0]),
        ([0.0, 1.0], [20.0, np.nan], [50.0, 50.0]),
        ([0.0, 1.0], [20.0, 68.0], [50.0, 50.0]),
        ([0.0, 1.0], [20.0, 20.0], [50.0, 101.0]),
    ],
)
def test_a_log_that_cannot_be_used_is_refused(
    hours: list[float], temperature: list[float], humidity: list[float]
) -> None:
    """One row, unequal columns, a clock that stands still, a missing value, degF, 101 %: refused with a sentence."""
    with pytest.raises(InputError):
        Log(np.array(hours), np.array(temperature), np.array(humidity))


def test_single_figures_refuse_outside_their_range() -> None:
    """0 C, 50 C, 120 %, a fraction, an unknown class, an isopleth in frost, a factor of 0: refused."""
    for call in (
        lambda: critical_relative_humidity(0, "sensitive"),
        lambda: weeks_to_first_growth(50, 90),
        lambda: weeks_to_visible(20, 120),
        lambda: maximum_index(20, 0.9, "sensitive"),
        lambda: isopleth(-2),
        lambda: mould_index(steady(10, 20, 90), "sensitive", decline_factor=0),
        lambda: hours_above(steady(10, 20, 90), 120),
    ):
        with pytest.raises(OutOfRange):
            call()
    with pytest.raises(InputError, match="very sensitive"):
        mould_index(steady(10, 20, 90), "wood")
    assert maximum_index(20, 60, "resistant") == 0
    assert weeks_to_first_growth(20, 90, spruce=True) > weeks_to_first_growth(20, 90)
    assert weeks_to_first_growth(20, 90, kiln_dried=True) < weeks_to_first_growth(20, 90)
