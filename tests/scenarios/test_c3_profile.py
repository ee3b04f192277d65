"""Drilled mortar of a wall called 'rising damp' that is condensation (invented case C3, readings C3-4 to C3-6)."""

from __future__ import annotations

from decimal import Decimal

import pytest

from desorb.core.samples.carbide import dry_basis
from desorb.core.samples.profile import FIVE_PERCENT, DrilledSample, WallProfile, wall_profile

HEIGHTS = ("0.15", "0.3", "0.6", "0.9", "1.2", "1.5")
NEAR = ("2.9", "2.4", "2.1", "1.9", "1.8", "1.7")  # C3-4, 10 to 40 mm
DEEP = ("1.6", "1.5", "1.4", "1.3", "1.3", "1.2")  # C3-5, 40 to 80 mm
AT_75 = ("1.2", "1.2", "1.1", "1.1", "1.0", "1.0")  # C3-5, hygroscopic at 75 %


def c3(heights: int = 6) -> WallProfile:
    near = [DrilledSample(Decimal(h), 10, 40, Decimal(t), None, True) for h, t in zip(HEIGHTS, NEAR, strict=True)]
    deep = [
        DrilledSample(Decimal(h), 40, 80, Decimal(t), Decimal(w), True)
        for h, t, w in zip(HEIGHTS, DEEP, AT_75, strict=True)
    ]
    return wall_profile([*near[:heights], *deep[:heights]])


def all_words(profile: WallProfile) -> str:
    bands = " ".join(" ".join((band.rising, band.salts, *band.warnings)) for band in profile.bands)
    return " ".join((bands, *profile.across, *profile.left_out, *profile.notes))


def test_free_moisture_at_depth() -> None:
    """Show me total and hygroscopic moisture over height, and what is free."""
    deep = c3().bands[1]
    assert [point.free for point in deep.points] == [Decimal(x) for x in ("0.4", "0.3", "0.3", "0.2", "0.3", "0.2")]
    assert [str(point.total) for point in deep.points] == list(DEEP)
    assert [str(point.hygroscopic) for point in deep.points] == list(AT_75)


def test_no_profile_from_the_base() -> None:
    """Is this rising damp, as the contractor says?"""
    near, deep = c3().bands
    assert deep.rising.startswith("Profile not consistent with rising damp: free moisture 0.2 to 0.4 %")
    assert near.rising.startswith("No opinion on rising damp")  # its hygroscopic moisture was not measured
    assert "not consistent with damp held by hygroscopic salts" in deep.salts
    assert "Wetter near the surface than inside at every height" in c3().across[0]
    assert "consistent with condensation" in c3().across[0]


@pytest.mark.parametrize("heights", [1, 2, 3])
def test_no_rising_damp_from_one_reading(heights: int) -> None:
    """I have one sample at the base: that is enough, is it not?"""
    for band in c3(heights).bands:
        assert band.rising.startswith("No opinion on rising damp")
        assert "4 wanted" in band.rising


def test_below_five_percent_is_not_dry() -> None:
    """Trap 3: '1.6 % < 5 %, so dry'."""
    profile = c3()
    assert profile.notes == (FIVE_PERCENT,)
    words = all_words(profile)
    assert words.count("5 %") == 1
    assert "not an acceptance limit" in words
    assert words.count("is dry") == words.count("says nothing about whether the wall is dry") == 1
    assert not any(word in words.lower() for word in ("so dry", "safe", "pass", "rising damp found"))


def test_the_carbide_sample() -> None:
    """C3-6: 1.5 % wet basis is 1.52 % dry basis."""
    assert round(dry_basis(1.5), 2) == 1.52
