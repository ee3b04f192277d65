"""Samples out of records: oven, custody, carbide and salts, each attacked with what people really write (all invented)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builder import FieldBook, at

from desorb.core.floors_of_case import floor_tests
from desorb.core.kinds import CarbideReading, CustodyEntry, FloorTest, SaltContent, Sample, SampleWeighing
from desorb.core.samples_of_case import profiles_of_case, samples_shown
from desorb.core.shown import Shown

BRICK = Sample("s1", "leaf", "inner leaf", "brick", at(0, "08:00"), depth_from="10", depth_to="40")
CHAIN = tuple(
    CustodyEntry("s1", step, at(0, f"0{number}:30"), "R. Marsh", "112.0")
    for number, step in enumerate(("taken", "sealed", "sent", "received"), start=4)
)
CM = CarbideReading("s1", at(0, "09:00"), "50", "0.63", "20", "600", "yes", "20")


def oven(moist: str, dry: str, temperature: str = "105", at_75: str = "") -> list[SampleWeighing]:
    found = [SampleWeighing("s1", "moist", moist, at(0, "09:00"))]
    found += [SampleWeighing("s1", "dry", dry, at(day, "12:00"), temperature, at(0, "12:00")) for day in (1, 2, 3)]
    return found + ([SampleWeighing("s1", "at 75 % humidity", at_75, at(20))] if at_75 else [])


def shown(*records: object) -> Shown:
    book = FieldBook()
    book.write(*records)
    return samples_shown(book.case())[0]


def test_the_brick_of_c5_has_little_free_moisture() -> None:
    """C5-4: 2.1 % by oven, 1.8 % hygroscopic at 75 %: free 0.3 %."""
    given = shown(BRICK, *oven("102.1", "100.0", at_75="101.8"), *CHAIN)
    assert given.status == "result"
    assert "2.10 % dry basis, dried at 105 degC" in given.words
    assert "Hygroscopic 1.80 % at 75 % humidity, free 0.30 %" in given.words
    assert "without a gap" in given.words


@pytest.mark.parametrize(
    "material", ["gypsum", "Gypsum plaster", "anhydrite screed", "calcium sulphate screed", "calcium sulfate"]
)
def test_105_degc_on_gypsum_is_no_moisture_content(material: str) -> None:
    """Task 52: refused as moisture content, and the drying regime is asked for. No figure stands anywhere."""
    given = shown(replace(BRICK, material=material), *oven("120", "100"))
    assert given.status.startswith("cannot be used")
    assert "This is not a moisture content" in given.words
    assert "drying regime" in given.words
    assert "dry basis" not in given.words
    assert any("drying regime" in step for step in given.next_steps)


def test_gypsum_at_40_degc_states_its_regime() -> None:
    given = shown(replace(BRICK, material="gypsum plaster"), *oven("105", "100", "40"))
    assert "5.00 % dry basis, dried at 40 degC" in given.words
    assert any("Drying regime as recorded: not stated" in note for note in given.notes)


def test_mass_that_is_not_constant_gives_no_figure() -> None:
    rows = oven("105", "100")
    rows[-1] = replace(rows[-1], mass="99.5")
    given = shown(BRICK, *rows)
    assert "test not valid" in given.status
    assert given.next_steps[0].startswith("dry on at 105 degC")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda rows: rows[1:], "no weighing moist"),
        (lambda rows: rows[:1], "no weighing dry"),
        (lambda rows: [*rows[:3], replace(rows[3], oven_temperature="70")], "not one and the same"),
        (lambda rows: [replace(rows[0], at=at(2)), *rows[1:]], "after the sample was in the oven"),
        (lambda rows: [replace(rows[0], mass="a lot"), *rows[1:]], "not one number"),
        (lambda rows: [replace(rows[0], mass="99"), *rows[1:]], "more dry than moist"),
    ],
)
def test_weighings_that_give_nothing_are_said_in_words(change: object, words: str) -> None:
    rows = change(oven("105", "100"))  # type: ignore[operator]
    given = shown(BRICK, *rows)
    assert given.status.startswith("cannot be used")
    assert words in given.words
    assert all(given.next_steps)
    assert len(given.rests_on) == 1 + len(rows)


@pytest.mark.parametrize(
    ("chain", "gap"),
    [
        (CHAIN[:3], "no record that it was received"),
        ((*CHAIN[:3], replace(CHAIN[3], by="")), "who not recorded when received"),
        ((*CHAIN[:3], replace(CHAIN[3], mass="109.0")), "mass 112.0 g when sent, 109.0 g when received"),
        ((*CHAIN[:3], replace(CHAIN[3], at=at(-1))), "before it was sent"),
        ((*CHAIN, CHAIN[3]), "each of taken, sealed, sent, received once"),
    ],
)
def test_broken_custody_goes_with_the_result(chain: tuple[CustodyEntry, ...], gap: str) -> None:
    given = shown(BRICK, *oven("102", "100"), *chain)
    assert "custody broken" in given.status
    assert gap in given.words
    assert "2.00 % dry basis" in given.words
    assert given.next_steps


def test_carbide_on_both_bases_with_its_cautions() -> None:
    """0.63 bar in 600 mL at 20 degC: 2 x 18.01528 x 63000 x 6e-4 / (8.314463 x 293.15) = 0.5588 g, 1.12 % of 50 g moist."""
    given = shown(replace(BRICK, material="cement screed"), CM)
    assert "1.12 % wet basis, 1.13 % dry basis" in given.words
    assert any("acetylene" in caution for caution in given.cautions)
    assert "50 g, 0.63 bar, 20 degC" in given.notes[0]


@pytest.mark.parametrize("bad", [{"sample_mass": "fifty"}, {"crushed": "no"}, {"crushed": ""}, {"gauge_pressure": "9"}])
def test_a_carbide_test_that_cannot_count_keeps_its_cautions(bad: dict[str, str]) -> None:
    given = shown(replace(BRICK, material="cement screed"), replace(CM, **bad))
    assert given.status in ("cannot be used", "test not valid")
    assert any("acetylene" in caution for caution in given.cautions)
    assert len(given.rests_on) == 2
    assert given.next_steps


def test_salts_by_two_editions_that_disagree() -> None:
    given = shown(BRICK, SaltContent("s1", at(9), "0.4", "<0.05", laboratory="a laboratory"))
    assert "The editions disagree" in given.words
    assert any("reported as <0.05" in note for note in given.notes)
    assert "no upper end" in shown(BRICK, SaltContent("s1", at(9), ">0.4")).words


def test_a_sample_that_nobody_described_is_named() -> None:
    given = shown(SampleWeighing("ghost", "moist", "10", at(0)))
    assert given.status == "cannot be used"
    assert "'ghost'" in given.words
    assert given.next_steps


def test_a_dried_sample_is_no_floor_method() -> None:
    """Oven figures under a floor test accept nothing, and 'oven' is no method of a floor test."""
    book = FieldBook()
    floor = FloorTest("f1", "hall", "hole", "20", "100", "1", at(0), "2019")
    book.write(
        floor,
        replace(BRICK, test="f1", material="concrete"),
        *oven("102", "100"),
        replace(floor, id="f2", method="oven"),
    )
    case = book.case()
    by_hole, by_oven = floor_tests(case)
    assert by_hole.status == "no limit taken"
    assert any("a sample does not belong to its method" in note for note in by_hole.notes)
    assert by_oven.status == "cannot be used"
    assert by_oven.next_steps
    assert any("accept no floor" in note for note in samples_shown(case)[0].notes)


def test_a_sample_that_breaks_leaves_the_profile_and_is_named() -> None:
    book = FieldBook()
    for number in range(4):
        name = f"p{number}"
        book.write(replace(BRICK, id=name, height=f"{0.2 + 0.4 * number:.1f}", line="v1"))
        book.write(*(replace(each, sample=name) for each in oven("102", "100", at_75="101")))
    book.write(
        replace(BRICK, id="odd", height="low", line="v1"), *(replace(e, sample="odd") for e in oven("102", "100"))
    )
    (found,) = profiles_of_case(book.case())
    assert found.profile is not None
    assert len(found.profile.bands[0].points) == 4
    assert len(found.left_out) == 1
    assert found.left_out[0].startswith("odd: ")


def test_a_sample_still_changing_in_humid_air_is_said_to_be_unsettled() -> None:
    rows = oven("102.1", "100.0", at_75="101.8")
    settled = shown(BRICK, *rows, replace(rows[-1], at=at(27)), *CHAIN)
    assert not any("settled" in note for note in settled.notes)
    moving = shown(BRICK, replace(rows[-1], mass="101.2", at=at(13)), *rows, *CHAIN)
    assert any("still went from 101.2 to 101.8 g" in note for note in moving.notes)
    assert any("settled there is not shown" in note for note in shown(BRICK, *rows, *CHAIN).notes)


def test_the_latest_mass_in_humid_air_is_taken_whatever_was_entered_last() -> None:
    rows = oven("102.1", "100.0", at_75="101.8")
    given = shown(BRICK, *rows, replace(rows[-1], mass="101.2", at=at(13)), *CHAIN)
    assert "Hygroscopic 1.80 %" in given.words


def test_a_weighing_without_a_known_state_is_named_and_the_rest_stays() -> None:
    odd = replace(oven("102", "100")[0], state="damp")
    given = shown(BRICK, *oven("102", "100"), odd)
    assert "2.00 % dry basis" in given.words
    assert any(note.startswith("Left out: phone/") for note in given.notes)


def test_five_percent_wet_basis_is_5_26_dry() -> None:
    """Task 52: both stand there. 5.0 % of 50 g is 2.5 g of water: 2.5 x 8.314463 x 293.15 / (2 x 18.01528 x 6e-4) = 2.819 bar."""
    given = shown(replace(BRICK, material="cement screed"), replace(CM, gauge_pressure="2.8187"))
    assert "5.00 % wet basis, 5.26 % dry basis" in given.words


def test_a_sample_in_gypsum_dried_hot_leaves_the_profile_and_gives_no_figure() -> None:
    book = FieldBook()
    book.write(replace(BRICK, material="gypsum plaster", height="0.2", line="v1"), *oven("120", "100", at_75="101"))
    (found,) = profiles_of_case(book.case())
    assert found.profile is None
    assert "not a moisture content" in found.left_out[0]
    walls = [each for each in samples_shown(book.case()) if each.kind == "wall profile"]
    assert walls[0].status == "cannot be used"
    assert not walls[0].tables
    assert walls[0].next_steps


def test_a_bad_sample_stops_only_itself() -> None:
    book = FieldBook()
    book.write(BRICK, *oven("a lot", "100"))
    book.write(replace(BRICK, id="s2"), *(replace(each, sample="s2") for each in oven("102", "100")))
    bad, good = samples_shown(book.case())
    assert bad.status.startswith("cannot be used")
    assert "2.00 % dry basis" in good.words
