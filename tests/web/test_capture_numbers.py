"""What is typed on site is read as the rest of desorb reads it, and the air is worked out the same way."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import pytest
from capture_page import capture

from desorb.core.air.state import air_state
from desorb.core.kinds import RECORDS
from desorb.core.typed import read_value
from desorb.errors import InputError, NotUnderstood

TYPED = [
    "54", "12,5", "12.5", ".5", ",5", "-3", "\u22123", "+4", " 7 ", "007", "0", "12.30", ">=5.8", ">= 5.8", ">5",
    "\u2265 5,8", "<=0", "< 2", "\u22642",
    "1 234,5", "1.234,5", "12..5", "12,", "1e3", "12,5 %", "12 mm", "\u0661\u0662", "\u09ea", "OL", "---", "", " ",
    "-", "--3", "+-3", ">>5", "=5",
    "\u00a054\u00a0", "\ufeff54", "\x1c54", "5\n", "5\n6", "1" * 24, "1" * 25, "1_000", "\uff15", "½", "NaN",
    "Infinity", "0x10", "5\u20095", "'5",
]  # fmt: skip


@pytest.fixture(scope="module")
def site(browser: Any, empty_office: str) -> Any:
    with capture(browser, empty_office) as opened:
        yield opened


def in_python(text: str) -> list[str] | None:
    try:
        value = read_value(text)
    except NotUnderstood:
        return None
    return [value.text, format(value.number, "f"), value.bound]


def test_a_value_is_read_on_site_as_in_the_office(site: Any) -> None:
    """I type a figure on my knees; the office must read the same number, or refuse it just as I was refused."""
    found = site.page.evaluate(
        "async (texts) => { const { readValue } = await import('/static/site/numbers.js'); return texts.map(readValue); }",
        TYPED,
    )
    for text, read in zip(TYPED, found, strict=True):
        own = None if "problem" in read else [read["text"], read["number"], read["bound"]]
        wanted = in_python(text)
        if own and wanted:  # ".5" and "0.5" are one number
            assert float(own[1]) == float(wanted[1])
            own[1] = wanted[1]
        assert own == wanted, repr(text)
        if own is None:
            assert "Got" in read["problem"]
            assert "Next:" in read["problem"]


@pytest.mark.parametrize(("language", "mark"), [("de-DE", ","), ("sv-SE", ","), ("en-GB", "."), ("fr-FR", ",")])
def test_the_decimal_mark_of_the_language_is_on_the_key(site: Any, language: str, mark: str) -> None:
    """My phone speaks Swedish; the key must show the mark that I am used to."""
    assert site.page.evaluate("async (l) => (await import('/static/site/numbers.js')).separator(l)", language) == mark


def test_the_air_is_worked_out_as_in_the_core(site: Any) -> None:
    """The phone tells me in the cellar what the report will tell the owner: the same air, to a millionth."""
    places = [
        (t, rh)
        for t in (-45, -20, -5, 0, 0.01, 6, 12.5, 19.5, 22, 33, 45, 60)
        for rh in (1.5, 28, 60, 74, 99.9, 100, 100.4)
    ]
    found = site.page.evaluate(
        "async (all) => { const { airOf } = await import('/static/site/air.js'); return all.map(([t, rh]) => airOf(t, rh)); }",
        [list(place) for place in places],
    )  # fmt: skip
    compared = 0
    for (temperature, humidity), air in zip(places, found, strict=True):
        try:
            wanted = air_state(air_temperature=float(temperature), relative_humidity=float(humidity))
        except InputError:
            assert "problem" in air, (temperature, humidity)
            continue
        assert math.isclose(air["vapourPressure"], wanted.vapour_pressure, rel_tol=1e-6)
        assert math.isclose(air["humidityRatio"], wanted.humidity_ratio, rel_tol=1e-6)
        compared += 1
    assert compared > 60
    refused = site.page.evaluate(
        "async () => { const { airOf } = await import('/static/site/air.js'); return [airOf(61, 50), airOf(20, 0.5),"
        " airOf(20, 101)]; }"
    )
    assert all("Read it again" in each["problem"] for each in refused)


def test_every_entry_made_on_site_has_the_fields_of_the_record(site: Any) -> None:
    """What the phone seals must be a whole record: no field less, none more, the same words when nothing was said."""
    kinds = site.page.evaluate(
        "async () => { const k = await import('/static/site/kinds.js');"
        " return Object.fromEntries(k.kindNames().map((name) => [name, k.defaults(name)])); }"
    )
    records = {record.KIND: record for record in RECORDS}
    assert len(kinds) >= 14
    for kind, fields in kinds.items():
        own = dataclasses.fields(records[kind])
        assert list(fields) == [each.name for each in own], kind
        for each in own:
            if each.default is not dataclasses.MISSING:
                value = list(each.default) if isinstance(each.default, tuple) else each.default
                assert fields[each.name] == value, (kind, each.name)
