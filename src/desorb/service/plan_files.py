"""Files that lie under a plan: photos, pages of a PDF, drawings as DXF. A stranger's file is opened in a process of its own.

Contents: SourceRead (what came of a file); read_source (the file, read within limits of memory and time); kind_of_file.
The process that opens a file may be cut off at any moment; nothing it does reaches the store. See plan_reading.py.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import threading
from dataclasses import dataclass
from typing import Any

from desorb.errors import InputError, NotUnderstood

LONGEST_SECONDS = 60  # setting of ours: wall time of one file
LARGEST_DRAWING = 32 << 20  # bytes of a DXF; setting of ours
UNITS = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}  # m; exact by definition
KINDS = ("photo", "pdf", "dxf")
_two_at_once = threading.BoundedSemaphore(2)


@dataclass(frozen=True, slots=True)
class SourceRead:
    """A picture made from a file. `metres_per_pixel` is known only where the file itself holds lengths."""

    kind: str  # one of KINDS
    content: bytes  # of the picture
    media_type: str
    width: int
    height: int
    is_original: bool  # the picture is the file itself
    pages: int = 1
    page: int = 1
    page_size: str = ""  # of a PDF page, on paper, in mm
    metres_per_pixel: str = ""
    x: str = ""  # m, place of the lower left corner of the picture, where the file holds lengths
    y: str = ""
    unit: str = ""  # of a drawing
    needs_unit: bool = False
    rooms: tuple[tuple[str, ...], ...] = ()  # outlines offered
    said: str = ""  # what was left out, in words


def kind_of_file(content: bytes) -> str:
    """By the first bytes, never by the name. Raises InputError with what to do about other files."""
    head = content[:2048].lstrip(b"\xef\xbb\xbf \t\r\n")
    if content.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")):
        return "photo"
    if b"%PDF-" in content[:1024]:
        return "pdf"
    if content.startswith(b"AutoCAD Binary DXF"):
        raise InputError("this is a binary DXF file", next_step="save the drawing as ASCII DXF and take that")
    if content.startswith(b"AC10"):
        raise InputError("this is a DWG file, which only its own program opens", next_step="save the drawing as DXF")
    if b"<svg" in head.lower() or head.startswith((b"<?xml", b"<!DOCTYPE", b"<html")):
        raise InputError(
            "SVG files are not taken: they can hold scripts", wanted="a JPEG or PNG picture, a PDF or a DXF drawing",
            next_step="print it to PDF and take that",
        )  # fmt: skip
    if b"SECTION" in content[:4096] or content[:64].split()[:1] in ([b"0"], [b"999"]):
        return "dxf"
    raise InputError(
        "this file is none that can lie under a plan", wanted="a JPEG or PNG picture, a PDF or a DXF drawing",
        next_step="print it to PDF, or take a photo of it",
    )  # fmt: skip


def read_source(content: bytes, *, page: int = 1, unit: str = "") -> SourceRead:
    """Make a picture of a file. Raises InputError or NotUnderstood in words."""
    if unit and unit not in UNITS:
        raise InputError("this unit is not known", got=repr(unit[:20]), wanted=", ".join(UNITS))
    kind = kind_of_file(content)
    if kind == "dxf" and len(content) > LARGEST_DRAWING:
        raise InputError(
            "this drawing is too large", got=f"{len(content) >> 20} MiB", wanted=f"at most {LARGEST_DRAWING >> 20} MiB",
            next_step="save only the storey that is needed",
        )  # fmt: skip
    head, picture = _apart(kind, content, {"page": page, "unit": unit})
    if head.get("keeps_original"):
        picture = content
    return SourceRead(
        kind, picture, head["media_type"], head["width"], head["height"], bool(head.get("keeps_original")),
        head.get("pages", 1), head.get("page", 1), head.get("page_size", ""), head.get("metres_per_pixel", ""),
        head.get("x", ""), head.get("y", ""),
        head.get("unit", ""), head.get("needs_unit", False),
        tuple(tuple(outline) for outline in head.get("rooms", [])), head.get("said", ""),
    )  # fmt: skip


def _apart(kind: str, content: bytes, asked: dict[str, Any]) -> tuple[dict[str, Any], bytes]:
    """Run plan_reading.py as a process of its own: one line of JSON, then the bytes of the picture."""
    command = [sys.executable, "-P", "-m", "desorb.service.plan_reading", kind, json.dumps(asked)]
    settings = os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    with _two_at_once, tempfile.TemporaryDirectory() as folder:
        try:
            done = subprocess.run(
                command,
                input=content,
                capture_output=True,
                timeout=LONGEST_SECONDS,
                cwd=folder,
                env=settings,
                check=False,
            )
        except subprocess.TimeoutExpired as problem:
            raise _beyond(f"more than {LONGEST_SECONDS} s") from problem
    line, _, picture = done.stdout.partition(b"\n")
    try:
        head = json.loads(line)
    except ValueError as problem:
        raise _beyond(f"the reader stopped ({done.returncode})") from problem
    if "refused" in head:
        refused = head["refused"]
        raise NotUnderstood(refused["what"], got=refused["got"], wanted=refused["wanted"], next_step=refused["next"])
    return head, picture


def _beyond(got: str) -> NotUnderstood:
    return NotUnderstood(
        "this file could not be read within the limits of memory and time", got=got,
        next_step="save a simpler or smaller file, or take a photo of the drawing",
    )  # fmt: skip
