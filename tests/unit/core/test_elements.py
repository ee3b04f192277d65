"""core/elements.py: the status of a floor or a wall from its spots, and what may not be said in silence."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builder import FieldBook, at, by_id

from desorb.core.case import Removed
from desorb.core.elements import REMOVED, doubtful_descriptions, rested_on_removed
from desorb.core.kinds import Construction, NotInspected, Removal, SaltTest, Spot, Zone
from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER, Assessment

CONTROLS = "18, 16, 19, 17, 20"


def floor(spots: str, controls: str = CONTROLS, **how: str) -> FieldBook:
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen", "utility: sound")
    if controls:
        book.controls("utility/floor", controls)
    if spots:
        book.line("kitchen/floor", spots, **how)
    return book


def element(book: FieldBook, name: str = "kitchen/floor") -> Assessment:
    return by_id(book.assessed())[name]


@pytest.mark.parametrize(
    ("spots", "status", "reason"),
    [
        ("17, 18, 19", NO_HIGHER, "none of 3 spots above control, and their mean is no higher by the margin"),
        ("17, 18, 60", ABOVE, "1 of 3 spots above control: kitchen.3"),
        ("60, 18, 61", ABOVE, "2 of 3 spots above control: kitchen.1, kitchen.3"),
        (
            "17, 18, 22",
            NO_HIGHER,
            "none of 3 spots above control, and their mean is no higher by the margin; undecided: kitchen.3",
        ),
        ("17, 22", CANNOT_SAY, "1 of 2 spots undecided"),
        ("22, 22.0, 17, 18, 19", CANNOT_SAY, "2 of 5 spots undecided"),
        ("21, 21.0, 21, 21.0", CANNOT_SAY, "4 of 4 spots undecided"),
    ],
)
def test_from_spots_to_the_element(spots: str, status: str, reason: str) -> None:
    """Controls mean 17.9; up to 20.6 no higher, beyond 23.3 above, between them undecided."""
    found = element(floor(spots))
    assert (found.status, found.reasons[0]) == (status, reason)
    assert found.kind == "element"
    assert (found.value, found.value_text, found.taken_at) == (None, "", "")


def test_no_spot_above_and_yet_the_mean_is_too_high() -> None:
    """Every spot at the edge of what passes: each by itself is no higher, the floor as a whole is not clearly so."""
    book = FieldBook()
    book.building("joists", "wood", "void", "landing: sound")
    warm = {"scale": "wood", "temperature": "20"}
    book.controls("landing/joists", "11.0, 13.0, 12.0", **warm)
    book.line("void/joists", "12.6, 12.7, 12.8", **warm)
    found = element(book, "void/joists")
    assert set(book.statuses("void/joists").values()) <= {NO_HIGHER, CANNOT_SAY}
    assert found.status == CANNOT_SAY


def test_spots_without_controls_cannot_carry_an_element() -> None:
    found = element(floor("17, 18, 19", controls=""))
    assert found.status == CANNOT_SAY
    assert found.reasons[1].startswith("kitchen.1: 3 more controls needed")
    assert found.next_test is not None
    assert found.next_test.key == "more controls"


def test_groups_on_two_scales_must_pass_by_themselves() -> None:
    """Three spots comparative and no higher, one on the screed scale undecided: a quarter; two means are never one."""
    book = floor("17, 18, 19")
    book.controls("utility/floor", "2.1, 2.2, 2.0", scale="oven-eq screed")
    book.line("kitchen/floor", "2.1", scale="oven-eq screed", names="k4")
    found = element(book)
    assert found.status == NO_HIGHER
    assert found.scale == "oven-eq screed, comparative"  # k4 stands before kitchen.1
    book.line("kitchen/floor", "3.5", scale="oven-eq screed", names="k5")  # above its own controls
    assert element(book).status == ABOVE


def test_a_clipped_spot_spoils_the_mean_of_its_group() -> None:
    """Three pass, the fourth is 'at most 0': it is no figure for a mean, so the group does not pass."""
    found = element(floor("17, 18, 19, 0"))
    assert found.status == CANNOT_SAY
    assert "the mean of 4 spots on comparative is not clearly within the margin" in found.reasons[0]


def test_a_lone_undecided_group_does_not_stop_the_element() -> None:
    """Of four spots one was read on a scale without controls: at most a third undecided, the group is left out."""
    book = floor("17, 18, 19")
    book.line("kitchen/floor", "3.0", scale="oven-eq screed", names="k4")
    assert element(book).status == NO_HIGHER


@pytest.mark.parametrize(
    ("unread", "status"),
    [(1, NO_HIGHER), (2, CANNOT_SAY)],
)
def test_planned_spots_that_nobody_read_count_as_undecided(unread: int, status: str) -> None:
    book = floor("17, 18, 19")
    for number in range(unread):
        book.write(Spot(f"plan.{number}", "kitchen", "floor"))
    found = element(book)
    assert found.status == status
    assert len(found.spots_not_read) == unread
    if status == CANNOT_SAY:
        assert found.reasons[0] == "0 of 3 spots undecided, 2 not read"
        assert found.next_test is not None
        assert "plan.0, plan.1" in found.next_test.words


def test_an_element_that_was_only_planned() -> None:
    book = floor("")
    book.write(Spot("plan", "kitchen", "floor"))
    found = element(book)
    assert (found.status, found.reasons) == (CANNOT_SAY, ("no spot of this element was read",))
    assert (found.visit, found.smallest_pocket, found.spots) == ("", None, ())
    assert found.next_test is not None
    assert found.next_test.key == "read missing"


def test_controls_make_no_element() -> None:
    assert set(by_id(floor("17").assessed())) == {"kitchen.1", "kitchen/floor"}


@pytest.mark.parametrize(
    ("spots", "pocket", "words"), [("17", 0.95, "1 spot read"), ("17, 18, 19, 17, 18, 19, 17", 0.348, "7 spots read")]
)
def test_the_smallest_pocket_that_could_have_been_missed(spots: str, pocket: float, words: str) -> None:
    """1 - 0.05 ** (1 / m): 95 % for one spot, 35 % for seven; METHODS part A gives 20 % for 14 random readings."""
    found = element(floor(spots))
    assert found.smallest_pocket == pytest.approx(pocket, abs=0.001)
    assert words in found.reasons[-1]


def test_the_last_visit_of_the_element_counts() -> None:
    book = floor("60, 61, 62")
    book.controls("utility/floor", CONTROLS, day=7)
    book.line("kitchen/floor", "17, 18, 19", day=7)
    found = element(book)
    assert (found.status, found.visit) == (NO_HIGHER, "d7")
    assert found.limit == found.limits.no_higher_up_to
    book.controls("utility/floor", CONTROLS, day=14)
    book.line("kitchen/floor", "60, 18, 19", day=14)
    assert element(book).limit == element(book).limits.above_beyond


def test_an_undecided_spot_of_last_visit_that_was_not_read_again_counts_as_not_read() -> None:
    book = floor("17, 18, 19, 22")
    book.controls("utility/floor", CONTROLS, day=7)
    book.line("kitchen/floor", "17, 18, 19", day=7)
    found = element(book)
    assert (found.status, found.spots_not_read) == (NO_HIGHER, ("kitchen.4",))


# -- not inspected ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("elements", "status"), [(("kitchen/floor",), CANNOT_SAY), (("kitchen/wall",), NO_HIGHER), ((), NO_HIGHER)]
)
def test_a_place_not_inspected_holds_back_what_depends_on_it(elements: tuple[str, ...], status: str) -> None:
    book = floor("17, 18, 19")
    book.write(NotInspected("void", "sealed", "may be wet", elements, at()))
    assert element(book).status == status


def test_it_does_not_undo_above() -> None:
    book = floor("60, 61, 62")
    book.write(NotInspected("void", "sealed", "may be wet", ("kitchen/floor",), at()))
    assert element(book).status == ABOVE


# -- removed ----------------------------------------------------------------------------------------------------------


def removal_of(book: FieldBook, *rested: str) -> Removed:
    entered = book.write(Spot("placeholder", "kitchen", "floor", "control"))[0]
    record = Removal("f" * 64, "asked for", "the law", "office", at(), rested)
    return Removed("phone/99", "f" * 64, "reading", replace(entered, record=record))  # type: ignore[arg-type]


def test_what_rested_on_a_removed_entry_waits_for_a_new_reading() -> None:
    """RECORD: every status that rested on what was lawfully removed becomes cannot say (removed), until read again."""
    book = floor("17, 18, 19")
    removed = removal_of(book, "kitchen.1", "kitchen/floor")
    case = replace(book.case(), removed=(removed,))
    from desorb.core.assess import assess

    found = by_id(assess(case))
    assert found["kitchen.1"].status == CANNOT_SAY
    assert found["kitchen.1"].reasons[0] == REMOVED
    assert found["kitchen.1"].next_test is not None
    assert found["kitchen.2"].status == NO_HIGHER
    assert found["kitchen/floor"].status == CANNOT_SAY
    assert found["kitchen/floor"].reasons[0] == REMOVED
    book.controls("utility/floor", CONTROLS, day=7)
    book.line("kitchen/floor", "17, 18, 19", day=7)
    again = by_id(assess(replace(book.case(), removed=(removed,))))
    assert {each.status for each in again.values()} == {NO_HIGHER}


def test_the_order_decides_whether_something_was_read_since() -> None:
    book = floor("17")
    removed = removal_of(book, "kitchen.1")
    case = replace(book.case(), removed=(removed,))
    order = removed.removal.order
    assert rested_on_removed("kitchen.1", order - 1, case)
    assert not rested_on_removed("kitchen.1", order, case)
    assert not rested_on_removed("kitchen.2", 0, case)


# -- doubtful descriptions --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("record", "said"),
    [
        (
            Zone("kitchen", "kitchen", "other", affected="yes"),
            "zone kitchen was described again: construction was screed, is other now",
        ),
        (Zone("kitchen", "kitchen", "screed"), "affected was yes, is not stated now"),
        (Construction("screed", "screed", "concrete", "1996"), "material was cement screed, is concrete now"),
        (Construction("screed", "screed", "cement screed", "2005"), "built was 1996, is 2005 now"),
        (Spot("kitchen.1", "utility", "wall"), "zone was kitchen, is utility now; element was floor, is wall now"),
        (Spot("kitchen.1", "kitchen", "floor", "control"), "role was survey, is control now"),
    ],
)
def test_what_was_described_again_with_another_meaning_is_said(record: object, said: str) -> None:
    book = floor("17")
    book.write(record)
    findings = doubtful_descriptions(book.case())
    assert [finding.code for finding in findings] == ["described-again"]
    assert said in findings[0].words
    assert findings[0].blocks == "nothing"


@pytest.mark.parametrize(
    "record",
    [
        Zone("kitchen", "other words", "screed", "north", "yes", ("0 0",)),
        Construction("screed", "other words", "cement screed", "1996", risks=("heated",)),
        Spot("kitchen.1", "kitchen", "floor", x="1"),
        Zone("new", "new", "screed"),
    ],
)  # fmt: skip
def test_more_detail_is_no_other_meaning(record: object) -> None:
    book = floor("17")
    book.write(record)
    assert doubtful_descriptions(book.case()) == []


def test_words_about_elements_that_are_not_there() -> None:
    book = floor("17")
    book.write(NotInspected("void", "sealed", "wet?", ("kitchen/floor", "kitchen/Floor", "attic/floor"), at()))
    book.write(
        SaltTest("kitchen", "floor", "positive", "strip", at()), SaltTest("kitchen", "wall", "positive", "strip", at())
    )
    findings = doubtful_descriptions(book.case())
    assert [finding.code for finding in findings] == ["names-nothing"] * 3
    assert [
        "'kitchen/Floor'" in findings[0].words,
        "'attic/floor'" in findings[1].words,
        "'kitchen/wall'" in findings[2].words,
    ] == [True] * 3
    assert "known: kitchen/floor, utility/floor" in findings[0].next_step


def test_before_any_spot_is_described_nothing_is_known() -> None:
    book = FieldBook()
    book.write(NotInspected("void", "sealed", "wet?", ("kitchen/floor",), at()))
    assert "known: none yet" in doubtful_descriptions(book.case())[0].next_step
