"""What a nominal rating is worth here: a rating says litres a day at its own condition, and nothing of this room.

Contents: Rating and Derating - capacity_ratio and energy_factor_ratio - generic_derating - litres_a_day_here.
"""

from __future__ import annotations

from dataclasses import dataclass

from desorb.core.drying.given import figure, stated
from desorb.core.drying.unit_check import ICES_BELOW, Reading
from desorb.errors import Refused

WINKLER = "Winkler, Christensen & Tomerlin 2011, generic curves; coefficients read second hand"
DOMESTIC = "domestic refrigerant"  # the only kind of unit that the curves are for
VALIDITY = "domestic refrigerant units, without frost; not for desiccant or low-grain units; clipped at 0; our range"
# 1, T, T2, RH, RH2, T RH with T in degC and RH in %
CAPACITY = (-1.162525707, 0.02271469, -0.000113208, 0.021110538, -0.0000693034, 0.000378843)  # RULES section 7
ENERGY_FACTOR = (-1.902154518, 0.063466565, -0.000622839, 0.039540407, -0.000125637, -0.000176722)  # RULES section 7
COLDEST, HOTTEST = 10.0, 33.0  # degC, ours: the span of the check values, a little beyond
DRIEST, MOISTEST = 30.0, 95.0  # % RH, ours


@dataclass(frozen=True, slots=True)
class Rating:
    """litres_per_day at the condition of the rating [degC, % RH]; kind of unit; source: plate or sheet."""

    litres_per_day: float
    condition: Reading
    kind: str
    source: str

    def words(self) -> str:
        """The rating with its condition, as it is always shown."""
        at = self.condition
        return (
            f"rated {self.litres_per_day:g} L/day at {at.air_temperature:g} degC/{at.relative_humidity:g} % ({self.kind};"
            f" {self.source}), not litres a day here"
        )


@dataclass(frozen=True, slots=True)
class Derating:
    """factor: share of the rating that holds at `condition`; source: the maker's curve, a test, or generic_derating."""

    factor: float
    condition: Reading
    source: str


@dataclass(frozen=True, slots=True)
class HereCapacity:
    """litres_per_day at the condition of the derating, with where it comes from."""

    litres_per_day: float
    words: str
    next_step: str


def capacity_ratio(air_temperature: float, relative_humidity: float, kind: str = DOMESTIC) -> float:
    """Litres a day as a share of those near 26.7 degC/60 %. [degC, 10 to 33], [% RH, 30 to 95] -> [-]

    Refused for other kinds than domestic refrigerant. Frost is left out. Raises OutOfRange. Source: WINKLER.
    """
    return _curve(CAPACITY, air_temperature, relative_humidity, kind)


def energy_factor_ratio(air_temperature: float, relative_humidity: float, kind: str = DOMESTIC) -> float:
    """Litres per kWh as a share of those near 26.7 degC/60 %. Ranges, refusals and source as capacity_ratio."""
    return _curve(ENERGY_FACTOR, air_temperature, relative_humidity, kind)


def generic_derating(rating: Rating, here: Reading) -> Derating:
    """The generic curve between the condition of the rating and here. Refused for other kinds; OutOfRange."""
    at = rating.condition
    rated = capacity_ratio(at.air_temperature, at.relative_humidity, rating.kind)
    found = capacity_ratio(here.air_temperature, here.relative_humidity, rating.kind)
    if rated <= 0:
        raise Refused(
            "The curve gives nothing at the condition of the rating, so no share can be made of it",
            got=f"{at.air_temperature:g} degC, {at.relative_humidity:g} %",
            wanted="a condition at which a unit works",
            next_step="check the condition on the plate",
        )
    return Derating(found / rated, here, f"{WINKLER}; {VALIDITY}")


def litres_a_day_here(rating: Rating, here: Reading, derating: Derating | None) -> HereCapacity:
    """What the unit may take out here. Refused without a derating whose source is stated and that is for this air.

    Within 2 K and 5 % RH counts as this air (setting of ours). Raises InputError where rating or source is not stated.
    """
    rated = figure(rating.litres_per_day, "rated litres a day", 0.1, 5000.0, "L/day")
    figure(rating.condition.air_temperature, "temperature of the rating", 0.0, 45.0, "degC")
    figure(rating.condition.relative_humidity, "humidity of the rating", 1.01, 100.0, "%")
    stated(rating.source, "where the rating is from", "read the plate or the maker's sheet")
    if derating is None or not derating.source.strip():
        raise Refused(
            f"A nominal rating is not litres a day here: {rating.words()}",
            got="no source for what it does in this air",
            wanted="a derating with its source",
            next_step="take the maker's figure for this air, use the generic curve where it fits, or measure by air and tank",
        )
    at = derating.condition
    apart = (
        abs(at.air_temperature - here.air_temperature), abs(at.relative_humidity - here.relative_humidity)
    )  # fmt: skip
    if apart[0] > 2 or apart[1] > 5:
        raise Refused(
            "The derating is for other air",
            got=f"{at.air_temperature:g} degC/{at.relative_humidity:g} % against {here.air_temperature:g} degC/"
            f"{here.relative_humidity:g} %",
            wanted="within 2 K and 5 % RH",
            next_step="take the figure for this air",
        )
    factor = figure(derating.factor, "derating factor", 0.0, 3.0, "(a share)")
    frost = ""
    if here.air_temperature < ICES_BELOW:
        frost = f"; below about {ICES_BELOW:g} degC frost takes more off, which the curve leaves out"
    words = (
        f"about {rated * factor:.1f} L/day at {here.air_temperature:g} degC/{here.relative_humidity:g} % (factor {factor:.2f},"
        f" {derating.source}{frost}); {rating.words()}"
    )
    return HereCapacity(rated * factor, words, "hold it against the tank from the first day on")


def _curve(terms: tuple[float, ...], air_temperature: float, relative_humidity: float, kind: str) -> float:
    if kind.strip().casefold() != DOMESTIC:
        raise Refused(
            "The generic curve is not for this kind of unit",
            got=repr(kind),
            wanted=f"{DOMESTIC}: {VALIDITY}",
            next_step="take the maker's figure for this air, or measure by air",
        )
    t = figure(air_temperature, "air temperature", COLDEST, HOTTEST, "degC")
    h = figure(relative_humidity, "relative humidity", DRIEST, MOISTEST, "%")
    ratio = sum(factor * term for factor, term in zip(terms, (1, t, t * t, h, h * h, t * h), strict=True))
    return max(ratio, 0.0)
