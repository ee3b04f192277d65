"""Which signs the fonts of the paper can draw. Archival PDF allows no empty boxes, so anything else stands by number.

Contents: DRAWABLE (ranges of code points) and POINTS (marks that need a letter before them); on_paper (one text);
print_copy (all texts of a dataset).
The fonts are Source Sans and those inside the typesetter. The ranges were found by setting every sign once; a test sets
them again. What turns the direction of reading by command (U+202A-202E, U+2066-2069) and what cannot be seen is left out
on purpose: it could make a sentence read as another one. The dataset itself keeps every text as typed.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import Any
from unicodedata import normalize

Ranges = tuple[tuple[int, int], ...]
DRAWABLE: Ranges = (
    (0x20, 0x7E), (0xA0, 0xAC), (0xAE, 0x2FF), (0x370, 0x377), (0x37A, 0x37F), (0x384, 0x38A), (0x38C, 0x38C),
    (0x38E, 0x3A1), (0x3A3, 0x482), (0x48A, 0x4FF), (0x531, 0x556), (0x559, 0x58A), (0x5BE, 0x5BE), (0x5D0, 0x5EA),
    (0x5F0, 0x5F4), (0x606, 0x60C), (0x61B, 0x61B), (0x61F, 0x61F), (0x621, 0x63A), (0x640, 0x64A), (0x660, 0x66D),
    (0x679, 0x67B), (0x67E, 0x680), (0x683, 0x684), (0x686, 0x687), (0x691, 0x691), (0x698, 0x698), (0x6A4, 0x6A4),
    (0x6A9, 0x6A9), (0x6AF, 0x6AF), (0x6BE, 0x6BE), (0x6CC, 0x6CC), (0x6F0, 0x6F9), (0x1E00, 0x1EFF), (0x2002, 0x200A),
    (0x2010, 0x2027), (0x202F, 0x2040), (0x2042, 0x2042), (0x2044, 0x2052), (0x2054, 0x205F), (0x2070, 0x2071),
    (0x2074, 0x208E), (0x2090, 0x209C), (0x20A0, 0x20C0), (0x2100, 0x211E), (0x2120, 0x2120), (0x2122, 0x2122),
    (0x2124, 0x2124), (0x2126, 0x2184), (0x2190, 0x23FF), (0x2460, 0x2606), (0x2609, 0x262F), (0x27E8, 0x27E9),
)  # fmt: skip
POINTS = (
    (0x5B0, 0x5BC, 0x5D0, 0x5EA),
    (0x64B, 0x652, 0x621, 0x64A),
)  # (first, last point, first, last letter before it)
PLAIN: Ranges = (
    (0x20, 0x7E), (0xA1, 0xAC), (0xAE, 0x17F), (0x391, 0x3A1), (0x3A3, 0x3C9), (0x410, 0x44F), (0x2013, 0x2014),
    (0x2018, 0x201D), (0x2026, 0x2026), (0x2264, 0x2265),
)  # fmt: skip


def on_paper(text: str, ranges: Ranges = DRAWABLE) -> str:
    """The text with every sign that cannot be drawn written as [U+1F600]. Line ends stay, a tab becomes a space."""
    if text.isascii() and text.isprintable():
        return text
    whole = normalize("NFC", text).replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    drawn, before = [], 0
    for sign in whole:
        code = ord(sign)
        fits = sign == "\n" or _inside(code, ranges) or (ranges is DRAWABLE and _points(code, before))
        drawn.append(sign if fits else f"[U+{code:04X}]")
        before = before if _points(code, before) else code
    return "".join(drawn)


def _inside(code: int, ranges: Ranges) -> bool:
    place = bisect_right(ranges, (code, 0x110000)) - 1
    return place >= 0 and ranges[place][0] <= code <= ranges[place][1]


def _points(code: int, before: int) -> bool:
    """Is this a point or vowel sign that stands on the letter before it?"""
    return any(first <= code <= last and low <= before <= high for first, last, low, high in POINTS)


def print_copy(value: Any, ranges: Ranges = DRAWABLE) -> Any:
    """A dataset for the typesetter: the same, with every text as it can be drawn."""
    if isinstance(value, str):
        return on_paper(value, ranges)
    if isinstance(value, dict):
        return {key: print_copy(part, ranges) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [print_copy(part, ranges) for part in value]
    return value
