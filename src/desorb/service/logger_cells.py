"""The cells of a logger file: what the reader stated about them, and one block of lines as columns of numbers.

Contents: Columns - Stated - require_stated; Block - read_block. A row that lacks time, temperature or humidity is not
understood; a surface temperature may lack and is then NaN.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from desorb.core.saturation import Array
from desorb.errors import InputError, OutOfRange
from desorb.service.logger_clock import FORMAT_WANTED, UNREAD, TimeFormat, parse_times, time_format
from desorb.service.tables_in import RowProblem
from desorb.units import SECONDS_PER_DAY

TEMPERATURE_UNITS = ("C", "F")
HUMIDITY_UNITS = ("percent", "fraction")
LARGEST_CLOCK_OFFSET = 400 * SECONDS_PER_DAY  # s, setting of ours: a clock set to the wrong year
PROBLEMS_OF_A_BLOCK = 20
WHOLE_ROW = "(the whole row)"
_NUMBER = re.compile(r"([+-]?\d+(?:[.,]\d*)?|[+-]?[.,]\d+)\s*(%|°?\s?[CF])")
_UNIT_IN_NAME = re.compile(
    r"°\s*([CF])\b|[(\[]\s*(?:deg\.?\s*)?([CF])\s*[)\]]|\bdeg\.?\s*([CF])\b|\b(Celsius|Fahrenheit)\b"
)


@dataclass(frozen=True, slots=True)
class Columns:
    """Which column holds what, by the names in the file. date: only where day and hour stand in two columns."""

    time: str
    temperature: str
    relative_humidity: str
    surface_temperature: str = ""
    date: str = ""

    def named(self) -> list[str]:
        """The names that must stand in the file."""
        every = (self.date, self.time, self.temperature, self.relative_humidity, self.surface_temperature)
        return [name for name in every if name]


@dataclass(frozen=True, slots=True)
class Stated:
    """What the file does not say by itself. temperature_unit: C or F. humidity_unit: percent or fraction.

    zone: of the logger's clock, a name or a fixed offset. clock_offset: whole seconds that clock was ahead of true time
    (negative: behind). time_format: empty for ISO times, else such as '%d/%m/%Y %H:%M'.
    """

    columns: Columns
    temperature_unit: str
    humidity_unit: str
    zone: str
    clock_offset: int = 0
    time_format: str = ""

    def format(self) -> TimeFormat | None:
        """The stated format, ready to read with. Raises InputError."""
        return time_format(self.time_format) if self.time_format else None

    def require_header_agrees(self, names: Sequence[str]) -> None:
        """Raises InputError where the name of a temperature column carries the other unit."""
        for name in (self.columns.temperature, self.columns.surface_temperature):
            found = _UNIT_IN_NAME.search(name) if name in names else None
            letter = next(group for group in found.groups() if group)[0] if found else self.temperature_unit
            if letter != self.temperature_unit:
                raise InputError(
                    "the unit that was stated is not the one in the column's name",
                    got=f"{name!r} and {self.temperature_unit}", wanted="one unit of temperature",
                    next_step="look at a value of the file: a room is near 20 degC or 68 degF; then state that unit",
                )  # fmt: skip

    def hint(self, column: str) -> str:
        """What to do where most rows fail by this column."""
        if column == WHOLE_ROW:
            return "if numbers have decimal commas, write the file out with semicolons or tabs between columns"
        if column == self.columns.time:
            return f"state how times are written: {FORMAT_WANTED}"
        return "check the columns and units that were stated against a row of the file"


def require_stated(stated: Stated, longest_gap: float) -> None:
    """Raises InputError where something is not stated that a number would be worthless without."""
    columns = stated.columns
    if not (columns.time and columns.temperature and columns.relative_humidity):
        raise InputError(
            "a column is not named", got=", ".join(columns.named()) or "none", wanted="time, temperature and humidity",
            next_step="open the file and name its columns",
        )  # fmt: skip
    if len(set(columns.named())) != len(columns.named()):
        raise InputError(
            "one column is named for two things", got=", ".join(columns.named()), wanted="a column for each",
            next_step="open the file and name its columns",
        )  # fmt: skip
    for what, got, wanted in (
        ("temperature", stated.temperature_unit, TEMPERATURE_UNITS),
        ("relative humidity", stated.humidity_unit, HUMIDITY_UNITS),
    ):
        if got not in wanted:
            raise InputError(
                f"the unit of {what} is not stated", got=repr(got), wanted=" or ".join(wanted),
                next_step="look at the file or the logger; it is never guessed",
            )  # fmt: skip
    if abs(stated.clock_offset) > LARGEST_CLOCK_OFFSET:
        raise OutOfRange(
            "the clock offset cannot be used", got=f"{stated.clock_offset} s", wanted=f"within {LARGEST_CLOCK_OFFSET} s",
            next_step="compare the logger with a true clock and state the difference in seconds",
        )  # fmt: skip
    if not 0 < longest_gap <= 24:
        raise OutOfRange(
            "the longest gap cannot be used", got=f"{longest_gap:g} h", wanted="above 0 to 24 h",
            next_step="state the longest step between two rows that may still be trusted",
        )  # fmt: skip
    stated.format()


@dataclass(slots=True)
class Block:
    """Rows that were understood, as columns: degC and %; and the rest as counts and the first problems."""

    line: NDArray[np.int64]
    wall: NDArray[np.int64]
    own_offset: NDArray[np.int64]
    temperature: Array
    humidity: Array
    surface: Array
    problems: list[RowProblem] = field(default_factory=list)
    not_understood: int = 0
    blank: int = 0
    reasons: Counter[str] = field(default_factory=Counter)
    decimal_commas: bool = False

    def columns(self) -> list[NDArray[np.int64] | Array]:
        """In the order of the fields."""
        return [self.line, self.wall, self.own_offset, self.temperature, self.humidity, self.surface]

    @staticmethod
    def of(
        columns: Sequence[NDArray[np.int64] | Array], problems: list[RowProblem], not_understood: int, blank: int,
        reasons: Counter[str], decimal_commas: bool,
    ) -> Block:  # fmt: skip
        """`columns` backwards."""
        line, wall, own = (np.asarray(each, dtype=np.int64) for each in columns[:3])
        temperature, humidity, surface = (np.asarray(each, dtype=np.float64) for each in columns[3:])
        return Block(
            line, wall, own, temperature, humidity, surface, problems, not_understood, blank, reasons, decimal_commas
        )

    def taken(self, rows: NDArray[np.bool_] | NDArray[np.int64]) -> Block:
        """Only these rows, or in this order."""
        return Block.of(
            [column[rows] for column in self.columns()], self.problems, self.not_understood, self.blank, self.reasons,
            self.decimal_commas,
        )  # fmt: skip


def read_block(lines: list[str], first: int, delimiter: str, header: list[str], stated: Stated) -> Block:
    """Lines of the file, the first with this number, as columns of numbers."""
    problems: dict[int, RowProblem] = {}
    numbers = np.arange(first, first + len(lines), dtype=np.int64)

    def wrong(line: int, column: str, got: str, wanted: str) -> None:
        problems.setdefault(line, RowProblem(line, column, repr(got[:60]), wanted))

    if '"' in "".join(lines):  # a reading holds no line break: an odd quotation mark spoils its own line only
        for row in [row for row, line in enumerate(lines) if line.count('"') % 2]:
            wrong(first + row, WHOLE_ROW, lines[row].strip(), "quotation marks in pairs")
            lines[row] = "\n"
        rows = list(csv.reader(lines, delimiter=delimiter))
    else:
        rows = [line.rstrip("\n").split(delimiter) for line in lines]
    places = [header.index(name) for name in stated.columns.named()]
    lengths = np.fromiter(map(len, rows), dtype=np.int64, count=len(rows))
    blank = 0
    if ((lengths <= max(places)) | (lengths > len(header))).any():
        fit = []
        for row, cells in enumerate(rows):
            if not any(cell.strip() for cell in cells):
                blank += first + row not in problems
            elif len(cells) <= max(places) or any(cell.strip() for cell in cells[len(header) :]):
                wrong(first + row, WHOLE_ROW, lines[row].strip(), f"{len(header)} cells")
            else:
                fit.append(row)
        rows, numbers = [rows[row] for row in fit], numbers[fit]
    cells_of = {name: [row[place] for row in rows] for name, place in zip(stated.columns.named(), places, strict=True)}
    names = stated.columns
    times = cells_of[names.time]
    if names.date:
        times = [f"{day.strip()} {time.strip()}" for day, time in zip(cells_of[names.date], times, strict=True)]
    wall, own = parse_times(times, stated.format())
    understood = wall != UNREAD
    for row in np.flatnonzero(~understood).tolist():
        wrong(int(numbers[row]), names.time, times[row], stated.time_format or "an ISO time")
    values, commas = {}, False
    for name, unit in ((names.temperature, stated.temperature_unit), (names.relative_humidity, stated.humidity_unit)):
        values[name], comma = _numbers(cells_of[name], unit)
        commas |= comma
        for row in np.flatnonzero(np.isnan(values[name])).tolist():
            wrong(int(numbers[row]), name, cells_of[name][row], f"a number in {unit}")
        understood &= ~np.isnan(values[name])
    surface = np.full(len(rows), np.nan)
    if names.surface_temperature:
        surface, comma = _numbers(cells_of[names.surface_temperature], stated.temperature_unit)
        commas |= comma
    temperature, humidity = values[names.temperature], values[names.relative_humidity]
    if stated.temperature_unit == "F":
        temperature, surface = (_celsius(each) for each in (temperature, surface))
    if stated.humidity_unit == "fraction":
        humidity = humidity * 100
    ordered = [problems[line] for line in sorted(problems)]
    block = Block(
        numbers, wall, own, temperature, humidity, surface, ordered[:PROBLEMS_OF_A_BLOCK], len(ordered), blank,
        Counter(problem.column for problem in ordered), commas,
    )  # fmt: skip
    return block if understood.all() else block.taken(understood)


def _celsius(fahrenheit: Array) -> Array:
    return (fahrenheit - 32) * 5 / 9  # as units.celsius_from_fahrenheit


def _numbers(cells: list[str], unit: str) -> tuple[Array, bool]:
    """Numbers, NaN where a cell holds none, and whether commas were decimal."""
    joined = "".join(cells)
    commas = "," in joined
    plain = [cell.replace(",", ".") for cell in cells] if commas else cells
    if "_" in joined:  # Python would read 1_5 as 15
        plain = [cell.replace("_", "?") for cell in plain]
    found: list[float] = []
    left = iter(plain)
    while len(found) < len(cells):
        try:
            found.extend(map(float, left))  # keeps what came before a cell that is no number
        except ValueError:
            found.append(_number_with_unit(cells[len(found)], unit))
    values = np.array(found, dtype=np.float64)
    return np.where(np.isfinite(values), values, np.nan), commas


def _number_with_unit(cell: str, unit: str) -> float:
    match = _NUMBER.fullmatch(cell.strip())
    if match is None or not _agrees(match[2][-1], unit):
        return np.nan
    return float(match[1].replace(",", "."))


def _agrees(shown: str, unit: str) -> bool:
    return shown == {"percent": "%", "fraction": ""}.get(unit, unit)
