"""Loads the table of building materials as core records, each figure with its passport."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import fields
from functools import cache
from importlib import resources
from typing import Any

from desorb.core.materials import OURS, Figure, Material
from desorb.errors import NotFound, NotUnderstood

# ln-sd of a prior where no source gives scatter: settings of ours
SPREADS = {"spread_absorption": 0.3, "spread_vapour": 0.3, "spread_storage": 0.1}
FIGURE_KEYS = {"value", "points", "unit", "against", "condition", "source", "read"}
PASSPORT = ("unit", "condition", "source", "read")


@cache
def materials() -> Mapping[str, Material]:
    """Every material of the table by its key, in the order of the file."""
    text = resources.files("desorb.tables").joinpath("materials.toml").read_text(encoding="utf-8")
    return read_materials(text)


def material(key: str) -> Material:
    """One material by its key."""
    found = materials().get(key)
    if found is None:
        raise NotFound("there is no material with this key", got=key, wanted=", ".join(materials()))
    return found


def read_materials(text: str) -> dict[str, Material]:
    """Materials from the text of a table. A row without its passport is refused."""
    table = tomllib.loads(text)
    found: dict[str, Material] = {}
    for row in table["material"]:
        made = _material(row, table["source"])
        if made.key in found:
            raise NotUnderstood("two materials of the table share a key", got=made.key)
        found[made.key] = made
    return found


def _material(row: Mapping[str, Any], sources: Mapping[str, Mapping[str, str]]) -> Material:
    known = {field.name for field in fields(Material)}
    if unknown := set(row) - known:
        raise NotUnderstood(
            f"material {row.get('key')}: a name the table does not know", got=", ".join(sorted(unknown))
        )
    values: dict[str, Any] = {}
    for name, value in row.items():
        if name == "gaps":
            values[name] = tuple(value.items())
        elif isinstance(value, dict):
            values[name] = _figure(f"{row.get('key')}, {name}", value, sources)
        else:
            values[name] = tuple(value) if isinstance(value, list) else value
    for name, spread in SPREADS.items():
        values.setdefault(name, _setting(spread, sources))
    return Material(**values)


def _setting(spread: float, sources: Mapping[str, Mapping[str, str]]) -> Figure:
    source = sources["SETTING"]
    return Figure("ln-sd", source["words"], OURS, spread, condition="no scatter read", edition=source["edition"])


def _figure(place: str, row: Mapping[str, Any], sources: Mapping[str, Mapping[str, str]]) -> Figure:
    lacking = [name for name in PASSPORT if name not in row]
    if lacking or set(row) - FIGURE_KEYS:
        raise NotUnderstood(
            f"{place}: a figure without its whole passport, or with more",
            got=", ".join(row),
            wanted=", ".join(PASSPORT),
        )
    if row["source"] not in sources:
        raise NotUnderstood(
            f"{place}: a source the table does not know", got=str(row["source"]), wanted=", ".join(sources)
        )
    source = sources[row["source"]]
    points = tuple((float(x), float(y)) for x, y in row.get("points", ()))
    value = float(row["value"]) if "value" in row else None
    return Figure(
        row["unit"], f"{source['words']} [{row['source']}]", row["read"], value, points, row.get("against", ""),
        row["condition"], source["edition"],
    )  # fmt: skip
