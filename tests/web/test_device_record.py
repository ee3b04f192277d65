"""What the page seals is what the record is made of: the same bytes, the same hash, the same refusals.

Sources, named beside the check: [RFC8785] and [JCS-data] as in tests/unit/notebook/test_canonical.py, whose pairs are used.
The corpus is made by a generator with a fixed seed and given to both sides as JSON text.
"""

from __future__ import annotations

import json
import random
import sys
from pathlib import Path
from typing import Any

import pytest
from device_page import PACK, new_page_of, open_device

from desorb.core.kinds import Note
from desorb.errors import NotUnderstood
from desorb.notebook.chain import faults_of_chains
from desorb.notebook.clocks import doubtful_times
from desorb.notebook.entry import canonical, digest_of_payload, entry_of, fault_of, seal
from desorb.notebook.schema import payload_of

sys.path.insert(0, str(Path(__file__).parents[1] / "unit" / "notebook"))
from test_canonical import ARRAYS, FRENCH, STRUCTURES, UNICODE, VALUES, WEIRD

CORPUS = 3000
LARGEST = 2**53 - 1
LETTERS = [
    "a", "Z", "0", " ", '"', "\\", "/", "\n", "\r", "\t", "\b", "\f", "\x00", "\x1f", "\x7f", "\x80", "é", "e\u0301", "ﬀ", "€",
    "\u2028", "\u2029", "\ud7ff", "\ue000", "\uffff", "\ufb33", "\U0001f602", "\U00010000", "\U0010ffff", "م", "日", "<",
    "__proto__",
]  # fmt: skip


def text(rng: random.Random) -> str:
    return "".join(rng.choice(LETTERS) for _ in range(rng.randrange(8)))


def value(rng: random.Random, depth: int = 0) -> Any:
    kind = rng.randrange(4 if depth > 4 else 6)
    if kind == 0:
        return rng.choice([0, 1, -1, LARGEST, -LARGEST, rng.randrange(-(2**53) + 1, 2**53)])
    if kind == 1:
        return rng.random() < 0.5
    if kind < 4:
        return text(rng)
    if kind == 4:
        return [value(rng, depth + 1) for _ in range(rng.randrange(5))]
    return {text(rng): value(rng, depth + 1) for _ in range(rng.randrange(6))}


def illegal(rng: random.Random) -> str:
    """JSON text of a value that holds one thing that may not stand in a record."""
    bad = rng.choice([
        "null", "1.5", "-0.25", "1e-7", "9007199254740992", "-9007199254740992", "9007199254740993", "1e400",
        '"\\ud800"', '"\\udc00 after"', '"a\\udbff"', '{"\\ud83d":1}', "[" * 66 + "]" * 66, '{"a":' * 65 + "1" + "}" * 65,
    ])  # fmt: skip
    around = json.dumps(value(rng, 3))
    return rng.choice(["{0}", "[{1},{0}]", '{{"a":{1},"b":{0}}}', "[[{0}],{1}]"]).format(bad, around)


def refuses(given: str) -> bool:
    try:
        canonical(json.loads(given))
    except NotUnderstood:
        return True
    return False


def test_page_and_server_write_the_same_bytes(page: Any, empty_office: str) -> None:
    """A reading sealed on the phone must verify in the office, years later, whatever letters were typed."""
    open_device(page, empty_office)
    rng = random.Random(20260302)
    corpus = [value(rng) for _ in range(CORPUS)]
    published = [
        *FRENCH[:1],
        UNICODE[0],
        WEIRD[0],
        STRUCTURES[0].replace("56.0", "56"),
        ARRAYS[0].replace("null", "true"),
    ]
    corpus += [json.loads(each) for each in published] + [json.loads(VALUES[0])["string"]]
    corpus += [json.loads("[" * 65 + "]" * 65), json.loads('{"a":' * 64 + "1" + "}" * 64)]  # as deep as it may be
    ours = [canonical(each).decode() for each in corpus]
    texts = [json.dumps(each) for each in corpus]
    theirs = page.evaluate("(texts) => texts.map((text) => canonical(JSON.parse(text)))", texts)
    assert theirs == ours
    assert FRENCH[1] in theirs
    assert WEIRD[1] in theirs
    salts = [f"{rng.getrandbits(128):032x}" for _ in corpus]
    digests = page.evaluate(
        "([salts, texts]) => Promise.all(texts.map((text, at) => digestOfPayload(salts[at], text)))", [salts, ours]
    )
    assert digests == [digest_of_payload(salt, each) for salt, each in zip(salts, ours, strict=True)]


def test_page_and_server_refuse_the_same(page: Any, empty_office: str) -> None:
    """A number with a decimal mark, half a character, a number too large: refused where it is typed, and in the office."""
    open_device(page, empty_office)
    rng = random.Random(53)
    corpus = [illegal(rng) for _ in range(600)]
    assert all(refuses(each) for each in corpus)
    accepted = page.evaluate(
        """(texts) => texts.filter((text) => {
          try { canonical(JSON.parse(text)); return true; } catch (problem) { return problem.name !== "Refusal"; }
        })""",
        corpus,
    )
    assert accepted == []
    odd = "undefined|10n|NaN|-Infinity|new Date(0)|[,1]|() => 1|new Map()|Symbol.iterator|{a: undefined}"
    for each in odd.split("|"):
        refused = page.evaluate(
            f"() => {{ try {{ return canonical({each}); }} catch (problem) {{ return problem.name; }} }}"
        )
        assert refused == "Refusal", each
    assert page.evaluate("() => [canonical(-0), canonical([])]") == ["0", "[]"]


