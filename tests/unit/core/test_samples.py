"""Samples: carbide test, oven, drilled profile, salts and chain of custody."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from desorb.core.samples import (
    CarbideTest,
    CustodyStep,
    DrilledSample,
    WallProfile,
    Weighing,
    assess_carbide,
    assess_oven,
    check_custody,
    classify_salts,
    protocol,
    wall_profile,
)
from desorb.core.samples.carbide import CAUTIONS, free_volume, gauge_pressure, sample_mass, water_mass
from desorb.core.samples.gravimetric import MASONRY_PRACTICE, mass_is_constant
from desorb.core.samples.profile import from_weighings
from desorb.errors import InputError, NotUnderstood, OutOfRange

GOOD = CarbideTest("S1", "cement", 20.0, 1.0, 20.0, 676.48, True, "20 to 40 mm", 5.0, 20.0)
DAYS = (Weighing(24, 100.05), Weighing(48, 100.02), Weighing(72, 100.0))


def test_cautions_come_first() -> None:
    """What do I have to mind before I open the reagent?"""
    shown = protocol()
    assert shown[: len(CAUTIONS)] == CAUTIONS
    words = " ".join(CAUTIONS).lower()
    for danger in ("flammable", "eyes and hands", "outdoors", "copper", "silver", "caustic", "confined"):
        assert danger in words


def test_both_bases_always() -> None:
    """Task 52: 5.0 % by carbide, what is that on dry mass?"""
    result = assess_carbide(GOOD)
    assert result.water == pytest.approx(1.0, abs=1e-4)
    assert result.words.startswith("Carbide test of S1: 5.00 % wet basis, 5.26 % dry basis.")
    assert (result.faults, result.warnings) == ((), ())
    assert result.test == GOOD  # mass, depth, pressure and temperature stay with it


@pytest.mark.parametrize("crushed", [False, None])
def test_not_crushed_is_repeated(crushed: bool | None) -> None:
    """There were lumps left in the vessel."""
    result = assess_carbide(replace(GOOD, fully_crushed=crushed))
    assert (result.water, result.wet_basis, result.dry_basis) == (None, None, None)
    assert "test not valid" in result.words
    assert "repeat the test" in result.words


def test_reagent_used_up() -> None:
    assert "1.78 g this water uses up" in assess_carbide(replace(GOOD, reagent_mass=1.5)).words


def test_carbide_warnings() -> None:
    odd = replace(GOOD, gauge_pressure=1.1, temperature=25.0, depth="", sample_mass=30.0)
    warned = " ".join(assess_carbide(odd).warnings)
    assert all(part in warned for part in ("may decompose", "+17 mbar", "depth", "usual sample mass"))  # 17: rules 3.7
    assert "not recorded" in " ".join(assess_carbide(replace(GOOD, temperature_when_closed=None)).warnings)
    assert "material" not in " ".join(assess_carbide(replace(GOOD, material="brick")).faults)


def test_sample_masses() -> None:
    assert [sample_mass(material) for material in ("cement", "magnesite", "calcium sulphate")] == [50, 50, 100]
    assert sample_mass("cement", still_wet=True) == 20
    for material, wet in (("brick", False), ("calcium sulphate", True)):
        with pytest.raises(InputError, match="maker"):
            sample_mass(material, wet)


def test_carbide_refusals() -> None:
    assert free_volume(800, 20, 60, 5) == 715
    with pytest.raises(InputError, match="No volume is left"):
        free_volume(100, 50, 40, 10)
    for pressure, temperature, volume in ((-0.1, 20, 700), (4, 20, 700), (1, 60, 700), (1, 20, 0)):
        with pytest.raises(OutOfRange):
            water_mass(pressure, temperature, volume)
    with pytest.raises(InputError, match="not a number"):
        gauge_pressure(float("nan"), 20, 700)
    with pytest.raises(InputError, match="more water than the sample"):
        assess_carbide(replace(GOOD, sample_mass=1.0))


@pytest.mark.parametrize("material", ["gypsum", "calcium sulphate"])
def test_gypsum_at_105_is_refused(material: str) -> None:
    """Task 52: the laboratory dried the gypsum screed at 105 degC."""
    with pytest.raises(InputError, match="not a moisture content") as refused:
        assess_oven("S2", material, 102.0, DAYS, 105.0)
    assert "state the drying regime" in str(refused.value)
    assert assess_oven("S2", material, 102.0, DAYS, 40.0).moisture_content == pytest.approx(2.0)
    assert "disputed" in assess_oven("S2", material, 102.0, DAYS, 60.0).warnings[0]


def test_oven_temperature_stays_with_the_result() -> None:
    result = assess_oven("S2", "brick", 102.0, DAYS, 105.0)
    assert result.moisture_content == pytest.approx(2.0)  # on dry mass; on moist mass it would be 1.96
    assert (result.oven_temperature, result.constant_mass) == (105.0, True)
    assert "2.00 % dry basis, dried at 105 degC" in result.words
    assert "some moisture stays in" in assess_oven("S2", "brick", 102.0, DAYS, 60.0).warnings[0]


@pytest.mark.parametrize(
    "weighings",
    [
        (),
        DAYS[:2],
        (Weighing(1, 100.0), Weighing(2, 100.0), Weighing(3, 100.0)),  # hours too short
        (Weighing(24, 100.2), Weighing(48, 100.05), Weighing(72, 100.0)),  # 0.2 % over the three
        (Weighing(24, 100.0), Weighing(48, 100.0), Weighing(60, 101.0), Weighing(72, 100.0)),  # up and down between
    ],
)
def test_without_constant_mass_no_figure(weighings: tuple[Weighing, ...]) -> None:
    """It looked dry after one night in the oven."""
    result = assess_oven("S2", "brick", 102.0, weighings, 105.0)
    assert result.moisture_content is None
    assert "test not valid" in result.words


def test_oven_refusals() -> None:
    assert mass_is_constant((Weighing(0, 100.4), Weighing(4, 100.0)), MASONRY_PRACTICE)
    with pytest.raises(InputError, match="rising hours"):
        mass_is_constant(DAYS[::-1], MASONRY_PRACTICE)
    with pytest.raises(InputError, match="No drying temperature"):
        assess_oven("S2", "cheese", 102.0, DAYS, 40.0)
    with pytest.raises(InputError, match="more dry than moist"):
        assess_oven("S2", "brick", 99.0, DAYS, 105.0)


def profile(free: str, hygroscopic: str = "1", begin: int = 40, constant: bool | None = True) -> WallProfile:
    """One band from free moistures, from the base upwards, 0.3 m apart."""
    held = Decimal(hygroscopic)
    return wall_profile(
        [
            DrilledSample(Decimal(n) * Decimal("0.3"), begin, begin + 40, held + Decimal(part), held, constant)
            for n, part in enumerate(free.split())
        ]
    )


@pytest.mark.parametrize(
    ("free", "opinion"),
    [
        ("6 4 2 0.2", "Profile consistent with rising damp"),
        ("6 4 2 1.5", "Cannot say whether"),
        ("3 3 3 3", "Profile not consistent with rising damp"),
        ("0.2 4 4 0.3", "Profile not consistent with rising damp"),
        ("6 1 4 0.2", "Profile not consistent with rising damp"),
        ("0.5 0.3 0.2 0.1", "Profile not consistent with rising damp"),
        ("6 4 0.2", "No opinion on rising damp"),
    ],
)
def test_pattern_in_words(free: str, opinion: str) -> None:
    """Task 53: what does the line over height look like?"""
    assert profile(free).bands[0].rising.startswith(opinion)


def test_salts_hold_the_water() -> None:
    assert "consistent with hygroscopic salts" in profile("0.1 0.1 0 0", hygroscopic="5").bands[0].salts
    assert "not consistent" in profile("0.1 0.1 0 0", hygroscopic="1").bands[0].salts


def test_only_the_deepest_band_speaks_of_rising() -> None:
    samples = [
        DrilledSample(Decimal(n), begin, begin + 30, Decimal(total), Decimal(1), True)
        for begin, totals in ((10, "7 5 3 1"), (40, "1 1 1 1"))
        for n, total in enumerate(totals.split())
    ]
    outer, inner = wall_profile(samples).bands
    assert "See the deepest band" in outer.rising
    assert "not consistent with rising damp" in inner.rising


@pytest.mark.parametrize(("constant", "reason"), [(False, "not constant"), (None, "not recorded")])
def test_samples_without_constant_mass_are_left_out(constant: bool | None, reason: str) -> None:
    shown = profile("6 4 2 0", constant=constant)
    assert shown.bands == ()
    assert len(shown.left_out) == 4
    assert reason in shown.left_out[0]


def test_profile_of_weighings_and_refusals() -> None:
    assert from_weighings(Decimal(104), Decimal(101), Decimal(100)) == (4, 1, 3)
    with pytest.raises(InputError, match="below the dry mass"):
        from_weighings(Decimal(99), Decimal(101), Decimal(100))
    with pytest.raises(InputError, match="no sample"):
        wall_profile([])
    one = DrilledSample(Decimal(1), 40, 80, Decimal(2), None, True)
    for bad in ([one, one], [replace(one, depth_to=40)]):
        with pytest.raises(InputError, match="do not make a profile"):
            wall_profile(bad)
    assert "should be discarded" in profile("1 1", begin=0).bands[0].warnings[0]


@pytest.mark.parametrize(
    ("ion", "ends"),
    [  # mass-%, WTA 2-6-99/D then WTA 3-13-01/D; rows MS-10 to MS-15 of the project's limits, rules 4.2
        ("chloride", ("0.2", "0.5", "0.03", "0.10")),
        ("nitrate", ("0.1", "0.3", "0.05", "0.15")),
        ("sulphate", ("0.5", "1.5", "0.10", "0.25")),
    ],
)
def test_salt_classes(ion: str, ends: tuple[str, ...]) -> None:
    step = Decimal("0.001")
    for which in (0, 1):
        low, high = (Decimal(end) for end in ends[2 * which : 2 * which + 2])
        ranks = [classify_salts({ion: at}).classes[which].rank for at in (low - step, low, high, high + step)]
        assert ranks == [0, 1, 1, 2]


def test_highest_ion_decides_and_the_editions_disagree() -> None:
    """Is this wall salty or not? The two sheets say different things."""
    result = classify_salts({"chloride": Decimal("0.12"), "nitrate": Decimal("0.02"), "sulphate": Decimal("0.05")})
    assert result.classes[0].words == (
        "WTA 2-6-99/D (outer 0 to 30 mm of masonry): low, decided by chloride and nitrate and sulphate."
    )
    assert "urgent measures, decided by chloride." in result.classes[1].words
    assert "'low' by WTA 2-6-99/D, 'urgent measures' by WTA 3-13-01/D" in result.conflict
    part = classify_salts({"chloride": Decimal("0.01")})
    assert part.conflict == ""
    assert "at least low, decided by chloride; not measured: nitrate, sulphate" in part.classes[0].words
    for bad in ({}, {"iron": Decimal(1)}):
        with pytest.raises(InputError, match="cannot be classed"):
            classify_salts(bad)
    with pytest.raises(OutOfRange):
        classify_salts({"chloride": Decimal(-1)})


CHAIN = [
    CustodyStep("taken", "A", "2026-01-15T10:00", Decimal("52.3")),
    CustodyStep("sealed", "A", "2026-01-15T10:05", Decimal("52.3")),
    CustodyStep("sent", "B", "2026-01-15T16:00", Decimal("52.2")),
    CustodyStep("received", "laboratory", "2026-01-16T09:00", Decimal("52.2")),
]


def test_custody_whole() -> None:
    assert check_custody("S3", CHAIN).gaps == ()
    assert "without a gap" in check_custody("S3", CHAIN).words


@pytest.mark.parametrize("missing", range(4))
def test_custody_broken_by_a_step(missing: int) -> None:
    """Task 59: nobody wrote down when sample S3 was sealed."""
    result = check_custody("S3", CHAIN[:missing] + CHAIN[missing + 1 :])
    assert result.words == f"Sample S3: custody broken: no record that it was {CHAIN[missing].step}."


@pytest.mark.parametrize(
    ("change", "gap"),
    [
        ({"by": " "}, "who not recorded when sent"),
        ({"at": ""}, "when not recorded when sent"),
        ({"mass": None}, "mass not recorded when sent"),
        ({"at": "2026-01-14T10:00"}, "before it was sealed"),
        ({"at": "2026-01-15T16:00+00:00"}, "no time zone"),
        ({"mass": Decimal("52.15")}, "mass 52.3 g when sealed, 52.15 g when sent"),
    ],
)
def test_custody_gaps(change: dict[str, object], gap: str) -> None:
    steps = [*CHAIN[:2], replace(CHAIN[2], **change), CHAIN[3]]
    result = check_custody("S3", steps)
    assert gap in result.words
    assert "custody broken" in result.words


def test_custody_refusals() -> None:
    with pytest.raises(InputError, match="once"):
        check_custody("S3", [CHAIN[0], CHAIN[0]])
    with pytest.raises(NotUnderstood, match="ISO date"):
        check_custody("S3", [CHAIN[0], replace(CHAIN[1], at="noon")])
