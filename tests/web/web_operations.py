"""Every operation of the page, as the application has it: from the routers themselves, never from a list that can age."""

from __future__ import annotations

import importlib
import re
from dataclasses import dataclass

from fastapi.routing import APIRoute

from desorb.web.app import ROUTERS


@dataclass(frozen=True, slots=True)
class Operation:
    method: str
    path: str
    is_api: bool

    @property
    def name(self) -> str:
        return f"{self.method} {self.path}"


def operations() -> list[Operation]:
    found = []
    for module in ROUTERS:
        for route in importlib.import_module(f"desorb.web.{module}").router.routes:
            assert isinstance(route, APIRoute)
            path = re.sub(r":[a-z]+(?=\})", "", route.path)
            found += [Operation(method, path, module.startswith("api_")) for method in sorted(route.methods - {"HEAD"})]
    return sorted(found, key=lambda each: (each.path, each.method))
