"""Answering a gate: keep what was put forward, and show the state that follows. Nothing is opened here."""

from __future__ import annotations

from collections.abc import Sequence

from desorb.core.case import latest_by_id
from desorb.core.gates import GATES, gate_state
from desorb.core.kinds import GateAnswer
from desorb.core.outcome import GateState
from desorb.errors import InputError
from desorb.notebook.store import Store
from desorb.service.cases import Clock, OpenCase, load, moment_text, now, write


def answer_gate(
    store: Store,
    case: OpenCase,
    gate: str,
    *,
    zones: Sequence[str],
    materials: Sequence[str],
    reference: str,
    result: str,
    by: str,
    for_what: str,
    wish_to_override: bool = False,
    at: str = "",
    clock: Clock = now,
) -> list[GateState]:
    """Record an answer and return the state of the gate in each zone. What is no evidence is kept as not answered."""
    if gate not in GATES:
        raise InputError("there is no such gate", got=gate, wanted=", ".join(GATES))
    folded = load(store, case)
    known = latest_by_id(folded.zones)
    unknown = [zone for zone in zones if zone not in known]
    if unknown or not zones:
        raise InputError(
            "evidence speaks of places",
            got=", ".join(unknown) or "no zone",
            wanted=f"one of: {', '.join(known) or 'none yet'}",
        )
    if gate in ("asbestos", "lead paint") and not materials:
        raise InputError(
            "this evidence must say which material it covers",
            next_step="give --material, as the covering is written down",
        )
    moment = moment_text(at or clock().isoformat(), case.time_zone)
    answer = GateAnswer(
        gate, tuple(zones), tuple(materials), reference, by, for_what, result, moment, wish_to_override=wish_to_override
    )
    write(store, case, [answer], clock)
    folded = load(store, case)
    return [gate_state(gate, zone, material, folded) for zone in zones for material in (materials or [""])]
