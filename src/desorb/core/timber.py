"""Timber and the air around it, and what the temperature of the wood does to a pin reading.

Contents: ranges of validity - the moisture content wood takes on in given air, and back - generic temperature
corrections - correction by the instrument's own table.

Moisture contents and readings in % of dry mass, their differences in points, temperatures in degC unless the name says
otherwise, relative humidity as a fraction. Formulas refuse with OutOfRange; corrections of field readings never raise
for what was measured, they answer with a Correction that holds no value and says why. Keys in square brackets stand in
docs/references.md.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass

from desorb.errors import InputError, OutOfRange

FIBRE_SATURATION = 28.0  # % of dry mass; setting of ours, 23 to 33 by species [RULES-2.4]: above it pins do not measure
FREEZING = 0.0  # degC; below it wood is flagged, not corrected [RULES-2.3]
POINTS_PER_KELVIN = 0.5 / 5.6  # [WOOD-HANDBOOK-13] half a point per 5.6 K
GENERIC_SCATTER = (1.0, 2.0)  # points either way; species alone moves wood that much [RULES-2.1]


@dataclass(frozen=True)
class Range:
    """Where a formula may be used, ends included, and why it ends there."""

    quantity: str
    unit: str
    low: float
    high: float
    because: str

    def refusal(self, value: float) -> str | None:
        """The sentence that refuses `value`, or None if it lies within."""
        if self.low <= value <= self.high:
            return None
        unit = f" {self.unit}" if self.unit else ""
        return f"The {self.quantity} of {value:g}{unit} is outside {self.low:g} to {self.high:g}{unit}: {self.because}"


TABLE_ENDS = "the table behind the formula was compared with it only there [WOOD-HANDBOOK-4]"
RANGES = {
    "air temperature": Range("temperature", "degC", (30 - 32) / 1.8, 60.0, TABLE_ENDS),
    "air temperature in Fahrenheit": Range("temperature", "degF", 30.0, 140.0, TABLE_ENDS),
    "relative humidity": Range(
        "relative humidity", "", 0.0, 0.95, "it is a fraction, and nearer saturation wood moves by points for nothing"
    ),
    "wood temperature": Range("temperature of the wood", "degC", -10.0, 40.0, "the form was checked only there"),
    "pin reading": Range("pin reading", "%", 7.0, 35.0, "pins hardly conduct below and say little above [FPL-GTR-6]"),
}


@dataclass(frozen=True)
class Correction:
    """What became of one pin reading. The reading itself is never replaced.

    moisture_content: corrected [%], or None; `because` then says why not, otherwise what was added and whose rule that
    is. generic: not this instrument's own table; scatter: points either way, None where the instrument states its own.
    Corrected and uncorrected readings are not to be compared with each other.
    """

    reading: float
    moisture_content: float | None
    because: str
    source: str
    generic: bool
    scatter: tuple[float, float] | None = None


@dataclass(frozen=True)
class AdditiveTable:
    """The instrument's own table. temperatures: degC, rising; additions: points to add at each; species likewise."""

    source: str
    temperatures: tuple[float, ...]
    additions: tuple[float, ...]
    species: tuple[str, ...] = ()
    species_additions: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        numbers = (*self.temperatures, *self.additions, *self.species_additions)
        rising = all(low < high for low, high in zip(self.temperatures, self.temperatures[1:], strict=False))
        paired = len(self.temperatures) == len(self.additions) and len(self.species) == len(self.species_additions)
        if not (self.temperatures and rising and paired and all(map(math.isfinite, numbers))):
            raise InputError(
                "The correction table cannot be used",
                got=f"temperatures {self.temperatures}, additions {self.additions}, species {self.species}",
                wanted="rising temperatures, one finite addition for each, and one for each species",
            )
        if not self.source.strip():
            raise InputError("The correction table has no source", next_step="name the maker's sheet it was taken from")


