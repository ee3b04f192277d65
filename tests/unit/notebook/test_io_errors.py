"""An I/O error at every point, once and for good (TRUST A3, in the manner of SQLite's own I/O error loops).

The real Store runs over an apsw VFS, and its originals over the operating system, both behind one counter. The k-th
call fails: a read error, a full disk on writing, a failed sync, a failed truncate, open, delete or rename. k runs from
1 until the workload passes untouched. After the error the store refuses to write, in words, and goes on refusing; it
still gives what was acknowledged to those who read; a new store on the same files, with the standard library underneath,
has every acknowledged entry, and goes on writing.
ATC 2020 on failed fsync: no strategy of going on is sufficient, so the store stops.
"""

from __future__ import annotations

import errno
import hashlib
import itertools
import os
import shutil
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import apsw
import pytest

from desorb.core.kinds import CaseOpened, Note, Photo, Removal, Strike
from desorb.errors import StoreUnavailable
from desorb.notebook import attachments
from desorb.notebook.chain import faults_of_chains, faults_of_receipts
from desorb.notebook.entry import seal
from desorb.notebook.fold import fold
from desorb.notebook.schema import payload_of
from desorb.notebook.store import Draft, Store

AT = "2026-03-02T09:00:00+00:00"
SETTINGS = {
    "shipped": ("PRAGMA journal_mode=WAL", "PRAGMA synchronous=FULL"),
    "small log": ("PRAGMA journal_mode=WAL", "PRAGMA synchronous=FULL", "PRAGMA wal_autocheckpoint=8"),
    "rollback journal": ("PRAGMA journal_mode=DELETE", "PRAGMA synchronous=EXTRA"),
}
PROBLEMS: dict[str, type[Exception]] = {
    "read": apsw.IOError, "write": apsw.FullError, "sync": apsw.IOError, "truncate": apsw.IOError,
    "open": apsw.CantOpenError, "delete": apsw.IOError, "size": apsw.IOError,
}  # fmt: skip


class Fuse:
    """Counts calls to the disk and blows at the k-th, once or for good."""

    def __init__(self, blow_at: int, *, for_good: bool) -> None:
        self.blow_at, self.for_good = blow_at, for_good
        self.calls = self.calls_of_work = self.reads_after_trouble = 0
        self.blown = ""
        self.kinds: Counter[str] = Counter()

    def __call__(self, kind: str) -> bool:
        self.calls += 1
        self.kinds[kind] += 1
        blows = self.calls == self.blow_at or (self.for_good and self.calls > self.blow_at)
        if blows and not self.blown:
            self.blown = kind
        return blows

    def check(self, kind: str) -> None:
        if self(kind):
            raise PROBLEMS[kind]("the disk fails here")

    def check_originals(self, kind: str) -> None:
        if self(f"original {kind}"):
            raise OSError(errno.ENOSPC, "No space left on device")


class FailingFile(apsw.VFSFile):
    def __init__(self, fuse: Fuse, name: Any, flags: list[int]) -> None:
        self.fuse = fuse
        super().__init__("", name, flags)

    def xRead(self, amount: int, offset: int) -> bytes:  # noqa: N802 (the names belong to SQLite)
        self.fuse.check("read")
        return super().xRead(amount, offset)

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802
        self.fuse.check("write")
        super().xWrite(data, offset)

    def xSync(self, flags: int) -> None:  # noqa: N802 (this test is about errors, so nothing needs to reach the disk)
        self.fuse.check("sync")

    def xTruncate(self, size: int) -> None:  # noqa: N802
        self.fuse.check("truncate")
        super().xTruncate(size)

    def xFileSize(self) -> int:  # noqa: N802
        self.fuse.check("size")
        return super().xFileSize()

    def excepthook(self, *_: object) -> None:
        """What SQLite swallows is not printed."""


class FailingDisk(apsw.VFS):
    def __init__(self, name: str, fuse: Fuse) -> None:
        self.name, self.fuse = name, fuse
        super().__init__(name, "")

    def xOpen(self, name: Any, flags: list[int]) -> apsw.VFSFile:  # noqa: N802
        self.fuse.check("open")
        return FailingFile(self.fuse, name, flags)

    def xDelete(self, name: str, sync_folder: bool) -> None:  # noqa: N802
        self.fuse.check("delete")
        super().xDelete(name, sync_folder)

    def excepthook(self, *_: object) -> None:
        """What SQLite swallows is not printed."""

    def connect(self, path: Path) -> apsw.Connection:
        return apsw.Connection(str(path), vfs=self.name)


