"""What stands on the phone: entries from two windows, packs, devices and drafts.

D2 to D9 are the points of the durability list in the planning notes; FIELD numbers are those of the field list.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

import httpx
import pytest
from device_page import CASE, PACK, new_page_of


@pytest.fixture
def context(browser: Any) -> Any:
    made = browser.new_context()
    yield made
    made.close()


def test_two_windows_never_give_one_number_twice(context: Any, empty_office: str) -> None:
    """Plan in one window, readings in another, both written at once: every number once, one chain."""
    one, other = new_page_of(context, empty_office), new_page_of(context, empty_office)
    many = """async (name) => {
      window.store = await newStore();
      window.writing = Promise.all(Array.from({ length: 20 }, (_, at) =>
        at % 3 ? store.write(CASE, ...note(`${name} ${at}`)) : store.writeAll(CASE, [note(name), note(name)])));
    }"""
    one.evaluate(many, "one")
    other.evaluate(many, "other")
    assert len([one.evaluate("() => writing.then(() => 1)"), other.evaluate("() => writing.then(() => 1)")]) == 2
    rows = one.evaluate(
        "async () => JSON.parse(await (await store.fileOfUnsent()).text()).entries.map((row) => row.envelope)"
    )
    envelopes = [json.loads(row) for row in rows]
    assert [each["n"] for each in envelopes] == list(range(54))
    assert [each["prev"] for each in envelopes] == [
        PACK["opening_hash"], *(hashlib.sha256(row.encode()).hexdigest() for row in rows[:-1])
    ]  # fmt: skip
    clocks = [each["clock"] for each in envelopes]
    assert clocks == sorted(set(clocks))
    assert len({each["device"] for each in envelopes}) == 1


def test_without_locks_a_window_that_was_overtaken_seals_anew(context: Any, empty_office: str) -> None:
    """An old browser has no locks: two writes at once still stand one after the other."""
    page = new_page_of(context, empty_office)
    names = page.evaluate(
        """async () => {
          Object.defineProperty(Navigator.prototype, "locks", { get: () => undefined });
          const [one, other] = [await newStore(), await newStore()];
          await Promise.all([one, other, one, other, one, other].map((store) => store.write(CASE, ...note("at once"))));
          return (await one.entries(CASE)).map((entry) => entry.n);
        }"""
    )
    assert names == [0, 1, 2, 3, 4, 5]


def test_all_or_none_is_written(context: Any, empty_office: str) -> None:
    """A reading and its photo entry belong together: when one of them cannot be written, neither is."""
    page = new_page_of(context, empty_office)
    found = page.evaluate(
        """async () => {
          const store = await newStore();
          const words = await store.writeAll(CASE, [note("good"), ["note", {
            words: 1.5 }]]).catch((problem) => problem.message);
          const other = await store.write("ee".repeat(16), ...note("of no case here")).catch((problem) => problem.message);
          return { words, other, count: (await store.entries(CASE)).length, totals: (await store.totals()).entries };
        }"""
    )
    assert "may not stand in a record" in found["words"]
    assert "this case is not on this device" in found["other"]
    assert (found["count"], found["totals"]) == (0, 0)


def test_a_cleared_storage_is_a_new_device_and_the_office_shows_the_gap(
    context: Any, server: Any, case_id: str
) -> None:
    """D3: two entries were sent, six more were not, and the browser data was cleared. No number comes twice; the gap shows."""
    pack = context.request.get(f"{server.address}/api/cases/{case_id}/pack").json()
    page = new_page_of(context, server.address, pack)
    payload = {"words": "x", "at": "2026-03-02T09:00:00+00:00", "by": "", "key": "", "source": ""}
    write = """async ([count, payload]) => {
      window.store ??= await newStore();
      for (let at = 0; at < count; at += 1) await store.write(CASE, "note", { ...payload, key: `site:${randomHex(8)}` });
      return store.device();
    }"""
    first = page.evaluate(write, [8, payload])
    rows = page.evaluate("async () => JSON.parse(await (await store.fileOfUnsent()).text()).entries")
    headers = {"origin": server.address}
    kept = [rows[0], rows[1], rows[7]]  # 2 to 6 never arrive; the last one was sent by hand
    httpx.post(
        f"{server.address}/api/cases/{case_id}/entries", json={"entries": kept}, headers=headers
    ).raise_for_status()
    page.evaluate("() => store.close()")
    context.new_cdp_session(page).send("Storage.clearDataForOrigin", {"origin": server.address, "storageTypes": "all"})
    page = new_page_of(context, server.address, pack)
    second = page.evaluate(write, [1, payload])
    assert second != first
    said = page.evaluate(
        """async () => {
          const sender = startSending(store, { setTimer, now });
          await sender.sendNow();
          return { totals: await store.totals(), entries: (await store.entries(CASE)).map(({ n, state }) => [n, state]) };
        }"""
    )
    assert said["entries"] == [[0, "received"]]
    assert said["totals"]["lastContact"] != ""
    from desorb.service.cases import find_case, load

    gaps = [str(gap) for gap in load(server.store, find_case(server.store, case_id)).gaps]
    assert any(first in gap and "2" in gap and "6" in gap for gap in gaps)
    assert not any(second in gap for gap in gaps)


def test_a_copied_storage_takes_a_new_device_id(context: Any, empty_office: str) -> None:
    """A phone was put back from a copy: the office knows numbers of it that it does not know itself. None is used again."""
    page = new_page_of(context, empty_office)
    found = page.evaluate(
        """async () => {
          const store = await newStore();
          const first = await store.write(CASE, ...note("before"));
          await store.savePack({ ...PACK, highest_clock: 90, devices: { [first.device]: [5, "12".repeat(32)] } });
          const next = await store.write(CASE, ...note("after"));
          return { first, next, entries: (await store.entries(CASE)).length };
        }"""
    )
    assert found["next"]["device"] != found["first"]["device"]
    assert (found["next"]["n"], found["next"]["clock"], found["entries"]) == (0, 91, 2)


def test_what_an_office_put_back_from_a_copy_has_lost_is_sent_again(context: Any, empty_office: str) -> None:
    """The office had acknowledged two readings and a photo, then its disk was restored from yesterday."""
    page = new_page_of(context, empty_office)
    found = page.evaluate(
        """async () => {
          const store = await newStore();
          const { sha256 } = await store.keepPhoto(CASE, jpeg(5000));
          await store.writeAll(CASE, [note("one"), ["photo", { sha256 }]]);
          const sender = begin(store);
          await sender.sendNow();
          const before = await store.totals();
          await store.savePack({ ...PACK, devices: {}, photos_awaited: [sha256] });
          const again = await store.totals();
          await sender.sendNow();
          return { before, again, after: await store.totals() };
        }"""
    )
    counts = [(found[each]["entries"], found[each]["photos"]) for each in ("before", "again", "after")]
    assert counts == [(0, 0), (2, 1), (0, 0)]


def test_a_forgotten_case_goes_on_with_its_numbers(context: Any, empty_office: str) -> None:
    """Everything was received and the case put away. Fetched again next week, its numbers go on where they ended."""
    page = new_page_of(context, empty_office)
    found = page.evaluate(
        """async () => {
          const store = await newStore();
          await store.writeAll(CASE, [note("one"), note("two")]);
          await store.saveDraft(CASE, { words: "begun" });
          const sender = begin(store);
          const early = await store.forgetCase(CASE).catch((problem) => problem.message);
          await sender.sendNow();
          const draft = await store.forgetCase(CASE).catch((problem) => problem.message);
          await store.saveDraft(CASE, { forms: {}, aside: [], sweep: { scale: "A" } }); // only what carries over
          await store.forgetCase(CASE);
          const gone = [await store.draft(CASE), await store.pack(CASE),
            (await store.entries(CASE)).length, (await store.cases()).length];
          await store.savePack({ ...PACK, highest_clock: 60, devices: office.devices() });
          return { early, draft, gone, next: await store.write(CASE, ...note("three")) };
        }"""
    )
    assert "not been received" in found["early"]
    assert "is not saved" in found["draft"]
    assert found["gone"] == [None, None, 0, 0]
    assert (found["next"]["n"], found["next"]["clock"]) == (2, 61)


def test_a_pack_of_another_record_is_refused(context: Any, empty_office: str) -> None:
    """A stranger's pack with the same id, or something that is no pack, replaces nothing."""
    page = new_page_of(context, empty_office)
    refused = page.evaluate(
        """async () => {
          const store = await newStore();
          const bad = [{ ...PACK, opening_hash: "00".repeat(32) }, { ...PACK, schema: "other/1" }, {}, null];
          const words = [];
          for (const each of bad) words.push(await store.savePack(each).then(() => "kept", (problem) => problem.message));
          return [...words, (await store.pack(CASE)).opening_hash];
        }"""
    )
    assert "another case with the same id" in refused[0]
    assert all("no pack of a case" in words for words in refused[1:4])
    assert refused[4] == PACK["opening_hash"]


