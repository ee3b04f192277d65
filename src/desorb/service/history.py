"""The record as a list: every entry in fold order, with when it arrived and whether it still counts."""

from __future__ import annotations

from typing import Any

from desorb.notebook.chain import first_receipts
from desorb.notebook.store import Store
from desorb.service.cases import OpenCase, load


def log_of(store: Store, case: OpenCase) -> tuple[list[dict[str, Any]], list[str]]:
    """(entries as plain rows, sentences about what has not arrived or was set aside)."""
    folded = load(store, case)
    received = first_receipts(store.receipts(case.id))
    struck = {outcome.struck.hash: outcome for outcome in folded.struck}
    rows = []
    for entry in store.entries(case.id):
        state = ""
        if entry.hash in struck:
            strike = struck[entry.hash].strike.record
            state = f"struck by {strike.by}: {strike.why}"
        elif entry.payload_text is None:
            state = "removed"
        payload = entry.payload() if entry.payload_text is not None else {}
        rows.append(
            {
                "entry": entry.name, "clock": entry.clock, "kind": entry.kind, "claimed_at": entry.claimed_at,
                "received": received.get(entry.hash, ""), "hash": entry.hash, "state": state, "words": _words(payload),
            }
        )  # fmt: skip
    aside = [f"set aside {row['device']}/{row['n']}: {row['reason']}" for row in store.set_aside(case.id)]
    return rows, [str(gap) for gap in folded.gaps] + aside


def _words(payload: dict[str, Any]) -> str:
    """The parts of a payload that a person would look for, shortened for a list."""
    parts = []
    for name in (
        "id",
        "spot",
        "values",
        "scale",
        "covering",
        "place",
        "temperature",
        "relative_humidity",
        "gate",
        "key",
        "words",
        "why",
    ):
        value = payload.get(name)
        if value and not (name == "key" and ":" in str(value)):  # the identity of a row says nothing to a person
            parts.append(" ".join(value) if isinstance(value, list) else str(value))
    text = " ".join(parts)
    return text if len(text) <= 90 else f"{text[:87]}..."
