"""core/evidence.py: from what was written down to what can be compared, or a finding that says why not."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from case_builder import (
    BALANCE,
    CARBIDE,
    COMPARATIVE,
    HOLE,
    METER,
    OVEN,
    OWN_TABLE,
    PIN_METER,
    PINS,
    SCREED,
    WOOD_EQUIVALENT,
    FieldBook,
    at,
)

from desorb.core.evidence import evidence_of, middle_of, scale_class, to_resolution
from desorb.core.kinds import Construction, Reading, Scale, Spot, Zone
from desorb.core.outcome import BLOCKS_BOTH
from desorb.core.typed import AT_LEAST, AT_MOST, read_repeats


def book_with(**parts: object) -> FieldBook:
    """A book with one reading of 54 at k1, in which the named parts differ."""
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen")
    book.write(Spot("k1", "kitchen", "floor"))
    plain = Reading("row", "k1", "d0", "m1", "comparative", ("54",), "bare", at())
    book.write(replace(plain, **parts))  # type: ignore[arg-type]
    return book


@pytest.mark.parametrize(
    ("parts", "missing"),
    [
        ({"spot": "k9"}, "spot"), ({"spot": ""}, "spot"), ({"instrument": "m9"}, "instrument"),
        ({"scale": "unknown"}, "scale"), ({"covering": ""}, "covering"), ({"values": ()}, "values"),
    ],
)  # fmt: skip
def test_a_number_without_its_context_is_no_evidence(parts: dict[str, object], missing: str) -> None:
    """Spot, instrument, scale, covering or the figure itself is not there: kept, named, and not compared (TASKS 1)."""
    evidence, findings = evidence_of(book_with(**parts).case())
    assert evidence == []
    assert (findings[0].code, findings[0].blocks) == ("context-missing", BLOCKS_BOTH)
    assert missing in findings[0].words
    assert findings[0].next_step.startswith("describe the ")
    assert "the value is kept" in findings[0].next_step


def test_a_spot_in_a_zone_that_nobody_described() -> None:
    book = FieldBook()
    book.write(Spot("k1", "attic", "floor"))
    book.write(Reading("row", "k1", "d0", "m1", "comparative", ("54",), "bare", at()))
    assert "its zone, construction is not described" in evidence_of(book.case())[1][0].words
    book.write(Zone("attic", "attic", "beams"))
    assert "its construction is not described" in evidence_of(book.case())[1][0].words
    book.write(Construction("beams", "beams", "wood"))
    assert len(evidence_of(book.case())[0]) == 1


@pytest.mark.parametrize(
    "parts",
    [
        {"values": ("wet",)}, {"values": ("54", "")}, {"taken_at": "yesterday"}, {"taken_at": ""},
        {"taken_at": "2026-03-02T10:00"}, {"taken_at": "2026-13-02T10:00+00:00"},
    ],
)  # fmt: skip
def test_a_record_from_elsewhere_that_cannot_be_read_is_a_finding(parts: dict[str, object]) -> None:
    """Our own doors refuse such rows; in an imported record they must not stop the report of everything else."""
    book = book_with(**parts)
    book.line("kitchen/floor", "54", names="k2")
    evidence, findings = evidence_of(book.case())
    assert [each.spot.id for each in evidence] == ["k2"]
    assert [(finding.code, finding.blocks) for finding in findings] == [("not-readable", BLOCKS_BOTH)]
    assert "strike the entry" in findings[0].next_step
    assert book.statuses() == {"k2": "cannot say"}


@pytest.mark.parametrize("temperature", ["warm", "1e500"])
def test_wood_of_an_unreadable_temperature_is_a_finding(temperature: str) -> None:
    book = FieldBook()
    book.building("joists", "wood", "void")
    book.line("void/joists", "14.0", scale="wood", temperature=temperature)
    codes = {finding.code for finding in book.findings()}
    assert codes & {"not-readable", "wood-uncorrected"}


@pytest.mark.parametrize(
    ("repeats", "value", "bound"),
    [
        ("64 73 65", "65", ""), ("64 73", "68.5", ""), ("54", "54", ""), ("100 100 54", "100", AT_LEAST),
        ("54 54 100", "54", ""), ("98 100", "99", AT_LEAST), ("0 0 5", "0", AT_MOST), ("0 5 6", "5", ""), ("0 4", "2", AT_MOST),
        (">=60 58 59", "59", ""), (">=50 58 59", "58", AT_LEAST), ("<=70 58 59", "59", AT_MOST), ("<=10 58 59", "58", ""),
        (">=58 58 59", "58", AT_LEAST), ("54 55 100 100", "77.5", AT_LEAST), ("1 2 >=3 4", "2.5", AT_LEAST),
    ],
)  # fmt: skip
def test_the_middle_of_the_repeats_and_the_end_it_stands_at(repeats: str, value: str, bound: str) -> None:
    """The median, never the highest; a bound at or below the middle may hide anything above, and the other way round."""
    assert middle_of(read_repeats(repeats), COMPARATIVE) == (Decimal(value), bound)


def test_a_scale_without_stated_ends_has_no_end_to_stand_at() -> None:
    endless = replace(COMPARATIVE, bottom="", top="")
    assert middle_of(read_repeats("0"), endless) == (Decimal(0), "")
    assert middle_of(read_repeats("100"), endless) == (Decimal(100), "")


@pytest.mark.parametrize(
    ("scale", "value", "more", "text"),
    [
        (COMPARATIVE, "21.69", 0, "22"), (COMPARATIVE, "21.69", 1, "21.7"), (SCREED, "2.15", 0, "2.2"),
        (SCREED, "2.25", 0, "2.2"), (replace(SCREED, resolution="0.05"), "2.15", 0, "2.15"),
        (replace(SCREED, resolution=""), "2.15", 0, "2"), (replace(SCREED, resolution="0.50"), "2.15", 0, "2.2"),
        (replace(COMPARATIVE, resolution="10"), "54", 0, "54"),
    ],
)  # fmt: skip
def test_rounding_is_for_the_eye(scale: Scale, value: str, more: int, text: str) -> None:
    assert to_resolution(Decimal(value), scale, more) == text


@pytest.mark.parametrize(
    ("scale", "name"),
    [
        (COMPARATIVE, "comparative"), (SCREED, "equivalent"), (WOOD_EQUIVALENT, "wood equivalent"), (PINS, "wood pins"),
        (OVEN, "gravimetric"), (replace(OVEN, material="wood"), "gravimetric wood"), (CARBIDE, "calcium carbide"),
        (HOLE, "relative humidity"), (replace(PINS, material="plaster"), "electrical resistance"),
    ],
)  # fmt: skip
def test_the_class_of_a_scale(scale: Scale, name: str) -> None:
    assert scale_class(scale) == name


def test_what_the_evidence_says_of_itself() -> None:
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen", "utility: sound")
    book.controls("utility/floor", "18", covering="none")
    book.line("kitchen/floor", "3.1 3.3 3.2", scale="oven-eq screed", covering="vinyl", depth_to="20")
    control, spot = book.evidence()
    assert (control.is_control, spot.is_control) == (True, False)
    assert (control.covered, spot.covered) == (False, True)
    assert spot.range == Decimal("0.2")
    assert spot.text() == "3.2 %"
    assert spot.shown(4.44, AT_LEAST) == "\u2265 4.4 %"
    assert spot.shown(4.44, AT_MOST) == "\u2264 4.4 %"
    assert control.text() == "18"
    assert spot.depth_class == ("", "20")
    assert control.line != spot.line


def test_a_reading_keeps_the_description_of_its_day() -> None:
    """The meter was described anew after the reading: the reading stays on the scale of the day it was taken."""
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen")
    book.line("kitchen/floor", "54")
    book.write(replace(METER, scales=(replace(COMPARATIVE, top="199"),)))
    book.line("kitchen/floor", "54", names="later")
    first, later = book.evidence()
    assert (first.scale.top, later.scale.top) == ("100", "199")


# -- wood -------------------------------------------------------------------------------------------------------------


def wood(
    text: str = "20.5", temperature: str = "10", species: str = "", corrections: tuple[object, ...] = (OWN_TABLE,)
) -> object:
    book = FieldBook()
    book.building("joists", "wood", "void")
    book.write(replace(PIN_METER, corrections=corrections))  # type: ignore[arg-type]
    book.line("void/joists", text, scale="wood", temperature=temperature, species=species)
    return book.evidence()[0]


@pytest.mark.parametrize(
    ("temperature", "species", "value"),
    [
        ("10", "", "22.5"),
        ("20", "", "20.5"),
        ("15", "", "21.5"),
        ("10", "oak", "21.9"),
        ("10", "pine", "22.5"),
        ("7,5", "", "22.75"),
    ],
)
def test_pins_are_corrected_by_their_own_table(temperature: str, species: str, value: str) -> None:
    """Raw 20.5 at 10 degC, +2.0 in the (invented) table: 22.5 (TASKS 32); between two rows it is interpolated."""
    each = wood(temperature=temperature, species=species)
    assert (each.correction, each.value) == ("corrected", Decimal(value))  # type: ignore[attr-defined]
    assert each.raw == Decimal("20.5")  # type: ignore[attr-defined]
    assert "table 3 of the invented sheet" in each.correction_words  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("how", "why"),
    [
        ({"temperature": ""}, "the temperature of the wood was not recorded"), ({"corrections": ()}, "no table of its own"),
        ({"species": "ebony"}, "does not name ebony"), ({"temperature": "35"}, "runs from 0 to 30 degC"),
        ({"temperature": "-3"}, "frozen"), ({"corrections": (replace(OWN_TABLE, source=" "),)}, "no source"),
        ({"corrections": (replace(OWN_TABLE, additions=("1", "x", "0", "0")),)}, "uncorrected"),
        ({"corrections": (replace(OWN_TABLE, temperatures=("30", "20", "10", "0")),)}, "cannot be used"),
        ({"corrections": (replace(OWN_TABLE, scale="other"),)}, "no table of its own"),
    ],
)  # fmt: skip
def test_or_they_stay_raw_and_say_why(how: dict[str, object], why: str) -> None:
    each = wood(**how)  # type: ignore[arg-type]
    assert (each.correction, each.value) == ("uncorrected", Decimal("20.5"))  # type: ignore[attr-defined]
    assert why in each.correction_words  # type: ignore[attr-defined]


def test_beyond_fibre_saturation_is_at_least_the_setting() -> None:
    """About 28 to 30 % (Wood Handbook chapter 4, from memory; a setting): 27.0 + 2.0 is shown as at least 28."""
    each = wood("27.0")
    assert (each.value, each.bound) == (Decimal(28), AT_LEAST)  # type: ignore[attr-defined]
    assert "lies above fibre saturation" in each.correction_words  # type: ignore[attr-defined]
    assert wood("25.9").bound == ""  # type: ignore[attr-defined]


def test_the_bottom_of_the_pins_stays_the_bottom_when_corrected() -> None:
    """6.0 at the bottom of the scale, +3.0 at 0 degC: 9.0 at most, or no contact."""
    each = wood("6.0", temperature="0")
    assert (each.value, each.bound) == (Decimal(9), AT_MOST)  # type: ignore[attr-defined]


def test_only_wood_pins_are_corrected() -> None:
    book = FieldBook()
    book.building("leaf", "brick", "low")
    book.line("low/wall", "2.1", scale="oven", covering="none", temperature="10")
    assert book.evidence()[0].correction == ""
    assert BALANCE.scale("oven") is not None
