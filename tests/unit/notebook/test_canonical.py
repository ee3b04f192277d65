"""The canonical form: RFC 8785 where it applies, and a refusal in words where this record is stricter.

Sources, named beside each check:
  [RFC8785]  RFC 8785 "JSON Canonicalization Scheme": 3.2.2 (example), 3.2.2.2 (escapes), 3.2.3 (sorting), 3.1 and
             Appendix B (I-JSON: no repeated names, no lone surrogates, whole numbers within 2^53 - 1). From memory.
  [JCS-data] The six input/output pairs of the author's repository (cyberphone/json-canonicalization, testdata/):
             from memory of the present files; older stored versions of input/ and output/ were read and agree in form.
Two of the six hold null (arrays, values), two hold floats (structures with 56.0, values): these may not be hashed here.
"""

from __future__ import annotations

import json
import subprocess
import sys
import unicodedata
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from desorb.errors import NotUnderstood
from desorb.notebook.entry import LARGEST_INTEGER, canonical, read_object

FRENCH = (
    '{\n  "peach": "This sorting order",\n  "péché": "is wrong according to French",\n'
    '  "pêche": "but canonicalization MUST",\n  "sin":   "ignore locale"\n}',
    '{"peach":"This sorting order","péché":"is wrong according to French",'
    '"pêche":"but canonicalization MUST","sin":"ignore locale"}',
)
UNICODE = ('{\n  "Unnormalized Unicode":"A\\u030a"\n}', '{"Unnormalized Unicode":"A\u030a"}')
WEIRD = (
    '{\n  "\\u20ac": "Euro Sign",\n  "\\r": "Carriage Return",\n  "\\u000a": "Newline",\n  "1": "One",\n'
    '  "\\u0080": "Control\\u007f",\n  "\\ud83d\\ude02": "Smiley",\n'
    '  "\\u00f6": "Latin Small Letter O With Diaeresis",\n  "\\ufb33": "Hebrew Letter Dalet With Dagesh",\n'
    '  "</script>": "Browser Challenge"\n}',
    '{"\\n":"Newline","\\r":"Carriage Return","1":"One","</script>":"Browser Challenge","\x80":"Control\x7f",'
    '"ö":"Latin Small Letter O With Diaeresis","€":"Euro Sign","\U0001f602":"Smiley",'
    '"\ufb33":"Hebrew Letter Dalet With Dagesh"}',
)
ARRAYS = ('[\n  56,\n  {\n    "d": true,\n    "10": null,\n    "1": [ ]\n  }\n]', '[56,{"1":[],"10":null,"d":true}]')
STRUCTURES = (
    '{\n  "1": {"f": {"f": "hi","F": 5} ,"\\n": 56.0},\n  "10": { },\n  "": "empty",\n  "a": { },\n'
    '  "111": [ {"e": "yes","E": "no" } ],\n  "A": { }\n}',
    '{"":"empty","1":{"\\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{"E":"no","e":"yes"}],"A":{},"a":{}}',
)
VALUES = (
    '{\n  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],\n'
    '  "string": "\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/",\n  "literals": [null, true, false]\n}',
    '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
    '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
)


@pytest.mark.parametrize(("given_text", "wanted"), [FRENCH, UNICODE, WEIRD], ids=["french", "unicode", "weird"])
def test_published_pairs_that_may_be_hashed(given_text: str, wanted: str) -> None:
    """[JCS-data] french, unicode, weird: same bytes as published."""
    assert canonical(read_object(given_text)) == wanted.encode()


@pytest.mark.parametrize(
    ("given_text", "wanted", "why"),
    [
        (ARRAYS, "NoneType", "null may not stand in a record"),
        (STRUCTURES, "float", "56.0 is written with a decimal mark"),
        (VALUES, "NoneType", "floats and null"),
    ],
    ids=["arrays", "structures", "values"],
)
def test_published_pairs_that_may_not_be_hashed(given_text: tuple[str, str], wanted: str, why: str) -> None:
    """[JCS-data] arrays, structures, values: the library agrees with the published bytes, and desorb refuses them."""
    assert rfc8785.dumps(json.loads(given_text[0])) == given_text[1].encode()
    with pytest.raises(NotUnderstood) as refused:
        canonical(json.loads(given_text[0]))
    assert refused.value.got in (wanted, "float"), why
    with pytest.raises(NotUnderstood):
        canonical(read_object(given_text[0]))


def test_the_refused_pairs_agree_once_the_offending_parts_are_gone() -> None:
    """[JCS-data] structures with 56 as a whole number; arrays and values without null and floats."""
    assert canonical(read_object(STRUCTURES[0].replace("56.0", "56"))) == STRUCTURES[1].encode()
    assert canonical([56, {"d": True, "1": []}]) == b'[56,{"1":[],"d":true}]'
    text = json.loads(VALUES[0])["string"]
    assert canonical({"string": text}) == '{"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'.encode()


