"""Take a file into a case: a table of readings, a table of air readings, or a sheet that describes the case.

Contents: Taken (what became of the file); take_file; take_content (its bytes); take_readings and take_air (the
same from Python rows).
Each bad row is named by row, column, what was got and what is wanted; good rows are kept; the file itself is kept under
its hash. Taking the same file twice adds nothing. A row that changed is a correction, to be confirmed.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from desorb.core.case import Case, Entered
from desorb.core.kinds import FileTaken, Strike
from desorb.errors import NotUnderstood
from desorb.notebook.store import Store
from desorb.service import rows as row_readers
from desorb.service.cases import Clock, OpenCase, load, moment_text, now, write
from desorb.service.sheet import take_sheet
from desorb.service.tables_in import RowProblem, read_table


@dataclass(slots=True)
class Taken:
    """What became of a file."""

    kind: str
    rows: int = 0
    kept: int = 0
    known: int = 0
    as_notes: int = 0
    problems: list[RowProblem] = field(default_factory=list)
    corrections: list[str] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)
    described: list[str] = field(default_factory=list)  # visits, spots, instruments written down on the way

    @property
    def ok(self) -> bool:
        return not self.problems and not self.corrections


def take_file(
    store: Store, case: OpenCase, path: Path, *, by: str = "", confirm_corrections: str = "", clock: Clock = now
) -> Taken:
    """Take a file. A name that ends in .toml is a sheet; anything else is a table, known by its columns."""
    try:
        content = path.read_bytes()
    except OSError as problem:
        raise NotUnderstood("the file could not be read", got=f"{path}: {problem.strerror}") from problem
    return take_content(
        store, case, path.name, content, path.parent, by=by, confirm_corrections=confirm_corrections, clock=clock
    )


def take_content(
    store: Store,
    case: OpenCase,
    name: str,
    content: bytes,
    folder: Path,
    *,
    by: str = "",
    confirm_corrections: str = "",
    clock: Clock = now,
) -> Taken:
    """Take the bytes of a file that had this name; `folder` is where a sheet looks for the photos it names."""
    sha256 = store.attach(content)
    if name.casefold().endswith(".toml"):
        taken = Taken("sheet")
        outcome = take_sheet(store, case, content, folder, clock)
        taken.rows, taken.kept, taken.known = outcome.rows, outcome.kept, outcome.known
        taken.described, taken.problems = outcome.described, outcome.problems
    else:
        reader = row_readers.reader_for(content)
        table = read_table(content, reader.columns, reader.required)
        taken = _take(
            store, case, reader, table.rows, name, by=by, confirm_corrections=confirm_corrections, clock=clock
        )
        taken.problems = sorted([*table.problems, *taken.problems], key=lambda problem: problem.row)
        taken.rows += len(table.problems)
        taken.assumed = [*table.assumed, *taken.assumed]
    _note_file(store, case, name, sha256, taken, clock)
    return taken


def take_readings(
    store: Store, case: OpenCase, rows: Iterable[Mapping[str, str]], *, by: str = "", clock: Clock = now
) -> Taken:
    """Take readings from Python: mappings with the columns of the table."""
    return _take(
        store, case, row_readers.READINGS, _numbered(rows), "python", by=by, confirm_corrections="", clock=clock
    )


def take_air(
    store: Store, case: OpenCase, rows: Iterable[Mapping[str, str]], *, by: str = "", clock: Clock = now
) -> Taken:
    """Take air readings from Python: mappings with the columns of the table."""
    return _take(store, case, row_readers.AIR, _numbered(rows), "python", by=by, confirm_corrections="", clock=clock)


def _numbered(rows: Iterable[Mapping[str, str]]) -> list[tuple[int, dict[str, str]]]:
    return [(number, {name: str(value) for name, value in row.items()}) for number, row in enumerate(rows, start=1)]


def _note_file(store: Store, case: OpenCase, name: str, sha256: str, taken: Taken, clock: Clock) -> None:
    if any(entered.record.sha256 == sha256 for entered in load(store, case).files) and not taken.kept:
        return
    problems = tuple(str(problem) for problem in taken.problems)
    moment = moment_text(clock().isoformat(), case.time_zone)
    write(store, case, [FileTaken(name, sha256, taken.rows, taken.kept, problems, moment)], clock)


def _take(
    store: Store,
    case: OpenCase,
    reader: row_readers.RowReader,
    rows: list[tuple[int, dict[str, str]]],
    source: str,
    *,
    by: str,
    confirm_corrections: str,
    clock: Clock,
) -> Taken:
    folded = load(store, case)
    taken = Taken(reader.kind, rows=len(rows))
    context = row_readers.Context(store, folded, case.time_zone, by, source, clock)
    present = _present(folded, reader.kind)
    counts: Counter[str] = Counter()
    drafts: list[Any] = []
    in_this_file: dict[str, Any] = {}
    for number, row in rows:
        key = _key(row, reader, counts)
        try:
            records, main = reader.read(row, key, number, context)
        except row_readers.CellProblem as problem:
            taken.problems.append(RowProblem(number, problem.column, problem.got, problem.wanted))
            context.forget_last()
            continue
        unsaid = not row.get("by")
        if main.key in in_this_file and not _same(in_this_file[main.key], main):
            wanted = "an id that stands once in the file, or the same content"
            taken.problems.append(RowProblem(number, "id", repr(row["id"]), wanted))
            context.forget_last()
            continue
        standing = present.get(main.key, [])
        if main.key in in_this_file or any(_same(entered.record, main, unsaid) for entered in standing):
            taken.known += 1
            context.forget_last()
            continue
        counting = [entered for entered in standing if entered.entry not in context.struck_entries]
        if counting:
            words = f"row {number} ({main.key}): was {_said(counting[0].record, main, unsaid)}"
            if not confirm_corrections:
                taken.corrections.append(words)
                context.forget_last()
                continue
            at = moment_text(clock().isoformat(), case.time_zone)
            drafts.append(Strike(counting[0].hash, confirm_corrections, by or "taken from a file", at))
        in_this_file[main.key] = main
        drafts += [*records, main]
        taken.kept += 1
        taken.as_notes += main.KIND == "note"
    described = context.described_first()
    if drafts or described:
        write(store, case, [*described, *drafts], clock)
    taken.assumed = context.assumed
    taken.described = context.words_of_described()
    return taken


def _present(folded: Case, kind: str) -> dict[str, list[Entered[Any]]]:
    present: dict[str, list[Entered[Any]]] = {}
    struck = [outcome.struck for outcome in folded.struck]
    every: list[Entered[Any]] = [
        *folded.readings, *folded.air_readings, *folded.notes, *folded.changed_rows, *struck,
    ]  # fmt: skip
    for entered in every:
        key = getattr(entered.record, "key", "")
        if key:
            present.setdefault(key, []).append(entered)
    return present


def _same(standing: Any, main: Any, unsaid: bool = False) -> bool:
    """Do both say the same? Who took the file does not count where the row itself does not say who read (`unsaid`)."""
    if type(standing) is not type(main):
        return False
    by = standing.by if unsaid else main.by
    return bool(replace(standing, source="") == replace(main, source="", by=by))


def _said(old: Any, new: Any, unsaid: bool) -> str:
    """What changed, in the columns that changed; `by` only where the row says it."""
    if type(old) is not type(new):
        return f"a {old.KIND}, is a {new.KIND} now"
    changed = [
        f"{name} {_text(getattr(old, name))!r}, is {_text(getattr(new, name))!r} now"
        for name in type(new).__dataclass_fields__
        if name not in ("source", *(("by",) if unsaid else ())) and getattr(old, name) != getattr(new, name)
    ]
    return "; ".join(changed)


def _text(value: Any) -> str:
    return " ".join(value) if isinstance(value, tuple) else str(value)


def _key(row: dict[str, str], reader: row_readers.RowReader, counts: Counter[str]) -> str:
    """Identity of a row: its id if it has one, else its content and its count among identical rows."""
    if row.get("id"):
        return f"{reader.kind}:id:{row['id']}"
    content = "\x1f".join(f"{name}={row[name]}" for name in sorted(row) if name in reader.columns and row[name])
    digest = hashlib.sha256(content.encode()).hexdigest()[:24]
    counts[digest] += 1
    return f"{reader.kind}:row:{digest}:{counts[digest]}"
