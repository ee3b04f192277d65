"""The site pack: everything of a case that a device keeps to work without signal.

Contents: site_pack; places_in_pack.
Making it writes nothing.
"""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from desorb.core.assess import Assessed, assess
from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.drying_of_case.round import walking_order
from desorb.core.evidence import Evidence
from desorb.core.fitness import fitness_at
from desorb.core.gates import GATES, UNDER_EVERY_GATE
from desorb.core.kinds import COVERINGS, GONE, Instrument, InstrumentCheck, Reading
from desorb.errors import NotFound, NotUnderstood
from desorb.notebook.store import Store
from desorb.service.cases import REGISTER_DOOR, REGISTER_NAME, Clock, OpenCase, find_case, load, now, zone_of
from desorb.service.photos import photos_awaited
from desorb.service.received_photos import LARGEST_PHOTO
from desorb.service.settings import Settings, read_settings
from desorb.service.site_methods import methods_in_pack

SCHEMA = "desorb-site/1"
AS_FOUND = "as found"
NOT_ARRIVED = "not arrived"  # as core/case.py says of a gap
VISITS_BACK = 3
AIR_ORDER = ("outside", "affected", "unaffected", "void", "inlet", "outlet")


def site_pack(store: Store, case: OpenCase, software: str, clock: Clock = now) -> dict[str, Any]:
    """What the device keeps. Values stand as they were typed; a status is that of the last assessment."""
    folded = _folded(store, case)
    assessed = assess(folded, history=True)
    day = clock().astimezone(zone_of(case.time_zone)).date()
    return _places(store, case, folded, assessed, software, clock) | methods_in_pack(folded, day, assessed)


def places_in_pack(store: Store, case: OpenCase, software: str, clock: Clock = now) -> dict[str, Any]:
    """The pack without what is said of methods and drying."""
    folded = _folded(store, case)
    return _places(store, case, folded, assess(folded), software, clock)


def _folded(store: Store, case: OpenCase) -> Case:
    if case.name == REGISTER_NAME:
        raise NotFound("the register of instruments is no case for a device", next_step="open it in the office")
    return load(store, case)


def _places(
    store: Store, case: OpenCase, folded: Case, assessed: Assessed, software: str, clock: Clock
) -> dict[str, Any]:
    opened, settings = folded.opened, _settings(store.home)
    order = folded.visit_order()
    visits = {entered.record.id: entered.record for entered in folded.visits}
    pictures = folded.plan_pictures
    rooms = [entered.record for entered in latest_by_id(folded.rooms).values() if entered.record.outline]
    readings = folded.readings
    return {
        "schema": SCHEMA, "made_at": clock().astimezone(UTC).isoformat(timespec="seconds"), "software": software,
        "case": {
            "id": case.id, "name": case.name, "site": opened.record.site if opened else "", "time_zone": case.time_zone,
            "invented": opened.record.invented if opened else False, "opened_by": opened.record.opened_by if opened else "",
        },
        "opening_hash": opened.hash if opened else "", "highest_clock": store.highest_clock(case.id),
        "devices": {device: list(head) for device, head in folded.heads.items()}, "missing": _missing(folded),
        "gone": [*(each.struck.hash for each in folded.struck), *(each.hash for each in folded.removed)],
        "by": settings.name,
        "visits": [
            {"id": visit.id, "begun_at": visit.begun_at, "by": visit.by, "words": visit.words}
            for visit in sorted(visits.values(), key=lambda visit: order.get(visit.id, 0))
        ],
        "constructions": [asdict(each.record) for each in latest_by_id(folded.constructions).values()],
        "zones": [asdict(each.record) for each in latest_by_id(folded.zones).values()],
        "rooms": [asdict(room) for room in rooms],
        "picture": asdict(pictures[-1].record) if pictures else None, "north": folded.setting("plan north"),
        "spots": _spots(folded, assessed, order),
        "instruments": _instruments(store, folded, clock),
        "coverings": list(dict.fromkeys([*COVERINGS, *(each.record.covering for each in readings if each.record.covering)])),
        "preparations": list(dict.fromkeys([AS_FOUND, *(each.record.preparation for each in readings)])),
        "gates": [
            {"gate": gate.gate, "zone": gate.zone, "state": gate.state, "words": gate.words, "asks": gate.asks,
             "evidence": list(gate.evidence)}
            for gate in assessed.gates
        ],
        "under_every_gate": UNDER_EVERY_GATE, "gate_names": list(GATES),
        "air_places": _air_places(folded, order), "units": _units(folded, order),
        "findings": [
            {"code": finding.code, "words": finding.words, "next_step": finding.next_step, "visit": finding.visit,
             "instrument": finding.instrument, "scale": finding.scale, "spots": list(finding.spots)}
            for finding in assessed.findings if not finding.answered
        ],
        "photos_awaited": sorted(photos_awaited(store, folded)), "limits": {"largest_photo": LARGEST_PHOTO},
        "plausible_step": settings.plausible_step, "plausible_words": settings.step_in_words, "keep_days": settings.keep_days,
    }  # fmt: skip


def _missing(case: Case) -> dict[str, list[list[int]]]:
    """Numbers of each device that are not here: what a device still has of them, it sends again."""
    missing: dict[str, list[list[int]]] = {}
    for gap in case.gaps:
        if gap.reason == NOT_ARRIVED:
            missing.setdefault(gap.device, []).append([gap.first, gap.last])
    return missing


