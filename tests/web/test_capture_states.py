"""Where is it now: on this device, sending, received or refused, for every entry and photo, and never anything vaguer."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from typing import Any

import pytest
from capture_page import CASE, NAME, SMALL, Capture, capture


@pytest.fixture
def site(browser: Any, empty_office: str) -> Iterator[Capture]:
    with capture(browser, empty_office) as opened:
        yield opened


def jpeg(colour: str, orientation: int = 1) -> bytes:
    from PIL import Image

    image, out = Image.new("RGB", (40, 20), colour), io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = orientation
    image.save(out, "JPEG", exif=exif)
    return out.getvalue()


def totals(site: Capture) -> str:
    return str(site.page.locator("#totals").inner_text())


def test_each_state_is_reached_and_said(site: Capture) -> None:
    """I want to know of each figure whether the office has it, and since when; what it refused must say why."""
    site.begin_round().keys("54")
    site.next()
    row = site.page.locator("li[data-spot=k1]")
    row.get_by_text("on this device").wait_for()
    site.page.wait_for_function(
        "() => document.querySelector('#totals').textContent.startsWith('3 entries, 0 photos unsent')"
    )
    assert site.page.locator("#totals").get_attribute("role") == "status"
    assert "no office yet" in totals(site)
    site.office = "takes"
    site.page.evaluate("dispatchEvent(new Event('online'))")
    row.get_by_text("received").wait_for()
    site.page.wait_for_function(
        "() => document.querySelector('#totals').textContent.startsWith('0 entries, 0 photos unsent; office')"
    )
    site.office = "refuses"
    site.keys("55")
    site.next()
    site.page.locator("li[data-spot=k2]").get_by_text("refused: the visit is not known here").wait_for()
    assert "sync" not in site.page.locator("body").inner_text().casefold()
    assert len(site.sent) == 4


def test_what_is_still_being_written_is_not_shown_as_if_it_were_kept(site: Capture) -> None:
    """The phone is slow, or another window holds the record: the figure in the row says so until it is on the device."""
    site.begin_round()
    site.page.evaluate(
        """async ([id]) => {
          const { openStore } = await import("/static/site/store.js");
          const store = await openStore();
          const held = new Promise((free) => (window.letGo = free));
          await new Promise((here) => navigator.locks.request(`${store.name}-write-${id}`, () => (here(), held)));
        }""",
        [CASE],
    )
    site.keys("54")
    site.next()
    row = site.page.locator("li[data-spot=k1]")
    row.get_by_text("54 not saved yet").wait_for()
    site.page.evaluate("() => window.letGo()")
    row.get_by_text("on this device").wait_for()
    assert "not saved yet" not in row.inner_text()


def test_the_header_counts_what_is_in_the_store(site: Capture) -> None:
    """The line at the top must be true at any moment: what it counts is what lies on the device."""
    site.begin_round()
    for number in range(1, 6):
        site.at(f"k{number}")
        site.keys("20")
        site.next()
        found = site.wait_for_entries(number, "reading")
        unsent = len(site.entries())
        site.page.wait_for_function(
            "(n) => document.querySelector('#totals').textContent.startsWith(`${n} entries, 0 photos`)", arg=unsent
        )
        assert len(found) == number


def test_photos_stay_what_the_camera_gave(site: Capture) -> None:
    """Two photos in one second, one of them on its side: both whole, both at their place, shown upright, sent as they are."""
    site.begin_visit().go("/photos?spot=k4", "Photos")
    pictures = [jpeg("#345678", 6), jpeg("#876543")]
    for picture in pictures:
        site.page.get_by_label("Spot", exact=True).select_option("k4")
        site.page.get_by_label("Direction", exact=True).fill("north")
        with site.page.expect_file_chooser() as chooser:
            site.button("Choose a file").click()
        chooser.value.set_files({"name": "image.jpg", "mimeType": "image/jpeg", "buffer": picture})
        site.page.locator(f"img >> nth={pictures.index(picture)}").wait_for()
    digests = [hashlib.sha256(picture).hexdigest() for picture in pictures]
    taken = [entry["payload"] for entry in site.wait_for_entries(2, "photo")]
    assert [each["sha256"] for each in taken] == digests
    assert {
        (each["spot"], each["zone"], each["direction"], each["visit"][:2], each["media_type"]) for each in taken
    } == {("k4", "store", "north", "v4", "image/jpeg")}
    assert [each["size"] for each in taken] == [len(picture) for picture in pictures]
    site.page.wait_for_function("() => document.querySelectorAll('.photos img')[1].naturalHeight > 0")
    turned = site.page.evaluate(
        "() => { const i = document.querySelectorAll('.photos img')[1]; return [i.naturalWidth, i.naturalHeight]; }"
    )
    assert turned == [20, 40]  # orientation 6: the browser turns it, the bytes stay
    for digest in digests:
        assert digest in site.page.locator("main").inner_text()
    assert "2 photos unsent" in totals(site)
    assert site.page.locator(".photos").get_by_text("on this device").count() == 2
    kept = site.page.evaluate(
        "async (all) => { const { openStore } = await import('/static/site/store.js'); const s = await openStore();"
        " const found = [];"
        " for (const d of all) found.push([...new Uint8Array(await (await"
        " s.photo(d)).arrayBuffer())]); await s.close(); return found; }", digests,
    )  # fmt: skip
    assert [bytes(each) for each in kept] == pictures
    site.office = "takes"
    site.page.evaluate("dispatchEvent(new Event('online'))")
    site.page.wait_for_function(
        "() => document.querySelector('#totals').textContent.startsWith('0 entries, 0 photos unsent')"
    )
    site.page.locator(".photos").get_by_text("received").first.wait_for()


def test_a_chooser_left_without_a_photo_asks_nothing_later(site: Capture) -> None:
    """I opened the camera and went back: there is no photo, and nobody asks for one after a reload."""
    site.begin_visit().go("/photos", "Photos")
    with site.page.expect_file_chooser():
        site.button("Choose a file").click()
    site.page.evaluate("document.querySelector('input[type=file]').dispatchEvent(new Event('cancel'))")
    site.page.reload()
    site.ready()
    assert site.page.locator("#recovery").is_hidden()


def test_the_truth_about_the_storage_is_told(browser: Any, empty_office: str) -> None:
    """Will the browser keep my day's work? It must say so, warn when it gets old, and give me a file to carry."""
    with capture(browser, empty_office, SMALL) as site:
        site.page.clock.install()
        site.begin_visit()
        site.page.clock.fast_forward(25 * 3_600_000)
        site.page.evaluate("location.hash = '/'")
        site.page.get_by_role("heading", name="How safe it is here").wait_for()
        words = site.page.locator("main").inner_text()
        assert "have waited on this phone" in words or "has waited on this phone" in words
        assert "This browser" in words
        assert "1 entry, 0 photos" in words
        assert site.button("Ask the browser to keep it").is_visible()
        with site.page.expect_download() as download:
            site.button("Save what was not sent to a file").click()
        assert download.value.suggested_filename == "desorb-unsent.json"
        site.page.clock.fast_forward(120 * 3_600_000)
        site.go("", NAME)
        site.page.evaluate("location.hash = '/'")
        loud = site.page.locator(".age-loud")
        loud.wait_for()
        assert "on this phone only" in loud.inner_text()
        site.button("Take it off this device").click()
        site.page.locator("#trouble").wait_for()
        assert len(site.entries()) == 1


def test_a_later_strike_needs_a_reason(site: Capture) -> None:
    """Next morning I see 45 that should be 54: I strike it with a reason, and both stay visible."""
    site.begin_round().keys("45")
    site.next()
    site.wait_for_entries(1, "reading")
    site.go("/written", "What was written")
    site.button("Strike: spot k1: 45").click()
    site.button("Strike it").click()
    site.page.get_by_text("A strike needs a reason").wait_for()
    assert site.entries("strike") == []
    site.page.get_by_label("Why it is struck").fill("mistyped, 54 was meant")
    site.button("Strike it").click()
    site.page.get_by_text("struck: mistyped, 54 was meant, by N. Ferrow").wait_for()
    (strike,) = site.entries("strike")
    assert strike["payload"]["target"] == site.entries("reading")[0]["hash"]
    assert site.page.locator("main s").inner_text().startswith("spot k1: 45")
    site.go("/round", "The round")
    assert "45" not in site.page.locator("li[data-spot=k1]").inner_text().replace("k1", "")
