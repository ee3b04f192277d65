"""The plan of spots: walls as ink lines with their openings as gaps, marks at spots, blank where nothing was read. Our own SVG.

Contents: plan_of (plain data with its list twin); draw (the SVG). x runs to the right and y upwards, both in m.
Where no room was drawn, the outlines of the zones stand for the walls. Marks: filled square above, open circle no higher,
dashed ring cannot say, a bar on the open side at the end of the scale, a small dot where this visit did not read, a triangle
for a control.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

from desorb.core.case import latest_by_id
from desorb.core.kinds import Opening, Room, Spot
from desorb.core.outcome import ABOVE, NO_HIGHER, Assessment
from desorb.core.plan_geometry import area, closest_wall, solid_walls
from desorb.report.comparisons import ENDS_OF_TEXT
from desorb.report.lookup import Lookup
from desorb.report.palette import FONT, INK, SLATE
from desorb.report.words import MARKS, counted, shortened

WIDTH, NARROWEST = 640.0, 240.0  # px of the whole drawing; 640 fill the width of a page
TALLEST, TALLEST_OF_MANY = 440.0, 840.0  # px, for few and for many spots
EDGE, FOOT = 34.0, 34.0  # px around the plan, and below it for scale bar and north
MANY_SPOTS = 60  # above it marks and names are set smaller
MARK, SMALL_MARK = 4.5, 3.0  # px, half of a mark
TEXT, SMALL_TEXT = 10.0, 7.5  # px
ZONE_TEXT = 11.0  # px
SIGN = 0.52  # width of a sign over its size, on the safe side
NO_PLAN = "No spot has a place on a plan: there is none. The list of spots stands in the table."
ON_A_WALL = 0.01  # m: an edge of a zone this near to a wall is that wall; setting of ours
NO_ROOMS = "No room was drawn, so the outlines of the zones stand for the walls, without openings."
LENGTHS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)  # m, for the scale bar


def plan_of(look: Lookup) -> dict[str, Any]:
    """Corners of the zones and places of the spots in m, as numbers, and the sentence where there are none."""
    assessed = {assessment.id: assessment for assessment in look.assessed.spots}
    last = look.last_visit
    read_controls = {each.spot.id for each in look.assessed.evidence if each.is_control and each.reading.visit == last}
    spots = [
        _spot(entered.record, entered.entry, assessed.get(entered.record.id), last, read_controls, look)
        for entered in look.spots.values()
    ]
    placed = [spot for spot in spots if spot["x"] is not None and spot["y"] is not None]
    zones = [
        {"id": entered.record.id, "words": entered.record.words or entered.record.id, "corners": corners,
         "entry": entered.entry}
        for entered in look.zones.values()
        if len(corners := _corners(entered.record.outline)) > 2
    ]  # fmt: skip
    rooms = [_room(each.record, each.entry) for each in latest_by_id(look.case.rooms).values()]
    rooms = [room for room in rooms if len(room["corners"]) > 2]
    north = number(look.case.setting("plan north"))
    return {
        "zones": zones, "rooms": rooms, "rooms_sentence": _rooms_in_words(rooms), "spots": spots,
        "north": north, "visit": last, "drawn": bool(placed),
        "sentence": "" if placed else NO_PLAN,
        "without_place": [spot["id"] for spot in spots if spot["x"] is None or spot["y"] is None],
        "alt": _alt(placed, zones, rooms) if placed else "",
    }  # fmt: skip


def number(text: str) -> float | None:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) and abs(value) < 1e6 else None


def _corners(outline: tuple[str, ...]) -> list[list[float]]:
    corners = []
    for text in outline:
        pair = [number(part) for part in text.split()]
        if len(pair) == 2 and pair[0] is not None and pair[1] is not None:
            corners.append([pair[0], pair[1]])
    return corners


def _room(room: Room, entry: str) -> dict[str, Any]:
    """A room as numbers. An opening that cannot be read is left out; the editor writes none."""
    corners = _corners(room.outline)
    sound = [
        {"kind": each.kind, "wall": each.wall, "start": number(each.start), "width": number(each.width)}
        for each in room.openings
        if number(each.start) is not None and number(each.width) is not None
    ]
    return {
        "id": room.id, "words": room.words or room.id, "corners": corners, "openings": sound, "height": room.height,
        "area": round(area([(x, y) for x, y in corners]), 2), "entry": entry,
    }  # fmt: skip


def _rooms_in_words(rooms: list[dict[str, Any]]) -> str:
    """The rooms of the plan with their area and openings, as text."""
    if not rooms:
        return NO_ROOMS
    said = []
    for room in rooms:
        kinds = [each["kind"] for each in room["openings"]]
        parts = [f"{room['area']:.2f} m²"] + [counted(kinds.count(kind), kind) for kind in dict.fromkeys(kinds)]
        said.append(f"{room['words']} ({', '.join(parts)})")
    return f"Rooms drawn: {'; '.join(said)}. Doors and openings are gaps; a thin line in a gap is a window."


def _spot(
    spot: Spot, entry: str, assessment: Assessment | None, last: str, controls: set[str], look: Lookup
) -> dict[str, Any]:
    control = spot.role == "control"
    read = spot.id in controls if control else assessment is not None and assessment.visit == last
    return {
        "id": spot.id, "entry": entry, "x": number(spot.x), "y": number(spot.y), "height": spot.height,
        "place": look.place(spot.zone, spot.element), "role": spot.role, "read_this_visit": read,
        "status": assessment.status if assessment else "", "value_text": assessment.value_text if assessment else "",
        "mark": "triangle" if control else MARKS[assessment.status] if assessment and read else "small dot",
        "end_of_scale": ENDS_OF_TEXT.get(assessment.value_text[:1], "") if assessment and read else "",
    }  # fmt: skip


def _alt(spots: list[dict[str, Any]], zones: list[dict[str, Any]], rooms: list[dict[str, Any]]) -> str:
    """What a person should see on the plan, status by status."""
    surveyed = [spot for spot in spots if spot["role"] != "control"]
    groups = {status: [spot["id"] for spot in surveyed if spot["read_this_visit"] and spot["status"] == status]
              for status in MARKS}  # fmt: skip
    walls = f"{counted(len(rooms), 'room')}, " if rooms else ""
    said = [f"Plan with {walls}{len(zones)} zone outlines and {len(spots)} spots."]
    said += [f"{status.capitalize()}: {', '.join(names)}." for status, names in groups.items() if names]
    rest = [spot["id"] for spot in surveyed if not spot["read_this_visit"]]
    if rest:
        said.append(f"Not read this visit: {', '.join(rest)}.")
    controls = [spot["id"] for spot in spots if spot["role"] == "control"]
    if controls:
        said.append(f"Controls: {', '.join(controls)}.")
    return " ".join(said)


@dataclass(slots=True)
class Sheet:
    """From metres to the paper, and which parts of the paper are taken."""

    left: float
    top: float
    scale: float  # px per m
    width: float  # px
    mark: float  # px
    text: float  # px
    taken: list[tuple[float, float, float, float]]

    def at(self, x: float, y: float) -> tuple[float, float]:
        return EDGE + (x - self.left) * self.scale, EDGE + (self.top - y) * self.scale

    def free(self, box: tuple[float, float, float, float]) -> bool:
        left, top, right, bottom = box
        return all(right <= a or left >= c or bottom <= b or top >= d for a, b, c, d in self.taken)


def draw(plan: dict[str, Any]) -> str:
    """The plan as SVG. The same data give the same bytes."""
    placed = [spot for spot in plan["spots"] if spot["x"] is not None and spot["y"] is not None]
    points = [(spot["x"], spot["y"]) for spot in placed]
    points += [(corner[0], corner[1]) for each in plan["zones"] + plan["rooms"] for corner in each["corners"]]
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    bottom, top = min(y for _, y in points), max(y for _, y in points)
    across, up = max(right - left, 0.5), max(top - bottom, 0.5)
    few = len(placed) <= MANY_SPOTS
    tallest = TALLEST if few else TALLEST_OF_MANY
    scale = min((WIDTH - 2 * EDGE) / across, (tallest - 2 * EDGE - FOOT) / up)
    height, width = 2 * EDGE + FOOT + up * scale, max(NARROWEST, 2 * EDGE + across * scale)
    sheet = Sheet(left, top, scale, width, MARK if few else SMALL_MARK, TEXT if few else SMALL_TEXT, [])
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{height:.0f}"'
        f' viewBox="0 0 {width:.0f} {height:.0f}" font-family="{FONT}" font-size="{TEXT:.0f}" fill="none" stroke="none">'
    ]
    parts += [_outline(zone, sheet, plan["rooms"]) for zone in plan["zones"]]
    parts += [_walls(room, sheet) for room in plan["rooms"]]
    marks, labels = _marks(placed, sheet)
    names = [_zone_name(zone, sheet) for zone in plan["zones"]]
    parts += [*names, *marks, *labels, _scale_bar(scale, height), _north(plan["north"], width, height)]
    return "\n".join(part for part in [*parts, "</svg>"] if part) + "\n"


def _walls(room: dict[str, Any], sheet: Sheet) -> str:
    """Walls as ink lines, openings as gaps; in the gap of a window a thin line."""
    openings = [Opening(o["kind"], o["wall"], str(o["start"]), str(o["width"])) for o in room["openings"]]
    solid, gaps = solid_walls([(x, y) for x, y in room["corners"]], openings)
    glass = [piece for kind, piece in gaps if kind == "window"]
    parts = []
    for pieces, width in ((solid, 2.4), (glass, 0.7)):
        path = "".join(
            "M{:.1f} {:.1f}L{:.1f} {:.1f}".format(*sheet.at(*begin), *sheet.at(*end)) for begin, end in pieces
        )
        if path:
            parts.append(f'<path d="{path}" stroke="{INK}" stroke-width="{width}" stroke-linecap="square"/>')
    return "\n".join(parts)


def _outline(zone: dict[str, Any], sheet: Sheet, rooms: list[dict[str, Any]]) -> str:
    """The edge of a zone: the wall itself where no room was drawn, else a thin dashed line wherever no wall stands."""
    if rooms:
        walls = [[(x, y) for x, y in room["corners"]] for room in rooms]
        edges = zip(zone["corners"], zone["corners"][1:] + zone["corners"][:1], strict=True)
        free = [edge for edge in edges if not any(_along_wall(edge, corners) for corners in walls)]
        path = "".join("M{:.1f} {:.1f}L{:.1f} {:.1f}".format(*sheet.at(*one), *sheet.at(*other)) for one, other in free)
        drawn = f'<path d="{path}" stroke="{SLATE[3]}" stroke-width="0.7" stroke-dasharray="5 2.5"/>'
        return drawn if path else ""
    corners = " ".join("{:.1f},{:.1f}".format(*sheet.at(x, y)) for x, y in zone["corners"])
    return f'<polygon points="{corners}" stroke="{INK}" stroke-width="1.6" stroke-linejoin="miter"/>'


def _along_wall(edge: tuple[list[float], list[float]], corners: list[tuple[float, float]]) -> bool:
    (x, y), (end_x, end_y) = edge
    places = ((x, y), ((x + end_x) / 2, (y + end_y) / 2), (end_x, end_y))
    return all(closest_wall(corners, place)[2] <= ON_A_WALL for place in places)


def _text(x: float, y: float, words: str, anchor: str = "start", size: float = TEXT) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" fill="{INK}" text-anchor="{anchor}" font-size="{size:g}">{escape(words)}</text>'
    )


def _zone_name(zone: dict[str, Any], sheet: Sheet) -> str:
    """The name of a zone inside its upper left corner, or the nearest free line below it."""
    places = [sheet.at(x, y) for x, y in zone["corners"]]
    x, y = min(x for x, _ in places) + 5, min(y for _, y in places) + 13
    width = max(x for x, _ in places) - x - 3
    room = max(4, int(width / (SIGN * ZONE_TEXT)))
    words = zone["words"] if len(zone["words"]) <= room else shortened(zone["id"], room)
    for step in range(8):
        box = (x, y + 13 * step - 10, x + SIGN * ZONE_TEXT * len(words), y + 13 * step + 2)
        if sheet.free(box):
            sheet.taken.append(box)
            return _text(x, y + 13 * step, words, size=ZONE_TEXT)
    return _text(x, y, words, size=ZONE_TEXT)


def _marks(spots: list[dict[str, Any]], sheet: Sheet) -> tuple[list[str], list[str]]:
    """Marks first, then their names where there is room; spots above each other stand side by side on a short stalk."""
    stacks: dict[tuple[int, int], int] = {}
    marks, places = [], []
    half = sheet.mark
    for spot in spots:
        x, y = sheet.at(spot["x"], spot["y"])
        key = (round(x / (2 * half)), round(y / (2 * half)))
        position = stacks.get(key, 0)
        stacks[key] = position + 1
        shifted = x + position * (2 * half + 4)
        if position:
            marks.append(f'<path d="M{x:.1f} {y:.1f}H{shifted - half:.1f}" stroke="{SLATE[2]}" stroke-width="0.7"/>')
        marks.append(mark(spot["mark"], spot["end_of_scale"], shifted, y, half))
        places.append((spot, shifted, y))
        sheet.taken.append((shifted - half - 1, y - half - 2, shifted + half + 1, y + half + 2))
    return marks, [label for spot, x, y in places if (label := _label(spot["id"], x, y, sheet))]


def _label(words: str, x: float, y: float, sheet: Sheet) -> str:
    """The name of a spot beside its mark, at the first of eight places that is free; the list has every name."""
    short = shortened(words, 14)
    size, away = sheet.text, sheet.mark + 3
    width, low = SIGN * size * len(short), sheet.text * 0.35
    for shift, rise, anchor in (
        (away, low, "start"), (0, -away, "middle"), (0, away + 2 * low, "middle"), (-away, low, "end"),
        (away, -low, "start"), (away, 3 * low, "start"), (-away, -low, "end"), (-away, 3 * low, "end"),
    ):  # fmt: skip
        left = x + shift - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        box = (left, y + rise - 0.8 * size, left + width, y + rise + 1)
        if sheet.free(box) and left > 1 and left + width < sheet.width - 1:
            sheet.taken.append(box)
            return _text(x + shift, y + rise, short, anchor, size)
    return ""


def mark(shape: str, end: str, x: float, y: float, size: float = MARK) -> str:
    """One mark at a place: shape says the status, a bar says which side of the scale is open."""
    if shape == MARKS[ABOVE]:
        drawn = f'<rect x="{x - size:.1f}" y="{y - size:.1f}" width="{2 * size:.1f}" height="{2 * size:.1f}" fill="{SLATE[4]}"/>'
    elif shape == "triangle":
        path = f"M{x:.1f} {y - size:.1f}L{x + size:.1f} {y + size * 0.8:.1f}H{x - size:.1f}Z"
        drawn = f'<path d="{path}" stroke="{INK}" stroke-width="1"/>'
    elif shape == "small dot":
        drawn = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="1.6" fill="{INK}"/>'
    else:
        dash = "" if shape == MARKS[NO_HIGHER] else ' stroke-dasharray="2.4 2.2"'
        colour = SLATE[2] if shape == MARKS[NO_HIGHER] else INK
        drawn = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size:.1f}" stroke="{colour}" stroke-width="1.6"{dash}/>'
    if end:
        height = y - size - 3 if end == "top" else y + size + 3
        drawn += f'<path d="M{x - size:.1f} {height:.1f}H{x + size:.1f}" stroke="{INK}" stroke-width="1.8"/>'
    return drawn


def _scale_bar(scale: float, height: float) -> str:
    length = max((each for each in LENGTHS if each * scale <= NARROWEST / 2), default=LENGTHS[0])
    y, start = height - 20, EDGE
    path = f"M{start:.1f} {y - 4:.1f}V{y:.1f}H{start + length * scale:.1f}V{y - 4:.1f}"
    return f'<path d="{path}" stroke="{INK}" stroke-width="1"/>' + _text(start, y + 13, f"0 to {length:g} m")


def _north(north: float | None, width: float, height: float) -> str:
    """An arrow, only where the case says how the plan is turned: degrees clockwise from the top of the plan."""
    if north is None:
        return ""
    x, y = width - EDGE - 12, height - 26
    shaft = (
        f"M{x:.1f} {y + 11:.1f}V{y - 11:.1f}M{x - 3.5:.1f} {y - 5:.1f}L{x:.1f} {y - 11:.1f}L{x + 3.5:.1f} {y - 5:.1f}"
    )
    arrow = f'<path d="{shaft}" stroke="{INK}" stroke-width="1.2" transform="rotate({north:g} {x:.1f} {y:.1f})"/>'
    return arrow + _text(x + 14, y + 4, "north")
