"""Holes, sleeves, boxes and dishes: what their assessment needs, worked out from the times of the record.

Contents: Draft (a reading that can be held against a limit); attempts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal

from desorb.core.case import Case, Entered
from desorb.core.floors.box import BoxReading, BoxTest, assess_box, compared_readings
from desorb.core.floors.emission import EmissionReading, assess_emission
from desorb.core.floors.hole import HoleReading, assess_hole
from desorb.core.floors.outcome import PlaceResult
from desorb.core.floors.plan import BOX, DISH, SLEEVE, FloorPlan
from desorb.core.floors_of_case.figures import hours, probe_check
from desorb.core.kinds import FloorPlace, FloorReading, FloorTest
from desorb.core.limits import Limit
from desorb.core.written import figure, moment, needed, number, yes
from desorb.errors import InputError

Prepared = list[Entered[FloorPlace]]
Readings = list[Entered[FloorReading]]


@dataclass(frozen=True, slots=True)
class Draft:
    """One reading with what has to be done to hold it against a limit."""

    place: str
    at: str
    value: str
    entries: tuple[str, ...]
    assess: Callable[[Limit], PlaceResult]


def attempts(case: Case, test: FloorTest, plan: FloorPlan, prepared: Prepared, readings: Readings) -> list[Draft]:
    """One draft for each reading of a place; of a box, one for all readings since it was sealed."""
    ordered = sorted(readings, key=lambda entered: (moment(entered.record.at), entered.order))
    found = []
    if plan.method == BOX:
        groups: dict[str, Readings] = {}
        for entered in ordered:
            place = place_at(prepared, entered.record.at)
            groups.setdefault(place.entry if place else "", []).append(entered)
        for group in groups.values():
            place = place_at(prepared, group[0].record.at)
            values = ", ".join(each.record.value for each in group)
            last = group[-1].record
            found.append(
                Draft(last.place, last.at, f"{values} %RH", _entries(place, group), _box(case, plan, place, group))
            )
        return found
    for entered in ordered:
        place = place_at(prepared, entered.record.at)
        record = entered.record
        if plan.method == DISH:
            assess, unit = _dish(test, place, record), "g"
        else:
            assess, unit = _hole(case, plan, place, record), "%RH"
        found.append(Draft(record.place, record.at, f"{record.value} {unit}", _entries(place, [entered]), assess))
    return found


def place_at(prepared: Prepared, at: str) -> Entered[FloorPlace] | None:
    """How the place was prepared when it was read: the last entry before; else the first there is."""
    ordered = sorted(prepared, key=lambda entered: (moment(entered.record.at), entered.order))
    before = [entered for entered in ordered if moment(entered.record.at) <= moment(at)]
    return before[-1] if before else next(iter(ordered), None)


def _entries(place: Entered[FloorPlace] | None, readings: Readings) -> tuple[str, ...]:
    return (*((place.entry,) if place else ()), *(each.entry for each in readings))


def _hole(
    case: Case, plan: FloorPlan, place: Entered[FloorPlace] | None, reading: FloorReading
) -> Callable[[Limit], PlaceResult]:
    def assess(limit: Limit) -> PlaceResult:
        prepared = place.record if place else None
        check = probe_check(case, reading.instrument, reading.at, reading.probe_checked_at)
        off, odd = _heating_off(plan, prepared, reading)
        result = assess_hole(
            HoleReading(
                place=reading.place,
                relative_humidity=number(reading.value),
                probe_uncertainty=number(reading.uncertainty),
                depth=figure(prepared.depth) if prepared else None,
                temperature=figure(reading.temperature),
                service_temperature=figure(reading.service_temperature),
                hours_waited=hours(reading.at, prepared.at) if prepared else None,
                hours_at_service=hours(reading.at, prepared.service_since) if prepared else None,
                days_since_probe_check=check.days,
                drift=number(reading.drift),
                heating_off_hours=off,
                heating_on=yes(reading.heating_on),
                drying_on=yes(reading.drying_on),
                lined=yes(prepared.lined) if prepared else None,
                at_survey_place=prepared.survey_place if prepared else "",
            ),
            plan,
            limit,
        )
        return with_warnings(result, check.words, odd)

    return assess


def with_warnings(result: PlaceResult, *words: str) -> PlaceResult:
    return replace(result, warnings=result.warnings + tuple(each for each in words if each))


def _heating_off(plan: FloorPlan, place: FloorPlace | None, reading: FloorReading) -> tuple[float | None, str]:
    """Hours with heating and drying off before the reading in a sleeve: 0 if one was on, None if that is not recorded."""
    if plan.method != SLEEVE or place is None:
        return None, ""
    states = (yes(reading.heating_on), yes(reading.drying_on))
    if True in states:
        return 0.0, "Heating in the floor or a drying unit was on at the reading"
    if None in states:
        return None, "It is not recorded with the reading whether heating in the floor and drying units were off"
    return hours(reading.at, place.heating_off_at), ""


def _box(
    case: Case, plan: FloorPlan, place: Entered[FloorPlace] | None, group: Readings
) -> Callable[[Limit], PlaceResult]:
    def assess(limit: Limit) -> PlaceResult:
        records = [entered.record for entered in group]
        prepared = place.record if place else None
        if prepared is None:
            raise InputError(
                "The box was read and nobody wrote down when it was sealed", got=records[-1].place,
                next_step="write down when it was sealed, and whether all round",
            )  # fmt: skip
        readings = tuple(
            BoxReading(hours(record.at, prepared.at) or 0.0, needed(record.value, "humidity")) for record in records
        )
        late = [reading for reading in readings if reading.hours >= plan.waiting_hours]
        used = compared_readings(late) or readings
        rest_on = [record for record, reading in zip(records, readings, strict=True) if reading in used]
        checks = [probe_check(case, each.instrument, each.at, each.probe_checked_at) for each in rest_on]
        last = records[-1]
        result = assess_box(
            BoxTest(
                place=last.place,
                readings=readings,
                probe_uncertainty=_worst([number(each.uncertainty) for each in rest_on]),
                sealed=yes(prepared.sealed),
                underfloor_heating_on=_any_on([yes(each.heating_on) for each in records]),
                drying_on=_any_on([yes(each.drying_on) for each in records]),
                heating_off_hours=hours(prepared.at, prepared.heating_off_at),
                probe_minutes=_least([figure(each.probe_minutes) for each in rest_on]),
                days_since_probe_check=_most([check.days for check in checks]),
                air_temperature=figure(last.air_temperature),
                room_relative_humidity=figure(last.air_humidity),
                floor_temperature=figure(last.floor_temperature),
                at_survey_place=prepared.survey_place,
            ),
            plan,
            limit,
        )
        return with_warnings(result, *dict.fromkeys(check.words for check in checks))

    return assess


def _any_on(states: list[bool | None]) -> bool | None:
    """On if it was on at any reading; not recorded if it is not at one."""
    if True in states:
        return True
    return None if None in states else False


def _worst(values: list[Decimal | None]) -> Decimal | None:
    known = [value for value in values if value is not None]
    return max(known) if known and len(known) == len(values) else None


def _most(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return max(known) if known and len(known) == len(values) else None


def _least(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return min(known) if known and len(known) == len(values) else None


def _dish(test: FloorTest, place: Entered[FloorPlace] | None, reading: FloorReading) -> Callable[[Limit], PlaceResult]:
    def assess(limit: Limit) -> PlaceResult:
        prepared = place.record if place else None
        if not reading.set_at:
            raise InputError(
                "It is not recorded when the dish was set", got=reading.place, wanted="set_at",
                next_step="write the reading again with the time the dish was set",
            )  # fmt: skip
        exposed = (moment(reading.at) - moment(reading.set_at)).total_seconds()
        return assess_emission(
            EmissionReading(
                place=reading.place,
                mass_gain=number(reading.value),
                dish_area=needed(reading.dish_area, "area under the dish"),
                exposure_hours=(Decimal(int(exposed)) / 3600).quantize(Decimal("0.01")),
                material=test.material,
                coated_or_patched=yes(prepared.coated) if prepared else None,
                open_hours=hours(reading.set_at, prepared.at) if prepared else None,
                condition_hours=hours(reading.set_at, prepared.service_since) if prepared else None,
                balance_step=number(reading.uncertainty),
                at_survey_place=prepared.survey_place if prepared else "",
            ),
            limit,
        )

    return assess
