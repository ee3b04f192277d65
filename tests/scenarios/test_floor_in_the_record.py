"""Case C7 through a sheet and a store: the floor place by place out of the record, then again, properly (invented).

The sheet goes in by the door that everybody uses; waiting, service hours and days since the check are worked out from times.
"""

from __future__ import annotations

import re
from dataclasses import replace
from types import MappingProxyType

import pytest
from case_builder import Desk, clock

from desorb.core.floors_of_case import FloorTestOfCase, floor_tests, floor_tests_of_case
from desorb.core.kinds import LimitTaken
from desorb.core.shown import Shown
from desorb.errors import InputError, NotFound, Refused
from desorb.service.floor_tests import take_limit
from desorb.service.take import take_content
from desorb.tables import limits

SURVEY = "33,35,31,34,32,36,33,34,52,49,35,33,32,34,36,33,35,34,31,33"  # case C7 of the project
SPOTS = ", ".join(
    f'{{place = "spot {number}", value = {value}, scale = "comparative", instrument = "m1"}}'
    for number, value in enumerate(SURVEY.split(","), start=1)
)
SHEET = f"""
[[construction]]
id = "slab"
material = "concrete"
words = "slab on a membrane, invented"

[[zone]]
id = "depot"
words = "the whole floor"
construction = "slab"

[[floor_test]]
id = "f1"
zone = "depot"
method = "hole"
area = 360
thickness = 175
drying_faces = 1
edition = 2019
material = "concrete"
covering = "resilient"
region = "US"
power_floated = "yes"
at = 2026-03-01T08:00:00+00:00
survey = [{SPOTS}]

[[limit_stated]]
id = "adhesive"
quantity = "relative humidity in a hole"
comparison = "<="
value = 75
unit = "%RH"
standard = "sheet of the adhesive's maker"
edition = "2026"
at = 2026-03-01T08:00:00+00:00
"""
# hole, value, depth, temperature, days of the month on which the probe was checked: the readings of case C7
HOLES = (
    (1, "72.4", 70, "20.1", "2026-02-26"), (2, "74.1", 70, "19.8", "2026-02-26"), (3, "83.6", 70, "12.4", "2026-02-26"),
    (4, "71.9", 35, "20.0", "2026-02-26"), (5, "73.0", 70, "20.2", "2026-01-21"),
)  # fmt: skip


def place(number: int, day: str, depth: int = 70) -> str:
    survey = 'survey_place = "spot 9"\n' if number == 3 else ""
    return (
        f'[[floor_place]]\ntest = "f1"\nplace = "hole {number}"\nat = {day}T09:00:00+00:00\ndepth = {depth}\nlined = "yes"\n'
        f"service_since = 2026-02-27T08:00:00+00:00\n{survey}\n"
    )


def reading(number: int, at: str, value: str, temperature: str = "20.0", checked: str = "2026-03-09") -> str:
    return (
        f'[[floor_reading]]\ntest = "f1"\nplace = "hole {number}"\nat = {at}+00:00\nvalue = {value}\nuncertainty = 2\n'
        f"temperature = {temperature}\nservice_temperature = 20\ndrift = 0.3\nprobe_checked_at = {checked}T09:00:00+00:00\n\n"
    )


def take(desk: Desk, text: str) -> None:
    taken = take_content(desk.store, desk.case, "floor.toml", text.encode(), desk.folder, clock=clock)
    assert taken.ok, [str(problem) for problem in taken.problems]


def take_c7(desk: Desk) -> None:
    rows = [place(number, "2026-03-02", depth) for number, _, depth, _, _ in HOLES]
    rows += [reading(number, "2026-03-03T10:00:00", value, warm, day) for number, value, _, warm, day in HOLES]
    take(desk, SHEET + "".join(rows))


def gathered(desk: Desk) -> FloorTestOfCase:
    return floor_tests_of_case(desk.folded())[0]


def shown(desk: Desk) -> Shown:
    return floor_tests(desk.folded())[0]


def all_words(given: Shown) -> str:
    cells = [cell for table in given.tables for row in (table.columns, *table.rows) for cell in row]
    parts = (
        given.title,
        given.status,
        given.words,
        *given.cautions,
        *given.plan,
        *given.notes,
        *given.next_steps,
        *cells,
    )
    return " | ".join(parts)


def test_not_accepted_and_each_hole_with_its_validity(desk: Desk) -> None:
    """May the covering go down (task 46, C7)? Two valid holes of six, and the page says what is wrong with each other."""
    take_c7(desk)
    before = shown(desk)
    assert before.status == "no limit taken"
    assert before.next_steps
    taken = take_limit(desk.store, desk.case, "f1", by="R. Marsh", clock=clock)
    assert (taken.key, taken.read, taken.standard) == ("adhesive", "user", "sheet of the adhesive's maker")
    given = shown(desk)
    assert given.status == "not accepted: incomplete"
    assert "2 valid of 6 places, 4 still needed" in given.words
    assert "above the limit: hole 3" in given.words
    assert given.tables[0].rows[0][0] == "hole 3"  # the worst first
    assert {row[0]: row[6] for row in given.tables[0].rows} == {
        "hole 1": "meets limit",
        "hole 2": "does not meet limit",
        "hole 3": "test not valid",
        "hole 4": "test not valid",
        "hole 5": "test not valid",
    }
    words = all_words(given)
    for part in (
        "7.6 K colder than in use", "35 mm deep, planned 70 mm", "last checked 41.05 days", "Not clearly below 75",
        "add 1 more place", "drill again, 70 mm deep", "83.6 %RH is above the limit", "silica", "no mean is taken",
    ):  # fmt: skip
        assert part in words
    assert {entered.entry for entered in desk.folded().floor_readings} <= set(given.rests_on)


