"""The plan of spots: walls as lines, marks by status, blank where nothing was read, and a list that holds it all."""

from __future__ import annotations

import math
import re
from typing import Any
from xml.etree import ElementTree

import pytest
from report_case import at, open_book, small_book, small_document

from desorb.core.assess import assess
from desorb.core.case import Case
from desorb.core.kinds import Opening, Room, Setting, Spot, Visit, Zone
from desorb.report import palette
from desorb.report.lookup import lookup_of
from desorb.report.plan import NO_PLAN, NO_ROOMS, draw, mark, plan_of


def plan_from(case: Case) -> dict[str, Any]:
    return plan_of(lookup_of(case, assess(case)))


def spot_of(plan: dict[str, Any], name: str) -> dict[str, Any]:
    found: dict[str, Any] = next(spot for spot in plan["spots"] if spot["id"] == name)
    return found


def test_marks_say_the_status_by_shape() -> None:
    plan = small_document()["higher"]["plan"]
    assert spot_of(plan, "s3")["mark"] == "filled square"
    assert spot_of(plan, "s1")["mark"] == "open circle"
    assert spot_of(plan, "s9")["mark"] == "dashed ring"
    assert spot_of(plan, "k1")["mark"] == "triangle"


def test_what_this_visit_did_not_read_is_a_small_dot_and_never_a_copied_value() -> None:
    book = small_book()
    book.write(Visit("v4", at(30, 9)))
    plan = plan_from(book.case())
    assert {spot["mark"] for spot in plan["spots"] if spot["role"] == "survey"} == {"small dot"}
    assert spot_of(small_document()["higher"]["plan"], "s11")["mark"] == "small dot"


def test_the_end_of_the_scale_is_a_bar_on_the_open_side() -> None:
    above, below = mark("dashed ring", "top", 50, 50), mark("dashed ring", "bottom", 50, 50)
    assert float(re.findall(r"M45\.5 ([\d.]+)H", above)[0]) < 50 < float(re.findall(r"M45\.5 ([\d.]+)H", below)[0])
    assert "H" not in mark("dashed ring", "", 50, 50)


def test_the_drawing_is_well_formed_and_keeps_to_the_palette() -> None:
    svg = draw(small_document()["higher"]["plan"])
    ElementTree.fromstring(svg)
    allowed = {colour.lower() for colour in palette.PALETTE}
    assert {found.lower() for found in re.findall(r"#[0-9a-fA-F]{3,8}\b", svg)} <= allowed
    assert set(re.findall(r'(?:fill|stroke)="([^"#]+)"', svg)) <= {"none"}
    assert palette.FONT in svg


def test_zones_are_outlines_without_fill() -> None:
    svg = draw(small_document()["higher"]["plan"])
    outlines = re.findall(r"<polygon[^>]*>", svg)
    assert len(outlines) == 4
    assert all("fill" not in outline for outline in outlines)


def test_y_points_upwards() -> None:
    plan = {**small_document()["higher"]["plan"], "zones": []}
    by_name = {found[1]: float(found[0]) for found in re.findall(r'y="([\d.]+)"[^>]*>(s\d+|k\d+)<', draw(plan))}
    assert by_name["s1"] > by_name["s5"]  # s5 lies further from the lower edge, so higher on the paper


def test_every_spot_stands_in_the_list_also_without_a_place_on_the_plan() -> None:
    book = small_book()
    book.write(Spot("s99", "z1", "floor"))
    plan = plan_from(book.case())
    assert plan["without_place"] == ["s99"]
    assert len(plan["spots"]) == len(book.lists["spots"])
    assert "s99" not in draw(plan)


def test_without_any_place_there_is_no_plan_but_a_sentence() -> None:
    book = open_book()
    book.write(Zone("z1", "kitchen", "c1", outline=("0 0", "1 0", "1 1")), Spot("s1", "z1", "floor"))
    plan = plan_from(book.case())
    assert plan["drawn"] is False
    assert plan["sentence"] == NO_PLAN


@pytest.mark.parametrize(("value", "drawn"), [("35", True), ("", False), ("unknown", False), ("1e999", False)])
def test_north_is_drawn_only_where_the_case_says_so(value: str, drawn: bool) -> None:
    book = small_book()
    book.lists["settings"] = [each for each in book.lists["settings"] if each.record.key != "plan north"]
    if value:
        book.write(Setting("plan north", value, "degree", "compass"))
    assert ("north" in draw(plan_from(book.case()))) is drawn


