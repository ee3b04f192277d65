"""One entry of the record as it was written, and the log of entries by page and kind.

Contents: EntryView; entry_view; LogPage; log_page.
"""

from __future__ import annotations

import logging
from collections import Counter
from dataclasses import dataclass
from typing import Any

from desorb.core.assess import assess
from desorb.errors import NotFound
from desorb.notebook.chain import first_receipts
from desorb.notebook.entry import Entry
from desorb.notebook.store import Store
from desorb.service.cases import OpenCase, files_holding, load, reports_holding
from desorb.service.history import log_of

PAGE = 50  # entries on one page of the log; setting of ours
NEVER_STRUCK = ("case-opened", "removal", "report-issued")
NEVER_REMOVED = ("case-opened", "removal", "strike", "report-issued")


@dataclass(frozen=True, slots=True)
class EntryView:
    """An entry, what became of it, and what a removal of it would take along."""

    entry: str
    hash: str
    prev: str
    kind: str
    clock: int
    claimed_at: str
    received_at: str
    payload: dict[str, Any]
    is_removed: bool
    state: str
    strikes: list[dict[str, str]]
    can_be_struck: bool
    can_be_removed: bool
    rests_on_it: list[str]
    files_holding: list[str]
    reports_holding: list[int]


def find_by_name(store: Store, case: OpenCase, name: str) -> Entry:
    found = [entry for entry in store.entries(case.id) if entry.name == name]
    if not found:
        raise NotFound("there is no such entry in this case", got=name, wanted="device/number as the log shows it")
    return found[0]


def entry_view(store: Store, case: OpenCase, name: str) -> EntryView:
    entry = find_by_name(store, case, name)
    folded = load(store, case)
    received = first_receipts(store.receipts(case.id))
    outcomes = [each for each in (*folded.struck, *folded.restored) if each.struck.hash == entry.hash]
    strikes = [
        {"entry": strike.entry, "by": strike.record.by, "at": strike.record.at, "why": strike.record.why, "what": what}
        for each in outcomes
        for what, group in (("struck", (each.strike, *each.also)), ("strike taken back", each.stands_again))
        for strike in group
    ]
    is_removed = entry.payload_text is None
    struck = any(each.struck.hash == entry.hash for each in folded.struck)
    state = "removed" if is_removed else "struck" if struck else "stands"
    try:
        assessed = assess(folded).all
    except Exception as problem:  # the entry that trips the assessment must stay where it can be struck
        logging.getLogger("desorb").error("case %s cannot be assessed", case.id, exc_info=problem)
        assessed = ()
    rests = [
        each.id
        for each in assessed
        if entry.name in each.readings or any(f"({entry.name})" in used for used in each.controls_used)
    ]
    return EntryView(
        entry.name, entry.hash, entry.prev, entry.kind, entry.clock, entry.claimed_at, received.get(entry.hash, ""),
        {} if is_removed else entry.payload(), is_removed, state, strikes, entry.kind not in NEVER_STRUCK and not is_removed,
        entry.kind not in NEVER_REMOVED and not is_removed, list(dict.fromkeys(rests)),
        [] if is_removed else files_holding(store, case, name), reports_holding(store, case, name),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class LogPage:
    """Entries in fold order, the newest page first; `kinds` counts every kind of the whole record."""

    rows: list[dict[str, Any]]
    page: int
    pages: int
    total: int
    kinds: dict[str, int]


def log_page(store: Store, case: OpenCase, *, kind: str = "", page: int = 1) -> LogPage:
    rows, _ = log_of(store, case)
    kinds = dict(sorted(Counter(row["kind"] for row in rows).items()))
    chosen = [row for row in rows if not kind or row["kind"] == kind][::-1]
    pages = max(1, -(-len(chosen) // PAGE))
    page = min(max(1, page), pages)
    return LogPage(chosen[(page - 1) * PAGE : page * PAGE], page, pages, len(chosen), kinds)
