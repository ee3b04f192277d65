"""Claimed times that cannot be right: shown beside the receipt time, never corrected, and never used to order.

An entry may have waited on a device without signal, so a late receipt alone says nothing. Two things do say something:
a claimed time that lies after the first receipt, and a device whose wall clock moved otherwise than its own counter.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from desorb.notebook.chain import by_device
from desorb.notebook.entry import Entry, read_object

TOLERATED = timedelta(minutes=5)


def doubtful_times(entries: Iterable[Entry], received: Mapping[str, str]) -> list[tuple[str, str]]:
    """(entry name, sentence) for claimed times that differ by more than five minutes, offline time allowed for."""
    doubtful = []
    for chain in by_device(entries).values():
        before: tuple[datetime, int] | None = None
        for entry in chain:
            claimed = _moment(entry.claimed_at)
            if claimed is None:
                doubtful.append((entry.name, f"claimed time {entry.claimed_at!r} is not a time"))
                before = None
                continue
            first = _moment(received.get(entry.hash, ""))
            if first is not None and claimed - first > TOLERATED:
                doubtful.append(
                    (entry.name, f"claims {entry.claimed_at}, and was received before that, {received[entry.hash]}")
                )
            counter = int(read_object(entry.envelope_text)["monotonic"])
            if before is not None and counter >= before[1]:
                drift = (claimed - before[0]) - timedelta(milliseconds=counter - before[1])
                if abs(drift) > TOLERATED and not _received_apart(entry, received, drift):
                    minutes = round(drift.total_seconds() / 60)
                    words = f"the clock of device {entry.device} moved by {minutes} minutes against its own counter"
                    doubtful.append((entry.name, words))
            before = (claimed, counter)
    return doubtful


def _received_apart(entry: Entry, received: Mapping[str, str], drift: timedelta) -> bool:
    """The counter stands still while a device sleeps or starts anew: a receipt that agrees with the claim settles it."""
    claimed, first = _moment(entry.claimed_at), _moment(received.get(entry.hash, ""))
    return drift > timedelta(0) and claimed is not None and first is not None and abs(first - claimed) <= TOLERATED


def _moment(text: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo is not None else None
