"""How a material holds and passes water and heat, as one table over the moisture potential.

Contents: S0, U_FIRST, U_LAST, ROWS; humidity_of_suction and back; potential_of_humidity and back; Properties (a compiled
table with its name); compiled (from functions of suction and water content).
The potential is u = ln(1 + s / S0) with s the suction in Pa; relative humidity belongs to s by Kelvin's law at 20 degC
([EN15026] annex A is met that way: the sorption curve w(RH) is taken not to move with temperature).
Below s = 0 a small linear storage keeps the equations regular while free water stands on a surface.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

S0 = 1.0e3  # Pa; anything from 1 to 1e4 gives the same results: a setting of ours
U_FIRST = float(np.log(0.5))  # s = -500 Pa
U_LAST = 16.0  # s = 8.9e9 Pa: RH below 1e-28
ROWS = 2048
STANDING = 1e-5  # of the capacity, per Pa above saturation: keeps the equations regular, a setting of ours
DROPS = 0.01  # kg/m3 per Pa, the same for a material that moves no liquid (mineral wool): condensate stays as drops
WATER_DENSITY = 1000.0  # kg/m3
VAPOUR_CONSTANT = 461.5  # J/(kg K) [EN15026]
KELVIN_TEMPERATURE = 293.15  # K
KELVIN = WATER_DENSITY * VAPOUR_CONSTANT * KELVIN_TEMPERATURE  # Pa: s = -KELVIN ln(RH)
AIR_PERMEABILITY = 2.0e-10  # kg/(m s Pa), of vapour in still air [ISO-13788]


def suction_of_humidity(humidity: Any) -> Any:
    """Suction in Pa at a relative humidity as a fraction, above 0 and up to 1."""
    return -KELVIN * np.log(humidity)


def humidity_of_suction(suction: Any) -> Any:
    return np.exp(-np.maximum(suction, 0.0) / KELVIN)


def potential_of_suction(suction: Any) -> Any:
    return np.log1p(np.asarray(suction) / S0)


def suction_of_potential(potential: Any) -> Any:
    return S0 * np.expm1(potential)


def potential_of_humidity(humidity: Any) -> Any:
    return potential_of_suction(suction_of_humidity(humidity))


def humidity_of_potential(potential: Any) -> Any:
    return humidity_of_suction(suction_of_potential(potential))


def rows_of_potential() -> Floats:
    return np.linspace(U_FIRST, U_LAST, ROWS)


@dataclass(frozen=True, slots=True)
class Properties:
    """A compiled material. `table` has the columns water kg/m3, RH, matric flux potential kg/(m s), vapour permeability
    kg/(m s Pa), conductivity W/(m K), one row for each step of the potential; `dry_heat` in J/(m3 K); `capacity`, the
    capillary water content, in kg/m3."""

    name: str
    table: Floats
    dry_heat: float
    capacity: float

    def water(self, potential: Any) -> Any:
        """Water content in kg/m3 at a potential."""
        return np.interp(potential, rows_of_potential(), self.table[:, 0])

    def potential(self, water: Any) -> Any:
        """The potential at which the material holds this water, kg/m3."""
        return np.interp(-np.asarray(water, dtype=float), -self.table[:, 0], rows_of_potential())


def compiled(
    name: str,
    *,
    water: Callable[[Floats], Floats],
    liquid_diffusivity: Callable[[Floats], Floats] | None = None,
    liquid_conductivity: Callable[[Floats], Floats] | None = None,
    permeability: Callable[[Floats], Floats],
    conductivity: Callable[[Floats], Floats],
    dry_heat: float,
    points: int = 8,
) -> Properties:
    """Compile functions into a table.

    `water(s)` in kg/m3 for suction s >= 0 in Pa, falling. Liquid either as `liquid_diffusivity(w)` in m2/s or as
    `liquid_conductivity(s)` in kg/(m s Pa), or none. `permeability(w)` in kg/(m s Pa), `conductivity(w)` in W/(m K).
    """
    potential = rows_of_potential()
    suction = suction_of_potential(potential)
    held = np.asarray(water(np.maximum(suction, 0.0)), dtype=float) * np.ones(ROWS)
    capacity = float(held[0])
    if not (np.all(np.isfinite(held)) and np.all(np.diff(held) <= 0.0) and held[-1] >= 0.0):
        raise ValueError(f"{name}: the water held must be finite, not below 0, and fall with suction")
    flux = np.zeros(ROWS)
    if liquid_diffusivity is not None:
        flux = _integral_over_water(held, liquid_diffusivity, points)
    elif liquid_conductivity is not None:
        flux = _integral_over_suction(potential, liquid_conductivity, points)
    plain = np.minimum(held, capacity)
    moves = liquid_diffusivity is not None or liquid_conductivity is not None
    standing = held + (STANDING * capacity if moves else DROPS) * np.maximum(-suction, 0.0)
    columns = (
        standing,
        humidity_of_suction(suction),
        flux,
        np.asarray(permeability(plain)) * np.ones(ROWS),
        np.asarray(conductivity(plain)) * np.ones(ROWS),
    )
    return Properties(name, np.ascontiguousarray(np.stack(columns, axis=1)), dry_heat, capacity)


def _integral_over_water(held: Floats, diffusivity: Callable[[Floats], Floats], points: int) -> Floats:
    """Matric flux potential as the integral of D dw, from the driest row up."""
    nodes, weights = np.polynomial.legendre.leggauss(points)
    low, high = held[1:], held[:-1]
    inside = 0.5 * (low + high)[:, None] + 0.5 * (high - low)[:, None] * nodes[None, :]
    pieces = 0.5 * (high - low) * (diffusivity(inside) @ weights)
    return np.concatenate([np.cumsum(pieces[::-1])[::-1], [0.0]])


def _integral_over_suction(potential: Floats, conductivity: Callable[[Floats], Floats], points: int) -> Floats:
    """Matric flux potential as the integral of K ds, with ds = (s + S0) du."""
    nodes, weights = np.polynomial.legendre.leggauss(points)
    low, high = potential[:-1], potential[1:]
    inside = 0.5 * (low + high)[:, None] + 0.5 * (high - low)[:, None] * nodes[None, :]
    suction = suction_of_potential(inside)
    pieces = 0.5 * (high - low) * ((conductivity(np.maximum(suction, 0.0)) * (suction + S0)) @ weights)
    return np.concatenate([np.cumsum(pieces[::-1])[::-1], [0.0]])
