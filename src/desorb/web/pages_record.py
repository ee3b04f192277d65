"""The pages of the record of a case, one level below it: heads, gaps, corrections, verification, known on a day, log, entry.

Contents: the router.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.service.entry_view import entry_view, log_page
from desorb.service.known_on import known_on, receipt_days
from desorb.service.settings import read_settings
from desorb.web.api_case import found_in
from desorb.web.pages import page
from desorb.web.pages_case import case_parts

router = APIRouter(prefix="/cases/{case}/record")


@router.get("")
def record_page(request: Request, case: str, on: str = "", kind: str = "") -> HTMLResponse:
    """What the record says of itself."""
    desk, open_, found = found_in(request, case)
    number = request.query_params.get("page", "1")
    days = receipt_days(desk.store, open_)
    then = known_on(desk.store, open_, on) if on else None
    positions = [position for position, each in enumerate(days) if then and each.day <= then.day]
    return page(
        request, "record.html", **case_parts(desk, found, "record", "the record"), days=days, then=then, kind=kind,
        day_number=positions[-1] if positions else max(0, len(days) - 1),
        log=log_page(desk.store, open_, kind=kind, page=int(number) if number.isdecimal() and len(number) < 9 else 1),
    )  # fmt: skip


@router.get("/entries/{device}/{n}")
def entry_page(request: Request, case: str, device: str, n: str) -> HTMLResponse:
    """One entry as it was written, with the forms that strike or remove it."""
    desk, open_, found = found_in(request, case)
    shown = entry_view(desk.store, open_, f"{device}/{n}")
    parts = case_parts(desk, found, "record", f"entry {device}/{n}")
    return page(request, "entry.html", **parts, e=shown, by=read_settings(desk.home).name)
