"""Air at a surface, an instrument's own figures, and salts: worked figures and attempts to get round the refusals."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from desorb.core import air
from desorb.errors import InputError, OutOfRange, Refused


def vapour(temperature: float, humidity: float) -> float:
    return air.air_state(air_temperature=temperature, relative_humidity=humidity).vapour_pressure


@pytest.mark.parametrize(
    ("room", "surface", "expected", "within"),
    [((18.0, 68.0), 11.6, 102.7, 1.0), ((18.0, 68.0), 12.9, 94.0, 0.5), ((20.0, 60.0), 14.0, 87.8, 0.05)],
)
def test_surface_humidity(room: tuple[float, float], surface: float, expected: float, within: float) -> None:
    assert air.surface_relative_humidity(vapour(*room), surface) == pytest.approx(expected, abs=within)


def test_unaffected_bedroom() -> None:
    """Air with a dew point of 13 degC on a surface at 15.5 degC: 85 %, above the criterion."""
    room = air.air_state(air_temperature=20.0, dew_point=13.0)
    assert air.surface_relative_humidity(room.vapour_pressure, 15.5) == pytest.approx(85, abs=0.5)


def test_surface_humidity_is_not_cut_at_hundred_and_broadcasts() -> None:
    surfaces = np.array([[5.0, 12.0, 19.0]])
    found = air.surface_relative_humidity(vapour(18, 68), surfaces)
    assert isinstance(found, np.ndarray)
    assert found.shape == (1, 3)
    assert found[0, 0] > 150
    assert type(air.surface_relative_humidity(1400.0, 12.0)) is float


def test_frost_forms_sooner_than_dew_below_zero() -> None:
    held = air.air_state(air_temperature=2.0, relative_humidity=60.0).vapour_pressure
    over_water, over_ice = (air.surface_relative_humidity(held, -4.5, phase) for phase in ("water", "ice"))
    assert over_ice > 100 > over_water * 0.98
    assert over_ice / over_water == pytest.approx(1.045, abs=0.005)


@pytest.mark.parametrize("missing", [None, math.nan, np.array([12.0, math.nan]), "cold"])
def test_without_surface_temperature_there_is_no_result(missing: Any) -> None:
    with pytest.raises(InputError, match="surface temperature"):
        air.surface_relative_humidity(1400.0, missing)
    with pytest.raises(InputError, match="surface temperature"):
        air.required_relative_humidity(19.0, missing)


def test_room_humidity_for_a_criterion_at_the_surface() -> None:
    assert air.required_relative_humidity(19.0, 12.4) == pytest.approx(52.5, abs=0.5)
    assert air.required_relative_humidity(19.0, 12.4, surface_criterion=100.0) == pytest.approx(65.5, abs=0.5)
    assert air.required_relative_humidity(19.0, 25.0) > 100  # no room humidity breaks it
    rooms = air.required_relative_humidity(19.0, np.array([10.0, 12.4]))
    assert isinstance(rooms, np.ndarray)
    assert rooms[0] < rooms[1]


@pytest.mark.parametrize("criterion", [0.8, 0.0, -80.0, 101.0, math.nan, math.inf])
def test_criterion_is_a_percentage(criterion: float) -> None:
    with pytest.raises(InputError, match="surface criterion"):
        air.required_relative_humidity(19.0, 12.4, criterion)


def test_vapour_pressure_excess() -> None:
    assert air.vapour_pressure_excess(1670.0, 914.0) == pytest.approx(756.0)  # Pa
    assert air.vapour_pressure_excess(800.0, 914.0) < 0
    with pytest.raises(
        InputError, match=r"outside vapour pressure 0.914 Pa is outside 6.4 to 20000 Pa.*in hPa or in kPa"
    ):
        air.vapour_pressure_excess(1670.0, 0.914)


def test_temperature_factor() -> None:
    assert air.temperature_factor(15.0, 20.0, 0.0) == pytest.approx(0.75)
    found = air.temperature_factor(np.array([15.0, 20.0, 0.0]), 20.0, 0.0)
    assert isinstance(found, np.ndarray)
    assert found.tolist() == [0.75, 1.0, 0.0]


@pytest.mark.parametrize(("inside", "outside"), [(20.0, 10.1), (20.0, 20.0), (10.0, 25.0), (20.0, 19.0)])
def test_too_small_a_difference_bears_no_temperature_factor(inside: float, outside: float) -> None:
    with pytest.raises(Refused, match=r"K warmer than outside, too little.*at least 10 K"):
        air.temperature_factor(15.0, inside, outside)
    with pytest.raises(Refused, match=r"outside \(value 2 of 2\)"):
        air.temperature_factor(15.0, np.array([20.0, inside]), np.array([5.0, outside]))


def test_exactly_ten_kelvin_is_enough_and_the_setting_counts() -> None:
    assert air.temperature_factor(17.5, 20.0, 10.0) == pytest.approx(0.75)
    assert air.temperature_factor(19.0, 20.0, 15.0, smallest_difference=5.0) == pytest.approx(0.8)
    with pytest.raises(Refused):
        air.temperature_factor(17.5, 20.0, 10.0, smallest_difference=15.0)


@pytest.mark.parametrize("setting", [0.0, -10.0, math.nan, -math.inf, 0.5])
def test_the_smallest_difference_cannot_be_set_away(setting: float) -> None:
    with pytest.raises(InputError, match="smallest difference"):
        air.temperature_factor(15.0, 20.0, 20.0, smallest_difference=setting)


@pytest.mark.parametrize(
    ("surface", "finding"),
    [
        (15.0, "cannot say from temperature"),
        (12.0, "not evaporation alone"),
        (13.79, "cannot say from temperature"),
        (13.77, "not evaporation alone"),
        (19.9, "cannot say from temperature"),
        (20.0, "not cooler than the air"),
        (23.0, "not cooler than the air"),
    ],
)
def test_evaporation_or_a_cold_bridge(surface: float, finding: str) -> None:
    room = air.air_state(air_temperature=20.0, relative_humidity=50.0)
    bound = air.wet_bulb_bound(surface, room.air_temperature, room.wet_bulb)
    assert bound.finding == finding
    assert f"{surface:.1f} degC" in bound.because
    assert "wet bulb of 13.8 degC" in bound.because or finding == "not cooler than the air"


def test_a_temperature_never_sets_a_wetness_status() -> None:
    room = air.air_state(air_temperature=20.0, relative_humidity=50.0)
    for surface in np.linspace(0, 30, 61):
        bound = air.wet_bulb_bound(float(surface), room.air_temperature, room.wet_bulb)
        said = f"{bound.finding} {bound.because}".replace("wet bulb", "")
        assert not any(word in said for word in ("wet", "dry", "damp", "moist"))


def test_inside_the_uncertainty_nothing_is_concluded() -> None:
    assert air.wet_bulb_bound(13.0, 20.0, 13.8, uncertainty=1.0).finding == "cannot say from temperature"
    assert air.wet_bulb_bound(12.7, 20.0, 13.8, uncertainty=1.0).finding == "not evaporation alone"
    assert air.wet_bulb_bound(20.5, 20.0, 13.8, uncertainty=1.0).finding == "cannot say from temperature"
    for uncertainty in (-1.0, math.nan, 50.0):
        with pytest.raises(InputError, match="uncertainty"):
            air.wet_bulb_bound(13.0, 20.0, 13.8, uncertainty=uncertainty)
    with pytest.raises(InputError, match="wet bulb 21 degC is above"):
        air.wet_bulb_bound(13.0, 20.0, 21.0)


def test_an_instrument_that_agrees_is_not_mentioned() -> None:
    assert air.displayed_disagreement(19.5, 74.0, 14.7, 10.5) == []
    assert air.displayed_disagreement(19.5, 74.0) == []
    assert air.displayed_disagreement(19.5, 74.0, 15.04, 10.66) == []


def test_an_instrument_that_disagrees_is_quoted() -> None:
    assert air.displayed_disagreement(19.5, 74.0, 15.2, 10.0) == [
        "displayed dew point 15.2 degC is 0.5 K above the 14.7 degC that 19.5 degC and 74 % RH make",
        "displayed humidity ratio 10 g/kg is 0.47 g/kg below the 10.47 g/kg that 19.5 degC and 74 % RH make "
        "at 1013 hPa",
    ]


def test_just_beyond_and_just_inside_the_tolerances() -> None:
    room = air.air_state(air_temperature=19.5, relative_humidity=74.0)
    for side in (-1, 1):
        dew, ratio = room.dew_point + side * 0.3001, room.humidity_ratio + side * 0.2001
        assert len(air.displayed_disagreement(19.5, 74.0, dew, ratio)) == 2
        dew, ratio = room.dew_point + side * 0.2999, room.humidity_ratio + side * 0.1999
        assert air.displayed_disagreement(19.5, 74.0, dew, ratio) == []
        assert len(air.displayed_disagreement(19.5, 74.0, dew, ratio, None, None, 0.1, 0.1)) == 2


@pytest.mark.parametrize(
    ("readings", "reason"),
    [
        ((19.5, 74.0, 58.5), "as degF"),
        ((19.5, 74.0, 16.5), "as the wet bulb"),
        ((-5.0, 80.0, -6.95), "as a frost point"),
        ((19.5, 74.0, None, 73.3), "as grains per pound"),
        ((19.5, 74.0, None, 12.4), "as g/m3 of air"),
        ((20.0, 50.0, None, 7.26, None, 1500.0), "at sea level: the instrument may not know its altitude"),
    ],
)
def test_a_disagreement_that_another_unit_explains(readings: tuple[float, ...], reason: str) -> None:
    (sentence,) = air.displayed_disagreement(*readings)
    assert sentence.endswith(f"; it agrees {reason}")


def test_the_rule_of_thumb_for_dew_points_is_caught() -> None:
    """A fifth of a kelvin for each percent: 14.3 degC for 14.7 here, and far worse in dry air."""
    for temperature, humidity in ((19.5, 74.0), (20.0, 50.0), (35.0, 30.0)):
        rule_of_thumb = temperature - (100 - humidity) / 5
        assert len(air.displayed_disagreement(temperature, humidity, rule_of_thumb)) == 1


@pytest.mark.parametrize("missing", [None, math.nan])
def test_nothing_is_compared_with_a_missing_reading(missing: Any) -> None:
    with pytest.raises(InputError, match="relative humidity is missing"):
        air.displayed_disagreement(19.5, missing, 14.7)
    with pytest.raises(InputError, match="air temperature is missing"):
        air.displayed_disagreement(missing, 74.0, 14.7)
    if missing is not None:
        with pytest.raises(InputError, match="displayed dew point is missing"):
            air.displayed_disagreement(19.5, 74.0, missing)


@pytest.mark.parametrize("tolerance", [0.0, -0.3, math.nan, math.inf, 50.0])
def test_tolerances_cannot_be_set_away(tolerance: float) -> None:
    with pytest.raises(InputError, match="dew point tolerance"):
        air.displayed_disagreement(19.5, 74.0, 18.0, dew_point_tolerance=tolerance)
    with pytest.raises(InputError, match="humidity ratio tolerance"):
        air.displayed_disagreement(19.5, 74.0, None, 18.0, humidity_ratio_tolerance=tolerance)


def test_salts_for_the_check_of_a_probe() -> None:
    table = {"LiCl": 11.3, "MgCl2": 32.8, "Mg(NO3)2": 52.9, "NaNO3": 74.2, "NaCl": 75.3, "KCl": 84.2, "KNO3": 91.9,
             "K2SO4": 97.2, "Ca(NO3)2": 50.7}  # %, at 25 degC, rules of trade 1.5  # fmt: skip
    assert set(table) == set(air.SATURATED_SALTS)
    for salt, humidity in table.items():
        assert air.saturated_salt_relative_humidity(salt, 25.0) == pytest.approx(humidity, abs=0.1)
    others = {"MgCl2": (29.26, 34), "NaNO3": (26.94, 302), "KNO3": (43.22, 225)}  # not among the rows SALT-*
    assert {salt: air.SATURATED_SALTS[salt] for salt in others} == others
    with pytest.raises(InputError, match=r"no coefficients for this salt; got 'NaBr'; wanted LiCl, MgCl2"):
        air.saturated_salt_relative_humidity("NaBr", 25.0)
    with pytest.raises(OutOfRange, match=r"temperature 77 degC is outside 15 to 30 degC.*in degF"):
        air.saturated_salt_relative_humidity("NaCl", 77.0)
