"""Moisture vapour emission from a floor, by the weight that a dish of calcium chloride gains.

Contents: EmissionReading; emission_rate; grams_per_square_metre_day, micrograms_per_square_metre_second; assess_emission.

The rate tells of the top of the floor only (12 to 20 mm, from memory) and is never converted into a humidity.
Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from desorb.core.floors.outcome import PlaceResult, hold_against
from desorb.core.floors.plan import EMISSION_QUANTITY, EXPOSURE, OPEN_HOURS, SERVICE_HOURS
from desorb.core.limits import Limit
from desorb.errors import InputError

EMISSION_UNIT = "lb/1000ft2/24h"
GRAMS_PER_POUND = Decimal("453.59237")  # by definition of the pound
RATE_FACTOR = 1000 * 24 / GRAMS_PER_POUND  # lb ft2 h / (1000 ft2 24 h g); 52.911, derived from units
SQUARE_METRES_PER_THOUSAND_SQUARE_FEET = Decimal("92.90304")  # by definition of the foot
COARSEST_BALANCE = Decimal("0.1")  # g; [ASTM-F1869]
NOT_ON = ("gypsum", "calcium sulphate", "lightweight concrete")  # [ASTM-F1869] 1.2; calcium sulphate as gypsum: ours


@dataclass(frozen=True, slots=True)
class EmissionReading:
    """One dish. None: not recorded. The uncertainty taken is one step of the balance (setting of ours)."""

    place: str
    mass_gain: Decimal | None  # g
    dish_area: Decimal  # ft2 of floor under the dish
    exposure_hours: Decimal
    material: str  # of the base, such as concrete
    coated_or_patched: bool | None
    open_hours: float | None  # ground clean and open before
    condition_hours: float | None  # at service conditions, or 75 +- 10 F and 50 +- 10 %RH
    balance_step: Decimal | None  # g
    at_survey_place: str = ""


def emission_rate(mass_gain: Decimal, dish_area: Decimal, exposure_hours: Decimal) -> Decimal:
    """52.911 dm / (A t). [g], [ft2], [h] -> [lb/(1000 ft2 24 h)] mass_gain: 0 or more; the others above 0."""
    for name, value, unit in (("dish area", dish_area, "ft2"), ("exposure", exposure_hours, "h")):
        if not (value.is_finite() and value > 0):
            raise InputError(
                f"The {name} cannot be used",
                got=f"{value} {unit}",
                wanted=f"above 0 {unit}",
                next_step="check the sheet of the dish",
            )
    if not (mass_gain.is_finite() and mass_gain >= 0):
        raise InputError(
            "A dish of calcium chloride gains weight", got=f"{mass_gain} g", next_step="check both weighings"
        )
    return RATE_FACTOR * mass_gain / (dish_area * exposure_hours)  # derived from units


def grams_per_square_metre_day(rate: Decimal) -> Decimal:
    """The same rate in another unit. [lb/(1000 ft2 24 h)] -> [g/(m2 24 h)] Derived from units."""
    return rate * GRAMS_PER_POUND / SQUARE_METRES_PER_THOUSAND_SQUARE_FEET


def micrograms_per_square_metre_second(rate: Decimal) -> Decimal:
    """The same rate in another unit. [lb/(1000 ft2 24 h)] -> [ug/(m2 s)] Derived from units."""
    return grams_per_square_metre_day(rate) * 1_000_000 / 86_400


def assess_emission(reading: EmissionReading, limit: Limit) -> PlaceResult:
    """One dish against a limit of emission rate, in lb/(1000 ft2 24 h). Raises InputError as `emission_rate` does."""
    faults: list[tuple[str, str]] = []
    other = "use a method that is made for this base"
    if not reading.material.strip():
        faults.append(("The material of the base is not recorded", "find out what the base is"))
    elif any(name in reading.material.lower() for name in NOT_ON):
        faults.append((f"The method is not for {reading.material}", other))
    if reading.coated_or_patched is not False:
        faults.append(("The place is coated or patched, or that is not recorded", "test bare, ground base only"))
    if not EXPOSURE[0] <= reading.exposure_hours <= EXPOSURE[1]:
        why = f"The dish stood {reading.exposure_hours} hours, {EXPOSURE[0]:g} to {EXPOSURE[1]:g} are asked"
        faults.append((why, "set a new dish"))
    for value, least, name in (
        (reading.open_hours, OPEN_HOURS, "time that the ground place stood open"),
        (reading.condition_hours, SERVICE_HOURS, "time at service or standard conditions"),
    ):
        if value is None or not (math.isfinite(value) and value >= least):
            got = "is not recorded" if value is None else f"was {value:g} hours"
            faults.append((f"The {name} {got}, {least:g} or more are needed", "keep to it and set a new dish"))
    step = reading.balance_step
    if step is not None and step > COARSEST_BALANCE:
        faults.append((f"The balance reads in steps of {step} g, {COARSEST_BALANCE} is the most", "use a finer one"))
    rate = uncertainty = None
    if reading.mass_gain is not None:
        rate = emission_rate(reading.mass_gain, reading.dish_area, reading.exposure_hours)
    if step is not None and step > 0:
        uncertainty = emission_rate(step, reading.dish_area, reading.exposure_hours)
    return hold_against(
        reading.place, rate, uncertainty, limit, EMISSION_QUANTITY, faults, (), reading.at_survey_place, EMISSION_UNIT
    )
