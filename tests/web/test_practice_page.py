"""Practice: a trainee marks an invented case blind; nothing of it enters a case, and no real case is ever offered."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench_page import audit, get, post

from desorb.service import practice
from desorb.service.cases import case_names, open_case


def answers(server: Any, case: str, status: str = "cannot say", why: str = "covering") -> list[dict[str, str]]:
    spots = get(server, f"/api/practice/cases/{case}").json()["spots"]
    return [{"spot": each["spot"], "status": status, "why": why} for each in spots]


def test_the_sheet_is_blind(shown_server: Any) -> None:
    """The trainee sees readings, coverings, controls and what is odd; no status, no limit and no reason."""
    case_id = case_names(shown_server.store)["quillfen"]
    sheet = get(shown_server, f"/api/practice/cases/{case_id}").json()
    assert len(sheet["spots"]) == 15
    assert {"covering", "values", "construction"} <= set(sheet["spots"][0])
    said = json.dumps({name: sheet[name] for name in ("spots", "controls", "findings", "rows")})
    for word in (*sheet["statuses"], "lies above", "is not higher", "lies between"):
        assert word not in said


def test_the_comparison_says_where_each_answer_rests(server: Any, case_id: str) -> None:
    """I said 'cannot say, a covering' everywhere: right for vinyl and paint, wrong for the bare floor."""
    entries = len(server.store.entries(case_id))
    given = answers(server, case_id)
    result = post(server, f"/api/practice/cases/{case_id}/marks", {"by": "T. Rainee", "answers": given}).json()[
        "result"
    ]
    lines = {line["spot"]: line for line in result["lines"]}
    assert (lines["k1"]["status"], lines["k1"]["why"], lines["k1"]["status_agrees"]) == (
        "above control",
        ["beyond limit"],
        False,
    )
    assert (lines["k4"]["status_agrees"], lines["k4"]["why_agrees"]) == (True, True)
    assert (lines["j2"]["status_agrees"], lines["j2"]["why_agrees"], lines["j2"]["why"]) == (True, False, ["between"])
    assert lines["k7"]["why"] == ["end of scale", "few controls", "control differs"]
    assert lines["k1"]["rests_on"][0].startswith("33 lies above 22.2")
    assert (result["agreement"]["agreed"], result["agreement"]["total"]) == (9, 15)
    assert result["agreement"]["kappa"] == 0
    assert len(server.store.entries(case_id)) == entries
    assert len((server.home / practice.FILE).read_text().splitlines()) == 1


def test_wet_places_passed_are_named_first(server: Any, case_id: str) -> None:
    """The mistake that hurts: a wet place called no higher."""
    given = answers(server, case_id, "no higher than control", "within margin")
    result = post(server, f"/api/practice/cases/{case_id}/marks", {"by": "T", "answers": given}).json()["result"]
    assert result["missed_wet"] == ["k1", "k2"]
    assert "k3" in result["said_too_much"]
    assert "Wet places passed" in get(server, "/practice/results/1").text


@pytest.mark.parametrize("spoil", ["missing", "strange", "twice", "status", "why", "name"])
def test_half_a_sheet_is_not_compared(shown_server: Any, spoil: str) -> None:
    """Every spot once, in the words of the lists, under a name; or nothing is kept."""
    case_id = case_names(shown_server.store)["quillfen"]
    given, by = answers(shown_server, case_id), "T. Rainee"
    if spoil == "missing":
        given.pop()
    elif spoil == "strange":
        given[0]["spot"] = "zz"
    elif spoil == "twice":
        given.append(given[0])
    elif spoil in ("status", "why"):
        given[0][spoil] = "damp"
    else:
        by = " "
    assert post(shown_server, f"/api/practice/cases/{case_id}/marks", {"by": by, "answers": given}).status_code == 422
    assert not (shown_server.home / practice.FILE).exists()


def test_a_real_case_is_never_offered(server: Any) -> None:
    """A trainee asks for the neighbour's house by its id: refused."""
    real = open_case(server.store, "2026-014", site="3 Low Lane", time_zone="Europe/London")
    assert [each["name"] for each in get(server, "/api/practice").json()["cases"]] == ["quillfen"]
    for name in (real.id, real.name):
        assert get(server, f"/api/practice/cases/{name}").status_code == 409
        assert post(server, f"/api/practice/cases/{name}/marks", {"by": "T", "answers": [
            {"spot": "k1", "status": "cannot say", "why": "covering"}]}).status_code == 409  # fmt: skip
    assert get(server, f"/practice/cases/{real.id}").status_code == 409


