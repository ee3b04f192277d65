"""Two instruments, two operators, a gauge study and check blocks out of the record (all invented)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builder import COMPARATIVE, METER, FieldBook

from desorb.core.agreement_of_case import agreement_shown
from desorb.core.kinds import Instrument
from desorb.core.shown import Shown

SPOTS = "a b c d e f"
# public gauge study, rows ST-GRR and ST-GRRp of the project's check values
STUDY = (
    ("3.29 3.41 3.64", "2.44 2.32 2.42", "4.34 4.17 4.27", "3.47 3.5 3.64", "2.2 2.08 2.16"),
    ("3.08 3.25 3.07", "2.53 1.78 2.32", "4.19 3.94 4.34", "3.01 4.03 3.2", "2.44 1.8 1.72"),
    ("3.04 2.89 2.85", "1.62 1.87 2.04", "3.88 4.09 3.67", "3.14 3.2 3.11", "1.54 1.93 1.55"),
)


def two(first: str, second: str, other: Instrument | None = None) -> FieldBook:
    book = FieldBook()
    book.write(other or replace(METER, id="m2"))
    book.building("screed", "cement screed", "kitchen")
    book.line("kitchen/floor", first, names=SPOTS, instrument="m1")
    book.line("kitchen/floor", second, names=SPOTS, instrument="m2")
    return book


def of_kind(book: FieldBook, kind: str) -> list[Shown]:
    return [each for each in agreement_shown(book.case()) if each.kind == kind]


def test_two_instruments_may_be_joined_only_within_the_repeatability_of_the_scale() -> None:
    (near,) = of_kind(two("12,20,31,44,58,70", "12,20,31,44,58,70.5"), "two instruments")
    assert near.status == "may be joined"
    (far,) = of_kind(two("12,20,31,44,58,70", "13,21,30,45,58,71"), "two instruments")
    assert far.status == "no join"
    assert "-1.82 to +2.82" in far.words
    assert far.next_steps


def test_unequal_scales_have_no_difference_and_no_join() -> None:
    deeper = replace(METER, id="m2", scales=(replace(COMPARATIVE, depth="20"),))
    (given,) = of_kind(two("12,20,31,44,58,70", "12,20,31,44,58,70", deeper), "two instruments")
    assert given.status == "no join"
    assert "do not share a scale" in given.words
    assert given.tables[0].columns == ("spot", "m1", "m2")
    assert not given.plots
    assert any("depth=12 against depth=20" in note for note in given.notes)


def test_four_spots_or_an_end_of_the_scale_are_too_few() -> None:
    (given,) = of_kind(two("12,20,31,44,>=100,>=100", "12,20,31,44,>=100,>=100"), "two instruments")
    assert given.status == "no join"
    assert "2 at an end of the scale left out" in given.words


def study(figures: tuple[tuple[str, ...], ...] = STUDY) -> FieldBook:
    book = FieldBook()
    book.write(replace(METER, id="m3", scales=(replace(COMPARATIVE, key="fine", resolution="0.01"),), block=()))
    book.building("screed", "cement screed", "kitchen")
    for by, cells in zip("ABC", figures, strict=True):
        book.line("kitchen/floor", ",".join(cells), names="p1 p2 p3 p4 p5", scale="fine", instrument="m3", by=by)
    return book


def test_the_gauge_study_gives_the_published_figures() -> None:
    """ST-GRR 34.848 % and 3.79 groups, ST-GRRp 33.074 % and 4.02: both conventions shown, whole groups only."""
    (given,) = of_kind(study(), "gauge study")
    rows = given.tables[0].rows
    assert [(row[0], row[5], row[6]) for row in rows] == [("kept", "0.348", "3"), ("pooled", "0.331", "4")]
    assert float(rows[0][1]) == pytest.approx(0.0570711**0.5, abs=5e-4)
    assert float(rows[0][2]) == pytest.approx(0.0538033**0.5, abs=5e-4)
    assert float(rows[0][4]) == pytest.approx(0.802135**0.5, abs=5e-4)


def test_a_study_with_a_gap_is_none() -> None:
    book = study()
    book.strike(book.lists["readings"][-1])
    assert not of_kind(book, "gauge study")
    one_repeat_less = (*STUDY[:2], (*STUDY[2][:4], "1.54 1.93"))
    assert not of_kind(study(one_repeat_less), "gauge study")


def test_a_check_far_off_is_a_signal_with_its_entry() -> None:
    book = FieldBook(checked=False)
    for day in range(12):
        book.check(METER, day, ("50.1", "49.9")[day % 2])
    (calm,) = of_kind(book, "check block")
    assert calm.status == "no signal"
    assert any("provisional" in note for note in calm.notes)
    book.check(METER, 12, "54")
    (given,) = of_kind(book, "check block")
    assert given.status == "signal"
    assert f"54 on {book.lists['checks'][-1].record.at}" in given.words
    assert given.next_steps


def test_of_four_checks_nothing_is_called_steady() -> None:
    """50, 50, 50 and then 90: the jump makes the limits that it lies in, so nothing is said; five can show it."""
    book = FieldBook(checked=False)
    for day, figure in enumerate(("50", "50", "50", "90")):
        book.check(METER, day, figure)
    (few,) = of_kind(book, "check block")
    assert few.status == "too few checks"
    assert any("no jump can be a signal" in note for note in few.notes)
    steady = FieldBook(checked=False)
    for day, figure in enumerate(("50", "50", "50", "50", "90")):
        steady.check(METER, day, figure)
    assert of_kind(steady, "check block")[0].status == "signal"


def on_spots(count: int, *figures: str) -> FieldBook:
    """m1 and m2 on so many spots from dry to wet, every difference within the repeatability of the scale."""
    book = FieldBook()
    book.write(replace(METER, id="m2"))
    book.building("screed", "cement screed", "kitchen")
    for instrument in ("m1", "m2"):
        spots, values = " ".join(SPOTS.split()[:count]), ",".join(figures[:count])
        book.line("kitchen/floor", values, names=spots, instrument=instrument)
    return book


def test_four_overlapping_spots_refuse_the_join_that_five_allow() -> None:
    """Task 51: five spots from dry to wet, not four."""
    figures = ("12", "20", "31", "44", "70")
    (four,) = of_kind(on_spots(4, *figures), "two instruments")
    assert four.status == "no join"
    assert "4 spot(s) read by both" in four.words
    assert four.next_steps == ("read 1 more spot(s) with both on one visit",)
    assert not four.plots
    (five,) = of_kind(on_spots(5, *figures), "two instruments")
    assert five.status == "may be joined"
    assert "A change of instrument or operator breaks the line of a trend." in five.notes


def test_five_dry_spots_say_nothing_of_wet_ones() -> None:
    (given,) = of_kind(on_spots(5, "12", "12", "12", "12", "12"), "two instruments")
    assert given.status == "no join"
    assert "nothing of wetter or drier ones" in given.words


def test_two_operators_with_one_instrument_are_held_side_by_side() -> None:
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen")
    for by, figures in (("A", "12,20,31,44,58,70"), ("B", "15,23,34,47,61,73")):
        book.line("kitchen/floor", figures, names=SPOTS, by=by)
    (given,) = of_kind(book, "two operators")
    assert given.status == "no join"
    assert {row[3] for row in given.tables[0].rows} == {"+3"}


# [NIST-6.3.2.2] in docs/references.md; the check values have rows for EWMA and CUSUM, none for single values
FLOW = ("49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1")


def block_checked(*values: str) -> FieldBook:
    book = FieldBook(checked=False)
    for day, value in enumerate(values):
        book.check(METER, day, value)
    return book


def test_the_limits_of_a_check_block_are_the_published_ones() -> None:
    """Limits 55.8041 and 45.8159 about 50.81, to the four figures shown."""
    (given,) = of_kind(block_checked(*FLOW), "check block")
    assert given.words == "No check lies outside its limits 45.82 to 55.8, centre 50.81."
    assert [line.label for line in given.plots[0].lines] == ["check", "centre", "lower limit", "upper limit"]


def test_a_check_that_is_no_figure_is_left_out_by_name_and_one_alone_makes_no_chart() -> None:
    book = block_checked(*FLOW, "steady")
    (given,) = of_kind(book, "check block")
    assert given.words == "No check lies outside its limits 45.82 to 55.8, centre 50.81."
    assert any("'steady'" in note and book.lists["checks"][-1].entry in note for note in given.notes)
    assert of_kind(block_checked(*FLOW, ">=99"), "check block")[0].words == given.words
    (none,) = of_kind(block_checked("50", "steady"), "check block")
    assert none.status == "no chart"
    assert "Next:" not in none.words
    assert none.next_steps


def test_a_study_at_the_end_of_the_scale_is_refused_with_the_spot_by_name() -> None:
    clipped = tuple((cells[0], ">=100 >=100 >=100", *cells[2:]) for cells in STUDY)
    (given,) = of_kind(study(clipped), "gauge study")
    assert given.status == "no study"
    assert "got p2" in given.words
    assert "Next:" not in given.words
    assert given.next_steps == ("repeat the study on spots that stay within the scale",)
