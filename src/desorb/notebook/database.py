"""The database under the store: its tables and triggers, the settings it runs with, and trouble in words.

Contents: SCHEMA; Database (open, assert the settings, statements, transactions, trouble with the disk in words).
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
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

from desorb.errors import NotFound, NotUnderstood, RecordDamaged, Refused, StoreUnavailable, StoreUnfit
from desorb.notebook import attachments

STORE_VERSION = 1
DATABASE_NAME = "record.sqlite"
WAIT_FOR_LOCK_MS = 20_000

SCHEMA = (
    "CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL)",
    "CREATE TABLE entry (hash TEXT PRIMARY KEY, case_id TEXT NOT NULL, device TEXT NOT NULL, n INTEGER NOT NULL,"
    " clock INTEGER NOT NULL, kind TEXT NOT NULL, envelope TEXT NOT NULL, UNIQUE (case_id, device, n))",
    "CREATE INDEX entry_of_case ON entry (case_id, clock, device, n)",
    "CREATE TABLE payload (entry_hash TEXT PRIMARY KEY REFERENCES entry (hash), salt TEXT NOT NULL, body TEXT NOT NULL)",
    "CREATE TABLE receipt (case_id TEXT NOT NULL, store TEXT NOT NULL, arrival INTEGER NOT NULL, at TEXT NOT NULL,"
    " entry_hash TEXT NOT NULL, prev TEXT NOT NULL, hash TEXT NOT NULL, PRIMARY KEY (case_id, store, arrival))",
    "CREATE INDEX receipt_of_entry ON receipt (entry_hash)",
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


def utc_now() -> str:
    """Now in UTC, to the millisecond, as ISO 8601: such texts order as times do."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def connect_file(path: Path) -> Any:
    """A connection that commits only when told to, with the settings under which nothing acknowledged is lost."""
    return sqlite3.connect(path, isolation_level=None, timeout=WAIT_FOR_LOCK_MS / 1000, check_same_thread=False)


class Database:
    """One SQLite file beside a folder of originals. Every method is one transaction, by one thread at a time."""

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
        self._half_written = False  # a failed transaction could not be undone: not even reading goes on
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
        has_schema = "SELECT 1 FROM sqlite_master WHERE name = 'about'"
        if not self._one(has_schema):  # a store that is only read need not wait for the writer
            self._create(has_schema)
        version = self._about("version")
        if version != str(STORE_VERSION):
            raise StoreUnfit(
                "this store was written by another version of desorb", got=f"store version {version}",
                wanted=str(STORE_VERSION), next_step="open it with the version that wrote it, and export its cases as bags",
            )  # fmt: skip

    def _create(self, has_schema: str) -> None:
        with self._transaction():
            if not self._one(has_schema):
                for statement in SCHEMA:
                    self._connection.execute(statement)
                first = {"version": str(STORE_VERSION), "store": secrets.token_hex(8), "device": secrets.token_hex(4)}
                for key, value in first.items():
                    self._connection.execute("INSERT INTO about VALUES (?, ?)", (key, value))

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

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # -- statements ----------------------------------------------------------------------------------------------

    def _one(self, statement: str, values: Sequence[Any] = ()) -> Any:
        return self._connection.execute(statement, tuple(values)).fetchone()

    def _all(self, statement: str, values: Sequence[Any] = ()) -> list[Any]:
        return list(self._connection.execute(statement, tuple(values)).fetchall())

    def _reading(self) -> contextlib.AbstractContextManager[None]:
        """Around what only reads: it goes on after trouble with the disk, as long as the disk gives what is asked."""
        return self._trouble_in_words(writing=False)

    @contextlib.contextmanager
    def _trouble_in_words(self, *, writing: bool = True) -> Iterator[None]:
        """After any trouble with the disk: stop accepting, say so, and leave the reopening to a person.

        What was half written must not be read: where the failed transaction could not be undone, reading stops too.
        """
        if os.getpid() != self._process:
            raise StoreUnfit(
                "this store was opened by another process", next_step="open the store anew in each process"
            )
        if self._broken and (writing or self._half_written):
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
            self._broken = self._broken or words
            raise StoreUnavailable(
                "the store could not be read or written; nothing more is accepted",
                got=words, next_step="close desorb, free space or check the disk, then run 'desorb verify'",
            ) from problem  # fmt: skip

    @contextlib.contextmanager
    def _transaction(self) -> Iterator[None]:
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._connection.execute("COMMIT")
        except BaseException:
            try:
                self._connection.execute("ROLLBACK")
            except Exception:  # often SQLite has undone it by itself
                self._half_written = bool(getattr(self._connection, "in_transaction", False))
            raise
