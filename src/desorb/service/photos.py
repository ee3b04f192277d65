"""Photos: the original bytes first, then the entry that names them."""

from __future__ import annotations

from pathlib import Path

from desorb.core.case import Case, latest_by_id
from desorb.core.kinds import Photo
from desorb.errors import InputError, NotUnderstood
from desorb.notebook.entry import Entry
from desorb.notebook.store import Store
from desorb.service.cases import Clock, OpenCase, load, moment_text, now, write
from desorb.service.sheet import media_type_of


def add_photo(
    store: Store,
    case: OpenCase,
    file: Path,
    *,
    words: str,
    taken_at: str,
    spot: str = "",
    zone: str = "",
    direction: str = "",
    visit: str = "",
    by: str = "",
    clock: Clock = now,
) -> Entry:
    """Keep a photo and write its entry. Place and time are what the person says, not what the file says."""
    try:
        content = file.read_bytes()
    except OSError as problem:
        raise NotUnderstood("the photo could not be read", got=f"{file}: {problem.strerror}") from problem
    media_type = media_type_of(content)
    folded = load(store, case)
    if spot and spot not in latest_by_id(folded.spots):
        raise InputError("there is no such spot in this case", got=spot, next_step="describe the spot first")
    moment = moment_text(taken_at, case.time_zone)
    sha256 = store.attach(content)
    photo = Photo(sha256, media_type, len(content), words, moment, spot, zone, direction, visit, by)
    return write(store, case, [photo], clock)[0]


def photos_awaited(store: Store, case: Case) -> frozenset[str]:
    """Photos whose entry is here and whose bytes are not."""
    return frozenset(
        entered.record.sha256 for entered in case.photos if store.attachment(entered.record.sha256) is None
    )
