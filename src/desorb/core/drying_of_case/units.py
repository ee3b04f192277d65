"""The drying units of a case: what each is, where it went, what it collected, and whether its air says the same as its tank.

Contents: units_shown; sensors_of (what the probes leave open, as the case states it). A rating stands with its condition always.
"""

from __future__ import annotations

from decimal import Decimal

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.drying.unit_capacity import DOMESTIC, Rating, generic_derating, litres_a_day_here
from desorb.core.drying.unit_check import Reading, Sensors, against_tank, air_side_removal, hints, recirculation
from desorb.core.drying_of_case.kit import changes_of, moment, takes_water
from desorb.core.gates import STOP, gates_for
from desorb.core.kinds import GONE, RUNS, AirReading, Unit, UnitChange, UnitReading
from desorb.core.shown import Shown, Table
from desorb.core.typed import read_figure, read_value
from desorb.errors import DesorbError, NotUnderstood, sentence

UNIT = "drying unit"
SETTINGS = ("probe temperature uncertainty", "probe humidity uncertainty", "flow uncertainty")  # K, %RH, %
WET = "Water and electricity: keep leads, sockets and units out of the wet; a competent person decides what is plugged in where."
MOVES = ("when", "change", "where", "position", "blows at or draws from", "enclosure", "circuit", "by", "entry")
COUNTERS = ("visit", "hours", "hours more", "litres since the visit before", "kWh", "kWh more", "entry")
CHECKS = ("visit", "inlet", "outlet", "by its air", "against its tank", "recirculation", "look for")


def units_shown(case: Case) -> tuple[Shown, ...]:
    """One for each unit that the register, a change or a counter names, and one that reconciles what came with what went."""
    described = latest_by_id(case.units)
    changed = changes_of(case)
    names = dict.fromkeys([*described, *changed, *(each.record.unit for each in case.unit_readings)])
    shown = tuple(_unit(case, name, described.get(name)) for name in names)
    return (*shown, *_reconciled(case)) if shown else ()


def sensors_of(case: Case) -> tuple[Sensors | None, str]:
    """The errors of the probes as settings of the case, or None and what is missing."""
    texts = [case.setting(name) for name in SETTINGS]
    missing = [name for name, text in zip(SETTINGS, texts, strict=True) if not text]
    if missing:
        return (
            None,
            f"enter the settings {', '.join(missing)} with their source: without them no figure of two probes means anything",
        )
    try:
        return Sensors(*(read_figure(text) for text in texts)), ""
    except DesorbError as problem:
        return None, f"correct the settings of the probes: {sentence(problem)}"


def _unit(case: Case, name: str, entered: Entered[Unit] | None) -> Shown:
    changes = changes_of(case).get(name, [])
    last = changes[-1].record if changes else None
    read = _in_order(case, name)
    words: list[str] = []
    steps: list[str] = []
    notes: list[str] = []
    tables: list[Table] = []
    if entered is None:
        words.append("It is not in the register.")
        steps.append(f"describe {name} with its serial, its rating at its condition and its watts ([[unit]])")
    else:
        words.append(_described(entered.record))
        if entered.record.litres_per_day and not entered.record.rated_temperature:
            steps.append("read the condition of the rating off its plate: litres a day without it say nothing")
    state = "not set in this record" if last is None else f"{last.change} {last.at[:10]}"
    if changes:
        tables.append(Table(MOVES, tuple(
            (e.record.at, e.record.change, e.record.zone, e.record.position, e.record.direction, e.record.enclosure,
             e.record.circuit, e.record.by, e.entry) for e in changes)))  # fmt: skip
    else:
        steps.append(f"enter when {name} was set, where, and what it blows at ([[unit_change]])")
    tables += [Table(COUNTERS, _counters(read))] if read else []
    if not read and last is not None and last.change not in GONE:
        steps.append(f"read hours, litres and kWh of {name} at every visit")
    of_checks: list[str] = []
    checks = _checks(case, name, entered, read, notes, of_checks) if takes_water(name, case) else ()
    steps += of_checks if last is None or last.change not in GONE else []  # of a unit that is gone nothing more is read
    tables += [Table(CHECKS, checks)] if checks else []
    if last is not None and last.change in RUNS:
        stops = [gate for gate in gates_for("move air", last.zone, "", case) if gate.state == STOP]
        words += [f"It runs in {last.zone} while a gate says stop: {gate.words}." for gate in stops]
        steps = [f"switch {name} off; before it runs again: {gate.asks}" for gate in stops] + steps
        state = f"{state}, runs at a stop" if stops else state
    return Shown(
        kind=UNIT, id=name, title=f"{name}: {(entered.record.type if entered else last.type if last else 'unit')}",
        zone=last.zone if last else "", status=state, words=" ".join(words), cautions=(WET,), tables=tuple(tables),
        notes=tuple(notes), next_steps=tuple(dict.fromkeys(steps)),
        rests_on=tuple(dict.fromkeys(
            [*([entered.entry] if entered else []), *(each.entry for each in changes), *(each.entry for each in read)]
        )),
    )  # fmt: skip


