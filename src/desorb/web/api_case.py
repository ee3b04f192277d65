"""One case as it stands: its dataset, assessments, next tests, history of a spot, differences, charts, entries.

Contents: the router.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from desorb.report.panels import panels
from desorb.service.assessing import as_objects
from desorb.service.cases import OpenCase
from desorb.service.charting import Chart, chart_svg, charts_of
from desorb.service.differences import VisitDifference, since_last_visit
from desorb.service.entry_view import EntryView, LogPage, entry_view, log_page
from desorb.service.spot_history import SpotHistory, spot_history
from desorb.service.standing import AsItStands, document_now, stands
from desorb.service.what_next import Need, needs_of
from desorb.web.desk import Desk, desk_of
from desorb.web.parameters import CaseId, Device, Number

router = APIRouter(prefix="/api/cases/{case}", tags=["case"])

KnownOn = Annotated[str, Query(max_length=40, description="A day or a moment: the case as it was known then.")]
Rule = Annotated[str, Query(max_length=40, description="Assess under this rule once; nothing is written.")]
VisitId = Annotated[str, Query(max_length=120, description="Id of a visit.")]


def found_in(request: Request, case: str, known_on: str = "", rule: str = "") -> tuple[Desk, OpenCase, AsItStands]:
    """The desk, the case and how it stands: where every page of a case begins."""
    desk = desk_of(request)
    open_ = desk.case(case)
    return desk, open_, stands(desk.store, open_, known_on=known_on, rule=rule)


@router.get("")
def case_as_it_stands(request: Request, case: CaseId, known_on: KnownOn = "", rule: Rule = "") -> dict[str, Any]:
    """Everything a report would say of the case, as plain data (schema desorb-report/1, number 0: not issued)."""
    desk, _, found = found_in(request, case, known_on, rule)
    return document_now(desk.store, found, desk.clock())


@router.get("/assessments")
def assessments(request: Request, case: CaseId, known_on: KnownOn = "", rule: Rule = "") -> list[dict[str, Any]]:
    """One object for each spot, then one for each element, as the command line gives them."""
    return as_objects(found_in(request, case, known_on, rule)[2].assessed)


@router.get("/needs")
def needs(request: Request, case: CaseId) -> list[Need]:
    """What needs doing next, the most urgent first."""
    desk, _, found = found_in(request, case)
    return needs_of(found, desk.clock())


@router.get("/next")
def next_tests(request: Request, case: CaseId) -> list[dict[str, Any]]:
    """The list of next tests, by the permission they need, the cheapest first, with gates and cautions."""
    desk, _, found = found_in(request, case)
    work: list[dict[str, Any]] = document_now(desk.store, found, desk.clock())["next"]["work"]
    return work


@router.get("/spots/{spot:path}")
def spot(request: Request, case: CaseId, spot: str) -> SpotHistory:
    """Every reading of one spot, whatever became of it, and what was concluded from it."""
    desk, _, found = found_in(request, case)
    return spot_history(desk.store, found, spot)


@router.get("/difference")
def difference(request: Request, case: CaseId, earlier: VisitId = "", later: VisitId = "") -> VisitDifference:
    """What changed since the last visit, or between two visits that are named."""
    return since_last_visit(found_in(request, case)[2], earlier, later)


@router.get("/charts")
def charts(request: Request, case: CaseId) -> list[Chart]:
    """The charts of the case: the specification that is drawn on paper is the one that is drawn on the screen."""
    return charts_of(panels(found_in(request, case)[2].look))


@router.get("/charts/{key}.svg", response_class=Response, responses={200: {"content": {"image/svg+xml": {}}}})
def chart(request: Request, case: CaseId, key: str) -> Response:
    """One chart as a drawing."""
    drawing = chart_svg(panels(found_in(request, case)[2].look), key)
    return Response(drawing, media_type="image/svg+xml")


@router.get("/log")
def log(
    request: Request,
    case: CaseId,
    kind: Annotated[str, Query(max_length=40, description="Only entries of this kind.")] = "",
    page: Annotated[int, Query(ge=1, le=1_000_000, description="50 entries a page, the newest first.")] = 1,
) -> LogPage:
    """The entries of the record, the newest first."""
    desk = desk_of(request)
    return log_page(desk.store, desk.case(case), kind=kind, page=page)


@router.get("/log/{device}/{n}")
def entry(request: Request, case: CaseId, device: Device, n: Number) -> EntryView:
    """One entry as it was written, and what became of it."""
    desk = desk_of(request)
    return entry_view(desk.store, desk.case(case), f"{device}/{n}")
