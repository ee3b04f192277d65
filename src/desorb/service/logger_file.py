"""Reading what a logger wrote: CSV of any shape, its columns, units and clock stated by the reader, never assumed.

Contents: read_logger_file - LoggerFile with LoggerReport. What is stated stands in `logger_cells`, clocks in
`logger_clock`, units and ranges in `logger_values`; Parquet goes through `logger_parquet`. Spreadsheets are not read: a sentence
says what to do.
Lines go through in blocks, so a million rows need little memory. What was left out is counted, the first 20 by line.
"""

from __future__ import annotations

import codecs
import csv
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from typing import TextIO

import numpy as np
from numpy.typing import NDArray

from desorb.core.logger import LoggedAir
from desorb.core.saturation import Array
from desorb.core.surface_log import LONGEST_GAP
from desorb.errors import InputError, NotUnderstood
from desorb.service.logger_cells import Block, Stated, read_block, require_stated
from desorb.service.logger_clock import to_utc, zone_of_clock
from desorb.service.logger_parquet import as_csv
from desorb.service.logger_values import left_out_as_implausible, require_units_fit
from desorb.service.tables_in import RowProblem
from desorb.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

LINES_AT_ONCE = 8_000
LINES_BEFORE_HEADER = 100  # a logger may write its serial number and settings first; setting of ours
SHOWN = 20  # rows not understood that are shown one by one
MOST_NOT_UNDERSTOOD = 0.5  # share of rows; above it the file is not what was stated, setting of ours
BYTES_TO_GUESS_FROM = 4096
GRID = 2**20  # parts of an hour; on it a step of exactly the longest gap stays exactly that long
DELIMITERS = ",;\t"
_OTHER_FILES = {
    b"PK\x03\x04": "a spreadsheet or an archive",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet",
}


@dataclass(frozen=True, slots=True)
class LoggerReport:
    """What became of the rows. gaps: UTC from, UTC to, hours. Lines start at 1, as an editor shows them.

    surface_cells_left_out: of kept rows, those whose surface temperature is empty, unreadable or implausible.
    implausible: rows by their first reason.
    duplicates_same: further rows that say the same; duplicates_differing: rows of one time that differ, none is kept.
    """

    rows_read: int
    rows_kept: int
    not_understood: int
    first_not_understood: tuple[str, ...]
    blank_lines: int
    implausible: dict[str, int]
    implausible_lines: tuple[int, ...]
    duplicates_same: int
    duplicates_differing: int
    differing_lines: tuple[int, ...]
    out_of_order: int
    repeated_hour_rows: int
    missing_hour_rows: int
    surface_cells_left_out: int
    first: str
    last: str
    usual_step_minutes: float
    longest_gap: float
    gaps: tuple[tuple[str, str, float], ...]
    notes: tuple[str, ...]

    def sentences(self) -> list[str]:
        """The report for the eye; nothing that was left out is passed over."""
        found = [
            f"{self.rows_read} rows read, {self.rows_kept} kept, {self.first} to {self.last},"
            f" mostly every {self.usual_step_minutes:g} min"
        ]
        counted = {
            "rows not understood": self.not_understood, "blank lines": self.blank_lines,
            "rows that say again what another row says": self.duplicates_same,
            "rows of one time that differ, none of them kept": self.duplicates_differing,
            "rows out of order, which were sorted": self.out_of_order,
            "rows without a usable surface temperature": self.surface_cells_left_out,
        }  # fmt: skip
        counted |= {f"rows left out: {reason}": many for reason, many in self.implausible.items()}
        found += [f"{many} {words}" for words, many in counted.items() if many]
        found += [f"not understood: {each}" for each in self.first_not_understood]
        found += [f"gap of {hours:.1f} h: {start} to {end}" for start, end, hours in self.gaps[:SHOWN]]
        if len(self.gaps) > SHOWN:
            found.append(f"and {len(self.gaps) - SHOWN} more gaps of over {self.longest_gap:g} h")
        return found + [f"note: {each}" for each in self.notes]


@dataclass(frozen=True, slots=True)
class LoggerFile:
    """One file, sorted by time. utc: seconds since 1970 of the true clock; hours since 1970 in `air`."""

    utc: NDArray[np.int64]
    air: LoggedAir
    report: LoggerReport


