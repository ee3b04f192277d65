"""The process that opens a stranger's file: limits first, then one file in, one picture out.

Run as `python -m desorb.service.plan_reading KIND JSON < file`; writes one line of JSON and the bytes of the picture.
Contents: main; read_photo; read_pdf. Drawings: plan_drawing.py. Limits are settings of ours.
"""

from __future__ import annotations

import io
import json
import math
import os
import sys
import warnings
from typing import Any

from desorb.errors import DesorbError, InputError, NotUnderstood

MEMORY = 2 << 30  # bytes of address space
SECONDS = 45  # of processor time
MOST_PIXELS = 64_000_000
MOST_PAGES = 300
LONGEST_SIDE = 5000  # px of a page that is drawn
DOTS_PER_INCH = 150  # of a page, where LONGEST_SIDE allows
POINTS_PER_INCH = 72  # ISO 32000-1, 8.3.2.3: the unit of a PDF page is 1/72 inch
MILLIMETRES_PER_INCH = 25.4  # exact

Read = tuple[dict[str, Any], bytes]


def read_photo(content: bytes) -> Read:
    """A JPEG or PNG is kept as it is when it can be decoded; one that was turned by a mark in it is turned upright."""
    from PIL import Image, ImageOps

    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    warnings.simplefilter("error", Image.DecompressionBombWarning)
    try:
        with Image.open(io.BytesIO(content), formats=("JPEG", "PNG")) as picture:
            width, height = picture.size
            _few_enough(width, height)
            turned = picture.getexif().get(0x0112, 1) != 1  # the orientation of EXIF
            picture.load()
            media_type = "image/jpeg" if picture.format == "JPEG" else "image/png"
            if not turned:
                return {"media_type": media_type, "width": width, "height": height, "keeps_original": True}, b""
            upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as problem:
        raise _too_many_pixels(str(problem)) from problem
    except (OSError, SyntaxError, ValueError) as problem:
        raise NotUnderstood(
            "this picture cannot be decoded", got=str(problem)[:200], wanted="a whole JPEG or PNG file",
            next_step="take the picture again, or send the file again",
        ) from problem  # fmt: skip
    kept = io.BytesIO()
    upright.save(kept, "JPEG", quality=90)
    said = "The picture was turned upright; the original is kept too."
    return {"media_type": "image/jpeg", "width": upright.width, "height": upright.height, "said": said}, kept.getvalue()


def _few_enough(width: int, height: int) -> None:
    if width * height > MOST_PIXELS or min(width, height) < 2:
        raise _too_many_pixels(f"{width} x {height} px")


def _too_many_pixels(got: str) -> InputError:
    return InputError(
        "this picture has too many pixels, or next to none", got=got[:120],
        wanted=f"at most {MOST_PIXELS // 10**6} million pixels", next_step="make it smaller and take it again",
    )  # fmt: skip


def read_pdf(content: bytes, page: int) -> Read:
    """One page of a PDF as a PNG on white."""
    import pypdfium2

    try:
        document = pypdfium2.PdfDocument(content)
    except pypdfium2.PdfiumError as problem:
        wanted = "a PDF without a password" if "assword" in str(problem) else "a whole PDF file"
        raise NotUnderstood(
            "this PDF cannot be opened", got=str(problem)[:200], wanted=wanted, next_step="print it to PDF again"
        ) from problem
    pages = len(document)
    if pages > MOST_PAGES:
        raise InputError(
            "this PDF has too many pages", got=str(pages), wanted=f"at most {MOST_PAGES}",
            next_step="print only the sheet that is needed to PDF",
        )  # fmt: skip
    if not 1 <= page <= pages:
        raise InputError(
            "there is no such page", got=str(page), wanted=f"1 to {pages}", next_step="choose another page"
        )
    try:
        sheet = document[page - 1]
        wide, high = sheet.get_size()
        if not (math.isfinite(wide) and math.isfinite(high) and min(wide, high) >= 1):
            raise NotUnderstood("this page has no size", got=f"{wide} x {high} points", next_step="choose another page")
        scale = min(DOTS_PER_INCH / POINTS_PER_INCH, LONGEST_SIDE / max(wide, high))
        _few_enough(math.ceil(wide * scale), math.ceil(high * scale))
        picture = sheet.render(scale=scale, may_draw_forms=False).to_pil().convert("L")
    except pypdfium2.PdfiumError as problem:
        raise NotUnderstood(
            "this page cannot be drawn", got=str(problem)[:200], next_step="choose another"
        ) from problem
    kept = io.BytesIO()
    picture.save(kept, "PNG")
    paper = " x ".join(f"{side / POINTS_PER_INCH * MILLIMETRES_PER_INCH:.0f}" for side in (wide, high))
    head = {"media_type": "image/png", "width": picture.width, "height": picture.height, "pages": pages, "page": page}
    return head | {"page_size": paper}, kept.getvalue()


def _limit() -> None:
    """Memory, time and files that this process may use. Where the system has no such limits, only the clock outside counts."""
    try:
        import resource
    except ImportError:
        return
    for what, most in ((resource.RLIMIT_AS, MEMORY), (resource.RLIMIT_CPU, SECONDS), (resource.RLIMIT_CORE, 0)):
        hard = resource.getrlimit(what)[1]
        low = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(what, (low, low))


def _read(kind: str, asked: dict[str, Any], content: bytes) -> Read:
    if kind == "photo":
        return read_photo(content)
    if kind == "pdf":
        return read_pdf(content, int(asked["page"]))
    from desorb.service.plan_drawing import read_drawing

    return read_drawing(content, str(asked["unit"]))


def main() -> None:
    """What others print goes to the error stream, so that the answer stays clean."""
    answer = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    content = sys.stdin.buffer.read()
    _limit()
    try:
        head, picture = _read(sys.argv[1], json.loads(sys.argv[2]), content)
    except DesorbError as problem:
        refused = {"what": problem.what, "got": problem.got, "wanted": problem.wanted, "next": problem.next_step}
        head, picture = {"refused": refused}, b""
    answer.write(json.dumps(head, allow_nan=False).encode() + b"\n" + picture)
    answer.close()


if __name__ == "__main__":
    main()
