"""A drying job from its record: is it working, has it stalled and why, is it done, and what the next round reads.

All data are invented. The rule that two visits apart with the units off must agree is JOB 3.22; the list of reasons of a stall
is JOB 3.21.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builder import FieldBook, at

from desorb.core.drying_end import COMPLETE, NOT_COMPLETE
from desorb.core.drying_of_case.course import COURSE, courses_shown
from desorb.core.drying_of_case.guard import guard_shown
from desorb.core.drying_of_case.kit import kit_spans, moment, running_at
from desorb.core.drying_of_case.round import round_shown
from desorb.core.kinds import (
    AirReading,
    Enclosure,
    GateAnswer,
    LeakTest,
    NotDone,
    NotRead,
    SaltTest,
    UnitChange,
    UnitReading,
    WaterOrigin,
)
from desorb.core.shown import Shown
from desorb.core.stall import STALLED
from desorb.service.drying import drying_of

CONTROLS = "18.0,18.4,17.6,18.2,17.8"


def _book() -> FieldBook:
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen", "utility: sound")
    return book


def _visit(book: FieldBook, day: float, *values: float, **parts: str) -> None:
    book.controls("utility/floor", CONTROLS, scale="fine comparative", day=day)
    book.line("kitchen/floor", ",".join(f"{value:.1f}" for value in values), scale="fine comparative", day=day, **parts)


def _unit(book: FieldBook, change: str, day: float, unit: str = "u1", zone: str = "kitchen") -> None:
    book.write(UnitChange(unit, "refrigerant dehumidifier", zone, change, at(day, "08:30")))


def _floor(book: FieldBook) -> Shown:
    (found,) = courses_shown(book.case())
    assert (found.kind, found.id) == (COURSE, "kitchen/floor")
    return found


def _meter(after: str) -> LeakTest:
    """An hour with every tap closed."""
    return LeakTest(
        "m", "", "meter no-use", "supply pipe", "whole house", at(13), at(13, "11:00"), "60", "1.000", after, doubt="0.001"
    )  # fmt: skip


def _stalling(book: FieldBook) -> None:
    """Three spots dry along a course of 20 % a day until day 8; then the first stays where it is."""
    _unit(book, "set", 0)
    for day in range(1, 15):
        going = [start * 0.8**day for start in (60.0, 55.0, 50.0)]
        first = 60.0 * 0.8 ** min(day, 6)
        _visit(book, day, 18 + first, 18 + going[1], 18 + going[2])


def test_a_stalled_spot_is_named_with_the_reasons_and_their_checks() -> None:
    """Two spots go on, one stays: the element is said to have stalled there, with every reason and what settles it."""
    book = _book()
    _stalling(book)
    found = _floor(book)
    assert found.status == STALLED
    rows = {row[0]: row for row in found.tables[0].rows}
    assert rows["kitchen.1"][5] == STALLED
    assert rows["kitchen.2"][5] != STALLED
    reasons = next(table for table in found.tables if table.columns[0] == "reason")
    assert {"live source", "unit not working", "trapped layer", "salts", "wrong control"} <= {
        r[0] for r in reasons.rows
    }
    assert all(row[3] for row in reasons.rows), "every reason names its check"
    assert "no forecast" in found.tables[0].rows[0][6]


def test_what_the_record_holds_moves_a_reason_to_the_top() -> None:
    """The hour meter stood still between two visits, the water meter ran, and salts were found: all three have evidence."""
    book = _book()
    _stalling(book)
    book.write(
        UnitReading("a", "u1", "d13", at(13, "11:00"), "200"), UnitReading("b", "u1", "d14", at(14, "11:00"), "200"),
        _meter("1.004"),
        SaltTest("kitchen", "floor", "positive", "strip", at(13)),
    )  # fmt: skip
    reasons = next(table for table in _floor(book).tables if table.columns[0] == "reason")
    standing = {row[0]: row[1] for row in reasons.rows}
    assert standing["live source"] == standing["unit not working"] == standing["salts"] == "evidence for it"
    assert standing["trapped layer"] == "not checked yet"
    assert [row[1] for row in reasons.rows][:3] == ["evidence for it"] * 3


def test_a_meter_that_stood_still_is_no_proof_against_a_live_source() -> None:
    """The water meter did not move in an hour: the reason stays open, it is not ticked off."""
    book = _book()
    _stalling(book)
    book.write(
        LeakTest(
            "m",
            "",
            "meter no-use",
            "supply pipe",
            "whole house",
            at(13),
            at(13, "11:00"),
            "60",
            "1.000",
            "1.000",
            doubt="0.001",
        )
    )
    reasons = next(table for table in _floor(book).tables if table.columns[0] == "reason")
    assert {row[0]: row[1] for row in reasons.rows}["live source"] == "not checked yet"


@pytest.mark.parametrize("change", ["moved", "switched off", "taken away"])
def test_a_course_breaks_where_a_unit_beside_it_changes(change: str) -> None:
    """The unit is moved, switched off or taken away on day 5: what was before is not joined with what came after."""
    book = _book()
    _unit(book, "set", 0)
    for day in range(1, 9):
        if day == 5:
            _unit(book, change, 5)
        _visit(book, day, *(18 + start * 0.8**day for start in (60.0, 55.0)))
    found = _floor(book)
    breaks = next(table for table in found.tables if table.columns[0] == "visit")
    assert [row[0] for row in breaks.rows] == ["d5"]
    assert "set-up of the kit" in breaks.rows[0][2]
    pieces = [(line.label, len(line.points)) for line in found.plots[0].lines]
    assert pieces == [("kitchen.1", 4), ("kitchen.1", 4), ("kitchen.2", 4), ("kitchen.2", 4)]


def test_a_unit_in_another_room_breaks_nothing_unless_one_enclosure_holds_both() -> None:
    """A unit set in the hall is no change of the kitchen; once both are dried as one body of air, it is."""
    for together, expected in ((False, 0), (True, 1)):
        book = _book()
        book.building("hall screed", "cement screed", "hall")
        if together:
            book.write(Enclosure("e1", ("kitchen", "hall"), "60", at(0)))
        for day in range(1, 6):
            if day == 3:
                _unit(book, "set", 3, zone="hall")
            _visit(book, day, *(18 + start * 0.8**day for start in (60.0, 55.0)))
        found = _floor(book)
        assert sum(table.columns[0] == "visit" for table in found.tables) == expected


def test_another_instrument_goes_on_in_a_new_piece_and_is_never_joined() -> None:
    """From day 4 another instrument reads the same spots: one course each, in two pieces."""
    from case_builder import METER

    book = _book()
    book.write(replace(METER, id="m2"))
    for day in range(1, 8):
        with_unit = "m2" if day >= 4 else "m1"
        values = ",".join(f"{18 + start * 0.8**day:.1f}" for start in (60.0, 55.0))
        for place, text, role in (("utility/floor", CONTROLS, "control"), ("kitchen/floor", values, "survey")):
            book.line(place, text, role=role, scale="fine comparative", day=day, instrument=with_unit)
    found = _floor(book)
    assert [row[2] for row in found.tables[0].rows] == ["7", "7"]
    breaks = next(table for table in found.tables if table.columns[0] == "visit")
    assert "instrument was m1, now m2" in breaks.rows[0][2]


def _dry(book: FieldBook, *days: float) -> None:
    for day in days:
        _visit(book, day, 18.0, 17.8, 18.2)


def test_dry_is_said_only_of_two_visits_apart_with_the_units_off() -> None:
    """Units off on day 6; no higher than control on days 9 and 12: complete, and it says what it does not say."""
    book = _book()
    _unit(book, "set", 0)
    _visit(book, 1, 60.0, 55.0, 50.0)
    _unit(book, "switched off", 6)
    _dry(book, 9, 12)
    found = _floor(book)
    assert found.status == COMPLETE
    assert "d9 and d12" in found.words
    assert any("hygiene" in words for words in found.cautions)


@pytest.mark.parametrize(
    ("story", "missing"),
    [("running", "was running"), ("off an hour", "had been off for"), ("one visit", "so far 1"),
     ("a wet one between", "so far 1"), ("set again", "was running")],
)  # fmt: skip
def test_dry_is_not_said_while_anything_is_missing(story: str, missing: str) -> None:
    """Each way in which a job is called dry too soon: the unit still runs, was just switched off, or one visit only."""
    book = _book()
    _unit(book, "set", 0)
    _visit(book, 1, 60.0, 55.0, 50.0)
    if story == "off an hour":
        _dry(book, 9)
        _unit(book, "switched off", 12)
        _dry(book, 12)
    elif story == "running":
        _dry(book, 9, 12)
    elif story == "one visit":
        _unit(book, "taken away", 6)
        _dry(book, 12)
    elif story == "a wet one between":
        _unit(book, "taken away", 6)
        _dry(book, 9)
        _visit(book, 11, 30.0, 18.0, 18.0)
        _dry(book, 14)
    else:
        _unit(book, "switched off", 6)
        _dry(book, 9)
        _unit(book, "switched on", 10)
        _dry(book, 14)
    found = _floor(book)
    assert found.status == NOT_COMPLETE
    assert missing in found.words
    assert found.next_steps


def test_the_rebound_time_is_a_setting_within_what_the_trade_uses() -> None:
    """Units off on day 9, read on days 9 and 10.5: complete after 24 h if that was set, not after our 48 h; 2 h is refused."""
    book = _book()
    _unit(book, "set", 0)
    _visit(book, 1, 60.0, 55.0, 50.0)
    _unit(book, "switched off", 9)
    _dry(book, 9.1, 10.5)
    assert _floor(book).status == NOT_COMPLETE
    book.set("rebound hours", "24")
    assert _floor(book).status == COMPLETE
    book.set("rebound hours", "2")
    found = _floor(book)
    assert found.status == NOT_COMPLETE
    assert "24 to 1440 h" in found.words
    book.set("rebound hours", "two days")
    assert _floor(book).status == NOT_COMPLETE


def test_kit_spans_follow_each_unit_through_moves() -> None:
    """Set in the hall, moved to the kitchen, off, on, collected: the kitchen's spans are those it ran in the kitchen."""
    book = _book()
    for day, change, zone in ((0, "set", "hall"), (2, "moved", "kitchen"), (3, "switched off", "kitchen"),
                              (4, "switched on", "kitchen"), (6, "collected", "kitchen")):  # fmt: skip
        _unit(book, change, day, zone=zone)
    start = moment(at(0, "08:30"))
    assert start is not None
    spans = kit_spans({"kitchen"}, start, book.case())
    assert [(span.on, span.off) for span in spans] == [(48.0, 72.0), (96.0, 144.0)]
    then = moment(at(5))
    assert then is not None
    assert [each.record.change for each in running_at({"kitchen"}, then, book.case())] == ["switched on"]


