"""Floor tests, samples, leak tests and drying units on site: cautions first, figures as typed, waiting by the office's list."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from capture_page import PHONE, SMALL, Capture, capture, pack
from test_capture_touch import AXE, BOXES

from desorb.core.floors.cautions import cautions_for
from desorb.core.floors.plan import plan_floor_test
from desorb.core.floors_of_case.places import Wait, waits_of
from desorb.core.kinds import RECORDS, FloorPlace, FloorReading, FloorTest, Sample, UnitChange
from desorb.core.samples.carbide import CAUTIONS as CARBIDE_CAUTIONS
from desorb.notebook.schema import record_of
from desorb.notebook.sense import senseless
from desorb.service.cases import find_case, load, write
from desorb.service.sheet import CHOICES
from desorb.service.site_pack import site_pack

DRILLED = "2026-02-01T09:00:00+01:00"
ALREADY = [
    FloorTest("F1", "store", "hole", "90", "65", "1", DRILLED, edition="2018", by="N. Ferrow"),
    FloorPlace("F1", "H1", DRILLED, depth="26", lined="yes", service_since=DRILLED),
    FloorTest("F2", "store", "carbide", "90", "65", "1", DRILLED),
    Sample("S1", "store", "floor", "cement screed", DRILLED, test="F2", place="P1"),
    UnitChange("D7", "refrigerant dehumidifier", "store", "set", DRILLED, position="by the door"),
]  # fmt: skip
SCREENS = [
    ("/methods", "Methods: floors, samples, leaks"), ("/methods/floor%20test/F1", "Floor test F1"),
    ("/methods/sample/S1", "Sample S1"),
    ("/write/floor-test", "A floor test"), ("/write/floor-test?method=hole", "A floor test: hole"),
    ("/write/floor-place?test=F1", "A place of the test"), ("/write/floor-reading?test=F1&place=H1", "A reading of the floor"),
    ("/write/sample", "A sample"), ("/write/weighing?sample=S1", "A weighing: S1"),
    ("/write/carbide-reading?sample=S1", "A carbide test: S1"),
    ("/write/cup-reading?sample=S1", "Air over"), ("/write/custody?sample=S1", "A step"),
    ("/write/salt-content?sample=S1", "Salts"),
    ("/write/leak-test?test=pressure+hold+in+air", "A leak test"), ("/write/cause-observation", "Something about"),
    ("/write/cause-test", "A test of a cause"), ("/write/unit", "A drying unit"), ("/write/unit-change?unit=D1", "A unit set"),
    ("/write/not-done", "Something that was not done"), ("/drying", "How the drying goes"), ("/drying/1", "floor, annex store"),
]  # fmt: skip
CONTRAST = {  # all that a theme can change
    "runOnly": {"type": "rule", "values": ["color-contrast", "color-contrast-enhanced", "link-in-text-block"]},
    "resultTypes": ["violations"],
}


@pytest.fixture(scope="module")
def given(demo_built: Any, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The capture pack with what the office says of a real case with floor tests, in the zones of that pack."""
    import shutil

    from desorb.notebook.store import Store

    store = Store(shutil.copytree(demo_built, tmp_path_factory.mktemp("methods") / "home"))
    case = find_case(store, "quillfen")
    write(store, case, ALREADY)
    made = site_pack(store, case, "0")
    store.close()
    gates = {
        action: [gate | {"zone": "store"} for gate in rows if gate["zone"] == rows[0]["zone"]]
        for action, rows in made["gates_at"].items()
    }
    parts = (
        "methods",
        "drying",
        "floor_tests",
        "samples",
        "leak_tests",
        "unit_register",
        "choices",
        "cautions_of",
        "gates_of_leak_test",
    )
    return {part: made[part] for part in parts} | {"gates_at": gates}


@pytest.fixture
def site(browser: Any, empty_office: str, given: dict[str, Any]) -> Iterator[Capture]:
    with capture(browser, empty_office) as opened:
        yield with_methods(opened, given)


def with_methods(site: Capture, given: dict[str, Any]) -> Capture:
    site.packs = [pack() | given]
    return site.take_along()


