"""One call of every operation that is known to work, on the demonstration case. test_openapi.py runs them all.

An operation without a row here fails that test. Write the shortest call that succeeds.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import httpx
from site_device import AT, Device, jpeg, texts_of

from desorb.web.pairing import pairing_of


@dataclass(frozen=True, slots=True)
class Call:
    path: dict[str, str] = field(default_factory=dict)
    query: dict[str, str] = field(default_factory=dict)
    json: Any = None
    content: bytes | None = None
    headers: dict[str, str] = field(default_factory=dict)
    status: int = 200


@dataclass(frozen=True, slots=True)
class Place:
    """A running server over the demonstration store, and its case."""

    server: Any
    case: str

    def get(self, path: str) -> Any:
        return httpx.get(f"{self.server.address}/api/cases/{self.case}{path}", timeout=120).json()

    @property
    def device(self) -> Device:
        return Device(self.server.address, self.case)

    def note(self) -> str:
        """The name of an entry that may be struck or removed."""
        device = self.device
        device.send(device.note())
        return f"{device.id}/0"

    def photo(self) -> str:
        """The SHA-256 of a photo with its entry."""
        from desorb.core.kinds import Photo

        device, content = self.device, jpeg(77)
        sha256 = hashlib.sha256(content).hexdigest()
        device.put_photo(content)
        device.send(device.write(Photo(sha256, "image/jpeg", len(content), "a photo", AT, visit="v5", by="N. Ferrow")))
        return sha256

    def report(self) -> dict[str, Any]:
        found: dict[str, Any] = self.server.store and next(
            entry.payload() for entry in self.server.store.entries(self.case) if entry.kind == "report-issued"
        )
        return found

    def bag(self) -> bytes:
        return httpx.get(f"{self.server.address}/api/cases/{self.case}/bag.zip", timeout=120).content

    def area(self) -> str:
        """The name of the entry that hides an area of a photo."""
        answer = httpx.post(
            f"{self.server.address}/api/cases/{self.case}/redaction/areas", json=_area(self),
            headers={"origin": self.server.address}, timeout=60,
        )  # fmt: skip
        assert answer.status_code == 200, answer.text
        marks = [entry for entry in self.server.store.entries(self.case) if entry.kind == "photo-mark"]
        return str(marks[-1].name)


def _area(place: Place) -> dict[str, str]:
    return {"sha256": place.photo(), "left": "0.1", "top": "0.1", "width": "0.2", "height": "0.2", "words": "a face",
            "by": "N. Ferrow"}  # fmt: skip


def _png() -> bytes:
    from PIL import Image

    written = io.BytesIO()
    Image.new("RGB", (40, 30), (200, 200, 190)).save(written, "PNG")
    return written.getvalue()


def _new_photo(place: Place) -> Call:
    content = jpeg(4711)
    return Call(
        {"sha256": hashlib.sha256(content).hexdigest()}, content=content, headers={"content-type": "image/jpeg"}
    )


def _picture(place: Place) -> Call:
    answer = httpx.post(
        f"{place.server.address}/api/cases/{place.case}/plan/source?name=plan.png", content=_png(),
        headers={"origin": place.server.address, "content-type": "application/octet-stream"}, timeout=60,
    )  # fmt: skip
    assert answer.status_code == 200, answer.text
    made = answer.json()
    return Call(
        json={"sha256": made["sha256"], "width": 40, "height": 30, "metres_per_pixel": "0.05", "by": "N. Ferrow"}
    )


def _repeats(place: Place) -> str:
    answer = httpx.post(
        f"{place.server.address}/api/practice/repeats", headers={"origin": place.server.address}, timeout=60,
        json={"by": "N. Ferrow", "scale": "comparative", "lines": ["a 51", "b 62", "c 40"]},
    )  # fmt: skip
    assert answer.status_code == 200, answer.text
    return str(answer.json()["number"])


def _unsent(place: Place) -> Call:
    device = place.device
    content = {"schema": "desorb-unsent/1", "entries": [texts_of(device.note())], "photos": []}
    return Call(content=json.dumps(content).encode(), headers={"content-type": "application/json"})


def _withdrawal(place: Place) -> Call:
    return Call({"device": pairing_of(place.server.desk).devices.pair("to be withdrawn")[0].id})


def plain(**parts: Any) -> Callable[[Place], Call]:
    return lambda place: Call(**parts)


def _table(name: str, content: bytes) -> Call:
    return Call(
        query={"name": name, "by": "N. Ferrow"}, content=content, headers={"content-type": "application/octet-stream"}
    )


_INSTRUMENT = {
    "id": "m8", "words": "a third meter",
    "scales": [{"key": "comparative", "principle": "capacitance", "claims": "comparative", "bottom": "0", "top": "100",
                "resolution": "1"}],
}  # fmt: skip

_FLOOR_TEST = {
    "id": "f9", "zone": "store", "method": "carbide", "area": "20", "thickness": "65", "drying_faces": "1",
    "at": "2026-02-02T10:00", "material": "cement", "heated": "no", "region": "DE",
}  # fmt: skip

GOOD_CALLS: dict[str, Callable[[Place], Call]] = {
    "GET /api/cases": plain(),
    "POST /api/cases": plain(json={"name": "new case", "site": "a place", "time_zone": "Europe/London"}, status=201),
    "GET /api/cases/{case}": plain(),
    "GET /api/cases/{case}/assessments": plain(query={"known_on": "2026-01-20"}),
    "GET /api/cases/{case}/needs": plain(),
    "GET /api/cases/{case}/next": plain(),
    "GET /api/cases/{case}/spots/{spot}": plain(path={"spot": "k3"}),
    "GET /api/cases/{case}/difference": plain(query={"earlier": "v1", "later": "v5"}),
    "GET /api/cases/{case}/charts": plain(),
    "GET /api/cases/{case}/charts/{key}.svg": lambda place: Call({"key": place.get("/charts")[0]["key"]}),
    "GET /api/cases/{case}/log": plain(),
    "GET /api/cases/{case}/log/{device}/{n}": lambda place: Call({"device": place.server.store.device, "n": "0"}),
    "GET /api/cases/{case}/bag.zip": plain(),
    "POST /api/bags": lambda place: Call(
        query={"name": "a.zip"}, content=place.bag(), headers={"content-type": "application/octet-stream"}, status=201
    ),
    "POST /api/cases/{case}/files": lambda place: _table(
        "readings.csv", b"visit,taken_at,spot,instrument,scale,value,covering\nv5,2026-02-02T12:00,k3,m1,comparative,55,vinyl\n"
    ),
    "GET /api/instruments": plain(),
    "POST /api/instruments": plain(json=_INSTRUMENT),
    "POST /api/instruments/{instrument}/checks": plain(path={"instrument": "m1"}, json={"value": "60", "by": "N. Ferrow"}),
    "POST /api/pair": plain(json={"code": "x", "name": "y"}, status=409),  # nothing needs pairing here; see test_pairing.py
    "GET /api/devices": plain(),
    "POST /api/devices/{device}/withdrawal": _withdrawal,
    "GET /api/cases/{case}/plan": plain(),
    "GET /api/cases/{case}/plan/picture": lambda place: (_put_picture(place), Call())[1],
    "POST /api/cases/{case}/plan/picture": _picture,
    "POST /api/cases/{case}/plan/source": lambda place: Call(
        query={"name": "plan.png"}, content=_png(), headers={"content-type": "application/octet-stream"}
    ),
    "POST /api/cases/{case}/rooms": plain(json={"id": "r1", "outline": ["0 0", "4 0", "4 3", "0 3"], "by": "N. Ferrow"}),
    "POST /api/cases/{case}/zones": lambda place: Call(
        json={"id": "z9", "words": "a cupboard", "construction": place.get("/pack")["constructions"][0]["id"]}
    ),
    "POST /api/cases/{case}/constructions": plain(json={"id": "c9", "material": "brick"}),
    "POST /api/cases/{case}/spots": plain(json={"id": "q9", "zone": "store", "element": "floor"}),
    "GET /api/practice": plain(),
    "POST /api/practice/demonstration": plain(),
    "GET /api/practice/cases/{case}": plain(),
    "POST /api/practice/cases/{case}/marks": lambda place: Call(
        json={"by": "N. Ferrow", "answers": [
            {"spot": spot["spot"], "status": "above control", "why": "beyond limit"} for spot in _spots_to_mark(place)]}
    ),
    "POST /api/practice/repeats": plain(json={"by": "N. Ferrow", "scale": "comparative", "lines": ["a 51", "b 62", "c 40"]}),
    "POST /api/practice/repeats/{number}/second": lambda place: Call(
        {"number": _repeats(place)}, json={"lines": ["a 52", "b 61", "c 41"]}
    ),
    "POST /api/cases/{case}/strikes": lambda place: Call(
        json={"entry": place.note(), "why": "mistyped", "by": "N. Ferrow"}, status=201
    ),
    "POST /api/cases/{case}/removals": lambda place: _removal(place),
    "GET /api/cases/{case}/verification": plain(),
    "GET /api/verification": plain(),
    "GET /api/cases/{case}/known-on": plain(),
    "GET /api/cases/{case}/known-on/{day}": plain(path={"day": "2026-01-20"}),
    "POST /api/cases/{case}/redaction/preview": plain(json={"names": ["N. Ferrow"]}),
    "GET /api/cases/{case}/redaction/areas": plain(),
    "POST /api/cases/{case}/redaction/areas": lambda place: Call(json=_area(place)),
    "POST /api/cases/{case}/redaction/areas/taken-back": lambda place: Call(
        json={"entry": place.area(), "why": "the wrong place", "by": "N. Ferrow"}
    ),
    "POST /api/cases/{case}/redaction/copy": plain(json={"names": ["N. Ferrow"]}),
    "GET /api/cases/{case}/reports": plain(),
    "POST /api/cases/{case}/reports": plain(json={"by": "N. Ferrow"}, status=201),
    "GET /api/cases/{case}/reports/{sha256}.pdf": lambda place: Call({"sha256": place.report()["pdf_sha256"]}),
    "GET /api/cases/{case}/reports/{number}/case.json": plain(path={"number": "1"}),
    "GET /api/cases/{case}/preview.pdf": plain(),
    "GET /api/cases/{case}/case.json": plain(),
    "GET /api/cases/{case}/tables/{name}.csv": plain(path={"name": "readings"}),
    "GET /api/settings": plain(),
    "POST /api/settings": plain(json={"name": "N. Ferrow"}),
    "GET /api/retention": plain(),
    "GET /api/cases/{case}/settings": plain(),
    "POST /api/cases/{case}/settings": plain(
        json={"key": "control fresh hours", "value": "20", "source": "agreed", "by": "N. Ferrow"}
    ),
    "POST /api/cases/{case}/rule-rows": plain(
        json={"scale_class": "comparative", "on_logarithms": True, "class_spread": "0.1", "margin": "0.25",
              "repeatability": "1", "source": "agreed", "by": "N. Ferrow"}
    ),
    "GET /api/cases/{case}/pack": plain(),
    "POST /api/cases/{case}/entries": lambda place: Call(json={"entries": [texts_of(place.device.note())]}),
    "PUT /api/cases/{case}/photos/{sha256}": _new_photo,
    "GET /api/cases/{case}/photos/{sha256}": lambda place: Call({"sha256": place.photo()}, {"width": "100"}),
    "POST /api/unsent": _unsent,
    "GET /api/cases/{case}/methods": plain(),
    "GET /api/cases/{case}/drying": plain(),
    "GET /api/cases/{case}/plots/{key}.svg": lambda place: (_samples(place), Call({"key": _plot_key(place)}))[1],
    "POST /api/cases/{case}/rows/{kind}": plain(path={"kind": "floor-test"}, json=_FLOOR_TEST, status=201),
    "POST /api/cases/{case}/limits": lambda place: (
        _row(place, "floor-test", _FLOOR_TEST | {"id": "f8"}), Call(json={"test": "f8", "by": "N. Ferrow"}, status=201)
    )[1],
}  # fmt: skip


def _spots_to_mark(place: Place) -> list[dict[str, Any]]:
    address = f"{place.server.address}/api/practice/cases/{place.case}"
    found: list[dict[str, Any]] = httpx.get(address, timeout=60).json()["spots"]
    return found


def _row(place: Place, kind: str, parts: dict[str, str]) -> None:
    answer = httpx.post(
        f"{place.server.address}/api/cases/{place.case}/rows/{kind}", json=parts, timeout=60,
        headers={"origin": place.server.address},
    )  # fmt: skip
    assert answer.status_code == 201, answer.text


def _samples(place: Place) -> None:
    """Two weighed samples at two depths of one place: a profile is drawn."""
    for number, (depth, moist) in enumerate((("10", "11"), ("40", "13")), 1):
        name = f"w{number}"
        _row(place, "sample", {"id": name, "zone": "store", "element": "north wall", "material": "brick", "height": "0.3",
                               "depth_from": depth, "depth_to": str(int(depth) + 10), "line": "a", "taken_at": AT})  # fmt: skip
        _row(place, "weighing", {"sample": name, "state": "moist", "mass": moist, "at": AT})
        _row(place, "weighing", {"sample": name, "state": "dry", "mass": "10", "at": AT, "oven_temperature": "105"})


def _plot_key(place: Place) -> str:
    return next(plot["key"] for row in place.get("/methods") for plot in row["plots"])


def _put_picture(place: Place) -> None:
    answer = httpx.post(
        f"{place.server.address}/api/cases/{place.case}/plan/picture", json=_picture(place).json,
        headers={"origin": place.server.address}, timeout=60,
    )  # fmt: skip
    assert answer.status_code == 200, answer.text


def _removal(place: Place) -> Call:
    entry = place.note()
    return Call(
        json={"entry": entry, "why": "asked", "authority": "law", "by": "N. Ferrow", "confirm": entry}, status=201
    )
