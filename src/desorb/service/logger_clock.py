"""The clock of a logger: times as text to wall clock, and wall clock to UTC through both changes of summer time.

Contents: TimeFormat - parse_times; Zone - zone_of_clock; UtcTimes - to_utc. Columns at once, for a million rows.

Wall times are whole seconds since 1970-01-01 00:00 of that wall. What cannot be read is UNREAD.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone, tzinfo

import numpy as np
from numpy.typing import NDArray

from desorb.errors import InputError
from desorb.service.cases import zone_of
from desorb.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

Seconds = NDArray[np.int64]
Rows = NDArray[np.bool_]

UNREAD = np.iinfo(np.int64).min
NO_OFFSET = np.iinfo(np.int64).max  # the row carries no offset of its own
YEARS = (
    1970,
    2100,
)  # of a log, setting of ours; a clock that lost its battery shows 1970 or 2000 and is seen by its gap
FARTHEST_OFFSET = 18 * SECONDS_PER_HOUR  # no zone lies farther from UTC, setting of ours
_APART = 3 * SECONDS_PER_HOUR  # repeated hours farther apart belong to different autumns, setting of ours
_EPOCH = datetime(1970, 1, 1)

_CODES = {"Y": r"\d{4}", "y": r"\d{2}", "m": r"\d{1,2}", "d": r"\d{1,2}", "H": r"\d{1,2}", "I": r"\d{1,2}"}
_CODES |= {"M": r"\d{2}", "S": r"\d{2}", "p": r"[AaPp]\.?[Mm]\.?"}
_ISO = (
    "%Y-%m-%dT%H:%M:%S",
    "%Y-%m-%d %H:%M:%S",
    "%Y-%m-%d %H:%M",
    "%Y-%m-%dT%H:%M",
    "%Y/%m/%d %H:%M:%S",
    "%Y/%m/%d %H:%M",
)
FORMAT_WANTED = "ISO times such as 2026-03-29 01:10, or a format of %Y %y %m %d %H %I %p %M %S such as '%d/%m/%Y %H:%M'"


@dataclass(frozen=True, slots=True)
class TimeFormat:
    """How one text says a time. `parts`: codes and single letters in order; `pattern`: the same for ragged cells."""

    parts: tuple[str, ...]
    pattern: re.Pattern[str]

    @property
    def width(self) -> int:
        """Letters of a cell that is filled with leading zeros and writes AM or PM with two."""
        return sum({"%Y": 4}.get(part, len(part)) for part in self.parts)


def time_format(text: str) -> TimeFormat:
    """A format in the codes that many programs share. Raises InputError."""
    parts = tuple(re.findall(r"%.|[^%]", text))
    codes = [part[1] for part in parts if part.startswith("%")]
    needed = [{"Y", "y"}, {"m"}, {"d"}, {"H", "I"}, {"M"}]
    twelve = "I" in codes
    if (
        set(codes) - set(_CODES) or len(codes) != len(set(codes)) or any(len(each & set(codes)) != 1 for each in needed)
        or twelve != ("p" in codes) or "".join(parts) != text
    ):  # fmt: skip
        raise InputError(
            "this time format cannot be used", got=repr(text), wanted=FORMAT_WANTED,
            next_step="state year, month, day, hour and minute once each; %I goes with %p",
        )  # fmt: skip
    pattern = "".join(f"(?P<{p[1]}>{_CODES[p[1]]})" if p.startswith("%") else re.escape(p) for p in parts)
    return TimeFormat(parts, re.compile(pattern))


def parse_times(cells: Sequence[str], stated: TimeFormat | None) -> tuple[Seconds, Seconds]:
    """Wall seconds and own offset [s] of each cell, by the stated format, or as ISO without one."""
    wall = np.full(len(cells), UNREAD, dtype=np.int64)
    offsets = np.full(len(cells), NO_OFFSET, dtype=np.int64)
    lengths = np.fromiter(map(len, cells), dtype=np.int64, count=len(cells))
    formats = [stated] if stated else _ISO_FORMATS
    for width in {each.width for each in formats}:
        _parse_fixed(cells, lengths == width, [each for each in formats if each.width == width], wall)
    for row in np.flatnonzero(wall == UNREAD).tolist():
        found = _parse_stated(cells[row].strip(), stated) if stated else _parse_iso(cells[row].strip())
        if found is not None and YEARS[0] <= found.year <= YEARS[1]:
            own = found.utcoffset()
            if own is not None:
                offsets[row] = round(own.total_seconds())
            wall[row] = (found.replace(tzinfo=None) - _EPOCH) // timedelta(seconds=1)
    return wall, offsets


def _parse_fixed(cells: Sequence[str], fitting: Rows, formats: list[TimeFormat], wall: Seconds) -> None:
    """Fill `wall` where cells of one width fit a format letter by letter."""
    rows = np.flatnonzero(fitting)
    if not rows.size:
        return
    chosen = cells if rows.size == len(cells) else [cells[row] for row in rows.tolist()]
    try:
        letters = np.array(chosen, dtype=f"S{formats[0].width}").view(np.uint8).reshape(len(chosen), -1)
    except UnicodeEncodeError:
        return  # one by one, then
    for each in formats:
        fits, values, at = np.ones(len(chosen), dtype=bool), dict[str, Seconds](), 0
        for part in each.parts:
            if not part.startswith("%"):
                fits &= letters[:, at] == ord(part[0]) if part.isascii() else False
                at += 1
                continue
            if part == "%p":
                capital = letters[:, at : at + 2] & 0xDF  # a to A
                fits &= np.isin(capital[:, 0], (ord("A"), ord("P"))) & (capital[:, 1] == ord("M"))
                values["p"] = np.where(capital[:, 0] == ord("P"), 12, 0)
                at += 2
                continue
            wide = 4 if part == "%Y" else 2
            digits = letters[:, at : at + wide].astype(np.int64) - ord("0")
            fits &= ((digits >= 0) & (digits <= 9)).all(axis=1)
            values[part[1]] = digits @ (10 ** np.arange(wide - 1, -1, -1))
            at += wide
        if not fits.any():
            continue
        year = values["Y"] if "Y" in values else _century(values["y"])
        seconds = values.get("S", np.zeros(len(chosen), dtype=np.int64))
        fits &= (year >= YEARS[0]) & (year <= YEARS[1]) & (values["m"] >= 1) & (values["m"] <= 12) & (values["d"] >= 1)
        if "I" in values:
            fits &= (values["I"] >= 1) & (values["I"] <= 12)
        hour = values["H"] if "H" in values else values["I"] % 12 + values["p"]
        fits &= (hour < 24) & (values["M"] < 60) & (seconds < 60)
        months = np.where(fits, (year - 1970) * 12 + values["m"] - 1, 0)
        first, next_first = (count.astype("M8[M]").astype("M8[D]").astype(np.int64) for count in (months, months + 1))
        fits &= values["d"] <= next_first - first
        day = (first + values["d"] - 1) * SECONDS_PER_DAY
        time = day + hour * SECONDS_PER_HOUR + values["M"] * 60 + seconds
        wall[rows[fits]] = time[fits]


def _century(year: Seconds) -> Seconds:
    return np.where(year < 70, 2000 + year, 1900 + year)  # two digits: 1970 to 2069, setting of ours


def _parse_iso(cell: str) -> datetime | None:
    if len(cell) < 13:  # a day without an hour is no time of a reading
        return None
    try:
        return datetime.fromisoformat(cell.replace("/", "-"))
    except ValueError:
        return None


def _parse_stated(cell: str, stated: TimeFormat) -> datetime | None:
    match = stated.pattern.fullmatch(cell)
    if match is None:
        return None
    found = match.groupdict()
    year = int(found["Y"]) if "Y" in found else int(_century(np.array(int(found["y"]))))
    hour = int(found.get("H") or found["I"])
    if "I" in found:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if found["p"][0] in "Pp" else 0)
    try:
        return datetime(year, int(found["m"]), int(found["d"]), hour, int(found["M"]), int(found.get("S") or 0))
    except ValueError:
        return None


_ISO_FORMATS = [time_format(each) for each in _ISO]


def zone_of_clock(stated: str) -> tzinfo:
    """The zone a logger's clock was set to: an IANA name, UTC, or a fixed offset such as +01:00. Raises InputError."""
    match = re.fullmatch(r"(?:UTC|GMT)?([+-])(\d{2}):?([0-5]\d)", stated.strip())
    if match:
        seconds = int(match[2]) * SECONDS_PER_HOUR + int(match[3]) * 60
        if seconds <= FARTHEST_OFFSET:
            return timezone(timedelta(seconds=-seconds if match[1] == "-" else seconds))
    if not stated.strip() or match:
        raise InputError(
            "the zone of the logger's clock is not stated", got=repr(stated),
            wanted="a name such as Europe/London, or a fixed offset such as +00:00 for a clock that is never put forward",
            next_step="ask whoever set the logger; times without a zone are worth nothing beside another log",
        )  # fmt: skip
    return zone_of(stated.strip())


