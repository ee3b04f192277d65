"""Lesson 4: a thousand slabs that could be this one. Invented material; run with `python examples/04_a_thousand_slabs.py`.

Nobody knows the liquid transport of the slab in front of them to better than a factor. The spread of what could happen is the
honest answer; readings narrow it.
"""

import numpy as np

from desorb.core.transport import (
    Air,
    Assembly,
    Climate,
    Layer,
    Side,
    Surface,
    Variation,
    compiled,
    seen,
    simulate_ensemble,
)

DAY = 86400.0
HELD, UPTAKE, MEMBERS = 150.0, 0.02, 1000

concrete = compiled(
    "concrete, invented",
    water=lambda suction: HELD / (1.0 + suction / 2e7) ** 0.45,
    liquid_diffusivity=lambda water: 3.8 * (UPTAKE / HELD) ** 2 * 1000.0 ** (water / HELD - 1.0),
    permeability=lambda water: np.full_like(water, 2e-10 / 100.0),
    conductivity=lambda water: 1.6 + 0.006 * water,
    dry_heat=2e6,
)
SEALED = Surface(0.0, 0.0, sealed=True, adiabatic=True)


def main() -> None:
    slab = Assembly((Layer(concrete, 0.100),), cells=20)
    room = Climate(Side(Air(20.0, 0.50)), Side(Air(20.0, 0.50), SEALED), 120 * DAY)
    chance = np.random.default_rng(4)
    spread = Variation(
        MEMBERS,
        water=np.exp(chance.normal(0.0, 0.1, MEMBERS)),
        liquid=np.exp(chance.normal(0.0, 0.6, MEMBERS)),
        vapour=np.exp(chance.normal(0.0, 0.3, MEMBERS)),
        vapour_exchange=np.exp(chance.normal(0.0, 0.3, MEMBERS)),
        start_humidity=np.clip(chance.normal(0.97, 0.01, MEMBERS), 0.90, 0.995),
    )
    days = np.arange(5, 121, 5)
    found = simulate_ensemble(slab, room, spread, outputs=days * DAY)
    humidity = 100.0 * seen.humidity_at(slab, found.potential, 0.040)
    print("day   5 %   50 %   95 % of the slabs are below this RH at 40 mm")
    for place in (0, 5, 11, 23):
        low, middle, high = np.quantile(humidity[:, place], (0.05, 0.5, 0.95))
        print(f"{days[place]:3d}  {low:5.1f}  {middle:5.1f}  {high:5.1f}")
    reached = np.array(
        [next((day for day, value in zip(days, row, strict=True) if value <= 85.0), 999) for row in humidity]
    )
    early, late = np.quantile(reached, (0.1, 0.9))
    last = f"day {late:.0f}" if late < 999 else "later than day 120"
    print(f"85 % RH at 40 mm: one in ten by day {early:.0f}, nine in ten by {last}")
    print(f"{len(found.again)} of {MEMBERS} were run again by themselves, {len(found.failed)} could not be run")


if __name__ == "__main__":
    main()
