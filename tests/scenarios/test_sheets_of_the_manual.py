"""Whoever copies a sheet out of the manual gets what the manual says: every row kept, and the floor with its result."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

from case_builder import Desk

from desorb.core.samples.profile import from_weighings
from desorb.service.floor_tests import take_limit
from desorb.service.methods import methods_of

MANUAL = Path(__file__).parents[2] / "docs" / "manual"


def sheet_of(page: str) -> str:
    """The one TOML block of a page of the manual."""
    (block,) = re.findall(r"```toml\n(.*?)```", (MANUAL / page).read_text(encoding="utf-8"), re.DOTALL)
    return str(block)


def test_the_floor_of_the_manual(desk: Desk) -> None:
    """One hole of three: kept, held against the limit that was taken with its edition, and not accepted: two are wanting."""
    taken = desk.sheet(sheet_of("testing_a_floor.md"))
    assert taken.problems == []
    assert taken.kept == taken.rows == 5
    take_limit(desk.store, desk.case, "f1", by="the surveyor")
    (floor,) = [shown for shown in methods_of(desk.folded()) if shown.kind == "floor test"]
    assert "incomplete" in floor.status
    assert "FLR-RH-18" in str(floor) or "ASTM F710" in str(floor)
    assert floor.next_steps


def test_the_samples_leak_test_and_causes_of_the_manual(desk: Desk) -> None:
    """C3-5 at 0.15 m: total 1.6, hygroscopic 1.2, free 0.4; every row is in the record."""
    taken = desk.sheet(sheet_of("methods_beside_the_scan.md"))
    assert taken.problems == []
    assert taken.kept == taken.rows
    case = desk.folded()
    assert [len(rows) for rows in (case.samples, case.custody, case.weighings, case.salt_contents)] == [1, 1, 5, 1]
    assert [len(rows) for rows in (case.leak_tests, case.cause_observations, case.cause_tests)] == [1, 1, 1]
    masses = {each.record.state: Decimal(each.record.mass) for each in case.weighings}
    found = from_weighings(masses["moist"], masses["at 75 % humidity"], masses["dry"])
    assert found == (Decimal("1.6"), Decimal("1.2"), Decimal("0.4"))  # case C3 of the project, row C3-5 at 0.15 m


def test_the_drying_of_the_manual(desk: Desk) -> None:
    """Every row of the sheet is kept, and what the visit left out is said."""
    taken = desk.sheet(sheet_of("drying_under_way.md"))
    assert taken.problems == []
    assert taken.kept == taken.rows
    case = desk.folded()
    assert [len(rows) for rows in (case.units, case.enclosures, case.circuits, case.targets, case.time_limits)] == [
        1
    ] * 5
    assert case.not_done[0].record.reason == "no safe ladder"
