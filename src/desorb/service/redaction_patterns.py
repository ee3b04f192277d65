"""What a name, a telephone number, an address or a place looks like in a text.

Contents: without_unseen; loose (letters and their accents apart); pattern_of (a name in any spelling); glued (a name inside
a longer word); E_MAIL, COORDINATES, PHONE with telephone (the replacement of one that is none is itself); PLACE_CODES.
"""

from __future__ import annotations

import re
import unicodedata

from desorb.errors import InputError

E_MAIL = re.compile(r"[\w.+\-]+@[\w\-]+(?:\.[\w\-]+)+")
ENTRY = re.compile(r"\d{8}/\d+")
PHONE = re.compile(r"(?<![\w.:/\-])(?:\+|00)?\(?\d[\d\s().\-/]{6,18}\d(?![\w:])")
DATE = re.compile(r"\d{4}-\d{2}-\d{2}|\d{1,2}[./]\d{1,2}[./]\d{2,4}")
FEWEST_DIGITS_OF_PHONE = 7
_DECIMAL = r"[-\u2212]?\d{1,3}\.\d{3,}\s*°?"
_WITH_MINUTES = r"\d{1,3}\s*°\s*\d{1,2}(?:\.\d+)?\s*['\u2032\u2019](?:\s*\d{1,2}(?:\.\d+)?\s*(?:[\"\u2033\u201d]|''))?"
COORDINATES = re.compile(
    rf"(?:\b[NS]\s*)?{_DECIMAL}\s*[NS]?\s*[,; ]\s*(?:[EW]\s*)?{_DECIMAL}\s*[EW]?"
    r"|(?<![\d.])\d{1,3}(?:\.\d+)?\s*°\s*[NS]\s*[,;]?\s*\d{1,3}(?:\.\d+)?\s*°\s*[EW]"
    rf"|(?:\b[NS]\s*)?{_WITH_MINUTES}\s*[NS]?\s*[,;]?\s*(?:[EW]\s*)?{_WITH_MINUTES}\s*[EW]?",
    re.IGNORECASE,
)
# Looked at by a person, never replaced unasked: the number of a part or of a sample may look the same.
PLACE_CODES = re.compile(
    r"\b[A-Z]{1,2}\d[A-Z\d]? ?\d[A-Z]{2}\b"  # a post code
    r"|\b[HJNOST][A-HJ-Z] ?(?:\d{2} ?\d{2}|\d{3} ?\d{3}|\d{4} ?\d{4}|\d{5} ?\d{5})\b"  # squares of a national grid
)
SQUARE = re.compile(r"\b[HJNOST][A-HJ-Z] ?$")  # what stands before the digits of a square
_MARKS = "[\u0300-\u036f]*"  # accents, once they stand apart from their letter
_ALIKE = {letter: both for both in ("oø", "OØ", "lł", "LŁ", "dđ", "DĐ") for letter in both}
FEWEST_LETTERS_GLUED = 4  # of a name that is looked for inside longer words


def without_unseen(text: str) -> str:
    """Without what takes no room on the screen: soft hyphens, zero-width spaces and joiners, marks of direction."""
    return "".join(letter for letter in text if unicodedata.category(letter) != "Cf")


def plain(text: str) -> str:
    return unicodedata.normalize("NFC", without_unseen(text))


def loose(text: str) -> str:
    """For looking: nothing unseen, accents apart from their letters."""
    return unicodedata.normalize("NFD", without_unseen(text))


def pattern_of(name: str, *, any_case: bool = True) -> re.Pattern[str]:
    """A name as whole words of a `loose` text, with accents or without, whatever stands between its parts: spaces, points,
    dashes or underlines."""
    parts = [part for part in re.split(r"[\s._\-]+", loose(name)) if part]
    if not parts:
        raise InputError("a name to take out has letters", got=repr(name))
    spelt = r"[\s._\-]*".join("".join(map(_letter, part)) for part in parts)
    return re.compile(rf"(?<![^\W\d_]){spelt}(?![^\W\d_])", re.IGNORECASE if any_case else 0)


def _letter(letter: str) -> str:
    if unicodedata.combining(letter):
        return ""
    return (f"[{_ALIKE[letter]}]" if letter in _ALIKE else re.escape(letter)) + (_MARKS if letter.isalpha() else "")


def glued(name: str, text: str) -> bool:
    """Does the name stand in this text at all, also inside a longer word?"""
    inside = _letters(name)
    return len(inside) >= FEWEST_LETTERS_GLUED and inside in _letters(text)


def _letters(text: str) -> str:
    return "".join(letter for letter in loose(text).casefold() if letter.isalnum())


def telephone(found: re.Match[str]) -> str:
    """What stands in its place. A date, an entry and a row of readings are no telephone number."""
    text = found.group()
    if SQUARE.search(found.string, 0, found.start()):  # offered as a place instead
        return text
    digits = sum(letter.isdigit() for letter in text)
    begins = bool(re.match(r"\+|\(|0\d", text))
    groups = all(len(group) >= 3 for group in re.findall(r"\d+", text))  # 14.4 14.5 13.9 are readings
    if digits < FEWEST_DIGITS_OF_PHONE or DATE.search(text) or ENTRY.fullmatch(text) or not (begins or groups):
        return text
    return "[telephone]"
