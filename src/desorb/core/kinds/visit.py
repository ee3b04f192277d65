"""The visit: readings, spots that gave none, air, quick scans, salt tests, drying units and their counters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

COVERINGS = (
    "bare", "paint", "paper", "vinyl", "bituminous adhesive", "ceramic", "carpet", "timber finish", "tanking",
    "levelling compound", "cork tile", "thermoplastic tile", "varnish", "impermeable paint",
)  # fmt: skip

BARE = ("bare", "none")


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
    cap_off: str = ""  # yes, no or '': a capped probe reads its own cap
    height: str = ""  # m above floor
    first_temperature: str = ""  # the earlier of two readings: what it drifted by is part of the value
    first_relative_humidity: str = ""


@dataclass(frozen=True, slots=True)
class NotRead:
    """A spot that was visited and gave no reading: shown as missing with its reason, never as a value."""

    KIND: ClassVar[str] = "not-read"
    spot: str
    visit: str
    why: str
    at: str
    instrument: str = ""
    scale: str = ""
    by: str = ""


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


CHANGES = ("delivered", "set", "moved", "changed", "switched off", "switched on", "taken away", "collected")
RUNS = ("set", "moved", "changed", "switched on")  # after these a unit runs
GONE = ("taken away", "collected")  # after these it is no longer here


@dataclass(frozen=True, slots=True)
class UnitChange:
    """A drying unit brought, set, moved, changed, switched or taken away: trends restart here."""

    KIND: ClassVar[str] = "unit-change"
    unit: str
    type: str  # air mover, refrigerant dehumidifier, desiccant dehumidifier, heater, extraction ...
    zone: str
    change: str  # of CHANGES
    at: str
    words: str = ""
    by: str = ""
    position: str = ""
    direction: str = ""  # what its air is blown at or drawn from
    enclosure: str = ""
    circuit: str = ""
    humidistat: str = ""  # % that it is set to, '' without one


@dataclass(frozen=True, slots=True)
class UnitReading:
    """Counters of one drying unit at a visit. The air at its inlet and outlet are air readings whose place is the unit."""

    KIND: ClassVar[str] = "unit-reading"
    key: str
    unit: str
    visit: str
    taken_at: str
    hours: str = ""  # h on the hour meter
    collected: str = ""  # litres collected since the last visit
    energy: str = ""  # kWh on the meter
    by: str = ""
    note: str = ""
    source: str = ""
