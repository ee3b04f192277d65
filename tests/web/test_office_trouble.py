"""A case that trips the program, and what a lawful removal must take along: both can be dealt with on the page."""

from __future__ import annotations

import hashlib
from typing import Any

import httpx
import pytest
from site_device import AT, Device, jpeg

from desorb.core import assess as core_assess
from desorb.core.kinds import Note, Photo, PhotoMark, PlanPicture
from desorb.service import entry_view, standing
from desorb.service.cases import find_case, remove, write


def test_the_entry_that_trips_the_case_can_be_struck_on_the_page(
    server: Any, case_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The case cannot be assessed: the record still opens, says why, and the entry is struck; then all is as before."""
    case = find_case(server.store, case_id)
    bad = write(server.store, case, [Note("the bad one", AT, "N. Ferrow")])[0]
    sound = core_assess.assess

    def trip(folded: Any, **more: Any) -> Any:
        if any(each.hash == bad.hash for each in folded.notes):
            raise KeyError("v9")
        return sound(folded, **more)

    monkeypatch.setattr(standing, "assess", trip)
    monkeypatch.setattr(entry_view, "assess", trip)
    base = f"{server.address}/cases/{case_id}"
    for place in (f"{base}/record", f"{base}/record/entries/{bad.name}"):
        answer = httpx.get(place, timeout=60)
        assert answer.status_code == 200
        assert "cannot be assessed" in answer.text
        assert "KeyError" in answer.text
    assert "the bad one" in httpx.get(f"{base}/record", timeout=60).text
    listed = httpx.get(f"{server.address}/api/cases", timeout=60).json()
    assert [each["needs"][0]["page"] for each in listed if each["id"] == case_id] == [f"/cases/{case_id}/record"]
    httpx.post(
        f"{server.address}/api/cases/{case_id}/strikes", headers={"origin": server.address},
        json={"entry": bad.name, "why": "it trips desorb", "by": "N. Ferrow"}, timeout=60,
    ).raise_for_status()  # fmt: skip
    answer = httpx.get(f"{base}/record", timeout=60)
    assert "cannot be assessed" not in answer.text
    assert "Heads: the last entry" in answer.text


def lawfully(server: Any, case: str, entry: str) -> None:
    remove(
        server.store, find_case(server.store, case), entry, why="asked", authority="law", by="N. Ferrow", confirmed=True
    )


def test_a_removed_picture_of_the_plan_takes_its_file_along(server: Any, case_id: str) -> None:
    """The PDF under the plan showed a name: the removal takes the picture and the PDF it was made from."""
    case = find_case(server.store, case_id)
    picture, source = server.store.attach(jpeg(501)), server.store.attach(b"%PDF-1.7 with a name")
    entry = write(server.store, case, [PlanPicture(picture, "image/jpeg", 64, 48, "0.01", source_sha256=source)])[0]
    lawfully(server, case_id, entry.name)
    assert server.store.attachment(picture) is None
    assert server.store.attachment(source) is None


def test_a_photo_sent_again_after_its_removal_is_not_given_out(server: Any, case_id: str) -> None:
    """The phone still had the removed photo and sends it once more: nobody can open it, whatever was drawn on it."""
    device, content = Device(server.address, case_id), jpeg(502)
    sha256 = hashlib.sha256(content).hexdigest()
    photo = device.write(Photo(sha256, "image/jpeg", len(content), "x", AT, by="N. Ferrow"))
    mark = device.write(PhotoMark(sha256, "hide", ("0", "0", "0.5", "0.5"), "face", AT, "N. Ferrow"))
    device.put_photo(content)
    device.send(photo, mark)
    assert httpx.get(device.photo_address(sha256)).status_code == 200
    other = Device(server.address, find_case(server.store, "quillfen").id)
    lawfully(server, case_id, photo.name)
    assert server.store.attachment(sha256) is None
    assert other.put_photo(content).status_code == 200
    for address in (device.photo_address(sha256), f"{device.photo_address(sha256)}?width=64"):
        answer = httpx.get(address)
        assert answer.status_code == 404
        assert "no entry of this case names this photo" in answer.json()["what"]
