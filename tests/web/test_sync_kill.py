"""kill -9 of the real server while devices send: what was acknowledged is there, and so are the bytes of its photos."""

from __future__ import annotations

import hashlib
import os
import random
import re
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import httpx
import pytest
from site_device import AT, Device, jpeg

from desorb.core.kinds import Photo
from desorb.notebook.chain import faults_of_chains, faults_of_receipts
from desorb.notebook.store import Store
from desorb.service.cases import open_case

QUICK, LONG_RUN = 20, 200
DEVICES = 6


NURSERY = """
import os, sys
import desorb.cli.main as main
import desorb.web.serve
from desorb.web.app import ROUTERS
for name in ROUTERS:
    __import__(f"desorb.web.{name}")
for line in sys.stdin:
    child = os.fork()
    if child == 0:
        sys.argv = ["desorb", "--home", line.strip(), "serve", "--port", "0"]
        try:
            main.main()
        finally:
            os._exit(1)
    print(f"child {child}", flush=True)
    os.waitpid(child, 0)
    print("gone", flush=True)
"""


class Nursery:
    """Imports desorb once and forks `desorb serve` for each kill, so that many kills take little time."""

    def __init__(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", NURSERY], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        self.child = 0

    def line_with(self, form: str) -> re.Match[str]:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            if found := re.search(form, line):
                return found
        raise AssertionError(f"the server did not say {form}")

    def start(self, home: Path) -> str:
        """The address of a fresh server."""
        assert self.process.stdin is not None
        self.process.stdin.write(f"{home}\n")
        self.process.stdin.flush()
        self.child = int(self.line_with(r"child (\d+)")[1])
        return self.line_with(r"http://\S+(?=/ )")[0]

    def kill(self) -> None:
        os.kill(self.child, signal.SIGKILL)
        self.line_with("gone")

    def close(self) -> None:
        self.process.kill()
        self.process.communicate()


class Sending(threading.Thread):
    """One device: it keeps what the server acknowledged, and goes on with its queue after a new start."""

    def __init__(self, device: Device, acknowledged: dict[str, str], photos: set[str]) -> None:
        super().__init__(daemon=True)
        self.device, self.acknowledged, self.photos = device, acknowledged, photos
        self.wrong: list[str] = []

    def run(self) -> None:
        try:
            with httpx.Client(timeout=10) as client:
                while True:
                    self.once(client)
        except httpx.HTTPError:
            return  # the server is gone

    def once(self, client: httpx.Client) -> None:
        content = jpeg(int(self.device.id, 16) % 1000 + len(self.device.entries) * 7)
        sha256 = hashlib.sha256(content).hexdigest()
        if self.device.put_photo(content, client=client).status_code == 200:
            self.photos.add(sha256)
        unsent = [entry for entry in self.device.entries if entry.hash not in self.acknowledged]
        unsent += [self.device.write(Photo(sha256, "image/jpeg", len(content), "x", AT)), self.device.note()]
        answer = self.device.send(*unsent, client=client)
        if answer.status_code != 200:
            self.wrong.append(answer.text)
            return
        for result in answer.json()["results"]:
            if result["state"] in ("received", "known"):
                self.acknowledged[result["hash"]] = result["received_at"]
            else:
                self.wrong.append(result["reason"])


def kill_often(tmp_path: Path, kills: int) -> int:
    home, generator = tmp_path / "home", random.Random(kills)
    with Store(home) as store:
        opened = open_case(store, "A", site="s", time_zone="UTC")
    acknowledged: dict[str, str] = {}
    photos: set[str] = set()
    devices: list[Device] = []
    nursery = Nursery()
    try:
        for _ in range(kills):
            address = nursery.start(home)
            for device in devices:
                device.address = address
            while len(devices) < DEVICES:
                devices.append(Device(address, opened.id))
            threads = [Sending(device, acknowledged, photos) for device in devices]
            wanted = len(acknowledged) + generator.randrange(1, 40)
            for thread in threads:
                thread.start()
            while len(acknowledged) < wanted and any(thread.is_alive() for thread in threads):
                time.sleep(0.001)  # until so many more were acknowledged: that is the moment of the kill
            time.sleep(generator.uniform(0, 0.02))
            nursery.kill()
            for thread in threads:
                thread.join(60)
                assert not thread.is_alive()
                assert thread.wrong == []
            look(home, opened.id, acknowledged, photos)
    finally:
        nursery.close()
    return len(acknowledged)


def look(home: Path, case: str, acknowledged: dict[str, str], photos: set[str]) -> None:
    with Store(home) as store:
        assert store.check_file() == []
        entries = store.entries(case)
        hashes = {entry.hash for entry in entries}
        assert acknowledged.keys() <= hashes, "an acknowledged entry is lost"
        receipts = store.receipts(case)
        times = {receipt.entry: receipt.at for receipt in receipts}
        assert all(times[each] == at for each, at in acknowledged.items()), "a receipt tells another time than was said"
        assert faults_of_chains(entries) + faults_of_receipts(receipts, hashes) == []
        for sha256 in photos:
            content = store.attachment(sha256)
            assert content is not None, "an acknowledged photo is lost"
            assert hashlib.sha256(content).hexdigest() == sha256


def test_twenty_kills_lose_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    """The office machine loses power again and again while six phones send: what a phone marked 'received' is there."""
    assert kill_often(tmp_path, QUICK) > QUICK


@pytest.mark.soak
def test_two_hundred_kills_lose_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    """The same for longer."""
    assert kill_often(tmp_path, LONG_RUN) > LONG_RUN
