"""What the record holds for or against each reason of a stall, as it stood when the spot was read last.

Contents: facts_at. What nobody looked at stays open: nothing is taken as "no" because it was left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation

from desorb.core.case import Case
from desorb.core.drying_of_case.kit import beside, running_at
from desorb.core.evidence import Evidence
from desorb.core.kinds import Target
from desorb.core.outcome import Assessment
from desorb.core.stall_reasons import StallFacts
from desorb.core.typed import read_figure
from desorb.core.wood_in_air import target_in_air
from desorb.errors import DesorbError

IN_DOUBT = ("check-failed", "check-overdue", "check-unknown", "calibration-overdue", "held", "read-twice")


def facts_at(case: Case, zone: str, element: str, last: Evidence, by_entry: Mapping[str, Assessment]) -> StallFacts:
    """The facts for an element whose stalled spot was read last by `last`."""
    assessment = by_entry[last.entered.entry]
    codes = {finding.code for finding in assessment.findings}
    return StallFacts(
        unit_off=_unit_off(case, zone, last),
        air_holds_above_target=_air_above_target(case, zone, element, last.reading.visit),
        water_meter_runs=_meter_runs(case, zone),
        salts_positive=_salts(case, zone, element),
        control_differs=True if assessment.limits.control_mean is None else None,
        instrument_doubted=True if codes & set(IN_DOUBT) else None,
    )


def _unit_off(case: Case, zone: str, last: Evidence) -> bool | None:
    """Whether the hour meter of a unit beside the spot stood still between the last two visits that read it."""
    order = case.visit_order()
    stands = [each.record.unit for each in running_at(beside(zone, case), last.taken, case)]
    found: list[bool] = []
    for unit in stands:
        read = sorted(
            (each.record for each in case.unit_readings if each.record.unit == unit and each.record.hours),
            key=lambda record: order.get(record.visit, -1),
        )
        if len(read) > 1 and (ran := _difference(read[-2].hours, read[-1].hours)) is not None:
            found.append(ran <= 0)
    return None if not found else any(found)


def _difference(before: str, after: str) -> Decimal | None:
    try:
        return Decimal(after) - Decimal(before)
    except InvalidOperation:
        return None


def _air_above_target(case: Case, zone: str, element: str, visit: str) -> bool | None:
    """For timber with a stated target: whether the air of this visit holds timber above it."""
    targets: list[Target] = [
        each.record
        for each in case.targets
        if (each.record.zone, each.record.element) == (zone, element) and each.record.basis == "timber in this air"
    ]
    airs = [each.record for each in case.air_readings if each.record.visit == visit and each.record.kind == "affected"]
    if not targets or not airs:
        return None
    try:
        reach = target_in_air(
            read_figure(targets[-1].value), read_figure(airs[-1].temperature), read_figure(airs[-1].relative_humidity)
        )
    except (DesorbError, ValueError):
        return None
    return {"reachable": False, "not reachable": True}.get(reach.state)


def _meter_runs(case: Case, zone: str) -> bool | None:
    tests = [
        each.record for each in case.leak_tests if each.record.test == "meter no-use" and each.record.zone in ("", zone)
    ]
    if not tests or not (tests[-1].at_start and tests[-1].at_end):
        return None
    ran = _difference(tests[-1].at_start, tests[-1].at_end)
    step = _difference("0", tests[-1].doubt or "0")
    if ran is None or step is None:
        return None
    return True if ran > step else None  # a still meter is no proof: the leak test itself says what it rules out


def _salts(case: Case, zone: str, element: str) -> bool | None:
    tests = [each.record for each in case.salt_tests if (each.record.zone, each.record.element) == (zone, element)]
    return None if not tests else tests[-1].result == "positive"
