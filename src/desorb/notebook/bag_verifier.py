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
from typing import Any, BinaryIO

MOST_FILES, MOST_BYTES, LONGEST_LINE, LONGEST_ASIDE, LARGEST_NUMBER = 10_000, 2**31, 2**20, 2**22, 2**53 - 1
Row = dict[str, Any]
Parts = dict[str, type]
ENVELOPE: Parts = {"n": int, "clock": int, "monotonic": int, "case": str, "device": str, "prev": str, "kind": str}
ENVELOPE.update(schema=str, claimed_at=str, algorithm=str, payload_digest=str)
PAYLOAD: Parts = {"entry": str, "payload": dict, "salt": str}
RECEIPT: Parts = {"arrival": int, **dict.fromkeys(["case", "store", "at", "entry", "prev", "hash"], str)}
ASIDE: Parts = {"n": int, **dict.fromkeys(["case", "device", "hash", "envelope", "salt", "body", "reason", "at"], str)}
FORBIDDEN = re.compile(r"fetch\.txt|(tag)?manifest-(?!sha256\.txt)[^/]*\.txt")
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{3})?Z")
NAMED = {"photo": "photos", "file-taken": "files", "logger-taken": "files", "report-issued": "report"}
NEVER_REMOVED = ("case-opened", "removal", "strike", "report-issued")
LIMITS = """What this does not prove: that a reading is true; that the clock of a device was right; when an entry really
arrived (receipts are the word of a store); who wrote an entry; that tables in csv and json say what the entries say."""


class Wrong(Exception): ...


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


def parse(line: bytes, parts: Parts, in_form: bool = True) -> Row:
    """One JSON object with just these parts, in canonical form unless that is what was wrong with it."""

    def once(pairs: list[Any]) -> Row:
        if len(dict(pairs)) < len(pairs):
            raise Wrong("a name stands twice in one object")
        return dict(pairs)

    try:
        text = line.decode()
        value = json.loads(text, object_pairs_hook=once)
        again = canonical(value)
    except (ValueError, RecursionError):
        raise Wrong("it cannot be read") from None
    if not isinstance(value, dict) or {name: type(part) for name, part in value.items()} != parts:
        raise Wrong("it has other parts than it should")
    if in_form and again != text:
        raise Wrong("it is not in canonical form")
    return value


