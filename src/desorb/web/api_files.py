"""A file of readings, of air readings, or a sheet: taken into a case.

Contents: the router.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from pydantic import BaseModel

from desorb.service.take import Taken
from desorb.service.uploads_in import take_upload
from desorb.web.desk import desk_of
from desorb.web.parameters import CaseId

router = APIRouter(prefix="/api/cases/{case}/files", tags=["files"])


class BadRow(BaseModel):
    """A row that was not taken: which cell, what was got, what is wanted."""

    row: int
    column: str
    got: str
    wanted: str


class FileShown(BaseModel):
    """What became of a file. Good rows are kept; the file itself is kept under its hash."""

    kind: str
    rows: int
    kept: int
    known: int
    as_notes: int
    problems: list[BadRow]
    corrections: list[str]
    assumed: list[str]
    described: list[str]
    said: str


async def raw_body(request: Request) -> bytes:
    """The body as it came."""
    return await request.body()


@router.post(
    "",
    openapi_extra={
        "requestBody": {"required": True, "content": {
            "application/octet-stream": {"schema": {"type": "string", "format": "binary"}}
        }}
    },
)  # fmt: skip
def take(
    request: Request,
    case: CaseId,
    content: Annotated[bytes, Depends(raw_body)],
    name: Annotated[str, Query(min_length=1, max_length=200, description="name of the file; .toml is a sheet")],
    by: Annotated[str, Query(max_length=120)] = "",
    confirm_corrections: Annotated[str, Query(max_length=400, description="why changed rows are corrections")] = "",
) -> FileShown:
    """Take a file. Bad rows are named and left out, the same file twice adds nothing, a changed row waits to be confirmed."""
    desk = desk_of(request)
    taken = take_upload(
        desk.store, desk.case(case), name, content, by=by, confirm_corrections=confirm_corrections, clock=desk.clock
    )
    problems = [BadRow(row=each.row, column=each.column, got=each.got, wanted=each.wanted) for each in taken.problems]
    return FileShown(
        kind=taken.kind, rows=taken.rows, kept=taken.kept, known=taken.known, as_notes=taken.as_notes, problems=problems,
        corrections=taken.corrections, assumed=taken.assumed, described=taken.described, said=_said(taken),
    )  # fmt: skip


def _said(taken: Taken) -> str:
    words = f"{taken.rows} row{'s' if taken.rows != 1 else ''}: {taken.kept} kept, {taken.known} known already"
    if taken.as_notes:
        words += f", {taken.as_notes} of the kept as notes without evidence"
    if taken.problems:
        words += f", {len(taken.problems)} not taken"
    if taken.corrections:
        words += f", {len(taken.corrections)} changed and waiting to be confirmed"
    return f"{words}."
