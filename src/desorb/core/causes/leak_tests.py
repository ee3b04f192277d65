"""Records of leak tests: start and end, expected, observed, and a conclusion no wider than the test.

Contents: PartUnderTest; LeakTestResult; pressure_hold_in_air, pressure_hold_in_water, standing_water, dye, meter_no_use.
Doubts are stated by whoever did the test and added in full (never as a root of squares). A test that was stopped early
may show a loss, never its absence. Times as ISO text; bar, degC, mm, litres. Limits of each conclusion are common
practice, no source. Missing or impossible input raises InputError; what a test could not show is "test not valid".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from desorb.errors import InputError
from desorb.units import ZERO_CELSIUS_IN_KELVIN

NO_LOSS, LOSS, NOT_VALID = "no loss beyond the doubt", "loss beyond the doubt", "test not valid"
COLOUR, NO_COLOUR = "colour arrived", "no colour arrived"
# Settings of ours: what lies outside was read in another unit, or slipped.
PIPE_TEMPERATURES = (-30.0, 100.0)  # degC
ATMOSPHERES = (0.5, 1.1)  # bar: 5.5 km up, and the highest at sea level with some to spare
LARGEST_GAUGE = 50.0  # bar
CAN_DISPROVE = {"supply pipe": "supply", "heating pipe": "heating", "waste": "waste"}  # names of core/causes/patterns
FITS = {  # systems that each kind of test can say something of
    "pressure hold": ("supply pipe", "heating pipe"),
    **dict.fromkeys(("standing water", "dye"), ("waste",)),
    "meter no-use": ("supply pipe",),
}


@dataclass(frozen=True, slots=True)
class PartUnderTest:
    """What was tested and when. system: a key of CAN_DISPROVE; place: the section, in words; start, end: ISO text;
    planned_minutes: how long it was to last (30 held pressure, 120 standing water: settings of ours)."""

    system: str
    place: str
    start: str
    end: str
    planned_minutes: float


@dataclass(frozen=True, slots=True)
class LeakTestResult:
    """can_disprove: the cause this kind of test could speak out; disproves: what it did speak out, for this part only."""

    kind: str
    part: PartUnderTest
    minutes: float
    expected: str
    observed: str
    status: str
    conclusion: str
    says_nothing_of: str
    can_disprove: tuple[str, ...]
    disproves: tuple[str, ...]
    next_step: str = ""


def expected_air_pressure(start_absolute: float, start_celsius: float, end_celsius: float) -> float:
    """Absolute pressure [bar] of a closed volume of air after a change of temperature: p2 = p1 T2 / T1, in kelvin
    (gas law, textbook; volume of the pipe taken as constant). InputError below 0 bar or at or below absolute zero."""
    _not_negative(("absolute pressure", start_absolute))
    for celsius in (start_celsius, end_celsius):
        _within("temperature", celsius, PIPE_TEMPERATURES, "degC")
    return start_absolute * (end_celsius + ZERO_CELSIUS_IN_KELVIN) / (start_celsius + ZERO_CELSIUS_IN_KELVIN)


def pressure_hold_in_air(
    part: PartUnderTest,
    gauge: tuple[float, float],
    atmosphere: tuple[float, float],
    celsius: tuple[float, float],
    doubt_bar: float,
    doubt_kelvin: float,
) -> LeakTestResult:
    """Air held under pressure. gauge and atmosphere: bar at start and end; celsius: of the air in the pipe, start and
    end; doubt_bar: of one gauge reading; doubt_kelvin: of one temperature. Expected end gauge =
    (gauge + atmosphere at start) T2 / T1 - atmosphere at end."""
    minutes = _minutes("pressure hold", part)
    _not_negative(
        ("gauge at start", gauge[0]), ("gauge at end", gauge[1]), ("doubt", doubt_bar), ("doubt", doubt_kelvin)
    )
    _positive(("gauge", gauge[0]))
    for pressure in atmosphere:
        _within("air pressure of the day", pressure, ATMOSPHERES, "bar")
    for pressure in gauge:
        _within("gauge pressure", pressure, (0.0, LARGEST_GAUGE), "bar")
    absolute = gauge[0] + atmosphere[0]
    expected = expected_air_pressure(absolute, *celsius) - atmosphere[1]
    doubt = 2 * doubt_bar + absolute * 2 * doubt_kelvin / (celsius[0] + ZERO_CELSIUS_IN_KELVIN)
    return _held(
        "pressure hold, air",
        part,
        minutes,
        expected,
        gauge[1],
        doubt,
        f"corrected for {celsius[0]:g} to {celsius[1]:g} degC",
    )


def pressure_hold_in_water(
    part: PartUnderTest, gauge: tuple[float, float], celsius: tuple[float, float], doubt_bar: float, doubt_kelvin: float
) -> LeakTestResult:
    """Water held under pressure. What temperature does to it depends on pipe, trapped air and vessel: it is not
    corrected, so both temperatures must be equal within doubt_kelvin, or the test is not valid."""
    minutes = _minutes("pressure hold", part)
    _not_negative(
        ("gauge at start", gauge[0]), ("gauge at end", gauge[1]), ("doubt", doubt_bar), ("doubt", doubt_kelvin)
    )
    _positive(("gauge at start", gauge[0]))
    for pressure in gauge:
        _within("gauge pressure", pressure, (0.0, LARGEST_GAUGE), "bar")
    expected_air_pressure(0.0, *celsius)  # refuses temperatures that cannot be
    if abs(celsius[1] - celsius[0]) > doubt_kelvin:
        return _not_valid(
            "pressure hold, water", part, minutes, f"{gauge[0]:g} bar at equal temperature", f"{gauge[1]:g} bar",
            f"the water went from {celsius[0]:g} to {celsius[1]:g} degC, and the effect of temperature in water-filled"
            " pipes is not corrected",
            "repeat with equal temperatures at start and end: let the water stand until it no longer changes",
        )  # fmt: skip
    return _held(
        "pressure hold, water", part, minutes, gauge[0], gauge[1], 2 * doubt_bar,
        "equal temperatures; the effect of temperature is not corrected",
    )  # fmt: skip


def standing_water(
    part: PartUnderTest, level_mm: tuple[float, float], allowance_mm: float, allowance_from: str, doubt_mm: float
) -> LeakTestResult:
    """Water left standing in a tray or basin. level_mm: start and end; allowance_mm: evaporation over the whole time,
    stated by the user, and allowance_from: on what it rests (for instance a dish beside it); doubt_mm: of one level."""
    minutes = _minutes("standing water", part)
    _not_negative(
        ("level at end", level_mm[1]), ("evaporation allowance", allowance_mm), ("doubt of the level", doubt_mm)
    )
    _positive(("level at start", level_mm[0]))
    if not allowance_from.strip():
        raise InputError(
            "The evaporation allowance rests on nothing",
            got=f"{allowance_mm:g} mm",
            wanted="how it was found",
            next_step="set a dish of water beside it for the same time, or state 0 and say so",
        )
    fall, doubt = level_mm[0] - level_mm[1], 2 * doubt_mm
    expected = f"a fall of {allowance_mm:g} mm by evaporation ({allowance_from}), doubt {doubt:.3g} mm"
    observed = f"{level_mm[0]:g} to {level_mm[1]:g} mm, a fall of {fall:.3g} mm"
    nothing = (
        "joints above the level, splashing, movement under load, drain and trap beyond the plug, and slower losses"
    )
    if fall < -doubt:
        return _not_valid(
            "standing water", part, minutes, expected, observed, "the level rose", "find what let water in"
        )
    lost = fall > allowance_mm + doubt
    smallest = f"{allowance_mm + doubt:.3g} mm in {minutes:g} minutes"
    return _result("standing water", part, minutes, expected, observed, lost, smallest, nothing)


def dye(
    part: PartUnderTest,
    litres: float,
    poured_at: str,
    watched: tuple[str, ...],
    looked_before: bool,
    arrived_at: str = "",
) -> LeakTestResult:
    """Coloured water. watched: the places watched; looked_before: they were free of colour at the start; arrived_at:
    one of them where colour was seen, '' none. Colour shows one path; it names no only cause."""
    minutes = _minutes("dye", part)
    _positive(("volume of coloured water", litres))
    places = tuple(place for place in watched if place.strip())
    if not places or not poured_at.strip() or (arrived_at and arrived_at not in places):
        raise InputError(
            "The dye test is not described",
            got=f"poured at {poured_at!r}, watched {places}, arrived at {arrived_at!r}",
            wanted="where it was poured, the places watched, and an arrival at one of them",
            next_step="name the places as they were watched",
        )
    expected = f"{litres:g} L poured at {poured_at}; no colour at {', '.join(places)} if there is no path"
    observed = f"colour at {arrived_at}" if arrived_at else "no colour seen"
    nothing = "other outlets, paths that need more water, pressure, use or time, places not watched, and other causes"
    if not looked_before:
        return _not_valid("dye", part, minutes, expected, observed, "the places were not looked at before the test",
                          "look, photograph, then pour another colour")  # fmt: skip
    if not arrived_at and minutes < part.planned_minutes:
        return _stopped("dye", part, minutes, expected, observed)
    if arrived_at:
        words = f"There is a path for water from {poured_at} to {arrived_at}. Other paths and causes stay open"
        return LeakTestResult("dye", part, minutes, expected, observed, COLOUR, words, nothing, _can(part), ())
    words = f"No path from {poured_at} to {', '.join(places)} let {litres:g} L through within {minutes:g} minutes"
    return LeakTestResult("dye", part, minutes, expected, observed, NO_COLOUR, words, nothing, _can(part), _can(part))


def meter_no_use(
    part: PartUnderTest, litres: tuple[float, float], resolution_litres: float, no_use_confirmed_by: str
) -> LeakTestResult:
    """Water meter with nothing used. litres: reading at start and end; resolution_litres: smallest step it shows."""
    minutes = _minutes("meter no-use", part)
    _not_negative(("reading at start", litres[0]), ("reading at end", litres[1]))
    _positive(("resolution of the meter", resolution_litres))
    passed = litres[1] - litres[0]
    expected = f"no flow; the meter shows steps of {resolution_litres:g} L"
    observed = f"{litres[0]:.12g} to {litres[1]:.12g} L: {passed:.6g} L, {passed / minutes * 60:.3g} L per hour"
    if passed < 0:
        return _not_valid("meter no-use", part, minutes, expected, observed, "the reading fell",
                          "check both readings and the number of the meter, and read again")  # fmt: skip
    moved = passed >= resolution_litres * (1 - 1e-9)  # a whole step; the rest is rounding of binary numbers
    if moved and not no_use_confirmed_by.strip():
        return _not_valid("meter no-use", part, minutes, expected, observed, "nobody confirmed that no water was used",
                          "repeat with every outlet and filling valve shut, and say who confirmed it")  # fmt: skip
    nothing = "waste, heating once filled, rain, leaks before the meter, leaks that come and go, and smaller flows"
    smallest = f"{resolution_litres:g} L in {minutes:g} minutes ({resolution_litres / minutes * 60:.3g} L per hour)"
    return _result("meter no-use", part, minutes, expected, observed, moved, smallest, nothing)


def _held(
    kind: str, part: PartUnderTest, minutes: float, expected: float, observed: float, doubt: float, how: str
) -> LeakTestResult:
    wanted, got = f"{expected:.3f} bar at the end ({how}), doubt {doubt:.3f} bar", f"{observed:.3f} bar at the end"
    if observed - expected > doubt:
        return _not_valid(kind, part, minutes, wanted, got, "the pressure is higher than it can be",
                          "check that the section is isolated and that the temperature is that of its content")  # fmt: skip
    nothing = "pipes outside this section, leaks that come only hot, in use or under movement, and smaller falls"
    smallest = f"{doubt:.3f} bar in {minutes:g} minutes"
    return _result(kind, part, minutes, wanted, got, expected - observed > doubt, smallest, nothing)


def _result(
    kind: str,
    part: PartUnderTest,
    minutes: float,
    expected: str,
    observed: str,
    lost: bool,
    smallest: str,
    nothing: str,
) -> LeakTestResult:
    if not lost and minutes < part.planned_minutes:
        return _stopped(kind, part, minutes, expected, observed)
    if lost:
        words = f"{part.place} lost more than expected; where, and whether this made the damp, is not shown"
        following = "halve the section and repeat, or watch the place while it is isolated"
        return LeakTestResult(kind, part, minutes, expected, observed, LOSS, words, nothing, _can(part), (), following)
    words = f"{part.place} showed no loss; one below {smallest} would not have been seen"
    return LeakTestResult(kind, part, minutes, expected, observed, NO_LOSS, words, nothing, _can(part), _can(part))


def _stopped(kind: str, part: PartUnderTest, minutes: float, expected: str, observed: str) -> LeakTestResult:
    why = f"it lasted {minutes:g} of {part.planned_minutes:g} minutes and showed nothing"
    return _not_valid(kind, part, minutes, expected, observed, why, "repeat for the whole time")


def _not_valid(
    kind: str, part: PartUnderTest, minutes: float, expected: str, observed: str, why: str, following: str
) -> LeakTestResult:
    return LeakTestResult(
        kind,
        part,
        minutes,
        expected,
        observed,
        NOT_VALID,
        f"Nothing follows: {why}",
        "anything",
        _can(part),
        (),
        following,
    )


def _can(part: PartUnderTest) -> tuple[str, ...]:
    return (CAN_DISPROVE[part.system],)


def _minutes(kind: str, part: PartUnderTest) -> float:
    """How long it lasted [min]. InputError for a system that it does not fit, no place, or wrong times."""
    _positive(("planned minutes", part.planned_minutes))
    if part.system not in FITS[kind] or not part.place.strip():
        raise InputError(
            "The part tested is not described",
            got=f"{part.system!r}, {part.place!r}",
            wanted=f"for {kind}: {' or '.join(FITS[kind])}, and the section in words",
            next_step="say which pipes or tray were tested, from where to where",
        )
    try:
        minutes = (datetime.fromisoformat(part.end) - datetime.fromisoformat(part.start)).total_seconds() / 60
    except (ValueError, TypeError):  # no time, or one with a zone and one without
        minutes = 0.0
    if minutes <= 0:
        raise InputError(
            "The test has no length", got=f"{part.start!r} to {part.end!r}",
            wanted="start and end as ISO times, both with or both without zone, the end later", next_step="correct the times",
        )  # fmt: skip
    return minutes


def _within(name: str, value: float, span: tuple[float, float], unit: str) -> None:
    """A figure in another unit (hPa for bar, degF for degC) gives a wrong verdict, not a failure: it is asked for again."""
    if not span[0] <= value <= span[1]:
        raise InputError(
            f"This {name} cannot be used", got=f"{value:g} {unit}", wanted=f"{span[0]:g} to {span[1]:g} {unit}",
            next_step=f"look at the unit of the figure, and enter it in {unit}",
        )  # fmt: skip


def _positive(*named: tuple[str, float]) -> None:
    for name, value in named:
        if not math.isfinite(value) or value <= 0:
            raise InputError(
                f"The {name} cannot be used",
                got=str(value),
                wanted="a number above 0",
                next_step="read it again, or correct the figure",
            )


def _not_negative(*named: tuple[str, float]) -> None:
    for name, value in named:
        if not math.isfinite(value) or value < 0:
            raise InputError(
                f"The {name} cannot be used",
                got=str(value),
                wanted="a number, 0 or more",
                next_step="read it again, or correct the figure",
            )
