"""Moist air: worked figures, every pair of readings, and attempts to get round every refusal."""

from __future__ import annotations

import dataclasses
import itertools
import math
import subprocess
import sys
from typing import Any

import numpy as np
import pytest

from desorb.core import air
from desorb.core.air import equations
from desorb.core.air.pairs import LIMITS
from desorb.core.saturation import Array, saturation_vapour_pressure_over_water
from desorb.errors import InputError, OutOfRange

QUANTITIES = ("air_temperature", "relative_humidity", "dew_point", "wet_bulb", "humidity_ratio", "vapour_pressure")
SAME_THING = {"dew_point", "humidity_ratio", "vapour_pressure"}
PAIRS = [pair for pair in itertools.combinations(QUANTITIES, 2) if not set(pair) <= SAME_THING]
STATES = [(19.5, 74.0), (5.0, 85.0), (35.0, 20.0), (0.5, 30.0), (-6.0, 90.0), (-12.0, 40.0), (20.0, 100.0)]


def state(temperature: float, humidity: float, **more: Any) -> air.AirState:
    found = air.air_state(air_temperature=temperature, relative_humidity=humidity, **more)
    assert isinstance(found, air.AirState)
    return found


def test_worked_figures_of_a_room() -> None:
    room = state(19.5, 74, pressure=101_325.0)
    assert room.dew_point == pytest.approx(14.7, abs=0.1)
    assert room.humidity_ratio == pytest.approx(10.44, abs=0.05)
    assert room.vapour_pressure / 100 == pytest.approx(16.7, abs=0.1)  # hPa
    assert room.frost_point is None


def test_wet_bulb_of_a_room() -> None:
    assert state(20, 50).wet_bulb == pytest.approx(13.8, abs=0.05)


@pytest.mark.parametrize("phase", ["water", "ice"])
@pytest.mark.parametrize("pressure", [80_000.0, 101_325.0])
@pytest.mark.parametrize("pair", PAIRS, ids=" + ".join)
@pytest.mark.parametrize("known", STATES, ids=str)
def test_every_pair_leads_back(known: tuple[float, float], pair: tuple[str, str], pressure: float, phase: Any) -> None:
    first = state(*known, pressure=pressure, relative_humidity_over=phase)
    readings: dict[str, Any] = {name: getattr(first, name) for name in pair}
    again = air.air_state(**readings, pressure=pressure, relative_humidity_over=phase)
    before, after = dataclasses.asdict(first), dataclasses.asdict(again)
    assert after.pop("convention") == before.pop("convention")
    assert (after.pop("frost_point") is None) == (before.pop("frost_point") is None)
    assert after == pytest.approx(before, rel=1e-7, abs=1e-7)


@pytest.mark.parametrize("pair", PAIRS, ids=" + ".join)
def test_arrays_give_the_same_as_their_elements(pair: tuple[str, str]) -> None:
    temperatures, humidities = np.array(STATES).T
    many = air.air_state(air_temperature=temperatures, relative_humidity=humidities)
    readings: dict[str, Any] = {name: getattr(many, name) for name in pair}
    found = air.air_state(**readings)
    assert isinstance(found, air.AirStates)
    for index in range(len(STATES)):
        single: dict[str, Any] = {name: float(values[index]) for name, values in readings.items()}
        one = air.air_state(**single)
        for field in dataclasses.fields(one):
            if field.name != "convention":
                element, wanted = getattr(found, field.name)[index], getattr(one, field.name)
                if wanted is None:
                    assert math.isnan(element)
                else:
                    assert element == pytest.approx(wanted, abs=1e-8, rel=1e-9)


