"""One writer with group commit: many callers, one thread that writes, one commit for all that wait.

A caller's entries are acknowledged only after the commit returned. If one caller's entries cannot be written, the
others of the group are written without them.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from functools import partial
from typing import Any

from desorb.errors import StoreError, StoreUnavailable
from desorb.notebook.entry import Entry
from desorb.notebook.store import Arrival, Draft, Store, Work

MOST_IN_ONE_COMMIT = 64
_Work = tuple[Callable[[], Any], "Future[Any]"]


class Writer:
    """Owns the writing side of a store. Use as a context manager; `append` and `receive` may be called from any thread."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._waiting: queue.Queue[_Work | None] = queue.Queue()
        self._closed = False
        self._door = threading.Lock()  # nobody may come in behind the word that closes, and wait for ever
        self._thread = threading.Thread(target=self._run, name="desorb-writer", daemon=True)
        self._thread.start()

    def append(self, case: str, drafts: Sequence[Draft]) -> list[Entry]:
        """Write and wait for the commit. Raises what the store raised."""
        written: list[Entry] = self._wait_for(partial(self._store.write_inside, case, drafts))
        return written

    def receive(self, entries: Sequence[Entry]) -> Arrival:
        """Take in entries from elsewhere and wait for the commit: what is accepted or known is on the disk."""
        return self.together(partial(self._store.receive_inside, entries))

    def together(self, work: Callable[[], Work]) -> Work:
        """Do this work in the commit of all that wait, and return after it. What it asks the store costs no wait of its own."""
        done: Work = self._wait_for(work)
        return done

    def _wait_for(self, work: Callable[[], Any]) -> Any:
        done: Future[Any] = Future()
        with self._door:
            if self._closed:
                raise StoreUnavailable("the writer is closed", next_step="open the store again")
            self._waiting.put((work, done))
        return done.result()

    def close(self) -> None:
        with self._door:
            if not self._closed:
                self._waiting.put(None)
            self._closed = True
        self._thread.join()

    def __enter__(self) -> Writer:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _run(self) -> None:
        while True:
            work = self._waiting.get()
            if work is None:
                return
            group = [work]
            while len(group) < MOST_IN_ONE_COMMIT and not self._waiting.empty():
                more = self._waiting.get()
                if more is None:
                    self._commit(group)
                    return
                group.append(more)
            self._commit(group)

    def _commit(self, group: list[_Work]) -> None:
        try:
            finished = self._store.in_one_commit([work for work, _ in group])
        except StoreError as problem:  # the same for all of them: asking again would only make them wait
            for _, done in group:
                done.set_exception(problem)
            return
        except Exception as problem:
            if len(group) == 1:
                group[0][1].set_exception(problem)
                return
            for work in group:
                self._commit([work])
            return
        for (_, done), result in zip(group, finished, strict=True):
            done.set_result(result)
