"""What a device sends: entries it sealed itself, and the photos they name.

Contents: take_entries (a union, answered entry by entry: one that cannot be accepted holds up no other); Taken; Sent;
take_unsent (the file of a device that cannot send).
An entry is acknowledged after the commit that holds it. What is refused is kept with its reason, never dropped.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Protocol

from desorb.core.case import Gap
from desorb.core.kinds import AirReading, Readiness, Reading
from desorb.errors import DesorbError, NotFound, NotUnderstood
from desorb.notebook import attachments
from desorb.notebook.chain import first_receipts, gaps_in
from desorb.notebook.entry import Entry, canonical, entry_of
from desorb.notebook.schema import record_of
from desorb.notebook.store import Arrival, Store, Work, set_aside_numbers
from desorb.service.cases import REGISTER_DOOR, REGISTER_NAME, Clock, OpenCase, find_case, load, now, write
from desorb.service.instruments import copies_for
from desorb.service.received_photos import keep_photo

MOST_ENTRIES = 200  # in one request
# These belong to the office: it copies instruments and their checks into the case itself.
NOT_FROM_A_DEVICE = (
    "case-opened", "setting", "rule-row", "removal", "report-issued", "instrument", "instrument-check", "file-taken",
)  # fmt: skip
KEPT_UNREAD = "unread"  # folder of the store for what is no entry at all
UNSENT_SCHEMA = "desorb-unsent/1"


class Receiver(Protocol):
    """Does work inside a commit and returns after it: the writer, which commits for all that wait."""

    def together(self, work: Callable[[], Work]) -> Work: ...


@dataclass(frozen=True, slots=True)
class Sent:
    """An entry as it came: three texts, not yet read."""

    envelope: str
    salt: str
    payload: str


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one entry. `state`: received, known (it was here already) or refused (kept, with its reason)."""

    hash: str
    entry: str
    state: str
    reason: str = ""
    received_at: str = ""


