"""A case opened by form, and files taken by upload: every bad row named, nothing guessed in silence (TRUST E11)."""

from __future__ import annotations

from typing import Any

import pytest
from bench_page import audit, get, post

from desorb.service.cases import case_names, find_case, load

HEAD = "id,visit,taken_at,spot,instrument,scale,value,covering"
GOOD = "r1,v6,2026-02-09T10:00,k1,m1,comparative,31,bare"


def send(server: Any, case: str, content: bytes, name: str = "r.csv", **extra: str) -> Any:
    return post(server, f"/api/cases/{case}/files", params={"name": name, **extra}, content=content)


def values(server: Any, case: str) -> list[tuple[str, ...]]:
    return [each.record.values for each in load(server.store, find_case(server.store, case)).readings]


@pytest.mark.parametrize(
    "content",
    [
        f"{HEAD}\n{GOOD}\n".encode(),
        b"\xef\xbb\xbf" + f"{HEAD}\r\n{GOOD}\r\n".encode(),
        f"{HEAD}\n{GOOD}\n".encode("utf-16"),
        f"{HEAD}\n{GOOD}\n".replace(",", ";").encode(),
        f"{HEAD}\n{GOOD}\n".replace(",", "\t").encode(),
        f"{HEAD}\r\n{GOOD}\n\n".encode(),
        f"{HEAD},note\n{GOOD},Fußboden\n".encode("cp1252"),
    ],
    ids=["utf-8", "BOM", "UTF-16", "semicolon", "tab", "mixed newlines", "CP1252"],
)
def test_a_table_as_programs_write_it(server: Any, case_id: str, content: bytes) -> None:
    """Whatever program wrote the table, the reading is taken once, with what was assumed said."""
    before = len(values(server, case_id))
    answer = send(server, case_id, content).json()
    assert (answer["kept"], answer["problems"]) == (1, [])
    if b"Fu\xdfboden" in content:
        assert any("CP1252" in words for words in answer["assumed"])
    assert values(server, case_id)[before:] == [("31",)]
    assert send(server, case_id, content).json()["known"] == 1
    assert len(values(server, case_id)) == before + 1


def test_a_decimal_comma_in_a_semicolon_table(server: Any, case_id: str) -> None:
    """My spreadsheet writes 12,5: the text stays as typed."""
    row = "r2;v6;2026-02-09T10:00;j1;p1;wood by pins;12,5;bare"
    assert send(server, case_id, f"{HEAD.replace(',', ';')}\n{row}\n".encode()).json()["kept"] == 1
    assert values(server, case_id)[-1] == ("12,5",)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (f'{HEAD}\nr1,v6,2026-02-09T10:00,k1,m1,comparative,"31,bare\n'.encode(), "quotation mark that is not closed"),
        ((",".join(f"c{n}" for n in range(100_000)) + "\n1\n").encode(), "too long to hold column names"),
        (f"{HEAD}\n{GOOD}\0\n".encode(), "NUL"),
        (b"\xff\xfe\x00", "UTF-16 and is not"),
        (f"{HEAD}\n".encode(), "nothing below"),
        (b"spot,value\nk1,31\n", "lacks the columns"),
        (f"{HEAD},value\n{GOOD},3\n".encode(), "twice"),
        (f"{HEAD}\n{GOOD},{'x' * 200_000}\n".encode(), "row 2 could not be read"),
    ],
    ids=["empty", "quote", "columns", "NUL", "torn UTF-16", "header", "lacks", "twice", "long line"],
)
def test_a_file_that_is_no_table_takes_nothing(shown_server: Any, content: bytes, words: str) -> None:
    """A broken file is said in words; not one row of it is in the case."""
    case_id = case_names(shown_server.store)["quillfen"]
    before = len(values(shown_server, case_id))
    answer = send(shown_server, case_id, content)
    assert answer.status_code == 422
    assert words.casefold() in str(answer.json().values()).casefold()
    assert len(values(shown_server, case_id)) == before


