"""The sheet that is left with the people in the house: what runs, what not to do, whom to call. It stands alone when printed.

Contents: household_shown.
"""

from __future__ import annotations

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.drying_of_case.circuits import cost_words, running_units, watts_of
from desorb.core.gates import STOP, gates_for
from desorb.core.kinds import Occupancy, UnitChange
from desorb.core.shown import Shown, Table

HOUSEHOLD = "sheet for the household"
ROWS = ("unit", "where it stands", "what it is for", "noise", "power, W")
DOES = {
    "refrigerant dehumidifier": "takes water out of the air into its tank or hose",
    "desiccant dehumidifier": "takes water out of the air and blows it outside through its hose",
    "air mover": "moves air along wet surfaces",
    "heater": "warms the air",
    "heat mat": "warms a surface",
    "extraction": "draws moist air out",
    "air cleaner": "filters the air",
}
CAUTIONS = (  # common practice, no source
    "Do not touch units, leads or sockets with wet hands, and not at all where there is water on the floor: call instead.",
    "Keep children and animals away from units, hoses and leads. Cover nothing, and put nothing on top.",
    "Smell of burning, a hot plug, a tripped switch: leave the room, do not switch it on again, and call.",
    "With a stove, boiler or fire that takes its air from the room: if you feel dizzy or an alarm for carbon monoxide sounds, go"
    " outside at once and call the emergency service.",
)
PLEASE = (
    "Please leave the units on and where they are: a unit that was off or moved spoils the comparison of the readings.",
    "Please keep doors and windows as they were left, unless it says otherwise below.",
    "If a tank is full the unit stops by itself; nothing is lost. Call, or empty it if that was shown to you.",
)

STAY_OUT = (
    "Please stay out of this room and keep its doors shut. Do not switch, move or empty the units: call whoever set them up.",
)  # instead, while a gate says stop to moving air


def household_shown(case: Case) -> tuple[Shown, ...]:
    """One for each zone with running units."""
    said = {each.record.zone: each for each in case.occupancies}
    running: dict[str, list[Entered[UnitChange]]] = {}
    for each in running_units(case):
        running.setdefault(each.record.zone, []).append(each)
    return tuple(_sheet(case, zone, said.get(zone) or said.get(""), units) for zone, units in running.items())


def _sheet(case: Case, zone: str, entered: Entered[Occupancy] | None, running: list[Entered[UnitChange]]) -> Shown:
    units, zones = latest_by_id(case.units), latest_by_id(case.zones)
    place = zones[zone].record.words if zone in zones else zone or "the house"
    rows = []
    for change in running:
        unit = units[change.record.unit].record if change.record.unit in units else None
        kind = unit.type if unit else change.record.type
        rows.append((
            f"{change.record.unit}, {kind}", change.record.position or "not stated", DOES.get(kind, "ask whoever set it"),
            (unit.noise if unit else "") or "not stated", (unit.watts if unit else "") or "not stated",
        ))  # fmt: skip
    told, steps = [], []
    stops = [gate for gate in gates_for("move air", zone, "", case) if gate.state == STOP]
    if entered is None or not entered.record.call.strip():
        told.append("Whom to call is not written down yet.")
        steps.append("enter whom the household can call, day and night ([[occupancy]])")
    else:
        record = entered.record
        told.append(f"Call: {record.call}.")
        if not stops:  # what was agreed of units that run does not hold where none should
            told += [f"At night: {record.night}."] if record.night else []
            told += [record.words] if record.words else []
        if record.children == "yes":
            told.append("Children live here: see the second caution.")
        if not record.given_to:
            steps.append("hand the sheet over, and enter who was given it")
        else:
            told.append(f"Given to {record.given_to}.")
    told.append(_energy(running, case))
    steps = [f"before anybody is given this sheet: {gate.words}; wanted: {gate.asks}" for gate in stops] + steps
    steps += [f"enter where {each.record.unit} stands" for each in running if not each.record.position]
    return Shown(
        kind=HOUSEHOLD, id=zone or "site", title=f"For the people in {place}",
        zone=zone, status="a gate says stop" if stops else "not handed over" if steps else "handed over", words=" ".join(told),
        cautions=CAUTIONS, plan=STAY_OUT if stops else PLEASE,
        tables=(Table(ROWS, tuple(rows)),) if rows else (),
        notes=("Nothing here says that a place, a circuit or a unit is safe.",), next_steps=tuple(dict.fromkeys(steps)),
        rests_on=(*([entered.entry] if entered else []), *(each.entry for each in running),
                  *dict.fromkeys(entry for gate in stops for entry in gate.entries)),
    )  # fmt: skip


def _energy(running: list[Entered[UnitChange]], case: Case) -> str:
    """The most that the units here use in a day, all on, with its cost."""
    units = latest_by_id(case.units)
    watts = [watts_of(units[each.record.unit].record.watts) for each in running if each.record.unit in units]
    stated = [each for each in watts if each is not None]
    if not stated:
        return "What the units use is not stated."
    left_out = len(running) - len(stated)
    more = f"; {left_out} more whose watts are not stated" if left_out else ""
    energy = sum(stated) * 24 / 1000
    return f"All on, the units here use up to {energy:.1f} kWh a day{more}. {cost_words(case, energy)}"
