"""Does a record hold together, and does it hold what was printed?

Contents: Verification; verify_store, verify_home, verify_bag (three ways in); verification_of (one way through).
Nothing raises on damage: every fault is a sentence. A record that holds together can still have been written anew by
the one who keeps it; only heads kept elsewhere, as on a printed report, show that. So heads can be given.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from desorb.errors import DesorbError, NotUnderstood
from desorb.notebook import attachments, bag_form, bag_unpack
from desorb.notebook.bag_form import Seen
from desorb.notebook.bag_reading import RECEIPT_PARTS, BagContent, fault_of_aside, read_folder
from desorb.notebook.chain import Receipt, by_device, faults_of_chains, faults_of_receipts, gaps_of
from desorb.notebook.entry import Entry, entry_of
from desorb.notebook.fold import fold
from desorb.notebook.heads import Anchored, anchor, heads_text
from desorb.notebook.originals import Original, check_originals, originals_of, payload_or_nothing
from desorb.notebook.schema import NEVER_REMOVED
from desorb.notebook.store import DATABASE_NAME, Store

_ROW = (str, str, str, int, int, str, str)  # hash, case, device, n, clock, kind, envelope


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
class Record:
    """A record wherever it came from. `find` gives an original as it was read, or None when it is not there."""

    case: str
    entries: Sequence[Entry]
    receipts: Sequence[Receipt]
    set_aside: Sequence[Mapping[str, Any]]
    find: Callable[[Original], Seen | None]
    faults: list[str]
    notes: list[str]
    own_device: str = ""  # of the store that is verified: what it wrote itself must be there


def verify_bag(folder: Path, heads: Iterable[str] = ()) -> Verification:
    """Verify a bag in a folder or a .zip of one."""
    try:
        with bag_unpack.as_folder(folder) as unpacked:
            return verification_of(record_of_bag(read_folder(unpacked)), heads)
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
    notes.extend(f"{name} is named by no entry" for key, name in sorted(content.originals.items()) if key not in named)

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

    try:
        with store.one_moment():
            rows, receipts = tried(lambda: store.rows(case)), tried(lambda: store.receipts(case))
            aside = tried(lambda: store.set_aside(case))
            faults.extend(f"the file of the store is damaged: {fault}" for fault in tried(store.check_file))
    except DesorbError as problem:
        return Verification(case, (str(problem),))
    entries = _entries_of_rows(rows, faults)
    wrong = [
        each for each in receipts if any(type(getattr(each, part)) is not of for part, of in RECEIPT_PARTS.items())
    ]
    faults.extend("a receipt cannot be read" for _ in wrong)
    receipts = [each for each in receipts if each not in wrong]
    unread = {
        f"what was set aside as {row['device']}/{row['n']}: {fault}" for row in aside if (fault := fault_of_aside(row))
    }
    faults.extend(sorted(unread))
    own = {receipt.entry for receipt in receipts if receipt.store == store.store_id}
    faults.extend(f"entry {each.name} has no receipt of this store" for each in entries if each.hash not in own)

    def find(original: Original) -> Seen | None:
        path = attachments.path_of(store.home, original.sha256)
        return bag_form.seen_of(path) if path.exists() else None

    aside = [row for row in aside if not fault_of_aside(row)]
    return verification_of(Record(case, entries, receipts, aside, find, faults, [], store.device), heads)


def _entries_of_rows(rows: Iterable[Any], faults: list[str]) -> list[Entry]:
    entries: list[Entry] = []
    for row in rows:
        name = f"entry {row[2]}/{row[3]}"
        if any(type(value) is not wanted for value, wanted in zip(row[:7], _ROW, strict=True)) or not all(
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
    present = check_originals(entries, record.find, faults, notes, record.own_device)
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
    anchored, missing, beyond = anchor(heads, entries, gaps, faults, notes)
    counts = {
        "entries": len(entries), "receipts": len(record.receipts), "set aside": len(record.set_aside),
        "removed": removed, **present, "reports": sum(entry.kind == "report-issued" for entry in entries),
    }  # fmt: skip
    last = {device: (chain[-1].n, chain[-1].hash) for device, chain in by_device(entries).items()}
    said, noted = tuple(map(_printable, faults)), tuple(map(_printable, notes))
    return Verification(record.case, said, noted, counts, last, anchored, missing, beyond)


def _printable(sentence: str) -> str:
    """What a stranger named may hold more than a terminal should get."""
    return sentence if sentence.isprintable() else "".join(each if each.isprintable() else "?" for each in sentence)


def _check_payloads(entries: Sequence[Entry], faults: list[str], notes: list[str]) -> int:
    removals: dict[str, str] = {}
    for entry in entries:
        if entry.kind == "removal" and entry.payload_text is not None:
            target = payload_or_nothing(entry).get("target")
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
