"""core/assess.py: from a folded case to one status for every spot and element, and the findings about the record."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builder import METER, FieldBook, at, by_id

from desorb.core.assess import assess, current_readings
from desorb.core.case import Gap, Removed
from desorb.core.kinds import FindingAnswer, NotInspected, Removal, Spot, UnitChange, Visit, WaterOrigin
from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER

CONTROLS = "18, 16, 19, 17, 20"


def floor(spots: str = "", layers: tuple[tuple[str, str, str], ...] = (), **how: bool) -> FieldBook:
    book = FieldBook(**how)
    book.building("screed", "cement screed", "kitchen", "utility: sound", layers=layers)
    book.controls("utility/floor", CONTROLS)
    if spots:
        book.line("kitchen/floor", spots)
    return book


def test_an_empty_case_is_assessed() -> None:
    """Before anything was written down there is nothing to say, and the gates of entering stand open."""
    from desorb.core.case import Case

    found = assess(Case(id="empty"))
    assert (found.spots, found.elements, found.history, found.evidence, found.air) == ((), (), (), (), ())
    assert [finding.code for finding in found.findings] == ["not-inspected-empty"]
    assert len(found.gates) == 3


def test_spots_then_elements_in_the_order_of_the_zones() -> None:
    book = FieldBook()
    book.building("screed", "cement screed", "zebra", "alpha")
    book.line("alpha/floor", "18, 17")
    book.line("zebra/wall", "18", names="w")
    book.line("zebra/floor", "18", names="f")
    assert [each.id for each in book.assessed().all] == [
        "f",
        "w",
        "alpha.1",
        "alpha.2",
        "alpha/floor",
        "zebra/wall",
        "zebra/floor",
    ]


def test_the_history_is_only_made_when_asked_for_and_holds_no_controls() -> None:
    book = floor("60")
    book.controls("utility/floor", CONTROLS, day=7)
    book.line("kitchen/floor", "18", day=7)
    assert book.assessed().history == ()
    history = book.assessed(history=True).history
    assert [(each.visit, each.status) for each in history] == [("d0", ABOVE), ("d7", NO_HIGHER)]


def test_the_last_reading_of_the_last_visit_on_each_line_is_current() -> None:
    book = floor()
    book.line("kitchen/floor", "40", names="k")
    book.line("kitchen/floor", "3.1", scale="oven-eq screed", names="k")
    book.line("kitchen/floor", "30", names="k", day=7)
    book.line("kitchen/floor", "31", names="k", day=7)
    current = current_readings([each for each in book.evidence() if each.spot.id == "k"])
    assert [str(each.value) for each in current] == ["31"]


def test_a_spot_that_was_not_read_in_the_last_visit_says_so() -> None:
    book = floor("18")
    book.write(Visit("d9", at(9)))
    assert book.spot("kitchen.1").reasons[-1] == "not read in visit d9: this is of visit d0"


@pytest.mark.parametrize("first", ["comparative", "oven-eq screed"])
def test_above_on_one_line_is_above_whatever_the_other_says(first: str) -> None:
    """In whichever order the two scales were read."""
    book = floor("60" if first == "comparative" else "")
    book.line("kitchen/floor", "3.1", scale="oven-eq screed", names="kitchen.1")
    if first != "comparative":
        book.line("kitchen/floor", "60")
    spot = book.spot("kitchen.1")
    assert spot.status == ABOVE
    assert spot.other_lines[0].startswith("3.1 % on oven-eq screed: cannot say; 3 more controls needed")


def test_a_line_that_cannot_be_said_does_not_undo_the_pass_of_another_unless_it_is_clipped() -> None:
    book = floor("18, 18.0")
    book.line("kitchen/floor", "3.1", scale="oven-eq screed", names="kitchen.1")
    book.line("kitchen/floor", "6.9", scale="oven-eq screed", names="kitchen.2")
    assert book.statuses() == {"kitchen.1": NO_HIGHER, "kitchen.2": CANNOT_SAY}


# -- the step that is named ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spots", "how", "key"),
    [
        ("18", {}, None), ("60", {}, "depth or logging"), ("22", {}, "repeat"), ("0", {}, "contacts"),
        ("110", {}, "answer finding"),
        ("5", {}, "contacts"), ("18 18 4", {}, "answer finding"), (">=18", {}, "sample"), ("18, 18, 18", {}, "answer finding"),
        ("18", {"checked": False}, "instrument"), ("18", {"confirmed": False}, "answer finding"),
    ],
)  # fmt: skip
def test_the_next_step_follows_the_first_reason(spots: str, how: dict[str, bool], key: str | None) -> None:
    step = floor(spots, **how).spot("kitchen.1").next_test
    assert (step.key if step else None) == key


@pytest.mark.parametrize(
    ("spots", "scale", "covering", "key"),
    [
        ("3.0", "oven-eq concrete", "bare", "right scale"), ("3.0", "oven-eq screed", "vinyl", "lift covering"),
        ("3.0", "oven-eq screed", "paint", "bare patch"), ("3.0", "oven-eq screed", "bare", "more controls"),
    ],
)  # fmt: skip
def test_the_next_step_of_what_may_not_be_compared(spots: str, scale: str, covering: str, key: str) -> None:
    book = floor()
    book.line("kitchen/floor", spots, scale=scale, covering=covering)
    spot = book.spot("kitchen.1")
    assert spot.next_test is not None
    assert spot.next_test.key == key
    assert spot.gates == spot.next_test.gates


@pytest.mark.parametrize(
    ("case", "key"),
    [("stale", "reread controls"), ("moved", "reread controls"), ("at an end", "sample"), ("no row", "state a margin")],
)
def test_the_next_step_where_controls_fail(case: str, key: str) -> None:
    book = floor()
    day = 0
    if case in ("stale", "moved"):
        day = 7
    if case == "moved":
        book.controls("utility/floor", "25", names="utility.c1", day=7)
    if case == "at an end":
        book.controls("utility/floor", "100", names="end")
    if case == "no row":
        book.lists["rule_rows"].clear()
    book.line("kitchen/floor", "18", day=day)
    step = book.spot("kitchen.1").next_test
    assert step is not None
    assert step.key == key


def test_at_least_and_nothing_to_compare_with_says_both() -> None:
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen")
    book.line("kitchen/floor", "100")
    reasons = book.spot("kitchen.1").reasons
    assert reasons[0].startswith("3 more controls needed")
    assert reasons[1] == "\u2265 100: at the top of the scale, at least this, so it may be higher than it shows"


def test_at_least_and_already_above_says_both() -> None:
    reasons = floor("100").spot("kitchen.1").reasons
    assert reasons[0] == "\u2265 100: at the top of the scale, at least this, and that is already above"
    assert reasons[1].startswith("\u2265 100 lies above 23.3")


def test_an_assumed_layer_is_named_in_what_rests_on_it() -> None:
    book = floor("18", layers=(("membrane", "", "assumed"), ("screed", "65", "seen")))
    assert "rests on an assumed layer: membrane" in book.spot("kitchen.1").reasons


def test_nothing_recorded_of_readiness_is_said_beside_a_pass() -> None:
    book = floor("18")
    book.lists["readiness"].clear()
    spot = book.spot("kitchen.1")
    assert spot.status == NO_HIGHER
    assert any("nothing was recorded of the state of m1" in reason for reason in spot.reasons)


def test_findings_of_controls_hold_a_pass_back_too() -> None:
    """A control with wide repeats: no pass rests on it; 'above' does not mind."""
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen", "utility: sound")
    book.controls("utility/floor", "18, 16, 19, 17 20 26, 20")
    book.line("kitchen/floor", "18, 60")
    assert book.statuses() == {"kitchen.1": CANNOT_SAY, "kitchen.2": ABOVE}
    assert "utility.c4" in book.spot("kitchen.1").reasons[0]


def test_repeats_that_scatter_more_than_declared_widen_the_rule_and_are_said() -> None:
    """Declared r = 1; the repeats scatter with s = 2: the measured spread is used from five repeats' worth on."""
    narrow = floor("22")
    wide = floor("22, 16 18 20, 17 19 21, 18 20 22")
    said = [finding for finding in wide.findings() if finding.code == "repeats-exceed-declared"]
    assert len(said) == 1
    assert "spread by 2 digits (standard deviation), more than twice the declared 0.36" in said[0].words
    assert narrow.findings("repeats-exceed-declared") == []
    one, other = narrow.spot("kitchen.1").limits, wide.spot("kitchen.1").limits
    assert one.above_beyond is not None
    assert other.above_beyond is not None
    assert other.above_beyond > one.above_beyond