def read_logger_file(path: Path, stated: Stated, longest_gap: float = LONGEST_GAP) -> LoggerFile:
    """Read one file as `stated` says. longest_gap: above 0 to 24 h; longer steps are reported as gaps.

    Raises InputError where something is not stated, NotUnderstood where the file is something else than stated.
    """
    require_stated(stated, longest_gap)
    zone = zone_of_clock(stated.zone)
    with as_csv(path) as text:
        blocks, notes = _blocks(text, stated)
    whole = _joined(blocks)
    rows = whole.line.size + whole.not_understood
    _require_mostly_understood(whole, rows, stated)
    if any(block.decimal_commas for block in blocks):
        notes.append("decimal commas were read as decimal points")
    require_units_fit(whole, stated, notes)
    steps = np.diff(whole.wall)
    if (steps < 0).sum() > (steps > 0).sum():
        whole = whole.taken(np.arange(whole.line.size)[::-1])
        notes.append("the file runs from the newest row to the oldest; it was read from its end")
    times = to_utc(whole.wall, whole.own_offset, zone)
    notes += times.notes
    whole, utc, offset = whole.taken(~times.missing), times.utc[~times.missing], times.offset[~times.missing]
    if stated.clock_offset:
        ahead = "ahead of" if stated.clock_offset > 0 else "behind"
        notes.append(
            f"the clock was {abs(stated.clock_offset)} s {ahead} true time, by what was stated; it was put right"
        )
        utc = utc - stated.clock_offset
    reasons, implausible = left_out_as_implausible(whole)
    lines = whole.line[implausible]
    whole, utc, offset = whole.taken(~implausible), utc[~implausible], offset[~implausible]
    out_of_order = int((utc < np.maximum.accumulate(utc)).sum()) if utc.size else 0
    order = np.argsort(utc, kind="stable")
    whole, utc, offset = whole.taken(order), utc[order], offset[order]
    same, differing, kept = _duplicates(whole, utc)
    differing_lines = whole.line[differing]
    whole, utc, offset = whole.taken(kept), utc[kept], offset[kept]
    if utc.size < 2:
        raise NotUnderstood(
            "fewer than two rows of the log can be used", got=f"{rows} rows, {utc.size} left",
            wanted="two rows or more with time, temperature and humidity",
            next_step="check the columns and units; " + "; ".join(f"{many} {why}" for why, many in reasons.items()),
        )  # fmt: skip
    step = np.diff(utc)
    gaps = np.flatnonzero(step > longest_gap * SECONDS_PER_HOUR)
    surface = whole.surface if stated.columns.surface_temperature else None
    report = LoggerReport(
        rows_read=rows, rows_kept=int(utc.size), not_understood=whole.not_understood,
        first_not_understood=tuple(map(_line_words, whole.problems[:SHOWN])), blank_lines=whole.blank,
        implausible=reasons, implausible_lines=tuple(lines[:SHOWN].tolist()),
        duplicates_same=int(same.sum()), duplicates_differing=int(differing.sum()),
        differing_lines=tuple(differing_lines[:SHOWN].tolist()), out_of_order=out_of_order,
        repeated_hour_rows=times.repeated, missing_hour_rows=int(times.missing.sum()),
        surface_cells_left_out=0 if surface is None else int(np.isnan(surface).sum()),
        first=_iso(utc[0]), last=_iso(utc[-1]),
        usual_step_minutes=float(np.median(step)) / 60, longest_gap=longest_gap,
        gaps=tuple((_iso(utc[g]), _iso(utc[g + 1]), float(step[g]) / SECONDS_PER_HOUR) for g in gaps), notes=tuple(notes),
    )  # fmt: skip
    air = LoggedAir(
        np.round(utc / SECONDS_PER_HOUR * GRID) / GRID, whole.temperature, whole.humidity, (utc + offset) // SECONDS_PER_DAY,
        surface, longest_gap,
    )  # fmt: skip
    return LoggerFile(utc, air, report)


def _blocks(path: Path, stated: Stated) -> tuple[list[Block], list[str]]:
    encoding, notes = _encoding_of(path)
    with path.open(encoding=encoding, errors="replace", newline=None) as file:
        number, delimiter, header = _header(file, stated)
        return [read_block(*each, delimiter, header, stated) for each in _lines(file, number + 1)], notes


