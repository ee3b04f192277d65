"""Where things are kept, and the units a person sees at the door.

Contents: home_folder; open_store; the settings file (units per user); Units.
"""

from __future__ import annotations

import os
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

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


def read_units(home: Path) -> Units:
    path = _settings_file(home)
    if not path.exists():
        return Units()
    try:
        return Units(**tomllib.loads(path.read_text(encoding="utf-8")).get("units", {}))
    except (tomllib.TOMLDecodeError, TypeError, UnicodeDecodeError) as problem:
        raise NotUnderstood(
            "the settings file could not be read", got=str(problem), next_step="mend or remove settings.toml"
        ) from problem


def write_units(home: Path, **changes: str) -> Units:
    """Change the units of this user, all checked before anything is written."""
    units = read_units(home)
    for name, value in changes.items():
        if value not in CHOICES[name]:
            raise InputError(f"{name} is not shown in this unit", got=value, wanted=" or ".join(CHOICES[name]))
    changed = Units(**({name: getattr(units, name) for name in CHOICES} | changes))
    home.mkdir(parents=True, exist_ok=True)
    lines = ["[units]", *(f'{name} = "{getattr(changed, name)}"' for name in CHOICES)]
    _settings_file(home).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return changed
