"""The charts: one panel for each scale, lines broken where something changed, nothing that needs colour to be read."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import pytest
import report_case
from hypothesis import given
from hypothesis import strategies as st
from report_case import at, furnish, open_book, rendered, small_document, sweep

from desorb.core.assess import assess
from desorb.core.case import Case
from desorb.core.kinds import UnitChange, Visit
from desorb.report import charts, palette
from desorb.report.layers import apart
from desorb.report.lookup import lookup_of
from desorb.report.panels import MOST_LINES, MOST_PARTS, panels

FLOOR = {"k1": "18", "k2": "17", "k3": "18", "k4": "19"}


def panels_of(case: Case) -> list[dict[str, Any]]:
    return panels(lookup_of(case, assess(case, history=True)))


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("ground", ["#FFFFFF", palette.PAPER])
def test_text_has_a_contrast_of_seven_and_parts_of_three(ground: str) -> None:
    for text in (palette.INK, palette.UMBER, palette.PLUM):
        assert contrast(text, ground) >= 7
    for part in (palette.INK, *palette.SLATE[2:]):
        assert contrast(part, ground) >= 3


def test_the_three_marks_differ_in_shape_and_not_only_in_lightness() -> None:
    svg = charts.draw(small_document()["higher"]["charts"][0])
    assert f'fill="{palette.SLATE[4].lower()}"' in svg.lower()
    assert "stroke-dasharray" in svg


def test_no_colour_but_those_of_the_palette() -> None:
    allowed = {colour.lower() for colour in palette.PALETTE}
    for panel in small_document()["higher"]["charts"]:
        svg = charts.draw(panel)
        assert {found.lower() for found in re.findall(r"#[0-9a-fA-F]{3,8}\b", svg)} <= allowed
        named = set(re.findall(r'(?:fill|stroke)="([^"#]+)"', svg))
        assert named <= {"none", "transparent"}, named


def test_the_specification_holds_against_its_schema() -> None:
    for panel in small_document()["higher"]["charts"]:
        assert charts.spec_of(panel, check=True) == charts.spec_of(panel)


def test_a_drawing_does_not_depend_on_the_drawings_before_it() -> None:
    panel = small_document()["higher"]["charts"][0]
    first = charts.draw(panel)
    charts.draw(panel | {"high": panel["high"] + 1})
    assert charts.draw(panel) == first


def test_two_scales_never_share_a_panel() -> None:
    book = open_book()
    furnish(book)
    for number, day in enumerate((0, 7)):
        book.write(Visit(f"v{number}", at(day, 9)))
        sweep(book, f"v{number}", day, {**FLOOR, "s1": "40"})
        wood = dict.fromkeys(FLOOR, "12") | {"s1": "20"}
        sweep(book, f"v{number}", day, wood, scale="wood")
    found = panels_of(book.case())
    assert len({panel["scale"] for panel in found}) == len(found)
    assert "comparative" in {panel["scale"] for panel in found}


def test_a_case_read_on_one_day_has_no_chart() -> None:
    book = open_book()
    furnish(book)
    book.write(Visit("v1", at(0, 9)))
    sweep(book, "v1", 0, {**FLOOR, "s1": "40"})
    assert panels_of(book.case()) == []
    assert "thereisnochangeovertimetodraw" in "".join(report_case.text_of(rendered(book.case()).pdf))


def two_visits(covering: str = "bare", change: UnitChange | None = None) -> dict[str, Any]:
    book = open_book()
    furnish(book)
    book.write(Visit("v1", at(0, 9)))
    sweep(book, "v1", 0, {**FLOOR, "s1": "40", "s2": "100"})
    if change:
        book.write(change)
    book.write(Visit("v2", at(7, 9)))
    sweep(book, "v2", 7, FLOOR)
    sweep(book, "v2", 7, {**FLOOR, "s1": "30", "s2": "50"}, covering=covering)
    return panels_of(book.case())[0]


def line_of(panel: dict[str, Any], name: str) -> dict[str, Any]:
    found: dict[str, Any] = next(line for line in panel["lines"] if line["name"] == name)
    return found


def test_an_unbroken_line_has_one_segment() -> None:
    assert [len(segment) for segment in line_of(two_visits(), "s1")["segments"]] == [2]


def test_a_line_breaks_where_the_covering_changed() -> None:
    line = line_of(two_visits("paint"), "s1")
    assert [len(segment) for segment in line["segments"]] == [1, 1]
    assert line["breaks"] == [{"day": 7.0, "words": "covering bare, then paint"}]


@pytest.mark.parametrize(("zone", "pieces"), [("z1", 2), ("", 2), ("z3", 1)])
def test_a_line_breaks_where_a_unit_was_changed_in_its_zone(zone: str, pieces: int) -> None:
    panel = two_visits(change=UnitChange("u1", "air mover", zone, "set", at(3, 12)))
    assert len(line_of(panel, "s1")["segments"]) == pieces
    assert bool(panel["changes"]) is (pieces == 2)


def test_a_value_at_the_end_of_its_scale_is_an_arrow_and_no_part_of_the_line() -> None:
    panel = two_visits()
    line = line_of(panel, "s2")
    assert [(each["day"], each["side"]) for each in line["clipped"]] == [(0.0, "top")]
    assert [mark["day"] for segment in line["segments"] for mark in segment] == [7.0]
    assert "\u2265 s2" in charts.draw(panel)


def test_many_spots_become_elements_with_median_and_range() -> None:
    found = panels_of(report_case.large_case(600, 3))
    assert all(len(panel["lines"]) <= MOST_LINES for panel in found)
    assert len(found) <= MOST_PARTS
    mark = found[0]["lines"][0]["segments"][0][0]
    assert mark["count"] == 10
    assert mark["least"] <= mark["excess"] <= mark["most"]
    assert len({(panel["low"], panel["high"]) for panel in found}) == 1


def test_what_does_not_fit_into_the_panels_is_counted() -> None:
    found = panels_of(report_case.large_case(1200, 2))
    drawn = sum(len(panel["lines"]) for panel in found)
    assert drawn == MOST_LINES * MOST_PARTS
    assert found[-1]["places_left_out"] > 0


def test_the_alt_text_says_what_a_person_should_see() -> None:
    alt = small_document()["higher"]["charts"][0]["alt"]
    assert "s3: at the top of the scale on day 0; 40.5 on day 9; 9.5 on day 21, above control" in alt
    assert "control band" in alt
    assert "not drawn: 3" in alt


def test_the_axis_is_named_in_words_with_its_unit() -> None:
    svg = charts.draw(small_document()["higher"]["charts"][0])
    assert "digits of this scale (no unit)" in svg
    assert "days since the first visit, 4 March 2026" in svg


@given(st.lists(st.floats(-50, 50), min_size=1, max_size=8).map(sorted), st.floats(0.5, 6))
def test_names_at_the_ends_keep_their_order_and_their_distance(wanted: list[float], step: float) -> None:
    places = apart(wanted, step, -60, 60)
    assert len(places) == len(wanted)
    for one, other in pairwise(places):
        assert other - one >= step * 0.999
