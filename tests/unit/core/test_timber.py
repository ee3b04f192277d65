"""core/timber.py: ranges, refusals in words, the instrument's own table, and wrong formulas that must not pass."""

from __future__ import annotations

import dataclasses
import math

import pytest

from desorb.core.timber import (
    FIBRE_SATURATION,
    RANGES,
    AdditiveTable,
    correct_by_table,
    correct_generic_half_point,
    correct_generic_pfaff_garrahan,
    equilibrium_moisture_content,
    equilibrium_moisture_content_from_fahrenheit,
    half_point_rule,
    pfaff_garrahan,
    relative_humidity_over_wood,
)
from desorb.errors import InputError, OutOfRange
from desorb.units import celsius_from_fahrenheit

OWN = AdditiveTable(
    source="sheet supplied with the instrument, edition 3 (invented)",
    temperatures=(-5.0, 0.0, 10.0, 20.0, 30.0),
    additions=(5.0, 3.8, 2.0, 0.0, -1.5),
    species=("spruce", "oak"),
    species_additions=(-0.5, 1.0),
)


# -- by the instrument's own table ------------------------------------------------------------------------------------


def test_raw_20_5_at_10_degrees_with_two_points_is_22_5() -> None:
    """Task 32: the raw value stays beside the corrected one, and the source of the table is named."""
    corrected = correct_by_table(20.5, 10.0, OWN)
    assert (corrected.reading, corrected.moisture_content) == (20.5, 22.5)
    assert corrected.source == OWN.source
    assert not corrected.generic
    assert corrected.because == "By the instrument's own table: +2.0 points at 10 degC, none for species"


@pytest.mark.parametrize(
    ("temperature", "addition"), [(0.0, 3.8), (5.0, 2.9), (12.5, 1.5), (20.0, 0.0), (24.0, -0.6), (30.0, -1.5)]
)
def test_between_two_rows_the_addition_is_interpolated(temperature: float, addition: float) -> None:
    assert correct_by_table(15.0, temperature, OWN).moisture_content == pytest.approx(15.0 + addition)


def test_species_is_added_when_it_is_in_the_table() -> None:
    corrected = correct_by_table(15.0, 15.0, OWN, species="oak")
    assert corrected.moisture_content == pytest.approx(15.0 + 1.0 + 1.0)
    assert "+1.0 points at 15 degC, +1.0 points for oak" in corrected.because


@pytest.mark.parametrize(
    ("reading", "temperature", "species", "words"),
    [
        (15.0, 31.0, "", "The instrument's table runs from -5 to 30 degC, the wood was at 31"),
        (15.0, 30.01, "", "The instrument's table runs from -5 to 30 degC"),
        (15.0, -0.1, "", "Wood at -0.1 degC is frozen: the reading is kept and marked, not corrected"),
        (15.0, -5.0, "", "is frozen"),  # although the table has that row
        (15.0, -40.0, "", "is frozen"),
        (15.0, 10.0, "teak", "The instrument's table does not name teak"),
        (28.1, 20.0, "", "Above 28 %: past fibre saturation pins do not measure"),
        (27.0, 10.0, "", "Above 28 % with +2.0 points at 10 degC, none for species: past fibre saturation"),
    ],
)
def test_no_value_and_the_reason_why(reading: float, temperature: float, species: str, words: str) -> None:
    refused = correct_by_table(reading, temperature, OWN, species)
    assert (refused.reading, refused.moisture_content) == (reading, None)
    assert words in refused.because


def test_a_table_that_starts_above_freezing_is_not_stretched_downwards() -> None:
    table = AdditiveTable("sheet (invented)", (10.0, 20.0), (2.0, 0.0))
    assert correct_by_table(15.0, 9.9, table).moisture_content is None
    assert correct_by_table(15.0, 10.0, table).moisture_content == 17.0


def test_fibre_saturation_is_a_setting() -> None:
    assert FIBRE_SATURATION == 28.0
    assert correct_by_table(29.0, 20.0, OWN, fibre_saturation=30.0).moisture_content == 29.0


@pytest.mark.parametrize(
    "parts",
    [
        {"temperatures": ()},
        {"temperatures": (0.0, 10.0, 10.0, 20.0, 30.0)},
        {"temperatures": (30.0, 20.0, 10.0, 0.0, -5.0)},
        {"additions": (5.0, 3.8)},
        {"additions": (5.0, 3.8, 2.0, math.nan, -1.5)},
        {"species_additions": (1.0,)},
        {"source": " "},
    ],
)
def test_a_table_that_cannot_be_read_one_way_only_is_refused(parts: dict[str, tuple[float, ...] | str]) -> None:
    with pytest.raises(InputError, match="correction table"):
        dataclasses.replace(OWN, **parts)  # type: ignore[arg-type]


