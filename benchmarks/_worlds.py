"""Invented surveys with a known truth, judged by the real rule code.

Contents: ScaleClass and World (what is varied); Row (one combination); Counts (what became of it); run_row.

In every world a place of one construction has a value of its own: centre times exp(spread z) on logarithms, centre plus
spread z in points. A reading is that value plus noise of standard deviation s_r, rounded to the digits of the display.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from desorb.core.kinds import RuleRow
from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER
from desorb.core.rule import (
    PREDICTION_1,
    REPEATABILITY_FACTOR,
    TOLERANCE_1,
    UNDECIDED_SHARE,
    ControlSet,
    RuleInput,
    control_set,
    decide_with,
    limits_of,
    mean_is_non_inferior,
)
from desorb.tables.defaults import default_records

Figures = NDArray[np.float64]
SPOTS_OF_EACH_TRUTH = 20
ELEMENT_SIZES = (6, 20)
CONTROL_NUMBERS = (3, 5, 10)
SPOT_TRUTHS = ("sound", "affected", "at the margin")
ELEMENT_TRUTHS = ("sound", "damp spots", "at the margin")
DAMP_SHARE = 0.10
REPEATS = 3
SIMPLE_RULES = (PREDICTION_1, "mean", "1.25 x mean", "mean + 2 s")


@dataclass(frozen=True, slots=True)
class ScaleClass:
    """A scale as it is read: where sound places stand, what the display shows, how far an affected place is off."""

    words: str
    rule: RuleInput
    centre: float
    decimals: int
    affected: float  # ratio on logarithms, points otherwise

    def at(self, shift: float | Figures, spread: float, z: Figures) -> Figures:
        """True values of places: the centre moved by a ratio or by points, spread by z."""
        if self.rule.on_logarithms:
            return self.centre * shift * np.exp(spread * z)
        return self.centre + shift + spread * z

    @property
    def no_shift(self) -> float:
        return 1.0 if self.rule.on_logarithms else 0.0

    @property
    def margin_shift(self) -> float:
        """Where the rule's own margin lies when the control mean is known exactly."""
        if self.rule.on_logarithms:
            return 1 + max(self.rule.margin, 2 * self.rule.repeatability / self.centre)
        return self.rule.margin


@dataclass(frozen=True, slots=True)
class World:
    """What is true, against what the rule row says."""

    words: str
    spread: float = 1.0  # true spread between sound places over the class spread
    damp_control: float = 0.0  # share of surveys in which one control spot is as damp as an affected place
    stated_repeatability: float = 1.0  # stated r over the r of the row (the true one unless noise is changed)
    noise: float = 1.0  # true s_r over the s_r of the row


WORLDS = (
    World("class spread right"),
    World("class spread half the true one", spread=2.0),
    World("class spread double the true one", spread=0.5),
    World("true spread 0.8 of the class spread", spread=0.8),
    World("one damp control spot in 30 % of surveys", damp_control=0.3),
    World("r stated 2.8 times too small (s_r written for r)", stated_repeatability=1 / REPEATABILITY_FACTOR),
    World("instrument 2.8 times noisier than its row says", noise=2.8),
)


def scale_classes() -> tuple[ScaleClass, ...]:
    """The scales of the study, with the rule rows that a new case starts with."""
    rows = {row.scale_class: row for row in default_records() if isinstance(row, RuleRow)}

    def rule(name: str) -> RuleInput:
        row = rows[name]
        return RuleInput(row.on_logarithms, float(row.class_spread), float(row.margin), float(row.repeatability))

    return (
        ScaleClass("comparative, about 20", rule("comparative"), 20, 0, 1.5),
        ScaleClass("comparative, about 8", rule("comparative"), 8, 0, 1.5),
        ScaleClass("wood pins, about 14 %", rule("wood pins"), 14, 1, 3),
        ScaleClass("gravimetric, about 1.65 %, shown to 0.1", rule("gravimetric"), 1.65, 1, 3),
        ScaleClass("gravimetric, about 1.65 %, shown to 0.01", rule("gravimetric"), 1.65, 2, 3),
    )


