"""Carbide test of a sample out of the floor: is it valid, and how does it stand to a limit in CM-%.

Contents: assess_carbide_place. The figure is the water as a share of the moist sample; it is never turned into an oven figure.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from desorb.core.floors.outcome import PlaceResult, hold_against
from desorb.core.floors.plan import CARBIDE_QUANTITY
from desorb.core.limits import Limit
from desorb.core.samples.carbide import CarbideTest, assess_carbide

CARBIDE_UNIT = "CM-%"
WITHIN_LABORATORY = Decimal("0.2")  # CM-% at the limit; row FLR-CM-25 of the limits (Erning, quoted by TKB)


def assess_carbide_place(
    test: CarbideTest,
    uncertainty: Decimal | None,
    limit: Limit,
    at_survey_place: str = "",
    kept: Sequence[tuple[str, str]] = (),
) -> PlaceResult:
    """One sample against a limit of carbide moisture. uncertainty: CM-% either way; None: not stated, and then
    WITHIN_LABORATORY is taken and said. kept: what is wrong with the way of the sample to the vessel, and what to do.

    Raises OutOfRange or InputError for figures that cannot be, and InputError for a limit of another kind.
    """
    found = assess_carbide(test)
    faults = [(words.rstrip("."), "repeat the test with a new sample of this place") for words in found.faults]
    faults += kept
    warnings = list(found.warnings)
    if not test.depth:
        faults.append(("The depth of the sample is not recorded", "write down from which depth to which it was taken"))
    if uncertainty is None:
        uncertainty = WITHIN_LABORATORY
        warnings.append(
            f"How far the test may be off is not stated: {WITHIN_LABORATORY} CM-% is taken, the error within one laboratory "
            "(row FLR-CM-25)"
        )
    value = None if found.wet_basis is None else Decimal(repr(found.wet_basis))
    return hold_against(
        test.sample, value, uncertainty, limit, CARBIDE_QUANTITY, faults, warnings, at_survey_place, CARBIDE_UNIT
    )
