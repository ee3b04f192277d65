"""Thousands of variations of one assembly in one call.

Contents: Variation (what varies, one row a member); Ensemble (what came out); simulate_ensemble.
Eight members march side by side over one sequence of steps (schedule.py); blocks go to threads (the kernel holds no lock of the
interpreter). A member whose water balance mismatch drifted, or whose figures are not finite, is run again by itself with the
adaptive march; how many were is reported.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from desorb.core.transport.assembly import Assembly
from desorb.core.transport.climate import Climate, boundary_table, saturation_pressure
from desorb.core.transport.properties import Floats, potential_of_humidity
from desorb.core.transport.run import DRIEST, RunFailed, Start, start_potential
from desorb.core.transport.schedule import schedule_of
from desorb.errors import InputError, OutOfRange

COLD, HOT, DEGREE_STEP = -45.0, 105.0, 0.05  # degC: table of the saturation pressure
STEP = 3 * 3600.0  # s: up to 0.2 % of the water lost, for drying (docs/decisions); a setting of ours
WET_STEP = 600.0  # s: while free water stands on a surface, and a day after
DRIFTED = 0.05  # share of the capacity: beyond it a member is run again
MOST_MEMBERS = 1_000_000
MOST_BYTES = 2 * 1024**3  # of results kept in memory; a setting of ours


@dataclass(frozen=True)
class Variation:
    """Factors on the nominal assembly, one row a member. Shapes: water, liquid, vapour, conduction (members, materials);
    heat_exchange, vapour_exchange, air_temperature (K added), air_pressure (Pa added) (members, 2 sides);
    start_humidity (members,) or (members, nodes), as fractions."""

    members: int
    water: Floats | None = None
    liquid: Floats | None = None
    vapour: Floats | None = None
    conduction: Floats | None = None
    heat_exchange: Floats | None = None
    vapour_exchange: Floats | None = None
    air_temperature: Floats | None = None
    air_pressure: Floats | None = None
    start_humidity: Floats | None = None


@dataclass(frozen=True)
class Ensemble:
    """What came out: (members, outputs, nodes) of potential and temperature, (members, outputs, 2) of inflow in kg/m2."""

    assembly: Assembly
    times: Floats
    potential: Floats
    temperature: Floats
    inflow: Floats
    again: tuple[int, ...] = ()  # members that were run again by themselves
    failed: tuple[int, ...] = ()  # members that could not be run at all: their figures are not numbers
    water_factor: Floats = field(default_factory=lambda: np.ones((0, 0)))


def simulate_ensemble(
    assembly: Assembly,
    climate: Climate,
    variation: Variation,
    *,
    start_humidity: Start | None = None,
    start_water: Start | None = None,
    start_temperature: Start = 20.0,
    outputs: Sequence[float] | Floats,
    step: float = STEP,
    wet_step: float = WET_STEP,
    solves: int = 1,
    second_order: bool = True,
    threads: int = 2,
    progress: Callable[[float], None] | None = None,
) -> Ensemble:
    """Run every member. Memory: 8 bytes x members x outputs x (2 nodes + 2). `progress` is told the share that is done.

    `step` is the longest step; `solves` the linear solves of a step; `second_order` chooses BDF2 over Euler for dry stretches.
    """
    members = variation.members
    if not 1 <= members <= MOST_MEMBERS:
        raise OutOfRange("an ensemble has from one to a million members", got=str(members))
    from desorb.core.transport.lanes import LANES, march_lanes

    mesh, wanted = assembly.mesh, np.asarray(outputs, dtype=float)
    if wanted.size == 0 or (np.diff(wanted) <= 0.0).any() or wanted[0] <= 0.0 or wanted[-1] > climate.duration:
        raise InputError("outputs lie in order after the start and within the run", got=f"{wanted[:4].tolist()} ...")
    needed = 8 * members * wanted.size * (2 * len(mesh.x) + 2)
    if needed > MOST_BYTES:
        raise OutOfRange(
            "these results do not fit into memory", got=f"{members} members, {wanted.size} outputs: {needed / 1e9:.1f} GB",
            wanted=f"at most {MOST_BYTES / 1e9:.1f} GB", next_step="run the members in several calls, or ask for fewer outputs",
        )  # fmt: skip
    if variation.start_humidity is not None:
        _check_start(variation, len(mesh.x))
    nominal = None if variation.start_humidity is not None else start_potential(assembly, start_humidity, start_water)
    start_t = np.broadcast_to(np.asarray(start_temperature, dtype=float), (len(mesh.x),))
    plan = schedule_of(climate, wanted, step=step, wet_step=wet_step, solves=solves, second_order=second_order)
    per_degree = 1.0 / DEGREE_STEP
    pressures = saturation_pressure(np.arange(COLD, HOT + DEGREE_STEP / 2, DEGREE_STEP))
    nodes = len(mesh.x)
    potential = np.empty((members, wanted.size, nodes))
    temperature = np.empty((members, wanted.size, nodes))
    inflow = np.empty((members, wanted.size, 2))
    drifted = np.zeros(members)
    rows = _Rows(variation, len(mesh.tables))
    done = 0

    def block(first: int) -> int:
        chosen = np.minimum(np.arange(first, first + LANES), members - 1)
        u = np.ascontiguousarray(_start(assembly, variation, nominal, chosen).T)
        t = np.ascontiguousarray(np.repeat(start_t[:, None], LANES, axis=1))
        out_u, out_t = np.empty((wanted.size, nodes, LANES)), np.empty((wanted.size, nodes, LANES))
        came, drift = np.empty((wanted.size, 2, LANES)), np.zeros(LANES)
        march_lanes(
            u, t, mesh.model, COLD, per_degree, pressures, mesh.capacity, rows.factors(chosen), rows.exchange(chosen),
            rows.offsets(chosen), plan.weights, plan.means, plan.solves, plan.marks, out_u, out_t, came, drift,
        )  # fmt: skip
        real = chosen[: min(LANES, members - first)]
        potential[real] = np.moveaxis(out_u, 2, 0)[: real.size]
        temperature[real] = np.moveaxis(out_t, 2, 0)[: real.size]
        inflow[real] = np.moveaxis(came, 2, 0)[: real.size]
        drifted[real] = drift[: real.size]
        return int(real.size)

    with ThreadPoolExecutor(max_workers=max(1, threads)) as pool:
        for finished in pool.map(block, range(0, members, LANES)):
            done += finished
            if progress is not None:
                progress(done / members)
    sound = np.isfinite(potential).all(axis=(1, 2)) & np.isfinite(temperature).all(axis=(1, 2)) & (drifted < DRIFTED)
    again, failed = [], []
    for member in np.flatnonzero(~sound):
        again.append(int(member))
        try:
            u, t, came = _alone(assembly, climate, rows, int(member), variation, nominal, start_t, wanted)
        except RunFailed:
            failed.append(int(member))
            potential[member], temperature[member], inflow[member] = np.nan, np.nan, np.nan
            continue
        potential[member], temperature[member], inflow[member] = u, t, came
    return Ensemble(assembly, wanted, potential, temperature, inflow, tuple(again), tuple(failed), rows.water)


class _Rows:
    """The factors of a variation, filled with ones (or zeros) where nothing varies."""

    def __init__(self, variation: Variation, materials: int) -> None:
        shape = (variation.members, materials)
        self.water, self.liquid, self.vapour, self.conduction = (
            _filled(name, getattr(variation, name), shape, 1.0) for name in ("water", "liquid", "vapour", "conduction")
        )
        sides = (variation.members, 2)
        self.heat_exchange = _filled("heat_exchange", variation.heat_exchange, sides, 1.0)
        self.vapour_exchange = _filled("vapour_exchange", variation.vapour_exchange, sides, 1.0)
        self.air_temperature = _filled("air_temperature", variation.air_temperature, sides, 0.0)
        self.air_pressure = _filled("air_pressure", variation.air_pressure, sides, 0.0)

    def factors(self, chosen: np.ndarray) -> Floats:
        stacked = np.stack([self.water, self.liquid, self.vapour, self.conduction], axis=2)[chosen]
        return np.ascontiguousarray(np.moveaxis(stacked, 0, 2))

    def exchange(self, chosen: np.ndarray) -> Floats:
        return np.ascontiguousarray(np.moveaxis(np.stack([self.heat_exchange, self.vapour_exchange], 2)[chosen], 0, 2))

    def offsets(self, chosen: np.ndarray) -> Floats:
        return np.ascontiguousarray(np.moveaxis(np.stack([self.air_temperature, self.air_pressure], 2)[chosen], 0, 2))


def _filled(name: str, values: Floats | None, shape: tuple[int, int], default: float) -> Floats:
    if values is None:
        return np.full(shape, default)
    found = np.asarray(values, dtype=float)
    if found.ndim == 1 and found.size == shape[0]:
        found = np.repeat(found[:, None], shape[1], axis=1)
    if found.shape != shape or not np.isfinite(found).all() or (default == 1.0 and (found <= 0.0).any()):
        raise InputError(
            f"{name} varies with one row a member", got=str(found.shape), wanted=f"{shape}, finite, factors above 0"
        )
    return found


def _start(assembly: Assembly, variation: Variation, nominal: Floats | None, chosen: np.ndarray) -> Floats:
    if variation.start_humidity is None:
        assert nominal is not None
        return np.repeat(nominal[None, :], chosen.size, axis=0)
    given = np.asarray(variation.start_humidity, dtype=float)[chosen]
    found: Floats = potential_of_humidity(given if given.ndim == 2 else given[:, None])
    return np.broadcast_to(found, (chosen.size, len(assembly.mesh.x)))


def _check_start(variation: Variation, nodes: int) -> None:
    given = np.asarray(variation.start_humidity, dtype=float)
    if given.shape not in ((variation.members,), (variation.members, nodes)):
        raise InputError(
            "start_humidity varies with one value, or one row of nodes, a member", got=str(given.shape),
            wanted=f"({variation.members},) or ({variation.members}, {nodes})",
        )  # fmt: skip
    if not ((given >= DRIEST) & (given <= 1.0)).all():
        raise OutOfRange("a starting humidity is a fraction above 0 and up to 1", wanted=f"{DRIEST:g} to 1")


def _alone(
    assembly: Assembly, climate: Climate, rows: _Rows, member: int, variation: Variation, nominal: Floats | None,
    start_t: Floats, outputs: Floats, tolerance: float = 1e-2,
) -> tuple[Floats, Floats, Floats]:  # fmt: skip
    """One member by the adaptive march, with its factors worked into tables and boundary."""
    from desorb.core.transport.march import march

    mesh = assembly.mesh
    tables = mesh.tables.copy()
    for number in range(len(tables)):
        for column, factor in ((0, rows.water), (2, rows.liquid), (3, rows.vapour), (4, rows.conduction)):
            tables[number, :, column] *= factor[member, number]
    model = (*mesh.model[:4], tables, *mesh.model[5:])
    times, table = boundary_table(climate)
    for side in range(2):
        table[:, side, 0] += rows.air_temperature[member, side]
        table[:, side, 1] += rows.air_pressure[member, side]
        table[:, side, 2] *= rows.heat_exchange[member, side]
        table[:, side, 3] *= rows.vapour_exchange[member, side]
    u = _start(assembly, variation, nominal, np.array([member]))[0].copy()
    nodes = len(mesh.x)
    results = tuple(np.zeros((outputs.size, width)) for width in (nodes, nodes, nodes, 2))
    state, taken, _, _ = march(
        u, start_t.copy(), model, mesh.capacity, times, table, outputs, 1, tolerance, 1.0, 1e9, results
    )
    if state != 0:
        raise RunFailed(assembly, taken)
    return results[0], results[1], results[3]
