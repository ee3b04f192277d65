"""One run: order of accuracy, water and heat balance, jumps, outputs, edges of what can be asked."""

from __future__ import annotations

import itertools
import subprocess
import sys

import numpy as np
import pytest
from transport_worlds import CLOSED, DAY, HOUR, brick, concrete, hourly, plain, room, slab

from desorb.core.transport import Air, Assembly, Climate, Film, Layer, Run, Side, Surface, compiled, simulate
from desorb.core.transport.check import HELD
from desorb.core.transport.properties import humidity_of_potential, potential_of_humidity
from desorb.errors import InputError, OutOfRange

METHODS = ("tr-bdf2", "bdf2", "euler")
FLAT = Side(Air(20.0, 0.3), HELD)
BACK = Side(Air(20.0, 0.3), CLOSED)


def sine_slab(cells: int, **settings: object) -> float:
    """Largest error of the half-wave sin(pi x / L), whose decay is exp(-pi^2 D t / L^2), against the closed form."""
    length, diffusivity, moment = 0.1, 1e-10, 200 * DAY
    material = plain(diffusivity)
    assembly = slab(material, length, cells)
    shape = np.sin(np.pi * assembly.mesh.x / length)
    climate = Climate(FLAT, Side(Air(20.0, 0.3), HELD), moment)
    air = float(material.water(potential_of_humidity(0.3)))  # as the table holds it
    start = humidity_of_potential(material.potential(air + 40.0 * shape))
    run = simulate(assembly, climate, start_humidity=start, outputs=[moment], **settings)  # type: ignore[arg-type]
    expected = air + 40.0 * shape * np.exp(-((np.pi / length) ** 2) * diffusivity * moment)
    return float(np.max(np.abs(run.water(0)[0] - expected)))


def order(errors: list[float], ratio: float = 2.0) -> list[float]:
    return [float(np.log(a / b) / np.log(ratio)) for a, b in itertools.pairwise(errors)]


def test_the_order_in_space_is_two(capsys: pytest.CaptureFixture[str]) -> None:
    """Twice the cells, a quarter of the error."""
    errors = [sine_slab(cells, tolerance=1e-7) for cells in (6, 12, 24, 48)]
    found = order(errors)
    with capsys.disabled():
        print(f"\norder in space: {', '.join(f'{each:.2f}' for each in found)}")
    assert np.mean(found) == pytest.approx(2.0, abs=0.1)  # at finer grids the rows of the material's table show


@pytest.mark.parametrize(("method", "promised"), [("euler", 1.0), ("bdf2", 2.0), ("tr-bdf2", 2.0)])
def test_the_order_in_time_is_the_promised_one(
    method: str, promised: float, capsys: pytest.CaptureFixture[str]
) -> None:
    """Half the steps' length, half (Euler) or a quarter (BDF2, TR-BDF2) of the error; against very short steps."""
    length, moment = 0.1, 2 * DAY
    assembly = slab(concrete(), length, 20)
    shape = np.sin(np.pi * assembly.mesh.x / length)
    climate = Climate(FLAT, Side(Air(20.0, 0.3), HELD), moment)

    def profile(steps: int, method: str) -> np.ndarray:
        # the tolerance is loose, so that `longest_step` alone decides; Newton is made tight by a march of its own
        from desorb.core.transport.climate import boundary_table
        from desorb.core.transport.march import march
        from desorb.core.transport.run import METHODS as NUMBERS
        from desorb.core.transport.run import start_potential

        times, table = boundary_table(climate)
        nodes = len(assembly.mesh.x)
        results = tuple(np.zeros((1, width)) for width in (nodes, nodes, nodes, 2))
        start = start_potential(assembly, 0.3 + 0.4 * shape, None)
        state, taken, _, _ = march(
            start, np.full(nodes, 20.0), assembly.mesh.model, assembly.mesh.capacity * 1e-7, times, table,
            np.array([moment]), NUMBERS[method], 1e6, moment / steps / 1000.0, moment / steps, results,
        )  # fmt: skip
        assert state == 0
        assert taken >= steps
        stored: np.ndarray = results[2][0]
        return stored

    best = profile(6400, "tr-bdf2")
    errors = [float(np.max(np.abs(profile(steps, method) - best))) for steps in (50, 100, 200, 400)]
    found = order(errors)
    with capsys.disabled():
        print(f"\norder in time, {method}: {', '.join(f'{each:.2f}' for each in found)}")
    assert np.mean(found) == pytest.approx(promised, abs=0.2)


