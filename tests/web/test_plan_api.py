"""The plan through the API: rooms, zones, constructions, spots and the picture, each a new entry; refusals in words."""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import ezdxf
import httpx
import pytest
from conftest import Running
from PIL import Image

from desorb.service.bags import export_case
from desorb.service.cases import case_names, find_case, load

SQUARE = ["0 0", "4.2 0", "4.2 3.0", "0 3.0"]


class Api:
    def __init__(self, server: Any, case: str) -> None:
        self.server, self.case = server, case
        self.base = f"{server.address}/api/cases/{case}"
        self.headers = {"origin": server.address}

    def post(self, address: str, body: dict[str, Any]) -> httpx.Response:
        return httpx.post(self.base + address, json=body, headers=self.headers)

    def take(self, content: bytes, **asked: Any) -> httpx.Response:
        headers = self.headers | {"content-type": "application/octet-stream"}
        return httpx.post(self.base + "/plan/source", params=asked, content=content, headers=headers, timeout=60)

    def plan(self) -> dict[str, Any]:
        answer: dict[str, Any] = httpx.get(self.base + "/plan").json()
        return answer

    def folded(self) -> Any:
        return load(self.server.store, find_case(self.server.store, self.case))


@pytest.fixture(scope="module")
def api(demo_built: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Api]:
    """One server for all tests of this file: each writes under ids of its own."""
    running = Running(Path(shutil.copytree(demo_built, tmp_path_factory.mktemp("plan") / "home")))
    yield Api(running, case_names(running.store)["quillfen"])
    running.stop()


def test_a_room_is_drawn_drawn_again_and_taken_off_the_plan(api: Api) -> None:
    """I draw the store, mend a corner, and later take it off: three entries, nothing deleted."""
    count = len(api.folded().rooms)
    door = {"kind": "door", "wall": 1, "start": "1.0", "width": "0.9"}
    done = api.post(
        "/rooms", {"id": "x1", "words": "store", "outline": SQUARE, "openings": [door], "by": "A. Surveyor"}
    )
    assert done.status_code == 200
    assert done.json()["said"] == "Room x1 is on the plan: 12.60 m², 1 opening."
    assert api.post("/rooms", {"id": "x1", "outline": [*SQUARE[:3], "0 3.5"]}).status_code == 200
    room = next(each for each in api.plan()["rooms"] if each["id"] == "x1")
    assert room["outline"][3] == "0 3.5"
    assert api.post("/rooms", {"id": "x1", "outline": []}).status_code == 200
    assert "x1" not in [each["id"] for each in api.plan()["rooms"]]
    assert len(api.folded().rooms) == count + 3
    again = api.post("/rooms", {"id": "x1", "outline": []})
    assert again.status_code == 404
    assert "draw it first" in again.json()["next"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"outline": SQUARE[:2]}, "at least 3 corners"),
        ({"outline": ["0 0", "4 3", "4 0", "0 3"]}, "cross"),
        ({"outline": ["0 0", "1 0", "2 0"]}, "lie on each other"),
        ({"outline": ["0 0", "nan 0", "2 2"]}, "not a length"),
        ({"outline": ["0 0", "1e300 0", "2 2"]}, "not a length"),
        ({"openings": [{"kind": "door", "wall": 1, "start": "2.5", "width": "0.9"}]}, "longer than wall 2"),
        ({"openings": [{"kind": "door", "wall": 9, "start": "0", "width": "0.9"}]}, "no wall 10"),
        ({"height": "0"}, "higher than 0"),
        ({"id": " x"}, "short and printable"),
    ],
)
def test_a_room_that_cannot_be_is_refused_with_the_next_step(api: Api, change: dict[str, Any], words: str) -> None:
    """A slip is refused while I still stand in the room, with what to do."""
    entries = api.server.store.highest_clock(api.case)
    answer = api.post("/rooms", {"id": "x1", "outline": SQUARE} | change)
    assert answer.status_code == 422
    assert words in answer.json()["what"]
    assert api.server.store.highest_clock(api.case) == entries


def test_a_construction_says_of_each_layer_how_it_is_known(api: Api) -> None:
    """Slab assumed, screed seen: the zone then names this construction."""
    layers = [{"words": "slab", "evidence": "assumed"}, {"words": "screed", "thickness_mm": "65", "evidence": "seen"}]
    body = {"id": "cx", "material": "cement screed", "built": "1987", "layers": layers, "risks": ["heated"]}
    assert api.post("/constructions", body).status_code == 200
    assert api.post("/constructions", body | {"built": "about"}).status_code == 422
    assert api.post("/constructions", body | {"layers": [{"words": "", "evidence": "seen"}]}).status_code == 422
    assert (
        api.post("/zones", {"id": "zx", "construction": "nowhere"}).json()["next"] == "describe the construction first"
    )
    done = api.post("/zones", {"id": "zx", "construction": "cx", "outline": SQUARE})
    assert done.json()["said"] == "Zone zx is described: 12.60 m²."
    kept = next(each for each in api.plan()["constructions"] if each["id"] == "cx")
    assert [layer["evidence"] for layer in kept["layers"]] == ["assumed", "seen"]


def test_a_zone_with_readings_does_not_change_its_construction(api: Api) -> None:
    """Its readings would be compared with other controls in silence."""
    answer = api.post("/zones", {"id": "store", "construction": "annex-wall"})
    assert answer.status_code == 409
    assert "describe a new zone" in answer.json()["next"]


def spot(api: Api, name: str, **change: str) -> dict[str, Any]:
    found = next(each for each in api.plan()["spots"] if each["id"] == name)
    return {part: value for part, value in found.items() if part not in ("status", "reason", "last")} | change


