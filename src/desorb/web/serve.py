"""Run the server until it is told to stop.

Contents: serve (loopback by default).
"""

from __future__ import annotations

from collections.abc import Callable

import uvicorn

from desorb.notebook.store import Store
from desorb.web.app import create_app
from desorb.web.desk import Desk

PORT = 8421


def serve(store: Store, *, port: int = PORT, say: Callable[[str], None] = lambda words: None) -> None:
    """Serve the store on this machine only. `say` is told the address once it is listening."""
    desk = Desk(store)
    config = uvicorn.Config(
        create_app(desk), host="127.0.0.1", port=port, log_level="warning", access_log=False, server_header=False,
        limit_concurrency=512, timeout_keep_alive=30,
    )  # fmt: skip
    server = uvicorn.Server(config)
    socket = config.bind_socket()
    try:
        say(f"http://127.0.0.1:{socket.getsockname()[1]}/")
        server.run(sockets=[socket])
    finally:
        socket.close()
