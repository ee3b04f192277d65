"""From a material of the table to the compiled table that the engine marches on; what is assumed on the way, in words.

Contents: Factors; LIQUIDS; storage_of; diffusivity_of_absorption and back; properties; assumptions; spreads.
This module imports core/materials.py, never the other way round: a material can be read and examined without the engine.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from desorb.core.materials import LENT, MEMORY, STILL_AIR, Figure, Material, needed_gaps, out_of_bounds
from desorb.core.transport.properties import Floats, Properties, compiled
from desorb.core.transport.storage import Storage, filling_storage, fit_storage
from desorb.errors import InputError, OutOfRange, Refused

LIQUIDS = ("table", "suction", "redistribution", "absorption", "none")
NOTHING = 1e-16  # m2/s: liquid diffusivity of the dry material, so that logarithms exist; a setting of ours
HYGROSCOPIC_END = 0.80  # RH below which liquid transport falls off to nothing at dry; the open records do the same
KUENZEL_FACTOR, KUENZEL_RATIO = 3.8, 1000.0  # [KUENZEL97]
SMALLEST_FACTOR, LARGEST_FACTOR = 0.02, 50.0
Course = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True)
class Factors:
    """What one member of an ensemble multiplies: water held, absorption coefficient, vapour resistance, conductivity."""

    storage: float = 1.0
    absorption: float = 1.0
    vapour: float = 1.0
    conductivity: float = 1.0

    def __post_init__(self) -> None:
        for name in ("storage", "absorption", "vapour", "conductivity"):
            if not SMALLEST_FACTOR <= getattr(self, name) <= LARGEST_FACTOR:
                raise OutOfRange(
                    f"the factor on {name} cannot be", got=f"{getattr(self, name)}",
                    wanted=f"{SMALLEST_FACTOR} to {LARGEST_FACTOR}",
                )  # fmt: skip

    def columns(self) -> dict[str, float]:
        """The same as factors on the columns of the nominal table, as Variation takes them: water, liquid, vapour, conduction.

        A^2 goes with the flux potential times the water held: the potential takes A^2 / storage. Permeability follows RH, and
        conductivity follows the nominal water content: the rise by extra water held is left out there.
        """
        return {
            "water": self.storage, "liquid": self.absorption**2 / self.storage, "vapour": 1.0 / self.vapour,
            "conduction": self.conductivity,
        }  # fmt: skip


AS_IT_IS = Factors()


@lru_cache(maxsize=256)
def storage_of(material: Material) -> Storage:
    """The fitted storage; full pores for what is not hygroscopic."""
    if not material.hygroscopic:
        return filling_storage(material.value("porosity"))
    if material.sorption is None:
        raise _refusal(material)
    return fit_storage(material.water_points(), material.value("capillary"))


def diffusivity_of_absorption(absorption: float, capillary: float) -> Course:
    """D(w) in m2/s from A in kg/(m2 s0.5) and w_f in kg/m3: 3.8 (A/w_f)^2 1000^(w/w_f - 1) [KUENZEL97], from memory.

    Simulated uptake gives back about 1.0085 A: the 3.8 is rounded.
    """

    def found(water: Floats) -> Floats:
        w = np.asarray(water, dtype=float)
        return np.asarray(KUENZEL_FACTOR * (absorption / capillary) ** 2 * KUENZEL_RATIO ** (w / capillary - 1.0))

    return found


def absorption_of_diffusivity(diffusivity: Course, capillary: float, start: float = 0.0) -> float:
    """A in kg/(m2 s0.5) that a course D(w) gives back from a start water content: Parlange's closed form, 0.1 % high for
    a diffusivity that rises a thousandfold (project check values, section 7)."""
    water = np.linspace(start, capillary, 20001)
    integrand = diffusivity(water) * (capillary + water - 2.0 * start)
    return float(np.sqrt(np.trapezoid(integrand, water)))


def liquid_of(material: Material, liquid: str = "table") -> tuple[Course | None, str]:
    """(D(w) or None, what it is). `table`: suction points, else from absorption, else none."""
    if liquid not in LIQUIDS:
        raise InputError("this kind of liquid transport is not known", got=liquid, wanted=", ".join(LIQUIDS))
    figures = {"suction": material.suction_diffusivity, "redistribution": material.redistribution_diffusivity}
    for name, figure in figures.items():
        if liquid == name or (liquid == "table" and name == "suction" and figure is not None):
            if figure is None:
                raise Refused(
                    f"{material.words}: no diffusivities for {name} were found",
                    next_step="ask for absorption, or for none",
                )
            return _through(figure.points), f"diffusivities for {name} from the table, logarithms joined by lines"
    if liquid == "none":
        return None, "no liquid transport: left out on request"
    if not material.hygroscopic or (liquid == "table" and material.absorption is None):
        return None, f"no liquid transport: {material.gap('absorption')}"
    capillary = material.value("capillary")
    course = diffusivity_of_absorption(material.value("absorption"), capillary)
    held = float(storage_of(material).water(HYGROSCOPIC_END))
    water = np.array([held, capillary])
    points = tuple(zip(water.tolist(), course(water).tolist(), strict=True))
    return _through(points), "diffusivity from the absorption coefficient by the relation of Kuenzel and Kiessl"


def _through(points: tuple[tuple[float, float], ...]) -> Course:
    """Logarithms of the diffusivity joined by lines, next to nothing when dry, the last figure held above the last point."""
    water = np.array([0.0, *(w for w, _ in points)])
    logs = np.log(np.maximum([NOTHING, *(d for _, d in points)], NOTHING))

    def course(at: Floats) -> Floats:
        found: Floats = np.exp(np.interp(np.asarray(at, dtype=float), water, logs))
        return found

    return course


def properties(material: Material, factors: Factors = AS_IT_IS, *, liquid: str = "table") -> Properties:
    """The compiled table of a material, varied by factors. Refuses, in words, what has a gap or cannot be believed.

    Liquid transport where the table has it (`liquid` says which: LIQUIDS), otherwise none: assumptions() says so.
    """
    if needed_gaps(material) or out_of_bounds(material):
        raise _refusal(material)
    storage = storage_of(material)
    held = factors.storage
    course, _ = liquid_of(material, liquid)
    humid = np.array([h for h, _ in material.permeability_points(course is not None)])
    passing = np.array([p for _, p in material.permeability_points(course is not None)]) / factors.vapour
    heat = conductivity_of(material)

    def water(suction: Floats) -> Floats:
        found: Floats = held * storage.water_at_suction(suction)
        return found

    def permeability(amount: Floats) -> Floats:
        # Over the logarithm, and never above still air.
        logs = np.interp(storage.humidity(np.asarray(amount) / held), humid, np.log(passing))
        found: Floats = np.minimum(np.exp(logs), STILL_AIR)
        return found

    def diffusivity(amount: Floats) -> Floats:
        assert course is not None
        found: Floats = factors.absorption**2 * course(np.asarray(amount) / held) / held**2
        return found

    return compiled(
        material.words, water=water, liquid_diffusivity=None if course is None else diffusivity,
        permeability=permeability, conductivity=lambda amount: factors.conductivity * heat(amount),
        dry_heat=material.value("density") * material.value("heat_capacity"),
    )  # fmt: skip


def conductivity_of(material: Material) -> Course:
    """Conductivity in W/(m K) against kg/m3: through the points from the dry figure, or by a share for each kg/kg."""
    dry, moist = material.value("conductivity"), material.conductivity_moist
    if moist is None:
        return lambda amount: np.full(np.shape(amount), dry)
    if moist.points:
        water, values = np.array([(0.0, dry), *moist.points]).T
        return lambda amount: np.interp(amount, water, values)
    share, density = float(moist.value or 0.0), material.value("density")
    return lambda amount: np.asarray(dry * (1.0 + share * np.asarray(amount) / density))


def _refusal(material: Material) -> Refused:
    wrong = out_of_bounds(material) + needed_gaps(material)
    return Refused(
        f"{material.words} cannot be simulated", got="; ".join(wrong),
        next_step="choose a material without gaps, or lend what lacks from another one and say why",
    )  # fmt: skip


def assumptions(material: Material, *, liquid: str = "table") -> list[str]:
    """What a simulation takes for granted about this material, in words, for the foot of a report."""
    if needed_gaps(material):
        return [str(_refusal(material))]
    course, words = liquid_of(material, liquid)
    found = [f"{material.words}: water held: {storage_of(material).words()}", f"{material.words}: {words}"]
    if "for suction" in words and material.redistribution_diffusivity is not None:
        found.append(
            f"{material.words}: suction holds while free water stands on it; without, the table has slower figures: ask for "
            "redistribution when it only dries"
        )
    if course is not None:
        capillary = storage_of(material).capillary
        if material.absorption is not None:
            back, printed = absorption_of_diffusivity(course, capillary), material.value("absorption")
            found.append(
                f"{material.words}: the diffusivities give back an absorption of {back:.3g}, the table has {printed:.3g}"
            )
        if material.vapour_wet is not None and material.vapour_dry is not None:
            found.append(f"{material.words}: vapour by the dry cup alone, since the wet cup holds liquid transport too")
    elif material.vapour_wet is not None or material.vapour_curve is not None:
        found.append(f"{material.words}: what moves as liquid is held in the wet end of the vapour permeability")
    if material.conductivity_moist is None:
        found.append(
            f"{material.words}: conductivity taken as dry whatever the water: {material.gap('conductivity_moist')}"
        )
    for status, said in ((MEMORY, "from memory, seen by nobody here"), (LENT, "lent from another material")):
        names = [name.replace("_", " ") for name, figure in material.figures() if figure.read == status]
        if names:
            found.append(f"{material.words}: {said}: {', '.join(names)}")
    return found


def spreads(material: Material) -> dict[str, tuple[float, Figure]]:
    """ln-sd of a prior by the names of Factors, each with the figure that says where it comes from."""
    named = {
        "storage": material.spread_storage,
        "absorption": material.spread_absorption,
        "vapour": material.spread_vapour,
    }
    lacking = [name for name, figure in named.items() if figure is None or figure.value is None]
    if lacking:
        raise Refused(
            f"{material.words} has no spread for {', '.join(lacking)}",
            next_step="give an ln-sd and its source",
        )
    return {
        name: (float(figure.value), figure) for name, figure in named.items() if figure and figure.value is not None
    }
