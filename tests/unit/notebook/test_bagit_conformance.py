"""BagIt 1.0 [RFC8493], case by case; and our bags through an independent reader of bags.

The form is held on its own here: small bags without a record. `stricter` names what RFC 8493 allows or asks a reader to
take and desorb refuses on purpose: it takes back only what desorb wrote, so that every byte of the form is settled.
"""

from __future__ import annotations

import hashlib
import logging
import re
from collections.abc import Callable
from pathlib import Path

import bagit
import pytest
from bag_cases import NOW, SOFTWARE, MemoryBag, clock, contents_of, fill, of_device, rebagged, write

from desorb.notebook import bag_verifier
from desorb.notebook.bag import export_bag
from desorb.notebook.bag_form import Seen, fault_of_name, faults_of_form, look, manifest_text, payload_files, tag_files
from desorb.notebook.store import Store
from desorb.notebook.verify import verify_bag

Contents = dict[str, bytes]
DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def bag_of(payload: Contents, tags: Contents | None = None) -> Contents:
    contents = {f"data/{name}": content for name, content in payload.items()}
    contents |= {"bagit.txt": DECLARATION} | (tags or {})
    return with_manifests(contents)


def with_manifests(contents: Contents) -> Contents:
    seen = {name: Seen.of(content) for name, content in contents.items()}
    manifest = contents.get("manifest-sha256.txt", manifest_text(payload_files(seen)))
    contents = contents | {"manifest-sha256.txt": manifest}
    seen = {name: Seen.of(content) for name, content in contents.items()}
    return contents | {"tagmanifest-sha256.txt": manifest_text(tag_files(seen))}


def faults_of(contents: Contents, tmp_path: Path) -> list[str]:
    """Faults of the form as read from a folder, walk included."""
    folder = write(tmp_path / "bag", contents)
    files, faults = look(folder)
    return faults or faults_of_form(files, lambda name: (folder / name).read_bytes())


SMALL = bag_of({"a.txt": b"first\n", "sub/b.txt": b"second\n"}, {"bag-info.txt": b"Payload-Oxum: 13.2\n"})


@pytest.mark.parametrize(
    "contents",
    [
        SMALL,
        bag_of({"a.txt": b""}),
        bag_of({}),
        bag_of({"a.txt": b"x"}, {"tags/deep/notes.txt": b"a tag file in a folder of its own"}),
        bag_of({"fünf 5 %.txt": b"x", "with space.txt": b"y", "100%25.txt": b"z"}),
        bag_of({"a.txt": b"x"}, {"bag-info.txt": b"Contact-Name: A\nContact-Name: B\nSource-Organization: C\n"}),
        bag_of({"manifest-md5.txt": b"inside data this is a file like any other", "bagit.txt": b"", "fetch.txt": b""}),
    ],
    ids=["plain", "empty file", "no file", "tag folder", "names", "repeated labels", "names of tag files inside data"],
)
def test_valid(contents: Contents, tmp_path: Path) -> None:
    assert faults_of(contents, tmp_path) == []


def replaced(name: str, old: bytes, new: bytes) -> Callable[[Contents], Contents]:
    def change(contents: Contents) -> Contents:
        assert old in contents[name]
        return with_manifests({**contents, name: contents[name].replace(old, new)})

    return change


def without(name: str) -> Callable[[Contents], Contents]:
    return lambda contents: {each: content for each, content in contents.items() if each != name}


def with_file(name: str, content: bytes = b"x") -> Callable[[Contents], Contents]:
    return lambda contents: {**contents, name: content}


def with_tag(name: str, content: bytes = b"x") -> Callable[[Contents], Contents]:
    return lambda contents: with_manifests({**contents, name: content})


def with_line(name: str, path: str, content: bytes = b"x") -> Callable[[Contents], Contents]:
    """A manifest that names one path more."""

    def change(contents: Contents) -> Contents:
        line = f"{hashlib.sha256(content).hexdigest()}  {path}\n".encode()
        if name == "manifest-sha256.txt":
            return with_manifests({**contents, name: contents[name] + line})
        return {**contents, name: contents[name] + line}

    return change


