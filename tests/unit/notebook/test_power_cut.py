"""Simulated power cuts (TRUST A2): the real Store runs while every operation on the disk is recorded, then each moment
at which the power could fail is rebuilt as a disk image, opened with the standard library and looked at.

What is recorded: every create, write, truncate, sync and delete of the database, its log and its journal (an apsw VFS
under the Store; the shared-memory file is no part of the disk), and every create, write, sync, rename, folder sync and
unlink of originals. What a power cut may leave of what was not synced: all of it, nothing, a part, a write torn at
512 bytes, sectors of garbage; a new name, a rename or an unlink whose folder was not synced may be undone.
That is the pessimistic model of SQLite's own crash tests ("How SQLite Is Tested", crash testing; from memory).

What must hold in each image: integrity_check is ok; every acknowledged entry is there; each transaction is there
whole or not at all, in order; envelopes, payloads, chains and receipts verify; what was removed is gone; no photo
entry lacks its bytes. Negative controls with other settings must show images in which this does not hold.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import apsw
import pytest

from desorb.core.kinds import CaseOpened, Note, Photo, Removal, Strike
from desorb.notebook import attachments
from desorb.notebook.chain import faults_of_chains
from desorb.notebook.entry import Entry, entry_of, seal
from desorb.notebook.schema import payload_of
from desorb.notebook.store import DATABASE_NAME, Draft, Store

AT = "2026-03-02T09:00:00+00:00"
SHIPPED: tuple[str, ...] = ("PRAGMA journal_mode=WAL", "PRAGMA synchronous=FULL")
SECTOR = 512
IMAGES_PER_MOMENT = {"opening": 8, "receiving": 8, "strikes": 5, "removal": 4, "single_appends": 5, "batches": 2}
MOST_IMAGES_OF_A_CONTROL = 1_500
Event = tuple[Any, ...]


# -- recording --------------------------------------------------------------------------------------------------------


class RecordingFile(apsw.VFSFile):
    def __init__(self, recorder: Recorder, name: Any, flags: list[int]) -> None:
        self.path = name.filename() if isinstance(name, apsw.URIFilename) else name
        is_log = flags[0] & (apsw.SQLITE_OPEN_WAL | apsw.SQLITE_OPEN_MAIN_JOURNAL | apsw.SQLITE_OPEN_SUPER_JOURNAL)
        self.recorder = recorder
        self.syncs_folder = bool(is_log)  # SQLite's unix VFS syncs the folder with the first sync of a log or journal
        if self.path is not None and not os.path.exists(self.path):
            recorder.events.append(("create", self.path))
        super().__init__("", name, flags)

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802 (the name belongs to SQLite)
        self.recorder.events.append(("write", self.path, offset, bytes(data)))
        super().xWrite(data, offset)

    def xTruncate(self, size: int) -> None:  # noqa: N802
        self.recorder.events.append(("truncate", self.path, size))
        super().xTruncate(size)

    def xSync(self, flags: int) -> None:  # noqa: N802 (recorded only: images are built from the recording)
        self.recorder.events.append(("sync", self.path))
        if self.syncs_folder:
            self.syncs_folder = False
            self.recorder.events.append(("sync folder", os.path.dirname(self.path)))


class Recorder(apsw.VFS):
    """Everything that happens to the disk below a folder, in order, with what was acknowledged in between."""

    def __init__(self, name: str) -> None:
        self.events: list[Event] = []
        self.name = name
        super().__init__(name, "")

    def xOpen(self, name: Any, flags: list[int]) -> apsw.VFSFile:  # noqa: N802
        return RecordingFile(self, name, flags)

    def xDelete(self, name: str, sync_folder: bool) -> None:  # noqa: N802
        super().xDelete(name, sync_folder)
        self.events.append(("unlink", name))
        if sync_folder:
            self.events.append(("sync folder", os.path.dirname(name)))

    def connect(self, path: Path) -> apsw.Connection:
        return apsw.Connection(str(path), vfs=self.name)


class RecordedWrites:
    """A file of the originals while it is written."""

    def __init__(self, recorder: Recorder, path: str) -> None:
        recorder.events.append(("create", path))
        self.recorder, self.path = recorder, path
        self.file = open(path, "xb", buffering=0)  # noqa: SIM115 (closed on leaving)

    def write(self, content: bytes) -> None:
        for start in range(0, len(content), 4096):  # as pages go to the disk
            self.recorder.events.append(("write", self.path, start, content[start : start + 4096]))
        self.file.write(content)

    def flush(self) -> None:
        pass

    def fileno(self) -> int:
        return self.file.fileno()

    def __enter__(self) -> RecordedWrites:
        return self

    def __exit__(self, *_: object) -> None:
        self.file.close()


class RecordedCalls:
    """What originals ask of the operating system."""

    def __init__(self, recorder: Recorder) -> None:
        self.recorder = recorder

    def __getattr__(self, name: str) -> Any:
        return getattr(os, name)

    def fsync(self, descriptor: int) -> None:
        path = os.readlink(f"/proc/self/fd/{descriptor}")
        self.recorder.events.append(("sync folder" if os.path.isdir(path) else "sync", path))

    def replace(self, source: Path, target: Path) -> None:
        os.replace(source, target)
        self.recorder.events.append(("rename", str(source), str(target)))


def record_originals(recorder: Recorder, patch: pytest.MonkeyPatch) -> None:
    real_mkdir, real_unlink = Path.mkdir, Path.unlink

    def mkdir(path: Path, *arguments: Any, **named: Any) -> None:
        is_new = not path.exists()
        real_mkdir(path, *arguments, **named)
        if is_new:
            recorder.events.append(("mkdir", str(path)))

    def unlink(path: Path, *arguments: Any, **named: Any) -> None:
        real_unlink(path, *arguments, **named)
        recorder.events.append(("unlink", str(path)))

    patch.setattr(attachments, "os", RecordedCalls(recorder))
    patch.setattr(attachments, "open", lambda path, mode: RecordedWrites(recorder, str(path)), raising=False)
    patch.setattr(Path, "mkdir", mkdir)
    patch.setattr(Path, "unlink", unlink)


# -- the disk ---------------------------------------------------------------------------------------------------------


@dataclass
class Node:
    """A file: what is surely on the disk, and what was done to it since."""

    durable: bytes = b""
    waiting: list[Event] = field(default_factory=list)  # ("write", offset, data) or ("truncate", size)

    def content(self, operations: list[Event]) -> bytes:
        if not operations:
            return self.durable
        made = bytearray(self.durable)
        for operation in operations:
            if operation[0] == "truncate":
                del made[operation[1] :]
                made.extend(bytes(operation[1] - len(made)))
            else:
                _, offset, data = operation
                made.extend(bytes(max(0, offset - len(made))))
                made[offset : offset + len(data)] = data
        return bytes(made)

    def sync(self) -> None:
        self.durable = self.content(self.waiting)
        self.waiting.clear()


def survivors(waiting: list[Event], generator: random.Random) -> list[Event]:
    """What a power cut leaves of operations that were not synced."""
    way = generator.choice(("all", "none", "first ones", "some", "torn", "sectors", "garbled"))
    if way == "all" or not waiting:
        return waiting
    if way == "none":
        return []
    if way == "some":
        return [operation for operation in waiting if generator.random() < 0.6]
    kept = waiting[: generator.randrange(len(waiting) + 1)] if way != "garbled" else list(waiting)
    writes = [place for place, operation in enumerate(kept) if operation[0] == "write" and operation[2]]
    if way == "first ones" or not writes:
        return kept
    place = writes[-1] if way == "torn" else generator.choice(writes)
    _, offset, data = kept[place]
    sectors = [data[start : start + SECTOR] for start in range(0, len(data), SECTOR)]
    if way == "torn":
        new = [("write", offset, b"".join(sectors[: generator.randrange(len(sectors))]))]
    elif way == "sectors":
        new = [
            ("write", offset + SECTOR * number, sector)
            for number, sector in enumerate(sectors)
            if generator.random() < 0.5
        ]
    else:
        spoiled = generator.randrange(len(sectors))
        sectors[spoiled] = generator.randbytes(len(sectors[spoiled]))
        new = [("write", offset, b"".join(sectors))]
    return kept[:place] + new + kept[place + 1 :]


class Disk:
    """The disk as recorded up to some event: names and contents that are sure, and those that are not yet."""

    def __init__(self, root: str) -> None:
        self.root = root
        self.now: dict[str, Node | None] = {}  # None is a folder
        self.sure: dict[str, Node | None] = {}
        self.waiting_names: dict[str, list[Callable[[dict[str, Node | None]], None]]] = {}

    def _name(self, path: str, change: Callable[[dict[str, Node | None]], None]) -> None:
        change(self.now)
        self.waiting_names.setdefault(os.path.dirname(path), []).append(change)

    def play(self, event: Event) -> None:
        kind, path = event[0], event[1]
        if kind in ("create", "mkdir"):
            node = Node() if kind == "create" else None
            self._name(path, lambda names: names.__setitem__(path, node))
        elif kind == "unlink":
            self._name(path, lambda names: names.pop(path, None) and None)
        elif kind == "rename":
            moved = self.now[path]

            def rename(names: dict[str, Node | None]) -> None:
                names.pop(path, None)
                names[event[2]] = moved

            self._name(path, rename)
        elif kind == "sync folder":
            for change in self.waiting_names.pop(path, []):
                change(self.sure)
        elif kind == "sync":
            node = self.now[path]
            assert node is not None
            node.sync()
        else:
            node = self.now[path]
            assert node is not None
            node.waiting.append((kind, *event[2:]))

    def image(self, generator: random.Random | None, keep: str = "") -> dict[str, bytes]:
        """One disk that may be found after the power failed here. `keep`: 'all', 'nothing', 'contents' or 'names'."""
        names = dict(self.sure)
        for changes in self.waiting_names.values():
            count = len(changes)
            if generator is not None:
                count = generator.choice((0, count, generator.randrange(count + 1)))
            elif keep in ("nothing", "contents"):
                count = 0
            for change in changes[:count]:
                change(names)
        contents: dict[str, bytes] = {}
        for path, node in names.items():
            if node is None or not self._reachable(path, names):
                continue
            if generator is not None:
                operations = survivors(node.waiting, generator)
            else:
                operations = node.waiting if keep in ("all", "contents") else []
            contents[path] = node.content(operations)
        return contents

    def _reachable(self, path: str, names: dict[str, Node | None]) -> bool:
        above = os.path.dirname(path)
        return above == self.root or (above in names and self._reachable(above, names))


# -- what must hold ---------------------------------------------------------------------------------------------------


@dataclass
class Found:
    """What a light reader found in the database of one image."""

    trouble: str
    entries: frozenset[str] = frozenset()
    aside: frozenset[str] = frozenset()
    photos: tuple[str, ...] = ()
    bare: frozenset[str] = frozenset()  # entries without payload that no removal names


class Reader:
    """Opens images with the standard library. What was looked at once is remembered by its bytes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.known: dict[bytes, Found] = {}
        self.sound_rows: set[tuple[Any, ...]] = set()
        folder.mkdir()

    def read(self, files: dict[str, bytes]) -> Found:
        digest = hashlib.sha256()
        for name, content in sorted(files.items()):
            digest.update(f"{name} {len(content)} ".encode() + content)
        key = digest.digest()
        if key not in self.known:
            for path in self.folder.iterdir():
                path.unlink()
            for name, content in files.items():
                (self.folder / name).write_bytes(content)
            try:
                self.known[key] = self._look() if DATABASE_NAME in files else Found("")
            except (sqlite3.Error, UnicodeDecodeError, ValueError) as problem:
                self.known[key] = Found(f"cannot be read: {type(problem).__name__}")
        return self.known[key]

    def _look(self) -> Found:
        connection = sqlite3.connect(self.folder / DATABASE_NAME, isolation_level=None)
        try:
            connection.execute("PRAGMA locking_mode=EXCLUSIVE").fetchall()
            connection.execute("PRAGMA synchronous=OFF").fetchall()  # the image may be spoiled by reading it
            checked = connection.execute("PRAGMA integrity_check").fetchall()
            if checked != [("ok",)]:
                return Found("integrity")
            tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            if not tables:
                return Found("")
            if len(tables) != 6 or len(connection.execute("SELECT * FROM about").fetchall()) != 3:
                return Found("the schema is there by half")
            return self._look_at_rows(connection)
        finally:
            connection.close()

    def _look_at_rows(self, connection: sqlite3.Connection) -> Found:
        rows = connection.execute(
            "SELECT e.hash, e.case_id, e.device, e.n, e.clock, e.kind, e.envelope, p.salt, p.body FROM entry e"
            " LEFT JOIN payload p ON p.entry_hash = e.hash"
        ).fetchall()
        by_place = {(row[1], row[2], row[3]): row for row in rows}
        removed = {row[0] for row in connection.execute("SELECT entry_hash FROM removal")}
        photos: list[str] = []
        for row in rows:
            if row not in self.sound_rows and (trouble := trouble_of_row(row)):
                return Found(trouble)
            self.sound_rows.add(row)
            if row[8] is not None and row[0] in removed:
                return Found("a removal without effect")
            if row[3]:
                before = by_place.get((row[1], row[2], row[3] - 1))
                if before is not None and json.loads(row[6])["prev"] != before[0]:
                    return Found("a chain is broken")
            if row[5] == "photo" and row[8] is not None:
                photos.append(json.loads(row[8])["sha256"])
        receipts = connection.execute(
            "SELECT case_id, store, arrival, at, entry_hash, prev, hash FROM receipt ORDER BY case_id, store, arrival"
        ).fetchall()
        last: dict[tuple[str, str], tuple[int, str]] = {}
        for receipt in receipts:
            arrival, prev = last.get(receipt[:2], (-1, ""))
            if receipt[2] != arrival + 1 or receipt[5] != prev:
                return Found("the receipts are no chain")
            if receipt not in self.sound_rows:
                names = ("case", "store", "arrival", "at", "entry", "prev")
                parts = dict(zip(names, receipt[:6], strict=True))
                text = json.dumps(parts, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
                if hashlib.sha256(text.encode()).hexdigest() != receipt[6]:
                    return Found("a receipt does not match its hash")
                self.sound_rows.add(receipt)
            last[receipt[:2]] = (receipt[2], receipt[6])
        hashes = frozenset(row[0] for row in rows)
        if hashes != {receipt[4] for receipt in receipts}:
            return Found("entries and receipts do not belong together")
        aside = frozenset(row[0] for row in connection.execute("SELECT hash FROM set_aside"))
        bare = frozenset(row[0] for row in rows if row[8] is None and row[0] not in removed)
        return Found("", hashes, aside, tuple(photos), bare)


def trouble_of_row(row: tuple[Any, ...]) -> str:
    """Hashes of one entry, computed here and not by the store."""
    envelope = json.loads(row[6])
    parts = tuple(envelope[name] for name in ("case", "device", "n", "clock", "kind"))
    if hashlib.sha256(row[6].encode()).hexdigest() != row[0] or parts != row[1:6]:
        return "an envelope does not match its hash"
    if row[8] is not None:
        digest = hashlib.sha256(bytes.fromhex(row[7]) + row[8].encode()).hexdigest()
        if digest != envelope["payload_digest"]:
            return "a payload does not match its digest"
    return ""


@dataclass
class Promise:
    """What was acknowledged so far."""

    entries: set[str] = field(default_factory=set)
    aside: set[str] = field(default_factory=set)
    secrets: set[bytes] = field(default_factory=set)
    may_be_bare: set[str] = field(default_factory=set)


def trouble_of_image(
    image: dict[str, bytes], home: str, reader: Reader, promise: Promise, groups: list[set[str]]
) -> str:
    """Why this image breaks a promise, or ''."""
    files = {os.path.basename(path): content for path, content in image.items() if os.path.dirname(path) == home}
    found = reader.read(files)
    if found.trouble:
        return found.trouble
    if not promise.entries <= found.entries:
        return "an acknowledged entry is lost"
    if not promise.aside <= found.aside:
        return "what was set aside is lost"
    if not found.bare <= promise.may_be_bare:
        return "an entry without its payload"
    rest = set(found.entries)
    for group in groups:
        if group <= rest:
            rest -= group
        else:
            break
    if rest:
        return "a transaction is there by half, or out of order"
    if len(found.entries - promise.entries) > max(map(len, groups), default=0):
        return "more than one transaction that nobody acknowledged"
    for sha256 in found.photos:
        content = image.get(os.path.join(home, "originals", sha256[:2], sha256))
        if content is None or hashlib.sha256(content).hexdigest() != sha256:
            return "an entry without its photo"
    for secret in promise.secrets:
        if any(secret in content for content in image.values()):
            return "what was removed is still there"
    return ""


# -- workloads --------------------------------------------------------------------------------------------------------


class Work:
    """Runs the real Store over the recorder and writes down each acknowledgement."""

    def __init__(self, root: Path, settings: tuple[str, ...], patch: pytest.MonkeyPatch) -> None:
        self.root = root
        self.home = root / "home"
        self.settings = settings
        self.recorder = Recorder(f"recording-{root.name}-{id(self)}")
        self.groups: list[set[str]] = []
        self.may_be_bare: set[str] = set()
        record_originals(self.recorder, patch)

    def open(self) -> Store:
        store = Store(self.home, connect=self.recorder.connect, settings=self.settings)
        self.promise()
        return store

    def promise(self, *, entries: set[str] | None = None, aside: set[str] | None = None, secret: str = "") -> None:
        self.recorder.events.append(("promise", "", entries or set(), aside or set(), secret, set(self.may_be_bare)))

    def open_case(self, store: Store) -> str:
        case = store.open_case(CaseOpened("A", "s", "UTC"), AT)
        self.groups.append({store.entries(case)[0].hash})
        self.promise(entries=self.groups[-1])
        return case

    def append(self, store: Store, case: str, *records: Any) -> list[Entry]:
        entries = store.append(case, [Draft(record, AT) for record in records])
        self.groups.append({entry.hash for entry in entries})
        self.promise(entries=self.groups[-1])
        return entries

    def receive(self, store: Store, entries: list[Entry]) -> None:
        arrival = store.receive(entries)
        by_name = {entry.name: entry.hash for entry in entries}
        self.groups.append(set(arrival.accepted))
        self.promise(entries=self.groups[-1], aside={by_name[name] for name, _ in arrival.set_aside})


def opening(work: Work) -> None:
    """Stores and cases are made, closed and opened again; the second time there is something to lose."""
    for _ in range(3):
        with work.open() as store:
            for _ in range(2):
                case = work.open_case(store)
            work.append(store, case, Note("x", AT))


def single_appends(work: Work) -> None:
    with work.open() as store:
        case = work.open_case(store)
        for number in range(14):
            sha256 = store.attach(random.Random(number).randbytes(900 * number)) if number % 3 == 0 else ""
            record = Photo(sha256, "image/jpeg", 1, "crack", AT) if sha256 else Note("x" * 40 * number, AT)
            work.append(store, case, record)


def batches(work: Work) -> None:
    with work.open() as store:
        case, other = work.open_case(store), work.open_case(store)
        for size in (1, 9, 2, 30, 4):
            work.append(store, case, *(Note("x" * 90, AT) for _ in range(size)))
            groups = [(each, [Draft(Note("g", AT), AT)] * size) for each in (case, other, case)]
            written = store.append_groups(groups)
            work.groups.append({entry.hash for entries in written for entry in entries})
            work.promise(entries=work.groups[-1])


def strikes(work: Work) -> None:
    with work.open() as store:
        case = work.open_case(store)
        target = work.append(store, case, Note("x", AT))[0].hash
        for number in range(10):
            target = work.append(store, case, Strike(target, "why", "who", AT))[-1].hash
            if number % 4 == 3:
                target = work.append(store, case, Strike(target, "why", "who", AT), Note("y" * 300, AT))[-1].hash


def foreign_chain(first: Entry, device: str, count: int) -> list[Entry]:
    entries: list[Entry] = []
    for n in range(count):
        prev = entries[-1].hash if entries else first.hash
        entries.append(
            seal(
                case=first.case, device=device, n=n, prev=prev, clock=n + 2, kind="note", claimed_at=AT, monotonic=0,
                payload=payload_of(Note(f"{device} {n}" * 9, AT)),
            )
        )  # fmt: skip
    return entries


def receiving(work: Work) -> None:
    """Batches of another device in any order, twice, with a twin that is set aside and a payload that comes later."""
    with work.open() as store:
        case = work.open_case(store)
        first = store.entries(case)[0]
        chain, other = foreign_chain(first, "far", 16), foreign_chain(first, "other", 6)
        twin = foreign_chain(first, "far", 2)[1]
        bare = entry_of(other[5].envelope_text, None, None)
        for batch in (
            chain[8:12],
            chain[:3],
            chain[:5],
            other[:1],
            other[3:5],
            [twin],
            chain[3:8],
            chain[12:] + other[1:3],
        ):
            work.receive(store, batch)
        work.may_be_bare.add(bare.hash)
        work.promise()
        work.receive(store, [bare])
        assert store.receive([other[5]]).known
        work.may_be_bare.clear()
        work.promise()


def removal(work: Work) -> None:
    """Long texts and a photo are removed; once that is acknowledged, no image holds them, not even in a log."""
    with work.open() as store:
        case = work.open_case(store)
        for number in range(3):
            secret = hashlib.sha256(str(number).encode()).hexdigest() * 60
            photo = hashlib.sha512(str(number).encode()).digest() * 40
            sha256 = store.attach(photo)
            note, picture = work.append(store, case, Note(secret, AT), Photo(sha256, "image/jpeg", 1, "face", AT))
            work.append(store, case, Note("between", AT))
            work.append(store, case, *(Removal(each.hash, "asked", "law", "who", AT) for each in (note, picture)))
            store.forget_traces()
            work.promise(secret=secret[:64])
            store.drop_attachment(sha256)
            work.promise(secret=photo[:64].hex())
            work.append(store, case, Note("after", AT))


WORKLOADS = {work.__name__: work for work in (opening, single_appends, batches, strikes, receiving, removal)}
WITH_SMALL_LOG = (*SHIPPED, "PRAGMA wal_autocheckpoint=12")  # the log is written back and begun anew again and again


def moments(work: Work) -> Iterator[tuple[Disk, Promise, int]]:
    """The disk after each recorded operation, with what was acknowledged by then."""
    disk, promise = Disk(str(work.root)), Promise()
    for number, event in enumerate(work.recorder.events):
        if event[0] == "promise":
            promise.entries |= event[2]
            promise.aside |= event[3]
            promise.may_be_bare = event[5]
            if event[4]:
                is_hex = len(event[4]) == 128
                promise.secrets.add(bytes.fromhex(event[4]) if is_hex else event[4].encode())
        else:
            disk.play(event)
        yield disk, promise, number


def cut(
    root: Path, name: str, settings: tuple[str, ...], per_moment: int, most: int = 10**9, seed: str = "1"
) -> tuple[int, Counter[str], Work]:
    """Record a workload, cut the power at every moment, and count images and troubles."""
    root.mkdir()
    with pytest.MonkeyPatch.context() as patch:
        work = Work(root, settings, patch)
        WORKLOADS[name](work)
    end = Disk(str(root))
    for event in work.recorder.events:
        if event[0] != "promise":
            end.play(event)
    on_disk = {
        str(path): path.read_bytes() for path in root.rglob("*") if path.is_file() and path.suffix != ".sqlite-shm"
    }
    assert end.image(None, "all") == on_disk, "the recording is not the disk"
    reader = Reader(root / "image")
    generator = random.Random(f"{name} {settings} {seed}")
    images, troubles = 0, Counter[str]()
    seen: set[bytes] = set()
    for disk, promise, _ in moments(work):
        kept = (len(promise.entries), len(promise.aside), len(promise.secrets), len(promise.may_be_bare))
        made = [disk.image(None, keep) for keep in ("all", "nothing", "contents", "names")]
        made += [disk.image(generator) for _ in range(per_moment)]
        for image in made:
            digest = hashlib.sha256(str(kept).encode())
            for path, content in sorted(image.items()):
                digest.update(f"{path} {len(content)} ".encode() + content)
            if digest.digest() in seen:
                continue
            seen.add(digest.digest())
            images += 1
            trouble = trouble_of_image(image, str(work.home), reader, promise, work.groups)
            if trouble:
                troubles[trouble] += 1
        if images >= most:
            break
    shutil.rmtree(root)
    return images, troubles, work


# -- tests ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("settings", [SHIPPED, WITH_SMALL_LOG], ids=["shipped", "shipped with a small log"])
@pytest.mark.parametrize("name", WORKLOADS)
def test_no_power_cut_breaks_a_promise(tmp_path: Path, name: str, settings: tuple[str, ...]) -> None:
    """TRUST A2: 0 bad images. Twelve runs, each with its own least number of images; together more than 10,000."""
    images, troubles, work = cut(tmp_path / "disk", name, settings, IMAGES_PER_MOMENT[name])
    print(name, len(work.recorder.events), "operations", images, "images", dict(troubles))
    assert troubles == {}
    assert images >= 900


@pytest.mark.soak
@pytest.mark.parametrize("settings", [SHIPPED, WITH_SMALL_LOG], ids=["shipped", "shipped with a small log"])
@pytest.mark.parametrize("name", WORKLOADS)
def test_no_power_cut_breaks_a_promise_for_long(tmp_path: Path, name: str, settings: tuple[str, ...]) -> None:
    for seed in range(5):
        _, troubles, _ = cut(tmp_path / f"disk{seed}", name, settings, 60, seed=f"long {seed}")
        assert troubles == {}


@pytest.mark.parametrize(
    "settings",
    [
        ("PRAGMA journal_mode=WAL", "PRAGMA synchronous=NORMAL"),
        ("PRAGMA journal_mode=DELETE", "PRAGMA synchronous=FULL"),
        ("PRAGMA journal_mode=DELETE", "PRAGMA synchronous=OFF"),
    ],
    ids=["WAL NORMAL", "DELETE FULL", "DELETE OFF"],
)
def test_other_settings_lose_acknowledged_entries(tmp_path: Path, settings: tuple[str, ...]) -> None:
    """Negative controls: settings that are known to lose entries ([SQLite-pragma] synchronous). If no image is bad here,
    the test above sees nothing."""
    images, troubles, _ = cut(tmp_path / "disk", "single_appends", settings, 3, MOST_IMAGES_OF_A_CONTROL)
    print(settings, images, "images", dict(troubles))
    assert troubles["an acknowledged entry is lost"] > 0
    assert images > 300


@pytest.mark.parametrize(
    ("broken", "trouble"),
    [
        ("photo after entry", "an entry without its photo"),
        ("file not synced", "an entry without its photo"),
        ("folder not synced", "an entry without its photo"),
        ("traces kept", "what was removed is still there"),
    ],
)
def test_a_broken_order_is_found_out(tmp_path: Path, broken: str, trouble: str, monkeypatch: Any) -> None:
    """Negative controls for originals and removals: leave out one step, and images show it."""
    real = attachments.sync

    def lazy(path: Path) -> None:
        if not path.is_dir():
            real(path)

    def unfinished(home: Path, content: bytes) -> str:
        sha256 = hashlib.sha256(content).hexdigest()
        attachments.make_folder(attachments.path_of(home, sha256).parent)
        target = attachments.path_of(home, sha256)
        with attachments.open(target, "xb") as file:
            file.write(content)
        attachments.sync(target.parent)
        return sha256

    def photo_after_entry(store: Store, content: bytes) -> str:
        later.append(content)
        return hashlib.sha256(content).hexdigest()

    later: list[bytes] = []
    name = "single_appends"
    if broken == "folder not synced":
        monkeypatch.setattr(attachments, "sync", lazy)
    elif broken == "file not synced":
        monkeypatch.setattr(attachments, "keep", unfinished)
    elif broken == "photo after entry":
        monkeypatch.setattr(Store, "attach", photo_after_entry)
    else:
        monkeypatch.setattr(Store, "forget_traces", lambda store: None)
        name = "removal"
    images, troubles, _ = cut(tmp_path / "disk", name, SHIPPED, 3, 1_200)
    print(broken, images, "images", dict(troubles))
    assert troubles[trouble] > 0


def test_images_show_what_they_should(tmp_path: Path) -> None:
    """The model of the disk itself, by hand: kept, dropped, torn, and names undone."""
    disk = Disk("/d")
    disk.play(("create", "/d/a"))
    disk.play(("write", "/d/a", 0, b"one"))
    assert disk.image(None, "all") == {"/d/a": b"one"}
    assert disk.image(None, "nothing") == {}
    assert disk.image(None, "names") == {"/d/a": b""}
    disk.play(("sync", "/d/a"))
    disk.play(("sync folder", "/d"))
    disk.play(("write", "/d/a", 2, b"XYZ"))
    assert {disk.image(None, keep)["/d/a"] for keep in ("all", "nothing")} == {b"onXYZ", b"one"}
    disk.play(("rename", "/d/a", "/d/b"))
    disk.play(("unlink", "/d/b"))
    assert disk.image(None, "all") == {}
    assert disk.image(None, "contents") == {"/d/a": b"onXYZ"}
    generator = random.Random(1)
    seen = {tuple(sorted(disk.image(generator).items())) for _ in range(400)}
    assert {(), (("/d/a", b"one"),), (("/d/b", b"onXYZ"),)} <= seen
    disk.play(("mkdir", "/d/sub"))
    disk.play(("create", "/d/sub/c"))
    disk.play(("sync folder", "/d/sub"))
    assert "/d/sub/c" in disk.image(None, "all")
    assert "/d/sub/c" not in disk.image(None, "nothing"), "a folder without a name has nothing in it"
    torn = [("write", 0, bytes(2000))]
    lengths = {sum(len(op[2]) for op in survivors(torn, random.Random(seed))) for seed in range(300)}
    assert {0, 512, 1024, 1536, 2000} <= lengths


def test_the_light_reader_agrees_with_the_chains(tmp_path: Path) -> None:
    """The reader used on images finds each kind of damage that the store's own checks find."""
    with Store(tmp_path / "home") as store:
        case = store.open_case(CaseOpened("A", "s", "UTC"), AT)
        store.append(case, [Draft(Note(str(n), AT), AT) for n in range(3)])
        assert faults_of_chains(store.entries(case)) == []
        store.forget_traces()
        sound = (tmp_path / "home" / DATABASE_NAME).read_bytes()
    changes = [
        "UPDATE entry SET envelope = replace(envelope, '09:00', '09:01') WHERE n = 1",
        'UPDATE payload SET body = replace(body, \'"words":"1"\', \'"words":"2"\')',
        "UPDATE entry SET clock = 9 WHERE n = 1",
        "INSERT INTO removal SELECT hash, hash FROM entry WHERE n = 1",
        "DELETE FROM receipt WHERE arrival = 1",
        "UPDATE receipt SET at = 'x' WHERE arrival = 1",
        "DELETE FROM receipt WHERE arrival = 3",
        "DROP TABLE removal",
    ]
    reader = Reader(tmp_path / "image")
    assert reader.read({DATABASE_NAME: sound}).trouble == ""
    for change in changes:
        path = tmp_path / "changed.sqlite"
        path.write_bytes(sound)
        connection = sqlite3.connect(path, isolation_level=None)
        for (trigger,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {trigger}")
        connection.execute(change)
        connection.close()
        assert reader.read({DATABASE_NAME: path.read_bytes()}).trouble, change
    assert reader.read({DATABASE_NAME: sound[:-4096]}).trouble
    assert reader.read({}).trouble == ""
