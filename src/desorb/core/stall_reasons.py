"""Why a spot may have stopped getting drier: every reason with its check, in the order of the evidence that was given.

Contents: StallFacts (what was found at the job, None where nobody looked); Reason; stall_reasons.
Reasons stand in three groups: evidence for it, not checked yet, checked and nothing found; within a group in the order of
the table, which puts first what makes all other work useless, then what is quickest to see. An order, never a score: no
figure says how likely a reason is. The list of reasons is that of the trade [JOB 3.21].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from desorb.errors import InputError

FOR_IT, NOT_CHECKED, NOTHING_FOUND = "evidence for it", "not checked yet", "checked, nothing found"
STANDINGS = (FOR_IT, NOT_CHECKED, NOTHING_FOUND)
MUCH_RECIRCULATION = 0.2  # share of a unit's own outlet air in its inlet; setting of ours


@dataclass(frozen=True, slots=True)
class StallFacts:
    """What was found. None: not looked at. True speaks for the reason named beside it, False against it."""

    recirculation: float | None = None  # share of outlet air in the inlet, 0 to 1  [JOB F19]: unit short-circuit
    unit_mismatch: bool | None = None  # tank and the drop over the unit disagree: unit not working
    unit_iced: bool | None = None  # unit not working
    unit_off: bool | None = None  # its hours did not run on, or its humidistat holds it off: unit not working
    air_holds_above_target: bool | None = None  # timber in this air settles above the target: air too humid or too cold
    air_too_cold: bool | None = None  # below what the maker of the unit states: air too humid or too cold
    water_meter_runs: bool | None = None  # with all taps closed: live source
    void_wetter_than_control: bool | None = None  # trapped layer
    salts_positive: bool | None = None  # salts
    control_differs: bool | None = None  # in construction, finish, covering, scale or depth, or it moved: wrong control
    instrument_doubted: bool | None = None  # failed or missed its check, or another hand or place: instrument


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason. `check` settles it; `then` is what to do if it holds."""

    name: str
    standing: str
    why: str  # the evidence, or ''
    check: str
    then: str
    caution: str = ""


_OPENING = "opening fabric disturbs it: answer the asbestos and services gates first"
_ELECTRIC = (
    "wet electrics: stay off units, leads and sockets that may be wet until a competent person has made them safe"
)

# name, check, what to do if it holds, caution; in the order within a group (order of ours)
_TABLE = (
    ("live source", "close every tap and read the water meter twice, half an hour apart or more; then pressure, drains, rain and"
     " groundwater in turn", "have the source stopped and proved stopped before any more drying", _ELECTRIC),
    ("instrument", "read it on its check block; same instrument, scale, hand, depth and marked place as before?",
     "repeat the round with an instrument that passes; draw a break in the course", ""),
    ("wrong control", "compare construction, finish, covering, scale, depth and place of the control with the spot; read"
     " the controls again", "choose controls that match and assess again", ""),
    ("unit not working", "look for ice and a full tank; read its hours, its humidistat, and inlet and outlet air against the"
     " litres of the tank", "thaw, empty, reset or change the unit; a unit that stays iced needs warmer air or another type",
     _ELECTRIC),
    ("unit short-circuit", "measure temperature of inlet, outlet and room: does the unit draw in its own outlet air?",
     "turn or move the unit, and lead its outlet air away from its inlet", ""),
    ("air too humid or too cold", "measure air and surface temperature and humidity at the spot and in every void: what would"
     " the material settle at in this air? is the target right for this building?",
     "close off outside air, warm or dry the air, or correct the target",
     "warm humid air condenses on cold surfaces elsewhere: watch unaffected rooms"),
    ("trapped layer", "read below or behind: void, insulation, underside, each against its own control",
     "give the wet layer a way out, by a plan for that layer", _OPENING),
    ("salts", "salt strip or laboratory test; a sample by oven or carbide instead of an electrical reading",
     "judge this spot by samples; drying does not take salts away", _OPENING),
)  # fmt: skip


def stall_reasons(facts: StallFacts | None = None) -> tuple[Reason, ...]:
    """All reasons, those with evidence first; none is ever left out. Raises InputError for a recirculation outside 0 to 1."""
    known = facts or StallFacts()
    share = known.recirculation
    if share is not None and not (math.isfinite(share) and 0.0 <= share <= 1.0):
        raise InputError(
            "a recirculation is a share of air", got=str(share), wanted="0 to 1",
            next_step="measure inlet, outlet and room air again, with the unit running a quarter of an hour",
        )  # fmt: skip
    reasons = []
    for name, check, then, caution in _TABLE:
        found = _evidence(name, known)
        spoken = [words for words, holds in found if holds]
        standing = FOR_IT if spoken else NOT_CHECKED if any(h is None for _, h in found) else NOTHING_FOUND
        reasons.append(Reason(name, standing, "; ".join(spoken), check, then, caution))
    return tuple(sorted(reasons, key=lambda reason: STANDINGS.index(reason.standing)))


def _evidence(name: str, facts: StallFacts) -> tuple[tuple[str, bool | None], ...]:
    """(words, whether it holds, None where nobody looked). Partly looked at and nothing found is not checked yet."""
    share = facts.recirculation
    return {
        "live source": (("the water meter runs with all taps closed", facts.water_meter_runs),),
        "instrument": (("the instrument, its check, its hand or place is in doubt", facts.instrument_doubted),),
        "wrong control": (("the control differs from the spot, or moved", facts.control_differs),),
        "unit not working": (
            ("the unit is iced", facts.unit_iced), ("the unit was off", facts.unit_off),
            ("litres in the tank and the drop of the air disagree", facts.unit_mismatch),
        ),
        "unit short-circuit": (
            (f"{100 * (share or 0.0):.0f} % of the inlet air is the unit's own outlet air",
             None if share is None else share >= MUCH_RECIRCULATION),
        ),
        "air too humid or too cold": (
            ("timber in this air settles above the target", facts.air_holds_above_target),
            ("the air is colder than the unit is made for", facts.air_too_cold),
        ),
        "trapped layer": (("the void is wetter than its control", facts.void_wetter_than_control),),
        "salts": (("the salt test is positive", facts.salts_positive),),
    }[name]  # fmt: skip