def other_manifest(contents: Contents, algorithm: str) -> bytes:
    names = sorted(name for name in contents if name.startswith("data/"))
    return "".join(f"{hashlib.new(algorithm, contents[name]).hexdigest()}  {name}\n" for name in names).encode()


MANIFEST, TAGS = "manifest-sha256.txt", "tagmanifest-sha256.txt"
INVALID: dict[str, Callable[[Contents], Contents]] = {
    "payload file missing": without("data/a.txt"),
    "payload file not declared": with_file("data/extra.txt"),
    "payload file changed": with_file("data/a.txt", b"First\n"),
    "payload file longer": with_file("data/a.txt", b"first\n\n"),
    "wrong checksum": replaced(MANIFEST, hashlib.sha256(b"first\n").hexdigest().encode(), b"0" * 64),
    "checksum too short": replaced(MANIFEST, hashlib.sha256(b"first\n").hexdigest().encode(), b"0" * 63),
    "checksum no hexadecimal": replaced(MANIFEST, hashlib.sha256(b"first\n").hexdigest().encode(), b"g" * 64),
    "checksum without a name": replaced(MANIFEST, b"  data/a.txt", b""),
    "manifest missing": without(MANIFEST),
    "manifest names a file twice": lambda contents: with_manifests({**contents, MANIFEST: contents[MANIFEST] * 2}),
    "manifest names a file twice, with two checksums": with_line(MANIFEST, "data/a.txt", b"other"),
    "manifest names a file that is not here": with_line(MANIFEST, "data/none.txt"),
    "manifest names a file outside": with_line(MANIFEST, "../outside.txt"),
    "manifest names a file outside, from within": with_line(MANIFEST, "data/../../outside.txt"),
    "manifest names an absolute path": with_line(MANIFEST, "/etc/passwd"),
    "manifest names a home folder": with_line(MANIFEST, "~/file"),
    "manifest names a path with a backslash": with_line(MANIFEST, "data\\a.txt"),
    "manifest names a drive": with_line(MANIFEST, "c:/data/a.txt"),
    "manifest names a tag file": with_line(MANIFEST, "bagit.txt", DECLARATION),
    "manifest is not UTF-8": replaced(MANIFEST, b"data/a.txt", b"data/\xff.txt"),
    "manifest has a byte-order mark": lambda contents: with_manifests(
        {**contents, MANIFEST: b"\xef\xbb\xbf" + contents[MANIFEST]}
    ),
    "tag file changed": with_file("bag-info.txt", b"Payload-Oxum: 13.2 \n"),
    "tag file missing": without("bag-info.txt"),
    "tag file not declared": with_file("notes.txt"),
    "tag manifest names itself": with_line(TAGS, TAGS),
    "tag manifest names a payload file": with_line(TAGS, "data/a.txt", b"first\n"),
    "declaration missing": lambda contents: with_manifests(without("bagit.txt")(contents)),
    "declaration empty": with_tag("bagit.txt", b""),
    "another version": with_tag("bagit.txt", DECLARATION.replace(b"1.0", b"0.97")),
    "a version that does not exist": with_tag("bagit.txt", DECLARATION.replace(b"1.0", b"1.1")),
    "version no number": with_tag("bagit.txt", DECLARATION.replace(b"1.0", b"one")),
    "version line missing": with_tag("bagit.txt", DECLARATION.partition(b"\n")[2]),
    "encoding line missing": with_tag("bagit.txt", DECLARATION.partition(b"\n")[0] + b"\n"),
    "lines of the declaration swapped": with_tag("bagit.txt", b"".join(reversed(DECLARATION.splitlines(True)))),
    "a third line in the declaration": with_tag("bagit.txt", DECLARATION + b"More: 1\n"),
    "space before the colon": with_tag("bagit.txt", DECLARATION.replace(b":", b" :")),
    "space at the begin": with_tag("bagit.txt", b" " + DECLARATION),
    "byte-order mark in the declaration": with_tag("bagit.txt", b"\xef\xbb\xbf" + DECLARATION),
    "Payload-Oxum with other bytes": with_tag("bag-info.txt", b"Payload-Oxum: 12.2\n"),
    "Payload-Oxum with another count": with_tag("bag-info.txt", b"Payload-Oxum: 13.3\n"),
    "Payload-Oxum twice": with_tag("bag-info.txt", b"Payload-Oxum: 13.2\nPayload-Oxum: 13.2\n"),
}
STRICTER: dict[str, Callable[[Contents], Contents]] = {
    "names that differ in case only": lambda contents: with_manifests({**contents, "data/A.txt": b"first\n"}),
    "names that differ in composition only": lambda contents: with_manifests(
        {**contents, "data/\u00e9.txt": b"x", "data/e\u0301.txt": b"x"}
    ),
    "tag manifest missing": without(TAGS),
    "CRLF in the declaration": with_tag("bagit.txt", DECLARATION.replace(b"\n", b"\r\n")),
    "CR in the declaration": with_tag("bagit.txt", DECLARATION.replace(b"\n", b"\r")),
    "declaration without its last line end": with_tag("bagit.txt", DECLARATION[:-1]),
    "UTF-16 tag files": with_tag("bagit.txt", DECLARATION.replace(b"UTF-8", b"UTF-16")),
    "CRLF in the manifest": replaced(MANIFEST, b"\n", b"\r\n"),
    "manifest without its last line end": lambda contents: with_manifests({**contents, MANIFEST: contents[MANIFEST][:-1]}),
    "an empty line in the manifest": lambda contents: with_manifests({**contents, MANIFEST: contents[MANIFEST] + b"\n"}),
    "one space": replaced(MANIFEST, b"  ", b" "),
    "a tab": replaced(MANIFEST, b"  ", b"\t"),
    "an asterisk before the name": replaced(MANIFEST, b"  ", b" *"),
    "capital hexadecimal digits": lambda contents: with_manifests(
        {**contents, MANIFEST: re.sub(rb"[0-9a-f]{64}", lambda found: found[0].upper(), contents[MANIFEST])}
    ),
    "lines of the manifest swapped": lambda contents: with_manifests(
        {**contents, MANIFEST: b"".join(reversed(contents[MANIFEST].splitlines(True)))}
    ),
    "a name with ./": replaced(MANIFEST, b"data/a.txt", b"./data/a.txt"),
    "a manifest by SHA-512": lambda contents: with_tag("manifest-sha512.txt", other_manifest(contents, "sha512"))(contents),
    "a weak manifest": lambda contents: with_tag("manifest-md5.txt", other_manifest(contents, "md5"))(contents),
    "a tag manifest by another algorithm": lambda contents: {**contents, "tagmanifest-sha512.txt": b""},
    "an empty fetch.txt": with_tag("fetch.txt", b""),
    "a fetch.txt that asks for a file": with_tag("fetch.txt", b"http://example.org/a.txt - data/a.txt\n"),
    "a fetch.txt in capitals": with_tag("FETCH.TXT", b""),
    "a file name with a line feed": lambda contents: with_line(MANIFEST, "data/a%0Ab.txt")({**contents, "data/a\nb.txt": b"x"}),
}  # fmt: skip