def test_a_spot_moved_by_more_than_50_mm_is_another_spot(api: Api) -> None:
    """I find that k1 was drawn 5 cm off, and later that someone means a place 30 cm away."""
    assert api.post("/spots", spot(api, "k1", x="0.45", height="0")).status_code == 200
    refused = api.post("/spots", spot(api, "k1", x="0.70"))
    assert refused.status_code == 409
    assert refused.json()["next"] == "write it as a new spot, such as k1-2"
    assert api.post("/spots", spot(api, "k1", id="k1-2", x="0.70")).status_code == 200
    assert api.post("/spots", spot(api, "k1", role="control")).status_code == 409
    assert [spot(api, name)["x"] for name in ("k1", "k1-2")] == ["0.45", "0.70"]


@pytest.mark.parametrize(
    "change", [{"zone": "nowhere"}, {"x": "1", "y": ""}, {"x": "nan"}, {"x": "1e999"}, {"height": "-"}]
)
def test_a_spot_without_a_sound_place_is_refused(api: Api, change: dict[str, str]) -> None:
    assert api.post("/spots", spot(api, "k1") | change).status_code == 422


def drawing() -> bytes:
    document = ezdxf.new()
    document.header["$INSUNITS"] = 4
    document.modelspace().add_lwpolyline([(0, 0), (4200, 0), (4200, 3000), (0, 3000)], close=True)
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


def picture(size: tuple[int, int] = (400, 300)) -> bytes:
    kept = io.BytesIO()
    Image.new("RGB", size, "white").save(kept, "PNG")
    return kept.getvalue()


def test_a_drawing_lies_under_the_plan_at_its_own_scale(api: Api) -> None:
    """I take the DXF; it holds its lengths, so the picture stands where its walls are and its room is offered."""
    taken = api.take(drawing(), name="storey.dxf").json()
    assert taken["rooms"] == [["0.000 0.000", "4.200 0.000", "4.200 3.000", "0.000 3.000"]]
    body = {part: taken[part] for part in ("sha256", "width", "height", "metres_per_pixel", "x", "y", "source_sha256")}
    assert api.post("/plan/picture", body).status_code == 200
    shown = api.plan()["picture"]
    assert shown["width"] * float(shown["metres_per_pixel"]) == pytest.approx(4.2, rel=0.03)
    answer = httpx.get(api.base + "/plan/picture")
    assert answer.headers["content-type"] == "image/png"
    assert answer.content == httpx.get(f"{api.base}/photos/{taken['sha256']}").content
    assert httpx.get(f"{api.base}/plan/picture").headers["x-content-type-options"] == "nosniff"


def test_a_photo_gets_its_scale_from_two_points_and_a_length(api: Api) -> None:
    """300 px on the photo are 4.50 m on site: 0.015 m to the pixel. Later I take the picture away again."""
    count = len(api.folded().plan_pictures)
    content = picture()
    taken = api.take(content).json()
    body = {"sha256": taken["sha256"], "width": 400, "height": 300, "line": [10, 20, 310, 20], "length": "4.50"}
    done = api.post("/plan/picture", body)
    assert done.json()["said"] == "The picture lies under the plan: 6.00 m by 4.50 m."
    assert api.plan()["picture"]["metres_per_pixel"] == "0.015"
    assert api.post("/plan/picture", {"sha256": ""}).status_code == 200
    assert httpx.get(api.base + "/plan/picture").status_code == 404
    assert len(api.folded().plan_pictures) == count + 2


@pytest.mark.parametrize(
    "change",
    [
        {"line": [0, 0, 5, 5]}, {"line": [0, 0, 300]}, {"length": "0"}, {"length": ""}, {"length": "nan"}, {"length": "10000000"},
        {"sha256": "0" * 64}, {"width": 0}, {"line": [], "metres_per_pixel": "-1"}, {"line": [], "metres_per_pixel": "5000"},
    ],
)  # fmt: skip
def test_a_scale_that_cannot_be_is_refused(api: Api, change: dict[str, Any]) -> None:
    """Two points on top of each other, no length, a picture that is not there."""
    sha256 = api.take(picture()).json()["sha256"]
    body = {"sha256": sha256, "width": 400, "height": 300, "line": [10, 20, 310, 20], "length": "4.50"} | change
    answer = api.post("/plan/picture", body)
    assert answer.status_code == (404 if "sha256" in change else 422)
    assert answer.json()["what"]


def test_a_file_that_cannot_be_read_leaves_nothing_behind(api: Api) -> None:
    """An SVG, nothing, half a photo: a sentence, and no entry."""
    before = api.server.store.highest_clock(api.case)
    for content in (b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"", picture()[:60], b"%PDF-1.7\n"):
        answer = api.take(content, name="x")
        assert answer.status_code == 422
        assert answer.json()["next"]
    assert api.server.store.highest_clock(api.case) == before


def test_the_picture_and_its_file_travel_with_the_case(api: Api, tmp_path: Path) -> None:
    """I hand the case over as a bag: the plan under it comes along, and the bag verifies."""
    taken = api.take(drawing(), name="storey.dxf").json()
    body = {part: taken[part] for part in ("sha256", "width", "height", "metres_per_pixel", "x", "y", "source_sha256")}
    assert api.post("/plan/picture", body).status_code == 200
    bag = export_case(api.server.store, find_case(api.server.store, api.case), tmp_path / "bag")
    names = {path.name for path in (tmp_path / "bag").rglob("*")}
    assert {f"{taken['sha256']}.png", f"{taken['source_sha256']}.bin"} <= names
    assert bag is not None
    done = subprocess.run(
        [sys.executable, "verify.py"], cwd=tmp_path / "bag", capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
