"""Reading a table somebody typed: CSV with comma, semicolon or tab; UTF-8, UTF-16 or CP1252; comma or point.

Contents: RowProblem; Table; read_table. What was assumed is said; nothing is guessed silently.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection
from dataclasses import dataclass, field

from desorb.errors import NotUnderstood

LARGEST_FILE = 50 * 1024 * 1024
LONGEST_CELL = 10_000
MOST_ROWS = 200_000


@dataclass(frozen=True, slots=True)
class RowProblem:
    """A row, or a cell of it, that could not be taken: which, what was got, what is wanted."""

    row: int
    column: str
    got: str
    wanted: str

    def __str__(self) -> str:
        if self.column.startswith("[["):  # a sheet: what is wrong is a sentence of its own
            return f"row {self.row} of {self.column}: got {self.got}: {self.wanted}"
        return f"row {self.row}, column {self.column}: got {self.got}; wanted {self.wanted}"


@dataclass(slots=True)
class Table:
    columns: list[str]
    rows: list[tuple[int, dict[str, str]]] = field(default_factory=list)  # (line in the file, cells)
    problems: list[RowProblem] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)


def decode(content: bytes) -> tuple[str, str]:
    """Text and what was assumed about it."""
    if len(content) > LARGEST_FILE:
        raise NotUnderstood("the file is too large", got=f"{len(content)} bytes", wanted=f"at most {LARGEST_FILE}")
    for mark, encoding in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"), (b"\xef\xbb\xbf", "utf-8-sig")):
        if content.startswith(mark):
            try:
                return content.decode(encoding), ""
            except UnicodeDecodeError as problem:
                raise NotUnderstood(f"the file starts as {encoding} and is not: {problem}") from problem
    try:
        return content.decode("utf-8"), ""
    except UnicodeDecodeError:
        pass
    try:
        return content.decode("cp1252"), "the file is not UTF-8; it was read as CP1252 (Western European)"
    except UnicodeDecodeError as problem:
        raise NotUnderstood(
            "the letters of the file could not be read",
            got=str(problem),
            next_step="save it as UTF-8 and take it again",
        ) from problem


def read_table(content: bytes, known: Collection[str], required: Collection[str]) -> Table:
    """Read a CSV table whose first row names columns. Unknown columns are said and left alone.

    Raises NotUnderstood when no row can be read at all (no header, a NUL byte, an unclosed quote).
    """
    text, assumed = decode(content)
    if "\0" in text:
        raise NotUnderstood("the file holds a NUL byte: it is not a table of text", next_step="export it as CSV")
    lines = text.splitlines()
    if not lines:
        raise NotUnderstood("the file is empty", wanted=f"a first row with {', '.join(required)}")
    if len(lines[0]) > LONGEST_CELL:
        raise NotUnderstood("the first row is too long to hold column names", got=f"{len(lines[0])} characters")
    delimiter = max(",;\t", key=lambda mark: len(_names(lines[0], mark) & set(known)))
    names = [name.strip().casefold() for name in next(csv.reader([lines[0]], delimiter=delimiter))]
    missing = [name for name in required if name not in names]
    if missing:
        raise NotUnderstood(
            f"the first row lacks the column{'s' if len(missing) > 1 else ''} {', '.join(missing)}",
            got=lines[0][:200], wanted="column names in the first row, separated by comma, semicolon or tab",
            next_step="see docs/manual/tables.md, or run 'desorb take --columns'",
        )  # fmt: skip
    repeated = sorted({name for name in names if name and names.count(name) > 1})
    if repeated:
        raise NotUnderstood("a column name stands twice", got=", ".join(repeated))
    table = Table(names, assumed=[assumed] if assumed else [])
    unknown = [name for name in names if name and name not in known]
    if unknown:
        table.assumed.append(f"columns not known and left alone: {', '.join(unknown)}")
    _read_rows(text, delimiter, names, table)
    if not table.rows and not table.problems:
        raise NotUnderstood(
            "the table has a first row and nothing below it", next_step="fill in rows and take it again"
        )
    return table


def _names(line: str, delimiter: str) -> set[str]:
    return {name.strip().casefold() for name in next(csv.reader([line], delimiter=delimiter), [])}


def _read_rows(text: str, delimiter: str, names: list[str], table: Table) -> None:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    started, short = 0, list[int]()
    while True:
        row_number = started + 1
        try:
            cells = next(reader)
        except StopIteration:
            break
        except csv.Error as problem:
            raise NotUnderstood(
                f"row {row_number} could not be read: {problem}",
                next_step="look for a quotation mark that is not closed; nothing of the file was taken",
            ) from problem
        started = reader.line_num
        if row_number == 1 or not any(cell.strip() for cell in cells):
            continue
        if len(table.rows) >= MOST_ROWS:
            raise NotUnderstood("the file has too many rows", wanted=f"at most {MOST_ROWS} in one file")
        if any(cell.strip() for cell in cells[len(names) :]):
            found = f"{len(cells)} cells"
            table.problems.append(
                RowProblem(row_number, "(the whole row)", found, f"{len(names)}; quote a value that holds a comma")
            )
            continue
        if any(len(cell) > LONGEST_CELL for cell in cells):
            table.problems.append(RowProblem(row_number, "(the whole row)", "a very long cell", "less text"))
            continue
        if len(cells) < len(names):
            short.append(row_number)
        filled = cells + [""] * (len(names) - len(cells))
        table.rows.append((row_number, {name: cell.strip() for name, cell in zip(names, filled, strict=False) if name}))
    if short:
        more = f" and {len(short) - 3} more" if len(short) > 3 else ""
        rows = f"{', '.join(map(str, short[:3]))}{more}"
        table.assumed.append(f"rows with fewer cells than the first row: {rows}; the last ones were taken as empty")
