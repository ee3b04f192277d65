"""Records and payloads: every kind goes there and back, what does not fit is named, and no float can enter."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from desorb.core import kinds
from desorb.errors import NotUnderstood
from desorb.notebook.entry import LARGEST_INTEGER, canonical, entry_of, fault_of, read_object, seal
from desorb.notebook.fold import PLACE_OF_KIND
from desorb.notebook.schema import RECORD_OF_KIND, payload_of, record_of

KINDS = sorted(RECORD_OF_KIND)
WRONG = {str: [1, True, 1.5, None, ["x"], {}], int: ["1", True, 1.0, None, [1]], bool: [0, 1, "yes", None]}


def record_dataclasses() -> Iterator[type[Any]]:
    for name in dir(kinds):
        thing = getattr(kinds, name)
        if dataclasses.is_dataclass(thing) and isinstance(thing, type):
            yield thing


def example(record: type[Any]) -> Any:
    """One record of a kind with every part filled, lists with two different parts."""
    hints = get_type_hints(record)
    return record(**{part.name: _example_of(hints[part.name], part.name) for part in dataclasses.fields(record)})


def _example_of(hint: Any, name: str) -> Any:
    if get_origin(hint) is tuple:
        item = get_args(hint)[0]
        return ("first", "second") if item is str else (example(item), example(item))
    return {str: f"{name} é 12.30", int: 7, bool: True}[hint]


def records(record: type[Any]) -> st.SearchStrategy[Any]:
    hints = get_type_hints(record)
    return st.builds(record, **{part.name: _values_of(hints[part.name]) for part in dataclasses.fields(record)})


def _values_of(hint: Any) -> st.SearchStrategy[Any]:
    if get_origin(hint) is tuple:
        item = get_args(hint)[0]
        return st.lists(_values_of(item) if item is str else records(item), max_size=2).map(tuple)
    simple = {str: st.text(max_size=6), int: st.integers(-LARGEST_INTEGER, LARGEST_INTEGER), bool: st.booleans()}
    return simple[hint]


def test_every_record_is_a_kind_with_a_place() -> None:
    """A record that was written and that no fold would show would be lost in silence."""
    assert len(RECORD_OF_KIND) == len(kinds.RECORDS)
    own_way = {"case-opened", "strike", "removal"}
    assert set(KINDS) == set(PLACE_OF_KIND) | own_way
    with_kind = {record for record in record_dataclasses() if hasattr(record, "KIND")}
    assert with_kind == set(kinds.RECORDS)


@pytest.mark.parametrize("record", list(record_dataclasses()), ids=lambda record: record.__name__)
def test_no_part_of_any_record_is_a_float(record: type[Any]) -> None:
    """Text, whole number, yes/no, and lists of text or of smaller records: nothing else can be written."""
    for name, hint in get_type_hints(record).items():
        if "ClassVar" in str(hint):
            continue
        allowed = hint in (str, int, bool)
        if get_origin(hint) is tuple:
            item, *rest = get_args(hint)
            allowed = rest == [...] and (item is str or dataclasses.is_dataclass(item))
        assert allowed, f"{record.__name__}.{name}: {hint}"


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_goes_there_and_back(kind: str) -> None:
    record = example(RECORD_OF_KIND[kind])
    payload = payload_of(record)
    assert record_of(kind, payload) == record
    assert record_of(kind, read_object(canonical(payload))) == record
    assert set(payload) == {part.name for part in dataclasses.fields(record)}


@pytest.mark.parametrize("kind", KINDS)
def test_parts_at_their_default_are_written_too(kind: str) -> None:
    """Nothing is implied: a default that changes later does not change what was written."""
    required = {
        part.name: _example_of(get_type_hints(RECORD_OF_KIND[kind])[part.name], part.name)
        for part in dataclasses.fields(RECORD_OF_KIND[kind])
        if part.default is dataclasses.MISSING
    }
    record = RECORD_OF_KIND[kind](**required)
    payload = payload_of(record)
    assert set(payload) == {part.name for part in dataclasses.fields(record)}
    assert record_of(kind, {name: payload[name] for name in required}) == record


@pytest.mark.parametrize("kind", KINDS)
def test_a_missing_part_is_named(kind: str) -> None:
    record = RECORD_OF_KIND[kind]
    payload = payload_of(example(record))
    for part in dataclasses.fields(record):
        rest = {name: value for name, value in payload.items() if name != part.name}
        if part.default is dataclasses.MISSING:
            with pytest.raises(NotUnderstood, match=rf"^{kind} lacks {part.name}"):
                record_of(kind, rest)
        else:
            assert getattr(record_of(kind, rest), part.name) == part.default


@pytest.mark.parametrize("kind", KINDS)
def test_an_unknown_part_is_named(kind: str) -> None:
    payload = payload_of(example(RECORD_OF_KIND[kind]))
    with pytest.raises(NotUnderstood, match="parts that are not known") as refused:
        record_of(kind, payload | {"surprise": "x", "KIND": kind})
    assert refused.value.got == "KIND, surprise"


@pytest.mark.parametrize("kind", KINDS)
def test_a_mistyped_part_is_named(kind: str) -> None:
    record = RECORD_OF_KIND[kind]
    payload = payload_of(example(record))
    for name, hint in get_type_hints(record).items():
        if name == "KIND":
            continue
        if get_origin(hint) is tuple:
            for wrong in ("text", 1, None, {"a": 1}):
                with pytest.raises(NotUnderstood, match=rf"{kind}\.{name} is not a list"):
                    record_of(kind, payload | {name: wrong})
            if get_args(hint)[0] is str:
                for part in (1, None, 1.5, [], True):
                    with pytest.raises(NotUnderstood, match=rf"{kind}\.{name} holds something other than text"):
                        record_of(kind, payload | {name: ["good", part]})
            else:
                for part in (1, "text", None, []):
                    with pytest.raises(NotUnderstood, match=rf"{kind}\.{name} is not an object"):
                        record_of(kind, payload | {name: [payload[name][0], part]})
                for nested in payload[name][0]:
                    broken = payload[name][0] | {nested: 1.5}
                    with pytest.raises(NotUnderstood, match=rf"{kind}\.{name}\.{nested} "):
                        record_of(kind, payload | {name: [broken]})
        else:
            for wrong in WRONG[hint]:
                with pytest.raises(NotUnderstood, match=rf"{kind}\.{name} is of the wrong kind"):
                    record_of(kind, payload | {name: wrong})


@pytest.mark.parametrize("payload", [[], "text", 1, None, [{}]])
def test_a_payload_is_an_object(payload: Any) -> None:
    with pytest.raises(NotUnderstood, match="reading is not an object"):
        record_of("reading", payload)


@pytest.mark.parametrize("kind", ["", "Reading", "reading ", "signature", "reading\x00"])
def test_an_unknown_kind_is_named(kind: str) -> None:
    with pytest.raises(NotUnderstood, match="does not know this kind") as refused:
        record_of(kind, {})
    assert refused.value.got == kind


@pytest.mark.parametrize("kind", KINDS)
@given(data=st.data())
def test_made_records_go_there_and_back(kind: str, data: st.DataObject) -> None:
    record = data.draw(records(RECORD_OF_KIND[kind]))
    entry = seal(
        case="c" * 32, device="d", n=0, prev="", clock=1, kind=kind, claimed_at="", monotonic=0,
        payload=payload_of(record),
    )  # fmt: skip
    again = entry_of(entry.envelope_text, entry.salt, entry.payload_text)
    assert fault_of(again) == ""
    assert record_of(kind, again.payload()) == record


_wild = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=4),
    lambda part: st.lists(part, max_size=3) | st.dictionaries(st.text(max_size=4), part, max_size=3),
    max_leaves=5,
)


def _floats_in(value: Any) -> bool:
    if dataclasses.is_dataclass(value):
        return any(_floats_in(getattr(value, part.name)) for part in dataclasses.fields(value))
    return isinstance(value, float) or (isinstance(value, (tuple, list)) and any(_floats_in(part) for part in value))


@given(st.sampled_from(KINDS), st.data())
def test_no_float_can_ever_enter(kind: str, data: st.DataObject) -> None:
    """Whatever stands in a payload: what comes out is a record without a float, or a refusal in words."""
    payload = payload_of(example(RECORD_OF_KIND[kind]))
    for name in data.draw(st.lists(st.sampled_from(sorted(payload)), min_size=1, max_size=3)):
        payload[name] = data.draw(_wild)
    try:
        record = record_of(kind, payload)
    except NotUnderstood:
        return
    assert not _floats_in(record)
    again = payload_of(record)
    assert all(again[name] == part for name, part in payload.items())


@pytest.mark.parametrize("value", [1.5, ("a", 1.5), ("a", None), None])
def test_a_float_put_into_a_record_by_hand_makes_no_entry(value: Any) -> None:
    record = kinds.Note(words=value, at="")
    with pytest.raises(NotUnderstood):
        canonical(payload_of(record))
