"""Laws of the control rule, tried on many invented control sets: what may never happen, whatever the figures.

Figures from outside stand with their source; the others are arithmetic on invented readings.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from desorb.core import statistics
from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER
from desorb.core.rule import (
    PREDICTION_1,
    TOLERANCE_1,
    RuleInput,
    control_set,
    decide,
    limits_of,
    mean_is_non_inferior,
    prediction_limit,
)

# The rows that a new case starts with (METHODS "The rule adopted", point 1; settings of ours)
COMPARATIVE = RuleInput(True, 0.10, 0.25, 1.0)
WOOD_PINS = RuleInput(False, 0.5, 1.5, 0.5)
GRAVIMETRIC = RuleInput(False, 0.2, 1.0, 0.5)
ROWS = (COMPARATIVE, WOOD_PINS, GRAVIMETRIC)

ALDER_COURT = (18.0, 16.0, 19.0, 17.0, 20.0)  # the bare utility floor of the invented case C1

rows = st.builds(
    RuleInput,
    on_logarithms=st.booleans(),
    class_spread=st.floats(0.02, 2.0),
    margin=st.floats(0.05, 3.0),
    repeatability=st.floats(0.0, 5.0),
    repeat_spread=st.just(0.0) | st.floats(0.0, 5.0),
)
figures = st.integers(10, 1000).map(lambda digits: digits / 10)  # what a display shows: 1.0 to 100.0
control_sets = st.lists(figures, min_size=3, max_size=12)
repeats = st.integers(1, 9)


def aside(controls: list[float], rule: RuleInput) -> tuple[int, ...]:
    prepared = control_set(controls, rule)
    assert prepared is not None
    return prepared.set_aside


# -- the laws ---------------------------------------------------------------------------------------------------------


@given(figures, repeats, control_sets, rows)
def test_a_pass_under_tolerance_1_is_a_pass_under_prediction_1(
    value: float, n: int, controls: list[float], rule: RuleInput
) -> None:
    """The careful rule never lets through what the simple one would hold back."""
    if decide(value, n, controls, rule, TOLERANCE_1).status == NO_HIGHER:
        assert decide(value, n, controls, rule, PREDICTION_1).status == NO_HIGHER


@given(control_sets, rows, repeats, st.floats(1e-6, 0.5))
def test_just_above_the_plain_limit_nothing_passes(
    controls: list[float], rule: RuleInput, n: int, beyond: float
) -> None:
    """However generous the margin: a reading beyond the limit of prediction/1 is no pass under either rule."""
    generous = replace(rule, margin=3.0)
    value = prediction_limit(controls, rule.repeatability) * (1 + beyond)
    for name in (TOLERANCE_1, PREDICTION_1):
        assert decide(value, n, controls, generous, name).status != NO_HIGHER


@given(control_sets, rows, repeats)
def test_the_largest_figure_that_passes_never_lies_above_the_plain_prediction_limit(
    controls: list[float], rule: RuleInput, n: int
) -> None:
    prepared = control_set(controls, rule)
    assert prepared is not None
    limits = limits_of(prepared, n)
    assert limits.no_higher_up_to is not None
    assert limits.no_higher_up_to <= prediction_limit(controls, rule.repeatability) * (1 + 1e-12)


@given(figures, repeats, st.data(), rows, st.sampled_from([TOLERANCE_1, PREDICTION_1]))
def test_the_order_of_the_controls_does_not_matter(
    value: float, n: int, data: st.DataObject, rule: RuleInput, name: str
) -> None:
    """Controls read in another order give the same limits, and the same status unless the value lies on a limit."""
    controls = data.draw(control_sets)
    mixed = data.draw(st.permutations(controls))
    one, other = decide(value, n, controls, rule, name), decide(value, n, mixed, rule, name)
    for first, second in (
        (one.limits.above_beyond, other.limits.above_beyond),
        (one.limits.no_higher_up_to, other.limits.no_higher_up_to),
        (one.limits.control_mean, other.limits.control_mean),
    ):
        assert first == pytest.approx(second, rel=1e-9)
    edges = (one.limits.above_beyond, one.limits.no_higher_up_to)
    assume(all(edge is not None and not math.isclose(edge, value, rel_tol=1e-9) for edge in edges))
    assert one.status == other.status


@given(figures, repeats, control_sets, rows, st.sampled_from([0.01, 0.1, 2.0, 7.5, 1000.0]))
def test_on_logarithms_the_unit_does_not_matter(
    value: float, n: int, controls: list[float], rule: RuleInput, factor: float
) -> None:
    """The same wall on a ratio scale with ten times the digits: ten times the limits, the same status."""
    rule = replace(rule, on_logarithms=True)
    stretched = replace(
        rule, repeatability=rule.repeatability * factor, repeat_spread=rule.repeat_spread * factor
    )  # fmt: skip
    plain = decide(value, n, controls, rule)
    larger = decide(value * factor, n, [each * factor for each in controls], stretched)
    assert plain.limits.above_beyond is not None
    assert plain.limits.no_higher_up_to is not None
    assert larger.limits.above_beyond == pytest.approx(plain.limits.above_beyond * factor, rel=1e-9)
    assert larger.limits.no_higher_up_to == pytest.approx(plain.limits.no_higher_up_to * factor, rel=1e-9)
    edges = (plain.limits.above_beyond, plain.limits.no_higher_up_to)
    assume(not any(math.isclose(edge, value, rel_tol=1e-9) for edge in edges))
    assert larger.status == plain.status


@given(figures, figures, repeats, control_sets, rows, st.sampled_from([TOLERANCE_1, PREDICTION_1]))
def test_a_higher_reading_never_gets_a_better_status(
    one: float, other: float, n: int, controls: list[float], rule: RuleInput, name: str
) -> None:
    """If the lower of two readings does not pass, the higher does not; if the lower is above, the higher is not a pass."""
    lower, higher = sorted((one, other))
    first, second = decide(lower, n, controls, rule, name), decide(higher, n, controls, rule, name)
    if first.status != NO_HIGHER:
        assert second.status != NO_HIGHER
    if first.why == "above" and second.status != ABOVE:
        assert second.why == "both"


@given(figures, repeats, st.integers(1, 5), control_sets, rows)
def test_another_repeat_at_the_same_value_never_turns_above_into_no_higher(
    value: float, n: int, more: int, controls: list[float], rule: RuleInput
) -> None:
    if decide(value, n, controls, rule).status == ABOVE:
        assert decide(value, n + more, controls, rule).status != NO_HIGHER


@given(control_sets, rows)
def test_controls_compared_with_their_own_mean_are_never_above(controls: list[float], rule: RuleInput) -> None:
    """The middle of the sound places is itself a sound place."""
    prepared = control_set(controls, rule)
    assert prepared is not None
    assert decide(prepared.digits(prepared.mean), 1, controls, rule).status != ABOVE
    arithmetic = sum(controls) / len(controls)
    assert decide(arithmetic, 1, controls, rule, PREDICTION_1).status == NO_HIGHER


@given(st.lists(figures, min_size=3, max_size=3), rows)
def test_of_three_controls_none_is_ever_set_aside(controls: list[float], rule: RuleInput) -> None:
    assert aside(controls, rule) == ()


@given(st.lists(figures, min_size=4, max_size=10), rows)
def test_a_control_within_repeatability_of_the_others_is_never_set_aside(
    controls: list[float], rule: RuleInput
) -> None:
    """On a display of whole digits Grubbs' test alone would throw out a sound control: it must stand out by more than r."""
    for position in aside(controls, rule):
        others = [each for place, each in enumerate(controls) if place != position]
        assert controls[position] - sum(others) / len(others) > rule.repeatability
        assert len(others) >= 3
        assert controls[position] == max(controls)
    assert len(aside(controls, rule)) <= 1


