"""service/tables_in.py: tables as they come out of spreadsheets, notebooks and old programs."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from desorb.errors import NotUnderstood
from desorb.service import tables_in
from desorb.service.tables_in import RowProblem, decode, read_table

KNOWN, REQUIRED = ("spot", "value", "note"), ("spot", "value")
PLAIN = "spot,value,note\nk1,54,wet\nk2,55,\n"
ROWS = [(2, {"spot": "k1", "value": "54", "note": "wet"}), (3, {"spot": "k2", "value": "55", "note": ""})]


def read(content: bytes | str) -> tables_in.Table:
    return read_table(content if isinstance(content, bytes) else content.encode(), KNOWN, REQUIRED)


@pytest.mark.parametrize(
    "content",
    [
        PLAIN.encode(),
        PLAIN.encode("utf-8-sig"),
        PLAIN.encode("utf-16"),
        PLAIN.encode("utf-16-be", "strict").join([b"\xfe\xff", b""]),
        PLAIN.replace(",", ";").encode(),
        PLAIN.replace(",", "\t").encode(),
        PLAIN.replace("\n", "\r\n").encode(),
        PLAIN.replace("\n", "\r").encode(),
        PLAIN.rstrip("\n").encode(),
        (PLAIN + "\n\n , \n").encode(),
        PLAIN.replace("spot", " Spot ").replace("value", "VALUE").encode(),
        PLAIN.replace("k1,54", ' k1 ,"54"').encode(),
    ],
)
def test_the_same_table_in_many_dresses(content: bytes) -> None:
    """BOM, UTF-16 either way round, semicolon, tab, any line end, empty lines, quotes, spaces, capitals in the header."""
    table = read(content)
    assert table.rows == ROWS
    assert table.problems == []
    assert table.columns == ["spot", "value", "note"]


def test_old_western_letters_are_read_and_said() -> None:
    table = read("spot,value,note\nk1,54,Füße – naß\n".encode("cp1252"))
    assert table.rows[0][1]["note"] == "Füße – naß"
    assert table.assumed == ["the file is not UTF-8; it was read as CP1252 (Western European)"]
    assert read(PLAIN).assumed == []


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the file is empty"),
        (b"spot,value\nk1,\x0054\n", "NUL"),
        (PLAIN.encode("utf-16-le"), "NUL"),
        (b"\xff\xfes", "starts as utf-16 and is not"),
        (b"\xef\xbb\xbf\xff", "starts as utf-8-sig and is not"),
        (b"spot,value\nk1,\x81\n", "letters of the file could not be read"),
        (b"a,b\n1,2\n", "lacks the columns spot, value"),
        (b"spot,note\n1,2\n", "lacks the column value"),
        (b"\nspot,value\n", "lacks the columns"),
        (b"spot,value,spot\nk1,54,k2\n", "a column name stands twice"),
        (b"spot,value,Value \nk1,54,k2\n", "a column name stands twice"),
        (b'spot,value\nk1,"54\nk2,55\n', "row 2 could not be read"),
        (b'spot,value\nk1,"5"4\n', "row 2 could not be read"),
        (b"x" * 20_000, "first row is too long"),
        (b'spot,value\nk1,54\nk2,"' + b"y" * 200_000, "row 3 could not be read"),
    ],
)
def test_what_cannot_be_read_at_all_is_refused_in_words(content: bytes, said: str) -> None:
    """No header, a NUL byte, a quotation mark that is not closed: nothing of the file is taken, and the line is named."""
    with pytest.raises(NotUnderstood) as refused:
        read(content)
    assert said in str(refused.value)


def test_a_file_too_large_to_be_a_table(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables_in, "LARGEST_FILE", 20)
    with pytest.raises(NotUnderstood, match="too large"):
        read(PLAIN)
    monkeypatch.setattr(tables_in, "LARGEST_FILE", 10_000)
    monkeypatch.setattr(tables_in, "MOST_ROWS", 1)
    with pytest.raises(NotUnderstood, match="too many rows"):
        read(PLAIN)


def test_bad_rows_are_named_and_good_rows_kept() -> None:
    """Row 3 has a cell too many (a comma in a value), row 5 a cell like a novel; the others are taken."""
    table = read(f"spot,value,note\nk1,54,a\nk2,5,5,b\nk3,56,c\nk4,57,{'z' * 10_001}\n")
    assert [cells["spot"] for _, cells in table.rows] == ["k1", "k3"]
    assert table.problems == [
        RowProblem(3, "(the whole row)", "4 cells", "3; quote a value that holds a comma"),
        RowProblem(5, "(the whole row)", "a very long cell", "less text"),
    ]
    assert str(table.problems[0]) == (
        "row 3, column (the whole row): got 4 cells; wanted 3; quote a value that holds a comma"
    )


def test_empty_cells_beyond_the_header_are_a_spreadsheet_habit() -> None:
    table = read("spot,value,note\nk1,54,wet,,\nk2,55,,,  \n")
    assert table.rows == ROWS
    assert table.problems == []


def test_short_rows_are_taken_and_said() -> None:
    """A decimal comma without quotes shifts cells in a short row: nothing of that kind goes by unsaid."""
    table = read("spot,value,note\nk1,54\nk2,55,\nk3\n")
    assert next(cells for _, cells in table.rows) == {"spot": "k1", "value": "54", "note": ""}
    assert table.assumed == ["rows with fewer cells than the first row: 2, 4; the last ones were taken as empty"]
    many = read("spot,value,note\n" + "k1,54\n" * 9)
    assert many.assumed == [
        "rows with fewer cells than the first row: 2, 3, 4 and 6 more; the last ones were taken as empty"
    ]


def test_unknown_columns_are_said_and_left_alone_and_nameless_ones_dropped() -> None:
    table = read("spot,value,weather,,note\nk1,54,rain,x,wet\n")
    assert table.assumed == ["columns not known and left alone: weather"]
    assert table.rows == [(2, {"spot": "k1", "value": "54", "weather": "rain", "note": "wet"})]


def test_a_line_break_inside_quotes_counts_as_a_line_of_the_file() -> None:
    """The number of a row is its line in the file, so that it can be found again."""
    table = read('spot,value,note\nk1,54,"two\nlines"\nk2,55,x\n')
    assert [number for number, _ in table.rows] == [2, 4]
    assert table.rows[0][1]["note"] == "two\nlines"


def test_the_delimiter_is_the_one_that_makes_known_columns() -> None:
    """A decimal comma in the rows does not turn a semicolon table into a comma table."""
    table = read("spot;value;note\nk1;54,5;a,b\n")
    assert table.rows == [(2, {"spot": "k1", "value": "54,5", "note": "a,b"})]


@given(st.binary(max_size=300))
def test_any_bytes_are_a_table_or_a_refusal(content: bytes) -> None:
    """Whatever is dragged onto the desk, the answer is a table or a sentence."""
    for head in (b"", b"spot,value\n"):
        try:
            table = read(head + content)
        except NotUnderstood:
            continue
        assert all(set(cells) <= set(table.columns) for _, cells in table.rows)


@given(st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=200))
def test_any_text_survives_decoding(text: str) -> None:
    assert decode(b"\xef\xbb\xbf" + text.encode()) == (text, "")
    if not text.startswith("\ufeff"):
        assert decode(text.encode()) == (text, "")
