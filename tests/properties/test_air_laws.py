"""Laws of nature that moist air must keep for any reading, whichever convention its humidity follows."""

from __future__ import annotations

import dataclasses
import itertools
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from desorb.core import air, saturation
from desorb.errors import InputError

temperatures = st.floats(-15.0, 45.0)
warm = st.floats(0.5, 45.0)
humidities = st.floats(6.0, 100.0)
pressures = st.floats(60e3, 108e3)
phases: st.SearchStrategy[Any] = st.sampled_from(["water", "ice"])

QUANTITIES = ("air_temperature", "relative_humidity", "dew_point", "wet_bulb", "humidity_ratio", "vapour_pressure")
SAME_THING = {"dew_point", "humidity_ratio", "vapour_pressure"}
PAIRS = [pair for pair in itertools.combinations(QUANTITIES, 2) if not set(pair) <= SAME_THING]
HAIR = 1e-7  # K, %, g/kg: what root finding may leave


@pytest.mark.parametrize("pair", PAIRS, ids=" + ".join)
@given(temperatures, humidities, pressures, phases)
def test_every_pair_of_a_state_leads_back_to_it(
    pair: tuple[str, str], temperature: float, humidity: float, pressure: float, phase: Any
) -> None:
    first = air.air_state(
        air_temperature=temperature, relative_humidity=humidity, pressure=pressure, relative_humidity_over=phase
    )
    readings: dict[str, Any] = {name: getattr(first, name) for name in pair}
    again = air.air_state(**readings, pressure=pressure, relative_humidity_over=phase)
    for name in QUANTITIES:
        assert getattr(again, name) == pytest.approx(getattr(first, name), rel=1e-6, abs=1e-6), name


@given(temperatures, humidities, st.floats(0.1, 15.0), pressures)
def test_warming_at_constant_moisture(temperature: float, humidity: float, by: float, pressure: float) -> None:
    cold = air.air_state(air_temperature=temperature, relative_humidity=humidity, pressure=pressure)
    assume(temperature + by <= 60)
    assume(cold.vapour_pressure > 0.012 * saturation.saturation_vapour_pressure_over_water(temperature + by))
    heated = air.air_state(air_temperature=temperature + by, humidity_ratio=cold.humidity_ratio, pressure=pressure)
    assert heated.relative_humidity < cold.relative_humidity
    assert heated.dew_point == pytest.approx(cold.dew_point, abs=HAIR)
    assert heated.wet_bulb > cold.wet_bulb
    assert heated.enthalpy > cold.enthalpy
    assert heated.specific_volume > cold.specific_volume
    assert heated.vapour_pressure_deficit > cold.vapour_pressure_deficit


@given(temperatures, humidities, pressures)
def test_wet_bulb_lies_between_dew_point_and_air(temperature: float, humidity: float, pressure: float) -> None:
    found = air.air_state(air_temperature=temperature, relative_humidity=humidity, pressure=pressure)
    assert found.dew_point - HAIR <= found.wet_bulb <= temperature + HAIR
    if humidity < 99:
        assert found.dew_point < found.wet_bulb < temperature


@given(st.floats(-15.0, -0.1), humidities, pressures)
def test_iced_bulb_lies_between_frost_point_and_air(temperature: float, humidity: float, pressure: float) -> None:
    found = air.air_state(
        air_temperature=temperature, relative_humidity=humidity, pressure=pressure, relative_humidity_over="ice"
    )
    assert found.frost_point is not None
    assert found.frost_point - HAIR <= found.wet_bulb <= temperature + HAIR
    assert found.dew_point < found.frost_point


