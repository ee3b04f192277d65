"""Photos that arrive: kept as they came, served as what they are, and never opened by the program that serves."""

from __future__ import annotations

import hashlib
import io
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from PIL import Image
from site_device import AT, Device, jpeg

from desorb.core.kinds import Photo, Removal
from desorb.service import received_photos
from desorb.service.cases import find_case, open_case, remove
from desorb.service.received_photos import kind_of_photo


@pytest.fixture
def server(tmp_path: Path, serve_home: Callable[..., Any]) -> Any:
    running = serve_home(tmp_path / "home")
    open_case(running.store, "A", site="s", time_zone="UTC")
    return running


@pytest.fixture
def device(server: Any) -> Device:
    """A device that names each photo in an entry of its case before it sends the bytes."""
    found = Device(server.address, find_case(server.store, "A").id)
    put_bytes = found.put_photo

    def put(content: bytes, sha256: str = "", client: Any = httpx) -> httpx.Response:
        if not sha256 and content:
            found.send(found.write(Photo(digest(content), "image/jpeg", len(content), "x", AT)))
        return put_bytes(content, sha256, client)

    found.put_photo = put  # type: ignore[method-assign]
    return found


def written(image: Image.Image, form: str, **more: Any) -> bytes:
    file = io.BytesIO()
    image.save(file, form, **more)
    return file.getvalue()


def digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


PLAIN = Image.effect_noise((300, 200), 60)
HEIC = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + b"\x00" * 200
GOOD = {
    "image/jpeg": written(PLAIN, "JPEG"),
    "image/png": written(PLAIN, "PNG"),
    "image/webp": written(PLAIN.convert("RGB"), "WEBP"),
    "image/heic": HEIC,
}


@pytest.mark.parametrize("media_type", GOOD)
def test_the_original_comes_back_byte_for_byte(device: Device, media_type: str) -> None:
    """A photo of any telephone is kept as it was taken, and given back as what it is."""
    content = GOOD[media_type]
    first, again = device.put_photo(content), device.put_photo(content)
    assert (first.json()["state"], again.json()["state"]) == ("received", "known")
    assert first.json()["size"] == len(content)
    back = httpx.get(device.photo_address(digest(content)))
    assert back.content == content
    assert back.headers["content-type"] == media_type
    assert back.headers["x-content-type-options"] == "nosniff"
    assert "sandbox" in back.headers["content-security-policy"]
    assert back.headers["cross-origin-resource-policy"] == "same-origin"
    assert back.headers["content-disposition"].startswith('inline; filename="')


NOT_PHOTOS = {
    "a page": b"<!doctype html><script>alert(1)</script>" + b" " * 99,
    "a drawing with a script": b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
    "a TIFF named as a photo": written(PLAIN, "TIFF"),
    "a GIF": written(PLAIN, "GIF"),
    "a BMP": written(PLAIN, "BMP"),
    "a PDF": b"%PDF-1.7\n1 0 obj<</JS(app.alert(1))>>endobj" + b" " * 99,
    "an EPS": b"%!PS-Adobe-3.0 EPSF-3.0\n" + b" " * 99,
    "an archive": b"PK\x03\x04" + b"\x00" * 99,
    "a program": b"\x7fELF" + b"\x00" * 99,
    "a film": b"\x00\x00\x00\x18ftypisom" + b"\x00" * 99,
    "two letters of a JPEG": b"\xff\xd8",
    "text before a JPEG": b"GIF89a" + GOOD["image/jpeg"],
}


@pytest.mark.parametrize("name", NOT_PHOTOS)
def test_what_is_no_photo_is_refused(server: Any, device: Device, name: str) -> None:
    """Whatever it is called and whatever type it claims: the first bytes decide."""
    answer = device.put_photo(NOT_PHOTOS[name])
    assert answer.status_code == 422
    assert "not a photo" in answer.json()["what"]
    assert not [path for path in (server.home / "originals").rglob("*") if path.is_file()], "something was left behind"


def test_an_empty_photo_a_wrong_hash_and_a_cut_one_are_refused(server: Any, device: Device) -> None:
    """The line broke, or the file was empty: nothing is acknowledged, and nothing is left behind."""
    content = GOOD["image/jpeg"]
    for sent, sha256 in ((b"", digest(b"")), (content[:-1], digest(content)), (content + b"x", digest(content))):
        answer = device.put_photo(sent, sha256)
        assert answer.status_code == 422
        assert httpx.get(device.photo_address(sha256)).status_code == 404
    assert not [path for path in (server.home / "originals").rglob("*") if path.is_file()]


