"""The outer form of a bag: BagIt 1.0 [RFC8493], held more strictly than the text asks.

Contents: limits; what a name may be; look (every file of a folder, hashed while streaming); manifests; faults_of_form.
Stricter on purpose: only SHA-256, a tag manifest that covers every other tag file, sorted lines, LF, no fetch.txt.
So every byte of a manifest and of bagit.txt is settled by what they describe, and a changed one shows.
"""

from __future__ import annotations

import hashlib
import os
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

MOST_FILES = 10_000
MOST_BYTES = 2 * 2**30
LONGEST_PART = 255  # bytes of one part of a path: what common file systems take
CHUNK = 1 << 20

DECLARATION = "bagit.txt"
DECLARATION_TEXT = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
INFORMATION = "bag-info.txt"
MANIFEST = "manifest-sha256.txt"
TAG_MANIFEST = "tagmanifest-sha256.txt"
FETCH = "fetch.txt"
PAYLOAD = "data/"

_ODD = re.compile(r"[\x00-\x1f\x7f\\:]")
_LINE = re.compile(r"([0-9A-Fa-f]{64})[ \t]+\*?(\S.*)")
_OTHER_MANIFEST = re.compile(r"(tag)?manifest-[^/]*\.txt")
_OXUM = re.compile(rb"^Payload-Oxum:[ \t]*([^\r\n]*)", re.MULTILINE | re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Seen:
    """A file as it was read: its digest and the number of its bytes."""

    sha256: str
    size: int

    @classmethod
    def of(cls, content: bytes) -> Seen:
        return cls(hashlib.sha256(content).hexdigest(), len(content))


def fault_of_name(name: str) -> str:
    """Why a path may not stand in a bag, or ''. Paths are relative, with '/' between the parts."""
    if _ODD.search(name):
        return "it has a character that some systems cannot hold in a name"
    if not name.isascii():
        try:
            name.encode()
        except UnicodeEncodeError:
            return "it is not written in UTF-8"
    for part in name.split("/"):
        if part in ("", ".", ".."):
            return "it leads out of the bag"
        if part.startswith("~") or part.endswith((".", " ")):
            return "some systems read such a name as another one"
        if len(part.encode()) > LONGEST_PART:
            return "it is too long"
    return ""


def twin_key(name: str) -> str:
    """Equal for names that some systems cannot keep apart."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def open_plainly(path: Path) -> BinaryIO:
    """Open for reading, never through a link."""
    return os.fdopen(os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)), "rb")


def seen_of(path: Path, most: int = MOST_BYTES) -> Seen:
    """The digest and size of a file, read in pieces; reading stops when there is more than `most`."""
    digest, size = hashlib.sha256(), 0
    with open_plainly(path) as file:
        while size <= most and (chunk := file.read(CHUNK)):
            digest.update(chunk)
            size += len(chunk)
    return Seen(digest.hexdigest(), size)


def look(folder: Path) -> tuple[dict[str, Seen], list[str]]:
    """Every file below the folder, hashed. Where there is a fault, nothing of the bag should be read."""
    names, faults = _names_in(folder)
    keys: dict[str, str] = {}
    for name in names:
        if twin := keys.get(twin_key(name)):
            faults.append(f"{twin} and {name} are one name on some systems")
        keys[twin_key(name)] = name
    files: dict[str, Seen] = {}
    total = 0
    for name in [] if faults else names:
        try:
            files[name] = seen_of(folder / name, MOST_BYTES - total)
        except OSError as problem:
            faults.append(f"{name} cannot be read: {problem.strerror}")
            continue
        total += files[name].size
        if total > MOST_BYTES:
            return {}, [f"the files of the bag are larger than {MOST_BYTES} bytes together"]
    return files, faults


def _names_in(folder: Path) -> tuple[list[str], list[str]]:
    names: list[str] = []
    faults: list[str] = []
    waiting, seen = [""], 0
    while waiting:
        inside = waiting.pop()
        try:
            with os.scandir(folder / inside) as found:
                for item in found:
                    seen += 1
                    if seen > MOST_FILES:
                        return [], [f"the bag holds more than {MOST_FILES} files and folders"]
                    name = inside + item.name
                    if fault := fault_of_name(name):
                        faults.append(f"the name {name!r} may not stand in a bag: {fault}")
                    elif item.is_symlink():
                        faults.append(f"{name} is a link to another place")
                    elif item.is_dir(follow_symlinks=False):
                        waiting.append(name + "/")
                    elif item.is_file(follow_symlinks=False):
                        names.append(name)
                    else:
                        faults.append(f"{name} is neither a file nor a folder")
        except OSError as problem:
            faults.append(f"the folder {inside or 'of the bag'} cannot be read: {problem.strerror}")
    return sorted(names), sorted(faults)


def payload_files(files: Mapping[str, Seen]) -> dict[str, Seen]:
    return {name: seen for name, seen in files.items() if name.startswith(PAYLOAD)}


def tag_files(files: Mapping[str, Seen]) -> dict[str, Seen]:
    """Every file that the tag manifest must cover: all outside data/ except itself."""
    return {name: seen for name, seen in files.items() if not name.startswith(PAYLOAD) and name != TAG_MANIFEST}


def manifest_text(files: Mapping[str, Seen]) -> bytes:
    lines = sorted((name.replace("%", "%25"), seen.sha256) for name, seen in files.items())
    return "".join(f"{sha256}  {name}\n" for name, sha256 in lines).encode()


def oxum(files: Mapping[str, Seen]) -> str:
    """Bytes and number of the payload files, as [RFC8493] 2.2.2 writes them."""
    payload = payload_files(files)
    return f"{sum(seen.size for seen in payload.values())}.{len(payload)}"


def faults_of_form(files: Mapping[str, Seen], read: Callable[[str], bytes]) -> list[str]:
    """What is wrong with the bag as a bag: declaration, manifests, files that are missing, changed or not declared."""
    faults: list[str] = []
    for name in files:
        if name.casefold() == FETCH:
            faults.append(f"{name}: a bag that asks for files from elsewhere is not taken")
        elif _OTHER_MANIFEST.fullmatch(name.casefold()) and name not in (MANIFEST, TAG_MANIFEST):
            faults.append(f"{name}: only manifests by SHA-256 are checked here, so no other may stand in the bag")
    if DECLARATION not in files:
        faults.append(f"{DECLARATION} is missing")
    elif read(DECLARATION) != DECLARATION_TEXT:
        faults.append(f"{DECLARATION} does not say exactly that this is BagIt 1.0 in UTF-8")
    for manifest, covered, inside in ((MANIFEST, payload_files, True), (TAG_MANIFEST, tag_files, False)):
        if manifest not in files:
            faults.append(f"{manifest} is missing")
        else:
            faults.extend(_faults_of_manifest(manifest, read(manifest), covered(files), inside))
    if INFORMATION in files:
        stated = _OXUM.findall(read(INFORMATION))
        if stated and stated != [oxum(files).encode()]:
            faults.append(f"{INFORMATION}: the Payload-Oxum is not {oxum(files)}")
    return faults


def _faults_of_manifest(manifest: str, text: bytes, files: Mapping[str, Seen], inside: bool) -> list[str]:
    if text == manifest_text(files):
        return []
    faults: list[str] = []
    declared: dict[str, str] = {}
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text.decode(errors="replace")), start=1):
        parts = _LINE.fullmatch(line)
        if parts is None:
            if line:
                faults.append(f"{manifest}: line {number} is not a SHA-256 and a name")
            continue
        name = re.sub("%(0[Aa]|0[Dd]|25)", lambda code: chr(int(code[1], 16)), parts[2])
        if fault := fault_of_name(name):
            faults.append(f"{manifest}: the name {name!r} may not stand in a bag: {fault}")
        elif name.startswith(PAYLOAD) != inside or name == TAG_MANIFEST:
            faults.append(f"{manifest} may not name {name}")
        elif name in declared:
            faults.append(f"{manifest} names {name} twice")
        elif name not in files:
            faults.append(f"{name} is declared in {manifest} and is not here")
        elif parts[1].lower() != files[name].sha256:
            faults.append(f"{name} does not match its SHA-256 in {manifest}")
        declared[name] = parts[1]
    faults.extend(f"{name} is not declared in {manifest}" for name in sorted(files) if name not in declared)
    return faults or [
        f"{manifest} is not written as desorb writes it: sorted, two spaces, small letters, one LF a line"
    ]
