"""Carbide tests and cups: the samples of a floor test with what was read of them.

Contents: attempts; depth_band; kept_faults.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.floors.carbide import assess_carbide_place
from desorb.core.floors.cup import CupTest, assess_cup
from desorb.core.floors.outcome import PlaceResult
from desorb.core.floors.plan import CARBIDE, FloorPlan
from desorb.core.floors_of_case.figures import hours, probe_check
from desorb.core.floors_of_case.of_readings import Draft, place_at, with_warnings
from desorb.core.kinds import CarbideReading, CupReading, FloorPlace, FloorTest, Sample
from desorb.core.limits import Limit
from desorb.core.samples.carbide import CarbideTest
from desorb.core.written import figure, needed, number, yes

KEPT_HOURS = 1.0  # h from floor to vessel without a tight container; setting of ours: a crushed or open sample dries


def attempts(
    case: Case, test: FloorTest, plan: FloorPlan, prepared: Mapping[str, list[Entered[FloorPlace]]]
) -> list[Draft]:
    """One draft for each carbide or cup reading of a sample that names this test."""
    samples = {key: each for key, each in latest_by_id(case.samples).items() if each.record.test == test.id}
    readings: tuple[Entered[CarbideReading] | Entered[CupReading], ...]
    readings = case.carbide_readings if plan.method == CARBIDE else case.cup_readings
    found = []
    for entered in readings:
        sample = samples.get(entered.record.sample)
        if sample is None:
            continue
        name = sample.record.place or sample.record.id
        place = place_at(prepared.get(name, []), entered.record.at)
        entries = (*((place.entry,) if place else ()), sample.entry, entered.entry)
        at_survey = place.record.survey_place if place else sample.record.place
        if isinstance(entered.record, CarbideReading):
            value, assess = (
                f"{entered.record.gauge_pressure} bar",
                _carbide(test, sample.record, entered.record, at_survey),
            )
        else:
            value, assess = f"{entered.record.humidity} %RH", _cup(case, plan, sample.record, entered.record, at_survey)
        found.append(Draft(name, entered.record.at, value, entries, assess))
    return found


def depth_band(sample: Sample) -> str:
    """The band in words; '' unless both ends are recorded, the lower below the upper."""
    low, high = number(sample.depth_from), number(sample.depth_to)
    return f"{low}-{high} mm" if low is not None and high is not None and low < high else ""


def kept_faults(sample: Sample, closed_at: str) -> list[tuple[str, str]]:
    """What is wrong with the way of a sample from the floor to the vessel."""
    between = hours(closed_at, sample.taken_at)
    again = "take a new sample and close it tightly at once"
    if between is None:
        return [("The time that the sample was taken is not recorded", again)]
    if between < 0:
        return [("The sample was read before it was taken", "correct the times")]
    if between > KEPT_HOURS and not sample.container.strip():
        why = f"The sample lay {between:g} hours from floor to vessel and no tight container is recorded"
        return [(f"{why} ({KEPT_HOURS:g} hour is the most, setting of ours)", again)]
    return []


def _carbide(
    test: FloorTest, sample: Sample, reading: CarbideReading, at_survey: str
) -> Callable[[Limit], PlaceResult]:
    def assess(limit: Limit) -> PlaceResult:
        done = CarbideTest(
            sample=sample.place or sample.id,
            material=test.material or sample.material,
            sample_mass=float(needed(reading.sample_mass, "mass of the sample")),
            gauge_pressure=float(needed(reading.gauge_pressure, "gauge pressure")),
            temperature=float(needed(reading.temperature, "temperature at the reading")),
            free_volume=float(needed(reading.free_volume, "free volume")),
            fully_crushed=yes(reading.crushed),
            depth=depth_band(sample),
            reagent_mass=figure(reading.reagent_mass),
            temperature_when_closed=figure(reading.temperature_closed),
        )
        stated = number(reading.uncertainty)
        return assess_carbide_place(done, stated, limit, at_survey, kept_faults(sample, reading.at))

    return assess


def _cup(
    case: Case, plan: FloorPlan, sample: Sample, reading: CupReading, at_survey: str
) -> Callable[[Limit], PlaceResult]:
    def assess(limit: Limit) -> PlaceResult:
        check = probe_check(case, reading.instrument, reading.at, reading.probe_checked_at)
        closed = hours(reading.at, reading.closed_at)
        result = assess_cup(
            CupTest(
                place=sample.place or sample.id,
                relative_humidity=number(reading.humidity),
                probe_uncertainty=number(reading.uncertainty),
                temperature=figure(reading.temperature),
                minutes_closed=None if closed is None else 60 * closed,
                fully_crushed=yes(reading.crushed),
                drift=number(reading.drift),
                days_since_probe_check=check.days,
                depth=depth_band(sample),
                at_survey_place=at_survey,
            ),
            plan,
            limit,
            kept_faults(sample, reading.closed_at),
        )
        return with_warnings(result, check.words)

    return assess
