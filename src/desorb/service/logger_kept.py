"""Logger files in a case: the file itself is kept, with how it was understood and what it says; and read again to compare.

Contents: keep_logger; read_again.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Mapping
from dataclasses import fields, replace
from pathlib import Path

import numpy as np

from desorb.core.air.surface import SURFACE_CRITERION
from desorb.core.case import latest_by_id
from desorb.core.kinds import LoggerFigure, LoggerTaken
from desorb.core.saturation import Array
from desorb.core.surface_log import LONGEST_GAP, Log
from desorb.errors import InputError, NotFound, NotUnderstood, RecordDamaged
from desorb.notebook.entry import Entry
from desorb.notebook.store import Store
from desorb.service.cases import Clock, OpenCase, load, now, write, zone_of
from desorb.service.logger_cells import Columns, Stated
from desorb.service.logger_file import LoggerFile, read_logger_file

SAME_AGAIN = ("columns", "clock", "rows", "first_at", "last_at", "figures", "findings")


def keep_logger(
    store: Store,
    case: OpenCase,
    file: Path,
    stated: Stated,
    *,
    id: str,
    zone: str,
    place: str,
    by: str = "",
    longest_gap: float = LONGEST_GAP,
    clock: Clock = now,
) -> tuple[Entry, LoggerTaken]:
    """Keep the bytes of the file, then write what it says. Nothing is kept of a file that cannot be read."""
    for what, got in (("an id", id), ("a zone", zone), ("a place", place)):
        if not got.strip():
            raise InputError(f"a logger file needs {what}", got="nothing", next_step="say which logger hung where")
    zones = latest_by_id(load(store, case).zones)
    if zone not in zones:
        raise InputError(
            "there is no such zone in this case", got=zone, wanted=", ".join(zones) or "none yet",
            next_step="describe the zone first",
        )  # fmt: skip
    try:
        content = file.read_bytes()
    except OSError as problem:
        raise NotUnderstood(
            "the file could not be opened", got=f"{file.name}: {problem.strerror}", next_step="check its name and place"
        ) from problem
    moment = clock().astimezone(zone_of(case.time_zone)).isoformat(timespec="seconds")
    about = LoggerTaken(
        id, zone, place, hashlib.sha256(content).hexdigest(), file.name, (), "", "", "", "", moment, by=by
    )
    taken = _read(file, stated, longest_gap, about)
    store.attach(content)
    return write(store, case, [taken], clock)[0], taken


def read_again(store: Store, case: OpenCase, id: str) -> tuple[str, ...]:
    """Read the kept file as it was understood then: what differs from the entry, nothing where all is the same."""
    kept = latest_by_id(load(store, case).logger_files)
    if id not in kept:
        raise NotFound(
            f"there is no logger file {id!r} in case {case.name}", wanted=", ".join(kept) or "none yet",
            next_step="keep one: desorb logger FILE --case ... --zone ... --place ... --id ...",
        )  # fmt: skip
    record: LoggerTaken = kept[id].record
    content = store.attachment(record.sha256)
    if content is None:
        raise NotFound(
            f"the file of logger {id!r} is not in this store", got=record.sha256[:12],
            next_step="take in a bag of the case that holds it",
        )  # fmt: skip
    if hashlib.sha256(content).hexdigest() != record.sha256:
        raise RecordDamaged(
            f"the kept file of logger {id!r} is not the one that was read: its bytes were changed", got=record.name,
            next_step="put the original back from a backup or a bag, and run 'desorb verify'",
        )  # fmt: skip
    stated, longest_gap = _stated_of(record)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log"
        path.write_bytes(content)
        again = _read(path, stated, longest_gap, record)
    return tuple(
        f"{part}: then {getattr(record, part)!r}, now {getattr(again, part)!r}"
        for part in SAME_AGAIN if getattr(record, part) != getattr(again, part)
    )  # fmt: skip


def _read(path: Path, stated: Stated, longest_gap: float, about: LoggerTaken) -> LoggerTaken:
    log = read_logger_file(path, stated, longest_gap)
    report = log.report
    return replace(
        about, columns=_columns(stated, longest_gap), clock=_clock(stated), rows=str(report.rows_kept), first_at=report.first,
        last_at=report.last, figures=_figures(log), findings=tuple(report.sentences()),
    )  # fmt: skip


def _columns(stated: Stated, longest_gap: float) -> tuple[str, ...]:
    """As `_stated_of` reads them: what, a colon, the words of the file."""
    named = [f"{each.name}: {getattr(stated.columns, each.name)}" for each in fields(Columns)]
    named += [f"temperature_unit: {stated.temperature_unit}", f"humidity_unit: {stated.humidity_unit}"]
    return (*(each for each in named if not each.endswith(": ")), f"time_format: {stated.time_format or 'ISO'}",
            f"longest_gap: {longest_gap!r} h")  # fmt: skip


def _clock(stated: Stated) -> str:
    return f"zone {stated.zone}, {stated.clock_offset} s ahead of true time"


def _stated_of(record: LoggerTaken) -> tuple[Stated, float]:
    said: Mapping[str, str] = dict(each.split(": ", 1) for each in record.columns if ": " in each)
    try:
        columns = Columns(**{each.name: said.get(each.name, "") for each in fields(Columns)})
        zone, ahead = record.clock.removeprefix("zone ").rsplit(", ", 1)
        style = "" if said["time_format"] == "ISO" else said["time_format"]
        seconds = int(ahead.removesuffix(" s ahead of true time"))
        return (
            Stated(columns, said["temperature_unit"], said["humidity_unit"], zone, seconds, style),
            float(said["longest_gap"].removesuffix(" h")),
        )
    except (KeyError, ValueError) as problem:
        raise NotUnderstood(
            f"how logger {record.id!r} was understood cannot be read", got="; ".join((*record.columns, record.clock)),
            next_step="take the file again with its columns, units and clock",
        ) from problem  # fmt: skip


def _figures(log: LoggerFile) -> tuple[LoggerFigure, ...]:
    report, air = log.report, log.air
    found = [
        LoggerFigure("rows read", str(report.rows_read)),
        LoggerFigure("gaps", str(len(report.gaps))),
        LoggerFigure("time in gaps", f"{sum(hours for _, _, hours in report.gaps):.1f}", "h"),
        LoggerFigure("rows repeated, the same", str(report.duplicates_same)),
        LoggerFigure("rows of one time that differ", str(report.duplicates_differing)),
        *_three("air temperature", air.temperature, "degC"),
        *_three("relative humidity of the air", air.relative_humidity, "%"),
        *_hours("in the air", air.air(), air.relative_humidity),
    ]
    given = air.surface_temperature
    if given is not None and int((~np.isnan(given)).sum()) > 1:
        surface, humidity = air.surface()
        found += [
            *_three("surface temperature", surface.temperature, "degC"),
            *_three("relative humidity at the surface", humidity, "%"),
            *_hours("at the surface", surface, humidity),
        ]
    return tuple(found)


def _three(name: str, values: Array, unit: str) -> list[LoggerFigure]:
    """Over the rows, not over time."""
    parts = (("lowest", values.min()), ("median", np.median(values)), ("highest", values.max()))
    return [LoggerFigure(f"{name}, {which}", f"{float(value):.1f}", unit) for which, value in parts]


def _hours(where: str, log: Log, humidity: Array) -> list[LoggerFigure]:
    steps = log.steps()
    damp = float(steps[humidity[:-1] >= SURFACE_CRITERION].sum())
    return [
        LoggerFigure(f"hours at or above {SURFACE_CRITERION:g} % {where}", f"{damp:.1f}", "h"),
        LoggerFigure(f"hours logged {where}", f"{float(steps.sum()):.1f}", "h"),
    ]
