"""How much water vapour air can hold: saturation vapour pressure, and dew and frost point.

Contents: ranges of validity, as data; reading numbers and refusing those outside; one root finder; the two ASHRAE
curves, over water and over ice; dew point and frost point, which are those curves backwards; the WMO-No. 8 and
ISO 13788 forms, by name, for those who must quote them.

Temperatures in degC, pressures in Pa. Scalars give floats, arrays give arrays of the same shape.
Keys in square brackets stand in docs/references.md.

Notes
-----
The engine is ASHRAE 2017. The handbook splits its two equations at 0 degC; we split at the triple point, 0.01 degC,
where they agree to 6 parts in 10^9. At 0 degC they differ by 1 part in 10 000: the curve would have a step there.

The water equation is printed for 0 to 200 degC. We continue it to -50 degC, because an instrument's relative humidity
refers to water below 0 degC too [WMO8]. Against [MURPHY05] eq. 10 it is then high by 0.04 % at -10, 0.10 % at -20,
0.25 % at -30, 0.73 % at -40 and 2.1 % at -50 degC; 2.1 % is 0.2 K of dew point, and there we stop.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeAlias, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from desorb.errors import InputError, OutOfRange
from desorb.units import ZERO_CELSIUS_IN_KELVIN, celsius_from_fahrenheit

Array: TypeAlias = NDArray[np.float64]
Quantity: TypeAlias = float | Array
Phase: TypeAlias = Literal["water", "ice"]
Q = TypeVar("Q", float, Array)

TRIPLE_POINT = 0.01  # degC, exact by the definition of the kelvin until 2019 (from memory)


@dataclass(frozen=True, slots=True)
class Range:
    """Where a formula may be used, ends included: its name, the ends, their unit, and who says so."""

    name: str
    low: float
    high: float
    unit: str
    source: str


RANGES = {
    "over water": Range("ASHRAE 2017 over water, continued below 0 degC", -50.0, 200.0, "degC", "[ASHRAE17]"),
    "over ice": Range("ASHRAE 2017 over ice", -100.0, TRIPLE_POINT, "degC", "[ASHRAE17]"),
    "over water or ice": Range("ASHRAE 2017 over water, below 0.01 degC over ice", -100.0, 200.0, "degC", "[ASHRAE17]"),
    "dew points": Range("dew points from -50 to 200 degC", 6.4473, 1.555e6, "Pa", "[ASHRAE17]"),
    "frost points": Range("frost points from -100 degC", 0.00141, 1.555e6, "Pa", "[ASHRAE17]"),
    "WMO over water": Range("WMO-No. 8 over water", -45.0, 60.0, "degC", "[WMO8], range from memory"),
    "WMO over ice": Range("WMO-No. 8 over ice", -65.0, TRIPLE_POINT, "degC", "[WMO8], range from memory"),
    "WMO enhancement": Range("the WMO-No. 8 enhancement factor", 50e3, 110e3, "Pa", "[WMO8], range ours"),
    "ISO over water": Range("ISO 13788 from 0 degC up", 0.0, 60.0, "degC", "[ISO-13788], upper end ours: within 0.2 %"),
    "ISO over ice": Range("ISO 13788 below 0 degC", -20.0, 0.0, "degC", "[ISO-13788], lower end ours: within 0.6 %"),
}  # fmt: skip

_OTHER_UNITS: dict[str, dict[str, Callable[[float], float]]] = {
    "degC": {"in degF": celsius_from_fahrenheit, "in K": lambda kelvin: kelvin - ZERO_CELSIUS_IN_KELVIN},
    "Pa": {"in hPa": lambda hectopascal: hectopascal * 100, "in kPa": lambda kilopascal: kilopascal * 1000},
    "%": {"as a fraction": lambda fraction: fraction * 100},
    "g/kg": {"in kg/kg": lambda ratio: ratio * 1000},
}


def numbers(value: object, quantity: str) -> Array:
    """`value` as an array of numbers. InputError if any is missing: what was not measured is never guessed."""
    try:
        found = np.ma.filled(np.ma.asarray(value, dtype=np.float64), np.nan)
    except (TypeError, ValueError):
        raise InputError(f"{quantity} is not a number", got=repr(value)[:60], next_step="read it again") from None
    missing = np.isnan(found)
    if missing.any():
        raise InputError(f"{quantity} is missing{place(missing)}", next_step=f"measure {quantity}; it is never guessed")
    return found


def place(wrong: NDArray[np.bool_]) -> str:
    """Which value of an array is the first wrong one, in words; '' for a scalar."""
    if wrong.ndim == 0:
        return ""
    first = ", ".join(str(int(index) + 1) for index in np.argwhere(wrong)[0])
    return f" (value {first} of {'x'.join(str(length) for length in wrong.shape)})"


def require_in_range(values: Array, quantity: str, limits: Range, *, derived: bool = False) -> None:
    """Raises OutOfRange with a sentence if any of `values` lies outside `limits`; `derived` if nobody entered them."""
    outside = ~((values >= limits.low) & (values <= limits.high))
    if not outside.any():
        return
    worst = float(values[tuple(np.argwhere(outside)[0])])
    units = {} if derived else _OTHER_UNITS.get(limits.unit, {})
    guesses = [unit for unit, convert in units.items() if limits.low <= convert(worst) <= limits.high]
    check_unit = f"check the unit: was it entered {' or '.join(guesses)}? If not, " if guesses else ""
    raise OutOfRange(
        f"{quantity} {worst:g} {limits.unit}{place(outside)} is outside {limits.low:.10g} to {limits.high:.10g} "
        f"{limits.unit}, the range of {limits.name} ({limits.source})",
        next_step="check the readings that lead to it" if derived else f"{check_unit}read it again",
    )


def shaped(result: Array, *inputs: object) -> Quantity:
    """A float if all inputs were scalars, else the array."""
    return float(result) if all(np.ndim(cast(Quantity, value)) == 0 for value in inputs) else result


def increasing_root(function: Callable[[Array], tuple[Array, Array]], low: Array, high: Array) -> Array:
    """Where an increasing function is zero between `low` and `high`; all places of the arrays at once.

    `function` gives value and slope. Newton's step is taken where it stays inside the bracket, halving elsewhere, and
    only halving after 40 steps, so that it always ends. Good to 1e-10 of the argument's unit, or to rounding.
    """
    low, high = (np.array(end, dtype=np.float64) for end in np.broadcast_arrays(low, high))
    guess = (low + high) / 2
    for step in range(120):
        value, slope = function(guess)
        low, high = np.where(value <= 0, guess, low), np.where(value > 0, guess, high)
        newton = guess - value / slope
        inside = (newton >= low) & (newton <= high) & (step < 40)
        following = np.where(inside, newton, (low + high) / 2)
        done = bool(np.all(np.abs(following - guess) <= 1e-10))
        guess = following
        if done:
            break
    return guess


@dataclass(frozen=True, slots=True)
class Curve:
    """ln p = a/T + b + c T + d T^2 + e T^3 + f T^4 + g ln T, T in K and p in Pa. On arrays, unchecked."""

    coefficients: tuple[float, float, float, float, float, float, float]
    limits: Range

    def pressure(self, temperature: Array) -> Array:
        """Saturation vapour pressure. [degC] -> [Pa]"""
        a, b, c, d, e, f, g = self.coefficients
        T = temperature + ZERO_CELSIUS_IN_KELVIN  # noqa: N806 the symbol of the equation
        return cast(Array, np.exp(a / T + b + T * (c + T * (d + T * (e + T * f))) + g * np.log(T)))

    def slope(self, temperature: Array) -> Array:
        """d ln p / dT, the derivative of the line above. [degC] -> [1/K]"""
        a, _, c, d, e, f, g = self.coefficients
        T = temperature + ZERO_CELSIUS_IN_KELVIN  # noqa: N806
        return -a / T**2 + c + T * (2 * d + T * (3 * e + T * 4 * f)) + g / T

    def temperature(self, pressure: Array) -> Array:
        """The curve backwards, by Newton on ln p. [Pa] -> [degC]"""
        wanted = np.log(pressure)
        margin = 0.01  # K; so that a pressure at an end of the range stays inside the bracket
        low, high = (np.full(wanted.shape, end) for end in (self.limits.low - margin, self.limits.high + margin))
        return increasing_root(lambda t: (np.log(self.pressure(t)) - wanted, self.slope(t)), low, high)


OVER_WATER = Curve(
    (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673),  # [ASHRAE17] eq. 6
    RANGES["over water"],
)
OVER_ICE = Curve(
    (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019),  # [ASHRAE17] eq. 5
    RANGES["over ice"],
)


def pressure_over(phase: Phase, temperature: Array) -> Array:
    """Saturation vapour pressure, unchecked: "ice" is ice below the triple point, "water" is water throughout. [Pa]"""
    if phase == "water":
        return OVER_WATER.pressure(temperature)
    cold = temperature < TRIPLE_POINT
    return np.where(cold, OVER_ICE.pressure(temperature), OVER_WATER.pressure(temperature))


def slope_over(phase: Phase, temperature: Array) -> Array:
    """d ln p / dT of `pressure_over`. [1/K]"""
    if phase == "water":
        return OVER_WATER.slope(temperature)
    return np.where(temperature < TRIPLE_POINT, OVER_ICE.slope(temperature), OVER_WATER.slope(temperature))


def temperature_over(phase: Phase, pressure: Array) -> Array:
    """`pressure_over` backwards. [Pa] -> [degC]"""
    triple = OVER_WATER.pressure(np.asarray(TRIPLE_POINT))
    if phase == "water":
        return OVER_WATER.temperature(pressure)
    warm = OVER_WATER.temperature(np.maximum(pressure, triple))
    return np.where(pressure < triple, OVER_ICE.temperature(np.minimum(pressure, triple)), warm)


def saturation_vapour_pressure(temperature: Q) -> Q:
    """Over water and, below 0.01 degC, over ice: the engine as ASHRAE has it. [degC] -> [Pa]

    temperature: -100 to 200 degC, any shape. Raises OutOfRange, InputError if missing. Source: [ASHRAE17] eq. 5 and 6.
    """
    return _checked(temperature, "over water or ice", lambda t: pressure_over("ice", t))


def saturation_vapour_pressure_over_water(temperature: Q) -> Q:
    """Over water, supercooled below 0 degC: what an instrument's RH refers to. [degC] -> [Pa]

    temperature: -50 to 200 degC, any shape. Raises OutOfRange, InputError if missing. Source: [ASHRAE17] eq. 6,
    continued below 0 degC by us (see Notes above).
    """
    return _checked(temperature, "over water", OVER_WATER.pressure)


def saturation_vapour_pressure_over_ice(temperature: Q) -> Q:
    """Over ice. [degC] -> [Pa]

    temperature: -100 to 0.01 degC, any shape. Raises OutOfRange, InputError if missing. Source: [ASHRAE17] eq. 5.
    """
    return _checked(temperature, "over ice", OVER_ICE.pressure)


def dew_point(vapour_pressure: Q) -> Q:
    """The temperature at which air with this vapour pressure is saturated over water. [Pa] -> [degC]

    vapour_pressure: 6.4473 to 1 555 000 Pa (dew points from -50 to 200 degC), any shape. Below 0 degC the water is
    supercooled; what forms on a cold surface there is frost, from the frost point down. Raises OutOfRange, InputError.
    Source: [ASHRAE17] eq. 6, continued below 0 degC by us and inverted.
    """
    return _checked(vapour_pressure, "dew points", OVER_WATER.temperature, "vapour pressure")


def frost_point(vapour_pressure: Q) -> Q:
    """The temperature at which air with this vapour pressure is saturated over ice. [Pa] -> [degC]

    vapour_pressure: 0.00141 to 1 555 000 Pa, any shape; 0.00141 is a frost point of -100 degC. NaN above 611.657 Pa,
    the triple point: only dew can form there. Raises OutOfRange, InputError if missing. Source: [ASHRAE17] eq. 5.
    """
    triple = OVER_ICE.pressure(np.asarray(TRIPLE_POINT))

    def freezing(pressure: Array) -> Array:
        return np.where(pressure > triple, np.nan, OVER_ICE.temperature(np.minimum(pressure, triple)))

    return _checked(vapour_pressure, "frost points", freezing, "vapour pressure")


def wmo_saturation_vapour_pressure_over_water(temperature: Q) -> Q:
    """The WMO form over water, also supercooled; up to 0.3 % below ASHRAE at 5 to 40 degC. [degC] -> [Pa]

    temperature: -45 to 60 degC, any shape. Pure vapour, no enhancement. Raises OutOfRange, InputError. Source: [WMO8].
    """
    return _checked(temperature, "WMO over water", lambda t: 611.2 * np.exp(17.62 * t / (243.12 + t)))  # [WMO8] 4.B


def wmo_saturation_vapour_pressure_over_ice(temperature: Q) -> Q:
    """The WMO form over ice. [degC] -> [Pa]

    temperature: -65 to 0.01 degC, any shape. Pure vapour, no enhancement. Raises OutOfRange, InputError.
    Source: [WMO8].
    """
    return _checked(temperature, "WMO over ice", lambda t: 611.2 * np.exp(22.46 * t / (272.62 + t)))  # [WMO8] 4.B


def wmo_enhancement_factor(pressure: Q) -> Q:
    """How much more vapour moist air holds than a vacuum would. [Pa] -> [-]

    pressure: 50 000 to 110 000 Pa, any shape. The engine leaves it out, as ASHRAE's ideal-gas equations do, which is
    why they lie 0.4 to 0.7 % below real air. Raises OutOfRange, InputError. Source: [WMO8] annex 4.B.
    """

    def factor(pascal: Array) -> Array:
        p = pascal / 100  # the equation wants hPa
        return 1.0016 + 3.15e-6 * p - 0.074 / p  # [WMO8] 4.B

    return _checked(pressure, "WMO enhancement", factor, "air pressure")


def iso_saturation_vapour_pressure_over_water(temperature: Q) -> Q:
    """The ISO 13788 form from 0 degC up; up to 0.2 % below ASHRAE. [degC] -> [Pa]

    temperature: 0 to 60 degC, any shape. Raises OutOfRange, InputError if missing. Source: [ISO-13788].
    """
    return _checked(temperature, "ISO over water", lambda t: 610.5 * np.exp(17.269 * t / (237.3 + t)))  # [ISO-13788]


def iso_saturation_vapour_pressure_over_ice(temperature: Q) -> Q:
    """The ISO 13788 form below 0 degC; up to 0.5 % below ASHRAE. [degC] -> [Pa]

    temperature: -20 to 0 degC, any shape. Raises OutOfRange, InputError if missing. Source: [ISO-13788].
    """
    return _checked(temperature, "ISO over ice", lambda t: 610.5 * np.exp(21.875 * t / (265.5 + t)))  # [ISO-13788]


def _checked(value: Q, limits: str, formula: Callable[[Array], Array], quantity: str = "temperature") -> Q:
    found = numbers(value, quantity)
    require_in_range(found, quantity, RANGES[limits])
    return cast(Q, shaped(formula(found), value))
