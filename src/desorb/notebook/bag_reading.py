"""Reading a bag: what its lines say, without believing any of it.

Contents: BagSource (a folder, or bytes in a test); the readers of one line; BagContent; read_folder.
Nothing raises on damage: what cannot be read becomes a fault, as a sentence that names the file and the line.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any, BinaryIO, Protocol, TypeVar

from desorb.errors import NotUnderstood
from desorb.notebook import bag_form
from desorb.notebook.bag_form import Seen
from desorb.notebook.chain import Receipt
from desorb.notebook.entry import Entry, canonical, entry_of, read_object

LONGEST_LINE = 1 << 20
LONGEST_ASIDE = 1 << 22  # what was set aside may need six characters for one
LONGEST_TAG_FILE = 1 << 23
MOST_FAULTS_OF_A_FILE = 50
ENTRIES = "data/entries.jsonl"
RECEIPTS = "data/receipts.jsonl"
SET_ASIDE = "data/set-aside.jsonl"
PAYLOADS = re.compile(r"data/payloads/[^/]+\.jsonl")
ORIGINALS = re.compile(r"data/(photos|files|report)/([^/.]*)\.?[^/]*")
FREE = re.compile(r"data/(csv|json)/.+")  # made from the entries: held by the manifest only
HEADS = "heads.json"
VERIFIER = "verify.py"
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{3})?Z")  # such texts order as times do

RECEIPT_PARTS = {"case": str, "store": str, "arrival": int, "at": str, "entry": str, "prev": str, "hash": str}
ASIDE_PARTS = {
    "case": str, "device": str, "n": int, "hash": str, "envelope": str, "salt": str, "body": str, "reason": str,
    "at": str,
}  # fmt: skip
T = TypeVar("T")


class BagSource(Protocol):
    @property
    def files(self) -> Mapping[str, Seen]: ...

    @property
    def faults(self) -> list[str]: ...

    def open(self, name: str) -> BinaryIO: ...


class FolderSource:
    """A bag in a folder. Every file is hashed once; a link or an odd name makes the whole folder unfit to be read."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.files, self.faults = bag_form.look(folder)

    def open(self, name: str) -> BinaryIO:
        return bag_form.open_plainly(self._folder / name)


@dataclass(frozen=True, slots=True)
class BagContent:
    """What a bag says. `originals` gives the name in the bag of each original: ("photos", its SHA-256) -> name."""

    case: str
    entries: tuple[Entry, ...]
    receipts: tuple[Receipt, ...]
    set_aside: tuple[dict[str, Any], ...]
    originals: Mapping[tuple[str, str], str]
    files: Mapping[str, Seen]
    open: Callable[[str], BinaryIO]
    heads_text: bytes = b""
    verifier_text: bytes = b""
    faults: tuple[str, ...] = ()
    unknown_files: tuple[str, ...] = ()


def envelope_of_line(line: bytes) -> Entry:
    """An entry still without its payload. That its text is canonical is checked with the chains."""
    try:
        return entry_of(line.decode(), None, None)
    except UnicodeDecodeError as problem:
        raise NotUnderstood("it is not written in UTF-8") from problem


def with_payload(entry: Entry, payload: tuple[str, str] | None) -> Entry:
    return entry if payload is None else replace(entry, salt=payload[0], payload_text=payload[1])


def payload_of_line(line: bytes) -> tuple[str, str, str]:
    """(entry, salt, payload text): exactly the bytes that were digested."""
    row = _row(line, {"entry": str, "salt": str, "payload": dict})
    return row["entry"], row["salt"], canonical(row["payload"]).decode()


def receipt_of_line(line: bytes) -> Receipt:
    row = _row(line, RECEIPT_PARTS)
    if not MOMENT.fullmatch(row["at"]):
        raise NotUnderstood("its time is not in UTC, as in 2026-03-01T10:00:00.000Z")
    return Receipt(**row)


def aside_of_line(line: bytes) -> dict[str, Any]:
    row = _row(line, ASIDE_PARTS)
    if fault := fault_of_aside(row):
        raise NotUnderstood(fault)
    return row


def fault_of_aside(row: Mapping[str, Any]) -> str:
    """Whether what was set aside is still what it was: its columns say what its envelope says."""
    if any(type(row[name]) is not wanted for name, wanted in ASIDE_PARTS.items()):
        return "a part of it is of the wrong kind"
    if not MOMENT.fullmatch(row["at"]):
        return "its time is not in UTC, as in 2026-03-01T10:00:00.000Z"
    try:
        entry = entry_of(row["envelope"], None, None)
    except NotUnderstood:
        return "its envelope cannot be read"
    same = (entry.case, entry.device, entry.n) == (row["case"], row["device"], row["n"])
    return "" if same and entry.hash == row["hash"] else "it does not match its envelope"


def _row(line: bytes, parts: Mapping[str, type]) -> dict[str, Any]:
    row = read_object(line)
    if set(row) != set(parts) or any(type(row[name]) is not wanted for name, wanted in parts.items()):
        raise NotUnderstood("it has other parts than it should")
    if canonical(row) != line:
        raise NotUnderstood("it is not in canonical form")
    return row


