"""The paper: the dataset set by typst as PDF/A-2a and PDF/UA-1, the same bytes for the same dataset, date and lock.

Contents: make_pdf; print_data (the dataset as the template wants it); photo_for_print (a smaller copy without metadata,
or the sentence why there is none).
"""

from __future__ import annotations

import hashlib
import io
import re
import tempfile
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

from desorb.errors import InputError, ReportFailed
from desorb.report.beside import PARTS as BESIDE
from desorb.report.beside import values_of
from desorb.report.layers import MOST_DAYS_BETWEEN
from desorb.report.letters import DRAWABLE, PLAIN, Ranges, print_copy
from desorb.report.palette import fonts
from desorb.report.plots import undrawn
from desorb.report.words import MARKS, entries_in_words, listed, moment, shortened, shown, with_moments

PAPERS = {"a4": "a4", "letter": "us-letter"}
FACES = ("Regular", "It", "Semibold", "SemiboldIt")
PARTS = ("template.typ", "style.typ", "evidence.typ")
LONGEST_SIDE = 1600  # px of a photo on paper
MOST_PIXELS = 64_000_000
FORMATS = ("JPEG", "PNG")
QUALITY = 82
LONGEST_ZONE = 28  # signs of a zone in the rows of readings; the whole stands in the list of spots
MOST_COLUMNS, WIDEST, SIGNS_ACROSS = 7, 40, 130  # of a table of methods; signs that widen a column; signs of a row
FEW_ENTRIES = 3  # a finding about more of them is told once
PHOTOS_AT_ONCE = 2  # a large one takes a quarter of a gigabyte while it is open
CHART_WIDTH, PLAN_WIDTH = 760.0, 640.0  # px of a drawing that fills the page
SIZE = re.compile(r'<svg[^>]*? width="(\d+)"[^>]*? height="(\d+)"')
TIME_FIELDS = frozenset({"taken_at", "claimed_at", "at", "begun_at", "issued_at", "opened_at"})


def make_pdf(
    document: Mapping[str, Any], photos: Mapping[str, bytes], pictures: Mapping[str, str], *, paper: str = "a4"
) -> bytes:
    """The PDF of a dataset. `photos` by SHA-256; `pictures` are the SVGs by key: "plan", "chart-1" ..."""
    if paper not in PAPERS:
        raise InputError("this paper size is not known", got=repr(paper), wanted=" or ".join(PAPERS))
    with ThreadPoolExecutor(max_workers=PHOTOS_AT_ONCE) as pool:
        prints = dict(zip(photos, pool.map(photo_for_print, photos, photos.values()), strict=True))
    try:
        return _set(document, prints, pictures, PAPERS[paper], DRAWABLE)
    except ReportFailed:
        # A combination of signs that no font draws: set once more with the plainest signs only.
        return _set(document, prints, pictures, PAPERS[paper], PLAIN)


def _set(
    document: Mapping[str, Any],
    prints: Mapping[str, bytes | str],
    pictures: Mapping[str, str],
    paper: str,
    ranges: Ranges,
) -> bytes:
    import json

    import typst

    with tempfile.TemporaryDirectory(prefix="desorb-report-") as folder:
        root = Path(folder)
        data = print_data(document, prints, pictures, ranges)
        (root / "document.json").write_text(json.dumps(data, ensure_ascii=False, allow_nan=False), encoding="utf-8")
        for part in PARTS:
            (root / part).write_bytes(files("desorb.report").joinpath(part).read_bytes())
        for key, svg in pictures.items():
            (root / f"{key}.svg").write_text(svg, encoding="utf-8")
        for name, content in prints.items():
            if isinstance(content, bytes):
                (root / f"photo-{name[:64]}.jpg").write_bytes(content)
        (root / "faces").mkdir()
        for face in FACES:
            font = Path(fonts()) / f"SourceSansPro-{face}.otf"
            (root / "faces" / font.name).write_bytes(font.read_bytes())
        try:
            made: bytes = typst.compile(
                str(root / "template.typ"), root=str(root), font_paths=[str(root / "faces")], ignore_system_fonts=True,
                sys_inputs={"paper": paper}, pdf_standards=["a-2a", "ua-1"], format="pdf", timestamp=0,
            )  # fmt: skip
            return made
        except (KeyboardInterrupt, SystemExit, GeneratorExit):
            raise
        except BaseException as problem:  # a panic inside the typesetter is no Exception
            raise ReportFailed(
                "the report could not be set",
                got=shortened(str(problem), 300),
                next_step="the JSON and CSV hold it all",
            ) from problem


