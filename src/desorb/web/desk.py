"""What every handler needs: the store, the person's settings, and how this server is reached.

Contents: Desk; desk_of (the desk of a request); Owner, the person at this machine.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from starlette.requests import HTTPConnection

from desorb.notebook.store import Store
from desorb.service.cases import Clock, OpenCase, find_case, now

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "[::1]")


@dataclass(slots=True)
class Desk:
    """One running server over one store."""

    store: Store
    clock: Clock = now
    names: tuple[str, ...] = ()  # own names on the office network, beside the loopback names
    shared: bool = False  # reached from other machines: a device must be paired first
    state: dict[str, Any] = field(default_factory=dict)  # what a module keeps while the server runs, under its own name

    @property
    def home(self) -> Path:
        return self.store.home

    def case(self, case: str) -> OpenCase:
        """The case of this id or name. Raises NotFound."""
        return find_case(self.store, case)


def desk_of(connection: HTTPConnection) -> Desk:
    desk: Desk = connection.app.state.desk
    return desk
