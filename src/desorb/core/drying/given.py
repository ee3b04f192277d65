"""What was typed, taken as a number inside its range or a sentence that is not empty; else refused in words."""

from __future__ import annotations

from desorb.core.saturation import Range, numbers, require_in_range
from desorb.errors import InputError


def figure(value: object, quantity: str, low: float, high: float, unit: str) -> float:
    """`value` as one number from `low` to `high`, ends included (the ends are ours). InputError, OutOfRange."""
    found = numbers(value, quantity)
    if found.ndim:
        raise InputError(f"{quantity} is one number", got=f"{found.size} values", next_step="give them one at a time")
    require_in_range(found, quantity, Range(f"what {quantity} can be", low, high, unit, "ours"))
    return float(found)


def stated(words: str, what: str, next_step: str) -> str:
    """`words` without blanks at its ends. InputError if nothing is left: a figure without its context is not used."""
    if not words.strip():
        raise InputError(f"{what} is not stated", got=repr(words), wanted=what, next_step=next_step)
    return words.strip()