def test_without_an_invented_case_one_is_built_beside_the_store(
    tmp_path: Path, demo_built: Path, serve_home: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A firm with its own cases only: the demonstration goes into a store of its own, theirs stays as it is."""

    def quick(store: Any, clock: Any, out: Path) -> Any:  # the real one takes seconds and has its own test
        return open_case(store, "quillfen", site="invented", time_zone="UTC", invented=True)

    monkeypatch.setattr(practice, "build_case", quick)
    server = serve_home(tmp_path / "home")
    assert get(server, "/api/practice").json()["cases"] == []
    assert "Build the demonstration case" in get(server, "/practice").text
    built = post(server, "/api/practice/demonstration").json()
    assert [each["id"] for each in get(server, "/api/practice").json()["cases"]] == [built["id"]]
    assert server.store.cases() == []
    assert post(server, "/api/practice/demonstration").status_code == 409
    shutil.rmtree(tmp_path / "home" / "practice")
    shutil.copytree(demo_built, tmp_path / "home" / "practice")
    case = get(server, "/api/practice").json()["cases"][0]["id"]
    assert len(get(server, f"/api/practice/cases/{case}").json()["spots"]) == 15


def test_blind_repeats_show_the_spread_of_one_hand(server: Any) -> None:
    """I read four spots twice; the first figures are hidden until the second are in."""
    first = post(
        server,
        "/api/practice/repeats",
        {"by": "T", "scale": "comparative", "lines": ["p1 30", "p2 41", "p3 52", "p4 60"]},
    )
    number = first.json()["number"]
    page = get(server, f"/practice/results/{number}").text
    assert "p4 \np3 \np2 \np1 \n" in page
    assert not any(value in page for value in ("30", "41", "52"))
    again = {"lines": ["p4 61", "p3 52", "p2 40", "p1 32"]}
    result = post(server, f"/api/practice/repeats/{number}/second", again).json()["result"]
    assert result["spread"]["spread"] == pytest.approx(0.866, abs=0.001)
    assert post(server, f"/api/practice/repeats/{number}/second", again).status_code == 409
    assert post(server, "/api/practice/repeats/99/second", again).status_code == 404


def test_two_people_on_the_same_spots_are_told_apart(server: Any) -> None:
    """Two of us read the same spots: how much is the hand, how much the place."""
    for by, shift in (("A", 0), ("B", 3)):
        lines = [f"p{place} {30 + 10 * place + shift}" for place in (1, 2, 3)]
        number = post(server, "/api/practice/repeats", {"by": by, "scale": "comparative", "lines": lines}).json()[
            "number"
        ]
        lines = [f"p{place} {30 + 10 * place + shift + place % 2}" for place in (1, 2, 3)]
        post(server, f"/api/practice/repeats/{number}/second", {"lines": lines})
    study = get(server, "/api/practice").json()["studies"][0]
    assert study["people"] == ["A", "B"]
    assert study["person_spread"] > study["repeat_spread"] > 0
    assert study["spot_spread"] > study["person_spread"]
    assert "Several people on the same spots" in get(server, "/practice").text


@pytest.mark.parametrize(
    "lines", [["p1 30"], ["p1 30", "p1 31"], ["p1", "p2 3"], ["p1 >=100", "p2 3"], ["p1 x", "p2 3"]]
)
def test_a_pass_that_cannot_be_compared_is_refused(shown_server: Any, lines: list[str]) -> None:
    """One spot, the same twice, no value, an end of the scale: said, not kept."""
    assert post(shown_server, "/api/practice/repeats", {"by": "T", "scale": "s", "lines": lines}).status_code == 422


def test_a_trainee_marks_by_keyboard_alone(server: Any, case_id: str, page: Any) -> None:
    """The whole sheet by keys; the result says what rests on what; axe finds no fault on any of the three pages."""
    page.goto(f"{server.address}/practice")
    assert audit(page) == []
    page.goto(f"{server.address}/practice/cases/{case_id}")
    page.locator("#by").focus()
    page.keyboard.type("T. Rainee")
    for _ in range(15):
        page.keyboard.press("Tab")
        page.keyboard.type("cannot")
        page.keyboard.press("Tab")
        page.keyboard.type("a covering")
    page.keyboard.press("Tab")
    with page.expect_navigation(url="**/practice/results/1"):
        page.keyboard.press("Enter")
    page.get_by_text("9 of 15").first.wait_for()
    assert audit(page) == []
    page.goto(f"{server.address}/practice/cases/{case_id}")
    assert audit(page) == []
