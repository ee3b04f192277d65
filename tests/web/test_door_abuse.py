"""Abuse at the door: odd hosts, endless and slow bodies, deep JSON, odd paths. Everyone else is served meanwhile."""

from __future__ import annotations

import hashlib
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import pytest
from web_operations import operations

from desorb.notebook.store import Store
from desorb.service.cases import case_names
from desorb.web import door
from desorb.web.door import HEADERS


def raw(server: Any, *pieces: bytes, end: bool = False) -> bytes:
    """What the server answers to these bytes, byte for byte, until it closes."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=30) as line:
        for piece in pieces:
            line.sendall(piece)
        if end:
            line.shutdown(socket.SHUT_WR)
        answer = b""
        while more := line.recv(65536):
            answer += more
        return answer


def head(server: Any, first: str, *lines: str, host: str = "") -> bytes:
    rows = [
        first,
        f"host: {host or f'127.0.0.1:{server.port}'}",
        f"origin: {server.address}",
        "connection: close",
        *lines,
    ]
    return ("\r\n".join(rows) + "\r\n\r\n").encode("latin-1")


def status(answer: bytes) -> int:
    return int(answer.split(b" ", 2)[1])


GOOD_HOSTS = ("127.0.0.1", "localhost", "LOCALHOST", "[::1]")
BAD_HOSTS = (
    "", "records.invalid", "127.0.0.1.records.invalid", "127.0.0.1:80@records.invalid", "localhost.", "[::1", "::1",
    "[::1]x", "127.0.0.1:x", "127.0.0.1:999999", "127.0.0.2", "0.0.0.0", "[::ffff:127.0.0.1]", "local host", "127.1", "[::]",
    "user:word@127.0.0.1", "127.0.0.1/", "127.0.0.1#", "\u00b9\u00b2\u00b7.0.0.1",
)  # fmt: skip


def test_the_names_of_this_machine_are_known(server: Any) -> None:
    """The owner types localhost, or the address in either form."""
    for name in (*GOOD_HOSTS, *(f"{host}:{server.port}" for host in GOOD_HOSTS)):
        assert status(raw(server, head(server, "GET /api/cases HTTP/1.1", host=name))) == 200


def test_any_other_name_is_turned_away(server: Any) -> None:
    """A foreign name pointed at this machine, or one written to look like ours, opens nothing."""
    for host in BAD_HOSTS:
        rows = f"GET /api/cases HTTP/1.1\r\nhost: {host}\r\nconnection: close\r\n\r\n"
        assert status(raw(server, rows.encode("latin-1", "replace"))) == 400, host


def test_a_header_that_stands_twice_is_turned_away(server: Any) -> None:
    """Two hosts or two origins in one request: whoever reads another one than we do would be fooled."""
    own = f"127.0.0.1:{server.port}"
    twice = f"GET /api/cases HTTP/1.1\r\nhost: {own}\r\nhost: {own}\r\nconnection: close\r\n\r\n"
    assert status(raw(server, twice.encode())) == 400
    body = head(server, "POST /api/practice/repeats HTTP/1.1", "origin: http://elsewhere.invalid", "content-length: 0")
    assert status(raw(server, body)) == 400


def test_deep_json_is_refused_and_the_server_goes_on(server: Any, case_id: str) -> None:
    """One line of a hundred thousand brackets must not bring the office down."""
    depth = 100_000
    for body in (
        "[" * depth,
        "[" * depth + "]" * depth,
        '{"entries":' * depth,
        '{"entries":' + "[" * depth + "]" * depth + "}",
    ):
        answer = httpx.post(
            f"{server.address}/api/cases/{case_id}/entries", content=body,
            headers={"origin": server.address, "content-type": "application/json"},
        )  # fmt: skip
        assert 400 <= answer.status_code < 500
    assert httpx.get(f"{server.address}/api/cases").status_code == 200


def test_a_body_that_says_it_is_too_large_is_not_read(server: Any, case_id: str) -> None:
    """The size is known before the first byte: refused there, with the limit in words."""
    request = head(server, f"POST /api/cases/{case_id}/entries HTTP/1.1", f"content-length: {door.LARGEST_BODY + 1}",
                   "content-type: application/json")  # fmt: skip
    answer = raw(server, request)
    assert status(answer) == 413
    assert b"at most 4 MiB" in answer


def test_a_body_without_an_end_is_cut_off_at_the_limit(
    server: Any, case_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In pieces and without a size: it is counted while it comes."""
    monkeypatch.setattr(door, "LARGEST_BODY", 100_000)

    def pieces() -> Iterator[bytes]:
        for _ in range(1000):
            yield b" " * 1000

    address = f"{server.address}/api/cases/{case_id}/entries"
    headers = {"origin": server.address, "content-type": "application/json"}
    try:
        answer = httpx.post(address, content=pieces(), headers=headers)
    except httpx.HTTPError:  # the server closed while the client was still sending
        answer = None
    assert answer is None or answer.status_code == 413
    small = httpx.post(address, content=b" " * 99_000, headers=headers)
    assert small.status_code == 422


