"""What the methods beside the scan say of a case, in one list for command, page, report and API.

Contents: methods_of.
"""

from __future__ import annotations

from desorb.core.agreement_of_case import agreement_shown
from desorb.core.case import Case
from desorb.core.causes_of_case import causes_shown, leak_tests_shown
from desorb.core.floors_of_case import floor_tests
from desorb.core.samples_of_case import samples_shown
from desorb.core.shown import Shown
from desorb.core.surfaces_of_case import surfaces_shown
from desorb.core.timber_of_case import timber_shown


def methods_of(case: Case) -> tuple[Shown, ...]:
    """Floor tests, samples, timber, surfaces, leak tests, causes, agreement: each with its result or what is wanting."""
    return (
        *floor_tests(case),
        *samples_shown(case),
        *timber_shown(case),
        *surfaces_shown(case),
        *leak_tests_shown(case),
        *causes_shown(case),
        *agreement_shown(case),
    )
