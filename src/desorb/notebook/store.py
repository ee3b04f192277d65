"""The store: one SQLite file and a folder of originals. It only ever gains entries.

Contents: schema with its triggers; Store (open, append, receive, read, attach, remove); what was set aside.
Settings decide whether an acknowledged entry survives a power cut, so they are asserted at start-up:
WAL with synchronous=FULL ([SQLite-pragma]; simulated power cuts in tests/unit/notebook/test_power_cut.py).
All statements go through `execute`, so that a test can put another SQLite connection underneath.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import sqlite3
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from desorb.errors import NotFound, NotUnderstood, RecordDamaged, Refused, StoreUnavailable, StoreUnfit
from desorb.notebook import attachments
from desorb.notebook.chain import Receipt, first_receipts, sealed_receipt
from desorb.notebook.entry import (
    Entry,
    digest_of_payload,
    entry_of,
    fault_of,
    read_object,
    seal,
)
from desorb.notebook.schema import NEVER_REMOVED, RECORD_OF_KIND, payload_of, record_of

STORE_VERSION = 1
DATABASE_NAME = "record.sqlite"
WAIT_FOR_LOCK_MS = 20_000
FARTHEST_CLOCK = 2**48  # no counting gets there; a clock near the largest number would leave no room for the next entry
NOT_OPEN = "the entry that opens this case is not here"
SET_ASIDE = ("hash", "case", "device", "n", "envelope", "salt", "body", "reason", "at")

SCHEMA = (
    "CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL)",
    "CREATE TABLE entry (hash TEXT PRIMARY KEY, case_id TEXT NOT NULL, device TEXT NOT NULL, n INTEGER NOT NULL,"
    " clock INTEGER NOT NULL, kind TEXT NOT NULL, envelope TEXT NOT NULL, UNIQUE (case_id, device, n))",
    "CREATE INDEX entry_of_case ON entry (case_id, clock, device, n)",
    "CREATE TABLE payload (entry_hash TEXT PRIMARY KEY REFERENCES entry (hash), salt TEXT NOT NULL, body TEXT NOT NULL)",
    "CREATE TABLE receipt (case_id TEXT NOT NULL, store TEXT NOT NULL, arrival INTEGER NOT NULL, at TEXT NOT NULL,"
    " entry_hash TEXT NOT NULL, prev TEXT NOT NULL, hash TEXT NOT NULL, PRIMARY KEY (case_id, store, arrival))",
    "CREATE TABLE set_aside (hash TEXT NOT NULL, case_id TEXT NOT NULL, device TEXT NOT NULL, n INTEGER NOT NULL,"
    " envelope TEXT NOT NULL, salt TEXT NOT NULL, body TEXT NOT NULL, reason TEXT NOT NULL, at TEXT NOT NULL,"
    " UNIQUE (hash, reason))",
    "CREATE TABLE removal (entry_hash TEXT NOT NULL, by_entry TEXT NOT NULL, UNIQUE (entry_hash, by_entry))",
    *(
        f"CREATE TRIGGER {table}_stays_{verb.lower()} BEFORE {verb} ON {table}"
        f" BEGIN SELECT RAISE(ABORT, 'nothing written is changed or erased'); END"
        for table in ("about", "entry", "payload", "receipt", "set_aside", "removal")
        for verb in ("UPDATE", "DELETE")
        if verb == "UPDATE" or table not in ("payload", "set_aside")
    ),
    *(
        f"CREATE TRIGGER {table}_stays_delete BEFORE DELETE ON {table}"
        f" WHEN NOT EXISTS (SELECT 1 FROM removal WHERE entry_hash = OLD.{hash_column})"
        f" BEGIN SELECT RAISE(ABORT, 'a payload goes only by a removal that is itself an entry'); END"
        for table, hash_column in (("payload", "entry_hash"), ("set_aside", "hash"))
    ),
)


@dataclass(frozen=True, slots=True)
class Draft:
    """A record that is about to become an entry."""

    record: Any
    claimed_at: str


@dataclass(slots=True)
class Arrival:
    """What became of entries that came from elsewhere."""

    accepted: list[str] = field(default_factory=list)
    known: list[str] = field(default_factory=list)
    set_aside: list[tuple[str, str]] = field(default_factory=list)  # (entry name, reason)


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


def utc_now() -> str:
    """Now in UTC, to the millisecond, as ISO 8601: such texts order as times do."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def connect_file(path: Path) -> Any:
    """A connection that commits only when told to, with the settings under which nothing acknowledged is lost."""
    return sqlite3.connect(path, isolation_level=None, timeout=WAIT_FOR_LOCK_MS / 1000, check_same_thread=False)


