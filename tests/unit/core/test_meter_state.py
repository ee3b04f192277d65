"""core/meter_state.py: what a sweep shows about the instrument rather than about the wall.

All thresholds are settings of ours (common practice, no source); TASKS 62 and 30 say what is asked.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builder import COMPARATIVE, METER, FieldBook, at

from desorb.core import meter_state
from desorb.core.kinds import ScaleShown, Visit
from desorb.core.outcome import BLOCKS_BOTH, BLOCKS_PASS, Finding


def book_of(*zones: str, **how: bool) -> FieldBook:
    book = FieldBook(**how)
    book.building("screed", "cement screed", *(zones or ("kitchen", "utility: sound")))
    return book


# -- the scale shown --------------------------------------------------------------------------------------------------


def not_confirmed(book: FieldBook) -> list[Finding]:
    return list(meter_state.scale_not_confirmed(book.evidence(), book.case()))


def looked(
    clock: str, shown: str = "comparative", scale: str = "comparative", visit: str = "d0", day: float = 0
) -> ScaleShown:
    return ScaleShown(visit, "m1", scale, shown, at(day, clock))


@pytest.mark.parametrize(
    ("looks", "reading_at", "codes"),
    [
        ([], "10:00", ["scale-not-confirmed"]),
        ([looked("09:59")], "10:00", []),
        ([looked("10:00")], "10:00", []),  # the look comes before the reading of the same minute
        ([looked("10:01")], "10:00", ["scale-not-confirmed"]),
        ([looked("09:00")], "10:00", []),  # 60 minutes
        ([looked("08:59")], "10:00", ["scale-not-confirmed"]),  # a pause
        ([looked("09:59", visit="d1")], "10:00", ["scale-not-confirmed"]),
        ([looked("09:59", scale="oven-eq screed", shown="oven-eq screed")], "10:00", ["scale-not-confirmed"]),
        ([looked("09:59", shown="concrete")], "10:00", ["scale-differs"]),
        ([looked("09:50", shown="concrete"), looked("09:59")], "10:00", []),
        ([looked("09:59", shown=" COMPARATIVE  ")], "10:00", []),  # letters and spaces
    ],
)
def test_a_look_at_the_instrument(looks: list[ScaleShown], reading_at: str, codes: list[str]) -> None:
    book = book_of(confirmed=False)
    book.write(*looks)
    book.line("kitchen/floor", "54", clock=reading_at)
    findings = not_confirmed(book)
    assert [finding.code for finding in findings] == codes
    for finding in findings:
        assert finding.blocks == (BLOCKS_BOTH if finding.code == "scale-differs" else BLOCKS_PASS)
        assert finding.spots == ("kitchen.1",)


def test_each_reading_within_the_hour_carries_the_look_on() -> None:
    """Looked at 10:00; readings at 10:50, 11:40, 12:30: never an hour apart. Then 13:31: a pause."""
    book = book_of(confirmed=False)
    book.write(looked("10:00"))
    for number, clock in enumerate(("10:50", "11:40", "12:30")):
        book.line("kitchen/floor", "54", clock=clock, names=f"k{number}")
    assert not_confirmed(book) == []
    book.line("kitchen/floor", "54", clock="13:31", names="late")
    book.line("kitchen/floor", "54", clock="13:32", names="later")
    assert [finding.spots for finding in not_confirmed(book)] == [("late", "later")]


def test_a_differing_look_lasts_until_the_next_look_or_pause() -> None:
    book = book_of(confirmed=False)
    book.write(looked("09:59", shown="concrete"))
    book.line("kitchen/floor", "54, 55", clock="10:00")
    book.write(looked("10:30"))
    book.line("kitchen/floor", "56", clock="10:31", names="right")
    book.write(looked("10:40", shown="concrete"))
    book.line("kitchen/floor", "57", clock="12:00", names="after-lunch")
    findings = {finding.code: finding.spots for finding in not_confirmed(book)}
    assert findings == {"scale-differs": ("kitchen.1", "kitchen.2"), "scale-not-confirmed": ("after-lunch",)}


def test_the_face_of_the_instrument_may_carry_another_word() -> None:
    """The surveyor calls it 'comparative', the instrument shows 'scale of 100': described so, that is the same."""
    book = book_of(confirmed=False)
    book.write(
        replace(METER, scales=(replace(COMPARATIVE, face="scale of 100"),)), looked("09:59", shown="Scale of 100")
    )
    book.line("kitchen/floor", "54")
    assert not_confirmed(book) == []
    book.write(looked("10:10", shown="comparative"))
    book.line("kitchen/floor", "54", clock="10:11", names="k2")
    assert [finding.code for finding in not_confirmed(book)] == ["scale-differs"]


def test_a_look_at_an_instrument_or_scale_that_nobody_described() -> None:
    """The word itself is then compared; nothing breaks."""
    book = book_of(confirmed=False)
    book.write(ScaleShown("d0", "m9", "any", "any", at()), ScaleShown("d0", "m1", "unknown", "other", at()))
    book.line("kitchen/floor", "54")
    assert [finding.code for finding in not_confirmed(book)] == ["scale-not-confirmed"]


def test_a_laboratory_shows_no_scale() -> None:
    book = book_of(confirmed=False)
    book.line("kitchen/floor", "2.1", scale="oven", covering="none")
    assert not_confirmed(book) == []


# -- a held display ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "runs"),
    [
        ("54, 54, 54", [3]), ("54, 54", []), ("54, 54, 55, 54", []), ("54, 55, 55, 55, 55, 56", [4]),
        ("54, 54, 54, 61, 62, 62, 62", [3, 3]), ("54, 54.0, 54 54 54", [3]), ("54 55, 54, 54", []), ("54, 54 55, 54, 54", []),
        ("100, 100, 100", []), ("0, 0, 0", []), ("", []),
    ],
)  # fmt: skip
def test_the_same_figure_at_three_successive_spots(values: str, runs: list[int]) -> None:
    book = book_of()
    if values:
        book.line("kitchen/floor", values)
    findings = list(meter_state.display_held(book.evidence()))
    assert [len(finding.entries) for finding in findings] == runs
    assert all(finding.blocks == BLOCKS_PASS for finding in findings)


def test_one_spot_read_three_times_is_no_held_display() -> None:
    book = book_of()
    for _ in range(3):
        book.line("kitchen/floor", "54", names="k")
    assert list(meter_state.display_held(book.evidence())) == []


def test_successive_means_in_the_order_they_were_taken() -> None:
    """Written down as 54, 60, 54, 54: taken in another order, the three stand in a row."""
    book = book_of()
    book.line("kitchen/floor", "54", clock="10:00", names="a")
    book.line("kitchen/floor", "60", clock="10:30", names="b")
    book.line("kitchen/floor", "54, 54", clock="10:10", names="c d")
    assert [finding.spots for finding in meter_state.display_held(book.evidence())] == [("a", "c", "d")]


def test_another_visit_or_scale_is_another_sweep() -> None:
    book = book_of()
    book.line("kitchen/floor", "54, 54")
    book.line("kitchen/floor", "54", day=1, names="k3")
    book.line("kitchen/floor", "54", scale="fine comparative", names="k4")
    assert list(meter_state.display_held(book.evidence())) == []


# -- a step in all values ---------------------------------------------------------------------------------------------


def steps(book: FieldBook) -> list[Finding]:
    return list(meter_state.step_in_all(book.evidence(), book.case()))


@pytest.mark.parametrize(
    ("controls", "spots", "way"),
    [
        ("21, 19, 22", "27, 28", "up"), ("15, 13, 16", "20, 21", "down"), ("18, 16, 19", "27, 28", ""),
        ("21, 19, 22", "20, 28", ""), ("20, 18, 21", "26, 27", ""), ("21, 19, 22", "27, 26", ""),
    ],
)  # fmt: skip
def test_everything_moved_the_same_way(controls: str, spots: str, way: str) -> None:
    """First day: controls 18, 16, 19 and spots 24, 25. With r = 1 a step is more than 2 digits at every spot."""
    book = book_of()
    book.controls("utility/floor", "18, 16, 19")
    book.line("kitchen/floor", "24, 25")
    book.controls("utility/floor", controls, day=7)
    book.line("kitchen/floor", spots, day=7)
    findings = steps(book)
    assert [f"moved {way}" in finding.words for finding in findings] == ([True] if way else [])
    if way:
        assert "all 5 spots read again in visit d7, controls too" in findings[0].words
        assert findings[0].blocks == BLOCKS_PASS


def test_a_step_needs_three_pairs_and_a_control_among_them() -> None:
    book = book_of()
    book.line("kitchen/floor", "24, 25, 26")
    book.line("kitchen/floor", "34, 35, 36", day=7)
    assert steps(book) == []  # it may be a new flood: no control moved
    book = book_of()
    book.controls("utility/floor", "18")
    book.line("kitchen/floor", "24")
    book.controls("utility/floor", "28", day=7)
    book.line("kitchen/floor", "34", day=7)
    assert steps(book) == []  # two pairs


@pytest.mark.parametrize("change", [{"covering": "vinyl"}, {"scale": "fine comparative"}])
def test_only_like_is_paired_with_like(change: dict[str, str]) -> None:
    book = book_of()
    book.controls("utility/floor", "18, 16, 19", names="a b c")
    book.controls("utility/floor", "28, 26, 29", names="a b c", day=7, **change)
    assert steps(book) == []


def test_clipped_values_are_not_paired() -> None:
    book = book_of()
    book.controls("utility/floor", "18, 16, 0")
    book.controls("utility/floor", "28, 26, 29", day=7)
    assert steps(book) == []


def test_the_visit_before_is_the_one_before() -> None:
    """Three visits: the step is against the visit before, not against the first one."""
    book = book_of()
    for day, values in ((0, "18, 16, 19"), (7, "28, 26, 29"), (14, "28, 27, 29")):
        book.controls("utility/floor", values, day=day)
    assert [finding.visit for finding in steps(book)] == ["d7"]


def test_a_redescribed_scale_is_not_paired_with_the_old_one() -> None:
    book = book_of()
    book.controls("utility/floor", "18, 16, 19")
    book.write(replace(METER, scales=(replace(COMPARATIVE, top="199"),)))
    book.controls("utility/floor", "36, 32, 38", day=7)
    assert steps(book) == []


# -- interference -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("controls", "spots", "found"),
    [("98, 99", "100", True), ("97, 99", "100", False), ("18, 17", "100", False), ("98", "99", False)],
)
def test_uniform_readings_at_the_top_on_sound_places_too(controls: str, spots: str, found: bool) -> None:
    """Within 2 % of the range of the top, three places or more, a sound one among them (TASKS 30)."""
    book = book_of()
    book.controls("utility/floor", controls, covering="ceramic")
    book.line("kitchen/floor", spots, covering="ceramic")
    findings = list(meter_state.interference(book.evidence()))
    assert bool(findings) == found
    if found:
        assert findings[0].blocks == BLOCKS_BOTH
        assert "metal, mesh, foil" in findings[0].words


def test_a_survey_spot_in_a_sound_room_counts_as_sound() -> None:
    book = book_of()
    book.line("kitchen/floor", "99, 100")
    assert list(meter_state.interference(book.evidence())) == []
    book.line("utility/floor", "99")
    assert len(list(meter_state.interference(book.evidence()))) == 1


def test_other_constructions_coverings_and_endless_scales_are_not_thrown_together() -> None:
    book = book_of()
    book.building("wall", "plaster", "north: sound")
    book.line("kitchen/floor", "99, 100")
    book.controls("north/wall", "99")
    book.controls("utility/floor", "99", covering="vinyl")
    assert list(meter_state.interference(book.evidence())) == []
    book.write(replace(METER, scales=(replace(COMPARATIVE, top="", bottom=""),)))
    book.controls("utility/floor", "99, 99, 99", day=1)
    assert list(meter_state.interference(book.evidence())) == []


def test_a_visit_that_was_struck_or_never_described_stops_nothing() -> None:
    """A visit is struck, or readings arrive before it: what was read still stands, and the case can be read."""
    book = book_of()
    book.controls("utility/floor", "18 19 20 18", day=0)
    for day in (0, 2, 4):
        book.line("kitchen/floor", "54 55", day=day)
    visits = [entered for entered in book.case().visits if entered.record.id in ("d0", "d2")]
    for entered in visits:
        book.strike(entered)
    assert set(book.statuses("kitchen/floor"))
    assert book.assessed().findings is not None


def test_a_visit_begun_by_two_people_on_two_days_is_said() -> None:
    """Two phones without a network both begin the next visit: one word, two days, and nobody would know."""
    book = book_of()
    book.line("kitchen/floor", "54", day=0)
    book.write(Visit("d0", at(2), "A. Second"))
    (finding,) = book.findings("visit-begun-twice")
    assert "begun 2 times" in finding.words
    assert "A. Second" in finding.words
