"""The methods beside the scan and the drying under way: what they say, their charts, one row written down, a limit taken.

Contents: the router; shown_of (what a case says, as the pages show it).
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Request
from pydantic import Field
from starlette.responses import Response

from desorb.errors import NotFound
from desorb.report.beside import PARTS, beside_part
from desorb.report.plots import draw_plot
from desorb.service.charting import with_fallback
from desorb.service.drying import drying_of
from desorb.service.entering import enter
from desorb.service.floor_tests import take_limit
from desorb.service.methods import methods_of
from desorb.service.standing import AsItStands
from desorb.web.api_case import found_in
from desorb.web.desk import Desk, desk_of
from desorb.web.parameters import CaseId, Form, Line, Name, Said, Words

router = APIRouter(prefix="/api/cases/{case}", tags=["methods"])

Parts = Annotated[
    dict[str, Words],
    Body(max_length=60, description="Part -> text as typed; what is left out is not stated; several stand one a line."),
]


class GivenLimit(Form):
    """For which floor test; `choice` with its reason where limits conflict, or where another than the strictest is taken."""

    test: Name
    choice: Annotated[str, Field(max_length=120)] = ""
    reason: Words = ""
    by: Line = ""


class Entered(Said):
    """The entry that was written."""

    entry: str


class Taken(Said):
    """The limit that was copied into the case."""

    key: str


def shown_of(desk: Desk, found: AsItStands, part: str) -> list[dict[str, Any]]:
    """Everything that the methods, or the drying, say of a case: word for word what command and report show."""
    said = methods_of(found.case) if part == "methods" else drying_of(found.case, clock=desk.clock)
    return beside_part(part, said)


@router.get("/methods")
def methods(request: Request, case: CaseId) -> list[dict[str, Any]]:
    """Floor tests, samples, leak tests, causes: cautions first, then the result, the plan and the next steps."""
    desk, _, found = found_in(request, case)
    return shown_of(desk, found, "methods")


@router.get("/drying")
def drying(request: Request, case: CaseId) -> list[dict[str, Any]]:
    """What the record says of the drying, question by question."""
    desk, _, found = found_in(request, case)
    return shown_of(desk, found, "drying")


@router.get("/plots/{key}.svg", response_class=Response, responses={200: {"content": {"image/svg+xml": {}}}})
def plot(request: Request, case: CaseId, key: str) -> Response:
    """One chart of the methods or of the drying as a drawing: the one of the report."""
    desk, _, found = found_in(request, case)
    part = key.partition("-")[0]
    rows = shown_of(desk, found, part) if part in PARTS else []
    plots = {each["key"]: each for row in rows for each in row["plots"]}
    if key not in plots:
        raise NotFound(
            "there is no such chart", got=key[:80], wanted=", ".join(plots) or "none is drawn",
            next_step="see the list of methods or of drying",
        )  # fmt: skip
    return Response(with_fallback(draw_plot(plots[key])), media_type="image/svg+xml")


@router.post("/rows/{kind}", status_code=201)
def write_row(request: Request, case: CaseId, kind: str, parts: Parts) -> Entered:
    """Write down one row of a kind, checked as a row of a sheet is."""
    desk = desk_of(request)
    entry = enter(desk.store, desk.case(case), kind, parts, desk.clock)
    return Entered(said="Written down.", entry=entry.name)


@router.post("/limits", status_code=201)
def write_limit(request: Request, case: CaseId, given: GivenLimit) -> Taken:
    """Take the limit that a floor test is held against: it is copied into the case with its edition."""
    desk = desk_of(request)
    taken = take_limit(desk.store, desk.case(case), given.test, given.choice, given.reason, given.by, desk.clock)
    words = f"{taken.comparison} {taken.value} {taken.unit}, {taken.standard}, {taken.edition}"
    return Taken(said=f"Floor test {given.test} is held against {taken.key}: {words}.", key=taken.key)