class FailingCalls:
    """What originals ask of the operating system."""

    def __init__(self, fuse: Fuse) -> None:
        self.fuse = fuse

    def __getattr__(self, name: str) -> Any:
        return getattr(os, name)

    def fsync(self, descriptor: int) -> None:
        self.fuse.check_originals("sync")

    def replace(self, source: Path, target: Path) -> None:
        self.fuse.check_originals("rename")
        os.replace(source, target)


def originals_over(fuse: Fuse, patch: pytest.MonkeyPatch) -> None:
    real_open, real_mkdir, real_unlink = open, Path.mkdir, Path.unlink

    def failing_open(path: Path, mode: str) -> Any:
        fuse.check_originals("open")
        file = real_open(path, mode)
        real_write = file.write

        class Writing:
            def __enter__(self) -> Writing:
                return self

            def __exit__(self, *_: object) -> None:
                file.close()

            def write(self, content: bytes) -> None:
                if fuse("original write"):
                    real_write(content[: len(content) // 2])
                    raise OSError(errno.ENOSPC, "No space left on device")
                real_write(content)

            def __getattr__(self, name: str) -> Any:
                return getattr(file, name)

        return Writing()

    def mkdir(path: Path, *arguments: Any, **named: Any) -> None:
        if not path.exists():
            fuse.check_originals("mkdir")
        real_mkdir(path, *arguments, **named)

    def unlink(path: Path, *arguments: Any, **named: Any) -> None:
        if path.exists() and not path.name.startswith("arriving-"):
            fuse.check_originals("unlink")
        real_unlink(path, *arguments, **named)

    patch.setattr(attachments, "os", FailingCalls(fuse))
    patch.setattr(attachments, "open", failing_open, raising=False)
    patch.setattr(Path, "mkdir", mkdir)
    patch.setattr(Path, "unlink", unlink)


class Run:
    """One run of the workload: what was acknowledged, and what the first error was."""

    def __init__(self, home: Path, fuse: Fuse, settings: tuple[str, ...], name: str) -> None:
        self.home, self.fuse, self.settings, self.name = home, fuse, settings, name
        self.case = ""
        self.acknowledged: list[str] = []
        self.removed: list[str] = []
        self.errors: list[StoreUnavailable] = []
        self.read_after_trouble = 0

    def go(self) -> None:
        disk = FailingDisk(self.name, self.fuse)
        for _ in range(2):  # the second time there is something to lose, and a log to recover
            try:
                store = Store(self.home, connect=disk.connect, settings=self.settings)
            except StoreUnavailable as problem:
                self.errors.append(problem)
                return
            try:
                if not self.work(store):
                    return
            finally:
                store.close()

    def step(self, store: Store, step: Callable[[], Any]) -> Any:
        """A step of the work. After the first error, whatever writes is refused in words, and reading goes on."""
        try:
            return step()
        except StoreUnavailable as problem:
            self.errors.append(problem)
            writes = (lambda: store.attach(b"x"), lambda: store.append(self.case, [Draft(Note("x", AT), AT)]),
                      lambda: store.receive([]), lambda: store.drop_attachment("0" * 64), store.forget_traces)  # fmt: skip
            for again in writes:
                with pytest.raises(StoreUnavailable, match="stopped accepting"):
                    again()
            self.read_on(store)
            raise

    def read_on(self, store: Store) -> None:
        """The disk failed once: all that was acknowledged can be read, and nothing half written. For good: in words."""
        if not self.case:
            return
        try:
            entries = store.entries(self.case)
            assert faults_of_chains(entries) == []
            assert set(self.acknowledged) <= {entry.hash for entry in entries}
            assert store.cases() == [self.case]
            self.read_after_trouble += 1
        except StoreUnavailable as problem:
            assert self.fuse.for_good or store._half_written, "one failure, and nothing can be read any more"
            self.errors.append(problem)

    def work(self, store: Store) -> bool:
        try:
            if not self.case:
                self.case = self.step(store, lambda: store.open_case(CaseOpened("A", "s", "UTC"), AT))
            sha256 = self.step(store, lambda: store.attach(b"photo" * 999))
            photo, note = self.append(store, Photo(sha256, "image/jpeg", 1, "crack", AT), Note("x" * 6_000, AT))
            self.append(store, Strike(note, "why", "who", AT))
            first = self.step(store, lambda: store.entries(self.case))[0]
            foreign = seal(
                case=self.case, device=f"far{len(self.acknowledged)}", n=0, prev=first.hash, clock=9, kind="note",
                claimed_at=AT, monotonic=0, payload=payload_of(Note("far" * 99, AT)),
            )  # fmt: skip
            arrival = self.step(store, lambda: store.receive([foreign]))
            self.acknowledged += arrival.accepted
            self.append(store, Removal(photo, "asked", "law", "who", AT))
            self.removed.append(photo)
            self.step(store, store.forget_traces)
            self.step(store, lambda: store.drop_attachment(sha256))
        except StoreUnavailable:
            return False
        return True

    def append(self, store: Store, *records: Any) -> list[str]:
        entries = self.step(store, lambda: store.append(self.case, [Draft(record, AT) for record in records]))
        self.acknowledged += [entry.hash for entry in entries]
        return [entry.hash for entry in entries]

    def look(self) -> None:
        """A new store, without the failing disk: all that was acknowledged is there, and it can be written."""
        with Store(self.home, settings=("PRAGMA journal_mode=WAL", "PRAGMA synchronous=OFF")) as store:
            assert store.check_file() == []
            cases = store.cases()
            assert self.case in cases or not self.case
            for case in cases:
                entries = store.entries(case)
                hashes = {entry.hash for entry in entries}
                assert set(self.acknowledged) <= hashes, "an acknowledged entry is lost"
                assert faults_of_chains(entries) == []
                assert faults_of_receipts(store.receipts(case), hashes) == []
                assert set(self.removed) <= {each.hash for each in fold(entries).removed}
                for entry in entries:
                    if entry.kind == "photo" and entry.payload_text is not None:
                        sha256 = entry.payload()["sha256"]
                        content = store.attachment(sha256)
                        assert content is not None, "an entry without its photo"
                        assert hashlib.sha256(content).hexdigest() == sha256
                assert store.append(case, [Draft(Note("goes on", AT), AT)])
            assert store.open_case(CaseOpened("B", "s", "UTC"), AT)


def run_once(folder: Path, blow_at: int, *, for_good: bool, settings: str) -> Fuse:
    fuse = Fuse(blow_at, for_good=for_good)
    run = Run(folder / "home", fuse, SETTINGS[settings], f"failing {settings} {for_good} {blow_at}")
    with pytest.MonkeyPatch.context() as patch:
        originals_over(fuse, patch)
        run.go()
        fuse.calls_of_work = fuse.calls
        fuse.blow_at, fuse.for_good = 0, False  # the disk is well again; syncing stays without effect
        run.look()
    fuse.reads_after_trouble = run.read_after_trouble
    if run.errors:
        assert fuse.blown, "an error without a failing disk"
        assert run.errors[0].what
        assert run.errors[0].next_step
    else:
        assert len(run.acknowledged) == 10
    return fuse


@pytest.mark.parametrize("for_good", [False, True], ids=["once", "for good"])
@pytest.mark.parametrize("settings", ["shipped", "small log"])
def test_an_error_at_any_point_loses_nothing(tmp_path: Path, settings: str, for_good: bool) -> None:
    """Every point of the workload, until it passes untouched."""
    _at_every_point(tmp_path, settings, for_good)


@pytest.mark.soak
@pytest.mark.parametrize("for_good", [False, True], ids=["once", "for good"])
def test_an_error_at_any_point_loses_nothing_with_a_rollback_journal(tmp_path: Path, for_good: bool) -> None:
    """Not the shipped settings: shows that the store does not lean on the log for this."""
    _at_every_point(tmp_path, "rollback journal", for_good)


def _at_every_point(tmp_path: Path, settings: str, for_good: bool) -> None:
    blown: Counter[str] = Counter()
    read_on = 0
    for blow_at in itertools.count(1):
        folder = tmp_path / str(blow_at)
        folder.mkdir()
        fuse = run_once(folder, blow_at, for_good=for_good, settings=settings)
        shutil.rmtree(folder)
        if not fuse.blown:
            calls = fuse.calls_of_work
            break
        blown[fuse.blown] += 1
        read_on += fuse.reads_after_trouble
    print(settings, "for good" if for_good else "once", sum(blown.values()), "points", dict(blown), read_on, "read on")
    assert for_good or read_on >= sum(blown.values()) // 2, "reading goes on after most single failures"
    assert sum(blown.values()) == calls, "a point was left out"
    wanted = {"read", "write", "sync", "open", "size", "delete"} | {
        f"original {kind}" for kind in ("open", "write", "sync", "rename", "mkdir", "unlink")
    }
    assert wanted <= set(blown)
    if settings != "rollback journal":
        assert blown["truncate"]


def test_a_store_that_goes_on_after_an_error_is_found_out(tmp_path: Path, monkeypatch: Any) -> None:
    """Negative control: a store that forgets its trouble is not let pass."""
    monkeypatch.setattr(Store, "_broken", property(lambda store: "", lambda store, words: None), raising=False)

    def until_found_out() -> None:
        for blow_at in range(1, 400):
            folder = tmp_path / str(blow_at)
            folder.mkdir()
            run_once(folder, blow_at, for_good=False, settings="shipped")

    with pytest.raises(pytest.fail.Exception, match="DID NOT RAISE"):
        until_found_out()