def test_both_sides_seal_the_same_envelope(page: Any, empty_office: str) -> None:
    """Given the same facts, page and server make one and the same entry: the hash on the printed page is of both."""
    open_device(page, empty_office)
    rng = random.Random(7)
    facts = [
        {
            "device": f"{rng.getrandbits(32):08x}", "n": rng.randrange(10**6), "clock": rng.randrange(1, 2**48),
            "prev": f"{rng.getrandbits(256):064x}", "kind": rng.choice(["reading", "note", text(rng)]),
            "claimed_at": "2026-03-02T09:00:00+00:00", "monotonic": -rng.randrange(10**13),
            "payload": {text(rng): value(rng, 2) for _ in range(4)}, "salt": f"{rng.getrandbits(128):032x}",
        }
        for _ in range(300)
    ]  # fmt: skip
    ours = [seal(case=PACK["case"]["id"], **each) for each in facts]
    theirs = page.evaluate(
        """(facts) => Promise.all(facts.map((text) => JSON.parse(text)).map(({ claimed_at: claimedAt, ...rest }) =>
          seal({ caseId: window.CASE, claimedAt, ...rest })))""",
        [json.dumps(each) for each in facts],
    )
    for our, their in zip(ours, theirs, strict=True):
        assert (our.envelope_text, our.payload_text, our.hash) == (
            their["envelope"],
            their["payload_text"],
            their["hash"],
        )


def test_entries_of_the_page_are_taken_into_the_record(page: Any, server: Any, case_id: str) -> None:
    """Twenty entries made in the cellar without signal: each holds together, follows the one before, and is accepted."""
    pack = page.request.get(f"{server.address}/api/cases/{case_id}/pack").json()
    open_device(page, server.address, pack)
    payload = payload_of(Note(words="behind the bath", at="2026-03-02T09:00:00+00:00", by="A. Surveyor"))
    rows = page.evaluate(
        """async (payload) => {
          const store = await newStore();
          for (let at = 0; at < 10; at += 1) await store.write(window.CASE, "note", { ...payload, key: `site:${at}` });
          await store.writeAll(window.CASE, Array.from({ length: 10 }, (_, at) => ["note", { ...payload,
            key: `site:all-${at}` }]));
          const { entries } = JSON.parse(await (await store.fileOfUnsent()).text());
          return entries;
        }""",
        payload,
    )
    entries = [entry_of(row["envelope"], row["salt"], row["payload"]) for row in rows]
    assert [fault_of(entry) for entry in entries] == [""] * 20
    assert [entry.n for entry in entries] == list(range(20))
    assert [entry.clock for entry in entries] == [pack["highest_clock"] + 1 + at for at in range(20)]
    arrival = server.store.receive(entries)
    assert (len(arrival.accepted), arrival.set_aside) == (20, [])
    assert faults_of_chains(server.store.entries(case_id)) == []


def test_a_pause_is_not_taken_for_a_moved_clock(browser: Any, empty_office: str) -> None:
    """The phone lay in a pocket for an hour, and two windows wrote by turns: no one set its clock, and none is accused."""
    context = browser.new_context()
    one, other = new_page_of(context, empty_office), new_page_of(context, empty_office)
    write = "async () => { window.store ??= await newStore(); await store.writeAll(CASE, [note('a'), note('b')]); }"
    later = "(minutes) => { window.time += minutes * 60000; }"
    for turn in range(3):
        for each in (one, other):
            each.evaluate(later, 20 * turn)
            each.evaluate(write)
    one.evaluate(write)
    one.evaluate(later, 600)
    one.evaluate("() => store.pause()")  # what page_lifetime.js does when the page was hidden
    one.evaluate(write)
    rows = one.evaluate("async () => JSON.parse(await (await store.fileOfUnsent()).text()).entries")
    entries = [entry_of(row["envelope"], row["salt"], row["payload"]) for row in rows]
    assert [entry.n for entry in entries] == list(range(16))
    assert doubtful_times(entries, {}) == []
    one.evaluate(later, 600)
    one.evaluate(write)  # no pause: someone set the clock while the page was in use
    rows = one.evaluate("async () => JSON.parse(await (await store.fileOfUnsent()).text()).entries")
    doubtful = doubtful_times([entry_of(row["envelope"], row["salt"], row["payload"]) for row in rows], {})
    assert [name.split("/")[1] for name, _ in doubtful] == ["16"]
    context.close()


@pytest.mark.parametrize("zone", ["Europe/London", "Asia/Kathmandu", "America/St_Johns"])
def test_the_claimed_time_carries_the_offset_of_the_device(browser: Any, empty_office: str, zone: str) -> None:
    """The office reads when it was on site, and how far that was from its own time."""
    from datetime import datetime
    from zoneinfo import ZoneInfo

    context = browser.new_context(timezone_id=zone)
    page = new_page_of(context, empty_office)
    moments = [1772442000000, 1782900000000, 1774746000000]
    written = page.evaluate("(moments) => moments.map(claimedAt)", moments)
    wanted = [datetime.fromtimestamp(moment / 1000, ZoneInfo(zone)).isoformat() for moment in moments]
    assert written == wanted
    context.close()
