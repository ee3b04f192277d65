"""One row written down on the page: which kinds have a form, the fields of each, and taking what was typed.

Contents: KINDS; Field; page_of; form_of (the fields of a kind, with the choices of a case); cautions_of; enter (check and write).
The check is the one of a sheet: what a sheet refuses is refused here, in the same words.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import MISSING, dataclass, fields
from typing import Any

from desorb.core.case import Case, latest_by_id
from desorb.core.causes.patterns import TESTS
from desorb.core.causes_of_case import TEST_OF
from desorb.core.floors.cautions import CAUTIONS, DRILLING
from desorb.core.kinds import SurveyPlace
from desorb.core.samples.carbide import CAUTIONS as CARBIDE_CAUTIONS
from desorb.core.typed import read_value
from desorb.errors import DesorbError, InputError, NotFound
from desorb.notebook.entry import Entry
from desorb.notebook.schema import RECORD_OF_KIND
from desorb.notebook.store import Store
from desorb.service.cases import Clock, OpenCase, load, now
from desorb.service.entry_labels import DECIMAL, LABELS
from desorb.service.sheet import CHOICES, TIMES, take_row

# A kind gets its form by its name here. Each group is named by the page that shows what follows from it.
KINDS: dict[str, dict[str, str]] = {
    "methods": {
        "floor-test": "A floor test", "floor-place": "A place of a floor test", "floor-reading": "A reading of a floor test",
        "limit-stated": "A limit stated by a maker", "sample": "A sample", "custody": "A step on the way of a sample",
        "weighing": "A weighing of a sample", "carbide-reading": "A carbide test", "cup-reading": "Air over a crushed sample",
        "salt-content": "Salts of a sample", "leak-test": "A leak test", "cause-observation": "Something that bears on a cause",
        "cause-test": "A test of a cause that was done",
    },
    "drying": {
        "unit": "A drying unit", "unit-change": "A unit set, moved, stopped or taken away", "enclosure": "An enclosure",
        "load-term": "A part of the water that the air takes up", "circuit": "An electric circuit",
        "tariff": "The price of energy", "target": "What an element is dried to", "drying-option": "An option for an element",
        "option-cost": "A cost of an option",
        "option-taken": "The option that was decided on", "time-limit": "Something due by statute or contract",
        "not-done": "Something a visit did not do", "occupancy": "What the household was told",
    },
}  # fmt: skip
NESTED = tuple(part.name for part in fields(SurveyPlace))
WHOLE_SITE = "the whole site, or not in a zone"


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a form. widget: text, decimal, moment, date, choice or lines; choices: value and its words."""

    name: str
    label: str
    hint: str
    required: bool
    widget: str
    choices: tuple[tuple[str, str], ...] = ()


def page_of(kind: str) -> str:
    """methods or drying: where what follows from this kind is shown. Raises NotFound for a kind without a form."""
    for name, kinds in KINDS.items():
        if kind in kinds:
            return name
    known = ", ".join(name for kinds in KINDS.values() for name in kinds)
    raise NotFound(
        "there is no form for this kind of entry", got=repr(kind[:80]), wanted=known, next_step="choose one of these"
    )


def form_of(case: Case, kind: str) -> list[Field]:
    """The fields of a kind, in their order. Raises NotFound for a kind without a form."""
    page_of(kind)
    return [_field(case, kind, part) for part in fields(RECORD_OF_KIND[kind])]


def cautions_of(kind: str) -> tuple[str, ...]:
    """What a person sees to before the work of this kind, each with the methods it speaks of; shown before any field."""
    of_leak_tests = {name: TESTS[test].cautions for name, test in TEST_OF.items()}
    by_name: dict[str, Mapping[str, Iterable[str]]] = {
        "floor-test": CAUTIONS, "floor-place": CAUTIONS, "sample": {"a sample that is drilled": DRILLING},
        "carbide-reading": {"carbide": CARBIDE_CAUTIONS}, "leak-test": of_leak_tests,
    }  # fmt: skip
    names: dict[str, list[str]] = {}
    for name, cautions in by_name.get(kind, {}).items():
        for caution in cautions:
            names.setdefault(caution, []).append(name)
    return tuple(f"{', '.join(of)}: {caution}" for caution, of in names.items())