@given(
    figures,
    st.lists(st.integers(0, 1), min_size=3, max_size=9),
    st.floats(0.5, 5.0),
    st.floats(0.05, 0.99),
    st.booleans(),
)
def test_one_step_up_within_repeatability_is_no_outlier(
    level: float, steps: list[int], repeatability: float, share: float, on_logarithms: bool
) -> None:
    """Nearly equal controls and one that reads a little higher, by less than r: Grubbs alone would throw it out."""
    others = [level + 0.001 * step for step in steps]
    high = sum(others) / len(others) + share * repeatability
    rule = RuleInput(on_logarithms, 0.1, 0.25, repeatability)
    assert aside([*others, high], rule) == ()


@given(control_sets, rows, st.floats(0.0, 5.0), repeats)
def test_the_spread_measured_from_repeats_only_widens(
    controls: list[float], rule: RuleInput, measured: float, n: int
) -> None:
    """Repeats that scatter more than declared raise the limit of above and lower what passes, never the other way."""
    plain = control_set(controls, replace(rule, repeat_spread=0.0))
    wider = control_set(controls, replace(rule, repeat_spread=measured))
    assert plain is not None
    assert wider is not None
    assert wider.spread >= plain.spread
    assert wider.repeat_spread >= plain.repeat_spread
    assert wider.spread >= wider.repeat_spread  # sound places cannot differ by less than the meter itself does
    assert wider.above_beyond >= plain.above_beyond
    one, other = limits_of(plain, n).no_higher_up_to, limits_of(wider, n).no_higher_up_to
    assert one is not None
    assert other is not None
    assert other <= one


