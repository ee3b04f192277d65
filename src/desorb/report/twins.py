"""The twins of the paper for machines: the whole dataset as JSON, and its tables as CSV.

Contents: json_twin; csv_twins; cell (how one value stands in a CSV). CSV as in RFC 4180: UTF-8, a header, CRLF, quotes
where needed. Numbers stay numbers, negative ones too; any other text that a spreadsheet could take for a formula starts
with a single quote.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from desorb.report.beside import PARTS

DANGEROUS = ("=", "+", "-", "@", "\t", "\r")
NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)")
BETWEEN = " | "  # between the parts of a list in one cell

COLUMNS: dict[str, tuple[str, ...]] = {
    "readings": (
        "entry", "visit", "spot", "place", "role", "repeats", "value", "bound", "unit", "scale", "covering",
        "preparation", "finish", "depth_from", "depth_to", "temperature", "species", "correction", "instrument",
        "taken_at", "claimed_at", "by", "note", "source", "state", "remarks", "hash",
    ),
    "air": (
        "entry", "visit", "place", "kind", "temperature", "relative_humidity", "dew_point", "wet_bulb", "humidity_ratio",
        "vapour_pressure", "vapour_pressure_excess", "absolute_humidity", "pressure", "surface_temperature",
        "surface_method", "surface_relative_humidity", "shown_dew_point", "shown_humidity_ratio", "settled_minutes",
        "cap_off", "height", "first_temperature", "first_relative_humidity", "drift_temperature", "drift_relative_humidity",
        "instrument", "taken_at", "by", "note", "source", "state", "remarks",
    ),
    "not-read": ("entry", "visit", "spot", "place", "why", "instrument", "scale", "at", "by", "state", "remarks"),
    "unit-readings": (
        "entry", "visit", "unit", "place", "hours", "collected", "energy", "taken_at", "by", "note", "source", "state",
        "remarks",
    ),
    "spots": (
        "entry", "id", "zone", "element", "place", "role", "words", "x", "y", "height", "offset_a", "offset_a_from",
        "offset_b", "offset_b_from", "why_unaffected",
    ),
    "assessments": (
        "kind", "id", "zone", "element", "place", "visit", "status", "value", "value_text", "unit", "scale", "covering",
        "instrument", "taken_at", "excess", "limit", "no_higher_up_to", "above_beyond", "prediction", "control_mean",
        "control_spread", "margin", "controls", "rule", "reasons", "other_lines", "next_test", "permission", "spots",
        "spots_not_read", "smallest_pocket", "controls_used", "controls_set_aside", "entries",
    ),
    "controls": (
        "set", "visit", "scale", "unit", "instrument", "covering", "construction", "use", "spot", "value", "repeats",
        "taken_at", "entry", "why", "control_mean", "control_spread", "above_beyond", "for_spots",
    ),
    "checks": ("entry", "instrument", "scale", "value", "nominal", "tolerance", "passed", "at", "by"),
    "gates": ("when", "gate", "zone", "place", "state", "words", "evidence", "asks", "entries"),
    "photos": (
        "entry", "sha256", "media_type", "size", "words", "place", "spot", "zone", "direction", "visit", "taken_at", "by",
        "awaited",
    ),
    "photo-marks": ("entry", "sha256", "shape", "area", "words", "at", "by"),
    "corrections": ("entry", "target", "kind", "what", "by", "at", "why", "words"),
}  # fmt: skip


BESIDE_COLUMNS = (
    "part", "kind", "id", "title", "zone", "status", "words", "cautions", "plan", "notes", "next_steps", "rests_on",
)  # fmt: skip
BESIDE_CELLS = ("part", "kind", "id", "place", "table", "row", "column", "cell")


def json_twin(document: Mapping[str, Any]) -> bytes:
    """The dataset, sorted, in UTF-8, with a newline at the end."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, sort_keys=True, indent=1)
    return f"{text}\n".encode()


