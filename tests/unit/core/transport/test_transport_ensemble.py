"""Thousands in one call: the same answers as one by one, a health check that works, bounds and progress."""

from __future__ import annotations

import numpy as np
import pytest
from transport_worlds import CLOSED, DAY, brick, concrete, hourly, members, room, slab

from desorb.core.transport import (
    Air,
    Assembly,
    Climate,
    Film,
    Layer,
    Properties,
    Side,
    Variation,
    simulate,
    simulate_ensemble,
)
from desorb.core.transport.ensemble import _alone, _Rows
from desorb.errors import InputError, OutOfRange

OUTPUTS = np.arange(1, 31) * DAY


def one_by_one(assembly: Assembly, climate: Climate, variation: Variation, outputs: np.ndarray) -> np.ndarray:
    """Water that came in through side 0, each member by itself with the adaptive march at a tight tolerance."""
    rows = _Rows(variation, len(assembly.mesh.tables))
    start = np.full(len(assembly.mesh.x), 20.0)
    return np.array(
        [
            _alone(assembly, climate, rows, member, variation, None, start, outputs, tolerance=1e-3)[2][:, 0]
            for member in range(variation.members)
        ]
    )


@pytest.mark.parametrize(
    ("material", "thickness", "stated"), [(concrete(), 0.1, 0.25), (brick(), 0.11, 0.25)], ids=["concrete", "brick"]
)
def test_members_of_a_drying_slab_agree_with_single_runs(
    material: object, thickness: float, stated: float, capsys: pytest.CaptureFixture[str]
) -> None:
    """Thirty days by hours, twenty cells against a hundred and sixty: within 0.25 % of the water lost, median within 0.2 %."""
    variation = members(16)
    single = one_by_one(slab(material, thickness, 160), hourly(30), variation, OUTPUTS)  # type: ignore[arg-type]
    found = simulate_ensemble(slab(material, thickness, 20), hourly(30), variation, outputs=OUTPUTS)  # type: ignore[arg-type]
    error = 100.0 * np.max(np.abs(found.inflow[:, :, 0] - single), axis=1) / np.max(np.abs(single), axis=1)
    with capsys.disabled():
        print(f"\nensemble against single runs: median {np.median(error):.3f} %, largest {error.max():.3f} %")
    assert found.again == ()
    assert np.median(error) < 0.2
    assert error.max() < stated


def test_members_of_a_flooded_floor_agree_with_single_runs() -> None:
    """A day of water on brick, then drying: within 0.5 % of the water that moved, few run again."""
    variation = members(16, start=np.full(16, 0.6))
    wet = hourly(10, wet=((DAY, 2 * DAY),))
    outputs = np.arange(1, 11) * DAY
    single = one_by_one(slab(brick(), 0.11, 160), wet, variation, outputs)
    found = simulate_ensemble(slab(brick(), 0.11, 20), wet, variation, outputs=outputs)
    error = np.max(np.abs(found.inflow[:, :, 0] - single), axis=1) / np.max(np.abs(single), axis=1)
    assert error.max() < 0.005
    assert len(found.again) <= 8
    assert found.failed == ()


def test_an_ensemble_of_one_is_the_nominal_run() -> None:
    assembly = Assembly((Layer(brick(), 0.03), Film(5.0), Layer(concrete(), 0.1)))
    found = simulate_ensemble(
        assembly, hourly(20), Variation(1), start_humidity=(0.95, 0.9), outputs=[20 * DAY], step=3600.0
    )
    run = simulate(assembly, hourly(20), start_humidity=(0.95, 0.9), outputs=[20 * DAY])
    assert found.inflow[0, 0, 0] == pytest.approx(run.inflow[0, 0], rel=2e-3)
    assert found.temperature[0, 0] == pytest.approx(run.temperature[0], abs=0.3)


def test_a_planted_sick_member_is_run_again_by_itself() -> None:
    """One member holds a hundredth of the water, so that the shared steps are far too long: it is found and redone."""
    count = 9
    water = np.ones((count, 1))
    water[4] = 0.01
    wet = room(3, wet=((0.5 * DAY, DAY),))
    found = simulate_ensemble(
        slab(brick(), 0.11, 20), wet, Variation(count, water=water), start_humidity=0.5, outputs=[3 * DAY]
    )
    assert found.again == (4,)
    assert np.isfinite(found.potential).all()
    thin = brick()
    table = thin.table.copy()
    table[:, 0] *= 0.01
    alone = simulate(
        slab(Properties("thin", table, thin.dry_heat, thin.capacity), 0.11, 20),
        wet,
        start_humidity=0.5,
        outputs=[3 * DAY],
    )
    assert found.potential[4, 0] == pytest.approx(alone.potential[0], abs=0.05)