def equilibrium_moisture_content(temperature: float, relative_humidity: float) -> float:
    """Moisture content that wood takes on in air kept so. [%] degC from -1.1 to 60, fraction from 0 to 0.95.

    Average of species and of wetting and drying; a piece of wood lies 1 to 2 points either way.
    """
    _within("air temperature", temperature)
    _within("relative humidity", relative_humidity)
    t = temperature
    w = 349 + 1.29 * t + 0.0135 * t**2  # [FPL-RN-0268] eq. for W, degC
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2  # [FPL-RN-0268] K
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2  # [FPL-RN-0268] K1
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2  # [FPL-RN-0268] K2
    return _hailwood_horrobin(relative_humidity, w, k, k1, k2)


def equilibrium_moisture_content_from_fahrenheit(temperature: float, relative_humidity: float) -> float:
    """The same in degF from 30 to 140, with the coefficients printed for degF: equal within 0.02 points. [%]"""
    _within("air temperature in Fahrenheit", temperature)
    _within("relative humidity", relative_humidity)
    t = temperature
    w = 330 + 0.452 * t + 0.00415 * t**2  # [FPL-RN-0268] W, degF
    k = 0.791 + 0.000463 * t - 0.000000844 * t**2  # [FPL-RN-0268] K
    k1 = 6.34 + 0.000775 * t - 0.0000935 * t**2  # [FPL-RN-0268] K1
    k2 = 1.09 + 0.0284 * t - 0.0000904 * t**2  # [FPL-RN-0268] K2
    return _hailwood_horrobin(relative_humidity, w, k, k1, k2)


def relative_humidity_over_wood(temperature: float, moisture_content: float) -> float:
    """Relative humidity of air that wood of this moisture content neither wets nor dries. [fraction]

    degC from -1.1 to 60; moisture content from 0 to what wood holds at 0.95. Inverse of equilibrium_moisture_content.
    """
    most = equilibrium_moisture_content(temperature, RANGES["relative humidity"].high)
    if not 0 <= moisture_content <= most:
        raise OutOfRange(
            f"No humidity is known for wood of this moisture content at {temperature:g} degC",
            got=f"{moisture_content:g} %",
            wanted=f"0 to {most:.1f} %, what wood holds in air of 95 %",
        )
    low, high = 0.0, RANGES["relative humidity"].high
    for _ in range(60):
        middle = (low + high) / 2
        too_dry = equilibrium_moisture_content(temperature, middle) < moisture_content
        low, high = (middle, high) if too_dry else (low, middle)
    return (low + high) / 2


def pfaff_garrahan(reading: float, wood_temperature: float, species_a: float = 1.0, species_b: float = 0.0) -> float:
    """GENERIC formula: moisture content [%] behind a pin reading [%, 7 to 35] taken at -10 to 40 degC, meter set at 20.

    species_a, species_b: species line of the source, not shipped because not read. For field readings use
    `correct_generic_pfaff_garrahan`, which refuses frozen wood and says that it is generic.
    """
    _within("pin reading", reading)
    _within("wood temperature", wood_temperature)
    if not species_a > 0:
        raise InputError("The slope of the species line must be positive", got=f"{species_a}", wanted="above 0")
    x = wood_temperature + 2.8
    at_20 = (reading + 0.567 - 0.0260 * x + 0.000051 * x**2) / (0.881 * math.pow(1.0056, x))  # [PFAFF-GARRAHAN]
    return (at_20 - species_b) / species_a  # [PFAFF-GARRAHAN]


def half_point_rule(reading: float, wood_temperature: float, calibration_temperature: float) -> float:
    """GENERIC rule: half a point per 5.6 K, added for colder wood. [%] Same ranges as `pfaff_garrahan`."""
    _within("pin reading", reading)
    _within("wood temperature", wood_temperature)
    _within("wood temperature", calibration_temperature)
    return reading + POINTS_PER_KELVIN * (calibration_temperature - wood_temperature)  # [WOOD-HANDBOOK-13]


def correct_generic_pfaff_garrahan(reading: float, wood_temperature: float) -> Correction:
    """Pin reading [%] at a wood temperature [degC], corrected generically for a meter set at 20 degC, without species.

    Only where the instrument's own table is missing and somebody asked for it: never silently.
    """
    source = "Pfaff and Garrahan 1986 [PFAFF-GARRAHAN], from memory"
    refused = _generic_refusal(reading, wood_temperature)
    return _generic(reading, None if refused else pfaff_garrahan(reading, wood_temperature), refused, source)


