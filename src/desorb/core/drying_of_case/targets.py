"""What each element is dried to: its target with the source of the figure, and what was set before there was any target.

Contents: targets_shown. A target stands in its own quantity and unit; it is never turned into another.
"""

from __future__ import annotations

from datetime import datetime

from desorb.core.assess import Assessed, assess
from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.condensation import AirLine
from desorb.core.drying_of_case.kit import beside, changes_of, moment
from desorb.core.evidence import Evidence, to_resolution
from desorb.core.kinds import RUNS, Scale, Target, UnitChange
from desorb.core.outcome import ABOVE, Assessment
from desorb.core.shown import Shown, Table
from desorb.core.typed import read_value
from desorb.core.wood_in_air import target_in_air
from desorb.errors import DesorbError, InputError, sentence

TARGETS = "targets"
CONTROL, TIMBER = "control", "timber in this air"
SPOTS = ("spot", "reading", "passes up to", "above control beyond", "scale", "covering", "status")
CONTROLS = ("spots", "their controls")
ONE_VISIT = "That is one visit: the course of drying says whether it is complete."
NO_TARGET = "no target"
ELSEWHERE = ("outside", "inlet", "outlet")  # kinds of air that are not the air of a room
Element = tuple[str, str]


def targets_shown(case: Case, assessed: Assessed | None = None) -> tuple[Shown, ...]:
    """One for each element with a target, then one for each with spots above control and no target. assessed: if at hand."""
    recorded: dict[Element, list[Entered[Target]]] = {}
    for each in case.targets:
        recorded.setdefault((each.record.zone, each.record.element), []).append(each)
    assessed = assessed or assess(case)
    damp = {(each.zone, each.element): each for each in assessed.elements if each.status == ABOVE}
    shown = [_of_target(key, targets, case, assessed) for key, targets in recorded.items()]
    return (*shown, *(_without(key, damp[key], case) for key in damp if key not in recorded))


def _of_target(key: Element, targets: list[Entered[Target]], case: Case, assessed: Assessed) -> Shown:
    last, first = targets[-1], targets[0]
    target, name = last.record, "/".join(key)
    units = _set_before(key[0], moment(first.record.at), case)
    tables: tuple[Table, ...] = ()
    rests_on = [last.entry, *(each.entry for each in units)]
    said = f"source: {target.source}"
    try:
        if target.basis == CONTROL:
            status, words, tables, steps = _control(key, assessed)
        elif target.basis == TIMBER:
            status, words, steps, entries = _timber(key, target, case, assessed)
            rests_on += entries
        else:
            status, words, steps = _stated(target)
    except DesorbError as problem:
        status, words = "cannot say", f"{sentence(problem)}."
        steps = (problem.next_step or "enter the target of this element again",)
    notes = [f"Recorded {target.at}{f' by {target.by}' if target.by else ''}; {said}."]
    notes += [target.words] if target.words else []
    notes += [
        f"Before that: {each.record.basis} {each.record.value} {each.record.unit} ({each.record.source}, {each.record.at})"
        for each in targets[:-1]
    ]
    return Shown(
        kind=TARGETS, id=name, title=f"Target of {name}: {target.basis}", zone=key[0], status=status, words=words,
        cautions=_before_words(units, f"the target was recorded ({first.record.at})"), tables=tables, notes=tuple(notes),
        next_steps=steps, rests_on=tuple(dict.fromkeys(rests_on)),
    )  # fmt: skip


def _without(key: Element, element: Assessment, case: Case) -> Shown:
    name, units = "/".join(key), _set_before(key[0], None, case)
    return Shown(
        kind=TARGETS, id=name, title=f"Target of {name}: none recorded", zone=key[0], status=NO_TARGET,
        words=f"{name} is {element.status} and no target is recorded. The target comes before the kit.",
        cautions=_before_words(units, "any target was recorded"),
        next_steps=(f"record the target of {name}: its basis and where the figure comes from",),
        rests_on=tuple(dict.fromkeys((*element.readings, *(each.entry for each in units)))),
    )  # fmt: skip


def _set_before(zone: str, until: datetime | None, case: Case) -> list[Entered[UnitChange]]:
    """The first time that each unit was set beside the zone, if that was before `until`; without it, at any time."""
    zones, found = beside(zone, case), []
    for _, changes in sorted(changes_of(case).items()):
        first = next((each for each in changes if each.record.change in RUNS and each.record.zone in zones), None)
        when = moment(first.record.at) if first else None
        if first and when and (until is None or when < until):
            found.append(first)
    return found


def _before_words(units: list[Entered[UnitChange]], what: str) -> tuple[str, ...]:
    if not units:
        return ()
    named = ", ".join(f"{each.record.unit} ({each.record.type}, {each.record.at})" for each in units)
    return (f"Set before {what}: {named}.",)


