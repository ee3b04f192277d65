"""The control rule: what a set of control spots lets one say about a reading. Figures in, figures out.

Contents: RuleInput; Decision; tolerance/1 (the default); prediction/1 (the simple alternative); the element mean.

tolerance/1, on logarithms for ratio scales and on the raw figures for point scales:
  above       beyond the one-sided tolerance limit m + k s_e (95 % of sound places, with 90 % confidence)
  no higher   non-inferior: x + t sqrt(s_r^2 / repeats + s_e^2 / n) <= m + margin, and not above the limit of prediction/1
  else        cannot say; also when both would be true
A pass under tolerance/1 is therefore a pass under prediction/1 (tests/properties/test_rule_laws.py).
Class spread, margin and repeatability are settings until measured on real data: they come in, they do not live here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from desorb.core import statistics
from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER, Limits

TOLERANCE_1 = "tolerance/1"
PREDICTION_1 = "prediction/1"
RULES = (TOLERANCE_1, PREDICTION_1)
FEWEST_CONTROLS = 3  # setting of ours; lowering it is not offered
COVERAGE, CONFIDENCE, ONE_SIDED = 0.95, 0.90, 0.95  # settings of ours, shown in every report
CLASS_DEGREES = 4  # how many control spots the class spread is worth
REPEATABILITY_FACTOR = 2.8  # r = 2.8 s_r  [ISO-5725-6]
FEWEST_FOR_GRUBBS = 4
UNDECIDED_SHARE = 1 / 3  # of the spots of an element that may stay undecided


@dataclass(frozen=True, slots=True)
class RuleInput:
    """How the scale behaves. Spread and margin: ratios on logarithms (0.10 is 10 %), points otherwise."""

    on_logarithms: bool
    class_spread: float
    margin: float
    repeatability: float  # declared 95 % limit r, in digits
    repeat_spread: float = 0.0  # standard deviation measured from the repeats, in digits; it can only widen


@dataclass(frozen=True, slots=True)
class ControlSet:
    """The control spots, made ready once and used for many readings."""

    rule: RuleInput
    values: tuple[float, ...]  # medians of the control spots, in digits, those set aside left out
    every: tuple[float, ...]  # the same with those set aside
    set_aside: tuple[int, ...]  # position of a high control spot that Grubbs' test set aside
    mean: float  # on the working scale
    spread: float  # s_e, on the working scale
    repeat_spread: float  # s_r, on the working scale
    degrees: float
    shrinkage_dropped: bool
    margin: float  # on the working scale
    above_beyond: float  # on the working scale
    prediction: float  # in digits: the limit of prediction/1, and never above it when a control was set aside

    def working(self, value: float) -> float:
        return math.log(value) if self.rule.on_logarithms else value

    def digits(self, value: float) -> float:
        return math.exp(value) if self.rule.on_logarithms else value


@dataclass(frozen=True, slots=True)
class Decision:
    """What the rule says of one reading, and the figures it used (in digits)."""

    status: str
    why: str  # above, no higher, between, both, few controls, not positive
    limits: Limits


@lru_cache(maxsize=4096)
def _tolerance_factor(n: int, degrees: float) -> float:
    return statistics.tolerance_factor_one_sided(n, COVERAGE, CONFIDENCE, degrees)  # [TOLERANCE-1] k


@lru_cache(maxsize=4096)
def _student(degrees: float) -> float:
    return statistics.student_t_quantile(ONE_SIDED, degrees)


@lru_cache(maxsize=256)
def _grubbs_critical(n: int) -> float:
    return statistics.grubbs_critical(n)


def prediction_limit(values: Sequence[float], repeatability: float) -> float:
    """The limit of prediction/1 [digits]: the 95 % one-sided prediction limit, at least mean + r.

    mean + t(0.95, n-1) s sqrt(1 + 1/n)  [ISO-16269-8]
    """
    mean = sum(values) / len(values)
    return max(statistics.upper_prediction_limit(values, ONE_SIDED), mean + repeatability)


def control_set(values: Sequence[float], rule: RuleInput) -> ControlSet | None:
    """Prepare the control spots; None when fewer than three, or not positive on a logarithmic scale."""
    if len(values) < FEWEST_CONTROLS or (rule.on_logarithms and min(values) <= 0):
        return None
    aside = _set_aside(values, rule)
    kept = [value for position, value in enumerate(values) if position not in aside]
    n = len(kept)
    centre = math.exp(sum(map(math.log, kept)) / n) if rule.on_logarithms else sum(kept) / n
    per_digit = 1 / centre if rule.on_logarithms else 1.0  # d(log x) = dx / x
    worked = [math.log(value) for value in kept] if rule.on_logarithms else kept
    mean = sum(worked) / n
    own = math.sqrt(sum((value - mean) ** 2 for value in worked) / (n - 1))
    pooled = statistics.pooled_spread(own, n, rule.class_spread, CLASS_DEGREES)
    declared = rule.repeatability / REPEATABILITY_FACTOR
    repeat_spread = max(declared, rule.repeat_spread) * per_digit
    spread = max(own, pooled.spread, repeat_spread)
    return ControlSet(
        rule=rule,
        values=tuple(kept),
        every=tuple(values),
        set_aside=aside,
        mean=mean,
        spread=spread,
        repeat_spread=repeat_spread,
        degrees=pooled.degrees_of_freedom,
        shrinkage_dropped=pooled.shrinkage_dropped,
        margin=_margin(rule, per_digit),
        above_beyond=mean + _tolerance_factor(n, pooled.degrees_of_freedom) * spread,
        prediction=min(prediction_limit(kept, rule.repeatability), prediction_limit(values, rule.repeatability)),
    )


def _margin(rule: RuleInput, per_digit: float) -> float:
    """On logarithms the larger of the ratio and twice r at the level of the controls; points otherwise."""
    if not rule.on_logarithms:
        return rule.margin
    return max(math.log1p(rule.margin), math.log1p(2 * rule.repeatability * per_digit))  # [TOLERANCE-1] delta


def _set_aside(values: Sequence[float], rule: RuleInput) -> tuple[int, ...]:
    """At most one high control spot, by Grubbs' one-sided test, if it also stands out by more than r and three remain."""
    n = len(values)
    if n < FEWEST_FOR_GRUBBS:
        return ()
    worked = [math.log(value) for value in values] if rule.on_logarithms else list(values)
    highest = max(range(n), key=lambda position: worked[position])
    others = [value for position, value in enumerate(values) if position != highest]
    if values[highest] - sum(others) / len(others) <= rule.repeatability or max(worked) == min(worked):
        return ()
    high = statistics.grubbs_statistic(worked) > _grubbs_critical(n)  # [NIST-1.3.5.17]
    return (highest,) if high else ()


