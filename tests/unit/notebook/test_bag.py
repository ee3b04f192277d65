"""A case leaves as a bag and comes back to the same case; what was lawfully removed does not."""

from __future__ import annotations

import io
import json
import os
import re
import struct
import subprocess
import sys
import threading
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

import pytest
from bag_cases import (
    AT,
    NOW,
    PDF,
    PHOTO,
    SOFTWARE,
    TAKEN,
    TWIN,
    clock,
    contents_of,
    fill,
    note,
    of_device,
    photo,
    reading,
    rebagged,
    write,
)

from desorb.core import kinds
from desorb.errors import DesorbError, NotFound, NotUnderstood, RecordDamaged, Refused, StoreUnavailable
from desorb.notebook import attachments, bag, bag_form, bag_reading, bag_verifier
from desorb.notebook.bag import export_bag, import_bag, read_bag
from desorb.notebook.chain import first_receipts
from desorb.notebook.entry import canonical, seal
from desorb.notebook.fold import fold
from desorb.notebook.store import Draft, Store, set_aside_numbers
from desorb.notebook.verify import verify_bag, verify_home, verify_store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "store", now=clock()) as opened:
        yield opened


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "other", now=clock(5 * 3600)) as opened:
        yield opened


def full_case(store: Store) -> str:
    """A case with all that a record can hold: two devices, a gap, something set aside, a waiting strike."""
    case = fill(store, 14)
    chain, fork = of_device(store, case, "beef0001", 6), of_device(store, case, "beef0001", 6, first=50)
    store.receive([*chain[:3], chain[4], chain[5], fork[1]])
    store.append(case, [Draft(kinds.Strike("f" * 64, "never arrived", "B", AT), AT)])
    return case


def remove(store: Store, case: str, target: str) -> None:
    store.append(case, [Draft(kinds.Removal(target, "privacy", "court order 1", "B", AT), AT)])


def snapshot(store: Store, case: str) -> dict[str, bytes]:
    return bag.record_files(store.entries(case), store.receipts(case), store.set_aside(case))


