"""A case leaves as a bag and comes back to the same case.

Contents: BagDamaged; export_bag; record_files and tag_texts (what a bag holds, as bytes); read_bag; import_bag.
A bag is a folder by BagIt 1.0 [RFC8493] with its own verifier in it; the same store and the same `now` give the same
bytes. Coming back, nothing is believed: the bag is verified first, then originals are kept, then entries are received.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import secrets
import shutil
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from desorb.errors import NotFound, NotUnderstood, RecordDamaged, Refused, StoreUnavailable
from desorb.notebook import attachments, bag_form, bag_texts, bag_unpack
from desorb.notebook.bag_form import Seen
from desorb.notebook.bag_reading import (
    ENTRIES,
    HEADS,
    RECEIPT_PARTS,
    RECEIPTS,
    SET_ASIDE,
    VERIFIER,
    BagContent,
    read_folder,
)
from desorb.notebook.chain import Receipt, by_device, in_fold_order
from desorb.notebook.entry import Entry, canonical
from desorb.notebook.heads import heads_text
from desorb.notebook.originals import Original, originals_of, payload_or_nothing
from desorb.notebook.store import Arrival, Store
from desorb.notebook.verify import record_of_bag, verification_of

__all__ = ["BagContent", "BagDamaged", "export_bag", "import_bag", "read_bag", "record_files", "tag_texts"]

MOST_FAULTS_TOLD = 20
MOST_FOLDERS = 10  # that a bag of ours has
_EXTRA = re.compile(r"(csv|json)/[A-Za-z0-9][A-Za-z0-9_-]*(\.[A-Za-z0-9]+)+")
_PLAIN_DEVICE = re.compile(r"(?!(com|lpt)\d$)[a-z0-9]{4,64}")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")


class BagDamaged(RecordDamaged):
    """What came does not verify; the store itself is as it was."""


def export_bag(
    store: Store,
    case: str,
    target_folder: Path,
    *,
    extra_files: Mapping[str, bytes] | None = None,
    now: str,
    software: str = "desorb",
) -> Path:
    """Write the case as a bag into a new folder. `extra_files` are named csv/... or json/... and go under data/."""
    if not _DAY.match(now) or not software or not (now + software).isprintable():
        raise NotUnderstood("a bag needs the day it is made and one line of software", got=f"{now!r}, {software!r}")
    with store.one_moment():
        entries, receipts, set_aside = store.entries(case), store.receipts(case), store.set_aside(case)
    if not entries:
        raise NotFound("there is no such case in this store", got=case, next_step="run 'desorb cases'")
    files = record_files(entries, receipts, set_aside) | _extra(extra_files or {})
    with _new_folder(target_folder) as folder:
        seen = {name: _write(folder, name, content) for name, content in sorted(files.items())}
        for original in _originals_by_name(entries).values():
            if (content := _original(store, original)) is not None:
                seen[original.name_in_bag] = _write(folder, original.name_in_bag, content)
        tags = tag_texts(case, entries, receipts, seen, now=now, software=software)
        for name, content in tags.items():
            _write(folder, name, content)
        if (
            sum(each.size for each in seen.values()) + sum(map(len, tags.values())) > bag_form.MOST_BYTES
            or len(seen) + len(tags) + MOST_FOLDERS > bag_form.MOST_FILES
        ):
            raise Refused(
                "the bag would be larger than desorb takes back in",
                wanted=f"at most {bag_form.MOST_FILES} files and {bag_form.MOST_BYTES} bytes",
                next_step="keep a backup of the whole store for this case",
            )
    return target_folder


def record_files(
    entries: Iterable[Entry], receipts: Iterable[Receipt], set_aside: Iterable[Mapping[str, Any]]
) -> dict[str, bytes]:
    """The lines of the record as the files of a bag."""
    ordered = in_fold_order(entries)
    in_order = sorted(receipts, key=lambda receipt: (receipt.store, receipt.arrival))
    rows = [{part: getattr(receipt, part) for part in RECEIPT_PARTS} for receipt in in_order]
    aside = sorted(set_aside, key=lambda row: (row["hash"], row["reason"]))
    files = {
        ENTRIES: _lines(entry.envelope_text.encode() for entry in ordered),
        RECEIPTS: _lines(canonical(row) for row in rows),
        SET_ASIDE: _lines(canonical(dict(row)) for row in aside),
    }
    for device, chain in by_device(ordered).items():
        files[f"data/payloads/{_file_name(device)}.jsonl"] = _lines(
            f'{{"entry":"{entry.hash}","payload":{entry.payload_text},"salt":"{entry.salt}"}}'.encode()
            for entry in chain
            if entry.payload_text is not None
        )
    return files


def _lines(lines: Iterable[bytes]) -> bytes:
    return b"".join(line + b"\n" for line in lines)


def _file_name(device: str) -> str:
    """A device names its file, unless its name is none that every system can hold."""
    if _PLAIN_DEVICE.fullmatch(device):
        return device
    return "device-" + bag_form.Seen.of(device.encode()).sha256[:32]


def tag_texts(
    case: str,
    entries: Sequence[Entry],
    receipts: Sequence[Receipt],
    payload: Mapping[str, Seen],
    *,
    now: str,
    software: str,
) -> dict[str, bytes]:
    """The files beside data/. `payload` are the files in data/ as written."""
    heads = [f"    {_one_line(name)} {chain[-1].n} {chain[-1].hash}" for name, chain in by_device(entries).items()]
    process = bag_texts.PROCESS.format(
        case=_one_line(case), software=software, now=now, entries=len(entries), heads="\n".join(heads)
    )
    information = {
        "Bag-Software-Agent": software, "Bagging-Date": now[:10], "External-Identifier": _one_line(case),
        "Payload-Oxum": bag_form.oxum(payload),
    }  # fmt: skip
    texts = {
        bag_form.DECLARATION: bag_form.DECLARATION_TEXT,
        bag_form.INFORMATION: "".join(f"{name}: {value}\n" for name, value in information.items()).encode(),
        bag_form.MANIFEST: bag_form.manifest_text(payload),
        "README.txt": bag_texts.README.encode(),
        HEADS: heads_text(case, entries, receipts),
        "process.txt": process.encode(),
        VERIFIER: Path(__file__).with_name("bag_verifier.py").read_bytes(),
    }
    texts[bag_form.TAG_MANIFEST] = bag_form.manifest_text({name: Seen.of(text) for name, text in texts.items()})
    return texts


def _one_line(name: str) -> str:
    """A case or device that came from elsewhere may be named anything; a tag file has one thing on a line."""
    return name if name.isprintable() else json.dumps(name)


def _extra(extra_files: Mapping[str, bytes]) -> dict[str, bytes]:
    for name in extra_files:
        if not _EXTRA.fullmatch(name):
            raise NotUnderstood("this file cannot go into a bag", got=name, wanted="a plain name in csv/ or json/")
    if len({bag_form.twin_key(name) for name in extra_files}) < len(extra_files):
        raise NotUnderstood("two files for the bag have one name on some systems", got=", ".join(extra_files))
    return {f"data/{name}": content for name, content in extra_files.items()}


def _originals_by_name(entries: Iterable[Entry]) -> dict[tuple[str, str], Original]:
    named: dict[tuple[str, str], Original] = {}
    for entry in in_fold_order(entries):
        for original in originals_of(entry):
            named.setdefault((original.folder, original.sha256), original)
    return dict(sorted(named.items()))


def _original(store: Store, original: Original) -> bytes | None:
    content = store.attachment(original.sha256)
    if content is not None and Seen.of(content).sha256 != original.sha256:
        raise RecordDamaged(
            f"the {original.words} {original.sha256[:12]} in the store is damaged, so the bag would not verify",
            next_step="put the original back from a backup or an earlier bag, then export again",
        )
    return content


@contextlib.contextmanager
def _new_folder(target: Path) -> Iterator[Path]:
    """A folder beside the target that takes its name when all is written and on the disk, or is taken away."""
    if target.is_symlink() or (target.exists() and (not target.is_dir() or any(target.iterdir()))):
        raise Refused("the bag would be mixed with other files", got=str(target), wanted="a new or empty folder")
    temporary = target.with_name(f"{target.name}.{secrets.token_hex(4)}.unfinished")
    try:
        attachments.make_folder(temporary)
        yield temporary
        for folder, _, _ in os.walk(temporary):
            attachments.sync(Path(folder))
        if target.exists():
            target.rmdir()
        temporary.rename(target)
        attachments.sync(target.parent)
    except OSError as problem:
        raise StoreUnavailable("the bag could not be written", got=str(problem), next_step="free space") from problem
    finally:
        shutil.rmtree(temporary, ignore_errors=True)


def _write(folder: Path, name: str, content: bytes) -> Seen:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    with open(path, "xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    return Seen.of(content)


def read_bag(source: Path) -> BagContent:
    """What a bag (a folder or a .zip of one) says; its faults stand in `faults`. Of a .zip only the lines stay readable:
    the originals are gone with the temporary folder."""
    with bag_unpack.as_folder(source) as unpacked:
        return read_folder(unpacked)


def import_bag(store: Store, folder: Path) -> Arrival:
    """Take a bag (a folder or a .zip of one) into the store: a union. A second time adds nothing."""
    with bag_unpack.as_folder(folder) as unpacked:
        content = read_folder(unpacked)
        faults = verification_of(record_of_bag(content)).faults
        if faults:
            more = f" (and {len(faults) - MOST_FAULTS_TOLD} more)" if len(faults) > MOST_FAULTS_TOLD else ""
            raise BagDamaged(
                "the bag does not verify, so nothing of it was taken in",
                got="; ".join(faults[:MOST_FAULTS_TOLD]) + more,
                next_step="ask for the bag again, or look at it with 'desorb verify'",
            )
        named = {payload_or_nothing(entry).get("target") for entry in content.entries if entry.kind == "removal"}
        gone = store.removals_of(content.case) | named
        losing = [entry for entry in store.entries(content.case) if entry.hash in named]
        for entry in content.entries:
            if entry.hash not in gone:  # what was lawfully removed does not come back
                _keep_originals(store, content, entry)
        arrival = store.receive(content.entries, content.receipts, content.set_aside)
        removed = store.removals_of(content.case)
        _drop_originals(store, [entry for entry in losing if entry.hash in removed])
    return arrival


def _keep_originals(store: Store, content: BagContent, entry: Entry) -> None:
    for original in originals_of(entry):
        name = content.originals.get((original.folder, original.sha256))
        if name is None:
            continue
        with content.open(name) as file:
            found = file.read(bag_form.MOST_BYTES)
        if Seen.of(found).sha256 != original.sha256:
            raise RecordDamaged(f"{name} changed while the bag was read", next_step="import the bag again")
        store.attach(found)


def _drop_originals(store: Store, losing: Sequence[Entry]) -> None:
    """A removal that came with the bag takes the originals along, unless another entry names them, in any case."""
    if not losing:
        return
    unwanted = {original.sha256 for entry in losing for original in originals_of(entry)}
    for case in store.cases() if unwanted else ():
        unwanted -= {original.sha256 for entry in store.entries(case) for original in originals_of(entry)}
    for sha256 in sorted(unwanted):
        store.drop_attachment(sha256)
    store.forget_traces()
