"""The weighings of one sample worked out: oven, constant mass, and hygroscopic moisture at 75 % humidity.

Contents: Weighed; weighed_of; oven_material.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from desorb.core.case import Entered
from desorb.core.kinds import Sample, SampleWeighing
from desorb.core.samples import gravimetric
from desorb.core.samples.profile import from_weighings
from desorb.core.written import moment, needed, number
from desorb.errors import InputError

MOIST, AT_75, DRY = "moist", "at 75 % humidity", "dry"
CALCIUM_SULPHATE = ("anhydrite", "calcium sulfate")  # other names of calcium sulphate; common practice, no source


@dataclass(frozen=True, slots=True)
class Weighed:
    """Oven test of one sample. total, hygroscopic: % of dry mass against the last dry mass, constant or not."""

    oven: gravimetric.OvenResult
    total: Decimal
    hygroscopic: Decimal | None
    notes: tuple[str, ...]


def weighed_of(sample: Sample, weighings: list[Entered[SampleWeighing]]) -> Weighed:
    """Raises DesorbError for figures that give no moisture content."""
    rows = [entered.record for entered in weighings]
    moist = [row for row in rows if row.state == MOIST]
    at_75 = sorted((row for row in rows if row.state == AT_75), key=lambda row: moment(row.at))
    dry = sorted((row for row in rows if row.state == DRY), key=lambda row: moment(row.at))
    if not moist or not dry:
        wanted = "weigh it moist, and dry in the oven" if not moist else "dry it in the oven and weigh it"
        missing = MOIST if not moist else DRY
        raise InputError(f"There is no weighing {missing}", wanted="both masses, moist and dry", next_step=wanted)
    temperatures, since = {row.oven_temperature for row in dry}, {row.oven_since for row in dry if row.oven_since}
    if len({number(text) for text in temperatures}) > 1:
        raise InputError(
            "The oven temperature is not one and the same", got=", ".join(sorted(text or "not stated" for text in temperatures)),
            wanted="one temperature in every dry weighing",
            next_step="strike the weighings of the other temperature, or write its temperature beside each",
        )  # fmt: skip
    if len({moment(text) for text in since}) > 1:
        raise InputError(
            "The sample was put in the oven more than once", got=", ".join(sorted(since)),
            wanted="one series without a break", next_step="strike the weighings before the break",
        )  # fmt: skip
    begin = moment(min(since, default=dry[0].at))
    series = [
        gravimetric.Weighing(
            (moment(row.at) - begin).total_seconds() / 3600, float(needed(row.mass, "mass of a weighing"))
        )
        for row in dry
    ]
    if series[0].hours < 0:
        raise InputError(
            "A dry weighing was made before the sample was in the oven", got=dry[0].at, wanted=f"after {begin.isoformat()}",
            next_step="correct the times",
        )  # fmt: skip
    if moment(moist[-1].at) > begin:
        raise InputError(
            "The moist weighing was made after the sample was in the oven", got=moist[-1].at,
            wanted=f"not after {begin.isoformat()}", next_step="correct the times, or take a new sample",
        )  # fmt: skip
    oven_temperature = float(needed(dry[0].oven_temperature, "oven temperature"))
    moist_mass, dry_mass = needed(moist[-1].mass, "moist mass"), needed(dry[-1].mass, "dry mass")
    material = oven_material(sample.material)
    oven = gravimetric.assess_oven(sample.id, material, float(moist_mass), series, oven_temperature)
    notes = [f"Weighed moist {len(moist)} times: the last entered, {moist[-1].mass} g, is taken."] if moist[1:] else []
    if not since:
        notes.append("Not recorded since when it was in the oven: hours are counted from the first dry weighing.")
    if material in gravimetric.CRYSTAL_WATER:
        regime = "; ".join(dict.fromkeys(row.regime for row in dry if row.regime))
        notes.append(f"Drying regime as recorded: {regime or 'not stated'}.")
    if not oven.constant_mass and gravimetric.mass_is_constant(series, gravimetric.MASONRY_PRACTICE):
        notes.append(
            f"It would meet the practice for masonry ({gravimetric.MASONRY_PRACTICE.words}), which is the weaker rule."
        )
    hygroscopic = None
    if at_75:
        mass = needed(at_75[-1].mass, "mass at 75 % humidity")
        hygroscopic = from_weighings(moist_mass, mass, dry_mass)[1]
        notes += _not_settled([needed(row.mass, "mass at 75 % humidity") for row in at_75])
    unknown = ", ".join(each.entry for each in weighings if each.record.state not in (MOIST, AT_75, DRY))
    if unknown:
        notes.append(
            f"Left out: {unknown} says neither {MOIST}, {DRY} nor {AT_75}. Next: write it again with its state."
        )
    return Weighed(oven, from_weighings(moist_mass, dry_mass, dry_mass)[0], hygroscopic, tuple(notes))


def _not_settled(masses: list[Decimal]) -> list[str]:
    """A sample in air of 75 % humidity has settled when its mass stays, by the change that constant mass allows."""
    if len(masses) == 1:
        return ["One weighing at 75 % humidity: whether the sample had settled there is not shown."]
    before, last = masses[-2:]
    if 100 * abs(last - before) < Decimal(str(gravimetric.ISO_12570.percent)) * last:
        return []
    return [
        f"The mass at 75 % humidity still went from {before} to {last} g: the sample had not settled there."
        " Next: let it stand on and weigh it again."
    ]


def oven_material(words: str) -> str:
    """The material as the drying temperatures name it. What holds gypsum or calcium sulphate is dried as that."""
    plain = words.strip().casefold()
    if any(name in plain for name in CALCIUM_SULPHATE):
        return "calcium sulphate"
    return next((name for name in gravimetric.CRYSTAL_WATER if name in plain), plain)
