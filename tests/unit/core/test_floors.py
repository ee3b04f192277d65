"""Floor tests: what makes one valid, how it is held against a limit, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from desorb.core.floors import (
    BOX_QUANTITY,
    EMISSION_QUANTITY,
    HOLE_QUANTITY,
    BoxReading,
    BoxTest,
    EmissionReading,
    HoleReading,
    SurveyReading,
    assess_box,
    assess_emission,
    assess_hole,
    floor_result,
    plan_floor_test,
    planned_drying_time,
    room_air_at_the_floor,
)
from desorb.core.floors.plan import highest_survey_places, waiting_hours
from desorb.core.limits import Limit
from desorb.errors import InputError, OutOfRange

HOLES = plan_floor_test(method="hole", area=90, thickness=100, drying_faces=1, edition=2018)
SLEEVES = plan_floor_test(method="sleeve", area=90, thickness=100, drying_faces=1)
BOXES = plan_floor_test(method="box", area=90, thickness=100, drying_faces=1)
DISHES = plan_floor_test(method="dish", area=1001, area_unit="ft2", thickness=100, drying_faces=1)
FLOATED = plan_floor_test(method="box", area=90, thickness=100, drying_faces=1, power_floated=True)


def limit(quantity: str, value: str = "75", unit: str = "%RH", **others: Any) -> Limit:
    return Limit("a", quantity, others.pop("comparison", "<="), Decimal(value), unit, others.pop("standard", "sheet"))


GOOD_HOLE = HoleReading("hole 1", Decimal(73), Decimal(2), 40, 20, 20, 24, 48, 30, Decimal(1))
GOOD_BOX = BoxTest(
    "box 1",
    (BoxReading(72, Decimal("73.0")), BoxReading(96, Decimal("72.0"))),
    Decimal(2),
    sealed=True,
    underfloor_heating_on=False,
    drying_on=False,
    heating_off_hours=96,
    probe_minutes=30,
    days_since_probe_check=30,
)
GOOD_DISH = EmissionReading(
    "dish 1", Decimal("1.3"), Decimal("0.4"), Decimal(66), "concrete", False, 24, 48, Decimal("0.1")
)
OF_HOLES, OF_BOXES = limit(HOLE_QUANTITY), limit(BOX_QUANTITY)
OF_DISHES = limit(EMISSION_QUANTITY, "3", "lb/1000ft2/24h")


def test_waiting_time_by_edition() -> None:
    """Which wait holds under the edition in my contract?"""
    assert [waiting_hours("hole", year) for year in (2009, 2016, 2017, 2018, 2019)] == [72, 72, 72, 24, 24]
    assert (waiting_hours("sleeve"), waiting_hours("box"), waiting_hours("box", power_floated=True)) == (72, 72, 168)
    with pytest.raises(InputError, match="edition of F2170"):
        waiting_hours("hole")


def test_plan_of_sleeve_and_box_say_what_is_ours() -> None:
    """Which part of the plan does the standard say, and which was put in by the program?"""
    assert SLEEVES.heating_off_hours == BOXES.heating_off_hours == 96
    assert (SLEEVES.depth, BOXES.depth, SLEEVES.service_hours) == (40, None, None)
    assert sum("setting of ours" in words for words in SLEEVES.sentences) == 2
    assert sum("setting of ours" in words for words in BOXES.sentences) == 1
    assert "168 hours" in " ".join(FLOATED.sentences)
    heated = plan_floor_test(method="hole", area=90, thickness=65, drying_faces=1, edition=2019, heated=True)
    assert "marked measuring points" in heated.sentences[-1]


@pytest.mark.parametrize(
    "change",
    [
        {"method": "hood"},
        {"area": 0.0},
        {"area": float("nan")},
        {"area_unit": "yd2"},
        {"thickness": -1.0},
        {"thickness": 6.5},  # cm: the holes would be drilled 2.6 mm deep
        {"thickness": 17500.0},
        {"area": 1e7},
        {"drying_faces": 3},
        {"edition": None},
    ],
)
def test_plan_refuses_what_it_cannot_use(change: dict[str, Any]) -> None:
    """I typed nonsense: say so."""
    given: dict[str, Any] = {"method": "hole", "area": 90.0, "thickness": 100.0, "drying_faces": 1, "edition": 2019}
    with pytest.raises(InputError):
        plan_floor_test(**(given | change))


def test_highest_places_of_a_survey() -> None:
    """Two places share the highest reading; two scales have none in common."""
    survey = [SurveyReading(place, Decimal(value), "comparative", "meter 1") for place, value in ("a1", "b3", "c3")]
    assert highest_survey_places(survey) == ("b", "c")
    assert highest_survey_places([]) == ()
    with pytest.raises(InputError, match="different scales"):
        highest_survey_places([*survey, replace(survey[0], scale="carbide")])


def test_hole_just_valid_and_just_within() -> None:
    """73 with 2 either way against 75: exactly at the limit still meets 'at most', not 'below'."""
    assert assess_hole(GOOD_HOLE, HOLES, OF_HOLES).status == "meets limit"
    assert assess_hole(GOOD_HOLE, HOLES, limit(HOLE_QUANTITY, comparison="<")).status == "does not meet limit"
    assert assess_hole(replace(GOOD_HOLE, relative_humidity=Decimal("73.01")), HOLES, OF_HOLES).status != "meets limit"
    over = assess_hole(replace(GOOD_HOLE, relative_humidity=Decimal(76)), HOLES, OF_HOLES)
    assert over.above
    assert "Above the limit" in over.reasons[0]


@pytest.mark.parametrize(
    "change",
    [
        {"depth": 35.9},
        {"depth": 44.1},
        {"depth": None},
        {"temperature": 17.9},
        {"temperature": 22.1},
        {"temperature": None},
        {"service_temperature": None},
        {"hours_waited": 23.9},
        {"hours_waited": None},
        {"hours_at_service": 47.0},
        {"hours_at_service": None},
        {"days_since_probe_check": 30.5},
        {"days_since_probe_check": -1.0},
        {"days_since_probe_check": None},
        {"drift": Decimal("1.1")},
        {"drift": Decimal("-1.1")},
        {"drift": None},
        {"lined": None},
        {"relative_humidity": None},
        {"relative_humidity": Decimal("NaN")},
        {"probe_uncertainty": None},
        {"probe_uncertainty": Decimal(0)},
        {"quantity": "comparative"},
        {"drying_on": True},
    ],
)
def test_hole_that_is_not_valid(change: dict[str, Any]) -> None:
    """One thing was not done or not written down: this hole counts for nothing, and I am told what to do."""
    result = assess_hole(replace(GOOD_HOLE, **change), HOLES, OF_HOLES)
    assert result.status == "test not valid"
    assert len(result.reasons) == len(result.next_steps) == 1


def test_sleeve_asks_for_heating_off() -> None:
    """The sleeve has its own wait and wants the heating off."""
    assert len(assess_hole(GOOD_HOLE, SLEEVES, OF_HOLES).reasons) == 2
    ready = replace(GOOD_HOLE, hours_waited=72, heating_off_hours=96, hours_at_service=None)
    assert assess_hole(ready, SLEEVES, OF_HOLES).status == "meets limit"


def test_what_runs_at_the_reading_counts_as_the_method_asks() -> None:
    """A sleeve wants heating and drying off at the reading too; a hole takes heating as in use, and says so."""
    ready = replace(GOOD_HOLE, hours_waited=72, heating_off_hours=96, hours_at_service=None)
    for part in ("heating_on", "drying_on"):
        result = assess_hole(replace(ready, **{part: True}), SLEEVES, OF_HOLES)
        assert result.status == "test not valid"
        assert "off for 96 hours" in result.next_steps[0]
    heated = assess_hole(replace(GOOD_HOLE, heating_on=True), HOLES, OF_HOLES)
    assert heated.status == "meets limit"
    assert any("as it will in use" in words for words in heated.warnings)


def test_limits_that_cannot_be_used() -> None:
    """A limit from nowhere, of another quantity or from below accepts nothing."""
    for wrong, words in (
        (limit(HOLE_QUANTITY, standard=" "), "without a source"),
        (OF_BOXES, "another quantity"),
        (limit(HOLE_QUANTITY, comparison=">="), "upper limit"),
        (limit(HOLE_QUANTITY, unit="%"), "another unit"),
        (replace(OF_HOLES, use="planning only"), "not one that accepts"),
    ):
        with pytest.raises(InputError, match=words):
            assess_hole(GOOD_HOLE, HOLES, wrong)
    with pytest.raises(InputError, match="not for holes"):
        assess_hole(GOOD_HOLE, BOXES, OF_HOLES)
    with pytest.raises(InputError, match="not for a box"):
        assess_box(GOOD_BOX, HOLES, OF_BOXES)


def test_box_takes_the_higher_of_two_equal_readings() -> None:
    """73.0 then 72.0, a day apart: the higher counts."""
    result = assess_box(GOOD_BOX, BOXES, OF_BOXES)
    assert (result.status, result.value) == ("meets limit", Decimal("73.0"))
    assert assess_box(GOOD_BOX, BOXES, OF_BOXES, equal_within=Decimal("0.5")).status == "test not valid"
    assert assess_box(GOOD_BOX, FLOATED, OF_BOXES).status == "test not valid"  # 72 h are too short there
    between = (*GOOD_BOX.readings[:1], BoxReading(84, Decimal(78)), GOOD_BOX.readings[1])
    hidden = assess_box(replace(GOOD_BOX, readings=between), BOXES, OF_BOXES)
    assert hidden.status == "test not valid"
    assert hidden.above
    with pytest.raises(InputError, match="order of time"):
        assess_box(replace(GOOD_BOX, readings=GOOD_BOX.readings[::-1]), BOXES, OF_BOXES)
    with pytest.raises(InputError, match="must be positive"):
        assess_box(GOOD_BOX, BOXES, OF_BOXES, equal_within=Decimal(0))


@pytest.mark.parametrize(
    "change",
    [
        {"readings": ()},
        {"readings": (BoxReading(71, Decimal(70)), BoxReading(95, Decimal(70)))},
        {"readings": (BoxReading(72, Decimal(70)), BoxReading(95, Decimal(70)))},
        {"sealed": None},
        {"underfloor_heating_on": None},
        {"drying_on": True},
        {"drying_on": None},
        {"heating_off_hours": 95.0},
        {"heating_off_hours": None},
        {"probe_minutes": 29.0},
        {"days_since_probe_check": 31.0},
        {"probe_uncertainty": None},
    ],
)
def test_box_that_is_not_valid(change: dict[str, Any]) -> None:
    """The box was read too early, unsealed, or with something on."""
    assert assess_box(replace(GOOD_BOX, **change), BOXES, OF_BOXES).status == "test not valid"


def test_room_air_at_a_colder_floor() -> None:
    """Air of 20 degC and 71 %, floor at 18: 80 % (task 47 of the project); at 20: 71."""
    assert room_air_at_the_floor(20, 71, 18) == pytest.approx(80.4, abs=0.2)
    assert room_air_at_the_floor(20, 71, 20) == pytest.approx(71)


def test_dish_against_its_limit() -> None:
    """1.3 g with a balance of 0.1 g: 2.61 with 0.20 either way keeps within 3; 1.5 g does not."""
    assert assess_emission(GOOD_DISH, OF_DISHES).status == "meets limit"
    assert assess_emission(replace(GOOD_DISH, mass_gain=Decimal("1.5")), OF_DISHES).status == "does not meet limit"
    assert "2.61 with 0.20 either way" in assess_emission(GOOD_DISH, OF_DISHES).reasons[0]
    with pytest.raises(InputError, match="gains weight"):
        assess_emission(replace(GOOD_DISH, mass_gain=Decimal(-1)), OF_DISHES)
    with pytest.raises(InputError, match="dish area"):
        assess_emission(replace(GOOD_DISH, dish_area=Decimal(0)), OF_DISHES)


@pytest.mark.parametrize(
    "change",
    [
        {"material": "gypsum screed"},
        {"material": "Lightweight concrete"},
        {"material": ""},
        {"coated_or_patched": True},
        {"coated_or_patched": None},
        {"exposure_hours": Decimal(59)},
        {"exposure_hours": Decimal(73)},
        {"open_hours": None},
        {"condition_hours": 47.0},
        {"balance_step": Decimal("0.2")},
        {"balance_step": None},
        {"mass_gain": None},
    ],
)
def test_dish_that_is_not_valid(change: dict[str, Any]) -> None:
    """The method is not for this base, or was not followed."""
    assert assess_emission(replace(GOOD_DISH, **change), OF_DISHES).status == "test not valid"


def test_floor_refuses_doubles_and_mixed_limits() -> None:
    """One place twice, or two limits, make no floor."""
    one = assess_hole(GOOD_HOLE, HOLES, OF_HOLES)
    with pytest.raises(InputError, match="twice"):
        floor_result(HOLES, [one, one])
    other = assess_hole(replace(GOOD_HOLE, place="hole 2"), HOLES, limit(HOLE_QUANTITY, "85"))
    with pytest.raises(InputError, match="different limits"):
        floor_result(HOLES, [one, other])
    with pytest.raises(InputError, match="not of the method"):
        floor_result(BOXES, [one])


def test_floor_of_dishes() -> None:
    """Four dishes on 1001 ft2: planned, weighed, and each within 3."""
    assert (DISHES.places, DISHES.service_hours, DISHES.probe_check_days, DISHES.depth) == (4, 48, None, None)
    assert "60 to 72 hours" in " ".join(DISHES.sentences)
    four = [assess_emission(replace(GOOD_DISH, place=f"dish {n}"), OF_DISHES) for n in (1, 2, 3, 4)]
    assert floor_result(DISHES, four).status == "meets limit"
    assert floor_result(DISHES, four[:3]).status == "not accepted: incomplete"
    with pytest.raises(InputError, match="not for holes"):
        assess_hole(GOOD_HOLE, DISHES, OF_HOLES)


def test_an_extra_place_that_is_not_valid_keeps_the_floor_open() -> None:
    """Three good holes of three, and a fourth that reads high but is not valid: it cannot be left aside."""
    good = [assess_hole(replace(GOOD_HOLE, place=f"hole {n}"), HOLES, OF_HOLES) for n in (1, 2, 3)]
    assert floor_result(HOLES, good).status == "meets limit"
    high = replace(GOOD_HOLE, place="hole 4", relative_humidity=Decimal(88), depth=60)
    result = floor_result(HOLES, [*good, assess_hole(high, HOLES, OF_HOLES)])
    assert result.status == "not accepted: incomplete"
    assert result.places[0].place == "hole 4"


def test_drying_time_is_for_planning_only() -> None:
    """How long will 65 mm take? Nobody says; 100 mm from two faces are 50 each."""
    assert planned_drying_time(100, drying_faces=2).days == 50
    assert planned_drying_time(65, own_days_per_mm=2).days == 80
    assert "planning only" in planned_drying_time(30).words
    with pytest.raises(OutOfRange, match="no source says how much"):
        planned_drying_time(50.1)
    for wrong in ({"own_days_per_mm": 0.5}, {"drying_faces": 0}, {"own_days_per_mm": float("nan")}):
        with pytest.raises(InputError):
            planned_drying_time(65, **wrong)
