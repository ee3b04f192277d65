"""The pages of the record of a case, one level below it: heads, gaps, corrections, verification, known on a day, log, entry.

Contents: the router. They open also when the case cannot be assessed: here is where the entry that trips it is struck.
"""

from __future__ import annotations

import logging
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.errors import NotFound, StoreError
from desorb.service.cases import OpenCase
from desorb.service.entry_view import entry_view, log_page
from desorb.service.known_on import known_on, receipt_days
from desorb.service.settings import user_name
from desorb.service.standing import trouble_in_words
from desorb.web.api_case import found_in
from desorb.web.desk import Desk, desk_of
from desorb.web.pages import page
from desorb.web.pages_case import case_parts

router = APIRouter(prefix="/cases/{case}/record")


@router.get("")
def record_page(request: Request, case: str, on: str = "", kind: str = "") -> HTMLResponse:
    """What the record says of itself."""
    desk, open_, parts = _parts(request, case, "the record")
    number = request.query_params.get("page", "1")
    days = receipt_days(desk.store, open_)
    then = known_on(desk.store, open_, on) if on and not parts["trouble"] else None
    positions = [position for position, each in enumerate(days) if then and each.day <= then.day]
    return page(
        request, "record.html", **parts, days=days, then=then, kind=kind,
        day_number=positions[-1] if positions else max(0, len(days) - 1),
        log=log_page(desk.store, open_, kind=kind, page=int(number) if number.isdecimal() and len(number) < 9 else 1),
    )  # fmt: skip


@router.get("/entries/{device}/{n}")
def entry_page(request: Request, case: str, device: str, n: str) -> HTMLResponse:
    """One entry as it was written, with the forms that strike or remove it."""
    desk, open_, parts = _parts(request, case, f"entry {device}/{n}")
    return page(
        request, "entry.html", **parts, e=entry_view(desk.store, open_, f"{device}/{n}"), by=user_name(desk.home)
    )


def _parts(request: Request, case: str, words: str) -> tuple[Desk, OpenCase, dict[str, Any]]:
    """What every page of a case shows; `trouble` says why it cannot be assessed, and then only its name is there."""
    try:
        desk, open_, found = found_in(request, case)
        return desk, open_, case_parts(desk, found, "record", words) | {"trouble": ""}
    except (StoreError, NotFound):
        raise
    except Exception as problem:
        logging.getLogger("desorb").error("case %s cannot be assessed", case, exc_info=problem)
        desk = desk_of(request)
        open_ = desk.case(case)
        d = {"case": {"id": open_.id, "name": open_.name}, "banner": ""}
        return desk, open_, {"d": d, "part": "record", "part_words": words, "trouble": trouble_in_words(problem)}
