"""Original files (photos, reports, files taken) under their SHA-256.

Order matters: the bytes are on the disk (temporary file, fsync, rename, fsync of the folder) before the entry that
names them is written. An original without an entry is harmless; an entry without its original is a hole in the record.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
from pathlib import Path

from desorb.errors import NotUnderstood

FOLDERS_CAN_BE_SYNCED = os.name != "nt"  # Windows gives no handle to a folder
SHA256 = re.compile(r"[0-9a-f]{64}")


def folder(home: Path) -> Path:
    return home / "originals"


def path_of(home: Path, sha256: str) -> Path:
    """Where the bytes lie. The name may come from a stranger's entry, so it may be nothing but a digest."""
    if not SHA256.fullmatch(sha256):
        raise NotUnderstood("this does not name an original", got=repr(sha256[:80]), wanted="64 hexadecimal digits")
    return folder(home) / sha256[:2] / sha256


def keep(home: Path, content: bytes) -> str:
    """Write the bytes durably and return their SHA-256."""
    sha256 = hashlib.sha256(content).hexdigest()
    target = path_of(home, sha256)
    make_folder(target.parent)
    if not target.exists() or hashlib.sha256(target.read_bytes()).hexdigest() != sha256:
        _write(target.parent, target.name, content)
    sync(target.parent)  # also when it was there: an earlier attempt may have been cut short before this line
    return sha256


def keep_in(place: Path, name: str, content: bytes) -> None:
    """Write a file of another folder durably; a second time is no harm."""
    make_folder(place)
    _write(place, name, content)
    sync(place)


def _write(place: Path, name: str, content: bytes) -> None:
    temporary = place / f"arriving-{secrets.token_hex(8)}"
    try:
        with open(temporary, "xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, place / name)
    except OSError:
        temporary.unlink(missing_ok=True)
        raise


def put_in_place(home: Path, temporary: Path, sha256: str) -> bool:
    """Move a file that was written and synced elsewhere in the store under its SHA-256. True if it was not there."""
    target = path_of(home, sha256)
    make_folder(target.parent)
    is_new = not target.exists() or hashlib.sha256(target.read_bytes()).hexdigest() != sha256
    if is_new:
        os.replace(temporary, target)
    sync(target.parent)
    return is_new


def make_folder(path: Path) -> None:
    """Make a folder and what is missing above it, each on the disk before this returns."""
    if not path.parent.is_dir():
        make_folder(path.parent)
    path.mkdir(exist_ok=True)
    sync(path.parent)


def sync(path: Path) -> None:
    """Return when the file or folder is on the disk. Of a folder: the names in it."""
    is_folder = path.is_dir()
    if is_folder and not FOLDERS_CAN_BE_SYNCED:
        return
    descriptor = os.open(path, os.O_RDONLY if is_folder else os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def read(home: Path, sha256: str) -> bytes | None:
    """The bytes, or None when they have not arrived. They are not checked here: verify does."""
    path = path_of(home, sha256)
    return path.read_bytes() if path.exists() else None


def drop(home: Path, sha256: str) -> None:
    """After a lawful removal of the entry that named it."""
    path = path_of(home, sha256)
    if path.exists():
        path.unlink()
        sync(path.parent)
