"""From a record to the payload of an entry, and back. The dataclasses of core/kinds.py are the schema.

Text, whole numbers, yes/no, and lists of text or of smaller records: nothing else can be written.
"""

from __future__ import annotations

from dataclasses import MISSING, fields, is_dataclass
from typing import Any, get_args, get_origin, get_type_hints

from desorb.core import kinds
from desorb.errors import NotUnderstood

NEVER_REMOVED = ("case-opened", "removal", "strike", "report-issued")  # remove what they speak of instead
RECORD_OF_KIND: dict[str, type[Any]] = {record.KIND: record for record in kinds.RECORDS}


def payload_of(record: Any) -> dict[str, Any]:
    """The payload that says the same as the record. Parts at their default stand too: nothing is implied."""
    return {part.name: _written(getattr(record, part.name)) for part in fields(record)}


def _written(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_written(part) for part in value]
    return payload_of(value) if is_dataclass(value) else value


def record_of(kind: str, payload: dict[str, Any]) -> Any:
    """The record that a payload says. Raises NotUnderstood naming the part that does not fit."""
    if kind not in RECORD_OF_KIND:
        raise NotUnderstood("this version does not know this kind of entry", got=kind)
    return _read(RECORD_OF_KIND[kind], payload, kind)


_PARTS: dict[type[Any], dict[str, tuple[Any, Any, bool]]] = {}


def _parts(record: type[Any]) -> dict[str, tuple[Any, Any, bool]]:
    """Part -> (its type, the type of its items if it is a list, whether it may be left out)."""
    if record not in _PARTS:
        hints = get_type_hints(record)
        _PARTS[record] = {
            part.name: (
                hints[part.name],
                get_args(hints[part.name])[0] if get_origin(hints[part.name]) is tuple else None,
                part.default is not MISSING,
            )
            for part in fields(record)
        }
    return _PARTS[record]


def _read(record: type[Any], payload: Any, where: str) -> Any:
    if type(payload) is not dict:
        raise NotUnderstood(f"{where} is not an object", got=type(payload).__name__)
    parts = _parts(record)
    if not payload.keys() <= parts.keys():
        unknown = ", ".join(sorted(payload.keys() - parts.keys()))
        raise NotUnderstood(f"{where} has parts that are not known", got=unknown)
    values: dict[str, Any] = {}
    for name, (hint, item, has_default) in parts.items():
        if name not in payload:
            if not has_default:
                raise NotUnderstood(f"{where} lacks {name}", wanted=f"{name} filled in")
            continue
        value = payload[name]
        if item is None:
            if type(value) is not hint:
                raise NotUnderstood(f"{where}.{name} is of the wrong kind", got=repr(value), wanted=hint.__name__)
            values[name] = value
        elif type(value) is not list:
            raise NotUnderstood(f"{where}.{name} is not a list", got=repr(value))
        elif item is str:
            if not all(type(part) is str for part in value):
                raise NotUnderstood(f"{where}.{name} holds something other than text", got=repr(value))
            values[name] = tuple(value)
        else:
            values[name] = tuple(_read(item, part, f"{where}.{name}") for part in value)
    return record(**values)