def past_cautions(site: Capture) -> None:
    if site.button("Go on to the form").count():
        site.button("Go on to the form").click()
        site.button("Go on to the form").wait_for(state="detached")


def test_a_floor_reading_typed_without_network_arrives_as_typed(browser: Any, server: Any, case_id: str) -> None:
    """I read the hole in a cellar without signal and type 78,50: the office must hold 78,50, under my test and place."""
    case = server.desk.case(case_id)
    write(server.store, case, ALREADY)
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.set_default_timeout(15000)
    page.goto(f"{server.address}/site/")
    page.get_by_role("button", name="Show the cases of the office").click()
    page.get_by_role("button", name="Get quillfen").click()
    page.get_by_role("link", name="quillfen").wait_for()
    page.evaluate("() => navigator.serviceWorker.ready")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    context.set_offline(True)
    page.goto(f"{server.address}/site/#/c/{case_id}/methods")
    page.get_by_role("link", name="Floor test F1").click()
    page.get_by_role("link", name="H1").click()
    page.get_by_label("Relative humidity, in %", exact=True).fill("78,50")
    page.get_by_label("Temperature in the hole").fill("19.0")
    page.get_by_role("button", name="Keep it").click()
    page.get_by_text("floor test F1, H1: 78,50").first.wait_for()
    context.set_offline(False)
    page.evaluate("() => dispatchEvent(new Event('online'))")
    page.wait_for_function(
        "() => document.querySelector('#totals').textContent.startsWith('0 entries, 0 photos unsent; office')"
    )
    (arrived,) = (each.record for each in load(server.store, case).floor_readings)
    assert isinstance(arrived, FloorReading)
    assert (arrived.test, arrived.place, arrived.value, arrived.temperature) == ("F1", "H1", "78,50", "19.0")
    context.close()


@pytest.mark.parametrize(
    ("route", "title", "words"),
    [
        ("/write/carbide-reading?sample=S1", "A carbide test: S1", CARBIDE_CAUTIONS),
        ("/write/leak-test?test=pressure+hold+in+air", "A leak test", ()),
        ("/write/floor-place?test=F1", "A place of the test", cautions_for("hole")),
    ],
)
def test_cautions_come_before_any_field(site: Capture, route: str, title: str, words: tuple[str, ...]) -> None:
    """Acetylene, pressure, silica dust: I read what to see to before there is any field to type into."""
    site.go(route, title)
    first = site.page.get_by_role("region", name="See to this first")
    first.wait_for()
    assert site.page.locator("main input, main select, main textarea").count() == 0
    shown = first.inner_text()
    assert all(each in shown for each in words)
    assert "not answered" in shown
    assert "gives no permission" in shown
    site.button("Go on to the form").click()
    site.page.locator("main input").first.wait_for()
    assert all(each in first.inner_text() for each in words)  # they stay above the fields


def test_what_is_missing_is_said_and_what_was_typed_stays(site: Capture) -> None:
    """I forget the pressure: it says which figure is missing, and the others still stand there after a reload."""
    site.go("/write/carbide-reading?sample=S1", "A carbide test: S1")
    past_cautions(site)
    site.page.get_by_label("Mass of the moist sample").fill("50")
    site.page.reload()
    site.ready()
    site.button("Take it up again").click()
    past_cautions(site)  # asked again: another life of the page
    assert site.page.get_by_label("Mass of the moist sample").input_value() == "50"
    site.button("Keep it").click()
    site.page.get_by_text("Gauge pressure, in bar: nothing is said").wait_for()
    site.page.get_by_label("Gauge pressure").fill(">=1.5")
    site.button("Keep it").click()
    site.page.get_by_text("decides nothing here").wait_for()
    assert site.entries("carbide-reading") == []
    site.page.get_by_label("Gauge pressure").fill("0,82")
    site.page.get_by_label("Temperature at the reading").fill("20")
    site.page.get_by_label("Free volume").fill("650")
    site.button("Keep it").click()
    (written,) = site.wait_for_entries(1, "carbide-reading")
    assert written["payload"]["gauge_pressure"] == "0,82"
    assert written["payload"]["sample"] == "S1"
    assert written["payload"]["crushed"] == ""  # not stated stays not stated