@given(figures, repeats, st.lists(figures, max_size=2), rows, st.sampled_from([TOLERANCE_1, PREDICTION_1]))
def test_fewer_than_three_controls_decide_nothing(
    value: float, n: int, controls: list[float], rule: RuleInput, name: str
) -> None:
    decision = decide(value, n, controls, rule, name)
    assert (decision.status, decision.why) == (CANNOT_SAY, "few controls")
    assert decision.limits.above_beyond is None


@given(control_sets, rows, st.lists(figures, min_size=1, max_size=8), figures)
def test_a_wetter_spot_never_helps_the_mean_of_an_element(
    controls: list[float], rule: RuleInput, spots: list[float], rise: float
) -> None:
    """Raise every spot of an element by the same share (or the same points): a mean that failed does not pass now."""
    prepared = control_set(controls, rule)
    assert prepared is not None
    raised = [spot * (1 + rise / 100) if rule.on_logarithms else spot + rise for spot in spots]
    if not mean_is_non_inferior(prepared, spots):
        assert not mean_is_non_inferior(prepared, raised)


# -- worked figures ---------------------------------------------------------------------------------------------------


def test_the_worked_figure_of_the_bare_floor() -> None:
    """Controls 18, 16, 19, 17, 20 and r = 1: the plain limit prints as 21.7, and 24 is above (invented case C1).

    The limit by hand: 18.0 + 2.132 x 1.5811 x sqrt(1.2) = 21.69, with t from any printed table of Student's t.
    """
    assert prediction_limit(ALDER_COURT, 1.0) == pytest.approx(21.69, abs=0.005)
    assert f"{prediction_limit(ALDER_COURT, 1.0):.1f}" == "21.7"
    assert decide(24, 1, ALDER_COURT, COMPARATIVE).status == ABOVE
    assert decide(24, 1, ALDER_COURT, COMPARATIVE, PREDICTION_1).status == ABOVE
    assert decide(21.69, 1, ALDER_COURT, COMPARATIVE, PREDICTION_1).status == NO_HIGHER
    assert decide(21.70, 1, ALDER_COURT, COMPARATIVE, PREDICTION_1).status == ABOVE


def test_between_the_two_limits_it_cannot_be_said() -> None:
    """22 on the same floor: above the plain limit, not beyond the tolerance limit; more repeats do not decide it."""
    for n in (1, 3, 5):
        decision = decide(22, n, ALDER_COURT, COMPARATIVE)
        assert (decision.status, decision.why) == (CANNOT_SAY, "between")


@pytest.mark.parametrize(
    ("controls", "repeatability", "printed"),
    [
        ((18, 16, 19, 17, 20), 1.0, "21.7"),  # C1-1
        ((14, 13, 15), 1.0, "17.4"),  # C1-2
        ((22, 24, 21, 23, 22), 1.0, "25.1"),  # C1-3
        ((21.1, 21.3, 21.5, 21.4, 21.6), 1.0, "22.4"),  # C3-1: mean + r, the prediction limit itself is 21.8
        ((1.6, 1.8, 1.5, 1.7), 0.5, "2.15"),  # C5-1: mean + r, the prediction limit itself is 2.0
        ((13.9, 14.4, 14.1), 0.5, "15.0"),  # C8-1
    ],
)
def test_limits_printed_in_the_worked_cases(controls: tuple[float, ...], repeatability: float, printed: str) -> None:
    """Every limit of rule prediction/1 that the invented cases print, to the printed digit."""
    places = len(printed.partition(".")[2])
    assert f"{prediction_limit(controls, repeatability):.{places}f}" == printed


