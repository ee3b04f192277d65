"""The geometry of the plan: corners, walls, areas and openings, and in words what cannot be a room.

Contents: corners_of; outline_problem; wall_lengths; area; openings_problem; solid_walls (walls as pieces with their
openings as gaps); closest_wall; contains. Everything in metres, x to the right and y upwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from desorb.core.kinds import OPENINGS, Opening
from desorb.errors import NotUnderstood

Corner = tuple[float, float]

FARTHEST = 10_000.0  # m from the origin of the plan: setting of ours
MOST_CORNERS = 400  # setting of ours
SAME_PLACE = 0.001  # m: corners nearer than this are one corner; setting of ours
SMALLEST_AREA = 0.01  # m2: setting of ours


def length_of(text: str) -> float:
    """A length or a coordinate as typed, in m. Raises NotUnderstood."""
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or abs(value) > FARTHEST or "_" in text:
        raise NotUnderstood(
            "this is not a length in metres", got=repr(text[:40]), wanted=f"digits, at most {FARTHEST:.0f} m",
            next_step="type it in metres, such as 4.20",
        )  # fmt: skip
    return value


def corners_of(outline: Sequence[str]) -> list[Corner]:
    """Corners "x y" as pairs of metres. Raises NotUnderstood with the number of the corner."""
    corners = []
    for number, text in enumerate(outline, start=1):
        parts = text.split()
        if len(parts) != 2:
            raise NotUnderstood(
                f"corner {number} is not two lengths", got=repr(text[:40]), wanted="x and y in metres, such as 4.20 3.10",
                next_step="mend that corner",
            )  # fmt: skip
        corners.append((length_of(parts[0]), length_of(parts[1])))
    return corners


def outline_problem(corners: Sequence[Corner]) -> tuple[str, str]:
    """What keeps these corners from being an outline, and the next step; two empty texts when nothing does."""
    if len(corners) < 3:
        return f"an outline has at least 3 corners, this one has {len(corners)}", "add the corners that are missing"
    if len(corners) > MOST_CORNERS:
        return f"an outline has at most {MOST_CORNERS} corners", "draw it with fewer corners"
    for number, length in enumerate(wall_lengths(corners)):
        if length < SAME_PLACE:
            following = (number + 1) % len(corners)
            return f"corners {number + 1} and {following + 1} are one place", f"take corner {following + 1} out"
    for one in range(len(corners)):
        for other in range(one + 1, len(corners)):
            if _walls_meet(corners, one, other):
                return (
                    f"wall {one + 1} and wall {other + 1} cross or lie on each other",
                    "move a corner so that the walls do not cross, or take the last corner back",
                )
    if area(corners) < SMALLEST_AREA:
        return f"this outline encloses less than {SMALLEST_AREA:g} m²", "check the corners: do they lie on one line?"
    return "", ""


def wall_lengths(corners: Sequence[Corner]) -> list[float]:
    """Wall 0 runs from the first corner to the second, the last one back to the first."""
    return [math.dist(corner, corners[(index + 1) % len(corners)]) for index, corner in enumerate(corners)]


def area(corners: Sequence[Corner]) -> float:
    """m2, by the surveyor's formula: half the sum of the cross products of neighbouring corners."""
    if not corners:
        return 0.0
    left, low = corners[0]  # measured from the first corner, so that far away plans lose no digits
    moved = [(x - left, y - low) for x, y in corners]
    return abs(sum(x * after[1] - after[0] * y for (x, y), after in zip(moved, moved[1:] + moved[:1], strict=True))) / 2


def openings_problem(corners: Sequence[Corner], openings: Sequence[Opening]) -> tuple[str, str]:
    """What keeps openings out of these walls, and the next step; two empty texts when nothing does."""
    lengths = wall_lengths(corners)
    taken: dict[int, list[tuple[float, float]]] = {}
    for opening in openings:
        if opening.kind not in OPENINGS:
            return f"an opening is one of {', '.join(OPENINGS)}, not {opening.kind[:40]!r}", "choose one of these words"
        if not 0 <= opening.wall < len(lengths):
            return f"there is no wall {opening.wall + 1}: this outline has {len(lengths)}", "choose another wall"
        start, width = length_of(opening.start), length_of(opening.width)
        if width <= 0 or start < 0:
            return (
                f"this {opening.kind} in wall {opening.wall + 1} has no width or begins before its wall",
                "measure it again",
            )
        length = lengths[opening.wall]
        if start + width > length + SAME_PLACE:
            return (
                f"the {opening.kind} from {start:.2f} m, {width:.2f} m wide, is longer than wall {opening.wall + 1}"
                f" of {length:.2f} m allows",
                "check which wall it is in, and measure it again",
            )
        for other_start, other_end in taken.get(opening.wall, []):
            if start < other_end - SAME_PLACE and other_start < start + width - SAME_PLACE:
                return f"two openings of wall {opening.wall + 1} overlap", "move one of them, or take it out"
        taken.setdefault(opening.wall, []).append((start, start + width))
    return "", ""


