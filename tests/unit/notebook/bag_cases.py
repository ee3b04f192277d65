"""Cases, bags in memory and forgeries for the tests of bag and verify."""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, BinaryIO

from desorb.core import kinds
from desorb.notebook import bag_form
from desorb.notebook.bag import record_files, tag_texts
from desorb.notebook.bag_form import Seen
from desorb.notebook.chain import Receipt, in_fold_order
from desorb.notebook.entry import Entry, seal
from desorb.notebook.schema import payload_of
from desorb.notebook.store import Draft, Store

NOW = "2026-03-02T09:00:00.000Z"
AT = "2026-03-01T10:00:00+01:00"
PHOTO = b"\xff\xd8\xff\xe0 not really a picture " + bytes(range(256))
TAKEN = b"spot,value\nA1,12.5\n"
PDF = b"%PDF-1.7 not really a report"
TWIN = b'{"report":1}'
SOFTWARE = "desorb 0.1.0"


def clock(start: int = 0) -> Callable[[], str]:
    """A clock that runs a second with every look at it."""
    seconds = iter(range(start, 10**6))

    def now() -> str:
        second = next(seconds)
        return f"2026-03-01T{10 + second // 3600:02}:{second // 60 % 60:02}:{second % 60:02}.000Z"

    return now


def reading(number: int, value: str = "12.50") -> kinds.Reading:
    return kinds.Reading(
        key=f"r{number}", spot=f"S{number % 7}", visit="V1", instrument="M1", scale="wme", values=(value, "13"),
        covering="bare", taken_at=AT, by="A. Surveyor", note='8 °C, "north" wall',
    )  # fmt: skip


def photo(content: bytes = PHOTO, media_type: str = "image/jpeg") -> kinds.Photo:
    return kinds.Photo(hashlib.sha256(content).hexdigest(), media_type, len(content), "the north wall", AT)


def note(number: int) -> kinds.Note:
    return kinds.Note(f'place {number}: 8 °C, "cold" wall', AT, "A. Surveyor")


def fill(store: Store, entries: int, readings: int = 1000) -> str:
    """A case with this many entries of this store's device: a photo, a file, a strike and a report among them.

    The rest are readings, and notes (they are shorter) beyond a number of readings.
    """
    case = store.open_case(kinds.CaseOpened("House", "1 Wet Lane", "Europe/London", invented=True), AT)
    picture, taken = photo(), store.attach(TAKEN)
    store.attach(PHOTO)
    records: list[Any] = [picture, kinds.FileTaken("readings.CSV", taken, 1, 1, at=AT)]
    records += [reading(number) if number < readings else note(number) for number in range(entries - 5)]
    written = store.append(case, [Draft(record, AT) for record in records])
    store.append(case, [Draft(kinds.Strike(written[-1].hash, "read on paint", "A. Surveyor", AT), AT)])
    heads = (store.entries(case)[-1].hash,)
    issued = kinds.ReportIssued(1, AT, heads, ("tolerance/1",), SOFTWARE, store.attach(PDF), store.attach(TWIN))
    store.append(case, [Draft(issued, AT)])
    return case


def of_device(store: Store, case: str, device: str, count: int, first: int = 0) -> list[Entry]:
    """Entries of another device, sealed outside of any store, that follow what this store knows."""
    known = store.entries(case)
    chain = [entry for entry in known if entry.device == device]
    prev = chain[-1].hash if chain else known[0].hash
    top = max(entry.clock for entry in known)
    made: list[Entry] = []
    for step in range(count):
        number = (chain[-1].n + 1 if chain else 0) + step
        entry = seal(
            case=case, device=device, n=number, prev=prev, clock=top + 1 + step, kind="reading", claimed_at=AT,
            monotonic=number, payload=payload_of(reading(1000 + first + number)),
        )  # fmt: skip
        made.append(entry)
        prev = made[-1].hash
    return made


class MemoryBag:
    """A bag held as bytes: the same reader and the same checks as for a folder, without a disk."""

    def __init__(self, contents: Mapping[str, bytes]) -> None:
        self.contents = dict(contents)
        self.files = {name: Seen.of(content) for name, content in self.contents.items()}
        self.faults: list[str] = []

    def open(self, name: str) -> BinaryIO:
        return io.BytesIO(self.contents[name])

    def with_file(self, name: str, content: bytes) -> MemoryBag:
        """The same bag with one file changed; only that one is hashed anew."""
        other = MemoryBag({})
        other.contents = {**self.contents, name: content}
        other.files = {**self.files, name: Seen.of(content)}
        return other


def contents_of(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def write(folder: Path, contents: Mapping[str, bytes]) -> Path:
    for name, content in contents.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


def rebagged(contents: Mapping[str, bytes]) -> dict[str, bytes]:
    """The same files with manifests and Payload-Oxum made anew, as someone does who edits and bags again."""
    made = dict(contents)
    payload = bag_form.payload_files({name: Seen.of(content) for name, content in made.items()})
    made["manifest-sha256.txt"] = bag_form.manifest_text(payload)
    lines = made["bag-info.txt"].decode().splitlines()
    kept = [line for line in lines if not line.startswith("Payload-Oxum")]
    made["bag-info.txt"] = "".join(f"{line}\n" for line in [*kept, f"Payload-Oxum: {bag_form.oxum(payload)}"]).encode()
    tags = bag_form.tag_files({name: Seen.of(content) for name, content in made.items()})
    made["tagmanifest-sha256.txt"] = bag_form.manifest_text(tags)
    return made


def bagged(
    entries: Sequence[Entry], receipts: Sequence[Receipt], originals: Mapping[str, bytes], aside: Iterable[dict] = ()
) -> dict[str, bytes]:
    """A whole bag of these entries, heads.json and manifests included: what an insider can always make."""
    files = record_files(entries, receipts, aside) | dict(originals)
    seen = {name: Seen.of(content) for name, content in files.items()}
    return files | tag_texts(entries[0].case, entries, receipts, seen, now=NOW, software=SOFTWARE)


def rechained(entries: Sequence[Entry], edits: Mapping[str, Callable[[dict], dict]]) -> list[Entry]:
    """Entries with some payloads edited and every hash after them made anew, references in payloads included."""
    made: list[Entry] = []
    renamed: dict[str, str] = {"": ""}
    for entry in in_fold_order(entries):
        payload = edits.get(entry.hash, lambda same: same)(entry.payload())
        text = json.dumps(payload)
        for old, new in renamed.items():
            text = text.replace(old, new) if old else text
        envelope = json.loads(entry.envelope_text)
        fresh = seal(
            case=entry.case, device=entry.device, n=entry.n, prev=renamed.get(entry.prev, entry.prev), clock=entry.clock,
            kind=entry.kind, claimed_at=entry.claimed_at, monotonic=envelope["monotonic"], payload=json.loads(text),
            salt=entry.salt,
        )  # fmt: skip
        renamed[entry.hash] = fresh.hash
        made.append(fresh)
    return made


def without_payload(entry: Entry) -> Entry:
    return replace(entry, salt=None, payload_text=None)
