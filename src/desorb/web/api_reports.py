"""Reports: their states, a preview, issuing one, the kept PDFs, and the twins for machines.

Contents: the router.
"""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi import Path as InPath
from starlette.responses import Response

from desorb.errors import NotFound
from desorb.report.twins import COLUMNS
from desorb.service import reports_kept
from desorb.service.bag_zip import safe_name
from desorb.service.cases import load
from desorb.service.reporting import ReportState, report_states
from desorb.web.desk import desk_of
from desorb.web.parameters import CaseId, Form, Line, Said, Sha256

router = APIRouter(prefix="/api/cases/{case}", tags=["reports"])

Paper = Literal["a4", "letter"]
PDF: dict[int | str, dict[str, Any]] = {200: {"content": {"application/pdf": {}}}}
CSV: dict[int | str, dict[str, Any]] = {200: {"content": {"text/csv": {}}}}


class ReportForm(Form):
    """A report to be issued. It is dated now unless a time is given."""

    by: Line
    paper: Paper = "a4"
    issued_at: Line = ""


class ReportIssuedHere(Said):
    """The report that was issued; its PDF is kept under its SHA-256."""

    number: int
    issued_at: str
    pdf_sha256: str
    entry: str
    was_new: bool


@router.get("/reports")
def reports(request: Request, case: CaseId) -> list[ReportState]:
    """Issued reports, each with whether something was entered since that it does not hold."""
    desk = desk_of(request)
    return report_states(load(desk.store, desk.case(case)))


@router.post("/reports", status_code=201)
def issue_a_report(request: Request, case: CaseId, form: ReportForm) -> ReportIssuedHere:
    """Issue a report: one frozen dataset, kept as a PDF, with an entry that says what it rested on."""
    desk = desk_of(request)
    made = reports_kept.issue(
        desk.store, desk.case(case), by=form.by, paper=form.paper, issued_at=form.issued_at, clock=desk.clock
    )
    said = f"Report {made.number} is issued and kept; its entry is {made.entry}."
    return ReportIssuedHere(
        number=made.number, issued_at=made.issued_at, pdf_sha256=made.pdf_sha256, entry=made.entry, was_new=made.was_new,
        said=said if made.was_new else f"Report {made.number} was issued before: nothing was added.",
    )  # fmt: skip


@router.get("/reports/{sha256}.pdf", response_class=Response, responses=PDF)
def kept_report(request: Request, case: CaseId, sha256: Sha256) -> Response:
    """A report as it was issued, by its SHA-256."""
    desk = desk_of(request)
    found = desk.case(case)
    number, content = reports_kept.kept_pdf(desk.store, found, sha256)
    return _file(content, "application/pdf", f"{safe_name(found)}-report-{number}.pdf")


@router.get(
    "/reports/{number}/case.json", response_class=Response, responses={200: {"content": {"application/json": {}}}}
)
def report_twin(request: Request, case: CaseId, number: Annotated[int, InPath(ge=1, le=1_000_000)]) -> Response:
    """The JSON twin of an issued report, made again from the entries up to its heads. The header says if it is equal."""
    desk = desk_of(request)
    found = desk.case(case)
    content, equal = reports_kept.twin_again(desk.store, found, number)
    answer = _file(content, "application/json", f"{safe_name(found)}-report-{number}.json")
    answer.headers["x-equal-to-issued"] = "yes" if equal else "no"
    return answer


@router.get("/preview.pdf", response_class=Response, responses=PDF)
def preview(
    request: Request, case: CaseId, paper: Annotated[Paper, Query(description="The size of the paper.")] = "a4"
) -> Response:
    """The report as it would be now, numbered 0. Nothing is issued and nothing is kept."""
    desk = desk_of(request)
    found = desk.case(case)
    content = reports_kept.preview(desk.store, found, paper=paper, now=desk.clock())
    return _file(content, "application/pdf", f"{safe_name(found)}-not-issued.pdf", inline=True)


@router.get("/case.json", response_class=Response, responses={200: {"content": {"application/json": {}}}})
def twin(request: Request, case: CaseId) -> Response:
    """The whole dataset of the case as it stands, as a file."""
    desk = desk_of(request)
    found = desk.case(case)
    content = reports_kept.twins_now(desk.store, found, desk.clock())["case.json"]
    return _file(content, "application/json", f"{safe_name(found)}.json")


@router.get("/tables/{name}.csv", response_class=Response, responses=CSV)
def table(request: Request, case: CaseId, name: Annotated[str, InPath(max_length=40)]) -> Response:
    """One table of the case as it stands, as CSV."""
    desk = desk_of(request)
    found = desk.case(case)
    if name not in COLUMNS:
        raise NotFound("there is no such table", got=name, wanted=", ".join(COLUMNS))
    content = reports_kept.twins_now(desk.store, found, desk.clock())[f"{name}.csv"]
    return _file(content, "text/csv; charset=utf-8", f"{safe_name(found)}-{name}.csv")


def _file(content: bytes, media_type: str, name: str, *, inline: bool = False) -> Response:
    plain = re.sub(r"[^A-Za-z0-9._-]", "-", name)
    disposition = f'{"inline" if inline else "attachment"}; filename="{plain}"'
    return Response(content, media_type=media_type, headers={"content-disposition": disposition})