def take_entries(
    store: Store, receiver: Receiver, case: str, sent: Sequence[Sent], clock: Clock = now,
    claim: Callable[[list[str]], None] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Take what a device sent for one case; the result of each in the order it came. Raises NotFound.

    `claim` is asked first whether the one who sends may write under these names; it raises Refused.
    """
    found = _open(store, case)
    read = [_read(store, found.id, each) for each in sent]
    entries = list({entry.hash: entry for entry in read if isinstance(entry, Entry)}.values())
    devices = sorted({entry.device for entry in entries})
    if claim is not None and devices:
        claim(devices)

    def inside() -> tuple[Arrival, dict[str, str], tuple[Gap, ...], int]:
        arrival = store.receive_inside(entries)
        receipts = first_receipts(store.receipts_of(found.id, [entry.hash for entry in entries]))
        aside = {device: n for device, n in set_aside_numbers(store, found.id).items() if device in devices}
        return arrival, receipts, gaps_in(store.numbers_of(found.id, devices), aside), store.highest_clock(found.id)

    arrival, receipts, gaps, highest_clock = receiver.together(inside)
    known = [entry for entry in entries if entry.hash in arrival.known]
    _copy_instruments(store, found, [entry for entry in entries if entry.hash in arrival.accepted], known, clock)
    results, seen = [], set()
    for entry in read:
        if isinstance(entry, Taken):
            results.append(entry)
            continue
        state = "received" if entry.hash in arrival.accepted and entry.hash not in seen else "known"
        reason = arrival.reasons.get(entry.hash, "")
        seen.add(entry.hash)
        name = f"{entry.device}/{entry.n}"[:80]
        results.append(Taken(entry.hash, name, "refused" if reason else state, reason, receipts.get(entry.hash, "")))
    return {
        "results": [asdict(result) for result in results], "waiting": [str(gap) for gap in gaps],
        "highest_clock": highest_clock, "server_time": store.now(),
    }  # fmt: skip


def _open(store: Store, case: str) -> OpenCase:
    """The case of this id, asked for once; any other way of naming it is looked up among all."""
    opening = store.opening_of(case)
    if opening and opening.get("name") != REGISTER_NAME:
        return OpenCase(case, opening.get("name", case), opening.get("time_zone", "UTC"))
    if case == REGISTER_DOOR or (opening and opening.get("name") == REGISTER_NAME):
        raise NotFound(
            "the register of instruments takes no entries from a device", next_step="log the check in the office"
        )
    return find_case(store, case)


def _read(store: Store, case: str, sent: Sent) -> Entry | Taken:
    """The entry, or why it is none of this case. What is no entry is kept as it came."""
    try:
        entry = entry_of(sent.envelope, sent.salt, sent.payload)
    except NotUnderstood as problem:
        return _keep_unread(store, sent, "", problem.what)
    if entry.device == store.device:
        return _keep_unread(store, sent, entry.name, "it is written under the name of this store's own device")
    if entry.case != case:
        return _keep_unread(store, sent, entry.name, "it belongs to another case than the one it was sent to")
    if entry.kind in NOT_FROM_A_DEVICE:
        return _keep_unread(store, sent, entry.name, f"an entry of kind {entry.kind} is written in the office only")
    return entry


def _keep_unread(store: Store, sent: Sent, name: str, reason: str) -> Taken:
    """Keep the three texts under the hash of what they say, and refuse them in words."""
    content = json.dumps(asdict(sent), sort_keys=True).encode()
    attachments.keep_in(store.home / KEPT_UNREAD, f"{hashlib.sha256(content).hexdigest()}.json", content)
    digest = hashlib.sha256(sent.envelope.encode("utf-8", "surrogatepass")).hexdigest()
    words = f"{reason}; what was sent is kept in the folder {KEPT_UNREAD!r} of the store"
    return Taken(digest, name[:80], "refused", words)


def _copy_instruments(
    store: Store, case: OpenCase, accepted: Iterable[Entry], known: Iterable[Entry], clock: Clock
) -> None:
    """A reading that arrived rests on an instrument: the case keeps its description and its checks.

    For what was here already too, where the case lacks the instrument: a crash after the commit left the copy out.
    """
    wanted = _instruments_named(accepted)
    before = _instruments_named(known)
    if before:
        wanted += [name for name in before if name not in store.described_instruments(case.id)]
    if not wanted:
        return
    folded = load(store, case)
    for instrument in dict.fromkeys(wanted):
        lacking = copies_for(store, folded, instrument)
        if lacking:
            write(store, case, lacking, clock)


def _instruments_named(entries: Iterable[Entry]) -> list[str]:
    named: list[str] = []
    for entry in entries:
        if entry.kind in ("reading", "air-reading", "readiness"):
            record = record_of(entry.kind, entry.payload())
            assert isinstance(record, (Reading, AirReading, Readiness))
            named.append(record.instrument)
    return list(dict.fromkeys(named))


def take_unsent(store: Store, receiver: Receiver, content: bytes, clock: Clock = now) -> dict[str, Any]:
    """Take the file that a device saved of its unsent work. Taken twice, it adds nothing the second time."""
    unsent = _object_of(content)
    entries, photos = unsent.get("entries"), unsent.get("photos", [])
    if unsent.get("schema") != UNSENT_SCHEMA or not isinstance(entries, list) or not isinstance(photos, list):
        raise NotUnderstood(
            "this is not a file of unsent work", got=repr(unsent.get("schema"))[:80], wanted=UNSENT_SCHEMA,
            next_step="make it on the device with 'save unsent work to a file'",
        )  # fmt: skip
    results: list[dict[str, Any]] = []
    kept, refused_photos = 0, []
    for photo in photos:
        try:
            keep_photo(store, *_photo_of(photo))
            kept += 1
        except DesorbError as problem:
            refused_photos.append(str(problem))
    of_case: dict[str, list[Sent]] = {}
    for each in entries:
        sent = _sent_of(each)
        of_case.setdefault(_case_of(sent), []).append(sent)
    for case, sent_of_case in of_case.items():
        try:
            found = find_case(store, case)
        except NotFound:
            results += [
                asdict(_keep_unread(store, sent, "", "its case is not in this store: import the case, then take the file again"))
                for sent in sent_of_case
            ]  # fmt: skip
            continue
        for start in range(0, len(sent_of_case), MOST_ENTRIES):
            part = sent_of_case[start : start + MOST_ENTRIES]
            results += take_entries(store, receiver, found.id, part, clock)["results"]
    states = [result["state"] for result in results]
    return {
        "results": results, "photos": kept, "photos_refused": refused_photos,
        "said": f"{states.count('received')} entries received, {states.count('known')} were here already,"
        f" {states.count('refused')} refused; {kept} photos kept, {len(refused_photos)} refused.",
    }  # fmt: skip


def _object_of(content: bytes) -> dict[str, Any]:
    try:
        value = json.loads(content)
    except (ValueError, RecursionError) as problem:
        raise NotUnderstood("this is not a file of unsent work", wanted="JSON") from problem
    if not isinstance(value, dict):
        raise NotUnderstood("this is not a file of unsent work", wanted="one JSON object")
    return value


def _sent_of(value: Any) -> Sent:
    parts = [value.get(name) if isinstance(value, dict) else None for name in ("envelope", "salt", "payload")]
    if all(isinstance(part, str) for part in parts):
        return Sent(*(str(part) for part in parts))
    try:
        return Sent(canonical({"not an entry": json.dumps(value)}).decode(), "", "")
    except NotUnderstood:
        return Sent(repr(value)[: 1 << 13].encode("ascii", "replace").decode(), "", "")


def _case_of(sent: Sent) -> str:
    try:
        return entry_of(sent.envelope, sent.salt, sent.payload).case
    except NotUnderstood:
        return ""


def _photo_of(value: Any) -> tuple[str, bytes]:
    if not isinstance(value, dict) or not isinstance(value.get("sha256"), str):
        raise NotUnderstood("a photo of the file says no SHA-256")
    coded = value.get("base64")
    if not isinstance(coded, str):
        raise NotUnderstood(f"photo {value['sha256'][:12]} of the file has no content")
    try:
        return value["sha256"], base64.b64decode(coded, validate=True)
    except (binascii.Error, ValueError) as problem:
        raise NotUnderstood(f"photo {value['sha256'][:12]} of the file is cut short") from problem
