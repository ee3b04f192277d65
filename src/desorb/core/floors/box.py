"""Relative humidity under an insulated box sealed to the floor: is the test valid, and how does it stand to the limit.

Contents: BoxReading; BoxTest; assess_box; compared_readings; room_air_at_the_floor.

Two readings in a row, 24 hours apart or more, must be equal within a stated tolerance; the higher is held against the
limit, never their mean. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from desorb.core.air import air_state, surface_relative_humidity
from desorb.core.floors.hole import probe_faults
from desorb.core.floors.outcome import PlaceResult, hold_against
from desorb.core.floors.plan import BOX, BOX_QUANTITY, FloorPlan
from desorb.core.limits import Limit
from desorb.errors import InputError

HOURS_BETWEEN = 24.0  # h; [BS8203] annex A
PROBE_MINUTES = 30.0  # min in the box before a reading; common practice [RULES-3.4]
EQUAL_WITHIN = Decimal(1)  # %RH; setting of ours for the "two equal readings" of the standard
COLDER_BY = 1.0  # K; setting of ours: a floor this much colder than the air warns if the box is not sealed


@dataclass(frozen=True, slots=True)
class BoxReading:
    """One reading. hours: since the box was sealed; relative_humidity: %RH."""

    hours: float
    relative_humidity: Decimal


@dataclass(frozen=True, slots=True)
class BoxTest:
    """One box, and what must be known of it. None: not recorded."""

    place: str
    readings: tuple[BoxReading, ...]
    probe_uncertainty: Decimal | None  # %RH either way
    sealed: bool | None  # to the floor, all round
    underfloor_heating_on: bool | None  # during the test; False also where there is none
    drying_on: bool | None  # units that dry the air, during the test
    heating_off_hours: float | None  # before the box was sealed
    probe_minutes: float | None
    days_since_probe_check: float | None
    air_temperature: float | None = None  # degC, room
    room_relative_humidity: float | None = None  # %
    floor_temperature: float | None = None  # degC, surface
    at_survey_place: str = ""


def room_air_at_the_floor(air_temperature: float, relative_humidity: float, floor_temperature: float) -> float:
    """Relative humidity that room air alone gives at the floor. [degC], [%], [degC] -> [%] Ranges: core/air."""
    vapour = air_state(air_temperature=air_temperature, relative_humidity=relative_humidity).vapour_pressure
    return surface_relative_humidity(vapour, floor_temperature)


def assess_box(test: BoxTest, plan: FloorPlan, limit: Limit, equal_within: Decimal = EQUAL_WITHIN) -> PlaceResult:
    """One box by its plan against a limit of box humidity. equal_within: %RH, above 0.

    Raises InputError for a plan or limit of another kind, readings out of order, or a tolerance that cannot be used.
    """
    if plan.method != BOX or plan.heating_off_hours is None or plan.probe_check_days is None:
        raise InputError("The plan is not for a box", got=plan.method, wanted=BOX, next_step="plan the boxes")
    if not equal_within > 0:
        raise InputError(
            "The tolerance for equal readings must be positive",
            got=f"{equal_within}",
            wanted="above 0 %RH",
            next_step="state how far apart equal readings may lie",
        )
    hours = [reading.hours for reading in test.readings]
    if any(not later > earlier for earlier, later in pairwise(hours)):
        raise InputError(
            "The readings of a box are not in order of time",
            got=f"{hours}",
            wanted="rising hours",
            next_step="give the readings in the order they were taken, each with its hours",
        )
    faults = _state_faults(test, plan.heating_off_hours)
    warnings = _unsealed_warnings(test)
    faults += probe_faults(test.days_since_probe_check, plan.probe_check_days)
    late = [reading for reading in test.readings if reading.hours >= plan.waiting_hours]
    faults += _equality_faults(late, plan.waiting_hours, equal_within)
    # Unless two late readings agree, the highest of all is shown, so that a high one is never hidden by a later low one.
    compared = compared_readings(late) or test.readings
    value = max((reading.relative_humidity for reading in compared), default=None)
    return hold_against(
        test.place, value, test.probe_uncertainty, limit, BOX_QUANTITY, faults, warnings, test.at_survey_place
    )


def _state_faults(test: BoxTest, off_hours: float) -> list[tuple[str, str]]:
    faults: list[tuple[str, str]] = []
    again = f"turn heating in the floor and drying units off for {off_hours:g} hours, keep them off, then test again"
    again += " until two readings in a row are equal"
    for state, name in ((test.underfloor_heating_on, "Heating in the floor"), (test.drying_on, "A drying unit")):
        if state is None:
            faults.append((f"{name}: on or off is not recorded", "record whether it was on during the test"))
        elif state:
            faults.append((f"{name} was on during the test", again))
    if test.heating_off_hours is None:
        faults.append(("The time with heating and drying off is not recorded", "record the time with both off"))
    elif not test.heating_off_hours >= off_hours:
        faults.append(
            (f"Heating and drying were off {test.heating_off_hours:g} hours, {off_hours:g} are needed", again)
        )
    if test.sealed is not True:
        faults.append(("The box is not recorded as sealed to the floor", "seal it all round and start again"))
    if test.probe_minutes is None or not test.probe_minutes >= PROBE_MINUTES:
        faults.append((f"The probe was not recorded in the box for {PROBE_MINUTES:g} min", "leave it in longer"))
    return faults


def _unsealed_warnings(test: BoxTest) -> list[str]:
    air, humidity, floor = test.air_temperature, test.room_relative_humidity, test.floor_temperature
    if test.sealed is True:
        return []
    if air is None or humidity is None or floor is None:
        return ["Room air may reach the probe; with its temperature and humidity and that of the floor one could tell"]
    if air - floor < COLDER_BY:
        return ["Room air may reach the probe"]
    at_floor = room_air_at_the_floor(air, humidity, floor)
    return [
        f"The floor is {air - floor:.1f} K colder than the air: room air of {humidity:g} % alone gives {at_floor:.0f} % "
        "at the floor, without any water from the floor"
    ]


def compared_readings(late: Sequence[BoxReading]) -> list[BoxReading]:
    """The last reading, the latest one 24 hours or more before it, and all between; empty if there is no such pair."""
    earlier = [reading for reading in late if late[-1].hours - reading.hours >= HOURS_BETWEEN]
    return [reading for reading in late if reading.hours >= earlier[-1].hours] if earlier else []


def _equality_faults(late: Sequence[BoxReading], wait: float, equal_within: Decimal) -> list[tuple[str, str]]:
    compared = compared_readings(late)
    if not compared:
        why = f"No two readings {HOURS_BETWEEN:g} hours apart after the first {wait:g} hours"
        return [(why, f"read again {HOURS_BETWEEN:g} hours or more after the last reading")]
    values = [reading.relative_humidity for reading in compared]
    if max(values) - min(values) > equal_within:
        why = f"The last readings differ by {max(values) - min(values)} %RH, more than {equal_within} (setting of ours)"
        return [(why, f"read again after {HOURS_BETWEEN:g} hours until two in a row are equal")]
    return []
