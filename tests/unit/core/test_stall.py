"""Course, stall, reasons and end of drying: core/trend.py, core/stall.py, core/stall_reasons.py, core/drying_end.py."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from desorb.core.drying_end import COMPLETE, NOT_COMPLETE, Judged, KitSpan, drying_complete
from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER
from desorb.core.stall import (
    NO_EXCESS,
    NO_FALL,
    NO_FORECAST,
    NONE_SEEN,
    NOT_ENOUGH,
    REACHED,
    SLOWER,
    STALLED,
    StallSettings,
    stall_of,
)
from desorb.core.stall_reasons import FOR_IT, NOT_CHECKED, NOTHING_FOUND, StallFacts, stall_reasons
from desorb.core.trend import Point, trend_of
from desorb.errors import InputError, OutOfRange

LOSING = [15 + 40 * math.exp(-0.12 * day) for day in range(15)]  # a clean exponential over a control of 15


def points(values: Sequence[float], mean: float = 15.0, limit: float = 17.0, first: float = 1.0) -> list[Point]:
    return [Point(first + place, value, mean, limit, "m1", "s1", "bare", "k1") for place, value in enumerate(values)]


def changed(made: list[Point], place: int, **what: Any) -> list[Point]:
    """The same visits, with something changed from that visit on."""
    return [replace(point, **what) if number >= place else point for number, point in enumerate(made)]


# -- course ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "value", "word"),
    [
        ("instrument", "m2", "instrument"),
        ("scale", "s2", "scale"),
        ("covering", "vinyl", "covering"),
        ("setup", "k2", "kit"),
    ],
)
def test_nothing_is_joined_over_a_change(field: str, value: str, word: str) -> None:
    """The meter, scale, covering or kit was changed on day 3: the line breaks there and says at what."""
    found = trend_of(changed(points([50, 45, 40, 36]), 2, **{field: value}))
    assert [segment.days for segment in found.segments] == [(1, 2), (3, 4)]
    assert len(found.breaks) == 1
    assert word in found.words
    assert "from 25 on day 3 to 21 on day 4" in found.words
    assert "1 more visit " in found.next_step


def test_a_value_at_an_end_of_its_scale_belongs_to_no_segment() -> None:
    """99 at the top on day 2 is no excess: it is in no piece, and the pieces on both sides stay apart."""
    made = points([99, 99, 60, 55])
    made[1] = replace(made[1], clipped=True)
    found = trend_of(made)
    assert [segment.days for segment in found.segments] == [(1,), (3, 4)]
    assert "end of its scale" in found.segments[1].began


def test_a_visit_without_control_has_no_excess() -> None:
    """Nobody read the controls on the last day: the latest visit says nothing, and I am told to read them."""
    found = trend_of(changed(points([50, 45, 40]), 2, control_mean=None, control_limit=None))
    assert found.last is None
    assert "no control" in found.words
    assert "controls" in found.next_step


def test_a_change_back_is_a_second_break() -> None:
    """The old meter came back on day 3: its two pieces are still not one."""
    made = points([50, 45, 40])
    made[1] = replace(made[1], instrument="m2")
    assert len(trend_of(made).segments) == 3


@pytest.mark.parametrize(
    "wrong", [[], [Point(1, math.nan, 15, 17, "m", "s", "b", "k")], [Point(1, 40, 17, 15, "m", "s", "b", "k")]]
)
def test_figures_that_are_none_are_refused(wrong: list[Point]) -> None:
    """No visit, no number, or mean and limit exchanged: an error with the next step."""
    with pytest.raises(InputError) as told:
        trend_of(wrong)
    assert told.value.next_step


def test_days_run_forward() -> None:
    """Two values of one day: which is it?"""
    with pytest.raises(InputError, match="run forward"):
        trend_of([*points([50, 45]), *points([44], first=2)])


# -- stall -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("mean", [16.0, 18.0, 19.0])
@pytest.mark.parametrize("first", [1.0, 2.0])
def test_task_19(mean: float, first: float) -> None:
    """47, 46, 46, 46, 45 over 4 days, control limit 20, r = 1 digit: flagged no later than day 6, no forecast. [TASKS 19]"""
    found = stall_of(points([47, 46, 46, 46, 45], mean, 20.0, first), 1.0)
    assert (found.state, found.kind, found.forecast) == (STALLED, NO_FALL, NO_FORECAST)
    assert found.flagged_day is not None
    assert found.flagged_day <= 6
    assert "no forecast" in found.words
    assert "find out why" in found.next_step


def test_a_coarser_instrument_needs_more_visits_to_say_the_same() -> None:
    """The same figures from a scale that repeats within 6 digits: five visits show no stall."""
    assert stall_of(points([47, 46, 46, 46, 45], 18, 20), 6.0).state == NONE_SEEN


@pytest.mark.parametrize("pace", [0.05, 0.12, 0.3])
@pytest.mark.parametrize("rounded", [False, True])
def test_no_alarm_on_a_clean_exponential(pace: float, rounded: bool) -> None:
    """A spot that dries as it should, at 5 to 30 % a day, is left in peace at every visit, rounded display or not."""
    values = [15 + 40 * math.exp(-pace * day) for day in range(21)]
    made = points([float(round(value)) for value in values] if rounded else values)
    for visits in range(3, 22):
        assert stall_of(made[:visits], 1.0).state in (NONE_SEEN, REACHED)


def test_no_alarm_on_a_drying_that_slows() -> None:
    """A slab slows all the time: 42, 35, 30, 27 ... a pure exponential would cry; ours leaves it in peace."""
    slows = [15 + 60 / (1 + day) ** 0.6 for day in range(1, 15)]
    assert stall_of(points(slows), 1.0).state == NONE_SEEN
    assert stall_of(points(slows), 1.0, settings=StallSettings(kept_pace=1.0)).state == STALLED


def test_what_was_read_at_the_limit_starts_the_watch_anew() -> None:
    """At its limit for three days, then 30 and 29: two visits of a new course, no stall yet."""
    assert stall_of(points([16, 16, 16, 30, 29]), 1.0).state == NOT_ENOUGH


def test_a_course_that_stops_is_found_and_dated() -> None:
    """It dried for a week and then stood: found within three days, and the last fitting day is the day it stopped."""
    made = points([*LOSING[:7], *[LOSING[6]] * 3])
    assert stall_of(made[:7], 1.0).state == NONE_SEEN
    found = stall_of(made, 1.0)
    assert (found.state, found.kind) == (STALLED, SLOWER)
    assert found.flagged_day is not None
    assert found.flagged_day <= 10
    assert found.since_day == 7


def test_a_spot_that_gets_wetter_is_a_stall_at_once() -> None:
    """30 turns into 38 overnight: the next visit says so."""
    found = stall_of(points([50, 44, 38, 34, 30, 38]), 1.0)
    assert (found.state, found.flagged_day) == (STALLED, 6)


def test_the_sum_follows_its_recursion() -> None:
    """S = max(0, S + z - k), the one-sided cumulative sum of the textbook, from the figures shown. [NIST-6.3.2.3]"""
    settings = StallSettings(k=0.25, h=50.0)
    total = 0.0
    watched = stall_of(points([*LOSING[:5], *[LOSING[4]] * 5]), 1.0, settings=settings).watched
    for each in watched:
        total = 0.0 if each.z is None else max(0.0, total + each.z - settings.k)
        assert each.total == pytest.approx(total)
    assert total > 1.0


def test_the_prediction_against_a_straight_fit_by_hand() -> None:
    """Excess 40 and 20 on days 1 and 2, kept pace 1: 10 is predicted for day 3, whatever the weights."""
    found = stall_of(points([55, 35, 25]), 1.0, settings=StallSettings(kept_pace=1.0))
    assert found.watched[2].predicted == pytest.approx(10.0)
    assert found.watched[2].z == pytest.approx(0.0)


def test_a_stall_stays_said_until_something_is_changed() -> None:
    """Once stalled it stays so while nobody changed anything; with the unit moved the watch starts anew."""
    made = points([*LOSING[:7], *[LOSING[6]] * 4, LOSING[7], LOSING[8], LOSING[9]])
    assert stall_of(made, 1.0).state == STALLED
    moved = changed(made, 11, setup="k2")
    assert stall_of(moved[:13], 1.0).state == NOT_ENOUGH
    assert "set-up of the kit was k1, now k2" in stall_of(moved[:13], 1.0).words
    assert stall_of(moved, 1.0).state == NONE_SEEN


@pytest.mark.parametrize("field", ["instrument", "scale", "covering"])
def test_a_jump_at_a_change_of_instrument_is_no_stall(field: str) -> None:
    """The new meter shows 12 more: no stall is made of it."""
    made = changed(points([*LOSING[:5], *(value + 12 for value in LOSING[5:9])]), 5, **{field: "other"})
    assert stall_of(made, 1.0).state == NONE_SEEN


@pytest.mark.parametrize("visits", [1, 2])
def test_fewer_than_three_visits_are_refused(visits: int) -> None:
    """Two visits are no course: not enough visits, and how many more to make. [JOB F17]"""
    found = stall_of(points([47, 47][:visits]), 1.0)
    assert found.state == NOT_ENOUGH
    assert found.words.startswith("not enough visits")
    assert "no forecast" in found.words
    assert f"{3 - visits} more visit" in found.next_step


def test_a_latest_value_at_an_end_of_its_scale_is_refused() -> None:
    """99, 99, 99, 99 at the top of the scale look like a stall and are none."""
    found = stall_of([replace(point, clipped=True) for point in points([99, 99, 99, 99, 99])], 1.0)
    assert found.state == NO_EXCESS
    assert "end of its scale" in found.words
    assert "no forecast" in found.words
    assert found.next_step


def test_values_at_an_end_before_do_not_count() -> None:
    """Three days at the top, then two readings: two visits, not five."""
    made = [replace(p, clipped=n < 3) for n, p in enumerate(points([99, 99, 99, 90, 88]))]
    assert stall_of(made, 1.0).state == NOT_ENOUGH


def test_a_spot_at_its_limit_is_no_stall_and_not_called_dry() -> None:
    """16 under a limit of 17 for a week: nothing to stall, and no statement of dryness."""
    found = stall_of(points([16] * 7), 1.0)
    assert found.state == REACHED
    assert "no statement that the element is dry" in found.words


def test_values_are_said_in_the_decimals_of_the_display() -> None:
    """12.3 shown, 14.36 by the table of the instrument: said as 14.4, its computed limit with one decimal more."""
    made = [replace(point, decimals=1) for point in points([14.36] * 7, 14.1, 14.837)]
    assert "14.4 on day 7 is at or under the control limit, 14.84:" in stall_of(made, 1.0).words


@pytest.mark.parametrize("repeatability", [0.0, -1.0, math.nan, math.inf])
def test_a_repeatability_that_is_none_is_refused(repeatability: float) -> None:
    """Without r nobody can tell a stall from scatter."""
    with pytest.raises(InputError, match="repeatability"):
        stall_of(points(LOSING), repeatability)


@pytest.mark.parametrize("wrong", [{"h": 0.0}, {"window": 2}, {"kept_pace": 1.5}, {"k": math.nan}, {"least_visits": 2}])
def test_settings_out_of_bounds_are_refused(wrong: dict[str, Any]) -> None:
    """A threshold of 0 would cry at every visit."""
    with pytest.raises(InputError, match="setting"):
        StallSettings(**wrong)


# -- reasons ---------------------------------------------------------------------------------------------------------


def test_every_reason_is_listed_with_its_check() -> None:
    """Nothing known: all reasons of the trade stand there, each with its check, none with a figure. [JOB 3.21] [TASKS 19]"""
    found = stall_reasons()
    assert {reason.name for reason in found} == {
        "live source", "instrument", "wrong control", "unit not working", "unit short-circuit", "air too humid or too cold",
        "trapped layer", "salts",
    }  # fmt: skip
    assert all(reason.check and reason.then and reason.standing == NOT_CHECKED for reason in found)
    assert found[0].name == "live source"
    assert not any("%" in reason.check + reason.then + reason.why for reason in found)


@pytest.mark.parametrize(
    ("facts", "name"),
    [
        ({"recirculation": 0.4}, "unit short-circuit"), ({"unit_mismatch": True}, "unit not working"),
        ({"unit_iced": True}, "unit not working"), ({"unit_off": True}, "unit not working"),
        ({"air_holds_above_target": True}, "air too humid or too cold"), ({"air_too_cold": True}, "air too humid or too cold"),
        ({"salts_positive": True}, "salts"), ({"void_wetter_than_control": True}, "trapped layer"),
        ({"water_meter_runs": True}, "live source"), ({"control_differs": True}, "wrong control"),
        ({"instrument_doubted": True}, "instrument"),
    ],
)  # fmt: skip
def test_evidence_puts_its_reason_first(facts: dict[str, Any], name: str) -> None:
    """What was found comes first with its evidence, and the others stay on the list."""
    found = stall_reasons(StallFacts(**facts))
    assert (found[0].name, found[0].standing) == (name, FOR_IT)
    assert found[0].why
    assert len(found) == 8


def test_what_was_checked_goes_last_and_is_kept() -> None:
    """The meter stands still and the inlet is clean: both last, and half a check is none."""
    found = stall_reasons(StallFacts(water_meter_runs=False, recirculation=0.05, unit_iced=False))
    assert [reason.name for reason in found if reason.standing == NOTHING_FOUND] == [
        "live source",
        "unit short-circuit",
    ]
    assert found[-1].name == "unit short-circuit"
    assert next(reason for reason in found if reason.name == "unit not working").standing == NOT_CHECKED


def test_opening_a_void_asks_for_its_gates() -> None:
    """The check of a trapped layer disturbs fabric: the caution says so."""
    trapped = next(reason for reason in stall_reasons() if reason.name == "trapped layer")
    assert "asbestos" in trapped.caution


@pytest.mark.parametrize("share", [-0.1, 1.2, math.nan])
def test_a_recirculation_is_a_share(share: float) -> None:
    """40 for 40 % is refused."""
    with pytest.raises(InputError, match="share of air"):
        stall_reasons(StallFacts(recirculation=share))


# -- end of drying ---------------------------------------------------------------------------------------------------


def visits(*statuses: tuple[float, str]) -> list[Judged]:
    return [Judged(f"v{number}", hours, status) for number, (hours, status) in enumerate(statuses, start=1)]


OFF = [KitSpan("unit 1", 0.0, 200.0)]
TWICE = visits((100, ABOVE), (200, NO_HIGHER), (248, NO_HIGHER))


def test_two_passes_apart_with_the_kit_off_are_complete() -> None:
    """Passed when switched off, passed 48 h later: complete, with both visits named and what it does not say. [JOB 3.22]"""
    found = drying_complete(TWICE, OFF)
    assert (found.state, found.missing, found.visits) == (COMPLETE, (), ("v2", "v3"))
    assert any("electrics" in caution for caution in found.cautions)


@pytest.mark.parametrize(
    ("judged", "kit", "word"),
    [
        ([], OFF, "no visit"),
        (visits((248, NO_HIGHER)), OFF, "two visits"),
        (visits((247, NO_HIGHER), (248, NO_HIGHER)), OFF, "two visits"),
        (visits((200, NO_HIGHER), (225, ABOVE), (249, NO_HIGHER)), OFF, "two visits"),
        (visits((200, NO_HIGHER), (225, CANNOT_SAY), (249, NO_HIGHER)), OFF, "two visits"),
        (visits((200, NO_HIGHER), (248, NO_HIGHER), (300, ABOVE)), OFF, "above control"),
        (visits((200, CANNOT_SAY), (248, CANNOT_SAY)), OFF, "cannot say"),
        (TWICE, None, "not recorded"),
        (TWICE, [KitSpan("unit 1", 0, None)], "was running"),
        (TWICE, [KitSpan("unit 1", 0, 300)], "was running"),
        (TWICE, [KitSpan("unit 1", 0, 201)], "off for 47 h"),
        (TWICE, [*OFF, KitSpan("heater", 210, 220)], "heater had been off for 28 h"),
        (TWICE, [*OFF, KitSpan("heater", 248, None)], "heater was running"),
    ],
)  # fmt: skip
def test_what_is_missing_is_named(judged: list[Judged], kit: list[KitSpan] | None, word: str) -> None:
    """Every short cut to 'complete' I could think of: not complete, with what is missing and the next step."""
    found = drying_complete(judged, kit)
    assert (found.state, found.visits) == (NOT_COMPLETE, ())
    assert word in found.words
    assert found.next_step


def test_only_the_last_hours_of_a_unit_speak_for_it() -> None:
    """Switched off, then set again: it is running; that it had been off for a while before is not said beside it."""
    found = drying_complete(TWICE, [KitSpan("unit 1", 0, 225), KitSpan("unit 1", 230, None)])
    assert found.missing == ("unit 1 was running at the latest visit",)


def test_a_shorter_rebound_is_a_setting_down_to_a_day() -> None:
    """24 h are the least; less is refused, in words."""
    early = visits((200, NO_HIGHER), (224, NO_HIGHER))
    assert drying_complete(early, OFF).state == NOT_COMPLETE
    assert drying_complete(early, OFF, 24.0).state == COMPLETE
    for wrong in (23.9, 0.0, math.nan, math.inf):
        with pytest.raises(OutOfRange, match="rebound"):
            drying_complete(early, OFF, wrong)


def test_kit_set_after_the_latest_visit_does_not_undo_it() -> None:
    """The unit went back on after the last visit: that visit still rests on its own two days."""
    assert drying_complete(TWICE, [*OFF, KitSpan("unit 2", 260, None)]).state == COMPLETE


@pytest.mark.parametrize(
    "judged",
    [
        [Judged("v1", 200, NO_HIGHER), Judged("v1", 248, NO_HIGHER)],
        visits((248, NO_HIGHER), (200, NO_HIGHER)),
        visits((200, "dry"), (248, "dry")),
    ],
)
def test_visits_that_are_not_two_are_refused(judged: list[Judged]) -> None:
    """One visit given twice, in the wrong order, or a word that no assessment says."""
    with pytest.raises(InputError) as told:
        drying_complete(judged, OFF)
    assert told.value.next_step


def test_hours_of_kit_that_run_backwards_are_refused() -> None:
    """Off before on."""
    with pytest.raises(InputError, match="unit 1"):
        drying_complete(TWICE, [KitSpan("unit 1", 200, 100)])
