"""The pages of the methods beside the scan and of the drying under way: what they say, one form for a row, the limit of a test.

Contents: the router.
"""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.core.limits import UPPER, Limit
from desorb.service.cases import find_entry
from desorb.service.entering import KINDS, Field, cautions_of, form_of, page_of
from desorb.service.floor_tests import limits_for
from desorb.service.settings import read_settings
from desorb.web.api_case import found_in
from desorb.web.api_methods import shown_of
from desorb.web.pages import page
from desorb.web.pages_case import case_parts

router = APIRouter(prefix="/cases/{case}")

TITLES = {"methods": "Methods beside the scan", "drying": "Drying under way"}


@router.get("/methods")
def methods_page(request: Request, case: str) -> HTMLResponse:
    """What every method beside the scan says of the case."""
    return _shown_page(request, case, "methods")


@router.get("/drying")
def drying_page(request: Request, case: str) -> HTMLResponse:
    """What the record says of the drying."""
    return _shown_page(request, case, "drying")


def _shown_page(request: Request, case: str, part: str) -> HTMLResponse:
    desk, _, found = found_in(request, case)
    groups: dict[str, list[dict[str, Any]]] = {}
    for row in shown_of(desk, found, part):
        groups.setdefault(row["kind"], []).append(row)
    tests = [entered.record.id for entered in found.case.floor_tests] if part == "methods" else []
    return page(
        request, "methods.html", **case_parts(desk, found, part, TITLES[part].lower()), title=TITLES[part], groups=groups,
        kinds=KINDS[part], tests=list(dict.fromkeys(tests)),
    )  # fmt: skip


@router.get("/enter/{kind}")
def enter_page(request: Request, case: str, kind: str, entry: str = "", like: str = "") -> HTMLResponse:
    """The form for one row of a kind. entry: what was just written; like: an entry whose choices are filled in again."""
    desk, open_, found = found_in(request, case)
    part = page_of(kind)
    form = form_of(found.case, kind)
    written = find_entry(desk.store, open_, entry).payload() if entry else {}
    filled = {"by": read_settings(desk.home).name}
    if like:
        before = find_entry(desk.store, open_, like).payload()
        filled |= {field.name: str(before.get(field.name, "")) for field in form if field.widget == "choice"}
    return page(
        request, "enter.html", **case_parts(desk, found, part, KINDS[part][kind].lower()), kind=kind, title=KINDS[part][kind],
        of=part, of_title=TITLES[part], form=form, filled=filled, entry=entry, written=_in_words(form, written),
        test=written.get("id", "") if kind == "floor-test" else "", time_zone=open_.time_zone,
        cautions=cautions_of(kind),
    )  # fmt: skip


def _in_words(form: list[Field], written: dict[str, Any]) -> str:
    """The parts of an entry that say something, in the order of the form."""
    said = [(field.label, written.get(field.name)) for field in form]
    return "; ".join(f"{label}: {value}" for label, value in said if value and isinstance(value, str))


@router.get("/limit")
def limit_page(request: Request, case: str, test: str = "") -> HTMLResponse:
    """The limits that a floor test could be held against, the strictest first."""
    desk, _, found = found_in(request, case)
    record, quantity, chosen = limits_for(found.case, test)
    candidates = sorted({each.key: each for each in (chosen.limit, *chosen.others) if each}.values(), key=_strictness)
    taken = [entered.record for entered in found.case.limits_taken if entered.record.test == test]
    return page(
        request, "limit.html", **case_parts(desk, found, "methods", f"limit for {test}"), test=record, quantity=quantity,
        chosen=chosen, candidates=candidates, taken=taken[-1] if taken else None, by=read_settings(desk.home).name,
    )  # fmt: skip


def _strictness(limit: Limit) -> tuple[Any, bool]:
    """An upper limit is stricter the lower it lies, a lower one the higher; 'below' is stricter than 'at most'."""
    return (limit.value if limit.comparison in UPPER else -limit.value, limit.comparison in ("<=", ">="))
