"""What the methods beside the scan and the drying say, as plain data: two parts of the same form, and a word for the owner.

Contents: PARTS; beside_part (one part of the dataset); plots_of (its charts, by key); values_of (of a chart);
owner_lines (for the owner part).
A case without them has no such part: its dataset and its paper stay as they are.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from desorb.core.shown import Shown
from desorb.report.words import counted, shortened

PARTS = {"methods": "Methods beside the scan", "drying": "Drying under way"}
MOST_NAMED = 6  # tests named to the owner; the others are counted
LONGEST_NAME, LONGEST_STATUS = 60, 40


def beside_part(name: str, found: Iterable[Shown]) -> list[dict[str, Any]]:
    """Each `Shown` as it is, word for word; a plot has its key and says in words what it draws."""
    rows = []
    for number, each in enumerate(found, start=1):
        row: dict[str, Any] = asdict(each)
        for place, plot in enumerate(row["plots"], start=1):
            plot["key"] = f"{name}-{number}-{place}"
            plot["alt"] = _alt(plot)
        rows.append(_lists(row))
    return rows


def _lists(value: Any) -> Any:
    """Lists for tuples, as JSON gives them back."""
    if isinstance(value, dict):
        return {key: _lists(part) for key, part in value.items()}
    return [_lists(part) for part in value] if isinstance(value, (tuple, list)) else value


def _alt(plot: Mapping[str, Any]) -> str:
    lines = [f"{label}: {words}." for label, words in values_of(plot)]
    return " ".join([f"{plot['title']}: {plot['y']} against {plot['x']}.", *lines])


def values_of(plot: Mapping[str, Any]) -> list[list[str]]:
    """Each label once with its points in words; pieces of one course stand apart, because they are not joined."""
    pieces: dict[str, list[str]] = {}
    for line in plot["lines"]:
        pieces.setdefault(line["label"], []).append(points_in_words(line))
    return [[label, " | ".join(words)] for label, words in pieces.items()]


def points_in_words(line: Mapping[str, Any]) -> str:
    """'70 mm: 72.4; ...': x and y of each point as they were given."""
    return "; ".join(f"{x}: {y}" for x, y in line["points"]) or "no point"


def plots_of(document: Mapping[str, Any]) -> list[dict[str, Any]]:
    return [plot for name in PARTS for row in document.get(name, ()) for plot in row["plots"]]


def owner_lines(methods: Sequence[Shown], drying: Sequence[Shown]) -> list[str]:
    """How many, what they say, and what is open; '' of a result is said as 'no result yet'."""
    said = (("Beside the scan", "test or table", "tests or tables", methods),
            ("On the drying", "question", "questions", drying))  # fmt: skip
    return [_owner_line(begin, one, many, found) for begin, one, many, found in said if found]


def _owner_line(begin: str, one: str, many: str, found: Sequence[Shown]) -> str:
    results = [
        f"{shortened(each.title, LONGEST_NAME)}: {shortened(each.status, LONGEST_STATUS) or 'no result yet'}"
        for each in found[:MOST_NAMED]
    ]
    if len(found) > MOST_NAMED:
        results.append(f"{len(found) - MOST_NAMED} more in the evidence part")
    is_open = sum(bool(each.next_steps) for each in found)
    left = f"{counted(is_open, 'names', 'name')} a next step." if is_open else "None names a next step."
    cautions = " Read its cautions first." if any(each.cautions for each in found) else ""
    return (
        f"{begin}, {counted(len(found), one, many)}. {'; '.join(results)}. {left} Each result stands in the evidence"
        f" part with its test.{cautions}"
    )
