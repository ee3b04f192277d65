"""An invented case built in memory for the tests of the report: records with their places, no store, no notebook.

Contents: Book (writes records down and folds them by hand); small_case (three elements, three visits, everything that
the report must show); large_case (many readings, for the benchmark); picture (the bytes of an invented photo);
small_document and small_render (made once for all tests); text_of (what stands in a PDF).
"""

from __future__ import annotations

import hashlib
import io
from collections import defaultdict
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta, timezone
from functools import cache
from typing import TYPE_CHECKING, Any

from desorb.core.assess import assess
from desorb.core.case import Case, Entered, Gap, Removed, Struck
from desorb.core.kinds import (
    AirReading,
    CaseOpened,
    CheckBlock,
    Construction,
    Event,
    FileTaken,
    FindingAnswer,
    GateAnswer,
    Hazard,
    Instrument,
    InstrumentCheck,
    Layer,
    Note,
    NotInspected,
    NotRead,
    Photo,
    PhotoMark,
    Readiness,
    Reading,
    Removal,
    RuleRow,
    SaltTest,
    Scale,
    ScaleShown,
    Scan,
    Setting,
    Spot,
    Strike,
    UnitChange,
    UnitReading,
    Visit,
    WaterOrigin,
    Zone,
)

if TYPE_CHECKING:
    from desorb.report.render import Rendered

BEGAN = datetime(2026, 3, 4, 9, 30, tzinfo=timezone(timedelta(hours=0)))
DEVICE = "phone-7c2e"
COMPARATIVE = Scale(
    "comparative", "electrical impedance", "comparative", unit="", bottom="0", top="100", resolution="1", depth="20",
    repeatability="2",
)  # fmt: skip
PINS = Scale(
    "wood", "electrical resistance", "measured", method="pins", material="wood", basis="dry", unit="%", bottom="6",
    top="60", resolution="0.5", repeatability="1",
)  # fmt: skip
PLACES = {
    Setting: "settings", RuleRow: "rule_rows", Instrument: "instruments", InstrumentCheck: "checks",
    Readiness: "readiness", ScaleShown: "scales_shown", Construction: "constructions", Zone: "zones", Spot: "spots",
    Visit: "visits", Reading: "readings", AirReading: "air_readings", Scan: "scans", SaltTest: "salt_tests",
    UnitChange: "unit_changes", GateAnswer: "gate_answers", Hazard: "hazards", WaterOrigin: "water_origins",
    FindingAnswer: "finding_answers", Event: "events", Note: "notes", Photo: "photos", NotInspected: "not_inspected",
    FileTaken: "files", NotRead: "not_read", UnitReading: "unit_readings", PhotoMark: "photo_marks",
}  # fmt: skip


def at(day: int, hour: int = 10, minute: int = 0) -> str:
    """A time in the case, `day` days after the first visit."""
    return (BEGAN.replace(hour=0, minute=0) + timedelta(days=day, hours=hour, minutes=minute)).isoformat()


