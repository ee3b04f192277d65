"""The readings of each place of one floor test, each worked out from the times of the record and held against the limit.

Contents: Attempt (one reading, or one row of box readings); PlaceOfCase; Wait; waits_of (what is waited for); places_of_test.

The latest valid reading of a place counts; a later one that is not valid and lies above the limit takes its place, so that
it is never hidden. What cannot be used is kept with its words and stops only itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from desorb.core.case import Case, Entered
from desorb.core.floors.box import HOURS_BETWEEN
from desorb.core.floors.outcome import NOT_VALID, PlaceResult
from desorb.core.floors.plan import BOX, DISH, EXPOSURE, SAMPLED, FloorPlan
from desorb.core.floors_of_case import of_readings, of_samples
from desorb.core.floors_of_case.figures import later_by, latest_of
from desorb.core.kinds import FloorPlace, FloorReading, FloorTest
from desorb.core.limits import Limit
from desorb.core.written import moment
from desorb.errors import DesorbError, sentence


@dataclass(frozen=True, slots=True)
class Attempt:
    """One reading at one place (of a box: all since it was sealed). result is None without a limit, or with a problem."""

    place: str
    at: str
    value: str  # as read, with its unit
    entries: tuple[str, ...]
    result: PlaceResult | None = None
    problem: str = ""
    next_step: str = ""
    counts: bool = False


@dataclass(frozen=True, slots=True)
class PlaceOfCase:
    """One place: when it was prepared, from when it may be read, what was read, and which of that counts."""

    place: str
    prepared: Entered[FloorPlace] | None
    may_read_from: str  # '' where that cannot be worked out, or nothing waits
    waiting: str  # the same in words
    attempts: tuple[Attempt, ...]

    @property
    def counted(self) -> Attempt | None:
        return next((each for each in self.attempts if each.counts), None)

    @property
    def result(self) -> PlaceResult | None:
        return self.counted.result if self.counted else None


@dataclass(frozen=True, slots=True)
class Wait:
    """Hours from a time of the place until it may be read."""

    part: str  # of FloorPlace
    hours: float
    if_missing: str = ""  # what is said where that time is not recorded


def waits_of(plan: FloorPlan) -> tuple[Wait, ...]:
    """What is waited for at each place, the latest end counts. The device on site works by the same list."""
    if plan.method in SAMPLED:
        return ()
    if plan.method == DISH:
        return (Wait("at", plan.waiting_hours + EXPOSURE[0]),)
    waits = [Wait("at", plan.waiting_hours)]
    if plan.service_hours is not None:
        words = f"if it is as in use for {plan.service_hours:g} hours by then, which is not recorded"
        waits.append(Wait("service_since", plan.service_hours, words))
    if plan.heating_off_hours is not None and plan.method != BOX:
        waits.append(Wait("heating_off_at", plan.heating_off_hours))
    return tuple(waits)


def places_of_test(case: Case, test: FloorTest, plan: FloorPlan, limit: Limit | None) -> tuple[PlaceOfCase, ...]:
    """Every place that was prepared or read, in the order of the record."""
    prepared: dict[str, list[Entered[FloorPlace]]] = {}
    for entered in case.floor_places:
        if entered.record.test == test.id:
            prepared.setdefault(entered.record.place, []).append(entered)
    if plan.method in SAMPLED:
        drafts = of_samples.attempts(case, test, plan, prepared)
    else:
        read: dict[str, list[Entered[FloorReading]]] = {}
        for reading in case.floor_readings:
            if reading.record.test == test.id:
                read.setdefault(reading.record.place, []).append(reading)
        drafts = [
            draft
            for place, readings in read.items()
            for draft in of_readings.attempts(case, test, plan, prepared.get(place, []), readings)
        ]
    names = list(dict.fromkeys([*prepared, *(draft.place for draft in drafts)]))
    found = []
    for name in names:
        tried = [
            _tried(draft.place, draft.at, draft.value, draft.entries, draft.assess, limit)
            for draft in sorted((each for each in drafts if each.place == name), key=lambda each: moment(each.at))
        ]
        last = max(prepared.get(name, []), key=lambda each: (moment(each.record.at), each.order), default=None)
        may_read_from, waiting = _waiting(plan, last.record) if last else ("", "not written down when it was prepared")
        found.append(PlaceOfCase(name, last, may_read_from, waiting, _counting(tried)))
    return tuple(found)


def _tried(
    place: str,
    at: str,
    value: str,
    entries: tuple[str, ...],
    assess: Callable[[Limit], PlaceResult],
    limit: Limit | None,
) -> Attempt:
    if limit is None:
        return Attempt(place, at, value, entries)
    try:
        return Attempt(place, at, value, entries, assess(limit))
    except DesorbError as problem:
        step = problem.next_step or "strike the entry and write it again"
        return Attempt(place, at, value, entries, None, f"cannot be used: {sentence(problem)}", step)


def _counting(tried: list[Attempt]) -> tuple[Attempt, ...]:
    """Mark the one that counts: the latest valid one, unless a later one lies above the limit, valid or not, or cannot be
    used at all: then nothing older stands for it."""
    held = [index for index, each in enumerate(tried) if each.result is not None]
    chosen = held[-1] if held else None
    for index in held:
        result = tried[index].result
        if result is not None and result.status != NOT_VALID:
            chosen = index
    if chosen is not None:
        later = [index for index, each in enumerate(tried) if index > chosen and (each.result is None or _above(each))]
        chosen = later[-1] if later else chosen
    return tuple(replace(each, counts=index == chosen) for index, each in enumerate(tried))


def _above(attempt: Attempt) -> bool:
    return attempt.result is not None and attempt.result.above


def _waiting(plan: FloorPlan, place: FloorPlace) -> tuple[str, str]:
    """From when a place may be read, as a time and in words."""
    if plan.method in SAMPLED:
        return "", "no waiting; read the sample as it is taken"
    try:
        rested = later_by(place.at, plan.waiting_hours)
        if plan.method == DISH:
            earliest = later_by(rested, EXPOSURE[0])
            low, high = EXPOSURE
            words = f"the dish may be set from {rested}, and be lifted {low:g} to {high:g} hours after it is set: from {earliest}"
            return earliest, words
        waits = [(wait, getattr(place, wait.part)) for wait in waits_of(plan)]
        times = [later_by(time, wait.hours) for wait, time in waits if time or wait.part == "at"]
        first = latest_of(times)
    except DesorbError as problem:
        return "", f"cannot be used: {problem.what}"
    words = f"may be read from {first}"
    if plan.method == BOX:
        words += f", and again {HOURS_BETWEEN:g} hours later or more until two in a row are equal"
    words += "".join(f", {wait.if_missing}" for wait, time in waits if wait.if_missing and not time)
    return first, words
