"""The second copy on the phone: what stands in it, what leaves it, and what is put back when the database is gone.

A browser that throws its database away is made here by deleting the database alone (tests/web/test_device_kill.py has
Chromium do it by itself); a person who clears the page deletes both, and nothing comes back (test_device_store.py).
"""

from __future__ import annotations

from typing import Any

import pytest
from device_page import CASE, PACK, new_page_of

FILES = """async () => {
  await store.copy.done();
  const root = await navigator.storage.getDirectory();
  const folder = await root.getDirectoryHandle("desorb-site", { create: true });
  const names = [];
  for await (const name of folder.keys()) names.push(name.split("-")[0]);
  return names.sort();
}"""

# The database goes, as a browser takes it away: the connection is closed first.
LOSE = """async () => {
  await store.copy.done();
  await store.close();
  const gone = indexedDB.deleteDatabase("desorb-site");
  await new Promise((done, failed) => Object.assign(gone, { onsuccess: done, onerror: failed, onblocked: failed }));
}"""

BEGIN = """async () => {
  window.store = await newStore();
  const { sha256 } = await store.keepPhoto(CASE, jpeg(5000));
  await store.writeAll(CASE, [note("one"), ["photo", { sha256 }]]);
  await store.write(CASE, ...note("two"));
  await store.saveDraft(CASE, { words: "begun" });
  return { sha256, device: await store.device() };
}"""

SEEN = """async () => {
  const entries = await store.entries(CASE);
  return {
    entries: entries.map(({ n, state, device, payload }) => [n, state, payload.words ?? "photo"]),
    devices: [...new Set(entries.map(({ device }) => device))], clocks: entries.map(({ clock }) => clock),
    photos: await store.photos(CASE), draft: await store.draft(CASE), words: store.words, device: await store.device(),
    cases: (await store.cases()).map(({ id, unsent, photosUnsent }) => [id, unsent, photosUnsent]),
  };
}"""


@pytest.fixture
def two(browser: Any, empty_office: str) -> Any:
    """A page, and a way to get another one in the same storage."""
    context = browser.new_context()
    yield lambda: new_page_of(context, empty_office)
    context.close()


def test_all_that_waits_is_put_back_and_work_goes_on_without_a_network(two: Any) -> None:
    """In the cellar the browser lost everything: the case opens, readings, photo and draft are there, and it is said."""
    page = two()
    begun = page.evaluate(BEGIN)
    assert page.evaluate(FILES) == ["draft", "entries", "entries", "pack", "photo"]
    assert "stands here twice" in " ".join(page.evaluate("async () => (await store.storageTruth()).words"))
    page.evaluate(LOSE)
    page.close()
    page = two()
    page.evaluate("async () => { window.store = await openStore({ now: window.now }); }")
    seen = page.evaluate(SEEN)
    assert seen["entries"] == [[0, "here", "one"], [1, "here", "photo"], [2, "here", "two"]]
    assert seen["cases"] == [[CASE, 3, 1]]
    assert [(row["sha256"], row["state"], row["named"]) for row in seen["photos"]] == [(begun["sha256"], "here", True)]
    assert seen["draft"] == {"words": "begun"}
    [sentence] = seen["words"]
    assert "Put back from the second copy: 3 entries, 1 photo, 1 case." in sentence
    # What the lost chain held beyond the copy may be with the office: its numbers are never used again.
    assert seen["device"] != begun["device"]
    page.evaluate("async () => { await store.write(CASE, ...note('after')); }")
    seen = page.evaluate(SEEN)
    assert seen["entries"][-1] == [0, "here", "after"]
    page.close()
    page = two()
    page.evaluate("async () => { window.store = await openStore({ now: window.now }); }")
    assert page.evaluate("() => store.words") == []  # said once
    assert seen["devices"] == [begun["device"], seen["device"]]
    assert seen["clocks"] == sorted(set(seen["clocks"]))


def test_what_the_office_has_leaves_the_copy_and_a_forgotten_case_leaves_nothing(two: Any) -> None:
    """The copy is of what waits: sent, and shown in the pack that is fetched then, it leaves. Forgotten, nothing stays."""
    page = two()
    page.evaluate(BEGIN)
    page.evaluate("async () => { await begin(store).sendNow(); await settle(); }")
    assert page.evaluate(FILES) == ["draft", "pack"]
    # A pack that was made before the last entry takes nothing away that only stands here.
    page.evaluate(
        """async () => {
          await store.write(CASE, ...note("three"));
          await store.savePack({ ...PACK, highest_clock: office.clock, devices: office.devices() });
        }"""
    )
    assert page.evaluate(FILES) == ["draft", "entries", "pack"]
    page.evaluate("async () => { await begin(store).sendNow(); await settle(); }")
    page.evaluate("async () => { await store.dropDraft(CASE); await store.forgetCase(CASE); }")
    assert page.evaluate(FILES) == []
    page.evaluate(LOSE)
    page.close()
    page = two()
    page.evaluate("async () => { window.store = await openStore({ now: window.now }); }")
    assert page.evaluate(SEEN)["words"] == []


def test_what_was_given_up_is_not_put_back(two: Any) -> None:
    """A draft that was dropped while it was still being copied, and a photo that was given up, stay away."""
    page = two()
    page.evaluate(
        """async () => {
          window.store = await newStore();
          const { sha256 } = await store.keepPhoto(CASE, jpeg(5000));
          await store.dropPhoto(CASE, sha256);
          const saving = store.saveDraft(CASE, { words: "begun" });
          await Promise.all([saving, store.dropDraft(CASE)]);
        }"""
    )
    assert page.evaluate(FILES) == ["pack"]


