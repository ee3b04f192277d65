"""Timber in its air: targets that the air can hold, and risk in words that promise nothing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from desorb.core.wood_in_air import SERVICE_RANGES, WoodReading, decay_risk, target_in_air
from desorb.errors import InputError, OutOfRange

DAY_0 = datetime(2026, 3, 2, 9, tzinfo=UTC)


def _wood(*values: float, days: tuple[int, ...], corrected: bool = True) -> list[WoodReading]:
    return [
        WoodReading(value, DAY_0 + timedelta(days=day), corrected, f"d/{day}")
        for value, day in zip(values, days, strict=True)
    ]


def test_a_joist_cannot_dry_to_fifteen_in_a_cold_humid_void() -> None:
    """Before any kit: the void stands at 8 degC and 88 %, so the target of 15 % is out of reach until its air changes."""
    reach = target_in_air(15, 8, 88)
    assert reach.state == "not reachable"
    assert reach.held == pytest.approx(19.8, abs=0.1)  # the project's task list, 35; the equation of [FPL-RN-0268]
    assert "change the air" in reach.next_step
    assert reach.needed_humidity is not None
    # table 4-2 of the Wood Handbook (from memory): 15.2 to 15.3 % at 75 % RH between 4 and 10 degC, 14.0 at 70 %
    assert 70 < reach.needed_humidity < 76


def test_dry_room_air_reaches_the_target_and_air_near_it_cannot_say() -> None:
    """A heated room holds 9 %: fine for 15. At 72 % it holds about 14: species alone would move it that far."""
    assert target_in_air(15, 20, 50).state == "reachable"
    assert target_in_air(15, 20, 72).state == "cannot say"


@pytest.mark.parametrize("target", [0, -3, 30, 60, float("nan")])
def test_a_target_no_air_decides_is_refused(target: float) -> None:
    """I typed 60 for 16: I am told what a target can be."""
    with pytest.raises(InputError, match="no target"):
        target_in_air(target, 20, 50)


def test_a_target_wetter_than_any_known_air_has_no_humidity_to_it() -> None:
    """29 % lies above what wood holds at 95 %: the sentence does not make up a humidity."""
    assert target_in_air(29, 20, 90).needed_humidity is None


def test_air_outside_the_equation_is_refused() -> None:
    """A frozen loft at -10 degC: the equation was never fitted there."""
    with pytest.raises(OutOfRange):
        target_in_air(15, -10, 80)


def test_twice_above_twenty_a_week_apart_is_a_risk_and_not_rot() -> None:
    """22 % on day 0, 21 % on day 8: have it inspected; nobody says rot, nobody names a fungus."""
    found = decay_risk(_wood(22, 21, days=(0, 8)))
    assert found.state == "risk"
    assert found.entries == ("d/0", "d/8")
    assert "shows no rot" in found.next_step


def test_once_or_twice_within_the_week_cannot_say_and_asks_for_the_second_visit() -> None:
    """22 % on Monday and 22 % on Wednesday: not known for how long."""
    for days in ((0,), (0, 2)):
        found = decay_risk(_wood(*[22.0] * len(days), days=days))
        assert found.state == "cannot say"
        assert "7 days later" in found.next_step


def test_exactly_twenty_counts_and_seven_days_are_enough() -> None:
    """The limit itself is at risk, as the sentence says 'at or above'."""
    assert decay_risk(_wood(20.0, 20.0, days=(0, 7))).state == "risk"
    assert decay_risk(_wood(19.9, 19.9, days=(0, 7))).state == "no sign of risk"


def test_uncorrected_pin_readings_support_nothing() -> None:
    """Raw 24 % from a cold rafter without a table: no opinion either way."""
    found = decay_risk(_wood(24, 24, days=(0, 9), corrected=False))
    assert found.state == "cannot say"
    assert "table" in found.next_step


def test_a_dry_day_between_is_told() -> None:
    """21, then 18, then 22: the risk stands, and the drier reading is not hidden."""
    assert "1 below it between" in decay_risk(_wood(21, 18, 22, days=(0, 5, 12))).words


def test_low_readings_do_not_promise_next_winter() -> None:
    """16 % in July says nothing of January."""
    assert "wettest season" in decay_risk(_wood(16, days=(0,))).next_step


def test_floor_ranges_in_service_name_where_they_were_read() -> None:
    """The ranges of the code by heating: 15 to 19, 10 to 14, 9 to 11, 6 to 8, each with how it was read."""
    # BS 8201 as quoted in the project's rules of trade 2.4
    assert [bounds[:2] for bounds in SERVICE_RANGES.values()] == [(15, 19), (10, 14), (9, 11), (6, 8)]
    assert all("BS 8201" in bounds[2] for bounds in SERVICE_RANGES.values())


def test_humidity_typed_beyond_the_equation_is_named_as_typed() -> None:
    """I typed 99 %: the answer names 99 % and sends me to the timber itself."""
    with pytest.raises(OutOfRange) as refused:
        target_in_air(15, 20, 99)
    assert refused.value.got == "99 % RH"


def test_a_humidity_typed_as_a_fraction_reaches_no_target() -> None:
    """I typed 0.65 for 65 %: bone-dry air would let any joist dry; I am asked for the unit."""
    with pytest.raises(OutOfRange, match="fraction") as refused:
        target_in_air(15, 20, 0.65)
    assert "give 65" in refused.value.next_step
