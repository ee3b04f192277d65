"""The demonstration case is the main job, end to end: five visits, two constructions, one report, one bag."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """`desorb demo` as a fresh process, in a folder of its own."""
    folder = tmp_path_factory.mktemp("demo")
    command = [sys.executable, "-m", "desorb.cli.main", "demo", "--out", str(folder), "--json"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=os.environ | {"TZ": "UTC"})
    assert done.returncode == 0, done.stderr
    loaded: dict[str, Any] = json.loads(done.stdout)
    return loaded


def by_id(shown: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {each["id"]: each for each in shown["assessments"]}


def test_the_covering_that_hides_never_passes(shown: dict[str, Any]) -> None:
    """Through the vinyl the store floor reads like the controls; where tiles came loose the bare screed is above."""
    spots = by_id(shown)
    assert [spots[name]["status"] for name in ("k1", "k2")] == ["above control", "above control"]
    for name in ("k3", "k4", "k5", "k6"):
        assert spots[name]["status"] == "cannot say"
        assert "vinyl" in spots[name]["reasons"][0]
        assert spots[name]["value"] < spots[name]["limits"]["above_beyond"]
    assert spots["store/floor"]["status"] == "above control"


def test_the_open_asbestos_question_stops_the_lifting(shown: dict[str, Any]) -> None:
    """The next test is to lift the vinyl, and the asbestos gate of 1987 fabric stands unanswered before it."""
    test = by_id(shown)["k3"]["next_test"]
    assert test["key"] == "lift covering"
    gate = next(gate for gate in test["gates"] if gate["gate"] == "asbestos")
    assert gate["state"] == "not answered"
    assert "1987" in gate["words"]
    assert "gives no permission" in gate["note"]


def test_a_reading_at_the_end_of_its_scale_is_at_least(shown: dict[str, Any]) -> None:
    assert by_id(shown)["k7"]["value_text"].startswith("\u2265 6.9")
    assert by_id(shown)["k7"]["status"] == "cannot say"


def test_controls_of_the_other_construction_and_covering_are_refused_by_name(shown: dict[str, Any]) -> None:
    refused = {each["spot"]: each["fields"] for each in by_id(shown)["k1"]["controls_refused"]}
    assert refused["q1"] == ["covering"]
    assert {"instrument", "construction"} <= set(refused["c1"])


def test_the_joists_are_no_higher_than_their_own_controls_once_the_pins_are_in_check(shown: dict[str, Any]) -> None:
    """Corrected for the cold by the instrument's own table; the overdue check of visit 4 is past."""
    joists = by_id(shown)["hall-east/joists"]
    assert joists["status"] == "no higher than control"
    assert 0 < joists["smallest_pocket"] < 1
    assert any("table 2 on the invented" in reason for reason in by_id(shown)["j1"]["reasons"])


def run(*words: str, home: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "desorb.cli.main", "--home", home, *words]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_as_known_after_the_fourth_visit_the_overdue_pins_held_the_joists_back(shown: dict[str, Any]) -> None:
    """What was known on 27 January: nobody had checked the pins for 16 days, so no pass; today differs, and says so."""
    done = run("assess", "quillfen", "--known-on", "2026-01-27", "--json", home=shown["home"])
    joists = next(each for each in json.loads(done.stdout) if each["id"] == "j1")
    assert joists["status"] == "cannot say"
    assert any("16 days" in reason for reason in joists["reasons"])
    differing = run("assess", "quillfen", "--known-on", "2026-01-27", "--differences", "--json", home=shown["home"])
    rows = {row["id"]: row for row in json.loads(differing.stdout)}
    assert (rows["j1"]["then"], rows["j1"]["today"]) == ("cannot say", "no higher than control")


def test_the_report_of_the_third_visit_is_superseded_and_the_record_verifies(
    shown: dict[str, Any], tmp_path: Path
) -> None:
    done = run(
        "report", "quillfen", "--issued-at", "2026-02-03T09:00", "--out", str(tmp_path), "--json", home=shown["home"]
    )
    states = {state["number"]: state["superseded"] for state in json.loads(done.stdout)["reports"]}
    assert states[1] is True
    assert states[2] is False
    assert run("verify", "quillfen", home=shown["home"]).returncode == 0
    assert run("verify", shown["bag"], home=shown["home"]).returncode == 0
    foreign = subprocess.run([sys.executable, str(Path(shown["bag"]) / "verify.py")], capture_output=True, check=False)
    assert foreign.returncode == 0


def test_the_unaffected_hall_is_warned_of(shown: dict[str, Any]) -> None:
    text = run("assess", "quillfen", home=shown["home"]).stdout
    assert "the unaffected room reading hall" in text
    assert "above the 80 % criterion" in text
    assert "not an electrical, structural, hygiene or asbestos clearance" in text
