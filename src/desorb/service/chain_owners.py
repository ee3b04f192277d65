"""Which paired device writes under which name: the name that entries carry belongs to the paired device that first used it.

Contents: ChainOwners (of one store, one line each in home/chains.json).
A phone whose pairing was withdrawn or has run out loses its hold: after it is paired anew, it goes on under its old name.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Iterable
from pathlib import Path

from desorb.errors import NotUnderstood, Refused
from desorb.notebook import attachments
from desorb.service.devices import Devices

FILE = "chains.json"
_lock = threading.Lock()  # one program serves a store


class ChainOwners:
    """Names of devices in entries -> ids of paired devices."""

    def __init__(self, home: Path, devices: Devices) -> None:
        self.path, self.devices = home / FILE, devices

    def claim(self, paired: str, names: Iterable[str]) -> None:
        """These names belong to this paired device from now on. Raises Refused when one belongs to another."""
        with _lock:
            owners = self._read()
            holding = {
                each.id: each.name for each in self.devices.all() if each.standing(self.devices.clock()) == "paired"
            }
            new = sorted({name for name in names if owners.get(name) != paired})
            for name in new:
                if owners.get(name) in holding:
                    raise Refused(
                        f"entries of device {name} come from the paired device {holding[owners[name]]!r}, not from this one",
                        got="nothing of what was sent was taken", next_step="nothing on this device is lost: if it is the same"
                        " device, paired twice, withdraw the earlier pairing where desorb runs; it sends again then",
                    )  # fmt: skip
            if new:
                content = json.dumps(owners | dict.fromkeys(new, paired), indent=1, sort_keys=True).encode()
                attachments.keep_in(self.path.parent, self.path.name, content)

    def _read(self) -> dict[str, str]:
        try:
            found = json.loads(self.path.read_bytes())
            return {str(name): str(owner) for name, owner in found.items()}
        except FileNotFoundError:
            return {}
        except (OSError, ValueError, AttributeError) as problem:
            raise NotUnderstood(
                "the list of who writes under which name cannot be read, so nothing is taken from paired devices",
                got=f"{FILE}: {problem}", next_step=f"mend {FILE}, or take it away: the names are noted anew",
            ) from problem  # fmt: skip