def test_a_draft_is_kept_for_each_window_and_taken_up_once(context: Any, empty_office: str) -> None:
    """FIELD 17: a window that died left its draft; another window that lives keeps its own; nothing is offered twice."""
    one, other = new_page_of(context, empty_office), new_page_of(context, empty_office)
    save = "async (words) => { window.store ??= await newStore(); await store.saveDraft(CASE, { words }); }"
    read = "async () => { window.store ??= await newStore(); return (await store.draft(CASE))?.words ?? null; }"
    one.evaluate(save, "of the first")
    assert other.evaluate(read) is None  # the first window lives
    other.evaluate(save, "of the second")
    one.close()
    assert other.evaluate(read) == "of the second"
    third = new_page_of(context, empty_office)
    third.wait_for_function("async () => { const s = await openStore(); return (await s.draft(CASE)) !== null; }")
    assert third.evaluate(read) == "of the first"
    third.evaluate(save, "of the first, gone on with")
    third.close()
    fourth = new_page_of(context, empty_office)
    fourth.wait_for_function(
        "async () => (await (await openStore()).draft(CASE))?.words === 'of the first, gone on with'"
    )
    assert fourth.evaluate(read) == "of the first, gone on with"
    fourth.evaluate("async () => store.dropDraft(CASE)")
    assert fourth.evaluate(read) is None
    other.evaluate("async () => store.dropDraft(CASE)")
    assert other.evaluate(read) is None
    assert fourth.evaluate("async (id) => store.draft(id)", CASE[::-1]) is None


