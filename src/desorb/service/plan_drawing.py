"""A DXF drawing as lines: read in recover mode, text left out, drawn as a picture of ours; closed outlines offered as rooms.

Contents: read_drawing; METRES_PER_UNIT. Taken: LINE, LWPOLYLINE, POLYLINE, ARC, CIRCLE of the model, on layers that are
on. Arcs become short lines. Runs only in the process of plan_reading.py.
"""

from __future__ import annotations

import io
import math
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

from desorb.core.plan_geometry import area, outline_problem
from desorb.errors import InputError, NotUnderstood
from desorb.service.plan_files import UNITS

MOST_ENTITIES = 200_000  # setting of ours
MOST_POINTS = 1_000_000  # setting of ours
MOST_ROOMS = 100  # setting of ours
ROOM_AREAS = (0.5, 5000.0)  # m2 of what is offered as a room; setting of ours
LARGEST_EXTENT = 2000.0  # m across; setting of ours: beyond it the unit is wrong
FARTHEST = 1e9  # drawing units from the origin
SIDE = 2400  # px of the longer side of the picture
EDGE = 20  # px
SAG = 0.01  # an arc leaves its line by at most this share of its radius

# The codes of $INSUNITS that a plan may be drawn in (ezdxf.units holds the same table, and a test compares them).
METRES_PER_UNIT = {1: 0.0254, 2: 0.3048, 4: 0.001, 5: 0.01, 6: 1.0, 10: 0.9144, 14: 0.1}
_BEGINNING = re.compile(rb"^[ \t]*0[ \t]*\r?\n[ \t]*(?:LINE|LWPOLYLINE|POLYLINE|VERTEX|ARC|CIRCLE|INSERT|SPLINE|HATCH|POINT|3DFACE|TEXT|MTEXT)\b", re.M)  # noqa: E501  # fmt: skip

Point = tuple[float, float]
Line = tuple[list[Point], bool]  # corners, and whether the last one leads back to the first


def read_drawing(content: bytes, unit: str) -> tuple[dict[str, Any], bytes]:
    """The lines of a drawing as a PNG with its scale, and the outlines that may be rooms."""
    begun = sum(1 for _ in _BEGINNING.finditer(content))
    if begun > MOST_ENTITIES:
        raise InputError(
            "this drawing has too many parts", got=f"{begun}", wanted=f"at most {MOST_ENTITIES}",
            next_step="save only the storey and the layers that are needed",
        )  # fmt: skip
    document = _opened(content)
    lines, left_out = _lines(document)
    if not lines:
        raise InputError(
            "this drawing holds no lines that can be shown", got=_counted(left_out) or "nothing",
            wanted="lines, polylines, arcs or circles in the model",
            next_step="explode the blocks in the drawing program, or print it to PDF",
        )  # fmt: skip
    own = METRES_PER_UNIT.get(int(document.header.get("$INSUNITS", 0) or 0))
    known = UNITS[unit] if unit else own
    xs = [x for corners, _ in lines for x, _ in corners]
    ys = [y for corners, _ in lines for _, y in corners]
    left, low, across, up = min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)
    if max(across, up) <= 0:
        raise InputError("all lines of this drawing lie in one place", next_step="check the file in a drawing program")
    moved = [([(x - left, y - low) for x, y in corners], closed) for corners, closed in lines]
    head: dict[str, Any] = {"media_type": "image/png", "said": _said(left_out)}
    if known is None:
        head["needs_unit"] = True
    else:
        if max(across, up) * known > LARGEST_EXTENT:
            raise InputError(
                "in this unit the drawing is too large for a plan", got=f"{max(across, up) * known:.0f} m across",
                wanted=f"at most {LARGEST_EXTENT:.0f} m", next_step="choose another unit",
            )  # fmt: skip
        head["unit"] = unit or next((name for name, size in UNITS.items() if size == own), "as stated in the drawing")
        head["rooms"] = _rooms(moved, known)
    picture, width, height, per_unit = _drawn(moved, across, up)
    head |= {"width": width, "height": height}
    if known is not None:
        head["metres_per_pixel"] = f"{known / per_unit:.9g}"
        head["x"] = head["y"] = f"{-EDGE * known / per_unit:.4f}"  # where the lower left corner of the picture stands
    return head, picture


def _opened(content: bytes) -> Any:
    from ezdxf import recover
    from ezdxf.lldxf.const import DXFError

    try:
        document, _ = recover.read(io.BytesIO(content))
    except (
        DXFError,
        OSError,
        ValueError,
        KeyError,
        AttributeError,
        IndexError,
        TypeError,
        OverflowError,
    ) as problem:
        raise NotUnderstood(
            "this drawing cannot be read", got=f"{type(problem).__name__}: {str(problem)[:160]}", wanted="an ASCII DXF file",
            next_step="save it again as DXF, or print it to PDF",
        ) from problem  # fmt: skip
    return document


def _lines(document: Any) -> tuple[list[Line], Counter[str]]:
    off = {layer.dxf.name.casefold() for layer in document.layers if layer.is_off() or layer.is_frozen()}
    lines: list[Line] = []
    left_out: Counter[str] = Counter()
    points = 0
    for entity in document.modelspace():
        kind = entity.dxftype()
        if entity.dxf.get("layer", "0").casefold() in off:
            left_out["on a layer that is off"] += 1
            continue
        try:
            found = _line_of(kind, entity)
        except (ValueError, TypeError, AttributeError, ArithmeticError):
            found = None
        if found is None or not all(
            math.isfinite(part) and abs(part) < FARTHEST for place in found[0] for part in place
        ):
            left_out[kind] += 1
            continue
        points += len(found[0])
        if points > MOST_POINTS:
            raise InputError(
                "this drawing has too many corners", wanted=f"at most {MOST_POINTS}", next_step="save fewer layers"
            )
        if len(found[0]) > 1:
            lines.append(found)
    return lines, left_out


