"""core/checks.py: is it evidence? Every finding with what it blocks, whom it names and what comes next."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builder import CONCRETE, METER, PROBE, FieldBook, at

from desorb.core.checks import NOT_MENDED_BY_WORDS, check_readings, repeatability_of
from desorb.core.evidence import evidence_of
from desorb.core.kinds import FindingAnswer, Readiness, SaltTest
from desorb.core.outcome import BLOCKS_BOTH, BLOCKS_NOTHING, BLOCKS_PASS, Finding


def found(book: FieldBook, code: str = "") -> list[Finding]:
    case = book.case()
    evidence, missing = evidence_of(case)
    return [finding for finding in missing + check_readings(evidence, case) if code in ("", finding.code)]


def screed_book(**how: bool) -> FieldBook:
    book = FieldBook(**how)
    book.building("screed", "cement screed", "kitchen", "utility: sound")
    return book


def test_nothing_is_found_where_nothing_is_wrong() -> None:
    book = screed_book()
    book.controls("utility/floor", "18, 16, 19")
    book.line("kitchen/floor", "24, 25 25 26, 61")
    assert found(book) == []


@pytest.mark.parametrize(
    ("material", "of_scale", "wrong"),
    [
        ("concrete", "concrete", False),
        ("Concrete", "concrete", False),
        ("cement screed", "concrete", True),
        ("wood", "", False),
    ],
)
def test_a_scale_belongs_to_its_material(material: str, of_scale: str, wrong: bool) -> None:
    book = FieldBook()
    book.building("c", material, "kitchen")
    book.write(replace(METER, scales=(replace(CONCRETE, key="s", material=of_scale),)))
    book.line("kitchen/floor", "3.0", scale="s")
    assert bool(found(book, "wrong-scale")) == wrong


@pytest.mark.parametrize(("text", "outside"), [("101", "101"), ("-1", "-1"), ("54 110", "110"), ("100", ""), ("0", "")])
def test_beyond_the_ends_of_the_scale(text: str, outside: str) -> None:
    book = screed_book()
    book.line("kitchen/floor", text)
    findings = found(book, "beyond-scale")
    assert bool(findings) == bool(outside)
    if findings:
        assert findings[0].words.startswith(f"{outside} at kitchen.1 lies beyond the scale, which runs from 0 to 100")
        assert findings[0].blocks == BLOCKS_BOTH


@pytest.mark.parametrize(
    ("repeats", "code"),
    [
        ("64 73 65", "wide-repeats"),  # TASKS 26
        ("64 65 66", ""),  # range 2: two steps of a whole-digit display
        ("64 65 67", "wide-repeats"),
        ("64 66", ""),
        ("64 67", "wide-repeats"),
        ("60 71 72", "low-repeat"),
        ("60 62 72", "wide-repeats"),  # high and low: not one contact
        ("100 100 54", ""),  # the middle stands at the end of the scale: no spread is taken of it
        ("54", ""),
    ],
)
def test_repeats(repeats: str, code: str) -> None:
    """With r = 1 on whole digits: three repeats may spread over two digits; beyond that somebody looks (ISO 5725-6)."""
    book = screed_book()
    book.line("kitchen/floor", repeats)
    assert [finding.code for finding in found(book)] == ([code] if code else [])


def test_the_allowed_range_follows_the_declared_repeatability() -> None:
    """r = 6 allows 3.3 / 2.8 x 6 = 7.1 digits over three repeats, with 3.3 the critical range factor of ISO 5725-6."""
    for top, expected in ((71, []), (72, ["wide-repeats"])):
        book = screed_book()
        book.write(replace(METER, scales=(replace(METER.scales[0], repeatability="6"),)))
        book.line("kitchen/floor", f"64 66 {top}")
        assert [finding.code for finding in found(book)] == expected


@pytest.mark.parametrize(
    ("scale", "row", "wanted"),
    [
        ({"repeatability": "3"}, True, 3.0),
        ({"repeatability": ""}, True, 1.0),
        ({"repeatability": "", "resolution": "0.5"}, False, 0.5),
    ],
)
def test_where_the_repeatability_comes_from(scale: dict[str, str], row: bool, wanted: float) -> None:
    """The scale's own, else that of its class, else one step of the display."""
    book = screed_book()
    if not row:
        book.lists["rule_rows"].clear()
    book.write(replace(METER, scales=(replace(METER.scales[0], **scale),)))
    book.line("kitchen/floor", "54")
    assert repeatability_of(book.evidence()[0], book.case()) == wanted


