"""core/gates.py: what must be answered with evidence before someone enters, disturbs, energises or moves air.

The sentences are prompts to a competent person (common practice, no source); the year 2000 is the trigger of Great
Britain (Control of Asbestos Regulations 2012), a setting of the place. Ways round them: tests/scenarios/test_refusals.py.
"""

from __future__ import annotations

import pytest
from case_builder import FieldBook, at

from desorb.core.gates import (
    EVIDENCE,
    GATES,
    GATES_OF_ACTION,
    NOT_ANSWERED,
    STOP,
    air_moved_despite_gate,
    arrival_gates,
    gate_state,
    gates_for,
    is_evidence,
    water_load,
)
from desorb.core.kinds import GateAnswer, Hazard, UnitChange, WaterOrigin


def house(built: str = "1974", risks: tuple[str, ...] = ()) -> FieldBook:
    book = FieldBook()
    book.building("c", "cement screed", "hall", "kitchen", built=built, risks=risks)
    return book


def answer(gate: str, *zones: str, materials: tuple[str, ...] = (), **parts: object) -> GateAnswer:
    return GateAnswer(
        gate, zones, materials, "paper 7", "somebody competent", "going on", "nothing against it", at(), **parts
    )  # type: ignore[arg-type]


@pytest.mark.parametrize("gate", GATES)
def test_every_gate_begins_not_answered_and_says_what_it_asks(gate: str) -> None:
    state = gate_state(gate, "hall", "", house().case())
    assert (state.gate, state.state, state.evidence, state.entries) == (gate, NOT_ANSWERED, (), ())
    assert state.asks == GATES[gate].asks
    assert "hall" in state.words


@pytest.mark.parametrize("gate", [gate for gate in GATES if gate not in ("asbestos", "lead paint")])
def test_evidence_is_kept_word_for_word(gate: str) -> None:
    book = house()
    entered = book.write(answer(gate, "hall", "kitchen"))[0]
    for zone in ("hall", "kitchen"):
        state = gate_state(gate, zone, "anything", book.case())
        assert state.state == EVIDENCE
        assert state.words == f"nothing against it (paper 7, by somebody competent for going on, {at()})"
        assert state.evidence == (f"nothing against it; paper 7; by somebody competent, for going on, {at()}",)
        assert state.entries == (entered.entry,)


@pytest.mark.parametrize("gate", ["asbestos", "lead paint"])
def test_evidence_of_a_material_is_of_that_material(gate: str) -> None:
    book = house()
    book.write(answer(gate, "hall", materials=("Vinyl", "adhesive")))
    states = {
        material: gate_state(gate, "hall", material, book.case()).state
        for material in ("vinyl", "adhesive", "tile", "")
    }
    assert states == {"vinyl": EVIDENCE, "adhesive": EVIDENCE, "tile": NOT_ANSWERED, "": NOT_ANSWERED}


@pytest.mark.parametrize("part", ["reference", "by", "for_what", "result"])
def test_four_things_make_an_answer_evidence(part: str) -> None:
    from dataclasses import replace

    whole = answer("gas", "hall")
    assert is_evidence(whole)
    assert not is_evidence(replace(whole, **{part: "  "}))
    assert not is_evidence(replace(whole, wish_to_override=True))


def test_the_latest_word_counts_both_ways() -> None:
    book = house()
    for record, state in (
        (answer("structure", "hall"), EVIDENCE), (Hazard("structure", "hall", "crack opens", at()), STOP),
        (answer("structure", "hall", wish_to_override=True), STOP), (answer("structure", "kitchen"), STOP),
        (answer("structure", "hall"), EVIDENCE), (Hazard("structure", "", "whole house leans", at()), STOP),
    ):  # fmt: skip
        book.write(record)
        assert gate_state("structure", "hall", "", book.case()).state == state


@pytest.mark.parametrize(
    ("answered", "state"),
    [
        (at(0, "09:59"), STOP),
        (at(0, "10:00"), EVIDENCE),
        (at(1), EVIDENCE),
        ("yesterday", STOP),
        ("2026-03-03T10:00", STOP),
        ("", STOP),
    ],
)
@pytest.mark.parametrize("gate", ["structure", "foul water"])
def test_evidence_older_than_what_was_seen_does_not_answer_it(gate: str, answered: str, state: str) -> None:
    """Seen at 10:00; a paper of 09:59, or of a time that cannot be compared, was written about something else."""
    book = house()
    if gate == "structure":
        book.write(Hazard("structure", "hall", "crack opens", at(0, "10:00")))
    else:
        book.write(WaterOrigin("hall", "foul", "drain", at(0, "10:00")))
    book.write(GateAnswer(gate, ("hall",), (), "paper 7", "somebody", "going on", "nothing against it", answered))
    found = gate_state(gate, "hall", "", book.case())
    assert found.state == state
    assert ("does not answer it" in found.words) == (state == STOP)


