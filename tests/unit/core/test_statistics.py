"""core/statistics.py and core/measurement_study.py: meanings, edges, refusals, and wrong formulas that must fail."""

from __future__ import annotations

import ast
import inspect
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy import special

from desorb.core import measurement_study, statistics
from desorb.core.measurement_study import cusum, ewma, gauge_study, individuals_chart
from desorb.core.statistics import (
    PooledSpread,
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
    repeat_critical_range,
    samples_to_hit,
    smallest_pocket,
    student_t_quantile,
    tolerance_factor_natrella,
    tolerance_factor_one_sided,
    tolerance_factor_two_sided,
    upper_prediction_limit,
)
from desorb.errors import InputError, OutOfRange

CONTROL = [14.1, 13.6, 14.9, 14.3, 13.8]


def test_upper_prediction_limit_is_mean_plus_t_s_root() -> None:
    mean, spread = float(np.mean(CONTROL)), float(np.std(CONTROL, ddof=1))
    t_95_with_4_degrees = 2.131847  # printed in every table of Student's t as 2.132; from memory
    wanted = mean + t_95_with_4_degrees * spread * math.sqrt(1.2)
    assert upper_prediction_limit(CONTROL) == pytest.approx(wanted, abs=1e-5)


def test_equal_controls_give_a_limit_equal_to_them() -> None:
    assert upper_prediction_limit([18.0, 18.0, 18.0]) == 18.0


# -- pooled spread ----------------------------------------------------------------------------------------------------


def test_the_class_draws_a_small_sample_towards_itself() -> None:
    pooled = pooled_spread(0.02, n=5, class_spread=0.10)
    assert pooled.spread == pytest.approx(math.sqrt((4 * 0.01 + 4 * 0.0004) / 8))
    assert (pooled.degrees_of_freedom, pooled.shrinkage_dropped) == (8, False)


def test_a_sample_without_spread_keeps_the_class() -> None:
    """Whole-digit displays often show three equal controls; their spread is not nothing."""
    spread, degrees, dropped = pooled_spread(0.0, n=3, class_spread=0.10)
    assert spread == pytest.approx(math.sqrt(0.04 / 6))
    assert (degrees, dropped) == (6, False)


def test_the_class_is_dropped_only_when_the_sample_spreads_too_much() -> None:
    n, class_spread = 6, 0.5
    edge = class_spread * math.sqrt(chi_square_quantile(0.95, n - 1) / (n - 1))
    assert not pooled_spread(edge * 0.999, n, class_spread).shrinkage_dropped
    assert pooled_spread(edge * 1.001, n, class_spread) == PooledSpread(edge * 1.001, n - 1, True)
    too_small = class_spread * math.sqrt(chi_square_quantile(0.0001, n - 1) / (n - 1))
    assert not pooled_spread(too_small, n, class_spread).shrinkage_dropped


# -- the sampling -----------------------------------------------------------------------------------------------------


def test_smallest_pocket_and_samples_to_hit_are_each_others_inverse() -> None:
    assert smallest_pocket(14) == pytest.approx(1 - 0.05 ** (1 / 14))
    for readings in (1, 6, 14, 59, 400):
        assert samples_to_hit(smallest_pocket(readings)) == readings
    assert samples_to_hit(0.5, 0.75) == 2, "exactly two: the last binary digit may not make it three"
    assert samples_to_hit(0.99, 0.5) == 1


def test_nonparametric_confidence_of_few_readings_is_poor() -> None:
    assert nonparametric_confidence(5, 0.95) == pytest.approx(1 - 0.95**5)


# -- one that stands out ----------------------------------------------------------------------------------------------


def test_grubbs_looks_at_the_side_it_is_asked_for() -> None:
    values = [10.0, 10.4, 10.2, 13.0]
    assert grubbs_statistic(values) == grubbs_statistic(values, "both") > grubbs_statistic(values, "low")
    mirrored = [-value for value in values]
    assert grubbs_statistic(mirrored, "low") == pytest.approx(grubbs_statistic(values, "high"))
    assert grubbs_statistic([0.1, 0.1, 0.1]) == 0.0
    assert grubbs_statistic([0.0, 0.0, 1.5e-242]) == pytest.approx(2 / math.sqrt(3)), "its square underflows"


def test_grubbs_with_three_spots_can_hardly_speak() -> None:
    """With three spots the statistic never passes 2/sqrt(3) = 1.1547, and the limit is 1.1531."""
    assert grubbs_critical(3) < grubbs_statistic([10.0, 10.0, 99.0]) == pytest.approx(2 / math.sqrt(3))


# -- repeats ----------------------------------------------------------------------------------------------------------


def test_two_repeats_give_the_repeatability_limit() -> None:
    assert repeat_critical_range(2, 0.5 / 2.8) == pytest.approx(0.5)
    assert critical_range_factor(2) == pytest.approx(1.959964 * math.sqrt(2), abs=1e-6)


# -- wrong formulas that circulate (RULES_OF_TRADE section 9) ---------------------------------------------------------