def _described(unit: Unit) -> str:
    parts = [f"{unit.type}", f"serial {unit.serial or 'not stated'}", f"owner {unit.owner}" if unit.owner else ""]
    if unit.litres_per_day:
        at = (
            f"{unit.rated_temperature} degC/{unit.rated_humidity} %"
            if unit.rated_temperature
            else "a condition not stated"
        )
        parts.append(
            f"rated {unit.litres_per_day} L/day at {at} ({unit.rating_source or 'source not stated'}), not litres a day here"
        )
    parts += [f"{unit.flow} m3/h at its {unit.flow_at or 'side not stated'}" if unit.flow else "",
              f"{unit.watts} W" if unit.watts else "", unit.noise]  # fmt: skip
    return f"{'; '.join(part for part in parts if part)}."


def _in_order(case: Case, name: str) -> list[Entered[UnitReading]]:
    order = case.visit_order()
    found = [each for each in case.unit_readings if each.record.unit == name]
    return sorted(found, key=lambda each: (order.get(each.record.visit, -1), each.order))


def _counters(read: list[Entered[UnitReading]]) -> tuple[tuple[str, ...], ...]:
    rows, before = [], None
    for each in read:
        now = each.record
        hours, energy = (_more(before, now, part) for part in ("hours", "energy"))
        rows.append((now.visit, now.hours, hours, now.collected, now.energy, energy, each.entry))
        before = now
    return tuple(rows)


def _more(before: UnitReading | None, now: UnitReading, part: str) -> str:
    if not getattr(now, part):
        return "not read"
    if before is None:
        return ""
    if not getattr(before, part):
        return "not read at the visit before"
    ran = _difference(getattr(before, part), getattr(now, part))
    return "" if ran is None else str(ran) if ran >= 0 else f"{ran}: it fell, read it again or say why"


def _difference(before: str, after: str) -> Decimal | None:
    try:
        return read_value(after).number - read_value(before).number
    except NotUnderstood:
        return None


def _checks(
    case: Case,
    name: str,
    entered: Entered[Unit] | None,
    read: list[Entered[UnitReading]],
    notes: list[str],
    steps: list[str],
) -> tuple[tuple[str, ...], ...]:
    """A row for each visit with air at inlet and outlet. Lengthens notes and steps."""
    sides: dict[str, dict[str, AirReading]] = {}
    for each in case.air_readings:
        if each.record.place == name and each.record.kind in ("inlet", "outlet"):
            sides.setdefault(each.record.visit, {})[each.record.kind] = each.record
    complete = {visit: both for visit, both in sides.items() if len(both) == 2}
    if not complete:
        steps.append(
            f"read air at the inlet and outlet of {name} with one probe, place '{name}', kinds inlet and outlet"
        )
        return ()
    unit = entered.record if entered else None
    sensors, missing = sensors_of(case)
    if sensors is None:
        steps.append(missing)
    if unit is None or not unit.flow or not unit.flow_at:
        steps.append(f"state the flow of {name} in m3/h and at which side it was taken")
    rows = []
    for visit, both in complete.items():
        try:
            inlet, outlet = (_reading(both[side]) for side in ("inlet", "outlet"))
            removed, tank = _by_air(unit, inlet, outlet, sensors, visit, read, case, steps)
            then = _until(case, name, both["inlet"].taken_at)
            back = _back(case, visit, then, inlet, outlet, sensors, steps)
            look = hints("refrigerant" in (unit.type if unit else ""), inlet, outlet, _humidistat(then))
        except DesorbError as problem:
            notes.append(f"Visit {visit}: {sentence(problem)}.")
            steps.append(problem.next_step or "read both sides again")
            continue
        rows.append((visit, *(f"{side.air_temperature:g} degC, {side.relative_humidity:g} %" for side in (inlet, outlet)),
                     removed, tank, back, "; ".join(look)))  # fmt: skip
    last = list(complete.values())[-1]
    notes += _here(unit, last["inlet"])
    return tuple(rows)


def _reading(air: AirReading) -> Reading:
    return Reading(read_figure(air.temperature), read_figure(air.relative_humidity))


