"""The round: a value is digits and one tap; everything else carries over, and is changed on purpose."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from capture_page import NAME, PHONE, SIZES, SMALL, SPOTS, Capture, capture


@pytest.fixture
def site(browser: Any, empty_office: str) -> Iterator[Capture]:
    with capture(browser, empty_office) as opened:
        yield opened


COUNT_TAPS = """() => { window.taps = 0; window.scrolls = 0;
  document.addEventListener("click", (event) => event.isTrusted && (window.taps += 1), true);
  addEventListener("scroll", () => (window.scrolls += 1)); }"""


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size['width']}x{size['height']}")
def test_twenty_spots_take_their_digits_and_one_tap_each(browser: Any, empty_office: str, size: dict[str, int]) -> None:
    """Twenty spots, the meter in one hand: I tap the digits and next, and never look for the next spot."""
    with capture(browser, empty_office, size) as site:
        dialogs: list[str] = []
        site.page.on("dialog", lambda dialog: dialogs.append(dialog.message))
        site.begin_round().page.evaluate(COUNT_TAPS)
        values = [str(20 + 4 * number) if number < 20 else "100" for number in range(1, 21)]
        for number, value in enumerate(values, 1):
            site.at(f"k{number}")
            site.keys(value)
            assert in_view(site.page, "li.typing .pick")
            assert in_view(site.page, "input.value")
            site.next()
        read = site.wait_for_entries(20, "reading")
        assert [entry["payload"]["values"] for entry in read] == [[value] for value in values]
        assert [entry["payload"]["spot"] for entry in read] == [f"k{number}" for number in range(1, 21)]
        assert {entry["payload"]["scale"] for entry in read} == {"comparative"}
        taps = site.page.evaluate("window.taps")
        assert taps <= sum(len(value) + 1 for value in values) <= 80
        assert site.page.evaluate("window.scrolls") == 0
        assert dialogs == []


def in_view(page: Any, selector: str) -> bool:
    """Is all of it on the screen, and on top?"""
    inside: bool = page.evaluate(
        """(selector) => { const box = document.querySelector(selector).getBoundingClientRect();
          const list = document.querySelector(".rows").getBoundingClientRect();
          const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
          return box.top >= list.top - 3 && box.bottom <= list.bottom + 3 && Boolean(top?.closest(selector)); }""",
        selector,
    )
    return inside


def test_the_value_stands_beside_the_earlier_visits_and_is_large(site: Capture) -> None:
    """While I type I want to see what the last visits read here, with covering and method, on the same row."""
    site.begin_round().keys("54")
    row = site.page.locator("li.typing")
    assert row.get_by_role("textbox").input_value() == "54"
    for words in ("k1", "v3 21", "v2 31", "v1 41", "through vinyl", "as found", "comparative"):
        assert words in " ".join(row.inner_text().split())
    look = site.page.evaluate(
        "() => { const s = getComputedStyle(document.querySelector('input.value')); return [s.fontSize, s.fontVariantNumeric]; }"
    )
    assert float(look[0].removesuffix("px")) >= 40
    assert look[1] == "tabular-nums"
    waiting = site.page.locator("li[data-spot=k2]").inner_text()
    assert "not read this visit" in waiting


def test_a_spot_that_was_not_read_is_never_given_an_old_value(site: Capture) -> None:
    """I skip a spot: it must stay visible as not read, with its reason if I give one, and no value of yesterday."""
    site.begin_round()
    site.button("skip", exact=True).click()
    site.at("k2")
    site.button("no reading").click()
    site.button("no access").click()
    site.at("k3")
    site.button("next", exact=True).or_(site.button("skip", exact=True)).first.wait_for()  # the keypad is back
    assert site.page.get_by_role("heading", name="Why is there no reading").count() == 0
    (missing,) = site.wait_for_entries(1, "not-read")
    assert missing["payload"] | {"at": "", "visit": missing["payload"]["visit"][:3]} == {
        "spot": "k2",
        "visit": "v4-",
        "why": "no access",
        "at": "",
        "instrument": "m1",
        "scale": "comparative",
        "by": "N. Ferrow",
    }
    assert "not read this visit" in site.page.locator("li[data-spot=k1]").inner_text()
    assert "no reading: no access" in site.page.locator("li[data-spot=k2]").inner_text()
    assert site.entries("reading") == []


def test_the_ends_of_the_scale_repeats_and_the_sign(site: Capture) -> None:
    """The display shows its top, or I read a spot three times: one key each, kept as it was shown."""
    site.begin_round()
    site.button("over range").click()
    assert site.value().input_value() == ">=100"
    site.next()
    site.at("k2")
    site.button("under range").click()
    site.next()
    site.at("k3")
    for value in ("64", "73"):
        site.keys(value)
        site.button("repeat").click()
    site.keys("65")
    site.next()
    site.at("k4")
    site.keys("3")
    site.button("sign").click()
    assert site.value().input_value() == "-3"
    site.button("delete").click()
    site.button("delete").click()
    assert site.value().input_value() == ""
    values = [entry["payload"]["values"] for entry in site.wait_for_entries(3, "reading")]
    assert values == [[">=100"], ["<=0"], ["64", "73", "65"]]


def test_a_double_tap_makes_one_entry(site: Capture) -> None:
    """My thumb slips and hits next twice: one reading, and the next spot is not skipped."""
    site.begin_round().keys("54")
    site.page.evaluate("() => { const next = document.querySelector('.key.next'); next.click(); next.click(); }")
    site.at("k2")
    assert len(site.wait_for_entries(1, "reading")) == 1
    site.keys("55")  # digits are never held back
    assert site.value().input_value() == "55"


def test_an_odd_value_is_kept_with_its_note(site: Capture) -> None:
    """I type 540 for 54, or a value far from the last visit: tell me, keep it if I insist, and remember that you told me."""
    site.begin_round().keys("540")
    note = site.page.locator("li.typing .note")
    assert "above the top of this scale, 100" in note.inner_text()
    site.next()
    site.at("k2")
    site.keys("99")
    assert "more than 3 times away from 22 of v3" in note.inner_text()
    site.next()
    site.at("k3")
    site.keys("40")
    assert note.inner_text() == ""
    first, second = site.wait_for_entries(2, "reading")
    assert "above the top" in first["payload"]["note"]
    assert "more than 3 times" in second["payload"]["note"]
    assert first["payload"]["values"] == ["540"]


def test_a_changed_covering_is_written_with_the_next_reading(site: Capture) -> None:
    """The tile is off from here on: I change the covering once, on purpose, and it carries over from there."""
    site.begin_round().keys("30")
    site.next()
    site.at("k2")
    site.page.locator("li.typing .pick").click()
    site.page.get_by_role("radio", name="bare").check(force=True)
    site.page.get_by_role("radio", name="wiped").check(force=True)
    site.button("Back to the value").click()
    assert "bare; v3: vinyl" in site.page.locator("li.typing .note").inner_text()
    for value in ("31", "32"):
        site.keys(value)
        site.next()
    read = [entry["payload"] for entry in site.wait_for_entries(3, "reading")]
    assert [(each["covering"], each["preparation"]) for each in read] == [
        ("vinyl", "as found"),
        ("bare", "wiped"),
        ("bare", "wiped"),
    ]


def test_the_scale_is_confirmed_at_the_start_after_a_change_and_after_a_pause(browser: Any, empty_office: str) -> None:
    """Somebody may have touched the meter over lunch: ask me what it shows, at the start, after a change, after a pause."""
    with capture(browser, empty_office) as site:
        site.page.clock.install()
        site.begin_round().keys("54")
        site.next()
        site.wait_for_entries(1, "reading")
        site.page.clock.fast_forward("01:01:00")
        site.keys("55")
        site.next()
        site.page.get_by_role("heading", name="after the pause").wait_for()
        assert len(site.entries("reading")) == 1
        site.page.get_by_text("It shows something else").first.click()
        site.page.get_by_label("It shows something else").fill("screed")
        site.button("Keep what it shows").click()
        site.page.get_by_text("Choose the scale it shows").wait_for()
        site.button("Keep on: the readings are marked").click()
        assert site.value().input_value() == "55"  # what was typed waited
        site.next()
        site.at("k3")
        site.page.locator("li.typing .pick").click()
        site.page.get_by_text("Depth, material").wait_for()
        site.button("Another instrument or scale").click()
        site.page.get_by_role("radio", name="screed, %").check(force=True)
        site.button("It shows “screed”").click()
        shown = [
            (e["payload"]["when"], e["payload"]["scale"], e["payload"]["shown"])
            for e in site.wait_for_entries(3, "scale-shown")
        ]
        assert shown == [
            ("start", "comparative", "scale of 100"),
            ("pause", "comparative", "screed"),
            ("change", "screed", "screed"),
        ]


def test_an_instrument_that_is_not_fit_says_so_before_the_first_reading(site: Capture) -> None:
    """The certificate ran out: I want to hear it before I read fifty places, not in the office."""
    site.begin_visit().go("/round", "The round")
    site.page.get_by_role("radio", name="h1: hygrometer").check(force=True)
    assert (
        "its calibration was due on 2025-09-30"
        in site.page.get_by_role("region", name="Instrument and scale").inner_text()
    )


def test_undo_right_after_a_save(browser: Any, empty_office: str) -> None:
    """I see at once that I typed the wrong figure: one tap takes me back to the spot, and the record shows both."""
    with capture(browser, empty_office, SMALL) as site:
        site.page.clock.install()
        site.begin_round().keys("45")
        site.next()
        site.wait_for_entries(1, "reading")
        undo = site.button("Undo: 45 at k1")
        undo.wait_for()
        assert "45 at k1 is on this device" in site.page.locator("#said").inner_text()
        site.page.clock.run_for(10_000)
        assert undo.is_visible()
        undo.focus()
        site.page.keyboard.press("Enter")
        site.at("k1")
        (strike,) = site.wait_for_entries(1, "strike")
        (reading,) = site.entries("reading")
        assert strike["payload"]["target"] == reading["hash"]
        assert strike["payload"]["why"] == "undone at once"
        site.keys("54")
        site.next()
        site.wait_for_entries(2, "reading")
        site.button("Undo: 54 at k1").wait_for()
        site.page.clock.run_for(13_000)
        assert site.page.locator("#undo").is_hidden()


def test_the_round_by_keyboard_says_what_it_does_not_understand(site: Capture) -> None:
    """At a desk with a keyboard: Enter goes on, what is no number is refused in words and stays as I typed it."""
    site.begin_round()
    field = site.value()
    assert field.get_attribute("inputmode") == "decimal"
    assert site.page.locator("input[type=number]").count() == 0
    for text in ("1 234,5", "12..5", "1e3", "12,5 %", "\u0661\u0662", "OL", "54 mm"):
        field.fill(text)
        field.press("Enter")
        note = site.page.locator("li.typing .note")
        assert "This is not one number" in note.inner_text(), text
        assert "Next:" in note.inner_text()
        assert field.input_value() == text
        assert field.get_attribute("aria-invalid") == "true"
    for number, text in enumerate(("12,5", "12.5", ".5", "-3"), 1):
        site.at(f"k{number}")
        site.page.evaluate("document.activeElement.id")
        field.fill(text)
        field.press("Enter")
    assert site.page.evaluate("document.activeElement.id") == "value"
    values = [entry["payload"]["values"] for entry in site.wait_for_entries(4, "reading")]
    assert values == [["12,5"], ["12.5"], [".5"], ["-3"]]


def test_the_round_ends_with_what_was_not_read(site: Capture) -> None:
    """At the last spot I want to know which ones I left out before I pack the meter away."""
    site.begin_round()
    site.page.locator(f"li[data-spot=k{SPOTS}] button").click()
    site.keys("20")
    site.next()
    site.page.get_by_role("heading", name="The round is at its end; 21 spots not read").wait_for()
    site.button("Go to k1").click()
    site.at("k1")


def test_there_is_no_round_without_a_visit(site: Capture) -> None:
    """A reading belongs to a visit; without one the page says so and shows the way."""
    site.go("/round", "The round")
    site.page.get_by_role("link", name="Begin one").click()
    site.page.get_by_role("heading", name=NAME).wait_for()
    assert PHONE["width"] == 393
