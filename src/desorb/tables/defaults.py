"""Loads the defaults with their passports, as the records that a new case writes down."""

from __future__ import annotations

import tomllib
from importlib import resources

from desorb.core.kinds import RuleRow, Setting


def default_records() -> list[RuleRow | Setting]:
    """Rule rows, then settings, in the order of the file."""
    text = resources.files("desorb.tables").joinpath("defaults.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    rows: list[RuleRow | Setting] = [RuleRow(**row) for row in table["rule_row"]]
    return rows + [Setting(**row) for row in table["setting"]]
