"""The command that opens the page: serve."""

from __future__ import annotations

from typing import Annotated

import typer

from desorb.cli.asking import opened, say


def serve_command(
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 takes a free one.")] = 8421,
) -> None:
    """Open the page on this machine: on site and in the office. Stop it with Ctrl-C."""
    from desorb.web.serve import serve

    with opened() as store:
        serve(store, port=port, say=lambda address: say(f"desorb is at {address} (stop with Ctrl-C)"))


COMMANDS = (serve_command,)
