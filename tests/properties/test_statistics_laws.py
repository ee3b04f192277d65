"""Laws that statistics must obey for any input, and every quantile against independent references over a grid."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import integrate, stats

from desorb.core.measurement_study import cusum, ewma, gauge_study, individuals_chart
from desorb.core.statistics import (
    chi_square_quantile,
    chi_square_upper_tail,
    critical_range_factor,
    grubbs_critical,
    grubbs_statistic,
    noncentral_t_quantile,
    nonparametric_confidence,
    normal_quantile,
    pooled_spread,
    prediction_factor,
    samples_to_hit,
    smallest_pocket,
    student_t_quantile,
    tolerance_factor_one_sided,
    tolerance_factor_two_sided,
    upper_prediction_limit,
)
from desorb.core.timber import (
    AdditiveTable,
    correct_by_table,
    equilibrium_moisture_content,
    half_point_rule,
    pfaff_garrahan,
    relative_humidity_over_wood,
)

PROBABILITIES = (0.0001, 0.01, 0.05, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99, 0.999, 0.9999)
DEGREES = (0.5, 1, 1.5, 2, 3, 4, 6.5, 7, 10, 19, 42, 99.5, 1000)

fractions = st.floats(0.01, 0.99)
high_fractions = st.floats(0.5, 0.995)
counts = st.integers(2, 60)
readings = st.lists(st.floats(-100, 100), min_size=3, max_size=12)


# -- against references -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("degrees", DEGREES)
def test_central_quantiles_agree_with_the_reference(degrees: float) -> None:
    for probability in PROBABILITIES:
        assert normal_quantile(probability) == pytest.approx(stats.norm.ppf(probability), rel=1e-12)
        student = student_t_quantile(probability, degrees)
        assert student == pytest.approx(stats.t.ppf(probability, degrees), rel=1e-9, abs=1e-12)
        assert stats.t.cdf(student, degrees) == pytest.approx(probability, rel=1e-9)
        chi_square = chi_square_quantile(probability, degrees)
        assert chi_square == pytest.approx(stats.chi2.ppf(probability, degrees), rel=1e-10)
        assert chi_square_upper_tail(chi_square, degrees) == pytest.approx(1 - probability, rel=1e-9)


@pytest.mark.parametrize("degrees", DEGREES)
@pytest.mark.parametrize("noncentrality", [-8.0, -1.0, 0.0, 0.5, 1.645, 3.7, 10.8, 52.0])
def test_noncentral_t_agrees_with_the_reference(degrees: float, noncentrality: float) -> None:
    for probability in PROBABILITIES:
        ours = noncentral_t_quantile(probability, degrees, noncentrality)
        assert ours == pytest.approx(stats.nct.ppf(probability, degrees, noncentrality), rel=1e-8, abs=1e-9)


def noncentral_t_by_integral(point: float, degrees: float, noncentrality: float) -> float:
    """P(T <= point) straight from the definition T = (Z + noncentrality) / (s / sigma), by adaptive integration."""

    def integrand(spread: float) -> float:
        return float(stats.norm.cdf(point * spread - noncentrality) * stats.chi.pdf(spread * root, degrees) * root)

    root, width = math.sqrt(degrees), 1 / math.sqrt(2 * degrees)
    end = 1 + 12 * width
    places = [place for place in (1 - 4 * width, 1.0, 1 + 4 * width, noncentrality / point) if 0 < place < end]
    return float(integrate.quad(integrand, 0, end, points=places, epsabs=1e-12, epsrel=1e-12, limit=400)[0])


@pytest.mark.parametrize(("n", "class_degrees"), [(1, 4), (2, 0), (3, 0), (3, 4), (5, 2.5), (8, 4), (10, 0), (43, 0)])
@pytest.mark.parametrize("coverage", [0.75, 0.9, 0.95, 0.99])
@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.99])
def test_one_sided_factor_keeps_its_promise(n: int, class_degrees: float, coverage: float, confidence: float) -> None:
    """Put back into a direct integral of the definition, without the library's noncentral t, also for whole classes."""
    degrees = class_degrees + n - 1
    point = tolerance_factor_one_sided(n, coverage, confidence, degrees) * math.sqrt(n)
    noncentrality = float(stats.norm.ppf(coverage)) * math.sqrt(n)
    assert noncentral_t_by_integral(point, degrees, noncentrality) == pytest.approx(confidence, abs=1e-9)


