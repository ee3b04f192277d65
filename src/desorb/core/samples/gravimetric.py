"""Moisture content by oven: which temperature for which material, constant mass, dry basis.

Contents: MATERIALS; ISO_12570; MASONRY_PRACTICE; Weighing; OvenResult; mass_is_constant; moisture_content; assess_oven.

The oven temperature stays with every result: a figure from 40 degC and one from 105 degC are not compared. Masses in g,
net of the dish; moisture content in % of dry mass. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from desorb.core.samples.numbers import require_between
from desorb.errors import InputError

TOLERANCE = 2.0  # K either way; common practice 103 +- 2 [RULES-3.8]
CRYSTAL_WATER = ("gypsum", "calcium sulphate")  # lose crystal water from about 70 and 105 degC, row MS-07 of the limits
DISPUTED_TO = 60.0  # degC; one conservation text dries gypsum and cement there [RULES-3.8]
REGIME = (
    "40 degC, and say the humidity of the oven air: near zero takes crystal water, 11 to 12 % does not dry; "
    "23 degC over a desiccant is advised"
)  # [RULES-3.8]

# degC at which a material is dried; 105 mineral without crystal water, 70 if its structure changes between 70 and 105,
# 40 if it holds crystal water or a blowing agent [RULES-3.8]
MATERIALS = {
    "brick": 105.0,
    "lime mortar": 105.0,
    "concrete": 105.0,
    "cement screed": 105.0,
    "stone": 105.0,
    "structure changes between 70 and 105 degC": 70.0,
    "foam with blowing agent": 40.0,
    "gypsum": 40.0,
    "calcium sulphate": 40.0,
}


@dataclass(frozen=True, slots=True)
class ConstantMassRule:
    """weighings in a row, each `hours` or more after the one before, together changing by less than `percent`."""

    words: str
    weighings: int
    hours: float
    percent: float


ISO_12570 = ConstantMassRule("less than 0.1 % over three weighings 24 h apart", 3, 24.0, 0.1)  # [RULES-3.8] from memory
MASONRY_PRACTICE = ConstantMassRule("less than 0.5 % between weighings 4 h apart", 2, 4.0, 0.5)  # [RULES-3.8]


@dataclass(frozen=True, slots=True)
class Weighing:
    """hours: since the sample went into the oven, rising; mass: g, net."""

    hours: float
    mass: float


@dataclass(frozen=True, slots=True)
class OvenResult:
    """moisture_content: % of dry mass, None if mass was not constant. oven_temperature: degC, part of the value."""

    sample: str
    material: str
    moisture_content: float | None
    oven_temperature: float
    constant_mass: bool
    rule: ConstantMassRule
    warnings: tuple[str, ...]

    @property
    def words(self) -> str:
        """The result in one sentence, with its basis and its oven temperature."""
        if self.moisture_content is None:
            return (
                f"Oven test of {self.sample}: test not valid. Mass was not constant ({self.rule.words}): dry on at "
                f"{self.oven_temperature:g} degC and weigh again."
            )
        return (
            f"Oven test of {self.sample}: {self.moisture_content:.2f} % dry basis, dried at "
            f"{self.oven_temperature:g} degC to constant mass ({self.rule.words})."
        )


def moisture_content(moist_mass: float, dry_mass: float) -> float:
    """100 (moist - dry) / dry. [g], [g above 0] -> [% of dry mass] Raises InputError if the dry mass is the larger."""
    require_between("moist mass", moist_mass, 1e-6, math.inf, "g")
    require_between("dry mass", dry_mass, 1e-6, math.inf, "g")
    if dry_mass > moist_mass:
        raise InputError(
            "The sample weighs more dry than moist",
            got=f"{dry_mass:g} g dry, {moist_mass:g} g moist",
            wanted="a dry mass not above the moist mass",
            next_step="check the sheet of weighings and the mass of the dish",
        )
    return 100 * (moist_mass - dry_mass) / dry_mass


def mass_is_constant(weighings: Sequence[Weighing], rule: ConstantMassRule) -> bool:
    """Whether the last weighings meet `rule`. Weighings closer together than its hours are passed over.

    Raises InputError for hours that do not rise or masses that are not positive.
    """
    hours = [weighing.hours for weighing in weighings]
    if any(not later > earlier for earlier, later in itertools.pairwise(hours)):
        raise InputError(
            "The weighings are not in order of time",
            got=f"{hours}",
            wanted="rising hours",
            next_step="give the weighings in the order they were done",
        )
    for weighing in weighings:
        require_between("mass at a weighing", weighing.mass, 1e-6, math.inf, "g")
    if not weighings:
        return False
    kept = [weighings[-1]]
    for weighing in reversed(weighings[:-1]):
        if len(kept) < rule.weighings and kept[-1].hours - weighing.hours >= rule.hours:
            kept.append(weighing)
    masses = [weighing.mass for weighing in weighings if weighing.hours >= kept[-1].hours]
    return len(kept) == rule.weighings and 100 * (max(masses) - min(masses)) / masses[-1] < rule.percent


def assess_oven(
    sample: str,
    material: str,
    moist_mass: float,
    weighings: Sequence[Weighing],
    oven_temperature: float,
    rule: ConstantMassRule = ISO_12570,
) -> OvenResult:
    """Moisture content of one sample, kept with the temperature it was dried at.

    Raises InputError for an unknown material, for an oven too hot for it, and for weighings that cannot be.
    """
    require_between("oven temperature", oven_temperature, 15.0, 115.0, "degC")
    warnings = _temperature(material, oven_temperature)
    constant = mass_is_constant(weighings, rule)
    content = moisture_content(moist_mass, weighings[-1].mass) if constant else None
    return OvenResult(sample, material, content, oven_temperature, constant, rule, warnings)


def _temperature(material: str, oven: float) -> tuple[str, ...]:
    if material not in MATERIALS:
        raise InputError(
            "No drying temperature is known for this material",
            got=repr(material),
            wanted=", ".join(MATERIALS),
            next_step="find out whether it holds crystal water",
        )
    wanted = MATERIALS[material]
    highest = DISPUTED_TO if material in CRYSTAL_WATER else wanted + TOLERANCE
    if oven > highest:
        loss = "drives out crystal water" if material in CRYSTAL_WATER else "takes more than moisture"
        regime = REGIME if material in CRYSTAL_WATER else f"{wanted:g} degC"
        raise InputError(
            f"This is not a moisture content: {oven:g} degC {loss} of {material}",
            got=f"{oven:g} degC",
            wanted=f"a drying regime for {material}: {regime}",
            next_step="state the drying regime that was used, or dry a new sample",
        )
    if material in CRYSTAL_WATER:
        disputed = (f"{oven:g} degC is disputed for {material}.",) if oven > wanted + TOLERANCE else ()
        return (*disputed, f"State the drying regime: {REGIME}.")
    if oven < wanted - TOLERANCE:
        return (f"{oven:g} degC is below the {wanted:g} degC for {material}: some moisture stays in.",)
    return ()
