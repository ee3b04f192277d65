"""A whole job on site: taken along once, done without any network, by keyboard and by names only, then received."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from capture_page import NAME, PHONE, SMALL, Capture, capture

from desorb.core.air.state import air_state
from desorb.service.cases import load


@pytest.fixture
def site(browser: Any, empty_office: str) -> Iterator[Capture]:
    with capture(browser, empty_office) as opened:
        yield opened


def test_a_job_without_network_by_keyboard_and_names_only(browser: Any, server: Any, case_id: str) -> None:
    """I get the case in the office, drive into a valley without signal, do the visit, and it arrives when I am back."""
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.set_default_timeout(15000)
    thrown: list[str] = []
    page.on("pageerror", lambda problem: thrown.append(str(problem)))

    def press(role: str, name: str, key: str = "Enter") -> None:
        place = page.get_by_role(role, name=name).first
        place.focus()
        page.keyboard.press(key)

    page.goto(f"{server.address}/site/")
    press("button", "Show the cases of the office")
    page.get_by_role("button", name="Get quillfen").wait_for()
    press("button", "Get quillfen")
    page.get_by_role("link", name="quillfen").wait_for()
    page.evaluate("() => navigator.serviceWorker.ready")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    context.set_offline(True)
    page.close()
    page = context.new_page()  # cold, without network
    page.set_default_timeout(15000)
    page.on("pageerror", lambda problem: thrown.append(str(problem)))
    page.goto(f"{server.address}/site/")
    press("link", "quillfen")
    page.get_by_role("textbox", name="Who is here").fill("K. Orrin")
    press("button", "Begin visit")
    page.get_by_role("link", name="Begin the round").wait_for()
    press("link", "What could hurt someone here")
    page.get_by_role("heading", level=1, name="What could hurt").wait_for()
    assert "gives no permission" in page.get_by_role("main").inner_text()
    assert "released" not in page.get_by_role("main").inner_text()
    press("link", "Back")
    press("link", "The round")
    page.get_by_role("radio", name="m1").focus()
    page.keyboard.press("Space")
    page.get_by_role("radio", name="comparative").focus()
    page.keyboard.press("Space")
    press("button", "It shows")
    page.get_by_role("group", name="What lies on it").get_by_role("radio").first.focus()
    page.keyboard.press("Space")
    press("button", "Back to the value")
    page.get_by_role("textbox", name="Value at").wait_for()
    spots = []
    for number in range(3):
        field = page.get_by_role("textbox", name="Value at")
        spots.append(str(page.locator("li.typing").get_attribute("data-spot")))
        field.focus()
        page.keyboard.type(f"2{number}")
        page.keyboard.press("Enter")
        page.wait_for_function("(old) => document.querySelector('li.typing')?.dataset.spot !== old", arg=spots[-1])
    page.get_by_role("group", name="Undo").get_by_role("button").wait_for()
    for spot in spots:
        page.locator(f"li.row[data-spot={spot}]").filter(has_text="on this device").wait_for()
    for route in (
        "plan",
        "air",
        "units",
        "photos",
        "note",
        "scan",
        "not-inspected",
        "spot",
        "written",
        "instruments",
        "hazard",
    ):
        page.evaluate("([id, route]) => { location.hash = `/c/${id}/${route}`; }", [case_id, route])
        page.wait_for_function(
            "(route) => document.querySelector('#screen').childElementCount > 0 && location.hash.endsWith(route)",
            arg=route,
        )
        assert page.get_by_role("alert").filter(visible=True).all_inner_texts() in ([], [""]), route
    context.set_offline(False)
    page.evaluate("() => dispatchEvent(new Event('online'))")
    page.wait_for_function(
        "() => document.querySelector('#totals').textContent.startsWith('0 entries, 0 photos unsent; office')"
    )
    folded = load(server.store, server.desk.case(case_id))
    arrived = [entered.record for entered in folded.readings if entered.record.by == "K. Orrin"]
    assert [(each.spot, each.values) for each in arrived] == [
        (spot, (f"2{number}",)) for number, spot in enumerate(spots)
    ]
    assert any(entered.record.shown for entered in folded.scales_shown if entered.record.visit == arrived[0].visit)
    context.close()
    assert thrown == []


def test_the_air_in_two_readings_and_beside_the_outside(browser: Any, empty_office: str) -> None:
    """Is the air wet, or the wall? Outside first, twice in each place, and the answer in a sentence."""
    with capture(browser, empty_office, SMALL) as site:
        site.page.clock.install()
        site.begin_visit().go("/air", "Air")
        site.page.get_by_label("Temperature, in °C").wait_for()
        site.keys("6")
        site.next()
        site.keys("85")
        site.button("keep", exact=True).click()
        site.wait_for_entries(1, "air-reading")
        assert "yard" in site.page.locator("ol.rows").inner_text()
        site.page.locator("li.typing", has_text="store").wait_for()
        for figure in ("20.4", "61"):
            site.keys(figure)
            if figure == "20.4":
                site.next()
        site.button("keep as the first of two").click()
        site.page.clock.fast_forward("04:00")
        site.keys("19.5")
        site.next()
        site.keys("74")
        words = site.page.locator("li.typing .note").inner_text()
        assert "First reading: 20.4 °C, 61 %." in words
        assert "4 min before: −0.9 K, +13.0 % RH" in words
        inside, outside = (air_state(air_temperature=t, relative_humidity=rh) for t, rh in ((19.5, 74.0), (6.0, 85.0)))
        assert f"more water than the air outside, by {inside.vapour_pressure - outside.vapour_pressure:.0f} Pa" in words
        site.page.get_by_text("Cap, height, waiting, surface").click()
        site.page.get_by_role("radio", name="yes").check(force=True)
        site.page.get_by_label("Coldest surface, in °C").fill("11,6")
        site.page.get_by_label("Humidity, in % RH").press("Enter")
        read = site.wait_for_entries(2, "air-reading")[1]["payload"]
        wanted = {
            "place": "store", "kind": "affected", "temperature": "19.5", "relative_humidity": "74", "first_temperature": "20.4",
            "first_relative_humidity": "61", "cap_off": "yes", "surface_temperature": "11.6", "instrument": "h1",
        }  # fmt: skip
        assert {name: read[name] for name in wanted} == wanted
        site.page.get_by_text("Every place has its reading of this visit").wait_for()


def test_relative_humidity_alone_is_refused(site: Capture) -> None:
    """Somebody calls out 74 % and no temperature: nothing can be worked out from that, so it is asked for."""
    site.begin_visit().go("/air", "Air")
    site.page.get_by_label("Humidity, in % RH").fill("74")
    site.page.get_by_label("Humidity, in % RH").press("Enter")
    site.page.get_by_text("one alone derives nothing").wait_for()
    assert site.entries("air-reading") == []


def test_a_unit_its_air_and_its_counters(site: Capture) -> None:
    """At the machine: inlet, outlet, hours and litres, in one go."""
    site.begin_visit().go("/units", "Drying units")
    for label, text in (
        ("Inlet: temperature", "22.0"),
        ("Inlet: relative", "60"),
        ("Outlet: temperature", "33.0"),
        ("Hour meter", "434"),
        ("Collected", "5,5"),
    ):
        site.page.get_by_label(label).fill(text)
    site.button("Keep D1").click()
    site.page.get_by_text("Temperature and relative humidity of the outlet belong together").wait_for()
    site.page.get_by_label("Outlet: relative").fill("28")
    site.button("Keep D1").click()
    (counters,) = site.wait_for_entries(1, "unit-reading")
    assert (counters["payload"]["hours"], counters["payload"]["collected"]) == ("434", "5.5")
    air = [
        (e["payload"]["place"], e["payload"]["kind"], e["payload"]["temperature"]) for e in site.entries("air-reading")
    ]
    assert air == [("D1", "inlet", "22.0"), ("D1", "outlet", "33.0")]


def test_evidence_for_a_gate_never_opens_it(site: Capture) -> None:
    """The survey of the hall is in my hand: I write down what it says of which material, and nothing is opened by it."""
    site.begin_visit().go("/gates/asbestos/store", "Evidence: asbestos")
    for label, text in (
        ("What was found", "none detected"),
        ("Reference", "S-118"),
        ("By whom", "Ames Laboratory (invented)"),
        ("For what work", "lifting the vinyl"),
    ):
        site.page.get_by_label(label, exact=True).fill(text)
    site.button("Keep this evidence").click()
    site.page.get_by_text("must say which material it covers").wait_for()
    site.page.get_by_label("Which materials").fill("vinyl")
    site.button("Keep this evidence").click()
    site.page.get_by_role("heading", level=1, name="What could hurt").wait_for()
    (answer,) = site.wait_for_entries(1, "gate-answer")
    assert (answer["payload"]["zones"], answer["payload"]["materials"], answer["payload"]["wish_to_override"]) == (
        ["store"],
        ["vinyl"],
        False,
    )
    words = site.page.locator("section.gate", has_text="asbestos").inner_text()
    assert "only for vinyl" in words
    assert "not answered" in words  # for every other material it is
    assert "competent person on site decides" in words
    site.go("/hazard", "A hazard seen")
    site.page.get_by_role("radio", name="structure").check(force=True)
    site.page.get_by_label("What was seen").fill("ceiling bulges")
    site.page.get_by_label("Depth of standing").fill("10")
    site.page.get_by_label("Area of it").fill("4")
    site.page.get_by_text("About 40 kg of water").wait_for()
    site.button("Write the hazard down").click()
    site.page.locator("section.gate", has_text="ceiling bulges").get_by_text("stop", exact=False).first.wait_for()


def test_a_new_spot_is_found_again_and_a_moved_one_is_another(site: Capture) -> None:
    """I mark a spot by two distances; when somebody moves it by a hand's width it must not inherit the history."""
    site.begin_visit().go("/spot", "A new spot")
    site.page.get_by_label("Zone").select_option("passage")
    assert site.page.get_by_label("Id of the spot").input_value().startswith("k23-")
    site.page.get_by_label("Id of the spot").fill("k23")
    site.page.get_by_label("Element").fill("floor")
    site.page.get_by_label("First distance, in m").fill("0,85")
    site.page.get_by_label("First distance is measured from").fill("window wall")
    site.button("Keep this spot").click()
    label = site.page.get_by_role("region", name="Label of k23")
    label.wait_for()
    assert "0.85 m from window wall" in label.inner_text()
    assert NAME in label.inner_text()
    site.go("/spot/k23", "Place of k23")
    site.page.get_by_label("First distance, in m").fill("0.89")
    site.button("Keep this place").click()
    site.wait_for_entries(2, "spot")
    site.go("/spot/k23", "Place of k23")
    site.page.get_by_label("First distance, in m").fill("0.95")
    site.button("Keep this place").click()
    site.page.get_by_text("It is another spot").wait_for()
    assert len(site.entries("spot")) == 2
    site.page.get_by_label("Id of the spot").fill("k24")
    site.button("Keep this place").click()
    site.page.get_by_role("region", name="Label of k24").wait_for()
    assert [e["payload"]["offset_a"] for e in site.entries("spot")] == ["0.85", "0.89", "0.95"]


