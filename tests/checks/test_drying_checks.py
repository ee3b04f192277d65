"""Check values for drying: every WDM-* row of the project's list and figures of its evaporation tables, put literally.

Never regenerated from our own code. The source that the list names stands beside each row.
"""

from __future__ import annotations

import pytest

from desorb.core.air import AirState, air_state
from desorb.core.drying.enclosure import held_by_air, infiltration
from desorb.core.drying.evaporation import carrier_inch_pound, first_stage, free_water, latent_heat
from desorb.core.drying.harm_guard import Answer, Answers
from desorb.core.drying.sizing import air_movers, desiccant_flow, refrigerant_capacity, wet_class
from desorb.core.drying.unit_capacity import capacity_ratio, energy_factor_ratio
from desorb.core.drying.unit_check import Reading, Sensors, air_side_removal

NO = Answer("no", by="A. Example")
ALL_NO = Answers(NO, NO, NO, NO)


def _air(temperature: float, humidity: float) -> AirState:
    return air_state(air_temperature=temperature, relative_humidity=humidity)


def test_wdm_cl_class_of_a_room() -> None:
    """Row WDM-CL: 12 x 12 x 8 ft, floor and lowest 2 ft wet; published example (trade article, S500 rule), read; 1e-3."""
    wet = 12 * 12 + 4 * 12 * 2
    whole = 2 * 12 * 12 + 4 * 12 * 8
    klass, share = wet_class(wet, whole, low_evaporation=False)
    assert (wet, whole, klass) == (240, 672, 2)
    assert share == pytest.approx(35.714, abs=1e-3)


@pytest.mark.parametrize(
    ("klass", "kind", "pints"),
    [(3, "low grain", 240.0), (2, "conventional", 240.0), (1, "low grain", 96.0), (4, "low grain", 192.0)],
)
def test_wdm_dh_rated_capacity(klass: int, kind: str, pints: float) -> None:
    """Rows WDM-DH-LGR-3, -conventional-2, -LGR-1, -LGR-4: 9600 ft3; S500 simple calculation, factors from memory; exact."""
    assert refrigerant_capacity(9600, klass, kind).value == pints


def test_rated_capacity_in_litres() -> None:
    """RULES section 6: 9600 ft3, class 2, 192 pints of a low-grain unit are 90.8 L/day."""
    assert refrigerant_capacity(9600, 2, "low grain").metric == pytest.approx(90.8, abs=0.06)


@pytest.mark.parametrize(("klass", "flow"), [(2, 320), (3, 480)])
def test_wdm_ds_process_air(klass: int, flow: float) -> None:
    """Rows WDM-DS-2, WDM-DS-3: 9600 ft3; S500 simple calculation, factors from memory; exact."""
    assert desiccant_flow(9600, klass).value == flow


def test_wdm_am_air_movers() -> None:
    """Row WDM-AM: 300 ft2 of wet floor, one room, 1 + A/70 to 1 + A/50 before rounding up; read and derived; 1e-3."""
    found = air_movers(1, 300, ALL_NO, "scan of 2 March")
    assert found.lowest == pytest.approx(5.286, abs=1e-3)
    assert found.highest == pytest.approx(7.0, abs=1e-3)
    assert found.span == (6, 7)


@pytest.mark.parametrize(("temperature", "heat"), [(0, 2501.0), (20, 2453.6), (30, 2429.9)])
def test_wdm_hfg_heat_of_evaporation(temperature: float, heat: float) -> None:
    """Row WDM-HFG: 2501 - 2.369 T, derived. The list prints one decimal, so 0.05 here; 0.68156 kWh/kg at 20 degC to 1e-4."""
    assert latent_heat(temperature) == pytest.approx(heat, abs=0.05)
    assert latent_heat(20) / 3600 == pytest.approx(0.68156, abs=1e-4)


def test_wdm_inf_air_change() -> None:
    """Row WDM-INF: 100 m3, 0.5 1/h, 20/60 in, 10/80 out, 142.73 g/h; vapour density, ideal gas, derived; 0.3."""
    found = infiltration(0.5, 100, _air(20, 60), _air(10, 80))
    assert found.kg_per_day * 1000 / 24 == pytest.approx(142.73, abs=0.3)


def test_air_itself_holds_little() -> None:
    """RULES section 6: 50 m3 of air from 80 to 40 % at 20 degC hold back only 347 g; derived."""
    assert 1000 * held_by_air(50, _air(20, 80), _air(20, 40)) == pytest.approx(347, abs=1.5)


@pytest.mark.parametrize(("speed", "rate"), [(0, 0.1527), (1, 0.2869), (2, 0.421)])
def test_wdm_ev_carrier(speed: float, rate: float) -> None:
    """Rows WDM-EV-0, -1, -2: Carrier/ASHRAE, 20 degC water, 20 degC/50 %; SI rel 1e-3, 1 % between IP and SI forms."""
    air = _air(20, 50)
    assert free_water(20, air, speed).rate == pytest.approx(rate, rel=1e-3)
    assert carrier_inch_pound(20, air, speed) == pytest.approx(rate, rel=1e-2)


