"""service/gate_records.py and service/cases.py: answers to gates are kept, settings and times are read with care."""

from __future__ import annotations

from typing import Any

import pytest
from case_builder import METER, Desk, clock

from desorb.core.outcome import CANNOT_SAY, NO_HIGHER
from desorb.errors import InputError, NotFound, NotUnderstood, Refused
from desorb.service import cases
from desorb.service.gate_records import answer_gate

EVIDENCE: dict[str, Any] = {
    "clock": clock,
    "reference": "report 12",
    "result": "none found",
    "by": "Dr. A. Lunt",
    "for_what": "lifting the vinyl",
}


def test_an_answer_is_kept_and_the_state_of_each_place_is_shown(desk: Desk) -> None:
    states = answer_gate(
        desk.store, desk.case, "asbestos", zones=["kitchen", "utility"], materials=["vinyl", "adhesive"], **EVIDENCE
    )
    assert [(state.gate, state.state) for state in states] == [("asbestos", "evidence recorded")] * 4
    assert {state.zone for state in states} == {"kitchen", "utility"}
    record = desk.folded().gate_answers[0].record
    assert (record.materials, record.reference) == (("vinyl", "adhesive"), "report 12")
    assert record.at.startswith("20")


def test_a_wish_to_override_is_kept_as_not_answered(desk: Desk) -> None:
    states = answer_gate(
        desk.store, desk.case, "services", zones=["kitchen"], materials=[], wish_to_override=True, **EVIDENCE
    )
    assert [state.state for state in states] == ["not answered"]
    assert desk.folded().gate_answers[0].record.wish_to_override


@pytest.mark.parametrize(
    ("gate", "zones", "materials", "said"),
    [
        ("dragons", ["kitchen"], [], "no such gate"),
        ("gas", [], [], "evidence speaks of places"),
        ("gas", ["attic", "kitchen"], [], "attic"),
        ("asbestos", ["kitchen"], [], "which material"),
        ("lead paint", ["kitchen"], [], "which material"),
    ],
)
def test_what_is_no_answer_is_refused(desk: Desk, gate: str, zones: list[str], materials: list[str], said: str) -> None:
    with pytest.raises(InputError) as refused:
        answer_gate(desk.store, desk.case, gate, zones=zones, materials=materials, **EVIDENCE)
    assert said in str(refused.value)
    assert desk.folded().gate_answers == ()


# -- cases ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "zone", "moment"),
    [
        ("2026-03-02", "Europe/London", "2026-03-02T12:00:00+00:00"),
        ("2026-07-02", "Europe/London", "2026-07-02T12:00:00+01:00"),
        (" 2026-03-02T10:05 ", "America/Denver", "2026-03-02T10:05:00-07:00"),
        ("2026-03-02 10:05:59", "UTC", "2026-03-02T10:05:59+00:00"),
        ("2026-03-02T10:05Z", "America/Denver", "2026-03-02T10:05:00+00:00"),
        ("2026-03-02T10:05+05:45", "UTC", "2026-03-02T10:05:00+05:45"),
        ("2026-10-25T01:30", "Europe/London", "2026-10-25T01:30:00+01:00"),
        ("2026-03-29T01:30", "Europe/London", "2026-03-29T01:30:00+00:00"),
    ],
)
def test_a_time_as_people_write_it(text: str, zone: str, moment: str) -> None:
    """Site time without an offset, noon without a time; the hour that comes twice is taken as the first, summer time."""
    assert cases.moment_text(text, zone) == moment


@pytest.mark.parametrize("text", ["", "today", "02/03/2026", "2026-02-30", "2026-03-02T25:00", "10:05"])
def test_a_text_that_is_no_time(text: str) -> None:
    with pytest.raises(NotUnderstood, match="not a date"):
        cases.moment_text(text, "UTC")


