"""Invented cases for the tests of the office: a client without a browser, a large case, a case of odd texts.

Contents: client_of (requests straight into the application); furnish (rule, instrument, building); large_case; odd_case;
ODD (texts that try to be markup, paths or orders); PAGES (every page of a case).
"""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx

from desorb.core.kinds import (
    AirReading,
    Construction,
    Event,
    GateAnswer,
    Hazard,
    Instrument,
    InstrumentCheck,
    Note,
    NotInspected,
    NotRead,
    Readiness,
    Reading,
    RuleRow,
    Scale,
    ScaleShown,
    Spot,
    UnitChange,
    UnitReading,
    Visit,
    Zone,
)
from desorb.core.kinds import CheckBlock as Block
from desorb.notebook.store import Store
from desorb.service.cases import OpenCase, open_case, write
from desorb.web.app import create_app
from desorb.web.desk import Desk

BEGAN = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SCALE = Scale(
    "field", "capacitance", "comparative", bottom="0", top="100", resolution="1", repeatability="2", face="scale f"
)
ODD = (
    "<img src=x onerror=window.pwned=1>",
    '"><script>window.pwned=1</script>',
    "javascript:window.pwned=1",
    "{{ 7*7 }} ${7*7} {% raw %}",
    "'; DROP TABLE entry; -- & < > \" '",
    "\u202egnirts\u202c \u05e9\u05dc\u05d5\u05dd \u0e01\u0e33 \U0001f9ea",
)
PAGES = (
    "",
    "/difference",
    "/assessments",
    "/charts",
    "/next",
    "/report",
    "/record",
    "/methods",
    "/drying",
    "/spots/s1",
)


def at(day: int, minute: int = 0) -> str:
    return (BEGAN + timedelta(days=day, minutes=minute)).isoformat()


class Client:
    """Requests straight into the application, as they come from the owner's own page."""

    def __init__(self, desk: Desk) -> None:
        self.app: Any = create_app(desk)

    def request(self, method: str, address: str, **parts: Any) -> httpx.Response:
        async def ask() -> httpx.Response:
            transport = httpx.ASGITransport(app=self.app, client=("127.0.0.1", 50000))
            headers = {"origin": "http://127.0.0.1"} | parts.pop("headers", {})
            async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1", headers=headers) as client:
                return await client.request(method, address, **parts)

        with ThreadPoolExecutor(1) as elsewhere:  # a browser of another test may keep a loop running in this thread
            return elsewhere.submit(lambda: asyncio.run(ask())).result()

    def get(self, address: str, **parts: Any) -> httpx.Response:
        return self.request("GET", address, **parts)

    def post(self, address: str, json: Any = None, **parts: Any) -> httpx.Response:
        return self.request("POST", address, **({"json": json} if json is not None else {}), **parts)


def client_of(store: Store, now: datetime | None = None) -> Client:
    clock = (lambda: now) if now is not None else (lambda: datetime.now(UTC))
    return Client(Desk(store, clock=clock))


def furnish(store: Store, case: OpenCase, words: str = "screed on a slab") -> None:
    """What every case needs before something can be compared."""
    write(store, case, [
        Instrument("m1", f"meter, {words}", "A-1", (SCALE,), "2027-01-01", "certificate", (Block("field", "48", "2", 90),)),
        InstrumentCheck("m1", "field", "48", "48", "2", at(0, -30), "R. Marsh"),
        RuleRow("comparative", True, "0.10", "0.25", "2", "setting of ours", "R. Marsh"),
        Construction("c1", words, "cement screed", "1996"),
        Zone("dry", f"utility, {words}", "c1", "inside", "no"),
        Zone("wet", f"kitchen, {words}", "c1", "inside", "yes"),
        *(Spot(f"q{number}", "dry", "floor", "control", words) for number in range(1, 5)),
    ])  # fmt: skip


def sweep(visit: str, day: int, values: dict[str, str], note: str = "") -> list[Any]:
    records: list[Any] = [
        Visit(visit, at(day), "R. Marsh", note),
        Readiness("m1", visit, "yes", "yes", "yes", "yes", "yes", at(day, 1), "R. Marsh"),
        ScaleShown(visit, "m1", "field", "scale f", at(day, 2)),
    ]
    for minute, (spot, text) in enumerate(values.items(), 3):
        records.append(
            Reading(
                f"{visit}-{spot}",
                spot,
                visit,
                "m1",
                "field",
                (text,),
                "bare",
                at(day, minute),
                by="R. Marsh",
                note=note,
            )
        )
    return records


CONTROLS = {"q1": "18", "q2": "17", "q3": "19", "q4": "18"}


def large_case(store: Store, readings: int, visits: int = 5) -> OpenCase:
    """A case of about `readings` readings on many spots of several rooms."""
    case = open_case(store, f"large {readings}", site="invented works", time_zone="Europe/London", invented=True)
    furnish(store, case)
    count = max(1, readings // visits - len(CONTROLS))
    spots = [f"s{number}" for number in range(1, count + 1)]
    records: list[Any] = [Spot(name, "wet", f"floor {number // 20}", "survey") for number, name in enumerate(spots)]
    for visit in range(visits):
        values = dict(CONTROLS)
        for number, name in enumerate(spots):
            values[name] = str(max(17, 20 + number * 7 % 60 - 5 * visit))
        records += sweep(f"v{visit + 1}", 3 * visit, values)
    write(store, case, records)
    return case


def odd_case(store: Store, text: str) -> OpenCase:
    """One text everywhere a person can write: name, places, notes, reasons, gates, events, units."""
    printable = "".join(letter for letter in text if letter.isprintable())
    case = open_case(
        store, printable[:60] or "odd", site=text, time_zone="Europe/London", opened_by=text, client=text, scope=text
    )
    furnish(store, case, text)
    write(store, case, [
        Spot("s1", "wet", text, "survey", text, offset_a="1.2", offset_a_from=text), Spot(text, "wet", "floor", "survey", text),
        *sweep("v1", 0, CONTROLS | {"s1": "60"}, text), *sweep("v2", 5, CONTROLS | {"s1": "40"}, text),
        NotRead(text, "v2", text, at(5, 30), "m1", "field", text), Hazard("electricity", "wet", text, at(0), text, text),
        GateAnswer("gas", ("wet", "dry"), (), text, text, text, text, at(1), text),
        Event(at(0), text, "told", text, text), Note(text, at(0), text), NotInspected(text, text, text, (), at(0), text),
        UnitChange("u1", text, "wet", "set", at(3), text, text), UnitReading("k", "u1", "v2", at(5), "10", "2", "", text, text),
        AirReading("a1", text, "affected", "v2", "m1", "20", "60", at(5), by=text, note=text),
    ])  # fmt: skip
    return case
