"""A redacted copy for a contractor: preview, hidden areas of photos, the zip.

Contents: the router.
"""

from __future__ import annotations

from dataclasses import asdict

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, Field

from desorb.service.cases import load
from desorb.service.redaction import areas_of, hide_area, preview_of, redacted_copy, take_area_back
from desorb.web.desk import desk_of
from desorb.web.parameters import CaseId, Figure, Form, Line, Said

router = APIRouter(prefix="/api/cases/{case}/redaction", tags=["redaction"])


class NamesGiven(Form):
    """Names to take out, beside those the record itself names as people and client."""

    names: list[Line] = Field(default=[], max_length=200)


class CopyAsked(NamesGiven):
    """`photos`: SHA-256 of each photo a person has looked at; no other goes along."""

    photos: list[Line] = Field(default=[], max_length=2000)


class TextReplaced(BaseModel):
    """A text that stands otherwise in the copy, and where."""

    was: str
    becomes: str
    places: list[str]


class TextToLookAt(BaseModel):
    """A text that still holds words with a capital letter."""

    where: str
    text: str
    words: list[str]


class PreviewShown(BaseModel):
    """What the copy would change; nothing is written."""

    replaced: list[TextReplaced]
    to_look_at: list[TextToLookAt]
    roles: dict[str, str]
    said: str


class AreaGiven(Form):
    """An area of a photo in shares of the picture, 0 to 1, as the picture is seen upright."""

    sha256: str = Field(pattern="^[0-9a-f]{64}$")
    left: Figure
    top: Figure
    width: Figure
    height: Figure
    words: Line = ""
    by: Line


class AreaShown(BaseModel):
    """A hidden area and the entry that says so."""

    entry: str
    sha256: str
    left: str
    top: str
    width: str
    height: str
    words: str
    by: str


class AreaTakenBack(Form):
    """The entry of a hidden area, and why it is shown again."""

    entry: Line
    why: Line
    by: Line


@router.post("/preview")
def preview(request: Request, case: CaseId, given: NamesGiven) -> PreviewShown:
    """Every replacement, and the texts a person should look at."""
    desk = desk_of(request)
    found = preview_of(desk.store, desk.case(case), given.names)
    places: dict[tuple[str, str], list[str]] = {}
    for each in found.replaced:
        places.setdefault((each.was, each.becomes), []).append(f"{each.where} {each.field}")
    replaced = [TextReplaced(was=was, becomes=becomes, places=where) for (was, becomes), where in places.items()]
    looked = [TextToLookAt(where=each.where, text=each.text, words=list(each.words)) for each in found.to_look_at]
    said = f"{len(found.replaced)} texts would change; {len(looked)} still hold words with a capital letter."
    return PreviewShown(replaced=replaced, to_look_at=looked, roles=dict(found.roles), said=said)


@router.get("/areas")
def areas(request: Request, case: CaseId) -> list[AreaShown]:
    """The hidden areas of this case."""
    desk = desk_of(request)
    return [AreaShown(**asdict(each)) for each in areas_of(load(desk.store, desk.case(case)))]


@router.post("/areas")
def hide(request: Request, case: CaseId, given: AreaGiven) -> AreaShown:
    """Leave an area of a photo out of redacted copies. The photo itself stays as it is."""
    desk = desk_of(request)
    area = (given.left, given.top, given.width, given.height)
    hidden = hide_area(
        desk.store, desk.case(case), given.sha256, area, words=given.words, by=given.by, clock=desk.clock
    )
    return AreaShown(**asdict(hidden))


@router.post("/areas/taken-back")
def take_back(request: Request, case: CaseId, given: AreaTakenBack) -> Said:
    """Strike a hidden area: copies made from now on show it again."""
    desk = desk_of(request)
    entry = take_area_back(desk.store, desk.case(case), given.entry, why=given.why, by=given.by, clock=desk.clock)
    return Said(said=f"The area is shown again in copies made from now on; strike {entry}.")


@router.post(
    "/copy",
    response_class=Response,
    responses={200: {"description": "the copy, a zip", "content": {"application/zip": {}}}},
)
def copy(request: Request, case: CaseId, given: CopyAsked) -> Response:
    """Make the redacted copy. It is handed over and not kept; it carries no heads."""
    desk = desk_of(request)
    made = redacted_copy(desk.store, desk.case(case), given.names, given.photos, clock=desk.clock)
    return Response(
        made, media_type="application/zip", headers={"content-disposition": 'attachment; filename="redacted-copy.zip"'}
    )
