"""Commands on logger files: logger. They read and work out, and write nothing."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from desorb.cli.asking import say, say_json, working
from desorb.cli.case_commands import Json


def logger_command(
    file: Annotated[Path, typer.Argument(help="CSV file that a logger wrote.")],
    time: Annotated[str, typer.Option(help="Name of the column with the time.")],
    temperature: Annotated[str, typer.Option(help="Name of the column with the air temperature.")],
    humidity: Annotated[str, typer.Option(help="Name of the column with the relative humidity.")],
    temperature_unit: Annotated[str, typer.Option(help="C or F.")],
    humidity_unit: Annotated[str, typer.Option(help="percent or fraction.")],
    zone: Annotated[str, typer.Option(help="Of the logger's clock: Europe/London, or +00:00 if never put forward.")],
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
    json: Json = False,
) -> None:  # both defaults above are those of core, kept so by a test
    """Summarise a logger: hours above 80 % at the surface, vapour excess, daily range, gaps, mould index."""
    from desorb.core.logger import summarise
    from desorb.service.logger_cells import Columns, Stated
    from desorb.service.logger_file import read_logger_file

    def stated(surface_column: str, ahead: int) -> Stated:
        columns = Columns(time, temperature, humidity, surface_column, date)
        return Stated(columns, temperature_unit, humidity_unit, zone, ahead, time_format)

    with working("reading the log"):
        inside = read_logger_file(file, stated(surface, clock_offset), longest_gap)
        out = read_logger_file(outside, stated("", outside_clock_offset), longest_gap) if outside else None
        found = summarise(inside.air, out.air if out else None, sensitivity=sensitivity, least_days=least_days)
    if json:
        reports = {"file": asdict(inside.report), "outside_file": asdict(out.report) if out else None}
        summary = {name: value for name, value in asdict(found).items() if name != "gaps"}  # the file's gaps have times
        say_json(reports | {"summary": summary})
        return
    for each in (inside, out) if out else (inside,):
        say(*each.report.sentences())
    say("", *found.sentences())


COMMANDS = (logger_command,)
