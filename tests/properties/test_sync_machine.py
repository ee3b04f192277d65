"""Three devices and one store between them, over a network that loses, repeats, delays and reorders (TRUST C1).

Devices keep their chains with `seal` and know only what they wrote or pulled. The store in the middle is the real one,
with its real `receive`. Whatever happens: nothing acknowledged is lost, every entry is in the store or in the outbox
of its device, and once all is delivered every device and the store fold to the same case, in any order of entries.
Gomes et al. (OOPSLA 2017): proofs failed because the network was modelled too kindly; so this one is not kind.

`slow_fold` is a second fold, written from the table in notebook/fold.py without looking at its code: it settles the
strikes by repeating one sentence until nothing moves.
"""

from __future__ import annotations

import itertools
import random
import sqlite3
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from desorb.core.case import Case
from desorb.core.kinds import CaseOpened, Reading, Strike
from desorb.notebook import fold as fold_module
from desorb.notebook.chain import faults_of_chains, faults_of_receipts, gaps_of
from desorb.notebook.entry import Entry, seal
from desorb.notebook.fold import fold
from desorb.notebook.schema import payload_of
from desorb.notebook.store import Store

CASE = "c" * 32
DEVICES = ("ada", "bea", "cyd")
AT = "2026-03-02T09:00:00+00:00"
CLAIMED = (AT, "2016-02-29T00:00:00+00:00", "2036-01-01T00:00:00-05:00", "")  # clocks of devices are not believed
QUICK = {"max_examples": 200, "stateful_step_count": 50}
LONG_RUN = {"max_examples": 20_000, "stateful_step_count": 50}
CHECKS = {"deadline": None, "suppress_health_check": list(HealthCheck)}


def in_memory(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)


# -- the second fold --------------------------------------------------------------------------------------------------


def slow_fold(entries: Iterable[Entry]) -> dict[str, Any]:
    """What the table of strikes and the rule for rows taken twice say, by brute force."""
    known = {entry.hash: entry for entry in entries}
    order = sorted(known.values(), key=lambda entry: (entry.clock, entry.device, entry.n))
    target = {entry.hash: entry.payload()["target"] for entry in order if entry.kind == "strike"}
    holds = dict.fromkeys(target, True)
    for _ in range(len(target) + 1):  # each pass settles one more level of strikes of strikes
        holds = {strike: not any(target[other] == strike and holds[other] for other in target) for strike in target}
    root: dict[str, str] = {}
    for strike in target:
        root[strike] = target[strike]
        while root[strike] in target:
            root[strike] = target[root[strike]]
    struck, restored = {}, {}
    for entry in order:
        naming = [strike for strike in target if target[strike] == entry.hash]
        if entry.kind != "reading" or not naming:
            continue
        first = next((strike for strike in naming if holds[strike]), naming[0])
        beneath = sorted(strike for strike in target if root[strike] == entry.hash and strike not in naming)
        outcome = (first, [strike for strike in naming if strike != first], beneath)
        (struck if holds[first] else restored)[entry.hash] = outcome
    rows = {entry.hash: dict(entry.payload(), source="") for entry in order if entry.kind == "reading"}
    counted: dict[str, str] = {}
    repeated, changed = [], []
    for entry in order:
        if entry.kind != "reading" or entry.hash in struck:
            continue
        row = rows[entry.hash]
        if any(rows[gone] == row for gone in struck):
            repeated.append(entry.hash)
        elif row["key"] not in counted:
            counted[row["key"]] = entry.hash
        else:
            (repeated if rows[counted[row["key"]]] == row else changed).append(entry.hash)
    return {
        "readings": list(counted.values()), "repeated": repeated, "changed": changed,
        "struck": struck, "restored": restored,
        "waiting": sorted(strike for strike in target if root[strike] not in known),
        "count": len(known),
    }  # fmt: skip


def shown(case: Case) -> dict[str, Any]:
    def outcomes(found: Sequence[Any]) -> dict[str, Any]:
        return {
            each.struck.hash: (
                each.strike.hash, [also.hash for also in each.also], sorted(again.hash for again in each.stands_again),
            )
            for each in found
        }  # fmt: skip

    return {
        "readings": [each.hash for each in case.readings],
        "repeated": [each.hash for each in case.repeated_rows],
        "changed": [each.hash for each in case.changed_rows],
        "struck": outcomes(case.struck), "restored": outcomes(case.restored),
        "waiting": sorted(each.hash for each in case.waiting_strikes),
        "count": case.entry_count,
    }  # fmt: skip


