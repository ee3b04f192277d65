"""The store: one SQLite file and a folder of originals. It only ever gains entries.

Contents: Draft; Store (open a case, append, read, attach, back up). Opening and settings stand in database.py, what
comes from elsewhere in arriving.py.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from desorb.errors import NotFound, NotUnderstood, RecordDamaged, Refused, StoreUnavailable
from desorb.notebook import attachments
from desorb.notebook.arriving import Arrival, Arriving
from desorb.notebook.chain import Receipt, first_receipts
from desorb.notebook.database import DATABASE_NAME, SCHEMA, connect_file, utc_now
from desorb.notebook.entry import Entry, digest_of_payload, entry_of, read_object, seal
from desorb.notebook.schema import RECORD_OF_KIND, payload_of, record_of

__all__ = ["DATABASE_NAME", "SCHEMA", "Arrival", "Draft", "Store", "connect_file", "set_aside_numbers", "utc_now"]


Work = TypeVar("Work")


@dataclass(frozen=True, slots=True)
class Draft:
    """A record that is about to become an entry."""

    record: Any
    claimed_at: str


def payload_of_draft(draft: Draft, opening: bool) -> dict[str, Any]:
    """The payload to be written. What no fold could read again is refused before anything is written."""
    kind = getattr(draft.record, "KIND", "")
    if type(draft.record) is not RECORD_OF_KIND.get(kind):
        raise NotUnderstood("this is no record of a kind that can be written", got=type(draft.record).__name__)
    if opening != (kind == "case-opened"):
        words = "a case opens with the record that opens it" if opening else "a case is opened once, by its first entry"
        raise Refused(words, got=kind)
    payload = payload_of(draft.record)
    record_of(kind, payload)
    return payload


class Store(Arriving):
    """One store in one folder. Every method is one transaction; it is written to by one thread at a time."""

    # -- writing -------------------------------------------------------------------------------------------------

    def open_case(self, record: Any, claimed_at: str) -> str:
        """Open a case: entry 0 of this device in a new chain. Returns the case id (128 random bits)."""
        case = secrets.token_hex(16)
        with self._lock, self._trouble_in_words(), self._transaction():
            self._write(case, Draft(record, claimed_at), opening=True)
        return case

    def append(self, case: str, drafts: Iterable[Draft]) -> list[Entry]:
        """Write records as entries of this device, all or none, and return them once they are on the disk."""
        return self.in_one_commit([partial(self.write_inside, case, drafts)])[0]

    def append_groups(self, groups: Sequence[tuple[str, Sequence[Draft]]]) -> list[list[Entry]]:
        """Write several callers' records in one commit."""
        return self.in_one_commit([partial(self.write_inside, case, drafts) for case, drafts in groups])

    def in_one_commit(self, works: Sequence[Callable[[], Work]]) -> list[Work]:
        """Do several callers' work in one commit, all or none (group commit): see writer.py. Each work is a call of
        `write_inside` or `receive_inside`."""
        with self._lock, self._trouble_in_words(), self._transaction():
            return [work() for work in works]

    def write_inside(self, case: str, drafts: Iterable[Draft]) -> list[Entry]:
        """Write records inside `in_one_commit`."""
        return [self._write(case, draft, opening=False) for draft in drafts]

    def _write(self, case: str, draft: Draft, *, opening: bool) -> Entry:
        payload = payload_of_draft(draft, opening)
        last = self._one(
            "SELECT n, hash FROM entry WHERE case_id = ? AND device = ? ORDER BY n DESC LIMIT 1", (case, self.device)
        )
        highest = self._one("SELECT max(clock) FROM entry WHERE case_id = ?", (case,))[0]
        if opening:
            prev = ""
        elif last is not None:
            prev = last[1]
        else:
            first = self._opening_hash(case)
            if first is None:
                raise NotFound("there is no such case in this store", got=case, next_step="run 'desorb cases'")
            prev = first
        entry = seal(
            case=case,
            device=self.device,
            n=last[0] + 1 if last is not None else 0,
            prev=prev,
            clock=(highest or 0) + 1,
            kind=draft.record.KIND,
            claimed_at=draft.claimed_at,
            monotonic=time.monotonic_ns() // 1_000_000,
            payload=payload,
        )
        self._insert(entry)
        return entry

    def forget_traces(self) -> None:
        """After a removal: take what was removed out of the write-ahead log too (deleted pages are overwritten)."""
        with self._lock, self._trouble_in_words():
            busy = self._one("PRAGMA wal_checkpoint(TRUNCATE)")[0]
            log = self.home / f"{DATABASE_NAME}-wal"
            if log.exists():
                attachments.sync(log)  # SQLite cuts the log off without syncing it: a power cut would bring it back
        if busy:
            raise StoreUnavailable(
                "what was removed still stands in the log of the store, because another program is reading",
                next_step="close other windows of desorb, then do it again",
            )

    # -- reading -------------------------------------------------------------------------------------------------

    @contextlib.contextmanager
    def one_moment(self) -> Iterator[None]:
        """All that is read inside is of one moment, whoever writes meanwhile. Nothing may be written inside."""
        with self._lock:
            with self._reading():
                self._connection.execute("BEGIN")
            try:
                yield
            finally:
                with contextlib.suppress(Exception):
                    self._connection.execute("COMMIT")

    def cases(self) -> list[str]:
        """The cases that are open here; also one whose first row was damaged, so that looking at it says so."""
        with self._lock, self._reading():
            rows = self._all(
                "SELECT case_id FROM entry WHERE n = 0 AND (kind = 'case-opened' OR"
                ' instr(envelope, \'"kind":"case-opened"\')) GROUP BY case_id ORDER BY min(rowid)'
            )
        return [row[0] for row in rows]

    def opening_of(self, case: str) -> dict[str, Any]:
        with self._lock, self._reading():
            row = self._one(
                "SELECT p.body FROM entry e JOIN payload p ON p.entry_hash = e.hash WHERE e.case_id = ? AND e.n = 0"
                " AND e.kind = 'case-opened' ORDER BY e.clock, e.device LIMIT 1",
                (case,),
            )
        return read_object(row[0]) if row else {}

    def rows(self, case: str) -> list[Any]:
        """What stands in the file for the entries of a case, unread and unchecked: (hash, case, device, n, clock, kind,
        envelope, salt, payload)."""
        with self._lock, self._reading():
            return self._all(
                "SELECT e.hash, e.case_id, e.device, e.n, e.clock, e.kind, e.envelope, p.salt, p.body FROM entry e"
                " LEFT JOIN payload p ON p.entry_hash = e.hash WHERE e.case_id = ? ORDER BY e.clock, e.device, e.n",
                (case,),
            )

    def entries(self, case: str, *, checked: bool = True) -> list[Entry]:
        """All entries of a case. Each text is hashed again on the way out, so silent damage does not pass."""
        return [_entry_of_row(row, checked) for row in self.rows(case)]

    def receipts(self, case: str) -> list[Receipt]:
        with self._lock, self._reading():
            rows = self._all(
                "SELECT case_id, store, arrival, at, entry_hash, prev, hash FROM receipt WHERE case_id = ?"
                " ORDER BY store, arrival",
                (case,),
            )
        return [Receipt(*row) for row in rows]

    def receipts_of(self, case: str, hashes: Sequence[str]) -> list[Receipt]:
        """The receipts of these entries only."""
        with self._lock, self._reading():
            marks = ", ".join("?" * len(hashes))
            rows = self._all(
                "SELECT case_id, store, arrival, at, entry_hash, prev, hash FROM receipt WHERE case_id = ?"
                f" AND entry_hash IN ({marks})",
                (case, *hashes),
            )
        return [Receipt(*row) for row in rows]

    def numbers_of(self, case: str, devices: Iterable[str]) -> dict[str, set[int]]:
        """The numbers of these devices' entries that are here."""
        with self._lock, self._reading():
            return {
                device: {
                    row[0] for row in self._all("SELECT n FROM entry WHERE case_id = ? AND device = ?", (case, device))
                }
                for device in devices
            }

    def described_instruments(self, case: str) -> set[str]:
        """Ids of the instruments that are described in a case."""
        with self._lock, self._reading():
            rows = self._all(
                "SELECT p.body FROM entry e JOIN payload p ON p.entry_hash = e.hash WHERE e.case_id = ?"
                " AND e.kind = 'instrument'",
                (case,),
            )
        return {str(read_object(row[0]).get("id", "")) for row in rows}

    def names_picture(self, case: str, sha256: str) -> bool:
        """Does an entry of this case whose content is here name these bytes as a photo or as a picture of the plan?"""
        with self._lock, self._reading():
            row = self._one(
                "SELECT 1 FROM entry e JOIN payload p ON p.entry_hash = e.hash WHERE e.case_id = ?"
                " AND e.kind IN ('photo', 'plan-picture') AND instr(p.body, ?) > 0 LIMIT 1",
                (case, sha256),
            )
        return row is not None

    def highest_clock(self, case: str) -> int:
        """The highest logical clock of a case that is open here."""
        with self._lock, self._reading():
            row = self._one("SELECT clock FROM entry WHERE case_id = ? ORDER BY clock DESC LIMIT 1", (case,))
        return int(row[0]) if row else 0

    def known_on(self, case: str, moment: str) -> list[Entry]:
        """Entries whose first receipt, by any store, is not after `moment` (ISO 8601 in UTC, ending in Z)."""
        first = first_receipts(self.receipts(case))
        return [entry for entry in self.entries(case) if first.get(entry.hash, "9") <= moment]

    def set_aside(self, case: str) -> list[dict[str, Any]]:
        """What was set aside and has not been accepted since."""
        with self._lock, self._reading():
            return self._rows_set_aside("case_id = ? AND hash NOT IN (SELECT hash FROM entry)", case)

    def removals_of(self, case: str) -> set[str]:
        """Hashes of what the removals of a case name, also of entries that have not arrived."""
        with self._lock, self._reading():
            rows = self._all(
                "SELECT r.entry_hash FROM removal r JOIN entry e ON e.hash = r.by_entry WHERE e.case_id = ?", (case,)
            )
        return {row[0] for row in rows}

    def check_file(self) -> list[str]:
        """What SQLite finds wrong with the file, and what was set aside in no case that knows of it."""
        with self._lock, self._reading():
            faults = [row[0] for row in self._all("PRAGMA integrity_check") if row[0] != "ok"]
            aside = self._all("SELECT case_id, device, n, envelope FROM set_aside ORDER BY hash")
        return faults + [
            f"what was set aside as {device}/{n} stands in the wrong case"
            for case, device, n, envelope in aside
            if not _names_case(envelope, case)
        ]

    def back_up(self, target: Path) -> None:
        """A consistent copy while others write. A plain copy of the file is not one: the log beside it would be lost."""
        if os.path.lexists(target):
            raise Refused("the backup would overwrite a file", got=str(target), next_step="name a new file")
        with self._lock, self._trouble_in_words():
            try:
                self._connection.execute("VACUUM INTO ?", (str(target),))
                attachments.sync(target)
                attachments.sync(target.parent)
            except Exception as problem:  # trouble with the other disk is no trouble with this one
                with contextlib.suppress(OSError):
                    target.unlink()
                raise StoreUnavailable(
                    "the backup could not be written", got=f"{type(problem).__name__}: {problem}",
                    next_step="name a file in a folder with enough room",
                ) from problem  # fmt: skip

    # -- originals -----------------------------------------------------------------------------------------------

    def attach(self, content: bytes) -> str:
        """Keep bytes under their SHA-256, on the disk before this returns. An entry that names them comes after."""
        with self._trouble_in_words():
            return attachments.keep(self.home, content)

    def attachment(self, sha256: str) -> bytes | None:
        with self._reading():
            return attachments.read(self.home, sha256)

    @contextlib.contextmanager
    def writing_original(self) -> Iterator[None]:
        """Around the writing of an original in pieces. A full disk is said and stops nothing: no name points there yet."""
        with self._trouble_in_words():
            try:
                yield
            except OSError as problem:
                if problem.errno not in (errno.ENOSPC, errno.EDQUOT):
                    raise
                raise StoreUnavailable(
                    "the photo could not be kept", got=f"disk full: {problem}",
                    next_step="free space; the photo stays on the device until then",
                ) from problem  # fmt: skip

    def drop_attachment(self, sha256: str) -> None:
        with self._trouble_in_words():
            attachments.drop(self.home, sha256)


