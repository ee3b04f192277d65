"""Assess: from a folded case to one status for every spot and every element, each with its reasons and next step.

Contents: Assessed (everything an assessment of a case yields); assess (the way of a reading, room by room);
assess_reading (one reading); current readings of a spot.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from desorb.core import condensation, explain
from desorb.core.case import Case, latest_by_id
from desorb.core.checks import check_readings, repeatability_of, with_answer
from desorb.core.compare import Comparison, ControlFinder, blocking, compare
from desorb.core.elements import REMOVED, doubtful_descriptions, element_assessments, rested_on_removed
from desorb.core.evidence import Evidence, evidence_of, finding_about
from desorb.core.gates import air_moved_despite_gate, arrival_gates
from desorb.core.next_tests import baring, next_test
from desorb.core.outcome import (
    ABOVE,
    BLOCKS_NOTHING,
    BLOCKS_PASS,
    CANNOT_SAY,
    NO_HIGHER,
    Assessment,
    Finding,
    GateState,
    Limits,
    NextTest,
)
from desorb.core.rule import REPEATABILITY_FACTOR, TOLERANCE_1
from desorb.core.typed import AT_LEAST, AT_MOST


@dataclass(frozen=True, slots=True)
class Assessed:
    """All that can be said of a case. Nothing is computed for a whole house."""

    spots: tuple[Assessment, ...]
    elements: tuple[Assessment, ...]
    history: tuple[Assessment, ...]  # every reading that is evidence, oldest first
    findings: tuple[Finding, ...]
    air: tuple[condensation.AirLine, ...]
    gates: tuple[GateState, ...]  # what could hurt someone here
    evidence: tuple[Evidence, ...]

    @property
    def all(self) -> tuple[Assessment, ...]:
        return self.spots + self.elements


def assess(case: Case, *, history: bool = False) -> Assessed:
    """Assess a case. With `history`, every reading is assessed, not only the current one of each spot."""
    evidence, missing = evidence_of(case)
    findings = missing + check_readings(evidence, case)
    spread = _measured_repeat_spread(evidence)
    findings += _repeats_worse_than_declared(evidence, spread, case)
    finder = ControlFinder(evidence, findings, case)
    by_entry: dict[str, list[Finding]] = defaultdict(list)
    for finding in findings:
        for entry in finding.entries:
            by_entry[entry].append(finding)

    done: dict[str, tuple[Assessment, Comparison]] = {}

    def assessed(each: Evidence) -> tuple[Assessment, Comparison]:
        if each.entered.entry not in done:
            done[each.entered.entry] = assess_reading(each, finder, case, by_entry, spread.get(_key(each), 0.0))
        return done[each.entered.entry]

    surveyed: dict[str, list[Evidence]] = defaultdict(list)
    for each in evidence:
        if not each.is_control:
            surveyed[each.spot.id].append(each)
    spots, currents = [], {}
    for spot, readings in surveyed.items():
        current = current_readings(readings)
        currents[spot] = current
        spots.append(_of_spot([assessed(each)[0] for each in current], current, case))
    spots += _of_removed(case, {spot.id for spot in spots})
    spots.sort(key=lambda each: (latest_order(case, each.zone), each.element, each.id))
    elements = element_assessments(case, spots, currents, {key: value[1] for key, value in done.items()})
    ordered = sorted(evidence, key=lambda each: (each.taken, each.entered.order)) if history else []
    lines = condensation.air_lines(case)
    findings += condensation.air_findings(lines, case) + _of_case(case)
    computed = [finding for assessment, _ in done.values() for finding in assessment.findings]
    findings = list(dict.fromkeys([*findings, *computed]))
    return Assessed(
        tuple(spots),
        tuple(elements),
        tuple(assessed(each)[0] for each in ordered if not each.is_control),
        tuple(findings),
        tuple(lines),
        tuple(arrival_gates(case)),
        tuple(evidence),
    )


def latest_order(case: Case, zone: str) -> int:
    return list(latest_by_id(case.zones)).index(zone) if zone in latest_by_id(case.zones) else 10**6


def current_readings(readings: Sequence[Evidence]) -> list[Evidence]:
    """The last reading on each line of the spot's last visit. Earlier visits are history, never copied down."""
    last = max(readings, key=lambda each: (each.taken, each.entered.order))
    lines: dict[tuple[str, ...], Evidence] = {}
    for each in sorted(readings, key=lambda each: (each.taken, each.entered.order)):
        if each.reading.visit == last.reading.visit:
            lines[each.line] = each
    return list(lines.values())


