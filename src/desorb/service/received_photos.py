"""Photos as they arrive: which bytes are taken, how they are kept, and how they are shown.

Contents: kind_of_photo (by the first bytes, never by a name); room_for_photos; Incoming (bytes that arrive in pieces);
keep_photo; stored_photo; offer (bytes that may be shown before an entry names them).
The original is kept as it came. Only JPEG, PNG, WebP and HEIC are taken; HEIC is kept and shown by the device's own browser.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import shutil
import threading
from collections import OrderedDict
from pathlib import Path

from desorb.errors import InputError, NotFound, StoreUnavailable
from desorb.notebook import attachments
from desorb.notebook.store import Store

MEBIBYTE = 1 << 20
LARGEST_PHOTO = 32 * MEBIBYTE  # setting of ours
FREE_FOR_PHOTOS = 200_000_000  # bytes; setting of ours: below it photos are refused and text is still taken
HEAD = 32  # bytes that say what a photo is
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1")
ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp", "image/heic": "heic"}


def kind_of_photo(head: bytes) -> str:
    """The media type of a photo by its first bytes, or ''."""
    if head.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "image/webp"
    if head[4:8] == b"ftyp" and head[8:12] in _HEIC_BRANDS:
        return "image/heic"
    return ""


def room_for_photos(home: Path) -> None:
    """Refuse a photo before its bytes are read when the disk is nearly full. Text is still taken."""
    free = shutil.disk_usage(home).free
    if free < FREE_FOR_PHOTOS:
        raise StoreUnavailable(
            "photos are not taken now: the place for them runs out", got=f"the disk is full but for {free // 10**6} MB",
            wanted=f"{FREE_FOR_PHOTOS // 10**6} MB free",
            next_step="free space; readings are still taken, and the photo stays on the device until then",
        )  # fmt: skip


class Incoming:
    """A photo that arrives in pieces: nothing of it counts before `keep`."""

    def __init__(self, store: Store, sha256: str) -> None:
        attachments.path_of(store.home, sha256)  # refuses what is no digest
        room_for_photos(store.home)
        self.store, self.sha256, self.size = store, sha256, 0
        self._head, self._hash = b"", hashlib.sha256()
        self._path = attachments.folder(store.home) / f"arriving-{secrets.token_hex(8)}"
        with store.writing_original():
            self._file = self._path.open("xb")  # closed by keep or drop

    def add(self, piece: bytes) -> None:
        self.size += len(piece)
        if self.size > LARGEST_PHOTO:
            raise InputError("this photo is too large", wanted=f"at most {LARGEST_PHOTO // MEBIBYTE} MiB")
        if len(self._head) < HEAD:
            self._head += piece[: HEAD - len(self._head)]
            if len(self._head) >= 16:
                self._examine()
        self._hash.update(piece)
        with self.store.writing_original():
            self._file.write(piece)

    def _examine(self) -> None:
        if not kind_of_photo(self._head):
            raise InputError("this is not a photo that is taken", wanted="a JPEG, PNG, WebP or HEIC file")

    def keep(self) -> bool:
        """Put it in its place, on the disk before this returns. True if it was not here before."""
        if not self.size:
            raise InputError("this photo is empty", next_step="take it again")
        self._examine()
        if self._hash.hexdigest() != self.sha256:
            raise InputError(
                "the bytes do not match the SHA-256 they were sent under", got=self._hash.hexdigest(), wanted=self.sha256,
                next_step="send the photo again",
            )  # fmt: skip
        with self.store.writing_original():
            self._file.flush()
            os.fsync(self._file.fileno())
            self._file.close()
            return attachments.put_in_place(self.store.home, self._path, self.sha256)

    def drop(self) -> None:
        """Take away what is left of it: after `keep` there is nothing."""
        self._file.close()
        self._path.unlink(missing_ok=True)


def keep_photo(store: Store, sha256: str, content: bytes) -> bool:
    """Keep a photo whose bytes are all here. True if it was not here before."""
    incoming = Incoming(store, sha256)
    try:
        incoming.add(content)
        return incoming.keep()
    finally:
        incoming.drop()


MOST_OFFERED = 200  # pictures of plans that are being set up; setting of ours
_offered: OrderedDict[tuple[Path, str, str], None] = OrderedDict()
_lock = threading.Lock()


def offer(store: Store, case: str, sha256: str) -> None:
    """The owner is setting up this picture of the plan: it may be looked at before its entry is written."""
    with _lock:
        _offered[store.home, case, sha256] = None
        while len(_offered) > MOST_OFFERED:
            _offered.popitem(last=False)


def stored_photo(store: Store, sha256: str, case: str = "") -> tuple[bytes, str]:
    """The bytes of a photo and its media type. Other originals (tables, reports) are not given out here.

    With `case`: only what an entry of that case names. Bytes that came again after a lawful removal are not given out.
    """
    if case and not store.names_picture(case, sha256) and (store.home, case, sha256) not in _offered:
        raise NotFound(
            "no entry of this case names this photo", got=sha256[:12],
            next_step="if it was taken on a device, let its entries arrive; what was removed for good is not shown",
        )  # fmt: skip
    content = store.attachment(sha256)
    media_type = kind_of_photo(content[:HEAD]) if content else ""
    if content is None or not media_type:
        raise NotFound(
            "this photo is not here",
            got=sha256[:12],
            next_step="it may still be on the device that took it: let it send",
        )
    return content, media_type
