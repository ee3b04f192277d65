"""The chains: one per (case, device), and one of receipts per (case, store).

Contents: order of the fold; faults_of_chain (does each entry follow the one before?); gaps; Receipt and its chain.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from desorb.core.case import Gap
from desorb.notebook.entry import Entry, canonical, fault_of


def in_fold_order(entries: Iterable[Entry]) -> list[Entry]:
    """(logical clock, device, n), and the hash for twins of one number. Claimed time never orders."""
    return sorted(entries, key=lambda entry: (entry.clock, entry.device, entry.n, entry.hash))


def opening_entry(entries: Iterable[Entry]) -> Entry | None:
    """The entry that opens the case: number 0 of its device, following nothing."""
    opening = [entry for entry in entries if entry.n == 0 and entry.prev == "" and entry.kind == "case-opened"]
    return min(opening, key=lambda entry: (entry.clock, entry.device, entry.hash)) if opening else None


def by_device(entries: Iterable[Entry]) -> dict[str, list[Entry]]:
    devices: dict[str, list[Entry]] = {}
    for entry in entries:
        devices.setdefault(entry.device, []).append(entry)
    return {device: sorted(devices[device], key=lambda entry: (entry.n, entry.hash)) for device in sorted(devices)}


def faults_of_chains(entries: Iterable[Entry]) -> list[str]:
    """Every fault of every chain, as sentences; empty when the record holds together. Gaps are not faults."""
    known = list(entries)
    faults = [f"entry {entry.name}: {fault}" for entry in known if (fault := fault_of(entry))]
    opening = opening_entry(known)
    if known and opening is None:
        faults.append("the entry that opens the case is not here")
    if len({entry.case for entry in known}) > 1:
        faults.append("entries of more than one case stand together")
    for chain in by_device(known).values():
        for earlier, entry in zip([None, *chain], chain, strict=False):
            follows = _fault_of_following(earlier, entry, opening)
            if follows:
                faults.append(f"entry {entry.name}: {follows}")
    return faults


def _fault_of_following(earlier: Entry | None, entry: Entry, opening: Entry | None) -> str:
    if earlier is not None and earlier.n == entry.n:
        return "another entry has the same number"
    if entry.n == 0:
        if opening is None or entry.hash == opening.hash:
            return ""
        return "" if entry.prev == opening.hash else "it does not follow the entry that opens the case"
    if earlier is None or earlier.n < entry.n - 1:
        return ""  # a gap: shown, not a fault
    if entry.prev != earlier.hash:
        return "it does not follow the entry before it"
    return "" if entry.clock > earlier.clock else "its logical clock does not run on"


def gaps_of(entries: Iterable[Entry], set_aside: Mapping[str, set[int]] | None = None) -> tuple[Gap, ...]:
    """The numbers missing before each device's last entry. Numbers in quarantine are named as such."""
    numbers = {device: {entry.n for entry in chain} for device, chain in by_device(entries).items()}
    return gaps_in(numbers, set_aside or {})


def gaps_in(numbers: Mapping[str, set[int]], aside: Mapping[str, set[int]]) -> tuple[Gap, ...]:
    """The same from the numbers alone: by device, those that are here and those in quarantine."""
    gaps: list[Gap] = []
    for device in sorted(set(numbers) | set(aside)):
        here = numbers.get(device, set())
        expected = 0
        for n in sorted(here | aside.get(device, set())):  # by what is there: a stranger's number may be enormous
            if n > expected:
                gaps.append(Gap(device, expected, n - 1))
            if n not in here:
                _add_set_aside(gaps, device, n)
            expected = n + 1
    return tuple(gaps)


def _add_set_aside(gaps: list[Gap], device: str, n: int) -> None:
    reason = "been set aside"
    if gaps and (gaps[-1].device, gaps[-1].last, gaps[-1].reason) == (device, n - 1, reason):
        gaps[-1] = Gap(device, gaps[-1].first, n, reason)
    else:
        gaps.append(Gap(device, n, n, reason))


@dataclass(frozen=True, slots=True)
class Receipt:
    """That a store received an entry: its arrival number, when, and the hash of the receipt before it."""

    case: str
    store: str
    arrival: int
    at: str
    entry: str
    prev: str
    hash: str = ""


def sealed_receipt(case: str, store: str, arrival: int, at: str, entry: str, prev: str) -> Receipt:
    return Receipt(case, store, arrival, at, entry, prev, hash_of_receipt(case, store, arrival, at, entry, prev))


def hash_of_receipt(case: str, store: str, arrival: int, at: str, entry: str, prev: str) -> str:
    parts = {"case": case, "store": store, "arrival": arrival, "at": at, "entry": entry, "prev": prev}
    return hashlib.sha256(canonical(parts)).hexdigest()


def faults_of_receipts(receipts: Iterable[Receipt], entry_hashes: set[str]) -> list[str]:
    """Faults of every receipt chain: numbers from 0 without gaps, each following the one before, each for an entry."""
    faults: list[str] = []
    stores: dict[str, list[Receipt]] = {}
    for receipt in receipts:
        stores.setdefault(receipt.store, []).append(receipt)
    received: set[str] = set()
    for store in sorted(stores):
        prev = ""
        for expected, receipt in enumerate(sorted(stores[store], key=lambda receipt: receipt.arrival)):
            name = f"receipt {receipt.arrival} of store {store}"
            if receipt.arrival != expected:
                faults.append(f"{name}: receipt {expected} is missing or stands twice")
                break
            if receipt.prev != prev:
                faults.append(f"{name}: it does not follow the receipt before it")
            actual = hash_of_receipt(
                receipt.case, receipt.store, receipt.arrival, receipt.at, receipt.entry, receipt.prev
            )
            if actual != receipt.hash:
                faults.append(f"{name}: it does not match its hash")
            if receipt.entry not in entry_hashes:
                faults.append(f"{name}: the entry it names is not here")
            received.add(receipt.entry)
            prev = receipt.hash
    faults.extend(f"entry {missing[:12]} has no receipt" for missing in sorted(entry_hashes - received))
    return faults


def first_receipts(receipts: Iterable[Receipt]) -> dict[str, str]:
    """When each entry was first received, by any store. Times are ISO 8601 in UTC and compare as text."""
    first: dict[str, str] = {}
    for receipt in receipts:
        if receipt.entry not in first or receipt.at < first[receipt.entry]:
            first[receipt.entry] = receipt.at
    return first
