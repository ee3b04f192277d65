"""What is shown of the logger files in a case. All files are invented."""

from __future__ import annotations

from dataclasses import replace

from case_builder import FieldBook, at

from desorb.core.drying_of_case.loggers import loggers_shown
from desorb.core.kinds import LoggerFigure, LoggerTaken

TAKEN = LoggerTaken(
    "log1", "kitchen", "behind the units", "a" * 64, "kitchen.csv", ("time: when", "temperature: t"),
    "zone UTC, 0 s ahead of true time",
    "96", at(0), at(4), at(5), (LoggerFigure("air temperature, lowest", "12.5", "degC"),), ("gap of 7.0 h: a to b",), "R. Marsh",
)  # fmt: skip


def test_a_logger_file_is_shown_with_place_clock_figures_and_findings() -> None:
    book = FieldBook()
    book.write(TAKEN)
    (shown,) = loggers_shown(book.case())
    assert (shown.id, shown.zone, shown.status) == ("log1", "kitchen", "with gaps")
    assert shown.tables[0].rows == (("air temperature, lowest", "12.5", "degC"),)
    said = " ".join((shown.words, *shown.notes))
    for words in (
        "96 rows",
        "behind the units",
        "a" * 64,
        "kitchen.csv",
        "time: when",
        "zone UTC",
        "Gap of 7.0 h",
        "R. Marsh",
    ):
        assert words in said
    assert "--kept log1" in shown.next_steps[0]
    assert shown.rests_on == (book.lists["logger_files"][0].entry,)


def test_a_file_taken_again_under_its_id_stands_as_it_was_read_last() -> None:
    """One without figures and findings breaks nothing."""
    book = FieldBook()
    book.write(TAKEN, replace(TAKEN, rows="97", figures=(), findings=("",)), replace(TAKEN, id="log2"))
    first, second = loggers_shown(book.case())
    assert (first.words[:7], first.status, first.tables) == ("97 rows", "without gaps", ())
    assert second.id == "log2"
    assert loggers_shown(FieldBook().case()) == ()
