"""From one row of a table to the records it says.

Contents: the columns as data (READINGS, AIR); Context (what the case knows already, and what the rows add on the way:
visits, spots, instruments); CellProblem; read_reading; read_air.
A row that lacks its scale, instrument, spot or covering is kept as a note: a number without its context is no evidence.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from desorb.core.case import Case, latest_by_id
from desorb.core.compare import displaced
from desorb.core.kinds import COVERINGS, ROLES, AirReading, Note, Reading, ScaleShown, Spot, Visit
from desorb.core.typed import read_repeats, read_value
from desorb.errors import NotUnderstood
from desorb.notebook.store import Store
from desorb.service.cases import Clock, moment_text, now, states_offset
from desorb.service.instruments import copies_for, instruments
from desorb.service.tables_in import decode
from desorb.units import celsius_from_fahrenheit, g_per_kg_from_grains_per_pound, millimetres_from_inches

LONGEST_ID = 40
COLDEST, HOTTEST = -60.0, 100.0  # degC; setting of ours: outside it a unit was mistaken
AIR_KINDS = ("outside", "affected", "unaffected", "void", "inlet", "outlet")
ROLE_WORDS = {"control": "control", "ctl": "control", "survey": "survey", "spot": "survey", "": ""}


class CellProblem(Exception):
    def __init__(self, column: str, got: str, wanted: str) -> None:
        super().__init__(column)
        self.column, self.got, self.wanted = column, got, wanted


@dataclass(slots=True)
class Context:
    """What the rows of one file may refer to."""

    store: Store
    case: Case
    time_zone: str
    by: str
    source: str
    clock: Clock = now
    assumed: list[str] = field(default_factory=list)
    struck_entries: set[str] = field(default_factory=set)
    new_visits: dict[str, Visit] = field(default_factory=dict)
    new_spots: dict[str, Spot] = field(default_factory=dict)
    new_copies: dict[str, list[Any]] = field(default_factory=dict)
    _last: list[tuple[dict[str, Any], str]] = field(default_factory=list)
    _known: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._known = {
            "spots": {key: entered.record for key, entered in latest_by_id(self.case.spots).items()},
            "zones": {key: entered.record for key, entered in latest_by_id(self.case.zones).items()},
            "visits": {entered.record.id for entered in self.case.visits},
            "instruments": instruments(self.store),
            "shown": {entered.record for entered in self.case.scales_shown},
        }
        for entered in self.case.instruments:
            self._known["instruments"].setdefault(entered.record.id, entered.record)
        self.struck_entries = {outcome.struck.entry for outcome in self.case.struck}

    def start_row(self) -> None:
        self._last = []

    def forget_last(self) -> None:
        """The row turned out to be known: what it alone described is not written."""
        for where, key in self._last:
            where.pop(key, None)
        self._last = []

    def described_first(self) -> list[Any]:
        copies = [record for records in self.new_copies.values() for record in records]
        return [*copies, *self.new_visits.values(), *self.new_spots.values()]

    def words_of_described(self) -> list[str]:
        words = [f"visit {key} begun {visit.begun_at}" for key, visit in self.new_visits.items()]
        words += [f"spot {key} ({spot.role}) on {spot.element} in {spot.zone}" for key, spot in self.new_spots.items()]
        return words + [f"instrument {key} copied into the case" for key in self.new_copies]

    def assume(self, words: str) -> None:
        if words not in self.assumed:
            self.assumed.append(words)

    def add(self, where: dict[str, Any], key: str, record: Any) -> None:
        if key not in where:
            where[key] = record
            self._last.append((where, key))

    def moment(self, text: str, column: str) -> str:
        try:
            moment = moment_text(text, self.time_zone)
        except NotUnderstood as problem:
            raise CellProblem(column, problem.got or repr(text), problem.wanted) from problem
        if datetime.fromisoformat(moment) > self.clock() + timedelta(days=1):
            raise CellProblem(column, repr(text), "a time that is not in the future")
        if len(text.strip()) == 10:
            self.assume("a date without a time was written down as noon, site time")
        elif not states_offset(text):
            self.assume(f"times without an offset were taken as site time ({self.time_zone})")
        return moment

    def visit(self, name: str, moment: str) -> None:
        if name not in self._known["visits"]:
            self.add(self.new_visits, name, Visit(name, moment, self.by))

    def spot(self, row: dict[str, str]) -> Spot:
        name = row["spot"]
        if len(name) > LONGEST_ID or not name.isprintable():
            raise CellProblem("spot", repr(name[:80]), f"an id of at most {LONGEST_ID} printable letters")
        role = ROLE_WORDS.get(row.get("role", "").casefold())
        if role is None:
            raise CellProblem("role", repr(row["role"]), " or ".join(ROLES))
        known = self._known["spots"].get(name) or self.new_spots.get(name)
        if known is not None:
            for column, value in (("zone", known.zone), ("element", known.element)):
                if row.get(column) and row[column] != value:
                    raise CellProblem(
                        column, repr(row[column]), f"{value!r}, where spot {name} was described; or a new spot id"
                    )
            if role and role != known.role:
                raise CellProblem("role", repr(role), f"{known.role!r}, as spot {name} was described; or a new spot id")
            for part in displaced(known, replace(known, **_position(row))):
                column = f"{part}_m"
                wanted = f"{getattr(known, part)} m within 50 mm, where spot {name} was described; or a new spot id"
                raise CellProblem(column, repr(row[column]), wanted)
            found: Spot = known
            return found
        if row.get("zone", "") not in self._known["zones"]:
            zones = (
                ", ".join(self._known["zones"])
                or "none yet: describe zones in a sheet first (desorb take CASE sheet.toml)"
            )
            spots = ", ".join([*self._known["spots"], *self.new_spots][:12]) or "none yet"
            raise CellProblem(
                "zone", repr(row.get("zone", "")), f"for the new spot {name!r} a described zone, one of: {zones}"
                f" (spots known: {spots})",
            )  # fmt: skip
        if not row.get("element"):
            raise CellProblem(
                "element", "nothing", f"the element on which the new spot {name} lies (floor, north wall ...)"
            )
        spot = Spot(
            name, row["zone"], row["element"], role or "survey", row.get("place", ""),
            why_unaffected=row.get("why_unaffected", ""), **_position(row),
        )  # fmt: skip
        self.add(self.new_spots, name, spot)
        return spot

    def instrument(self, name: str, column: str = "instrument") -> Any:
        known = self._known["instruments"].get(name)
        if known is None:
            names = ", ".join(self._known["instruments"]) or "none yet"
            wanted = f"a described instrument, one of: {names}; describe it with 'desorb instrument FILE.toml' first"
            raise CellProblem(column, repr(name), wanted)
        if name not in self.new_copies:
            lacking = copies_for(self.store, self.case, name)
            if lacking:
                self.add(self.new_copies, name, lacking)
        return known

    def shown(self, shown: ScaleShown) -> list[ScaleShown]:
        if shown in self._known["shown"]:
            return []
        self._known["shown"].add(shown)
        return [shown]


def _position(row: dict[str, str]) -> dict[str, str]:
    return {part: number_or_empty(row, f"{part}_m") for part in ("x", "y", "height")}


def number_or_empty(row: dict[str, str], column: str) -> str:
    """A typed number as text with a point, or ''."""
    text = row.get(column, "")
    if not text:
        return ""
    try:
        value = read_value(text)
    except NotUnderstood as problem:
        raise CellProblem(column, problem.got, "a number") from problem
    if value.bound:
        raise CellProblem(column, repr(text), "a number without a bound")
    return str(value.number)


def _temperature(row: dict[str, str], stem: str) -> str:
    celsius, fahrenheit = number_or_empty(row, f"{stem}_degc"), number_or_empty(row, f"{stem}_degf")
    if celsius and fahrenheit:
        raise CellProblem(f"{stem}_degF", repr(row[f"{stem}_degf"]), f"either {stem}_degC or {stem}_degF, not both")
    found = celsius or (f"{celsius_from_fahrenheit(float(fahrenheit)):.2f}" if fahrenheit else "")
    if found and not COLDEST <= float(found) <= HOTTEST:
        raise CellProblem(f"{stem}_degC", f"{found} degC", f"{COLDEST:g} to {HOTTEST:g} degC, as a building has")
    return found


def _depth(row: dict[str, str], stem: str) -> str:
    metric, inches = number_or_empty(row, f"{stem}_mm"), number_or_empty(row, f"{stem}_in")
    if metric and inches:
        raise CellProblem(f"{stem}_in", repr(row[f"{stem}_in"]), f"either {stem}_mm or {stem}_in, not both")
    if (metric or inches).startswith("-"):
        raise CellProblem(f"{stem}_mm", metric or inches, "a depth of 0 or more, from the surface that is read")
    return metric or (f"{millimetres_from_inches(float(inches)):.1f}" if inches else "")


def read_reading(row: dict[str, str], key: str, number: int, context: Context) -> tuple[list[Any], Any]:
    """A row of readings -> (records that come before it, the reading or the note)."""
    context.start_row()
    try:
        repeats = read_repeats(row.get("value", ""))
    except NotUnderstood as problem:
        raise CellProblem("value", problem.got, problem.wanted) from problem
    moment = context.moment(row.get("taken_at", ""), "taken_at")
    source = f"{context.source}, row {number}"
    missing = [name for name in ("spot", "instrument", "scale", "covering") if not row.get(name)]
    if missing:
        context.assume(f"row {number} was kept as a note, not as evidence: {', '.join(missing)} not stated")
        words = (
            f"{' '.join(value.text for value in repeats)}: no evidence, {', '.join(missing)} not stated; "
            + "; ".join(f"{name} {value}" for name, value in row.items() if value and name != "value")
        )
        return [], Note(words, moment, row.get("by") or context.by, key, source)
    if not row.get("visit"):
        raise CellProblem("visit", "nothing", "the visit in which it was read, such as v1")
    instrument = context.instrument(row["instrument"])
    if instrument.scale(row["scale"]) is None:
        scales = ", ".join(scale.key for scale in instrument.scales)
        raise CellProblem("scale", repr(row["scale"]), f"a scale of {instrument.id}, one of: {scales}")
    covering = row["covering"].casefold()
    if covering not in (*COVERINGS, "none") and not covering.startswith("other:"):
        raise CellProblem("covering", repr(row["covering"]), f"one of: {', '.join(COVERINGS)}; or 'other: your words'")
    spot = context.spot(row)
    context.visit(row["visit"], moment)
    depth_from, depth_to = _depth(row, "depth_from"), _depth(row, "depth_to")
    if depth_from and depth_to and Decimal(depth_from) > Decimal(depth_to):
        raise CellProblem("depth_to_mm", repr(depth_to), f"a depth below {depth_from} mm, where the band begins")
    reading = Reading(
        key=key, spot=spot.id, visit=row["visit"], instrument=instrument.id, scale=row["scale"],
        values=tuple(value.text for value in repeats), covering=covering, taken_at=moment,
        preparation=(row.get("preparation") or "as found").casefold(), finish=row.get("finish", ""), depth_from=depth_from,
        depth_to=depth_to, temperature=_temperature(row, "temperature"), species=row.get("species", ""),
        by=row.get("by") or context.by, note=row.get("note", ""), source=source,
    )  # fmt: skip
    if row.get("scale_shown"):
        shown = ScaleShown(row["visit"], instrument.id, row["scale"], row["scale_shown"], moment)
        return list(context.shown(shown)), reading
    return [], reading


def read_air(row: dict[str, str], key: str, number: int, context: Context) -> tuple[list[Any], Any]:
    """A row of air readings -> (nothing before it, the air reading). Both figures or none: RH alone says nothing."""
    context.start_row()
    moment = context.moment(row.get("taken_at", ""), "taken_at")
    temperature = _temperature(row, "temperature")
    humidity = number_or_empty(row, "relative_humidity")
    if not temperature or not humidity:
        column = "temperature_degC" if not temperature else "relative_humidity"
        raise CellProblem(column, "nothing", "both temperature and relative humidity: one alone derives nothing")
    if not 0 <= Decimal(humidity) <= 100:
        raise CellProblem("relative_humidity", repr(row["relative_humidity"]), "a percentage from 0 to 100")
    kind = row.get("kind", "").casefold()
    if kind not in AIR_KINDS:
        raise CellProblem("kind", repr(row.get("kind", "")), f"one of: {', '.join(AIR_KINDS)}")
    for column in ("place", "visit", "instrument"):
        if not row.get(column):
            raise CellProblem(column, "nothing", f"the {column}")
    instrument = context.instrument(row["instrument"])
    context.visit(row["visit"], moment)
    grains = number_or_empty(row, "shown_humidity_ratio_grains_per_lb")
    shown_ratio = number_or_empty(row, "shown_humidity_ratio_g_per_kg")
    if grains and not shown_ratio:
        shown_ratio = f"{g_per_kg_from_grains_per_pound(float(grains)):.3f}"
    pressure = number_or_empty(row, "pressure_hpa")
    reading = AirReading(
        key=key, place=row["place"], kind=kind, visit=row["visit"], instrument=instrument.id, temperature=temperature,
        relative_humidity=humidity, taken_at=moment, pressure=str(Decimal(pressure) * 100) if pressure else "",
        surface_temperature=_temperature(row, "surface_temperature"), surface_method=row.get("surface_method", ""),
        shown_dew_point=_temperature(row, "shown_dew_point"), shown_humidity_ratio=shown_ratio,
        settled_minutes=number_or_empty(row, "settled_minutes"), by=row.get("by") or context.by, note=row.get("note", ""),
        source=f"{context.source}, row {number}",
    )  # fmt: skip
    return [], reading


@dataclass(frozen=True, slots=True)
class RowReader:
    kind: str
    required: tuple[str, ...]
    columns: tuple[str, ...]
    read: Callable[[dict[str, str], str, int, Context], tuple[list[Any], Any]]


READINGS = RowReader(
    "reading",
    ("spot", "value", "scale", "instrument", "covering", "visit", "taken_at"),
    (
        "id", "visit", "taken_at", "spot", "zone", "element", "role", "place", "x_m", "y_m", "height_m", "why_unaffected",
        "instrument", "scale", "scale_shown", "value", "covering", "preparation", "finish", "depth_from_mm", "depth_to_mm",
        "depth_from_in", "depth_to_in", "temperature_degc", "temperature_degf", "species", "by", "note",
    ),
    read_reading,
)  # fmt: skip
AIR = RowReader(
    "air",
    ("place", "kind", "visit", "taken_at", "instrument", "relative_humidity"),
    (
        "id", "visit", "taken_at", "place", "kind", "instrument", "temperature_degc", "temperature_degf",
        "relative_humidity", "pressure_hpa", "surface_temperature_degc", "surface_temperature_degf", "surface_method",
        "shown_dew_point_degc", "shown_dew_point_degf", "shown_humidity_ratio_g_per_kg",
        "shown_humidity_ratio_grains_per_lb", "settled_minutes", "by", "note",
    ),
    read_air,
)  # fmt: skip


def reader_for(content: bytes) -> RowReader:
    """Which table this is, by the names in its first row."""
    first = (decode(content)[0].splitlines() or [""])[0].casefold()
    return AIR if "relative_humidity" in first else READINGS
