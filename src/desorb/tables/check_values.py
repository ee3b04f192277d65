"""Loads the check values of the transport engine: tables/physics, whose README says where each was read.

Contents: physics_tables.
"""

from __future__ import annotations

import csv
from importlib import resources

Rows = list[dict[str, str]]


def physics_tables() -> dict[str, Rows]:
    """Rows by the name of their file."""
    folder = resources.files("desorb.tables").joinpath("physics")
    files = sorted((file for file in folder.iterdir() if file.name.endswith(".csv")), key=lambda file: file.name)
    return {
        file.name.removesuffix(".csv"): list(csv.DictReader(file.read_text(encoding="utf-8").splitlines()))
        for file in files
    }
