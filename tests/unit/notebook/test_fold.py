"""The fold: a pure function of the set of entries. Order of arrival, copies, clocks, hash seeds, zones: nothing moves it."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
import random
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import replace
from typing import Any, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from desorb.core.case import Case, Gap
from desorb.core.kinds import (
    AirReading,
    CaseOpened,
    Note,
    Reading,
    Removal,
    ReportIssued,
    Spot,
    Strike,
)
from desorb.notebook.entry import Entry, entry_of, seal
from desorb.notebook.fold import PLACE_OF_KIND, evidence_heads, fold
from desorb.notebook.schema import RECORD_OF_KIND, payload_of

CASE = "c" * 32
DEVICES = ("one", "two", "three")


def sealed(record: Any, **changes: Any) -> Entry:
    parts: dict[str, Any] = {
        "case": CASE, "device": "one", "n": 0, "prev": "", "clock": 1, "kind": record.KIND,
        "claimed_at": "2026-03-02T09:00:00+00:00", "monotonic": 0, "payload": payload_of(record),
    }  # fmt: skip
    return seal(**(parts | changes))


def written(records: Iterable[tuple[str, Any]], *, salted: bool = False) -> list[Entry]:
    """Entries of several devices, each having seen all before: (device, record) one after the other."""
    entries: list[Entry] = []
    for clock, (device, record) in enumerate(records, start=1):
        own = [entry for entry in entries if entry.device == device]
        prev = own[-1].hash if own else (entries[0].hash if entries else "")
        salt = None if salted else hashlib.sha256(str(clock).encode()).hexdigest()[:32]
        entries.append(sealed(record, device=device, n=len(own), prev=prev, clock=clock, salt=salt))
    return entries


def opened() -> CaseOpened:
    return CaseOpened("A", "site", "Europe/London")


def reading(key: str, value: str = "18.4", **changes: str) -> Reading:
    return replace(Reading(key, "S1", "V1", "meter", "scale", (value,), "bare", "2026-03-02T09:00:00+00:00"), **changes)


def air(key: str, value: str = "20.0") -> AirReading:
    return AirReading(key, "hall", "affected", "V1", "meter", value, "55", "2026-03-02T09:00:00+00:00")


def example(record: type[Any], mark: str) -> Any:
    hints = get_type_hints(record)

    def made(hint: Any, name: str) -> Any:
        if get_origin(hint) is tuple:
            item = get_args(hint)[0]
            return (f"{name} {mark}",) if item is str else (example(item, mark),)
        return {str: f"{name} {mark}", int: 7, bool: True}[hint]

    return record(**{part.name: made(hints[part.name], part.name) for part in dataclasses.fields(record)})


def mixed() -> list[Entry]:
    """One entry of every kind by two devices, with strikes, a twin row, a changed row and a removed payload."""
    records: list[tuple[str, Any]] = [("one", opened())]
    for place, kind in enumerate(sorted(PLACE_OF_KIND)):
        records.append((DEVICES[place % 2], example(RECORD_OF_KIND[kind], f"é{place}")))
    records += [("one", reading("row 1")), ("two", reading("row 1")), ("two", reading("row 1", "19.9"))]
    records += [("two", reading("row 2")), ("three", air("row 1")), ("one", air("row 1"))]
    entries = written(records)
    by_name = {entry.name: entry for entry in entries}
    first = by_name["one/1"]
    clock = len(entries)
    three = [entry for entry in entries if entry.device == "three"]
    prev, n = three[-1].hash, len(three)
    for record in (Strike(first.hash, "w", "x", ""), Strike("0" * 64, "w", "x", ""),
                   Removal(by_name["two/2"].hash, "w", "law", "x", "", ("S1",))):  # fmt: skip
        clock += 1
        entries.append(sealed(record, device="three", n=n, prev=prev, clock=clock, salt="ab" * 16))
        prev, n = entries[-1].hash, n + 1
    return [e if e != by_name["two/2"] else entry_of(e.envelope_text, None, None) for e in entries]


def test_an_empty_set_is_an_empty_case() -> None:
    assert fold([]) == Case(id="")


def test_every_kind_finds_its_place_and_keeps_its_content() -> None:
    for kind, place in PLACE_OF_KIND.items():
        record = example(RECORD_OF_KIND[kind], "x")
        case = fold(written([("one", opened()), ("two", record)]))
        (entered,) = getattr(case, place)
        assert entered.record == record
        assert (entered.entry, entered.device, entered.n, entered.clock, entered.order) == ("two/0", "two", 0, 2, 1)
        others = [p for p in PLACE_OF_KIND.values() if p != place]
        assert all(getattr(case, other) == () for other in others)


def test_the_case_says_who_opened_it_and_how_far_it_goes() -> None:
    entries = written([("one", opened()), ("one", Note("a", "")), ("two", Note("b", ""))])
    case = fold(entries)
    assert case.id == CASE
    assert case.opened is not None
    assert case.opened.record == opened()
    assert case.heads == {"one": (1, entries[1].hash), "two": (0, entries[2].hash)}
    assert case.entry_count == 3
    assert fold(entries[1:]).opened is None


def test_report_entries_are_no_evidence() -> None:
    """A report is superseded by evidence, never by another report."""
    issued = ReportIssued(1, "", (), (), "", "", "")
    entries = written([("one", opened()), ("one", Note("a", "")), ("one", issued), ("two", issued)])
    case = fold(entries)
    assert case.heads == {"one": (2, entries[2].hash), "two": (0, entries[3].hash)}
    assert case.evidence_heads == {"one": (1, entries[1].hash)} == evidence_heads(entries)


# -- a pure function of the set ---------------------------------------------------------------------------------------


def test_no_order_of_arrival_moves_the_case() -> None:
    entries = mixed()
    whole = fold(entries)
    generator = random.Random(20260302)
    for _ in range(100):
        shuffled = [*entries, *generator.sample(entries, 5)]
        generator.shuffle(shuffled)
        assert fold(shuffled) == whole
    assert fold(iter(entries)) == whole
    assert fold(reversed(entries)) == whole


def test_of_two_copies_the_one_with_its_payload_counts() -> None:
    """A copy whose payload has not arrived may come before or after the whole one."""
    entries = written([("one", opened()), ("one", reading("row 1"))])
    without = entry_of(entries[1].envelope_text, None, None)
    whole = fold(entries)
    assert fold([*entries, without]) == fold([without, *entries]) == whole
    assert len(whole.readings) == 1


def test_an_entry_without_payload_is_said_to_be_without() -> None:
    """Else a case as known on an earlier day would be short of a reading without a word."""
    entries = written([("one", opened()), ("one", reading("row 1")), ("one", reading("row 2"))])
    case = fold([entries[0], entry_of(entries[1].envelope_text, None, None), entries[2]])
    assert [each.record.key for each in case.readings] == ["row 2"]
    assert case.not_understood == ("entry one/1 (reading): its payload is not here, and no removal names it",)
    assert case.removed == ()


def test_order_is_by_clock_and_never_by_claimed_time() -> None:
    times = ["2036-01-01T00:00:00+00:00", "2016-02-29T12:00:00+14:00", "", "2026-10-25T01:30:00+01:00", "noon"]
    entries = written([("one", opened()), *((device, reading(f"row {n}")) for n, device in enumerate(DEVICES))])
    for shift in range(len(times)):
        again = written([("one", opened())])
        for n, device in enumerate(DEVICES):
            prev = again[-1].hash if device == "one" else again[0].hash
            number = 1 if device == "one" else 0
            claimed = times[(n + shift) % len(times)]
            record = reading(f"row {n}")
            again.append(sealed(record, device=device, n=number, prev=prev, clock=n + 2, claimed_at=claimed))
        assert [each.record for each in fold(again[::-1]).readings] == [each.record for each in fold(entries).readings]


def test_equal_clocks_are_ordered_by_device_then_number() -> None:
    first = written([("one", opened())])
    later = [
        sealed(Note(device, ""), device=device, n=0, prev=first[0].hash, clock=2) for device in ("b", "a", "aa", "B")
    ]
    assert [each.record.words for each in fold(first + later).notes] == ["B", "a", "aa", "b"]


def test_twins_give_one_case_whatever_came_first() -> None:
    first = written([("one", opened())])
    twins = [sealed(reading(f"row {w}"), n=1, prev=first[0].hash, clock=2) for w in "abcd"]
    assert len({tuple(e.hash for e in fold([*first, *order]).readings) for order in (twins, twins[::-1])}) == 1


# -- rows taken twice -------------------------------------------------------------------------------------------------


def test_the_same_rows_taken_by_two_devices_count_once() -> None:
    """File and row of origin do not make a row another one; a copy of the copy neither."""
    rows = [reading(f"row {n}", f"{n}.5", source=f"a.csv row {n}") for n in range(5)]
    copies = [replace(row, source=f"b.csv row {n}") for n, row in enumerate(rows)]
    records: list[tuple[str, Any]] = [("one", opened())]
    records += [("one", row) for row in rows] + [("two", row) for row in copies] + [("two", row) for row in rows]
    case = fold(written(records))
    assert [each.record for each in case.readings] == rows
    assert len(case.repeated_rows) == 10
    assert case.changed_rows == ()


def test_a_changed_row_is_reported_and_never_replaces() -> None:
    records = [("one", reading("row 1", "18.4")), ("two", reading("row 1", "18.5")), ("two", reading("row 1", "18.4"))]
    case = fold(written([("one", opened()), *records]))
    assert [each.record.values for each in case.readings] == [("18.4",)]
    assert [each.record.values for each in case.changed_rows] == [("18.5",)]
    assert [each.record.values for each in case.repeated_rows] == [("18.4",)]


def test_the_first_by_clock_is_the_one_that_counts() -> None:
    """Two devices that had not met: the lower clock, then the device, not the order of arrival."""
    first = written([("one", opened())])
    early = sealed(reading("row 1", "1.0"), device="two", n=0, prev=first[0].hash, clock=2)
    late = sealed(reading("row 1", "2.0"), device="one", n=1, prev=first[0].hash, clock=3)
    for order in ([early, late], [late, early]):
        case = fold(first + order)
        assert [each.hash for each in case.readings] == [early.hash]
        assert [each.hash for each in case.changed_rows] == [late.hash]


def test_keys_belong_to_their_kind_and_an_empty_key_to_nothing() -> None:
    records = [
        ("one", reading("row 1")), ("one", air("row 1")), ("one", Note("n", "", key="row 1")),
        ("one", Note("same", "")), ("one", Note("same", "")), ("two", Note("same", "")),
        ("one", Spot("row 1", "z", "wall")), ("two", Spot("row 1", "z", "wall")),
    ]  # fmt: skip
    case = fold(written([("one", opened()), *records]))
    assert (len(case.readings), len(case.air_readings), len(case.notes), len(case.spots)) == (1, 1, 4, 2)
    assert (case.repeated_rows, case.changed_rows) == ((), ())


# -- removals, gaps, what is not understood ---------------------------------------------------------------------------


def test_a_removed_entry_keeps_its_place_and_says_by_whom() -> None:
    entries = written([("one", opened()), ("one", reading("row 1"))])
    removal = Removal(entries[1].hash, "asked", "order 5", "x", "", ("S1",))
    again = Removal(entries[1].hash, "asked again", "order 6", "y", "")
    entries += [
        sealed(removal, n=2, prev=entries[1].hash, clock=3), sealed(again, device="two", prev=entries[0].hash, clock=3),
    ]  # fmt: skip
    gone = [entries[0], entry_of(entries[1].envelope_text, None, None), *entries[2:]]
    case = fold(gone)
    (removed,) = case.removed
    assert (removed.entry, removed.kind, removed.hash) == ("one/1", "reading", entries[1].hash)
    assert removed.removal.record == removal
    assert (case.readings, case.not_understood, case.waiting_removals) == ((), (), ())
    assert fold(entries) == fold(entries[::-1]) == case, "a copy that still has its payload counts no more"


def test_a_removal_of_an_entry_that_has_not_arrived_waits() -> None:
    entries = written([("one", opened()), ("one", Removal("0" * 64, "asked", "law", "x", ""))])
    case = fold(entries)
    assert [each.hash for each in case.waiting_removals] == [entries[1].hash]
    assert case.removed == ()


@pytest.mark.parametrize("kind", ["case-opened", "removal", "strike", "report-issued"])
def test_what_is_never_removed_stands(kind: str) -> None:
    entries = written([
        ("one", opened()), ("one", Removal("0" * 64, "", "", "", "")), ("one", Strike("0" * 64, "", "", "")),
        ("one", ReportIssued(1, "", (), (), "", "", "")),
    ])  # fmt: skip
    target = next(entry for entry in entries if entry.kind == kind)
    removal = sealed(Removal(target.hash, "asked", "law", "x", ""), n=4, prev=entries[3].hash, clock=5)
    before, after = fold(entries), fold([*entries, removal])
    assert after.removed == ()
    assert (after.opened, after.waiting_strikes, after.reports) == (
        before.opened, before.waiting_strikes, before.reports,
    )  # fmt: skip


def test_what_is_not_understood_is_named_and_the_rest_stands() -> None:
    entries = written([("one", opened()), ("one", Note("a", ""))])
    odd = [
        sealed(Note("a", ""), n=2, prev=entries[1].hash, clock=3, kind="hologram"),
        sealed(Note("a", ""), n=3, prev="x", clock=4, payload={"words": 5}),
        replace(sealed(Note("a", ""), n=4, prev="y", clock=5), payload_text="[1]"),
        replace(sealed(Note("a", ""), n=5, prev="y", clock=6), payload_text="{"),
    ]
    case = fold([*entries, *odd])
    assert len(case.notes) == 1
    assert [words.partition(":")[0] for words in case.not_understood] == [
        "entry one/2 (hologram)", "entry one/3 (note)", "entry one/4 (note)", "entry one/5 (note)",
    ]  # fmt: skip
    assert case.entry_count == 6


def test_gaps_and_what_was_set_aside_are_part_of_the_case() -> None:
    entries = written([("one", opened()), *(("one", Note(str(n), "")) for n in range(6))])
    case = fold([*entries[:3], entries[6]], {"one": {4}})
    assert case.gaps == (Gap("one", 3, 3), Gap("one", 4, 4, "been set aside"), Gap("one", 5, 5))


# -- any set whatever -------------------------------------------------------------------------------------------------


@st.composite
def any_set(draw: st.DrawFn) -> list[Entry]:
    """Entries by three devices: rows with few keys, notes, strikes and removals of anything, some payloads missing."""
    entries = written([("one", opened())])
    for step in range(draw(st.integers(1, 9))):
        device = draw(st.sampled_from(DEVICES))
        target = draw(st.sampled_from([entry.hash for entry in entries] + ["0" * 64]))
        record = draw(st.sampled_from([
            reading("row 1", "1.0"), reading("row 1", "2.0"), reading("row 2"), Note("n", ""), Note("n", "", key="k"),
            Strike(target, "w", "x", ""), Strike(target, "w", "y", ""), Removal(target, "w", "law", "x", ""),
        ]))  # fmt: skip
        own = [entry for entry in entries if entry.device == device]
        prev = own[-1].hash if own else entries[0].hash
        clock = draw(st.integers(2, 4 + step))
        entries.append(sealed(record, device=device, n=len(own), prev=prev, clock=clock, salt="cd" * 16))
    bare = draw(st.sets(st.integers(0, len(entries) - 1), max_size=2))
    return [e if i not in bare else entry_of(e.envelope_text, None, None) for i, e in enumerate(entries)]


@given(any_set(), st.randoms(use_true_random=False))
def test_any_set_gives_one_case_and_loses_nothing(entries: list[Entry], generator: random.Random) -> None:
    whole = fold(entries)
    again = [*entries, *generator.sample(entries, min(3, len(entries)))]
    generator.shuffle(again)
    assert fold(again) == whole
    assert whole.entry_count == len(entries)
    places = [hash_of for place in PLACE_OF_KIND.values() for hash_of in (e.hash for e in getattr(whole, place))]
    struck = [each.struck.hash for each in whole.struck]
    repeated = [each.hash for each in (*whole.repeated_rows, *whole.changed_rows)]
    removed = [each.hash for each in whole.removed]
    shown = places + struck + repeated + removed
    assert len(shown) == len(set(shown)), "an entry stands in two places"
    measured = {e.hash for e in entries if e.kind in PLACE_OF_KIND and e.payload_text is not None}
    assert measured <= set(shown), "something measured disappeared"
    bare = {e.name for e in entries if e.payload_text is None and e.hash not in removed}
    assert bare == {words.split()[1] for words in whole.not_understood if "payload is not here" in words}


@given(any_set())
def test_a_larger_set_never_forgets(entries: list[Entry]) -> None:
    """Entry count never falls as entries arrive, and what was shown as struck or removed stays shown (TRUST B6)."""
    before = 0
    for end in range(1, len(entries) + 1):
        case = fold(entries[:end])
        assert case.entry_count == before + 1
        before = case.entry_count


# -- seeds, zones, locales --------------------------------------------------------------------------------------------

PROGRAM = """
import dataclasses, hashlib, json, sys, time
import locale
try:
    locale.setlocale(locale.LC_ALL, "")
