"""The demonstration: an invented case taken, assessed, reported, exported, imported again and verified.

The files in demo_case/ are the input of a practitioner: a sheet, tables of readings and air, checks. The clock of the
demonstration is set to the days of the visits, so that "as known on" can be tried. Nothing in it is real.
"""

from __future__ import annotations

import io
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from typing import Any

from desorb.errors import RecordDamaged, Refused
from desorb.notebook.store import Store
from desorb.notebook.verify import verify_bag, verify_store
from desorb.service.assessing import as_objects, assess_case
from desorb.service.bags import export_case, import_case
from desorb.service.cases import OpenCase, case_names, find_case, load, open_case, strike
from desorb.service.instruments import describe_instrument, log_check
from desorb.service.photos import add_photo
from desorb.service.reporting import issue_report
from desorb.service.sheet import instruments_of_sheet
from desorb.service.take import take_file

CASE_NAME = "quillfen"
VISITS = (
    ("v1", "2026-01-12T18:00:00"),
    ("v2", "2026-01-15T18:00:00"),
    ("v3", "2026-01-20T18:00:00"),
    ("v4", "2026-01-26T18:00:00"),
    ("v5", "2026-02-02T18:00:00"),
)
CHECKS = (
    ("m1", "60", "2026-01-05T08:00:00+00:00"),
    ("p1", "18.1", "2026-01-10T08:00:00+00:00"),
    ("m1", "61", "2026-01-26T08:00:00+00:00"),
    ("p1", "17.9", "2026-02-01T08:00:00+00:00"),
)


@dataclass(frozen=True, slots=True)
class Shown:
    home: Path
    case: str
    pdf: Path
    bag: Path
    objects: list[dict[str, Any]]

    def as_object(self) -> dict[str, Any]:
        return {
            "home": str(self.home), "case": self.case, "pdf": str(self.pdf), "bag": str(self.bag),
            "assessments": self.objects,
        }  # fmt: skip


