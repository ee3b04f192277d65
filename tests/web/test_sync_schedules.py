"""A bad line between three phones and the real API: answers lost, requests doubled, late and out of order.

Counted as the set test of distributed systems does: lost (acknowledged, not there), doubled, never read (sent until the
end, not there), stale (there, but not in the last pack). All four are zero after the last sync of every schedule.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from site_device import Device

from desorb.core.kinds import Strike
from desorb.notebook.chain import faults_of_chains, faults_of_receipts
from desorb.notebook.entry import Entry
from desorb.service.cases import open_case

QUICK, LONG_RUN = 100, 1_000
STEPS = 14


class Line:
    """What goes through it may be lost on the way there, lost on the way back, come twice, or come much later."""

    def __init__(self, generator: random.Random, client: httpx.Client) -> None:
        self.generator, self.client = generator, client
        self.late: list[tuple[Device, list[Entry]]] = []

    def send(self, device: Device, entries: list[Entry]) -> httpx.Response | None:
        fate = self.generator.choice(("well", "well", "lost", "answer lost", "twice", "late", "mixed"))
        if fate == "lost":
            return None
        if fate == "late":
            self.late.append((device, entries))
            return None
        if fate == "mixed":
            entries = self.generator.sample(entries, len(entries))
        answer = device.send(*entries, client=self.client)
        if fate == "twice":
            device.send(*entries, client=self.client)
        return None if fate == "answer lost" else answer

    def bring_something_late(self) -> None:
        if self.late:
            device, entries = self.late.pop(self.generator.randrange(len(self.late)))
            device.send(*entries, client=self.client)


class Phone:
    def __init__(self, device: Device) -> None:
        self.device, self.acknowledged = device, dict[str, str]()

    def note(self, answer: httpx.Response | None) -> None:
        if answer is None or answer.status_code != 200:
            return
        for result in answer.json()["results"]:
            assert result["state"] != "refused", result["reason"]
            before = self.acknowledged.setdefault(result["hash"], result["received_at"])
            assert before == result["received_at"], "a receipt was renewed"

    @property
    def unsent(self) -> list[Entry]:
        return [entry for entry in self.device.entries if entry.hash not in self.acknowledged]


def run(server: Any, seed: int, client: httpx.Client) -> Counter[str]:
    generator = random.Random(seed)
    case = open_case(server.store, f"case {seed}", site="s", time_zone="UTC").id
    first = Device(server.address, case)
    phones = [Phone(Device(server.address, case, f"{n:08x}", [], first.clock, first.opening)) for n in range(3)]
    line = Line(generator, client)
    for _ in range(STEPS):
        phone = generator.choice(phones)
        step = generator.choice(("write", "write", "strike", "send", "send", "late"))
        if step == "write":
            phone.device.note()
        elif step == "strike" and phone.device.entries:
            phone.device.write(
                Strike(generator.choice(phone.device.entries).hash, "why", "who", "2026-02-03T09:00:00+00:00")
            )
        elif step == "send" and phone.unsent:
            part = generator.sample(phone.unsent, generator.randrange(1, len(phone.unsent) + 1))
            phone.note(line.send(phone.device, part))
        elif step == "late":
            line.bring_something_late()
    while line.late:
        line.bring_something_late()
    for phone in phones:
        if phone.unsent:
            phone.note(phone.device.send(*phone.unsent, client=client))
    entries = server.store.entries(case)
    here = Counter(entry.hash for entry in entries)
    assert faults_of_chains(entries) + faults_of_receipts(server.store.receipts(case), set(here)) == []
    pack = client.get(f"{server.address}/api/cases/{case}/pack").json()
    counts: Counter[str] = Counter()
    for phone in phones:
        written = phone.device.entries
        counts["lost"] += sum(each not in here for each in phone.acknowledged)
        counts["never read"] += sum(entry.hash not in here for entry in written)
        counts["doubled"] += sum(here[entry.hash] > 1 for entry in written)
        counts["stale"] += bool(written) and pack["devices"].get(phone.device.id) != [
            len(written) - 1,
            written[-1].hash,
        ]
        counts["written"] += len(written)
    return counts


def many(tmp_path: Path, serve_home: Callable[..., Any], schedules: int) -> None:
    server = serve_home(tmp_path / "home")
    total: Counter[str] = Counter()
    with httpx.Client(timeout=60) as client:
        for seed in range(schedules):
            total += run(server, seed, client)
    assert {name: total[name] for name in ("lost", "never read", "doubled", "stale")} == {
        "lost": 0, "never read": 0, "doubled": 0, "stale": 0,
    }  # fmt: skip
    assert total["written"] > schedules


def test_a_hundred_bad_lines_lose_and_double_nothing(tmp_path: Path, serve_home: Callable[..., Any]) -> None:
    """Three phones under a roof of sheet metal: whatever the line does, after the last sync everything is there once."""
    many(tmp_path, serve_home, QUICK)


@pytest.mark.soak
def test_a_thousand_bad_lines_lose_and_double_nothing(tmp_path: Path, serve_home: Callable[..., Any]) -> None:
    """The same for longer."""
    many(tmp_path, serve_home, LONG_RUN)


def test_a_server_that_acknowledges_and_forgets_is_found_out(
    tmp_path: Path, serve_home: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Negative control: a server that says 'received' and drops every third entry does not pass."""
    from desorb.notebook.arriving import Arriving

    honest = Arriving._take_in
    calls = 0

    def forgetful(store: Any, entry: Any, arrival: Any) -> None:
        nonlocal calls
        calls += 1
        if calls % 3:
            honest(store, entry, arrival)
        else:
            arrival.known.append(entry.hash)

    monkeypatch.setattr(Arriving, "_take_in", forgetful)
    with pytest.raises(AssertionError):
        many(tmp_path, serve_home, 5)
