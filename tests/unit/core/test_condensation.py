"""core/condensation.py: what the air says about a surface. Figures of air are CALC in CASES and TASKS (hand forms)."""

from __future__ import annotations

import pytest
from case_builder import FieldBook, at

from desorb.core.condensation import air_findings, air_lines
from desorb.core.kinds import AirReading, Visit
from desorb.core.outcome import BLOCKS_NOTHING, Finding


def air(
    temperature: str, humidity: str, *, place: str = "kitchen", kind: str = "affected", visit: str = "d0", **parts: str
) -> AirReading:
    return AirReading(f"{place} {visit}", place, kind, visit, "h1", temperature, humidity, at(), **parts)


def book_of(*readings: AirReading) -> FieldBook:
    book = FieldBook()
    book.write(Visit("d0", at(0, "09:00")), Visit("d1", at(1, "09:00")), *readings)
    return book


def found(book: FieldBook) -> list[Finding]:
    case = book.case()
    return air_findings(air_lines(case), case)


def test_the_state_of_the_air() -> None:
    """19.5 degC and 74 % at sea level: dew point 14.7, humidity ratio 10.44 g/kg, vapour pressure 16.7 hPa (TASKS 7)."""
    line = air_lines(book_of(air("19.5", "74")).case())[0]
    assert line.state is not None
    assert line.state.dew_point == pytest.approx(14.7, abs=0.1)
    assert line.state.humidity_ratio == pytest.approx(10.44, abs=0.05)
    assert line.state.vapour_pressure / 100 == pytest.approx(16.7, abs=0.1)
    assert (line.surface_relative_humidity, line.vapour_pressure_excess, line.disagreements) == (None, None, ())


def test_altitude_and_pressure_change_the_ratio_and_not_the_humidity() -> None:
    """The same figures at 1600 m hold more grams per kilogram; a typed pressure goes before the altitude of the site."""
    book = book_of(air("19.5", "74"), air("19.5", "74", place="b", pressure="101325"))
    sea = air_lines(book.case())[0].state
    book.set("altitude", "1600")
    high, typed = (line.state for line in air_lines(book.case()))
    assert sea is not None
    assert high is not None
    assert typed is not None
    assert high.humidity_ratio > 1.15 * sea.humidity_ratio
    assert high.dew_point == pytest.approx(sea.dew_point, abs=0.01)
    assert typed.humidity_ratio == pytest.approx(sea.humidity_ratio, rel=1e-6)
    book.set("pressure", "83000")
    assert air_lines(book.case())[0].state.humidity_ratio > 1.15 * sea.humidity_ratio  # type: ignore[union-attr]


def test_excess_over_the_outside_air_of_the_same_visit() -> None:
    """C3: 18.0/68 inside, 3.0/85 outside: 7.56 hPa; outside itself has none, nor a visit without outside air."""
    book = book_of(air("18.0", "68"), air("3.0", "85", kind="outside", place="garden"), air("18.0", "68", visit="d1"))
    lines = air_lines(book.case())
    assert [line.entered.record.place for line in lines] == ["garden", "kitchen", "kitchen"]  # outside first
    excess = [line.vapour_pressure_excess for line in lines]
    assert excess == [None, pytest.approx(756, abs=4), None]


@pytest.mark.parametrize(
    ("surface", "humid", "code", "said"),
    [
        ("11.6", 102.7, "condensing", "condensing now"), ("12.9", 94.3, "surface-humid", "above the 80 % criterion"),
        ("15.6", 79.2, "", ""), ("15.3", 80.7, "surface-humid", "above the 80 % criterion"), ("", None, "", ""),
    ],
)  # fmt: skip
def test_the_surface(surface: str, humid: float | None, code: str, said: str) -> None:
    """Air 18.0/68 at surfaces of C3 and around the criterion of EN ISO 13788; without a surface temperature no result."""
    book = book_of(air("18.0", "68", surface_temperature=surface))
    line = air_lines(book.case())[0]
    assert line.surface_relative_humidity == (None if humid is None else pytest.approx(humid, abs=1))
    findings = found(book)
    assert [finding.code for finding in findings] == ([code] if code else [])
    if code:
        assert said in findings[0].words
        assert f"surface at {surface} degC, surface humidity {humid:.0f} %" in findings[0].words
        assert findings[0].blocks == BLOCKS_NOTHING


def test_the_criterion_is_a_setting_of_the_case() -> None:
    book = book_of(air("18.0", "68", surface_temperature="15.6"))
    assert found(book) == []
    book.set("surface criterion", "75")
    assert "above the 75 % criterion" in found(book)[0].words
    assert "log the hours above 75 %" in found(book)[0].next_step


@pytest.mark.parametrize(("kind", "named"), [("unaffected", True), ("affected", False)])
def test_an_unaffected_room_is_named_as_one(kind: str, named: bool) -> None:
    """TASKS 34: dew point 13 degC and 15.5 degC at the coldest surface make 85 %."""
    finding = found(book_of(air("20.0", "64.1", kind=kind, surface_temperature="15.5")))[0]
    assert ("the unaffected room" in finding.words) == named
    assert "85 %" in finding.words


@pytest.mark.parametrize(
    ("parts", "said"),
    [({"shown_dew_point": "14.7"}, ""), ({"shown_dew_point": "12.7"}, "dew point"), ({"shown_humidity_ratio": "10.4"}, ""),
     ({"shown_humidity_ratio": "8.1"}, "humidity ratio")],
)  # fmt: skip
def test_what_the_display_derives_itself_is_compared(parts: dict[str, str], said: str) -> None:
    """JOB F5: the instrument's own dew point and g/kg within 0.3 K and 0.2 g/kg (settings), or it is asked."""
    findings = found(book_of(air("19.5", "74", **parts)))
    assert [finding.code for finding in findings] == (["display-disagrees"] if said else [])
    if said:
        assert said in findings[0].words
        assert "mistyped" in findings[0].next_step


@pytest.mark.parametrize(("temperature", "humidity"), [("195", "74"), ("19.5", "0"), ("19.5", "140")])
def test_figures_that_no_air_has_are_refused_and_said(temperature: str, humidity: str) -> None:
    book = book_of(air(temperature, humidity), air("3.0", "85", kind="outside", place="garden"))
    line = next(line for line in air_lines(book.case()) if line.entered.record.place == "kitchen")
    assert line.state is None
    assert line.refusal
    assert line.vapour_pressure_excess is None
    findings = found(book)
    assert [finding.code for finding in findings] == ["air-refused"]
    assert findings[0].words.startswith("air at kitchen: ")


def test_a_decimal_comma_is_a_decimal_comma() -> None:
    line = air_lines(book_of(air("19,5", "74", surface_temperature="11,6")).case())[0]
    assert line.state is not None
    assert line.state.air_temperature == 19.5
    assert line.surface_relative_humidity is not None
