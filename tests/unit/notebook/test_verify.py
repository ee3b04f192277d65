"""What verify says of sound records, of damaged ones, and of what is no fault; and that the two verifiers agree."""

from __future__ import annotations

import ast
import json
import random
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from bag_cases import (
    AT,
    NOW,
    PDF,
    PHOTO,
    SOFTWARE,
    TAKEN,
    TWIN,
    MemoryBag,
    bagged,
    clock,
    contents_of,
    fill,
    note,
    of_device,
    photo,
    rebagged,
    rechained,
    without_payload,
    write,
)

from desorb.core import kinds
from desorb.notebook import attachments, bag_form, bag_verifier
from desorb.notebook.bag import export_bag
from desorb.notebook.bag_reading import content_of
from desorb.notebook.chain import Receipt, sealed_receipt
from desorb.notebook.entry import Entry, canonical, digest_of_payload, entry_of, seal
from desorb.notebook.store import DATABASE_NAME, Draft, Store
from desorb.notebook.verify import Verification, record_of_bag, verification_of, verify_bag, verify_home, verify_store

Contents = dict[str, bytes]
PHOTO_SHA, TAKEN_SHA, PDF_SHA, TWIN_SHA = (bag_form.Seen.of(each).sha256 for each in (PHOTO, TAKEN, PDF, TWIN))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "store", now=clock()) as opened:
        yield opened


@pytest.fixture
def case(store: Store) -> str:
    return fill(store, 10)


def exported(store: Store, case: str, folder: Path) -> Contents:
    return contents_of(export_bag(store, case, folder, extra_files={"csv/a.csv": b"a\n"}, now=NOW, software=SOFTWARE))


def in_memory(contents: Mapping[str, bytes], heads: list[str] | None = None) -> Verification:
    return verification_of(record_of_bag(content_of(MemoryBag(contents))), heads or [])


def original_of(contents: Mapping[str, bytes]) -> Contents:
    return {
        name: each for name, each in contents.items() if name.startswith(("data/photos", "data/files", "data/report"))
    }


# -- sound records ---------------------------------------------------------------------------------------------------


def test_a_sound_record(store: Store, case: str, tmp_path: Path) -> None:
    exported(store, case, tmp_path / "bag")
    found = [verify_store(store, case), verify_bag(tmp_path / "bag")]
    store.close()
    found.append(verify_home(store.home, case))
    for each in found:
        assert each.ok
        assert each.case == case
        assert each.notes == ("no printed head was given: whoever keeps this record could have written it anew",)
        assert each.counts == {
            "entries": 10, "receipts": 10, "set aside": 0, "removed": 0, "photos": 1, "files": 1, "report files": 1,
            "reports": 1,
        }  # fmt: skip
        assert [n for n, _ in each.heads.values()] == [9]
        assert each.evidence_beyond == 9


def test_notes_are_no_faults(store: Store, case: str, tmp_path: Path) -> None:
    chain, fork = of_device(store, case, "beef0001", 5), of_device(store, case, "beef0001", 5, first=60)
    store.receive([*chain[:2], chain[3], fork[0]])
    strike, removal = kinds.Strike("f" * 64, "w", "B", AT), kinds.Removal("e" * 64, "privacy", "court", "B", AT)
    store.append(case, [Draft(each, AT) for each in (strike, removal, photo(b"awaited"))])
    known = store.entries(case)
    unknown = seal(
        case=case, device="beef0002", n=0, prev=known[0].hash, clock=known[-1].clock + 1, kind="poem", claimed_at=AT,
        monotonic=0, payload={"words": "of a later version"},
    )  # fmt: skip
    originals = original_of(exported(store, case, tmp_path / "bag"))
    receipts = [*store.receipts(case), sealed_receipt(case, "another", 0, NOW, unknown.hash, "")]
    contents = bagged([*known, unknown], receipts, originals, store.set_aside(case))
    contents = rebagged({**contents, "verify.py": b"# an older one\n", "data/other.txt": b"x"})
    found = in_memory(contents)
    assert found.ok, found.faults
    for words in (
        "device beef0001: 2 has not arrived",
        "entry beef0001/0 was set aside: another entry",
        f"the strike {store.device}/10 waits",
        f"the removal {store.device}/11 waits",
        f"of entry {store.device}/12 is not here: it is awaited",
        "not understood by this version: entry beef0002/0 (poem)",
        "verify.py is not the one of this version",
        "data/other.txt is not part of a case",
        "no printed head was given",
    ):
        assert any(words in each for each in found.notes), (words, found.notes)
    assert bag_verifier.check(str(write(tmp_path / "again", contents)), []).faults == []
    (missing,) = verify_store(store, case).faults  # what this store wrote itself was here once
    assert f"of entry {store.device}/12 is missing: this store wrote its entry" in missing


