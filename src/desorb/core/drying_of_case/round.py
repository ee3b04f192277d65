"""The round of a visit: what is read again, in walking order, with what it read last beside it and never in its place.

Contents: walking_order (in which order the spots are walked); round_shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.drying_of_case.kit import changes_of
from desorb.core.kinds import GONE, Reading, Spot
from desorb.core.shown import Shown, Table

ROUND = "visit round"
MISSING = "missing"
SIDES = ("inlet", "outlet")
SPOTS = ("no.", "spot", "where", "role", "read with", "covering", "depth, mm", "last value", "of visit", "this visit")
AIR = ("place", "kind", "last air", "of visit", "this visit")
UNITS = ("unit", "where", "hours", "litres", "kWh", "of visit", "this visit")


def walking_order(spots: Sequence[Spot], readings: Iterable[Entered[Reading]], visits: Iterable[str]) -> list[Spot]:
    """The order of the visit that read most spots, of equal ones the last. A spot it left out follows the one it was
    described after. Without any reading: the order of description. `visits` stand in their order."""
    first_read: dict[str, dict[str, tuple[str, int]]] = {visit: {} for visit in visits}
    for entered in readings:
        reading = entered.record
        first_read.setdefault(reading.visit, {}).setdefault(reading.spot, (reading.taken_at, entered.order))
    known = {spot.id: spot for spot in spots}
    walked: list[str] = []
    for sweep in first_read.values():
        here = sorted((spot for spot in sweep if spot in known), key=lambda spot: sweep[spot])
        if here and len(here) >= len(walked):
            walked = here
    previous = ""
    for spot in spots:
        if spot.id not in walked:
            walked.insert(walked.index(previous) + 1 if previous else 0 if not walked else len(walked), spot.id)
        previous = spot.id
    return [known[spot] for spot in walked]


def round_shown(case: Case) -> tuple[Shown, ...]:
    """The round of the visit that was begun last. Empty before the first visit or without spots."""
    order = case.visit_order()
    visits = sorted(order, key=lambda visit: order[visit])
    described = [each.record for each in latest_by_id(case.spots).values()]
    if not visits or not described:
        return ()
    now = visits[-1]
    spots, spots_missing, entries = _spots(case, described, visits)
    air, air_missing = _air(case, visits)
    units, units_missing = _units(case, visits)
    missing = [*spots_missing, *air_missing, *units_missing]
    tables = [Table(columns, rows) for columns, rows in ((SPOTS, spots), (AIR, air), (UNITS, units)) if rows]
    not_done = [each for each in case.not_done if each.record.visit == now]
    notes = [f"Not done at this visit: {each.record.words}: {each.record.reason}." for each in not_done]
    notes.append("A value of an earlier visit stands beside its visit only: it is never copied into this one.")
    count = f"{len(missing)} missing: {', '.join(missing)}" if missing else "nothing is missing"
    return (
        Shown(
            kind=ROUND,
            id=now,
            title=f"Round of visit {now}, in walking order",
            zone="",
            status=f"{len(missing)} missing" if missing else "complete",
            words=f"{len(spots)} lines of spots, {len(air)} places of air, {len(units)} units: {count}.",
            tables=tuple(tables),
            notes=tuple(notes),
            next_steps=("read what is missing, or enter why it was not read",) if missing else (
                "compare with the visit before: what changed, and what was not done",
            ),
            rests_on=(*entries, *(each.entry for each in not_done)),
        ),
    )  # fmt: skip


def _spots(
    case: Case, described: list[Spot], visits: list[str]
) -> tuple[tuple[tuple[str, ...], ...], list[str], list[str]]:
    """A row for each way in which a spot was read at the last visit that read it, and at this one."""
    now, order = visits[-1], {visit: place for place, visit in enumerate(visits)}
    by_spot: dict[str, list[Entered[Reading]]] = {}
    for each in case.readings:
        by_spot.setdefault(each.record.spot, []).append(each)
    why = {each.record.spot: each.record.why for each in case.not_read if each.record.visit == now}
    rows, missing, entries = [], [], []
    for number, spot in enumerate(walking_order(described, case.readings, visits), start=1):
        readings = by_spot.get(spot.id, [])
        earlier = [each for each in readings if each.record.visit != now]
        last_visit = max((each.record.visit for each in earlier), key=lambda visit: order.get(visit, -1), default="")
        last = {_way(each.record): each for each in earlier if each.record.visit == last_visit}
        today = {_way(each.record): each for each in readings if each.record.visit == now}
        where = ", ".join(filter(None, (spot.zone, spot.element, spot.words)))
        for way in dict.fromkeys([*last, *today]) or [("", "", "", "", "")]:
            before, here = last.get(way), today.get(way)
            shown = _values(here.record) if here else f"not read: {why[spot.id]}" if spot.id in why else MISSING
            if today and not here:
                shown = "read another way"
            if shown == MISSING:
                missing.append(spot.id)
            entries += [each.entry for each in (before, here) if each]
            depth = "-".join(filter(None, way[3:5]))
            rows.append((
                str(number), spot.id, where, spot.role, ", ".join(filter(None, way[:2])), way[2], depth,
                _values(before.record) if before else "none", last_visit if before else "", shown,
            ))  # fmt: skip
    return tuple(rows), list(dict.fromkeys(missing)), entries


def _way(reading: Reading) -> tuple[str, str, str, str, str]:
    return reading.instrument, reading.scale, reading.covering, reading.depth_from, reading.depth_to


def _values(reading: Reading) -> str:
    return ", ".join(reading.values)


def _air(case: Case, visits: list[str]) -> tuple[tuple[tuple[str, ...], ...], list[str]]:
    """Every place whose air was read since the last visit but one of all: a place given up longer ago is not asked for."""
    now, order = visits[-1], {visit: place for place, visit in enumerate(visits)}
    last, today = {}, {}
    gone = {unit for unit, changes in changes_of(case).items() if changes[-1].record.change in GONE}
    for each in case.air_readings:
        record = each.record
        if record.place in gone and record.visit != now:
            continue
        if record.visit == now:
            today[record.place, record.kind] = record
        elif order.get(record.visit, -1) >= len(visits) - 3:
            last[record.place, record.kind] = record
    rows, missing = [], []
    for place, kind in dict.fromkeys([*last, *today]):
        before, here = last.get((place, kind)), today.get((place, kind))
        if here is None:
            missing.append(f"air of {place}" if kind not in SIDES else f"air of {place} at its {kind}")
        rows.append((
            place, kind, f"{before.temperature} degC, {before.relative_humidity} %" if before else "none",
            before.visit if before else "", f"{here.temperature} degC, {here.relative_humidity} %" if here else MISSING,
        ))  # fmt: skip
    return tuple(rows), missing


def _units(case: Case, visits: list[str]) -> tuple[tuple[tuple[str, ...], ...], list[str]]:
    """Every unit that is here, with its counters as they were read last."""
    now, rows, missing = visits[-1], [], []
    for unit, changes in changes_of(case).items():
        if changes[-1].record.change in GONE:
            continue
        read = [each.record for each in case.unit_readings if each.record.unit == unit]
        today = [each for each in read if each.visit == now]
        before = [each for each in read if each.visit != now]
        then = before[-1] if before else None
        if not today:
            missing.append(f"counters of {unit}")
        shown = ", ".join(
            f"{value} {unit_word}"
            for value, unit_word in ((today[-1].hours, "h"), (today[-1].collected, "L"), (today[-1].energy, "kWh"))
            if value
        ) if today else MISSING  # fmt: skip
        where = ", ".join(filter(None, (changes[-1].record.zone, changes[-1].record.position)))
        rows.append((
            unit, where, then.hours if then else "", then.collected if then else "", then.energy if then else "",
            then.visit if then else "", shown,
        ))  # fmt: skip
    return tuple(rows), missing
