"""How the office is read: by a screen reader, with the keyboard, in the dark, on paper, and with texts that try to be code."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from office_case import ODD, PAGES, odd_case

from desorb.notebook.store import Store
from desorb.service.cases import load

LAPTOP = {"width": 1280, "height": 800}
OFFICE = ("/", "/import", "/verification")
OF_CASE = (
    "", "/difference", "/assessments", "/charts", "/next", "/report", "/spots/k3", "/record?on=2026-01-19&kind=strike",
    "/record/entries/{entry}",
)  # fmt: skip


def addresses(server: Any, case_id: str) -> list[str]:
    entry = server.store.entries(case_id)[-5].name
    return [*OFFICE, *(f"/cases/{case_id}{page.format(entry=entry)}" for page in OF_CASE)]


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_page_keeps_the_rules_of_access(browser: Any, server: Any, case_id: str, theme: str) -> None:
    """Someone who listens to the page, or sees little, reads every page of the office by day and by night."""
    from axe_playwright_python.sync_playwright import Axe

    page = browser.new_page(viewport=LAPTOP, color_scheme=theme)
    found = {}
    for address in addresses(server, case_id):
        page.goto(f"{server.address}{address}")
        if address.endswith("/charts"):
            page.locator("#charts[data-done=yes]").wait_for(state="attached")
        page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
        rules = (
            {} if theme == "light" else {"runOnly": ["color-contrast", "color-contrast-enhanced", "link-in-text-block"]}
        )
        results = Axe().run(page, options={"resultTypes": ["violations"], **rules})
        if results.violations_count:
            found[address] = [
                (each["id"], [node["html"][:120] for node in each["nodes"][:2]])
                for each in results.response["violations"]
            ]
    page.close()
    assert found == {}


def test_on_a_phone_no_page_is_wider_than_the_phone(page: Any, server: Any, case_id: str) -> None:
    """The owner looks something up on a phone: only tables scroll sideways, each in its own place."""
    for address in addresses(server, case_id):
        page.goto(f"{server.address}{address}")
        assert page.evaluate("document.documentElement.scrollWidth") <= 393, address


def test_a_report_is_issued_with_the_keyboard_alone(browser: Any, server: Any, case_id: str) -> None:
    """No mouse at hand: from the top of the page to an issued report with Tab, letters and Enter."""
    page = browser.new_page(viewport=LAPTOP)
    page.goto(f"{server.address}/cases/{case_id}/report")
    before = page.locator("tbody tr").count()
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "by":
            break
    page.keyboard.type("N. Ferrow")
    page.keyboard.press("Tab")
    page.keyboard.press("l")  # Letter
    for _ in range(5):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Issue the report":
            break
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert page.locator("tbody tr").count() == before + 1
    row = page.locator("tbody tr").first
    assert "current" in row.inner_text()
    assert "superseded" in page.locator("tbody tr").last.inner_text()
    page.close()
    assert load(server.store, server.desk.case(case_id)).reports[-1].record.by == "N. Ferrow"


def test_the_skip_link_and_the_headings_lead_through_the_case(browser: Any, server: Any, case_id: str) -> None:
    """The first Tab offers the content; the six questions are the headings of the second level, in order."""
    page = browser.new_page(viewport=LAPTOP)
    page.goto(f"{server.address}/cases/{case_id}")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the content"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    assert page.locator("h1").count() == 1
    headings = page.locator("main h2").all_inner_texts()
    assert [text.split("\n")[0] for text in headings] == [
        "What could hurt someone here?", "What is it made of?", "What is the control?", "What reads higher?", "Why?",
        "What next?",
    ]  # fmt: skip
    page.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_list_of_next_tests_prints_with_its_heads_and_without_the_screen(
    browser: Any, server: Any, case_id: str, paper: str
) -> None:
    """The list goes to site on paper: text can be read by machine, heads repeat, buttons and navigation stay away."""
    from pypdf import PdfReader

    page = browser.new_page(viewport=LAPTOP)
    page.goto(f"{server.address}/cases/{case_id}/next")
    rows = page.locator("table.work tbody tr td:first-child").all_inner_texts()
    printed = PdfReader(io.BytesIO(page.pdf(format=paper)))
    texts = [sheet.extract_text() for sheet in printed.pages]
    assert len(texts) >= 2
    assert "Verification" not in "".join(texts)
    assert "Print this list" not in "".join(texts)
    flat = ["".join(text.split()) for text in texts]
    for words in rows:
        start = "".join(words.split())[:24]
        assert sum(start in text for text in flat) >= 1, words
    assert "givesnopermission" in "".join(flat)
    page.emulate_media(media="print")
    cut = page.evaluate(
        "[...document.querySelectorAll('table tbody tr')].filter((row) => getComputedStyle(row).breakInside !== 'avoid').length"
    )
    heads = page.evaluate(
        "[...document.querySelectorAll('thead')].filter((head) => getComputedStyle(head).display !== 'table-header-group').length"
    )
    page.close()
    assert (cut, heads) == (0, 0)


def test_heads_repeat_on_every_sheet_of_a_long_table(browser: Any, server: Any, case_id: str) -> None:
    """The table of assessments runs over several sheets: its heads stand on each."""
    from pypdf import PdfReader

    page = browser.new_page(viewport=LAPTOP)
    page.goto(f"{server.address}/cases/{case_id}/record?kind=reading")
    printed = PdfReader(io.BytesIO(page.pdf(format="A4")))
    page.close()
    with_rows = ["First arrived" in " ".join(sheet.extract_text().split()) for sheet in printed.pages
                 if sheet.extract_text().count("reading") > 3]  # fmt: skip
    assert len(with_rows) >= 2
    assert all(with_rows)


def test_the_marks_can_be_told_apart_without_colour(browser: Any, server: Any, case_id: str) -> None:
    """Printed on a laser printer: above is filled, no higher is open, cannot say is dashed, each with its word."""
    page = browser.new_page(viewport=LAPTOP)
    page.goto(f"{server.address}/cases/{case_id}")
    page.emulate_media(media="print")
    read = """(name) => {
      const mark = document.querySelector(name), style = getComputedStyle(mark);
      return [style.fill === 'none' ? 'open' : 'filled', style.strokeDasharray === 'none' ? 'whole' : 'dashed',
              mark.closest('.status').textContent.trim()];
    }"""
    assert page.evaluate(read, ".mark-above") == ["filled", "whole", "above control"]
    assert page.evaluate(read, ".mark-no-higher") == ["open", "whole", "no higher than control"]
    assert page.evaluate(read, ".mark-cannot-say") == ["open", "dashed", "cannot say"]
    page.close()


def test_odd_texts_are_text_and_nothing_else_on_every_page(browser: Any, tmp_path: Path, serve_home: Any) -> None:
    """Whatever a person wrote into names, notes, places and reasons is shown as written, and nothing of it runs."""
    text = " ".join(ODD)
    with Store(tmp_path / "home") as store:
        case = odd_case(store, text)
        entries = [entry.name for entry in store.entries(case.id)][-6:]
    server = serve_home(tmp_path / "home")
    page = browser.new_page(viewport=LAPTOP)
    said: list[str] = []
    page.on("dialog", lambda dialog: (said.append("dialog"), dialog.dismiss()))
    page.on("console", lambda line: said.append(line.text) if "violates" in line.text else None)
    page.on("pageerror", lambda problem: said.append(str(problem)))
    seen: dict[str, bool] = {}
    wanted = ["/", *(f"/cases/{case.id}{part}" for part in PAGES)]
    wanted += [f"/cases/{case.id}/record/entries/{name}" for name in entries]
    page.goto(f"{server.address}/cases/{case.id}/difference")
    odd_spot = page.locator("a", has_text="onerror").first.get_attribute("href")
    assert odd_spot
    for address in [*wanted, odd_spot]:
        answer = page.goto(f"{server.address}{address}")
        assert answer.status == 200, address
        body = page.evaluate(
            "document.body.textContent + ' ' + [...document.querySelectorAll('textarea')].map((e) => e.value)"
        )
        seen[address] = text in body
        assert page.evaluate("window.pwned") is None, address
        assert page.evaluate("document.querySelectorAll('main script:not([src]), main img[src=x]').length") == 0
    page.close()
    assert said == []
    assert seen[odd_spot]
    assert all(seen[f"/cases/{case.id}{part}"] for part in ("", "/difference", "/assessments", "/record", "/spots/s1"))
    assert seen["/"]
