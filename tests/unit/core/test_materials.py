"""Figures with passports, bounds by family, gaps in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from desorb.core.materials import (
    FAMILIES,
    Figure,
    Material,
    examine,
    lent,
    missing,
    needed_gaps,
    out_of_bounds,
)
from desorb.errors import InputError, NotFound


def figure(value: float, unit: str = "-") -> Figure:
    return Figure(unit, "made up for a test", "ours", value)


def points(*pairs: tuple[float, float], unit: str = "kg/m3") -> Figure:
    return Figure(unit, "made up for a test", "ours", points=pairs, against="RH")


BRICK = Material(
    "brick", "brick", "a test brick", density=figure(1700, "kg/m3"), heat_capacity=figure(850, "J/(kg K)"),
    conductivity=figure(0.7, "W/(m K)"), conductivity_moist=figure(10), sorption=points((0.5, 5.0), (0.8, 10.0)),
    capillary=figure(250, "kg/m3"), vapour_dry=figure(12), absorption=figure(0.2, "kg/(m2 s0.5)"),
)  # fmt: skip


def test_nothing_speaks_against_a_plain_brick() -> None:
    """A brick with believable figures is accepted without remark."""
    assert examine(BRICK) == []


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"density": figure(17.0)}, "density"),
        ({"heat_capacity": figure(0.85)}, "heat capacity of 0.85"),  # kJ for J
        ({"conductivity": figure(0.2)}, "does not go with its density"),  # the gypsum plaster of the record
        ({"absorption": figure(2.7)}, "absorption of 2.7"),  # per h0.5 taken for s0.5
        ({"vapour_dry": figure(0.5)}, "more vapour than still air"),
        ({"vapour_dry": figure(0.0)}, "more vapour than still air"),
        ({"vapour_dry": figure(1200)}, "vapour resistance number"),
        ({"capillary": figure(410)}, "no room in its pores"),
        ({"porosity": figure(0.2)}, "no room in its pores"),
        ({"sorption": points((0.5, 12.0), (0.8, 10.0))}, "sorption falls"),
        ({"sorption": points((0.5, 5.0), (0.8, 300.0))}, "more than its capillary"),
        ({"sorption": points((0.5, 5.0), (1.0, 10.0))}, "cannot be"),
        ({"conductivity_moist": replace(points((200, 0.5)), against="kg/m3")}, "moist, it would conduct"),
        ({"conductivity": points((0.5, 0.7))}, "is one value, not points"),
        ({"suction_diffusivity": points((10, 1e-3))}, "1e-4 m2/s"),
        ({"family": "cheese"}, "is not known"),
    ],
)
def test_a_slip_is_said_in_words(changed: dict[str, object], said: str) -> None:
    """A unit, a row or a decimal went wrong: the sentence says which figure cannot be believed."""
    found = out_of_bounds(replace(BRICK, **changed))  # type: ignore[arg-type]
    assert any(said in words for words in found), found
    assert all("test brick" in words for words in found)


def test_the_edges_of_the_bounds_are_inside() -> None:
    low, high = FAMILIES["brick"].absorption
    assert out_of_bounds(replace(BRICK, absorption=figure(low))) == []
    assert out_of_bounds(replace(BRICK, absorption=figure(high))) == []
    assert out_of_bounds(replace(BRICK, absorption=figure(high * 1.01))) != []


@pytest.mark.parametrize("name", ["density", "heat_capacity", "conductivity", "sorption", "capillary", "vapour_dry"])
def test_what_a_simulation_needs_is_named_when_it_lacks(name: str) -> None:
    """A gap is stated with the words of the table, not filled."""
    without = replace(BRICK, **{name: None}, gaps=((name, "nobody measured it"),))  # type: ignore[arg-type]
    assert [words for words in needed_gaps(without) if "nobody measured it" in words]


def test_what_it_can_do_without_is_named_as_well() -> None:
    without = replace(BRICK, absorption=None, conductivity_moist=None)
    assert needed_gaps(without) == []
    assert [words.rsplit(": ", 1)[1] for words in missing(without)] == ["nothing in the table"] * 2


def test_what_is_not_hygroscopic_needs_its_pores_and_no_sorption() -> None:
    wool = replace(BRICK, hygroscopic=False, sorption=None, capillary=None)
    assert [words for words in needed_gaps(wool) if "porosity" in words]
    assert needed_gaps(replace(wool, porosity=figure(0.9))) == []


def test_a_figure_that_is_not_there_is_not_invented() -> None:
    with pytest.raises(NotFound, match="no figure for capillary"):
        replace(BRICK, capillary=None).value("capillary")


def test_a_lent_figure_says_whose_it_is_and_why() -> None:
    """Plywood has no sorption: I take that of softwood, and the report can say so."""
    board = replace(BRICK, key="board", words="a board", sorption=None, gaps=(("sorption", "none found"),))
    with_figure = lent(board, "sorption", BRICK, "the same clay")
    assert with_figure.sorption is not None
    assert with_figure.sorption.read == "lent"
    assert "a test brick" in with_figure.sorption.source
    assert "the same clay" in with_figure.sorption.source
    assert with_figure.gaps == ()
    with pytest.raises(InputError, match="why it may stand in"):
        lent(board, "sorption", BRICK, " ")
    with pytest.raises(NotFound, match="to lend"):
        lent(board, "porosity", BRICK, "the same clay")


@pytest.mark.parametrize(
    "wrong",
    [
        {"value": None},
        {"points": ((0.5, 1.0),), "against": "RH"},
        {"read": "guessed"},
        {"unit": " "},
        {"source": ""},
        {"value": float("nan")},
        {"value": None, "points": ((0.5, 1.0), (0.5, 2.0)), "against": "RH"},
        {"value": None, "points": ((0.5, 1.0),)},
    ],
)
def test_a_figure_without_its_passport_is_refused(wrong: dict[str, object]) -> None:
    """Every figure says its unit, its source and how it was read, or it is no figure."""
    good: dict[str, object] = {"unit": "-", "source": "a book", "read": "read", "value": 1.0}
    Figure(**good)  # type: ignore[arg-type]
    with pytest.raises(InputError):
        Figure(**(good | wrong))  # type: ignore[arg-type]


def test_the_passport_can_be_read_aloud() -> None:
    assert Figure("kg/m3", "a book", "memory", 5.0, condition="dry", edition="2nd").passport == (
        "kg/m3; dry; a book; 2nd; memory"
    )


def test_the_wet_cup_is_left_out_where_liquid_is_counted() -> None:
    """What flowed as liquid in the wet cup would be counted twice."""
    cups = replace(BRICK, vapour_wet=figure(8))
    assert len(cups.permeability_points()) == 2
    assert cups.permeability_points(liquid_counted=True) == cups.permeability_points()[:1]
    only_wet = replace(BRICK, vapour_dry=None, vapour_wet=figure(8))
    assert len(only_wet.permeability_points(liquid_counted=True)) == 1
