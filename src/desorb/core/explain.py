"""From an assessment to sentences a tired person can read once.

Contents: reason_of_comparison; reason_of_covering; owner_sentence. A refusal has three parts: what cannot be said, why,
what would settle it. The number and its context stand together.
"""

from __future__ import annotations

from collections import Counter

from desorb.core.compare import Comparison
from desorb.core.evidence import Evidence, to_resolution
from desorb.core.outcome import ABOVE, NO_HIGHER, Assessment
from desorb.core.rule import FEWEST_CONTROLS, Decision
from desorb.core.typed import AT_LEAST, AT_MOST


def value_in_context(each: Evidence) -> str:
    """'54 comparative, bare, with m1, at k3': the value never stands alone."""
    repeats = f"n = {len(each.repeats)}" if len(each.repeats) == 1 else f"median of {len(each.repeats)}"
    covering = "bare" if not each.covered else f"through {each.reading.covering}"
    corrected = f"; {each.correction_words}" if each.correction_words else ""
    return f"{each.text()} on {each.scale.key} ({repeats}), {covering}, with {each.instrument.id}{corrected}"


def reason_of_comparison(each: Evidence, comparison: Comparison) -> str:
    """The sentence that says what the controls make of this reading."""
    if comparison.decision is None or comparison.prepared is None:
        return _reason_for_no_comparison(each, comparison)
    limits = comparison.decision.limits

    def digits(value: float | None) -> str:
        return "" if value is None else to_resolution(value, each.scale, 1)

    mean = "geometric mean" if comparison.prepared.rule.on_logarithms and limits.margin is not None else "mean"
    controls = f"{limits.controls} controls, {mean} {digits(limits.control_mean)}" + (
        f", spread used {digits(limits.control_spread)}" if limits.control_spread is not None else ""
    )
    older = (
        "; some of these controls are of an earlier visit, and the ones read again did not move"
        if comparison.older_set
        else ""
    )
    aside = ""
    if comparison.prepared.set_aside:
        spots = ", ".join(comparison.used[position].spot.id for position in comparison.prepared.set_aside)
        aside = f"; control {spots} was set aside as high by Grubbs' test: look whether it is wet"
    dropped = (
        "; the controls spread more than their class, so the class spread was left out"
        if comparison.prepared.shrinkage_dropped
        else ""
    )
    words = {
        "above": f"{each.text()} lies above {digits(limits.above_beyond)}",
        "no higher": f"{each.text()} is not higher than {digits(limits.no_higher_up_to)}",
        "between": f"{each.text()} lies between {digits(limits.no_higher_up_to)} (no higher up to here) and"
        f" {digits(limits.above_beyond)} (above beyond here)",
        "both": f"{each.text()} lies beyond {digits(limits.above_beyond)} and yet within the margin: the rule does not decide",
        "not positive": f"{each.text()} cannot stand on a ratio scale",
    }[comparison.decision.why]
    return f"{words} ({controls}{older}{aside}{dropped})"


def _reason_for_no_comparison(each: Evidence, comparison: Comparison) -> str:
    found, usable = comparison.found, len(comparison.used)
    if comparison.why_not == "stale":
        return (
            f"the controls are too old: {len(found.stale)} were read, none within the hours allowed before or after this"
            " reading. Re-read the controls"
        )
    if comparison.why_not == "moved":
        return "a control that was read again moved by more than repeatability: all controls must be read again"
    if comparison.why_not == "at an end":
        spots = ", ".join(control.spot.id for control in found.at_an_end)
        return f"control {spots} stands at an end of the scale: this scale decides nothing here"
    if comparison.why_not == "no row":
        return f"no margin and class spread are stated for {each.scale.key}: the comparison is supporting only"
    more = FEWEST_CONTROLS - usable
    fields = Counter(refusal.fields[0] for refusal in found.refused if refusal.fields)
    why = ", ".join(f"{name} {count}" for name, count in fields.most_common())
    close = f", {len(found.refused)} refused (by what differs first: {why})" if found.refused else ""
    return f"{more} more control{'s' if more > 1 else ''} needed: {usable} comparable of {FEWEST_CONTROLS}{close}"


def reason_of_bound(each: Evidence, decision: Decision | None) -> str:
    if each.bound == AT_LEAST:
        beyond = decision is not None and decision.why == "above"
        tail = "and that is already above" if beyond else "so it may be higher than it shows"
        past = "above fibre saturation, beyond which pins do not measure"
        where = past if each.past_fibre_saturation else "at the top of the scale"
        return f"{each.text()}: {where}, at least this, {tail}"
    if each.bound == AT_MOST:
        return f"{each.text()}: at the bottom of the scale, at most this, or the contacts did not touch"
    return ""


def reason_of_covering(each: Evidence) -> str:
    return f"a reading through {each.reading.covering} can show above, never no higher: the covering can hide water"


def owner_sentence(assessment: Assessment) -> str:
    """The plain-language twin for the owner."""
    if assessment.kind == "element":
        return _owner_element(assessment)
    if assessment.status == ABOVE:
        at_end = assessment.value_text.startswith("\u2265")
        top = " The meter cannot show more than this." if at_end else ""
        return f"This place reads higher than a sound part of the same construction.{top}"
    if assessment.status == NO_HIGHER:
        margin = assessment.limits.margin
        by = f" by more than {margin:.1f} digits of this scale" if margin is not None else ""
        return f"This place is not wetter than the sound part{by}."
    step = assessment.next_test.words if assessment.next_test else "to read it again"
    why = assessment.reasons[0] if assessment.reasons else "too little is known"
    return f"The meter cannot answer this here. The next step is: {step}. Why: {why}."


def _owner_element(assessment: Assessment) -> str:
    name = f"{assessment.element} ({assessment.zone})"
    if assessment.status == ABOVE:
        return f"The {name} reads higher than a sound part of the same construction at one place or more."
    if assessment.status == NO_HIGHER:
        return f"No place that was read on the {name} reads higher than the sound part by more than the margin."
    return f"It cannot be said yet whether the {name} reads higher than the sound part."
