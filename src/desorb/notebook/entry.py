"""One entry of the record: an envelope that is hashed and never removed, and a payload that is only digested.

Contents: canonical form (RFC 8785, without floats); Entry; seal (make one); check_entry (does it hold together?).
Hash of an entry = SHA-256 of the canonical envelope. Payload digest = SHA-256(salt || canonical payload).
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
from dataclasses import dataclass
from typing import Any

import rfc8785

from desorb.errors import NotUnderstood

ALGORITHM = "sha-256"
SCHEMA = "desorb/1"
SALT_BYTES = 16
SALT = re.compile(r"[0-9a-f]{32}")  # of one length and one spelling, so that nothing can move from payload to salt
LARGEST_INTEGER = 2**53 - 1  # [RFC8785] integers beyond it do not survive as IEEE doubles
DEEPEST = 64  # lists and objects inside one another; a record needs 4. A limit of the stack would vary with the caller
LONGEST_ENVELOPE = 1 << 13
LONGEST_PAYLOAD = 1 << 19  # characters: what arrives from elsewhere can always be set aside, stored and exported
ENVELOPE_FIELDS = (
    "case", "device", "n", "prev", "clock", "kind", "schema", "claimed_at", "monotonic", "algorithm", "payload_digest",
)  # fmt: skip
_INTEGER_FIELDS = ("n", "clock", "monotonic")


def canonical(value: Any) -> bytes:
    """The one byte string of a value: RFC 8785, restricted to text, whole numbers, yes/no, lists and objects."""
    _refuse_what_is_not_hashed(value, "value")
    return rfc8785.dumps(value)  # what the library would refuse has been refused in words before


def _refuse_what_is_not_hashed(value: Any, where: str, depth: int = 0) -> None:
    kind = type(value)
    if depth > DEEPEST:
        raise NotUnderstood("a value is nested too deeply", wanted=f"at most {DEEPEST} levels")
    if kind is str:
        if not value.isascii():
            try:
                value.encode("utf-8")
            except UnicodeEncodeError as problem:
                raise NotUnderstood(f"{where} holds half a character", got=repr(value)) from problem
    elif kind is bool:
        return
    elif kind is int:
        if abs(value) > LARGEST_INTEGER:
            raise NotUnderstood(
                f"{where} is too large a whole number", got=f"{value.bit_length()} bits", wanted="at most 2^53 - 1"
            )
    elif kind is dict:
        for key, part in value.items():
            if type(key) is not str:
                raise NotUnderstood(f"{where} has a name that is not text", got=repr(key))
            _refuse_what_is_not_hashed(key, where)
            _refuse_what_is_not_hashed(part, f"{where}.{key}", depth + 1)
    elif kind is list:
        for position, part in enumerate(value):
            _refuse_what_is_not_hashed(part, f"{where}[{position}]", depth + 1)
    else:
        raise NotUnderstood(
            f"{where} may not stand in a record",
            got=kind.__name__,
            wanted="text, a whole number, yes/no, a list or an object; a measured value travels as typed",
        )


def read_object(text: str | bytes) -> dict[str, Any]:
    """Parse one JSON object strictly: no repeated names, no floats, no NaN, no null."""

    def no_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for name, value in pairs:
            if name in found:
                raise NotUnderstood("a name stands twice in one object", got=name)
            found[name] = value
        return found

    def refuse(number: str) -> Any:
        raise NotUnderstood("a number with a decimal mark may not stand in a record", got=number)

    try:
        value = json.loads(text, object_pairs_hook=no_repeats, parse_float=refuse, parse_constant=refuse)
    except (ValueError, RecursionError) as problem:
        raise NotUnderstood(f"this is not a JSON object: {problem}") from problem
    if type(value) is not dict:
        raise NotUnderstood("this is not a JSON object", got=type(value).__name__)
    _refuse_what_is_not_hashed(value, "value")
    return value


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry as kept: both texts are canonical, so hashing them again needs no parsing.

    `payload_text` and `salt` are None when the payload was lawfully removed or has not arrived.
    """

    case: str
    device: str
    n: int
    prev: str
    clock: int
    kind: str
    claimed_at: str
    hash: str
    envelope_text: str
    payload_digest: str
    salt: str | None
    payload_text: str | None

    @property
    def name(self) -> str:
        return f"{self.device}/{self.n}"

    def payload(self) -> dict[str, Any]:
        if self.payload_text is None:
            raise NotUnderstood(
                f"the payload of entry {self.name} is not here",
                next_step="look it up in the record of the case: it was removed, or it has not arrived yet",
            )
        return read_object(self.payload_text)