@pytest.mark.parametrize("n", [2, 3, 5, 10, 30])
@pytest.mark.parametrize(("coverage", "confidence"), [(0.75, 0.9), (0.95, 0.95), (0.99, 0.99)])
def test_two_sided_factor_keeps_its_promise(n: int, coverage: float, confidence: float) -> None:
    """Half width from the noncentral chi-square, outer integral adaptive: none of our own pieces."""
    factor = tolerance_factor_two_sided(n, coverage, confidence)

    def integrand(z: float) -> float:
        half_width_squared = stats.ncx2.ppf(coverage, 1, z**2 / n) if z else stats.chi2.ppf(coverage, 1)
        return float(2 * stats.norm.pdf(z) * stats.chi2.sf((n - 1) * half_width_squared / factor**2, n - 1))

    assert integrate.quad(integrand, 0, 8.5, epsabs=1e-10)[0] == pytest.approx(confidence, abs=1e-8)


@pytest.mark.parametrize("n", [2, 3, 4, 5, 8, 12, 20, 60])
def test_critical_range_agrees_with_the_studentised_range(n: int) -> None:
    for probability in (0.5, 0.9, 0.95, 0.99):
        reference = stats.studentized_range.ppf(probability, n, math.inf)
        assert critical_range_factor(n, probability) == pytest.approx(reference, rel=1e-8)


def simulated_controls(n: int) -> NDArray[np.float64]:
    return np.random.default_rng(20260207).standard_normal((40_000, n))


@pytest.mark.parametrize("n", [3, 5, 10])
def test_limits_hold_in_simulated_surveys(n: int) -> None:
    """Seeded; five standard errors of a rate near 0.05 or 0.10 in 40 000 surveys are 0.0055 and 0.0075."""
    controls = simulated_controls(n)
    mean, spread = controls.mean(axis=1), controls.std(axis=1, ddof=1)
    next_reading = np.random.default_rng(7).standard_normal(len(controls))
    exceeded = np.mean(next_reading > mean + prediction_factor(n, 0.95) * spread)
    assert exceeded == pytest.approx(0.05, abs=0.0055)
    limit = mean + tolerance_factor_one_sided(n, 0.95, 0.90) * spread
    assert np.mean(limit < stats.norm.ppf(0.95)) == pytest.approx(0.10, abs=0.0075)
    furthest = (controls.max(axis=1) - mean) / spread
    assert np.mean(furthest > grubbs_critical(n)) == pytest.approx(0.05, abs=0.0055)
    span = controls.max(axis=1) - controls.min(axis=1)
    assert np.mean(span > critical_range_factor(n)) == pytest.approx(0.05, abs=0.0055)


# -- laws -------------------------------------------------------------------------------------------------------------


@given(counts, high_fractions, high_fractions)
def test_a_factor_shrinks_with_every_further_reading(n: int, coverage: float, confidence: float) -> None:
    assert prediction_factor(n, coverage, one_sided=False) > prediction_factor(n + 1, coverage, one_sided=False)
    assert tolerance_factor_two_sided(n, coverage, confidence) > tolerance_factor_two_sided(n + 1, coverage, confidence)
    if min(coverage, confidence) > 0.501:  # at 0.5 the factor is nothing but rounding
        more = tolerance_factor_one_sided(n + 1, coverage, confidence)
        assert tolerance_factor_one_sided(n, coverage, confidence) > more


@given(counts, fractions, fractions, st.floats(0.001, 0.009))
def test_more_is_asked_more_is_paid(n: int, coverage: float, confidence: float, step: float) -> None:
    factor = tolerance_factor_one_sided(n, coverage, confidence)
    assert tolerance_factor_one_sided(n, coverage + step, confidence) > factor
    assert tolerance_factor_one_sided(n, coverage, confidence + step) > factor
    assert prediction_factor(n, confidence + step) > prediction_factor(n, confidence)