def lines_of(file: BinaryIO, name: str, faults: list[str]) -> Iterator[tuple[int, bytes]]:
    number, longest = 0, LONGEST_ASIDE if name == SET_ASIDE else LONGEST_LINE
    while line := file.readline(longest + 1):
        number += 1
        if not line.endswith(b"\n"):
            long = len(line) > longest
            faults.append(f"{name}: line {number} " + (f"is longer than {longest} bytes" if long else "breaks off"))
            return
        yield number, line[:-1]


def _read_lines(source: BagSource, name: str, reader: Callable[[bytes], T], faults: list[str]) -> list[T]:
    found: list[T] = []
    if name not in source.files:
        faults.append(f"{name} is missing")
        return found
    before = len(faults)
    with source.open(name) as file:
        for number, line in lines_of(file, name, faults):
            try:
                found.append(reader(line))
            except NotUnderstood as problem:
                faults.append(f"{name}: line {number} cannot be taken: {problem.what}")
            if len(faults) - before >= MOST_FAULTS_OF_A_FILE:
                faults.append(f"{name}: reading stopped after {MOST_FAULTS_OF_A_FILE} faults")
                break
    return found


def read_folder(folder: Path) -> BagContent:
    """What the bag in this folder says, with every fault of its form and lines in `faults`."""
    source = FolderSource(folder)
    try:
        return content_of(source)
    except OSError as problem:
        return _nothing_of(source, [f"the bag could not be read to its end: {problem.strerror}"])


def _nothing_of(source: BagSource, faults: list[str]) -> BagContent:
    return BagContent("", (), (), (), {}, {}, source.open, faults=tuple(faults))


def content_of(source: BagSource) -> BagContent:
    faults = list(source.faults)
    if faults:
        return _nothing_of(source, faults)

    def read(name: str) -> bytes:
        if name not in source.files:
            return b""
        with source.open(name) as file:
            return file.read(LONGEST_TAG_FILE)

    faults.extend(bag_form.faults_of_form(source.files, read))
    envelopes = _read_lines(source, ENTRIES, envelope_of_line, faults)
    receipts = _read_lines(source, RECEIPTS, receipt_of_line, faults)
    aside = _read_lines(source, SET_ASIDE, aside_of_line, faults)
    entries = _with_payloads(source, envelopes, faults)
    case = entries[0].case if entries else ""
    _check_order(case, entries, receipts, aside, faults)
    originals, unknown = _originals(source.files, faults)
    return BagContent(
        case, tuple(entries), tuple(receipts), tuple(aside), originals, source.files, source.open,
        heads_text=read(HEADS), verifier_text=read(VERIFIER), faults=tuple(faults), unknown_files=tuple(unknown),
    )  # fmt: skip


def _with_payloads(source: BagSource, envelopes: list[Entry], faults: list[str]) -> list[Entry]:
    payloads: dict[str, tuple[str, str]] = {}
    known = {entry.hash for entry in envelopes}
    for name in sorted(name for name in source.files if PAYLOADS.fullmatch(name)):
        for entry, salt, text in _read_lines(source, name, payload_of_line, faults):
            if entry not in known:
                faults.append(f"{name}: a payload belongs to no entry of this bag ({entry[:12]})")
            elif entry in payloads:
                faults.append(f"{name}: the payload of an entry stands twice ({entry[:12]})")
            payloads[entry] = (salt, text)
    return [with_payload(entry, payloads.get(entry.hash)) for entry in envelopes]


def _check_order(
    case: str, entries: list[Entry], receipts: list[Receipt], aside: list[dict[str, Any]], faults: list[str]
) -> None:
    places = [(entry.clock, entry.device, entry.n, entry.hash) for entry in entries]
    for (earlier, place), entry in zip(pairwise(places), entries[1:], strict=True):
        if place <= earlier:
            twice = "stands twice" if place == earlier else "does not stand in its order"
            faults.append(f"{ENTRIES}: entry {entry.name} {twice}")
    if any((b.store, b.arrival) <= (a.store, a.arrival) for a, b in pairwise(receipts)):
        faults.append(f"{RECEIPTS}: the receipts do not stand in their order")
    if any((b["hash"], b["reason"]) <= (a["hash"], a["reason"]) for a, b in pairwise(aside)):
        faults.append(f"{SET_ASIDE}: what was set aside does not stand in its order")
    if any(receipt.case != case for receipt in receipts) or any(row["case"] != case for row in aside):
        faults.append("receipts or things set aside of another case stand in this bag")


def _originals(files: Mapping[str, Seen], faults: list[str]) -> tuple[dict[tuple[str, str], str], list[str]]:
    originals: dict[tuple[str, str], str] = {}
    unknown: list[str] = []
    for name in sorted(bag_form.payload_files(files)):
        if parts := ORIGINALS.fullmatch(name):
            if files[name].sha256 != parts[2]:
                faults.append(f"{name} does not hold the bytes that it is named after")
            elif (parts[1], parts[2]) in originals:
                faults.append(f"{name} stands twice under two endings")
            originals[parts[1], parts[2]] = name
        elif name not in (ENTRIES, RECEIPTS, SET_ASIDE) and not PAYLOADS.fullmatch(name) and not FREE.fullmatch(name):
            unknown.append(name)
    return originals, unknown
