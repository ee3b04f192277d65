"""The account: answers to findings, timeline, notes, photos, what was not inspected, files taken."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class FindingAnswer:
    """What was done about an open finding."""

    KIND: ClassVar[str] = "finding-answer"
    code: str
    visit: str
    instrument: str
    scale: str
    words: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class Event:
    """A line of the timeline. `source`: seen, told or document."""

    KIND: ClassVar[str] = "event"
    at: str
    words: str
    source: str
    confidence: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    KIND: ClassVar[str] = "note"
    words: str
    at: str
    by: str = ""
    key: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Photo:
    """The original bytes are kept under their SHA-256; marks are a layer of their own."""

    KIND: ClassVar[str] = "photo"
    sha256: str
    media_type: str
    size: int
    words: str
    taken_at: str
    spot: str = ""
    zone: str = ""
    direction: str = ""
    visit: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class PhotoMark:
    """A layer over a photo; the photo itself stays as it is. 'hide' is an area left out of redacted copies."""

    KIND: ClassVar[str] = "photo-mark"
    sha256: str
    shape: str  # mark or hide
    area: tuple[str, ...]  # left, top, width, height as shares of the picture, 0 to 1
    words: str
    at: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class NotInspected:
    """A place that was not reached, or (place == '') the explicit words that everything in scope was."""

    KIND: ClassVar[str] = "not-inspected"
    place: str
    why: str
    effect: str
    elements: tuple[str, ...] = ()  # "zone/element" whose assessment depends on it
    at: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class FileTaken:
    KIND: ClassVar[str] = "file-taken"
    name: str
    sha256: str
    rows: int
    kept: int
    problems: tuple[str, ...] = ()
    at: str = ""
