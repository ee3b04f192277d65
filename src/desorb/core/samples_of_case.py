"""What the samples of a case say: custody, oven, hygroscopic moisture, carbide and salts of each, and profiles of walls.

Contents: samples_shown; ProfileOfCase and profiles_of_case (the same profiles as figures, for the cause table).
A row that cannot be used is named with its next step and stops only itself. Keys in square brackets stand in
docs/references.md.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from functools import partial
from typing import Any

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.kinds import CarbideReading, CustodyEntry, SaltContent, Sample, SampleWeighing
from desorb.core.samples import carbide, gravimetric, salts
from desorb.core.samples.custody import CustodyStep, check_custody
from desorb.core.samples.profile import DrilledSample, WallProfile, from_weighings, wall_profile
from desorb.core.shown import Line, Plot, Shown, Table
from desorb.core.typed import AT_MOST, read_value
from desorb.errors import DesorbError, InputError, NotUnderstood

SAMPLE, PROFILE = "sample", "wall profile"
MOIST, AT_75, DRY = "moist", "at 75 % humidity", "dry"
BROKEN, NOT_VALID, CANNOT_BE_USED, NOT_READ = "custody broken", "test not valid", "cannot be used", "not read yet"
CALCIUM_SULPHATE = ("anhydrite", "calcium sulfate")  # other names of calcium sulphate; common practice, no source
GROUND_HINT = (
    "Hint: nitrate and chloride together suggest ground origin (from memory). It is a hint only: it names no cause and"
    " is not set in the cause table."
)  # [RULES-4.2], marked there as from memory
NO_FLOOR_METHOD = (
    "The weighings of this sample accept no floor: an oven figure is held against no limit of a floor test. Test the"
    " floor by its own method."
)
WEIGHINGS = ("state", "at", "mass, g", "oven, degC", "in the oven since", "regime", "entry")
HEIGHTS = ("depth, mm", "height, m", "total, % of dry mass", "hygroscopic at 75 %", "free")


@dataclass(frozen=True, slots=True)
class ProfileOfCase:
    """One vertical line of one zone. profile is None where no sample can be used; left_out: samples, each with its reason."""

    zone: str
    line: str
    profile: WallProfile | None
    left_out: tuple[str, ...]
    problem: tuple[str, str]  # words and next step, '' where there is none
    entries: tuple[str, ...]

    @property
    def entry(self) -> str:
        return ", ".join(self.entries)


@dataclass(frozen=True, slots=True)
class _Part:
    """One method of one sample."""

    words: str = ""
    flag: str = ""
    cautions: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    notes: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Weighed:
    """Oven test of one sample. total, hygroscopic: % of dry mass against the last dry mass, constant or not."""

    oven: gravimetric.OvenResult
    total: Decimal
    hygroscopic: Decimal | None
    notes: tuple[str, ...]


def samples_shown(case: Case) -> tuple[Shown, ...]:
    """Every sample as it was last described, every wall profile, and what names a sample that is not described."""
    samples = latest_by_id(case.samples)
    profiles = [_profile_shown(found) for found in profiles_of_case(case)]
    return (*(_sample_shown(case, each) for each in samples.values()), *profiles, *_not_described(case, samples))


def profiles_of_case(case: Case) -> tuple[ProfileOfCase, ...]:
    """One profile for each line of each zone, from samples with a line and a height, as weighed."""
    lines: dict[tuple[str, str], list[Entered[Sample]]] = {}
    for entered in latest_by_id(case.samples).values():
        if entered.record.line:
            lines.setdefault((entered.record.zone, entered.record.line), []).append(entered)
    return tuple(_profile(case, zone, line, found) for (zone, line), found in lines.items())


def said(problem: DesorbError) -> tuple[str, str]:
    """What was wrong, in words, and the next step; never without one."""
    got = f"; got {problem.got}" if problem.got else ""
    wanted = f"; wanted {problem.wanted}" if problem.wanted else ""
    return f"{problem.what}{got}{wanted}", problem.next_step or "strike the entry and write it again with its figures"


# -- one sample --------------------------------------------------------------------------------------------------------


def _sample_shown(case: Case, entered: Entered[Sample]) -> Shown:
    sample = entered.record
    custody = _of(case.custody, sample.id)
    weighings = _of(case.weighings, sample.id)
    contents = _of(case.salt_contents, sample.id)
    closed = _of(case.carbide_readings, sample.id)
    parts = [
        _tried(f"The carbide test of {each.record.at}", partial(_carbide, sample, each), [each]) for each in closed
    ]
    if closed:
        parts.append(_Part(cautions=carbide.CAUTIONS))
    if weighings:
        parts.append(_tried("The oven result", lambda: _oven(sample, weighings), weighings))
        rows = tuple(_weighing_row(each) for each in weighings)
        notes = (NO_FLOOR_METHOD,) if sample.test else ()
        parts.append(_Part(tables=(Table(WEIGHINGS, rows),), notes=notes))
    parts += [_tried(f"The salts of {each.record.at}", partial(_salts, each), [each]) for each in contents]
    cups = _of(case.cup_readings, sample.id)
    if cups or (closed and sample.test):
        of_test = (
            f"It belongs to the floor test {sample.test}: its result against the limit stands there."
            if sample.test
            else ""
        )
        alone = "" if sample.test else "A cup reading is held against a limit only in a floor test: name the test."
        parts.append(_Part(notes=tuple(filter(None, (of_test, alone))), entries=tuple(each.entry for each in cups)))
    if not (weighings or contents or closed or cups):
        step = "enter its weighings (moist, dry in the oven, at 75 % humidity), its carbide test or its salts"
        parts.append(_Part(f"Sample {sample.id} was taken and is not read yet.", NOT_READ, steps=(step,)))
    parts.append(_custody(sample.id, custody, bool(weighings or contents)))
    flags = tuple(dict.fromkeys(part.flag for part in parts if part.flag))
    depth = f", {sample.depth_from} to {sample.depth_to} mm" if sample.depth_from and sample.depth_to else ""
    height = f", {sample.height} m above floor" if sample.height else ""
    return Shown(
        kind=SAMPLE,
        id=sample.id,
        title=f"Sample {sample.id}: {sample.material}, {sample.element}{height}{depth}",
        zone=sample.zone,
        status="; ".join(flags) or "result",
        words=" ".join(part.words for part in parts if part.words),
        cautions=_joined(part.cautions for part in parts),
        tables=tuple(table for part in parts for table in part.tables),
        notes=_joined(part.notes for part in parts),
        next_steps=_joined(part.steps for part in parts),
        rests_on=_joined(((entered.entry,), *(part.entries for part in parts))),
    )


def _of(entries: tuple[Entered[Any], ...], sample: str) -> list[Entered[Any]]:
    return [each for each in entries if each.record.sample == sample]


def _joined(lists: Any) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for texts in lists for text in texts))


def _tried(name: str, make: Callable[[], _Part], rests_on: list[Entered[Any]]) -> _Part:
    entries = tuple(each.entry for each in rests_on)
    try:
        return replace(make(), entries=entries)
    except DesorbError as problem:
        words, step = said(problem)
        return _Part(f"{name} {CANNOT_BE_USED}: {words}.", CANNOT_BE_USED, steps=(step,), entries=entries)


def _custody(sample: str, steps: list[Entered[CustodyEntry]], left_the_site: bool) -> _Part:
    if not steps and not left_the_site:
        return _Part(notes=("No custody is recorded; nothing of this sample comes from a laboratory.",))
    entries = tuple(each.entry for each in steps)
    try:
        rows = [CustodyStep(e.record.step, e.record.by, e.record.at, _number(e.record.mass)) for e in steps]
        result = check_custody(sample, rows)
    except DesorbError as problem:
        words, step = said(problem)
        return _Part(f"Sample {sample}: {BROKEN}: {words}.", BROKEN, steps=(step,), entries=entries)
    table = Table(
        ("step", "by", "at", "mass, g", "entry"),
        tuple((e.record.step, e.record.by, e.record.at, e.record.mass, e.entry) for e in steps),
    )
    step = "enter what is missing if it is on paper; a gap that stays goes with the result"
    return _Part(
        result.words,
        BROKEN if result.gaps else "",
        tables=(table,) if steps else (),
        steps=(step,) if result.gaps else (),
        entries=entries,
    )


def _oven(sample: Sample, weighings: list[Entered[SampleWeighing]]) -> _Part:
    weighed = _weighed(sample, weighings)
    oven, notes = weighed.oven, (*weighed.notes, *weighed.oven.warnings)
    if not oven.constant_mass:
        step = f"dry on at {oven.oven_temperature:g} degC and weigh again"
        return _Part(oven.words, NOT_VALID, notes=notes, steps=(step,))
    if weighed.hygroscopic is None:
        step = "hygroscopic moisture is open: let the sample stand in air of 75 % humidity and weigh it"
        return _Part(oven.words, notes=notes, steps=(step,))
    free = weighed.total - weighed.hygroscopic
    words = f"Hygroscopic {weighed.hygroscopic:.2f} % at 75 % humidity, free {free:.2f} %, both of dry mass."
    return _Part(f"{oven.words} {words}", notes=notes)


def _weighed(sample: Sample, weighings: list[Entered[SampleWeighing]]) -> _Weighed:
    """Raises DesorbError for figures that give no moisture content."""
    rows = [entered.record for entered in weighings]
    moist = [row for row in rows if row.state == MOIST]
    at_75 = [row for row in rows if row.state == AT_75]
    dry = sorted((row for row in rows if row.state == DRY), key=lambda row: _moment(row.at))
    if not moist or not dry:
        wanted = "weigh it moist, and dry in the oven" if not moist else "dry it in the oven and weigh it"
        missing = MOIST if not moist else DRY
        raise InputError(f"There is no weighing {missing}", wanted="both masses, moist and dry", next_step=wanted)
    temperatures, since = {row.oven_temperature for row in dry}, {row.oven_since for row in dry if row.oven_since}
    if len({_number(text) for text in temperatures}) > 1:
        raise InputError(
            "The oven temperature is not one and the same", got=", ".join(sorted(text or "not stated" for text in temperatures)),
            wanted="one temperature in every dry weighing",
            next_step="strike the weighings of the other temperature, or write its temperature beside each",
        )  # fmt: skip
    if len({_moment(text) for text in since}) > 1:
        raise InputError(
            "The sample was put in the oven more than once", got=", ".join(sorted(since)),
            wanted="one series without a break", next_step="strike the weighings before the break",
        )  # fmt: skip
    begin = _moment(min(since, default=dry[0].at))
    series = [
        gravimetric.Weighing(
            (_moment(row.at) - begin).total_seconds() / 3600, float(_needed(row.mass, "mass of a weighing"))
        )
        for row in dry
    ]
    if series[0].hours < 0:
        raise InputError(
            "A dry weighing was made before the sample was in the oven", got=dry[0].at, wanted=f"after {begin.isoformat()}",
            next_step="correct the times",
        )  # fmt: skip
    if _moment(moist[-1].at) > begin:
        raise InputError(
            "The moist weighing was made after the sample was in the oven", got=moist[-1].at,
            wanted=f"not after {begin.isoformat()}", next_step="correct the times, or take a new sample",
        )  # fmt: skip
    oven_temperature = float(_needed(dry[0].oven_temperature, "oven temperature"))
    moist_mass, dry_mass = _needed(moist[-1].mass, "moist mass"), _needed(dry[-1].mass, "dry mass")
    material = oven_material(sample.material)
    oven = gravimetric.assess_oven(sample.id, material, float(moist_mass), series, oven_temperature)
    notes = [f"Weighed moist {len(moist)} times: the last entered, {moist[-1].mass} g, is taken."] if moist[1:] else []
    if not since:
        notes.append("Not recorded since when it was in the oven: hours are counted from the first dry weighing.")
    if material in gravimetric.CRYSTAL_WATER:
        regime = "; ".join(dict.fromkeys(row.regime for row in dry if row.regime))
        notes.append(f"Drying regime as recorded: {regime or 'not stated'}.")
    if not oven.constant_mass and gravimetric.mass_is_constant(series, gravimetric.MASONRY_PRACTICE):
        notes.append(
            f"It would meet the practice for masonry ({gravimetric.MASONRY_PRACTICE.words}), which is the weaker rule."
        )
    hygroscopic = None
    if at_75:
        mass = _needed(at_75[-1].mass, "mass at 75 % humidity")
        hygroscopic = from_weighings(moist_mass, mass, dry_mass)[1]
        if len(at_75) == 1:
            notes.append("One weighing at 75 % humidity: whether the sample had settled there is not shown.")
    return _Weighed(oven, from_weighings(moist_mass, dry_mass, dry_mass)[0], hygroscopic, tuple(notes))


def oven_material(words: str) -> str:
    """The material as the drying temperatures name it. What holds gypsum or calcium sulphate is dried as that."""
    plain = words.strip().casefold()
    if any(name in plain for name in CALCIUM_SULPHATE):
        return "calcium sulphate"
    return next((name for name in gravimetric.CRYSTAL_WATER if name in plain), plain)


def _carbide(sample: Sample, entered: Entered[CarbideReading]) -> _Part:
    reading = entered.record
    figures = {name: _needed(getattr(reading, name), name.replace("_", " ")) for name in
               ("sample_mass", "gauge_pressure", "temperature", "free_volume")}  # fmt: skip
    closed, reagent = _number(reading.temperature_closed), _number(reading.reagent_mass)
    material = sample.material.strip().casefold()
    usual = next((name for name in carbide.SAMPLE_MASSES if material.startswith(name)), material)
    result = carbide.assess_carbide(
        carbide.CarbideTest(
            sample=sample.id,
            material="calcium sulphate" if oven_material(material) == "calcium sulphate" else usual,
            fully_crushed={"yes": True, "no": False}.get(reading.crushed),
            depth=f"{sample.depth_from}-{sample.depth_to} mm" if sample.depth_from and sample.depth_to else "",
            reagent_mass=None if reagent is None else float(reagent),
            temperature_when_closed=None if closed is None else float(closed),
            **{name: float(value) for name, value in figures.items()},
        )
    )
    read = (
        f"As read: {reading.sample_mass} g, {reading.gauge_pressure} bar, {reading.temperature} degC, "
        f"{reading.free_volume} mL free."
    )
    return _Part(
        result.words, NOT_VALID if result.faults else "", notes=(read, *result.warnings),
        steps=("repeat the test with a new sample, fully crushed",) if result.faults else (),
    )  # fmt: skip


def _salts(entered: Entered[SaltContent]) -> _Part:
    found: dict[str, Decimal] = {}
    notes = []
    for ion in salts.IONS:
        text = getattr(entered.record, ion)
        if not text.strip():
            continue
        value = read_value(text)
        if value.bound and value.bound != AT_MOST:
            raise NotUnderstood(
                f"The content of {ion} has no upper end", got=text, wanted="mass-%",
                next_step="ask the laboratory for the figure",
            )  # fmt: skip
        if value.bound:
            notes.append(f"{ion}: reported as {text}; classed as if it were {value.number}.")
        found[ion] = value.number
    result = salts.classify_salts(found)
    if _both_present(found):
        notes.append(GROUND_HINT)
    by = f" (by {entered.record.laboratory})" if entered.record.laboratory else ""
    shown = ", ".join(f"{ion} {getattr(entered.record, ion)}" for ion in found)
    words = " ".join((f"Salts{by}, mass-%: {shown}.", *(each.words for each in result.classes), result.conflict))
    step = "say which edition the work follows, and why"
    return _Part(words.strip(), notes=tuple(notes), steps=(step,) if result.conflict else ())


def _both_present(found: Mapping[str, Decimal]) -> bool:
    """Both above the lowest class of the edition for masonry (setting of ours: less is found in sound walls)."""
    ends = salts.EDITIONS[0].ends
    return all(ion in found and found[ion] >= ends[ion][0] for ion in ("chloride", "nitrate"))


def _weighing_row(entered: Entered[SampleWeighing]) -> tuple[str, ...]:
    row = entered.record
    return row.state, row.at, row.mass, row.oven_temperature, row.oven_since, row.regime, entered.entry


# -- one wall ----------------------------------------------------------------------------------------------------------


def _profile(case: Case, zone: str, line: str, samples: list[Entered[Sample]]) -> ProfileOfCase:
    drilled, left_out, entries = [], [], []
    for entered in samples:
        weighings = _of(case.weighings, entered.record.id)
        try:
            one = _drilled(entered.record, weighings)
            wall_profile([one])  # refuses figures that cannot be, of this sample alone
        except DesorbError as problem:
            words, step = said(problem)
            left_out.append(f"{entered.record.id}: {words}. Next: {step}.")
            continue
        drilled.append(one)
        entries += [entered.entry, *(each.entry for each in weighings)]
    if not drilled:
        step = "enter height, depth and weighings of the samples of this line"
        return ProfileOfCase(zone, line, None, tuple(left_out), ("No sample of this line can be used", step), ())
    try:
        return ProfileOfCase(zone, line, wall_profile(drilled), tuple(left_out), ("", ""), tuple(entries))
    except DesorbError as problem:
        return ProfileOfCase(zone, line, None, tuple(left_out), said(problem), tuple(entries))


def _drilled(sample: Sample, weighings: list[Entered[SampleWeighing]]) -> DrilledSample:
    weighed = _weighed(sample, weighings)
    return DrilledSample(
        _needed(sample.height, "height"), _whole(sample.depth_from, "depth from"), _whole(sample.depth_to, "depth to"),
        weighed.total, weighed.hygroscopic, weighed.oven.constant_mass,
    )  # fmt: skip


def _profile_shown(found: ProfileOfCase) -> Shown:
    title = f"Wall profile {found.line}: total and hygroscopic moisture over height"
    name = f"{found.zone}/{found.line}"
    profile = found.profile
    if profile is None or not profile.bands:
        words, step = found.problem
        words = words or "No sample of this line was dried to constant mass"
        step = step or "dry on to constant mass and weigh again"
        kept = (*found.left_out, *(profile.left_out if profile else ()))
        words = f"No profile: {words}. No opinion on rising damp."
        return Shown(PROFILE, name, title, found.zone, CANNOT_BE_USED, words, notes=kept, next_steps=(step,),
                     rests_on=found.entries)  # fmt: skip
    rows, plots, words_of, steps = [], [], [], []
    for band in profile.bands:
        depth = f"{band.depth_from} to {band.depth_to} mm"
        total = tuple((_plain(point.height), _plain(point.total)) for point in band.points)
        held = tuple((_plain(p.height), _plain(p.hygroscopic)) for p in band.points if p.hygroscopic is not None)
        lines = (Line("total", total), *((Line("hygroscopic at 75 % humidity", held),) if held else ()))
        plots.append(Plot(f"{depth} from the face", "height above floor, m", "moisture, % of dry mass", lines))
        rows += [
            (
                depth,
                _plain(p.height),
                _plain(p.total),
                *("" if x is None else _plain(x) for x in (p.hygroscopic, p.free)),
            )
            for p in band.points
        ]
        rising, _, step = band.rising.partition(" Next: ")
        steps += [f"{depth}: {step}"] if step else []
        words_of.append(f"{depth}: {rising} {band.salts}")
    deepest = profile.bands[-1].rising
    status = deepest.partition(":")[0]
    warnings = tuple(warning for band in profile.bands for warning in band.warnings)
    if found.left_out or profile.left_out:
        steps.append("weigh the samples left out again, or drill them anew")
    return Shown(
        kind=PROFILE, id=name, title=title, zone=found.zone, status=status[0].lower() + status[1:],
        words=" ".join((*words_of, *profile.across)), tables=(Table(HEIGHTS, tuple(rows)),), plots=tuple(plots),
        notes=(*warnings, *(f"Left out: {each}" for each in (*found.left_out, *profile.left_out)), *profile.notes),
        next_steps=tuple(steps) or ("name no cause from the pattern alone: see the cause table",), rests_on=found.entries,
    )  # fmt: skip


def _not_described(case: Case, samples: Mapping[str, Any]) -> tuple[Shown, ...]:
    named: dict[str, list[str]] = {}
    rows: tuple[Entered[Any], ...] = (
        *case.custody, *case.weighings, *case.carbide_readings, *case.cup_readings, *case.salt_contents,
    )  # fmt: skip
    for each in rows:
        if each.record.sample not in samples:
            named.setdefault(each.record.sample, []).append(each.entry)
    step = "describe the sample: zone, element, material, when it was taken"
    return tuple(
        Shown(SAMPLE, name, f"Sample {name}: not described", "", CANNOT_BE_USED,
              f"The sample {name!r} is named in {', '.join(entries)}, and no entry describes it.", next_steps=(step,),
              rests_on=tuple(entries))
        for name, entries in named.items()
    )  # fmt: skip


# -- figures of the record ---------------------------------------------------------------------------------------------


def _plain(value: Decimal) -> str:
    """At most two decimals: no balance of such a sample carries more (setting of ours)."""
    return f"{round(value, 2).normalize():f}"


def _number(text: str) -> Decimal | None:
    if not text.strip():
        return None
    value = read_value(text)
    if value.bound:
        raise NotUnderstood(
            "a bound is no figure here", got=text, wanted="one number", next_step="weigh or read it again"
        )
    return value.number


def _needed(text: str, name: str) -> Decimal:
    value = _number(text)
    if value is None:
        raise InputError(f"The {name} is not recorded", wanted="a number", next_step=f"record the {name}")
    return value


def _whole(text: str, name: str) -> int:
    value = _needed(text, name)
    if value != value.to_integral_value():
        raise InputError(f"The {name} is in whole mm", got=text, wanted="digits", next_step="correct it in a new entry")
    return int(value)


def _moment(text: str) -> datetime:
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        found = datetime.min
    if found.tzinfo is None:
        raise NotUnderstood(
            "this is no time with its offset", got=repr(text), wanted="2026-03-02T14:30+00:00",
            next_step="strike the entry and write it again with its time",
        )  # fmt: skip
    return found
