"""What the pack says of the methods beside the scan and of the drying units, so that a device can go on with them.

Contents: methods_in_pack. What can be wetted, drilled or pressed carries its cautions and gates here, so that a device shows
them before any field; waiting times come as the list that core/floors_of_case works by.
"""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

from desorb.core.assess import Assessed
from desorb.core.case import Case, latest_by_id
from desorb.core.causes.patterns import TESTS
from desorb.core.causes_of_case import TEST_OF
from desorb.core.floors.cautions import CAUTIONS
from desorb.core.floors_of_case import FloorTestOfCase, floor_tests_of_case
from desorb.core.floors_of_case.places import waits_of
from desorb.core.gates import gates_for
from desorb.core.samples.carbide import CAUTIONS as CARBIDE_CAUTIONS
from desorb.service.drying import drying_without_round
from desorb.service.methods import methods_of
from desorb.service.sheet import CHOICES

ACTIONS = ("enter", "drill", "take a sample", "carbide test", "move air", "energise")


def methods_in_pack(case: Case, day: date, assessed: Assessed) -> dict[str, Any]:
    """Results as they are shown everywhere, descriptions to go on with, and what a person sees to first."""
    choices: dict[str, dict[str, list[str]]] = {}
    for (kind, part), words in CHOICES.items():
        choices.setdefault(kind, {})[part] = list(words)
    return {
        "methods": [asdict(shown) for shown in methods_of(case)],
        "drying": [asdict(shown) for shown in drying_without_round(case, day, assessed)],
        "floor_tests": [_floor_test(found) for found in floor_tests_of_case(case)],
        "samples": [asdict(each.record) for each in latest_by_id(case.samples).values()],
        "leak_tests": [asdict(each.record) for each in latest_by_id(case.leak_tests).values()],
        "unit_register": [asdict(each.record) for each in latest_by_id(case.units).values()],
        "choices": choices,
        "cautions_of": {
            "floor-test": {method: list(words) for method, words in CAUTIONS.items()},
            "leak-test": {kind: list(TESTS[test].cautions) for kind, test in TEST_OF.items()},
            "carbide-reading": list(CARBIDE_CAUTIONS),
        },
        "gates_at": {action: _gates(case, action) for action in ACTIONS},
        "gates_of_leak_test": {kind: TESTS[test].action for kind, test in TEST_OF.items()},
    }  # fmt: skip


def _floor_test(found: FloorTestOfCase) -> dict[str, Any]:
    return asdict(found.test.record) | {
        "waits": [asdict(wait) for wait in waits_of(found.plan)] if found.plan else None,
        "places": [
            {"place": each.place, "may_read_from": each.may_read_from, "waiting": each.waiting} for each in found.places
        ],
    }


def _gates(case: Case, action: str) -> list[dict[str, Any]]:
    """The gates of an action in every zone, as arrival gates stand in the pack."""
    found = [gate for zone in latest_by_id(case.zones) for gate in gates_for(action, zone, "", case)]
    return [asdict(gate) | {"evidence": list(gate.evidence)} for gate in found]
