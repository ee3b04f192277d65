"""What each cause would look like, what would speak against it, and the tests that would disprove it.

Contents: DisprovingTest and TESTS; Pattern and PATTERNS; OBSERVATIONS (every name that may be used); disproving_tests (cheapest
first); gates_of. Cost rank is an order of ours (1 looks or asks, 5 opens up or needs a laboratory); it is no price.
Patterns are common practice, no source, unless a key stands beside them; [RULES-4.1] is the project's own collection.
"""

from __future__ import annotations

from dataclasses import dataclass

from desorb.core.gates import GATES_OF_ACTION
from desorb.errors import InputError

CHEAP = 2  # cost rank; setting of ours: a test up to here must be done before one cause is named alone

COMPETENT = "pressure tests by competent persons only"  # common practice, no source
PROTECT = "do not flood-test over occupied rooms without protection"  # common practice, no source


@dataclass(frozen=True, slots=True)
class DisprovingTest:
    """One test. disproves: what outcome would speak a cause out of the table; action: a key of GATES_OF_ACTION."""

    name: str
    words: str
    disproves: str
    cost_rank: int  # 1 to 5
    action: str
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Pattern:
    """The expected pattern of one cause. needs: observations that must have been seen before it may be named at all."""

    cause: str
    words: str
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]
    tests: tuple[str, ...]
    needs: tuple[str, ...] = ()


TESTS = {
    test.name: test
    for test in (
        DisprovingTest("meter no-use", "read the water meter, use no water, read it again", "no flow at all", 1, "read"),
        DisprovingTest("pressure hold", "isolate the section and hold pressure, with both temperatures",
                       "no fall beyond the doubt, at working pressure, whole section", 3, "enter", (COMPETENT,)),
        DisprovingTest("look at pipes", "trace on plan and look which pipes and fittings are within reach of the damp",
                       "no such pipe within reach", 1, "enter"),
        DisprovingTest("isolate and watch", "isolate one supply at a time and watch the place over several days",
                       "wetting goes on alike with the supply shut", 2, "enter"),
        DisprovingTest("use and watch", "use one outlet at a time, then watch the place", "no change after each use", 1, "enter"),
        DisprovingTest("dye", "pour coloured water into one outlet and watch, the place looked at before",
                       "no colour arrives in the time waited", 2, "enter"),
        DisprovingTest("standing water", "fill tray or basin, mark the level, wait, allow for evaporation",
                       "level falls no more than the allowance", 2, "enter", (PROTECT,)),
        DisprovingTest("heating pressure log", "log the pressure of the heating system, and how often it is topped up",
                       "pressure holds without topping up", 1, "read"),
        DisprovingTest("compare with rain", "set the dates of wetting beside the rain record of the place",
                       "it wets with no rain in the time that water needs to come through", 1, "read"),
        DisprovingTest("look at the roof", "look at covering, gutters, flashings and their outlets from a safe place",
                       "no defect and no open path above the damp", 2, "enter", ("no work at height without protection",)),
        DisprovingTest("look at the outside", "look at the outer face, joints, render and openings level with the damp",
                       "no defect; the damp has no counterpart outside", 1, "read"),
        DisprovingTest("rain hose", "wet the outer face from the bottom upwards, one strip at a time, and watch inside",
                       "no wetting inside after each strip", 3, "enter", (PROTECT,)),
        DisprovingTest("height readings", "read the bare wall at rising heights from the floor, beside a sound wall",
                       "no fall with height: as high above as below", 1, "read"),
        DisprovingTest("moisture profile", "total and hygroscopic moisture of mortar at six heights and two depths",
                       "no free moisture at depth that falls with height from the base", 5, "take a sample",
                       ("drilling mortar frees silica: extraction and breathing protection first",)),  # [RULES-4.1]
        DisprovingTest("look at levels", "outside ground and inside floor beside the damp-proof course; look for debris",
                       "course clear of ground, render and plaster, at the damp", 1, "read"),
        DisprovingTest("cavity inspection", "look into the cavity by borescope where the damp is",
                       "cavity and ties clear at the damp", 4, "drill", ("reinstate fire stopping and airtightness",)),
        DisprovingTest("surface and air", "surface temperature beside air temperature and humidity, inside and outside",
                       "surface far from the dew point in cold weather and in the hours of use", 1, "read"),
        DisprovingTest("air logging", "log air and surface for 7 to 14 days in use and in cold weather",
                       "surface humidity never near saturation while it wets", 2, "read"),
        DisprovingTest("look at dates", "dates of building, screeding, plastering and earlier water, from papers",
                       "no wet work or flood within the time that it needs to go", 1, "read"),
        DisprovingTest("salts strip", "salts strip on a scraping of the surface", "no chloride, no nitrate", 2, "abrade"),
        DisprovingTest("hygroscopic sample", "total and hygroscopic moisture of one sample, and of a sound place",
                       "free moisture far above what the salts take up from air", 5, "take a sample"),
        DisprovingTest("ask for the flood", "ask, and look for tide mark, silt and records of a flood",
                       "no flood on record and no mark on any wall", 1, "read"),
        DisprovingTest("run the appliance", "run each appliance once under watch, hoses and tray looked at",
                       "no water from it or its hoses", 1, "enter"),
        DisprovingTest("second principle", "read the same places by another principle, wet and sound places alike",
                       "both principles set the same places apart", 1, "read"),
    )
}  # fmt: skip