@pytest.mark.parametrize(
    ("n", "k"),
    [(1, 4.02), (2, 3.40), (3, 3.09), (4, 2.89), (5, 2.76), (6, 2.65), (8, 2.51), (10, 2.41), (15, 2.25)],
)
def test_the_factors_of_the_tolerance_limit(n: int, k: float) -> None:
    """k for 95 % of places with 90 % confidence, with df = n + 3: the table of METHODS part A.

    For n = 4 that table prints 2.90: 2.8946, rounded once too often; scipy.stats.nct gives the same 2.8946.
    """
    assert statistics.tolerance_factor_one_sided(n, 0.95, 0.90, n + 3) == pytest.approx(k, abs=0.005)


@pytest.mark.parametrize(("n", "k"), [(3, 5.31), (6, 3.09), (10, 2.57)])
def test_the_textbook_factors_of_the_tolerance_limit(n: int, k: float) -> None:
    """The same with the textbook's df = n - 1: METHODS part A, and printed in tables of one-sided tolerance factors."""
    assert statistics.tolerance_factor_one_sided(n, 0.95, 0.90) == pytest.approx(k, abs=0.005)


def test_the_limit_of_above_uses_the_factor_with_the_weight_of_the_class() -> None:
    """Five controls with the class worth four more: df = 8, k = 2.76 (METHODS part A); the limit is m exp(k s)."""
    limits = limits_of(control_set(ALDER_COURT, COMPARATIVE))  # type: ignore[arg-type]
    own = [math.log(each) for each in ALDER_COURT]
    mean = sum(own) / 5
    spread = math.sqrt((4 * 0.10**2 + sum((each - mean) ** 2 for each in own)) / 8)
    assert limits.above_beyond == pytest.approx(math.exp(mean + 2.76 * spread), abs=0.02)


def test_a_lone_high_control_is_set_aside_and_does_not_lift_the_limit() -> None:
    """One of five controls reads 60: a damp control would let everything pass. It is set aside, and shown."""
    prepared = control_set((18, 16, 19, 17, 60), COMPARATIVE)
    assert prepared is not None
    assert prepared.set_aside == (4,)
    assert prepared.every == (18, 16, 19, 17, 60)
    assert decide(24, 1, (18, 16, 19, 17, 60), COMPARATIVE).status == ABOVE


@pytest.mark.parametrize("rule", ROWS, ids=["comparative", "wood pins", "gravimetric"])
def test_controls_that_spread_too_much_for_their_class_are_taken_at_their_own_word(rule: RuleInput) -> None:
    """A set that scatters far more than its class: the class no longer pulls it in, and the report can say so."""
    centre = 20.0
    step = 6 * (rule.class_spread * centre if rule.on_logarithms else rule.class_spread)
    wild = control_set((centre - step, centre, centre + step), rule)
    calm = control_set((centre, centre, centre), rule)
    assert wild is not None
    assert calm is not None
    assert (wild.shrinkage_dropped, calm.shrinkage_dropped) == (True, False)
    assert (wild.degrees, calm.degrees) == (2, 6)


def test_a_ratio_scale_has_no_zero() -> None:
    """0 among the controls, or as the reading, has no logarithm: nothing is decided."""
    assert decide(5, 1, (0, 5, 6), COMPARATIVE).why == "few controls"
    assert decide(0, 1, (5, 6, 7), COMPARATIVE).why == "not positive"
    assert decide(0, 1, (5, 6, 7), WOOD_PINS).status == NO_HIGHER
    prepared = control_set((5, 6, 7), COMPARATIVE)
    assert prepared is not None
    assert not mean_is_non_inferior(prepared, [0, 5])
    assert not mean_is_non_inferior(prepared, [])


def test_a_margin_wider_than_the_tolerance_limit_decides_nothing_in_the_overlap() -> None:
    """Above and within the margin at once: a margin set too wide for so even a set. The rule does not pick a side."""
    generous = RuleInput(True, 0.02, 3.0, 0.1)
    decision = decide(30, 5, (20.0, 20.1, 19.9, 20.0), generous)
    assert (decision.status, decision.why) == (CANNOT_SAY, "both")