def test_notes_passes_places_not_reached_and_readiness(site: Capture) -> None:
    """The locked cupboard, the quick pass along the skirting, the flat battery: each in its own words."""
    site.begin_visit().go("/not-inspected", "What was not inspected")
    site.button("Write it down").click()
    site.page.get_by_text("No place is named").wait_for()
    site.page.get_by_label("Place", exact=True).fill("cupboard under the stairs")
    site.page.get_by_label("Why it was not reached").fill("locked")
    site.button("Write it down").click()
    site.page.get_by_role("heading", level=1, name=NAME).wait_for()
    site.go("/scan", "A quick pass")
    site.page.get_by_label("Zone").select_option("store")
    site.page.get_by_label("Element").fill("floor")
    site.page.get_by_label("Where the edge was found").fill("1.2 m from the door")
    site.button("Keep the pass").click()
    site.page.get_by_role("heading", level=1, name=NAME).wait_for()
    site.go("/instruments", "Instruments, fit to use")
    battery = site.page.locator("section.form", has_text="m1: surface meter").get_by_role("group", name="Battery")
    battery.get_by_role("radio", name="no", exact=True).check(force=True)
    site.button("Keep for m1").click()
    (ready,) = site.wait_for_entries(1, "readiness")
    assert (ready["payload"]["battery"], ready["payload"]["block"], ready["payload"]["instrument"]) == ("no", "", "m1")
    assert site.entries("not-inspected")[0]["payload"]["why"] == "locked"
    assert site.entries("scan")[0]["payload"]["edge"] == "1.2 m from the door"
