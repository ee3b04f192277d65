"""Letting a phone in: the code that is typed once, what the phone keeps, what the server keeps, and a real TLS server."""

from __future__ import annotations

import json
import os
import re
import signal
import ssl
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from desorb.errors import InputError, NotFound, NotUnderstood, Refused
from desorb.notebook.store import Store
from desorb.service.cases import open_case
from desorb.service.devices import Devices
from desorb.web.pairing import (
    ALPHABET,
    CODE_LENGTH,
    COOKIE,
    LONGEST_WAIT,
    TRIES,
    TRIES_OF_ALL,
    Pairing,
    new_code,
    pairing_of,
)
from desorb.web.problems import NotAllowed, TooManyTries

BOX = "mybox.local"


@pytest.fixture
def shared(tmp_path: Path, serve_home: Callable[..., Any]) -> Any:
    server = serve_home(tmp_path / "home", names=(BOX,), shared=True)
    open_case(server.store, "quillfen", site="s", time_zone="UTC")
    return server


def pair(server: Any, code: str, name: str = "Ada, phone") -> httpx.Response:
    return httpx.post(
        f"{server.address}/api/pair",
        json={"code": code, "name": name},
        headers={"host": BOX, "origin": f"http://{BOX}"},
    )


def test_a_phone_types_the_code_once_and_is_let_in(shared: Any) -> None:
    """The surveyor opens /pair on her phone, types the code from the office screen, and sees her cases."""
    assert httpx.get(f"{shared.address}/", headers={"host": BOX}).status_code == 403
    page = httpx.get(f"{shared.address}/pair", headers={"host": BOX})
    assert page.status_code == 200
    assert pairing_of(shared.desk).code not in page.text
    code = pairing_of(shared.desk).code
    answer = pair(shared, f" {code[:3].lower()} {code[3:6]}-{code[6:]} ")
    assert answer.status_code == 200, answer.text
    cookie = answer.headers["set-cookie"]
    token = re.match(rf"{COOKIE}=([0-9a-f]+);", cookie)[1]  # type: ignore[index]
    assert len(token) * 4 == 256
    for part in ("HttpOnly", "Secure", "SameSite=strict", "Path=/"):
        assert part.casefold() in cookie.casefold()
    assert "domain" not in cookie.casefold()
    seen = httpx.get(f"{shared.address}/api/cases", headers={"host": BOX, "cookie": f"{COOKIE}={token}"})
    assert [case["name"] for case in seen.json()] == ["quillfen"]


def test_the_server_keeps_no_token(shared: Any) -> None:
    """Who reads the disk of the office machine cannot come in as the phone."""
    token = re.match(r"[^=]+=([0-9a-f]+)", pair(shared, pairing_of(shared.desk).code).headers["set-cookie"])[1]  # type: ignore[index]
    kept = (shared.home / "devices.json").read_text()
    assert token not in kept
    (line,) = json.loads(kept)["devices"]
    assert set(line) == {"id", "name", "token_sha256", "paired_at", "last_seen", "withdrawn"}
    assert line["name"] == "Ada, phone"
    assert os.name == "nt" or (shared.home / "devices.json").stat().st_mode & 0o077 == 0


def test_a_wrong_code_is_refused_and_after_five_it_waits(shared: Any) -> None:
    """Somebody in the same network guesses: after five wrong codes even the right one has to wait."""
    for _ in range(TRIES):
        assert pair(shared, "222 222 222").status_code == 403
    answer = pair(shared, pairing_of(shared.desk).code)
    assert answer.status_code == 429
    assert "wait" in answer.json()["next"]
    assert not (shared.home / "devices.json").exists()


class Timer:
    now = 1000.0

    def __call__(self) -> float:
        return self.now


def test_the_wait_grows_ends_and_locks_no_one_else_out(tmp_path: Path) -> None:
    """One address guesses on and on; a colleague at another address is let in meanwhile."""
    timer = Timer()
    pairing = Pairing(Devices(tmp_path), timer=timer)
    waits = []
    for _ in range(12):
        wrong = 0
        while True:
            try:
                pairing.pair("no", "x", "10.0.0.9")
            except NotAllowed:
                wrong += 1
            except TooManyTries as problem:
                waits.append(float(re.search(r"\d+", problem.wanted)[0]))  # type: ignore[index]
                break
        timer.now += waits[-1] + 1
        assert wrong in (1, TRIES)
    assert waits[:4] == [60, 120, 240, 480]
    assert max(waits) <= LONGEST_WAIT
    assert pairing.pair(pairing.code, "colleague", "10.0.0.8")


