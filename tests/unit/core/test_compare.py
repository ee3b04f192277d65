"""core/compare.py: which controls may be used for a reading, which are refused and why."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from case_builder import BALANCE, METER, OVEN, FieldBook

from desorb.core.checks import check_readings
from desorb.core.compare import (
    Comparison,
    ControlFinder,
    blocking,
    compare,
    differing_fields,
    displaced,
    rule_input,
)
from desorb.core.evidence import Evidence
from desorb.core.kinds import RuleRow, Spot
from desorb.core.outcome import ABOVE, BLOCKS_BOTH, BLOCKS_NOTHING, BLOCKS_PASS, Finding


def pair(**of_spot: object) -> tuple[Evidence, Evidence]:
    """A control and a spot that are alike but for the parts named."""
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen", "utility: sound", words="screed of 1996")
    book.controls("utility/floor", "18")
    book.line("kitchen/floor", "24", **of_spot)  # type: ignore[arg-type]
    control, spot = book.evidence()
    return control, spot


def compared(book: FieldBook, name: str, spread: float = 0.0) -> Comparison:
    case, evidence = book.case(), book.evidence()
    finder = ControlFinder(evidence, check_readings(evidence, case), case)
    spot = [each for each in evidence if each.spot.id == name][-1]
    return compare(spot, finder, case, spread)


def floor_book() -> FieldBook:
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen", "utility: sound", words="screed of 1996")
    return book


# -- fields -----------------------------------------------------------------------------------------------------------


def test_alike_in_everything_is_comparable() -> None:
    assert differing_fields(*pair()) == []


@pytest.mark.parametrize(
    ("parts", "field", "said"),
    [
        ({"covering": "vinyl"}, "covering", "this control is bare, the spot is vinyl"),
        ({"preparation": "abraded"}, "preparation", "this control is as found, the spot is abraded"),
        ({"finish": "trowelled"}, "finish", "this control is not stated, the spot is trowelled"),
        ({"depth_to": "40"}, "depth", "this control is at the depth of the instrument, the spot is 0-40 mm deep"),
        ({"depth_from": "10", "depth_to": "40"}, "depth", "the spot is 10-40 mm deep"),
    ],
)
def test_a_difference_is_said_in_words(parts: dict[str, str], field: str, said: str) -> None:
    differences = differing_fields(*pair(**parts))
    assert [name for name, _ in differences] == [field]
    assert said in differences[0][1]


@pytest.mark.parametrize("parts", [{"covering": "none"}, {"preparation": "AS FOUND"}])
def test_what_is_the_same_in_other_words_is_the_same(parts: dict[str, str]) -> None:
    assert differing_fields(*pair(**parts)) == []


def test_few_parts_of_a_scale_are_named_and_many_are_another_scale() -> None:
    """Under one word every differing part is named, however many: 'comparative against comparative' says nothing."""
    control, spot = pair()
    two = replace(spot, scale=replace(spot.scale, top="199", depth="40"))
    assert [name for name, _ in differing_fields(control, two)] == ["scale top", "scale depth"]
    assert "scale top: this control is 100, the spot is 199" in differing_fields(control, two)[0][1]
    four = replace(two, scale=replace(two.scale, resolution="0.5", principle="capacitance"))
    assert len(differing_fields(control, four)) == 4
    renamed = replace(four, scale=replace(four.scale, key="other"))
    assert differing_fields(control, renamed) == [
        ("scale", "scale: this control was read on comparative, the spot on other")
    ]


def test_instruments_are_told_apart_by_id_and_serial() -> None:
    control, spot = pair()
    for change in ({"id": "M1"}, {"serial": ""}, {"serial": "s-17"}):
        other = replace(spot, instrument=replace(spot.instrument, **change))
        names = [name for name, _ in differing_fields(control, other)]
        assert names == ["instrument"]
    assert "with m1 (serial S-17), the spot with m1" in differing_fields(control, other)[0][1]


def test_constructions_are_told_apart_by_id() -> None:
    control, spot = pair()
    twin = replace(spot, construction=replace(spot.construction, id="screed-b"))
    assert differing_fields(control, twin) == [
        ("construction", "construction: this control is screed of 1996 (screed), the spot is screed of 1996 (screed-b)")
    ]
    other = replace(spot, construction=replace(spot.construction, id="b", material="concrete", built="1974"))
    assert [name for name, _ in differing_fields(control, other)] == ["material", "construction", "built"]


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        (("", ""), ("", ""), True), (("", "20"), ("", "20"), True), (("", "20"), ("", "25"), True),
        (("", "20"), ("", "25.1"), False),
        (("10", "40"), ("12", "44"), True), (("10", "40"), ("16", "40"), False), (("", "40"), ("10", "40"), False),
        (("0", "5"), ("5", "10"), False), (("0", "5"), ("4", "9"), True), (("10", "15"), ("14,9", "19"), True),
        (("20", "25"), ("15", "20"), False), (("", "4"), ("", "6"), True),
    ],
)  # fmt: skip
def test_depths(one: tuple[str, str], other: tuple[str, str], same: bool) -> None:
    """Within 5 mm at both ends (setting of ours), and not one band below the other."""
    control, spot = pair(depth_from=other[0], depth_to=other[1])
    of_control = replace(control.entered, record=replace(control.reading, depth_from=one[0], depth_to=one[1]))
    assert (differing_fields(replace(control, entered=of_control), spot) == []) == same


@pytest.mark.parametrize(
    ("known", "again", "moved"),
    [
        (("1.00", "2.00", ""), ("1.05", "2.00", ""), []), (("1.00", "2.00", ""), ("1.06", "2.00", ""), ["x"]),
        (("1.00", "2.00", "0.30"), ("1.00", "1.90", "0.50"), ["y", "height"]), (("", "", ""), ("1", "2", "3"), []),
        (("1", "2", "3"), ("", "", ""), []),
    ],
)  # fmt: skip
def test_a_spot_moved_by_more_than_50_mm_is_another_spot(
    known: tuple[str, str, str], again: tuple[str, str, str], moved: list[str]
) -> None:
    """TASKS 8: setting of ours, 50 mm."""
    one, other = (Spot("s", "z", "floor", "survey", "", *place) for place in (known, again))
    assert displaced(one, other) == moved


# -- finding controls -------------------------------------------------------------------------------------------------


def test_the_nearest_reading_in_time_of_each_control_spot_is_used() -> None:
    book = floor_book()
    book.controls("utility/floor", "17, 18, 19", clock="08:00")
    book.controls("utility/floor", "20, 21, 22", clock="12:00")
    book.line("kitchen/floor", "24", clock="11:00")
    assert [str(each.value) for each in compared(book, "kitchen.1").used] == ["20", "21", "22"]


def test_a_control_spot_that_fits_once_is_not_refused_for_its_other_readings() -> None:
    """The same three spots were read through cork before it was lifted, and bare afterwards."""
    book = floor_book()
    book.controls("utility/floor", "13, 14, 15", covering="cork tile")
    book.controls("utility/floor", "17, 18, 19")
    book.line("kitchen/floor", "24")
    found = compared(book, "kitchen.1").found
    assert [str(each.value) for each in found.used] == ["17", "18", "19"]
    assert found.refused == []
    assert found.full_set_fresh()


def test_the_refusal_of_a_spot_is_that_of_its_nearest_reading_in_kind() -> None:
    """One reading differs in covering alone, the other in covering and scale: the first is the reason that is told."""
    book = floor_book()
    book.controls("utility/floor", "3.1", scale="oven-eq screed", covering="vinyl", names="u")
    book.controls("utility/floor", "14", covering="vinyl", names="u")
    book.line("kitchen/floor", "24")
    assert [refusal.fields for refusal in compared(book, "kitchen.1").found.refused] == [("covering",)]


def test_a_voided_control_gives_way_to_its_sound_reading() -> None:
    """110 was a slip of the pen: the earlier reading of that spot serves, if it is fresh; alone it is refused by its finding."""
    book = floor_book()
    book.controls("utility/floor", "17, 18, 19")
    book.controls("utility/floor", "110", names="utility.c1")
    book.line("kitchen/floor", "24")
    assert [str(each.value) for each in compared(book, "kitchen.1").used] == ["17", "18", "19"]
    book = floor_book()
    book.controls("utility/floor", "110, 18, 19")
    book.line("kitchen/floor", "24")
    refused = compared(book, "kitchen.1").found.refused
    assert [refusal.fields for refusal in refused] == [("beyond-scale",)]


@pytest.mark.parametrize(
    ("x", "y", "height", "element", "one_place"),
    [
        ("1.00", "2.00", "", "floor", True), ("1.04", "2.00", "", "floor", True), ("1.06", "2.00", "", "floor", False),
        ("1.00", "2.06", "", "floor", False), ("1.00", "2.00", "0.3", "floor", False), ("1.00", "2.00", "", "wall", False),
        ("", "2.00", "", "floor", False), ("one", "2.00", "", "floor", False),
    ],
)  # fmt: skip
def test_one_place_counts_once(x: str, y: str, height: str, element: str, one_place: bool) -> None:
    book = floor_book()
    book.write(Spot("u1", "utility", "floor", "control", x="1.00", y="2.00"))
    book.write(Spot("u2", "utility", element, "control", x=x, y=y, height=height))
    book.controls("utility/floor", "18", names="u1")
    book.controls(f"utility/{element}", "19", names="u2")
    book.line("kitchen/floor", "24")
    assert len(compared(book, "kitchen.1").used) == (1 if one_place else 2)


def test_places_at_the_same_height_on_a_wall() -> None:
    book = floor_book()
    for name, height in (("a", "0.30"), ("b", "0.33"), ("c", "1.20")):
        book.write(Spot(name, "utility", "wall", "control", x="1", y="2", height=height))
    book.controls("utility/wall", "18, 19, 17", names="a b c")
    book.line("kitchen/wall", "24")
    comparison = compared(book, "kitchen.1")
    assert [each.spot.id for each in comparison.used] == ["a", "c"]
    assert comparison.found.refused[0].words == "it stands at the place of a: one place counts once"


def test_a_control_is_not_compared_with_itself() -> None:
    """Looked at as a spot, a control is held against the others."""
    book = floor_book()
    book.controls("utility/floor", "18, 17, 19, 16")
    case, evidence = book.case(), book.evidence()
    found = ControlFinder(evidence, [], case).find(evidence[0])
    assert [each.spot.id for each in found.used] == ["utility.c2", "utility.c3", "utility.c4"]


# -- comparing --------------------------------------------------------------------------------------------------------


def test_why_nothing_was_decided() -> None:
    book = floor_book()
    book.line("kitchen/floor", "24")
    assert compared(book, "kitchen.1").why_not == "few"
    book.controls("utility/floor", "18, 17")
    assert compared(book, "kitchen.1").why_not == "few"
    book.controls("utility/floor", "100", names="u3")
    assert compared(book, "kitchen.1").why_not == "at an end"
    book = floor_book()
    book.controls("utility/floor", "18, 17, 19")
    book.line("kitchen/floor", "24", day=7)
    assert compared(book, "kitchen.1").why_not == "stale"
    book.controls("utility/floor", "20", names="utility.c1", day=7)
    assert compared(book, "kitchen.1").why_not == "moved"
    book = floor_book()
    book.lists["rule_rows"].clear()
    book.controls("utility/floor", "18, 17, 19")
    book.line("kitchen/floor", "24")
    assert compared(book, "kitchen.1").why_not == "no row"


def test_controls_read_again_vouch_for_the_others() -> None:
    """One of five read again within r: with the old four it decides, marked as an older set."""
    book = floor_book()
    book.controls("utility/floor", "18, 16, 19, 17, 20")
    book.controls("utility/floor", "19", names="utility.c1", day=7)
    book.line("kitchen/floor", "40", day=7)
    comparison = compared(book, "kitchen.1")
    assert comparison.older_set
    assert len(comparison.used) == 5
    assert comparison.decision is not None
    assert comparison.decision.status == ABOVE


def test_three_fresh_controls_need_nobody_to_vouch() -> None:
    book = floor_book()
    book.controls("utility/floor", "18, 16, 19, 17, 20")
    book.controls("utility/floor", "18, 16, 19", day=7)
    book.line("kitchen/floor", "18", day=7)
    comparison = compared(book, "kitchen.1")
    assert not comparison.older_set
    assert len(comparison.used) == 3
    assert len(comparison.found.stale) == 2
    assert not comparison.found.full_set_fresh()


def test_a_zero_among_controls_on_a_ratio_scale() -> None:
    """A scale whose bottom is below zero: 0 is a figure, and has no logarithm; nothing is decided."""
    book = floor_book()
    book.write(replace(METER, scales=(replace(METER.scales[0], bottom="-10"),)))
    book.controls("utility/floor", "0, 17, 19")
    book.line("kitchen/floor", "24")
    assert compared(book, "kitchen.1").why_not == "few"


def test_the_rule_row_of_the_class_with_the_repeatability_of_the_scale() -> None:
    book = floor_book()
    book.write(RuleRow("comparative", True, "0.2", "0.3", "9", "somebody"))
    book.line("kitchen/floor", "24")
    rule = rule_input(book.evidence()[0], book.case(), 0.7)
    assert rule is not None
    assert (rule.on_logarithms, rule.class_spread, rule.margin, rule.repeatability, rule.repeat_spread) == (
        True,
        0.2,
        0.3,
        1.0,
        0.7,
    )


def test_the_freshness_is_a_setting_of_the_case() -> None:
    book = floor_book()
    book.controls("utility/floor", "18, 17, 19")
    book.line("kitchen/floor", "24", day=2)
    assert compared(book, "kitchen.1").used == []
    book.set("control fresh hours", "72")
    assert len(compared(book, "kitchen.1").used) == 3


@pytest.mark.parametrize(("hours", "fresh"), [(47, True), (49, False)])
def test_one_visit_is_one_occasion_for_two_days(hours: int, fresh: bool) -> None:
    book = floor_book()
    book.controls("utility/floor", "18, 17, 19", clock="08:00", visit="v1")
    book.line("kitchen/floor", "24", visit="v1", day=timedelta(hours=hours) / timedelta(days=1), clock="08:00")
    assert bool(compared(book, "kitchen.1").used) == fresh


def test_which_findings_block_what() -> None:
    both, only_pass, nothing, other = (
        Finding("a", "", BLOCKS_BOTH, "", entries=("e1",)), Finding("b", "", BLOCKS_PASS, "", entries=("e2",)),
        Finding("c", "", BLOCKS_NOTHING, "", entries=("e1",)), Finding("d", "", BLOCKS_BOTH, "", entries=("e9",)),
    )  # fmt: skip
    assert blocking([both, only_pass, nothing, other], {"e1", "e2"}) == ([both], [only_pass])


def test_laboratory_scales_compare_like_any_other() -> None:
    book = FieldBook()
    book.building("leaf", "brick", "low", "high: sound")
    book.controls("high/wall", "1.6, 1.8, 1.5", scale="oven", covering="none")
    book.line("low/wall", "1.7", scale="oven", covering="none")
    assert len(compared(book, "low.1").used) == 3
    assert BALANCE.scale("oven") == OVEN
