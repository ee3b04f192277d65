"""What the air around a piece of timber can do to it, and what its moisture content risks. Risk, never a finding of rot.

Contents: held_in_air; Reach and target_in_air (can this air dry the wood to the target?); WoodReading and decay_risk;
SERVICE_RANGES (what floors settle at in service, by heating).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from desorb.core.timber import (
    GENERIC_SCATTER,
    RANGES,
    equilibrium_moisture_content,
    relative_humidity_over_wood,
)
from desorb.errors import InputError, OutOfRange

DECAY_RISK = 20.0  # % of dry mass: not to be exceeded in service  [EN335] older edition, second hand
APART = timedelta(days=7)  # between the two visits; setting of ours
INSPECTION = (
    "decay risk: have the timber inspected by a person competent in it; a reading shows no rot and names no fungus"
)

# what a timber floor settles at, % of dry mass: heating of the building -> (low, high, how the figures were read)  [BS8201]
SERVICE_RANGES: dict[str, tuple[float, float, str]] = {
    "unheated": (15, 19, "BS 8201:1987, second hand"),
    "intermittent heating": (10, 14, "BS 8201:1987, second hand"),
    "continuous heating": (9, 11, "BS 8201, from memory"),
    "underfloor heating": (6, 8, "BS 8201, from memory"),
}


@dataclass(frozen=True, slots=True)
class Reach:
    """A target held against the air around it. Moisture contents in % of dry mass, humidity in % RH."""

    held: float  # what wood takes on in this air
    scatter: tuple[float, float]  # points either way, by species and history
    state: str  # reachable, not reachable, or cannot say
    needed_humidity: float | None  # % RH at this temperature that would hold the target; None where none is known
    words: str
    next_step: str


def held_in_air(air_temperature: float, relative_humidity: float) -> float:
    """Moisture content [% of dry mass] that air of this temperature [degC, -1.1 to 60] and humidity [% RH, 0 to 95] holds."""
    if 0 < relative_humidity < 1:
        raise OutOfRange(
            "a relative humidity below 1 % is taken for a fraction", got=f"{relative_humidity:g}", wanted="% RH",
            next_step=f"if it was meant as a fraction, give {100 * relative_humidity:g}; if not, read it again",
        )  # fmt: skip
    highest = 100 * RANGES["relative humidity"].high
    if not 0 <= relative_humidity <= highest:
        raise OutOfRange(
            "the equation for wood does not reach to this humidity", got=f"{relative_humidity:g} % RH",
            wanted=f"0 to {highest:g} % RH", next_step="nearer saturation go by readings of the timber, not by the air",
        )  # fmt: skip
    return equilibrium_moisture_content(air_temperature, relative_humidity / 100)


def target_in_air(target: float, air_temperature: float, relative_humidity: float) -> Reach:
    """Whether timber can reach `target` [%] while the air stays at this temperature [degC] and humidity [% RH, 0 to 95].

    Reachable when the air holds wood below the target by more than the scatter of species (2 points), not reachable when
    above it by more than that, else cannot say. Raises OutOfRange outside the ranges of the equation.
    """
    if not 0 < target < 30:  # above fibre saturation no air decides  [RULES-2.4]
        raise InputError(
            "this is no target for timber in air", got=f"{target:g} %", wanted="more than 0 and less than 30 %",
            next_step="take the target from a control of the same timber, or from the range in service",
        )  # fmt: skip
    held = held_in_air(air_temperature, relative_humidity)
    most = equilibrium_moisture_content(air_temperature, RANGES["relative humidity"].high)
    needed = 100 * relative_humidity_over_wood(air_temperature, target) if target <= most else None
    wide = GENERIC_SCATTER[1]
    shown = f"air of {air_temperature:g} degC and {relative_humidity:g} % holds wood near {held:.1f} % ({wide:g} points about it)"
    asks = "" if needed is None else f"; {target:g} % is held at {needed:.0f} % RH and this temperature"
    if held > target + wide:
        return Reach(
            held, GENERIC_SCATTER, "not reachable", needed, f"{shown}: {target:g} % cannot be reached in it{asks}",
            "change the air around the timber first: dry it, warm it, or part it from the wet place",
        )  # fmt: skip
    if held < target - wide:
        return Reach(
            held, GENERIC_SCATTER, "reachable", needed, f"{shown}: below the target of {target:g} %",
            "keep this air for as long as it takes, and go by readings",
        )  # fmt: skip
    return Reach(
        held, GENERIC_SCATTER, "cannot say", needed, f"{shown}: too near the target of {target:g} % to tell{asks}",
        "make the air drier, or read sound timber of the same kind in the same air as a control",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class WoodReading:
    """One reading of timber [% of dry mass], with the moment it was taken. `corrected`: for temperature and species."""

    value: float
    taken_at: datetime
    corrected: bool
    entry: str = ""


@dataclass(frozen=True, slots=True)
class DecayRisk:
    """What a series of readings at one place says about decay. `state`: risk, no sign of risk, or cannot say."""

    state: str
    words: str
    next_step: str
    entries: tuple[str, ...] = ()


def decay_risk(readings: Sequence[WoodReading], limit: float = DECAY_RISK) -> DecayRisk:
    """Risk when corrected readings stand at `limit` [%] or above on two visits at least 7 days apart.

    One high reading, or high ones close together, cannot say. Uncorrected readings count for nothing. A single low reading
    is no sign for the season to come: the wood of a roof moves through the year.
    """
    usable = sorted((each for each in readings if each.corrected), key=lambda each: each.taken_at)
    if not usable:
        return DecayRisk(
            "cannot say", "no reading is corrected for temperature and species",
            "correct by the table of the instrument, with the temperature and the species of the wood",
        )  # fmt: skip
    high = [each for each in usable if each.value >= limit]
    if high and high[-1].taken_at - high[0].taken_at >= APART:
        between = [
            each for each in usable if high[0].taken_at < each.taken_at < high[-1].taken_at and each.value < limit
        ]
        gap = f", with {len(between)} below it between" if between else ""
        words = (
            f"{len(high)} readings at or above {limit:g} % over {(high[-1].taken_at - high[0].taken_at).days} days{gap}"
        )
        return DecayRisk("risk", words, INSPECTION, tuple(each.entry for each in high))
    if high:
        since = [each for each in usable if each.taken_at > high[-1].taken_at]
        words = f"at or above {limit:g} % on {high[-1].taken_at.date()} only"
        entries = tuple(each.entry for each in high)
        if since and since[-1].taken_at - high[-1].taken_at >= APART:
            return DecayRisk(
                "cannot say", f"{words}, below it on {since[-1].taken_at.date()}: how long it was wet before is not known",
                f"ask how long it was wet before the first visit; if for weeks: {INSPECTION}", entries,
            )  # fmt: skip
        return DecayRisk(
            "cannot say", f"{words}: wet, and not known for how long",
            f"read the same place again at least {APART.days} days later, and find the source of the water meanwhile", entries,
        )  # fmt: skip
    return DecayRisk(
        "no sign of risk",
        f"{len(usable)} reading(s) below {limit:g} %, the last on {usable[-1].taken_at.date()}; other places and seasons may"
        " be wetter", "read again in the wettest season, below the surface", tuple(each.entry for each in usable),
    )  # fmt: skip