@pytest.mark.parametrize("method", METHODS)
def test_a_tighter_tolerance_gives_a_smaller_error(method: str) -> None:
    """The error follows the tolerance, by more than a factor of five over four decades."""
    outputs = np.arange(1, 11) * DAY
    exact = simulate(slab(), room(10), start_humidity=0.97, outputs=outputs, tolerance=1e-8).mass
    errors = [
        np.max(np.abs(simulate(slab(), room(10), start_humidity=0.97, outputs=outputs, tolerance=t, method=method).mass - exact))
        for t in (1e-2, 1e-6)
    ]  # fmt: skip
    assert errors[0] / errors[1] > 5.0
    assert errors[1] < 0.002


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("start", [0.4, 0.97])
def test_a_flood_of_a_day_and_the_drying_after(method: str, start: float) -> None:
    """Water stands on a brick floor for a day: it fills, dries, and no water is made or lost."""
    run = simulate(
        slab(brick(), 0.11), room(30, wet=((DAY, 2 * DAY),)), start_humidity=start, method=method,
        outputs=[0.5 * DAY, 2 * DAY, 3 * DAY, 30 * DAY],
    )  # fmt: skip
    assert np.abs(run.balance()).max() <= (1e-10 if method == "bdf2" else 1e-12)
    assert run.mass[1] > run.mass[0] + 1.0
    assert (np.diff(run.mass[1:]) < 0.0).all()
    assert run.water(0)[1].max() <= 200.0 * 1.001


def test_a_jump_of_the_climate_is_hit_and_begins_afresh() -> None:
    """A heater switched on at noon: the same as two runs, one before and one after."""
    noon = 12 * HOUR
    times = [0.0, *np.linspace(0, noon, 4)[1:], noon, *np.linspace(noon, 36 * HOUR, 7)[1:]]
    jump = Air([20.0] * 4 + [30.0] * 7, [0.5] * 4 + [0.3] * 7, times)
    whole = simulate(
        slab(), Climate(Side(jump), BACK, 36 * HOUR), start_humidity=0.9, outputs=[noon, 36 * HOUR], tolerance=1e-5
    )
    first = simulate(
        slab(), Climate(Side(Air(20.0, 0.5)), BACK, noon), start_humidity=0.9, outputs=[noon], tolerance=1e-5
    )
    second = simulate(
        slab(), Climate(Side(Air(30.0, 0.3)), BACK, DAY), start_humidity=first.humidity[0],
        start_temperature=first.temperature[0], outputs=[DAY], tolerance=1e-5,
    )  # fmt: skip
    assert whole.inflow[0, 0] == pytest.approx(first.inflow[0, 0], rel=1e-4)
    assert whole.inflow[1, 0] == pytest.approx(first.inflow[0, 0] + second.inflow[0, 0], rel=1e-4)


@pytest.mark.parametrize("method", METHODS)
def test_outputs_do_not_shorten_the_steps_between_them(method: str) -> None:
    """Asking for three more moments costs a few steps each, not a slow run."""
    few = simulate(slab(), room(60), start_humidity=0.95, outputs=[60 * DAY], method=method)
    more = simulate(slab(), room(60), start_humidity=0.95, outputs=[DAY, DAY + 1.0, 30 * DAY, 60 * DAY], method=method)
    assert more.steps <= few.steps + 4 * 12
    assert more.mass[-1] == pytest.approx(few.mass[-1], abs=0.02)


def test_long_steps_of_bdf2_after_a_short_one_stay_stable() -> None:
    """Outputs a second apart leave a tiny step behind; the next ones must not blow up."""
    outputs = np.sort(np.concatenate([np.arange(1, 20) * DAY, np.arange(1, 20) * DAY + 1.0]))
    run = simulate(slab(brick()), room(20), start_humidity=0.97, outputs=outputs, method="bdf2")
    best = simulate(slab(brick()), room(20), start_humidity=0.97, outputs=outputs, tolerance=1e-5)
    assert run.mass == pytest.approx(best.mass, abs=0.02)


def test_nothing_moves_in_a_closed_slab_but_heat_until_it_is_even() -> None:
    """Sealed and adiabatic all round: water stays, and the mean temperature of a dry body stays."""
    empty = compiled(
        "dry stone", water=lambda s: 1e-6 * np.exp(-s / 1.35e8), permeability=lambda w: np.full_like(w, 1e-18),
        conductivity=lambda w: np.full_like(w, 1.0), dry_heat=2e6,
    )  # fmt: skip
    assembly = slab(empty)
    start = np.linspace(5.0, 30.0, 41)
    run = simulate(
        assembly, Climate(BACK, BACK, 5 * DAY), start_humidity=0.5, start_temperature=start, outputs=[HOUR, 5 * DAY]
    )
    left, right = assembly.mesh.half_widths()
    held = run.temperature @ (left + right) / 0.1
    assert held == pytest.approx(np.full(2, start @ (left + right) / 0.1), rel=1e-9)
    assert np.ptp(run.temperature[1]) < 1e-3
    assert run.inflow == pytest.approx(np.zeros((2, 2)), abs=1e-20)