def test_an_original_that_no_entry_names_is_noted(store: Store, case: str, tmp_path: Path) -> None:
    contents = exported(store, case, tmp_path / "bag")
    sha256 = bag_form.Seen.of(b"smuggled").sha256
    found = in_memory(rebagged({**contents, f"data/photos/{sha256}.jpg": b"smuggled"}))
    assert found.ok
    assert f"data/photos/{sha256}.jpg is named by no entry" in found.notes


def test_a_removal_that_was_not_carried_out_is_noted(store: Store, case: str, tmp_path: Path) -> None:
    contents = exported(store, case, tmp_path / "bag")
    entries = store.entries(case)
    removal = seal(
        case=case, device=store.device, n=10, prev=entries[-1].hash, clock=11, kind="removal", claimed_at=AT, monotonic=0,
        payload={"target": entries[4].hash, "why": "w", "authority": "a", "by": "b", "at": AT, "rested": []},
    )  # fmt: skip
    receipts = store.receipts(case)
    receipts.append(sealed_receipt(case, receipts[0].store, 10, NOW, removal.hash, receipts[-1].hash))
    whole = in_memory(bagged([*entries, removal], receipts, original_of(contents)))
    assert whole.ok
    assert any("was to be removed by entry" in each and "still here" in each for each in whole.notes)
    less = [without_payload(entry) if entry.hash == entries[4].hash else entry for entry in entries]
    assert in_memory(bagged([*less, removal], receipts, original_of(contents))).ok


# -- faults of bags, with manifests made anew: what only our own check sees ----------------------------------------------


def test_originals(store: Store, case: str, tmp_path: Path) -> None:
    contents = exported(store, case, tmp_path / "bag")
    names = {
        "photo": f"data/photos/{PHOTO_SHA}.jpg", "file taken": f"data/files/{TAKEN_SHA}.csv",
        "report": f"data/report/{PDF_SHA}.pdf", "report as data": f"data/report/{TWIN_SHA}.json",
    }  # fmt: skip
    for words, name in names.items():
        for spoiled in (contents[name][:-1], contents[name] + b"x", b"", b"x" + contents[name][1:], TAKEN + PDF):
            bag = rebagged({**contents, name: spoiled})
            found = in_memory(bag)
            assert any(name in fault for fault in found.faults)
            assert any(
                fault.startswith(f"the {words} ") and f"of entry {store.device}/" in fault for fault in found.faults
            )
            (tmp_path / "each").mkdir()
            assert bag_verifier.check(str(write(tmp_path / "each", bag)), []).faults
            shutil.rmtree(tmp_path / "each")
    swapped = {**contents, names["photo"]: TAKEN, names["file taken"]: PHOTO}
    assert len(in_memory(rebagged(swapped)).faults) >= 4
    twice = {**contents, names["photo"].replace(".jpg", ".png"): PHOTO}
    assert any("twice under two endings" in fault for fault in in_memory(rebagged(twice)).faults)
    gone = {name: content for name, content in contents.items() if name != names["photo"]}
    assert in_memory(gone).faults
    assert any("photo" in each and "awaited" in each for each in in_memory(rebagged(gone)).notes)


def test_a_photo_of_another_size_than_its_entry_says(store: Store, case: str, tmp_path: Path) -> None:
    store.append(case, [Draft(replace(photo(), size=7), AT)])
    found = verify_store(store, case)
    assert [fault for fault in found.faults if f"has {len(PHOTO)} bytes; its entry says 7" in fault]
    exported(store, case, tmp_path / "bag")
    assert bag_verifier.check(str(tmp_path / "bag"), []).faults == [
        f"photos/{PHOTO_SHA[:12]} of entry {store.device}/10 has {len(PHOTO)} bytes; its entry says 7"
    ]


def lines(content: bytes) -> list[Any]:
    return [json.loads(line) for line in content.splitlines()]


def joined(rows: list[Any]) -> bytes:
    return b"".join(canonical(row) + b"\n" for row in rows)


