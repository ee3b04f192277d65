"""The page on which a device is let in.

Contents: the router.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.web.desk import desk_of
from desorb.web.pages import page
from desorb.web.pairing import CODE_LENGTH

router = APIRouter()


@router.get("/pair")
def pair_page(request: Request) -> HTMLResponse:
    return page(request, "pair.html", shared=desk_of(request).shared, length=CODE_LENGTH)
