"""A backup is put back, and a bag that was exported after it is imported: what was known when is not told anew.

A restored store keeps its id, so receipts of its own id come back to it from outside. They say when it first received
an entry, and that is never renewed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from desorb.core.kinds import CaseOpened, Note
from desorb.notebook.chain import faults_of_chains, faults_of_receipts, first_receipts, sealed_receipt
from desorb.notebook.database import DATABASE_NAME
from desorb.notebook.entry import Entry, seal
from desorb.notebook.schema import payload_of
from desorb.notebook.store import Draft, Store

AT = "2026-03-02T09:00:00+00:00"


class Days:
    """A clock that is set by hand."""

    day = "01"

    def __call__(self) -> str:
        return f"2026-03-{self.day}T10:00:00.000Z"


def note(words: str) -> Draft:
    return Draft(Note(words, AT), AT)


@pytest.fixture
def days() -> Days:
    return Days()


@pytest.fixture
def restored(tmp_path: Path, days: Days) -> Callable[[], tuple[Store, Store, str]]:
    """A store that went on after its backup, the backup put back elsewhere, and their case."""

    def make() -> tuple[Store, Store, str]:
        before = Store(tmp_path / "before", now=days)
        case = before.open_case(CaseOpened("A", "s", "UTC"), AT)
        before.append(case, [note("a")])
        (tmp_path / "after").mkdir()
        before.back_up(tmp_path / "after" / DATABASE_NAME)
        days.day = "05"
        before.append(case, [note("b")])
        days.day = "06"
        before.receive([far(case, before.entries(case)[0].hash)])
        days.day = "20"
        return before, Store(tmp_path / "after", now=days), case

    return make


def far(case: str, opening: str, words: str = "far") -> Entry:
    return seal(
        case=case, device="faraway1", n=0, prev=opening, clock=9, kind="note", claimed_at=AT, monotonic=1,
        payload=payload_of(Note(words, AT)),
    )  # fmt: skip


def sound(store: Store, case: str) -> bool:
    entries = store.entries(case)
    return faults_of_chains(entries) + faults_of_receipts(store.receipts(case), {e.hash for e in entries}) == []


def test_first_receipts_are_not_renewed_by_a_restored_backup(
    restored: Callable[[], tuple[Store, Store, str]],
) -> None:
    """The backup of Monday is put back on the 20th and the bag of the 6th imported: known on the 6th is what was known."""
    before, after, case = restored()
    arrival = after.receive(before.entries(case), before.receipts(case))
    assert arrival.set_aside == []
    assert len(arrival.accepted) == 2
    assert first_receipts(after.receipts(case)) == first_receipts(before.receipts(case))
    assert after.receipts(case) == before.receipts(case), "the chain of receipts goes on as it was"
    assert sound(after, case)
    assert after.known_on(case, "2026-03-06T23:00:00.000Z") == before.known_on(case, "2026-03-06T23:00:00.000Z")
    assert after.receive(before.entries(case), before.receipts(case)).accepted == []


def test_the_restored_store_goes_on_after_the_receipts_it_got_back(
    restored: Callable[[], tuple[Store, Store, str]],
) -> None:
    """After the import the restored store writes on: its receipts follow those that came back."""
    before, after, case = restored()
    after.receive(before.entries(case), before.receipts(case))
    after.append(case, [note("c")])
    assert sound(after, case)
    assert after.receipts(case)[-1].at.startswith("2026-03-20")


def test_a_restored_store_that_worked_on_first_still_keeps_the_first_times(
    restored: Callable[[], tuple[Store, Store, str]],
) -> None:
    """It received something else before the bag came: its chain has forked, and yet the first times are kept."""
    before, after, case = restored()
    after.receive([far(case, before.entries(case)[0].hash, "another")])
    arrival = after.receive(before.entries(case), before.receipts(case))
    times = first_receipts(after.receipts(case))
    own = next(entry for entry in before.entries(case) if entry.device == before.device and entry.n == 2)
    assert times[own.hash] == "2026-03-05T10:00:00.000Z"
    assert sound(after, case)
    assert any("another receipt with this number" in reason for _, reason in arrival.set_aside)


def test_a_receipt_of_our_own_that_was_changed_moves_no_time(
    restored: Callable[[], tuple[Store, Store, str]],
) -> None:
    """Someone writes an earlier time into a receipt of the bag: it does not match its hash and is not believed."""
    before, after, case = restored()
    forged = [replace(receipt, at="2020-01-01T00:00:00.000Z") for receipt in before.receipts(case)]
    after.receive(before.entries(case), forged)
    assert min(first_receipts(after.receipts(case)).values()) == "2026-03-01T10:00:00.000Z"
    assert sound(after, case)


def test_a_receipt_of_our_own_for_an_entry_that_is_not_here_is_not_kept(
    restored: Callable[[], tuple[Store, Store, str]],
) -> None:
    """The bag lacks the entry a receipt names: the receipt waits for nothing, and the chain stays whole."""
    before, after, case = restored()
    after.receive([], before.receipts(case))
    assert sound(after, case)
    last = after.receipts(case)[-1]
    strange = sealed_receipt(case, after.store_id, last.arrival + 1, "2026-03-04T10:00:00.000Z", "f" * 64, last.hash)
    after.receive([], [strange])
    assert sound(after, case)
