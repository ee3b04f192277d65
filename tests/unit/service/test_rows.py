"""service/rows.py: from one row to the records it says; every bad cell named by column, what was got, what is wanted."""

from __future__ import annotations

import pytest
from case_builder import Desk

from desorb.service.take import Taken

ROW = {
    "spot": "k1", "zone": "kitchen", "element": "floor", "value": "54", "scale": "comparative", "instrument": "m1",
    "covering": "bare", "visit": "v1", "taken_at": "2026-03-02T10:00",
}  # fmt: skip
AIR = {
    "place": "garden", "kind": "outside", "visit": "v1", "taken_at": "2026-03-02T09:30", "instrument": "h1",
    "temperature_degc": "8.0", "relative_humidity": "82",
}  # fmt: skip


def take(desk: Desk, **cells: str) -> Taken:
    return desk.rows(ROW | cells)


def air(desk: Desk, **cells: str) -> Taken:
    return desk.air_rows(AIR | cells)


def test_a_whole_row_becomes_spot_visit_instrument_and_reading(desk: Desk) -> None:
    taken = take(
        desk, id="r1", role="ctl", place="under the window", x_m="1,2", y_m="0.50", height_m="0", why_unaffected="dry since May",
        value="54 55/56", covering="Vinyl", preparation="Cleaned", finish="trowelled", depth_from_in="0.2", depth_to_mm="20",
        temperature_degf="68", species="", by="R. Marsh", note="cold corner", scale_shown="comparative",
    )  # fmt: skip
    assert (taken.ok, taken.kept) == (True, 1)
    folded = desk.folded()
    spot, reading, shown = folded.spots[0].record, folded.readings[0].record, folded.scales_shown[0].record
    assert (spot.id, spot.role, spot.words, spot.x, spot.y, spot.height, spot.why_unaffected) == (
        "k1", "control", "under the window", "1.2", "0.50", "0", "dry since May",
    )  # fmt: skip
    assert reading.values == ("54", "55", "56")
    assert (reading.covering, reading.preparation, reading.finish) == ("vinyl", "cleaned", "trowelled")
    assert (reading.depth_from, reading.depth_to, reading.temperature) == ("5.1", "20", "20.00")
    assert (reading.by, reading.note, reading.source) == ("R. Marsh", "cold corner", "python, row 1")
    assert reading.taken_at == "2026-03-02T10:00:00+00:00"
    assert (shown.shown, shown.at) == ("comparative", reading.taken_at)
    assert [entered.record.id for entered in folded.instruments] == ["m1"]
    assert len(folded.checks) == 1
    assert taken.described == [
        "visit v1 begun 2026-03-02T10:00:00+00:00", "spot k1 (control) on floor in kitchen", "instrument m1 copied into the case",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("cells", "column", "got", "wanted"),
    [
        ({"value": ""}, "value", "''", "one number, or repeats"),
        ({"value": "wet"}, "value", "'wet'", "digits with at most one"),
        ({"value": "54 %"}, "value", "'%'", "digits"),
        ({"taken_at": ""}, "taken_at", "''", "2026-03-02T14:30"),
        ({"taken_at": "2 March"}, "taken_at", "'2 March'", "2026-03-02T14:30"),
        ({"taken_at": "2026-02-30"}, "taken_at", "'2026-02-30'", ""),
        ({"visit": ""}, "visit", "nothing", "the visit in which"),
        ({"instrument": "m9"}, "instrument", "'m9'", "one of: m1, p1, h1"),
        ({"scale": "hole"}, "scale", "'hole'", "a scale of m1, one of: comparative"),
        ({"covering": "lino"}, "covering", "'lino'", "one of: bare"),
        ({"covering": "other"}, "covering", "'other'", "other: your words"),
        ({"zone": "attic"}, "zone", "'attic'", "one of: kitchen, utility"),
        ({"zone": ""}, "zone", "''", "a described zone"),
        ({"element": ""}, "element", "nothing", "the element on which the new spot k1"),
        ({"role": "boss"}, "role", "'boss'", "control or survey"),
        ({"x_m": "left"}, "x_m", "'left'", "a number"),
        ({"y_m": ">2"}, "y_m", "'>2'", "without a bound"),
        ({"temperature_degc": "20", "temperature_degf": "68"}, "temperature_degF", "'68'", "not both"),
        ({"depth_from_mm": "40", "depth_to_mm": "10"}, "depth_to_mm", "'10'", "below 40 mm"),
        ({"taken_at": "2062-03-02T10:00"}, "taken_at", "'2062-03-02T10:00'", "not in the future"),
        ({"spot": "k" * 41}, "spot", repr("k" * 41), "at most 40 printable letters"),
        ({"spot": "k\x07"}, "spot", "'k\\x07'", "printable"),
        ({"temperature_degc": "200"}, "temperature_degC", "200 degC", "-60 to 100 degC"),
        ({"temperature_degf": "-90"}, "temperature_degC", "-67.78 degC", "-60 to 100 degC"),
        ({"depth_to_mm": "20", "depth_to_in": "1"}, "depth_to_in", "'1'", "not both"),
        ({"depth_to_mm": "-5"}, "depth_to_mm", "-5", "0 or more"),
        ({"depth_from_mm": "deep"}, "depth_from_mm", "'deep'", "a number"),
    ],
)
def test_a_bad_cell_is_named(desk: Desk, cells: dict[str, str], column: str, got: str, wanted: str) -> None:
    taken = take(desk, **cells)
    assert (taken.kept, len(taken.problems)) == (0, 1)
    problem = taken.problems[0]
    assert (problem.row, problem.column, problem.got) == (1, column, got)
    assert wanted in problem.wanted
    folded = desk.folded()
    assert (folded.readings, folded.spots, folded.visits, folded.instruments, folded.scales_shown) == (
        (),
        (),
        (),
        (),
        (),
    )


