"""Methods and drying on the paper and in its twins: every word of them, cautions first, and nothing where there is none."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

from pypdf import PdfReader
from report_case import large_case, open_book, rendered, small_case, text_of
from test_pdf import hostile_case, owner_pages, squeezed

from desorb.core.shown import Line, Plot, Shown, Table
from desorb.report.layers import MOST_DAYS_BETWEEN, runs_of_visits
from desorb.report.plots import can_be_drawn, draw_plot, undrawn

NARROW = Table(("place", "value"), (("hole 1", "83.6 %RH"), ("hole 2", "=72.4")))
WIDE = Table(tuple(f"column {n}" for n in range(9)), (tuple(f"cell {n} of a wide row" for n in range(9)), ("w",) * 9))
PROFILE = Plot(
    "40 to 80 mm from the face", "height above floor, m", "moisture, % of dry mass",
    (Line("total", (("0.15", "6.1"), ("0.6", "\u22650.4"), ("1.2", "1.9"))), Line("hygroscopic", (("0.15", "1.2"),))),
)  # fmt: skip
FLOOR = Shown(
    "floor test", "f1", "Floor test f1: hole", "depot", "not accepted: incomplete", "Two valid of six places.",
    cautions=("Find the pipes before drilling.",), plan=("Drill each hole 70 mm deep.",), tables=(NARROW, WIDE),
    plots=(PROFILE,), notes=("A note of the method.",), next_steps=("Test four places more.",),
    rests_on=("phone-7c2e/1", "phone-7c2e/2"),
)  # fmt: skip
OPEN = Shown(
    "causes", "room", "Causes of damp in the room", "room", "", "Nothing is named.", next_steps=("Look again.",)
)
DRYING = Shown("round", "v2", "Round v2", "", "read", "The round is whole.")


def words_of(each: Shown) -> list[str]:
    cells = [cell for table in each.tables for row in (table.columns, *table.rows) for cell in row]
    points = [text for plot in each.plots for line in plot.lines for point in line.points for text in point]
    return [
        each.title,
        each.status,
        each.words,
        *each.cautions,
        *each.plan,
        *cells,
        *points,
        *each.notes,
        *each.next_steps,
    ]


def test_the_paper_says_every_word_and_the_cautions_before_the_result() -> None:
    text = "".join(text_of(rendered(small_case(), methods=(FLOOR, OPEN), drying=(DRYING,)).pdf))
    body = text[text.index("Methodsbesidethescan") :]
    for each in (FLOOR, OPEN, DRYING):
        for words in words_of(each):
            assert squeezed(words) in body, words
    order = [body.index(squeezed(words)) for words in (FLOOR.title, FLOOR.cautions[0], FLOOR.words, FLOOR.notes[0])]
    assert order == sorted(order)
    assert body.index("Methodsbesidethescan") < body.index("Dryingunderway")
    assert squeezed("Rests on phone-7c2e/1\u20132.") in body
    assert squeezed("Points that are no plain number, not drawn: 1.") in body


def test_a_wide_table_names_each_figure_in_its_row() -> None:
    text = "".join(text_of(rendered(small_case(), methods=(FLOOR,)).pdf))
    assert squeezed("column 8: cell 8 of a wide row") in text
    short = Table(WIDE.columns, (("w",) * 9,))
    text = "".join(text_of(rendered(small_case(), methods=(replace(FLOOR, tables=(short,)),)).pdf))
    assert squeezed("column 8: w") not in text  # it fits across the page
    assert "column8" in text


def test_a_case_without_them_has_the_bytes_it_had() -> None:
    plain, again = rendered(small_case()), rendered(small_case(), methods=(), drying=())
    assert (plain.pdf, plain.json, plain.csv) == (again.pdf, again.json, again.csv)
    assert {"methods", "drying"}.isdisjoint(plain.document)
    assert "beside" not in plain.document["owner"]
    assert not [name for name in plain.csv if name.startswith("beside")]
    text = "".join(text_of(plain.pdf))
    assert "Methodsbesidethescan" not in text
    assert "Whatothertestssay" not in text


def test_the_same_bytes_with_them() -> None:
    one, other = (rendered(small_case(), methods=(FLOOR, OPEN), drying=(DRYING,)) for _ in range(2))
    assert (one.pdf, one.json, one.csv) == (other.pdf, other.json, other.csv)
    assert one.pdf != rendered(small_case()).pdf


def test_the_json_holds_them_as_they_are() -> None:
    loaded = json.loads(rendered(small_case(), methods=(FLOOR,)).json)
    (row,) = loaded["methods"]
    assert row["cautions"] == list(FLOOR.cautions)
    assert row["tables"][1]["rows"][0] == list(WIDE.rows[0])
    assert row["plots"][0]["lines"][0]["points"][1] == ["0.6", "\u22650.4"]
    assert "hygroscopic: 0.15: 1.2." in row["plots"][0]["alt"]


def test_the_tables_for_machines_hold_each_cell_and_run_nothing() -> None:
    tables = rendered(small_case(), methods=(FLOOR,), drying=(DRYING,)).csv
    rows = list(csv.DictReader(io.StringIO(tables["beside.csv"].decode(), newline="")))
    assert [(row["part"], row["id"], row["status"]) for row in rows] == [
        ("Methods beside the scan", "f1", "not accepted: incomplete"), ("Drying under way", "v2", "read"),
    ]  # fmt: skip
    assert rows[0]["next_steps"] == "Test four places more."
    cells = list(csv.DictReader(io.StringIO(tables["beside-cells.csv"].decode(), newline="")))
    assert len(cells) == 2 * 2 + 2 * 9 + 4 * 2
    assert "'=72.4" in {cell["cell"] for cell in cells}


def test_the_owner_reads_each_result_with_its_test_and_what_is_open() -> None:
    (words,) = rendered(small_case(), methods=(FLOOR, OPEN)).document["owner"]["beside"]
    assert "2 tests or tables" in words
    assert "Floor test f1: hole: not accepted: incomplete" in words
    assert "Causes of damp in the room: no result yet" in words
    assert "2 name a next step" in words


def test_many_of_them_are_counted_and_the_owner_part_keeps_its_two_pages() -> None:
    many = tuple(replace(FLOOR, id=f"f{n}", title=f"Floor test f{n}, " + "in a long room " * 9) for n in range(30))
    made = rendered(hostile_case(), methods=many, drying=many)
    methods, drying = made.document["owner"]["beside"]
    assert "24 more in the evidence part" in methods
    assert "24 more in the evidence part" in drying
    assert len(owner_pages(made.pdf)) == 2


def test_signs_that_no_font_draws_and_markup_do_no_harm() -> None:
    odd = replace(FLOOR, title="*bold* #let x = 1 \U0001f600", words="$a^2$ <script>", plan=("- list // c",))
    pdf = rendered(open_book().case(), methods=(odd,)).pdf
    text = "".join(text_of(pdf))
    assert "*bold*#letx=1[U+1F600]" in text
    assert "$a^2$<script>" in text
    assert PdfReader(io.BytesIO(pdf)).pages


def test_one_place_on_the_axis_is_no_chart_and_stays_a_value() -> None:
    plot = replace(PROFILE, lines=(PROFILE.lines[1],))
    made = rendered(small_case(), methods=(replace(FLOOR, plots=(plot,)),))
    text = "".join(text_of(made.pdf))
    assert squeezed("40 to 80 mm from the face: not drawn") in text
    assert squeezed("0.15: 1.2") in text


def test_a_chart_draws_numbers_and_counts_the_rest() -> None:
    from dataclasses import asdict

    plot = asdict(PROFILE)
    assert can_be_drawn(plot)
    assert undrawn(plot) == 1
    drawn = draw_plot(plot)
    assert drawn == draw_plot(plot)
    for words in ("height above floor, m", "moisture, % of dry mass", "total", "hygroscopic"):
        assert words in drawn


def test_the_limit_is_not_drawn_through_a_time_without_visits() -> None:
    band = [{"day": day, "limit": 8.0} for day in (0.0, 7.0, 7.0 + MOST_DAYS_BETWEEN, 200.0)]
    near, alone = runs_of_visits(band, 2.0)
    assert [row["day"] for row in near] == [0.0, 7.0, 38.0]
    assert [row["day"] for row in alone] == [198.0, 202.0]
    assert {row["limit"] for row in alone} == {8.0}


def test_a_large_case_takes_them_too() -> None:
    made = rendered(large_case(40, 2), methods=(FLOOR,))
    assert "Methodsbesidethescan" in "".join(text_of(made.pdf))
