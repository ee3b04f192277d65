"""The plan of a case: what stands on it, and writing rooms, zones, constructions, spots and the picture under it.

Contents: plan_object; is_invented; Written; write_room, write_zone, write_construction, write_spot, write_picture; take_source;
picture_bytes. Nothing is deleted: the last record of an id counts, and a room without corners is off the plan.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from desorb.core.case import Case, latest_by_id
from desorb.core.compare import SAME_PLACE_M, displaced
from desorb.core.kinds import ROLES, Construction, PlanPicture, Room, Spot, Zone
from desorb.core.plan_geometry import area, corners_of, length_of, openings_problem, outline_problem
from desorb.errors import InputError, NotFound, Refused
from desorb.notebook.store import Store
from desorb.service.cases import Clock, OpenCase, load, now, write
from desorb.service.plan_files import SourceRead, read_source
from desorb.service.sheet import LONGEST_ID, media_type_of
from desorb.service.site_pack import places_in_pack

EVIDENCE = ("seen", "told", "assumed")
RISKS = ("heated", "tensioned", "tanked", "gas barrier", "listed")
SHORTEST_LINE = 20.0  # px of a scale line; setting of ours: a shorter one gives a scale nobody should use
PARTS = (
    "case", "rooms", "zones", "constructions", "picture", "spots", "visits", "instruments", "north", "coverings", "by",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Written:
    """One record that now stands in the case."""

    id: str
    entry: str
    said: str


def plan_object(store: Store, case: OpenCase, software: str, clock: Clock = now) -> dict[str, Any]:
    """What the plan shows: the same parts that a device keeps, so that site, office and report agree."""
    pack = places_in_pack(store, case, software, clock)
    return {part: pack[part] for part in PARTS}


def is_invented(store: Store, case: OpenCase) -> bool:
    """Does the case say of itself that it is a demonstration?"""
    return store.opening_of(case.id).get("invented") is True


def write_room(store: Store, case: OpenCase, room: Room, clock: Clock = now) -> Written:
    """Draw a room, draw it again, or take it off the plan (no corners)."""
    _examine_id(room.id)
    known = latest_by_id(load(store, case).rooms)
    if not room.outline:
        if room.id not in known or not known[room.id].record.outline:
            raise NotFound("there is no such room on the plan", got=room.id, next_step="draw it first")
        entry = write(store, case, [replace(room, openings=())], clock)[0]
        return Written(room.id, entry.name, f"Room {room.id} is off the plan. Its earlier outline stays in the record.")
    corners = corners_of(room.outline)
    _refuse(outline_problem(corners))
    _refuse(openings_problem(corners, room.openings))
    if room.height and not 0 < length_of(room.height) <= 100:
        raise InputError(
            "a room is higher than 0 and at most 100 m", got=room.height, next_step="measure the height again"
        )
    entry = write(store, case, [room], clock)[0]
    doors = len(room.openings)
    openings = f", {doors} opening{'' if doors == 1 else 's'}" if doors else ""
    verb = "drawn again" if room.id in known else "on the plan"
    return Written(room.id, entry.name, f"Room {room.id} is {verb}: {area(corners):.2f} m²{openings}.")


def write_zone(store: Store, case: OpenCase, zone: Zone, clock: Clock = now) -> Written:
    """Describe a zone; without corners it stands in the lists and not on the plan."""
    _examine_id(zone.id)
    folded = load(store, case)
    constructions = latest_by_id(folded.constructions)
    if zone.construction not in constructions:
        raise InputError(
            "this construction is not described", got=repr(zone.construction),
            wanted="one of: " + (", ".join(sorted(constructions)) or "none yet"), next_step="describe the construction first",
        )  # fmt: skip
    if zone.affected not in ("yes", "no", ""):
        raise InputError("affected is yes, no or not known", got=zone.affected, wanted="yes, no or empty")
    words = "it has no outline"
    if zone.outline:
        corners = corners_of(zone.outline)
        _refuse(outline_problem(corners))
        words = f"{area(corners):.2f} m²"
    known = latest_by_id(folded.zones).get(zone.id)
    if known and known.record.construction != zone.construction and _was_read(folded, zone.id):
        raise Refused(
            "readings stand in this zone: with another construction they would be compared with other controls",
            got=f"{known.record.construction} before, {zone.construction} now",
            next_step="describe a new zone, or strike the first description with its reason",
        )  # fmt: skip
    entry = write(store, case, [zone], clock)[0]
    return Written(zone.id, entry.name, f"Zone {zone.id} is described: {words}.")


def write_construction(store: Store, case: OpenCase, construction: Construction, clock: Clock = now) -> Written:
    """Describe a build-up. Each layer says whether it was seen, told or assumed."""
    _examine_id(construction.id)
    if not construction.material.strip():
        raise InputError(
            "a construction names the material that is read", next_step="give the material, such as cement screed"
        )
    if construction.built and not re.fullmatch(r"\d{4}", construction.built):
        raise InputError("built is a year, or empty when it is not known", got=construction.built, wanted="four digits")
    for number, layer in enumerate(construction.layers, start=1):
        if layer.evidence not in EVIDENCE or not layer.words.strip():
            raise InputError(
                f"layer {number} says what it is and how that is known", got=repr(layer.evidence),
                wanted="words, and seen, told or assumed", next_step=f"mend layer {number}",
            )  # fmt: skip
        if layer.thickness_mm and not length_of(layer.thickness_mm) > 0:
            raise InputError(
                f"layer {number} is thicker than 0 mm, or its thickness is left empty", got=layer.thickness_mm
            )
    for risk in construction.risks:
        if risk not in RISKS:
            raise InputError("this risk is not one of the words used here", got=repr(risk), wanted=", ".join(RISKS))
    entry = write(store, case, [construction], clock)[0]
    return Written(construction.id, entry.name, f"Construction {construction.id} is described.")


def write_spot(store: Store, case: OpenCase, spot: Spot, clock: Clock = now) -> Written:
    """Describe a spot or put it on the plan. Moved by more than 50 mm, or into another part, it is another spot."""
    _examine_id(spot.id)
    folded = load(store, case)
    zones, spots = latest_by_id(folded.zones), latest_by_id(folded.spots)
    if spot.zone not in zones:
        raise InputError(
            "this zone is not described", got=repr(spot.zone), wanted="one of: " + (", ".join(sorted(zones)) or "none yet"),
            next_step="describe the zone first",
        )  # fmt: skip
    if spot.role not in ROLES or not spot.element.strip():
        raise InputError(
            "a spot names its element and whether it is a control", got=f"{spot.element!r}, {spot.role!r}",
            wanted=f"an element such as floor, and {' or '.join(ROLES)}",
        )  # fmt: skip
    if bool(spot.x) != bool(spot.y):
        raise InputError(
            "a place on the plan has x and y", got=f"{spot.x!r}, {spot.y!r}", next_step="give both, or none"
        )
    for part in ("x", "y", "height", "offset_a", "offset_b"):
        if getattr(spot, part):
            length_of(getattr(spot, part))
    spot = replace(spot, **{part: getattr(spot, part).strip().replace(",", ".") for part in ("x", "y", "height")})
    if spot.id in spots:
        known = spots[spot.id].record
        changed = [part for part in ("zone", "element", "role") if getattr(known, part) != getattr(spot, part)]
        changed += displaced(known, spot)
        if changed:
            millimetres = f"{SAME_PLACE_M * 1000:.0f} mm"
            raise Refused(
                f"with another {', '.join(changed)} this is another spot: its readings would move with it",
                got="; ".join(f"{part} {getattr(known, part)} before, {getattr(spot, part)} now" for part in changed),
                wanted=f"a place within {millimetres} of the first one, in the same zone and element",
                next_step=f"write it as a new spot, such as {next_id(spot.id, set(spots))}",
            )  # fmt: skip
    entry = write(store, case, [spot], clock)[0]
    where = f"stands at x {spot.x} m, y {spot.y} m" if spot.x else "is described; it has no place on the plan"
    return Written(spot.id, entry.name, f"Spot {spot.id} {where}.")


def next_id(spot: str, taken: set[str]) -> str:
    """A free id for the spot that another one became: k1, k1-2, k1-3."""
    found = re.fullmatch(r"(.*)-(\d{1,6})", spot)
    stem, number = (found[1], int(found[2])) if found else (spot, 1)
    while True:
        number += 1
        ending = f"-{number}"
        if (offered := stem[: LONGEST_ID - len(ending)] + ending) not in taken:
            return offered


def take_source(store: Store, content: bytes, *, page: int = 1, unit: str = "") -> tuple[SourceRead, str, str]:
    """Read a file for the plan, and keep it and its picture. Gives what was read and the SHA-256 of picture and file."""
    if not content:
        raise InputError("no file came", next_step="choose a file")
    read = read_source(content, page=page, unit=unit)
    source = store.attach(content)
    return read, source if read.is_original else store.attach(read.content), source


def scale_of(points: Sequence[float], length: str) -> str:
    """Metres per pixel from a line on the picture (x y x y) and its true length."""
    if len(points) != 4 or not all(math.isfinite(part) and abs(part) <= 1e6 for part in points):
        raise InputError("the ends of the scale line are not on the picture", next_step="set both ends again")
    pixels = math.dist(points[:2], points[2:])
    metres = length_of(length)
    if pixels < SHORTEST_LINE:
        raise InputError(
            "the scale line is too short to give a scale", got=f"{pixels:.0f} px", wanted=f"{SHORTEST_LINE:.0f} px or more",
            next_step="choose two points that are far apart, such as the ends of the longest wall",
        )  # fmt: skip
    if metres <= 0:
        raise InputError("the true length lies above 0", got=length, next_step="measure the line on site")
    return f"{metres / pixels:.9g}"


def write_picture(store: Store, case: OpenCase, picture: PlanPicture, clock: Clock = now) -> Written:
    """Put a picture under the plan; with an empty sha256 there is none from now on."""
    if not picture.sha256:
        if not load(store, case).plan_pictures:
            raise NotFound("there is no picture under this plan", next_step="take one first")
        entry = write(store, case, [PlanPicture("", "", 0, 0, "", words=picture.words, by=picture.by)], clock)[0]
        return Written("", entry.name, "No picture lies under the plan now. The earlier one stays in the record.")
    content = store.attachment(picture.sha256)
    if content is None:
        raise NotFound("this picture is not in the store", got=picture.sha256[:12], next_step="take the file first")
    metres = length_of(picture.metres_per_pixel)
    if metres <= 0 or not (picture.width > 0 and picture.height > 0):
        raise InputError("a picture has a size and a scale above 0", next_step="draw the scale line again")
    length_of(picture.x), length_of(picture.y)
    across, up = (length_of(f"{side * metres:.3f}") for side in (picture.width, picture.height))
    entry = write(store, case, [replace(picture, media_type=media_type_of(content))], clock)[0]
    return Written(picture.sha256, entry.name, f"The picture lies under the plan: {across:.2f} m by {up:.2f} m.")


def picture_bytes(store: Store, case: OpenCase) -> tuple[bytes, str]:
    """The picture under the plan and its media type."""
    pictures = load(store, case).plan_pictures
    shown = pictures[-1].record if pictures else None
    content = store.attachment(shown.sha256) if shown and shown.sha256 else None
    if shown is None or content is None:
        raise NotFound("there is no picture under this plan", next_step="take a photo, a PDF or a drawing")
    return content, shown.media_type


def _was_read(case: Case, zone: str) -> bool:
    here = {entered.record.id for entered in case.spots if entered.record.zone == zone}
    return any(entered.record.spot in here for entered in case.readings)


def _examine_id(name: str) -> None:
    if not 0 < len(name.strip()) <= LONGEST_ID or not name.isprintable() or name != name.strip():
        raise InputError("an id is short and printable", got=repr(name[:80]), wanted=f"1 to {LONGEST_ID} letters")


def _refuse(problem: tuple[str, str]) -> None:
    if problem[0]:
        raise InputError(problem[0], next_step=problem[1])
