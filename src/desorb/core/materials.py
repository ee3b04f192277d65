"""What is known of a building material, each figure with its passport, and what speaks against it.

Contents: Figure (a value or points with source); Bounds and FAMILIES; Material; lent (a figure borrowed from another
material, said so); out_of_bounds; needed_gaps; missing; examine.
Nothing here simulates: core/transport/of_material.py makes a table of a material, and refuses where something is a gap.
Bounds are settings of ours, drawn around what the rows of the table and textbooks show for a family: they catch slips of
unit and of row, not fine errors.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from itertools import pairwise

from desorb.errors import InputError, NotFound

READ, MEMORY, OURS, LENT = "read", "memory", "ours", "lent"
STATUSES = (READ, MEMORY, OURS, LENT)
STILL_AIR = 2.0e-10  # kg/(m s Pa) of vapour in still air [ISO-13788]
SOLID_DENSITY = {"timber": 1500.0, "board": 1500.0, "foam": 1050.0}  # kg/m3 of the walls of the pores, from memory
MINERAL_DENSITY = 2700.0  # kg/m3, from memory
NEEDED = ("density", "heat_capacity", "conductivity", "sorption", "capillary")
USEFUL = ("conductivity_moist", "absorption")
DRY_CUP, WET_CUP = 0.25, 0.715  # mean RH of cups at 0/50 % and 50/93 % [ISO-12572]


@dataclass(frozen=True, slots=True)
class Figure:
    """A value, or points (x, y) of y against x. `read`: read, memory, ours (a setting) or lent (from another material)."""

    unit: str
    source: str
    read: str
    value: float | None = None
    points: tuple[tuple[float, float], ...] = ()
    against: str = ""  # what x is, with its unit
    condition: str = ""
    edition: str = ""

    def __post_init__(self) -> None:
        if (self.value is None) == (not self.points):
            raise InputError("a figure is a value or points, one of them", got=f"{self.value} and {self.points}")
        if self.read not in STATUSES:
            raise InputError("a figure says how it was read", got=self.read, wanted=", ".join(STATUSES))
        if not self.unit.strip() or not self.source.strip():
            raise InputError("a figure has a unit and a source", got=f"unit {self.unit!r}, source {self.source!r}")
        numbers = [self.value] if self.value is not None else [number for point in self.points for number in point]
        if not all(math.isfinite(number) for number in numbers):
            raise InputError("a figure is finite", got=str(numbers))
        if any(late[0] <= early[0] for early, late in pairwise(self.points)):
            raise InputError("points rise along their axis, none twice", got=str(self.points))
        if self.points and not self.against.strip():
            raise InputError("points say against what they stand", got=self.unit)

    @property
    def passport(self) -> str:
        parts = (self.unit, self.condition, self.source, self.edition, self.read)
        return "; ".join(part for part in parts if part)


Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a family is believed within. Density kg/m3, heat capacity J/(kg K), dry conductivity W/(m K), mu without unit,
    absorption kg/(m2 s0.5), capillary water kg/m3. `conductivity_for_density`: share of the usual one at that density."""

    words: str
    density: Span
    heat_capacity: Span
    conductivity: Span
    vapour: Span
    absorption: Span
    capillary: Span
    conductivity_for_density: Span = (0.4, 2.0)


