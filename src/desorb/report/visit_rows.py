"""What a visit left behind beside its readings: spots that gave none, and the counters of drying units.

Contents: not_read; unit_readings; standing_rows (what counts, then struck, repeated and changed ones, each in its
place with its state).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, TypeVar

from desorb.core.case import Entered
from desorb.core.kinds import NotRead, UnitReading
from desorb.report.lookup import Lookup
from desorb.report.readings import CHANGED, COUNTS, REPEATED, STRUCK, strike_words

R = TypeVar("R")


def standing_rows(
    look: Lookup, kind: type[R], counting: Iterable[Entered[R]], row_of: Callable[[Entered[R]], dict[str, Any]]
) -> list[dict[str, Any]]:
    """Rows of one kind by visit and in the order of the record, whatever became of them."""
    case = look.case
    restored = {each.struck.entry: each for each in case.restored}
    found: list[tuple[Entered[R], str, list[str]]] = []
    for entered in counting:
        again = restored.get(entered.entry)
        words = [f"was struck and stands again: {'; '.join(strike_words(again))}"] if again else []
        found.append((entered, COUNTS, words))
    found += [(each.struck, STRUCK, strike_words(each)) for each in case.struck if isinstance(each.struck.record, kind)]
    for entries, state in ((case.repeated_rows, REPEATED), (case.changed_rows, CHANGED)):
        found += [(entered, state, []) for entered in entries if isinstance(entered.record, kind)]
    last = len(look.order)
    found.sort(key=lambda each: (look.order.get(getattr(each[0].record, "visit", ""), last), each[0].order))
    return [row_of(entered) | {"state": state, "remarks": words} for entered, state, words in found]


def not_read(look: Lookup) -> list[dict[str, Any]]:
    """Spots that were visited and gave no reading: missing with a reason, never a value."""

    def row(entered: Entered[NotRead]) -> dict[str, Any]:
        record = entered.record
        return {
            "entry": entered.entry, "visit": record.visit, "spot": record.spot, "place": look.place_of_spot(record.spot),
            "why": record.why, "at": record.at, "instrument": record.instrument, "scale": record.scale, "by": record.by,
        }  # fmt: skip

    return standing_rows(look, NotRead, look.case.not_read, row)


def unit_readings(look: Lookup) -> list[dict[str, Any]]:
    """Counters of drying units as they were read: hours, litres, kilowatt hours."""
    zones = {entered.record.unit: entered.record.zone for entered in look.case.unit_changes}

    def row(entered: Entered[UnitReading]) -> dict[str, Any]:
        record = entered.record
        return {
            "entry": entered.entry, "visit": record.visit, "unit": record.unit,
            "place": look.zone_words(zones.get(record.unit, "")), "hours": record.hours, "collected": record.collected,
            "energy": record.energy, "taken_at": record.taken_at, "by": record.by, "note": record.note,
            "source": record.source,
        }  # fmt: skip

    return standing_rows(look, UnitReading, look.case.unit_readings, row)
