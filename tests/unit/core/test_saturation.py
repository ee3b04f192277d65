"""Saturation vapour pressure: the curves, their inverses, their ranges, and attempts to get round the ranges."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from desorb.core import saturation
from desorb.core.saturation import RANGES, TRIPLE_POINT, Array, increasing_root
from desorb.errors import InputError, OutOfRange

FORMS: dict[str, Callable[[Any], Any]] = {
    "over water": saturation.saturation_vapour_pressure_over_water,
    "over ice": saturation.saturation_vapour_pressure_over_ice,
    "over water or ice": saturation.saturation_vapour_pressure,
    "dew points": saturation.dew_point,
    "frost points": saturation.frost_point,
    "WMO over water": saturation.wmo_saturation_vapour_pressure_over_water,
    "WMO over ice": saturation.wmo_saturation_vapour_pressure_over_ice,
    "WMO enhancement": saturation.wmo_enhancement_factor,
    "ISO over water": saturation.iso_saturation_vapour_pressure_over_water,
    "ISO over ice": saturation.iso_saturation_vapour_pressure_over_ice,
}


def murphy_koop(temperature: Array) -> Array:
    """Supercooled water, 123 to 332 K. [degC] -> [Pa]"""
    t = temperature + 273.15
    bend = np.tanh(0.0415 * (t - 218.8)) * (53.878 - 1331.22 / t - 9.44523 * np.log(t) + 0.014025 * t)
    return np.asarray(np.exp(54.842763 - 6763.22 / t - 4.210 * np.log(t) + 0.000367 * t + bend))  # [MURPHY05] eq. 10


def test_water_and_ice_meet_at_the_triple_point() -> None:
    water = saturation.saturation_vapour_pressure_over_water(TRIPLE_POINT)
    assert water == pytest.approx(611.657, abs=0.001)
    assert saturation.saturation_vapour_pressure_over_ice(TRIPLE_POINT) == pytest.approx(water, rel=1e-8)


def test_the_switch_is_at_the_triple_point_not_at_zero() -> None:
    at_zero = saturation.saturation_vapour_pressure(0.0)
    assert at_zero == saturation.saturation_vapour_pressure_over_ice(0.0)
    assert at_zero != pytest.approx(saturation.saturation_vapour_pressure_over_water(0.0), rel=5e-5)


def test_the_engine_is_ice_below_and_water_above() -> None:
    below, above = np.array([-30.0, -0.5, 0.009]), np.array([0.01, 0.5, 80.0])
    assert (saturation.saturation_vapour_pressure(below) == saturation.saturation_vapour_pressure_over_ice(below)).all()
    assert (
        saturation.saturation_vapour_pressure(above) == saturation.saturation_vapour_pressure_over_water(above)
    ).all()


@pytest.mark.parametrize(
    ("coldest", "within"), [(-10, 0.0005), (-20, 0.0011), (-30, 0.0026), (-40, 0.0075), (-50, 0.021)]
)
def test_continued_below_zero_as_far_as_the_docstring_says(coldest: float, within: float) -> None:
    degrees = np.linspace(coldest, 0, 101)
    ours = saturation.saturation_vapour_pressure_over_water(degrees)
    high = ours / murphy_koop(degrees) - 1
    assert high.max() <= within
    assert high.min() >= -1e-5


def test_a_tenth_more_vapour_over_water_than_over_ice_at_minus_ten() -> None:
    over_water = saturation.saturation_vapour_pressure_over_water(-10.0)
    assert over_water / saturation.saturation_vapour_pressure_over_ice(-10.0) == pytest.approx(1.104, abs=0.002)


def test_forms_by_name_differ_from_the_engine_as_far_as_the_docstrings_say() -> None:
    warm, cold = np.linspace(5, 40, 71), np.linspace(-20, 0, 41)
    engine = saturation.saturation_vapour_pressure_over_water(warm)
    wmo = saturation.wmo_saturation_vapour_pressure_over_water(warm) / engine - 1
    iso = saturation.iso_saturation_vapour_pressure_over_water(warm) / engine - 1
    assert -0.003 <= wmo.min() < wmo.max() < 0
    assert -0.002 <= iso.min() < iso.max() < 0
    ice = saturation.saturation_vapour_pressure_over_ice(cold)
    assert np.abs(saturation.wmo_saturation_vapour_pressure_over_ice(cold) / ice - 1).max() < 2e-4
    assert np.abs(saturation.iso_saturation_vapour_pressure_over_ice(cold) / ice - 1).max() < 6e-3


def test_enhancement_factor_at_sea_level() -> None:
    assert saturation.wmo_enhancement_factor(101_325.0) == pytest.approx(1.004719, abs=1e-6)  # rules of trade 1.2


@pytest.mark.parametrize("temperature", [-49.99, -20.0, -1e-6, 0.0, TRIPLE_POINT, 1e-3, 14.7, 100.0, 199.99])
def test_dew_point_is_the_curve_backwards(temperature: float) -> None:
    vapour = saturation.saturation_vapour_pressure_over_water(temperature)
    assert saturation.dew_point(vapour) == pytest.approx(temperature, abs=1e-8)


def test_inverses_reach_the_ends_of_their_ranges() -> None:
    low, high = saturation.dew_point(np.array([6.4473, 1.555e6]))
    assert low == pytest.approx(-50, abs=2e-3)
    assert high == pytest.approx(200, abs=3e-3)
    assert saturation.frost_point(0.00141) == pytest.approx(-99.98, abs=0.01)
    assert saturation.frost_point(611.657) == pytest.approx(TRIPLE_POINT, abs=1e-6)


@pytest.mark.parametrize("temperature", [-99.9, -40.0, -1.0, 0.0, 0.0099])
def test_frost_point_is_the_curve_backwards(temperature: float) -> None:
    vapour = saturation.saturation_vapour_pressure_over_ice(temperature)
    assert saturation.frost_point(vapour) == pytest.approx(temperature, abs=1e-8)


def test_there_is_no_frost_point_where_only_dew_can_form() -> None:
    assert math.isnan(saturation.frost_point(612.0))
    points = saturation.frost_point(np.array([400.0, 611.0, 612.0, 2339.0]))
    assert np.isnan(points).tolist() == [False, False, True, True]


@pytest.mark.parametrize("key", FORMS)
def test_scalars_give_floats_and_arrays_keep_their_shape(key: str) -> None:
    limits = RANGES[key]
    inside = limits.low + (limits.high - limits.low) * 0.4
    assert type(FORMS[key](inside)) is float
    assert type(FORMS[key](np.float64(inside))) is float
    for shape in ((1,), (3,), (2, 3), (0,)):
        result = FORMS[key](np.full(shape, inside))
        assert result.shape == shape
        assert (result == FORMS[key](inside)).all() or key == "frost points"
    assert FORMS[key]([inside, inside]).shape == (2,)


@pytest.mark.parametrize("key", RANGES)
def test_both_ends_of_every_range_hold_and_are_quoted(key: str) -> None:
    limits = RANGES[key]
    FORMS[key](np.array([limits.low, limits.high]))
    for outside in (limits.low - abs(limits.low) * 1e-3 - 1e-3, limits.high * 1.01 + 0.01, math.inf, -math.inf):
        with pytest.raises(OutOfRange) as refusal:
            FORMS[key](outside)
        for part in (limits.name, f"{limits.low:.10g} to {limits.high:.10g} {limits.unit}", limits.source):
            assert part in str(refusal.value)


def test_the_ranges_are_those_of_the_sources() -> None:
    """Written out a second time, so that an end cannot move unnoticed."""
    ends = {key: (limits.low, limits.high, limits.unit) for key, limits in RANGES.items()}
    assert ends == {
        "over water": (-50, 200, "degC"),
        "over ice": (-100, 0.01, "degC"),
        "over water or ice": (-100, 200, "degC"),
        "dew points": (6.4473, 1_555_000, "Pa"),
        "frost points": (0.00141, 1_555_000, "Pa"),
        "WMO over water": (-45, 60, "degC"),
        "WMO over ice": (-65, 0.01, "degC"),
        "WMO enhancement": (50_000, 110_000, "Pa"),
        "ISO over water": (0, 60, "degC"),
        "ISO over ice": (-20, 0, "degC"),
    }


@pytest.mark.parametrize("key", FORMS)
@pytest.mark.parametrize("place", [0, 1, 4])
def test_one_bad_value_in_an_array_is_found_and_named(key: str, place: int) -> None:
    values = np.full(5, 0.6 * RANGES[key].low + 0.4 * RANGES[key].high)
    values[place] = RANGES[key].high * 1.1 + 1
    with pytest.raises(OutOfRange, match=rf"\(value {place + 1} of 5\)"):
        FORMS[key](values)
    values[place] = math.nan
    with pytest.raises(InputError, match=rf"missing \(value {place + 1} of 5\)"):
        FORMS[key](values)
    with pytest.raises(InputError, match=rf"missing \(value 1, {place + 1} of 1x5\)"):
        FORMS[key](values.reshape(1, 5))


@pytest.mark.parametrize(
    "nothing",
    [None, math.nan, [12.0, None], np.ma.masked_array([12.0, 13.0], [False, True]), np.ma.masked, "", "warm", {}],
)
def test_what_is_missing_is_never_guessed(nothing: Any) -> None:
    for form in FORMS.values():
        with pytest.raises(InputError, match=r"missing|not a number"):
            form(nothing)


@pytest.mark.parametrize(
    ("key", "value", "guess"),
    [
        ("WMO over water", 77.0, "in degF"),
        ("WMO over water", 293.15, "in K"),
        ("over water or ice", 250.0, "in degF"),
        ("WMO enhancement", 1013.25, "in hPa"),
        ("WMO enhancement", 101.325, "in kPa"),
        ("dew points", 1.67, "in hPa or in kPa"),
    ],
)
def test_the_refusal_asks_for_the_unit(key: str, value: float, guess: str) -> None:
    with pytest.raises(OutOfRange, match=rf"check the unit: was it entered {guess}"):
        FORMS[key](value)


def test_no_unit_is_suggested_that_would_not_help() -> None:
    with pytest.raises(OutOfRange) as refusal:
        saturation.wmo_saturation_vapour_pressure_over_water(900.0)
    assert "unit" not in str(refusal.value)


def test_the_sentence() -> None:
    with pytest.raises(OutOfRange) as refusal:
        saturation.wmo_saturation_vapour_pressure_over_water(77.0)
    assert str(refusal.value) == (
        "temperature 77 degC is outside -45 to 60 degC, the range of WMO-No. 8 over water ([WMO8], range from memory). "
        "Next: check the unit: was it entered in degF? If not, read it again."
    )


@pytest.mark.parametrize("curve", [saturation.OVER_WATER, saturation.OVER_ICE], ids=["water", "ice"])
def test_slope_is_the_slope(curve: saturation.Curve) -> None:
    degrees, step = np.linspace(curve.limits.low, curve.limits.high, 41), 1e-3
    rise = np.log(curve.pressure(degrees + step) / curve.pressure(degrees - step)) / (2 * step)
    assert curve.slope(degrees) == pytest.approx(rise, rel=1e-8)


def test_root_is_found_where_newton_alone_would_run_away() -> None:
    """The slope is nearly zero at the start, so the first step of Newton leaves the bracket."""
    wanted = np.array([-1.9, -1e-3, 0.0, 1.9])

    def steep(x: Array) -> tuple[Array, Array]:
        return (x - wanted) ** 3 + 1e-9 * (x - wanted), 3 * (x - wanted) ** 2 + 1e-9

    found = increasing_root(steep, np.full(4, -2.0), np.full(4, 2.0))
    assert found == pytest.approx(wanted, abs=1e-8)


def test_root_is_found_in_few_steps_where_the_curve_is_kind() -> None:
    asked = []

    def curve(x: Array) -> tuple[Array, Array]:
        asked.append(x)
        return np.log(saturation.OVER_WATER.pressure(x) / 1670), saturation.OVER_WATER.slope(x)

    found = increasing_root(curve, np.array(-50.0), np.array(60.0))
    assert found == pytest.approx(saturation.dew_point(1670.0), abs=1e-9)
    assert len(asked) <= 8  # halving alone needs 40


def test_root_at_an_end_of_its_bracket() -> None:
    ends = np.array([3.0, 7.0])
    found = increasing_root(lambda x: (x - ends, np.ones_like(x)), np.array([3.0, 3.0]), np.array([7.0, 7.0]))
    assert found == pytest.approx(ends, abs=1e-9)


# Formulas met in public texts and code, each wrong here: the check values would not pass with them.
WRONG: dict[str, Callable[[float], Any]] = {
    "the ice equation above zero": lambda t: saturation.OVER_ICE.pressure(np.asarray(t)),
    "a Magnus form with its denominator left in kelvin": lambda t: 611.2 * np.exp(17.62 * t / (243.12 + t + 273.15)),
    "the ice coefficients of ISO 13788 above zero": lambda t: 610.5 * np.exp(21.875 * t / (265.5 + t)),
    "an approximate Magnus pair 17.27 and 237.7": lambda t: 610.5 * np.exp(17.27 * t / (237.7 + t)),
    "hectopascal for pascal": lambda t: 6.112 * np.exp(17.62 * t / (243.12 + t)),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_formulas_are_far_outside_the_tolerance_of_the_checks(name: str) -> None:
    printed, tolerance = 3169.7, 3e-4  # row PSY-SAT-25
    assert saturation.saturation_vapour_pressure(25.0) == pytest.approx(printed, rel=tolerance)
    assert float(WRONG[name](25.0)) != pytest.approx(printed, rel=4 * tolerance)
