"""Lesson 2: a concrete slab dries to a room. Invented material; run with `python examples/02_a_slab_dries.py`.

A straight line through the first week says the slab is dry far too soon: drying slows as the surface layer dries out.
"""

import numpy as np

from desorb.core.transport import Air, Assembly, Climate, Layer, Side, Surface, compiled, simulate
from desorb.report.transport_charts import mass_chart

DAY = 86400.0
HELD, UPTAKE = 150.0, 0.02  # kg/m3; kg/(m2 s^0.5)

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
    slab = Assembly((Layer(concrete, 0.100),))
    room = Climate(Side(Air(20.0, 0.50)), Side(Air(20.0, 0.50), SEALED), 360 * DAY)
    run = simulate(slab, room, start_humidity=0.97, outputs=np.arange(0, 361) * DAY)
    depth = 0.04  # 40 % of the thickness, where a one-sided slab is read
    humidity = [float(np.interp(depth, run.x, row)) for row in run.humidity]
    left = run.mass - run.mass[-1]
    rate = (left[0] - left[7]) / 7.0
    print(f"water that can leave: {left[0]:.2f} kg/m2; in the first week {left[0] - left[7]:.2f} kg/m2")
    print(f"a straight line through the first week: all gone after {left[0] / rate:.0f} days")
    print(
        f"the physics: after {left[0] / rate:.0f} days {100 * left[round(left[0] / rate)] / left[0]:.0f} % is still there"
    )
    for limit in (0.90, 0.85, 0.75):
        day = next((day for day, value in enumerate(humidity) if value <= limit), None)
        print(f"{100 * limit:.0f} % RH at 40 mm: {f'day {day}' if day is not None else 'not within a year'}")
    print(f"water balance closes to {abs(run.balance()).max():.0e}")
    print(mass_chart(run).alt)


if __name__ == "__main__":
    main()
