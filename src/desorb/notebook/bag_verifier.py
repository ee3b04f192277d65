"""Check the record of a case: python3 verify.py [--head HASH ...] [FOLDER]

Needs Python 3.9 or newer and nothing else. FOLDER is where this file lies, unless you name another. Give the heads
printed on your report: without them nobody can tell whether the record was written anew by whoever kept it.
Exit status: 0 nothing wrong, 5 something is wrong (each fault is a sentence), 2 not understood.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import re
import stat
import sys
import unicodedata
from typing import Any

MOST_FILES, MOST_BYTES, LONGEST_LINE, LONGEST_ASIDE, LARGEST_NUMBER = 10_000, 2 * 2**30, 2**20, 2**22, 2**53 - 1
ENVELOPE = {
    "case": str, "device": str, "n": int, "prev": str, "clock": int, "kind": str, "schema": str, "claimed_at": str,
    "monotonic": int, "algorithm": str, "payload_digest": str,
}  # fmt: skip
RECEIPT = {"case": str, "store": str, "arrival": int, "at": str, "entry": str, "prev": str, "hash": str}
ASIDE = dict.fromkeys(["case", "device", "hash", "envelope", "salt", "body", "reason", "at"], str)
ASIDE["n"] = int
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{3})?Z")
DIGEST = re.compile(r"[0-9a-f]{64}")
FILES_NAMED = {
    "photo": [("photos", "sha256", "photo")], "file-taken": [("files", "sha256", "file taken")],
    "report-issued": [("report", "pdf_sha256", "report"), ("report", "twin_sha256", "")],
}  # fmt: skip
LIMITS = """
What this does not prove: that a reading is true, that the clock of a device was right, when an entry really arrived
(receipts are the word of a store), who wrote an entry, or that the tables in csv and json say what the entries say."""


class Wrong(Exception):
    pass


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def canonical(value: Any) -> str:
    """RFC 8785, restricted: text, whole numbers, yes/no, lists, objects. Names sort by their UTF-16 code units."""
    if isinstance(value, str):
        value.encode()  # half a character raises
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) <= LARGEST_NUMBER:
        return str(value)
    if isinstance(value, list):
        return "[" + ",".join(map(canonical, value)) + "]"
    if isinstance(value, dict):
        names = sorted(value, key=lambda name: name.encode("utf-16-be"))
        return "{" + ",".join(canonical(name) + ":" + canonical(value[name]) for name in names) + "}"
    raise Wrong("it holds a number with a decimal mark, a number too large, or nothing")


def parse(line: bytes | str, parts: dict[str, type] | None = None) -> dict[str, Any]:
    """One JSON object in canonical form, with just these parts."""

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        if len(dict(pairs)) < len(pairs):
            raise Wrong("a name stands twice in one object")
        return dict(pairs)

    try:
        text = line if isinstance(line, str) else line.decode()
        value = json.loads(text, object_pairs_hook=once)
        if not isinstance(value, dict) or canonical(value) != text:
            raise Wrong("it is not an object in canonical form")
    except (ValueError, RecursionError):
        raise Wrong("it cannot be read") from None
    if parts is not None and {name: type(part) for name, part in value.items()} != parts:
        raise Wrong("it has other parts than it should")
    return value


class Bag:
    def __init__(self, folder: str) -> None:
        self.folder = folder
        self.faults: list[str] = []
        self.notes: list[str] = []
        self.files: dict[str, tuple[str, int]] = {}
        self.entries: list[dict[str, Any]] = []
        self.payloads: dict[str, dict[str, Any]] = {}
        self.receipts: list[dict[str, Any]] = []
        self.aside: list[dict[str, Any]] = []

    def look(self) -> None:
        twins: set[str] = set()
        total = count = 0
        waiting = [""]
        while waiting:
            inside = waiting.pop()
            for base in sorted(os.listdir(os.path.join(self.folder, inside))):
                name, path = inside + base, os.path.join(self.folder, inside, base)
                mode = os.lstat(path).st_mode
                count += 1
                if count > MOST_FILES:
                    raise Wrong("the bag holds too many files")
                if stat.S_ISDIR(mode):
                    waiting.append(name + "/")
                key = unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
                odd = any(ord(character) < 32 or character in "\\:\x7f" for character in name) or base[:1] == "~"
                odd = odd or base[-1] in ". " or any(0xD800 <= ord(each) < 0xE000 for each in base) or key in twins
                if odd or len(base.encode("utf-8", "replace")) > 255:
                    raise Wrong(f"{name!r} is not a name that every system can hold apart from others")
                if stat.S_ISDIR(mode):
                    continue
                twins.add(key)
                if not stat.S_ISREG(mode):
                    raise Wrong(f"{name} is a link or no plain file")
                digest, size = hashlib.sha256(), 0
                with open(path, "rb") as file:
                    for chunk in iter(lambda: file.read(1 << 20), b""):
                        digest.update(chunk)
                        size += len(chunk)
                        if total + size > MOST_BYTES:
                            raise Wrong("the bag is too large")
                total += size
                self.files[name] = (digest.hexdigest(), size)

    def read(self, name: str) -> bytes:
        with open(os.path.join(self.folder, name), "rb") as file:
            return file.read(1 << 23)

    def check_form(self) -> None:
        for name in self.files:
            if name.lower() == "fetch.txt" or re.fullmatch(r"(tag)?manifest-(?!sha256\.txt)[^/]*\.txt", name.lower()):
                self.faults.append(f"{name} may not stand in this bag")
        payload = {name: seen for name, seen in self.files.items() if name.startswith("data/")}
        rest = {name: self.files[name] for name in self.files if name not in payload and name != "tagmanifest-sha256.txt"}
        if "bagit.txt" not in rest or self.read("bagit.txt") != (
            b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
        ):
            self.faults.append("bagit.txt is missing or does not say exactly that this is BagIt 1.0 in UTF-8")
        for manifest, covered in (("manifest-sha256.txt", payload), ("tagmanifest-sha256.txt", rest)):
            if manifest not in self.files:
                self.faults.append(f"{manifest} is missing")
                continue
            lines = sorted((name.replace("%", "%25"), seen[0]) for name, seen in covered.items())
            wanted = "".join(f"{digest}  {name}\n" for name, digest in lines).encode()
            text = self.read(manifest)
            if text != wanted:
                stated, found = set(text.split(b"\n")), set(wanted.split(b"\n"))
                odd = sorted(line.decode(errors="replace")[66:] or "a line" for line in stated ^ found)
                self.faults.append(f"{manifest} does not fit the files: {', '.join(dict.fromkeys(odd)) or 'its form'}")
        if "bag-info.txt" in rest:
            oxum = f"{sum(size for _, size in payload.values())}.{len(payload)}".encode()
            stated_oxum = re.findall(rb"(?im)^Payload-Oxum:[ \t]*([^\r\n]*)", self.read("bag-info.txt"))
            if stated_oxum and stated_oxum != [oxum]:
                self.faults.append("bag-info.txt states another Payload-Oxum")

    def lines(self, name: str, parts: dict[str, type]) -> list[dict[str, Any]]:
        rows: list[dict[str, Any]] = []
        if name not in self.files:
            self.faults.append(f"{name} is missing")
            return rows
        longest = LONGEST_ASIDE if parts is ASIDE else LONGEST_LINE
        with open(os.path.join(self.folder, name), "rb") as file:
            for number, line in enumerate(iter(lambda: file.readline(longest + 1), b""), start=1):
                try:
                    if not line.endswith(b"\n"):
                        raise Wrong("it breaks off or is too long")
                    row = parse(line[:-1], parts)
                    if parts is ENVELOPE:
                        row["hash"] = sha256(line[:-1])
                    rows.append(row)
                except Wrong as problem:
                    self.faults.append(f"{name}: line {number} cannot be taken: {problem}")
                    if len(self.faults) > 200:
                        break
        return rows

    def read_record(self) -> None:
        self.entries = self.lines("data/entries.jsonl", ENVELOPE)
        self.receipts = self.lines("data/receipts.jsonl", RECEIPT)
        self.aside = self.lines("data/set-aside.jsonl", ASIDE)
        known = {entry["hash"] for entry in self.entries}
        for name in sorted(name for name in self.files if re.fullmatch(r"data/payloads/[^/]+\.jsonl", name)):
            for row in self.lines(name, {"entry": str, "payload": dict, "salt": str}):
                if row["entry"] not in known or row["entry"] in self.payloads:
                    self.faults.append(f"{name}: a payload stands twice or belongs to no entry ({row['entry'][:12]})")
                self.payloads[row["entry"]] = row
        for what, rows, places in (
            ("entries", self.entries, ("clock", "device", "n", "hash")),
            ("receipts", self.receipts, ("store", "arrival")),
            ("things set aside", self.aside, ("hash", "reason")),
        ):
            keys = [tuple(row[place] for place in places) for row in rows]
            if any(later <= earlier for earlier, later in zip(keys, keys[1:])):  # noqa: B905, RUF007 (Python 3.9)
                self.faults.append(f"the {what} stand twice or not in their order")
            if rows and any(row["case"] != self.entries[0]["case"] for row in (self.entries and rows)):
                self.faults.append(f"{what} of another case stand in this bag")

    def check_entries(self) -> None:
        opening = [e for e in self.entries if e["n"] == 0 and e["prev"] == "" and e["kind"] == "case-opened"]
        opening.sort(key=lambda entry: (entry["clock"], entry["device"], entry["hash"]))
        if not opening:
            self.faults.append("the entry that opens the case is not here")
        removed_by = {
            row["payload"].get("target"): entry
            for entry in self.entries
            if entry["kind"] == "removal" and (row := self.payloads.get(entry["hash"]))
            if isinstance(row["payload"].get("target"), str)
        }
        before: dict[str, dict[str, Any]] = {}
        for entry in sorted(self.entries, key=lambda entry: (entry["device"], entry["n"], entry["hash"])):
            name, last, fault = f"{entry['device']}/{entry['n']}", before.get(entry["device"]), ""
            row, removable = self.payloads.get(entry["hash"]), entry["kind"] not in ("case-opened", "removal")
            if entry["schema"] != "desorb/1" or entry["algorithm"] != "sha-256":
                fault = "its schema or algorithm is not known here"
            elif entry["n"] < 0 or entry["clock"] < 1:
                fault = "its numbers do not count from 0 and 1"
            elif last is not None and last["n"] == entry["n"]:
                fault = "another entry has the same number"
            elif entry["n"] == 0:
                if opening and entry["hash"] != opening[0]["hash"] != entry["prev"]:
                    fault = "it does not follow the entry that opens the case"
            elif last is not None and last["n"] == entry["n"] - 1:
                if entry["prev"] != last["hash"] or entry["clock"] <= last["clock"]:
                    fault = "it does not follow the entry before it"
            if entry["n"] > (last["n"] + 1 if last else 0):
                self.notes.append(f"device {entry['device']}: entries before {name} have not arrived")
                entry["gap"] = True
            if fault:
                self.faults.append(f"entry {name}: {fault}")
            if row is None and not (removable and entry["hash"] in removed_by):
                self.faults.append(f"entry {name}: its payload is missing, and no removal in this record names it")
            elif row is None:
                self.notes.append(f"the payload of entry {name} was removed")
            elif not re.fullmatch("[0-9a-f]{32}", row["salt"]):
                self.faults.append(f"entry {name}: the salt is not 32 hexadecimal digits")
            elif sha256(bytes.fromhex(row["salt"]) + canonical(row["payload"]).encode()) != entry["payload_digest"]:
                self.faults.append(f"entry {name}: the payload does not match its digest")
            before[entry["device"]] = entry
        heads = [{"device": name, "n": before[name]["n"], "hash": before[name]["hash"]} for name in sorted(before)]
        said = {"entries": len(self.entries), "receipts": len(self.receipts), "heads": heads}
        said["case"] = self.entries[0]["case"] if self.entries else ""
        if "heads.json" not in self.files or self.read("heads.json") != (canonical(said) + "\n").encode():
            self.faults.append("heads.json does not say what the entries say")

    def check_receipts(self) -> None:
        known = {entry["hash"] for entry in self.entries}
        for row in self.aside:
            try:
                said = parse_envelope(row["envelope"])
                same = [said["case"], said["device"], said["n"]] == [row["case"], row["device"], row["n"]]
            except Wrong:
                same = False
            if not same or sha256(row["envelope"].encode()) != row["hash"] or not MOMENT.fullmatch(row["at"]):
                self.faults.append(f"what was set aside as {row['device']}/{row['n']} does not match its envelope")
            self.notes.append(f"entry {row['device']}/{row['n']} was set aside: {row['reason']}")
        named = known | {row["hash"] for row in self.aside}
        last: dict[str, tuple[int, str]] = {}
        for receipt in sorted(self.receipts, key=lambda receipt: (receipt["store"], receipt["arrival"])):
            arrival, prev = last.get(receipt["store"], (-1, ""))
            content = {name: part for name, part in receipt.items() if name != "hash"}
            sound = receipt["arrival"] == arrival + 1 and receipt["prev"] == prev and MOMENT.fullmatch(receipt["at"])
            if not sound or sha256(canonical(content).encode()) != receipt["hash"] or receipt["entry"] not in named:
                self.faults.append(f"receipt {receipt['arrival']} of store {receipt['store']} does not fit")
            last[receipt["store"]] = (receipt["arrival"], receipt["hash"])
        missing = known - {receipt["entry"] for receipt in self.receipts}
        self.faults.extend(f"entry {each[:12]} has no receipt" for each in sorted(missing))