except locale.Error:
    pass
time.tzset()
from desorb.notebook.entry import entry_of
from desorb.notebook.fold import fold
texts = json.load(sys.stdin)
order = list(set(range(len(texts))))
order.sort(key=lambda place: hash(str(place)))
case = fold(entry_of(*texts[place]) for place in order)
form = json.dumps(dataclasses.asdict(case), ensure_ascii=True)
print(hashlib.sha256(form.encode()).hexdigest(), len(case.readings), case.entry_count)
"""
SURROUNDINGS = [
    {"PYTHONHASHSEED": str(seed), "TZ": zone, "LC_ALL": language}
    for seed, zone, language in zip(
        range(10),
        ["UTC", "Europe/London", "America/St_Johns", "Asia/Kathmandu", "Pacific/Kiritimati"] * 2,
        ["C", "C.UTF-8", "tr_TR.UTF-8", "POSIX", "de_DE.UTF-8"] * 2,
        strict=True,
    )
]


def test_hash_seed_time_zone_and_locale_do_not_move_the_case() -> None:
    """TRUST B9: ten hash seeds, five zones, three locales and more (those not installed fall back to C)."""
    entries = mixed()
    texts = json.dumps([(e.envelope_text, e.salt, e.payload_text) for e in entries])
    started = [
        subprocess.Popen(
            [sys.executable, "-c", PROGRAM], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
            env=os.environ | surroundings,
        )
        for surroundings in SURROUNDINGS
    ]  # fmt: skip
    printed = {process.communicate(texts)[0] for process in started}
    form = json.dumps(dataclasses.asdict(fold(entries)), ensure_ascii=True)
    assert {line.split()[0] for line in printed} == {hashlib.sha256(form.encode()).hexdigest()}
    assert len(printed) == 1