@pytest.mark.parametrize(("reading", "temperature"), [(math.nan, 10.0), (15.0, math.nan), (math.inf, 10.0)])
def test_no_number_is_no_reading(reading: float, temperature: float) -> None:
    with pytest.raises(InputError, match="A reading and a temperature are needed"):
        correct_by_table(reading, temperature, OWN)


# -- generic ----------------------------------------------------------------------------------------------------------


def test_generic_corrections_say_so_and_carry_their_scatter() -> None:
    for corrected in (correct_generic_pfaff_garrahan(15.0, 10.0), correct_generic_half_point(15.0, 10.0, 20.0)):
        assert corrected.moisture_content == pytest.approx(16.0, abs=0.15)
        assert corrected.generic
        assert corrected.scatter == (1.0, 2.0)
        assert corrected.because.startswith("Generic correction, not this instrument's own")


@pytest.mark.parametrize(
    ("reading", "temperature", "words"),
    [
        (20.0, -10.0, "is frozen"),
        (
            20.0,
            41.0,
            "The temperature of the wood of 41 degC is outside -10 to 40 degC: the form was checked",
        ),
        (6.0, 10.0, "The pin reading of 6 % is outside 7 to 35 %"),
        (29.0, 10.0, "Above 28 %"),
    ],
)
def test_generic_corrections_refuse_in_words(reading: float, temperature: float, words: str) -> None:
    for refused in (
        correct_generic_pfaff_garrahan(reading, temperature),
        correct_generic_half_point(reading, temperature, 20.0),
    ):
        assert refused.moisture_content is None
        assert words in refused.because


def test_the_two_generic_rules_differ_as_known() -> None:
    """Known difference: 0.2 points at 10 degC and 0.5 at 0 degC for a reading of 15 (RULES_OF_TRADE 2.3)."""
    assert pfaff_garrahan(15, 10) - half_point_rule(15, 10, 20) == pytest.approx(0.215, abs=0.005)
    assert pfaff_garrahan(15, 0) - half_point_rule(15, 0, 20) == pytest.approx(0.529, abs=0.005)


def test_species_line_is_taken_off_after_temperature() -> None:
    assert pfaff_garrahan(15, 10, species_a=0.9, species_b=0.5) == pytest.approx((16.108 - 0.5) / 0.9, abs=1e-3)
    with pytest.raises(InputError, match="slope of the species line"):
        pfaff_garrahan(15, 10, species_a=0.0)


