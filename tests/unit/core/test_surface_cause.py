"""Cooler patches, required surface temperatures, and one plane of condensation."""

from __future__ import annotations

import pytest

from desorb.core.air.surface import CANNOT_SAY, NOT_COOLER, NOT_EVAPORATION_ALONE
from desorb.core.surface_cause import (
    BuildUpLayer,
    cooler_patch,
    required_surface_temperature,
    required_temperature_factor,
    single_plane,
)
from desorb.errors import InputError, OutOfRange, Refused

# The invented example of the project's collection (iso13788_single_interface_example.csv): equations of EN ISO 13788,
# no worked example of the standard was found.
BUILD_UP = (
    BuildUpLayer("plasterboard", 0.0125, 0.25, 10.0),
    BuildUpLayer("wool", 0.100, 0.04, 1.0),
    BuildUpLayer("board", 0.015, 0.13, 50.0),
)


def test_separates_evaporation_from_a_cold_bridge() -> None:
    """TASK 48: air 20/50, patch at 15: wet bulb 13.8, either; at 12: not evaporation alone."""
    either = cooler_patch(15.0, 20.0, 50.0)
    assert either.finding == CANNOT_SAY == "cannot say from temperature"
    assert either.wet_bulb == pytest.approx(13.8, abs=0.05)
    assert len(either.next_tests) == 3
    below = cooler_patch(12.0, 20.0, 50.0)
    assert below.finding == NOT_EVAPORATION_ALONE == "not evaporation alone"
    assert "cold bridge" in below.next_tests[0]
    assert cooler_patch(20.5, 20.0, 50.0).finding == NOT_COOLER


def test_within_its_uncertainty_a_patch_proves_nothing() -> None:
    """A camera good to 2 K sees 12.5 under a wet bulb of 13.8: cannot say."""
    assert cooler_patch(12.5, 20.0, 50.0, uncertainty=2.0).finding == CANNOT_SAY


@pytest.mark.parametrize("surface", [12.0, 15.0])
def test_a_temperature_sets_no_wetness_status(surface: float) -> None:
    """A cooler area is a cooler area."""
    words = cooler_patch(surface, 20.0, 50.0).because
    assert "sets no wetness status" in words
    assert " wet " not in words.replace("the wet bulb", "")


# iso13788_frsi.csv, inside 20 degC: RH, theta_si,min for 80 %, dew point, f_Rsi for outside -5 and 0.
REQUIRED = [
    (40, 9.269, 6.002, 0.5708, 0.4635),
    (50, 12.625, 9.269, 0.7050, 0.6312),
    (60, 15.435, 12.004, 0.8174, 0.7717),
    (70, 17.861, 14.364, 0.9144, 0.8930),
]


@pytest.mark.parametrize(("humidity", "warm", "dew", "factor_frost", "factor_zero"), REQUIRED)
def test_required_temperature_and_factor(
    humidity: float, warm: float, dew: float, factor_frost: float, factor_zero: float
) -> None:
    """How warm must the corner be in this room? Printed with the ISO form; ours is ASHRAE: within 0.02 K and 0.001."""
    assert required_surface_temperature(20.0, humidity) == pytest.approx(warm, abs=0.02)
    assert required_surface_temperature(20.0, humidity, 100.0) == pytest.approx(dew, abs=0.02)
    assert required_temperature_factor(20.0, humidity, -5.0) == pytest.approx(factor_frost, abs=1e-3)
    assert required_temperature_factor(20.0, humidity, 0.0) == pytest.approx(factor_zero, abs=1e-3)


def test_required_temperature_refuses_fractions_and_mild_days() -> None:
    """0.8 for a criterion, and a factor on a mild day, are refused."""
    with pytest.raises(OutOfRange):
        required_surface_temperature(20.0, 50.0, 0.8)
    with pytest.raises(Refused, match="colder day"):
        required_temperature_factor(20.0, 50.0, 15.0)


def test_one_plane_of_the_example() -> None:
    """Board outside wool in frost: vapour condenses behind the board."""
    result = single_plane(BUILD_UP, 20.0, 50.0, -5.0, 80.0)
    assert result.temperatures == pytest.approx((18.8538, 18.4129, -3.6300, -4.6473), abs=1e-4)
    assert result.saturation == pytest.approx((2176.20, 2117.00, 450.81, 413.46), abs=0.02)
    assert result.vapour == pytest.approx((1168.48, 1059.82, 972.89, 320.94), abs=0.02)
    assert result.plane == 2
    assert result.rate == pytest.approx(6.032897e-07, rel=1e-5)
    assert result.rate * 90 * 86400 == pytest.approx(4.691181, rel=1e-5)
    assert "between wool and board" in result.words
    assert "by diffusion alone" in result.words


def test_no_plane_with_a_vapour_barrier_inside() -> None:
    """A foil behind the plasterboard: nothing condenses by diffusion, and the sentence promises no more."""
    foil = BuildUpLayer("foil", 0.0002, 0.4, 500000.0)
    result = single_plane((BUILD_UP[0], foil, *BUILD_UP[1:]), 20.0, 50.0, -5.0, 80.0)
    assert (result.plane, result.rate) == (None, 0.0)
    assert "by diffusion alone" in result.words


def test_two_planes_and_wet_surfaces_are_refused() -> None:
    """Two dense boards with wool between, or a surface that itself condenses: refused, not shared out."""
    dense = BuildUpLayer("dense board", 0.010, 0.13, 200.0)
    layers = (BUILD_UP[1], dense, BUILD_UP[1], dense)
    with pytest.raises(Refused, match="more than one plane"):
        single_plane(layers, 20.0, 70.0, -15.0, 80.0)
    with pytest.raises(Refused, match="inner surface"):
        single_plane((BuildUpLayer("steel", 0.001, 50.0, 1e6),), 20.0, 60.0, -5.0, 80.0)


def test_build_up_refuses_impossible_figures() -> None:
    """No layer, no thickness, a humidity as a fraction: refused."""
    with pytest.raises(InputError):
        BuildUpLayer("nothing", 0.0, 0.1, 1.0)
    with pytest.raises(InputError):
        single_plane((), 20.0, 50.0, -5.0, 80.0)
    with pytest.raises(OutOfRange):
        single_plane(BUILD_UP, 20.0, 0.5, -5.0, 80.0)