def test_the_one_sided_factor_is_not_sold_as_two_sided() -> None:
    """Trap 5: 2.911 at n = 10, 95/95, printed somewhere as the two-sided factor."""
    mislabelled = 2.911
    assert tolerance_factor_one_sided(10, 0.95, 0.95) == pytest.approx(mislabelled, abs=1e-3)
    assert tolerance_factor_two_sided(10, 0.95, 0.95, "exact") > mislabelled + 0.4
    assert tolerance_factor_two_sided(10, 0.95, 0.95, "howe") > mislabelled + 0.4


def test_mean_plus_two_s_is_not_a_limit_for_few_readings() -> None:
    """The rule of thumb lies below the prediction limit until about n = 8 and below the tolerance limit long after."""
    assert prediction_factor(5, 0.95) > 2.0
    assert tolerance_factor_one_sided(20, 0.95, 0.95) > 2.0


# -- the library fails, the answer stands -----------------------------------------------------------------------------


@pytest.mark.parametrize("broken", [float("nan"), float("inf"), 1e10, 0.0, -3.0])
def test_a_wrong_answer_of_the_library_is_noticed_and_replaced(monkeypatch: pytest.MonkeyPatch, broken: float) -> None:
    cases = [(0.9, 4.0, 1.645), (0.95, 7.5, 5.2), (0.01, 2.0, -3.0), (0.99, 42.0, 8.4), (0.5, 1.0, 0.0)]
    right = [noncentral_t_quantile(*case) for case in cases]
    monkeypatch.setattr(special, "nctdtrit", lambda *_: broken)
    assert [noncentral_t_quantile(*case) for case in cases] == pytest.approx(right, rel=1e-8, abs=1e-9)


def test_even_a_slightly_wrong_answer_of_the_library_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    right = noncentral_t_quantile(0.9, 6.0, 3.3)
    monkeypatch.setattr(special, "nctdtrit", lambda *_: right * (1 + 1e-6))
    assert noncentral_t_quantile(0.9, 6.0, 3.3) == pytest.approx(right, rel=1e-9)


def test_noncentral_t_without_noncentrality_is_student_t() -> None:
    assert noncentral_t_quantile(0.95, 7.5, 0.0) == pytest.approx(student_t_quantile(0.95, 7.5))


# -- refusals in words ------------------------------------------------------------------------------------------------

