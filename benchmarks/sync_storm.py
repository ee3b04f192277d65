"""200 devices send 20 entries each, at once, over real HTTP: how long one waits, and whether anything is lost or doubled.

Run: python -m benchmarks.sync_storm [devices] [entries]. Server and devices share this machine, each in its own process.
"""

from __future__ import annotations

import asyncio
import platform
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import httpx

from desorb.core.kinds import Note
from desorb.notebook.chain import faults_of_chains
from desorb.notebook.entry import Entry, seal
from desorb.notebook.schema import payload_of
from desorb.notebook.store import Store
from desorb.service.cases import open_case

DEVICES, ENTRIES = 200, 20
AT = "2026-02-03T09:00:00+00:00"


def entries_of(case: str, opening: str, device: int, count: int) -> list[Entry]:
    sealed: list[Entry] = []
    for n in range(count):
        sealed.append(seal(
            case=case, device=f"{device:08x}", n=n, prev=sealed[-1].hash if sealed else opening, clock=100 + n, kind="note",
            claimed_at=AT, monotonic=n, payload=payload_of(Note(f"entry {n} of {device}", AT)),
        ))  # fmt: skip
    return sealed


async def storm(address: str, case: str, queues: list[list[Entry]]) -> tuple[list[float], list[Any]]:
    """Every device sends its entries one by one, each in a request of its own."""
    waits: list[float] = []
    odd: list[Any] = []
    limits = httpx.Limits(max_connections=len(queues), max_keepalive_connections=len(queues))
    async with httpx.AsyncClient(base_url=address, limits=limits, timeout=120, headers={"origin": address}) as client:

        async def device(queue: list[Entry]) -> None:
            for entry in queue:
                sent = {"envelope": entry.envelope_text, "salt": entry.salt, "payload": entry.payload_text}
                begun = time.perf_counter()
                answer = await client.post(f"/api/cases/{case}/entries", json={"entries": [sent]})
                waits.append(time.perf_counter() - begun)
                if answer.status_code != 200 or answer.json()["results"][0]["state"] != "received":
                    odd.append((answer.status_code, answer.text[:200]))

        await asyncio.gather(*(device(queue) for queue in queues))
    return waits, odd


def main(devices: int = DEVICES, count: int = ENTRIES) -> None:
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "home"
        with Store(home) as store:
            case = open_case(store, "storm", site="s", time_zone="UTC").id
            opening = store.entries(case)[0].hash
        queues = [entries_of(case, opening, device, count) for device in range(devices)]
        command = [sys.executable, "-u", "-m", "desorb.cli.main", "--home", str(home), "serve", "--port", "0"]
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            assert server.stdout is not None
            found = re.search(r"http://\S+(?=/ )", server.stdout.readline())
            assert found is not None
            begun = time.perf_counter()
            waits, odd = asyncio.run(storm(found[0], case, queues))
            took = time.perf_counter() - begun
        finally:
            server.terminate()
            server.wait()
        with Store(home) as store:
            here = [entry.hash for entry in store.entries(case) if entry.kind == "note"]
            faults = faults_of_chains(store.entries(case))
    sent = {entry.hash for queue in queues for entry in queue}
    waits.sort()
    print(f"{platform.machine()}, {platform.python_version()}, {devices} devices x {count} entries in {took:.1f} s")
    print(
        f"lost {len(sent - set(here))}, doubled {len(here) - len(set(here))}, other answers {len(odd)}, faults {len(faults)}"
    )
    share = {name: waits[min(len(waits) - 1, int(part * len(waits)))] for name, part in (("p50", 0.5), ("p99", 0.99))}
    print(f"wait for one answer: p50 {share['p50']:.3f} s, p99 {share['p99']:.3f} s, longest {waits[-1]:.3f} s")
    if odd:
        print("first other answer:", odd[0])


if __name__ == "__main__":
    main(*(int(each) for each in sys.argv[1:3]))
