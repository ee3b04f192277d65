"""Verify a whole store in words: its file first, then each case by itself.

Contents: heads_of (heads as people paste them); verify_one (a case, also of a store that cannot be read);
CaseToVerify, StoreChecked, check_store.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from desorb.errors import DesorbError, InputError, NotFound
from desorb.notebook.store import Store
from desorb.notebook.verify import Verification, verify_home, verify_store
from desorb.service.cases import case_names, find_case

_PRINTED = re.compile(r"\s*\S+\s+\d+\s+([0-9a-fA-F][0-9a-fA-F ]+)")


def heads_of(lines: Iterable[str]) -> tuple[str, ...]:
    """Heads as they stand on paper, alone or as 'device number hash'. What is no head is refused, not a fault."""
    found = []
    for line in lines:
        if not line.strip():
            continue
        printed = _PRINTED.fullmatch(line)
        head = "".join((printed.group(1) if printed else line).split()).lower()
        if len(head) < 12 or re.search(r"[^0-9a-f]", head):
            raise InputError(
                "this is not a head", got=repr(line[:80]), wanted="at least 12 of the 64 letters and digits printed as the head",
                next_step="copy it from the page that lists the heads of the record",
            )  # fmt: skip
        found.append(head)
    return tuple(found)


def verify_one(store: Store, case: str, heads: tuple[str, ...]) -> Verification:
    """Verify one case. Where the store cannot even be read, that is what is said of the case."""
    try:
        return verify_store(store, find_case(store, case).id, heads)
    except NotFound:
        raise
    except DesorbError:
        return verify_home(store.home, case, heads)


@dataclass(frozen=True, slots=True)
class CaseToVerify:
    id: str
    name: str


@dataclass(frozen=True, slots=True)
class StoreChecked:
    """The file of the store. `cases` are still to be verified, one by one."""

    ok: bool
    faults: tuple[str, ...]
    cases: tuple[CaseToVerify, ...]
    said: str


def check_store(store: Store) -> StoreChecked:
    """What SQLite finds wrong with the file, as sentences; a file that cannot be read is one."""
    faults: list[str] = []
    cases: list[CaseToVerify] = []
    try:
        faults += store.check_file()
    except DesorbError as problem:
        faults.append(str(problem))
    try:
        cases = [CaseToVerify(case, name) for name, case in case_names(store).items()]
    except DesorbError as problem:
        faults.append(f"the cases cannot be listed: {problem}")
    said = "The file of the store holds together." if not faults else "The file of the store is damaged."
    return StoreChecked(not faults, tuple(dict.fromkeys(faults)), tuple(cases), said)
