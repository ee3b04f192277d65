"""A field book for tests: a case in a few lines that read as a surveyor writes them.

Contents: scales and instruments of an invented surveyor (COMPARATIVE, SCREED, PINS, OVEN ...; METER, PIN_METER, BALANCE);
FieldBook (a case in memory, no store: one line for each place, values as in the tables of CASES); Desk (the same person at
a store: sheets and tables as text, taken through the real input path).
Nothing here is a real instrument, place or person.
"""

from __future__ import annotations

import hashlib
import re
import textwrap
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from desorb.core.assess import Assessed, assess
from desorb.core.case import Case, Entered, Struck
from desorb.core.evidence import Evidence, evidence_of
from desorb.core.kinds import (
    CheckBlock,
    Construction,
    CorrectionTable,
    Instrument,
    InstrumentCheck,
    Layer,
    Readiness,
    Reading,
    Scale,
    ScaleShown,
    Setting,
    Spot,
    Strike,
    Visit,
    Zone,
)
from desorb.core.outcome import Assessment, Finding
from desorb.notebook.fold import PLACE_OF_KIND
from desorb.notebook.store import Store
from desorb.service.assessing import assess_case
from desorb.service.cases import OpenCase, case_names, find_case, load, open_case
from desorb.service.instruments import CheckOutcome, describe_instrument, log_check
from desorb.service.sheet import instruments_of_sheet
from desorb.service.take import Taken, take_air, take_file, take_readings
from desorb.tables.defaults import default_records

FIRST_DAY = datetime(2026, 3, 2, tzinfo=UTC)  # a Monday; day 0 of every book
WRITTEN_AT = datetime(
    2026, 12, 24, 12, tzinfo=UTC
)  # when everything at a desk is written down: no test asks the wall clock

COMPARATIVE = Scale(
    "comparative", "electrical impedance", "comparative", bottom="0", top="100", resolution="1", depth="12",
    repeatability="1",
)  # fmt: skip
FINE = replace(COMPARATIVE, key="fine comparative", resolution="0.1")
SCREED = Scale(
    "oven-eq screed", "electrical impedance", "equivalent", method="oven drying", material="cement screed", basis="dry",
    unit="%", bottom="0", top="6.9", resolution="0.1", depth="12", repeatability="0.1",
)  # fmt: skip
CONCRETE = replace(SCREED, key="oven-eq concrete", material="concrete", top="5.8")
CARBIDE_EQUIVALENT = replace(
    SCREED, key="carbide-eq cement", method="carbide test", basis="wet", top="4.5", material="cement screed"
)
WOOD_EQUIVALENT = Scale(
    "wood-eq", "electrical resistance", "wood equivalent", basis="dry", unit="%", bottom="6", top="99", resolution="1",
    repeatability="1",
)  # fmt: skip
PINS = Scale(
    "wood", "electrical resistance", "measured", method="insulated pins", material="wood", basis="dry", unit="%",
    bottom="6", top="60", resolution="0.1", repeatability="0.5",
)  # fmt: skip
OVEN = Scale(
    "oven", "gravimetric", "measured", method="oven drying", basis="dry", unit="%", bottom="0", top="60",
    resolution="0.1", repeatability="0.5",
)  # fmt: skip
CARBIDE = Scale(
    "carbide", "calcium carbide", "measured", method="carbide test", basis="wet", unit="%", bottom="0", top="20",
    resolution="0.1", repeatability="0.2",
)  # fmt: skip
HOLE = Scale(
    "hole", "relative humidity", "measured", method="relative humidity in a sealed hole", unit="% RH", bottom="0",
    top="100", resolution="0.1", repeatability="2",
)  # fmt: skip
OWN_TABLE = CorrectionTable(
    "wood",
    "table 3 of the invented sheet",
    ("0", "10", "20", "30"),
    ("3.0", "2.0", "0", "-1.5"),
    ("pine", "oak"),
    ("0", "-0.6"),
)
METER = Instrument(
    "m1", "surface meter, invented", "S-17", (COMPARATIVE, FINE, SCREED, CONCRETE, CARBIDE_EQUIVALENT), "2026-12-31",
    "invented certificate 1", (CheckBlock("comparative", "50", "2", 30),),
)  # fmt: skip
PIN_METER = Instrument(
    "p1", "pin meter, invented", "P-4", (PINS, WOOD_EQUIVALENT), "2026-12-31", "invented certificate 2",
    (CheckBlock("wood", "18", "0.5", 30),), (OWN_TABLE,),
)  # fmt: skip
BALANCE = Instrument("b1", "oven and balance of an invented laboratory", "B-1", (OVEN, CARBIDE))
PROBE = Instrument(
    "h1", "humidity probe, invented", "H-9", (HOLE,), "2026-12-31", "", (CheckBlock("hole", "75.3", "2", 30),)
)


