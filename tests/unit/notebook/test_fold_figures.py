"""What the fold keeps that no other test holds: each kills a change that went unnoticed (benchmarks/mutate.py)."""

from __future__ import annotations

from typing import Any

from desorb.core.kinds import CaseOpened, Note, Removal, Strike
from desorb.notebook.entry import Entry, seal
from desorb.notebook.fold import fold
from desorb.notebook.schema import payload_of

MOMENT = "2026-03-02T09:00:00+00:00"


def sealed(record: Any, n: int, prev: str) -> Entry:
    return seal(
        case="c" * 32, device="one", n=n, prev=prev, clock=n + 1, kind=record.KIND, claimed_at=MOMENT, monotonic=n,
        payload=payload_of(record), salt="00" * 16,
    )  # fmt: skip


def written(*records: Any) -> list[Entry]:
    entries: list[Entry] = []
    for n, record in enumerate(records):
        entries.append(sealed(record, n, entries[-1].hash if entries else ""))
    return entries


def test_strikes_of_two_unknown_entries_both_wait() -> None:
    entries = written(
        CaseOpened("A", "site", "UTC"), Strike("a" * 64, "why", "who", MOMENT), Strike("b" * 64, "why", "who", MOMENT)
    )
    assert [strike.record.target for strike in fold(entries).waiting_strikes] == ["a" * 64, "b" * 64]


def test_two_removals_are_two() -> None:
    first = written(CaseOpened("A", "site", "UTC"), Note("one", MOMENT), Note("two", MOMENT))
    targets = [first[1].hash, first[2].hash]
    removals = [Removal(target, "why", "authority", "who", MOMENT) for target in targets]
    entries = written(CaseOpened("A", "site", "UTC"), Note("one", MOMENT), Note("two", MOMENT), *removals)
    assert [removed.hash for removed in fold(entries).removed] == targets
