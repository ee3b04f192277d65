"""What stands on the phone: photos, the room for them, how old what waits is, and the file of unsent work.

D2 to D9 are the points of the durability list in the planning notes; FIELD numbers are those of the field list.
"""

from __future__ import annotations

import base64
import hashlib
import json
from typing import Any

import httpx
import pytest
from device_page import PACK, new_page_of


@pytest.fixture
def context(browser: Any) -> Any:
    made = browser.new_context()
    yield made
    made.close()


@pytest.mark.parametrize("says", [True, False])
def test_room_is_kept_for_text(context: Any, empty_office: str, says: bool) -> None:
    """D2: photos stop before the last room is used, so that text still fits. A browser that says nothing refuses by itself."""
    page = new_page_of(context, empty_office)
    found = page.evaluate(
        """async (says) => {
          const store = await newStore();
          StorageManager.prototype.estimate = says ? async () => ({ usage: 90 * 2 ** 20,
            quota: 100 * 2 ** 20 }) : undefined;
          const put = IDBObjectStore.prototype.put;
          IDBObjectStore.prototype.put = function (value) {
            if (!says && value.bytes?.byteLength > 2 ** 20) throw new DOMException("full", "QuotaExceededError");
            return put.call(this, value);
          };
          const large = await store.keepPhoto(CASE, jpeg(3 * 2 ** 20)).then(() => "kept", (problem) => problem.message);
          const small = await store.keepPhoto(CASE, jpeg(2 ** 20)).then(() => "kept", (problem) => problem.message);
          return { large, small, room: await store.storageTruth(), state: (await store.write(CASE,
            ...note("text"))).state };
        }""",
        says,
    )
    assert "this photo could not be kept on this phone" in found["large"]
    assert (found["small"], found["state"]) == ("kept", "here")
    said = " ".join(found["room"]["words"])
    assert ("private window" in said) == says
    assert ("does not say how much room" in said) != says


def test_photos_the_office_has_make_room_for_text(context: Any, empty_office: str) -> None:
    """Not even text fits: pictures that the office has received leave the phone first, and the reading is written."""
    page = new_page_of(context, empty_office)
    found = page.evaluate(
        """async () => {
          const store = await newStore();
          const kept = [];
          for (const seed of [1, 2, 3]) kept.push((await store.keepPhoto(CASE, jpeg(200_000, seed))).sha256);
          for (const sha256 of kept) await store.write(CASE, "photo", { sha256 });
          window.office.bad = () => false;
          const sender = begin(store);
          await sender.sendNow();
          sender.stop();
          const loose = (await store.keepPhoto(CASE, jpeg(1000, 9))).sha256;
          const add = IDBObjectStore.prototype.add;
          let full = 1;
          IDBObjectStore.prototype.add = function (...given) {
            if (full-- > 0) throw new DOMException("full", "QuotaExceededError");
            return add.apply(this, given);
          };
          const entry = await store.write(CASE, ...note("still written"));
          return { state: entry.state, left: await Promise.all([...kept,
            loose].map(async (sha256) => (await store.photo(sha256)) !== null)) };
        }"""
    )
    assert found == {"state": "here", "left": [False, False, False, True]}


def test_photos_are_kept_byte_for_byte(context: Any, empty_office: str) -> None:
    """FIELD 20: two pictures in one second under one name, and the same picture twice: each kept once, unchanged."""
    page = new_page_of(context, empty_office)
    found = page.evaluate(
        """async () => {
          const store = await newStore();
          const blobs = [jpeg(70000, 1), jpeg(70001, 2), jpeg(70000, 1)];
          const kept = await Promise.all(blobs.map((blob) => store.keepPhoto(CASE, new File([blob], "image.jpg", {
            type: "text/plain" }))));
          const back = await store.photo(kept[1].sha256);
          const bytes = new Uint8Array(await back.arrayBuffer());
          return { kept, count: (await store.photos(CASE)).length, same: (await sha256(bytes)) === kept[1].sha256,
            type: back.type };
        }"""
    )
    assert [each["size"] for each in found["kept"]] == [70000, 70001, 70000]
    assert (found["count"], found["same"], found["type"]) == (2, True, "image/jpeg")


@pytest.mark.parametrize(
    ("bytes_of", "words"),
    [
        ("new Uint8Array(0)", "empty"),
        ("new TextEncoder().encode('<svg onload=x>')", "not a photo"),
        ("await jpeg(2000).arrayBuffer()", "too large"),
    ],
)
def test_a_photo_that_cannot_be_taken_is_refused_at_once(
    context: Any, empty_office: str, bytes_of: str, words: str
) -> None:
    """Better to hear it while kneeling in front of the wall than in the evening from the office."""
    page = new_page_of(context, empty_office, {**PACK, "limits": {"largest_photo": 1000}})
    refused = page.evaluate(
        f"""async () => {{
          const store = await newStore();
          return store.keepPhoto(CASE, new Blob([{bytes_of}])).then(() => "kept", (problem) => problem.message);
        }}"""
    )
    assert words in refused
    assert "Next:" in refused


def test_a_loose_photo_is_counted_and_can_be_given_up(context: Any, empty_office: str) -> None:
    """A picture was taken and its note given up: it is not sent, not forgotten, and can be dropped. A named one stays."""
    page = new_page_of(context, empty_office)
    found = page.evaluate(
        """async () => {
          const store = await newStore();
          const [loose, named] = [await store.keepPhoto(CASE, jpeg(2000, 1)), await store.keepPhoto(CASE, jpeg(2000, 2))];
          await store.write(CASE, "photo", { sha256: named.sha256 });
          const before = await store.totals();
          const forgotten = await store.forgetCase(CASE).catch((problem) => problem.message);
          await store.dropPhoto(CASE, loose.sha256);
          const refused = await store.dropPhoto(CASE, named.sha256).catch((problem) => problem.message);
          return { before, forgotten, refused, left: (await store.photos(CASE)).length,
            loose: (await store.totals()).loose };
        }"""
    )
    assert (found["before"]["photos"], found["before"]["loose"], found["left"], found["loose"]) == (1, 1, 1, 0)
    assert "have not been received" in found["forgotten"]
    assert "an entry names it" in found["refused"]


