"""What a log of temperature and humidity says of one place: hours above 80 % at the surface, vapour excess, daily range.

Contents: plausible ranges - LoggedAir - summarise (with Summary and its parts). Nothing here says that mould was seen.

Times in hours from any origin, temperatures in degC, relative humidity in % over water, pressures in Pa unless said.
Each row stands until the next; a step longer than `longest_gap` counts as nothing (`core/surface_log.py`).
Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from desorb.core.air import surface_relative_humidity
from desorb.core.air.equations import GAS_CONSTANT_DRY_AIR, MASS_RATIO
from desorb.core.air.pairs import LIMITS
from desorb.core.air.surface import SURFACE_CRITERION
from desorb.core.mould import mould_index
from desorb.core.saturation import Array, pressure_over
from desorb.core.surface_log import LONGEST_GAP, Log, hours_above, thirty_day_criterion
from desorb.errors import InputError, OutOfRange, Refused
from desorb.units import ZERO_CELSIUS_IN_KELVIN

LEAST_DAYS = 7.0  # days logged, setting of ours: a week holds every day of the household; a fortnight is better
LEAST_OF_A_DAY = 0.9  # share of a day that must be logged before its range counts, setting of ours
LEAST_OVERLAP = 0.5  # share of the inside log that must have outside air beside it, setting of ours
CONDENSING = 100.0  # %, dew forms
PLAUSIBLE_TEMPERATURE = LIMITS["air_temperature"]
PLAUSIBLE_HUMIDITY = LIMITS["relative_humidity"]  # above 1 %, so that a fraction does not pass
PLAUSIBLE_VAPOUR = LIMITS["vapour_pressure"]


@dataclass(frozen=True, slots=True)
class LoggedAir:
    """One logger. hours: rising. surface_temperature: None without a sensor, NaN where it gave nothing.

    days: the civil day of each row, as rising whole numbers; the caller knows the time zone. Raises InputError, OutOfRange.
    """

    hours: Array
    temperature: Array
    relative_humidity: Array
    days: NDArray[np.int64]
    surface_temperature: Array | None = None
    longest_gap: float = LONGEST_GAP

    def air(self) -> Log:
        """The air itself as a log."""
        return Log(self.hours, self.temperature, self.relative_humidity, self.longest_gap)

    def vapour_pressure(self) -> Array:
        """[Pa] Source: [ASHRAE17] eq. 6 and 22."""
        return np.minimum(self.relative_humidity, 100.0) / 100 * pressure_over("water", self.temperature)

    def surface(self) -> tuple[Log, Array]:
        """The surface as a log (humidity cut at 100), and its humidity uncut. InputError without two such rows."""
        given = self.surface_temperature
        seen = np.zeros(self.hours.shape, dtype=bool) if given is None else ~np.isnan(given)
        if given is None or seen.sum() < 2:
            raise InputError(
                "the log has no surface temperature",
                got=f"{int(seen.sum())} rows with one",
                wanted="a surface sensor beside the logger",
                next_step="log again with a sensor on the coldest surface: air alone says nothing of it",
            )
        humidity = np.asarray(surface_relative_humidity(self.vapour_pressure()[seen], given[seen]))
        return Log(self.hours[seen], given[seen], np.minimum(humidity, 100.0), self.longest_gap), humidity


@dataclass(frozen=True, slots=True)
class SurfaceSummary:
    """hours above the criterion [%] and condensing, of hours with a surface temperature; highest humidity uncut [%]."""

    criterion: float
    hours_above: float
    hours_condensing: float
    hours_logged: float
    highest_humidity: float
    mould_class: int
    mould_highest_class: int
    mould_band: tuple[int, int]
    mould_words: str
    thirty_days_meets: bool | None
    thirty_days_words: str
    sensitivity: str


@dataclass(frozen=True, slots=True)
class VapourExcess:
    """Inside less outside, mean over the hours that both logs cover; negative: inside is the drier."""

    hectopascal: float
    gram_per_cubic_metre: float
    hours_compared: float
    words: str


@dataclass(frozen=True, slots=True)
class DailyRange:
    """Mean and largest difference between the highest and the lowest reading of one civil day. [K], [%RH]"""

    days: int
    days_left_out: int
    temperature_mean: float
    temperature_largest: float
    humidity_mean: float
    humidity_largest: float


@dataclass(frozen=True, slots=True)
class Summary:
    """Means over time of one place. What could not be said is None, and `warnings` say why and what to do."""

    rows: int
    days_from_first_to_last: float
    hours_logged: float
    gaps: tuple[tuple[float, float], ...]  # h, from and to
    representative: bool
    temperature_mean: float
    relative_humidity_mean: float
    vapour_pressure_mean: float  # Pa
    air_hours_above: float  # of the air where the logger hangs, NOT of a surface
    surface: SurfaceSummary | None
    excess: VapourExcess | None
    daily_range: DailyRange | None
    warnings: tuple[str, ...]

    def sentences(self) -> list[str]:
        """Warnings first, then every figure with what it is of."""
        found = [f"warning: {words}" for words in self.warnings]
        found.append(
            f"{self.hours_logged / 24:.1f} days logged; mean of the air {self.temperature_mean:.1f} degC,"
            f" {self.relative_humidity_mean:.0f} %RH, {self.vapour_pressure_mean / 100:.2f} hPa"
        )
        if self.surface:
            at = self.surface
            found.append(
                f"at the surface: {at.hours_above:.1f} h of {at.hours_logged:.1f} h above {at.criterion:g} %, condensing for"
                f" {at.hours_condensing:.1f} h, at most {at.highest_humidity:.0f} %"
            )
            found += [f"{at.mould_words} (surface: {at.sensitivity})", at.thirty_days_words]
        if self.excess:
            found.append(self.excess.words)
        if self.daily_range:
            day = self.daily_range
            found.append(
                f"within a day the air moves by {day.temperature_mean:.1f} K (at most {day.temperature_largest:.1f}) and"
                f" {day.humidity_mean:.0f} %RH (at most {day.humidity_largest:.0f}), over {day.days} days"
            )
        return found


def summarise(
    inside: LoggedAir,
    outside: LoggedAir | None = None,
    *,
    sensitivity: str = "very sensitive",
    criterion: float = SURFACE_CRITERION,
    least_days: float = LEAST_DAYS,
) -> Summary:
    """Summarise one log, against outside air if there is a log of it.

    sensitivity: a class of `core/mould.py`. criterion: 0 to 100 %. least_days: 0 to 366; under it the log is called not
    representative. Both logs need the same origin of hours. Raises InputError, OutOfRange.
    """
    if not 0 <= least_days <= 366:
        raise OutOfRange(
            "the least number of days cannot be used", got=f"{least_days:g}", wanted="0 to 366",
            next_step="state how many days make a log of this place representative",
        )  # fmt: skip
    log = inside.air()
    steps = log.steps()
    logged, gaps = float(steps.sum()), log.gaps()
    if logged == 0:
        raise InputError(
            "no two rows of the log stand near each other", got=f"{len(gaps)} gaps and nothing else",
            wanted=f"steps of at most {log.longest_gap:g} h", next_step="log more often, or state a longer gap",
        )  # fmt: skip
    warnings: list[str] = []
    representative = logged / 24 >= least_days
    if not representative:
        warnings.append(
            f"not representative: {logged / 24:.1f} days are logged and {least_days:g} are wanted; "
            "log on before anything is concluded of the season or the household"
        )
    if gaps:
        missing = sum(end - start for start, end in gaps)
        warnings.append(
            f"{len(gaps)} gap(s) of more than {log.longest_gap:g} h, {missing:.1f} h in all, count as nothing"
        )
    surface = _surface(inside, sensitivity, criterion, logged, warnings)
    excess = None if outside is None else _excess(inside, outside, logged, warnings)
    means = [
        float((steps * column[:-1]).sum() / logged)
        for column in (log.temperature, log.relative_humidity, inside.vapour_pressure())
    ]
    return Summary(
        rows=int(log.hours.size),
        days_from_first_to_last=float(log.hours[-1] - log.hours[0]) / 24,
        hours_logged=logged,
        gaps=gaps,
        representative=representative,
        temperature_mean=means[0],
        relative_humidity_mean=means[1],
        vapour_pressure_mean=means[2],
        air_hours_above=hours_above(log, criterion).hours,
        surface=surface,
        excess=excess,
        daily_range=_daily_range(inside, steps, warnings),
        warnings=tuple(warnings),
    )


def _surface(
    inside: LoggedAir, sensitivity: str, criterion: float, logged: float, warnings: list[str]
) -> SurfaceSummary | None:
    try:
        log, humidity = inside.surface()
    except InputError as problem:
        warnings.append(f"no figure for a surface: {problem}")
        return None
    steps = log.steps()
    above = hours_above(log, criterion)
    if above.hours_logged < logged - 1e-6:
        warnings.append(f"the surface was logged for {above.hours_logged:.1f} h of {logged:.1f} h")
    index = mould_index(log, sensitivity)
    try:
        thirty = thirty_day_criterion(log)
        meets, words = thirty.meets, thirty.words
    except Refused as problem:
        meets, words = None, str(problem)
    return SurfaceSummary(
        criterion=criterion,
        hours_above=above.hours,
        hours_condensing=float(steps[humidity[:-1] >= CONDENSING].sum()),
        hours_logged=above.hours_logged,
        highest_humidity=float(humidity.max()),
        mould_class=index.final_class,
        mould_highest_class=index.highest_class,
        mould_band=index.band,
        mould_words=index.words,
        thirty_days_meets=meets,
        thirty_days_words=words,
        sensitivity=sensitivity,
    )


def _vapour_density(vapour: Array, temperature: Array) -> Array:
    """[Pa], [degC] -> [g/m3]"""
    gas_constant = GAS_CONSTANT_DRY_AIR / MASS_RATIO  # J/(kg K), of vapour [ASHRAE17]
    return 1000 * vapour / (gas_constant * (temperature + ZERO_CELSIUS_IN_KELVIN))  # ideal gas, as eq. 26 has it


def _excess(inside: LoggedAir, outside: LoggedAir, logged: float, warnings: list[str]) -> VapourExcess | None:
    """Between two rows of either log both stand still: the mean is exact for logs that step at different times."""
    logs = (inside.air(), outside.air())
    times = np.union1d(logs[0].hours, logs[1].hours)
    steps = np.diff(times)
    rows = [np.searchsorted(log.hours, times[:-1], side="right") - 1 for log in logs]
    valid = np.ones(steps.shape, dtype=bool)
    for log, row in zip(logs, rows, strict=True):
        stands = np.append(log.steps(), 0.0)  # after its last row a log says nothing
        valid &= (row >= 0) & (stands[np.maximum(row, 0)] > 0)
    hours = float(steps[valid].sum())
    if hours < LEAST_OVERLAP * logged:
        warnings.append(
            f"no vapour excess: the outside log covers {hours:.1f} h of {logged:.1f} h; "
            "check both clocks and zones, or log both again over the same days"
        )
        return None
    weights = steps[valid] / hours
    vapour = [log.vapour_pressure() for log in (inside, outside)]
    density = [_vapour_density(each, log.temperature) for each, log in zip(vapour, (inside, outside), strict=True)]
    pressure, mass = (
        float((weights * (each[0][rows[0][valid]] - each[1][rows[1][valid]])).sum()) for each in (vapour, density)
    )
    words = (
        f"inside holds {abs(pressure) / 100:.2f} hPa, {abs(mass):.2f} g/m3, {'more' if pressure >= 0 else 'less'} vapour"
        f" than outside, mean over {hours:.0f} h"
    )
    return VapourExcess(pressure / 100, mass, hours, words)


def _daily_range(inside: LoggedAir, steps: Array, warnings: list[str]) -> DailyRange | None:
    """Of days logged well enough; first and last day of a log are mostly not."""
    starts = np.flatnonzero(np.diff(inside.days, prepend=inside.days[0] - 1))
    hours = np.add.reduceat(np.append(steps, 0.0), starts)
    full = hours >= LEAST_OF_A_DAY * 24
    if not full.any():
        warnings.append("no daily range: no civil day is logged well enough; log whole days")
        return None
    ranges = [
        (np.maximum.reduceat(column, starts) - np.minimum.reduceat(column, starts))[full]
        for column in (inside.temperature, inside.relative_humidity)
    ]
    return DailyRange(
        days=int(full.sum()),
        days_left_out=int((~full).sum()),
        temperature_mean=float(ranges[0].mean()),
        temperature_largest=float(ranges[0].max()),
        humidity_mean=float(ranges[1].mean()),
        humidity_largest=float(ranges[1].max()),
    )