def test_a_case_needs_a_name_of_its_own_and_a_place_on_earth(empty: Desk) -> None:
    with pytest.raises(Refused, match="already a case 'book'"):
        cases.open_case(empty.store, "book", site="s", time_zone="UTC")
    for name in ("", "  ", cases.REGISTER_NAME):
        with pytest.raises(InputError, match="name of its own"):
            cases.open_case(empty.store, name, site="s", time_zone="UTC")
    for zone in ("Mars/Olympus", "", "../etc"):
        with pytest.raises(InputError, match="time zone"):
            cases.open_case(empty.store, "other", site="s", time_zone=zone)


def test_a_case_is_found_by_name_id_or_the_beginning_of_it(empty: Desk) -> None:
    for name in ("book", empty.case.id, empty.case.id[:8]):
        assert cases.find_case(empty.store, name) == empty.case
    for name in ("nook", empty.case.id[:7]):
        with pytest.raises(NotFound, match="one of: book"):
            cases.find_case(empty.store, name)


def test_striking_and_restoring(desk: Desk) -> None:
    """TASKS 11: who and why are asked for; the strike of a strike lets the reading stand again; both are shown."""
    desk.line("utility/floor", "18,16,19,17,20", role="control", day="2026-03-02")
    desk.line("kitchen/floor", "18", day="2026-03-02", clock="10:10")
    assert desk.by_id()["kitchen.1"].status == NO_HIGHER
    controls = [entered for entered in desk.folded().readings if entered.record.spot.startswith("utility")]
    strikes = [
        cases.strike(desk.store, desk.case, each.entry, why="wrong room", by="R. Marsh") for each in controls[:3]
    ]
    assert desk.by_id()["kitchen.1"].status == CANNOT_SAY
    cases.strike(desk.store, desk.case, strikes[0].name, why="it was the right room", by="R. Marsh")
    assert desk.by_id()["kitchen.1"].status != CANNOT_SAY
    assert (len(desk.folded().struck), len(desk.folded().restored)) == (2, 1)
    for why, by in (("", "R. Marsh"), ("why", " ")):
        with pytest.raises(InputError, match="who and why"):
            cases.strike(desk.store, desk.case, controls[4].entry, why=why, by=by)
    with pytest.raises(NotFound, match="no entry"):
        cases.strike(desk.store, desk.case, "nobody/7", why="w", by="b")


def test_a_lawful_removal_takes_two_steps_and_what_rested_on_it_waits(desk: Desk) -> None:
    """RECORD: the payload goes, the chain stays; the spot cannot be said until it is read again."""
    desk.line("utility/floor", "18,16,19,17,20", role="control", day="2026-03-02")
    desk.line("kitchen/floor", "18,17,19", day="2026-03-02", clock="10:10")
    control = next(entered for entered in desk.folded().readings if entered.record.spot == "utility.c1")
    lawful = {"why": "a name in the note", "authority": "request of 4 March", "by": "office"}
    with pytest.raises(Refused, match="two steps"):
        cases.remove(desk.store, desk.case, control.entry, confirmed=False, **lawful)
    assert {each.status for each in desk.by_id().values()} == {NO_HIGHER}
    cases.remove(desk.store, desk.case, control.entry, confirmed=True, **lawful)
    found = desk.by_id()
    assert {each.status for each in found.values()} == {CANNOT_SAY}
    assert found["kitchen.1"].reasons[0] == "what this rested on was removed: cannot say (removed)"
    assert found["kitchen/floor"].status == CANNOT_SAY
    desk.line("utility/floor", "18,16,19,17,20", role="control", day="2026-03-09")
    desk.line("kitchen/floor", "18,17,19", day="2026-03-09", clock="10:10")
    assert {each.status for each in desk.by_id().values()} == {NO_HIGHER}
    assert METER.id == "m1"


def test_as_known_on_a_day(desk: Desk) -> None:
    """TASKS 58: what is entered now was not known on a day in the past."""
    desk.line("kitchen/floor", "18", day="2026-03-02")
    with pytest.raises(InputError, match="nothing of case"):
        cases.load(desk.store, desk.case, "2020-01-01")
    assert len(cases.load(desk.store, desk.case, "2199-01-01T00:00").readings) == 1
    with pytest.raises(NotUnderstood, match="not a date"):
        cases.load(desk.store, desk.case, "long ago")
