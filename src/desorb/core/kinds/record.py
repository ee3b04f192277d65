"""The record about itself: strikes, lawful removals, reports issued."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class Strike:
    KIND: ClassVar[str] = "strike"
    target: str  # hash of the struck entry
    why: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class Removal:
    """A lawful removal. `rested` names what rested on the removed entry: it becomes cannot say (removed)."""

    KIND: ClassVar[str] = "removal"
    target: str
    why: str
    authority: str
    by: str
    at: str
    rested: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReportIssued:
    KIND: ClassVar[str] = "report-issued"
    number: int
    at: str
    heads: tuple[str, ...]
    rules: tuple[str, ...]
    software: str
    pdf_sha256: str
    twin_sha256: str
    by: str = ""
