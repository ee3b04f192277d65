"""The pages of practice: what is on offer, the blind sheet, a result, blind repeats.

Contents: the router.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.core.practice import WHY
from desorb.errors import NotFound
from desorb.service.practice import results, sheet_of, studies
from desorb.service.settings import user_name
from desorb.web.api_practice import room_of
from desorb.web.desk import desk_of
from desorb.web.pages import page

router = APIRouter()


@router.get("/practice")
def practice(request: Request) -> HTMLResponse:
    room = room_of(request)
    done = results(room)
    second = {each["first"] for each in done if each["kind"] == "repeats"}
    return page(
        request, "practice.html", cases=room.cases(), results=[each for each in done if each["kind"] != "first pass"],
        waiting=[each for each in done if each["kind"] == "first pass" and each["number"] not in second],
        studies=studies(room), by=user_name(desk_of(request).home),
    )  # fmt: skip


@router.get("/practice/cases/{case}")
def sheet(request: Request, case: str) -> HTMLResponse:
    shown = sheet_of(room_of(request), case)
    return page(request, "practice_sheet.html", sheet=shown, by=user_name(desk_of(request).home))


@router.get("/practice/results/{number}")
def result(request: Request, number: int) -> HTMLResponse:
    """One result. Of a first pass only the spots are shown, in the other order, so that the second is blind."""
    found = next((each for each in results(room_of(request)) if each["number"] == number), None)
    if found is None:
        raise NotFound("there is no such result", got=str(number), next_step="see the practice page")
    return page(request, "practice_result.html", result=found, why=WHY)
