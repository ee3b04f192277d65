"""No byte of a record can change without a word: bags in full, the store's file by 500 inversions.

A bag is changed in memory and goes through the same reader and the same checks as one in a folder; a sample goes
through folders and through the verifier that travels in the bag. Readers of one line and digests of one entry are
pure functions, so the long runs remember their answers for the lines that did not change.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from functools import cache, lru_cache
from pathlib import Path

import pytest
from bag_cases import NOW, SOFTWARE, MemoryBag, clock, contents_of, fill, of_device, rebagged, write

from desorb.errors import DesorbError
from desorb.notebook import bag_form, bag_reading, bag_verifier, chain, originals, verify
from desorb.notebook.bag import export_bag, record_files
from desorb.notebook.bag_reading import content_of
from desorb.notebook.store import DATABASE_NAME, Store
from desorb.notebook.verify import record_of_bag, verification_of, verify_bag, verify_home

RECORD = ("data/entries.jsonl", "data/receipts.jsonl", "data/payloads/")
FORM = ("bagit.txt", "manifest-sha256.txt", "tagmanifest-sha256.txt", "heads.json")
SLICES = 4
Mutations = Callable[[dict[str, bytes], list[str], int], Iterator[tuple[str, int, int]]]


@pytest.fixture(scope="module")
def contents(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """A bag of 60 entries of two devices."""
    home = tmp_path_factory.mktemp("every-byte")
    with Store(home / "store", now=clock()) as store:
        case = fill(store, 54, readings=8)
        store.receive(of_device(store, case, "beef0001", 6))
        assert len(store.entries(case)) == 60
        return contents_of(export_bag(store, case, home / "bag", now=NOW, software=SOFTWARE))


@pytest.fixture
def remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    for module, name in (
        (bag_reading, "envelope_of_line"),
        (bag_reading, "payload_of_line"),
        (bag_reading, "with_payload"),
        (bag_reading, "receipt_of_line"),
        (chain, "fault_of"),
        (chain, "hash_of_receipt"),
        (verify, "originals_of"),
        (originals, "originals_of"),
    ):
        monkeypatch.setattr(module, name, lru_cache(maxsize=2048)(getattr(module, name)))
    monkeypatch.setattr(Path, "read_bytes", cache(Path.read_bytes))


def changed(contents: dict[str, bytes], name: str, place: int, mask: int) -> bytes:
    content = bytearray(contents[name])
    content[place] ^= mask
    return bytes(content)


def faults_in_memory(bag: MemoryBag, name: str, content: bytes) -> tuple[str, ...]:
    return verification_of(record_of_bag(content_of(bag.with_file(name, content)))).faults


def files_of(contents: dict[str, bytes], beginnings: tuple[str, ...]) -> list[str]:
    return [name for name in sorted(contents) if name.startswith(beginnings)]


def mutants(contents: dict[str, bytes], names: list[str], part: int) -> Iterator[tuple[str, int, int]]:
    """Every byte: one bit flipped, another one from byte to byte."""
    for name in names:
        for place in range(part, len(contents[name]), SLICES):
            yield name, place, 1 << place // SLICES % 8


def inverted(contents: dict[str, bytes], names: list[str], part: int) -> Iterator[tuple[str, int, int]]:
    """Every byte with all its bits inverted: the long run."""
    return ((name, place, 0xFF) for name, place, _ in mutants(contents, names, part))


@pytest.mark.parametrize(
    "mutations", [mutants, pytest.param(inverted, marks=pytest.mark.soak)], ids=["flipped", "inverted"]
)
@pytest.mark.parametrize("part", range(SLICES))
def test_every_byte_of_the_record_is_held_without_the_manifests(
    contents: dict[str, bytes], remembered: None, monkeypatch: pytest.MonkeyPatch, part: int, mutations: Mutations
) -> None:
    """The checks of manifests and of heads.json are switched off: who edits a bag makes both anew."""
    monkeypatch.setattr(bag_form, "faults_of_form", lambda files, read: [])
    monkeypatch.setattr(verify, "heads_text", lambda case, entries, receipts: contents["heads.json"])
    bag = MemoryBag(contents)
    assert faults_in_memory(bag, "bagit.txt", b"") == ()
    undetected, tried = [], 0
    for name, place, mask in mutations(contents, files_of(contents, RECORD), part):
        tried += 1
        if not faults_in_memory(bag, name, changed(contents, name, place, mask)):
            undetected.append((name, place, mask))
    print(f"{tried} mutants of the record, {len(undetected)} undetected")
    assert undetected == []
    assert tried > 50_000 / SLICES  # the same again inverted, in the long run


def test_every_byte_of_the_form(contents: dict[str, bytes], remembered: None) -> None:
    bag = MemoryBag(contents)
    assert verification_of(record_of_bag(content_of(bag))).ok
    undetected, tried = [], 0
    for part in range(SLICES):
        for name, place, mask in (
            *mutants(contents, files_of(contents, FORM), part),
            *inverted(contents, files_of(contents, FORM), part),
        ):
            tried += 1
            if not faults_in_memory(bag, name, changed(contents, name, place, mask)):
                undetected.append((name, place, mask))
    print(f"{tried} mutants of manifests, heads.json and bagit.txt, {len(undetected)} undetected")
    assert undetected == []
    assert tried > 3000


def line_attacks(content: bytes) -> Iterator[tuple[str, bytes]]:
    """Delete, double, cut short and swap each line."""
    lines = content.splitlines(keepends=True)
    for number, line in enumerate(lines):
        before, after = lines[:number], lines[number + 1 :]
        yield "deleted", b"".join([*before, *after])
        yield "doubled", b"".join([*before, line, line, *after])
        yield "cut short", b"".join([*before, line[: len(line) // 2], *after])
        yield "without its end", b"".join([*before, line[:-1], *after])
        yield "cut off after", b"".join([*before, line[:-1]])
        for other in {0, number + 1, len(lines) - 1} - {number, len(lines)}:
            swapped = list(lines)
            swapped[number], swapped[other] = swapped[other], swapped[number]
            yield f"swapped with {other}", b"".join(swapped)


def test_every_line_of_a_bag(contents: dict[str, bytes], remembered: None) -> None:
    """Once with the old manifests, and for the record once more with manifests made anew."""
    bag = MemoryBag(contents)
    undetected, tried = [], 0
    for name in files_of(contents, RECORD + FORM):
        for attack, content in line_attacks(contents[name]):
            tried += 1
            if content != contents[name] and not faults_in_memory(bag, name, content):
                undetected.append((name, attack))
            if name.startswith(("data/entries", "data/receipts")):
                tried += 1
                again = MemoryBag(rebagged({**contents, name: content}))
                if content != contents[name] and verification_of(record_of_bag(content_of(again))).ok:
                    undetected.append((name, attack + " and bagged again"))
    print(f"{tried} attacks on lines, {len(undetected)} undetected")
    assert undetected == []
    assert tried > 1500


def test_a_sample_in_folders_by_both_verifiers(contents: dict[str, bytes], tmp_path: Path) -> None:
    folder = write(tmp_path / "bag", contents)
    assert verify_bag(folder).ok
    assert bag_verifier.check(str(folder), []).faults == []
    chance = random.Random(20260301)
    names = [name for name in sorted(contents) if contents[name]]
    tried = 0
    for name in names:
        for place in {0, len(contents[name]) - 1, *(chance.randrange(len(contents[name])) for _ in range(12))}:
            (folder / name).write_bytes(changed(contents, name, place, 1 << chance.randrange(8)))
            tried += 1
            found = verify_bag(folder)
            assert not found.ok, (name, place)
            assert any(name in fault for fault in found.faults), (name, place, found.faults)
            assert bag_verifier.check(str(folder), []).faults, (name, place)
        (folder / name).write_bytes(contents[name])
    print(f"{tried} mutants in folders, by both verifiers")
    assert tried > 150


def what_a_store_says(home: Path, case: str) -> dict[str, bytes] | None:
    try:
        with Store(home) as store:
            return record_files(store.entries(case), store.receipts(case), store.set_aside(case))
    except DesorbError:
        return None


def test_the_file_of_the_store(tmp_path: Path) -> None:
    """500 bytes inverted, one at a time: told as a fault, or every line of the record is what it was."""
    home = tmp_path / "store"
    with Store(home, now=clock()) as store:
        case = fill(store, 54)
        chain, fork = of_device(store, case, "beef0001", 6), of_device(store, case, "beef0001", 6, first=50)
        store.receive([*chain, fork[3]])
        assert len(store.entries(case)) == 60
        assert len(store.set_aside(case)) == 1
    whole = what_a_store_says(home, case)
    assert verify_home(home, case).ok
    sound = (home / DATABASE_NAME).read_bytes()
    chance = random.Random(60)
    reported = identical = 0
    for place in chance.sample(range(len(sound)), 500):
        for file in home.glob(f"{DATABASE_NAME}*"):
            file.unlink()
        damaged = bytearray(sound)
        damaged[place] ^= 0xFF
        (home / DATABASE_NAME).write_bytes(damaged)
        if verify_home(home, case).ok:
            assert what_a_store_says(home, case) == whole, place
            identical += 1
        else:
            reported += 1
    print(f"500 inversions of {len(sound)} bytes: {reported} reported, {identical} without effect on the record")
    assert reported > 200
