"""Bags: a case leaves as one .zip and comes back as one. Nothing of an upload is believed before it verifies.

Contents: the router.
"""

from __future__ import annotations

import shutil
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response, StreamingResponse

from desorb.errors import StoreUnavailable
from desorb.report.words import counted
from desorb.service.bag_zip import receiving, safe_name, take_in, zipped
from desorb.web.desk import desk_of
from desorb.web.parameters import CaseId, Said

router = APIRouter(prefix="/api", tags=["bags"])
ZIP = "application/zip"


class BagTaken(Said):
    """What became of a bag: entries that were new, known, and set aside with their reason."""

    id: str
    case: str
    accepted: int
    known: int
    set_aside: list[tuple[str, str]]


@router.get("/cases/{case}/bag.zip", response_class=Response, responses={200: {"content": {ZIP: {}}}})
def export_bag(request: Request, case: CaseId) -> Response:
    """The whole case as a bag: entries, photos, reports, CSV and JSON, with a verifier that needs only Python."""
    desk = desk_of(request)
    found = desk.case(case)
    pieces = zipped(desk.store, found, desk.clock)
    name = f"{safe_name(found)}-bag.zip"
    return StreamingResponse(pieces, media_type=ZIP, headers={"content-disposition": f'attachment; filename="{name}"'})


@router.post(
    "/bags", status_code=201,
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
        }
    },
)  # fmt: skip
async def import_bag(
    request: Request,
    name: Annotated[str, Query(max_length=300, description="Name of the file; it is only shown.")] = "",
) -> BagTaken:
    """Take in a bag as a .zip. It must verify first; entries that are here already are not added again."""
    desk = desk_of(request)
    try:
        path, file = receiving(desk.store)
    except OSError as problem:
        raise StoreUnavailable("there is no room for the bag", got=str(problem), next_step="free space") from problem
    try:
        with file:
            async for piece in request.stream():
                try:
                    file.write(piece)
                except OSError as problem:
                    raise StoreUnavailable(
                        "the bag could not be kept", got=str(problem), next_step="free space"
                    ) from problem
        taken = await run_in_threadpool(take_in, desk.store, path)
    finally:
        shutil.rmtree(path.parent, ignore_errors=True)
    aside = f"; {counted(len(taken['set_aside']), 'entry was', 'entries were')} set aside" if taken["set_aside"] else ""
    said = f"Case {taken['case']}: {counted(taken['accepted'], 'entry', 'entries')} added, {taken['known']} known already{aside}."
    return BagTaken(said=said, **taken)