RECORD_EDITS: dict[str, tuple[str, Callable[[list[Any]], Any], str]] = {
    "an entry is taken away": ("entries", lambda rows: rows.pop(5), "the entry it names is not here"),
    "the last entry is taken away": ("entries", lambda rows: rows.pop(), "the entry it names is not here"),
    "an entry stands twice": ("entries", lambda rows: rows.insert(6, rows[5]), "stands twice"),
    "entries are swapped": ("entries", lambda rows: rows.insert(3, rows.pop(5)), "does not stand in its order"),
    "a claimed time is edited": ("entries", lambda rows: rows[5].update(claimed_at="2026-01-01"), "/6: it does not follow"),
    "a device is edited": ("entries", lambda rows: rows[5].update(device="beef0009"), "has no receipt"),
    "another case": ("entries", lambda rows: rows[5].update(case="0" * 32), "more than one case"),
    "the opening is edited": ("entries", lambda rows: rows[0].update(prev="0" * 64), "opens the case is not here"),
    "a schema that is not known": ("entries", lambda rows: rows[5].update(schema="desorb/9"), "not known to this version"),
    "an algorithm that is not known": ("entries", lambda rows: rows[5].update(algorithm="md5"), "not known to this version"),
    "a part too many": ("entries", lambda rows: rows[5].update(more="x"), "line 6 cannot be taken"),
    "a part too few": ("entries", lambda rows: rows[5].pop("monotonic"), "line 6 cannot be taken"),
    "a number as text": ("entries", lambda rows: rows[5].update(n="5"), "line 6 cannot be taken"),
    "a value is edited": ("payloads", lambda rows: rows[4]["payload"].update(values=["99"]), "does not match its digest"),
    "a salt is edited": ("payloads", lambda rows: rows[4].update(salt="0" * 32), "does not match its digest"),
    "a salt in capitals": ("payloads", lambda rows: rows[4].update(salt=rows[4]["salt"].upper() + "A"), "32 hexadecimal"),
    "payloads are swapped": (
        "payloads",
        lambda rows: (rows[4].update(entry=rows[5]["entry"]), rows[5].update(entry=rows[3]["entry"])),
        "stands twice",
    ),
    "a payload is taken away": ("payloads", lambda rows: rows.pop(4), "its payload is missing, and no removal"),
    "the payload of the opening is taken away": ("payloads", lambda rows: rows.pop(0), "its payload is missing"),
    "a payload of no entry": ("payloads", lambda rows: rows[4].update(entry="0" * 64), "belongs to no entry"),
    "a receipt is taken away": ("receipts", lambda rows: rows.pop(4), "receipt 4 is missing"),
    "the last receipt is taken away": ("receipts", lambda rows: rows.pop(), "has no receipt"),
    "all receipts are taken away": ("receipts", lambda rows: rows.clear(), "has no receipt"),
    "a receipt stands twice": ("receipts", lambda rows: rows.insert(4, rows[4]), "do not stand in their order"),
    "an arrival is dated back": ("receipts", lambda rows: rows[4].update(at="2020-01-01T00:00:00.000Z"), "match its hash"),
    "an arrival has no time": ("receipts", lambda rows: rows[4].update(at="0"), "its time is not in UTC"),
    "a receipt names another entry": ("receipts", lambda rows: rows[4].update(entry="0" * 64), "match its hash"),
    "a receipt of another case": ("receipts", lambda rows: rows[4].update(case="0" * 32), "of another case"),
    "receipts are swapped": ("receipts", lambda rows: rows.insert(2, rows.pop(4)), "do not stand in their order"),
    "something odd is set aside": ("set-aside", lambda rows: rows.append({"hash": "x"}), "other parts than it should"),
}  # fmt: skip


@pytest.mark.parametrize("edit", RECORD_EDITS)
def test_the_record_edited_and_bagged_again(
    edit: str, tmp_path_factory: pytest.TempPathFactory, plain: Contents
) -> None:
    where, change, words = RECORD_EDITS[edit]
    name = next(name for name in plain if name.startswith(f"data/{where}"))
    rows = lines(plain[name])
    change(rows)
    bag = rebagged({**plain, name: joined(rows)})
    found = in_memory(bag)
    assert any(words in fault for fault in found.faults), found.faults
    assert bag_verifier.check(str(write(tmp_path_factory.mktemp("edit"), bag)), []).faults


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Contents:
    home = tmp_path_factory.mktemp("plain")
    with Store(home / "store", now=clock()) as store:
        return exported(store, fill(store, 10), home / "bag")