class Store:
    """One store in one folder. Every method is one transaction; it is written to by one thread at a time."""

    def __init__(
        self,
        home: Path,
        *,
        connect: Callable[[Path], Any] = connect_file,
        now: Callable[[], str] = utc_now,
        settings: Sequence[str] = ("PRAGMA journal_mode=WAL", "PRAGMA synchronous=FULL"),
    ) -> None:
        self.home = home
        self.now = now
        self._process = os.getpid()
        self._lock = threading.RLock()
        self._broken = ""
        try:
            attachments.make_folder(attachments.folder(home))
        except OSError as problem:
            raise StoreUnavailable(
                "the store folder cannot be used", got=str(problem), next_step="name another folder with --home"
            ) from problem
        with self._trouble_in_words():
            self._connection = connect(home / DATABASE_NAME)
        try:
            self._set_up(settings)
        except BaseException:
            self.close()
            raise

    def _set_up(self, settings: Sequence[str]) -> None:
        with self._trouble_in_words():
            self._connection.execute(f"PRAGMA busy_timeout={WAIT_FOR_LOCK_MS}").fetchall()
            for setting in settings:
                self._connection.execute(setting).fetchall()
            self._connection.execute("PRAGMA foreign_keys=ON").fetchall()
            self._connection.execute("PRAGMA secure_delete=ON").fetchall()
            self._connection.execute("PRAGMA trusted_schema=OFF").fetchall()
            self._connection.execute("PRAGMA recursive_triggers=ON").fetchall()  # so that REPLACE asks the triggers too
            self._create_or_check()
            self.store_id = self._about("store")
            self.device = self._about("device")

    # -- opening ------------------------------------------------------------------------------------------------

    def _create_or_check(self) -> None:
        with self._transaction():
            has_schema = self._one("SELECT 1 FROM sqlite_master WHERE name = 'about'")
            if not has_schema:
                for statement in SCHEMA:
                    self._connection.execute(statement)
                first = {"version": str(STORE_VERSION), "store": secrets.token_hex(8), "device": secrets.token_hex(4)}
                for key, value in first.items():
                    self._connection.execute("INSERT INTO about VALUES (?, ?)", (key, value))
        version = self._about("version")
        if version != str(STORE_VERSION):
            raise StoreUnfit(
                "this store was written by another version of desorb", got=f"store version {version}",
                wanted=str(STORE_VERSION), next_step="open it with the version that wrote it, and export its cases as bags",
            )  # fmt: skip

    def assert_durable(self) -> None:
        """Refuse to work under settings that lose acknowledged entries in a power cut."""
        with self._lock, self._trouble_in_words():
            mode = self._one("PRAGMA journal_mode")[0]
            synchronous = self._one("PRAGMA synchronous")[0]
        if (str(mode).lower(), int(synchronous)) != ("wal", 2):
            raise StoreUnfit(
                "the store does not run with WAL and synchronous=FULL",
                got=f"journal_mode={mode}, synchronous={synchronous}",
                wanted="journal_mode=wal, synchronous=2 (FULL)",
                next_step="keep the store on a local disk, not on a network drive",
            )

    def _about(self, key: str) -> str:
        row = self._one("SELECT value FROM about WHERE key = ?", (key,))
        if row is None:
            raise RecordDamaged(
                f"the store does not say its {key}", next_step="run 'desorb verify', or import the last exported bag"
            )
        return str(row[0])

    def close(self) -> None:
        with self._lock, contextlib.suppress(Exception):
            self._connection.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # -- statements ----------------------------------------------------------------------------------------------

    def _one(self, statement: str, values: Sequence[Any] = ()) -> Any:
        return self._connection.execute(statement, tuple(values)).fetchone()

    def _all(self, statement: str, values: Sequence[Any] = ()) -> list[Any]:
        return list(self._connection.execute(statement, tuple(values)).fetchall())

    @contextlib.contextmanager
    def _trouble_in_words(self) -> Iterator[None]:
        """After any trouble with the disk: stop accepting, say so, and leave the reopening to a person."""
        if os.getpid() != self._process:
            raise StoreUnfit(
                "this store was opened by another process", next_step="open the store anew in each process"
            )
        if self._broken:
            raise StoreUnavailable(
                "the store stopped accepting entries after trouble with the disk",
                got=self._broken, next_step="close desorb, free space or check the disk, then run 'desorb verify'",
            )  # fmt: skip
        try:
            yield
        except (StoreUnavailable, StoreUnfit, RecordDamaged, NotFound, NotUnderstood, Refused):
            raise
        except Exception as problem:
            words = f"{type(problem).__name__}: {problem}"
            if "locked" in str(problem).lower() or "busy" in str(problem).lower():
                raise StoreUnavailable(
                    "another desorb is writing to this store", got=words, next_step="wait a moment and do it again"
                ) from problem
            from_disk = isinstance(problem, (OSError, UnicodeDecodeError))  # a damaged schema is no text any more
            if not from_disk and not type(problem).__module__.startswith(("sqlite3", "apsw")):
                raise
            self._broken = words
            raise StoreUnavailable(
                "the store could not be read or written; nothing more is accepted",
                got=words, next_step="close desorb, free space or check the disk, then run 'desorb verify'",
            ) from problem  # fmt: skip

    @contextlib.contextmanager
    def _transaction(self) -> Iterator[None]:
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            with contextlib.suppress(Exception):
                self._connection.execute("ROLLBACK")
            raise
        self._connection.execute("COMMIT")

    # -- writing -------------------------------------------------------------------------------------------------

    def open_case(self, record: Any, claimed_at: str) -> str:
        """Open a case: entry 0 of this device in a new chain. Returns the case id (128 random bits)."""
        case = secrets.token_hex(16)
        with self._lock, self._trouble_in_words(), self._transaction():
            self._write(case, Draft(record, claimed_at), opening=True)
        return case

    def append(self, case: str, drafts: Iterable[Draft]) -> list[Entry]:
        """Write records as entries of this device, all or none, and return them once they are on the disk."""
        with self._lock, self._trouble_in_words(), self._transaction():
            return [self._write(case, draft, opening=False) for draft in drafts]

    def append_groups(self, groups: Sequence[tuple[str, Sequence[Draft]]]) -> list[list[Entry]]:
        """Write several callers' records in one commit (group commit): see writer.py."""
        with self._lock, self._trouble_in_words(), self._transaction():
            return [[self._write(case, draft, opening=False) for draft in drafts] for case, drafts in groups]

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

    def _insert(self, entry: Entry) -> None:
        self._connection.execute(
            "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?)",
            (entry.hash, entry.case, entry.device, entry.n, entry.clock, entry.kind, entry.envelope_text),
        )
        self._insert_payload(entry)
        self._receive(entry)

    def _insert_payload(self, entry: Entry) -> None:
        if entry.payload_text is None or self._was_removed(entry):
            return
        self._connection.execute("INSERT INTO payload VALUES (?, ?, ?)", (entry.hash, entry.salt, entry.payload_text))
        if entry.kind == "removal":
            self._apply_removal(entry)

    def _receive(self, entry: Entry) -> None:
        last = self._one(
            "SELECT arrival, hash FROM receipt WHERE case_id = ? AND store = ? ORDER BY arrival DESC LIMIT 1",
            (entry.case, self._about("store")),
        )
        arrival, prev = (last[0] + 1, last[1]) if last is not None else (0, "")
        receipt = sealed_receipt(entry.case, self._about("store"), arrival, self.now(), entry.hash, prev)
        self._insert_receipt(receipt)

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
        arrival = Arrival()
        ordered = sorted(entries, key=lambda entry: (entry.kind != "case-opened", entry.clock, entry.device, entry.n))
        with self._lock, self._trouble_in_words(), self._transaction():
            for entry in ordered:
                self._take_in(entry, arrival)
            for receipt in receipts:
                reason = self._take_in_receipt(receipt)
                if reason:
                    arrival.set_aside.append((f"receipt {receipt.arrival} of store {receipt.store}", reason))
            for row in aside:
                self._insert_set_aside(row)
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
        elif known is not None:
            arrival.known.append(entry.hash)
            if has_news:
                self._insert_payload(entry)  # it had arrived without
        else:
            self._insert(entry)
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
        try:
            sound = sealed_receipt(
                receipt.case, receipt.store, receipt.arrival, receipt.at, receipt.entry, receipt.prev
            ) == receipt  # fmt: skip
        except NotUnderstood:
            sound = False
        if not sound:
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
            record_of(entry.kind, entry.payload())
        except NotUnderstood as problem:
            return problem.what
        return ""

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

    def forget_traces(self) -> None:
        """After a removal: take what was removed out of the write-ahead log too (deleted pages are overwritten)."""
        with self._lock, self._trouble_in_words():
            busy = self._one("PRAGMA wal_checkpoint(TRUNCATE)")[0]
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
            with self._trouble_in_words():
                self._connection.execute("BEGIN")
            try:
                yield
            finally:
                with contextlib.suppress(Exception):
                    self._connection.execute("COMMIT")

    def cases(self) -> list[str]:
        with self._lock, self._trouble_in_words():
            rows = self._all(
                "SELECT case_id FROM entry WHERE n = 0 AND kind = 'case-opened' GROUP BY case_id ORDER BY min(rowid)"
            )
        return [row[0] for row in rows]

    def opening_of(self, case: str) -> dict[str, Any]:
        with self._lock, self._trouble_in_words():
            row = self._one(
                "SELECT p.body FROM entry e JOIN payload p ON p.entry_hash = e.hash WHERE e.case_id = ? AND e.n = 0"
                " AND e.kind = 'case-opened' ORDER BY e.clock, e.device LIMIT 1",
                (case,),
            )
        return read_object(row[0]) if row else {}

    def rows(self, case: str) -> list[Any]:
        """What stands in the file for the entries of a case, unread and unchecked: (hash, case, device, n, clock, kind,
        envelope, salt, payload)."""
        with self._lock, self._trouble_in_words():
            return self._all(
                "SELECT e.hash, e.case_id, e.device, e.n, e.clock, e.kind, e.envelope, p.salt, p.body FROM entry e"
                " LEFT JOIN payload p ON p.entry_hash = e.hash WHERE e.case_id = ? ORDER BY e.clock, e.device, e.n",
                (case,),
            )

    def entries(self, case: str, *, checked: bool = True) -> list[Entry]:
        """All entries of a case. Each text is hashed again on the way out, so silent damage does not pass."""
        return [_entry_of_row(row, checked) for row in self.rows(case)]

    def receipts(self, case: str) -> list[Receipt]:
        with self._lock, self._trouble_in_words():
            rows = self._all(
                "SELECT case_id, store, arrival, at, entry_hash, prev, hash FROM receipt WHERE case_id = ?"
                " ORDER BY store, arrival",
                (case,),
            )
        return [Receipt(*row) for row in rows]

    def known_on(self, case: str, moment: str) -> list[Entry]:
        """Entries whose first receipt, by any store, is not after `moment` (ISO 8601 in UTC, ending in Z)."""
        first = first_receipts(self.receipts(case))
        return [entry for entry in self.entries(case) if first.get(entry.hash, "9") <= moment]

    def set_aside(self, case: str) -> list[dict[str, Any]]:
        """What was set aside and has not been accepted since."""
        with self._lock, self._trouble_in_words():
            return self._rows_set_aside("case_id = ? AND hash NOT IN (SELECT hash FROM entry)", case)

    def _rows_set_aside(self, condition: str, value: str) -> list[dict[str, Any]]:
        rows = self._all(
            "SELECT hash, case_id, device, n, envelope, salt, body, reason, at FROM set_aside"
            f" WHERE {condition} ORDER BY hash, reason",
            (value,),
        )
        return [dict(zip(SET_ASIDE, row, strict=True)) for row in rows]

    def removals_of(self, case: str) -> set[str]:
        """Hashes of what the removals of a case name, also of entries that have not arrived."""
        with self._lock, self._trouble_in_words():
            rows = self._all(
                "SELECT r.entry_hash FROM removal r JOIN entry e ON e.hash = r.by_entry WHERE e.case_id = ?", (case,)
            )
        return {row[0] for row in rows}

    def check_file(self) -> list[str]:
        """What SQLite itself finds wrong with the file; empty when nothing."""
        with self._lock, self._trouble_in_words():
            return [row[0] for row in self._all("PRAGMA integrity_check") if row[0] != "ok"]

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
        with self._trouble_in_words():
            return attachments.read(self.home, sha256)

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


def set_aside_numbers(store: Store, case: str) -> dict[str, set[int]]:
    """Numbers that were set aside and have no accepted entry, by device."""
    numbers: dict[str, set[int]] = {}
    for row in store.set_aside(case):
        numbers.setdefault(row["device"], set()).add(row["n"])
    return numbers
