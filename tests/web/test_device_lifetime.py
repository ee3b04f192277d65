"""The life of the page: cold starts without a network, new versions, two windows, and drafts when the page goes away."""

from __future__ import annotations

import contextlib
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from device_page import PACK, OwnBrowser, new_page_of, open_device

from desorb.web import pages_site

CONTROLLED = "() => navigator.serviceWorker?.controller?.state === 'activated'"
TOGETHER = """async (pack) => {
  window.PACK = pack;
  window.CASE = pack.case.id;
  const { openStore } = await import("/static/site/store.js");
  const { startLifetime } = await import("/static/site/page_lifetime.js");
  window.own = await openStore({ name: "of-this-test" });
  if (!(await own.pack(CASE))) await own.savePack(pack);
  window.told = 0;
  window.events = 0;
  document.addEventListener("desorb:new-version", () => { window.events += 1; });
  window.life = startLifetime(own, { onNewVersion: () => { window.told += 1; } });
  window.registration = await life.ready;
}"""


@pytest.fixture
def context(browser: Any) -> Any:
    made = browser.new_context()
    yield made
    made.close()


@pytest.fixture
def new_shell(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Make the server serve another shell: a new version of the page."""
    plain = pages_site.page

    def change(words: str) -> None:
        def page(*given: Any, **parts: Any) -> Any:
            answer = plain(*given, **parts)
            return type(answer)(answer.body.decode().replace("<head>", f"<head><!-- {words} -->"))

        monkeypatch.setattr(pages_site, "page", page)

    return change


def at_site(context: Any, address: str) -> Any:
    page = context.new_page()
    page.goto(f"{address}/site/")
    page.wait_for_function(CONTROLLED)
    page.evaluate(TOGETHER, PACK)
    return page


def test_every_file_of_the_shell_is_on_the_list(empty_office: str) -> None:
    """What is not on the list is missing in the cellar: the list holds the shell and every module it imports."""
    import httpx

    listed = httpx.get(f"{empty_office}/site/files.json").json()
    own = {f"/static/site/{name}.js" for name in ("app", "store", "sync", "record", "page_lifetime")}
    assert own | {"/site/", "/static/paper.css"} <= set(listed["files"])
    for address in listed["files"]:
        assert httpx.get(f"{empty_office}{address}").status_code == 200, address
    worker = httpx.get(f"{empty_office}/site/service-worker.js")
    assert worker.headers["content-type"].startswith("text/javascript")
    assert listed["version"] in worker.text.splitlines()[0]


def test_the_page_opens_without_any_network_after_the_browser_was_killed(
    playwright_here: Any, server: Any, case_id: str, tmp_path: Path
) -> None:
    """FIELD 23: the case was taken along at home; in the cellar the phone starts cold and everything is there."""
    own = OwnBrowser(playwright_here, tmp_path / "profile")
    try:
        page = own.context.new_page()
        page.goto(f"{server.address}/site/")
        page.wait_for_function(CONTROLLED)
        page.evaluate(
            """async (caseId) => {
              const { openStore } = await import("/static/site/store.js");
              const { startSending } = await import("/static/site/sync.js");
              window.own = await openStore();
              const { ok, words } = await startSending(own, {}).refreshPack(caseId);
              if (!ok) throw new Error(words);
            }""",
            case_id,
        )
    finally:
        own.kill()
    server.stop()
    own = OwnBrowser(playwright_here, tmp_path / "profile")
    try:
        page = own.context.new_page()
        failed: list[str] = []
        page.on("requestfailed", lambda request: failed.append(request.url))
        page.goto(f"{server.address}/site/")
        assert page.title() != ""
        found = page.evaluate(
            """async () => {
              const { openStore } = await import("/static/site/store.js");
              const own = await openStore();
              const [job] = await own.cases();
              const entry = await own.write(job.id, "note", { words: "no signal", at: "2026-03-02T09:00:00+00:00",
                by: "", key: "", source: "" });
              const api = await fetch("/api/cases").then(() => "answered", () => "no network");
              return { name: job.name, state: entry.state, api };
            }"""
        )
        assert found == {"name": "quillfen", "state": "here", "api": "no network"}
        assert [url for url in failed if "/api/" not in url] == []
        page.goto(f"{server.address}/site/any/address")
        assert page.locator("script[src='/static/site/app.js']").count() == 1
    finally:
        own.kill()


def test_a_new_version_waits_and_no_page_is_reloaded(
    context: Any, empty_office: str, new_shell: Callable[[str], None]
) -> None:
    """D5, FIELD 24: two windows with drafts, and the office was updated. Both are told, nothing reloads, no draft is lost."""
    new_shell("first")
    one = at_site(context, empty_office)
    other = at_site(context, empty_office)
    for page, words in ((one, "of one"), (other, "of the other")):
        page.evaluate("(words) => { window.mark = words; life.typed(CASE, { words }); }", words)
    new_shell("second")
    one.evaluate("() => registration.update()")
    for page in (one, other):
        page.wait_for_function("() => window.told === 1 && window.events > 0 && life.newVersionWaits")
    assert [page.evaluate("() => window.mark") for page in (one, other)] == ["of one", "of the other"]
    assert len(one.evaluate("() => caches.keys()")) == 2
    third = context.new_page()
    third.goto(f"{empty_office}/site/")
    assert "<!-- first -->" in third.content()  # the old version goes on until someone takes the new one
    third.close()
    with one.expect_navigation():
        one.evaluate("() => { life.takeNewVersion(); }")
    one.wait_for_function(CONTROLLED)
    assert "<!-- second -->" in one.content()
    assert other.evaluate("() => window.mark") == "of the other"  # not reloaded
    assert other.evaluate("async () => (await own.draft(CASE)).words") == "of the other"
    assert other.evaluate("async () => (await own.write(CASE, 'note', { words: 'goes on' })).state") == "here"
    assert len(one.evaluate("() => caches.keys()")) == 1
    one.evaluate(TOGETHER, PACK)
    one.wait_for_function("async () => (await own.draft(CASE))?.words === 'of one'")


def test_files_that_are_not_those_of_the_version_are_not_kept(
    context: Any, empty_office: str, new_shell: Callable[[str], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The new version arrives through a network that answers everything with its sign-in page: the old one goes on."""
    new_shell("first")
    page = at_site(context, empty_office)
    plain = pages_site.kept_on_device
    monkeypatch.setattr(
        pages_site, "kept_on_device", lambda request: plain(request) | {"/static/site/store.js": "0" * 64}
    )
    states = page.evaluate(
        """async () => {
          const states = [];
          const done = new Promise((go) => registration.addEventListener("updatefound", () => {
            const worker = registration.installing;
            worker.addEventListener("statechange", () => { states.push(worker.state);
              if (worker.state !== "installing") go(); });
          }));
          registration.update().catch(() => {});
          await done;
          return { states, waits: life.newVersionWaits, caches: (await caches.keys()).length, told };
        }"""
    )
    assert states == {"states": ["redundant"], "waits": False, "caches": 1, "told": 0}
    page.reload()
    assert "<!-- first -->" in page.content()


def test_a_change_of_the_database_never_waits_for_an_old_window_of_ours(context: Any, empty_office: str) -> None:
    """D5: a newer page changes the form of the database while an older window is open: both go on, no draft is lost."""
    old, new = new_page_of(context, empty_office), new_page_of(context, empty_office)
    old.evaluate(
        """async () => {
          window.store = await newStore();
          await store.saveDraft(CASE, { words: "begun" });
          await store.write(CASE, ...note("before"));
        }"""
    )
    new.evaluate(
        """() => {
          const write = async () => (await newStore({ version: 2 })).write(CASE, ...note("of the new"));
          write().then(() => { window.isWritten = true; });
        }"""
    )
    new.wait_for_function("() => window.isWritten", timeout=10_000)
    found = old.evaluate(
        """async () => {
          const entry = await store.write(CASE, ...note("of the old"));
          return { n: entry.n, draft: await store.draft(CASE), words: store.words };
        }"""
    )
    assert found == {"n": 2, "draft": {"words": "begun"}, "words": []}
    late = new_page_of(context, empty_office)  # an old page that is opened after the change
    assert late.evaluate("async () => (await (await newStore()).entries(CASE)).length") == 3


def test_a_change_of_the_database_that_is_held_up_says_so_and_waits(context: Any, empty_office: str) -> None:
    """D5: a window that does not let go: it is said which window to close, and after that it goes on by itself."""
    old, new = new_page_of(context, empty_office), new_page_of(context, empty_office)
    old.evaluate(
        """async () => {
          await (await newStore()).close();
          const request = indexedDB.open("desorb-site"); // a window that does not listen
          window.held = await new Promise((go) => { request.onsuccess = () => go(request.result); });
        }"""
    )
    new.evaluate(
        """() => {
          window.said = [];
          window.opening = newStore({ version: 2, say: (words) => said.push(words) });
        }"""
    )
    new.wait_for_function("() => said.length === 1")
    assert "close the other window" in new.evaluate("() => said[0]")
    old.evaluate("() => held.close()")
    assert new.evaluate("async () => (await (await opening).cases()).length") == 1


def test_a_draft_survives_wherever_the_page_is_left(page: Any, empty_office: str) -> None:
    """FIELD 14: reload, back, another app, a call: at twenty moments of typing the draft is there to the last keystroke."""
    open_device(page, empty_office)
    rng = random.Random(14)
    for turn in range(20):
        typed = "0123456789"[: rng.randrange(1, 10)] + f" {turn}"
        leave = ["reload", "freeze", "hidden", "away"][turn % 4]
        page.evaluate(
            """async ([typed, leave]) => {
              window.now = () => Date.now();
              window.life?.stop();
              window.store = await newStore();
              await store.draft(CASE);
              window.life = startLifetime(store, { delay: 600000 }); // only leaving the page saves it
              for (let at = 1; at <= typed.length; at += 1) life.typed(CASE, { typed: typed.slice(0, at) });
              if (leave === "freeze") document.dispatchEvent(new Event("freeze"));
              if (leave === "hidden") {
                Object.defineProperty(document, "visibilityState", { configurable: true, get: () => "hidden" });
                document.dispatchEvent(new Event("visibilitychange"));
              }
            }""",
            [typed, leave],
        )
        if leave == "away":
            page.goto("about:blank")
        open_device(page, empty_office)  # the page is loaded anew
        page.wait_for_function(
            """async (typed) => {
              const store = await newStore({ now: () => Date.now() });
              return (await store.draft(CASE))?.typed === typed;
            }""",
            arg=typed,
        )


def test_a_draft_survives_a_crash_of_the_page(context: Any, empty_office: str) -> None:
    """FIELD 16: the camera was open and the phone ran out of memory: what was typed before it opened is there."""
    page = new_page_of(context, empty_office)
    page.evaluate(
        """async () => {
          window.store = await newStore();
          window.life = startLifetime(store);
          life.typed(CASE, { words: "before the camera", at: "K2" });
          await life.flush(); // what a screen does before it opens the camera
        }"""
    )
    with page.expect_event("crash"), contextlib.suppress(Exception):
        page.goto("chrome://crash")  # the renderer ends at once; the command itself is never answered
    again = new_page_of(context, empty_office)
    again.wait_for_function("async () => (await (await newStore()).draft(CASE))?.words === 'before the camera'")


def test_no_page_asks_in_a_box_or_reloads_by_itself() -> None:
    """No code of the device opens a box of the browser, and only a version that was taken reloads a page."""
    folder = Path(pages_site.STATIC) / "site"
    own = ["record", "database", "device_clock", "store", "packs", "photos", "drafts", "outbox", "keeping", "sync", "sending",
           "sync_answers", "page_lifetime", "refusal", "service-worker"]  # fmt: skip
    for name in own:
        text = (folder / f"{name}.js").read_text(encoding="utf-8")
        assert len(text.splitlines()) <= 400
        for word in ("confirm(", "alert(", "prompt(", "innerHTML", "eval(", "setInterval", "requestAnimationFrame"):
            assert word not in text, (name, word)
        assert text.count("location.reload") == (name == "page_lifetime")
