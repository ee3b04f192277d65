"""Intervals, limits and tests for small sets of readings.

Contents: quantiles - prediction - tolerance - a control spot that stands out (Grubbs) - spread shared with the class -
how much the sampling could have missed - repeats at one spot.

Probabilities, coverages and confidences are fractions in the open interval 0 to 1. Values are in the unit of their
scale, or logarithms of it. Lower-case `s` is the sample standard deviation (divisor n - 1). Wrong arguments raise
InputError or OutOfRange. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import special

from desorb.errors import InputError, OutOfRange

SHRINKAGE_P_VALUE = 0.05  # [TOLERANCE-1] below this the sample spread is too large for its class
GRID = np.linspace(-9.0, 9.0, 361)  # standard normal axis; outside it lies less than 3e-19 of the population
GRID_WEIGHT = np.exp(-0.5 * GRID**2) / math.sqrt(2 * math.pi) * (GRID[1] - GRID[0])


class PooledSpread(NamedTuple):
    """Spread of the control. `spread` in the unit of the sample; `degrees_of_freedom` of that spread."""

    spread: float
    degrees_of_freedom: float
    shrinkage_dropped: bool


def normal_quantile(probability: float) -> float:
    """Quantile of the standard normal distribution. [-]"""
    return float(special.ndtri(_fraction("probability", probability)))


def student_t_quantile(probability: float, degrees_of_freedom: float) -> float:
    """Quantile of Student's t. [-] Degrees of freedom: any number above 0."""
    _positive("degrees of freedom", degrees_of_freedom)
    return float(special.stdtrit(degrees_of_freedom, _fraction("probability", probability)))


def chi_square_quantile(probability: float, degrees_of_freedom: float) -> float:
    """Quantile (lower tail) of chi-square. [-] Degrees of freedom: any number above 0."""
    _positive("degrees of freedom", degrees_of_freedom)
    return 2.0 * float(special.gammaincinv(degrees_of_freedom / 2, _fraction("probability", probability)))


def chi_square_upper_tail(statistic: float, degrees_of_freedom: float) -> float:
    """Probability that chi-square exceeds `statistic` (0 or more). [-] Degrees of freedom: any number above 0."""
    _positive("degrees of freedom", degrees_of_freedom)
    if not statistic >= 0:
        raise InputError("A chi-square statistic is never negative", got=f"{statistic}", wanted="0 or more")
    return float(special.gammaincc(degrees_of_freedom / 2, statistic / 2))


def noncentral_t_quantile(probability: float, degrees_of_freedom: float, noncentrality: float) -> float:
    """Quantile of noncentral t. [-] Degrees of freedom: any number above 0; noncentrality: any finite number.

    The library's answer is put back into our own integral; where the two differ by more than 1e-9, or the library
    gives no number, the integral is solved instead.
    """
    _fraction("probability", probability)
    _positive("degrees of freedom", degrees_of_freedom)
    if not math.isfinite(noncentrality):
        raise InputError("The noncentrality is not a number", got=f"{noncentrality}", wanted="a finite number")

    def distribution(point: float) -> float:
        return _noncentral_t_distribution(point, degrees_of_freedom, noncentrality)

    quantile = float(special.nctdtrit(degrees_of_freedom, noncentrality, probability))
    if math.isfinite(quantile) and abs(distribution(quantile) - probability) < 1e-9:
        return quantile
    return _solve_rising(distribution, probability, noncentrality - 1.0, noncentrality + 1.0)


def prediction_factor(n: int, confidence: float, one_sided: bool = True) -> float:
    """How many s from the mean of n readings (2 or more) the next single reading may lie. [-]"""
    _count("readings", n, 2)
    tail = 1 - _fraction("confidence", confidence)
    probability = 1 - (tail if one_sided else tail / 2)
    return student_t_quantile(probability, n - 1) * math.sqrt(1 + 1 / n)  # [ISO-16269-8]


def upper_prediction_limit(values: Sequence[float], confidence: float = 0.95) -> float:
    """Upper limit for the next single reading from the population of `values` (2 or more), in their unit."""
    readings = _readings(values, 2)
    factor = prediction_factor(len(readings), confidence)
    return float(np.mean(readings) + factor * np.std(readings, ddof=1))  # [ISO-16269-8] one-sided


def tolerance_factor_one_sided(
    n: int, coverage: float, confidence: float, degrees_of_freedom: float | None = None
) -> float:
    """Factor k: mean + k s lies above the share `coverage` of the population with `confidence`. [-]

    n: readings behind the mean, 2 or more; 1 is enough if the spread brings its own `degrees_of_freedom` (default
    n - 1; need not be whole). Never to be printed as a two-sided factor: at n = 10, 95/95 it is 2.911 against 3.393.
    """
    _count("readings", n, 2 if degrees_of_freedom is None else 1)
    degrees = n - 1 if degrees_of_freedom is None else degrees_of_freedom
    noncentrality = normal_quantile(coverage) * math.sqrt(n)
    return noncentral_t_quantile(confidence, degrees, noncentrality) / math.sqrt(n)  # [ISO-16269-6] one-sided, exact


