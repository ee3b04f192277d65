"""The things a surveyor writes down, each as a frozen record. Every record is the payload of one entry.

Contents: instruments (Scale, CheckBlock, CorrectionTable, Instrument, InstrumentCheck, Readiness, ScaleShown);
the building (CaseOpened, Setting, RuleRow, Layer, Construction, Zone, Spot); the visit (Visit, Reading, AirReading,
Scan, SaltTest, UnitChange); what could hurt and what was answered (GateAnswer, Hazard, FindingAnswer); the account
(Event, Note, Photo, NotInspected, FileTaken); the record about itself (Strike, Removal, ReportIssued).

Measured values are kept as the text that was typed, so every field is text, a whole number, yes/no, a list or
another record: nothing here is a float, because what is hashed may not be one (see notebook/entry.py).
Units: degC, % RH, mm for depth and thickness, m for positions, Pa for pressure; '' means "not stated".
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import ClassVar

ABSOLUTE_PRINCIPLES = ("gravimetric", "calcium carbide", "Karl Fischer", "azeotropic distillation")  # [EN16682]
RELATIVE_PRINCIPLES = ("electrical resistance", "capacitance", "electrical impedance", "relative humidity")  # [EN16682]
OTHER_PRINCIPLES = ("contact thermometer", "infrared thermometer", "other")
PRINCIPLES = ABSOLUTE_PRINCIPLES + RELATIVE_PRINCIPLES + OTHER_PRINCIPLES
CLAIMS = ("measured", "equivalent", "wood equivalent", "comparative")
COVERINGS = (
    "bare", "paint", "paper", "vinyl", "bituminous adhesive", "ceramic", "carpet", "timber finish", "tanking",
    "levelling compound", "cork tile", "thermoplastic tile", "varnish", "impermeable paint",
)  # fmt: skip
BARE = ("bare", "none")
ROLES = ("control", "survey")


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale is described, never picked from a list. Two readings share a scale only if every part agrees."""

    key: str  # the user's own short word
    principle: str  # one of PRINCIPLES
    claims: str  # one of CLAIMS: what its number claims to be
    method: str = ""  # the method it equals or is: "oven drying", "relative humidity in a hole"
    material: str = ""  # the material it was fitted to; '' for any
    basis: str = ""  # "dry" or "wet" for a mass percentage
    unit: str = ""  # '' for a scale without unit
    bottom: str = ""
    top: str = ""
    resolution: str = ""
    depth: str = ""  # nominal depth in mm
    repeatability: str = ""  # 95 % repeatability limit r, in scale digits
    face: str = ""  # what the instrument itself shows when it is set to this scale; '' means the key

    @property
    def standing(self) -> str:
        """'absolute' or 'relative', as EN 16682 groups the methods; 'other' for a temperature."""
        if self.principle in ABSOLUTE_PRINCIPLES:
            return "absolute"
        return "relative" if self.principle in RELATIVE_PRINCIPLES else "other"

    def identity(self) -> dict[str, str]:
        """What must agree for two readings to share this scale. Numbers compare as numbers: 0.0 equals 0."""
        return _identity_of(self)


@cache
def _identity_of(scale: Scale) -> dict[str, str]:
    numbers = {name: _plain(getattr(scale, name)) for name in ("bottom", "top", "resolution", "depth")}
    words = {name: getattr(scale, name) for name in ("principle", "claims", "method", "material", "basis", "unit")}
    return words | numbers


def _plain(text: str) -> str:
    return f"{Decimal(text.replace(',', '.')).normalize():f}" if text else ""


@dataclass(frozen=True, slots=True)
class CheckBlock:
    """The reference an instrument is checked on."""

    scale: str
    nominal: str
    tolerance: str
    interval_days: int


@dataclass(frozen=True, slots=True)
class CorrectionTable:
    """The instrument's own table: points to add at each temperature, and for each species."""

    scale: str
    source: str
    temperatures: tuple[str, ...]
    additions: tuple[str, ...]
    species: tuple[str, ...] = ()
    species_additions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Instrument:
    KIND: ClassVar[str] = "instrument"
    id: str
    words: str
    serial: str = ""
    scales: tuple[Scale, ...] = ()
    calibration_due: str = ""  # ISO date
    calibration_reference: str = ""
    block: tuple[CheckBlock, ...] = ()
    corrections: tuple[CorrectionTable, ...] = ()

    def scale(self, key: str) -> Scale | None:
        return next((scale for scale in self.scales if scale.key == key), None)


