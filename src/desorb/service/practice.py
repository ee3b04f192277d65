"""Practice: a trainee marks an invented case blind, and desorb says where its own answer rests.

Contents: PracticeRoom (the store of the page and one of its own, for a demonstration case); Sheet, sheet_of (a case without
its answers); mark (compare status and reason, spot by spot); first_pass, second_pass (blind repeats); studies (several
people); results (all that was done here, oldest first).
Only invented cases are offered. What a trainee does is kept in practice.jsonl beside the store, never in a case.
"""

from __future__ import annotations

import contextlib
import json
import math
import os
import tempfile
import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from desorb.core.assess import Assessed
from desorb.core.case import Case
from desorb.core.evidence import Evidence, scale_class
from desorb.core.measurement_study import gauge_study
from desorb.core.outcome import STATUSES, Assessment
from desorb.core.practice import WHY, agreement_of, reasons_of, repeat_spread, why_not_compared
from desorb.core.typed import read_value
from desorb.errors import InputError, NotFound, NotUnderstood, Refused
from desorb.notebook.store import Store
from desorb.service.assessing import assess_case
from desorb.service.cases import Clock, OpenCase, case_names, find_case, now
from desorb.service.demo import CASE_NAME, _SetClock, build_case

FILE = "practice.jsonl"
MOST_SPOTS = 60  # on one sheet of repeats
_appending = threading.Lock()


@dataclass(slots=True)
class PracticeRoom:
    """Where practice takes place: invented cases of the store, and of a store of its own under home/practice."""

    store: Store
    clock: Clock = now

    @property
    def folder(self) -> Path:
        return self.store.home / "practice"

    @contextlib.contextmanager
    def _own(self) -> Iterator[Store | None]:
        if not (self.folder / "record.sqlite").exists():
            yield None
            return
        with Store(self.folder) as store:
            yield store

    def cases(self) -> list[OpenCase]:
        """Invented cases only: a real one is never shown here."""
        with self._own() as own:
            return [case for store in (self.store, own) if store is not None for case in _invented(store)]

    def assessed(self, case: str) -> tuple[OpenCase, Case, Assessed]:
        with self._own() as own:
            for store in (self.store, own):
                if store is None:
                    continue
                for found in _invented(store):
                    if case in (found.id, found.name):
                        return found, *assess_case(store, found)
        if case in case_names(self.store) or case in case_names(self.store).values():
            raise Refused(
                "a real case is not practised on", got=case, wanted="an invented case",
                next_step="build the demonstration case for practice",
            )  # fmt: skip
        raise NotFound("there is no such practice case", got=repr(case[:80]), next_step="see the practice page")

    def build(self) -> OpenCase:
        """Build the demonstration case into the store of practice; it never enters the store of the page."""
        with Store(self.folder, now=(clock := _SetClock()).text) as store:
            if CASE_NAME in case_names(store):
                raise Refused("the demonstration case is here already", next_step="choose it from the list")
            with tempfile.TemporaryDirectory(prefix="desorb-practice-") as out:
                return build_case(store, clock, Path(out))


def _invented(store: Store) -> list[OpenCase]:
    return [find_case(store, id) for id in case_names(store).values() if store.opening_of(id).get("invented") is True]


@dataclass(frozen=True, slots=True)
class Row:
    """One reading as it was written down: no status, no limit."""

    spot: str
    role: str
    place: str
    construction: str
    values: str
    scale: str
    instrument: str
    covering: str
    preparation: str
    temperature: str  # of the material, degC
    species: str
    visit: str
    taken_at: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """What the trainee sees."""

    case: str
    name: str
    spots: tuple[Row, ...]
    controls: tuple[Row, ...]
    findings: tuple[str, ...]
    rows: tuple[str, ...]  # margins of the classes of scales
    statuses: tuple[str, ...]
    why: Mapping[str, str]


