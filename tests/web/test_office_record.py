"""The record in the office: strike, lawful removal, verification, what was known on a day, bags in and out."""

from __future__ import annotations

import io
import json
import re
import stat
import struct
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from office_case import CONTROLS, Client, client_of, furnish, sweep

from desorb.core.kinds import Note, Spot
from desorb.notebook.store import Store
from desorb.service.cases import find_case, load, open_case, write


@pytest.fixture
def demo(demo_home: Path) -> Any:
    with Store(demo_home) as store:
        yield store


@pytest.fixture
def store(tmp_path: Path) -> Any:
    with Store(tmp_path / "home") as opened:
        yield opened


def small(store: Store) -> tuple[Client, str]:
    case = open_case(store, "2026-060", site="a", time_zone="Europe/London")
    furnish(store, case)
    write(store, case, [Spot("s1", "wet", "floor"), *sweep("v1", 0, CONTROLS | {"s1": "60"})])
    return client_of(store), case.id


def entry_of(store: Store, case: str, spot: str) -> str:
    return next(each.entry for each in load(store, find_case(store, case)).readings if each.record.spot == spot)


def test_a_strike_needs_who_and_why_and_the_entry_stays_visible(store: Store) -> None:
    """A mistyped value is struck from its own page."""
    client, case = small(store)
    entry = entry_of(store, case, "s1")
    assert client.post(f"/api/cases/{case}/strikes", {"entry": entry, "why": " ", "by": "R. Marsh"}).status_code == 422
    struck = client.post(
        f"/api/cases/{case}/strikes", {"entry": entry, "why": "read at another spot", "by": "R. Marsh"}
    )
    assert struck.status_code == 201
    assert entry in struck.json()["said"]
    html = client.get(f"/cases/{case}/spots/s1").text
    assert ">60</s>" in html
    assert "read at another spot" in html
    assert "<s>" in client.get(f"/cases/{case}/record?kind=reading").text
    page = client.get(f"/cases/{case}/record/entries/{entry}").text
    assert "Struck by R. Marsh" in page
    again = client.post(
        f"/api/cases/{case}/strikes", {"entry": struck.json()["entry"], "why": "it was right", "by": "P."}
    )
    assert again.status_code == 201
    assert load(store, find_case(store, case)).struck == ()
    assert "Corrections (1)" in client.get(f"/cases/{case}/record").text


def test_a_removal_takes_two_steps_and_says_what_goes(store: Store) -> None:
    """A note names a tenant and must go: the page says what goes along, and asks for the name of the entry."""
    client, case = small(store)
    (note,) = write(store, find_case(store, case), [Note("Mr. Smith is ill", "2026-03-02T10:00:00+00:00")])
    page = client.get(f"/cases/{case}/record/entries/{note.name}").text
    assert "cannot be undone" in page
    form = {"entry": note.name, "why": "names a tenant", "authority": "request of 6 March", "by": "office"}
    first = client.post(f"/api/cases/{case}/removals", form)
    assert first.status_code == 409
    assert "two steps" in first.json()["what"]
    assert client.post(f"/api/cases/{case}/removals", form | {"confirm": "x/1"}).status_code == 409
    assert "Mr. Smith" in client.get(f"/cases/{case}/record/entries/{note.name}").text
    done = client.post(f"/api/cases/{case}/removals", form | {"confirm": note.name})
    assert done.status_code == 201
    after = client.get(f"/cases/{case}/record/entries/{note.name}").text
    assert "Mr. Smith" not in after
    assert "lawfully removed" in after
    assert client.get(f"/api/cases/{case}/verification").json()["faults"] == []


