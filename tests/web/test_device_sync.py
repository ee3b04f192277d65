"""Sending from the phone: nothing lost, nothing sent twice, nothing that holds up the rest, and no timer without work.

The office here is a stub that can be told to fail (device_page.HARNESS); time and timers are false, so that half an hour
passes in a moment. The last tests send to a true server.
"""

from __future__ import annotations

from typing import Any

import pytest
from device_page import new_page_of, open_device

RUNS = 200  # of two windows sending at once
SCHEDULES = 12


@pytest.fixture
def device(page: Any, empty_office: str) -> Any:
    open_device(page, empty_office)
    return page


def test_the_queue_goes_on_by_itself_when_the_office_comes_back(device: Any) -> None:
    """D4, FIELD 21: no background sync in this browser, the office away for half an hour: within 60 s after it is all sent."""
    found = device.evaluate(
        """async () => {
          delete window.SyncManager;
          office.answers = "down";
          const store = await newStore();
          const sender = begin(store);
          await store.writeAll(CASE, [note("one"), note("two")]);
          const { sha256 } = await store.keepPhoto(CASE, jpeg(4000));
          await store.write(CASE, "photo", { sha256 });
          await pass(30 * 60000);
          const down = { ...(await store.totals()), tries: office.asked.length, words: sender.state().words,
            states: (await store.entries(CASE)).map((entry) => entry.state) };
          office.answers = "well";
          await pass(60000);
          const back = { ...(await store.totals()), states: (await store.entries(CASE)).map((entry) => entry.state),
            photo: (await store.photos(CASE))[0].state };
          return { down, back, left: timers.size };
        }"""
    )
    assert (found["down"]["entries"], found["down"]["photos"]) == (3, 1)
    assert found["down"]["states"] == ["here"] * 3
    assert 60 <= found["down"]["tries"] <= 70  # at least every 30 s, and no storm
    assert "No contact" in found["down"]["words"]
    assert (found["back"]["entries"], found["back"]["photos"], found["back"]["photo"]) == (0, 0, "received")
    assert found["back"]["states"] == ["received"] * 3
    assert found["left"] == 0


@pytest.mark.parametrize(
    "way", ["portal", "silent", "500", "json of another", "403", "200 without results", "cut short"]
)
def test_what_is_no_answer_of_the_office_is_no_success(device: Any, way: str) -> None:
    """FIELD 21: a hotel's sign-in page answers 200, a line drops in the middle, a gateway speaks: everything stays here."""
    found = device.evaluate(
        """async (way) => {
          const odd = {
            "json of another": () => json({ ok: true }),
            "403": () => json({ error: "NotAllowed", what: "this device is not paired", got: "", wanted: "",
              next: "pair it" }, 403),
            "200 without results": () => json({ results: [], waiting: [], highest_clock: 3, server_time: "" }),
            "cut short": () => new Response('{"results": [', { headers: { "content-type": "application/json" } }),
          };
          office.answers = odd[way] ?? way;
          const store = await newStore();
          const sender = begin(store);
          const { sha256 } = await store.keepPhoto(CASE, jpeg(4000));
          await store.writeAll(CASE, [note("one"), ["photo", { sha256 }]]);
          await pass(120000);
          const during = { states: (await store.entries(CASE)).map((entry) => entry.state),
            totals: await store.totals(), words: sender.state().words, contact: await store.meta("lastContact") };
          office.answers = "well";
          await pass(60000);
          return { during, after: await store.totals(), photos: office.photos.size, entries: office.entries.size };
        }""",
        way,
    )
    assert set(found["during"]["states"]) <= {"here", "sending"}
    assert found["during"]["totals"]["entries"] == 2
    assert found["during"].get("contact") is None
    assert found["during"]["words"] or way == "silent"
    assert (found["after"]["entries"], found["after"]["photos"], found["photos"], found["entries"]) == (0, 0, 1, 2)


def test_one_bad_entry_is_set_aside_and_the_rest_goes(device: Any) -> None:
    """FIELD 21: the office fails on one entry of thirty, every time. The others are received, and this one says why."""
    found = device.evaluate(
        """async () => {
          const store = await newStore();
          const entries = await store.writeAll(CASE, Array.from({ length: 30 }, (_, at) => note(`n${at}`)));
          office.bad = ({ envelope }) => JSON.parse(envelope).n === 7;
          const sender = begin(store);
          await sender.sendNow();
          const first = (await store.entries(CASE)).map(({ state }) => state);
          await pass(180000);
          const later = await store.entries(CASE);
          const quiet = office.asked.length;
          await pass(600000);
          const still = office.asked.length - quiet;
          const totals = await store.totals();
          const file = JSON.parse(await (await store.fileOfUnsent()).text()).entries.length;
          office.bad = () => false;
          await sender.sendNow();
          return { first, state: later[7].state, reason: later[7].reason, still, totals, file,
            end: await store.totals(), waits: timers.size };
        }"""
    )
    assert found["first"].count("received") == 29
    assert (found["first"][7], found["state"], found["still"]) == ("here", "refused", 0)
    assert "failed on this 3 times" in found["reason"]
    assert (found["totals"]["entries"], found["file"]) == (1, 1)  # it is with nobody: counted, and in the file
    assert (found["end"]["entries"], found["waits"]) == (0, 0)


