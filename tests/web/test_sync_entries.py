"""What a device sends arrives once, whole and acknowledged; what cannot be accepted holds up nothing and is kept."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest
from site_device import AT, Device, jpeg, states, texts_of

from desorb.core.kinds import CaseOpened, Instrument, Note, Removal, Scale, Setting
from desorb.notebook.chain import faults_of_chains, faults_of_receipts
from desorb.notebook.entry import seal
from desorb.notebook.schema import payload_of
from desorb.service import received_photos
from desorb.service.cases import find_case, load
from desorb.service.instruments import describe_instrument


@pytest.fixture
def device(server: Any, case_id: str) -> Device:
    return Device(server.address, case_id)


def rows_of(server: Any, device: Device) -> list[str]:
    return [entry.hash for entry in server.store.entries(device.case) if entry.device == device.id]


def sound(server: Any, case: str) -> bool:
    entries = server.store.entries(case)
    return faults_of_chains(entries) + faults_of_receipts(server.store.receipts(case), {e.hash for e in entries}) == []


def test_a_sweep_arrives_and_counts(server: Any, device: Device) -> None:
    """Twenty readings taken in a cellar are sent from the car: each is acknowledged with the time it was received."""
    sent = [device.reading("k3", str(40 + n)) for n in range(20)]
    answer = device.send(*sent)
    assert states(answer) == ["received"] * 20
    results = answer.json()["results"]
    assert [result["hash"] for result in results] == [entry.hash for entry in sent]
    assert [result["entry"] for result in results] == [f"{device.id}/{n}" for n in range(20)]
    assert all(result["received_at"].endswith("Z") for result in results)
    assert answer.json()["highest_clock"] == device.clock
    assert answer.json()["waiting"] == []
    folded = load(server.store, find_case(server.store, device.case))
    assert [each.record.values for each in folded.readings if each.device == device.id] == [
        (str(40 + n),) for n in range(20)
    ]
    assert sound(server, device.case)


def test_the_same_again_is_known_and_keeps_its_first_receipt(server: Any, device: Device) -> None:
    """The answer got lost on the way, so the phone sends again: nothing is doubled, and the first time stands."""
    entry = device.note()
    first = device.send(entry).json()["results"][0]
    again = device.send(entry, entry).json()["results"]
    assert [each["state"] for each in again] == ["known", "known"]
    assert {each["received_at"] for each in again} == {first["received_at"]}
    assert rows_of(server, device) == [entry.hash]


def test_fifty_equal_posts_at_once_give_one_row(server: Any, device: Device) -> None:
    """An impatient thumb and a slow line: the same entry fifty times in parallel is one entry, received once."""
    entry = device.note()
    with ThreadPoolExecutor(50) as pool:
        answers = list(pool.map(lambda _: device.send(entry), range(50)))
    told = [states(answer)[0] for answer in answers]
    assert sorted(told) == ["known"] * 49 + ["received"]
    assert rows_of(server, device) == [entry.hash]
    assert len([each for each in server.store.receipts(device.case) if each.entry == entry.hash]) == 1


def test_the_same_number_with_other_bytes_is_refused_and_kept_aside(server: Any, device: Device) -> None:
    """A phone was copied, and both copies wrote on: the second entry of one number is kept, shown, and counts nowhere."""
    first, twin = (
        device.note("first"),
        Device(device.address, device.case, device.id, [], device.clock - 1, device.opening),
    )
    other = twin.note("another")
    assert states(device.send(first)) == ["received"]
    for _ in range(5):
        answer = twin.send(other)
        assert states(answer) == ["refused"]
        assert "same number with other content" in answer.json()["results"][0]["reason"]
    assert rows_of(server, device) == [first.hash]
    aside = server.store.set_aside(device.case)
    assert [(row["hash"], "another" in row["body"]) for row in aside] == [(other.hash, True)]


def test_what_has_not_arrived_is_said_in_words(server: Any, device: Device) -> None:
    """Number 7 arrives before 5 and 6: it is taken, and the missing ones are named until they come."""
    sent = [device.note() for _ in range(8)]
    device.send(*sent[:5])
    answer = device.send(sent[7])
    assert states(answer) == ["received"]
    assert answer.json()["waiting"] == [f"device {device.id}: 5-6 have not arrived"]
    answer = device.send(sent[6])
    assert answer.json()["waiting"] == [f"device {device.id}: 5 has not arrived"]
    assert device.send(sent[5]).json()["waiting"] == []
    assert sound(server, device.case)


BAD: dict[str, Callable[[Device], Any]] = {
    "no envelope": lambda device: {"envelope": "x", "salt": "", "payload": ""},
    "half a character": lambda device: texts_of(device.note()) | {"payload": "\ud800"},
    "a payload that was changed": lambda device: _changed(texts_of(device.note("62")), "62", "26"),
    "another case": lambda device: texts_of(_of_case(device, "f" * 32)),
    "a kind of the office": lambda device: texts_of(device.write(Setting("rule", "tolerance/1", "", "a phone"))),
    "a removal": lambda device: texts_of(device.write(Removal(device.opening, "why", "law", "who", AT))),
    "an opening": lambda device: texts_of(device.write(CaseOpened("again", "s", "UTC"))),
    "a kind nobody knows": lambda device: texts_of(_of_kind(device, "spell")),
    "a clock beyond counting": lambda device: texts_of(_with_clock(device, 2**50)),
    "very long": lambda device: {"envelope": "{" + " " * 20_000 + "}", "salt": "", "payload": ""},
    "deep": lambda device: {"envelope": "[" * 100_000, "salt": "", "payload": ""},
}


def _changed(texts: dict[str, str], old: str, new: str) -> dict[str, str]:
    return texts | {"payload": texts["payload"].replace(old, new)}


def _of_case(device: Device, case: str) -> Any:
    return seal(
        case=case, device=device.id, n=0, prev=device.opening, clock=1, kind="note", claimed_at=AT, monotonic=1,
        payload=payload_of(Note("x", AT)),
    )  # fmt: skip


def _of_kind(device: Device, kind: str) -> Any:
    return seal(
        case=device.case, device="0ddc0ffe", n=0, prev=device.opening, clock=900, kind=kind, claimed_at=AT, monotonic=1,
        payload={"words": "x"},
    )  # fmt: skip


def _with_clock(device: Device, clock: int) -> Any:
    return seal(
        case=device.case, device="0ddc1000", n=0, prev=device.opening, clock=clock, kind="note", claimed_at=AT,
        monotonic=1, payload=payload_of(Note("x", AT)),
    )  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_a_poisoned_entry_holds_up_no_other(server: Any, case_id: str, name: str) -> None:
    """One entry in the queue cannot be accepted: the rest of the work goes through, and the one is kept with its reason."""
    device, bad_device = Device(server.address, case_id), Device(server.address, case_id)
    before, after = [device.note() for _ in range(3)], [device.note() for _ in range(3)]
    bad = BAD[name](bad_device)
    answer = device.send_texts(*[texts_of(e) for e in before], bad, *[texts_of(e) for e in after])
    assert states(answer) == ["received"] * 3 + ["refused"] + ["received"] * 3
    assert answer.json()["results"][3]["reason"]
    assert rows_of(server, device) == [entry.hash for entry in (*before, *after)]
    assert sound(server, case_id)
    aside = "".join(row["body"] + row["envelope"] for row in server.store.set_aside(case_id))
    unread = "".join(path.read_text() for path in (server.home / "unread").glob("*.json"))
    assert bad["envelope"][:2000].replace('"', "") in (aside + unread).replace("\\", "").replace('"', "")


def test_a_refused_entry_is_kept_once_however_often_it_is_sent(server: Any, device: Device) -> None:
    """A phone keeps trying a bad entry: the disk of the server does not fill with it."""
    for _ in range(4):
        device.send_texts({"envelope": "no entry", "salt": "", "payload": ""})
    assert len(list((server.home / "unread").iterdir())) == 1


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"entries": []}, 422),
        ({"entries": [{"envelope": "x", "salt": "", "payload": ""}] * 201}, 422),
        ({"entries": [{"envelope": 1, "salt": "", "payload": ""}]}, 422),
        ({"entries": [{"envelope": "x", "salt": "", "payload": "", "more": 1}]}, 422),
        ({"entries": [None]}, 422),
        ([], 422),
    ],
)
def test_a_request_that_is_none_is_answered_in_words(server: Any, device: Device, body: Any, status: int) -> None:
    """A program of someone else sends something that is no list of entries."""
    answer = httpx.post(f"{server.address}/api/cases/{device.case}/entries", json=body, headers=device.headers)
    assert answer.status_code == status
    assert answer.json()["what"]


def test_entries_for_a_case_that_is_not_here_are_not_acknowledged(server: Any, device: Device) -> None:
    """The case was taken out of this store: the phone is told, and keeps its work."""
    entry = device.note()
    device.case = "0" * 32
    answer = device.send(entry)
    assert answer.status_code == 404
    assert "no case" in answer.json()["what"]


def test_the_instrument_a_reading_rests_on_is_copied_into_the_case(server: Any, device: Device) -> None:
    """A meter that this case did not know yet was used on site: the case keeps its description from the register."""
    scale = Scale("comparative", "capacitance", "comparative", bottom="0", top="100", resolution="1")
    describe_instrument(server.store, Instrument("m9", "a second meter", scales=(scale,)))
    device.send(device.reading("k3", instrument="m9"))
    folded = load(server.store, find_case(server.store, device.case))
    assert [each.record.words for each in folded.instruments if each.record.id == "m9"] == ["a second meter"]
    device.send(device.reading("k4", instrument="m9"))
    again = load(server.store, find_case(server.store, device.case))
    assert len([each for each in again.instruments if each.record.id == "m9"]) == 1


def test_many_devices_at_once_lose_and_double_nothing(server: Any, case_id: str) -> None:
    """A team of forty comes back to the van at the same minute: every entry of every phone is there once."""
    opening = Device(server.address, case_id)
    team = [Device(server.address, case_id, f"{n:08x}", [], opening.clock, opening.opening) for n in range(40)]

    def work(device: Device) -> list[str]:
        with httpx.Client() as client:
            return [states(device.send(device.note(), client=client))[0] for _ in range(5)]

    with ThreadPoolExecutor(40) as pool:
        told = list(pool.map(work, team))
    assert {state for states_of in told for state in states_of} == {"received"}
    for device in team:
        assert rows_of(server, device) == [entry.hash for entry in device.entries]
    assert sound(server, case_id)


class _Full:
    """The disk is full from now on."""

    def __init__(self, connection: Any) -> None:
        self.connection = connection

    def execute(self, statement: str, values: Any = ()) -> Any:
        if statement.startswith("INSERT"):
            raise sqlite3.OperationalError("database or disk is full")
        return self.connection.execute(statement, values)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.connection, name)


def test_a_full_disk_is_said_nothing_is_half_taken_and_reading_goes_on(server: Any, device: Device) -> None:
    """The disk of the office machine is full: no entry of the batch is acknowledged, and cases can still be read."""
    kept = device.note()
    device.send(kept)
    server.store._connection = _Full(server.store._connection)
    answer = device.send(device.note(), device.note())
    assert answer.status_code == 507
    assert "nothing more is accepted" in answer.json()["what"]
    assert answer.json()["next"]
    assert device.send(device.note()).status_code in (503, 507)
    assert httpx.get(f"{server.address}/api/cases/{device.case}/pack", timeout=60).status_code == 200
    assert rows_of(server, device) == [kept.hash]


def test_when_room_runs_out_photos_wait_and_readings_are_taken(
    server: Any, device: Device, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Less than 200 MB are free: photos are refused before their bytes are read, and text is still taken."""
    monkeypatch.setattr(received_photos, "FREE_FOR_PHOTOS", 10**18)
    answer = device.put_photo(jpeg())
    assert answer.status_code == 507
    assert "readings are still taken" in answer.json()["next"]
    assert states(device.send(device.note())) == ["received"]


