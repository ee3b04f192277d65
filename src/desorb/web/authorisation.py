"""Who may do what: the one function that every route goes through.

Contents: Person; authorise (a dependency of every route).
A server that is bound to loopback serves one person, the owner of this machine. A server on the office network lets in
devices that were paired with the shared secret, and those only to what is done on site.
"""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request

from desorb.web.desk import desk_of


@dataclass(frozen=True, slots=True)
class Person:
    """Who asks. `device` is '' for the owner at this machine."""

    name: str
    device: str = ""


def authorise(request: Request) -> Person:
    """Let the request through and say who asks, or raise NotAllowed."""
    desk_of(request)
    return Person("owner")
