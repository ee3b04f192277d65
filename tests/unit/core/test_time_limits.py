"""When something is due: days, working days over bank holidays, months; and the list of dates of a case.

The dates were counted by hand on a wall calendar. Movable feasts are checked by the Gregorian rule for Easter.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from case_builder import FieldBook, at

from desorb.core.drying_of_case.dates import dates_shown
from desorb.core.kinds import TimeLimit
from desorb.core.time_limits import Calendar, due, due_hours
from desorb.errors import InputError, OutOfRange, Refused
from desorb.tables.bank_holidays import calendars

HERE = Calendar("here", "an invented country", "invented", "from memory", 2026, 2026, {date(2026, 4, 6): "spring day"})
BY_KEY = {"here": HERE}
TODAY = date(2026, 4, 10)


def _limit(name: str, length: str, counted_in: str = "calendar days", **parts: str) -> TimeLimit:
    began = parts.pop("began_on", "2026-04-01")
    return TimeLimit(
        name, f"{name} to be sent", began, "water found", length, counted_in, "clause 4, invented", at(), **parts
    )


@pytest.mark.parametrize(
    ("began", "length", "counted_in", "expected"),
    [
        (date(2026, 4, 1), 14, "calendar days", date(2026, 4, 15)),
        (date(2026, 4, 1), 0, "calendar days", date(2026, 4, 1)),
        (date(2026, 4, 2), 2, "working days", date(2026, 4, 7)),  # Fri 3, Mon 6 off, Tue 7
        (date(2026, 4, 3), 1, "working days", date(2026, 4, 7)),
        (date(2026, 1, 31), 1, "months", date(2026, 2, 28)),
        (date(2027, 11, 30), 3, "months", date(2028, 2, 29)),
        (date(2026, 12, 15), 1, "months", date(2027, 1, 15)),
    ],
)
def test_a_date_is_counted_from_the_day_after(began: date, length: int, counted_in: str, expected: date) -> None:
    found = due(began, length, counted_in, HERE)
    assert found.on == expected
    if counted_in == "working days":
        assert "2026-04-06 spring day" in found.words


def test_what_is_not_known_is_refused_with_the_next_step() -> None:
    """Days without a calendar, a year that is not held, a length that is none: never taken for free of holidays."""
    with pytest.raises(Refused, match="Next: name the calendar"):
        due(date(2026, 4, 1), 2, "working days")
    with pytest.raises(OutOfRange, match=r"bank holidays of 2027 are not held.*Next:"):
        due(date(2026, 12, 30), 3, "working days", HERE)
    with pytest.raises(InputError, match="in what the time is counted"):
        due(date(2026, 4, 1), 2, "weeks")
    with pytest.raises(OutOfRange, match="length of time"):
        due(date(2026, 4, 1), -1, "months")
    with pytest.raises(OutOfRange, match="beyond any calendar"):
        due(date(9999, 12, 30), 5, "calendar days")


def _easter(year: int) -> date:
    """The Gregorian rule of the anonymous computus."""
    a, b, c = year % 19, year // 100, year % 100
    h = (19 * a + b - b // 4 - (b - (b + 8) // 25 + 1) // 3 + 15) % 30
    k = (32 + 2 * (b % 4) + 2 * (c // 4) - h - c % 4) % 7
    month, day = divmod(h + k - 7 * ((a + 11 * h + 22 * k) // 451) + 114, 31)
    return date(year, month, day + 1)


def test_every_calendar_holds_each_of_its_years() -> None:
    """Good Friday in every year of every country; as many days as the country keeps; nothing on a weekend in the UK."""
    kept = {"england-and-wales": 8, "scotland": 9, "northern-ireland": 10, "germany": 9}
    assert set(calendars()) == set(kept)
    for key, calendar in calendars().items():
        assert calendar.read == "from memory", "no list of a government was read"
        assert calendar.source
        for year in range(calendar.first_year, calendar.last_year + 1):
            days = [day for day in calendar.days if day.year == year]
            assert len(days) == kept[key]
            assert _easter(year) - timedelta(days=2) in days
            if key != "germany":
                assert all(day.weekday() < 5 for day in days)
            else:
                assert {_easter(year) + timedelta(days=39), _easter(year) + timedelta(days=50)} <= set(days)
        assert {day.year for day in calendar.days} == set(range(calendar.first_year, calendar.last_year + 1))


def test_working_days_over_christmas_differ_between_countries() -> None:
    """2027: 25 and 26 December fall on the weekend. In Scotland 4 January is off as well, for 2 January."""
    known = calendars()
    assert due(date(2027, 12, 24), 1, "working days", known["england-and-wales"]).on == date(2027, 12, 29)
    assert due(date(2026, 12, 31), 1, "working days", known["england-and-wales"]).on == date(2027, 1, 4)
    assert due(date(2026, 12, 31), 1, "working days", known["scotland"]).on == date(2027, 1, 5)


def test_dates_of_a_case_stand_in_order_with_what_is_overdue() -> None:
    """Overdue, open and met are said with the day that was given; met ones want nothing any more."""
    book = FieldBook()
    book.write(_limit("later", "30"), _limit("missed", "5"), _limit("done", "3", met_at="2026-04-07T10:00:00+01:00"))
    (shown,) = dates_shown(book.case(), BY_KEY, TODAY)
    rows = {row[1].split()[0]: row for row in shown.tables[0].rows}
    assert [row[0] for row in shown.tables[0].rows] == ["2026-04-04", "2026-04-06", "2026-05-01"]
    assert rows["missed"][2] == "overdue by 4 days on 2026-04-10"
    assert rows["later"][2] == "open, 21 days left on 2026-04-10"
    assert rows["done"][2] == "met 2026-04-07, after the date"
    assert shown.status == "overdue"
    assert "lawyer" in shown.cautions[0]
    assert len(shown.next_steps) == 2
    (before,) = dates_shown(book.case(), BY_KEY, date(2026, 4, 2))
    assert before.status == "open"


def test_a_date_entered_again_as_met_is_met() -> None:
    book = FieldBook()
    book.write(_limit("notice", "5"), _limit("notice", "5", met_at="2026-04-03T10:00:00+01:00"))
    (shown,) = dates_shown(book.case(), BY_KEY, TODAY)
    assert (shown.status, shown.next_steps) == ("all met", ())
    assert shown.tables[0].rows[0][2] == "met 2026-04-03"


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (_limit("notice", "two"), "no whole number"),
        (_limit("notice", "5", began_on="soon"), "date of the event"),
        (_limit("notice", "5", "working days"), "without the bank holidays"),
        (_limit("notice", "5", "working days", calendar="atlantis"), "not held"),
        (_limit("notice", "400", "working days", calendar="here"), "2027 are not held"),
    ],
)
def test_a_row_that_cannot_be_counted_is_said_and_breaks_nothing(broken: TimeLimit, words: str) -> None:
    book = FieldBook()
    book.write(_limit("later", "30"), broken)
    (shown,) = dates_shown(book.case(), BY_KEY, TODAY)
    assert shown.tables[0].rows[0][0] == "not counted"
    assert words in shown.next_steps[0]
    assert "Next:" in shown.next_steps[0]
    assert "later to be sent on 2026-05-01" in shown.words


def test_without_dates_there_is_nothing() -> None:
    assert dates_shown(FieldBook().case(), BY_KEY, TODAY) == ()


def test_hours_go_by_the_clock() -> None:
    """TASKS 56: an emergency is due 24 hours after Monday 09:00, also over a weekend or a change of summer time."""
    monday = datetime(2026, 3, 2, 9, tzinfo=UTC)
    found = due_hours(monday, 24)
    assert found.at == datetime(2026, 3, 3, 9, tzinfo=UTC)
    assert found.on == date(2026, 3, 3)
    assert due_hours(datetime(2026, 3, 27, 17, tzinfo=UTC), 48).on == date(2026, 3, 29)
    with pytest.raises(OutOfRange):
        due_hours(monday, -1)


def test_hours_need_the_time_of_the_event_and_late_is_told_by_the_minute() -> None:
    """Met at 09:30 for a limit at 09:00 is late; without a time of the event nothing is counted, and why is said."""
    book = FieldBook()
    limit = TimeLimit("t", "make it safe", "2026-03-02", "reported", "24", "hours", "clause 2, invented", at(0))
    book.write(limit)
    (shown,) = dates_shown(book.case(), {}, date(2026, 3, 2))
    assert "none with its offset is entered" in shown.tables[0].rows[0][3]
    started = replace(limit, began_at="2026-03-02T09:00:00+00:00")
    for met, late in (("2026-03-03T09:30:00+00:00", True), ("2026-03-03T08:30:00+00:00", False)):
        book.write(replace(started, met_at=met))
        (shown,) = dates_shown(book.case(), {}, date(2026, 3, 4))
        assert ("after the date" in shown.tables[0].rows[0][2]) is late
        assert shown.tables[0].rows[0][0] == "2026-03-03 09:00+00:00"
    assert "count/1" in shown.notes[0]


@pytest.mark.parametrize("key", [*calendars()])
def test_working_days_are_those_of_an_independent_count(key: str) -> None:
    """numpy.busday_offset with the same days off, 300 beginnings from 2024 on, 1 to 30 days: the day after counts first."""
    calendar, chance = calendars()[key], random.Random(key)
    off = [day.isoformat() for day in calendar.days]
    for _ in range(300):
        began, length = date(2024, 1, 1) + timedelta(days=chance.randrange(1500)), chance.randint(1, 30)
        before = np.busday_offset(began.isoformat(), 0, roll="backward", holidays=off)
        assert due(began, length, "working days", calendar).on.isoformat() == str(
            np.busday_offset(before, length, holidays=off)
        ), (began, length)
