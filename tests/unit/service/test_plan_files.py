"""Files under the plan: what a drawing, a page and a photo become, and that a file made to harm is refused in words.

Outside checks: units against the table of ezdxf, arcs and bulges against the flattening of ezdxf, page sizes against
pypdf, a line of known length on a page against the pixels it covers.
"""

from __future__ import annotations

import io
import math
import struct
import subprocess
import sys
import zlib
from itertools import pairwise
from typing import Any

import ezdxf
import ezdxf.path
import numpy as np
import pytest
from ezdxf import units as dxf_units
from PIL import Image
from pypdf import PdfWriter
from pypdf.generic import DecodedStreamObject, NameObject

from desorb.core.plan_geometry import area, corners_of
from desorb.errors import InputError
from desorb.service import plan_drawing, plan_reading
from desorb.service.plan_drawing import METRES_PER_UNIT, read_drawing
from desorb.service.plan_files import kind_of_file, read_source

A3 = (1190.55, 841.89)  # points: 420 mm x 297 mm


def drawing(unit: int = 4, draw: Any = None) -> bytes:
    document = ezdxf.new(setup=False)
    document.header["$INSUNITS"] = unit
    model = document.modelspace()
    if draw:
        draw(model)
    else:
        model.add_lwpolyline([(1000, 2000), (5200, 2000), (5200, 5000), (1000, 5000)], close=True)
        model.add_line((5200, 3000), (7000, 3000))
        model.add_text("kitchen")
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


def pdf(pages: int = 1, size: tuple[float, float] = A3, content: bytes = b"") -> bytes:
    writer = PdfWriter()
    for _ in range(pages):
        page = writer.add_blank_page(*size)
        stream = DecodedStreamObject()
        stream.set_data(content)
        page[NameObject("/Contents")] = writer._add_object(stream)
    kept = io.BytesIO()
    writer.write(kept)
    return kept.getvalue()


def photo(size: tuple[int, int] = (60, 40), form: str = "JPEG", **extra: Any) -> bytes:
    kept = io.BytesIO()
    Image.new("RGB", size, "grey").save(kept, form, **extra)
    return kept.getvalue()


def test_a_drawing_becomes_a_picture_with_its_own_scale_and_its_closed_outlines() -> None:
    """The architect's DXF in mm: the room of 4.2 m by 3.0 m is offered, no scale line is needed, text is left out."""
    read = read_source(drawing())
    assert (read.kind, read.media_type, read.unit, read.needs_unit) == ("dxf", "image/png", "mm", False)
    assert read.rooms == (("0.000 0.000", "4.200 0.000", "4.200 3.000", "0.000 3.000"),)
    assert "1 TEXT" in read.said
    scale = float(read.metres_per_pixel)
    with Image.open(io.BytesIO(read.content)) as picture:
        ink = np.argwhere(np.asarray(picture) < 128)
    covered = (ink[:, 1].max() - ink[:, 1].min()) * scale
    assert covered == pytest.approx(6.0, abs=3 * scale)  # 1000 to 7000 mm, and the width of the pen
    left = ink[:, 1].min() * scale + float(read.x)
    assert left == pytest.approx(0.0, abs=2 * scale)


def test_a_drawing_without_a_unit_asks_for_one() -> None:
    """The same drawing with no unit in it: the picture comes, the scale and the rooms wait for my answer."""
    content = drawing(unit=0)
    assert read_source(content).needs_unit is True
    assert read_source(content).rooms == ()
    told = read_source(content, unit="cm")
    assert area(corners_of(told.rooms[0])) == pytest.approx(42 * 30)


@pytest.mark.parametrize("code", sorted(METRES_PER_UNIT))
def test_the_units_of_a_drawing_are_those_of_ezdxf(code: int) -> None:
    """A foot stays a foot."""
    assert METRES_PER_UNIT[code] == pytest.approx(dxf_units.conversion_factor(code, dxf_units.M))


