"""From a material to the table the engine marches on: laws that hold for any factors, refusals in words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from desorb.core.materials import STILL_AIR, Material, lent
from desorb.core.transport.of_material import (
    LIQUIDS,
    Factors,
    assumptions,
    liquid_of,
    properties,
    spreads,
    storage_of,
)
from desorb.core.transport.properties import KELVIN
from desorb.core.transport.storage import Storage, Term, filling_storage, fit_storage, one_parameter_storage
from desorb.errors import InputError, NotFound, OutOfRange, Refused
from desorb.tables.materials import material, materials

USABLE = [key for key in materials() if key not in {
    "concrete-2400", "calcium-sulphate-screed", "cement-render", "lime-cement-mortar", "plywood-500", "plywood-700", "osb",
    "aerated-concrete",
}]  # fmt: skip
factor = st.floats(0.3, 3.0)


@given(st.sampled_from(USABLE), factor, factor, factor, factor, st.sampled_from(["table", "none"]))
def test_whatever_the_factors_the_table_obeys_nature(
    key: str, storage: float, absorption: float, vapour: float, conductivity: float, liquid: str
) -> None:
    """Any member of an ensemble: water rises with humidity, nothing is negative, no vapour faster than in still air."""
    chosen = material(key)
    factors = Factors(storage, absorption, vapour, conductivity)
    found = properties(chosen, factors, liquid=liquid)
    water, humidity, flux, passing, heat = found.table.T
    assert np.isfinite(found.table).all()
    assert (np.diff(water) <= 0.0).all()
    assert (np.diff(humidity) <= 0.0).all()
    assert (np.diff(flux) <= 0.0).all()
    assert water.min() >= 0.0
    assert flux.min() >= 0.0
    assert passing.min() > 0.0
    assert passing.max() <= STILL_AIR
    assert heat.min() >= conductivity * chosen.value("conductivity") * (1.0 - 1e-9)
    assert found.capacity == pytest.approx(storage * storage_of(chosen).capillary, rel=1e-9)
    assert found.dry_heat > 0.0


@settings(max_examples=25)
@given(st.sampled_from(USABLE), factor, factor, factor)
def test_the_factors_of_an_ensemble_are_those_of_a_single_run(
    key: str, storage: float, absorption: float, vapour: float
) -> None:
    """A member of an ensemble and the same material compiled by itself have one table (conductivity: where no water counts)."""
    chosen, factors = material(key), Factors(storage, absorption, vapour)
    alone, nominal, columns = properties(chosen, factors), properties(chosen), factors.columns()
    wet = slice(10, None)  # above saturation the standing water is not multiplied
    scaled = nominal.table[wet, 2] * columns["liquid"]
    assert alone.table[wet, 2] == pytest.approx(scaled, rel=1e-6, abs=1e-20)
    pores = nominal.table[:, 1] < 1.0
    assert alone.table[pores, 0] == pytest.approx(nominal.table[pores, 0] * columns["water"], rel=1e-6, abs=1e-12)
    assert alone.table[:, 3] == pytest.approx(np.minimum(nominal.table[:, 3] * columns["vapour"], STILL_AIR), rel=1e-6)


def test_more_absorption_means_water_enters_faster_by_its_square() -> None:
    nominal, faster = (
        properties(material("gypsum-board")),
        properties(material("gypsum-board"), Factors(absorption=2.0)),
    )
    assert faster.table[0, 2] == pytest.approx(4.0 * nominal.table[0, 2], rel=1e-9)


@settings(max_examples=15)
@given(
    st.lists(
        st.tuples(st.floats(0.02, 0.998), st.floats(0.5, 240.0)), min_size=2, max_size=7,
        unique_by=(lambda p: round(p[0], 3), lambda p: round(p[1], 1)),
    )
)  # fmt: skip
def test_any_rising_points_get_a_rising_curve(raw: list[tuple[float, float]]) -> None:
    """Whatever points a laboratory gives, the curve rises, starts near nothing, and ends at the capillary water content."""
    pairs = list(zip(sorted(h for h, _ in raw), sorted(w for _, w in raw), strict=True))
    found = fit_storage(pairs, 250.0)
    humidity = np.linspace(0.001, 1.0, 400)
    water = found.water(humidity)
    assert (np.diff(water) >= 0.0).all()
    assert water[0] >= 0.0
    assert water[-1] == pytest.approx(250.0, rel=1e-12)
    assert sum(term.share for term in found.terms) == pytest.approx(1.0, rel=1e-9)
    assert found == fit_storage(list(reversed(pairs)), 250.0)


def test_humidity_and_water_lead_back_to_each_other() -> None:
    storage = storage_of(material("cement-screed"))
    for humidity in (0.05, 0.3, 0.5, 0.8, 0.95, 0.99, 0.999):
        assert float(storage.humidity(storage.water(humidity))) == pytest.approx(humidity, abs=2e-4)


def test_points_that_the_form_made_are_found_again() -> None:
    """Points taken from one term come back as that term."""
    made = fit_storage([(0.5, 20.0), (0.9, 60.0)], 200.0)
    again = fit_storage([(h, float(made.water(h))) for h in (0.3, 0.5, 0.7, 0.9, 0.97)], 200.0)
    assert again.largest_residual < 1e-3
    assert float(again.water(0.8)) == pytest.approx(float(made.water(0.8)), rel=1e-3)


def test_one_parameter_form_goes_through_its_point() -> None:
    """For comparison only: the form with one parameter passes its point, and misses the brick at 93 % by half."""
    brick = material("clay-brick-1650")
    b, held = one_parameter_storage(0.8, 9.2, 370.0)
    assert float(held(0.8)) == pytest.approx(9.2, rel=1e-9)
    assert float(held(1.0)) == pytest.approx(370.0, rel=1e-9)
    assert b > 1.0
    assert float(held(0.93)) / dict(brick.water_points())[0.93] > 1.4


@pytest.mark.parametrize(
    ("pairs", "capillary", "said"),
    [
        ([(0.5, 10.0)], 200.0, "at least two"),
        ([(0.5, 10.0), (1.0, 20.0)], 200.0, "cannot be"),
        ([(0.5, 10.0), (0.8, 220.0)], 200.0, "cannot be"),
        ([(0.5, 0.0), (0.8, 20.0)], 200.0, "cannot be"),
        ([(0.5, 30.0), (0.8, 20.0)], 200.0, "rise with humidity"),
        ([(0.5, 10.0), (0.5, 20.0)], 200.0, "rise with humidity"),
    ],
)
def test_points_that_cannot_be_sorption_are_refused(
    pairs: list[tuple[float, float]], capillary: float, said: str
) -> None:
    with pytest.raises(InputError, match=said):
        fit_storage(pairs, capillary)


@pytest.mark.parametrize("key", sorted(set(materials()) - set(USABLE)))
def test_a_material_with_a_gap_is_refused_in_words(key: str) -> None:
    """I ask for plywood: I am told what nobody measured, and what I can do."""
    with pytest.raises(Refused, match="is a gap and needed") as refused:
        properties(material(key))
    assert "Next: choose a material without gaps" in str(refused.value)
    assert "cannot be simulated" in assumptions(material(key))[0]


def test_a_figure_out_of_bounds_is_refused_in_words() -> None:
    brick = material("clay-brick-1650")
    assert brick.absorption is not None
    with pytest.raises(Refused, match="absorption of 24"):
        properties(replace(brick, absorption=replace(brick.absorption, value=24.0)))


def test_plywood_with_lent_figures_can_be_simulated_and_says_so() -> None:
    board: Material = material("plywood-500")
    for name in ("sorption", "capillary"):
        board = lent(board, name, material("softwood"), "both are spruce")
    properties(board)
    assert any("lent from another material: sorption, capillary" in words for words in assumptions(board))


def test_no_liquid_data_means_no_liquid_transport_and_that_is_said() -> None:
    concrete = material("concrete-2200")
    assert properties(concrete).table[:, 2].max() == 0.0
    assert any("no liquid transport" in words for words in assumptions(concrete))
    with pytest.raises(Refused, match="no diffusivities for redistribution"):
        properties(concrete, liquid="redistribution")
    with pytest.raises(NotFound, match="no figure for absorption"):
        properties(concrete, liquid="absorption")


def test_each_kind_of_liquid_can_be_asked_for() -> None:
    screed = material("cement-screed")
    flux = {kind: properties(screed, liquid=kind).table[0, 2] for kind in LIQUIDS}
    assert flux["none"] == 0.0
    assert flux["table"] == flux["suction"] > flux["absorption"] > flux["redistribution"] > 0.0
    with pytest.raises(InputError, match="not known"):
        properties(screed, liquid="osmosis")


def test_what_a_report_must_say_about_a_screed_is_said() -> None:
    """The foot of the report: the fit with its misses, which liquid figures, and that two of them disagree."""
    said = " ".join(assumptions(material("cement-screed")))
    for part in ("4 points", "the form alone speaks", "for suction", "ask for redistribution", "give back an absorption of 0.0",
                 "the table has 0.016", "dry cup alone"):  # fmt: skip
        assert part in said, part


def test_liquid_falls_to_nothing_when_dry_and_stays_at_its_last_figure() -> None:
    course, _ = liquid_of(material("concrete-2300"))
    assert course is not None
    assert course(np.array([0.0, 72.0, 85.0, 118.0, 150.0])) == pytest.approx(
        np.array([1e-16, 7.4e-11, 2.5e-10, 1.2e-9, 1.2e-9])
    )


def test_wool_holds_next_to_nothing_until_it_is_full() -> None:
    """Mineral wool: a few hundred grams in the cubic metre at 80 %, all its pores at saturation."""
    storage = filling_storage(0.95)
    assert float(storage.water(0.8)) < 0.5
    assert float(storage.water(0.99)) < 12.0
    assert float(storage.water(1.0)) == pytest.approx(950.0)
    assert "no sorption points" in storage.words()


def test_no_factor_makes_wool_better_than_still_air() -> None:
    found = properties(material("mineral-wool"), Factors(vapour=0.5)).table[:, 3]
    assert found == pytest.approx(np.full(found.size, STILL_AIR), rel=1e-12)


def test_one_term_is_the_curve_of_the_standard_near_saturation() -> None:
    """w = 146 / [1 + (8e-8 s)^1.6]^0.375, as [EN15026] annex A has it: ours leaves it only where it is dry."""
    one = Storage(146.0, (Term(1.0, 1.0 / (8e-8 * KELVIN), 1.6),))
    suction = -KELVIN * np.log(np.array([0.9999, 0.999, 0.99, 0.97, 0.95]))
    assert one.water_at_suction(suction) == pytest.approx(146.0 / (1.0 + (8e-8 * suction) ** 1.6) ** 0.375, rel=0.02)
    dry = -KELVIN * np.log(0.01)
    assert float(one.water_at_suction(dry)) < 0.2 * 146.0 / (1.0 + (8e-8 * dry) ** 1.6) ** 0.375


def test_spreads_carry_their_source() -> None:
    """The prior of a concrete is as wide as laboratories disagree; that of a brick is a setting of ours."""
    concrete, brick = spreads(material("concrete-2200")), spreads(material("clay-brick-1650"))
    assert concrete["vapour"][0] > 2.0 * brick["vapour"][0]
    assert concrete["vapour"][1].read == "read"
    assert brick["vapour"][1].read == "ours"
    assert (brick["absorption"][0], brick["vapour"][0], brick["storage"][0]) == (0.3, 0.3, 0.1)
    with pytest.raises(Refused, match="no spread for storage"):
        spreads(replace(material("clay-brick-1650"), spread_storage=None))


@pytest.mark.parametrize("wrong", [0.0, -1.0, 100.0, float("nan")])
def test_a_factor_that_cannot_be_is_refused(wrong: float) -> None:
    with pytest.raises(OutOfRange, match="factor on vapour"):
        Factors(vapour=wrong)