def test_the_heat_that_evaporates_the_water_comes_from_the_air() -> None:
    """Steady drying: what the surface takes from the air is the latent heat of what left, and what warmed the slab."""
    assembly = slab(brick(), 0.05)
    run = simulate(assembly, room(3), start_humidity=0.99, outputs=np.linspace(0, 3 * DAY, 2001), tolerance=1e-5)
    surface = run.temperature[:, 0]
    taken = np.trapezoid(9.0 * (20.0 - surface), run.times)
    left, right = assembly.mesh.half_widths()
    warmth = (1.5e6 * (left + right) + 4186.0 * run.stored) * (run.temperature - 20.0)
    warmed = warmth[-1].sum() - warmth[0].sum()
    assert taken == pytest.approx(2.5e6 * -run.inflow[-1, 0] + warmed, rel=0.01)


def test_what_condenses_on_a_cold_saturated_wall_runs_off() -> None:
    """A wall between a warm room and hard frost takes up vapour until it is full; the rest leaves, and is booked."""
    climate = Climate(Side(Air(-30.0, 0.5)), Side(Air(20.0, 0.5)), 30 * DAY)
    for method in METHODS:
        run = simulate(slab(), climate, start_humidity=0.97, outputs=[30 * DAY], method=method)
        assert run.water(0).max() < 150.0 * 1.001
        assert abs(run.balance()[0]) < 1e-10
        assert run.mass_of(0)[0] == pytest.approx(run.mass[0], abs=1e-3)


def test_what_condenses_in_wool_stays_there_as_drops() -> None:
    """A material that moves no liquid holds more than its capacity rather than stopping the run."""
    wool = compiled(
        "wool", water=lambda s: 2.0 * np.exp(-s / 1.35e8), permeability=lambda w: np.full_like(w, 1.9e-10),
        conductivity=lambda w: np.full_like(w, 0.04), dry_heat=5e4,
    )  # fmt: skip
    climate = Climate(Side(Air(20.0, 0.6)), Side(Air(-10.0, 0.8), Surface(20.0, 5.0, sealed=True)), 30 * DAY)
    run = simulate(Assembly((Layer(wool, 0.15),)), climate, start_humidity=0.5, outputs=[30 * DAY])
    assert run.mass[0] > 1.0
    assert abs(run.balance()[0]) < 1e-12


def test_a_film_holds_back_vapour() -> None:
    """Vinyl between screed and slab: with a thousandfold sd value less water passes, and both nodes keep their own RH."""
    lost = []
    for sd in (0.1, 100.0):
        assembly = Assembly((Layer(concrete(), 0.05), Film(sd), Layer(concrete(), 0.1)))
        run = simulate(assembly, room(60), start_humidity=(0.6, 0.97), outputs=[60 * DAY])
        lost.append(-run.inflow[0, 0])
        assert abs(run.balance()[0]) < 1e-12
    assert lost[1] < 0.5 * lost[0]
    assert run.humidity[0][run.faces_of(1).start] - run.humidity[0][run.faces_of(0).stop] > 0.1


def test_the_mass_of_layers_is_the_mass_that_the_march_carried() -> None:
    """The profile and the balance tell the same water, within the tolerance."""
    assembly = Assembly((Layer(brick(), 0.05), Layer(concrete(), 0.1)))
    run = simulate(assembly, room(20, wet=((0.0, DAY),)), start_humidity=0.6, tolerance=1e-3)
    layers = run.mass_of(0) + run.mass_of(1)
    assert np.max(np.abs(layers - run.mass)) < 1e-3 * assembly.mesh.capacity.sum()
    assert run.start_stored.sum() == pytest.approx(run.mass[0], rel=1e-12)


@pytest.mark.parametrize("cells", [2, 3])
def test_the_smallest_grids_run(cells: int) -> None:
    run = simulate(slab(cells=cells), room(30), start_humidity=0.97, outputs=[30 * DAY])
    assert abs(run.balance()[0]) < 1e-12
    assert 0.5 < run.humidity.min() < run.humidity.max() < 0.97