@dataclass
class Book:
    """Records in the order they are written down."""

    opened: CaseOpened
    name: str = "3f9a61c27be04d15a8827c10e44b9d02"
    lists: dict[str, list[Entered[Any]]] = field(default_factory=lambda: defaultdict(list))
    extra: dict[str, Any] = field(default_factory=dict)
    struck: list[Struck] = field(default_factory=list)
    removed: list[Removed] = field(default_factory=list)
    repeated: list[Entered[Any]] = field(default_factory=list)
    written: int = 0
    last_hash: str = ""

    def __post_init__(self) -> None:
        self.opening = self.enter(self.opened)

    def enter(self, record: Any, device: str = DEVICE) -> Entered[Any]:
        number = self.written
        self.written += 1
        self.last_hash = hashlib.sha256(f"{number} {record!r}".encode("utf-8", "surrogatepass")).hexdigest()
        claimed = getattr(record, "taken_at", "") or getattr(record, "at", "") or BEGAN.isoformat()
        return Entered(record, f"{device}/{number}", self.last_hash, device, number, number, number, claimed)

    def write(self, *records: Any) -> None:
        for record in records:
            self.lists[PLACES[type(record)]].append(self.enter(record))

    def strike(self, place: str, position: int, why: str, by: str, when: str) -> None:
        taken = self.lists[place].pop(position)
        self.struck.append(Struck(taken, taken.record.KIND, self.enter(Strike(taken.hash, why, by, when))))

    def remove(self, place: str, position: int, why: str, authority: str, by: str, when: str) -> None:
        taken = self.lists[place].pop(position)
        removal = Removal(taken.hash, why, authority, by, when, (taken.record.spot,))
        self.removed.append(Removed(taken.entry, taken.hash, taken.record.KIND, self.enter(removal)))

    def repeat(self, place: str, position: int) -> None:
        self.repeated.append(self.enter(replace(self.lists[place][position].record, source="sheet-2.csv row 4")))

    def case(self) -> Case:
        heads = {DEVICE: (self.written - 1, self.last_hash)}
        places: dict[str, Any] = {place: tuple(entries) for place, entries in self.lists.items()}
        return Case(
            id=self.name, opened=self.opening, struck=tuple(self.struck), removed=tuple(self.removed),
            repeated_rows=tuple(self.repeated), heads=heads, evidence_heads=heads, entry_count=self.written,
            **places, **self.extra,
        )  # fmt: skip