# -- devices ----------------------------------------------------------------------------------------------------------


class Device:
    """A phone: its own chain, what it has seen, and what it has not been thanked for."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.own: list[Entry] = []
        self.known: dict[str, Entry] = {}
        self.outbox: list[Entry] = []

    def write(self, record: Any, opening: Entry | None, claimed_at: str) -> Entry:
        prev = self.own[-1].hash if self.own else (opening.hash if opening else "")
        clock = 1 + max((entry.clock for entry in self.known.values()), default=0)
        entry = seal(
            case=CASE, device=self.name, n=len(self.own), prev=prev, clock=clock, kind=record.KIND,
            claimed_at=claimed_at, monotonic=len(self.own), payload=payload_of(record),
        )  # fmt: skip
        self.own.append(entry)
        self.known[entry.hash] = entry
        self.outbox.append(entry)
        return entry

    def thanked_for(self, hashes: Iterable[str]) -> None:
        done = set(hashes)
        self.outbox = [entry for entry in self.outbox if entry.hash not in done]


class SyncMachine(RuleBasedStateMachine):
    """The rules. Indices are drawn as whole numbers and taken modulo what is there, so that shrinking stays simple."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.seconds = 0
        self.store = Store(Path(self.folder.name), connect=in_memory, now=self.now, settings=())
        self.devices = [Device(name) for name in DEVICES]
        self.in_flight: list[tuple[Device, list[Entry]]] = []
        self.late_thanks: list[tuple[Device, list[str]]] = []
        self.acknowledged: set[str] = set()
        self.first_receipt: dict[str, str] = {}
        self.written = 0

    def now(self) -> str:
        self.seconds += 1
        return f"2026-03-02T{self.seconds // 3600:02d}:{self.seconds // 60 % 60:02d}:{self.seconds % 60:02d}.000Z"

    @initialize(seed=st.integers(0, 2**32), opening_is_known=st.booleans())
    def meet(self, seed: int, opening_is_known: bool) -> None:
        """All devices saw the opening entry when the case was opened; the store may hear of it last."""
        self.generator = random.Random(seed)
        self.opening = self.devices[0].write(CaseOpened("A", "site", "Europe/London"), None, AT)
        for device in self.devices[1:]:
            device.known[self.opening.hash] = self.opening
        if opening_is_known:
            self.give(self.devices[0], [self.opening])
            self.devices[0].thanked_for([self.opening.hash])

    # What a store does with a batch, and how it thanks: the broken machines below change these two.

    def give(self, device: Device, batch: list[Entry]) -> list[str]:
        """Deliver a batch; the hashes the store thanks for. What was set aside is in the store's keeping too."""
        self.store.receive(batch)
        return [entry.hash for entry in batch]

    def fold(self, entries: Iterable[Entry]) -> Case:
        return fold(entries)

    # -- rules --

    @rule(
        device=st.sampled_from(range(3)),
        key=st.integers(0, 5),
        value=st.integers(0, 1),
        claimed=st.sampled_from(CLAIMED),
    )
    def read(self, device: int, key: int, value: int, claimed: str) -> None:
        """A reading; the same rows are read by several devices, sometimes with another value."""
        record = Reading(
            f"row {key}", "S1", "V1", "meter", "scale", (f"1{value}.0",), "bare", AT, source=DEVICES[device]
        )
        self.devices[device].write(record, self.opening, claimed)
        self.written += 1

    @rule(
        device=st.sampled_from(range(3)),
        which=st.integers(0, 99),
        heard=st.booleans(),
        claimed=st.sampled_from(CLAIMED),
    )
    def strike(self, device: int, which: int, heard: bool, claimed: str) -> None:
        """A strike of something known, or of something only heard of: an entry that has not been pulled yet."""
        whose = itertools.chain(*(each.own for each in self.devices)) if heard else self.devices[device].known.values()
        targets = [entry for entry in whose if entry.kind != "case-opened"]
        if targets:
            target = targets[-1 - which % len(targets)].hash
            self.devices[device].write(Strike(target, "why", DEVICES[device], AT), self.opening, claimed)
            self.written += 1

    @rule(
        device=st.sampled_from(range(3)),
        order=st.randoms(use_true_random=False),
        share=st.sampled_from((0.3, 0.7, 1.0)),
    )
    def send(self, device: int, order: random.Random, share: float) -> None:
        """Some of the outbox, in any order, goes on its way. It stays in the outbox until thanked for."""
        batch = [entry for entry in self.devices[device].outbox if order.random() < share]
        order.shuffle(batch)
        if batch:
            self.in_flight.append((self.devices[device], batch))

    @rule(which=st.integers(0, 99), keep=st.booleans(), thanks=st.sampled_from(("now", "late", "lost")))
    def deliver(self, which: int, keep: bool, thanks: str) -> None:
        """A batch arrives: in any order among batches, perhaps again later, with thanks now, late, or never."""
        if not self.in_flight:
            return
        place = which % len(self.in_flight)
        device, batch = self.in_flight[place]
        if not keep:
            del self.in_flight[place]
        thanked = self.give(device, batch)
        if thanks != "lost":
            self.acknowledged |= set(thanked)
        if thanks == "now":
            device.thanked_for(thanked)
        elif thanks == "late":
            self.late_thanks.append((device, thanked))

    @rule(which=st.integers(0, 99))
    def thank_late(self, which: int) -> None:
        if self.late_thanks:
            device, thanked = self.late_thanks.pop(which % len(self.late_thanks))
            device.thanked_for(thanked)

    @rule(which=st.integers(0, 99))
    def lose(self, which: int) -> None:
        """A batch is lost on its way."""
        if self.in_flight:
            del self.in_flight[which % len(self.in_flight)]

    @rule(device=st.sampled_from(range(3)), most=st.sampled_from((1, 3, 1000)))
    def pull(self, device: int, most: int) -> None:
        """A device gets some of what it does not know yet: page by page, in order of arrival."""
        there = {entry.hash: entry for entry in self.store.entries(CASE)}
        order = [receipt.entry for receipt in self.store.receipts(CASE)]
        news = [there[each] for each in order if each not in self.devices[device].known]
        for entry in news[:most]:
            self.devices[device].known[entry.hash] = entry

    @rule()
    def look(self) -> None:
        """In the middle of everything: the store verifies, and every fold agrees with the slow one."""
        entries = self.store.entries(CASE)
        is_open = self.opening.hash in {entry.hash for entry in entries}
        wanted = [] if is_open or not entries else ["the entry that opens the case is not here"]
        assert faults_of_chains(entries) == wanted
        self.same_everywhere(entries)
        for device in self.devices:
            self.same_everywhere(list(device.known.values()))

    # -- invariants --

    def on_store(self) -> set[str]:
        rows = self.store._all("SELECT hash FROM entry") + self.store._all("SELECT hash FROM set_aside")
        return {row[0] for row in rows}

    @invariant()
    def nothing_acknowledged_is_lost(self) -> None:
        assert self.acknowledged <= self.on_store(), "an acknowledged entry is lost"

    @invariant()
    def every_entry_is_in_the_store_or_in_the_outbox(self) -> None:
        there = self.on_store()
        for device in self.devices:
            waiting = {entry.hash for entry in device.outbox}
            assert {entry.hash for entry in device.own} <= there | waiting, "an entry is in neither store nor outbox"

    @invariant()
    def first_receipts_stay(self) -> None:
        rows = dict(self.store._all("SELECT entry_hash, hash FROM receipt"))
        assert len(rows) == self.store._one("SELECT count(*) FROM receipt")[0], "an entry was received twice"
        assert self.first_receipt.items() <= rows.items()
        self.first_receipt = rows

    def same_everywhere(self, entries: list[Entry]) -> Case:
        case = self.fold(entries)
        for _ in range(2):
            again = entries + self.generator.sample(entries, min(2, len(entries)))
            self.generator.shuffle(again)
            assert self.fold(again) == case, "the order of entries moved the fold"
        assert shown(case) == slow_fold(entries), "the slow fold says otherwise"
        return case

    def teardown(self) -> None:
        """The network is well again: everything is sent, also once more from what is still on its way, and pulled."""
        try:
            if hasattr(self, "opening"):
                self.finish()
        finally:
            self.store.close()
            self.folder.cleanup()

    def finish(self) -> None:
        while self.in_flight:
            self.give(*self.in_flight.pop(self.generator.randrange(len(self.in_flight))))
        for device in self.generator.sample(self.devices, 3):
            batch = list(device.outbox)
            self.generator.shuffle(batch)
            device.thanked_for(self.give(device, batch))
            assert device.outbox == []
        entries = self.store.entries(CASE)
        assert len(entries) == 1 + self.written, "lost, or there twice"
        assert self.store.set_aside(CASE) == []
        assert faults_of_chains(entries) == []
        assert gaps_of(entries) == ()
        assert faults_of_receipts(self.store.receipts(CASE), {entry.hash for entry in entries}) == []
        case = self.same_everywhere(entries)
        for device in self.devices:
            self.pull(self.devices.index(device), 10_000)
            assert self.fold(device.known.values()) == case, "a device folds to another case than the store"


