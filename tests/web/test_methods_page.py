"""Methods and drying in the office: cautions first, every word that the command says, one form for a row, the limit of a test."""

from __future__ import annotations

import html
import re
from pathlib import Path
from typing import Any

import pytest
from bench_page import audit
from office_case import ODD, client_of, furnish, odd_case

from desorb.core.kinds import FloorTest, LimitStated, LimitTaken
from desorb.notebook.store import Store
from desorb.service.cases import OpenCase, load, open_case, write
from desorb.service.drying import drying_of
from desorb.service.entering import KINDS, cautions_of, form_of
from desorb.service.methods import methods_of
from desorb.service.sheet import NOT_IN_A_SHEET, take_sheet
from desorb.web.who_may import OWNER, WHO

MANUAL = Path(__file__).parents[2] / "docs" / "manual"
FLOOR = {
    "id": "f1", "zone": "wet", "method": "hole", "area": "40", "thickness": "100", "drying_faces": "1",
    "at": "2026-03-02T10:00", "edition": "2018", "material": "concrete", "covering": "resilient", "region": "US",
}  # fmt: skip


@pytest.fixture
def store(tmp_path: Path) -> Any:
    with Store(tmp_path / "home") as opened:
        yield opened


@pytest.fixture
def case(store: Store) -> OpenCase:
    opened = open_case(store, "2026-077", site="invented works", time_zone="Europe/London", invented=True)
    furnish(store, opened)
    return opened


def manual_case(store: Store) -> OpenCase:
    """The invented sheets of the manual, all in one case."""
    opened = open_case(store, "manual", site="invented house", time_zone="Europe/London", invented=True)
    for name in ("testing_a_floor", "methods_beside_the_scan", "drying_under_way"):
        for sheet in re.findall(r"```toml\n(.*?)```", (MANUAL / f"{name}.md").read_text(), re.S):
            assert take_sheet(store, opened, sheet.encode(), MANUAL).problems == []
    return opened


def text_of(page: str) -> str:
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page)))


@pytest.mark.parametrize("part", ["methods", "drying"])
def test_the_page_leaves_no_word_out_and_cautions_come_first(store: Store, part: str) -> None:
    """What the command says stands on the page, and before any result what could hurt somebody."""
    opened = manual_case(store)
    found = load(store, opened)
    said = methods_of(found) if part == "methods" else drying_of(found)
    assert said
    page = client_of(store).get(f"/cases/{opened.id}/{part}").text
    articles = [text_of(each) for each in re.findall(r"<article.*?</article>", page, re.S)]
    assert len(articles) == len(said)
    squeezed = " ".join(articles)
    for each in said:
        article = next(text for text in articles if each.title in text)
        first = min(
            (article.index(line) for line in each.plan + each.next_steps if line in article), default=len(article)
        )
        for caution in each.cautions:
            assert article.index(caution) < first
            assert article.index(caution) < article.index(each.words[:40])
        for line in (*each.plan, *each.notes, *each.next_steps):
            assert line.split(" 20")[0] in squeezed  # a time is shown as people read it
        assert all(f"/record/entries/{entry}" in page for entry in each.rests_on)
    assert "style=" not in page


@pytest.mark.parametrize("part", ["methods", "drying"])
def test_an_empty_part_says_what_would_stand_there_and_how_it_comes_there(store: Store, part: str) -> None:
    """The first day: nothing is written down yet, and the page says what to do."""
    opened = open_case(store, "bare", site="somewhere", time_zone="Europe/London")
    client = client_of(store)
    page = client.get(f"/cases/{opened.id}/{part}").text
    if client.get(f"/api/cases/{opened.id}/{part}").json() == []:
        assert "What stands here, once it is written down" in page
    for kind, words in KINDS[part].items():
        assert f'/enter/{kind}">{words}<' in page


@pytest.mark.parametrize("kind", [kind for kinds in KINDS.values() for kind in kinds])
def test_every_kind_has_a_form_whose_fields_are_those_of_a_sheet(store: Store, case: OpenCase, kind: str) -> None:
    """Each part of the record has its field, with words of its own, and none twice."""
    assert kind not in NOT_IN_A_SHEET
    page = client_of(store).get(f"/cases/{case.id}/enter/{kind}").text
    form = form_of(load(store, case), kind)
    assert re.findall(r' name="([a-z_]+)"', page.split("<form", 1)[1]) == [field.name for field in form]
    labels = [field.label for field in form]
    assert len(set(labels)) == len(labels)
    assert not any("_" in label for label in labels)


@pytest.mark.parametrize("kind", ["floor-test", "floor-place", "sample", "carbide-reading", "leak-test"])
def test_what_can_hurt_stands_before_the_first_field(store: Store, case: OpenCase, kind: str) -> None:
    """Whoever drills, presses or wets reads the cautions before anything is asked."""
    page = client_of(store).get(f"/cases/{case.id}/enter/{kind}").text
    before_the_form = text_of(page.split("<form", 1)[0])
    cautions = cautions_of(kind)
    assert cautions
    assert all(caution in before_the_form for caution in cautions)
    assert "permits nothing" in before_the_form


