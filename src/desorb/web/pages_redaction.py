"""The page on which a redacted copy is made.

Contents: the router.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.service.cases import load
from desorb.service.photos import photos_awaited
from desorb.service.redaction import areas_of
from desorb.service.settings import RETENTION_NOTE, retention, user_name
from desorb.web.desk import desk_of
from desorb.web.pages import page

router = APIRouter()


@router.get("/cases/{case}/redaction")
def redaction(request: Request, case: str) -> HTMLResponse:
    desk = desk_of(request)
    opened = desk.case(case)
    folded = load(desk.store, opened)
    kept = next(each for each in retention(desk.store, desk.home, desk.clock) if each.case == opened.id)
    return page(
        request, "redaction.html", case=opened, photos=folded.photos, awaited=photos_awaited(desk.store, folded),
        areas=areas_of(folded), kept=kept, note=RETENTION_NOTE, by=user_name(desk.home),
    )  # fmt: skip