def test_how_the_drying_goes_is_read_on_the_floor(site: Capture, given: dict[str, Any]) -> None:
    """Without network I ask whether the floor is drying: the office's own words, with the day on which they were worked out."""
    site.go("/drying", "How the drying goes")
    listed = site.page.get_by_role("main").inner_text()
    for each in given["drying"]:
        assert each["title"] in listed
    assert "visit round" not in {each["kind"] for each in given["drying"]}  # the device has a round of its own
    place, course = next((at, each) for at, each in enumerate(given["drying"]) if each["kind"] == "course of drying")
    site.go(f"/drying/{place}", course["title"])
    told = site.page.get_by_role("main").inner_text()
    assert told.index("See to this first") < told.index(course["words"])
    assert all(step in told for step in course["next_steps"])
    assert all(row[-1] in told for row in course["tables"][0]["rows"])
    assert "As the office worked it out on" in told
    site.go("/drying/99", "Not here")


def test_a_case_from_an_older_office_shows_no_field_without_its_cautions(site: Capture) -> None:
    """The pack on my phone is of last month and knows no cautions: it sends me to the office, not to the gas."""
    site.packs = [pack()]
    site.take_along().go("/write/carbide-reading?sample=S1", "A carbide test")
    site.page.get_by_text("Next: get the case from the office again.").wait_for()
    assert site.page.locator("main input, main button").count() == 0
    site.go("/methods", "Methods: floors, samples, leaks")
    site.page.get_by_text("No floor test, sample or leak test is described").wait_for()
    site.go("/drying", "How the drying goes")
    site.page.get_by_text("Next: send what is written, and get the case from the office again.").wait_for()


def test_the_time_to_wait_is_that_of_the_office(site: Capture) -> None:
    """A hole that the office knows and one that I drill here say by the same rule from when they may be read."""
    site.go("/methods/floor%20test/F1", "Floor test F1")
    assert re.search(r"H1\s*may be read from 3 February 2026, 08:00 GMT", site.page.get_by_role("main").inner_text())
    site.go("/write/floor-place?test=F1", "A place of the test")
    past_cautions(site)
    site.page.get_by_label("Name of the place").fill("H2")
    site.button("Keep it").click()
    site.page.get_by_text("Drilled, sealed or ground bare at: nothing is said").wait_for()
    site.page.get_by_label("Drilled, sealed or ground bare at").fill("2026-02-02T10:30")
    site.button("Keep it").click()
    row = site.page.get_by_role("link", name="H2")
    row.wait_for()
    assert "may be read from 3 February 2026, 10:30 GMT, if it is as in use for 48 hours by then" in row.inner_text()


def test_waiting_on_the_phone_is_waiting_in_the_office(site: Capture) -> None:
    """The phone counts hours by the list in the pack, for every method and whatever times are stated."""
    from desorb.core.floors_of_case.places import _waiting

    compared = 0
    for method, edition in (
        ("hole", 2018),
        ("hole", 2011),
        ("sleeve", None),
        ("box", None),
        ("dish", None),
        ("carbide", None),
    ):
        plan = plan_floor_test(method=method, area=90.0, thickness=65.0, drying_faces=1, edition=edition, heated=True)
        waits = [dataclasses.asdict(wait) for wait in waits_of(plan)]
        for service in ("", "2026-02-03T07:15:00+00:00"):
            for heating in ("", "2026-01-30T12:00:00+00:00"):
                place = FloorPlace("F", "P", DRILLED, service_since=service, heating_off_at=heating)
                found = site.page.evaluate(
                    "async ([waits, place]) => (await import('/static/site/waiting.js')).mayBeReadFrom(waits, place)",
                    [waits, dataclasses.asdict(place)],
                )
                wanted, words = _waiting(plan, place)
                assert bool(found) == bool(wanted), method
                if found:
                    assert site.page.evaluate("([a, b]) => Date.parse(a) === Date.parse(b)", [found["from"], wanted])
                    assert all(each in words for each in found["missing"])
                    compared += 1
    assert compared == 20
    assert waits_of(plan_floor_test(method="hole", area=90.0, thickness=65.0, drying_faces=1, edition=2018))[0] == Wait(
        "at", 24.0
    )