def test_guessing_from_many_addresses_is_stopped_too(tmp_path: Path) -> None:
    """A thousand addresses share the guessing: in all, no more than a few hundred an hour are heard."""
    timer = Timer()
    pairing = Pairing(Devices(tmp_path), timer=timer)
    heard = 0
    for n in range(TRIES_OF_ALL + 50):
        try:
            pairing.pair("no", "x", f"10.0.{n // 250}.{n % 250}")
        except TooManyTries:
            break
        except NotAllowed:
            heard += 1
    assert heard == TRIES_OF_ALL
    timer.now += LONGEST_WAIT + 1
    assert pairing.pair(pairing.code, "later", "10.9.9.9")


def test_a_code_is_hard_to_guess_and_easy_to_read() -> None:
    """45 bits from the operating system, and no letter that looks like a digit."""
    codes = {new_code() for _ in range(1000)}
    assert len(codes) == 1000
    assert len(ALPHABET) ** CODE_LENGTH >= 2**40
    assert not set("01IO") & set("".join(codes))
    assert set("".join(codes)) == set(ALPHABET)


@pytest.mark.parametrize("name", ["", "   ", "x" * 61, "a\u202eb", "a\x00b"])
def test_a_device_has_a_name_that_can_be_read(tmp_path: Path, name: str) -> None:
    """The list of devices is read by a person who decides which one to withdraw."""
    with pytest.raises(InputError, match="name"):
        Devices(tmp_path).pair(name)


def test_devices_are_listed_and_withdrawn_from_the_command_line(tmp_path: Path) -> None:
    """A phone is lost: its owner lists the devices, withdraws it, and a second time is told so."""
    devices = Devices(tmp_path)
    first, token = devices.pair("lost phone")
    second, _ = devices.pair("other phone")

    def desorb(*words: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "desorb.cli.main", "--home", str(tmp_path), *words]
        return subprocess.run(command, capture_output=True, text=True, check=False)

    listed = desorb("devices", "--json")
    assert [line["name"] for line in json.loads(listed.stdout)] == ["lost phone", "other phone"]
    assert desorb("devices", "--withdraw", first.id).returncode == 0
    assert devices.of_token(token).withdrawn  # type: ignore[union-attr]
    assert not next(each for each in devices.all() if each.id == second.id).withdrawn