def files_below(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*")}


# -- what a bag holds --------------------------------------------------------------------------------------------


def test_a_bag_holds_what_the_record_says(store: Store, tmp_path: Path) -> None:
    case = full_case(store)
    extra = {"csv/readings.csv": b"spot,value\n", "json/case.json": b"{}\n"}
    folder = export_bag(store, case, tmp_path / "bag", extra_files=extra, now=NOW, software=SOFTWARE)
    contents = contents_of(folder)
    digest = bag_form.Seen.of
    assert set(contents) == {
        "README.txt", "bag-info.txt", "bagit.txt", "data/csv/readings.csv", "data/entries.jsonl",
        f"data/files/{digest(TAKEN).sha256}.csv", "data/json/case.json", "data/payloads/beef0001.jsonl",
        f"data/payloads/{store.device}.jsonl", f"data/photos/{digest(PHOTO).sha256}.jpg", "data/receipts.jsonl",
        f"data/report/{digest(PDF).sha256}.pdf", f"data/report/{digest(TWIN).sha256}.json", "data/set-aside.jsonl",
        "heads.json", "manifest-sha256.txt", "process.txt", "tagmanifest-sha256.txt", "verify.py",
    }  # fmt: skip
    entries = store.entries(case)
    assert contents["data/entries.jsonl"].decode().splitlines() == [entry.envelope_text for entry in entries]
    for line in contents["data/receipts.jsonl"].splitlines():
        assert canonical(json.loads(line)) == line
    assert contents["data/csv/readings.csv"] == b"spot,value\n"
    assert contents[f"data/photos/{digest(PHOTO).sha256}.jpg"] == PHOTO
    heads = json.loads(contents["heads.json"])
    assert heads["entries"] == len(entries)
    assert {(head["device"], head["hash"]) for head in heads["heads"]} == {
        (device, hashed) for device, (_, hashed) in fold(entries).heads.items()
    }
    payload = [content for name, content in contents.items() if name.startswith("data/")]
    information = contents["bag-info.txt"].decode()
    assert f"Payload-Oxum: {sum(map(len, payload))}.{len(payload)}\n" in information
    assert f"Bag-Software-Agent: {SOFTWARE}\n" in information
    assert "Bagging-Date: 2026-03-02\n" in information
    assert "python3 verify.py" in contents["README.txt"].decode()
    assert "not prove" in contents["README.txt"].decode().lower()
    assert all(hashed in contents["process.txt"].decode() for _, hashed in fold(entries).heads.values())


def test_payloads_survive_to_the_byte(store: Store, other: Store, tmp_path: Path) -> None:
    case = full_case(store)
    odd = [
        '"quoted"',
        "back\\slash",
        "tab\t, line\n, bell\x07, delete\x7f",
        "° ≥ \u2028 \U0001f4a7",
        "12,50",
        "é e\u0301",
    ]
    written = store.append(case, [Draft(kinds.Note(words, AT), AT) for words in odd])
    folder = export_bag(store, case, tmp_path / "bag", now=NOW)
    import_bag(other, folder)
    there = {entry.hash: entry for entry in other.entries(case)}
    for entry in written:
        assert there[entry.hash].payload_text == entry.payload_text
        assert there[entry.hash].salt == entry.salt
        assert entry.payload_text is not None
        assert entry.payload_text.encode() in (folder / f"data/payloads/{store.device}.jsonl").read_bytes()


def test_the_same_store_and_the_same_now_give_the_same_bytes(store: Store, other: Store, tmp_path: Path) -> None:
    case = full_case(store)
    first = contents_of(export_bag(store, case, tmp_path / "a", now=NOW, software=SOFTWARE))
    assert contents_of(export_bag(store, case, tmp_path / "b", now=NOW, software=SOFTWARE)) == first
    assert contents_of(export_bag(store, case, tmp_path / "c", now="2026-03-03", software=SOFTWARE)) != first
    import_bag(other, tmp_path / "a")
    for name, content in contents_of(export_bag(other, case, tmp_path / "d", now=NOW, software=SOFTWARE)).items():
        if name in first and name.startswith("data/") and "receipts" not in name:
            assert content == first[name]


def test_neither_hash_seed_nor_time_zone_nor_locale_shows(store: Store, tmp_path: Path) -> None:
    case = full_case(store)
    first = contents_of(export_bag(store, case, tmp_path / "first", now=NOW, software=SOFTWARE))
    store.close()
    script = (
        "import sys; from pathlib import Path; from desorb.notebook.store import Store;"
        "from desorb.notebook.bag import export_bag;"
        "export_bag(Store(Path(sys.argv[1])), sys.argv[2], Path(sys.argv[3]), now=sys.argv[4], software=sys.argv[5])"
    )
    for seed, zone, locale in (("0", "Asia/Tokyo", "C"), ("7", "America/Lima", "tr_TR.UTF-8")):
        target = tmp_path / f"again-{seed}"
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": locale}
        command = [sys.executable, "-c", script, str(store.home), case, str(target), NOW, SOFTWARE]
        subprocess.run(command, env=environment, check=True)
        assert contents_of(target) == first


@pytest.mark.parametrize(
    "device", ["../../../x", "CON", "com1", "A", "a/b", "ü" * 40, "x" * 300, "", "device-1", "a\nb\x1b[31m"]
)
def test_a_device_may_have_any_name(store: Store, other: Store, tmp_path: Path, device: str) -> None:
    case = fill(store, 8)
    store.receive([*of_device(store, case, device, 2), *of_device(store, case, device.swapcase() + "b", 2)])
    folder = export_bag(store, case, tmp_path / "bag", now=NOW)
    names = [path.name for path in (folder / "data/payloads").iterdir()]
    assert all(re.fullmatch(r"(device-)?[0-9a-z]{4,64}\.jsonl", name) for name in names)
    import_bag(other, folder)
    assert [entry.hash for entry in other.entries(case)] == [entry.hash for entry in store.entries(case)]
    found = verify_bag(folder, ["0" * 64])
    assert all(sentence.isprintable() for sentence in (*found.faults, *found.notes))


def test_a_case_may_have_any_name_and_still_stands_on_one_line(store: Store, tmp_path: Path) -> None:
    case = fill(store, 6)
    entries, receipts = store.entries(case), store.receipts(case)
    tags = bag.tag_texts("x\nPayload-Oxum: 9.9", entries, receipts, {}, now=NOW, software=SOFTWARE)
    assert tags["bag-info.txt"].count(b"\n") == 4
    assert b'Case:      "x\\nPayload' in tags["process.txt"]


@pytest.mark.parametrize(
    ("media_type", "ending"), [("image/jpeg", "jpg"), ("image/png", "png"), ("../../x", "bin"), ("", "bin")]
)
def test_an_original_is_named_by_its_digest_alone(store: Store, tmp_path: Path, media_type: str, ending: str) -> None:
    case = fill(store, 6)
    picture = photo(b"another picture", media_type)
    store.attach(b"another picture")
    store.append(case, [Draft(picture, AT), Draft(photo(b"another picture", "image/tiff"), AT)])
    folder = export_bag(store, case, tmp_path / "bag", now=NOW)
    assert (folder / f"data/photos/{picture.sha256}.{ending}").read_bytes() == b"another picture"
    assert len(list((folder / "data/photos").iterdir())) == 2
    assert verify_bag(folder).ok


def test_a_photo_named_by_something_that_is_no_digest_reads_no_file(store: Store, other: Store, tmp_path: Path) -> None:
    (tmp_path / "secret").write_bytes(b"secret")
    case = fill(store, 6)
    store.append(case, [Draft(kinds.Photo("../../../secret", "image/png", 6, "", AT), AT)])
    folder = export_bag(store, case, tmp_path / "bag", now=NOW)
    assert b"secret" not in contents_of(folder).values()
    assert verify_store(store, case).ok
    import_bag(other, folder)
    with pytest.raises(NotUnderstood):
        attachments.path_of(store.home, "../../../secret")


# -- writing -----------------------------------------------------------------------------------------------------


def test_a_bag_goes_into_a_new_or_empty_folder_only(store: Store, tmp_path: Path) -> None:
    case = fill(store, 6)
    (tmp_path / "empty").mkdir()
    assert verify_bag(export_bag(store, case, tmp_path / "empty", now=NOW)).ok
    assert verify_bag(export_bag(store, case, tmp_path / "new" / "deep", now=NOW)).ok
    (tmp_path / "a file").write_bytes(b"")
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    for taken in ("empty", "a file", "link"):
        before = files_below(tmp_path)
        with pytest.raises(Refused):
            export_bag(store, case, tmp_path / taken, now=NOW)
        assert files_below(tmp_path) == before


def test_a_bag_that_cannot_be_finished_leaves_nothing(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = fill(store, 6)
    whole = bag._write
    for stop in range(1, 17):
        calls = iter(range(1, 100))

        def failing(folder: Path, name: str, content: bytes, calls: object = calls, stop: int = stop) -> bag_form.Seen:
            if next(calls) == stop:  # type: ignore[call-overload]
                raise OSError(28, "No space left on device")
            return whole(folder, name, content)

        monkeypatch.setattr(bag, "_write", failing)
        with pytest.raises(StoreUnavailable, match="No space left"):
            export_bag(store, case, tmp_path / "out" / "bag", now=NOW)
        assert list((tmp_path / "out").iterdir()) == []


@pytest.mark.parametrize(
    "name",
    ["readings.csv", "csv/../../x", "/csv/x.csv", "csv/a/b.csv", "csv/.x", "csv/x", "txt/x.txt", "csv/a b.csv", ""],
)
def test_an_extra_file_has_a_plain_name(store: Store, tmp_path: Path, name: str) -> None:
    case = fill(store, 6)
    with pytest.raises(NotUnderstood):
        export_bag(store, case, tmp_path / "bag", extra_files={name: b""}, now=NOW)
    assert not (tmp_path / "bag").exists()


def test_what_cannot_be_exported_is_told(store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    case = fill(store, 6)
    target = tmp_path / "bag"
    with pytest.raises(NotFound):
        export_bag(store, "no such case", target, now=NOW)
    for now, software in (("yesterday", SOFTWARE), (NOW, "two\nlines"), (NOW, "")):
        with pytest.raises(NotUnderstood):
            export_bag(store, case, target, now=now, software=software)
    with pytest.raises(NotUnderstood):
        export_bag(store, case, target, extra_files={"csv/a.csv": b"", "csv/A.csv": b""}, now=NOW)
    for limit, value in (("MOST_BYTES", 30_000), ("MOST_FILES", 20)):
        with monkeypatch.context() as patched:
            patched.setattr(bag_form, limit, value)
            with pytest.raises(Refused, match="larger than desorb takes back"):
                export_bag(store, case, target, now=NOW)
    attachments.path_of(store.home, bag_form.Seen.of(PHOTO).sha256).write_bytes(PHOTO[:-1])
    with pytest.raises(RecordDamaged, match="photo"):
        export_bag(store, case, target, now=NOW)
    assert files_below(tmp_path) & {"bag"} == set()


def test_a_bag_made_while_others_write_is_of_one_moment(store: Store, tmp_path: Path) -> None:
    case = fill(store, 6)
    stop = threading.Event()

    def write_on() -> None:
        number = 0
        while not stop.is_set():
            store.append(case, [Draft(note(number), AT)])
            number += 1

    writer = threading.Thread(target=write_on)
    writer.start()
    try:
        for number in range(6):
            assert verify_store(store, case).ok
            assert verify_bag(export_bag(store, case, tmp_path / str(number), now=NOW)).ok
    finally:
        stop.set()
        writer.join()


# -- coming back -------------------------------------------------------------------------------------------------


def test_a_case_comes_back_the_same(store: Store, other: Store, tmp_path: Path) -> None:
    case = full_case(store)
    folder = export_bag(store, case, tmp_path / "bag", now=NOW)
    arrival = import_bag(other, folder)
    assert len(arrival.accepted) == len(store.entries(case))
    assert arrival.set_aside == []
    here, there = set_aside_numbers(store, case), set_aside_numbers(other, case)
    assert here == there
    assert fold(other.entries(case), there) == fold(store.entries(case), here)
    assert other.set_aside(case) == store.set_aside(case) != []
    assert first_receipts(other.receipts(case)) == first_receipts(store.receipts(case))
    for sha256 in (bag_form.Seen.of(content).sha256 for content in (PHOTO, TAKEN, PDF, TWIN)):
        assert other.attachment(sha256) == store.attachment(sha256) is not None
    assert verify_store(other, case).ok


def test_a_second_time_adds_nothing(store: Store, other: Store, tmp_path: Path) -> None:
    case = full_case(store)
    folder = export_bag(store, case, tmp_path / "bag", now=NOW)
    import_bag(other, folder)
    once = snapshot(other, case)
    originals = files_below(attachments.folder(other.home))
    again = import_bag(other, folder)
    assert again.accepted == []
    assert again.set_aside == []
    assert len(again.known) == len(store.entries(case))
    assert snapshot(other, case) == once
    assert files_below(attachments.folder(other.home)) == originals
    mine = snapshot(store, case)
    assert import_bag(store, folder).accepted == []
    assert snapshot(store, case) == mine


def test_bags_of_two_stores_unite_in_any_order(store: Store, other: Store, tmp_path: Path) -> None:
    case = full_case(store)
    import_bag(other, export_bag(store, case, tmp_path / "first", now=NOW))
    store.append(case, [Draft(note(1), AT)])
    other.append(case, [Draft(reading(77), AT)])
    bags = [
        export_bag(store, case, tmp_path / "here", now=NOW),
        export_bag(other, case, tmp_path / "there", now=NOW),
    ]
    united = []
    for number, order in enumerate(([0, 1], [1, 0], [1, 0, 1])):
        with Store(tmp_path / f"united-{number}", now=clock(8 * 3600)) as third:
            for index in order:
                import_bag(third, bags[index])
            assert verify_store(third, case).ok
            united.append((fold(third.entries(case)), first_receipts(third.receipts(case))))
    assert united[0] == united[1] == united[2]
    assert united[0][0].entry_count == len(store.entries(case)) + 1


def test_a_fork_is_set_aside_on_import_and_the_store_still_verifies(store: Store, tmp_path: Path) -> None:
    case = fill(store, 8)
    with Store(tmp_path / "left", now=clock()) as left, Store(tmp_path / "right", now=clock()) as right:
        for side, first in ((left, 0), (right, 90)):
            import_bag(side, export_bag(store, case, tmp_path / f"base-{first}", now=NOW))
            side.receive(of_device(side, case, "beef0001", 2, first=first))
        forked = import_bag(left, export_bag(right, case, tmp_path / "right-bag", now=NOW))
        assert [reason for _, reason in forked.set_aside if "another entry" in reason]
        assert verify_store(left, case).ok
        assert verify_bag(export_bag(left, case, tmp_path / "left-bag", now=NOW)).ok


def test_a_bag_that_does_not_verify_is_refused_with_its_faults(store: Store, other: Store, tmp_path: Path) -> None:
    case = full_case(store)
    folder = export_bag(store, case, tmp_path / "bag", now=NOW)
    path = folder / "data" / "photos" / f"{bag_form.Seen.of(PHOTO).sha256}.jpg"
    path.write_bytes(PHOTO[:-1] + b"x")
    with pytest.raises(RecordDamaged) as refused:
        import_bag(other, folder)
    assert path.name in refused.value.got
    assert other.cases() == []
    assert files_below(attachments.folder(other.home)) == set()


def test_a_payload_that_is_missing_without_a_removal_is_refused(store: Store, other: Store, tmp_path: Path) -> None:
    case = fill(store, 8)
    contents = contents_of(export_bag(store, case, tmp_path / "bag", now=NOW))
    name = f"data/payloads/{store.device}.jsonl"
    lines = contents[name].splitlines(keepends=True)
    folder = write(tmp_path / "less", rebagged({**contents, name: b"".join(lines[:3] + lines[4:])}))
    with pytest.raises(RecordDamaged, match="/3: its payload is missing"):
        import_bag(other, folder)


def test_a_photo_that_is_awaited_arrives_with_a_later_bag(store: Store, other: Store, tmp_path: Path) -> None:
    case = fill(store, 6)
    store.append(case, [Draft(photo(b"later"), AT)])
    import_bag(other, export_bag(store, case, tmp_path / "first", now=NOW))
    assert other.attachment(photo(b"later").sha256) is None
    store.attach(b"later")
    again = import_bag(other, export_bag(store, case, tmp_path / "second", now=NOW))
    assert again.accepted == []
    assert other.attachment(photo(b"later").sha256) == b"later"


def test_a_file_that_changes_while_the_bag_is_read(
    store: Store, other: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = fill(store, 6)
    folder = export_bag(store, case, tmp_path / "bag", now=NOW)
    opened = bag_form.open_plainly

    def and_then(path: Path, name: str) -> BinaryIO:
        if path.name.endswith(name) and seen_once.get(path):
            path.write_bytes(b"other bytes") if name == "jpg" else path.unlink()
        seen_once[path] = True
        return opened(path)

    for name, words in (("jpg", "changed while the bag was read"), ("receipts.jsonl", "could not be read to its end")):
        seen_once: dict[Path, bool] = {}
        copy = write(tmp_path / name, contents_of(folder))
        monkeypatch.setattr(bag_form, "open_plainly", lambda path, name=name: and_then(path, name))
        with pytest.raises(RecordDamaged, match=words):
            import_bag(other, copy)
    assert other.cases() == []
    monkeypatch.setattr(
        bag_form, "open_plainly", lambda path: (_ for _ in ()).throw(PermissionError(13, "Permission denied"))
    )
    assert any("cannot be read: Permission denied" in fault for fault in verify_bag(folder).faults)


# -- lawful removal ----------------------------------------------------------------------------------------------


def test_a_bag_after_a_lawful_removal(store: Store, other: Store, tmp_path: Path) -> None:
    case = fill(store, 10)
    entries = store.entries(case)
    picture, read = entries[1], entries[4]
    remove(store, case, picture.hash)
    remove(store, case, read.hash)
    folder = export_bag(store, case, tmp_path / "bag", now=NOW)
    contents = contents_of(folder)
    assert read.payload_text is not None
    assert not any(read.payload_text.encode() in content or PHOTO in content for content in contents.values())
    found = verify_bag(folder)
    assert found.ok
    assert found.counts["removed"] == 2
    assert any(f"{read.name} (reading) was removed" in note for note in found.notes)
    import_bag(other, folder)
    assert fold(other.entries(case)) == fold(store.entries(case))
    assert {each.hash for each in fold(other.entries(case)).removed} == {picture.hash, read.hash}
    assert verify_store(other, case).ok
    assert other.attachment(bag_form.Seen.of(PHOTO).sha256) is None


def test_what_was_removed_here_does_not_come_back_with_an_older_bag(store: Store, tmp_path: Path) -> None:
    case = fill(store, 10)
    older = export_bag(store, case, tmp_path / "older", now=NOW)
    picture = store.entries(case)[1]
    remove(store, case, picture.hash)
    sha256 = bag_form.Seen.of(PHOTO).sha256
    store.drop_attachment(sha256)
    import_bag(store, older)
    assert store.entries(case)[1].payload_text is None
    assert store.attachment(sha256) is None
    with Store(tmp_path / "late", now=clock()) as late:  # the removal comes first, the older bag after it
        import_bag(late, export_bag(store, case, tmp_path / "newer", now=NOW))
        import_bag(late, older)
        assert late.entries(case)[1].payload_text is None
        assert late.attachment(sha256) is None
        assert verify_store(late, case).ok


def test_a_removal_that_comes_with_a_bag_is_carried_out(store: Store, other: Store, tmp_path: Path) -> None:
    case = fill(store, 10)
    import_bag(other, export_bag(store, case, tmp_path / "before", now=NOW))
    sha256 = bag_form.Seen.of(PHOTO).sha256
    second = other.open_case(kinds.CaseOpened("Second", "2 Wet Lane", "Europe/London"), AT)
    other.append(second, [Draft(kinds.FileTaken("same bytes", bag_form.Seen.of(TAKEN).sha256, 1, 1), AT)])
    entries = store.entries(case)
    for entry in entries[1:3]:
        remove(store, case, entry.hash)
    import_bag(other, export_bag(store, case, tmp_path / "after", now=NOW))
    assert [entry.payload_text for entry in other.entries(case)[1:3]] == [None, None]
    assert other.attachment(sha256) is None
    assert other.attachment(bag_form.Seen.of(TAKEN).sha256) == TAKEN  # another case still names it
    other.close()
    assert entries[1].payload_text is not None
    words = entries[1].payload_text.encode()
    assert all(words not in path.read_bytes() for path in other.home.rglob("*") if path.is_file())
    assert verify_home(other.home, case).ok


# -- what comes from a stranger ------------------------------------------------------------------------------------


@pytest.fixture
def sound(store: Store, tmp_path: Path) -> dict[str, bytes]:
    return contents_of(export_bag(store, fill(store, 8), tmp_path / "sound", now=NOW))


def test_links_and_odd_files_are_not_followed(sound: dict[str, bytes], other: Store, tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.mkdir()
    (secret / "x.txt").write_bytes(b"secret")

    def a_link(folder: Path) -> None:
        (folder / "data/csv").mkdir()
        (folder / "data/csv/x.csv").symlink_to(secret / "x.txt")

    def a_linked_folder(folder: Path) -> None:
        (folder / "data/csv").symlink_to(secret)

    def a_linked_entries_file(folder: Path) -> None:
        (folder / "data/entries.jsonl").rename(tmp_path / "entries")
        (folder / "data/entries.jsonl").symlink_to(tmp_path / "entries")

    def a_pipe(folder: Path) -> None:
        os.mkfifo(folder / "data/pipe")

    def twins(folder: Path) -> None:
        (folder / "readme.TXT").write_bytes(b"")

    def composed_twins(folder: Path) -> None:
        (folder / "data/é.csv").write_bytes(b"")
        (folder / "data/e\u0301.csv").write_bytes(b"")

    def an_odd_name(folder: Path) -> None:
        (folder / "data/a:b").write_bytes(b"")

    def not_utf8(folder: Path) -> None:
        (folder / os.fsdecode(b"\xff\xfe")).write_bytes(b"")

    for number, spoil in enumerate(
        [a_link, a_linked_folder, a_linked_entries_file, a_pipe, twins, composed_twins, an_odd_name, not_utf8]
    ):
        folder = write(tmp_path / f"bag-{number}", sound)
        spoil(folder)
        assert read_bag(folder).entries == (), spoil.__name__
        assert bag_verifier.check(str(folder), []).faults, spoil.__name__
        if spoil in (a_link, a_linked_folder, a_linked_entries_file):
            assert "is a link to another place" in verify_bag(folder).faults[0]
        with pytest.raises(RecordDamaged):
            import_bag(other, folder)
    assert other.cases() == []


def test_limits_hold_while_reading(sound: dict[str, bytes], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = write(tmp_path / "bag", sound)
    for module, name, value, words in (
        (bag_form, "MOST_FILES", 15, "more than 15 files"),
        (bag_form, "MOST_BYTES", 9_000, "larger than 9000 bytes"),
        (bag_reading, "LONGEST_LINE", 300, "longer than 300 bytes"),
    ):
        with monkeypatch.context() as patched:
            patched.setattr(module, name, value)
            found = verify_bag(folder)
            assert any(words in fault for fault in found.faults), found.faults
    assert verify_bag(folder).ok


def test_a_flood_of_faults_stops(sound: dict[str, bytes], tmp_path: Path) -> None:
    folder = write(tmp_path / "bag", rebagged({**sound, "data/set-aside.jsonl": b"{}\n" * 200_000}))
    assert len([fault for fault in verify_bag(folder).faults if "set-aside" in fault]) < 60


def test_an_enormous_number_costs_nothing(store: Store, other: Store, tmp_path: Path) -> None:
    case = fill(store, 6)
    first = store.entries(case)[0]
    far = seal(
        case=case, device="beef0001", n=2**53 - 1, prev="0" * 64, clock=99, kind="reading", claimed_at=AT, monotonic=0,
        payload=store.entries(case)[3].payload(),
    )  # fmt: skip
    store.receive([far])
    assert first.case == case
    folder = export_bag(store, case, tmp_path / "bag", now=NOW)
    import_bag(other, folder)
    assert any(f"0-{2**53 - 2} have not arrived" in note for note in verify_bag(folder).notes)


def test_deep_and_odd_json_is_a_fault_and_no_crash(sound: dict[str, bytes], tmp_path: Path) -> None:
    name = next(name for name in sound if name.startswith("data/payloads/"))
    for number, line in enumerate(
        [
            b'{"entry":"x","payload":' + b'{"a":' * 5000 + b"1" + b"}" * 5001 + b"}",
            b'{"entry":"x","payload":' + b'{"a":' * 300 + b"1" + b"}" * 300 + b',"salt":"00"}',
            b'{"entry":"x","payload":{"a":1.5},"salt":"00"}',
            b'{"entry":"x","payload":{"a":null},"salt":"00"}',
            b'{"entry":"x","payload":{"a":NaN},"salt":"00"}',
            b'{"entry":"x","payload":{"a":' + b"9" * 10_000 + b'},"salt":"00"}',
            b'{"entry":"x","payload":{"a":"\\ud800"},"salt":"00"}',
            b'{"entry":"x","entry":"y","payload":{},"salt":"00"}',
            b"\xff\xfe\x00",
            b"[]",
            b"",
        ]
    ):
        for file in (name, "data/entries.jsonl", "data/receipts.jsonl", "data/set-aside.jsonl"):
            folder = write(
                tmp_path / f"{number}-{Path(file).stem}", rebagged({**sound, file: sound[file] + line + b"\n"})
            )
            assert not verify_bag(folder).ok


# -- as a .zip -----------------------------------------------------------------------------------------------------


def zipped(path: Path, contents: dict[str, bytes], inside: str = "") -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in contents.items():
            archive.writestr(inside + name, content)
    return path


@pytest.mark.parametrize("inside", ["", "the case/"])
def test_a_bag_comes_as_a_zip(sound: dict[str, bytes], other: Store, tmp_path: Path, inside: str) -> None:
    archive = zipped(tmp_path / "bag.zip", sound, inside)
    assert verify_bag(archive).ok
    assert len(import_bag(other, archive).accepted) == 8
    assert read_bag(archive).case in other.cases()
    assert other.attachment(bag_form.Seen.of(PHOTO).sha256) == PHOTO


def info(name: str, mode: int = 0o100644, flags: int = 0) -> zipfile.ZipInfo:
    made = zipfile.ZipInfo(name)
    made.external_attr = mode << 16
    made.flag_bits = flags
    return made


@pytest.mark.parametrize(
    "name",
    [
        "../outside", "data/../../outside", "/outside", "//server/outside", "\\outside", "..\\outside", "C:\\outside",
        "C:outside", "~/outside", "data/./x", "data//x", "data/x\x00.csv", "data/x\n", "data/x.", "data/x ", "data/" + "x" * 300,
    ],
)  # fmt: skip
def test_a_name_in_a_zip_leads_nowhere_else(sound: dict[str, bytes], other: Store, tmp_path: Path, name: str) -> None:
    archive = zipped(tmp_path / "bag.zip", sound)
    with zipfile.ZipFile(archive, "a") as opened:
        made = info("placeholder")
        made.filename = made.orig_filename = name
        opened.writestr(made, b"outside")
    before = files_below(tmp_path)
    with pytest.raises(DesorbError, match=r"name that may not stand|cannot be unpacked"):
        import_bag(other, archive)
    assert not verify_bag(archive).ok
    assert files_below(tmp_path) == before
    assert other.cases() == []


def test_a_zip_with_links_twins_locks_or_bombs_is_refused(
    sound: dict[str, bytes], other: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def with_member(made: zipfile.ZipInfo, content: bytes) -> bytes:
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, each in sound.items():
                archive.writestr(name, each)
            archive.writestr(made, content, zipfile.ZIP_DEFLATED)
        return packed.getvalue()

    plain = with_member(info("data/csv/x.csv"), b"x" * 1000)
    many = io.BytesIO()
    with zipfile.ZipFile(many, "w") as archive:
        for number in range(10_050):
            archive.writestr(f"data/csv/{number}.csv", b"")
    locked = bytearray(plain)
    directory = locked.rfind(b"PK\x01\x02")
    locked[directory + 8] |= 1
    lying = bytearray(plain)
    lying[directory + 24 : directory + 28] = struct.pack("<I", 10)
    unknown_method = bytearray(plain)
    unknown_method[directory + 10 : directory + 12] = struct.pack("<H", 77)
    large = bytearray(plain)
    end = large.rfind(b"PK\x05\x06")
    archives = {
        "a link": with_member(info("data/csv/x.csv", mode=0o120777), b"/etc/passwd"),
        "a device": with_member(info("data/csv/x.csv", mode=0o020666), b""),
        "a twin": with_member(info("README.TXT"), b""),
        "zeros": with_member(info("data/csv/zeros.csv"), bytes(30_000_000)),
        "many": many.getvalue(),
        "locked": bytes(locked),
        "lying about its size": bytes(lying),
        "an unknown method": bytes(unknown_method),
        "a directory beyond any limit": bytes(large[: end + 12] + struct.pack("<I", 2**31) + large[end + 16 :]),
        "a count beyond any limit": bytes(large[: end + 10] + struct.pack("<H", 65_000) + large[end + 12 :]),
        "cut short": plain[: len(plain) // 2],
        "without its end": plain[:-30],
        "no zip": b"not a zip at all",
        "nothing": b"",
        "without a bag": zipped(tmp_path / "empty.zip", {"x.txt": b""}).read_bytes(),
    }
    words = {
        "a link": "a link, a device or a locked file", "a device": "a link, a device or a locked file",
        "locked": "a link, a device or a locked file", "a twin": "names are one on some systems",
        "zeros": "unpacks to more than desorb takes", "many": "too many files",
        "a directory beyond any limit": "too many files", "a count beyond any limit": "too many files",
        "without a bag": "does not verify",
    }  # fmt: skip
    for name, content in archives.items():
        path = tmp_path / f"{name}.zip"
        path.write_bytes(content)
        with pytest.raises(DesorbError, match=words.get(name, "cannot be unpacked")):
            import_bag(other, path)
        assert verify_bag(path).faults, name
    with pytest.raises(NotFound):
        import_bag(other, tmp_path / "not here.zip")
    assert other.cases() == []


def test_a_damaged_zip_never_gives_a_traceback(sound: dict[str, bytes], tmp_path: Path) -> None:
    content = zipped(tmp_path / "bag.zip", sound).read_bytes()
    path = tmp_path / "damaged.zip"
    whole = verify_bag(tmp_path / "bag.zip")
    for place in range(0, len(content), len(content) // 300):
        path.write_bytes(content[:place] + bytes([content[place] ^ 0xFF]) + content[place + 1 :])
        found = verify_bag(path)
        assert found.faults or found == whole
