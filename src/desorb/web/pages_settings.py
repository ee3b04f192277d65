"""The pages of settings: of this machine, and of one case.

Contents: the router.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.service.case_settings import CHOICES_OF_CASE, settings_in_force, warnings_of_row
from desorb.service.cases import load
from desorb.service.settings import RETENTION_NOTE, defaults_with_sources, read_settings, retention, user_name
from desorb.web.desk import desk_of
from desorb.web.pages import page

router = APIRouter()


@router.get("/settings")
def settings(request: Request) -> HTMLResponse:
    desk = desk_of(request)
    rows, limits = defaults_with_sources()
    return page(
        request, "settings.html", settings=read_settings(desk.home), note=RETENTION_NOTE, rows=rows, limits=limits,
        kept=retention(desk.store, desk.home, desk.clock),
    )  # fmt: skip


@router.get("/cases/{case}/settings")
def case_settings(request: Request, case: str) -> HTMLResponse:
    desk = desk_of(request)
    opened = desk.case(case)
    folded = load(desk.store, opened)
    in_force = {each.record.scale_class: each for each in folded.rule_rows}
    return page(
        request, "case_settings.html", case=opened, folded=folded, settings=settings_in_force(folded),
        choices=CHOICES_OF_CASE, rows=list(in_force.values()), by=user_name(desk.home),
        row_warnings={name: warnings_of_row(each.record, folded) for name, each in in_force.items()},
    )  # fmt: skip
