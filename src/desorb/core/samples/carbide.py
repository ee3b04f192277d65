"""The calcium carbide test: cautions and steps, and the water in the sample from gauge pressure by the gas law.

Contents: CAUTIONS; STEPS; protocol; sample_mass; free_volume; acetylene; carbide_needed; gauge_pressure; water_mass;
free_volume_of_charge; dry_basis; CarbideTest; CarbideResult; assess_carbide.

CaC2 + 2 H2O -> C2H2 + Ca(OH)2. The test ends before all water has reacted: its figure is never turned into an oven
figure. Masses in g, volumes in mL, pressures in bar above the air outside, temperatures in degC, moisture in % of
mass. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from desorb.core.air.equations import STANDARD_PRESSURE
from desorb.core.samples.numbers import require_between
from desorb.errors import InputError
from desorb.units import ZERO_CELSIUS_IN_KELVIN

MOLAR_MASS_WATER = 18.01528  # g/mol [RULES-3.7]
# atomic weights of calcium and carbon from memory, of the set that gives 18.01528 for water
MOLAR_MASS_CARBIDE = 40.078 + 2 * 12.0107  # g/mol, CaC2
WATER_FOR_ONE_GAS = 2  # mol of water for one mol of acetylene, by the reaction above
GAS_CONSTANT = 8.314462618  # J/(mol K), exact by definition of the mole and kelvin, from memory
PASCAL_PER_BAR = 1e5  # exact
ML_PER_M3 = 1e6  # exact
HIGHEST_GAUGE = 1.0  # bar; acetylene below 2 bar absolute, row HS-10 of the project's limits [RULES-3.7]
BELIEVED_GAUGE = 3.0  # bar; setting of ours: no gauge of such a vessel shows more
BELIEVED_TEMPERATURES = (0.0, 50.0)  # degC; setting of ours
CLOSING_DIFFERENCE = 2.0  # K; setting of ours: warmer or colder by more than this is said
AIR_PRESSURE = STANDARD_PRESSURE / PASCAL_PER_BAR  # bar; only for the size of a warning

CAUTIONS = (
    "The gas is acetylene: it is flammable in almost any mixture with air. No flame, spark, smoking or switching near.",
    "Protect eyes and hands: goggles and gloves before the reagent is touched.",
    "Let the gas out outdoors, away from people and from anything that can light it.",
    "No copper, silver or their alloys may touch the gas.",
    "The residue is caustic and may still give off gas: leave its container open outdoors, keep it from water and skin.",
    "Do not do this test in a confined room, or in a room where gas may have collected.",
)  # [RULES-3.7], and the table of hazards in the same collection

STEPS = (
    "Let the vessel come to room temperature, check it for leaks and note its temperature.",
    "Note place, depth and material; crush the sample fast in a plastic bag, to below 10 mm.",
    "Weigh the sample: 50 g of cement or magnesite base (20 g if still wet), 100 g of calcium sulphate.",
    "Put in the sample, then four steel balls, the ampoule last; close the vessel.",
    "Shake for 2 minutes; at 5 minutes shake for 1 minute; at 10 minutes shake for 10 seconds and read.",
    "Note gauge pressure and temperature at the reading.",
    "Open the vessel outdoors, look at the sample: if it is not fully crushed, the test is not valid; repeat it.",
)  # [RULES-3.7]

SAMPLE_MASSES = {"cement": 50.0, "magnesite": 50.0, "calcium sulphate": 100.0}  # g [RULES-3.7]
WET_SAMPLE_MASS = 20.0  # g, cement or magnesite that is still wet [RULES-3.7]
LOWER_THAN_OVEN = (
    "The carbide test ends before all water has reacted; it is not compared with, nor turned into, an oven figure."
)


@dataclass(frozen=True, slots=True)
class CarbideTest:
    """One test as done. None: not recorded.

    free_volume: mL, net of sample, balls and glass (see free_volume); reagent_mass: g of calcium carbide;
    temperature_when_closed: degC of the vessel when it was closed.
    """

    sample: str
    material: str
    sample_mass: float
    gauge_pressure: float
    temperature: float
    free_volume: float
    fully_crushed: bool | None
    depth: str = ""
    reagent_mass: float | None = None
    temperature_when_closed: float | None = None


@dataclass(frozen=True, slots=True)
class CarbideResult:
    """water: g; wet_basis: % of moist mass; dry_basis: % of dry mass. All None if the test is not valid, see faults."""

    test: CarbideTest
    water: float | None
    wet_basis: float | None
    dry_basis: float | None
    faults: tuple[str, ...]
    warnings: tuple[str, ...]

    @property
    def words(self) -> str:
        """The result in one sentence, both bases always together."""
        if self.wet_basis is None or self.dry_basis is None:
            return f"Carbide test of {self.test.sample}: test not valid. {' '.join(self.faults)}"
        return (
            f"Carbide test of {self.test.sample}: {self.wet_basis:.2f} % wet basis, {self.dry_basis:.2f} % dry basis. "
            f"{LOWER_THAN_OVEN}"
        )


def protocol() -> tuple[str, ...]:
    """Cautions first, then the steps."""
    return CAUTIONS + STEPS


def sample_mass(material: str, still_wet: bool = False) -> float:
    """Mass to weigh in. [g] material: a key of SAMPLE_MASSES; InputError for another. Source: [RULES-3.7]."""
    if material not in SAMPLE_MASSES:
        raise InputError(
            "No sample mass is known for this material",
            got=repr(material),
            wanted=", ".join(SAMPLE_MASSES),
            next_step="take the mass from the sheet of the unit's maker and name it",
        )
    if still_wet and material == "calcium sulphate":
        raise InputError(
            "No smaller sample mass is known for wet calcium sulphate",
            wanted="100 g, or the maker's own mass",
            next_step="wait, or take the mass from the sheet of the unit's maker and name it",
        )
    return WET_SAMPLE_MASS if still_wet else SAMPLE_MASSES[material]


def free_volume(vessel: float, sample: float, balls: float, glass: float) -> float:
    """Volume left for the gas: empty vessel less sample, balls and glass of the ampoule. [mL]

    Raises InputError if a part is negative or nothing is left. Source: [RULES-3.7].
    """
    for name, value in (("vessel", vessel), ("sample", sample), ("balls", balls), ("glass", glass)):
        require_between(f"volume of the {name}", value, 0.0, math.inf, "mL")
    left = vessel - sample - balls - glass
    if left <= 0:
        raise InputError(
            "No volume is left for the gas",
            got=f"{vessel:g} mL less {sample + balls + glass:g} mL",
            wanted="a vessel larger than what is put in",
            next_step="check the volumes of vessel, sample, balls and glass",
        )
    return left


def acetylene(water: float) -> float:
    """Gas from so much water. [g] -> [mol] Source: [RULES-3.7]."""
    require_between("mass of water", water, 0.0, math.inf, "g")
    return water / MOLAR_MASS_WATER / WATER_FOR_ONE_GAS


def carbide_needed(water: float) -> float:
    """Calcium carbide used up by so much water. [g] -> [g] Source: [RULES-3.7]."""
    return acetylene(water) * MOLAR_MASS_CARBIDE


def gauge_pressure(water: float, temperature: float, volume: float) -> float:
    """Pressure that so much water gives. [g], [degC 0 to 50], [mL above 0] -> [bar gauge] Source: [RULES-3.7]."""
    kelvin = _kelvin(temperature)
    _require_volume(volume)
    return acetylene(water) * GAS_CONSTANT * kelvin / (volume / ML_PER_M3) / PASCAL_PER_BAR


def water_mass(pressure: float, temperature: float, volume: float) -> float:
    """Water that gave this gauge pressure. [bar 0 to 3], [degC 0 to 50], [mL above 0] -> [g] Source: [RULES-3.7]."""
    require_between("gauge pressure", pressure, 0.0, BELIEVED_GAUGE, "bar")
    kelvin = _kelvin(temperature)
    _require_volume(volume)
    moles = pressure * PASCAL_PER_BAR * (volume / ML_PER_M3) / (GAS_CONSTANT * kelvin)
    return moles * WATER_FOR_ONE_GAS * MOLAR_MASS_WATER


def free_volume_of_charge(water: float, pressure: float, temperature: float) -> float:
    """Free volume implied by a known charge of water. [g], [bar above 0], [degC] -> [mL] Source: [RULES-3.7]."""
    if not 0 < pressure <= BELIEVED_GAUGE:
        require_between("gauge pressure", pressure, 1e-6, BELIEVED_GAUGE, "bar")
    return acetylene(water) * GAS_CONSTANT * _kelvin(temperature) / (pressure * PASCAL_PER_BAR) * ML_PER_M3


def dry_basis(wet_basis: float) -> float:
    """100 w / (100 - w): the same water per dry mass. [% of moist mass, 0 to below 100] -> [% of dry mass]"""
    require_between("moisture on wet basis", wet_basis, 0.0, 99.9, "%")
    return 100 * wet_basis / (100 - wet_basis)  # [RULES-3.7]


def assess_carbide(test: CarbideTest) -> CarbideResult:
    """Water, wet basis and dry basis of one test, or why it is not valid.

    Raises OutOfRange for numbers that cannot be, InputError for a mass of zero.
    """
    require_between("mass of the sample", test.sample_mass, 1.0, 1000.0, "g")
    water = water_mass(test.gauge_pressure, test.temperature, test.free_volume)
    if water >= test.sample_mass:
        raise InputError(
            "The pressure stands for more water than the sample weighed",
            got=f"{water:.3g} g of water in {test.sample_mass:g} g",
            wanted="less water than sample",
            next_step="check pressure, free volume and sample mass",
        )
    faults: list[str] = []
    if test.fully_crushed is None:
        faults.append("It is not recorded whether the sample was fully crushed: repeat the test.")
    elif not test.fully_crushed:
        faults.append("The sample was not fully crushed: repeat the test with a new sample.")
    if test.reagent_mass is not None and test.reagent_mass < carbide_needed(water):
        faults.append(
            f"{test.reagent_mass:g} g of reagent is less than the {carbide_needed(water):.2f} g this water uses up: "
            "repeat with a smaller sample."
        )
    wet = None if faults else 100 * water / test.sample_mass
    return CarbideResult(
        test,
        None if faults else water,
        wet,
        None if wet is None else dry_basis(wet),
        tuple(faults),
        _warnings(test),
    )


def _warnings(test: CarbideTest) -> tuple[str, ...]:
    found: list[str] = []
    usual = SAMPLE_MASSES.get(test.material)
    if usual is None:
        found.append(f"No usual sample mass is known for {test.material}: name the sheet the mass was taken from.")
    elif test.sample_mass not in (usual, *((WET_SAMPLE_MASS,) if usual == 50.0 else ())):
        found.append(f"{test.sample_mass:g} g is not the usual sample mass of {usual:g} g for {test.material}.")
    if not test.depth:
        found.append("The depth of the sample is not recorded.")
    if test.gauge_pressure > HIGHEST_GAUGE:
        found.append(
            f"{test.gauge_pressure:g} bar is above {HIGHEST_GAUGE:g} bar: acetylene may decompose. Let the gas out "
            "outdoors, and take a smaller sample."
        )
    if test.temperature_when_closed is None:
        found.append("The temperature when the vessel was closed is not recorded: it should equal that at the reading.")
    else:
        warmer = test.temperature - test.temperature_when_closed
        if abs(warmer) > CLOSING_DIFFERENCE:
            share = 1000 * AIR_PRESSURE * warmer / _kelvin(test.temperature_when_closed)
            found.append(
                f"The vessel changed by {warmer:+g} K after it was closed: the air shut in gives {share:+.0f} mbar of "
                "the reading. Repeat at room temperature."
            )
    return tuple(found)


def _kelvin(temperature: float) -> float:
    require_between("temperature of the gas", temperature, *BELIEVED_TEMPERATURES, "degC")
    return temperature + ZERO_CELSIUS_IN_KELVIN


def _require_volume(volume: float) -> None:
    require_between("free volume", volume, 1.0, math.inf, "mL")