def test_sorting_by_utf_16_units() -> None:
    """[RFC8785] 3.2.3: the emoji (surrogates d83d de00) sorts before U+FB33, although its code point is higher."""
    names = {
        "\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",
        "\U0001f600": "Emoji: Grinning Face", "\x80": "Control", "\xf6": "Latin Small Letter O With Diaeresis",
    }  # fmt: skip
    in_order = [
        "Carriage Return", "One", "Control", "Latin Small Letter O With Diaeresis", "Euro Sign",
        "Emoji: Grinning Face", "Hebrew Letter Dalet With Dagesh",
    ]  # fmt: skip
    assert list(json.loads(canonical(names)).values()) == in_order
    assert sorted(names) != list(json.loads(canonical(names)))  # code points would order otherwise


@pytest.mark.parametrize(
    ("character", "written"),
    [
        ("\b", "\\b"), ("\t", "\\t"), ("\n", "\\n"), ("\f", "\\f"), ("\r", "\\r"), ('"', '\\"'), ("\\", "\\\\"),
        ("\x00", "\\u0000"), ("\x0f", "\\u000f"), ("\x1f", "\\u001f"),
        ("/", "/"), ("\x7f", "\x7f"), ("\x80", "\x80"), ("\u2028", "\u2028"), ("\U0001f602", "\U0001f602"),
    ],
)  # fmt: skip
def test_escapes(character: str, written: str) -> None:
    """[RFC8785] 3.2.2.2: five short escapes, quote and backslash; other controls as lower-case \\u00xx; the rest as is."""
    assert canonical(character) == f'"{written}"'.encode()


@pytest.mark.parametrize("number", [0, 1, -1, LARGEST_INTEGER, -LARGEST_INTEGER, 9007199254740991])
def test_whole_numbers_within_the_safe_range(number: int) -> None:
    """[RFC8785] Appendix B and I-JSON: up to 2^53 - 1 on both sides."""
    assert canonical(number) == str(number).encode()


@pytest.mark.parametrize("number", [2**53, -(2**53), 2**63, 10**400])
def test_whole_numbers_beyond_it_are_refused(number: int) -> None:
    with pytest.raises(NotUnderstood, match="too large a whole number"):
        canonical({"n": number})


def test_a_whole_number_of_very_many_digits_is_refused_without_a_crash() -> None:
    """Python refuses to turn more than 4,300 digits into text or back: that must not surface as a ValueError."""
    with pytest.raises(NotUnderstood):
        canonical({"n": 10**5000})
    with pytest.raises(NotUnderstood):
        read_object('{"n":' + "9" * 5000 + "}")


def test_minus_zero() -> None:
    """[RFC8785] 3.2.2.3: -0 is written 0. As a float it is refused; as a whole number it is 0, so the text differs."""
    with pytest.raises(NotUnderstood):
        canonical(-0.0)
    with pytest.raises(NotUnderstood):
        read_object('{"n":-0.0}')
    assert canonical(read_object('{"n":-0}')) == b'{"n":0}'


@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf"), 1.0, 0.1, 1e300])
def test_no_float_is_hashed(number: float) -> None:
    with pytest.raises(NotUnderstood, match="may not stand in a record"):
        canonical({"value": number})


@pytest.mark.parametrize("text", ["NaN", "Infinity", "-Infinity", "1.0", "1e3", "1E-3", "-0.0"])
def test_no_float_is_read(text: str) -> None:
    with pytest.raises(NotUnderstood, match="decimal mark"):
        read_object(f'{{"value":{text}}}')


def test_null_is_neither_hashed_nor_read() -> None:
    with pytest.raises(NotUnderstood, match="may not stand in a record"):
        canonical({"value": None})
    for text in ('{"value":null}', '{"value":[null]}', '{"value":{"deep":[{"er":null}]}}'):
        with pytest.raises(NotUnderstood):
            read_object(text)


@pytest.mark.parametrize("text", ["\ud83d", "a\udfffb", "\ude02\ud83d"])
def test_half_characters_are_refused(text: str) -> None:
    """[RFC8785] 3.1 with I-JSON: lone surrogates are an error, in values and in names."""
    for value in (text, {"a": text}, {text: "a"}, [text]):
        with pytest.raises(NotUnderstood, match="half a character"):
            canonical(value)


def test_repeated_names_are_refused() -> None:
    """[RFC8785] 3.1 with I-JSON: names are unique, also when one is written with an escape."""
    for text in ('{"a":1,"a":1}', '{"a":1,"\\u0061":2}', '{"b":{"a":1,"a":2}}', '{"b":[{"a":1,"a":2}]}'):
        with pytest.raises(NotUnderstood, match="stands twice"):
            read_object(text)


