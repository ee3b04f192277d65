"""Why a patch is cooler than the air, how warm a surface must be, and whether vapour condenses inside a build-up.

Contents: cooler_patch - required_surface_temperature - required_temperature_factor - single_plane.
Temperatures in degC, relative humidity in %, pressures in Pa. A temperature, or a thermal image, never sets a wetness
status: every answer here says what was excluded, not that something is wet. Keys in square brackets stand in
docs/references.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from desorb.core.air.state import air_state
from desorb.core.air.surface import (
    CANNOT_SAY,
    NOT_COOLER,
    SURFACE_CRITERION,
    temperature_factor,
    wet_bulb_bound,
)
from desorb.core.saturation import (
    Array,
    Range,
    dew_point,
    iso_saturation_vapour_pressure_over_ice,
    iso_saturation_vapour_pressure_over_water,
    numbers,
    require_in_range,
)
from desorb.errors import InputError, OutOfRange, Refused
from desorb.units import SECONDS_PER_DAY

AIR_PERMEABILITY = 2e-10  # kg/(m s Pa) [ISO-13788]
INSIDE_RESISTANCE = 0.13  # m2 K/W, heat flow level; common practice, no source read
OUTSIDE_RESISTANCE = 0.04  # m2 K/W; common practice, no source read
CRITERION = Range("a surface criterion", 1.01, 100.0, "%", "ours")  # above 1, so that a fraction is refused

# Tests that tell the causes apart; ours, common practice without a source.
BETWEEN_TESTS = (
    "cover the patch with film for some hours: evaporation stops and the patch warms, a cold bridge stays cold",
    "read the patch and a comparison spot with a moisture meter, each by its own control",
    "read again when inside and outside are within a few degrees: a cold bridge fades, evaporation does not",
)
BELOW_TESTS = (
    "look for a cold bridge: a frame, a corner, missing insulation, a pipe with cold water",
    "read the patch and a comparison spot with a moisture meter: a cold bridge may be damp too",
)


@dataclass(frozen=True, slots=True)
class CoolerPatch:
    """finding: one of the phrases of core/air/surface; because: a sentence; next_tests: what would tell them apart.

    wet_bulb [degC] of the air that was read. Never a wetness status.
    """

    finding: str
    because: str
    wet_bulb: float
    next_tests: tuple[str, ...]


def cooler_patch(
    surface_temperature: float,
    air_temperature: float,
    relative_humidity: float,
    uncertainty: float = 0.0,
    pressure: float | None = None,
) -> CoolerPatch:
    """Evaporation or a cold bridge? [degC], [degC], [%], [K], [Pa]

    Air read near the patch; ranges and errors as air_state and wet_bulb_bound. uncertainty: of the temperatures, 0 to
    10 K. Below the wet bulb of the air: not evaporation alone. Between wet bulb and air: cannot say from temperature.
    Source: [ASHRAE17] wet bulb; the bound is ours.
    """
    air = air_state(air_temperature=air_temperature, relative_humidity=relative_humidity, pressure=pressure)
    bound = wet_bulb_bound(surface_temperature, air_temperature, air.wet_bulb, uncertainty)
    tests = {NOT_COOLER: (), CANNOT_SAY: BETWEEN_TESTS}.get(bound.finding, BELOW_TESTS)
    because = f"{bound.because}. Cooler area only: it sets no wetness status" if tests else bound.because
    return CoolerPatch(bound.finding, because, air.wet_bulb, tests)


def required_surface_temperature(
    air_temperature: float, relative_humidity: float, surface_criterion: float = SURFACE_CRITERION
) -> float:
    """The lowest surface temperature that keeps the air at the surface at or below a criterion. [degC], [%] -> [degC]

    surface_criterion: above 1 to 100 %; 80 is [ISO-13788], 100 gives the dew point. Humidity over water throughout.
    Raises InputError, OutOfRange. Source: [ISO-13788] criterion, [ASHRAE17] eq. 22 at the surface.
    """
    require_in_range(numbers(surface_criterion, "surface criterion"), "surface criterion", CRITERION)
    air = air_state(air_temperature=air_temperature, relative_humidity=relative_humidity)
    return float(dew_point(100 * air.vapour_pressure / surface_criterion))


def required_temperature_factor(
    inside_temperature: float,
    relative_humidity: float,
    outside_temperature: float,
    surface_criterion: float = SURFACE_CRITERION,
) -> float:
    """The f_Rsi at which a surface is just warm enough. [degC], [%], [degC], [%] -> [-] Below 0: any surface is.

    Refused where inside is less than 10 K warmer than outside. Raises InputError, OutOfRange. Source: [ISO-13788].
    """
    needed = required_surface_temperature(inside_temperature, relative_humidity, surface_criterion)
    return temperature_factor(needed, inside_temperature, outside_temperature)


@dataclass(frozen=True, slots=True)
class BuildUpLayer:
    """One layer: thickness [m], conductivity [W/(m K)], vapour resistance number mu [-], all above 0."""

    name: str
    thickness: float
    conductivity: float
    resistance_number: float

    def __post_init__(self) -> None:
        values = (self.thickness, self.conductivity, self.resistance_number)
        if not all(np.isfinite(value) and value > 0 for value in values):
            raise InputError(
                f"The layer {self.name!r} cannot be used",
                got=f"thickness, conductivity, mu {values}",
                wanted="numbers above 0",
                next_step="measure it, or take it from the sheet of the material",
            )


@dataclass(frozen=True, slots=True)
class PlaneOfCondensation:
    """Nodes from the inner to the outer surface: temperatures [degC], saturation and vapour pressure [Pa], before
    condensation. plane: number of the node, or None. rate: kg/(m2 s) while these climates last, 0 without a plane.
    """

    temperatures: tuple[float, ...]
    saturation: tuple[float, ...]
    vapour: tuple[float, ...]
    plane: int | None
    rate: float
    words: str


def single_plane(
    layers: tuple[BuildUpLayer, ...],
    inside_temperature: float,
    inside_relative_humidity: float,
    outside_temperature: float,
    outside_relative_humidity: float,
    inside_resistance: float = INSIDE_RESISTANCE,
    outside_resistance: float = OUTSIDE_RESISTANCE,
) -> PlaneOfCondensation:
    """Steady check for one plane of condensation, layers from inside to outside. [degC], [%], [m2 K/W]

    Vapour by diffusion only: no air leakage, no rain, no moisture stored, no latent heat, so it can neither show that a
    real build-up stays free of damp nor size what was found. Temperatures -20 to 60 degC with the saturation forms of
    the standard, over ice below 0. Interfaces between layers only. Refused where condensation is not at one plane, or at
    a surface. Raises InputError, OutOfRange. Source: [ISO-13788] equations.
    """
    if not layers:
        raise InputError(
            "A build-up needs a layer",
            got="none",
            wanted="one layer or more",
            next_step="describe the layers from inside to outside",
        )
    for side, humidity in (("inside", inside_relative_humidity), ("outside", outside_relative_humidity)):
        if not 1 < humidity <= 100:
            raise OutOfRange(
                f"The {side} humidity cannot be used",
                got=f"{humidity:g} %",
                wanted="above 1 to 100 %",
                next_step="check the unit, then read it again",
            )
    if not (inside_resistance > 0 and outside_resistance > 0):
        raise InputError(
            "A surface resistance must be above 0",
            got=f"{inside_resistance}, {outside_resistance}",
            next_step="take both from the standard that is followed",
        )
    resistances = [inside_resistance, *(layer.thickness / layer.conductivity for layer in layers)]
    share = np.cumsum(resistances) / (sum(resistances) + outside_resistance)
    temperatures = inside_temperature + share * (outside_temperature - inside_temperature)
    saturation = np.array([_saturated(float(value)) for value in temperatures])
    depth = np.concatenate(([0.0], np.cumsum([layer.thickness * layer.resistance_number for layer in layers])))
    inner = inside_relative_humidity / 100 * _saturated(inside_temperature)
    outer = outside_relative_humidity / 100 * _saturated(outside_temperature)
    vapour = inner + depth / depth[-1] * (outer - inner)
    for name, node in (("inner", 0), ("outer", -1)):
        if vapour[node] > saturation[node]:
            raise Refused(
                f"The {name} surface itself condenses", next_step="treat the surface first: see surface humidity"
            )
    above = np.flatnonzero(vapour > saturation)
    nodes = (tuple(temperatures.tolist()), tuple(saturation.tolist()), tuple(vapour.tolist()))
    if above.size == 0:
        words = "No condensation at an interface by diffusion alone, in these steady climates."
        return PlaneOfCondensation(*nodes, None, 0.0, words)
    planes = [int(node) for node in above if _alone(int(node), depth, saturation, inner, outer)]
    if not planes:
        raise Refused(
            "Vapour would condense at more than one plane",
            got=f"interfaces {', '.join(map(str, above))}",
            wanted="one plane",
            next_step="simulate the build-up instead",
        )
    plane = planes[0]
    arriving = (inner - saturation[plane]) / depth[plane]
    leaving = (saturation[plane] - outer) / (depth[-1] - depth[plane])
    rate = float(AIR_PERMEABILITY * (arriving - leaving))  # [ISO-13788]
    words = (
        f"Condensation between {layers[plane - 1].name} and {layers[plane].name}: "
        f"{1000 * SECONDS_PER_DAY * rate:.3g} g/m2 a day while these climates last, by diffusion alone."
    )
    return PlaneOfCondensation(*nodes, plane, rate, words)


def _saturated(temperature: float) -> float:
    if temperature < 0:
        return float(iso_saturation_vapour_pressure_over_ice(temperature))
    return float(iso_saturation_vapour_pressure_over_water(temperature))


def _alone(plane: int, depth: Array, saturation: Array, inner: float, outer: float) -> bool:
    held = np.interp(depth, depth[[0, plane, -1]], [inner, saturation[plane], outer])
    return bool(np.all(held <= saturation * (1 + 1e-9)))
