"""What every command shares: the store that was asked for, printing as words or JSON, progress, problems in words."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from desorb.errors import DesorbError

if TYPE_CHECKING:
    from desorb.core.shown import Shown, Table
    from desorb.notebook.store import Store
    from desorb.service.cases import OpenCase

chosen_home = ""
MOST_COLUMNS = 8  # of a table that can still be read on a screen of 150 letters
MOST_LETTERS = 60  # of a cell in a wider one


def chosen_home_folder() -> Path:
    """The folder of the store that was asked for."""
    from desorb.service.home import home_folder

    return home_folder(chosen_home)


@contextlib.contextmanager
def opened() -> Iterator[Store]:
    from desorb.service.home import open_store

    with open_store(chosen_home) as store:
        yield store


@contextlib.contextmanager
def opened_case(name: str) -> Iterator[tuple[Store, OpenCase]]:
    from desorb.service.cases import find_case

    with opened() as store:
        yield store, find_case(store, name)


def say_json(value: Any) -> None:
    sys.stdout.write(json.dumps(value, ensure_ascii=False, indent=2) + "\n")


def say(*lines: str) -> None:
    for line in lines:
        sys.stdout.write(line + "\n")


def say_problem(problem: DesorbError) -> None:
    if "--json" in sys.argv:
        parts = {"error": type(problem).__name__, "what": problem.what, "got": problem.got, "wanted": problem.wanted}
        say_json(parts | {"next": problem.next_step})
    sys.stderr.write(f"desorb: {problem}\n")


def say_table(title: str, columns: list[str], rows: list[list[str]]) -> None:
    """A table for the eye: rules only where they help, wrapped, never cut."""
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table

    table = Table(title=title or None, box=SIMPLE_HEAD, title_justify="left", show_lines=False, pad_edge=False)
    for column in columns:
        table.add_column(column, overflow="fold")
    for row in rows:
        table.add_row(*[_plain(cell) for cell in row])
    console = Console(width=None if sys.stdout.isatty() else 150, highlight=False, markup=False, emoji=False)
    console.print(table)


def _plain(text: str) -> str:
    return text


@contextlib.contextmanager
def working(words: str) -> Iterator[None]:
    """A line on standard error while something takes more than a moment; nothing when no one is looking."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    with Console(stderr=True, highlight=False).status(words, spinner="line"):
        yield


def _say_rows(table: Table) -> None:
    """A table, or where it is too wide to read, each row as lines of what it holds."""
    longest = max((len(cell) for row in table.rows for cell in row), default=0)
    if len(table.columns) <= MOST_COLUMNS or longest <= MOST_LETTERS:
        say_table("", list(table.columns), [list(row) for row in table.rows])
        return
    for row in table.rows:
        say(f"    {row[0]} {row[1]}")
        say(*(f"      {column}: {cell}" for column, cell in zip(table.columns[2:], row[2:], strict=True) if cell))


def say_shown(found: Iterable[Shown]) -> None:
    """What methods and drying say, cautions before everything else of a test, times as page and report write them."""
    from desorb.report.words import with_moments

    for each in found:
        say(each.title, *(f"  caution: {words}" for words in each.cautions))
        say(*(f"  {with_moments(words)}" for words in (each.status, each.words) if words))
        say(*(f"  plan: {words}" for words in each.plan))
        for table in each.tables:
            _say_rows(replace(table, rows=tuple(tuple(with_moments(cell) for cell in row) for row in table.rows)))
        say(*(f"  {with_moments(words)}" for words in each.notes), *(f"  next: {words}" for words in each.next_steps))