def picture(colour: str = "grey", size: tuple[int, int] = (320, 240), form: str = "JPEG") -> bytes:
    """An invented photo: a plane with two lines."""
    from PIL import Image, ImageDraw

    image = Image.new("RGB", size, colour)
    pen = ImageDraw.Draw(image)
    pen.line((0, size[1] * 2 // 3, size[0], size[1] * 2 // 3), fill="black", width=3)
    pen.line((size[0] // 3, 0, size[0] // 3, size[1] * 2 // 3), fill="white", width=3)
    buffer = io.BytesIO()
    image.save(buffer, form)
    return buffer.getvalue()


def sha(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def open_book(name: str = "Quince Row, no. 4", **changes: Any) -> Book:
    opened = CaseOpened(
        name, "4 Quince Row, invented town", "Europe/London", "R. Marsh", "P. Okafor",
        "Kitchen and hall after a leak below the sink: floor and party wall. Is it back to the level of sound parts?", True,
    )  # fmt: skip
    return Book(replace(opened, **changes))


def furnish(book: Book) -> None:
    """Rule, instruments, building and spots."""
    book.write(
        Setting("rule", "tolerance/1", "", "default of desorb", "R. Marsh"),
        Setting("control fresh hours", "24", "h", "setting of ours", "R. Marsh"),
        Setting("altitude", "30", "m", "map", "R. Marsh"),
        Setting("plan north", "35", "degree", "compass, clockwise from the top of the plan", "R. Marsh"),
        RuleRow("comparative", True, "0.10", "0.25", "2", "setting of ours until measured", "R. Marsh"),
        RuleRow("wood pins", False, "0.6", "1.5", "1", "setting of ours until measured", "R. Marsh"),
        Instrument(
            "m1", "impedance meter with two plates", "A-114", (COMPARATIVE, PINS), "2026-11-30", "certificate 5521",
            (CheckBlock("comparative", "48", "2", 7),),
        ),
        Instrument("h1", "thermometer and hygrometer", "B-020", (), "2026-09-30", "certificate 5522"),
        InstrumentCheck("m1", "comparative", "48", "48", "2", at(0, 9, 10), "R. Marsh"),
        InstrumentCheck("m1", "comparative", "47", "48", "2", at(9, 9, 5), "R. Marsh"),
        InstrumentCheck("m1", "comparative", "48", "48", "2", at(21, 9, 0), "R. Marsh"),
        Construction(
            "c1", "65 mm screed on a 1996 slab", "cement screed", "1996",
            (Layer("vinyl tile", "2", "seen"), Layer("cement screed", "65", "told"), Layer("insulation", "50", "assumed")),
            ("heated",),
        ),
        Construction("c2", "solid brick wall, gypsum plaster", "gypsum plaster", "1931", (Layer("plaster", "13", "seen"),)),
        Construction("c3", "1931 concrete floor, asphalt, carpet", "asphalt", "1931", (Layer("carpet", "9", "seen"),)),
        Zone("z1", "kitchen", "c1", "inside", "yes", ("0 0", "4.8 0", "4.8 3.6", "0 3.6")),
        Zone("z2", "utility room", "c1", "inside", "no", ("4.8 0", "6.8 0", "6.8 1.8", "4.8 1.8")),
        Zone("z4", "bedroom", "c3", "inside", "yes", ("0 4.9", "3 4.9", "3 7.4", "0 7.4")),
        Zone("z3", "hall", "c2", "inside", "", ("0 3.6", "4.8 3.6", "4.8 4.9", "0 4.9")),
    )  # fmt: skip
    for number, x, y in ((1, "5.2", "0.5"), (2, "6.3", "0.5"), (3, "5.2", "1.4"), (4, "6.3", "1.4")):
        book.write(Spot(f"k{number}", "z2", "floor", "control", "", x, y, "0", "one step higher, never reached"))
    for number, x in ((5, "0.6"), (6, "0.9"), (7, "1.2")):
        book.write(Spot(f"k{number}", "z3", "party wall", "control", "", x, "4.8", "1.6", "above the splash line"))
    for number, x, y in ((1, "0.7", "0.6"), (2, "2.4", "0.6"), (3, "4.1", "0.6"), (4, "1.5", "2.8"), (5, "3.6", "2.9")):
        book.write(Spot(f"s{number}", "z1", "floor", "survey", "", x, y, "0", "", x, "west wall", y, "south wall"))
    for number, x in ((9, "0.5"), (10, "1.8"), (11, "2.6")):
        book.write(Spot(f"s{number}", "z4", "floor", "survey", "", x, "6.4", "0"))
    for number, x, height in ((6, "2.2", "0.2"), (7, "3.0", "0.2"), (8, "3.8", "0.2")):
        book.write(Spot(f"s{number}", "z3", "party wall", "survey", "", x, "4.8", height))


def sweep(
    book: Book, visit: str, day: int, values: dict[str, str], covering: str = "bare", instrument: str = "m1",
    scale: str = "comparative",
) -> None:  # fmt: skip
    """Readings of one pass, a minute apart."""
    book.write(Readiness(instrument, visit, "yes", "yes", "yes", "yes", "yes", at(day, 9, 40), "R. Marsh"))
    book.write(ScaleShown(visit, instrument, scale, scale, at(day, 9, 50)))
    for minute, (spot, text) in enumerate(values.items()):
        book.write(
            Reading(f"{visit}-{spot}-{scale}-{covering}", spot, visit, instrument, scale, tuple(text.split()), covering,
                    at(day, 10, minute), by="R. Marsh")
        )  # fmt: skip


def small_book() -> Book:
    """Everything that the report must show, in a small case."""
    book = open_book()
    furnish(book)
    floor = {"k1": "18 19 18", "k2": "16 16 17", "k3": "19 18 19", "k4": "17 17 18"}
    wall = {"k5": "21 22 21", "k6": "20 21 20", "k7": "22 21 22"}
    book.write(Visit("v1", at(0, 9, 30), "R. Marsh", "first visit"))
    book.write(Hazard("electricity", "z1", "socket below the wet line", at(0, 9, 35), "R. Marsh", "P. Okafor"))
    book.write(WaterOrigin("z1", "clean", "cold supply to the sink", at(0, 9, 36), "R. Marsh", "no"))
    book.write(
        GateAnswer(
            "asbestos", ("z1",), ("vinyl",), "laboratory report 77-310", "Dr. A. Lunt", "lifting the vinyl",
            "none found", at(0, 9, 50),
        ),
        GateAnswer("gas", ("z1", "z2", "z3"), (), "all-electric house, meter cupboard seen", "R. Marsh", "entering",
                   "no gas, no flue", at(0, 9, 52)),
    )  # fmt: skip
    sweep(book, "v1", 0, {**floor, "s1": "64 73 65", "s2": "58 57 59", "s3": "100", "s4": "41 40 41", "s5": "22 21 22"})
    sweep(book, "v1", 0, {**wall, "s6": "44 45 44", "s7": "31 30 31", "s8": "21 22 21"})
    book.write(Reading("v1-typo", "s4", "v1", "m1", "comparative", ("410",), "bare", at(0, 10, 30), by="R. Marsh"))
    book.strike("readings", -1, "typed one nought too many", "R. Marsh", at(0, 10, 31))
    book.write(Reading("v1-vinyl", "s5", "v1", "m1", "comparative", ("17", "18", "17"), "vinyl", at(0, 10, 40)))
    book.repeat("readings", 0)
    book.write(Reading("v1-private", "s2", "v1", "m1", "comparative", ("60",), "bare", at(0, 10, 45), note="a name"))
    book.remove("readings", -1, "note named a tenant", "request of 6 March", "office", at(2))
    book.write(UnitChange("u1", "refrigerant dehumidifier", "z1", "set", at(0, 11), "beside the sink", "R. Marsh"))
    book.write(UnitChange("u2", "air mover", "z1", "set", at(0, 11, 5), "", "R. Marsh"))
    book.write(Event(at(-3, 7), "the tenant found water under the sink", "told", "fairly sure", "P. Okafor"))
    book.write(Event(at(-3, 8), "supply shut off at the stopcock", "seen", "", "R. Marsh"))
    book.write(
        AirReading("a1", "garden", "outside", "v1", "h1", "8.0", "82", at(0, 9, 45)),
        AirReading("a2", "kitchen", "affected", "v1", "h1", "19.5", "74", at(0, 9, 55), surface_temperature="14.2",
                   surface_method="contact", shown_dew_point="14.7"),
        AirReading("a3", "bedroom", "unaffected", "v1", "h1", "20,0", "52", at(0, 10, 0)),
    )  # fmt: skip
    book.write(Visit("v2", at(9, 9, 20), "R. Marsh", "after nine days of drying"))
    sweep(book, "v2", 9, {**floor, "s1": "38 37 38", "s2": "33 34 33", "s3": "58 57 58", "s4": "24 24 25"})
    book.write(UnitChange("u2", "air mover", "z1", "moved", at(9, 11), "to the hall side", "R. Marsh"))
    sweep(book, "v2", 9, {**wall, "s6": "31 30 31", "s7": "24 24 25", "s8": "21 21 22"})
    book.write(Visit("v3", at(21, 9, 15), "R. Marsh", ""))
    sweep(
        book,
        "v3",
        21,
        {**floor, "s1": "19 19 18", "s2": "18 18 17", "s3": "27 27 28", "s4": "18 17 18", "s5": "18 18 18"},
    )
    sweep(book, "v3", 21, {**wall, "s6": "22 21 22", "s7": "21 21 20", "s8": "21 20 21"}, covering="bare")
    book.write(
        AirReading(
            "a4",
            "kitchen",
            "affected",
            "v3",
            "h1",
            "21.0",
            "46",
            at(21, 9, 55),
            cap_off="yes",
            height="1.2",
            first_temperature="20.6",
            first_relative_humidity="47.5",
        )
    )
    sweep(book, "v3", 21, {"s9": "38 39 38", "s10": "35 36 35"}, covering="carpet")
    book.write(SaltTest("z3", "party wall", "negative", "nitrate and chloride strips", at(21, 10, 40), "R. Marsh"))
    book.write(Scan("v1", "z1", "floor", "17.3", "0.5", "1.1 m from the sink wall", at(0, 9, 58), "R. Marsh"))
    book.write(
        NotInspected("void under the kitchen units", "fixed plinth", "water may stand below", ("z1/floor",), at(21))
    )
    book.write(Note("the tenant dries clothes in the hall", at(21, 11), "R. Marsh"))
    book.write(NotRead("s8", "v2", "a cupboard stood before it", at(9, 10, 30), "m1", "comparative", "R. Marsh"))
    book.write(
        UnitReading("u1-a", "u1", "v2", at(9, 10, 50), "207", "18.5", "61.2", "R. Marsh"),
        UnitReading("u1-b", "u1", "v2", at(9, 10, 51), "702", "", "", "R. Marsh"),
    )
    book.strike("unit_readings", -1, "two digits swapped", "R. Marsh", at(9, 10, 52))
    book.write(FileTaken("sheet-1.csv", "ab" * 32, 12, 11, ("row 7: no spot",), at(0, 12)))
    for number, content in enumerate((picture("grey"), picture("white"), b"no picture at all", b"still on the phone")):
        book.write(
            Photo(sha(content), "image/jpeg", len(content), ("sink wall", "vinyl edge", "broken file", "later")[number],
                  at(0, 10, 50 + number), spot="s1" if number == 0 else "", zone="z1", direction="north", visit="v1")
        )  # fmt: skip
    mark = ("0.2", "0.3", "0.25", "0.2")
    book.write(PhotoMark(sha(picture("grey")), "mark", mark, "edge of the stain", at(0, 11), "R. Marsh"))
    book.extra["gaps"] = (Gap("tablet-19", 41, 46),)
    return book


def small_case() -> Case:
    return small_book().case()


def small_photos() -> dict[str, bytes]:
    """The bytes that have arrived: two pictures and a broken one. The fourth is still awaited."""
    return {sha(content): content for content in (picture("grey"), picture("white"), b"no picture at all")}


def large_case(readings: int = 2000, visits: int = 10) -> Case:
    """Many rooms, many visits: about `readings` readings in all, a fifth of them on controls."""
    book = open_book("Large invented case")
    furnish(book)
    per_visit = readings // visits
    controls = [f"k{number}" for number in range(1, 5)]
    rooms = max(1, (per_visit - 4) // 10)
    spots = []
    for room in range(rooms):
        x, y = 5.0 * (room % 5), 8.0 + 4.0 * (room // 5)
        corners = tuple(f"{x + a} {y + b}" for a, b in ((0, 0), (4.5, 0), (4.5, 3.5), (0, 3.5)))
        book.write(Zone(f"r{room}", f"room {room + 1}", "c1", "inside", "yes", corners))
        for number in range(10):
            name = f"r{room}-{number}"
            book.write(Spot(name, f"r{room}", "floor", "survey", "", f"{x + 0.4 + 0.4 * number}", f"{y + 1.2}", "0"))
            spots.append(name)
    for visit in range(visits):
        book.write(InstrumentCheck("m1", "comparative", "48", "48", "2", at(visit * 3, 9), "R. Marsh"))
        book.write(Visit(f"w{visit}", at(visit * 3, 9, 30), "R. Marsh"))
        values = {name: f"{17 + number} {17 + number} {18 + number}" for number, name in enumerate(controls)}
        for number, name in enumerate(spots):
            level = max(17, 30 + (number * 7) % 60 - visit * (3 + number % 5))
            values[name] = f"{min(100, level)} {min(100, level + 1)} {min(100, level)}"
        sweep(book, f"w{visit}", visit * 3, values)
        book.write(AirReading(f"o{visit}", "garden", "outside", f"w{visit}", "h1", "8.0", "82", at(visit * 3, 9, 45)))
    return book.case()


ISSUED, SOFTWARE = at(22, 15, 5), "desorb 0.1.0"


@cache
def small_document() -> dict[str, Any]:
    from desorb.report.document import build_document

    case = small_case()
    awaited = frozenset({sha(b"still on the phone")})
    return build_document(
        case, assess(case, history=True), number=1, issued_at=ISSUED, software=SOFTWARE, photos_awaited=awaited
    )


def rendered(case: Case, **changes: Any) -> Rendered:
    from desorb.report.render import render

    wanted: dict[str, Any] = {"number": 1, "issued_at": ISSUED, "software": SOFTWARE, "photos": {}} | changes
    return render(case, assess(case, history=True), **wanted)


@cache
def small_render() -> Rendered:
    return rendered(small_case(), photos=small_photos())


def text_of(pdf: bytes) -> list[str]:
    """The text of each page, as a machine reads it, without spaces: where a line ends is no matter of content."""
    from pypdf import PdfReader

    return ["".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]
