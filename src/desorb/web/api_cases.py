"""The cases of this store, as the API gives them.

Contents: the router.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from pydantic import BaseModel

from desorb.service.cases import case_names
from desorb.web.desk import desk_of

router = APIRouter(prefix="/api/cases", tags=["cases"])


class CaseLine(BaseModel):
    """A case: its id (32 hexadecimal digits) and the name it was given."""

    id: str
    name: str


@router.get("")
def list_cases(request: Request) -> list[CaseLine]:
    """The cases of this store."""
    return [CaseLine(id=case, name=name) for name, case in case_names(desk_of(request).store).items()]
