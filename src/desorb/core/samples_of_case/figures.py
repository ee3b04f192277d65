"""Figures and times of the record as numbers; what is no figure is refused in words.

Contents: said (a refusal in words); of_sample; plain; number; needed; whole; moment.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from desorb.core.case import Entered
from desorb.core.typed import read_value
from desorb.errors import DesorbError, InputError, NotUnderstood


def said(problem: DesorbError) -> tuple[str, str]:
    """What was wrong, in words, and the next step; never without one."""
    got = f"; got {problem.got}" if problem.got else ""
    wanted = f"; wanted {problem.wanted}" if problem.wanted else ""
    return f"{problem.what}{got}{wanted}", problem.next_step or "strike the entry and write it again with its figures"


def of_sample(entries: tuple[Entered[Any], ...], sample: str) -> list[Entered[Any]]:
    return [each for each in entries if each.record.sample == sample]


def plain(value: Decimal) -> str:
    """At most two decimals: no balance of such a sample carries more (setting of ours)."""
    return f"{round(value, 2).normalize():f}"


def number(text: str) -> Decimal | None:
    if not text.strip():
        return None
    value = read_value(text)
    if value.bound:
        raise NotUnderstood(
            "a bound is no figure here", got=text, wanted="one number", next_step="weigh or read it again"
        )
    return value.number


def needed(text: str, name: str) -> Decimal:
    value = number(text)
    if value is None:
        raise InputError(f"The {name} is not recorded", wanted="a number", next_step=f"record the {name}")
    return value


def whole(text: str, name: str) -> int:
    value = needed(text, name)
    if value != value.to_integral_value():
        raise InputError(f"The {name} is in whole mm", got=text, wanted="digits", next_step="correct it in a new entry")
    return int(value)


def moment(text: str) -> datetime:
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        found = datetime.min
    if found.tzinfo is None:
        raise NotUnderstood(
            "this is no time with its offset", got=repr(text), wanted="2026-03-02T14:30+00:00",
            next_step="strike the entry and write it again with its time",
        )  # fmt: skip
    return found
