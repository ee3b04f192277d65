"""A bag may come as a .zip: it is unpacked into a temporary folder, counted byte by byte, and never trusted.

What a .zip says about itself (number and sizes of its files) is checked before and counted while unpacking, so that a
small file cannot become a large one. Only plain files with plain names are written, each one new.
"""

from __future__ import annotations

import contextlib
import stat
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

from desorb.errors import NotFound, NotUnderstood, Refused
from desorb.notebook import bag_form

HIGHEST_RATIO = 100
LARGEST_DIRECTORY = 8 << 20
_END = struct.Struct("<4s4H2LH")  # the record at the end of a .zip: sizes, counts, where its directory lies
_LONGEST_END = _END.size + 65_535
_LARGE = b"PK\x06\x07"  # mark of a .zip beyond 4 GiB or 65,535 files


@contextlib.contextmanager
def as_folder(source: Path) -> Iterator[Path]:
    """The folder of the bag: the given one, or a temporary one with what the .zip holds."""
    if source.is_dir():
        yield source
        return
    if not source.is_file():
        raise NotFound("there is no bag at this place", got=str(source), wanted="a folder or a .zip")
    with tempfile.TemporaryDirectory(prefix="desorb-bag-") as temporary:
        yield unpack(source, Path(temporary))


def unpack(archive: Path, target: Path) -> Path:
    """Unpack into an empty folder and return the folder of the bag in it."""
    try:
        _check_end(archive)
        with zipfile.ZipFile(archive) as opened:
            names = _checked_names(opened)
            most = min(bag_form.MOST_BYTES, HIGHEST_RATIO * archive.stat().st_size)
            written = 0
            for info in names:
                path = target / info.filename
                path.parent.mkdir(parents=True, exist_ok=True)
                with opened.open(info) as packed, open(path, "xb") as file:
                    while chunk := packed.read(bag_form.CHUNK):
                        written += len(chunk)
                        if written > most:
                            raise Refused(
                                "the .zip unpacks to more than desorb takes",
                                wanted=f"at most {bag_form.MOST_BYTES} bytes, and {HIGHEST_RATIO} times its own size",
                            )
                        file.write(chunk)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, struct.error) as problem:
        raise NotUnderstood("this .zip cannot be unpacked", got=str(problem)) from problem
    except OSError as problem:
        raise NotUnderstood("this .zip cannot be unpacked", got=problem.strerror or str(problem)) from problem
    return _folder_of_bag(target)


def _check_end(archive: Path) -> None:
    """Refuse a directory that is too long before it is read: reading it costs time and memory."""
    size = archive.stat().st_size
    with open(archive, "rb") as file:
        file.seek(max(0, size - _LONGEST_END))
        tail = file.read()
    place = tail.rfind(b"PK\x05\x06")
    if place < 0:
        raise zipfile.BadZipFile("it has no end record")
    _, _, _, _, count, directory, _, _ = _END.unpack_from(tail, place)
    if count > bag_form.MOST_FILES or directory > LARGEST_DIRECTORY or _LARGE in tail[max(0, place - 20) : place]:
        raise Refused("the .zip holds too many files", wanted=f"at most {bag_form.MOST_FILES}")


def _checked_names(opened: zipfile.ZipFile) -> list[zipfile.ZipInfo]:
    found: list[zipfile.ZipInfo] = []
    keys: set[str] = set()
    infos = opened.infolist()
    if len(infos) > bag_form.MOST_FILES:
        raise Refused("the .zip holds too many files", wanted=f"at most {bag_form.MOST_FILES}")
    for info in infos:
        # `orig_filename` is the name as written: `filename` was cut at the first NUL and had its separators changed.
        name = info.orig_filename.removesuffix("/")
        if fault := bag_form.fault_of_name(name):
            raise Refused("the .zip holds a name that may not stand in a bag", got=repr(name[:200]), wanted=fault)
        kind = stat.S_IFMT(info.external_attr >> 16)
        if kind not in (0, stat.S_IFREG, stat.S_IFDIR) or info.flag_bits & 1:
            raise Refused("the .zip holds a link, a device or a locked file", got=repr(name[:200]))
        if info.is_dir():
            continue
        if bag_form.twin_key(name) in keys:
            raise Refused("the .zip holds two files whose names are one on some systems", got=repr(name[:200]))
        keys.add(bag_form.twin_key(name))
        found.append(info)
    return found


def _folder_of_bag(target: Path) -> Path:
    """The .zip holds the bag's files, or one folder with them."""
    inside = sorted(target.iterdir())
    if not (target / bag_form.DECLARATION).exists() and len(inside) == 1 and inside[0].is_dir():
        return inside[0]
    return target
