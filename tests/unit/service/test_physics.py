"""`desorb physics`: the list, its exit code, the page of the documentation."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from desorb.cli.main import app
from desorb.core.transport.check import Check
from desorb.errors import NotFound
from desorb.service import physics

ROOT = Path(__file__).parents[3]


@pytest.fixture(scope="module")
def checks() -> list[Check]:
    return physics.compared()


def test_the_list_names_what_was_expected_and_what_came_out() -> None:
    """Ask for one benchmark as JSON: every line has id, ok, expected, got, tolerance, reason and source."""
    result = CliRunner().invoke(app, ["physics", "--json", "--only", "en15026"])
    assert result.exit_code == 0
    rows = json.loads(result.stdout)
    assert all(set(row) == {"id", "ok", "expected", "got", "tolerance", "reason", "source"} for row in rows)
    assert all(row["ok"] and row["id"].startswith("en15026-") for row in rows)


def test_the_words_of_the_command_count_what_holds() -> None:
    result = CliRunner().invoke(app, ["physics", "--only", "lewis"])
    assert result.exit_code == 0
    assert "8 comparisons, 0 outside their tolerance" in result.stdout


def test_a_benchmark_that_is_missed_ends_with_code_five(monkeypatch: pytest.MonkeyPatch) -> None:
    """Negative control: the latent heat forgotten, the command says NO and leaves with 5."""
    wrong = [Check("lewis-invented", False, "1", 3.0, 0.1, "planted", "invented")]
    monkeypatch.setattr(physics, "run_checks", lambda *parts: wrong)
    result = CliRunner().invoke(app, ["physics"])
    assert result.exit_code == 5
    assert "1 outside their tolerance" in result.stdout
    assert "lewis-invented" in result.stdout


def test_the_ids_of_the_issue_are_there(checks: list[Check]) -> None:
    for name in ("en15026", "hamstad", "crank", "sorptivity"):
        assert any(name in check.id for check in checks)
    assert sum(len(rows) for rows in physics.by_case(checks).values()) == len(checks)
    assert set(physics.by_case(checks)) == set(physics.cases()) == set(physics.TITLES)


def test_an_unknown_case_is_refused_in_words() -> None:
    with pytest.raises(NotFound, match="there is no such case"):
        physics.compared("tarot")


def test_the_page_of_the_documentation_is_current(checks: list[Check]) -> None:
    """docs/verification.md lists what the engine is compared with today; remake it with `make docs`."""

    def rows(text: str) -> list[list[str]]:
        return [line.split(" | ")[:2] for line in text.splitlines() if line.startswith("| ") and "---" not in line]

    written = (ROOT / "docs" / "verification.md").read_text(encoding="utf-8")
    assert rows(written) == rows(physics.verification_page(checks))
    assert "| NO |" not in written
