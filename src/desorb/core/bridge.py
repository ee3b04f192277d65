"""Two instruments, or two operators, at the same spots: how far they agree, and whether a trend may be joined.

Contents: Pair (one spot read by both); Agreement; agreement.
A trend over a change of instrument or operator stays broken until enough spots were read by both, from dry to wet, on
one and the same scale. The bridge says by how much they differ and how widely; it changes no reading and converts none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, linear_regression, stdev

from desorb.core.statistics import prediction_factor, student_t_quantile
from desorb.errors import InputError

LEAST_PAIRS = 5  # spots read by both; setting of ours
WITHIN = 0.95  # probability of the limits of agreement and of the interval of the mean difference


@dataclass(frozen=True, slots=True)
class Pair:
    """One spot read by both on the same visit. `first` and `second` in digits of the scale; clipped: at an end of it."""

    spot: str
    first: float
    second: float
    clipped: bool = False


@dataclass(frozen=True, slots=True)
class Agreement:
    """What the overlap set shows. Figures are None where `joined` is refused for want of pairs."""

    pairs: int
    clipped: tuple[str, ...]  # spots left out: an end of a scale has no difference
    mean_difference: float | None  # second minus first, digits of the scale
    mean_interval: tuple[float, float] | None  # where the true mean difference lies, 95 %
    spread: float | None  # standard deviation of the differences, digits
    limits: tuple[float, float] | None  # 95 % of single differences lie between these  [BLAND-ALTMAN]
    trend: float | None  # digits by which the difference grows from the driest pair to the wettest
    joined: bool
    words: str
    next_step: str


def agreement(pairs: Sequence[Pair], allowed: float, same_scale: bool = True, between: str = "the two") -> Agreement:
    """Agreement of an overlap set, and whether it may join two trends.

    `allowed` is the largest single difference that the trend can bear, in digits: the user states it (such as the
    repeatability limit of the scale). `same_scale` is whether every part of the two scales agrees. Joined only when all
    of the limits of agreement lie within -allowed .. allowed. Raises InputError for a figure that is none, or allowed <= 0.
    """
    if not math.isfinite(allowed) or allowed <= 0:
        raise InputError(
            "the allowed difference is no positive number", got=str(allowed), wanted="digits of the scale, such as its"
            " repeatability limit", next_step="state how large a single difference the trend can bear",
        )  # fmt: skip
    for pair in pairs:
        if not (math.isfinite(pair.first) and math.isfinite(pair.second)):
            raise InputError(
                f"a reading of the overlap set at {pair.spot} is not a number", got=f"{pair.first}, {pair.second}",
                wanted="two readings of one spot", next_step="read the spot again with both",
            )  # fmt: skip
    if len({pair.spot for pair in pairs}) < len(pairs):
        raise InputError(
            "a spot stands twice in the overlap set", got=", ".join(sorted(pair.spot for pair in pairs)),
            wanted="one pair for each spot", next_step="give the median of the repeats of each spot",
        )  # fmt: skip
    clipped = tuple(pair.spot for pair in pairs if pair.clipped)
    usable = [pair for pair in pairs if not pair.clipped]
    if not same_scale:
        return _refused(
            len(usable), clipped, f"{between} do not share a scale: there is no difference between their figures, and no join",
            "assess each line against controls read with the same instrument and scale",
        )  # fmt: skip
    left_out = f"; {len(clipped)} at an end of the scale left out" if clipped else ""
    if len(usable) < LEAST_PAIRS:
        return _refused(
            len(usable), clipped, f"{len(usable)} spot(s) read by both{left_out}; {LEAST_PAIRS} are needed, from dry to wet",
            f"read {LEAST_PAIRS - len(usable)} more spot(s) with both on one visit",
        )  # fmt: skip
    levels = sorted((pair.first + pair.second) / 2 for pair in usable)
    if not _is_spread(levels, allowed):
        return _refused(
            len(usable), clipped, f"the spots read by both all lie between {levels[0]:.4g} and {levels[-1]:.4g} and say"
            " nothing of wetter or drier ones", "add spots at the dry and at the wet end, and some between",
        )  # fmt: skip
    differences = [pair.second - pair.first for pair in usable]
    n = len(differences)
    mean, spread = fmean(differences), stdev(differences)
    reach = spread * prediction_factor(
        n, WITHIN, one_sided=False
    )  # [BLAND-ALTMAN] with Student's t for few pairs, ISO 16269-8 form
    limits = (mean - reach, mean + reach)
    half = student_t_quantile((1 + WITHIN) / 2, n - 1) * spread / math.sqrt(n)
    joined = -allowed <= limits[0] and limits[1] <= allowed
    shown = (
        f"n = {n}: second minus first {mean:+.3g}, single differences {limits[0]:+.3g} to {limits[1]:+.3g}{left_out}"
    )
    words = f"{shown}; within the {allowed:g} allowed" if joined else f"{shown}; not within the {allowed:g} allowed"
    step = (
        "the lines may be drawn together, with the break and this agreement shown"
        if joined
        else "keep the lines apart, and begin the trend again after the change"
    )
    return Agreement(n, clipped, mean, (mean - half, mean + half), spread, limits, _growth(usable), joined, words, step)


def _refused(pairs: int, clipped: tuple[str, ...], words: str, next_step: str) -> Agreement:
    return Agreement(pairs, clipped, None, None, None, None, None, False, words, next_step)


def _is_spread(levels: list[float], allowed: float) -> bool:
    """From dry to wet: the span is more than four allowed differences, with a spot in its middle half (setting of ours)."""
    low, high = levels[0], levels[-1]
    quarter = (high - low) / 4
    return high - low > 4 * allowed and any(low + quarter <= level <= high - quarter for level in levels)


def _growth(pairs: list[Pair]) -> float:
    """Least-squares slope of the difference over the level, times the span of levels [digits]."""
    levels = [(pair.first + pair.second) / 2 for pair in pairs]
    differences = [pair.second - pair.first for pair in pairs]
    return linear_regression(levels, differences).slope * (max(levels) - min(levels))
