"""Issue a report: one frozen dataset, two voices, and an entry that says what it rested on.

Contents: Report; issue_report; report_states (which issued reports are superseded).
A report is superseded when an evidence-bearing entry exists beyond its printed heads. The same dataset, date and
software give the same bytes, so issuing the same report again adds nothing.
"""

from __future__ import annotations

import hashlib
import threading
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from desorb import __version__
from desorb.core.assess import assess
from desorb.core.case import Case
from desorb.core.kinds import ReportIssued
from desorb.errors import Refused, ReportFailed
from desorb.notebook.entry import Entry
from desorb.notebook.fold import NOT_EVIDENCE
from desorb.notebook.store import Draft, Store
from desorb.report.document import build_document
from desorb.report.render import Rendered, render
from desorb.service.assessing import under_rule
from desorb.service.cases import Clock, OpenCase, load, moment_text, now, zone_of
from desorb.service.drying import drying_without_round
from desorb.service.methods import methods_of
from desorb.service.photos import photos_awaited

SOFTWARE = f"desorb {__version__}"


@dataclass(frozen=True, slots=True)
class Report:
    number: int
    issued_at: str
    pdf: Path
    twin: Path
    tables: tuple[Path, ...]
    pdf_sha256: str
    entry: str
    was_new: bool


def rendered(
    store: Store, case: OpenCase, *, number: int, issued_at: str, rule: str = "", paper: str = "a4"
) -> Rendered:
    """Render the case as it stands, without issuing anything."""
    folded = load(store, case)
    if number:
        folded = _before(folded, number)
    if rule:
        folded = under_rule(folded, rule)
    photos = {}
    for entered in folded.photos:
        content = store.attachment(entered.record.sha256)
        if content is not None and hashlib.sha256(content).hexdigest() == entered.record.sha256:
            photos[entered.record.sha256] = content
    return render(
        folded,
        assess(folded, history=True),
        number=number,
        issued_at=issued_at,
        software=SOFTWARE,
        photos=photos,
        paper=paper,
        methods=methods_of(folded),
        drying=drying_without_round(folded, day_of_report(issued_at)),
    )


def day_of_report(issued_at: str) -> date:
    """The day a report speaks of: made again later, it says the same."""
    return datetime.fromisoformat(issued_at).date()


def _before(folded: Case, number: int) -> Case:
    """The case as it stood before this report was issued: a report does not list itself, nor what came after it."""
    earlier = tuple(each for each in folded.reports if each.record.number < number)
    return replace(folded, reports=earlier, entry_count=folded.entry_count - len(folded.reports) + len(earlier))


MOST_TRIES = 5  # against a program that runs beside this one, such as the command line
_ISSUING = threading.Lock()  # two reports issued at once would take one number


def issue_report(
    store: Store,
    case: OpenCase,
    folder: Path,
    *,
    issued_at: str = "",
    by: str = "",
    paper: str = "a4",
    clock: Clock = now,
) -> Report:
    """Render, keep the PDF by its hash, write the entry, and put PDF, JSON and CSV twins into the folder."""
    with _ISSUING:
        for _ in range(MOST_TRIES):
            issued = _issue(store, case, folder, issued_at, by, paper, clock)
            if issued is not None:
                return issued
    raise ReportFailed("another program issues reports of this case all the time", next_step="do it again in a minute")


