"""Commands of the methods in the record: methods (what they say), floor-limit (take the limit of a floor test)."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

import typer

from desorb.cli.asking import opened_case, say, say_json, say_shown
from desorb.cli.case_commands import Json


def floor_limit_command(
    case: Annotated[str, typer.Argument(help="Name of the case.")],
    test: Annotated[str, typer.Argument(help="Id of the floor test.")],
    choice: Annotated[str, typer.Option(help="Key of the limit you choose where editions or countries conflict.")] = "",
    reason: Annotated[str, typer.Option(help="Why you choose it.")] = "",
    by: Annotated[str, typer.Option(help="Who takes the limit.")] = "",
    json: Json = False,
) -> None:
    """Take the limit of a floor test into the case, with edition and source. A later table changes nothing of it."""
    from desorb.core.floors_of_case import limit_of
    from desorb.service.floor_tests import take_limit

    with opened_case(case) as (store, opened):
        taken = take_limit(store, opened, test, choice, reason, by)
    if json:
        say_json(asdict(taken))
        return
    say(f"floor test {test} is held against: {taken.quantity} {limit_of(taken).sentence()}")
    say(*(f"conflict: {words}" for words in taken.conflicts), *(f"not taken: {words}" for words in taken.others))
    say(*([f"reason: {taken.reason}"] if taken.reason else []))


def methods_command(
    case: Annotated[str, typer.Argument(help="Name of the case.")],
    json: Json = False,
) -> None:
    """What the tests beside the scan say: cautions, plan, each place with its result, what to do next."""
    from desorb.service.cases import load
    from desorb.service.methods import methods_of

    with opened_case(case) as (store, opened):
        found = methods_of(load(store, opened))
    if json:
        say_json([asdict(each) for each in found])
        return
    if not found:
        say("no such test is in the record; a sheet with [[floor_test]] begins one ('desorb take --columns' shows how)")
    say_shown(found)


COMMANDS = (methods_command, floor_limit_command)