def test_the_mean_of_the_five_stands_nowhere(desk: Desk) -> None:
    """72.4, 74.1, 83.6, 71.9 and 73.0 have the mean 75.0. Nobody may meet that number anywhere."""
    assert sum(float(value) for _, value, *_ in HOLES) / len(HOLES) == pytest.approx(75.0)
    take_c7(desk)
    take_limit(desk.store, desk.case, "f1", clock=clock)
    mean = re.compile(r"(?<!\d)75\.0")  # the thickness of 175.0 mm is another number
    assert not mean.search(all_words(shown(desk)))
    assert not mean.search(repr(gathered(desk)))


def test_done_again_properly(desk: Desk) -> None:
    """The bay is heated, a sixth hole drilled, hole 4 drilled anew, the probe checked: read again, it meets this limit."""
    take_c7(desk)
    take_limit(desk.store, desk.case, "f1", clock=clock)
    take(desk, place(4, "2026-03-10") + place(6, "2026-03-10"))
    waiting = {each.place: each for each in gathered(desk).places}
    assert waiting["hole 6"].may_read_from == "2026-03-11T09:00+00:00"
    assert any(
        step.startswith("hole 6: not read yet; may be read from 2026-03-11T09:00") for step in shown(desk).next_steps
    )
    assert "add 1 more place" not in all_words(shown(desk))
    take(desk, "".join(reading(number, "2026-03-10T09:20:00", "70.0") for number in (4, 6)))
    early = {each.place: each.result for each in gathered(desk).places}
    assert early["hole 6"] is not None
    assert early["hole 6"].status == "test not valid"
    take(desk, "".join(reading(number, "2026-03-11T10:00:00", f"72.{number}") for number in range(1, 7)))
    assert gathered(desk).status == "meets limit"
    assert len(shown(desk).tables[1].rows) == 13  # nothing of what was read before is hidden


def test_the_edition_that_was_taken_is_kept(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """A later table has 70: what was judged by 75 still stands by 75, with its edition. A new test takes the new one."""
    take(
        desk,
        SHEET.split("[[limit_stated]]")[0]
        + place(1, "2026-03-02")
        + reading(1, "2026-03-03T10:00:00", "72.4", checked="2026-02-26"),
    )
    first = take_limit(desk.store, desk.case, "f1", clock=clock)
    assert first.key == "FLR-RH-18"
    words, result = shown(desk).notes, gathered(desk).result
    key = "FLR-RH-18"
    later = MappingProxyType(
        {**limits.rows(), key: replace(limits.row(key), value="70", edition="a later one, invented")}
    )
    monkeypatch.setattr(limits, "rows", lambda: later)
    assert (shown(desk).notes, gathered(desk).result) == (words, result)
    assert "<= 75 %RH (FLR-RH-18" in words[0]
    again = take_limit(desk.store, desk.case, "f1", clock=clock)
    assert (again.value, again.edition) == ("70", "a later one, invented")
    place_one = gathered(desk).places[0].result
    assert place_one is not None
    assert place_one.status == "does not meet limit"
    assert take_limit(desk.store, desk.case, "f1", clock=clock) == again
    assert len(desk.folded().limits_taken) == 2


CARBIDE = """
[[floor_test]]
id = "c1"
zone = "depot"
method = "carbide"
area = 80
thickness = 60
drying_faces = 1
material = "calcium sulphate"
heated = "yes"
region = "DE"
at = 2026-03-01T08:00:00+00:00
"""


def test_a_conflict_of_editions_stops_until_a_person_chooses(desk: Desk) -> None:
    """Heated calcium sulphate, 0.5 or 0.3: no limit until I choose one of the keys and say why (rows FLR-CM-04, FLR-CM-05)."""
    take(desk, SHEET + CARBIDE)
    with pytest.raises(Refused) as refused:
        take_limit(desk.store, desk.case, "c1", clock=clock)
    assert "FLR-CM-04" in refused.value.wanted
    assert "FLR-CM-05" in refused.value.wanted
    assert "--choice" in refused.value.next_step
    assert "Limits differ" in refused.value.got
    with pytest.raises(InputError, match="without a reason"):
        take_limit(desk.store, desk.case, "c1", choice="FLR-CM-05", clock=clock)
    assert not desk.folded().limits_taken
    taken = take_limit(desk.store, desk.case, "c1", choice="FLR-CM-05", reason="parquet", by="R. Marsh", clock=clock)
    assert (taken.value, taken.reason, taken.superseded) == ("0.3", "parquet", "yes")
    assert taken.conflicts
    assert any("FLR-CM-04" in words for words in taken.others)
    assert any("Chosen by R. Marsh: parquet" in words for words in floor_tests(desk.folded())[1].notes)


def test_a_limit_without_its_sheet_is_not_taken(desk: Desk) -> None:
    """'75, the salesman said': no sheet, no date, no limit. And a test that is not there is named."""
    take(desk, SHEET.replace('edition = "2026"', 'edition = ""'))
    with pytest.raises(InputError, match="no edition"):
        take_limit(desk.store, desk.case, "f1", clock=clock)
    with pytest.raises(NotFound, match="no such floor test"):
        take_limit(desk.store, desk.case, "f2", clock=clock)
    assert not [each for each in desk.folded().limits_taken if isinstance(each.record, LimitTaken)]