def _key(each: Evidence) -> tuple[object, ...]:
    return (each.instrument.id, each.scale)


def _measured_repeat_spread(evidence: Sequence[Evidence]) -> dict[tuple[object, ...], float]:
    """Pooled standard deviation of repeats by instrument and scale [digits], from spots with two repeats or more."""
    sums: dict[tuple[object, ...], tuple[float, int]] = defaultdict(lambda: (0.0, 0))
    for each in evidence:
        if len(each.repeats) > 1 and not each.bound:
            numbers = [float(value.number) for value in each.repeats]
            mean = sum(numbers) / len(numbers)
            total, degrees = sums[_key(each)]
            sums[_key(each)] = (total + sum((n - mean) ** 2 for n in numbers), degrees + len(numbers) - 1)
    return {key: math.sqrt(total / degrees) for key, (total, degrees) in sums.items() if degrees >= 4}


def _repeats_worse_than_declared(
    evidence: Sequence[Evidence], spread: dict[tuple[object, ...], float], case: Case
) -> list[Finding]:
    findings, seen = [], set()
    for each in evidence:
        key = _key(each)
        if key in seen or key not in spread:
            continue
        seen.add(key)
        declared = repeatability_of(each, case) / REPEATABILITY_FACTOR
        if spread[key] > 2 * declared:
            findings.append(
                Finding(
                    "repeats-exceed-declared",
                    f"repeats with {each.instrument.id} on {each.scale.key} spread by {spread[key]:.2g} digits (standard"
                    f" deviation), more than twice the declared {declared:.2g}: the measured spread is used",
                    BLOCKS_NOTHING, "measure the repeatability limit of this scale and state it with the scale",
                    instrument=each.instrument.id, scale=each.scale.key,
                )
            )  # fmt: skip
    return findings


def assess_reading(
    each: Evidence, finder: ControlFinder, case: Case, by_entry: dict[str, list[Finding]], repeat_spread: float
) -> tuple[Assessment, Comparison]:
    """The status of one reading: what may be compared at all, then the rule, then what may not pass."""
    comparison = compare(each, finder, case, repeat_spread)
    own = by_entry.get(each.entered.entry, [])
    of_controls = [finding for control in comparison.used for finding in by_entry.get(control.entered.entry, [])]
    every = list(dict.fromkeys([*own, *of_controls]))
    entries = {each.entered.entry} | {control.entered.entry for control in comparison.used}
    both, only_pass = blocking(every, entries)
    both = [finding for finding in both if finding in own]
    decision = comparison.decision
    below = _well_below(each, comparison, case)
    every += below
    only_pass += [finding for finding in below if not finding.answered]
    reasons: list[str] = []
    test: NextTest | None = None
    status = CANNOT_SAY

    def step(key: str, **words: object) -> NextTest:
        return next_test(
            key, each.zone.id, each.reading.covering, case, each.scale.principle == "electrical resistance",
            **({"material": each.construction.material, "construction": each.construction.words,
                "instrument": each.instrument.id} | words),
        )  # fmt: skip

    if both:
        reasons += [finding.words for finding in both]
        key = _STEP_OF_FINDING.get(both[0].code, "instrument")
        test = step(baring(each.reading.covering) if key == "lift covering" else key, finding=both[0].next_step)
    elif each.bound == AT_MOST:
        reasons.append(explain.reason_of_bound(each, decision))
        test = step("contacts")
    elif decision is None:
        reasons.append(explain.reason_of_comparison(each, comparison))
        if each.bound:
            reasons.append(explain.reason_of_bound(each, decision))
        test = _step_for_controls(comparison, step)
    elif decision.status == ABOVE:
        status = ABOVE
        reasons.append(explain.reason_of_bound(each, decision) or explain.reason_of_comparison(each, comparison))
        if each.bound:
            reasons.append(explain.reason_of_comparison(each, comparison))
        reasons += [f"{finding.words} (this alone does not undo it)" for finding in only_pass]
        test = step("depth or logging")
    else:
        status, reasons, test = _what_may_not_pass(each, comparison, only_pass, step)
        reasons += [f"{finding.words}; answered: {finding.answered}" for finding in below if finding.answered]
    reasons += _assumed_layers(each)
    reasons += [finding.words for finding in own if finding.code in ("readiness-absent", "gradient")]
    limits = decision.limits if decision else Limits(controls=len(comparison.used))
    limit = limits.no_higher_up_to if status == NO_HIGHER else limits.above_beyond
    aside = comparison.prepared.set_aside if comparison.prepared else ()
    assessment = Assessment(
        kind="spot", id=each.spot.id, zone=each.zone.id, element=each.spot.element, visit=each.reading.visit,
        status=status, value=float(each.value), value_text=each.text(), unit=each.scale.unit, limit=limit,
        limits=limits, rule=case.setting("rule", TOLERANCE_1), scale=each.scale.key, instrument=each.instrument.id,
        covering=each.reading.covering, taken_at=each.reading.taken_at, readings=(each.entered.entry,),
        controls_used=tuple(f"{control.spot.id} {control.text()} ({control.entered.entry})" for control in comparison.used),
        controls_refused=tuple(comparison.found.refused),
        controls_set_aside=tuple(comparison.used[position].spot.id for position in aside),
        reasons=(*reasons, explain.value_in_context(each)), findings=tuple(every), next_test=test,
        gates=test.gates if test else (), spots=(each.spot.id,),
    )  # fmt: skip
    return assessment, comparison