@given(counts, high_fractions, high_fractions)
def test_two_sides_cost_more_than_one(n: int, coverage: float, confidence: float) -> None:
    one_sided = tolerance_factor_one_sided(n, coverage, confidence)
    assert tolerance_factor_two_sided(n, coverage, confidence) > one_sided
    assert prediction_factor(n, confidence, one_sided=False) > prediction_factor(n, confidence)


@given(st.integers(3, 60), st.floats(0.8, 0.99), st.floats(0.75, 0.99), st.floats(0.5, 20))
def test_a_spread_known_better_costs_less(n: int, coverage: float, confidence: float, class_degrees: float) -> None:
    own = tolerance_factor_one_sided(n, coverage, confidence)
    assert tolerance_factor_one_sided(n, coverage, confidence, n - 1 + class_degrees) < own


@given(fractions, st.floats(0.5, 200), st.floats(-30, 30))
def test_noncentral_t_mirrors_itself(probability: float, degrees: float, noncentrality: float) -> None:
    ours = noncentral_t_quantile(probability, degrees, noncentrality)
    mirrored = -noncentral_t_quantile(1 - probability, degrees, -noncentrality)
    assert ours == pytest.approx(mirrored, rel=1e-6, abs=1e-9)


@given(st.lists(st.floats(-100, 100), min_size=2, max_size=12), st.floats(-50, 50), st.floats(0.1, 10))
def test_a_limit_moves_with_its_scale(values: list[float], shift: float, stretch: float) -> None:
    limit = upper_prediction_limit(values)
    moved = upper_prediction_limit([shift + stretch * value for value in values])
    assert moved == pytest.approx(shift + stretch * limit, rel=1e-9, abs=1e-7)
    assert limit >= float(np.mean(values)) - 1e-9
    assert limit == pytest.approx(upper_prediction_limit(values[::-1]), rel=1e-12, abs=1e-9)


@given(readings)
def test_grubbs_stays_within_what_n_allows(values: list[float]) -> None:
    n = len(values)
    both = grubbs_statistic(values, "both")
    assert 0 <= both <= (n - 1) / math.sqrt(n) + 1e-9
    assert both == max(grubbs_statistic(values, "high"), grubbs_statistic(values, "low"))
    assert grubbs_critical(n) < grubbs_critical(n, sides=2) < (n - 1) / math.sqrt(n)
    assert grubbs_critical(n) < grubbs_critical(n + 1)


@given(st.floats(0, 5), counts, st.floats(0.01, 5), st.floats(0.5, 20))
def test_pooling_lies_between_sample_and_class(spread: float, n: int, class_spread: float, weight: float) -> None:
    pooled, degrees, dropped = pooled_spread(spread, n, class_spread, weight)
    if dropped:
        assert (pooled, degrees) == (spread, n - 1)
        assert spread > class_spread
    else:
        assert min(spread, class_spread) - 1e-12 <= pooled <= max(spread, class_spread) + 1e-12
        assert degrees == pytest.approx(n - 1 + weight)


@given(st.integers(1, 5000), fractions)
def test_pocket_and_samples_go_there_and_back(number: int, probability: float) -> None:
    pocket = smallest_pocket(number, probability)
    assert 1 - (1 - pocket) ** number == pytest.approx(probability, rel=1e-9)
    assert samples_to_hit(pocket, probability) == number
    assert smallest_pocket(number + 1, probability) < pocket


@given(st.floats(0.0005, 0.99), fractions)
def test_samples_are_enough_and_none_is_wasted(fraction: float, probability: float) -> None:
    number = samples_to_hit(fraction, probability)
    assert 1 - (1 - fraction) ** number >= probability - 1e-9
    assert number == 1 or 1 - (1 - fraction) ** (number - 1) < probability + 1e-9


def test_a_pocket_smaller_by_a_hair_takes_one_more_reading() -> None:
    pocket = smallest_pocket(14)
    assert (samples_to_hit(pocket * (1 - 1e-6)), samples_to_hit(pocket * (1 + 1e-6))) == (15, 14)