def test_a_floor_test_is_written_down_shown_and_gets_its_limit(store: Store, case: OpenCase) -> None:
    """The whole way: describe it, take its limit, drill, read; the page shows the result."""
    client = client_of(store)
    answer = client.post(f"/api/cases/{case.id}/rows/floor-test", FLOOR)
    assert answer.status_code == 201, answer.text
    shown = client.get(f"/cases/{case.id}/enter/floor-test?entry={answer.json()['entry']}").text
    assert "Written down: Short name: f1; Zone: wet" in shown
    assert "/limit?test=f1" in shown
    record = load(store, case).floor_tests[-1].record
    assert (record.area, record.at, record.heated) == ("40", "2026-03-02T10:00:00+00:00", "")
    limit = client.get(f"/cases/{case.id}/limit?test=f1").text
    assert "ASTM F710" in limit
    assert "US" in limit
    taken = client.post(f"/api/cases/{case.id}/limits", {"test": "f1", "by": "R. Marsh"})
    assert taken.status_code == 201, taken.text
    kept = load(store, case).limits_taken[-1].record
    assert isinstance(kept, LimitTaken)
    assert (kept.test, kept.value, kept.by) == ("f1", "75", "R. Marsh")
    assert "no limit taken" not in client.get(f"/cases/{case.id}/methods").text


def test_where_limits_conflict_a_person_chooses_with_a_reason(store: Store, case: OpenCase) -> None:
    """The strictest stands first; without choice and reason nothing is taken; the conflict stays beside the limit."""
    test = FloorTest(
        "f2", "wet", "carbide", "20", "65", "1", "2026-03-02T10:00:00+00:00", material="cement", heated="no"
    )
    sheet = LimitStated("own", "carbide moisture", "<=", "2.5", "CM-%", "sheet of a maker", "2025-01", test.at)
    write(store, case, [test, sheet])
    client = client_of(store)
    page = client.get(f"/cases/{case.id}/limit?test=f2").text
    assert "Limits conflict" in page
    values = [float(each) for each in re.findall(r'class="value">[^0-9]+([0-9.]+)', html.unescape(page))]
    assert values == sorted(values)
    assert len(values) > 2
    assert 'value="own" disabled' in page  # it counts beside any choice
    address = f"/api/cases/{case.id}/limits"
    refused = client.post(address, {"test": "f2"})
    assert refused.status_code == 409
    assert refused.json()["next"]
    assert client.post(address, {"test": "f2", "choice": "FLR-CM-06"}).status_code == 422
    assert load(store, case).limits_taken == ()
    taken = client.post(
        address, {"test": "f2", "choice": "FLR-CM-06", "reason": "the floor lies there", "by": "R. Marsh"}
    )
    assert taken.status_code == 201, taken.text
    assert load(store, case).limits_taken[-1].record.conflicts != ()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"area": ""}, "Area, m²"), ({"area": "forty"}, "Area, m²"), ({"method": "guess"}, "method"),
        ({"zone": "attic"}, "zone"), ({"at": "noon"}, "date and time"), ({"colour": "grey"}, "no such part"),
        ({"survey": "A; 62"}, "four parts"), ({"id": "x" * 41}, "short and printable"), ({"id": " "}, "Short name"),
    ],
)  # fmt: skip
def test_a_row_that_does_not_fit_is_refused_by_its_field(
    store: Store, case: OpenCase, wrong: dict[str, str], said: str
) -> None:
    """I am told which field, what it got and what to do; nothing is written."""
    before = len(store.entries(case.id))
    answer = client_of(store).post(f"/api/cases/{case.id}/rows/floor-test", FLOOR | wrong)
    assert answer.status_code == 422
    body = answer.json()
    assert said in body["what"]
    assert body["next"]
    assert len(store.entries(case.id)) == before


def test_several_stand_one_a_line_and_a_row_is_not_written_twice(store: Store, case: OpenCase) -> None:
    """The survey that picked the places; a double click writes one row."""
    client = client_of(store)
    given = FLOOR | {"survey": "A; 62; field; m1\n\nB; 48,5; field; m1\n"}
    address = f"/api/cases/{case.id}/rows/floor-test"
    assert client.post(address, given).status_code == 201
    survey = load(store, case).floor_tests[-1].record.survey
    assert [(each.place, each.value) for each in survey] == [("A", "62"), ("B", "48,5")]
    assert client.post(address, given).status_code == 409
    assert len(load(store, case).floor_tests) == 1


@pytest.mark.parametrize("kind", ["case-opened", "reading", "strike", "limit-taken", "nothing"])
def test_what_has_no_form_is_not_written_by_this_door(store: Store, case: OpenCase, kind: str) -> None:
    """No entry of the record's own kinds comes in as a row, and the page says which forms there are."""
    client = client_of(store)
    assert client.get(f"/cases/{case.id}/enter/{kind}").status_code == 404
    answer = client.post(f"/api/cases/{case.id}/rows/{kind}", {})
    assert answer.status_code == 404
    assert "floor-test" in answer.json()["wanted"]


