"""What was known on a past day: the days on which something arrived, and the assessment of such a day beside today's.

Contents: ReceiptDay; receipt_days; KnownOn; known_on.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from desorb.core.outcome import Assessment
from desorb.notebook.chain import first_receipts
from desorb.notebook.store import Store
from desorb.service.assessing import differences
from desorb.service.cases import OpenCase, zone_of
from desorb.service.standing import AsItStands, stands


@dataclass(frozen=True, slots=True)
class ReceiptDay:
    """A day at the site on which entries first arrived, with how many arrived that day and up to its end."""

    day: str
    arrived: int
    known: int


def receipt_days(store: Store, case: OpenCase) -> list[ReceiptDay]:
    """In order of time. Days are days at the site."""
    zone = zone_of(case.time_zone)
    counts: dict[str, int] = {}
    for text in first_receipts(store.receipts(case.id)).values():
        try:
            moment = datetime.fromisoformat(text.replace("Z", "+00:00"))
        except ValueError:
            continue
        day = (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(zone).date().isoformat()
        counts[day] = counts.get(day, 0) + 1
    days, known = [], 0
    for day in sorted(counts):
        known += counts[day]
        days.append(ReceiptDay(day, counts[day], known))
    return days


@dataclass(frozen=True, slots=True)
class KnownOn:
    """The assessment of a past day with the rule of that day, and where today differs."""

    day: str
    entries: int
    rule: str
    assessments: tuple[Assessment, ...]
    differences: list[dict[str, str]]
    found: AsItStands


def known_on(store: Store, case: OpenCase, day: str) -> KnownOn:
    """Raises InputError for a day before the case began, NotUnderstood for what is no day."""
    found = stands(store, case, known_on=day)
    assessed = found.assessed
    return KnownOn(
        day, found.case.entry_count, found.case.setting("rule", "tolerance/1"), (*assessed.elements, *assessed.spots),
        differences(store, case, day), found,
    )  # fmt: skip
