"""What is written down of the drying: units and their ratings, enclosures, circuits, targets, options, dates, logger files.

Figures stand as the text that was read; times are ISO 8601 with offset. '' means "not stated". A thing described again
under its id stands as it was described last; the earlier description stays in the record.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

UNIT_TYPES = (
    "refrigerant dehumidifier", "desiccant dehumidifier", "air mover", "heater", "heat mat", "extraction", "air cleaner",
)  # fmt: skip
LOAD_TERMS = ("fabric", "air change", "people", "use", "open water", "opening")
TARGET_BASES = ("control", "timber in this air", "standard", "agreement")
OPTIONS = ("keep", "dry", "strip", "clean")
CONTAMINATIONS = ("clean", "grey", "foul", "mould", "unknown")
LENGTHS = ("hours", "calendar days", "working days", "months")


@dataclass(frozen=True, slots=True)
class Unit:
    """One drying unit of the register. A rating holds at its own condition only, so it stands with it."""

    KIND: ClassVar[str] = "unit"
    id: str
    type: str  # of UNIT_TYPES
    at: str
    serial: str = ""
    name: str = ""
    owner: str = ""
    litres_per_day: str = ""  # rated
    rated_temperature: str = ""  # degC of that rating
    rated_humidity: str = ""  # % of that rating
    rating_source: str = ""
    domestic: str = ""  # yes, no or '': the generic curves are for domestic refrigerant units
    flow: str = ""  # m3/h of process air
    flow_at: str = ""  # where it was measured or stated: inlet or outlet
    watts: str = ""
    noise: str = ""  # dB(A), with its distance in words
    by: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Enclosure:
    """A room or part of one that is dried as one body of air."""

    KIND: ClassVar[str] = "enclosure"
    id: str
    zones: tuple[str, ...]
    volume: str  # m3
    at: str
    air_changes: str = ""  # 1/h
    air_changes_source: str = ""  # measured how, or guessed by whom
    inside: str = ""  # place of its air readings
    outside: str = ""
    ended_at: str = ""
    by: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class LoadTerm:
    """One named part of the water that the air of an enclosure takes up. What leaves is negative."""

    KIND: ClassVar[str] = "load-term"
    enclosure: str
    term: str  # of LOAD_TERMS
    litres_per_day: str
    low: str
    high: str
    source: str
    at: str
    by: str = ""
    area: str = ""  # m2 of the wet surface, of open water
    surface_temperature: str = ""  # degC of it; '' that of the air reading inside
    air_speed: str = ""  # m/s along it


@dataclass(frozen=True, slots=True)
class Circuit:
    """One electric circuit that units are plugged into, as its label says it."""

    KIND: ClassVar[str] = "circuit"
    id: str
    place: str
    voltage: str  # V
    at: str
    rating: str = ""  # A
    rating_source: str = ""
    by: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Tariff:
    """What the owner pays for a kilowatt hour."""

    KIND: ClassVar[str] = "tariff"
    price: str
    currency: str
    source: str
    at: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class Target:
    """What an element shall be dried to, and where that figure comes from."""

    KIND: ClassVar[str] = "target"
    zone: str
    element: str
    basis: str  # of TARGET_BASES
    source: str
    at: str
    value: str = ""  # '' with a control: its limit is computed
    unit: str = ""
    by: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class DryingOption:
    """What could be done with one element, with what speaks for or against it."""

    KIND: ClassVar[str] = "drying-option"
    zone: str
    element: str
    option: str  # of OPTIONS
    evidence: str
    evidence_source: str
    contamination: str  # of CONTAMINATIONS
    contamination_source: str
    at: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class OptionCost:
    """One line of the cost of an option; with `days` it is a cost a day for so many days."""

    KIND: ClassVar[str] = "option-cost"
    zone: str
    element: str
    option: str
    name: str
    amount: str
    currency: str
    source: str
    at: str
    days: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class OptionTaken:
    """Which option was decided on, by a person."""

    KIND: ClassVar[str] = "option-taken"
    zone: str
    element: str
    option: str
    reason: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class TimeLimit:
    """Something that is due so long after an event, by statute or contract. Entered again with `met_at` when it is done."""

    KIND: ClassVar[str] = "time-limit"
    id: str
    words: str  # what is due
    began_on: str  # date of the event that starts it
    began: str  # that event
    length: str
    counted_in: str  # of LENGTHS
    source: str  # statute or clause
    at: str
    calendar: str = ""  # of the bank holidays: needed for working days
    began_at: str = ""  # time of the event: needed for hours
    met_at: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class NotDone:
    """Something that a visit should have done and did not, with its reason."""

    KIND: ClassVar[str] = "not-done"
    visit: str
    words: str
    reason: str
    at: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class Occupancy:
    """What the people in the house are told beside the units that run: whom to call, who lives there, who was given it."""

    KIND: ClassVar[str] = "occupancy"
    zone: str
    call: str  # whom to call, and how
    at: str
    children: str = ""  # yes, no or ''
    night: str = ""  # what was agreed for the night
    given_to: str = ""
    by: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class LoggerFigure:
    """One figure of a logger file as it was read."""

    name: str
    value: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class LoggerTaken:
    """A logger file that was read: where it hung, how its columns were understood, and what it says. The file is kept."""

    KIND: ClassVar[str] = "logger-taken"
    id: str
    zone: str
    place: str
    sha256: str
    name: str  # of the file
    columns: tuple[str, ...]  # as they were understood
    clock: str  # how its times were understood
    rows: str
    first_at: str
    last_at: str
    at: str
    figures: tuple[LoggerFigure, ...] = ()
    findings: tuple[str, ...] = ()
    by: str = ""
