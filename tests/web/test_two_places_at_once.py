"""Phone and office know different things at different times: neither may be believed for the other, and nothing is lost.

Each test is a fault that was found by trying, and mended.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import httpx
import pytest
from site_device import AT, Device, states

from desorb.core.kinds import Hazard, InstrumentCheck, Visit
from desorb.service.cases import find_case, load, write

PACK = {
    "case": {"id": "c", "name": "n"}, "by": "", "visits": [{"id": "v1", "begun_at": "2026-03-02T10:00:00+00:00"}],
    "spots": [{"id": "k1", "zone": "store", "element": "floor", "role": "control", "words": "as the office says", "last": []}],
    "zones": [], "instruments": [], "air_places": [], "units": [], "devices": {"aa": [1, "h1"]}, "missing": {}, "gone": [],
    "gates": [{"gate": "structure", "zone": "store, hall", "state": "not answered", "words": "", "asks": "", "evidence": []}],
}  # fmt: skip


@pytest.fixture
def device(server: Any, case_id: str) -> Device:
    return Device(server.address, case_id)


def job(page: Any, address: str, pack: dict[str, Any], entries: list[dict[str, Any]], ask: str) -> Any:
    """What the page makes of a pack and of entries that were written on the device."""
    page.goto(f"{address}/site/")
    return page.evaluate(
        "async ({ pack, entries, ask }) => { const { jobOf } = await import('/static/site/job.js');"
        " const job = jobOf(pack, entries, 'aabbccdd');"
        " return { gates: job.gates.map((g) => [g.zone, g.state]), spot: job.spot('k1'), spots: job.spots.length,"
        " readings: job.spot('k1').readings.length }[ask]; }",
        {"pack": pack, "entries": entries, "ask": ask},
    )


def entry(n: int, kind: str, payload: dict[str, Any], **parts: Any) -> dict[str, Any]:
    return {
        "name": f"aa/{n}",
        "hash": f"h{n}",
        "kind": kind,
        "clock": n + 5,
        "payload": payload,
        "state": "received",
    } | parts


ANSWER = {
    "gate": "structure", "zones": ["store"], "materials": [], "reference": "r", "by": "b", "for_what": "f", "result": "sound",
    "wish_to_override": False,
}  # fmt: skip


def test_evidence_for_one_room_answers_for_that_room_only(page: Any, empty_office: str) -> None:
    """The ceiling of the store was looked at; the hall is another ceiling, and stays not answered."""
    found = job(page, empty_office, PACK, [entry(2, "gate-answer", ANSWER)], "gates")
    assert found == [["store", "evidence recorded"], ["hall", "not answered"]]


def test_evidence_struck_on_the_phone_counts_no_more(page: Any, empty_office: str) -> None:
    """I undo an answer that the office has already: until it is sent, the phone must not go on saying that it stands."""
    pack = PACK | {"gates": [PACK["gates"][0] | {"state": "evidence recorded"}]}  # type: ignore[index]
    strike = entry(2, "strike", {"target": "h1", "why": "undone at once", "by": "b"})
    found = job(page, empty_office, pack, [entry(1, "gate-answer", ANSWER), strike], "gates")
    assert found[0] == ["store", "not answered"]


def test_the_office_s_later_words_about_a_spot_stand(page: Any, empty_office: str) -> None:
    """I described a spot, the office corrected it: my phone shows what the office says now."""
    spot = {"id": "k1", "zone": "hall", "element": "floor", "role": "survey", "words": "mine", "x": "", "y": ""}
    assert job(page, empty_office, PACK, [entry(1, "spot", spot)], "spot")["role"] == "control"
    assert job(page, empty_office, PACK, [entry(2, "spot", spot)], "spot")["role"] == "survey"


def test_what_was_struck_in_the_office_is_gone_here(page: Any, empty_office: str) -> None:
    """99 was mistyped and struck in the office: the phone does not show it as read."""
    reading = entry(1, "reading", {"spot": "k1", "visit": "v1", "values": ["99"], "scale": "s", "instrument": "m"})
    assert job(page, empty_office, PACK, [reading], "readings") == 1
    assert job(page, empty_office, PACK | {"gone": ["h1"]}, [reading], "readings") == 0


def test_the_pack_names_what_is_missing_and_what_is_gone(server: Any, device: Device) -> None:
    """After a restored backup the office lacks 2-3 of my phone: it says so, and the phone sends them again."""
    notes = [device.note() for _ in range(5)]
    device.send(notes[0], notes[1], notes[4])
    httpx.post(
        f"{server.address}/api/cases/{device.case}/strikes", headers=device.headers,
        json={"entry": f"{device.id}/0", "why": "mistyped", "by": "N. Ferrow"},
    ).raise_for_status()  # fmt: skip
    pack = httpx.get(f"{server.address}/api/cases/{device.case}/pack", timeout=60).json()
    assert pack["missing"] == {device.id: [[2, 3]]}
    assert notes[0].hash in pack["gone"]


def test_two_reports_at_once_take_two_numbers_or_are_one(server: Any, device: Device) -> None:
    """A double click on "issue": no two reports of one number."""
    device.send(device.note())

    def issue(_: int) -> int:
        address = f"{server.address}/api/cases/{device.case}/reports"
        answer = httpx.post(address, headers=device.headers, json={"by": "N. Ferrow", "paper": "a4"}, timeout=120)
        return answer.status_code

    with ThreadPoolExecutor(3) as pool:
        assert set(pool.map(issue, range(3))) <= {200, 201}
    reports = load(server.store, find_case(server.store, device.case)).reports
    numbers: dict[int, set[str]] = {}
    for each in reports:
        numbers.setdefault(each.record.number, set()).add(each.record.pdf_sha256)
    assert all(len(kept) == 1 for kept in numbers.values())
    assert len(reports) == len({(each.record.number, each.record.pdf_sha256) for each in reports})


def test_a_device_cannot_write_in_the_name_of_the_office(server: Any, device: Device) -> None:
    """A paired phone is not the office: neither the register of instruments nor the office's own chain takes its entries."""
    for case in ("instruments",):
        assert httpx.get(f"{server.address}/api/cases/{case}/pack").status_code == 404
        sent = {"entries": [{"envelope": "{}", "salt": "", "payload": "{}"}]}
        answer = httpx.post(f"{server.address}/api/cases/{case}/entries", json=sent, headers=device.headers)
        assert answer.status_code == 404
    forged = device.write(InstrumentCheck("m1", "comparative", "60", "60", "2", AT))
    assert states(device.send(forged)) == ["refused"]
    impostor = Device(server.address, device.case, server.store.device)
    assert states(impostor.send(impostor.note())) == ["refused"]


