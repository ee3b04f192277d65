"""Who may do what: every operation has a row, and every cell of the table is tried over real HTTP.

Four people ask: the owner at the machine, a paired device, one that was withdrawn, and nobody in particular.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from web_operations import Operation, operations

from desorb.service.devices import VALID_DAYS
from desorb.web.pairing import COOKIE, pairing_of
from desorb.web.who_may import ANYONE, DEVICE, OWNER, WHO

BOX = "mybox.local"
EXTRA = {"GET /api/openapi.json"}  # the framework's own route; it is not there on a server that others reach
FILLED = {
    "sha256": "0" * 64,
    "device": "0badcafe",
    "n": "0",
    "day": "2026-01-20",
    "number": "1",
    "key": "x",
    "kind": "x",
    "name": "x",
}


@pytest.fixture
def shared(demo_home: Path, serve_home: Callable[..., Any]) -> Any:
    """A server that others reach, asked under its name on the network."""
    return serve_home(demo_home, names=(BOX,), shared=True)


def address_of(server: Any, operation: Operation, case: str) -> str:
    path = operation.path.replace("{case}", case)
    for part, value in FILLED.items():
        path = path.replace(f"{{{part}}}", value)
    for part in ("spot", "instrument", "token", "sheet"):
        path = path.replace(f"{{{part}}}", "x")
    assert "{" not in path, f"say in FILLED what stands for a part of {operation.path}"
    return f"{server.address}{path}"


def ask(server: Any, operation: Operation, case: str, *, host: str = "", token: str = "") -> httpx.Response:
    headers = {"host": host or f"127.0.0.1:{server.port}"}
    headers["origin"] = f"http://{headers['host']}"
    if token:
        headers["cookie"] = f"{COOKIE}={token}"
    body = None if operation.method == "GET" else b"not json"  # let in or not is settled before the body is read
    headers |= {} if body is None else {"content-type": "application/json"}
    return httpx.request(
        operation.method, address_of(server, operation, case), headers=headers, content=body, timeout=60
    )


def kept_out(answer: httpx.Response) -> bool:
    return answer.status_code == 403


def test_every_operation_has_a_row_and_every_row_an_operation() -> None:
    """Somebody adds a page or an operation and forgets to say who may use it: this test says so."""
    there = {operation.name for operation in operations()} | EXTRA
    assert there - set(WHO) == set(), "say in web/who_may.py who may use these"
    assert set(WHO) - there == set(), "these rows name nothing that is there"


def test_only_what_is_done_on_site_is_open_to_a_device() -> None:
    """A lost phone must not open the settings, take anything away or let another phone in."""
    words = (
        "settings",
        "removals",
        "devices",
        "instruments",
        "redaction",
        "bags",
        "unsent",
        "strikes",
        "reports",
        "rule-rows",
    )
    for name, who in WHO.items():
        if who != OWNER:
            assert not any(word in name for word in words), name
        if who == DEVICE and not name.startswith("GET"):
            assert name in ("POST /api/cases/{case}/entries", "PUT /api/cases/{case}/photos/{sha256}")


@pytest.mark.parametrize("part", range(4))
def test_every_cell_of_the_table(shared: Any, case_of_shared: str, part: int) -> None:
    """Each operation is asked by the owner, a paired device, a withdrawn one and a stranger; the table decides each time."""
    devices = pairing_of(shared.desk).devices
    _, paired = devices.pair("paired")
    gone, withdrawn = devices.pair("withdrawn")
    devices.withdraw(gone.id)
    wrong = []
    for operation in operations()[part::4]:
        who = WHO.get(operation.name, OWNER)
        expected = {
            "owner": True, "paired": who in (DEVICE, ANYONE), "withdrawn": who == ANYONE, "anonymous": who == ANYONE,
        }  # fmt: skip
        if operation.name in ("POST /api/practice/demonstration",):
            expected.pop("owner")  # builds a whole case: tried by its own tests
        for person, may in expected.items():
            token = {"paired": paired, "withdrawn": withdrawn}.get(person, "")
            answer = ask(shared, operation, case_of_shared, host="" if person == "owner" else BOX, token=token)
            if kept_out(answer) is may:
                wrong.append((operation.name, person, answer.status_code))
    assert wrong == []


@pytest.fixture
def case_of_shared(shared: Any) -> str:
    from desorb.service.cases import case_names

    return case_names(shared.store)["quillfen"]


def operation_named(name: str) -> Operation:
    return next(each for each in operations() if each.name == name)


def test_a_withdrawn_device_is_told_that_nothing_on_it_is_lost(shared: Any, case_of_shared: str) -> None:
    """A phone was reported lost and withdrawn; its owner finds it again with unsent readings on it."""
    devices = pairing_of(shared.desk).devices
    device, token = devices.pair("found again")
    sending = operation_named("POST /api/cases/{case}/entries")
    assert not kept_out(ask(shared, sending, case_of_shared, host=BOX, token=token))
    devices.withdraw(device.id)
    answer = ask(shared, sending, case_of_shared, host=BOX, token=token)
    assert answer.status_code == 403
    assert "withdrawn" in answer.json()["what"]
    assert "nothing on it is lost" in answer.json()["next"]
    assert "clear-site-data" not in answer.headers


def test_a_pairing_that_has_run_out_asks_for_the_code_again(shared: Any, case_of_shared: str) -> None:
    """Half a year later the phone has to be let in again; until then it keeps its work."""
    devices = pairing_of(shared.desk).devices
    _, token = devices.pair("old")
    started = shared.desk.clock()

    def later() -> datetime:
        return started + timedelta(days=VALID_DAYS + 1)

    shared.desk.clock = later
    answer = ask(shared, operation_named("GET /api/cases"), case_of_shared, host=BOX, token=token)
    assert answer.status_code == 403
    assert "run out" in answer.json()["what"]


def test_what_a_proxy_passes_on_is_not_the_owner(shared: Any, case_of_shared: str) -> None:
    """Somebody puts a proxy before the server: every request then comes from this machine, and is no owner by that."""
    listing = operation_named("GET /api/devices")
    assert kept_out(ask(shared, listing, case_of_shared, host=BOX))
    forwarded = httpx.get(f"{shared.address}/api/devices", headers={"host": BOX, "x-forwarded-for": "127.0.0.1"})
    assert forwarded.status_code == 403


@pytest.mark.parametrize("cookie", ["", "x", "0" * 64, "../../etc", "\u00e9".encode().decode("latin-1")])
def test_a_made_up_token_lets_nobody_in(shared: Any, case_of_shared: str, cookie: str) -> None:
    """Guessing a token is hopeless, and an odd one is no error of the server."""
    headers = {"host": BOX, "cookie": f"{COOKIE}={cookie}".encode("latin-1").decode("latin-1")}
    answer = httpx.get(f"{shared.address}/api/cases", headers={k: v.encode("latin-1") for k, v in headers.items()})
    assert answer.status_code == 403


def test_a_server_on_the_network_does_not_describe_itself_to_strangers(shared: Any) -> None:
    """The list of operations is for the owner's own tools, on loopback servers."""
    assert httpx.get(f"{shared.address}/api/openapi.json", headers={"host": BOX}).status_code == 404