def test_a_half_written_copy_and_one_that_was_changed_are_not_put_back(two: Any) -> None:
    """Files that were begun, cut or altered are no record: only what still has its own hash goes back in."""
    page = two()
    page.evaluate(BEGIN)
    page.evaluate("async () => { await store.write(CASE, ...note('three')); }")
    page.evaluate(
        """async () => {
          const folder = await (await navigator.storage.getDirectory()).getDirectoryHandle("desorb-site");
          const change = async (name, how) => {
            const handle = await folder.getFileHandle(name, { create: true });
            const held = await (await handle.getFile()).text();
            const stream = await handle.createWritable();
            await stream.write(how(held));
            await stream.close();
          };
          for await (const name of folder.keys()) {
            if (name.startsWith("entries")) {
              // one file is cut, in one a word of the payload is another, in one something of the envelope
              await change(name, (held) => (held.includes("two") ? held.slice(0, 200)
                : held.includes("three") ? held.replace("sha-256", "sha-255")
                : held.replace("one", "eno")));
            }
            if (name.startsWith("photo")) await change(name, (held) => held.slice(0, 100));
          }
          await change("entries-ab-cd", () => "");
          await change("something else", () => "x");
        }"""
    )
    page.evaluate(LOSE)
    page.close()
    page = two()
    page.evaluate("async () => { window.store = await openStore({ now: window.now }); }")
    seen = page.evaluate(SEEN)
    assert [entry[2] for entry in seen["entries"]] == ["photo"]  # the other entry of the changed file is whole
    assert (seen["photos"], seen["draft"]) == ([], {"words": "begun"})


def test_a_case_with_nothing_unsent_is_put_back_with_its_clock(two: Any) -> None:
    """The office had everything: the case still opens in the cellar, and what is written next comes after all it knew."""
    page = two()
    page.evaluate("async () => { window.store = await newStore(); }")
    page.evaluate(LOSE)
    page.close()
    page = two()
    page.evaluate("async () => { window.store = await openStore({ now: window.now }); }")
    assert page.evaluate("async () => (await store.write(CASE, ...note('first'))).clock") == PACK["highest_clock"] + 1


def test_putting_back_that_was_cut_off_is_done_again(two: Any) -> None:
    """The phone died while photos were put back: the next life goes on with them."""
    page = two()
    page.evaluate(BEGIN)
    page.evaluate(LOSE)
    page.close()
    page = two()
    page.evaluate(
        """async () => {
          const plain = FileSystemFileHandle.prototype.getFile;
          FileSystemFileHandle.prototype.getFile = function () {
            return this.name.startsWith("photo") ? Promise.reject(new Error("died here")) : plain.call(this);
          };
          await openStore({ now: window.now }).catch(() => 0);
        }"""
    )
    page = two()
    page.evaluate("async () => { window.store = await openStore({ now: window.now }); }")
    seen = page.evaluate(SEEN)
    assert (len(seen["entries"]), len(seen["photos"])) == (3, 1)


def test_a_database_that_goes_while_the_page_is_open_is_filled_before_the_next_entry(two: Any) -> None:
    """The browser found damage in the middle of my round: the next reading is written, and those before it are there."""
    page, other = two(), two()
    begun = page.evaluate(BEGIN)
    page.evaluate("() => store.copy.done()")
    other.evaluate("async () => { window.store = { copy: { done() {} }, close() {} }; }")
    other.evaluate(LOSE)
    page.evaluate("async () => { await store.write(CASE, ...note('after')); }")
    seen = page.evaluate(SEEN)
    assert [entry[2] for entry in seen["entries"]] == ["one", "photo", "two", "after"]
    assert seen["clocks"] == sorted(set(seen["clocks"]))
    assert [row["sha256"] for row in seen["photos"]] == [begun["sha256"]]
    assert "Put back from the second copy: 3 entries" in seen["words"][-1]


def test_what_the_storage_says_stands_on_the_page_until_it_was_read(two: Any) -> None:
    """I open the page after the browser lost everything: it tells me before anything else, and goes when I have read it."""
    page = two()
    page.evaluate(BEGIN)
    page.evaluate(LOSE)
    page.goto(page.url.replace("/blank", "/site/"))
    page.get_by_text("Put back from the second copy: 3 entries, 1 photo, 1 case.").wait_for()
    page.get_by_role("button", name="I have read this").click()
    page.locator("#recovery").wait_for(state="hidden")


@pytest.mark.parametrize(
    "without",
    [
        "delete FileSystemFileHandle.prototype.createWritable",
        "navigator.storage.getDirectory = () => Promise.reject(new DOMException('no', 'SecurityError'))",
        "FileSystemFileHandle.prototype.createWritable = () => Promise.reject(new DOMException('', 'QuotaExceededError'))",
    ],
    ids=["an older browser", "a private window", "a full disk"],
)
def test_a_browser_without_such_files_keeps_everything_as_before(two: Any, without: str) -> None:
    """No second copy: nothing is refused for that, and the page does not claim one."""
    page = two()
    page.evaluate(f"() => {{ {without}; }}")
    page.evaluate(BEGIN)
    seen = page.evaluate(SEEN)
    assert (len(seen["entries"]), len(seen["photos"]), seen["draft"]) == (3, 1, {"words": "begun"})
    said = " ".join(page.evaluate("async () => (await store.storageTruth()).words"))
    assert "stands here once" in said
