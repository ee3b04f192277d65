"""What every part of a sample shares.

Contents: said (a refusal in words); of_sample; plain.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from desorb.core.case import Entered
from desorb.errors import DesorbError, sentence


def said(problem: DesorbError) -> tuple[str, str]:
    """What was wrong, in words, and the next step; never without one."""
    return sentence(problem), problem.next_step or "strike the entry and write it again with its figures"


def of_sample(entries: tuple[Entered[Any], ...], sample: str) -> list[Entered[Any]]:
    return [each for each in entries if each.record.sample == sample]


def plain(value: Decimal) -> str:
    """At most two decimals: no balance of such a sample carries more (setting of ours)."""
    return f"{round(value, 2).normalize():f}"
