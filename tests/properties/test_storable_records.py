"""Whatever can be stored can be read: no mix of odd entries makes what is said of methods and drying fail or fall silent."""

from __future__ import annotations

import random
import re
from dataclasses import fields, replace
from datetime import date
from typing import Any

import pytest
from case_builder import METER, PIN_METER, FieldBook, at

from desorb.core.assess import assess
from desorb.core.causes.patterns import OBSERVATIONS, TESTS
from desorb.core.kinds import LEAK_TESTS, RECORDS, CheckBlock, SurveyPlace, Visit
from desorb.notebook.sense import senseless
from desorb.service.drying import drying_of
from desorb.service.methods import methods_of
from desorb.service.sheet import CHOICES, TIMES

NOT_DRAWN = {"case-opened", "strike", "removal", "report-issued", "file-taken"}
GROUPS = [  # kinds that speak of each other, so that their ids meet
    ["floor-test", "floor-place", "floor-reading", "limit-taken", "limit-stated"],
    ["floor-test", "floor-place", "sample", "carbide-reading", "cup-reading", "weighing", "limit-taken", "custody"],
    ["sample", "weighing", "salt-content", "custody", "salt-test", "cup-reading"],
    ["unit", "unit-change", "unit-reading", "enclosure", "load-term", "circuit", "tariff", "occupancy"],
    ["leak-test", "cause-observation", "cause-test", "hazard", "gate-answer", "water-origin", "event"],
    ["target", "drying-option", "option-cost", "option-taken", "time-limit", "not-done", "unit-change", "air-reading"],
    ["unit-change", "reading", "not-read", "visit", "scale-shown", "readiness", "finding-answer", "setting"],
    ["instrument", "reading", "spot", "instrument-check", "zone", "construction"],
]
LIKELY = ["0", "1", "5", "12.5", "100", "99.9", "20", "50", "75", "0.5", "3", "24", "60", "6", "2018", ""]
ODD = ["", " ", ">=5", "<3", "12,5", "abc", "nan", "-3", "1e-9", "1e6", "999999999999", "0.0001"]
WORDS_OF = {  # what a part is drawn from, where neither a choice nor a figure is asked for
    "zone": ["kitchen", "utility", "hall", "", "nowhere"], "element": ["floor", "wall", "joists"], "visit": ["d0", "d1", ""],
    "instrument": ["m1", "p1", "h1", "zz"], "scale": ["comparative", "wood", "hole", "nope"], "place": ["P1", "kitchen", ""],
    "spot": ["kitchen.1", "kitchen.2", "utility.c1", "zz"], "began_on": ["2026-03-02", "9999-12-31", "0001-01-01"],
    "kind": ["outside", "affected", "unaffected", "inlet", "outlet"], "sha256": ["a" * 64], "sample": ["a", "b"],
    "key": ["placing spread", "rebound hours", "ventilation margin", "heating in service", "control fresh hours", "pressure"],
    "calendar": ["", "nowhere"], "by": ["", "A"], "enclosure": ["a", "b"], "circuit": ["a", "b"], "source": ["", "A letter"],
    "id": ["a", "b"],
}  # fmt: skip
NO_WORDS = re.compile(r"\bNone\b|Decimal\(|<class|\.\.(?!\.)|\{|\}")


