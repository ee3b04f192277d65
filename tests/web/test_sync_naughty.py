"""Texts that break what is written carelessly come back exactly, are shown as text, and reach for nothing outside."""

from __future__ import annotations

from typing import Any

import httpx
from naughty import NAUGHTY
from site_device import AT, Device, states

from desorb.core.kinds import Note, Spot, Zone
from desorb.service.cases import find_case, load

PAGES = ("/", "/cases/{case}", "/cases/{case}/assessments", "/cases/{case}/record", "/cases/{case}/plan", "/cases/{case}/next",
         "/cases/{case}/files", "/site/", "/instruments", "/settings")  # fmt: skip


def test_there_are_more_than_three_hundred() -> None:
    """The list is long enough to be worth having, and holds nothing twice."""
    assert len(NAUGHTY) >= 300
    assert len(set(NAUGHTY)) == len(NAUGHTY)


def test_every_text_comes_back_exactly(server: Any, case_id: str) -> None:
    """What a surveyor wrote is what stands in the record, to the last sign."""
    device = Device(server.address, case_id)
    sent = [device.write(Note(words, AT, words[:60])) for words in NAUGHTY]
    for start in range(0, len(sent), 150):
        assert set(states(device.send(*sent[start : start + 150]))) == {"received"}
    folded = load(server.store, find_case(server.store, case_id))
    assert [each.record.words for each in folded.notes if each.device == device.id] == list(NAUGHTY)


def test_no_text_is_carried_out_and_nothing_outside_is_asked(server: Any, case_id: str, page: Any) -> None:
    """The office opens its pages over a case in which somebody wrote all of it: no script runs, no dialog, no call out."""
    device = Device(server.address, case_id)
    records: list[Any] = []
    for n, words in enumerate(NAUGHTY[:180]):
        records += [Note(words, AT, words[:60]), Spot(f"n{n} {words[:30]}", "store", words[:60] or "x", words=words)]
    records += [Zone(f"z {words}", words, "c1", words, "", ()) for words in NAUGHTY[60:120]]
    sent = [device.write(record) for record in records]
    for start in range(0, len(sent), 150):
        device.send(*sent[start : start + 150])
    asked: list[str] = []
    told: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("dialog", lambda dialog: (told.append(dialog.message), dialog.dismiss()))
    page.on("console", lambda line: told.append(line.text) if "Content Security Policy" in line.text else None)
    for place in PAGES:
        if httpx.get(f"{server.address}{place.format(case=case_id)}", timeout=60).status_code == 404:
            continue
        page.goto(f"{server.address}{place.format(case=case_id)}")
        assert page.evaluate("window.canary") is None, place
    assert told == []
    assert [url for url in asked if not url.startswith((server.address, "blob:", "data:"))] == []
