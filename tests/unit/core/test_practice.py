"""Agreement of two people, the spread of blind repeats, and the reasons a spot rests on.

Check values: J. Cohen 1960, three words, 200 places (from memory; p_o 0.70, p_e 0.41, kappa 0.49 as printed there); the
example of two readers and 50 proposals that stands in many teaching pages (from memory; kappa 0.40). The repeats were
worked by hand.
"""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER, STATUSES, Assessment, Finding, Limits, Refusal
from desorb.core.practice import WHY, agreement_of, reasons_of, repeat_spread
from desorb.errors import InputError


def said(table: list[list[int]], words: tuple[str, ...]) -> tuple[list[str], list[str]]:
    pairs = [
        (words[row], words[column])
        for row, column in itertools.product(range(len(words)), repeat=2)
        for _ in range(table[row][column])
    ]
    return [pair[0] for pair in pairs], [pair[1] for pair in pairs]


def test_kappa_as_cohen_printed_it() -> None:
    """A reviewer who doubts the figure finds the example of the paper: 0.70 agreed, 0.41 by chance, kappa 0.49."""
    first, second = said([[88, 14, 18], [10, 40, 10], [2, 6, 12]], STATUSES)
    found = agreement_of(first, second)
    assert found.counts == ((88, 14, 18), (10, 40, 10), (2, 6, 12))
    assert (found.agreed, found.total) == (140, 200)
    assert found.by_chance == pytest.approx(0.41)
    assert found.kappa == pytest.approx(0.49, abs=0.005)


def test_kappa_of_the_fifty_proposals() -> None:
    """The second example, worked in whole numbers: (0.7 - 0.5) / (1 - 0.5) = 0.4."""
    assert agreement_of(*said([[20, 5], [10, 15]], ("yes", "no")), words=("yes", "no")).kappa == pytest.approx(0.4)


def test_kappa_at_its_ends() -> None:
    """All alike is 1; what chance gives is 0; always the opposite is below 0; one word throughout has no kappa."""
    assert agreement_of(*said([[3, 0], [0, 3]], ("a", "b")), words=("a", "b")).kappa == 1
    assert agreement_of(*said([[2, 2], [2, 2]], ("a", "b")), words=("a", "b")).kappa == 0
    assert agreement_of(*said([[0, 3], [3, 0]], ("a", "b")), words=("a", "b")).kappa == -1
    assert agreement_of(*said([[5, 0], [0, 0]], ("a", "b")), words=("a", "b")).kappa is None


@given(st.lists(st.tuples(st.sampled_from(STATUSES), st.sampled_from(STATUSES)), min_size=1, max_size=40))
def test_kappa_does_not_care_who_speaks_first(pairs: list[tuple[str, str]]) -> None:
    """Trainee and tool exchanged: the same kappa, never above 1."""
    first, second = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    one, other = agreement_of(first, second), agreement_of(second, first)
    assert one.kappa == other.kappa
    assert one.kappa is None or -1 <= one.kappa <= 1
    assert sum(map(sum, one.counts)) == len(pairs)


@pytest.mark.parametrize(("first", "second"), [([], []), (["above control"], []), (["wet"], ["above control"])])
def test_agreement_refuses_what_is_not_comparable(first: list[str], second: list[str]) -> None:
    """Another number of places or a word of one's own is said, not counted."""
    with pytest.raises(InputError):
        agreement_of(first, second)


def test_spread_of_repeats_by_hand() -> None:
    """Differences 2, -1, 0, 1: s = sqrt(6 / 8) = 0.8660; 95 % of pairs differ by less than 2.40; shift 0.5."""
    found = repeat_spread([30, 41, 52, 60], [32, 40, 52, 61])
    assert found.pairs == 4
    assert found.spread == pytest.approx(math.sqrt(6 / 8))
    assert found.limit == pytest.approx(1.96 * math.sqrt(2) * math.sqrt(0.75))
    assert found.shift == pytest.approx(0.5)


@pytest.mark.parametrize(("first", "second"), [([1.0], [2.0]), ([1.0, 2.0], [1.0]), ([1.0, math.nan], [1.0, 2.0])])
def test_spread_needs_pairs(first: list[float], second: list[float]) -> None:
    """One spot, a gap or no number: no spread."""
    with pytest.raises(InputError):
        repeat_spread(first, second)


def spot(
    status: str, value: float | None = 30, text: str = "30", covering: str = "bare", **parts: object
) -> Assessment:
    made = {
        "kind": "spot", "id": "k1", "zone": "store", "element": "floor", "visit": "v1", "status": status, "value": value,
        "value_text": text, "unit": "", "limit": None, "limits": Limits(above_beyond=22.0, no_higher_up_to=20.0, controls=5),
        "rule": "tolerance/1", "scale": "comparative", "instrument": "m1", "covering": covering, "taken_at": "", "readings": (),
        "controls_used": (), "controls_refused": (), "controls_set_aside": (), "reasons": (), "findings": (), "next_test": None,
        "gates": (),
    }  # fmt: skip
    return Assessment(**made | parts)  # type: ignore[arg-type]


FAILED = Finding("check-failed", "", "any status", "")


@pytest.mark.parametrize(
    ("assessment", "why_not", "reasons"),
    [
        (spot(ABOVE), "", ("beyond limit",)),
        (spot(NO_HIGHER, 15, "15"), "", ("within margin",)),
        (spot(CANNOT_SAY, 21, "21"), "", ("between",)),
        (spot(CANNOT_SAY, 15, "15", "vinyl"), "", ("covering",)),
        (spot(CANNOT_SAY, 21, "21", "vinyl"), "", ("between", "covering")),
        (spot(ABOVE, 100, "≥ 100", "vinyl"), "", ("beyond limit", "end of scale")),
        (spot(CANNOT_SAY, limits=Limits()), "few", ("few controls",)),
        (spot(CANNOT_SAY, limits=Limits(), controls_refused=(Refusal("q1", ("scale",), ""),)), "few",
         ("few controls", "control differs")),
        (spot(CANNOT_SAY, limits=Limits()), "stale", ("controls old",)),
        (spot(CANNOT_SAY, limits=Limits()), "moved", ("controls old",)),
        (spot(CANNOT_SAY, limits=Limits()), "at an end", ("end of scale",)),
        (spot(CANNOT_SAY, limits=Limits()), "no row", ("no margin",)),
        (spot(CANNOT_SAY, None, "removed", limits=Limits()), "", ("removed",)),
        (spot(CANNOT_SAY, 15, "15", findings=(FAILED,)), "", ("instrument",)),
        (spot(NO_HIGHER, 15, "15", findings=(Finding("check-failed", "", "", "", answered="seen to"),)), "", ("within margin",)),
    ],
)  # fmt: skip
def test_the_reasons_a_spot_rests_on(assessment: Assessment, why_not: str, reasons: tuple[str, ...]) -> None:
    """The trainee is compared with what the status really rests on, in the same short list of words."""
    assert reasons_of(assessment, why_not) == reasons
    assert set(reasons) <= set(WHY)
