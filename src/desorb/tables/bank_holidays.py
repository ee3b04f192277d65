"""Loads the bank holidays by country, each calendar with its source.

Contents: calendars.
"""

from __future__ import annotations

import tomllib
from datetime import date
from functools import cache
from importlib import resources

from desorb.core.time_limits import Calendar


@cache
def calendars() -> dict[str, Calendar]:
    """Every calendar by its key."""
    text = resources.files("desorb.tables").joinpath("bank_holidays.toml").read_text(encoding="utf-8")
    found = {}
    for row in tomllib.loads(text)["calendar"]:
        days = {date.fromisoformat(day): name for day, name in row.pop("days").items()}
        found[row["key"]] = Calendar(**row, days=days)
    return found