@pytest.mark.parametrize("case", INVALID)
def test_invalid(case: str, tmp_path: Path) -> None:
    assert faults_of(INVALID[case](SMALL), tmp_path)


@pytest.mark.parametrize("case", STRICTER)
def test_stricter(case: str, tmp_path: Path) -> None:
    assert faults_of(STRICTER[case](SMALL), tmp_path)


def test_a_fault_names_the_file(tmp_path: Path) -> None:
    for number, (case, words) in enumerate(
        {
            "payload file missing": "data/a.txt is declared in manifest-sha256.txt and is not here",
            "payload file not declared": "data/extra.txt is not declared in manifest-sha256.txt",
            "payload file changed": "data/a.txt does not match its SHA-256 in manifest-sha256.txt",
            "tag file changed": "bag-info.txt does not match its SHA-256 in tagmanifest-sha256.txt",
            "manifest names a file twice": "manifest-sha256.txt names data/a.txt twice",
            "manifest names a file outside": "'../outside.txt' may not stand in a bag",
            "tag manifest names itself": "tagmanifest-sha256.txt may not name tagmanifest-sha256.txt",
        }.items()
    ):
        found = faults_of(INVALID[case](SMALL), tmp_path / str(number))
        assert any(words in fault for fault in found), found


def test_percent_encoding() -> None:
    """[RFC8493] 2.1.3: CR, LF and the percent sign itself are percent-encoded in a manifest, and nothing else is."""
    assert manifest_text({"data/50 %.txt": Seen("0" * 64, 0)}) == b"0" * 64 + b"  data/50 %25.txt\n"
    bag = MemoryBag(bag_of({"50 %.txt": b"x"}))
    assert faults_of_form(bag.files, bag.contents.__getitem__) == []
    bare = replaced(MANIFEST, b"%25", b"%")(bag.contents)
    assert faults_of_form(MemoryBag(bare).files, bare.__getitem__)
    encoded_line_feed = bag.with_file(MANIFEST, b"0" * 64 + b"  data/a%0Ab.txt\n")
    assert any(
        "'data/a\\nb.txt'" in fault
        for fault in faults_of_form(encoded_line_feed.files, encoded_line_feed.contents.__getitem__)
    )


