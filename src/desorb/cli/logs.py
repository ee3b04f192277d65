"""Command on logger files: logger. It reads and works out; with --case it keeps the file in the case."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from desorb.cli.asking import opened_case, say, say_json, working
from desorb.cli.case_commands import Json
from desorb.errors import InputError


def logger_command(
    file: Annotated[Path | None, typer.Argument(help="CSV file that a logger wrote.")] = None,
    time: Annotated[str, typer.Option(help="Name of the column with the time.")] = "",
    temperature: Annotated[str, typer.Option(help="Name of the column with the air temperature.")] = "",
    humidity: Annotated[str, typer.Option(help="Name of the column with the relative humidity.")] = "",
    temperature_unit: Annotated[str, typer.Option(help="C or F.")] = "",
    humidity_unit: Annotated[str, typer.Option(help="percent or fraction.")] = "",
    clock_zone: Annotated[
        str, typer.Option(help="Of the logger's clock: Europe/London, or +00:00 if never put forward.")
    ] = "",
    surface: Annotated[str, typer.Option(help="Name of the column with the surface temperature.")] = "",
    date: Annotated[str, typer.Option(help="Name of the column with the date, where it has its own.")] = "",
    time_format: Annotated[str, typer.Option(help="Such as '%d/%m/%Y %H:%M'; empty for ISO times.")] = "",
    clock_offset: Annotated[int, typer.Option(help="Seconds the logger's clock was ahead of true time.")] = 0,
    outside: Annotated[Path | None, typer.Option(help="Outside log with the same columns, units and zone.")] = None,
    outside_clock_offset: Annotated[int, typer.Option(help="The same for the outside logger's clock.")] = 0,
    sensitivity: Annotated[
        str, typer.Option(help="Of the surface: very sensitive, sensitive, medium resistant, resistant.")
    ] = "very sensitive",
    longest_gap: Annotated[float, typer.Option(help="Longest step between rows still trusted, h, up to 24.")] = 6.0,
    least_days: Annotated[float, typer.Option(help="Days that make the log representative.")] = 7.0,
    case: Annotated[str, typer.Option(help="Keep the file in this case, once all is read as it should be.")] = "",
    zone: Annotated[str, typer.Option(help="With --case: the zone where the logger hung.")] = "",
    place: Annotated[str, typer.Option(help="With --case: the place in that zone.")] = "",
    id: Annotated[str, typer.Option(help="With --case: a name for this file in the case.")] = "",
    by: Annotated[str, typer.Option(help="With --case: who read the logger out.")] = "",
    kept: Annotated[str, typer.Option(help="With --case: read the file kept under this id again and compare.")] = "",
    json: Json = False,
) -> None:  # both defaults of figures above are those of core, kept so by a test
    """Summarise a logger: hours above 80 % at the surface, vapour excess, daily range, gaps, mould index. Keep its file."""
    from desorb.core.logger import summarise
    from desorb.service.logger_cells import Columns, Stated
    from desorb.service.logger_file import read_logger_file

    def stated(surface_column: str, ahead: int) -> Stated:
        columns = Columns(time, temperature, humidity, surface_column, date)
        return Stated(columns, temperature_unit, humidity_unit, clock_zone, ahead, time_format)

    if kept:
        _compare_with_kept(file, case, kept, json)
        return
    if file is None:
        raise InputError("no file of a logger is named", next_step="name the CSV file, or --kept and --case")
    if not case and (zone or place or id or by):
        raise InputError(
            "the file is kept in no case", got=f"{zone} {place} {id} {by}".strip(), wanted="--case with its name",
            next_step="name the case; the zone of the logger's clock is --clock-zone",
        )  # fmt: skip
    with working("reading the log"):
        inside = read_logger_file(file, stated(surface, clock_offset), longest_gap)
        out = read_logger_file(outside, stated("", outside_clock_offset), longest_gap) if outside else None
        found = summarise(inside.air, out.air if out else None, sensitivity=sensitivity, least_days=least_days)
    entry = ""
    if case:
        from desorb.service.logger_kept import keep_logger

        with opened_case(case) as (store, opened):
            entry = keep_logger(
                store, opened, file, stated(surface, clock_offset), id=id, zone=zone, place=place, by=by,
                longest_gap=longest_gap,
            )[0].name  # fmt: skip
    if json:
        reports = {"file": asdict(inside.report), "outside_file": asdict(out.report) if out else None}
        summary = {name: value for name, value in asdict(found).items() if name != "gaps"}  # the file's gaps have times
        say_json(reports | {"summary": summary} | ({"entry": entry} if entry else {}))
        return
    for each in (inside, out) if out else (inside,):
        say(*each.report.sentences())
    say("", *found.sentences())
    if entry:
        say("", f"kept in {case} as {entry}; read it again: desorb logger --kept {id} --case {case}")


def _compare_with_kept(file: Path | None, case: str, kept: str, json: bool) -> None:
    from desorb.service.logger_kept import read_again

    if file is not None or not case:
        raise InputError(
            "a kept file is read from its case", got=f"{file or 'no file'}, {case or 'no case'}",
            wanted="--kept and --case, and no file", next_step="see 'desorb drying NAME' for the loggers of a case",
        )  # fmt: skip
    with opened_case(case) as (store, opened):
        differing = read_again(store, opened, kept)
    if json:
        say_json({"id": kept, "same": not differing, "differing": differing})
    else:
        say(*(differing or (f"{kept}: same",)))
    if differing:
        raise typer.Exit(5)


COMMANDS = (logger_command,)