def test_the_round_shows_what_is_missing_and_copies_nothing() -> None:
    """Day 2: one spot read, one refused with a reason, one forgotten; the air and the counters were not read."""
    book = _book()
    _unit(book, "set", 0)
    _visit(book, 1, 60.0, 55.0, 50.0)
    book.write(
        AirReading("a1", "kitchen", "affected", "d1", "h1", "20", "60", at(1, "11:00")),
        UnitReading("c1", "u1", "d1", at(1, "11:00"), "24", "12.5"),
    )
    book.controls("utility/floor", CONTROLS, scale="fine comparative", day=2)
    book.line("kitchen/floor", "58.0", scale="fine comparative", day=2, names="kitchen.1")
    book.write(
        NotRead("kitchen.2", "d2", "a cupboard stands on it", at(2)),
        NotDone("d2", "the loft was not entered", "no ladder", at(2)),
    )
    (found,) = round_shown(book.case())
    spots = {row[1]: row for row in found.tables[0].rows}
    assert (spots["kitchen.1"][7], spots["kitchen.1"][9]) == ("60.0", "58.0")
    assert (spots["kitchen.2"][7], spots["kitchen.2"][9]) == ("55.0", "not read: a cupboard stands on it")
    assert (spots["kitchen.3"][7], spots["kitchen.3"][9]) == ("50.0", "missing")
    assert [row[-1] for row in found.tables[1].rows] == ["missing"]
    assert [row[-1] for row in found.tables[2].rows] == ["missing"]
    assert "kitchen.3, air of kitchen, counters of u1" in found.words
    assert any("no ladder" in words for words in found.notes)


