"""Practice: how well two people, or a person and the tool, say the same of the same places.

Contents: WHY (the reasons a trainee can choose from); reasons_of (those the tool rests a spot on); why_not_compared;
Agreement, agreement_of (counts and Cohen's kappa); RepeatSpread, repeat_spread (blind repeats of one person).
Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from desorb.core.assess import Assessed
from desorb.core.case import Case
from desorb.core.compare import ControlFinder, compare
from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER, STATUSES, Assessment
from desorb.errors import InputError

WHY: Mapping[str, str] = {
    "beyond limit": "it lies beyond the limit that covers nearly all sound places",
    "within margin": "it lies within the margin of the controls",
    "between": "it lies between the two limits",
    "covering": "a covering lies between the meter and the material and can hide water",
    "end of scale": "it stands at an end of the scale",
    "few controls": "too few controls",
    "control differs": "the controls differ from this place: construction, scale, covering, instrument or depth",
    "controls old": "the controls are too old, or one of them moved",
    "wrong scale": "the scale does not fit the material, or was not the one shown",
    "instrument": "the instrument was not shown fit: check, calibration or readiness",
    "low contact": "it stands far below the controls: a contact may not have touched",
    "disturbed": "salts, metal or something else may have changed the reading",
    "repeats": "its repeats differ, or a repeat is low",
    "not corrected": "wood pins without temperature or table",
    "no margin": "no margin is stated for this kind of scale",
    "removed": "a reading it rests on was removed",
}

_OF_FINDING = {
    "wrong-scale": "wrong scale", "beyond-scale": "wrong scale", "scale-differs": "wrong scale",
    "scale-not-confirmed": "wrong scale", "equivalent-through-covering": "covering",
    "check-failed": "instrument", "check-overdue": "instrument", "check-unknown": "instrument",
    "calibration-overdue": "instrument", "not-ready": "instrument", "display-held": "instrument",
    "display-disagrees": "instrument", "step-in-all": "instrument", "well-below-control": "low contact",
    "salts": "disturbed", "interference": "disturbed", "low-repeat": "repeats", "wide-repeats": "repeats",
    "read-twice": "repeats", "repeats-exceed-declared": "repeats", "wood-uncorrected": "not corrected",
}  # fmt: skip
BARE_WORDS = ("bare", "none")
BETWEEN_2_REPEATS = 1.96 * math.sqrt(2)  # [BLAND-ALTMAN-1996] 2.77: two repeats differ by less in 95 % of pairs


def reasons_of(assessment: Assessment, why_not: str = "") -> tuple[str, ...]:
    """The reasons of WHY that the tool rests this spot on. `why_not`: why no comparison was made (core/compare.py)."""
    limits, value = assessment.limits, assessment.value
    found: list[str] = []
    compared = limits.above_beyond is not None and value is not None
    if compared and assessment.status == ABOVE:
        found.append("beyond limit")
    elif compared and assessment.status == NO_HIGHER:
        found.append("within margin")
    elif compared and limits.no_higher_up_to is not None and value is not None and value > limits.no_higher_up_to:
        found.append("between")
    if assessment.value_text.startswith(("\u2265", "\u2264")):
        found.append("end of scale")
    if assessment.status == CANNOT_SAY and assessment.covering not in (*BARE_WORDS, ""):
        found.append("covering")
    if not compared:
        found += _of_no_comparison(assessment, why_not)
    found += [_OF_FINDING[each.code] for each in assessment.findings if each.code in _OF_FINDING and not each.answered]
    return tuple(name for name in WHY if name in found)


def why_not_compared(case: Case, assessed: Assessed) -> dict[str, str]:
    """Spot -> why its reading was compared with no control, for the spots of a case where that is so."""
    finder = ControlFinder(assessed.evidence, assessed.findings, case)
    by_entry = {each.entered.entry: each for each in assessed.evidence}
    return {
        spot.id: compare(by_entry[spot.readings[0]], finder, case).why_not
        for spot in assessed.spots
        if spot.limits.above_beyond is None and spot.readings and spot.readings[0] in by_entry
    }


def _of_no_comparison(assessment: Assessment, why_not: str) -> list[str]:
    if assessment.value is None:
        return ["removed"]
    named = {
        "stale": ["controls old"],
        "moved": ["controls old"],
        "at an end": ["end of scale"],
        "no row": ["no margin"],
    }
    if why_not in named:
        return named[why_not]
    return ["few controls", *(["control differs"] if assessment.controls_refused else [])]


@dataclass(frozen=True, slots=True)
class Agreement:
    """Counts of one person's word against another's, row: the first, column: the second, in the order of STATUSES.

    `kappa` is None where it is not defined: both used one and the same word throughout, so that chance alone agrees.
    """

    counts: tuple[tuple[int, ...], ...]
    agreed: int
    total: int
    by_chance: float  # share [fraction]
    kappa: float | None


def agreement_of(first: Sequence[str], second: Sequence[str], words: Sequence[str] = STATUSES) -> Agreement:
    """Agreement of two people on the same places: kappa = (p_o - p_e) / (1 - p_e)  [COHEN-1960]

    p_o: share on which both say the same; p_e: the share that would agree by chance, the sum over the words of the products
    of both shares. 1 is full agreement, 0 is what chance gives, below 0 is less than chance.
    """
    if len(first) != len(second) or not first:
        raise InputError("agreement needs the same places, one or more", got=f"{len(first)} and {len(second)}")
    unknown = sorted({*first, *second} - set(words))
    if unknown:
        raise InputError("this word is not one of those compared", got=", ".join(unknown), wanted=", ".join(words))
    pairs = list(zip(first, second, strict=True))
    counts = tuple(tuple(pairs.count((row, column)) for column in words) for row in words)
    total, agreed = len(pairs), sum(counts[place][place] for place in range(len(words)))
    rows, columns = [sum(row) for row in counts], [sum(column) for column in zip(*counts, strict=True)]
    products = sum(row * column for row, column in zip(rows, columns, strict=True))  # whole numbers: exact
    by_chance = products / total**2  # [COHEN-1960] p_e
    kappa = None if products == total**2 else (agreed * total - products) / (total**2 - products)  # [COHEN-1960]
    return Agreement(counts, agreed, total, by_chance, kappa)


@dataclass(frozen=True, slots=True)
class RepeatSpread:
    """How far one person's two blind readings of the same places differ, in digits of the scale."""

    pairs: int
    spread: float  # standard deviation within a place
    limit: float  # two readings of one place differ by less in 95 % of pairs
    shift: float  # mean of second minus first: a shift says that something changed between the passes


def repeat_spread(first: Sequence[float], second: Sequence[float]) -> RepeatSpread:
    """Standard deviation of repeats from pairs: sqrt(sum of squared differences / 2 n)  [BLAND-ALTMAN-1996]

    first, second: the readings of the same places in both passes, finite, 2 places or more.
    """
    if len(first) != len(second) or len(first) < 2:
        raise InputError("repeats need the same places twice, two or more", got=f"{len(first)} and {len(second)}")
    if not all(map(math.isfinite, (*first, *second))):
        raise InputError("a repeat is not a number", wanted="finite figures")
    differences = [later - earlier for earlier, later in zip(first, second, strict=True)]
    spread = math.sqrt(sum(each * each for each in differences) / (2 * len(differences)))  # [BLAND-ALTMAN-1996] s_w
    return RepeatSpread(len(differences), spread, BETWEEN_2_REPEATS * spread, sum(differences) / len(differences))
