"""A logged series of temperature and humidity at one place, and the plain criteria held against it.

Contents: Log - hours_above - thirty_day_criterion (with their results).

Times in hours, temperatures in degC, relative humidity in % over water. Each row of a log stands until the next row; a
step longer than `longest_gap` counts as nothing and is reported. Nothing is averaged over places: one log, one place.
Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from desorb.core.saturation import Array, Range, numbers, require_in_range
from desorb.errors import InputError, OutOfRange, Refused

LONGEST_GAP = 6.0  # h, setting of ours, as for a climate in core/transport
THIRTY_DAYS = 720.0  # h [ASHRAE160-2009] 6.1
THIRTY_DAY_HUMIDITY = 80.0  # %RH, the mean must stay below [ASHRAE160-2009] 6.1
THIRTY_DAY_TEMPERATURES = (5.0, 40.0)  # degC, mean, for which the criterion is meant [ASHRAE160-2009] 6.1
LEAST_LOGGED = 0.9  # share of 30 days that must be logged, setting of ours
LOGGED_TEMPERATURE = Range("a logged temperature", -45.0, 60.0, "degC", "ours")
LOGGED_HUMIDITY = Range("a logged relative humidity", 0.0, 100.5, "%", "ours")  # up to 100.5 is taken as 100


@dataclass(frozen=True, slots=True)
class Log:
    """One place over time. hours rising; temperature -45 to 60 degC; relative_humidity 0 to 100.5 %; two rows or more.

    Rows without a reading are left out by the caller: they become a gap. Raises InputError, OutOfRange.
    """

    hours: Array
    temperature: Array
    relative_humidity: Array
    longest_gap: float = LONGEST_GAP

    def __post_init__(self) -> None:
        for name in ("hours", "temperature", "relative_humidity"):
            object.__setattr__(self, name, numbers(getattr(self, name), name.replace("_", " ")))
        if self.hours.ndim != 1 or not self.hours.shape == self.temperature.shape == self.relative_humidity.shape:
            shapes = f"{self.hours.shape}, {self.temperature.shape}, {self.relative_humidity.shape}"
            raise InputError(
                "The columns of the log differ in length",
                got=shapes,
                wanted="three equal columns",
                next_step="leave out the rows that lack a figure",
            )
        if self.hours.size < 2 or not np.all(np.isfinite(self.hours)) or not np.all(np.diff(self.hours) > 0):
            raise InputError(
                "The hours of the log cannot be used",
                got=f"{self.hours.size} rows",
                wanted="two rows or more, each later than the one before",
                next_step="sort the log and drop repeated rows",
            )
        if not 0 < self.longest_gap <= 24:  # ours: one Euler step over more than a day is no longer the model
            raise OutOfRange(
                "The longest gap cannot be used",
                got=f"{self.longest_gap:g} h",
                wanted="above 0 to 24 h",
                next_step="state the longest step between two rows that may still be trusted",
            )
        require_in_range(self.temperature, "temperature", LOGGED_TEMPERATURE)
        require_in_range(self.relative_humidity, "relative humidity", LOGGED_HUMIDITY)
        object.__setattr__(self, "relative_humidity", np.minimum(self.relative_humidity, 100.0))

    def steps(self) -> Array:
        """How long each row but the last stands [h]; 0 where a gap follows it."""
        steps = np.diff(self.hours)
        return np.where(steps > self.longest_gap, 0.0, steps)

    def gaps(self) -> tuple[tuple[float, float], ...]:
        """From and to [h] of every step that counts as nothing."""
        before = np.flatnonzero(np.diff(self.hours) > self.longest_gap)
        return tuple((float(self.hours[row]), float(self.hours[row + 1])) for row in before)


@dataclass(frozen=True, slots=True)
class HoursAbove:
    """hours above the criterion out of hours logged; gaps count in neither."""

    hours: float
    hours_logged: float
    criterion: float
    gaps: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class ThirtyDays:
    """meets: None if no 30 days were warm or cool enough; worst mean RH [%] and the hour its 30 days end."""

    meets: bool | None
    worst_mean: float | None
    worst_ends: float | None
    gaps: tuple[tuple[float, float], ...]
    words: str


def hours_above(log: Log, criterion: float) -> HoursAbove:
    """Hours in which the humidity was above a criterion [%, 0 to 100]. Raises OutOfRange."""
    if not 0 <= criterion <= 100:
        raise OutOfRange(
            "The criterion cannot be used", got=f"{criterion:g} %", wanted="0 to 100 %", next_step="state it in percent"
        )
    steps = log.steps()
    above = float(steps[log.relative_humidity[:-1] > criterion].sum())
    return HoursAbove(above, float(steps.sum()), criterion, log.gaps())


def thirty_day_criterion(log: Log) -> ThirtyDays:
    """Does the running mean of 30 days stay below 80 % wherever its mean temperature lies in 5 to 40 degC?

    Means over time of one place. Refused under 30 days, or where no 30 days are logged well enough (90 %, ours).
    Source: [ASHRAE160-2009] 6.1; the edition of 2016 replaced it by the mould index.
    """
    lasts = float(log.hours[-1] - log.hours[0])
    steps = log.steps()
    sums = [
        np.concatenate(([0.0], np.cumsum(steps * each)))
        for each in (1.0, log.temperature[:-1], log.relative_humidity[:-1])
    ]
    ends = log.hours[log.hours >= log.hours[0] + THIRTY_DAYS * (1 - 1e-12)]
    logged, heat, damp = (np.interp(ends, log.hours, s) - np.interp(ends - THIRTY_DAYS, log.hours, s) for s in sums)
    enough = logged >= LEAST_LOGGED * THIRTY_DAYS
    if not enough.any():
        raise Refused(
            "No 30 days of this log can be assessed",
            got=f"{lasts / 24:.1f} days from first to last row, {len(log.gaps())} gap(s)",
            wanted=f"30 days or more, {100 * LEAST_LOGGED:g} % of them logged",
            next_step="log on, or count the hours above a criterion instead",
        )
    ends, warmth, mean = ends[enough], heat[enough] / logged[enough], damp[enough] / logged[enough]
    low, high = THIRTY_DAY_TEMPERATURES
    meant = (warmth >= low) & (warmth <= high)
    source = "ASHRAE 160-2009, 30-day means; replaced in 2016 by the mould index"
    if not meant.any():
        words = f"Cannot say: no 30-day mean temperature lay in {low:g} to {high:g} degC ({source})."
        return ThirtyDays(None, None, None, log.gaps(), words)
    worst = int(np.argmax(np.where(meant, mean, -1.0)))
    meets = bool(mean[worst] < THIRTY_DAY_HUMIDITY)
    words = f"{'Meets' if meets else 'Does not meet'} the criterion: the highest 30-day mean is {mean[worst]:.1f} % ({source})."
    return ThirtyDays(meets, float(mean[worst]), float(ends[worst]), log.gaps(), words)
