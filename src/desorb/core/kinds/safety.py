"""What could hurt, and what was put forward as an answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class GateAnswer:
    """What was put forward as an answer to a gate. desorb keeps it; it does not judge it."""

    KIND: ClassVar[str] = "gate-answer"
    gate: str
    zones: tuple[str, ...]
    materials: tuple[str, ...]
    reference: str
    by: str
    for_what: str
    result: str
    at: str
    competence: str = ""
    wish_to_override: bool = False


@dataclass(frozen=True, slots=True)
class Hazard:
    """Something seen that stops work until a competent person has dealt with it."""

    KIND: ClassVar[str] = "hazard"
    gate: str
    zone: str
    words: str
    at: str
    by: str = ""
    told_to: str = ""
    depth_mm: str = ""  # of standing or bulging water
    area_m2: str = ""


@dataclass(frozen=True, slots=True)
class WaterOrigin:
    """Where the water came from: clean, grey, foul or unknown; it can only be made worse by time."""

    KIND: ClassVar[str] = "water-origin"
    zone: str
    origin: str
    words: str
    at: str
    by: str = ""
    visible_mould: str = ""  # yes, no or ''
