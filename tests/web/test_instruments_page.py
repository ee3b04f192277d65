"""Instruments: described in the user's own words, checked on a block, and what a failed check throws doubt on."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from bench_page import audit, get, post

from desorb.core.kinds import InstrumentCheck
from desorb.service.instrument_book import EDGE, run_chart

SCALE = {
    "key": "comparative", "principle": "electrical impedance", "claims": "comparative", "bottom": "0", "top": "100",
    "resolution": "1", "repeatability": "1",
}  # fmt: skip
METER = {"id": "m9", "words": "a surface meter", "serial": "77-1", "scales": [SCALE]}


def shown(server: Any, name: str) -> dict[str, Any]:
    return next(each for each in get(server, "/api/instruments").json() if each["id"] == name)


def test_an_instrument_is_described_and_described_again(server: Any) -> None:
    """A new meter goes into the book; the same words a second time write nothing."""
    assert post(server, "/api/instruments", METER).json()["new"] is True
    assert shown(server, "m9")["serial"] == "77-1"
    assert post(server, "/api/instruments", METER).json()["new"] is False
    assert post(server, "/api/instruments", METER | {"serial": "77-2"}).json()["new"] is True


def test_a_repeatability_of_a_third_of_the_scale_is_named(server: Any) -> None:
    """I typed 30 where 3 was meant: I am asked what it stands for."""
    answer = post(server, "/api/instruments", METER | {"scales": [SCALE | {"repeatability": "30"}]}).json()
    assert "30 % of the whole scale" in answer["said"]


@pytest.mark.parametrize(
    "changes",
    [
        {"id": " "}, {"id": "x" * 41}, {"id": "a\tb"}, {"scales": []}, {"scales": [SCALE, SCALE]},
        {"scales": [SCALE | {"unit": "%"}]}, {"scales": [SCALE | {"top": ""}]}, {"scales": [SCALE | {"principle": "guess"}]},
        {"scales": [SCALE | {"top": "NaN"}]}, {"calibration_due": "soon"}, {"colour": "red"},
        {"block": [{"scale": "other", "nominal": "50", "tolerance": "3", "interval_days": 30}]},
    ],
)  # fmt: skip
def test_a_description_that_cannot_work_is_refused(shown_server: Any, changes: dict[str, Any]) -> None:
    """No top, a percent sign on a comparative scale, a block for no scale: said in words, nothing kept."""
    answer = post(shown_server, "/api/instruments", METER | changes)
    assert answer.status_code == 422
    assert answer.json()["what"]
    assert "m9" not in {each["id"] for each in get(shown_server, "/api/instruments").json()}


def test_a_failed_check_names_every_case_since_the_last_good_one(server: Any) -> None:
    """The meter fails on Monday: I see at once which case was read with it since the last good check."""
    server.desk.clock = lambda: datetime(2026, 2, 10, 9, 0, tzinfo=UTC)
    answer = post(server, "/api/instruments/m1/checks", {"value": "67", "by": "R. Quayle"}).json()
    assert answer["passed"] is False
    assert answer["cases_in_doubt"] == ["quillfen"]
    assert "since the last good check on 2026-01-26: quillfen" in answer["said"]
    meter = shown(server, "m1")
    assert (meter["standing"], meter["in_doubt"]) == ("not to be used", ["quillfen"])
    assert get(server, "/api/instruments").json()[0]["id"] == "m1"  # what must not be used stands first
    assert "In doubt" in get(server, "/instruments").text
    server.desk.clock = lambda: datetime(2026, 2, 11, 9, 0, tzinfo=UTC)
    assert post(server, "/api/instruments/m1/checks", {"value": "60,5", "by": "R. Quayle"}).json()["passed"] is True
    assert (shown(server, "m1")["standing"], shown(server, "m1")["in_doubt"]) == ("ready", [])


def test_standing_follows_the_day(server: Any) -> None:
    """Ready today; after its interval a check is due, and after its date the calibration too."""
    server.desk.clock = lambda: datetime(2026, 2, 10, tzinfo=UTC)
    assert shown(server, "m1")["standing"] == "ready"
    server.desk.clock = lambda: datetime(2026, 12, 1, tzinfo=UTC)
    assert shown(server, "m1")["standing"] == "check due"
    assert "calibration was due on 2026-09-30; last checked 308 days ago" in shown(server, "m1")["why"]


@pytest.mark.parametrize(
    ("name", "body", "status"),
    [
        ("m1", {"value": "sixty", "by": "x"}, 422), ("m1", {"value": "60", "by": " "}, 422),
        ("nobody", {"value": "60", "by": "x"}, 404), ("h1", {"value": "60", "by": "x"}, 422),
        ("m1", {"value": "60", "by": "x", "at": "2999-01-01"}, 422),
    ],
)  # fmt: skip
def test_a_check_that_says_nothing_is_refused(shown_server: Any, name: str, body: dict[str, str], status: int) -> None:
    """No figure, no name, no block, or a day to come: not logged."""
    before = len(shown(shown_server, "m1")["checks"])
    assert post(shown_server, f"/api/instruments/{name}/checks", body).status_code == status
    assert len(shown(shown_server, "m1")["checks"]) == before


def check(value: str, at: str = "2026-01-05T08:00:00+00:00", tolerance: str = "3") -> InstrumentCheck:
    return InstrumentCheck("m1", "comparative", value, "60", tolerance, at)


def test_the_run_chart_says_what_it_shows() -> None:
    """On the chart a check lies at its share of the tolerance, and far beyond it stands an arrow at the edge."""
    chart = run_chart([check("60"), check("63", "2026-01-06T08:00:00+00:00"), check("90", "2026-01-07T08:00:00+00:00")])
    assert chart is not None
    inside, edge, beyond = chart.points
    assert inside.y == chart.middle
    assert edge.y == chart.band_top
    assert (beyond.beyond, beyond.in_tolerances) == ("above", "+10.00")
    assert chart.middle - beyond.y == pytest.approx(float(EDGE) * (chart.middle - chart.band_top), abs=0.2)
    assert "3 checks, the last on 2026-01-07: 90 on a block of 60 ± 3. 1 failed: 2026-01-07." in chart.words
    assert run_chart([]) is None
    assert run_chart([check("60", tolerance="0")]) is not None


def test_eight_checks_show_their_own_reach() -> None:
    """With enough checks I see whether the meter drifts within its tolerance: 61 after seven of 60 to 60.2."""
    values = ["60", "60.1", "60.2", "60.1", "60", "60.1", "60.2", "61"]
    chart = run_chart([check(value, f"2026-01-{day:02}T08:00:00+00:00") for day, value in enumerate(values, 5)])
    assert chart is not None
    assert "Outside it: check 8" in chart.words


def test_a_meter_is_described_by_keyboard_alone(server: Any, page: Any) -> None:
    """In the office: form filled by keys, a second scale added, a block described; the book shows it."""
    page.goto(f"{server.address}/instruments/describe")
    for label, value in (
        ("Short name", "m9"),
        ("What it is, in your words", "a meter"),
        ("Your own short word for it", "surface"),
    ):
        page.get_by_label(label, exact=True).fill(value)
    page.get_by_label("What its number claims").select_option("comparative")
    page.get_by_label("Principle: how it senses").select_option("capacitance")
    for label, value in (("Bottom", "0"), ("Top", "100"), ("Step between two numbers", "1")):
        page.get_by_label(label, exact=True).fill(value)
    page.get_by_role("button", name="Add a check block").press("Enter")
    page.keyboard.type("surface")
    for value in ("50", "2", "30"):
        page.keyboard.press("Tab")
        page.keyboard.type(value)
    page.get_by_role("button", name="Add another scale").press("Enter")
    page.get_by_role("button", name="Leave this scale out").last.press("Enter")
    assert audit(page) == []
    page.get_by_role("button", name="Write it down").press("Enter")
    page.wait_for_url("**/instruments")
    page.get_by_role("heading", name="m9: a meter").wait_for()
    meter = shown(server, "m9")
    assert meter["block"] == [{"scale": "surface", "nominal": "50", "tolerance": "2", "interval_days": 30}]
    assert [scale["principle"] for scale in meter["scales"]] == ["capacitance"]


def test_describing_again_keeps_the_correction_table(server: Any, page: Any) -> None:
    """I only change the certificate of the pin meter: its table of corrections is still there."""
    before = shown(server, "p1")
    page.goto(f"{server.address}/instruments/describe?like=p1")
    page.get_by_label("Certificate").fill("certificate 12")
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url("**/instruments")
    after = shown(server, "p1")
    assert after["calibration_reference"] == "certificate 12"
    assert {name: after[name] for name in ("corrections", "scales", "block")} == {
        name: before[name] for name in ("corrections", "scales", "block")
    }


def test_the_book_is_sound_and_has_its_twin(shown_server: Any, page: Any) -> None:
    """By ear I get the chart as words and as a table; the page has no fault that axe can see."""
    page.goto(f"{shown_server.address}/instruments")
    assert audit(page) == []
    chart = page.get_by_role("img", name="Checks of m1 against its block").get_attribute("aria-label")
    assert "2 checks, the last on 2026-01-26: 61 on a block of 60 ± 3. None failed." in chart
    rows = page.get_by_role("region", name="Checks of m1").locator("tbody tr")
    assert rows.count() == len(shown(shown_server, "m1")["checks"])
