"""What a device on site gets and sends: the pack of a case, its own entries, photos, and the file of its unsent work.

Contents: the router.
"""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field, PlainValidator, WithJsonSchema
from starlette.concurrency import run_in_threadpool

from desorb import __version__
from desorb.service.chain_owners import ChainOwners
from desorb.service.received_photos import Incoming, stored_photo
from desorb.service.shown_photos import NARROWEST, WIDEST, shown_photo
from desorb.service.site_pack import site_pack
from desorb.service.syncing import MOST_ENTRIES, Sent, take_entries, take_unsent
from desorb.web.authorisation import Person, authorise
from desorb.web.desk import desk_of
from desorb.web.pairing import pairing_of
from desorb.web.receiving import writer_of

router = APIRouter(tags=["on site"])
PHOTO_HEADERS = {"content-security-policy": "sandbox; default-src 'none'", "cache-control": "private, no-store"}
Digest = Annotated[str, Path(pattern="^[0-9a-f]{64}$", description="SHA-256 of the bytes")]
CaseName = Annotated[str, Path(min_length=1, max_length=64, description="id of the case")]


def _text(value: Any) -> str:
    """Any text, also one that is no sound text: then that entry alone is refused."""
    if not isinstance(value, str):
        raise ValueError("this is not text")
    return value


AnyText = Annotated[str, PlainValidator(_text), WithJsonSchema({"type": "string"})]


class SentEntry(BaseModel):
    """One entry as the device sealed it: canonical envelope, salt, canonical payload."""

    model_config = ConfigDict(extra="forbid")
    envelope: AnyText
    salt: AnyText
    payload: AnyText


class SentEntries(BaseModel):
    """Entries of one device, in the order of their numbers."""

    model_config = ConfigDict(extra="forbid")
    entries: list[SentEntry] = Field(min_length=1, max_length=MOST_ENTRIES)


class TakenEntry(BaseModel):
    """What became of one entry. `received` and `known` are on the disk of the server; `refused` is kept there, aside."""

    hash: str
    entry: str
    state: Literal["received", "known", "refused"]
    reason: str
    received_at: str


class TakenEntries(BaseModel):
    """The result of each entry in the order sent; what of these devices has not arrived; the clock to go on from."""

    results: list[TakenEntry]
    waiting: list[str]
    highest_clock: int
    server_time: str


class TakenPhoto(BaseModel):
    """The photo is on the disk of the server."""

    sha256: str
    size: int
    state: Literal["received", "known"]


class TakenUnsent(BaseModel):
    """What became of a file of unsent work. Taken a second time, everything in it is known."""

    results: list[TakenEntry]
    photos: int
    photos_refused: list[str]
    said: str


@router.get("/api/cases/{case}/pack", response_model=None)
def pack(request: Request, case: CaseName) -> dict[str, Any]:
    """Everything of a case that a device keeps to work without signal."""
    desk = desk_of(request)
    return site_pack(desk.store, desk.case(case), __version__, desk.clock)


@router.post("/api/cases/{case}/entries")
def entries(
    request: Request, case: CaseName, sent: SentEntries, person: Annotated[Person, Depends(authorise)]
) -> TakenEntries:
    """Take entries in. The same entry again is known. One that is refused holds up no other."""
    desk = desk_of(request)
    texts = [Sent(each.envelope, each.salt, each.payload) for each in sent.entries]
    claim = partial(ChainOwners(desk.home, pairing_of(desk).devices).claim, person.device) if person.device else None
    return TakenEntries(**take_entries(desk.store, writer_of(desk), case, texts, desk.clock, claim))


@router.put(
    "/api/cases/{case}/photos/{sha256}",
    openapi_extra={
        "requestBody": {"required": True, "content": {
            media_type: {"schema": {"type": "string", "format": "binary"}}
            for media_type in ("image/jpeg", "image/png", "image/webp", "image/heic")
        }}
    },
)  # fmt: skip
async def put_photo(request: Request, case: CaseName, sha256: Digest) -> TakenPhoto:
    """Take the bytes of a photo, kept as they are under their SHA-256. The type is read from the bytes."""
    desk = desk_of(request)
    await run_in_threadpool(desk.case, case)
    incoming = await run_in_threadpool(Incoming, desk.store, sha256)
    try:
        async for piece in request.stream():
            incoming.add(piece)
        is_new = await run_in_threadpool(incoming.keep)
    finally:
        await run_in_threadpool(incoming.drop)
    return TakenPhoto(sha256=sha256, size=incoming.size, state="received" if is_new else "known")


@router.get(
    "/api/cases/{case}/photos/{sha256}",
    response_class=Response,
    responses={200: {
        "description": "the bytes as they came, or a JPEG of the width asked for without any of its hidden data",
        "content": {"image/jpeg": {}, "image/png": {}, "image/webp": {}, "image/heic": {}},
    }},
)  # fmt: skip
def get_photo(
    request: Request,
    case: CaseName,
    sha256: Digest,
    width: Annotated[int | None, Query(ge=NARROWEST, le=WIDEST, description="px; a smaller copy as JPEG")] = None,
) -> Response:
    """A photo: its original bytes, or with `width` a smaller copy."""
    desk = desk_of(request)
    found = desk.case(case)
    if width is None:
        content, media_type = stored_photo(desk.store, sha256, found.id)
    else:
        content, media_type = shown_photo(desk.store, sha256, width, found.id), "image/jpeg"
    ending = media_type.partition("/")[2]
    name = f'inline; filename="{sha256[:16]}.{"jpg" if ending == "jpeg" else ending}"'
    return Response(content, media_type=media_type, headers=PHOTO_HEADERS | {"content-disposition": name})


@router.post("/api/unsent", openapi_extra={
    "requestBody": {"required": True, "content": {"application/json": {"schema": {"type": "object"}},
                                                  "application/octet-stream": {"schema": {"type": "string"}}}}
})  # fmt: skip
async def unsent(request: Request, name: Annotated[str, Query(max_length=200)] = "") -> TakenUnsent:
    """Take the file that a device saved of its unsent work: entries of any case here, and photos. `name` is not used."""
    desk = desk_of(request)
    content = await request.body()
    return TakenUnsent(**await run_in_threadpool(take_unsent, desk.store, writer_of(desk), content, desk.clock))