def test_scalars_give_floats_and_arrays_broadcast() -> None:
    one = state(20, np.float64(50))
    assert {type(getattr(one, field.name)) for field in dataclasses.fields(one)} == {float, str, type(None)}
    assert type(state(-5, 80).frost_point) is float
    grid = air.air_state(air_temperature=np.array([[5.0], [20.0]]), relative_humidity=np.array([40.0, 60.0, 80.0]))
    assert {getattr(grid, field.name).shape for field in dataclasses.fields(grid)[:-1]} == {(2, 3)}
    assert grid.dew_point[1, 0] == pytest.approx(state(20, 40).dew_point, abs=1e-9)
    both = air.air_state(air_temperature=20.0, relative_humidity=50.0, pressure=np.array([80e3, 101_325.0]))
    assert both.humidity_ratio[0] > both.humidity_ratio[1]
    assert air.air_state(air_temperature=np.zeros(0), relative_humidity=50.0).dew_point.shape == (0,)


def test_a_state_cannot_be_changed_and_keeps_what_was_given() -> None:
    room = state(19.5, 74)
    assert (room.air_temperature, room.relative_humidity, room.pressure) == (19.5, 74, 101_325)
    with pytest.raises(dataclasses.FrozenInstanceError):
        room.relative_humidity = 60.0  # type: ignore[misc]
    assert air.air_state(wet_bulb=11.25, dew_point=3.125).wet_bulb == 11.25


def test_arrays_that_were_given_are_not_changed_and_not_shared() -> None:
    temperatures = np.array([20.0, 21.0])
    found = air.air_state(air_temperature=temperatures, relative_humidity=np.array([100.4, 50.0]))
    temperatures[0] = 99
    assert found.air_temperature.tolist() == [20.0, 21.0]
    assert found.relative_humidity.tolist() == [100.0, 50.0]


@pytest.mark.parametrize("pair", list(itertools.combinations(sorted(SAME_THING), 2)), ids=" + ".join)
def test_a_pair_that_does_not_determine_a_state_says_what_to_add(pair: tuple[str, str]) -> None:
    room = state(20, 50)
    readings: dict[str, Any] = {name: getattr(room, name) for name in pair}
    for values in (readings, {name: np.array([value, value]) for name, value in readings.items()}):
        with pytest.raises(InputError, match="add air temperature, relative humidity or wet bulb"):
            air.air_state(**values)


@pytest.mark.parametrize("name", QUANTITIES)
def test_one_reading_is_not_enough_and_three_are_too_many(name: str) -> None:
    room = state(20, 50)
    one: dict[str, Any] = {name: getattr(room, name)}
    with pytest.raises(InputError, match=rf"only {name.replace('_', ' ')} is given. Next: measure "):
        air.air_state(**one)
    three = [name, *(other for other in QUANTITIES if other != name)][:3]
    with pytest.raises(InputError, match="3 are given, which may contradict"):
        air.air_state(**{other: getattr(room, other) for other in three})
    with pytest.raises(InputError, match="nothing is given"):
        air.air_state(pressure=101_325.0)


@pytest.mark.parametrize(
    "missing",
    [None, math.nan, np.nan, [50.0, None, 60.0], np.ma.masked_array([50.0, 55.0, 60.0], [False, True, False])],
)
def test_missing_humidity_is_refused_never_guessed(missing: Any) -> None:
    with pytest.raises(InputError, match=r"relative humidity"):
        air.air_state(air_temperature=20.0, relative_humidity=missing)


