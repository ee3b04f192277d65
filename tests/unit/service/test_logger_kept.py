"""A logger file is kept in the case with what it says; it travels in the bag; read again it says the same.

The figures are counted by hand from the rows below: hourly, 24 h, one gap of 7 h, one row twice.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from case_builder import Desk, clock
from typer.testing import CliRunner

from desorb.cli.main import app
from desorb.core.kinds import LoggerTaken
from desorb.errors import InputError, NotFound, NotUnderstood, RecordDamaged
from desorb.notebook import attachments
from desorb.notebook.bag import export_bag, import_bag
from desorb.notebook.store import Store
from desorb.notebook.verify import verify_bag, verify_store
from desorb.service.cases import find_case, load, write
from desorb.service.logger_cells import Columns, Stated
from desorb.service.logger_kept import keep_logger, read_again

STATED = Stated(Columns("time", "t", "rh", "s"), "C", "percent", "+00:00", 60)
NOW = "2026-12-24T12:00:00.000Z"


def _text(hours: tuple[int, ...] = (0, 1, 2, 3, 10, 11, 11)) -> str:
    """Air at 10 to 12 degC and 80 % (hours 0 to 2), 60 % after; the surface as warm as the air."""
    rows = [
        f"2026-01-05 {hour:02}:00,{10 + hour / 10:.1f},{80 if hour < 3 else 60},{10 + hour / 10:.1f}" for hour in hours
    ]
    return "\n".join(["time,t,rh,s", *rows]) + "\n"


def _file(folder: Path, text: str = "", name: str = "kitchen.csv") -> Path:
    path = folder / name
    path.write_text(text or _text())
    return path


def _keep(desk: Desk, folder: Path, **parts: str) -> LoggerTaken:
    words = {"id": "log1", "zone": "kitchen", "place": "behind the units", "by": "R. Marsh"} | parts
    return keep_logger(desk.store, desk.case, _file(folder), STATED, clock=clock, **words)[1]


def _figures(taken: LoggerTaken) -> dict[str, str]:
    return {each.name: f"{each.value} {each.unit}".strip() for each in taken.figures}


def test_what_a_file_says_is_written_with_the_file_kept(desk: Desk, tmp_path: Path) -> None:
    taken = _keep(desk, tmp_path)
    found = _figures(taken)
    assert taken.sha256 == hashlib.sha256(_text().encode()).hexdigest()
    assert desk.store.attachment(taken.sha256) == _text().encode()
    assert (taken.rows, taken.first_at, taken.last_at) == ("6", "2026-01-04T23:59:00Z", "2026-01-05T10:59:00Z")
    assert found["gaps"] == "1"
    assert found["time in gaps"] == "7.0 h"
    assert found["rows repeated, the same"] == "1"
    assert found["air temperature, lowest"] == "10.0 degC"
    assert found["air temperature, median"] == "10.2 degC"
    assert found["air temperature, highest"] == "11.1 degC"
    assert found["relative humidity of the air, median"] == "70.0 %"
    assert found["hours at or above 80 % in the air"] == "3.0 h"
    assert found["hours logged in the air"] == "4.0 h"
    assert found["hours at or above 80 % at the surface"] == "3.0 h"
    assert found["relative humidity at the surface, highest"] == "80.0 %"
    assert any(each.startswith("gap of 7.0 h") for each in taken.findings)
    assert load(desk.store, desk.case).logger_files[-1].record == taken


def test_the_kept_file_read_again_says_the_same(desk: Desk, tmp_path: Path) -> None:
    _keep(desk, tmp_path)
    assert read_again(desk.store, desk.case, "log1") == ()
    text = "Serial: 5\nDay;Hour;T (°F);RH;\n" + "".join(f"05/01/2026;{hour:02}:00;50,0;0,81;\n" for hour in range(5))
    stated = Stated(Columns("Hour", "T (°F)", "RH", "", "Day"), "F", "fraction", "Europe/London", -7, "%d/%m/%Y %H:%M")
    path = _file(tmp_path, text, "other, with a name.txt")
    kept = keep_logger(
        desk.store, desk.case, path, stated, id="log2", zone="kitchen", place="loft", longest_gap=2.5, clock=clock
    )
    assert _figures(kept[1])["air temperature, median"] == "10.0 degC"
    assert not any("surface" in name for name in _figures(kept[1]))
    assert read_again(desk.store, desk.case, "log2") == ()


def test_what_differs_is_named(desk: Desk, tmp_path: Path) -> None:
    """An entry whose figures are not those of its file is found out, part by part."""
    taken = _keep(desk, tmp_path)
    write(desk.store, desk.case, [replace(taken, rows="7")], clock)
    assert read_again(desk.store, desk.case, "log1") == ("rows: then '7', now '6'",)
    write(desk.store, desk.case, [replace(taken, columns=("time: time",))], clock)
    with pytest.raises(NotUnderstood, match="how logger 'log1' was understood"):
        read_again(desk.store, desk.case, "log1")


def test_bytes_that_changed_or_are_missing_are_said(desk: Desk, tmp_path: Path) -> None:
    taken = _keep(desk, tmp_path)
    path = attachments.path_of(desk.store.home, taken.sha256)
    path.write_bytes(b"time,t,rh,s\n")
    with pytest.raises(RecordDamaged, match="not the one that was read"):
        read_again(desk.store, desk.case, "log1")
    assert any("logger file" in each for each in verify_store(desk.store, desk.case.id).faults)
    path.unlink()
    with pytest.raises(NotFound, match="is not in this store"):
        read_again(desk.store, desk.case, "log1")
    with pytest.raises(NotFound, match="no logger file 'log9'"):
        read_again(desk.store, desk.case, "log9")


@pytest.mark.parametrize(("part", "value"), [("id", " "), ("zone", ""), ("place", ""), ("zone", "moon")])
def test_where_it_hung_is_never_left_open(desk: Desk, tmp_path: Path, part: str, value: str) -> None:
    with pytest.raises(InputError, match="Next:"):
        _keep(desk, tmp_path, **{part: value})
    assert load(desk.store, desk.case).logger_files == ()


def test_parquet_is_refused_with_the_way_round(desk: Desk, tmp_path: Path) -> None:
    """No library for it is among what desorb needs; nothing is kept of a file that is not read."""
    path = tmp_path / "log.parquet"
    path.write_bytes(b"PAR1 and more")
    with pytest.raises(NotUnderstood, match=r"Parquet.*log\.parquet.*as CSV"):
        keep_logger(desk.store, desk.case, path, STATED, id="log1", zone="kitchen", place="loft", clock=clock)
    assert desk.store.attachment(hashlib.sha256(path.read_bytes()).hexdigest()) is None


def test_the_file_travels_in_the_bag_and_says_the_same_there(desk: Desk, tmp_path: Path) -> None:
    taken = _keep(desk, tmp_path)
    bag = export_bag(desk.store, desk.case.id, tmp_path / "bag", now=NOW)
    carried = bag / "data" / "files" / f"{taken.sha256}.csv"
    assert carried.read_bytes() == _text().encode()
    verified = verify_bag(bag)
    assert verified.faults == ()
    assert not any("named by no entry" in each for each in verified.notes)
    with Store(tmp_path / "elsewhere") as store:
        import_bag(store, bag)
        assert read_again(store, find_case(store, desk.case.name), "log1") == ()


def test_a_bag_without_the_file_says_so_by_both_verifiers(desk: Desk, tmp_path: Path) -> None:
    """The store has lost it: the bag is made and tells of it, also to someone who has only Python."""
    taken = _keep(desk, tmp_path)
    attachments.path_of(desk.store.home, taken.sha256).unlink()
    bag = export_bag(desk.store, desk.case.id, tmp_path / "bag", now=NOW)
    assert any("logger file" in each and "awaited" in each for each in verify_bag(bag).notes)
    ran = subprocess.run([sys.executable, bag / "verify.py", bag], capture_output=True, text=True, check=False)
    assert f"files/{taken.sha256[:12]}" in ran.stdout + ran.stderr


def test_the_command_keeps_and_compares(desk: Desk, tmp_path: Path) -> None:
    """From the door: keep, read again; a name of a case that is missing, and a file beside --kept, are refused."""
    file, home, name = str(_file(tmp_path)), ["--home", str(tmp_path / "store")], desk.case.name
    desk.store.close()
    words = [
        *home,
        "logger",
        file,
        "--time",
        "time",
        "--temperature",
        "t",
        "--humidity",
        "rh",
        "--temperature-unit",
        "C",
    ]
    words += [
        "--humidity-unit",
        "percent",
        "--clock-zone",
        "+00:00",
        "--zone",
        "kitchen",
        "--place",
        "loft",
        "--id",
        "log1",
    ]
    run = CliRunner().invoke
    assert "kept in no case" in str(run(app, words).exception)
    ran = run(app, [*words, "--case", name])
    assert ran.exit_code == 0, ran.output
    assert "kept in" in ran.stdout
    again = [*home, "logger", "--kept", "log1", "--case", name]
    assert run(app, again).stdout == "log1: same\n"
    assert json.loads(run(app, [*again, "--json"]).stdout) == {"id": "log1", "same": True, "differing": []}
    assert "read from its case" in str(run(app, [*home, "logger", file, "--kept", "log1"]).exception)
    assert "no file of a logger" in str(run(app, [*home, "logger"]).exception)
    shown = json.loads(run(app, [*home, "drying", name, "--part", "loggers", "--json"]).stdout)
    assert [each["id"] for each in shown] == ["log1"]
    with Store(tmp_path / "store") as store:
        taken = load(store, find_case(store, name)).logger_files[-1].record
        write(store, find_case(store, name), [replace(taken, rows="7")], clock)
    differs = run(app, again)
    assert (differs.exit_code, differs.stdout) == (5, "rows: then '7', now '6'\n")
