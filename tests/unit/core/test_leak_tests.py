"""core/causes/leak_tests.py: what each leak test can disprove, and no more."""

from __future__ import annotations

import dataclasses

import pytest

from desorb.core.causes.leak_tests import (
    CAN_DISPROVE,
    COLOUR,
    FITS,
    LOSS,
    NO_COLOUR,
    NO_LOSS,
    NOT_VALID,
    PartUnderTest,
    dye,
    expected_air_pressure,
    meter_no_use,
    pressure_hold_in_air,
    pressure_hold_in_water,
    standing_water,
)
from desorb.core.causes.patterns import PATTERNS
from desorb.errors import InputError

PIPE = PartUnderTest("supply pipe", "cold pipe, stop tap to bath", "2026-02-03T09:00", "2026-02-03T09:30", 30)
TRAY = PartUnderTest("waste", "shower tray to plug", "2026-02-03T09:00", "2026-02-03T11:00", 120)
EARLY = dataclasses.replace(PIPE, end="2026-02-03T09:10")


def test_air_that_cools_falls_and_is_no_leak() -> None:
    """The pressure fell while the pipe cooled from 20 to 15 degC: is that a leak?

    4.013 x 288.15 / 293.15 = 3.9446 bar absolute by hand; less 1.013 is 2.932 bar gauge (gas law, textbook).
    """
    assert expected_air_pressure(4.013, 20.0, 15.0) == pytest.approx(3.944554, abs=1e-6)
    held = pressure_hold_in_air(PIPE, (3.0, 2.93), (1.013, 1.013), (20.0, 15.0), 0.005, 0.2)
    assert held.status == NO_LOSS
    assert "2.932 bar" in held.expected
    assert held.disproves == ("supply",)
    assert "outside this section" in held.says_nothing_of


def test_the_same_fall_without_cooling_is_a_loss() -> None:
    """It fell by 0.07 bar and nothing cooled. What may I say?"""
    held = pressure_hold_in_air(PIPE, (3.0, 2.93), (1.013, 1.013), (20.0, 20.0), 0.005, 0.2)
    assert held.status == LOSS
    assert held.disproves == ()
    assert "is not shown" in held.conclusion


def test_a_falling_barometer_is_taken_into_account() -> None:
    """A gauge reads against the air outside: 20 mbar less outside shows 20 mbar more on the gauge."""
    held = pressure_hold_in_air(PIPE, (3.0, 3.02), (1.013, 0.993), (20.0, 20.0), 0.005, 0.0)
    assert held.status == NO_LOSS


def test_air_that_rises_is_not_valid() -> None:
    """It rose: a valve lets by, or the temperature is not that of the pipe."""
    held = pressure_hold_in_air(PIPE, (3.0, 3.2), (1.013, 1.013), (20.0, 20.0), 0.005, 0.2)
    assert held.status == NOT_VALID
    assert held.next_step


def test_water_is_not_corrected_and_asks_for_equal_temperature() -> None:
    """The pipe was full of water and cooled: desorb does not correct it."""
    held = pressure_hold_in_water(PIPE, (3.0, 2.6), (20.0, 15.0), 0.02, 0.5)
    assert held.status == NOT_VALID
    assert "not corrected" in held.conclusion
    assert "equal temperatures" in held.next_step
    assert pressure_hold_in_water(PIPE, (3.0, 2.98), (20.0, 20.2), 0.02, 0.5).status == NO_LOSS
    assert pressure_hold_in_water(PIPE, (3.0, 2.6), (20.0, 20.2), 0.02, 0.5).status == LOSS


def test_stopped_early_shows_a_loss_but_never_its_absence() -> None:
    """I had only ten minutes."""
    assert pressure_hold_in_water(EARLY, (3.0, 3.0), (20.0, 20.0), 0.02, 0.5).status == NOT_VALID
    assert pressure_hold_in_water(EARLY, (3.0, 2.0), (20.0, 20.0), 0.02, 0.5).status == LOSS


def test_standing_water_allows_for_evaporation() -> None:
    """Two hours, 1 mm down, a dish beside it lost 0.5 mm."""
    dish = "dish beside it"
    assert standing_water(TRAY, (50.0, 49.0), 0.5, dish, 0.5).status == NO_LOSS
    assert standing_water(TRAY, (50.0, 48.7), 0.5, dish, 0.5).status == NO_LOSS  # 1.3 within 0.5 and twice 0.5
    lost = standing_water(TRAY, (50.0, 47.0), 0.5, dish, 0.5)
    assert lost.status == LOSS
    assert standing_water(TRAY, (50.0, 52.0), 0.5, dish, 0.5).status == NOT_VALID
    assert "1.5 mm in 120 minutes" in standing_water(TRAY, (50.0, 49.0), 0.5, dish, 0.5).conclusion
    with pytest.raises(InputError, match="rests on nothing"):
        standing_water(TRAY, (50.0, 49.0), 0.5, " ", 0.5)