class TestSync(SyncMachine.TestCase):  # type: ignore[misc, name-defined]
    settings = settings(**QUICK, **CHECKS)  # type: ignore[arg-type]


@pytest.mark.soak
class TestSyncForLong(SyncMachine.TestCase):  # type: ignore[misc, name-defined]
    settings = settings(**LONG_RUN, **CHECKS)  # type: ignore[arg-type]


# -- negative controls ------------------------------------------------------------------------------------------------


class ThanksForTooMuch(SyncMachine):
    """Thanks for all that the device has ever written, not only for what arrived."""

    def give(self, device: Device, batch: list[Entry]) -> list[str]:
        self.store.receive(batch)
        return [entry.hash for entry in device.own]


class DropsWhatComesEarly(SyncMachine):
    """Does not take an entry whose predecessor is not there yet, and thanks for it."""

    def give(self, device: Device, batch: list[Entry]) -> list[str]:
        for entry in batch:
            there = {each.name for each in self.store.entries(CASE)}
            if entry.n == 0 or f"{entry.device}/{entry.n - 1}" in there:
                self.store.receive([entry])
        return [entry.hash for entry in batch]


class FoldsInOrderOfArrival(SyncMachine):
    def fold(self, entries: Iterable[Entry]) -> Case:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(fold_module, "in_fold_order", list)
            return fold(entries)