def test_a_bad_row_describes_nothing_on_the_way(desk: Desk) -> None:
    """The row names a new spot, a new visit and a new meter, and then a depth that cannot be: none of it is written."""
    bad = ROW | {"depth_from_mm": "40", "depth_to_mm": "10", "scale_shown": "comparative"}
    taken = desk.rows(bad, ROW | {"spot": "k2"})
    assert [entered.record.id for entered in desk.folded().spots] == ["k2"]
    assert taken.kept == 1
    assert "kitchen/floor" in desk.by_id()
    assert desk.by_id()["kitchen/floor"].spots_not_read == ()


@pytest.mark.parametrize("missing", ["spot", "instrument", "scale", "covering"])
def test_a_number_without_its_context_becomes_a_note(desk: Desk, missing: str) -> None:
    """Kept as a note with all that was said, and never as evidence (TASKS 1)."""
    taken = take(desk, **{missing: ""}, value="54 55")
    assert (taken.kept, taken.as_notes, taken.ok) == (1, 1, True)
    assert taken.assumed[-1] == f"row 1 was kept as a note, not as evidence: {missing} not stated"
    note = desk.folded().notes[0].record
    assert note.words.startswith(f"54 55: no evidence, {missing} not stated; ")
    assert desk.folded().readings == ()
    assert desk.assessed().evidence == ()


def test_what_was_assumed_about_times_is_said(desk: Desk) -> None:
    assert take(desk, taken_at="2026-03-02").assumed == ["a date without a time was written down as noon, site time"]
    assert take(desk, taken_at="2026-07-02 10:00", spot="k2").assumed == [
        "times without an offset were taken as site time (Europe/London)"
    ]
    assert take(desk, taken_at="2026-03-02T10:00:00+02:00", spot="k3").assumed == []
    assert take(desk, taken_at="2026-03-02T10:00Z", spot="k4").assumed == []
    moments = [entered.record.taken_at for entered in desk.folded().readings]
    assert moments == [
        "2026-03-02T12:00:00+00:00", "2026-07-02T10:00:00+01:00", "2026-03-02T10:00:00+02:00", "2026-03-02T10:00:00+00:00",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"zone": "utility"}, "zone"),
        ({"element": "wall"}, "element"),
        ({"role": "control"}, "role"),
        ({"x_m": "1.26"}, "x_m"),
        ({"y_m": "3"}, "y_m"),
    ],
)
def test_a_known_spot_keeps_its_place_and_part(desk: Desk, cells: dict[str, str], column: str) -> None:
    assert take(desk, x_m="1.2", y_m="2", height_m="0").ok
    for taken in (
        take(desk, **cells, taken_at="2026-03-02T11:00"),
        desk.rows(ROW | {"spot": "n", "x_m": "1.2", "y_m": "2"}, ROW | {"spot": "n"} | cells),
    ):
        assert [problem.column for problem in taken.problems] == [column]
        assert "or a new spot id" in taken.problems[0].wanted


def test_a_known_spot_needs_no_more_than_its_id(desk: Desk) -> None:
    assert take(desk).ok
    bare = {name: text for name, text in ROW.items() if name not in ("zone", "element")}
    assert desk.rows(bare | {"taken_at": "2026-03-02T11:00"}).ok
    assert len(desk.folded().spots) == 1
    assert len(desk.folded().readings) == 2


