"""Commands of the methods beside the scan: timber, floor-plan, limits, carbide. They work out and write nothing."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

import typer

from desorb.cli.asking import say, say_json
from desorb.cli.case_commands import Json
from desorb.errors import InputError


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


def floor_plan_command(
    area: Annotated[float, typer.Option(help="Area of the floor.")],
    thickness: Annotated[float, typer.Option(help="Thickness of slab or screed, mm.")],
    faces: Annotated[
        int, typer.Option(help="Faces it dries from: 1 on a membrane, metal deck or ground, 2 if free.")
    ] = 1,
    method: Annotated[str, typer.Option(help="hole, sleeve, box, dish, carbide or crushed sample.")] = "hole",
    edition: Annotated[int | None, typer.Option(help="For a hole: the year of the edition of F2170.")] = None,
    area_unit: Annotated[str, typer.Option(help="m2 or ft2.")] = "m2",
    power_floated: Annotated[bool, typer.Option("--power-floated", help="The surface was power-floated.")] = False,
    heated: Annotated[bool, typer.Option("--heated", help="Heating pipes or cables lie in the floor.")] = False,
    json: Json = False,
) -> None:
    """Plan a floor test: how many places, how deep, how long to wait, what to see to before drilling."""
    from desorb.core.floors.plan import plan_floor_test

    plan = plan_floor_test(
        method=method, area=area, thickness=thickness, drying_faces=faces, area_unit=area_unit, edition=edition,
        power_floated=power_floated, heated=heated,
    )  # fmt: skip
    if json:
        say_json(asdict(plan))
        return
    say(*(["before the floor is touched:", *(f"  {words}" for words in plan.cautions), ""] if plan.cautions else []))
    say(*(f"{number}. {words}" for number, words in enumerate(plan.sentences, 1)))


def limits_command(
    quantity: Annotated[str, typer.Option(help="Exactly this quantity, as printed by 'desorb limits'.")] = "",
    material: Annotated[str, typer.Option(help="Of the base, as printed.")] = "",
    heated: Annotated[str, typer.Option(help="yes or no.")] = "",
    covering: Annotated[str, typer.Option(help="As printed.")] = "",
    region: Annotated[str, typer.Option(help="As printed, such as UK.")] = "",
    choice: Annotated[str, typer.Option(help="Key of the limit you choose where editions or countries conflict.")] = "",
    reason: Annotated[str, typer.Option(help="Why you choose it.")] = "",
    json: Json = False,
) -> None:
    """Limits with edition and source; with a quantity, the one that applies, or the conflict that you have to settle."""
    from desorb.core.limits import acceptance
    from desorb.tables.limits import limits

    if not quantity:
        rows = limits()
        if json:
            say_json([asdict(each) | {"value": str(each.value)} for each in rows])
            return
        for each in sorted(rows, key=lambda row: row.quantity):
            bounds = (each.material, each.heated and f"heated: {each.heated}", each.covering)
            say(f"{each.quantity}: {each.sentence()}", *(f"    {words}" for words in bounds if words))
        return
    found = acceptance(limits(), quantity, material, heated, covering, region, choice=choice, reason=reason)
    if json:
        shown = {
            "limit": found.limit.sentence() if found.limit else None,
            "others": [each.sentence() for each in found.others],
        }
        say_json(shown | {"conflicts": found.conflicts, "next": found.next_step, "reason": found.reason})
        return
    say(f"limit: {found.limit.sentence()}" if found.limit else "no limit is taken")
    say(
        *(f"conflict: {words}" for words in found.conflicts),
        *(f"beside it: {each.sentence()}" for each in found.others),
    )
    say(f"next: {found.next_step}")


def carbide_command(
    material: Annotated[str, typer.Option(help="Of the sample: cement, magnesite, calcium sulphate.")] = "",
    sample_mass: Annotated[float | None, typer.Option(help="Moist mass weighed in, g.")] = None,
    gauge_pressure: Annotated[float | None, typer.Option(help="At the reading, bar above the air outside.")] = None,
    temperature: Annotated[float | None, typer.Option(help="Of the vessel at the reading, degC.")] = None,
    free_volume: Annotated[float | None, typer.Option(help="Of the vessel less sample, balls and glass, mL.")] = None,
    crushed: Annotated[bool | None, typer.Option("--crushed/--not-crushed", help="Was it fully crushed?")] = None,
    depth: Annotated[str, typer.Option(help="Depth band of the sample, such as 0-50 mm.")] = "",
    temperature_when_closed: Annotated[float | None, typer.Option(help="Of the vessel when closed, degC.")] = None,
    json: Json = False,
) -> None:
    """The calcium carbide test: without figures the cautions and steps, with them the water on wet and dry basis."""
    from desorb.core.samples.carbide import CAUTIONS, STEPS, CarbideTest, assess_carbide

    figures = (sample_mass, gauge_pressure, temperature, free_volume)
    if all(each is None for each in figures):
        if json:
            say_json({"cautions": CAUTIONS, "steps": STEPS})
        else:
            say("before the vessel is filled:", *(f"  {words}" for words in CAUTIONS), "")
            say(*(f"{number}. {words}" for number, words in enumerate(STEPS, 1)))
        return
    if sample_mass is None or gauge_pressure is None or temperature is None or free_volume is None:
        raise InputError(
            "a figure of the carbide test is missing", got=", ".join(str(each) for each in figures if each is not None),
            wanted="--sample-mass, --gauge-pressure, --temperature and --free-volume",
            next_step="'desorb carbide' alone prints the steps, with what to note",
        )  # fmt: skip
    result = assess_carbide(
        CarbideTest("the sample", material or "a material not named", sample_mass, gauge_pressure, temperature, free_volume,
                    crushed, depth, temperature_when_closed=temperature_when_closed)
    )  # fmt: skip
    if json:
        say_json(asdict(result) | {"words": result.words})
        return
    say(result.words, *(f"note: {words}" for words in result.warnings))


COMMANDS = (timber_command, floor_plan_command, limits_command, carbide_command)
