"""The page of the plan: draw rooms, place spots, lay a picture under them.

Contents: the router.
"""

from __future__ import annotations

from collections.abc import Iterable

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.core.kinds import OPENINGS, ROLES
from desorb.service.plan_files import UNITS
from desorb.service.plans import EVIDENCE, RISKS, is_invented
from desorb.web.desk import desk_of
from desorb.web.pages import page

router = APIRouter()


def _choices(names: Iterable[str]) -> tuple[tuple[str, str], ...]:
    return tuple((name, name) for name in names)


@router.get("/cases/{case}/plan")
def plan(request: Request, case: str) -> HTMLResponse:
    desk = desk_of(request)
    opened = desk.case(case)
    return page(
        request, "plan.html", case=opened, invented=is_invented(desk.store, opened), risks=RISKS,
        openings=_choices(OPENINGS), evidence=_choices(EVIDENCE), roles=_choices(ROLES[::-1]), units=_choices(UNITS),
    )  # fmt: skip
