"""What a method found, in a form that page, report, command and API show alike.

Contents: Table; Shown. Everything is text made by the method; whoever shows it adds no word and leaves none out.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under their columns; every row has as many cells as there are columns."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a small chart over a common axis: `label` with its points (x, y) as text, in the units of Plot."""

    label: str
    points: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Plot:
    """Lines of one quantity in one unit; never two scales on one axis."""

    title: str
    x: str  # axis with its unit
    y: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """One test, sample, or table. `words` is the result in a sentence; `next_steps` is never empty while it is open."""

    kind: str  # floor test, sample, wall profile, leak test, causes, two instruments
    id: str
    title: str
    zone: str
    status: str  # short; '' where there is no result
    words: str
    cautions: tuple[str, ...] = ()  # shown first
    plan: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    plots: tuple[Plot, ...] = ()
    notes: tuple[str, ...] = ()
    next_steps: tuple[str, ...] = ()
    rests_on: tuple[str, ...] = ()  # entries