@pytest.mark.parametrize("name", ["heads.json", "data/entries.jsonl", "data/receipts.jsonl", "data/set-aside.jsonl"])
def test_a_file_of_the_record_is_missing(name: str, plain: Contents, tmp_path: Path) -> None:
    bag = rebagged({each: content for each, content in plain.items() if each != name})
    assert not in_memory(bag).ok
    assert bag_verifier.check(str(write(tmp_path, bag)), []).faults


@pytest.mark.parametrize(
    "name", ["data/entries.jsonl", "data/receipts.jsonl", "data/payloads/", "data/set-aside.jsonl"]
)
def test_a_line_that_says_the_same_in_another_form(name: str, store: Store, case: str, tmp_path: Path) -> None:
    """Digests are made of canonical texts; a bag with other texts would not be the one that was exported."""
    chain, fork = of_device(store, case, "beef0001", 1), of_device(store, case, "beef0001", 1, first=60)
    store.receive([*chain, *fork])
    contents = exported(store, case, tmp_path / "bag")
    name = next(each for each in sorted(contents) if each.startswith(name))
    for number, (old, new) in enumerate(
        [(b'":', b'": '), (b'"case"', b'"c\\u0061se"'), (b"}\n", b"}\r\n"), (b"}\n", b"} \n")]
    ):
        if old in contents[name]:
            bag = rebagged({**contents, name: contents[name].replace(old, new, 1)})
            found = in_memory(bag)
            assert any("not in canonical form" in fault for fault in found.faults), found.faults
            assert bag_verifier.check(str(write(tmp_path / f"again-{number}", bag)), []).faults


def test_two_entries_with_one_number(store: Store, case: str, tmp_path: Path) -> None:
    """Also with number 0, where both follow the opening: a store would never take both, a bag might bring them."""
    contents = exported(store, case, tmp_path / "bag")
    for device, number in (("beef0001", 0), (store.device, 5)):
        entries, receipts = store.entries(case), store.receipts(case)
        chain = [entry for entry in entries if entry.device == device]
        twins = []
        for first in (0, 50):
            twin = of_device(store, case, "beef0001", 1, first=first)[0]
            if chain:
                envelope = json.loads(chain[number].envelope_text)
                twin = seal(
                    case=case, device=device, n=number, prev=envelope["prev"], clock=envelope["clock"], kind="note",
                    claimed_at=AT, monotonic=0, payload={"words": "x", "at": AT, "by": "", "key": "", "source": ""},
                )  # fmt: skip
            twins.append(twin)
        for twin in twins:
            receipts.append(sealed_receipt(case, receipts[0].store, len(receipts), NOW, twin.hash, receipts[-1].hash))
        bag = bagged([*entries, *twins], receipts, original_of(contents))
        assert any("another entry has the same number" in fault for fault in in_memory(bag).faults)
        assert bag_verifier.check(str(write(tmp_path / device, bag)), []).faults


@pytest.mark.parametrize(("prev", "clock"), [("0" * 64, 6), ("", 6), (None, 5), (None, 1)])
def test_a_chain_cut_in_two(prev: str | None, clock: int, store: Store, case: str, tmp_path: Path) -> None:
    """One entry follows nothing, or its clock stands still; all after it follow it, and all else is made anew."""
    originals = original_of(exported(store, case, tmp_path / "bag"))
    entries, receipts = store.entries(case), store.receipts(case)
    made: list[Entry] = []
    again: list[Receipt] = []
    for entry, old in zip(entries, receipts, strict=True):
        before = made[-1].hash if made else ""
        there = entry.n == 5
        fresh = seal(
            case=case, device=entry.device, n=entry.n, prev=prev if there and prev is not None else before,
            clock=clock if there else entry.clock, kind=entry.kind, claimed_at=AT, monotonic=0, payload=entry.payload(),
        )  # fmt: skip
        made.append(fresh)
        again.append(sealed_receipt(case, old.store, old.arrival, old.at, fresh.hash, again[-1].hash if again else ""))
    bag = bagged(made, again, originals)
    found = in_memory(bag)
    assert any("/5: it" in fault for fault in found.faults), found.faults
    theirs = bag_verifier.check(str(write(tmp_path / "again", bag)), []).faults
    assert any("/5: it does not follow" in fault for fault in theirs), theirs


def test_two_openings(store: Store, case: str, tmp_path: Path) -> None:
    contents = exported(store, case, tmp_path / "bag")
    entries, receipts = store.entries(case), store.receipts(case)
    other = seal(
        case=case, device="beef0001", n=0, prev="", clock=1, kind="case-opened", claimed_at=AT, monotonic=0,
        payload=entries[0].payload(),
    )  # fmt: skip
    receipts.append(sealed_receipt(case, receipts[0].store, 10, NOW, other.hash, receipts[-1].hash))
    bag = bagged([*entries, other], receipts, original_of(contents))
    assert any("does not follow the entry that opens the case" in fault for fault in in_memory(bag).faults)
    assert bag_verifier.check(str(write(tmp_path / "two", bag)), []).faults