def tolerance_factor_two_sided(
    n: int, coverage: float, confidence: float, method: Literal["exact", "howe"] = "exact"
) -> float:
    """Factor k: mean - k s to mean + k s holds the share `coverage` with `confidence`. [-] n: 2 readings or more.

    "exact" integrates over the mean; "howe" is the approximation that handbooks print (0.3 % apart at n = 10, 95/95).
    """
    _count("readings", n, 2)
    _fraction("confidence", confidence)
    degrees = n - 1
    z = normal_quantile((1 + _fraction("coverage", coverage)) / 2)
    if method == "howe":
        chi_square = chi_square_quantile(1 - confidence, degrees)
        return z * math.sqrt(degrees * (1 + 1 / n) / chi_square)  # [HOWE-1969]
    if method != "exact":
        raise InputError("The method of the tolerance factor is not known", got=repr(method), wanted="exact or howe")
    half_width = _half_width_holding(coverage, GRID / math.sqrt(n), z)

    def confidence_of(factor: float) -> float:
        spread_large_enough = special.gammaincc(degrees / 2, degrees * (half_width / factor) ** 2 / 2)
        return float(np.sum(GRID_WEIGHT * spread_large_enough))  # [ISO-16269-6] two-sided, exact

    return _solve_rising(confidence_of, confidence, z / 2, 2 * z)


def tolerance_factor_natrella(n: int, coverage: float, confidence: float) -> float:
    """One-sided factor in Natrella's closed approximation. [-] Refused where n is too small for it.

    Kept to reproduce handbooks; the exact factor is `tolerance_factor_one_sided` (1.8740 for the handbook's 1.8752).
    """
    _count("readings", n, 2)
    z_coverage, z_confidence = normal_quantile(coverage), normal_quantile(confidence)
    a, b = 1 - z_confidence**2 / (2 * (n - 1)), z_coverage**2 - z_confidence**2 / n  # [NIST-7.2.6.3]
    if a <= 0:
        raise OutOfRange(
            "Natrella's approximation does not exist for so few readings",
            got=f"n = {n}, confidence {confidence}",
            wanted=f"n above {1 + z_confidence**2 / 2:.1f}",
            next_step="use tolerance_factor_one_sided, which is exact",
        )
    return (z_coverage + math.sqrt(z_coverage**2 - a * b)) / a  # [NIST-7.2.6.3]


def nonparametric_confidence(n: int, coverage: float) -> float:
    """Confidence that the highest of n readings lies above the share `coverage` of any population. [-]"""
    _count("readings", n, 1)
    return -math.expm1(n * math.log(_fraction("coverage", coverage)))  # [ISO-16269-6] 1 - p**n


def grubbs_statistic(values: Sequence[float], side: Literal["high", "low", "both"] = "high") -> float:
    """Distance of the most extreme reading from the mean, in s. [-] 3 readings or more; equal readings give 0."""
    readings = _readings(values, 3)
    if side not in ("high", "low", "both"):
        raise InputError("The side of Grubbs' test is not known", got=repr(side), wanted="high, low or both")
    lowest, highest = readings.min(), readings.max()
    if lowest == highest:
        return 0.0
    place = (readings - lowest) / (highest - lowest)  # from 0 to 1: the smallest spreads do not underflow
    deviation = {"high": 1 - place.mean(), "low": place.mean(), "both": max(place.mean(), 1 - place.mean())}[side]
    return float(deviation / np.std(place, ddof=1))  # [NIST-1.3.5.17]


def grubbs_critical(n: int, alpha: float = 0.05, sides: Literal[1, 2] = 1) -> float:
    """Value that Grubbs' statistic exceeds with probability `alpha` when nothing is wrong. [-] n: 3 or more.

    A reading beyond it is shown, never dropped silently: the high one may be the leak.
    """
    _count("readings", n, 3)
    _fraction("alpha", alpha)
    if sides not in (1, 2):
        raise InputError("Grubbs' test has one side or two", got=f"{sides}", wanted="1 or 2")
    t_squared = student_t_quantile(alpha / (sides * n), n - 2) ** 2
    return (n - 1) / math.sqrt(n) * math.sqrt(t_squared / (n - 2 + t_squared))  # [NIST-1.3.5.17]


def pooled_spread(sample_sd: float, n: int, class_spread: float, class_degrees: float = 4) -> PooledSpread:
    """Spread of n control spots (2 or more), drawn towards the spread usual for its class of scale and material.

    sample_sd (0 or more) and class_spread (above 0) in one unit; class_degrees: weight of the class, in degrees of
    freedom. The class is left out, and this is said, only when the sample spreads too MUCH for it (upper chi-square
    tail below 0.05); a sample that spreads too little by luck is exactly what the class is for.
    """
    _count("control spots", n, 2)
    _positive("class spread", class_spread)
    _positive("class degrees", class_degrees)
    if not (math.isfinite(sample_sd) and sample_sd >= 0):
        raise InputError("The sample spread is not a spread", got=f"{sample_sd}", wanted="a number, 0 or more")
    own = n - 1  # degrees of freedom of the sample
    if chi_square_upper_tail(own * (sample_sd / class_spread) ** 2, own) < SHRINKAGE_P_VALUE:
        return PooledSpread(sample_sd, own, True)
    degrees = class_degrees + own
    variance = (class_degrees * class_spread**2 + own * sample_sd**2) / degrees  # [TOLERANCE-1]
    return PooledSpread(math.sqrt(variance), degrees, False)