def sheet_of(room: PracticeRoom, case: str) -> Sheet:
    """A case without its answers: the newest reading of each spot, all controls with it, and what is odd about the data."""
    found, folded, assessed = room.assessed(case)
    by_entry = {each.entered.entry: each for each in assessed.evidence}
    asked = [by_entry[spot.readings[0]] for spot in assessed.spots if spot.readings and spot.readings[0] in by_entry]
    visits = {each.reading.visit for each in asked}
    controls = [each for each in assessed.evidence if each.is_control and each.reading.visit in visits]
    classes = {scale_class(each.scale) for each in asked}
    rows = [row for name in sorted(classes) if (row := folded.rule_row(name)) is not None]
    return Sheet(
        found.id, found.name, tuple(map(_row, asked)), tuple(map(_row, controls)),
        tuple(dict.fromkeys(finding.words for finding in assessed.findings if finding.spots and not finding.answered)),
        tuple(
            f"{row.scale_class}: margin {_share(row.margin, row.on_logarithms)}, spread between sound places"
            f" {_share(row.class_spread, row.on_logarithms)}, repeatability {row.repeatability} digits"
            for row in rows
        ), STATUSES, WHY,
    )  # fmt: skip


def _share(text: str, on_logarithms: bool) -> str:
    return f"{100 * float(text):.3g} %" if on_logarithms else f"{text} points"


def _row(each: Evidence) -> Row:
    reading = each.reading
    scale = f"{each.scale.key}, {each.scale.bottom} to {each.scale.top}, {each.scale.unit or 'no unit'}"
    return Row(
        each.spot.id, each.spot.role, f"{each.zone.words or each.zone.id}, {each.spot.element}", each.construction.words,
        " ".join(reading.values), scale, each.instrument.id, reading.covering, reading.preparation, reading.temperature,
        reading.species, reading.visit,
        reading.taken_at,
    )  # fmt: skip


def mark(room: PracticeRoom, case: str, answers: Sequence[Mapping[str, str]], by: str) -> dict[str, Any]:
    """Hold a trainee's words against desorb's, spot by spot, and keep the result. Every spot is answered once."""
    _named(by)
    found, folded, assessed = room.assessed(case)
    why_not = why_not_compared(folded, assessed)
    spots = {spot.id: spot for spot in assessed.spots if spot.readings}
    given = {answer["spot"]: answer for answer in answers}
    missing, strange = [key for key in spots if key not in given], [key for key in given if key not in spots]
    if missing or strange or len(given) != len(answers):
        raise InputError(
            "every spot is answered once, and no other", got=f"{len(answers)} answers",
            wanted=f"{len(spots)}; missing: {', '.join(missing) or 'none'}; not here: {', '.join(strange)[:200] or 'none'}",
        )  # fmt: skip
    for answer in answers:
        if answer["status"] not in STATUSES or answer["why"] not in WHY:
            raise InputError(
                f"spot {answer['spot']}: this is not one of the words", got=f"{answer['status']}, {answer['why']}"[:200],
                wanted="a status and a reason from the lists",
            )  # fmt: skip
    lines = [_line(spots[key], given[key], why_not.get(key, "")) for key in spots]
    agreement = agreement_of([line["said"] for line in lines], [line["status"] for line in lines])
    result = {
        "kind": "marks", "by": by.strip(), "case": found.name, "rule": assessed.spots[0].rule if assessed.spots else "",
        "lines": lines, "agreement": asdict(agreement), "statuses": list(STATUSES),
        "reasons_agreed": sum(line["why_agrees"] for line in lines),
        "missed_wet": [line["spot"] for line in lines if line["status"] == STATUSES[0] and line["said"] == STATUSES[2]],
        "said_too_much": [line["spot"] for line in lines if line["status"] == STATUSES[1] and line["said"] == STATUSES[2]],
    }  # fmt: skip
    return _append(room, result)


def _line(spot: Assessment, answer: Mapping[str, str], why_not: str) -> dict[str, Any]:
    reasons = reasons_of(spot, why_not)
    return {
        "spot": spot.id, "said": answer["status"], "said_why": answer["why"], "status": spot.status,
        "status_agrees": answer["status"] == spot.status, "why": list(reasons), "why_agrees": answer["why"] in reasons,
        "rests_on": list(spot.reasons), "controls": list(spot.controls_used),
        "next": spot.next_test.words if spot.next_test else "", "value": spot.value_text,
    }  # fmt: skip


def first_pass(room: PracticeRoom, lines: Sequence[str], scale: str, by: str) -> dict[str, Any]:
    """The first blind pass: 'spot value', one a line. It is not shown again before the second is in."""
    _named(by)
    if not scale.strip():
        raise InputError("a reading names its scale", got="no scale")
    return _append(room, {"kind": "first pass", "by": by.strip(), "scale": scale.strip(), "readings": _readings(lines)})


