"""The application: routes of the API and of the pages, behind one door and one authorisation.

Contents: create_app.
"""

from __future__ import annotations

from fastapi import Depends, FastAPI
from starlette.types import ASGIApp

from desorb import __version__
from desorb.web.authorisation import authorise
from desorb.web.desk import Desk
from desorb.web.door import Door
from desorb.web.pages import FOLDER
from desorb.web.problems import PROBLEMS, add_problem_handlers
from desorb.web.static_files import static_files

ROUTERS = (
    "api_bags",
    "api_case",
    "api_cases",
    "api_files",
    "api_instruments",
    "api_methods",
    "api_pairing",
    "api_plan",
    "api_practice",
    "api_record",
    "api_redaction",
    "api_reports",
    "api_settings",
    "api_site",
    "pages_case",
    "pages_cases",
    "pages_files",
    "pages_instruments",
    "pages_methods",
    "pages_pairing",
    "pages_physics",
    "pages_plan",
    "pages_practice",
    "pages_record",
    "pages_redaction",
    "pages_settings",
    "pages_site",
)


def create_app(desk: Desk) -> ASGIApp:
    """Everything the page does goes through /api, as described in /api/openapi.json."""
    import importlib

    app = FastAPI(
        title="desorb", version=__version__, docs_url=None, redoc_url=None,
        openapi_url=None if desk.shared else "/api/openapi.json",
        dependencies=[Depends(authorise)],
        description="Readings, decisions and records for damp buildings. Entries are only ever added.",
    )  # fmt: skip
    app.state.desk = desk
    app.state.routes = []
    add_problem_handlers(app)
    for name in ROUTERS:
        router = importlib.import_module(f"desorb.web.{name}").router
        app.state.routes += router.routes
        is_api = name.startswith("api_")
        app.include_router(router, responses=PROBLEMS if is_api else None, include_in_schema=is_api)
    app.mount("/static", static_files(FOLDER / "static"), name="static")
    return Door(app, desk)
