"""The door: a stranger's page, name or body does not get in, and every answer says what a browser may do with it."""

from __future__ import annotations

from typing import Any

import httpx
import pytest

from desorb.web.door import HEADERS


def test_the_first_page_names_the_case_and_carries_every_header(server: Any) -> None:
    """The owner opens the address that was printed and sees the case."""
    answer = httpx.get(f"{server.address}/")
    assert answer.status_code == 200
    assert "quillfen" in answer.text
    assert {name: answer.headers[name] for name in HEADERS} == HEADERS


def test_a_foreign_name_for_this_machine_is_turned_away(server: Any) -> None:
    """A name that someone else points at 127.0.0.1 must not open the record."""
    answer = httpx.get(f"{server.address}/api/cases", headers={"host": "records.invalid"})
    assert answer.status_code == 400


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"origin": "http://elsewhere.invalid"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_page_of_another_site_cannot_write(server: Any, headers: dict[str, str]) -> None:
    """Someone reads a web page elsewhere while desorb runs: that page must not be able to write here."""
    if "sec-fetch-site" in headers:
        headers = {**headers, "origin": server.address}
    answer = httpx.post(f"{server.address}/api/cases", json={}, headers=headers)
    assert answer.status_code == 403
