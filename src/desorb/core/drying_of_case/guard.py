"""What the drying itself could harm: rooms that were never wet, timber dried below its service range, foul water moved by air.

Contents: guard_shown. Warnings rest on readings of the last visit; what was not read is said and never taken as harmless.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from desorb.core.case import Case, latest_by_id
from desorb.core.condensation import SURFACE_CRITERION_DEFAULT, AirLine, air_lines
from desorb.core.drying.harm_guard import CAUTIONS, FOUL_WATER_ORDER, SPREADS, advice, over_drying, unaffected_room
from desorb.core.drying_of_case.answers import answers_at
from desorb.core.drying_of_case.kit import changes_of
from desorb.core.evidence import Evidence, evidence_of
from desorb.core.kinds import RUNS
from desorb.core.shown import Shown, Table
from desorb.core.typed import read_figure
from desorb.core.wood_in_air import SERVICE_RANGES
from desorb.errors import DesorbError, sentence

GUARD = "what drying could harm"
HEATED = "heating in service"  # setting: how the building is heated in use, a key of SERVICE_RANGES
ROOMS = ("place", "visit", "air", "coldest surface, degC", "what it says")
ADVICE = ("zone", "advice on", "says", "because")
TIMBER = ("spot", "visit", "moisture content", "state", "what it says")


@dataclass(slots=True)
class _Found:
    warnings: list[str] = field(default_factory=list)
    open: list[str] = field(default_factory=list)
    steps: list[str] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    rests_on: list[str] = field(default_factory=list)


def guard_shown(case: Case) -> tuple[Shown, ...]:
    """One for the case, once a drying unit was set in it."""
    if not case.unit_changes:
        return ()
    found = _Found()
    visits = list(case.visit_order())
    lines = air_lines(case)
    _rooms(case, lines, visits[-1] if visits else "", found)
    _timber(case, lines, found)
    cautions = _foul(case, found)
    _advice(case, found)
    count = len(found.warnings)
    status = f"{count} warning{'s' if count > 1 else ''}" if count else "open" if found.open else "no warning"
    words = " ".join(found.warnings) or "Nothing that was read speaks of harm."
    if found.open:
        words += _ended(f" Not known: {'; '.join(found.open)}")
    return (
        Shown(
            kind=GUARD, id="case", title="What drying could harm", zone="", status=status, words=words, cautions=tuple(cautions),
            tables=tuple(found.tables), notes=("It warns and permits nothing; a competent person on site decides.",),
            next_steps=tuple(dict.fromkeys(found.steps)), rests_on=tuple(dict.fromkeys(found.rests_on)),
        ),
    )  # fmt: skip


def _ended(words: str) -> str:
    return words if words.endswith((".", "?")) else f"{words}."


def _rooms(case: Case, lines: list[AirLine], visit: str, found: _Found) -> None:
    try:
        criterion = read_figure(case.setting("surface criterion", SURFACE_CRITERION_DEFAULT))
    except DesorbError as problem:
        found.open.append(f"the surface criterion: {sentence(problem)}")
        found.steps.append("correct the setting 'surface criterion'")
        return
    rows = []
    for line in lines:
        reading = line.entered.record
        if reading.kind != "unaffected" or reading.visit != visit:
            continue
        found.rests_on.append(line.entered.entry)
        surface = None
        try:
            surface = read_figure(reading.surface_temperature) if reading.surface_temperature else None
            if line.state is None:
                raise ValueError(line.refusal)
            guard = unaffected_room(line.state, surface, None, criterion)
            said, step = guard.words, guard.next_step
            if guard.warns:
                found.warnings.append(f"{reading.place}: {guard.words}.")
        except (DesorbError, ValueError) as problem:
            said, step = (
                sentence(problem),
                getattr(problem, "next_step", "") or "read its air and coldest surface again",
            )
            found.open.append(f"{reading.place}: {said}")
        found.steps.append(f"{reading.place}: {step}")
        rows.append((
            reading.place, visit, f"{reading.temperature} degC, {reading.relative_humidity} %",
            reading.surface_temperature or "not read", said,
        ))  # fmt: skip
    if rows:
        found.tables.append(Table(ROOMS, tuple(rows)))
    else:
        found.open.append(f"no unaffected room was read at visit {visit}" if visit else "no visit was begun")
        found.steps.append("read air and coldest surface of a room that was never wet, at every visit")


def _timber(case: Case, lines: list[AirLine], found: _Found) -> None:
    """The last reading by pins of each timber spot against the range in service."""
    last: dict[str, Evidence] = {}
    for each in sorted(evidence_of(case)[0], key=lambda each: (each.taken, each.entered.order)):
        if each.scale.material == "wood" and each.scale.claims == "measured" and not each.is_control:
            last[each.spot.id] = each
    if not last:
        return
    heating = case.setting(HEATED)
    if not heating:
        found.open.append("how the building is heated in use, so no timber is held against its range in service")
        found.steps.append(f"enter the setting '{HEATED}': {', '.join(SERVICE_RANGES)}")
        return
    rows = []
    for spot, each in last.items():
        air = [line.entered for line in lines if line.entered.record.visit == each.reading.visit
               and line.entered.record.kind == "affected"]  # fmt: skip
        found.rests_on.append(each.entered.entry)
        if not air:
            found.open.append(f"the air around {spot} at visit {each.reading.visit}")
            found.steps.append("read the air of the affected rooms with the timber")
            continue
        record = air[-1].record
        try:
            said = over_drying(
                float(each.value), heating, read_figure(record.temperature), read_figure(record.relative_humidity)
            )
        except (DesorbError, ValueError) as problem:
            found.open.append(f"{spot}: {sentence(problem)}")
            found.steps.append(getattr(problem, "next_step", "") or "read spot and air again")
            continue
        rows.append((spot, each.reading.visit, each.text(), said.state, said.words))
        if said.state in ("below", "near"):
            found.warnings.append(f"{spot}: {said.words}.")
            found.steps.append(f"{spot}: {said.next_step}")
    if rows:
        found.tables.append(Table(TIMBER, tuple(rows)))


def _advice(case: Case, found: _Found) -> None:
    """What may be talked of in each affected zone, or the question that stands before it."""
    rows: dict[tuple[str, str, str], list[str]] = {}
    for zone, entered in latest_by_id(case.zones).items():
        if entered.record.affected != "yes":
            continue
        answers = answers_at(zone, case)
        for kind in CAUTIONS:
            try:
                key = (zone, advice(kind, answers).words, "")
            except DesorbError as problem:
                why = problem.what.replace(f"No advice on {kind}", "no advice")
                key = (zone, "silent", f"{_ended(why)} Next: {problem.next_step}")
            rows.setdefault(key, []).append(kind)
    if rows:
        found.tables.append(
            Table(ADVICE, tuple((zone, ", ".join(kinds), said, why) for (zone, said, why), kinds in rows.items()))
        )


def _foul(case: Case, found: _Found) -> list[str]:
    """The order of work where the water was foul, and units that move air there."""
    zones = latest_by_id(case.zones)
    foul = [each for each in case.water_origins if each.record.origin == "foul"]
    if not foul:
        return []
    places = {each.record.zone for each in foul}
    found.rests_on += [each.entry for each in foul]
    running = [
        changes[-1].record for changes in changes_of(case).values()
        if changes[-1].record.change in RUNS and ("" in places or changes[-1].record.zone in places)
    ]  # fmt: skip
    for change in running:
        found.warnings.append(
            f"{change.unit} ({change.type}) runs in {change.zone}, where the water was foul: {SPREADS}."
        )
        found.steps.append(f"switch {change.unit} off until a competent person has decided otherwise, on record")
    named = ", ".join(zones[zone].record.words if zone in zones else zone or "the site" for zone in sorted(places))
    return [f"Foul water in {named}. Order of work: {'; '.join(FOUL_WATER_ORDER)}."]