def test_no_byte_moves_from_payload_to_salt(store: Store, case: str, tmp_path: Path) -> None:
    """digest = SHA-256(salt, payload): were salts of any length, a payload could lose its beginning to the salt."""
    contents = exported(store, case, tmp_path / "bag")
    entries = store.entries(case)
    inner = '{"at":"x","by":"","key":"","source":"","words":"only this"}'
    text = '{"a":' + inner + "}"
    salt = "00" * 16
    longer = salt + text[: text.index(inner)].encode().hex()
    assert digest_of_payload(salt, text) == digest_of_payload(longer, inner + "}")
    moved = replace(entries[-1], salt=longer, payload_text=inner)
    envelope = {**json.loads(moved.envelope_text), "payload_digest": digest_of_payload(longer, inner)}
    made = entry_of(canonical(envelope).decode(), longer, inner)
    receipts = store.receipts(case)
    receipts[-1] = sealed_receipt(case, receipts[0].store, 9, receipts[-1].at, made.hash, receipts[-2].hash)
    bag = bagged([*entries[:-1], made], receipts, original_of(contents))
    assert in_memory(bag).faults == (f"entry {made.name}: the salt is not 32 hexadecimal digits",)
    assert bag_verifier.check(str(write(tmp_path / "moved", bag)), []).faults == list(in_memory(bag).faults)


@pytest.mark.parametrize("number", [0, 7, 8, 9])
def test_no_removal_covers_an_opening_a_strike_a_report_or_a_removal(
    number: int, plain: Contents, tmp_path: Path
) -> None:
    with Store(tmp_path / "store", now=clock()) as store:
        case = fill(store, 9)
        store.append(case, [Draft(kinds.Removal("e" * 64, "privacy", "court", "B", AT), AT)])
        entries, receipts = store.entries(case), store.receipts(case)
        assert [entries[each].kind for each in (0, 7, 8, 9)] == ["case-opened", "strike", "report-issued", "removal"]
        originals = original_of(exported(store, case, tmp_path / "bag"))
    removal = seal(
        case=case, device=entries[0].device, n=10, prev=entries[9].hash, clock=11, kind="removal", claimed_at=AT,
        monotonic=0, payload={**entries[9].payload(), "target": entries[number].hash},
    )  # fmt: skip
    receipts.append(sealed_receipt(case, receipts[0].store, 10, NOW, removal.hash, receipts[-1].hash))
    entries[number] = without_payload(entries[number])
    bag = bagged([*entries, removal], receipts, originals)
    assert any(f"/{number}: its payload is missing" in fault for fault in in_memory(bag).faults)
    assert bag_verifier.check(str(write(tmp_path / "again", bag)), []).faults


# -- faults of stores ---------------------------------------------------------------------------------------------------

STORE_EDITS = {
    "a payload": ("UPDATE payload SET body = replace(body, '12.50', '19.50')", "does not match its digest"),
    "a salt": ("UPDATE payload SET salt = upper(salt)", "the salt is not 32 hexadecimal digits"),
    "a salt lost": ("UPDATE payload SET salt = X'00'", "cannot be read"),
    "an envelope": ("UPDATE entry SET envelope = replace(envelope, '10:00', '11:00') WHERE n = 5", "does not match its hash"),
    "an envelope lost": ("UPDATE entry SET envelope = '' WHERE n = 5", "/5 cannot be read"),
    "an envelope as bytes": ("UPDATE entry SET envelope = X'FFFE' WHERE n = 5", "/5 cannot be read"),
    "a column n": ("UPDATE entry SET n = 77 WHERE n = 5", "stands in the wrong place"),
    "a column kind": ("UPDATE entry SET kind = 'note' WHERE n = 5", "stands in the wrong place"),
    "a column clock": ("UPDATE entry SET clock = 99 WHERE n = 5", "stands in the wrong place"),
    "an entry": ("DELETE FROM entry WHERE n = 5", "the entry it names is not here"),
    "an entry in another case": ("UPDATE entry SET case_id = 'x' WHERE n = 5", "the entry it names is not here"),
    "all entries": ("DELETE FROM entry", "there is no entry of this case"),
    "a payload taken away": ("DELETE FROM payload WHERE rowid = 5", "its payload is missing"),
    "a receipt": ("DELETE FROM receipt WHERE arrival = 5", "receipt 5 is missing"),
    "the last receipt": ("DELETE FROM receipt WHERE arrival = 9", "has no receipt"),
    "a receipt dated back": ("UPDATE receipt SET at = '2020' WHERE arrival = 5", "does not match its hash"),
    "a receipt as number": ("UPDATE receipt SET at = 2020 WHERE arrival = 5", "does not match its hash"),
    "a receipt as bytes": ("UPDATE receipt SET at = X'00' WHERE arrival = 5", "a receipt cannot be read"),
    "the store's own name": ("UPDATE about SET value = 'another' WHERE key = 'store'", "has no receipt of this store"),
    "the version": ("UPDATE about SET value = '9' WHERE key = 'version'", "another version"),
    "the store's names": ("DELETE FROM about", "version"),
    "something set aside": ("UPDATE set_aside SET n = 6", "does not match its envelope"),
    "a time set aside": ("UPDATE set_aside SET at = 'noon'", "its time is not in UTC"),
    "an index": ("DELETE FROM sqlite_master WHERE name = 'entry_of_case'", "the file of the store is damaged"),
    "a table": ("DROP TABLE payload", "could not be read"),
}  # fmt: skip


