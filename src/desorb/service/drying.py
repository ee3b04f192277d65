"""What the record says of the drying, in one list for command, page, report and API.

Contents: drying_of; drying_without_round (what of it goes into a report and onto a device).
"""

from __future__ import annotations

from datetime import date

from desorb.core.assess import Assessed, assess
from desorb.core.case import Case
from desorb.core.drying_of_case.circuits import circuits_shown
from desorb.core.drying_of_case.course import courses_shown
from desorb.core.drying_of_case.dates import dates_shown
from desorb.core.drying_of_case.enclosures import enclosures_shown
from desorb.core.drying_of_case.guard import guard_shown
from desorb.core.drying_of_case.household import household_shown
from desorb.core.drying_of_case.loggers import loggers_shown
from desorb.core.drying_of_case.options import options_shown
from desorb.core.drying_of_case.round import ROUND, round_shown
from desorb.core.drying_of_case.targets import targets_shown
from desorb.core.drying_of_case.units import units_shown
from desorb.core.shown import Shown
from desorb.service.cases import Clock, now, zone_of
from desorb.tables.bank_holidays import calendars


def drying_of(
    case: Case, today: date | None = None, clock: Clock = now, assessed: Assessed | None = None
) -> tuple[Shown, ...]:
    """What drying could harm first; round, courses, units, enclosures, circuits, targets, options, dates and logger files.

    assessed: the case assessed with its history, where the caller has it.
    """
    assessed = assessed or assess(case, history=True)
    if today is None:
        today = clock().astimezone(zone_of(case.opened.record.time_zone if case.opened else "UTC")).date()
    return (
        *guard_shown(case), *round_shown(case), *courses_shown(case, assessed), *units_shown(case), *enclosures_shown(case),
        *circuits_shown(case), *household_shown(case), *targets_shown(case, assessed), *options_shown(case),
        *dates_shown(case, calendars(), today), *loggers_shown(case),
    )  # fmt: skip


def drying_without_round(case: Case, day: date, assessed: Assessed | None = None) -> tuple[Shown, ...]:
    """All but the round: it is a list to walk by. A report has its readings elsewhere, a device has a round of its own."""
    return tuple(each for each in drying_of(case, day, assessed=assessed) if each.kind != ROUND)
