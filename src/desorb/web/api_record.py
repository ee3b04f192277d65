"""The record behind a case: strike, lawful removal, verification, and the case as it was known on a day.

Contents: the router. Nothing here changes an entry: a strike and a removal are entries of their own.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request

from desorb.errors import Refused
from desorb.notebook.verify import Verification
from desorb.service.assessing import assessment_object
from desorb.service.cases import remove, reports_holding, strike
from desorb.service.known_on import ReceiptDay, known_on, receipt_days
from desorb.service.verifying import StoreChecked, check_store, heads_of, verify_one
from desorb.web.desk import desk_of
from desorb.web.parameters import CaseId, Form, Line, Name, Said, Words

router = APIRouter(prefix="/api", tags=["record"])


class StrikeForm(Form):
    """An entry that is to count nowhere: who strikes it, and why. It stays visible."""

    entry: Name
    why: Words
    by: Line


class RemovalForm(Form):
    """A lawful removal, for good. `confirm` repeats the name of the entry: that is the second step."""

    entry: Name
    why: Words
    authority: Line
    by: Line
    confirm: Line = ""


class Written(Said):
    """The entry that was written."""

    entry: str


@router.post("/cases/{case}/strikes", status_code=201)
def strike_entry(request: Request, case: CaseId, form: StrikeForm) -> Written:
    """Strike an entry. It counts nowhere from now on and stays visible everywhere, with who, when and why."""
    desk = desk_of(request)
    written = strike(desk.store, desk.case(case), form.entry, why=form.why, by=form.by, clock=desk.clock)
    return Written(entry=written.name, said=f"Entry {form.entry} is struck by entry {written.name}. It stays visible.")


@router.post("/cases/{case}/removals", status_code=201)
def remove_entry(request: Request, case: CaseId, form: RemovalForm) -> Written:
    """Remove the content of an entry for good, where the law asks for it. The chain stays whole and says so."""
    desk = desk_of(request)
    found = desk.case(case)
    if form.confirm and form.confirm.strip() != form.entry:
        raise Refused(
            "the name of the entry was not repeated", got=form.confirm, wanted=form.entry,
            next_step="type the name of the entry that is to be removed for good",
        )  # fmt: skip
    reports = reports_holding(desk.store, found, form.entry)
    removal = remove(
        desk.store, found, form.entry, why=form.why, authority=form.authority, by=form.by, confirmed=bool(form.confirm),
        clock=desk.clock,
    )  # fmt: skip
    dropped = f" The kept PDFs of report {', '.join(map(str, reports))} were dropped." if reports else ""
    said = f"The content of entry {form.entry} was removed by entry {removal.name}; what rested on it cannot be said.{dropped}"
    return Written(entry=removal.name, said=said)


@router.get("/cases/{case}/verification")
def verify_case(
    request: Request,
    case: CaseId,
    head: Annotated[
        list[Annotated[str, Query(max_length=300)]],
        Query(max_length=50, description="A head printed on a report: alone, or as 'device number hash'."),
    ] = [],  # noqa: B006
) -> Verification:
    """Verify the record of a case: chains, payloads, receipts, originals, and the heads that were printed elsewhere."""
    desk = desk_of(request)
    return verify_one(desk.store, case, heads_of(head))


@router.get("/verification")
def verify_file(request: Request) -> StoreChecked:
    """The file of the store itself, and the cases in it, each of which is verified by itself."""
    desk = desk_of(request)
    return check_store(desk.store)


@router.get("/cases/{case}/known-on")
def days(request: Request, case: CaseId) -> list[ReceiptDay]:
    """The days on which something of the case first arrived."""
    desk = desk_of(request)
    return receipt_days(desk.store, desk.case(case))


@router.get("/cases/{case}/known-on/{day}")
def on_a_day(request: Request, case: CaseId, day: str) -> dict[str, Any]:
    """The assessment of a past day with the rule of that day, and where it differs from today's."""
    desk = desk_of(request)
    then = known_on(desk.store, desk.case(case), day)
    return {
        "day": then.day, "entries": then.entries, "rule": then.rule,
        "assessments": [assessment_object(each) for each in then.assessments], "differences": then.differences,
    }  # fmt: skip
