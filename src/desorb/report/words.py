"""How the report writes things: times, figures, hashes, entry ids, scales. No locale, no clock, no rounding for sums.

Contents: moment, with_moments and day (times); figure (a computed number as it is kept in the dataset); shown (as it is printed);
grouped (a hash); entries_in_words; unit_in_words; scale_in_words; shortened; counted; listed; MARKS (the shape of a status).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from datetime import datetime

from desorb.core.evidence import Evidence, to_resolution
from desorb.core.kinds import Scale
from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
TIME = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:\d{2})?")
SIGNIFICANT = 6  # figures of a computed number in the dataset: the last bits of a float are no information
HASH_GROUP = 8
MARKS = {ABOVE: "filled square", NO_HIGHER: "open circle", CANNOT_SAY: "dashed ring"}
NO_UNIT = "no unit"
MINUS = "\u2212"


def instant(text: str) -> datetime | None:
    """The moment a text names, or None. Times without an offset stay without one."""
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def moment(text: str) -> str:
    """'2026-03-04T14:20:31+01:00' as '2026-03-04 14:20 +01:00'; a text that is no time stays as it is."""
    found = instant(text)
    if found is None or len(text) <= len("2026-03-04"):
        return text
    offset = found.strftime("%z")
    return f"{found:%Y-%m-%d %H:%M}" + (f" {offset[:3]}:{offset[3:5]}" if offset else "")


def with_moments(text: str) -> str:
    """A sentence with the times in it written as moment() writes them."""
    return TIME.sub(lambda found: moment(found.group()), text) if "T" in text else text


def day(text: str) -> str:
    """'2026-03-04T14:20:31+01:00' as '4 March 2026'."""
    found = instant(text)
    return f"{found.day} {MONTHS[found.month - 1]} {found.year}" if found else text


def figure(value: float | None) -> float | None:
    """A computed number as it stands in the dataset: six significant figures, None for what is no number."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.{SIGNIFICANT}g}") + 0.0  # + 0.0: no negative zero


def shown(value: float | None, places: int) -> str:
    """A computed number for the eye, with a real minus; empty for what is no number."""
    if value is None or not math.isfinite(value):
        return ""
    return f"{round(value, places) + 0.0:.{places}f}".replace("-", MINUS)


def digits_of(each: Evidence | None, value: float | None) -> str:
    """A computed limit with one decimal more than the scale shows."""
    if each is None or value is None or not math.isfinite(value):
        return ""
    return to_resolution(value, each.scale, 1)


def grouped(hashed: str) -> str:
    """A hash in groups of eight, so that a person can compare it."""
    return " ".join(hashed[start : start + HASH_GROUP] for start in range(0, len(hashed), HASH_GROUP))


def entries_in_words(entries: Iterable[str]) -> str:
    """('a/3', 'a/4', 'a/5', 'b/1') as 'a/3-5, b/1': every entry can be found again, and long lists stay short."""
    numbers: dict[str, set[int]] = {}
    odd: list[str] = []
    for entry in entries:
        device, _, number = entry.rpartition("/")
        if device and number.isascii() and number.isdigit():
            numbers.setdefault(device, set()).add(int(number))
        elif entry and entry not in odd:
            odd.append(entry)
    parts = []
    for device in sorted(numbers):
        runs: list[list[int]] = []
        for n in sorted(numbers[device]):
            if runs and runs[-1][1] == n - 1:
                runs[-1][1] = n
            else:
                runs.append([n, n])
        parts += [f"{device}/{first}" if first == last else f"{device}/{first}\u2013{last}" for first, last in runs]
    return ", ".join(parts + odd)


def unit_in_words(unit: str) -> str:
    return unit or NO_UNIT


def scale_in_words(scale: Scale) -> str:
    """A scale is described, never only named."""
    claims = {
        "measured": f"measures by {scale.principle}",
        "equivalent": f"claims to equal {scale.method or 'another method'}",
        "wood equivalent": "wood moisture equivalent, relative only",
        "comparative": "comparative",
    }.get(scale.claims, scale.claims)
    parts = [claims]
    if scale.claims != "measured":
        parts.append(f"by {scale.principle}")
    elif scale.method:
        parts.append(f"method: {scale.method}")
    parts.append(f"for {scale.material}" if scale.material else "for any material")
    if scale.basis:
        parts.append(f"{scale.basis} basis")
    if scale.bottom or scale.top:
        parts.append(f"from {scale.bottom or 'no stated bottom'} to {scale.top or 'no stated top'}")
    parts.append(unit_in_words(scale.unit))
    if scale.resolution:
        parts.append(f"steps of {scale.resolution}")
    if scale.depth:
        parts.append(f"about {scale.depth} mm deep")
    return ", ".join(parts)


def shortened(text: str, most: int) -> str:
    """At most `most` signs, cut at a word, with a mark that something is left out."""
    flat = " ".join(text.split())
    if len(flat) <= most:
        return flat
    cut = flat[: most - 1]
    at = cut.rfind(" ")
    return f"{cut[:at] if at > most // 2 else cut}\u2026"


def counted(count: int, one: str, more: str = "") -> str:
    """'1 place', '3 places'."""
    return f"{count} {one if count == 1 else more or one + 's'}"


def listed(names: Sequence[str], most: int = 12) -> str:
    """'a, b, c and 5 more'."""
    kept = ", ".join(names[:most])
    return kept if len(names) <= most else f"{kept} and {len(names) - most} more"
