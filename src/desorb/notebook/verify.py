"""Does a record hold together, and does it hold what was printed?

Contents: Verification; verify_store, verify_home, verify_bag (three ways in); verification_of (one way through).
Nothing raises on damage: every fault is a sentence. A record that holds together can still have been written anew by
the one who keeps it; only heads kept elsewhere, as on a printed report, show that. So heads can be given.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from desorb.core.case import Gap
from desorb.errors import DesorbError, NotUnderstood
from desorb.notebook import attachments, bag_form, bag_unpack
from desorb.notebook.bag_form import Seen
from desorb.notebook.bag_reading import RECEIPT_PARTS, BagContent, fault_of_aside, read_bag
from desorb.notebook.chain import Receipt, by_device, faults_of_chains, faults_of_receipts, gaps_of
from desorb.notebook.entry import Entry, canonical, entry_of
from desorb.notebook.fold import NOT_EVIDENCE, fold
from desorb.notebook.store import DATABASE_NAME, Store

SHORTEST_HEAD = 12  # hexadecimal digits: 48 bits, more than anyone can hit by trying in a record of this size
NEVER_REMOVED = ("case-opened", "removal")
_HEX = frozenset("0123456789abcdef")
_ROW = ((str, "hash"), (str, "case"), (str, "device"), (int, "n"), (int, "clock"), (str, "kind"), (str, "envelope"))


@dataclass(frozen=True, slots=True)
class Anchored:
    """A head that was given and is in the record, and what was entered on its device after it."""

    head: str
    device: str
    n: int
    after: int
    evidence_after: int

    @property
    def superseded(self) -> bool:
        return self.evidence_after > 0


@dataclass(frozen=True, slots=True)
class Verification:
    """What was found. `evidence_beyond` counts the entries bearing evidence that no given head covers."""

    case: str
    faults: tuple[str, ...]
    notes: tuple[str, ...] = ()
    counts: Mapping[str, int] = field(default_factory=dict)
    heads: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    anchored: tuple[Anchored, ...] = ()
    not_anchored: tuple[str, ...] = ()
    evidence_beyond: int = 0

    @property
    def ok(self) -> bool:
        return not self.faults


@dataclass(frozen=True, slots=True)
class Original:
    """A file that an entry names by its SHA-256."""

    folder: str  # where it lies in a bag
    sha256: str
    words: str
    size: int | None = None


def originals_of(entry: Entry) -> list[Original]:
    """The files an entry names. What does not look like a digest names none: it may come from a stranger."""
    if entry.payload_text is None or entry.kind not in ("photo", "file-taken", "report-issued"):
        return []
    payload: dict[str, Any] = json.loads(entry.payload_text)
    size = payload.get("size")
    named = {
        "photo": [Original("photos", payload.get("sha256", ""), "photo", size if type(size) is int else None)],
        "file-taken": [Original("files", payload.get("sha256", ""), "file taken")],
        "report-issued": [
            Original("report", payload.get("pdf_sha256", ""), "report"),
            Original("report", payload.get("twin_sha256", ""), "report as data"),
        ],
    }
    return [each for each in named[entry.kind] if type(each.sha256) is str and attachments.SHA256.fullmatch(each.sha256)]


@dataclass(frozen=True, slots=True)
class Record:
    """A record wherever it came from. `find` gives an original as it was read, or None when it is not there."""

    case: str
    entries: Sequence[Entry]
    receipts: Sequence[Receipt]
    set_aside: Sequence[Mapping[str, Any]]
    find: Callable[[Original], Seen | None]
    faults: list[str]
    notes: list[str]


def heads_text(case: str, entries: Iterable[Entry], receipts: Sequence[Receipt]) -> bytes:
    """What heads.json says: the last entry of each device and how many there are."""
    chains = by_device(entries)
    heads = [{"device": name, "n": chain[-1].n, "hash": chain[-1].hash} for name, chain in chains.items()]
    counts = {"entries": sum(map(len, chains.values())), "receipts": len(receipts)}
    return canonical({"case": case, "heads": list(heads), **counts}) + b"\n"


def verify_bag(folder: Path, heads: Iterable[str] = ()) -> Verification:
    """Verify a bag in a folder or a .zip of one."""
    try:
        with bag_unpack.as_folder(folder) as unpacked:
            return verification_of(record_of_bag(read_bag(unpacked)), heads)
    except DesorbError as problem:
        return Verification("", (str(problem),))


def record_of_bag(content: BagContent) -> Record:
    faults, notes = list(content.faults), []
    if content.files and content.heads_text != heads_text(content.case, content.entries, content.receipts):
        faults.append("heads.json does not say what the entries say")
    shipped = Path(__file__).with_name("bag_verifier.py").read_bytes()
    if content.files and content.verifier_text != shipped:
        notes.append("verify.py is not the one of this version of desorb: it is older, newer or was changed")
    notes.extend(f"{name} is not part of a case: only the manifest holds it" for name in content.unknown_files)
    named = {(each.folder, each.sha256) for entry in content.entries for each in originals_of(entry)}
    notes.extend(
        f"{name} is named by no entry" for key, name in sorted(content.originals.items()) if key not in named
    )

    def find(original: Original) -> Seen | None:
        name = content.originals.get((original.folder, original.sha256))
        return content.files[name] if name else None

    return Record(content.case, content.entries, content.receipts, content.set_aside, find, faults, notes)


def verify_home(home: Path, case: str, heads: Iterable[str] = ()) -> Verification:
    """Verify a case in a store that may be too damaged to be opened."""
    if not (home / DATABASE_NAME).is_file():
        return Verification(case, ("there is no store in this folder",))
    try:
        with Store(home) as store:
            return verify_store(store, case, heads)
    except DesorbError as problem:
        return Verification(case, (str(problem),))


def verify_store(store: Store, case: str, heads: Iterable[str] = ()) -> Verification:
    """Verify a case as it stands in a store, and the file of the store with it."""
    faults: list[str] = []

    def tried(read: Callable[[], list[Any]]) -> list[Any]:
        try:
            return read()
        except DesorbError as problem:
            if str(problem) not in faults:
                faults.append(str(problem))
            return []

    entries = _entries_of_rows(tried(lambda: store.rows(case)), faults)
    receipts = tried(lambda: store.receipts(case))
    wrong = [each for each in receipts if any(type(getattr(each, part)) is not of for part, of in RECEIPT_PARTS.items())]
    faults.extend("a receipt cannot be read" for _ in wrong)
    receipts = [each for each in receipts if each not in wrong]
    aside = tried(lambda: store.set_aside(case))
    unread = {f"what was set aside as {row['device']}/{row['n']}: {fault}" for row in aside if (fault := fault_of_aside(row))}
    faults.extend(sorted(unread))
    own = {receipt.entry for receipt in receipts if receipt.store == store.store_id}
    faults.extend(f"entry {each.name} has no receipt of this store" for each in entries if each.hash not in own)
    faults.extend(f"the file of the store is damaged: {fault}" for fault in tried(store.check_file))

    def find(original: Original) -> Seen | None:
        path = attachments.path_of(store.home, original.sha256)
        if not path.exists():
            return None
        with bag_form.open_plainly(path) as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        return Seen(digest, path.stat().st_size)

    aside = [row for row in aside if not fault_of_aside(row)]
    return verification_of(Record(case, entries, receipts, aside, find, faults, []), heads)


def _entries_of_rows(rows: Iterable[Any], faults: list[str]) -> list[Entry]:
    entries: list[Entry] = []
    for row in rows:
        name = f"entry {row[2]}/{row[3]}"
        if any(type(value) is not wanted for value, (wanted, _) in zip(row, _ROW, strict=False)) or not all(
            value is None or type(value) is str for value in row[7:]
        ):
            faults.append(f"{name} cannot be read")
            continue
        try:
            entry = entry_of(row[6], row[7], row[8])
        except NotUnderstood as problem:
            faults.append(f"{name} cannot be read: {problem.what}")
            continue
        if tuple(row[:6]) != (entry.hash, entry.case, entry.device, entry.n, entry.clock, entry.kind):
            faults.append(f"{name}: it does not match its hash or stands in the wrong place")
        entries.append(entry)
    return entries


def verification_of(record: Record, heads: Iterable[str] = ()) -> Verification:
    """Every check that does not depend on where the record lies."""
    faults, notes = list(record.faults), list(record.notes)
    entries = list(record.entries)
    if not entries:
        faults.append("there is no entry of this case")
    faults.extend(faults_of_chains(entries))
    hashes = {entry.hash for entry in entries}
    aside = {row["hash"] for row in record.set_aside} & {receipt.entry for receipt in record.receipts}
    faults.extend(faults_of_receipts(record.receipts, hashes | aside))
    removed = _check_payloads(entries, faults, notes)
    present = _check_originals(record, faults, notes)
    numbers: dict[str, set[int]] = {}
    for row in record.set_aside:
        numbers.setdefault(row["device"], set()).add(row["n"])
        notes.append(f"entry {row['device']}/{row['n']} was set aside: {row['reason']}")
    gaps = gaps_of(entries, numbers)
    notes.extend(str(gap) for gap in gaps)
    if not faults:  # what does not hold together is not folded: it could mean anything
        case = fold(entries, numbers)
        notes.extend(f"the strike {each.entry} waits for an entry that is not here" for each in case.waiting_strikes)
        notes.extend(f"the removal {each.entry} waits for an entry that is not here" for each in case.waiting_removals)
        notes.extend(f"not understood by this version: {each}" for each in case.not_understood)
    anchored, missing, beyond = _anchor(list(heads), entries, gaps, faults, notes)
    counts = {
        "entries": len(entries), "receipts": len(record.receipts), "set aside": len(record.set_aside),
        "removed": removed, **present, "reports": sum(entry.kind == "report-issued" for entry in entries),
    }  # fmt: skip
    last = {device: (chain[-1].n, chain[-1].hash) for device, chain in by_device(entries).items()}
    return Verification(record.case, tuple(faults), tuple(notes), counts, last, anchored, missing, beyond)


def _check_payloads(entries: Sequence[Entry], faults: list[str], notes: list[str]) -> int:
    removals: dict[str, str] = {}
    for entry in entries:
        if entry.kind == "removal" and entry.payload_text is not None:
            target = json.loads(entry.payload_text).get("target")
            removals.setdefault(target if type(target) is str else "", entry.name)
    removed = 0
    for entry in entries:
        named = removals.get(entry.hash, "") if entry.kind not in NEVER_REMOVED else ""
        if entry.payload_text is None and not named:
            faults.append(f"entry {entry.name}: its payload is missing, and no removal in this record names it")
        elif entry.payload_text is None:
            removed += 1
            notes.append(f"the payload of entry {entry.name} ({entry.kind}) was removed by entry {named}")
        elif named:
            notes.append(f"the payload of entry {entry.name} was to be removed by entry {named} and is still here")
    return removed


def _check_originals(record: Record, faults: list[str], notes: list[str]) -> dict[str, int]:
    counts = {"photo": 0, "file taken": 0, "report": 0, "report as data": 0}
    for entry in record.entries:
        for original in originals_of(entry):
            name = f"{original.words} {original.sha256[:12]} of entry {entry.name}"
            try:
                seen = record.find(original)
            except OSError as problem:
                faults.append(f"the {name} cannot be read: {problem.strerror}")
                continue
            if seen is None:
                if original.words != "report as data":
                    notes.append(f"the {name} is not here: it is awaited")
                continue
            counts[original.words] += 1
            if seen.sha256 != original.sha256:
                faults.append(f"the {name} does not match its SHA-256: its bytes were changed")
            if original.size not in (None, seen.size):
                faults.append(f"the {name} has {seen.size} bytes; its entry says {original.size}")
    return {"photos": counts["photo"], "files": counts["file taken"], "report files": counts["report"]}


def _anchor(
    heads: list[str], entries: Sequence[Entry], gaps: Sequence[Gap], faults: list[str], notes: list[str]
) -> tuple[tuple[Anchored, ...], tuple[str, ...], int]:
    chains = by_device(entries)
    covered: dict[str, int] = {}
    anchored: list[Anchored] = []
    for given in heads:
        head = "".join(given.split()).lower()
        if not SHORTEST_HEAD <= len(head) <= 64 or not set(head) <= _HEX:
            faults.append(f"{given!r} is not a head: wanted at least {SHORTEST_HEAD} hexadecimal digits")
            continue
        found = [entry for entry in entries if entry.hash.startswith(head)]
        if not found:
            faults.append(
                f"the head {head[:SHORTEST_HEAD]} printed on the report is not in this record:"
                " entries were changed or taken away after it was printed"
            )
        elif len({entry.hash for entry in found}) > 1:
            faults.append(f"the head {head} fits more than one entry: give more of its digits")
        else:
            entry = found[0]
            later = [each for each in chains[entry.device] if each.n > entry.n]
            bearing = sum(each.kind not in NOT_EVIDENCE for each in later)
            anchored.append(Anchored(entry.hash, entry.device, entry.n, len(later), bearing))
            covered[entry.device] = max(entry.n, covered.get(entry.device, -1))
    for gap in gaps:
        if gap.first <= covered.get(gap.device, -1):
            faults.append(f"{gap}, before the printed head: nothing shows that the entries before it are unchanged")
    missing = tuple(device for device in chains if device not in covered)
    if not heads and entries:
        notes.append("no printed head was given: whoever keeps this record could have written it anew")
    elif missing:
        notes.append("no head was given for " + ", ".join(missing) + ": whoever keeps this record could write them anew")
    beyond = sum(
        each.kind not in NOT_EVIDENCE and each.n > covered.get(each.device, -1) for each in entries
    )
    return tuple(anchored), missing, beyond