@given(st.integers(1, 500), fractions)
def test_nonparametric_confidence_grows_with_n(n: int, coverage: float) -> None:
    confidence = nonparametric_confidence(n, coverage)
    assert confidence == pytest.approx(1 - coverage**n, abs=1e-12)
    assert nonparametric_confidence(n + 1, coverage) >= confidence


# -- measurement studies ----------------------------------------------------------------------------------------------


@given(st.lists(st.floats(-10, 10), min_size=2, max_size=20), st.floats(-5, 5))
def test_charts_move_with_their_values(values: list[float], shift: float) -> None:
    here, there = individuals_chart(values), individuals_chart([value + shift for value in values])
    assert there.upper - shift == pytest.approx(here.upper, abs=1e-9)
    average = ewma(values, start=0.0, spread=1.0).points
    assert min(0.0, *values) - 1e-9 <= min(average)
    assert max(average) <= max(0.0, *values) + 1e-9
    sums = cusum(values, target=0.0, slack=0.5, decision=4.0)
    mirrored = cusum([-value for value in values], target=0.0, slack=0.5, decision=4.0)
    assert (sums.high, sums.low, sums.signals) == (mirrored.low, mirrored.high, mirrored.signals)
    assert min(*sums.high, *sums.low) >= 0


@given(st.integers(0, 2**32 - 1), st.integers(2, 4), st.integers(2, 5), st.integers(2, 4))
def test_gauge_study_shares_out_the_whole_spread(seed: int, operators: int, parts: int, repeats: int) -> None:
    table = np.random.default_rng(seed).normal(size=(operators, parts, repeats))
    study = gauge_study(table.tolist())
    assert sum(study.sums_of_squares) == pytest.approx(float(np.sum((table - table.mean()) ** 2)), rel=1e-9)
    assert 0 <= study.gauge_share <= 1
    pooled = gauge_study(table.tolist(), "pooled")
    assert pooled.interaction_variance == 0
    assert pooled.sums_of_squares == study.sums_of_squares


# -- timber -----------------------------------------------------------------------------------------------------------


@given(st.floats(-1.1, 60), st.floats(0, 0.94), st.floats(0.001, 0.01))
def test_damper_air_holds_damper_wood(temperature: float, humidity: float, step: float) -> None:
    content = equilibrium_moisture_content(temperature, humidity)
    assert equilibrium_moisture_content(temperature, humidity + step) > content
    assert relative_humidity_over_wood(temperature, content) == pytest.approx(humidity, abs=1e-7)


@given(st.floats(7, 35), st.floats(-10, 39), st.floats(0.1, 1.0))
def test_colder_wood_reads_too_low(reading: float, temperature: float, step: float) -> None:
    """Both generic rules add more the colder the wood is."""
    assert pfaff_garrahan(reading, temperature) > pfaff_garrahan(reading, temperature + step)
    assert half_point_rule(reading, temperature, 20) > half_point_rule(reading, temperature + step, 20)


@given(
    st.lists(st.tuples(st.integers(-20, 60), st.floats(-6, 6)), min_size=1, max_size=8, unique_by=lambda row: row[0]),
    st.floats(-40, 80),
    st.floats(0, 20),
)
def test_an_addition_stays_between_its_rows(rows: list[tuple[int, float]], temperature: float, reading: float) -> None:
    temperatures, additions = zip(*sorted(rows), strict=True)
    table = AdditiveTable("sheet (invented)", tuple(map(float, temperatures)), additions)
    corrected = correct_by_table(reading, temperature, table)
    if temperature < 0 or not temperatures[0] <= temperature <= temperatures[-1]:
        assert corrected.moisture_content is None
        assert corrected.because
    else:
        assert corrected.moisture_content is not None
        below = max(row for row in zip(temperatures, additions, strict=True) if row[0] <= temperature)[1]
        above = min(row for row in zip(temperatures, additions, strict=True) if row[0] >= temperature)[1]
        assert min(below, above) - 1e-9 <= corrected.moisture_content - reading <= max(below, above) + 1e-9