def drawn(chance: random.Random, kind: str, name: str, of_type: str, figures: list[str]) -> Any:
    if (kind, name) in CHOICES and chance.random() < 0.95:
        return chance.choice(CHOICES[kind, name])
    if (kind, name) in (("leak-test", "test"), ("cause-test", "test"), ("cause-observation", "name")):
        return chance.choice([*{"leak-test": LEAK_TESTS, "cause-test": TESTS}.get(kind, OBSERVATIONS)])
    if name == "zones":
        return tuple(chance.sample(WORDS_OF["zone"], chance.randint(0, 3)))
    if name in TIMES or name in ("first_at", "last_at"):
        day = chance.choice([0, 0, 1, 1, 2, 3, 9, -400])
        odd = chance.choice(["", "9999-12-31T23:59:00+00:00", "0001-01-01T00:00:00+14:00"])
        return odd if chance.random() < 0.05 else at(day, chance.choice(["09:00", "23:59"]))
    if name in ("test", "unit") and kind in (
        "floor-place",
        "floor-reading",
        "limit-taken",
        "sample",
        "unit-change",
        "unit-reading",
    ):
        return chance.choice(["a", "b"])
    if "SurveyPlace" in of_type:
        return tuple(
            SurveyPlace("P1", chance.choice(figures), "comparative", "m1") for _ in range(chance.randint(0, 2))
        )
    if of_type.startswith("tuple[str"):
        return tuple(chance.sample(["floor", "heating", "12"], chance.randint(0, 2)))
    if of_type.startswith("tuple"):
        return ()
    if of_type in ("bool", "int"):
        return chance.choice([False, True]) if of_type == "bool" else chance.randint(0, 60)
    return chance.choice(WORDS_OF.get(name, figures))


def record_drawn(chance: random.Random, kinds: list[Any], figures: list[str]) -> Any:
    """One record that the notebook would keep, or None."""
    of_kind = chance.choice(kinds)
    for _ in range(40):
        if of_kind.KIND == "instrument":
            odd = {
                part: chance.choice(figures)
                for part in ("bottom", "top", "resolution", "depth")
                if chance.random() < 0.3
            }
            block = (
                CheckBlock("comparative", chance.choice(figures), chance.choice(figures), chance.choice([-5, 0, 30])),
            )
            scales = (replace(METER.scales[0], **odd), *METER.scales[1:])
            record = replace(chance.choice([METER, PIN_METER]), scales=scales, block=block)
        else:
            parts = fields(of_kind)
            record = of_kind(**{p.name: drawn(chance, of_kind.KIND, p.name, str(p.type), figures) for p in parts})
        if not senseless(record):
            return record
    return None


def book_drawn(seed: int) -> FieldBook:
    """A floor that dries over some visits, and up to forty entries of whatever may be stored, some of them struck."""
    chance, book = random.Random(seed), FieldBook()
    book.building("screed", "cement screed", "kitchen", "utility: sound", "hall: ?")
    for day in range(chance.randint(0, 3)):
        book.write(Visit(f"d{day}", at(day, "09:00")))
        book.line("kitchen/floor", f"{60 - 9 * day},{58 - 9 * day},{63 - 9 * day}", day=day, visit=f"d{day}")
        book.line("utility/floor", "14,15,13,14", role="control", day=day, visit=f"d{day}")
    group = chance.choice([*GROUPS, None])
    kinds = [each for each in RECORDS if each.KIND not in NOT_DRAWN and (group is None or each.KIND in group)]
    figures = LIKELY if chance.random() < 0.6 else LIKELY + ODD
    for _ in range(chance.randint(1, 40)):
        record = record_drawn(chance, kinds, figures)
        if record is not None:
            entered = book.write(record)
            if chance.random() < 0.05:
                book.strike(entered[-1])
    return book


@pytest.mark.parametrize("part", [*range(4), *(pytest.param(part, marks=pytest.mark.soak) for part in range(4, 60))])
def test_whatever_can_be_stored_can_be_read(part: int) -> None:
    """250 cases a part: nothing fails, every refusal names a next step, and no sentence shows the words of the machine."""
    for seed in range(250 * part, 250 * part + 250):
        case = book_drawn(seed).case()
        assess(case)
        for shown in (*methods_of(case), *drying_of(case, date(2026, 3, 20))):
            if shown.status.startswith(
                ("cannot", "not ", "test not valid", "open", "overdue", "stalled", "drying not")
            ):
                assert shown.next_steps, (seed, shown.kind, shown.status)
            cells = [cell for table in shown.tables for row in table.rows for cell in row]
            for words in (
                shown.title,
                shown.status,
                shown.words,
                *shown.notes,
                *shown.next_steps,
                *shown.cautions,
                *cells,
            ):
                assert NO_WORDS.search(words) is None, (seed, shown.kind, words)
