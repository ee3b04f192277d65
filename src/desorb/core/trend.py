"""The course of one spot against its control, drawn in pieces: nothing is joined over a break.

Contents: Point (one spot at one visit); Segment (visits that may be joined); Break (why two visits may not); Trend; trend_of.
What is followed is the excess: the value less the mean of the controls of the same visit. It is followed within one
instrument, scale, covering and set-up of the kit; a value at an end of its scale, or without a control, has no excess.
Days are counted from any one moment of the job; values in digits of the scale.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from desorb.errors import InputError

LEAST_VISITS = 3  # visits in one segment before anything is said of its course  [JOB F17]: refuse with fewer than three


@dataclass(frozen=True, slots=True)
class Point:
    """One spot at one visit. `clipped`: the value stands at an end of its scale. `setup`: what names the kit as it stood.

    `decimals`: of the instrument's display, for the words only; None: as the figures are.
    """

    day: float
    value: float
    control_mean: float | None
    control_limit: float | None
    instrument: str
    scale: str
    covering: str
    setup: str
    clipped: bool = False
    decimals: int | None = None

    @property
    def shown(self) -> str:
        return f"{self.value:g}" if self.decimals is None else f"{self.value:.{self.decimals}f}"

    @property
    def limit_shown(self) -> str:
        """The control limit: it is computed and has one decimal more than the display."""
        if self.control_limit is None:
            return "not known"
        return digits(self.control_limit) if self.decimals is None else f"{self.control_limit:.{self.decimals + 1}f}"

    @property
    def excess(self) -> float | None:
        """Value less control mean, digits. None where there is no control, or the value is at an end of its scale."""
        return None if self.clipped or self.control_mean is None else self.value - self.control_mean


@dataclass(frozen=True, slots=True)
class Segment:
    """Visits of one instrument, scale, covering and set-up. `began`: why it does not go on from what was before, or ''."""

    points: tuple[Point, ...]
    began: str

    @property
    def days(self) -> tuple[float, ...]:
        return tuple(point.day for point in self.points)

    @property
    def excesses(self) -> tuple[float, ...]:
        """Digits, one a visit."""
        return tuple(excess for point in self.points if (excess := point.excess) is not None)


@dataclass(frozen=True, slots=True)
class Break:
    """Between two visits, or at a visit that has no excess of its own. `fields` are the words of what changed."""

    from_day: float
    to_day: float
    fields: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Trend:
    """All pieces in order of days. `last` is the segment that the latest visit belongs to, None where it has no excess."""

    segments: tuple[Segment, ...]
    breaks: tuple[Break, ...]
    last: Segment | None
    words: str
    next_step: str


def trend_of(points: Sequence[Point]) -> Trend:
    """The pieces of one spot's course. `points` in order of days, one a visit.

    Raises InputError for a figure that is none, days that do not run forward, or a limit below its control mean.
    """
    _check(points)
    segments: list[Segment] = []
    breaks: list[Break] = []
    current: list[Point] = []
    began = ""
    before: Point | None = None
    for point in points:
        without = _without_excess(point)
        fields = without or (_changed(before, point) if before is not None else ())
        if fields:
            if current:
                segments.append(Segment(tuple(current), began))
                current = []
            start = point.day if before is None else before.day
            breaks.append(Break(start, point.day, fields, f"day {digits(point.day)}: {'; '.join(fields)}"))
            began = "; ".join(fields) if not without else f"day {digits(point.day)} gave no excess: {'; '.join(fields)}"
        if not without:
            current.append(point)
        before = point
    if current:
        segments.append(Segment(tuple(current), began))
    last = segments[-1] if current else None
    words, next_step = _told(points, segments, breaks, last)
    return Trend(tuple(segments), tuple(breaks), last, words, next_step)


def _check(points: Sequence[Point]) -> None:
    if not points:
        raise InputError("there is no visit to follow", next_step="read the spot and its controls at a visit first")
    for point in points:
        known = (point.day, point.value, point.control_mean, point.control_limit)
        if not all(math.isfinite(figure) for figure in known if figure is not None):
            raise InputError(
                "a figure of a visit is not a number", got=", ".join(map(str, known)),
                wanted="day, value, control mean and control limit as numbers",
                next_step="read the entry of that visit again; a control that is missing is left out, not put as 0",
            )  # fmt: skip
        if (
            point.control_mean is not None
            and point.control_limit is not None
            and point.control_limit < point.control_mean
        ):
            raise InputError(
                "a control limit lies below the mean of its controls", got=f"{point.control_limit:g} and {point.control_mean:g}",
                wanted="limit at or above the mean", next_step="look whether the two figures were exchanged",
            )  # fmt: skip
    for one, other in itertools.pairwise(points):
        if other.day <= one.day:
            raise InputError(
                "the days of the visits do not run forward", got=f"day {other.day:g} after day {one.day:g}",
                wanted="one value a visit, in order of days",
                next_step="sort the visits; of repeats within one visit take the middle one",
            )  # fmt: skip


def _without_excess(point: Point) -> tuple[str, ...]:
    if point.clipped:
        return (f"the value {point.shown} stands at an end of its scale",)
    return ("no control that may be used",) if point.control_mean is None or point.control_limit is None else ()


def _changed(before: Point, now: Point) -> tuple[str, ...]:
    pairs = (
        ("instrument", before.instrument, now.instrument), ("scale", before.scale, now.scale),
        ("covering", before.covering, now.covering), ("set-up of the kit", before.setup, now.setup),
    )  # fmt: skip
    return tuple(
        f"{name} was {one or 'not stated'}, now {other or 'not stated'}" for name, one, other in pairs if one != other
    )


def _told(
    points: Sequence[Point], segments: Sequence[Segment], breaks: Sequence[Break], last: Segment | None
) -> tuple[str, str]:
    broken = f"; not joined over {len(breaks)} break{'s' if len(breaks) > 1 else ''}: " if breaks else ""
    broken += ", ".join(each.words for each in breaks)
    if last is None:
        what = _without_excess(points[-1])[0]
        step = (
            "read it on a scale that reaches further, or by a sample; a value at an end shows no course"
            if points[-1].clipped
            else "read controls of the same construction, covering, scale and instrument at the next visit"
        )
        return f"day {digits(points[-1].day)} has no excess: {what}{broken}", step
    excesses = last.excesses
    if len(excesses) == 1:
        words = f"one visit since the last break: excess {digits(excesses[0])} over control on day {digits(last.days[0])}{broken}"
    else:
        words = (
            f"excess over control from {digits(excesses[0])} on day {digits(last.days[0])} to {digits(excesses[-1])} on day"
            f" {digits(last.days[-1])}, {len(excesses)} visits{broken}"
        )
    if len(excesses) < LEAST_VISITS:
        wanting = LEAST_VISITS - len(excesses)
        return words, f"read it at {wanting} more visit{'s' if wanting > 1 else ''} with the same instrument and set-up"
    return words, "go on with the same instrument, scale, covering, depth and set-up, and read the controls each time"


def digits(value: float) -> str:
    """A figure or a day for the eye: one decimal, none where it is whole."""
    return f"{value:.1f}".rstrip("0").rstrip(".")
