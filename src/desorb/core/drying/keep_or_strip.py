"""Keep, dry, strip or clean one element: the options side by side. Which one is right is not decided here.

Contents: CostLine, Option and Decision - drying_cost - compare - decide (always refused).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from desorb.core.drying.given import figure, stated
from desorb.core.drying.harm_guard import FOUL_WATER_ORDER
from desorb.core.typed import read_value
from desorb.errors import InputError, Refused

ACTIONS = ("keep", "dry", "strip", "clean")
CONTAMINATIONS = ("clean", "grey", "foul", "mould", "unknown")
PEOPLE_DECIDE = "desorb compares and does not decide: the people responsible do, with name and date"


@dataclass(frozen=True, slots=True)
class CostLine:
    """One part of a cost. amount: as typed; currency; source: quotation, bill, price list, or whose estimate."""

    name: str
    amount: str
    currency: str
    source: str


@dataclass(frozen=True, slots=True)
class Option:
    """One thing that could be done. evidence: (what was found, where it is recorded), each. contamination: of the element."""

    action: str
    evidence: tuple[tuple[str, str], ...]
    costs: tuple[CostLine, ...]
    contamination: str
    contamination_source: str


@dataclass(frozen=True, slots=True)
class Decision:
    """What people decided: action, who, when, why. It is kept, not judged."""

    action: str
    by: str
    at: str
    reason: str


@dataclass(frozen=True, slots=True)
class Compared:
    """The options in the order given, never ranked: each with its total cost and words; the decision if there is one."""

    element: str
    totals: tuple[tuple[str, Decimal, str], ...]  # action, amount, currency
    words: tuple[str, ...]
    decision: str
    next_step: str


def drying_cost(days: float, daily: Sequence[CostLine]) -> tuple[CostLine, ...]:
    """Costs of drying in place: each daily line (hire, energy, monitoring, accommodation) times the days. [d, 0.1 to 1000]

    The days are a guess until readings show the rate, and the source of each line says so. InputError, OutOfRange.
    """
    long = Decimal(repr(figure(days, "days of drying", 0.1, 1000.0, "days")))
    return tuple(
        CostLine(
            line.name,
            str(_amount(line) * long),
            line.currency,
            f"{stated(line.source, f'the source of {line.name}', 'say whose figure it is')}, times {days:g} days (assumed)",
        )
        for line in daily
    )


def compare(element: str, options: Sequence[Option], decision: Decision | None = None) -> Compared:
    """The options for one element beside each other. Two or more, each with evidence, cost, contamination and all sources.

    Refused for an option without source, for fewer than two, for two currencies. InputError for words that are not known.
    """
    name = stated(element, "which element", "name the element: one at a time, never a whole house")
    if len({option.action for option in options}) < 2 or len({option.action for option in options}) < len(options):
        raise Refused(
            "One option is no comparison, and each stands once",
            got=", ".join(option.action for option in options) or "none",
            wanted=f"two or more of {', '.join(ACTIONS)}",
            next_step="add what else could be done with it, with its cost",
        )
    totals, words = [], []
    for option in options:
        _require_sourced(option)
        total, currency = _total(option)
        totals.append((option.action, total, currency))
        words.append(_words(option, total, currency))
    currencies = {currency for _, _, currency in totals}
    if len(currencies) > 1:
        raise Refused(
            "Costs in two currencies are not compared",
            got=", ".join(sorted(currencies)),
            wanted="one currency",
            next_step="convert them by a rate of your own and say so in the source",
        )
    return Compared(
        name, tuple(totals), tuple(words), _decided(options, decision),
        "keep this with the record" if decision else f"{PEOPLE_DECIDE}; record the decision",
    )  # fmt: skip


def decide(compared: Compared) -> None:
    """Always refused: which option is right depends on people, value, heritage and health that are not in the figures."""
    raise Refused(
        f"No option is chosen for {compared.element}",
        got=", ".join(action for action, _, _ in compared.totals),
        wanted="a decision by the people responsible",
        next_step=PEOPLE_DECIDE,
    )


def _require_sourced(option: Option) -> None:
    if option.action not in ACTIONS:
        raise InputError(
            "This option is not known", got=repr(option.action), wanted=", ".join(ACTIONS), next_step="name one of them"
        )
    missing = []
    if not option.evidence or not all(found.strip() and where.strip() for found, where in option.evidence):
        missing.append("evidence and where it is recorded")
    if not option.costs or not all(line.source.strip() and line.currency.strip() for line in option.costs):
        missing.append("cost with currency and source")
    if option.contamination not in CONTAMINATIONS:
        missing.append(f"contamination ({', '.join(CONTAMINATIONS)})")
    if not option.contamination_source.strip():
        missing.append("where the contamination is recorded")
    if missing:
        raise Refused(
            f"The option {option.action!r} cannot stand beside others",
            got=f"no {'; no '.join(missing)}",
            wanted="evidence, cost, contamination, each with its source",
            next_step="add it, or leave the option out and say why",
        )


def _amount(line: CostLine) -> Decimal:
    value = read_value(line.amount)
    if value.bound or value.number < 0:
        raise InputError(
            f"The cost of {line.name} cannot be used",
            got=line.amount,
            wanted="one number, 0 or more",
            next_step="type the figure as it stands in the source",
        )
    return value.number


def _total(option: Option) -> tuple[Decimal, str]:
    currencies = sorted({line.currency.strip() for line in option.costs})
    if len(currencies) > 1:
        raise Refused(
            f"The costs of {option.action!r} are in several currencies",
            got=", ".join(currencies),
            wanted="one currency",
            next_step="convert them by a rate of your own and say so in the source",
        )
    return sum((_amount(line) for line in option.costs), Decimal(0)), currencies[0]


def _words(option: Option, total: Decimal, currency: str) -> str:
    costs = "; ".join(f"{line.name} {line.amount} {line.currency} ({line.source})" for line in option.costs)
    evidence = "; ".join(f"{found} ({where})" for found, where in option.evidence)
    caution = ""
    if option.contamination in ("foul", "mould") and option.action in ("keep", "dry"):
        caution = f". Caution, {option.contamination}: {'; '.join(FOUL_WATER_ORDER)}"
    if option.contamination == "unknown":
        caution = ". Caution: contamination unknown; find out before air is moved or finishes are kept"
    if option.action == "strip":
        caution += ". Before anything is disturbed the gates of opening up are answered (asbestos, services, consent)"
    return (
        f"{option.action}: {total} {currency} in all ({costs}); evidence: {evidence}; contamination {option.contamination}"
        f" ({option.contamination_source}){caution}"
    )


def _decided(options: Sequence[Option], decision: Decision | None) -> str:
    if decision is None:
        return ""
    if decision.action not in {option.action for option in options}:
        raise InputError(
            "What was decided is not among the options",
            got=repr(decision.action),
            wanted=", ".join(option.action for option in options),
            next_step="add it as an option with evidence and cost",
        )
    by = stated(decision.by, "who decided", "record the name")
    at = stated(decision.at, "when it was decided", "record the date")
    reason = stated(decision.reason, "why it was decided", "record the reason")
    return f"{decision.action}, decided by {by} on {at}: {reason}"
