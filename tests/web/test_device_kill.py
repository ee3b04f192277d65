"""Chromium is killed at any moment: what the page said is saved, is there. And a full disk quota in a profile on the disk.

A killed browser is no power cut: the kernel still writes what it was given. "strict" is the documented request to flush;
that it is asked for is checked by reading the durability of the transactions, that a phone honours it is not testable here.
What Chromium does with a log whose last record was cut off (it throws the database away one life later) is made here by
cutting the log, so that the second copy is needed in every run and not once in a hundred kills.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from device_page import OPENING, OwnBrowser, new_page_of

KILLS, SOAK_KILLS = 8, 60

WRITE_ON = """async () => {
  window.now = () => Date.now();
  window.store = await newStore();
  await store.draft(CASE); // what an earlier life left: this one goes on with it
  (async () => {
    for (let at = 0; ; at += 1) {
      const { sha256 } = await store.keepPhoto(CASE, jpeg(60000, Math.floor(Math.random() * 2 ** 31)));
      saved("photo", sha256);
      const kept = await store.writeAll(CASE, [note(`after a photo ${at}`), ["photo", { sha256 }]]);
      for (const entry of kept) saved("entry", entry.hash);
      await store.saveDraft(CASE, { at });
      await store.copy.done(); // a draft is never said to be saved: its copy follows
      saved("draft", String(at));
      saved("entry", (await store.write(CASE, ...note(`alone ${at}`))).hash);
    }
  })();
}"""

LOOK = """async () => {
  const store = (window.store = await newStore());
  const photos = [];
  for (const { sha256: name } of await store.photos(CASE)) {
    const blob = await store.photo(name);
    if (blob && (await sha256(await blob.arrayBuffer())) === name) photos.push(name);
  }
  const file = JSON.parse(await (await store.fileOfUnsent()).text());
  return { photos, rows: file.entries, draft: (await store.draft(CASE))?.at ?? -1,
    states: (await store.entries(CASE)).map(({ state }) => state) };
}"""


def kill_and_look(playwright: Any, address: str, profile: Path, kills: int) -> None:
    rng = random.Random(kills)
    saved: dict[str, list[str]] = {"photo": [], "entry": [], "draft": []}
    for _ in range(kills):
        own = OwnBrowser(playwright, profile)
        try:
            wanted, count = rng.randrange(3, 14), [0]

            def hear(_source: Any, what: str, name: str, count: list[int] = count, wanted: int = wanted) -> None:
                if count[0] < wanted:
                    saved[what].append(name)
                    count[0] += 1

            own.context.expose_binding("saved", hear)
            page = new_page_of(own.context, address)
            before = page.evaluate(LOOK)
            look(before, saved)
            saved["draft"].clear()
            page.evaluate(WRITE_ON)
            while count[0] < wanted:
                page.evaluate("() => 0")  # lets the words of the page through
        finally:
            own.kill()
    own = OwnBrowser(playwright, profile)
    try:
        look(new_page_of(own.context, address).evaluate(LOOK), saved)
    finally:
        own.kill()
    assert len(saved["entry"]) > kills


def look(found: dict[str, Any], saved: dict[str, list[str]]) -> None:
    hashes = [hashlib.sha256(row["envelope"].encode()).hexdigest() for row in found["rows"]]
    assert set(saved["entry"]) <= set(hashes), "an entry that was said to be saved is lost"
    assert set(saved["photo"]) <= set(found["photos"]), "a photo that was said to be saved is lost"
    if saved["draft"]:
        assert found["draft"] >= int(saved["draft"][-1]), "a draft that was said to be saved is lost"
    chains: dict[str, list[tuple[dict[str, Any], str]]] = {}  # a database that was put back goes on as another device
    for row, own in zip(found["rows"], hashes, strict=True):
        envelope = json.loads(row["envelope"])
        chains.setdefault(envelope["device"], []).append((envelope, own))
    for chain in chains.values():
        assert [each["n"] for each, _ in chain] == list(range(len(chain)))
        assert [each["prev"] for each, _ in chain] == [OPENING, *(own for _, own in chain)][: len(chain)]
    clocks = [json.loads(row["envelope"])["clock"] for row in found["rows"]]
    assert clocks == sorted(set(clocks)), "what was written after it was put back must come after it"
    assert set(found["states"]) <= {"here"}
    named = {json.loads(row["payload"])["sha256"] for row in found["rows"] if '"sha256"' in row["payload"]}
    assert named <= set(found["photos"]), "an entry names a photo whose bytes are not here"


def test_nothing_that_was_saved_is_lost_when_the_browser_is_killed(
    playwright_here: Any, empty_office: str, tmp_path: Path
) -> None:
    """D1: the phone ran the browser out of memory, again and again: readings, photos and drafts are all there."""
    kill_and_look(playwright_here, empty_office, tmp_path / "profile", KILLS)


@pytest.mark.soak
def test_nothing_that_was_saved_is_lost_in_sixty_kills(playwright_here: Any, empty_office: str, tmp_path: Path) -> None:
    """D1, the long run."""
    kill_and_look(playwright_here, empty_office, tmp_path / "profile", SOAK_KILLS)


ONCE = """async () => {
  window.now = () => Date.now();
  window.store = await newStore();
  const { sha256 } = await store.keepPhoto(CASE, jpeg(60000, Math.floor(Math.random() * 2 ** 31)));
  const kept = await store.writeAll(CASE, [note("seen"), ["photo", { sha256 }]]);
  await store.saveDraft(CASE, { at: kept[0].n });
  await store.copy.done();
  return { photo: sha256, entries: kept.map(({ hash }) => hash), draft: kept[0].n, words: store.words };
}"""


def cut_off(log: Path) -> None:
    """The record of the last draft, without its end."""
    os.truncate(log, log.stat().st_size - 40)


def break_off(log: Path) -> None:
    """A photo of which the first bytes were written: a record of 20,000 bytes (LevelDB's log format), then 500 of them."""
    with log.open("ab") as end:
        end.write(bytes(4) + (20_000).to_bytes(2, "little") + b"\x01" + bytes(range(250)) * 2)


def lives(
    playwright: Any, address: str, profile: Path, damage: Callable[[Path], None], before_last: str = "() => 0"
) -> tuple[Any, list[Any]]:
    """Three lives of a browser, each killed, the second in the middle of a write; what the fourth finds, and its words."""
    written: list[Any] = []
    for life in range(3):
        own = OwnBrowser(playwright, profile)
        try:
            written.append(new_page_of(own.context, address).evaluate(ONCE))
        finally:
            own.kill()
        if life == 1:
            [log] = profile.glob("Default/IndexedDB/*.leveldb/*.log")
            damage(log)
    own = OwnBrowser(playwright, profile)
    try:
        page = new_page_of(own.context, address)
        page.evaluate(before_last)
        return page.evaluate(LOOK), [*written, page.evaluate("() => store.words")]
    finally:
        own.kill()


@pytest.mark.parametrize("damage", [cut_off, break_off])
def test_a_database_that_the_browser_throws_away_is_put_back(
    playwright_here: Any, empty_office: str, tmp_path: Path, damage: Callable[[Path], None]
) -> None:
    """D1: killed in the middle of a write, opened again, written on, opened once more: everything is there, and said."""
    found, [*written, words] = lives(playwright_here, empty_office, tmp_path / "profile", damage)
    saved = {
        "entry": [each for life in written for each in life["entries"]],
        "photo": [life["photo"] for life in written],
    }
    look(found, {**saved, "draft": [str(written[-1]["draft"])]})
    assert len(found["rows"]) == 6
    assert "threw away its database" in words[0]
    assert "6 entries, 3 photos, 1 case" in words[0]


def test_without_a_second_copy_that_database_is_lost(playwright_here: Any, empty_office: str, tmp_path: Path) -> None:
    """Why there is a second copy. When this fails, browsers have learnt to keep it: read decision 0010 again."""
    forget = """async () => {
      const root = await navigator.storage.getDirectory();
      for await (const name of root.keys()) await root.removeEntry(name, { recursive: true });
    }"""
    found, _ = lives(playwright_here, empty_office, tmp_path / "profile", cut_off, before_last=forget)
    assert found["rows"] == []


def test_a_full_phone_refuses_the_photo_in_words_and_still_takes_text(
    playwright_here: Any, empty_office: str, tmp_path: Path
) -> None:
    """D2: no room for the picture. It is said, nothing pretends to be kept, and the reading is still written down."""
    own = OwnBrowser(playwright_here, tmp_path / "profile")
    try:
        cdp = own.context.new_cdp_session(own.context.pages[0])
        cdp.send("Storage.overrideQuotaForOrigin", {"origin": empty_office, "quotaSize": 1_000_000})
        # Only now: Chromium remembers for a while how much room was left.
        page = new_page_of(own.context, empty_office)
        page.evaluate("async () => { window.store = await newStore(); }")
        found = page.evaluate(
            """async () => {
              const refused = [];
              for (const seed of [1, 2, 3]) refused.push(await store.keepPhoto(CASE, jpeg(3_000_000,
                seed)).then(() => "kept", (problem) => problem.message));
              const entry = await store.write(CASE, ...note("the reading"));
              return { refused, state: entry.state, photos: await store.photos(CASE), totals: await store.totals() };
            }"""
        )
    finally:
        own.kill()
    for words in found["refused"]:
        assert "this photo could not be kept on this phone" in words
        assert "save it to a file" in words
    assert (found["state"], found["photos"], found["totals"]["photos"]) == ("here", [], 0)
    assert found["totals"]["entries"] == 1


def test_what_keeps_something_asks_for_strict(page: Any, empty_office: str) -> None:
    """A power cut right after "saved": the browser was told to put it on the disk first, not only into memory."""
    from device_page import open_device

    open_device(page, empty_office)
    asked = page.evaluate(
        """async () => {
          const plain = IDBDatabase.prototype.transaction;
          const asked = [];
          IDBDatabase.prototype.transaction = function (names, mode, options) {
            const made = plain.call(this, names, mode, options);
            if (mode === "readwrite") asked.push([[...names].join(" "), made.durability]);
            return made;
          };
          const store = await newStore();
          const { sha256 } = await store.keepPhoto(CASE, jpeg(100));
          await store.write(CASE, "photo", { sha256 });
          await store.saveDraft(CASE, { words: "x" });
          return asked;
        }"""
    )
    kept = dict(asked)
    assert kept["heads entries photos"] == "strict"
    assert kept["packs photos photo_bytes entries"] == "strict"
    assert kept["packs heads meta entries photos"] == "strict"
    assert kept["drafts"] == "relaxed"