Piece = tuple[Corner, Corner]


def solid_walls(corners: Sequence[Corner], openings: Sequence[Opening]) -> tuple[list[Piece], list[tuple[str, Piece]]]:
    """The walls as pieces without their openings, and the openings as (kind, piece)."""
    solid: list[Piece] = []
    gaps: list[tuple[str, Piece]] = []
    for wall, length in enumerate(wall_lengths(corners)):
        begin, end = corners[wall], corners[(wall + 1) % len(corners)]
        at = 0.0
        here = sorted((length_of(o.start), length_of(o.width), o.kind) for o in openings if o.wall == wall)
        for start, width, kind in here:
            start, stop = min(max(start, at), length), min(max(start + width, at), length)
            if start > at:
                solid.append((_along(begin, end, at, length), _along(begin, end, start, length)))
            if stop > start:
                gaps.append((kind, (_along(begin, end, start, length), _along(begin, end, stop, length))))
            at = max(at, stop)
        if at < length:
            solid.append((_along(begin, end, at, length), end))
    return solid, gaps


def closest_wall(corners: Sequence[Corner], point: Corner) -> tuple[int, float, float]:
    """The wall nearest to a point: its number from 0, how far along it (m), and how far away the point is (m)."""
    best = (0, 0.0, math.inf)
    for wall, length in enumerate(wall_lengths(corners)):
        (x, y), (end_x, end_y) = corners[wall], corners[(wall + 1) % len(corners)]
        if length == 0:
            continue
        along = ((point[0] - x) * (end_x - x) + (point[1] - y) * (end_y - y)) / length
        along = min(max(along, 0.0), length)
        away = math.dist(point, _along((x, y), (end_x, end_y), along, length))
        if away < best[2]:
            best = (wall, along, away)
    return best


def contains(corners: Sequence[Corner], point: Corner) -> bool:
    """Does a point lie inside an outline or on it?"""
    if closest_wall(corners, point)[2] <= SAME_PLACE:
        return True
    inside = False
    for index, (x, y) in enumerate(corners):
        end_x, end_y = corners[(index + 1) % len(corners)]
        if (y > point[1]) != (end_y > point[1]) and point[0] < x + (point[1] - y) * (end_x - x) / (end_y - y):
            inside = not inside
    return inside


def _along(begin: Corner, end: Corner, metres: float, length: float) -> Corner:
    share = metres / length
    return begin[0] + (end[0] - begin[0]) * share, begin[1] + (end[1] - begin[1]) * share


def _turn(one: Corner, two: Corner, three: Corner) -> float:
    """How far the third corner lies left (+) or right (-) of the line from the first to the second, in m."""
    length = math.dist(one, two)
    cross = (two[0] - one[0]) * (three[1] - one[1]) - (two[1] - one[1]) * (three[0] - one[0])
    return cross / length if length else math.dist(one, three)


def _within(one: Corner, two: Corner, point: Corner) -> bool:
    """Of a point on the line of a wall: does it lie between the ends?"""
    return all(min(a, b) - SAME_PLACE <= c <= max(a, b) + SAME_PLACE for a, b, c in zip(one, two, point, strict=True))


def _touches(one: Corner, two: Corner, point: Corner) -> bool:
    return abs(_turn(one, two, point)) < SAME_PLACE and _within(one, two, point)


def _walls_meet(corners: Sequence[Corner], one: int, other: int) -> bool:
    """Do two walls meet anywhere but at a corner that they share?"""
    count = len(corners)
    a, b = corners[one], corners[(one + 1) % count]
    c, d = corners[other], corners[(other + 1) % count]
    if (one + 1) % count == other:
        return _touches(a, b, d) or _touches(c, d, a)
    if (other + 1) % count == one:
        return _touches(c, d, b) or _touches(a, b, c)
    apart = (_turn(a, b, c) > 0) != (_turn(a, b, d) > 0) and (_turn(c, d, a) > 0) != (_turn(c, d, b) > 0)
    return apart or _touches(a, b, c) or _touches(a, b, d) or _touches(c, d, a) or _touches(c, d, b)
