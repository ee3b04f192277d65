"""One frozen dataset: everything that a report says, as plain data. PDF, JSON and CSV are made from it and nothing else.

Contents: SCHEMA; build_document. The same case, assessments, number and time give the same dataset, and every row of
figures carries the id of its entry ("device/n").
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from desorb.core.assess import Assessed
from desorb.core.case import Case
from desorb.core.gates import NOT_A_CLEARANCE, UNDER_EVERY_GATE
from desorb.core.next_tests import work_list
from desorb.core.shown import Shown
from desorb.report import building, comparisons, readings, record, visit_rows
from desorb.report.beside import beside_part
from desorb.report.lookup import Lookup, lookup_of
from desorb.report.owner import owner_part
from desorb.report.panels import panels
from desorb.report.plan import plan_of

SCHEMA = "desorb-report/1"
INVENTED = "Invented data: a demonstration, no real building."
QUESTIONS = (
    "What could hurt someone here?", "What is it made of?", "What is the control?", "What reads higher?", "Why?",
    "What next?",
)  # fmt: skip


def build_document(
    case: Case,
    assessed: Assessed,
    *,
    number: int,
    issued_at: str,
    software: str,
    photos_awaited: frozenset[str],
    note_of_known_on: str = "",
    methods: Sequence[Shown] = (),
    drying: Sequence[Shown] = (),
) -> dict[str, Any]:
    """The dataset of report `number`. `assessed` should hold the history: assess(case, history=True).

    A part of methods or of drying stands in it only where the case has one.
    """
    look = lookup_of(case, assessed)
    opened = case.opened
    awaited = frozenset(entered.record.sha256 for entered in case.photos) & photos_awaited
    corrections = record.corrections(look)
    beside = {"methods": beside_part("methods", methods), "drying": beside_part("drying", drying)}
    return {
        **{name: rows for name, rows in beside.items() if rows},
        "schema": SCHEMA,
        "number": number,
        "issued_at": issued_at,
        "software": software,
        "note_of_known_on": note_of_known_on,
        "banner": INVENTED if opened and opened.record.invented else "",
        "not_a_clearance": NOT_A_CLEARANCE,
        "under_every_gate": UNDER_EVERY_GATE,
        "questions": list(QUESTIONS),
        "case": {
            "id": case.id,
            "entry": opened.entry if opened else "",
            "name": opened.record.name if opened else "",
            "site": opened.record.site if opened else "",
            "client": opened.record.client if opened else "",
            "scope": opened.record.scope if opened else "",
            "opened_by": opened.record.opened_by if opened else "",
            "opened_at": opened.claimed_at if opened else "",
            "time_zone": opened.record.time_zone if opened else "",
            "invented": opened.record.invented if opened else False,
        },
        "owner": owner_part(look, len(awaited), methods, drying),
        "hurt": building.hurt(look),
        "made_of": building.made_of(look),
        "controls": comparisons.controls(look),
        "higher": {
            "elements": comparisons.elements(look),
            "spots": comparisons.spots(look),
            "plan": plan_of(look),
            "charts": panels(look),
        },
        "why": {
            "air": readings.air(look),
            "findings": record.findings(look),
            "unit_readings": visit_rows.unit_readings(look),
            **record.account(look),
        },
        "next": {"work": _work(look), "not_inspected": _not_inspected(look)},
        "visits": readings.visits(look),
        "readings": readings.readings(look),
        "not_read": visit_rows.not_read(look),
        "photos": record.photos(look, awaited),
        "photo_marks": record.photo_marks(look),
        "instruments": {"described": record.instruments(look), **record.instrument_log(look)},
        "rule": record.rule(look),
        "record": {
            "heads": record.heads(look),
            "entry_count": case.entry_count,
            "gaps": [str(gap) for gap in case.gaps],
            "not_understood": list(case.not_understood),
            "set_aside": list(case.set_aside),
            "doubtful_times": [{"entry": entry, "words": words} for entry, words in case.doubtful_times],
            "corrections": corrections,
            "corrections_count": len(corrections),
            "files": record.files(look),
            "reports": [
                {"entry": each.entry, "number": each.record.number, "at": each.record.at, "by": each.record.by}
                for each in case.reports
            ],
        },
    }


def _work(look: Lookup) -> list[dict[str, Any]]:
    """Next tests grouped by the permission they need, cheapest first."""
    return [
        {
            "permission": permission,
            "items": [
                {
                    "key": item.test.key, "words": item.test.words, "places": list(item.places),
                    "outcomes": list(item.test.outcomes), "cost_rank": item.test.cost_rank,
                    "cautions": list(item.test.cautions), "stopped_by": list(item.stopped_by),
                    "gates": [building.gate_row(gate, look) for gate in item.test.gates],
                }
                for item in items
            ],
        }
        for permission, items in work_list(look.assessed.all).items()
    ]  # fmt: skip


def _not_inspected(look: Lookup) -> list[dict[str, Any]]:
    return [
        {
            "entry": entered.entry, "place": entered.record.place, "why": entered.record.why,
            "effect": entered.record.effect, "elements": list(entered.record.elements), "at": entered.record.at,
            "by": entered.record.by,
        }
        for entered in look.case.not_inspected
    ]  # fmt: skip
