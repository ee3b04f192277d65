"""What the record answers of the four questions that stand before air is moved, sucked or heated.

Contents: answers_at. Nothing counts as "no" because it was left out; who answered, and by what record, goes with it.
"""

from __future__ import annotations

from desorb.core.case import Case, Entered
from desorb.core.drying.harm_guard import DEALT_WITH, Answer, Answers
from desorb.core.gates import EVIDENCE, STOP, gate_state, is_evidence
from desorb.core.kinds import GateAnswer, WaterOrigin


def answers_at(zone: str, case: Case) -> Answers:
    """The answers for one zone, from gate answers, hazards and the origin of the water."""
    origin = _last_origin(zone, case)
    return Answers(
        foul_water=_of_water(zone, case, origin, "foul"),
        visible_mould=_of_water(zone, case, origin, "mould"),
        damaged_asbestos=_of_asbestos(zone, case),
        open_flue=_of_gate("gas", zone, case),
    )


def _last_origin(zone: str, case: Case) -> Entered[WaterOrigin] | None:
    found = [each for each in case.water_origins if each.record.zone in ("", zone)]
    return found[-1] if found else None


def _of_water(zone: str, case: Case, origin: Entered[WaterOrigin] | None, which: str) -> Answer:
    """Foul water and mould share one gate: evidence given for it answers both, the origin answers each for itself."""
    state = gate_state("foul water", zone, "", case)
    answered = _answer_of(state.entries, case) if state.state == EVIDENCE else None
    if answered is not None:
        return answered
    if state.state == STOP and any(each.entry in state.entries for each in case.hazards):
        return Answer("yes", _who(state.entries, case), ", ".join(state.entries))
    if origin is None:
        return Answer()
    record = origin.record
    of_origin = {"foul": "yes", "clean": "no", "grey": "no"}.get(record.origin, "")
    said = of_origin if which == "foul" else record.visible_mould
    return Answer(said, record.by, origin.entry) if said else Answer()


def _of_asbestos(zone: str, case: Case) -> Answer:
    """A damaged material that was seen says yes; a survey or sample recorded for this zone after it deals with it."""
    seen = [each for each in case.hazards if each.record.gate == "asbestos" and each.record.zone in ("", zone)]
    answers = [
        each for each in case.gate_answers
        if each.record.gate == "asbestos" and zone in each.record.zones and is_evidence(each.record)
    ]  # fmt: skip
    if answers and (not seen or answers[-1].order > seen[-1].order):
        return _dealt_with(answers[-1])
    return Answer("yes", seen[-1].record.by, seen[-1].entry) if seen else Answer()


def _of_gate(gate: str, zone: str, case: Case) -> Answer:
    state = gate_state(gate, zone, "", case)
    if state.state == STOP:
        return Answer("yes", _who(state.entries, case), ", ".join(state.entries))
    return (_answer_of(state.entries, case) or Answer()) if state.state == EVIDENCE else Answer()


def _answer_of(entries: tuple[str, ...], case: Case) -> Answer | None:
    found = [each for each in case.gate_answers if each.entry in entries]
    return _dealt_with(found[-1]) if found else None


def _dealt_with(entered: Entered[GateAnswer]) -> Answer:
    record = entered.record
    return Answer(DEALT_WITH, record.by, f"{record.result}; {record.reference} ({entered.entry})")


def _who(entries: tuple[str, ...], case: Case) -> str:
    return next((each.record.by for each in case.hazards if each.entry in entries and each.record.by), "nobody named")
