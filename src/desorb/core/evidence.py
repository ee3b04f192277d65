"""The door mat: from what was written down to what can be compared.

Contents: Evidence (one reading with its scale, instrument, spot and building resolved); evidence_of (all of a case);
median and clipping; correction of wood pins by the instrument's own table.
A reading whose context is missing is not evidence: it becomes a finding and stays in the record.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import cache
from statistics import median

from desorb.core import timber
from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.kinds import BARE, Construction, Instrument, Reading, Scale, Spot, Zone
from desorb.core.outcome import BLOCKS_BOTH, Finding
from desorb.core.typed import AT_LEAST, AT_MOST, TypedValue, read_value
from desorb.errors import InputError

FIBRE_SATURATION_DEFAULT = "28"  # % dry basis; a setting ("above 28-30 %": Wood Handbook ch. 4, from memory)


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reading, resolved. `value` is the median of the repeats, corrected where a table says so."""

    entered: Entered[Reading]
    instrument: Instrument
    scale: Scale
    spot: Spot
    zone: Zone
    construction: Construction
    repeats: tuple[TypedValue, ...]
    raw: Decimal
    value: Decimal
    bound: str  # '', '>=' (at the top: at least this) or '<=' (at the bottom: at most this, or no contact)
    correction: str  # '', 'corrected' or 'uncorrected'
    correction_words: str
    taken: datetime
    past_fibre_saturation: bool = False  # shown as at least that: pins do not measure beyond it

    @property
    def reading(self) -> Reading:
        return self.entered.record

    @property
    def is_control(self) -> bool:
        return self.spot.role == "control"

    @property
    def covered(self) -> bool:
        return self.reading.covering not in BARE

    @property
    def range(self) -> Decimal:
        numbers = [repeat.number for repeat in self.repeats]
        return max(numbers) - min(numbers)

    @property
    def line(self) -> tuple[str, ...]:
        """Readings of one spot on one line may follow each other in time: same scale, instrument and depth."""
        return (*_identity_words(self.scale), self.instrument.id, *self.depth_class)

    @property
    def depth_class(self) -> tuple[str, str]:
        return (self.reading.depth_from, self.reading.depth_to)

    def text(self) -> str:
        """The value as it may be printed: never more decimals than the instrument shows."""
        return self.shown(self.value, self.bound)

    def shown(self, value: Decimal | float, bound: str = "") -> str:
        mark = {AT_LEAST: "\u2265 ", AT_MOST: "\u2264 "}.get(bound, "")
        return f"{mark}{to_resolution(value, self.scale)}{_unit_of(self.scale)}"


@cache
def _identity_words(scale: Scale) -> tuple[str, ...]:
    return tuple(f"{name}={value}" for name, value in sorted(scale.identity().items()))


def to_resolution(value: Decimal | float, scale: Scale, more: int = 0) -> str:
    """Round for the eye only; comparisons are made unrounded. `more` decimals for a computed limit."""
    return f"{Decimal(str(value)):.{decimals_of(scale.resolution) + more}f}"


@cache
def decimals_of(resolution: str) -> int:
    """Decimals that a display of this resolution shows; none where it is not stated."""
    exponent = Decimal(resolution or "1").normalize().as_tuple().exponent
    return max(0, -exponent if isinstance(exponent, int) else 0)


def _unit_of(scale: Scale) -> str:
    return f" {scale.unit}" if scale.unit else ""


def scale_class(scale: Scale) -> str:
    """The class under which a rule row is kept: by what the number claims, then by principle and material."""
    if scale.claims != "measured":
        return scale.claims
    if scale.principle == "electrical resistance" and scale.material == "wood":
        return "wood pins"
    if scale.principle == "gravimetric":
        return "gravimetric wood" if scale.material == "wood" else "gravimetric"
    return scale.principle


def evidence_of(case: Case) -> tuple[list[Evidence], list[Finding]]:
    """All readings that can be compared, and a finding for each that can not."""
    spots = latest_by_id(case.spots)
    zones = latest_by_id(case.zones)
    constructions = latest_by_id(case.constructions)
    evidence: list[Evidence] = []
    findings: list[Finding] = []
    instruments: dict[tuple[str, int], Instrument | None] = {}
    described = [entered.record.id for entered in case.instruments]
    single = {instrument for instrument in described if described.count(instrument) == 1}
    for entered in case.readings:
        reading = entered.record
        version = 0 if reading.instrument in single else entered.order
        if (reading.instrument, version) not in instruments:
            instruments[reading.instrument, version] = case.instrument_at(reading.instrument, entered.order)
        instrument = instruments[reading.instrument, version]
        scale = instrument.scale(reading.scale) if instrument else None
        spot = spots[reading.spot].record if reading.spot in spots else None
        zone = zones[spot.zone].record if spot and spot.zone in zones else None
        construction = constructions[zone.construction].record if zone and zone.construction in constructions else None
        missing = [
            name
            for name, thing in (
                ("spot", spot), ("zone", zone), ("construction", construction), ("instrument", instrument),
                ("scale", scale), ("covering", reading.covering), ("values", reading.values),
            )
            if not thing
        ]  # fmt: skip
        if missing or not (spot and zone and construction and instrument and scale):
            findings.append(_no_context(entered, missing))
            continue
        try:
            evidence.append(_resolve(entered, instrument, scale, spot, zone, construction, case))
        except (InputError, ValueError, ArithmeticError) as problem:
            findings.append(_not_readable(entered, problem))
    return evidence, findings


