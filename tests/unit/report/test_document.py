"""The dataset of a report: plain, whole, traceable, the same every time; and an owner part that leaves no stop out."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
import report_case
from case_builder import FieldBook
from report_case import BEGAN, DEVICE, at, open_book, small_book, small_case, small_document

from desorb.core.assess import assess
from desorb.core.case import Case
from desorb.core.gates import GATES, NOT_A_CLEARANCE, UNDER_EVERY_GATE
from desorb.core.kinds import GateAnswer, Hazard, Zone
from desorb.report.document import QUESTIONS, build_document


def document_of(case: Case, **changes: Any) -> dict[str, Any]:
    wanted: dict[str, Any] = {"number": 1, "issued_at": at(22), "software": "desorb", "photos_awaited": frozenset()}
    return build_document(case, assess(case, history=True), **(wanted | changes))


def rows_of(value: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every row of a table in the dataset, with where it stands."""
    if isinstance(value, dict):
        for name, part in value.items():
            yield from rows_of(part, f"{path}/{name}")
    elif isinstance(value, list):
        for part in value:
            if isinstance(part, dict):
                yield path, part
            yield from rows_of(part, path)


def test_it_is_plain_data() -> None:
    document = small_document()
    assert json.loads(json.dumps(document, allow_nan=False)) == document


def test_it_is_the_same_every_time() -> None:
    again = document_of(small_case(), issued_at=report_case.ISSUED, software=report_case.SOFTWARE,
                        photos_awaited=frozenset({report_case.sha(b"still on the phone")}))  # fmt: skip
    assert again == small_document()


def test_the_six_questions_are_the_spine() -> None:
    assert tuple(small_document()["questions"]) == QUESTIONS
    assert len(QUESTIONS) == 6


def test_every_row_with_a_measured_figure_names_an_entry_that_exists() -> None:
    case = small_case()
    known = {f"{DEVICE}/{n}" for n in range(case.entry_count)}
    document = small_document()
    measured = ("value", "value_text", "repeats", "temperature", "nominal", "depth_mm", "x")
    checked = 0
    for path, row in rows_of({name: document[name] for name in document if name != "owner"}):
        named = [row["entry"]] if row.get("entry") else row.get("entries", [])
        assert set(named) <= known, path
        if path.endswith(("/block", "/plan/spots", "/corrections")) or not any(row.get(name) for name in measured):
            continue
        assert named, (path, row)
        checked += 1
    assert checked > 60


def test_no_reading_is_missing_whatever_became_of_it() -> None:
    case = small_case()
    document = small_document()
    states = {row["entry"]: row["state"] for row in document["readings"]}
    wanted = {entered.entry for entered in (*case.readings, *case.repeated_rows)}
    wanted |= {each.struck.entry for each in case.struck if each.kind == "reading"} | {
        each.entry for each in case.removed
    }
    assert set(states) == wanted
    assert {"counts", "struck", "removed", "same row again, counts once", "kept, no pass rests on it"} <= set(
        states.values()
    )


def test_a_struck_reading_keeps_its_figure_and_says_who_when_and_why() -> None:
    struck = [row for row in small_document()["readings"] if row["state"] == "struck"]
    assert [row["repeats"] for row in struck] == [["410"]]
    assert "R. Marsh" in struck[0]["remarks"][0]
    assert "one nought too many" in struck[0]["remarks"][0]
    assert at(0, 10, 31) in struck[0]["remarks"][0]


def test_readings_stand_in_order_of_visits_and_removed_ones_last() -> None:
    visits = [row["visit"] for row in small_document()["readings"]]
    assert visits == [*sorted(visits[:-1]), ""]


def test_a_control_that_was_refused_says_in_what_it_differs() -> None:
    through_vinyl = [group for group in small_document()["controls"] if group["covering"] == "vinyl"]
    assert len(through_vinyl) == 1
    assert not through_vinyl[0]["used"]
    nearest = [refused for refused in through_vinyl[0]["refused"] if refused["fields"] == ["covering"]]
    assert nearest[0]["spots"] == ["k1", "k2", "k3", "k4"]