def test_one_byte_over_the_limit_is_too_much(device: Device, monkeypatch: pytest.MonkeyPatch) -> None:
    """At the limit it is taken, beyond it refused, also when the size is not told beforehand."""
    from desorb.web import door

    content = GOOD["image/png"]
    monkeypatch.setattr(door, "LARGEST_PHOTO", len(content))
    assert device.put_photo(content).status_code == 200
    over = content + b"x"
    assert device.put_photo(over).status_code == 413
    try:
        answer = httpx.put(device.photo_address(digest(over)), content=iter([content, b"x"]), headers=device.headers)
    except httpx.HTTPError:
        return
    assert answer.status_code == 413
    monkeypatch.setattr(door, "LARGEST_PHOTO", 10**9)
    monkeypatch.setattr(received_photos, "LARGEST_PHOTO", len(content))
    assert device.put_photo(over).status_code == 422


NAMES = ("x", "0" * 63, "0" * 65, "G" * 64, "0" * 64 + ".jpg.html", "%00" + "0" * 63, "0" * 300, "..%2f..%2fsettings.toml",
         "%e2%80%ae" + "0" * 62, "CON", "aux.jpg", "0" * 64 + "%20", "A" * 64)  # fmt: skip


def test_a_photo_has_no_name_but_its_digest(server: Any, device: Device) -> None:
    """Double endings, zero bytes, letters that turn the direction, names of devices: none of them is a digest."""
    for name in NAMES:
        for answer in (device.put_photo(GOOD["image/jpeg"], name), httpx.get(device.photo_address(name))):
            assert answer.status_code in (404, 405, 422), name
    assert not [path for path in (server.home / "originals").rglob("*") if path.is_file()]


@pytest.mark.parametrize("tail", [b"<script>alert(document.domain)</script>", b"PK\x03\x04", b"%PDF-1.7"])
def test_a_photo_that_is_also_something_else_stays_a_photo(device: Device, tail: bytes) -> None:
    """A JPEG with a page behind it: kept as evidence, given out as a JPEG in a box, and clean when it is shown smaller."""
    content = GOOD["image/jpeg"] + tail
    assert device.put_photo(content).status_code == 200
    back = httpx.get(device.photo_address(digest(content)))
    assert back.content == content
    assert back.headers["content-type"] == "image/jpeg"
    smaller = httpx.get(f"{device.photo_address(digest(content))}?width=64")
    assert smaller.status_code == 200
    assert tail not in smaller.content


def test_other_originals_are_not_given_out_as_photos(server: Any, device: Device) -> None:
    """Tables and reports lie in the same folder: their digest does not open them here."""
    for content in (b"visit,spot\n", b"%PDF-1.7 report", b"<html>"):
        assert httpx.get(device.photo_address(server.store.attach(content))).status_code == 404


# -- smaller copies -------------------------------------------------------------------------------------------------------


def with_place(orientation: int = 6) -> bytes:
    """A photo that says where it was taken, with what, and how the camera was held."""
    exif = Image.Exif()
    exif[0x0112], exif[0x010F], exif[0xA431] = orientation, "Maker", "SERIAL-12345"
    place = exif.get_ifd(0x8825)
    place[1], place[2], place[3], place[4] = "N", (52.0, 12.0, 3.0), "E", (0.0, 7.0, 1.0)
    picture = Image.new("RGB", (400, 200), (10, 10, 200))
    picture.paste((200, 10, 10), (0, 0, 200, 200))
    return written(picture, "JPEG", exif=exif, comment=b"a remark", icc_profile=b"profile" * 20)


