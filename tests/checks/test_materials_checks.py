"""Published figures of materials, copied a second time by hand (materials.csv), and what simulation gives back."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from desorb.core.materials import STILL_AIR
from desorb.core.transport import Air, Assembly, Climate, Layer, Properties, Side, Surface, compiled, simulate
from desorb.core.transport.of_material import (
    absorption_of_diffusivity,
    conductivity_of,
    diffusivity_of_absorption,
    liquid_of,
    properties,
    storage_of,
)
from desorb.core.transport.storage import fit_storage
from desorb.tables.materials import material, materials

ROWS = list(csv.DictReader((Path(__file__).parent / "materials.csv").read_text("utf-8").splitlines()))

# Largest miss of the fitted storage at any published point, as a share of it. Stated here and in the report of the fit.
LARGEST_MISS = {
    "concrete-2200": 0.036, "concrete-2104": 0.004, "concrete-2300": 0.016, "cement-screed": 0.001,
    "clay-brick-1650": 0.008, "clay-brick-1985": 0.018, "calcium-silicate-brick": 0.025, "lime-plaster-1900": 0.045,
    "mineral-render": 0.001, "finishing-render": 0.001, "gypsum-plaster": 0.018, "gypsum-board": 0.085,
    "softwood": 0.02, "softwood-600": 0.016, "oak": 0.007,
}  # fmt: skip

RELATION_GIVES_BACK = 1.0085  # of A: the project's list of check values, section 7; the 3.8 of the relation is rounded


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_the_table_holds_what_its_source_prints(row: dict[str, str]) -> None:
    """The figure that I look up is the figure that is printed."""
    found, at = material(row["material"]), float(row["at"] or "nan")
    if row["what"] == "sorption":
        got = dict(found.water_points())[at]
    elif row["what"] == "resistance":
        humid, passing = np.array(found.permeability_points()).T
        got = STILL_AIR / float(np.interp(at, humid, passing))
    elif row["what"] == "conductivity at":
        got = float(conductivity_of(found)(np.array([at]))[0])
    else:
        got = found.value(row["what"])
    assert got == pytest.approx(float(row["expected"]), rel=float(row["rel"]), abs=1e-12), row["why"]


def test_every_row_of_checks_says_where_it_is_from() -> None:
    assert len({row["id"] for row in ROWS}) == len(ROWS) >= 40
    for row in ROWS:
        assert all(row[name].strip() for name in ("why", "source", "read")), row["id"]
        assert float(row["rel"]) <= 0.02, row["id"]


def test_every_fitted_storage_has_its_stated_miss() -> None:
    with_storage = {
        key for key, each in materials().items() if each.sorption is not None and each.capillary is not None
    }
    assert with_storage == set(LARGEST_MISS)


@pytest.mark.parametrize("key", sorted(LARGEST_MISS))
def test_the_fitted_storage_goes_through_the_points(key: str) -> None:
    """The water the engine holds at a published humidity is the published water, within the stated miss."""
    chosen = material(key)
    storage, table = storage_of(chosen), properties(chosen, liquid="none")
    assert storage.points == chosen.water_points()
    for humidity, water in chosen.water_points():
        assert float(storage.water(humidity)) == pytest.approx(water, rel=LARGEST_MISS[key])
        held = np.interp(-humidity, -table.table[:, 1], table.table[:, 0])
        assert float(held) == pytest.approx(water, rel=LARGEST_MISS[key] + 0.01)
    assert float(storage.water(1.0)) == pytest.approx(chosen.value("capillary"), rel=1e-12)


def test_the_scatter_of_vapour_in_concrete_is_that_of_the_five_sources() -> None:
    """Sample 1 at 65 %, record 2300, source 2 between 50 and 75 %, record 2104, source 7 at 60 to 80 % [IEA24]."""
    logs = np.log(
        [1.0e-12, 2e-10 / 180, float(np.interp(0.625, [0.5, 0.75], [1.4e-12, 2.5e-12])), 2e-10 / 76, 6.76e-12]
    )
    spread = material("concrete-2200").spread_vapour
    assert spread is not None
    assert spread.read == "read"
    assert spread.value == pytest.approx(float(np.std(logs, ddof=1)), abs=0.01)


def test_the_scatter_of_storage_in_concrete_is_that_of_the_two_series() -> None:
    first = ([0.255, 0.451, 0.652, 0.802, 0.901], [0.0083, 0.0109, 0.0165, 0.0256, 0.0325])
    second = ([0.202, 0.457, 0.658, 0.849, 0.950], [0.0088, 0.0212, 0.0290, 0.0395, 0.0447])
    apart = [math.log(np.interp(h, *second) / np.interp(h, *first)) / math.sqrt(2.0) for h in (0.45, 0.65, 0.80, 0.90)]
    spread = material("concrete-2200").spread_storage
    assert spread is not None
    assert spread.value == pytest.approx(float(np.mean(apart)), abs=0.02)


def test_the_absorption_of_concrete_2104_belongs_to_its_diffusivity() -> None:
    """2.9e-8 m2/s at saturation is 3.8 (A/144)^2: A is 0.0126, a hundredth of the 1.27 that stands in the record."""
    assert material("concrete-2104").value("absorption") == pytest.approx(144 * math.sqrt(2.9e-8 / 3.8), rel=0.005)


def uptake(table: Properties, absorption: float, *, start: float, cells: int, thickness: float = 0.3) -> np.ndarray:
    """Water taken up over the root of time at four times, kg/(m2 s0.5), while the front is within the layer."""
    end = (0.3 * thickness * table.capacity / absorption) ** 2
    air, closed = Air(20.0, 0.5), Surface(0.0, 0.0, sealed=True, adiabatic=True)
    wet = Side(air, Surface(0.0, 0.0, adiabatic=True), wet=((0.0, 2.0 * end),))
    assembly = Assembly((Layer(table, thickness),), cells=cells)
    times = end * np.array([0.25, 0.5, 0.75, 1.0])
    run = simulate(assembly, Climate(wet, Side(air, closed), end), start_humidity=start, outputs=times)
    found: np.ndarray = run.inflow[:, 0] / np.sqrt(times)
    return found


def test_simulated_uptake_gives_back_the_absorption_and_the_known_surplus() -> None:
    """I give A = 0.1: water enters with the root of time, at 1.0085 A, as the relation is known to do."""
    capillary, absorption = 300.0, 0.1
    storage = fit_storage([(0.5, 3.0), (0.8, 8.0)], capillary)
    table = compiled(
        "relation alone", water=storage.water_at_suction, liquid_diffusivity=diffusivity_of_absorption(absorption, capillary),
        permeability=lambda w: np.full(np.shape(w), 1e-14), conductivity=lambda w: np.ones(np.shape(w)), dry_heat=1.6e6,
    )  # fmt: skip
    found = uptake(table, absorption, start=0.001, cells=160) / absorption
    assert found == pytest.approx(np.full(4, RELATION_GIVES_BACK), abs=5e-4)
    assert absorption_of_diffusivity(diffusivity_of_absorption(absorption, capillary), capillary) / absorption == (
        pytest.approx(RELATION_GIVES_BACK * 1.0015, abs=5e-4)  # Parlange's form is 0.15 % high at a thousandfold rise
    )


@pytest.mark.parametrize(
    "key", ["clay-brick-1985", "gypsum-plaster", "gypsum-board", "calcium-silicate-brick", "cement-screed"]
)
def test_a_flooded_material_sucks_as_its_diffusivities_say(key: str) -> None:
    """A brick stands in water for some hours: uptake over the root of time is constant and that of the closed form."""
    chosen = material(key)
    course, _ = liquid_of(chosen)
    assert course is not None
    start = float(storage_of(chosen).water(0.3))
    expected = absorption_of_diffusivity(course, storage_of(chosen).capillary, start)
    found = uptake(properties(chosen), chosen.value("absorption"), start=0.3, cells=80)
    assert found == pytest.approx(np.full(4, expected), rel=0.01)  # Parlange 0.2 %, grid 0.1 %, vapour beside it 0.5 %