def test_elements_and_spots_stand_worst_first() -> None:
    higher = small_document()["higher"]
    rank = ["above control", "cannot say", "no higher than control"]
    for rows in (higher["elements"], higher["spots"]):
        order = [rank.index(row["status"]) for row in rows]
        assert order == sorted(order)
        assert set(order) == {0, 1, 2}


def test_a_value_stands_with_its_context() -> None:
    row = next(row for row in small_document()["higher"]["spots"] if row["id"] == "s3")
    assert row["value_text"] == "27"
    assert row["unit"] == "no unit"
    for part in ("comparative", "bare", "m1"):
        assert part in row["value_in_context"]
    assert row["taken_at"] == at(21, 10, 6)


def test_at_the_end_of_a_scale_the_excess_is_a_bound_too() -> None:
    book = small_book()
    report_case.sweep(book, "v3", 22, {"s2": "100"})
    row = next(row for row in document_of(book.case())["higher"]["spots"] if row["id"] == "s2")
    assert row["end_of_scale"] == "top"
    assert row["excess_text"].startswith("at least +")


def test_photos_awaited_are_marked_and_unknown_ones_are_not_invented() -> None:
    photos = small_document()["photos"]
    assert [photo["awaited"] for photo in photos] == [False, False, False, True]
    assert document_of(small_case(), photos_awaited=frozenset({"0" * 64}))["photos"][3]["awaited"] is False


def test_the_record_is_printed_with_heads_gaps_and_counts() -> None:
    case, record = small_case(), small_document()["record"]
    assert record["heads"] == [
        {"device": DEVICE, "n": case.entry_count - 1, "hash": case.evidence_heads[DEVICE][1],
         "hash_text": record["heads"][0]["hash_text"]}
    ]  # fmt: skip
    assert record["heads"][0]["hash_text"].replace(" ", "") == record["heads"][0]["hash"]
    assert record["gaps"] == ["device tablet-19: 41-46 have not arrived"]
    assert record["corrections_count"] == len(record["corrections"]) == 3
    assert record["entry_count"] == case.entry_count


def test_settings_and_rule_rows_carry_value_unit_source_and_who() -> None:
    rule = small_document()["rule"]
    assert rule["version"] == "tolerance/1"
    for row in [*rule["settings"], *rule["rows"]]:
        assert row["source"]
        assert row["by"] == "R. Marsh"


def test_a_setting_that_was_replaced_stays_and_the_later_rule_row_is_in_force() -> None:
    book = small_book()
    book.write(replace(book.lists["rule_rows"][0].record, margin="0.30"))
    rows = document_of(book.case())["rule"]["rows"]
    assert [(row["margin"], row["in_force"]) for row in rows if row["scale_class"] == "comparative"] == [
        ("0.25", False), ("0.30", True),
    ]  # fmt: skip


def test_the_owner_part_says_what_it_is_not_and_what_stands_under_every_gate() -> None:
    document = small_document()
    assert any(NOT_A_CLEARANCE in words for words in document["owner"]["is_not"])
    assert document["under_every_gate"] == UNDER_EVERY_GATE


def test_the_owner_part_has_one_sentence_for_each_element_with_its_status() -> None:
    found = small_document()["owner"]["found"]
    assert [(item["lead"], item["status"]) for item in found] == [
        ("kitchen, floor", "above control"), ("bedroom, floor", "cannot say"),
        ("hall, party wall", "no higher than control"),
    ]  # fmt: skip
    assert "What would settle it" in found[1]["sentence"]
    assert "could have been missed" in found[2]["sentence"]


def test_the_owner_part_uses_no_id_of_a_zone_and_no_time_stamp() -> None:
    owner = json.dumps(small_document()["owner"])
    assert "z1" not in owner
    assert "T09:35" not in owner
    assert "4 March 2026" in owner


def test_a_stop_is_never_left_out_of_the_owner_part() -> None:
    book = small_book()
    for gate in GATES:
        for zone in ("z1", "z2", "z3", "z4"):
            book.write(Hazard(gate, zone, f"seen in {zone}: " + "very long words about it " * 12, at(21), "R. Marsh"))
    stops = [item for item in document_of(book.case())["owner"]["hurt"] if item["state"] == "stop"]
    assert len(stops) == len(GATES)
    for item in stops:
        assert any(gate.stop in item["sentence"] for gate in GATES.values())  # what to do is never cut off