@dataclass(frozen=True, slots=True)
class Row:
    scale: ScaleClass
    world: World
    controls: int


@dataclass(slots=True)
class Counts:
    """Share of spots (or 0/1 for an element) with a status, one figure for each survey."""

    surveys: int
    shares: dict[tuple[str, ...], Figures] = field(default_factory=dict)

    def put(self, survey: int, share: float, *key: str) -> None:
        if key not in self.shares:
            self.shares[key] = np.zeros(self.surveys)
        self.shares[key][survey] = share

    def rate(self, *key: str) -> tuple[float, float]:
        """Mean over the surveys and its standard error. Spots of one survey share their controls: surveys count."""
        share = self.shares[key]
        return float(share.mean()), float(share.std(ddof=1) / math.sqrt(self.surveys))

    def ninetieth(self, *key: str) -> float:
        return float(np.quantile(self.shares[key], 0.9, method="higher"))


@dataclass(frozen=True, slots=True)
class Element:
    """Readings of one element, and what three repeats at each spot would show."""

    readings: list[float]
    repeats: list[float]  # medians of the three
    squares: list[float]  # sum of squares of the three about their own mean


def element_status(statuses: list[str], prepared: ControlSet, values: list[float]) -> str:
    """The element rule of core/elements.py, without its sentences (benchmarks/control_rule.py compares the two)."""
    if ABOVE in statuses:
        return ABOVE
    if statuses.count(CANNOT_SAY) > UNDECIDED_SHARE * len(statuses):
        return CANNOT_SAY
    return NO_HIGHER if mean_is_non_inferior(prepared, values) else CANNOT_SAY


def judge(prepared: ControlSet) -> Callable[..., str]:
    """tolerance/1 for one set of controls; equal figures are judged once."""
    known: dict[tuple[float, int], str] = {}

    def status(value: float, repeats: int = 1) -> str:
        if (value, repeats) not in known:
            known[value, repeats] = decide_with(prepared, value, repeats).status
        return known[value, repeats]

    return status


def second_stage(
    element: Element, statuses: list[str], prepared: ControlSet, controls: list[float]
) -> tuple[list[str], ControlSet, list[float]]:
    """Undecided spots are read again, three repeats each; the spread of the repeats counts where it is the wider one."""
    again = [place for place, status in enumerate(statuses) if status == CANNOT_SAY]
    degrees = len(again) * (REPEATS - 1)
    if degrees >= 4:  # as core/assess.py: fewer say nothing of the spread
        measured = math.sqrt(sum(element.squares[place] for place in again) / degrees)
        if measured > prepared.rule.repeatability / REPEATABILITY_FACTOR:
            wider = control_set(controls, replace(prepared.rule, repeat_spread=measured))
            assert wider is not None
            prepared = wider
    status = judge(prepared)
    values = [element.repeats[k] if k in again else element.readings[k] for k in range(len(statuses))]
    return [status(value, REPEATS if k in again else 1) for k, value in enumerate(values)], prepared, values


