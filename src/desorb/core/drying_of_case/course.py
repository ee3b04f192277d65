"""How each element is drying: the course of its spots against their controls, stalls with their reasons, and whether it is done.

Contents: courses_shown. One line follows one spot at one depth; it breaks where instrument, scale, covering or the units that
run beside it change. Nothing here is a forecast.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from desorb.core.assess import Assessed, assess
from desorb.core.case import Case, latest_by_id
from desorb.core.checks import repeatability_of
from desorb.core.drying_end import MOST_REBOUND, NOT_COMPLETE, REBOUND, Completion, Judged, drying_complete
from desorb.core.drying_of_case.kit import beside, kit_spans, moment, running_at
from desorb.core.drying_of_case.stall_facts import facts_at
from desorb.core.evidence import Evidence, decimals_of, to_resolution
from desorb.core.outcome import NO_HIGHER, Assessment
from desorb.core.shown import Line, Plot, Shown, Table
from desorb.core.stall import STALLED, Stall, stall_of
from desorb.core.stall_reasons import FOR_IT, stall_reasons
from desorb.core.trend import Point, Trend, digits, trend_of
from desorb.core.typed import read_figure
from desorb.errors import DesorbError, sentence

COURSE = "course of drying"
PLACING = "placing spread"  # setting: how far readings of one place differ from day to day, as a share of the value
PLACING_DEFAULT = "0.02"  # setting of ours; benchmarks/stall.py measures the detector with it
REBOUND_HOURS = "rebound hours"  # setting: how long all units are off before dry may be said, 24 to 48 h in the trade
COLUMNS = ("spot", "read with", "visits", "excess at first", "excess at last", "found", "course")
BREAKS = ("visit", "days", "not joined, because", "spots")
REASONS = ("reason", "standing", "evidence", "check", "if it holds", "caution")


@dataclass(frozen=True, slots=True)
class _Followed:
    """One spot at one depth, one reading a visit."""

    readings: list[Evidence]
    points: list[Point]
    trend: Trend
    stall: Stall


def courses_shown(case: Case, assessed: Assessed | None = None) -> tuple[Shown, ...]:
    """One for each element of which a spot was read at two visits or more. assessed: of the case with its history, if at hand."""
    assessed = assessed or assess(case, history=True)
    by_entry = {each.readings[0]: each for each in assessed.history}
    elements: dict[tuple[str, str], list[Evidence]] = {}
    for each in assessed.evidence:
        if not each.is_control and each.entered.entry in by_entry:
            elements.setdefault((each.zone.id, each.spot.element), []).append(each)
    judged = _judged(case, assessed)
    shown = []
    for (zone, element), readings in elements.items():
        tracks = _tracks(readings, case)
        if any(len(track) > 1 for track in tracks):
            shown.append(_shown(case, zone, element, tracks, by_entry, judged[zone, element]))
    return tuple(shown)


def _tracks(readings: Sequence[Evidence], case: Case) -> list[list[Evidence]]:
    """The readings that follow each other: of one spot and depth, one a visit. A line that ends goes on in one that begins."""
    order = case.visit_order()
    visits: dict[str, dict[tuple[str, ...], Evidence]] = {}
    for each in sorted(readings, key=lambda each: (each.taken, each.entered.order)):
        visits.setdefault(each.reading.visit, {})[_line_of(each)] = each
    tracks: list[list[Evidence]] = []
    for visit in sorted(visits, key=lambda name: order.get(name, -1)):
        begins, waiting = [], list(tracks)
        for line, each in visits[visit].items():
            same = next((track for track in waiting if _line_of(track[-1]) == line), None)
            if same is None:
                begins.append(each)
            else:
                waiting.remove(same)
                same.append(each)
        for each in begins:
            before = next((track for track in waiting if _may_follow(track[-1], each)), None)
            if before is None:
                tracks.append([each])
            else:
                waiting.remove(before)
                before.append(each)
    return tracks


def _line_of(each: Evidence) -> tuple[str, ...]:
    return each.spot.id, *each.line, each.reading.covering, each.reading.preparation


def _may_follow(before: Evidence, now: Evidence) -> bool:
    return before.spot.id == now.spot.id and before.depth_class == now.depth_class


def _follow(readings: list[Evidence], case: Case, by_entry: dict[str, Assessment]) -> _Followed:
    start = readings[0].taken
    points = [_point(each, start, case, by_entry[each.entered.entry]) for each in readings]
    placing = read_figure(case.setting(PLACING, PLACING_DEFAULT))
    return _Followed(
        readings, points, trend_of(points), stall_of(points, repeatability_of(readings[-1], case), placing)
    )


def _point(each: Evidence, start: datetime, case: Case, assessment: Assessment) -> Point:
    limits = assessment.limits
    mean, limit = limits.control_mean, limits.no_higher_up_to
    if mean is not None and (limit is None or limit < mean):
        limit = limits.above_beyond
    units = running_at(beside(each.zone.id, case), each.taken, case)
    setup = ", ".join(
        f"{one.record.unit} ({one.record.change} {one.record.at[:16].replace('T', ' ')})" for one in units
    )
    days = (each.taken - start).total_seconds() / 86400
    covering = " ".join(filter(None, (each.reading.covering, each.reading.preparation)))
    scale = ", ".join(f"{name} {value}" for name, value in sorted(each.scale.identity().items()))
    return Point(
        days,
        float(each.value),
        mean,
        limit,
        each.instrument.id,
        scale,
        covering,
        setup or "no unit",
        bool(each.bound),
        decimals_of(each.scale.resolution),
    )


def _shown(
    case: Case,
    zone: str,
    element: str,
    tracks: list[list[Evidence]],
    by_entry: dict[str, Assessment],
    judged: list[Judged],
) -> Shown:
    followed, notes = [], []
    once = [f"{each[0].spot.id} ({each[0].scale.key})" for each in tracks if len(each) == 1]
    if once:
        notes.append(f"Read at one visit only, so without a course: {', '.join(once)}.")
    for track in (each for each in tracks if len(each) > 1):
        try:
            followed.append(_follow(track, case, by_entry))
        except (DesorbError, ValueError) as problem:
            notes.append(f"The course of {track[0].spot.id} cannot be followed: {problem}")
    stalled = [each for each in followed if each.stall.state == STALLED]
    done = _done(case, zone, judged)
    states = [each.stall.state for each in followed]
    counted = "; ".join(f"{states.count(state)} {state}" for state in dict.fromkeys(states))
    notes.append(
        "Excess is the reading less the mean of its controls of the same visit, in digits of its own scale. A course says"
        " nothing about when it will be dry: no forecast is made. A stall test can be wrong: see the manual for how often."
    )
    if not case.unit_changes:
        notes.append("No drying unit is recorded in this case: what is said of kit holds only if none ran.")
    tables = [Table(COLUMNS, tuple(_row(each) for each in followed))] if followed else []
    if broken := _breaks(followed):
        tables.append(Table(BREAKS, broken))
    steps = [done.next_step, *dict.fromkeys(each.stall.next_step for each in stalled)]
    if stalled:
        reasons = stall_reasons(facts_at(case, zone, element, stalled[0].readings[-1], by_entry))
        tables.append(Table(REASONS, tuple((r.name, r.standing, r.why, r.check, r.then, r.caution) for r in reasons)))
        steps += [reason.check for reason in reasons if reason.standing == FOR_IT] or [reasons[0].check]
    return Shown(
        kind=COURSE,
        id=f"{zone}/{element}",
        title=f"{element}, {latest_by_id(case.zones)[zone].record.words or zone}",
        zone=zone,
        status=STALLED if stalled else done.state,
        words=f"{_without_status(done, stalled)}." + (f" Spots: {counted}." if counted else ""),
        cautions=done.cautions,
        tables=tuple(tables),
        plots=_plots(followed),
        notes=tuple(notes),
        next_steps=tuple(dict.fromkeys(step for step in steps if step)),
        rests_on=tuple(reading.entered.entry for each in followed for reading in each.readings),
    )


def _without_status(done: Completion, stalled: Sequence[_Followed]) -> str:
    """What is missing; the status already says that it is not complete, unless it says that the element has stalled."""
    words = done.words if stalled else done.words.removeprefix(f"{done.state}: ")
    return words[:1].upper() + words[1:]


def _breaks(followed: list[_Followed]) -> tuple[tuple[str, ...], ...]:
    """Why courses are not joined, each reason once with the spots that it holds for."""
    spots: dict[tuple[str, str, str], list[str]] = {}
    for each in followed:
        visit_at = {point.day: reading.reading.visit for point, reading in zip(each.points, each.readings, strict=True)}
        for one in each.trend.breaks:
            days = (
                digits(one.to_day) if one.from_day == one.to_day else f"{digits(one.from_day)} to {digits(one.to_day)}"
            )
            key = (visit_at[one.to_day], days, "; ".join(one.fields))
            spots.setdefault(key, []).append(each.readings[-1].spot.id)
    return tuple((*key, ", ".join(names)) for key, names in spots.items())


def _row(each: _Followed) -> tuple[str, ...]:
    last = each.readings[-1]
    depth = "-".join(filter(None, last.depth_class))
    read_with = ", ".join(filter(None, (last.instrument.id, last.scale.key, f"{depth} mm" if depth else "")))
    excesses = [
        to_resolution(point.excess, last.scale, 1) if point.excess is not None else "none" for point in each.points
    ]
    return (
        last.spot.id, read_with, str(len(each.points)), excesses[0], excesses[-1], each.stall.state,
        each.stall.words.removeprefix(f"{each.stall.state}: "),
    )  # fmt: skip


def _plots(followed: list[_Followed]) -> tuple[Plot, ...]:
    """One for each scale; a line for each piece of a spot, never joined over a break."""
    by_scale: dict[str, list[Line]] = {}
    for each in followed:
        start = each.readings[0].taken
        first = min(one.readings[0].taken for one in followed)
        shift = (start - first).total_seconds() / 86400
        scale = each.readings[-1].scale
        for segment in each.trend.segments:
            points = tuple(
                (digits(point.day + shift), to_resolution(point.excess, scale, 1))
                for point in segment.points
                if point.excess is not None
            )
            by_scale.setdefault(scale.key, []).append(Line(each.readings[-1].spot.id, points))
    return tuple(
        Plot(
            f"Excess over control, scale {scale}",
            "days since the first reading",
            f"excess, digits of {scale}",
            tuple(lines),
        )
        for scale, lines in by_scale.items()
    )


# -- is it done ----------------------------------------------------------------------------------------------------------


def _judged(case: Case, latest: Assessed) -> dict[tuple[str, str], list[Judged]]:
    """The status of each element at the visits that read it, back from the latest: until one was not no higher than control,
    or until it was no higher for the rebound time, which is all that is asked for.
    """
    begun = {each.record.id: at for each in case.visits if (at := moment(each.record.begun_at)) is not None}
    order = sorted((visit for visit in case.visit_order() if visit in begun), key=lambda visit: begun[visit])
    read_at: dict[tuple[str, str], set[str]] = {}
    for each in latest.evidence:
        if not each.is_control:
            read_at.setdefault((each.zone.id, each.spot.element), set()).add(each.reading.visit)
    found: dict[tuple[str, str], list[Judged]] = {key: [] for key in read_at}
    try:
        rebound = _rebound(case)
    except DesorbError:
        rebound = MOST_REBOUND
    for place in range(len(order) - 1, -1, -1):
        visit = order[place]
        asked = [
            key for key, visits in read_at.items()
            if visit in visits
            and (not found[key] or (found[key][0].status == NO_HIGHER and found[key][-1].hours - found[key][0].hours < rebound))
        ]  # fmt: skip
        if not asked:
            continue
        elements = (
            latest.elements if place == len(order) - 1 else _assessed_up_to(case, set(order[: place + 1])).elements
        )
        hours = (begun[visit] - begun[order[0]]).total_seconds() / 3600
        for element in elements:
            if (element.zone, element.element) in asked and element.visit == visit:
                found[element.zone, element.element].insert(0, Judged(visit, hours, element.status))
    return found


def _assessed_up_to(case: Case, visits: set[str]) -> Assessed:
    """What the readings of these visits say, judged by all that is known today of instruments and controls' checks."""
    return assess(replace(case, readings=tuple(each for each in case.readings if each.record.visit in visits)))


def _rebound(case: Case) -> float:
    return read_figure(case.setting(REBOUND_HOURS, f"{REBOUND:g}"))


def _done(case: Case, zone: str, judged: list[Judged]) -> Completion:
    begun = [at for each in case.visits if (at := moment(each.record.begun_at)) is not None]
    spans = kit_spans(beside(zone, case), min(begun), case) if begun else []
    try:
        return drying_complete(judged, spans, _rebound(case))
    except (DesorbError, ValueError) as problem:
        step = getattr(problem, "next_step", "") or f"correct the setting '{REBOUND_HOURS}'"
        words = sentence(problem)
        return Completion(NOT_COMPLETE, (words,), (), f"{NOT_COMPLETE}: {words}", step)
