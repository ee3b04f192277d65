"""Refusing a number that a sample cannot have.

Contents: require_between.
"""

from __future__ import annotations

import math
from decimal import Decimal

from desorb.errors import InputError, OutOfRange


def require_between(name: str, value: float | Decimal, low: float, high: float, unit: str) -> None:
    """Raises InputError if `value` is no finite number, OutOfRange if it lies outside low to high, ends included."""
    if not math.isfinite(value):
        raise InputError(
            f"The {name} is not a number",
            got=str(value),
            wanted=f"a number in {unit}",
            next_step="check it against the sheet",
        )
    if not low <= value <= high:
        ends = f"{low:g} {unit} or more" if math.isinf(high) else f"{low:g} to {high:g} {unit}"
        raise OutOfRange(
            f"The {name} is out of range", got=f"{value:g} {unit}", wanted=ends, next_step="check it against the sheet"
        )