IMPOSSIBLE: list[tuple[dict[str, float], str]] = [
    ({"air_temperature": 20, "relative_humidity": 100.6}, "relative humidity 100.6 % is outside 1 to 100.5 %"),
    ({"air_temperature": 20, "relative_humidity": 0.74}, "check the unit: was it entered as a fraction"),
    ({"air_temperature": 20, "relative_humidity": 1.0}, "not above 1 %.*a fraction for %"),
    ({"air_temperature": 20, "relative_humidity": -3}, "relative humidity -3 %"),
    ({"air_temperature": 20, "dew_point": 20.2}, "dew point 20.2 degC is above the air temperature 20 degC"),
    ({"air_temperature": 20, "wet_bulb": 20.2}, "wet bulb 20.2 degC is above the air temperature 20 degC"),
    ({"air_temperature": 40, "wet_bulb": 5}, "wet bulb 5 degC is too cold for air at 40 degC"),
    ({"wet_bulb": 10, "dew_point": 12}, "dew point 12 degC is above the wet bulb 10 degC"),
    ({"wet_bulb": 10, "humidity_ratio": 12}, "humidity ratio 12 g/kg at the wet bulb 10 degC would be 15.* %"),
    ({"air_temperature": 20, "humidity_ratio": 50.8}, "air temperature 20 degC would be 3.* % relative humidity"),
    ({"air_temperature": 20, "humidity_ratio": 0.0073}, "outside 0.03 to 420 g/kg.*entered in kg/kg"),
    ({"air_temperature": 20, "vapour_pressure": 11.7}, "relative humidity 0.5 % is not above 1 %.*hPa for Pa"),
    ({"air_temperature": 20, "vapour_pressure": 1.17}, "outside 6.4 to 20000 Pa.*entered in hPa or in kPa"),
    ({"air_temperature": 20, "vapour_pressure": 3000}, "would be 128.3 % relative humidity over water"),
    ({"air_temperature": 77, "relative_humidity": 50}, "air temperature 77 degC is outside -45 to 60 degC.*in degF"),
    ({"air_temperature": 293.15, "relative_humidity": 50}, "was it entered in K"),
    ({"dew_point": 20, "relative_humidity": 5}, "the air temperature that follows, 79.6.* degC is outside"),
    ({"wet_bulb": 30, "relative_humidity": 3}, "the air temperature that follows, 61 degC is outside"),
    ({"wet_bulb": 30, "dew_point": -20}, "the air temperature that follows, .* degC is outside"),
    ({"air_temperature": 50, "dew_point": -45}, "relative humidity 0.09.* % is not above 1 %"),
    ({"air_temperature": 20, "relative_humidity": 50, "pressure": 1013}, "air pressure 1013 Pa .*entered in hPa"),
    ({"air_temperature": 20, "relative_humidity": 50, "pressure": math.nan}, "air pressure is missing"),
    ({"air_temperature": 20, "relative_humidity": 50, "altitude": 8000}, "air pressure .* Pa is outside"),
    ({"air_temperature": 20, "relative_humidity": 50, "altitude": 12_000}, "12000 m is outside -5000 to 11000"),
    ({"air_temperature": 20, "relative_humidity": 50, "pressure": 101_325, "altitude": 0}, "both air pressure and alt"),
]  # fmt: skip


