"""What the record says of the drying, in one list for command, page, report and API.

Contents: drying_of.
"""

from __future__ import annotations

from desorb.core.case import Case
from desorb.core.drying_of_case.course import courses_shown
from desorb.core.shown import Shown


def drying_of(case: Case) -> tuple[Shown, ...]:
    """Every view of the drying: spots and their course, units, enclosures, circuits, targets, options and dates."""
    return courses_shown(case)
