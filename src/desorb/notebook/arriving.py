"""What comes into a store: entries of its own and entries from elsewhere, receipts, removals, what was set aside.

Contents: Arrival; Arriving (the union of entries: nothing is dropped, what does not fit is set aside with its reason).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from desorb.errors import NotUnderstood
from desorb.notebook.chain import Receipt, sealed_receipt
from desorb.notebook.database import Database
from desorb.notebook.entry import Entry, entry_of, fault_of, read_object
from desorb.notebook.schema import NEVER_REMOVED, record_of
from desorb.notebook.sense import senseless

FARTHEST_CLOCK = 2**48  # no counting gets there; a clock near the largest number would leave no room for the next entry
NOT_OPEN = "the entry that opens this case is not here"
SET_ASIDE = ("hash", "case", "device", "n", "envelope", "salt", "body", "reason", "at")


@dataclass(slots=True)
class Arrival:
    """What became of entries that came from elsewhere."""

    accepted: list[str] = field(default_factory=list)
    known: list[str] = field(default_factory=list)
    set_aside: list[tuple[str, str]] = field(default_factory=list)  # (entry name, reason)
    reasons: dict[str, str] = field(default_factory=dict)  # hash of an entry that was set aside -> reason


def _is_sound(receipt: Receipt) -> bool:
    try:
        return receipt == sealed_receipt(
            receipt.case, receipt.store, receipt.arrival, receipt.at, receipt.entry, receipt.prev
        )
    except NotUnderstood:
        return False


class Arriving(Database):
    """The receiving side of a store."""

    def _insert(self, entry: Entry) -> None:
        self._insert_entry(entry)
        self._receive(entry.case, entry.hash)

    def _insert_entry(self, entry: Entry) -> None:
        self._connection.execute(
            "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?)",
            (entry.hash, entry.case, entry.device, entry.n, entry.clock, entry.kind, entry.envelope_text),
        )
        self._insert_payload(entry)

    def _insert_payload(self, entry: Entry) -> None:
        if entry.payload_text is None or self._was_removed(entry):
            return
        self._connection.execute("INSERT INTO payload VALUES (?, ?, ?)", (entry.hash, entry.salt, entry.payload_text))
        if entry.kind == "removal":
            self._apply_removal(entry)

    def _receive(self, case: str, entry_hash: str, at: str = "") -> None:
        arrival, prev = self._end_of_receipts(case)
        receipt = sealed_receipt(case, self._about("store"), arrival, at or self.now(), entry_hash, prev)
        self._insert_receipt(receipt)

    def _end_of_receipts(self, case: str) -> tuple[int, str]:
        """The number of the next receipt of this store, and the hash it follows."""
        last = self._one(
            "SELECT arrival, hash FROM receipt WHERE case_id = ? AND store = ? ORDER BY arrival DESC LIMIT 1",
            (case, self._about("store")),
        )
        return (last[0] + 1, last[1]) if last is not None else (0, "")

    def _give_receipts(self, hashes: Iterable[str], own: Iterable[Receipt]) -> None:
        """Receipts for entries that were just accepted. `own` are receipts of this store's own id that came from outside,
        as after a backup was put back: those that follow on are kept as they are; where the chain went another way since,
        the time they tell is kept. A first receipt is never renewed."""
        told: dict[str, str] = {}
        lacking = dict.fromkeys(hashes)
        for receipt in sorted((each for each in own if _is_sound(each)), key=lambda each: each.arrival):
            told[receipt.entry] = min(receipt.at, told.get(receipt.entry, receipt.at))
            follows = (receipt.arrival, receipt.prev) == self._end_of_receipts(receipt.case)
            if follows and receipt.entry in lacking and self._case_of(receipt.entry) == receipt.case:
                self._insert_receipt(receipt)
                del lacking[receipt.entry]
        for each in lacking:
            self._receive(self._case_of(each), each, told.get(each, ""))

    def _case_of(self, entry_hash: str) -> str:
        return str(self._one("SELECT case_id FROM entry WHERE hash = ?", (entry_hash,))[0])

    def _insert_receipt(self, receipt: Receipt) -> None:
        self._connection.execute(
            "INSERT INTO receipt VALUES (?, ?, ?, ?, ?, ?, ?)",
            (receipt.case, receipt.store, receipt.arrival, receipt.at, receipt.entry, receipt.prev, receipt.hash),
        )

    def receive(
        self, entries: Iterable[Entry], receipts: Iterable[Receipt] = (), aside: Iterable[dict[str, Any]] = ()
    ) -> Arrival:
        """Take in entries from elsewhere: a union. Nothing is dropped: what does not fit is set aside with its reason.

        Receipts that came along keep their times: a first receipt is never renewed. `aside` is what another store had
        set aside (rows as `set_aside` gives them): it stays aside here, with the reason and time it had there.
        """
        receipts = list(receipts)
        with self._lock, self._trouble_in_words(), self._transaction():
            own = [receipt for receipt in receipts if receipt.store == self._about("store")]
            arrival = self.receive_inside(entries, own)
            for receipt in receipts:
                reason = self._take_in_receipt(receipt)
                if reason:
                    arrival.set_aside.append((f"receipt {receipt.arrival} of store {receipt.store}", reason))
            for row in aside:
                self._insert_set_aside(row)
        return arrival

    def receive_inside(self, entries: Iterable[Entry], own_receipts: Sequence[Receipt] = ()) -> Arrival:
        """Take in entries inside `in_one_commit`."""
        arrival = Arrival()
        ordered = sorted(entries, key=lambda entry: (entry.kind != "case-opened", entry.clock, entry.device, entry.n))
        for entry in ordered:
            self._take_in(entry, arrival)
        self._give_receipts(arrival.accepted, own_receipts)
        return arrival

    def _take_in(self, entry: Entry, arrival: Arrival) -> None:
        known = self._one(
            "SELECT p.entry_hash FROM entry e LEFT JOIN payload p ON p.entry_hash = e.hash WHERE e.hash = ?",
            (entry.hash,),
        )
        has_news = known is not None and known[0] is None and entry.payload_text is not None
        reason = self._fault_of_content(entry) if has_news or known is None else ""
        reason = reason or (self._reason_of_place(entry) if known is None else "")
        if reason:
            self._set_aside(entry, reason)
            arrival.set_aside.append((entry.name, reason))
            arrival.reasons[entry.hash] = reason
        elif known is not None:
            arrival.known.append(entry.hash)
            if has_news:
                self._insert_payload(entry)  # it had arrived without
        else:
            self._insert_entry(entry)
            arrival.accepted.append(entry.hash)
            if entry.kind == "case-opened":
                self._look_again(entry.case, arrival)

    def _look_again(self, case: str, arrival: Arrival) -> None:
        """The case is open now: what came before the entry that opens it is no longer set aside."""
        rows = self._all(
            "SELECT envelope, salt, body FROM set_aside WHERE case_id = ? AND reason = ? ORDER BY hash",
            (case, NOT_OPEN),
        )
        for envelope, salt, body in rows:
            self._take_in(entry_of(envelope, salt or None, body or None), arrival)

    def _take_in_receipt(self, receipt: Receipt) -> str:
        """Keep a receipt of another store; the reason when it cannot be kept."""
        if not _is_sound(receipt):
            return "the receipt does not match its hash"
        known = self._one(
            "SELECT hash FROM receipt WHERE case_id = ? AND store = ? AND arrival = ?",
            (receipt.case, receipt.store, receipt.arrival),
        )
        if known is None and receipt.store != self._about("store"):
            self._insert_receipt(receipt)
        return "" if known is None or known[0] == receipt.hash else "another receipt with this number is already here"

    def _fault_of_content(self, entry: Entry) -> str:
        fault = fault_of(entry)
        if fault or entry.payload_text is None:
            return fault
        try:
            return senseless(record_of(entry.kind, entry.payload()))
        except NotUnderstood as problem:
            return problem.what

    def _reason_of_place(self, entry: Entry) -> str:
        """Why the entry cannot stand where it says; with '' the accepted entries still hold together."""
        twin = self._neighbour(entry, 0)
        if twin is not None:
            return f"another entry {entry.name} is already here: the same number with other content"
        if entry.clock > FARTHEST_CLOCK:
            return "its logical clock is beyond any counting"
        opening = self._opening_hash(entry.case) if entry.n == 0 or entry.kind == "case-opened" else ""
        if entry.kind == "case-opened":
            if opening is not None:
                return "the case is already open"
            if entry.n or entry.prev:
                return "it opens the case, and yet follows another entry"
        elif entry.n == 0 and opening is None:
            return NOT_OPEN
        elif entry.n == 0 and entry.prev != opening:
            return "it does not follow the entry that opens the case"
        before, after = self._neighbour(entry, -1), self._neighbour(entry, 1)
        if before is not None and before[0] != entry.prev:
            return "it does not follow the entry before it"
        if after is not None and read_object(after[2])["prev"] != entry.hash:
            return "the entry after it follows another one"
        if (before is not None and before[1] >= entry.clock) or (after is not None and after[1] <= entry.clock):
            return "its logical clock does not run on"
        return ""

    def _opening_hash(self, case: str) -> str | None:
        row = self._one(
            "SELECT hash FROM entry WHERE case_id = ? AND n = 0 AND kind = 'case-opened' ORDER BY clock, device LIMIT 1",
            (case,),
        )
        return str(row[0]) if row else None

    def _neighbour(self, entry: Entry, step: int) -> Any:
        return self._one(
            "SELECT hash, clock, envelope FROM entry WHERE case_id = ? AND device = ? AND n = ?",
            (entry.case, entry.device, entry.n + step),
        )

    def _set_aside(self, entry: Entry, reason: str) -> None:
        self._insert_set_aside({
            "hash": entry.hash, "case": entry.case, "device": entry.device, "n": entry.n, "envelope": entry.envelope_text,
            "salt": entry.salt or "", "body": entry.payload_text or "", "reason": reason, "at": self.now(),
        })  # fmt: skip

    def _insert_set_aside(self, row: Mapping[str, Any]) -> None:
        """Keep what was set aside, once for each reason; without its payload when a removal names it."""
        if self._one("SELECT 1 FROM set_aside WHERE hash = ? AND reason = ?", (row["hash"], row["reason"])):
            return
        if self._one("SELECT 1 FROM removal WHERE entry_hash = ?", (row["hash"],)):
            row = {**row, "salt": "", "body": ""}
        self._connection.execute(
            "INSERT INTO set_aside VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", tuple(row[name] for name in SET_ASIDE)
        )

    def _apply_removal(self, entry: Entry) -> None:
        """Take the payload away, here and among what was set aside. An entry that arrives later arrives without."""
        target = entry.payload()["target"]
        known = self._one("SELECT kind, case_id FROM entry WHERE hash = ?", (target,))
        if known is not None and (known[0] in NEVER_REMOVED or known[1] != entry.case):
            return
        self._connection.execute("INSERT INTO removal VALUES (?, ?)", (target, entry.hash))
        self._connection.execute("DELETE FROM payload WHERE entry_hash = ?", (target,))
        for row in self._rows_set_aside("hash = ?", target):
            self._connection.execute("DELETE FROM set_aside WHERE hash = ? AND reason = ?", (target, row["reason"]))
            self._insert_set_aside(row)

    def _was_removed(self, entry: Entry) -> bool:
        if entry.kind in NEVER_REMOVED:
            return False
        removal = "SELECT 1 FROM removal r JOIN entry e ON e.hash = r.by_entry WHERE r.entry_hash = ? AND e.case_id = ?"
        return self._one(removal, (entry.hash, entry.case)) is not None

    def _rows_set_aside(self, condition: str, value: str) -> list[dict[str, Any]]:
        rows = self._all(
            "SELECT hash, case_id, device, n, envelope, salt, body, reason, at FROM set_aside"
            f" WHERE {condition} ORDER BY hash, reason",
            (value,),
        )
        return [dict(zip(SET_ASIDE, row, strict=True)) for row in rows]
