"""A bag as one .zip: written piece by piece on its way out, and taken in from the pieces of an upload.

Contents: zipped (the pieces of the .zip); safe_name; receiving (a file that grows while an upload comes in);
take_in.
The bag is the same as from the command line; the .zip holds one folder with plain names, stored as they are, because the
photos in it do not get smaller and because what desorb refuses to take in must not be what it hands out.
"""

from __future__ import annotations

import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO, cast

from desorb.errors import Refused
from desorb.notebook.bag import BagDamaged
from desorb.notebook.bag_form import CHUNK
from desorb.notebook.store import Store
from desorb.service.bags import export_case, import_case
from desorb.service.cases import Clock, OpenCase

FIRST_DAY = (1980, 1, 1, 0, 0, 0)  # the earliest a .zip can say: the same bag gives the same bytes


def safe_name(case: OpenCase) -> str:
    """A name for files that every system can bear: plain letters, digits, points and hyphens, and the id."""
    plain = "".join(
        letter if letter.isascii() and (letter.isalnum() or letter in "-_") else "-" for letter in case.name
    )
    return f"{plain.strip('-')[:40] or 'case'}-{case.id[:8]}"


def zipped(store: Store, case: OpenCase, clock: Clock) -> Iterator[bytes]:
    """Write the bag first, so that trouble shows before the first piece; then hand out the .zip of it."""
    work = Path(tempfile.mkdtemp(prefix="desorb-bag-"))
    try:
        bag = export_case(store, case, work / "bag", clock)
    except BaseException:
        shutil.rmtree(work, ignore_errors=True)
        raise
    pieces = _pieces(work, bag, f"bag-{case.id[:8]}")
    next(pieces)  # begun, so that the folder goes away also when nobody fetches the rest
    return pieces


class _Outgoing:
    """What the .zip writes, until it is fetched."""

    def __init__(self) -> None:
        self.held = bytearray()

    def write(self, content: bytes) -> int:
        self.held += content
        return len(content)

    def flush(self) -> None:
        """There is nothing behind it."""

    def take(self) -> bytes:
        piece = bytes(self.held)
        self.held.clear()
        return piece


def _pieces(work: Path, bag: Path, folder: str) -> Iterator[bytes]:
    try:
        yield b""
        outgoing = _Outgoing()
        with zipfile.ZipFile(cast(BinaryIO, outgoing), "w", zipfile.ZIP_STORED) as archive:
            for path in sorted(each for each in bag.rglob("*") if each.is_file()):
                info = zipfile.ZipInfo(f"{folder}/{path.relative_to(bag).as_posix()}", FIRST_DAY)
                info.external_attr = 0o100644 << 16
                with open(path, "rb") as source, archive.open(info, "w") as packed:
                    while chunk := source.read(CHUNK):
                        packed.write(chunk)
                        yield outgoing.take()
                yield outgoing.take()
        yield outgoing.take()
    finally:
        shutil.rmtree(work, ignore_errors=True)


def receiving(store: Store) -> tuple[Path, BinaryIO]:
    """A new file beside the store for an upload, and its open end. The caller deletes the folder that holds it."""
    folder = Path(tempfile.mkdtemp(prefix="arriving-bag-", dir=store.home))
    path = folder / "bag.zip"
    return path, open(path, "xb")


def take_in(store: Store, path: Path) -> dict[str, Any]:
    """Import a bag that was uploaded. One that does not verify is refused: it is no trouble of this store."""
    try:
        return import_case(store, path)
    except BagDamaged as problem:
        raise Refused(problem.what, got=problem.got, next_step="ask for the bag again") from problem
