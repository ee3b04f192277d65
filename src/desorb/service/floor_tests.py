"""Take a limit for a floor test: it is looked for in the table and among the limits of the case, and copied into the case.

Contents: take_limit; limits_for (what could be taken). A copied limit keeps its edition, whatever a later table says.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from desorb.core.case import Case, latest_by_id
from desorb.core.floors.outcome import HUMIDITY_UNIT, check_limit
from desorb.core.floors.plan import QUANTITIES
from desorb.core.floors_of_case.gathered import UNITS
from desorb.core.kinds import FloorTest, LimitStated, LimitTaken
from desorb.core.limits import USER, Chosen, Limit, acceptance
from desorb.core.written import needed
from desorb.errors import InputError, NotFound, Refused
from desorb.notebook.store import Store
from desorb.service.cases import Clock, OpenCase, load, moment_text, now, write
from desorb.tables import limits as table


def take_limit(
    store: Store, case: OpenCase, test_id: str, choice: str = "", reason: str = "", by: str = "", clock: Clock = now
) -> LimitTaken:
    """Take the limit for one floor test and write it into the case. choice: a key, with a reason, where limits conflict.

    Raises NotFound for a test that is not described, Refused where limits conflict or none applies, InputError for a
    limit without its sheet or date, of another unit, or that is no upper limit. The same limit is not written twice.
    """
    folded = load(store, case)
    test, quantity, found = limits_for(folded, test_id, choice, reason)
    if found.limit is None:
        conflicting = bool(found.conflicts)
        raise Refused(
            "limits conflict, and a person has to choose" if conflicting else "no limit was found for this floor test",
            got=" ".join(found.conflicts) or f"{quantity}; base {test.material!r}, heated {test.heated!r}, "
            f"covering {test.covering!r}, country {test.region!r}",
            wanted=", ".join(each.key for each in found.others) if conflicting else "",
            next_step=f"{found.next_step}: 'desorb floor-limit {case.name} {test_id} --choice KEY --reason \"...\"'"
            if conflicting else found.next_step,
        )  # fmt: skip
    check_limit(found.limit, quantity, UNITS.get(test.method, HUMIDITY_UNIT))
    moment = moment_text(clock().isoformat(), case.time_zone)
    taken = _taken(found.limit, found.others, test_id, moment, found.conflicts, found.reason, by)
    before = [each.record for each in folded.limits_taken if each.record.test == test_id]
    if before and replace(before[-1], at="") == replace(taken, at=""):
        return before[-1]
    write(store, case, [taken], clock)
    return taken


def limits_for(case: Case, test_id: str, choice: str = "", reason: str = "") -> tuple[FloorTest, str, Chosen]:
    """A floor test, the quantity it gives, and what came of looking for its limit. Nothing is written.

    Raises NotFound for a test that is not described, InputError for a method that is not known or a choice that is none.
    """
    tests = latest_by_id(case.floor_tests)
    if test_id not in tests:
        raise NotFound(
            "there is no such floor test in this case", got=repr(test_id), wanted=", ".join(tests) or "none is described yet",
            next_step="describe the floor test first",
        )  # fmt: skip
    test = tests[test_id].record
    quantity = QUANTITIES.get(test.method)
    if quantity is None:
        raise InputError(
            "the method of this floor test is not known", got=repr(test.method), wanted=", ".join(QUANTITIES),
            next_step="describe the test again with its method",
        )  # fmt: skip
    published = table.limits()
    found = acceptance(
        [*published, *_stated(case, quantity, {each.key for each in published})], quantity, test.material, test.heated,
        test.covering, test.region, choice=choice, reason=reason,
    )  # fmt: skip
    return test, quantity, found


def _stated(case: Case, quantity: str, keys: set[str]) -> list[Limit]:
    """Limits of this quantity that the user read on a sheet of the maker. Raises InputError for one that takes a known key."""
    stated = [each.record for each in latest_by_id(case.limits_stated).values() if each.record.quantity == quantity]
    for record in stated:
        if record.id in keys:
            raise InputError(
                "a limit you stated has the key of a limit of the table", got=record.id, wanted="an id of its own",
                next_step="strike it, and state it again under another id",
            )  # fmt: skip
    return [_of_user(record) for record in stated]


def _of_user(record: LimitStated) -> Limit:
    return Limit(
        key=record.id, quantity=record.quantity, comparison=record.comparison,
        value=needed(record.value, "value of the limit"), unit=record.unit, standard=record.standard, edition=record.edition,
        clause=record.clause, region=record.region, material=record.material, heated=record.heated, covering=record.covering,
        read=USER,
    )  # fmt: skip


def _taken(
    limit: Limit, others: Iterable[Limit], test: str, at: str, conflicts: tuple[str, ...], reason: str, by: str
) -> LimitTaken:
    return LimitTaken(
        test=test, key=limit.key, quantity=limit.quantity, comparison=limit.comparison, value=str(limit.value),
        unit=limit.unit, standard=limit.standard, edition=limit.edition, at=at, clause=limit.clause, region=limit.region,
        material=limit.material, heated=limit.heated, covering=limit.covering, read=limit.read, confidence=limit.confidence,
        condition=limit.condition, note=limit.note, superseded="yes" if limit.superseded else "", disputed=limit.disputed,
        others=tuple(each.sentence() for each in others), conflicts=conflicts, reason=reason, by=by.strip(),
    )  # fmt: skip
