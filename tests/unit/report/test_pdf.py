"""The paper: two pages for the owner, tagged and archival, every figure on it, and the same bytes every time."""

from __future__ import annotations

import hashlib
import io
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from report_case import (
    DEVICE,
    ISSUED,
    Book,
    at,
    furnish,
    large_case,
    open_book,
    picture,
    rendered,
    sha,
    small_book,
    small_case,
    small_document,
    small_render,
    sweep,
    text_of,
)

from desorb.core.case import Case
from desorb.core.gates import GATES, NOT_A_CLEARANCE, UNDER_EVERY_GATE
from desorb.core.kinds import (
    CaseOpened,
    Event,
    Hazard,
    Instrument,
    Note,
    NotInspected,
    Photo,
    Spot,
    Visit,
    Zone,
)
from desorb.errors import InputError, ReportFailed
from desorb.report import pdf as pdf_module
from desorb.report.letters import DRAWABLE, on_paper
from desorb.report.palette import fonts
from desorb.report.pdf import make_pdf, photo_for_print
from desorb.report.words import entries_in_words, moment, shown

EVIDENCE_BEGINS = "PartB:theevidence"
ODD = (
    'quotes "double" and \'single\'', "#let x = 1; $a^2$; \\ backslash; *bold* _under_ `code` ~ @name",
    "<script>alert(1)</script>",
    "== heading\n- list // comment /* block */",
    "accents: \u00e9 e\u0301 \u00df \u0142 \u00f1; \u03b8 \u0394; \u0436; \u2264 \u2265 \u00b2",
    "\u05e9\u05dc\u05d5\u05dd", "\u0645\u0631\u062d\u0628\u0627",
    "Donaudampfschifffahrtselektrizitaetenhauptbetriebswerkbauunterbeamtengesellschaft" * 2,
)  # fmt: skip


def squeezed(text: str) -> str:
    return "".join(text.split())


def owner_pages(pdf: bytes) -> list[str]:
    """The texts of the pages before the evidence."""
    texts: list[str] = []
    for page in PdfReader(io.BytesIO(pdf)).pages:
        text = squeezed(page.extract_text())
        if EVIDENCE_BEGINS in text:
            break
        texts.append(text)
    return texts


def test_the_owner_part_has_at_most_two_pages() -> None:
    assert 1 <= len(owner_pages(small_render().pdf)) <= 2


def hostile_case() -> Case:
    """As much of everything as a careless person could write, in the longest words."""
    long = "an extraordinarily circumstantial description of it " * 8
    book = open_book("A case with a name that never ends " * 8, site=long, client=long, scope=long)
    for number in range(12):
        book.write(Zone(f"zone{number}", f"{long} {number}", "c1"))
        book.write(Hazard(list(GATES)[number % len(GATES)], f"zone{number}", long, at(0), "R. Marsh"))
        book.write(NotInspected(long, long, long, at=at(0)))
    large = large_case(400, 2)
    for place in ("settings", "rule_rows", "instruments", "checks", "constructions", "spots", "visits", "readings"):
        book.lists[place] = list(getattr(large, place))
    book.lists["zones"] += list(large.zones)
    return book.case()


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_owner_part_has_at_most_two_pages_whatever_was_written(paper: str) -> None:
    pages = owner_pages(rendered(hostile_case(), paper=paper).pdf)
    assert len(pages) == 2
    assert sum(text.count("[x]Stop") for text in pages) == len(GATES)


def test_every_page_says_which_of_how_many_it_is_and_what_it_belongs_to() -> None:
    pages = text_of(small_render().pdf)
    head = small_case().evidence_heads[DEVICE]
    for number, text in enumerate(pages, 1):
        assert f"page{number}of{len(pages)}" in text
        assert squeezed("Quince Row, no. 4 \u00b7 report 1 \u00b7 desorb 0.1.0") in text
        assert squeezed(f"{head[1][:32]} (entry {DEVICE}/{head[0]})") in text
        assert "Inventeddata" in text


