"""The pages about the whole store: the list of cases, taking in a bag, verification, and the script of the charts.

Contents: the router.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from desorb.service.charting import bundle, face
from desorb.service.verifying import check_store
from desorb.web.api_cases import lines_of
from desorb.web.desk import desk_of
from desorb.web.pages import page

router = APIRouter()


@router.get("/")
def cases(request: Request) -> HTMLResponse:
    """The cases, by what needs doing next."""
    return page(request, "cases.html", cases=lines_of(desk_of(request)))


@router.get("/import")
def take_in_a_bag(request: Request) -> HTMLResponse:
    """Take in a bag that came from elsewhere."""
    return page(request, "import.html")


@router.get("/verification")
def verification(request: Request) -> HTMLResponse:
    """The whole store, in words. A store that cannot be read says so here."""
    return page(request, "verification.html", checked=check_store(desk_of(request).store))


@router.get("/charts/bundle.js")
def charts_script(request: Request) -> Response:
    """The script that draws charts on the screen, made once from the installed wheel."""
    return Response(
        bundle(desk_of(request).home), media_type="text/javascript; charset=utf-8",
        headers={"cache-control": "private, max-age=86400"},
    )  # fmt: skip


@router.get("/fonts/{name}.otf")
def font(name: str) -> Response:
    """A face of the typeface of the report."""
    return Response(face(name), media_type="font/otf", headers={"cache-control": "private, max-age=604800"})
