"""The store: it only gains entries, under settings that lose none, and says in words what is wrong.

Sources beside the checks: [SQLite-pragma] synchronous and journal_mode, [SQLite-wal] durability of WAL with NORMAL,
[SQLite-trigger] REPLACE fires delete triggers only with recursive_triggers. TRUST names the bar (A, B, C).
"""

from __future__ import annotations

import hashlib
import os
import random
import re
import secrets
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from desorb.core.kinds import CaseOpened, Note, Photo, Removal, ReportIssued, Strike
from desorb.errors import (
    DesorbError,
    NotFound,
    NotUnderstood,
    RecordDamaged,
    Refused,
    StoreUnavailable,
    StoreUnfit,
)
from desorb.notebook import attachments
from desorb.notebook.chain import faults_of_chains, faults_of_receipts, gaps_of, sealed_receipt
from desorb.notebook.entry import LARGEST_INTEGER, Entry, entry_of, seal
from desorb.notebook.fold import fold
from desorb.notebook.schema import payload_of
from desorb.notebook.store import DATABASE_NAME, SCHEMA, Draft, Store, connect_file, set_aside_numbers
from desorb.notebook.verify import verify_store

AT = "2026-03-02T09:00:00+00:00"
TABLES = ("about", "entry", "payload", "receipt", "set_aside", "removal")


def opened(name: str = "A") -> CaseOpened:
    return CaseOpened(name, "site", "Europe/London")


def note(words: str = "x") -> Draft:
    return Draft(Note(words, AT), AT)


def sealed(record: Any, case: str, **changes: Any) -> Entry:
    parts: dict[str, Any] = {
        "case": case, "device": "far", "n": 0, "prev": "", "clock": 1, "kind": record.KIND, "claimed_at": AT,
        "monotonic": 0, "payload": payload_of(record),
    }  # fmt: skip
    return seal(**(parts | changes))


class Clock:
    """Injected time: an ISO moment in UTC that moves only when told."""

    def __init__(self, moment: str = "2026-03-02T09:00:00.000Z") -> None:
        self.moment = moment

    def __call__(self) -> str:
        return self.moment


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "home") as opened_store:
        yield opened_store


def raw(home: Path) -> sqlite3.Connection:
    return sqlite3.connect(home / DATABASE_NAME, isolation_level=None)


def case_of(store: Store, count: int = 3) -> str:
    case = store.open_case(opened(), AT)
    if count:
        store.append(case, [note(str(n)) for n in range(count)])
    return case


def chain_from(opening: Entry, count: int, device: str = "far") -> list[Entry]:
    """Notes of another device that has seen the opening entry."""
    entries: list[Entry] = []
    for n in range(count):
        prev = entries[-1].hash if entries else opening.hash
        entries.append(sealed(Note(f"{device} {n}", AT), opening.case, device=device, n=n, prev=prev, clock=n + 2))
    return entries


# -- opening and settings ---------------------------------------------------------------------------------------------


def test_the_shipped_settings_are_durable(store: Store) -> None:
    """[SQLite-pragma] WAL with synchronous=FULL syncs the log after each commit."""
    store.assert_durable()
    assert store._one("PRAGMA journal_mode")[0] == "wal"
    assert store._one("PRAGMA synchronous")[0] == 2
    assert store._one("PRAGMA foreign_keys")[0] == 1
    assert store._one("PRAGMA secure_delete")[0] == 1
    assert store._one("PRAGMA trusted_schema")[0] == 0
    assert store._one("PRAGMA recursive_triggers")[0] == 1


@pytest.mark.parametrize(
    "settings",
    [
        ("PRAGMA journal_mode=WAL", "PRAGMA synchronous=NORMAL"),  # [SQLite-wal] may roll back after a power cut
        ("PRAGMA journal_mode=WAL", "PRAGMA synchronous=OFF"),
        ("PRAGMA journal_mode=DELETE", "PRAGMA synchronous=FULL"),
        ("PRAGMA journal_mode=DELETE", "PRAGMA synchronous=EXTRA"),
        ("PRAGMA journal_mode=MEMORY", "PRAGMA synchronous=FULL"),
        ("PRAGMA journal_mode=OFF", "PRAGMA synchronous=OFF"),
    ],
    ids=lambda settings: " ".join(setting.partition("=")[2] for setting in settings),
)
def test_other_settings_are_refused(tmp_path: Path, settings: tuple[str, ...]) -> None:
    with Store(tmp_path, settings=settings) as store, pytest.raises(StoreUnfit, match="WAL and synchronous=FULL") as no:
        store.assert_durable()
    assert "journal_mode=" in no.value.got
    assert no.value.next_step


def test_a_store_keeps_its_names_for_ever(tmp_path: Path) -> None:
    with Store(tmp_path) as first:
        names = (first.store_id, first.device)
        case = case_of(first)
    assert [len(name) for name in names] == [16, 8]
    with Store(tmp_path) as again:
        assert (again.store_id, again.device) == names
        assert again.cases() == [case]
        assert len(again.entries(case)) == 4
    with Store(tmp_path / "other") as other:
        assert (other.store_id, other.device) != names


def test_two_programs_that_make_the_store_at_once_make_one(tmp_path: Path) -> None:
    """The second finds the tables only once it may write: it must not make them again, nor take another name."""
    inside: list[Store] = []

    class Slow(Failing):
        def execute(self, statement: str, values: Any = ()) -> Any:
            if statement == "BEGIN IMMEDIATE" and not inside:
                inside.append(Store(tmp_path))
            return super().execute(statement, values)

    with Store(tmp_path, connect=lambda path: Slow(connect_file(path))) as second:
        assert (second.store_id, second.device) == (inside[0].store_id, inside[0].device)
        case = case_of(second)
        assert len(inside[0].entries(case)) == 4
    inside[0].close()


