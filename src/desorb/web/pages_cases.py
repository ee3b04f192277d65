"""The first page: the cases.

Contents: the router.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.service.cases import case_names
from desorb.web.desk import desk_of
from desorb.web.pages import page

router = APIRouter()


@router.get("/")
def cases(request: Request) -> HTMLResponse:
    return page(request, "cases.html", cases=case_names(desk_of(request).store))
