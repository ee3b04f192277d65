"""What surrounds an assembly: air and exchange at both surfaces over time, constant or logged.

Contents: Surface (how a surface exchanges); Air (a course of temperature and humidity); coarser; Climate; boundary_table.
Exchange of vapour follows from that of heat by Lewis' relation [LEWIS22]: beta = h_c / (rho c_p Le^(2/3)) / (R_v T).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from desorb.core.transport.properties import AIR_PERMEABILITY, VAPOUR_CONSTANT, Floats
from desorb.errors import InputError, OutOfRange

LEWIS = 0.86  # Le of water vapour in air; [LEWIS22]
AIR_HEAT = 1.204 * 1005.0  # J/(m3 K) at 20 degC
COLDEST, HOTTEST = -40.0, 80.0  # degC
FREE_WATER = 1e-4  # kg/(m2 s Pa): conductance of contact with free water; large enough to hold the surface wet
LONGEST_GAP = 6 * 3600.0  # s: a longer gap in a logged course is asked about, not bridged


def vapour_exchange(heat_exchange: float, temperature: float = 20.0) -> float:
    """Vapour coefficient in kg/(m2 s Pa) for a convective heat coefficient in W/(m2 K)."""
    return float(heat_exchange / (AIR_HEAT * LEWIS ** (2.0 / 3.0)) / (VAPOUR_CONSTANT * (temperature + 273.15)))


def saturation_pressure(temperature: Floats) -> Floats:
    """[ISO-13788] annex E, Pa."""
    t = np.asarray(temperature, dtype=float)
    return np.where(t >= 0.0, 610.5 * np.exp(17.269 * t / (237.3 + t)), 610.5 * np.exp(21.875 * t / (265.5 + t)))


@dataclass(frozen=True, slots=True)
class Surface:
    """Exchange at one surface. `convection` drives vapour by Lewis' relation; `radiation` adds to heat only; W/(m2 K).

    `sd` is a coating in m. A sealed surface passes no vapour; an adiabatic one no heat.
    """

    convection: float = 4.0
    radiation: float = 5.0
    sd: float = 0.0
    sealed: bool = False
    adiabatic: bool = False

    def __post_init__(self) -> None:
        if not (0.0 <= self.convection <= 1e4 and 0.0 <= self.radiation <= 50.0 and 0.0 <= self.sd <= 1e6):
            raise OutOfRange(
                "a surface exchanges within bounds", got=str(self), wanted="0 to 1e4 W/(m2 K), sd from 0 m"
            )

    @property
    def heat(self) -> float:
        return 0.0 if self.adiabatic else self.convection + self.radiation

    @property
    def vapour(self) -> float:
        if self.sealed or self.convection == 0.0:
            return 0.0
        return 1.0 / (1.0 / vapour_exchange(self.convection) + self.sd / AIR_PERMEABILITY)


@dataclass(frozen=True)
class Air:
    """A course of air: times in s, temperature in degC, relative humidity as a fraction. One value each: constant."""

    temperature: Floats
    humidity: Floats
    times: Floats | None = None

    def __init__(
        self, temperature: float | Sequence[float] | Floats, humidity: float | Sequence[float] | Floats,
        times: Sequence[float] | Floats | None = None,
    ) -> None:  # fmt: skip
        t, h = np.atleast_1d(np.asarray(temperature, float)), np.atleast_1d(np.asarray(humidity, float))
        when = None if times is None else np.asarray(times, float)
        if when is None and (t.size != 1 or h.size != 1):
            raise InputError("a course of air needs its times", next_step="give times in seconds from the start")
        if when is not None and not (when.size == t.size == h.size):
            raise InputError("times, temperatures and humidities pair up", got=f"{when.size}, {t.size}, {h.size}")
        for name, values, low, high in (("temperature", t, COLDEST, HOTTEST), ("humidity", h, 0.0, 1.0)):
            wrong = ~((values >= low) & (values <= high))
            if wrong.any():
                place = int(np.argmax(wrong))
                raise OutOfRange(
                    f"{name} number {place} of the climate cannot be", got=str(values[place]), wanted=f"{low} to {high}"
                )
        if when is not None:
            steps = np.diff(when)
            if (steps < 0).any():
                raise InputError(
                    "the times of a climate run forward", got=f"time {int(np.argmax(steps < 0)) + 1} goes back"
                )
            if (steps > LONGEST_GAP).any():
                place = int(np.argmax(steps > LONGEST_GAP))
                raise InputError(
                    "there is a gap in the climate", got=f"{steps[place] / 3600:.1f} h after {when[place]:g} s",
                    wanted=f"at most {LONGEST_GAP / 3600:g} h between two times",
                    next_step="fill the gap with what is known of those hours, and say so",
                )  # fmt: skip
        object.__setattr__(self, "temperature", t)
        object.__setattr__(self, "humidity", h)
        object.__setattr__(self, "times", when)

    def at(self, moments: Floats) -> tuple[Floats, Floats]:
        """Temperature in degC and vapour pressure in Pa at the moments; each is interpolated on its own."""
        if self.times is None:
            temperature = np.full(moments.shape, self.temperature[0])
            return temperature, self.humidity[0] * saturation_pressure(temperature)
        pressure = self.humidity * saturation_pressure(self.temperature)
        return np.interp(moments, self.times, self.temperature), np.interp(moments, self.times, pressure)


def coarser(air: Air, step: float) -> Air:
    """A logged course on a coarser grid, each value the mean under a hat of half width `step` (s): fewer steps, same water.

    Vapour pressure is averaged, not humidity, so that the drying power of the air stays. Jumps in the log are smoothed.
    """
    if air.times is None:
        return air
    moments = np.linspace(air.times[0], air.times[-1], max(2, round((air.times[-1] - air.times[0]) / step) + 1))
    fine = np.linspace(moments[0], moments[-1], 12 * (moments.size - 1) + 1)
    temperature, pressure = air.at(fine)
    offsets = np.arange(-12, 13)
    weights = 1.0 - np.abs(offsets) / 12.0
    places = 12 * np.arange(moments.size)[:, None] + offsets[None, :]
    inside = (places >= 0) & (places < fine.size)
    shares = np.where(inside, weights[None, :], 0.0)
    shares /= shares.sum(axis=1, keepdims=True)
    places = np.clip(places, 0, fine.size - 1)
    warm = (temperature[places] * shares).sum(axis=1)
    vapour = (pressure[places] * shares).sum(axis=1)
    return Air(warm, np.minimum(vapour / saturation_pressure(warm), 1.0), moments)


@dataclass(frozen=True, slots=True)
class Side:
    """One side: its air, its surface, and the spans (from, to) in s during which free water stands on it."""

    air: Air
    surface: Surface = Surface()
    wet: tuple[tuple[float, float], ...] = ()
    heat_source: float = 0.0  # W/m2 taken up at the surface: a heat mat, sun


@dataclass(frozen=True, slots=True)
class Climate:
    """Both sides, from 0 to `duration` s."""

    first: Side
    second: Side
    duration: float

    def __post_init__(self) -> None:
        if not 0.0 < self.duration <= 100 * 366 * 86400.0:
            raise OutOfRange("a run lasts from a second to a hundred years", got=f"{self.duration} s")
        for number, side in enumerate((self.first, self.second)):
            times = side.air.times
            if times is not None and (times[0] > 0.0 or times[-1] < self.duration):
                raise InputError(
                    f"the air of side {number} does not cover the run", got=f"{times[0]:g} to {times[-1]:g} s",
                    wanted=f"0 to {self.duration:g} s", next_step="shorten the run, or say what the air was before and after",
                )  # fmt: skip
            for start, end in side.wet:
                if not 0.0 <= start < end:
                    raise InputError("a wet span ends after it begins", got=f"{start:g} to {end:g} s")


def boundary_table(climate: Climate) -> tuple[Floats, Floats]:
    """(times, table): every time at which anything bends, jumps twice; table (times, 2, 6) as kernel.py reads it."""
    sides = (climate.first, climate.second)
    bends = {0.0, climate.duration}
    jumps: set[float] = set()
    for side in sides:
        if side.air.times is not None:
            inside = side.air.times[(side.air.times > 0.0) & (side.air.times < climate.duration)]
            bends.update(inside.tolist())
            same = side.air.times[1:][np.diff(side.air.times) == 0.0]
            jumps.update(same[(same > 0.0) & (same < climate.duration)].tolist())
        for span in side.wet:
            jumps.update(edge for edge in span if 0.0 < edge < climate.duration)
    ordered = sorted(bends | jumps)
    times = np.array([moment for moment in ordered for _ in range(2 if moment in jumps else 1)])
    after = np.zeros(times.size, dtype=bool)
    after[1:] = times[1:] == times[:-1]
    before = np.zeros(times.size, dtype=bool)
    before[:-1] = times[1:] == times[:-1]
    nudged = np.where(after, np.nextafter(times, np.inf), np.where(before, np.nextafter(times, -np.inf), times))
    table = np.zeros((times.size, 2, 6))
    for number, side in enumerate(sides):
        temperature, pressure = side.air.at(nudged)
        wet = np.zeros(times.size, dtype=bool)
        for start, end in side.wet:
            wet |= (nudged >= start) & (nudged <= end)
        table[:, number, 0] = temperature
        table[:, number, 1] = pressure
        table[:, number, 2] = side.surface.heat
        table[:, number, 3] = np.where(wet, 0.0, side.surface.vapour)
        table[:, number, 4] = np.where(wet, FREE_WATER, 0.0)
        table[:, number, 5] = side.heat_source
    return times, table
