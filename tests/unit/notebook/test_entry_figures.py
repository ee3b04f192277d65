"""Parts of one entry that no other test holds: each kills a change that went unnoticed (benchmarks/mutate.py)."""

from __future__ import annotations

from typing import Any

import pytest

from desorb.errors import NotUnderstood
from desorb.notebook.entry import DEEPEST, LONGEST_ENVELOPE, canonical, entry_of, seal

MOMENT = "2026-03-02T09:00:00+00:00"


def nested(levels: int, kind: str) -> Any:
    value: Any = "innermost"
    for _ in range(levels):
        value = {"part": value} if kind == "object" else [value]
    return value


@pytest.mark.parametrize("kind", ["object", "list"])
def test_a_value_may_be_nested_so_deep_and_no_deeper(kind: str) -> None:
    assert canonical(nested(DEEPEST, kind))
    with pytest.raises(NotUnderstood):
        canonical(nested(DEEPEST + 1, kind))


def test_an_entry_read_again_is_the_entry() -> None:
    entry = seal(
        case="c" * 32, device="one", n=0, prev="", clock=1, kind="note", claimed_at=MOMENT, monotonic=0,
        payload={"words": "x"}, salt="00" * 16,
    )  # fmt: skip
    assert entry_of(entry.envelope_text, entry.salt, entry.payload_text) == entry
    assert entry.claimed_at == MOMENT


def test_the_longest_envelope_is_not_too_long() -> None:
    with pytest.raises(NotUnderstood, match="too long"):
        entry_of(" " * (LONGEST_ENVELOPE + 1), None, None)
    with pytest.raises(NotUnderstood, match="not a JSON object"):
        entry_of(" " * LONGEST_ENVELOPE, None, None)
