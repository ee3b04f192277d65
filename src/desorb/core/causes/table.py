"""The cause table: what speaks for and against each cause, what is missing, and the next test that could disprove it.

Contents: Observation, DoneTest, Row; cause_table (ranked rows); single_cause_sentence; causes_together_sentence.
Ranking counts named evidence, each name once: fewest seen against, fewest told against, most seen for, most told for.
What was assumed is shown and not counted. No percentage and no score: counts order the rows, words explain them.
A cause is disproved only by a test that was done and valid, never by its place in the table, and not while the same
test, done again, did not disprove it (rules of ours).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from desorb.core.causes.patterns import CHEAP, OBSERVATIONS, PATTERNS, TESTS, DisprovingTest, disproving_tests, gates_of
from desorb.errors import InputError, Refused

SEEN, TOLD, ASSUMED = HOW_KNOWN = ("seen", "told", "assumed")


@dataclass(frozen=True, slots=True)
class Observation:
    """One named observation. known: seen, told or assumed; words: what exactly; entry: where it stands in the record."""

    name: str
    known: str
    words: str
    entry: str


@dataclass(frozen=True, slots=True)
class DoneTest:
    """One test that was done. disproves: the causes it speaks out, may be none; not valid: counts as not done.

    about: the causes it looked at; none named: every cause that a test of its name bears on.
    """

    test: str
    disproves: tuple[str, ...]
    words: str
    entry: str
    valid: bool = True
    about: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """One cause. rank: 1 is first, equal evidence shares a rank. disproved_by: entries of the tests that did it."""

    rank: int
    cause: str
    words: str
    evidence_for: tuple[Observation, ...]
    evidence_against: tuple[Observation, ...]
    assumed: tuple[Observation, ...]
    missing: tuple[str, ...]
    disproved_by: tuple[DoneTest, ...]
    survived: tuple[DoneTest, ...]
    next_test: DisprovingTest | None
    gates: tuple[str, ...]  # that the next test meets


def cause_table(observations: Iterable[Observation], done: Iterable[DoneTest] = ()) -> tuple[Row, ...]:
    """All causes, ranked; disproved ones last. InputError for unknown names or a test made to disprove too much."""
    strongest = _strongest(observations)
    tests = _checked(done)
    drafts = [(_order(row), row) for row in (_row(cause, strongest, tests) for cause in PATTERNS)]
    drafts.sort(key=lambda each: each[0])
    orders = [order for order, _ in drafts]
    return tuple(replace(row, rank=1 + orders.index(order)) for order, row in drafts)


def single_cause_sentence(rows: Sequence[Row], cause: str) -> str:
    """The sentence that names one cause alone. Raises Refused with the reason and the next test while a rival stands.

    Refused when: the cause is disproved, has nothing seen for it or stood no test; what it needs was not seen in two
    entries or more (rising damp: never from one reading); a rival that is not disproved has a cheap test not yet done,
    ranks as high, or has something seen for it and nothing seen against it.
    """
    row = _find(rows, cause)
    left_out = set(PATTERNS) - {each.cause for each in rows}
    if left_out:
        raise InputError(
            "One cause is named against the whole table only",
            got=f"a table without {', '.join(sorted(left_out))}",
            next_step="give every row of cause_table",
        )
    _has_standing(row)
    rivals = [rival for rival in rows if rival.cause != cause and not rival.disproved_by]
    for rival in rivals:  # the cheap tests of all rivals before any other reason: they are what to do first
        if rival.next_test is not None and rival.next_test.cost_rank <= CHEAP:
            reason = f"{rival.cause} is not disproved (rank {rival.rank}) and a cheap test of it is not done"
            raise _refusal(cause, reason, rival.next_test)
    for rival in rivals:
        if rival.rank <= row.rank:
            reason = f"{rival.cause} ranks {rival.rank}, {cause} ranks {row.rank}, and it is not disproved"
            raise _refusal(cause, reason, rival.next_test)
        if _count(rival.evidence_for, SEEN) and not _count(rival.evidence_against, SEEN):
            reason = f"{rival.cause} also has evidence seen for it and none seen against it"
            raise _refusal(cause, reason, rival.next_test)
    if not row.survived:
        raise _refusal(cause, "no test that could disprove it was done", row.next_test)
    tests = "; ".join(test.words for test in row.survived)
    standing = ", ".join(rival.cause for rival in rivals) or "none"
    return (
        f"What was seen is consistent with {cause}: {_named(row.evidence_for)}. Against it: "
        f"{_named(row.evidence_against) or 'nothing recorded'}. It was not disproved by: {tests}."
        f" Other causes not disproved: {standing}."
        f" Not recorded: {', '.join(row.missing) or 'nothing of its pattern'}. A competent person decides."
    )


def causes_together_sentence(rows: Sequence[Row], causes: Sequence[str]) -> str:
    """The sentence that lets two causes or more stand together, with the next test of each. Refused as for one alone,
    save for rivals: each must have something seen for it, must not be disproved, and what it needs must be seen."""
    if len(set(causes)) < 2:
        raise InputError(
            "Causes together are two or more",
            got=", ".join(causes) or "none",
            next_step="ask for the single-cause sentence",
        )
    parts = []
    for cause in dict.fromkeys(causes):
        row = _find(rows, cause)
        _has_standing(row)
        against = f"; against: {_named(row.evidence_against)}" if row.evidence_against else ""
        following = f"; next test: {row.next_test.words}" if row.next_test else "; no test is left in the table"
        parts.append(f"{cause}: {_named(row.evidence_for)}{against}{following}")
    return f"More than one cause may act at once; none of these is named alone. {'. '.join(parts)}."


def _has_standing(row: Row) -> None:
    if row.disproved_by:
        raise _refusal(row.cause, f"disproved: {'; '.join(test.words for test in row.disproved_by)}", None)
    if not _count(row.evidence_for, SEEN):
        raise _refusal(row.cause, "nothing was seen that speaks for it", row.next_test)
    needs = PATTERNS[row.cause].needs
    seen = {each.name: each.entry for each in row.evidence_for if each.known == SEEN}
    absent = [name for name in needs if name not in seen]
    if absent:
        raise _refusal(row.cause, f"it may not be named before this was seen: {', '.join(absent)}", row.next_test)
    if len({seen[name] for name in needs}) < len(needs):
        raise _refusal(row.cause, "what it needs rests on one entry, and one reading does not carry it", row.next_test)


def _strongest(observations: Iterable[Observation]) -> dict[str, Observation]:
    """Each name once, as it is best known: a thing told twice is no more than a thing told."""
    best: dict[str, Observation] = {}
    for each in observations:
        if each.name not in OBSERVATIONS or each.known not in HOW_KNOWN:
            raise InputError(
                "This observation cannot be set in the table",
                got=f"{each.name!r}, {each.known!r}",
                wanted=f"one of {', '.join(OBSERVATIONS)}; and seen, told or assumed",
                next_step="choose the nearest name and keep your own words beside it",
            )
        if not each.words.strip() or not each.entry.strip():
            raise InputError(
                "This observation has no words or no entry",
                got=repr(each.name),
                next_step="say what it was and where it stands in the record",
            )
        known = best.get(each.name)
        if known is None or HOW_KNOWN.index(each.known) < HOW_KNOWN.index(known.known):
            best[each.name] = each
    return best


def _checked(done: Iterable[DoneTest]) -> tuple[DoneTest, ...]:
    tests = tuple(done)
    for each in tests:
        can = [cause for cause, pattern in PATTERNS.items() if each.test in pattern.tests]
        beyond = [cause for cause in each.disproves if cause not in can]
        if each.test not in TESTS or beyond or not each.words.strip() or not each.entry.strip():
            raise InputError(
                "This test cannot be set in the table",
                got=f"{each.test!r} disproving {', '.join(each.disproves) or 'nothing'}, entry {each.entry!r}",
                wanted=f"a test of the table, with words and entry; this one can disprove {', '.join(can) or 'nothing'}",
                next_step="record what was seen, and conclude no more than the test can disprove",
            )
    return tuple(each for each in tests if each.valid)


def _row(cause: str, known: dict[str, Observation], done: tuple[DoneTest, ...]) -> Row:
    pattern = PATTERNS[cause]
    found_for = [known[name] for name in pattern.speaks_for if name in known]
    found_against = [known[name] for name in pattern.speaks_against if name in known]
    bearing = tuple(test for test in done if test.test in pattern.tests and (not test.about or cause in test.about))
    names = {test.test for test in bearing}
    undone = [test for test in disproving_tests(cause) if test.name not in names]
    contradicted = {test.test for test in bearing if cause not in test.disproves}  # one outlet sound, the next not
    disproved = tuple(test for test in bearing if cause in test.disproves and test.test not in contradicted)
    following = undone[0] if undone and not disproved else None
    return Row(
        0, cause, pattern.words, _counted(found_for), _counted(found_against),
        tuple(each for each in (*found_for, *found_against) if each.known == ASSUMED),
        tuple(name for name in (*pattern.speaks_for, *pattern.speaks_against)
              if name not in known or known[name].known == ASSUMED),
        disproved, tuple(test for test in bearing if cause not in test.disproves), following,
        gates_of(following) if following else (),
    )  # fmt: skip


def _counted(found: list[Observation]) -> tuple[Observation, ...]:
    counted = [each for each in found if each.known != ASSUMED]
    return tuple(sorted(counted, key=lambda each: HOW_KNOWN.index(each.known)))


def _order(row: Row) -> tuple[bool, int, int, int, int]:
    return (
        bool(row.disproved_by),
        _count(row.evidence_against, SEEN),
        _count(row.evidence_against, TOLD),
        -_count(row.evidence_for, SEEN),
        -_count(row.evidence_for, TOLD),
    )


def _count(evidence: Iterable[Observation], known: str) -> int:
    return sum(each.known == known for each in evidence)


def _named(evidence: Iterable[Observation]) -> str:
    return "; ".join(f"{each.name} ({each.known}, {each.entry}: {each.words})" for each in evidence)


def _find(rows: Sequence[Row], cause: str) -> Row:
    for row in rows:
        if row.cause == cause:
            return row
    raise InputError(
        "This cause is not in the table",
        got=repr(cause),
        wanted=", ".join(row.cause for row in rows),
        next_step="choose a cause of the table",
    )


def _refusal(cause: str, reason: str, test: DisprovingTest | None) -> Refused:
    gates = f" (gates first: {', '.join(gates_of(test))})" if test and gates_of(test) else ""
    return Refused(
        f"{cause} is not named as the cause",
        got=reason,
        wanted="evidence seen for it, and rivals disproved or tested",
        next_step=f"{test.name}: {test.words}{gates}" if test else "show the table, or name the causes together",
    )
