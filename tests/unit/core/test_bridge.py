"""Two instruments or two operators: joined on evidence only."""

from __future__ import annotations

import numpy as np
import pytest

from desorb.core.bridge import LEAST_PAIRS, Pair, agreement
from desorb.errors import InputError

SECOND_READS = {
    "k1": (15, 15.4),
    "k2": (22, 21.8),
    "k3": (35, 35.3),
    "k4": (51, 50.7),
    "k5": (70, 70.2),
    "k6": (84, 84.1),
}


def _pairs(**changed: tuple[float, float]) -> list[Pair]:
    return [Pair(spot, *both) for spot, both in (SECOND_READS | changed).items()]


def test_six_spots_from_dry_to_wet_that_agree_join_the_trend_and_show_by_how_much() -> None:
    """The meter was changed half way: six spots read with both let me go on with the same line, and show the spread."""
    found = agreement(_pairs(), allowed=2)
    differences = np.array([0.4, -0.2, 0.3, -0.3, 0.2, 0.1])
    assert found.joined
    assert found.pairs == 6
    assert found.mean_difference == pytest.approx(differences.mean())
    assert found.spread == pytest.approx(differences.std(ddof=1))
    # Student's t(0.975, 5) = 2.5706, any printed table of t; checked here beside the formula
    reach = 2.5706 * differences.std(ddof=1) * (1 + 1 / 6) ** 0.5
    assert found.limits == pytest.approx((differences.mean() - reach, differences.mean() + reach), abs=1e-4)
    assert "break" in found.next_step


def test_four_spots_are_too_few_and_the_next_step_is_one_more() -> None:
    """I read only four spots with both meters: the lines stay apart, and I am told how many are missing."""
    found = agreement(_pairs()[: LEAST_PAIRS - 1], allowed=2)
    assert not found.joined
    assert found.limits is None
    assert "read 1 more" in found.next_step


def test_spots_at_the_end_of_the_scale_do_not_fill_up_the_set() -> None:
    """Two of my six spots stood at the top of the scale: they have no difference and count for nothing."""
    pairs = _pairs()
    pairs[4:] = [Pair("k5", 100, 100, clipped=True), Pair("k6", 100, 100, clipped=True)]
    found = agreement(pairs, allowed=2)
    assert not found.joined
    assert found.clipped == ("k5", "k6")
    assert found.pairs == 4


def test_six_dry_spots_say_nothing_of_wet_ones() -> None:
    """All my overlap was on the dry side: that does not carry over to the wet wall."""
    found = agreement([Pair(f"k{n}", 15 + n / 10, 15 + n / 9) for n in range(6)], allowed=2)
    assert not found.joined
    assert "nothing of wetter" in found.words


def test_a_meter_that_reads_five_higher_is_not_joined_and_no_reading_is_changed() -> None:
    """The new meter reads five digits higher everywhere: I am told so, nothing is corrected, the line begins again."""
    found = agreement([Pair(spot, first, second + 5) for spot, (first, second) in SECOND_READS.items()], allowed=2)
    assert not found.joined
    assert found.mean_difference == pytest.approx(5.0833, abs=1e-3)
    assert "begin the trend again" in found.next_step


def test_a_difference_that_grows_with_wetness_is_shown() -> None:
    """The second meter drifts away towards the wet end: the mean alone would hide it."""
    found = agreement([Pair(f"k{n}", 10 * n, 10.5 * n) for n in range(1, 9)], allowed=10)
    assert found.trend == pytest.approx(0.5 * 7, rel=1e-9)


def test_two_scales_have_no_difference() -> None:
    """One is in wood-equivalent per cent, the other has no unit: no bridge, whatever the overlap."""
    found = agreement(_pairs(), allowed=50, same_scale=False, between="m1 and m2")
    assert not found.joined
    assert found.mean_difference is None
    assert "share a scale" in found.words


@pytest.mark.parametrize("allowed", [0, -1, float("nan"), float("inf")])
def test_an_allowed_difference_that_is_none_is_refused(allowed: float) -> None:
    """I left the allowed difference empty: I am asked for it."""
    with pytest.raises(InputError, match="allowed difference"):
        agreement(_pairs(), allowed=allowed)


def test_a_spot_given_twice_and_a_reading_that_is_no_number_are_refused() -> None:
    """A double row or a hole in the table is named, not averaged away."""
    with pytest.raises(InputError, match="twice"):
        agreement([*_pairs(), Pair("k1", 15, 15)], allowed=2)
    with pytest.raises(InputError, match="k1"):
        agreement(_pairs(k1=(float("nan"), 15)), allowed=2)