@pytest.mark.parametrize(
    ("temperature", "humidity", "capacity", "energy"),
    [
        (26.7, 60, 0.9873, 0.9854),
        (18.3333, 60, 0.6497, 0.7778),
        (20, 50, 0.5076, 0.6042),
        (20, 80, 1.0979, 1.1944),
        (10, 60, 0.2977, 0.4843),
        (30, 80, 1.5716, 1.3763),
    ],
)
def test_wdm_dhc_off_the_rating_point(temperature: float, humidity: float, capacity: float, energy: float) -> None:
    """Rows WDM-DHC-*: Winkler, Christensen & Tomerlin 2011 generic curves, read and derived; 1e-4."""
    assert capacity_ratio(temperature, humidity) == pytest.approx(capacity, abs=1e-4)
    assert energy_factor_ratio(temperature, humidity) == pytest.approx(energy, abs=1e-4)


# T water, T air, RH, air speed, then kg/m2h by Uno, Carrier, (25 + 19 v), Penman
FREE_WATER = [
    (10, 10, 50, 1, 0.0788, 0.1491, 0.1688, 0.1024),
    (15, 20, 80, 0, -0.0173, -0.0215, -0.0263, -0.0179),
    (15, 25, 70, 1, -0.0848, -0.1249, -0.1437, -0.0854),
    (20, 20, 50, 0, 0.0890, 0.1526, 0.1857, 0.1266),
    (20, 25, 40, 5, 0.4457, 0.7540, 0.8174, 0.4291),
    (25, 10, 40, 5, 1.1512, 1.8930, 2.0439, 1.0722),
    (25, 15, 70, 2, 0.4338, 0.7138, 0.7969, 0.4445),
]


@pytest.mark.parametrize("row", FREE_WATER)
def test_free_water_forms(row: tuple[float, ...]) -> None:
    """Rows of evaporation_free_water.csv of the project's physics notes (section 8): the algebra of each form.

    The table has saturation by ISO 13788, the engine by ASHRAE, up to 0.2 % of either pressure apart; against a small
    difference of pressures (air nearly as moist) that is more, hence the 5e-4 kg/m2h beside 0.5 %.
    """
    water, temperature, humidity, speed, *rates = row
    air = _air(temperature, humidity)
    for form, rate in zip(("uno", "carrier", "handbook", "penman"), rates, strict=True):
        found = free_water(water, air, speed, form)
        assert found.rate == pytest.approx(rate, rel=5e-3, abs=5e-4), form
        assert found.low <= found.rate <= found.high


def test_the_forms_disagree_by_a_factor_of_about_two() -> None:
    """The physics notes, section 8: 0.089 / 0.153 / 0.186 / 0.127 at 20/20 degC, 50 %, still air. The answer says so."""
    found = free_water(20, _air(20, 50), 0)
    assert found.high / found.low == pytest.approx(0.1857 / 0.0890, rel=0.01)
    assert "factor of about two" in found.words


# T air, RH, h_c, surface temperature, g/m2h with the surface at air temperature, g/m2h adiabatic
FIRST_STAGE = [
    (5, 30, 2, -0.486, 29.65, 15.79),
    (10, 80, 15, 8.218, 89.44, 38.77),
    (15, 70, 15, 11.809, 186.31, 69.67),
    (20, 50, 4, 13.575, 113.53, 37.48),
    (20, 50, 8, 13.575, 227.07, 74.95),
    (25, 30, 25, 14.078, 1345.80, 398.38),
]


@pytest.mark.parametrize("row", FIRST_STAGE)
def test_first_stage_by_lewis(row: tuple[float, ...]) -> None:
    """Rows of evaporation_first_stage_lewis.csv (physics notes, section 8): [LEWIS22] with Le 0.86.

    Saturation by ISO 13788 there, by ASHRAE here: 0.05 K of surface temperature, 1 % of the rate. The first row, with a
    surface below 0 degC, has ice in the table and supercooled water here: 0.3 K and 4 %.
    """
    temperature, humidity, exchange, surface, isothermal, adiabatic = row
    found = first_stage(_air(temperature, humidity), exchange)
    frozen = surface < 0
    assert found.surface_temperature == pytest.approx(surface, abs=0.3 if frozen else 0.05)
    assert 1000 * found.isothermal == pytest.approx(isothermal, rel=0.01)
    assert 1000 * found.adiabatic == pytest.approx(adiabatic, rel=0.04 if frozen else 0.01)


@pytest.mark.oracle
@pytest.mark.parametrize(("inlet", "outlet"), [((22.0, 60.0), (33.0, 28.0)), ((15.0, 75.0), (24.0, 38.0))])
def test_both_sides_of_a_unit_by_an_independent_package(
    inlet: tuple[float, float], outlet: tuple[float, float]
) -> None:
    """psychrolib 2.5.0 for humidity ratio and volume at both sides of a unit, 350 m3/h: within 0.5 % (ASHRAE 2017 both)."""
    psychrolib = pytest.importorskip("psychrolib")
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratios = [psychrolib.GetHumRatioFromRelHum(t, h / 100, 101_325) for t, h in (inlet, outlet)]
    volume = psychrolib.GetMoistAirVolume(inlet[0], ratios[0], 101_325)
    expected = 350 / volume * (ratios[0] - ratios[1]) * 24
    found = air_side_removal(Reading(*inlet), Reading(*outlet), 350, "inlet", Sensors(0.3, 2, 10))
    assert found.litres_per_running_day == pytest.approx(expected, rel=5e-3)
