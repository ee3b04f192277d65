"""Faults that the first reader of desorb found, each held by a test of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from test_refusals import at, evidence  # the builders of the refusals
from typer.testing import CliRunner

from desorb.cli.main import app
from desorb.core.gates import EVIDENCE, STOP, gate_state
from desorb.core.kinds import Hazard
from desorb.errors import InputError, Refused


def call(home: Path, *words: str) -> object:
    return CliRunner().invoke(app, ["--home", str(home), *words])


def test_evidence_older_than_the_hazard_leaves_the_stop(tmp_path: Path) -> None:
    """A boiler service of 2019 says nothing of the smell of gas of today; later evidence does, and the smell stays told."""
    from test_refusals import book_of_hall

    book = book_of_hall()
    book.write(Hazard("gas", "hall", "smell of gas", at(0, "10:00")))
    book.write(evidence("gas", at=at(0, "09:00")))
    state = gate_state("gas", "hall", "", book.case())
    assert state.state == STOP
    assert "older than what was seen" in state.words
    book.write(evidence("gas", at=at(0, "12:00")))
    state = gate_state("gas", "hall", "", book.case())
    assert state.state == EVIDENCE
    assert "smell of gas had been seen" in state.words


@pytest.mark.parametrize("head", ["", "deadbeef", "not a head at all", "12345678 4 zz"])
def test_what_is_no_head_is_refused_and_accuses_nobody(tmp_path: Path, head: str) -> None:
    call(tmp_path, "new", "c", "--site", "s", "--time-zone", "UTC")
    done = call(tmp_path, "verify", "c", "--head", head)
    assert isinstance(done.exception, InputError)  # type: ignore[attr-defined]


def test_a_report_is_not_dated_before_what_it_rests_on(tmp_path: Path) -> None:
    call(tmp_path, "new", "c", "--site", "s", "--time-zone", "UTC")
    for moment in ("2020-01-01T10:00", "2126-01-01T10:00"):
        done = call(tmp_path, "report", "c", "--issued-at", moment, "--out", str(tmp_path / "out"))
        assert isinstance(done.exception, Refused)  # type: ignore[attr-defined]


def test_next_on_an_empty_case_does_not_say_all_clear(tmp_path: Path) -> None:
    call(tmp_path, "new", "c", "--site", "s", "--time-zone", "UTC")
    said = call(tmp_path, "next", "c").stdout  # type: ignore[attr-defined]
    assert "no spot has been read yet" in said
    assert "[ ] gas: not answered" in said


def test_a_console_without_these_letters_shows_what_it_can(tmp_path: Path) -> None:
    """Office consoles still speak CP1252: no traceback, a question mark for what they lack."""
    call(tmp_path, "new", "c\u25cc", "--site", "s", "--time-zone", "UTC")
    environment = os.environ | {"PYTHONIOENCODING": "cp1252"}
    command = [sys.executable, "-m", "desorb.cli.main", "--home", str(tmp_path), "cases"]
    done = subprocess.run(command, capture_output=True, env=environment, check=False)
    assert done.returncode == 0
    assert b"Traceback" not in done.stderr


def test_a_refused_new_has_written_nothing(tmp_path: Path) -> None:
    words = ("new", "c", "--site", "s", "--time-zone", "UTC", "--sheet", str(tmp_path / "missing.toml"))
    assert call(tmp_path, *words).exit_code != 0  # type: ignore[attr-defined]
    assert "no case yet" in call(tmp_path, "cases").stdout  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "table",
    [
        '[[zone]]\nid = ""\nwords = "x"\nconstruction = ""',
        '[[zone]]\nid = "z"\nwords = "x"\nconstruction = "nowhere"',
        '[[scan]]\nvisit = "v1"\nzone = "moon"\nelement = "floor"\narea_m2 = "4"\nspacing_m = "1"\nedge = "x"\nat = "2026-03-02"',
        '[[construction]]\nid = "c"\nwords = "x"\nmaterial = "brick"\nbuilt = "soon"',
        '[[readiness]]\ninstrument = "m1"\nvisit = "v1"\nbattery = "flat"',
    ],
)
def test_a_sheet_does_not_keep_nonsense(tmp_path: Path, table: str) -> None:
    call(tmp_path, "new", "c", "--site", "s", "--time-zone", "UTC")
    (tmp_path / "s.toml").write_text(table, encoding="utf-8")
    done = call(tmp_path, "take", "c", str(tmp_path / "s.toml"))
    assert done.exit_code == 7  # type: ignore[attr-defined]
    assert "not taken: row 1" in done.stdout  # type: ignore[attr-defined]


COLD_WOOD = """
[[instrument]]
id = "pad"
words = "invented"

[[instrument.scales]]
key = "wood scale"
principle = "electrical resistance"
claims = "wood equivalent"
method = "wood"
material = "wood"
basis = "dry"
unit = "%"
bottom = "6"
top = "60"
resolution = "0.1"
face = "wood"

[[instrument.corrections]]
scale = "wood scale"
source = "invented table"
temperatures = ["0", "20", "30"]
additions = ["3", "0", "-1"]
species = ["oak"]
species_additions = ["2"]

[[construction]]
id = "roof"
words = "oak roof"
material = "wood"

[[zone]]
id = "loft"
words = "loft"
construction = "roof"
"""


def test_the_instruments_own_table_is_used_whatever_the_scale_claims(tmp_path: Path) -> None:
    """13.2 in wood at 0 degC is 18.2 by the table; against controls at 25 degC it must not pass as no higher."""
    import json

    sheet, table = tmp_path / "s.toml", tmp_path / "r.csv"
    sheet.write_text(COLD_WOOD, encoding="utf-8")
    rows = [
        "visit,taken_at,spot,zone,element,role,instrument,scale,scale_shown,value,covering,temperature_degC,species"
    ]
    values = [("c1", "control", "13.0", "25"), ("c2", "control", "13.2", "25"), ("c3", "control", "13.1", "25"),
              ("k1", "survey", "13.2", "0")]  # fmt: skip
    for number, (spot, role, value, celsius) in enumerate(values):
        shown = "wood" if number == 0 else ""
        rows.append(
            f"v1,2026-03-02T10:0{number},{spot},loft,rafters,{role},pad,wood scale,{shown},{value},bare,{celsius},oak"
        )
    table.write_text("\n".join(rows) + "\n", encoding="utf-8")
    home = tmp_path / "home"
    call(home, "instrument", str(sheet))
    call(home, "new", "c", "--site", "s", "--time-zone", "UTC")
    call(home, "take", "c", str(sheet))
    assert call(home, "take", "c", str(table)).exit_code == 0  # type: ignore[attr-defined]
    spot = json.loads(call(home, "assess", "c", "--json").stdout)[0]  # type: ignore[attr-defined]
    assert spot["value"] == pytest.approx(18.2)
    assert spot["status"] != "no higher than control"