def _entry_of_row(row: Any, checked: bool) -> Entry:
    try:
        entry = entry_of(row[6], row[7], row[8])
        sound = not checked or tuple(row[:6]) == (
            entry.hash, entry.case, entry.device, entry.n, entry.clock, entry.kind
        )  # fmt: skip
        if checked and entry.payload_text is not None and entry.salt is not None:
            sound = sound and digest_of_payload(entry.salt, entry.payload_text) == entry.payload_digest
    except (NotUnderstood, AttributeError, TypeError, ValueError):  # a damaged file gives bytes or nothing for text
        sound = False
    if not sound:
        raise RecordDamaged(
            f"entry {row[2]}/{row[3]} does not match its hash",
            next_step="run 'desorb verify', then import the last exported bag into a new store",
        )
    return entry


def _names_case(envelope: Any, case: object) -> bool:
    try:
        return entry_of(envelope, None, None).case == case
    except (NotUnderstood, AttributeError, TypeError):  # a damaged file gives bytes or nothing for text
        return False


def set_aside_numbers(store: Store, case: str) -> dict[str, set[int]]:
    """Numbers that were set aside and have no accepted entry, by device."""
    numbers: dict[str, set[int]] = {}
    for row in store.set_aside(case):
        numbers.setdefault(row["device"], set()).add(row["n"])
    return numbers
