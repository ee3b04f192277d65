"""What instruments would see, against profiles whose readings are known in closed form; materials, assemblies, climates."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from transport_worlds import CLOSED, DAY, HOUR, brick, concrete, hourly, plain, slab

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
from desorb.core.transport.climate import boundary_table, coarser, vapour_exchange
from desorb.core.transport.properties import humidity_of_potential, potential_of_humidity
from desorb.core.transport.run import start_potential
from desorb.errors import InputError, OutOfRange


def straight() -> Properties:
    """Water falls in a straight line with the potential, so that a straight profile has closed-form means."""
    good = plain()
    table = good.table.copy()
    table[:, 0] = np.linspace(160.0, 0.0, len(table))
    return Properties("straight", table, good.dry_heat, 160.0)


@pytest.fixture
def floor() -> Assembly:
    return Assembly((Layer(straight(), 0.1, 20),))


@pytest.fixture
def profile(floor: Assembly) -> np.ndarray:
    """Water rises from 40 kg/m3 at the surface to 120 at 100 mm."""
    material = floor.layers[0].properties
    found: np.ndarray = material.potential(40.0 + 80.0 * floor.mesh.x / 0.1)
    return found


def test_pins_read_the_water_at_their_depth(floor: Assembly, profile: np.ndarray) -> None:
    for depth in (0.0, 0.013, 0.05, 0.1):
        assert seen.water_at(floor, profile, depth) == pytest.approx(40.0 + 800.0 * depth, rel=1e-9)


def test_a_sample_reads_the_mean_of_its_band(floor: Assembly, profile: np.ndarray) -> None:
    """A core from 20 to 45 mm holds what a straight profile has at 32.5 mm."""
    assert seen.water_between(floor, profile, 0.02, 0.045) == pytest.approx(40.0 + 800.0 * 0.0325, rel=1e-9)
    assert seen.water_between(floor, profile, 0.0, 0.1) == pytest.approx(80.0, rel=1e-9)


def test_a_pad_reads_what_its_weight_integrates_to(floor: Assembly, profile: np.ndarray) -> None:
    """Weight exp(-x / r) over a straight line a + b x down to d: a + b (r - d / (exp(d / r) - 1))."""
    for reach, deepest in ((0.01, 0.05), (0.02, 0.1)):
        expected = 40.0 + 800.0 * (reach - deepest / np.expm1(deepest / reach))
        assert seen.field(floor, profile, reach, deepest) == pytest.approx(expected, rel=1e-7)


def test_a_probe_in_a_hole_comes_to_the_humidity_there(floor: Assembly) -> None:
    potential = potential_of_humidity(np.linspace(0.5, 0.95, 21))
    node = 8
    assert seen.humidity_at(floor, potential, float(floor.mesh.x[node])) == pytest.approx(
        0.5 + 0.45 * node / 20, rel=1e-12
    )


def test_members_and_outputs_keep_their_shape(floor: Assembly, profile: np.ndarray) -> None:
    """(members, outputs, nodes) in, (members, outputs) out; a member's storage factor scales its water only."""
    many = np.broadcast_to(profile, (3, 5, 21))
    factor = np.array([1.0, 2.0, 0.5])
    assert seen.humidity_at(floor, many, 0.03).shape == (3, 5)
    ways = (
        seen.water_at(floor, many, 0.05, factor),
        seen.water_between(floor, many, 0.0, 0.1, factor),
        seen.field(floor, many, 0.01, None, factor),
    )
    for found in ways:
        assert found.shape == (3, 5)
        assert found[1] == pytest.approx(2.0 * found[0])
        assert found[2] == pytest.approx(0.5 * found[0])
    assert seen.surface_temperature(many)[0, 0] == profile[0]
    assert seen.surface_temperature(many, 1)[0, 0] == profile[-1]


def test_across_a_film_the_layer_above_is_read_at_the_interface() -> None:
    assembly = Assembly((Layer(brick(), 0.05, 10), Film(50.0), Layer(concrete(), 0.1, 10)))
    potential = start_potential(assembly, (0.6, 0.95), None)
    assert seen.humidity_at(assembly, potential, 0.02) == pytest.approx(0.6)
    assert seen.humidity_at(assembly, potential, 0.08) == pytest.approx(0.95)
    assert seen.water_at(assembly, potential, 0.02) == pytest.approx(brick().water(potential_of_humidity(0.6)))
    assert seen.water_between(assembly, potential, 0.06, 0.15) == pytest.approx(
        concrete().water(potential_of_humidity(0.95)), rel=1e-9
    )


def test_kilograms_become_per_cent_of_the_dry_mass() -> None:
    assert seen.as_dry_mass(np.array([80.0]), 2000.0) == pytest.approx([4.0])


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda a, u: seen.humidity_at(a, u, 0.2), "outside the assembly"),
        (lambda a, u: seen.water_at(a, u, -0.01), "outside the assembly"),
        (lambda a, u: seen.water_between(a, u, 0.05, 0.02), "from one depth to a larger one"),
        (lambda a, u: seen.field(a, u, 0.0), "reach of a pad"),
        (lambda a, u: seen.as_dry_mass(u, 0.0), "dry density"),
    ],
)
def test_readings_that_cannot_be_taken_are_refused_in_words(
    ask: object, words: str, floor: Assembly, profile: np.ndarray
) -> None:
    with pytest.raises(OutOfRange, match=words):
        ask(floor, profile)  # type: ignore[operator]


def test_humidity_and_potential_come_back_from_each_other() -> None:
    humidity = np.array([1e-6, 0.1, 0.5, 0.95, 0.9999, 1.0])
    assert humidity_of_potential(potential_of_humidity(humidity)) == pytest.approx(humidity, rel=1e-9)


