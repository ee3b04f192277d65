"""Settings: of this machine, whose units reach the pages; and of a case, where every figure has a source."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from bench_page import audit, get, post

from desorb.service.cases import case_names, find_case, load
from desorb.service.home import read_units, write_units
from desorb.service.settings import Settings, read_settings, retention, write_settings


def test_what_is_set_is_kept_and_shown(server: Any) -> None:
    """I set my name, my units and how long cases are kept; after a restart they are the same."""
    given = {
        "name": 'Ö. "Quayle" \\ x',
        "temperature": "degF",
        "keep_days": 60,
        "kept_as": "deed",
        "plausible_step": "2,5",
    }
    answer = post(server, "/api/settings", given)
    assert answer.status_code == 200
    kept = read_settings(server.home)
    assert (kept.name, kept.units.temperature, kept.keep_days, kept.years, kept.plausible_step) == (
        'Ö. "Quayle" \\ x', "degF", 60, 12, "2.5",
    )  # fmt: skip
    assert get(server, "/api/settings").json()["units"]["temperature"] == "degF"
    assert "2.5 times" in kept.step_in_words


def test_units_and_the_rest_do_not_wipe_each_other(server: Any) -> None:
    """The command line sets a unit; my name and the site settings stay."""
    write_settings(server.home, name="R. Quayle", keep_days=90)
    write_units(server.home, length="ft")
    assert read_settings(server.home) == Settings("R. Quayle", read_units(server.home), keep_days=90)


@pytest.mark.parametrize(
    "given",
    [
        {"plausible_step": "1"}, {"plausible_step": "x"}, {"plausible_step": "NaN"}, {"keep_days": 1}, {"deed_years": 0},
        {"name": "a\nb"}, {"temperature": "kelvin"}, {"nmae": "x"}, {"name": "x" * 81},
    ],
)  # fmt: skip
def test_a_setting_that_cannot_work_is_refused_and_nothing_changes(shown_server: Any, given: dict[str, Any]) -> None:
    """A slip of the keyboard does not turn off a question or a unit."""
    before = read_settings(shown_server.home)
    assert post(shown_server, "/api/settings", given).status_code == 422
    assert read_settings(shown_server.home) == before


def test_a_settings_file_that_cannot_be_read_stops_no_page(server: Any) -> None:
    """Someone edited the file by hand and broke it: the settings page says so, the others open."""
    (server.home / "settings.toml").write_text("[units\n")
    assert get(server, "/instruments").status_code == 200
    answer = get(server, "/settings")
    assert answer.status_code == 422
    assert "settings file could not be read" in answer.text


def test_units_reach_the_pages(server: Any, case_id: str) -> None:
    """I think in Fahrenheit: the page shows it, the record keeps degC."""
    assert "5.0 degC" in get(server, f"/practice/cases/{case_id}").text
    write_units(server.home, temperature="degF")
    assert "41.0 degF" in get(server, f"/practice/cases/{case_id}").text


def test_a_case_past_its_time_is_shown_and_stays(server: Any, case_id: str) -> None:
    """Six years on the case is named as past its time; nothing of it is gone, whatever day it is."""
    count = len(server.store.entries(case_id))
    then = datetime(2032, 2, 3, tzinfo=UTC)
    assert [(kept.until, kept.past) for kept in retention(server.store, server.home, lambda: then)] == [
        ("2032-02-02", True)
    ]
    before = datetime(2032, 2, 2, tzinfo=UTC)
    assert not retention(server.store, server.home, lambda: before)[0].past
    server.desk.clock = lambda: then
    assert "past its time" in get(server, "/settings").text
    assert len(server.store.entries(case_id)) == count


def test_a_case_can_be_kept_for_its_own_time(server: Any, case_id: str) -> None:
    """This one was signed as a deed: twelve years, an entry of the case."""
    given = {"key": "retention years", "value": "12", "source": "signed as a deed", "by": "R. Quayle"}
    assert post(server, f"/api/cases/{case_id}/settings", given).status_code == 200
    until = get(server, "/api/retention").json()[0]["until"]
    assert int(until[:4]) - int(get(server, "/api/retention").json()[0]["last_entry"][:4]) == 12


def test_a_change_is_an_entry_with_who_and_why(server: Any, case_id: str) -> None:
    """A peer asks who changed the hours of the controls: the case says who, why and what it was before."""
    given = {"key": "control fresh hours", "value": "48", "source": "frost: two days for one house", "by": "R. Quayle"}
    assert post(server, f"/api/cases/{case_id}/settings", given).json() == {
        "said": "control fresh hours: written down.", "warnings": [],
    }  # fmt: skip
    rows = {row["key"]: row for row in get(server, f"/api/cases/{case_id}/settings").json()["settings"]}
    row = rows["control fresh hours"]
    assert (row["value"], row["by"], row["source"]) == ("48", "R. Quayle", "frost: two days for one house")
    assert row["before"][0].startswith("24 (")
    count = len(server.store.entries(case_id))
    assert "nothing was written" in post(server, f"/api/cases/{case_id}/settings", given).json()["said"]
    assert len(server.store.entries(case_id)) == count


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"source": " "}, "a limit without a source is no limit"), ({"by": ""}, "who made it"),
        ({"value": "0"}, "outside its ends"), ({"value": "169"}, "outside its ends"), ({"value": "two"}, "not a number"),
        ({"key": "asbestos trigger year", "value": "1979"}, "outside its ends"),
        ({"key": "asbestos trigger year", "value": "1999.5"}, "whole number"),
        ({"key": "rule", "value": "tolerance/9"}, "not known"), ({"key": "margin of hope", "value": "1"}, "no such setting"),
        ({"key": "surface criterion", "value": "Infinity"}, "not a number"),
    ],
)  # fmt: skip
def test_a_setting_without_ground_is_refused_in_words(shown_server: Any, changes: dict[str, str], words: str) -> None:
    """Nobody can loosen what a status rests on without saying where the figure comes from."""
    case_id = case_names(shown_server.store)["quillfen"]
    given = {"key": "control fresh hours", "value": "48", "source": "a reason", "by": "R. Quayle"} | changes
    count = len(shown_server.store.entries(case_id))
    answer = post(shown_server, f"/api/cases/{case_id}/settings", given)
    assert answer.status_code == 422
    assert words in str(answer.json().values())
    assert len(shown_server.store.entries(case_id)) == count


ROW = {
    "scale_class": "comparative", "on_logarithms": True, "class_spread": "0.10", "margin": "0.25", "repeatability": "1",
    "source": "twelve blind repeats of 2 March", "by": "R. Quayle",
}  # fmt: skip


def test_a_large_repeatability_is_named_for_what_it_does(server: Any, case_id: str) -> None:
    """I declare a repeatability of 20 digits: it is written, and I am told that it loosens the limit and where."""
    said = post(server, f"/api/cases/{case_id}/rule-rows", ROW | {"repeatability": "20"}).json()["said"]
    assert "below 160 digits, the margin is twice the repeatability" in said
    assert "loosens the limit" in said
    assert "loosens the limit" in get(server, f"/cases/{case_id}/settings").text
    assert post(server, f"/api/cases/{case_id}/rule-rows", ROW).json()["warnings"] == []


@pytest.mark.parametrize(
    "changes",
    [
        {"repeatability": "100"}, {"margin": "2"}, {"margin": "0"}, {"class_spread": "-1"}, {"repeatability": "-1"},
        {"source": ""}, {"by": " "}, {"scale_class": " "}, {"margin": "NaN"}, {"on_logarithms": False, "margin": "120"},
    ],
)  # fmt: skip
def test_an_absurd_row_is_refused(shown_server: Any, changes: dict[str, Any]) -> None:
    """As wide as the scale, or a margin that lets twice the control pass: refused, and the row stands as it was."""
    case_id = case_names(shown_server.store)["quillfen"]
    before = load(shown_server.store, find_case(shown_server.store, case_id)).rule_row("comparative")
    assert post(shown_server, f"/api/cases/{case_id}/rule-rows", ROW | changes).status_code == 422
    assert load(shown_server.store, find_case(shown_server.store, case_id)).rule_row("comparative") == before


def test_the_settings_page_by_keyboard_alone(server: Any, page: Any) -> None:
    """I never touch the mouse: my name goes in by Tab and Enter, and the page has no fault that axe can see."""
    page.goto(f"{server.address}/settings")
    page.locator("#name").focus()
    page.keyboard.type("R. Quayle")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert page.locator("#name").input_value() == "R. Quayle"
    assert read_settings(server.home).name == "R. Quayle"
    assert audit(page) == []


def test_the_page_of_a_case_warns_beside_the_button(server: Any, case_id: str, page: Any) -> None:
    """In the office I set a repeatability that is too large: the page says what it does before I go on."""
    page.goto(f"{server.address}/cases/{case_id}/settings")
    for name, value in (
        ("scale_class", "comparative"),
        ("class_spread", "0.1"),
        ("margin", "0.25"),
        ("repeatability", "20"),
    ):
        page.locator(f"#{name}").fill(value)
    page.locator("#row-by").fill("R. Quayle")
    page.get_by_role("button", name="Write it into the case").last.click()
    page.get_by_text("a limit without a source is no limit").wait_for()
    page.locator("#row-source").fill("a guess")
    page.get_by_role("button", name="Write it into the case").last.click()
    page.get_by_text("loosens the limit").wait_for()
    assert audit(page) == []