def run_row(row: Row, surveys: int, seed: np.random.SeedSequence, sample: list[tuple[object, ...]]) -> Counts:
    """Simulate the surveys of one row. A few elements go into `sample`, to be judged once more by core/elements.py."""
    scale, world, draw = row.scale, row.world, np.random.default_rng(seed)
    rule = replace(scale.rule, repeatability=scale.rule.repeatability * world.stated_repeatability)
    spread = scale.rule.class_spread * world.spread
    noise = scale.rule.repeatability / REPEATABILITY_FACTOR * world.noise
    margin = replace(scale, rule=rule).margin_shift

    def read(true: Figures) -> Figures:
        shown = np.round(true + noise * draw.standard_normal(true.shape), scale.decimals)
        return np.maximum(shown, 10.0**-scale.decimals)

    def places(number: int, shift: float | Figures) -> Figures:
        return scale.at(shift, spread, draw.standard_normal((surveys, number)))

    true_controls = places(row.controls, scale.no_shift)
    damp = draw.random(surveys) < world.damp_control
    true_controls[damp, 0] += scale.centre * (scale.affected - 1) if rule.on_logarithms else scale.affected
    controls = read(true_controls)
    spots = {
        "sound": read(places(SPOTS_OF_EACH_TRUTH, scale.no_shift)),
        "affected": read(places(SPOTS_OF_EACH_TRUTH, scale.affected)),
        "at the margin": read(scale.at(margin, 0.0, np.zeros((surveys, SPOTS_OF_EACH_TRUTH)))),  # each exactly there
    }
    elements = {}
    for size in ELEMENT_SIZES:
        is_damp = draw.random((surveys, size)) < DAMP_SHARE
        is_damp[np.arange(surveys), draw.integers(0, size, surveys)] |= ~is_damp.any(axis=1)  # at least one was read
        shifts = {
            "sound": scale.no_shift,
            "damp spots": np.where(is_damp, scale.affected, scale.no_shift),
            "at the margin": margin,
        }
        for truth, shift in shifts.items():
            true = places(size, np.asarray(shift))
            repeats = read(np.repeat(true[..., None], REPEATS, axis=2))
            squares = ((repeats - repeats.mean(axis=2, keepdims=True)) ** 2).sum(axis=2)
            elements[size, truth] = (read(true), np.median(repeats, axis=2), squares)
    counts = Counts(surveys)
    for survey in range(surveys):
        own = controls[survey].tolist()
        prepared = control_set(own, rule)
        assert prepared is not None
        rules = _rules(prepared, own)
        for truth, readings in spots.items():
            _count_spots(counts, survey, truth, readings[survey].tolist(), rules)
        for (size, truth), arrays in elements.items():
            element = Element(*(array[survey].tolist() for array in arrays))
            kept = sample if survey % 200 == 0 else None
            _count_element(counts, survey, (f"{size}", truth), element, prepared, own, rules, kept)
    return counts


def _rules(prepared: ControlSet, controls: list[float]) -> dict[str, Callable[[float], str]]:
    """tolerance/1 and the simple rules, each from a reading to a status. The simple ones know no 'cannot say'."""
    mean = sum(controls) / len(controls)
    spread = math.sqrt(sum((value - mean) ** 2 for value in controls) / (len(controls) - 1))
    limits = {"mean": mean, "1.25 x mean": 1.25 * mean, "mean + 2 s": mean + 2 * spread}

    def beyond(limit: float) -> Callable[[float], str]:
        return lambda value: ABOVE if value > limit else NO_HIGHER

    limits[PREDICTION_1] = limits_of(prepared, 1, PREDICTION_1).above_beyond or 0.0  # computed once: it is slow
    return {TOLERANCE_1: judge(prepared)} | {name: beyond(limit) for name, limit in limits.items()}


def _count_spots(
    counts: Counts, survey: int, truth: str, readings: list[float], rules: dict[str, Callable[[float], str]]
) -> None:
    for name, rule in rules.items():
        statuses = [rule(value) for value in readings]
        for status in (ABOVE, NO_HIGHER):
            counts.put(survey, statuses.count(status) / len(statuses), name, truth, status)


def _count_element(
    counts: Counts, survey: int, place: tuple[str, str], element: Element, prepared: ControlSet,
    controls: list[float], rules: dict[str, Callable[[float], str]], sample: list[tuple[object, ...]] | None,
) -> None:  # fmt: skip
    first = [rules[TOLERANCE_1](value) for value in element.readings]
    stages = {"once": (first, prepared, element.readings)}
    stages["repeated"] = second_stage(element, first, prepared, controls)
    for stage, (statuses, used, values) in stages.items():
        status = element_status(statuses, used, values)
        if sample is not None:
            sample.append((statuses, used, values, status))
        for name in (ABOVE, NO_HIGHER):
            counts.put(survey, float(status == name), stage, *place, name)
    for name in SIMPLE_RULES:
        passes = all(rules[name](value) == NO_HIGHER for value in element.readings)
        counts.put(survey, float(passes), name, *place, NO_HIGHER)
