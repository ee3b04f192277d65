"""What could hurt someone at the place of a test that disproves a cause. Nothing is allowed here.

Contents: gates_of_test; stops.
"""

from __future__ import annotations

from collections.abc import Iterable

from desorb.core.case import Case
from desorb.core.causes.patterns import DisprovingTest
from desorb.core.gates import EVIDENCE, STOP, gates_for
from desorb.core.outcome import GateState


def gates_of_test(test: DisprovingTest, zone: str, case: Case) -> tuple[GateState, ...]:
    return gates_for(test.action, zone, "", case)


def stops(tests: Iterable[DisprovingTest], zone: str, case: Case) -> tuple[str, ...]:
    """What could hurt someone at the place of these tests, stops first. Nothing is allowed here."""
    gates = [gate for test in tests for gate in gates_of_test(test, zone, case) if gate.state != EVIDENCE]
    gates.sort(key=lambda gate: gate.state != STOP)
    return tuple(dict.fromkeys(f"{gate.gate}: {gate.state}. {gate.words}" for gate in gates))