def _line_of(kind: str, entity: Any) -> Line | None:
    if kind == "LINE":
        return [_flat(entity.dxf.start), _flat(entity.dxf.end)], False
    if kind in ("ARC", "CIRCLE"):
        centre, radius = entity.dxf.center, abs(float(entity.dxf.radius))
        first, last = (0.0, 360.0) if kind == "CIRCLE" else (entity.dxf.start_angle, entity.dxf.end_angle)
        turn = math.radians((last - first) % 360.0 or 360.0)
        around = list(_arc((centre.x, centre.y), radius, math.radians(first), turn))
        return _placed(entity, around), kind == "CIRCLE"
    if kind == "LWPOLYLINE":
        corners = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
        return _placed(entity, _with_bulges(corners, bool(entity.closed))), bool(entity.closed)
    if kind == "POLYLINE" and (entity.is_2d_polyline or entity.is_3d_polyline):
        corners = [(v.dxf.location.x, v.dxf.location.y, float(v.dxf.get("bulge", 0))) for v in entity.vertices]
        closed = bool(entity.is_closed)
        around = _with_bulges(corners, closed)
        return (around if entity.is_3d_polyline else _placed(entity, around)), closed
    return None


def _flat(place: Any) -> Point:
    return float(place.x), float(place.y)


def _placed(entity: Any, points: list[Point]) -> list[Point]:
    """From the entity's own axes to those of the drawing."""
    own = entity.ocs()
    return [_flat(place) for place in own.points_to_wcs([(x, y, 0) for x, y in points])] if own.transform else points


def _arc(centre: Point, radius: float, first: float, turn: float) -> Iterator[Point]:
    """Points of an arc, both ends included: as many as keep within SAG, at most 64."""
    steps = min(max(math.ceil(abs(turn) / (2 * math.acos(1 - SAG))), 2), 64)
    for step in range(steps + 1):
        angle = first + turn * step / steps
        yield centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)


def _with_bulges(corners: list[tuple[float, float, float]], closed: bool) -> list[Point]:
    """Corners with the arcs between them as short lines. A bulge is the tangent of a quarter of the arc's angle."""
    points: list[Point] = []
    for index, (x, y, bulge) in enumerate(corners):
        points.append((x, y))
        is_last = index == len(corners) - 1
        if not bulge or (is_last and not closed):
            continue
        end_x, end_y, _ = corners[(index + 1) % len(corners)]
        chord = math.dist((x, y), (end_x, end_y))
        if chord == 0:
            continue
        turn = 4 * math.atan(bulge)
        away = chord * (1 - bulge * bulge) / (4 * bulge)  # of the centre, left of the chord
        centre = (
            (x + end_x) / 2 - away * (end_y - y) / chord,
            (y + end_y) / 2 + away * (end_x - x) / chord,
        )
        radius = math.dist(centre, (x, y))
        points += list(_arc(centre, radius, math.atan2(y - centre[1], x - centre[0]), turn))[1:-1]
    return points


def _rooms(lines: list[Line], metres: float) -> list[list[str]]:
    """Closed outlines of the size of a room, in metres, largest first."""
    found = []
    for corners, closed in lines:
        repeats = len(corners) > 3 and math.dist(corners[0], corners[-1]) * metres < 0.001
        if not (closed or repeats):
            continue
        outline = [(round(x * metres, 3), round(y * metres, 3)) for x, y in (corners[:-1] if repeats else corners)]
        kept = [place for index, place in enumerate(outline) if place != outline[index - 1]]
        if 2 < len(kept) <= 60 and ROOM_AREAS[0] <= area(kept) <= ROOM_AREAS[1] and not outline_problem(kept)[0]:
            found.append(kept)
    found.sort(key=area, reverse=True)
    return [[f"{x:.3f} {y:.3f}" for x, y in outline] for outline in found[:MOST_ROOMS]]


def _drawn(lines: list[Line], across: float, up: float) -> tuple[bytes, int, int, float]:
    """The lines in black on white; also the px of one drawing unit. The lower left corner stands EDGE px inside."""
    from PIL import Image, ImageDraw

    per_unit = (SIDE - 2 * EDGE) / max(across, up)
    width, height = (max(round(side * per_unit) + 2 * EDGE, 2 * EDGE + 2) for side in (across, up))
    picture = Image.new("L", (width, height), 255)
    pen = ImageDraw.Draw(picture)
    for corners, closed in lines:
        around = corners + corners[:1] if closed else corners
        pen.line([(EDGE + x * per_unit, height - EDGE - y * per_unit) for x, y in around], fill=0, width=2)
    kept = io.BytesIO()
    picture.save(kept, "PNG")
    return kept.getvalue(), width, height, per_unit


def _counted(left_out: Counter[str]) -> str:
    return ", ".join(f"{count} {kind}" for kind, count in left_out.most_common(8))


def _said(left_out: Counter[str]) -> str:
    return f"Left out of the picture: {_counted(left_out)}." if left_out else ""