@dataclass(frozen=True, slots=True)
class UtcTimes:
    """utc [s]; offset [s] of the wall; missing: rows in the hour that is skipped in spring; words for the reader."""

    utc: Seconds
    offset: Seconds
    missing: Rows
    repeated: int
    notes: tuple[str, ...]


def to_utc(wall: Seconds, own_offset: Seconds, zone: tzinfo) -> UtcTimes:
    """Wall clock to UTC, rows in the order they were logged. An offset that a row carries goes before the zone.

    The hour that autumn repeats is told apart by the order of rows. The hour that spring skips cannot be converted.
    """
    early, late = _offsets(wall, zone)
    named = own_offset == NO_OFFSET
    repeated, missing = named & (early > late), named & (early < late)
    offset = np.where(named, early, own_offset)
    notes = []
    if repeated.any():
        notes += _tell_apart(wall, np.flatnonzero(repeated), late, offset)
    if missing.any():
        notes.append(
            f"{int(missing.sum())} rows show {_shown(wall[missing][0])} to {_shown(wall[missing][-1])}, times that the clock of "
            "this zone skips; they are left out. The logger was not put forward: all its summer is then an hour off. "
            "Next: read the file again with the fixed offset that its clock kept, such as +00:00"
        )
    if not named.all():
        notes.append(f"{int((~named).sum())} rows carry their own offset from UTC, which was taken")
    return UtcTimes(wall - offset, offset, missing, int(repeated.sum()), tuple(notes))


