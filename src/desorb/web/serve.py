"""Run the server until it is told to stop.

Contents: serve (this machine only); Network and serve_network (the office network, under TLS, with pairing); Invitation.
Browsers give the camera, the safe hashing and the offline page only to a page that came over TLS or from the machine
itself, so a server on the network is not started without a certificate.
"""

from __future__ import annotations

import re
import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from desorb.errors import InputError, StoreUnavailable
from desorb.notebook.store import Store
from desorb.web.app import create_app
from desorb.web.desk import Desk
from desorb.web.pairing import code_in_words, pairing_of
from desorb.web.receiving import close_writer

PORT = 8421
LOOPBACK, EVERY_ADDRESS = "127.0.0.1", "0.0.0.0"
LOCAL_NAME = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)*")
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Network:
    """How others reach this server: its name there, and the certificate with its key."""

    name: str
    certificate: Path
    key: Path


def serve(store: Store, *, port: int = PORT, say: Say = lambda words: None) -> None:
    """Serve the store on this machine only. `say` is told the address once it is listening."""
    listening = _listen(LOOPBACK, port, say)
    address = f"http://127.0.0.1:{listening.getsockname()[1]}/"
    _run(Desk(store), listening, lambda: say(f"desorb is at {address} (stop with Ctrl-C)"))


def serve_network(store: Store, network: Network, *, port: int = PORT, say: Say = lambda words: None) -> None:
    """Serve the store to devices of the office network that were paired. `say` is told the address and the code."""
    _examine(network)
    desk = Desk(store, names=(network.name.casefold(),), shared=True)
    code = code_in_words(pairing_of(desk).code)
    listening = _listen(EVERY_ADDRESS, port, say)
    taken = listening.getsockname()[1]

    def invite() -> None:
        say(f"desorb is at https://{network.name}:{taken}/ for paired devices (stop with Ctrl-C)")
        say(f"On the device open https://{network.name}:{taken}/pair and type this code once: {code}")
        say(f"On this machine open https://localhost:{taken}/ for everything that belongs to the owner.")

    _run(desk, listening, invite, network)


def _run(desk: Desk, listening: socket.socket, say_where: Callable[[], None], network: Network | None = None) -> None:
    class Telling(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            if self.started:
                say_where()

    config = uvicorn.Config(
        create_app(desk), log_level="warning", access_log=False, server_header=False, proxy_headers=False, ws="none",
        limit_concurrency=512, timeout_keep_alive=30, timeout_graceful_shutdown=5,
        ssl_certfile=network.certificate if network else None, ssl_keyfile=network.key if network else None,
    )  # fmt: skip
    try:
        Telling(config).run(sockets=[listening])
    except KeyboardInterrupt:
        pass  # Ctrl-C is how it is stopped
    finally:
        listening.close()
        close_writer(desk)


def _listen(host: str, port: int, say: Say) -> socket.socket:
    """A socket at the port asked for, or at a free one when another program has it."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        try:
            listening.bind((host, port))
            listening.listen(2048)
        except OSError:
            if not port:
                raise
            listening.close()
            listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
            listening.bind((host, 0))
            say(f"Port {port} is taken by another program, so a free one was chosen.")
    except OSError as problem:
        listening.close()
        raise StoreUnavailable(
            "no port could be opened", got=str(problem), next_step="name another one with --port"
        ) from problem
    listening.set_inheritable(True)
    return listening


def _examine(network: Network) -> None:
    if not LOCAL_NAME.fullmatch(network.name.casefold()):
        raise InputError(
            "this is not a name that a device can open",
            got=repr(network.name[:80]),
            wanted="a name such as mybox.local",
            next_step="give the machine such a name, and a certificate for it: docs/manual/on_the_network.md",
        )
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(network.certificate, network.key)
    except (OSError, ssl.SSLError) as problem:
        raise InputError(
            "the certificate and its key cannot be used", got=f"{network.certificate}, {network.key}: {problem}",
            wanted="two PEM files that belong together", next_step="see docs/manual/on_the_network.md",
        ) from problem  # fmt: skip
