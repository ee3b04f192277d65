"""Settings of this machine and of one case; until when cases are kept.

Contents: the router.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Literal

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field

from desorb.core.kinds import RuleRow
from desorb.service.case_settings import change_rule_row, change_setting, settings_in_force
from desorb.service.cases import load
from desorb.service.settings import RETENTION_NOTE, read_settings, retention, write_settings
from desorb.web.desk import desk_of
from desorb.web.parameters import CaseId, Figure, Form, Line

router = APIRouter(tags=["settings"])


class UnitsShown(BaseModel):
    """Units at the door; everything is kept in SI and degC."""

    temperature: str
    humidity_ratio: str
    length: str


class SettingsShown(BaseModel):
    """Settings of this machine."""

    name: str
    units: UnitsShown
    plausible_step: str
    plausible_words: str
    keep_days: int
    kept_as: str
    contract_years: int
    deed_years: int
    note: str
    said: str = ""


class SettingsChanged(Form):
    """Only what is given is changed."""

    name: Line | None = None
    temperature: Literal["degC", "degF"] | None = None
    humidity_ratio: Literal["g/kg", "grains/lb"] | None = None
    length: Literal["m", "ft"] | None = None
    plausible_step: Figure | None = None
    keep_days: int | None = Field(default=None, ge=0, le=100_000)
    kept_as: Literal["contract", "deed"] | None = None
    contract_years: int | None = Field(default=None, ge=0, le=10_000)
    deed_years: int | None = Field(default=None, ge=0, le=10_000)


class CaseKept(BaseModel):
    """Until when a case is kept. Past that day it is shown; only a person removes anything, in two steps."""

    case: str
    name: str
    last_entry: str
    years: int
    until: str
    past: bool


class SettingShown(BaseModel):
    """A setting of a case as last entered, and what it was before."""

    key: str
    value: str
    unit: str
    source: str
    by: str
    entry: str
    before: list[str]


class RuleRowShown(BaseModel):
    """How a class of scales behaves, as entered in this case."""

    entry: str
    scale_class: str
    on_logarithms: bool
    class_spread: str
    margin: str
    repeatability: str
    source: str
    by: str
    in_force: bool


class CaseSettings(BaseModel):
    """All settings and rule rows of a case."""

    settings: list[SettingShown]
    rule_rows: list[RuleRowShown]


class SettingGiven(Form):
    """One setting with its source and who set it."""

    key: Line
    value: Figure
    source: Line
    by: Line


class RuleRowGiven(Form):
    """One row: ratios on logarithms (0.10 is 10 %), points of the scale otherwise."""

    scale_class: Line
    on_logarithms: bool
    class_spread: Figure
    margin: Figure
    repeatability: Figure
    source: Line
    by: Line


class Changed(BaseModel):
    """What was done, and what a reader should know of it."""

    said: str
    warnings: list[str]


def _shown(request: Request, said: str = "") -> SettingsShown:
    settings = read_settings(desk_of(request).home)
    return SettingsShown(**asdict(settings), plausible_words=settings.step_in_words, note=RETENTION_NOTE, said=said)


@router.get("/api/settings")
def get_settings(request: Request) -> SettingsShown:
    """The settings of this machine."""
    return _shown(request)


@router.post("/api/settings")
def change_settings(request: Request, changed: SettingsChanged) -> SettingsShown:
    """Change settings of this machine. Cases keep their own."""
    write_settings(desk_of(request).home, **changed.model_dump(exclude_none=True))
    return _shown(request, "The settings of this machine were changed.")


@router.get("/api/retention")
def get_retention(request: Request) -> list[CaseKept]:
    """Until when each case is kept, from its last entry."""
    desk = desk_of(request)
    return [CaseKept(**asdict(kept)) for kept in retention(desk.store, desk.home, desk.clock)]


@router.get("/api/cases/{case}/settings")
def get_case_settings(request: Request, case: CaseId) -> CaseSettings:
    """Settings and rule rows of a case, with entry and source."""
    desk = desk_of(request)
    folded = load(desk.store, desk.case(case))
    settings = [
        SettingShown(
            **{name: getattr(each, name) for name in SettingShown.model_fields} | {"before": list(each.before)}
        )
        for each in settings_in_force(folded)
    ]
    rows = [
        RuleRowShown(
            entry=each.entry, in_force=each.record is folded.rule_row(each.record.scale_class), **asdict(each.record)
        )
        for each in folded.rule_rows
    ]
    return CaseSettings(settings=settings, rule_rows=rows)


@router.post("/api/cases/{case}/settings")
def post_case_setting(request: Request, case: CaseId, given: SettingGiven) -> Changed:
    """Set a value for this case: an entry with its source. A limit without a source is refused."""
    desk = desk_of(request)
    warnings = change_setting(desk.store, desk.case(case), clock=desk.clock, **given.model_dump())
    return _changed(given.key, warnings)


@router.post("/api/cases/{case}/rule-rows")
def post_rule_row(request: Request, case: CaseId, given: RuleRowGiven) -> Changed:
    """Say how a class of scales behaves in this case: an entry with its source."""
    desk = desk_of(request)
    warnings = change_rule_row(desk.store, desk.case(case), RuleRow(**given.model_dump()), desk.clock)
    return _changed(given.scale_class, warnings)


def _changed(what: str, warnings: list[str]) -> Changed:
    return Changed(
        said=" ".join(
            [f"{what}: written down." if not _stands(warnings) else "", *(f"Note: {words}." for words in warnings)]
        ).strip(),
        warnings=warnings,
    )


def _stands(warnings: list[str]) -> bool:
    return bool(warnings) and warnings[0].endswith("nothing was written")
