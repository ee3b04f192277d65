"""Letting a device of the office network in: a code that is shown where the server runs, typed once on the device.

Contents: Pairing (the code and who may still try); new_code; COOKIE; set_cookie.
"""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from starlette.responses import Response

from desorb.service.devices import VALID_DAYS, Devices
from desorb.web.desk import Desk
from desorb.web.problems import NotAllowed, TooManyTries

COOKIE = "__Host-desorb"
ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"  # 32 signs, without 0, 1, I and O, which look alike
CODE_LENGTH = 9  # 45 bits
TRIES = 5  # wrong codes of one address before it has to wait
FIRST_WAIT, LONGEST_WAIT = 60.0, 3600.0  # seconds; each further wrong code doubles the wait
TRIES_OF_ALL = 200  # wrong codes of all addresses in an hour; more than that is nobody who mistypes


def new_code() -> str:
    return "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))


def code_in_words(code: str) -> str:
    """The code as it is shown: groups of three."""
    return " ".join(code[start : start + 3] for start in range(0, len(code), 3))


@dataclass(slots=True)
class _Tries:
    wrong: int = 0
    wait_until: float = 0.0


@dataclass(slots=True)
class Pairing:
    """The code of one running server. A restart makes a new one; devices that were let in stay."""

    devices: Devices
    code: str = field(default_factory=new_code)
    timer: Callable[[], float] = time.monotonic
    _tries: dict[str, _Tries] = field(default_factory=dict)
    _wrong_times: list[float] = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def pair(self, typed: str, name: str, address: str) -> str:
        """The token for a device whose user typed the right code. Raises TooManyTries, NotAllowed or InputError."""
        with self._lock:
            self._may_try(address)
            cleaned = "".join(typed.upper().split()).replace("-", "")
            if not hmac.compare_digest(cleaned.encode("utf-8", "replace"), self.code.encode()):
                self._note_wrong(address)
                raise NotAllowed(
                    "this is not the code of this server", next_step="read it again where the server runs; it changes when the"
                    " server is started anew",
                )  # fmt: skip
            self._tries.pop(address, None)
        return self.devices.pair(name)[1]

    def _may_try(self, address: str) -> None:
        moment = self.timer()
        self._wrong_times = [each for each in self._wrong_times if moment - each < LONGEST_WAIT]
        tries = self._tries.get(address, _Tries())
        wait = tries.wait_until - moment
        if len(self._wrong_times) >= TRIES_OF_ALL:
            wait = max(wait, LONGEST_WAIT - (moment - self._wrong_times[0]))
        if wait > 0:
            raise TooManyTries(
                "too many wrong codes came from here", wanted=f"a wait of {wait:.0f} seconds",
                next_step="wait, then type the code as it is shown where the server runs",
            )  # fmt: skip

    def _note_wrong(self, address: str) -> None:
        if address not in self._tries and len(self._tries) >= 10_000:
            self._tries.clear()  # the limit over all addresses still holds
        tries = self._tries.setdefault(address, _Tries())
        tries.wrong += 1
        self._wrong_times.append(self.timer())
        if tries.wrong >= TRIES:
            tries.wait_until = self.timer() + min(LONGEST_WAIT, FIRST_WAIT * 2 ** (tries.wrong - TRIES))


def pairing_of(desk: Desk) -> Pairing:
    """The pairing of this server."""
    found = desk.state.setdefault("pairing", None)
    if not isinstance(found, Pairing):
        found = desk.state["pairing"] = Pairing(Devices(desk.home, desk.clock))
    return found


def set_cookie(response: Response, token: str) -> None:
    """A cookie that no script can read, that leaves this browser only to this server, and only under TLS."""
    response.set_cookie(
        COOKIE, token, max_age=VALID_DAYS * 86_400, path="/", secure=True, httponly=True, samesite="strict"
    )