def test_changes_from_two_programs_at_once_lose_none(tmp_path: Path) -> None:
    """The server lets a phone in while the owner withdraws another: both changes are in the file."""
    lists = [Devices(tmp_path) for _ in range(6)]
    old = [lists[0].pair(f"old {n}")[0] for n in range(6)]
    threads = [threading.Thread(target=each.withdraw, args=(old[n].id,)) for n, each in enumerate(lists)]
    threads += [threading.Thread(target=each.pair, args=(f"new {n}",)) for n, each in enumerate(lists)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    found = Devices(tmp_path).all()
    assert len(found) == 12
    assert all(each.withdrawn for each in found if each.name.startswith("old"))


def test_a_list_that_cannot_be_read_lets_nobody_in(shared: Any) -> None:
    """The file of devices was damaged: no device comes in, and the owner is told what to do."""
    _, token = pairing_of(shared.desk).devices.pair("phone")
    (shared.home / "devices.json").write_text('{"devices": [{"id": 1')
    answer = httpx.get(f"{shared.address}/api/cases", headers={"host": BOX, "cookie": f"{COOKIE}={token}"})
    assert answer.status_code == 422
    assert "devices.json" in answer.json()["got"]
    sent = httpx.post(f"{shared.address}/api/settings", json={}, headers={"host": BOX, "origin": f"http://{BOX}",
                      "cookie": f"{COOKIE}={token}"})  # fmt: skip
    assert sent.status_code == 503
    with pytest.raises(NotUnderstood):
        Devices(shared.home).all()


def test_on_this_machine_alone_nothing_needs_pairing(server: Any) -> None:
    """The owner opens /pair on a server that only this machine reaches: it says so, and a code opens nothing."""
    assert "nothing needs pairing" in httpx.get(f"{server.address}/pair").text
    answer = httpx.post(
        f"{server.address}/api/pair", json={"code": "x", "name": "y"}, headers={"origin": server.address}
    )
    assert answer.status_code == 409
    assert "set-cookie" not in answer.headers


def test_withdrawing_twice_or_somebody_unknown_is_said(tmp_path: Path) -> None:
    """A slip of the finger in the list of devices changes nothing."""
    devices = Devices(tmp_path)
    device, _ = devices.pair("x")
    devices.withdraw(device.id)
    with pytest.raises(Refused, match="already"):
        devices.withdraw(device.id)
    with pytest.raises(NotFound):
        devices.withdraw("00000000")


# -- the real command, with a certificate of an own authority ------------------------------------------------------------


@pytest.fixture
def certificate(tmp_path: Path) -> tuple[Path, Path, Path]:
    """Made exactly as docs/manual/on_the_network.md says."""
    manual = Path(__file__).parents[2] / "docs" / "manual" / "on_the_network.md"
    commands = re.findall(r"```sh\n(openssl.*?)```", manual.read_text(encoding="utf-8"), re.DOTALL)
    assert commands
    for command in commands:
        done = subprocess.run(["bash", "-ec", command], cwd=tmp_path, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
    return tmp_path / "authority.pem", tmp_path / "cert.pem", tmp_path / "key.pem"


@pytest.fixture
def command() -> Iterator[Callable[..., subprocess.Popen[str]]]:
    started: list[subprocess.Popen[str]] = []

    def start(home: Path, *words: str) -> subprocess.Popen[str]:
        line = [sys.executable, "-m", "desorb.cli.main", "--home", str(home), "serve", *words]
        started.append(
            subprocess.Popen(line, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=_unbuffered())
        )
        return started[-1]

    yield start
    for process in started:
        if process.poll() is None:
            process.kill()
        process.communicate()


def _unbuffered() -> dict[str, str]:
    return os.environ | {"PYTHONUNBUFFERED": "1"}


def line_with(process: subprocess.Popen[str], words: str) -> str:
    assert process.stdout is not None
    for line in process.stdout:
        if words in line:
            return line
    raise AssertionError(f"the server ended without saying {words!r}")


def test_a_server_on_the_network_speaks_tls_and_lets_a_phone_in(
    tmp_path: Path, certificate: tuple[Path, Path, Path], command: Callable[..., subprocess.Popen[str]]
) -> None:
    """The whole way: certificate as in the manual, server on the network, code typed on the phone, Ctrl-C at the end."""
    authority, cert, key = certificate
    process = command(
        tmp_path / "home", "--port", "0", "--network", "--name", BOX, "--certificate", str(cert), "--key", str(key)
    )
    port = int(re.search(r":(\d+)/ for paired", line_with(process, "for paired devices"))[1])  # type: ignore[index]
    code = line_with(process, "type this code once").rsplit(":", 1)[1].strip()
    trust = ssl.create_default_context(cafile=str(authority))
    address = f"https://{BOX}:{port}"
    phone = {"headers": {"host": f"{BOX}:{port}", "origin": address}, "extensions": {"sni_hostname": BOX}}
    with httpx.Client(verify=trust) as client:

        def ask(method: str, path: str, cookie: str = "", **more: Any) -> httpx.Response:
            headers = phone["headers"] | ({"cookie": cookie} if cookie else {})
            return client.request(
                method, f"https://127.0.0.1:{port}{path}", headers=headers, extensions=phone["extensions"], **more
            )

        stranger = ask("GET", "/api/cases")
        assert stranger.status_code == 403
        assert stranger.headers["strict-transport-security"].startswith("max-age=31536000")
        assert "server" not in stranger.headers
        paired = ask("POST", "/api/pair", json={"code": code, "name": "phone"})
        assert paired.status_code == 200, paired.text
        cookie = paired.headers["set-cookie"].split(";")[0]
        assert ask("GET", "/api/cases", cookie).status_code == 200
        assert ask("GET", "/api/settings", cookie).status_code == 403
        owner = httpx.get(f"https://localhost:{port}/api/settings", verify=trust)
        assert owner.status_code == 200
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=30)
    assert (process.returncode, err) == (0, ""), out


@pytest.mark.parametrize(
    "words",
    [
        ["--network"],
        ["--network", "--name", BOX],
        ["--name", BOX],
        ["--network", "--name", "not a name", "--certificate", "x.pem", "--key", "y.pem"],
        ["--network", "--name", BOX, "--certificate", "none.pem", "--key", "none.pem"],
    ],
)
def test_without_a_certificate_it_stays_on_this_machine(
    tmp_path: Path, command: Callable[..., subprocess.Popen[str]], words: list[str]
) -> None:
    """Somebody wants to be quick and leaves the certificate out: desorb does not open the record to the network."""
    process = command(tmp_path, "--port", "0", *words)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 2
    assert "Next:" in err
    assert out == ""


def test_a_port_that_is_taken_is_no_end(
    tmp_path: Path, serve_home: Callable[..., Any], command: Callable[..., subprocess.Popen[str]]
) -> None:
    """desorb is started a second time: a free port is chosen, and said; Ctrl-C ends it without noise."""
    first = serve_home(tmp_path / "one")
    process = command(tmp_path / "two", "--port", str(first.port))
    line_with(process, f"Port {first.port} is taken")
    address = re.search(r"http://\S+", line_with(process, "desorb is at"))[0]  # type: ignore[index]
    assert httpx.get(address).status_code == 200
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=30)
    assert (process.returncode, err) == (0, ""), out
    Store(tmp_path / "two").close()
