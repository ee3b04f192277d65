"""A real server and a real browser for the tests of the page.

Fixtures: demo_home (the invented demonstration store, a fresh copy for each test); server (a running server over it, as
an address); browser (Debian's Chromium, one for all tests of a worker); page (a page of it in a profile of its own).
Without Chromium the tests that need it are skipped, loudly; with CI=true they fail (make test installs it where it can).
"""

from __future__ import annotations

import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from desorb.notebook.store import Store
from desorb.web.app import create_app
from desorb.web.desk import Desk

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or ""
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
]  # fmt: skip
PHONE = {"width": 393, "height": 727}


class Running:
    """A server in a thread. `address` ends without a slash; `stop` closes it, `start` opens it on the same port."""

    def __init__(self, home: Path, **parts: Any) -> None:
        self.home, self.parts, self.port = home, parts, 0
        self.start()

    def start(self) -> None:
        self.store = Store(self.home)
        self.desk = Desk(self.store, **self.parts)
        config = uvicorn.Config(
            create_app(self.desk), host="127.0.0.1", port=self.port, log_level="error", access_log=False
        )
        self.socket = config.bind_socket()
        self.port = self.socket.getsockname()[1]
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [self.socket]}, daemon=True)
        self.thread.start()
        for _ in range(2000):
            if self.server.started:
                break
            time.sleep(0.005)

    def stop(self) -> None:
        self.server.should_exit = True
        self.server.force_exit = True
        self.thread.join(timeout=10)
        self.socket.close()
        self.store.close()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"


@pytest.fixture(scope="session", autouse=True)
def nobody_outside_is_trusted(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Only this machine is asked. Else every request of a test reads the certificates of the whole world, for 30 ms."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("SSL_CERT_FILE", "")
        patched.setenv("SSL_CERT_DIR", str(tmp_path_factory.mktemp("no-certificates")))
        yield


@pytest.fixture(scope="session")
def demo_built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration store, built once for all workers."""
    shared = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent
    home, ready = shared / "demo-store", shared / "demo-ready"
    try:
        (shared / "demo-lock").mkdir()
    except FileExistsError:
        for _ in range(2400):
            if ready.exists():
                return home
            time.sleep(0.05)
        pytest.fail("the other worker did not build the demonstration store")
    from desorb.service.demo import run_demo

    run_demo(shared / "demo-out", str(home))
    ready.touch()
    return home


@pytest.fixture
def demo_home(demo_built: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_built, tmp_path / "home"))


@pytest.fixture
def serve_home() -> Iterator[Callable[..., Running]]:
    """Start servers over any home; all are stopped at the end."""
    running: list[Running] = []

    def start(home: Path, **parts: Any) -> Running:
        running.append(Running(home, **parts))
        return running[-1]

    yield start
    for each in running:
        if each.thread.is_alive():
            each.stop()


@pytest.fixture(scope="session")
def empty_office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a server without any case, one for all tests of a worker: nothing is written to it."""
    running = Running(tmp_path_factory.mktemp("empty") / "home")
    yield running.address
    running.stop()


@pytest.fixture
def server(demo_home: Path, serve_home: Callable[..., Running]) -> Running:
    return serve_home(demo_home)


@pytest.fixture(scope="session")
def shown_server(demo_built: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """One server over the demonstration store for all tests that read, or are refused: nothing is written to it."""
    running = Running(Path(shutil.copytree(demo_built, tmp_path_factory.mktemp("shown") / "home")))
    yield running
    running.stop()


@pytest.fixture
def case_id(server: Running) -> str:
    from desorb.service.cases import case_names

    return case_names(server.store)["quillfen"]


def need_chromium() -> None:
    if CHROMIUM:
        return
    words = "no Chromium here: as root, apt-get install chromium"
    if os.environ.get("CI") == "true":
        pytest.fail(words)
    pytest.skip(words)


@pytest.fixture(scope="session")
def playwright_here() -> Iterator[Any]:
    need_chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def browser(playwright_here: Any) -> Iterator[Any]:
    launched = playwright_here.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield launched
    launched.close()


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    """A phone-sized page in a profile of its own. What the page's scripts throw fails the test."""
    context = browser.new_context(viewport=PHONE, has_touch=True)
    opened = context.new_page()
    thrown: list[str] = []
    opened.on("pageerror", lambda problem: thrown.append(str(problem)))
    yield opened
    context.close()
    assert thrown == []
