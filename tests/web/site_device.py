"""A device on site, in Python: it seals entries as the phone does and sends them to a running server."""

from __future__ import annotations

import hashlib
import io
import itertools
import json
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import httpx

from desorb.core.kinds import Note, Reading
from desorb.notebook.entry import Entry, seal
from desorb.notebook.schema import payload_of

AT = "2026-02-03T09:00:00+00:00"
_numbers = itertools.count(1)


def texts_of(entry: Entry) -> dict[str, str]:
    assert entry.salt is not None
    assert entry.payload_text is not None
    return {"envelope": entry.envelope_text, "salt": entry.salt, "payload": entry.payload_text}


@dataclass
class Device:
    """One chain in one case. `write` seals; what is sent, and how often, is the test's business."""

    address: str
    case: str
    id: str = ""
    entries: list[Entry] = field(default_factory=list)
    clock: int = 0
    opening: str = ""

    def __post_init__(self) -> None:
        self.id = self.id or f"{0xD0000000 + next(_numbers):08x}"
        if not self.opening:
            pack = httpx.get(f"{self.address}/api/cases/{self.case}/pack", timeout=60).json()
            self.clock, self.opening = pack["highest_clock"], pack["opening_hash"]

    def write(self, record: Any, claimed_at: str = AT) -> Entry:
        self.clock += 1
        entry = seal(
            case=self.case, device=self.id, n=len(self.entries), prev=self.entries[-1].hash if self.entries else self.opening,
            clock=self.clock, kind=record.KIND, claimed_at=claimed_at, monotonic=self.clock * 1000,
            payload=payload_of(record),
        )  # fmt: skip
        self.entries.append(entry)
        return entry

    def note(self, words: str = "") -> Entry:
        return self.write(Note(words or f"note {len(self.entries)} of {self.id}", AT, "N. Ferrow"))

    def reading(self, spot: str, value: str = "61", instrument: str = "m1") -> Entry:
        key = f"site:{hashlib.sha256(f'{self.id} {len(self.entries)}'.encode()).hexdigest()[:16]}"
        return self.write(Reading(key, spot, "v5", instrument, "comparative", (value,), "vinyl", AT, by="N. Ferrow"))

    def send(self, *entries: Entry, client: Any = httpx) -> httpx.Response:
        return self.send_texts(*[texts_of(entry) for entry in entries], client=client)

    def send_texts(self, *texts: Any, client: Any = httpx) -> httpx.Response:
        answer: httpx.Response = client.post(
            f"{self.address}/api/cases/{self.case}/entries", headers=self.headers | {"content-type": "application/json"},
            content=json.dumps({"entries": list(texts)}).encode(), timeout=60,
        )  # fmt: skip
        return answer

    def put_photo(self, content: bytes, sha256: str = "", client: Any = httpx) -> httpx.Response:
        sha256 = sha256 or hashlib.sha256(content).hexdigest()
        answer: httpx.Response = client.put(
            f"{self.address}/api/cases/{self.case}/photos/{sha256}", content=content, timeout=60,
            headers=self.headers | {"content-type": "image/jpeg"},
        )  # fmt: skip
        return answer

    def photo_address(self, sha256: str) -> str:
        return f"{self.address}/api/cases/{self.case}/photos/{sha256}"

    @property
    def headers(self) -> dict[str, str]:
        return {"origin": self.address}


def states(answer: httpx.Response) -> list[str]:
    assert answer.status_code == 200, answer.text
    return [result["state"] for result in answer.json()["results"]]


@cache
def jpeg(seed: int = 0, width: int = 64, height: int = 48) -> bytes:
    """A small picture that is no other one's."""
    from PIL import Image

    image = Image.new("RGB", (width, height), ((seed * 37) % 256, (seed * 91) % 256, (seed * 13) % 256))
    written = io.BytesIO()
    image.save(written, "JPEG", comment=f"picture {seed}".encode())
    return written.getvalue()
