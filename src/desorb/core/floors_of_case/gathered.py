"""Each floor test of a case with its plan, the limit that was copied into the case, its places and its result.

Contents: FloorTestOfCase; floor_tests_of_case; limit_of. A row that cannot be used is named and stops only itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.floors.carbide import CARBIDE_UNIT
from desorb.core.floors.emission import EMISSION_UNIT
from desorb.core.floors.outcome import HUMIDITY_UNIT, FloorResult, check_limit, floor_result
from desorb.core.floors.plan import CARBIDE, DISH, QUANTITIES, SAMPLED, FloorPlan, SurveyReading, plan_floor_test
from desorb.core.floors_of_case.places import PlaceOfCase, places_of_test
from desorb.core.kinds import FloorTest, LimitTaken
from desorb.core.limits import Limit
from desorb.core.written import needed, whole
from desorb.errors import DesorbError, InputError, sentence

NO_LIMIT = "no limit taken"
CANNOT_BE_USED = "cannot be used"
UNITS = {DISH: EMISSION_UNIT, CARBIDE: CARBIDE_UNIT}


@dataclass(frozen=True, slots=True)
class FloorTestOfCase:
    """One floor test. plan is None where its figures give none; result where there is no plan or no limit to hold against."""

    test: Entered[FloorTest]
    plan: FloorPlan | None
    taken: Entered[LimitTaken] | None
    limit: Limit | None
    places: tuple[PlaceOfCase, ...]
    result: FloorResult | None
    status: str
    words: str
    notes: tuple[str, ...]
    next_steps: tuple[str, ...]


def floor_tests_of_case(case: Case) -> tuple[FloorTestOfCase, ...]:
    """Every floor test of the case as it was last described, in the order in which they were first described."""
    return tuple(_gathered(case, entered) for entered in latest_by_id(case.floor_tests).values())


def limit_of(taken: LimitTaken) -> Limit:
    """The limit as it was copied into the case. Raises DesorbError for a value that is no number."""
    return Limit(
        key=taken.key, quantity=taken.quantity, comparison=taken.comparison, value=needed(taken.value, "value of the limit"),
        unit=taken.unit, standard=taken.standard, edition=taken.edition, clause=taken.clause, region=taken.region,
        material=taken.material, heated=taken.heated, covering=taken.covering, read=taken.read, confidence=taken.confidence,
        condition=taken.condition, note=taken.note, superseded=taken.superseded == "yes", disputed=taken.disputed,
    )  # fmt: skip


def plan_of(test: FloorTest) -> FloorPlan:
    """The plan from the figures of the record. Raises DesorbError for figures that give none."""
    return plan_floor_test(
        method=test.method,
        area=float(needed(test.area, "area")),
        thickness=float(needed(test.thickness, "thickness")),
        drying_faces=whole(test.drying_faces, "number of drying faces"),
        edition=whole(test.edition, "edition") if test.edition else None,
        power_floated=test.power_floated == "yes",
        heated=test.heated == "yes",
        survey=[
            SurveyReading(each.place, needed(each.value, "survey reading"), each.scale, each.instrument)
            for each in test.survey
        ],
    )


def _gathered(case: Case, entered: Entered[FloorTest]) -> FloorTestOfCase:
    test = entered.record
    of_test = [each for each in case.limits_taken if each.record.test == test.id]
    taken = of_test[-1] if of_test else None
    try:
        plan = plan_of(test)
    except DesorbError as problem:
        words, steps = _said(problem)
        return FloorTestOfCase(entered, None, taken, None, (), None, CANNOT_BE_USED, f"The test {words}", (), steps)
    limit, status = None, NO_LIMIT
    words = (
        f"No limit is taken for this test, so nothing of it meets or exceeds one ({plan.places} places are asked for)."
    )
    steps = ("take the limit of the covering or adhesive for this test, with its edition and source",)
    if taken is not None:
        try:
            limit = _usable(taken.record, test, plan)
        except DesorbError as problem:
            status = CANNOT_BE_USED
            words, steps = _said(problem)
            words = f"The limit {words}"
    places = places_of_test(case, test, plan, limit)
    result = None
    if limit is not None:
        results = [place.result for place in places if place.result is not None]
        without = [place.place for place in places if place.result is None]
        result = floor_result(plan, results, without)
        status, words, steps = result.status, result.words, result.next_steps
    steps = (*_open_steps(places), *steps)
    return FloorTestOfCase(
        entered, plan, taken, limit, places, result, status, words, _notes(case, test, plan, places), steps
    )


def _said(problem: DesorbError) -> tuple[str, tuple[str, ...]]:
    step = problem.next_step or "strike the entry and write it again with its figures"
    return f"{CANNOT_BE_USED}: {sentence(problem)}.", (step,)


def _usable(taken: LimitTaken, test: FloorTest, plan: FloorPlan) -> Limit:
    """The copied limit, if it is one for this method and for the floor as it is described now."""
    limit = limit_of(taken)
    check_limit(limit, QUANTITIES[plan.method], UNITS.get(plan.method, HUMIDITY_UNIT))
    if not limit.value > Decimal(0):
        raise InputError("A limit of 0 or less accepts nothing", got=str(limit.value), next_step="take the limit again")
    scopes = (
        ("base", limit.material, test.material, limit.material == test.material),
        ("heating", limit.heated, test.heated, limit.heated == test.heated),
        ("covering", limit.covering, test.covering, limit.covering == test.covering),
        ("country", limit.region, test.region, not test.region or test.region in limit.region.split("/")),
    )
    for name, of_limit, of_test, same in scopes:
        if of_limit and not same:
            raise InputError(
                f"The limit {limit.key} was taken for another {name} than the test has now",
                got=of_limit,
                wanted=of_test or f"a limit for any {name}, since none is stated",
                next_step="take the limit again for the floor as it is described now",
            )
    return limit


def _open_steps(places: tuple[PlaceOfCase, ...]) -> tuple[str, ...]:
    steps = []
    for place in places:
        if place.prepared is None:
            steps.append(f"{place.place}: write down when and how it was prepared")
        if not place.attempts:
            steps.append(f"{place.place}: not read yet; {place.waiting}")
        steps += [f"{place.place}: {each.next_step}" for each in place.attempts if each.problem]
    return tuple(dict.fromkeys(steps))


def _notes(case: Case, test: FloorTest, plan: FloorPlan, places: tuple[PlaceOfCase, ...]) -> tuple[str, ...]:
    notes = []
    surveyed = {each.place for each in test.survey}
    for place in places:
        if place.prepared is None and plan.method not in SAMPLED:
            notes.append(f"{place.place} was read, and no entry says when and how it was prepared.")
        elif place.prepared is not None and not place.attempts:
            notes.append(f"{place.place} was prepared and is not read yet: {place.waiting}.")
        named = place.prepared.record.survey_place if place.prepared else ""
        if named and named not in surveyed:
            notes.append(f"{place.place} names {named!r}, a place that the survey of this test does not have.")
        notes += [f"{place.place}, {each.at}, {each.value}: {each.problem}." for each in place.attempts if each.problem]
    if test.heated == "yes":
        notes.append("The floor is heated: whoever signs answers for each place being a marked measuring point.")
    read = {each.record.sample for each in case.carbide_readings} | {each.record.sample for each in case.cup_readings}
    samples = [each.record for each in latest_by_id(case.samples).values() if each.record.test == test.id]
    if plan.method in SAMPLED:
        notes += [f"Sample {each.id} was taken and is not read yet." for each in samples if each.id not in read]
        if any(each.record.test == test.id for each in case.floor_readings):
            notes.append("Readings of holes, boxes or dishes stand under this test; they do not belong to its method.")
    else:
        notes += [f"Sample {each.id} names this test; a sample does not belong to its method." for each in samples]
    return tuple(notes)
