"""Floor tests in the form that page, report, command and API show alike. No mean is taken anywhere.

Contents: floor_tests.
"""

from __future__ import annotations

from desorb.core.case import Case
from desorb.core.floors_of_case.gathered import CANNOT_BE_USED, FloorTestOfCase, floor_tests_of_case
from desorb.core.floors_of_case.places import Attempt, PlaceOfCase
from desorb.core.shown import Shown, Table

KIND = "floor test"
PLACES = ("place", "prepared", "may be read from", "read", "value", "either way", "result", "why")
READINGS = ("place", "read", "value", "result", "counts", "entries")


def floor_tests(case: Case) -> tuple[Shown, ...]:
    """Every floor test of the case, and what names a test that is not described."""
    return (*(_shown(found) for found in floor_tests_of_case(case)), *_not_described(case))


def _shown(found: FloorTestOfCase) -> Shown:
    test = found.test.record
    plan = found.plan
    tables = []
    if found.places:
        tables.append(Table(PLACES, tuple(_row(place) for place in _worst_first(found))))
        attempts = [each for place in found.places for each in place.attempts]
        if len(attempts) > len([place for place in found.places if place.attempts]):
            tables.append(Table(READINGS, tuple(_reading(each) for each in attempts)))
    rests_on = [found.test.entry, *((found.taken.entry,) if found.taken else ())]
    for place in found.places:
        rests_on += [place.prepared.entry] if place.prepared else []
        rests_on += [entry for each in place.attempts for entry in each.entries]
    return Shown(
        kind=KIND,
        id=test.id,
        title=f"Floor test {test.id}: {test.method}, {test.area} m2",
        zone=test.zone,
        status=found.status,
        words=found.words,
        cautions=plan.cautions if plan else (),
        plan=plan.sentences if plan else (),
        tables=tuple(tables),
        notes=(*_of_limit(found), *_warnings(found), *found.notes),
        next_steps=found.next_steps,
        rests_on=tuple(dict.fromkeys(rests_on)),
    )


def _worst_first(found: FloorTestOfCase) -> tuple[PlaceOfCase, ...]:
    order = [result.place for result in found.result.places] if found.result else []
    return tuple(sorted(found.places, key=lambda each: order.index(each.place) if each.place in order else len(order)))


def _row(place: PlaceOfCase) -> tuple[str, ...]:
    counted = place.counted or (place.attempts[-1] if place.attempts else None)
    result = place.result
    status = result.status if result else _state(counted) if counted else "not read yet"
    either_way = (
        f"{result.uncertainty.normalize():f} {result.limit.unit}" if result and result.uncertainty is not None else ""
    )
    why = "; ".join(result.reasons) if result else counted.problem if counted else place.waiting
    prepared = place.prepared.record.at if place.prepared else "not written down"
    return (
        place.place, prepared, place.may_read_from, counted.at if counted else "", counted.value if counted else "",
        either_way, status, why,
    )  # fmt: skip


def _state(attempt: Attempt) -> str:
    if attempt.result is not None:
        return attempt.result.status
    return CANNOT_BE_USED if attempt.problem else "read; held against nothing"


def _reading(attempt: Attempt) -> tuple[str, ...]:
    counts = "yes" if attempt.counts else "no"
    return (attempt.place, attempt.at, attempt.value, _state(attempt), counts, ", ".join(attempt.entries))


def _of_limit(found: FloorTestOfCase) -> tuple[str, ...]:
    if found.taken is None:
        return ()
    taken = found.taken.record
    notes = []
    if found.limit is not None:
        notes.append(
            f"Held against {found.limit.quantity} {found.limit.sentence()}, as copied into the case on {taken.at}."
        )
    for words in (taken.condition, taken.note):
        notes += [f"Of this limit: {words}."] if words else []
    if taken.disputed:
        notes.append(f"This limit is disputed: {taken.disputed}.")
    notes += [f"Not taken: {words}." for words in taken.others]
    notes += [f"Conflict: {words}" for words in taken.conflicts]
    if taken.reason:
        notes.append(f"Chosen{f' by {taken.by}' if taken.by else ''}: {taken.reason}")
    return tuple(notes)


def _warnings(found: FloorTestOfCase) -> tuple[str, ...]:
    results = found.result.places if found.result else ()
    return tuple(f"{result.place}: {words.removesuffix('.')}." for result in results for words in result.warnings)


def _not_described(case: Case) -> tuple[Shown, ...]:
    known = {each.record.id for each in case.floor_tests}
    naming = [(each.record.test, each.entry) for each in case.floor_places]
    naming += [(each.record.test, each.entry) for each in case.floor_readings]
    naming += [(each.record.test, each.entry) for each in case.limits_taken]
    named: dict[str, list[str]] = {}
    for test, entry in naming:
        if test not in known:
            named.setdefault(test, []).append(entry)
    return tuple(
        Shown(
            kind=KIND,
            id=test,
            title=f"Floor test {test}: not described",
            zone="",
            status=CANNOT_BE_USED,
            words=f"{len(entries)} entries name the floor test {test!r}, and no entry describes it.",
            next_steps=("describe the test with its method, area, thickness and drying faces",),
            rests_on=tuple(entries),
        )
        for test, entries in named.items()
    )
