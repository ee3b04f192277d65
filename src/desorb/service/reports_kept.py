"""Reports for the page: issue one without a folder, fetch a kept one by its hash, make the twins of an issued one again.

Contents: Issued; issue; kept_pdf; preview; twins_now; twin_again.
"""

from __future__ import annotations

import hashlib
import tempfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from desorb.core.assess import assess
from desorb.errors import NotFound
from desorb.notebook.fold import fold
from desorb.notebook.store import Store
from desorb.report.document import build_document
from desorb.report.twins import csv_twins, json_twin
from desorb.service.cases import Clock, OpenCase, load, zone_of
from desorb.service.drying import drying_without_round
from desorb.service.methods import methods_of
from desorb.service.photos import photos_awaited
from desorb.service.reporting import day_of_report, issue_report, rendered
from desorb.service.standing import document_now, stands


@dataclass(frozen=True, slots=True)
class Issued:
    number: int
    issued_at: str
    pdf_sha256: str
    entry: str
    was_new: bool


def issue(store: Store, case: OpenCase, *, by: str, paper: str, issued_at: str, clock: Clock) -> Issued:
    """Issue a report and keep its PDF in the store. The files are fetched from there."""
    with tempfile.TemporaryDirectory(prefix="desorb-report-") as folder:
        made = issue_report(store, case, Path(folder), issued_at=issued_at, by=by, paper=paper, clock=clock)
    return Issued(made.number, made.issued_at, made.pdf_sha256, made.entry, made.was_new)


def kept_pdf(store: Store, case: OpenCase, sha256: str) -> tuple[int, bytes]:
    """(number, bytes) of a report that this case names. Raises NotFound with the reason."""
    reports = [entered.record for entered in load(store, case).reports if entered.record.pdf_sha256 == sha256]
    if not reports:
        raise NotFound("no report of this case has this hash", got=sha256, next_step="see the list of reports")
    content = store.attachment(sha256)
    if content is None:
        raise NotFound(
            f"the PDF of report {reports[0].number} is not kept here: it went with a removal, or has not arrived with its bag",
            next_step="issue a new report; the entry of the old one stays",
        )
    if hashlib.sha256(content).hexdigest() != sha256:
        raise NotFound(
            f"the PDF of report {reports[0].number} does not match its hash: the file was damaged",
            next_step="verify the record, and take the PDF from a backup or an earlier bag",
        )
    return reports[0].number, content


def preview(store: Store, case: OpenCase, *, paper: str, now: datetime, rule: str = "") -> bytes:
    """The PDF of the case as it stands, numbered 0: nothing is issued and nothing is kept."""
    moment = now.astimezone(zone_of(case.time_zone)).isoformat(timespec="seconds")
    return rendered(store, case, number=0, issued_at=moment, rule=rule, paper=paper).pdf


def twins_now(store: Store, case: OpenCase, now: datetime) -> dict[str, bytes]:
    """The JSON and CSV twins of the case as it stands, by file name."""
    document = document_now(store, stands(store, case), now)
    return {"case.json": json_twin(document)} | csv_twins(document)


def twin_again(store: Store, case: OpenCase, number: int) -> tuple[bytes, bool]:
    """The JSON twin of an issued report, made again from the entries up to its heads; True if it is equal to the first."""
    folded = load(store, case)
    report = next((entered.record for entered in folded.reports if entered.record.number == number), None)
    if report is None:
        raise NotFound("there is no report of this number", got=str(number), next_step="see the list of reports")
    heads = {device: int(n) for device, n, _ in (line.split(" ") for line in report.heads)}
    earlier = {entered.hash for entered in folded.reports if entered.record.number < number}
    entries = [
        entry
        for entry in store.entries(case.id)
        if (entry.hash in earlier if entry.kind == "report-issued" else entry.n <= heads.get(entry.device, -1))
    ]
    then = fold(entries, {})
    document = build_document(
        then, assess(then, history=True), number=number, issued_at=report.at, software=report.software,
        photos_awaited=photos_awaited(store, then), methods=methods_of(then),
        drying=drying_without_round(then, day_of_report(report.at)),
    )  # fmt: skip
    content = json_twin(document)
    return content, hashlib.sha256(content).hexdigest() == report.twin_sha256