_STEP_OF_FINDING = {
    "wrong-scale": "right scale", "beyond-scale": "answer finding", "equivalent-through-covering": "lift covering",
    "check-failed": "instrument", "scale-differs": "instrument", "interference": "sample", "salts": "sample",
}  # fmt: skip


_STEP_OF_HOLDING = {
    "check-overdue": "instrument", "check-unknown": "instrument", "calibration-overdue": "instrument",
    "not-ready": "instrument", "well-below-control": "contacts",
}  # fmt: skip


class _Step(Protocol):
    """Makes a next test at the place of the reading."""

    def __call__(self, key: str, **words: object) -> NextTest: ...


def _step_for_controls(comparison: Comparison, step: _Step) -> NextTest:
    if comparison.why_not in ("stale", "moved"):
        return step("reread controls")
    if comparison.why_not == "at an end":
        return step("sample")
    if comparison.why_not == "no row":
        return step("state a margin")
    return step("more controls", count=3 - len(comparison.used))


def _what_may_not_pass(
    each: Evidence, comparison: Comparison, only_pass: list[Finding], step: _Step
) -> tuple[str, list[str], NextTest | None]:
    """Not above. Everything that keeps it from being no higher is said; the first decides the next step."""
    decision = comparison.decision
    assert decision is not None
    holding: list[tuple[str, NextTest]] = []
    if each.bound == AT_LEAST:
        holding.append((explain.reason_of_bound(each, decision), step("sample")))
    if each.covered:
        holding.append((explain.reason_of_covering(each), step(baring(each.reading.covering))))
    for finding in only_pass:
        key = _STEP_OF_HOLDING.get(finding.code, "answer finding")
        holding.append((finding.words, step(key, finding=finding.next_step)))
    if comparison.older_set or comparison.found.stale:
        words = f"{len(comparison.found.stale)} control(s) of the set were not read again: a pass needs the full set that day"
        holding.append((words, step("reread controls")))
    if decision.status == CANNOT_SAY:
        words = explain.reason_of_comparison(each, comparison)
        if each.covered:
            words = f"{words}; not above"
        holding.insert(0 if not each.covered else len(holding), (words, step("repeat")))
    if holding:
        return CANNOT_SAY, [words for words, _ in holding], holding[0][1]
    return NO_HIGHER, [explain.reason_of_comparison(each, comparison)], None


def _well_below(each: Evidence, comparison: Comparison, case: Case) -> list[Finding]:
    """Far below the controls is no good news: a contact that does not touch reads low. One finding, or none."""
    prepared = comparison.prepared
    if prepared is None or each.bound or each.scale.standing == "absolute":
        return []
    floor = prepared.digits(2 * prepared.mean - prepared.above_beyond)
    if float(each.value) >= floor:
        return []
    words = f"{each.text()} at {each.spot.id} stands well below the controls (below {floor:.3g}): a contact may not have touched"
    step = "free the contacts and read again; or say why this place is truly drier than the sound one"
    return [with_answer(finding_about([each], "well-below-control", words, BLOCKS_PASS, step), case)]


