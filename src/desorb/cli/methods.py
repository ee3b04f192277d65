"""Commands of the methods beside the scan: timber."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

import typer

from desorb.cli.asking import say, say_json
from desorb.cli.case_commands import Json


def timber_command(
    temperature: Annotated[float, typer.Option(help="Temperature of the air around the timber, degC.")],
    relative_humidity: Annotated[float, typer.Option(help="Its relative humidity, %.")],
    target: Annotated[
        float | None, typer.Option(help="Moisture content the timber shall reach, % of dry mass.")
    ] = None,
    json: Json = False,
) -> None:
    """What this air holds timber at, and whether a target can be reached in it."""
    from desorb.core.timber import GENERIC_SCATTER
    from desorb.core.wood_in_air import held_in_air, target_in_air

    held = held_in_air(temperature, relative_humidity)
    reach = None if target is None else target_in_air(target, temperature, relative_humidity)
    if json:
        say_json({"held": held, "scatter": GENERIC_SCATTER, "reach": asdict(reach) if reach else None})
    elif reach is None:
        least, most = GENERIC_SCATTER
        say(f"this air holds timber near {held:.1f} % of dry mass; a piece lies {least:g} to {most:g} points about it")
    else:
        say(f"{reach.state}: {reach.words}", f"next: {reach.next_step}")


COMMANDS = (timber_command,)