def test_arcs_and_bulges_lie_where_ezdxf_lays_them() -> None:
    """A bay window is drawn where it stands, also when it was drawn from behind."""

    def draw(model: Any) -> None:
        model.add_arc((2, 1), 1.5, 30, 200)
        model.add_lwpolyline([(0, 0, 0.5), (4, 0, -0.3), (4, 3, 0)], format="xyb", close=True)
        model.add_circle((1, 1), 0.5, dxfattribs={"extrusion": (0, 0, -1)})
        model.add_polyline2d([(0, 0), (1, 2), (3, 3)])

    document = ezdxf.new()
    draw(document.modelspace())
    for entity in document.modelspace():
        found = plan_drawing._line_of(entity.dxftype(), entity)
        assert found is not None
        points, closed = found
        points = points + points[:1] if closed else points
        theirs = [(place.x, place.y) for place in ezdxf.path.make_path(entity).flattening(0.001)]
        for place in theirs:
            away = min(_from_piece(place, one, other) for one, other in pairwise(points))
            assert away < 0.02 * 1.5  # SAG of the largest radius, doubled


def _from_piece(place: tuple[float, float], one: tuple[float, float], other: tuple[float, float]) -> float:
    length = math.dist(one, other) or 1.0
    along = sum((p - a) * (b - a) for p, a, b in zip(place, one, other, strict=True)) / length
    share = min(max(along / length, 0.0), 1.0)
    return math.dist(place, (one[0] + share * (other[0] - one[0]), one[1] + share * (other[1] - one[1])))


def test_layers_that_are_off_stay_off() -> None:
    """The furniture layer was switched off; it does not come under my plan."""
    document = ezdxf.new()
    document.layers.add("furniture").off()
    document.modelspace().add_line((0, 0), (9, 9), dxfattribs={"layer": "furniture"})
    document.modelspace().add_line((0, 0), (1, 0))
    lines, left_out = plan_drawing._lines(document)
    assert len(lines) == 1
    assert left_out["on a layer that is off"] == 1


def test_a_page_of_a_pdf_has_the_size_that_pypdf_reads() -> None:
    """An A3 sheet at 150 dots per inch; a line of 360 points on it is 750 px long."""
    content = pdf(2, A3, b"3 w 100 400 m 460 400 l S")
    read = read_source(content, page=2)
    assert (read.pages, read.page, read.page_size) == (2, 2, "420 x 297")
    assert read.width == pytest.approx(A3[0] / 72 * 150, abs=1)
    assert read.height == pytest.approx(A3[1] / 72 * 150, abs=1)
    with Image.open(io.BytesIO(read.content)) as picture:
        ink = np.argwhere(np.asarray(picture) < 128)
    assert ink[:, 1].max() - ink[:, 1].min() == pytest.approx(750, abs=3)
    assert read.height - ink[:, 0].mean() == pytest.approx(400 / 72 * 150, abs=3)


def test_a_photo_is_kept_as_it_is_and_one_with_a_turn_in_it_is_turned() -> None:
    """A photo of the paper plan on the wall; the phone was held on its side."""
    straight = photo()
    read = read_source(straight)
    assert (read.is_original, read.content, read.width, read.height) == (True, straight, 60, 40)
    turn = Image.Exif()
    turn[0x0112] = 6
    read = read_source(photo(exif=turn.tobytes()))
    assert (read.is_original, read.width, read.height) == (False, 40, 60)


