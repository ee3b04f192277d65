"""The table of strikes in notebook/fold.py: every line of it, every order of arrival, every sequence of four operations.

The model here follows the one sentence under the table by plain recursion: a strike has effect unless a strike with
effect names it. It shares no code with the fold.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from desorb.core.case import Case
from desorb.core.kinds import CaseOpened, Note, Reading, Removal, ReportIssued, Strike
from desorb.notebook.entry import Entry, entry_of, seal
from desorb.notebook.fold import fold
from desorb.notebook.schema import payload_of
from desorb.notebook.store import Store

CASE = "c" * 32


def reading(key: str = "row 1", value: str = "18.4") -> Reading:
    return Reading(key, "S1", "V1", "meter", "scale", (value,), "bare", "2026-03-02T09:00:00+00:00")


class Devices:
    """Devices that write entries. Each has seen what it is told to have seen; the clock runs as the record says."""

    def __init__(self) -> None:
        self.entries: list[Entry] = []
        self.opening = self.write("one", CaseOpened("A", "site", "Europe/London"))

    def write(self, device: str, record: Any, *, clock: int = 0) -> Entry:
        own = [entry for entry in self.entries if entry.device == device]
        prev = own[-1].hash if own else (self.entries[0].hash if self.entries else "")
        entry = seal(
            case=CASE, device=device, n=len(own), prev=prev, kind=record.KIND, payload=payload_of(record),
            clock=clock or 1 + max((each.clock for each in self.entries), default=0),
            claimed_at="2026-03-02T09:00:00+00:00", monotonic=0,
        )  # fmt: skip
        self.entries.append(entry)
        return entry

    def strike(self, device: str, target: str, *, why: str = "wrong spot", clock: int = 0) -> Entry:
        return self.write(device, Strike(target, why, f"surveyor {device}", "2026-03-02T10:00:00+00:00"), clock=clock)


def shown(case: Case) -> dict[str, Any]:
    """What a case says about strikes, as hashes only."""
    return {
        "readings": [each.hash for each in case.readings],
        "notes": [each.hash for each in case.notes],
        "struck": _outcomes(case.struck),
        "restored": _outcomes(case.restored),
        "waiting": {each.hash for each in case.waiting_strikes},
        "words": case.not_understood,
    }


def _outcomes(outcomes: Iterable[Any]) -> dict[str, tuple[str, tuple[str, ...], tuple[str, ...]]]:
    return {
        each.struck.hash: (
            each.strike.hash,
            tuple(strike.hash for strike in each.also),
            tuple(strike.hash for strike in each.stands_again),
        )
        for each in outcomes
    }


def model(entries: Iterable[Entry]) -> dict[str, Any]:
    """The same by plain recursion over every strike."""
    known = {entry.hash: entry for entry in entries}
    strikes = sorted(
        (entry for entry in known.values() if entry.kind == "strike"), key=lambda e: (e.clock, e.device, e.n)
    )
    target_of = {strike.hash: strike.payload()["target"] for strike in strikes}

    def has_effect(strike: str) -> bool:
        return not any(target == strike and has_effect(other) for other, target in target_of.items())

    def root_of(strike: str) -> str:
        target = target_of[strike]
        return root_of(target) if target in target_of else target

    waiting = {strike.hash for strike in strikes if root_of(strike.hash) not in known}
    struck: dict[str, Any] = {}
    restored: dict[str, Any] = {}
    for target, entry in known.items():
        naming = [strike.hash for strike in strikes if target_of[strike.hash] == target]
        if entry.kind in ("strike", "case-opened") or not naming:
            continue
        beneath = [s.hash for s in strikes if root_of(s.hash) == target and s.hash not in naming]
        counting = [strike for strike in naming if has_effect(strike)]
        first = (counting or naming)[0]
        outcome = (first, tuple(strike for strike in naming if strike != first), tuple(beneath))
        (struck if counting else restored)[target] = outcome
    standing = [e for e in known.values() if e.kind == "reading" and e.hash not in struck]
    standing.sort(key=lambda e: (e.clock, e.device, e.n))
    row_of = {e.hash: (e.payload()["key"], e.payload()["values"]) for e in known.values() if e.kind == "reading"}
    gone = [row_of[target] for target in struck if target in row_of]
    first_of_key: dict[str, str] = {}
    for entry in standing:
        if row_of[entry.hash] not in gone:
            first_of_key.setdefault(row_of[entry.hash][0], entry.hash)
    return {"readings": list(first_of_key.values()), "struck": struck, "restored": restored, "waiting": waiting}


def agrees(entries: list[Entry]) -> None:
    told = shown(fold(entries))
    assert {name: told[name] for name in ("readings", "struck", "restored", "waiting")} == model(entries)


def one_state(entries: list[Entry]) -> dict[str, Any]:
    """The state of a set, after every order of arrival gave the same one."""
    whole = fold(entries)
    orders = itertools.permutations(entries) if len(entries) <= 6 else [entries, entries[::-1]]
    for order in orders:
        assert fold(order) == whole
    assert fold([*entries, *entries]) == whole
    agrees(entries)
    return shown(whole)


# -- the table, line by line ------------------------------------------------------------------------------------------


def test_strike_of_a_reading() -> None:
    devices = Devices()
    read = devices.write("one", reading())
    strike = devices.strike("one", read.hash)
    state = one_state(devices.entries)
    assert state["readings"] == []
    assert state["struck"] == {read.hash: (strike.hash, (), ())}
    struck = fold(devices.entries).struck[0]
    assert (struck.kind, struck.strike.record.by, struck.strike.record.why) == (
        "reading", "surveyor one", "wrong spot",
    )  # fmt: skip
    assert struck.struck.record == reading()  # nothing measured disappears


def test_strike_of_a_strike() -> None:
    devices = Devices()
    read = devices.write("one", reading())
    strike = devices.strike("one", read.hash)
    undo = devices.strike("two", strike.hash)
    state = one_state(devices.entries)
    assert state["readings"] == [read.hash]
    assert state["struck"] == {}
    assert state["restored"] == {read.hash: (strike.hash, (), (undo.hash,))}


def test_strike_of_a_strike_of_a_strike() -> None:
    devices = Devices()
    read = devices.write("one", reading())
    chain = [devices.strike("one", read.hash)]
    for depth in range(1, 6):
        chain.append(devices.strike("two" if depth % 2 else "one", chain[-1].hash))
        state = one_state(devices.entries)
        beneath = tuple(strike.hash for strike in chain[1:])
        holds, stands = ("restored", "struck") if depth % 2 else ("struck", "restored")
        assert state[holds] == {read.hash: (chain[0].hash, (), beneath)}, depth
        assert state[stands] == {}
        assert state["readings"] == ([read.hash] if depth % 2 else [])


def test_strike_of_an_entry_that_has_not_arrived() -> None:
    devices = Devices()
    read = devices.write("two", reading())
    strike = devices.strike("one", read.hash)
    undo = devices.strike("one", strike.hash)
    early = [entry for entry in devices.entries if entry != read]
    state = one_state(early)
    assert state["waiting"] == {strike.hash, undo.hash}
    assert (state["struck"], state["restored"]) == ({}, {})
    assert one_state(devices.entries)["waiting"] == set()
    without_undo = one_state(devices.entries[:3])
    assert without_undo["readings"] == []
    assert without_undo["struck"] == {read.hash: (strike.hash, (), ())}


def test_strike_twice() -> None:
    devices = Devices()
    read = devices.write("one", reading())
    first = devices.strike("one", read.hash, why="first")
    second = devices.strike("one", read.hash, why="second")
    third = devices.strike("two", read.hash, why="third")
    state = one_state(devices.entries)
    assert state["struck"] == {read.hash: (first.hash, (second.hash, third.hash), ())}


def test_strike_by_two_devices_at_once() -> None:
    """Equal clocks: the device decides which is first, on every machine alike; both are shown."""
    devices = Devices()
    read = devices.write("one", reading())
    by_two = devices.strike("two", read.hash, clock=3)
    by_one = devices.strike("one", read.hash, clock=3)
    state = one_state(devices.entries)
    assert state["struck"] == {read.hash: (by_one.hash, (by_two.hash,), ())}


def test_strike_of_the_first_of_two() -> None:
    devices = Devices()
    read = devices.write("one", reading())
    first = devices.strike("one", read.hash)
    second = devices.strike("two", read.hash)
    undo = devices.strike("one", first.hash)
    state = one_state(devices.entries)
    assert state["readings"] == []
    assert state["struck"] == {read.hash: (second.hash, (first.hash,), (undo.hash,))}
    undo_second = devices.strike("one", second.hash)
    state = one_state(devices.entries)
    assert state["readings"] == [read.hash]
    assert state["restored"] == {read.hash: (first.hash, (second.hash,), (undo.hash, undo_second.hash))}


def test_strike_then_new_entry() -> None:
    """The correction: the old value stays visible, the new one counts, also under the same row."""
    devices = Devices()
    old = devices.write("one", reading(value="18.4"))
    strike = devices.strike("one", old.hash)
    new = devices.write("one", reading(value="14.8"))
    state = one_state(devices.entries)
    assert state["readings"] == [new.hash]
    assert state["struck"] == {old.hash: (strike.hash, (), ())}
    undo = devices.strike("one", strike.hash)
    assert undo.n == 4
    case = fold(devices.entries)
    assert [each.hash for each in case.readings] == [old.hash]
    assert [each.hash for each in case.changed_rows] == [new.hash]


def test_a_struck_row_does_not_come_back_by_being_taken_twice() -> None:
    """The same row from two machines is one row: struck in one copy, it counts in none, whichever was struck."""
    for struck_copy in (0, 1, 2):
        devices = Devices()
        copies = [devices.write(device, reading()) for device in ("one", "two", "three")]
        other = devices.write("one", reading("row 2"))
        devices.strike("two", copies[struck_copy].hash)
        state = one_state(devices.entries)
        assert state["readings"] == [other.hash]
        repeated = [each.hash for each in fold(devices.entries).repeated_rows]
        assert repeated == [copy.hash for place, copy in enumerate(copies) if place != struck_copy]


def test_two_struck_contents_of_one_row_both_stay_struck() -> None:
    devices = Devices()
    values = ("18.4", "14.8")
    for device in ("one", "two"):
        for value in values:
            devices.write(device, reading(value=value))
    for entry in devices.entries[1:3]:
        devices.strike("three", entry.hash)
    third = devices.write("three", reading(value="15.0"))
    case = fold(devices.entries)
    assert [each.hash for each in case.readings] == [third.hash]
    assert len(case.repeated_rows) == 2


@pytest.mark.parametrize("kind", ["case-opened", "removal", "report-issued"])
def test_what_is_never_struck_says_so(kind: str) -> None:
    """A strike of what happened has no effect, and it does not vanish: words name both entries."""
    devices = Devices()
    read = devices.write("one", reading())
    made = {
        "case-opened": lambda: devices.opening,
        "removal": lambda: devices.write("one", Removal(read.hash, "asked", "law", "x", "")),
        "report-issued": lambda: devices.write("one", ReportIssued(1, "", (), (), "", "", "")),
    }
    target = made[kind]()
    strike = devices.strike("two", target.hash)
    case = fold(devices.entries)
    assert (case.struck, case.restored, case.waiting_strikes) == ((), (), ())
    assert case.not_understood == (
        f"entry {strike.device}/0 (strike): it names an entry of kind {kind}, which is never struck",
    )


def test_any_kind_that_counts_can_be_struck() -> None:
    devices = Devices()
    note = devices.write("one", Note("words", ""))
    strike = devices.strike("one", note.hash)
    case = fold(devices.entries)
    assert case.notes == ()
    assert [(each.kind, each.struck.hash, each.strike.hash) for each in case.struck] == [
        ("note", note.hash, strike.hash)
    ]


def test_a_removed_reading_is_removed_and_not_struck() -> None:
    devices = Devices()
    read = devices.write("one", reading())
    devices.strike("one", read.hash)
    devices.write("one", Removal(read.hash, "asked", "law", "x", ""))
    without = [e if e != read else entry_of(e.envelope_text, None, None) for e in devices.entries]
    for entries in (devices.entries, without, devices.entries + without, without + devices.entries):
        case = fold(entries)
        assert (case.readings, case.struck) == ((), ())
        assert [each.hash for each in case.removed] == [read.hash]
        assert case == fold(without)


def test_a_long_quarrel_of_strikes_does_not_exhaust_the_stack() -> None:
    """Also when clocks run backwards, so that every strike stands before the one it names."""
    length = 1501
    for clocks in (range(10, 10 + length), range(10 + length, 10, -1)):
        devices = Devices()
        read = devices.write("one", reading(), clock=5)
        target = read.hash
        entries = [*devices.entries]
        for index, clock in enumerate(clocks):
            strike = seal(
                case=CASE, device=f"d{index}", n=0, prev=devices.opening.hash, clock=clock, kind="strike",
                claimed_at="", monotonic=0, payload=payload_of(Strike(target, "no", "x", "")),
            )  # fmt: skip
            entries.append(strike)
            target = strike.hash
        case = fold(entries)
        assert len(case.struck) == 1  # an odd number of strikes: the first holds
        assert len(case.struck[0].stands_again) == length - 1


# -- all permutations and all sequences -------------------------------------------------------------------------------


def quarrel() -> tuple[list[Entry], list[Entry]]:
    """What stood before, and four operations: strike, strike by another, strike of the first strike, a new entry."""
    devices = Devices()
    read = devices.write("one", reading())
    first = devices.strike("one", read.hash)
    devices.strike("two", read.hash, clock=first.clock)
    devices.strike("two", first.hash)
    devices.write("one", reading(value="14.8"))
    return devices.entries[:2], devices.entries[2:]


@pytest.mark.parametrize("arrival", list(itertools.permutations(range(4))))
def test_four_operations_in_every_order_of_arrival_give_one_state(arrival: tuple[int, ...], tmp_path: Path) -> None:
    """24 orders, through the fold and through the real store, looked at after each arrival (TRUST C8)."""
    before, operations = quarrel()
    with Store(tmp_path) as store:
        store.receive(before)
        arrived = list(before)
        for index in arrival:
            store.receive([operations[index]])
            arrived.append(operations[index])
            agrees(arrived)
            assert fold(store.entries(CASE)) == fold(arrived)
        assert store.set_aside(CASE) == []
        assert fold(store.entries(CASE)) == fold([*before, *operations])


OPERATIONS = ("strike by one", "strike by two", "undo by one", "undo by two", "strike unknown", "new entry")


def played(operations: Iterable[str], *, meet: bool) -> list[Entry]:
    """The entries that a sequence of operations makes. Without meeting, neither device sees the other's entries."""
    devices = Devices()
    read = devices.write("one", reading())
    unknown = seal(
        case=CASE, device="far", n=0, prev=devices.opening.hash, clock=4, kind="reading", claimed_at="", monotonic=0,
        payload=payload_of(reading("row 9")),
    )  # fmt: skip
    for step, operation in enumerate(operations):
        device = "two" if operation.endswith("two") else "one"
        clock = 0 if meet else 3 + step // 2
        seen = [e for e in devices.entries if e.kind == "strike" and (meet or e.device == device)]
        if operation.startswith("undo"):
            devices.strike(device, seen[-1].hash if seen else read.hash, clock=clock)
        elif operation == "strike unknown":
            devices.strike(device, unknown.hash, clock=clock)
        elif operation == "new entry":
            devices.write(device, reading(value=f"{step}.0"), clock=clock)
        else:
            devices.strike(device, read.hash, clock=clock)
    return devices.entries + [unknown] * (sum(map(len, operations)) % 2)