class FoldsByClaimedTime(SyncMachine):
    def fold(self, entries: Iterable[Entry]) -> Case:
        with pytest.MonkeyPatch.context() as patch:
            by_time = lambda given: sorted(given, key=lambda entry: (entry.claimed_at, entry.device, entry.n))  # noqa: E731
            patch.setattr(fold_module, "in_fold_order", by_time)
            return fold(entries)


class EveryStrikeHolds(SyncMachine):
    def fold(self, entries: Iterable[Entry]) -> Case:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(fold_module, "_effective_strikes", lambda strikes: {strike.hash for strike in strikes})
            return fold(entries)


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (ThanksForTooMuch, r"an acknowledged entry is lost|lost, or there twice|in neither store nor outbox"),
        (DropsWhatComesEarly, r"an acknowledged entry is lost|lost, or there twice"),
        (FoldsInOrderOfArrival, "the order of entries moved the fold"),
        (FoldsByClaimedTime, "the slow fold says otherwise"),
        (EveryStrikeHolds, "the slow fold says otherwise"),
    ],
)
def test_a_broken_way_is_found_out(broken: type[SyncMachine], words: str) -> None:
    """TRUST F5: each deliberately broken variant must be caught, or the machine sees nothing."""
    few = settings(  # it stops at the first find; one of the five is rare, and 200 examples missed it now and then
        max_examples=2000, stateful_step_count=40, phases=[Phase.generate], database=None, report_multiple_bugs=False,
        **CHECKS,  # type: ignore[arg-type]
    )  # fmt: skip
    with pytest.raises(AssertionError, match=words):
        run_state_machine_as_test(broken, settings=few)


def test_the_slow_fold_knows_the_table() -> None:
    """The model itself, by hand: a strike, its strike, and one that waits."""
    device = Device("ada")
    opening = device.write(CaseOpened("A", "s", "UTC"), None, AT)
    row = Reading("row 1", "S1", "V1", "meter", "scale", ("18.4",), "bare", AT)
    read = device.write(row, opening, AT)
    first = device.write(Strike(read.hash, "", "", ""), opening, AT)
    told = slow_fold(device.own)
    assert (told["readings"], told["struck"]) == ([], {read.hash: (first.hash, [], [])})
    undo = device.write(Strike(first.hash, "", "", ""), opening, AT)
    told = slow_fold(device.own)
    assert (told["readings"], told["restored"]) == ([read.hash], {read.hash: (first.hash, [], [undo.hash])})
    without = [entry for entry in device.own if entry != read]
    assert slow_fold(without)["waiting"] == sorted([first.hash, undo.hash])
