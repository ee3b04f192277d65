"""One comparison of the engine with a figure from outside, and what the comparisons share.

Contents: Check; near; growing (cell widths in geometric growth); layers_of; cubic (a value between nodes); DAY, HOUR; CLOSED
and HELD surfaces.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from desorb.core.transport.assembly import Layer
from desorb.core.transport.climate import Surface
from desorb.core.transport.properties import Floats, Properties

Rows = list[dict[str, str]]
DAY, HOUR = 86400.0, 3600.0
CLOSED = Surface(0.0, 0.0, sealed=True, adiabatic=True)
HELD = Surface(1e4, 0.0)  # so strong that the surface takes the air's values


@dataclass(frozen=True, slots=True)
class Check:
    """One comparison. `expected` is a figure or a band "low to high"; `tolerance` is absolute, in the unit of the figure."""

    id: str
    ok: bool
    expected: str
    got: float
    tolerance: float
    reason: str
    source: str


def near(name: str, expected: float, got: float, tolerance: float, reason: str, source: str) -> Check:
    return Check(name, bool(abs(got - expected) <= tolerance), f"{expected:.6g}", float(got), tolerance, reason, source)


def growing(length: float, count: int, first: float) -> Floats:
    """Widths in geometric growth from `first` that add up to `length`."""
    low, high = 1.0 + 1e-9, 2.0
    for _ in range(200):
        ratio = 0.5 * (low + high)
        if first * (ratio**count - 1.0) / (ratio - 1.0) < length:
            low = ratio
        else:
            high = ratio
    found: Floats = np.asarray(first * ratio ** np.arange(count), dtype=np.float64)
    return found


def layers_of(material: Properties, widths: Floats) -> tuple[Layer, ...]:
    """Growing cells as layers of two cells each, of one material."""
    pairs = widths.reshape(-1, 2).sum(axis=1)
    return tuple(Layer(material, float(width), 2) for width in pairs)


def cubic(place: float, x: Floats, values: Floats) -> float:
    """Third-order interpolation through the four nearest nodes."""
    at = int(np.clip(np.searchsorted(x, place) - 2, 0, len(x) - 4))
    nodes, heights = x[at : at + 4], values[at : at + 4]
    found = 0.0
    for i in range(4):
        others = [j for j in range(4) if j != i]
        found += heights[i] * float(np.prod([(place - nodes[j]) / (nodes[i] - nodes[j]) for j in others]))
    return found
