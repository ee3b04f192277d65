"""What changed at a spot between two visits, in digits of its own scale and never across two scales.

Contents: CHANGED ... the words; SpotChange; visit_changes (every spot of the case, between an earlier and a later visit).
A difference counts as a change when it is larger than the repeatability limit r of the scale: two readings of one spot by
one hand differ by no more in 95 of 100 cases. Two values at the end of a scale never say that nothing changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from desorb.core.case import Case, latest_by_id
from desorb.core.checks import repeatability_of
from desorb.core.evidence import Evidence, to_resolution

ROSE, FELL, SAME = "reads higher than before", "reads lower than before", "within repeatability"
NOT_COMPARABLE, AT_AN_END = "not comparable with before", "cannot say: at an end of its scale"
FIRST, NOT_READ = "read for the first time", "not read"
CHANGED = (ROSE, FELL)
MINUS = "\u2212"


@dataclass(frozen=True, slots=True)
class SpotChange:
    """One spot, from the earlier visit to the later one. `entries` are the two readings it rests on."""

    spot: str
    zone: str
    element: str
    role: str
    change: str
    before: str
    after: str
    difference: str  # with its sign, '' where no difference may be made
    repeatability: str
    scale: str
    words: str
    entries: tuple[str, ...]


def visit_changes(evidence: Sequence[Evidence], case: Case, earlier: str, later: str) -> list[SpotChange]:
    """One line for each line of reading of each spot, in order of the spots; spots not read in the later visit last."""
    found: list[SpotChange] = []
    missing: list[SpotChange] = []
    by_spot: dict[str, list[Evidence]] = {}
    for each in sorted(evidence, key=lambda each: (each.taken, each.entered.order)):
        by_spot.setdefault(each.spot.id, []).append(each)
    for name in latest_by_id(case.spots):
        readings = by_spot.get(name, [])
        after = _last_of_lines(readings, later)
        before = _last_of_lines(readings, earlier)
        if not after:
            missing.append(_not_read(name, before, case, later))
            continue
        for line, now in after.items():
            then = before.get(line)
            other = next((each for key, each in before.items() if key not in after), None) if then is None else None
            found.append(_compared(then or other, now, case, same_line=then is not None))
    return found + missing


def _last_of_lines(readings: Sequence[Evidence], visit: str) -> dict[tuple[str, ...], Evidence]:
    """The last reading on each line in one visit. Covering and preparation are part of the line."""
    return {
        (*each.line, each.reading.covering, each.reading.preparation): each
        for each in readings
        if each.reading.visit == visit
    }


def _compared(then: Evidence | None, now: Evidence, case: Case, *, same_line: bool) -> SpotChange:
    limit = repeatability_of(now, case)
    shown_limit = to_resolution(limit, now.scale, 1)
    if then is None:
        return _line(
            now, FIRST, "", "", shown_limit, f"{now.text()} at {now.spot.id}: no reading of the visit before", ()
        )
    entries = (then.entered.entry,)
    if not same_line:
        words = f"{_differs(then, now)}: {then.text()} and {now.text()} are not one trend"
        return _line(now, NOT_COMPARABLE, then.text(), "", shown_limit, words, entries)
    if then.bound or now.bound:
        words = f"from {then.text()} to {now.text()}: a value at an end of its scale shows no difference"
        return _line(now, AT_AN_END, then.text(), "", shown_limit, words, entries)
    difference = now.value - then.value
    beyond = abs(float(difference)) > limit
    change = SAME if not beyond else ROSE if difference > 0 else FELL
    signed = _signed(difference, now)
    side = "more than" if beyond else "not more than"
    words = f"from {then.text()} to {now.text()}: {signed}, {side} r = {shown_limit}"
    return _line(now, change, then.text(), signed, shown_limit, words, entries)


def _line(
    now: Evidence, change: str, before: str, difference: str, limit: str, words: str, earlier: tuple[str, ...]
) -> SpotChange:
    return SpotChange(
        now.spot.id, now.zone.id, now.spot.element, now.spot.role, change, before, now.text(), difference, limit,
        now.scale.key, words, (*earlier, now.entered.entry),
    )  # fmt: skip


def _not_read(spot: str, before: dict[tuple[str, ...], Evidence], case: Case, visit: str) -> SpotChange:
    known = latest_by_id(case.spots)[spot].record
    said = [each for each in case.not_read if each.record.spot == spot and each.record.visit == visit]
    words = f"not read: {said[-1].record.why}" if said else "not read, and nobody said why"
    last = list(before.values())[-1] if before else None
    return SpotChange(
        spot, known.zone, known.element, known.role, NOT_READ, last.text() if last else "", "", "", "",
        last.scale.key if last else "", words, tuple(each.entry for each in said),
    )  # fmt: skip


def _differs(then: Evidence, now: Evidence) -> str:
    pairs = (
        ("instrument", then.instrument.id, now.instrument.id), ("scale", then.scale.key, now.scale.key),
        ("covering", then.reading.covering, now.reading.covering),
        ("preparation", then.reading.preparation, now.reading.preparation),
        ("depth", " to ".join(then.depth_class), " to ".join(now.depth_class)),
    )  # fmt: skip
    named = [
        f"{name} was {one or 'not stated'}, now {other or 'not stated'}" for name, one, other in pairs if one != other
    ]
    return "; ".join(named) or "the scale was described anew"


def _signed(difference: Decimal, each: Evidence) -> str:
    more = 1 if each.correction == "corrected" else 0  # a corrected figure has more digits than the display
    text = to_resolution(difference, each.scale, more)
    if Decimal(text) == 0:
        return text.lstrip("-")
    return f"{MINUS}{text[1:]}" if text.startswith("-") else f"+{text}"