@pytest.mark.parametrize(("readings", "sentence"), IMPOSSIBLE, ids=str)
def test_impossible_air_is_refused_in_words(readings: dict[str, Any], sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        air.air_state(**readings)


@pytest.mark.parametrize(("readings", "sentence"), IMPOSSIBLE, ids=str)
@pytest.mark.parametrize("bad", [0, 2])
def test_one_impossible_value_among_good_ones_is_found(readings: dict[str, Any], sentence: str, bad: int) -> None:
    good = state(20, 50)
    known = {**dataclasses.asdict(good), "altitude": 100.0}
    mixed: dict[str, Any] = {name: np.full(3, known[name]) for name in readings}
    for name, value in readings.items():
        mixed[name][bad] = value
    with pytest.raises(InputError) as refusal:
        air.air_state(**mixed)
    assert f"(value {bad + 1} of 3)" in str(refusal.value) or "both" in sentence


def test_hundred_and_a_half_percent_is_rounding_and_no_more() -> None:
    for rounded in (state(20, 100.5), air.air_state(air_temperature=20.0, dew_point=20.07), state(20, 100)):
        assert rounded.relative_humidity == 100
        assert rounded.wet_bulb == pytest.approx(20, abs=1e-9)
        assert rounded.dew_point == pytest.approx(20, abs=1e-9)
        assert rounded.vapour_pressure == pytest.approx(saturation_vapour_pressure_over_water(20.0))
    with pytest.raises(OutOfRange):
        state(20, 100.51)
    saturated = saturation_vapour_pressure_over_water(20.0)
    assert air.air_state(air_temperature=20.0, vapour_pressure=1.00499 * saturated).relative_humidity == 100
    with pytest.raises(InputError, match=r"would be 100\.5 % relative humidity over water"):
        air.air_state(air_temperature=20.0, vapour_pressure=1.00501 * saturated)
    assert air.air_state(relative_humidity=100.4, dew_point=10.0).air_temperature == pytest.approx(10, abs=1e-9)


@pytest.mark.parametrize("phase", ["oil", "", None, "Water"])
def test_humidity_is_over_water_or_over_ice(phase: Any) -> None:
    with pytest.raises(InputError, match="over water or over ice"):
        state(-5, 80, relative_humidity_over=phase)
    with pytest.raises(InputError, match="over water or over ice"):
        air.surface_relative_humidity(900.0, -3.0, phase)


def test_readings_that_differ_in_number() -> None:
    with pytest.raises(InputError, match=r"differ in number; got air temperature \(2,\) and relative humidity \(3,\)"):
        air.air_state(air_temperature=np.array([20.0, 21.0]), relative_humidity=np.array([50.0, 51.0, 52.0]))


def test_below_zero_the_convention_is_stated_and_matters() -> None:
    water, ice = state(-10, 80), state(-10, 80, relative_humidity_over="ice")
    assert "over water, also below 0 degC" in water.convention
    assert "over ice below 0 degC" in ice.convention
    assert water.vapour_pressure / ice.vapour_pressure == pytest.approx(1.103, abs=0.002)
    for air_of_either in (water, ice):
        assert air_of_either.frost_point is not None
        assert air_of_either.dew_point < air_of_either.frost_point < air_of_either.air_temperature
    warm = [state(3, 80, relative_humidity_over=phase).vapour_pressure for phase in ("water", "ice")]
    assert warm[0] == warm[1]


def test_cold_air_saturated_over_water_is_more_than_saturated_over_ice() -> None:
    """98 % over water at -10 degC is 108 % over ice: real air, refused only in the ice convention, with the way out."""
    fog = state(-10, 98)
    assert fog.frost_point is not None
    assert fog.frost_point > fog.air_temperature
    with pytest.raises(InputError, match=r"over ice, which cannot be.*relative_humidity_over='water'"):
        air.air_state(air_temperature=-10.0, vapour_pressure=fog.vapour_pressure, relative_humidity_over="ice")


def test_pressure_and_altitude_change_the_humidity_ratio_not_the_humidity() -> None:
    low, high = state(20, 50), state(20, 50, altitude=1500.0)
    assert state(20, 50, altitude=0.0) == low == state(20, 50, pressure=101_325.0)
    assert high.humidity_ratio > 1.19 * low.humidity_ratio
    assert (high.relative_humidity, high.dew_point, high.vapour_pressure) == (
        low.relative_humidity, low.dew_point, low.vapour_pressure,
    )  # fmt: skip
    assert air.pressure_at_altitude(np.array([0.0, 500.0])) == pytest.approx([101_325, 95_461], abs=1)


@pytest.mark.parametrize("bulb", [equations.WETTED, equations.ICED], ids=["wetted", "iced"])
def test_slope_of_the_heat_balance_is_its_slope(bulb: equations.Bulb) -> None:
    at, step = np.linspace(-20, 40, 25), 1e-4
    air_at, ratio, pressure = np.full(25, 42.0), np.full(25, 0.003), np.full(25, 90e3)

    def balance(temperature: Array) -> tuple[Array, Array]:
        return bulb.balance(air_at, temperature, ratio, *equations.saturated_ratio(temperature, pressure, "water"))

    rise = (balance(at + step)[0] - balance(at - step)[0]) / (2 * step)
    assert balance(at)[1] == pytest.approx(rise, rel=1e-6)


@pytest.mark.parametrize("phase", ["water", "ice"])
def test_slope_between_humidity_and_wet_bulb_is_its_slope(phase: Any) -> None:
    at, bulb = np.meshgrid(np.linspace(-14, 44, 9), np.array([-14.0, -5.0, 0.5, 18.0]))
    humidity, pressure, step = np.full(at.shape, 63.0), np.full(at.shape, 90e3), 1e-4

    def surplus(temperature: Array) -> tuple[Array, Array]:
        return equations.ratio_surplus(temperature, bulb, humidity, pressure, phase)

    rise = (surplus(at + step)[0] - surplus(at - step)[0]) / (2 * step)
    assert surplus(at)[1] == pytest.approx(rise, rel=1e-6)


def test_a_bulb_just_above_zero_is_not_iced() -> None:
    """Between 0.01 and 1 degC both conventions are one, whatever the bulb was found from."""
    for readings in (
        {"air_temperature": 0.6, "relative_humidity": 97.0},
        {"air_temperature": 5.0, "wet_bulb": 0.5},
        {"wet_bulb": 0.5, "humidity_ratio": 2.5},
        {"wet_bulb": 0.5, "relative_humidity": 60.0},
    ):
        known: dict[str, Any] = dict(readings)
        water = dataclasses.asdict(air.air_state(**known))
        ice = dataclasses.asdict(air.air_state(**known, relative_humidity_over="ice"))
        assert 0.01 < water["wet_bulb"] < 1
        for name in (*QUANTITIES, "enthalpy"):
            assert ice[name] == pytest.approx(water[name], abs=1e-9), name


# Formulas met in practice, each wrong here: they leave the worked figures of a room, or those at 30 degC and 80 %.
def test_wrong_formulas_leave_the_worked_figures() -> None:
    room, humid = state(19.5, 74), state(30, 80)
    rule_of_thumb = room.air_temperature - (100 - room.relative_humidity) / 5
    assert abs(rule_of_thumb - room.dew_point) > 0.3
    assert abs(rule_of_thumb - 14.7) > 0.1
    without_difference = 621.945 * humid.vapour_pressure / humid.pressure
    assert abs(without_difference / humid.humidity_ratio - 1) > 0.03
    per_moist_air = humid.humidity_ratio / (1 + humid.humidity_ratio / 1000)
    assert abs(per_moist_air / humid.humidity_ratio - 1) > 0.02
    assert abs(humid.absolute_humidity - humid.humidity_ratio) > 2  # g/m3 is not g/kg
    third_of_both = room.dew_point + (room.air_temperature - room.dew_point) / 3
    assert abs(third_of_both - room.wet_bulb) > 0.1


def test_limits_are_data_with_a_source() -> None:
    assert {name: (limits.low, limits.high, limits.unit) for name, limits in LIMITS.items()} == {
        "air_temperature": (-45, 60, "degC"),
        "relative_humidity": (1, 100.5, "%"),
        "dew_point": (-50, 60, "degC"),
        "wet_bulb": (-50, 60, "degC"),
        "humidity_ratio": (0.03, 420, "g/kg"),
        "vapour_pressure": (6.4, 20_000, "Pa"),
        "pressure": (50_000, 110_000, "Pa"),
    }
    assert all(limits.low < limits.high and limits.source and limits.name for limits in LIMITS.values())


def test_the_door_lists_what_it_has() -> None:
    assert list(air.__all__) == sorted(air.__all__)
    assert all(hasattr(air, name) for name in air.__all__)


def test_importing_stays_light() -> None:
    code = "import sys, desorb.core.air; print([name for name in ('scipy', 'numba', 'polars') if name in sys.modules])"
    told = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout
    assert told.strip() == "[]"
