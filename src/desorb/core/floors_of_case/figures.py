"""Times between two entries of a floor test, and how long ago a probe was checked.

Contents: seconds, hours, days; later_by; latest_of; ProbeCheck and probe_check.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

from desorb.core.case import Case
from desorb.core.written import moment
from desorb.errors import NotUnderstood

HUMIDITY = "relative humidity"  # the principle of a scale whose check counts for a probe
SECONDS_PER_HOUR = 3600
SECONDS_PER_DAY = 86_400


@dataclass(frozen=True, slots=True)
class ProbeCheck:
    """Days from the last check of a probe to a reading, or None; `words` say where that stands, '' if nothing is odd."""

    days: float | None
    words: str = ""


def seconds(later: str, earlier: str) -> int | None:
    """Whole seconds from one time to another; None where one is not stated."""
    if not later or not earlier:
        return None
    return int((moment(later) - moment(earlier)).total_seconds())


def hours(later: str, earlier: str) -> float | None:
    """Hours between two times, rounded down to hundredths: 23.999 hours are no 24."""
    found = seconds(later, earlier)
    return None if found is None else (found * 100 // SECONDS_PER_HOUR) / 100


def days(later: str, earlier: str) -> float | None:
    """Days between two times, rounded up to hundredths: 30.001 days are more than 30."""
    found = seconds(later, earlier)
    return None if found is None else -(-found * 100 // SECONDS_PER_DAY) / 100


def later_by(text: str, more: float) -> str:
    """A time so many hours later, as text with the same offset."""
    try:
        return (moment(text) + timedelta(hours=more)).isoformat(timespec="minutes")
    except OverflowError as problem:
        raise NotUnderstood(
            "this time lies outside every calendar", got=text, next_step="strike the entry and write it again"
        ) from problem


def latest_of(times: Iterable[str]) -> str:
    """The latest of some times, as it was given; '' for none."""
    return max(times, key=moment, default="")


def probe_check(case: Case, instrument: str, at: str, typed: str) -> ProbeCheck:
    """Days from the last check to the reading: out of the check log of the case, else as typed with the reading.

    A check counts if it passed and was made on a scale of relative humidity (or the instrument is not described). If the
    last one before the reading failed, none counts.
    """
    read_at = moment(at)
    log = [
        entered
        for entered in case.checks
        if instrument and entered.record.instrument == instrument
        and moment(entered.record.at) <= read_at and _of_humidity(case, instrument, entered.record.scale, entered.order)
    ]  # fmt: skip
    if not log:
        return ProbeCheck(days(at, typed))
    last = max(log, key=lambda entered: (moment(entered.record.at), entered.order))
    if not last.record.passed:
        return ProbeCheck(None, f"The last check of {instrument} before this reading failed, on {last.record.at}")
    words = ""
    if typed and moment(typed) != moment(last.record.at):
        words = f"The check log of {instrument} is taken ({last.record.at}), not the time typed with the reading"
    return ProbeCheck(days(at, last.record.at), words)


def _of_humidity(case: Case, instrument: str, scale: str, order: int) -> bool:
    described = case.instrument_at(instrument, order)
    if described is None:
        return True
    found = described.scale(scale)
    return found is not None and found.principle == HUMIDITY
