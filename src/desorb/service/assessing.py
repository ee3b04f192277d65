"""Assess a case, and the plain objects that the command line, the API and the report's twin share.

Contents: assess_case; as_objects (one object for every spot and element); work_of (the list of next tests);
differences (as known on a day, with the rules of that day, against today's).
"""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

from desorb.core.assess import Assessed, assess
from desorb.core.case import Case, Entered
from desorb.core.gates import UNDER_EVERY_GATE
from desorb.core.kinds import Setting
from desorb.core.next_tests import WorkItem, work_list
from desorb.core.outcome import Assessment, GateState, NextTest
from desorb.core.rule import RULES
from desorb.errors import InputError
from desorb.notebook.store import Store
from desorb.service.cases import OpenCase, load


def assess_case(
    store: Store, case: OpenCase, *, known_on: str = "", rule: str = "", history: bool = False
) -> tuple[Case, Assessed]:
    """Fold and assess. `known_on` shows the case as it was known that day; `rule` re-runs it under another rule."""
    folded = load(store, case, known_on)
    if rule:
        folded = under_rule(folded, rule)
    return folded, assess(folded, history=history)


def under_rule(case: Case, rule: str) -> Case:
    """The same case under another rule, without writing anything."""
    if rule not in RULES:
        raise InputError("this rule is not known", got=rule, wanted=", ".join(RULES))
    setting = Setting("rule", rule, "", "asked for in this run")
    entered = Entered(setting, "this run", "", "", 0, 0, 10**9, "")
    return replace(case, settings=(*case.settings, entered))


def as_objects(assessed: Assessed) -> list[dict[str, Any]]:
    """One plain object per spot, then one per element."""
    return [assessment_object(each) for each in assessed.all]


def assessment_object(each: Assessment) -> dict[str, Any]:
    return {
        "kind": each.kind, "id": each.id, "zone": each.zone, "element": each.element, "visit": each.visit,
        "status": each.status, "value": each.value, "value_text": each.value_text, "unit": each.unit,
        "limit": each.limit, "limits": asdict(each.limits), "rule": each.rule, "scale": each.scale,
        "instrument": each.instrument, "covering": each.covering, "taken_at": each.taken_at,
        "readings": list(each.readings), "controls_used": list(each.controls_used),
        "controls_refused": [
            {"spot": refusal.spot, "fields": list(refusal.fields), "words": refusal.words} for refusal in each.controls_refused
        ],
        "controls_set_aside": list(each.controls_set_aside), "reasons": list(each.reasons),
        "findings": [asdict(finding) for finding in each.findings],
        "next_test": test_object(each.next_test) if each.next_test else None,
        "gates": [gate_object(gate) for gate in each.gates], "spots": list(each.spots),
        "spots_not_read": list(each.spots_not_read), "smallest_pocket": each.smallest_pocket,
        "other_lines": list(each.other_lines),
    }  # fmt: skip


def test_object(test: NextTest) -> dict[str, Any]:
    return {
        "key": test.key, "words": test.words, "outcomes": list(test.outcomes), "permission": test.permission,
        "cost_rank": test.cost_rank, "cautions": list(test.cautions), "gates": [gate_object(gate) for gate in test.gates],
    }  # fmt: skip


def gate_object(gate: GateState) -> dict[str, Any]:
    return {
        "gate": gate.gate, "state": gate.state, "zone": gate.zone, "words": gate.words, "asks": gate.asks,
        "evidence": list(gate.evidence), "note": UNDER_EVERY_GATE,
    }  # fmt: skip


def work_of(assessed: Assessed) -> dict[str, list[WorkItem]]:
    """The list of next tests over the whole case, by the permission they need, cheapest first."""
    return work_list(assessed.spots)


def differences(store: Store, case: OpenCase, known_on: str) -> list[dict[str, str]]:
    """Where today's assessment differs from what could be said on a past day: with the rules of the day, and today's."""
    today = {(each.kind, each.id): each for each in assess_case(store, case)[1].all}
    folded, then = assess_case(store, case, known_on=known_on)
    current_rule = load(store, case).setting("rule", RULES[0])
    rerun = {(e.kind, e.id): e for e in assess(under_rule(folded, current_rule)).all}
    found = []
    for each in then.all:
        key = (each.kind, each.id)
        again, latest = rerun.get(key), today.get(key)
        row = {
            "kind": each.kind, "id": each.id, "then": each.status, "rule_then": each.rule,
            "then_under_todays_rule": again.status if again else "", "today": latest.status if latest else "",
        }  # fmt: skip
        if len({row["then"], row["then_under_todays_rule"], row["today"]}) > 1:
            found.append(row)
    return found
