"""The command line: parse, call one service, print. Heavy imports wait until a command needs them.

Exit codes: 0 done; 1 unexpected; 2 what was given cannot be used; 3 refused; 4 the store could not be used; 5 the record
does not verify, or the engine misses a benchmark; 6 a report could not be made; 7 a part was taken and rows are named
that were not.
"""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from desorb.cli import (
    asking,
    case_commands,
    drying,
    floor_tests,
    logs,
    methods,
    physics,
    proving,
    serving,
    surveying,
    working_out,
)
from desorb.errors import DesorbError

app = typer.Typer(
    name="desorb",
    help="Readings, decisions and records for damp buildings.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    epilog=__doc__.split("\n\n", 1)[1].replace("\n", " "),
)


def _show_version(asked: bool) -> None:
    if asked:
        from desorb import __version__

        typer.echo(f"desorb {__version__}")
        raise typer.Exit


@app.callback()
def start(
    home: Annotated[str, typer.Option(help="Folder of the store; else DESORB_HOME, else the user's data folder.")] = "",
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Say the version.")
    ] = False,
) -> None:
    asking.chosen_home = home


for module in (case_commands, surveying, methods, floor_tests, drying, working_out, logs, proving, serving, physics):
    for command in module.COMMANDS:
        name = command.__name__.removesuffix("_command").replace("_", "-")
        app.command(name)(command)


def main() -> None:
    """Run, and turn what went wrong into a sentence and an exit code."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a console without these letters shows '?', and goes on
    try:
        app(standalone_mode=True)
    except DesorbError as problem:
        asking.say_problem(problem)
        sys.exit(problem.exit_code)
    except BrokenPipeError:
        sys.exit(0)
    except OSError as problem:
        sys.stderr.write(f"desorb: the output could not be written: {problem.strerror}.\n")
        sys.exit(1)


if __name__ == "__main__":
    main()
