"""A file that came by upload: taken into a case as 'desorb take' takes one.

Contents: take_upload; COLUMNS (the guide of the columns of both tables).
"""

from __future__ import annotations

import tempfile
from pathlib import Path, PureWindowsPath

from desorb.errors import InputError
from desorb.notebook.store import Store
from desorb.service import rows
from desorb.service.cases import Clock, OpenCase, now
from desorb.service.take import Taken, take_content

LONGEST_NAME = 120
COLUMNS = (("readings", rows.READINGS), ("air readings", rows.AIR))


def take_upload(
    store: Store,
    case: OpenCase,
    name: str,
    content: bytes,
    *,
    by: str = "",
    confirm_corrections: str = "",
    clock: Clock = now,
) -> Taken:
    """Take the bytes of a file under the name it had. The name decides nothing but whether it is a sheet (.toml)."""
    plain = PureWindowsPath(name).name.strip()  # the last part, whichever way the slashes lean
    if not plain or plain in (".", "..") or len(plain) > LONGEST_NAME or not plain.isprintable():
        raise InputError(
            "the file has no name that can be written down", got=repr(name[:80]), wanted="such as readings.csv"
        )
    if not content:
        raise InputError("the file is empty", got=plain, next_step="choose the file again")
    with tempfile.TemporaryDirectory(prefix="desorb-upload-") as folder:  # nothing lies beside an uploaded sheet
        return take_content(
            store, case, plain, content, Path(folder), by=by, confirm_corrections=confirm_corrections, clock=clock
        )
