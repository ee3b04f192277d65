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
    return Answers(
        foul_water=_of_water(zone, case, "foul"),
        visible_mould=_of_water(zone, case, "mould"),
        damaged_asbestos=_of_asbestos(zone, case),
        open_flue=_of_gate("gas", zone, case),
    )


def _of_water(zone: str, case: Case, which: str) -> Answer:
    """Foul water and mould share one gate: evidence given for it answers both, what was seen answers each for itself."""
    state = gate_state("foul water", zone, "", case)
    answered = _answer_of(state.entries, case) if state.state == EVIDENCE else None
    if answered is not None:
        return answered
    if state.state == STOP and any(each.entry in state.entries for each in case.hazards):
        return Answer("yes", _who(state.entries, case), ", ".join(state.entries))
    worst = _worst_origin(zone, case, which)
    said = "" if worst is None else _said(worst.record, which)
    return Answer(said, worst.record.by, worst.entry) if worst is not None and said else Answer()


def _worst_origin(zone: str, case: Case, which: str) -> Entered[WaterOrigin] | None:
    """The worst word counts, as at the gate: a later, milder word does not undo it. Of equal words the last."""
    found = [each for each in case.water_origins if each.record.zone in ("", zone)]
    milder = ("no", "", "yes") if which == "foul" else ("", "no", "yes")  # an origin not known is worse than clean
    return max(found, key=lambda each: (milder.index(_said(each.record, which)), each.order), default=None)


def _said(origin: WaterOrigin, which: str) -> str:
    if which == "foul":
        return {"foul": "yes", "clean": "no", "grey": "no"}.get(origin.origin, "")
    return origin.visible_mould if origin.visible_mould in ("yes", "no") else ""


def _of_asbestos(zone: str, case: Case) -> Answer:
    """A damaged material that was seen says yes until evidence of that very material; else a survey or sample deals with it."""
    answers = [
        each for each in case.gate_answers
        if each.record.gate == "asbestos" and zone in each.record.zones and is_evidence(each.record)
    ]  # fmt: skip
    stop = gate_state("asbestos", zone, "", case)
    if stop.state == STOP:
        seen = [each for each in case.hazards if each.entry in stop.entries]
        return Answer("yes", seen[-1].record.by, seen[-1].entry)
    named = [each for each in answers if any(material.strip() for material in each.record.materials)]
    return _dealt_with(named[-1]) if named else Answer()


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