def test_units_set_moved_and_taken_away(site: Capture) -> None:
    """At the machine: what was not read is named, the last counter stands beside and never in the field, and it is taken away."""
    site.begin_visit().go("/units", "Drying units")
    main = site.page.get_by_role("main")
    assert "Not read this visit: D1." in main.inner_text()
    assert "Last counters, v3: 410 h, 5.4 l." in main.inner_text()
    assert site.page.get_by_label("Hour meter").input_value() == ""
    site.page.get_by_label("Hour meter").fill("434")
    site.button("Keep D1").click()
    site.page.get_by_text("Not read this visit: litres, kWh.").wait_for()
    site.go("/write/unit-change", "A unit set")
    assert "gas" in site.page.get_by_role("region", name="See to this first").inner_text()
    past_cautions(site)
    site.page.get_by_label("Id of the unit").fill("A4")
    site.page.get_by_role("radio", name="set", exact=True).check(force=True)
    site.page.get_by_label("Zone").select_option("store")
    site.button("Keep it").click()
    site.page.get_by_text("Type: nothing is said").wait_for()
    site.page.get_by_role("radio", name="air mover").check(force=True)
    site.page.get_by_label("Position").fill("north corner")
    site.button("Keep it").click()
    site.page.get_by_role("heading", name="A4: air mover").wait_for()
    site.page.get_by_role("link", name="D1 moved, switched or taken away").click()
    site.page.get_by_role("heading", level=1, name="A unit set").wait_for()
    past_cautions(site)
    site.page.get_by_role("radio", name="taken away").check(force=True)
    site.page.get_by_label("Zone").select_option("store")
    site.button("Keep it").click()
    site.page.get_by_role("heading", name="A4: air mover").wait_for()
    assert site.page.get_by_role("heading", name="D1: ").count() == 0
    changes = [entry["payload"] for entry in site.entries("unit-change")]
    assert [(each["unit"], each["change"], each["type"]) for each in changes] == [
        ("A4", "set", "air mover"), ("D1", "taken away", "refrigerant dehumidifier"),
    ]  # fmt: skip
    site.go("/write/not-done", "Something that was not done")
    site.page.get_by_label("What should have been done").fill("read the attic")
    site.page.get_by_label("Why it was not done").fill("no ladder")
    site.button("Keep it").click()
    (left,) = site.wait_for_entries(1, "not-done")
    assert left["payload"]["visit"].startswith("v4-")


def test_gate_cards_say_local_times(site: Capture) -> None:
    """02:30 in which zone? A card says the time of the case with its zone, never a raw one."""
    words = site.page.evaluate(
        "async (text) => (await import('/static/site/words.js')).readable(text, 'Europe/Berlin')",
        "seen 2026-07-01T22:30:00Z, and 2026-01-05T10:00+02:00",
    )
    assert words == "seen 2 July 2026, 00:30 CEST, and 5 January 2026, 09:00 CET"
    site.packs[0]["gates"][0]["evidence"] = ["isolated; E-7; by a competent person, 2026-01-19T14:05:00+00:00"]
    site.take_along().go("/gates", "What could hurt someone here")
    text = site.page.get_by_role("main").inner_text()
    assert "19 January 2026, 14:05 GMT" in text
    assert "T14:05" not in text


