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

MOST_FILES, MOST_BYTES, LONGEST_LINE, LONGEST_ASIDE, LARGEST_NUMBER = 10_000, 2**31, 2**20, 2**22, 2**53 - 1
ENVELOPE: dict[str, type] = dict.fromkeys(
    ["case", "device", "prev", "kind", "schema", "claimed_at", "algorithm", "payload_digest"], str
)
ENVELOPE.update(n=int, clock=int, monotonic=int)
PAYLOAD: dict[str, type] = {"entry": str, "payload": dict, "salt": str}
RECEIPT: dict[str, type] = {**dict.fromkeys(["case", "store", "at", "entry", "prev", "hash"], str), "arrival": int}
ASIDE: dict[str, type] = dict.fromkeys(["case", "device", "hash", "envelope", "salt", "body", "reason", "at"], str)
ASIDE["n"] = int
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{3})?Z")
NAMED = {
    "photo": [("photos", "sha256")],
    "file-taken": [("files", "sha256")],
    "report-issued": [("report", "pdf_sha256"), ("report", "twin_sha256")],
}
LIMITS = """What this does not prove: that a reading is true; that the clock of a device was right; when an entry really
arrived (receipts are the word of a store); who wrote an entry; that tables in csv and json say what the entries say."""


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


def parse(line: bytes, parts: dict[str, type], in_form: bool = True) -> dict[str, Any]:
    """One JSON object with just these parts, in canonical form unless that is what was wrong with it."""

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
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
        self.folder = folder
        self.faults: list[str] = []
        self.notes: list[str] = []
        self.files: dict[str, tuple[str, int]] = {}
        self.entries: list[dict[str, Any]] = []
        self.payloads: dict[str, dict[str, Any]] = {}

    def look(self) -> None:
        """Every file, hashed. A link or an odd name ends it: nothing of such a bag is read."""
        twins: set[str] = set()
        total = count = 0
        waiting = [""]
        while waiting:
            inside = waiting.pop()
            for base in os.listdir(os.path.join(self.folder, inside)):
                name, path = inside + base, os.path.join(self.folder, inside, base)
                mode, count = os.lstat(path).st_mode, count + 1
                key = unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
                odd = any(ord(each) < 32 or each in "\\:\x7f" or 0xD800 <= ord(each) < 0xE000 for each in base)
                if odd or base[0] == "~" or base[-1] in ". " or len(base.encode("utf-8", "replace")) > 255:
                    raise Wrong(f"{name!r} is not a name that every system can hold")
                if stat.S_ISDIR(mode):
                    waiting.append(name + "/")
                    continue
                if key in twins or not stat.S_ISREG(mode) or count > MOST_FILES:
                    raise Wrong(f"{name} is a link, no plain file, a twin of another name, or one file too many")
                twins.add(key)
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
        if name not in self.files:
            return b""
        with open(os.path.join(self.folder, name), "rb") as file:
            return file.read(1 << 23)

    def check_form(self) -> None:
        for name in self.files:
            if name.lower() == "fetch.txt" or re.fullmatch(
                r"(tag)?manifest-(?!sha256\.txt)[^/]*\.txt", name.casefold()
            ):
                self.faults.append(f"{name} may not stand in this bag")
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
                    rows.append(parse(line[:-1], parts))
                    rows[-1].setdefault("hash", sha256(line[:-1]))
                except Wrong as problem:
                    self.faults.append(f"{name}: line {number} cannot be taken: {problem}")
                    if len(self.faults) > 200:
                        break
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
        for what, rows, order in (
            ("entries", self.entries, ("clock", "device", "n", "hash")),
            ("receipts", receipts, ("store", "arrival")),
            ("things set aside", aside, ("hash", "reason")),
        ):
            keys = [tuple(row[part] for part in order) for row in rows]
            if any(keys[place] >= keys[place + 1] for place in range(len(keys) - 1)):
                self.faults.append(f"the {what} stand twice or not in their order")
            if any(row["case"] != case for row in rows):
                self.faults.append(f"{what} of another case stand in this bag")
        self.check_entries()
        last: dict[str, dict[str, Any]] = {}
        for row in self.entries:
            if row["n"] >= last.get(row["device"], row)["n"]:
                last[row["device"]] = row
        heads = [{"device": name, "n": last[name]["n"], "hash": last[name]["hash"]} for name in sorted(last)]
        said = {"case": case, "entries": len(self.entries), "receipts": len(receipts), "heads": heads}
        if self.read("heads.json") != (canonical(said) + "\n").encode():
            self.faults.append("heads.json does not say what the entries say")
        self.check_receipts(receipts, aside, known)

    def check_entries(self) -> None:
        opening = [
            each for each in self.entries if each["n"] == 0 and each["prev"] == "" and each["kind"] == "case-opened"
        ]
        first = min(opening, key=lambda each: (each["clock"], each["device"], each["hash"]))["hash"] if opening else ""
        if not opening:
            self.faults.append("the entry that opens the case is not here")
        removals = [self.payloads.get(each["hash"], {}) for each in self.entries if each["kind"] == "removal"]
        removed = [row["payload"].get("target") for row in removals if row]
        before: dict[str, Any] = {"device": None}
        for entry in sorted(self.entries, key=lambda each: (each["device"], each["n"], each["hash"])):
            number, row, faults = entry["n"], self.payloads.get(entry["hash"]), []
            last = before if before["device"] == entry["device"] else {"n": -1}
            if entry["schema"] != "desorb/1" or entry["algorithm"] != "sha-256" or number < 0 or entry["clock"] < 1:
                faults.append("its schema, algorithm or numbers are not known here")
            if number == last["n"]:
                faults.append("another entry has the same number")
            elif number == 0 and first not in (entry["hash"], entry["prev"]):
                faults.append("it does not follow the entry that opens the case")
            elif (
                number == last["n"] + 1 > 0
                and number
                and (entry["prev"] != last["hash"] or entry["clock"] <= last["clock"])
            ):
                faults.append("it does not follow the entry before it")
            entry["after a gap"] = number > last["n"] + 1
            if entry["after a gap"]:
                self.notes.append(f"device {entry['device']}: {last['n'] + 1} to {number - 1} have not arrived")
            if row is None and (entry["hash"] not in removed or entry["kind"] in ("case-opened", "removal")):
                faults.append("its payload is missing, and no removal in this record names it")
            elif row is None:
                self.notes.append(f"the payload of entry {entry['device']}/{number} was removed")
            elif not re.fullmatch("[0-9a-f]{32}", row["salt"]):
                faults.append("the salt is not 32 hexadecimal digits")
            elif sha256(bytes.fromhex(row["salt"]) + canonical(row["payload"]).encode()) != entry["payload_digest"]:
                faults.append("the payload does not match its digest")
            self.faults.extend(f"entry {entry['device']}/{number}: {fault}" for fault in faults)
            before = entry

    def check_receipts(self, receipts: list[dict[str, Any]], aside: list[dict[str, Any]], known: set[str]) -> None:
        for row in aside:
            try:
                said = parse(row["envelope"].encode(), ENVELOPE, in_form=False)
                same = all(said[part] == row[part] for part in ("case", "device", "n"))
            except Wrong:
                same = False
            if not same or sha256(row["envelope"].encode()) != row["hash"] or not MOMENT.fullmatch(row["at"]):
                self.faults.append(f"what was set aside as {row['device']}/{row['n']} does not match its envelope")
            self.notes.append(f"entry {row['device']}/{row['n']} was set aside: {row['reason']}")
        last: dict[str, Any] = {"store": None}
        for receipt in sorted(receipts, key=lambda receipt: (receipt["store"], receipt["arrival"])):
            before = last if last["store"] == receipt["store"] else {"arrival": -1, "hash": ""}
            content = canonical({name: part for name, part in receipt.items() if name != "hash"})
            follows = (receipt["arrival"], receipt["prev"]) == (before["arrival"] + 1, before["hash"])
            there = receipt["entry"] in known or any(row["hash"] == receipt["entry"] for row in aside)
            if not (
                follows and there and MOMENT.fullmatch(receipt["at"]) and sha256(content.encode()) == receipt["hash"]
            ):
                self.faults.append(f"receipt {receipt['arrival']} of store {receipt['store']} does not fit")
            last = receipt
        missing = known - {receipt["entry"] for receipt in receipts}
        self.faults.extend(f"entry {each[:12]} has no receipt" for each in sorted(missing))

    def check_originals(self) -> None:
        here: dict[tuple[str, str], str] = {}
        for name in sorted(self.files):
            parts = re.fullmatch(r"data/(photos|files|report)/([^/.]*)\.?[^/]*", name)
            if parts and (self.files[name][0] != parts[2] or (parts[1], parts[2]) in here):
                self.faults.append(f"{name} does not hold the bytes that it is named after, or stands twice")
            if parts:
                here[parts[1], parts[2]] = name
        for entry in self.entries:
            payload = self.payloads.get(entry["hash"], {}).get("payload", {})
            for folder, part in NAMED.get(entry["kind"], []):
                digest, size = payload.get(part), payload.get("size")
                name = here.get((folder, digest)) if isinstance(digest, str) else None
                where = f"{folder}/{str(digest)[:12]} of entry {entry['device']}/{entry['n']}"
                if name is None and part != "twin_sha256" and re.fullmatch("[0-9a-f]{64}", str(digest)):
                    self.notes.append(f"{where} is not here: it is awaited")
                elif name and folder == "photos" and type(size) is int and size != self.files[name][1]:
                    self.faults.append(f"{where} has {self.files[name][1]} bytes; its entry says {size}")

    def check_heads(self, heads: list[str]) -> None:
        covered: dict[str, int] = {}
        for given in heads:
            head = "".join(given.split()).lower()
            found = [entry for entry in self.entries if entry["hash"].startswith(head)]
            if not re.fullmatch("[0-9a-f]{12,64}", head) or len({entry["hash"] for entry in found}) > 1:
                self.faults.append(f"{given!r} is no head, or fits more than one entry: give 12 to 64 of its digits")
            elif not found:
                self.faults.append(
                    f"the head {head[:12]} printed on the report is not in this record:"
                    " entries were changed or taken away after it was printed"
                )
            else:
                device, n = found[0]["device"], found[0]["n"]
                later = [each for each in self.entries if each["device"] == device and each["n"] > n]
                bearing = sum(each["kind"] != "report-issued" for each in later)
                covered[device] = max(n, covered.get(device, n))
                self.notes.append(
                    f"head {head[:12]} is entry {device}/{n}; after it: {len(later)} entries, {bearing} of them evidence"
                )
                if len(head) < 32:
                    self.notes.append(f"only {len(head)} digits of this head were given: give 32 to shut out a forger")
        for entry in self.entries:
            if entry["after a gap"] and entry["n"] <= covered.get(entry["device"], -1):
                self.faults.append(f"entries are missing before {entry['device']}/{entry['n']} and the printed head")
        loose = sorted({entry["device"] for entry in self.entries} - set(covered))
        if loose:
            self.notes.append(f"no head was given for {', '.join(loose)}: whoever keeps the record could write it anew")


def check(folder: str, heads: list[str]) -> Bag:
    bag = Bag(folder)
    try:
        bag.look()
        bag.check_form()
        bag.check_record()
        bag.check_originals()
        bag.check_heads(heads)
    except (Wrong, OSError) as problem:
        bag.faults.append(f"the bag cannot be read: {problem}")
    return bag


def main(arguments: list[str] | None = None) -> int:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("folder", nargs="?", default=os.path.dirname(os.path.abspath(__file__)))
    asked.add_argument("--head", action="append", default=[], help="a head printed on a report, at least 12 digits")
    given = asked.parse_args(arguments)
    bag = check(given.folder, given.head)
    for fault in bag.faults:
        print("FAULT:", fault)
    for note in bag.notes:
        print("Note:", note)
    print(f"{len(bag.entries)} entries, {len(bag.files)} files: {len(bag.faults) or 'no'} faults.")
    print(LIMITS)
    return 5 if bag.faults else 0


if __name__ == "__main__":
    sys.exit(main())