def print_data(
    document: Mapping[str, Any],
    prints: Mapping[str, bytes | str],
    pictures: Mapping[str, str],
    ranges: Ranges = DRAWABLE,
) -> dict[str, Any]:
    """The dataset for the template: signs that can be drawn, entries as ranges, names of the picture files."""
    data: dict[str, Any] = print_copy(dict(document), ranges)
    data["replaced_signs"] = data != print_copy(dict(document), ((0, 0x10FFFF),))
    data["short_name"] = shortened(data["case"]["name"] or data["case"]["id"], 60)
    data["plan_file"], data["plan_width"] = "plan.svg", _share(pictures.get("plan", ""), PLAN_WIDTH)
    data["without_place_text"] = listed(data["higher"]["plan"]["without_place"], 40)
    data["stamp"] = data["issued_at"]
    _number_findings(data)
    _put_times_in_words(data)
    _add_entry_words(data)
    for group in data["controls"]:
        group["spots_text"] = listed(group["spots"], 40)
    data["refusals"] = _refusals(data["controls"])
    for row in [*data["readings"], *(used for group in data["controls"] for used in group["used"])]:
        zone, comma, element = row.get("place", "").rpartition(", ")
        row["place"] = f"{shortened(zone, LONGEST_ZONE)}{comma}{element}"
    for group in data["next"]["work"]:
        for item in group["items"]:
            item["places_text"] = listed(item["places"], 40)
    for item in [*data["owner"]["found"], *data["owner"]["statuses"]]:
        item["mark"] = MARKS[item["status"]]
    for row in data["higher"]["elements"]:
        row["visit_words"] = f"visit {row['visit']}" if row["visit"] else "not read"
    for panel in data["higher"]["charts"]:
        panel["file"], panel["words"] = f"{panel['key']}.svg", _panel_words(panel)
        panel["width"] = _share(pictures.get(panel["key"], ""), CHART_WIDTH)
    data["beside_titles"] = BESIDE
    for each in (each for name in BESIDE for each in data.get(name, ())):
        _set_shown(each, pictures)
    for photo in data["photos"]:
        printed = prints.get(photo["sha256"], "This photo has not arrived yet.")
        photo["file"] = f"photo-{photo['sha256'][:64]}.jpg" if isinstance(printed, bytes) else ""
        photo["why_not"] = printed if isinstance(printed, str) else ""
        named = ", ".join(part for part in (photo["words"], photo["place"], photo["direction"]) if part)
        photo["alt"] = f"Photo: {named or 'no words'}"
    return data


def _set_shown(each: dict[str, Any], pictures: Mapping[str, str]) -> None:
    """Widths of tables, files of charts and entries in words, for one thing that a method or the drying says."""
    each["rests_on_text"] = entries_in_words(each["rests_on"])
    each["tables"] = [_table_for_print(table["columns"], table["rows"]) for table in each["tables"]]
    for plot in each["plots"]:
        svg = pictures.get(plot["key"], "")
        plot["file"], plot["width"] = f"{plot['key']}.svg" if svg else "", _share(svg, CHART_WIDTH)
        plot["values"] = values_of(plot)
        count = undrawn(plot)
        plot["not_drawn"] = f"Points that are no plain number, not drawn: {count}." if count else ""
        if not svg:
            plot["not_drawn"] = f"{plot['title']}: not drawn, since fewer than two places on its axis have a value."


def _table_for_print(columns: list[str], rows: list[list[str]]) -> dict[str, Any]:
    """A table with the shares of its columns; a wide one has two columns, and names what each figure is in its row."""
    rows = [[with_moments(cell) for cell in row] for row in rows]
    longest = [max(len(cell) for cell in column) for column in zip(columns, *rows, strict=True)]
    shares = [min(max(each, 6), WIDEST) for each in longest]
    if len(columns) > MOST_COLUMNS and sum(shares) > SIGNS_ACROSS:
        first, *others = columns
        told = [
            [row[0], "\n".join(f"{name}: {cell}" for name, cell in zip(others, row[1:], strict=True) if cell)]
            for row in rows
        ]
        return {"heads": [first, "What is known of it"], "shares": [34, 138], "rows": told}
    return {"heads": columns, "shares": shares, "rows": rows}


def _number_findings(data: dict[str, Any]) -> None:
    """A finding about many readings is told once, in its table, and named by its number in their rows."""
    shared = {}
    for number, finding in enumerate(data["why"]["findings"], 1):
        finding["number"] = str(number)
        if len(finding["entries"]) > FEW_ENTRIES:
            for entry in finding["entries"]:
                shared[finding["words"], entry] = f"see finding {number}"
    for row in data["readings"]:
        row["remarks"] = [shared.get((words, row["entry"]), words) for words in row["remarks"]]


