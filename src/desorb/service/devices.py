"""Devices that were let in from the office network: one line each in home/devices.json, never the token itself.

Contents: Device; Devices (pair, find, withdraw, list). The program that serves and the command line may both write, so
each change is made under a lock file, on what stands in the file at that moment.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import secrets
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Literal

from desorb.errors import InputError, NotFound, NotUnderstood, Refused, StoreUnavailable
from desorb.notebook import attachments
from desorb.service.cases import Clock, now

Standing = Literal["paired", "withdrawn", "expired"]
FILE = "devices.json"
TOKEN_BYTES = 32  # 256 bits from the operating system
LONGEST_NAME = 60
VALID_DAYS = 180  # after which a device types the code again; setting of ours
SEEN_STEP = timedelta(hours=1)  # how finely "last seen" is kept
LOCK_SECONDS = 10.0


@dataclass(frozen=True, slots=True)
class Device:
    """A device that was paired. `token_sha256` cannot be turned back into the token that the device keeps."""

    id: str
    name: str
    token_sha256: str
    paired_at: str
    last_seen: str = ""
    withdrawn: str = ""  # when, or '' while it may come in

    def standing(self, moment: datetime) -> Standing:
        """paired, withdrawn or expired."""
        if self.withdrawn:
            return "withdrawn"
        return "expired" if moment > datetime.fromisoformat(self.paired_at) + timedelta(days=VALID_DAYS) else "paired"


class Devices:
    """The devices of one store."""

    def __init__(self, home: Path, clock: Clock = now) -> None:
        self.path, self.clock = home / FILE, clock
        self._read_of: tuple[int, int] | None = None
        self._devices: tuple[Device, ...] = ()

    def all(self) -> tuple[Device, ...]:
        """As the file says now; it is read again only when it changed."""
        try:
            state = self.path.stat()
            stamp = (state.st_mtime_ns, state.st_ino)
            if stamp != self._read_of:
                self._devices = tuple(Device(**each) for each in json.loads(self.path.read_bytes())["devices"])
                self._read_of = stamp
        except FileNotFoundError:
            self._read_of, self._devices = None, ()
        except (OSError, ValueError, KeyError, TypeError) as problem:
            raise NotUnderstood(
                "the list of devices cannot be read, so no device is let in", got=f"{FILE}: {problem}",
                next_step=f"mend {FILE}, or take it away and pair the devices again",
            ) from problem  # fmt: skip
        return self._devices

    def pair(self, name: str) -> tuple[Device, str]:
        """Let a device in. Returns it and the token, which is kept nowhere here."""
        name = " ".join(name.split())
        if not name or len(name) > LONGEST_NAME or not name.isprintable():
            raise InputError("a device needs a name", wanted=f"1 to {LONGEST_NAME} letters, such as 'Ada, phone'")
        token = secrets.token_hex(TOKEN_BYTES)
        device = Device(secrets.token_hex(4), name, _digest(token), self._moment())
        with self._change():
            self._write((*self.all(), device))
        return device, token

    def of_token(self, token: str) -> Device | None:
        """The device that holds this token, also one that was withdrawn. Digests are compared, so time tells nothing."""
        digest = _digest(token)
        return next((device for device in self.all() if device.token_sha256 == digest), None)

    def withdraw(self, device: str) -> Device:
        """From now on this device is not let in. Nothing on it is taken away."""
        with self._change():
            found = next((each for each in self.all() if each.id == device), None)
            if found is None:
                known = ", ".join(each.id for each in self.all()) or "none yet"
                raise NotFound(f"there is no device {device!r}", wanted=f"one of: {known}")
            if found.withdrawn:
                raise Refused("this device was withdrawn already", got=f"{found.name}, {found.withdrawn}")
            changed = replace(found, withdrawn=self._moment())
            self._write(tuple(changed if each.id == device else each for each in self.all()))
        return changed

    def seen(self, device: Device) -> None:
        """Note that it was here, to the hour. Not being able to is no reason to turn it away."""
        if device.last_seen and self.clock() - datetime.fromisoformat(device.last_seen) < SEEN_STEP:
            return
        with contextlib.suppress(OSError, StoreUnavailable), self._change():
            changed = tuple(
                replace(each, last_seen=self._moment()) if each.id == device.id else each for each in self.all()
            )
            self._write(changed)

    def _moment(self) -> str:
        return self.clock().isoformat(timespec="seconds")

    def _write(self, devices: tuple[Device, ...]) -> None:
        content = json.dumps({"devices": [asdict(each) for each in devices]}, indent=1).encode()
        attachments.keep_in(self.path.parent, self.path.name, content)
        with contextlib.suppress(OSError):
            self.path.chmod(0o600)
        self._read_of = None

    @contextlib.contextmanager
    def _change(self) -> Iterator[None]:
        lock = self.path.with_suffix(".lock")
        until = time.monotonic() + LOCK_SECONDS
        while True:
            try:
                os.close(os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
                break
            except FileExistsError:
                with contextlib.suppress(OSError):
                    if time.time() - lock.stat().st_mtime > LOCK_SECONDS:  # left behind by a program that was killed
                        lock.unlink()
                        continue
                if time.monotonic() > until:
                    raise StoreUnavailable(
                        "the list of devices is being changed by another desorb",
                        next_step="wait a moment and do it again",
                    ) from None
                time.sleep(0.02)
        self._read_of = None
        try:
            yield
        finally:
            lock.unlink(missing_ok=True)


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()
