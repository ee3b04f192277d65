"""Counters, missing spots, offsets and drawn marks: nothing that was written down on site is left out of an export."""

from __future__ import annotations

import csv
import io

import pytest
from report_case import at, open_book, rendered, small_case, small_document, small_render, text_of

from desorb.core.kinds import AirReading, Spot
from desorb.report.building import offsets_in_words


def table(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(small_render().csv[name].decode("utf-8"), newline="")))


def test_the_hours_and_litres_of_a_unit_stand_in_every_export_and_the_struck_ones_too() -> None:
    """The meter of the unit was read wrongly once: both figures go to the insurer, the wrong one struck."""
    rows = small_document()["why"]["unit_readings"]
    assert [(row["hours"], row["collected"], row["state"]) for row in rows] == [
        ("207", "18.5", "counts"),
        ("702", "", "struck"),
    ]
    assert "two digits swapped" in rows[1]["remarks"][0]
    assert [row["hours"] for row in table("unit-readings.csv")] == ["207", "702"]
    paper = "".join(text_of(small_render().pdf))
    for words in ("Countersofthedryingunits", "18.5", "61.2", "702", "twodigitsswapped"):
        assert words in paper


def test_a_spot_that_could_not_be_read_is_told_with_its_reason() -> None:
    """A cupboard stood before the spot: the report says so and shows no value."""
    (row,) = small_document()["not_read"]
    assert (row["spot"], row["visit"], row["why"]) == ("s8", "v2", "a cupboard stood before it")
    assert table("not-read.csv")[0]["why"] == "a cupboard stood before it"
    assert "acupboardstoodbeforeit" in "".join(text_of(small_render().pdf))


def test_how_the_air_probe_stood_and_drifted_is_part_of_the_value() -> None:
    """The probe was read twice while it settled: both figures and the drift are kept."""
    row = next(row for row in small_document()["why"]["air"] if row["cap_off"])
    assert (row["height"], row["first_temperature"], row["drift_temperature"]) == ("1.2", "20.6", "+0.4")
    assert row["drift_relative_humidity"] == "\u22121.5"
    assert "+0.4\u00b0C" in "".join(text_of(small_render().pdf))


@pytest.mark.parametrize(("first", "later"), [("", "20"), (">20", "21"), ("x", "20")])
def test_what_is_no_number_has_no_drift(first: str, later: str) -> None:
    """A first figure that was not written down gives no drift."""
    book = open_book()
    book.write(AirReading("a", "hall", "affected", "v1", "h1", later, "50", at(0), first_temperature=first))
    (row,) = rendered(book.case()).document["why"]["air"]
    assert row["drift_temperature"] == ""


def test_offsets_of_a_spot_are_told_in_one_sentence() -> None:
    """Another surveyor finds the spot again with a tape."""
    spot = Spot("s1", "z1", "floor", height="0.3", offset_a="1.20", offset_a_from="door frame", offset_b="0.45")
    assert offsets_in_words(spot) == (
        "1.20 m from door frame, 0.45 m from a point that was not named, 0.3 m above the floor"
    )
    assert offsets_in_words(Spot("s1", "z1", "floor", height="0.3")) == ""
    assert "westwall" in "".join(text_of(small_render().pdf))


def test_drawn_marks_stand_with_their_photo_and_in_a_table() -> None:
    """A mark drawn over a photo is a layer: the photo stays as it is, the layer is exported."""
    marked = [photo for photo in small_document()["photos"] if photo["marks"]]
    assert [photo["marks"][0]["words"] for photo in marked] == ["edge of the stain"]
    assert table("photo-marks.csv")[0]["area"] == "0.2 | 0.3 | 0.25 | 0.2"
    assert len(small_case().photo_marks) == 1