def _issue(
    store: Store, case: OpenCase, folder: Path, issued_at: str, by: str, paper: str, clock: Clock
) -> Report | None:
    """None when another program took the number meanwhile: nothing was written then."""
    moment = moment_text(issued_at or clock().isoformat(), case.time_zone)
    before = sum(each.kind == ReportIssued.KIND for each in store.entries(case.id))
    folded = load(store, case)
    _refuse_another_time(store, case, moment, clock)
    heads = tuple(f"{device} {n} {head}" for device, (n, head) in sorted(folded.evidence_heads.items()))
    same = [entered for entered in folded.reports if entered.record.heads == heads and entered.record.at == moment]
    number = same[0].record.number if same else max((e.record.number for e in folded.reports), default=0) + 1
    made = rendered(store, case, number=number, issued_at=moment, paper=paper)
    sha256 = store.attach(made.pdf)
    twin_sha256 = hashlib.sha256(made.json).hexdigest()
    known = next((e for e in same if e.record.pdf_sha256 == sha256), None)
    if known is None:
        rules = tuple(sorted({folded.setting("rule", "tolerance/1")}))
        record = ReportIssued(number, moment, heads, rules, SOFTWARE, sha256, twin_sha256, by)
        drafts = [Draft(record, clock().astimezone(zone_of(case.time_zone)).isoformat(timespec="seconds"))]

        def inside() -> list[Entry]:
            taken = store.entries(case.id, checked=False)
            is_free = sum(each.kind == ReportIssued.KIND for each in taken) == before
            return store.write_inside(case.id, drafts) if is_free else []

        written = store.in_one_commit([inside])[0]
        if not written:
            return None
        entry = written[0].name
    else:
        entry = known.entry
    return _put(folder, case, number, moment, made, sha256, entry, known is None)


def _refuse_another_time(store: Store, case: OpenCase, moment: str, clock: Clock) -> None:
    """A report is not dated before what it rests on, nor into the future."""
    issued = datetime.fromisoformat(moment)
    claimed = [entry.claimed_at for entry in store.entries(case.id) if entry.kind not in NOT_EVIDENCE]
    latest = max((datetime.fromisoformat(text) for text in claimed), default=issued)
    if issued < latest - timedelta(minutes=5) or issued > clock() + timedelta(days=1):
        raise Refused(
            "a report is dated when it is made: not before its last entry, not in the future", got=moment,
            wanted=f"a time from {latest.isoformat(timespec='minutes')} on",
            next_step="leave --issued-at out, or see what was known then with 'desorb assess --known-on'",
        )  # fmt: skip


def _put(
    folder: Path, case: OpenCase, number: int, moment: str, made: Rendered, sha256: str, entry: str, was_new: bool
) -> Report:
    stem = f"{_file_name(case)}-report-{number}-{moment[:10]}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        pdf, twin = folder / f"{stem}.pdf", folder / f"{stem}.json"
        pdf.write_bytes(made.pdf)
        twin.write_bytes(made.json)
        tables = []
        for name, content in made.csv.items():
            table = folder / f"{stem}-{name}"
            table.write_bytes(content)
            tables.append(table)
    except OSError as problem:
        raise ReportFailed(
            "the report was issued and kept, but could not be put into the folder", got=str(problem),
            next_step=f"name another folder with --out and give --issued-at {moment}: the same report is written again",
        ) from problem  # fmt: skip
    return Report(number, moment, pdf, twin, tuple(tables), sha256, entry, was_new)


def _file_name(case: OpenCase) -> str:
    """The name of the case as far as a file can bear it; where it cannot, the id keeps two cases apart."""
    plain = "".join(letter if letter.isalnum() or letter in "-_." else "-" for letter in case.name).strip(".-")
    return plain if plain == case.name else f"{plain or 'case'}-{case.id[:8]}"


def document_of(store: Store, case: OpenCase, *, number: int, issued_at: str) -> dict[str, Any]:
    """The frozen dataset of a report, without the PDF."""
    folded = load(store, case)
    return build_document(
        folded, assess(folded, history=True), number=number, issued_at=issued_at, software=SOFTWARE,
        photos_awaited=photos_awaited(store, folded), methods=methods_of(folded),
        drying=drying_without_round(folded, day_of_report(issued_at)),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class ReportState:
    number: int
    at: str
    pdf_sha256: str
    superseded: bool
    newer_entries: int


def report_states(case: Case) -> list[ReportState]:
    """Issued reports, each with whether evidence was entered beyond its printed heads."""
    states = []
    for entered in case.reports:
        printed = {line.split(" ")[0]: int(line.split(" ")[1]) for line in entered.record.heads}
        beyond = sum(max(0, n - printed.get(device, -1)) for device, (n, _) in case.evidence_heads.items())
        report = entered.record
        states.append(ReportState(report.number, report.at, report.pdf_sha256, beyond > 0, beyond))
    return states