def test_a_reader_may_look_and_not_write() -> None:
    """A paired device reads what the methods say; rows and limits are written by the owner of the machine."""
    for name, who in WHO.items():
        if name.endswith(("/rows/{kind}", "/limits", "/limit", "/enter/{kind}")):
            assert who == OWNER, name
        if name.endswith(("}/methods", "}/drying", "/plots/{key}.svg")):
            assert who != OWNER, name


def test_a_chart_has_its_words_and_its_figures_beside_it(store: Store) -> None:
    """I cannot see the drawing: its words say what it draws, and its figures stand in a table."""
    opened = manual_case(store)
    client = client_of(store)
    rows = client.get(f"/api/cases/{opened.id}/methods").json()
    plots = [plot for row in rows for plot in row["plots"]]
    assert plots
    page = client.get(f"/cases/{opened.id}/methods").text
    for plot in plots:
        drawing = client.get(f"/api/cases/{opened.id}/plots/{plot['key']}.svg")
        assert drawing.headers["content-type"].startswith("image/svg+xml")
        assert drawing.text.startswith("<svg")
        assert f'{plot["key"]}.svg" alt="{html.escape(plot["alt"])}' in page.replace("&#39;", "&#x27;")
        for line in plot["lines"]:
            for x, y in line["points"]:
                assert f"<td>{x}</td><td>{y}</td>" in page
    missing = client.get(f"/api/cases/{opened.id}/plots/methods-99-1.svg")
    assert missing.status_code == 404
    assert missing.json()["next"]


def test_the_case_leads_to_both_pages(store: Store, case: OpenCase) -> None:
    """From the case I find what the methods say and how the drying goes."""
    main = client_of(store).get(f"/cases/{case.id}").text.split('id="next"', 1)[1]
    assert f'href="/cases/{case.id}/methods"' in main
    assert f'href="/cases/{case.id}/drying"' in main


@pytest.mark.parametrize("text", ODD)
def test_odd_texts_stay_texts(store: Store, text: str) -> None:
    """Somebody writes markup into a name: it is shown as it was written."""
    opened = odd_case(store, text)
    client = client_of(store)
    name = "".join(letter for letter in text if letter.isprintable())[:40].strip()
    assert (
        client.post(f"/api/cases/{opened.id}/rows/floor-test", FLOOR | {"id": name, "words": text}).status_code == 201
    )
    for part in ("/methods", "/drying", "/enter/floor-reading"):
        page = client.get(f"/cases/{opened.id}{part}").text
        assert "<img src=x" not in page
        assert "<script>window" not in page
    assert client.request("GET", f"/cases/{opened.id}/limit", params={"test": name}).status_code == 200


def test_in_the_browser_a_refusal_keeps_what_was_typed(page: Any, tmp_path: Path, serve_home: Any) -> None:
    """I typed a whole row; one figure was wrong; nothing else has to be typed again."""
    with Store(tmp_path / "office") as made:
        opened = open_case(made, "2026-078", site="invented works", time_zone="Europe/London", invented=True)
        furnish(made, opened)
    server = serve_home(tmp_path / "office")
    page.goto(f"{server.address}/cases/{opened.id}/enter/floor-test")
    for name in ("id", "area", "thickness", "at"):
        page.fill(f"#f-{name}", FLOOR[name] if name != "area" else "forty")
    for name in ("zone", "method", "drying_faces"):
        page.select_option(f"#f-{name}", FLOOR[name])
    page.click("text=Write it down")
    page.wait_for_selector("[role=alert]")
    assert "Area, m²" in page.inner_text("[role=alert]")
    assert (page.input_value("#f-id"), page.input_value("#f-area"), page.input_value("#f-method")) == (
        "f1",
        "forty",
        "hole",
    )
    page.fill("#f-area", "40")
    page.click("text=Write it down")
    page.wait_for_selector("text=Take its limit")
    page.click("text=Another one like it")
    page.wait_for_selector("#f-method")
    assert (page.input_value("#f-method"), page.input_value("#f-area")) == ("hole", "")


def test_a_machine_finds_no_fault_on_any_of_these_pages(browser: Any, tmp_path: Path, serve_home: Any) -> None:
    """By ear, in both themes, on a narrow screen."""
    with Store(tmp_path / "office") as made:
        opened = manual_case(made)
    server = serve_home(tmp_path / "office")
    found = {}
    for part in ("/methods", "/drying", "/enter/floor-test", "/enter/leak-test", "/limit?test=f1"):
        context = browser.new_context(viewport={"width": 1280, "height": 900})
        tab = context.new_page()
        tab.goto(f"{server.address}/cases/{opened.id}{part}")
        found[part] = audit(tab)
        context.close()
    assert {part: faults for part, faults in found.items() if faults} == {}
