"""The case and the building: settings and rule rows, constructions with layers, zones, spots."""

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
