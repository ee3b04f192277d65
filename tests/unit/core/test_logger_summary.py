"""What a logger says of one place: hours at the surface, vapour excess, daily range, and when it says too little."""

from __future__ import annotations

import numpy as np
import pytest

from desorb.core.air import air_state
from desorb.core.logger import LoggedAir, summarise
from desorb.core.mould import mould_index
from desorb.core.surface_log import Log
from desorb.errors import InputError, OutOfRange

TEN_DAYS = np.arange(10 * 144 + 1) / 6


def steady(
    temperature: float, humidity: float, surface: float | None = None, hours: np.ndarray = TEN_DAYS, gap: float = 6.0
) -> LoggedAir:
    flat = np.zeros(hours.shape)
    at = None if surface is None else flat + surface
    return LoggedAir(hours, flat + temperature, flat + humidity, (hours // 24).astype(np.int64), at, gap)


def test_ten_days_at_ten_minutes_count_the_hours_above_80_at_the_surface() -> None:
    """Task 54: four of ten days damp at the surface are 96 h; task 18 has 18.0/68 over 12.9 degC at 94 %."""
    damp = TEN_DAYS < 96
    found = summarise(
        LoggedAir(TEN_DAYS, TEN_DAYS * 0 + 18.0, TEN_DAYS * 0 + 68, (TEN_DAYS // 24).astype(np.int64),
                  np.where(damp, 12.9, 17.0))
    )  # fmt: skip
    assert found.surface is not None
    assert found.surface.hours_above == pytest.approx(96)
    assert found.surface.hours_logged == pytest.approx(240)
    assert found.surface.highest_humidity == pytest.approx(94, abs=0.5)  # TASKS 18
    assert found.surface.hours_condensing == 0
    assert found.air_hours_above == 0
    assert found.representative
    assert found.warnings == ()


def test_a_condensing_surface_is_above_100_and_counted() -> None:
    """Task 18: 18.0 degC, 68 % over 11.6 degC is 102.7 % at the surface; the log goes on and does not refuse."""
    found = summarise(steady(18.0, 68, 11.6)).surface
    assert found is not None
    assert found.highest_humidity == pytest.approx(102.7, abs=1)  # TASKS 18
    assert found.hours_condensing == found.hours_above == pytest.approx(240)
    assert "nobody looked for mould" in found.mould_words
    assert found.thirty_days_meets is None
    assert "Next:" in found.thirty_days_words


def test_the_mould_index_is_that_of_the_surface() -> None:
    """Index and 30 days are those of core/mould and core/surface_log on surface figures, not on those of the room."""
    hours = np.arange(60 * 24.0)
    found = summarise(steady(20, 75, 16.0, hours), sensitivity="sensitive").surface
    vapour = air_state(air_temperature=20.0, relative_humidity=75.0)
    at_surface = 100 * vapour.vapour_pressure / air_state(air_temperature=16.0, relative_humidity=100.0).vapour_pressure
    expected = mould_index(Log(hours, hours * 0 + 16.0, hours * 0 + at_surface), "sensitive")
    assert found is not None
    assert (found.mould_class, found.mould_band) == (expected.final_class, expected.band)
    assert found.mould_highest_class >= 1
    assert found.thirty_days_meets is False


def test_without_a_surface_sensor_nothing_is_said_of_the_surface() -> None:
    """Task 18: no surface temperature, no result; the air above 80 % is given as that of the air."""
    found = summarise(steady(18, 85))
    assert found.surface is None
    assert found.air_hours_above == pytest.approx(240)
    assert any("sensor on the coldest surface" in words for words in found.warnings)


def test_under_seven_days_the_log_is_not_representative() -> None:
    """Task 54: less than the setting warns; the setting moves the line."""
    short = steady(20, 50, 15, TEN_DAYS[: 6 * 144])
    found = summarise(short)
    assert not found.representative
    assert found.warnings[0].startswith("not representative: 6.0 days are logged and 7 are wanted")
    assert summarise(short, least_days=5).representative
    with pytest.raises(OutOfRange):
        summarise(short, least_days=-1)


def test_vapour_excess_is_the_difference_of_two_states() -> None:
    """Task 54: mean excess in hPa and g/m3, as the psychrometric engine has both airs ([ASHRAE17]), times unlike."""
    inside, outside = steady(21, 60), steady(6, 85, hours=np.arange(0.0, 241.0) + 0.05 - 1)
    found = summarise(inside, outside).excess
    rich, poor = (air_state(air_temperature=t, relative_humidity=rh) for t, rh in ((21.0, 60.0), (6.0, 85.0)))
    assert found is not None
    assert found.hectopascal == pytest.approx((rich.vapour_pressure - poor.vapour_pressure) / 100, rel=1e-9)
    # The engine takes eq. 26 with 1.607858, which is 1/0.621945 to six figures.
    assert found.gram_per_cubic_metre == pytest.approx(rich.absolute_humidity - poor.absolute_humidity, rel=1e-4)
    assert found.hours_compared == pytest.approx(239.05, abs=0.01)
    assert "more vapour" in found.words


def test_the_excess_is_weighted_by_time_and_not_by_rows() -> None:
    """A logger that wakes up and logs every minute for a while does not pull the mean."""
    hours = np.unique(np.concatenate([np.arange(0.0, 200.0, 1.0), np.arange(100.0, 150.0, 1 / 60)]))
    moist = np.where((hours >= 100) & (hours < 150), 70.0, 50.0)
    inside = LoggedAir(hours, hours * 0 + 20, moist, (hours // 24).astype(np.int64))
    found = summarise(inside, steady(20, 50, hours=np.arange(0.0, 201.0)))
    saturated = air_state(air_temperature=20.0, relative_humidity=100.0).vapour_pressure
    assert found.excess is not None
    assert found.excess.hectopascal * 100 == pytest.approx(0.2 * saturated * 50 / 199, rel=1e-6)


def test_logs_that_do_not_overlap_give_no_excess() -> None:
    """Two logs of different weeks are never compared."""
    found = summarise(steady(20, 50), steady(5, 80, hours=TEN_DAYS + 500))
    assert found.excess is None
    assert any("check both clocks" in words for words in found.warnings)


def test_a_gap_counts_in_no_hours_and_is_said() -> None:
    """A day without power: 216 h are logged of 240, and the gap is named."""
    hours = TEN_DAYS[(TEN_DAYS < 48) | (TEN_DAYS >= 72)]
    found = summarise(steady(18, 68, 12.9, hours))
    assert found.hours_logged == pytest.approx(216 - 1 / 6)  # the row before a gap stands for nothing
    assert len(found.gaps) == 1
    assert found.surface is not None
    assert found.surface.hours_above == pytest.approx(found.hours_logged)
    assert any("1 gap(s)" in words for words in found.warnings)


def test_daily_range_is_of_whole_days() -> None:
    """A wave of 4 K from top to bottom; the half day at the start would show less and is left out."""
    hours = np.arange(72.0, step=0.5) + 18
    wave = 20 + 2 * np.cos(2 * np.pi * hours / 24)
    found = summarise(LoggedAir(hours, wave, 50 + 0 * wave, (hours // 24).astype(np.int64))).daily_range
    assert found is not None
    assert (found.days, found.days_left_out) == (2, 2)
    assert found.temperature_mean == pytest.approx(4.0)
    assert found.humidity_largest == 0


def test_a_surface_sensor_that_fell_off_counts_only_while_it_was_on() -> None:
    """Hours above are of the hours with a surface temperature, and the difference is said."""
    surface = np.where(TEN_DAYS < 120, 12.9, np.nan)
    found = summarise(
        LoggedAir(TEN_DAYS, TEN_DAYS * 0 + 18, TEN_DAYS * 0 + 68, (TEN_DAYS // 24).astype(np.int64), surface)
    )
    assert found.surface is not None
    assert found.surface.hours_above == pytest.approx(120, abs=0.2)
    assert any("the surface was logged for" in words for words in found.warnings)


def test_a_log_that_steps_by_days_is_refused() -> None:
    """One row a day is no log: nothing stands for a day."""
    with pytest.raises(InputError, match="log more often"):
        summarise(steady(20, 50, hours=np.arange(10.0) * 24))