def _by_air(
    unit: Unit | None, inlet: Reading, outlet: Reading, sensors: Sensors | None, visit: str, read: list[Entered[UnitReading]],
    case: Case, steps: list[str],
) -> tuple[str, str]:  # fmt: skip
    if sensors is None or unit is None or not unit.flow or not unit.flow_at:
        return "not computed: see next", ""
    removal = air_side_removal(inlet, outlet, read_figure(unit.flow), unit.flow_at, sensors)
    ran = _since_before(case, visit, read)
    if ran is None:
        return removal.words, "needs hours and litres at this visit and the hours of the one before"
    hours, litres, period = ran
    checked = against_tank(removal, hours, litres, period)
    steps.append(checked.next_step)
    return removal.words, f"{checked.finding}: {checked.words}"


def _since_before(case: Case, visit: str, read: list[Entered[UnitReading]]) -> tuple[float, float, float] | None:
    """Hours run, litres collected and hours passed since the counters were read before."""
    places = [place for place, each in enumerate(read) if each.record.visit == visit]
    if not places or places[-1] == 0:
        return None
    now, before = read[places[-1]].record, read[places[-1] - 1].record
    ran = _difference(before.hours, now.hours)
    start, end = moment(before.taken_at), moment(now.taken_at)
    try:
        litres = float(read_value(now.collected).number)
    except NotUnderstood:
        return None
    if ran is None or ran < 0 or start is None or end is None or end <= start:
        return None
    period = (end - start).total_seconds() / 3600
    period = round(period, 1)  # h; the doubt of any hour meter is more
    return (min(float(ran), period), litres, period) if period >= 1 else None


def _back(
    case: Case,
    visit: str,
    then: list[UnitChange],
    inlet: Reading,
    outlet: Reading,
    sensors: Sensors | None,
    steps: list[str],
) -> str:
    zone = then[-1].zone if then else ""
    rooms = [each.record for each in case.air_readings if each.record.visit == visit and each.record.kind == "affected"]
    rooms = [each for each in rooms if each.place == zone] or rooms
    if not rooms or sensors is None:
        return "" if rooms else "the air of the room was not read"
    found = recirculation(_reading(rooms[-1]), inlet, outlet, sensors)
    steps.append(found.next_step)
    return f"{found.words} (room air: {rooms[-1].place})"


def _until(case: Case, name: str, taken_at: str) -> list[UnitChange]:
    """The changes of a unit up to the moment its air was read: a later move says nothing of that reading."""
    when = moment(taken_at)
    return [
        each.record for each in changes_of(case).get(name, [])
        if when is not None and (at := moment(each.record.at)) is not None and at <= when
    ]  # fmt: skip


def _humidistat(then: list[UnitChange]) -> float | None:
    said = [each.humidistat for each in then if each.humidistat]
    return read_figure(said[-1]) if said else None


def _here(unit: Unit | None, inlet: AirReading) -> list[str]:
    """What the published curves say the rating is worth in this air, or why they say nothing."""
    if unit is None or not (unit.litres_per_day and unit.rated_temperature and unit.rated_humidity):
        return []
    if unit.domestic != "yes" or "refrigerant" not in unit.type:
        return [
            "Its rating is not turned into litres a day here: the published curves are for domestic refrigerant units."
        ]
    try:
        here = _reading(inlet)
        rating = Rating(
            read_figure(unit.litres_per_day), Reading(read_figure(unit.rated_temperature), read_figure(unit.rated_humidity)),
        DOMESTIC,
            unit.rating_source or "source not stated",
        )  # fmt: skip
        return [f"By generic curves: {litres_a_day_here(rating, here, generic_derating(rating, here)).words}."]
    except DesorbError as problem:
        return [f"The generic curves say nothing here: {problem}"]


def _reconciled(case: Case) -> tuple[Shown, ...]:
    """What was delivered or set against what was taken away or collected."""
    changes = changes_of(case)
    if not changes:
        return ()
    here = [unit for unit, found in changes.items() if found[-1].record.change not in GONE]
    unseen = [
        unit for unit, found in changes.items()
        if found[0].record.change in GONE
    ]  # fmt: skip
    came, went = len(changes) - len(unseen), len(changes) - len(here)
    words = f"{came} units came, {went} went, {len(here)} are here: {', '.join(here) or 'none'}."
    if unseen:
        words += f" Collected without having come: {', '.join(unseen)}."
    return (
        Shown(
            kind=UNIT, id="all", title="Units delivered and collected", zone="", status=f"{len(here)} here", words=words,
            next_steps=(f"look for the entries of {', '.join(unseen)}",) if unseen else (
                ("enter each unit as collected when it goes",) if here else ("nothing is left to collect",)
            ),
            rests_on=tuple(each.entry for found in changes.values() for each in found),
        ),
    )  # fmt: skip
