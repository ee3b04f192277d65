"""The figures of the charts: excess over control against days since the first visit, one panel for each scale.

Contents: panels (all of a case). A panel holds at most eight lines: one for each spot while they are few, else one for
each element with median and range. A line is broken where the instrument, the covering or a drying unit changed; a value
at the end of its scale is an arrow at the edge and no part of a line. What has no control has no excess: it is counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median
from typing import Any

from desorb.core.evidence import Evidence
from desorb.core.kinds import UnitChange
from desorb.core.outcome import ABOVE, CANNOT_SAY, Assessment
from desorb.report.lookup import Lookup, history_of
from desorb.report.words import MARKS, day, figure, instant, listed, scale_in_words, shown, unit_in_words

MOST_LINES = 8
MOST_PARTS = 6  # of one scale; what is left over stands in the tables
SECONDS_PER_DAY = 86400


@dataclass(frozen=True, slots=True)
class Point:
    """One reading with its excess, or at an end of its scale with a bound and no excess of its own."""

    day: float
    taken: datetime
    each: Evidence
    assessment: Assessment
    excess: float

    @property
    def tag(self) -> tuple[str, ...]:
        reading = self.each.reading
        return (reading.instrument, reading.covering, reading.preparation)


def panels(look: Lookup) -> list[dict[str, Any]]:
    """The panels of a case, one scale after the other. Empty while everything was read on one day."""
    first = _first_moment(look)
    if first is None:
        return []
    days = _days_of_visits(look, first)
    by_scale: dict[tuple[tuple[str, str], ...], list[Point]] = {}
    missing: dict[tuple[tuple[str, str], ...], int] = {}
    for assessment in history_of(look.assessed):
        each = look.evidence_of(assessment.readings)
        if each is None:
            continue
        key = tuple(sorted(each.scale.identity().items()))
        mean = assessment.limits.control_mean
        if mean is None or assessment.value is None:
            missing[key] = missing.get(key, 0) + 1
            continue
        when = days.get(each.reading.visit, days_between(first, each.taken))
        point = Point(when, each.taken, each, assessment, assessment.value - mean)
        by_scale.setdefault(key, []).append(point)
    made: list[dict[str, Any]] = []
    for key, points in by_scale.items():
        if len({point.day for point in points}) > 1:
            made += _of_scale(points, missing.get(key, 0), look, first)
    return [{"key": f"chart-{number}", **panel} for number, panel in enumerate(made, 1)]


def _first_moment(look: Lookup) -> datetime | None:
    moments = [instant(entered.record.begun_at) for entered in look.visits.values()]
    moments += [each.taken for each in look.assessed.evidence]
    found = [moment for moment in moments if moment is not None]
    return min(found, key=_sortable, default=None)


def _sortable(moment: datetime) -> float:
    return moment.timestamp() if moment.tzinfo else (moment - datetime(1970, 1, 1)).total_seconds()


def days_between(first: datetime, later: datetime) -> float:
    return round((_sortable(later) - _sortable(first)) / SECONDS_PER_DAY, 2) + 0.0


def _days_of_visits(look: Lookup, first: datetime) -> dict[str, float]:
    """All readings of one visit stand above each other: on its calendar day, or at its hour if the day had two visits."""
    begun = {visit: moment for visit, entered in look.visits.items() if (moment := instant(entered.record.begun_at))}
    dates = [moment.date() for moment in begun.values()]
    return {
        visit: float((moment.date() - first.date()).days)
        if dates.count(moment.date()) == 1
        else days_between(first.replace(hour=0, minute=0, second=0, microsecond=0), moment)
        for visit, moment in begun.items()
    }


def _of_scale(points: list[Point], missing: int, look: Lookup, first: datetime) -> list[dict[str, Any]]:
    spots = list(dict.fromkeys(point.each.spot.id for point in points))
    by_spot = len(spots) <= MOST_LINES
    groups: dict[str, list[Point]] = {}
    for point in points:
        name = point.each.spot.id if by_spot else look.place(point.each.zone.id, point.each.spot.element)
        groups.setdefault(name, []).append(point)
    names = list(groups)
    parts = [names[start : start + MOST_LINES] for start in range(0, len(names), MOST_LINES)]
    left_out = sum(len(part) for part in parts[MOST_PARTS:])
    low, high = _domain(points)
    made = []
    for number, part in enumerate(parts[:MOST_PARTS], 1):
        panel = _panel({name: groups[name] for name in part}, by_spot, look, first)
        of = f", part {number} of {min(len(parts), MOST_PARTS)}" if len(parts) > 1 else ""
        panel |= {"low": low, "high": high, "title": f"{points[0].each.scale.key}{of}", "without_control": missing}
        panel["places_left_out"] = left_out if number == min(len(parts), MOST_PARTS) else 0
        panel["alt"] = _alt(panel)
        made.append(panel)
    return made


def _domain(points: Sequence[Point]) -> tuple[float, float]:
    """The same axis for all parts of a scale: what is drawn, and the band, with a tenth to spare."""
    values = [point.excess for point in points if not point.each.bound]
    for point in points:
        limits = point.assessment.limits
        if limits.above_beyond is not None and limits.control_mean is not None:
            values.append(limits.above_beyond - limits.control_mean)
        values.append(-(limits.control_spread or 0.0))
    low, high = min([0.0, *values]), max([0.0, *values])
    spare = (high - low or 1.0) / 10
    return float(f"{low - spare:.4g}"), float(f"{high + 2 * spare:.4g}")


def _panel(groups: dict[str, list[Point]], by_spot: bool, look: Lookup, first: datetime) -> dict[str, Any]:
    every = [point for points in groups.values() for point in points]
    scale = every[0].each.scale
    zones = {point.each.zone.id for point in every}
    changes = [entered for entered in look.case.unit_changes if entered.record.zone in zones | {""}]
    moments = [(moment, entered.record.zone) for entered in changes if (moment := instant(entered.record.at))]
    return {
        "scale": scale.key, "scale_words": scale_in_words(scale), "unit": unit_in_words(scale.unit),
        "first_day": day(first.isoformat()), "last_day": max(point.day for point in every),
        "of": "spots" if by_spot else "elements: median and range of their spots",
        "lines": [_line(name, points, by_spot, moments) for name, points in groups.items()],
        "band": _band(every),
        "changes": _changes([entered.record for entered in changes], first),
    }  # fmt: skip


def _line(name: str, points: list[Point], by_spot: bool, moments: list[tuple[datetime, str]]) -> dict[str, Any]:
    by_day: dict[float, list[Point]] = {}
    for point in sorted(points, key=lambda point: (point.day, point.taken, point.each.entered.order)):
        by_day.setdefault(point.day, []).append(point)
    segments: list[list[dict[str, Any]]] = []
    clipped: list[dict[str, Any]] = []
    breaks: list[dict[str, Any]] = []
    before: list[Point] = []
    for when, members in by_day.items():
        ends = [point for point in members if point.each.bound]
        clipped += [
            {"day": when, "side": side, "count": len(found), "entries": [point.each.entered.entry for point in found]}
            for side, sign in (("top", ">="), ("bottom", "<="))
            if (found := [point for point in ends if point.each.bound == sign])
        ]
        within = [point for point in members if not point.each.bound]
        for group in [[point] for point in within] if by_spot else [within] if within else []:
            why = _why_broken(before, group, moments)
            if why and before:
                breaks.append({"day": when, "words": why})
            if why or not segments:
                segments.append([])
            segments[-1].append(_mark(when, group))
            before = group
        if ends and not within:
            before = []
    place = points[0].each
    return {
        "name": name, "zone": place.zone.id, "element": place.spot.element, "segments": segments, "clipped": clipped,
        "breaks": breaks,
    }  # fmt: skip


def _why_broken(before: list[Point], after: list[Point], moments: list[tuple[datetime, str]]) -> str:
    """Why the line does not run from one mark to the next; '' when it does."""
    if not before:
        return "first"
    old, new = {point.tag for point in before}, {point.tag for point in after}
    for position, name in enumerate(("instrument", "covering", "preparation")):
        was, now = sorted({tag[position] for tag in old}), sorted({tag[position] for tag in new})
        if was != now:
            return f"{name} {', '.join(was)}, then {', '.join(now)}"
    zone = after[0].each.zone.id
    start, end = max(_sortable(point.taken) for point in before), min(_sortable(point.taken) for point in after)
    if any(start < _sortable(moment) <= end and where in (zone, "") for moment, where in moments):
        return "a drying unit was changed"
    return ""


def _mark(when: float, group: list[Point]) -> dict[str, Any]:
    statuses = [point.assessment.status for point in group]
    status = ABOVE if ABOVE in statuses else CANNOT_SAY if CANNOT_SAY in statuses else statuses[0]
    values = [point.excess for point in group]
    return {
        "day": when, "excess": figure(median(values)), "least": figure(min(values)), "most": figure(max(values)),
        "count": len(values), "status": status, "mark": MARKS[status],
        "entries": [point.each.entered.entry for point in group],
    }  # fmt: skip


def _band(points: list[Point]) -> list[dict[str, Any]]:
    """From the spread of the controls below their mean to the limit above it; two limits where places differ."""
    by_day: dict[float, list[tuple[float, float]]] = {}
    for point in points:
        limits = point.assessment.limits
        if limits.above_beyond is not None and limits.control_mean is not None:
            pair = (-(limits.control_spread or 0.0), limits.above_beyond - limits.control_mean)
            by_day.setdefault(point.day, []).append(pair)
    return [
        {"day": when, "low": figure(min(low for low, _ in pairs)), "limit": figure(min(high for _, high in pairs)),
         "highest_limit": figure(max(high for _, high in pairs))}
        for when, pairs in sorted(by_day.items())
    ]  # fmt: skip


def _changes(changes: list[UnitChange], first: datetime) -> list[dict[str, Any]]:
    """Drying units set, moved or taken away; those of one day stand in one sentence."""
    by_day: dict[int, list[UnitChange]] = {}
    for change in changes:
        moment = instant(change.at)
        if moment is not None:
            by_day.setdefault(int(days_between(first, moment)), []).append(change)
    rows = []
    for members in (by_day[when] for when in sorted(by_day)):
        moment = instant(members[0].at)
        acts: dict[str, list[str]] = {}
        for change in members:
            acts.setdefault(change.change, []).append(change.unit)
        words = "; ".join(f"{listed(units, 3)} {act}" for act, units in acts.items())
        rows.append({"day": days_between(first, moment) if moment else 0.0, "words": words})
    return rows


def _alt(panel: dict[str, Any]) -> str:
    """What a person should see, from the figures themselves."""
    said = [
        f"Excess over control on the scale {panel['scale']}, in digits of this scale, against days since the first visit"
        f" on {panel['first_day']}. Lines are {panel['of']}."
    ]
    for line in panel["lines"]:
        marks = [mark for segment in line["segments"] for mark in segment]
        words = [f"at the {each['side']} of the scale on day {each['day']:g}" for each in line["clipped"][:2]]
        if marks:
            words.append(f"{shown(marks[0]['excess'], 1)} on day {marks[0]['day']:g}")
        if len(marks) > 1:
            words.append(f"{shown(marks[-1]['excess'], 1)} on day {marks[-1]['day']:g}, {marks[-1]['status']}")
        said.append(f"{line['name']}: {'; '.join(words)}.")
    if panel["band"]:
        said.append(f"The control band reaches {shown(panel['band'][-1]['limit'], 1)} above the mean on the last day.")
    if panel["changes"]:
        said.append(f"The lines are broken on the days when drying units changed, {len(panel['changes'])} in all.")
    if panel["without_control"]:
        said.append(f"Readings without a usable control, which are not drawn: {panel['without_control']}.")
    return " ".join(said)
