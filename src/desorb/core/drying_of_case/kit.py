"""Which drying units ran where and when, as the unit changes say it.

Contents: beside (zones that share their air with one zone); running_at (units that ran beside a zone at a moment);
kit_spans (when each of them ran, in hours); changes_of; takes_water; moment (a time of the record).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.drying_end import KitSpan
from desorb.core.kinds import RUNS, UnitChange


def moment(text: str) -> datetime | None:
    """A time with its offset, None for what is none."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    return found if found.tzinfo is not None else None


def beside(zone: str, case: Case) -> frozenset[str]:
    """The zone itself and those that are dried with it as one body of air. Enclosures count as they were described last."""
    together = [set(each.record.zones) for each in latest_by_id(case.enclosures).values()]
    return frozenset({zone}.union(*(zones for zones in together if zone in zones)))


def changes_of(case: Case) -> dict[str, list[Entered[UnitChange]]]:
    """The changes of each unit in order of time; of one moment, as they were entered. Changes without a time are left out."""
    timed = [(at, each.order, each) for each in case.unit_changes if (at := moment(each.record.at)) is not None]
    found: dict[str, list[Entered[UnitChange]]] = {}
    for _, _, each in sorted(timed, key=lambda part: part[:2]):
        found.setdefault(each.record.unit, []).append(each)
    return found


def takes_water(unit: str, case: Case) -> bool:
    """Whether litres can be collected from it: a dehumidifier, by the register or by its latest change."""
    entered, changes = latest_by_id(case.units).get(unit), changes_of(case).get(unit)
    return "dehumidifier" in (entered.record.type if entered else changes[-1].record.type if changes else "")


def running_at(zones: Iterable[str], when: datetime, case: Case) -> tuple[Entered[UnitChange], ...]:
    """The last change of every unit that ran in one of these zones at that moment, by name of the unit."""
    places, found = set(zones), []
    for unit in sorted(changes := changes_of(case)):
        before = [each for each in changes[unit] if (at := moment(each.record.at)) is not None and at <= when]
        if before and before[-1].record.change in RUNS and before[-1].record.zone in places:
            found.append(before[-1])
    return tuple(found)


def kit_spans(zones: Iterable[str], since: datetime, case: Case) -> list[KitSpan]:
    """Every span in which a unit ran in one of these zones, in hours from `since`."""
    places, spans = set(zones), []
    for unit, changes in changes_of(case).items():
        on: datetime | None = None
        for each in changes:
            at = moment(each.record.at)
            if at is None:
                continue
            runs = each.record.change in RUNS and each.record.zone in places
            if runs and on is None:
                on = at
            elif not runs and on is not None:
                spans.append(KitSpan(unit, _hours(on, since), _hours(at, since)))
                on = None
        if on is not None:
            spans.append(KitSpan(unit, _hours(on, since), None))
    return spans


def _hours(when: datetime, since: datetime) -> float:
    return (when - since).total_seconds() / 3600
