"""The command on the transport engine: physics."""

from __future__ import annotations

import sys
from dataclasses import asdict
from typing import Annotated

import typer

from desorb.cli.asking import say, say_json, say_table
from desorb.cli.case_commands import Json


def physics_command(
    only: Annotated[str, typer.Option(help="Only the cases whose name holds this, such as en15026.")] = "",
    page: Annotated[bool, typer.Option("--page", help="Print docs/verification.md.")] = False,
    json: Json = False,
) -> None:
    """Compare the moisture engine with published benchmarks and closed forms. Exit code 5 when one does not hold."""
    from desorb.service.physics import COMPILING, TITLES, by_case, compared, is_compiled, verification_page

    if not is_compiled():
        sys.stderr.write(f"{COMPILING}\n")
    checks = compared(only, _say_case)
    if json:
        say_json([asdict(check) for check in checks])
    elif page:
        sys.stdout.write(verification_page(checks))
    else:
        for name, rows in by_case(checks).items():
            cells = [
                [
                    row.id,
                    row.expected,
                    f"{row.got:.5g}",
                    f"{row.tolerance:.3g}" if row.tolerance else "the band",
                    "yes" if row.ok else "NO",
                ]
                for row in rows
            ]
            say_table(TITLES[name], ["id", "expected", "got", "tolerance", "holds"], cells)
        failed = [check.id for check in checks if not check.ok]
        say(f"{len(checks)} comparisons, {len(failed)} outside their tolerance", *(f"  {name}" for name in failed))
    if not all(check.ok for check in checks):
        raise typer.Exit(5)


def _say_case(name: str) -> None:
    if sys.stderr.isatty():
        sys.stderr.write(f"comparing: {name}\n")


COMMANDS = (physics_command,)
