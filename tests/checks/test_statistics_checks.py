"""Published and recomputed values for statistics and measurement studies: data in statistics.toml, one test runs them.

What is checked is whether the code is right, not whether it changed: the data may never be regenerated from the code.
"""

from __future__ import annotations

import importlib
import tomllib
from pathlib import Path
from typing import Any

import pytest

CHECKS: list[dict[str, Any]] = tomllib.loads(Path(__file__).with_name("statistics.toml").read_text("utf-8"))["check"]

# Every row ST-* of the project's list of check values: none may drop out unnoticed.
ROWS = {
    *(f"ST-GC-{n}" for n in (3, 4, 6, 7, 9, 10, 15, 20)),
    *("ST-EWMA", "ST-CUSUM", "ST-GRR", "ST-GRRp"),
    *(f"ST-TI-{n}" for n in (5, 8, 10, 15, 20, 50)),
    *("ST-TI-NIST", "ST-PI-8", "ST-PI-10", "ST-NP"),
}


def computed(check: dict[str, Any]) -> Any:
    module, _, name = check["function"].rpartition(".")
    result: Any = getattr(importlib.import_module(module), name)(**check["inputs"])
    for step in check["part"].split(".") if "part" in check else ():
        result = result[int(step)] if step.isdigit() else getattr(result, step)
    return list(result) if isinstance(result, tuple) else result


@pytest.mark.parametrize("check", CHECKS, ids=[check["id"] for check in CHECKS])
def test_agrees_with_its_source(check: dict[str, Any]) -> None:
    wanted = pytest.approx(check["expected"], abs=check.get("abs", 0.0), rel=check.get("rel", 0.0))
    assert computed(check) == wanted, f"{check['source']}; tolerance: {check['why']}"


def test_every_row_of_the_list_is_checked() -> None:
    assert {check["row"] for check in CHECKS if check["row"].startswith("ST-")} == ROWS


def test_every_check_has_a_passport_and_a_tolerance_that_can_fail() -> None:
    assert len({check["id"] for check in CHECKS}) == len(CHECKS)
    for check in CHECKS:
        assert all(check[name].strip() for name in ("why", "source", "read")), check["id"]
        assert ("abs" in check) != ("rel" in check), check["id"]
        numbers = check["expected"] if isinstance(check["expected"], list) else [check["expected"]]
        largest = max((abs(number) for number in numbers), default=0.0)
        assert check.get("rel", 0.0) <= 1e-3, check["id"]
        assert check.get("abs", 0.0) <= 3e-3 * largest, check["id"]