def decide(value: float, repeats: int, controls: Sequence[float], rule: RuleInput, name: str = TOLERANCE_1) -> Decision:
    """Status of one reading [digits] from the medians of the control spots [digits]."""
    prepared = control_set(controls, rule)
    if prepared is None:
        return Decision(CANNOT_SAY, "few controls", Limits(controls=len(controls)))
    return decide_with(prepared, value, repeats, name)


def decide_with(prepared: ControlSet, value: float, repeats: int, name: str = TOLERANCE_1) -> Decision:
    """Status of one reading [digits] against a prepared set of controls."""
    limits = limits_of(prepared, repeats, name)
    if name == PREDICTION_1:
        above = value > prediction_limit(prepared.every, prepared.rule.repeatability)
        return Decision(ABOVE if above else NO_HIGHER, "above" if above else "no higher", limits)
    if prepared.rule.on_logarithms and value <= 0:
        return Decision(CANNOT_SAY, "not positive", limits)
    worked = prepared.working(value)
    above = worked > prepared.above_beyond
    non_inferior = worked + _uncertainty(prepared, repeats) <= prepared.mean + prepared.margin
    if above and non_inferior:
        return Decision(CANNOT_SAY, "both", limits)
    if above:
        return Decision(ABOVE, "above", limits)
    if non_inferior and value <= prepared.prediction:
        return Decision(NO_HIGHER, "no higher", limits)
    return Decision(CANNOT_SAY, "between", limits)


def _uncertainty(prepared: ControlSet, repeats: int) -> float:
    n = len(prepared.values)
    variance = prepared.repeat_spread**2 / max(1, repeats) + prepared.spread**2 / n
    return _student(prepared.degrees) * math.sqrt(variance)  # [TOLERANCE-1] t sqrt(s_r^2/repeats + s_e^2/n)


def limits_of(prepared: ControlSet, repeats: int = 1, name: str = TOLERANCE_1) -> Limits:
    """The figures of the rule in digits, for print and for charts."""
    centre = prepared.digits(prepared.mean)
    if name == PREDICTION_1:
        plain = prediction_limit(prepared.every, prepared.rule.repeatability)
        mean = sum(prepared.every) / len(prepared.every)
        return Limits(plain, plain, plain, mean, None, len(prepared.every), None)
    passes = prepared.digits(prepared.mean + prepared.margin - _uncertainty(prepared, repeats))
    return Limits(
        above_beyond=prepared.digits(prepared.above_beyond),
        no_higher_up_to=min(passes, prepared.prediction),
        prediction=prepared.prediction,
        control_mean=centre,
        control_spread=prepared.spread * centre if prepared.rule.on_logarithms else prepared.spread,
        controls=len(prepared.values),
        margin=prepared.digits(prepared.mean + prepared.margin) - centre,
    )


def mean_is_non_inferior(prepared: ControlSet, values: Sequence[float]) -> bool:
    """Is the mean of an element's spots [digits] no higher than the controls by more than the margin?

    x + t sqrt(s_x^2/m + s_e^2/n) <= m + margin, with s_x the larger of the spots' own spread and s_e.
    """
    if not values or (prepared.rule.on_logarithms and min(values) <= 0):
        return False
    worked = [prepared.working(value) for value in values]
    mean = sum(worked) / len(worked)
    own = math.sqrt(sum((value - mean) ** 2 for value in worked) / (len(worked) - 1)) if len(worked) > 1 else 0.0
    spread = max(own, prepared.spread)
    error = math.sqrt(spread**2 / len(worked) + prepared.spread**2 / len(prepared.values))
    return mean + _student(prepared.degrees) * error <= prepared.mean + prepared.margin
