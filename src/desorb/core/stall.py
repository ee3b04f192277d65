"""Has a spot stopped getting drier? Watched visit by visit within one segment of its course. No forecast is made.

Contents: StallSettings; Watched (one visit as the detector saw it); Stall; stall_of. Reasons: `core/stall_reasons.py`.

Two tests, each within the latest segment only (`core/trend.py`), so that both start anew at every break:

- *slower than its own course*: before each visit an exponential is fitted to the excess of the visits before it, weighted
  by the repeatability of the instrument, and carried on at a quarter of its pace, because all drying slows (`kept_pace`); the
  residual of the new visit (higher than predicted is positive) over its standard deviation is z, and S = max(0, S + z - k),
  a one-sided cumulative sum. S above h is a stall. While S is above 0 the fit rests on the visits before S
  began to rise, so that a stall does not teach the fit that a stall is usual. k is half of the shift to be found (textbook).
- *no fall to speak of since the segment began*: the first test needs a course to compare with, and a spot that never dried has
  none. So the pace (share of the excess lost a day) of the whole segment is fitted too, and a stall is said where even the upper
  95 % end of it lies under a least pace.

An exponential is a local picture of drying that slows down, not physics. How often both are wrong: `benchmarks/stall.py`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from desorb.core.statistics import normal_quantile
from desorb.core.trend import LEAST_VISITS, Point, Segment, digits, trend_of
from desorb.errors import InputError

STALLED = "stalled"
NONE_SEEN = "no stall seen"
REACHED = "at or under the control limit"
NOT_ENOUGH = "not enough visits"
NO_EXCESS = "cannot say"
SLOWER, NO_FALL = "slower than its own course", "no fall to speak of"
NO_FORECAST = "no forecast"

OF_A_DIFFERENCE = 1.96 * math.sqrt(
    2.0
)  # repeatability limit r over the standard deviation of one reading  [ISO-5725-6]


@dataclass(frozen=True, slots=True)
class StallSettings:
    """Settings of ours; chosen on one half of simulated jobs and measured on the other, see benchmarks/stall.py."""

    k: float = 0.5  # standard deviations a visit that are let pass
    h: float = 4.5  # standard deviations: the sum at which a stall is said
    window: int = 7  # visits at most that the course is fitted to
    kept_pace: float = 0.25  # share of its pace that a going drying keeps; 1 is a pure exponential
    least_pace: float = 0.03  # share of the excess a day: a spot that certainly loses less is not drying
    least_days: float = 3.0  # days that a segment spans before "no fall" is said
    least_visits: int = 4  # and its visits

    def __post_init__(self) -> None:
        if not (
            0.0 <= self.k <= 3.0 and 0.0 < self.h <= 100.0 and 3 <= self.window <= 100 and 0.0 <= self.kept_pace <= 1.0
            and 0.0 <= self.least_pace <= 0.5 and 1.0 <= self.least_days <= 60.0 and LEAST_VISITS <= self.least_visits <= 60
        ):  # fmt: skip
            raise InputError(
                "a setting of the stall test is out of bounds", got=str(self),
                wanted="k 0 to 3, h above 0 to 100, window 3 to 100,"
                " kept pace 0 to 1, least pace 0 to 0.5 a day, days 1 to 60, visits 3 to 60",
                next_step="take the settings as they come, or state the changed one with its reason",
            )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Watched:
    """One visit. Excess and predicted in digits; z and total (the sum S) in standard deviations, None without a course."""

    day: float
    excess: float
    predicted: float | None
    z: float | None
    total: float


@dataclass(frozen=True, slots=True)
class Stall:
    """What is said of the spot at its latest visit. `kind`: SLOWER or NO_FALL. `since`: the last day that still fitted."""

    state: str
    kind: str
    flagged_day: float | None
    since_day: float | None
    watched: tuple[Watched, ...]
    words: str
    next_step: str
    forecast: str = NO_FORECAST


@dataclass(frozen=True, slots=True)
class _Course:
    """ln(excess) = level - pace * day, with the variances of both at a day (weighted least squares)."""

    middle: float  # weighted mean day
    level: float  # ln excess at the middle
    pace: float  # share a day
    level_variance: float
    pace_variance: float

    def at(self, last: float, day: float, kept: float) -> tuple[float, float]:
        """(predicted excess in digits, its standard deviation): the pace up to `last`, a kept share of it after; never a rise."""
        ahead = last - self.middle + kept * (day - last)
        predicted = math.exp(self.level - max(self.pace, 0.0) * ahead)
        return predicted, predicted * math.sqrt(self.level_variance + self.pace_variance * ahead * ahead)


def stall_of(
    points: Sequence[Point], repeatability: float, relative: float = 0.0, settings: StallSettings | None = None
) -> Stall:
    """Whether the spot has stalled, as seen at its latest visit; a stall once said stays until a break or the control limit.

    `repeatability` r: 95 % repeatability limit of the scale in digits, above 0, rounding of the display included;
    `relative`: standard deviation that grows with the value, as a fraction of it (0 to 0.5), such as the placing of the
    instrument from day to day. Raises InputError as `trend_of` does, and for figures of repeatability out of bounds.
    """
    chosen = settings or StallSettings()
    if not (math.isfinite(repeatability) and repeatability > 0.0 and 0.0 <= relative <= 0.5):
        raise InputError(
            "the repeatability cannot be used", got=f"{repeatability} digits, {relative} of the value",
            wanted="a limit above 0 digits, and a share from 0 to 0.5",
            next_step="take r from a repeatability study of this instrument, or the larger of one digit and its specification",
        )  # fmt: skip
    trend = trend_of(points)
    if trend.last is None:
        return Stall(NO_EXCESS, "", None, None, (), f"{NO_EXCESS}: {trend.words}; {NO_FORECAST}", trend.next_step)
    latest = points[-1]
    if _reached(latest):
        return _reached_limit(latest)
    visits = _since_limit(trend.last)
    if len(visits) < LEAST_VISITS:
        return _not_enough(visits, trend.last)
    deviations = [math.hypot(repeatability / OF_A_DIFFERENCE, relative * point.value) for point in visits]
    return _watch(visits, deviations, chosen)


def _watch(visits: Sequence[Point], deviations: Sequence[float], chosen: StallSettings) -> Stall:
    days = [point.day for point in visits]
    excesses = [point.value - (point.control_mean or 0.0) for point in visits]
    watched: list[Watched] = []
    total, calm = 0.0, 0  # calm: how many visits from the first one the fit may rest on while S is above 0
    flagged: tuple[str, float, float] | None = None  # kind, day, since
    for place, (day, excess) in enumerate(zip(days, excesses, strict=True)):
        calm = place if total == 0.0 else calm
        first = max(0, calm - chosen.window)
        course = _fit(days[first:calm], excesses[first:calm], deviations[first:calm])
        if course is None:
            watched.append(Watched(day, excess, None, None, 0.0))
            continue
        predicted, spread = course.at(days[calm - 1], day, chosen.kept_pace)
        z = (excess - predicted) / math.hypot(spread, deviations[place])
        total = max(0.0, total + z - chosen.k)
        watched.append(Watched(day, excess, predicted, z, total))
        if flagged is None and total > chosen.h:
            flagged = SLOWER, day, days[calm - 1]
        if flagged is None and place + 1 >= chosen.least_visits and day - days[0] >= chosen.least_days:
            whole = _fit(days[: place + 1], excesses[: place + 1], deviations[: place + 1])
            if whole is not None and _fastest(whole) < chosen.least_pace:
                flagged = NO_FALL, day, days[0]
    if flagged is None:
        return _none_seen(watched)
    return _stalled(*flagged, watched, visits[-1])


def _fit(days: Sequence[float], excesses: Sequence[float], deviations: Sequence[float]) -> _Course | None:
    """Weighted least squares on ln(excess); the deviation of a logarithm is that of the value over the excess."""
    if len(days) < 2:
        return None
    weights = [(excess / deviation) ** 2 for excess, deviation in zip(excesses, deviations, strict=True)]
    logs = [math.log(excess) for excess in excesses]
    whole = math.fsum(weights)
    middle = math.fsum(w * day for w, day in zip(weights, days, strict=True)) / whole
    level = math.fsum(w * log for w, log in zip(weights, logs, strict=True)) / whole
    spread = math.fsum(w * (day - middle) ** 2 for w, day in zip(weights, days, strict=True))
    slope = math.fsum(w * (day - middle) * log for w, day, log in zip(weights, days, logs, strict=True)) / spread
    return _Course(middle, level, -slope, 1.0 / whole, 1.0 / spread)


def _fastest(course: _Course) -> float:
    """The upper 95 % end of the pace, share a day."""
    return course.pace + normal_quantile(0.95) * math.sqrt(course.pace_variance)


def _reached(point: Point) -> bool:
    excess = point.excess
    return excess is None or excess <= 0.0 or point.control_limit is None or point.value <= point.control_limit


def _since_limit(segment: Segment) -> tuple[Point, ...]:
    """The visits since the spot was last at or under its control limit: there it had no course left to slow down."""
    visits = segment.points
    last = max((place for place, point in enumerate(visits) if _reached(point)), default=-1)
    return visits[last + 1 :]


def _reached_limit(point: Point) -> Stall:
    words = (
        f"{point.shown} on day {digits(point.day)} is {REACHED}, {point.limit_shown}: no stall to look for; {NO_FORECAST}."
        " This is no statement that the element is dry"
    )
    step = "have the spot and its element assessed; switch the kit off and read again after the rebound time"
    return Stall(REACHED, "", None, None, (), words, step)


def _not_enough(visits: Sequence[Point], segment: Segment) -> Stall:
    wanting = LEAST_VISITS - len(visits)
    began = f" since: {segment.began}" if segment.began and len(visits) == len(segment.points) else ""
    words = f"{NOT_ENOUGH}: {len(visits)} of {LEAST_VISITS} in this segment{began}; {NO_FORECAST}"
    more = f"{wanting} more visit{'s' if wanting > 1 else ''}"
    step = f"read the spot and its controls at {more} without changing instrument or kit"
    return Stall(NOT_ENOUGH, "", None, None, (), words, step)


def _none_seen(watched: Sequence[Watched]) -> Stall:
    words = (
        f"{NONE_SEEN} in {len(watched)} visits up to day {digits(watched[-1].day)}; {NO_FORECAST}. A drying that only slows is"
        " found late or not at all"
    )
    step = "go on with daily visits in the same set-up, and read the unit, the air and the water meter at each"
    return Stall(NONE_SEEN, "", None, None, tuple(watched), words, step)


def _stalled(kind: str, day: float, since: float, watched: Sequence[Watched], latest: Point) -> Stall:
    how = (
        f"the excess over control lies above the course it had up to day {digits(since)}"
        if kind == SLOWER
        else f"the excess over control has fallen by nothing to speak of since day {digits(since)}"
    )
    words = (
        f"{STALLED}, first seen on day {digits(day)}: {how}; {latest.shown} now, control limit {latest.limit_shown}."
        f" It has stopped getting drier as it should; {NO_FORECAST}"
    )
    step = "find out why before waiting longer: go through the reasons in their order, and record what is changed"
    return Stall(STALLED, kind, day, since, tuple(watched), words, step)