def _field(case: Case, kind: str, part: Any) -> Field:
    label, hint = LABELS.get(f"{kind}.{part.name}") or LABELS.get(part.name) or (part.name.replace("_", " "), "")
    label = label[:1].upper() + label[1:]
    required = part.default is MISSING and part.name != "zone"
    choices = _choices(case, kind, part.name)
    if str(part.type).startswith("tuple["):
        widget = "lines"
    elif choices:
        widget = "choice"
        choices = tuple(each for each in choices if each[0]) if required else (("", _nothing(part.name)), *choices)
    elif part.name in TIMES:
        widget = "moment"
    elif part.name == "began_on":
        widget = "date"
    else:
        widget = "decimal" if f"{kind}.{part.name}" in DECIMAL or part.name in DECIMAL else "text"
    return Field(part.name, label, hint, required, widget, choices)


def _nothing(name: str) -> str:
    return WHOLE_SITE if name == "zone" else "not stated"


def _choices(case: Case, kind: str, name: str) -> tuple[tuple[str, str], ...]:
    """Fixed words, or what the case describes; () where anything may be written."""
    if (kind, name) in CHOICES:
        return tuple((each, each) for each in CHOICES[kind, name] if each)
    described: dict[str, tuple[Any, ...]] = {
        "zone": case.zones, "sample": case.samples, "test": case.floor_tests, "enclosure": case.enclosures,
        "circuit": case.circuits, "visit": case.visits,
    }  # fmt: skip
    if name not in described:
        return ()
    found = [entered.record for entered in latest_by_id(described[name]).values()]
    if not found and name != "zone":
        return (("", "none is described yet"),)
    return tuple((each.id, _named(each)) for each in found)


def _named(record: Any) -> str:
    words = getattr(record, "words", "") or getattr(record, "method", "") or getattr(record, "element", "")
    return f"{record.id}: {words}" if words else str(record.id)


def enter(store: Store, case: OpenCase, kind: str, given: dict[str, str], clock: Clock = now) -> Entry:
    """Check one row of a kind as a sheet does and write it. What is empty is not stated.

    Raises InputError naming the field; Refused where it stands in the case already.
    """
    form = {field.name: field for field in form_of(load(store, case), kind)}
    if unknown := [name for name in given if name not in form]:
        raise InputError(
            "this kind has no such part", got=", ".join(unknown)[:200], wanted=", ".join(form), next_step="leave it out"
        )
    row: dict[str, Any] = {}
    for name, field in form.items():
        text = given.get(name, "").strip()
        if not text and field.required:
            raise InputError(
                f"{field.label!r} is not filled in",
                wanted=_wanted(field),
                next_step="fill it in and write it down again",
            )
        if field.widget == "lines":
            row[name] = _lines(kind, name, text)
        elif text or field.name == "zone":
            row[name] = _figure(field, text)
    try:
        return take_row(store, case, kind, row, clock)
    except DesorbError as problem:
        problem.next_step = problem.next_step or "correct the field and write it down again"
        raise


def _wanted(field: Field) -> str:
    return ", ".join(value for value, _ in field.choices) if field.widget == "choice" else field.hint


def _figure(field: Field, text: str) -> str:
    if field.widget == "decimal" and text:
        try:
            read_value(text)
        except DesorbError as problem:
            raise InputError(
                f"{field.label!r} is no number", got=text[:80], wanted="digits with a decimal point",
                next_step="correct it and write it down again",
            ) from problem  # fmt: skip
    return text


def _lines(kind: str, name: str, text: str) -> list[Any]:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if (kind, name) != ("floor-test", "survey"):
        return lines
    return [_survey_place(line) for line in lines]


def _survey_place(line: str) -> dict[str, str]:
    parts = [part.strip() for part in line.split(";")]
    if len(parts) != len(NESTED):
        raise InputError(
            "a reading of the survey has four parts", got=line[:120], wanted="; ".join(NESTED),
            next_step="write one reading a line, with semicolons between its parts",
        )  # fmt: skip
    return dict(zip(NESTED, parts, strict=True))