@given(temperatures, st.floats(6.0, 99.0), pressures, st.floats(1.02, 1.4))
def test_thinner_air(temperature: float, humidity: float, pressure: float, factor: float) -> None:
    """Lower pressure: the same dew point, humidity and vapour pressure, more grams per kilogram, a colder wet bulb."""
    assume(pressure / factor > 55e3)
    low = air.air_state(air_temperature=temperature, relative_humidity=humidity, pressure=pressure)
    high = air.air_state(air_temperature=temperature, relative_humidity=humidity, pressure=pressure / factor)
    assert high.humidity_ratio > low.humidity_ratio
    assert (high.dew_point, high.vapour_pressure, high.frost_point) == (
        low.dew_point,
        low.vapour_pressure,
        low.frost_point,
    )
    assert high.wet_bulb <= low.wet_bulb + HAIR
    assert high.absolute_humidity == pytest.approx(low.absolute_humidity, rel=1e-5)


@given(temperatures, st.floats(6.0, 98.0), st.floats(0.5, 30.0), pressures, phases)
def test_adding_vapour_raises_everything_but_the_temperature(
    temperature: float, humidity: float, more: float, pressure: float, phase: Any
) -> None:
    dry, moist = (
        air.air_state(
            air_temperature=temperature, relative_humidity=value, pressure=pressure, relative_humidity_over=phase
        )
        for value in (humidity, min(humidity + more, 100.0))
    )
    for name in ("dew_point", "wet_bulb", "humidity_ratio", "vapour_pressure", "absolute_humidity", "enthalpy"):
        assert getattr(moist, name) > getattr(dry, name), name
    assert moist.specific_volume > dry.specific_volume
    assert moist.vapour_pressure_deficit < dry.vapour_pressure_deficit


@given(temperatures, humidities, pressures)
def test_wet_bulb_balances_the_heat(temperature: float, humidity: float, pressure: float) -> None:
    """Air, plus the water it takes up at the bulb's temperature, has the enthalpy of saturated air there."""
    found = air.air_state(air_temperature=temperature, relative_humidity=humidity, pressure=pressure)
    at_the_bulb = air.air_state(air_temperature=found.wet_bulb, relative_humidity=100.0, pressure=pressure)
    taken_up = (at_the_bulb.humidity_ratio - found.humidity_ratio) / 1000
    water = 4.186 * found.wet_bulb  # kJ/kg  [ASHRAE17] eq. 32
    assert found.enthalpy + taken_up * water == pytest.approx(at_the_bulb.enthalpy, abs=1e-6)


@given(temperatures, humidities, pressures, phases)
def test_mass_of_vapour_counted_two_ways(temperature: float, humidity: float, pressure: float, phase: Any) -> None:
    found = air.air_state(
        air_temperature=temperature, relative_humidity=humidity, pressure=pressure, relative_humidity_over=phase
    )
    by_gas_law = 1000 * found.vapour_pressure / (461.52 * (temperature + 273.15))  # g/m3, 461.52 = 287.042 / 0.621945
    assert found.absolute_humidity == pytest.approx(by_gas_law, rel=2e-5)
    by_ratio = found.humidity_ratio / found.specific_volume
    assert found.absolute_humidity == pytest.approx(by_ratio, rel=1e-12)


@given(st.lists(st.floats(-45.0, 60.0), min_size=2, max_size=6, unique=True))
def test_warmer_air_holds_more(degrees: list[float]) -> None:
    found = saturation.saturation_vapour_pressure(np.sort(np.array(degrees)))
    over_water = saturation.saturation_vapour_pressure_over_water(np.sort(np.array(degrees)))
    assert (np.diff(found) >= 0).all()
    assert (np.diff(over_water) >= 0).all()
    assert (found <= over_water * (1 + 1e-8)).all()  # never more over ice than over water


@given(st.floats(-49.9, 199.9))
def test_dew_point_undoes_saturation(temperature: float) -> None:
    vapour = saturation.saturation_vapour_pressure_over_water(temperature)
    assert saturation.dew_point(vapour) == pytest.approx(temperature, abs=1e-8)


@given(st.floats(-99.9, 0.009))
def test_frost_point_undoes_saturation(temperature: float) -> None:
    vapour = saturation.saturation_vapour_pressure_over_ice(temperature)
    assert saturation.frost_point(vapour) == pytest.approx(temperature, abs=1e-8)