def test_composed_and_decomposed_text_stay_apart() -> None:
    """[RFC8785] 3.1: string data are not normalised; NFC and NFD are different bytes and different names."""
    composed, decomposed = unicodedata.normalize("NFC", "e\u0301"), unicodedata.normalize("NFD", "\xe9")
    assert composed != decomposed
    assert canonical(composed) != canonical(decomposed)
    both = {composed: "composed", decomposed: "decomposed"}
    assert json.loads(canonical(both)) == both


@pytest.mark.parametrize("value", [(1, 2), {1, 2}, b"bytes", 1 + 2j, object, {1: "a"}, {None: "a"}, {True: "a"}])
def test_other_things_are_refused_in_words(value: Any) -> None:
    with pytest.raises(NotUnderstood):
        canonical(value)


class _Text(str):
    pass


class _Number(int):
    pass


@pytest.mark.parametrize("value", [_Text("a"), _Number(1), {_Text("a"): 1}, [_Number(1)]])
def test_disguised_kinds_are_refused(value: Any) -> None:
    """A subclass may print as something else than it is compared by."""
    with pytest.raises(NotUnderstood):
        canonical(value)


@pytest.mark.parametrize("depth", [65, 500, 900, 5_000, 100_000])
def test_deep_nesting_is_refused_without_a_crash(depth: int) -> None:
    """Neither parsing nor writing may run out of stack, and the limit may not depend on who calls."""
    for opening, closing in (("[", "]"), ('{"a":', "}")):
        text = '{"a":' + opening * depth + "1" + closing * depth + "}"
        with pytest.raises(NotUnderstood):
            canonical(read_object(text))
    value: Any = 1
    for _ in range(depth):
        value = [value]
    with pytest.raises(NotUnderstood):
        canonical(value)


def test_the_limit_of_nesting_does_not_depend_on_the_stack_of_the_caller() -> None:
    value: Any = 1
    for _ in range(60):
        value = [value]

    def from_deep_down(levels: int) -> bytes:
        return canonical(value) if levels == 0 else from_deep_down(levels - 1)

    assert from_deep_down(300) == canonical(value)


@pytest.mark.parametrize(
    "text", ["", "[]", '"text"', "1", "true", "{", '{"a":1} {', '{"a":01}', "{'a':1}", b"\xff\xfe{}"]
)
def test_what_is_not_one_object_is_refused(text: str | bytes) -> None:
    with pytest.raises(NotUnderstood, match="not a JSON object"):
        read_object(text)


_hashable = st.recursive(
    st.text() | st.integers(-LARGEST_INTEGER, LARGEST_INTEGER) | st.booleans(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=20,
)


@given(st.dictionaries(st.text(), _hashable, max_size=5))
def test_canonical_is_one_form_of_each_value(value: dict[str, Any]) -> None:
    """Reading the form gives the value; writing it again gives the same bytes; order of insertion does not matter."""
    form = canonical(value)
    assert read_object(form) == value
    assert canonical(read_object(form)) == form
    assert canonical(dict(reversed(value.items()))) == form


def _by_hand(value: Any) -> str:
    """An independent writer of the same form: json.dumps escapes, and names sorted by their UTF-16 bytes."""
    if isinstance(value, dict):
        names = sorted(value, key=lambda name: name.encode("utf-16-be"))
        return "{" + ",".join(f"{_by_hand(name)}:{_by_hand(value[name])}" for name in names) + "}"
    if isinstance(value, list):
        return "[" + ",".join(_by_hand(part) for part in value) + "]"
    return json.dumps(value, ensure_ascii=False)


@given(_hashable)
def test_canonical_agrees_with_an_independent_writer(value: Any) -> None:
    assert canonical(value) == _by_hand(value).encode()


@pytest.mark.soak
@given(_hashable)
def test_canonical_agrees_with_an_independent_writer_for_long(value: Any) -> None:
    assert canonical(value) == _by_hand(value).encode()


def test_optimised_python_gives_the_same_bytes() -> None:
    """No check may hang on an assert: under -O the refusals still stand."""
    program = (
        "from desorb.notebook.entry import canonical\n"
        "from desorb.errors import NotUnderstood\n"
        "try:\n    canonical({'a': 1.5})\nexcept NotUnderstood:\n    print(canonical({'b': 1, 'a': '\\u00e9'}).hex())\n"
    )
    printed = subprocess.run(
        [sys.executable, "-O", "-c", program], capture_output=True, text=True, check=True
    ).stdout.strip()
    assert bytes.fromhex(printed) == '{"a":"é","b":1}'.encode()