@dataclass(frozen=True, slots=True)
class InstrumentCheck:
    """A reading on the check block. Whether it passed is computed, never typed."""

    KIND: ClassVar[str] = "instrument-check"
    instrument: str
    scale: str
    value: str
    nominal: str
    tolerance: str
    at: str
    by: str = ""

    @property
    def passed(self) -> bool:
        return abs(Decimal(self.value.replace(",", ".")) - Decimal(self.nominal)) <= Decimal(self.tolerance)


@dataclass(frozen=True, slots=True)
class Readiness:
    """Fit to use before the first reading of a visit. Each part: 'yes', 'no' or '' (not looked at)."""

    KIND: ClassVar[str] = "readiness"
    instrument: str
    visit: str
    battery: str = ""
    contacts_free: str = ""  # a sticking contact reads low
    free_air: str = ""  # the reading in free air is at the bottom of the scale
    block: str = ""
    probe_settled: str = ""
    at: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class ScaleShown:
    """What the instrument itself showed as its scale: at the start of a sweep, after a pause, after a change."""

    KIND: ClassVar[str] = "scale-shown"
    visit: str
    instrument: str
    scale: str
    shown: str
    at: str
    when: str = "start"


@dataclass(frozen=True, slots=True)
class CaseOpened:
    KIND: ClassVar[str] = "case-opened"
    name: str
    site: str
    time_zone: str
    opened_by: str = ""
    client: str = ""
    scope: str = ""
    invented: bool = False  # a demonstration case says so on every page


@dataclass(frozen=True, slots=True)
class Setting:
    """A value that decides something, with who set it and why. It belongs to the case."""

    KIND: ClassVar[str] = "setting"
    key: str
    value: str
    unit: str
    source: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class RuleRow:
    """How a class of scales behaves: all four figures are settings with a source, in scale digits or as a ratio."""

    KIND: ClassVar[str] = "rule-row"
    scale_class: str
    on_logarithms: bool
    class_spread: str  # standard deviation between sound places: a ratio (0.10 = 10 %) on logarithms, else points
    margin: str  # how much higher still counts as no higher: a ratio (0.25 = 25 %) on logarithms, else points
    repeatability: str  # 95 % limit r in scale digits, used where the scale states none
    source: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class Layer:
    words: str
    thickness_mm: str
    evidence: str  # seen, told or assumed


@dataclass(frozen=True, slots=True)
class Construction:
    """One build-up: what a control must share with the spot."""

    KIND: ClassVar[str] = "construction"
    id: str
    words: str
    material: str  # the material that is read
    built: str = ""  # year, or '' when unknown
    layers: tuple[Layer, ...] = ()
    risks: tuple[str, ...] = ()  # heated, tensioned, tanked, gas barrier, listed


@dataclass(frozen=True, slots=True)
class Zone:
    """A part with one construction, age, finish and exposure."""

    KIND: ClassVar[str] = "zone"
    id: str
    words: str
    construction: str
    exposure: str = ""
    affected: str = ""  # yes, no or ''
    outline: tuple[str, ...] = ()  # corners "x y" in m


@dataclass(frozen=True, slots=True)
class Spot:
    KIND: ClassVar[str] = "spot"
    id: str
    zone: str
    element: str  # floor, north wall, ceiling, rafters ...
    role: str = "survey"
    words: str = ""
    x: str = ""  # m on the plan
    y: str = ""
    height: str = ""  # m above floor
    why_unaffected: str = ""


@dataclass(frozen=True, slots=True)
class Visit:
    KIND: ClassVar[str] = "visit"
    id: str
    begun_at: str
    by: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """One spot, read once or several times in a row. Its scale, covering, surface and depth are part of the value."""

    KIND: ClassVar[str] = "reading"
    key: str  # identity of the row it came from, so that the same row counts once
    spot: str
    visit: str
    instrument: str
    scale: str
    values: tuple[str, ...]
    covering: str
    taken_at: str
    preparation: str = "as found"
    finish: str = ""
    depth_from: str = ""
    depth_to: str = ""
    temperature: str = ""  # of the material
    species: str = ""
    by: str = ""
    note: str = ""
    source: str = ""  # file and row