@pytest.mark.parametrize("setting", ["LONGEST_SILENCE", "LONGEST_START"])
def test_a_body_that_does_not_come_is_given_up(
    server: Any, case_id: str, monkeypatch: pytest.MonkeyPatch, setting: str
) -> None:
    """Somebody opens requests and sends a byte now and then, to keep every place taken."""
    monkeypatch.setattr(door, setting, 0.3)
    for path in (f"/api/cases/{case_id}/entries", f"/api/cases/{case_id}/photos/{'0' * 64}"):
        method = "PUT" if "photos" in path else "POST"
        answer = raw(server, head(server, f"{method} {path} HTTP/1.1", "content-length: 1000",
                                  "content-type: application/json"), b'{"')  # fmt: skip
        assert status(answer) == 408
        assert b"did not come" in answer
        assert b"content-security-policy" in answer


def everything(answer: httpx.Response) -> dict[str, str]:
    return {name: answer.headers.get(name, "") for name in HEADERS}


def test_every_answer_carries_the_headers_whatever_it_is(server: Any, case_id: str) -> None:
    """A page, a file, an answer, a refusal, a page that is not there, another method: a browser is told the same rules."""
    asked = [
        ("GET", "/"), ("GET", "/static/paper.css"), ("GET", "/static/none.css"), ("GET", "/nowhere"), ("GET", "/api/nowhere"),
        ("GET", "/api/cases"), ("GET", "/api/openapi.json"), ("HEAD", "/"), ("HEAD", "/api/cases"), ("OPTIONS", "/"),
        ("OPTIONS", "/api/cases"), ("DELETE", f"/api/cases/{case_id}"), ("PATCH", "/"), ("TRACE", "/"), ("POST", "/"),
        ("GET", f"/api/cases/{case_id}/photos/x"), ("GET", "/api/cases/none/pack"), ("POST", f"/api/cases/{case_id}/entries"),
    ]  # fmt: skip
    for method, path in asked:
        for headers in ({}, {"origin": server.address}, {"host": "other.invalid"}):
            answer = httpx.request(method, f"{server.address}{path}", headers=headers)
            assert answer.status_code < 500, (method, path)
            assert everything(answer) == HEADERS, (method, path, headers)
            if not path.startswith("/static"):
                assert answer.headers["cache-control"] == "no-store"


