"""What needs doing next: one sentence each, from the record, what could hurt someone first."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from report_case import at, furnish, open_book, small_case, sweep

from desorb.core.assess import assess
from desorb.core.case import Case
from desorb.core.kinds import Setting, UnitChange, Visit
from desorb.service.cases import OpenCase
from desorb.service.standing import AsItStands
from desorb.service.what_next import NEEDS, needs_of

LATER = datetime.fromisoformat(at(22))


def found_in(case: Case) -> AsItStands:
    return AsItStands(OpenCase(case.id, "a case", "Europe/London"), case, assess(case, history=True))


def kinds(case: Case, now: datetime = LATER) -> list[str]:
    return [need.kind for need in needs_of(found_in(case), now)]


def read_once(**changes: Any) -> Case:
    """Controls and one spot well above them, and a drying unit that stands there."""
    book = open_book()
    furnish(book)
    book.write(Visit("v1", at(0, 9), "R. Marsh"))
    sweep(book, "v1", 0, {"k1": "18", "k2": "16", "k3": "19", "k4": "17", "s1": "64"})
    book.write(UnitChange("u1", "refrigerant dehumidifier", "z1", "set", at(0, 11)))
    return replace(book.case(), **changes)


def test_a_stop_comes_before_what_has_not_arrived_and_that_before_all_tests() -> None:
    """The small case: a socket below the wet line, six entries of a tablet missing, spots that cannot be said."""
    needs = needs_of(found_in(small_case()), LATER)
    assert [NEEDS.index(need.kind) for need in needs] == sorted(NEEDS.index(need.kind) for need in needs)
    assert needs[0].kind == "stop"
    assert "socket below the wet line" in needs[0].words
    missing = next(need for need in needs if need.kind == "not arrived")
    assert missing.words == "6 entries of device tablet-19 have not arrived: find the device and let it send."
    assert all(need.page.startswith(("/cases/", "/site/")) for need in needs)


def test_a_visit_is_due_after_the_days_of_the_case_and_says_why() -> None:
    """A dehumidifier runs: after seven days without a visit the list says so, with the source of the seven."""
    begun = datetime.fromisoformat(at(0, 9))
    assert "visit" not in kinds(read_once(), begun + timedelta(days=6, hours=23))
    need = next(each for each in needs_of(found_in(read_once()), begun + timedelta(days=9)) if each.kind == "visit")
    assert need.words == (
        "The last visit was 9 days ago; drying units still stand there (u1): a visit is due after 7 (setting of ours)."
    )
    stated = Setting("visit due days", "3", "d", "contract of 1 March", "office")
    first = read_once().settings[0]
    case = read_once(settings=(replace(first, record=stated),))
    need = next(each for each in needs_of(found_in(case), begun + timedelta(days=4)) if each.kind == "visit")
    assert need.words.endswith("a visit is due after 3 (contract of 1 March).")


def test_what_reads_above_names_the_spot_and_the_test_and_leads_to_it() -> None:
    """One spot reads above: the sentence names it, and the link leads to its history."""
    need = next(each for each in needs_of(found_in(read_once()), LATER) if each.kind == "above control")
    assert need.words.startswith("1 spot (s1), reads above control: find how far and how deep")
    assert need.page.endswith("/spots/s1")


def test_readings_without_a_report_ask_for_one() -> None:
    """Something was read and nothing was handed over yet."""
    assert "report" in kinds(read_once())
    assert "report" not in kinds(open_book().case())


def test_a_case_with_nothing_in_it_asks_for_a_visit() -> None:
    """A case that was opened today."""
    assert kinds(open_book().case())[0] == "no visit"
