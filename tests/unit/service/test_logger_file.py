"""A logger's file is read as stated: clock, units, decimal commas; whatever is left out is counted and named by line."""

from __future__ import annotations

import inspect
import json
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from typer.testing import CliRunner

from desorb.cli.logs import logger_command
from desorb.cli.main import app
from desorb.core.logger import LEAST_DAYS
from desorb.core.surface_log import LONGEST_GAP
from desorb.errors import InputError, NotUnderstood, OutOfRange, Refused
from desorb.service.logger_cells import Columns, Stated
from desorb.service.logger_file import LoggerFile, read_logger_file

COLUMNS = Columns("time", "t", "rh")
STATED = Stated(COLUMNS, "C", "percent", "Europe/London")
LONDON = ZoneInfo("Europe/London")


def read(folder: Path, text: str | bytes, stated: Stated = STATED, **more: float) -> LoggerFile:
    path = folder / "log.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_logger_file(path, stated, **more)


def walls(start: datetime, minutes: int, count: int, zone: ZoneInfo = LONDON) -> list[str]:
    """What a clock on the wall of the zone shows every so many minutes from an instant on."""
    times = (start + timedelta(minutes=minutes * n) for n in range(count))
    return [each.astimezone(zone).strftime("%Y-%m-%d %H:%M") for each in times]


def table(times: list[str], values: str = "20.0,55.0", head: str = "time,t,rh") -> str:
    return "\n".join([head, *(f"{each},{values}" for each in times)]) + "\n"


