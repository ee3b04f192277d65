"""Cases: open one, find one, load one as it stands or as it was known on a day.

Contents: open_case; find_case; case_names; load; write (append records); strike; remove; times as people write them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from desorb.core.assess import assess
from desorb.core.case import Case
from desorb.core.kinds import CaseOpened, Removal, ReportIssued, Strike
from desorb.errors import InputError, NotFound, NotUnderstood, Refused
from desorb.notebook.chain import first_receipts
from desorb.notebook.clocks import doubtful_times
from desorb.notebook.entry import Entry
from desorb.notebook.fold import fold
from desorb.notebook.store import Draft, Store, set_aside_numbers
from desorb.tables.defaults import default_records

REGISTER_NAME = "instrument register"
REGISTER_DOOR = "instruments"  # the word under which its log can be read and a mistyped check struck
LONGEST_NAME = 60
Clock = Callable[[], datetime]


def now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class OpenCase:
    """A case that was found: its id, its name and its time zone."""

    id: str
    name: str
    time_zone: str


def zone_of(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as problem:
        raise InputError(
            "this time zone is not known", got=repr(name), wanted="a name such as Europe/London or America/Denver"
        ) from problem


def open_case(
    store: Store,
    name: str,
    *,
    site: str,
    time_zone: str,
    opened_by: str = "",
    client: str = "",
    scope: str = "",
    invented: bool = False,
    clock: Clock = now,
) -> OpenCase:
    """Open a case and write the defaults it starts with into it. The name is chosen by the user and must be new."""
    if not name.strip() or name in (REGISTER_NAME, REGISTER_DOOR):
        raise InputError("a case needs a name of its own", got=repr(name), next_step="choose a year and a counter")
    if len(name) > LONGEST_NAME or not name.isprintable():
        raise InputError(
            "this name cannot stand on a report", got=repr(name[:80]), wanted=f"at most {LONGEST_NAME} letters"
        )
    if not site.strip():
        raise InputError("a case says where it is", got="nothing", next_step="give the site")
    if name in case_names(store):
        raise Refused(f"there is already a case {name!r}", next_step="choose another name, or go on with that case")
    zone = zone_of(time_zone)
    moment = clock().astimezone(zone).isoformat(timespec="seconds")
    record = CaseOpened(name, site, time_zone, opened_by, client, scope, invented)
    case = store.open_case(record, moment)
    store.append(case, [Draft(default, moment) for default in default_records()])
    return OpenCase(case, name, time_zone)


def case_names(store: Store) -> dict[str, str]:
    """Names of the cases in this store -> their ids. The register of instruments is not a case."""
    names: dict[str, str] = {}
    for case in store.cases():
        opening = store.opening_of(case)
        name = opening.get("name", case)
        if name == REGISTER_NAME:
            continue
        names[name if name not in names else f"{name} ({case[:8]})"] = case
    return names


def find_case(store: Store, name: str) -> OpenCase:
    """Find a case by its name, its id, or the beginning of its id (8 characters or more)."""
    if name == REGISTER_DOOR:
        for case in store.cases():
            if store.opening_of(case).get("name") == REGISTER_NAME:
                return OpenCase(case, REGISTER_NAME, "UTC")
    names = case_names(store)
    matching = {case for label, case in names.items() if label == name or case == name}
    if not matching and len(name) >= 8:
        matching = {case for case in names.values() if case.startswith(name)}
    if len(matching) != 1:
        known = ", ".join(sorted(names)) or "none yet"
        raise NotFound(
            f"there is no case {name!r} in this store",
            wanted=f"one of: {known}",
            next_step="run 'desorb cases'" if names else "open one with 'desorb new', or name the store with --home",
        )
    case = matching.pop()
    opening = store.opening_of(case)
    return OpenCase(case, opening.get("name", case), opening.get("time_zone", "UTC"))


def load(store: Store, case: OpenCase, known_on: str = "") -> Case:
    """The folded case; with `known_on`, from what the first receipts say was known by that day or moment."""
    if known_on:
        opened = min((receipt.at for receipt in store.receipts(case.id)), default="")
        if end_of(known_on, case.time_zone) < opened:
            raise InputError(
                f"nothing of case {case.name} was known then",
                got=known_on,
                wanted=f"a day from {opened[:10]} on, when it began",
            )
        return fold(store.known_on(case.id, end_of(known_on, case.time_zone)), {})
    aside = tuple(f"{row['device']}/{row['n']}: {row['reason']}" for row in store.set_aside(case.id))
    entries = store.entries(case.id)
    doubtful = tuple(doubtful_times(entries, first_receipts(store.receipts(case.id))))
    return replace(fold(entries, set_aside_numbers(store, case.id)), set_aside=aside, doubtful_times=doubtful)


def end_of(moment: str, time_zone: str) -> str:
    """A day (to its end, site time) or a moment, as UTC text that compares with receipts."""
    text = moment.strip()
    try:
        if len(text) == 10:
            whole_day = datetime.combine(date.fromisoformat(text), time(23, 59, 59, 999000), zone_of(time_zone))
            return _utc(whole_day)
        return _utc(datetime.fromisoformat(moment_text(text, time_zone)))
    except ValueError as problem:
        raise NotUnderstood(
            "this is not a date or a time", got=repr(moment), wanted="2026-03-02 or 2026-03-02T14:30"
        ) from problem


def _utc(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def moment_text(text: str, time_zone: str) -> str:
    """A time as people write it -> ISO 8601 with offset. Without an offset it is site time; a bare date becomes noon.

    Raises NotUnderstood. Callers tell the user which of the two assumptions was made.
    """
    try:
        cleaned = text.strip().replace("Z", "+00:00")
        if len(cleaned) == 10:
            moment = datetime.combine(date.fromisoformat(cleaned), time(12, 0))
        else:
            moment = datetime.fromisoformat(cleaned)
    except ValueError as problem:
        raise NotUnderstood(
            "this is not a date and time",
            got=repr(text),
            wanted="2026-03-02T14:30, with an offset if it is not site time",
        ) from problem
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=zone_of(time_zone))
    return moment.isoformat(timespec="seconds")


def states_offset(text: str) -> bool:
    """Does a time that `moment_text` could read say its own offset?"""
    return datetime.fromisoformat(text.strip().replace("Z", "+00:00")).tzinfo is not None


def write(store: Store, case: OpenCase, records: Iterable[Any], clock: Clock = now) -> list[Entry]:
    """Write records as entries, all or none."""
    moment = clock().astimezone(zone_of(case.time_zone)).isoformat(timespec="seconds")
    return store.append(case.id, [Draft(record, moment) for record in records])


def find_entry(store: Store, case: OpenCase, name: str) -> Entry:
    """Find an entry by device/n as printed, or by its hash (8 characters or more)."""
    entries = store.entries(case.id)
    matching = [e for e in entries if e.name == name or (len(name) >= 8 and e.hash.startswith(name))]
    if len(matching) != 1:
        raise NotFound(
            f"there is no entry {name!r} in case {case.name}", wanted="device/number as printed, such as 3f2a9c01/41",
            next_step=f"run 'desorb log {case.name}'",
        )  # fmt: skip
    return matching[0]


def strike(store: Store, case: OpenCase, entry: str, *, why: str, by: str, clock: Clock = now) -> Entry:
    """Strike an entry: it counts nowhere and stays visible. Striking a strike lets the first entry stand again."""
    if not why.strip() or not by.strip():
        raise InputError("a strike says who and why", next_step="give --why and --by")
    target = find_entry(store, case, entry)
    if target.kind in ("case-opened", "removal", "report-issued"):
        raise Refused(
            f"an entry of kind {target.kind} cannot be struck: what happened, happened", got=entry,
            next_step="write a note, or issue a new report",
        )  # fmt: skip
    moment = clock().astimezone(zone_of(case.time_zone)).isoformat(timespec="seconds")
    return write(store, case, [Strike(target.hash, why, by, moment)], clock)[0]


def remove(
    store: Store, case: OpenCase, entry: str, *, why: str, authority: str, by: str, confirmed: bool, clock: Clock = now
) -> Entry:
    """A lawful removal: the payload goes for good, the chain stays whole, what rested on it becomes cannot say (removed)."""
    target = find_entry(store, case, entry)
    if target.payload_text is None:
        raise Refused("this entry was removed already", got=entry, next_step=f"see 'desorb log {case.name}'")
    if not (why.strip() and authority.strip() and by.strip()):
        raise InputError(
            "a removal says why, on whose authority and by whom", next_step="give --why, --authority, --by"
        )
    if target.kind in ("case-opened", "removal", "strike", "report-issued"):
        raise Refused(f"an entry of kind {target.kind} is not removed", next_step="remove what it speaks of instead")
    if not confirmed:
        raise Refused(
            "a removal cannot be undone, so it takes two steps", got=entry,
            next_step="export the case first if it must be kept elsewhere, then do it again with --yes-remove-for-good",
        )  # fmt: skip
    folded = load(store, case)
    rested = [
        each.id
        for each in assess(folded).all
        if target.name in each.readings or any(target.name in used for used in each.controls_used)
    ]
    named = target.payload() if target.kind != "photo-mark" else {}
    contents = {str(named[part]) for part in ("sha256", "source_sha256") if named.get(part)}
    moment = clock().astimezone(zone_of(case.time_zone)).isoformat(timespec="seconds")
    removal = write(store, case, [Removal(target.hash, why, authority, by, moment, tuple(rested))], clock)[0]
    for content_hash in sorted(contents):
        if not _named_elsewhere(store, content_hash):
            store.drop_attachment(content_hash)
    for report in _reports_after(folded, target):
        store.drop_attachment(report.pdf_sha256)
    store.forget_traces()
    return removal


def reports_holding(store: Store, case: OpenCase, entry: str) -> list[int]:
    """Numbers of the reports issued after an entry: their kept PDFs may show it, and go with its removal."""
    return [report.number for report in _reports_after(load(store, case), find_entry(store, case, entry))]


def _reports_after(folded: Case, target: Entry) -> list[ReportIssued]:
    return [entered.record for entered in folded.reports if entered.clock > target.clock]


def files_holding(store: Store, case: OpenCase, entry: str) -> list[str]:
    """Entries of files taken from which this entry came: the original table still holds what a removal takes away."""
    target = find_entry(store, case, entry)
    source = target.payload().get("source", "") if target.payload_text else ""
    name = source.rsplit(", row", 1)[0]
    return [each.entry for each in load(store, case).files if name and each.record.name == name]


def _named_elsewhere(store: Store, sha256: str) -> bool:
    """A mark on a photo does not keep the photo."""
    return any(
        entry.payload_text is not None and entry.kind != "photo-mark" and sha256 in entry.payload_text
        for case in store.cases()
        for entry in store.entries(case)
    )
