"""The pages on which a case is opened and files are taken into it.

Contents: the router.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.core.kinds import COVERINGS
from desorb.service.cases import load
from desorb.service.rows import AIR_KINDS
from desorb.service.settings import user_name
from desorb.service.uploads_in import COLUMNS
from desorb.web.desk import desk_of
from desorb.web.pages import page

router = APIRouter()


@router.get("/new")
def new(request: Request) -> HTMLResponse:
    return page(request, "new_case.html", by=user_name(desk_of(request).home))


@router.get("/cases/{case}/files")
def files(request: Request, case: str) -> HTMLResponse:
    desk = desk_of(request)
    opened = desk.case(case)
    return page(
        request, "files.html", case=opened, taken=load(desk.store, opened).files, columns=COLUMNS, coverings=COVERINGS,
        kinds=AIR_KINDS, by=user_name(desk.home),
    )  # fmt: skip
