"""What needs doing next, case by case: one sentence each, from the record, the most urgent first.

Contents: NEEDS (the kinds in order of urgency); Need; CaseLine; needs_of (one case); case_lines (all cases of a store).
Nothing is scored: a kind of need stands before another because someone could be hurt, or because work would be lost.
The number of days after which a visit is due is the setting "visit due days" of the case, else 7 (setting of ours).
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import quote

from desorb.core.case import Case
from desorb.core.gates import NOT_ANSWERED, STOP
from desorb.core.kinds import GONE
from desorb.core.outcome import ABOVE, CANNOT_SAY, STATUSES, Assessment
from desorb.errors import StoreError
from desorb.notebook.store import Store
from desorb.report.words import counted, instant, listed
from desorb.service.cases import OpenCase, case_names
from desorb.service.reporting import report_states
from desorb.service.standing import AsItStands, Kept, trouble_in_words

NEEDS = (
    "stop", "not arrived", "controls", "no visit", "cheap test", "above control", "report", "visit", "test", "questions",
    "nothing",
)  # fmt: skip
VISIT_DUE_DAYS = 7  # setting of ours
CHEAP = 1  # the rank of a test that only reads again


@dataclass(frozen=True, slots=True)
class Need:
    """One thing that needs doing, as a sentence, and the page where it is done."""

    kind: str
    words: str
    page: str


@dataclass(frozen=True, slots=True)
class CaseLine:
    """A case in the list."""

    id: str
    name: str
    site: str
    invented: bool
    last_visit: str  # when it began, '' without a visit
    counts: dict[str, int]  # spots by status
    not_arrived: int  # entries of devices that are missing here
    set_aside: int
    needs: tuple[Need, ...]

    @property
    def next(self) -> Need:
        return self.needs[0]


def case_lines(store: Store, kept: Kept, now: datetime) -> list[CaseLine]:
    """Every case, the most urgent first; of equally urgent ones the one that was visited longest ago."""
    lines = []
    for name, case in case_names(store).items():
        opening = store.opening_of(case)
        try:
            found = kept.of(OpenCase(case, opening.get("name", case), opening.get("time_zone", "UTC")))
            lines.append(_line(name, found, now))
        except StoreError:
            raise
        except Exception as problem:  # one case that cannot be read must not hide the others
            logging.getLogger("desorb").error("case %s cannot be read", case, exc_info=problem)
            lines.append(_unreadable(case, name, opening, problem))
    return sorted(lines, key=lambda line: (NEEDS.index(line.next.kind), line.last_visit, line.name))


def _line(name: str, found: AsItStands, now: datetime) -> CaseLine:
    case, opened = found.case, found.case.opened
    counts = {status: sum(each.status == status for each in found.assessed.spots) for status in STATUSES}
    visits = sorted(entered.record.begun_at for entered in case.visits)
    return CaseLine(
        found.open.id, name, opened.record.site if opened else "", bool(opened and opened.record.invented),
        visits[-1] if visits else "", counts, sum(gap.last - gap.first + 1 for gap in case.gaps), len(case.set_aside),
        tuple(needs_of(found, now)),
    )  # fmt: skip


def _unreadable(case: str, name: str, opening: dict[str, Any], problem: Exception) -> CaseLine:
    words = f"this case cannot be read ({trouble_in_words(problem)}): run 'desorb verify' for it,"
    words += " and look at its last entries in the log"
    need = Need("stop", words, f"/cases/{case}/record")
    return CaseLine(case, name, str(opening.get("site", "")), bool(opening.get("invented")), "", {}, 0, 0, (need,))


def needs_of(found: AsItStands, now: datetime) -> list[Need]:
    """Everything that needs doing in a case, the most urgent first; never empty."""
    case, base = found.case, f"/cases/{found.open.id}"
    needs = _stops(found, base) + _missing(case, base) + _of_spots(found, base) + _of_visits(case, base, now)
    needs += _of_reports(case, base)
    open_questions = [gate for gate in found.assessed.gates if gate.state == NOT_ANSWERED]
    if open_questions:
        named = listed(list(dict.fromkeys(gate.gate for gate in open_questions)), 4)
        needs.append(Need("questions", f"Questions on arrival that nobody answered: {named}.", f"{base}#hurt"))
    if not needs:
        needs.append(Need("nothing", "Nothing is waiting in the record.", base))
    return sorted(needs, key=lambda need: NEEDS.index(need.kind))


def _stops(found: AsItStands, base: str) -> list[Need]:
    look = found.look
    needs = [
        Need("stop", f"Stop, {look.zone_words(gate.zone) or 'the site'}: {gate.words}.", f"{base}#hurt")
        for gate in found.assessed.gates
        if gate.state == STOP
    ]
    return needs + [
        Need("stop", f"{finding.words}.", f"{base}#hurt")
        for finding in found.assessed.findings
        if finding.code == "air-moved-at-a-stop" and not finding.answered
    ]


def _missing(case: Case, base: str) -> list[Need]:
    needs = []
    if case.gaps:
        count = sum(gap.last - gap.first + 1 for gap in case.gaps)
        devices = listed(list(dict.fromkeys(gap.device for gap in case.gaps)), 3)
        words = f"{counted(count, 'entry', 'entries')} of device {devices} have not arrived: find the device and let it send."
        needs.append(Need("not arrived", words, f"{base}/record#gaps"))
    if case.set_aside:
        words = f"{counted(len(case.set_aside), 'entry was', 'entries were')} set aside: look at the reason."
        needs.append(Need("not arrived", words, f"{base}/record#set-aside"))
    return needs


def _of_spots(found: AsItStands, base: str) -> list[Need]:
    """Controls too old; then what a cheap test would settle; then what is above; then the other tests."""
    spots = found.assessed.spots
    needs = []
    too_old = [each.id for each in spots if each.next_test is not None and each.next_test.key == "reread controls"]
    if too_old:
        words = f"The controls are too old for {_spots_of(too_old)}: read the full set of controls again."
        needs.append(Need("controls", words, f"{base}/next"))
    by_test: dict[tuple[str, str], list[Assessment]] = {}
    for each in spots:
        if each.next_test is not None and each.next_test.key != "reread controls":
            kind = "above control" if each.status == ABOVE else "test"
            if each.status == CANNOT_SAY and each.next_test.cost_rank <= CHEAP:
                kind = "cheap test"
            by_test.setdefault((kind, each.next_test.words), []).append(each)
    largest = sorted(by_test.items(), key=lambda pair: -len(pair[1]))
    for kind in ("cheap test", "above control", "test"):
        of_kind = [(test, members) for (of, test), members in largest if of == kind]
        if not of_kind:
            continue
        test, members = of_kind[0]
        more = f" {counted(len(of_kind) - 1, 'other test')} beside it." if len(of_kind) > 1 else ""
        reads = "reads" if len(members) == 1 else "read"
        status = f"{reads} above control" if kind == "above control" else "cannot say"
        single = quote(members[0].id, safe="")
        page = f"{base}/spots/{single}" if len(members) == 1 else f"{base}/next"
        needs.append(Need(kind, f"{_spots_of([each.id for each in members])}, {status}: {test}.{more}", page))
    return needs


def _spots_of(spots: list[str]) -> str:
    return f"{counted(len(spots), 'spot')} ({listed(spots, 4)})"


def _of_visits(case: Case, base: str, now: datetime) -> list[Need]:
    begun = [moment for entered in case.visits if (moment := instant(entered.record.begun_at)) is not None]
    if not begun:
        return [Need("no visit", "No visit was begun yet: begin the first one on site.", "/site/")]
    last = max(begun, key=lambda moment: moment.timestamp())
    stated = case.setting("visit due days", str(VISIT_DUE_DAYS))
    due = int(stated) if stated.isdecimal() else VISIT_DUE_DAYS
    source = case.setting_source("visit due days") or "setting of ours"
    days = int((now.timestamp() - last.timestamp()) // 86400)
    running = sorted(_units_standing(case))
    if days < due or not (running or _open_places(case)):
        return []
    units = f"; drying units still stand there ({listed(running, 4)})" if running else ""
    words = f"The last visit was {counted(days, 'day')} ago{units}: a visit is due after {due} ({source})."
    return [Need("visit", words, "/site/")]


def _units_standing(case: Case) -> set[str]:
    last = {entered.record.unit: entered.record.change for entered in case.unit_changes}
    return {unit for unit, change in last.items() if change not in GONE}


def _open_places(case: Case) -> bool:
    """Is there anything that a visit could still find out?"""
    return bool(case.spots)


def _of_reports(case: Case, base: str) -> list[Need]:
    states = report_states(case)
    if not states:
        return [Need("report", "No report was issued yet.", f"{base}/report")] if case.readings else []
    last = states[-1]
    if not last.superseded:
        return []
    more = counted(last.newer_entries, "entry", "entries")
    words = f"Report {last.number} is superseded: {more} came after it. Issue a new one when the work is done."
    return [Need("report", words, f"{base}/report")]
