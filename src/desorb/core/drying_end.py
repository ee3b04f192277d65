"""May drying be called complete for one element? Only with the kit off long enough for hidden water to come back.

Contents: Judged (the assessment of one visit); KitSpan (when kit ran); Completion; drying_complete.
Complete takes two visits apart that both found the element no higher than control, the later one with all kit off for the whole
rebound time. Hours are counted from any one moment of the job. Nothing is computed from a forecast, or from the course.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from desorb.core.outcome import NO_HIGHER, STATUSES
from desorb.errors import InputError, OutOfRange

COMPLETE, NOT_COMPLETE = "drying complete", "drying not complete"
REBOUND = 48.0  # h with all kit off; setting, 24 to 48 h in the trade  [JOB 3.22]: the longer end is ours
LEAST_REBOUND, MOST_REBOUND = 24.0, 24.0 * 60  # h; the lower end [JOB 3.22], the upper one a setting of ours

CAUTIONS = (
    "this says nothing of electrics, hygiene, mould or structure: each has its own competent person",
    "a floor covering needs the test and the limit of its own, whatever the meter says",
)


@dataclass(frozen=True, slots=True)
class Judged:
    """The status of the element at one visit, as the assessment gave it (`core/outcome.py`)."""

    visit: str
    hours: float
    status: str


@dataclass(frozen=True, slots=True)
class KitSpan:
    """Drying kit ran from `on` to `off`, in hours; `off` None: it still runs. Heating meant for drying is kit too."""

    unit: str
    on: float
    off: float | None


@dataclass(frozen=True, slots=True)
class Completion:
    """`missing`: what stands in the way, empty where complete. `visits`: the two it rests on."""

    state: str
    missing: tuple[str, ...]
    visits: tuple[str, ...]
    words: str
    next_step: str
    cautions: tuple[str, ...] = CAUTIONS


def drying_complete(judged: Sequence[Judged], kit: Sequence[KitSpan] | None, rebound: float = REBOUND) -> Completion:
    """Whether drying of one element is complete at its latest visit; if not, what is missing.

    `judged`: all visits of the element, in order of time. `kit`: every span in which kit ran, empty if none ever did, None if not
    recorded. `rebound` in h, 24 to 1440. Raises InputError for times that are none or out of order or an unknown status.
    """
    _check(judged, kit, rebound)
    missing: list[tuple[str, str]] = []  # what is missing, what to do about it
    passes: list[Judged] = []  # the unbroken passes up to the latest visit
    for each in judged:
        passes = [*passes, each] if each.status == NO_HIGHER else []
    if not judged:
        missing.append(("no visit was assessed", "read the element and its controls"))
    elif not passes:
        words = f"the latest visit, {judged[-1].visit}, found: {judged[-1].status}"
        missing.append((words, "settle what the assessment of that visit asks for, and read the element again"))
    elif passes[-1].hours - passes[0].hours < rebound:
        missing.append((
            f"two visits at least {rebound:g} h apart, both no higher than control and none between them otherwise: so far"
            f" {len(passes)}, over {passes[-1].hours - passes[0].hours:g} h",
            f"read it again {rebound:g} h or more after visit {passes[0].visit}",
        ))  # fmt: skip
    missing += _of_kit(judged, kit, rebound)
    if missing:
        what = tuple(words for words, _ in missing)
        return Completion(
            NOT_COMPLETE, what, (), f"{NOT_COMPLETE}: {'; '.join(what)}", "; ".join(step for _, step in missing)
        )
    first = max((each for each in passes if passes[-1].hours - each.hours >= rebound), key=lambda each: each.hours)
    pair = (first.visit, passes[-1].visit)
    words = (
        f"{COMPLETE}: no higher than control on visits {pair[0]} and {pair[1]}, {passes[-1].hours - first.hours:g} h apart, the"
        f" later one with all kit off for {rebound:g} h or more"
    )
    return Completion(
        COMPLETE, (), pair, words, "report it element by element, and agree on a later check with the occupier"
    )


def _of_kit(judged: Sequence[Judged], kit: Sequence[KitSpan] | None, rebound: float) -> list[tuple[str, str]]:
    if kit is None:
        return [("when the kit ran is not recorded", "record when each unit was set, moved and switched off")]
    if not judged:
        return []
    latest = judged[-1].hours
    found = []
    begun = (
        span for span in kit if span.on <= latest
    )  # one set after the latest visit: that visit rests on what was before
    last = {
        span.unit: span for span in sorted(begun, key=lambda span: span.on)
    }  # the last span of each unit speaks for it
    for span in last.values():
        if span.off is None or span.off > latest:
            found.append((
                f"{span.unit} was running at the latest visit", f"switch {span.unit} off and read again after {rebound:g} h",
            ))  # fmt: skip
        elif latest - span.off < rebound:
            found.append((
                f"{span.unit} had been off for {latest - span.off:g} h at the latest visit, wanted {rebound:g} h",
                f"leave {span.unit} off and read again {rebound - (latest - span.off):g} h later than that visit, or after",
            ))  # fmt: skip
    return found


def _check(judged: Sequence[Judged], kit: Sequence[KitSpan] | None, rebound: float) -> None:
    if not (math.isfinite(rebound) and LEAST_REBOUND <= rebound <= MOST_REBOUND):
        raise OutOfRange(
            "the rebound time cannot be used", got=f"{rebound} h", wanted=f"{LEAST_REBOUND:g} to {MOST_REBOUND:g} h",
            next_step="leave all kit off for 24 to 48 h, longer for thick or dense layers",
        )  # fmt: skip
    for each in judged:
        if each.status not in STATUSES or not math.isfinite(each.hours) or not each.visit:
            raise InputError(
                "a visit cannot be used", got=f"visit {each.visit!r}, {each.hours} h, {each.status!r}",
                wanted=f"a name, a time, and one of: {', '.join(STATUSES)}", next_step="assess the element at that visit",
            )  # fmt: skip
    for one, other in itertools.pairwise(judged):
        if other.hours <= one.hours or other.visit == one.visit:
            raise InputError(
                "the visits are not two", got=f"{one.visit} at {one.hours:g} h, {other.visit} at {other.hours:g} h",
                wanted="different visits in order of time", next_step="give each visit once, with the time it was begun",
            )  # fmt: skip
    for span in kit or ():
        ends = (span.on,) if span.off is None else (span.on, span.off)
        if not all(math.isfinite(end) for end in ends) or ends[-1] < span.on:
            raise InputError(
                f"the hours of {span.unit} cannot be used", got=f"on {span.on}, off {span.off}",
                wanted="on before off, in hours", next_step="look up when this unit was set and switched off",
            )  # fmt: skip