def test_two_spots_with_repeats_are_too_few_to_measure_a_spread() -> None:
    assert floor("22, 16 20, 17 21").findings("repeats-exceed-declared") == []  # two degrees of freedom


# -- well below -------------------------------------------------------------------------------------------------------


def test_well_below_is_a_finding_with_an_answer() -> None:
    book = floor("5, 14")
    assert [finding.spots for finding in book.findings("well-below-control")] == [("kitchen.1",)]
    assert "stands well below the controls (below 13.8)" in book.spot("kitchen.1").reasons[0]
    assert book.spot("kitchen.2").status == NO_HIGHER
    book.write(
        FindingAnswer("well-below-control", "d0", "m1", "comparative", "heater above it", at(0, "12:00"), "R. Marsh")
    )
    assert book.spot("kitchen.1").status == NO_HIGHER
    assert book.findings("well-below-control")[0].answered.startswith("heater above it")


def test_a_sample_well_below_is_only_drier() -> None:
    """An oven has no contacts that could fail to touch."""
    book = FieldBook()
    book.building("leaf", "brick", "low", "high: sound")
    book.controls("high/wall", "4.6, 4.8, 4.5, 4.7", scale="oven", covering="none")
    book.line("low/wall", "1.0", scale="oven", covering="none")
    assert book.spot("low.1").status == NO_HIGHER