def _refusals(groups: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Controls that were not used, each reason once with the sets it belongs to; the nearest misses first."""
    found: dict[str, tuple[list[str], list[int], int]] = {}
    for number, group in enumerate(groups, 1):
        for refused in group["refused"]:
            spots, sets, _ = found.setdefault(refused["words"], ([], [], len(refused["fields"])))
            spots += [spot for spot in refused["spots"] if spot not in spots]
            sets.append(number)
    ordered = sorted(found.items(), key=lambda pair: (pair[1][2], pair[1][1]))
    return [
        {"words": words, "spots": listed(spots, 20), "sets": ", ".join(map(str, dict.fromkeys(sets)))}
        for words, (spots, sets, _) in ordered
    ]


def _put_times_in_words(data: dict[str, Any]) -> None:
    """Times as people read them: in the fields that hold a time, and in the sentences that desorb made itself."""
    _put_moments(data)
    made = [
        (data["hurt"]["gates"], ("words", "evidence")), (data["hurt"]["gates_of_next_steps"], ("words", "evidence")),
        (data["readings"], ("remarks",)), (data["why"]["air"], ("remarks",)), (data["not_read"], ("remarks",)),
        (data["why"]["unit_readings"], ("remarks",)),
        (data["why"]["findings"], ("words", "answered")), (data["record"]["corrections"], ("words",)),
        (data["higher"]["elements"], ("reasons",)), (data["higher"]["spots"], ("reasons",)),
    ]  # fmt: skip
    for rows, names in made:
        for row in rows:
            for name in names:
                said = row[name]
                row[name] = [with_moments(each) for each in said] if isinstance(said, list) else with_moments(said)


def _put_moments(value: Any) -> None:
    if isinstance(value, dict):
        for name, part in value.items():
            if name in TIME_FIELDS and isinstance(part, str):
                value[name] = moment(part)
            else:
                _put_moments(part)
    elif isinstance(value, list):
        for part in value:
            _put_moments(part)


def _add_entry_words(value: Any) -> None:
    """Beside every list of entries, the same in words."""
    if isinstance(value, dict):
        if isinstance(value.get("entries"), list):
            value["entries_text"] = entries_in_words(value["entries"])
        for part in list(value.values()):
            _add_entry_words(part)
    elif isinstance(value, list):
        for part in value:
            _add_entry_words(part)


def _size(svg: str) -> tuple[int, int]:
    """Width and height of a drawing in px, (0, 0) where there is none."""
    found = SIZE.search(svg)
    return (int(found[1]), int(found[2])) if found else (0, 0)


def _share(svg: str, full: float) -> float:
    """Width of a drawing in % of the page, so that all drawings have one size of letters."""
    return min(100.0, round(100 * _size(svg)[0] / full, 1)) or 100.0


def _panel_words(panel: dict[str, Any]) -> str:
    """What the panel does not show, and why its lines are broken."""
    said = [
        "Grey: from the spread of the controls below their mean to the limit. Dotted: the same place, but something changed"
        " between, so it is not one trend. An arrow at the edge: the end of the scale."
    ]
    for line in panel["lines"]:
        said += [f"{line['name']}, day {each['day']:g}: {each['words']}." for each in line["breaks"]
                 if each["words"] != "a drying unit was changed"]  # fmt: skip
    if panel["band"] and any(row["highest_limit"] != row["limit"] for row in panel["band"]):
        last = panel["band"][-1]
        said.append(
            f"The limit differs between places: from {shown(last['limit'], 1)} to {shown(last['highest_limit'], 1)} above"
            " the mean on the last day (paler grey)."
        )
    if any(then["day"] - one["day"] > MOST_DAYS_BETWEEN for one, then in pairwise(panel["band"])):
        said.append(f"The limit is not drawn where more than {MOST_DAYS_BETWEEN} days passed without a visit.")
    if panel["without_control"]:
        said.append(f"Readings without a usable control, not drawn: {panel['without_control']}.")
    if panel["places_left_out"]:
        said.append(f"Places that stand only in the tables: {panel['places_left_out']}.")
    return " ".join(said)


def photo_for_print(sha256: str, content: bytes) -> bytes | str:
    """A JPEG of at most 1600 px without metadata, turned upright; or the sentence why there is no picture."""
    from PIL import Image, ImageOps

    if hashlib.sha256(content).hexdigest() != sha256.casefold():
        return "The bytes of this photo do not fit the hash in the record: it is not shown."
    try:
        image = Image.open(io.BytesIO(content), formats=FORMATS)
        if image.width * image.height > MOST_PIXELS:
            return f"This photo has {image.width} x {image.height} pixels, more than are opened here: it is not shown."
        if image.format == "JPEG":
            image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
        upright = ImageOps.exif_transpose(image)
        upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        flat = Image.new("RGB", upright.size, "white")
        flat.paste(upright.convert("RGB"), mask=upright.getchannel("A") if "A" in upright.getbands() else None)
    except Exception as problem:  # a broken file fails in many ways; the report comes out in any case
        return f"This photo could not be opened as a picture ({type(problem).__name__}): it is not shown."
    out = io.BytesIO()
    flat.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()