def correct_generic_half_point(reading: float, wood_temperature: float, calibration_temperature: float) -> Correction:
    """Pin reading [%] at a wood temperature [degC], corrected by half a point per 5.6 K from calibration [degC].

    Only where the instrument's own table is missing and somebody asked for it: never silently.
    """
    source = "Wood Handbook chapter 13 [WOOD-HANDBOOK-13]"
    refused = _generic_refusal(reading, wood_temperature)
    value = None if refused else half_point_rule(reading, wood_temperature, calibration_temperature)
    return _generic(reading, value, refused, source)


def correct_by_table(
    reading: float,
    wood_temperature: float,
    table: AdditiveTable,
    species: str = "",
    fibre_saturation: float = FIBRE_SATURATION,
) -> Correction:
    """Pin reading [%] at a wood temperature [degC], corrected by the instrument's own table and nothing else.

    Between two rows the addition is interpolated; outside the rows, for frozen wood, for a species that the table does
    not name, and above fibre_saturation [%] before or after the addition, there is no value.
    """
    refused = _field_refusal(reading, wood_temperature, fibre_saturation)
    first, last = table.temperatures[0], table.temperatures[-1]
    if not refused and not first <= wood_temperature <= last:
        refused = f"The instrument's table runs from {first:g} to {last:g} degC, the wood was at {wood_temperature:g}"
    if not refused and species and species not in table.species:
        refused = f"The instrument's table does not name {species}"
    if refused:
        return Correction(reading, None, refused, table.source, generic=False)
    addition = _between_rows(wood_temperature, table.temperatures, table.additions)
    words = f"{addition:+.1f} points at {wood_temperature:g} degC"
    if species:
        of_species = table.species_additions[table.species.index(species)]
        addition, words = addition + of_species, f"{words}, {of_species:+.1f} points for {species}"
    else:
        words += ", none for species"
    if reading + addition > fibre_saturation:
        above = f"Above {fibre_saturation:g} % with {words}: past fibre saturation pins do not measure"
        return Correction(reading, None, above, table.source, generic=False)
    return Correction(reading, reading + addition, f"By the instrument's own table: {words}", table.source, False)


def _hailwood_horrobin(h: float, w: float, k: float, k1: float, k2: float) -> float:
    dissolved = k * h / (1 - k * h)
    hydrate = (k1 * k * h + 2 * k1 * k2 * k**2 * h**2) / (1 + k1 * k * h + k1 * k2 * k**2 * h**2)
    return 1800 / w * (dissolved + hydrate)  # [WOOD-HANDBOOK-4] eq. 4-5: the bracket holds both terms


def _between_rows(at: float, places: tuple[float, ...], values: tuple[float, ...]) -> float:
    row = bisect_left(places, at)
    if places[row] == at:
        return values[row]
    share = (at - places[row - 1]) / (places[row] - places[row - 1])
    return values[row - 1] + share * (values[row] - values[row - 1])


def _within(name: str, value: float) -> None:
    if sentence := RANGES[name].refusal(value):
        raise OutOfRange(sentence, next_step="check the unit, then the value")


def _field_refusal(reading: float, wood_temperature: float, fibre_saturation: float) -> str:
    if not (math.isfinite(reading) and math.isfinite(wood_temperature)):
        raise InputError("A reading and a temperature are needed", got=f"{reading} % at {wood_temperature} degC")
    if wood_temperature < FREEZING:
        return f"Wood at {wood_temperature:g} degC is frozen: the reading is kept and marked, not corrected"
    if reading > fibre_saturation:
        return f"Above {fibre_saturation:g} %: past fibre saturation pins do not measure"
    return ""


def _generic_refusal(reading: float, wood_temperature: float) -> str:
    ranges = (RANGES["pin reading"].refusal(reading), RANGES["wood temperature"].refusal(wood_temperature))
    return _field_refusal(reading, wood_temperature, FIBRE_SATURATION) or ranges[0] or ranges[1] or ""


def _generic(reading: float, value: float | None, refused: str, source: str) -> Correction:
    low, high = GENERIC_SCATTER
    because = refused or f"Generic correction, not this instrument's own: within {low:g} to {high:g} points at best"
    return Correction(reading, value, because, source, generic=True, scatter=GENERIC_SCATTER)
