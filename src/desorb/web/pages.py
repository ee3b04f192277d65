"""How a page is made: templates with escaping on, and the words every page shares.

Contents: page (a template as an answer).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from starlette.requests import Request
from starlette.responses import HTMLResponse

from desorb import __version__
from desorb.core.gates import NOT_A_CLEARANCE, UNDER_EVERY_GATE
from desorb.report.words import day, moment, with_moments

FOLDER = Path(__file__).parent


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(FOLDER / "templates"), autoescape=select_autoescape(default=True),
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    environment.filters |= {"moment": moment, "day": day, "with_moments": with_moments}
    environment.globals |= {
        "version": __version__, "not_a_clearance": NOT_A_CLEARANCE, "under_every_gate": UNDER_EVERY_GATE,
    }  # fmt: skip
    return environment


def page(request: Request, template: str, *, status_code: int = 200, **parts: Any) -> HTMLResponse:
    """Render a template. Every page gets `here`, the path it stands at."""
    text = _templates().get_template(template).render(here=request.url.path, **parts)
    return HTMLResponse(text, status_code)