def digest_of_payload(salt: str, payload_text: str) -> str:
    return hashlib.sha256(bytes.fromhex(salt) + payload_text.encode()).hexdigest()


def digest_of_envelope(envelope_text: str) -> str:
    return hashlib.sha256(envelope_text.encode()).hexdigest()


def seal(
    *,
    case: str,
    device: str,
    n: int,
    prev: str,
    clock: int,
    kind: str,
    claimed_at: str,
    monotonic: int,
    payload: dict[str, Any],
    salt: str | None = None,
) -> Entry:
    """Make an entry. `prev` is '' only for the entry that opens a case."""
    salt = secrets.token_hex(SALT_BYTES) if salt is None else salt
    payload_text = canonical(payload).decode()
    digest = digest_of_payload(salt, payload_text)
    envelope = {
        "case": case, "device": device, "n": n, "prev": prev, "clock": clock, "kind": kind, "schema": SCHEMA,
        "claimed_at": claimed_at, "monotonic": monotonic, "algorithm": ALGORITHM, "payload_digest": digest,
    }  # fmt: skip
    return entry_of(canonical(envelope).decode(), salt, payload_text)


def entry_of(envelope_text: str, salt: str | None, payload_text: str | None) -> Entry:
    """Read an entry from its texts. Raises NotUnderstood when the envelope is not one; does not check digests."""
    if max(len(envelope_text), len(salt or "")) > LONGEST_ENVELOPE or len(payload_text or "") > LONGEST_PAYLOAD:
        raise NotUnderstood("an entry is too long", wanted=f"at most {LONGEST_PAYLOAD} characters")
    _refuse_half_characters(envelope_text, salt or "", payload_text or "")
    envelope = read_object(envelope_text)
    if set(envelope) != set(ENVELOPE_FIELDS):
        odd = sorted(set(envelope) ^ set(ENVELOPE_FIELDS))
        raise NotUnderstood("the envelope has other parts than it should", got=", ".join(odd))
    for name in ENVELOPE_FIELDS:
        wanted = int if name in _INTEGER_FIELDS else str
        if type(envelope[name]) is not wanted:
            raise NotUnderstood(f"envelope part {name} is of the wrong kind", got=repr(envelope[name]))
    if envelope["n"] < 0 or envelope["clock"] < 1:
        raise NotUnderstood("the envelope counts from n = 0 and clock = 1", got=f"{envelope['n']}, {envelope['clock']}")
    if (salt is None) != (payload_text is None):
        raise NotUnderstood("a payload and its salt come together or not at all")
    return Entry(
        case=envelope["case"],
        device=envelope["device"],
        n=envelope["n"],
        prev=envelope["prev"],
        clock=envelope["clock"],
        kind=envelope["kind"],
        claimed_at=envelope["claimed_at"],
        hash=digest_of_envelope(envelope_text),
        envelope_text=envelope_text,
        payload_digest=envelope["payload_digest"],
        salt=salt,
        payload_text=payload_text,
    )


def _refuse_half_characters(*texts: str) -> None:
    """What cannot be written in UTF-8 can be neither hashed nor stored, not even set aside."""
    try:
        "".join(texts).encode()
    except UnicodeEncodeError as problem:
        raise NotUnderstood("an entry holds half a character", got=repr(problem.object[problem.start])) from problem


def fault_of(entry: Entry) -> str:
    """Why this entry does not hold together, or ''. A removed payload is not a fault."""
    envelope = read_object(entry.envelope_text)
    if envelope["schema"] != SCHEMA or envelope["algorithm"] != ALGORITHM:
        return f"schema {envelope['schema']} with {envelope['algorithm']} is not known to this version"
    if canonical(envelope).decode() != entry.envelope_text:
        return "the envelope is not in canonical form"
    if digest_of_envelope(entry.envelope_text) != entry.hash:
        return "the envelope does not match its hash"
    if entry.payload_text is None or entry.salt is None:
        return ""
    if not SALT.fullmatch(entry.salt):
        return "the salt is not 32 hexadecimal digits"
    if digest_of_payload(entry.salt, entry.payload_text) != entry.payload_digest:
        return "the payload does not match its digest"
    try:
        in_form = canonical(read_object(entry.payload_text)).decode() == entry.payload_text
    except NotUnderstood as problem:
        return problem.what
    return "" if in_form else "the payload is not in canonical form"