class _SetClock:
    """The clock of the demonstration: set to the day of the visit."""

    def __init__(self) -> None:
        self.moment = datetime(2026, 1, 12, 9, 0, tzinfo=UTC)

    def set(self, text: str) -> None:
        self.moment = datetime.fromisoformat(text).replace(tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.moment

    def text(self) -> str:
        return self.moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def run_demo(out: Path, home: str = "") -> Shown:
    """Build the case in a new store under `out` (or in `home`), and prove the round trip of the record."""
    out.mkdir(parents=True, exist_ok=True)
    folder = Path(home) if home else Path(tempfile.mkdtemp(prefix="store-", dir=out))
    clock = _SetClock()
    with Store(folder, now=clock.text) as store:
        store.assert_durable()
        if CASE_NAME in case_names(store):
            raise Refused("this store holds the demonstration case already", next_step=f"desorb assess {CASE_NAME}")
        case = build_case(store, clock, out)
        objects = as_objects(assess_case(store, case)[1])
        report = issue_report(store, case, out, by="N. Ferrow", clock=clock)
        bag = _new_name(out, "quillfen-bag")
        export_case(store, case, bag, clock)
        _prove(store, case, bag, objects)
    return Shown(folder, CASE_NAME, report.pdf, bag, objects)


def build_case(store: Store, clock: _SetClock, out: Path) -> OpenCase:
    """Take the invented files, visit by visit."""
    source = resources.files("desorb.service") / "demo_case"
    with resources.as_file(source) as files:
        for instrument in instruments_of_sheet((files / "instruments.toml").read_bytes()):
            describe_instrument(store, instrument, clock)
        case = open_case(
            store, CASE_NAME, site="Quillfen Reading Room (invented)", time_zone="Europe/London", opened_by="N. Ferrow",
            client="the trustees (invented)", scope="annex store, walls and hall void after a burst pipe; marks, no drilling",
            invented=True, clock=clock,
        )  # fmt: skip
        take_file(store, case, files / "case.toml", clock=clock)
        for visit, moment in VISITS:
            clock.set(moment)
            _checks_until(store, moment, clock)
            for part in (f"{visit.replace('v', 'visit-')}{end}" for end in (".toml", "-readings.csv", "-air.csv")):
                if (files / part).exists():
                    take_file(store, case, files / part, clock=clock)
            if visit == "v1":
                _photos(store, case, clock, out)
            if visit == "v2":
                _correct_the_mistyped(store, case, files, clock)
            if visit == "v3":
                issue_report(store, case, out, by="N. Ferrow", clock=clock)
    return case


def _checks_until(store: Store, moment: str, clock: _SetClock) -> None:
    from desorb.service.instruments import check_log

    logged = {(check.instrument, check.at) for check in check_log(store)}
    for instrument, value, at in CHECKS:
        if at[:19] <= moment and (instrument, at) not in logged:
            log_check(store, instrument, value, at=at, by="N. Ferrow", clock=clock)


def _correct_the_mistyped(store: Store, case: OpenCase, files: Path, clock: _SetClock) -> None:
    """52 was typed as 25: the wrong entry is struck, the right one is written, and both stay visible."""
    from desorb.service.take import take_readings

    wrong = next(e for e in load(store, case).readings if e.record.spot == "k3" and e.record.values == ("25",))
    strike(store, case, wrong.entry, why="mistyped: the display read 52", by="N. Ferrow", clock=clock)
    right = {
        "visit": "v2", "taken_at": wrong.record.taken_at, "spot": "k3", "instrument": "m1", "scale": "comparative",
        "value": "52", "covering": "vinyl", "by": "N. Ferrow", "note": "in place of the struck 25",
    }  # fmt: skip
    take_readings(store, case, [right], clock=clock)


def _photos(store: Store, case: OpenCase, clock: _SetClock, out: Path) -> None:
    """Two drawn stand-ins for photos: they say that they are invented."""
    from PIL import Image, ImageDraw

    shots = (
        ("k1", "store", "north", "store floor at k1, vinyl tile, meter beside it", "2026-01-12T10:11"),
        ("", "store", "up", "ceiling bulge over the shelves", "2026-01-12T09:31"),
    )
    for number, (spot, zone, direction, words, taken_at) in enumerate(shots):
        image = Image.new("RGB", (640, 420), (233, 229, 219))
        draw = ImageDraw.Draw(image)
        for x in range(0, 640, 80):
            draw.line([(x, 120), (x - 60, 420)], fill=(150, 148, 140), width=2)
        for y in range(120, 420, 60):
            draw.line([(0, y), (640, y)], fill=(150, 148, 140), width=2)
        draw.ellipse([(240, 210 - 90 * number), (400, 290 - 60 * number)], outline=(18, 60, 82), width=5)
        draw.text((16, 16), f"invented stand-in for a photo\n{words}", fill=(27, 39, 51))
        content = io.BytesIO()
        image.save(content, "PNG")
        with tempfile.NamedTemporaryFile(suffix=".png", dir=out) as file:
            file.write(content.getvalue())
            file.flush()
            add_photo(
                store, case, Path(file.name), words=f"{words} (drawn stand-in, invented)", taken_at=taken_at, spot=spot,
                zone=zone, direction=direction, visit="v1", by="N. Ferrow", clock=clock,
            )  # fmt: skip


def _prove(store: Store, case: OpenCase, bag: Path, objects: list[dict[str, Any]]) -> None:
    """The record verifies, the bag verifies, and an import into an empty store gives the same assessments."""
    for verified in (verify_store(store, case.id), verify_bag(bag)):
        if not verified.ok:
            raise RecordDamaged("the demonstration record does not verify", got="; ".join(verified.faults[:3]))
    with tempfile.TemporaryDirectory() as elsewhere, Store(Path(elsewhere)) as other:
        import_case(other, bag)
        again = as_objects(assess_case(other, find_case(other, CASE_NAME))[1])
        if again != objects:
            raise RecordDamaged("the imported case does not give the same assessments")


def _new_name(folder: Path, stem: str) -> Path:
    number = 1
    while (folder / f"{stem}-{number}").exists():
        number += 1
    return folder / f"{stem}-{number}"
