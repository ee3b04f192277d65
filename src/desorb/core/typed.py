"""Numbers as a person typed them: read without guessing, kept without changing.

Contents: TypedValue; read_value (one value); read_repeats (the repeats of one spot); read_figure (a plain figure).
A value keeps its text, because the digits an instrument showed are evidence: 12.30 is not 12.3.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from desorb.errors import NotUnderstood

AT_LEAST = ">="
AT_MOST = "<="

_NUMBER = re.compile(r"(?P<sign>[+\-\u2212]?)(?P<digits>[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)")
_BOUNDS = {"": "", ">": AT_LEAST, ">=": AT_LEAST, "\u2265": AT_LEAST, "<": AT_MOST, "<=": AT_MOST, "\u2264": AT_MOST}
_LONGEST = 24


@dataclass(frozen=True, slots=True)
class TypedValue:
    """One number as typed. `bound` is '', '>=' or '<='."""

    text: str
    number: Decimal
    bound: str = ""


def read_value(text: str) -> TypedValue:
    """Read one typed value: '54', '12,5', '-3', '.5', '>=5.8'.

    A comma or a point is the decimal mark; thousands marks, exponents and units are not guessed at.
    Raises NotUnderstood with what was got and what is wanted.
    """
    stripped = text.strip()
    mark = re.match(r"^(>=|<=|[><\u2265\u2264]?)\s*", stripped)
    bound = mark.group(1) if mark else ""
    rest = stripped[mark.end() :] if mark else stripped
    found = _NUMBER.fullmatch(rest)
    if found is None or len(stripped) > _LONGEST:
        raise NotUnderstood(
            "this is not one number",
            got=repr(text),
            wanted="digits with at most one decimal mark, such as 54, 12.5 or 12,5; >=5.8 for a display at its end",
            next_step="type the figure as the instrument showed it, without unit and without thousands marks",
        )
    sign = "-" if found.group("sign") in ("-", "\u2212") else ""
    return TypedValue(
        text=stripped, number=Decimal(sign + found.group("digits").replace(",", ".")), bound=_BOUNDS[bound]
    )


def read_repeats(text: str) -> tuple[TypedValue, ...]:
    """Read the repeats of one spot, separated by spaces, '|' or '/': '64 73 65'. '>= 5.8' is one value."""
    joined = re.sub(r"([<>\u2264\u2265]=?)\s+", r"\1", text.strip())
    parts = [part for part in re.split(r"[\s|/]+", joined) if part]
    if not parts:
        raise NotUnderstood(
            "there is no value", got=repr(text), wanted="one number, or repeats separated by spaces",
            next_step="fill in the value, or leave the row out: a spot that was not read stays visible as not read",
        )  # fmt: skip
    return tuple(read_value(part) for part in parts)


def read_figure(text: str) -> float:
    """One figure as it was typed, with a point or a comma. Raises NotUnderstood for words, for nothing, and for a bound."""
    value = read_value(text)
    if value.bound:
        raise NotUnderstood(
            "a figure at the end of its scale decides nothing here", got=text, wanted="one number",
            next_step="enter the figure itself",
        )  # fmt: skip
    return float(value.number)
