"""What the parts of the report look up again and again, made once for a case.

Contents: Lookup (zones, spots, evidence and findings by entry, visits in order); lookup_of; history_of.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from desorb.core.assess import Assessed
from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.evidence import Evidence
from desorb.core.kinds import AirReading, Construction, Reading, Scale, Spot, Visit, Zone
from desorb.core.outcome import Assessment, Finding


@dataclass(frozen=True, slots=True)
class Lookup:
    case: Case
    assessed: Assessed
    zones: dict[str, Entered[Zone]]
    constructions: dict[str, Entered[Construction]]
    spots: dict[str, Entered[Spot]]
    evidence: dict[str, Evidence]  # by entry
    findings: dict[str, list[Finding]]  # by entry
    visits: dict[str, Entered[Visit]]  # the first word on each visit, in order of their begin
    order: dict[str, int]

    @property
    def last_visit(self) -> str:
        return max(self.order, key=lambda visit: self.order[visit], default="")

    def zone_words(self, zone: str) -> str:
        """The words of a zone, or of several joined by commas; its id where it has none."""
        if zone not in self.zones and ", " in zone:
            parts = zone.split(", ")
            return ", ".join(self.zone_words(part) for part in parts) if set(parts) <= set(self.zones) else zone
        entered = self.zones.get(zone)
        return entered.record.words or zone if entered else zone

    def place(self, zone: str, element: str) -> str:
        return ", ".join(part for part in (self.zone_words(zone), element) if part)

    def place_of_spot(self, spot: str) -> str:
        entered = self.spots.get(spot)
        return self.place(entered.record.zone, entered.record.element) if entered else ""

    def scale_of(self, entered: Entered[Reading]) -> Scale | None:
        """The scale as the instrument was described when the reading was written; also for struck readings."""
        instrument = self.case.instrument_at(entered.record.instrument, entered.order)
        return instrument.scale(entered.record.scale) if instrument else None

    def evidence_of(self, entries: Iterable[str]) -> Evidence | None:
        return next((self.evidence[entry] for entry in entries if entry in self.evidence), None)

    def in_order(self, entered: Entered[Reading] | Entered[AirReading]) -> tuple[int, str, int]:
        """Visits in order, then the time the reading was taken, then the order of the record."""
        return (self.order.get(entered.record.visit, len(self.order)), entered.record.taken_at, entered.order)


def lookup_of(case: Case, assessed: Assessed) -> Lookup:
    findings: dict[str, list[Finding]] = {}
    for finding in assessed.findings:
        for entry in finding.entries:
            findings.setdefault(entry, []).append(finding)
    order = case.visit_order()
    visits: dict[str, Entered[Visit]] = {}
    for visit in sorted(case.visits, key=lambda entered: (order[entered.record.id], entered.order)):
        visits.setdefault(visit.record.id, visit)
    return Lookup(
        case, assessed, latest_by_id(case.zones), latest_by_id(case.constructions), latest_by_id(case.spots),
        {each.entered.entry: each for each in assessed.evidence}, findings, visits, order,
    )  # fmt: skip


def history_of(assessed: Assessed) -> tuple[Assessment, ...]:
    """Every assessed reading, oldest first; the current ones where the case was assessed without its history."""
    return assessed.history or assessed.spots
