"""What is due by statute or contract, in order of its date.

Contents: dates_shown. The day that is taken for today comes from outside.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.drying_of_case.kit import moment
from desorb.core.kinds import TimeLimit
from desorb.core.shown import Shown, Table
from desorb.core.time_limits import CHECK, COUNTING, Calendar, Due, due, due_hours
from desorb.errors import DesorbError, InputError

DATES = "dates"
COLUMNS = ("due", "what", "state", "counted", "event", "source")
_Row = tuple[Entered[TimeLimit], Due | None, str]


def dates_shown(case: Case, calendars: Mapping[str, Calendar], today: date) -> tuple[Shown, ...]:
    """One for the case, once a date was entered in it. Rows that cannot be counted come first."""
    rows = [_counted(each, calendars) for each in latest_by_id(case.time_limits).values()]
    if not rows:
        return ()
    rows.sort(key=lambda row: (row[1].on if row[1] else date.min, row[0].order))
    states = [_state(each.record, found, today) for each, found, _ in rows]
    steps = [
        f"{each.record.words}: {problem or _step(found, state)}"
        for (each, found, problem), state in zip(rows, states, strict=True) if not state.startswith("met")
    ]  # fmt: skip
    overdue = [
        each.record.words for (each, _, _), state in zip(rows, states, strict=True) if state.startswith("overdue")
    ]
    unknown = [each.record.words for each, found, _ in rows if found is None and not each.record.met_at]
    waiting = [
        f"{each.record.words} on {found.on}" for (each, found, _), state in zip(rows, states, strict=True)
        if found is not None and state.startswith("open")
    ]  # fmt: skip
    said = [f"overdue on {today}: {', '.join(overdue)}"] if overdue else []
    said += [f"next: {waiting[0]}"] if waiting else []
    said += [f"not counted: {', '.join(unknown)}"] if unknown else []
    notes = [f"Judged on {today}, counted by {COUNTING}."]
    for key in dict.fromkeys(each.record.calendar for each, _, _ in rows if each.record.counted_in == "working days"):
        if key in calendars and calendars[key].note:
            notes.append(f"{calendars[key].words}: {calendars[key].note}.")
    table = Table(
        COLUMNS,
        tuple(
            (_when(found) if found else "not counted", each.record.words, state, found.words if found else problem,
             f"{each.record.began_on}, {each.record.began}", each.record.source)
            for (each, found, problem), state in zip(rows, states, strict=True)
        ),
    )  # fmt: skip
    return (
        Shown(
            kind=DATES, id="case", title="Dates that are due", zone="",
            status="overdue" if overdue else "open" if steps else "all met",
            words=(f"{'; '.join(said)}." if said else f"All {len(rows)} met."),
            cautions=(f"Dates by statute or contract: {CHECK}.",), tables=(table,), notes=tuple(notes),
            next_steps=tuple(steps), rests_on=tuple(each.entry for each, _, _ in rows),
        ),
    )  # fmt: skip


def _counted(entered: Entered[TimeLimit], calendars: Mapping[str, Calendar]) -> _Row:
    limit = entered.record
    try:
        if limit.counted_in == "hours":
            return entered, due_hours(_moment(limit.began_at), _whole(limit.length)), ""
        calendar = calendars.get(limit.calendar)
        if limit.counted_in == "working days" and limit.calendar and calendar is None:
            raise InputError(
                "this calendar of bank holidays is not held", got=repr(limit.calendar), wanted=", ".join(calendars),
                next_step="name one of them, or count by hand and enter calendar days",
            )  # fmt: skip
        return entered, due(_day(limit.began_on), _whole(limit.length), limit.counted_in, calendar), ""
    except DesorbError as problem:
        return entered, None, str(problem)


def _when(found: Due) -> str:
    return found.at.isoformat(sep=" ", timespec="minutes") if found.at else str(found.on)


def _moment(text: str) -> datetime:
    found = moment(text)
    if found is None:
        raise InputError(
            "hours are counted from a time, and none with its offset is entered", got=repr(text),
            wanted="such as 2026-03-02T09:00+00:00", next_step="enter it again under its id with began_at",
        )  # fmt: skip
    return found


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as problem:
        raise InputError(
            "the date of the event cannot be read", got=repr(text), wanted="such as 2026-03-02",
            next_step="enter it again under its id",
        ) from problem  # fmt: skip


def _whole(text: str) -> int:
    if not (text.strip().isascii() and text.strip().isdigit() and len(text.strip()) < 10):
        raise InputError(
            "the length of the time is no whole number", got=repr(text), wanted="such as 14",
            next_step="enter it again under its id",
        )  # fmt: skip
    return int(text)


def _state(limit: TimeLimit, found: Due | None, today: date) -> str:
    if limit.met_at:
        late = found is not None and _is_late(limit.met_at, found)
        return f"met {limit.met_at[:10]}{', after the date' if late else ''}"
    if found is None:
        return "not counted"
    days = (found.on - today).days
    return f"overdue by {-days} days on {today}" if days < 0 else f"open, {days} days left on {today}"


def _is_late(met: str, found: Due) -> bool:
    """By the moment where hours were counted, else by the day."""
    at = moment(met)
    return at > found.at if found.at is not None and at is not None else met[:10] > str(found.on)


def _step(found: Due | None, state: str) -> str:
    return f"due {_when(found) if found else ''}, {state}; do it, and enter it again with met_at when it is done"