def test_a_scale_bar_is_always_there() -> None:
    assert re.search(r">0 to [\d.]+ m<", draw(small_document()["higher"]["plan"]))


@pytest.mark.parametrize("words", ['<script>alert("x")</script>', "a & b", "\u05e9\u05dc\u05d5\u05dd", "]]>", "'\"$#"])
def test_odd_names_are_text_and_nothing_else(words: str) -> None:
    book = small_book()
    book.write(
        Zone("zx", words, "c1", outline=("8 0", "14 0", "14 5", "8 5")), Spot(words, "zx", "floor", x="9", y="2")
    )
    svg = draw(plan_from(book.case()))
    root = ElementTree.fromstring(svg)
    assert "<script" not in svg
    assert words in {node.text for node in root.iter() if node.text}


def test_spots_at_one_place_stand_side_by_side() -> None:
    book = open_book()
    book.write(*(Spot(f"s{height}", "z1", "wall", x="1", y="1", height=str(height)) for height in range(3)))
    circles = re.findall(r'<circle cx="([\d.]+)"', draw(plan_from(book.case())))
    assert len(set(circles)) == 3


def test_corners_that_are_no_numbers_draw_no_outline() -> None:
    book = open_book()
    book.write(Zone("z1", "kitchen", "c1", outline=("0 0", "one two", "1")), Spot("s1", "z1", "floor", x="1", y="1"))
    assert plan_from(book.case())["zones"] == []
    assert "<polygon" not in draw(plan_from(book.case()))


def test_the_alt_text_names_the_spots_of_each_status() -> None:
    alt = small_document()["higher"]["plan"]["alt"]
    assert "Above control: s3." in alt
    assert "Not read this visit: s11." in alt
    assert "Controls: k1, k2, k3, k4, k5, k6, k7." in alt


ROOM = Room(
    "r1", "kitchen", ("0 0", "4 0", "4 3", "0 3"),
    openings=(Opening("door", 0, "1", "0.9"), Opening("window", 1, "0.5", "2"), Opening("door", 2, "x", "1")),
)  # fmt: skip


def test_walls_are_ink_lines_with_their_doors_as_gaps() -> None:
    """The printed plan shows the walls I drew, the door open and the window as a thin line in its gap."""
    book = small_book()
    book.lists["rooms"].append(book.enter(ROOM))
    plan = plan_from(book.case())
    assert plan["rooms_sentence"].startswith("Rooms drawn: kitchen (12.00 m², 1 door, 1 window).")
    assert "1 room, " in plan["alt"]
    svg = draw(plan)
    walls = next(found for found in re.findall(r'<path d="([^"]+)"[^>]*stroke-width="2.4"', svg))
    pieces = [[float(part) for part in re.findall(r"[\d.]+", piece)] for piece in re.findall(r"M[^M]+", walls)]
    drawn = sum(math.dist(piece[:2], piece[2:]) for piece in pieces)
    glass = re.findall(r'<path d="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)"[^>]*stroke-width="0.7" stroke-linecap', svg)
    assert len(glass) == 1
    window = math.dist(*(tuple(float(part) for part in glass[0][at : at + 2]) for at in (0, 2)))
    assert drawn / window == pytest.approx((14 - 0.9 - 2) / 2, rel=0.01)


def test_without_rooms_the_zones_stand_for_the_walls_and_it_is_said() -> None:
    plan = small_document()["higher"]["plan"]
    assert plan["rooms"] == []
    assert plan["rooms_sentence"] == NO_ROOMS
    assert 'stroke-width="1.6"' in draw(plan)


def test_the_edge_of_a_zone_along_a_wall_is_not_drawn_twice() -> None:
    """A dashed line in the gap of a door would look like a window."""
    zone = {"id": "z", "words": "z", "corners": [[0, 0], [4, 0], [4, 1.5], [0, 1.5]], "entry": ""}
    book = small_book()
    book.lists["rooms"].append(book.enter(ROOM))
    svg = draw({**plan_from(book.case()), "zones": [zone]})
    dashed = re.findall(r'<path d="([^"]+)"[^>]*stroke-dasharray="5 2.5"', svg)
    assert [path.count("M") for path in dashed] == [1]