@dataclass(frozen=True, slots=True)
class AirReading:
    """Air at one place. `kind`: outside, affected, unaffected, void, inlet, outlet."""

    KIND: ClassVar[str] = "air-reading"
    key: str
    place: str
    kind: str
    visit: str
    instrument: str
    temperature: str
    relative_humidity: str
    taken_at: str
    pressure: str = ""
    surface_temperature: str = ""
    surface_method: str = ""  # contact, or infrared with emissivity
    shown_dew_point: str = ""
    shown_humidity_ratio: str = ""
    settled_minutes: str = ""
    by: str = ""
    note: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Scan:
    """A quick pass to find an edge. It never supports a pass."""

    KIND: ClassVar[str] = "scan"
    visit: str
    zone: str
    element: str
    area_m2: str
    spacing_m: str
    edge: str
    at: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class SaltTest:
    KIND: ClassVar[str] = "salt-test"
    zone: str
    element: str
    result: str  # positive or negative
    method: str
    at: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class UnitChange:
    """A drying unit set, moved, changed or taken away: trends restart here."""

    KIND: ClassVar[str] = "unit-change"
    unit: str
    type: str  # air mover, refrigerant dehumidifier, desiccant dehumidifier, heater, extraction ...
    zone: str
    change: str  # set, moved, taken away
    at: str
    words: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class GateAnswer:
    """What was put forward as an answer to a gate. desorb keeps it; it does not judge it."""

    KIND: ClassVar[str] = "gate-answer"
    gate: str
    zones: tuple[str, ...]
    materials: tuple[str, ...]
    reference: str
    by: str
    for_what: str
    result: str
    at: str
    competence: str = ""
    wish_to_override: bool = False


@dataclass(frozen=True, slots=True)
class Hazard:
    """Something seen that stops work until a competent person has dealt with it."""

    KIND: ClassVar[str] = "hazard"
    gate: str
    zone: str
    words: str
    at: str
    by: str = ""
    told_to: str = ""
    depth_mm: str = ""  # of standing or bulging water
    area_m2: str = ""


@dataclass(frozen=True, slots=True)
class WaterOrigin:
    """Where the water came from: clean, grey, foul or unknown; it can only be made worse by time."""

    KIND: ClassVar[str] = "water-origin"
    zone: str
    origin: str
    words: str
    at: str
    by: str = ""
    visible_mould: str = ""  # yes, no or ''


@dataclass(frozen=True, slots=True)
class FindingAnswer:
    """What was done about an open finding."""

    KIND: ClassVar[str] = "finding-answer"
    code: str
    visit: str
    instrument: str
    scale: str
    words: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class Event:
    """A line of the timeline. `source`: seen, told or document."""

    KIND: ClassVar[str] = "event"
    at: str
    words: str
    source: str
    confidence: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    KIND: ClassVar[str] = "note"
    words: str
    at: str
    by: str = ""
    key: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Photo:
    """The original bytes are kept under their SHA-256; marks are a layer of their own."""

    KIND: ClassVar[str] = "photo"
    sha256: str
    media_type: str
    size: int
    words: str
    taken_at: str
    spot: str = ""
    zone: str = ""
    direction: str = ""
    visit: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class NotInspected:
    """A place that was not reached, or (place == '') the explicit words that everything in scope was."""

    KIND: ClassVar[str] = "not-inspected"
    place: str
    why: str
    effect: str
    elements: tuple[str, ...] = ()  # "zone/element" whose assessment depends on it
    at: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class FileTaken:
    KIND: ClassVar[str] = "file-taken"
    name: str
    sha256: str
    rows: int
    kept: int
    problems: tuple[str, ...] = ()
    at: str = ""


@dataclass(frozen=True, slots=True)
class Strike:
    KIND: ClassVar[str] = "strike"
    target: str  # hash of the struck entry
    why: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class Removal:
    """A lawful removal. `rested` names what rested on the removed entry: it becomes cannot say (removed)."""

    KIND: ClassVar[str] = "removal"
    target: str
    why: str
    authority: str
    by: str
    at: str
    rested: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReportIssued:
    KIND: ClassVar[str] = "report-issued"
    number: int
    at: str
    heads: tuple[str, ...]
    rules: tuple[str, ...]
    software: str
    pdf_sha256: str
    twin_sha256: str
    by: str = ""


RECORDS = (
    Instrument, InstrumentCheck, Readiness, ScaleShown, CaseOpened, Setting, RuleRow, Construction, Zone, Spot, Visit,
    Reading, AirReading, Scan, SaltTest, UnitChange, GateAnswer, Hazard, WaterOrigin, FindingAnswer, Event, Note, Photo,
    NotInspected, FileTaken, Strike, Removal, ReportIssued,
)  # fmt: skip