def test_nothing_is_said_of_drying_before_there_is_any() -> None:
    """One visit, no unit: no course and no claim; the round of that visit is all there is."""
    book = _book()
    _visit(book, 1, 60.0, 55.0, 50.0)
    assert [each.kind for each in drying_of(book.case()) if each.kind == COURSE] == []


def _unaffected(book: FieldBook, humidity: str, surface: str = "14.0") -> None:
    book.write(
        AirReading(
            "x", "bedroom", "unaffected", "d1", "h1", "20", humidity, at(1, "11:00"), surface_temperature=surface
        ),
        AirReading("y", "kitchen", "affected", "d1", "h1", "23", "30", at(1, "11:10")),
    )


def _guard(book: FieldBook) -> Shown:
    (found,) = guard_shown(book.case())
    return found


def test_a_room_that_was_never_wet_is_watched() -> None:
    """Dry kitchen, moist bedroom: its coldest surface stands above 80 % and the guard warns; at 55 % it does not.

    The criterion of 80 % at a surface is EN ISO 13788 (as summarised in BS 5250, second hand).
    """
    for humidity, warned in (("75", True), ("50", False)):
        book = _book()
        _unit(book, "set", 0)
        _visit(book, 1, 60.0, 55.0)
        _unaffected(book, humidity)
        found = _guard(book)
        assert ("warning" in found.words) is warned
        assert found.next_steps


