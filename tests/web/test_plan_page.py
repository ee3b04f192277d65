"""The page of the plan in a browser: 300 spots, keyboard alone, taps alone, what is read out, and the list beside it."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from conftest import PHONE, Running

from desorb.core.kinds import Reading, Room, Spot, Visit
from desorb.service.cases import case_names, find_case, load, write

MANY = 300
MOST_TAB_STOPS = 25  # FIELD 26
SMALLEST_TARGET = 44  # px, FIELD 2
LARGEST_SCRIPTS = 25_000  # bytes: what the capture route loads of the plan
PLAN = Path(__file__).resolve().parents[2] / "src" / "desorb" / "web" / "static" / "plan"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]


def copied(demo_built: Path, folder: Path) -> Running:
    return Running(Path(shutil.copytree(demo_built, folder / "home")))


@pytest.fixture(scope="module")
def running(demo_built: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The demonstration case as it is."""
    server = copied(demo_built, tmp_path_factory.mktemp("plan"))
    yield server
    server.stop()


@pytest.fixture(scope="module")
def many(demo_built: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The demonstration case with 300 more spots in a grid, read with the controls on a sixth visit."""
    server = copied(demo_built, tmp_path_factory.mktemp("many"))
    case = find_case(server.store, case_names(server.store)["quillfen"])
    spots = [
        Spot(f"n{number}", "store", "grid", "survey", "", f"{20 + number % 20 * 0.5:.2f}", f"{number // 20 * 0.5:.2f}")
        for number in range(MANY)
    ]
    names = ["q1", "q2", "q3", "q4", *(spot.id for spot in spots)]
    readings = [
        Reading(f"many:{name}", name, "v6", "m1", "comparative", (str(14 + at // 4 % 60),), "vinyl",
                f"2026-02-10T{10 + at // 60}:{at % 60:02d}:00+00:00")
        for at, name in enumerate(names)
    ]  # fmt: skip
    grid = Room("grid", "grid", ("19.5 -0.5", "30 -0.5", "30 7.5", "19.5 7.5"))
    write(server.store, case, [Visit("v6", "2026-02-10T10:00:00+00:00", "A. Surveyor"), grid, *spots, *readings])
    yield server
    server.stop()


def open_plan(page: Any, server: Running) -> Any:
    page.goto(f"{server.address}/cases/{case_names(server.store)['quillfen']}/plan")
    page.wait_for_selector(".plan-frame [role=option]")
    return page


@pytest.fixture
def opened(page: Any, running: Running) -> Any:
    return open_plan(page, running)


@pytest.fixture
def crowded(page: Any, many: Running) -> Any:
    return open_plan(page, many)


def folded(running: Running) -> Any:
    return load(running.store, find_case(running.store, "quillfen"))


def focused(page: Any) -> str:
    found: str = page.evaluate("() => document.activeElement.className + ' ' + document.activeElement.tagName")
    return found


def tab_to(page: Any, selector: str, key: str = "Tab") -> int:
    """Press Tab until a part has the focus; how often it took."""
    for count in range(1, 60):
        page.keyboard.press(key)
        if page.evaluate("(selector) => document.activeElement.matches(selector)", selector):
            return count
    raise AssertionError(f"Tab never came to {selector}")


def test_300_spots_are_one_tab_stop_and_the_page_has_few(crowded: Any) -> None:
    """I walk the page by Tab: the plan is one stop, its list another, and I get out at the end. FIELD 26."""
    seen = []
    for _ in range(60):
        crowded.keyboard.press("Tab")
        seen.append(
            crowded.evaluate("() => document.activeElement === document.body ? '' : document.activeElement.className")
        )
        if not seen[-1] and len(seen) > 5 and crowded.evaluate("() => document.activeElement === document.body"):
            break
    stops = crowded.evaluate(
        "() => [...document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex]')]"
        ".filter((each) => each.tabIndex >= 0 && !each.disabled && each.checkVisibility()).length"
    )
    assert stops <= MOST_TAB_STOPS
    assert seen.count("plan-frame") == 1
    assert len([each for each in seen if each.startswith("plan-open")]) == 1


def test_arrows_go_in_walking_order_enter_opens_esc_leaves(crowded: Any) -> None:
    """By keyboard alone I go to the third spot, open it, and leave the plan again. FIELD 26."""
    order = crowded.eval_on_selector_all(".plan-frame [role=option]", "(all) => all.map((each) => each.dataset.spot)")
    crowded.focus(".plan-frame")
    for key, at in (("ArrowRight", 0), ("ArrowDown", 1), ("ArrowRight", 2), ("End", -1), ("Home", 0), ("ArrowLeft", 0)):
        crowded.keyboard.press(key)
        here = crowded.eval_on_selector(
            ".plan-frame",
            "(frame) => document.getElementById(frame.getAttribute('aria-activedescendant')).dataset.spot",
        )
        assert here == order[at]
        assert crowded.inner_text("#plan-view .plan-note").startswith(f"{here}; ")
    ring = crowded.eval_on_selector(".plan-frame", "(frame) => getComputedStyle(frame).outlineWidth")
    assert float(ring.removesuffix("px")) >= 2
    crowded.keyboard.press("Enter")
    assert crowded.input_value("#spot-id") == order[0]
    crowded.focus(".plan-frame")
    crowded.keyboard.press("Escape")
    assert focused(crowded) == "plan-after CAPTION"
    assert tab_to(crowded, ".plan-open") == 1


def test_the_list_holds_what_the_plan_holds(crowded: Any) -> None:
    """I hear the same spots with the same values from the list as from the plan. FIELD 27."""
    on_plan = crowded.eval_on_selector_all(
        ".plan-frame [role=option]", "(all) => all.map((each) => each.getAttribute('aria-label'))"
    )
    rows = crowded.eval_on_selector_all(
        ".plan-twin tbody tr", "(all) => all.map((row) => [...row.children].map((cell) => cell.textContent))"
    )
    in_list = ["; ".join(cell for cell in row if cell != "none") for row in rows]
    assert len(on_plan) >= MANY
    assert len(set(on_plan)) == len(on_plan)
    assert set(on_plan) <= set(in_list)
    assert len(in_list) - len(on_plan) == 6  # walls without a place on the plan
    assert (
        crowded.get_attribute(".plan-frame", "aria-label")
        == f"Plan with {len(on_plan)} spots; 6 spots without a place on it"
    )
    assert any("no unit" in words and "%" not in words for words in on_plan)
    assert {"above control", "control", "not read this visit"} <= {row[3] for row in rows}


def test_each_status_has_a_shape_and_a_word(opened: Any) -> None:
    """Printed grey I still tell them apart: shape on the plan, word in the list, never colour alone."""
    shapes: dict[str, str] = {}
    for label, shape in opened.eval_on_selector_all(
        ".plan-frame [role=option]",
        "(all) => all.map((each) => [each.getAttribute('aria-label'), each.querySelector('g > [class]').getAttribute('class')])",
    ):
        shapes.setdefault(label.split("; ")[3].split(",")[0], shape)
    assert len(set(shapes.values())) == len(shapes)
    assert set(shapes) >= {"above control", "no higher than control", "cannot say", "not read this visit", "control"}


def test_a_room_is_drawn_by_keyboard_alone(opened: Any, running: Running) -> None:
    """No mouse: I type the walls, add the door, write, and hear that it stands. FIELD 25 and 28."""
    opened.focus("details[data-tool=room] summary")
    opened.keyboard.press("Enter")
    tab_to(opened, "#cross-x")
    opened.keyboard.type("40")
    tab_to(opened, "#cross-y")
    opened.keyboard.type("2")
    tab_to(opened, ".cross-pad button")
    for key in ("ArrowRight", "ArrowRight", "ArrowUp"):
        opened.keyboard.press(key)
    assert (opened.input_value("#cross-x"), opened.input_value("#cross-y")) == ("40.02", "2.01")
    tab_to(opened, "[data-cross=use]")
    opened.keyboard.press("Enter")
    tab_to(opened, "#room-id")
    opened.keyboard.type("key room")
    tab_to(opened, "#room-walls")
    opened.keyboard.type("4.20 right, 3.10 up, 4.20 left, 3.10 down")
    opened.keyboard.press("Enter")
    assert "4 corners, 13.02 m²" in opened.inner_text("[data-form=room] [data-part=measure]")
    tab_to(opened, "#room-opening-wall")
    opened.keyboard.type("1")
    tab_to(opened, "#room-opening-start")
    opened.keyboard.type("0.5")
    tab_to(opened, "#room-opening-width")
    opened.keyboard.type("0.9")
    tab_to(opened, "[data-act=add-opening]")
    opened.keyboard.press("Enter")
    tab_to(opened, "[data-form=room] button[type=submit]")
    opened.keyboard.press("Enter")
    said = opened.wait_for_selector("[data-form=room] [data-part=said]:not(:empty)")
    assert said.inner_text() == "Room key room is on the plan: 13.02 m², 1 opening."
    assert said.get_attribute("role") == "status"
    room = folded(running).rooms[-1].record
    assert room.outline == ("40.02 2.01", "44.22 2.01", "44.22 5.11", "40.02 5.11")


def test_a_room_is_drawn_by_single_taps_and_the_last_corner_taken_back(opened: Any, running: Running) -> None:
    """With a wet finger: tap, add, tap, add; one corner was wrong and comes back. No gesture. FIELD 25."""
    opened.tap("details[data-tool=room] summary")
    opened.tap("[aria-label=Larger]")
    frame = opened.locator("#plan-view .plan-frame")
    for x, y in ((60, 60), (200, 62), (201, 150), (120, 190), (58, 152)):
        frame.tap(position={"x": x, "y": y})
        opened.tap("[data-cross=use]")
        if (x, y) == (120, 190):
            opened.tap("[data-cross=back]")
    opened.fill("#room-id", "tapped")
    corners = [line.split() for line in opened.input_value("#room-outline").split("\n")]
    assert len(corners) == 4
    assert corners[0][1] == corners[1][1]  # snapped to a right angle
    assert corners[1][0] == corners[2][0]
    opened.tap("[data-form=room] button[type=submit]")
    opened.wait_for_selector("[data-form=room] [data-part=said]:not(:empty)")
    assert folded(running).rooms[-1].record.id == "tapped"
    frame.tap(position={"x": 100, "y": 100})
    assert opened.input_value("#cross-x") != ""
    assert opened.eval_on_selector(".plan-frame", "(frame) => getComputedStyle(frame).touchAction") == "manipulation"


def test_letting_go_elsewhere_places_nothing(opened: Any) -> None:
    """I press on the plan, see that it is wrong, and slide off before letting go. FIELD 25, WCAG 2.5.2."""
    opened.click("details[data-tool=spot] summary")
    opened.wait_for_selector("#cross:not([hidden])")
    opened.locator("#plan-view .plan-frame").scroll_into_view_if_needed()
    box = opened.locator("#plan-view .plan-frame").bounding_box()
    opened.mouse.move(box["x"] + 50, box["y"] + 50)
    opened.mouse.down()
    assert opened.input_value("#cross-x") == ""
    opened.mouse.move(box["x"] + 50, box["y"] + box["height"] + 60)
    opened.mouse.up()
    assert opened.input_value("#cross-x") == ""


def test_a_slip_is_refused_in_words_where_it_was_made(opened: Any, running: Running) -> None:
    """Crossing walls: the sentence names them, takes the focus, and nothing is written."""
    count = len(folded(running).rooms)
    opened.click("details[data-tool=room] summary")
    opened.fill("#room-id", "crossed")
    opened.fill("#room-outline", "0 0\n4 3\n4 0\n0 3")
    opened.click("[data-form=room] button[type=submit]")
    problem = opened.wait_for_selector("[data-form=room] [data-part=problem]:not([hidden])")
    assert "wall 1 and wall 3 cross" in problem.inner_text()
    assert "Next: " in problem.inner_text()
    assert opened.evaluate("() => document.activeElement.dataset.part") == "problem"
    opened.fill("#room-walls", "about four metres")
    opened.click("[data-form=room] [data-act=add-walls]")
    assert "not understood" in problem.inner_text()
    assert len(folded(running).rooms) == count


def test_a_spot_moved_too_far_becomes_a_new_one(opened: Any, running: Running) -> None:
    """I open k3, nudge it 30 cm, and am offered k3-2; k3 stays where it was read."""
    opened.click(".plan-open[data-spot=k3]")
    assert "covering: " in opened.inner_text("[data-form=spot] [data-part=last]")
    opened.select_option("#cross-step", "0.1")
    for _ in range(3):
        opened.click("[aria-label='Cross-hair to the right']")
    opened.click("[data-cross=use]")
    opened.click("[data-form=spot] button[type=submit]")
    opened.wait_for_selector("[data-part=moved]:not([hidden])")
    assert opened.input_value("#spot-new-id") == "k3-2"
    opened.click("[data-act=as-new]")
    said = opened.wait_for_selector("[data-form=spot] [data-part=said]:not(:empty)").inner_text()
    assert said == "Spot k3-2 stands at x 2.70 m, y 1.0 m." or re.fullmatch(
        r"Spot k3-2 stands at x 2\.70 m, y 1\.00 m\.", said
    )
    spots = {entered.record.id: entered.record for entered in folded(running).spots}
    assert (spots["k3"].x, spots["k3-2"].x) == ("2.4", "2.70")


def test_a_photo_gets_its_scale_on_the_page(opened: Any, running: Running, tmp_path: Path) -> None:
    """I take a photo of the paper plan, set both ends of the wall that I measured, and lay it under the plan."""
    from PIL import Image

    Image.new("RGB", (800, 600), "white").save(tmp_path / "paper plan.png")
    opened.click("details[data-tool=picture] summary")
    opened.set_input_files("#source-file", tmp_path / "paper plan.png")
    opened.click("[data-form=source] button[type=submit]")
    opened.wait_for_selector("[data-form=picture]:not([hidden]) .plan-picture")
    for x, act in (("100", "end-a"), ("700", "end-b")):
        opened.fill("#pixel-x", x)
        opened.fill("#pixel-y", "300")
        opened.click(f"[data-act={act}]")
    assert "600 px apart" in opened.inner_text("[data-part=ends]")
    opened.fill("#picture-true-length", "6.00")
    opened.fill("#picture-a-x", "0")
    opened.fill("#picture-a-y", "0")
    opened.click("[data-form=picture] button[type=submit]")
    opened.wait_for_selector("[data-form=picture] [data-part=said]:not(:empty)")
    kept = folded(running).plan_pictures[-1].record
    assert (kept.metres_per_pixel, kept.x, kept.y) == ("0.01", "-1.000", "-3.000")
    assert opened.eval_on_selector("#plan-view .plan-picture", "(each) => each.getAttribute('href')").endswith(
        kept.sha256
    )


@pytest.mark.parametrize(
    ("scheme", "tools"), [("light", ("", "room", "zone", "construction", "spot", "picture")), ("dark", ("", "room"))]
)
def test_axe_finds_nothing_in_any_state(opened: Any, scheme: str, tools: tuple[str, ...]) -> None:
    """Closed, every part open, and with a refusal: axe, WCAG 2.0 to 2.2 A and AA. FIELD 1."""
    opened.emulate_media(color_scheme=scheme)
    found = []
    for tool in tools:
        if tool:
            opened.click(f"details[data-tool={tool}] summary")
        if tool in ("room", "zone", "spot"):
            opened.click("[data-cross=use]")
        options = {"runOnly": {"type": "tag", "values": TAGS}, "resultTypes": ["violations"]}
        part = f"details[data-tool={tool}]" if tool else None  # what was looked at once is not looked at again
        results = Axe().run(opened, context=part, options=options)
        found += [(tool, each["id"], each["nodes"][0]["target"]) for each in results.response["violations"]]
    assert found == []


def test_targets_are_large_enough_and_nothing_scrolls_sideways(opened: Any) -> None:
    """At 320 px with every part open: targets of 44 px and more, and only tables scroll sideways. FIELD 2 and 8."""
    opened.set_viewport_size({"width": 320, "height": 568})
    for tool in ("room", "zone", "construction", "spot", "picture"):
        opened.click(f"details[data-tool={tool}] summary")
        small = opened.evaluate(
            "(least) => [...document.querySelectorAll("
            "'main button, main select, main summary, main input:not([type=checkbox]), main textarea')]"
            ".filter((each) => each.checkVisibility()).map((each) => [each.outerHTML.slice(0, 60), each.getBoundingClientRect()])"
            ".filter(([, box]) => box.width < least - 0.5 || box.height < least - 0.5).map(([words]) => words)",
            SMALLEST_TARGET,
        )
        assert small == []
        assert opened.evaluate("() => document.scrollingElement.scrollWidth <= document.scrollingElement.clientWidth")
    opened.set_viewport_size(PHONE)


def test_the_plan_is_light_enough_for_the_capture_page() -> None:
    """What the phone loads of the plan stays small. FIELD 30."""
    names = ("geometry.js", "marks.js", "twin.js", "view.js")
    assert sum((PLAN / name).stat().st_size for name in names) < LARGEST_SCRIPTS
    imported = {found for name in names for found in re.findall(r'from "\./([^"]+)"', (PLAN / name).read_text())}
    assert imported <= set(names)


DESCRIBE = """
async (pack) => {
  const { describeSpots } = await import("/static/plan/marks.js");
  const taken = { here: { values: ["12,5"], instrument: "m", scale: "plain", taken_at: "2026-03-03T09:00:00+00:00" } };
  return describeSpots(pack, taken).map((each) => [each.id, each.value, each.words, each.side, each.shape]);
}
"""


def test_what_is_said_of_a_spot_is_what_was_typed(opened: Any) -> None:
    """Values as typed with their unit, both scales of a visit, the open side of a scale, and what I read just now."""

    def line(value: str, scale: str = "plain", visit: str = "v2", clipped: bool = False) -> dict[str, Any]:
        return {
            "visit": visit,
            "values": [value],
            "scale": scale,
            "instrument": "m",
            "clipped": clipped,
            "taken_at": "",
        }

    def spot(name: str, *last: dict[str, Any], status: str = "cannot say") -> dict[str, Any]:
        return {"id": name, "zone": "z", "element": "floor", "role": "survey", "status": status, "last": list(last)}

    pack = {
        "visits": [{"id": "v1"}, {"id": "v2"}], "zones": [],
        "instruments": [{"id": "m", "scales": [{"key": "plain", "unit": ""}, {"key": "mass", "unit": "%"}]}],
        "spots": [
            spot("two", line("61"), line("4.60", "mass"), line("50", visit="v1"), status="above control"),
            spot("top", line("6.9", "mass", clipped=True)), spot("bottom", line("<2", clipped=True)),
            spot("old", line("61", visit="v1"), status="above control"), spot("never", status=""), spot("here"),
        ],
    }  # fmt: skip
    assert opened.evaluate(DESCRIBE, pack) == [
        ["two", "61 no unit; 4.60 %", "above control", "", "square"],
        ["top", "6.9 %", "cannot say, at the end of the scale", "top", "ring"],
        ["bottom", "<2 no unit", "cannot say, at the end of the scale", "bottom", "ring"],
        ["old", "61 no unit", "not read this visit", "", "dot"],
        ["never", "no value", "not read yet", "", "dot"],
        ["here", "12,5 no unit", "read now, not compared yet", "", "ring"],
    ]
