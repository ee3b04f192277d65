"""Where things are kept, and the units a person sees at the door.

Contents: home_folder; open_store; the settings file, table by table; Units (per user).
"""

from __future__ import annotations

import json
import os
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from desorb.errors import InputError, NotUnderstood
from desorb.notebook.store import Store
from desorb.units import fahrenheit_from_celsius, feet_from_metres, grains_per_pound_from_g_per_kg

CHOICES = {"temperature": ("degC", "degF"), "humidity_ratio": ("g/kg", "grains/lb"), "length": ("m", "ft")}


def home_folder(chosen: str | Path | None = None) -> Path:
    """--home, else DESORB_HOME, else 'desorb' under the user's data folder."""
    if chosen:
        return Path(chosen)
    if os.environ.get("DESORB_HOME"):
        return Path(os.environ["DESORB_HOME"])
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home())) / "desorb"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "desorb"
    return Path(os.environ.get("XDG_DATA_HOME", Path.home() / ".local" / "share")) / "desorb"


def open_store(home: str | Path | None = None) -> Store:
    """Open the store, and refuse settings under which acknowledged entries could be lost."""
    store = Store(home_folder(home))
    store.assert_durable()
    return store


@dataclass(frozen=True, slots=True)
class Units:
    """The units shown at the door. Inside the house everything is SI and degC."""

    temperature: str = "degC"
    humidity_ratio: str = "g/kg"
    length: str = "m"

    def show_temperature(self, celsius: float) -> str:
        value = celsius if self.temperature == "degC" else fahrenheit_from_celsius(celsius)
        return f"{value:.1f} {self.temperature}"

    def show_humidity_ratio(self, g_per_kg: float) -> str:
        if self.humidity_ratio == "g/kg":
            return f"{g_per_kg:.2f} g/kg"
        return f"{grains_per_pound_from_g_per_kg(g_per_kg):.1f} grains/lb"

    def show_length(self, metres: float) -> str:
        value = metres if self.length == "m" else feet_from_metres(metres)
        return f"{value:.2f} {self.length}"


def _settings_file(home: Path) -> Path:
    return home / "settings.toml"


def read_tables(home: Path) -> dict[str, dict[str, Any]]:
    """The settings file of this machine: its tables by name; empty where nothing was set."""
    path = _settings_file(home)
    if not path.exists():
        return {}
    try:
        loaded = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise _unreadable(problem) from problem
    return {name: table for name, table in loaded.items() if isinstance(table, dict)}


def write_tables(home: Path, changed: dict[str, dict[str, Any]]) -> None:
    """Put whole tables into the settings file; the others stay. The file is replaced in one step."""
    tables = read_tables(home) | changed
    lines = []
    for name, table in tables.items():
        # A JSON string is a TOML basic string, as long as no control character stands in it as itself.
        lines += [f"[{name}]", *(f"{key} = {json.dumps(value)}" for key, value in table.items()), ""]
    home.mkdir(parents=True, exist_ok=True)
    waiting = home / "settings.toml.new"
    waiting.write_text("\n".join(lines), encoding="utf-8")
    os.replace(waiting, _settings_file(home))


def _unreadable(problem: Exception) -> NotUnderstood:
    return NotUnderstood(
        "the settings file could not be read", got=str(problem), next_step="mend or remove settings.toml"
    )


def read_units(home: Path) -> Units:
    table = read_tables(home).get("units", {})
    try:
        units = Units(**table)
    except TypeError as problem:
        raise _unreadable(problem) from problem
    for name, known in CHOICES.items():
        if getattr(units, name) not in known:
            raise _unreadable(ValueError(f"{name} = {getattr(units, name)!r}"))
    return units


def write_units(home: Path, **changes: str) -> Units:
    """Change the units of this user, all checked before anything is written."""
    units = read_units(home)
    for name, value in changes.items():
        if value not in CHOICES[name]:
            raise InputError(f"{name} is not shown in this unit", got=value, wanted=" or ".join(CHOICES[name]))
    changed = Units(**({name: getattr(units, name) for name in CHOICES} | changes))
    write_tables(home, {"units": {name: getattr(changed, name) for name in CHOICES}})
    return changed
