"""Charts in the office: one specification for paper and screen, drawn by our own script, with a table beside it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from office_case import client_of

from desorb.notebook.store import Store
from desorb.report import charts
from desorb.service.cases import find_case
from desorb.service.charting import bundle
from desorb.service.standing import document_now, stands


@pytest.fixture
def demo(demo_home: Path) -> Any:
    with Store(demo_home) as store:
        yield store


def test_screen_and_paper_draw_from_equal_specifications(demo: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the owner sees on the screen is what stands in the report, figure for figure."""
    client, found = client_of(demo), find_case(demo, "quillfen")
    on_screen = client.get(f"/api/cases/{found.id}/charts").json()
    drawn: list[dict[str, Any]] = []
    real = charts.spec_of
    monkeypatch.setattr(charts, "spec_of", lambda panel: drawn.append(real(panel)) or drawn[-1])
    answer = client.get(f"/api/cases/{found.id}/preview.pdf")
    assert answer.content.startswith(b"%PDF")
    assert len(on_screen) == len(drawn) == 2
    assert [chart["spec"] for chart in on_screen] == json.loads(json.dumps(drawn))


def test_the_table_beside_the_chart_holds_every_mark(demo: Store) -> None:
    """Someone who cannot see the drawing reads every figure of it."""
    found = find_case(demo, "quillfen")
    panels = document_now(demo, stands(demo, found), __import__("datetime").datetime.now(__import__("datetime").UTC))
    for panel, chart in zip(
        panels["higher"]["charts"], client_of(demo).get(f"/api/cases/{found.id}/charts").json(), strict=True
    ):
        assert chart["alt"] == panel["alt"]
        for line, row in zip(panel["lines"], chart["rows"], strict=True):
            assert row[0] == line["name"]
            marks = sum(len(segment) for segment in line["segments"])
            assert sum(cell != "not read" for cell in row[1:]) >= marks > 0


def test_the_drawing_is_there_without_a_script_and_is_replaced_by_it(browser: Any, server: Any, case_id: str) -> None:
    """Without scripts the picture of the report stands there; with them the same chart answers to pointing."""
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{server.address}/cases/{case_id}/charts")
    pictures = page.locator(".chart img")
    assert pictures.count() == 2
    assert "Excess over control" in (pictures.first.get_attribute("alt") or "")
    assert (
        page.request.get(f"{server.address}{pictures.first.get_attribute('src')}").headers["content-type"]
        == "image/svg+xml"
    )
    context.close()

    page = browser.new_page(viewport={"width": 1280, "height": 900})
    problems: list[str] = []
    page.on("console", lambda line: problems.append(line.text) if line.type == "error" else None)
    page.on("pageerror", lambda problem: problems.append(str(problem)))
    page.goto(f"{server.address}/cases/{case_id}/charts")
    page.locator("#charts[data-done=yes]").wait_for(state="attached")
    assert page.locator(".chart[data-drawn=yes] svg").count() == 2
    assert page.locator(".chart img").count() == 0
    assert page.locator(".chart [role=img]").first.get_attribute("aria-label")
    mark = page.locator(".chart svg .mark-symbol path[fill]:not([fill=none])").first
    box = mark.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.move(box["x"] + box["width"] / 2 + 1, box["y"] + box["height"] / 2)
    page.wait_for_function("document.querySelector('.chart-said').textContent.includes('day')")
    page.close()
    assert [words for words in problems if "favicon" not in words and "404" not in words] == []


def test_the_script_is_made_once_and_names_no_other_place(demo: Store) -> None:
    """The charts work with the network cut off: the script comes from the installed wheel and from nowhere else."""
    first = bundle(demo.home)
    kept = list((demo.home / "made").iterdir())
    changed = kept[0].stat().st_mtime_ns
    assert bundle(demo.home) == first
    assert [path.stat().st_mtime_ns for path in (demo.home / "made").iterdir()] == [changed]
    assert b"import(" not in first[:2000]
    answer = client_of(demo).get("/charts/bundle.js")
    assert answer.headers["content-type"].startswith("text/javascript")
    assert answer.content == first


@pytest.mark.parametrize(
    "address", ["/charts/chart-9.svg", "/tables/none.csv", f"/reports/{'0' * 64}.pdf", "/spots/none"]
)
def test_what_is_not_there_is_named(demo: Store, address: str) -> None:
    """An old bookmark: the answer says what is there instead."""
    answer = client_of(demo).get(f"/api/cases/{find_case(demo, 'quillfen').id}{address}")
    assert answer.status_code == 404
    assert answer.json()["what"]


def test_reports_are_kept_by_hash_and_their_twins_can_be_made_again(demo: Store) -> None:
    """The insurer asks for report 1 again: the same paper, and figures that equal those of that day."""
    client, found = client_of(demo), find_case(demo, "quillfen")
    states = client.get(f"/api/cases/{found.id}/reports").json()
    assert [state["superseded"] for state in states] == [True, False]
    for state in states:
        paper = client.get(f"/api/cases/{found.id}/reports/{state['pdf_sha256']}.pdf")
        assert paper.content.startswith(b"%PDF")
        twin = client.get(f"/api/cases/{found.id}/reports/{state['number']}/case.json")
        assert twin.headers["x-equal-to-issued"] == "yes"
        assert twin.json()["number"] == state["number"]
    table = client.get(f"/api/cases/{found.id}/tables/readings.csv")
    assert table.text.splitlines()[0].startswith("entry,visit,spot")
    assert len(client.get(f"/api/cases/{found.id}/case.json").json()["readings"]) == len(table.text.splitlines()) - 1