@given(warm, humidities)
def test_a_surface_at_the_dew_point_just_condenses(temperature: float, humidity: float) -> None:
    found = air.air_state(air_temperature=temperature, relative_humidity=humidity)
    assume(found.dew_point > -40)
    assert air.surface_relative_humidity(found.vapour_pressure, found.dew_point) == pytest.approx(100, abs=1e-6)
    assert air.surface_relative_humidity(found.vapour_pressure, temperature) == pytest.approx(humidity, abs=1e-6)


@given(warm, st.floats(-10.0, 0.0), st.floats(20.0, 100.0))
def test_air_at_the_required_humidity_meets_the_criterion(temperature: float, colder: float, criterion: float) -> None:
    surface = temperature + colder
    required = air.required_relative_humidity(temperature, surface, criterion)
    found = air.air_state(air_temperature=temperature, relative_humidity=required)
    assert air.surface_relative_humidity(found.vapour_pressure, surface) == pytest.approx(criterion, rel=1e-9)


@given(st.floats(0.0, 1.0), st.floats(-10.0, 9.0), st.floats(10.1, 30.0))
def test_temperature_factor_is_where_the_surface_stands(share: float, outside: float, difference: float) -> None:
    inside = outside + difference
    surface = outside + share * difference
    assert air.temperature_factor(surface, inside, outside) == pytest.approx(share, abs=1e-9)


@given(temperatures, humidities, st.floats(0.0, 3000.0))
def test_an_instrument_that_computes_as_we_do_never_disagrees(
    temperature: float, humidity: float, altitude: float
) -> None:
    found = air.air_state(air_temperature=temperature, relative_humidity=humidity, altitude=altitude)
    shown = (round(found.dew_point, 1), round(found.humidity_ratio, 1))
    assert air.displayed_disagreement(temperature, humidity, *shown, altitude=altitude) == []


@given(temperatures, st.floats(0.1, 10.0), pressures)
def test_a_dew_point_or_wet_bulb_above_the_air_is_always_refused(
    temperature: float, above: float, pressure: float
) -> None:
    for name in ("dew_point", "wet_bulb"):
        readings: dict[str, Any] = {"air_temperature": temperature, name: temperature + above}
        with pytest.raises(InputError, match="is above the air temperature"):
            air.air_state(**readings, pressure=pressure)


@given(st.lists(st.tuples(temperatures, humidities), min_size=2, max_size=8), st.data())
def test_one_bad_reading_anywhere_is_named(readings: list[tuple[float, float]], data: st.DataObject) -> None:
    degrees, percents = (np.array(values) for values in zip(*readings, strict=True))
    place = data.draw(st.integers(0, len(readings) - 1))
    broken, bad = data.draw(
        st.sampled_from([(degrees, 77.0), (degrees, np.nan), (percents, 0.5), (percents, 104.0), (percents, np.nan)])
    )
    broken[place] = bad
    with pytest.raises(InputError, match=rf"\(value {place + 1} of {len(readings)}\)"):
        air.air_state(air_temperature=degrees, relative_humidity=percents)


@given(st.lists(st.tuples(temperatures, humidities), min_size=1, max_size=8), pressures, phases)
def test_many_at_once_are_the_same_as_one_by_one(
    readings: list[tuple[float, float]], pressure: float, phase: Any
) -> None:
    degrees, percents = (np.array(values) for values in zip(*readings, strict=True))
    many = air.air_state(
        air_temperature=degrees, relative_humidity=percents, pressure=pressure, relative_humidity_over=phase
    )
    for index, (temperature, humidity) in enumerate(readings):
        one = air.air_state(
            air_temperature=temperature, relative_humidity=humidity, pressure=pressure, relative_humidity_over=phase
        )
        for field in dataclasses.fields(one):
            if field.name not in ("convention", "frost_point"):
                element = getattr(many, field.name)[index]
                assert element == pytest.approx(getattr(one, field.name), rel=1e-9, abs=1e-8), field.name
