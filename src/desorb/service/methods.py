"""What the methods beside the scan say of a case, in one list for command, page, report and API.

Contents: methods_of.
"""

from __future__ import annotations

from desorb.core.case import Case
from desorb.core.floors_of_case import floor_tests
from desorb.core.shown import Shown


def methods_of(case: Case) -> tuple[Shown, ...]:
    """Every test of the record with its result or what is wanting, in the order in which they were entered."""
    return floor_tests(case)