PATTERNS = {
    pattern.cause: pattern
    for pattern in (
        Pattern("supply", "wets all the time and without rain, strongest near a pipe under pressure",
                ("meter runs without use", "constant wetting", "pipe under pressure within reach", "pressure falls"),
                ("meter still without use", "no pipe within reach", "uniform over all bays"),
                ("look at pipes", "meter no-use", "isolate and watch", "pressure hold")),
        Pattern("waste", "wets after use of one outlet, below it, often with smell or soap",
                ("wets after use", "below a wet room", "colour arrived", "standing water falls"),
                ("no link with use", "no outlet within reach", "uniform over all bays"),
                ("look at pipes", "use and watch", "dye", "standing water")),
        Pattern("heating", "warm damp along a run, system loses pressure",
                ("heating loses pressure", "warm damp along a pipe", "wets in the heating season"),
                ("heating holds pressure", "no pipe within reach"),
                ("look at pipes", "heating pressure log", "pressure hold")),
        Pattern("roof or rain", "a spot or run below a defect, wets after rain",
                ("wets after rain", "roof defect above", "local stain below a path", "tile out of line"),
                ("no rain while it wetted", "uniform over all bays", "sound roof seen"),
                ("compare with rain", "look at the roof", "rain hose")),
        Pattern("penetrating", "on an outer wall level with a defect, wets after wind-driven rain, wet at depth too",
                ("wets after rain", "defect of the outer face", "wetter at depth", "exposed side"),
                ("no rain while it wetted", "drier at depth than at the surface", "no defect of the outer face"),
                ("look at the outside", "compare with rain", "rain hose", "moisture profile")),
        Pattern("ground or rising", "free moisture at depth, highest at the base and falling with height, salts above it",
                ("free moisture at depth falls with height", "salt band above the damp", "high low on the wall",
                 "no damp-proof course"),
                ("no height profile at depth", "little free moisture at depth", "no salt band",
                 "drier at depth than at the surface"),
                ("height readings", "salts strip", "moisture profile"),
                ("free moisture at depth falls with height", "salt band above the damp")),  # [RULES-4.1]
        Pattern("bridging", "damp where ground, render, plaster or debris passes the damp-proof course",
                ("ground above the course", "render or plaster over the course", "debris in the cavity"),
                ("course clear all along", "no height profile at depth"),
                ("look at levels", "cavity inspection")),
        Pattern("condensation", "cold surfaces in still air, wetter at the surface than at depth, in cold weather",
                ("surface at or near dew point", "drier at depth than at the surface", "vapour well above outside",
                 "still air at a cold place", "mould on the surface", "uniform over all bays", "wets after frost",
                 "little free moisture at depth", "no rain while it wetted"),
                ("surface far from dew point", "wetter at depth", "vapour like outside", "wets in warm dry weather"),
                ("surface and air", "air logging", "moisture profile")),  # [RULES-4.1]
        Pattern("construction water", "young or newly screeded fabric, wet all over, falling month by month",
                ("wet work not long ago", "wet all over and falling"),
                ("old fabric without wet work", "rises again"),
                ("look at dates", "moisture profile")),
        Pattern("salts", "readings high in all weather, free moisture small: salts take water from air",
                ("salts strip positive", "little free moisture at depth", "readings follow the humidity of air"),
                ("salts strip negative", "free moisture at depth falls with height"),
                ("salts strip", "hygroscopic sample"), ("salts strip positive",)),
        Pattern("flood", "one level all round, all rooms of the storey, a date",
                ("tide mark", "flood on record", "one level all round"),
                ("no flood on record", "only one wall damp"), ("ask for the flood", "look at dates")),
        Pattern("appliance", "below or behind an appliance, wets when it runs",
                ("wets when the appliance runs", "appliance within reach"),
                ("no appliance within reach", "no link with use"), ("look at pipes", "run the appliance")),
        Pattern("interference", "the meter answers metal, foil, mesh, salts or a heating mat; nothing is wet",
                ("same end reading in wet and sound places", "metal or foil behind", "salts strip positive"),
                ("drops of water seen", "oven sample above control", "second principle agrees"),
                ("second principle", "hygroscopic sample")),
    )
}  # fmt: skip

OBSERVATIONS = tuple(
    dict.fromkeys(name for each in PATTERNS.values() for name in (*each.speaks_for, *each.speaks_against, *each.needs))
)


def disproving_tests(cause: str) -> tuple[DisprovingTest, ...]:
    """The tests that would disprove a cause, cheapest first. InputError for an unknown cause."""
    if cause not in PATTERNS:
        raise InputError(
            "This cause is not in the table", got=repr(cause), wanted=", ".join(PATTERNS), next_step="use one of these"
        )
    return tuple(sorted((TESTS[name] for name in PATTERNS[cause].tests), key=lambda test: test.cost_rank))


def gates_of(test: DisprovingTest) -> tuple[str, ...]:
    """Keys of the gates that the test meets; their state at a place is asked of core/gates.py."""
    return GATES_OF_ACTION[test.action]