NAN = float("nan")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: prediction_factor(1, 0.95), "Too few readings for this; got 1; wanted a whole number, 2 or more."),
        (lambda: prediction_factor(2.5, 0.95), "got 2.5; wanted a whole number"),  # type: ignore[arg-type]
        (lambda: prediction_factor(NAN, 0.95), "got nan; wanted a whole number"),  # type: ignore[arg-type]
        (lambda: prediction_factor(5, 95), "Next: divide a percentage by 100."),
        (lambda: prediction_factor(5, 1.0), "The confidence is a fraction; got 1.0; wanted between 0 and 1."),
        (lambda: upper_prediction_limit([14.1]), "Too few readings"),
        (lambda: upper_prediction_limit([14.1, NAN, 13.0]), "Reading 2 of 3 is not a number; got nan. Next: leave"),
        (lambda: upper_prediction_limit([14.1, 13.0, math.inf]), "Reading 3 of 3 is not a number; got inf"),
        (lambda: tolerance_factor_one_sided(1, 0.95, 0.9), "Too few readings"),
        (lambda: tolerance_factor_one_sided(0, 0.95, 0.9, 4), "Too few readings"),
        (lambda: tolerance_factor_one_sided(5, 0.95, 0.9, 0), "The degrees of freedom must be a positive number"),
        (lambda: tolerance_factor_one_sided(5, 0.0, 0.9), "probability is a fraction"),
        (lambda: tolerance_factor_two_sided(5, 1.2, 0.9), "The coverage is a fraction"),
        (lambda: tolerance_factor_two_sided(5, 0.9, NAN), "The confidence is a fraction; got nan"),
        (lambda: tolerance_factor_two_sided(5, 0.9, 0.9, "guess"), "wanted exact or howe"),  # type: ignore[arg-type]
        (lambda: nonparametric_confidence(0, 0.95), "Too few readings"),
        (lambda: grubbs_statistic([1.0, 2.0]), "Too few readings for this; got 2; wanted a whole number, 3 or more."),
        (lambda: grubbs_statistic([1.0, 2.0, 3.0], "up"), "wanted high, low or both"),  # type: ignore[arg-type]
        (lambda: grubbs_critical(2), "Too few readings"),
        (lambda: grubbs_critical(5, sides=3), "one side or two"),  # type: ignore[arg-type]
        (lambda: pooled_spread(0.1, 1, 0.1), "Too few control spots"),
        (lambda: pooled_spread(-0.1, 4, 0.1), "The sample spread is not a spread; got -0.1"),
        (lambda: pooled_spread(NAN, 4, 0.1), "The sample spread is not a spread; got nan"),
        (lambda: pooled_spread(0.1, 4, 0.0), "The class spread must be a positive number; got 0.0"),
        (lambda: pooled_spread(0.1, 4, 0.1, -1), "The class degrees must be a positive number"),
        (lambda: smallest_pocket(0), "Too few readings"),
        (lambda: samples_to_hit(5.0), "fraction of area is a fraction; got 5.0"),
        (lambda: repeat_critical_range(1, 0.2), "Too few repeats"),
        (lambda: repeat_critical_range(3, 0.0), "The repeatability must be a positive number"),
        (lambda: normal_quantile(0), "The probability is a fraction"),
        (lambda: student_t_quantile(0.9, -1), "degrees of freedom must be a positive number; got -1"),
        (lambda: chi_square_upper_tail(-1.0, 3), "never negative"),
        (lambda: chi_square_upper_tail(NAN, 3), "never negative"),
        (lambda: noncentral_t_quantile(0.9, 3, NAN), "The noncentrality is not a number"),
        (lambda: individuals_chart([1.0]), "The values cannot be charted"),
        (lambda: ewma([1.0, NAN], 1.0, 1.0), "The values cannot be charted"),
        (lambda: ewma([1.0], NAN, 1.0), "The start is not a number"),
        (lambda: ewma([1.0], 1.0, 0.0), "The spread must be a positive number"),
        (lambda: ewma([1.0], 1.0, 1.0, smoothing=0.0), "The smoothing is a weight"),
        (lambda: cusum([1.0], NAN, 1.0, 4.0), "The target is not a number"),
        (lambda: cusum([1.0], 1.0, 0.0, 4.0), "The slack must be a positive number"),
        (lambda: cusum([1.0], 1.0, 1.0, -4.0), "The decision must be a positive number"),
        (lambda: gauge_study([[[1.0, 2.0], [1.0, 2.0]]]), "The study is not complete; got a table of shape (1, 2, 2)"),
        (lambda: gauge_study([[[1.0, 2.0], [1.0]], [[1.0, 2.0], [1.0, 2.0]]]), "The study has gaps"),
        (lambda: gauge_study([[[1.0, 2.0], [1.0, NAN]]] * 2), "The study is not complete"),
        (lambda: gauge_study([[[1.0, 1.0]] * 2] * 2), "no spread to share out"),
        (lambda: gauge_study([[[1.0, 2.0], [3.0, 4.5]]] * 2, "guess"), "wanted kept or pooled"),  # type: ignore[arg-type]
    ],
)
def test_refuses_in_words(call: Callable[[], Any], words: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert words in str(refused.value)


def test_natrella_points_to_the_exact_factor_where_it_ends() -> None:
    with pytest.raises(OutOfRange, match=r"n above 3\.7\. Next: use tolerance_factor_one_sided"):
        tolerance_factor_natrella(3, 0.95, 0.99)
    assert tolerance_factor_natrella(4, 0.95, 0.99) > 0


def test_approximations_approach_the_exact_factor_with_n() -> None:
    apart = []
    for n in (10, 30, 100, 1000):
        exact, howe = tolerance_factor_two_sided(n, 0.9, 0.95), tolerance_factor_two_sided(n, 0.9, 0.95, "howe")
        apart.append(abs(howe / exact - 1))
        natrella = tolerance_factor_natrella(n, 0.9, 0.95) / tolerance_factor_one_sided(n, 0.9, 0.95)
        assert natrella == pytest.approx(1, abs=0.05 / math.sqrt(n))
    assert apart == sorted(apart, reverse=True)


# -- measurement studies ----------------------------------------------------------------------------------------------


def test_a_shift_is_found_by_the_cumulative_sum_on_either_side() -> None:
    steady, shifted = [10.0, 10.1, 9.9, 10.0], [10.8] * 6
    up = cusum(steady + shifted, target=10.0, slack=0.3, decision=1.2)
    down = cusum([20.0 - value for value in steady + shifted], target=10.0, slack=0.3, decision=1.2)
    assert up.signals == down.signals == (7, 8, 9, 10)
    assert up.high == pytest.approx(down.low)
    assert max(up.low) == 0.0


def test_a_chart_names_the_place_that_stands_out() -> None:
    values = [10.0, 10.1, 9.9, 10.0, 10.1, 14.0, 10.0, 9.9, 10.1, 10.0, 9.9, 10.1, 10.0]
    assert individuals_chart(values).signals == (6,)


def test_ewma_with_full_weight_on_the_newest_is_the_single_value() -> None:
    chart = ewma([3.0, 5.0, 4.0], start=4.0, spread=1.0, smoothing=1.0)
    assert chart.points == (3.0, 5.0, 4.0)
    assert (chart.lower, chart.upper) == (1.0, 7.0)


def test_a_gauge_without_spread_tells_every_part_apart() -> None:
    study = gauge_study([[[1.0, 1.0], [2.0, 2.0], [4.0, 4.0]]] * 2)
    assert (study.gauge_share, study.distinct_categories) == (0.0, math.inf)


# -- the house --------------------------------------------------------------------------------------------------------


def test_scipy_stats_stays_outside() -> None:
    for module in (statistics, measurement_study):
        tree = ast.parse(inspect.getsource(module))
        imported = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
        imported |= {str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        assert not any(name.startswith("scipy.") for name in imported), "only `from scipy import special`"