# -- air and wood -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("temperature", "humidity", "words"),
    [
        (20.0, 65.0, "The relative humidity of 65 is outside 0 to 0.95"),
        (20.0, 0.96, "The relative humidity of 0.96 is outside 0 to 0.95"),
        (77.0, 0.5, "The temperature of 77 degC is outside -1.11111 to 60 degC"),
        (-2.0, 0.5, "The temperature of -2 degC is outside"),
        (math.nan, 0.5, "The temperature of nan degC is outside"),
    ],
)
def test_outside_the_range_is_refused_with_the_range(temperature: float, humidity: float, words: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        equilibrium_moisture_content(temperature, humidity)
    assert words in str(refused.value)


def test_wood_wetter_than_any_air_of_the_table_has_no_humidity() -> None:
    with pytest.raises(OutOfRange, match=r"got 26 %; wanted 0 to 23\.9 %"):
        relative_humidity_over_wood(20.0, 26.0)
    with pytest.raises(OutOfRange):
        relative_humidity_over_wood(20.0, -0.1)
    assert relative_humidity_over_wood(20.0, 0.0) == pytest.approx(0.0, abs=1e-12)


def test_there_and_back() -> None:
    for humidity in (0.05, 0.3, 0.65, 0.88, 0.95):
        content = equilibrium_moisture_content(12.0, humidity)
        assert relative_humidity_over_wood(12.0, content) == pytest.approx(humidity, abs=1e-9)


def test_ranges_are_data_that_a_message_can_quote() -> None:
    assert RANGES["pin reading"].refusal(15.0) is None
    for limits in RANGES.values():
        assert limits.low < limits.high
        assert limits.because in str(limits.refusal(limits.high + 1))


# -- wrong formulas that circulate (RULES_OF_TRADE section 9) ---------------------------------------------------------


def hailwood_horrobin_with(h: float, w: float, k: float, k1: float, k2: float) -> float:
    first = k * h / (1 - k * h)
    return 1800 / w * (first + (k1 * k * h + 2 * k1 * k2 * (k * h) ** 2) / (1 + k1 * k * h + k1 * k2 * (k * h) ** 2))


def test_trap_1_the_wrong_last_coefficient_in_fahrenheit() -> None:
    """K2 with 0.0171 and 0.0000905 gives 8.73 instead of 9.25 at 70 degF and 50 %."""
    t = 70.0
    w, k = 330 + 0.452 * t + 0.00415 * t**2, 0.791 + 0.000463 * t - 0.000000844 * t**2
    k1 = 6.34 + 0.000775 * t - 0.0000935 * t**2
    trap = hailwood_horrobin_with(0.5, w, k, k1, 1.09 + 0.0171 * t - 0.0000905 * t**2)
    assert trap == pytest.approx(8.73, abs=0.005)
    assert equilibrium_moisture_content_from_fahrenheit(t, 0.5) == pytest.approx(trap + 0.52, abs=0.01)
    assert equilibrium_moisture_content(celsius_from_fahrenheit(t), 0.5) == pytest.approx(trap + 0.52, abs=0.01)


def test_trap_2_the_outer_bracket_and_a_fixed_weight() -> None:
    """1800/W belongs to both terms, and W grows with temperature: it is neither 162 nor 349."""
    t, h = 20.0, 0.65
    w, k = 349 + 1.29 * t + 0.0135 * t**2, 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1, k2 = 6.27 - 0.00938 * t - 0.000303 * t**2, 1.91 + 0.0407 * t - 0.000293 * t**2
    right = equilibrium_moisture_content(t, h)
    hydrate = (k1 * k * h + 2 * k1 * k2 * (k * h) ** 2) / (1 + k1 * k * h + k1 * k2 * (k * h) ** 2)
    without_bracket = 1800 / w * (k * h / (1 - k * h)) + hydrate
    assert hailwood_horrobin_with(h, w, k, k1, k2) == pytest.approx(right)
    for trap in (
        without_bracket,
        hailwood_horrobin_with(h, 349, k, k1, k2),
        hailwood_horrobin_with(h, 162, k, k1, k2),
    ):
        assert abs(trap - right) > 0.9, trap


def test_trap_3_one_temperature_scale_taken_for_the_other() -> None:
    right = equilibrium_moisture_content(20.0, 0.65)
    assert equilibrium_moisture_content_from_fahrenheit(68.0, 0.65) == pytest.approx(right, abs=0.015)
    with pytest.raises(OutOfRange):
        equilibrium_moisture_content(68.0, 0.65)  # degF given as degC: refused rather than answered
    with pytest.raises(OutOfRange):
        equilibrium_moisture_content_from_fahrenheit(20.0, 0.65)  # degC given as degF
    assert abs(equilibrium_moisture_content(50.0, 0.65) - equilibrium_moisture_content(10.0, 0.65)) > 1.5


def test_trap_6_a_straight_line_through_the_humidity() -> None:
    """ "EMC = 0.22 RH" is wrong by more than a point where it matters."""
    errors = [abs(0.22 * humidity - equilibrium_moisture_content(20.0, humidity / 100)) for humidity in (60, 70, 80)]
    assert max(errors) > 2.0
    assert min(errors) > 1.0


def test_trap_8_the_misprinted_cell() -> None:
    """140 degF, 55 %: 8.4, not 8.0."""
    assert abs(equilibrium_moisture_content_from_fahrenheit(140.0, 0.55) - 8.0) > 0.3


def test_trap_11_a_resistance_factor_ten_times_too_small() -> None:
    """Resistances of Douglas-fir at 26.7 degC, FPL-GTR-6, from memory: 14 % 33, 15 % 18.6, 16 % 11.2 megohm.

    "-0.3 %/K" moves a reading at 15 % by 0.06 points for 10 K; half a point per 5.6 K moves it by 0.9.
    """
    points_per_log_ohm = 2 / math.log(33 / 11.2)
    trap = 10 * 0.003 * points_per_log_ohm
    assert half_point_rule(15, 10, 20) - 15 > 10 * trap
    assert pfaff_garrahan(15, 10) - 15 > 10 * trap