def test_what_does_not_fit_into_the_owner_part_is_counted() -> None:
    owner = document_of(report_case.large_case(400, 2))["owner"]
    left = owner["found_left"]
    total = len(document_of(report_case.large_case(400, 2))["higher"]["elements"])
    assert len(owner["found"]) < total
    assert f"{total - len(owner['found'])}" in left or left.count("more") > 1


def test_an_answered_gate_is_no_danger_to_the_owner_and_stands_in_the_evidence() -> None:
    book = small_book()
    zones = ("z1", "z2", "z3", "z4")
    for gate in ("electricity", "structure", "gas"):
        book.write(GateAnswer(gate, zones, (), "sheet 9", "T. Pole", "entering", "tested and found sound", at(22)))
    document = document_of(book.case())
    leads = " ".join(row["lead"] for row in document["owner"]["hurt"])
    assert not [
        word for word in ("electrical", "gas", "bulge") if word in leads
    ]  # what is left is asked by a next step
    arrival = [row for row in document["hurt"]["gates"] if row["gate"] in ("electricity", "structure", "gas")]
    assert {row["state"] for row in arrival} == {"evidence recorded"}


def test_the_hazard_stays_visible_after_it_was_answered() -> None:
    assert small_document()["hurt"]["hazards"][0]["words"] == "socket below the wet line"


def test_an_empty_case_has_a_report() -> None:
    document = document_of(Case(id="empty"))
    assert document["owner"]["name"] == "empty"
    assert document["readings"] == []
    assert document["higher"]["plan"]["drawn"] is False


def test_a_case_assessed_without_its_history_has_a_report() -> None:
    case = small_case()
    document = build_document(
        case, assess(case), number=2, issued_at=at(22), software="desorb", photos_awaited=frozenset()
    )
    assert len(document["higher"]["spots"]) == len(small_document()["higher"]["spots"])
    assert document["controls"]


@pytest.mark.parametrize("invented", [True, False])
def test_an_invented_case_says_so(invented: bool) -> None:
    book = open_book(invented=invented)
    assert bool(document_of(book.case())["banner"]) is invented


def test_the_note_of_an_earlier_view_is_kept() -> None:
    assert (
        document_of(small_case(), note_of_known_on="as known on 5 March")["note_of_known_on"] == "as known on 5 March"
    )


def test_air_stands_outside_first_with_what_follows_from_it() -> None:
    air = small_document()["why"]["air"]
    assert [row["kind"] for row in air] == ["outside", "affected", "unaffected", "affected"]
    assert air[2]["temperature"] == "20,0"  # as typed
    assert air[1]["vapour_pressure_excess"] == pytest.approx(
        air[1]["vapour_pressure"] - air[0]["vapour_pressure"], rel=1e-4
    )
    assert air[3]["vapour_pressure_excess"] is None  # nobody read the outside air on that visit


def test_zones_without_words_keep_their_id() -> None:
    book = small_book()
    book.write(Zone("z1", "", "c1", "inside", "yes"))
    assert document_of(book.case())["higher"]["elements"][0]["place"] == "z1, floor"


def test_days_count_from_the_first_visit() -> None:
    panel = small_document()["higher"]["charts"][0]
    days = {mark["day"] for line in panel["lines"] for segment in line["segments"] for mark in segment}
    assert days == {0.0, 9.0, 21.0}
    assert panel["first_day"] == f"{BEGAN.day} March 2026"


def test_the_owner_reads_what_was_above_when_last_read() -> None:
    """The floor cannot be told, and the place that was above and was left out is named."""
    book = FieldBook()
    book.building("screed-1996", "cement screed", "kitchen", "utility: sound", words="floating screed of 1996")
    for day, line in ((0, "17, 18, 19, 60"), (7, "17, 18, 19")):
        book.controls("utility/floor", "18, 16, 19, 17, 20", day=day)
        book.line("kitchen/floor", line, day=day)
    (floor,) = [row for row in document_of(book.case())["owner"]["found"] if "kitchen" in row["lead"]]
    assert floor["status"] == "cannot say"
    assert floor["sentence"].startswith("kitchen.4 read higher when last read and was not read again.")
