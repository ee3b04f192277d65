"""Smaller copies of photos, for lists and pages. They are made in a process of their own with limits, and hold no hidden data.

Contents: shown_photo. The work itself is in shrink_photo.py.
A stranger's picture may be made to exhaust the one who opens it, so the program that serves never opens it itself.
"""

from __future__ import annotations

import subprocess
import sys
import threading
from collections import OrderedDict

from desorb.errors import InputError
from desorb.notebook.store import Store
from desorb.service.received_photos import stored_photo

NARROWEST, WIDEST = 32, 2400  # px
MOST_KEPT = 300  # smaller copies kept in memory
SECONDS = 20  # after which a picture is given up; the processor time is limited more tightly
_kept: OrderedDict[tuple[str, int], bytes] = OrderedDict()
_lock = threading.Lock()
_two_at_once = threading.BoundedSemaphore(2)


def shown_photo(store: Store, sha256: str, width: int, case: str = "") -> bytes:
    """A JPEG of at most this width, turned as the camera held it, without place, serial number or other hidden data."""
    content, media_type = stored_photo(store, sha256, case)  # asked first: what was removed is not shown from memory
    key = (sha256, width)
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
            return _kept[key]
    if media_type == "image/heic":
        raise InputError(
            "a HEIC photo is kept as it came; no smaller copy can be made here", next_step="open the original"
        )
    with _two_at_once:
        made = _made(content, width)
    with _lock:
        _kept[key] = made
        while len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
    return made


def _made(content: bytes, width: int) -> bytes:
    command = [sys.executable, "-m", "desorb.service.shrink_photo", str(width)]
    try:
        done = subprocess.run(command, input=content, capture_output=True, timeout=SECONDS, check=False)
    except subprocess.TimeoutExpired as problem:
        raise InputError(
            "this photo takes too long to open", next_step="open the original on another machine"
        ) from problem
    if done.returncode or not done.stdout.startswith(b"\xff\xd8\xff"):
        said = done.stderr.decode("utf-8", "replace").strip().splitlines()
        reason = said[-1][:200] if said else "the program that opens it was stopped"
        raise InputError("this photo cannot be shown smaller", got=reason, next_step="the original is kept as it came")
    return done.stdout
