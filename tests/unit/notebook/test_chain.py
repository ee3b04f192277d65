"""The chains: each entry follows the one before, numbers run without gaps or twins, receipts are never renewed."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from desorb.core.case import Gap
from desorb.core.kinds import CaseOpened, Note
from desorb.notebook.chain import (
    Receipt,
    by_device,
    faults_of_chains,
    faults_of_receipts,
    first_receipts,
    gaps_of,
    hash_of_receipt,
    in_fold_order,
    opening_entry,
    sealed_receipt,
)
from desorb.notebook.entry import LARGEST_INTEGER, Entry, entry_of, seal
from desorb.notebook.schema import payload_of

CASE = "c" * 32


def sealed(record: Any, **changes: Any) -> Entry:
    parts: dict[str, Any] = {
        "case": CASE, "device": "one", "n": 0, "prev": "", "clock": 1, "kind": record.KIND,
        "claimed_at": "2026-03-02T09:00:00+00:00", "monotonic": 0, "payload": payload_of(record),
    }  # fmt: skip
    return seal(**(parts | changes))


def opening(**changes: Any) -> Entry:
    return sealed(CaseOpened("A", "site", "Europe/London"), **changes)


def chain_of(first: Entry, device: str, count: int, *, start_clock: int = 2) -> list[Entry]:
    """Entries of one device that follow `first` (the opening entry)."""
    entries: list[Entry] = []
    for index in range(count):
        own = device == first.device
        n = index + 1 if own else index
        prev = entries[-1].hash if entries else first.hash
        entries.append(sealed(Note(f"{device} {n}", ""), device=device, n=n, prev=prev, clock=start_clock + index))
    return entries


def three_devices() -> list[Entry]:
    first = opening()
    return [first, *chain_of(first, "one", 6), *chain_of(first, "two", 5), *chain_of(first, "three", 4)]


def test_a_sound_record_has_no_faults_in_any_order() -> None:
    entries = three_devices()
    assert faults_of_chains(entries) == []
    assert faults_of_chains(reversed(entries)) == []
    assert faults_of_chains([]) == []
    assert gaps_of(entries) == ()


def test_fold_order_is_clock_then_device_then_number() -> None:
    entries = three_devices()
    ordered = in_fold_order(entries)
    assert [(e.clock, e.device, e.n) for e in ordered] == sorted((e.clock, e.device, e.n) for e in entries)


def test_claimed_time_never_orders() -> None:
    """TRUST C5: clocks ten years off, backwards, leap day, both changes of summer time: the order stays."""
    times = [
        "2036-03-02T09:00:00+00:00", "2016-02-29T23:59:59+00:00", "2026-03-29T01:30:00+00:00",
        "2026-10-25T01:30:00+01:00", "2026-10-25T01:30:00+00:00", "not a time", "",
    ]  # fmt: skip
    first = opening()
    names = set()
    for arrangement in itertools.permutations(times, 3):
        entries = [first]
        for n, claimed in enumerate(arrangement, start=1):
            prev = entries[-1].hash
            entries.append(sealed(Note(str(n), ""), n=n, prev=prev, clock=n + 1, claimed_at=claimed))
        assert faults_of_chains(entries) == []
        names.add(tuple(entry.n for entry in in_fold_order(reversed(entries))))
    assert names == {(0, 1, 2, 3)}


def test_twins_have_one_order_whatever_the_order_of_arrival() -> None:
    """Same device, number and clock, other content: the hash decides, so the fold stays a function of the set."""
    first = opening()
    twins = [sealed(Note(words, ""), n=1, prev=first.hash, clock=2) for words in "abcdef"]
    orders = {tuple(e.hash for e in in_fold_order(shuffled)) for shuffled in itertools.permutations(twins)}
    assert len(orders) == 1


def test_the_opening_entry() -> None:
    first = opening()
    assert opening_entry([*chain_of(first, "two", 2), first]) == first
    assert opening_entry(chain_of(first, "two", 2)) is None
    assert opening_entry([]) is None
    follower = opening(device="two", prev=first.hash, clock=1)
    assert opening_entry([follower, first]) == first
    late = opening(clock=9)
    assert opening_entry([late, first]) == opening_entry([first, late]) == first
    assert opening_entry([sealed(Note("x", ""), n=0, prev="")]) is None


def test_by_device_sorts_devices_and_numbers() -> None:
    chains = by_device(reversed(three_devices()))
    assert list(chains) == ["one", "three", "two"]
    assert [entry.n for entry in chains["one"]] == list(range(7))


def test_a_record_without_its_opening_entry_says_so() -> None:
    rest = three_devices()[1:]
    assert faults_of_chains(rest) == ["the entry that opens the case is not here"]


def test_entries_of_two_cases_together_are_a_fault() -> None:
    entries = three_devices()
    stranger = sealed(Note("x", ""), case="e" * 32, device="four", prev=entries[0].hash)
    assert "entries of more than one case stand together" in faults_of_chains([*entries, stranger])


def test_the_first_entry_of_a_device_follows_the_opening() -> None:
    first = opening()
    for prev in ("", "0" * 64):
        stray = sealed(Note("x", ""), device="two", prev=prev, clock=2)
        assert faults_of_chains([first, stray]) == ["entry two/0: it does not follow the entry that opens the case"]
    second_opening = opening(device="two", clock=2)
    assert faults_of_chains([first, second_opening]) == [
        "entry two/0: it does not follow the entry that opens the case"
    ]


def test_an_entry_that_follows_another_one_is_a_fault() -> None:
    entries = three_devices()
    entries[3] = sealed(Note("x", ""), n=3, prev="0" * 64, clock=4)
    assert faults_of_chains(entries) == [
        "entry one/3: it does not follow the entry before it",
        "entry one/4: it does not follow the entry before it",
    ]


@pytest.mark.parametrize("clock", [1, 2])
def test_a_logical_clock_runs_on(clock: int) -> None:
    first = opening()
    second = sealed(Note("x", ""), n=1, prev=first.hash, clock=2)
    third = sealed(Note("y", ""), n=2, prev=second.hash, clock=clock)
    assert faults_of_chains([first, second, third]) == ["entry one/2: its logical clock does not run on"]


@pytest.mark.parametrize("n", [0, 1, 3])
def test_two_entries_with_one_number_are_a_fault(n: int) -> None:
    """Also at number 0, where both may rightly follow the opening entry."""
    entries = three_devices()
    twin_of = next(entry for entry in entries if entry.device == "two" and entry.n == n)
    twin = sealed(Note("twin", ""), device="two", n=n, prev=twin_of.prev, clock=twin_of.clock)
    assert f"entry two/{n}: another entry has the same number" in faults_of_chains([*entries, twin])
    assert faults_of_chains([*entries, twin]) == faults_of_chains([twin, *reversed(entries)])


def test_a_twin_of_the_opening_entry_is_a_fault() -> None:
    entries = three_devices()
    assert "entry one/0: another entry has the same number" in faults_of_chains([*entries, opening(clock=2)])


def test_an_entry_given_twice_is_seen() -> None:
    """A line copied in a bag: the fold drops it, the check of the chains names it."""
    entries = three_devices()
    assert faults_of_chains([*entries, entries[4]]) == ["entry one/4: another entry has the same number"]


def test_a_fault_of_an_entry_is_a_fault_of_the_chain() -> None:
    entries = three_devices()
    entries[2] = replace(entries[2], payload_text='{"words":"changed"}')
    assert faults_of_chains(entries) == ["entry one/2: the payload does not match its digest"]


def test_a_removed_payload_leaves_the_chain_whole() -> None:
    entries = three_devices()
    entries[2] = entry_of(entries[2].envelope_text, None, None)
    assert faults_of_chains(entries) == []


@pytest.mark.parametrize("cut", range(16))
def test_one_entry_taken_away_is_a_gap_or_a_fault(cut: int) -> None:
    """Taken from the middle: a gap. The last of a device: only printed heads can show it. The opening: a fault."""
    entries = three_devices()
    lost = entries.pop(cut)
    last_of_device = lost.n == by_device(three_devices())[lost.device][-1].n
    if lost.kind == "case-opened":
        assert faults_of_chains(entries)
    else:
        assert faults_of_chains(entries) == []
    assert gaps_of(entries) == (() if last_of_device else (Gap(lost.device, lost.n, lost.n, "not arrived"),))


@pytest.mark.parametrize("first_place", range(0, 16, 3))
def test_swapped_contents_are_faults(first_place: int) -> None:
    """TRUST B2: swap two entries (their texts stay whole, their places do not)."""
    entries = three_devices()
    for second_place in range(first_place + 1, 16):
        one, other = entries[first_place], entries[second_place]
        swapped = list(entries)
        swapped[first_place] = replace(one, envelope_text=other.envelope_text)
        swapped[second_place] = replace(other, envelope_text=one.envelope_text)
        assert faults_of_chains(swapped)


def test_gaps_are_spans_with_words() -> None:
    first = opening()
    own = chain_of(first, "one", 50)
    entries = [first, *(entry for entry in own if not 41 <= entry.n <= 46 and entry.n not in (3, 48))]
    gaps = gaps_of(entries)
    assert gaps == (Gap("one", 3, 3), Gap("one", 41, 46), Gap("one", 48, 48))
    assert [str(gap) for gap in gaps] == [
        "device one: 3 has not arrived", "device one: 41-46 have not arrived", "device one: 48 has not arrived",
    ]  # fmt: skip
    assert faults_of_chains(entries) == []  # shown, and not a fault


def test_what_was_set_aside_is_named_as_such() -> None:
    first = opening()
    own = chain_of(first, "one", 6)
    entries = [first, *own[:2], own[5]]
    gaps = gaps_of(entries, {"one": {4}, "two": {1}, "three": set()})
    assert [str(gap) for gap in gaps] == [
        "device one: 3 has not arrived", "device one: 4 has been set aside", "device one: 5 has not arrived",
        "device two: 0 has not arrived", "device two: 1 has been set aside",
    ]  # fmt: skip
    assert gaps_of(entries, {"one": {3, 4, 5}}) == (Gap("one", 3, 5, "been set aside"),)
    assert gaps_of([first, *own], {"one": {2}}) == ()  # a twin was set aside; the number itself is here


def test_a_number_beyond_all_counting_takes_no_time() -> None:
    """One entry with an absurd number must not make anyone count up to it."""
    first = opening()
    far = sealed(Note("x", ""), n=LARGEST_INTEGER, prev="0" * 64, clock=2)
    assert gaps_of([first, far]) == (Gap("one", 1, LARGEST_INTEGER - 1),)
    assert gaps_of([first], {"one": {LARGEST_INTEGER}}) == (
        Gap("one", 1, LARGEST_INTEGER - 1),
        Gap("one", LARGEST_INTEGER, LARGEST_INTEGER, "been set aside"),
    )


def _gaps_slowly(here: dict[str, set[int]], aside: dict[str, set[int]]) -> list[tuple[str, int, str]]:
    """The same by counting every number: an independent and slow way."""
    found = []
    for device in sorted(here.keys() | aside.keys()):
        numbers = here.get(device, set()) | aside.get(device, set())
        for n in range(max(numbers, default=-1) + 1):
            if n not in here.get(device, set()):
                found.append((device, n, "been set aside" if n in aside.get(device, set()) else "not arrived"))
    return found


@given(
    st.dictionaries(st.sampled_from("ab"), st.sets(st.integers(0, 12)), max_size=2),
    st.dictionaries(st.sampled_from("abc"), st.sets(st.integers(0, 14)), max_size=3),
)
def test_gaps_agree_with_slow_counting(here: dict[str, set[int]], aside: dict[str, set[int]]) -> None:
    entries = [sealed(Note("x", ""), device=device, n=n) for device, numbers in here.items() for n in numbers]
    gaps = gaps_of(entries, aside)
    counted = [(gap.device, n, gap.reason) for gap in gaps for n in range(gap.first, gap.last + 1)]
    assert counted == _gaps_slowly(here, aside)
    for earlier, later in itertools.pairwise(gaps):
        joined = earlier.device == later.device and earlier.reason == later.reason and earlier.last + 1 == later.first
        assert not joined, "two spans that are one"


# -- receipts ---------------------------------------------------------------------------------------------------------


def receipts_for(entries: list[Entry], store: str = "s1") -> list[Receipt]:
    receipts: list[Receipt] = []
    for arrival, entry in enumerate(entries):
        at = f"2026-03-02T09:00:{arrival:02d}.000Z"
        prev = receipts[-1].hash if receipts else ""
        receipts.append(sealed_receipt(CASE, store, arrival, at, entry.hash, prev))
    return receipts


def test_receipts_of_two_stores_hold_together() -> None:
    entries = three_devices()
    receipts = receipts_for(entries) + receipts_for(entries[:4], "s2")
    hashes = {entry.hash for entry in entries}
    assert faults_of_receipts(receipts, hashes) == []
    assert faults_of_receipts(reversed(receipts), hashes) == []
    assert faults_of_receipts([], set()) == []


def test_every_field_of_a_receipt_is_hashed() -> None:
    """TRUST B2: any field of any receipt changed, with and without a new hash for it, is found (the last one's by its
    hash alone: printed heads anchor the rest)."""
    entries = three_devices()[:6]
    receipts = receipts_for(entries)
    hashes = {entry.hash for entry in entries}
    changes: list[dict[str, Any]] = [
        {"case": "e" * 32}, {"store": "s2"}, {"arrival": 9}, {"at": "2026-03-02T08:00:00.000Z"},
        {"entry": "0" * 64}, {"prev": "0" * 64}, {"hash": "0" * 64},
    ]  # fmt: skip
    for place, receipt in enumerate(receipts):
        for change in changes:
            changed = replace(receipt, **change)
            assert faults_of_receipts([*receipts[:place], changed, *receipts[place + 1 :]], hashes), (place, change)
            if place < len(receipts) - 1 and "hash" not in change:
                parts = (changed.case, changed.store, changed.arrival, changed.at, changed.entry, changed.prev)
                again = replace(changed, hash=hash_of_receipt(*parts))
                assert faults_of_receipts([*receipts[:place], again, *receipts[place + 1 :]], hashes), (place, change)


def test_faults_of_receipts_are_named() -> None:
    entries = three_devices()[:4]
    receipts = receipts_for(entries)
    hashes = {entry.hash for entry in entries}
    assert faults_of_receipts([*receipts[:1], *receipts[2:]], hashes)[0] == (
        "receipt 2 of store s1: receipt 1 is missing or stands twice"
    )
    assert faults_of_receipts([receipts[0], *receipts], hashes)[0] == (
        "receipt 0 of store s1: receipt 1 is missing or stands twice"
    )
    assert faults_of_receipts(receipts[:3], hashes) == [f"entry {entries[3].hash[:12]} has no receipt"]
    assert faults_of_receipts(receipts, hashes - {entries[3].hash}) == [
        "receipt 3 of store s1: the entry it names is not here"
    ]
    stray = sealed_receipt(CASE, "s1", 1, receipts[1].at, entries[1].hash, "0" * 64)
    assert faults_of_receipts([receipts[0], stray], {entries[0].hash, entries[1].hash}) == [
        "receipt 1 of store s1: it does not follow the receipt before it"
    ]
    unhashed = replace(receipts[0], hash="0" * 64)
    assert faults_of_receipts([unhashed], {entries[0].hash}) == ["receipt 0 of store s1: it does not match its hash"]


def test_the_first_receipt_counts_whichever_store_gave_it() -> None:
    entry = opening()
    early = sealed_receipt(CASE, "s2", 0, "2026-03-02T08:00:00.000Z", entry.hash, "")
    late = sealed_receipt(CASE, "s1", 0, "2026-03-02T09:00:00.000Z", entry.hash, "")
    for arrangement in itertools.permutations([early, late, early]):
        assert first_receipts(arrangement) == {entry.hash: early.at}
    assert first_receipts([]) == {}
