"""Lesson 3: one profile, four instruments. Invented material; run with `python examples/03_what_the_probe_sees.py`.

A floor of screed on a membrane on a slab was flooded for a day. What a pad meter, pins, a core and a probe in a hole would see
ten days later is not the same, because each looks at another depth.
"""

import numpy as np

from desorb.core.transport import (
    Air,
    Assembly,
    Climate,
    Film,
    Layer,
    Properties,
    Side,
    Surface,
    compiled,
    seen,
    simulate,
)

DAY = 86400.0


def mineral(name: str, held: float, uptake: float, mu: float) -> Properties:
    return compiled(
        name,
        water=lambda suction: held / (1.0 + suction / 5e6) ** 0.45,
        liquid_diffusivity=lambda water: 3.8 * (uptake / held) ** 2 * 1000.0 ** (water / held - 1.0),
        permeability=lambda water: np.full_like(water, 2e-10 / mu),
        conductivity=lambda water: 1.2 + 0.006 * water,
        dry_heat=1.8e6,
    )


def main() -> None:
    floor = Assembly(
        (
            Layer(mineral("screed", 200.0, 0.03, 30.0), 0.065),
            Film(sd=100.0),
            Layer(mineral("slab", 150.0, 0.01, 100.0), 0.150),
        )
    )
    climate = Climate(
        Side(Air(20.0, 0.50), wet=((0.0, 1 * DAY),)), Side(Air(12.0, 0.90), Surface(0.0, 5.0, sealed=True)), 60 * DAY
    )
    days = [1, 3, 10, 30, 60]
    run = simulate(floor, climate, start_humidity=(0.60, 0.85), outputs=np.array(days) * DAY)
    pad = seen.field(floor, run.potential, reach=0.010, deepest=0.040)
    pins = seen.water_at(floor, run.potential, 0.008)
    core = seen.as_dry_mass(seen.water_between(floor, run.potential, 0.030, 0.060), 2000.0)
    probe = 100.0 * seen.humidity_at(floor, run.potential, 0.026)
    below = 100.0 * seen.humidity_at(floor, run.potential, 0.120)
    print("day  pad field  pins 8 mm  core 30-60 mm  probe 26 mm  in the slab below")
    for row in zip(days, pad, pins, core, probe, below, strict=True):
        print("{:3d}  {:5.0f} kg/m3 {:5.0f} kg/m3 {:8.2f} % mass {:8.1f} % RH {:10.1f} % RH".format(*row))
    dried = {name: 100.0 * (1.0 - values[2] / values[0]) for name, values in (("pad", pad), ("core", core))}
    print(f"from day 1 to day 10 the pad fell by {dried['pad']:.0f} %, the core by {dried['core']:.0f} %")
    print(
        "the membrane kept the water out of the slab"
        if abs(below[-1] - below[0]) < 2.0
        else "the slab below took up water"
    )
    print(*run.coarse() or ["the grid is fine enough for these fronts"])


if __name__ == "__main__":
    main()
