"""Practice on invented cases: the blind sheet, the marks, blind repeats. Nothing of it enters a case.

Contents: the router.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field

from desorb.service.practice import PracticeRoom, first_pass, mark, results, second_pass, sheet_of, studies
from desorb.web.desk import desk_of
from desorb.web.parameters import CaseId, Form, Line

router = APIRouter(prefix="/api/practice", tags=["practice"])


class PracticeCase(BaseModel):
    """An invented case that can be practised on."""

    id: str
    name: str


class Practised(BaseModel):
    """The cases on offer and all results of this machine, oldest first."""

    cases: list[PracticeCase]
    results: list[dict[str, Any]]
    studies: list[dict[str, Any]]


class Built(BaseModel):
    """The demonstration case stands in the store of practice."""

    id: str
    said: str


class ReadingShown(BaseModel):
    """One reading as it was written down: no status, no limit."""

    spot: str
    role: str
    place: str
    construction: str
    values: str
    scale: str
    instrument: str
    covering: str
    preparation: str
    temperature: str
    species: str
    visit: str
    taken_at: str


class SheetShown(BaseModel):
    """A case without its answers, and the words to choose from."""

    case: str
    name: str
    spots: list[ReadingShown]
    controls: list[ReadingShown]
    findings: list[str]
    rows: list[str]
    statuses: list[str]
    why: dict[str, str]


class Answer(Form):
    """What the trainee says of one spot."""

    spot: Line
    status: Line
    why: Line


class Marks(Form):
    """One answer for every spot."""

    by: Line
    answers: list[Answer] = Field(min_length=1, max_length=2000)


class FirstPass(Form):
    """'spot value', one a line."""

    by: Line
    scale: Line
    lines: list[Line] = Field(min_length=1, max_length=200)


class SecondPass(Form):
    """The same spots again, without looking at the first figures."""

    lines: list[Line] = Field(min_length=1, max_length=200)


class Result(BaseModel):
    """A result as it was kept, with its number."""

    number: int
    result: dict[str, Any]
    said: str


def room_of(request: Request) -> PracticeRoom:
    desk = desk_of(request)
    return PracticeRoom(desk.store, desk.clock)


@router.get("")
def practice(request: Request) -> Practised:
    """Cases on offer and results so far. Real cases are never offered."""
    room = room_of(request)
    cases = [PracticeCase(id=case.id, name=case.name) for case in room.cases()]
    return Practised(cases=cases, results=results(room), studies=studies(room))


@router.post("/demonstration")
def build(request: Request) -> Built:
    """Build the invented demonstration case into a store of its own, beside the store of this machine."""
    case = room_of(request).build()
    return Built(id=case.id, said=f"The invented case {case.name} is ready for practice.")


@router.get("/cases/{case}")
def sheet(request: Request, case: CaseId) -> SheetShown:
    """The raw readings of an invented case, without what desorb says of them."""
    return SheetShown.model_validate(asdict(sheet_of(room_of(request), case)))


@router.post("/cases/{case}/marks")
def marks(request: Request, case: CaseId, given: Marks) -> Result:
    """Hold the marks of a trainee against desorb's own, spot by spot."""
    result = mark(room_of(request), case, [answer.model_dump() for answer in given.answers], given.by)
    agreement = result["agreement"]
    return _result(result, f"{agreement['agreed']} of {agreement['total']} spots alike.")


@router.post("/repeats")
def repeats(request: Request, given: FirstPass) -> Result:
    """The first blind pass over some spots."""
    result = first_pass(room_of(request), given.lines, given.scale, given.by)
    return _result(result, "The first pass is kept. Now read the same spots again.")


@router.post("/repeats/{number}/second")
def repeats_again(request: Request, number: int, given: SecondPass) -> Result:
    """The second blind pass: the spread of the repeats."""
    result = second_pass(room_of(request), number, given.lines)
    return _result(result, f"Spread of the repeats: {result['spread']['spread']:.3g} digits.")


def _result(result: dict[str, Any], said: str) -> Result:
    return Result(number=result["number"], result=result, said=said)