@pytest.mark.parametrize("meet", [True, False], ids=["met", "apart"])
@pytest.mark.parametrize("first", OPERATIONS)
def test_every_sequence_of_four_operations_agrees_with_the_model(first: str, meet: bool) -> None:
    """6^4 sequences by two devices that saw each other or did not: 2,592 sets, each in four orders."""
    for rest in itertools.product(OPERATIONS, repeat=3):
        entries = played((first, *rest), meet=meet)
        agrees(entries)
        whole = fold(entries)
        for order in (entries[::-1], entries[3:] + entries[:3], sorted(entries, key=lambda entry: entry.hash)):
            assert fold(order) == whole


def test_every_strike_is_shown_somewhere() -> None:
    """No strike vanishes: it stands beside its entry, or waits, or is named in words."""
    for sequence in itertools.product(OPERATIONS, repeat=4):
        entries = played(sequence, meet=len(sequence[0]) % 2 == 0)
        case = fold(entries)
        seen = {strike.hash for strike in case.waiting_strikes}
        for each in (*case.struck, *case.restored):
            seen |= {strike.hash for strike in (each.strike, *each.also, *each.stands_again)}
        assert seen == {entry.hash for entry in entries if entry.kind == "strike"}


def forest(targets: list[int], clocks: list[int]) -> list[Entry]:
    """A reading and strikes: the k-th names the reading (0) or an earlier strike (its number); a device for each."""
    devices = Devices()
    entries = [devices.opening, devices.write("one", reading())]
    hashes = [entries[1].hash]
    for number, (target, clock) in enumerate(zip(targets, clocks, strict=True)):
        record = Strike(hashes[target % len(hashes)], "w", "x", "")
        entries.append(
            seal(
                case=CASE, device=f"d{number:02d}", n=0, prev=devices.opening.hash, clock=clock, kind="strike",
                claimed_at="", monotonic=0, payload=payload_of(record),
            )
        )  # fmt: skip
        hashes.append(entries[-1].hash)
    return entries


@settings(max_examples=300)
@given(st.lists(st.tuples(st.integers(0, 99), st.integers(2, 30)), max_size=14))
def test_any_quarrel_agrees_with_the_model(strikes: list[tuple[int, int]]) -> None:
    """Strikes of strikes of strikes, several of each, under honest clocks and others."""
    for clocks in (list(range(3, 3 + len(strikes))), [clock for _, clock in strikes]):
        entries = forest([target for target, _ in strikes], clocks)
        agrees(entries)
        assert fold(entries[::-1]) == fold(entries)


def test_a_strike_is_decided_only_when_all_its_strikes_are() -> None:
    """The first strike of strike 1 is undone early, the second holds only after a longer argument of its own."""
    targets = [0, 1, 1, 2, 3, 5]
    for clocks in itertools.permutations(range(3, 9)):
        agrees(forest(targets, list(clocks)))
