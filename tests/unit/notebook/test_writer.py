"""The writer: one thread writes for all, acknowledges after the commit, and one bad caller spoils nothing for others.

Waiting is by events, never by time. If a test hangs, the writer failed to answer: that is its way to be red.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from desorb.core.kinds import CaseOpened, Note
from desorb.errors import NotFound, NotUnderstood, StoreUnavailable
from desorb.notebook import writer as writer_module
from desorb.notebook.chain import faults_of_chains, faults_of_receipts
from desorb.notebook.entry import Entry
from desorb.notebook.store import Draft, Store, connect_file
from desorb.notebook.writer import MOST_IN_ONE_COMMIT, Writer

AT = "2026-03-02T09:00:00+00:00"
LONG = 60  # seconds after which a test gives up; nothing is asserted about time


def note(words: str = "x") -> Draft:
    return Draft(Note(words, AT), AT)


class Watched:
    """A connection that counts commits, can hold them back, and can fail them."""

    def __init__(self, path: Path) -> None:
        self.connection = connect_file(path)
        self.commits = 0
        self.reached = threading.Event()
        self.may_commit = threading.Event()
        self.may_commit.set()
        self.problem: Exception | None = None

    def execute(self, statement: str, values: Any = ()) -> Any:
        if statement == "COMMIT":
            self.reached.set()
            assert self.may_commit.wait(LONG)
            if self.problem is not None:
                raise self.problem
            self.commits += 1
        return self.connection.execute(statement, values)

    def close(self) -> None:
        self.connection.close()


class Desk:
    """A store with a watched connection, a case, and a writer."""

    def __init__(self, home: Path) -> None:
        self.connections: list[Watched] = []
        self.store = Store(home, connect=self.connect)
        self.case = self.store.open_case(CaseOpened("A", "s", "UTC"), AT)
        self.watched = self.connections[0]
        self.watched.reached.clear()
        self.watched.commits = 0
        self.writer = Writer(self.store)

    def connect(self, path: Path) -> Watched:
        self.connections.append(Watched(path))
        return self.connections[-1]

    def start(self, *works: Callable[[], Any]) -> tuple[list[threading.Thread], list[Any]]:
        """Run each in a thread of its own; results in the order of the works: a value, or what was raised."""
        results: list[Any] = [None] * len(works)

        def run(place: int, work: Callable[[], Any]) -> None:
            try:
                results[place] = work()
            except BaseException as problem:
                results[place] = problem

        threads = [threading.Thread(target=run, args=(place, work), daemon=True) for place, work in enumerate(works)]
        for thread in threads:
            thread.start()
        return threads, results

    def hold(self) -> None:
        self.watched.reached.clear()
        self.watched.may_commit.clear()

    def release(self) -> None:
        self.watched.may_commit.set()

    def all_queued(self, count: int) -> None:
        """Wait until so many callers stand in the queue behind the commit that is held back."""
        ticking = threading.Event()
        for _ in range(LONG * 1000):
            if self.writer._waiting.qsize() >= count:
                return
            ticking.wait(0.001)
        raise AssertionError("callers did not arrive")


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = Desk(tmp_path)
    yield made
    made.release()
    made.writer.close()
    made.store.close()


def join(threads: Sequence[threading.Thread]) -> None:
    for thread in threads:
        thread.join(LONG)
        assert not thread.is_alive(), "a caller was never answered"


def test_what_is_returned_is_in_the_store(desk: Desk) -> None:
    entries = desk.writer.append(desk.case, [note("a"), note("b")])
    assert [entry.n for entry in entries] == [1, 2]
    assert desk.store.entries(desk.case)[1:] == entries
    assert desk.writer.append(desk.case, []) == []


def test_nothing_is_acknowledged_before_the_commit(desk: Desk) -> None:
    """The commit is held back: the entry is written, and the caller still waits."""
    desk.hold()
    threads, results = desk.start(lambda: desk.writer.append(desk.case, [note()]))
    assert desk.watched.reached.wait(LONG)
    threads[0].join(0.05)
    assert threads[0].is_alive()
    assert results == [None]
    outside = connect_file(desk.store.home / "record.sqlite")
    assert outside.execute("SELECT count(*) FROM entry").fetchone() == (1,)
    desk.release()
    join(threads)
    assert outside.execute("SELECT count(*) FROM entry").fetchone() == (2,)
    outside.close()
    assert [entry.n for entry in results[0]] == [1]


def test_all_who_wait_share_one_commit(desk: Desk) -> None:
    desk.hold()
    first, first_result = desk.start(lambda: desk.writer.append(desk.case, [note("first")]))
    assert desk.watched.reached.wait(LONG)
    rest, results = desk.start(*[lambda: desk.writer.append(desk.case, [note("a"), note("b")]) for _ in range(20)])
    desk.all_queued(20)
    desk.release()
    join(first + rest)
    assert desk.watched.commits == 2
    numbers = sorted(entry.n for entries in [first_result[0], *results] for entry in entries)
    assert numbers == list(range(1, 42))
    assert all(entries[1].prev == entries[0].hash for entries in results), "a caller's entries stand together"


def test_a_group_has_a_largest_size(desk: Desk) -> None:
    desk.hold()
    first, _ = desk.start(lambda: desk.writer.append(desk.case, [note()]))
    assert desk.watched.reached.wait(LONG)
    count = 2 * MOST_IN_ONE_COMMIT + 1
    rest, _ = desk.start(*[lambda: desk.writer.append(desk.case, [note()]) for _ in range(count)])
    desk.all_queued(count)
    desk.release()
    join(first + rest)
    assert desk.watched.commits == 1 + 3


@pytest.mark.parametrize(
    ("bad", "wanted"),
    [
        (lambda desk: desk.writer.append("0" * 32, [note()]), NotFound),
        (lambda desk: desk.writer.append(desk.case, [note("good"), Draft(Note(words=1.5, at=AT), AT)]), NotUnderstood),  # type: ignore[arg-type]
        (lambda desk: desk.writer.append(desk.case, [Draft(None, AT)]), NotUnderstood),
        (lambda desk: desk.writer.append(desk.case, [None]), AttributeError),  # type: ignore[list-item]
        (lambda desk: desk.writer.append(desk.case, None), TypeError),  # type: ignore[arg-type]
        (lambda desk: desk.writer.append("\ud800", [note()]), UnicodeEncodeError),
    ],
    ids=["no such case", "float", "no record", "no draft", "no list", "half a character"],
)
def test_one_bad_caller_does_not_spoil_the_others(desk: Desk, bad: Callable[[Desk], Any], wanted: type) -> None:
    """In the same group: the bad one is told why, the others are written, with no gap where it would have stood."""
    desk.hold()
    first, _ = desk.start(lambda: desk.writer.append(desk.case, [note("first")]))
    assert desk.watched.reached.wait(LONG)
    works: list[Callable[[], Any]] = [lambda: desk.writer.append(desk.case, [note("good")]) for _ in range(6)]
    works.insert(3, lambda: bad(desk))
    rest, results = desk.start(*works)
    desk.all_queued(len(works))
    desk.release()
    join(first + rest)
    assert isinstance(results[3], wanted)
    good = [result for place, result in enumerate(results) if place != 3]
    assert sorted(entry.n for entries in good for entry in entries) == list(range(2, 8))
    entries = desk.store.entries(desk.case)
    assert len(entries) == 8
    assert faults_of_chains(entries) == []
    assert desk.writer.append(desk.case, [note("after")])


def test_when_the_disk_fails_every_caller_is_told(desk: Desk) -> None:
    """Nobody in the group gets an acknowledgement, and nobody after it."""
    desk.hold()
    threads, results = desk.start(*[lambda: desk.writer.append(desk.case, [note()]) for _ in range(8)])
    assert desk.watched.reached.wait(LONG)
    desk.watched.problem = sqlite3.OperationalError("disk I/O error")
    desk.release()
    join(threads)
    assert {type(result) for result in results} == {StoreUnavailable}
    desk.watched.problem = None
    with pytest.raises(StoreUnavailable, match="stopped accepting"):
        desk.writer.append(desk.case, [note()])


def test_a_closed_writer_says_so_and_answers_all_who_came_before(desk: Desk) -> None:
    desk.hold()
    threads, results = desk.start(lambda: desk.writer.append(desk.case, [note("first")]))
    assert desk.watched.reached.wait(LONG)
    rest, rest_results = desk.start(*[lambda: desk.writer.append(desk.case, [note()]) for _ in range(10)])
    desk.all_queued(10)
    closing, _ = desk.start(desk.writer.close)
    desk.all_queued(11)
    desk.release()
    join(threads + rest + closing)
    assert all(isinstance(result, list) for result in results + rest_results)
    with pytest.raises(StoreUnavailable, match="writer is closed"):
        desk.writer.append(desk.case, [note()])
    desk.writer.close()
    assert len(desk.store.entries(desk.case)) == 12


def test_a_writer_is_closed_at_the_end_of_its_block(desk: Desk) -> None:
    with Writer(desk.store) as second:
        assert second.append(desk.case, [note()])
    with pytest.raises(StoreUnavailable, match="writer is closed"):
        second.append(desk.case, [note()])


def test_nobody_is_left_waiting_by_closing(desk: Desk, monkeypatch: Any) -> None:
    """A caller between looking whether the writer is open and taking its place in the queue: it is answered.

    The race is made certain: the queue lets the closing word in first whenever a caller stands there.
    """
    standing = threading.Event()
    closed = threading.Event()
    real_future = writer_module.Future

    class SlowFuture(real_future):  # type: ignore[misc, valid-type]
        def __init__(self) -> None:
            super().__init__()
            standing.set()
            closed.wait(0.3)  # long enough for close to come in between, if it can

    monkeypatch.setattr(writer_module, "Future", SlowFuture)
    threads, results = desk.start(lambda: desk.writer.append(desk.case, [note()]))
    assert standing.wait(LONG)
    closing, _ = desk.start(lambda: (desk.writer.close(), closed.set()))
    join(threads + closing)
    assert isinstance(results[0], (list, StoreUnavailable))


def test_two_hundred_callers(tmp_path: Path) -> None:
    """200 threads x 5 appends: each acknowledged entry is there once, in one chain, in each caller's own order."""
    desk = Desk(tmp_path)
    acknowledged: list[list[Entry]] = [[] for _ in range(200)]

    def caller(place: int) -> None:
        for turn in range(5):
            acknowledged[place] += desk.writer.append(desk.case, [note(f"{place} {turn}")])

    threads, results = desk.start(*[lambda place=place: caller(place) for place in range(200)])  # type: ignore[misc]
    join(threads)
    desk.writer.close()
    assert results == [None] * 200
    entries = desk.store.entries(desk.case)
    assert [entry.n for entry in entries] == list(range(1001))
    assert faults_of_chains(entries) == []
    assert faults_of_receipts(desk.store.receipts(desk.case), {entry.hash for entry in entries}) == []
    assert {entry.hash for own in acknowledged for entry in own} == {entry.hash for entry in entries[1:]}
    for place, own in enumerate(acknowledged):
        assert [entry.payload()["words"] for entry in own] == [f"{place} {turn}" for turn in range(5)]
        assert [entry.n for entry in own] == sorted(entry.n for entry in own)
    assert desk.watched.commits < 1000, "no commit was ever shared"
    desk.store.close()
