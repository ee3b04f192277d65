"""Is it evidence? What the state of the instrument, the scale, the surface and the meter lets a reading support.

Contents: check_readings (all findings of a case, in this order): wrong scale, beyond the scale, equivalent through a
covering, wood not corrected; repeats; instrument checks (overdue, failed, never made); readiness; the scale shown on
the instrument; a held display; a step in all values; interference; salts; gradients over depth; places read twice.
Every finding says what it blocks and what to do next. An answered finding stays visible and blocks nothing, except what
no words can mend: an instrument that is not in check, a wrong scale, a figure that its scale cannot give.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from functools import cache
from itertools import pairwise

from desorb.core import fitness, meter_state, statistics
from desorb.core.case import Case
from desorb.core.evidence import Evidence, finding_about, scale_class, to_resolution
from desorb.core.outcome import BLOCKS_BOTH, BLOCKS_NOTHING, BLOCKS_PASS, Finding
from desorb.core.rule import REPEATABILITY_FACTOR

NOT_MENDED_BY_WORDS = (
    "check-failed", "check-overdue", "check-unknown", "calibration-overdue", "wrong-scale", "beyond-scale",
    "equivalent-through-covering", "scale-differs",
)  # fmt: skip


def check_readings(evidence: list[Evidence], case: Case) -> list[Finding]:
    """All findings about the readings of a case, answered ones marked as such."""
    findings: list[Finding] = []
    for each in evidence:
        findings.extend(_of_one_reading(each, case))
    findings.extend(fitness.of_checks(evidence, case))
    findings.extend(fitness.of_readiness(evidence, case))
    findings.extend(meter_state.scale_not_confirmed(evidence, case))
    findings.extend(meter_state.display_held(evidence))
    findings.extend(meter_state.step_in_all(evidence, case))
    findings.extend(meter_state.interference(evidence))
    findings.extend(_salts(evidence, case))
    findings.extend(_gradients(evidence))
    findings.extend(_read_twice(evidence, case))
    return [with_answer(finding, case) for finding in findings]


def with_answer(finding: Finding, case: Case) -> Finding:
    """The finding, marked as answered if somebody said what was done about it in that visit."""
    if finding.code in NOT_MENDED_BY_WORDS:
        return finding
    for entered in case.finding_answers:
        answer = entered.record
        if not (answer.words.strip() and answer.by.strip()):
            continue
        fits = answer.code == finding.code and answer.visit == finding.visit and answer.instrument == finding.instrument
        if fits and answer.scale in ("", finding.scale):
            return replace(finding, blocks=BLOCKS_NOTHING, answered=f"{answer.words} ({answer.by}, {answer.at})")
    return finding


def _of_one_reading(each: Evidence, case: Case) -> Iterable[Finding]:
    scale, shown = each.scale, each.text()
    if scale.material and scale.material.casefold() != each.construction.material.casefold():
        yield finding_about([each], "wrong-scale",
            f"{shown} at {each.spot.id} was read on a scale fitted to {scale.material}, on {each.construction.material}",
            BLOCKS_BOTH, f"read again on a scale fitted to {each.construction.material}, or on a comparative scale",
        )  # fmt: skip
    top = Decimal(scale.top) if scale.top else None
    bottom = Decimal(scale.bottom) if scale.bottom else None
    outside = [
        value.text
        for value in each.repeats
        if (top is not None and value.number > top) or (bottom is not None and value.number < bottom)
    ]
    if outside:
        yield finding_about([each], "beyond-scale",
            f"{', '.join(outside)} at {each.spot.id} lies beyond the scale, which runs from {scale.bottom} to {scale.top}",
            BLOCKS_BOTH, "check the figure and the scale; strike the entry and write it again if it was mistyped",
        )  # fmt: skip
    if scale.claims == "equivalent" and each.covered:
        yield finding_about([each], "equivalent-through-covering",
            f"{shown} at {each.spot.id} claims to equal {scale.method or 'another method'} but was read through"
            f" {each.reading.covering}: it is not a valid figure",
            BLOCKS_BOTH, "read the bare material, or take a sample or a hole behind their gates",
        )  # fmt: skip
    if each.correction == "uncorrected":
        yield finding_about([each], "wood-uncorrected", f"{shown} at {each.spot.id} is {each.correction_words}", BLOCKS_PASS,
            "record the temperature and species of the wood, and the instrument's own table, then read again",
        )  # fmt: skip
    yield from _of_repeats(each, case)


@cache
def _range_factor(repeats: int) -> float:
    return statistics.repeat_critical_range(repeats, 1.0)  # [ISO-5725-6] critical range of n repeats / s_r


def _of_repeats(each: Evidence, case: Case) -> Iterable[Finding]:
    if len(each.repeats) < 2 or each.bound:
        return
    allowed = _allowed_range(each, len(each.repeats), case)
    numbers = sorted(value.number for value in each.repeats)
    if len(numbers) >= 3 and numbers[1] - numbers[0] > allowed and numbers[-1] - numbers[1] <= allowed:
        yield finding_about([each], "low-repeat",
            f"one repeat at {each.spot.id} ({to_resolution(numbers[0], each.scale)}) stands well below the others:"
            " a contact may not have touched", BLOCKS_PASS, "free and clean the contacts, then repeat at this spot",
        )  # fmt: skip
    elif each.range > allowed:
        yield finding_about([each], "wide-repeats",
            f"repeats at {each.spot.id} ({', '.join(value.text for value in each.repeats)}) spread over"
            f" {to_resolution(each.range, each.scale)}, more than {to_resolution(allowed, each.scale, 1)}",
            BLOCKS_PASS, "look at the contacts and the surface, then repeat at this spot",
        )  # fmt: skip


def _allowed_range(each: Evidence, repeats: int, case: Case) -> Decimal:
    """What so many repeats may spread over [digits], and never less than two steps of the display."""
    declared = Decimal(str(repeatability_of(each, case)))
    resolution = Decimal(each.scale.resolution) if each.scale.resolution else Decimal(0)
    return max(Decimal(str(_range_factor(repeats) / REPEATABILITY_FACTOR)) * declared, 2 * resolution)


def repeatability_of(each: Evidence, case: Case) -> float:
    """The declared 95 % repeatability limit r of the scale [digits]: its own, else that of its class, else one step."""
    if each.scale.repeatability:
        return float(each.scale.repeatability)
    row = case.rule_row(scale_class(each.scale))
    return float(row.repeatability) if row else float(each.scale.resolution or 1)


def _salts(evidence: list[Evidence], case: Case) -> Iterable[Finding]:
    positive = {
        (entered.record.zone, entered.record.element): entered.record
        for entered in case.salt_tests
        if entered.record.result == "positive"
    }
    gravimetric = {(each.zone.id, each.spot.element) for each in evidence if each.scale.standing == "absolute"}
    groups: dict[tuple[str, str, str], list[Evidence]] = defaultdict(list)
    for each in evidence:
        electrical = each.scale.principle in ("electrical resistance", "capacitance", "electrical impedance")
        if electrical and (each.zone.id, each.spot.element) in positive:
            groups[each.zone.id, each.spot.element, each.reading.visit].append(each)
    for (zone, element, _), members in groups.items():
        sampled = "; a sample was dried: go by it" if (zone, element) in gravimetric else ""
        yield finding_about(
            members, "salts",
            f"a salt test of {zone}, {element} was positive ({positive[zone, element].method}): salts raise electrical"
            f" readings without water{sampled}", BLOCKS_BOTH,
            "dry a sample and find its hygroscopic moisture; electrical readings decide nothing here",
        )  # fmt: skip


def _gradients(evidence: list[Evidence]) -> Iterable[Finding]:
    """Two depths at one spot in one visit: the difference is told, a mean is not made."""
    places: dict[tuple[str, str, str, str], list[Evidence]] = defaultdict(list)
    for each in evidence:
        if each.reading.depth_to and not each.bound:
            places[each.spot.id, each.reading.visit, each.instrument.id, each.reading.scale].append(each)
    for members in places.values():
        by_depth = sorted(members, key=lambda each: float(each.reading.depth_to.replace(",", ".")))
        for upper, lower in pairwise(by_depth):
            if upper.depth_class == lower.depth_class:
                continue
            difference = lower.value - upper.value
            if abs(difference) <= Decimal(lower.scale.repeatability or lower.scale.resolution or "0"):
                continue
            where = "wetter below" if difference > 0 else "wetter above"
            yield finding_about(
                [upper, lower], "gradient",
                f"at {upper.spot.id} {upper.text()} down to {upper.reading.depth_to} mm and {lower.text()} down to"
                f" {lower.reading.depth_to} mm: {to_resolution(abs(difference), lower.scale)} points, {where};"
                " no mean is made over depth", BLOCKS_NOTHING, "compare each depth with controls at the same depth",
            )  # fmt: skip


def _read_twice(evidence: list[Evidence], case: Case) -> Iterable[Finding]:
    """One place read twice in one visit, the same way, with figures that do not agree: the later one is no correction."""
    places: dict[tuple[object, ...], list[Evidence]] = defaultdict(list)
    for each in evidence:
        reading = each.reading
        how = (reading.covering, reading.preparation, reading.finish)
        places[each.spot.id, reading.visit, each.line, how].append(each)
    for members in places.values():
        values = [each.value for each in members]
        if len(members) > 1 and max(values) - min(values) > _allowed_range(members[0], len(members), case):
            shown = " and ".join(each.text() for each in members)
            yield finding_about(
                members, "read-twice",
                f"{members[0].spot.id} was read {len(members)} times in visit {members[0].reading.visit}, with {shown}:"
                " all stand", BLOCKS_PASS, "strike the entry that is wrong and say why, or read the place again next visit",
            )  # fmt: skip
