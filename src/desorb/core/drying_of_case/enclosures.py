"""The air of each enclosure at its last visit: what the air change moves, the load as terms, outside air or closed today.

Contents: enclosures_shown. An air change that nobody measured is a guess, and every figure that rests on it says so.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from desorb.core.air import AirState
from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.condensation import AirLine, air_lines
from desorb.core.drying.enclosure import (
    AIR_CHANGE,
    Infiltration,
    Term,
    infiltration,
    load,
    term_of_air_change,
    ventilate_or_close,
)
from desorb.core.drying.evaporation import FORMS, SPREAD, WET_ONLY, free_water
from desorb.core.drying.sizing import room_rule
from desorb.core.drying_of_case.answers import answers_at
from desorb.core.drying_of_case.circuits import cost_words
from desorb.core.drying_of_case.kit import changes_of, moment, takes_water
from desorb.core.gates import STOP, gates_for
from desorb.core.kinds import Enclosure, LoadTerm, UnitChange
from desorb.core.shown import Shown, Table
from desorb.core.typed import read_figure, read_value
from desorb.errors import DesorbError, NotUnderstood, sentence

ENCLOSURE = "enclosure"
MARGIN = "outside air margin"  # setting, g/kg
MARGIN_DEFAULT = "0.5"  # g/kg by which outside air must be drier; setting of ours, about what two probes differ by
TERMS = ("term", "L/day", "lowest", "highest", "source", "entry")
OPEN_WATER = "open water"
BY_FORM = ("published form of evaporation", "kg/m2h", "L/day")


def enclosures_shown(case: Case) -> tuple[Shown, ...]:
    """One for each enclosure; an ended one asks for nothing more."""
    lines = air_lines(case)
    return tuple(_enclosure(case, each, lines) for each in latest_by_id(case.enclosures).values())


def _enclosure(case: Case, entered: Entered[Enclosure], lines: list[AirLine]) -> Shown:
    enclosure = entered.record
    words: list[str] = []
    steps: list[str] = []
    notes: list[str] = []
    tables: list[Table] = []
    rests = [entered.entry]
    status = "ended" if enclosure.ended_at else ""
    pair = _airs(case, enclosure, lines)
    moved: Infiltration | None = None
    if pair is None:
        steps.append("read air inside and outside at the same visit, and the coldest surface inside")
        words.append("Its balance is open: no visit read its air inside and outside.")
        status = status or "air not read"
    else:
        inside, outside = pair
        rests += [inside.entered.entry, outside.entered.entry]
        moved, verdict = _moved(case, enclosure, inside, outside, words, notes, steps)
        status = status or verdict
    tables += _load(case, enclosure, moved, words, steps, rests)
    tables += _of_forms(case, enclosure, pair[0] if pair else None, words, notes, steps)
    words += _collected(case, enclosure)
    try:
        notes.append(f"By a published rule: {room_rule(read_figure(enclosure.volume)).words}.")
    except DesorbError as problem:
        steps.append(problem.next_step or "correct the volume")
    if enclosure.ended_at:
        words.append(f"Ended {enclosure.ended_at}: what stands here is of the time before.")
        steps.clear()
    stops = [gate for zone in enclosure.zones for gate in gates_for("move air", zone, "", case) if gate.state == STOP]
    return Shown(
        kind=ENCLOSURE, id=enclosure.id, title=f"Enclosure {enclosure.id}: {', '.join(enclosure.zones)}, {enclosure.volume} m3",
        zone=enclosure.zones[0] if len(enclosure.zones) == 1 else "", status=status, words=" ".join(words),
        cautions=tuple(dict.fromkeys(f"A gate says stop: {gate.words}." for gate in stops)), tables=tuple(tables),
        notes=tuple(notes), next_steps=tuple(dict.fromkeys(steps)),
        rests_on=tuple(dict.fromkeys([*rests, *(entry for gate in stops for entry in gate.entries)])),
    )  # fmt: skip


def _airs(case: Case, enclosure: Enclosure, lines: list[AirLine]) -> tuple[AirLine, AirLine] | None:
    """Inside and outside air of the last visit that read both. Inside: at the place named, else at a zone of it."""
    order = case.visit_order()
    names = {enclosure.inside} if enclosure.inside else {*enclosure.zones}
    found: dict[str, dict[str, AirLine]] = {}
    for line in lines:
        reading = line.entered.record
        if line.state is None:
            continue
        if reading.kind == "outside" and reading.place == (enclosure.outside or reading.place):
            found.setdefault(reading.visit, {})["outside"] = line
        elif reading.kind == "affected" and reading.place in names:
            found.setdefault(reading.visit, {})["inside"] = line
    both = [visit for visit in sorted(found, key=lambda visit: order.get(visit, -1)) if len(found[visit]) == 2]
    return (found[both[-1]]["inside"], found[both[-1]]["outside"]) if both else None


def _moved(
    case: Case, enclosure: Enclosure, inside: AirLine, outside: AirLine, words: list[str], notes: list[str], steps: list[str]
) -> tuple[Infiltration | None, str]:  # fmt: skip
    within, without = inside.state, outside.state
    if within is None or without is None:
        return None, ""
    visit = inside.entered.record.visit
    if not enclosure.air_changes:
        steps.append("state the air change with how it was measured, or whose guess it is")
        words.append(_compared(within, without, visit))
        return None, "air change not stated"
    try:
        changes, volume = read_figure(enclosure.air_changes), read_figure(enclosure.volume)
        moved = infiltration(changes, volume, within, without)
        surface = inside.entered.record.surface_temperature
        coldest = read_figure(surface) if surface else None
        margin = read_figure(case.setting(MARGIN, MARGIN_DEFAULT))
        found = [
            ventilate_or_close(within, without, margin, coldest, changes, volume, answers_at(zone, case))
            for zone in enclosure.zones
        ]  # fmt: skip
    except DesorbError as problem:
        steps.append(problem.next_step or "read both airs again")
        words.append(f"Visit {visit}: {sentence(problem)}.")
        return None, "cannot say"
    advice = next((each for each in found if each.verdict != "ventilate"), found[0])
    source = enclosure.air_changes_source or "nobody said how it was found"
    words.append(f"Ventilate or close, by the air of visit {visit}: {advice.words}.")
    words.append(f"The air change: {moved.words} ({source}).")
    steps.append(advice.next_step)
    if advice.heat > 0:
        energy = advice.heat * 24 / 1000
        notes.append(f"To warm that air day and night: {energy:.1f} kWh a day. {cost_words(case, energy)}")
    notes.append("Outside air is compared for the moment of the reading: compare it again each day.")
    return moved, advice.verdict


def _compared(within: AirState, without: AirState, visit: str) -> str:
    difference = float(within.humidity_ratio) - float(without.humidity_ratio)
    return f"Visit {visit}: outside air is {'drier' if difference >= 0 else 'wetter'} by {abs(difference):.2f} g/kg."


def _load(
    case: Case, enclosure: Enclosure, moved: Infiltration | None, words: list[str], steps: list[str], rests: list[str]
) -> list[Table]:  # fmt: skip
    last = _terms_of(case, enclosure)
    rests += [each.entry for each in last.values()]
    rows = [
        (
            each.record.term,
            each.record.litres_per_day,
            each.record.low,
            each.record.high,
            each.record.source,
            each.entry,
        )
        for each in last.values()
    ]
    computed = term_of_air_change(moved) if moved is not None and AIR_CHANGE not in last else None
    if computed is not None:
        rows.append((
            AIR_CHANGE, f"{computed.kg_per_day:.1f}", f"{computed.low:.1f}", f"{computed.high:.1f}", computed.source, "computed",
        ))  # fmt: skip
    try:
        terms = [
            Term(
                each.term, read_figure(each.litres_per_day), read_figure(each.low), read_figure(each.high), each.source
            )
            for each in (entered.record for entered in last.values())
        ]
        words.append(f"Load: {load([*terms, *([computed] if computed is not None else [])]).words}.")
    except DesorbError as problem:
        words.append(f"Load: {sentence(problem)}.")
        steps.append(problem.next_step)
    return [Table(TERMS, tuple(rows))] if rows else []


def _terms_of(case: Case, enclosure: Enclosure) -> dict[str, Entered[LoadTerm]]:
    """The terms of its load, each as it was stated last."""
    return {each.record.term: each for each in case.load_terms if each.record.enclosure == enclosure.id}


def _of_forms(
    case: Case, enclosure: Enclosure, inside: AirLine | None, words: list[str], notes: list[str], steps: list[str]
) -> list[Table]:
    """What leaves the open water by each published form, beside what was stated of it."""
    entered = _terms_of(case, enclosure).get(OPEN_WATER)
    if entered is None:
        return []
    term = entered.record
    words.append(f"Of open water: {SPREAD}.")
    warmth = term.surface_temperature or (inside.entered.record.surface_temperature if inside else "")
    missing = [
        name
        for name, text in (
            ("area", term.area),
            ("air speed", term.air_speed),
            ("temperature of the wet surface", warmth),
        )
        if not text
    ]
    if missing or inside is None or inside.state is None:
        steps.append(f"state for the open water: {', '.join(missing)}" if missing else "read the air inside")
        return []
    try:
        area, water, speed = read_figure(term.area), read_figure(warmth), read_figure(term.air_speed)
        forms = [free_water(water, inside.state, speed, form) for form in FORMS]
        low, high = (end * 24 * area for end in (forms[0].low, forms[0].high))
        if not low <= read_figure(term.litres_per_day) <= high:
            notes.append(f"The {term.litres_per_day} L/day stated for it lies outside what the forms span.")
    except DesorbError as problem:
        steps.append(problem.next_step or "correct the figures of the open water")
        return []
    at = f"{term.area} m2 at {warmth} degC, air at {term.air_speed} m/s, visit {inside.entered.record.visit}"
    notes.append(f"Open water, {at}: {low:.1f} to {high:.1f} L/day by the published forms, {WET_ONLY}.")
    return [Table(BY_FORM, tuple((each.form, f"{each.rate:.3f}", f"{each.rate * 24 * area:.1f}") for each in forms))]


def _collected(case: Case, enclosure: Enclosure) -> list[str]:
    """Litres a day of the units that stood in it, since the visit before: the result beside the load."""
    order = case.visit_order()
    said = []
    for unit, changes in changes_of(case).items():
        read = sorted(
            (each.record for each in case.unit_readings if each.record.unit == unit),
            key=lambda record: order.get(record.visit, -1),
        )
        if len(read) < 2 or not (takes_water(unit, case) or read[-1].collected):
            continue
        start, end = moment(read[-2].taken_at), moment(read[-1].taken_at)
        if start is None or end is None or end <= start:
            continue
        here = [_stands_in(enclosure, change) for change in _places_between(changes, start, end)]
        if not any(here):
            continue
        if not all(here):
            said.append(
                f"{unit} was moved between visits {read[-2].visit} and {read[-1].visit}: its litres are of two places"
            )
            continue
        try:
            litres = read_value(read[-1].collected).number
        except NotUnderstood:
            said.append(f"{unit} wrote no litres down at visit {read[-1].visit}")
            continue
        days = Decimal(str((end - start).total_seconds() / 86400))
        said.append(f"{unit} {litres / days:.1f} L/day up to visit {read[-1].visit}")
    return (
        [f"Collected: {'; '.join(said)}. Where load and litres part, the load was a guess: correct it."] if said else []
    )


def _places_between(changes: list[Entered[UnitChange]], start: datetime, end: datetime) -> list[UnitChange]:
    """The change that held at the start, and those up to the end: all the places where its tank filled."""
    timed = [(at, each.record) for each in changes if (at := moment(each.record.at)) is not None]
    return [record for at, record in timed if at <= start][-1:] + [record for at, record in timed if start < at < end]


def _stands_in(enclosure: Enclosure, change: UnitChange) -> bool:
    return change.enclosure == enclosure.id or change.zone in enclosure.zones
