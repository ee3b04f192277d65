"""Targets of elements: by controls, by the air around timber, by a standard or an agreement; and kit set before any target."""

from __future__ import annotations

import pytest
from case_builder import FieldBook, at

from desorb.core.drying_of_case.targets import NO_TARGET, targets_shown
from desorb.core.kinds import AirReading, Enclosure, Target, UnitChange
from desorb.core.shown import Shown
from desorb.core.wood_in_air import target_in_air


def _book(values: str = "60,55,50") -> FieldBook:
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen", "utility: sound")
    book.controls("utility/floor", "18.0,18.4,17.6,18.2,17.8", scale="fine comparative", day=1)
    book.line("kitchen/floor", values, scale="fine comparative", day=1)
    return book


def _target(basis: str, value: str = "", unit: str = "", day: float = 1, element: str = "floor") -> Target:
    return Target(
        "kitchen", element, basis, "agreed with the owner, invented", at(day, "12:00"), value, unit, "R. Marsh"
    )


def _only(book: FieldBook) -> Shown:
    (shown,) = targets_shown(book.case())
    return shown


def _air(temperature: str, humidity: str, place: str = "kitchen", day: float = 1, kind: str = "affected") -> AirReading:
    return AirReading(f"{place}{day}", place, kind, f"d{day:g}", "h1", temperature, humidity, at(day, "11:00"))


def test_damp_spots_without_a_target_name_the_kit_that_was_set_first() -> None:
    """The target comes before the kit: what was set already is named with its time."""
    book = _book()
    book.write(UnitChange("u1", "heater", "kitchen", "set", at(0, "08:00")))
    shown = _only(book)
    assert (shown.id, shown.status) == ("kitchen/floor", NO_TARGET)
    assert shown.cautions == (f"Set before any target was recorded: u1 (heater, {at(0, '08:00')}).",)
    assert "record the target" in shown.next_steps[0]
    book.write(_target("agreement", "75", "% RH"))
    assert "u1 (heater" in _only(book).cautions[0]


def test_kit_set_after_the_target_or_elsewhere_is_no_caution() -> None:
    book = _book()
    book.write(_target("control"), UnitChange("u1", "heater", "kitchen", "set", at(2)))
    book.write(UnitChange("u2", "heater", "utility", "set", at(0)))
    assert _only(book).cautions == ()


def test_sound_elements_without_a_target_are_left_alone() -> None:
    assert targets_shown(_book("18.0,18.1,17.9").case()) == ()


def test_a_target_by_control_shows_the_limit_of_each_spot_with_its_controls() -> None:
    book = _book()
    book.write(_target("control"))
    shown = _only(book)
    spots = book.assessed().spots
    rows = shown.tables[0].rows
    assert [row[0] for row in rows] == ["kitchen.1", "kitchen.2", "kitchen.3"]
    for row, spot in zip(rows, spots, strict=True):
        assert row[3] == f"{spot.limits.above_beyond:.2f}"  # the meter shows one decimal; a computed limit has one more
        assert row[2] == f"{spot.limits.no_higher_up_to:.2f}"
        assert row[3] in " ".join(spot.reasons)  # the assessment says the same digits
    assert shown.tables[1].rows[0][0] == "kitchen.1, kitchen.2, kitchen.3"
    assert "That is one visit: the course of drying says whether it is complete." in shown.words
    assert "utility.c1 18" in shown.tables[1].rows[0][1]
    assert shown.status == "above control"
    assert shown.next_steps


def test_a_target_by_control_without_any_control_says_why_there_is_no_limit() -> None:
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen")
    book.line("kitchen/floor", "60", day=1)
    book.write(_target("control"), _target("control", element="wall"))
    floor, wall = targets_shown(book.case())
    assert floor.tables[0].rows[0][3] == "no limit"
    assert "No limit for kitchen.1" in floor.words
    assert floor.next_steps
    assert wall.status == "cannot say"
    assert "no spot that was read" in wall.words


@pytest.mark.parametrize(("humidity", "state"), [("85", "not reachable"), ("40", "reachable"), ("70", "cannot say")])
def test_timber_is_held_against_the_last_air_of_its_zone(humidity: str, state: str) -> None:
    """The last visit counts, and outside air does not. The figure of the air that holds it is that of wood_in_air."""
    book = _book()
    book.line("kitchen/floor", "60,55,50", scale="fine comparative", day=2)
    book.write(
        _target("timber in this air", "13", "%"), _air("20", "30"), _air("20", humidity, day=2),
        _air("5", "90", day=2, kind="outside"),
    )  # fmt: skip
    shown = _only(book)
    assert shown.status == state
    reach = target_in_air(13, 20, float(humidity))
    assert reach.words in shown.words
    assert f"Air that would hold it: {reach.needed_humidity:.0f} % RH at 20 degC" in shown.words
    assert shown.next_steps == (reach.next_step,)


def test_the_air_of_an_enclosure_is_the_air_of_its_zones_and_without_air_nothing_is_said() -> None:
    book = _book()
    book.write(_target("timber in this air", "13", "%"), _air("20", "40", place="under the sheet"))
    shown = _only(book)
    assert shown.status == "cannot say"
    assert "no air was read in kitchen" in shown.words
    assert "read air at a place" in shown.next_steps[0]
    book.write(Enclosure("e1", ("kitchen",), "30", at(), inside="under the sheet"))
    assert _only(book).status == "reachable"


@pytest.mark.parametrize(("value", "unit"), [("", "%"), ("13", "% RH"), ("<=13", "%"), ("dry", "%"), ("45", "%")])
def test_a_target_of_timber_that_is_none_is_said(value: str, unit: str) -> None:
    book = _book()
    book.write(_target("timber in this air", value, unit), _air("20", "40"))
    shown = _only(book)
    assert shown.status == "cannot say"
    assert shown.next_steps[0]


def test_a_target_by_standard_stands_as_recorded_and_is_never_converted() -> None:
    book = _book()
    book.write(_target("standard", "2.0", "% by the carbide test"), _target("standard", "75", "% RH"))
    shown = _only(book)
    assert "Target 75 % RH, by standard: agreed with the owner, invented" in shown.words
    assert "not held against readings in another quantity" in shown.words
    assert any("2.0 % by the carbide test" in each for each in shown.notes)
    assert shown.tables == ()
    empty = _book()
    empty.write(_target("agreement"))
    assert _only(empty).status == "cannot say"
    assert "no figure, no unit" in _only(empty).words
