"""Timber and surfaces of a case as they are read from its records; all data invented unless a source stands beside them."""

from __future__ import annotations

import pytest
from case_builder import FieldBook, at

from desorb.core.kinds import AirReading, WaterOrigin
from desorb.core.shown import Shown
from desorb.core.surfaces_of_case import surfaces_shown
from desorb.core.timber_of_case import timber_shown


def _loft() -> FieldBook:
    book = FieldBook()
    book.building("rafters", "softwood", "loft")
    return book


def _timber(book: FieldBook) -> Shown:
    (found,) = timber_shown(book.case())
    return found


def _pins(book: FieldBook, values: str, day: float, **parts: str) -> None:
    book.line("loft/rafters", values, scale="wood", day=day, **{"species": "pine", "temperature": "20", **parts})


@pytest.mark.parametrize(
    ("days", "values", "state"),
    [((0, 8), ("24.0", "23.0"), "risk"), ((0, 3), ("24.0", "23.0"), "cannot say"), ((0, 12), ("24.0", "14.0"), "cannot say"),
     ((0, 8), ("15.0", "14.0"), "no sign of risk")],
)  # fmt: skip
def test_decay_is_a_risk_only_after_two_visits_a_week_apart(
    days: tuple[int, ...], values: tuple[str, ...], state: str
) -> None:
    """20 % or more at two visits at least 7 days apart (TASKS 43): risk, in words of risk, never rot."""
    book = _loft()
    for day, value in zip(days, values, strict=True):
        _pins(book, value, day)
    found = _timber(book)
    assert found.status == f"decay: {state}"
    assert found.tables[0].rows[0][4] == state
    assert found.next_steps
    if state == "risk":
        assert "competent" in found.tables[0].rows[0][6]
    if values[-1] == "14.0" and state == "cannot say":
        assert "how long it was wet" in found.tables[0].rows[0][5]


def test_uncorrected_readings_say_nothing_of_decay() -> None:
    """No temperature of the wood was recorded, so nothing is corrected: cannot say, and why."""
    book = _loft()
    for day in (0, 8):
        book.line("loft/rafters", "24.0", scale="wood", day=day)
    row = _timber(book).tables[0].rows[0]
    assert row[4] == "cannot say"
    assert "corrected" in row[5]


def test_depths_stand_side_by_side_and_have_no_mean() -> None:
    """5 mm 11.9 and underside 19.4: 7.5 points wetter (TASKS 33); the mean 15.65 stands nowhere."""
    book = _loft()
    for depth, value, clock in (("5", "11.9", "10:00"), ("35", "19.4", "10:05")):
        _pins(book, value, 0, clock=clock, names="r1", depth_from=depth)
    found = _timber(book)
    depths = next(table for table in found.tables if "depth, mm" in table.columns)
    assert [row[4] for row in depths.rows] == ["", "7.5 points wetter"]
    assert "15.6" not in str(found)


def test_the_air_of_the_visit_says_what_it_holds_timber_at() -> None:
    """8 degC and 88 % hold wood near 19.8 % (TASKS 35, EMC of the Wood Handbook, second hand)."""
    book = _loft()
    _pins(book, "18.0", 0)
    assert any("No air was read" in words for words in _timber(book).notes)
    book.write(AirReading("v", "loft void", "void", "d0", "h1", "8", "88", at(0, "11:00")))
    assert any("holds timber near 19.8 %" in words for words in _timber(book).notes)


def _air(book: FieldBook, kind: str, place: str, temperature: str, humidity: str, surface: str = "") -> None:
    book.write(
        AirReading(
            f"{place}{kind}",
            place,
            kind,
            "d0",
            "h1",
            temperature,
            humidity,
            at(0, "11:00"),
            surface_temperature=surface,
        )
    )


def _wall() -> FieldBook:
    book = _loft()
    _pins(book, "14.0", 0)
    return book


def test_case_c3_at_three_heights() -> None:
    """CASES C3: room 18.0/68, outside 3.0/85, surfaces 11.6, 12.9, 14.2: 102.7, 94.3, 86.6 %, f_Rsi 0.57, 0.66, 0.75."""
    book = _wall()
    _air(book, "outside", "outside", "3.0", "85")
    for place, surface in (("0.10 m", "11.6"), ("0.50 m", "12.9"), ("1.20 m", "14.2")):
        _air(book, "affected", place, "18.0", "68", surface)
    (found,) = surfaces_shown(book.case())
    rows = {row[1]: row for row in found.tables[0].rows}
    assert [rows[place][4] for place in ("0.10 m", "0.50 m", "1.20 m")] == ["103 %", "94 %", "87 %"]
    assert [rows[place][7][:4] for place in ("0.10 m", "0.50 m", "1.20 m")] == ["0.57", "0.66", "0.75"]
    assert found.status == "3 at or above 80 %"
    assert any("bring the room to" in step for step in found.next_steps)


def test_no_room_is_brought_to_a_humidity_while_a_gate_says_stop() -> None:
    """Foul water: neither heat nor exhaust is the next step of a humid surface, and the stop is named."""
    book = _wall()
    _air(book, "affected", "wall", "18.0", "68", "11.6")
    book.write(WaterOrigin("", "foul", "drain backed up", at()))
    (found,) = surfaces_shown(book.case())
    assert not any("bring the room to" in step for step in found.next_steps)
    assert any("neither exhaust nor heat" in step and "foul water" in step for step in found.next_steps)


def test_a_patch_between_wet_bulb_and_air_cannot_be_told_from_temperature() -> None:
    """Cooler than the air and warmer than its wet bulb: evaporation or a cold bridge, and the test that tells (TASKS 28)."""
    book = _wall()
    _air(book, "affected", "wall", "20.0", "50", "16.0")
    (found,) = surfaces_shown(book.case())
    row = found.tables[0].rows[0]
    assert row[-1].startswith("cannot say from temperature")
    assert row[7] == "outside air was not read"
    assert any("film" in step for step in found.next_steps)
    assert any("sets no wetness status" in words for words in found.notes)


def test_a_factor_is_refused_where_inside_is_hardly_warmer() -> None:
    """Inside 18, outside 13: too little difference for a temperature factor, said in its place."""
    book = _wall()
    _air(book, "outside", "outside", "13.0", "85")
    _air(book, "affected", "wall", "18.0", "68", "16.0")
    (found,) = surfaces_shown(book.case())
    assert "too little" in found.tables[0].rows[0][7]


def test_decimal_commas_are_read_and_words_are_said() -> None:
    """'16,0' is a surface temperature like any other; a setting that is no figure stops this view only, with its next step."""
    book = _wall()
    _air(book, "affected", "wall", "20,0", "50,0", "16,0")
    (found,) = surfaces_shown(book.case())
    assert found.tables[0].rows[0][4] == "64 %"
    assert timber_shown(book.case())
    book.set("surface temperature uncertainty", "little")
    (unsaid,) = surfaces_shown(book.case())
    assert unsaid.status == "cannot say"
    assert "surface temperature uncertainty" in unsaid.next_steps[0]
