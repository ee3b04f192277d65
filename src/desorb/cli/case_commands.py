"""Commands on cases and instruments: new, cases, instrument, instruments, check, settings."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from desorb.cli.asking import opened, say, say_json, say_table

Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]
CaseName = Annotated[str, typer.Argument(help="Name of the case, or its id.")]
By = Annotated[str, typer.Option(help="Who does this.")]


def new_command(
    case: Annotated[str, typer.Argument(help="A name of your own for the case, such as 2026-014.")],
    site: Annotated[str, typer.Option(help="Where it is.")],
    time_zone: Annotated[str, typer.Option(help="Time zone of the site, such as Europe/London.")],
    client: Annotated[str, typer.Option(help="For whom.")] = "",
    scope: Annotated[str, typer.Option(help="What was agreed.")] = "",
    by: By = "",
    sheet: Annotated[
        Path | None, typer.Option(help="A sheet (TOML) that describes building, gates and visits.")
    ] = None,
    json: Json = False,
) -> None:
    """Open a case. The defaults it starts with are written into it."""
    from desorb.service.cases import open_case
    from desorb.service.sheet import read_sheet_file
    from desorb.service.take import take_file

    if sheet is not None:
        read_sheet_file(sheet)  # before anything is written
    with opened() as store:
        found = open_case(store, case, site=site, time_zone=time_zone, opened_by=by, client=client, scope=scope)
        taken = take_file(store, found, sheet, by=by) if sheet else None
    if json:
        say_json({"case": found.name, "id": found.id, "time_zone": found.time_zone})
    else:
        say(f"case {found.name} opened (id {found.id})")
        say("next: describe zones in a sheet and take it (desorb take --columns shows how), then take readings")
    if taken and not taken.ok:
        for problem in taken.problems:
            say(f"not taken: {problem}")
        raise typer.Exit(7)


def cases_command(json: Json = False) -> None:
    """List the cases of this store."""
    from desorb.service.cases import case_names

    with opened() as store:
        rows = [(name, case, store.opening_of(case)) for name, case in case_names(store).items()]
    if json:
        say_json([{"case": name, "id": case, "site": opening.get("site", "")} for name, case, opening in rows])
    elif not rows:
        say("no case yet; 'desorb new' opens one, 'desorb demo' shows an invented one")
    else:
        say_table("", ["case", "site", "id"], [[name, opening.get("site", ""), case] for name, case, opening in rows])


def instrument_command(
    file: Annotated[Path, typer.Argument(help="A sheet (TOML) with [[instrument]] tables.")], json: Json = False
) -> None:
    """Describe instruments and their scales, in your own words. Instruments belong to the store."""
    from desorb.core.kinds import Instrument
    from desorb.errors import NotUnderstood
    from desorb.service.instruments import describe_instrument, examine
    from desorb.service.sheet import instruments_of_sheet

    with opened() as store:
        try:
            described: list[Instrument] = instruments_of_sheet(file.read_bytes())
        except OSError as problem:
            raise NotUnderstood("the file could not be read", got=f"{file}: {problem.strerror}") from problem
        for instrument in described:
            examine(instrument)  # all of them before any is written
        outcome = {instrument.id: describe_instrument(store, instrument) for instrument in described}
    if json:
        say_json(outcome)
    for name, was_new in outcome.items():
        if not json:
            say(f"{name}: {'written down' if was_new else 'known as it is'}")


def instruments_command(json: Json = False) -> None:
    """List instruments with their scales, grouped by principle, and the state of their checks."""
    from desorb.service.instruments import check_log, instruments

    with opened() as store:
        known, log = instruments(store), check_log(store)
    if json:
        say_json({"instruments": [asdict(each) for each in known.values()], "checks": [asdict(each) for each in log]})
        return
    if not known:
        say("no instrument described yet; 'desorb instrument FILE.toml' describes one")
        return
    rows = []
    for each in known.values():
        last = [check for check in log if check.instrument == each.id]
        state = f"{'passed' if last[-1].passed else 'FAILED'} {last[-1].at[:10]}" if last else "no check logged"
        for scale in sorted(each.scales, key=lambda scale: (scale.standing, scale.principle)):
            rows.append(
                [
                    each.id,
                    f"{scale.principle} ({scale.standing})",
                    scale.key,
                    f"{scale.claims}{': ' + scale.method if scale.method else ''}"
                    f"{', ' + scale.material if scale.material else ''}",
                    f"{scale.bottom} to {scale.top} {scale.unit or '(no unit)'}",
                    state if each.block else "no check block",
                ]
            )
    say_table("", ["instrument", "principle", "scale", "claims", "range", "check"], rows)


def check_command(
    instrument: Annotated[str, typer.Argument(help="Id of the instrument.")],
    value: Annotated[str, typer.Argument(help="What it read on its check block.")],
    at: Annotated[str, typer.Option(help="When, ISO 8601; else now.")] = "",
    by: By = "",
    json: Json = False,
) -> None:
    """Log a check on the block. A failed check lists every case since the last good one."""
    from desorb.service.cases import moment_text, now
    from desorb.service.instruments import log_check

    with opened() as store:
        moment = moment_text(at or now().isoformat(), "UTC")
        outcome = log_check(store, instrument, value, at=moment, by=by)
    check = outcome.check
    if json:
        say_json(
            asdict(check)
            | {"passed": check.passed, "last_good": outcome.last_good, "cases_in_doubt": list(outcome.cases_in_doubt)}
        )
        return
    verdict = "passed" if check.passed else "FAILED"
    say(f"{instrument}: {check.value} on a block of {check.nominal} +- {check.tolerance}: check {verdict}")
    if not check.passed:
        since = outcome.last_good[:10] or "the beginning (it never passed)"
        say(
            f"in doubt since {since}: {', '.join(outcome.cases_in_doubt) or 'no case'}; nothing read since then supports a pass"
        )


def settings_command(
    temperature: Annotated[str, typer.Option(help="degC or degF")] = "",
    humidity_ratio: Annotated[str, typer.Option(help="g/kg or grains/lb")] = "",
    length: Annotated[str, typer.Option(help="m or ft")] = "",
    json: Json = False,
) -> None:
    """Show or choose the units you see. Inside, everything is SI and degC."""
    from desorb.cli import asking
    from desorb.service.home import home_folder, write_units

    asked = {"temperature": temperature, "humidity_ratio": humidity_ratio, "length": length}
    units = write_units(home_folder(asking.chosen_home), **{name: value for name, value in asked.items() if value})
    if json:
        say_json(asdict(units))
    else:
        say(f"temperature {units.temperature}, humidity ratio {units.humidity_ratio}, length {units.length}")


COMMANDS = (new_command, cases_command, instrument_command, instruments_command, check_command, settings_command)
