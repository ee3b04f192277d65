"""What a floor test says: place by place, then the floor, the worst place first and never a mean.

Contents: the statuses; PlaceResult; FloorResult; hold_against; floor_result.

A floor meets its limit only if as many places as planned are valid and each of them meets it. "Meets limit" is said of
a limit, not of the floor's fitness: whoever lays the covering decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from desorb.core.floors.plan import QUANTITIES, FloorPlan
from desorb.core.limits import ACCEPTANCE, UPPER, Limit
from desorb.errors import InputError

MEETS = "meets limit"
DOES_NOT_MEET = "does not meet limit"
NOT_VALID = "test not valid"
INCOMPLETE = "not accepted: incomplete"
HUMIDITY_UNIT = "%RH"
LEAST_HUMIDITY = 1  # %RH; setting of ours: below it a fraction was typed, as in core/wood_in_air.py
LONGEST_READ = 4  # decimals; setting of ours: longer ones were computed, not read


@dataclass(frozen=True, slots=True)
class PlaceResult:
    """One place held against one limit. `above`: the value itself lies past the limit, also where the test is not valid."""

    place: str
    status: str
    value: Decimal | None
    uncertainty: Decimal | None  # either way, unit of the value
    limit: Limit
    above: bool
    reasons: tuple[str, ...]  # why it is not valid, or how it stands to the limit
    warnings: tuple[str, ...] = ()
    next_steps: tuple[str, ...] = ()
    at_survey_place: str = ""


@dataclass(frozen=True, slots=True)
class FloorResult:
    """The whole floor. places: worst first; still_needed: how many valid places are wanting."""

    status: str
    words: str
    limit: str
    places: tuple[PlaceResult, ...]
    still_needed: int
    above: tuple[str, ...]
    next_steps: tuple[str, ...]


def hold_against(
    place: str,
    value: Decimal | None,
    uncertainty: Decimal | None,
    limit: Limit,
    quantity: str,
    faults: Sequence[tuple[str, str]],
    warnings: Sequence[str] = (),
    at_survey_place: str = "",
    unit: str = HUMIDITY_UNIT,
) -> PlaceResult:
    """One place against its limit. faults: (why the test is not valid, what to do), empty for a valid test.

    Meets only if value + uncertainty keeps within the limit, unrounded; both in the unit of the limit. Raises
    InputError for a limit without a source, of another quantity, unit or use, or that is no upper limit.
    """
    check_limit(limit, quantity, unit)
    faults = list(faults)
    if unit == HUMIDITY_UNIT and value is not None and value.is_finite() and not LEAST_HUMIDITY <= value <= 100:
        faults.append((f"{value} %RH is no humidity of a floor", "read it again; a fraction of 1 is given in %"))
    if value is None or not value.is_finite() or value < 0:
        faults.append(("No value was read", "read the place"))
        value = None
    if uncertainty is None or not uncertainty.is_finite() or uncertainty <= 0:
        faults.append(
            ("The uncertainty of the instrument is not stated", "state the uncertainty, from certificate or data sheet")
        )
        uncertainty = None
    above = value is not None and not _within(value, limit)
    warned = list(warnings)
    if faults or value is None or uncertainty is None:
        if value is not None and above:
            warned.append(
                f"{_shown(value)} {limit.unit} is above the limit of {limit.value}: a warning to follow up, however it was read"
            )
        reasons, steps = tuple(why for why, _ in faults), tuple(dict.fromkeys(step for _, step in faults))
        return PlaceResult(
            place, NOT_VALID, value, uncertainty, limit, above, reasons, tuple(warned), steps, at_survey_place
        )
    status, steps = DOES_NOT_MEET, ("let it dry on, then test this place again",)
    held = (
        f"{_shown(value)} with {_shown(uncertainty)} either way against {limit.comparison} {limit.value} {limit.unit}"
    )
    if _within(value + uncertainty, limit):
        status, steps, reason = MEETS, (), f"Clearly within: {held}"
    elif above:
        reason = f"Above the limit: {held}"
    else:
        reason = f"Not clearly below {limit.value}: {held}; does not meet it yet"
    return PlaceResult(
        place, status, value, uncertainty, limit, above, (reason,), tuple(warned), steps, at_survey_place
    )


def floor_result(plan: FloorPlan, results: Sequence[PlaceResult], without: Sequence[str] = ()) -> FloorResult:
    """The floor from its places. without: places that were prepared and have no result, so that none is left out.

    Raises InputError if a place stands twice, limits are mixed, or the plan is of another method.
    """
    names = [result.place for result in results]
    if len(set(names)) < len(names):
        twice = sorted({name for name in names if names.count(name) > 1})
        raise InputError(
            "A place stands twice in the floor test", got=", ".join(twice), next_step="give its latest result"
        )
    if len({result.limit for result in results}) > 1:
        raise InputError(
            "The places were held against different limits",
            got=" and ".join(sorted({_named(result.limit) for result in results})),
            wanted="one limit for one floor and covering",
            next_step="assess parts with different coverings as floors of their own",
        )
    if results and results[0].limit.quantity != QUANTITIES[plan.method]:
        raise InputError(
            "The results are not of the method that was planned",
            got=results[0].limit.quantity,
            wanted=QUANTITIES[plan.method],
            next_step="plan the test by the method that was used",
        )
    valid = [result for result in results if result.status != NOT_VALID]
    above = tuple(result.place for result in _worst_first(results) if result.above)
    needed = max(0, plan.places - len(valid))
    gaps, steps = [], []
    if needed:
        gaps.append(f"{len(valid)} valid of {plan.places} places, {needed} still needed")
    if (missing := plan.places - len(results) - len(without)) > 0:
        steps.append(f"add {missing} more {'place' if missing == 1 else 'places'}")
    not_valid = [result.place for result in results if result.status == NOT_VALID]
    if not_valid:
        gaps.append(f"test not valid at {', '.join(not_valid)}")
    if without:
        gaps.append(f"no result yet at {', '.join(without)}")
    if plan.survey_places and not any(result.at_survey_place in plan.survey_places for result in results):
        gaps.append(f"no place at the highest survey reading ({', '.join(plan.survey_places)})")
        steps.append(f"test at {plan.survey_places[0]}")
    together: dict[str, list[str]] = {}  # places that ask for the same, worst first
    for result in _worst_first(results):
        if result.next_steps:
            together.setdefault("; ".join(result.next_steps), []).append(result.place)
    steps += [f"{', '.join(places)}: {asked}" for asked, places in together.items()]
    failing = [result.place for result in _worst_first(valid) if result.status == DOES_NOT_MEET]
    if gaps:
        status, words = INCOMPLETE, f"Not accepted: incomplete ({'; '.join(gaps)})"
    elif failing:
        status, words = DOES_NOT_MEET, "Does not meet the limit"
    else:
        status, words = MEETS, f"All {len(valid)} places are valid and each meets the limit"
    if above:
        words += f"; above the limit: {', '.join(above)}"
    unclear = [place for place in failing if place not in above]
    if unclear:
        words += f"; not clearly below it: {', '.join(unclear)}"
    named = _named(results[0].limit) if results else ""
    return FloorResult(status, f"{words}.", named, _worst_first(results), needed, above, tuple(steps))


def check_limit(limit: Limit, quantity: str, unit: str) -> None:
    """Raises InputError unless the limit has a source, is of this quantity and unit, accepts, and is an upper limit."""
    if not limit.standard.strip():
        raise InputError(
            "A limit without a source cannot be used to accept a floor",
            got=f"{limit.comparison} {limit.value} {limit.unit}",
            wanted="the standard, or the sheet of the maker and its date",
            next_step="name where the limit was read",
        )
    if limit.quantity != quantity:
        raise InputError(
            "The limit belongs to another quantity, and none is converted into another",
            got=limit.quantity,
            wanted=quantity,
            next_step="find the limit of the maker for the method that was used",
        )
    if limit.unit != unit:
        raise InputError(
            "The limit is in another unit than the test",
            got=limit.unit,
            wanted=unit,
            next_step="take the limit in the unit of the test from the same source",
        )
    if limit.use != ACCEPTANCE:
        raise InputError(
            "The limit is not one that accepts a floor",
            got=f"use: {limit.use}",
            wanted=ACCEPTANCE,
            next_step="find the limit in the sheet of the covering or adhesive",
        )
    if limit.comparison not in UPPER:
        raise InputError(
            "A floor is held against an upper limit",
            got=limit.comparison,
            wanted="<= or <",
            next_step="check the limit",
        )


def _within(value: Decimal, limit: Limit) -> bool:
    return value < limit.value if limit.comparison == "<" else value <= limit.value


def _shown(value: Decimal) -> str:
    """A value as read; a computed one, with its long tail, to two decimals (setting of ours). Compared unrounded."""
    exponent = value.as_tuple().exponent
    return f"{value:.2f}" if isinstance(exponent, int) and exponent < -LONGEST_READ else str(value)


def _worst_first(results: Sequence[PlaceResult]) -> tuple[PlaceResult, ...]:
    return tuple(sorted(results, key=lambda result: (result.value is None, -(result.value or 0))))


def _named(limit: Limit) -> str:
    edition = f" {limit.edition}" if limit.edition else ""
    return f"{limit.quantity} {limit.comparison} {limit.value} {limit.unit} ({limit.standard}{edition}, {limit.read})"
