"""Paired devices write under their own names, and what a crash left out is made good by sending again."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from site_device import Device, states, texts_of

from desorb.service import syncing
from desorb.service.cases import find_case, load, open_case
from desorb.web.pairing import COOKIE, pairing_of

BOX = "box.local"


class Phone:
    """A browser that was paired with a server on the network."""

    def __init__(self, server: Any, name: str) -> None:
        paired, token = pairing_of(server.desk).devices.pair(name)
        self.server, self.id = server, paired.id
        self.headers = {"host": BOX, "origin": f"http://{BOX}", "cookie": f"{COOKIE}={token}"}

    def send(self, device: Device, *entries: Any) -> httpx.Response:
        sent = {"entries": [texts_of(entry) for entry in entries]}
        address = f"{self.server.address}/api/cases/{device.case}/entries"
        return httpx.post(address, json=sent, headers=self.headers, timeout=60)


@pytest.fixture
def shared(tmp_path: Path, serve_home: Callable[..., Any]) -> Any:
    server = serve_home(tmp_path / "home", names=(BOX,), shared=True)
    open_case(server.store, "A", site="s", time_zone="UTC")
    return server


def test_one_paired_phone_cannot_write_in_the_name_of_another(shared: Any) -> None:
    """A second phone sends entries under the name of mine: refused in words, nothing taken; mine goes on."""
    device = Device(shared.address, find_case(shared.store, "A").id)
    mine, other = Phone(shared, "Ada, phone"), Phone(shared, "Ben, phone")
    assert states(mine.send(device, device.note())) == ["received"]
    second = device.note()
    refused = other.send(device, second)
    assert refused.status_code == 409
    assert "Ada, phone" in refused.json()["what"]
    assert re.search("nothing on this device is lost", refused.json()["next"])
    assert states(mine.send(device, second)) == ["received"]


def test_a_phone_that_was_paired_anew_goes_on_and_the_owner_may_always(shared: Any) -> None:
    """My pairing was withdrawn and made anew: I go on. At the machine itself the owner sends whatever was saved."""
    device = Device(shared.address, find_case(shared.store, "A").id)
    before, after = Phone(shared, "Ada, phone"), Phone(shared, "Ada, phone again")
    assert states(before.send(device, device.note())) == ["received"]
    assert states(device.send(device.note())) == ["received"]  # the owner, at loopback
    third = device.note()
    assert after.send(device, third).status_code == 409
    pairing_of(shared.desk).devices.withdraw(before.id)
    assert states(after.send(device, third)) == ["received"]
    (shared.store.home / "chains.json").write_text("[")
    assert after.send(device, device.note()).status_code == 422


def test_sending_again_mends_a_crash_between_commit_and_copy(
    server: Any, case_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The office stopped after it kept my reading and before it copied the instrument: sending again makes it good."""
    case = find_case(server.store, case_id)
    device = Device(server.address, open_case(server.store, "new", site="s", time_zone="UTC").id)
    instrument = load(server.store, case).instruments[0].record.id
    reading = device.reading("k1", instrument=instrument)

    def stop(*_: Any) -> Any:
        raise OSError("stopped")

    with monkeypatch.context() as cut:
        cut.setattr(syncing, "copies_for", stop)
        assert device.send(reading).status_code == 500
    assert instrument not in server.store.described_instruments(device.case)
    assert states(device.send(reading)) == ["known"]
    assert instrument in server.store.described_instruments(device.case)
    monkeypatch.setattr(syncing, "load", stop)  # nothing is lacking now: the case is not folded
    assert states(device.send(reading)) == ["known"]
