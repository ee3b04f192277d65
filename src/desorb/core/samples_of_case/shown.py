"""Samples and wall profiles of a case, for page, report, command and API.

Contents: samples_shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.kinds import Sample, SampleWeighing
from desorb.core.samples import carbide
from desorb.core.samples_of_case.figures import of_sample
from desorb.core.samples_of_case.parts import (
    CANNOT_BE_USED,
    Part,
    carbide_part,
    custody_part,
    oven_part,
    salts_part,
    tried,
)
from desorb.core.samples_of_case.walls import profile_shown, profiles_of_case
from desorb.core.shown import Shown, Table

SAMPLE, NOT_READ = "sample", "not read yet"
NO_FLOOR_METHOD = (
    "The weighings of this sample accept no floor: an oven figure is held against no limit of a floor test. Test the"
    " floor by its own method."
)
WEIGHINGS = ("state", "at", "mass, g", "oven, degC", "in the oven since", "regime", "entry")


def samples_shown(case: Case) -> tuple[Shown, ...]:
    """Every sample as it was last described, every wall profile, and what names a sample that is not described."""
    samples = latest_by_id(case.samples)
    profiles = [profile_shown(found) for found in profiles_of_case(case)]
    return (*(_sample_shown(case, each) for each in samples.values()), *profiles, *_not_described(case, samples))


def _sample_shown(case: Case, entered: Entered[Sample]) -> Shown:
    sample = entered.record
    custody = of_sample(case.custody, sample.id)
    weighings = of_sample(case.weighings, sample.id)
    contents = of_sample(case.salt_contents, sample.id)
    closed = of_sample(case.carbide_readings, sample.id)
    parts = [
        tried(f"The carbide test of {each.record.at}", partial(carbide_part, sample, each), [each]) for each in closed
    ]
    if closed:
        parts.append(Part(cautions=carbide.CAUTIONS))
    if weighings:
        parts.append(tried("The oven result", lambda: oven_part(sample, weighings), weighings))
        rows = tuple(_weighing_row(each) for each in weighings)
        notes = (NO_FLOOR_METHOD,) if sample.test else ()
        parts.append(Part(tables=(Table(WEIGHINGS, rows),), notes=notes))
    parts += [tried(f"The salts of {each.record.at}", partial(salts_part, each), [each]) for each in contents]
    cups = of_sample(case.cup_readings, sample.id)
    if cups or (closed and sample.test):
        of_test = (
            f"It belongs to the floor test {sample.test}: its result against the limit stands there."
            if sample.test
            else ""
        )
        alone = "" if sample.test else "A cup reading is held against a limit only in a floor test: name the test."
        parts.append(Part(notes=tuple(filter(None, (of_test, alone))), entries=tuple(each.entry for each in cups)))
    if not (weighings or contents or closed or cups):
        step = "enter its weighings (moist, dry in the oven, at 75 % humidity), its carbide test or its salts"
        parts.append(Part(f"Sample {sample.id} was taken and is not read yet.", NOT_READ, steps=(step,)))
    parts.append(custody_part(sample.id, custody, bool(weighings or contents)))
    flags = tuple(dict.fromkeys(part.flag for part in parts if part.flag))
    depth = f", {sample.depth_from} to {sample.depth_to} mm" if sample.depth_from and sample.depth_to else ""
    height = f", {sample.height} m above floor" if sample.height else ""
    return Shown(
        kind=SAMPLE,
        id=sample.id,
        title=f"Sample {sample.id}: {sample.material}, {sample.element}{height}{depth}",
        zone=sample.zone,
        status="; ".join(flags) or "result",
        words=" ".join(part.words for part in parts if part.words),
        cautions=_joined(part.cautions for part in parts),
        tables=tuple(table for part in parts for table in part.tables),
        notes=_joined(part.notes for part in parts),
        next_steps=_joined(part.steps for part in parts),
        rests_on=_joined(((entered.entry,), *(part.entries for part in parts))),
    )


def _joined(lists: Any) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for texts in lists for text in texts))


def _weighing_row(entered: Entered[SampleWeighing]) -> tuple[str, ...]:
    row = entered.record
    return row.state, row.at, row.mass, row.oven_temperature, row.oven_since, row.regime, entered.entry


def _not_described(case: Case, samples: Mapping[str, Any]) -> tuple[Shown, ...]:
    named: dict[str, list[str]] = {}
    rows: tuple[Entered[Any], ...] = (
        *case.custody, *case.weighings, *case.carbide_readings, *case.cup_readings, *case.salt_contents,
    )  # fmt: skip
    for each in rows:
        if each.record.sample not in samples:
            named.setdefault(each.record.sample, []).append(each.entry)
    step = "describe the sample: zone, element, material, when it was taken"
    return tuple(
        Shown(SAMPLE, name, f"Sample {name}: not described", "", CANNOT_BE_USED,
              f"The sample {name!r} is named in {', '.join(entries)}, and no entry describes it.", next_steps=(step,),
              rests_on=tuple(entries))
        for name, entries in named.items()
    )  # fmt: skip