def _offsets(wall: Seconds, zone: tzinfo) -> tuple[Seconds, Seconds]:
    """Offset [s] read early and read late (fold 0 and 1). Only in an hour in which they differ is every row asked."""
    hours, place = np.unique(wall // SECONDS_PER_HOUR, return_inverse=True)
    ends = np.array(
        [[_offset(int(h + end) * SECONDS_PER_HOUR, zone, f) for end in (0, 1) for f in (0, 1)] for h in hours]
    )
    early, late = ends[place, 0], ends[place, 1]
    changing = (ends != ends[:, :1]).any(axis=1)
    for row in np.flatnonzero(changing[place]):
        early[row], late[row] = (_offset(int(wall[row]), zone, fold) for fold in (0, 1))
    return early, late


def _offset(wall: int, zone: tzinfo, fold: int) -> int:
    found = (_EPOCH + timedelta(seconds=wall)).replace(fold=fold, tzinfo=zone).utcoffset()
    return 0 if found is None else round(found.total_seconds())


def _tell_apart(wall: Seconds, rows: Seconds, late: Seconds, offset: Seconds) -> list[str]:
    """Give the second pass through each repeated hour its later offset; write into `offset`; say what was done."""
    moves = np.diff(wall)
    usual = float(np.median(moves[moves > 0])) if (moves > 0).any() else 0.0
    times = np.unique(wall[rows])
    cuts = times[np.flatnonzero(np.diff(times) > _APART) + 1]
    autumn = np.searchsorted(cuts, wall[rows], side="right")
    notes = []
    for each in range(len(cuts) + 1):
        inside = rows[autumn == each]
        back = np.diff(wall[inside])
        turn = np.array([], dtype=np.int64)
        if back.size and back.min() < 0:
            # Two neighbouring rows that changed places go back by one step; a new pass goes back by more, or all the way.
            whole = np.ptp(wall[inside])
            turn = np.flatnonzero(back == back.min()) if -back.min() > usual or -back.min() == whole else turn
        # One reading an hour shows the same time twice; with shorter steps the same time twice is a repeated row.
        if not turn.size and usual >= SECONDS_PER_HOUR:
            turn = np.flatnonzero(back == 0)
        day = _shown(wall[inside[0]])[:10]
        if turn.size:
            second = inside[turn[0] + 1 :]
            offset[second] = late[second]
            notes.append(
                f"the repeated hour of {day}: {len(inside) - len(second)} rows taken as the first pass and {len(second)} as "
                "the second, by their order in the file"
            )
        else:
            notes.append(
                f"the repeated hour of {day} is passed once only, {len(inside)} rows taken as the first pass; "
                "if the logger was not put back, read the file again with the fixed offset that its clock kept"
            )
    return notes


def _shown(wall: np.int64) -> str:
    return (_EPOCH + timedelta(seconds=int(wall))).strftime("%Y-%m-%d %H:%M")
