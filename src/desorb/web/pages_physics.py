"""The page of the transport engine: every comparison with a published value, run when it is first asked for.

Contents: the router.
"""

from __future__ import annotations

from functools import lru_cache

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.core.transport.check import Check
from desorb.service.physics import TITLES, by_case, compared
from desorb.web.pages import page

router = APIRouter()


@lru_cache(maxsize=1)
def _compared() -> tuple[Check, ...]:
    """Once for each server: the same engine gives the same figures."""
    return tuple(compared())


@router.get("/physics")
def physics(request: Request) -> HTMLResponse:
    checks = list(_compared())
    failed = [check for check in checks if not check.ok]
    return page(request, "physics.html", cases=by_case(checks), titles=TITLES, count=len(checks), failed=failed)
