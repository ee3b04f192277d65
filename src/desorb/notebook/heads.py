"""Heads: the last entry of each device, and what a head that was printed elsewhere says about the record.

Contents: heads_text (what heads.json says); Anchored; anchor (look the given heads up).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from desorb.core.case import Gap
from desorb.notebook.chain import Receipt, by_device
from desorb.notebook.entry import Entry, canonical
from desorb.notebook.fold import NOT_EVIDENCE

SHORTEST_HEAD = 12  # hexadecimal digits: enough to find an entry
SAFE_HEAD = 32  # hexadecimal digits: 128 bits; a forger who can make 2^48 entries fits one to 12 digits
_HEX = frozenset("0123456789abcdef")


def heads_text(case: str, entries: Iterable[Entry], receipts: Sequence[Receipt]) -> bytes:
    """What heads.json says: the last entry of each device and how many there are."""
    chains = by_device(entries)
    heads = [{"device": name, "n": chain[-1].n, "hash": chain[-1].hash} for name, chain in chains.items()]
    counts = {"entries": sum(map(len, chains.values())), "receipts": len(receipts)}
    return canonical({"case": case, "heads": list(heads), **counts}) + b"\n"


@dataclass(frozen=True, slots=True)
class Anchored:
    """A head that was given and is in the record, and what was entered on its device after it."""

    head: str
    device: str
    n: int
    after: int
    evidence_after: int

    @property
    def superseded(self) -> bool:
        return self.evidence_after > 0


def anchor(
    heads: Iterable[str], entries: Sequence[Entry], gaps: Sequence[Gap], faults: list[str], notes: list[str]
) -> tuple[tuple[Anchored, ...], tuple[str, ...], int]:
    chains, printed = by_device(entries), list(heads)
    covered: dict[str, int] = {}
    anchored: list[Anchored] = []
    for given in printed:
        head = "".join(given.split()).lower()[-64:]  # a whole printed line ends with the hash
        if len(head) < SHORTEST_HEAD or not set(head) <= _HEX:
            faults.append(f"{given!r} is not a head: wanted at least {SHORTEST_HEAD} hexadecimal digits")
            continue
        found = [entry for entry in entries if entry.hash.startswith(head)]
        if not found:
            faults.append(
                f"the head {head[:SHORTEST_HEAD]} printed on the report is not in this record:"
                " entries were changed or taken away after it was printed"
            )
        elif len({entry.hash for entry in found}) > 1:
            faults.append(f"the head {head} fits more than one entry: give more of its digits")
        else:
            entry = found[0]
            later = [each for each in chains[entry.device] if each.n > entry.n]
            bearing = sum(each.kind not in NOT_EVIDENCE for each in later)
            if len(head) < SAFE_HEAD:
                notes.append(
                    f"the head {head} was given with {len(head)} digits: give {SAFE_HEAD} to shut out a forger"
                )
            anchored.append(Anchored(entry.hash, entry.device, entry.n, len(later), bearing))
            covered[entry.device] = max(entry.n, covered.get(entry.device, -1))
    for gap in gaps:
        if gap.first <= covered.get(gap.device, -1):
            faults.append(f"{gap}, before the printed head: nothing shows that the entries before it are unchanged")
    missing = tuple(device for device in chains if device not in covered)
    if not printed and entries:
        notes.append("no printed head was given: whoever keeps this record could have written it anew")
    elif missing:
        notes.append(
            "no head was given for " + ", ".join(missing) + ": whoever keeps this record could write them anew"
        )
    beyond = sum(each.kind not in NOT_EVIDENCE and each.n > covered.get(each.device, -1) for each in entries)
    return tuple(anchored), missing, beyond