def test_a_hazard_says_what_was_seen_and_what_to_do() -> None:
    book = house()
    entered = book.write(Hazard("structure", "hall", "ceiling bulges", at(), depth_mm="10", area_m2="4"))[0]
    state = gate_state("structure", "hall", "", book.case())
    assert state.words.startswith(f"ceiling bulges (seen {at()}): {GATES['structure'].stop}")
    assert state.words.endswith("about 40 kg of water (10 mm over 4 m2)")
    assert state.entries == (entered.entry,)


@pytest.mark.parametrize(
    ("depth", "area", "said"),
    [("10", "4", "40 kg"), ("2.5", "2", "5 kg"), ("", "4", ""), ("10", "", ""), ("ten", "4", "")],
)
def test_the_weight_of_water(depth: str, area: str, said: str) -> None:
    """Depth x area x 1000 kg/m3: 10 mm over 4 m2 is 40 kg (TASKS 16)."""
    assert said in water_load(Hazard("structure", "hall", "bulge", at(), depth_mm=depth, area_m2=area))
    assert bool(water_load(Hazard("structure", "hall", "bulge", at(), depth_mm=depth, area_m2=area))) == bool(said)


# -- foul water -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("origins", "state", "said"),
    [
        ([], NOT_ANSWERED, "were not recorded"),
        ([("clean", "no")], EVIDENCE, "origin recorded as clean, no visible mould, by nobody named"),
        ([("grey", "no")], EVIDENCE, "grey"),
        ([("clean", "")], NOT_ANSWERED, "were not recorded"),  # nobody looked for mould
        ([("unknown", "no")], NOT_ANSWERED, "were not recorded"),
        ([("elsewhere", "no")], NOT_ANSWERED, "were not recorded"),
        ([("foul", "no")], STOP, "foul water"),
        ([("clean", "yes")], STOP, "visible mould"),
        ([("clean", "no"), ("unknown", "no")], NOT_ANSWERED, ""),
        ([("foul", ""), ("clean", "no")], STOP, "foul water"),
        ([("clean", "no"), ("clean", "yes"), ("clean", "no")], STOP, "visible mould"),
    ],
)
def test_the_worst_word_on_the_origin_stands(origins: list[tuple[str, str]], state: str, said: str) -> None:
    book = house()
    for origin, mould in origins:
        book.write(WaterOrigin("hall", origin, "seen", at(), visible_mould=mould))
    found = gate_state("foul water", "hall", "", book.case())
    assert found.state == state
    assert said in found.words
    assert gate_state("foul water", "kitchen", "", book.case()).state == NOT_ANSWERED


def test_an_origin_for_the_site_is_for_every_zone() -> None:
    book = house()
    book.write(WaterOrigin("", "foul", "river", at()))
    assert {gate_state("foul water", zone, "", book.case()).state for zone in ("hall", "kitchen", "")} == {STOP}
    assert "foul water in the site" in gate_state("foul water", "", "", book.case()).words


# -- asbestos words ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("built", "trigger", "said"),
    [
        ("1974", "2000", "built 1974, before 2000: presume"), ("1999", "2000", "built 1999, before 2000: presume"),
        ("2000", "2000", "a later year is not evidence"), ("2019", "2000", "a later year is not evidence"),
        ("", "2000", "year of building unknown"), ("c. 1890", "2000", "year of building unknown"),
        ("1985", "1980", "built 1985: the trigger year of this place is 1980"), ("1974", "soon", "presume that asbestos"),
    ],
)  # fmt: skip
def test_the_sentence_on_asbestos(built: str, trigger: str, said: str) -> None:
    book = house(built)
    book.set("asbestos trigger year", trigger)
    state = gate_state("asbestos", "hall", "tile", book.case())
    assert said in state.words
    assert state.words.startswith("tile in hall: ")


def test_a_place_without_construction_is_of_unknown_year() -> None:
    assert "year of building unknown" in gate_state("asbestos", "attic", "", house().case()).words
    book = house()
    book.lists["constructions"].clear()
    assert "year of building unknown" in gate_state("asbestos", "hall", "", book.case()).words


# -- actions ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("action", GATES_OF_ACTION)
def test_each_action_meets_its_gates(action: str) -> None:
    states = gates_for(action, "hall", "tile", house().case())
    assert tuple(state.gate for state in states) == GATES_OF_ACTION[action]


