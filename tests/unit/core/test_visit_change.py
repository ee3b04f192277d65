"""What changed at a spot between two visits: only what its own scale can show."""

from __future__ import annotations

from decimal import Decimal

import pytest
from report_case import COMPARATIVE, at, furnish, open_book, sweep

from desorb.core.assess import assess
from desorb.core.case import Case
from desorb.core.kinds import NotRead, Visit
from desorb.core.visit_change import (
    AT_AN_END,
    FELL,
    FIRST,
    NOT_COMPARABLE,
    NOT_READ,
    ROSE,
    SAME,
    SpotChange,
    visit_changes,
)


def case_of(first: dict[str, str], second: dict[str, str], covering: str = "bare") -> Case:
    book = open_book()
    furnish(book)
    book.write(Visit("v1", at(0, 9), "R. Marsh"))
    sweep(book, "v1", 0, first)
    book.write(Visit("v2", at(3, 9), "R. Marsh"))
    sweep(book, "v2", 3, second, covering)
    book.write(NotRead("s2", "v2", "locked", at(3, 11)))
    return book.case()


def change_of(case: Case, spot: str) -> SpotChange:
    return next(each for each in visit_changes(assess(case).evidence, case, "v1", "v2") if each.spot == spot)


@pytest.mark.parametrize(
    ("before", "after", "change", "difference"),
    [
        ("40", "42", SAME, "+2"),
        ("40", "43", ROSE, "+3"),
        ("40", "37", FELL, "\u22123"),
        ("40", "38", SAME, "\u22122"),
        ("40", "40", SAME, "0"),
        ("100", "100", AT_AN_END, ""),
        ("100", "60", AT_AN_END, ""),
        ("40", "0", AT_AN_END, ""),
    ],
)
def test_a_change_is_what_goes_beyond_repeatability(before: str, after: str, change: str, difference: str) -> None:
    """r of this scale is 2: three digits are a change, two are not, and the end of the scale shows nothing."""
    assert Decimal(COMPARATIVE.repeatability) == 2
    found = change_of(case_of({"s1": before}, {"s1": after}), "s1")
    assert (found.change, found.difference) == (change, difference)
    assert len(found.entries) == 2


def test_another_covering_is_no_trend() -> None:
    """The vinyl was lifted between the visits: the two readings are not brought together."""
    found = change_of(case_of({"s1": "16"}, {"s1": "33"}, "vinyl"), "s1")
    assert (found.change, found.difference) == (NOT_COMPARABLE, "")
    assert "covering was bare, now vinyl" in found.words


def test_a_spot_that_was_not_read_has_no_value_and_its_reason() -> None:
    """The value before is never copied down."""
    case = case_of({"s1": "40", "s2": "30", "s3": "20"}, {"s1": "40", "s4": "22"})
    assert (change_of(case, "s2").change, change_of(case, "s2").after) == (NOT_READ, "")
    assert change_of(case, "s2").words == "not read: locked"
    assert change_of(case, "s3").words == "not read, and nobody said why"
    assert change_of(case, "s4").change == FIRST
