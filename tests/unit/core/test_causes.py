"""core/causes: the patterns hold together, the table counts and never scores, one cause alone is hard to say."""

from __future__ import annotations

import dataclasses
import re

import pytest

from desorb.core.causes.patterns import CHEAP, OBSERVATIONS, PATTERNS, TESTS, disproving_tests, gates_of
from desorb.core.causes.table import (
    DoneTest,
    Observation,
    Row,
    cause_table,
    causes_together_sentence,
    single_cause_sentence,
)
from desorb.core.gates import GATES, GATES_OF_ACTION
from desorb.errors import InputError, Refused


def saw(name: str, known: str = "seen") -> Observation:
    return Observation(name, known, f"words of {name}", f"entry of {name}")


def row_of(rows: tuple[Row, ...], cause: str) -> Row:
    return next(row for row in rows if row.cause == cause)


def all_cheap(*spared: str) -> list[DoneTest]:
    """Every cheap test done; each disproves all that it can but the spared causes."""
    return [
        DoneTest(
            test.name,
            tuple(c for c, p in PATTERNS.items() if test.name in p.tests and c not in spared),
            f"{test.name} done",
            f"entry of {test.name}",
        )
        for test in TESTS.values()
        if test.cost_rank <= CHEAP
    ]


def test_every_cause_of_the_list_has_a_pattern_and_tests() -> None:
    """Which causes does the table know, and can each be disproved? (JOB 3.15)"""
    assert list(PATTERNS) == [
        "supply", "waste", "heating", "roof or rain", "penetrating", "ground or rising", "bridging", "condensation",
        "construction water", "salts", "flood", "appliance", "interference",
    ]  # fmt: skip
    for cause, pattern in PATTERNS.items():
        assert pattern.cause == cause
        assert all((pattern.speaks_for, pattern.speaks_against, pattern.tests))
        assert not set(pattern.speaks_for) & set(pattern.speaks_against)
        assert set(pattern.needs) <= set(pattern.speaks_for)
        ranks = [test.cost_rank for test in disproving_tests(cause)]
        assert ranks == sorted(ranks)
        assert ranks[0] <= CHEAP
    for name, test in TESTS.items():
        assert name == test.name
        assert 1 <= test.cost_rank <= 5
        assert test.action in GATES_OF_ACTION
        assert set(gates_of(test)) <= set(GATES)
        assert any(name in pattern.tests for pattern in PATTERNS.values())
    with pytest.raises(InputError, match="not in the table"):
        disproving_tests("rising")


def test_one_against_seen_puts_a_cause_below_one_with_none() -> None:
    """Against counts first, seen before told, and what was assumed is shown but not counted."""
    rows = cause_table(
        [saw("wets after rain"), saw("roof defect above"), saw("sound roof seen"), saw("wets after use", "told")]
    )
    assert row_of(rows, "waste").rank < row_of(rows, "roof or rain").rank
    seen = cause_table([saw("wets after use", "told"), saw("tide mark")])
    assert row_of(seen, "flood").rank == 1
    assert row_of(seen, "waste").rank == 2
    assumed = row_of(cause_table([saw("tide mark", "assumed")]), "flood")
    assert (assumed.rank, assumed.evidence_for) == (1, ())
    assert [each.name for each in assumed.assumed] == ["tide mark"]
    assert "tide mark" in assumed.missing


def test_saying_it_twice_does_not_count_twice() -> None:
    """The occupant told it three times."""
    told = [dataclasses.replace(saw("tide mark", "told"), entry=f"e{n}") for n in range(3)]
    assert len(row_of(cause_table(told), "flood").evidence_for) == 1
    both = row_of(cause_table([*told, saw("tide mark")]), "flood")
    assert [each.known for each in both.evidence_for] == ["seen"]


def test_nothing_known_ranks_all_alike_and_names_the_missing() -> None:
    """I have seen nothing yet."""
    rows = cause_table([])
    assert {row.rank for row in rows} == {1}
    for row in rows:
        assert row.next_test is not None
        assert row.missing
        with pytest.raises(Refused, match="nothing was seen"):
            single_cause_sentence(rows, row.cause)


def test_the_next_test_is_the_cheapest_undone_one_with_its_gates() -> None:
    """What do I do next, and what must be answered first?"""
    ground = row_of(cause_table([]), "ground or rising")
    assert ground.next_test is TESTS["height readings"]
    done = [DoneTest("height readings", (), "falls with height", "e1"), DoneTest("salts strip", (), "positive", "e2")]
    ground = row_of(cause_table([], done), "ground or rising")
    assert ground.next_test is TESTS["moisture profile"]
    assert ground.gates == ("asbestos", "services", "consent", "heritage")


def test_a_test_that_was_not_valid_counts_as_not_done() -> None:
    """The meter test was spoilt by a flushing tank."""
    spoilt = DoneTest("meter no-use", ("supply",), "spoilt", "e1", valid=False)
    assert not row_of(cause_table([], [spoilt]), "supply").disproved_by
    kept = row_of(cause_table([], [dataclasses.replace(spoilt, valid=True)]), "supply")
    assert kept.disproved_by
    assert kept.next_test is None
    assert kept.rank == 13