def _control(key: Element, assessed: Assessed) -> tuple[str, str, tuple[Table, ...], tuple[str, ...]]:
    """The limit of each spot as the controls give it, with these controls."""
    name = "/".join(key)
    element = next((each for each in assessed.elements if (each.zone, each.element) == key), None)
    spots = [each for each in assessed.spots if (each.zone, each.element) == key]
    if element is None or not spots:
        raise InputError(
            f"{name} has no spot that was read, so no control gives a limit", got="no reading", wanted="readings of spots",
            next_step=f"read spots of {name}, and controls of the same construction",
        )  # fmt: skip
    scales = {each.entered.entry: each.scale for each in assessed.evidence}
    rows = tuple(
        (each.id, each.value_text, *(_figure(limit, scales[each.readings[0]]) for limit in
         (each.limits.no_higher_up_to, each.limits.above_beyond)), each.scale, each.covering, each.status)
        for each in spots
    )  # fmt: skip
    by_controls: dict[str, list[str]] = {}
    for each in spots:
        by_controls.setdefault(", ".join(each.controls_used) or "none that may be used", []).append(each.id)
    controls = tuple((", ".join(names), used) for used, names in by_controls.items())
    bare = [each.id for each in spots if each.limits.no_higher_up_to is None]
    words = f"Target: no higher than its controls. {name} is {element.status} at visit {element.visit}. {ONE_VISIT}"
    if bare:
        words += (
            f" No limit for {', '.join(bare)}: no control that may be used was read; the assessment of each says why."
        )
    test = element.next_test
    steps = (test.words,) if test else () if element.status != ABOVE else ("read again at the next visit",)
    return element.status, words, (Table(SPOTS, rows), Table(CONTROLS, controls)), steps


def _figure(value: float | None, scale: Scale) -> str:
    return "no limit" if value is None else to_resolution(value, scale, 1)


def _timber(
    key: Element, target: Target, case: Case, assessed: Assessed
) -> tuple[str, str, tuple[str, ...], tuple[str, ...]]:
    """The target held against the air around it at the last visit that read it."""
    typed = read_value(target.value) if target.value.strip() else None
    if typed is None or typed.bound or target.unit.strip() not in ("%", "% MC"):
        raise InputError(
            "a target for timber is one figure in % of dry mass", got=f"{target.value or 'nothing'} {target.unit}",
            wanted="such as 16 and %", next_step="enter the target again with value and unit",
        )  # fmt: skip
    line = _air_of(key[0], case, assessed)
    reading = line.entered.record
    reach = target_in_air(
        float(typed.number),
        float(read_value(reading.temperature).number),
        float(read_value(reading.relative_humidity).number),
    )
    words = (
        f"Target {target.value} {target.unit}, {reach.state} in the air at {reading.place} at visit {reading.visit}:"
        f" {reach.words}."
    )
    if reach.needed_humidity is not None:
        words += f" Air that would hold it: {reach.needed_humidity:.0f} % RH at {reading.temperature} degC."
    wood = _last_of_timber(key, assessed.evidence)
    if wood:
        words += f" Last read: {'; '.join(f'{each.spot.id} {each.text()} ({each.scale.key})' for each in wood)}."
    return reach.state, words, (reach.next_step,), (line.entered.entry, *(each.entered.entry for each in wood))


def _last_of_timber(key: Element, evidence: tuple[Evidence, ...]) -> list[Evidence]:
    last: dict[str, Evidence] = {}
    for each in sorted(evidence, key=lambda each: (each.taken, each.entered.order)):
        if (each.zone.id, each.spot.element) == key and not each.is_control and each.scale.material == "wood":
            last[each.spot.id] = each
    return list(last.values())


def _air_of(zone: str, case: Case, assessed: Assessed) -> AirLine:
    """The last air reading at a place of the zone: that of its enclosure, or the one named like the zone."""
    zones = latest_by_id(case.zones)
    places = {zone, zones[zone].record.words if zone in zones else zone}
    places |= {
        each.record.inside
        for each in latest_by_id(case.enclosures).values()
        if zone in each.record.zones and each.record.inside
    }
    known = {place.casefold().strip() for place in places}
    found = [
        line for line in assessed.air
        if line.entered.record.place.casefold().strip() in known and line.entered.record.kind not in ELSEWHERE
    ]  # fmt: skip
    if not found:
        read = sorted({line.entered.record.place for line in assessed.air})
        raise InputError(
            f"no air was read in {zone}, so it is not known whether the timber can reach its target there",
            got=f"air at {', '.join(read) or 'no place'}", wanted=f"air at {', '.join(sorted(places))}",
            next_step="read air at a place named like the zone, or name its place with the enclosure (inside)",
        )  # fmt: skip
    order = case.visit_order()
    last = max(found, key=lambda line: (order.get(line.entered.record.visit, -1), line.entered.order))
    if last.state is None:
        raise InputError(
            f"the air at {last.entered.record.place} cannot be used: {last.refusal}", next_step="read the air again"
        )
    return last


def _stated(target: Target) -> tuple[str, str, tuple[str, ...]]:
    if not target.value.strip() or not target.unit.strip() or not target.source.strip():
        raise InputError(
            f"a target by {target.basis} has a figure, its unit and its source",
            got=f"{target.value or 'no figure'}, {target.unit or 'no unit'}, {target.source or 'no source'}",
            next_step="enter the target again with all three",
        )  # fmt: skip
    return (
        "recorded", f"Target {target.value} {target.unit}, by {target.basis}: {target.source}. It is not held against readings in"
        " another quantity.", (f"test what the target is of, by the method of its source, and in {target.unit}",),
    )  # fmt: skip
