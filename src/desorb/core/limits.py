"""Limits that a result is held against: each with its quantity, unit, edition, country and source.

Contents: Limit - Chosen, what came of looking for a limit - acceptance, which looks for it.

A limit belongs to one quantity and is never converted into another. Where two published limits for the same place differ
by edition or by country, no limit is given until a person chooses one with a reason. Nothing here authorises any work.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from desorb.errors import InputError

UPPER = ("<=", "<")
LOWER = (">=", ">")
ACCEPTANCE = "acceptance"
USER = "user"
NOT_STATED = "not stated"  # words of an edition that nobody has found out yet
CHOOSE = "choose, with a reason"


@dataclass(frozen=True, slots=True)
class Limit:
    """One published or user-stated limit. It belongs to one quantity: no limit is converted into another."""

    key: str
    quantity: str  # such as "relative humidity in a hole"
    comparison: str  # <=, <, >= or >
    value: Decimal
    unit: str
    standard: str  # '' is refused for acceptance
    edition: str = ""
    clause: str = ""
    region: str = ""  # several with a stroke between them: UK/IE; '' for any
    material: str = ""  # of the base: cement, calcium sulphate, concrete; '' for any
    heated: str = ""  # yes, no, or '' for either
    covering: str = ""  # '' for any
    read: str = "read"  # read, from memory, or user (stated by the user from a sheet of the maker)
    confidence: str = ""  # H, M or L
    condition: str = ""
    note: str = ""
    use: str = ACCEPTANCE  # any other use is never held against a result
    superseded: bool = False  # replaced by a later edition: applies only when a person chooses it
    disputed: str = ""  # who does not accept this limit, in words; '' if nobody is known to
    maker_silent: bool = False  # holds only where the maker states no limit, as FLR-RH-18 says of itself

    def sentence(self) -> str:
        """The limit as one line: number, unit, standard, edition, country and how it was read."""
        place = f", {self.region}" if self.region else ""
        read = f", {self.read}" if self.read else ""
        old = ", superseded" if self.superseded else ""
        return f"{self.comparison} {self.value} {self.unit} ({self.key}: {self.standard}, {self.edition}{place}{read}{old})"


@dataclass(frozen=True, slots=True)
class Chosen:
    """What came of looking for a limit.

    limit: the one that applies, or None; others: those for the same place that were not taken; conflicts: sentences;
    next_step: what to do now; reason: why a person chose, as given, '' where nobody had to.
    """

    limit: Limit | None
    others: tuple[Limit, ...]
    conflicts: tuple[str, ...]
    next_step: str
    reason: str = ""


def acceptance(
    limits: Iterable[Limit],
    quantity: str,
    material: str = "",
    heated: str = "",
    covering: str = "",
    region: str = "",
    *,
    choice: str = "",
    reason: str = "",
) -> Chosen:
    """The acceptance limit for exactly this quantity, base, heating, covering and country.

    material, heated (yes, no or ''), covering: where one is left empty, only limits that hold for any take part; region
    left empty lets every country take part. The strictest limit is taken, limits stated by the user among them. A
    superseded or disputed limit, or published limits that differ by standard, edition or country, need `choice` (key of
    one of them) and `reason`; the choice replaces the published limits, never a limit stated by the user. A user's limit
    at least as strict as every published one needs no choice. A limit that holds only where the maker is silent gives way
    to a limit stated by the user, in words.
    Raises InputError: a limit without standard or edition, two units, bounds of both directions, an unknown choice, a
    choice without a reason, a heating that is not yes, no or ''. Rule of ours; the conflicts it states are those of the
    rows in tables/limits.toml.
    """
    if heated not in ("yes", "no", ""):
        raise InputError("Heated is yes, no or empty", got=heated, next_step="say whether the floor is heated")
    same = [each for each in limits if each.quantity == quantity and each.use == ACCEPTANCE]
    found = [each for each in same if _applies(each, material, heated, covering, region)]
    for each in found:
        _refuse_without_passport(each)
    _refuse_mixed(quantity, found)
    users = [each for each in found if each.read == USER]
    published = [each for each in found if each.read != USER]
    silent = [each for each in published if each.maker_silent and users]
    published = [each for each in published if each not in silent]
    conflicts = _conflicts(published)
    if choice:
        published = [_chosen(published, choice, reason)]
    elif conflicts:
        strictest_user = _strictest(users)
        if strictest_user is None or any(_stricter(each, strictest_user) for each in published):
            keys = ", ".join(each.key for each in published)
            return Chosen(None, tuple(found), conflicts, f"{CHOOSE}: {keys}")
        published = []
    else:
        published = [each for each in published if not each.superseded]
    limit = _strictest([*published, *users])
    if limit is None:
        return Chosen(None, (), (), _nothing(quantity, same))
    others = tuple(each for each in found if each is not limit)
    edition = "find out its edition first" if NOT_STATED in limit.edition else "write its edition beside the result"
    next_step = f"hold the {quantity} against {limit.sentence()}; {edition}"
    conflicts += tuple(
        f"{each.sentence()} holds only where the maker states none, and one is stated." for each in silent
    )
    return Chosen(limit, others, conflicts, next_step, reason.strip() if choice else "")


def _applies(limit: Limit, material: str, heated: str, covering: str, region: str) -> bool:
    scopes = ((limit.material, material), (limit.heated, heated), (limit.covering, covering))
    if any(scope not in ("", asked) for scope, asked in scopes):
        return False
    return not region or not limit.region or region in limit.region.split("/")


def _refuse_without_passport(limit: Limit) -> None:
    lacking = [name for name in ("standard", "edition") if not getattr(limit, name).strip()]
    if lacking:
        raise InputError(
            f"The limit {limit.key} has no {' and no '.join(lacking)}, so it cannot be used for acceptance",
            got=f"{limit.comparison} {limit.value} {limit.unit}",
            wanted="a limit with its standard (or sheet of the maker) and its edition (or date)",
            next_step=f"state the {' and the '.join(lacking)} of {limit.key}, or leave it out",
        )


def _refuse_mixed(quantity: str, found: list[Limit]) -> None:
    keys = ", ".join(each.key for each in found)
    if odd := [each.comparison for each in found if each.comparison not in UPPER + LOWER]:
        raise InputError(
            "A limit has a comparison that is not known",
            got=", ".join(odd),
            wanted="<=, <, >= or >",
            next_step="correct the limit from its source",
        )
    if len({each.unit for each in found}) > 1:
        raise InputError(
            f"Limits for the {quantity} stand in different units, and none is converted",
            got=", ".join(sorted({each.unit for each in found})),
            next_step=f"state all of {keys} in one unit, from their sources",
        )
    if len({each.comparison in UPPER for each in found}) > 1:
        raise InputError(
            f"Some limits for the {quantity} are upper and some are lower bounds, so none is the strictest",
            got=keys,
            next_step="give the two bounds two names",
        )


def _conflicts(published: list[Limit]) -> tuple[str, ...]:
    sentences = []
    for index, one in enumerate(published):
        for other in published[index + 1 :]:
            same_number = (one.comparison, one.value) == (other.comparison, other.value)
            if same_number or (one.standard, one.edition, one.region) == (other.standard, other.edition, other.region):
                continue
            because = "country" if one.region != other.region else "edition or standard"
            sentences.append(f"Limits differ by {because}: {one.sentence()} against {other.sentence()}.")
    sentences += [f"{one.sentence()} is disputed: {one.disputed}." for one in published if one.disputed]
    if published and all(one.superseded for one in published):
        sentences += [f"Only a superseded limit was found: {one.sentence()}." for one in published]
    return tuple(sentences)


def _chosen(published: list[Limit], choice: str, reason: str) -> Limit:
    keys = ", ".join(each.key for each in published) or "none"
    if not reason.strip():
        raise InputError(
            "A limit was chosen without a reason",
            got=choice,
            wanted="one sentence",
            next_step="write down why this limit",
        )
    for each in published:
        if each.key == choice:
            return each
    raise InputError("No such limit applies here", got=choice, wanted=keys, next_step="choose one that applies")


def _stricter(one: Limit, other: Limit) -> bool:
    if one.value == other.value:
        return one.comparison in ("<", ">") and other.comparison in ("<=", ">=")
    return (one.value < other.value) == (one.comparison in UPPER)


def _strictest(limits: list[Limit]) -> Limit | None:
    found: Limit | None = None
    for each in limits:
        if found is None or _stricter(each, found):
            found = each
    return found


def _nothing(quantity: str, same: list[Limit]) -> str:
    if not same:
        return (
            f"no limit for the {quantity} is known, and none is converted: write down the limit of the maker with its"
            " sheet ([[limit_stated]])"
        )
    scopes = "; ".join(
        f"{each.key} (" + ", ".join(part for part in _scope(each) if part) + ")" for each in same
    )  # fmt: skip
    return (
        "no limit applies as asked: state base, heating, covering and country, or write down the limit of the maker"
        f" ([[limit_stated]]). Known: {scopes}"
    )


def _scope(limit: Limit) -> tuple[str, ...]:
    heating = {"yes": "heated", "no": "unheated"}.get(limit.heated, "")
    return (limit.material, heating, limit.covering, limit.region)
