"""The air of a room that dries: what the air change takes out or brings in, the load as named terms, outside air or closed.

Contents: infiltration - held_by_air - Term, Load and load - ventilate_or_close. Temperatures in degC, humidity ratio in g/kg.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from desorb.core.air import AirState, surface_relative_humidity
from desorb.core.drying.given import figure, stated
from desorb.core.drying.harm_guard import Answers, advice
from desorb.errors import InputError, Refused

DRY_AIR_DENSITY = 1.2  # kg/m3, rounded, in the form F14 and in 0.34; JOB section on forms, read second hand
HEAT_OF_AIR = 0.34  # Wh/(m3 K), 1.2 kg/m3 x 1.0 kJ/(kg K) / 3.6; JOB F15, from memory
BEST_AIR_CHANGE = 60.0  # 1/h, the most that is taken for an air change; ours
LARGEST_VOLUME = 1e6  # m3, ours
FABRIC, AIR_CHANGE = "fabric", "air change"
KINDS = {  # of term -> what it is
    FABRIC: "water that leaves the wet fabric",
    AIR_CHANGE: "water that the air change brings (negative: takes out)",
    "people": "water given off by people and animals",
    "use": "water from cooking, washing, laundry",
    "open water": "water that leaves standing water",
    "opening": "water through an opening that is left open on purpose",
}


@dataclass(frozen=True, slots=True)
class Infiltration:
    """kg_per_day: removed by the air change (negative: brought in), vapour-density form. by_ratio: by the other form."""

    kg_per_day: float
    by_ratio: float
    words: str
    source: str


@dataclass(frozen=True, slots=True)
class Term:
    """One part of a load. kind: a key of KINDS; kg_per_day: positive adds to the load; source: measured, computed, how."""

    kind: str
    kg_per_day: float
    low: float
    high: float
    source: str


@dataclass(frozen=True, slots=True)
class Load:
    """The sum of its terms, which stay visible. kg/day, low and high: every term at its end at once."""

    kg_per_day: float
    low: float
    high: float
    terms: tuple[Term, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Ventilation:
    """verdict: ventilate, close or cannot say. difference: inside less outside [g/kg]. heat: to warm the air [W].

    surface_humidity: of the inside air at the coldest surface [%], None without one. next_step names what is missing.
    """

    verdict: str
    difference: float
    heat: float
    surface_humidity: float | None
    words: str
    next_step: str


def infiltration(air_changes: float, volume: float, inside: AirState, outside: AirState) -> Infiltration:
    """Water that the air change removes: n V (inside less outside vapour density). [1/h, 0 to 60], [m3] -> [kg/day]

    The form 1.2 n V (w_in - w_out), JOB F14, is given beside it; they differ by some per cent (density of cold air).
    Raises OutOfRange. Source: mass balance with ideal gas, RULES section 6 (derived).
    """
    flow = _flow(air_changes, volume)
    daily = flow * (inside.absolute_humidity - outside.absolute_humidity) * 24 / 1000  # kg/day
    ratio = DRY_AIR_DENSITY * flow * (inside.humidity_ratio - outside.humidity_ratio) * 24 / 1000  # kg/day  JOB F14
    does = "removes" if daily >= 0 else "brings in"
    words = (
        f"{air_changes:g} 1/h of {volume:g} m3 {does} {abs(daily):.1f} kg/day by vapour density, {abs(ratio):.1f} by humidity"
        f" ratio; inside {_shown(inside)}, outside {_shown(outside)}; the air change is a guess unless it was measured"
    )
    return Infiltration(daily, ratio, words, "n V (v_in - v_out): mass balance, ideal gas")


def held_by_air(volume: float, before: AirState, after: AirState) -> float:
    """Water that the air of a room itself gives up between two states. [m3], air, air -> [kg] Small beside the fabric."""
    room = figure(volume, "volume", 0.1, LARGEST_VOLUME, "m3")
    return room * (before.absolute_humidity - after.absolute_humidity) / 1000


def term_of_air_change(found: Infiltration) -> Term:
    """The air change as a term of a load (what it removes is negative), spanned by its two forms."""
    either = sorted((-found.kg_per_day, -found.by_ratio))
    return Term(AIR_CHANGE, -found.kg_per_day, either[0], either[1], found.source)


def load(terms: Sequence[Term]) -> Load:
    """The sum of named terms [kg/day]. Refused without a term for the fabric and one for the air change, or a source.

    A single total is no load: nobody could say which part changed. InputError for a kind that is not known.
    """
    for term in terms:
        if term.kind not in KINDS:
            raise InputError(
                "A load is made of named terms, and this is none",
                got=repr(term.kind),
                wanted=", ".join(KINDS),
                next_step="say where the water comes from; a total is not a term",
            )
        stated(
            term.source, f"the source of {KINDS[term.kind]}", "say whether it was measured, computed (how) or assumed"
        )
        low, middle, high = (
            figure(value, f"{part} of {term.kind}", -1e5, 1e5, "kg/day")
            for part, value in (("low end", term.low), ("value", term.kg_per_day), ("high end", term.high))
        )
        if not low <= middle <= high:
            raise InputError(
                f"The span of {term.kind} does not hold its value",
                got=f"{term.low:g}, {term.kg_per_day:g}, {term.high:g} kg/day",
                wanted="low, value, high in this order",
                next_step="check the three figures",
            )
    missing = [KINDS[kind] for kind in (FABRIC, AIR_CHANGE) if kind not in {term.kind for term in terms}]
    if missing:
        raise Refused(
            "This is no load yet",
            got=", ".join(term.kind for term in terms) or "no terms",
            wanted=" and ".join(missing),
            next_step="add the missing term with its source; if it is nothing, say so as 0 with the reason",
        )
    total, low, high = (sum(getattr(term, part) for term in terms) for part in ("kg_per_day", "low", "high"))
    parts = "; ".join(f"{KINDS[t.kind]} {t.kg_per_day:+.1f} ({t.source})" for t in terms)
    words = (
        f"{total:.1f} kg/day, {low:.1f} to {high:.1f}: {parts}. A start; correct it by what the tank and readings say"
    )
    return Load(total, low, high, tuple(terms), words)


def ventilate_or_close(
    inside: AirState,
    outside: AirState,
    margin: float,
    coldest_surface: float | None,
    air_changes: float,
    volume: float,
    answers: Answers | None = None,
) -> Ventilation:
    """Outside air or closed drying today? air, air, [g/kg, 0 to 10], [degC], [1/h while open], [m3]

    Outside air helps only if it is drier by more than the margin, no surface falls to the dew point and there is heat for
    0.34 n V (T_in - T_out) W. The comparison is always told; to ventilate, to dry with units or to warm a surface is
    not spoken of before the questions of harm_guard are answered. Source: JOB F15, from memory. Raises OutOfRange.
    """
    least = figure(margin, "margin", 0.0, 10.0, "g/kg")
    flow = _flow(air_changes, volume)
    difference = inside.humidity_ratio - outside.humidity_ratio
    heat = HEAT_OF_AIR * flow * (inside.air_temperature - outside.air_temperature)
    side = "drier" if difference >= 0 else "wetter"
    costs = f"{heat:.0f} W to warm it to the room" if heat > 0 else "no heat: outside is not colder"
    compared = (
        f"outside air is {side} by {abs(difference):.2f} g/kg (inside {inside.humidity_ratio:.2f}, outside"
        f" {outside.humidity_ratio:.2f}, margin {least:g}); {costs} (0.34 n V dT)"
    )
    if coldest_surface is None:
        return Ventilation(
            "cannot say", difference, heat, None, f"{compared}; the coldest surface was not measured",
            "measure the coldest surface and hold it against the dew point",
        )  # fmt: skip
    cold = figure(coldest_surface, "coldest surface temperature", -45.0, 60.0, "degC")
    humidity = surface_relative_humidity(inside.vapour_pressure, cold)
    sides = (("inside", inside), ("outside", outside))
    dews = [f"{name} air ({air.dew_point:.1f} degC)" for name, air in sides if air.dew_point >= cold]
    checked = f"{compared}; coldest surface {cold:g} degC, " + (
        f"at or below the dew point of {' and '.join(dews)}: it is or would be wetted"
        if dews
        else "above both dew points"
    )
    unsaid = _unanswered(answers)
    if difference <= least:
        meant = "not drier by more than the margin" if difference >= 0 else "the wetter"
        return Ventilation(
            "close", difference, heat, humidity, f"{checked}. Closed drying: outside air is {meant}",
            unsaid or "keep it closed and dry with units; compare again when the weather turns",
        )  # fmt: skip
    if outside.dew_point >= cold:
        return Ventilation(
            "close", difference, heat, humidity, f"{checked}. Closed drying until the surface is warmer",
            unsaid or "warm the coldest surface first, then compare again",
        )  # fmt: skip
    if unsaid:
        return Ventilation("cannot say", difference, heat, humidity, checked, unsaid)
    return Ventilation(
        "ventilate", difference, heat, humidity, f"{checked}. Outside air helps while this lasts",
        f"make sure that {max(heat, 0):.0f} W of heat is there, else surfaces cool towards the dew point; compare again today,"
        " and mind security and rain",
    )  # fmt: skip


def _unanswered(answers: Answers | None) -> str:
    """What must be answered before ventilation is spoken of, as the next step; '' if all is."""
    try:
        advice("ventilation", answers if answers is not None else Answers())
    except Refused as refused:
        return f"{refused.what}: {refused.next_step}"
    return ""


def _flow(air_changes: float, volume: float) -> float:
    """[1/h], [m3] -> [m3/h]"""
    changes = figure(air_changes, "air change rate", 0.0, BEST_AIR_CHANGE, "1/h")
    return changes * figure(volume, "volume", 0.1, LARGEST_VOLUME, "m3")


def _shown(air: AirState) -> str:
    return f"{air.air_temperature:g} degC {air.relative_humidity:.0f} % ({air.humidity_ratio:.2f} g/kg)"
