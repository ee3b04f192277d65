"""The state of the meter is evidence too: what a sweep shows about the instrument rather than about the wall.

Contents: scale_not_confirmed; display_held; step_in_all; interference. A sweep is one pass with one instrument on one
scale in one visit. All thresholds are settings of ours, common practice without a source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from decimal import Decimal

from desorb.core.case import Case
from desorb.core.evidence import Evidence, finding_about
from desorb.core.kinds import ScaleShown
from desorb.core.outcome import BLOCKS_BOTH, BLOCKS_PASS, Finding

PAUSE = timedelta(minutes=60)  # after it the scale is confirmed again
HELD_SPOTS = 3  # successive spots with the same figure to the last digit
STEP_PAIRS = 3  # spots that must all have moved the same way
NEAR_TOP = Decimal("0.02")  # of the range of the scale


def sweeps_of(evidence: Iterable[Evidence]) -> dict[tuple[str, str, str], list[Evidence]]:
    """Readings by (visit, instrument, scale), in the order they were taken. Laboratory results have no sweep."""
    sweeps: dict[tuple[str, str, str], list[Evidence]] = defaultdict(list)
    for each in evidence:
        if each.scale.standing != "absolute":
            sweeps[each.reading.visit, each.instrument.id, each.scale.key].append(each)
    return {key: sorted(members, key=lambda each: (each.taken, each.entered.order)) for key, members in sweeps.items()}


def scale_not_confirmed(evidence: list[Evidence], case: Case) -> Iterator[Finding]:
    """The scale the instrument itself shows is confirmed at the start, after a pause and after any change."""
    line_up: dict[tuple[str, str], list[tuple[datetime, int, Evidence | ScaleShown]]] = defaultdict(list)
    for each in evidence:
        if each.scale.standing != "absolute":
            line_up[each.reading.visit, each.instrument.id].append((each.taken, each.entered.order, each))
    for entered in case.scales_shown:
        shown = entered.record
        moment = datetime.fromisoformat(shown.at)
        line_up[shown.visit, shown.instrument].append((moment, entered.order, shown))
    for (visit, instrument), steps in line_up.items():
        confirmed, differs, last = "", "", None
        open_readings: dict[str, list[Evidence]] = defaultdict(list)
        other_readings: dict[tuple[str, str], list[Evidence]] = defaultdict(list)
        for moment, _, step in sorted(steps, key=lambda each: (each[0], isinstance(each[2], Evidence), each[1])):
            if isinstance(step, ScaleShown):
                described = case.instrument_at(instrument, 10**9)
                scale = described.scale(step.scale) if described else None
                face = (scale.face or scale.key) if scale else step.scale
                confirmed, differs, last = step.scale, "" if _same(face, step.shown) else step.shown, moment
                continue
            if step.scale.key != confirmed or (last is not None and moment - last > PAUSE):
                confirmed = "" if step.scale.key != confirmed else confirmed
                open_readings[step.scale.key].append(step)
            elif differs:
                other_readings[step.scale.key, differs].append(step)
                last = moment
            else:
                last = moment
        for scale_key, members in open_readings.items():
            yield finding_about(
                members, "scale-not-confirmed",
                f"in visit {visit} nobody confirmed that {instrument} itself showed the scale {scale_key!r}"
                " (at the start, after a pause, after a change)", BLOCKS_PASS,
                "look at the instrument, record the scale it shows, and read again what a pass shall rest on",
            )  # fmt: skip
        for (scale_key, shown_words), members in other_readings.items():
            yield finding_about(
                members, "scale-differs",
                f"in visit {visit} {instrument} showed {shown_words!r} while the readings were written down as {scale_key!r}",
                BLOCKS_BOTH, "set the instrument to the scale that was meant and read again",
            )  # fmt: skip


def _same(one: str, other: str) -> bool:
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()


def display_held(evidence: list[Evidence]) -> Iterator[Finding]:
    """The same figure to the last digit at three successive spots: the display may be held."""
    for members in sweeps_of(evidence).values():
        run: list[Evidence] = []
        for each in [*members, None]:
            figures = {value.number for value in each.repeats} if each and not each.bound else set()
            same = bool(run and each and len(figures) == 1 and figures == {value.number for value in run[0].repeats})
            if same and each:
                run.append(each)
                continue
            if len({held.spot.id for held in run}) >= HELD_SPOTS:
                yield finding_about(
                    run, "display-held",
                    f"the same figure {run[0].repeats[0].text} at {len(run)} successive spots: the display may be held",
                    BLOCKS_PASS, "release the display, take a reading in free air and at a known place, then read on",
                )  # fmt: skip
            run = [each] if each and len(figures) == 1 else []


def step_in_all(evidence: list[Evidence], case: Case) -> Iterator[Finding]:
    """Every spot that was read again, controls too, moved the same way by more than repeatability allows."""
    order = case.visit_order()
    sweeps = sweeps_of(evidence)
    for (visit, instrument, scale), members in sweeps.items():
        earlier = [
            key for key in sweeps if key[1:] == (instrument, scale) and order.get(key[0], -1) < order.get(visit, -1)
        ]
        if not earlier:
            continue
        before = {each.spot.id: each for each in sweeps[max(earlier, key=lambda key: order.get(key[0], -1))]}
        pairs = [
            (before[each.spot.id], each)
            for each in members
            if each.spot.id in before
            and not each.bound
            and not before[each.spot.id].bound
            and each.reading.covering == before[each.spot.id].reading.covering
            and each.scale.identity() == before[each.spot.id].scale.identity()
        ]
        limit = 2 * Decimal(members[0].scale.repeatability or members[0].scale.resolution or "1")
        changes = [later.value - first.value for first, later in pairs]
        moved = len(pairs) >= STEP_PAIRS and any(later.is_control for _, later in pairs)
        if moved and (min(changes) > limit or max(changes) < -limit):
            way = "up" if changes[0] > 0 else "down"
            yield finding_about(
                [later for _, later in pairs], "step-in-all",
                f"all {len(pairs)} spots read again in visit {visit}, controls too, moved {way} by more than"
                f" {limit}: the scale or the state of {instrument} may have changed", BLOCKS_PASS,
                "check the scale, the contacts and the check block, then read the controls again",
            )  # fmt: skip


def interference(evidence: list[Evidence]) -> Iterator[Finding]:
    """Uniform readings at the end of the scale on sound places too: metal, mesh, foil, salts or a heating mat."""
    groups: dict[tuple[str, ...], list[Evidence]] = defaultdict(list)
    for each in evidence:
        if each.scale.top and each.scale.bottom:
            key = (each.reading.visit, *each.line, each.zone.construction, each.reading.covering)
            groups[key].append(each)
    for members in groups.values():
        scale = members[0].scale
        floor = Decimal(scale.top) - NEAR_TOP * (Decimal(scale.top) - Decimal(scale.bottom))
        uniform = len(members) >= 3 and all(each.value >= floor for each in members)
        if uniform and any(each.is_control or each.zone.affected == "no" for each in members):
            yield finding_about(
                members, "interference",
                f"uniform limit readings on {len(members)} spots, sound ones too: interference likely (metal, mesh, foil,"
                " salts, heating mat), unusable", BLOCKS_BOTH,
                "find the metal or the salts, and use a method that they do not reach: a sample, a hole or a box",
            )  # fmt: skip
