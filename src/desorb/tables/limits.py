"""Loads the table of limits and figures of the trade, each with its passport.

Contents: LimitRow - rows, all of the table - row, one by its key - limits, those a result may be held against -
read_rows, from the text of a table.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from decimal import Decimal, InvalidOperation
from functools import cache
from importlib import resources
from typing import Any

from desorb.core.limits import ACCEPTANCE, LOWER, UPPER, Limit
from desorb.errors import InputError, NotFound, NotUnderstood

USES = (ACCEPTANCE, "protocol", "planning only", "interpretation", "risk", "safety")
READ = ("read", "from memory")
CONFIDENCE = ("H", "M", "L")
PASSPORT = (
    "key", "use", "quantity", "comparison", "value", "unit", "condition", "standard", "edition", "clause", "region",
    "confidence", "read", "note",
)  # fmt: skip
NEVER_EMPTY = ("key", "quantity", "comparison", "standard", "edition")


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One row of the table. `value` is text as printed: it may be a range, bands, or empty where the rule has no number."""

    key: str
    use: str
    quantity: str
    comparison: str
    value: str
    unit: str
    condition: str
    standard: str
    edition: str
    clause: str
    region: str
    confidence: str
    read: str
    note: str
    material: str = ""
    heated: str = ""
    covering: str = ""
    superseded: bool = False
    disputed: str = ""
    maker_silent: bool = False

    def limit(self) -> Limit:
        """The row as a limit. Raises InputError where its use is not acceptance."""
        if self.use != ACCEPTANCE:
            raise InputError(
                f"{self.key} is not an acceptance limit",
                got=f"use: {self.use}",
                wanted=ACCEPTANCE,
                next_step="state a limit with its standard and edition, or the limit of the maker with its sheet",
            )
        taken = {name: getattr(self, name) for name in (field.name for field in fields(self)) if name != "value"}
        return Limit(value=Decimal(self.value), **taken)


@cache
def rows() -> Mapping[str, LimitRow]:
    """Every row of the table by its key, in the order of the file."""
    return read_rows(resources.files("desorb.tables").joinpath("limits.toml").read_text(encoding="utf-8"))


def row(key: str) -> LimitRow:
    """One row by its key. Raises NotFound."""
    found = rows().get(key)
    if found is None:
        raise NotFound("there is no limit with this key", got=key, wanted=", ".join(rows()))
    return found


def limits() -> tuple[Limit, ...]:
    """Every limit that a result may be held against, superseded ones included (they apply only when chosen)."""
    return tuple(each.limit() for each in rows().values() if each.use == ACCEPTANCE)


def read_rows(text: str) -> dict[str, LimitRow]:
    """Rows from the text of a table. A row without its passport is refused with NotUnderstood."""
    found: dict[str, LimitRow] = {}
    for given in tomllib.loads(text).get("limit", ()):
        made = _row(given)
        if made.key in found:
            raise NotUnderstood("two limits of the table share a key", got=made.key)
        found[made.key] = made
    return found


def _row(given: Mapping[str, Any]) -> LimitRow:
    place = f"limit {given.get('key')}"
    known = {field.name for field in fields(LimitRow)}
    if unknown := set(given) - known:
        raise NotUnderstood(f"{place}: a name the table does not know", got=", ".join(sorted(unknown)))
    lacking = [name for name in PASSPORT if name not in given]
    lacking += [name for name in NEVER_EMPTY if name in given and not str(given[name]).strip()]
    if lacking:
        raise NotUnderstood(
            f"{place}: a row without its whole passport",
            got=f"no {', no '.join(lacking)}",
            wanted=", ".join(PASSPORT),
            next_step="complete the row from its source",
        )
    made = LimitRow(**given)
    for name, value, allowed in (
        ("use", made.use, USES),
        ("read", made.read, READ),
        ("confidence", made.confidence, CONFIDENCE),
    ):
        if value not in allowed:
            raise NotUnderstood(f"{place}: {name} is not a known word", got=value, wanted=", ".join(allowed))
    if made.use == ACCEPTANCE and not (made.comparison in UPPER + LOWER and _is_number(made.value)):
        raise NotUnderstood(
            f"{place}: an acceptance limit is one number",
            got=f"{made.comparison} {made.value}",
            wanted="<=, <, >= or > and a number",
        )
    return made


def _is_number(text: str) -> bool:
    try:
        return Decimal(text).is_finite()
    except InvalidOperation:
        return False
