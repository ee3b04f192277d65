"""How a page is made: templates with escaping on, and the words every page shares.

Contents: page (a template as an answer); the filters temperature, humidity_ratio and distance, in the units of this user.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context, select_autoescape
from jinja2.runtime import Context
from starlette.requests import Request
from starlette.responses import HTMLResponse

from desorb import __version__
from desorb.core.gates import NOT_A_CLEARANCE, UNDER_EVERY_GATE
from desorb.errors import DesorbError
from desorb.report.words import day, moment, with_moments
from desorb.service.home import Units, read_units
from desorb.web.desk import desk_of

FOLDER = Path(__file__).parent


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(FOLDER / "templates"), autoescape=select_autoescape(default=True),
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    environment.filters |= {"moment": moment, "day": day, "with_moments": with_moments}
    environment.filters |= {
        "temperature": _in_units("temperature"), "humidity_ratio": _in_units("humidity_ratio"),
        "distance": _in_units("length"),  # 'length' counts, as everywhere in these templates
    }  # fmt: skip
    environment.globals |= {
        "version": __version__, "not_a_clearance": NOT_A_CLEARANCE, "under_every_gate": UNDER_EVERY_GATE,
    }  # fmt: skip
    return environment


def _in_units(name: str) -> Callable[[Context, Any], str]:
    """A filter: degC, g/kg or m in the unit of this user; '' for nothing, and a text that is no number as it is."""

    @pass_context
    def show(context: Context, value: Any) -> str:
        if value is None or value == "":
            return ""
        try:
            number = float(str(value).replace(",", "."))
        except ValueError:
            return str(value)
        return str(getattr(context.get("units", Units()), f"show_{name}")(number))

    return show


def _units(request: Request) -> Units:
    try:
        return read_units(desk_of(request).home)
    except DesorbError:
        return Units()  # the settings page says what is wrong with the file; every other page still opens


def page(request: Request, template: str, *, status_code: int = 200, **parts: Any) -> HTMLResponse:
    """Render a template. Every page gets `here`, the path it stands at, and `units`."""
    text = _templates().get_template(template).render(**{"here": request.url.path, "units": _units(request), **parts})
    return HTMLResponse(text, status_code)