def png_that_says(width: int, height: int) -> bytes:
    """A small file that unpacks into a very large picture."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    body = zlib.compress(b"\0" * min(width * height, 10_000_000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"<?xml version='1.0'?><svg xmlns='http://www.w3.org/2000/svg'/>", "print it to PDF"),
        (b"<svg onload='x()'>", "print it to PDF"),
        (b"AC1027" + b"\0" * 40, "save the drawing as DXF"),
        (b"AutoCAD Binary DXF\r\n\x1a\0", "ASCII DXF"),
        (b"MZ\x90\0", "JPEG or PNG"),
    ],
)
def test_a_file_of_another_kind_is_refused_with_a_way_on(content: bytes, words: str) -> None:
    """An SVG may hold scripts, a DWG opens nowhere else: what do I do instead?"""
    with pytest.raises(InputError, match=words):
        kind_of_file(content)


@pytest.mark.parametrize(
    "content",
    [
        png_that_says(60_000, 60_000),
        png_that_says(2_000_000_000, 2_000_000_000),
        png_that_says(1, 1),
        photo((400, 300))[:900],
        b"\xff\xd8\xff\xe0" + b"\0" * 64,
        b"\x89PNG\r\n\x1a\n",
    ],
)
def test_a_picture_made_to_harm_or_cut_short_is_refused(content: bytes) -> None:
    """The file is a bomb, or the transfer broke off: nothing is kept and I am told."""
    with pytest.raises(InputError):
        plan_reading.read_photo(content)


def test_a_pdf_is_refused_where_it_is_too_much_or_broken() -> None:
    """A whole book, a page that is not there, half a file, a page as large as a field."""
    with pytest.raises(InputError, match="too many pages"):
        plan_reading.read_pdf(pdf(plan_reading.MOST_PAGES + 1), 1)
    with pytest.raises(InputError, match="no such page"):
        plan_reading.read_pdf(pdf(), 2)
    with pytest.raises(InputError, match="cannot be opened"):
        plan_reading.read_pdf(pdf()[:300], 1)
    head, _ = plan_reading.read_pdf(pdf(1, (14_400, 14_400)), 1)
    assert max(head["width"], head["height"]) <= plan_reading.LONGEST_SIDE


def line_entity(*figures: str) -> bytes:
    x, y, end_x, end_y = figures
    return f"  0\nLINE\n  8\n0\n 10\n{x}\n 20\n{y}\n 11\n{end_x}\n 21\n{end_y}\n".encode()


def raw(*lines: bytes) -> bytes:
    return b"  0\nSECTION\n  2\nENTITIES\n" + b"".join(lines) + b"  0\nENDSEC\n  0\nEOF\n"


@pytest.mark.parametrize("figure", ["nan", "1e308", "-1e300", "inf", "1e999"])
def test_huge_and_missing_figures_leave_only_their_line_out(figure: str) -> None:
    """One line of the drawing is nonsense; the others come."""
    head, picture = read_drawing(raw(line_entity("0", "0", "5", "0"), line_entity("0", "0", figure, "1")), "m")
    assert head["width"] > head["height"]
    assert picture.startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (raw(line_entity("0", "0", "1", "0") * 1_000_000), "too many parts"),
        (raw(), "no lines"),
        (raw(line_entity("0", "0", "0", "0")), "one place"),
        (raw(line_entity("0", "0", "90000", "0")), "too large"),
        (b"  0\nSECTION\n  2\nENTIT", "no lines|cannot be read"),
        (b"0\nSECTION\n" + b"\xff\xfe\0" * 500, "no lines|cannot be read"),
    ],
)
def test_a_drawing_made_to_harm_or_cut_short_is_refused(content: bytes, words: str) -> None:
    """A million lines, none at all, all in one place, or half a file."""
    with pytest.raises(InputError, match=words):
        read_drawing(content, "m")


def test_the_process_that_opens_a_file_has_limits_and_may_die(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the file does to its reader, I get a sentence and the server goes on."""
    monkeypatch.setattr("desorb.service.plan_files.LONGEST_SECONDS", 0.05)
    with pytest.raises(InputError, match="limits of memory and time"):
        read_source(drawing())


def test_a_file_that_eats_memory_is_stopped_before_the_machine_is() -> None:
    """A file that unpacks without end ends its own reader, not my afternoon."""
    pytest.importorskip("resource")
    code = "from desorb.service import plan_reading as r; r._limit(); bytearray(r.MEMORY + 1)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "MemoryError" in done.stderr
