"""The cause table of each zone of which somebody observed or tested something.

Contents: causes_shown.
"""

from __future__ import annotations

from collections.abc import Iterable

from desorb.core.case import Case, latest_by_id
from desorb.core.causes.patterns import PATTERNS
from desorb.core.causes.table import (
    SEEN,
    Observation,
    Row,
    cause_table,
    causes_together_sentence,
    single_cause_sentence,
)
from desorb.core.causes_of_case.cautions import gates_of_test, stops
from desorb.core.causes_of_case.known import known_of
from desorb.core.shown import Shown, Table
from desorb.errors import Refused

CAUSES = "causes"
COLUMNS = ("rank", "cause", "for", "against", "assumed", "missing", "disproved by", "next test", "gates of it")


def causes_shown(case: Case) -> tuple[Shown, ...]:
    """One cause table for each zone of which somebody observed or tested something about a cause."""
    tests = latest_by_id(case.leak_tests).values()
    zones = dict.fromkeys(
        entered.record.zone
        for entered in sorted([*case.cause_observations, *tests, *case.cause_tests], key=lambda each: each.order)
    )
    return tuple(_zone_shown(case, zone) for zone in zones)


def _zone_shown(case: Case, zone: str) -> Shown:
    known = known_of(case, zone)
    rows = cause_table(known.observations, known.done)
    status, words, steps = _sentences(rows)
    tests = [row.next_test for row in rows if row.next_test]
    return Shown(
        kind=CAUSES,
        id=zone,
        title=f"Causes of damp in {zone}",
        zone=zone,
        status=status,
        words=words,
        cautions=tuple(dict.fromkeys((*stops(tests, zone, case), *(c for test in tests for c in test.cautions)))),
        tables=(Table(COLUMNS, tuple(_cells(row, zone, case) for row in rows)),),
        notes=tuple(dict.fromkeys(known.notes)),
        next_steps=steps,
        rests_on=tuple(dict.fromkeys(known.entries)),
    )


def _sentences(rows: tuple[Row, ...]) -> tuple[str, str, tuple[str, ...]]:
    """Status, words and next steps: one cause if the table allows it, else why not, and the causes that stand together."""
    with_evidence = [row for row in rows if not row.disproved_by and any(e.known == SEEN for e in row.evidence_for)]
    if not with_evidence:
        first = next((row.next_test for row in rows if row.next_test), None)
        step = f"{first.name}: {first.words}" if first else "write down what is seen, under a name of the table"
        return "no cause named", "No cause is named: nothing was seen that speaks for one.", (step,)
    try:
        return "one cause", single_cause_sentence(rows, with_evidence[0].cause), ("a competent person decides",)
    except Refused as refusal:
        parts, steps = [_refused(refusal)], [refusal.next_step]
    together = [row.cause for row in with_evidence if _has_what_it_needs(row)]
    if len(together) > 1:
        try:
            parts.append(causes_together_sentence(rows, together))
        except Refused as refusal:
            parts.append(_refused(refusal))
            steps.append(refusal.next_step)
    return "no single cause named", " ".join(parts), tuple(dict.fromkeys(steps))


def _refused(refusal: Refused) -> str:
    """The table refuses with what it does not say and its reason: one sentence of both."""
    return f"{refusal.what}: {refusal.got}."


def _has_what_it_needs(row: Row) -> bool:
    seen = {each.name: each.entry for each in row.evidence_for if each.known == SEEN}
    needs = PATTERNS[row.cause].needs
    return len({seen[name] for name in needs if name in seen}) == len(needs)


def _cells(row: Row, zone: str, case: Case) -> tuple[str, ...]:
    gates = gates_of_test(row.next_test, zone, case) if row.next_test else ()
    return (
        str(row.rank), row.cause, _named(row.evidence_for), _named(row.evidence_against), _named(row.assumed),
        ", ".join(row.missing), "; ".join(f"{test.words} ({test.entry})" for test in row.disproved_by),
        f"{row.next_test.name}: {row.next_test.words}" if row.next_test else "",
        ", ".join(f"{gate.gate}: {gate.state}" for gate in gates),
    )  # fmt: skip


def _named(evidence: Iterable[Observation]) -> str:
    return "; ".join(f"{each.name} ({each.known}, {each.entry}: {each.words})" for each in evidence)
