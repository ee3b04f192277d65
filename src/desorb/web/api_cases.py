"""The cases of this store: what needs doing next in each, and opening a new one.

Contents: the router.
"""

from __future__ import annotations

from dataclasses import asdict

from fastapi import APIRouter, Request

from desorb.service.cases import open_case
from desorb.service.standing import Kept
from desorb.service.what_next import CaseLine, case_lines
from desorb.web.desk import Desk, desk_of
from desorb.web.parameters import Form, Line, Name, Said, Words

router = APIRouter(prefix="/api/cases", tags=["cases"])


class CaseToOpen(Form):
    """A new case. The name is yours and must be new; the time zone is that of the site."""

    name: Name
    site: Line
    time_zone: Line
    opened_by: Line = ""
    client: Line = ""
    scope: Words = ""
    invented: bool = False


class CaseOpenedHere(Said):
    """The case that was opened."""

    id: str
    name: str
    time_zone: str


@router.get("")
def list_cases(request: Request) -> list[CaseLine]:
    """Every case with what needs doing next, the most urgent first."""
    return lines_of(desk_of(request))


@router.post("", status_code=201)
def open_a_case(request: Request, form: CaseToOpen) -> CaseOpenedHere:
    """Open a case. The defaults it starts with are written into it as entries."""
    desk = desk_of(request)
    case = open_case(desk.store, clock=desk.clock, **form.model_dump())
    return CaseOpenedHere(**asdict(case), said=f"Case {case.name} is open.")


def lines_of(desk: Desk) -> list[CaseLine]:
    """The list of cases, with what was assessed before kept in memory."""
    kept: Kept = desk.state.setdefault("assessed cases", Kept(desk.store))
    return case_lines(desk.store, kept, desk.clock())
