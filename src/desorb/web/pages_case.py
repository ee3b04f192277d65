"""The pages of one case: its six questions, a spot, the difference since last visit, assessments, charts, next tests, reports.

Contents: the router; case_parts (what every page of a case shows).
"""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.core.rule import RULES, TOLERANCE_1
from desorb.notebook import attachments
from desorb.report.panels import panels
from desorb.report.twins import COLUMNS
from desorb.service.charting import charts_of
from desorb.service.differences import since_last_visit
from desorb.service.reporting import report_states
from desorb.service.settings import read_settings
from desorb.service.spot_history import spot_history
from desorb.service.standing import AsItStands, document_now
from desorb.service.what_next import needs_of
from desorb.web.api_case import found_in
from desorb.web.desk import Desk
from desorb.web.pages import page

router = APIRouter(prefix="/cases/{case}")
IN_THIS_RUN = "this run"  # the entry of a rule that was asked for once and is not written
MOST_FINDINGS = 60  # on the page; all stand in the JSON and in the report


def case_parts(desk: Desk, found: AsItStands, part: str, words: str) -> dict[str, Any]:
    return {"d": document_now(desk.store, found, desk.clock()), "part": part, "part_words": words}


@router.get("")
def case_page(request: Request, case: str) -> HTMLResponse:
    """The six questions, in their order."""
    desk, _, found = found_in(request, case)
    parts = case_parts(desk, found, "case", "")
    d = parts["d"]
    last_air = d["why"]["air"][-1]["visit"] if d["why"]["air"] else ""
    spots_of: dict[str, list[Any]] = {element["id"]: [] for element in d["higher"]["elements"]}
    for row in d["higher"]["spots"]:
        spots_of.setdefault(f"{row['zone']}/{row['element']}", []).append(row)
    last_visit = found.look.last_visit
    return page(
        request, "case.html", **parts, needs=needs_of(found, desk.clock()), difference=since_last_visit(found),
        sets=_newest_sets(d["controls"]), spots_of=spots_of, read_before={row["id"] for row in d["higher"]["spots"]},
        air=[row for row in d["why"]["air"] if row["visit"] == last_air], most_findings=MOST_FINDINGS,
        why_not=_Reasons({row["spot"]: row["why"] for row in d["not_read"] if row["visit"] == last_visit}),
    )  # fmt: skip


class _Reasons(dict[str, str]):
    def __missing__(self, key: str) -> str:
        return ""


def _newest_sets(groups: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The sets of the last visit in which anything was compared."""
    last = groups[-1]["visit"] if groups else ""
    return [group for group in groups if group["visit"] == last]


@router.get("/spots/{spot:path}")
def spot_page(request: Request, case: str, spot: str) -> HTMLResponse:
    """The history of one spot."""
    desk, _, found = found_in(request, case)
    history = spot_history(desk.store, found, spot)
    arrived = {photo["sha256"] for photo in history.photos if attachments.path_of(desk.home, photo["sha256"]).exists()}
    return page(request, "spot.html", **case_parts(desk, found, "", f"spot {spot}"), h=history, arrived=arrived)


@router.get("/difference")
def difference_page(request: Request, case: str, earlier: str = "", later: str = "") -> HTMLResponse:
    """What changed since the last visit, and the same ready to send."""
    desk, _, found = found_in(request, case)
    parts = case_parts(desk, found, "difference", "since last visit")
    return page(request, "difference.html", **parts, x=since_last_visit(found, earlier, later))


@router.get("/assessments")
def assessments_page(request: Request, case: str, rule: str = "") -> HTMLResponse:
    """Every assessment with its controls; under another rule once, where one is asked for."""
    desk, _, found = found_in(request, case, rule=rule)
    of_case = [
        entered.record.value
        for entered in found.case.settings
        if entered.record.key == "rule" and entered.entry != IN_THIS_RUN
    ]
    parts = case_parts(desk, found, "assessments", "assessments")
    return page(request, "assessments.html", **parts, rule=rule, rules=RULES, rule_of_case=[TOLERANCE_1, *of_case][-1])


@router.get("/charts")
def charts_page(request: Request, case: str) -> HTMLResponse:
    """Excess over control against days."""
    desk, _, found = found_in(request, case)
    return page(
        request, "charts.html", **case_parts(desk, found, "charts", "charts"), charts=charts_of(panels(found.look))
    )


@router.get("/next")
def next_page(request: Request, case: str) -> HTMLResponse:
    """The list of next tests, to be printed."""
    desk, _, found = found_in(request, case)
    return page(request, "next.html", **case_parts(desk, found, "next", "next tests"))


@router.get("/report")
def report_page(request: Request, case: str) -> HTMLResponse:
    """Issued reports and their states; a new one is issued here."""
    desk, _, found = found_in(request, case)
    states = report_states(found.case)
    kept = {state.pdf_sha256 for state in states if attachments.path_of(desk.home, state.pdf_sha256).exists()}
    parts = case_parts(desk, found, "report", "reports")
    return page(
        request,
        "report.html",
        **parts,
        states=states,
        kept=kept,
        tables=list(COLUMNS),
        by=read_settings(desk.home).name,
    )