def test_a_member_that_cannot_be_run_is_named_and_has_no_figures() -> None:
    """A factor that breaks the storage: the others are whole, this one is not a number and its index is given."""
    count = 10
    water = np.ones((count, 1))
    water[3] = 1e300
    found = simulate_ensemble(
        slab(cells=20), room(5), Variation(count, water=water), start_humidity=0.95, outputs=[5 * DAY]
    )
    assert found.failed == (3,)
    assert np.isnan(found.inflow[3]).all()
    assert np.isfinite(np.delete(found.inflow, 3, axis=0)).all()


def test_threads_and_blocks_do_not_change_a_figure() -> None:
    variation = members(19)
    one = simulate_ensemble(slab(cells=20), hourly(5), variation, outputs=[5 * DAY], threads=1)
    two = simulate_ensemble(slab(cells=20), hourly(5), variation, outputs=[5 * DAY], threads=2)
    assert (one.potential == two.potential).all()
    part = Variation(1, *(None if each is None else each[18:] for each in (variation.water, variation.liquid, variation.vapour)),
                     vapour_exchange=variation.vapour_exchange[18:], start_humidity=variation.start_humidity[18:])  # type: ignore[index]  # fmt: skip
    last = simulate_ensemble(slab(cells=20), hourly(5), part, outputs=[5 * DAY])
    assert (last.potential[0] == one.potential[18]).all()


def test_progress_is_told_and_ends_at_one() -> None:
    told: list[float] = []
    simulate_ensemble(slab(cells=20), room(2), Variation(20), start_humidity=0.9, outputs=[DAY], progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len(told) == 3


def test_warmer_air_and_a_stronger_draught_dry_more() -> None:
    """Offsets and factors of the surroundings reach the member they belong to."""
    variation = Variation(3, air_temperature=np.array([0.0, 5.0, 0.0]), vapour_exchange=np.array([1.0, 1.0, 2.0]))
    found = simulate_ensemble(slab(cells=20), room(10), variation, start_humidity=0.97, outputs=[10 * DAY])
    lost = -found.inflow[:, 0, 0]
    assert lost[1] > lost[0]
    assert lost[2] > lost[0]


@pytest.mark.parametrize(
    ("variation", "outputs", "words"),
    [
        (Variation(0), [DAY], "from one to a million members"),
        (Variation(2), [2 * DAY], "outputs lie in order"),
        (Variation(2), [0.0], "outputs lie in order"),
        (Variation(2), [], "outputs lie in order"),
        (Variation(2, water=np.ones((3, 1))), [DAY], "water varies with one row a member"),
        (Variation(2, liquid=np.array([1.0, -1.0])), [DAY], "liquid varies with one row a member"),
        (Variation(2, vapour=np.array([1.0, np.nan])), [DAY], "vapour varies with one row a member"),
        (Variation(900_000), np.linspace(0.1, 1.0, 400) * DAY, "do not fit into memory"),
        (Variation(2, start_humidity=np.array([0.9, 1.2])), [DAY], "a starting humidity is a fraction"),
    ],
)
def test_what_cannot_be_an_ensemble_is_refused_in_words(variation: Variation, outputs: list[float], words: str) -> None:
    start = None if variation.start_humidity is not None else 0.9
    with pytest.raises((InputError, OutOfRange), match=words):
        simulate_ensemble(slab(cells=20), room(1), variation, start_humidity=start, outputs=outputs)


def test_no_member_takes_water_from_another() -> None:
    """A closed slab in an ensemble keeps its water whatever its neighbours do."""
    closed = Climate(Side(Air(20.0, 0.5), CLOSED), Side(Air(20.0, 0.5), CLOSED), 5 * DAY)
    found = simulate_ensemble(slab(cells=20), closed, members(8), outputs=[5 * DAY])
    assert np.abs(found.inflow).max() == 0.0
    assert np.ptp(found.potential, axis=2).max() < 1e-9