def _encoding_of(path: Path) -> tuple[str, list[str]]:
    """Encoding and what was assumed. Raises NotUnderstood for files that hold no text."""
    try:
        with path.open("rb") as file:
            start = file.read(BYTES_TO_GUESS_FROM)
            for mark, kind in _OTHER_FILES.items():
                if start.startswith(mark):
                    raise NotUnderstood(
                        f"this is {kind}, which is not read here", got=path.name, wanted="a CSV file",
                        next_step="write it out as CSV in the program that made it, and read that",
                    )  # fmt: skip
            if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
                return "utf-16", []
            if start.startswith(codecs.BOM_UTF8):
                return "utf-8-sig", []
            for encoding, zeros in (("utf-16-le", start[1::2]), ("utf-16-be", start[0::2])):
                if zeros and zeros.count(0) > len(zeros) / 2:
                    return encoding, [f"the file has no mark of its encoding; it was read as {encoding.upper()}"]
            decoder = codecs.getincrementaldecoder("utf-8")()
            try:
                decoder.decode(start)
                while block := file.read(1 << 20):
                    decoder.decode(block)
                decoder.decode(b"", final=True)
            except UnicodeDecodeError:
                return "cp1252", ["the file is not UTF-8; it was read as CP1252 (Western European)"]
            return "utf-8", []
    except OSError as problem:
        raise NotUnderstood(
            "the file could not be opened", got=f"{path.name}: {problem.strerror}", next_step="check its name and place"
        ) from problem


def _header(file: TextIO, stated: Stated) -> tuple[int, str, list[str]]:
    """Line number, delimiter and names of the first line that holds every column that was named."""
    wanted = stated.columns.named()
    seen = []
    for number, line in enumerate(islice(file, LINES_BEFORE_HEADER), 1):
        for delimiter in DELIMITERS:
            names = [name.strip() for name in next(csv.reader([line], delimiter=delimiter), [])]
            if set(wanted) <= set(names):
                twice = [name for name in wanted if names.count(name) > 1]
                if twice:
                    raise InputError(
                        "a column name stands twice in the file", got=", ".join(twice), wanted="names that differ",
                        next_step="rename one in the file, so that it is plain which is meant",
                    )  # fmt: skip
                stated.require_header_agrees(names)
                return number, delimiter, names
        if line.strip():
            seen.append(line.strip()[:200])
    raise NotUnderstood(
        f"no line among the first {LINES_BEFORE_HEADER} holds all columns that were named", got=" | ".join(seen[:3]),
        wanted=", ".join(wanted), next_step="name the columns letter by letter as the file has them",
    )  # fmt: skip


def _lines(file: TextIO, number: int) -> Iterator[tuple[list[str], int]]:
    while lines := list(islice(file, LINES_AT_ONCE)):
        yield lines, number
        number += len(lines)


def _joined(blocks: list[Block]) -> Block:
    """All blocks as one; problems of the first lines only, the rest as numbers."""
    if not blocks:
        raise NotUnderstood("the file has column names and nothing below them", next_step="read the logger out again")
    columns = [np.concatenate([block.columns()[n] for block in blocks]) for n in range(len(blocks[0].columns()))]
    problems = list(islice((problem for block in blocks for problem in block.problems), SHOWN))
    counted = Counter(reason for block in blocks for reason in block.reasons.elements())
    return Block.of(
        columns, problems, sum(b.not_understood for b in blocks), sum(b.blank for b in blocks), counted,
        any(b.decimal_commas for b in blocks),
    )  # fmt: skip


def _require_mostly_understood(whole: Block, rows: int, stated: Stated) -> None:
    if rows and whole.not_understood <= MOST_NOT_UNDERSTOOD * rows:
        return
    if not rows:
        raise NotUnderstood("the file has column names and nothing below them", next_step="read the logger out again")
    column, many = whole.reasons.most_common(1)[0]
    raise NotUnderstood(
        f"{whole.not_understood} of {rows} rows are not understood, {many} of them by the column {column}",
        got=_line_words(whole.problems[0]), wanted=whole.problems[0].wanted,
        next_step=stated.hint(column),
    )  # fmt: skip


def _duplicates(whole: Block, utc: NDArray[np.int64]) -> tuple[NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_]]:
    """Repeats that say the same (the first is kept); rows of one time that differ (none is); what is kept."""
    again = np.diff(utc, prepend=utc[:1] - 1) == 0
    groups = np.cumsum(~again) - 1
    differs = np.zeros(utc.size, dtype=bool)
    for column in (whole.temperature, whole.humidity, whole.surface):
        differs[1:] |= again[1:] & ~_alike(column[1:], column[:-1])
    unclear = np.zeros(groups[-1] + 1 if utc.size else 0, dtype=bool)
    unclear[groups[differs]] = True
    differing = unclear[groups]
    return again & ~differing, differing, ~again & ~differing


def _alike(one: Array, other: Array) -> NDArray[np.bool_]:
    return np.asarray((one == other) | (np.isnan(one) & np.isnan(other)))


def _line_words(problem: RowProblem) -> str:
    return f"line {problem.row}, column {problem.column}: got {problem.got}; wanted {problem.wanted}"


def _iso(utc: np.int64) -> str:
    return datetime.fromtimestamp(int(utc), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
