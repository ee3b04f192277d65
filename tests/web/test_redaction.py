"""A redacted copy: nobody named in the case can be found in any file of it, and every reading can."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest
from bench_page import audit, get, post
from PIL import Image
from playwright.sync_api import expect
from pypdf import PdfReader

from desorb.core.kinds import Event, Note, Photo, Reading, Zone
from desorb.service.cases import OpenCase, case_names, find_case, load, write
from desorb.service.redaction import redacted_copy
from desorb.service.redaction_words import Names, Redactor, names_in, pattern_of, redacted_case

PLANTED = ("Marguerite Oddsdottir", "oddsdottir", "07700 900123", "+44 20 7946 0958", "m.odds@example.invalid", "51.50735",
           "Ferrow", "Ollivar", "Quayle", "caretaker of the", "trustees (invented)")  # fmt: skip
NAMES = ["Marguerite Oddsdottir", "Oddsdottir"]
WORDS = (
    "Mrs ODDSDOTTIR rang from 07700 900123, mail m.odds@example.invalid; office +44 20 7946 0958; Ferrow called back; at"
    " 51.50735, -0.12776; Marguerite  Oddsdottir's key; wall read 14.4 14.5 13.9 on 2026-01-12"
)


@pytest.fixture
def planted(server: Any, case_id: str, tmp_path: Path) -> tuple[OpenCase, str]:
    """The demonstration case with a name, telephone numbers, an address and a photo that knows where it was taken."""
    case = find_case(server.store, case_id)
    image = Image.new("RGB", (400, 200), (200, 30, 30))
    exif = Image.Exif()
    exif[0x010F], exif[0x013B], exif[0x0112] = (
        "Camera of Oddsdottir",
        "Marguerite Oddsdottir",
        6,
    )  # maker, artist, turned
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 26.5), 3: "W", 4: (0.0, 7.0, 39.9)})
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif)
    content = out.getvalue()
    assert b"Oddsdottir" in content
    sha256 = server.store.attach(content)
    write(server.store, case, [
        Event("2026-01-10T09:00", WORDS, "told", "Oddsdottir was there", "N. Ferrow"),
        Note(WORDS, "2026-01-12T10:00:00+00:00", "N. Ferrow"),
        Photo(sha256, "image/jpeg", len(content), "hall with Oddsdottir", "2026-01-12T10:00:00+00:00", by="N. Ferrow"),
    ])  # fmt: skip
    return case, sha256


def opened(answer: bytes) -> dict[str, bytes]:
    packed = zipfile.ZipFile(io.BytesIO(answer))
    return {name: packed.read(name) for name in packed.namelist()}


def test_nobody_is_found_in_any_file_and_every_reading_is(server: Any, planted: tuple[OpenCase, str]) -> None:
    """The contractor gets the copy: I search every file for every name, number and place, and find none; no value changed."""
    case, sha256 = planted
    area = {
        "sha256": sha256,
        "left": "0.25",
        "top": "0",
        "width": "0.5",
        "height": "0.5",
        "by": "N. Ferrow",
        "words": "face",
    }
    assert post(server, f"/api/cases/{case.id}/redaction/areas", area).status_code == 200
    answer = post(server, f"/api/cases/{case.id}/redaction/copy", {"names": NAMES, "photos": [sha256]})
    assert answer.status_code == 200
    files = opened(answer.content)
    reader = PdfReader(io.BytesIO(files["report.pdf"]))
    texts = {"report.pdf": "".join(each.extract_text() for each in reader.pages) + str(reader.metadata)}
    texts |= {name: content.decode() for name, content in files.items() if name.endswith((".json", ".csv", ".txt"))}
    assert len(texts) > 10
    for name, text in texts.items():
        whole = " ".join(text.split()).casefold()
        assert [word for word in PLANTED if word.casefold() in whole] == [], name
    for name, content in files.items():
        assert b"oddsdottir" not in content.lower(), name

    picture = Image.open(io.BytesIO(files["photos/photo-1.jpg"]))
    assert dict(picture.getexif()) == {}
    assert picture.info.keys() <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert picture.size == (200, 400)  # upright, as it is seen
    assert sum(abs(a - b) for a, b in zip(picture.getpixel((100, 100)), (27, 39, 51), strict=True)) < 12  # ink
    assert sum(abs(a - b) for a, b in zip(picture.getpixel((100, 300)), (200, 30, 30), strict=True)) < 24

    document = json.loads(files["report.json"])
    folded = load(server.store, case)
    written = {row["entry"]: row["repeats"] for row in document["readings"]}
    assert [written[each.entry] for each in folded.readings] == [list(each.record.values) for each in folded.readings]
    assert document["record"]["heads"] == []
    assert "wall read 14.4 14.5 13.9 on 2026-01-12" in files["report.json"].decode()
    assert "It is not the record" in texts["report.pdf"]
    assert "not the record" in texts["README.txt"]
    device, (n, _) = next(iter(folded.evidence_heads.items()))
    assert f"{device}/{n}" in texts["README.txt"]
    rows = list(csv.DictReader(io.StringIO(texts["tables/readings.csv"])))
    assert {row["by"] for row in rows} <= {"surveyor 1", ""}


def test_the_record_itself_is_not_touched(server: Any, planted: tuple[OpenCase, str]) -> None:
    """After the copy the original still holds every name, and the photo its bytes."""
    case, sha256 = planted
    before = [entry.hash for entry in server.store.entries(case.id)]
    redacted_copy(server.store, case, NAMES, [sha256])
    assert [entry.hash for entry in server.store.entries(case.id)] == before
    assert hashlib.sha256(server.store.attachment(sha256) or b"").hexdigest() == sha256
    assert load(server.store, case).notes[-1].record.words == WORDS


def test_statuses_and_limits_are_the_same(server: Any, planted: tuple[OpenCase, str]) -> None:
    """What is said of a spot does not change because a name went out."""
    from desorb.core.assess import assess

    case, _ = planted
    original = load(server.store, case)
    copy, _redactor = redacted_case(original, NAMES)
    assert [(each.id, each.status, each.value_text, each.limit) for each in assess(copy).all] == [
        (each.id, each.status, each.value_text, each.limit) for each in assess(original).all
    ]
    assert [each.record.values for each in copy.readings] == [each.record.values for each in original.readings]


def test_a_photo_nobody_looked_at_does_not_go_along(server: Any, planted: tuple[OpenCase, str]) -> None:
    """Only what I ticked is in the zip; the page in it says how many are not."""
    case, _ = planted
    files = opened(redacted_copy(server.store, case, NAMES, []))
    assert not [name for name in files if name.startswith("photos/")]
    assert "3 of 3 photos are not in this copy" in files["README.txt"].decode()
    assert json.loads(files["report.json"])["photos"] == []


def test_the_preview_lists_every_replacement_and_what_to_look_at(server: Any, planted: tuple[OpenCase, str]) -> None:
    """Before I make it I see what goes out, and which texts still hold words with a capital letter."""
    case, _ = planted
    shown = post(server, f"/api/cases/{case.id}/redaction/preview", {"names": NAMES}).json()
    becomes = {each["was"]: each["becomes"] for each in shown["replaced"]}
    assert becomes["N. Ferrow"] == "surveyor 1"
    assert becomes[WORDS].startswith("Mrs [name 2] rang from [telephone], mail [e-mail]; office [telephone]; [name")
    assert shown["roles"]["t. ollivar, electrician"].startswith("person")
    assert any("Quillfen" in each["text"] for each in shown["to_look_at"])
    without = post(server, f"/api/cases/{case.id}/redaction/preview", {"names": []}).json()
    assert any("Marguerite" in each["words"] for each in without["to_look_at"])


@pytest.mark.parametrize(
    ("text", "out"),
    [
        ("ring 020 7946 0958 now", "ring [telephone] now"),
        ("(020) 7946-0958", "[telephone]"),
        ("555-123-4567", "[telephone]"),
        ("+49 30 901820", "[telephone]"),
        ("readings 64 73 65 70 71", "readings 64 73 65 70 71"),
        ("14.4 14.5 13.9 15.0", "14.4 14.5 13.9 15.0"),
        ("on 2026-01-12T10:30", "on 2026-01-12T10:30"),
        ("on 12.01.2026", "on 12.01.2026"),
        ("entry 48631012/239", "entry 48631012/239"),
        ("a.b+c@mail.example.invalid!", "[e-mail]!"),
        ("at 51.50735N, 0.12776W", "at [place by coordinates]"),
        ("Smith's, SMITH, smithy, Smith_keys.csv", "[name 1]'s, [name 1], smithy, [name 1]_keys.csv"),
        ("Jo\u0308rg and J\u00f6rg", "[name 2] and [name 2]"),
        ("Ann  Lee, Ann-Lee, ANN_LEE, fleece", "[name 3], [name 3], [name 3], fleece"),
        ("Ferrow, a ferrow", "[name 4], a ferrow"),
        ("Jo\u00adrg, J\u00f6\u200brg, JORG", "[name 2], [name 2], [name 2]"),
        ("\u015amith and Sm\u00edth", "[name 1] and [name 1]"),
        ("07700\u200b 900123", "[telephone]"),
        ("51\u00b030'26.5\"N 0\u00b007'39.9\"W", "[place by coordinates]"),
        ("N 51.507\u00b0, W 0.127\u00b0", "[place by coordinates]"),
        ("51.5\u00b0 N 0.1\u00b0 W", "[place by coordinates]"),
        ("it was 21.5 \u00b0C, then 14.2 \u00b0C", "it was 21.5 \u00b0C, then 14.2 \u00b0C"),
    ],
)
def test_what_goes_out_of_a_text_and_what_stays(text: str, out: str) -> None:
    """Names in any spelling and telephone numbers go; dates, readings and entries stay."""
    assert Redactor(Names(("Smith", "J\u00f6rg", "Ann Lee"), ("Ferrow",))).words_out(text) == out


def test_a_name_in_an_id_goes_out_everywhere_alike(server: Any, planted: tuple[OpenCase, str]) -> None:
    """A zone was called after its tenant: its spots still find it."""
    case, _ = planted
    copy, _redactor = redacted_case(load(server.store, case), ["hall"])
    zones = {each.record.id for each in copy.zones}
    assert "[name 1]-east" in zones
    assert {each.record.zone for each in copy.spots} <= zones


def test_places_and_names_inside_words_are_offered_to_be_looked_at(server: Any, planted: tuple[OpenCase, str]) -> None:
    """A post code, a square of the grid, a zone called after its tenant in one word: I am shown them before I make the copy."""
    case, _ = planted
    write(server.store, case, [
        Note("key at SW1A 1AA, gate at TQ 30163 80390", "2026-01-12T10:00:00+00:00", "N. Ferrow"),
        Zone("oldoddsdottirs", "side room", "c1"),
        Reading("odd-1", "k3", "v5", "m1", "comparative", ("ask Oddsd\u00f3ttir",), "vinyl", "2026-01-12T10:00:00+00:00"),
    ])  # fmt: skip
    shown = post(server, f"/api/cases/{case.id}/redaction/preview", {"names": NAMES}).json()
    words = {word for each in shown["to_look_at"] for word in each["words"]}
    assert {"SW1A 1AA", "TQ 30163 80390", "Oddsdottir"} <= words
    assert "oldoddsdottirs" in {each["text"] for each in shown["to_look_at"]}
    assert {each["was"]: each["becomes"] for each in shown["replaced"]}["ask Oddsd\u00f3ttir"] == "ask [name 2]"


def test_the_copy_names_neither_the_case_by_its_id_nor_an_entry_by_its_hash(
    server: Any, planted: tuple[OpenCase, str]
) -> None:
    """Nothing in the copy can be looked up in the record but the numbers of its entries, and the README says so."""
    case, _ = planted
    files = opened(redacted_copy(server.store, case, NAMES, []))
    whole = "".join(each.extract_text() for each in PdfReader(io.BytesIO(files.pop("report.pdf"))).pages)
    whole += "".join(content.decode() for content in files.values())
    flat = "".join(whole.split())
    assert case.id not in flat
    assert [entry.name for entry in server.store.entries(case.id) if entry.hash in flat] == []
    assert [each for each in load(server.store, case).files if each.record.sha256 in flat] == []
    assert "the hashes of entries" in files["README.txt"].decode()


@pytest.mark.parametrize("name", ["x", "control", "123", "x" * 81, "--"])
def test_a_name_that_is_none_is_refused(shown_server: Any, name: str) -> None:
    """A single letter or a word of the scales would tear the copy apart."""
    case_id = case_names(shown_server.store)["quillfen"]
    assert post(shown_server, f"/api/cases/{case_id}/redaction/preview", {"names": [name]}).status_code == 422


def test_names_are_found_in_the_record_itself(shown_server: Any) -> None:
    """Who wrote an entry need not be listed: the case says who they are."""
    case_id = case_names(shown_server.store)["quillfen"]
    names = names_in(load(shown_server.store, find_case(shown_server.store, case_id)), [])
    assert {"N. Ferrow", "Ferrow", "Ollivar", "Quayle"} <= set(names.derived)
    assert pattern_of("N. Ferrow").search("n ferrow")


@pytest.mark.parametrize(
    "changes",
    [
        {"left": "0.9"}, {"width": "0"}, {"left": "-0.1"}, {"top": "x"}, {"height": "NaN"}, {"by": " "}, {"sha256": "0" * 64},
    ],
)  # fmt: skip
def test_an_area_outside_the_picture_is_refused(shown_server: Any, changes: dict[str, str]) -> None:
    """Half an area would hide half a face."""
    case = find_case(shown_server.store, "quillfen")
    sha256 = load(shown_server.store, case).photos[0].record.sha256
    area = {"sha256": sha256, "left": "0.5", "top": "0.5", "width": "0.2", "height": "0.2", "by": "N. Ferrow"} | changes
    assert post(shown_server, f"/api/cases/{case.id}/redaction/areas", area).status_code in (404, 422)
    assert get(shown_server, f"/api/cases/{case.id}/redaction/areas").json() == []


def test_a_hidden_area_is_drawn_by_two_taps_or_by_keys(server: Any, planted: tuple[OpenCase, str], page: Any) -> None:
    """On the phone I tap two corners; at the desk I type the sides; either way it is an entry, and it can be shown again."""
    case, sha256 = planted
    page.goto(f"{server.address}/cases/{case.id}/redaction")
    page.locator("#by").fill("N. Ferrow")
    photo = page.locator(f"[data-sha256='{sha256}']")
    image = photo.locator("img")
    image.scroll_into_view_if_needed()
    image.evaluate("image => image.decode()")
    box = image.bounding_box()
    photo.locator(".picture").tap(position={"x": 0.1 * box["width"], "y": 0.2 * box["height"]})
    photo.locator(".picture").tap(position={"x": 0.6 * box["width"], "y": 0.5 * box["height"]})
    assert abs(float(photo.locator(".left").input_value()) - 10) < 1
    assert abs(float(photo.locator(".height").input_value()) - 30) < 1
    photo.get_by_role("button", name="Hide this area").press("Enter")
    photo.get_by_text("Hidden in redacted copies").wait_for()
    for side, value in (("left", "70"), ("top", "70"), ("width", "20"), ("height", "40")):
        photo.locator(f".{side}").fill(value)
    photo.get_by_role("button", name="Hide this area").press("Enter")
    photo.get_by_text("does not lie in the picture").wait_for()
    photo.locator(".height").fill("20,5")
    photo.get_by_role("button", name="Hide this area").press("Enter")
    expect(page.locator(".hidden-areas li")).to_have_count(2)
    areas = get(server, f"/api/cases/{case.id}/redaction/areas").json()
    assert [(area["left"], area["height"]) for area in areas][1] == ("0.7000", "0.2050")
    with page.expect_navigation():
        photo.get_by_role("button", name="again").last.press("Enter")
    assert len(get(server, f"/api/cases/{case.id}/redaction/areas").json()) == 1


def test_the_copy_is_made_on_the_page(server: Any, planted: tuple[OpenCase, str], page: Any) -> None:
    """I list the names, see what would change, tick a photo and get the zip; axe finds no fault on the way."""
    case, sha256 = planted
    page.goto(f"{server.address}/cases/{case.id}/redaction")
    page.locator("#names").fill("\n".join(NAMES))
    page.get_by_role("button", name="Show what would change").click()
    page.get_by_role("region", name="Every replacement").wait_for()
    assert audit(page) == []
    page.locator(f".looked[value='{sha256}']").check()
    with page.expect_download() as handed:
        page.get_by_role("button", name="Make the redacted copy").click()
    files = opened(Path(handed.value.path()).read_bytes())
    assert "photos/photo-1.jpg" in files
    page.get_by_text("The copy was handed over").wait_for()