@pytest.mark.parametrize(
    "name",
    [
        "../x", "data/../x", "/x", "", "a//b", "a/", "./a", "a\\b", "c:x", "~", "~a/b", "a\nb", "a\rb", "a\x00", "a.", "a ",
        "x" * 256, "\ud800",
    ],
)  # fmt: skip
def test_names_that_may_not_stand_in_a_bag(name: str) -> None:
    assert fault_of_name(name)


@pytest.mark.parametrize("name", ["a", "data/a.b/c", ".hidden", "...a", "a~", "ü", "50 %", "x" * 255, "CON"])
def test_names_that_may(name: str) -> None:
    assert fault_of_name(name) == ""


# -- our bags, read by others ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def ours(tmp_path_factory: pytest.TempPathFactory) -> Contents:
    home = tmp_path_factory.mktemp("ours")
    with Store(home / "store", now=clock()) as store:
        case = fill(store, 10)
        store.receive(of_device(store, case, "an odd device", 2))
        extra = {"csv/readings.csv": b"a,b\n", "json/case.json": b"{}"}
        return contents_of(export_bag(store, case, home / "bag", extra_files=extra, now=NOW, software=SOFTWARE))


def others_find(folder: Path) -> str:
    """What the independent reader says, or ''."""
    logging.getLogger("bagit").setLevel(logging.CRITICAL)
    try:
        bagit.Bag(str(folder)).validate()
    except bagit.BagError as problem:
        return str(problem) or type(problem).__name__
    return ""


def test_our_bags_are_valid_to_an_independent_reader(ours: Contents, tmp_path: Path) -> None:
    folder = write(tmp_path, ours)
    assert others_find(folder) == ""
    read = bagit.Bag(str(folder))
    assert read.version_info == (1, 0)
    assert set(read.algorithms) == {"sha256"}
    assert set(read.payload_files()) == {name for name in ours if name.startswith("data/")}
    assert read.info["Bagging-Date"] == NOW[:10]
    assert read.info["Bag-Software-Agent"] == SOFTWARE


def test_we_see_what_the_independent_reader_sees(ours: Contents, tmp_path: Path) -> None:
    for number, (spoil, seen_by_others) in enumerate(
        [
            (without("data/receipts.jsonl"), True),
            (with_file("data/extra.txt"), True),
            (with_file("data/entries.jsonl", ours["data/entries.jsonl"][:-1]), True),
            (with_file("heads.json", b"{}\n"), True),
            (without("bagit.txt"), True),
            # The four holes of a plain check, and one more: these are ours alone.
            (without(TAGS), False),
            (with_file("notes.txt"), False),
            (with_tag("bagit.txt", DECLARATION.replace(b"\n", b"\r\n")), False),
            (lambda contents: {**contents, TAGS: b"\n".join(contents[TAGS].split(b"\n")[1:])}, False),
            (lambda contents: rebagged({**contents, "data/receipts.jsonl": b""}), False),
        ]
    ):
        folder = write(tmp_path / str(number), spoil(ours))
        assert bool(others_find(folder)) == seen_by_others, number
        assert not verify_bag(folder).ok, number
        assert bag_verifier.check(str(folder), []).faults, number