def _assumed_layers(each: Evidence) -> list[str]:
    assumed = [layer.words for layer in each.construction.layers if layer.evidence == "assumed"]
    return [f"rests on an assumed layer: {', '.join(assumed)}"] if assumed else []


def _of_spot(lines: list[Assessment], current: Sequence[Evidence], case: Case) -> Assessment:
    """One status for a spot that was read on several lines: above if any is; a clipped line holds a pass back."""
    ranked = sorted(lines, key=lambda each: {ABOVE: 0, NO_HIGHER: 1, CANNOT_SAY: 2}[each.status])
    leading = ranked[0]
    others = tuple(f"{each.value_text} on {each.scale}: {each.status}; {each.reasons[0]}" for each in ranked[1:])
    held = [each for each in lines if each.status == CANNOT_SAY and each.value_text.startswith("\u2265")]
    if leading.status == NO_HIGHER and held:
        words = f"on {held[0].scale} the same place stands at the end of the scale"
        leading = replace(held[0], reasons=(words, *held[0].reasons))
    if len(lines) > 1:
        leading = replace(
            leading, other_lines=others,
            reasons=(*leading.reasons, "read on more than one scale: each is assessed by itself, no mean and no conversion"),
        )  # fmt: skip
    if rested_on_removed(leading.id, max(each.entered.order for each in current), case):
        again = next_test("repeat", leading.zone, leading.covering, case)
        leading = replace(
            leading, status=CANNOT_SAY, reasons=(REMOVED, *leading.reasons), next_test=again, gates=again.gates
        )
    order = case.visit_order()
    last_visit = max(order, key=lambda visit: order[visit]) if order else ""
    if last_visit and leading.visit != last_visit:
        leading = replace(
            leading, reasons=(*leading.reasons, f"not read in visit {last_visit}: this is of visit {leading.visit}")
        )
    return leading


def _of_removed(case: Case, present: set[str]) -> list[Assessment]:
    """Spots whose readings were lawfully removed, and that have no reading left."""
    spots = latest_by_id(case.spots)
    gone = {spot for removed in case.removed for spot in removed.removal.record.rested}
    return [
        Assessment(
            kind="spot", id=spot, zone=spots[spot].record.zone if spot in spots else "",
            element=spots[spot].record.element if spot in spots else "", visit="", status=CANNOT_SAY, value=None,
            value_text="removed", unit="", limit=None, limits=Limits(), rule=case.setting("rule", TOLERANCE_1), scale="",
            instrument="", covering="", taken_at="", readings=(), controls_used=(), controls_refused=(),
            controls_set_aside=(), reasons=(REMOVED,),
            findings=(), next_test=next_test("read missing", spots[spot].record.zone if spot in spots else "", "", case,
                                             spots=spot), gates=(), spots=(spot,),
        )
        for spot in sorted(gone - present)
        if "/" not in spot
    ]  # fmt: skip


def _of_case(case: Case) -> list[Finding]:
    """Findings about the record rather than about a reading."""
    findings = [
        Finding("row-changed", f"entry {each.entry} has the identity of a row already taken, and other content", BLOCKS_NOTHING,
                "confirm the correction: strike the old entry and take the row again", entries=(each.entry,))
        for each in case.changed_rows
    ]  # fmt: skip
    findings += [
        Finding("gap", str(gap), BLOCKS_NOTHING, "find the device and bring its entries in") for gap in case.gaps
    ]
    findings += [
        Finding(
            "set-aside", f"entry set aside: {words}", BLOCKS_NOTHING, "look where it came from; nothing of it counts"
        )
        for words in case.set_aside
    ]
    findings += [
        Finding(
            "clock",
            f"entry {entry}: {words}",
            BLOCKS_NOTHING,
            "set the clock; order does not rest on it",
            entries=(entry,),
        )
        for entry, words in case.doubtful_times
    ]
    findings += [
        Finding("not-understood", words, BLOCKS_NOTHING, "open the case with the version that wrote it")
        for words in case.not_understood
    ]
    findings += [
        Finding("air-moved-at-a-stop", words, BLOCKS_NOTHING, gates[0].asks, entries=(entry,))
        for entry, words, gates in air_moved_despite_gate(case)
    ]
    findings += doubtful_descriptions(case)
    if not case.not_inspected:
        findings.append(
            Finding("not-inspected-empty", "nobody said what was not inspected", BLOCKS_NOTHING,
                    "write down every place that was not reached; if there was none, one line without a place that says so")
        )  # fmt: skip
    return findings
