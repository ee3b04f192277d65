"""A floor test and a drying job through the issued report: the same again from its heads, and what a past day knew."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

from case_builder import Desk, clock
from test_floor_in_the_record import take_c7
from test_sheets_of_the_manual import sheet_of

from desorb.notebook.store import Store
from desorb.service.floor_tests import take_limit
from desorb.service.reporting import document_of, issue_report, rendered
from desorb.service.reports_kept import twin_again, twins_now
from desorb.service.standing import document_now, stands


def test_the_issued_report_holds_the_floor_test_and_is_the_same_again(desk: Desk) -> None:
    take_c7(desk)
    take_limit(desk.store, desk.case, "f1", by="R. Marsh", clock=clock)
    issued = issue_report(desk.store, desk.case, desk.folder, by="R. Marsh", clock=clock)
    twin = json.loads(issued.twin.read_text(encoding="utf-8"))
    (floor,) = twin["methods"]
    assert floor["status"] == "not accepted: incomplete"
    assert "not accepted: incomplete" in twin["owner"]["beside"][0]
    assert any(path.name.endswith("-beside.csv") for path in issued.tables)
    assert twin_again(desk.store, desk.case, issued.number)[1]
    again = document_of(desk.store, desk.case, number=1, issued_at=issued.issued_at)
    assert again["methods"] == twin["methods"]


def test_a_report_of_the_drying_says_the_same_on_a_later_day(desk: Desk) -> None:
    """Dates are judged on the day of the report, not on the day somebody makes it again."""
    taken = desk.sheet(sheet_of("drying_under_way.md"))
    assert taken.problems == []
    first, later = (
        rendered(desk.store, desk.case, number=0, issued_at=(clock() + timedelta(days=days)).isoformat()).document
        for days in (0, 40)
    )
    assert first["drying"]
    assert f"Judged on {clock().date()}" in str(first["drying"])
    assert first["drying"] != later["drying"]
    issued = issue_report(desk.store, desk.case, desk.folder, by="R. Marsh", clock=clock)
    assert twin_again(desk.store, desk.case, issued.number)[1]


def test_the_case_as_it_stands_has_them_in_its_twins(desk: Desk) -> None:
    take_c7(desk)
    twins = twins_now(desk.store, desk.case, clock())
    assert json.loads(twins["case.json"])["methods"][0]["status"] == "no limit taken"
    assert b"Floor test f1" in twins["beside.csv"]


def test_a_past_day_knows_no_limit_that_was_taken_later(tmp_path: Path) -> None:
    """What was known in the morning: the places and no limit, so no result; later the limit with its edition."""
    with Desk(tmp_path) as desk:
        take_c7(desk)
    with Store(tmp_path / "store", now=lambda: "2026-12-27T12:00:00.000Z") as store:
        take_limit(store, desk.case, "f1", by="R. Marsh", clock=clock)
        said = {
            day: document_now(store, stands(store, desk.case, known_on=day), clock())["methods"][0]["status"]
            for day in ("2026-12-25", "2026-12-28")
        }
    assert said == {"2026-12-25": "no limit taken", "2026-12-28": "not accepted: incomplete"}
