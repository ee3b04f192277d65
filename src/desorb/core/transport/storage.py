"""A closed form of the water a material holds, fitted to its sorption points, with the residuals beside it.

Contents: Term, Storage (the fitted form, its points and residuals); fit_storage; one_parameter_storage; filling_storage.
Form: w = w_f sum share / [1 + (x / scale)^n]^(1 - 1/n) with x = (1 - RH) / RH. Rising with RH whatever the figures, w_f at
saturation, nothing at RH 0. [EN15026] annex A and HAMSTAD 2 use one such term over suction, x = -ln RH: the same near
saturation; we leave it because over suction the dry end never empties. With both exponents one it is the form of [KUENZEL95].
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from scipy.optimize import least_squares, nnls

from desorb.core.transport.properties import KELVIN, Floats
from desorb.errors import InputError, OutOfRange

MOST_TERMS = 3
GOOD_ENOUGH = 0.03  # largest share by which the form may miss a point before another term is tried: a setting of ours
FINEST, COARSEST = 1e-4, 3.0  # of the scale, in x; 1e-4 is 14 kPa, the suction of pores 0.01 mm wide: settings of ours
FLATTEST, STEEPEST = 1.15, 12.0  # of n
CANDIDATES = [(s, n) for s in np.geomspace(FINEST, COARSEST, 23) for n in (1.2, 1.35, 1.5, 1.8, 2.2, 3.0, 5.0, 9.0)]
STEEP_COST = 0.02  # a term twice as steep as n = 2 costs as much as a miss of 1.4 %: a setting of ours
HEAVY = 1e3  # weight that holds the sum of shares at one
FULL_AT = 1e-4  # b - 1 of the storage of what is not hygroscopic: 1 % of the pores at 99 % RH; a setting of ours
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Term:
    share: float
    scale: float  # in x
    n: float

    def of(self, x: Any) -> Any:
        return self.share * _shape(x, self.scale, self.n)


@dataclass(frozen=True, slots=True)
class Storage:
    """w(RH) in kg/m3. `residuals`: (fitted - point) / point, in the order of `points`."""

    capillary: float
    terms: tuple[Term, ...]
    points: tuple[Point, ...] = ()
    residuals: tuple[float, ...] = ()

    def water(self, humidity: Any) -> Any:
        """kg/m3 at RH above 0 and up to 1."""
        return self.water_at_suction(-KELVIN * np.log(np.asarray(humidity, dtype=float)))

    def water_at_suction(self, suction: Any) -> Any:
        """kg/m3 at a suction in Pa; at 0 and below, the capillary water content."""
        x = np.expm1(np.maximum(np.asarray(suction, dtype=float), 0.0) / KELVIN)
        return self.capillary * sum(term.of(x) for term in self.terms)

    def humidity(self, water: Any) -> Any:
        """RH as a fraction at which this much water is held, by a table of the form."""
        suction = np.concatenate([np.geomspace(60.0, 1e-9, 4000), [0.0]]) * KELVIN
        return np.exp(-np.interp(np.asarray(water, dtype=float), self.water_at_suction(suction), suction / KELVIN))

    @property
    def largest_residual(self) -> float:
        return max((abs(residual) for residual in self.residuals), default=0.0)

    def words(self) -> str:
        """The fit in one sentence."""
        if not self.points:
            return f"no sorption points: full pores hold {self.capillary:g} kg/m3, and next to nothing below 99 % RH"
        each = ", ".join(
            f"{100 * h:.4g} %: {w:.4g} ({100 * residual:+.1f} %)"
            for (h, w), residual in zip(self.points, self.residuals, strict=True)
        )
        low, high = self.points[0][0], self.points[-1][0]
        return (
            f"{len(self.terms)} term(s) through {len(self.points)} points in kg/m3 (miss): {each}; {self.capillary:g} at "
            f"saturation. Below {100 * low:.4g} % and from {100 * high:.4g} to 100 % RH the form alone speaks"
        )


def _shape(x: Any, scale: float, n: float) -> Any:
    # Over logarithms: at the driest row of the engine's table the power itself would leave the range of numbers.
    power = n * (np.log(np.maximum(x, 1e-300)) - np.log(scale))
    return np.exp((1.0 / n - 1.0) * np.logaddexp(0.0, power))


def fit_storage(points: Sequence[Point], capillary: float) -> Storage:
    """Fit the form to points (RH as a fraction, kg/m3); relative misses count. Always the same answer for the same points.

    As many terms as the points need (up to three, and no more parameters than points with saturation), the fewest that miss
    by no more than GOOD_ENOUGH; else the best. Steep terms are held back a little, so that no step comes in without a point.
    The residuals say how good that is. Raises where points cannot be sorption.
    """
    given = tuple(sorted((float(h), float(w)) for h, w in points))
    _check(given, capillary)
    x = np.array([(1.0 - h) / h for h, _ in given])
    water = np.array([w for _, w in given])
    best: Storage | None = None
    chosen: list[tuple[float, float]] = []
    for count in range(1, MOST_TERMS + 1):
        if best is not None and 3 * count - 1 > len(given) + 1:  # saturation counts as a point
            break
        chosen = _with_one_more(chosen, x, water, capillary)
        terms = _polished(chosen, x, water, capillary)
        found = _storage(terms, given, capillary)
        if best is None or found.largest_residual < best.largest_residual:
            best = found
        if best.largest_residual <= GOOD_ENOUGH:
            break
        chosen = [(term.scale, term.n) for term in terms]
    assert best is not None
    return best


def _check(points: tuple[Point, ...], capillary: float) -> None:
    if len(points) < 2:
        raise InputError("a storage needs at least two sorption points", got=f"{len(points)}")
    for humidity, held in points:
        if not (0.0 < humidity < 1.0 and 0.0 < held < capillary):
            raise OutOfRange(
                "a sorption point cannot be", got=f"{held:g} kg/m3 at {100 * humidity:g} % RH",
                wanted=f"RH between 0 and 100 %, water between 0 and the capillary {capillary:g} kg/m3",
            )  # fmt: skip
    for early, late in pairwise(points):
        if late[0] == early[0] or late[1] < early[1]:
            raise InputError(
                "sorption points rise with humidity", got=f"{early[1]:g} then {late[1]:g} kg/m3 at {100 * late[0]:g} % RH",
                next_step="leave out the point that is a slip, and say so",
            )  # fmt: skip


def _columns(shapes: Sequence[tuple[float, float]], x: Floats) -> Floats:
    return np.stack([_shape(x, scale, n) for scale, n in shapes], axis=1)


def _with_one_more(
    chosen: list[tuple[float, float]], x: Floats, water: Floats, capillary: float
) -> list[tuple[float, float]]:
    """The candidate that helps most beside those already chosen."""

    def miss(shapes: list[tuple[float, float]]) -> float:
        matrix = np.vstack([_columns(shapes, x) * (capillary / water)[:, None], np.full((1, len(shapes)), HEAVY)])
        return float(nnls(matrix, np.concatenate([np.ones(x.size), [HEAVY]]))[1])

    return [*chosen, min(CANDIDATES, key=lambda candidate: miss([*chosen, candidate]))]


def _polished(shapes: list[tuple[float, float]], x: Floats, water: Floats, capillary: float) -> tuple[Term, ...]:
    """All figures of the form moved together until the relative misses are least."""
    count = len(shapes)
    matrix = np.vstack([_columns(shapes, x) * (capillary / water)[:, None], np.full((1, count), HEAVY)])
    shares = np.maximum(nnls(matrix, np.concatenate([np.ones(x.size), [HEAVY]]))[0], 1e-6)

    def unpacked(figures: Floats) -> tuple[Term, ...]:
        logits = figures[2 * count :]
        weights = np.exp(logits - logits.max())
        weights /= weights.sum()
        return tuple(
            Term(float(weights[i]), float(np.exp(figures[i])), 1.0 + float(np.exp(figures[count + i])))
            for i in range(count)
        )

    def misses(figures: Floats) -> Floats:
        fitted = capillary * sum(term.of(x) for term in unpacked(figures))
        found: Floats = np.concatenate([fitted / water - 1.0, STEEP_COST * np.maximum(figures[count : 2 * count], 0.0)])
        return found

    begin = np.concatenate(
        [np.log([scale for scale, _ in shapes]), np.log([n - 1.0 for _, n in shapes]), np.log(shares / shares.sum())]
    )
    low = np.concatenate([np.full(count, np.log(FINEST)), np.full(count, np.log(FLATTEST - 1)), np.full(count, -25.0)])
    high = np.concatenate([np.full(count, np.log(COARSEST)), np.full(count, np.log(STEEPEST - 1)), np.full(count, 1.0)])
    begin = np.clip(begin, low + 1e-9, high - 1e-9)
    return unpacked(
        least_squares(misses, begin, bounds=(low, high), xtol=1e-10, ftol=1e-10, gtol=1e-10, max_nfev=300).x
    )


def _storage(terms: tuple[Term, ...], points: tuple[Point, ...], capillary: float) -> Storage:
    bare = Storage(capillary, terms, points)
    fitted = bare.water(np.array([h for h, _ in points]))
    return Storage(
        capillary, terms, points, tuple(float(f / w - 1.0) for f, (_, w) in zip(fitted, points, strict=True))
    )


def one_parameter_storage(humidity: float, water: float, capillary: float) -> tuple[float, Any]:
    """b and w(RH) of w = w_f (b - 1) RH / (b - RH) [KUENZEL95], through one point and saturation.

    For comparison: it misses most tables between the point and saturation, which is why it is not used for them.
    """
    _check(((humidity, water), (humidity + (1 - humidity) / 2, water)), capillary)
    b = humidity * (capillary - water) / (humidity * capillary - water)
    if b <= 1.0:
        raise OutOfRange(
            "the form cannot be drawn through this point", got=f"b = {b:g}", wanted="less water at this RH"
        )

    def held(at: Any) -> Any:
        return capillary * (b - 1.0) * np.asarray(at) / (b - np.asarray(at))

    return b, held


def filling_storage(porosity: float) -> Storage:
    """What is not hygroscopic: pores that fill only next to saturation, so that condensed water has a place to stay."""
    return Storage(1000.0 * porosity, (Term(1.0, FULL_AT, 2.0),))
