"""A sheet: a TOML file in which a case describes its building, its gates and its visits.

Each table is one kind of record of core/kinds.py, under the record's name with underscores: [[construction]], [[zone]],
[[spot]], [[visit]], [[readiness]], [[gate_answer]], [[hazard]], [[not_inspected]] ... A record that already stands in the
case is not written again. [[instrument]] also goes into the store's register; [[photo]] names a file beside the sheet.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field, fields
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from desorb.core import kinds
from desorb.core.case import Case, latest_by_id
from desorb.core.causes.leak_tests import CAN_DISPROVE
from desorb.core.causes.patterns import OBSERVATIONS, TESTS
from desorb.core.causes.table import HOW_KNOWN
from desorb.core.compare import displaced
from desorb.core.gates import GATES
from desorb.core.plan_geometry import corners_of, openings_problem, outline_problem
from desorb.core.rule import RULES
from desorb.core.samples.custody import STEPS_OF_CUSTODY
from desorb.errors import DesorbError, InputError, NotUnderstood, Refused
from desorb.notebook.entry import Entry
from desorb.notebook.schema import RECORD_OF_KIND, record_of
from desorb.notebook.sense import senseless
from desorb.notebook.store import Store
from desorb.service.cases import Clock, OpenCase, load, moment_text, now, write
from desorb.service.instruments import copies_for, describe_instrument
from desorb.service.tables_in import RowProblem, decode

NOT_IN_A_SHEET = (
    "case-opened",
    "strike",
    "removal",
    "report-issued",
    "file-taken",
    "reading",
    "air-reading",
    "instrument-check",
    "plan-picture",
    "photo-mark",
    "limit-taken",
    "logger-taken",
)
TIMES = (
    "at", "begun_at", "taken_at", "heating_off_at", "service_since", "probe_checked_at", "set_at", "oven_since", "closed_at",
    "start", "end", "ended_at", "met_at", "began_at",
)  # fmt: skip
LONGEST_ID = 40
YES_NO = ("yes", "no", "")
CHOICES = {
    ("gate-answer", "gate"): tuple(GATES), ("hazard", "gate"): tuple(GATES),
    ("spot", "role"): kinds.ROLES, ("zone", "affected"): ("yes", "no", ""),
    ("water-origin", "origin"): ("clean", "grey", "foul", "unknown"), ("water-origin", "visible_mould"): ("yes", "no", ""),
    ("salt-test", "result"): ("positive", "negative"), ("event", "source"): ("seen", "told", "document"),
    ("unit-change", "change"): kinds.CHANGES, ("unit", "type"): kinds.UNIT_TYPES, ("unit", "domestic"): YES_NO,
    ("unit", "flow_at"): ("inlet", "outlet", ""), ("load-term", "term"): kinds.LOAD_TERMS,
    ("target", "basis"): kinds.TARGET_BASES, ("drying-option", "option"): kinds.OPTIONS,
    ("drying-option", "contamination"): kinds.CONTAMINATIONS, ("option-cost", "option"): kinds.OPTIONS,
    ("option-taken", "option"): kinds.OPTIONS, ("time-limit", "counted_in"): kinds.LENGTHS, ("occupancy", "children"): YES_NO,
    ("floor-test", "method"): kinds.FLOOR_METHODS, ("floor-test", "drying_faces"): ("1", "2"),
    ("floor-test", "heated"): YES_NO, ("floor-test", "power_floated"): YES_NO, ("floor-place", "lined"): YES_NO,
    ("floor-place", "sealed"): YES_NO, ("floor-place", "coated"): YES_NO, ("floor-reading", "heating_on"): YES_NO,
    ("floor-reading", "drying_on"): YES_NO, ("limit-stated", "heated"): YES_NO,
    ("limit-stated", "comparison"): ("<=", "<", ">=", ">"), ("custody", "step"): STEPS_OF_CUSTODY,
    ("weighing", "state"): kinds.WEIGHED, ("carbide-reading", "crushed"): YES_NO, ("cup-reading", "crushed"): YES_NO,
    ("leak-test", "test"): kinds.LEAK_TESTS, ("leak-test", "system"): tuple(CAN_DISPROVE),
    ("leak-test", "looked_before"): YES_NO, ("leak-test", "took_in_all"): YES_NO, ("cause-observation", "name"): OBSERVATIONS,
    ("cause-observation", "known"): HOW_KNOWN, ("cause-test", "test"): tuple(TESTS), ("cause-test", "valid"): ("yes", "no"),
    **{("readiness", part): ("yes", "no", "") for part in ("battery", "contacts_free", "free_air", "block", "probe_settled")},
}  # fmt: skip


@dataclass(slots=True)
class SheetTaken:
    rows: int = 0
    kept: int = 0
    known: int = 0
    described: list[str] = field(default_factory=list)
    problems: list[RowProblem] = field(default_factory=list)


def read_sheet(content: bytes) -> dict[str, list[dict[str, Any]]]:
    """Parse a sheet: table name -> its rows. Raises NotUnderstood with the line TOML complains about."""
    try:
        loaded = tomllib.loads(decode(content)[0])
    except tomllib.TOMLDecodeError as problem:
        raise NotUnderstood(
            f"the sheet is not TOML: {problem}", next_step="mend that line and take it again"
        ) from problem
    for name, rows in loaded.items():
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise NotUnderstood("a sheet holds lists of tables only", got=name, wanted=f"[[{name}]]")
    return loaded


def take_sheet(store: Store, case: OpenCase, content: bytes, folder: Path, clock: Clock = now) -> SheetTaken:
    """Take a sheet into a case. Rows that do not fit are named; the others are kept."""
    taken = SheetTaken()
    folded = load(store, case)
    present = _present(folded)
    spots = {key: entered.record for key, entered in latest_by_id(folded.spots).items()}
    drafts: list[Any] = []
    sheet = read_sheet(content)
    places = _places(folded, sheet)
    for table, rows in sheet.items():
        kind = table.replace("_", "-")
        for number, row in enumerate(rows, start=1):
            taken.rows += 1
            try:
                record = _record(store, kind, row, folder, case.time_zone)
                if isinstance(record, kinds.Instrument):
                    describe_instrument(store, record, clock)
                    lacking = copies_for(store, folded, record.id)
                    drafts += lacking
                    taken.kept += bool(lacking)
                    taken.known += not lacking
                    continue
                _examine_places(record, places)
            except DesorbError as problem:
                got = problem.got or "this row"
                wanted = f"{problem.what}" + (f"; {problem.wanted}" if problem.wanted else "")
                taken.problems.append(RowProblem(number, f"[[{table}]]", got, wanted))
                continue
            if record in present:
                taken.known += 1
                continue
            if isinstance(record, kinds.Spot) and (words := _moved(spots.get(record.id), record)):
                wanted = "the same place, or a new spot id; strike the first description if it was wrong"
                taken.problems.append(RowProblem(number, f"[[{table}]]", words, wanted))
                continue
            if isinstance(record, kinds.Spot):
                spots[record.id] = record
            present.add(record)
            drafts.append(record)
            taken.kept += 1
            taken.described.append(" ".join([kind, *_named(record)]))
    if drafts:
        write(store, case, drafts, clock)
    return taken


def _named(record: Any) -> list[str]:
    """By what the person who typed it knows a record again: its id, else its test or unit with its place, visit or zone."""
    if hasattr(record, "id"):
        return [record.id]
    parts = (getattr(record, name, "") for name in ("test", "sample", "unit", "enclosure", "place", "zone", "visit"))
    return [part for part in parts if part and isinstance(part, str)]


def take_row(store: Store, case: OpenCase, kind: str, row: dict[str, Any], clock: Clock = now) -> Entry:
    """Take one row of a kind into a case, as it would stand in a sheet. Raises DesorbError where it does not fit."""
    folded = load(store, case)
    record = _record(store, kind, row, Path(), case.time_zone)
    _examine_places(record, _places(folded, {}))
    if record in _present(folded):
        raise Refused("this stands in the case already, word for word", next_step="nothing is left to do")
    return write(store, case, [record], clock)[0]


def _places(case: Case, sheet: dict[str, list[dict[str, Any]]]) -> dict[str, set[str]]:
    """Ids of constructions, zones and spots: those of the case and those that this sheet describes, in any order."""
    known: dict[str, Any] = {
        "construction": case.constructions, "zone": case.zones, "spot": case.spots, "sample": case.samples,
        "floor_test": case.floor_tests, "enclosure": case.enclosures, "circuit": case.circuits,
    }  # fmt: skip
    return {
        name: {entered.record.id for entered in entries} | {str(row.get("id", "")) for row in sheet.get(name, [])}
        for name, entries in known.items()
    }


def _examine_places(record: Any, places: dict[str, set[str]]) -> None:
    """What a record names must be described, in the case or in the same sheet. An empty zone means the whole site."""
    if (hasattr(record, "id") and not 0 < len(record.id.strip()) <= LONGEST_ID) or not getattr(
        record, "id", "x"
    ).isprintable():
        raise InputError("an id is short and printable", got=repr(record.id[:80]), wanted=f"1 to {LONGEST_ID} letters")
    of_floor_test = isinstance(record, kinds.FloorPlace | kinds.FloorReading | kinds.Sample)
    for name, known in places.items():
        if name == "floor_test" and not of_floor_test:
            continue
        named = getattr(record, "test" if name == "floor_test" else name, "")
        must = (record.KIND, name) in (("zone", "construction"), ("spot", "zone"))
        if record.KIND in ("hazard", "water-origin"):
            continue  # what could hurt is kept wherever it was seen, and shown
        if (named or must) and named not in known:
            wanted = ", ".join(sorted(known - {""})) or "none is described yet"
            raise InputError(
                f"this {name.replace('_', ' ')} is not described", got=repr(named), wanted=f"one of: {wanted}"
            )
    for zone in getattr(record, "zones", ()):
        if zone not in places["zone"]:
            raise InputError("this zone is not described", got=repr(zone), wanted=", ".join(sorted(places["zone"])))


def _moved(known: kinds.Spot | None, record: kinds.Spot) -> str:
    """What a spot may not change under the same id: its readings would be moved to another place or part."""
    if known is None:
        return ""
    parts = [part for part in ("zone", "element", "role") if getattr(known, part) != getattr(record, part)]
    parts += displaced(known, record)
    return "; ".join(f"{part} {getattr(known, part)!r}, is {getattr(record, part)!r} now" for part in parts)


def _present(case: Case) -> set[Any]:
    lists = (
        case.settings, case.rule_rows, case.constructions, case.zones, case.spots, case.visits, case.readiness,
        case.scales_shown, case.scans, case.salt_tests, case.unit_changes, case.gate_answers, case.hazards,
        case.water_origins, case.finding_answers, case.events, case.notes, case.photos, case.not_inspected,
        case.rooms, case.plan_pictures, case.photo_marks, case.not_read, case.unit_readings,
        case.limits_stated, case.floor_tests, case.floor_places, case.floor_readings, case.samples, case.custody, case.weighings,
        case.carbide_readings, case.cup_readings, case.salt_contents, case.leak_tests, case.cause_observations, case.cause_tests,
        case.units, case.enclosures, case.load_terms, case.circuits, case.tariffs, case.targets, case.drying_options,
        case.option_costs, case.options_taken, case.time_limits, case.not_done, case.occupancies,
    )  # fmt: skip
    return {entered.record for entries in lists for entered in entries}


def _record(store: Store, kind: str, row: dict[str, Any], folder: Path, time_zone: str) -> Any:
    if kind not in RECORD_OF_KIND or kind in NOT_IN_A_SHEET:
        known = ", ".join(name.replace("-", "_") for name in RECORD_OF_KIND if name not in NOT_IN_A_SHEET)
        raise NotUnderstood("a sheet has no such table", got=kind.replace("-", "_"), wanted=f"one of: {known}")
    filled = dict(row)
    if kind == "photo":
        filled = _photo(store, filled, folder)
    if kind == "unit-reading" and not filled.get("key"):
        filled["key"] = "/".join(_text(filled.get(part, "")) for part in ("unit", "visit", "taken_at"))
    for name in TIMES:
        if filled.get(name, "") != "" and name in RECORD_OF_KIND[kind].__dataclass_fields__:
            filled[name] = moment_text(_text(filled[name]), time_zone)
    record = record_of(kind, _as_payload(RECORD_OF_KIND[kind], filled))
    for (of_kind, part), wanted in CHOICES.items():
        if of_kind == kind and getattr(record, part) not in wanted:
            raise InputError(
                f"{part} is not one of the words used here",
                got=getattr(record, part),
                wanted=", ".join(each for each in wanted if each),
            )
    _examine_numbers(record)
    if reason := senseless(record):
        raise InputError(reason, next_step="correct it, or leave the row out and write a note")
    return record


def _examine_numbers(record: Any) -> None:
    """Figures that decide something are numbers, and a limit without a source is no limit."""
    if isinstance(record, kinds.Spot):
        for part in ("x", "y", "height"):
            _finite(part, getattr(record, part) or "0")
    for part in ("area_m2", "spacing_m", "depth_mm"):
        if getattr(record, part, "") and _finite(part, getattr(record, part)) <= 0:
            raise InputError(f"{part} lies above 0", got=getattr(record, part))
    if isinstance(record, kinds.Construction) and record.built and not re.fullmatch(r"\d{4}", record.built):
        raise InputError("built is a year, or empty when it is not known", got=record.built, wanted="four digits")
    if isinstance(record, kinds.Zone) and not all(
        re.fullmatch(r"-?[\d.]+ -?[\d.]+", corner) for corner in record.outline
    ):
        raise InputError(
            "an outline is a list of corners in metres",
            got=str(record.outline),
            wanted='outline = ["0 0", "4.2 0", "4.2 3.0"]',
        )
    if isinstance(record, kinds.Room) and record.outline:
        corners = corners_of(record.outline)
        for problem, next_step in (outline_problem(corners), openings_problem(corners, record.openings)):
            if problem:
                raise InputError(problem, got=record.id, next_step=next_step)
    if isinstance(record, kinds.RuleRow):
        if _finite("class_spread", record.class_spread) <= 0 or _finite("margin", record.margin) <= 0:
            raise InputError("class spread and margin lie above 0", got=f"{record.class_spread}, {record.margin}")
        if _finite("repeatability", record.repeatability) < 0:
            raise InputError("a repeatability limit is 0 or more", got=record.repeatability)
    if isinstance(record, kinds.Setting):
        if record.key in kinds.NUMBER_SETTINGS and _finite(record.key, record.value) < 0 and record.key != "altitude":
            raise InputError(f"{record.key} is 0 or more", got=record.value)
        if record.key == "rule" and record.value not in RULES:
            raise InputError("this rule is not known", got=record.value, wanted=", ".join(RULES))
    if isinstance(record, kinds.RuleRow | kinds.Setting) and not record.source.strip():
        raise InputError("a setting says where it comes from", wanted='source = "..."')


def _finite(name: str, text: str) -> Decimal:
    try:
        number = Decimal(text)
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite():
        raise InputError(f"{name} is not a number", got=repr(text), wanted="digits with a decimal point")
    return number


def _photo(store: Store, row: dict[str, Any], folder: Path) -> dict[str, Any]:
    name = str(row.pop("file", ""))
    path = (folder / name).resolve()
    if not name or not path.is_file() or folder.resolve() not in path.parents:
        raise InputError("the photo file is not beside the sheet", got=name or "no file", wanted='file = "name.jpg"')
    content = path.read_bytes()
    media_type = media_type_of(content)
    return row | {"sha256": store.attach(content), "media_type": media_type, "size": len(content)}


def media_type_of(content: bytes) -> str:
    """What the bytes are, by their first bytes and not by their name."""
    if content.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    raise InputError("this is not a photo that can be shown", wanted="a JPEG or PNG file")


def _text(value: Any) -> str:
    if isinstance(value, datetime):
        return value.isoformat()
    return value.isoformat() if isinstance(value, date) else str(value)


def _as_payload(record: type[Any], row: dict[str, Any]) -> dict[str, Any]:
    """TOML numbers and dates become the text that stands in the record; nested tables likewise."""
    hints = {part.name: str(part.type) for part in fields(record)}
    return {name: _part(value, hints.get(name, "")) for name, value in row.items()}


def _part(value: Any, hint: str) -> Any:
    if hint in ("int", "bool"):
        return value
    if isinstance(value, dict):
        inner = _inner(hint)
        return [_as_payload(inner, value)] if hint.startswith("tuple[") and inner else value
    if isinstance(value, list):
        inner = _inner(hint)
        return [_as_payload(inner, each) if inner and isinstance(each, dict) else _text(each) for each in value]
    if isinstance(value, bool):
        return "yes" if value else "no"
    return [_text(value)] if hint.startswith("tuple[str") else _text(value)


def _inner(hint: str) -> Any:
    name = hint.removeprefix("tuple[").split(",")[0]
    return getattr(kinds, name, None)


def instruments_of_sheet(content: bytes) -> list[kinds.Instrument]:
    """The instruments that a sheet describes, for the store's register."""
    rows = read_sheet(content).get("instrument", [])
    if not rows:
        raise NotUnderstood(
            "the sheet describes no instrument", wanted="[[instrument]] tables with [[instrument.scales]]"
        )
    return [record_of("instrument", _as_payload(kinds.Instrument, row)) for row in rows]


def read_sheet_file(path: Path) -> None:
    """Raise in words if the file is not a sheet that can be read."""
    try:
        read_sheet(path.read_bytes())
    except OSError as problem:
        raise NotUnderstood("the file could not be read", got=f"{path}: {problem.strerror}") from problem