def at(day: float = 0, clock: str = "10:00") -> str:
    """A time of the book: '10:05' on a day after the first, in UTC."""
    hours, minutes = clock.split(":")
    return (FIRST_DAY + timedelta(days=day, hours=int(hours), minutes=int(minutes))).isoformat()


def default_names(zone: str, role: str, count: int) -> list[str]:
    """'kitchen.1', 'kitchen.2' ... for spots, 'utility.c1' ... for controls."""
    mark = "c" if role == "control" else ""
    return [f"{zone}.{mark}{number}" for number in range(1, count + 1)]


SMALL_BUILDING = """
    [[construction]]
    id = "screed"
    words = "floating screed"
    material = "cement screed"
    built = "1996"

    [[zone]]
    id = "kitchen"
    words = "kitchen"
    construction = "screed"
    affected = "yes"

    [[zone]]
    id = "utility"
    words = "utility room"
    construction = "screed"
    affected = "no"
"""


def clock() -> datetime:
    return WRITTEN_AT


class FieldBook:
    """A case that is written line by line. Everything that a pass needs is there unless a test leaves it out."""

    def __init__(self, *, rule: str = "tolerance/1", checked: bool = True, confirmed: bool = True) -> None:
        self.lists: dict[str, list[Entered[Any]]] = defaultdict(list)
        self.struck: list[Struck] = []
        self.written = 0
        self.confirmed = confirmed  # the surveyor looks at the scale that the instrument shows, and at its state
        self._minutes: dict[float, int] = defaultdict(int)
        self.write(*default_records(), Setting("rule", rule, "", "of this book"))
        self.write(METER, PIN_METER, BALANCE, PROBE)
        if checked:
            for instrument in (METER, PIN_METER, PROBE):
                self.check(instrument, -3)

    # -- writing -------------------------------------------------------------------------------------------------

    def write(self, *records: Any) -> list[Entered[Any]]:
        """Records as entries, in this order."""
        entered = []
        for record in records:
            number = self.written
            self.written += 1
            mark = hashlib.sha256(f"{number} {record!r}".encode()).hexdigest()
            entered.append(Entered(record, f"phone/{number}", mark, "phone", number, number, number, at()))
            self.lists[PLACE_OF_KIND[record.KIND]].append(entered[-1])
        return entered

    def check(self, instrument: Instrument, day: float, value: str = "") -> None:
        block = instrument.block[0]
        self.write(
            InstrumentCheck(
                instrument.id, block.scale, value or block.nominal, block.nominal, block.tolerance, at(day, "08:00")
            )
        )

    def building(self, construction: str, material: str, *zones: str, built: str = "1996", **parts: Any) -> None:
        """A construction and its zones: 'kitchen' is affected, 'utility: sound' is not, 'flank: ?' does not say."""
        words = parts.pop("words", construction)
        layers = tuple(Layer(*layer) for layer in parts.pop("layers", ()))
        self.write(Construction(construction, words, material, built, layers, **parts))
        for name in zones:
            zone, _, state = name.partition(":")
            affected = {"": "yes", "sound": "no", "?": ""}[state.strip()]
            self.write(Zone(zone, zone, construction, affected=affected))

    def line(
        self, place: str, values: str, *, role: str = "survey", scale: str = "comparative", covering: str = "bare",
        day: float = 0, clock: str = "", visit: str = "", instrument: str = "", names: str = "", **parts: Any,
    ) -> list[Entered[Any]]:  # fmt: skip
        """One line of the book: 'kitchen/floor', '24, 23 22 23, 25' is three spots, the second with three repeats."""
        zone, _, element = place.partition("/")
        of_instrument = instrument or self._instrument_with(scale)
        visit = visit or f"d{day:g}"
        if visit not in {entered.record.id for entered in self.lists["visits"]}:
            self.write(Visit(visit, at(day, "09:00"), "R. Marsh"))
        minute = self._minutes[day]
        start = datetime.fromisoformat(at(day, clock or "10:00")) + timedelta(minutes=0 if clock else minute)
        if self.confirmed:
            if not any(
                (e.record.instrument, e.record.visit) == (of_instrument, visit) for e in self.lists["readiness"]
            ):
                self.write(Readiness(of_instrument, visit, "yes", "yes", "yes", "yes", "yes", at(day, "00:01")))
            self.write(ScaleShown(visit, of_instrument, scale, scale, start.isoformat()))
        texts = [text.strip() for text in values.split(",")]
        spots = names.split() or default_names(zone, role, len(texts))
        entries = []
        for number, (spot, text) in enumerate(zip(spots, texts, strict=True)):
            known = {entered.record.id: entered.record for entered in self.lists["spots"]}
            if spot not in known:
                self.write(Spot(spot, zone, element, role))
            assert spot not in known or known[spot].element == element, (
                f"{spot} lies on {known[spot].element}: give names"
            )
            moment = (start + timedelta(minutes=number)).isoformat()
            reading = Reading(
                f"row-{self.written}", spot, visit, of_instrument, scale, tuple(text.split()), covering, moment, **parts
            )
            entries += self.write(reading)
        self._minutes[day] = minute + len(texts)
        return entries

    def controls(self, place: str, values: str, **parts: Any) -> list[Entered[Any]]:
        return self.line(place, values, role="control", **parts)

    def strike(self, entry: Entered[Any], why: str = "wrong spot") -> None:
        place = PLACE_OF_KIND[entry.record.KIND]
        self.lists[place].remove(entry)
        strike = Entered(Strike(entry.hash, why, "R. Marsh", at()), f"phone/{self.written}", "f" * 64, "phone",
                         self.written, self.written, self.written, at())  # fmt: skip
        self.written += 1
        self.struck.append(Struck(entry, entry.record.KIND, strike))

    def set(self, key: str, value: str, source: str = "of this book") -> None:
        self.write(Setting(key, value, "", source))

    def _instrument_with(self, scale: str) -> str:
        return next(i.record.id for i in reversed(self.lists["instruments"]) if i.record.scale(scale))

    # -- reading -------------------------------------------------------------------------------------------------

    def case(self) -> Case:
        lists: dict[str, Any] = {place: tuple(entries) for place, entries in self.lists.items()}
        return Case(id="book", struck=tuple(self.struck), entry_count=self.written, **lists)

    def evidence(self) -> list[Evidence]:
        return evidence_of(self.case())[0]

    def assessed(self, **how: Any) -> Assessed:
        return assess(self.case(), **how)

    def spot(self, name: str) -> Assessment:
        return by_id(self.assessed())[name]

    def statuses(self, place: str = "") -> dict[str, str]:
        """Status of every spot (of a place): {'k1': 'above control', ...}."""
        spots = self.assessed().spots
        return {each.id: each.status for each in spots if place in ("", f"{each.zone}/{each.element}")}

    def findings(self, code: str = "") -> list[Finding]:
        return [finding for finding in self.assessed().findings if code in ("", finding.code)]


