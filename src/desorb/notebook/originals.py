"""The files that entries name by their SHA-256: photos, pictures under the plan, files taken, logger files, reports issued.

Contents: Original; payload_or_nothing; originals_of (what an entry names); name_in_bag; check_originals.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from desorb.errors import NotUnderstood
from desorb.notebook import attachments
from desorb.notebook.bag_form import Seen
from desorb.notebook.entry import Entry, read_object

ENDINGS = {
    "image/jpeg": "jpg", "image/png": "png", "image/webp": "webp", "image/heic": "heic", "image/heif": "heif",
    "image/tiff": "tif", "image/gif": "gif", "image/avif": "avif", "application/pdf": "pdf", "video/mp4": "mp4",
}  # fmt: skip
ENDINGS_OF_FILES = ("csv", "txt", "tsv", "json", "xlsx", "xml", "ods", "pdf")


@dataclass(frozen=True, slots=True)
class Original:
    """A file that an entry names. `folder` is where it lies in a bag."""

    folder: str
    sha256: str
    words: str
    ending: str
    size: int | None = None

    @property
    def name_in_bag(self) -> str:
        return f"data/{self.folder}/{self.sha256}.{self.ending}"


def payload_or_nothing(entry: Entry) -> dict[str, Any]:
    """The payload of an entry that was not checked yet: nothing where it cannot be read."""
    try:
        return {} if entry.payload_text is None else read_object(entry.payload_text)
    except NotUnderstood:
        return {}


def originals_of(entry: Entry) -> list[Original]:
    """The files an entry names. What is not a digest names none: a stranger may have written it."""
    if entry.kind not in ("photo", "plan-picture", "file-taken", "logger-taken", "report-issued"):
        return []
    payload = payload_or_nothing(entry)

    def text(part: str) -> str:
        value = payload.get(part)
        return value if type(value) is str else ""

    size = payload.get("size")
    if entry.kind == "photo":
        ending = ENDINGS.get(text("media_type"), "bin")
        named = [Original("photos", text("sha256"), "photo", ending, size if type(size) is int else None)]
    elif entry.kind == "plan-picture":
        ending = ENDINGS.get(text("media_type"), "bin")
        named = [
            Original("photos", text("sha256"), "plan picture", ending),
            Original(
                "files", text("source_sha256"), "file under the plan", "pdf" if payload.get("source_page") else "bin"
            ),
        ]
    elif entry.kind in ("file-taken", "logger-taken"):
        ending = text("name").rpartition(".")[2].lower()
        words = "file taken" if entry.kind == "file-taken" else "logger file"
        named = [Original("files", text("sha256"), words, ending if ending in ENDINGS_OF_FILES else "bin")]
    else:
        named = [
            Original("report", text("pdf_sha256"), "report", "pdf"),
            Original("report", text("twin_sha256"), "report as data", "json"),
        ]
    return [each for each in named if attachments.SHA256.fullmatch(each.sha256)]


def check_originals(
    entries: Iterable[Entry],
    find: Callable[[Original], Seen | None],
    faults: list[str],
    notes: list[str],
    own_device: str = "",
) -> dict[str, int]:
    """Look every original up. What this device wrote itself was here once: missing, it is a fault. Reports that were
    issued before a removal may have gone with it."""
    entries = list(entries)
    last_removal = max((entry.clock for entry in entries if entry.kind == "removal"), default=0)
    words = ("photo", "plan picture", "file taken", "file under the plan", "logger file", "report", "report as data")
    counts = dict.fromkeys(words, 0)
    for entry in entries:
        for original in originals_of(entry):
            name = f"{original.words} {original.sha256[:12]} of entry {entry.name}"
            try:
                seen = find(original)
            except OSError as problem:
                faults.append(f"the {name} cannot be read: {problem.strerror}")
                continue
            if seen is None:
                gone_with_a_removal = entry.kind == "report-issued" and entry.clock < last_removal
                if original.words == "report as data" or gone_with_a_removal:
                    continue
                if entry.device == own_device:
                    faults.append(f"the {name} is missing: this store wrote its entry, so its bytes were here")
                else:
                    notes.append(f"the {name} is not here: it is awaited")
                continue
            counts[original.words] += 1
            if seen.sha256 != original.sha256:
                faults.append(f"the {name} does not match its SHA-256: its bytes were changed")
            if original.size not in (None, seen.size):
                faults.append(f"the {name} has {seen.size} bytes; its entry says {original.size}")
    photos = counts["photo"] + counts["plan picture"]
    files = counts["file taken"] + counts["file under the plan"] + counts["logger file"]
    return {"photos": photos, "files": files, "report files": counts["report"]}