@pytest.mark.parametrize("minutes", [10, 30, 60])
@pytest.mark.parametrize("change", [datetime(2026, 10, 25, 1, tzinfo=UTC), datetime(2026, 3, 29, 1, tzinfo=UTC)])
def test_both_changes_of_summer_time_leave_every_step_as_it_was(tmp_path: Path, minutes: int, change: datetime) -> None:
    """Task 54: a clock that changes with London; no step is an hour longer or shorter (zoneinfo made the wall times)."""
    start = change - timedelta(hours=5)
    count = 600 // minutes
    found = read(tmp_path, table(walls(start, minutes, count)))
    expected = [int(start.timestamp()) + 60 * minutes * n for n in range(count)]
    assert found.utc.tolist() == expected
    report = found.report
    assert (report.rows_kept, report.duplicates_same, report.out_of_order, report.gaps) == (count, 0, 0, ())
    autumn = change.month == 10
    assert report.repeated_hour_rows == (120 // minutes if autumn else 0)
    assert any("by their order in the file" in each for each in report.notes) == autumn


def test_a_zone_that_changes_a_minute_past_midnight(tmp_path: Path) -> None:
    """Newfoundland changed at 00:01 until 2011; the hour is asked row by row (rule in tzdata)."""
    zone = ZoneInfo("America/St_Johns")
    start = datetime(2010, 11, 7, 0, tzinfo=UTC)
    found = read(tmp_path, table(walls(start, 1, 400, zone)), replace(STATED, zone="America/St_Johns"))
    assert np.diff(found.utc).tolist() == [60] * 399
    assert found.utc[0] == start.timestamp()


def test_two_rows_that_changed_places_do_not_start_the_second_pass(tmp_path: Path) -> None:
    """In the repeated hour a row out of order is out of order, and the second pass starts where the clock went back."""
    times = walls(datetime(2026, 10, 24, 22, tzinfo=UTC), 10, 40)
    first = times.index("2026-10-25 01:10")
    times[first], times[first + 1] = times[first + 1], times[first]
    found = read(tmp_path, table(times))
    assert np.diff(found.utc).tolist() == [600] * 39
    assert found.report.out_of_order == 1


def test_a_repeated_hour_passed_once_is_said(tmp_path: Path) -> None:
    """A logger that was not put back: its hour is taken as the first pass and the reader is told what to do."""
    times = [f"2026-10-25 {hour:02d}:{minute:02d}" for hour in range(4) for minute in (0, 20, 40)]
    found = read(tmp_path, table(times))
    assert any("passed once only" in each and "fixed offset" in each for each in found.report.notes)
    assert np.diff(found.utc).max() == 4800  # the hour that nobody logged


def test_rows_in_the_hour_that_spring_skips_are_left_out_and_explained(tmp_path: Path) -> None:
    """A logger that was not put forward shows times that do not exist; with its fixed offset all is well."""
    times = [f"2026-03-29 {hour:02d}:{minute:02d}" for hour in range(4) for minute in (0, 30)]
    found = read(tmp_path, table(times))
    assert (found.report.missing_hour_rows, found.report.rows_kept) == (2, 6)
    assert any("Next: read the file again with the fixed offset" in each for each in found.report.notes)
    fixed = read(tmp_path, table(times), replace(STATED, zone="+00:00"))
    assert np.diff(fixed.utc).tolist() == [1800] * 7


def test_the_clock_offset_is_taken_off(tmp_path: Path) -> None:
    """Task 54: a clock 90 s ahead; what it calls 12:00 was 11:58:30."""
    found = read(tmp_path, table(["2026-01-05 12:00", "2026-01-05 12:10"]), replace(STATED, clock_offset=90))
    assert found.report.first == "2026-01-05T11:58:30Z"
    with pytest.raises(OutOfRange, match="compare the logger with a true clock"):
        read(tmp_path, "", replace(STATED, clock_offset=10**9))


def test_civil_days_are_those_of_the_zone(tmp_path: Path) -> None:
    """The daily range is of days as people live them: 23:30 UTC in July is the next day in London."""
    found = read(tmp_path, table(["2026-07-01 00:10", "2026-07-01 00:20", "2026-07-02 00:10"]))
    assert np.diff(found.air.days).tolist() == [0, 1]


@pytest.mark.parametrize(
    ("stated", "values", "words"),
    [
        (STATED, "20,0.55", "fraction"),
        (replace(STATED, humidity_unit="fraction"), "20,55", "state the unit 'percent'"),
        (STATED, "68,55", "state F"),
    ],
)
def test_a_unit_that_cannot_be_is_refused_with_the_next_step(
    tmp_path: Path, stated: Stated, values: str, words: str
) -> None:
    """A fraction stated as percent would make every room dry; percent as fraction every room wet; 68 is degF."""
    with pytest.raises(Refused, match=words):
        read(tmp_path, table(walls(datetime(2026, 1, 5, tzinfo=UTC), 10, 50), values), stated)


def test_units_are_converted_and_never_guessed(tmp_path: Path) -> None:
    """68 degF is 20 degC and 0.55 is 55 % (exact by definition); without a stated unit nothing is read."""
    text = table(["2026-01-05 12:00", "2026-01-05 12:10"], "68,0.55")
    found = read(tmp_path, text, replace(STATED, temperature_unit="F", humidity_unit="fraction"))
    assert found.air.temperature.tolist() == pytest.approx([20, 20])
    assert found.air.relative_humidity.tolist() == pytest.approx([55, 55])
    for wrong in ({"temperature_unit": ""}, {"humidity_unit": ""}, {"zone": ""}, {"zone": "Europe/Nowhere"}):
        with pytest.raises(InputError):
            read(tmp_path, text, replace(STATED, **wrong))
    named = replace(STATED, columns=Columns("time", "t (°F)", "rh"))
    with pytest.raises(InputError, match="not the one in the column's name"):
        read(tmp_path, table(["2026-01-05 12:00"], head="time,t (°F),rh"), named)


def test_repeats_that_agree_are_dropped_and_those_that_differ_are_not_believed(tmp_path: Path) -> None:
    """The same row twice is one row; two figures for one time are none, and their lines are named."""
    times = walls(datetime(2026, 1, 5, tzinfo=UTC), 10, 6)
    text = table(times) + f"{times[1]},20.0,55.0\n{times[3]},23.0,55.0\n"
    report = read(tmp_path, text).report
    assert (report.rows_read, report.rows_kept) == (8, 5)
    assert (report.duplicates_same, report.duplicates_differing, report.out_of_order) == (1, 2, 2)
    assert report.differing_lines == (5, 9)


def test_gaps_longer_than_stated_are_named_and_the_stated_step_itself_is_none(tmp_path: Path) -> None:
    """Exactly six hours is no gap at the setting of six, at any minute of the hour; a minute more is."""
    times = ["2026-01-05 00:10", "2026-01-05 06:10", "2026-01-05 12:10", "2026-01-05 18:11"]
    found = read(tmp_path, table(times))
    assert [gap[:2] for gap in found.report.gaps] == [("2026-01-05T12:10:00Z", "2026-01-05T18:11:00Z")]
    assert len(found.air.air().gaps()) == 1
    assert len(read(tmp_path, table(times), longest_gap=1).report.gaps) == 3


def test_what_is_not_understood_is_shown_by_line_and_the_rest_is_read(tmp_path: Path) -> None:
    """Words for figures, a broken row, an impossible day, an odd quotation mark; the first 20 are shown."""
    times = walls(datetime(2026, 1, 5, tzinfo=UTC), 10, 90)
    rows = ["2026-02-30 00:00,20,55", "2026-01-05 30:00,20,55", f"{times[0]},Err,55", f"{times[0]},20", '"2026,20,55',
            f"{times[0]},20,55,7", f"{times[0]},nan,55", f"{times[0]},1_5,55", "", ",,"]  # fmt: skip
    report = read(tmp_path, table(times) + "\n".join(rows) + "\n").report
    assert (report.rows_read, report.rows_kept, report.not_understood, report.blank_lines) == (98, 90, 8, 2)
    lines = [int(each.split(",")[0].removeprefix("line ")) for each in report.first_not_understood]
    assert lines == list(range(92, 100))
    assert "got 'Err'; wanted a number in C" in report.first_not_understood[2]
    many = read(tmp_path, table(times) + f"{times[0]},Err,55\n" * 50).report
    assert (many.not_understood, len(many.first_not_understood)) == (50, 20)


def test_implausible_values_are_kept_out_and_counted(tmp_path: Path) -> None:
    """A torn cable reads -200 degC and 0 %; a surface sensor that fell off costs only its own figure."""
    times = walls(datetime(2026, 1, 5, tzinfo=UTC), 10, 8)
    text = table(times[:5], "20,55,14", "time,t,rh,s")
    text += f"{times[5]},-200,55,14\n{times[6]},20,0,14\n{times[7]},20,55,999\n"
    found = read(tmp_path, text, replace(STATED, columns=Columns("time", "t", "rh", "s")))
    assert sum(found.report.implausible.values()) == 2
    assert found.report.implausible_lines == (7, 8)
    assert (found.report.rows_kept, found.report.surface_cells_left_out) == (6, 1)
    assert found.air.surface_temperature is not None
    assert np.isnan(found.air.surface_temperature[-1])


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-8-sig", "utf-8", "cp1252"])
@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_decimal_commas_semicolons_and_encodings(tmp_path: Path, encoding: str, delimiter: str) -> None:
    """A continental export: preamble, semicolons, decimal commas, day first, a degree sign, Windows line ends."""
    lines = ["Gerät;7", "", "Nr;Zeit;T °C;RF %", "1;5.1.2026 09:00;20,5;55,25", "2;05.01.2026 09:10;-1,5;61 %"]
    text = "\r\n".join(lines).replace(";", delimiter)
    stated = Stated(Columns("Zeit", "T °C", "RF %"), "C", "percent", "Europe/Berlin", time_format="%d.%m.%Y %H:%M")
    found = read(tmp_path, text.encode(encoding), stated)
    assert found.air.temperature.tolist() == [20.5, -1.5]
    assert found.air.relative_humidity.tolist() == [55.25, 61]
    assert found.report.first == "2026-01-05T08:00:00Z"
    assert any("decimal commas" in each for each in found.report.notes)


def test_decimal_commas_between_commas_are_refused_in_words(tmp_path: Path) -> None:
    """20,5 in a table with commas cannot be told from two cells."""
    with pytest.raises(NotUnderstood, match="semicolons or tabs"):
        read(tmp_path, table(walls(datetime(2026, 1, 5, tzinfo=UTC), 10, 9), "20,5,55,2"))


def test_day_and_month_are_never_guessed(tmp_path: Path) -> None:
    """03/04/2026 is April or March: the format must be stated, and the wrong one does not pass."""
    days = [f"{day:02d}/04/2026 12:00" for day in range(1, 31)]
    with pytest.raises(NotUnderstood, match="state how times are written"):
        read(tmp_path, table(days))
    with pytest.raises(NotUnderstood, match="state how times are written"):
        read(tmp_path, table(days), replace(STATED, time_format="%m/%d/%Y %H:%M"))
    assert read(tmp_path, table(days), replace(STATED, time_format="%d/%m/%Y %H:%M")).report.rows_kept == 30
    with pytest.raises(InputError, match="year, month, day"):
        read(tmp_path, table(days), replace(STATED, time_format="%d/%m/%Y"))


@pytest.mark.parametrize(
    ("written", "form"),
    [
        ("2026-01-05T09:00:00", ""), ("2026/01/05 09:00:00", ""), ("2026-01-05 09:00:00.250", ""),
        ("2026-01-05T10:00:00+01:00", ""), ("2026-01-05T09:00:00Z", ""),
        ("01/05/26 09:00 AM", "%m/%d/%y %I:%M %p"), ("01/05/26 9:00 a.m.", "%m/%d/%y %I:%M %p"),
        ("1/5/2026 9:00", "%m/%d/%Y %H:%M"),
    ],
)  # fmt: skip
def test_forms_of_time(tmp_path: Path, written: str, form: str) -> None:
    """One instant in many spellings; an offset in the row itself goes before the zone."""
    text = table(
        [written, "2026-01-05 11:00"] if not form else [written, written.replace("09:", "11:").replace(" 9:", " 11:")]
    )
    assert read(tmp_path, text, replace(STATED, time_format=form)).report.first == "2026-01-05T09:00:00Z"


@pytest.mark.parametrize("space", [" ", "  "])
def test_noon_and_midnight_of_a_twelve_hour_clock(tmp_path: Path, space: str) -> None:
    """12 AM is midnight and 12 PM noon, read column by column or cell by cell; 13 PM and 00 AM are nothing."""
    form = "%m/%d/%Y %I:%M:%S %p"
    hours = ["12:10:00 AM", "01:00:00 am", "12:10:00 PM", "11:50:30 PM", "13:00:00 PM", "00:00:00 AM", "11:00:00 XM"]
    found = read(
        tmp_path,
        table([f"01/05/2026{space}{each}" for each in hours]),
        replace(STATED, time_format=form.replace(" ", space, 1)),
    )
    assert [found.report.first, found.report.last] == ["2026-01-05T00:10:00Z", "2026-01-05T23:50:30Z"]
    assert (found.report.rows_kept, found.report.not_understood) == (4, 3)
    ragged = read(tmp_path, table([f"1/5/2026 {each}" for each in hours]), replace(STATED, time_format=form))
    assert ragged.utc.tolist() == found.utc.tolist()


def test_every_row_is_accounted_for(tmp_path: Path) -> None:
    """Rows read are rows kept and rows left out, each for one reason: nothing goes missing without a word."""
    times = walls(datetime(2026, 3, 29, 0, tzinfo=UTC), 10, 30)
    extra = ["2026-03-29 01:10,20,55", f"{times[2]},-99,-1", "x,20,55", f"{times[4]},20.0,55.0", f"{times[5]},1,55"]
    report = read(tmp_path, table(times) + "\n".join(extra)).report
    left_out = report.not_understood + sum(report.implausible.values()) + report.missing_hour_rows
    left_out += report.duplicates_same + report.duplicates_differing
    assert left_out == 1 + 1 + 1 + 1 + 2
    assert report.rows_read == report.rows_kept + left_out == 35


def test_newest_first_and_a_date_of_its_own(tmp_path: Path) -> None:
    """Some loggers write backwards, also through the repeated hour; some keep day and hour in two columns."""
    start = datetime(2026, 10, 24, 22, tzinfo=UTC)
    times = [each.replace(" ", ",") for each in walls(start, 10, 40)]
    stated = replace(STATED, columns=Columns("time", "t", "rh", date="day"))
    found = read(tmp_path, table(times[::-1], head="day,time,t,rh"), stated)
    assert np.diff(found.utc).tolist() == [600] * 39
    assert found.report.out_of_order == 0
    assert any("newest row to the oldest" in each for each in found.report.notes)


def test_other_files_are_named_and_the_way_out_is_said(tmp_path: Path) -> None:
    """A spreadsheet is not read here: the sentence says what it is and what to do."""
    with pytest.raises(NotUnderstood, match=r"spreadsheet.*write it out as CSV"):
        read(tmp_path, b"PK\x03\x04" + b"\0" * 50)
    with pytest.raises(NotUnderstood, match="check its name and place"):
        read_logger_file(tmp_path / "none.csv", STATED)


def test_parquet_without_its_reader_says_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """pyarrow is an optional part of the installation: without it the way out is said."""
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(NotUnderstood, match="install desorb with its part 'parquet'"):
        read(tmp_path, b"PAR1" + b"\0" * 50)


@pytest.mark.oracle
def test_a_parquet_file_says_what_its_csv_says(tmp_path: Path) -> None:
    """The same rows by CSV and by Parquet, times with and without an offset: the same log. What is damaged ends in words."""
    pyarrow = pytest.importorskip("pyarrow")
    parquet = pytest.importorskip("pyarrow.parquet")
    naive = [datetime(2026, 1, 5, hour) for hour in range(24)]
    values = [(20.5 + hour % 10, 50.25 + hour % 7) for hour in range(24)]
    lines = [f"{time.isoformat(' ')},{t},{rh}" for time, (t, rh) in zip(naive, values, strict=True)]
    by_csv = read(tmp_path, "\n".join(["time,t,rh", *lines]) + "\n")
    path = tmp_path / "log.parquet"
    for times in (naive, [time.replace(tzinfo=LONDON).astimezone(UTC) for time in naive]):
        columns = {"time": times, "t": [t for t, _ in values], "rh": [rh for _, rh in values]}
        parquet.write_table(pyarrow.table(columns), path)
        found = read_logger_file(path, STATED)
        assert found.utc.tolist() == by_csv.utc.tolist()
        assert found.air.temperature.tolist() == by_csv.air.temperature.tolist()
        assert found.air.relative_humidity.tolist() == by_csv.air.relative_humidity.tolist()
    path.write_bytes(path.read_bytes()[:-20])
    with pytest.raises(NotUnderstood, match="write it out as CSV"):
        read_logger_file(path, STATED)


@pytest.mark.parametrize(
    "text", ["", "time,t,rh\n", "time,t,rh,rh\n2026-01-05 12:00,20,55,55\n", "when,t,rh\n", table(["2026-01-05 12:00"])]
)
def test_files_without_a_log_end_in_words(tmp_path: Path, text: str) -> None:
    """Empty, header only, a name twice, a column that is not there, one row: a sentence with the next step."""
    with pytest.raises(InputError, match="Next:"):
        read(tmp_path, text)


def test_the_command_tells_of_ten_days(tmp_path: Path) -> None:
    """Task 54 from the door: ten days at ten minutes over the autumn change, inside and outside, clock 120 s ahead."""
    times = walls(datetime(2026, 10, 20, tzinfo=UTC), 10, 1441)
    inside, outside = tmp_path / "in.csv", tmp_path / "out.csv"
    inside.write_text(table(times, "18.0,68,12.9", "time,t,rh,s"))
    outside.write_text(table(times, "8.0,85,", "time,t,rh,s"))
    words = ["logger", str(inside), "--time", "time", "--temperature", "t", "--humidity", "rh", "--surface", "s"]
    words += ["--temperature-unit", "C", "--humidity-unit", "percent", "--clock-zone", "Europe/London"]
    words += ["--clock-offset", "120", "--outside", str(outside), "--outside-clock-offset", "120"]
    ran = CliRunner().invoke(app, [*words, "--json"])
    assert ran.exit_code == 0, ran.output
    found = json.loads(ran.stdout)
    assert found["summary"]["surface"]["hours_above"] == pytest.approx(240)
    assert found["summary"]["excess"]["hectopascal"] == pytest.approx(14.03 - 9.12, abs=0.05)  # [ASHRAE17] table 3
    assert found["summary"]["representative"] is True
    assert found["file"]["repeated_hour_rows"] == 12
    assert found["file"]["first"] == "2026-10-19T23:58:00Z"
    shown = CliRunner().invoke(app, words).stdout
    assert "240.0 h of 240.0 h above 80 %" in shown
    assert "nobody looked for mould" in shown
    without_zone = (
        CliRunner().invoke(app, [word for word in words if word not in ("--clock-zone", "Europe/London")]).exception
    )
    assert isinstance(without_zone, InputError), "nothing is assumed"
    assert "zone of the logger's clock" in str(without_zone)


def test_the_command_has_the_defaults_of_the_core() -> None:
    """The door does not import the core to know them."""
    given = inspect.signature(logger_command).parameters
    assert given["longest_gap"].default == LONGEST_GAP
    assert given["least_days"].default == LEAST_DAYS
