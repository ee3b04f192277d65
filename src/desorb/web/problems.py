"""From an error to an answer: one table of status codes, one shape for all of them, as JSON or as a page.

Contents: STATUS_OF; NotAllowed; TooManyTries; problem_body; add_problem_handlers.
"""

from __future__ import annotations

import logging
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Match

from desorb.errors import DesorbError, InputError, NotFound, RecordDamaged, Refused, ReportFailed, StoreError

STATUS_OF: tuple[tuple[type[DesorbError], int], ...] = (
    (NotFound, 404),
    (InputError, 422),
    (Refused, 409),
    (StoreError, 503),
    (RecordDamaged, 503),
    (ReportFailed, 503),
    (DesorbError, 503),
)
DISK_FULL = ("No space left", "disk is full", "disk full", "quota")


class NotAllowed(Refused):
    """This person or device may not do that here."""


class TooManyTries(Refused):
    """Something was tried too often: wait."""


class Problem(BaseModel):
    """What went wrong: what happened, what was got, what was wanted, what to do next."""

    error: str
    what: str
    got: str = ""
    wanted: str = ""
    next: str = ""


PROBLEMS: dict[int | str, dict[str, Any]] = {
    status: {"model": Problem, "description": words}
    for status, words in (
        (400, "the request could not be read"),
        (403, "not allowed"),
        (404, "not here"),
        (408, "the rest of the request did not come"),
        (409, "refused"),
        (413, "too large"),
        (415, "not of this type"),
        (422, "what was given cannot be used"),
        (503, "the store could not be used"),
        (507, "the disk is full"),
    )
}


def status_of(problem: DesorbError) -> int:
    if isinstance(problem, NotAllowed):
        return 403
    if isinstance(problem, TooManyTries):
        return 429
    if isinstance(problem, StoreError) and any(words in problem.got for words in DISK_FULL):
        return 507
    return next(status for kind, status in STATUS_OF if isinstance(problem, kind))


def problem_body(problem: DesorbError) -> dict[str, str]:
    return {
        "error": type(problem).__name__, "what": problem.what, "got": problem.got, "wanted": problem.wanted,
        "next": problem.next_step,
    }  # fmt: skip


def answer(request: Request, status: int, body: dict[str, str], headers: Any = None) -> Response:
    """JSON for the API; a page in words for a person."""
    if request.url.path.startswith("/api/"):
        return JSONResponse(body, status, headers=headers)
    from desorb.web.pages import page

    return page(request, "problem.html", status_code=status, problem=body)


def _methods_at(request: Request) -> list[str]:
    """The methods of every route at this address (app.py keeps the routes of all routers)."""
    found: set[str] = set()
    for route in request.app.state.routes:
        if route.matches(request.scope)[0] != Match.NONE:
            found |= route.methods or set()
    return sorted(found)


def add_problem_handlers(app: FastAPI) -> None:
    @app.exception_handler(DesorbError)
    def own(request: Request, problem: DesorbError) -> Response:
        return answer(request, status_of(problem), problem_body(problem))

    @app.exception_handler(RequestValidationError)
    def not_valid(request: Request, problem: RequestValidationError) -> Response:
        first = problem.errors()[0] if problem.errors() else {}
        where = ".".join(str(part) for part in first.get("loc", ()))
        words = str(first.get("msg", "it could not be read"))
        body = {"error": "NotUnderstood", "what": f"the request cannot be used: {where}", "got": "", "wanted": words}
        return answer(request, 422, body | {"next": "see /api/openapi.json for what this address takes"})

    @app.exception_handler(HTTPException)
    def of_the_framework(request: Request, problem: HTTPException) -> Response:
        body = {"error": "HTTPError", "what": str(problem.detail), "got": "", "wanted": "", "next": ""}
        headers = {name.lower(): value for name, value in (problem.headers or {}).items()}
        if problem.status_code == 405:
            headers["allow"] = ", ".join(_methods_at(request))  # of every route at this address, not of the first one
        return answer(request, problem.status_code, body, headers)

    @app.exception_handler(Exception)
    def unexpected(request: Request, problem: Exception) -> Response:
        logging.getLogger("desorb.web").error("unexpected", exc_info=problem)
        body = {
            "error": "Unexpected", "what": "something went wrong inside desorb; nothing acknowledged is lost", "got": "",
            "wanted": "", "next": "do it again; if it stays, run 'desorb verify' and report what was done",
        }  # fmt: skip
        return answer(request, 500, body)
