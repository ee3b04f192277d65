"""The plain words that travel in a bag: what it is, how to check it without desorb, and how it was made."""

from __future__ import annotations

README = """\
WHAT THIS IS

This folder is the record of one case: what was written down when a damp or
water-damaged building was surveyed. It is a "bag" (BagIt 1.0, RFC 8493): the
record is in the folder "data", and the files beside it say what must be in it.

    data/entries.jsonl      every entry, one a line, in the order they are read
    data/payloads/          what each entry says, one file a device
    data/receipts.jsonl     when a store received each entry
    data/set-aside.jsonl    entries that could not be accepted, with the reason
    data/photos/            original photos, named by their SHA-256
    data/files/             files that readings were taken from
    data/report/            reports that were issued
    data/csv/, data/json/   tables made from the entries, for reading only
    heads.json              the last entry of each device
    process.txt             how the record was made and what is hashed
    bag-info.txt            when and with what this bag was made

HOW TO CHECK IT

You need Python 3.9 or newer and nothing else. In this folder, run

    python3 verify.py

If you hold a report of this case, type the heads printed on it, too:

    python3 verify.py --head "1234abcd ..." --head "..."

Without a head from outside, this check cannot tell whether whoever kept the
record wrote all of it anew. With a head, it can, for everything up to that head
on the same device.

It answers with sentences, and ends with exit status 0 when nothing is wrong and
5 when something is. verify.py came with the bag: when it matters, use a copy
from another source, or write your own from process.txt.

WHAT IT DOES NOT PROVE

- That a reading is true. It shows what was written down, not what was there.
- That the clock of a device was right. Times in entries are what devices claimed.
- When an entry really arrived. Receipts are the word of the store that wrote them.
- Who wrote an entry. Nothing in this record is signed.
- That nothing was left out before it was written down, or that an entry which was
  awaited when the bag was made does not exist.
- That the tables in data/csv and data/json say what the entries say: make them
  again from the entries to know.
"""

PROCESS = """\
HOW THIS RECORD WAS MADE

Case:      {case}
Software:  {software}
Bag made:  {now}
Entries:   {entries}
Heads (device, number of the last entry, its hash):
{heads}

Algorithm: SHA-256 (FIPS 180-4) throughout; written as 64 small hexadecimal digits.
Canonical form: RFC 8785 (JSON), restricted to text, whole numbers up to 2^53 - 1,
yes/no, lists and objects. Names are sorted by their UTF-16 code units. Measured
values are text, exactly as typed.

WHAT IS HASHED

1. Payload. payload_digest = SHA-256(salt followed by the canonical payload). The
   salt is 16 random bytes, written as 32 hexadecimal digits.
   In data/payloads each line is {{"entry": ..., "payload": ..., "salt": ...}}.
2. Entry. Its hash = SHA-256 of its line in data/entries.jsonl without the line feed.
   The line holds: case, device, n, prev, clock, kind, schema, claimed_at, monotonic,
   algorithm, payload_digest.
3. Chain. For each device n counts from 0, and prev is the hash of entry n - 1. Entry 0
   of the device that opened the case has an empty prev; entry 0 of every other device
   has the hash of the entry that opened the case. A number that is missing has not
   arrived.
4. Receipt. Its hash = SHA-256 of the canonical object of case, store, arrival, at,
   entry, prev. For each store arrival counts from 0, and prev is the hash of receipt
   arrival - 1. Every entry has at least one receipt.
5. Photos, files and reports. Their SHA-256 stands in the payload of the entry that
   names them (sha256; pdf_sha256 and twin_sha256 for a report) and in their name.
6. Files of the bag. manifest-sha256.txt covers every file in data;
   tagmanifest-sha256.txt covers every file beside it except itself.

Order: entries are read in the order of clock, device, n. The clock is a logical one:
1 more than the highest that the device had seen in this case.

Strike: a wrong entry is never erased. An entry of kind "strike" names its hash in
"target"; the struck entry stays here.

Removal: a payload can be removed for a lawful reason. An entry of kind "removal" names
the hash in "target"; the entry keeps its place, its hash and its digest, and has no
line in data/payloads. Any other entry without a payload is a fault.

Outside this record: heads printed on reports. Only they show that the record was not
written anew by whoever keeps it.
"""
