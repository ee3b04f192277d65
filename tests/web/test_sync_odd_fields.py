"""One odd field in an otherwise plain entry of a device: taken or refused, and every page of the office still opens."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import httpx
import pytest
from site_device import AT, Device, states

from desorb.core.kinds import (
    AirReading,
    FindingAnswer,
    Hazard,
    Note,
    NotInspected,
    NotRead,
    Reading,
    SaltTest,
    Scan,
    Strike,
    UnitReading,
    Visit,
)

ODD = (
    "",
    "9e999999",
    "-1",
    "NaN",
    "2026-13-45",
    "\u0661\u0662",
    "x" * 5000,
    "\ud7ff\u0000",
    "0001-01-01T00:00:00+23:59",
)
LOOKED_AT = ("/", "/api/cases", "/api/cases/{case}/pack", "/cases/{case}", "/cases/{case}/record", "/cases/{case}/difference",
             "/cases/{case}/next")  # fmt: skip


def plain_records(target: str) -> list[Any]:
    return [
        SaltTest("store", "floor", "positive", "strip", AT, "N. Ferrow"),
        Note("words", AT, "N. Ferrow", "key-1"),
        NotRead("k3", "v5", "locked", AT, "m1", "comparative", "N. Ferrow"),
        FindingAnswer("check-drift", "v5", "m1", "comparative", "checked again", AT, "N. Ferrow"),
        Strike(target, "mistyped", "N. Ferrow", AT),
        Visit("v9", AT, "N. Ferrow"),
        Reading("site:1", "k3", "v5", "m1", "comparative", ("61",), "vinyl", AT, by="N. Ferrow"),
    ]


def sparse(record: type[Any]) -> Any:
    """A record of which only what must be given is given."""
    known = {
        "at": AT,
        "taken_at": AT,
        "visit": "v5",
        "zone": "store",
        "element": "floor",
        "gate": "structure",
        "unit": "u1",
    }
    given = [each.name for each in fields(record) if each.default.__class__.__name__ == "_MISSING_TYPE"]
    return record(**{name: known.get(name, "1") for name in given})


KINDS = [type(each) for each in plain_records("")] + [Hazard, Scan, NotInspected, AirReading, UnitReading]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.KIND)
def test_one_odd_field_leaves_every_page_open(server: Any, case_id: str, kind: type[Any]) -> None:
    """A broken device sends one field of nonsense after the other: what is received can be read, the rest is set aside."""
    device = Device(server.address, case_id)
    first = device.note()
    device.send(first)
    plain = {type(each): each for each in plain_records(first.hash)}.get(kind) or sparse(kind)
    made = [device.write(plain)]
    for part in fields(kind):
        value = getattr(plain, part.name)
        for odd in ODD if isinstance(value, str) else ():
            changes = {part.name: odd} | (
                {"key": f"{part.name} {odd}"[:40]} if "key" not in (part.name,) and hasattr(plain, "key") else {}
            )
            made.append(device.write(replace(plain, **changes)))
        if isinstance(value, tuple) and all(isinstance(each, str) for each in value):
            made += [device.write(replace(plain, **{part.name: (odd, odd)})) for odd in ODD]
    for start in range(0, len(made), 200):
        assert set(states(device.send(*made[start : start + 200]))) <= {"received", "refused"}
    for place in LOOKED_AT:
        answer = httpx.get(f"{server.address}{place.format(case=case_id)}", timeout=60)
        assert answer.status_code == 200, (place, answer.text[:300])
        assert "cannot be read" not in answer.text or place != "/", answer.text[:300]
