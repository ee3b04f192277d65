"""One entry: what is hashed, what is only digested, and every way in which it may fail to hold together.

Source of the definitions: the record's own rules (envelope, payload, salt), written in notebook/entry.py.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from desorb.errors import NotUnderstood
from desorb.notebook.entry import (
    ALGORITHM,
    ENVELOPE_FIELDS,
    LONGEST_ENVELOPE,
    LONGEST_PAYLOAD,
    SCHEMA,
    Entry,
    canonical,
    digest_of_envelope,
    digest_of_payload,
    entry_of,
    fault_of,
    read_object,
    seal,
)

SALT = "00112233445566778899aabbccddeeff"


def sealed(**changes: Any) -> Entry:
    parts: dict[str, Any] = {
        "case": "c" * 32, "device": "d0d0d0d0", "n": 0, "prev": "", "clock": 1, "kind": "note",
        "claimed_at": "2026-03-02T09:00:00+00:00", "monotonic": 12, "payload": {"words": "x"}, "salt": SALT,
    }  # fmt: skip
    return seal(**(parts | changes))


def envelope_with(**changes: Any) -> str:
    """The text of an envelope, with parts changed; a part given as ... is left out."""
    envelope = read_object(sealed().envelope_text) | changes
    return canonical({name: part for name, part in envelope.items() if part is not ...}).decode()


def test_hash_and_digest_are_what_the_rules_say() -> None:
    """SHA-256 of the canonical envelope; SHA-256 of salt || canonical payload."""
    entry = sealed()
    assert entry.hash == hashlib.sha256(entry.envelope_text.encode()).hexdigest()
    assert entry.payload_digest == hashlib.sha256(bytes.fromhex(SALT) + b'{"words":"x"}').hexdigest()
    assert json.loads(entry.envelope_text)["payload_digest"] == entry.payload_digest
    assert "words" not in entry.envelope_text


def test_a_known_entry_keeps_its_hash_for_ever() -> None:
    """Golden value, made with sha256sum over the text printed here. If it changes, every record ever made breaks."""
    entry = sealed()
    digest = entry.payload_digest
    assert entry.envelope_text == (
        '{"algorithm":"sha-256","case":"cccccccccccccccccccccccccccccccc","claimed_at":"2026-03-02T09:00:00+00:00",'
        '"clock":1,"device":"d0d0d0d0","kind":"note","monotonic":12,"n":0,'
        f'"payload_digest":"{digest}","prev":"","schema":"desorb/1"}}'
    )
    assert digest == "32713a42af342249791b395eec18e157878341f85f950685c778a85c3810a3be"
    assert entry.hash == "fa3e83fc8628a48463cd5ba127a97a7d900ab0b50957f5df97801fadc688593a"


def test_the_envelope_has_the_parts_of_the_record_and_no_others() -> None:
    """Parts by the definition of the record: each hashed, none a float."""
    envelope = json.loads(sealed().envelope_text)
    assert set(envelope) == set(ENVELOPE_FIELDS) == {
        "case", "device", "n", "prev", "clock", "kind", "schema", "claimed_at", "monotonic", "algorithm",
        "payload_digest",
    }  # fmt: skip
    assert (envelope["schema"], envelope["algorithm"]) == (SCHEMA, ALGORITHM)
    assert {type(part) for part in envelope.values()} == {str, int}


def test_two_entries_of_the_same_content_differ_by_salt() -> None:
    """The digest of a removed payload may not be found again by trying likely payloads."""
    first, second = sealed(salt=None), sealed(salt=None)
    assert first.salt != second.salt
    assert first.salt is not None
    assert len(bytes.fromhex(first.salt)) == 16
    assert first.payload_digest != second.payload_digest


@pytest.mark.parametrize(
    "changes",
    [
        {"case": "e" * 32}, {"device": "d1"}, {"n": 1}, {"prev": "0" * 64}, {"clock": 2}, {"kind": "event"},
        {"claimed_at": "2026-03-02T09:00:01+00:00"}, {"monotonic": 13}, {"payload": {"words": "y"}},
        {"salt": "ff112233445566778899aabbccddeeff"},
    ],
    ids=lambda changes: next(iter(changes)),
)  # fmt: skip
def test_every_part_moves_the_hash(changes: dict[str, Any]) -> None:
    assert sealed(**changes).hash != sealed().hash


def test_a_value_travels_as_it_was_typed() -> None:
    """12.30 and 12.3 are different evidence: the resolution that the instrument showed."""
    typed = sealed(payload={"value": "12.30"})
    assert typed.payload() == {"value": "12.30"}
    assert typed.payload_digest != sealed(payload={"value": "12.3"}).payload_digest


@pytest.mark.parametrize(
    "payload", [{"value": 12.5}, {"a": [1, 2.0]}, {"a": None}, {"a": {"b": {"c": float("nan")}}}, {"a": "\ud800"}]
)
def test_what_may_not_be_hashed_makes_no_entry(payload: dict[str, Any]) -> None:
    with pytest.raises(NotUnderstood):
        sealed(payload=payload)


@pytest.mark.parametrize("changes", [{"monotonic": 1.5}, {"n": 0.0}, {"clock": 2**53}, {"claimed_at": None}])
def test_no_float_or_null_in_the_envelope(changes: dict[str, Any]) -> None:
    with pytest.raises(NotUnderstood):
        sealed(**changes)


def test_an_entry_reads_back_from_its_texts() -> None:
    entry = sealed(n=41, prev="a" * 64, clock=7)
    assert entry_of(entry.envelope_text, entry.salt, entry.payload_text) == entry
    assert entry.name == "d0d0d0d0/41"
    without = entry_of(entry.envelope_text, None, None)
    assert without.hash == entry.hash
    assert fault_of(without) == ""
    with pytest.raises(NotUnderstood, match="payload of entry d0d0d0d0/41 is not here"):
        without.payload()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[]", "not a JSON object"),
        ("{", "not a JSON object"),
        (envelope_with(prev=...), "other parts than it should"),
        (envelope_with(signature="x"), "other parts than it should"),
        (envelope_with(n="0"), "part n is of the wrong kind"),
        (envelope_with(n=True), "part n is of the wrong kind"),
        (envelope_with(clock="1"), "part clock is of the wrong kind"),
        (envelope_with(kind=3), "part kind is of the wrong kind"),
        (envelope_with(claimed_at=["2026"]), "part claimed_at is of the wrong kind"),
        (envelope_with(n=-1), "counts from n = 0"),
        (envelope_with(clock=0), "counts from n = 0 and clock = 1"),
        (sealed().envelope_text.replace('"n":0', '"n":9007199254740992'), "too large a whole number"),
        (sealed().envelope_text.replace('"n":0', '"n":0.0'), "decimal mark"),
        (sealed().envelope_text.replace('"n":0', '"n":0,"n":0'), "stands twice"),
        (sealed().envelope_text.replace('"kind":"note"', '"kind":"\\ud800"'), "half a character"),
        (sealed().envelope_text.replace('"kind":"note"', '"kind":"\ud800"'), "half a character"),
    ],
)
def test_what_is_not_an_envelope_is_refused_and_named(text: str, words: str) -> None:
    with pytest.raises(NotUnderstood, match=words):
        entry_of(text, None, None)


def test_a_payload_and_its_salt_come_together() -> None:
    """A payload without salt could not be checked, and would count all the same."""
    entry = sealed()
    for salt, payload in ((None, entry.payload_text), (entry.salt, None)):
        with pytest.raises(NotUnderstood, match="together or not at all"):
            entry_of(entry.envelope_text, salt, payload)


@pytest.mark.parametrize(("salt", "payload"), [(SALT, '{"words":"\ud800"}'), ("\udc00", '{"words":"x"}')])
def test_texts_that_cannot_be_kept_are_refused_before_the_store_meets_them(salt: str, payload: str) -> None:
    with pytest.raises(NotUnderstood, match="half a character"):
        entry_of(sealed().envelope_text, salt, payload)


def test_an_entry_may_be_so_long_and_no_longer() -> None:
    """What arrives must always fit, if only to be set aside: both sides of each limit."""
    assert sealed(kind="k" * (LONGEST_ENVELOPE - 400)).n == 0
    assert sealed(payload={"words": "x" * (LONGEST_PAYLOAD - 12)}).n == 0
    for changes in ({"kind": "k" * LONGEST_ENVELOPE}, {"payload": {"words": "x" * (LONGEST_PAYLOAD - 11)}}):
        with pytest.raises(NotUnderstood, match="too long"):
            sealed(**changes)
    with pytest.raises(NotUnderstood, match="too long"):
        entry_of(sealed().envelope_text, "0" * (LONGEST_ENVELOPE + 1), "{}")


def test_faults_are_named() -> None:
    entry = sealed()
    assert entry.payload_text is not None
    spaced = entry.envelope_text.replace('"n":0', '"n": 0')
    other = digest_of_payload(SALT, "{")
    cases = {
        "schema desorb/9 with sha-256 is not known": entry_of(envelope_with(schema="desorb/9"), None, None),
        "schema desorb/1 with md5 is not known": entry_of(envelope_with(algorithm="md5"), None, None),
        "the envelope is not in canonical form": entry_of(spaced, None, None),
        "the envelope does not match its hash": replace(entry, hash="0" * 64),
        "the salt is not 32 hexadecimal digits": replace(entry, salt="no"),
        "the payload does not match its digest": replace(entry, payload_text='{"words":"y"}'),
        "this is not a JSON object": entry_of(envelope_with(payload_digest=other), SALT, "{"),
    }
    for words, faulty in cases.items():
        assert fault_of(faulty).startswith(words), words


@pytest.mark.parametrize("salt", ["", "00", SALT.upper(), SALT + "00", " " + SALT[1:], SALT[:-1] + "g"])
def test_a_salt_has_one_length_and_one_spelling(salt: str) -> None:
    """Else bytes could move between salt and payload under the same digest."""
    assert fault_of(replace(sealed(), salt=salt)) == "the salt is not 32 hexadecimal digits"


@pytest.mark.parametrize(
    "text", ['{"words": "x"}', '{"b":1,"a":2}', '{"a":"\\u0041"}', '{"a":-0}', '{"a":"\\/"}'],
)  # fmt: skip
def test_a_payload_in_another_spelling_is_a_fault(text: str) -> None:
    """Same meaning, other bytes: only one spelling of a payload may stand in the record."""
    entry = entry_of(envelope_with(payload_digest=digest_of_payload(SALT, text)), SALT, text)
    assert fault_of(entry) == "the payload is not in canonical form"


def test_a_payload_of_another_entry_does_not_fit() -> None:
    first, second = sealed(), sealed(payload={"words": "other"}, salt="ff" * 16)
    for salt, text in ((second.salt, second.payload_text), (second.salt, first.payload_text)):
        assert fault_of(replace(first, salt=salt, payload_text=text)) == "the payload does not match its digest"


@pytest.mark.parametrize("flip", [lambda byte: byte ^ 1, lambda byte: byte ^ 0xFF], ids=["one bit", "inverted"])
def test_every_byte_of_an_entry_counts(flip: Any) -> None:
    """Each byte of both texts, changed by one bit and inverted (TRUST B2): never taken for a sound entry of that hash."""
    entry = sealed()
    assert entry.payload_text is not None
    for name in ("envelope_text", "payload_text", "salt"):
        text = getattr(entry, name).encode()
        for position in range(len(text)):
            changed = text[:position] + bytes([flip(text[position])]) + text[position + 1 :]
            try:
                texts = {"envelope_text": entry.envelope_text, "salt": entry.salt, "payload_text": entry.payload_text}
                damaged = entry_of(**(texts | {name: changed.decode()}))
            except (NotUnderstood, UnicodeDecodeError):
                continue
            assert fault_of(damaged) or damaged.hash != entry.hash, (name, position)


_texts = st.text(max_size=12)
_payloads = st.dictionaries(_texts, st.recursive(_texts | st.integers(-(2**53) + 1, 2**53 - 1) | st.booleans(),
                                                 lambda part: st.lists(part, max_size=3), max_leaves=6), max_size=4)  # fmt: skip


@given(
    payload=_payloads,
    device=_texts,
    n=st.integers(0, 2**53 - 1),
    clock=st.integers(1, 2**53 - 1),
    kind=_texts,
    claimed_at=_texts,
    monotonic=st.integers(-(2**53) + 1, 2**53 - 1),
)
def test_made_entries_hold_together(payload: dict[str, Any], **parts: Any) -> None:
    entry = sealed(payload=payload, **parts)
    assert fault_of(entry) == ""
    assert entry.payload() == payload
    assert entry_of(entry.envelope_text, entry.salt, entry.payload_text) == entry
    assert digest_of_envelope(entry.envelope_text) == entry.hash


@given(st.text())
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    for envelope in (text, sealed().envelope_text[: len(text)] + text):
        try:
            entry_of(envelope, SALT, text)
        except NotUnderstood:
            continue