def test_what_was_known_on_a_day_is_shown_with_the_differences_to_today(demo: Store) -> None:
    """In a dispute: what could the surveyor say on 19 January, and what can be said today?"""
    client, case = client_of(demo), find_case(demo, "quillfen").id
    days = client.get(f"/api/cases/{case}/known-on").json()
    assert days == sorted(days, key=lambda each: each["day"])
    assert days[-1]["known"] == len(demo.entries(case))
    found = client.get(f"/api/cases/{case}/known-on/2026-01-19").json()
    assert 0 < found["entries"] < days[-1]["known"]
    then = {(each["kind"], each["id"]): each["status"] for each in found["assessments"]}
    assert then["spot", "k3"] == "above control"
    differing = {(row["kind"], row["id"]): row for row in found["differences"]}
    assert differing["spot", "k3"]["today"] == "cannot say"
    html = client.get(f"/cases/{case}/record?on=2026-01-19").text
    assert "What could be said at the end of 19 January 2026" in html
    assert 'type="range"' in html
    assert "Where today differs" in html
    assert re.search(r'value="2026-01-15" selected', html)  # the last day before it on which something arrived


@pytest.mark.parametrize("day", ["yesterday", "1900-01-01", "2026-13-45"])
def test_a_day_that_cannot_be_shown_is_refused_in_words(demo: Store, day: str) -> None:
    """Someone types a day into the address."""
    answer = client_of(demo).get(f"/cases/{find_case(demo, 'quillfen').id}/record?on={day}")
    assert answer.status_code == 422
    assert "<h1>" in answer.text


def test_a_printed_head_shows_that_nothing_was_changed_and_another_does_not(demo: Store) -> None:
    """The head on the paper report is typed into the page."""
    client, found = client_of(demo), find_case(demo, "quillfen")
    device, (n, head) = next(iter(load(demo, found).evidence_heads.items()))
    good = client.get(
        f"/api/cases/{found.id}/verification", params={"head": f"{device} {n} {head[:8]} {head[8:]}"}
    ).json()
    assert good["faults"] == []
    assert good["anchored"][0]["n"] == n
    bad = client.get(f"/api/cases/{found.id}/verification", params={"head": "ab" * 32}).json()
    assert "is not in this record" in bad["faults"][0]
    assert client.get(f"/api/cases/{found.id}/verification", params={"head": "not a head"}).status_code == 422


def test_the_store_is_verified_case_by_case_in_words(browser: Any, server: Any, case_id: str) -> None:
    """The owner presses one button and reads how far it is and what was found."""
    page = browser.new_page()
    page.goto(f"{server.address}/verification")
    page.get_by_role("button", name="Verify the whole store").click()
    page.get_by_text("Done: the file holds together; 1 of 1 cases verify.").wait_for()
    assert "no fault was found" in page.locator(f'[data-case="{case_id}"]').inner_text()
    page.goto(f"{server.address}/cases/{case_id}/record")
    page.get_by_role("button", name="Verify this case").click()
    page.get_by_text("No fault was found").wait_for()
    page.close()


def test_the_slider_and_the_list_of_days_say_the_same(browser: Any, server: Any, case_id: str) -> None:
    """With the arrow keys alone: the label, the list and the slider go together."""
    page = browser.new_page()
    page.goto(f"{server.address}/cases/{case_id}/record")
    page.locator("#day-range").focus()
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    chosen = page.locator("#on").evaluate("list => list.options[list.selectedIndex].textContent")
    assert page.locator("#day-words").inner_text() == chosen
    assert page.locator("#day-range").get_attribute("aria-valuetext") == chosen
    page.get_by_role("button", name="Show that day").click()
    page.get_by_text("What could be said at the end of").wait_for()
    page.close()


