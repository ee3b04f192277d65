"""service/instruments.py: instruments and their checks belong to the store; a case carries the copy it used."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builder import COMPARATIVE, METER, OWN_TABLE, PIN_METER, SCREED, Desk, clock

from desorb.core.kinds import CheckBlock, Instrument
from desorb.errors import DesorbError, InputError, NotFound, NotUnderstood
from desorb.service.instruments import check_log, copies_for, describe_instrument, examine, instruments, log_check


def with_scale(**parts: str) -> Instrument:
    return replace(METER, scales=(replace(COMPARATIVE, **parts),), block=())


def with_block(**parts: object) -> Instrument:
    return replace(METER, block=(replace(METER.block[0], **parts),))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("instrument", "said"),
    [
        (replace(METER, id=" "), "needs an id"),
        (replace(METER, scales=()), "at least one scale"),
        (replace(METER, scales=(COMPARATIVE, COMPARATIVE)), "two scales with one word"),
        (with_scale(principle="magic"), "principle is not known"),
        (with_scale(claims="certain"), "claims is not clear"),
        (with_scale(unit="%"), "comparative scale has no unit"),
        (replace(METER, scales=(replace(SCREED, method=""),), block=()), "names its method and the material"),
        (replace(METER, scales=(replace(SCREED, material=""),), block=()), "names its method and the material"),
        (replace(METER, scales=(replace(SCREED, basis=""),), block=()), "says its basis"),
        (with_scale(top=""), "part of the scale"),
        (with_scale(resolution=""), "part of the scale"),
        (with_scale(bottom="100"), "bottom must lie below the top"),
        (with_scale(resolution="0"), "bottom must lie below"),
        (with_scale(top="high"), "this is not a number"),
        (with_scale(top="nan"), "this is not a number"),
        (with_scale(bottom="-inf"), "this is not a number"),
        (with_scale(top="100,0"), "not a number"),
        (with_scale(repeatability="-1"), "repeatability limit is 0 or more"),
        (with_scale(depth="deep"), "this is not a number"),
        (with_block(scale="other"), "names a scale it does not have"),
        (with_block(nominal="fifty"), "this is not a number"),
        (with_block(tolerance="nan"), "this is not a number"),
        (with_block(tolerance="-1"), "a tolerance is 0 or more"),
        (with_block(interval_days=0), "an interval one day or more"),
        (replace(METER, calibration_due="next year"), "not a date"),
        (replace(PIN_METER, corrections=(replace(OWN_TABLE, additions=("1",)),)), "does not pair up"),
        (replace(PIN_METER, corrections=(replace(OWN_TABLE, scale="other"),)), "names a scale it does not have"),
        (replace(PIN_METER, corrections=(replace(OWN_TABLE, species=("oak",)),)), "does not pair up"),
        (replace(PIN_METER, corrections=(replace(OWN_TABLE, additions=("1", "2", "3", "x")),)), "this is not a number"),
    ],
)
def test_a_description_that_cannot_work_is_refused_by_part(instrument: Instrument, said: str) -> None:
    with pytest.raises(InputError) as refused:
        examine(instrument)
    assert said in str(refused.value)


@pytest.mark.parametrize(
    "instrument", [METER, PIN_METER, replace(METER, calibration_due=""), with_scale(repeatability="")]
)
def test_a_description_that_works(instrument: Instrument) -> None:
    examine(instrument)


def test_describing_twice_says_nothing_new(empty: Desk) -> None:
    assert describe_instrument(empty.store, METER)
    assert not describe_instrument(empty.store, METER)
    assert describe_instrument(empty.store, replace(METER, words="after repair"))
    assert instruments(empty.store)["m1"].words == "after repair"


def test_checks_are_logged_in_the_order_of_their_time(empty: Desk) -> None:
    empty.instruments(METER, PIN_METER)
    for when, value in (("2026-03-09T08:00", "50,5"), ("2026-03-02", "49"), ("2026-03-05T08:00+02:00", "53")):
        empty.check("m1", value, when)
    empty.check("p1", "18", "2026-03-01T08:00")
    log = check_log(empty.store, "m1")
    assert [(check.value, check.at, check.passed) for check in log] == [
        ("49", "2026-03-02T12:00:00+00:00", True),
        ("53", "2026-03-05T08:00:00+02:00", False),
        ("50.5", "2026-03-09T08:00:00+00:00", True),
    ]
    assert len(check_log(empty.store)) == 4


@pytest.mark.parametrize(("value", "at"), [("fifty", "2026-03-02"), ("50", "last week"), (" ", "2026-03-02")])
def test_a_check_that_cannot_be_read_is_refused(empty: Desk, value: str, at: str) -> None:
    empty.instruments(METER)
    with pytest.raises(NotUnderstood):
        log_check(empty.store, "m1", value, at=at, clock=clock)
    assert check_log(empty.store) == []


def test_a_check_of_the_future_is_a_slip_of_the_pen(empty: Desk) -> None:
    empty.instruments(METER)
    with pytest.raises(InputError, match="look at the year"):
        log_check(empty.store, "m1", "50", at="2062-03-02", clock=clock)


def test_there_is_no_check_without_instrument_or_block(empty: Desk) -> None:
    with pytest.raises(NotFound, match="no instrument 'm1'"):
        log_check(empty.store, "m1", "50", at="2026-03-02", clock=clock)
    empty.instruments(replace(METER, block=()))
    with pytest.raises(InputError, match="no check block"):
        log_check(empty.store, "m1", "50", at="2026-03-02", clock=clock)


def test_a_failed_check_names_only_the_cases_that_used_the_meter_since(desk: Desk) -> None:
    """One case read with it after the last good check, one before it, one not at all."""
    from desorb.service.cases import open_case
    from desorb.service.take import take_readings

    def read(name: str, when: str) -> None:
        case = desk.case if name == "book" else open_case(desk.store, name, site="s", time_zone="UTC")
        if name != "book":
            from desorb.core.kinds import Construction, Zone
            from desorb.service.cases import write

            write(desk.store, case, [Construction("screed", "s", "cement screed"), Zone("kitchen", "k", "screed")])
        row = {"spot": "k1", "zone": "kitchen", "element": "floor", "value": "54", "scale": "comparative", "instrument": "m1",
               "covering": "bare", "visit": "v1", "taken_at": when}  # fmt: skip
        assert take_readings(desk.store, case, [row], clock=clock).kept == 1

    read("before", "2026-02-28T10:00")
    desk.check("m1", "50", "2026-03-01T08:00")
    read("book", "2026-03-02T10:00")
    open_case(desk.store, "idle", site="s", time_zone="UTC")
    outcome = desk.check("m1", "58", "2026-03-09T08:00")
    assert (outcome.last_good, outcome.cases_in_doubt) == ("2026-03-01T08:00:00+00:00", ("book",))
    assert desk.check("m1", "50", "2026-03-10T08:00").cases_in_doubt == ()
    assert len(desk.folded().checks) == 4


def test_the_last_good_check_is_one_that_passed(empty: Desk) -> None:
    """Passed on the 1st, failed on the 2nd, failed again on the 3rd: doubt reaches back to the 1st, both times."""
    empty.instruments(METER)
    empty.check("m1", "50", "2026-03-01T08:00")
    for day in (2, 3):
        assert empty.check("m1", "58", f"2026-03-0{day}T08:00").last_good == "2026-03-01T08:00:00+00:00"


def test_a_meter_that_never_passed_throws_doubt_on_everything(empty: Desk) -> None:
    empty.instruments(METER)
    assert empty.check("m1", "58", "2026-03-09T08:00").last_good == ""


def test_a_case_lacks_what_changed(desk: Desk) -> None:
    lacking = copies_for(desk.store, desk.folded(), "m1")
    assert [record.KIND for record in lacking] == ["instrument", "instrument-check"]
    assert copies_for(desk.store, desk.folded(), "m9") == []
    desk.line("kitchen/floor", "54", day="2026-03-02")
    assert copies_for(desk.store, desk.folded(), "m1") == []
    desk.instruments(replace(METER, block=(CheckBlock("comparative", "60", "2", 30),)))
    assert [record.KIND for record in copies_for(desk.store, desk.folded(), "m1")] == ["instrument"]


def test_every_refusal_is_of_the_house() -> None:
    assert issubclass(InputError, DesorbError)