def test_bad_rows_are_named_and_good_ones_kept(server: Any, case_id: str) -> None:
    """Three rows of ten are wrong: I get row, column, what stood there and what is wanted."""
    rows = [
        GOOD,
        "r2,v6,2026-02-09T10:00,k2,m1,comparative,thirty,bare",
        "r3,v6,2026-02-09T10:00,k3,zz,comparative,9,vinyl",
    ]
    answer = send(server, case_id, "\n".join([HEAD, *rows]).encode()).json()
    assert (answer["rows"], answer["kept"]) == (3, 1)
    assert [(each["row"], each["column"]) for each in answer["problems"]] == [(3, "value"), (4, "instrument")]
    assert "'thirty'" in answer["problems"][0]["got"]
    assert "m1" in answer["problems"][1]["wanted"]


def test_a_changed_row_waits_until_it_is_confirmed(server: Any, case_id: str) -> None:
    """31 was 37: the change is listed; with a reason the old entry is struck and stays visible."""
    send(server, case_id, f"{HEAD}\n{GOOD}\n".encode())
    changed = f"{HEAD}\n{GOOD.replace(',31,', ',37,')}\n".encode()
    answer = send(server, case_id, changed).json()
    assert (answer["kept"], len(answer["corrections"])) == (0, 1)
    assert "'31', is '37' now" in answer["corrections"][0]
    assert send(server, case_id, changed, confirm_corrections="misread", by="R. Quayle").json()["kept"] == 1
    folded = load(server.store, find_case(server.store, case_id))
    assert ("31",) in [each.struck.record.values for each in folded.struck]
    assert folded.readings[-1].record.values == ("37",)


@pytest.mark.parametrize("name", ["../../../etc/passwd.csv", "C:\\folder\\r.csv", "r.csv"])
def test_a_name_is_only_a_name(server: Any, case_id: str, name: str) -> None:
    """Whatever path the name carries, it leads nowhere; the record keeps its last part."""
    send(server, case_id, f"{HEAD}\n{GOOD}\n".encode(), name)
    assert load(server.store, find_case(server.store, case_id)).files[-1].record.name in (
        "passwd.csv",
        "r.csv",
    )


def test_a_sheet_describes_the_case(server: Any, case_id: str) -> None:
    """The same door takes a sheet; a photo it names is not beside it, and that row is said."""
    sheet = '[[zone]]\nid = "loft"\nwords = "loft"\nconstruction = "hall-floor"\n[[photo]]\nfile = "../../x.jpg"\nwords = "x"\n'
    answer = send(server, case_id, sheet.encode(), "s.toml").json()
    assert (answer["kind"], answer["kept"], len(answer["problems"])) == ("sheet", 1, 1)
    assert "not beside the sheet" in answer["problems"][0]["wanted"]


def test_bad_rows_stand_on_the_page(server: Any, case_id: str, page: Any) -> None:
    """I choose the file on the page and see each bad row as a table, and the guide of the columns below."""
    page.goto(f"{server.address}/cases/{case_id}/files")
    rows = f"{HEAD}\n{GOOD}\nr2,v6,2026-02-09T10:00,k2,m1,comparative,<b>thirty</b>,bare\n"
    page.set_input_files("#file", {"name": "r.csv", "mimeType": "text/csv", "buffer": rows.encode()})
    page.get_by_role("button", name="Take the file").click()
    region = page.get_by_role("region", name="Rows that were not taken")
    region.wait_for()
    assert region.locator("tbody tr").all_inner_texts()[0].startswith("3\tvalue\t'<b>thirty")
    assert page.evaluate("document.activeElement.id") == "outcome"
    assert audit(page) == []


def test_a_case_is_opened_by_form(server: Any, page: Any) -> None:
    """A call comes in: the time zone of this device is offered, I open the case and stand in it."""
    page.goto(f"{server.address}/new")
    assert page.locator("#time_zone").input_value() == page.evaluate("Intl.DateTimeFormat().resolvedOptions().timeZone")
    assert audit(page) == []
    page.locator("#name").fill("2026-014")
    page.locator("#site").fill("3 Low Lane")
    page.locator("#time_zone").fill("Nowhere/Atall")
    page.keyboard.press("Enter")
    page.get_by_text("time zone is not known").wait_for()
    page.locator("#time_zone").fill("Europe/London")
    page.keyboard.press("Enter")
    page.wait_for_url("**/cases/*")
    assert find_case(server.store, "2026-014").time_zone == "Europe/London"


def test_the_pages_of_a_case_that_is_not_here(shown_server: Any) -> None:
    """An old link: the page says that there is no such case."""
    for part in ("files", "settings", "redaction"):
        assert get(shown_server, f"/cases/00000000/{part}").status_code == 404
