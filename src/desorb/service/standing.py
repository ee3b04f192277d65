"""A case as it stands, for the pages and the API: folded, assessed and laid out, from one reading of the store.

Contents: AsItStands; stands (read afresh); Kept (the same, kept in memory while nothing was entered); document_now.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any

from desorb.core.assess import Assessed, assess
from desorb.core.case import Case
from desorb.errors import DesorbError
from desorb.notebook import attachments
from desorb.notebook.store import Store
from desorb.report.document import build_document
from desorb.report.lookup import Lookup, lookup_of
from desorb.service.assessing import under_rule
from desorb.service.cases import OpenCase, load, zone_of
from desorb.service.drying import drying_without_round
from desorb.service.methods import methods_of
from desorb.service.reporting import SOFTWARE, day_of_report

MOST_KEPT = 64  # cases in memory; setting of ours


@dataclass(frozen=True)
class AsItStands:
    """One case: where it came from, what the fold made of it, and what can be said of it."""

    open: OpenCase
    case: Case
    assessed: Assessed

    @cached_property
    def look(self) -> Lookup:
        return lookup_of(self.case, self.assessed)


def stands(store: Store, case: OpenCase, *, known_on: str = "", rule: str = "") -> AsItStands:
    """Fold and assess with the history. `known_on` shows a past day, `rule` another rule; nothing is written."""
    folded = load(store, case, known_on)
    if rule:
        folded = under_rule(folded, rule)
    return AsItStands(case, folded, assess(folded, history=True))


def trouble_in_words(problem: Exception) -> str:
    """Why a case cannot be assessed, in one piece of a sentence."""
    return problem.what if isinstance(problem, DesorbError) else f"{type(problem).__name__} inside desorb"


def document_now(store: Store, found: AsItStands, now: datetime) -> dict[str, Any]:
    """The dataset of a report that is not issued: number 0, dated now."""
    awaited = {
        entered.record.sha256
        for entered in found.case.photos
        if not attachments.path_of(store.home, entered.record.sha256).exists()
    }
    moment = now.astimezone(zone_of(found.open.time_zone)).isoformat(timespec="seconds")
    return build_document(
        found.case, found.assessed, number=0, issued_at=moment, software=SOFTWARE, photos_awaited=frozenset(awaited),
        methods=methods_of(found.case), drying=drying_without_round(found.case, day_of_report(moment)),
    )  # fmt: skip


Stamp = tuple[int, str, int, int]


@dataclass
class Kept:
    """Assessed cases by what had arrived of them. A case to which something was added is read again."""

    store: Store
    _found: OrderedDict[str, tuple[Stamp, AsItStands]] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def of(self, case: OpenCase) -> AsItStands:
        stamp = self._stamp(case.id)
        with self._lock:
            known = self._found.get(case.id)
            if known is not None and known[0] == stamp:
                self._found.move_to_end(case.id)
                return known[1]
        folded = load(self.store, case)
        made = AsItStands(case, folded, assess(folded))
        with self._lock:
            self._found[case.id] = (stamp, made)
            while len(self._found) > MOST_KEPT:
                self._found.popitem(last=False)
        return made

    def _stamp(self, case: str) -> Stamp:
        receipts = self.store.receipts(case)
        last = max((receipt.hash for receipt in receipts), default="")
        return (len(receipts), last, len(self.store.set_aside(case)), len(self.store.removals_of(case)))