def test_a_damaged_entry_is_told_on_the_page_and_in_the_verification(demo_home: Path) -> None:
    """A disk changed one byte of the record: no page shows it as if nothing was, and the verification names the entry."""
    import sqlite3

    with Store(demo_home) as store:
        case = find_case(store, "quillfen").id
        name = next(entry.name for entry in store.entries(case) if "joist" in (entry.payload_text or ""))
    connection = sqlite3.connect(demo_home / "record.sqlite")
    for (trigger,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        connection.execute(f"DROP TRIGGER {trigger}")
    device, n = name.split("/")
    connection.execute(
        "UPDATE payload SET body = replace(body, 'joist', 'joint') WHERE entry_hash = (SELECT hash FROM entry WHERE device = ?"
        " AND n = ?)", (device, int(n)),
    )  # fmt: skip
    connection.commit()
    connection.close()
    with Store(demo_home) as store:
        client = client_of(store)
        assert client.get(f"/cases/{case}").status_code == 503
        assert client.get("/verification").status_code == 200
        assert any(name in fault for fault in client.get(f"/api/cases/{case}/verification").json()["faults"])


def test_a_case_leaves_as_one_zip_and_comes_back_to_the_same_statuses(demo: Store, tmp_path: Path) -> None:
    """The case goes to a colleague's machine and nothing of it is lost."""
    client, case = client_of(demo), find_case(demo, "quillfen").id
    answer = client.get(f"/api/cases/{case}/bag.zip")
    assert answer.status_code == 200
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        names = archive.namelist()
        assert archive.testzip() is None
    assert all(name.startswith("bag-") and ".." not in name for name in names)
    assert any(name.endswith("/data/entries.jsonl") for name in names)
    assert client.get(f"/api/cases/{case}/bag.zip").status_code == 200
    with Store(tmp_path / "elsewhere") as other:
        there = client_of(other)
        taken = there.post("/api/bags?name=bag.zip", content=answer.content)
        assert taken.status_code == 201, taken.text
        assert taken.json()["id"] == case
        again = there.post("/api/bags", content=answer.content).json()
        assert (again["accepted"], again["known"]) == (0, taken.json()["accepted"])
        one, two = (each.get(f"/api/cases/{case}/assessments").json() for each in (client, there))
        assert one == two
        assert sorted(path.name for path in (tmp_path / "elsewhere").iterdir() if "arriving" in path.name) == []


def _zip(*members: tuple[str, bytes], **parts: Any) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", parts.get("packed", zipfile.ZIP_STORED)) as archive:
        for name, content in members:
            info = zipfile.ZipInfo("x")
            info.filename = name
            info.compress_type = parts.get("packed", zipfile.ZIP_STORED)
            info.external_attr = parts.get("mode", stat.S_IFREG | 0o644) << 16
            archive.writestr(info, content)
    return out.getvalue()


def _lying_size() -> bytes:
    """The directory says 10 bytes, the file unpacks to two million."""
    made = bytearray(_zip(("bagit.txt", b"\\0" * 2_000_000), packed=zipfile.ZIP_DEFLATED))
    place = made.rfind(b"PK\x01\x02")
    made[place + 24 : place + 28] = struct.pack("<I", 10)
    return bytes(made)


def _many() -> bytes:
    """The end record says that a million files follow."""
    made = bytearray(_zip(("bagit.txt", b"x")))
    place = made.rfind(b"PK\x05\x06")
    made[place + 8 : place + 12] = struct.pack("<HH", 65535, 65535)
    return bytes(made)


HOSTILE: dict[str, Callable[[], bytes]] = {
    "no zip at all": lambda: b"these are not the bytes of a zip",
    "nothing": lambda: b"",
    "out of the folder": lambda: _zip(("../outside.txt", b"x")),
    "out of the folder inside": lambda: _zip(("data/../../outside.txt", b"x")),
    "absolute": lambda: _zip(("/outside.txt", b"x")),
    "backslash": lambda: _zip(("data\\..\\outside.txt", b"x")),
    "drive": lambda: _zip(("C:outside.txt", b"x")),
    "home": lambda: _zip(("~/outside.txt", b"x")),
    "link": lambda: _zip(("data/link", b"/etc/hostname"), mode=stat.S_IFLNK | 0o777),
    "twice": lambda: _zip(("bagit.txt", b"x"), ("bagit.txt", b"y")),
    "twins by case": lambda: _zip(("data/A.txt", b"x"), ("data/a.txt", b"y")),
    "twins by accent": lambda: _zip(("data/\u00e9.txt", b"x"), ("data/e\u0301.txt", b"y")),
    "a bomb": lambda: _zip(("bagit.txt", b"\0" * 40_000_000), packed=zipfile.ZIP_DEFLATED),
    "a size that lies": _lying_size,
    "a million files": _many,
    "10,001 files": lambda: _zip(*((f"data/{number}", b"") for number in range(10_001))),
    "a bag of nothing": lambda: _zip(("bagit.txt", b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")),
}


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("kind", HOSTILE)
def test_a_hostile_bag_is_refused_in_words_and_leaves_nothing_behind(store: Store, tmp_path: Path, kind: str) -> None:
    """Someone mails a file that is no honest bag: it is refused, and nothing stands outside the store."""
    client, _ = small(store)
    before = {path for path in tmp_path.rglob("*") if path.is_file()}
    answer = client.post("/api/bags", content=HOSTILE[kind]())
    assert answer.status_code in (409, 422), answer.text
    problem = answer.json()
    assert problem["what"]
    assert problem["what"] != "something went wrong inside desorb; nothing acknowledged is lost"
    assert {path for path in tmp_path.rglob("*") if path.is_file()} - before == set()
    assert len(store.cases()) == 1


def test_an_edited_bag_is_refused(demo: Store) -> None:
    """Someone changes one figure in the bag: it does not verify, and nothing of it is taken in."""
    client, case = client_of(demo), find_case(demo, "quillfen").id
    packed = client.get(f"/api/cases/{case}/bag.zip").content
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(packed)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, content.replace(b'"25"', b'"24"') if "/payloads/" in name else content)
    answer = client.post("/api/bags", content=out.getvalue())
    assert answer.status_code == 409
    assert "does not verify" in answer.json()["what"]


def test_a_bag_is_taken_in_from_the_page(
    browser: Any, server: Any, case_id: str, serve_home: Any, tmp_path: Path
) -> None:
    """The colleague chooses the file and lands on the case."""
    import httpx

    packed = httpx.get(f"{server.address}/api/cases/{case_id}/bag.zip", timeout=60).content
    other = serve_home(tmp_path / "other")
    page = browser.new_page()
    page.goto(f"{other.address}/import")
    page.set_input_files("#bag", files=[{"name": "bag.zip", "mimeType": "application/zip", "buffer": packed}])
    page.get_by_role("button", name="Take it in").click()
    page.wait_for_url(f"{other.address}/cases/{case_id}")
    assert page.get_by_role("heading", level=1).inner_text() == "quillfen"
    page.close()


def test_the_log_is_paged_and_filtered(demo: Store) -> None:
    """An expert looks for every strike, then leafs through the readings."""
    client, case = client_of(demo), find_case(demo, "quillfen").id
    strikes = client.get(f"/api/cases/{case}/log", params={"kind": "strike"}).json()
    assert strikes["total"] == 1
    first = client.get(f"/api/cases/{case}/log", params={"kind": "reading"}).json()
    second = client.get(f"/api/cases/{case}/log", params={"kind": "reading", "page": 2}).json()
    assert first["pages"] == second["pages"] >= 2
    assert {row["entry"] for row in first["rows"]} & {row["entry"] for row in second["rows"]} == set()
    assert client.get(f"/api/cases/{case}/log", params={"page": 0}).status_code == 422
    assert client.get(f"/cases/{case}/record?page=99999").status_code == 200


def test_a_case_is_opened_through_the_api_and_a_slip_is_named(store: Store) -> None:
    """The form of a new case, and what it says when something is missing or unknown."""
    client = client_of(store, datetime(2026, 3, 2, tzinfo=UTC))
    form = {"name": "2026-070", "site": "a house", "time_zone": "Europe/London", "opened_by": "R. Marsh"}
    opened = client.post("/api/cases", form)
    assert opened.status_code == 201
    assert load(store, find_case(store, opened.json()["id"])).setting("rule")
    assert client.post("/api/cases", form).status_code == 409
    assert client.post("/api/cases", form | {"name": "b", "time_zone": "Mars/Base"}).status_code == 422
    assert client.post("/api/cases", form | {"name": "c", "sight": "x"}).status_code == 422
    assert json.loads(client.post("/api/cases", form | {"name": "d", "site": "\u00e9"}).text)["name"] == "d"
