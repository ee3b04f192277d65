"""Can a gloved thumb hit it, can tired eyes read it, does it fit, is it light: measured on the capture screens."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from axe_playwright_python.sync_playwright import Axe
from capture_page import NAME, ON_ITS_SIDE, PHONE, SMALL, Capture, capture

from desorb.web.pages_site import STATIC, files_of_site

SCREENS = [
    ("", NAME), ("/gates", "What could hurt someone here"), ("/gates/asbestos/store", "Evidence"), ("/hazard", "A hazard seen"),
    ("/instruments", "Instruments, fit to use"), ("/air", "Air"), ("/units", "Drying units"), ("/photos", "Photos"),
    ("/note", "A note"),
    ("/scan", "A quick pass"), ("/not-inspected", "What was not inspected"), ("/spot", "A new spot"), ("/spot/k1", "Place of k1"),
    ("/label/k1", "Spot k1"), ("/written", "What was written"), ("/round", "The round"),
]  # fmt: skip
AXE = {"runOnly": ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa"], "resultTypes": ["violations"]}
BOXES = """() => [...document.querySelectorAll("a[href], button, input, select, textarea, summary")].flatMap((element) => {
  const target = element.closest("label.chip, label.check") ?? element;
  const box = target.getBoundingClientRect();
  if (!box.width || element.closest("[hidden], details:not([open]) > :not(summary), .visually-hidden")) return [];
  return [{ words: (element.getAttribute("aria-label") || target.innerText || element.id).slice(0, 40), key:
    element.classList.contains("key"),
            x: box.x, y: box.y, width: box.width, height: box.height, shell: Boolean(element.closest(".bar")), plan:
              Boolean(element.closest(".plan")) }];
})"""


@pytest.fixture(scope="module", params=["light", "dark"])
def themed(request: Any, browser: Any, empty_office: str) -> Iterator[Capture]:
    with capture(browser, empty_office, PHONE, color_scheme=request.param) as site:
        site.begin_round().keys("540")
        site.next()
        site.wait_for_entries(1, "reading")
        yield site


def test_no_fault_that_a_machine_can_find_on_any_screen(themed: Capture) -> None:
    """In the sun and in the cellar, with a reader or without: nothing that a machine can find is wrong, contrast 7 to 1."""
    found = []
    axe = Axe()
    is_dark = themed.page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches")
    for route, title in SCREENS[:: 3 if is_dark else 1]:  # the same parts in other colours: a third of them is enough
        themed.go(route, title)
        for each in axe.run(themed.page, options=AXE).response["violations"]:
            found.append((route, each["id"], each["nodes"][0]["html"][:200], each["nodes"][0]["failureSummary"][:300]))
    assert found == []


@pytest.mark.parametrize("size", [PHONE, SMALL], ids=["393", "320"])
def test_every_target_is_large_enough_for_a_thumb(browser: Any, empty_office: str, size: dict[str, int]) -> None:
    """Wet gloves: everything I can touch is 44 px and more, what I do while capturing 60, keys across the screen."""
    with capture(browser, empty_office, size) as site:
        site.begin_round()
        for route, title in SCREENS:
            site.go(route, title)
            if route == "/round":
                site.value().wait_for()
            width = site.page.evaluate("document.documentElement.scrollWidth")
            assert width <= size["width"], f"{route} goes {width - size['width']} px beyond the side"
            for box in site.page.evaluate(BOXES):
                least = 44 if box["shell"] or box["words"] == "value" else 60
                assert box["height"] >= least - 0.5, (route, box)
                assert box["width"] >= 44, (route, box)
        keys = [box for box in site.page.evaluate(BOXES) if box["key"]]
        assert len(keys) == 18
        for key in keys:
            assert key["height"] >= (64 if size is SMALL else 80)
            assert key["width"] >= 0.28 * size["width"]
            assert key["x"] >= 8 - 0.5
            assert key["x"] + key["width"] <= size["width"] - 8 + 0.5
        for one in keys:
            for other in keys:
                if one is not other:
                    across = max(one["x"], other["x"]) - min(one["x"] + one["width"], other["x"] + other["width"])
                    down = max(one["y"], other["y"]) - min(one["y"] + one["height"], other["y"] + other["height"])
                    assert max(across, down) >= 8 - 0.01


def test_ten_thousand_taps_beside_the_centre(browser: Any, empty_office: str) -> None:
    """My thumb lands 2 mm off, on a bad day 3 mm: the wrong key must stay rare. Seeded, a model of ours."""
    with capture(browser, empty_office, PHONE) as site:
        site.begin_round()
        digits = [box for box in site.page.evaluate(BOXES) if box["key"]]
        for spread_mm, most, number in ((2, 0.005, 10_000), (3, 0.05, 3_000)):
            dice = random.Random(20260202)
            taps = []
            for _ in range(number):
                index = dice.randrange(len(digits))
                box, sd = digits[index], spread_mm / 0.159  # 1 px is about 0.159 mm (from memory)
                taps.append(
                    [
                        index,
                        box["x"] + box["width"] / 2 + dice.gauss(0, sd),
                        box["y"] + box["height"] / 2 + dice.gauss(0, sd),
                    ]
                )
            missed = site.page.evaluate(
                "(taps) => { const keys = [...document.querySelectorAll('.key')];"
                " return taps.filter(([index, x, y]) => document.elementFromPoint(x,"
                " y)?.closest('.key') !== keys[index]).length; }", taps,
            )  # fmt: skip
            assert missed / len(taps) < most, f"{missed} of {len(taps)} taps at {spread_mm} mm"


def test_the_next_action_is_where_the_thumb_is(browser: Any, empty_office: str) -> None:
    """One hand: what comes next lies in the lower 45 % of the screen, also when the keypad of the phone is open."""
    with capture(browser, empty_office, PHONE) as site:
        site.begin_round()
        for route, title in SCREENS:
            site.go(route, title)
            boxes = site.page.evaluate(
                "() => [...document.querySelectorAll('.next')].map((e) =>"
                " e.getBoundingClientRect().toJSON()).filter((b) => b.top < innerHeight)"
            )
            assert boxes or route == "/written", route
            assert all(box["top"] >= 0.55 * 727 for box in boxes[-1:]), (route, boxes)
        site.page.set_viewport_size({"width": 393, "height": int(727 * 0.45)})
        site.value().focus()
        for selector in ("input.value", ".key.next"):
            box = site.page.locator(selector).bounding_box()
            assert box["y"] >= 0
            assert box["y"] + box["height"] <= 727 * 0.45 + 1


def test_nothing_is_lost_at_twice_the_size_on_a_narrow_phone(browser: Any, empty_office: str) -> None:
    """I set my phone to large letters: everything is still there, and nothing runs out at the side."""
    with capture(browser, empty_office, SMALL) as site:
        site.begin_round()
        site.page.evaluate(
            "() => { const sheet = new CSSStyleSheet(); sheet.replaceSync('html { font-size: 225% !important } * {"
            " line-height: 1.5 !important;"
            " letter-spacing: 0.12em !important; word-spacing: 0.16em !important }'); document.adoptedStyleSheets = [sheet]; }"
        )
        for route, title in SCREENS:
            site.go(route, title)
            too_wide = site.page.evaluate(
                "() => document.documentElement.scrollWidth > document.documentElement.clientWidth"
                " ? [...document.querySelectorAll('main *, header *')].filter((e) => e.getBoundingClientRect().right"
                " > innerWidth + 1).map((e) => e.outerHTML.slice(0, 120)) : []"
            )
            assert too_wide == [], route
        site.value().wait_for()
        cut = site.page.evaluate(
            "() => [...document.querySelectorAll('.key')].filter((k) => k.scrollWidth > k.clientWidth + 1).map((k) =>"
            " k.textContent)"
        )
        assert cut == []
        site.button("7", exact=True).click()
        assert site.value().input_value() == "7"


def test_no_state_is_told_by_colour_alone(themed: Capture) -> None:
    """I do not see red and green apart, and the print is grey: each state differs in its word and in its drawing."""
    states = themed.page.evaluate(
        """async () => { const { stateMark } = await import('/static/site/marks.js');
          const { icon } = await import('/static/site/dom.js');
          const entry = { hash: "", reason: "why", received_at: "2026-02-02T14:32:00+00:00" };
          const own = ["here", "sending", "received", "refused"].map((state) => stateMark({ ...entry, state }));
          const marks = ["above control", "no higher than control", "cannot say", "not read", "struck"].map((name) => icon(name));
          return [own.map((m) => [m.textContent, m.querySelector("path").getAttribute("d")]),
                  marks.map((m) => [m.getAttribute("class"), m.querySelector("path").getAttribute("d")])]; }"""
    )
    words, drawings = zip(*states[0], strict=True)
    assert len(set(words)) == len(set(drawings)) == 4
    assert not any("sync" in each for each in words)
    assert len({tuple(mark) for mark in states[1]}) == 5


def test_the_theme_is_one_tap_away_and_kept(browser: Any, empty_office: str) -> None:
    """I go from the garden into the cellar: one tap makes it dark, and it stays dark after a reload without network."""
    with capture(browser, empty_office, ON_ITS_SIDE, reduced_motion="reduce", forced_colors="active") as site:
        site.begin_round()
        site.button("Dark theme").click()
        assert site.page.evaluate("document.documentElement.dataset.theme") == "dark"
        site.page.reload()
        site.ready()
        assert site.page.evaluate("document.documentElement.dataset.theme") == "dark"
        assert site.button("Light theme").is_visible()


def test_the_first_visit_is_light(empty_office: str) -> None:
    """On a slow line at the edge of a village: the page for the site is at most 300 kB, its scripts 100 kB, as they travel."""
    sizes = {}
    for address in [*httpx.get(f"{empty_office}/site/files.json").json()["files"], "/site/service-worker.js"]:
        with httpx.stream("GET", f"{empty_office}{address}", headers={"accept-encoding": "gzip"}) as answer:
            answer.read()
            sizes[address] = answer.num_bytes_downloaded
    scripts = sum(size for address, size in sizes.items() if address.endswith(".js"))
    assert scripts <= 100_000
    assert sum(sizes.values()) <= 300_000
    assert {"app.js", "store.js", "sync.js", "round.js", "site.css", "paper.css", "icon.svg"} <= {
        address.rsplit("/", 1)[-1] for address in sizes
    }


def test_scripts_go_out_without_comment_lines_and_are_the_same_otherwise(empty_office: str) -> None:
    """What is left out is only whole lines of comment: every other line is there, in order."""
    for path in files_of_site():
        if path.suffix != ".js" or "site" not in path.parts:
            continue
        sent = httpx.get(f"{empty_office}/static/{path.relative_to(STATIC.resolve()).as_posix()}")
        assert sent.headers["content-type"].startswith("text/javascript")
        lines = path.read_text(encoding="utf-8").splitlines()
        assert sent.text.splitlines() == [line for line in lines if not line.lstrip().startswith("//")]
        again = httpx.get(str(sent.url), headers={"if-none-match": sent.headers["etag"]})
        assert again.status_code == 304


def test_no_box_asks_are_you_sure() -> None:
    """Nothing on site asks whether I am sure: I can undo instead."""
    for path in files_of_site():
        if path.suffix == ".js":
            text = path.read_text(encoding="utf-8")
            for word in ("confirm(", "alert(", "prompt(", ".innerHTML", 'type="number"', 'type: "number"'):
                assert word not in text.replace("this.confirm(", "").replace("confirm(shown)", ""), (
                    f"{path.name}: {word}"
                )
