"""When something is due: so many hours, calendar days, working days or months after an event.

Contents: Calendar (bank holidays of the years held); Due; due; due_hours; COUNTING. The day of the event is not counted; laws
differ in that, and in whether a date on a day off moves, so the words say how it was counted. Nothing here is legal advice.
"""

from __future__ import annotations

import calendar as civil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from desorb.errors import InputError, OutOfRange, Refused

LENGTHS = ("calendar days", "working days", "months")
COUNTING = "count/1"  # the way of counting below; another way gets another name
LONGEST_HOURS = 24 * 366  # setting of ours
LONGEST = 3700  # days, setting of ours: ten years
CHECK = "check with a lawyer: laws differ in whether the first day counts and whether a date on a day off moves"


@dataclass(frozen=True, slots=True)
class Calendar:
    """Days off of one country beside Saturday and Sunday. A year that is not between the two is not known."""

    key: str
    words: str
    source: str
    read: str  # read, or from memory
    first_year: int
    last_year: int
    days: Mapping[date, str]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Due:
    """The date, and how it was counted."""

    on: date
    words: str
    at: datetime | None = None  # where hours were counted


def due(began: date, length: int, counted_in: str, calendar: Calendar | None = None) -> Due:
    """The last day of `length` [0 to 3700] after the day `began`, which is not counted. InputError, OutOfRange, Refused."""
    if counted_in not in LENGTHS:
        raise InputError(
            "it is not said in what the time is counted", got=repr(counted_in), wanted=", ".join(LENGTHS),
            next_step="read the statute or the clause again",
        )  # fmt: skip
    if not 0 <= length <= LONGEST:
        raise OutOfRange(
            "this length of time cannot be used", got=str(length), wanted=f"0 to {LONGEST}",
            next_step="read the statute or the clause again",
        )  # fmt: skip
    try:
        if counted_in == "calendar days":
            return Due(began + timedelta(days=length), f"{length} calendar days; the day of the event is not counted")
        if counted_in == "months":
            return _months(began, length)
        return _working_days(began, length, calendar)
    except (OverflowError, ValueError) as problem:
        raise _beyond(f"{length} {counted_in} after {began}") from problem


def due_hours(began: datetime, length: int) -> Due:
    """So many hours [0 to 8784] after a moment with its offset; days off and nights count like any other."""
    if not 0 <= length <= LONGEST_HOURS:
        raise OutOfRange(
            "this length of time cannot be used", got=f"{length} hours", wanted=f"0 to {LONGEST_HOURS}",
            next_step="read the statute or the clause again",
        )  # fmt: skip
    try:
        end = began + timedelta(hours=length)
    except OverflowError as problem:
        raise _beyond(f"{length} hours after {began}") from problem
    return Due(end.date(), f"{length} hours by the clock, nights and days off included", end)


def _beyond(got: str) -> OutOfRange:
    return OutOfRange(
        "the date lies beyond any calendar",
        got=got,
        wanted="a date of our time",
        next_step="read date and length again",
    )


def _months(began: date, length: int) -> Due:
    """The day of the same number; the last day of the month where it has none."""
    years, month = divmod(began.month - 1 + length, 12)
    year, month = began.year + years, month + 1
    last = civil.monthrange(year, month)[1]
    short = f"; that month has no day {began.day}, so its last day" if began.day > last else ""
    return Due(date(year, month, min(began.day, last)), f"{length} months, to the day of the same number{short}")


def _working_days(began: date, length: int, calendar: Calendar | None) -> Due:
    if calendar is None:
        raise Refused(
            "working days are not counted without the bank holidays of a place", got="no calendar named",
            wanted="the key of a calendar", next_step="name the calendar of the law that applies",
        )  # fmt: skip
    day, left, passed = began, length, []
    while left:
        day += timedelta(days=1)
        if not calendar.first_year <= day.year <= calendar.last_year:
            raise OutOfRange(
                f"the bank holidays of {day.year} are not held for {calendar.words}", got=f"{length} working days from {began}",
                wanted=f"a time within {calendar.first_year} to {calendar.last_year}",
                next_step="look the bank holidays up where the government publishes them, count by hand and enter calendar days",
            )  # fmt: skip
        if day in calendar.days and day.weekday() < 5:
            passed.append(f"{day} {calendar.days[day]}")
        elif day.weekday() < 5:
            left -= 1
    off = f"; passed over: {', '.join(passed)}" if passed else ""
    return Due(
        day,
        f"{length} working days by the bank holidays of {calendar.words} ({calendar.source}, {calendar.read}), Saturday and"
        f" Sunday off; the day of the event is not counted{off}",
    )
