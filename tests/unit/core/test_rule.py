"""core/rule.py: the figures of the rule, step by step. Its laws stand in tests/properties/test_rule_laws.py.

Worked by hand from METHODS "The rule adopted"; t and k are in any printed table, Grubbs' critical values in NIST/SEMATECH
1.3.5.17.1.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER
from desorb.core.rule import (
    FEWEST_CONTROLS,
    PREDICTION_1,
    RULES,
    TOLERANCE_1,
    UNDECIDED_SHARE,
    ControlSet,
    RuleInput,
    control_set,
    decide,
    decide_with,
    limits_of,
    mean_is_non_inferior,
    prediction_limit,
)

COMPARATIVE = RuleInput(True, 0.10, 0.25, 1.0)
POINTS = RuleInput(False, 0.5, 1.5, 0.5)


def prepared(controls: tuple[float, ...], rule: RuleInput = POINTS) -> ControlSet:
    found = control_set(controls, rule)
    assert found is not None
    return found


def test_the_settings_of_the_rule() -> None:
    """Three controls at least, a third undecided at most, two rules by name: settings of ours, shown in every report."""
    assert (FEWEST_CONTROLS, UNDECIDED_SHARE, RULES) == (3, 1 / 3, (TOLERANCE_1, PREDICTION_1))


def test_every_figure_on_a_scale_of_points() -> None:
    """Controls 14.0, 14.4, 14.2 on wood pins: s = 0.2, s_p^2 = (4 x 0.25 + 2 x 0.04) / 6, df = 6, k = 3.0903."""
    found = prepared((14.0, 14.4, 14.2))
    spread = math.sqrt((4 * 0.25 + 2 * 0.04) / 6)
    assert found.mean == pytest.approx(14.2)
    assert found.spread == pytest.approx(spread)
    assert found.degrees == 6
    assert found.repeat_spread == pytest.approx(0.5 / 2.8)
    assert found.margin == 1.5
    assert found.above_beyond == pytest.approx(14.2 + 3.0903 * spread, abs=1e-3)
    limits = limits_of(found)
    t_95_with_6_degrees = 1.943180  # any printed table of Student's t
    half = t_95_with_6_degrees * math.sqrt((0.5 / 2.8) ** 2 + spread**2 / 3)
    t_95_with_2_degrees = 2.919986
    prediction = 14.2 + t_95_with_2_degrees * 0.2 * math.sqrt(4 / 3)
    assert limits.prediction == pytest.approx(prediction, abs=1e-4)
    assert limits.no_higher_up_to == pytest.approx(min(14.2 + 1.5 - half, prediction), abs=1e-4)
    assert limits.control_mean == pytest.approx(14.2)
    assert limits.control_spread == pytest.approx(spread)
    assert (limits.controls, limits.margin) == (3, pytest.approx(1.5))


def test_every_figure_on_logarithms() -> None:
    """The mean is the geometric one, the spread a share of it, the margin the larger of 25 % and twice r."""
    found = prepared((8.0, 8.2, 7.8), COMPARATIVE)
    centre = (8.0 * 8.2 * 7.8) ** (1 / 3)
    assert found.digits(found.mean) == pytest.approx(centre)
    assert found.working(centre) == pytest.approx(found.mean)
    assert found.margin == pytest.approx(
        math.log1p(2 * 1.0 / centre)
    )  # 25 % of 8 is 2.0, twice r a little more: 2.0 / 7.999
    assert found.repeat_spread == pytest.approx(1.0 / 2.8 / centre)
    wide = prepared((80, 82, 78), COMPARATIVE)
    assert wide.margin == pytest.approx(math.log1p(0.25))
    limits = limits_of(wide)
    assert limits.margin == pytest.approx(0.25 * limits.control_mean)  # type: ignore[operator]
    assert limits.control_spread == pytest.approx(wide.spread * limits.control_mean)  # type: ignore[operator]


def test_the_spread_is_never_less_than_that_of_the_meter() -> None:
    """s_e = max(s, s_p, s_r): repeats that scatter with 2 points count more than controls that agree by luck."""
    found = prepared((14.0, 14.4, 14.2), replace(POINTS, repeat_spread=2.0))
    assert (found.spread, found.repeat_spread) == (2.0, 2.0)
    declared = prepared((14.0, 14.4, 14.2), replace(POINTS, repeatability=2.8, repeat_spread=0.1))
    assert (declared.spread, declared.repeat_spread) == (pytest.approx(1.0), pytest.approx(1.0))


def test_repeats_narrow_what_passes_only_by_the_noise_of_the_reading() -> None:
    found = prepared((14.0, 14.4, 14.2), replace(POINTS, repeatability=1.2))
    one, nine = limits_of(found, 1).no_higher_up_to, limits_of(found, 9).no_higher_up_to
    assert one is not None
    assert nine is not None
    assert one < nine
    assert limits_of(found, 0).no_higher_up_to == one  # no repeat is counted as one


@pytest.mark.parametrize(
    ("value", "status", "why"),
    [
        (14.2, NO_HIGHER, "no higher"),
        (14.8, NO_HIGHER, "no higher"),
        (15.0, CANNOT_SAY, "between"),
        (16.0, ABOVE, "above"),
    ],
)
def test_the_three_answers(value: float, status: str, why: str) -> None:
    """Controls 14.0, 14.4, 14.2: the plain limit is 14.87, the tolerance limit 15.51."""
    decision = decide(value, 1, (14.0, 14.4, 14.2), POINTS)
    assert (decision.status, decision.why) == (status, why)


@pytest.mark.parametrize(("value", "status"), [(14.87, NO_HIGHER), (14.88, ABOVE), (16.0, ABOVE)])
def test_the_simple_rule_has_two_answers(value: float, status: str) -> None:
    decision = decide(value, 1, (14.0, 14.4, 14.2), POINTS, PREDICTION_1)
    assert decision.status == status
    limits = decision.limits
    assert limits.above_beyond == limits.no_higher_up_to == limits.prediction
    assert (limits.control_spread, limits.margin, limits.controls) == (None, None, 3)
    assert limits.control_mean == pytest.approx(14.2)


def test_equal_controls_still_leave_room_for_the_meter() -> None:
    """Three times 18: the limit is mean + r, not 18.0 (JOB F12: max of the limit and mean + repeatability)."""
    assert prediction_limit((18, 18, 18), 1.0) == 19.0
    assert prediction_limit((18, 16, 19, 17, 20), 0.0) == pytest.approx(21.69, abs=0.005)


@pytest.mark.parametrize(
    ("controls", "aside"),
    [
        ((18, 16, 19, 17, 60), (4,)),
        ((60, 18, 16, 19, 17), (0,)),
        ((18, 18, 18, 19), ()),  # Grubbs alone would: 19 stands out from equal ones; it lies within r of them
        ((18, 18, 18, 20), (3,)),  # beyond r, and G = 1.5 above the critical 1.463 for n = 4 (one-sided, 5 %)
        ((16, 17, 18, 19), ()),
        ((18, 18, 18, 18), ()),
        ((18, 17, 60), ()),  # of three none
        ((3, 18, 18, 18, 19), ()),  # a low one is never set aside: it only lowers the limit
    ],
)
def test_which_control_is_set_aside(controls: tuple[float, ...], aside: tuple[int, ...]) -> None:
    """Critical value of Grubbs for n = 4, one-sided 5 %: 1.4625 (NIST/SEMATECH 1.3.5.17 by its formula)."""
    assert prepared(controls, COMPARATIVE).set_aside == aside


def test_the_limit_never_rises_by_what_was_set_aside() -> None:
    """Under both rules: the plain limit with 60 among the controls is 63, without it 20.5; the lower one counts."""
    found = prepared((18, 16, 19, 17, 60), COMPARATIVE)
    assert found.values == (18, 16, 19, 17)
    assert found.prediction == prediction_limit((18, 16, 19, 17), 1.0)
    low = prepared((10, 10.1, 9.9, 11.5), replace(COMPARATIVE, repeatability=1.2))
    assert low.prediction == min(prediction_limit(low.values, 1.2), prediction_limit(low.every, 1.2))
    assert (
        decide_with(found, 30, 1, PREDICTION_1).status == NO_HIGHER
    )  # prediction/1 knows no setting aside: it says so
    assert decide_with(found, 30, 1).status == ABOVE


@pytest.mark.parametrize("controls", [(), (18,), (18, 17), (0, 17, 18), (-1, 17, 18)])
def test_no_set_no_decision(controls: tuple[float, ...]) -> None:
    decision = decide(18, 1, controls, COMPARATIVE)
    assert (decision.status, decision.why, decision.limits.controls) == (CANNOT_SAY, "few controls", len(controls))


def test_zero_has_a_place_on_a_scale_of_points() -> None:
    assert control_set((0, 0.1, 0.2), POINTS) is not None
    assert decide(0, 1, (1, 1.2, 1.1), COMPARATIVE).why == "not positive"


@pytest.mark.parametrize(
    ("spots", "passes"),
    [((14.2, 14.3, 14.1), True), ((14.9, 14.9, 14.9), True), ((15.2, 15.3, 15.1), False), ((14.2,), True), ((), False)],
)
def test_the_mean_of_an_element(spots: tuple[float, ...], passes: bool) -> None:
    """Mean + 1.943 x sqrt(s^2/m + s^2/3) <= 14.2 + 1.5, with s = 0.424: up to 15.03 for three spots."""
    assert mean_is_non_inferior(prepared((14.0, 14.4, 14.2)), spots) == passes


def test_spots_that_scatter_need_a_lower_mean() -> None:
    """The same mean of 14.9, once even and once with a damp pocket in it."""
    assert mean_is_non_inferior(prepared((14.0, 14.4, 14.2)), (14.9, 14.9, 14.9))
    assert not mean_is_non_inferior(prepared((14.0, 14.4, 14.2)), (13.0, 14.0, 17.7))
