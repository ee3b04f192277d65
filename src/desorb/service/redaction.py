"""A redacted copy of a case for a contractor: the spot data whole, names and faces left out.

Contents: Preview, preview_of; hide_area, take_area_back, areas_of (areas of photos that are left out); HiddenArea;
redacted_copy (a zip: report, twins, photos, a page that says what was left out).
The record itself is not touched. A copy that was changed proves nothing, so it carries no heads.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from desorb.core.assess import assess
from desorb.core.case import Case, Entered
from desorb.core.kinds import Photo, PhotoMark
from desorb.errors import DesorbError, InputError, NotFound, Refused
from desorb.notebook.store import Store
from desorb.report.render import Rendered, render
from desorb.service.cases import Clock, OpenCase, load, moment_text, now, strike, write
from desorb.service.drying import drying_without_round
from desorb.service.methods import methods_of
from desorb.service.redaction_words import Redactor, Replaced, ToLookAt, redacted_case, still_named
from desorb.service.reporting import SOFTWARE, day_of_report
from desorb.service.settings import finite
from desorb.service.shown_photos import shown_photo

HIDE = "hide"
INK = (27, 39, 51)  # the ink of the page: an area that was left out is a plain dark field
WIDTH = 1600  # px of a photo in the copy
QUALITY = 85
SMALLEST = Decimal("0.005")  # share of the side: less hides nothing
NOTE = "Redacted copy: names, telephone numbers and hidden areas are left out. It is not the record."


@dataclass(frozen=True, slots=True)
class HiddenArea:
    """One area of one photo that is left out, in shares of the picture."""

    entry: str
    sha256: str
    left: str
    top: str
    width: str
    height: str
    words: str
    by: str


@dataclass(frozen=True, slots=True)
class Preview:
    """What the copy would change, and what a person should look at."""

    replaced: tuple[Replaced, ...]
    to_look_at: tuple[ToLookAt, ...]
    roles: Mapping[str, str]
    photos: int


def preview_of(store: Store, case: OpenCase, names: Sequence[str]) -> Preview:
    """Every replacement with where it stands, and the texts that still hold words with a capital letter."""
    folded, redactor = redacted_case(load(store, case), names)
    return Preview(tuple(redactor.replaced), tuple(redactor.to_look_at), dict(redactor.roles), len(folded.photos))


def areas_of(case: Case) -> list[HiddenArea]:
    return [
        _hidden(each.entry, each.record)
        for each in case.photo_marks
        if each.record.shape == HIDE and len(each.record.area) == 4
    ]


def _hidden(entry: str, mark: PhotoMark) -> HiddenArea:
    left, top, width, height = mark.area
    return HiddenArea(entry, mark.sha256, left, top, width, height, mark.words, mark.by)


def hide_area(
    store: Store, case: OpenCase, sha256: str, area: Sequence[str], *, words: str, by: str, clock: Clock = now
) -> HiddenArea:
    """Leave an area of a photo out of redacted copies. `area`: left, top, width, height as shares of the picture, 0 to 1."""
    folded = load(store, case)
    if all(each.record.sha256 != sha256 for each in folded.photos):
        raise NotFound("there is no such photo in this case", got=sha256[:16])
    if not by.strip():
        raise InputError("a hidden area says who drew it", next_step="give your name")
    shares = [_share(text) for text in area]
    left, top, width, height = shares
    if min(shares) < 0 or left + width > 1 or top + height > 1 or min(width, height) < SMALLEST:
        raise InputError(
            "the area does not lie in the picture", got=", ".join(area),
            wanted="left, top, width, height from 0 to 1, left + width and top + height at most 1",
        )  # fmt: skip
    at = moment_text(clock().isoformat(), case.time_zone)
    record = PhotoMark(sha256, HIDE, tuple(f"{share:f}" for share in shares), words.strip(), at, by.strip())
    for each in areas_of(folded):
        if (each.sha256, each.left, each.top, each.width, each.height) == (sha256, *record.area):
            return each
    return _hidden(write(store, case, [record], clock)[0].name, record)


def _share(text: str) -> Decimal:
    return finite("a side of the area", text).quantize(Decimal("0.0001"))


def take_area_back(store: Store, case: OpenCase, entry: str, *, why: str, by: str, clock: Clock = now) -> str:
    """Strike a hidden area: copies made from now on show it again."""
    if all(each.entry != entry for each in areas_of(load(store, case))):
        raise NotFound("there is no such hidden area", got=entry)
    return strike(store, case, entry, why=why, by=by, clock=clock).name


def redacted_copy(
    store: Store, case: OpenCase, names: Sequence[str], photos: Sequence[str], *, clock: Clock = now
) -> bytes:
    """The zip. `photos`: those a person has looked at (SHA-256); no other goes along."""
    original = load(store, case)
    here = {each.record.sha256 for each in original.photos}
    if strange := [sha256 for sha256 in photos if sha256 not in here]:
        raise NotFound("there is no such photo in this case", got=strange[0][:16])
    folded, redactor = redacted_case(original, names)
    if found := still_named(folded, redactor.names):
        raise Refused(
            "a listed name would still stand in the copy",
            got="; ".join(found[:3]),
            next_step="report this fault of desorb",
        )
    pictures, why_not = _pictures(store, original, photos)
    folded = replace(folded, photos=_with_pictures(folded.photos, pictures), photo_marks=())
    _same_data(original, folded)
    moment = moment_text(clock().isoformat(), case.time_zone)
    made = render(
        folded, assess(folded, history=True), number=0, issued_at=moment, software=SOFTWARE,
        photos={hashlib.sha256(content).hexdigest(): content for content in pictures.values()},
        note_of_known_on=NOTE, methods=methods_of(folded), drying=drying_without_round(folded, day_of_report(moment)),
    )  # fmt: skip
    readme = _readme(original, folded, redactor, len(here), pictures, why_not, SOFTWARE)
    return _zipped(folded, made, pictures, readme, clock)


def _pictures(store: Store, case: Case, photos: Sequence[str]) -> tuple[dict[str, bytes], list[str]]:
    """Each photo drawn anew without its hidden data, areas filled with ink; and the reasons where there is none."""
    areas = areas_of(case)
    pictures: dict[str, bytes] = {}
    why_not: list[str] = []
    for place, sha256 in enumerate(dict.fromkeys(photos), 1):
        try:
            shown = shown_photo(store, sha256, WIDTH)
        except DesorbError as problem:
            why_not.append(f"photo {place}: {problem.what}")
            continue
        pictures[sha256] = _covered(shown, [area for area in areas if area.sha256 == sha256])
    return pictures, why_not


def _covered(content: bytes, areas: Sequence[HiddenArea]) -> bytes:
    """A new JPEG of the pixels alone. The areas lie on the picture as it is seen, upright."""
    from PIL import Image, ImageDraw

    with Image.open(io.BytesIO(content), formats=("JPEG",)) as image:
        flat = Image.new("RGB", image.size)
        flat.paste(image.convert("RGB"))
    draw = ImageDraw.Draw(flat)
    for area in areas:
        left, top = float(area.left) * flat.width, float(area.top) * flat.height
        right, bottom = left + float(area.width) * flat.width, top + float(area.height) * flat.height
        draw.rectangle((int(left), int(top), int(right) + 1, int(bottom) + 1), fill=INK)
    out = io.BytesIO()
    flat.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


def _with_pictures(photos: tuple[Entered[Photo], ...], pictures: Mapping[str, bytes]) -> tuple[Entered[Photo], ...]:
    """Photos of the copy: those that go along, under the hash of what goes along."""
    kept = []
    for each in photos:
        content = pictures.get(each.record.sha256)
        if content is not None:
            sha256 = hashlib.sha256(content).hexdigest()
            record = replace(each.record, sha256=sha256, media_type="image/jpeg", size=len(content))
            kept.append(replace(each, record=record))
    return tuple(kept)


def _same_data(original: Case, copy: Case) -> None:
    """Taking names out must not change what is said of any spot."""
    before, after = (
        Counter((each.kind, each.status, each.value_text, each.visit, each.limit) for each in assess(case).all)
        for case in (original, copy)
    )
    if before != after:
        raise Refused(
            "taking these names out would change what is said of a spot: two ids become one, or a word of the scale is a name",
            got="; ".join(str(each[2]) for each in (before - after))[:200],
            next_step="list longer names, such as the full name",
        )  # fmt: skip


def _readme(
    original: Case,
    copy: Case,
    redactor: Redactor,
    photos: int,
    pictures: Mapping[str, bytes],
    why_not: list[str],
    software: str,
) -> str:
    heads = ", ".join(f"{device}/{n}" for device, (n, _) in sorted(original.evidence_heads.items()))
    fields = Counter(
        each.becomes for each in redactor.replaced if each.field in ("by", "opened_by", "told_to", "client")
    )
    hidden = sum(area.sha256 in pictures for area in areas_of(original))
    lines = [
        "A REDACTED COPY",
        "",
        f"Case: {copy.opened.record.name if copy.opened else ''}",
        f"Made with {software}.",
        "",
        "What was left out or replaced:",
        f"- people became roles: {', '.join(sorted(fields)) or 'none was named'}",
        f"- {len(redactor.replaced)} texts had names, telephone numbers, e-mail addresses or coordinates replaced by words in"
        " square brackets",
        f"- {photos - len(pictures)} of {photos} photos are not in this copy; {hidden} areas of the others are filled with ink",
        "- photos were drawn anew: camera data, place and time inside the files are gone",
        "- the picture under the plan, the list of earlier reports and the heads of the record are not in this copy",
        "- the id of the case, the hashes of entries and the SHA-256 of files taken are left out; entries are numbered instead",
        *(f"- {words}" for words in why_not),
        "",
        "What is whole: every spot, reading, scale, control, check, limit, gate and time.",
        "",
        "This copy is not the record. It was changed on purpose, so it cannot prove that nothing was changed, and it carries no",
        "heads to be checked against. The record is with whoever made this copy.",
        f"For reference only, the last entries of the record when this was made: {heads or 'none'}.",
        "",
        "Delete this copy when the work it was given for is done.",
        "",
    ]
    return "\n".join(lines)


def _zipped(case: Case, made: Rendered, pictures: Mapping[str, bytes], readme: str, clock: Clock) -> bytes:
    """The files under plain names; every time in the zip is the day it was made."""
    files = {"README.txt": readme.encode(), "report.pdf": made.pdf, "report.json": made.json}
    files |= {f"tables/{name}": content for name, content in made.csv.items()}
    files |= {f"photos/photo-{place}.jpg": content for place, content in enumerate(pictures.values(), 1)}
    day = clock()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in files.items():
            packed.writestr(
                zipfile.ZipInfo(name, (day.year, day.month, day.day, 0, 0, 0)), content, zipfile.ZIP_DEFLATED
            )
    return out.getvalue()
