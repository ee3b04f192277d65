"""The compiled kernels and the plain twin are one scheme: the same steps give the same figures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from transport_worlds import CLOSED, DAY, HOUR, brick, concrete, hourly, room, slab

from desorb.core.transport import Air, Assembly, Climate, Film, Layer, Side, Surface, Variation, simulate_ensemble
from desorb.core.transport.climate import boundary_table, saturation_pressure
from desorb.core.transport.kernel import saturation
from desorb.core.transport.march import march
from desorb.core.transport.run import start_potential
from desorb.core.transport.schedule import schedule_of
from desorb.core.transport.twin import twin_march

LAYERED = Assembly((Layer(brick(), 0.03, 8), Film(2.0, 0.05), Layer(concrete(), 0.08, 12)))
TWO_SIDED = Climate(
    Side(Air(20.0, 0.5), Surface(4.0, 5.0, sd=0.1), heat_source=20.0), Side(Air(5.0, 0.9), Surface(15.0, 5.0)), 3 * DAY
)
LANES_AGREE = 2e-6  # the table of the saturation pressure that lanes use, by 0.05 K


def kernel(
    assembly: Assembly, climate: Climate, start: np.ndarray, steps: int, method: int, tolerance: float
) -> tuple[np.ndarray, ...]:  # fmt: skip
    """March with steps of one length: none may be refused."""
    times, table = boundary_table(climate)
    nodes = len(assembly.mesh.x)
    results = tuple(np.zeros((1, width)) for width in (nodes, nodes, nodes, 2))
    h = climate.duration / steps
    state, taken, refused, _ = march(
        start.copy(), np.full(nodes, 18.0), assembly.mesh.model, assembly.mesh.capacity, times, table,
        np.array([climate.duration]), method, tolerance, h, h, results,
    )  # fmt: skip
    assert (state, taken, refused) == (0, steps, 0)
    return tuple(each[0] for each in results)


@pytest.mark.parametrize("method", [0, 1])
@pytest.mark.parametrize(
    ("assembly", "climate"),
    [
        (slab(cells=20), room(3)),
        (LAYERED, TWO_SIDED),
        (slab(brick(), cells=20), Climate(Side(Air(-10.0, 0.8)), Side(Air(20.0, 0.6), CLOSED), 3 * DAY)),
    ],
)
@pytest.mark.parametrize(
    ("tolerance", "span"), [(10.0, 3 * DAY), (0.02, 2 * HOUR)], ids=["one solve", "several solves"]
)
def test_the_twin_marches_like_the_kernel(
    assembly: Assembly, climate: Climate, method: int, tolerance: float, span: float
) -> None:
    """Ten figures: one slab, a layered floor with a film, coatings, heat and two airs, and a wall in frost."""
    start = start_potential(assembly, 0.9, None)
    steps = 72
    climate = replace(climate, duration=span)
    u, t, m, came = kernel(assembly, climate, start, steps, method, tolerance)
    times, table = boundary_table(climate)
    h = climate.duration / steps
    nodes = len(assembly.mesh.x)
    twin = twin_march(
        start, np.full(nodes, 18.0), assembly.mesh.model, assembly.mesh.capacity, times, table,
        np.full(steps, h), tolerance, method,
    )  # fmt: skip
    for mine, its, size in zip((u, t, m, came), twin, (1e-9, 1e-9, 1e-11, 1e-10), strict=True):
        assert np.max(np.abs(mine - its)) < size


def test_the_twin_books_the_same_water_as_it_holds() -> None:
    """The balance of the twin closes to rounding, with one Newton iteration as with ten."""
    assembly = slab(cells=20)
    start = start_potential(assembly, 0.95, None)
    times, table = boundary_table(room(3))
    for tolerance in (10.0, 1e-9):
        _, _, m, came = twin_march(
            start, np.full(21, 20.0), assembly.mesh.model, assembly.mesh.capacity, times, table, np.full(36, 2 * HOUR),
            tolerance, 1,
        )  # fmt: skip
        before = np.zeros(21)
        held = assembly.layers[0].properties.water(start)
        before[:-1] += 0.5 * assembly.mesh.widths * held[:-1]
        before[1:] += 0.5 * assembly.mesh.widths * held[1:]
        assert m.sum() - before.sum() == pytest.approx(came.sum(), abs=1e-11 * before.sum())


def test_lanes_march_like_the_twin() -> None:
    """Euler with many solves on the steps of an ensemble's schedule: the twin agrees to the table of saturation."""
    assembly, climate = LAYERED, TWO_SIDED
    outputs = np.array([3 * DAY])
    found = simulate_ensemble(
        assembly, climate, Variation(3), start_humidity=0.9, start_temperature=18.0, outputs=outputs, step=HOUR,
        solves=8, second_order=False, threads=1,
    )  # fmt: skip
    plan = schedule_of(climate, outputs, step=HOUR, wet_step=600.0, solves=8, second_order=False)
    times, table = boundary_table(climate)
    nodes = len(assembly.mesh.x)
    u, t, _, came = twin_march(
        start_potential(assembly, 0.9, None), np.full(nodes, 18.0), assembly.mesh.model, assembly.mesh.capacity, times,
        table, np.diff(plan.edges), 1e-9, 0,
    )  # fmt: skip
    assert np.max(np.abs(found.potential[:, 0] - u)) < 1e3 * LANES_AGREE
    assert np.max(np.abs(found.temperature[:, 0] - t)) < 1e3 * LANES_AGREE
    assert np.max(np.abs(found.inflow[:, 0] - came)) < 1e-3 * np.abs(came).max()
    assert np.ptp(found.potential, axis=0).max() == 0.0