def test_an_entry_that_the_office_will_not_read_is_set_aside_at_once(device: Any) -> None:
    """422 on one entry: found by sending smaller parts, refused with the words of the office, never dropped."""
    found = device.evaluate(
        """async () => {
          const store = await newStore();
          await store.writeAll(CASE, Array.from({ length: 12 }, (_, at) => note(`n${at}`)));
          office.answers = (address, { body, method }) => (method === "POST" && JSON.parse(body).entries.some(({
            envelope }) => JSON.parse(envelope).n === 4)
            ? json({ error: "NotUnderstood", what: "the request cannot be used", got: "", wanted: "another form",
              next: "" }, 422) : "well");
          const sender = begin(store);
          await sender.sendNow();
          const entries = await store.entries(CASE);
          return { states: entries.map(({ state }) => state), reason: entries[4].reason, totals: await store.totals(),
            waits: timers.size,
            forgotten: await store.forgetCase(CASE).catch((problem) => problem.message) };
        }"""
    )
    assert [at for at, state in enumerate(found["states"]) if state != "received"] == [4]
    assert found["states"][4] == "refused"
    assert "another form" in found["reason"]
    assert (found["totals"]["entries"], found["totals"]["refused"], found["waits"]) == (1, 1, 0)
    assert "not been received" in found["forgotten"]


def test_an_entry_that_the_office_set_aside_says_why(device: Any) -> None:
    """The office has it, aside, with its reason: shown here as refused, not counted as unsent, not sent again."""
    found = device.evaluate(
        """async () => {
          const store = await newStore();
          await store.writeAll(CASE, [note("one"), note("two")]);
          office.verdict = ({ n }) => (n === 0 ? { state: "refused", reason: "the same number with other content" } : null);
          const sender = begin(store);
          await sender.sendNow();
          await pass(300000);
          return { entries: (await store.entries(CASE)).map(({ state, reason }) => [state, reason]),
            totals: await store.totals(), posted: office.posted.length };
        }"""
    )
    assert found["entries"] == [["refused", "the same number with other content"], ["received", ""]]
    assert (found["totals"]["entries"], found["posted"]) == (0, 2)


def test_nothing_unsent_means_no_timer(device: Any) -> None:
    """FIELD 30: ten idle minutes cost no wake-up and no request."""
    found = device.evaluate(
        """async () => {
          const store = await newStore();
          let set = 0;
          const counting = (...given) => { set += 1; return setTimer(...given); };
          const sender = begin(store, counting);
          await store.write(CASE, ...note("one"));
          await sender.sendNow();
          await pass(5000);
          const [asked, before] = [office.asked.length, set];
          await pass(600000);
          return { timers: set - before, asked: office.asked.length - asked, left: timers.size,
            words: sender.state().words };
        }"""
    )
    assert found == {"timers": 0, "asked": 0, "left": 0, "words": ""}


def test_the_page_seen_again_and_the_network_back_send_at_once(device: Any) -> None:
    """D4: looking at the phone again, or the network coming back, is enough; nobody waits for the timer."""
    found = device.evaluate(
        """async () => {
          const store = await newStore();
          office.answers = "down";
          const sender = begin(store);
          const sent = [];
          for (const [target, name] of [[window, "online"], [document, "visibilitychange"], [window, "pageshow"]]) {
            await store.write(CASE, ...note(name));
            await pass(100000);
            office.answers = "well";
            target.dispatchEvent(new Event(name));
            await settle();
            await sender.settled();
            sent.push((await store.totals()).entries);
            office.answers = "down";
          }
          return sent;
        }"""
    )
    assert found == [0, 0, 0]


def test_two_windows_send_nothing_twice(browser: Any, empty_office: str) -> None:
    """D9: two windows open on one phone, many times over: every entry is posted once."""
    context = browser.new_context()
    one, other = new_page_of(context, empty_office), new_page_of(context, empty_office)
    begin = "async () => { window.store = await newStore(); window.sender = begin(store); await sender.sendNow(); }"
    for each in (one, other):
        each.evaluate(begin)
    other.evaluate(
        """() => {
          window.watching = new BroadcastChannel("test");
          watching.onmessage = ({ data }) => (data % 2 ? sender.sendNow() : dispatchEvent(new Event("online")));
        }"""
    )
    posted = one.evaluate(
        """async (runs) => {
          const channel = new BroadcastChannel("test");
          for (let run = 0; run < runs; run += 1) {
            await store.writeAll(CASE, [note("a"), note("b")]);
            channel.postMessage(run);
            if (run % 3) await sender.sendNow();
            else dispatchEvent(new Event("online"));
          }
          await sender.sendNow();
          return office.posted;
        }""",
        RUNS,
    )
    posted += other.evaluate("async () => { await sender.sendNow(); return office.posted; }")
    assert one.evaluate("async () => (await store.totals()).entries") == 0
    assert len(posted) == len(set(posted)) == 2 * RUNS
    assert len(other.evaluate("() => office.posted")) > 0  # both windows took part
    context.close()


