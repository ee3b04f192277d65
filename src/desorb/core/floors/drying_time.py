"""How long a cement screed may take to dry: for planning only, and no evidence of anything.

Contents: PLANNING_ONLY; DryingTime; planned_drying_time.

The rule holds for good drying conditions and the first 50 mm. Past that the source says only that each mm takes longer,
so no figure is made up: the user states a slope or gets none. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from desorb.errors import InputError, OutOfRange

PLANNING_ONLY = "For planning only: it is no test, and no floor meets a limit by the calendar."
DAYS_PER_MM = 1.0  # d/mm, first 50 mm; [BS8204-1], read in a trade page, the attribution from memory
FIRST_MM = 50.0  # mm; as above


@dataclass(frozen=True, slots=True)
class DryingTime:
    """At least so many days in good conditions. words: what it rests on, and that it is for planning only."""

    days: float
    words: str


def planned_drying_time(thickness: float, drying_faces: int = 1, own_days_per_mm: float | None = None) -> DryingTime:
    """Least drying time of a cement and sand screed. [mm], 1 or 2 faces, [d/mm] past 50 mm -> [d]

    Two faces share the thickness in halves. own_days_per_mm: the user's own slope past 50 mm, 1 or more. Raises
    OutOfRange above 50 mm without it, InputError for other inputs that cannot be used.
    """
    if not (math.isfinite(thickness) and thickness > 0):
        raise InputError(
            "The thickness cannot be used",
            got=f"{thickness:g} mm",
            wanted="above 0 mm",
            next_step="measure the thickness",
        )
    if drying_faces not in (1, 2):
        raise InputError(
            "The number of drying faces is not known",
            got=f"{drying_faces}",
            wanted="1 or 2",
            next_step="find out what lies under the screed",
        )
    each = thickness / drying_faces  # [BS8204-1] two faces: half the thickness each
    first = f"{DAYS_PER_MM:g} day for each of the first {FIRST_MM:g} mm"
    if each <= FIRST_MM:
        return DryingTime(each * DAYS_PER_MM, f"{PLANNING_ONLY} {first}, in good drying conditions.")
    if own_days_per_mm is None:
        raise OutOfRange(
            f"Past {FIRST_MM:g} mm each mm takes longer, and no source says how much",
            got=f"{each:g} mm to dry through one face",
            wanted=f"{FIRST_MM:g} mm or less, or a slope of your own",
            next_step="state the days for each further mm and where you have them from, or test the floor",
        )
    if not (math.isfinite(own_days_per_mm) and own_days_per_mm >= DAYS_PER_MM):
        raise InputError(
            "The slope past the first layer cannot be lower than within it",
            got=f"{own_days_per_mm:g} d/mm",
            wanted=f"{DAYS_PER_MM:g} d/mm or more",
            next_step="check the slope, and where you have it from",
        )
    days = FIRST_MM * DAYS_PER_MM + (each - FIRST_MM) * own_days_per_mm
    return DryingTime(
        days, f"{PLANNING_ONLY} {first}, then {own_days_per_mm:g} for each further mm as the user stated."
    )
