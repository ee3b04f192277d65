"""Simulate one assembly through one climate, and what came out of it.

Contents: METHODS; Run; simulate; start_potential (from humidity or water content).
numba compiles the march on first use (some seconds) and keeps it; nothing that does not simulate imports it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from desorb.core.transport.assembly import Assembly, Layer
from desorb.core.transport.climate import COLDEST, HOTTEST, Climate, boundary_table
from desorb.core.transport.properties import Floats, humidity_of_potential, potential_of_humidity
from desorb.errors import InputError, OutOfRange

METHODS = {"euler": 0, "tr-bdf2": 1, "bdf2": 2}
SCREEN, REPORT = 1e-2, 1e-3  # tolerances: for looking, for a report; shares of the capillary water content
FIRST_STEP = 1.0  # s, at REPORT
DRIEST = 1e-20  # RH as a fraction: below it the tables of materials end
STEEP = 0.5  # share of the capacity between two neighbours; a setting of ours
Start = float | Sequence[float] | Floats


@dataclass(frozen=True)
class Run:
    """Profiles at the output times. Arrays (outputs, nodes); `inflow` (outputs, 2) is water that came in through each surface
    since the start, kg/m2 (drying is negative); `start_stored` is the water at the start, kg/m2 of each node."""

    assembly: Assembly
    times: Floats  # s
    potential: Floats
    temperature: Floats  # degC
    stored: Floats  # kg/m2 of each node
    inflow: Floats
    start_stored: Floats
    steps: int
    refused: int
    iterations: int

    @property
    def x(self) -> Floats:
        return self.assembly.mesh.x

    @property
    def humidity(self) -> Floats:
        """Relative humidity in the pores, as a fraction."""
        found: Floats = humidity_of_potential(self.potential)
        return found

    @property
    def mass(self) -> Floats:
        """Water in the whole assembly at each output, kg/m2."""
        found: Floats = self.stored.sum(axis=1)
        return found

    def balance(self) -> Floats:
        """Relative error of the water balance at each output: what is there, less what was and what came in."""
        came = self.inflow.sum(axis=1)
        wrong = self.mass - self.start_stored.sum() - came
        largest = np.maximum(np.abs(came), self.start_stored.sum())
        found: Floats = wrong / np.where(largest > 0.0, largest, 1.0)
        return found

    def faces_of(self, layer: int) -> slice:
        """The faces of one layer; its nodes are these and one more."""
        found = np.flatnonzero(self.assembly.mesh.layer_of_face == layer)
        if found.size == 0:
            raise InputError("there is no such layer", got=str(layer), wanted=f"0 to {len(self.assembly.layers) - 1}")
        return slice(int(found[0]), int(found[-1]) + 1)

    def depth(self, layer: int) -> Floats:
        """Depth of the nodes of a layer below its first face, m."""
        faces = self.faces_of(layer)
        found: Floats = self.x[faces.start : faces.stop + 1] - self.x[faces.start]
        return found

    def water(self, layer: int) -> Floats:
        """Water content at the nodes of a layer, kg/m3, (outputs, nodes of the layer)."""
        faces = self.faces_of(layer)
        found: Floats = self.assembly.layers[layer].properties.water(self.potential[:, faces.start : faces.stop + 1])
        return found

    def mass_of(self, layer: int) -> Floats:
        """Water in a layer at each output, kg/m2, as the half volumes hold it."""
        faces = self.faces_of(layer)
        widths = self.assembly.mesh.widths[faces]
        held = self.water(layer)
        found: Floats = 0.5 * (widths * (held[:, :-1] + held[:, 1:])).sum(axis=1)
        return found

    def coarse(self) -> list[str]:
        """In words, where the grid is too coarse for a front: neighbours that differ by more than STEEP of the capacity."""
        found = []
        for number, layer in enumerate(self.assembly.layers):
            rise = np.abs(np.diff(self.water(number), axis=1)) / layer.properties.capacity
            output, face = np.unravel_index(int(np.argmax(rise)), rise.shape)
            if rise[output, face] > STEEP:
                upper, lower = 1e3 * self.depth(number)[face : face + 2]
                found.append(
                    f"layer {number} ({layer.properties.name}): between {upper:.1f} and {lower:.1f} mm "
                    f"the water content changes by {100 * rise[output, face]:.0f} % of what it can hold, "
                    f"{self.times[output] / 3600:.1f} h after the start: the grid is too coarse for this front. "
                    "Next: use more cells, and see whether the result moves."
                )
        return found


def start_potential(assembly: Assembly, humidity: Start | None, water: Start | None) -> Floats:
    """Potentials of the nodes from humidity (fraction) or water content (kg/m3): one value, one a layer, or one a node.

    At an interface the later layer wins: both sides share one potential, never one water content.
    """
    if (humidity is None) == (water is None):
        raise InputError("a run starts from humidity or from water content, one of them")
    mesh = assembly.mesh
    given = np.atleast_1d(np.asarray(humidity if water is None else water, dtype=float))
    nodes = len(mesh.x)
    if water is None:
        if not ((given >= DRIEST) & (given <= 1.0)).all():
            raise OutOfRange(
                "a starting humidity is a fraction above 0 and up to 1", got=str(given.tolist()[:8]),
                wanted=f"{DRIEST:g} to 1",
            )  # fmt: skip
        values = potential_of_humidity(given)
        if given.size == nodes:
            return np.array(values, dtype=float)
        return _by_layer(assembly, lambda layer, number: float(values[min(number, given.size - 1)]), given.size)
    if given.size == nodes and nodes != len(assembly.layers):
        raise InputError("a profile of water content is given layer by layer, or as humidity node by node")

    def of_layer(layer: Layer, number: int) -> float:
        amount = float(given[min(number, given.size - 1)])
        most = layer.properties.capacity
        if not 0.0 <= amount <= most:
            raise OutOfRange(
                f"layer {layer.properties.name} cannot hold this water", got=f"{amount:g} kg/m3",
                wanted=f"0 to {most:g} kg/m3, its capillary water content",
            )  # fmt: skip
        return float(layer.properties.potential(amount))

    return _by_layer(assembly, of_layer, given.size)


def _by_layer(assembly: Assembly, value: Callable[[Layer, int], float], given: int) -> Floats:
    if given not in (1, len(assembly.layers)):
        raise InputError(
            "starting values come as one, one a layer or one a node", got=f"{given} values",
            wanted=f"1, {len(assembly.layers)} or {len(assembly.mesh.x)}",
        )  # fmt: skip
    found = np.zeros(len(assembly.mesh.x))
    for face, layer in enumerate(assembly.mesh.layer_of_face):
        if layer >= 0:
            found[face : face + 2] = value(assembly.layers[layer], int(layer))
    return found


def simulate(
    assembly: Assembly,
    climate: Climate,
    *,
    start_humidity: Start | None = None,
    start_water: Start | None = None,
    start_temperature: Start = 20.0,
    outputs: Sequence[float] | Floats | None = None,
    method: str = "tr-bdf2",
    tolerance: float = REPORT,
    longest_step: float = 1e9,
    first_step: float | None = None,
) -> Run:
    """Simulate. Times in s, temperatures in degC, humidity as a fraction, water in kg/m3.

    `outputs` within the run; without them a hundred even ones. `tolerance` is the local error as a share of the capillary
    water content (temperature: a hundred times that in K); SCREEN and REPORT are usual. `first_step` in s is the uncontrolled
    step after the start and after each jump; without it 1 s at REPORT, in proportion to the tolerance.
    Raises InputError or OutOfRange in words; RunFailed when no step could be made.
    """
    if method not in METHODS:
        raise InputError("this method is not known", got=method, wanted=", ".join(METHODS))
    if not 1e-9 <= tolerance <= 0.2:
        raise OutOfRange("a tolerance lies between 1e-9 and 0.2", got=str(tolerance))
    mesh = assembly.mesh
    wanted = np.linspace(0.0, climate.duration, 101) if outputs is None else np.asarray(outputs, dtype=float)
    if wanted.size == 0 or (np.diff(wanted) < 0.0).any() or wanted[0] < 0.0 or wanted[-1] > climate.duration:
        raise InputError("outputs lie in order within the run", got=f"{wanted[:4].tolist()} ...")
    potential = start_potential(assembly, start_humidity, start_water)
    temperature = np.broadcast_to(np.asarray(start_temperature, dtype=float), potential.shape).copy()
    if not ((temperature >= COLDEST) & (temperature <= HOTTEST)).all():
        raise OutOfRange(
            f"a starting temperature lies between {COLDEST:g} and {HOTTEST:g} degC", got=str(start_temperature)
        )
    from desorb.core.transport.march import march

    times, table = boundary_table(climate)
    results = (
        np.zeros((wanted.size, mesh.x.size)), np.zeros((wanted.size, mesh.x.size)), np.zeros((wanted.size, mesh.x.size)),
        np.zeros((wanted.size, 2)),
    )  # fmt: skip
    start = _stored(assembly, potential)
    state, steps, refused, iterations = march(
        potential.copy(), temperature, mesh.model, mesh.capacity, times, table, wanted, METHODS[method], tolerance,
        FIRST_STEP * tolerance / REPORT if first_step is None else first_step, longest_step, results,
    )  # fmt: skip
    if state != 0:
        raise RunFailed(assembly, steps)
    return Run(assembly, wanted, *results, start, steps, refused, iterations)


class RunFailed(OutOfRange):
    """No step could be made: the grid is too coarse for the front, or a material jumps."""

    def __init__(self, assembly: Assembly, steps: int) -> None:
        super().__init__(
            "the simulation could not go on", got=f"{steps} steps with {len(assembly.mesh.x)} nodes",
            wanted="steps that settle", next_step="use more cells, or a looser tolerance; look at the materials' tables",
        )  # fmt: skip


def _stored(assembly: Assembly, potential: Floats) -> Floats:
    found = np.zeros(potential.size)
    for face, layer in enumerate(assembly.mesh.layer_of_face):
        if layer >= 0:
            half = 0.5 * assembly.mesh.widths[face]
            held = assembly.layers[layer].properties.water(potential[face : face + 2])
            found[face : face + 2] += half * held
    return found