def by_id(assessed: Assessed) -> dict[str, Assessment]:
    """Spots by name, and elements as 'zone/element'."""
    return {each.id: each for each in assessed.all}


def all_words(thing: Any) -> str:
    """Every sentence and every figure of an outcome, for 'this is nowhere printed'; names of entries are left out."""
    return re.sub(r"\b[\w-]+/\d+\b", "", repr(thing))


class Desk:
    """A surveyor at a store: sheets and tables are text, and they go in through the door that everybody uses."""

    def __init__(self, folder: Path, name: str = "book", time_zone: str = "Europe/London") -> None:
        """Open a desk in a folder: with the case of that name if it is there already, else with a new one."""
        self.folder = folder
        self.store = Store(folder / "store", now=lambda: "2026-12-24T12:00:00.000Z")
        if name in case_names(self.store):
            self.case: OpenCase = find_case(self.store, name)
        else:
            self.case = open_case(
                self.store, name, site="an invented place", time_zone=time_zone, opened_by="R. Marsh", clock=clock
            )
        self._files = 0

    def __enter__(self) -> Desk:
        return self

    def __exit__(self, *_: object) -> None:
        self.store.close()

    def instruments(self, *instruments: Instrument) -> None:
        for instrument in instruments:
            describe_instrument(self.store, instrument, clock)

    def instrument_sheet(self, text: str) -> None:
        for instrument in instruments_of_sheet(textwrap.dedent(text).encode()):
            describe_instrument(self.store, instrument, clock)

    def check(self, instrument: str, value: str, when: str) -> CheckOutcome:
        return log_check(self.store, instrument, value, at=when, by="R. Marsh", clock=clock)

    def _file(self, content: bytes, ending: str, name: str) -> Path:
        self._files += 1
        path = self.folder / (name or f"file-{self._files}{ending}")
        path.write_bytes(content)
        return path

    def sheet(self, text: str, name: str = "") -> Taken:
        return take_file(self.store, self.case, self._file(textwrap.dedent(text).encode(), ".toml", name), clock=clock)

    def table(self, text: str | bytes, name: str = "", **how: Any) -> Taken:
        content = text if isinstance(text, bytes) else textwrap.dedent(text).lstrip().encode()
        return take_file(self.store, self.case, self._file(content, ".csv", name), clock=clock, **how)

    def rows(self, *rows: dict[str, str]) -> Taken:
        """Readings from Python."""
        return take_readings(self.store, self.case, rows, clock=clock)

    def air_rows(self, *rows: dict[str, str]) -> Taken:
        return take_air(self.store, self.case, rows, clock=clock)

    def line(self, place: str, values: str, *, day: str, role: str = "survey", names: str = "", **cells: str) -> Taken:
        """One line of a table of CASES as rows of a CSV: a spot for each value, a minute apart, scale shown at the first."""
        texts = [text.strip() for text in values.split(",")]
        zone, _, element = place.partition("/")
        spots = names.split() or default_names(zone, role, len(texts))
        cells = {"scale": "comparative", "covering": "bare", "instrument": "m1", "clock": "10:00"} | cells
        start = datetime.fromisoformat(f"{day}T{cells.pop('clock')}")
        cells.setdefault("visit", day)
        columns = ["spot", "zone", "element", "role", "value", "taken_at", "scale_shown", *cells]
        rows = [",".join(columns)]
        for number, (spot, text) in enumerate(zip(spots, texts, strict=True)):
            moment = (start + timedelta(minutes=number)).isoformat(timespec="minutes")
            shown = cells["scale"] if number == 0 else ""
            rows.append(",".join([spot, zone, element, role, text, moment, shown, *cells.values()]))
        taken = self.table("\n".join(rows))
        assert taken.ok, [str(problem) for problem in taken.problems] + taken.corrections
        return taken

    def ready(self, visits: Iterable[str], instruments: Iterable[str] = ("m1",)) -> None:
        """The state of the instruments before the first reading of each visit."""
        rows = [
            f'[[readiness]]\ninstrument = "{name}"\nvisit = "{visit}"\nbattery = "yes"\ncontacts_free = "yes"\n'
            f'free_air = "yes"\nblock = "yes"\nat = "{visit}T08:00"\n'
            for visit in visits
            for name in instruments
        ]
        assert self.sheet("\n".join(rows)).ok

    def folded(self) -> Case:
        return load(self.store, self.case)

    def assessed(self, **how: Any) -> Assessed:
        return assess_case(self.store, self.case, **how)[1]

    def by_id(self, **how: Any) -> dict[str, Assessment]:
        return by_id(self.assessed(**how))

    def findings(self, code: str) -> list[Finding]:
        return [finding for finding in self.assessed().findings if finding.code == code]
