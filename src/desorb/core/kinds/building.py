"""The case and the building: settings and rule rows, constructions with layers, zones, spots, rooms of the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class CaseOpened:
    KIND: ClassVar[str] = "case-opened"
    name: str
    site: str
    time_zone: str
    opened_by: str = ""
    client: str = ""
    scope: str = ""
    invented: bool = False  # a demonstration case says so on every page


NUMBER_SETTINGS = (  # settings that rules of the core reckon with: 0 or more, the altitude also below
    "control fresh hours", "asbestos trigger year", "fibre saturation", "surface criterion", "altitude", "pressure",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Setting:
    """A value that decides something, with who set it and why. It belongs to the case."""

    KIND: ClassVar[str] = "setting"
    key: str
    value: str
    unit: str
    source: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class RuleRow:
    """How a class of scales behaves: all four figures are settings with a source, in scale digits or as a ratio."""

    KIND: ClassVar[str] = "rule-row"
    scale_class: str
    on_logarithms: bool
    class_spread: str  # standard deviation between sound places: a ratio (0.10 = 10 %) on logarithms, else points
    margin: str  # how much higher still counts as no higher: a ratio (0.25 = 25 %) on logarithms, else points
    repeatability: str  # 95 % limit r in scale digits, used where the scale states none
    source: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class Layer:
    words: str
    thickness_mm: str
    evidence: str  # seen, told or assumed


@dataclass(frozen=True, slots=True)
class Construction:
    """One build-up: what a control must share with the spot."""

    KIND: ClassVar[str] = "construction"
    id: str
    words: str
    material: str  # the material that is read
    built: str = ""  # year, or '' when unknown
    layers: tuple[Layer, ...] = ()
    risks: tuple[str, ...] = ()  # heated, tensioned, tanked, gas barrier, listed


@dataclass(frozen=True, slots=True)
class Zone:
    """A part with one construction, age, finish and exposure."""

    KIND: ClassVar[str] = "zone"
    id: str
    words: str
    construction: str
    exposure: str = ""
    affected: str = ""  # yes, no or ''
    outline: tuple[str, ...] = ()  # corners "x y" in m


ROLES = ("control", "survey")


@dataclass(frozen=True, slots=True)
class Spot:
    KIND: ClassVar[str] = "spot"
    id: str
    zone: str
    element: str  # floor, north wall, ceiling, rafters ...
    role: str = "survey"
    words: str = ""
    x: str = ""  # m on the plan
    y: str = ""
    height: str = ""  # m above floor
    why_unaffected: str = ""
    offset_a: str = ""  # m from `offset_a_from`: with a second one and the height, the spot is found again
    offset_a_from: str = ""
    offset_b: str = ""
    offset_b_from: str = ""


OPENINGS = ("door", "window", "opening")


@dataclass(frozen=True, slots=True)
class Opening:
    """A gap in a wall of a room. Wall 0 runs from the first corner to the second."""

    kind: str  # one of OPENINGS
    wall: int
    start: str  # m along the wall
    width: str  # m
    words: str = ""


@dataclass(frozen=True, slots=True)
class Room:
    """A room on the plan: its walls as a polygon. The last one entered of an id counts; no corners takes it off the plan."""

    KIND: ClassVar[str] = "room"
    id: str
    words: str
    outline: tuple[str, ...]  # corners "x y" in m
    height: str = ""  # m, floor to ceiling
    openings: tuple[Opening, ...] = ()
    by: str = ""


@dataclass(frozen=True, slots=True)
class PlanPicture:
    """A picture that lies under the plan: a photo, a page of a PDF or lines of a drawing. The last one entered counts."""

    KIND: ClassVar[str] = "plan-picture"
    sha256: str  # of the picture that is shown
    media_type: str
    width: int  # px
    height: int  # px
    metres_per_pixel: str  # from the scale line
    x: str = "0"  # m, place of the lower left corner
    y: str = "0"
    words: str = ""
    source_sha256: str = ""  # of the file it was made from, when that is another
    source_page: int = 0
    by: str = ""
