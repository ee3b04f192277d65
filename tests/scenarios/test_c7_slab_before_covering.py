"""A concrete slab read before a covering is laid: what the core can and cannot say of it (invented case C7).

Acceptance of a floor (holes counted, depth, waiting time, limit of the covering) is no comparison with a control; here
it is only held that nothing in the core lets a comparative survey, an overdue probe or a mean be taken for it.
"""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from case_builder import METER, PROBE, Desk, all_words

from desorb.core.outcome import CANNOT_SAY
from desorb.core.rule import PREDICTION_1

DAY_0, DAY_1 = "2026-05-04", "2026-05-05"
SURVEY = "33,35,31,34,32,36,33,34,52,49,35,33,32,34,36,33,35,34,31,33"
BUILDING = """
    [[construction]]
    id = "slab"
    words = "175 mm slab on membrane, power-floated, drying from the top"
    material = "concrete"
    built = "2025"

    [[zone]]
    id = "depot"
    words = "depot, 24 x 15 m"
    construction = "slab"
"""
HOLES = """\
id,spot,zone,element,value,scale,instrument,scale_shown,covering,depth_from_mm,depth_to_mm,temperature_degC,visit,taken_at
C7-1,hole 1,depot,floor,72.4,hole,h1,hole,none,0,70,20.1,2026-05-05,2026-05-05T09:00
C7-2,hole 2,depot,floor,74.1,hole,h1,,none,0,70,19.8,2026-05-05,2026-05-05T09:10
C7-3,hole 3,depot,floor,83.6,hole,h1,,none,0,70,12.4,2026-05-05,2026-05-05T09:20
C7-4,hole 4,depot,floor,71.9,hole,h1,,none,0,35,20.0,2026-05-05,2026-05-05T09:30
C7-5,hole 5,depot,floor,73.0,hole,h2,hole,none,0,70,20.2,2026-05-05,2026-05-05T09:40
"""
SECOND_PROBE = """
    [[instrument]]
    id = "h2"
    words = "second humidity probe, invented"
    serial = "H-10"
    calibration_due = "2026-12-31"

    [[instrument.scales]]
    key = "hole"
    principle = "relative humidity"
    claims = "measured"
    method = "relative humidity in a sealed hole"
    unit = "% RH"
    bottom = "0"
    top = "100"
    resolution = "0.1"
    repeatability = "2"

    [[instrument.block]]
    scale = "hole"
    nominal = "75.3"
    tolerance = "2"
    interval_days = 30
"""


@pytest.fixture(scope="module")
def depot(tmp_path_factory: pytest.TempPathFactory) -> SimpleNamespace:
    with Desk(tmp_path_factory.mktemp("c7")) as desk:
        desk.instruments(METER, PROBE)
        desk.instrument_sheet(SECOND_PROBE)
        desk.check("m1", "50", "2026-05-01T08:00")
        desk.check("h1", "75.3", "2026-05-01T08:00")
        desk.check("h2", "75.0", "2026-03-25T08:00")  # 41 days before
        assert desk.sheet(BUILDING).ok
        desk.ready([DAY_0, DAY_1], ["m1", "h1", "h2"])
        desk.line("depot/floor", SURVEY, day=DAY_0, preparation="abraded", finish="power-floated")
        survey = desk.by_id()
        assert desk.table(HOLES).ok
        return SimpleNamespace(
            survey=survey, holes=desk.by_id(), plain=desk.by_id(rule=PREDICTION_1), all=desk.assessed()
        )


def test_a_comparative_survey_is_no_acceptance(depot: SimpleNamespace) -> None:
    """Trap: twenty even figures look accepted. Without a control they say where to look next, and nothing else."""
    floor = depot.survey["depot/floor"]
    assert floor.status == CANNOT_SAY
    assert all(depot.survey[f"depot.{number}"].status == CANNOT_SAY for number in range(1, 21))
    assert "3 more controls needed" in depot.survey["depot.9"].reasons[0]
    values = {each.value: each.id for each in depot.survey.values() if each.kind == "spot"}
    assert values[52.0] == "depot.9"  # the highest place is still named, so the hole can be put there


def test_the_overdue_probe_is_marked_before_and_after(depot: SimpleNamespace) -> None:
    """Hole 5 was read with a probe last checked 41 days before, its interval is 30: every reading with it is marked."""
    said = [finding for finding in depot.all.findings if finding.code == "check-overdue"]
    assert len(said) == 1
    assert said[0].spots == ("hole 5",)
    assert "41 days" in said[0].words
    assert "30 days" in said[0].words
    assert [finding.code for finding in depot.holes["hole 5"].findings] == ["check-overdue"]


def test_no_hole_passes_and_no_mean_is_printed(depot: SimpleNamespace) -> None:
    """Trap: the mean of the five is 75.0, and 75 is the limit. Neither the mean nor a pass stands anywhere."""
    assert sum((72.4, 74.1, 83.6, 71.9, 73.0)) / 5 == pytest.approx(75.0)
    for assessed in (depot.holes, depot.plain):
        assert {assessed[f"hole {number}"].status for number in range(1, 6)} == {CANNOT_SAY}
        assert assessed["depot/floor"].status == CANNOT_SAY
    assert "75.0" not in all_words(depot.all.all)


def test_the_cold_hole_is_shown_with_its_temperature(depot: SimpleNamespace) -> None:
    """Trap: 83.6 by the loading door is not dismissed: the value stands with its context, and decides nothing yet."""
    cold = depot.holes["hole 3"]
    assert cold.value_text == "83.6 % RH"
    reading = next(each for each in depot.all.evidence if each.spot.id == "hole 3").reading
    assert (reading.temperature, reading.depth_to) == ("12.4", "70")


def test_the_shallow_hole_is_not_comparable_with_the_others(depot: SimpleNamespace) -> None:
    """35 mm instead of 70 mm: another depth, so it would not serve as a control of the others either."""
    from desorb.core.compare import differing_fields

    holes = {each.spot.id: each for each in depot.all.evidence}
    assert [name for name, _ in differing_fields(holes["hole 4"], holes["hole 1"])] == ["depth"]
    assert differing_fields(holes["hole 2"], holes["hole 1"]) == []


def test_the_decimals_are_those_of_the_probe(depot: SimpleNamespace) -> None:
    """72.4 is printed as 72.4: never more decimals than the instrument shows, here through the whole assessment."""
    for number, text in ((1, "72.4 % RH"), (2, "74.1 % RH"), (4, "71.9 % RH"), (5, "73.0 % RH")):
        assert depot.holes[f"hole {number}"].value_text == text
