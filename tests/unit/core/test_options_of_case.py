"""Options of an element beside each other, as recorded; people decide. All costs and persons are invented."""

from __future__ import annotations

import pytest
from case_builder import FieldBook, at

from desorb.core.drying_of_case.options import options_shown
from desorb.core.kinds import DryingOption, OptionCost, OptionTaken, WaterOrigin

PLACE = ("kitchen", "floor")


def _option(option: str, contamination: str = "clean", evidence: str = "no mould seen") -> DryingOption:
    return DryingOption(*PLACE, option, evidence, "visit d1", contamination, "note of d1", at())


def _cost(option: str, amount: str, name: str = "hire", **parts: str) -> OptionCost:
    return OptionCost(
        *PLACE, option, name, amount, parts.pop("currency", "GBP"), "quotation 7, invented", at(), **parts
    )


def _both() -> FieldBook:
    book = FieldBook()
    book.write(_option("dry"), _option("strip"), _cost("dry", "40", days="12"), _cost("strip", "900", "labour"))
    return book


def test_both_options_stand_with_cost_and_source_and_nothing_is_decided() -> None:
    (shown,) = options_shown(_both().case())
    assert shown.id == "kitchen/floor"
    assert shown.status == "not decided"
    assert "dry: 480" in shown.words
    assert "strip: 900 GBP" in shown.words
    assert shown.words.count("quotation 7, invented") == 2
    assert "does not decide" in shown.next_steps[0]
    assert [row[:5] for row in shown.tables[1].rows] == [
        ("dry", "hire", "40", "GBP", "12"), ("strip", "labour", "900", "GBP", ""),
    ]  # fmt: skip
    assert any("gates of opening up" in each for each in shown.cautions)


def test_who_decided_is_said_and_an_earlier_decision_stays_visible() -> None:
    book = _both()
    book.write(
        OptionTaken(*PLACE, "strip", "first thought", at(1), "R. Marsh"),
        OptionTaken(*PLACE, "dry", "owner asks", at(2), "K. Lind"),
    )
    (shown,) = options_shown(book.case())
    assert shown.status == "decided: dry"
    assert "decided by K. Lind" in shown.words
    assert any("first thought" in each and "R. Marsh" in each for each in shown.notes)


def test_a_cost_entered_again_under_its_name_stands_as_it_was_entered_last() -> None:
    book = _both()
    book.write(_cost("strip", "950", "labour"))
    (shown,) = options_shown(book.case())
    assert "strip: 950 GBP" in shown.words


def test_foul_water_is_a_caution_before_all_else() -> None:
    book = _both()
    book.write(_option("dry", "foul", "grey silt"))
    (shown,) = options_shown(book.case())
    assert any(each.startswith("dry: Caution, foul") for each in shown.cautions)
    assert any("several ways" in each for each in shown.notes)
    assert "no mould seen" in shown.words
    assert "grey silt" in shown.words


@pytest.mark.parametrize(("origin", "mould", "said"), [("foul", "no", "Foul water"), ("clean", "yes", "Visible mould")])
def test_an_option_called_clean_where_the_record_says_otherwise_is_said(origin: str, mould: str, said: str) -> None:
    """The drain came up, and somebody entered "dry: clean": the two are held against each other before any cost."""
    book = _both()
    (entered,) = book.write(WaterOrigin("kitchen", origin, "seen", at(), "R. Marsh", mould))
    (shown,) = options_shown(book.case())
    assert shown.cautions[0].startswith(f"{said} is on record for kitchen ({entered.entry}")
    assert "dry (clean), strip (clean)" in shown.cautions[0]
    alone = FieldBook()
    alone.write(_option("dry"), WaterOrigin("kitchen", origin, "seen", at(), "R. Marsh", mould))
    assert any(said in each for each in options_shown(alone.case())[0].cautions)  # also where nothing can be compared
    agreed = FieldBook()
    agreed.write(
        _option("dry", "foul"), _option("strip", "foul"), WaterOrigin("kitchen", origin, "seen", at(), "", mould)
    )
    assert not any("on record" in each for each in options_shown(agreed.case())[0].cautions)


def test_what_cannot_be_compared_is_said_with_the_next_step() -> None:
    """One option; two currencies; a cost of an option that nobody recorded; a decision stands all the same."""
    book = FieldBook()
    book.write(
        _option("dry"), _cost("dry", "40"), _cost("clean", "10"), OptionTaken(*PLACE, "dry", "agreed", at(), "K. Lind")
    )
    (shown,) = options_shown(book.case())
    assert shown.status == "cannot be compared"
    assert "One option is no comparison" in shown.words
    assert "Decided all the same: dry, by K. Lind" in shown.words
    assert shown.next_steps[0].startswith("add what else")
    assert any("cost of clean" in each for each in shown.notes)
    other = _both()
    other.write(_cost("strip", "5", "skip", currency="EUR"))
    (shown,) = options_shown(other.case())
    assert "several currencies" in shown.words


def test_a_broken_cost_breaks_nothing() -> None:
    book = _both()
    book.write(_cost("dry", "forty"), _cost("strip", "5", "labour", days="soon"))
    (shown,) = options_shown(book.case())
    assert shown.status == "cannot be compared"
    assert shown.next_steps[0]
    assert options_shown(FieldBook().case()) == ()
