"""Commands that work something out on site and write nothing: unit-check, outside-air, power, first-day,
evaporation, build-up.

Every reading is asked for: nothing has a default that would stand in for one.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from desorb.cli.asking import say, say_json
from desorb.cli.case_commands import Json
from desorb.errors import InputError

if TYPE_CHECKING:
    from desorb.core.drying.power import Unit
    from desorb.core.drying.unit_check import Reading
    from desorb.core.surface_cause import BuildUpLayer

Pair = Annotated[str, typer.Option(help="Air as TEMPERATURE/HUMIDITY, degC and %, such as 22/60.")]


def unit_check_command(
    inlet: Pair,
    outlet: Pair,
    flow: Annotated[float, typer.Option(help="Of process air, m3/h.")],
    flow_at: Annotated[str, typer.Option(help="Where the flow was taken: inlet or outlet.")],
    probe_temperature: Annotated[float, typer.Option(help="What the probe leaves open in temperature, K either way.")],
    probe_humidity: Annotated[float, typer.Option(help="And in humidity, %RH either way.")],
    flow_uncertainty: Annotated[float, typer.Option(help="What the flow leaves open, % either way.")],
    room: Annotated[str, typer.Option(help="Air of the room, for recirculation.")] = "",
    hours: Annotated[float | None, typer.Option(help="Running hours in the period.")] = None,
    litres: Annotated[float | None, typer.Option(help="Litres collected in the period.")] = None,
    period: Annotated[float, typer.Option(help="The period, h.")] = 24.0,
    refrigerant: Annotated[bool, typer.Option("--refrigerant/--desiccant", help="Kind of unit.")] = True,
    humidistat: Annotated[float | None, typer.Option(help="What it is set to, %.")] = None,
    json: Json = False,
) -> None:
    """Does a drying unit do what it should? Its air against its tank, with what the probes leave open."""
    from desorb.core.drying.unit_check import Sensors, against_tank, air_side_removal, hints, recirculation

    entering, leaving = _air(inlet, "inlet"), _air(outlet, "outlet")
    sensors = Sensors(probe_temperature, probe_humidity, flow_uncertainty)
    removal = air_side_removal(entering, leaving, flow, flow_at, sensors)
    tank = None if hours is None or litres is None else against_tank(removal, hours, litres, period)
    back = recirculation(_air(room, "room"), entering, leaving, sensors) if room else None
    seen = hints(refrigerant, entering, leaving, humidistat)
    if json:
        found = {"removal": asdict(removal), "tank": asdict(tank) if tank else None}
        say_json(found | {"recirculation": asdict(back) if back else None, "hints": seen})
        return
    say(removal.words)
    say(
        *(
            [tank.words, f"{tank.finding}; next: {tank.next_step}"]
            if tank
            else ["give --hours and --litres to hold it against the tank"]
        )
    )
    say(*([back.words, f"next: {back.next_step}"] if back else []), *(f"look: {words}" for words in seen))


def outside_air_command(
    inside: Pair,
    outside: Pair,
    volume: Annotated[float, typer.Option(help="Of the room, m3.")],
    air_changes: Annotated[float, typer.Option(help="While it is open, 1/h: measured, or a guess.")],
    coldest_surface: Annotated[float | None, typer.Option(help="degC, measured.")] = None,
    margin: Annotated[float, typer.Option(help="How much drier outside must be, g/kg; setting of ours.")] = 0.5,
    json: Json = False,
) -> None:
    """Is outside air drier today, what does it cost to warm it, and is a surface cold enough to be wetted?

    To open up is not advised here: foul water, mould, asbestos and flues are answered in a case, and
    'desorb drying' goes by that.
    """
    from desorb.core.air import air_state
    from desorb.core.drying.enclosure import infiltration, ventilate_or_close

    states = [
        air_state(air_temperature=air.air_temperature, relative_humidity=air.relative_humidity)
        for air in (_air(inside, "inside"), _air(outside, "outside"))
    ]
    found = ventilate_or_close(states[0], states[1], margin, coldest_surface, air_changes, volume)
    moved = infiltration(air_changes, volume, states[0], states[1])
    if json:
        say_json({"compared": asdict(found), "air change": asdict(moved)})
        return
    say(found.words, moved.words, f"{found.verdict}; next: {found.next_step}")


def power_command(
    unit: Annotated[list[str], typer.Option(help="NAME=WATTS, or NAME=WATTSxCOUNT, such as 'dehumidifier=950x3'.")],
    voltage: Annotated[float, typer.Option(help="V.")],
    circuit: Annotated[str, typer.Option(help="Which outlet or circuit.")],
    rating: Annotated[float | None, typer.Option(help="A, as read on the device.")] = None,
    rating_source: Annotated[str, typer.Option(help="Where the rating was read.")] = "",
    price: Annotated[str, typer.Option(help="Of a kWh, from the bill.")] = "",
    currency: Annotated[str, typer.Option(help="Of the price.")] = "",
    price_source: Annotated[str, typer.Option(help="Which bill.")] = "",
    json: Json = False,
) -> None:
    """What units draw together. What exceeds a rating is said; that a circuit is fit is never said: an electrician decides."""
    from desorb.core.drying.power import Circuit, Tariff, cost, demand

    drawn = demand(Circuit(circuit, voltage, rating, rating_source), [_unit(each) for each in unit])
    asked = price or currency or price_source
    charged = cost(drawn.kwh_per_day, Tariff(price, currency, price_source)) if asked else None
    if json:
        say_json({"demand": asdict(drawn), "cost a day": charged.words if charged else None})
        return
    say(drawn.words, *([charged.words] if charged else []), f"next: {drawn.next_step}")


def first_day_command(
    volume: Annotated[float, typer.Option(help="Of the room, m3.")],
    wet_area: Annotated[float, typer.Option(help="Wet surface of floor, walls and ceiling, m2.")],
    whole_area: Annotated[float, typer.Option(help="All surface of floor, walls and ceiling, m2.")],
    slow_materials: Annotated[
        bool, typer.Option("--slow-materials", help="Wet materials that evaporate slowly.")
    ] = False,
    kind: Annotated[str, typer.Option(help="conventional, low grain or desiccant.")] = "conventional",
    json: Json = False,
) -> None:
    """A published simple rule for the first day, with its source. It is a starting point: readings correct it."""
    from desorb.core.drying.sizing import desiccant_flow, refrigerant_capacity, room_rule, wet_class

    cubic_feet = volume / 0.3048**3  # exact
    klass, share = wet_class(wet_area, whole_area, slow_materials)
    start = desiccant_flow(cubic_feet, klass) if kind == "desiccant" else refrigerant_capacity(cubic_feet, klass, kind)
    beside = room_rule(volume)
    if json:
        say_json({"class": klass, "wet share": share, "start": asdict(start), "another rule": asdict(beside)})
        return
    say(f"class {klass}: {share:.0f} % of the surface is wet", start.words, f"another rule: {beside.words}")
    say("the rules disagree; go by litres, air and readings from the first day on")


def evaporation_command(
    water: Annotated[float, typer.Option(help="Temperature of the wet surface, degC.")],
    air: Pair,
    speed: Annotated[float, typer.Option(help="Of the air along it, m/s.")],
    json: Json = False,
) -> None:
    """What leaves a wet surface by each published form. They disagree by a factor of about two: go by readings."""
    from desorb.core.air import air_state
    from desorb.core.drying.evaporation import FORMS, SPREAD, WET_ONLY, free_water

    read = _air(air, "air")
    state = air_state(air_temperature=read.air_temperature, relative_humidity=read.relative_humidity)
    found = [free_water(water, state, speed, form) for form in FORMS]
    if json:
        say_json([asdict(each) for each in found])
        return
    say(*(f"{each.rate:.2f} kg/m2h: {each.form}" for each in found))
    say(f"{found[0].low:.2f} to {found[0].high:.2f} kg/m2h: {SPREAD}", WET_ONLY)


def build_up_command(
    layer: Annotated[
        list[str], typer.Option(help="From inside: NAME,MM,CONDUCTIVITY,MU, such as 'plaster,15,0.5,10'. Repeat it.")
    ],
    inside: Pair,
    outside: Pair,
    json: Json = False,
) -> None:
    """Steady one-plane check for condensation inside a build-up, by diffusion alone (ISO 13788).

    It can neither show that a build-up stays free of damp nor size what was found.
    """
    from desorb.core.surface_cause import single_plane

    warm, cold = _air(inside, "inside"), _air(outside, "outside")
    found = single_plane(
        tuple(_layer(each) for each in layer), warm.air_temperature, warm.relative_humidity, cold.air_temperature,
        cold.relative_humidity,
    )  # fmt: skip
    if json:
        say_json(asdict(found))
        return
    nodes = zip(found.temperatures, found.saturation, found.vapour, strict=True)
    say(
        *(
            f"node {number}: {t:.1f} degC, saturation {s:.0f} Pa, vapour {v:.0f} Pa"
            for number, (t, s, v) in enumerate(nodes)
        )
    )
    say(found.words)


def _air(text: str, which: str) -> Reading:
    from desorb.core.drying.unit_check import Reading

    try:
        temperature, humidity = (float(part) for part in text.split("/"))
    except ValueError:
        raise InputError(
            f"the {which} air cannot be read", got=text, wanted="TEMPERATURE/HUMIDITY in degC and %, such as 22/60",
            next_step="write both figures with a stroke between them",
        ) from None  # fmt: skip
    return Reading(temperature, humidity)


def _unit(text: str) -> Unit:
    from desorb.core.drying.power import Unit

    name, _, figures = text.rpartition("=")
    watts, _, count = figures.partition("x")
    try:
        return Unit(name, float(watts), int(count or "1"), 1.0)
    except ValueError:
        raise InputError(
            "a unit cannot be read", got=text, wanted="NAME=WATTS or NAME=WATTSxCOUNT",
            next_step="take the watts from the plate of the unit",
        ) from None  # fmt: skip


def _layer(text: str) -> BuildUpLayer:
    from desorb.core.surface_cause import BuildUpLayer

    parts = text.split(",")
    try:
        name, thickness, conductivity, resistance = parts
        return BuildUpLayer(name, float(thickness) / 1000, float(conductivity), float(resistance))
    except ValueError:
        raise InputError(
            "a layer cannot be read", got=text, wanted="NAME,MM,CONDUCTIVITY,MU with decimal points",
            next_step="write the four parts with commas between them, from inside to outside",
        ) from None  # fmt: skip


COMMANDS = (
    unit_check_command,
    outside_air_command,
    power_command,
    first_day_command,
    evaporation_command,
    build_up_command,
)
