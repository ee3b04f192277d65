"""Command of the drying in the record: drying (course of each element, units, enclosures, dates, the next round)."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

import typer

from desorb.cli.asking import opened_case, say, say_json, say_shown
from desorb.cli.case_commands import Json


def drying_command(
    case: Annotated[str, typer.Argument(help="Name of the case.")],
    part: Annotated[str, typer.Option(help="Only this part, as the list at the end names it, or a word of it.")] = "",
    zone: Annotated[str, typer.Option(help="Only this zone.")] = "",
    json: Json = False,
) -> None:
    """How the drying goes: what each element does against its controls, units, enclosures, dates, the next round."""
    from desorb.service.cases import load
    from desorb.service.drying import drying_of

    with opened_case(case) as (store, opened):
        every = drying_of(load(store, opened))
    parts = dict.fromkeys(each.kind for each in every)
    found = [each for each in every if part.casefold() in each.kind.casefold() and zone in ("", each.zone)]
    if json:
        say_json([asdict(each) for each in found])
        return
    if not found and every:
        zones = dict.fromkeys(each.zone for each in every if each.zone)
        say(
            f"nothing of that is said of this case; its parts: {', '.join(parts)}; its zones here: {', '.join(zones) or 'none'}"
        )
    elif not found:
        say(
            "nothing of this is in the record; a spot read at two visits begins a course, a sheet with [[unit]] and"
            " [[unit_change]] the kit ('desorb take --columns' shows how)"
        )
    say_shown(found)
    if every and not part:
        say(f"parts: {', '.join(parts)}")


COMMANDS = (drying_command,)
