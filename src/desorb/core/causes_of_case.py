"""What the record says of causes: every leak test worked out, and the cause table of each zone.

Contents: leak_tests_shown; causes_shown. Beside what was observed, the table takes what other entries of the zone say by
themselves; each such observation names the entry it comes from. Of leak tests only the water meter looks at all of a
system, so only that one disproves by itself: that another took in all of it, at working pressure, a person says in a
cause test. A row that cannot be used is named with its next step and stops only itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.causes import leak_tests
from desorb.core.causes.leak_tests import COLOUR, LOSS, NO_COLOUR, NO_LOSS, NOT_VALID, LeakTestResult, PartUnderTest
from desorb.core.causes.patterns import PATTERNS, TESTS, DisprovingTest
from desorb.core.causes.table import (
    SEEN,
    DoneTest,
    Observation,
    Row,
    cause_table,
    causes_together_sentence,
    single_cause_sentence,
)
from desorb.core.condensation import air_lines
from desorb.core.floors_of_case.figures import needed, number, yes
from desorb.core.gates import EVIDENCE, STOP, gates_for
from desorb.core.kinds import CauseObservation, CauseTest, LeakTest
from desorb.core.outcome import GateState
from desorb.core.samples.profile import OUTER
from desorb.core.samples_of_case import profiles_of_case, said
from desorb.core.shown import Shown, Table
from desorb.errors import DesorbError, InputError

LEAK, CAUSES = "leak test", "causes"
CANNOT_BE_USED = "cannot be used"
NEAR_DEW_POINT = 1.0  # K; setting of ours: as near as a surface thermometer can tell
AT_DEPTH = 2 * OUTER  # mm; the outer 10 to 20 mm are discarded [RULES-4.1]
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
SEEN_IN = {  # what a leak test that showed something lets one say was seen: system and status, name of the observation
    ("pressure hold", "supply pipe", LOSS): "pressure falls",
    ("pressure hold", "heating pipe", LOSS): "heating loses pressure",
    ("standing water", "waste", LOSS): "standing water falls",
    ("dye", "waste", COLOUR): "colour arrived",
    (METER, "supply pipe", LOSS): "meter runs without use",
    (METER, "supply pipe", NO_LOSS): "meter still without use",
}
LEAK_FIGURES = ("expected", "observed", "minutes", "what it could disprove", "says nothing of")
COLUMNS = ("rank", "cause", "for", "against", "assumed", "missing", "disproved by", "next test", "gates of it")


@dataclass(slots=True)
class _Known:
    """What is known of the causes in one zone."""

    observations: list[Observation] = field(default_factory=list)
    done: list[DoneTest] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    entries: list[str] = field(default_factory=list)


# -- leak tests --------------------------------------------------------------------------------------------------------


def leak_tests_shown(case: Case) -> tuple[Shown, ...]:
    """Every leak test as it was last described, with what it showed, what it says nothing of, or what it lacks."""
    return tuple(_leak_shown(case, entered) for entered in latest_by_id(case.leak_tests).values())


def _leak_shown(case: Case, entered: Entered[LeakTest]) -> Shown:
    test = entered.record
    title = f"Leak test {test.id}: {test.test}, {test.system}, {test.section}"
    known = TESTS.get(TEST_OF.get(test.test, ""))
    cautions = (*known.cautions, *_stops([known], test.zone, case)) if known else ()
    try:
        result = _worked_out(test)
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
    return _to_disprove(test)


def _to_disprove(test: LeakTest) -> str:
    """What a person has to say before a test without a loss speaks a cause out of the table."""
    whole = {
        "pressure hold": f"all of the {test.system} that could wet {test.zone}, at working pressure",
        "standing water": f"every tray, basin and drain that could wet {test.zone}",
        "dye": f"every outlet that could wet {test.zone}",
    }[TEST_OF[test.test]]
    return (
        f"if this took in {whole}, write a cause test {TEST_OF[test.test]!r} that says so; if not, test the rest: until"
        " then it disproves nothing in the cause table"
    )


def _worked_out(test: LeakTest) -> LeakTestResult:
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


# -- causes of one zone ------------------------------------------------------------------------------------------------


def causes_shown(case: Case) -> tuple[Shown, ...]:
    """One cause table for each zone of which somebody observed or tested something about a cause."""
    tests = latest_by_id(case.leak_tests).values()
    zones = dict.fromkeys(
        entered.record.zone
        for entered in sorted([*case.cause_observations, *tests, *case.cause_tests], key=lambda each: each.order)
    )
    return tuple(_zone_shown(case, zone) for zone in zones)


def _zone_shown(case: Case, zone: str) -> Shown:
    known = _Known()
    _of_persons(case, zone, known)
    _of_leak_tests(case, zone, known)
    _of_salts(case, zone, known)
    _of_profiles(case, zone, known)
    _of_air(case, zone, known)
    rows = cause_table(known.observations, known.done)
    status, words, steps = _sentences(rows)
    tests = [row.next_test for row in rows if row.next_test]
    return Shown(
        kind=CAUSES,
        id=zone,
        title=f"Causes of damp in {zone}",
        zone=zone,
        status=status,
        words=words,
        cautions=tuple(dict.fromkeys((*_stops(tests, zone, case), *(c for test in tests for c in test.cautions)))),
        tables=(Table(COLUMNS, tuple(_cells(row, zone, case) for row in rows)),),
        notes=tuple(dict.fromkeys(known.notes)),
        next_steps=steps,
        rests_on=tuple(dict.fromkeys(known.entries)),
    )


def _sentences(rows: tuple[Row, ...]) -> tuple[str, str, tuple[str, ...]]:
    """Status, words and next steps: one cause if the table allows it, else why not, and the causes that stand together."""
    with_evidence = [row for row in rows if not row.disproved_by and any(e.known == SEEN for e in row.evidence_for)]
    if not with_evidence:
        first = next((row.next_test for row in rows if row.next_test), None)
        step = f"{first.name}: {first.words}" if first else "write down what is seen, under a name of the table"
        return "no cause named", "No cause is named: nothing was seen that speaks for one.", (step,)
    try:
        return "one cause", single_cause_sentence(rows, with_evidence[0].cause), ("a competent person decides",)
    except DesorbError as problem:
        words, step = said(problem)
    parts, steps = [f"{words}."], [step]
    together = [row.cause for row in with_evidence if _has_what_it_needs(row)]
    if len(together) > 1:
        try:
            parts.append(causes_together_sentence(rows, together))
        except DesorbError as problem:
            words, step = said(problem)
            parts.append(f"{words}.")
            steps.append(step)
    return "no single cause named", " ".join(parts), tuple(dict.fromkeys(steps))


def _has_what_it_needs(row: Row) -> bool:
    seen = {each.name: each.entry for each in row.evidence_for if each.known == SEEN}
    needs = PATTERNS[row.cause].needs
    return len({seen[name] for name in needs if name in seen}) == len(needs)


def _cells(row: Row, zone: str, case: Case) -> tuple[str, ...]:
    gates = _gates(row.next_test, zone, case) if row.next_test else ()
    return (
        str(row.rank), row.cause, _named(row.evidence_for), _named(row.evidence_against), _named(row.assumed),
        ", ".join(row.missing), "; ".join(f"{test.words} ({test.entry})" for test in row.disproved_by),
        f"{row.next_test.name}: {row.next_test.words}" if row.next_test else "",
        ", ".join(f"{gate.gate}: {gate.state}" for gate in gates),
    )  # fmt: skip


def _named(evidence: Iterable[Observation]) -> str:
    return "; ".join(f"{each.name} ({each.known}, {each.entry}: {each.words})" for each in evidence)


def _gates(test: DisprovingTest, zone: str, case: Case) -> tuple[GateState, ...]:
    return gates_for(test.action, zone, "", case)


def _stops(tests: Iterable[DisprovingTest], zone: str, case: Case) -> tuple[str, ...]:
    """What could hurt someone at the place of these tests, stops first. Nothing is allowed here."""
    gates = [gate for test in tests for gate in _gates(test, zone, case) if gate.state != EVIDENCE]
    gates.sort(key=lambda gate: gate.state != STOP)
    return tuple(dict.fromkeys(f"{gate.gate}: {gate.state}. {gate.words}" for gate in gates))


# -- what is known of one zone -----------------------------------------------------------------------------------------


def _of_persons(case: Case, zone: str, known: _Known) -> None:
    """Observations and tests as persons wrote them. One that the table refuses is named and stops only itself."""
    rows: tuple[Entered[CauseObservation] | Entered[CauseTest], ...] = (*case.cause_observations, *case.cause_tests)
    for entered in rows:
        record = entered.record
        if record.zone != zone:
            continue
        known.entries.append(entered.entry)
        try:
            if isinstance(record, CauseObservation):
                one = Observation(record.name, record.known, record.words, entered.entry)
                cause_table([one])
                known.observations.append(one)
                continue
            done = DoneTest(record.test, record.disproves, record.words, entered.entry, record.valid == "yes")
            cause_table((), [done])
        except DesorbError as problem:
            words, step = said(problem)
            known.notes.append(f"Not in the table: {entered.entry}: {words}. Next: {step}.")
            continue
        known.done.append(done)
        if not done.valid:
            known.notes.append(
                f"{record.test} ({entered.entry}) was not valid and counts as not done: {record.words}. Next: repeat it."
            )


def _of_leak_tests(case: Case, zone: str, known: _Known) -> None:
    for entered in latest_by_id(case.leak_tests).values():
        test = entered.record
        if test.zone != zone:
            continue
        known.entries.append(entered.entry)
        try:
            result = _worked_out(test)
        except DesorbError as problem:
            words, step = said(problem)
            known.notes.append(f"Leak test {test.id} ({entered.entry}) is not in the table: {words}. Next: {step}.")
            continue
        if result.status == NOT_VALID:
            known.notes.append(
                f"Leak test {test.id} ({entered.entry}) counts as not done: {result.conclusion}. Next: {result.next_step}."
            )
            continue
        name = TEST_OF[test.test]
        seen = SEEN_IN.get((name, test.system, result.status))
        if seen:
            known.observations.append(Observation(seen, SEEN, result.observed, entered.entry))
        if result.status in (NO_LOSS, NO_COLOUR) and name != METER:
            known.notes.append(
                f"Leak test {test.id} ({entered.entry}), {result.status}: {result.conclusion}. Next: {_to_disprove(test)}."
            )
            continue
        known.done.append(DoneTest(name, result.disproves, result.conclusion, entered.entry))


def _of_salts(case: Case, zone: str, known: _Known) -> None:
    """A positive strip is a test that salts stood. A negative one speaks for its place only: a person says what it settles."""
    for entered in case.salt_tests:
        strip = entered.record
        if strip.zone != zone or strip.result not in ("positive", "negative"):
            continue
        known.entries.append(entered.entry)
        words = f"{strip.element}: {strip.method}, {strip.result}"
        known.observations.append(Observation(f"salts strip {strip.result}", SEEN, words, entered.entry))
        if strip.result == "positive":
            known.done.append(DoneTest("salts strip", (), words, entered.entry))
        else:
            known.notes.append(
                f"{words} ({entered.entry}): it speaks for this place only. Next: if neither chloride nor nitrate is found"
                " anywhere in the damp, write a cause test 'salts strip' that says so."
            )


def _of_profiles(case: Case, zone: str, known: _Known) -> None:
    """What the deepest band of a wall profile says, and only if it lies at depth."""
    for found in profiles_of_case(case):
        if found.zone != zone or found.profile is None or not found.profile.bands:
            continue
        band = found.profile.bands[-1]
        name = _of_band(band.rising)
        if name and band.depth_from < AT_DEPTH:
            known.notes.append(
                f"Wall profile {found.line}: its deepest band begins {band.depth_from} mm from the face, so it says nothing"
                f" of the depth. Next: drill from {AT_DEPTH} mm inwards."
            )
            continue
        drier = any(words.startswith("Wetter near the surface") for words in found.profile.across)
        for observed in filter(None, (name, "drier at depth than at the surface" if drier else "")):
            words = f"wall profile {found.line}, {band.depth_from} to {band.depth_to} mm: {band.rising}"
            known.observations.append(Observation(observed, SEEN, words, found.entry))
            known.entries += found.entries


def _of_band(rising: str) -> str:
    """The observation that the sentence of the profile stands for; '' where it has no opinion or cannot say."""
    if rising.startswith("Profile consistent with rising damp"):
        return "free moisture at depth falls with height"
    if not rising.startswith("Profile not consistent with rising damp"):
        return ""
    return "no height profile at depth" if "not falling" in rising else "little free moisture at depth"


def _of_air(case: Case, zone: str, known: _Known) -> None:
    """Surfaces at or near the dew point of the air beside them, read in this zone."""
    for line in air_lines(case):
        reading = line.entered.record
        if reading.place != zone or line.state is None or line.surface_relative_humidity is None:
            continue
        surface, dew_point = number(reading.surface_temperature), line.state.dew_point
        if surface is None or surface - Decimal(str(dew_point)) > Decimal(str(NEAR_DEW_POINT)):
            continue
        words = (
            f"surface {reading.surface_temperature} degC, dew point of the air {dew_point:.1f} degC, {reading.taken_at}"
        )
        known.observations.append(Observation("surface at or near dew point", SEEN, words, line.entered.entry))
        known.entries.append(line.entered.entry)
