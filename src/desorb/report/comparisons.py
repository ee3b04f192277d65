"""The questions in the middle: what is the control, and what reads higher?

Contents: controls (one group for each set of controls that was used alike); elements and spots (the assessments, worst
first); assessment_row; worst_first.
"""

from __future__ import annotations

import re
from typing import Any

from desorb.core import explain
from desorb.core.evidence import Evidence
from desorb.core.outcome import ABOVE, STATUSES, Assessment, Limits
from desorb.core.typed import AT_LEAST, AT_MOST
from desorb.report.lookup import Lookup, history_of
from desorb.report.words import MARKS, MINUS, digits_of, figure, scale_in_words, unit_in_words

_ENTRY_AT_THE_END = re.compile(r"\(([^()]+)\)$")
ENDS = {AT_LEAST: "top", AT_MOST: "bottom"}
ENDS_OF_TEXT = {"\u2265": "top", "\u2264": "bottom"}


def controls(look: Lookup) -> list[dict[str, Any]]:
    """Readings that were compared with one and the same set of controls stand together, in order of visits."""
    groups: dict[tuple[object, ...], list[Assessment]] = {}
    for assessment in history_of(look.assessed):
        limits = assessment.limits
        key = (
            assessment.visit, assessment.scale, assessment.instrument, assessment.covering, assessment.controls_used,
            assessment.controls_refused, assessment.controls_set_aside, limits.above_beyond, limits.control_mean,
        )  # fmt: skip
        groups.setdefault(key, []).append(assessment)
    rows = [_control_group(members, look) for members in groups.values()]
    return sorted(rows, key=lambda row: (look.order.get(row["visit"], len(look.order)), row["first_order"]))


def _control_group(members: list[Assessment], look: Lookup) -> dict[str, Any]:
    first = members[0]
    each = look.evidence_of(first.readings)
    limits = first.limits
    refused: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for refusal in first.controls_refused:
        refused.setdefault((refusal.words, refusal.fields), []).append(refusal.spot)
    aside = set(first.controls_set_aside)
    return {
        "visit": first.visit, "scale": first.scale, "unit": unit_in_words(first.unit), "instrument": first.instrument,
        "covering": first.covering, "construction": each.construction.words if each else "",
        "first_order": each.entered.order if each else 0,
        "spots": list(dict.fromkeys(member.id for member in members)),
        "entries": [entry for member in members for entry in member.readings],
        "used": [_used(words, look, aside) for words in first.controls_used],
        "set_aside": list(first.controls_set_aside),
        "refused": [
            {"spots": spots, "fields": list(fields), "words": words} for (words, fields), spots in refused.items()
        ],
        **_limits(limits, each),
    }  # fmt: skip


def _used(words: str, look: Lookup, aside: set[str]) -> dict[str, Any]:
    """A control that was used, with its context: the assessment names it by value and entry."""
    found = _ENTRY_AT_THE_END.search(words)
    entry = found.group(1) if found else ""
    each = look.evidence.get(entry)
    if each is None:
        return {"spot": words, "value_text": "", "value": None, "unit": "", "entry": entry, "set_aside": False}
    reading = each.reading
    return {
        "spot": each.spot.id, "place": look.place(each.zone.id, each.spot.element), "value_text": each.text(),
        "value": figure(float(each.value)), "unit": unit_in_words(each.scale.unit), "repeats": list(reading.values),
        "scale": reading.scale, "covering": reading.covering, "instrument": reading.instrument, "visit": reading.visit,
        "taken_at": reading.taken_at, "entry": entry, "why_unaffected": each.spot.why_unaffected,
        "set_aside": each.spot.id in aside,
    }  # fmt: skip


def _limits(limits: Limits, each: Evidence | None) -> dict[str, Any]:
    """The figures of the rule, as numbers and as they are printed: one decimal more than the scale shows."""
    names = ("no_higher_up_to", "above_beyond", "prediction", "control_mean", "control_spread", "margin")
    found: dict[str, Any] = {name: figure(getattr(limits, name)) for name in names}
    found |= {f"{name}_text": digits_of(each, getattr(limits, name)) for name in names}
    return found | {"controls": limits.controls}


