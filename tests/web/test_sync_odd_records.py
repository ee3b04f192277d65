"""A device may write anything that has the form of a record: the case must stay readable, whatever stands in it."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any, get_args, get_origin, get_type_hints

import httpx
import pytest
from site_device import Device, states

from desorb.core import kinds
from desorb.service.syncing import NOT_FROM_A_DEVICE

ODD = ("", "not a number", "9" * 60, "-1", "2026-13-45", "NaN", "1e400", "\u0661\u0662")
LOOKED_AT = ("/api/cases/{case}/pack", "/cases/{case}", "/cases/{case}/assessments", "/api/cases/{case}/assessments")


def odd_record(record: type[Any], text: str, known: dict[str, str]) -> Any:
    """A record whose every text is odd, but for the names that make it bear on something."""
    hints = get_type_hints(record)
    values: dict[str, Any] = {}
    for part in fields(record):
        hint = hints[part.name]
        if part.name in known:
            values[part.name] = known[part.name]
        elif hint is str:
            values[part.name] = text
        elif hint is int:
            values[part.name] = -1
        elif hint is bool:
            values[part.name] = True
        elif get_origin(hint) is tuple:
            inner = get_args(hint)[0]
            values[part.name] = (odd_record(inner, text, known) if is_dataclass(inner) else text,) * 2
    return record(**values)


@pytest.mark.parametrize(
    "record", [each for each in kinds.RECORDS if each.KIND not in NOT_FROM_A_DEVICE], ids=lambda r: r.KIND
)
def test_odd_records_leave_the_case_readable(server: Any, case_id: str, record: type[Any]) -> None:
    """A mistyped or hostile entry of each kind arrives from a phone: the pages and the pack still open."""
    device = Device(server.address, case_id)
    known_sets = (
        {},
        {"spot": "k3", "instrument": "m1", "scale": "comparative", "visit": "v5", "zone": "store", "element": "floor",
         "construction": "c1"},
        {"id": "m1"}, {"id": "store"}, {"id": "k3"},
    )  # fmt: skip
    for known in known_sets:
        made = [device.write(odd_record(record, text, known)) for text in ODD]
        assert set(states(device.send(*made))) <= {"received", "refused"}
    for place in LOOKED_AT:
        answer = httpx.get(f"{server.address}{place.format(case=case_id)}", timeout=60)
        assert answer.status_code == 200, (place, answer.text[:300])