@pytest.mark.parametrize(
    ("rows", "same_way", "differ"),
    [
        (["30", "18"], {}, True), (["18", "19"], {}, False), (["18", "20"], {}, False), (["18", "21"], {}, True),
        (["18", "19", "21"], {}, True), (["30", "18"], {"covering": "cork tile"}, False),
        (["30", "18"], {"preparation": "abraded"}, False), (["30", "18"], {"depth_to": "20"}, False),
        (["30", "18"], {"day": 1}, False),
    ],
)  # fmt: skip
def test_the_same_spot_written_twice_in_one_visit(rows: list[str], same_way: dict[str, object], differ: bool) -> None:
    """Read the same way with other figures: one of them is wrong, or something was changed. Another way is no repeat."""
    book = screed_book()
    for number, value in enumerate(rows):
        book.line("kitchen/floor", value, names="k", **(same_way if number else {}))  # type: ignore[arg-type]
    findings = found(book, "read-twice")
    assert bool(findings) == differ
    if differ:
        assert findings[0].blocks == BLOCKS_PASS
        assert len(findings[0].entries) == len(rows)
        assert "strike the entry that is wrong" in findings[0].next_step
        assert " and ".join(rows) in findings[0].words


# -- instruments ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("checks", "code", "said"),
    [
        ([(-3, "50")], "", ""),
        ([(-30, "50")], "check-overdue", "30 days before"),  # 10:00 on day 0 is 30 days and 2 hours after 08:00
        ([(-29.9, "50")], "", ""),
        ([], "check-overdue", "no logged check before this visit"),
        ([(1, "50")], "check-overdue", "no logged check before this visit"),
        ([(-3, "57")], "check-failed", "failed its check on 2026-02-27 and was used afterwards"),
        ([(-9, "50"), (-3, "57")], "check-failed", "used afterwards"),
        ([(-9, "57"), (-3, "50")], "", ""),
        ([(-3, "50"), (2, "57")], "check-failed", "in doubt since its last good check on 2026-02-27"),
        ([(2, "57")], "check-failed", "in doubt and never passed before"),
        ([(-3, "50"), (2, "50"), (4, "57")], "", ""),
        ([(-41, "50"), (2, "57")], "check-failed", "in doubt since"),
    ],
)
def test_the_check_log_of_the_instrument(checks: list[tuple[float, str]], code: str, said: str) -> None:
    """Block 50 +- 2 every 30 days; the reading is taken on day 0 at 10:00, checks at 08:00 (TASKS 14)."""
    book = screed_book(checked=False)
    for day, value in checks:
        book.check(METER, day, value)
    book.line("kitchen/floor", "54")
    findings = found(book)
    assert [finding.code for finding in findings] == ([code] if code else [])
    if code:
        assert said in findings[0].words
        assert findings[0].blocks == (BLOCKS_BOTH if code == "check-failed" else BLOCKS_PASS)
        assert findings[0].next_step


@pytest.mark.parametrize(
    ("due", "overdue"), [("2026-03-01", True), ("2026-03-02", False), ("2026-12-31", False), ("", False)]
)
def test_the_calibration_date(due: str, overdue: bool) -> None:
    """Read on 2026-03-02: the day itself is still in date."""
    book = screed_book()
    book.write(replace(METER, calibration_due=due))
    book.line("kitchen/floor", "54")
    assert [finding.code for finding in found(book)] == (["calibration-overdue"] if overdue else [])


def test_an_instrument_without_block_or_date_is_unknown_and_a_laboratory_is_not_asked() -> None:
    book = FieldBook()
    book.building("leaf", "brick", "low")
    book.write(replace(PROBE, block=(), calibration_due=""))
    book.line("low/void", "58", scale="hole", covering="none")
    book.line("low/wall", "1.6", scale="oven", covering="none", names="sample")
    assert [(finding.code, finding.spots) for finding in found(book)] == [("check-unknown", ("low.1",))]


def test_one_finding_for_all_readings_of_a_visit() -> None:
    """Six readings with an overdue meter are one finding that names six entries, and the scale if it is one."""
    book = screed_book(checked=False)
    book.line("kitchen/floor", "54, 55, 56")
    one_scale = found(book, "check-overdue")
    assert [(len(finding.entries), finding.scale) for finding in one_scale] == [(3, "comparative")]
    book.line("kitchen/floor", "3.1", scale="oven-eq screed", names="other")
    assert [(len(finding.entries), finding.scale) for finding in found(book, "check-overdue")] == [(4, "")]
    book.line("kitchen/floor", "54", day=1)
    assert [finding.visit for finding in found(book, "check-overdue")] == ["d0", "d1"]


# -- readiness --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ("battery", "battery"), ("contacts_free", "contacts free and clean"), ("free_air", "free-air reading"),
        ("block", "check block"), ("probe_settled", "probe settled"),
    ],
)  # fmt: skip
def test_each_part_of_readiness_is_named(part: str, words: str) -> None:
    book = screed_book(confirmed=False)
    book.write(Readiness("m1", "d0", **{part: "no"}))
    book.line("kitchen/floor", "54")
    finding = found(book, "not-ready")[0]
    assert f"{words} not in order" in finding.words
    assert finding.blocks == BLOCKS_PASS


def test_no_word_on_readiness_is_said_and_blocks_nothing() -> None:
    book = screed_book(confirmed=False)
    book.line("kitchen/floor", "54")
    assert [finding.blocks for finding in found(book, "readiness-absent")] == [BLOCKS_NOTHING]


