"""What is typed and not saved survives everything, and comes back by name: never by itself, never into another job."""

from __future__ import annotations

import contextlib
import random
from collections.abc import Iterator
from typing import Any

import playwright.sync_api
import pytest
from capture_page import CASE, NAME, ON_ITS_SIDE, PHONE, Capture, capture, pack

OTHER = "feed00beef00feed00beef00feed00be"


@pytest.fixture
def site(browser: Any, empty_office: str) -> Iterator[Capture]:
    with capture(browser, empty_office) as opened:
        yield opened


def kept(site: Capture, text: str) -> None:
    """Waits until the device holds this text as a draft."""
    site.page.wait_for_function(
        """async ([id, text]) => { const db = await new Promise((done) => { const r = indexedDB.open("desorb-site");
          r.onsuccess = () => done(r.result); });
          const all = await new Promise((done) => { const r =
            db.transaction("drafts").objectStore("drafts").getAll(); r.onsuccess = () => done(r.result); });
          db.close(); return all.some((row) => row.case === id && Object.values(row.value.forms).some((f) =>
            Object.values(f.values).includes(text))); }""",
        arg=[CASE, text],
    )


def test_twenty_interruptions_lose_no_keystroke(site: Capture) -> None:
    """The phone rings, turns, sleeps, goes back, reloads in the middle of a figure: every time all of it is still there."""
    site.begin_round()
    dice = random.Random(7)
    typed = ""
    for moment in range(20):
        typed = (typed + dice.choice("123456789"))[-6:] if len(typed) < 6 else ""
        if typed == "":
            site.value().fill("")
            typed = dice.choice("123456789")
        site.button(typed[-1], exact=True).click()
        event = ("turn", "hide", "freeze", "back", "reload")[moment % 5]
        if event == "turn":
            site.page.set_viewport_size(ON_ITS_SIDE if moment % 2 else PHONE)
        elif event == "hide":
            site.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        elif event == "freeze":
            site.page.evaluate("document.dispatchEvent(new Event('freeze'))")
        elif event == "back":
            site.go("", NAME)
            assert (
                site.page.get_by_role("button", name="Take it up again").count() == 0
            )  # nobody is asked in the same sitting
            site.page.go_back()
        else:
            kept(site, typed)
            site.page.reload()
            site.ready()
            site.button("Take it up again").click()
        site.value().wait_for()
        site.page.wait_for_function("(text) => document.querySelector('input.value').value === text", arg=typed)
    assert site.entries("reading") == []


def test_recovery_names_job_place_and_time(browser: Any, empty_office: str) -> None:
    """After a kill I am told what was typed where and when; I take it up or set it aside, and no other job ever gets it."""
    with capture(browser, empty_office) as site:
        site.packs.append(pack(OTHER, "Other Mill"))
        site.take_along(OTHER)
        assert site.page.locator("#recovery").is_hidden()  # nothing unsaved: nobody is asked
        site.begin_round().keys("57")
        kept(site, "57")
        site.page.reload()
        site.ready()
        words = site.page.locator("#recovery").inner_text()
        for part in (NAME, "spot k1, board 1", "57"):
            assert part in words
        assert site.page.get_by_text("Typed and not saved").count() == 1
        assert site.value().input_value() == ""  # never by itself
        site.page.evaluate("(id) => { location.hash = `/c/${id}`; }", OTHER)
        site.page.get_by_role("heading", level=1, name="Other Mill").wait_for()
        assert NAME in site.page.locator("#recovery").inner_text()
        site.button("Take it up again").click()
        site.page.get_by_role("heading", level=1, name="The round").wait_for()
        assert CASE in site.page.url
        site.page.wait_for_function("() => document.querySelector('input.value')?.value === '57'")
        site.next()
        site.at("k2")
        site.wait_for_entries(1, "reading")
        site.keys("8")
        kept(site, "8")
        site.page.reload()
        site.ready()
        site.button("Set aside").click()
        site.page.locator("#recovery").wait_for(state="hidden")
        site.page.reload()
        site.ready()
        assert site.page.locator("#recovery").is_hidden()
        site.go("/written", "What was written")
        assert "spot k2, board 2" in site.page.locator("main").inner_text()
        assert site.button("Take it up again").is_visible()


def test_a_form_of_words_survives_too(site: Capture) -> None:
    """I wrote half a note about the ceiling when the phone went off."""
    site.begin_visit().go("/note", "A note")
    site.page.get_by_label("Note").fill("stain above the door, dry to touch")
    kept(site, "stain above the door, dry to touch")
    site.page.reload()
    site.ready()
    site.button("Take it up again").click()
    site.page.wait_for_function("() => document.querySelector('textarea')?.value.startsWith('stain above')")
    site.button("Keep the note").click()
    site.page.get_by_role("heading", level=1, name=NAME).wait_for()
    (note,) = site.wait_for_entries(1, "note")
    assert note["payload"]["words"] == "stain above the door, dry to touch"
    site.page.reload()
    site.ready()
    assert site.page.locator("#recovery").is_hidden()


def test_the_camera_kills_the_page(browser: Any, empty_office: str) -> None:
    """The camera opens and the system throws the page out: I am told that the photo is not here, and led back to its place."""
    with capture(browser, empty_office) as site:
        site.begin_visit().go("/photos", "Photos")
        site.page.get_by_label("Spot", exact=True).select_option("k3")
        site.page.get_by_label("What it shows").fill("edge of the stain")
        with site.page.expect_file_chooser():
            site.button("Take a photo").click()
        context = site.page.context
        with site.page.expect_event("crash"), contextlib.suppress(playwright.sync_api.Error):
            site.page.goto("chrome://crash")
        again = context.new_page()
        reopened = Capture(again, site.address)
        reopened.open()
        assert "photo at spot k3" in again.locator("#recovery").inner_text()
        assert "the photo was not received, take it again" in again.locator("#recovery").inner_text()
        reopened.button("Go to the photo").click()
        again.get_by_role("heading", level=1, name="Photos").wait_for()
        assert again.get_by_label("Spot", exact=True).input_value() == "k3"
        assert again.get_by_label("What it shows").input_value() == "edge of the stain"