def smallest_pocket(readings: int, probability: float = 0.95) -> float:
    """Smallest share of an area that so many random readings hit at least once with `probability`. [fraction]"""
    _count("readings", readings, 1)
    return -math.expm1(math.log1p(-_fraction("probability", probability)) / readings)  # 1 - (1 - probability)**(1/m)


def samples_to_hit(fraction: float, probability: float = 0.95) -> int:
    """Random readings needed to hit a pocket of that share of the area at least once with `probability`."""
    needed = math.log1p(-_fraction("probability", probability)) / math.log1p(-_fraction("fraction of area", fraction))
    return max(1, math.ceil(needed - 1e-9))  # 1e-9: a whole number must not be rounded up by the last binary digit


def critical_range_factor(n: int, probability: float = 0.95) -> float:
    """Quantile of the range of n normal values (2 or more) with unit spread. [-]"""
    _count("repeats", n, 2)

    def distribution(width: float) -> float:
        middle = GRID + width / 2  # centred, so that either end of the range may lie far out
        density = np.exp(-0.5 * middle**2) / math.sqrt(2 * math.pi) * (GRID[1] - GRID[0])
        return float(np.sum(n * density * (special.ndtr(middle) - special.ndtr(middle - width)) ** (n - 1)))

    return _solve_rising(distribution, _fraction("probability", probability), 0.0, 8.0)


def repeat_critical_range(n: int, repeatability_sd: float) -> float:
    """Range that n repeats at one spot exceed once in twenty if nothing but repeatability moves them, in its unit.

    The factor is rounded to one decimal as the standard prints it, so that two repeats give r = 2.8 s_r.
    """
    return round(critical_range_factor(n), 1) * _positive("repeatability", repeatability_sd)  # [ISO-5725-6] f(n) s_r


def _noncentral_t_distribution(point: float, degrees: float, noncentrality: float) -> float:
    """P(T <= point): normal probability averaged over y = ln(s / sigma), by the trapezoidal rule."""
    reach, slow_tail = 9 / math.sqrt(2 * degrees), 40 / degrees
    # The normal edge is 1 / noncentrality wide in y: at least four steps across it.
    steps = 400 + math.ceil((2 * reach + slow_tail) * (4 + 4 * abs(noncentrality)))
    y = np.linspace(-reach - slow_tail, reach, steps + 1)
    log_constant = math.log(2) + degrees / 2 * math.log(degrees / 2) - math.lgamma(degrees / 2)
    density = np.exp(log_constant + degrees * (y - np.exp(2 * y) / 2))
    return float(np.sum(density * special.ndtr(point * np.exp(y) - noncentrality)) * (y[1] - y[0]))


def _half_width_holding(coverage: float, centre: NDArray[np.float64], z: float) -> NDArray[np.float64]:
    """Half width r with Phi(centre + r) - Phi(centre - r) = coverage, between z and |centre| + z, by bisection."""
    low, high = np.full_like(centre, z), np.abs(centre) + z
    for _ in range(60):
        middle = (low + high) / 2
        too_narrow = special.ndtr(centre + middle) - special.ndtr(centre - middle) < coverage
        low, high = np.where(too_narrow, middle, low), np.where(too_narrow, high, middle)
    return (low + high) / 2


def _solve_rising(function: Callable[[float], float], target: float, low: float, high: float) -> float:
    """Where a rising function reaches the target; the bracket is widened, then halved to the last digits."""
    for _ in range(200):
        if function(low) <= target:
            break
        low -= high - low
    for _ in range(200):
        if function(high) >= target:
            break
        high += high - low
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if function(middle) < target else (low, middle)
    return (low + high) / 2


def _fraction(name: str, value: float) -> float:
    if not 0 < value < 1:
        hint = "divide a percentage by 100" if 1 < value < 100 else ""
        raise InputError(f"The {name} is a fraction", got=f"{value}", wanted="between 0 and 1", next_step=hint)
    return value


def _positive(name: str, value: float) -> float:
    if not 0 < value < math.inf:
        raise InputError(f"The {name} must be a positive number", got=f"{value}", wanted="above 0")
    return value


def _count(name: str, number: int, least: int) -> None:
    if not number >= least or number % 1 != 0:
        raise InputError(f"Too few {name} for this", got=f"{number}", wanted=f"a whole number, {least} or more")


def _readings(values: Sequence[float], least: int) -> NDArray[np.float64]:
    readings = np.asarray(values, dtype=np.float64)
    _count("readings", readings.size, least)
    for place, reading in enumerate(readings, start=1):
        if not math.isfinite(reading):
            step = "leave missing and clipped readings out before computing"
            raise InputError(f"Reading {place} of {readings.size} is not a number", got=f"{reading}", next_step=step)
    return readings