def test_a_store_of_another_version_is_refused_in_words(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        store._connection.execute("DROP TRIGGER about_stays_update")
        store._connection.execute("UPDATE about SET value = '9' WHERE key = 'version'")
    with pytest.raises(StoreUnfit, match="another version") as no:
        Store(tmp_path)
    assert no.value.got == "store version 9"


def test_a_store_that_does_not_say_who_it_is_is_damaged(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        store._connection.execute("DROP TRIGGER about_stays_delete")
        store._connection.execute("DELETE FROM about WHERE key = 'device'")
    with pytest.raises(RecordDamaged, match="does not say its device"):
        Store(tmp_path)


def test_a_home_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreUnavailable, match="folder cannot be used") as no:
        Store(tmp_path / "file" / "home")
    assert "--home" in no.value.next_step


def test_a_home_that_is_no_place_for_a_database_is_said(tmp_path: Path) -> None:
    (tmp_path / DATABASE_NAME).mkdir()
    with pytest.raises(StoreUnavailable):
        Store(tmp_path)


def test_every_new_folder_is_on_the_disk_before_the_store_speaks(tmp_path: Path, monkeypatch: Any) -> None:
    """A folder that was not synced may be gone after a power cut, with all that stands in it."""
    synced: list[str] = []
    real = os.fsync

    def watched(descriptor: int) -> None:
        synced.append(os.readlink(f"/proc/self/fd/{descriptor}"))
        real(descriptor)

    monkeypatch.setattr(os, "fsync", watched)
    home = tmp_path / "a" / "b" / "home"
    with Store(home):
        assert {str(tmp_path), str(tmp_path / "a"), str(tmp_path / "a" / "b"), str(home)} <= set(synced)


# -- writing ----------------------------------------------------------------------------------------------------------


def test_entries_form_a_chain_with_receipts(store: Store) -> None:
    case = case_of(store, 5)
    entries = store.entries(case)
    assert [entry.n for entry in entries] == list(range(6))
    assert [entry.clock for entry in entries] == list(range(1, 7))
    assert {entry.device for entry in entries} == {store.device}
    assert faults_of_chains(entries) == []
    assert faults_of_receipts(store.receipts(case), {entry.hash for entry in entries}) == []
    assert len(case) == 32
    assert store.opening_of(case)["name"] == "A"


def test_an_append_is_all_or_nothing(store: Store) -> None:
    case = case_of(store)
    before = store.entries(case)
    for bad in (Draft(Note(words=1.5, at=AT), AT), Draft(Note("x", AT), 5), Draft("text", AT)):  # type: ignore[arg-type]
        with pytest.raises(NotUnderstood):
            store.append(case, [note("good"), bad, note("good")])
        assert store.entries(case) == before
    assert [entry.n for entry in store.append(case, [note()])] == [4]


@pytest.mark.parametrize(
    "record",
    [
        Note(words=5, at=AT), Note(words=True, at=AT), Note(words=("x",), at=AT), Note(words={"a": 1}, at=AT),
        {"words": "x"}, None, Note, Draft(Note("x", AT), AT),
    ],
    ids=repr,
)  # fmt: skip
def test_what_no_fold_could_read_is_not_acknowledged(store: Store, record: Any) -> None:
    """A record with a part of the wrong kind would be written for ever and understood by nobody."""
    case = case_of(store, 0)
    with pytest.raises(NotUnderstood):
        store.append(case, [Draft(record, AT)])
    assert len(store.entries(case)) == 1
    with pytest.raises((NotUnderstood, Refused)):
        store.open_case(record, AT)


def test_only_the_opening_of_a_case_opens_it(store: Store) -> None:
    case = case_of(store)
    with pytest.raises(Refused, match="opened once"):
        store.append(case, [Draft(opened(), AT)])
    with pytest.raises(Refused, match="opens with"):
        store.open_case(Note("x", AT), AT)
    assert store.cases() == [case]


def test_a_case_that_is_not_here_is_said(store: Store) -> None:
    with pytest.raises(NotFound, match="no such case"):
        store.append("0" * 32, [note()])
    assert store.entries("0" * 32) == []
    assert store.opening_of("0" * 32) == {}
    assert store.append(case_of(store), []) == []


def test_a_second_device_follows_the_opening_entry(store: Store, tmp_path: Path) -> None:
    case = case_of(store)
    with Store(tmp_path / "second") as second:
        second.receive(store.entries(case), store.receipts(case))
        (entry,) = second.append(case, [note("second")])
        assert (entry.n, entry.prev, entry.clock) == (0, store.entries(case)[0].hash, 5)
        arrival = store.receive(second.entries(case), second.receipts(case))
        assert arrival.accepted == [entry.hash]
        assert faults_of_chains(store.entries(case)) == []
        assert {e.hash for e in store.entries(case)} == {e.hash for e in second.entries(case)}
        assert fold(store.entries(case)) == fold(second.entries(case))


def test_groups_are_written_in_one_commit(store: Store) -> None:
    one, two = case_of(store, 0), case_of(store, 0)
    commits: list[str] = []
    store._connection.set_trace_callback(lambda text: commits.append(text) if text == "COMMIT" else None)
    written = store.append_groups([(one, [note("a"), note("b")]), (two, [note("c")]), (one, [note("d")])])
    assert [[entry.n for entry in group] for group in written] == [[1, 2], [1], [3]]
    assert commits == ["COMMIT"]


# -- nothing is changed or erased -------------------------------------------------------------------------------------


@pytest.fixture
def full(tmp_path: Path) -> Path:
    """A home with at least one row in every table."""
    home = tmp_path / "full"
    with Store(home) as store:
        case = case_of(store)
        target = store.entries(case)[2]
        store.append(case, [Draft(Removal(target.hash, "asked", "law", "x", AT), AT)])
        twin = sealed(Note("twin", AT), case, device=store.device, n=1, prev=target.prev, clock=2)
        assert store.receive([twin]).set_aside
    return home


@pytest.mark.parametrize("table", TABLES)
def test_triggers_refuse_every_change(full: Path, table: str) -> None:
    """TRUST B6, with a plain connection that knows nothing of desorb: each row, each column."""
    connection = raw(full)
    rows = connection.execute(f"SELECT * FROM {table}").fetchall()
    assert rows
    for (column,) in connection.execute(f"SELECT name FROM pragma_table_info('{table}')").fetchall():
        for statement in (
            f"UPDATE {table} SET {column} = 'x'",
            f"UPDATE {table} SET {column} = {column}",
            f"UPDATE OR REPLACE {table} SET {column} = 'x' WHERE rowid = 1",
            f"UPDATE OR IGNORE {table} SET {column} = 'x'",
        ):
            with pytest.raises(sqlite3.IntegrityError, match="nothing written is changed"):
                connection.execute(statement)
    for condition in ("", " WHERE rowid = 1", f" WHERE rowid = (SELECT max(rowid) FROM {table})"):
        with pytest.raises(sqlite3.IntegrityError, match=r"changed or erased|removal that is itself an entry"):
            connection.execute(f"DELETE FROM {table}{condition}")
    assert connection.execute(f"SELECT * FROM {table}").fetchall() == rows
    connection.close()


@pytest.mark.parametrize("table", TABLES)
def test_replacing_a_row_is_a_change_too(full: Path, table: str) -> None:
    """[SQLite-trigger] INSERT OR REPLACE would delete without asking the trigger; the store's connection asks it."""
    with Store(full) as store:
        rows = store._all(f"SELECT * FROM {table}")
        marks = ", ".join("?" for _ in rows[0])
        with pytest.raises(sqlite3.IntegrityError):
            store._connection.execute(f"INSERT OR REPLACE INTO {table} VALUES ({marks})", tuple(rows[0]))
        assert store._all(f"SELECT * FROM {table}") == rows


def test_every_table_of_the_schema_is_guarded(full: Path) -> None:
    """A table that is added later without triggers fails here."""
    connection = raw(full)
    tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    guarded = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")}
    assert tables == set(TABLES)
    for table in tables:
        assert {f"{table}_stays_update", f"{table}_stays_delete"} <= guarded
    connection.close()


def test_a_payload_goes_only_by_a_removal(full: Path) -> None:
    connection = raw(full)
    (kept,) = connection.execute("SELECT entry_hash FROM payload LIMIT 1").fetchone()
    with pytest.raises(sqlite3.IntegrityError, match="removal that is itself an entry"):
        connection.execute("DELETE FROM payload WHERE entry_hash = ?", (kept,))
    with pytest.raises(sqlite3.IntegrityError):
        connection.execute("UPDATE payload SET body = '' WHERE entry_hash = ?", (kept,))
    connection.close()


def test_no_statement_of_the_store_changes_or_erases_anything_else() -> None:
    """What the source says: one guarded DELETE of payloads, one of what was set aside and then removed, no UPDATE."""
    folder = Path(sys.modules[Store.__module__].__file__ or "").parent
    program = "".join(
        text[re.search(r"^class (Database|Arriving|Store)\b", text, re.MULTILINE).start() :]  # type: ignore[union-attr]
        for name in ("database.py", "arriving.py", "store.py")
        for text in [(folder / name).read_text(encoding="utf-8")]
    )
    assert re.findall(r"UPDATE \w+", program) == []
    assert sorted(set(re.findall(r"DELETE FROM \w+", program))) == ["DELETE FROM payload", "DELETE FROM set_aside"]
    assert "DROP" not in program
    assert len(SCHEMA) == 6 + 2 + 2 * len(TABLES)  # tables, indexes, triggers


# -- removal ----------------------------------------------------------------------------------------------------------


def everything_in(home: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(home.rglob("*")) if path.is_file())


@pytest.mark.parametrize("length", [16, 300, 5_000, 60_000], ids=["short", "a line", "over a page", "many pages"])
def test_what_was_removed_is_gone_from_every_file(tmp_path: Path, length: int) -> None:
    """TRUST B13: gone from the database file, its log and its free pages; the chain still verifies."""
    secret = secrets.token_hex(length // 2)
    home = tmp_path / "home"
    with Store(home) as store:
        case = case_of(store, 0)
        (target,) = store.append(case, [note(secret)])
        store.append(case, [note(str(n) * 500) for n in range(9)])
        assert secret[:16].encode() in everything_in(home)
        assert target.salt is not None
        store.append(case, [Draft(Removal(target.hash, "asked", "law", "x", AT, ("S1",)), AT)])
        store.forget_traces()
        for part in {secret[start : start + 12] for start in range(0, len(secret) - 12, max(1, len(secret) // 60))}:
            assert part.encode() not in everything_in(home)
        assert target.salt.encode() not in everything_in(home)
        entries = store.entries(case)
        assert faults_of_chains(entries) == []
        assert faults_of_receipts(store.receipts(case), {entry.hash for entry in entries}) == []
        assert store.removals_of(case) == {target.hash}
        folded = fold(entries)
        assert [removed.hash for removed in folded.removed] == [target.hash]
        assert len(folded.notes) == 9
        assert store.check_file() == []
    for part in (secret[:12], secret[-12:]):
        assert part.encode() not in everything_in(home)
    assert target.hash.encode() in everything_in(home)


def test_a_removal_says_when_a_reader_keeps_the_log(tmp_path: Path) -> None:
    """Another connection that still reads keeps the removed text in the log: that must not pass in silence."""
    with Store(tmp_path) as store:
        case = case_of(store)
        store._connection.execute("PRAGMA busy_timeout=20")
        reader = raw(tmp_path)
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM entry").fetchone()
        target = store.entries(case)[1]
        store.append(case, [Draft(Removal(target.hash, "asked", "law", "x", AT), AT)])
        with pytest.raises(StoreUnavailable, match="still stands in the log"):
            store.forget_traces()
        reader.execute("COMMIT")
        reader.close()
        store.forget_traces()
        assert (tmp_path / f"{DATABASE_NAME}-wal").stat().st_size == 0


def test_a_removal_reaches_an_entry_that_arrives_later(store: Store, tmp_path: Path) -> None:
    """Bags and batches come in any order: what was lawfully removed does not come back by arriving late."""
    case = case_of(store, 0)
    secret = secrets.token_hex(40)
    with Store(tmp_path / "second") as second:
        second.receive(store.entries(case))
        (target,) = second.append(case, [note(secret)])
        removal = sealed(Removal(target.hash, "asked", "law", "x", AT), case, prev=store.entries(case)[0].hash, clock=9)
        assert store.receive([removal]).accepted
        assert fold(store.entries(case)).waiting_removals
        assert store.receive([target]).accepted == [target.hash]
    assert secret.encode() not in everything_in(store.home)
    assert [removed.hash for removed in fold(store.entries(case)).removed] == [target.hash]
    assert store.removals_of(case) == {target.hash}
    assert store.receive([target]).known == [target.hash]
    assert secret.encode() not in everything_in(store.home)


def test_a_removal_reaches_what_was_set_aside(store: Store) -> None:
    """A quarantine must not keep what the law wants gone, whether it came before the removal or comes after."""
    case = case_of(store)
    before, after = secrets.token_hex(40), secrets.token_hex(40)
    own = store.entries(case)
    twins = [
        sealed(Note(words, AT), case, device=store.device, n=n, prev=own[n - 1].hash, clock=n + 1)
        for n, words in ((1, before), (2, after))
    ]
    assert store.receive(twins[:1]).set_aside
    opening = own[0]
    removals = [
        sealed(Removal(twin.hash, "asked", "law", "x", AT), case, device=f"r{n}", prev=opening.hash, clock=9)
        for n, twin in enumerate(twins)
    ]
    assert len(store.receive(removals).accepted) == 2
    assert store.receive(twins[1:]).set_aside
    store.forget_traces()
    for words in (before, after):
        assert words.encode() not in everything_in(store.home)
    rows = store.set_aside(case)
    assert sorted(row["hash"] for row in rows) == sorted(twin.hash for twin in twins)
    assert {(row["salt"], row["body"]) for row in rows} == {("", "")}
    assert {row["envelope"] for row in rows} == {twin.envelope_text for twin in twins}
    carried = [row | {"salt": "ab" * 16, "body": f'{{"words":"{after}"}}', "reason": "elsewhere"} for row in rows]
    store.receive([], aside=carried)
    assert after.encode() not in everything_in(store.home)
    assert len(store.set_aside(case)) == 4


@pytest.mark.parametrize("kind", ["case-opened", "removal", "strike", "report-issued"])
def test_what_is_never_removed_keeps_its_payload(store: Store, kind: str) -> None:
    case = case_of(store, 0)
    records = {
        "case-opened": None, "removal": Removal("0" * 64, "", "", "", AT), "strike": Strike("0" * 64, "", "", AT),
        "report-issued": ReportIssued(1, AT, (), (), "", "", ""),
    }  # fmt: skip
    record = records[kind]
    target = store.append(case, [Draft(record, AT)])[0] if record else store.entries(case)[0]
    store.append(case, [Draft(Removal(target.hash, "asked", "law", "x", AT), AT)])
    (kept,) = (entry for entry in store.entries(case) if entry.hash == target.hash)
    assert kept.payload_text is not None
    assert fold(store.entries(case)).removed == ()
    late = sealed(record or opened(), case, device="zz", n=5, prev="0" * 64, clock=30)
    store.append(case, [Draft(Removal(late.hash, "asked", "law", "x", AT), AT)])
    store.receive([late])
    assert all(entry.payload_text is not None for entry in store.entries(case))


def test_a_removal_reaches_only_its_own_case(store: Store) -> None:
    one, two = case_of(store), case_of(store)
    target = store.entries(two)[1]
    store.append(one, [Draft(Removal(target.hash, "asked", "law", "x", AT), AT)])
    assert all(entry.payload_text is not None for entry in store.entries(two))
    late = sealed(Note("late", AT), two, prev=store.entries(two)[0].hash, clock=9)
    store.append(one, [Draft(Removal(late.hash, "asked", "law", "x", AT), AT)])
    store.receive([late])
    assert all(entry.payload_text is not None for entry in store.entries(two))
    store.append(two, [Draft(Removal(late.hash, "asked", "law", "x", AT), AT)])
    assert [entry.hash for entry in store.entries(two) if entry.payload_text is None] == [late.hash]


def test_a_removal_twice_is_two_entries_and_one_loss(store: Store) -> None:
    case = case_of(store)
    target = store.entries(case)[1]
    for why in ("asked", "asked again"):
        store.append(case, [Draft(Removal(target.hash, why, "law", "x", AT), AT)])
    (removed,) = fold(store.entries(case)).removed
    assert removed.removal.record.why == "asked"
    assert store.removals_of(case) == {target.hash}


def test_a_payload_that_comes_after_its_entry_is_taken_in(store: Store) -> None:
    """An entry may arrive without its payload; the payload follows, unless a removal names it."""
    case = case_of(store, 0)
    chain = chain_from(store.entries(case)[0], 3)
    bare = [entry_of(entry.envelope_text, None, None) for entry in chain]
    assert store.receive(bare).accepted == [entry.hash for entry in bare]
    assert len(fold(store.entries(case)).not_understood) == 3
    foreign = replace(chain[0], payload_text=chain[1].payload_text)
    assert store.receive([foreign]).set_aside == [("far/0", "the payload does not match its digest")]
    arrival = store.receive(chain[:2])
    assert arrival.known == [entry.hash for entry in chain[:2]]
    assert [each.record.words for each in fold(store.entries(case)).notes] == ["far 0", "far 1"]
    receipts = store.receipts(case)
    store.append(case, [Draft(Removal(chain[2].hash, "asked", "law", "x", AT), AT)])
    store.receive(chain)
    assert [entry.hash for entry in store.entries(case) if entry.payload_text is None] == [chain[2].hash]
    assert store.receipts(case)[: len(receipts)] == receipts


def test_a_removal_whose_payload_comes_later_is_applied_then(store: Store) -> None:
    case = case_of(store)
    target = store.entries(case)[1]
    removal = sealed(Removal(target.hash, "", "", "", AT), case, prev=store.entries(case)[0].hash, clock=9)
    store.receive([entry_of(removal.envelope_text, None, None)])
    assert store.removals_of(case) == set()
    store.receive([removal])
    assert store.removals_of(case) == {target.hash}
    assert store.entries(case)[1].payload_text is None


# -- receiving and setting aside --------------------------------------------------------------------------------------


def test_taking_in_twice_adds_nothing(store: Store) -> None:
    """TRUST C3: the same identity and bytes again are known, without a new receipt."""
    case = case_of(store, 0)
    chain = chain_from(store.entries(case)[0], 5)
    assert store.receive(chain).accepted == [entry.hash for entry in chain]
    before = (store.entries(case), store.receipts(case))
    for again in (chain, chain[::-1], chain + chain):
        arrival = store.receive(again)
        assert (arrival.accepted, arrival.set_aside) == ([], [])
        assert set(arrival.known) == {entry.hash for entry in chain}
    assert (store.entries(case), store.receipts(case)) == before


def test_fifty_threads_with_the_same_entry_make_one_row(store: Store) -> None:
    """TRUST C3: a race of 50 identical arrivals gives one row and one receipt."""
    case = case_of(store, 0)
    (entry,) = chain_from(store.entries(case)[0], 1)
    together = threading.Barrier(50)
    accepted: list[str] = []

    def post() -> None:
        together.wait()
        accepted.extend(store.receive([entry]).accepted)

    threads = [threading.Thread(target=post) for _ in range(50)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert accepted == [entry.hash]
    assert len(store.receipts(case)) == 2


def test_a_batch_with_a_later_number_waits_visibly(store: Store) -> None:
    """TRUST C4: 7 before 5 and 6: taken in, shown as a gap, closed when they come."""
    case = case_of(store, 0)
    chain = chain_from(store.entries(case)[0], 8)
    assert len(store.receive([*chain[:5], chain[7]]).accepted) == 6
    assert [str(gap) for gap in gaps_of(store.entries(case))] == ["device far: 5-6 have not arrived"]
    store.receive([chain[6]])
    assert [str(gap) for gap in gaps_of(store.entries(case))] == ["device far: 5 has not arrived"]
    store.receive([chain[5]])
    assert gaps_of(store.entries(case)) == ()
    assert faults_of_chains(store.entries(case)) == []


def test_the_same_number_with_other_content_is_kept_aside(store: Store) -> None:
    """TRUST C3: a security event, kept with its bytes and reported, never merged and never dropped."""
    case = case_of(store)
    own = store.entries(case)
    twin = sealed(Note("forged", AT), case, device=store.device, n=2, prev=own[1].hash, clock=3)
    arrival = store.receive([twin])
    assert arrival.set_aside == [(twin.name, f"another entry {twin.name} is already here: "
                                             "the same number with other content")]  # fmt: skip
    assert store.entries(case) == own
    (row,) = store.set_aside(case)
    assert (row["hash"], row["envelope"], row["salt"], row["body"]) == (
        twin.hash, twin.envelope_text, twin.salt, twin.payload_text,
    )  # fmt: skip
    assert set_aside_numbers(store, case) == {store.device: {2}}
    assert fold(own, set_aside_numbers(store, case)).gaps == ()
    store.receive([twin])
    assert len(store.set_aside(case)) == 1


def poison(case: str, opening: Entry) -> dict[str, Entry]:
    """Entries that can never be accepted, each with the words it gets."""

    def made(**changes: Any) -> Entry:
        return sealed(Note("x", AT), case, **({"prev": opening.hash, "clock": 5} | changes))

    good = made()
    return {
        "does not know this kind": made(kind="hologram"),
        "note.words is of the wrong kind": made(payload={"words": 5, "at": AT}),
        "note lacks at": made(payload={"words": "x"}),
        "parts that are not known": made(payload={"words": "x", "at": AT, "more": 1}),
        "the payload does not match its digest": replace(good, payload_text='{"at":"","words":"other"}'),
        "the salt is not": replace(good, salt="zz"),
        "schema desorb/9": entry_of(good.envelope_text.replace("desorb/1", "desorb/9"), None, None),
        "the envelope is not in canonical form": entry_of(good.envelope_text.replace('"n":0', '"n": 0'), None, None),
        "it does not follow the entry that opens the case": made(prev="0" * 64),
        "the case is already open": sealed(opened("B"), case, prev=opening.hash, clock=5),
        "the case is already open ": sealed(opened("B"), case, n=3, prev="0" * 64, clock=5),
        "beyond any counting": made(clock=LARGEST_INTEGER),
    }  # fmt: skip


def test_poison_is_set_aside_with_its_reason_and_the_rest_goes_on(store: Store) -> None:
    """TRUST C9: an entry that can never be accepted does not hold up the rest of the batch."""
    case = case_of(store, 0)
    opening = store.entries(case)[0]
    chain = chain_from(opening, 4, "good")
    for words, bad in poison(case, opening).items():
        arrival = store.receive([chain[0], bad, *chain[1:]])
        assert [name for name, _ in arrival.set_aside] == [bad.name]
        assert words.strip() in arrival.set_aside[0][1]
        assert len(arrival.accepted) + len(arrival.known) == 4
    rows = store.set_aside(case)
    assert len(rows) == len(poison(case, opening))
    assert all(row["envelope"] and row["reason"] and row["at"] for row in rows)
    assert faults_of_chains(store.entries(case)) == []
    assert [str(gap) for gap in fold(store.entries(case), set_aside_numbers(store, case)).gaps] == [
        "device far: 0 has been set aside", "device far: 1-2 have not arrived", "device far: 3 has been set aside",
    ]  # fmt: skip
    assert store.append(case, [note("still writable")])


def test_a_chain_goes_on_past_an_entry_that_was_set_aside(store: Store) -> None:
    """The record stays whole: what follows a poisoned entry is taken in, the number itself is named as set aside."""
    case = case_of(store, 0)
    first = chain_from(store.entries(case)[0], 2)
    odd = sealed(Note("x", AT), case, n=2, prev=first[1].hash, clock=4, kind="hologram")
    after = sealed(Note("after", AT), case, n=3, prev=odd.hash, clock=5)
    arrival = store.receive([*first, odd, after])
    assert (len(arrival.accepted), len(arrival.set_aside)) == (3, 1)
    assert faults_of_chains(store.entries(case)) == []
    folded = fold(store.entries(case), set_aside_numbers(store, case))
    assert [str(gap) for gap in folded.gaps] == ["device far: 2 has been set aside"]


def test_an_entry_that_follows_another_one_is_set_aside(store: Store) -> None:
    case = case_of(store, 0)
    chain = chain_from(store.entries(case)[0], 5)
    store.receive([*chain[:2], chain[3]])
    wrong_before = sealed(Note("x", AT), case, n=2, prev="0" * 64, clock=4)
    wrong_after = sealed(Note("x", AT), case, n=2, prev=chain[1].hash, clock=4)
    slow = sealed(Note("x", AT), case, n=4, prev=chain[3].hash, clock=5)
    reasons = [reason for each in (wrong_before, wrong_after, slow) for _, reason in store.receive([each]).set_aside]
    assert reasons == [
        "it does not follow the entry before it", "the entry after it follows another one",
        "its logical clock does not run on",
    ]  # fmt: skip
    assert store.receive([chain[2], chain[4]]).set_aside == []
    fast = sealed(Note("x", AT), case, device="fast", n=1, prev="0" * 64, clock=2)
    store.receive([fast])
    first_of_fast = sealed(Note("x", AT), case, device="fast", n=0, prev=store.entries(case)[0].hash, clock=7)
    assert store.receive([first_of_fast]).set_aside == [("fast/0", "the entry after it follows another one")]


def test_a_clock_must_leave_room_for_the_next_entry(store: Store) -> None:
    """A stranger's clock at the end of the whole numbers would stop everyone from writing in this case."""
    case = case_of(store)
    store.receive([sealed(Note("x", AT), case, prev=store.entries(case)[0].hash, clock=LARGEST_INTEGER)])
    store.receive([sealed(Note("x", AT), case, device="b", prev=store.entries(case)[0].hash, clock=2**48)])
    (entry,) = store.append(case, [note("next")])
    assert entry.clock == 2**48 + 1


def test_a_forked_chain_is_set_aside_with_all_that_follows_it(store: Store) -> None:
    """A device that was copied goes on twice from one entry. The first branch to arrive stands; the record verifies."""
    case = case_of(store, 0)
    chain = chain_from(store.entries(case)[0], 6)
    fork = [sealed(Note("fork", AT), case, n=3, prev=chain[2].hash, clock=5)]
    fork.append(sealed(Note("fork", AT), case, n=4, prev=fork[0].hash, clock=6))
    store.receive(chain)
    assert len(store.receive(fork).set_aside) == 2
    assert faults_of_chains(store.entries(case)) == []
    assert len(store.set_aside(case)) == 2


def test_entries_may_come_before_the_entry_that_opens_their_case(tmp_path: Path) -> None:
    """They wait, in the quarantine if they are the first of their device, and count once the case is open."""
    with Store(tmp_path / "origin") as origin:
        case = case_of(origin, 2)
        opening, *own = origin.entries(case)
    chain = chain_from(opening, 3)
    stray = sealed(Note("x", AT), case, device="stray", prev="0" * 64, clock=2)
    with Store(tmp_path / "home") as store:
        first = store.receive([*chain, stray])
        assert {name for name, _ in first.set_aside} == {"far/0", "stray/0"}
        assert set(first.accepted) == {chain[1].hash, chain[2].hash}
        assert store.cases() == []
        with pytest.raises(NotFound):
            store.append(case, [note()])
        second = store.receive([*own, opening])
        assert set(second.accepted) == {opening.hash, chain[0].hash, *(entry.hash for entry in own)}
        assert faults_of_chains(store.entries(case)) == []
        assert store.cases() == [case]
        assert {row["device"] for row in store.set_aside(case)} == {"stray"}
        assert set_aside_numbers(store, case) == {"stray": {0}}
        receipts = store.receipts(case)
        assert faults_of_receipts(receipts, {entry.hash for entry in store.entries(case)}) == []
        assert len(fold(store.entries(case)).notes) == 5


def test_an_opening_entry_opens_and_follows_nothing(store: Store) -> None:
    odd = sealed(opened(), "e" * 32, prev="0" * 64)
    late = sealed(opened(), "f" * 32, n=1, prev="0" * 64)
    reasons = [reason for _, reason in store.receive([odd, late]).set_aside]
    assert reasons == ["it opens the case, and yet follows another entry"] * 2
    assert store.cases() == []


def test_a_first_entry_does_not_come_in_under_another_second(store: Store) -> None:
    """Also for number 0: the entry after it, if it is here, says what it follows."""
    case = case_of(store, 0)
    chain = chain_from(store.entries(case)[0], 3)
    store.receive(chain[1:])
    forged = sealed(Note("forged", AT), case, prev=store.entries(case)[0].hash, clock=2)
    assert store.receive([forged]).set_aside == [("far/0", "the entry after it follows another one")]
    assert store.receive(chain[:1]).accepted == [chain[0].hash]
    assert faults_of_chains(store.entries(case)) == []


@settings(max_examples=40)
@given(st.data())
def test_whatever_arrives_in_whatever_order_the_record_verifies(tmp_path_factory: Any, data: st.DataObject) -> None:
    """Sound chains, forks, wrong clocks, poison, bare copies, in batches of any order: what was accepted has no fault,
    everything else stands aside with a reason, and nothing is dropped."""
    home = tmp_path_factory.mktemp("any")
    case = "c" * 32
    opening = sealed(opened(), case, device="one")
    pool = [opening]
    for device in ("far", "two"):
        chain = chain_from(opening, 4, device)
        pool += chain
        for _ in range(data.draw(st.integers(0, 3))):
            base = data.draw(st.sampled_from(chain))
            n, clock = base.n + data.draw(st.integers(-1, 2)), base.clock + data.draw(st.integers(-1, 2))
            if n >= 0 and clock >= 1:
                pool.append(sealed(Note("odd", AT), case, device=device, n=n, prev=base.hash, clock=clock))
    pool += data.draw(st.lists(st.sampled_from(list(poison(case, opening).values())), max_size=2))
    pool += [entry_of(entry.envelope_text, None, None) for entry in data.draw(st.lists(st.sampled_from(pool)))]
    order = data.draw(st.permutations(pool))
    with Store(home) as store:
        start = 0
        while start < len(order):
            end = start + data.draw(st.integers(1, 6))
            store.receive(order[start:end])
            here = store.entries(case)
            is_open = opening.hash in {entry.hash for entry in here}
            assert faults_of_chains(here) == (
                [] if is_open or not here else ["the entry that opens the case is not here"]
            )
            kept = {entry.hash for entry in here} | {row["hash"] for row in store.set_aside(case)}
            assert kept == {entry.hash for entry in order[:end]}
            assert faults_of_receipts(store.receipts(case), {entry.hash for entry in here}) == []
            start = end


# -- receipts and what was known on a day -----------------------------------------------------------------------------


def test_known_on_a_day_is_by_first_receipt(tmp_path: Path) -> None:
    """Not by claimed time: the receipt decides, and its time is injected."""
    clock = Clock()
    with Store(tmp_path, now=clock) as store:
        case = case_of(store, 1)
        clock.moment = "2026-03-05T12:00:00.000Z"
        (late,) = store.append(case, [Draft(Note("late", AT), "2020-01-01T00:00:00+00:00")])
        for moment, count in (
            ("2026-03-02T08:59:59.999Z", 0), ("2026-03-02T09:00:00.000Z", 2), ("2026-03-05T11:59:59.999Z", 2),
            ("2026-03-05T12:00:00.000Z", 3), ("2099-01-01T00:00:00.000Z", 3),
        ):  # fmt: skip
            assert len(store.known_on(case, moment)) == count, moment
        assert late in store.known_on(case, "2026-03-05T12:00:00.000Z")
        assert fold(store.known_on(case, "2026-03-04T00:00:00.000Z")).entry_count == 2


def test_a_first_receipt_is_never_renewed(tmp_path: Path) -> None:
    """Coming back later, from elsewhere, with or without receipts: what was known on a day stays known."""
    clock = Clock()
    with Store(tmp_path / "one", now=clock) as one:
        case = case_of(one, 3)
        early = one.receipts(case)
        for day in range(3, 6):
            clock.moment = f"2026-03-0{day}T09:00:00.000Z"
            one.receive(one.entries(case), one.receipts(case))
        assert one.receipts(case) == early
        with Store(tmp_path / "two", now=Clock("2026-04-01T00:00:00.000Z")) as two:
            two.receive(one.entries(case), early)
            assert len(two.known_on(case, "2026-03-02T10:00:00.000Z")) == 4
            assert len(two.receipts(case)) == 8
            back = two.receipts(case)
            two.receive(two.entries(case), back)
            assert two.receipts(case) == back
            one.receive(two.entries(case), two.receipts(case))
        assert [r for r in one.receipts(case) if r.store == one.store_id] == early
        assert len(one.known_on(case, "2026-03-02T09:00:00.000Z")) == 4
        with Store(tmp_path / "three", now=Clock("2026-05-01T00:00:00.000Z")) as three:
            three.receive(one.entries(case))
            assert three.known_on(case, "2026-04-30T00:00:00.000Z") == []


def test_receipts_that_do_not_match_their_hash_are_not_taken_in(store: Store) -> None:
    """One false receipt could never be taken out again, and no record of this case would ever verify."""
    case = case_of(store, 0)
    entry = store.entries(case)[0]
    sound = sealed_receipt(case, "elsewhere", 0, "2026-03-01T00:00:00.000Z", entry.hash, "")
    false = [
        replace(sound, at="2020-01-01T00:00:00.000Z"), replace(sound, hash="0" * 64),
        replace(sound, arrival=2**70), replace(sound, at=None), replace(sound, entry=b"x"),
    ]  # fmt: skip
    arrival = store.receive([], false)  # type: ignore[arg-type]
    assert [reason for _, reason in arrival.set_aside] == ["the receipt does not match its hash"] * 5
    assert len(store.receipts(case)) == 1
    assert store.receive([], [sound]).set_aside == []
    other = sealed_receipt(case, "elsewhere", 0, "2020-01-01T00:00:00.000Z", entry.hash, "")
    assert store.receive([], [other]).set_aside == [
        ("receipt 0 of store elsewhere", "another receipt with this number is already here")
    ]
    assert store.receive([], [sound]).set_aside == []
    hashes = {entry.hash}
    assert faults_of_receipts(store.receipts(case), hashes) == []
    assert store.append(case, [note()])


# -- back-up ----------------------------------------------------------------------------------------------------------


def test_a_back_up_while_writing_is_whole(tmp_path: Path) -> None:
    """TRUST A9: copies made while a thread writes; each opens elsewhere and verifies."""
    with Store(tmp_path / "home") as store:
        case = case_of(store)
        stop = threading.Event()
        written: list[int] = []

        def write() -> None:
            while not stop.is_set():
                written.append(store.append(case, [note("w"), note("w")])[-1].n)

        writer = threading.Thread(target=write)
        writer.start()
        acknowledged = []
        try:
            for number in range(20):
                least = written[-1] if written else 0
                target = tmp_path / f"copy{number}" / DATABASE_NAME
                target.parent.mkdir()
                store.back_up(target)
                acknowledged.append((target.parent, least))
        finally:
            stop.set()
            writer.join()
    for home, least in acknowledged:
        with Store(home) as copy:
            copy.assert_durable()
            entries = copy.entries(case)
            assert entries[-1].n >= least
            assert faults_of_chains(entries) == []
            assert faults_of_receipts(copy.receipts(case), {entry.hash for entry in entries}) == []
            assert copy.check_file() == []


def test_a_plain_copy_of_the_file_is_not_a_back_up(tmp_path: Path) -> None:
    """[SQLite-wal] What was acknowledged may stand in the log only: this is why back_up exists."""
    with Store(tmp_path / "home") as store:
        case_of(store)
        (tmp_path / "plain.sqlite").write_bytes((tmp_path / "home" / DATABASE_NAME).read_bytes())
        store.back_up(tmp_path / "whole.sqlite")
    plain, whole = (sqlite3.connect(tmp_path / name) for name in ("plain.sqlite", "whole.sqlite"))
    assert whole.execute("SELECT count(*) FROM entry").fetchone() == (4,)
    with pytest.raises(sqlite3.OperationalError, match="no such table"):
        plain.execute("SELECT count(*) FROM entry")
    plain.close()
    whole.close()


def test_a_back_up_overwrites_nothing(store: Store, tmp_path: Path) -> None:
    target = tmp_path / "there"
    target.write_text("mine")
    with pytest.raises(Refused, match="overwrite"):
        store.back_up(target)
    assert target.read_text() == "mine"


def test_a_back_up_that_fails_does_not_stop_the_store(store: Store, tmp_path: Path) -> None:
    """The trouble is with the other disk. The store goes on, and no half copy is left behind."""
    case = case_of(store)
    for target in (tmp_path / "missing" / "copy.sqlite", tmp_path / ("x" * 300)):
        with pytest.raises(StoreUnavailable, match="backup could not be written") as no:
            store.back_up(target)
        assert no.value.got
    assert store.append(case, [note("goes on")])


def test_a_back_up_is_on_the_disk_before_it_is_reported(store: Store, tmp_path: Path, monkeypatch: Any) -> None:
    case_of(store)
    synced: list[str] = []
    real = os.fsync

    def watched(descriptor: int) -> None:
        synced.append(os.readlink(f"/proc/self/fd/{descriptor}"))
        real(descriptor)

    monkeypatch.setattr(os, "fsync", watched)
    store.back_up(tmp_path / "copy.sqlite")
    assert [str(tmp_path / "copy.sqlite"), str(tmp_path)] == synced


# -- processes, threads, trouble --------------------------------------------------------------------------------------


def in_child(work: Callable[[], None]) -> int:
    """Run in a forked process; its exit code. A negative number is the signal that ended it."""
    child = os.fork()
    if child == 0:
        try:
            work()
        except BaseException:
            os._exit(99)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


@pytest.mark.filterwarnings("ignore:This process")
def test_a_store_is_not_used_in_another_process(store: Store) -> None:
    """TRUST A10 and [SQLite-howtocorrupt]: a connection carried over a fork corrupts."""
    case = case_of(store)

    def work() -> None:
        for use in (lambda: store.append(case, [note()]), lambda: store.entries(case), lambda: store.attach(b"x")):
            try:
                use()
            except StoreUnfit as problem:
                assert "another process" in problem.what  # noqa: PT017
            else:
                os._exit(1)

    assert in_child(work) == 0
    assert store.append(case, [note()])


def test_two_processes_take_turns(tmp_path: Path) -> None:
    """Two stores on one file, as two programs would: one chain, no number twice."""
    with Store(tmp_path) as one, Store(tmp_path) as two:
        case = case_of(one, 0)
        for _ in range(20):
            one.append(case, [note("one")])
            two.append(case, [note("two")])
        assert [entry.n for entry in one.entries(case)] == list(range(41))
        assert faults_of_chains(two.entries(case)) == []


def test_a_locked_store_is_said_and_not_broken(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        case = case_of(store)
        store._connection.execute("PRAGMA busy_timeout=1")
        other = raw(tmp_path)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreUnavailable, match="another desorb is writing"):
            store.append(case, [note()])
        assert len(store.entries(case)) == 4  # reading goes on
        other.execute("ROLLBACK")
        other.close()
        assert store.append(case, [note()])


class Failing:
    """A connection whose next statements of one kind fail."""

    def __init__(self, connection: Any) -> None:
        self.connection = connection
        self.fail_on: str | tuple[str, ...] = ""
        self.problem: Exception = sqlite3.OperationalError("disk I/O error")

    def execute(self, statement: str, values: Any = ()) -> Any:
        if self.fail_on and statement.startswith(self.fail_on):
            raise self.problem
        return self.connection.execute(statement, values)

    @property
    def in_transaction(self) -> bool:
        return bool(self.connection.in_transaction)

    def close(self) -> None:
        self.connection.close()


@pytest.mark.parametrize("statement", ["BEGIN", "INSERT INTO entry", "INSERT INTO receipt", "COMMIT", "SELECT"])
def test_after_trouble_with_the_disk_nothing_more_is_accepted(tmp_path: Path, statement: str) -> None:
    """ATC 2020 on failed fsync: no retry is sufficient. Stop, say so, reopen and verify."""
    failing: list[Failing] = []

    def connect(path: Path) -> Failing:
        failing.append(Failing(connect_file(path)))
        return failing[0]

    with Store(tmp_path, connect=connect) as store:
        case = case_of(store)
        failing[0].fail_on = statement
        with pytest.raises(StoreUnavailable, match="nothing more is accepted") as no:
            store.append(case, [note("lost")])
        assert "disk I/O error" in no.value.got
        failing[0].fail_on = ""
        for use in (lambda: store.append(case, [note()]), lambda: store.attach(b"x"), lambda: store.receive([]),
                    lambda: store.open_case(opened(), AT), store.assert_durable, store.forget_traces):  # fmt: skip
            with pytest.raises(StoreUnavailable, match="stopped accepting"):
                use()
        assert len(store.entries(case)) == 4  # reading goes on, without what was half written
        assert store.cases() == [case]
        assert len(store.receipts(case)) == 4


def test_what_cannot_be_undone_is_not_read(tmp_path: Path) -> None:
    """The failed transaction cannot be undone either: then nothing is read, so that nothing half written is believed."""
    failing: list[Failing] = []

    def connect(path: Path) -> Failing:
        failing.append(Failing(connect_file(path)))
        return failing[0]

    with Store(tmp_path, connect=connect) as store:
        case = case_of(store)
        failing[0].fail_on = ("COMMIT", "ROLLBACK")
        with pytest.raises(StoreUnavailable, match="nothing more is accepted"):
            store.append(case, [note("lost")])
        failing[0].fail_on = ""
        with pytest.raises(StoreUnavailable, match="stopped accepting"):
            store.entries(case)
    with Store(tmp_path) as again:
        assert len(again.entries(case)) == 4
        assert again.append(case, [note()])


def test_a_fault_of_the_program_is_not_called_a_disk(tmp_path: Path) -> None:
    """What is no trouble with the disk passes as what it is, and the store goes on."""
    failing: list[Failing] = []

    def connect(path: Path) -> Failing:
        failing.append(Failing(connect_file(path)))
        return failing[0]

    with Store(tmp_path, connect=connect) as store:
        case = case_of(store)
        failing[0].fail_on, failing[0].problem = "INSERT INTO receipt", ZeroDivisionError("a bug")
        with pytest.raises(ZeroDivisionError):
            store.append(case, [note()])
        failing[0].fail_on = ""
        assert [entry.n for entry in store.append(case, [note()])] == [4]


def test_a_failing_connection_at_the_start_is_said(tmp_path: Path) -> None:
    def no_connection(path: Path) -> Any:
        raise sqlite3.OperationalError("unable to open database file")

    with pytest.raises(StoreUnavailable, match="could not be read or written"):
        Store(tmp_path, connect=no_connection)

    def broken_connection(path: Path) -> Any:
        failing = Failing(connect_file(path))
        failing.fail_on = "PRAGMA foreign_keys"
        return failing

    with pytest.raises(StoreUnavailable, match="could not be read or written"):
        Store(tmp_path, connect=broken_connection)
    with Store(tmp_path) as store:
        assert store.cases() == []


def test_a_closed_store_says_so(tmp_path: Path) -> None:
    store = Store(tmp_path)
    case = case_of(store)
    store.close()
    store.close()
    with pytest.raises(StoreUnavailable):
        store.append(case, [note()])


FILL = """
import resource, signal, sys
from pathlib import Path
from desorb.core.kinds import CaseOpened, Note
from desorb.errors import StoreUnavailable
from desorb.notebook.store import Draft, Store

signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
home, limit = Path(sys.argv[1]), int(sys.argv[2])
store = Store(home)
case = store.open_case(CaseOpened("A", "s", "UTC"), "t")
print("case", case, flush=True)
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
for number in range(100_000):
    try:
        if sys.argv[3] == "photo" and number == 2:
            store.attach(b"x" * (2 * limit))
        entry = store.append(case, [Draft(Note("x" * 700, "t"), "t")])[0]
    except StoreUnavailable as problem:
        print("words", problem.what, "|", problem.next_step, flush=True)
        break
    print("ack", entry.n, entry.hash, flush=True)
try:
    store.append(case, [Draft(Note("y", "t"), "t")])
except StoreUnavailable as problem:
    print("refused", problem.what, flush=True)
"""


@pytest.mark.parametrize("what", ["entries", "photo"])
@pytest.mark.parametrize("limit", [300_000, 1_234_567])
def test_a_full_disk_is_said_and_loses_nothing(tmp_path: Path, limit: int, what: str) -> None:
    """TRUST A4 with RLIMIT_FSIZE: the file may not grow. All acknowledged entries stand, the user is told, writing
    goes on once there is room again."""
    result = subprocess.run(
        [sys.executable, "-c", FILL, str(tmp_path), str(limit), what], capture_output=True, text=True, check=True
    )
    lines = [line.split(" ", 1) for line in result.stdout.splitlines()]
    case = lines[0][1]
    acknowledged = [line[1].split()[1] for line in lines if line[0] == "ack"]
    words = [line[1] for line in lines if line[0] == "words"]
    assert len(words) == 1
    assert "nothing more is accepted" in words[0]
    assert "free space" in words[0]
    assert [line for line in lines if line[0] == "refused"]
    assert len(acknowledged) == 2 if what == "photo" else len(acknowledged) > 2
    with Store(tmp_path) as store:
        hashes = [entry.hash for entry in store.entries(case)]
        assert hashes[1 : 1 + len(acknowledged)] == acknowledged
        assert len(hashes) <= len(acknowledged) + 2
        assert store.check_file() == []
        assert faults_of_chains(store.entries(case)) == []
        assert store.append(case, [note("room again")])
        assert not list(attachments.folder(tmp_path).rglob("arriving-*"))


# -- a damaged file ---------------------------------------------------------------------------------------------------


def damaged(home: Path, content: bytes) -> str:
    """What a person is told about a store with these bytes: '' when nothing is wrong."""
    for path in home.glob(f"{DATABASE_NAME}-*"):
        path.unlink()
    (home / DATABASE_NAME).write_bytes(content)
    try:
        with Store(home) as store:
            told = store.check_file()
            for case in store.cases():
                told += verify_store(store, case).faults
            return "; ".join(told)
    except DesorbError as problem:
        return str(problem)


def said(home: Path) -> dict[str, Any]:
    """All that a store says about its cases, for comparison. Of what was set aside only what a hash covers: its texts
    may be wrong from the start, so nothing could tell a change in them."""
    with Store(home) as store:
        return {
            case: (
                store.entries(case),
                store.receipts(case),
                [(row["hash"], row["device"], row["n"], row["envelope"]) for row in store.set_aside(case)],
                store.removals_of(case),
                store.opening_of(case),
            )
            for case in store.cases()
        }


def test_a_case_does_not_vanish_with_the_damage_of_its_first_row(full: Path) -> None:
    """No index holds the kind of an entry, so SQLite sees nothing wrong: the case must be listed and be found damaged."""
    connection = raw(full)
    connection.execute("DROP TRIGGER entry_stays_update")
    connection.execute("UPDATE entry SET kind = 'case-opfned' WHERE n = 0")
    connection.close()
    with Store(full) as store:
        (case,) = store.cases()
        with pytest.raises(RecordDamaged, match="does not match its hash"):
            store.entries(case)
        assert not verify_store(store, case).ok


@pytest.mark.parametrize("change", ["case_id = 'elsewhere'", "envelope = x'00ff'", "envelope = '[]'", "envelope = 5"])
def test_what_was_set_aside_does_not_vanish_into_another_case(full: Path, change: str) -> None:
    with Store(full) as store:
        assert store.check_file() == []
    connection = raw(full)
    connection.execute("DROP TRIGGER set_aside_stays_update")
    connection.execute(f"UPDATE set_aside SET {change}")
    connection.close()
    with Store(full) as store:
        assert [words.rpartition("stands")[2] for words in store.check_file()] == [" in the wrong case"]


@pytest.mark.parametrize("way", ["a byte inverted", "a bit flipped", "cut off", "a page of zeros", "pages swapped"])
def test_damage_is_said_or_changes_nothing(full: Path, way: str) -> None:
    """TRUST A6: each damage is reported, or the content is provably the same; no crash, no traceback."""
    _damage_is_said_or_changes_nothing(full, way, 60)


@pytest.mark.soak
@pytest.mark.parametrize("way", ["a byte inverted", "a bit flipped", "cut off"])
def test_much_damage_is_said_or_changes_nothing(full: Path, way: str) -> None:
    _damage_is_said_or_changes_nothing(full, way, 2_000)


def _damage_is_said_or_changes_nothing(full: Path, way: str, times: int) -> None:
    with Store(full) as store:
        store.forget_traces()
    whole = said(full)
    sound = (full / DATABASE_NAME).read_bytes()
    generator = random.Random(f"{way} 1")
    told = 0
    for _ in range(times):
        content = bytearray(sound)
        place = generator.randrange(len(content))
        page = 4096 * (place // 4096)
        if way == "a byte inverted":
            content[place] ^= 0xFF
        elif way == "a bit flipped":
            content[place] ^= 1 << generator.randrange(8)
        elif way == "cut off":
            del content[place:]
        elif way == "a page of zeros":
            content[page : page + 4096] = bytes(4096)
        else:
            other = 4096 * generator.randrange(len(content) // 4096)
            content[page : page + 4096], content[other : other + 4096] = (
                content[other : other + 4096], content[page : page + 4096],
            )  # fmt: skip
        if damaged(full, bytes(content)):
            told += 1
        elif place:  # a file cut to nothing is a new store: nothing in it can say otherwise
            assert said(full) == whole, (way, place)
    assert told, "no damage at all was noticed"


@pytest.mark.parametrize("content", [b"not a database at all" * 300, b"SQLite format 3\x00" + b"\xff" * 8176])
def test_a_file_that_is_no_store_is_said(tmp_path: Path, content: bytes) -> None:
    (tmp_path / DATABASE_NAME).write_bytes(content)
    with pytest.raises(StoreUnavailable) as no:
        Store(tmp_path)
    assert "desorb verify" in no.value.next_step


def test_an_entry_changed_behind_the_store_is_said(full: Path) -> None:
    """Someone with a database tool who drops the trigger first: the hash tells."""
    changes = {
        "UPDATE entry SET clock = 77 WHERE n = 1": "does not match its hash",
        "UPDATE entry SET envelope = replace(envelope, '09:00', '10:00') WHERE n = 1": "does not match its hash",
        "UPDATE entry SET envelope = '[]' WHERE n = 1": "does not match its hash",
        "UPDATE entry SET envelope = x'00ff' WHERE n = 1": "does not match its hash",
        'UPDATE payload SET body = replace(body, \'"words":"0"\', \'"words":"9"\')': "does not match its hash",
        "UPDATE payload SET salt = 'zz'": "does not match its hash",
    }
    sound = (full / DATABASE_NAME).read_bytes()
    for change, words in changes.items():
        (full / DATABASE_NAME).write_bytes(sound)
        connection = raw(full)
        for table in ("entry", "payload"):
            connection.execute(f"DROP TRIGGER {table}_stays_update")
        connection.execute(change)
        connection.close()
        with Store(full) as store:
            (case,) = store.cases()
            with pytest.raises(RecordDamaged, match=words):
                store.entries(case)
            with pytest.raises(RecordDamaged, match=words):
                store.known_on(case, "9")


# -- originals --------------------------------------------------------------------------------------------------------


def test_originals_are_kept_under_their_digest(store: Store) -> None:
    content = b"\xff\xd8photo"
    sha256 = store.attach(content)
    assert sha256 == hashlib.sha256(content).hexdigest()
    assert store.attachment(sha256) == content
    assert store.attachment("0" * 64) is None
    assert store.attach(content) == sha256
    store.drop_attachment(sha256)
    store.drop_attachment(sha256)
    assert store.attachment(sha256) is None


def test_a_damaged_original_is_written_anew(store: Store) -> None:
    sha256 = store.attach(b"photo")
    attachments.path_of(store.home, sha256).write_bytes(b"phot0")
    assert store.attach(b"photo") == sha256
    assert store.attachment(sha256) == b"photo"


@pytest.mark.parametrize("name", ["", "../../x", "a" * 63, "A" * 64, "a" * 64 + "\n", "/etc/passwd", "a" * 63 + "é"])
def test_the_name_of_an_original_is_a_digest_and_no_path(store: Store, name: str) -> None:
    """The name comes out of an entry that a stranger may have written."""
    for use in (store.attachment, store.drop_attachment):
        with pytest.raises(NotUnderstood, match="does not name an original"):
            use(name)


def test_an_original_is_synced_before_its_name_is_given(store: Store, monkeypatch: Any) -> None:
    """Temporary file, sync, rename, sync of the folder; also when an earlier attempt was cut short after the rename."""
    synced: list[str] = []
    real = os.fsync

    def watched(descriptor: int) -> None:
        synced.append(os.path.basename(os.readlink(f"/proc/self/fd/{descriptor}")))
        real(descriptor)

    monkeypatch.setattr(os, "fsync", watched)
    sha256 = store.attach(b"photo")
    assert synced[0] == "originals"
    assert synced[1].startswith("arriving-")
    assert synced[2:] == [sha256[:2]]
    synced.clear()
    store.attach(b"photo")
    assert synced == ["originals", sha256[:2]]


def test_a_system_without_handles_for_folders_keeps_originals_too(store: Store, monkeypatch: Any) -> None:
    monkeypatch.setattr(attachments, "FOLDERS_CAN_BE_SYNCED", False)
    assert store.attachment(store.attach(b"photo")) == b"photo"


def test_traces_of_a_store_without_a_log_are_forgotten(tmp_path: Path) -> None:
    with Store(tmp_path, settings=("PRAGMA journal_mode=DELETE",)) as store:
        case_of(store)
        store.forget_traces()
        assert not (tmp_path / f"{DATABASE_NAME}-wal").exists()


def test_trouble_with_an_original_is_said(store: Store, monkeypatch: Any) -> None:
    sha256 = store.attach(b"photo")
    path = attachments.path_of(store.home, sha256)
    path.unlink()
    path.mkdir()
    with pytest.raises(StoreUnavailable, match="could not be read"):
        store.attachment(sha256)


def test_a_photo_entry_names_what_is_there(store: Store) -> None:
    case = case_of(store)
    sha256 = store.attach(b"photo")
    store.append(case, [Draft(Photo(sha256, "image/jpeg", 5, "crack", AT), AT)])
    (photo,) = fold(store.entries(case)).photos
    assert store.attachment(photo.record.sha256) == b"photo"


def test_one_moment_is_one_moment(tmp_path: Path) -> None:
    """Whoever writes meanwhile: what is read inside belongs together."""
    with Store(tmp_path) as one, Store(tmp_path) as two:
        case = case_of(one)
        with one.one_moment():
            before = len(one.entries(case))
            two.append(case, [note("meanwhile")])
            assert len(one.entries(case)) == before
            assert len(one.receipts(case)) == before
        assert len(one.entries(case)) == before + 1