def test_the_file_of_unsent_work_can_be_taken_twice(server: Any, device: Device, tmp_path: Path) -> None:
    """The phone never got signal: its file is carried to the office on a stick and taken, and taken again by mistake."""
    import base64
    import hashlib

    photo = jpeg(5)
    sent = [device.note() for _ in range(210)]
    coded = {
        "case": device.case,
        "sha256": hashlib.sha256(photo).hexdigest(),
        "base64": base64.b64encode(photo).decode(),
    }
    cut = coded | {"base64": coded["base64"][:-8]}
    content = json.dumps(
        {"schema": "desorb-unsent/1", "entries": [*map(texts_of, sent), {"odd": 1}, texts_of(_of_case(device, "e" * 32))],
         "photos": [coded, cut]}
    )  # fmt: skip
    for state in ("received", "known"):
        answer = httpx.post(
            f"{server.address}/api/unsent?name=unsent.json", content=content, timeout=60,
            headers=device.headers | {"content-type": "application/octet-stream"},
        )  # fmt: skip
        assert answer.status_code == 200, answer.text
        found = answer.json()
        assert [each["state"] for each in found["results"]].count(state) == 210
        assert [each["state"] for each in found["results"]].count("refused") == 2
        assert (found["photos"], len(found["photos_refused"])) == (1, 1)
        assert "210" in found["said"]
    assert rows_of(server, device) == [entry.hash for entry in sent]
    assert server.store.attachment(coded["sha256"]) == photo


@pytest.mark.parametrize("content", [b"", b"\xff\xd8\xff", b"[]", b'{"schema":"other","entries":[]}', b"[" * 100_000])
def test_another_file_is_not_taken_for_unsent_work(server: Any, content: bytes) -> None:
    """The wrong file was chosen: desorb says what it wants and changes nothing."""
    answer = httpx.post(f"{server.address}/api/unsent", content=content, headers={"origin": server.address})
    assert answer.status_code == 422
    assert "unsent work" in answer.json()["what"]