def test_what_disturbs_fabric_meets_asbestos_and_consent() -> None:
    """Lifting, abrading, drilling, sampling, pinning: TASKS 15, 22 and 65."""
    for action in ("lift a covering", "abrade", "drill", "take a sample", "carbide test", "pin"):
        assert {"asbestos", "consent", "heritage"} <= set(GATES_OF_ACTION[action])
    for action in ("drill", "take a sample", "carbide test", "pin"):
        assert "services" in GATES_OF_ACTION[action]
    assert "lead paint" in GATES_OF_ACTION["abrade"]
    assert {"foul water", "gas"} <= set(GATES_OF_ACTION["move air"])


@pytest.mark.parametrize("risk", ["heated", "tensioned", "gas barrier", "Heated"])
def test_what_lies_in_the_construction_is_added_to_services(risk: str) -> None:
    book = house(risks=(risk, "listed"))
    book.write(answer("services", "hall"))
    states = {state.gate: state for state in gates_for("drill", "hall", "screed", book.case())}
    assert f"this construction is {risk.casefold()}" in states["services"].words
    assert states["services"].state == EVIDENCE
    assert states["services"].evidence
    assert "this construction" not in states["asbestos"].words
    assert all("this construction" not in state.words for state in gates_for("abrade", "hall", "screed", book.case()))


def test_tanking_asks_for_one_more_word() -> None:
    states = gates_for("drill", "hall", "screed", house(risks=("tanked",)).case())
    assert [state.gate for state in states] == [*GATES_OF_ACTION["drill"], "consent"]
    assert "how it will be made good" in states[-1].asks


# -- on arrival -------------------------------------------------------------------------------------------------------


def test_an_empty_case_asks_for_the_site() -> None:
    states = arrival_gates(FieldBook().case())
    assert [(state.gate, state.zone) for state in states] == [
        ("electricity", "the site"),
        ("gas", "the site"),
        ("structure", "the site"),
    ]
    assert "Nothing is recorded for the site" in states[0].words


def test_stops_stand_first_then_what_is_open_then_evidence() -> None:
    book = house()
    book.write(answer("electricity", "hall", "kitchen"), Hazard("lead paint", "hall", "child chews the sill", at()))
    book.write(answer("gas", "hall"))
    assert [(state.gate, state.state, state.zone) for state in arrival_gates(book.case())] == [
        ("lead paint", STOP, "hall"),
        ("gas", NOT_ANSWERED, "kitchen"),
        ("structure", NOT_ANSWERED, "the site"),
        ("electricity", EVIDENCE, "the site"),
        ("gas", EVIDENCE, "hall"),
    ]


def test_other_gates_that_are_merely_open_are_not_listed_on_arrival() -> None:
    assert {state.gate for state in arrival_gates(house().case())} == set(GATES_OF_ACTION["enter"])


@pytest.mark.parametrize("place", ["cellar", "hall"])
def test_a_stop_is_shown_for_its_place_described_or_not(place: str) -> None:
    book = house()
    book.write(Hazard("gas", place, "smell of gas", at()))
    first = arrival_gates(book.case())[0]
    assert (first.gate, first.state, first.zone) == ("gas", STOP, place)


def test_a_clean_origin_in_an_undescribed_place_adds_no_line() -> None:
    book = house()
    book.write(WaterOrigin("cellar", "clean", "tap", at(), visible_mould="no"))
    assert all("cellar" not in state.zone for state in arrival_gates(book.case()))


# -- air --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "change", "zone", "blamed"),
    [
        ("air mover", "set", "hall", True), ("air mover", "moved", "hall", True), ("air mover", "taken away", "hall", False),
        ("air mover", "set", "kitchen", False), ("desiccant dehumidifier", "set", "hall", False),
        ("Extraction", "set", "hall", True),
    ],
)  # fmt: skip
def test_air_moved_at_a_stop(unit: str, change: str, zone: str, blamed: bool) -> None:
    book = house()
    book.write(WaterOrigin("hall", "foul", "drain", at()))
    entered = book.write(UnitChange("u1", unit, zone, change, at()))[0]
    found = air_moved_despite_gate(book.case())
    assert bool(found) == blamed
    if blamed:
        entry, words, gates = found[0]
        assert entry == entered.entry
        assert "sealed extraction only on the recorded decision of a competent person" in words
        assert [gate.gate for gate in gates] == ["foul water"]


def test_an_open_question_is_not_a_stop() -> None:
    book = house()
    book.write(UnitChange("u1", "air mover", "hall", "set", at()))
    assert air_moved_despite_gate(book.case()) == []
