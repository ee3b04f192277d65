"""The one writer of a running server: what many devices send at once goes to the disk in one commit.

Contents: writer_of; close_writer.
"""

from __future__ import annotations

import threading

from desorb.notebook.writer import Writer
from desorb.web.desk import Desk

_NAME = "writer"
_making = threading.Lock()


def writer_of(desk: Desk) -> Writer:
    """The writer of this server, begun on first use."""
    with _making:
        writer = desk.state.get(_NAME)
        if not isinstance(writer, Writer):
            writer = desk.state[_NAME] = Writer(desk.store)
        return writer


def close_writer(desk: Desk) -> None:
    """Finish what waits. Afterwards nothing more is taken in."""
    with _making:
        writer = desk.state.pop(_NAME, None)
    if isinstance(writer, Writer):
        writer.close()