def test_it_is_tagged_and_says_which_standards_it_keeps() -> None:
    reader = PdfReader(io.BytesIO(small_render().pdf))
    catalog: Any = reader.trailer["/Root"]
    assert catalog["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in catalog
    assert catalog["/Lang"] == "en"
    metadata = catalog["/Metadata"].get_data().decode("utf-8")
    for part in ("<pdfaid:part>2<", "<pdfaid:conformance>A<", "<pdfuaid:part>1<"):
        assert part in metadata
    assert reader.metadata is not None
    assert reader.metadata.title == "Report 1: Quince Row, no. 4"
    assert reader.metadata.creation_date is None or f"{reader.metadata.creation_date:%Y-%m-%d}" == ISSUED[:10]
    assert "/JavaScript" not in catalog.get("/Names", {})
    assert "/OpenAction" not in catalog


def test_headings_make_an_outline() -> None:
    titles = str(PdfReader(io.BytesIO(small_render().pdf)).outline)
    for question in small_document()["questions"]:
        assert question in titles


def test_every_figure_of_the_assessments_stands_on_paper() -> None:
    text = "".join(text_of(small_render().pdf))
    higher = small_document()["higher"]
    rows = [*higher["elements"], *higher["spots"]]
    assert len(rows) > 8
    for row in rows:
        names = ("value_in_context", "above_beyond_text", "no_higher_up_to_text", "excess_text", "place", "status")
        for name in names:
            assert squeezed(row[name]) in text, (row["id"], name)
        for said in (*row["repeats"], *row["reasons"], row["next_test"], entries_in_words(row["entries"])):
            assert squeezed(moment(said)) in text, (row["id"], said)


def test_every_reading_stands_on_paper_with_its_entry() -> None:
    text = "".join(text_of(small_render().pdf))
    for row in small_document()["readings"]:
        assert squeezed(row["entry"]) in text
        assert squeezed(" \u00b7 ".join(row["repeats"])) in text


def test_a_struck_reading_stays_visible_with_who_when_and_why() -> None:
    text = "".join(text_of(small_render().pdf))
    assert "410" in text
    assert squeezed("by R. Marsh at 2026-03-04 10:31 +00:00: typed one nought too many") in text


def test_a_finding_about_many_readings_is_told_once_and_named_in_their_rows() -> None:
    book = small_book()
    book.lists["readiness"].clear()
    text = "".join(text_of(rendered(book.case()).pdf))
    words = squeezed("nothing was recorded of the state of m1 before visit v1")
    assert text.count(words) < 5


def test_what_must_always_be_said_is_said() -> None:
    text = "".join(text_of(small_render().pdf))
    for sentence in (
        NOT_A_CLEARANCE,
        UNDER_EVERY_GATE,
        "tolerance/1",
        "time zone of the site: Europe/London",
        "device tablet-19: 41-46 have not arrived",
    ):
        assert squeezed(sentence) in text
    head = small_case().evidence_heads[DEVICE][1]
    assert head in text


def test_derived_air_figures_stand_beside_the_typed_ones() -> None:
    text = "".join(text_of(small_render().pdf))
    for row in small_document()["why"]["air"]:
        for said in (
            row["temperature"],
            row["dew_point_text"],
            row["humidity_ratio_text"],
            row["vapour_pressure_text"],
        ):
            assert said in text


def test_odd_text_survives_exactly() -> None:
    book = open_book()
    for number, words in enumerate(ODD):
        book.write(Note(words, at(0, 9, number), "R. Marsh"))
    text = "".join(text_of(rendered(book.case()).pdf))
    for words in ODD:
        assert squeezed(words.replace("e\u0301", "\u00e9")) in text, words


def test_signs_that_no_font_draws_stand_by_their_number_and_the_paper_says_so() -> None:
    book = open_book()
    book.write(Note("wet \U0001f4a7 \u6f22 \u202e and \x07 bell", at(0), "R. Marsh"))
    made = rendered(book.case())
    text = "".join(text_of(made.pdf))
    assert "wet[U+1F4A7][U+6F22][U+202E]and[U+0007]bell" in text
    assert squeezed("cannot draw are shown by their number") in text
    assert "\U0001f4a7".encode() in made.json
    assert squeezed("cannot draw are shown") not in "".join(text_of(small_render().pdf))


def set_alone(words: list[str], tmp_path: Path) -> bytes:
    """The words in the fonts of the report and under its standards."""
    import json

    import typst

    (tmp_path / "words.json").write_text(json.dumps(words), encoding="utf-8")
    source = (
        '#set document(title: "words")\n#set text(font: "Source Sans Pro", lang: "en", hyphenate: false)\n'
        '#for words in json("words.json") [#table(columns: (20mm, 1fr), words, text(weight: 600, words))]'
    )
    (tmp_path / "words.typ").write_text(source, encoding="utf-8")
    made: bytes = typst.compile(
        str(tmp_path / "words.typ"), root=str(tmp_path), font_paths=[fonts()], ignore_system_fonts=True,
        pdf_standards=["a-2a", "ua-1"], timestamp=0,
    )  # fmt: skip
    return made


def test_every_sign_that_is_called_drawable_can_be_drawn(tmp_path: Path) -> None:
    signs = [chr(code) for first, last in DRAWABLE for code in range(first, last + 1)]
    signs = [sign for sign in signs if sign == on_paper(sign)]
    assert len(signs) > 2500
    assert set_alone(signs, tmp_path)


@settings(max_examples=15)
@given(st.lists(st.text(max_size=60), max_size=40))
def test_no_text_stops_the_typesetter(tmp_path_factory: pytest.TempPathFactory, words: list[str]) -> None:
    assert set_alone([on_paper(each) for each in words], tmp_path_factory.mktemp("signs"))


def test_a_typesetter_that_fails_is_asked_once_more_and_then_named(monkeypatch: pytest.MonkeyPatch) -> None:
    import typst

    asked: list[bool] = []

    def fail(*arguments: Any, **names: Any) -> bytes:
        asked.append(True)
        raise BaseException("a panic of the typesetter")

    monkeypatch.setattr(typst, "compile", fail)
    with pytest.raises(ReportFailed, match="could not be set"):
        make_pdf(small_document(), {}, {"plan": "<svg/>", "chart-1": "<svg/>"})
    assert len(asked) == 2


def test_an_empty_case_has_a_paper() -> None:
    assert len(owner_pages(rendered(Case(id="empty")).pdf)) == 1


def edge_book(begun: tuple[str, str], values: tuple[str, str]) -> Book:
    """Two sweeps of a few spots, with visits that begin at odd times and with odd values."""
    book = open_book()
    furnish(book)
    for number, (text, value) in enumerate(zip(begun, values, strict=True)):
        if text:
            book.write(Visit(f"v{number}", text))
        sweep(book, f"v{number}", 7 * number, {"k1": "18", "k2": "17", "k3": "18", "s1": value, "s2": value})
    return book


@pytest.mark.parametrize(
    ("begun", "values"),
    [
        ((at(0, 9), at(7, 9)), ("100", "100")), ((at(0, 9), at(7, 9)), ("0", "0")), (("", ""), ("40", "30")),
        (("not a time", "not a time"), ("40", "30")), (("2026-03-04T09:00", at(7, 9)), ("40", "30")),
        ((at(0, 9), at(0, 15)), ("18", "18")),
    ],
)  # fmt: skip
def test_odd_times_and_values_at_the_end_have_a_paper(begun: tuple[str, str], values: tuple[str, str]) -> None:
    assert owner_pages(rendered(edge_book(begun, values).case()).pdf)


@pytest.mark.parametrize("name", ["", " ", "\n", "\u200b"])
def test_a_case_with_blank_words_has_a_paper(name: str) -> None:
    book = Book(CaseOpened(name, name, name))
    book.write(Instrument(name, name, name), Zone(name, name, name), Spot(name, name, name), Visit(name, name))
    book.write(Event(name, name, name), Note(name, name), Photo(name, name, 0, name, name))
    assert owner_pages(rendered(book.case()).pdf)


def test_letter_is_a_paper_and_others_are_refused() -> None:
    page = PdfReader(io.BytesIO(rendered(open_book().case(), paper="letter").pdf)).pages[0]
    assert [round(float(each)) for each in page.mediabox[2:]] == [612, 792]
    with pytest.raises(InputError, match="paper"):
        rendered(open_book().case(), paper="a5")


def test_a_row_is_not_cut_unless_it_is_longer_than_a_page() -> None:
    book = open_book()
    book.write(Note("one sentence after the other. " * 600, at(0), "R. Marsh"))
    text = "".join(text_of(rendered(book.case()).pdf))
    assert text.count("sentence") >= 600
    assert text.count("onesentenceaftertheother.") > 590  # one may run over the end of a page


# ---------------------------------------------------------------- photos
def test_photos_are_shown_smaller_and_missing_or_broken_ones_become_sentences() -> None:
    text = "".join(text_of(small_render().pdf))
    assert squeezed("could not be opened as a picture") in text
    assert squeezed("has not arrived yet") in text
    for photo in small_document()["photos"]:
        assert photo["sha256"] in text
    images = [image for page in PdfReader(io.BytesIO(small_render().pdf)).pages for image in page.images]
    assert len(images) == 2


def test_the_print_copy_has_no_metadata_and_at_most_1600_pixels() -> None:
    from PIL import Image

    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x010E] = "a secret place"  # description
    exif[0x0112] = 6  # to be turned upright
    Image.new("RGB", (3000, 2000), "grey").save(out, "JPEG", exif=exif)
    copy = photo_for_print(sha(out.getvalue()), out.getvalue())
    assert isinstance(copy, bytes)
    assert b"secret" not in copy
    assert b"Exif" not in copy
    with Image.open(io.BytesIO(copy)) as image:
        assert image.size == (1067, 1600)


