"""The guide to tables and sheets that 'desorb take --columns' prints: the same text as docs/manual/tables.md."""

from __future__ import annotations

from dataclasses import MISSING, fields

from desorb.core.gates import GATES
from desorb.core.kinds import CLAIMS, COVERINGS, PRINCIPLES
from desorb.notebook.schema import RECORD_OF_KIND
from desorb.service.rows import AIR, READINGS, RowReader
from desorb.service.sheet import NOT_IN_A_SHEET

MEANING = {
    "id": "your own id of the row; with it, a changed row is seen as a correction",
    "visit": "v1, v2 ...; a new one is begun by its first row",
    "taken_at": "2026-03-02T10:05, site time unless an offset is given",
    "spot": "id of the fixed measuring place; the same place keeps its id",
    "zone": "a zone described in a sheet (needed for a new spot)",
    "element": "floor, north wall, joists ... (needed for a new spot)",
    "role": "control (sound, unaffected) or survey; only said once for each spot",
    "place": "where the spot is, in words",
    "why_unaffected": "why a control is taken to be sound",
    "instrument": "id of an instrument described with 'desorb instrument FILE.toml'",
    "scale": "your word for one of its scales",
    "scale_shown": "what the instrument itself showed as its scale: at the start of a sweep, after a pause, after a change."
    " Without it nothing of the sweep can be 'no higher than control'",
    "value": "one number as the instrument showed it, or repeats separated by spaces; >=6.9 for a display at its end",
    "covering": "what lies between the instrument and the material: bare, paint, paper, vinyl ... or 'other: your words'",
    "preparation": "as found, cleaned, abraded",
    "finish": "power-floated, trowelled ...",
    "species": "of the wood, as the instrument's table names it",
    "kind": "outside, affected, unaffected, void, inlet, outlet",
    "relative_humidity": "% RH as shown",
    "surface_method": "contact, or infrared with emissivity",
    "settled_minutes": "how long the probe had been there",
}


EXAMPLE = """## A whole example (invented)

`instruments.toml`, described once for the store with `desorb instrument instruments.toml`:

```toml
[[instrument]]
id = "m1"
words = "surface meter with sprung contacts"
serial = "0417"

[[instrument.scales]]
key = "comparative"
principle = "capacitance"
claims = "comparative"
bottom = "0"
top = "100"
resolution = "1"
repeatability = "1"
face = "scale of 100"

[[instrument.block]]
scale = "comparative"
nominal = "60"
tolerance = "3"
interval_days = 30
```

`desorb check m1 60 --at 2026-03-02T08:00+00:00` logs the check on the block.

`sheet.toml`, taken with `desorb take CASE sheet.toml`:

```toml
[[construction]]
id = "slab"
words = "1996 slab with floating screed"
material = "cement screed"
built = "1996"

[[zone]]
id = "kitchen"
words = "kitchen"
construction = "slab"
affected = "yes"

[[zone]]
id = "utility"
words = "utility room"
construction = "slab"
affected = "no"
```

`readings.csv`, taken with `desorb take CASE readings.csv`:

```csv
visit,taken_at,spot,zone,element,role,instrument,scale,scale_shown,value,covering
v1,2026-03-02T10:00,u1,utility,floor,control,m1,comparative,scale of 100,18,bare
v1,2026-03-02T10:02,u2,utility,floor,control,m1,comparative,,16,bare
v1,2026-03-02T10:04,u3,utility,floor,control,m1,comparative,,19,bare
v1,2026-03-02T10:06,k1,kitchen,floor,survey,m1,comparative,,54 55 53,bare
```
"""


def _shown(column: str) -> str:
    """Columns are read without regard to case; they are shown as units are written."""
    for folded, written in (("_degc", "_degC"), ("_degf", "_degF"), ("_hpa", "_hPa")):
        column = column.replace(folded, written)
    return column


def guide() -> str:
    """The whole guide as plain text (Markdown)."""
    parts = [
        "# Tables and sheets",
        "A table is a CSV file (comma, semicolon or tab; UTF-8, UTF-16 or CP1252; comma or point as decimal mark) whose"
        " first row names columns. Rows that do not fit are named by row, column, what was got and what is wanted; the"
        " others are kept. Taking a file twice adds nothing. A row without spot, instrument, scale or covering is kept as a"
        " note: a number without its context is no evidence.",
        "",
        "## Readings",
        _columns(READINGS),
        "",
        "## Air readings",
        _columns(AIR),
        "",
        "## Instruments and their scales",
        f"Described in a sheet with `[[instrument]]`, for the store: `desorb instrument FILE.toml`. Principles:"
        f" {', '.join(PRINCIPLES)}. What a number claims: {', '.join(CLAIMS)}. Bottom, top and resolution are part of a scale."
        " `face` is what the instrument shows when it is set to this scale; `scale_shown` is compared with it.",
        "",
        "## Sheets",
        "A sheet is a TOML file of tables, each one kind of record; parts marked * must be filled in.",
        *_sheet_parts(),
        "",
        f"Gates: {', '.join(GATES)}. Coverings: {', '.join(COVERINGS)}.",
        "",
        "A control must share construction, material, covering, preparation, finish, depth, scale and instrument with the"
        " spot, and be read in the same visit or within 24 hours; at least three are needed.",
        "",
        EXAMPLE,
    ]
    return "\n".join(parts)


def _columns(reader: RowReader) -> str:
    lines = []
    for column in reader.columns:
        must = " *" if column in reader.required else ""
        meaning = MEANING.get(column, "")
        lines.append(f"- `{_shown(column)}`{must}{': ' + meaning if meaning else ''}")
    return "\n".join(lines)


def _sheet_parts() -> list[str]:
    lines = []
    for kind, record in RECORD_OF_KIND.items():
        if kind in NOT_IN_A_SHEET:
            continue
        parts = ", ".join(f"{part.name}{'*' if part.default is MISSING else ''}" for part in fields(record))
        if kind == "photo":
            parts = f"file* (beside the sheet), {parts.replace('sha256*, media_type*, size*, ', '')}"
        if kind == "unit-reading":
            parts = parts.replace("key*", "key")  # made of unit, visit and time where it is left out
        lines.append(f"- `[[{kind.replace('-', '_')}]]` {parts}")
    return lines
