"""Which limit a result is held against, and when no limit is given until a person chooses."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from desorb.core.limits import Limit, acceptance
from desorb.errors import InputError

CARBIDE = "carbide moisture"
BOX = "relative humidity under a box"
# FLR-CM-01, -04, -05, -06 of the project's collection of limits
CEMENT_DE = Limit(
    "FLR-CM-01", CARBIDE, "<=", Decimal("2.0"), "CM-%", "DIN 18560-1", "2015-11", region="DE", material="cement",
    heated="no",
)  # fmt: skip
CEMENT_CH = replace(CEMENT_DE, key="FLR-CM-06", value=Decimal("2.3"), standard="SIA 253", edition="?", region="CH")
SULPHATE_NEW = replace(
    CEMENT_DE, key="FLR-CM-04", value=Decimal("0.5"), material="calcium sulphate", heated="yes"
)  # fmt: skip
SULPHATE_OLD = replace(
    SULPHATE_NEW, key="FLR-CM-05", value=Decimal("0.3"), standard="TKB-8", edition="2004", superseded=True
)
# FLR-RH-02 and its note
TIMBER_NEW = Limit(
    "FLR-RH-02", BOX, "<=", Decimal(65), "%RH", "BS 8201", "2011", region="UK", covering="timber"
)  # fmt: skip
TIMBER_OLD = replace(TIMBER_NEW, key="FLR-RH-02-earlier", value=Decimal(75), edition="before 2011", superseded=True)
MAKER = Limit(
    "maker", BOX, "<=", Decimal(60), "%RH", "data sheet of the maker", "March 2026", covering="timber", read="user"
)  # fmt: skip
FLOOR = (CEMENT_DE, CEMENT_CH, SULPHATE_NEW, SULPHATE_OLD, TIMBER_NEW, TIMBER_OLD)


def test_one_limit_that_applies_is_given_with_its_edition() -> None:
    """Unheated cement screed in Germany: 2.0 CM-%, and where that stands."""
    found = acceptance(FLOOR, CARBIDE, "cement", "no", "", "DE")
    assert found.limit == CEMENT_DE
    assert found.conflicts == ()
    assert "2.0 CM-%" in found.next_step
    assert "2015-11" in found.next_step


def test_an_edition_that_is_not_known_is_to_be_found_out() -> None:
    unknown = replace(CEMENT_DE, edition="edition not stated where the figure was found")
    assert "find out its edition" in acceptance([unknown], CARBIDE, "cement", "no", "", "DE").next_step


@pytest.mark.parametrize("limits", [(TIMBER_NEW, TIMBER_OLD), (TIMBER_OLD, TIMBER_NEW)])
def test_two_editions_give_no_limit_until_someone_chooses(limits: tuple[Limit, ...]) -> None:
    """Timber floor: 65 or 75? The standard changed and the trade still quotes the old number."""
    found = acceptance(limits, BOX, covering="timber", region="UK")
    assert found.limit is None
    assert found.next_step.startswith("choose, with a reason")
    assert {"FLR-RH-02", "FLR-RH-02-earlier"} == {each.key for each in found.others}
    (sentence,) = found.conflicts
    assert all(part in sentence for part in ("65", "75", "2011", "before 2011", "BS 8201", "edition"))


def test_a_choice_with_a_reason_gives_the_limit_and_keeps_the_conflict() -> None:
    found = acceptance(
        FLOOR, BOX, covering="timber", region="UK", choice="FLR-RH-02", reason=" the contract names 2011 "
    )  # fmt: skip
    assert found.limit == TIMBER_NEW
    assert found.reason == "the contract names 2011"
    assert found.others == (TIMBER_OLD,)
    assert len(found.conflicts) == 1


@pytest.mark.parametrize(("choice", "value"), [("FLR-CM-04", "0.5"), ("FLR-CM-05", "0.3")])
def test_heated_calcium_sulphate_needs_a_choice_between_both_figures(choice: str, value: str) -> None:
    """The parquet layer asks 0.3, the standard says 0.5: I decide, and say why."""
    asked = (FLOOR, CARBIDE, "calcium sulphate", "yes", "", "DE")
    assert acceptance(*asked).limit is None
    chosen = acceptance(*asked, choice=choice, reason="agreed with the layer").limit
    assert chosen is not None
    assert chosen.value == Decimal(value)


@pytest.mark.parametrize("reason", ["", "   "])
def test_a_choice_without_a_reason_is_refused(reason: str) -> None:
    with pytest.raises(InputError, match=r"without a reason.*Next: write down why"):
        acceptance(FLOOR, BOX, covering="timber", region="UK", choice="FLR-RH-02", reason=reason)


def test_a_choice_that_does_not_apply_here_is_refused() -> None:
    with pytest.raises(InputError, match=r"got FLR-CM-01; wanted FLR-RH-02, FLR-RH-02-earlier"):
        acceptance(FLOOR, BOX, covering="timber", region="UK", choice="FLR-CM-01", reason="x")


def test_two_countries_conflict_where_no_country_was_named() -> None:
    found = acceptance(FLOOR, CARBIDE, "cement", "no")
    assert found.limit is None
    assert "country" in found.conflicts[0]
    swiss = acceptance(FLOOR, CARBIDE, "cement", "no", "", "CH")
    assert swiss.limit == CEMENT_CH


def test_a_disputed_limit_needs_a_choice_even_alone() -> None:
    """FLR-RH-31: 65 % of crushed heated screed, which part of the trade rejects."""
    crushed = replace(CEMENT_DE, key="FLR-RH-31", value=Decimal(65), unit="%RH", disputed="the screed trade rejects it")
    found = acceptance([crushed], CARBIDE, "cement", "no", "", "DE")
    assert found.limit is None
    assert "the screed trade rejects it" in found.conflicts[0]


def test_a_superseded_limit_alone_does_not_apply_by_itself() -> None:
    found = acceptance([TIMBER_OLD], BOX, covering="timber", region="UK")
    assert found.limit is None
    assert "Only a superseded limit" in found.conflicts[0]
    assert acceptance([TIMBER_OLD], BOX, covering="timber", choice=TIMBER_OLD.key, reason="x").limit == TIMBER_OLD


def test_a_superseded_row_never_wins_by_being_strict() -> None:
    """Same standard and edition words, lower number, struck out: still not taken."""
    struck = replace(TIMBER_NEW, key="struck", value=Decimal(50), superseded=True)
    assert acceptance([struck, TIMBER_NEW], BOX, covering="timber").limit == TIMBER_NEW


def test_the_strictest_wins_and_the_makers_sheet_takes_part() -> None:
    assert acceptance([TIMBER_NEW, MAKER], BOX, covering="timber", region="UK").limit == MAKER
    loose = replace(MAKER, value=Decimal(70))
    found = acceptance([loose, TIMBER_NEW], BOX, covering="timber", region="UK")
    assert found.limit == TIMBER_NEW
    assert found.others == (loose,)
    assert acceptance([MAKER], BOX, covering="timber").limit == MAKER


def test_a_makers_limit_stricter_than_both_editions_needs_no_choice_but_the_conflict_is_told() -> None:
    found = acceptance([TIMBER_NEW, TIMBER_OLD, MAKER], BOX, covering="timber", region="UK")
    assert found.limit == MAKER
    assert found.conflicts
    between = replace(MAKER, value=Decimal(70))
    assert acceptance([TIMBER_NEW, TIMBER_OLD, between], BOX, covering="timber", region="UK").limit is None


def test_choosing_a_looser_edition_does_not_undo_the_makers_limit() -> None:
    found = acceptance(
        [TIMBER_NEW, TIMBER_OLD, MAKER], BOX, covering="timber", choice=TIMBER_OLD.key, reason="old contract"
    )
    assert found.limit == MAKER


@pytest.mark.parametrize(("comparison", "strict", "loose"), [("<=", 1, 2), (">=", 2, 1), ("<", 1, 2), (">", 2, 1)])
def test_strictest_follows_the_direction(comparison: str, strict: int, loose: int) -> None:
    one = replace(MAKER, key="one", comparison=comparison, value=Decimal(strict))
    two = replace(MAKER, key="two", comparison=comparison, value=Decimal(loose))
    assert acceptance([two, one], BOX, covering="timber").limit == one
    assert acceptance([one, two], BOX, covering="timber").limit == one


def test_below_is_stricter_than_at_most_for_one_number() -> None:
    below = replace(MAKER, key="below", comparison="<")
    assert acceptance([MAKER, below], BOX, covering="timber").limit == below


@pytest.mark.parametrize(
    ("change", "word"),
    [({"standard": ""}, "standard"), ({"edition": ""}, "edition"), ({"standard": " ", "edition": " "}, "standard")],
)
def test_a_limit_without_source_or_edition_is_refused(change: dict[str, str], word: str) -> None:
    """A number from the site meeting, with no sheet behind it: not for acceptance."""
    with pytest.raises(InputError, match=f"{word}.*Next: state the {word}"):
        acceptance([replace(MAKER, **change)], BOX, covering="timber")  # type: ignore[arg-type]


def test_no_limit_is_borrowed_from_another_quantity() -> None:
    """I have a hole reading, the only limit is for a box: nothing is converted."""
    found = acceptance(FLOOR, "relative humidity in a hole", covering="timber", region="UK")
    assert (found.limit, found.others) == (None, ())
    assert "none is converted" in found.next_step


def test_units_and_directions_are_not_mixed() -> None:
    with pytest.raises(InputError, match="none is converted"):
        acceptance([MAKER, replace(MAKER, unit="fraction")], BOX, covering="timber")
    with pytest.raises(InputError, match="upper and some are lower"):
        acceptance([MAKER, replace(MAKER, comparison=">=")], BOX, covering="timber")
    with pytest.raises(InputError, match="not known"):
        acceptance([replace(MAKER, comparison="=")], BOX, covering="timber")


def test_what_is_not_stated_is_asked_for() -> None:
    """I forgot to say whether the screed is heated: the limits that hang on it do not apply."""
    found = acceptance(FLOOR, CARBIDE, "cement", "", "", "DE")
    assert found.limit is None
    assert "FLR-CM-01 (cement, unheated, DE)" in found.next_step
    with pytest.raises(InputError, match="yes, no or empty"):
        acceptance(FLOOR, CARBIDE, "cement", "maybe", "", "DE")


@pytest.mark.parametrize("use", ["protocol", "planning only", "interpretation", "risk", "safety"])
def test_only_acceptance_limits_are_held_against_a_result(use: str) -> None:
    assert acceptance([replace(MAKER, use=use)], BOX, covering="timber").limit is None


def test_a_limit_of_two_countries_applies_in_each() -> None:
    both = replace(TIMBER_NEW, region="UK/IE")
    assert acceptance([both], BOX, covering="timber", region="IE").limit == both
    assert acceptance([both], BOX, covering="timber", region="FR").limit is None
