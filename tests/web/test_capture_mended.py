"""What the office and a second tap may not spoil: gates struck and answered again, gaps, a covering nobody chose."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from capture_page import Capture, capture


@pytest.fixture
def site(browser: Any, empty_office: str) -> Iterator[Capture]:
    with capture(browser, empty_office) as opened:
        yield opened


ANSWER = """const answer = (n, zones) => ({ name: `abcd0000/${n}`, hash: `a${n}`, kind: "gate-answer", clock: n, payload: {
  gate: "electricity", zones, materials: [], reference: "R", by: "B", for_what: "F", result: "off", wish_to_override: false } });
const strike = (n, target) => ({ name: `abcd0000/${n}`, hash: `a${n}`, kind: "strike", clock: n, payload: { target } });
const base = { devices: {}, case: { id: "c", name: "n" }, by: "", visits: [], zones: [], instruments: [], spots: [],
  air_places: [], units: [], gates: [{ gate: "electricity", zone: "store, passage", state: "not answered", words: "",
  asks: "", evidence: [] }] };
const { jobOf } = await import("/static/site/job.js");
const states = (pack, entries) => jobOf({ ...base, ...pack }, entries, "abcd0000").gates.map((gate) => gate.state);
const recorded = { gates: [{ ...base.gates[0], state: "evidence recorded" }] };
"""


def test_a_gate_is_answered_and_struck_place_by_place(site: Capture) -> None:
    """Evidence for the store says nothing of the passage; once struck it is gone, until the office has weighed it again."""
    found = site.page.evaluate(
        "async () => {"
        + ANSWER
        + """
        const pair = [answer(1, ["store"]), strike(2, "a1")];
        return [states({}, [pair[0]]), states({ ...recorded, devices: { abcd0000: [1, ""] } }, pair),
          states({ ...recorded, devices: { abcd0000: [2, ""] } }, pair),
          states({ gone: ["a1"] }, [pair[0]])]; }"""
    )
    assert found == [
        ["evidence recorded", "not answered"],
        ["not answered", "evidence recorded"],
        ["evidence recorded", "evidence recorded"],
        ["not answered", "not answered"],
    ]


def test_the_covering_of_the_last_visit_is_never_taken_by_itself(site: Capture) -> None:
    """Somebody may have lifted the vinyl since: no reading is written before I said what lies here today."""
    site.begin_visit().go("/round", "The round")
    site.page.get_by_role("radio", name="m1: surface meter").check(force=True)
    site.page.get_by_role("radio", name="comparative, no unit").check(force=True)
    site.button("It shows “scale of 100”").click()
    assert site.page.get_by_role("radio", name="vinyl").is_checked() is False
    site.button("Back to the value").click()
    site.keys("54")
    site.next()
    site.page.get_by_role("group", name="What lies on it").wait_for()
    assert site.entries("reading") == []


def test_a_written_reading_is_not_offered_again_after_a_kill(site: Capture) -> None:
    """The phone died just after the value was written: it must not be offered as typed and not saved."""
    site.begin_round().keys("54")
    site.next()
    (reading,) = site.wait_for_entries(1, "reading")
    left = site.page.evaluate(
        """async (key) => { const { Unsaved } = await import("/static/site/unsaved.js");
        const drafts = new Unsaved({ tab: "t", drafts: async () => [{ forms: { "round/k1": { life: "old", values: { key } },
          other: { life: "old", values: { text: "5" } } } }], saveDraft: async () => {} });
        await drafts.load("c"); await drafts.dropWritten("c", new Set([key]));
        return drafts.left().map((form) => form.key); }""",
        reading["payload"]["key"],
    )
    assert left == ["other"]


def test_an_undo_that_fails_is_offered_again(site: Capture) -> None:
    """The strike could not be written: tell me, and let me try again."""
    found = site.page.evaluate(
        """async () => { const { Undo } = await import("/static/site/undo.js");
        const slot = document.createElement("div"), told = []; let fails = true;
        const undo = new Undo(slot, document.createElement("h1"), () => {}, (problem) => told.push(problem.message));
        undo.offer("54", async () => { if (fails) throw new Error("no room"); });
        slot.querySelector("button").click(); await new Promise((go) => setTimeout(go));
        const again = !slot.hidden && !slot.querySelector("button").disabled;
        fails = false; slot.querySelector("button").click(); await new Promise((go) => setTimeout(go));
        return [told, again, slot.hidden]; }"""
    )
    assert found == [["no room"], True, True]