# -- the record -------------------------------------------------------------------------------------------------------


def test_a_spot_whose_readings_were_removed_cannot_be_said() -> None:
    book = floor("18")
    book.write(Spot("gone", "kitchen", "floor"), Spot("gone-too", "attic", "floor"))
    entered = book.write(Spot("x", "kitchen", "floor", "control"))[0]
    removal = replace(
        entered, record=Removal("f" * 64, "w", "a", "b", at(), ("gone", "kitchen/floor", "never-described"))
    )
    case = replace(book.case(), removed=(Removed("phone/1", "f" * 64, "reading", removal),))  # type: ignore[arg-type]
    found = by_id(assess(case))
    assert found["gone"].status == CANNOT_SAY
    assert found["gone"].value_text == "removed"
    assert "was removed" in found["gone"].reasons[0]
    assert found["gone"].next_test is not None
    assert found["never-described"].zone == ""
    assert "gone-too" not in found


def test_findings_about_the_record() -> None:
    book = floor("18")
    entry = book.lists["readings"][-1]
    case = replace(
        book.case(), changed_rows=(entry,), gaps=(Gap("tablet", 41, 46), Gap("phone", 3, 3)), not_understood=("entry x: newer",),
        set_aside=("tablet/7: forged",), doubtful_times=(("phone/1", "an hour ahead"),),
    )  # fmt: skip
    words = {finding.code: finding.words for finding in assess(case).findings}
    assert entry.entry in words["row-changed"]
    assert words["gap"] == "device phone: 3 has not arrived"
    assert words["not-understood"] == "entry x: newer"
    assert "tablet/7: forged" in words["set-aside"]
    assert words["clock"] == "entry phone/1: an hour ahead"


def test_air_moved_at_a_stop_and_nothing_said_of_what_was_not_inspected() -> None:
    book = floor("18")
    book.write(WaterOrigin("kitchen", "foul", "drain", at()), UnitChange("u1", "fan", "kitchen", "set", at()))
    codes = [finding.code for finding in book.findings()]
    assert codes == ["air-moved-at-a-stop", "not-inspected-empty"]
    book.write(NotInspected("", "", "everything in scope was reached"))
    assert [finding.code for finding in book.findings()] == ["air-moved-at-a-stop"]


def test_a_struck_reading_counts_nowhere_and_stays_in_the_case() -> None:
    """TASKS 11: 45 typed for 54, struck, written again: the old one is shown with who and why, and decides nothing."""
    book = floor()
    wrong = book.line("kitchen/floor", "45", names="k")[0]
    book.strike(wrong, why="mistyped")
    book.line("kitchen/floor", "54", names="k")
    case = book.case()
    assert [each.value for each in assess(case, history=True).history] == [54]
    assert [(each.struck.record.values, each.strike.record.why) for each in case.struck] == [(("45",), "mistyped")]


def test_a_whole_void_set_is_kept_and_excluded() -> None:
    """TASKS 40: the controls were forgotten on day 0; the set is struck with the reason, day 1 stands alone."""
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen", "utility: sound")
    for entry in book.line("kitchen/floor", "17, 18, 60"):
        book.strike(entry, why="controls forgotten")
    book.controls("utility/floor", CONTROLS, day=1)
    book.line("kitchen/floor", "17, 18, 19", day=1)
    assert by_id(book.assessed())["kitchen/floor"].status == NO_HIGHER
    assert len(book.case().struck) == 3


def test_a_meter_read_twice_on_like_scales_keeps_the_figures_apart() -> None:
    """Repeat spread is pooled by instrument and scale, not over both scales of the instrument."""
    book = floor("18, 16 18 20, 17 19 21")
    book.line("kitchen/floor", "18.0 18.1 18.0, 18.1 18.0 18.1", scale="fine comparative", names="f1 f2")
    said = book.findings("repeats-exceed-declared")
    assert [finding.scale for finding in said] == ["comparative"]
    assert METER.scale("fine comparative") is not None
