"""The fold: from a set of entries to the case as it stands. Pure, and the same for every order of arrival.

Table of strikes (tests/unit/notebook/test_strikes.py walks every permutation):
    strike of a reading          the reading counts nowhere and is shown with who, when and why
    strike of a strike           the reading stands again; both strikes are shown
    strike of an entry unknown   waits, is shown, and takes effect when the entry arrives
    strike twice                 the first in fold order counts; the later ones are shown beside it
    strike of the first of two   the second still holds: the reading stays struck
A strike can be struck, and that strike too: a strike has effect unless a strike with effect names it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from desorb.core.case import Case, Entered, Removed, Struck
from desorb.core.kinds import Removal, Strike
from desorb.errors import NotUnderstood
from desorb.notebook.chain import by_device, gaps_of, in_fold_order, opening_entry
from desorb.notebook.entry import Entry
from desorb.notebook.schema import NEVER_REMOVED, record_of

PLACE_OF_KIND = {
    "setting": "settings", "rule-row": "rule_rows", "instrument": "instruments", "instrument-check": "checks",
    "readiness": "readiness", "scale-shown": "scales_shown", "construction": "constructions", "zone": "zones",
    "spot": "spots", "visit": "visits", "reading": "readings", "air-reading": "air_readings", "scan": "scans",
    "salt-test": "salt_tests", "unit-change": "unit_changes", "gate-answer": "gate_answers", "hazard": "hazards",
    "water-origin": "water_origins", "finding-answer": "finding_answers", "event": "events", "note": "notes",
    "unit-reading": "unit_readings", "not-read": "not_read", "room": "rooms", "plan-picture": "plan_pictures",
    "photo": "photos", "photo-mark": "photo_marks", "not-inspected": "not_inspected", "file-taken": "files",
    "report-issued": "reports",
    "limit-stated": "limits_stated",
    "floor-test": "floor_tests",
    "limit-taken": "limits_taken",
    "floor-place": "floor_places",
    "floor-reading": "floor_readings",
    "sample": "samples",
    "custody": "custody",
    "weighing": "weighings",
    "carbide-reading": "carbide_readings",
    "cup-reading": "cup_readings",
    "salt-content": "salt_contents",
    "leak-test": "leak_tests",
    "cause-observation": "cause_observations",
    "cause-test": "cause_tests",
    "unit": "units",
    "enclosure": "enclosures",
    "load-term": "load_terms",
    "circuit": "circuits",
    "tariff": "tariffs",
    "target": "targets",
    "drying-option": "drying_options",
    "option-cost": "option_costs",
    "option-taken": "options_taken",
    "time-limit": "time_limits",
    "not-done": "not_done",
    "occupancy": "occupancies",
    "logger-taken": "logger_files",
}  # fmt: skip
KEYED_KINDS = ("reading", "air-reading", "unit-reading", "note")
NOT_EVIDENCE = ("report-issued",)
NEVER_STRUCK = ("case-opened", "removal", "report-issued")  # what happened, happened


def fold(entries: Iterable[Entry], set_aside: dict[str, set[int]] | None = None) -> Case:
    """Fold a set of entries of one case. Duplicates (same hash) are dropped; the order given does not matter."""
    unique: dict[str, Entry] = {}
    for entry in entries:
        if entry.hash not in unique or unique[entry.hash].payload_text is None:
            unique[entry.hash] = entry  # of two copies the one with its payload
    ordered = in_fold_order(unique.values())
    if not ordered:
        return Case(id="")
    lists: dict[str, list[Entered[Any]]] = {place: [] for place in PLACE_OF_KIND.values()}
    not_understood: list[str] = []
    entered_of_hash: dict[str, Entered[Any]] = {}
    strikes: list[Entered[Strike]] = []
    removals: list[Entered[Removal]] = []
    gone: list[Entry] = []
    for order, entry in enumerate(ordered):
        if entry.payload_text is None:
            gone.append(entry)
            continue
        try:
            record = record_of(entry.kind, entry.payload())
        except NotUnderstood as problem:
            not_understood.append(f"entry {entry.name} ({entry.kind}): {problem.what}")
            continue
        entered = Entered(record, entry.name, entry.hash, entry.device, entry.n, entry.clock, order, entry.claimed_at)
        entered_of_hash[entry.hash] = entered
        if entry.kind == "strike":
            strikes.append(entered)
        elif entry.kind == "removal":
            removals.append(entered)
    removed = _removed(removals, unique)
    removed_hashes = {each.hash for each in removed}
    for hash_of_removed in removed_hashes:
        entered_of_hash.pop(hash_of_removed, None)  # a copy that still has its payload counts no more than the others
    not_understood += [
        f"entry {entry.name} ({entry.kind}): its payload is not here, and no removal names it"
        for entry in gone
        if entry.hash not in removed_hashes
    ]
    not_understood += [
        f"entry {strike.entry} (strike): it names an entry of kind {unique[strike.record.target].kind}, which is never struck"
        for strike in strikes
        if strike.record.target in unique and unique[strike.record.target].kind in NEVER_STRUCK
    ]
    effective = _effective_strikes(strikes)
    struck, restored, waiting = _outcomes_of_strikes(strikes, effective, unique, entered_of_hash)
    struck_hashes = {outcome.struck.hash for outcome in struck}
    repeated: list[Entered[Any]] = []
    changed: list[Entered[Any]] = []
    seen: dict[tuple[str, str], Any] = {}
    struck_rows = {(outcome.kind, _content(outcome.struck.record)) for outcome in struck if outcome.kind in KEYED_KINDS}
    struck_keys = {(kind, record.key) for kind, record in struck_rows}  # equal rows have equal keys: most need no look
    for entry in ordered:
        kept = entered_of_hash.get(entry.hash)
        if kept is None or entry.kind not in PLACE_OF_KIND or entry.hash in struck_hashes:
            continue
        if entry.kind in KEYED_KINDS and kept.record.key:
            identity = (entry.kind, kept.record.key)
            if identity in struck_keys and (entry.kind, _content(kept.record)) in struck_rows:
                repeated.append(kept)  # the struck row, taken once more elsewhere: it does not come back by that
                continue
            if identity in seen:
                same = _content(kept.record) == _content(seen[identity])
                (repeated if same else changed).append(kept)
                continue
            seen[identity] = kept.record
        lists[PLACE_OF_KIND[entry.kind]].append(kept)
    opening = opening_entry(ordered)
    chains = by_device(ordered)
    kept_lists: dict[str, Any] = {place: tuple(kept) for place, kept in lists.items()}
    return Case(
        id=ordered[0].case,
        opened=entered_of_hash.get(opening.hash) if opening else None,
        struck=tuple(struck),
        restored=tuple(restored),
        waiting_strikes=tuple(waiting),
        removed=removed,
        waiting_removals=tuple(removal for removal in removals if removal.record.target not in unique),
        repeated_rows=tuple(repeated),
        changed_rows=tuple(changed),
        not_understood=tuple(not_understood),
        gaps=gaps_of(ordered, set_aside),
        heads={device: (chain[-1].n, chain[-1].hash) for device, chain in chains.items()},
        evidence_heads=evidence_heads(ordered),
        entry_count=len(ordered),
        **kept_lists,
    )


def _content(record: Any) -> Any:
    return replace(record, source="")


def _effective_strikes(strikes: list[Entered[Strike]]) -> set[str]:
    """Hashes of the strikes that have effect. A strike names a hash made before it, so the chain of strikes ends.

    Strikes that no undecided strike names are decided first, then those they name: clocks need not be honest for that.
    """
    of_hash = {strike.hash: strike for strike in strikes}
    undecided = Counter(strike.record.target for strike in strikes)
    ready = [strike for strike in strikes if not undecided[strike.hash]]
    undone: set[str] = set()
    for strike in ready:
        target = strike.record.target
        if strike.hash not in undone:
            undone.add(target)
        undecided[target] -= 1
        if not undecided[target] and target in of_hash:
            ready.append(of_hash[target])
    return of_hash.keys() - undone


def _outcomes_of_strikes(
    strikes: list[Entered[Strike]], effective: set[str], unique: dict[str, Entry], entered: dict[str, Entered[Any]]
) -> tuple[list[Struck], list[Struck], list[Entered[Strike]]]:
    naming: dict[str, list[Entered[Strike]]] = {}
    for strike in strikes:
        naming.setdefault(strike.record.target, []).append(strike)
    struck: list[Struck] = []
    restored: list[Struck] = []
    waiting: list[Entered[Strike]] = []
    for target, named_by in naming.items():
        beneath = _strikes_of_strikes(named_by, naming)
        if target not in unique:
            waiting += [*named_by, *beneath]
        elif target in entered and unique[target].kind not in (*NEVER_STRUCK, "strike"):
            counting = [strike for strike in named_by if strike.hash in effective]
            first = counting[0] if counting else named_by[0]
            also = tuple(strike for strike in named_by if strike.hash != first.hash)
            outcome = Struck(entered[target], unique[target].kind, first, also, tuple(beneath))
            (struck if counting else restored).append(outcome)
    return struck, restored, waiting


def _strikes_of_strikes(
    strikes: list[Entered[Strike]], naming: dict[str, list[Entered[Strike]]]
) -> list[Entered[Strike]]:
    """Every strike that names one of these, or one that does, in fold order."""
    found: list[Entered[Strike]] = []
    followed = list(strikes)
    while followed:
        beneath = naming.get(followed.pop().hash, [])
        found += beneath
        followed += beneath
    return sorted(found, key=lambda strike: strike.order)


def _removed(removals: list[Entered[Removal]], unique: dict[str, Entry]) -> tuple[Removed, ...]:
    """Entries that a removal names; the first removal in fold order counts."""
    removed: dict[str, Removed] = {}
    for removal in removals:
        entry = unique.get(removal.record.target)
        if entry is not None and entry.kind not in NEVER_REMOVED:
            removed.setdefault(entry.hash, Removed(entry.name, entry.hash, entry.kind, removal))
    return tuple(removed.values())


def evidence_heads(entries: Iterable[Entry]) -> dict[str, tuple[int, str]]:
    """The last entry of each device that bears evidence: report entries do not count."""
    heads: dict[str, tuple[int, str]] = {}
    for device, chain in by_device(entries).items():
        bearing = [entry for entry in chain if entry.kind not in NOT_EVIDENCE]
        if bearing:
            heads[device] = (bearing[-1].n, bearing[-1].hash)
    return heads
