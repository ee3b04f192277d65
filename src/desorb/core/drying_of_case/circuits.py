"""What the running units draw on each circuit, and what they cost a day.

Contents: circuits_shown; running_units; watts_of; cost_words. What exceeds a rating is said. That a circuit is fit is never
said: an electrician decides.
"""

from __future__ import annotations

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.drying import power
from desorb.core.drying_of_case.kit import changes_of, moment
from desorb.core.kinds import RUNS, Circuit, UnitChange, UnitReading
from desorb.core.shown import Shown, Table
from desorb.core.typed import read_figure, read_value
from desorb.errors import DesorbError, NotUnderstood, sentence

CIRCUIT = "circuit"
STATES = {True: "exceeds its rating", False: "compared with its rating", None: "no rating stated"}
ROWS = ("unit", "watts", "runs for", "kWh a day by its meter")


def running_units(case: Case) -> list[Entered[UnitChange]]:
    """The last change of every unit that runs now, in order of name."""
    changes = changes_of(case)
    return [changes[unit][-1] for unit in sorted(changes) if changes[unit][-1].record.change in RUNS]


def circuits_shown(case: Case) -> tuple[Shown, ...]:
    """One for each circuit that was described or that a running unit names; units on none are named by the last."""
    running = running_units(case)
    described = latest_by_id(case.circuits)
    names = dict.fromkeys([*described, *(each.record.circuit for each in running if each.record.circuit)])
    shown = [
        _circuit(case, name, described.get(name), [e for e in running if e.record.circuit == name]) for name in names
    ]
    loose = [each for each in running if not each.record.circuit]
    if loose:
        shown.append(
            Shown(
                kind=CIRCUIT, id="not named", title="Units on no circuit that was named", zone="", status="not known",
                words=f"{', '.join(each.record.unit for each in loose)} run, and nobody wrote down on which circuit.",
                next_steps=("enter each unit's circuit with its next change ([[unit_change]], circuit)",),
                rests_on=tuple(each.entry for each in loose),
            )
        )  # fmt: skip
    return tuple(shown)


def _circuit(case: Case, name: str, entered: Entered[Circuit] | None, running: list[Entered[UnitChange]]) -> Shown:
    units = latest_by_id(case.units)
    known, without, rows = [], [], []
    for change in running:
        unit = change.record.unit
        watts = units[unit].record.watts if unit in units else ""
        rows.append((unit, watts or "not stated", "all day, as nothing else is stated", _measured(case, unit)))
        drawn_by = watts_of(watts)
        if drawn_by is None:
            without.append(unit)
        else:
            known.append(power.Unit(unit, drawn_by, 1, 1.0))
    rests = [*([entered.entry] if entered else []), *(each.entry for each in running)]
    rests += [units[each.record.unit].entry for each in running if each.record.unit in units]
    words, steps, status = "", [], "nothing runs on it"
    if entered is None:
        words, status = "The circuit is not described.", "not described"
        steps.append(f"describe {name} with its voltage and the rating on its device ([[circuit]])")
    elif known:
        record = entered.record
        try:
            rating = read_figure(record.rating) if record.rating else None
            drawn = power.demand(
                power.Circuit(record.place, read_figure(record.voltage), rating, record.rating_source), known
            )
            words = f"{drawn.words}. {cost_words(case, drawn.kwh_per_day)}"
            status = STATES[drawn.exceeds]
            steps.append(drawn.next_step)
        except DesorbError as problem:
            words, status = f"{sentence(problem)}.", "cannot say"
            steps.append(problem.next_step)
    if without:
        words = f"{words} Not counted, because their watts are not stated: {', '.join(without)}.".strip()
        steps.append(f"read the watts of {', '.join(without)} off the plate")
    return Shown(
        kind=CIRCUIT, id=name, title=f"Circuit {name}" + (f": {entered.record.place}" if entered else ""), zone="", status=status,
        words=words or "No running unit is entered on it.", cautions=(f"{power.WATER_FIRST}; {power.ELECTRICIAN}.",),
        tables=(Table(ROWS, tuple(rows)),) if rows else (), next_steps=tuple(dict.fromkeys(step for step in steps if step)),
        rests_on=tuple(dict.fromkeys(rests)),
    )  # fmt: skip


def watts_of(text: str) -> float | None:
    """Watts as they stand on the plate, None where nothing or no figure above 0 was entered."""
    try:
        watts = read_figure(text)
    except NotUnderstood:
        return None
    return watts if watts > 0 else None


def cost_words(case: Case, kwh: float) -> str:
    """What so many kilowatt hours a day cost at the tariff of the case, in a sentence."""
    if not case.tariffs:
        return "No tariff is in the record, so no cost is said."
    tariff = case.tariffs[-1].record
    try:
        return f"{power.cost(kwh, power.Tariff(tariff.price, tariff.currency, tariff.source)).words}."
    except DesorbError as problem:
        return f"What it costs is not known: {problem}"


def _measured(case: Case, unit: str) -> str:
    """From the energy meter at the last two visits that read it; never from the plate."""
    order = case.visit_order()
    read: list[UnitReading] = sorted(
        (each.record for each in case.unit_readings if each.record.unit == unit and each.record.energy),
        key=lambda record: order.get(record.visit, -1),
    )
    if len(read) < 2:
        return "not read twice"
    start, end = moment(read[-2].taken_at), moment(read[-1].taken_at)
    try:
        used = read_value(read[-1].energy).number - read_value(read[-2].energy).number
    except NotUnderstood:
        return "not a figure"
    if start is None or end is None or end <= start or used < 0:
        return "the meter fell or its times are wrong: read it again"
    return f"{float(used) / ((end - start).total_seconds() / 86400):.1f}"
