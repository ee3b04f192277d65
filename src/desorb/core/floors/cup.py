"""Humidity of the air over a crushed sample in a closed cup: is the test valid, and how does it stand to the limit.

Contents: CupTest; assess_cup. A fact that is not recorded makes the test not valid: it is named, never guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from desorb.core.floors.hole import MOST_DRIFT, probe_faults
from desorb.core.floors.outcome import PlaceResult, hold_against
from desorb.core.floors.plan import CRUSHED, CRUSHED_QUANTITY, FloorPlan
from desorb.core.limits import Limit
from desorb.errors import InputError

CLOSED_MINUTES = 30.0  # min; setting of ours: the source found does not give it. As long as a probe stays in a box
TEMPERATURES = (5.0, 40.0)  # degC; setting of ours: outside it a cup is no longer near a floor in use


@dataclass(frozen=True, slots=True)
class CupTest:
    """One cup, and what must be known of it. None or '': not recorded."""

    place: str
    relative_humidity: Decimal | None  # %RH
    probe_uncertainty: Decimal | None  # %RH either way
    temperature: float | None  # degC, in the cup
    minutes_closed: float | None
    fully_crushed: bool | None
    drift: Decimal | None  # %RH in the 5 min before the reading
    days_since_probe_check: float | None
    depth: str = ""  # band, such as 20-40 mm
    at_survey_place: str = ""


def assess_cup(test: CupTest, plan: FloorPlan, limit: Limit, kept: Sequence[tuple[str, str]] = ()) -> PlaceResult:
    """One cup by its plan against a limit of the corresponding humidity. kept: what is wrong with the way of the sample
    to the cup, and what to do. InputError for a plan or limit of another kind.
    """
    if plan.method != CRUSHED or plan.probe_check_days is None:
        raise InputError(
            "The plan is not for crushed samples", got=plan.method, wanted=CRUSHED, next_step="plan the crushed samples"
        )
    faults = list(kept)
    again = "take a new sample of this place and crush it"
    if test.fully_crushed is None:
        faults.append(("It is not recorded whether the sample was fully crushed", again))
    elif not test.fully_crushed:
        faults.append(("The sample was not fully crushed", again))
    if not test.depth:
        faults.append(("The depth of the sample is not recorded", "write down from which depth to which it was taken"))
    if test.minutes_closed is None:
        faults.append(("The time that the cup was closed is not recorded", "record when it was closed"))
    elif not test.minutes_closed >= CLOSED_MINUTES:
        why = f"The cup was closed {test.minutes_closed:g} min, {CLOSED_MINUTES:g} are needed (setting of ours)"
        faults.append((why, "leave it closed and read again"))
    if test.temperature is None:
        faults.append(("The temperature in the cup is not recorded", "record it with the reading"))
    elif not TEMPERATURES[0] <= test.temperature <= TEMPERATURES[1]:
        why = f"The cup was at {test.temperature:g} degC, {TEMPERATURES[0]:g} to {TEMPERATURES[1]:g} are taken"
        faults.append((f"{why} (setting of ours)", "bring cup and sample to room temperature and read again"))
    if test.drift is None:
        faults.append(("The drift of the probe is not recorded", "watch it for 5 min before reading"))
    elif abs(test.drift) > MOST_DRIFT:
        why = f"The probe still drifted {abs(test.drift)} %RH in 5 min, {MOST_DRIFT} is the most"
        faults.append((why, "wait and read again"))
    faults += probe_faults(test.days_since_probe_check, plan.probe_check_days)
    return hold_against(
        test.place,
        test.relative_humidity,
        test.probe_uncertainty,
        limit,
        CRUSHED_QUANTITY,
        faults,
        (),
        test.at_survey_place,
    )