def second_pass(room: PracticeRoom, number: int, lines: Sequence[str]) -> dict[str, Any]:
    """The second blind pass of the same person on the same places: the spread of the repeats, in digits of the scale."""
    earlier = results(room)
    first = next((each for each in earlier if each["number"] == number and each["kind"] == "first pass"), None)
    if first is None:
        raise NotFound("there is no such first pass", got=str(number), next_step="make the first pass")
    if any(each["kind"] == "repeats" and each["first"] == number for each in earlier):
        raise Refused("this pass was read twice already", next_step="begin with a new first pass")
    again = _readings(lines)
    before = dict(first["readings"])
    if set(before) != {spot for spot, _ in again}:
        raise InputError(
            "the second pass has the same spots", got=", ".join(s for s, _ in again)[:200], wanted=", ".join(before)
        )
    pairs = [(spot, before[spot], value) for spot, value in again]
    spread = repeat_spread([_figure(pair[1]) for pair in pairs], [_figure(pair[2]) for pair in pairs])
    result = {
        "kind": "repeats", "by": first["by"], "scale": first["scale"], "first": number, "pairs": pairs, "spread": asdict(spread),
    }  # fmt: skip
    return _append(room, result)


def studies(room: PracticeRoom) -> list[dict[str, Any]]:
    """Where two people or more read the same spots on one scale, blind and twice: how much is the hand, how much the place."""
    groups: dict[tuple[str, tuple[str, ...]], dict[str, dict[str, tuple[str, str]]]] = {}
    for each in results(room):
        if each["kind"] == "repeats":
            pairs = {spot: (one, two) for spot, one, two in each["pairs"]}
            groups.setdefault((each["scale"], tuple(sorted(pairs))), {})[each["by"]] = (
                pairs  # the newest of each person
            )
    found = []
    for (scale, spots), people in groups.items():
        if len(people) < 2:
            continue
        table = [[[_figure(value) for value in pairs[spot]] for spot in spots] for pairs in people.values()]
        if len({value for person in table for spot in person for value in spot}) < 2:
            continue  # all readings equal: there is no spread to share out
        study = gauge_study(table)
        found.append({
            "scale": scale, "spots": list(spots), "people": list(people),
            "repeat_spread": math.sqrt(study.repeat_variance), "person_spread": math.sqrt(study.operator_variance),
            "person_by_spot_spread": math.sqrt(study.interaction_variance), "spot_spread": math.sqrt(study.part_variance),
        })  # fmt: skip
    return found


def _readings(lines: Sequence[str]) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for place, line in enumerate(lines, 1):
        spot, _, value = line.strip().rpartition(" ")
        if not spot:
            raise InputError(
                f"line {place} does not say a spot and a value", got=repr(line[:80]), wanted="such as: p1 34"
            )
        if read_value(value).bound:
            raise InputError(
                f"line {place}: a value at an end of the scale has no spread",
                got=value,
                next_step="leave this spot out",
            )
        found.append((spot.strip()[:40], value))
    if not 2 <= len(found) <= MOST_SPOTS or len({spot for spot, _ in found}) != len(found):
        raise InputError(
            "a pass has each spot once", got=f"{len(found)} lines", wanted=f"2 to {MOST_SPOTS} different spots"
        )
    return found


def _figure(text: str) -> float:
    return float(read_value(text).number)


def _named(by: str) -> None:
    if not by.strip() or len(by) > 80 or not by.isprintable():
        raise InputError("practice is kept under a name", got=repr(by[:80]), wanted="at most 80 letters")


def results(room: PracticeRoom) -> list[dict[str, Any]]:
    """Everything that was practised on this machine, oldest first, each with its number."""
    path = room.store.home / FILE
    if not path.exists():
        return []
    found = []
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        try:
            found.append(json.loads(line) | {"number": number})
        except (json.JSONDecodeError, TypeError) as problem:
            raise NotUnderstood(
                f"line {number} of {FILE} could not be read",
                got=line[:80],
                next_step="mend that line; it is kept as it is",
            ) from problem
    return found


def _append(room: PracticeRoom, result: dict[str, Any]) -> dict[str, Any]:
    """One line more; nothing before it is changed."""
    line = json.dumps({"at": room.clock().isoformat(timespec="seconds")} | result, ensure_ascii=False, allow_nan=False)
    with _appending:
        with (room.store.home / FILE).open("a", encoding="utf-8") as file:
            file.write(f"{line}\n")
            file.flush()
            os.fsync(file.fileno())
        return results(room)[-1]