def _not_readable(entered: Entered[Reading], problem: Exception) -> Finding:
    """Figures or a time that no door of ours would have let in, such as a record from elsewhere."""
    reading = entered.record
    return Finding(
        code="not-readable",
        words=f"a reading of {' '.join(reading.values)} at {reading.spot} is not evidence: {problem}",
        blocks=BLOCKS_BOTH,
        next_step="strike the entry and write the reading again; the value is kept",
        visit=reading.visit,
        instrument=reading.instrument,
        scale=reading.scale,
        spots=(reading.spot,),
        entries=(entered.entry,),
    )


def _no_context(entered: Entered[Reading], missing: list[str]) -> Finding:
    reading = entered.record
    return Finding(
        code="context-missing",
        words=f"a reading of {' '.join(reading.values) or 'nothing'} at {reading.spot or 'no spot'} is not evidence:"
        f" its {', '.join(missing)} is not described in this case",
        blocks=BLOCKS_BOTH,
        next_step=f"describe the {missing[0]}; the value is kept",
        visit=reading.visit,
        spots=(reading.spot,),
        entries=(entered.entry,),
    )


def _resolve(
    entered: Entered[Reading],
    instrument: Instrument,
    scale: Scale,
    spot: Spot,
    zone: Zone,
    construction: Construction,
    case: Case,
) -> Evidence:
    taken = datetime.fromisoformat(entered.record.taken_at)
    if taken.tzinfo is None:
        raise ValueError(f"its time {entered.record.taken_at} has no offset")
    repeats = tuple(read_value(value) for value in entered.record.values)
    raw, bound = middle_of(repeats, scale)
    value, state, words, past = raw, "", "", False
    if scale_class(scale) == "wood pins" or any(table.scale == scale.key for table in instrument.corrections):
        value, state, words = corrected(entered.record, raw, instrument, scale)
        limit = Decimal(case.setting("fibre saturation", FIBRE_SATURATION_DEFAULT))
        if scale_class(scale) == "wood pins" and value > limit and bound != AT_MOST:
            words = (
                f"{words}; {to_resolution(value, scale)} lies above fibre saturation and is shown as at least {limit}"
            )
            value, bound, past = limit, AT_LEAST, True
    return Evidence(
        entered, instrument, scale, spot, zone, construction, repeats, raw, value, bound, state, words.lstrip("; "), taken, past,
    )  # fmt: skip


def middle_of(repeats: tuple[TypedValue, ...], scale: Scale) -> tuple[Decimal, str]:
    """Median of the repeats, and whether it stands at an end of the scale. Never the highest of many."""
    top = Decimal(scale.top) if scale.top else None
    bottom = Decimal(scale.bottom) if scale.bottom else None
    ordered = sorted(repeats, key=lambda repeat: repeat.number)
    value = median(repeat.number for repeat in ordered)
    half = len(ordered) // 2
    up_to_the_middle, from_the_middle = ordered[: half + 1], ordered[(len(ordered) - 1) // 2 :]
    if any(repeat.bound == AT_LEAST or (top is not None and repeat.number == top) for repeat in up_to_the_middle):
        return value, AT_LEAST
    if any(repeat.bound == AT_MOST or (bottom is not None and repeat.number == bottom) for repeat in from_the_middle):
        return value, AT_MOST
    return value, ""


def corrected(reading: Reading, raw: Decimal, instrument: Instrument, scale: Scale) -> tuple[Decimal, str, str]:
    """Correct wood pins by the instrument's own table, or say why not. Never extrapolates, never guesses a table."""
    table = next((table for table in instrument.corrections if table.scale == scale.key), None)
    if not reading.temperature:
        return raw, "uncorrected", "uncorrected: the temperature of the wood was not recorded"
    if table is None:
        return raw, "uncorrected", "uncorrected: the instrument has no table of its own for temperature and species"
    try:
        own = timber.AdditiveTable(
            table.source,
            tuple(float(value) for value in table.temperatures),
            tuple(float(value) for value in table.additions),
            table.species,
            tuple(float(value) for value in table.species_additions),
        )
    except (InputError, ValueError) as problem:
        return raw, "uncorrected", f"uncorrected: {problem}"
    temperature = float(reading.temperature.replace(",", "."))
    done = timber.correct_by_table(float(raw), temperature, own, reading.species, fibre_saturation=math.inf)
    if done.moisture_content is None:
        return raw, "uncorrected", f"uncorrected: {done.because}"
    value = Decimal(str(round(done.moisture_content, 6)))
    words = (
        f"{to_resolution(raw, scale)} \u2192 {to_resolution(value, scale)} at {reading.temperature} degC by the table"
        f" of the instrument ({table.source})"
    )
    return value, "corrected", words


def finding_about(members: Sequence[Evidence], code: str, words: str, blocks: str, next_step: str) -> Finding:
    """A finding about some readings of one visit and one instrument."""
    first = members[0].reading
    return Finding(
        code,
        words,
        blocks,
        next_step,
        first.visit,
        first.instrument,
        first.scale if len({each.reading.scale for each in members}) == 1 else "",
        tuple(dict.fromkeys(each.spot.id for each in members)),
        tuple(each.entered.entry for each in members),
    )