def test_rising_damp_never_from_one_reading() -> None:
    """High low on the wall, everything else disproved: may I write rising damp?"""
    cheap = all_cheap("ground or rising")
    with pytest.raises(Refused, match="free moisture at depth falls with height"):
        single_cause_sentence(cause_table([saw("high low on the wall")], cheap), "ground or rising")
    names = ["free moisture at depth falls with height", "salt band above the damp"]
    one_entry = [dataclasses.replace(saw(name), entry="e7") for name in names]
    with pytest.raises(Refused, match="one reading"):
        single_cause_sentence(cause_table(one_entry, cheap), "ground or rising")
    with pytest.raises(Refused):
        single_cause_sentence(cause_table([saw(name, "told") for name in names], cheap), "ground or rising")
    sentence = single_cause_sentence(cause_table([saw(name) for name in names], cheap), "ground or rising")
    assert sentence.startswith("What was seen is consistent with ground or rising")


def test_one_cause_alone_once_every_rival_is_tested_out() -> None:
    """Everything cheap is done: the sentence names for, against and what it withstood."""
    rows = cause_table([saw("wets after use"), saw("below a wet room")], all_cheap("waste"))
    sentence = single_cause_sentence(rows, "waste")
    for words in ("wets after use (seen", "Against it: nothing recorded", "not disproved by", "competent person"):
        assert words in sentence
    with pytest.raises(Refused, match="disproved"):
        single_cause_sentence(rows, "flood")


@pytest.mark.parametrize("left_out", [test.name for test in TESTS.values() if test.cost_rank <= CHEAP])
def test_any_single_cheap_test_left_out_is_found(left_out: str) -> None:
    """I skipped one. A rival that only it would have disproved keeps the sentence back."""
    done = [test for test in all_cheap("waste") if test.test != left_out]
    done = [dataclasses.replace(test, disproves=()) for test in done]
    rows = cause_table([saw("wets after use")], done)
    if any(left_out in PATTERNS[cause].tests for cause in PATTERNS if cause != "waste"):
        with pytest.raises(Refused) as caught:
            single_cause_sentence(rows, "waste")
        assert caught.value.next_step.startswith(left_out)


def test_a_rival_with_evidence_of_its_own_keeps_one_cause_from_being_named_alone() -> None:
    """Two causes at once: wets after use, and a tide mark."""
    known = [saw("wets after use"), saw("below a wet room"), saw("tide mark")]
    rows = cause_table(known, all_cheap("waste", "flood"))
    with pytest.raises(Refused, match="flood also has evidence"):
        single_cause_sentence(rows, "waste")
    both = causes_together_sentence(rows, ["waste", "flood"])
    for words in ("waste:", "flood:", "none of these is named alone"):
        assert words in both
    with pytest.raises(InputError, match="two or more"):
        causes_together_sentence(rows, ["waste", "waste"])
    with pytest.raises(Refused):
        causes_together_sentence(rows, ["waste", "supply"])


def test_no_percentage_and_no_score_is_shown() -> None:
    """How sure is it, in percent? No number is given."""
    rows = cause_table([saw("wets after use")], all_cheap("waste"))
    assert not {"score", "probability", "percent"} & {field.name for field in dataclasses.fields(Row)}
    assert not re.search(r"\d|%|per cent|score|likel|probab", single_cause_sentence(rows, "waste"))


def test_unknown_names_and_overdrawn_conclusions_are_refused() -> None:
    """A dye test in the shower disproves no roof leak."""
    for wrong in (saw("feels damp"), saw("tide mark", "guessed"), Observation("tide mark", "seen", " ", "e1")):
        with pytest.raises(InputError):
            cause_table([wrong])
    for test in (
        DoneTest("dye", ("roof or rain",), "no colour", "e1"),
        DoneTest("divining rod", (), "bent", "e1"),
        DoneTest("dye", ("waste",), "no colour", ""),
    ):
        with pytest.raises(InputError, match="cannot be set"):
            cause_table([], [test])
    with pytest.raises(InputError):
        single_cause_sentence(cause_table([]), "ghosts")
    assert len(OBSERVATIONS) == len(set(OBSERVATIONS))


def test_a_rival_of_equal_rank_or_a_cause_that_stood_no_test_is_refused() -> None:
    """All cheap tests are done, but two causes rank alike; or only the rivals were ever tested."""
    mixed = [saw("wets after use"), saw("uniform over all bays"), saw("tide mark"), saw("only one wall damp")]
    rows = cause_table(mixed, all_cheap("waste", "flood"))
    assert row_of(rows, "waste").rank == row_of(rows, "flood").rank
    with pytest.raises(Refused, match="flood ranks 1, waste ranks 1"):
        single_cause_sentence(rows, "waste")
    others = [test for test in all_cheap("bridging") if test.test != "look at levels"]
    rows = cause_table([saw("debris in the cavity")], others)
    with pytest.raises(Refused, match="no test that could disprove it was done") as caught:
        single_cause_sentence(rows, "bridging")
    assert caught.value.next_step.startswith("look at levels")


def test_rivals_cannot_be_left_out_of_the_table() -> None:
    """I only show the row I like."""
    rows = cause_table([saw("wets after use")], all_cheap("waste"))
    with pytest.raises(InputError, match="whole table"):
        single_cause_sentence([row for row in rows if row.cause in ("waste", "supply")], "waste")


def test_one_outlet_sound_and_the_next_not_does_not_disprove() -> None:
    """Dye in the basin did not arrive, dye in the shower did."""
    basin, shower = DoneTest("dye", ("waste",), "basin: none", "e1"), DoneTest("dye", (), "shower: arrived", "e2")
    assert row_of(cause_table([], [basin]), "waste").disproved_by == (basin,)
    assert row_of(cause_table([], [basin, shower]), "waste").disproved_by == ()
