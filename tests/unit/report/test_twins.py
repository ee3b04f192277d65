"""The twins for machines: the JSON holds everything, the CSV opens anywhere and runs nowhere."""

from __future__ import annotations

import csv
import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_case import at, open_book, rendered, small_book, small_document, small_render

from desorb.core.case import Case
from desorb.core.kinds import Note
from desorb.report.twins import COLUMNS, cell, csv_twins, json_twin


def rows_of(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8"), newline="")))


def test_the_json_is_the_dataset_sorted_with_a_newline_at_its_end() -> None:
    twin = json_twin(small_document())
    loaded = json.loads(twin)
    assert loaded == small_document()
    assert loaded["schema"] == "desorb-report/1"
    assert list(loaded) == sorted(loaded)
    assert twin.endswith(b"}\n")
    assert "\u2265".encode() in twin  # as UTF-8, not as an escape


def test_a_number_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        json_twin({"value": float("nan")})


@pytest.mark.parametrize("text", ["=1+1", "+a", "-a", "@sum", "\tx", "\rx", "-3 -4", "=cmd|' /C calc'!A0"])
def test_text_that_could_run_is_made_harmless(text: str) -> None:
    assert cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["-3", "+3", "-12,5", "-.5", "12.30", "", "a=b", "3-4", "\u22123"])
def test_numbers_and_plain_text_stay_as_typed(text: str) -> None:
    assert cell(text) == text


def test_numbers_stay_numbers() -> None:
    assert [cell(value) for value in (-3, -3.5, 0.1, True, False, None)] == ["-3", "-3.5", "0.1", "yes", "no", ""]
    assert cell(["-3", "4"]) == "'-3 | 4"
    assert cell(["=x"]) == "'=x"


@given(st.text(max_size=40))
def test_no_text_can_start_a_formula(text: str) -> None:
    written = cell(text)
    try:
        float(written.replace(",", "."))
    except ValueError:
        assert not written.startswith(("=", "+", "-", "@", "\t", "\r"))
    assert written in (text, f"'{text}")


def test_every_table_is_there_and_has_its_header() -> None:
    twins = csv_twins(small_document())
    assert set(twins) == {f"{name}.csv" for name in COLUMNS}
    for name, columns in COLUMNS.items():
        content = twins[f"{name}.csv"].decode("utf-8")
        assert content.split("\r\n")[0] == ",".join(columns)
        assert content.endswith("\r\n")
        assert "\n" not in content.replace("\r\n", "")


def test_an_empty_case_gives_headers_only() -> None:
    tables = rendered(Case(id="empty")).csv
    assert tables.pop("gates.csv").count(b"\r\n") == 4  # the gates of entering are asked in any case
    for content in tables.values():
        assert content.count(b"\r\n") == 1


def test_every_reading_has_its_row_with_entry_and_state() -> None:
    rows = rows_of(small_render().csv["readings.csv"])
    assert len(rows) == len(small_document()["readings"])
    struck = next(row for row in rows if row["state"] == "struck")
    assert struck["repeats"] == "410"
    assert "one nought too many" in struck["remarks"]
    counting = next(row for row in rows if row["spot"] == "s1" and row["visit"] == "v1")
    assert counting["repeats"] == "64 | 73 | 65"
    assert float(counting["value"]) == 65
    assert counting["entry"].startswith("phone-7c2e/")


def test_controls_tell_used_set_aside_and_refused() -> None:
    rows = rows_of(small_render().csv["controls.csv"])
    assert {"used", "refused"} <= {row["use"] for row in rows}
    refused = next(row for row in rows if row["use"] == "refused" and row["covering"] == "vinyl")
    assert "covering" in refused["why"]


def test_corrections_and_gates_have_their_rows() -> None:
    corrections = rows_of(small_render().csv["corrections.csv"])
    assert [row["what"] for row in corrections] == ["struck", "struck", "lawfully removed"]
    gates = rows_of(small_render().csv["gates.csv"])
    assert {row["when"] for row in gates} >= {"on arrival"}
    assert "stop" in {row["state"] for row in gates}


def test_quotes_commas_and_line_ends_come_back_as_they_were() -> None:
    book = small_book()
    words = 'he said "wet", then\nleft; a comma, a \u20ac and \u05e9\u05dc\u05d5\u05dd'
    book.strike("readings", 0, words, "R. Marsh", at(21))
    rows = rows_of(rendered(book.case()).csv["corrections.csv"])
    assert words in {row["why"] for row in rows}


def test_a_case_with_a_dangerous_name_has_twins() -> None:
    book = open_book("=HYPERLINK()")
    book.write(Note("@here", at(0)))
    assert json.loads(rendered(book.case()).json)["case"]["name"] == "=HYPERLINK()"