@pytest.mark.parametrize(
    ("words", "codes"),
    [
        ([("09:00", "no"), ("09:30", "yes")], []),  # put in order before the reading at 10:00
        ([("09:00", "yes"), ("09:30", "no")], ["not-ready"]),
        ([("09:00", "no"), ("11:00", "yes")], ["not-ready"]),  # mended afterwards
        ([("11:00", "no")], ["not-ready"]),  # the only word there is
        ([("11:00", "yes")], []),
    ],
)
def test_the_word_that_stood_when_it_was_read(words: list[tuple[str, str]], codes: list[str]) -> None:
    book = screed_book(confirmed=False)
    for clock, state in words:
        book.write(Readiness("m1", "d0", contacts_free=state, at=at(0, clock)))
    book.line("kitchen/floor", "54")
    assert [finding.code for finding in found(book) if "ready" in finding.code or "readiness" in finding.code] == codes


def test_a_laboratory_has_no_readiness() -> None:
    book = FieldBook(confirmed=False)
    book.building("leaf", "brick", "low")
    book.line("low/wall", "1.6", scale="oven", covering="none")
    assert found(book) == []


# -- salts and depth --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("test", "concerned"),
    [
        (SaltTest("kitchen", "floor", "positive", "strip", at()), True),
        (SaltTest("kitchen", "floor", "negative", "strip", at()), False),
        (SaltTest("kitchen", "wall", "positive", "strip", at()), False),
        (SaltTest("utility", "floor", "positive", "strip", at()), False),
    ],
)
def test_salts_concern_the_element_they_were_found_in(test: SaltTest, concerned: bool) -> None:
    book = screed_book()
    book.line("kitchen/floor", "54, 55")
    book.write(test)
    findings = found(book, "salts")
    assert bool(findings) == concerned
    if concerned:
        assert findings[0].spots == ("kitchen.1", "kitchen.2")
        assert "go by it" not in findings[0].words  # no sample was dried
        assert findings[0].blocks == BLOCKS_BOTH


def test_salts_do_not_touch_a_sample_or_a_hole() -> None:
    book = screed_book()
    book.line("kitchen/floor", "2.0", scale="oven", covering="none")
    book.line("kitchen/floor", "58", scale="hole", covering="none", names="hole")
    book.write(SaltTest("kitchen", "floor", "positive", "strip", at()))
    assert found(book, "salts") == []


@pytest.mark.parametrize(
    ("upper", "lower", "said"),
    [
        ("11.9", "19.4", "7.5 points, wetter below"),  # TASKS 33
        ("19.4", "11.9", "7.5 points, wetter above"),
        ("11.9", "12.4", ""),  # within r = 0.5 point
        ("11.9", "12.5", "0.6 points, wetter below"),
        ("11.9", "60", ""),  # at the end of the scale: no difference is taken
    ],
)
def test_two_depths_at_one_spot(upper: str, lower: str, said: str) -> None:
    book = FieldBook()
    book.building("joists", "wood", "void")
    warm = {"scale": "wood", "temperature": "20", "names": "j"}
    book.line("void/joists", lower, depth_from="60", depth_to="65", **warm)  # type: ignore[arg-type]
    book.line("void/joists", upper, depth_from="0", depth_to="5", **warm)  # type: ignore[arg-type]
    findings = found(book, "gradient")
    assert bool(findings) == bool(said)
    if said:
        assert said in findings[0].words
        assert findings[0].blocks == BLOCKS_NOTHING


def test_the_same_depth_twice_is_no_gradient() -> None:
    book = FieldBook()
    book.building("joists", "wood", "void")
    for value in ("11.9", "19.4"):
        book.line("void/joists", value, scale="wood", temperature="20", names="j", depth_to="20")
    assert found(book, "gradient") == []


# -- answers ----------------------------------------------------------------------------------------------------------


def test_an_answered_finding_stays_visible_and_blocks_nothing() -> None:
    book = screed_book()
    book.line("kitchen/floor", "64 73 65")
    book.write(
        FindingAnswer(
            "wide-repeats", "d0", "m1", "", "edge of a tile; read again beside it", at(0, "12:00"), "R. Marsh"
        )
    )
    finding = found(book, "wide-repeats")[0]
    assert finding.blocks == BLOCKS_NOTHING
    assert finding.answered == f"edge of a tile; read again beside it (R. Marsh, {at(0, '12:00')})"


@pytest.mark.parametrize("code", NOT_MENDED_BY_WORDS)
def test_what_no_words_can_mend(code: str) -> None:
    """An instrument out of check, a wrong scale, a figure its scale cannot give: an answer changes nothing."""
    from desorb.core.checks import with_answer

    book = screed_book()
    book.write(FindingAnswer(code, "d0", "m1", "", "never mind", at(), "R. Marsh"))
    finding = Finding(code, "words", BLOCKS_PASS, "step", "d0", "m1", "comparative")
    assert with_answer(finding, book.case()) is finding