def test_words_grow_with_the_age_of_what_waits(context: Any, empty_office: str) -> None:
    """D7: nothing in the first day; a sentence after 24 hours; louder after five days, with the file as the way out."""
    page = new_page_of(context, empty_office)
    words = page.evaluate(
        """async () => {
          const store = await newStore();
          const none = await store.ageWords(time + 30 * 86400000);
          await store.write(CASE, ...note("waits"));
          const hours = async (count) => store.ageWords(time + count * 3600000);
          return [none, await hours(23), await hours(24), await hours(119), await hours(120)];
        }"""
    )
    assert [each["level"] for each in words] == [0, 0, 1, 1, 2]
    assert words[2]["words"].startswith("1 entry and 0 photos have waited")
    assert "24 hours" in words[2]["words"]
    assert "5 days" in words[4]["words"]
    assert "save to a file" in words[4]["words"]


def test_the_answer_to_asking_for_safe_keeping_is_shown(context: Any, empty_office: str) -> None:
    """FIELD 22: the browser is asked only by a tap, and what it answered is said, whichever way."""
    page = new_page_of(context, empty_office)
    found = page.evaluate(
        """async () => {
          let asked = 0;
          StorageManager.prototype.persisted = async () => asked > 0;
          StorageManager.prototype.persist = async () => { asked += 1; return true; };
          StorageManager.prototype.estimate = async () => ({ usage: 10, quota: 10 * 2 ** 30 });
          const store = await newStore();
          const before = await store.storageTruth();
          const quiet = asked;
          return { before, quiet, after: await store.askToKeep() };
        }"""
    )
    assert (found["before"]["persisted"], found["quiet"], found["after"]["persisted"]) == (False, 0, True)
    assert "may clear" in found["before"]["words"][0]
    assert "has promised" in found["after"]["words"][0]


def test_the_file_of_unsent_work_holds_everything_and_can_be_taken_twice(
    context: Any, server: Any, case_id: str
) -> None:
    """D8: five days without signal, then a cable. The office takes the file, and taking it again adds nothing."""
    pack = context.request.get(f"{server.address}/api/cases/{case_id}/pack").json()
    page = new_page_of(context, server.address, pack)
    payload = {"words": "x", "at": "2026-03-02T09:00:00+00:00", "by": "", "key": "", "source": ""}
    photo = {"media_type": "image/jpeg", "size": 150001, "words": "wall", "taken_at": "2026-03-02T09:00:00+00:00", "spot": "",
             "zone": "", "direction": "", "visit": "", "by": ""}  # fmt: skip
    content = page.evaluate(
        """async ([payload, photo]) => {
          const store = await newStore();
          for (let at = 0; at < 5; at += 1) await store.write(CASE, "note", { ...payload, key: `site:${at}` });
          const { sha256 } = await store.keepPhoto(CASE, jpeg(150001, 3));
          await store.write(CASE, "photo", { ...photo, sha256 });
          await store.keepPhoto(CASE, jpeg(10, 4));
          return (await store.fileOfUnsent()).text();
        }""",
        [payload, photo],
    )
    unsent = json.loads(content)
    assert (unsent["schema"], len(unsent["entries"]), len(unsent["photos"])) == ("desorb-unsent/1", 6, 2)
    for each in unsent["photos"]:
        assert hashlib.sha256(base64.b64decode(each["base64"])).hexdigest() == each["sha256"]
    headers = {"origin": server.address, "content-type": "application/json"}
    before = len(server.store.entries(case_id))
    taken = [httpx.post(f"{server.address}/api/unsent", content=content, headers=headers).json() for _ in range(2)]
    assert [result["state"] for result in taken[0]["results"]] == ["received"] * 6
    assert [result["state"] for result in taken[1]["results"]] == ["known"] * 6
    assert len(server.store.entries(case_id)) == before + 6
    assert [(each["photos"], each["photos_refused"]) for each in taken] == [(2, []), (2, [])]


def test_what_the_office_has_leaves_only_where_days_are_set(context: Any, empty_office: str) -> None:
    """A full season on one phone: nothing leaves by itself; with 30 days set, only what the office received before that."""
    page = new_page_of(context, empty_office)
    found = page.evaluate(
        """async () => {
          const store = await newStore();
          office.verdict = ({ n }) => (n === 0 ? { state: "refused", reason: "set aside" } : null); // stays, with its reason
          const sender = begin(store);
          const { sha256 } = await store.keepPhoto(CASE, jpeg(5000));
          await store.writeAll(CASE, [note("old"), ["photo", { sha256 }]]);
          await sender.sendNow();
          time += 31 * 86400000;
          office.answers = "down";
          await store.write(CASE, ...note("not sent"));
          const kept = await store.tidy();
          await store.keepFor(30);
          const gone = await store.tidy();
          const next = await store.write(CASE, ...note("next"));
          return { kept, gone, left: (await store.entries(CASE)).map(({ n }) => n), photo: await store.photo(sha256),
            n: next.n };
        }"""
    )
    assert found == {"kept": 0, "gone": 2, "left": [0, 2, 3], "photo": None, "n": 3}
