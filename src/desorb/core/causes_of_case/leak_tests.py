"""Every leak test of a case worked out by the function of its kind.

Contents: leak_tests_shown; worked_out; to_disprove (what a person has to say before a test speaks a cause out).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.causes import leak_tests
from desorb.core.causes.leak_tests import COLOUR, LeakTestResult, PartUnderTest
from desorb.core.causes.patterns import TESTS
from desorb.core.causes_of_case.cautions import stops
from desorb.core.kinds import LeakTest
from desorb.core.samples_of_case import said
from desorb.core.shown import Shown, Table
from desorb.core.written import needed, yes
from desorb.errors import DesorbError, InputError

LEAK, CANNOT_BE_USED = "leak test", "cannot be used"
METER = "meter no-use"
TEST_OF = {  # the test of the cause table that each kind of leak test is
    "pressure hold in air": "pressure hold", "pressure hold in water": "pressure hold", "standing water": "standing water",
    "dye": "dye", METER: METER,
}  # fmt: skip
HELD = {  # figures of every pressure hold: field of the record, its name
    "at_start": "gauge pressure at the start", "at_end": "gauge pressure at the end",
    "temperature_start": "temperature at the start", "temperature_end": "temperature at the end",
    "doubt": "doubt of one gauge reading", "temperature_doubt": "doubt of one temperature",
}  # fmt: skip
NEEDS = {  # what each kind cannot do without
    "pressure hold in air": HELD | {"air_pressure": "air pressure of the day"},
    "pressure hold in water": HELD,
    "standing water": {
        "at_start": "level at the start", "at_end": "level at the end", "doubt": "doubt of one level",
        "allowance": "allowance for evaporation",
    },
    "dye": {"litres": "volume poured", "looked_before": "word whether the places were looked at before"},
    METER: {"at_start": "reading at the start", "at_end": "reading at the end", "doubt": "smallest step of the meter"},
}  # fmt: skip
LEAK_FIGURES = ("expected", "observed", "minutes", "what it could disprove", "says nothing of")


def leak_tests_shown(case: Case) -> tuple[Shown, ...]:
    """Every leak test as it was last described, with what it showed, what it says nothing of, or what it lacks."""
    return tuple(_leak_shown(case, entered) for entered in latest_by_id(case.leak_tests).values())


def _leak_shown(case: Case, entered: Entered[LeakTest]) -> Shown:
    test = entered.record
    title = f"Leak test {test.id}: {test.test}, {test.system}, {test.section}"
    known = TESTS.get(TEST_OF.get(test.test, ""))
    cautions = (*known.cautions, *stops([known], test.zone, case)) if known else ()
    try:
        result = worked_out(test)
    except DesorbError as problem:
        words, step = said(problem)
        return Shown(LEAK, test.id, title, test.zone, CANNOT_BE_USED, f"{words}.", cautions, next_steps=(step,),
                     rests_on=(entered.entry,))  # fmt: skip
    notes = [f"By {test.by}." if test.by else "Not recorded by whom it was done."]
    if test.test == "pressure hold in air":
        notes.append(
            f"The air pressure of the day, {test.air_pressure} bar, is taken for start and end: if it moved between"
            " them, the gauge moved with it."
        )
    can = ", ".join(result.can_disprove)
    figures = (result.expected, result.observed, f"{result.minutes:g} of {test.planned_minutes} planned", can,
               result.says_nothing_of)  # fmt: skip
    return Shown(
        kind=LEAK,
        id=test.id,
        title=title,
        zone=test.zone,
        status=result.status,
        words=f"{result.conclusion}. It says nothing of {result.says_nothing_of}.",
        cautions=cautions,
        tables=(Table(LEAK_FIGURES, (figures,)),),
        notes=tuple(notes),
        next_steps=(_after(result, test),),
        rests_on=(entered.entry,),
    )


def _after(result: LeakTestResult, test: LeakTest) -> str:
    if result.next_step:
        return result.next_step
    if result.status == COLOUR:
        return "follow the path from both ends, and pour at the other outlets with another colour"
    if test.test == METER:
        return "see the cause table of this zone; leaks that come and go need a longer time without use"
    return to_disprove(test)


def to_disprove(test: LeakTest) -> str:
    """What a person has to say before a test without a loss speaks a cause out of the table."""
    whole = {
        "pressure hold": f"all of the {test.system} that could wet {test.zone}, at working pressure",
        "standing water": f"every tray, basin and drain that could wet {test.zone}",
        "dye": f"every outlet that could wet {test.zone}",
    }[TEST_OF[test.test]]
    return (
        f"if this took in {whole}, enter it again with took_in_all = yes; if not, test the rest: until then it disproves"
        " nothing in the cause table"
    )


def worked_out(test: LeakTest) -> LeakTestResult:
    """The function of its kind. Raises DesorbError for what is missing or cannot be."""
    if test.test not in NEEDS:
        raise InputError(
            "This leak test is not one of the list", got=repr(test.test), wanted=", ".join(NEEDS),
            next_step="strike the entry and write it again with its kind",
        )  # fmt: skip
    missing = [name for part, name in NEEDS[test.test].items() if not getattr(test, part).strip()]
    if missing:
        raise InputError(
            f"The leak test {test.id} cannot be worked out", got=f"no {', no '.join(missing)}",
            wanted="every figure as it was read on the day",
            next_step="write them down if they stand on paper; what was not read is not filled in: repeat the test",
        )  # fmt: skip
    return _FUNCTIONS[test.test](test, _part(test))


def _part(test: LeakTest) -> PartUnderTest:
    return PartUnderTest(test.system, test.section, test.start, test.end, _f(test.planned_minutes, "planned minutes"))


def _f(text: str, name: str) -> float:
    return float(needed(text, name))


def _both(test: LeakTest) -> tuple[float, float]:
    return _f(test.at_start, "figure at the start"), _f(test.at_end, "figure at the end")


def _warm(test: LeakTest) -> tuple[float, float]:
    return _f(test.temperature_start, "temperature at the start"), _f(test.temperature_end, "temperature at the end")


def _doubts(test: LeakTest) -> tuple[float, float]:
    return _f(test.doubt, "doubt"), _f(test.temperature_doubt, "doubt of the temperature")


def _in_air(test: LeakTest, part: PartUnderTest) -> LeakTestResult:
    day = _f(test.air_pressure, "air pressure")
    return leak_tests.pressure_hold_in_air(part, _both(test), (day, day), _warm(test), *_doubts(test))


def _in_water(test: LeakTest, part: PartUnderTest) -> LeakTestResult:
    return leak_tests.pressure_hold_in_water(part, _both(test), _warm(test), *_doubts(test))


def _standing(test: LeakTest, part: PartUnderTest) -> LeakTestResult:
    allowed = _f(test.allowance, "allowance")
    return leak_tests.standing_water(part, _both(test), allowed, test.allowance_from, _f(test.doubt, "doubt"))


def _dye(test: LeakTest, part: PartUnderTest) -> LeakTestResult:
    litres, looked = _f(test.litres, "volume poured"), bool(yes(test.looked_before))
    return leak_tests.dye(part, litres, test.poured_at, test.watched, looked, test.arrived_at)


def _meter(test: LeakTest, part: PartUnderTest) -> LeakTestResult:
    return leak_tests.meter_no_use(part, _both(test), _f(test.doubt, "smallest step"), test.no_use_by)


_FUNCTIONS: Mapping[str, Callable[[LeakTest, PartUnderTest], LeakTestResult]] = {
    "pressure hold in air": _in_air, "pressure hold in water": _in_water, "standing water": _standing, "dye": _dye,
    METER: _meter,
}  # fmt: skip