def test_twenty_years_end_in_balance_with_the_air() -> None:
    run = simulate(slab(), room(20 * 365), start_humidity=0.97, outputs=[20 * 365 * DAY])
    assert run.humidity[0] == pytest.approx(np.full(41, 0.5), abs=1e-3)
    assert run.steps < 400


def test_air_without_any_vapour_can_be_simulated() -> None:
    run = simulate(slab(), Climate(Side(Air(20.0, 0.0), HELD), BACK, 30 * DAY), start_humidity=0.97, outputs=[30 * DAY])
    assert np.isfinite(run.potential).all()
    assert run.stored.min() >= 0.0


def test_a_year_by_hours_ends_where_short_steps_end() -> None:
    outputs = np.arange(1, 13) * 30 * DAY
    quick = simulate(slab(), hourly(365), start_humidity=0.97, outputs=outputs, tolerance=1e-2, method="bdf2")
    close = simulate(slab(), hourly(365), start_humidity=0.97, outputs=outputs, tolerance=1e-3)
    assert np.max(np.abs(quick.mass - close.mass)) < 0.001 * (close.start_stored.sum() - close.mass[-1])


def test_the_grid_that_is_too_coarse_is_named_in_words() -> None:
    """Four cells for a wetting front: the sentence says where, by how much, and what to do."""
    wet = room(1, wet=((0.0, 2 * DAY),))
    coarse = simulate(slab(brick(uptake=0.02), cells=6), wet, start_humidity=0.4)
    fine = simulate(slab(brick(uptake=0.02), cells=400), wet, start_humidity=0.4)
    assert len(coarse.coarse()) == 1
    assert "too coarse" in coarse.coarse()[0]
    assert fine.coarse() == []


def runs(**changed: object) -> Run:
    settings: dict[str, object] = {"start_humidity": 0.9, "outputs": [DAY]} | changed
    return simulate(slab(), room(1), **settings)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"method": "magic"}, "this method is not known"),
        ({"tolerance": 1.0}, "a tolerance lies between"),
        ({"outputs": [2 * DAY]}, "outputs lie in order within the run"),
        ({"outputs": [DAY, HOUR]}, "outputs lie in order within the run"),
        ({"outputs": []}, "outputs lie in order within the run"),
        ({"start_humidity": None}, "starts from humidity or from water content"),
        ({"start_humidity": None, "start_water": 500.0}, "cannot hold this water"),
        ({"start_humidity": 0.0}, "a starting humidity is a fraction"),
        ({"start_humidity": 1e-40}, "a starting humidity is a fraction"),
        ({"start_humidity": (0.5, 0.6, 0.7)}, "starting values come as"),
        ({"start_temperature": 300.0}, "a starting temperature lies between"),
    ],
)
def test_what_cannot_be_simulated_is_refused_in_words(changed: dict[str, object], words: str) -> None:
    with pytest.raises((InputError, OutOfRange), match=words):
        runs(**changed)


def test_a_run_that_cannot_go_on_says_so() -> None:
    """A material whose table jumps: steps shrink until the run is given up, with a next step."""
    from desorb.core.transport import RunFailed
    from desorb.core.transport.properties import Properties

    good = concrete()
    table = good.table.copy()
    table[:, 0] = np.where(np.arange(len(table)) < 1400, 150.0, np.nan)
    broken = Properties("broken", table, good.dry_heat, good.capacity)
    with pytest.raises(RunFailed, match="could not go on"):
        simulate(slab(broken), room(30, humidity=0.2), start_humidity=0.99)


def test_nothing_that_does_not_simulate_imports_numba() -> None:
    """`desorb --help` stays quick: neither the command line nor the door of the engine brings numba in."""
    code = "import sys, desorb.cli.main, desorb.core.transport, desorb.core.transport.verification; print('numba' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"


@pytest.mark.parametrize("method", METHODS)
def test_a_step_of_a_trillionth_of_a_second_loses_no_water(method: str) -> None:
    """A flood that ends a rounding error before an output: the rate of that tiny step must not be carried on."""
    wet = ((0.0, DAY * (1.0 - 1e-16) - 1.5e-11),)
    climate = Climate(Side(Air(0.0, 0.5), Surface(1.0, 0.0)), Side(Air(0.0, 0.5), Surface(1.0, 0.0), wet), 3 * DAY)
    run = simulate(
        slab(concrete(80.0), 0.1, 4), climate, start_humidity=0.9, outputs=np.arange(0, 7) * 0.5 * DAY, tolerance=1e-2,
        method=method,
    )  # fmt: skip
    assert np.abs(run.balance()).max() <= (1e-10 if method == "bdf2" else 1e-12)
