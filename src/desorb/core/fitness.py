"""Is the instrument fit? Its checks on the block, its calibration, and its readiness before the first reading of a visit.

Contents: of_checks (overdue, failed with doubt back to the last good one, never made, calibration past); fitness_at (of one
moment); of_readiness.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, timedelta

from desorb.core.case import Case
from desorb.core.evidence import Evidence, finding_about
from desorb.core.kinds import Instrument, InstrumentCheck, Readiness
from desorb.core.outcome import BLOCKS_BOTH, BLOCKS_NOTHING, BLOCKS_PASS, Finding


def of_checks(evidence: list[Evidence], case: Case) -> Iterable[Finding]:
    histories: dict[str, list[tuple[datetime, InstrumentCheck]]] = defaultdict(list)
    for entered in case.checks:
        histories[entered.record.instrument].append((datetime.fromisoformat(entered.record.at), entered.record))
    groups: dict[tuple[str, str, str], list[Evidence]] = defaultdict(list)
    for each in evidence:
        code, words = _fitness(each, sorted(histories[each.instrument.id], key=lambda pair: pair[0]))
        if code:
            groups[code, words, each.reading.visit].append(each)
    for (code, words, _), members in groups.items():
        step = {
            "check-failed": "read again with an instrument that passes its check",
            "check-unknown": "describe its check block or its calibration date; then read again what a pass shall rest on",
            "calibration-overdue": "have the instrument calibrated, or read again with one that is in date",
        }.get(code, "check the instrument on its block now and log it; then read again what a pass shall rest on")
        blocks = BLOCKS_BOTH if code == "check-failed" else BLOCKS_PASS
        yield finding_about(members, code, words, blocks, step)


def _fitness(each: Evidence, history: list[tuple[datetime, InstrumentCheck]]) -> tuple[str, str]:
    return fitness_at(each.taken, each.instrument, history, each.scale.standing == "relative")


def fitness_at(
    moment: datetime, instrument: Instrument, history: list[tuple[datetime, InstrumentCheck]], relative: bool
) -> tuple[str, str]:
    """(code, sentence) of what keeps a reading of this moment from being fit, or two empty texts. `history` is ordered."""
    due = instrument.calibration_due
    if instrument.block:
        interval = instrument.block[0].interval_days
        before = [pair for pair in history if pair[0] <= moment]
        after = [pair for pair in history if pair[0] > moment]
        if before and not before[-1][1].passed:
            return "check-failed", f"{instrument.id} failed its check on {before[-1][0].date()} and was used afterwards"
        if after and not after[0][1].passed:
            since = f"since its last good check on {before[-1][0].date()}" if before else "and never passed before"
            return "check-failed", f"{instrument.id} failed its check on {after[0][0].date()}: in doubt {since}"
        if not before:
            return "check-overdue", f"{instrument.id} has no logged check before this visit"
        age = (moment - before[-1][0]) / timedelta(days=1)
        if age > interval:
            return "check-overdue", (
                f"{instrument.id} was last checked {_days(age)} before, on {before[-1][0].date()};"
                f" its interval is {interval} days"
            )
    if due and moment.date() > date.fromisoformat(due):
        return "calibration-overdue", f"the calibration of {instrument.id} was due on {due}"
    if not due and not instrument.block and relative:
        return "check-unknown", f"nothing says when {instrument.id} was checked or calibrated"
    return "", ""


def _days(age: float) -> str:
    """Whole days when that says enough; the tenth of a day where a few hours make the difference."""
    return f"{age:.0f} days" if age >= 10 else f"{age:.1f} days"


def of_readiness(evidence: list[Evidence], case: Case) -> Iterable[Finding]:
    """Readiness before the first reading of each visit; absent is a finding. Laboratory methods have their own."""
    recorded: dict[tuple[str, str], list[Readiness]] = defaultdict(list)
    for entered in case.readiness:
        recorded[entered.record.visit, entered.record.instrument].append(entered.record)
    sweeps: dict[tuple[str, str, Readiness | None], list[Evidence]] = defaultdict(list)
    for each in evidence:
        if each.scale.standing != "absolute":
            of_visit = recorded[each.reading.visit, each.instrument.id]
            sweeps[each.reading.visit, each.instrument.id, _readiness_at(each.taken, of_visit)].append(each)
    for (visit, instrument, readiness), members in sweeps.items():
        if readiness is None:
            yield finding_about(
                members, "readiness-absent",
                f"nothing was recorded of the state of {instrument} before visit {visit}: battery, contacts, free air,"
                " check block, probe", BLOCKS_NOTHING, "record the readiness of the instrument before the first reading",
            )  # fmt: skip
            continue
        parts = {
            "battery": readiness.battery, "contacts free and clean": readiness.contacts_free,
            "free-air reading": readiness.free_air, "check block": readiness.block, "probe settled": readiness.probe_settled,
        }  # fmt: skip
        failing = [name for name, state in parts.items() if state not in ("yes", "")]  # "no", or a word that is not yes
        if failing:
            yield finding_about(
                members, "not-ready", f"{instrument} was not ready before visit {visit}: {', '.join(failing)} not in order",
                BLOCKS_PASS, "put it in order, check it on its block, and read again",
            )  # fmt: skip


def _readiness_at(taken: datetime, recorded: list[Readiness]) -> Readiness | None:
    """The last word before the reading, else the first of the visit: what was put in order later says nothing of before."""
    before = [each for each in recorded if not each.at or datetime.fromisoformat(each.at) <= taken]
    return before[-1] if before else recorded[0] if recorded else None