def test_a_monstrous_figure_is_set_aside_and_the_case_can_be_read(server: Any, device: Device) -> None:
    """A broken device says that the pond is 9e999999 mm deep: that entry is set aside, everything else opens."""
    hazard = device.write(Hazard("structure", "store", "pond", AT, depth_mm="9e999999", area_m2="4"))
    assert states(device.send(hazard)) == ["refused"]
    for address in ("/", "/api/cases", f"/cases/{device.case}", f"/api/cases/{device.case}/pack"):
        assert httpx.get(f"{server.address}{address}", timeout=60).status_code == 200


def test_a_struck_visit_leaves_every_page_open(server: Any, device: Device) -> None:
    """I strike a visit that was begun by mistake: the readings of it stand, and every page opens."""
    found = find_case(server.store, device.case)
    visit = next(each for each in load(server.store, found).visits if each.record.id == "v3")
    httpx.post(
        f"{server.address}/api/cases/{device.case}/strikes", headers=device.headers,
        json={"entry": visit.entry, "why": "begun twice", "by": "N. Ferrow"},
    ).raise_for_status()  # fmt: skip
    for part in ("", "/record", "/assessments", "/difference", "/charts", "/next"):
        assert httpx.get(f"{server.address}/cases/{device.case}{part}", timeout=60).status_code == 200, part
    write(server.store, found, [Visit("v3", AT, "N. Ferrow")])


def test_one_case_that_cannot_be_read_hides_no_other(
    server: Any, case_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Something in one case trips desorb: the list of cases still opens, and says which one and what to do."""
    from desorb.service import standing

    def trip(*_: Any, **__: Any) -> Any:
        raise KeyError("v9")

    monkeypatch.setattr(standing, "assess", trip)
    answer = httpx.get(f"{server.address}/api/cases", timeout=60)
    assert answer.status_code == 200
    assert "cannot be read" in answer.text
    assert "cannot be read" in httpx.get(f"{server.address}/", timeout=60).text
