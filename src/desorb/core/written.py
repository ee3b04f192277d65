"""Figures, times and yes or no as they stand in the record. '' means not stated and becomes None; what is none is refused.

Contents: number; figure; needed; whole; yes; moment.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from desorb.core.typed import read_value
from desorb.errors import InputError, NotUnderstood


def number(text: str) -> Decimal | None:
    """One figure. Raises NotUnderstood for text, and for a bound such as >=99."""
    if not text.strip():
        return None
    value = read_value(text)
    if value.bound:
        raise NotUnderstood(
            "a figure at the end of its scale decides nothing here", got=text, wanted="one number",
            next_step="read it with an instrument that reaches further",
        )  # fmt: skip
    return value.number


def figure(text: str) -> float | None:
    """The same as a float."""
    value = number(text)
    return None if value is None else float(value)


def needed(text: str, name: str) -> Decimal:
    """A figure without which nothing can be worked out. Raises InputError where it is not stated."""
    value = number(text)
    if value is None:
        raise InputError(f"The {name} is not recorded", wanted="a number", next_step=f"record the {name}")
    return value


def whole(text: str, name: str) -> int:
    """A whole number. Raises InputError."""
    value = needed(text, name)
    if value != value.to_integral_value():
        raise InputError(
            f"The {name} is a whole number", got=text, wanted="digits", next_step="correct it in a new entry"
        )
    return int(value)


def yes(text: str) -> bool | None:
    return {"yes": True, "no": False}.get(text)


def moment(text: str) -> datetime:
    """A time with offset. Raises NotUnderstood."""
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