def test_every_question_of_a_form_is_a_field_of_its_record(site: Capture) -> None:
    """What a record cannot do without is asked for, and nothing is asked that no record keeps."""
    forms = site.page.evaluate(
        "async () => { const { FORMS } = await import('/static/site/write_forms.js'); return Object.fromEntries("
        "Object.entries(FORMS).map(([kind, form]) => [kind, { ...form, parts: form.parts.map(([name, , how = {}]) => [name,"
        " how]) }])); }"
    )
    records = {record.KIND: record for record in RECORDS}
    assert len(forms) == 15
    for kind, form in forms.items():
        fields = {each.name: each for each in dataclasses.fields(records[kind])}
        asked = {name for name, _ in form["parts"]}
        assert asked <= set(fields), kind
        needed = {name for name, each in fields.items() if each.default is dataclasses.MISSING}
        given_elsewhere = {"sample", "visit"} | ({"test", "method"} if kind not in ("cause-test",) else set())
        timed = {name for name, how in form["parts"] if how.get("now")}
        assert needed - given_elsewhere - timed <= set(form["needs"]), kind
        assert set(form["needs"]) <= asked, kind


FILL = """() => {
  for (const each of document.querySelectorAll("main details")) each.open = true;
  const put = (element, value) => {
    element.value = value;
    for (const name of ["input", "change"]) element.dispatchEvent(new Event(name));
  };
  for (const each of document.querySelectorAll("main input:not([type=radio]), main textarea")) if (!each.value) put(each,
    each.type === "datetime-local" ? "2026-02-02T10:30" : each.inputMode === "decimal" ? "1,5" : "words");
  for (const each of document.querySelectorAll("main select")) if (!each.value) put(each, each.options[1].value);
  for (const each of document.querySelectorAll("main fieldset")) each.querySelector("input").click();
}"""
OTHERS = [
    *((f"/write/floor-test?method={method}", "A floor test") for method in ("box", "dish", "crushed sample")),
    *((f"/write/leak-test?test={test}", "A leak test") for test in ("dye", "meter+no-use", "standing+water")),
]


def test_every_form_writes_what_the_office_takes(site: Capture) -> None:
    """Whatever I fill in on site, every question of every form, is a record that the office understands, word for word."""
    written = []
    site.begin_visit()
    for route, title in [*SCREENS, *OTHERS]:
        if not route.startswith("/write/") or route == "/write/floor-test":  # there the method is chosen first
            continue
        kind = route.split("/")[2].split("?")[0]
        site.go(route, title)
        past_cautions(site)
        site.page.evaluate(FILL)
        before = len(site.entries(kind))
        site.button("Keep it").click()
        written.append((route, site.wait_for_entries(before + 1, kind)[before]))
        site.page.wait_for_function("() => !location.hash.includes('/write/')")  # the page goes back by itself
    for route, entry in written:
        record = record_of(entry["kind"], entry["payload"])
        assert senseless(record) == "", route
        for (kind, part), words in CHOICES.items():
            if kind == entry["kind"]:
                assert getattr(record, part) in words, (route, part)
    kinds = {entry["kind"] for _, entry in written}
    assert len(kinds) == 15, kinds


@pytest.mark.parametrize("size", [PHONE, SMALL], ids=["393", "320"])
def test_every_new_screen_is_fit_for_a_thumb_and_a_reader(
    browser: Any, empty_office: str, given: dict[str, Any], size: Any
) -> None:
    """Gloves, sun, a reader: large targets, nothing beyond the side, no fault that a machine can find, in both themes."""
    axe, found = Axe(), []
    for scheme in ("light", "dark") if size is PHONE else ("light",):  # a theme changes no size
        rules = AXE if scheme == "light" else CONTRAST
        with capture(browser, empty_office, size, color_scheme=scheme) as site:
            with_methods(site, given).begin_visit()
            for route, title in SCREENS:
                site.go(route, title)
                for _ in range(2):
                    assert site.page.get_by_role("alert").filter(visible=True).all_inner_texts() in ([], [""]), route
                    assert site.page.evaluate("document.documentElement.scrollWidth") <= size["width"], route
                    for box in site.page.evaluate(BOXES):
                        assert box["height"] >= (44 if box["shell"] else 60) - 0.5, (route, box)
                    if size is PHONE:
                        for each in axe.run(site.page, options=rules).response["violations"]:
                            found.append((route, each["id"], each["nodes"][0]["html"][:200]))
                    past_cautions(site)
    assert found == []
