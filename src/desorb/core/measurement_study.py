"""Is the measuring itself steady, and how much of the spread comes from meter and hand?

Contents: a chart of single values - a weighted moving average - a cumulative sum - the crossed gauge study.

Drying readings fall by design: chart the control, a check block, or the day-to-day change, never the raw wet reading.
Values, targets and spreads share one unit. Places of signals count from 1, as people count visits. Wrong arguments
raise InputError. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from desorb.errors import InputError

MEAN_RANGE_OF_TWO = 1.128  # [NIST-6.3.2.2] d2(2) = 2 / sqrt(pi) = 1.12838, used as printed there
CATEGORIES_FACTOR = 1.41  # [AIAG-MSA] sqrt(2), used as printed there


@dataclass(frozen=True)
class Chart:
    """Points of a chart with its limits, in the unit of the values; `signals` are places, counted from 1."""

    points: tuple[float, ...]
    centre: float
    lower: float
    upper: float
    signals: tuple[int, ...]


@dataclass(frozen=True)
class CumulativeSum:
    """Sums above and below the target, in the unit of the values; `signals` are places, counted from 1."""

    high: tuple[float, ...]
    low: tuple[float, ...]
    signals: tuple[int, ...]


@dataclass(frozen=True)
class GaugeStudy:
    """Components of variance of a crossed study, in the squared unit of the values.

    `sums_of_squares`: operator, part, operator x part, repeat. `gauge_share`: spread of the gauge over total spread
    [fraction]. `distinct_categories`: how many groups of parts the gauge can tell apart [-], infinite for a gauge
    without spread.
    """

    sums_of_squares: tuple[float, float, float, float]
    repeat_variance: float
    operator_variance: float
    interaction_variance: float
    part_variance: float
    interaction: Literal["kept", "pooled"]

    @property
    def gauge_variance(self) -> float:
        return self.repeat_variance + self.operator_variance + self.interaction_variance

    @property
    def total_variance(self) -> float:
        return self.gauge_variance + self.part_variance

    @property
    def gauge_share(self) -> float:
        return math.sqrt(self.gauge_variance / self.total_variance)  # [AIAG-MSA] %GRR / 100

    @property
    def distinct_categories(self) -> float:
        if self.gauge_variance == 0:
            return math.inf
        return CATEGORIES_FACTOR * math.sqrt(self.part_variance / self.gauge_variance)  # [AIAG-MSA] ndc


def individuals_chart(values: Sequence[float]) -> Chart:
    """Single values (2 or more) against three spreads, the spread taken from neighbouring differences."""
    readings = _readings(values, 2)
    centre = float(np.mean(readings))
    mean_moving_range = float(np.mean(np.abs(np.diff(readings))))
    reach = 3 * mean_moving_range / MEAN_RANGE_OF_TWO  # [NIST-6.3.2.2]
    return _chart(readings, centre, reach)


def ewma(values: Sequence[float], start: float, spread: float, smoothing: float = 0.3, width: float = 3) -> Chart:
    """Weighted moving average with its settled limits.

    start: target or mean of earlier values; spread: standard deviation of single values, above 0; smoothing: weight of
    the newest value, above 0 to 1; width: limits in standard deviations of the average, above 0.
    """
    readings = _readings(values, 1)
    _finite("start", start)
    _positive("spread", spread)
    _positive("width", width)
    if not 0 < smoothing <= 1:
        raise InputError("The smoothing is a weight", got=f"{smoothing}", wanted="above 0, at most 1")
    averages = np.empty_like(readings)
    average = start
    for place, reading in enumerate(readings):
        average = smoothing * reading + (1 - smoothing) * average  # [NIST-6.3.2.4]
        averages[place] = average
    return _chart(averages, start, width * spread * math.sqrt(smoothing / (2 - smoothing)))  # [NIST-6.3.2.4]


def cusum(values: Sequence[float], target: float, slack: float, decision: float) -> CumulativeSum:
    """Two-sided cumulative sum: small lasting shifts add up, noise within `slack` does not.

    target: in the unit of the values; slack (k, half the shift sought) and decision (h): same unit, above 0.
    """
    readings = _readings(values, 1)
    _finite("target", target)
    _positive("slack", slack)
    _positive("decision", decision)
    high, low = [0.0], [0.0]
    for reading in readings:
        deviation = float(reading) - target
        high.append(max(0.0, high[-1] + deviation - slack))  # [NIST-6.3.2.3]
        low.append(max(0.0, low[-1] - deviation - slack))  # [NIST-6.3.2.3]
    signals = tuple(place for place in range(1, len(high)) if max(high[place], low[place]) > decision)
    return CumulativeSum(tuple(high[1:]), tuple(low[1:]), signals)


def gauge_study(
    readings: Sequence[Sequence[Sequence[float]]], interaction: Literal["kept", "pooled"] = "kept"
) -> GaugeStudy:
    """Crossed study: every operator reads every part several times; readings[operator][part][repeat].

    2 or more of each. Both conventions are in use and give different figures, so the result says which was taken:
    "kept" takes operator x part as a component of its own (cut at 0), "pooled" adds it to repeatability.
    """
    try:
        table = np.asarray(readings, dtype=np.float64)
    except ValueError as unequal:
        raise InputError("The study has gaps", wanted="the same number of repeats for each part") from unequal
    if table.ndim != 3 or min(table.shape) < 2 or not np.isfinite(table).all():
        raise InputError(
            "The study is not complete",
            got=f"a table of shape {table.shape}",
            wanted="finite readings of 2 or more operators x parts x repeats",
        )
    if np.ptp(table) == 0:
        raise InputError("All readings are equal, so there is no spread to share out", got=f"{table.flat[0]}")
    if interaction not in ("kept", "pooled"):
        raise InputError("The convention is not known", got=repr(interaction), wanted="kept or pooled")
    operators, parts, repeats = table.shape
    cells, mean = table.mean(axis=2), table.mean()
    by_operator, by_part = table.mean(axis=(1, 2)), table.mean(axis=(0, 2))
    left_over = cells - by_operator[:, None] - by_part[None, :] + mean
    squares = (
        parts * repeats * float(np.sum((by_operator - mean) ** 2)),
        operators * repeats * float(np.sum((by_part - mean) ** 2)),
        repeats * float(np.sum(left_over**2)),
        float(np.sum((table - cells[:, :, None]) ** 2)),
    )
    degrees = (operators - 1, parts - 1, (operators - 1) * (parts - 1), operators * parts * (repeats - 1))
    of_operator, of_part, of_both, of_repeat = np.divide(squares, degrees).tolist()
    if interaction == "pooled":
        of_repeat = of_both = (squares[2] + squares[3]) / (degrees[2] + degrees[3])  # [AIAG-MSA]
    return GaugeStudy(
        sums_of_squares=squares,
        repeat_variance=of_repeat,
        operator_variance=max(0.0, (of_operator - of_both) / (parts * repeats)),  # [AIAG-MSA] analysis of variance
        interaction_variance=max(0.0, (of_both - of_repeat) / repeats),
        part_variance=max(0.0, (of_part - of_both) / (operators * repeats)),
        interaction=interaction,
    )


def _chart(points: NDArray[np.float64], centre: float, reach: float) -> Chart:
    outside = np.flatnonzero(np.abs(points - centre) > reach) + 1
    return Chart(tuple(points.tolist()), centre, centre - reach, centre + reach, tuple(outside.tolist()))


def _finite(name: str, value: float) -> None:
    if not math.isfinite(value):
        raise InputError(f"The {name} is not a number", got=f"{value}", wanted="a finite number")


def _positive(name: str, value: float) -> None:
    if not 0 < value < math.inf:
        raise InputError(f"The {name} must be a positive number", got=f"{value}", wanted="above 0")


def _readings(values: Sequence[float], least: int) -> NDArray[np.float64]:
    readings = np.asarray(values, dtype=np.float64)
    if readings.ndim != 1 or readings.size < least or not np.isfinite(readings).all():
        raise InputError("The values cannot be charted", got=f"{values}", wanted=f"{least} or more finite numbers")
    return readings