def test_the_pressure_of_the_kernel_is_that_of_the_climate() -> None:
    for temperature in (-30.0, -0.5, 0.0, 20.0, 60.0):
        pressure, slope = saturation(temperature)
        assert pressure == pytest.approx(float(saturation_pressure(np.array(temperature))), rel=1e-14)
        rise = saturation_pressure(np.array([temperature, temperature + 1e-5]))
        if temperature != 0.0:
            assert slope == pytest.approx(np.diff(rise)[0] / 1e-5, rel=1e-4)


def test_step_means_keep_the_sum_of_the_climate() -> None:
    """What every formula of a step takes of a varying climate adds up to the climate's own integral."""
    climate = hourly(5)
    plan = schedule_of(climate, np.array([5 * DAY]), step=3 * HOUR, wet_step=600.0, solves=1, second_order=True)
    total = older = 0.0
    for (near, far, span, _), about in zip(plan.weights, plan.means[:, 0, 0], strict=True):
        total, older = near * total - far * older + span * about, total
    times, table = boundary_table(climate)
    assert total == pytest.approx(np.trapezoid(table[:, 0, 0], times), rel=1e-12)


def test_the_derivatives_of_the_kernel_are_those_of_its_fluxes() -> None:
    """Newton's matrix against differences, for a layered floor with a film and free water."""
    from desorb.core.transport.kernel import divergence

    assembly = LAYERED
    chance = np.random.default_rng(3)
    nodes = len(assembly.mesh.x)
    u, t = chance.uniform(5.0, 9.0, nodes), chance.uniform(5.0, 25.0, nodes)
    boundary = np.array([[20.0, 1200.0, 9.0, 2e-8, 1e-9, 5.0], [5.0, 700.0, 20.0, 1e-7, 0.0, 0.0]])

    def at(u: np.ndarray, t: np.ndarray) -> np.ndarray:
        work, sides = np.zeros((nodes, 22)), np.zeros((2, 3))
        divergence(u, t, *assembly.mesh.model, boundary, work, sides)
        return work

    base = at(u, t)
    for node in range(nodes):
        for column, (change_u, change_t) in enumerate(((1e-7, 0.0), (0.0, 1e-5))):
            at_u, at_t = u.copy(), t.copy()
            at_u[node] += change_u
            at_t[node] += change_t
            slope = (at(at_u, at_t)[:, :2] - base[:, :2]) / (change_u + change_t)
            for other, first in ((node, 4), (node + 1, 8), (node - 1, 12)):
                if 0 <= other < nodes:
                    expected = base[other, [first + column, first + 2 + column]]
                    size = np.abs(base[other, 4:16]).max()
                    assert slope[other] == pytest.approx(expected, abs=2e-4 * size)
