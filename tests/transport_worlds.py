"""Invented materials and climates that the tests of the transport engine share.

Contents: concrete, brick, plain (a linear material), climates, closed, members. Figures are ours, no data of anybody.
"""

from __future__ import annotations

import numpy as np

from desorb.core.transport import Air, Assembly, Climate, Layer, Properties, Side, Surface, Variation, compiled
from desorb.core.transport.properties import KELVIN, Floats

DAY, HOUR = 86400.0, 3600.0
CLOSED = Surface(0.0, 0.0, sealed=True, adiabatic=True)


def concrete(held: float = 150.0, uptake: float = 0.02, mu: float = 100.0) -> Properties:
    slope = 3.8 * (uptake / held) ** 2
    return compiled(
        "concrete", water=lambda s: held / (1.0 + s / 2e7) ** 0.45,
        liquid_diffusivity=lambda w: slope * 1000.0 ** (w / held - 1.0),
        permeability=lambda w: np.full_like(w, 2e-10 / mu), conductivity=lambda w: 1.6 + 0.006 * w, dry_heat=2e6,
    )  # fmt: skip


def brick(held: float = 200.0, uptake: float = 0.1, mu: float = 10.0) -> Properties:
    slope = 3.8 * (uptake / held) ** 2
    return compiled(
        "brick", water=lambda s: held / (1.0 + (s / 2e5) ** 1.6) ** 0.45,
        liquid_diffusivity=lambda w: slope * 1000.0 ** (w / held - 1.0),
        permeability=lambda w: 2e-10 / mu * (1.0 + 2.0 * w / held), conductivity=lambda w: 0.6 + 0.006 * w, dry_heat=1.5e6,
    )  # fmt: skip


def plain(diffusivity: float = 1e-9, held: float = 100.0) -> Properties:
    """Water in proportion to RH; liquid only, so that nothing cools."""
    return compiled(
        "plain", water=lambda s: held * np.exp(-s / KELVIN), liquid_diffusivity=lambda w: np.full_like(w, diffusivity),
        permeability=lambda w: np.full_like(w, 1e-18), conductivity=lambda w: np.full_like(w, 1e3), dry_heat=1e6,
    )  # fmt: skip


def slab(material: Properties | None = None, thickness: float = 0.1, cells: int = 40) -> Assembly:
    return Assembly((Layer(material or concrete(), thickness, cells),))


def room(days: float, wet: tuple[tuple[float, float], ...] = (), humidity: float = 0.5) -> Climate:
    """Constant air on side 0, a closed back."""
    return Climate(Side(Air(20.0, humidity), wet=wet), Side(Air(20.0, 0.5), CLOSED), days * DAY)


def hourly(days: int, wet: tuple[tuple[float, float], ...] = ()) -> Climate:
    """A logged room: a daily course, a weather of six days and the noise of a logger, by hours; a closed back."""
    times = np.arange(0, days * 24 + 1) * HOUR
    chance = np.random.default_rng(1)
    temperature = 20.0 + 2.0 * np.sin(2 * np.pi * times / DAY) + chance.normal(0.0, 0.3, times.size)
    humidity = 0.5 + 0.06 * np.sin(2 * np.pi * times / DAY + 1.0) + 0.08 * np.sin(2 * np.pi * times / (6 * DAY))
    humidity = np.clip(humidity + chance.normal(0.0, 0.01, times.size), 0.05, 0.95)
    return Climate(Side(Air(temperature, humidity, times), wet=wet), Side(Air(20.0, 0.5), CLOSED), days * DAY)


def members(count: int, start: Floats | None = None) -> Variation:
    """Materials, exchange and start, spread as one would not know them."""
    chance = np.random.default_rng(5)
    return Variation(
        count, water=np.exp(chance.normal(0.0, 0.1, (count, 1))), liquid=np.exp(chance.normal(0.0, 0.6, (count, 1))),
        vapour=np.exp(chance.normal(0.0, 0.3, (count, 1))), vapour_exchange=np.exp(chance.normal(0.0, 0.2, (count, 2))),
        start_humidity=np.clip(0.97 + chance.normal(0.0, 0.008, count), 0.9, 0.99) if start is None else start,
    )  # fmt: skip
