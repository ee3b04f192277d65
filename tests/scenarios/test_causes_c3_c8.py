"""Cases C3 and C8 through the cause table: condensation taken for rising damp, and for a roof leak (CASES, TASK 21)."""

from __future__ import annotations

import pytest

from desorb.core.causes.patterns import CHEAP, PATTERNS, TESTS
from desorb.core.causes.table import (
    DoneTest,
    Observation,
    Row,
    cause_table,
    causes_together_sentence,
    single_cause_sentence,
)
from desorb.errors import Refused

C3 = (
    Observation("surface at or near dew point", "seen", "surface humidity 102.7 % at 0.10 m, 11.6 degC", "C3 climate"),
    Observation("drier at depth than at the surface", "seen", "2.9 at 10-40 mm, 1.6 at 40-80 mm", "C3-4 C3-5"),
    Observation("vapour well above outside", "seen", "excess 7.56 hPa", "C3 climate"),
    Observation("still air at a cold place", "seen", "sofa 50 mm from the corner", "C3 setting"),
    Observation("high low on the wall", "seen", "43.4, 39.8, 31.6 on paint, controls 21.4", "C3-3"),
    Observation("little free moisture at depth", "seen", "free moisture 0.2 to 0.4", "C3-5"),
    Observation("no height profile at depth", "seen", "1.6, 1.5, 1.4, 1.3, 1.3, 1.2", "C3-5"),
    Observation("no salt band", "seen", "no band on the wall", "C3 conclusion"),
)
C8 = (
    Observation("uniform over all bays", "seen", "23.5, 22.8, 24.1, 23.0, 23.6, 22.9 in six bays", "C8-2"),
    Observation("no rain while it wetted", "seen", "no rain for 9 days", "C8 climate"),
    Observation("surface at or near dew point", "seen", "underlay -0.5 degC: 5.89 hPa below 7.56", "C8 climate"),
    Observation("vapour well above outside", "seen", "loft excess 2.07 g/m3", "C8 climate"),
    Observation("wets after frost", "told", "drips mornings after frost", "C8 climate"),
    Observation("tile out of line", "told", "one tile out of line, by the roofer", "C8 traps"),
)


def row_of(rows: tuple[Row, ...], cause: str) -> Row:
    return next(row for row in rows if row.cause == cause)


def test_c3_condensation_first_and_rising_damp_low() -> None:
    """A contractor quoted injection on readings low on the wall. What does the evidence say?"""
    rows = cause_table(C3)
    assert (rows[0].cause, rows[0].rank) == ("condensation", 1)
    assert rows[1].rank > 1
    ground = row_of(rows, "ground or rising")
    assert ground.rank == max(row.rank for row in rows)
    assert {each.name for each in ground.evidence_against} == {
        "no height profile at depth", "little free moisture at depth", "no salt band", "drier at depth than at the surface",
    }  # fmt: skip
    assert [each.name for each in ground.evidence_for] == ["high low on the wall"]


def test_c3_free_moisture_at_depth_is_what_the_observation_says() -> None:
    """C3-5: total minus hygroscopic at six heights."""
    total, hygroscopic = (1.6, 1.5, 1.4, 1.3, 1.3, 1.2), (1.2, 1.2, 1.1, 1.1, 1.0, 1.0)
    free = [round(a - b, 1) for a, b in zip(total, hygroscopic, strict=True)]
    assert (min(free), max(free)) == (0.2, 0.4)


def test_c3_no_single_cause_while_a_cheap_test_of_a_rival_is_undone() -> None:
    """May I write that it is condensation? Not yet, and here is what to do first."""
    with pytest.raises(Refused) as caught:
        single_cause_sentence(cause_table(C3), "condensation")
    assert "a cheap test of it is not done" in caught.value.got
    assert caught.value.next_step
    done = [
        DoneTest(
            test.name,
            tuple(c for c, p in PATTERNS.items() if test.name in p.tests and c != "condensation"),
            f"{test.name} done",
            f"e {test.name}",
        )
        for test in TESTS.values()
        if test.cost_rank <= CHEAP
    ]
    assert "consistent with condensation" in single_cause_sentence(cause_table(C3, done), "condensation")
    for rival_test in ("meter no-use", "look at levels", "compare with rain"):
        spoilt = [DoneTest(t.test, (), t.words, t.entry) for t in done if t.test != rival_test]
        with pytest.raises(Refused, match="is not disproved"):
            single_cause_sentence(cause_table(C3, spoilt), "condensation")


def test_c3_rising_damp_is_refused_however_it_is_asked() -> None:
    """The contractor asks for the sentence he quoted for."""
    with pytest.raises(Refused, match="may not be named before"):
        single_cause_sentence(cause_table(C3), "ground or rising")
    with pytest.raises(Refused, match="may not be named before"):
        causes_together_sentence(cause_table(C3), ["condensation", "ground or rising"])


def test_c8_no_rain_and_uniform_speak_against_a_roof_leak() -> None:
    """The roofer quoted a new underlay. It had not rained for nine days."""
    rows = cause_table(C8)
    assert rows[0].cause == "condensation"
    roof = row_of(rows, "roof or rain")
    assert [each.name for each in roof.evidence_against] == ["no rain while it wetted", "uniform over all bays"]
    assert [(each.name, each.known) for each in roof.evidence_for] == [("tile out of line", "told")]
    assert roof.rank == max(row.rank for row in rows)
    with pytest.raises(Refused, match="nothing was seen that speaks for it"):
        single_cause_sentence(rows, "roof or rain")


def test_c8_two_causes_at_once_are_allowed() -> None:
    """I saw the tile myself, and a run below it: the loft may condense and leak."""
    seen = Observation("local stain below a path", "seen", "stain in the north bedroom", "C8-4")
    rows = cause_table([*C8, seen])
    sentence = causes_together_sentence(rows, ["condensation", "roof or rain"])
    assert "More than one cause may act at once" in sentence
    assert "no rain for 9 days" in sentence
    assert "next test: set the dates of wetting beside the rain record" in sentence
    with pytest.raises(Refused):
        single_cause_sentence(rows, "condensation")
