"""The status of an element (a floor, a wall, the rafters of a slope) from its spots.

Above if any spot is above. No higher if none is above, the mean is non-inferior, and at most a third of the spots are
undecided or not read. Otherwise cannot say. Spots on different scales are never brought into one mean: each group
must pass by itself. The smallest damp pocket that the sampling could have missed is stated.

Contents: element_assessments; rested_on_removed; doubtful_descriptions (words that would change an element in silence).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from desorb.core import statistics
from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.compare import Comparison, comparison_key
from desorb.core.evidence import Evidence
from desorb.core.next_tests import next_test
from desorb.core.outcome import ABOVE, BLOCKS_NOTHING, CANNOT_SAY, NO_HIGHER, Assessment, Finding, Limits, NextTest
from desorb.core.rule import TOLERANCE_1, UNDECIDED_SHARE, mean_is_non_inferior

REMOVED = "what this rested on was removed: cannot say (removed)"


def element_assessments(
    case: Case,
    spots: Sequence[Assessment],
    currents: Mapping[str, Sequence[Evidence]],
    comparisons: Mapping[str, Comparison],
) -> list[Assessment]:
    """One assessment for every element that has survey spots, in the order of the zones."""
    members: dict[tuple[str, str], list[Assessment]] = defaultdict(list)
    for spot in spots:
        members[spot.zone, spot.element].append(spot)
    planned: dict[tuple[str, str], list[str]] = defaultdict(list)
    for entered in latest_by_id(case.spots).values():
        if entered.record.role == "survey":
            planned[entered.record.zone, entered.record.element].append(entered.record.id)
    return [_element(key, members.get(key, []), names, case, currents, comparisons) for key, names in planned.items()]


def _element(
    key: tuple[str, str],
    read: list[Assessment],
    planned: list[str],
    case: Case,
    currents: Mapping[str, Sequence[Evidence]],
    comparisons: Mapping[str, Comparison],
) -> Assessment:
    zone, element = key
    order = case.visit_order()
    visit = max((each.visit for each in read), key=lambda name: order.get(name, -1), default="")
    today = [each for each in read if each.visit == visit]
    not_read = [name for name in planned if name not in {each.id for each in today}]
    status, reasons, test = _status(zone, read, today, not_read, case, currents, comparisons)
    for entered in case.not_inspected:
        if f"{zone}/{element}" in entered.record.elements and status == NO_HIGHER:
            status = CANNOT_SAY
            reasons.insert(
                0, f"{entered.record.place} was not inspected ({entered.record.why}): {entered.record.effect}"
            )
            test = next_test("open up", zone, "", case, place=entered.record.place)
    newest = max((reading.entered.order for each in read for reading in currents.get(each.id, ())), default=-1)
    if status == NO_HIGHER and rested_on_removed(f"{zone}/{element}", newest, case):
        status, test = CANNOT_SAY, next_test("repeat", zone, "", case)
        reasons.insert(0, REMOVED)
    limits = next((each.limits for each in today if each.limits.above_beyond is not None), Limits())
    pocket = statistics.smallest_pocket(len(today)) if today else None
    if pocket is not None:
        reasons.append(
            f"{len(today)} spot{'s' if len(today) > 1 else ''} read: a damp pocket below {pocket * 100:.0f} % of the element"
            " could have been missed (95 %, spots placed at random)"
        )
    gathered = [each for each in today if each.status == (ABOVE if status == ABOVE else each.status)]
    return Assessment(
        kind="element", id=f"{zone}/{element}", zone=zone, element=element, visit=visit, status=status, value=None,
        value_text="", unit="", limit=limits.no_higher_up_to if status == NO_HIGHER else limits.above_beyond,
        limits=limits, rule=case.setting("rule", TOLERANCE_1), scale=", ".join(dict.fromkeys(each.scale for each in today)),
        instrument=", ".join(dict.fromkeys(each.instrument for each in today)),
        covering=", ".join(dict.fromkeys(each.covering for each in today)), taken_at="",
        readings=tuple(entry for each in gathered for entry in each.readings),
        controls_used=tuple(dict.fromkeys(name for each in today for name in each.controls_used)),
        controls_refused=tuple(dict.fromkeys(refusal for each in today for refusal in each.controls_refused)),
        controls_set_aside=tuple(dict.fromkeys(name for each in today for name in each.controls_set_aside)),
        reasons=tuple(reasons), findings=tuple(dict.fromkeys(finding for each in today for finding in each.findings)),
        next_test=test, gates=test.gates if test else (), spots=tuple(each.id for each in today),
        spots_not_read=tuple(not_read), smallest_pocket=pocket,
    )  # fmt: skip


def rested_on_removed(name: str, newest: int, case: Case) -> bool:
    """Did a spot or element rest on an entry that was lawfully removed, with nothing read since (`newest`: fold order)?"""
    return any(name in removed.removal.record.rested and removed.removal.order > newest for removed in case.removed)


def _status(
    zone: str,
    read: list[Assessment],
    today: list[Assessment],
    not_read: list[str],
    case: Case,
    currents: Mapping[str, Sequence[Evidence]],
    comparisons: Mapping[str, Comparison],
) -> tuple[str, list[str], NextTest | None]:
    missing = next_test("read missing", zone, "", case, spots=", ".join(not_read)) if not_read else None
    if not today:
        return CANNOT_SAY, ["no spot of this element was read"], missing
    above = [each for each in today if each.status == ABOVE]
    if above:
        names = ", ".join(each.id for each in above)
        return ABOVE, [f"{len(above)} of {len(today)} spots above control: {names}"], above[0].next_test
    left = [each for each in read if each.id in not_read and each.status == ABOVE]
    if left:
        names = ", ".join(each.id for each in left)
        return CANNOT_SAY, [f"{names} was above control when last read and was not read again"], missing
    undecided = [each for each in today if each.status == CANNOT_SAY]
    share = len(undecided) + len(not_read)
    if share > UNDECIDED_SHARE * (len(today) + len(not_read)):
        words = f"{len(undecided)} of {len(today)} spots undecided" + (
            f", {len(not_read)} not read" if not_read else ""
        )
        first = undecided[0] if undecided else None
        reasons = [words] + ([f"{first.id}: {first.reasons[0]}"] if first else [])
        return CANNOT_SAY, reasons, first.next_test if first else missing
    failing = _groups_that_do_not_pass([each.id for each in today], currents, comparisons)
    if failing:
        return CANNOT_SAY, failing, next_test("repeat", zone, "", case)
    names = f"; undecided: {', '.join(each.id for each in undecided)}" if undecided else ""
    return (
        NO_HIGHER,
        [f"none of {len(today)} spots above control, and their mean is no higher by the margin{names}"],
        None,
    )


def _groups_that_do_not_pass(
    names: list[str], currents: Mapping[str, Sequence[Evidence]], comparisons: Mapping[str, Comparison]
) -> list[str]:
    """Sentences for the groups (one scale, instrument, covering, depth) whose mean is not non-inferior."""
    groups: dict[tuple[object, ...], list[Evidence]] = defaultdict(list)
    for name in names:
        for each in currents[name]:
            groups[comparison_key(each)].append(each)
    sentences = []
    decided = 0
    for members in groups.values():
        prepared = next(
            (found.prepared for each in members if (found := comparisons[each.entered.entry]).prepared is not None),
            None,
        )
        if prepared is None:
            continue
        decided += 1
        values = [float(each.value) for each in members if not each.bound]
        if len(values) < len(members) or not mean_is_non_inferior(prepared, values):
            sentences.append(
                f"the mean of {len(members)} spots on {members[0].scale.key} is not clearly within the margin of the controls"
            )
    return sentences if decided else ["no group of spots could be compared with controls"]


_DECIDING = {
    "zone": ("construction", "affected"),
    "construction": ("material", "built"),
    "spot": ("zone", "element", "role"),
}


def doubtful_descriptions(case: Case) -> list[Finding]:
    """Findings about words that would change an assessment in silence: described again, or speaking of no element."""
    findings: list[Finding] = []
    first: dict[tuple[str, str], Any] = {}
    described: list[Entered[Any]] = [*case.zones, *case.constructions, *case.spots]
    for entered in described:
        record = entered.record
        earlier = first.setdefault((record.KIND, record.id), record)
        changed = [
            f"{part} was {getattr(earlier, part) or 'not stated'}, is {getattr(record, part) or 'not stated'} now"
            for part in _DECIDING[record.KIND]
            if getattr(earlier, part) != getattr(record, part)
        ]
        if changed:
            findings.append(
                Finding("described-again", f"{record.KIND} {record.id} was described again: {'; '.join(changed)}",
                        BLOCKS_NOTHING, "see that both descriptions are meant; assessments rest on the last one",
                        entries=(entered.entry,))
            )  # fmt: skip
    findings += _visits_begun_twice(case)
    elements = {f"{each.record.zone}/{each.record.element}" for each in latest_by_id(case.spots).values()}
    named: list[tuple[Entered[Any], str]] = [
        (entered, name) for entered in case.not_inspected for name in entered.record.elements
    ]
    named += [(entered, f"{entered.record.zone}/{entered.record.element}") for entered in case.salt_tests]
    findings += [
        Finding("names-nothing", f"entry {entered.entry} ({entered.record.KIND}) speaks of {name!r}, and no spot lies there",
                BLOCKS_NOTHING, f"write it as zone/element; known: {', '.join(sorted(elements)) or 'none yet'}",
                entries=(entered.entry,))
        for entered, name in named
        if name not in elements
    ]  # fmt: skip
    return findings


def _visits_begun_twice(case: Case) -> list[Finding]:
    """Two devices, or two days, under one visit id: their readings would stand in each other's place."""
    begun: dict[str, list[Entered[Any]]] = defaultdict(list)
    for entered in case.visits:
        begun[entered.record.id].append(entered)
    return [
        Finding("visit-begun-twice",
                f"visit {visit} was begun {len(entries)} times: {'; '.join(_begun(entered) for entered in entries)}",
                BLOCKS_NOTHING, "see whose readings are whose; of two in one visit only the last of a spot counts. Begin the"
                " next visit under a word of its own", visit=visit, entries=tuple(entered.entry for entered in entries))
        for visit, entries in begun.items()
        if len({(entered.device, entered.record.begun_at[:10]) for entered in entries}) > 1
    ]  # fmt: skip


def _begun(entered: Entered[Any]) -> str:
    return f"{entered.record.begun_at} by {entered.record.by or 'nobody named'}"
