"""Settings: of this machine and its user, and of one case.

Contents: Settings, read_settings, user_name, write_settings (this machine: who writes, units, what is asked and kept on site,
how long cases are kept); Kept, retention (which cases are past the time they are kept); defaults_with_sources (the limits a
new case starts with). The settings of one case are entries of it: service/case_settings.py.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from desorb.core.kinds import RuleRow, Setting
from desorb.core.typed import read_value
from desorb.errors import InputError, NotUnderstood
from desorb.notebook.store import Store
from desorb.service.cases import Clock, OpenCase, case_names, load, now
from desorb.service.home import CHOICES, Units, read_tables, read_units, write_tables
from desorb.tables.defaults import default_records

LONGEST_NAME = 80
LIMITS = {
    "keep_days": (7, 3650), "contract_years": (1, 100), "deed_years": (1, 100),
}  # fmt: skip
KEPT_AS = ("contract", "deed")
CASE_YEARS = "retention years"  # the setting of a case that is kept for another time
RETENTION_NOTE = (
    "Common practice, to be checked with a lawyer of your own place: in England and Wales a claim on a simple contract can be"
    " brought for 6 years and on a deed for 12 (Limitation Act 1980, read); other times run beside these."
)


@dataclass(frozen=True, slots=True)
class Settings:
    """What this machine and its user work with. Nothing here decides a status."""

    name: str = ""  # written as `by` where nobody says another
    units: Units = field(default_factory=Units)
    plausible_step: str = (
        "3"  # a value is asked about when it is more than this many times the last one, or less than 1/this
    )
    keep_days: int = 30  # received entries stay on a device for this long
    kept_as: str = "contract"
    contract_years: int = 6
    deed_years: int = 12

    @property
    def step_in_words(self) -> str:
        return (
            f"A value more than {self.plausible_step} times the last one at the same spot, or less than 1/{self.plausible_step}"
            " of it, is asked about beside the field and can be kept as it is. Setting of ours, no source."
        )

    @property
    def years(self) -> int:
        return self.contract_years if self.kept_as == "contract" else self.deed_years


def read_settings(home: Path) -> Settings:
    """The settings of this machine; what the file does not say is as it comes."""
    tables = read_tables(home)
    found = {**tables.get("person", {}), **tables.get("site", {}), **tables.get("retention", {})}
    known = {name: value for name, value in found.items() if name in Settings.__dataclass_fields__ and name != "units"}
    try:
        settings = replace(Settings(units=read_units(home)), **known)
        _examine(settings)
    except (InputError, TypeError) as problem:
        if isinstance(problem, NotUnderstood):
            raise
        raise NotUnderstood(
            "the settings file could not be read", got=str(problem), next_step="mend or remove settings.toml"
        ) from problem
    return settings


def user_name(home: Path) -> str:
    """The name to offer in a form; '' where none was set, or where the settings file cannot be read."""
    try:
        return read_settings(home).name
    except NotUnderstood:
        return ""


def write_settings(home: Path, **changes: Any) -> Settings:
    """Change settings, all checked before anything is written. Units are named as in Units."""
    before = read_settings(home)
    units = {name: value for name, value in changes.items() if name in CHOICES}
    others = {name: value for name, value in changes.items() if name not in CHOICES}
    for name, value in units.items():
        if value not in CHOICES[name]:
            raise InputError(f"{name} is not shown in this unit", got=str(value), wanted=" or ".join(CHOICES[name]))
    after = replace(before, units=replace(before.units, **units), **others)
    after = replace(after, name=after.name.strip(), plausible_step=after.plausible_step.strip().replace(",", "."))
    _examine(after)
    write_tables(
        home,
        {
            "units": asdict(after.units),
            "person": {"name": after.name},
            "site": {"plausible_step": after.plausible_step, "keep_days": after.keep_days},
            "retention": {
                "kept_as": after.kept_as, "contract_years": after.contract_years, "deed_years": after.deed_years,
            },
        },
    )  # fmt: skip
    return after


def _examine(settings: Settings) -> None:
    if len(settings.name) > LONGEST_NAME or (settings.name and not settings.name.isprintable()):
        raise InputError("a name is short and printable", got=repr(settings.name[:80]), wanted="at most 80 letters")
    step = finite("the plausible step", str(settings.plausible_step))
    if not Decimal("1.2") <= step <= 100:
        raise InputError(
            "the plausible step is a number of times", got=repr(settings.plausible_step), wanted="1.2 to 100",
            next_step="below 1.2 every reading would be asked about, above 100 none",
        )  # fmt: skip
    for name, (least, most) in LIMITS.items():
        value = getattr(settings, name)
        if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
            raise InputError(
                f"{name.replace('_', ' ')} lies outside what is kept here", got=str(value), wanted=f"{least} to {most}"
            )
    if settings.kept_as not in KEPT_AS:
        raise InputError("this way of keeping is not known", got=repr(settings.kept_as), wanted=" or ".join(KEPT_AS))


@dataclass(frozen=True, slots=True)
class Kept:
    """How long a case is kept: from the day of its last entry."""

    case: str
    name: str
    last_entry: str
    years: int
    until: str  # ISO date
    past: bool


def retention(store: Store, home: Path, clock: Clock = now) -> list[Kept]:
    """For each case until when it is kept. Nothing is ever removed by time: a removal takes a person and two steps."""
    years_here = read_settings(home).years
    today = clock().date()
    kept = []
    for name, case in case_names(store).items():
        opened = OpenCase(case, name, store.opening_of(case).get("time_zone", "UTC"))
        last = max(entry.claimed_at[:10] for entry in store.entries(case))
        own = load(store, opened).setting(CASE_YEARS)
        years = int(own) if own.isdecimal() else years_here
        until = _years_after(datetime.fromisoformat(last).date(), years)
        kept.append(Kept(case, name, last, years, until.isoformat(), until < today))
    return kept


def _years_after(day: date, years: int) -> date:
    year = min(day.year + years, date.max.year)
    return date(year, 3, 1) if (day.month, day.day) == (2, 29) and not _is_leap(year) else day.replace(year=year)


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def defaults_with_sources() -> tuple[list[RuleRow], list[Setting]]:
    """What a new case starts with: rule rows and limits, each with its source."""
    records = default_records()
    return [each for each in records if isinstance(each, RuleRow)], [
        each for each in records if isinstance(each, Setting)
    ]


def finite(name: str, text: str) -> Decimal:
    """A typed number of a setting, comma or point, without exponent or bound. Raises InputError."""
    try:
        value = read_value(text)
    except NotUnderstood as problem:
        raise InputError(
            f"{name} is not a number", got=repr(text[:40]), wanted="digits with one decimal mark"
        ) from problem
    if value.bound:
        raise InputError(f"{name} is one number", got=repr(text), wanted="a figure without a bound")
    return value.number