def test_water_and_potential_come_back_from_each_other() -> None:
    for material in (brick(), concrete()):
        held = np.linspace(0.1, 0.999, 12) * material.capacity
        assert material.water(material.potential(held)) == pytest.approx(held, rel=1e-9)


def rising() -> Properties:
    ones = np.ones_like
    return compiled("rising", water=lambda s: 1.0 + s, permeability=ones, conductivity=ones, dry_heat=1.0)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: rising(), "fall with suction"),
        (lambda: Layer(concrete(), 0.0), "a thickness that cannot be simulated"),
        (lambda: Layer(concrete(), 0.1, 1), "this many cells"),
        (lambda: Film(0.0), "an sd value above 0"),
        (lambda: Assembly(()), "begins and ends with a layer"),
        (lambda: Assembly((Film(1.0), Layer(concrete(), 0.1))), "begins and ends with a layer"),
        (lambda: Assembly((Layer(concrete(), 0.1), Film(1.0), Film(1.0), Layer(concrete(), 0.1))), "two films"),
        (lambda: Surface(-1.0), "exchanges within bounds"),
        (lambda: Air([20.0, 21.0], [0.5, 0.5]), "needs its times"),
        (lambda: Air([20.0, 21.0], [0.5], [0.0, 1.0]), "pair up"),
        (lambda: Air(20.0, 50.0), "humidity number 0 of the climate cannot be"),
        (lambda: Air([20.0, 200.0], [0.5, 0.5], [0.0, 1.0]), "temperature number 1"),
        (lambda: Air([20.0, float("nan")], [0.5, 0.5], [0.0, 1.0]), "temperature number 1"),
        (lambda: Air([20.0, 21.0], [0.5, 0.5], [1.0, 0.0]), "run forward"),
        (lambda: Air([20.0, 21.0], [0.5, 0.5], [0.0, 7 * HOUR]), "there is a gap in the climate"),
        (lambda: Climate(Side(Air(20.0, 0.5)), Side(Air(20.0, 0.5)), 0.0), "lasts from a second"),
        (lambda: Climate(Side(Air([20.0, 21.0], [0.5, 0.5], [0.0, HOUR])), Side(Air(20.0, 0.5)), DAY), "does not cover the run"),
        (lambda: Climate(Side(Air(20.0, 0.5), wet=((2.0, 1.0),)), Side(Air(20.0, 0.5)), DAY), "a wet span ends after it begins"),
    ],
)  # fmt: skip
def test_what_cannot_be_built_is_refused_in_words(make: object, words: str) -> None:
    with pytest.raises((InputError, OutOfRange, ValueError), match=words):
        make()  # type: ignore[operator]


def test_surfaces_pass_what_their_parts_pass() -> None:
    """Lewis, then a coating in series; sealed passes no vapour, adiabatic no heat."""
    assert vapour_exchange(4.0) == pytest.approx(2.7e-8, rel=0.01)
    assert Surface(4.0, 5.0).heat == 9.0
    coated = Surface(4.0, 5.0, sd=1.0).vapour
    assert 1.0 / coated == pytest.approx(1.0 / vapour_exchange(4.0) + 1.0 / 2e-10)
    assert CLOSED.vapour == CLOSED.heat == 0.0


def test_a_flood_and_a_logged_jump_stand_twice_in_the_table() -> None:
    air = Air([20.0, 20.0, 25.0, 25.0], [0.5] * 4, [0.0, HOUR, HOUR, 4 * HOUR])
    climate = Climate(Side(air, wet=((2 * HOUR, 3 * HOUR),)), Side(Air(10.0, 0.5)), 4 * HOUR)
    times, table = boundary_table(climate)
    assert times.tolist() == [0.0, HOUR, HOUR, 2 * HOUR, 2 * HOUR, 3 * HOUR, 3 * HOUR, 4 * HOUR]
    assert table[:, 0, 0] == pytest.approx([20.0, 20.0, 25.0, 25.0, 25.0, 25.0, 25.0, 25.0])
    assert (table[:, 0, 4] > 0).tolist() == [False, False, False, False, True, True, False, False]
    assert (table[:, 0, 3] > 0).tolist() == [True, True, True, True, False, False, True, True]


def test_nodes_stand_on_interfaces_and_the_widths_add_up() -> None:
    assembly = Assembly((Layer(brick(), 0.05), Film(1.0), Layer(concrete(), 0.1, 12)), cells=30)
    assert {0.0, 0.05, 0.15} <= set(np.round(assembly.mesh.x, 12))
    assert np.count_nonzero(np.isclose(assembly.mesh.x, 0.05)) == 2
    left, right = assembly.mesh.half_widths()
    assert (left + right).sum() == pytest.approx(assembly.thickness)
    assert assembly.mesh.capacity.sum() == pytest.approx(0.05 * 200.0 + 0.1 * 150.0)
    assert len(slab().mesh.x) == 41


def test_a_coarser_climate_dries_as_much() -> None:
    """Thirty days by hours, thinned to six hours: a fifth of the steps, the water lost within half a per cent."""
    fine = hourly(30)
    thin = replace(fine, first=replace(fine.first, air=coarser(fine.first.air, 6 * HOUR)))
    lost = [
        simulate(slab(cells=20), each, start_humidity=0.97, outputs=[30 * DAY], tolerance=1e-2) for each in (fine, thin)
    ]
    assert lost[1].inflow[0, 0] == pytest.approx(lost[0].inflow[0, 0], rel=5e-3)
    assert lost[1].steps < 0.3 * lost[0].steps
    assert coarser(Air(20.0, 0.5), HOUR).times is None
