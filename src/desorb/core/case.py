"""A case as it stands: what the fold makes of the entries, and what assessments are computed from.

Contents: Entered (one record with its place in the record), Struck, Removed, Gap, Case.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Generic, TypeVar

from desorb.core.kinds import (
    AirReading,
    CarbideReading,
    CaseOpened,
    CauseObservation,
    CauseTest,
    Circuit,
    Construction,
    CupReading,
    CustodyEntry,
    DryingOption,
    Enclosure,
    Event,
    FileTaken,
    FindingAnswer,
    FloorPlace,
    FloorReading,
    FloorTest,
    GateAnswer,
    Hazard,
    Instrument,
    InstrumentCheck,
    LeakTest,
    LimitStated,
    LimitTaken,
    LoadTerm,
    LoggerTaken,
    NotDone,
    Note,
    NotInspected,
    NotRead,
    Occupancy,
    OptionCost,
    OptionTaken,
    Photo,
    PhotoMark,
    PlanPicture,
    Readiness,
    Reading,
    Removal,
    ReportIssued,
    Room,
    RuleRow,
    SaltContent,
    SaltTest,
    Sample,
    SampleWeighing,
    ScaleShown,
    Scan,
    Setting,
    Spot,
    Strike,
    Target,
    Tariff,
    TimeLimit,
    Unit,
    UnitChange,
    UnitReading,
    Visit,
    WaterOrigin,
    Zone,
)

R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class Entered(Generic[R]):
    """One record and where it stands: `entry` is "device/n", `order` its place in the fold."""

    record: R
    entry: str
    hash: str
    device: str
    n: int
    clock: int
    order: int
    claimed_at: str


@dataclass(frozen=True, slots=True)
class Struck:
    """An entry that was struck: it counts nowhere and stays visible everywhere."""

    struck: Entered[Any]
    kind: str
    strike: Entered[Strike]
    also: tuple[Entered[Strike], ...] = ()  # later strikes of the same entry
    stands_again: tuple[Entered[Strike], ...] = ()  # strikes of the strikes


@dataclass(frozen=True, slots=True)
class Removed:
    """An entry whose payload was lawfully removed: only its place and digest are left."""

    entry: str
    hash: str
    kind: str
    removal: Entered[Removal]


@dataclass(frozen=True, slots=True)
class Gap:
    """Entries of one device that have not arrived."""

    device: str
    first: int
    last: int
    reason: str = "not arrived"

    def __str__(self) -> str:
        span = f"{self.first}" if self.first == self.last else f"{self.first}-{self.last}"
        verb = "has" if self.first == self.last else "have"
        return f"device {self.device}: {span} {verb} {self.reason}"


@dataclass(frozen=True, slots=True)
class Case:
    """The folded case. Every list is in fold order and holds only what counts."""

    id: str
    opened: Entered[CaseOpened] | None = None
    settings: tuple[Entered[Setting], ...] = ()
    rule_rows: tuple[Entered[RuleRow], ...] = ()
    instruments: tuple[Entered[Instrument], ...] = ()
    checks: tuple[Entered[InstrumentCheck], ...] = ()
    readiness: tuple[Entered[Readiness], ...] = ()
    scales_shown: tuple[Entered[ScaleShown], ...] = ()
    constructions: tuple[Entered[Construction], ...] = ()
    zones: tuple[Entered[Zone], ...] = ()
    spots: tuple[Entered[Spot], ...] = ()
    visits: tuple[Entered[Visit], ...] = ()
    readings: tuple[Entered[Reading], ...] = ()
    air_readings: tuple[Entered[AirReading], ...] = ()
    scans: tuple[Entered[Scan], ...] = ()
    salt_tests: tuple[Entered[SaltTest], ...] = ()
    unit_changes: tuple[Entered[UnitChange], ...] = ()
    unit_readings: tuple[Entered[UnitReading], ...] = ()
    not_read: tuple[Entered[NotRead], ...] = ()
    rooms: tuple[Entered[Room], ...] = ()
    plan_pictures: tuple[Entered[PlanPicture], ...] = ()
    gate_answers: tuple[Entered[GateAnswer], ...] = ()
    hazards: tuple[Entered[Hazard], ...] = ()
    water_origins: tuple[Entered[WaterOrigin], ...] = ()
    finding_answers: tuple[Entered[FindingAnswer], ...] = ()
    events: tuple[Entered[Event], ...] = ()
    notes: tuple[Entered[Note], ...] = ()
    photos: tuple[Entered[Photo], ...] = ()
    photo_marks: tuple[Entered[PhotoMark], ...] = ()
    not_inspected: tuple[Entered[NotInspected], ...] = ()
    files: tuple[Entered[FileTaken], ...] = ()
    limits_stated: tuple[Entered[LimitStated], ...] = ()
    floor_tests: tuple[Entered[FloorTest], ...] = ()
    limits_taken: tuple[Entered[LimitTaken], ...] = ()
    floor_places: tuple[Entered[FloorPlace], ...] = ()
    floor_readings: tuple[Entered[FloorReading], ...] = ()
    samples: tuple[Entered[Sample], ...] = ()
    custody: tuple[Entered[CustodyEntry], ...] = ()
    weighings: tuple[Entered[SampleWeighing], ...] = ()
    carbide_readings: tuple[Entered[CarbideReading], ...] = ()
    cup_readings: tuple[Entered[CupReading], ...] = ()
    salt_contents: tuple[Entered[SaltContent], ...] = ()
    leak_tests: tuple[Entered[LeakTest], ...] = ()
    cause_observations: tuple[Entered[CauseObservation], ...] = ()
    cause_tests: tuple[Entered[CauseTest], ...] = ()
    units: tuple[Entered[Unit], ...] = ()
    enclosures: tuple[Entered[Enclosure], ...] = ()
    load_terms: tuple[Entered[LoadTerm], ...] = ()
    circuits: tuple[Entered[Circuit], ...] = ()
    tariffs: tuple[Entered[Tariff], ...] = ()
    targets: tuple[Entered[Target], ...] = ()
    drying_options: tuple[Entered[DryingOption], ...] = ()
    option_costs: tuple[Entered[OptionCost], ...] = ()
    options_taken: tuple[Entered[OptionTaken], ...] = ()
    time_limits: tuple[Entered[TimeLimit], ...] = ()
    not_done: tuple[Entered[NotDone], ...] = ()
    occupancies: tuple[Entered[Occupancy], ...] = ()
    logger_files: tuple[Entered[LoggerTaken], ...] = ()
    reports: tuple[Entered[ReportIssued], ...] = ()
    struck: tuple[Struck, ...] = ()
    waiting_strikes: tuple[Entered[Strike], ...] = ()  # strikes of entries that have not arrived
    restored: tuple[Struck, ...] = ()  # struck once, and the strike was struck
    removed: tuple[Removed, ...] = ()
    waiting_removals: tuple[Entered[Removal], ...] = ()
    repeated_rows: tuple[Entered[Any], ...] = ()  # equal rows that arrived again and count once
    changed_rows: tuple[Entered[Any], ...] = ()  # rows with a known identity and other content: to be confirmed
    not_understood: tuple[str, ...] = ()
    gaps: tuple[Gap, ...] = ()
    set_aside: tuple[str, ...] = ()  # what came and could not be accepted, with its reason
    doubtful_times: tuple[tuple[str, str], ...] = ()  # (entry, why its claimed time cannot be right)
    heads: Mapping[str, tuple[int, str]] = field(default_factory=dict)  # device -> (n, hash) of its last entry
    evidence_heads: Mapping[str, tuple[int, str]] = field(default_factory=dict)  # the same without report entries
    entry_count: int = 0

    def setting(self, key: str, default: str = "") -> str:
        """The value of a setting as last entered in this case."""
        for entered in reversed(self.settings):
            if entered.record.key == key:
                return entered.record.value
        return default

    def setting_source(self, key: str) -> str:
        for entered in reversed(self.settings):
            if entered.record.key == key:
                return entered.record.source
        return ""

    def rule_row(self, scale_class: str) -> RuleRow | None:
        for entered in reversed(self.rule_rows):
            if entered.record.scale_class == scale_class:
                return entered.record
        return None

    def instrument_at(self, instrument: str, order: int) -> Instrument | None:
        """The instrument as it was described when the entry at `order` was written; else its first description."""
        known = [entered for entered in self.instruments if entered.record.id == instrument]
        before = [entered for entered in known if entered.order <= order]
        if before:
            return before[-1].record
        return known[0].record if known else None

    def visit_order(self) -> dict[str, int]:
        """Visits in order of their begin, as they were entered."""
        ordered = sorted(self.visits, key=lambda entered: (_moment(entered.record.begun_at), entered.order))
        order: dict[str, int] = {}
        for entered in ordered:
            order.setdefault(entered.record.id, len(order))
        return order


def _moment(text: str) -> datetime:
    """A time with offset; what is none stands first, so that a damaged entry cannot stop the fold."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return datetime.min.replace(tzinfo=UTC)
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)


def latest_by_id(entries: tuple[Entered[Any], ...]) -> dict[str, Entered[Any]]:
    """The last entry of each `id`, in order of first appearance."""
    latest: dict[str, Entered[Any]] = {}
    for entered in entries:
        latest[entered.record.id] = entered
    return latest