@pytest.mark.parametrize("mode", ["RGBA", "P", "L", "I;16", "LA", "1"])
def test_pngs_of_every_kind_can_be_printed(mode: str) -> None:
    from PIL import Image

    out = io.BytesIO()
    Image.new(mode, (40, 30)).save(out, "PNG")
    assert isinstance(photo_for_print(sha(out.getvalue()), out.getvalue()), bytes)


def test_other_formats_and_too_many_pixels_are_not_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    bmp = picture(form="BMP")
    assert "could not be opened" in str(photo_for_print(sha(bmp), bmp))
    monkeypatch.setattr(pdf_module, "MOST_PIXELS", 100)
    assert "320 x 240 pixels" in str(photo_for_print(sha(picture()), picture()))


def test_bytes_that_do_not_fit_their_hash_are_not_shown() -> None:
    assert "do not fit the hash" in str(photo_for_print("0" * 64, picture()))


def test_a_photo_of_another_case_is_not_printed() -> None:
    other = picture("black")
    made = rendered(open_book().case(), photos={sha(other): other})
    assert not [image for page in PdfReader(io.BytesIO(made.pdf)).pages for image in page.images]


def test_two_entries_may_show_one_photo() -> None:
    content = picture()
    book = small_book()
    for words in ("once", "twice"):
        book.write(Photo(sha(content), "image/jpeg", len(content), words, at(0)))
    assert PdfReader(io.BytesIO(rendered(book.case(), photos={sha(content): content}).pdf)).pages


