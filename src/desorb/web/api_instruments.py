"""Instruments of this store and their checks on the block.

Contents: the router.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from pydantic import BaseModel, Field

from desorb.core.kinds import CheckBlock, CorrectionTable, Instrument, Scale
from desorb.errors import InputError
from desorb.service.case_settings import warnings_of_instrument
from desorb.service.instrument_book import Page, book
from desorb.service.instruments import describe_instrument, log_check
from desorb.service.settings import finite
from desorb.web.desk import desk_of
from desorb.web.parameters import Figure, Form, Line

router = APIRouter(prefix="/api/instruments", tags=["instruments"])
InstrumentName = Annotated[str, Path(min_length=1, max_length=120, description="id of the instrument")]
LONGEST_ID = 40


class ScaleGiven(Form):
    """A scale, described in the user's own words and never picked from a list."""

    key: Line
    principle: Line
    claims: Line
    method: Line = ""
    material: Line = ""
    basis: Line = ""
    unit: Line = ""
    bottom: Figure
    top: Figure
    resolution: Figure
    depth: Figure = ""
    repeatability: Figure = ""
    face: Line = ""


class BlockGiven(Form):
    """The reference an instrument is checked on."""

    scale: Line
    nominal: Figure
    tolerance: Figure
    interval_days: int = Field(ge=0, le=100_000)


class CorrectionGiven(Form):
    """The instrument's own table: what is added at each temperature, and for each species."""

    scale: Line
    source: Line
    temperatures: list[Figure] = Field(max_length=60)
    additions: list[Figure] = Field(max_length=60)
    species: list[Line] = Field(default=[], max_length=200)
    species_additions: list[Figure] = Field(default=[], max_length=200)


class InstrumentGiven(Form):
    """The whole description: it takes the place of an earlier one of the same id, which stays in the record."""

    id: Line
    words: Line
    serial: Line = ""
    calibration_due: Figure = ""
    calibration_reference: Line = ""
    scales: list[ScaleGiven] = Field(min_length=1, max_length=20)
    block: list[BlockGiven] = Field(default=[], max_length=10)
    corrections: list[CorrectionGiven] = Field(default=[], max_length=10)


class CheckGiven(Form):
    """A reading on the block. Whether it passed is computed."""

    value: Figure
    at: Figure = ""
    by: Line


class CheckShown(BaseModel):
    """One check: the reading, the block, and whether it lies within the tolerance."""

    scale: str
    value: str
    nominal: str
    tolerance: str
    at: str
    by: str
    passed: bool


class CopyShown(BaseModel):
    """A case that carries a copy of the instrument, with the serial as it was written down there."""

    case: str
    name: str
    serial: str
    same: bool


class InstrumentShown(BaseModel):
    """An instrument with its standing today: ready, check due or not to be used."""

    id: str
    words: str
    serial: str
    calibration_due: str
    calibration_reference: str
    scales: list[ScaleGiven]
    block: list[BlockGiven]
    corrections: list[CorrectionGiven]
    standing: str
    why: str
    checks: list[CheckShown]
    chart_words: str
    copies: list[CopyShown]
    in_doubt: list[str]
    warnings: list[str]


class Described(BaseModel):
    """What was written down."""

    id: str
    new: bool
    warnings: list[str]
    said: str


class Checked(BaseModel):
    """The check, and, where it failed, every case read with the instrument since its last good one."""

    passed: bool
    last_good: str
    cases_in_doubt: list[str]
    said: str


def _shown(page: Page) -> InstrumentShown:
    return InstrumentShown(
        **asdict(page.instrument), standing=page.standing.word, why=page.standing.why,
        checks=[
            CheckShown(**{name: getattr(each, name) for name in CheckShown.model_fields}) for each in page.checks
        ],
        chart_words=page.chart.words if page.chart else "", copies=[CopyShown(**asdict(copy)) for copy in page.copies],
        in_doubt=[copy.name for copy in page.doubt.cases] if page.doubt else [], warnings=list(page.warnings),
    )  # fmt: skip


@router.get("")
def list_instruments(request: Request) -> list[InstrumentShown]:
    """Every instrument of this store with its checks, those not to be used first."""
    desk = desk_of(request)
    return [_shown(page) for page in book(desk.store, desk.clock)]


@router.post("")
def describe(request: Request, given: InstrumentGiven) -> Described:
    """Describe an instrument, or describe it again. Cases keep the copy they used."""
    if len(given.id) > LONGEST_ID or not given.id.isprintable() or given.id != given.id.strip():
        raise InputError("an id is short and printable", got=repr(given.id[:80]), wanted=f"1 to {LONGEST_ID} letters")
    parts = given.model_dump(exclude={"scales", "block", "corrections"})
    instrument = Instrument(
        **parts,
        scales=tuple(Scale(**_with_figures(each)) for each in given.scales),
        block=tuple(CheckBlock(**_with_figures(each)) for each in given.block),
        corrections=tuple(
            CorrectionTable(
                each.scale, each.source, tuple(each.temperatures), tuple(each.additions), tuple(each.species),
                tuple(each.species_additions),
            )
            for each in given.corrections
        ),
    )  # fmt: skip
    desk = desk_of(request)
    new = describe_instrument(desk.store, instrument, desk.clock)
    warnings = warnings_of_instrument(instrument)
    said = f"{given.id} was described." if new else f"{given.id} is described so already; nothing was written."
    return Described(
        id=given.id, new=new, warnings=warnings, said=" ".join([said, *(f"Note: {words}." for words in warnings)])
    )


FIGURES = ("bottom", "top", "resolution", "depth", "repeatability", "nominal", "tolerance")


def _with_figures(given: ScaleGiven | BlockGiven) -> dict[str, Any]:
    """The fields, with a decimal comma read as a point."""
    values = given.model_dump()
    for name in FIGURES:
        if values.get(name, "").strip():
            values[name] = f"{finite(name, values[name]):f}"
    return values


@router.post("/{instrument:path}/checks")
def check(request: Request, instrument: InstrumentName, given: CheckGiven) -> Checked:
    """Log a reading on the check block. A failed check names every case read since the last good one."""
    desk = desk_of(request)
    if not given.by.strip():
        raise InputError("a check says who made it", next_step="give your name")
    at = given.at.strip() or desk.clock().isoformat(timespec="seconds")
    outcome = log_check(desk.store, instrument, given.value, at=at, by=given.by.strip(), clock=desk.clock)
    block = f"{outcome.check.value} on a block of {outcome.check.nominal} \u00b1 {outcome.check.tolerance}"
    if outcome.check.passed:
        said = f"Check passed: {block}."
    else:
        since = (
            f"since the last good check on {outcome.last_good[:10]}"
            if outcome.last_good
            else "and it never passed before"
        )
        cases = ", ".join(outcome.cases_in_doubt) or "no case was read with it"
        said = f"Check failed: {block}. In doubt {since}: {cases}."
    return Checked(
        passed=outcome.check.passed, last_good=outcome.last_good, cases_in_doubt=list(outcome.cases_in_doubt), said=said
    )
