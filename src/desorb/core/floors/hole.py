"""Relative humidity in a drilled, lined hole: is the test of this place valid, and how does it stand to the limit.

Contents: HoleReading; assess_hole.

Also for the sleeve of the United Kingdom, by its plan. A fact that is not recorded makes the test not valid: it is
named, never guessed. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from desorb.core.floors.outcome import PlaceResult, hold_against
from desorb.core.floors.plan import HOLE_QUANTITY, FloorPlan
from desorb.core.limits import Limit
from desorb.errors import InputError

DEPTH_TOLERANCE = 0.10  # of the planned depth, either way; setting of ours
TEMPERATURE_TOLERANCE = 2.0  # K from service temperature; setting of ours, 1 K is about 4.5 %RH at 75 % [RULES-1.5]
MOST_DRIFT = Decimal(1)  # %RH in 5 min; read for hood tests, from memory for [ASTM-F2170]


@dataclass(frozen=True, slots=True)
class HoleReading:
    """What was read in one hole, and what must be known of it. None: not recorded."""

    place: str
    relative_humidity: Decimal | None  # %RH
    probe_uncertainty: Decimal | None  # %RH either way
    depth: float | None  # mm
    temperature: float | None  # degC, in the hole
    service_temperature: float | None  # degC, of the floor in use
    hours_waited: float | None  # since drilling
    hours_at_service: float | None  # floor and air as in use; for the sleeve: not asked
    days_since_probe_check: float | None
    drift: Decimal | None  # %RH in the 5 min before the reading
    heating_off_hours: float | None = None  # sleeve only: heating in the floor and drying units off
    lined: bool | None = True
    at_survey_place: str = ""  # the place of the survey that this hole tests
    quantity: str = HOLE_QUANTITY
    heating_on: bool | None = None  # heating in the floor, at the reading
    drying_on: bool | None = None  # units that dry the air, at the reading


def assess_hole(reading: HoleReading, plan: FloorPlan, limit: Limit) -> PlaceResult:
    """One hole by its plan against a limit of hole humidity. Raises InputError for a plan or limit of another kind."""
    if plan.depth is None or plan.probe_check_days is None:
        raise InputError(
            "The plan is not for holes", got=plan.method, wanted="hole or sleeve", next_step="plan the holes"
        )
    faults: list[tuple[str, str]] = []
    warnings: list[str] = []
    if reading.quantity != HOLE_QUANTITY:
        faults.append(
            (f"A reading of {reading.quantity} chooses places and never accepts a floor", "test this place in a hole")
        )
    _depth(reading, plan.depth, faults)
    if reading.lined is not True:
        faults.append(("The hole is not recorded as lined", "line the hole and wait again"))
    _at_least(reading.hours_waited, plan.waiting_hours, "wait after drilling", faults)
    if plan.service_hours is not None:
        _at_least(reading.hours_at_service, plan.service_hours, "time at service conditions", faults)
    if plan.heating_off_hours is not None:
        _at_least(reading.heating_off_hours, plan.heating_off_hours, "time with heating and drying off", faults)
    _running(reading, plan, faults, warnings)
    _temperature(reading, plan, faults, warnings)
    faults += probe_faults(reading.days_since_probe_check, plan.probe_check_days)
    if reading.drift is None:
        faults.append(("The drift of the probe is not recorded", "watch it for 5 min before reading"))
    elif abs(reading.drift) > MOST_DRIFT:
        faults.append(
            (
                f"The probe still drifted {abs(reading.drift)} %RH in 5 min, {MOST_DRIFT} is the most",
                "wait and read again",
            )
        )
    return hold_against(
        reading.place,
        reading.relative_humidity,
        reading.probe_uncertainty,
        limit,
        HOLE_QUANTITY,
        faults,
        warnings,
        reading.at_survey_place,
    )


def _running(reading: HoleReading, plan: FloorPlan, faults: list[tuple[str, str]], warnings: list[str]) -> None:
    """Where both must be off, one that was on makes the reading invalid. Else a drying unit is no air as in use."""
    off = plan.heating_off_hours
    if off is not None:
        again = f"turn heating in the floor and drying units off for {off:g} hours, keep them off, and read again"
        for state, name in ((reading.heating_on, "Heating in the floor"), (reading.drying_on, "A drying unit")):
            if state:
                faults.append((f"{name} was on at the reading", again))
    elif reading.drying_on:
        again = (
            f"take the units away, keep floor and air as in use for {plan.service_hours or 0:g} hours, and read again"
        )
        faults.append(("A drying unit was on at the reading: that is not the air of the floor in use", again))
    elif reading.heating_on:
        warnings.append(
            "Heating in the floor was on: it must run as it will in use, and the temperature in use says how."
        )


def probe_faults(days: float | None, most: float) -> list[tuple[str, str]]:
    """What is wrong with the check of a probe, and what to do. [d]"""
    if days is None:
        return [("No check of the probe is recorded", "check the probe against a known humidity and read again")]
    if not 0 <= days <= most:
        why = f"The probe was last checked {days:g} days before, {most:g} is the most"
        return [(why, "check the probe against a known humidity and read again")]
    return []


def _depth(reading: HoleReading, wanted: float, faults: list[tuple[str, str]]) -> None:
    again = f"drill again, {wanted:g} mm deep, and wait again"
    if reading.depth is None:
        faults.append(("The depth of the hole is not recorded", "measure the depth"))
    elif not abs(reading.depth - wanted) <= DEPTH_TOLERANCE * wanted:
        shallow = ", too near the surface, where a drying floor reads low" if reading.depth < wanted else ""
        faults.append((f"The hole is {reading.depth:g} mm deep, planned {wanted:g} mm{shallow}", again))


def _temperature(reading: HoleReading, plan: FloorPlan, faults: list[tuple[str, str]], warnings: list[str]) -> None:
    if reading.temperature is None or reading.service_temperature is None:
        faults.append(("The temperature in the hole or in use is not recorded", "record both temperatures"))
        return
    off = reading.temperature - reading.service_temperature
    if abs(off) <= TEMPERATURE_TOLERANCE:
        return
    hours = f" for {plan.service_hours:g} hours or more" if plan.service_hours is not None else ""
    side = "colder" if off < 0 else "warmer"
    why = (
        f"The hole was at {reading.temperature:g} degC, {abs(off):.1f} K {side} than in use "
        f"({reading.service_temperature:g} degC)"
    )
    faults.append((why, f"bring this part of the floor to service temperature{hours} and read again"))
    if off < 0:
        warnings.append("A cold hole may be wetter than the rest: do not put its reading down to the cold alone")


def _at_least(value: float | None, least: float, name: str, faults: list[tuple[str, str]]) -> None:
    if value is None:
        faults.append((f"The {name} is not recorded", f"record the {name}"))
    elif not value >= least:
        faults.append((f"The {name} was {value:g} hours, {least:g} or more are needed", "wait and read again"))
