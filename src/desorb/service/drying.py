"""What the record says of the drying, in one list for command, page, report and API.

Contents: drying_of.
"""

from __future__ import annotations

from desorb.core.case import Case
from desorb.core.drying_of_case.course import courses_shown
from desorb.core.drying_of_case.guard import guard_shown
from desorb.core.drying_of_case.round import round_shown
from desorb.core.shown import Shown


def drying_of(case: Case) -> tuple[Shown, ...]:
    """The round, the course of each element, harm, units, enclosures, circuits, targets, options, dates and logger files."""
    return (*round_shown(case), *courses_shown(case), *guard_shown(case))
