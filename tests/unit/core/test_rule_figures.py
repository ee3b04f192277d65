"""Figures of the control rule that no other test holds: each kills a change that went unnoticed (benchmarks/mutate.py)."""

from __future__ import annotations

import math

import pytest

from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER
from desorb.core.rule import (
    PREDICTION_1,
    Decision,
    RuleInput,
    control_set,
    decide_with,
    limits_of,
    mean_is_non_inferior,
)

POINTS = RuleInput(on_logarithms=False, class_spread=0.5, margin=1.5, repeatability=0.5)
RATIO = RuleInput(on_logarithms=True, class_spread=0.10, margin=0.25, repeatability=1.0)
WIDE = (13.1, 13.5, 14.0, 14.5, 14.9)  # mean 14, s = sqrt(0.53): wider than its class, not improbably so
T_8 = 1.859548  # 95 % of Student's t, 8 degrees of freedom; any table


def test_the_spread_of_the_controls_counts_where_it_is_the_widest() -> None:
    prepared = control_set((13.4, 14.0, 14.6), POINTS)
    assert prepared is not None
    assert not prepared.shrinkage_dropped
    assert prepared.spread == pytest.approx(0.6)  # s, above sqrt((4 * 0.25 + 2 * 0.36) / 6) = 0.535


@pytest.mark.parametrize(
    ("controls", "rule", "aside"),
    [((13, 35, 17, 11, 11), RATIO, ()), ((11.8, 12.4, 22.2, 10.1), POINTS, (2,))],
    ids=["logarithms: as digits it would go", "points: as logarithms it would stay"],
)
def test_the_outlier_is_sought_on_the_scale_that_is_worked_on(
    controls: tuple[float, ...], rule: RuleInput, aside: tuple[int, ...]
) -> None:
    prepared = control_set(controls, rule)
    assert prepared is not None
    assert prepared.set_aside == aside


@pytest.mark.parametrize("repeats", [1, 2, 4])
def test_what_passes_by_hand(repeats: int) -> None:
    """14 + 1.5 - t sqrt((0.5 / 2.8)^2 / repeats + 0.53 / 5)."""
    prepared = control_set(WIDE, POINTS)
    assert prepared is not None
    by_hand = 15.5 - T_8 * math.sqrt((0.5 / 2.8) ** 2 / repeats + 0.53 / 5)
    assert limits_of(prepared, repeats).no_higher_up_to == pytest.approx(by_hand, abs=1e-5)


def test_one_reading_is_one_repeat() -> None:
    prepared = control_set(WIDE, POINTS)
    assert prepared is not None
    assert limits_of(prepared) == limits_of(prepared, 1) != limits_of(prepared, 2)


def test_a_reading_at_a_limit_is_on_its_good_side() -> None:
    prepared = control_set((13.5, 14.0, 14.5, 14.0, 14.0), POINTS)
    assert prepared is not None
    assert decide_with(prepared, prepared.above_beyond, 1).status == CANNOT_SAY
    assert decide_with(prepared, math.nextafter(prepared.above_beyond, 99), 1).status == ABOVE
    assert decide_with(prepared, prepared.prediction, 1).status == NO_HIGHER
    assert decide_with(prepared, math.nextafter(prepared.prediction, 99), 1).status == CANNOT_SAY


def test_every_answer_carries_its_limits() -> None:
    ratio = control_set((20, 21, 19), RATIO)
    lenient = control_set((14.0, 14.1, 13.9), RuleInput(False, 0.1, 5.0, 0.1))
    assert ratio is not None
    assert lenient is not None
    assert decide_with(ratio, 0.0, 1) == Decision(CANNOT_SAY, "not positive", limits_of(ratio, 1))
    assert decide_with(lenient, 15.0, 1) == Decision(CANNOT_SAY, "both", limits_of(lenient, 1))
    simple = limits_of(ratio, 1, PREDICTION_1)
    assert decide_with(ratio, 90.0, 1, PREDICTION_1) == Decision(ABOVE, "above", simple)
    assert decide_with(ratio, 20.0, 1, PREDICTION_1) == Decision(NO_HIGHER, "no higher", simple)


@pytest.mark.parametrize(
    ("spots", "passes"),
    [
        ((14.1, 12.2, 13.3, 15.3), True),
        ((13.3, 12.9, 14.8, 15.8), False),
        ((13.3, 15.1), False),
        ((14.0, 13.5, 15.4), False),
        ((14.8, 14.2, 14.7), False),
        ((12.2, 14.2, 15.0), True),
    ],
)
def test_the_mean_of_an_element_in_points(spots: tuple[float, ...], passes: bool) -> None:
    """By hand: x + 1.8595 sqrt(max(s_x^2, 0.53) / m + 0.53 / 5) against 15.5."""
    prepared = control_set(WIDE, POINTS)
    assert prepared is not None
    mean = sum(spots) / len(spots)
    square = max(sum((spot - mean) ** 2 for spot in spots) / (len(spots) - 1), 0.53)
    assert (mean + T_8 * math.sqrt(square / len(spots) + 0.53 / 5) <= 15.5) is passes
    assert mean_is_non_inferior(prepared, spots) is passes


@pytest.mark.parametrize("unit", [20.0, 0.8])
def test_the_mean_of_an_element_on_a_ratio_scale(unit: float) -> None:
    rule = RuleInput(True, 0.10, 0.25, 0.01 * unit)
    prepared = control_set((unit, 1.03 * unit, 0.97 * unit), rule)
    assert prepared is not None
    assert mean_is_non_inferior(prepared, (unit, 1.02 * unit, 0.98 * unit))
    assert not mean_is_non_inferior(prepared, (1.2 * unit, 1.3 * unit, 1.25 * unit))
    assert not mean_is_non_inferior(prepared, (unit, 0.0, unit))
