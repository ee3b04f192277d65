"""The capture page in a browser, over an invented case that the browser is given instead of an office.

Contents: pack (the case as the office would send it); Capture (a page of the site, and what a test does with it); capture
(opens one). The office answers through a route of the browser, so each test says itself what the office does.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

CASE = "c0ffee00c0ffee00c0ffee00c0ffee00"
NAME = "Larkmere Boathouse"
PHONE, SMALL, ON_ITS_SIDE = (
    {"width": 393, "height": 727},
    {"width": 320, "height": 568},
    {"width": 727, "height": 393},
)
SIZES = (PHONE, SMALL, ON_ITS_SIDE)
SPOTS = 22


def _scale(key: str, principle: str, **parts: str) -> dict[str, str]:
    empty = dict.fromkeys(
        ("method", "material", "basis", "unit", "bottom", "top", "resolution", "depth", "repeatability", "face"), ""
    )
    return empty | {"key": key, "principle": principle, "claims": "comparative"} | parts


def _spot(number: int) -> dict[str, Any]:
    id_, covering = f"k{number}", "vinyl" if number <= 18 else "bare"
    last = [
        {"visit": visit, "taken_at": f"2026-01-{day}T10:00:00+00:00", "values": [str(value + number)], "scale": "comparative",
         "instrument": "m1", "covering": covering, "preparation": "as found", "depth_from": "", "depth_to": "",
         "entry": f"0ff1ce00/{number}{day}", "clipped": False}
        for visit, day, value in (("v3", 20, 20), ("v2", 15, 30), ("v1", 12, 40))
    ]  # fmt: skip
    return {
        "id": id_, "zone": "store" if number <= 14 else "passage", "element": "floor",
        "role": "survey" if number <= 14 else "control",
        "words": f"board {number}", "x": "", "y": "", "height": "", "why_unaffected": "", "offset_a": "0.85",
        "offset_a_from": "window wall",
        "offset_b": "1.20", "offset_b_from": "door", "status": "cannot say", "reason": "", "last": last,
    }  # fmt: skip


def pack(case: str = CASE, name: str = NAME) -> dict[str, Any]:
    """An invented case: two zones, 22 spots with three visits, a surface meter and a hygrometer."""
    gate = {"words": "Nothing is recorded.", "state": "not answered", "evidence": []}
    return {
        "schema": "desorb-site/1", "made_at": "2026-02-01T08:00:00+00:00", "software": "0",
        "case": {"id": case, "name": name, "site": "an invented boathouse", "time_zone": "Europe/London",
        "invented": True, "opened_by": "N. Ferrow"},
        "opening_hash": "ab" * 32, "highest_clock": 40, "devices": {"0ff1ce00": [220, "cd" * 32]}, "by": "N. Ferrow",
        "visits": [{"id": f"v{n}", "begun_at": f"2026-01-{day}T09:40:00+00:00", "by": "N. Ferrow", "words": ""} for n,
        day in ((1, 12), (2, 15), (3, 20))],
        "constructions": [],
        "zones": [
            {"id": id_, "words": words, "construction": "slab", "exposure": "", "affected": "", "outline": []}
            for id_, words in (("store", "the store under the pipe"), ("passage", "the dry passage"))
        ],
        "rooms": [], "picture": None, "spots": [_spot(number) for number in range(1, SPOTS + 1)],
        "instruments": [
            {"id": "m1", "words": "surface meter, invented", "serial": "0417-D", "calibration_due": "2026-09-30",
            "fit": True, "why_not": "",
             "scales": [_scale("comparative", "electrical impedance", bottom="0", top="100", resolution="1", face="scale of 100"),
                        _scale("screed", "electrical impedance", bottom="0", top="6.9", unit="%", face="screed")]},
            {"id": "h1", "words": "hygrometer, invented", "serial": "88", "calibration_due": "2025-09-30", "fit": False,
             "why_not": "its calibration was due on 2025-09-30.", "scales": [_scale("air", "relative humidity",
             bottom="0", top="100", unit="%")]},
        ],
        "coverings": ["bare", "paint", "vinyl", "carpet", "ceramic"], "preparations": ["as found", "wiped"],
        "gates": [
            gate | {"gate": "electricity", "zone": "store, passage", "asks": "isolation recorded"},
            gate | {"gate": "asbestos", "zone": "store", "asks": "a suitable survey"},
        ],
        "under_every_gate": "desorb has not checked this evidence and gives no permission; a competent person on site decides.",
        "gate_names": ["electricity", "gas", "structure", "foul water", "asbestos"],
        "air_places": [
            {"place": "yard", "kind": "outside", "last": {"visit": "v3", "temperature": "6.0",
            "relative_humidity": "85", "taken_at": "2026-01-20T09:50:00+00:00"}},
            {"place": "store", "kind": "affected", "last": None},
        ],
        "units": [{"unit": "D1", "type": "refrigerant dehumidifier", "zone": "store", "words": "by the door",
        "last": {"visit": "v3", "hours": "410", "collected": "5.4", "energy": ""}}],
        "findings": [], "photos_awaited": [], "limits": {"largest_photo": 67108864}, "plausible_step": "3",
    }  # fmt: skip


class Capture:
    """One page of the site. `office` says what the office answers: 'none' (no network), 'takes' or 'refuses'."""

    def __init__(self, page: Any, address: str, office: str = "none") -> None:
        self.page, self.address, self.office, self.packs = page, address, office, [pack()]
        self.sent: list[dict[str, Any]] = []
        page.route(
            "**/api/cases",
            lambda route: route.fulfill(json=[{"id": p["case"]["id"], "name": p["case"]["name"]} for p in self.packs]),
        )
        page.route("**/api/cases/*/pack", self._give)
        page.route("**/api/cases/*/entries", self._take)
        page.route("**/api/cases/*/photos/*", self._take_photo)

    def _give(self, route: Any) -> None:
        case = route.request.url.split("/")[-2]
        route.fulfill(json=next(p for p in self.packs if p["case"]["id"] == case))

    def _take(self, route: Any) -> None:
        if self.office == "none":
            return route.abort()
        import hashlib

        entries = json.loads(route.request.post_data)["entries"]
        self.sent += entries
        state, reason = ("received", "") if self.office == "takes" else ("refused", "the visit is not known here")
        results = []
        for entry in entries:
            envelope = json.loads(entry["envelope"])
            hashed = hashlib.sha256(entry["envelope"].encode()).hexdigest()
            self.packs[0]["devices"][envelope["device"]] = [envelope["n"], hashed]
            results.append({
                "hash": hashed, "entry": f"{envelope['device']}/{envelope['n']}",
                "state": state, "reason": reason, "received_at": "2026-02-02T14:32:00+00:00",
            })  # fmt: skip
        return route.fulfill(
            json={"results": results, "waiting": [], "highest_clock": 60, "server_time": "2026-02-02T14:32:00+00:00"}
        )

    def _take_photo(self, route: Any) -> None:
        if self.office != "takes":
            return route.abort()
        sha256 = route.request.url.split("/")[-1]
        return route.fulfill(
            json={"sha256": sha256, "size": len(route.request.post_data_buffer or b""), "state": "received"}
        )

    # -- what a person does --------------------------------------------------------------------------------------------

    def open(self, route: str = "") -> Capture:
        self.page.goto(f"{self.address}/site/{f'#{route}' if route else ''}")
        self.ready()
        return self

    def ready(self) -> None:
        self.page.locator("html[data-ready=yes]").wait_for(state="attached")

    def take_along(self, case: str = CASE) -> Capture:
        """Put the pack on the device as the button does, without going through the screens; then the page is opened."""
        given = next(p for p in self.packs if p["case"]["id"] == case)
        self.page.goto(f"{self.address}/static/site/icon.svg")  # the same origin, without the scripts of the page
        self.page.evaluate(
            "async (pack) => { const { openStore } = await import('/static/site/store.js'); const store = await openStore();"
            " await store.savePack(pack); await store.close(); }", given,
        )  # fmt: skip
        return self.open()

    def go(self, route: str, title: str) -> Capture:
        self.page.evaluate("(route) => { location.hash = route; }", f"/c/{CASE}{route}")
        self.page.get_by_role("heading", level=1, name=title).wait_for()
        return self

    def begin_visit(self) -> Capture:
        self.go("", NAME)
        self.button("Begin visit v4-").click()
        self.page.locator("p", has_text=", begun ").first.wait_for()
        return self

    def begin_round(self) -> Capture:
        """A visit, a sweep with the surface meter, its scale confirmed; the keypad is open at the first spot."""
        self.begin_visit().go("/round", "The round")
        self.page.get_by_role("radio", name="m1: surface meter").check(force=True)
        self.page.get_by_role("radio", name="comparative, no unit").check(force=True)
        self.button("It shows “scale of 100”").click()
        self.page.get_by_role("radio", name="vinyl").check(force=True)  # that of the last visit is offered, not taken
        self.button("Back to the value").click()
        self.value().wait_for()
        return self

    def button(self, name: str, exact: bool = False) -> Any:
        return self.page.get_by_role("button", name=name, exact=exact)

    def value(self) -> Any:
        return self.page.get_by_role("textbox", name="Value at")

    def keys(self, text: str) -> None:
        """Tap own keypad: digits and the decimal mark."""
        for sign in text:
            self.button(sign if sign.isdigit() else "decimal", exact=sign.isdigit()).click()

    def next(self) -> None:
        self.button("next", exact=True).click()

    def at(self, spot: str) -> None:
        """Waits until this spot is the one being typed."""
        self.page.locator(f"li.typing[data-spot='{spot}']").wait_for()

    # -- what stands on the device -------------------------------------------------------------------------------------

    def entries(self, kind: str = "") -> list[dict[str, Any]]:
        """What the device holds, once a write that the page has begun is done with its second copy too."""
        found: list[dict[str, Any]] = self.page.evaluate(
            "async (id) => { const { openStore } = await import('/static/site/store.js'); const store = await openStore();"
            " const all = await navigator.locks.request(`${store.name}-write-${id}`, () => store.entries(id));"
            " await store.close(); return all; }", CASE,
        )  # fmt: skip
        return [entry for entry in found if not kind or entry["kind"] == kind]

    def wait_for_entries(self, number: int, kind: str) -> list[dict[str, Any]]:
        for _ in range(200):
            found = self.entries(kind)
            if len(found) >= number:
                break
            self.page.wait_for_timeout(10)
        return found


@contextmanager
def capture(
    browser: Any,
    address: str,
    size: dict[str, int] = PHONE,
    office: str = "none",
    *,
    keeps_worker: bool = False,
    **parts: Any,
) -> Iterator[Capture]:
    """A page with the invented case on its device. What its scripts throw fails the test."""
    parts = {"locale": "en-GB", "has_touch": True} | parts
    context = browser.new_context(viewport=size, **parts)
    if not keeps_worker:
        context.add_init_script("delete Navigator.prototype.serviceWorker")
    page = context.new_page()
    page.set_default_timeout(8000)
    thrown: list[str] = []
    page.on("pageerror", lambda problem: thrown.append(str(problem)))
    yield Capture(page, address, office).take_along()
    context.close()
    assert thrown == [], thrown
