"""Every reading in order of visits, whatever became of it, and every air reading with what follows from it.

Contents: readings (counting, struck, repeated, changed, removed and not evidence, each with its state); air (outside
first in each visit); visits.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from desorb.core.air import AirState
from desorb.core.case import Entered, Removed, Struck
from desorb.core.condensation import AirLine
from desorb.core.kinds import AirReading, Reading
from desorb.core.outcome import BLOCKS_BOTH, BLOCKS_PASS
from desorb.core.typed import read_value
from desorb.errors import NotUnderstood
from desorb.report.lookup import Lookup
from desorb.report.words import MINUS, figure, shown, unit_in_words

COUNTS, STRUCK, REMOVED = "counts", "struck", "removed"
VOID, HOLDS, NO_EVIDENCE = "kept, not compared", "kept, no pass rests on it", "not evidence"
REPEATED, CHANGED = "same row again, counts once", "row changed, to be confirmed"


def visits(look: Lookup) -> list[dict[str, Any]]:
    return [
        {
            "entry": entered.entry, "id": entered.record.id, "begun_at": entered.record.begun_at,
            "by": entered.record.by, "words": entered.record.words,
        }
        for entered in look.visits.values()
    ]  # fmt: skip


def readings(look: Lookup) -> list[dict[str, Any]]:
    """All readings. A struck, repeated or removed one stays in its place among the others."""
    case = look.case
    restored = {each.struck.entry: each for each in case.restored}
    rows: list[tuple[tuple[int, str, int], dict[str, Any]]] = []
    for entered in case.readings:
        row = _row(entered, look) | _standing(entered, look)
        if entered.entry in restored:
            row["remarks"].append(_restored(restored[entered.entry]))
        rows.append((look.in_order(entered), row))
    for struck in case.struck:
        if isinstance(struck.struck.record, Reading):
            row = _row(struck.struck, look) | {"state": STRUCK, "remarks": strike_words(struck)}
            rows.append((look.in_order(struck.struck), row))
    for entries, state in ((case.repeated_rows, REPEATED), (case.changed_rows, CHANGED)):
        for entered in entries:
            if isinstance(entered.record, Reading):
                rows.append((look.in_order(entered), _row(entered, look) | {"state": state, "remarks": []}))
    ordered = [row for _, row in sorted(rows, key=lambda pair: pair[0])]
    return ordered + [_removed_row(removed) for removed in case.removed if removed.kind == Reading.KIND]


def _row(entered: Entered[Reading], look: Lookup) -> dict[str, Any]:
    reading = entered.record
    scale, each = look.scale_of(entered), look.evidence.get(entered.entry)
    spot = look.spots.get(reading.spot)
    return {
        "entry": entered.entry, "visit": reading.visit, "spot": reading.spot,
        "place": look.place_of_spot(reading.spot), "role": spot.record.role if spot else "",
        "repeats": list(reading.values), "value_text": each.text() if each else "",
        "value": figure(float(each.value)) if each else _middle(reading.values), "bound": each.bound if each else "",
        "unit": unit_in_words(scale.unit) if scale else "", "scale": reading.scale, "covering": reading.covering,
        "preparation": reading.preparation, "finish": reading.finish, "depth_from": reading.depth_from,
        "depth_to": reading.depth_to, "temperature": reading.temperature, "species": reading.species,
        "correction": each.correction_words if each else "", "instrument": reading.instrument,
        "taken_at": reading.taken_at, "claimed_at": entered.claimed_at, "by": reading.by, "note": reading.note,
        "source": reading.source, "hash": entered.hash,
    }  # fmt: skip


def _middle(values: tuple[str, ...]) -> float | None:
    """The figure of a single typed value that is not evidence; a median is only made of evidence."""
    try:
        return figure(float(read_value(values[0]).number)) if len(values) == 1 else None
    except NotUnderstood:
        return None


def _standing(entered: Entered[Reading], look: Lookup) -> dict[str, Any]:
    found = look.findings.get(entered.entry, [])
    both = [finding.words for finding in found if finding.blocks == BLOCKS_BOTH]
    held = [finding.words for finding in found if finding.blocks == BLOCKS_PASS]
    if entered.entry not in look.evidence:
        return {"state": NO_EVIDENCE, "remarks": both}
    if both:
        return {"state": VOID, "remarks": both}
    return {"state": HOLDS if held else COUNTS, "remarks": held}


def strike_words(struck: Struck) -> list[str]:
    """Who struck it, when and why; later strikes and strikes of strikes stand beside it."""
    strike = struck.strike
    words = [f"by {strike.record.by} at {strike.record.at}: {strike.record.why} (entry {strike.entry})"]
    words += [
        f"struck again by {each.record.by} at {each.record.at}: {each.record.why} (entry {each.entry})"
        for each in struck.also
    ]
    return words + [
        f"a strike was taken back by {each.record.by} at {each.record.at}: {each.record.why} (entry {each.entry})"
        for each in struck.stands_again
    ]


def _restored(struck: Struck) -> str:
    return "was struck and stands again: " + "; ".join(strike_words(struck))


def _removed_row(removed: Removed) -> dict[str, Any]:
    removal = removed.removal.record
    return {
        "entry": removed.entry, "visit": "", "spot": ", ".join(removal.rested), "place": "", "role": "", "repeats": [],
        "value_text": "", "value": None, "bound": "", "unit": "", "scale": "", "covering": "", "preparation": "",
        "finish": "", "depth_from": "", "depth_to": "", "temperature": "", "species": "", "correction": "",
        "instrument": "", "taken_at": "", "claimed_at": "", "by": "", "note": "", "source": "", "hash": removed.hash,
        "state": REMOVED,
        "remarks": [
            f"a {removed.kind} was lawfully removed by {removal.by} at {removal.at} on {removal.authority}:"
            f" {removal.why} (entry {removed.removal.entry})"
        ],
    }  # fmt: skip


def air(look: Lookup) -> list[dict[str, Any]]:
    """Air readings: the outside first in each visit, struck ones in their place."""
    rows = [(_air_order(line.entered, look), _air_row(line, look)) for line in look.assessed.air]
    for struck in look.case.struck:
        entered = struck.struck
        if isinstance(entered.record, AirReading):
            row = _air_row(AirLine(entered, None, "", None, None, ()), look)
            row |= {"state": STRUCK, "remarks": strike_words(struck)}
            rows.append((_air_order(entered, look), row))
    for entered in look.case.repeated_rows + look.case.changed_rows:
        if isinstance(entered.record, AirReading):
            row = _air_row(AirLine(entered, None, "", None, None, ()), look)
            row["state"] = REPEATED if entered in look.case.repeated_rows else CHANGED
            rows.append((_air_order(entered, look), row))
    return [row for _, row in sorted(rows, key=lambda pair: pair[0])]


def _air_order(entered: Entered[AirReading], look: Lookup) -> tuple[int, bool, int]:
    return (look.order.get(entered.record.visit, len(look.order)), entered.record.kind != "outside", entered.order)


def _air_row(line: AirLine, look: Lookup) -> dict[str, Any]:
    reading, state = line.entered.record, line.state
    excess, surface = line.vapour_pressure_excess, line.surface_relative_humidity
    return {
        "entry": line.entered.entry, "visit": reading.visit, "place": reading.place, "kind": reading.kind,
        "temperature": reading.temperature, "relative_humidity": reading.relative_humidity,
        "surface_temperature": reading.surface_temperature, "surface_method": reading.surface_method,
        "shown_dew_point": reading.shown_dew_point, "shown_humidity_ratio": reading.shown_humidity_ratio,
        "settled_minutes": reading.settled_minutes, "instrument": reading.instrument, "taken_at": reading.taken_at,
        "by": reading.by, "note": reading.note, "source": reading.source, **_stood(reading), **_derived(state),
        "vapour_pressure_excess": figure(excess), "vapour_pressure_excess_text": _with_sign(excess),
        "surface_relative_humidity": figure(surface), "surface_relative_humidity_text": shown(surface, 0),
        "state": COUNTS, "remarks": [text for text in (line.refusal, *line.disagreements) if text],
    }  # fmt: skip


def _derived(state: AirState | None) -> dict[str, Any]:
    """What follows from temperature and relative humidity, rounded for the eye beside the figure itself."""
    places = {"dew_point": 1, "wet_bulb": 1, "humidity_ratio": 2, "vapour_pressure": 0, "absolute_humidity": 2,
              "pressure": 0}  # fmt: skip
    found: dict[str, Any] = {}
    for name, decimals in places.items():
        value = float(getattr(state, name)) if state is not None else None
        found[name] = figure(value)
        found[f"{name}_text"] = shown(value, decimals)
    return found


def _with_sign(value: float | None) -> str:
    text = shown(value, 0)
    return text if not text or text.startswith(MINUS) else f"+{text}"


def _stood(reading: AirReading) -> dict[str, Any]:
    """How the probe stood and what it showed first. The drift is the later reading less the first one."""
    return {
        "cap_off": reading.cap_off, "height": reading.height, "first_temperature": reading.first_temperature,
        "first_relative_humidity": reading.first_relative_humidity,
        "drift_temperature": _drift(reading.first_temperature, reading.temperature),
        "drift_relative_humidity": _drift(reading.first_relative_humidity, reading.relative_humidity),
    }  # fmt: skip


def _drift(first: str, later: str) -> str:
    """'+0.3' from two values as typed; '' where one is missing or is a bound."""
    try:
        one, other = read_value(first), read_value(later)
    except NotUnderstood:
        return ""
    if one.bound or other.bound:
        return ""
    difference: Decimal = other.number - one.number
    sign = "+" if difference > 0 else MINUS if difference < 0 else ""
    return f"{sign}{abs(difference)}"