def _spots(case: Case, assessed: Assessed, order: dict[str, int]) -> list[dict[str, Any]]:
    described = [entered.record for entered in latest_by_id(case.spots).values()]
    status = {each.id: each for each in assessed.spots}
    evidence = {each.entered.entry: each for each in assessed.evidence}
    of_spot: dict[str, list[Entered[Reading]]] = {}
    for entered in case.readings:
        of_spot.setdefault(entered.record.spot, []).append(entered)
    listed = []
    for spot in walking_order(described, case.readings, sorted(order, key=lambda visit: order[visit])):
        found = status.get(spot.id)
        listed.append(
            asdict(spot)
            | {
                "status": found.status if found else "", "reason": found.reasons[0] if found and found.reasons else "",
                "last": [_last(each, evidence.get(each.entry)) for each in _last_readings(of_spot.get(spot.id, []), order)],
            }
        )  # fmt: skip
    return listed


def _last_readings(readings: list[Entered[Reading]], order: dict[str, int]) -> list[Entered[Reading]]:
    """The last reading on each scale and depth of the three newest visits to a spot, newest first."""
    newest = sorted(readings, key=lambda each: (order.get(each.record.visit, -1), each.order), reverse=True)
    visits = list(dict.fromkeys(each.record.visit for each in newest))[:VISITS_BACK]
    lines: dict[tuple[str, ...], Entered[Reading]] = {}
    for each in newest:
        reading = each.record
        if reading.visit in visits:
            line = (reading.visit, reading.instrument, reading.scale, reading.depth_from, reading.depth_to)
            lines.setdefault(line, each)
    return list(lines.values())


def _last(entered: Entered[Reading], evidence: Evidence | None) -> dict[str, Any]:
    reading = entered.record
    return {
        "visit": reading.visit, "taken_at": reading.taken_at, "values": list(reading.values), "scale": reading.scale,
        "instrument": reading.instrument, "covering": reading.covering, "preparation": reading.preparation,
        "depth_from": reading.depth_from, "depth_to": reading.depth_to, "entry": entered.entry,
        "clipped": bool(evidence and evidence.bound),
    }  # fmt: skip


def _instruments(store: Store, case: Case, clock: Clock) -> list[dict[str, Any]]:
    """Those of the register as they are now, then those that only the case knows."""
    described: dict[str, Instrument] = {key: each.record for key, each in latest_by_id(case.instruments).items()}
    checks = {each.record for each in case.checks}
    try:
        kept = load(store, find_case(store, REGISTER_DOOR))
    except NotFound:
        kept = Case("")
    described |= {key: each.record for key, each in latest_by_id(kept.instruments).items()}
    checks |= {each.record for each in kept.checks}
    listed = []
    for instrument in described.values():
        why_not = _why_not(instrument, [check for check in checks if check.instrument == instrument.id], clock())
        listed.append({
            "id": instrument.id, "words": instrument.words, "serial": instrument.serial,
            "calibration_due": instrument.calibration_due, "fit": not why_not, "why_not": why_not,
            "scales": [asdict(scale) for scale in instrument.scales],
        })  # fmt: skip
    return listed


def _why_not(instrument: Instrument, checks: list[InstrumentCheck], moment: datetime) -> str:
    history = sorted(((_moment(check.at), check) for check in checks), key=lambda pair: pair[0])
    relative = any(scale.standing == "relative" for scale in instrument.scales)
    return fitness_at(moment, instrument, history, relative)[1]


def _moment(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)


def _air_places(case: Case, order: dict[str, int]) -> list[dict[str, Any]]:
    places: dict[tuple[str, str], dict[str, Any]] = {}
    for entered in sorted(case.air_readings, key=lambda each: (order.get(each.record.visit, -1), each.order)):
        air = entered.record
        places[air.place, air.kind] = {
            "place": air.place, "kind": air.kind,
            "last": {"visit": air.visit, "temperature": air.temperature, "relative_humidity": air.relative_humidity,
                     "taken_at": air.taken_at},
        }  # fmt: skip
    known = {kind: number for number, kind in enumerate(AIR_ORDER)}
    return sorted(places.values(), key=lambda place: (known.get(place["kind"], len(known)), place["place"]))


def _units(case: Case, order: dict[str, int]) -> list[dict[str, Any]]:
    """The drying units that stand in the building, each with its last counters."""
    units: dict[str, dict[str, Any]] = {}
    for entered in case.unit_changes:
        change = entered.record
        if change.change in GONE:
            units.pop(change.unit, None)
            continue
        units[change.unit] = {
            "unit": change.unit, "type": change.type, "zone": change.zone, "words": change.words, "last": None,
        }  # fmt: skip
    for read in sorted(case.unit_readings, key=lambda each: (order.get(each.record.visit, -1), each.order)):
        if read.record.unit in units:
            units[read.record.unit]["last"] = {
                "visit": read.record.visit, "hours": read.record.hours, "collected": read.record.collected,
                "energy": read.record.energy,
            }  # fmt: skip
    return list(units.values())


def _settings(home: Path) -> Settings:
    """The settings of this machine; a file that cannot be read does not stop the work on site."""
    try:
        return read_settings(home)
    except NotUnderstood:
        return Settings()