def test_a_pack_fetched_after_sending_takes_nothing_away(device: Any) -> None:
    """After sending, the case is fetched anew; what was written here meanwhile still stands beside it."""
    found = device.evaluate(
        """async () => {
          const store = await newStore();
          await store.writeAll(CASE, [note("one"), note("two")]);
          const sender = begin(store);
          const plain = office.fetch;
          office.fetch = async (address, options) => {
            const answer = await plain(address, options);
            if (options.method === "GET" && !office.once) { office.once = true; await store.write(CASE,
              ...note("three")); await store.saveDraft(CASE, { words: "begun" }); }
            return answer;
          };
          await sender.settled();
          return { beyond: (await store.beyondPack(CASE)).map(({ n }) => n), entries: (await store.entries(CASE)).length,
            draft: await store.draft(CASE), clock: (await store.pack(CASE)).highest_clock };
        }"""
    )
    assert found == {"beyond": [2], "entries": 3, "draft": {"words": "begun"}, "clock": 42}


def run_schedules(device: Any, schedules: int) -> list[Any]:
    device.evaluate("async () => { window.store = await newStore(); window.sender = begin(store); }")
    schedule = """async (seed) => {
      let state = seed;
      const got = (request) => new Promise((done) => { request.onsuccess = () => done(request.result); });
      const next = (limit) => { state = (state * 1103515245 + 12345) % 2147483648; return state % limit; };
      for (let step = 0; step < 10; step += 1) {
        const what = next(5);
        if (what === 0) await store.write(CASE, ...note("x"));
        else if (what === 1) {
          const { sha256 } = await store.keepPhoto(CASE, jpeg(100 + next(50), next(65536)));
          if (next(2)) await store.write(CASE, "photo", { sha256 });
        } else if (what === 2) office.answers = ["well", "down", "portal", "500"][next(4)];
        else if (what === 3) await sender.sendNow();
        else await pass(next(20000));
        const raw = await store.database.run(["entries", "photos"], "readonly", async ({ entries,
          photos }) => [await got(entries.getAll()), await got(photos.getAll())]);
        const wanted = [raw[0].filter((row) => !office.entries.has(row.hash)).length,
          raw[1].filter((row) => row.named && !office.photos.has(row.sha256)).length];
        const { entries, photos } = await store.totals();
        if (entries < wanted[0] || photos < wanted[1]) return { step, wanted, entries, photos };
          // never fewer than what is with nobody
        await settle();
        if (sender.state().isSending) continue;
        const again = await store.totals();
        if (again.entries !== raw[0].filter((row) => !office.entries.has(row.hash)).length) return { step, again };
      }
      return null;
    }"""
    return [device.evaluate(schedule, seed) for seed in range(1, schedules + 1)]


def test_totals_are_those_of_the_database(device: Any) -> None:
    """FIELD 19: whatever happens, the numbers in the header are what really waits."""
    assert run_schedules(device, SCHEDULES) == [None] * SCHEDULES


@pytest.mark.soak
def test_totals_are_those_of_the_database_in_a_thousand_schedules(device: Any) -> None:
    """FIELD 19, the long run."""
    assert run_schedules(device, 1000) == [None] * 1000


def test_true_round_trip(page: Any, server: Any, case_id: str) -> None:
    """From the phone to the record: readings and a photo are in the store of the office, byte for byte, and come back."""
    import hashlib

    pack = page.request.get(f"{server.address}/api/cases/{case_id}/pack").json()
    open_device(page, server.address, pack)
    found = page.evaluate(
        """async () => {
          const store = await newStore();
          const { sha256, size } = await store.keepPhoto(CASE, jpeg(300000, 5));
          const at = "2026-03-02T09:00:00+00:00";
          await store.writeAll(CASE, [
            ["note", { words: "behind the bath", at, by: "A. Surveyor", key: "site:0123456789abcdef", source: "" }],
            ["photo", { sha256, media_type: "image/jpeg", size, words: "wall", taken_at: at, spot: "", zone: "",
              direction: "", visit: "", by: "" }],
          ]);
          const sender = startSending(store, { now, setTimer });
          await sender.sendNow();
          return { sha256, entries: await store.entries(CASE), photos: await store.photos(CASE),
            totals: await store.totals(),
            clock: (await store.pack(CASE)).highest_clock, beyond: (await store.beyondPack(CASE)).length };
        }"""
    )
    assert [entry["state"] for entry in found["entries"]] == ["received", "received"]
    assert all(entry["received_at"] for entry in found["entries"])
    assert (found["photos"][0]["state"], found["totals"]["entries"], found["totals"]["photos"]) == ("received", 0, 0)
    assert found["clock"] == found["entries"][-1]["clock"]
    assert found["beyond"] == 0
    kept = server.store.attachment(found["sha256"])
    assert hashlib.sha256(kept).hexdigest() == found["sha256"]
    held = {entry.hash for entry in server.store.entries(case_id)}
    assert {entry["hash"] for entry in found["entries"]} <= held