@pytest.mark.parametrize("edit", STORE_EDITS)
def test_the_store_edited_behind_its_back(edit: str, tmp_path: Path) -> None:
    statement, words = STORE_EDITS[edit]
    with Store(tmp_path, now=clock()) as store:
        case = fill(store, 10)
        chain, fork = of_device(store, case, "beef0001", 1), of_device(store, case, "beef0001", 1, first=60)
        store.receive([*chain, *fork])
        assert len(store.set_aside(case)) == 1
    assert verify_home(tmp_path, case).ok
    connection = sqlite3.connect(tmp_path / DATABASE_NAME)
    for (trigger,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        connection.execute(f"DROP TRIGGER {trigger}")
    connection.execute("PRAGMA writable_schema = ON")
    assert connection.execute(statement).rowcount != 0
    connection.commit()
    connection.close()
    found = verify_home(tmp_path, case)
    assert any(words in fault for fault in found.faults), found.faults


def test_a_store_is_read_as_of_one_moment(
    store: Store, case: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another process writes between the reading of the entries and that of their receipts."""
    rows = store.rows
    with Store(store.home, now=clock(9000)) as another:

        def and_then_another_writes(case: str) -> list[Any]:
            found = rows(case)
            another.append(case, [Draft(note(1), AT)])
            return found

        monkeypatch.setattr(store, "rows", and_then_another_writes)
        assert verify_store(store, case).ok
        assert verify_bag(export_bag(store, case, tmp_path / "bag", now=NOW)).ok
        assert len(another.entries(case)) == 12


def test_originals_of_a_store(store: Store, case: str) -> None:
    for sha256, words in (
        (PHOTO_SHA, "photo"),
        (TAKEN_SHA, "file taken"),
        (PDF_SHA, "report"),
        (TWIN_SHA, "report as data"),
    ):
        path = attachments.path_of(store.home, sha256)
        whole = path.read_bytes()
        path.write_bytes(whole[:-1] + b"!")
        assert any(fault.startswith(f"the {words} {sha256[:12]}") for fault in verify_store(store, case).faults)
        path.unlink()
        missing = [fault for fault in verify_store(store, case).faults if "is missing: this store wrote" in fault]
        assert [f"the {words} {sha256[:12]}" in fault for fault in missing] == (
            [] if words == "report as data" else [True]
        )
        path.mkdir()
        assert any("cannot be read" in fault for fault in verify_store(store, case).faults)
        path.rmdir()
        path.write_bytes(whole)
    assert verify_store(store, case).ok


def test_a_store_that_cannot_be_opened_gives_a_sentence(tmp_path: Path) -> None:
    with Store(tmp_path / "store", now=clock()) as store:
        case = fill(store, 10)
    assert verify_home(tmp_path / "nowhere", case).faults == ("there is no store in this folder",)
    assert not (tmp_path / "nowhere").exists()
    assert verify_home(tmp_path / "store", "no such case").faults[0] == "there is no entry of this case"
    whole = (tmp_path / "store" / DATABASE_NAME).read_bytes()
    (tmp_path / "damaged").mkdir()
    for content in (b"not a database at all", b"\x00" * 8192, whole[:100], whole[:4096], whole[: len(whole) // 2]):
        for file in (tmp_path / "damaged").glob(f"{DATABASE_NAME}*"):
            file.unlink()
        (tmp_path / "damaged" / DATABASE_NAME).write_bytes(content)
        found = verify_home(tmp_path / "damaged", case)
        assert found.faults, len(content)


def test_a_store_that_stopped_gives_a_sentence(store: Store, case: str) -> None:
    store.close()
    found = verify_store(store, case)
    assert not found.ok
    assert "could not be read" in found.faults[0]


def test_a_folder_that_is_no_bag_gives_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").write_bytes(b"x")
    for name in ("empty", "nowhere", "file"):
        found = verify_bag(tmp_path / name, ["0" * 64])
        assert found.faults
        assert not any("Traceback" in fault for fault in found.faults)


# -- the verifier that travels in the bag ----------------------------------------------------------------------------


def test_the_travelling_verifier_stands_alone() -> None:
    source = Path(bag_verifier.__file__).read_text(encoding="utf-8")
    tree = ast.parse(source, feature_version=(3, 9))
    imported = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    imported |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert imported <= sys.stdlib_module_names
    assert len(source.splitlines()) <= 300


def run(folder: Path, *arguments: str) -> tuple[int, str]:
    command = [sys.executable, "-I", "-S", "-B", "verify.py", *arguments]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.stderr == ""
    return done.returncode, done.stdout


def test_it_runs_in_the_bag_with_python_alone(plain: Contents, tmp_path: Path) -> None:
    folder = write(tmp_path / "bag", plain)
    head = json.loads(plain["heads.json"])["heads"][0]["hash"]
    code, said = run(folder)
    assert code == 0
    assert "10 entries" in said
    assert "does not prove" in said
    assert "no head was given" in said
    code, said = run(folder, "--head", head)
    assert code == 0
    assert "is entry" in said
    assert run(folder, "--head", "0" * 64)[0] == 5
    assert verify_bag(folder).ok  # running it left nothing behind
    (folder / "data" / "receipts.jsonl").write_bytes(b"\x1b[31m not a receipt\n")
    code, said = run(folder)
    assert code == 5
    assert "FAULT: manifest-sha256.txt does not fit the files: data/receipts.jsonl" in said
    assert "\x1b" not in said
    elsewhere = write(tmp_path / "elsewhere", plain)
    assert bag_verifier.main([str(elsewhere)]) == 0
    assert bag_verifier.main([str(tmp_path / "nowhere")]) == 5


CANONICAL = [
    {}, {"b": 1, "a": [True, False, "x", -5, []]}, {"\u20ac": "", "\r": "", "\ufb33": "", "1": "", "\U0001f600": "", "\x80": ""},
    {"t": '"\\/\b\f\n\r\t\x00\x1f\x7f\u2028 é e\u0301'}, {"n": 2**53 - 1}, {"\ue000": 1, "\U00010000": 2},
]  # fmt: skip


@pytest.mark.parametrize("value", CANONICAL)
def test_its_canonical_form_is_ours(value: dict[str, Any]) -> None:
    assert bag_verifier.canonical(value).encode() == canonical(value)


@pytest.mark.parametrize(
    "text",
    ['{"a":1.0}', '{"a":1e2}', '{"a":null}', '{"a":NaN}', '{"a":1,"a":2}', '{"b":1,"a":2}', '{"a": 1}', '{"a":-0}',
     '{"a":9007199254740992}', '{"a":"\\u0041"}', '{"a":"\\ud800"}', "[]", "1", "", '{"a":1}x', "\ufeff{}"],
)  # fmt: skip
def test_it_refuses_what_is_not_canonical(text: str) -> None:
    with pytest.raises(bag_verifier.Wrong):
        bag_verifier.parse(text.encode(), dict.fromkeys(["a"], int))


# -- agreement ---------------------------------------------------------------------------------------------------------


def clean_bag(home: Path, seed: int) -> Contents:
    """A small bag that verifies, each with something else in it."""
    with Store(home / "store", now=clock()) as store:
        case = fill(store, 6 + seed % 5)
        if seed % 2:
            chain, fork = of_device(store, case, "beef0001", 4), of_device(store, case, "beef0001", 4, first=60)
            store.receive([*chain[: 1 + seed % 3], *chain[3:], *fork[: seed % 3]])
        if seed % 3 == 0:
            target = store.entries(case)[1 + seed % 4]
            store.append(case, [Draft(kinds.Removal(target.hash, "privacy", "court", "B", AT), AT)])
        if seed % 5 == 0:
            store.append(case, [Draft(photo(b"awaited"), AT), Draft(kinds.Strike("f" * 64, "w", "B", AT), AT)])
        if seed % 7 == 0:
            store.append(case, [Draft(note(seed), AT)])
        return exported(store, case, home / "bag")


def tampered(contents: Contents, chance: random.Random) -> Contents:
    """One change of some kind. Some change nothing that matters: then both have to say so."""
    bag = dict(contents)
    name = chance.choice([name for name in sorted(bag) if bag[name]])
    other = chance.choice(sorted(bag))
    again = chance.random() < 0.5
    way = chance.randrange(9)
    if way == 0:
        content = bytearray(bag[name])
        content[chance.randrange(len(content))] ^= 1 << chance.randrange(8)
        bag[name] = bytes(content)
    elif way == 1:
        rows = bag[name].splitlines(keepends=True)
        rows.insert(chance.randrange(len(rows)), rows.pop(chance.randrange(len(rows))))
        bag[name] = b"".join(rows)
    elif way == 2:
        rows = bag[name].splitlines(keepends=True)
        rows.pop(chance.randrange(len(rows)))
        bag[name] = b"".join(rows)
    elif way == 3:
        del bag[name]
    elif way == 4:
        bag[name], bag[other] = bag[other], bag[name]
    elif way == 5:
        bag[chance.choice(["data/extra.txt", "extra.txt", "data/csv/b.csv", "fetch.txt", "manifest-md5.txt"])] = b""
    elif way == 6:
        bag["data/" + chance.choice(["photos", "files"]) + f"/{PHOTO_SHA}.{chance.choice(['jpg', 'png'])}"] = PHOTO
    elif way == 7:
        bag["bag-info.txt"] = bag["bag-info.txt"].replace(b"Payload-Oxum: ", b"Payload-Oxum: 1")
        again = False
    else:
        rows = bag["data/receipts.jsonl"].splitlines(keepends=True)
        bag["data/receipts.jsonl"] = b"".join(rows[: chance.randrange(len(rows))])
    if again and {"bag-info.txt", "bagit.txt"} <= bag.keys():
        bag = rebagged(bag)
    return bag


def test_the_two_verifiers_agree(tmp_path: Path) -> None:
    """20 clean bags and 200 tampered ones, with and without heads."""
    chance = random.Random(2026)
    clean = [clean_bag(tmp_path / f"clean-{seed}", seed) for seed in range(20)]
    agreed = {True: 0, False: 0}
    for number in range(220):
        contents = clean[number] if number < 20 else tampered(clean[number % 20], chance)
        folder = write(tmp_path / str(number), contents)
        heads = [head["hash"] for head in json.loads(clean[number % 20]["heads.json"])["heads"]]
        for given in ([], heads[:1], ["0" * 64]):
            ours, theirs = verify_bag(folder, given), bag_verifier.check(str(folder), given)
            assert ours.ok == (not theirs.faults), (number, given, ours.faults, theirs.faults)
            if number < 20 and given != ["0" * 64]:
                gap = any("printed head" in fault for fault in ours.faults)
                assert ours.ok or gap, ours.faults
        agreed[verify_bag(folder).ok] += 1
    print(f"220 bags: both say sound of {agreed[True]}, both say damaged of {agreed[False]}")
    assert agreed[True] >= 20
    assert agreed[False] >= 150


def test_a_record_made_anew_by_an_insider_is_sound_to_both_without_a_head(
    store: Store, case: str, tmp_path: Path
) -> None:
    """The negative control of both: without a head from outside nobody sees it."""
    contents = exported(store, case, tmp_path / "bag")
    entries = store.entries(case)
    edited = rechained(entries, {entries[3].hash: lambda payload: {**payload, "values": ["99.9"]}})
    receipts: list[Receipt] = []
    for old, entry in zip(store.receipts(case), edited, strict=True):
        receipts.append(
            sealed_receipt(case, old.store, old.arrival, old.at, entry.hash, receipts[-1].hash if receipts else "")
        )
    bag = bagged(edited, receipts, original_of(contents))
    folder = write(tmp_path / "anew", bag)
    assert verify_bag(folder).ok
    assert bag_verifier.check(str(folder), []).faults == []
    heads = [entry.hash for entry in entries[3:]]
    for head in heads:
        assert not verify_bag(folder, [head]).ok
        assert bag_verifier.check(str(folder), [head]).faults