def test_a_smaller_copy_tells_nothing_hidden(device: Device) -> None:
    """The place and the serial number stay in the sealed original; what is shown and passed on has only its pixels."""
    content = with_place()
    device.put_photo(content)
    smaller = httpx.get(f"{device.photo_address(digest(content))}?width=100").content
    with Image.open(io.BytesIO(smaller)) as shown:
        assert not shown.getexif()
        assert set(shown.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        assert shown.size[0] <= 100
    for hidden in (b"Exif", b"SERIAL-12345", b"GPS", b"a remark", b"profile"):
        assert hidden not in smaller
    assert b"SERIAL-12345" in httpx.get(device.photo_address(digest(content))).content


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_is_shown_the_way_it_was_held(device: Device, orientation: int) -> None:
    """Upright, upside down or mirrored: the red half stands where the camera saw it."""
    content = with_place(orientation)
    device.put_photo(content)
    smaller = httpx.get(f"{device.photo_address(digest(content))}?width=100").content
    with Image.open(io.BytesIO(smaller)) as shown:
        width, height = shown.size
        assert (width < height) == (orientation >= 5)
        corner = {1: (0.1, 0.5), 2: (0.9, 0.5), 3: (0.9, 0.5), 4: (0.1, 0.5), 5: (0.5, 0.1), 6: (0.5, 0.1), 7: (0.5, 0.9),
                  8: (0.5, 0.9)}[orientation]  # fmt: skip
        red, _, blue = shown.getpixel((int(width * corner[0]), int(height * corner[1])))
        assert red > 120 > blue


@pytest.mark.parametrize("media_type", ["image/jpeg", "image/png", "image/webp"])
def test_every_photo_a_browser_knows_is_shown_smaller(device: Device, media_type: str) -> None:
    """The list of photos opens fast on a slow line."""
    device.put_photo(GOOD[media_type])
    answer = httpx.get(f"{device.photo_address(digest(GOOD[media_type]))}?width=64")
    assert answer.headers["content-type"] == "image/jpeg"
    with Image.open(io.BytesIO(answer.content)) as shown:
        assert shown.size == (64, 43)


def _png_that_says(width: int, height: int) -> bytes:
    """A few bytes that claim to be an enormous picture."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\x00" * 10_000_000, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def _long_text_png() -> bytes:
    content = _png_that_says(10, 10)
    body = b"Comment\x00\x01\x00\x00\x00" + zlib.compress(b"A" * 200_000_000, 9)
    chunk = struct.pack(">I", len(body)) + b"iTXt" + body + struct.pack(">I", zlib.crc32(b"iTXt" + body))
    return content[:33] + chunk + content[33:]


BOMBS: dict[str, Callable[[], bytes]] = {
    "50,000 x 50,000": lambda: _png_that_says(50_000, 50_000),
    "8,001 x 8,000, over 64 million": lambda: _png_that_says(8_001, 8_000),
    "a very long text inside": _long_text_png,
    "cut off": lambda: GOOD["image/jpeg"][:400],
    "only a head": lambda: b"\xff\xd8\xff\xe0" + b"\x00" * 60,
    "a WebP that is none": lambda: b"RIFF\xff\xff\xff\xffWEBPVP8 " + b"\xff" * 99,
}


@pytest.mark.parametrize("name", BOMBS)
def test_a_picture_made_to_exhaust_is_refused_in_words(device: Device, name: str) -> None:
    """It is kept as it came, is not shown, and the server serves on."""
    content = BOMBS[name]()
    assert device.put_photo(content).status_code == 200
    answer = httpx.get(f"{device.photo_address(digest(content))}?width=200", timeout=60)
    if name == "a very long text inside" and answer.status_code == 200:
        return  # the text was never unfolded, which is as good
    assert answer.status_code == 422
    assert "cannot be shown" in answer.json()["what"]
    assert httpx.get(device.photo_address(digest(content))).status_code == 200


MEASURED = """
import re, resource, sys
from pathlib import Path
from desorb.service import shrink_photo
sys.argv = ["shrink_photo", "200"]
shrink_photo.main()
peak = re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]
sys.stderr.write(f"peak {peak} {resource.getrusage(resource.RUSAGE_SELF).ru_utime}")
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="this system does not tell the memory of a process")
def test_the_one_who_opens_pictures_is_held_to_its_limits() -> None:
    """Memory and processor time of the process that opens a picture, for every picture made to exhaust."""
    for name, make in BOMBS.items():
        command = [sys.executable, "-c", MEASURED]
        done = subprocess.run(command, input=make(), capture_output=True, check=False)
        kibibytes, seconds = done.stderr.decode().rsplit("peak", 1)[1].split()
        assert int(kibibytes) < 300 * 1024, name
        assert float(seconds) < 2, f"{name}: seconds of processor time, not of waiting"


def test_a_heic_photo_is_kept_and_said_to_be_shown_as_it_is(device: Device) -> None:
    """desorb opens no HEIC: the original is there for whoever can."""
    device.put_photo(HEIC)
    answer = httpx.get(f"{device.photo_address(digest(HEIC))}?width=200")
    assert answer.status_code == 422
    assert "open the original" in answer.json()["next"]


def test_a_removed_photo_is_not_shown_from_memory(server: Any, device: Device) -> None:
    """A photo was shown, then lawfully removed: neither the original nor the smaller copy is given out."""
    content = jpeg(9, 300, 200)
    Device(device.address, device.case).put_photo(content)
    entry = device.write(Photo(digest(content), "image/jpeg", len(content), "x", AT))
    device.send(entry)
    place = device.photo_address(digest(content))
    assert httpx.get(f"{place}?width=64").status_code == 200
    found = find_case(server.store, device.case)
    remove(server.store, found, entry.name, why="asked", authority="law", by="who", confirmed=True)
    assert httpx.get(f"{place}?width=64").status_code == 404
    assert httpx.get(place).status_code == 404
    assert Removal.KIND in {each.kind for each in server.store.entries(device.case)}


@pytest.mark.parametrize("head", [b"", b"\xff\xd8", b"RIFF1234WEB", b"\x00\x00\x00\x18ftyp", b"\x89PNG\r\n\x1a"])
def test_too_few_bytes_are_no_photo(head: bytes) -> None:
    assert kind_of_photo(head) == ""