def test_a_room_whose_surface_was_not_read_is_not_taken_as_safe() -> None:
    """No surface temperature, or no unaffected room at all: it is said as not known, with the next step."""
    book = _book()
    _unit(book, "set", 0)
    _visit(book, 1, 60.0, 55.0)
    assert "no unaffected room was read" in _guard(book).words
    _unaffected(book, "75", "")
    found = _guard(book)
    assert found.status == "open"
    assert any("coldest surface" in step or "measure it" in step for step in found.next_steps)


@pytest.mark.parametrize(("reading", "state"), [("8.0", "below"), ("9.5", "near"), ("10.9", "near"), ("20.0", "above")])
def test_timber_below_its_service_range_is_warned_of(reading: str, state: str) -> None:
    """Joists in a continuously heated house, 9 to 11 % in service (BS 8201, from memory), in air of 23 degC and 30 %."""
    book = _book()
    book.building("joists", "softwood", "void")
    _unit(book, "set", 0)
    _visit(book, 1, 60.0, 55.0)
    book.line("void/joists", reading, scale="wood", day=1)
    _unaffected(book, "50")
    assert "how the building is heated" in _guard(book).words
    book.set("heating in service", "continuous heating")
    rows = next(table for table in _guard(book).tables if table.columns[0] == "spot").rows
    assert rows[0][3] == state


def test_a_unit_in_foul_water_is_named_with_the_order_of_work() -> None:
    """The drain came up in the kitchen and a unit moves air there: the warning names it, the order of work comes first."""
    book = _book()
    _visit(book, 1, 60.0, 55.0)
    _unit(book, "set", 1)
    _unaffected(book, "50")
    assert _guard(book).cautions == ()
    book.write(WaterOrigin("kitchen", "foul", "came up the drain", at(0)))
    found = _guard(book)
    assert "Order of work" in found.cautions[0]
    assert "u1 (refrigerant dehumidifier) runs in kitchen" in found.words
    _unit(book, "switched off", 2)
    assert "runs in kitchen" not in _guard(book).words


def test_advice_is_silent_until_the_questions_are_answered() -> None:
    """TASKS 44: air moving, suction, heating and ventilation: nothing is said before four answers stand in the record."""
    book = _book()
    _unit(book, "set", 0)
    _visit(book, 1, 60.0, 55.0)
    rows = next(table for table in _guard(book).tables if table.columns[0] == "zone").rows
    assert [row[1:3] for row in rows] == [("air moving, suction, heating, ventilation", "silent")]
    assert "Was the water foul?" in rows[0][3]
    book.write(WaterOrigin("kitchen", "clean", "hose split", at(0), "R. Marsh", "no"))
    for gate, materials in (("asbestos", ("tile",)), ("gas", ())):
        book.write(
            GateAnswer(gate, ("kitchen",), materials, "sheet", "a competent person", "drying", "none found", at(0))
        )
    rows = next(table for table in _guard(book).tables if table.columns[0] == "zone").rows
    assert all(row[2] != "silent" for row in rows)
    assert "heating" in rows[2][2]
