"""Facts that every damp meter teaches its owner, as bare numbers (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builder import CONCRETE, METER, FieldBook, all_words

from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER

TO_6_9 = replace(CONCRETE, key="oven-eq", top="6.9")
OTHER = replace(CONCRETE, key="other-eq", method="carbide test", basis="wet", top="6.0")
TWO_CLAIMS = replace(METER, scales=(*METER.scales, TO_6_9, OTHER))


def book_of_slab() -> FieldBook:
    book = FieldBook()
    book.write(TWO_CLAIMS)
    book.building("slab", "concrete", "shop", "store: sound", built="2004")
    return book


def test_a_scale_may_end_at_6_9() -> None:
    """6.9 is the last figure of an oven-equivalent scale for concrete: 'at least 6.9', never '6.9 per cent'."""
    book = book_of_slab()
    book.controls("store/floor", "3.1, 3.3, 3.2", scale="oven-eq")
    book.line("shop/floor", "6.9, 6.9 6.9 6.9, 6.8", scale="oven-eq")
    found = book.assessed()
    texts = {each.id: each.value_text for each in found.spots}
    assert texts == {"shop.1": "\u2265 6.9 %", "shop.2": "\u2265 6.9 %", "shop.3": "6.8 %"}
    assert {each.status for each in found.spots} == {ABOVE}  # at least 6.9 is above 3.2, whatever it is
    assert "at least this, and that is already above" in found.spots[0].reasons[0]


def test_two_readings_at_the_end_are_no_standstill() -> None:
    """6.9 today and 6.9 next week: it may have doubled. Nothing says 'unchanged'."""
    book = book_of_slab()
    for day in (0, 7):
        book.controls("store/floor", "3.1, 3.3, 3.2", scale="oven-eq", day=day)
        book.line("shop/floor", "6.9", scale="oven-eq", day=day)
    history = book.assessed(history=True).history
    assert [each.value_text for each in history] == ["\u2265 6.9 %"] * 2
    assert "unchanged" not in " ".join(reason for each in history for reason in each.reasons)


def test_one_place_on_two_equivalent_scales() -> None:
    """4.4 on one and 2.6 on another at the same place: two claims of different methods. No mean, no conversion."""
    book = book_of_slab()
    book.line("shop/floor", "4.4", scale="oven-eq", names="door")
    book.line("shop/floor", "2.6", scale="other-eq", names="door")
    door = book.spot("door")
    assert door.status == CANNOT_SAY
    said = f"{door.value_text} {door.other_lines[0]}"
    assert "4.4 %" in said
    assert "2.6 %" in said
    assert "no mean and no conversion" in " ".join(door.reasons)
    for invented in ("3.5", "1.8", "0.59", "1.69"):  # mean, difference, ratios
        assert invented not in all_words(book.assessed().all)


def test_a_control_on_the_other_claim_is_no_control() -> None:
    """The sound store was read on the other equivalent scale: refused, and the fields of the scale are named."""
    book = book_of_slab()
    book.controls("store/floor", "2.5, 2.6, 2.4", scale="other-eq")
    book.line("shop/floor", "4.4", scale="oven-eq")
    shop = book.spot("shop.1")
    assert shop.status == CANNOT_SAY
    assert all("scale" in " ".join(refusal.fields) for refusal in shop.controls_refused)
    assert "other-eq" in shop.controls_refused[0].words


def test_two_coverings_on_one_evenly_wet_floor() -> None:
    """68 through one covering, 62 through another, the bare value unknown: no pass, no covering correction."""
    book = book_of_slab()
    book.line("shop/floor", "68", covering="vinyl", names="a")
    book.line("shop/floor", "62", covering="ceramic", names="b")
    found = book.assessed()
    assert {each.status for each in found.all} == {CANNOT_SAY}
    words = all_words(found.all)
    for invented in ("65", "1.097", "0.912", "corrected"):
        assert invented not in words
    assert not any(each.value not in (68.0, 62.0, None) for each in found.all)


def test_like_covered_controls_make_it_no_pass_either() -> None:
    """62 through ceramic beside 61, 63, 62 through the same ceramic: not above, and no pass: the tiles may hide water."""
    book = book_of_slab()
    book.controls("store/floor", "61, 63, 62", covering="ceramic")
    book.line("shop/floor", "62, 99", covering="ceramic")
    assert book.statuses() == {"shop.1": CANNOT_SAY, "shop.2": ABOVE}
    assert "can show above, never no higher" in book.spot("shop.1").reasons[0]


def test_neither_covering_serves_as_control_of_the_other() -> None:
    book = book_of_slab()
    book.controls("store/floor", "62, 63, 61", covering="ceramic")
    book.line("shop/floor", "60", covering="vinyl")
    shop = book.spot("shop.1")
    assert shop.status == CANNOT_SAY
    assert [refusal.fields for refusal in shop.controls_refused] == [("covering",)] * 3
    assert "ceramic" in shop.controls_refused[0].words


@pytest.mark.parametrize("covering", ["paint", "varnish", "bituminous adhesive", "other: floor sealer"])
def test_an_equivalent_through_a_coating_is_no_figure(covering: str) -> None:
    """4.6 through a coating, with controls of 4.5 through the same coating: the figure is kept, and decides nothing."""
    book = book_of_slab()
    book.controls("store/floor", "4.5, 4.6, 4.4", scale="oven-eq", covering=covering)
    book.line("shop/floor", "4.6, 6.5", scale="oven-eq", covering=covering)
    found = book.assessed()
    assert [each.status for each in found.spots] == [CANNOT_SAY] * 2
    assert "not a valid figure" in found.spots[0].reasons[0]
    assert found.spots[0].value_text == "4.6 %"
    assert found.spots[0].next_test is not None
    assert found.spots[0].next_test.key in ("bare patch", "lift covering")


def test_9_9_on_a_wall_means_nothing_by_itself() -> None:
    """9.9 comparative: low, high or neither? It takes the unaffected part of the same wall to say."""
    book = FieldBook()
    book.building("wall", "plaster", "north", "north-high: sound", built="1930")
    book.line("north/wall", "9.9", scale="fine comparative")
    alone = book.spot("north.1")
    assert alone.status == CANNOT_SAY
    assert "0 comparable of 3" in alone.reasons[0]
    assert alone.limit is None
    book.controls("north-high/wall", "9.6, 9.9, 10.1, 9.8", scale="fine comparative")
    assert book.spot("north.1").status == NO_HIGHER


def test_the_same_9_9_beside_a_drier_wall() -> None:
    """The same figure is above where the sound part of the same wall reads 4: there is no universal threshold."""
    book = FieldBook()
    book.building("wall", "plaster", "north", "north-high: sound", built="1930")
    book.controls("north-high/wall", "4.1, 4.0, 4.3, 3.9", scale="fine comparative")
    book.line("north/wall", "9.9", scale="fine comparative")
    assert book.spot("north.1").status == ABOVE


def test_another_wall_is_no_control_for_it() -> None:
    """The sound wall across the corridor is another construction, though its plaster looks the same."""
    book = FieldBook()
    book.building("wall", "plaster", "north", built="1930")
    book.building("partition", "plaster", "corridor: sound", built="1930", words="wall")
    book.controls("corridor/wall", "9.6, 9.9, 10.1, 9.8", scale="fine comparative")
    book.line("north/wall", "9.9", scale="fine comparative")
    north = book.spot("north.1")
    assert north.status == CANNOT_SAY
    assert {"construction"} <= set(north.controls_refused[0].fields)