class Bag:
    def __init__(self, folder: str) -> None:
        self.folder, self.faults, self.notes = folder, list[str](), list[str]()
        self.files: dict[str, tuple[str, int]] = {}
        self.entries: list[Row] = []
        self.payloads: dict[str, Row] = {}

    def look(self) -> None:
        """Every file, hashed. A link or an odd name ends it: nothing of such a bag is read."""
        twins: set[str] = set()
        total, count, waiting = 0, 0, [""]
        while waiting:
            inside = waiting.pop()
            for base in os.listdir(os.path.join(self.folder, inside)):
                name, count = inside + base, count + 1
                info = os.lstat(os.path.join(self.folder, name))
                key = unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
                odd = any(ord(each) < 32 or each in "\\:\x7f" or 0xD800 <= ord(each) < 0xE000 for each in base)
                odd = odd or base[0] == "~" or base[-1] in ". " or len(base.encode("utf-8", "replace")) > 255
                if odd or count > MOST_FILES:
                    raise Wrong(f"{name!r} is not a name that every system can hold, or one too many")
                if stat.S_ISDIR(info.st_mode):
                    waiting.append(name + "/")
                    continue
                if key in twins or not stat.S_ISREG(info.st_mode) or FORBIDDEN.fullmatch(key):
                    raise Wrong(f"{name} is a link, no plain file, a twin, or may not stand in this bag")
                twins.add(key)
                total += info.st_size
                if total > MOST_BYTES:
                    raise Wrong("the bag is too large")
                digest = hashlib.sha256()
                with self.open(name) as file:
                    for chunk in iter(lambda: file.read(1 << 20), b""):
                        digest.update(chunk)
                self.files[name] = (digest.hexdigest(), info.st_size)

    def open(self, name: str) -> BinaryIO:
        return open(os.path.join(self.folder, name), "rb")

    def read(self, name: str) -> bytes:
        if name not in self.files:
            return b""
        with self.open(name) as file:
            return file.read(1 << 23)

    def check_form(self) -> None:
        if self.read("bagit.txt") != b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n":
            self.faults.append("bagit.txt is missing or does not say exactly that this is BagIt 1.0 in UTF-8")
        payload = {name: seen for name, seen in self.files.items() if name.startswith("data/")}
        beside = {name: seen for name, seen in self.files.items() if name not in payload}
        beside.pop("tagmanifest-sha256.txt", None)
        for manifest, covered in (("manifest-sha256.txt", payload), ("tagmanifest-sha256.txt", beside)):
            lines = sorted((name.replace("%", "%25"), seen[0]) for name, seen in covered.items())
            wanted = "".join(f"{digest}  {name}\n" for name, digest in lines).encode()
            text = self.read(manifest)
            if manifest not in self.files:
                self.faults.append(f"{manifest} is missing")
            elif text != wanted:
                odd = {line[66:].decode(errors="replace") for line in set(text.split(b"\n")) ^ set(wanted.split(b"\n"))}
                self.faults.append(f"{manifest} does not fit the files: {', '.join(sorted(odd)) or 'its form'}")
        oxum = f"{sum(size for _, size in payload.values())}.{len(payload)}".encode()
        if re.findall(rb"(?im)^Payload-Oxum:[ \t]*([^\r\n]*)", self.read("bag-info.txt")) not in ([], [oxum]):
            self.faults.append("bag-info.txt states another Payload-Oxum")

    def lines(self, name: str, parts: Parts) -> list[Row]:
        rows: list[Row] = []
        longest = LONGEST_ASIDE if parts is ASIDE else LONGEST_LINE
        with self.open(name) as file:
            for number, line in enumerate(iter(lambda: file.readline(longest + 1), b""), start=1):
                try:
                    if not line.endswith(b"\n"):
                        raise Wrong("it breaks off or is too long")
                    rows.append(parse(line[:-1], parts))
                    rows[-1].setdefault("hash", sha256(line[:-1]))
                except Wrong as problem:
                    self.faults.append(f"{name}: line {number} cannot be taken: {problem}")
        return rows

    def check_record(self) -> None:
        self.entries = self.lines("data/entries.jsonl", ENVELOPE)
        receipts, aside = self.lines("data/receipts.jsonl", RECEIPT), self.lines("data/set-aside.jsonl", ASIDE)
        known = {entry["hash"] for entry in self.entries}
        for name in sorted(name for name in self.files if re.fullmatch(r"data/payloads/[^/]+\.jsonl", name)):
            for row in self.lines(name, PAYLOAD):
                if row["entry"] not in known or row["entry"] in self.payloads:
                    self.faults.append(f"{name}: a payload stands twice or belongs to no entry ({row['entry'][:12]})")
                self.payloads[row["entry"]] = row
        case = self.entries[0]["case"] if self.entries else ""
        for what, rows in (("clock device n hash", self.entries), ("store arrival", receipts), ("hash reason", aside)):
            keys = [tuple(row[part] for part in what.split()) for row in rows]
            if keys != sorted(set(keys)) or any(row["case"] != case for row in rows):
                self.faults.append(f"lines stand twice, not in their order ({what}), or belong to another case")
        last = self.check_entries()
        heads = [{part: last[name][part] for part in ("device", "n", "hash")} for name in sorted(last)]
        said = {"case": case, "entries": len(self.entries), "receipts": len(receipts), "heads": heads}
        if self.read("heads.json") != (canonical(said) + "\n").encode():
            self.faults.append("heads.json does not say what the entries say")
        self.check_receipts(receipts, aside, known)

    def check_entries(self) -> dict[str, Row]:
        """Every chain and payload. Returns the last entry of each device."""
        opening = [row for row in self.entries if (row["n"], row["prev"], row["kind"]) == (0, "", "case-opened")]
        first = opening[0]["hash"] if opening else ""  # entries stand in the order of clock, device, n, hash
        if not opening:
            self.faults.append("the entry that opens the case is not here")
        removals = [self.payloads.get(each["hash"], {}) for each in self.entries if each["kind"] == "removal"]
        removed = [row["payload"].get("target") for row in removals if row]
        heads: dict[str, Row] = {}
        for entry in sorted(self.entries, key=lambda each: (each["device"], each["n"], each["hash"])):
            number, row, faults = entry["n"], self.payloads.get(entry["hash"]), []
            last: Row = heads.get(entry["device"], {"n": -1})
            follows = entry["prev"] == last.get("hash") and entry["clock"] > last["clock"]
            if entry["schema"] != "desorb/1" or entry["algorithm"] != "sha-256" or number < 0 or entry["clock"] < 1:
                faults.append("its schema, algorithm or numbers are not known here")
            if number == last["n"]:
                faults.append("another entry has the same number")
            elif number == 0 and first not in (entry["hash"], entry["prev"]):
                faults.append("it does not follow the entry that opens the case")
            elif number > 0 and number == last["n"] + 1 and not follows:
                faults.append("it does not follow the entry before it")
            entry["after a gap"] = number > last["n"] + 1
            if entry["after a gap"]:
                self.notes.append(f"device {entry['device']}: {last['n'] + 1} to {number - 1} have not arrived")
            if row is None and (entry["hash"] not in removed or entry["kind"] in NEVER_REMOVED):
                faults.append("its payload is missing, and no removal in this record names it")
            elif row is None:
                self.notes.append(f"the payload of entry {entry['device']}/{number} was removed")
            elif not re.fullmatch("[0-9a-f]{32}", row["salt"]):
                faults.append("the salt is not 32 hexadecimal digits")
            elif sha256(bytes.fromhex(row["salt"]) + canonical(row["payload"]).encode()) != entry["payload_digest"]:
                faults.append("the payload does not match its digest")
            self.faults.extend(f"entry {entry['device']}/{number}: {fault}" for fault in faults)
            heads[entry["device"]] = entry
        return heads

    def check_receipts(self, receipts: list[Row], aside: list[Row], known: set[str]) -> None:
        for row in aside:
            try:
                said = parse(row["envelope"].encode(), ENVELOPE, in_form=False)
                same = all(said[part] == row[part] for part in ("case", "device", "n"))
            except Wrong:
                same = False
            if not (same and sha256(row["envelope"].encode()) == row["hash"] and MOMENT.fullmatch(row["at"])):
                self.faults.append(f"what was set aside as {row['device']}/{row['n']} does not match its envelope")
            self.notes.append(f"entry {row['device']}/{row['n']} was set aside: {row['reason']}")
        named = known | {row["hash"] for row in aside}
        last: dict[str, tuple[int, str]] = {}
        for receipt in sorted(receipts, key=lambda receipt: (receipt["store"], receipt["arrival"])):
            content = canonical({name: part for name, part in receipt.items() if name != "hash"})
            follows = (receipt["arrival"] - 1, receipt["prev"]) == last.get(receipt["store"], (-1, ""))
            sound = MOMENT.fullmatch(receipt["at"]) and sha256(content.encode()) == receipt["hash"]
            if not (follows and sound and receipt["entry"] in named):
                self.faults.append(f"receipt {receipt['arrival']} of store {receipt['store']} does not fit")
            last[receipt["store"]] = (receipt["arrival"], receipt["hash"])
        self.faults += [f"entry {each[:12]} has no receipt" for each in known - {row["entry"] for row in receipts}]

    def check_originals(self) -> None:
        here: dict[tuple[str, str], str] = {}
        for name in sorted(self.files):
            parts = re.fullmatch(r"data/(photos|files|report)/([^/.]*)\.?[^/]*", name)
            if parts and (self.files[name][0] != parts[2] or here.setdefault((parts[1], parts[2]), name) != name):
                self.faults.append(f"{name} does not hold the bytes that it is named after, or stands twice")
        for entry in self.entries:
            payload = self.payloads.get(entry["hash"], {}).get("payload", {})
            folder = NAMED.get(entry["kind"].replace("plan-picture", "photo"), "")
            digest, size = str(payload.get({"": "", "report": "pdf_sha256"}.get(folder, "sha256"))), payload.get("size")
            found = here.get((folder, digest), "")
            where = f"{folder}/{digest[:12]} of entry {entry['device']}/{entry['n']}"
            if not found and re.fullmatch("[0-9a-f]{64}", digest):
                self.notes.append(f"{where} is not here: it is awaited")
            elif found and folder == "photos" and type(size) is int and size != self.files[found][1]:
                self.faults.append(f"{where} has {self.files[found][1]} bytes; its entry says {size}")

    def check_heads(self, heads: list[str]) -> None:
        covered: dict[str, int] = {}
        for given in heads:
            head = "".join(given.split()).lower()[-64:]  # a whole printed line ends with the hash
            found = [entry for entry in self.entries if entry["hash"].startswith(head)]
            if not re.fullmatch("[0-9a-f]{12,64}", head) or len({entry["hash"] for entry in found}) > 1:
                self.faults.append(f"{given!r} is no head, or fits more than one entry: give 12 to 64 of its digits")
            elif not found:
                self.faults.append(f"the printed head {head[:12]} is not here: entries were changed or removed since")
            else:
                device, n = found[0]["device"], found[0]["n"]
                rows = [row for row in self.entries if row["device"] == device and row["n"] > n]
                bearing = sum(row["kind"] != "report-issued" for row in rows)
                covered[device] = max(n, covered.get(device, n))
                said = f"after it: {len(rows)} entries, {bearing} of them evidence"
                weak = " (give 32 of its digits to shut out a forger)" if len(head) < 32 else ""
                self.notes.append(f"the head {head[:12]} is entry {device}/{n}; {said}{weak}")
        for entry in self.entries:
            if entry["after a gap"] and entry["n"] <= covered.get(entry["device"], -1):
                self.faults.append(f"entries are missing before {entry['device']}/{entry['n']} and the printed head")
        for device in sorted({entry["device"] for entry in self.entries} - set(covered)):
            self.notes.append(f"no head was given for {device}: whoever keeps the record could write it anew")


def check(folder: str, heads: list[str]) -> Bag:
    bag = Bag(folder)
    try:
        for step in (bag.look, bag.check_form, bag.check_record, bag.check_originals, lambda: bag.check_heads(heads)):
            step()
    except (Wrong, OSError) as problem:
        bag.faults.append(f"the bag cannot be read: {problem}")
    return bag


def main(arguments: list[str] | None = None) -> int:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("folder", nargs="?", default=os.path.dirname(os.path.abspath(__file__)))
    asked.add_argument("--head", dest="heads", action="append", default=[], help="a head printed on a report")
    bag = check(**vars(asked.parse_args(arguments)))
    count = f"{len(bag.entries)} entries, {len(bag.files)} files, {len(bag.faults) or 'no'} faults."
    for line in [*(f"FAULT: {each}" for each in bag.faults), *(f"Note: {each}" for each in bag.notes), count, LIMITS]:
        print(re.sub(r"[^\n -~]", "?", line))  # what a stranger wrote may hold more than a terminal should get
    return 5 if bag.faults else 0


if __name__ == "__main__":
    sys.exit(main())
