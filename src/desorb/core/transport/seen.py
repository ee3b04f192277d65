"""What instruments would see of a profile: the same for one run (outputs, nodes) and an ensemble (members, outputs, nodes).

Contents: humidity_at (a probe in a hole), water_at (pins), water_between (a sample over a depth band), field (a pad whose
sensitivity falls with depth), surface_temperature; as_dry_mass (kg/m3 as % of dry mass).
Depths in m from side 0. Every function takes the potential (or temperature) with nodes last, and gives the leading shape.
A comparative scale is not among them: what its digits mean is not known, so only their order can be modelled.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np

from desorb.core.transport.assembly import Assembly
from desorb.core.transport.properties import Floats, humidity_of_potential
from desorb.errors import OutOfRange


def humidity_at(assembly: Assembly, potential: Floats, depth: float) -> Floats:
    """Relative humidity (fraction) that a probe in a sealed hole at this depth comes to."""
    _within(assembly, depth)
    found: Floats = humidity_of_potential(_between_nodes(assembly, potential, depth))
    return found


def water_at(assembly: Assembly, potential: Floats, depth: float, factor: Floats | float = 1.0) -> Floats:
    """Water content in kg/m3 at a depth; at an interface, of the layer above. `factor` scales the storage (ensembles)."""
    layer = _layer_at(assembly, depth)
    held: Floats = assembly.layers[layer].properties.water(_between_nodes(assembly, potential, depth))
    return held * _spread(factor, held)


def water_between(
    assembly: Assembly, potential: Floats, upper: float, lower: float, factor: Floats | float = 1.0
) -> Floats:
    """Mean water content in kg/m3 of a sample from depth `upper` to `lower`, as an oven or carbide would find it."""
    _within(assembly, upper)
    _within(assembly, lower)
    if lower <= upper:
        raise OutOfRange("a sample is taken from one depth to a larger one", got=f"{upper} to {lower} m")
    return _weighted(assembly, potential, factor, lambda x: ((x >= upper) & (x <= lower)).astype(float), (upper, lower))


def field(
    assembly: Assembly, potential: Floats, reach: float, deepest: float | None = None, factor: Floats | float = 1.0
) -> Floats:
    """Depth-weighted water content in kg/m3: weight exp(-x / reach) down to `deepest` (whole assembly if not given).

    The exponential weight is a model of ours: makers state a nominal depth, not a curve.
    """
    if not reach > 0.0:
        raise OutOfRange("the reach of a pad is above 0 m", got=str(reach))
    end = assembly.thickness if deepest is None else deepest
    _within(assembly, end)
    return _weighted(assembly, potential, factor, lambda x: np.exp(-x / reach) * (x <= end), (end,))


def surface_temperature(temperature: Floats, side: int = 0) -> Floats:
    """Temperature of the surface of side 0 or 1, degC."""
    found: Floats = temperature[..., 0 if side == 0 else -1]
    return found


def as_dry_mass(water: Floats, dry_density: float) -> Floats:
    """kg/m3 as % of the dry mass. `dry_density` in kg/m3."""
    if not dry_density > 0.0:
        raise OutOfRange("a dry density is above 0 kg/m3", got=str(dry_density))
    return 100.0 * np.asarray(water) / dry_density


def _within(assembly: Assembly, depth: float) -> None:
    if not 0.0 <= depth <= assembly.thickness * (1.0 + 1e-12):
        raise OutOfRange(
            "this depth lies outside the assembly",
            got=f"{depth} m",
            wanted=f"0 to {assembly.thickness:g} m from side 0",
        )


def _layer_at(assembly: Assembly, depth: float) -> int:
    _within(assembly, depth)
    reached = 0.0
    for number, layer in enumerate(assembly.layers):
        reached += layer.thickness
        if depth <= reached * (1.0 + 1e-12):
            return number
    return len(assembly.layers) - 1


def _between_nodes(assembly: Assembly, potential: Floats, depth: float) -> Floats:
    x = assembly.mesh.x
    face = int(np.clip(np.searchsorted(x, depth, side="left") - 1, 0, len(x) - 2))
    width = x[face + 1] - x[face]
    share = (depth - x[face]) / width if width > 0.0 else 0.0
    found: Floats = potential[..., face] + share * (potential[..., face + 1] - potential[..., face])
    return found


def _spread(factor: Floats | float, like: Floats) -> Floats:
    found = np.asarray(factor, dtype=float)
    return found.reshape(found.shape + (1,) * (like.ndim - found.ndim)) if found.ndim else found


def _weighted(
    assembly: Assembly,
    potential: Floats,
    factor: Floats | float,
    weight: Callable[[Floats], Floats],
    cuts: tuple[float, ...],
) -> Floats:
    """Mean over depth with a weight: each cell cut at `cuts` and integrated with Gauss points, water from the potential."""
    points, shares = np.polynomial.legendre.leggauss(4)
    mesh = assembly.mesh
    total = np.zeros(potential.shape[:-1])
    whole = 0.0
    for face, layer in enumerate(mesh.layer_of_face):
        if layer < 0:
            continue
        left, right = mesh.x[face], mesh.x[face + 1]
        edges = [left, *sorted(cut for cut in cuts if left < cut < right), right]
        for low, high in itertools.pairwise(edges):
            inside = 0.5 * (low + high) + 0.5 * (high - low) * points
            amounts = weight(inside) * shares * 0.5 * (high - low)
            if not amounts.any():
                continue
            for place, amount in zip(inside, amounts, strict=True):
                share = (place - left) / (right - left)
                u = potential[..., face] + share * (potential[..., face + 1] - potential[..., face])
                total = total + amount * assembly.layers[layer].properties.water(u)
            whole += float(amounts.sum())
    return total / whole * _spread(factor, total)
