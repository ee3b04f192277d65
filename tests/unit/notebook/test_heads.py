"""What only a head kept elsewhere can show: a record that its keeper wrote anew, whole and sound in itself.

200 forgeries by someone who can do everything: edit an entry, drop the last ones, cut a hole, fork, and make every hash,
receipt, manifest and heads.json anew. In themselves they verify; against the head on the report none does.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from bag_cases import (
    AT,
    MemoryBag,
    bagged,
    clock,
    contents_of,
    fill,
    note,
    of_device,
    rechained,
    write,
)

from desorb.core import kinds
from desorb.notebook import bag_verifier
from desorb.notebook.bag import export_bag
from desorb.notebook.bag_reading import content_of
from desorb.notebook.chain import Receipt, in_fold_order, sealed_receipt
from desorb.notebook.entry import Entry, seal
from desorb.notebook.heads import anchor
from desorb.notebook.schema import payload_of
from desorb.notebook.store import Draft, Store
from desorb.notebook.verify import Verification, record_of_bag, verification_of, verify_store

Printed = tuple[list[Entry], list[Receipt], dict[str, bytes], str]
FORGERIES = 200
NOT_HERE = "is not in this record"


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Printed:
    """A record of 30 entries, its receipts, its originals, and the head that was printed on the report."""
    home = tmp_path_factory.mktemp("heads")
    with Store(home / "store", now=clock()) as store:
        case = fill(store, 30)
        entries, receipts = store.entries(case), store.receipts(case)
        contents = contents_of(export_bag(store, case, home / "bag", now="2026-03-02"))
    originals = {
        name: content
        for name, content in contents.items()
        if name.startswith(("data/photos", "data/files", "data/report"))
    }
    return entries, receipts, originals, entries[-1].hash


def verified(contents: dict[str, bytes], heads: list[str]) -> Verification:
    return verification_of(record_of_bag(content_of(MemoryBag(contents))), heads)


def forgery(entries: list[Entry], number: int, chance: random.Random) -> list[Entry]:
    """One way or another to tell another story with the same number of sound hashes."""
    ordered = in_fold_order(entries)
    readings = [entry for entry in ordered if entry.kind == "reading"]
    way = ("edit", "drop the last", "fork", "hole", "insert", "swap")[number % 6]
    if way == "edit":
        target = chance.choice(readings)
        value = f"{chance.randrange(5, 30)}.{number}"
        return rechained(ordered, {target.hash: lambda payload: {**payload, "values": [value]}})
    if way == "drop the last":
        return ordered[: -(1 + number // 6 % 25)]
    if way == "fork":
        at = chance.randrange(5, len(ordered) - 1)
        return [*ordered[:at], *continued(ordered[:at], number, len(ordered) - at)]
    if way == "hole":
        return cut(ordered, chance.randrange(3, len(ordered) - 2), number)
    if way == "insert":
        at = chance.randrange(5, len(ordered) - 1)
        added = continued(ordered[:at], number, 1)
        moved = [(entry.kind, entry.payload()) for entry in ordered[at:]]
        return [*ordered[:at], *added, *chained([*ordered[:at], *added], moved)]
    first, second = chance.sample(range(3, len(ordered) - 4), 2)
    payloads = [(entry.kind, entry.payload()) for entry in ordered]
    payloads[first], payloads[second] = payloads[second], payloads[first]
    start = min(first, second)
    return [*ordered[:start], *chained(ordered[:start], payloads[start:])]


def chained(before: list[Entry], payloads: list[tuple[str, dict[str, Any]]]) -> list[Entry]:
    made = list(before)
    for kind, payload in payloads:
        last = made[-1]
        entry = seal(
            case=last.case, device=last.device, n=last.n + 1, prev=last.hash, clock=last.clock + 1, kind=kind,
            claimed_at=AT, monotonic=last.n, payload=payload,
        )  # fmt: skip
        made.append(entry)
    return made[len(before) :]


def continued(before: list[Entry], number: int, count: int) -> list[Entry]:
    return chained(before, [("note", payload_of(note(1000 * number + step))) for step in range(count)])


def cut(ordered: list[Entry], at: int, number: int) -> list[Entry]:
    """Entry `at` is taken out and all before it, but for the opening, is rewritten: what follows keeps its hashes."""
    return [*ordered[:1], *continued(ordered[:1], number, at - 1), *ordered[at + 1 :]]


def of_forger(forged: list[Entry], receipts: list[Receipt], originals: dict[str, bytes]) -> dict[str, bytes]:
    """The forged entries with a receipt chain of their own that keeps the old times, as a whole new bag."""
    again: list[Receipt] = []
    for number, entry in enumerate(forged):
        at, prev = receipts[min(number, len(receipts) - 1)].at, again[-1].hash if again else ""
        again.append(sealed_receipt(entry.case, receipts[0].store, number, at, entry.hash, prev))
    return bagged(forged, again, originals)


def test_forgeries_by_an_insider(printed: Printed, tmp_path: Path) -> None:
    entries, receipts, originals, head = printed
    assert verified(bagged(entries, receipts, originals), [head]).ok
    chance = random.Random(4)
    sound_in_itself = caught = 0
    stories = {tuple(entry.hash for entry in entries)}
    for number in range(FORGERIES):
        forged = forgery(entries, number, chance)
        stories.add(tuple(entry.hash for entry in forged))
        bag = of_forger(forged, receipts, originals)
        sound_in_itself += verified(bag, []).ok
        against = verified(bag, [head])
        caught += not against.ok
        assert not against.ok, number
        if number % 10 == 0:
            folder = write(tmp_path / str(number), bag)
            assert bag_verifier.check(str(folder), []).faults == []
            assert bag_verifier.check(str(folder), [head]).faults
    print(f"{FORGERIES} forgeries: {sound_in_itself} sound in themselves, {caught} caught by the printed head")
    assert len(stories) > FORGERIES * 0.9
    assert sound_in_itself == FORGERIES
    assert caught == FORGERIES


def test_a_hole_before_the_printed_head_is_a_fault_and_without_a_head_a_note(
    printed: Printed,
) -> None:
    entries, receipts, originals, head = printed
    bag = of_forger(cut(entries, 10, 1), receipts, originals)
    without = verified(bag, [])
    assert without.ok
    assert any("10 has not arrived" in note for note in without.notes)
    assert any("before the printed head" in fault for fault in verified(bag, [head]).faults)


def test_two_reports_with_heads_that_do_not_agree(
    printed: Printed,
) -> None:
    entries, receipts, originals, head = printed
    forged = [*entries[:20], *continued(entries[:20], 7, 10)]
    for record in (entries, forged):
        found = verified(of_forger(record, receipts, originals), [head, forged[-1].hash])
        assert sum(NOT_HERE in fault for fault in found.faults) == 1


@pytest.mark.parametrize(
    "spelling",
    [
        lambda entry: entry.hash,
        lambda entry: entry.hash.upper(),
        lambda entry: " ".join(entry.hash[at : at + 8] for at in range(0, 64, 8)),
        lambda entry: entry.hash[:12],
        lambda entry: f"  {entry.hash[:8]} {entry.hash[8:16]}\n",
        lambda entry: f"{entry.device} {entry.n} {entry.hash}",
    ],
)
def test_a_head_as_people_type_it(printed: Printed, spelling: Callable[[Entry], str], tmp_path: Path) -> None:
    entries, receipts, originals, _ = printed
    bag = bagged(entries, receipts, originals)
    found = verified(bag, [spelling(entries[20])])
    assert found.ok
    assert [(each.n, each.after) for each in found.anchored] == [(20, 9)]
    assert bag_verifier.check(str(write(tmp_path, bag)), [spelling(entries[20])]).faults == []


@pytest.mark.parametrize("head", ["", "8362644b", "not a head at all", "g" * 64, "0" * 64, "ü" * 20])
def test_what_is_no_head_of_this_record(printed: Printed, head: str, tmp_path: Path) -> None:
    entries, receipts, originals, last = printed
    bag = bagged(entries, receipts, originals)
    assert not verified(bag, [last[:11]]).ok
    assert not verified(bag, [head]).ok
    assert bag_verifier.check(str(write(tmp_path, bag)), [head]).faults
    assert bag_verifier.check(str(tmp_path), [last[:11]]).faults


def test_a_head_that_fits_two_entries(printed: Printed) -> None:
    twins = [replace(entry, hash="abcdef012345" + end * 52) for entry, end in zip(printed[0], "67", strict=False)]
    faults: list[str] = []
    anchored, _, _ = anchor(["abcdef 012345", "abcdef0123456"], twins, (), faults, [])
    assert faults == ["the head abcdef012345 fits more than one entry: give more of its digits"]
    assert [each.n for each in anchored] == [0]


def test_a_short_head_is_taken_with_a_warning(
    printed: Printed,
) -> None:
    entries, receipts, originals, head = printed
    bag = bagged(entries, receipts, originals)
    assert any("shut out a forger" in note for note in verified(bag, [head[:31]]).notes)
    assert not any("shut out a forger" in note for note in verified(bag, [head[:32]]).notes)


def test_what_came_after_a_head_and_what_no_head_holds(tmp_path: Path) -> None:
    with Store(tmp_path, now=clock()) as store:
        case = fill(store, 12)
        head = store.entries(case)[-1].hash
        anchored = verify_store(store, case, [head])
        assert [each.superseded for each in anchored.anchored] == [False]
        assert anchored.not_anchored == ()
        assert anchored.evidence_beyond == 0

        issued = kinds.ReportIssued(2, AT, (head,), (), "desorb", "", "")
        store.append(case, [Draft(issued, AT)])
        after_report = verify_store(store, case, [head])
        assert [(each.after, each.evidence_after, each.superseded) for each in after_report.anchored] == [(1, 0, False)]

        store.append(case, [Draft(note(1), AT)])
        after_note = verify_store(store, case, [head])
        assert [(each.after, each.evidence_after, each.superseded) for each in after_note.anchored] == [(2, 1, True)]

        store.receive(of_device(store, case, "beef0001", 3))
        with_other = verify_store(store, case, [head])
        assert with_other.ok
        assert with_other.not_anchored == ("beef0001",)
        assert with_other.evidence_beyond == 4
        assert any("beef0001" in note and "anew" in note for note in with_other.notes)
        assert any("no printed head" in note for note in verify_store(store, case).notes)


def test_an_entry_is_anchored_only_by_a_head_of_its_own_device(tmp_path: Path) -> None:
    """Someone rewrites the other device's chain: the head of this one does not show it, and the notes say so."""
    with Store(tmp_path, now=clock()) as store:
        case = fill(store, 12)
        others = of_device(store, case, "beef0001", 3)
        store.receive(others)
        both = [store.entries(case)[11].hash, others[-1].hash]
        assert verify_store(store, case, both).not_anchored == ()
        assert verify_store(store, case, both[:1]).not_anchored == ("beef0001",)
        assert not verify_store(store, case, [*both, of_device(store, case, "beef0001", 1)[0].hash]).ok
