"""The plan of a case: rooms, zones, constructions, spots, and the file that lies under it.

Contents: the router.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool

from desorb import __version__
from desorb.core.kinds import Construction, Layer, Opening, PlanPicture, Room, Spot, Zone
from desorb.service import plans
from desorb.service.received_photos import offer
from desorb.web.desk import desk_of

router = APIRouter(prefix="/api/cases/{case}", tags=["plan"])
CaseName = Annotated[str, Path(min_length=1, max_length=64, description="id of the case")]
Id = Annotated[str, Field(min_length=1, max_length=40)]
Words = Annotated[str, Field(max_length=400)]
Length = Annotated[str, Field(max_length=24, description="metres, as typed; '' when not known")]
Outline = Annotated[list[Annotated[str, Field(max_length=64)]], Field(max_length=400, description='corners "x y" in m')]
Pixel = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]
PICTURE_HEADERS = {"content-security-policy": "sandbox; default-src 'none'", "cache-control": "private, no-store"}


class Given(BaseModel):
    """What a person gives. Unknown fields are refused."""

    model_config = ConfigDict(extra="forbid")


class GivenOpening(Given):
    """A gap in a wall. Wall 0 runs from the first corner to the second."""

    kind: Literal["door", "window", "opening"]
    wall: int = Field(ge=0, le=400)
    start: Length
    width: Length
    words: Words = ""


class GivenRoom(Given):
    """A room by its corners. No corners takes it off the plan."""

    id: Id
    words: Words = ""
    outline: Outline
    height: Length = ""
    openings: list[GivenOpening] = Field(default=[], max_length=100)
    by: Words = ""


class GivenZone(Given):
    """A part with one construction, age, finish and exposure."""

    id: Id
    words: Words = ""
    construction: Id
    exposure: Words = ""
    affected: Literal["yes", "no", ""] = ""
    outline: Outline = []


class GivenLayer(Given):
    """One layer, and how it is known."""

    words: Words
    thickness_mm: Length = ""
    evidence: Literal["seen", "told", "assumed"]


class GivenConstruction(Given):
    """One build-up, from below or outside to the surface that is read."""

    id: Id
    words: Words = ""
    material: Words
    built: str = Field(default="", max_length=4)
    layers: list[GivenLayer] = Field(default=[], max_length=30)
    risks: list[Literal["heated", "tensioned", "tanked", "gas barrier", "listed"]] = Field(default=[], max_length=5)


class GivenSpot(Given):
    """A spot. Moved by more than 50 mm it is another spot and needs another id."""

    id: Id
    zone: Id
    element: Annotated[str, Field(min_length=1, max_length=80)]
    role: Literal["control", "survey"] = "survey"
    words: Words = ""
    x: Length = ""
    y: Length = ""
    height: Length = ""
    why_unaffected: Words = ""
    offset_a: Length = ""
    offset_a_from: Words = ""
    offset_b: Length = ""
    offset_b_from: Words = ""


class GivenPicture(Given):
    """A picture that was taken before. The scale: either a line on it with its true length, or metres per pixel."""

    sha256: str = Field(pattern="^([0-9a-f]{64})?$", description="'' takes the picture away from the plan")
    width: int = Field(default=0, ge=0, le=100_000)
    height: int = Field(default=0, ge=0, le=100_000)
    line: list[Pixel] = Field(default=[], max_length=4, description="x y x y in px from the upper left corner")
    length: Length = ""
    metres_per_pixel: Length = ""
    x: Length = "0"
    y: Length = "0"
    words: Words = ""
    source_sha256: str = Field(default="", pattern="^([0-9a-f]{64})?$")
    source_page: int = Field(default=0, ge=0, le=10_000)
    by: Words = ""


class Done(BaseModel):
    """What now stands in the case: the id, the entry and a sentence."""

    id: str
    entry: str
    said: str


class Source(BaseModel):
    """The picture made from a file. With `metres_per_pixel` no scale line is needed; `rooms` are offered, not written."""

    sha256: str
    source_sha256: str
    kind: Literal["photo", "pdf", "dxf"]
    media_type: str
    width: int
    height: int
    pages: int
    page: int
    page_size: str
    metres_per_pixel: str
    x: str
    y: str
    unit: str
    needs_unit: bool
    rooms: list[list[str]]
    said: str


class Plan(BaseModel):
    """What the plan shows, in the parts of the site pack."""

    case: dict[str, Any]
    rooms: list[dict[str, Any]]
    zones: list[dict[str, Any]]
    constructions: list[dict[str, Any]]
    picture: dict[str, Any] | None
    spots: list[dict[str, Any]]
    visits: list[dict[str, Any]]
    instruments: list[dict[str, Any]]
    coverings: list[str]
    north: str
    by: str


@router.get("/plan")
def plan(request: Request, case: CaseName) -> Plan:
    """The plan of a case."""
    desk = desk_of(request)
    return Plan(**plans.plan_object(desk.store, desk.case(case), __version__, desk.clock))


@router.get(
    "/plan/picture", response_class=Response,
    responses={200: {"content": {"image/png": {}, "image/jpeg": {}}, "description": "the picture under the plan"}},
)  # fmt: skip
def picture(request: Request, case: CaseName) -> Response:
    """The picture that lies under the plan now."""
    desk = desk_of(request)
    content, media_type = plans.picture_bytes(desk.store, desk.case(case))
    return Response(content, media_type=media_type, headers=PICTURE_HEADERS)


@router.post(
    "/plan/source",
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
        }
    },
)
async def take_source(
    request: Request,
    case: CaseName,
    name: Annotated[str, Query(max_length=255, description="for the person; the type is read from the bytes")] = "",
    page: Annotated[int, Query(ge=1, le=10_000, description="of a PDF")] = 1,
    unit: Annotated[Literal["", "mm", "cm", "m", "in", "ft"], Query(description="of a drawing that states none")] = "",
) -> Source:
    """Make a picture of a JPEG, PNG, PDF page or DXF drawing and keep it. Nothing is written into the case yet."""
    desk = desk_of(request)
    found = await run_in_threadpool(desk.case, case)
    content = await request.body()
    read, sha256, source = await run_in_threadpool(plans.take_source, desk.store, content, page=page, unit=unit)
    offer(desk.store, found.id, sha256)
    parts = {name: value for name, value in asdict(read).items() if name in Source.model_fields}
    return Source(**parts, sha256=sha256, source_sha256=source)


@router.post("/plan/picture")
def set_picture(request: Request, case: CaseName, given: GivenPicture) -> Done:
    """Put a picture under the plan, with its scale."""
    desk = desk_of(request)
    scale = plans.scale_of(given.line, given.length) if given.line else given.metres_per_pixel
    record = PlanPicture(
        given.sha256, "", given.width, given.height, scale, given.x or "0", given.y or "0", given.words,
        given.source_sha256, given.source_page, given.by,
    )  # fmt: skip
    return Done(**asdict(plans.write_picture(desk.store, desk.case(case), record, desk.clock)))


@router.post("/rooms")
def set_room(request: Request, case: CaseName, given: GivenRoom) -> Done:
    """Draw a room, draw it again, or take it off the plan."""
    desk = desk_of(request)
    openings = tuple(Opening(**each.model_dump()) for each in given.openings)
    record = Room(given.id, given.words, tuple(given.outline), given.height, openings, given.by)
    return Done(**asdict(plans.write_room(desk.store, desk.case(case), record, desk.clock)))


@router.post("/zones")
def set_zone(request: Request, case: CaseName, given: GivenZone) -> Done:
    """Describe a zone."""
    desk = desk_of(request)
    record = Zone(**given.model_dump() | {"outline": tuple(given.outline)})
    return Done(**asdict(plans.write_zone(desk.store, desk.case(case), record, desk.clock)))


@router.post("/constructions")
def set_construction(request: Request, case: CaseName, given: GivenConstruction) -> Done:
    """Describe a construction with its layers."""
    desk = desk_of(request)
    layers = tuple(Layer(**each.model_dump()) for each in given.layers)
    record = Construction(given.id, given.words, given.material, given.built, layers, tuple(given.risks))
    return Done(**asdict(plans.write_construction(desk.store, desk.case(case), record, desk.clock)))


@router.post("/spots")
def set_spot(request: Request, case: CaseName, given: GivenSpot) -> Done:
    """Describe a spot, or put it on the plan."""
    desk = desk_of(request)
    return Done(**asdict(plans.write_spot(desk.store, desk.case(case), Spot(**given.model_dump()), desk.clock)))
