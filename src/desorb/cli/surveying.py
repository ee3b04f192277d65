"""Commands of the survey itself: take, assess, next, air, log, strike, gate, photo."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from desorb.cli import asking
from desorb.cli.asking import opened_case, say, say_json, say_table, working
from desorb.cli.case_commands import By, CaseName, Json
from desorb.errors import InputError

MARKS = {"above control": "\u25a0", "cannot say": "\u25cc", "no higher than control": "\u25cb"}
GATE_MARKS = {"not answered": "[ ]", "evidence recorded": "[e]", "stop": "[x]"}


def take_command(
    case: Annotated[str, typer.Argument(help="Name of the case, or its id.")] = "",
    file: Annotated[
        Path | None, typer.Argument(help="A CSV of readings, a CSV of air readings, or a sheet (TOML).")
    ] = None,
    by: By = "",
    confirm_corrections: Annotated[str, typer.Option(help="Why changed rows replace the rows taken before.")] = "",
    columns: Annotated[
        bool, typer.Option("--columns", help="Show the columns of the tables and the parts of a sheet.")
    ] = False,
    json: Json = False,
) -> None:
    """Take a file into a case. Bad rows are named, good rows kept; taking a file twice adds nothing."""
    from desorb.service.guide import guide
    from desorb.service.take import take_file

    if columns:
        say(guide())
        return
    if not case or file is None:
        raise InputError(
            "take needs a case and a file",
            wanted="desorb take CASE FILE",
            next_step="'desorb take --columns' shows how",
        )
    with opened_case(case) as (store, found), working(f"taking {file.name}"):
        taken = take_file(store, found, file, by=by, confirm_corrections=confirm_corrections)
    if json:
        say_json(asdict(taken) | {"problems": [asdict(problem) for problem in taken.problems], "ok": taken.ok})
    else:
        say(f"{file.name} ({taken.kind}): {taken.rows} rows, {taken.kept} kept, {taken.known} known already")
        for words in taken.described:
            say(f"  described: {words}")
        for words in taken.assumed:
            say(f"  assumed: {words}")
        for problem in taken.problems:
            say(f"  not taken: {problem}")
        for words in taken.corrections:
            say(f"  correction to be confirmed: {words}")
        if taken.corrections:
            say('  next: if these are corrections, take the file again with --confirm-corrections "why";')
            say("        if they are other readings, give the rows ids of their own")
    if not taken.ok:
        raise typer.Exit(7)


def assess_command(
    case: CaseName,
    known_on: Annotated[str, typer.Option(help="As known on this day or moment.")] = "",
    rule: Annotated[str, typer.Option(help="Run once under another rule: tolerance/1 or prediction/1.")] = "",
    differences: Annotated[
        bool, typer.Option("--differences", help="With --known-on: what differs from today.")
    ] = False,
    json: Json = False,
) -> None:
    """Assess every spot and element: status, value, limit, controls, reasons, next test, gates."""
    from desorb.service import assessing

    with opened_case(case) as (store, found), working("assessing"):
        if differences and known_on:
            differing = assessing.differences(store, found, known_on)
            if json:
                say_json(differing)
            else:
                columns = ["kind", "id", "then", "then_under_todays_rule", "today"]
                say_table(
                    f"known on {known_on} against today",
                    columns,
                    [[row[name] for name in columns] for row in differing],
                )
            return
        folded, assessed = assessing.assess_case(store, found, known_on=known_on, rule=rule)
    if json:
        say_json(assessing.as_objects(assessed))
        return
    opening = folded.opened.record if folded.opened else None
    invented = " - invented data" if opening and opening.invented else ""
    as_of = f" - as known on {known_on}" if known_on else ""
    if known_on and folded.reports:
        of_the_day = folded.reports[-1].record
        as_of += f" - report of that day: {of_the_day.number} of {of_the_day.at[:10]}"
    say(f"case {found.name}{invented}{as_of}", "", "What could hurt someone here?")
    for gate in assessed.gates:
        say(f"  {GATE_MARKS[gate.state]} {gate.gate}: {gate.state}. {gate.words}")
    say("")
    rows = []
    for each in assessed.all:
        name = each.id if each.kind == "spot" else f"{each.zone}, {each.element}"
        passed = each.status == "no higher than control"
        limit = "" if each.limit is None else f"{'no higher up to' if passed else 'above beyond'} {each.limit:.4g}"
        step = each.next_test.words if each.next_test else ""
        rows.append(
            [name, f"{MARKS[each.status]} {each.status}", each.value_text, limit, each.scale, each.reasons[0], step]
        )
    if not rows:
        say("no spot has been read yet: take a table of readings ('desorb take --columns' shows its columns)", "")
        return
    say_table("", ["spot or element", "status", "value", "limit", "scale", "reason", "next test"], rows)
    open_findings = [finding for finding in assessed.findings if not finding.answered]
    if open_findings:
        say("Findings:")
        for finding in open_findings:
            say(f"  [{finding.code}] {finding.words.rstrip('.')}. Next: {finding.next_step.rstrip('.')}.")
    from desorb.core.gates import NOT_A_CLEARANCE

    say(f"This is {NOT_A_CLEARANCE}.")


def next_command(case: CaseName, json: Json = False) -> None:
    """The list of next tests over the whole case, by the permission they need, cheapest first."""
    from desorb.core.gates import UNDER_EVERY_GATE
    from desorb.service import assessing

    with opened_case(case) as (store, found):
        assessed = assessing.assess_case(store, found)[1]
        groups = assessing.work_of(assessed)
    if json:
        say_json(
            {
                permission: [
                    {"places": list(item.places), "stopped_by": list(item.stopped_by)}
                    | assessing.test_object(item.test)
                    for item in items
                ]
                for permission, items in groups.items()
            }
        )
        return
    for gate in assessed.gates:
        if gate.state != "evidence recorded":
            say(f"{GATE_MARKS[gate.state]} {gate.gate}: {gate.state}. {gate.words}")
    if not assessed.spots:
        say("no spot has been read yet")
    elif not groups:
        say("no spot asks for a further test; what the gates ask stands above")
        say("other tests and the drying ask on their own: 'desorb methods', 'desorb drying'")
    for permission, items in groups.items():
        say(f"{permission[0].upper()}{permission[1:]}:")
        for item in items:
            say(f"  [ ] {', '.join(item.places)}: {item.test.words}")
            for outcome in item.test.outcomes:
                say(f"        {outcome}")
            for caution in item.test.cautions:
                say(f"        caution: {caution}")
            for gate in item.test.gates:
                say(f"        {GATE_MARKS[gate.state]} {gate.gate}: {gate.state}. {gate.words}")
            if item.test.gates:
                say(f"        {UNDER_EVERY_GATE}")


def air_command(
    temperature: Annotated[float | None, typer.Option(help="Air temperature, degC.")] = None,
    relative_humidity: Annotated[float | None, typer.Option(help="Relative humidity, %.")] = None,
    dew_point: Annotated[float | None, typer.Option(help="Dew point, degC.")] = None,
    wet_bulb: Annotated[float | None, typer.Option(help="Wet-bulb temperature, degC.")] = None,
    humidity_ratio: Annotated[float | None, typer.Option(help="Humidity ratio, g/kg dry air.")] = None,
    vapour_pressure: Annotated[float | None, typer.Option(help="Vapour pressure, Pa.")] = None,
    surface: Annotated[float | None, typer.Option(help="Surface temperature, degC.")] = None,
    altitude: Annotated[float | None, typer.Option(help="Altitude, m.")] = None,
    pressure: Annotated[float | None, typer.Option(help="Pressure, Pa.")] = None,
    json: Json = False,
) -> None:
    """Moist air from any two of its figures."""
    from desorb.core import air
    from desorb.service.home import home_folder, read_units

    state = air.air_state(
        air_temperature=temperature, relative_humidity=relative_humidity, dew_point=dew_point, wet_bulb=wet_bulb,
        humidity_ratio=humidity_ratio, vapour_pressure=vapour_pressure, pressure=pressure, altitude=altitude,
    )  # fmt: skip
    humid = None if surface is None else air.surface_relative_humidity(state.vapour_pressure, surface)
    if json:
        values = {name: value for name, value in asdict(state).items() if value == value}
        say_json(values | ({} if humid is None else {"surface_relative_humidity": humid}))
        return
    units = read_units(home_folder(asking.chosen_home))
    rows = [
        ["air temperature", units.show_temperature(state.air_temperature)],
        ["relative humidity", f"{state.relative_humidity:.1f} % RH"],
        ["dew point", units.show_temperature(state.dew_point)],
        ["wet bulb", units.show_temperature(state.wet_bulb)],
        ["humidity ratio", f"{units.show_humidity_ratio(state.humidity_ratio)} dry air"],
        ["absolute humidity", f"{state.absolute_humidity:.2f} g/m3"],
        ["vapour pressure", f"{state.vapour_pressure:.0f} Pa"],
        ["enthalpy", f"{state.enthalpy:.2f} kJ/kg dry air"],
        ["specific volume", f"{state.specific_volume:.4f} m3/kg dry air"],
        ["pressure", f"{state.pressure:.0f} Pa"],
    ]
    if humid is not None:
        note = "condensing now" if humid >= 100 else "above the 80 % criterion" if humid >= 80 else ""
        rows.append(["surface humidity", f"{humid:.1f} % {note}".strip()])
    say_table("", ["", ""], rows)


def log_command(case: CaseName, json: Json = False) -> None:
    """The entries of a case in order, struck ones marked, with what has not arrived."""
    from desorb.service.history import log_of

    with opened_case(case) as (store, found):
        rows, gaps = log_of(store, found)
    if json:
        say_json({"entries": rows, "gaps": gaps})
        return
    columns = ["entry", "clock", "kind", "claimed_at", "received", "state", "words"]
    say_table(f"case {found.name}", columns, [[str(row[name]) for name in columns] for row in rows])
    say(*gaps)


def strike_command(
    case: CaseName,
    entry: Annotated[str, typer.Argument(help="The entry as printed (device/number) or its hash.")],
    why: Annotated[str, typer.Option(help="Why it is struck.")],
    by: Annotated[str, typer.Option(help="Who strikes it.")],
    json: Json = False,
) -> None:
    """Strike an entry: it counts nowhere and stays visible. Strike the strike to let it stand again."""
    from desorb.service import cases

    with opened_case(case) as (store, found):
        strike = cases.strike(store, found, entry, why=why, by=by)
    say_json({"strike": strike.name, "hash": strike.hash}) if json else say(f"entry {entry} struck by {strike.name}")


def gate_command(
    case: CaseName,
    gate: Annotated[str, typer.Argument(help="Which gate: asbestos, services, consent ...")],
    zone: Annotated[list[str], typer.Option(help="Zone the evidence speaks of; may be given several times.")],
    reference: Annotated[str, typer.Option(help="Reference of the document.")] = "",
    result: Annotated[str, typer.Option(help="What it says.")] = "",
    by: Annotated[str, typer.Option(help="Who gives the evidence.")] = "",
    for_what: Annotated[str, typer.Option("--for", help="For what it is given.")] = "",
    material: Annotated[list[str] | None, typer.Option(help="Material it covers; may be given several times.")] = None,
    at: Annotated[str, typer.Option(help="When the evidence was given, ISO 8601; else now.")] = "",
    override: Annotated[bool, typer.Option("--override", help="Record the wish to go on without evidence.")] = False,
    json: Json = False,
) -> None:
    """Record what answers a gate. desorb keeps it, does not judge it, and opens nothing."""
    from desorb.service import assessing
    from desorb.service.gate_records import answer_gate

    with opened_case(case) as (store, found):
        states = answer_gate(
            store, found, gate, zones=zone, materials=material or [], reference=reference, result=result, by=by,
            for_what=for_what, wish_to_override=override, at=at,
        )  # fmt: skip
    if json:
        say_json([assessing.gate_object(state) for state in states])
        return
    for state in states:
        say(f"{GATE_MARKS[state.state]} {state.gate} in {state.zone}: {state.state}. {state.words}")
    from desorb.core.gates import UNDER_EVERY_GATE

    say(UNDER_EVERY_GATE)


def photo_command(
    case: CaseName,
    file: Annotated[Path, typer.Argument(help="A JPEG or PNG file; the original bytes are kept.")],
    words: Annotated[str, typer.Option(help="What it shows.")],
    taken_at: Annotated[str, typer.Option(help="When, ISO 8601.")],
    spot: Annotated[str, typer.Option(help="Spot it shows.")] = "",
    zone: Annotated[str, typer.Option(help="Zone it shows.")] = "",
    direction: Annotated[str, typer.Option(help="Direction looked in.")] = "",
    visit: Annotated[str, typer.Option(help="Visit.")] = "",
    by: By = "",
    json: Json = False,
) -> None:
    """Add a photo. Its bytes are safe on the disk before the entry that names them."""
    from desorb.service.photos import add_photo

    with opened_case(case) as (store, found):
        entry = add_photo(
            store,
            found,
            file,
            words=words,
            taken_at=taken_at,
            spot=spot,
            zone=zone,
            direction=direction,
            visit=visit,
            by=by,
        )
    say_json({"entry": entry.name}) if json else say(f"photo kept as entry {entry.name}")


COMMANDS = (
    take_command, assess_command, next_command, air_command, log_command, strike_command, gate_command, photo_command,
)  # fmt: skip