# ---------------------------------------------------------------- the same bytes
SCRIPT = """
import hashlib, sys
sys.path[:0] = [{tests!r}]
from report_case import small_case, small_photos, rendered
made = rendered(small_case(), photos=small_photos())
for content in (made.pdf, made.json, *made.csv.values()):
    print(hashlib.sha256(content).hexdigest())
"""


def digests(seed: str, zone: str) -> list[str]:
    tests = str(Path(__file__).resolve().parents[2])
    environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": "C.UTF-8"}
    script = SCRIPT.format(tests=tests)
    ran = subprocess.run([sys.executable, "-c", script], env=environment, check=True, capture_output=True, text=True)
    return ran.stdout.split()


def test_two_processes_make_the_same_bytes() -> None:
    here = small_render()
    mine = [hashlib.sha256(content).hexdigest() for content in (here.pdf, here.json, *here.csv.values())]
    assert digests("1", "Pacific/Kiritimati") == mine
    assert digests("4242", "America/Denver") == mine


def test_another_time_of_issue_makes_other_bytes() -> None:
    assert rendered(open_book().case(), issued_at=at(23)).pdf != rendered(open_book().case()).pdf


# ---------------------------------------------------------------- words
def test_entries_are_told_as_ranges() -> None:
    assert entries_in_words(["b/2", "a/3", "a/4", "a/5", "a/9"]) == "a/3\u20135, a/9, b/2"
    assert entries_in_words(["a/b/1", "a/b/2", "odd"]) == "a/b/1\u20132, odd"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2026-03-04T10:31:00+01:00", "2026-03-04 10:31 +01:00"), ("2026-03-04T10:31:00.250Z", "2026-03-04 10:31 +00:00"),
        ("2026-03-04T10:31", "2026-03-04 10:31"), ("2026-03-04", "2026-03-04"), ("yesterday", "yesterday"), ("", ""),
    ],
)  # fmt: skip
def test_times_are_told_as_written_down(text: str, said: str) -> None:
    assert moment(text) == said


def test_computed_figures_have_a_real_minus_and_no_negative_nought() -> None:
    assert shown(-0.04, 1) == "0.0"
    assert shown(-1.26, 1) == "\u22121.3"
    assert shown(None, 1) == ""


def test_the_template_names_no_colour_of_its_own() -> None:
    from importlib.resources import files

    from desorb.report.palette import PALETTE

    for part in pdf_module.PARTS:
        source = files("desorb.report").joinpath(part).read_text(encoding="utf-8")
        assert set(re.findall(r"#[0-9A-F]{6}\b", source)) <= set(PALETTE)
        assert not re.search(r"\b(red|green|yellow|orange|lime|blue)\b", re.sub(r"//.*", "", source))
