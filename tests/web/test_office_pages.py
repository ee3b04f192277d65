"""The office: what needs doing next, the six questions, a spot, the difference since last visit, empty cases, large cases."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from office_case import CONTROLS, PAGES, client_of, furnish, large_case, sweep

from desorb.core.kinds import Hazard, NotRead, Spot, UnitReading
from desorb.notebook.store import Store
from desorb.report.document import QUESTIONS
from desorb.service.cases import find_case, load, open_case, write

TODAY = datetime.fromisoformat("2026-02-03T09:00:00+00:00")


@pytest.fixture
def demo(demo_home: Path) -> Any:
    with Store(demo_home) as store:
        yield store


@pytest.fixture
def empty(tmp_path: Path) -> Any:
    with Store(tmp_path / "new") as store:
        yield store


def text_of(html: str) -> str:
    import html as entities

    return entities.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)))


def test_the_six_questions_stand_in_their_order_with_the_worst_place_first(demo: Store) -> None:
    """The owner opens the case and reads it from what could hurt someone down to what comes next."""
    html = client_of(demo, TODAY).get(f"/cases/{find_case(demo, 'quillfen').id}").text
    places = [html.index(f">{question}") for question in QUESTIONS]
    assert places == sorted(places)
    higher = html[places[3] : places[4]]
    statuses = re.findall(r'class="element-head"><div>\s*<span class="status">.*?<span>([a-z ]+)</span>', higher, re.S)
    order = ["above control", "cannot say", "no higher than control"]
    assert [order.index(status) for status in statuses] == sorted(order.index(status) for status in statuses)
    assert statuses[0] == "above control"


@pytest.mark.parametrize("page", [*PAGES[:-1], "/spots/k3", "/spots/q1", "/assessments?rule=prediction/1",
                                  "/record?on=2026-01-19", "/record?kind=reading&page=2"])  # fmt: skip
def test_every_page_of_the_demonstration_comes(demo: Store, page: str) -> None:
    """Whoever opens the demonstration can go everywhere."""
    answer = client_of(demo, TODAY).get(f"/cases/{find_case(demo, 'quillfen').id}{page}")
    assert answer.status_code == 200, answer.text[:400]
    assert "Invented data" in answer.text
    assert "style=" not in answer.text


@pytest.mark.parametrize("page", ["/", "/import", "/verification"])
def test_an_empty_store_says_what_to_do(empty: Store, page: str) -> None:
    """The first day: nothing is there yet, and no page breaks."""
    answer = client_of(empty).get(page)
    assert answer.status_code == 200
    assert ("There is no case in this store yet" in answer.text) == (page == "/")


@pytest.mark.parametrize("page", [*PAGES[:-1], "/record?on=2026-03-02"])
def test_an_empty_case_says_what_is_missing_and_nothing_about_dryness(empty: Store, page: str) -> None:
    """A case that was opened a minute ago."""
    case = open_case(empty, "2026-031", site="somewhere", time_zone="Europe/London")
    answer = client_of(empty).get(f"/cases/{case.id}{page}")
    if "on=" in page:
        assert answer.status_code == 422  # nothing was known on that day
        assert "nothing of case 2026-031 was known then" in answer.text.lower()
        return
    assert answer.status_code == 200
    main = answer.text.split("<main", 1)[1].split("</main>")[0]
    assert ">no higher than control<" not in main


def test_the_list_puts_a_hazard_before_everything(empty: Store) -> None:
    """Two cases: in one a socket stands below the wet line. It comes first, with the word stop."""
    calm = open_case(empty, "calm", site="a", time_zone="Europe/London")
    furnish(empty, calm)
    write(empty, calm, sweep("v1", 0, CONTROLS))
    other = open_case(empty, "danger", site="b", time_zone="Europe/London")
    furnish(empty, other)
    write(
        empty,
        other,
        [*sweep("v1", 0, CONTROLS), Hazard("electricity", "wet", "socket below the wet line", "2026-03-02")],
    )
    client = client_of(empty)
    lines = client.get("/api/cases").json()
    assert [line["name"] for line in lines] == ["danger", "calm"]
    assert lines[0]["needs"][0]["kind"] == "stop"
    assert "socket below the wet line" in lines[0]["needs"][0]["words"]
    assert "gate-stop" in client.get("/").text


def test_the_list_changes_when_something_was_entered(empty: Store) -> None:
    """The list is kept in memory, and still never older than the record."""
    case = open_case(empty, "2026-040", site="a", time_zone="Europe/London")
    furnish(empty, case)
    client = client_of(empty)
    assert client.get("/api/cases").json()[0]["needs"][0]["kind"] == "no visit"
    write(empty, case, [Spot("s1", "wet", "floor"), *sweep("v1", 0, CONTROLS | {"s1": "60"})])
    line = client.get("/api/cases").json()[0]
    assert line["counts"]["above control"] == 1
    assert line["needs"][0]["kind"] == "above control"


def test_a_struck_reading_stays_visible_with_who_when_and_why(demo: Store) -> None:
    """k3 was mistyped as 25: its history shows the 25 struck through, and who struck it and why."""
    html = client_of(demo).get(f"/cases/{find_case(demo, 'quillfen').id}/spots/k3").text
    assert re.search(r"<s[^>]*>25</s>", html)
    assert "mistyped: the display read 52" in html
    assert "N. Ferrow" in html


def test_the_rule_and_each_control_stand_two_taps_away(demo: Store) -> None:
    """From the spot: open 'Rule, limits and controls', then 'The controls one by one'."""
    html = client_of(demo).get(f"/cases/{find_case(demo, 'quillfen').id}/spots/k3").text
    outer = html.index("<summary>Rule, limits and controls</summary>")
    inner = html.index("<summary>The controls one by one", outer)
    assert html.index("tolerance/1", outer) < inner
    assert html.index("/spots/q1", inner) > inner


def test_the_difference_says_what_changed_what_did_not_and_what_was_not_done(empty: Store) -> None:
    """Visit 2: one spot fell by more than r, one did not, one was behind a cupboard; the unit collected 18.5 L."""
    case = open_case(empty, "2026-050", site="a", time_zone="Europe/London")
    furnish(empty, case)
    write(empty, case, [
        *(Spot(name, "wet", "floor") for name in ("s1", "s2", "s3", "s4")),
        *sweep("v1", 0, CONTROLS | {"s1": "60", "s2": "30", "s3": "40", "s4": "100"}),
        UnitReading("k1", "u1", "v1", "2026-03-02T10:00:00+00:00", "100"),
        *sweep("v2", 3, CONTROLS | {"s1": "50", "s2": "29", "s4": "100"}),
        NotRead("s3", "v2", "a cupboard stood before it", "2026-03-05T10:00:00+00:00"),
        UnitReading("k2", "u1", "v2", "2026-03-05T10:00:00+00:00", "172", "18.5"),
    ])  # fmt: skip
    client = client_of(empty)
    found = client.get(f"/api/cases/{case.id}/difference").json()
    assert [(each["spot"], each["difference"]) for each in found["changed"]] == [("s1", "\u221210")]
    assert "s2" in [each["spot"] for each in found["same"]]
    assert [each["spot"] for each in found["not_comparable"]] == ["s4"]  # at the end both times: never 'no change'
    assert [(each["spot"], each["after"]) for each in found["not_read"]] == [("s3", "")]
    assert "a cupboard stood before it" in found["not_read"][0]["words"]
    assert found["units"] == [
        "u1: collected 18.5 L since the visit before; hour meter 172 h, 72 h more than at visit v1"
    ]
    html = client.get(f"/cases/{case.id}/difference").text
    assert "Ready to send" in html
    assert "s1: from 60 to 50" in html


def test_a_visit_that_is_not_there_is_named(demo: Store) -> None:
    """A bookmark with a visit that was never made."""
    answer = client_of(demo).get(f"/cases/{find_case(demo, 'quillfen').id}/difference?earlier=v9")
    assert answer.status_code == 404
    assert "v5" in answer.text


def _statements(store: Store, client: Any, address: str) -> int:
    """How many SQL statements a page takes."""
    said: list[str] = []
    store._connection.set_trace_callback(said.append)
    try:
        answer = client.get(address)
    finally:
        store._connection.set_trace_callback(None)
    assert answer.status_code == 200
    return len(said)


@pytest.fixture(scope="module")
def two_homes(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Path]:
    """A case of about ten readings and one of about a thousand, each in a store of its own."""
    homes = {}
    for readings in (10, 1000):
        homes[readings] = tmp_path_factory.mktemp("large") / str(readings)
        with Store(homes[readings]) as store:
            large_case(store, readings, 2 if readings == 10 else 5)
    return homes


def test_a_thousand_readings_ask_the_store_no_more_often_than_ten(two_homes: dict[int, Path]) -> None:
    """A long case opens like a short one: the same number of SQL statements on every page."""
    counts: dict[int, list[int]] = {}
    for readings, home in two_homes.items():
        with Store(home) as store:
            case, client = find_case(store, f"large {readings}"), client_of(store)
            pages = ("", "/spots/s1", "/difference", "/record", "/report")
            counts[readings] = [_statements(store, client, f"/cases/{case.id}{page}") for page in pages]
    assert counts[10] == counts[1000]
    assert min(counts[10]) > 0


def test_a_case_of_a_thousand_readings_is_a_page_that_can_be_used(
    browser: Any, two_homes: dict[int, Path], serve_home: Any
) -> None:
    """A works of 200 spots: the page says the worst first, its lists are closed, and a spot is two clicks away."""
    server = serve_home(two_homes[1000])
    case = find_case(server.store, "large 1000")
    assert len(load(server.store, case).readings) >= 980
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    page.goto(f"{server.address}/cases/{case.id}")
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280
    assert page.evaluate("document.documentElement.scrollHeight") < 12_000
    page.locator("#higher details > summary").first.click()
    page.locator("#higher details[open] a").first.click()
    assert page.locator("table.readings tbody tr").count() == 5
    page.close()
