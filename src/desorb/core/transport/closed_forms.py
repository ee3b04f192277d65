"""The engine against closed forms: diffusion, uptake, evaporation and a receding front.

Contents: plane_sheet, half_space, half_space_film, constant_flux, sorptivity, evaporation, receding_front.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from desorb.core.transport.assembly import Assembly, Layer
from desorb.core.transport.check import CLOSED, DAY, HELD, HOUR, Check, Rows, cubic, growing, layers_of, near
from desorb.core.transport.climate import (
    Air,
    Climate,
    Side,
    Surface,
    boundary_table,
    saturation_pressure,
    vapour_exchange,
)
from desorb.core.transport.properties import KELVIN, Properties, compiled, potential_of_humidity
from desorb.core.transport.run import simulate

SLAB_BACK = Surface(0.0, 50.0, sealed=True)  # no vapour, but held at the temperature of the air


def linear_material(diffusivity: float, held: float = 100.0, name: str = "linear") -> Properties:
    """Water in proportion to RH, vapour only: diffusion with one coefficient at 20 degC."""
    pressure = float(saturation_pressure(np.array(20.0)))
    return compiled(
        name, water=lambda s: held * np.exp(-s / KELVIN), permeability=lambda w: np.full_like(w, diffusivity * held / pressure),
        conductivity=lambda w: np.full_like(w, 1e3), dry_heat=1e6,
    )  # fmt: skip


def plane_sheet(fixed: Rows, film: Rows) -> Iterable[Check]:
    """A sheet with one face sealed: share of the water that has left."""
    diffusivity, length = 1e-9, 0.05
    unit = length**2 / diffusivity
    assembly = Assembly((Layer(linear_material(diffusivity), length, 160),))
    wanted = [row for row in fixed if 0.005 <= float(row["T=Dt/l2"]) <= 2.0]
    moments = np.array([float(row["T=Dt/l2"]) for row in wanted]) * unit
    climate = Climate(Side(Air(20.0, 0.3), HELD), Side(Air(20.0, 0.3), CLOSED), float(moments[-1]))
    run = simulate(assembly, climate, start_humidity=0.8, outputs=moments, tolerance=1e-5)
    for row, got in zip(wanted, -run.inflow[:, 0] / (100.0 * 0.5 * length), strict=True):
        yield near(
            f"crank-fixed-T{row['T=Dt/l2']}", float(row["Mt_over_Minf"]), got, 0.001, "share of the water; 160 cells",
            "Crank, The Mathematics of Diffusion, 2nd ed., eqs 4.18-4.20, from memory",
        )  # fmt: skip
    for number in (1.0, 5.0, 20.0):
        yield from _sheet_with_film(film, number, diffusivity, length)


def _sheet_with_film(rows: Rows, number: float, diffusivity: float, length: float) -> Iterable[Check]:
    unit = length**2 / diffusivity
    pressure = float(saturation_pressure(np.array(20.0)))
    beta = number * diffusivity / length * 100.0 / pressure  # L = l beta / delta
    assembly = Assembly((Layer(linear_material(diffusivity), length, 160),))
    wanted = [row for row in rows if 0.01 <= float(row["T=Dt/l2"]) <= 2.0]
    moments = np.array([float(row["T=Dt/l2"]) for row in wanted]) * unit
    surface = Surface(convection=beta / vapour_exchange(1.0), radiation=50.0)
    climate = Climate(Side(Air(20.0, 0.3), surface), Side(Air(20.0, 0.3), SLAB_BACK), float(moments[-1]))
    run = simulate(assembly, climate, start_humidity=0.8, outputs=moments, tolerance=1e-5)
    for row, got in zip(wanted, -run.inflow[:, 0] / (100.0 * 0.5 * length), strict=True):
        yield near(
            f"crank-film-L{number:g}-T{row['T=Dt/l2']}", float(row[f"L={number:g}"]), got, 0.003,
            "share of the water; the surface cools by evaporation a little, which the closed form leaves out",
            "Crank, The Mathematics of Diffusion, 2nd ed., eqs 4.50-4.53, from memory",
        )  # fmt: skip


def half_space(rows: Rows) -> Iterable[Check]:
    """A thick body whose surface is held: erfc."""
    diffusivity = 1e-9
    assembly = Assembly(layers_of(linear_material(diffusivity), growing(2.0, 120, 0.0002)))
    moment = 10 * DAY
    climate = Climate(Side(Air(20.0, 0.3), HELD), Side(Air(20.0, 0.8), CLOSED), moment)
    run = simulate(assembly, climate, start_humidity=0.8, outputs=[moment], tolerance=1e-5)
    held = run.assembly.layers[0].properties.water(run.potential[0]) / 100.0
    for row in rows:
        z = float(row["z=x/(2sqrt(Dt))"])
        if z > 2.0:
            continue
        got = (0.8 - cubic(z * 2.0 * np.sqrt(diffusivity * moment), run.x, held)) / 0.5
        yield near(
            f"halfspace-fixed-z{row['z=x/(2sqrt(Dt))']}", float(row["(C-C0)/(C1-C0)=erfc(z)"]), got, 0.001,
            "share of the step; growing cells from 0.2 mm", "erfc, textbook",
        )  # fmt: skip


def half_space_film(rows: Rows) -> Iterable[Check]:
    """A thick body that takes up vapour through a film: h is alpha / D, H is h sqrt(D t), Z is x / (2 sqrt(D t))."""
    diffusivity, per_length, held = 1e-9, 50.0, 100.0
    beta = per_length * diffusivity * held / float(saturation_pressure(np.array(20.0)))
    assembly = Assembly(layers_of(linear_material(diffusivity, held), growing(2.0, 120, 0.0002)))
    wanted = [row for row in rows if row["H=h*sqrt(Dt)"] in ("0.5", "1", "2", "3")]
    moments = np.array([(float(row["H=h*sqrt(Dt)"]) / per_length) ** 2 / diffusivity for row in wanted])
    surface = Surface(beta / vapour_exchange(1.0), 50.0)
    climate = Climate(Side(Air(20.0, 0.6), surface), Side(Air(20.0, 0.3), CLOSED), float(moments[-1]))
    run = simulate(assembly, climate, start_humidity=0.5, outputs=moments, tolerance=1e-5)
    source = "Crank, The Mathematics of Diffusion, 2nd ed., eqs 3.35-3.37, from memory"
    for number, row in enumerate(wanted):
        name = row["H=h*sqrt(Dt)"]
        gained = run.inflow[number, 0] * per_length / (0.1 * held)
        expected = float(row["h*Mt/(C2-C0)"])
        reason = "1 % of the uptake: the surface warms a little by the vapour it takes up"
        yield near(f"halfspace-film-H{name}-uptake", expected, gained, 0.01 * expected, reason, source)
        humidity = run.humidity[number]
        for z in ("0", "0.25", "0.5", "1"):
            place = float(z) * 2.0 * np.sqrt(diffusivity * moments[number])
            got = (cubic(place, run.x, humidity) - 0.5) / 0.1
            yield near(
                f"halfspace-film-H{name}-Z{z}", float(row[f"theta(Z={z})"]), got, 0.005,
                "share of the step; the surface warms a little", source,
            )  # fmt: skip


def constant_flux(rows: Rows) -> Iterable[Check]:
    """A slab that loses water at one rate, its back sealed: the fall of humidity in dimensionless form."""
    diffusivity, length, held, flux = 1e-9, 0.05, 100.0, 1e-7
    unit = length**2 / diffusivity
    assembly = Assembly((Layer(linear_material(diffusivity, held), length, 160),))
    wanted = [row for row in rows if 0.005 <= float(row["T=Dt/l2"]) <= 0.5]
    moments = np.array([float(row["T=Dt/l2"]) for row in wanted]) * unit
    climate = Climate(Side(Air(20.0, 0.3), CLOSED), Side(Air(20.0, 0.3), SLAB_BACK), float(moments[-1]))
    from desorb.core.transport.march import march

    times, table = boundary_table(climate)
    table[:, 0, :4] = (
        20.0,
        -flux * 1e17,
        1e4,
        1e-17,
    )  # an exchange so weak and a pressure so low that the rate is constant
    nodes = len(assembly.mesh.x)
    results = tuple(np.zeros((moments.size, width)) for width in (nodes, nodes, nodes, 2))
    start = np.full(nodes, float(potential_of_humidity(0.9)))
    march(
        start,
        np.full(nodes, 20.0),
        assembly.mesh.model,
        assembly.mesh.capacity,
        times,
        table,
        moments,
        1,
        1e-5,
        1.0,
        1e9,
        results,
    )
    potential = results[0]
    humidity = assembly.layers[0].properties.water(potential) / held
    for number, row in enumerate(wanted):
        for place in ("1", "0.75", "0.5", "0"):
            depth = length * (1.0 - float(place))
            got = (0.9 - cubic(depth, assembly.mesh.x, humidity[number])) * held * diffusivity / (flux * length)
            yield near(
                f"constant-flux-T{row['T=Dt/l2']}-X{place}", float(row[f"theta(X={place})"]), got, 0.002,
                "dimensionless; 160 cells", "series for a slab with constant flux, textbook",
            )  # fmt: skip


def sorptivity(rows: Rows) -> Iterable[Check]:
    """Water taken up through a wet face goes with the root of time; D = D1 exp(n (theta - 1))."""
    held, largest = 200.0, 1e-7
    for row in rows:
        n = float(row["n in D=D1*exp(n(theta-1))"])
        if n not in (2.0, 4.0, 6.0):
            continue
        assembly = Assembly(layers_of(_exponential(held, largest, n), growing(0.6, 200, 0.0003)))
        moment = 4 * HOUR
        climate = Climate(Side(Air(20.0, 1.0), HELD, wet=((0.0, moment * 2),)), Side(Air(20.0, 0.5), CLOSED), moment)
        run = simulate(assembly, climate, start_humidity=0.001, outputs=[moment], tolerance=1e-4)
        got = run.inflow[0, 0] / (np.sqrt(largest * moment) * held * 0.999)
        expected = float(row["S/(sqrt(D1)*dw) numerical (Philip integral)"])
        yield near(
            f"sorptivity-n{n:g}", expected, got, 0.005 * expected, "0.5 % of the uptake; 200 growing cells from 0.3 mm",
            "Philip's integral for an exponential diffusivity, evaluated numerically",
        )  # fmt: skip


def _exponential(held: float, largest: float, n: float) -> Properties:
    """Liquid only, with a diffusivity that grows e-fold n times from dry to full."""
    return compiled(
        f"uptake n {n:g}", water=lambda s: held * np.exp(-s / KELVIN),
        liquid_diffusivity=lambda w: largest * np.exp(n * (w / held - 1.0)),
        permeability=lambda w: np.full_like(w, 1e-18), conductivity=lambda w: np.full_like(w, 1.0), dry_heat=1e6,
    )  # fmt: skip


def evaporation(rows: Rows) -> Iterable[Check]:
    """A wet body whose heat comes from the air only: its surface cools, and the rate falls to about a third."""
    wet = _wet_body()
    for row in rows:
        t, rh, h = float(row["T_air_C"]), float(row["RH_air_%"]), float(row["h_c_W_m2K"])
        if (t, rh) not in ((20.0, 50.0), (30.0, 30.0)) or h not in (4.0, 8.0):
            continue
        assembly = Assembly((Layer(wet, 0.01, 4),))
        climate = Climate(Side(Air(t, rh / 100.0), Surface(h, 0.0)), Side(Air(t, rh / 100.0), CLOSED), 12 * HOUR)
        run = simulate(assembly, climate, start_humidity=1.0, start_temperature=t, outputs=[6 * HOUR, 12 * HOUR])
        rate = -(run.inflow[1, 0] - run.inflow[0, 0]) / (6 * HOUR) * 3.6e6
        name = f"lewis-{t:g}C-{rh:g}pct-h{h:g}"
        source = "Lewis relation with Le 0.86, adiabatic wet surface (algebra)"
        yield near(f"{name}-surface", float(row["T_s_adiabatic_C"]), run.temperature[1, 0], 0.1, "K", source)
        expected = float(row["g_adiabatic_g_m2h"])
        reason = "1.5 % of the rate: the gas temperature of the coefficient is 20 degC throughout"
        yield near(f"{name}-rate", expected, rate, 0.015 * expected, reason, source)


def _wet_body() -> Properties:
    """Holds nearly all its water above 99.9 % RH and passes it freely."""
    return compiled(
        "wet body", water=lambda s: 500.0 / (1.0 + s / 1e5), liquid_diffusivity=lambda w: np.full_like(w, 1e-5),
        permeability=lambda w: np.full_like(w, 1e-18), conductivity=lambda w: np.full_like(w, 1e3), dry_heat=1e5,
    )  # fmt: skip


def receding_front(rows: Rows) -> Iterable[Check]:
    """A wet front that withdraws: vapour crosses the dry part only."""
    pressure = float(saturation_pressure(np.array(20.0)))
    for row in rows:
        if (row["mu"], row["h_c"], row["t_days"]) not in (("30", "4", "28"), ("10", "4", "28")):
            continue
        mu, held = float(row["mu"]), float(row["w0_kg_m3"])
        assembly = Assembly((Layer(_front(held, mu), 0.06, 300),))
        moment = float(row["t_days"]) * DAY
        surface = Surface(7e-9 * float(row["h_c"]) / vapour_exchange(1.0), 50.0)
        side = Side(Air(20.0, 1.0 - float(row["dp_Pa"]) / pressure), surface)
        climate = Climate(side, Side(Air(20.0, 0.5), SLAB_BACK), moment)
        run = simulate(assembly, climate, start_humidity=0.9999, outputs=[moment], tolerance=1e-3)
        expected = float(row["evaporated_kg_m2"])
        yield near(
            f"receding-front-mu{mu:g}-{row['t_days']}d", expected, -run.inflow[0, 0], 0.03 * expected,
            "3 %: the front of the engine has a width, and the surface cools by evaporation", "quasi-steady front (algebra)",
        )  # fmt: skip


def _front(held: float, mu: float) -> Properties:
    """Gives up nearly all its water in a narrow band of humidity, and passes vapour only."""
    return compiled(
        "front", water=lambda s: held / (1.0 + (s / (0.004 * KELVIN)) ** 4),
        permeability=lambda w: np.full_like(w, 2e-10 / mu), conductivity=lambda w: np.full_like(w, 1e3), dry_heat=1e6,
    )  # fmt: skip