def test_a_fault_of_our_own_is_answered_with_the_headers_too(server: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Something breaks inside: the person gets a sentence, the headers stand, and nothing inside is told."""
    from desorb.web import pages_pairing

    def broken(*_: object, **__: object) -> Any:
        raise RuntimeError("a secret inside")

    monkeypatch.setattr(pages_pairing, "page", broken)
    answer = httpx.get(f"{server.address}/pair")
    assert answer.status_code == 500
    assert everything(answer) == HEADERS
    assert "nothing acknowledged is lost" in answer.text
    assert "secret" not in answer.text


TRAVERSALS = [
    form.replace("T", target)
    for target in ("etc/passwd", "record.sqlite", "settings.toml")
    for form in (
        "../T", "../../../../../../../../T", "..%2fT", "..%252fT", "%2e%2e/T", "%2e%2e%2fT", "%252e%252e%252fT", "..\\T",
        "..%5cT",
        "....//T", "..;/T", "/T", "//T", "%2fT", "C:/T", "C:%5cT", "\\\\server\\T", "~/T", "file:///T", "T%00", "T%00.jpg",
        "%c0%ae%c0%ae/T", "%c0%af..%c0%afT", "%uff0e%uff0e/T", "..%u2215T", "./T", ".%00./T", "..%0d%0a/T", "..%ef%bc%8fT",
        "%e2%80%ae/T", "aux", "con.txt", "T::$DATA", "..." + "/T",
    )
]  # fmt: skip


def test_no_address_leads_out_of_the_house(server: Any, case_id: str) -> None:
    """Every parameter of every address is tried with a hundred ways of writing 'one folder up'."""
    secrets = [b"root:", Store.__name__.encode() + b"-never", b"SQLite format 3"]
    gets = [each.path for each in operations() if each.method == "GET" and "{" in each.path]
    places = ["/static/{x}", *gets]
    with httpx.Client(base_url=server.address, timeout=60) as client:
        for number, form in enumerate(TRAVERSALS):
            place = places[number % len(places)]
            for path in (place, places[0]):
                first, _, rest = path.partition("{")
                asked = first + form + rest.partition("}")[2].replace("{", "").replace("}", "")
                answer = client.get(httpx.URL(server.address).join("/").copy_with(raw_path=quote_nothing(asked)))
                assert answer.status_code < 500, asked
                assert answer.status_code >= 400 or not any(each in answer.content for each in secrets), asked
                assert b"root:x:" not in answer.content


def quote_nothing(path: str) -> bytes:
    """The path as it stands; only what no request line can hold is written as percent signs."""
    return quote(path, safe="/%\\~:;.$?&=@!*'(),+-_").encode()


def contents_of(home: Path) -> dict[str, str]:
    """Every file of the store with the digest of its bytes, but for the log that reading may touch."""
    return {
        str(path.relative_to(home)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(home.rglob("*"))
        if path.is_file()
        and not path.name.endswith(("-shm", "-wal"))
        and path.parent.name != "made"  # made anew at will
    }


def rows_in(store: Store) -> dict[str, list[Any]]:
    tables = ("about", "entry", "payload", "receipt", "set_aside", "removal")
    return {table: store._all(f"SELECT * FROM {table} ORDER BY 1, 2") for table in tables}


@pytest.mark.parametrize("with_register", [True, False], ids=["with instruments", "a new store"])
def test_looking_changes_nothing(
    demo_home: Path, tmp_path: Path, serve_home: Callable[..., Any], with_register: bool
) -> None:
    """Every page and every address that is read: afterwards the record and every file is what it was."""
    server = serve_home(demo_home if with_register else tmp_path / "new")
    case = next(iter(case_names(server.store).values()), "0" * 32)
    before_rows, before = rows_in(server.store), contents_of(server.home)
    with httpx.Client(base_url=server.address, timeout=120) as client:
        for operation in operations():
            if operation.method != "GET":
                continue
            path = operation.path.replace("{case}", case).replace("{device}", server.store.device).replace("{n}", "0")
            for part, value in (("spot", "k3"), ("number", "1"), ("day", "2026-01-20"), ("sha256", "0" * 64),
                                ("name", "readings"), ("key", "x"), ("token", "x"), ("sheet", "x")):  # fmt: skip
                path = path.replace(f"{{{part}}}", value)
            assert client.get(path).status_code < 500, path
            if not with_register:
                assert client.head(path).status_code < 500, path
            changed = [name for name, rows in rows_in(server.store).items() if rows != before_rows[name]]
            assert changed == [], f"{operation.name} wrote to {changed}"
    assert contents_of(server.home) == before
