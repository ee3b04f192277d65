"""What each method says of one sample: custody, oven, carbide, salts. Keys in brackets stand in docs/references.md.

Contents: Part; tried (a method that refuses becomes words and a next step); custody_part; oven_part; carbide_part;
salts_part.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from desorb.core.case import Entered
from desorb.core.kinds import CarbideReading, CustodyEntry, SaltContent, Sample, SampleWeighing
from desorb.core.samples import carbide, salts
from desorb.core.samples.custody import CustodyStep, check_custody
from desorb.core.samples_of_case.figures import said
from desorb.core.samples_of_case.weighed import oven_material, weighed_of
from desorb.core.shown import Table
from desorb.core.typed import AT_MOST, read_value
from desorb.core.written import needed, number
from desorb.errors import DesorbError, NotUnderstood

BROKEN, NOT_VALID, CANNOT_BE_USED = "custody broken", "test not valid", "cannot be used"
GROUND_HINT = (
    "Hint: nitrate and chloride together suggest ground origin (from memory). It is a hint only: it names no cause and"
    " is not set in the cause table."
)  # [RULES-4.2], marked there as from memory


@dataclass(frozen=True, slots=True)
class Part:
    """One method of one sample."""

    words: str = ""
    flag: str = ""
    cautions: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    notes: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()


def tried(name: str, make: Callable[[], Part], rests_on: list[Entered[Any]]) -> Part:
    entries = tuple(each.entry for each in rests_on)
    try:
        return replace(make(), entries=entries)
    except DesorbError as problem:
        words, step = said(problem)
        return Part(f"{name} {CANNOT_BE_USED}: {words}.", CANNOT_BE_USED, steps=(step,), entries=entries)


def custody_part(sample: str, steps: list[Entered[CustodyEntry]], left_the_site: bool) -> Part:
    if not steps and not left_the_site:
        return Part(notes=("No custody is recorded; nothing of this sample comes from a laboratory.",))
    entries = tuple(each.entry for each in steps)
    try:
        rows = [CustodyStep(e.record.step, e.record.by, e.record.at, number(e.record.mass)) for e in steps]
        result = check_custody(sample, rows)
    except DesorbError as problem:
        words, step = said(problem)
        return Part(f"Sample {sample}: {BROKEN}: {words}.", BROKEN, steps=(step,), entries=entries)
    table = Table(
        ("step", "by", "at", "mass, g", "entry"),
        tuple((e.record.step, e.record.by, e.record.at, e.record.mass, e.entry) for e in steps),
    )
    step = "enter what is missing if it is on paper; a gap that stays goes with the result"
    return Part(
        result.words,
        BROKEN if result.gaps else "",
        tables=(table,) if steps else (),
        steps=(step,) if result.gaps else (),
        entries=entries,
    )


def oven_part(sample: Sample, weighings: list[Entered[SampleWeighing]]) -> Part:
    weighed = weighed_of(sample, weighings)
    oven, notes = weighed.oven, (*weighed.notes, *weighed.oven.warnings)
    if not oven.constant_mass:
        step = f"dry on at {oven.oven_temperature:g} degC and weigh again"
        return Part(oven.words, NOT_VALID, notes=notes, steps=(step,))
    if weighed.hygroscopic is None:
        step = "hygroscopic moisture is open: let the sample stand in air of 75 % humidity and weigh it"
        return Part(oven.words, notes=notes, steps=(step,))
    free = weighed.total - weighed.hygroscopic
    words = f"Hygroscopic {weighed.hygroscopic:.2f} % at 75 % humidity, free {free:.2f} %, both of dry mass."
    return Part(f"{oven.words} {words}", notes=notes)


def carbide_part(sample: Sample, entered: Entered[CarbideReading]) -> Part:
    reading = entered.record
    figures = {name: needed(getattr(reading, name), name.replace("_", " ")) for name in
               ("sample_mass", "gauge_pressure", "temperature", "free_volume")}  # fmt: skip
    closed, reagent = number(reading.temperature_closed), number(reading.reagent_mass)
    material = sample.material.strip().casefold()
    usual = next((name for name in carbide.SAMPLE_MASSES if material.startswith(name)), material)
    result = carbide.assess_carbide(
        carbide.CarbideTest(
            sample=sample.id,
            material="calcium sulphate" if oven_material(material) == "calcium sulphate" else usual,
            fully_crushed={"yes": True, "no": False}.get(reading.crushed),
            depth=f"{sample.depth_from}-{sample.depth_to} mm" if sample.depth_from and sample.depth_to else "",
            reagent_mass=None if reagent is None else float(reagent),
            temperature_when_closed=None if closed is None else float(closed),
            **{name: float(value) for name, value in figures.items()},
        )
    )
    read = (
        f"As read: {reading.sample_mass} g, {reading.gauge_pressure} bar, {reading.temperature} degC, "
        f"{reading.free_volume} mL free."
    )
    return Part(
        result.words, NOT_VALID if result.faults else "", notes=(read, *result.warnings),
        steps=("repeat the test with a new sample, fully crushed",) if result.faults else (),
    )  # fmt: skip


def salts_part(entered: Entered[SaltContent]) -> Part:
    found: dict[str, Decimal] = {}
    notes = []
    for ion in salts.IONS:
        text = getattr(entered.record, ion)
        if not text.strip():
            continue
        value = read_value(text)
        if value.bound and value.bound != AT_MOST:
            raise NotUnderstood(
                f"The content of {ion} has no upper end", got=text, wanted="mass-%",
                next_step="ask the laboratory for the figure",
            )  # fmt: skip
        if value.bound:
            notes.append(f"{ion}: reported as {text}; classed as if it were {value.number}.")
        found[ion] = value.number
    result = salts.classify_salts(found)
    if _both_present(found):
        notes.append(GROUND_HINT)
    by = f" (by {entered.record.laboratory})" if entered.record.laboratory else ""
    shown = ", ".join(f"{ion} {getattr(entered.record, ion)}" for ion in found)
    words = " ".join((f"Salts{by}, mass-%: {shown}.", *(each.words for each in result.classes), result.conflict))
    step = "say which edition the work follows, and why"
    return Part(words.strip(), notes=tuple(notes), steps=(step,) if result.conflict else ())


def _both_present(found: Mapping[str, Decimal]) -> bool:
    """Both above the lowest class of the edition for masonry (setting of ours: less is found in sound walls)."""
    ends = salts.EDITIONS[0].ends
    return all(ion in found and found[ion] >= ends[ion][0] for ion in ("chloride", "nitrate"))