def test_no_zones_yet_says_how_to_describe_them(empty: Desk) -> None:
    from case_builder import METER

    taken = take(empty)
    assert taken.problems[0].column == "instrument"
    assert "one of: none yet; describe it with 'desorb instrument" in taken.problems[0].wanted
    empty.instruments(METER)
    taken = take(empty)
    assert taken.problems[0].column == "zone"
    assert "describe zones in a sheet first" in taken.problems[0].wanted


def test_the_copy_of_an_instrument_is_renewed_when_it_changed(desk: Desk) -> None:
    from dataclasses import replace

    from case_builder import METER

    assert take(desk).described[-1] == "instrument m1 copied into the case"
    assert "copied" not in " ".join(take(desk, spot="k2").described)
    desk.instruments(replace(METER, words="the same meter after repair"))
    assert take(desk, spot="k3").described[-1] == "instrument m1 copied into the case"
    assert [entered.record.words for entered in desk.folded().instruments] == [
        METER.words,
        "the same meter after repair",
    ]


def test_an_instrument_that_only_the_case_knows_serves(desk: Desk) -> None:
    """A case that came from another store brings its meters along."""
    from case_builder import METER

    from desorb.service.cases import write

    write(desk.store, desk.case, [METER.__class__(id="m7", words="their meter", scales=METER.scales)])
    assert take(desk, instrument="m7").ok


def test_the_scale_shown_is_written_once(desk: Desk) -> None:
    rows = [ROW | {"scale_shown": "comparative"}, ROW | {"scale_shown": "comparative", "spot": "k2"}]
    assert desk.rows(*rows).kept == 2
    assert len(desk.folded().scales_shown) == 1
    desk.rows(rows[0] | {"spot": "k3"})
    assert len(desk.folded().scales_shown) == 1


# -- air --------------------------------------------------------------------------------------------------------------


def test_a_whole_row_of_air(desk: Desk) -> None:
    taken = air(
        desk, pressure_hpa="1013.25", surface_temperature_degf="50", surface_method="contact", shown_dew_point_degf="41",
        shown_humidity_ratio_grains_per_lb="35", settled_minutes="10", by="R. Marsh", note="shade",
    )  # fmt: skip
    assert (taken.kind, taken.ok, taken.kept) == ("air", True, 1)
    reading = desk.folded().air_readings[0].record
    assert (reading.pressure, reading.surface_temperature, reading.shown_dew_point) == ("101325.00", "10.00", "5.00")
    assert (reading.shown_humidity_ratio, reading.settled_minutes, reading.surface_method) == ("5.000", "10", "contact")
    assert (reading.temperature, reading.relative_humidity, reading.by, reading.note) == (
        "8.0",
        "82",
        "R. Marsh",
        "shade",
    )


def test_grams_go_before_grains(desk: Desk) -> None:
    air(desk, shown_humidity_ratio_g_per_kg="5.4", shown_humidity_ratio_grains_per_lb="35")
    assert desk.folded().air_readings[0].record.shown_humidity_ratio == "5.4"


@pytest.mark.parametrize(
    ("cells", "column", "wanted"),
    [
        ({"relative_humidity": ""}, "relative_humidity", "one alone derives nothing"),
        ({"temperature_degc": ""}, "temperature_degC", "one alone"),
        ({"relative_humidity": "101"}, "relative_humidity", "from 0 to 100"),
        ({"relative_humidity": "-1"}, "relative_humidity", "from 0 to 100"),
        ({"relative_humidity": "damp"}, "relative_humidity", "a number"),
        ({"relative_humidity": ">=95"}, "relative_humidity", "without a bound"),
        ({"kind": "loft"}, "kind", "one of: outside"),
        ({"kind": ""}, "kind", "one of: outside"),
        ({"place": ""}, "place", "the place"),
        ({"visit": ""}, "visit", "the visit"),
        ({"instrument": ""}, "instrument", "the instrument"),
        ({"instrument": "h9"}, "instrument", "described instrument"),
        ({"taken_at": "noon"}, "taken_at", "2026-03-02T14:30"),
        ({"temperature_degf": "46"}, "temperature_degF", "not both"),
        ({"surface_temperature_degc": "cold"}, "surface_temperature_degc", "a number"),
    ],
)
def test_a_bad_cell_of_air_is_named(desk: Desk, cells: dict[str, str], column: str, wanted: str) -> None:
    """Relative humidity alone says nothing: both figures or none (TASKS 7)."""
    taken = air(desk, **cells)
    assert (taken.kept, [problem.column for problem in taken.problems]) == (0, [column])
    assert wanted in taken.problems[0].wanted
    assert desk.folded().visits == ()


@pytest.mark.parametrize("humidity", ["0", "100"])
def test_the_ends_of_relative_humidity_are_figures(desk: Desk, humidity: str) -> None:
    assert air(desk, relative_humidity=humidity).ok
