"""Drilled masonry samples over height and depth: total, hygroscopic and free moisture, and the pattern in words.

Contents: DrilledSample; ProfilePoint; BandProfile; WallProfile; from_weighings; wall_profile.

All in % of dry mass. Hygroscopic: moisture content after standing in air of 75 % relative humidity, over sodium
chloride. Free = total - hygroscopic of the same sample. A pattern is described, a cause is never found; no figure here
accepts a wall. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from desorb.core.samples.numbers import require_between
from desorb.errors import InputError

HEIGHTS_WANTED = 4  # setting of ours, from the project's tasks (53): fewer give no opinion on rising damp
OUTER = 10  # mm; the outer 10 to 20 mm are discarded [RULES-4.1]
COUNTS = Decimal("0.5")  # points; setting of ours: smaller differences of two oven figures describe no pattern
HIGH_HYGROSCOPIC = Decimal(3)  # % of dry mass; setting of ours for "high"
FIVE_PERCENT = (
    "The published 5 % at the base of a wall speaks of how severe rising damp may be, and so how urgent treatment is. "
    "It is not an acceptance limit, and a figure below it says nothing about whether the wall is dry."
)  # [RULES-4.1]


@dataclass(frozen=True, slots=True)
class DrilledSample:
    """height: m above floor; depth: mm from the face; constant_mass: in every weighing, None if not recorded."""

    height: Decimal
    depth_from: int
    depth_to: int
    total: Decimal
    hygroscopic: Decimal | None
    constant_mass: bool | None


@dataclass(frozen=True, slots=True)
class ProfilePoint:
    """One height of one band. free: total - hygroscopic; below zero where a sample lies drier than 75 % air."""

    height: Decimal
    total: Decimal
    hygroscopic: Decimal | None
    free: Decimal | None


@dataclass(frozen=True, slots=True)
class BandProfile:
    """Two lines over height in one band of depth, and what may be said of them."""

    depth_from: int
    depth_to: int
    points: tuple[ProfilePoint, ...]
    rising: str
    salts: str
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WallProfile:
    """bands: from the face inwards. left_out: samples not used, each with its reason. notes: always shown."""

    bands: tuple[BandProfile, ...]
    across: tuple[str, ...]
    left_out: tuple[str, ...]
    notes: tuple[str, ...] = (FIVE_PERCENT,)


def from_weighings(moist: Decimal, at_75_percent: Decimal, dry: Decimal) -> tuple[Decimal, Decimal, Decimal]:
    """Total, hygroscopic and free moisture from three masses. [g], [g], [g above 0] -> [% of dry mass] x 3

    Raises OutOfRange or InputError for masses that cannot be. Source: [RULES-4.1].
    """
    require_between("dry mass", dry, 1e-6, float("inf"), "g")
    for name, mass in (("moist mass", moist), ("mass at 75 % relative humidity", at_75_percent)):
        require_between(name, mass, 0.0, float("inf"), "g")
        if mass < dry:
            raise InputError(
                f"The {name} is below the dry mass",
                got=f"{mass} g against {dry} g",
                wanted="a mass not below the dry mass",
                next_step="check the sheet of weighings and the mass of the dish",
            )
    total, hygroscopic = 100 * (moist - dry) / dry, 100 * (at_75_percent - dry) / dry
    return total, hygroscopic, total - hygroscopic


def wall_profile(samples: Sequence[DrilledSample]) -> WallProfile:
    """The samples of one vertical line of one wall, band by band. Samples without constant mass are left out and named.

    Raises InputError for no samples, a band inside out, or two samples of one height and band; OutOfRange for figures
    outside 0 to 100 %.
    """
    if not samples:
        raise InputError(
            "There is no sample for a profile", wanted="drilled samples", next_step="enter the oven results"
        )
    seen: set[tuple[int, int, Decimal]] = set()
    for sample in samples:
        require_between("total moisture", sample.total, 0.0, 100.0, "%")
        if sample.hygroscopic is not None:
            require_between("hygroscopic moisture", sample.hygroscopic, 0.0, 100.0, "%")
        require_between("height", sample.height, 0.0, 20.0, "m")
        place = (sample.depth_from, sample.depth_to, sample.height)
        if not 0 <= sample.depth_from < sample.depth_to or place in seen:
            raise InputError(
                "The samples do not make a profile",
                got=f"{_place(sample)}",
                wanted="a band from the face inwards, and one sample at each height of a band",
                next_step="check the depths, or draw a second line of samples as a profile of its own",
            )
        seen.add(place)
    left_out = tuple(
        f"{_place(sample)}: {'mass was not constant' if sample.constant_mass is False else 'constant mass not recorded'}"
        for sample in samples
        if not sample.constant_mass
    )
    used = [sample for sample in samples if sample.constant_mass]
    depths = sorted({(sample.depth_from, sample.depth_to) for sample in used})
    bands = tuple(
        _band(depth, [one for one in used if (one.depth_from, one.depth_to) == depth], depth == depths[-1])
        for depth in depths
    )
    across = tuple(_across(outer, inner) for outer, inner in itertools.pairwise(bands))
    return WallProfile(bands, across, left_out)


def _place(sample: DrilledSample) -> str:
    return f"{sample.height} m, {sample.depth_from} to {sample.depth_to} mm"


def _band(depth: tuple[int, int], samples: Sequence[DrilledSample], deepest: bool) -> BandProfile:
    points = tuple(
        ProfilePoint(
            sample.height,
            sample.total,
            sample.hygroscopic,
            None if sample.hygroscopic is None else sample.total - sample.hygroscopic,
        )
        for sample in sorted(samples, key=lambda one: one.height)
    )
    warnings = (
        (f"The band begins {depth[0]} mm from the face: the outer {OUTER} mm should be discarded.",)
        if depth[0] < OUTER
        else ()
    )
    return BandProfile(*depth, points, _rising(points, deepest), _salts(points), warnings)


def _rising(points: Sequence[ProfilePoint], deepest: bool) -> str:
    free = [point.free for point in points if point.free is not None]
    if len(free) < HEIGHTS_WANTED:
        return (
            f"No opinion on rising damp: {len(free)} heights with total and hygroscopic moisture, {HEIGHTS_WANTED} "
            "wanted. Next: drill or condition more heights."
        )
    if not deepest:
        return (
            "No opinion on rising damp from this band: water at the face makes the same pattern. See the deepest band."
        )
    shown = f"free moisture {min(free)} to {max(free)} % of dry mass"
    if max(free) <= COUNTS:
        return f"Profile not consistent with rising damp: {shown}, at no height above {COUNTS}."
    falls = all(upper <= lower + COUNTS for lower, upper in itertools.pairwise(free))
    if free[0] - free[-1] <= COUNTS or not falls:
        return f"Profile not consistent with rising damp: {shown}, not falling from the base upwards."
    if free[-1] > COUNTS:
        return (
            f"Cannot say whether the profile is consistent with rising damp: {shown}, falling upwards, but the two lines "
            "have not met at the highest sample. Next: drill higher."
        )
    return f"Profile consistent with rising damp: {shown}, falling from the base until the two lines meet."


def _salts(points: Sequence[ProfilePoint]) -> str:
    known = [(point.hygroscopic, point.free) for point in points if point.hygroscopic is not None]
    high = [free for hygroscopic, free in known if hygroscopic >= HIGH_HYGROSCOPIC and free is not None]
    if not known:
        return "No opinion on hygroscopic salts: hygroscopic moisture was not measured."
    if any(abs(free) <= COUNTS for free in high):
        return "Profile consistent with hygroscopic salts: hygroscopic moisture high, total moisture about equal to it."
    return "Profile not consistent with damp held by hygroscopic salts alone."


def _across(outer: BandProfile, inner: BandProfile) -> str:
    bands = f"{outer.depth_from} to {outer.depth_to} mm against {inner.depth_from} to {inner.depth_to} mm"
    inside = {point.height: point.total for point in inner.points}
    steps = [point.total - inside[point.height] for point in outer.points if point.height in inside]
    if not steps:
        return f"No opinion on depth ({bands}): no height was sampled in both bands."
    if min(steps) > 0 and max(steps) > COUNTS:
        return (
            f"Wetter near the surface than inside at every height ({bands}): profile consistent with condensation or "
            "with water from the face."
        )
    return f"Not wetter near the surface at every height ({bands}): profile not consistent with condensation alone."
