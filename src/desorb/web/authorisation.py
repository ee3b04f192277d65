"""Who may do what: the one function that every route goes through, and the table of every operation.

Contents: Person; authorise (a dependency of every route); knock (asked before a body is read); rule_for. The table itself
is in who_may.py.
A server that is bound to loopback serves one person, the owner of this machine. A server on the office network lets in
devices that were paired with its code, and those only to what is done on site. What has no row belongs to the owner.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from starlette.requests import Request

from desorb.web.desk import LOOPBACK_NAMES, Desk, desk_of
from desorb.web.pairing import COOKIE, pairing_of
from desorb.web.problems import NotAllowed
from desorb.web.who_may import ANYONE, DEVICE, OWNER, WHO

CONVERTER = re.compile(r":[a-z]+(?=\})")  # of a path such as {spot:path}
LOOPBACK_ADDRESSES = ("127.0.0.1", "::1")


@dataclass(frozen=True, slots=True)
class Person:
    """Who asks. `device` is '' for the owner at this machine; `may` is owner, device or anyone."""

    name: str
    device: str = ""
    may: str = OWNER


def authorise(request: Request) -> Person:
    """Let the request through and say who asks, or raise NotAllowed."""
    desk = desk_of(request)
    person, why_not = _person(request, desk)
    needed = rule_for(request.method, getattr(request.scope.get("route"), "path", ""))
    if needed == ANYONE or person.may == OWNER or (person.may == DEVICE and needed == DEVICE):
        if person.device and request.method not in ("GET", "HEAD", "OPTIONS"):
            devices = pairing_of(desk).devices
            found = next((each for each in devices.all() if each.id == person.device), None)
            if found is not None:
                devices.seen(found)
        return person
    if why_not:
        raise NotAllowed(why_not[0], next_step=why_not[1])
    raise NotAllowed(
        "a paired device works on site; this is done at the machine where desorb runs",
        got=f"{request.method} {request.url.path}"[:200], next_step="do it there",
    )  # fmt: skip


def knock(request: Request, desk: Desk) -> NotAllowed | None:
    """Asked at the door, before a body is read: why somebody who may use nothing at this address is turned away."""
    if not desk.shared:
        return None
    person, why_not = _person(request, desk)
    asked = f"{request.method} {request.url.path}"
    rules = {who for form, who in _forms() if form.fullmatch(asked)}
    if person.may == OWNER or ANYONE in rules or (person.may == DEVICE and DEVICE in rules):
        return None
    what, next_step = why_not or ("a paired device works on site", "do this at the machine where desorb runs")
    return NotAllowed(what, next_step=next_step)


@cache
def _forms() -> tuple[tuple[re.Pattern[str], str], ...]:
    """Each row as a form of the addresses it may mean; the exact route is looked at again by `authorise`."""
    return tuple((re.compile(re.sub(r"\\\{[a-z0-9_]+\\\}", ".+", re.escape(row))), who) for row, who in WHO.items())


def rule_for(method: str, path: str) -> str:
    """Who may use this operation. A HEAD or OPTIONS is asked as a GET."""
    asked = "GET" if method in ("HEAD", "OPTIONS") else method
    return WHO.get(f"{asked} {CONVERTER.sub('', path)}", OWNER)


def _person(request: Request, desk: Desk) -> tuple[Person, tuple[str, str] | None]:
    """Who asks, and for one who is not let in the sentence and the next step."""
    if not desk.shared or _is_at_this_machine(request):
        return Person("owner"), None
    nobody = Person("", may=ANYONE)
    token = request.cookies.get(COOKIE, "")
    device = pairing_of(desk).devices.of_token(token) if token else None
    if device is None:
        return nobody, ("this device is not paired with this server", "open /pair on it and type the code once")
    standing = device.standing(desk.clock())
    if standing == "withdrawn":
        return nobody, (
            f"this device was withdrawn on {device.withdrawn[:10]}",
            "nothing on it is lost: save the unsent work to a file, or have it paired again at /pair",
        )
    if standing == "expired":
        return nobody, (
            "the pairing of this device has run out",
            "nothing on it is lost: open /pair and type the code again, then send",
        )
    return Person(device.name, device.id, DEVICE), None


def _is_at_this_machine(request: Request) -> bool:
    """From loopback and under a loopback name: what a proxy passes on comes under the name of the network."""
    host = re.sub(r":[0-9]+$", "", request.headers.get("host", "").casefold())
    from_here = request.client is not None and request.client.host in LOOPBACK_ADDRESSES
    return from_here and host in LOOPBACK_NAMES