def test_drafts_of_two_dead_windows_are_both_given(context: Any, empty_office: str) -> None:
    """The phone restarted with two windows open: what was typed in either is offered, and gone once it was dealt with."""
    for words in ("of one", "of the other"):
        page = new_page_of(context, empty_office)
        page.evaluate(
            "async (words) => { await (await newStore({ now: () => Date.now() })).saveDraft(CASE, { words }); }", words
        )
        page.close()
    page = new_page_of(context, empty_office)
    page.wait_for_function("async () => (await (window.store ??= await newStore()).drafts(CASE)).length === 2")
    found = page.evaluate(
        """async () => {
          const given = (await store.drafts(CASE)).map(({ words }) => words);
          await store.saveDraft(CASE, { words: "both" });
          const saved = (await store.drafts(CASE)).map(({ words }) => words);
          await store.dropDraft(CASE);
          return { given, saved, after: await store.drafts(CASE), fresh: (await (await newStore()).drafts(CASE)).length };
        }"""
    )
    assert found == {"given": ["of the other", "of one"], "saved": ["both"], "after": [], "fresh": 0}


def test_an_office_that_never_shows_what_it_took_is_not_asked_for_ever(context: Any, empty_office: str) -> None:
    """Its pack stays as it was although it says received: a few tries, then quiet. Nothing leaves the phone by that."""
    page = new_page_of(context, empty_office)
    found = page.evaluate(
        """async () => {
          office.devices = () => ({});
          const store = await newStore();
          await store.write(CASE, ...note("one"));
          const sender = begin(store);
          await pass(600000);
          return { posted: office.posted.length, left: timers.size, state: (await store.entries(CASE))[0].state };
        }"""
    )
    assert found == {"posted": 4, "left": 0, "state": "received"}