def worst_first(assessments: tuple[Assessment, ...]) -> list[Assessment]:
    """Above first, then what cannot be said, then the rest; within a status the largest excess first."""
    return sorted(assessments, key=lambda each: (STATUSES.index(each.status), -_excess_in_spreads(each)))


def _excess_in_spreads(each: Assessment) -> float:
    limits = each.limits
    if each.value is None or limits.control_mean is None or not limits.control_spread:
        return 0.0
    return (each.value - limits.control_mean) / limits.control_spread


def elements(look: Lookup) -> list[dict[str, Any]]:
    return [assessment_row(each, look) for each in elements_worst_first(look)]


def elements_worst_first(look: Lookup) -> list[Assessment]:
    """By status, then the element with the highest spot first."""
    highest: dict[tuple[str, str], float] = {}
    for spot in look.assessed.spots:
        key = (spot.zone, spot.element)
        highest[key] = max(highest.get(key, 0.0), _excess_in_spreads(spot))
    return sorted(
        look.assessed.elements,
        key=lambda each: (STATUSES.index(each.status), -highest.get((each.zone, each.element), 0.0)),
    )


def spots(look: Lookup) -> list[dict[str, Any]]:
    return [assessment_row(each, look) for each in worst_first(look.assessed.spots)]


def assessment_row(assessment: Assessment, look: Lookup) -> dict[str, Any]:
    """One assessment with everything it rests on. The value never stands alone: see value_in_context."""
    each = look.evidence_of(assessment.readings) if assessment.kind == "spot" else None
    context = explain.value_in_context(each) if each else ""
    test = assessment.next_test
    excess = None
    if assessment.value is not None and assessment.limits.control_mean is not None:
        excess = figure(assessment.value - assessment.limits.control_mean)
    end = ENDS[each.bound] if each and each.bound else ENDS_OF_TEXT.get(assessment.value_text[:1], "")
    return {
        "kind": assessment.kind, "id": assessment.id, "zone": assessment.zone, "element": assessment.element,
        "place": look.place(assessment.zone, assessment.element), "visit": assessment.visit,
        "read_this_visit": assessment.visit == look.last_visit, "status": assessment.status,
        "mark": MARKS[assessment.status], "end_of_scale": end, "value": figure(assessment.value),
        "value_text": assessment.value_text, "unit": unit_in_words(assessment.unit) if assessment.value_text else "",
        "value_in_context": context, "excess": excess, "excess_text": _signed(digits_of(each, excess), end),
        "repeats": list(each.reading.values) if each else [], "scale": assessment.scale,
        "scale_words": scale_in_words(each.scale) if each else "", "covering": assessment.covering,
        "instrument": assessment.instrument, "taken_at": assessment.taken_at, "rule": assessment.rule,
        "limit": figure(assessment.limit), **_limits(assessment.limits, each),
        "reasons": [reason for reason in assessment.reasons if reason != context],
        "other_lines": list(assessment.other_lines), "findings": [finding.code for finding in assessment.findings],
        "controls_used": list(assessment.controls_used), "controls_set_aside": list(assessment.controls_set_aside),
        "controls_refused": len(assessment.controls_refused),
        "next_test": test.words if test else "", "next_outcomes": list(test.outcomes) if test else [],
        "permission": test.permission if test else "", "entries": list(assessment.readings),
        "spots": list(assessment.spots), "spots_not_read": list(assessment.spots_not_read),
        "smallest_pocket": figure(assessment.smallest_pocket),
        "above_spots": _above_spots(assessment, look),
    }  # fmt: skip


def _above_spots(assessment: Assessment, look: Lookup) -> list[str]:
    if assessment.kind != "element":
        return []
    own = (assessment.zone, assessment.element)
    return [each.id for each in look.assessed.spots if (each.zone, each.element) == own and each.status == ABOVE]


def _signed(text: str, end: str) -> str:
    """With its sign; at an end of the scale the excess is a bound too."""
    bound = {"top": "at least ", "bottom": "at most "}.get(end, "")
    return f"{bound}{text.replace('-', MINUS) if text.startswith('-') else f'+{text}'}" if text else ""
