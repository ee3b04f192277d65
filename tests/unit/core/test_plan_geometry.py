"""The geometry of the plan: areas and walls against figures worked by hand, and in words what cannot be a room.

Sources: the surveyor's formula with its five-cornered example of area 16.5 (a published example, from memory); the other
figures are worked by hand beside each test.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from desorb.core.kinds import Opening
from desorb.core.plan_geometry import (
    area,
    closest_wall,
    contains,
    corners_of,
    openings_problem,
    outline_problem,
    solid_walls,
    wall_lengths,
)
from desorb.errors import NotUnderstood

SQUARE = [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)]
ELL = [(0.0, 0.0), (4.2, 0.0), (4.2, 1.0), (2.0, 1.0), (2.0, 3.0), (0.0, 3.0)]  # 4.2 x 1 + 2 x 2 = 8.2
FIVE = [(1.0, 6.0), (3.0, 1.0), (7.0, 2.0), (4.0, 4.0), (8.0, 5.0)]  # published, from memory: 16.5


@pytest.mark.parametrize(
    ("corners", "square_metres"),
    [
        (SQUARE, 12.0),
        (ELL, 8.2),
        (FIVE, 16.5),
        ([(0.0, 0.0), (6.0, 0.0), (0.0, 4.0)], 12.0),  # half of 6 x 4
        ([], 0.0),
    ],
)
def test_an_area_is_the_one_worked_by_hand(corners: list[tuple[float, float]], square_metres: float) -> None:
    """Does the room have the area that I work out with a tape and a pencil?"""
    assert area(corners) == pytest.approx(square_metres)
    assert area(corners[::-1]) == pytest.approx(square_metres)


def test_wall_lengths_close_the_outline() -> None:
    """Wall 4 runs from the last corner back to the first, and a slanting wall is measured along itself."""
    assert wall_lengths(SQUARE) == [4.0, 3.0, 4.0, 3.0]
    assert wall_lengths([(0.0, 0.0), (3.0, 0.0), (3.0, 4.0)])[2] == 5.0


@given(
    st.floats(-9000, 9000), st.floats(-9000, 9000), st.floats(0, 2 * math.pi), st.sampled_from([SQUARE, ELL, FIVE])
)  # fmt: skip
def test_a_room_keeps_its_area_wherever_the_plan_begins(
    across: float, up: float, turn: float, corners: list[tuple[float, float]]
) -> None:
    """I measure from another corner of the site, or turn the sheet: the area stays."""
    cos, sin = math.cos(turn), math.sin(turn)
    moved = [(across + x * cos - y * sin, up + x * sin + y * cos) for x, y in corners]
    assert area(moved) == pytest.approx(area(corners), rel=1e-6)
    assert (outline_problem(moved)[0] == "") == (outline_problem(corners)[0] == "")


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ([(0.0, 0.0), (4.0, 0.0)], "at least 3 corners"),
        ([(0.0, 0.0), (4.0, 3.0), (4.0, 0.0), (0.0, 3.0)], "wall 1 and wall 3 cross"),
        ([(0.0, 0.0), (4.0, 0.0), (4.0, 0.0), (0.0, 3.0)], "corners 2 and 3 are one place"),
        ([(0.0, 0.0), (4.0, 0.0), (2.0, 0.0)], "lie on each other"),
        ([(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (2.0, 0.0)], "cross or lie on each other"),  # a corner on another wall
        ([(0.0, 0.0), (0.1, 0.0), (0.1, 0.05)], "less than 0.01"),
        ([(float(x), float(x * x)) for x in range(401)], "at most 400"),
    ],
)
def test_what_cannot_be_a_room_is_refused_with_the_next_step(corners: list[tuple[float, float]], words: str) -> None:
    """I tapped the corners in the wrong order, or too few of them: tell me which walls, and what to do."""
    problem, next_step = outline_problem(corners)
    assert words in problem
    assert next_step


@pytest.mark.parametrize("corners", [SQUARE, SQUARE[::-1], ELL, ELL[2:] + ELL[:2]])
def test_a_sound_outline_has_no_problem(corners: list[tuple[float, float]]) -> None:
    assert outline_problem(corners) == ("", "")


@pytest.mark.parametrize(
    ("opening", "words"),
    [
        (Opening("door", 0, "3.2", "0.9"), "longer than wall 1"),
        (Opening("door", 4, "0", "0.9"), "no wall 5"),
        (Opening("window", 1, "-0.1", "0.9"), "begins before"),
        (Opening("window", 1, "0.1", "0"), "no width"),
        (Opening("gate", 1, "0.1", "1"), "door, window, opening"),
        (Opening("window", 2, "1.4", "1"), "overlap"),
    ],
)
def test_an_opening_that_does_not_fit_its_wall_is_refused(opening: Opening, words: str) -> None:
    """A door wider than its wall is a slip of the pencil: say so while I stand there."""
    stands = Opening("door", 2, "1.0", "0.9")
    problem, next_step = openings_problem(SQUARE, [stands, opening])
    assert words in problem
    assert next_step
    assert openings_problem(SQUARE, [stands, Opening("door", 2, "1.9", "2.1")]) == ("", "")  # side by side, to the end


def test_a_door_is_a_gap_in_its_wall() -> None:
    """The wall is drawn up to the door and from the door on; the door itself is open."""
    solid, gaps = solid_walls(SQUARE, [Opening("door", 0, "1", "0.9"), Opening("window", 1, "0", "3")])
    assert gaps == [("door", ((1.0, 0.0), (1.9, 0.0))), ("window", ((4.0, 0.0), (4.0, 3.0)))]
    assert sum(math.dist(*piece) for piece in solid) == pytest.approx(14 - 0.9 - 3)


def test_the_closest_wall_of_a_spot() -> None:
    """A spot 0.5 m from the east wall and 1 m along it belongs to that wall."""
    wall, along, away = closest_wall(SQUARE, (3.5, 1.0))
    assert (wall, along, away) == (1, 1.0, 0.5)


@pytest.mark.parametrize(
    ("point", "inside"), [((1.0, 1.0), True), ((0.0, 1.0), True), ((3.0, 2.0), False), ((-1.0, 1.0), False)]
)
def test_a_spot_is_in_the_room_or_not(point: tuple[float, float], inside: bool) -> None:
    assert contains(ELL, point) is inside


@pytest.mark.parametrize("text", ["nan 1", "1 inf", "1e9 0", "1", "1 2 3", "1_0 2", "x y", "9" * 400 + " 1", ""])
def test_corners_that_are_no_lengths_are_refused_by_number(text: str) -> None:
    """Whatever stands in the field, a corner is two lengths or it is refused."""
    with pytest.raises(NotUnderstood, match=r"corner|length"):
        corners_of(["0 0", text])


def test_corners_are_read_as_typed() -> None:
    assert corners_of(["0 0", "4,20 3.1"]) == [(0.0, 0.0), (4.2, 3.1)]