STONY = (700.0, 1200.0)
FAMILIES = {
    "concrete": Bounds("concrete", (1600, 2600), STONY, (0.6, 2.6), (15, 300), (5e-4, 0.05), (60, 300)),
    "screed": Bounds("screed", (1500, 2300), STONY, (0.7, 2.0), (10, 100), (2e-3, 0.2), (80, 350)),
    "brick": Bounds("brick", (1200, 2300), STONY, (0.3, 1.4), (5, 50), (0.01, 0.8), (80, 420)),
    "mortar": Bounds("mortar, render or lime plaster", (800, 2200), STONY, (0.15, 1.6), (5, 60), (5e-4, 0.4), (80, 450)),
    "gypsum": Bounds("gypsum plaster or board", (600, 1900), (800, 1500), (0.15, 0.9), (4, 16), (0.03, 0.5), (150, 500)),
    "aerated concrete": Bounds("aerated concrete", (250, 900), STONY, (0.06, 0.3), (3, 15), (0.01, 0.2), (150, 600)),
    "timber": Bounds("timber", (300, 900), (1200, 2000), (0.07, 0.22), (10, 700), (2e-4, 0.03), (250, 800)),
    "board": Bounds("wood-based board", (250, 1100), (1200, 2000), (0.07, 0.26), (10, 400), (2e-4, 0.03), (200, 800)),
    "wool": Bounds("mineral wool", (10, 250), STONY, (0.028, 0.05), (1, 3), (0.0, 0.5), (0, 1000)),
    "foam": Bounds("foam", (10, 60), (1200, 1600), (0.02, 0.05), (20, 300), (0.0, 1e-4), (0, 1000)),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Material:
    """One material. Sorption points stand against RH as a fraction, in kg/m3 or kg/kg; diffusivities in m2/s against kg/m3.

    `vapour_dry`, `vapour_wet`: vapour resistance numbers of the dry and the wet cup. `vapour_curve`: that number, or
    permeability in kg/(m s Pa), against RH. `conductivity_moist`: points against kg/m3, or a value: share of the dry
    conductivity added for each kg/kg. `gaps`: (what, words); `left_out`: what sources print and is not used, with the reason.
    """

    key: str
    family: str
    words: str
    density: Figure | None = None
    heat_capacity: Figure | None = None
    conductivity: Figure | None = None
    conductivity_moist: Figure | None = None
    sorption: Figure | None = None
    capillary: Figure | None = None
    porosity: Figure | None = None
    vapour_dry: Figure | None = None
    vapour_wet: Figure | None = None
    vapour_curve: Figure | None = None
    absorption: Figure | None = None
    suction_diffusivity: Figure | None = None
    redistribution_diffusivity: Figure | None = None
    hygroscopic: bool = True
    spread_absorption: Figure | None = None
    spread_vapour: Figure | None = None
    spread_storage: Figure | None = None
    gaps: tuple[tuple[str, str], ...] = ()
    left_out: tuple[str, ...] = ()

    def figures(self) -> Iterator[tuple[str, Figure]]:
        for field in fields(self):
            found = getattr(self, field.name)
            if isinstance(found, Figure):
                yield field.name, found

    def value(self, name: str) -> float:
        """The value of a figure that must be there."""
        found = getattr(self, name)
        if found is None or found.value is None:
            raise NotFound(
                f"{self.words}: no figure for {name.replace('_', ' ')}", got=self.gap(name),
                next_step="measure it, find a source, or lend the figure of another material and say so",
            )  # fmt: skip
        return float(found.value)

    def gap(self, name: str) -> str:
        return dict(self.gaps).get(name, "nothing in the table")

    def water_points(self) -> tuple[tuple[float, float], ...]:
        """Sorption points as (RH as a fraction, kg/m3)."""
        if self.sorption is None:
            return ()
        scale = self.value("density") if self.sorption.unit == "kg/kg" else 1.0
        return tuple((humidity, scale * water) for humidity, water in self.sorption.points)

    def permeability_points(self, liquid_counted: bool = False) -> tuple[tuple[float, float], ...]:
        """Vapour permeability as (RH, kg/(m s Pa)). With liquid counted apart the wet cup is left out: it holds liquid too."""
        curve = self.vapour_curve
        if curve is not None:
            resistance = curve.unit == "-"
            return tuple((humidity, _permeability(y) if resistance else y) for humidity, y in curve.points)
        found = [(DRY_CUP, self.vapour_dry), (WET_CUP, self.vapour_wet)]
        if liquid_counted and self.vapour_dry is not None:
            found = found[:1]
        return tuple((h, _permeability(each.value)) for h, each in found if each is not None and each.value is not None)


def _permeability(resistance: float) -> float:
    return STILL_AIR / resistance if resistance > 0.0 else math.inf


def lent(material: Material, name: str, lender: Material, because: str) -> Material:
    """The material with one figure of another one. Its source says whose it is and why; its status is lent."""
    found = getattr(lender, name, None)
    if not isinstance(found, Figure):
        raise NotFound(f"{lender.words} has no figure for {name.replace('_', ' ')} to lend", got=lender.gap(name))
    if not because.strip():
        raise InputError("a lent figure says why it may stand in", next_step="give the reason in a sentence")
    figure = replace(found, source=f"lent from {lender.words}: {because} ({found.source})", read=LENT)
    changed: dict[str, object] = {name: figure, "gaps": tuple(gap for gap in material.gaps if gap[0] != name)}
    return replace(material, **changed)  # type: ignore[arg-type]


def usual_conductivity(material: Material) -> float | None:
    """Dry conductivity usual at the density of the material, W/(m K); a band around it catches swapped rows."""
    if material.density is None or material.density.value is None or material.family in ("wool", "foam"):
        return None
    density = material.density.value
    if material.family in ("timber", "board"):
        return 0.00026 * density  # the rows of [EN12524] for timber and plywood lie within a tenth of it
    return 0.13 * math.exp(1.1 * density / 1000.0)  # a setting of ours, through the mineral rows of [EN12524]


def out_of_bounds(material: Material) -> list[str]:
    """What cannot be believed of the figures that are there, in words."""
    bounds = FAMILIES.get(material.family)
    if bounds is None:
        return [f"{material.words}: the family {material.family} is not known; known are {', '.join(FAMILIES)}"]
    found = []
    for name in ("density", "heat_capacity", "conductivity", "absorption", "capillary"):
        figure = getattr(material, name)
        low, high = getattr(bounds, name)
        if figure is not None and figure.value is None:
            found.append(f"{material.words}: {name.replace('_', ' ')} is one value, not points")
        elif figure is not None and not low <= figure.value <= high:
            found.append(_outside(material, name, figure.value, low, high, figure.unit))
    for humidity, permeability in material.permeability_points():
        low, high = bounds.vapour
        number = STILL_AIR / permeability if permeability > 0.0 else math.inf
        if number < 1.0 - 1e-9:
            found.append(f"{material.words}: at {humidity:.0%} RH it would pass more vapour than still air")
        elif not low <= number <= high:
            found.append(_outside(material, f"vapour resistance number at {humidity:.0%} RH", number, low, high, ""))
    usual = usual_conductivity(material)
    if usual is not None and material.conductivity is not None and material.conductivity.value is not None:
        share = material.conductivity.value / usual
        low, high = bounds.conductivity_for_density
        if not low <= share <= high:
            found.append(
                f"{material.words}: a dry conductivity of {material.conductivity.value:g} W/(m K) does not go with its "
                f"density: {share:.2f} of the usual {usual:.2f}, believed from {low:g} to {high:g}"
            )
    return found + _water_out_of_bounds(material) + _moist_out_of_bounds(material)


def _outside(material: Material, name: str, value: float, low: float, high: float, unit: str) -> str:
    words = FAMILIES[material.family].words
    name = name.replace("_", " ")
    return f"{material.words}: {name} of {value:.4g} {unit}".rstrip() + f" is outside {low:g} to {high:g} for {words}"


def _water_out_of_bounds(material: Material) -> list[str]:
    found = []
    capillary = material.capillary.value if material.capillary is not None else None
    points = material.water_points() if material.density is not None else ()
    for early, late in pairwise(points):
        if late[1] < early[1]:
            found.append(f"{material.words}: sorption falls between {early[0]:.1%} and {late[0]:.1%} RH")
    for humidity, water in points:
        if not 0.0 < humidity < 1.0 or water < 0.0:
            found.append(f"{material.words}: a sorption point at {humidity:.1%} RH with {water:g} kg/m3 cannot be")
        if capillary is not None and water > capillary:
            found.append(f"{material.words}: at {humidity:.1%} RH it would hold more than its capillary water content")
    if capillary is not None and material.density is not None and material.density.value is not None:
        solid = SOLID_DENSITY.get(material.family, MINERAL_DENSITY)
        room = 1000.0 * (1.0 - material.density.value / solid)
        if material.porosity is not None and material.porosity.value is not None:
            room = min(room * 1.1, 1000.0 * material.porosity.value)  # a tenth for solids that are denser than usual
        if capillary > room:
            found.append(f"{material.words}: a capillary water content of {capillary:g} kg/m3 has no room in its pores")
    return found


def _moist_out_of_bounds(material: Material) -> list[str]:
    found = []
    moist, dry = material.conductivity_moist, material.conductivity
    if moist is not None and dry is not None and dry.value is not None:
        values = [y for _, y in moist.points] if moist.points else [dry.value * (1.0 + (moist.value or 0.0))]
        if min(values) < dry.value or (moist.points and max(values) > 3.5 * dry.value + 1.7):
            found.append(
                f"{material.words}: moist, it would conduct {min(values):g} to {max(values):g} W/(m K), dry {dry.value:g}"
            )
    for name in ("suction_diffusivity", "redistribution_diffusivity"):
        figure = getattr(material, name)
        if figure is not None and not all(0.0 <= y <= 1e-4 for _, y in figure.points):
            found.append(f"{material.words}: {name.replace('_', ' ')} lies outside 0 to 1e-4 m2/s")
    return found


def needed_gaps(material: Material) -> list[str]:
    """What a simulation cannot do without and has not, in words."""
    wanted = [name for name in NEEDED if material.hygroscopic or name not in ("sorption", "capillary")]
    if not material.hygroscopic:
        wanted.append("porosity")
    found = [
        f"{material.words}: {name.replace('_', ' ')} is a gap and needed: {material.gap(name)}"
        for name in wanted
        if getattr(material, name) is None
    ]
    if not material.permeability_points():
        found.append(f"{material.words}: vapour resistance is a gap and needed: {material.gap('vapour_dry')}")
    return found


def missing(material: Material) -> list[str]:
    """What is not there: first what a simulation cannot do without, then what it does without, in words."""
    found = needed_gaps(material)
    for name in USEFUL:
        if getattr(material, name) is None and not (name == "absorption" and material.suction_diffusivity is not None):
            found.append(f"{material.words}: {name.replace('_', ' ')} is a gap: {material.gap(name)}")
    return found


def examine(material: Material) -> list[str]:
    """Everything out of bounds, then everything missing, in words. Empty: nothing speaks against the material."""
    return out_of_bounds(material) + missing(material)