def test_dye_shows_one_path_and_no_only_cause() -> None:
    """20 L of dye in the shower, seen at the ceiling below."""
    seen = dye(TRAY, 20.0, "shower outlet", ("kitchen ceiling",), True, "kitchen ceiling")
    assert seen.status == COLOUR
    assert "stay open" in seen.conclusion
    unseen = dye(TRAY, 20.0, "shower outlet", ("kitchen ceiling",), True)
    assert (unseen.status, unseen.disproves) == (NO_COLOUR, ("waste",))
    assert "20 L" in unseen.conclusion
    assert "other outlets" in unseen.says_nothing_of
    assert dye(TRAY, 20.0, "shower outlet", ("kitchen ceiling",), False, "kitchen ceiling").status == NOT_VALID
    with pytest.raises(InputError):
        dye(TRAY, 20.0, "shower outlet", ("kitchen ceiling",), True, "hall")


def test_meter_says_only_what_its_steps_show() -> None:
    """The meter did not move in half an hour. What leak would I have missed?"""
    still = meter_no_use(PIPE, (1000.0, 1000.0), 0.1, "occupant")
    assert (still.status, still.disproves) == (NO_LOSS, ("supply",))
    assert "0.2 L per hour" in still.conclusion
    assert meter_no_use(PIPE, (1000.0, 1000.1), 0.1, "occupant").status == LOSS
    long = meter_no_use(PIPE, (418102.0, 418131.5), 0.1, "occupant")  # the figures of the meter stand as they were read
    assert long.observed.startswith("418102 to 418131.5 L: 29.5 L")
    assert meter_no_use(PIPE, (1000.0, 1000.5), 0.1, "").status == NOT_VALID
    assert meter_no_use(PIPE, (1000.0, 999.0), 0.1, "occupant").status == NOT_VALID


@pytest.mark.parametrize(
    "part",
    [
        dataclasses.replace(PIPE, end=PIPE.start),
        dataclasses.replace(PIPE, end="2026-02-03T09:30+00:00"),
        dataclasses.replace(PIPE, end="later"),
        dataclasses.replace(PIPE, place=" "),
        dataclasses.replace(PIPE, system="roof"),
        dataclasses.replace(PIPE, system="heating pipe"),
        dataclasses.replace(PIPE, system="waste"),
        dataclasses.replace(PIPE, planned_minutes=0),
    ],
)
def test_a_test_without_part_or_time_is_refused(part: PartUnderTest) -> None:
    """Start and end belong to every record."""
    with pytest.raises(InputError):
        meter_no_use(part, (1000.0, 1000.0), 0.1, "occupant")


@pytest.mark.parametrize(
    ("gauge", "day", "celsius", "unit"),
    [
        ((3.0, 3.0), (1013.0, 1013.0), (20.0, 20.0), "bar"),  # hPa: the air outside would be taken for a vessel
        ((300.0, 299.0), (1.013, 1.013), (20.0, 20.0), "bar"),  # kPa
        ((3.0, 2.9), (1.013, 1.013), (293.0, 288.0), "degC"),  # K: half the correction, so a leak that is none
    ],
)
def test_a_figure_in_another_unit_is_asked_for_again(
    gauge: tuple[float, float], day: tuple[float, float], celsius: tuple[float, float], unit: str
) -> None:
    """The barometer reads 1013 and the gauge 300: it says which unit it wants, and gives no verdict on them."""
    with pytest.raises(InputError) as caught:
        pressure_hold_in_air(PIPE, gauge, day, celsius, 0.01, 0.1)
    assert f"enter it in {unit}" in caught.value.next_step


def test_impossible_figures_are_refused() -> None:
    """Not a number, below absolute zero, negative allowance."""
    for value in (float("nan"), -300.0):
        with pytest.raises(InputError):
            pressure_hold_in_air(PIPE, (3.0, 3.0), (1.0, 1.0), (value, 20.0), 0.01, 0.1)
    with pytest.raises(InputError):
        standing_water(TRAY, (50.0, 49.0), -0.5, "dish", 0.5)
    with pytest.raises(InputError):
        meter_no_use(PIPE, (1000.0, 1000.0), 0.0, "occupant")


def test_no_kind_of_test_disproves_more_than_the_table_lets_it() -> None:
    """The record and the table of causes agree on what a test can speak out."""
    for kind, systems in FITS.items():
        for system in systems:
            assert kind in PATTERNS[CAN_DISPROVE[system]].tests
