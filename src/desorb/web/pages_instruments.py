"""The pages of the instruments: their book, and the form in which one is described.

Contents: the router.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from desorb.core.kinds import CLAIMS, PRINCIPLES, Instrument
from desorb.errors import NotFound
from desorb.service.instrument_book import HEIGHT, LEFT, RIGHT, WIDTH, book
from desorb.service.instruments import instruments
from desorb.service.settings import user_name
from desorb.web.desk import desk_of
from desorb.web.pages import page

router = APIRouter()

CLAIMS_IN_WORDS = {
    "measured": "measured: the number is the quantity itself",
    "equivalent": "equivalent: it is said to equal what another method would give",
    "wood equivalent": "wood equivalent: read as if the material were wood",
    "comparative": "comparative: it only says higher or lower, and has no unit",
}


@router.get("/instruments")
def instruments_page(request: Request) -> HTMLResponse:
    desk = desk_of(request)
    chart = {"width": WIDTH, "height": HEIGHT, "left": LEFT, "right": WIDTH - RIGHT}
    return page(request, "instruments.html", book=book(desk.store, desk.clock), chart=chart, by=user_name(desk.home))


@router.get("/instruments/describe")
def describe_page(request: Request, like: str = "") -> HTMLResponse:
    """An empty form, or (`like`) one filled with an instrument as it is described now."""
    known = instruments(desk_of(request).store)
    if like and like not in known:
        raise NotFound("there is no such instrument", got=repr(like[:80]), next_step="see the list of instruments")
    return page(
        request, "instrument_form.html", instrument=known[like] if like else Instrument("", ""), again=bool(like),
        principles=PRINCIPLES, claims={name: CLAIMS_IN_WORDS[name] for name in CLAIMS},
    )  # fmt: skip
