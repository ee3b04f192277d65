"""The build-up that is simulated, and the mesh and figures that the march needs.

Contents: Layer, Film; Assembly; Mesh (nodes on interfaces and surfaces); mesh_of.
Layers are listed from the first surface (side 0) to the second (side 1). A film between two layers (a membrane, a vinyl
sheet, a coat of paint) passes vapour as an air layer of thickness sd would, and no liquid.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

from desorb.core.transport.properties import AIR_PERMEABILITY, ROWS, S0, U_FIRST, U_LAST, Floats, Properties
from desorb.errors import InputError, OutOfRange

THINNEST, THICKEST = 1e-4, 50.0  # m
FEWEST_CELLS, MOST_CELLS = 2, 2000
REFINEMENT = 1.5  # mild tanh refinement at both ends of a layer: strong refinement is worse and slower
NO_RESISTANCE = 1e9  # W/(m2 K): a film that holds back vapour only


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of one material. `cells` 0 lets the mesh choose."""

    properties: Properties
    thickness: float  # m
    cells: int = 0

    def __post_init__(self) -> None:
        if not THINNEST <= self.thickness <= THICKEST:
            raise OutOfRange(
                f"layer {self.properties.name}: a thickness that cannot be simulated", got=f"{self.thickness} m",
                wanted=f"{THINNEST} to {THICKEST} m", next_step="give what is thinner as a film with its sd value",
            )  # fmt: skip
        if self.cells and not FEWEST_CELLS <= self.cells <= MOST_CELLS:
            raise OutOfRange(
                f"layer {self.properties.name}: the grid cannot have this many cells", got=str(self.cells),
                wanted=f"{FEWEST_CELLS} to {MOST_CELLS}",
            )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Film:
    """A thin sheet between two layers: sd in m, heat resistance in m2 K/W (0: none)."""

    sd: float
    heat_resistance: float = 0.0

    def __post_init__(self) -> None:
        if not (0.0 < self.sd <= 1e6 and self.heat_resistance >= 0.0):
            raise OutOfRange("a film has an sd value above 0 m", got=f"sd {self.sd} m, {self.heat_resistance} m2 K/W")


@dataclass(frozen=True, slots=True)
class Mesh:
    """Nodes, faces and figures. `material` of a face is the index of its table, -1 for a film."""

    x: Floats  # m, places of the nodes; the two nodes of a film share one
    material: np.ndarray
    widths: Floats
    film_vapour: Floats  # kg/(m2 s Pa)
    film_heat: Floats  # W/(m2 K)
    tables: Floats  # (materials, rows, 5)
    dry_heat: Floats
    capacity: Floats  # kg/m2 of each node
    layer_of_face: np.ndarray

    @property
    def model(self) -> tuple[object, ...]:
        table_range = np.array([U_FIRST, (ROWS - 1) / (U_LAST - U_FIRST), S0])
        return (
            self.material, self.widths, self.film_vapour, self.film_heat, self.tables, self.dry_heat, table_range,
        )  # fmt: skip

    def half_widths(self) -> tuple[Floats, Floats]:
        """(to the left, to the right) of each node, m."""
        left, right = np.zeros(len(self.x)), np.zeros(len(self.x))
        left[1:], right[:-1] = 0.5 * self.widths, 0.5 * self.widths
        return left, right


@dataclass(frozen=True)
class Assembly:
    """Layers and films from side 0 to side 1. Films stand between two layers; a coating of a surface belongs to the surface."""

    parts: tuple[Layer | Film, ...]
    cells: int = 40  # over all layers that do not say their own
    mesh: Mesh = field(init=False)

    def __post_init__(self) -> None:
        parts = self.parts
        if not parts or isinstance(parts[0], Film) or isinstance(parts[-1], Film):
            raise InputError(
                "an assembly begins and ends with a layer", next_step="give a coating of the surface with the surface"
            )
        if any(isinstance(a, Film) and isinstance(b, Film) for a, b in itertools.pairwise(parts)):
            raise InputError("two films lie on each other", next_step="add their sd values")
        object.__setattr__(self, "mesh", mesh_of(parts, self.cells))

    @property
    def layers(self) -> tuple[Layer, ...]:
        return tuple(part for part in self.parts if isinstance(part, Layer))

    @property
    def thickness(self) -> float:
        return sum(layer.thickness for layer in self.layers)


def mesh_of(parts: tuple[Layer | Film, ...], cells: int) -> Mesh:
    """Cells in proportion to the root of the thickness, refined a little towards both ends of each layer."""
    layers = [part for part in parts if isinstance(part, Layer)]
    free = [layer for layer in layers if not layer.cells]
    weight = sum(np.sqrt(layer.thickness) for layer in free) or 1.0
    tables: list[Properties] = []
    material: list[int] = []
    widths: list[float] = []
    vapour: list[float] = []
    heat: list[float] = []
    of_layer: list[int] = []
    number = -1
    for part in parts:
        if isinstance(part, Film):
            material.append(-1)
            widths.append(0.0)
            vapour.append(AIR_PERMEABILITY / part.sd)
            heat.append(1.0 / part.heat_resistance if part.heat_resistance > 0.0 else NO_RESISTANCE)
            of_layer.append(-1)
            continue
        number += 1
        count = part.cells or max(6, round(cells * np.sqrt(part.thickness) / weight))
        if not any(part.properties is known for known in tables):
            tables.append(part.properties)
        index = next(i for i, known in enumerate(tables) if known is part.properties)
        for width in _widths(part.thickness, count):
            material.append(index)
            widths.append(float(width))
            vapour.append(0.0)
            heat.append(0.0)
            of_layer.append(number)
    places = np.concatenate([[0.0], np.cumsum(widths)])
    kinds = np.array(material, dtype=np.int64)
    capacity = np.zeros(len(places))
    for face, kind in enumerate(material):
        if kind >= 0:
            share = 0.5 * widths[face] * tables[kind].capacity
            capacity[face] += share
            capacity[face + 1] += share
    return Mesh(
        x=places, material=kinds, widths=np.array(widths), film_vapour=np.array(vapour), film_heat=np.array(heat),
        tables=np.ascontiguousarray(np.stack([table.table for table in tables])),
        dry_heat=np.array([table.dry_heat for table in tables]), capacity=capacity,
        layer_of_face=np.array(of_layer, dtype=np.int64),
    )  # fmt: skip


def _widths(thickness: float, count: int) -> Floats:
    """Cell widths of one layer: tanh refinement at both ends."""
    even = np.linspace(-1.0, 1.0, count + 1)
    places = np.tanh(REFINEMENT * even) / np.tanh(REFINEMENT)
    found: Floats = np.diff(places) * 0.5 * thickness
    return found
