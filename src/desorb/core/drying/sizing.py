"""Published simple rules for the first day. Each answer is a starting point with its source; readings correct it.

Contents: Factors and PUBLISHED - wet_class - refrigerant_capacity - desiccant_flow - air_movers - room_rule.

The rules are written in feet and US pints, and keep them; litres and metres stand beside. A factor can be replaced by the
user's own, with its source. Sources contradict: one preparation text has 20 where another has 40 (RULES section 6).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from desorb.core.drying.given import figure, stated
from desorb.core.drying.harm_guard import Answers, advice
from desorb.errors import InputError, Refused
from desorb.units import M_PER_FOOT

FIRST_DAY = "first-day starting point, then correct it by readings"
LITRES_PER_PINT = 0.473176473  # US liquid pint, exact by definition, from memory
M3_PER_FT3 = M_PER_FOOT**3
METHOD = "S500 simple calculation, method read, edition of the factors not known"


@dataclass(frozen=True, slots=True)
class Factors:
    """ft3 per pint/day by kind and class, air changes by class for desiccant [1/h]. Editable: own figures, own source."""

    edition: str
    source: str
    feet_per_pint: Mapping[str, Mapping[int, float]]
    desiccant_changes: Mapping[int, float]


PUBLISHED = Factors(
    METHOD,
    "factors from memory; ratings in pints of the 80 F/60 % test",
    {"conventional": {1: 100, 2: 40, 3: 30}, "low grain": {1: 100, 2: 50, 3: 40, 4: 50}},
    {1: 1, 2: 2, 3: 3, 4: 2},
)


@dataclass(frozen=True, slots=True)
class StartingPoint:
    """value in unit, and the same in metric. label, edition and source are printed with it, always."""

    value: float
    unit: str
    metric: float
    metric_unit: str
    edition: str
    source: str
    words: str
    label: str = field(default=FIRST_DAY)


@dataclass(frozen=True, slots=True)
class AirMovers:
    """lowest and highest of the published span before rounding up, and the whole numbers after it."""

    lowest: float
    highest: float
    span: tuple[int, int]
    words: str
    label: str = field(default=FIRST_DAY)


def wet_class(wet_area: float, whole_area: float, low_evaporation: bool) -> tuple[int, float]:
    """Class and wet share [%] of floor, wall and ceiling; one unit of area for both. low_evaporation: bound water, class 4.

    Source: S500 editions 2015 and 2021, read second hand: under 5 %, 5 to 40 %, over 40 %. OutOfRange.
    """
    whole = figure(whole_area, "whole area", 1e-6, 1e9, "(area)")
    wet = figure(wet_area, "wet area", 0.0, whole, "(area)")
    share = 100 * wet / whole
    if low_evaporation:
        return 4, share
    return (1 if share < 5 else 2 if share <= 40 else 3), share


def refrigerant_capacity(volume_ft3: float, klass: int, kind: str, factors: Factors = PUBLISHED) -> StartingPoint:
    """Rated capacity to set on the first day. [ft3], class 1 to 4, 'conventional' or 'low grain' -> [pints/day, rating test]"""
    volume = figure(volume_ft3, "volume", 1.0, 1e8, "ft3")
    by_class = factors.feet_per_pint.get(kind)
    if by_class is None:
        raise InputError(
            "No factor is known for this kind of unit",
            got=repr(kind),
            wanted=", ".join(factors.feet_per_pint),
            next_step="name one of them; desiccant units are sized by flow",
        )
    factor = _factor(by_class, klass, f"{kind} units", factors)
    pints = volume / factor
    litres = pints * LITRES_PER_PINT
    words = (
        f"{FIRST_DAY}: {pints:.0f} US pints/day ({litres:.1f} L/day) of rated capacity, {volume:g} ft3 / {factor:g}, class"
        f" {klass}, {kind}; ({factors.edition}; {factors.source}). Rated at the test condition, not litres a day here"
    )
    return StartingPoint(pints, "US pints/day, rated", litres, "L/day, rated", factors.edition, factors.source, words)


def desiccant_flow(volume_ft3: float, klass: int, factors: Factors = PUBLISHED) -> StartingPoint:
    """Process air to set on the first day: ft3 x air changes / 60. [ft3], class 1 to 4 -> [ft3/min]"""
    volume = figure(volume_ft3, "volume", 1.0, 1e8, "ft3")
    changes = _factor(factors.desiccant_changes, klass, "desiccant units", factors)
    flow = volume * changes / 60
    metric = flow * 60 * M3_PER_FT3
    words = (
        f"{FIRST_DAY}: {flow:.0f} ft3/min ({metric:.0f} m3/h) of process air, {changes:g} air changes an hour, class {klass};"
        f" ({factors.edition}; {factors.source})"
    )
    return StartingPoint(flow, "ft3/min", metric, "m3/h", factors.edition, factors.source, words)


def air_movers(
    rooms: int,
    wet_floor_ft2: float,
    answers: Answers,
    documented: str,
    wet_upper_ft2: float = 0.0,
    offsets: int = 0,
) -> AirMovers:
    """How many to set on the first day: 1 a room, 1 per 50 to 70 ft2 of wet floor, 1 per 100 to 150 ft2 of wet wall above
    2 ft and ceiling, 1 for each offset over 18 in. documented: the record of what is wet.

    Refused until the questions of harm_guard are answered, and without a record of the wet area: air on dry fabric helps
    nothing. Source: S500-2015/2021 13.5.6.1, read second hand (RULES section 6).
    """
    advice("air moving", answers)
    if not documented.strip():
        raise Refused(
            "Air movers are counted only over what is documented as wet",
            got="no record of the wet area",
            wanted="the entry or drawing that shows it",
            next_step="map the wet area first",
        )
    if isinstance(rooms, bool) or rooms < 1 or offsets < 0:
        raise InputError(
            "The number of rooms or offsets cannot be used",
            got=f"{rooms} rooms, {offsets} offsets",
            wanted="one room or more, no offsets below 0",
            next_step="count the affected rooms",
        )
    floor = figure(wet_floor_ft2, "wet floor", 0.0, 1e7, "ft2")
    upper = figure(wet_upper_ft2, "wet upper wall and ceiling", 0.0, 1e7, "ft2")
    if floor + upper == 0:
        raise Refused(
            "Nothing is wet, so no air mover is counted",
            got="0 ft2",
            wanted="a wet area",
            next_step="map the wet area first",
        )
    lowest = rooms + offsets + floor / 70 + upper / 150
    highest = rooms + offsets + floor / 50 + upper / 100
    span = (math.ceil(lowest - 1e-9), math.ceil(highest - 1e-9))
    words = (
        f"{FIRST_DAY}: {span[0]} to {span[1]} air movers (1 a room, 1 per 50 to 70 ft2 of wet floor, 1 per 100 to 150 ft2 above)"
        f" over {documented.strip()}; S500 2015/2021 13.5.6.1, read second hand"
    )
    return AirMovers(lowest, highest, span, words)


def room_rule(volume_m3: float, grams_per_hour_m3: float = 4.0, source: str = "") -> StartingPoint:
    """A European rule of thumb, 4 g/h for each m3 (low confidence, RULES section 6). [m3], [g/(h m3), 0.1 to 50] -> [L/day]

    A figure of one's own needs its source. Raises InputError, OutOfRange.
    """
    volume = figure(volume_m3, "volume", 0.1, 1e6, "m3")
    rule = figure(grams_per_hour_m3, "rule", 0.1, 50.0, "g/(h m3)")
    whose = "rule of thumb of low confidence, common practice, no source"
    if rule != 4.0 or source.strip():
        whose = stated(source, "the source of this figure", "say where you have it from")
    litres = volume * rule * 24 / 1000
    words = f"{FIRST_DAY}: {litres:.1f} L/day, {rule:g} g/h for each of {volume:g} m3; {whose}; no edition"
    return StartingPoint(litres, "L/day", litres, "L/day", "no edition", whose, words)


def _factor(by_class: Mapping[int, float], klass: int, what: str, factors: Factors) -> float:
    stated(factors.edition, "the edition of the factors", "say which edition, or 'own'")
    stated(factors.source, "the source of the factors", "say where you have them from")
    if klass not in by_class:
        raise Refused(
            f"No factor is published here for {what} of this class",
            got=f"class {klass}",
            wanted=f"class {', '.join(str(each) for each in sorted(by_class))}",
            next_step="use another kind of unit, or give a factor of your own with its source",
        )
    return figure(by_class[klass], "factor", 0.01, 1e5, "(as the rule has it)")