def csv_twins(document: Mapping[str, Any]) -> dict[str, bytes]:
    """Name of the file and its bytes; a table without rows has its header.

    What methods and drying say has its two files only where the case has it.
    """
    rows: dict[str, Iterable[Mapping[str, Any]]] = {
        "readings": document["readings"],
        "air": document["why"]["air"],
        "not-read": document["not_read"],
        "unit-readings": document["why"]["unit_readings"],
        "spots": document["made_of"]["spots"],
        "assessments": [*document["higher"]["elements"], *document["higher"]["spots"]],
        "controls": _controls(document["controls"]),
        "checks": document["instruments"]["checks"],
        "gates": _gates(document["hurt"]),
        "photos": document["photos"],
        "photo-marks": document["photo_marks"],
        "corrections": document["record"]["corrections"],
    }
    tables = {f"{name}.csv": _table(COLUMNS[name], rows[name]) for name in COLUMNS}
    shown = [(title, each) for name, title in PARTS.items() for each in document.get(name, ())]
    if shown:
        tables["beside.csv"] = _table(BESIDE_COLUMNS, [{**each, "part": title} for title, each in shown])
        tables["beside-cells.csv"] = _table(BESIDE_CELLS, _cells(shown))
    return tables


def _cells(shown: Sequence[tuple[str, Mapping[str, Any]]]) -> list[dict[str, Any]]:
    """One row for each cell of each table, and for each point of each plot."""
    found = []
    for title, each in shown:
        shared = {"part": title, "kind": each["kind"], "id": each["id"]}
        for table, content in enumerate(each["tables"], 1):
            found += [
                shared | {"place": "table", "table": table, "row": row, "column": column, "cell": said}
                for row, cells in enumerate(content["rows"], 1)
                for column, said in zip(content["columns"], cells, strict=True)
            ]
        for number, plot in enumerate(each["plots"], 1):
            found += [
                shared | {"place": f"plot: {line['label']}", "table": number, "row": row, "column": axis, "cell": said}
                for line in plot["lines"]
                for row, point in enumerate(line["points"], 1)
                for axis, said in zip((plot["x"], plot["y"]), point, strict=True)
            ]
    return found


def _controls(groups: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """One row for each control of each set: used, set aside, or refused with the field that differs."""
    rows = []
    for number, group in enumerate(groups, 1):
        names = ("visit", "scale", "unit", "instrument", "covering", "construction", "control_mean", "control_spread",
                 "above_beyond")  # fmt: skip
        shared = {"set": number, "for_spots": group["spots"]} | {name: group[name] for name in names}
        rows += [
            shared | {name: used.get(name, "") for name in ("spot", "value", "repeats", "taken_at", "entry")}
            | {"use": "set aside" if used["set_aside"] else "used", "why": used.get("why_unaffected", "")}
            for used in group["used"]
        ]  # fmt: skip
        rows += [
            shared | {"use": "refused", "spot": spot, "why": refused["words"]}
            for refused in group["refused"]
            for spot in refused["spots"]
        ]
    return rows


def _gates(hurt: Mapping[str, Any]) -> list[dict[str, Any]]:
    return [
        {**row, "when": when}
        for when, name in (("on arrival", "gates"), ("before the next steps", "gates_of_next_steps"))
        for row in hurt[name]
    ]


def _table(columns: Sequence[str], rows: Iterable[Mapping[str, Any]]) -> bytes:
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([cell(row.get(column)) for column in columns])
    return buffer.getvalue().encode("utf-8")


def cell(value: Any) -> str:
    """One value in a CSV. A number as typed stays as typed; a text that could run as a formula is made harmless."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return repr(value)
    text = BETWEEN.join(str(part) for part in value) if isinstance(value, (list, tuple)) else str(value)
    return f"'{text}" if text.startswith(DANGEROUS) and not NUMBER.fullmatch(text) else text
