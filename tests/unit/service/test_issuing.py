"""Reports issued at once: each number once, from threads of one program and from two programs."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from desorb.core.kinds import Note
from desorb.notebook.store import Store
from desorb.service import reporting
from desorb.service.cases import OpenCase, load, now, open_case, write
from desorb.service.reporting import issue_report


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[Store, OpenCase]]:
    with Store(tmp_path / "home") as store:
        case = open_case(store, "A", site="s", time_zone="UTC", opened_by="N. Ferrow")
        write(store, case, [Note("begun", now().isoformat(timespec="seconds"), "N. Ferrow")])
        yield store, case


def test_four_reports_at_once_take_four_numbers(opened: tuple[Store, OpenCase], tmp_path: Path) -> None:
    """Four people press "issue" together, each a moment after the other: 1, 2, 3, 4."""
    store, case = opened
    ticks = itertools.count()
    base = now()
    with ThreadPoolExecutor(4) as pool:
        made = list(pool.map(
            lambda place: issue_report(store, case, tmp_path / str(place), clock=lambda: base + timedelta(seconds=next(ticks))),
            range(4),
        ))  # fmt: skip
    assert sorted(each.number for each in made) == [1, 2, 3, 4]
    assert sorted(each.record.number for each in load(store, case).reports) == [1, 2, 3, 4]


def test_the_same_report_at_once_is_one(opened: tuple[Store, OpenCase], tmp_path: Path) -> None:
    """A double click within one second: one report, one entry, the same bytes."""
    store, case = opened
    moment = now()
    with ThreadPoolExecutor(4) as pool:
        made = list(
            pool.map(lambda place: issue_report(store, case, tmp_path / str(place), clock=lambda: moment), range(4))
        )
    assert len({(each.number, each.pdf_sha256, each.entry) for each in made}) == 1
    assert [each.was_new for each in made].count(True) == 1
    assert len(load(store, case).reports) == 1


def test_a_report_of_another_program_takes_its_number(
    opened: tuple[Store, OpenCase], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the page renders report 1, the command line issues one: the page's becomes 2, rendered anew."""
    store, case = opened
    sound = reporting.rendered
    others = itertools.count()

    def meanwhile(*parts: Any, **more: Any) -> Any:
        if next(others) == 0:
            record = reporting.ReportIssued(
                1, now().isoformat(timespec="seconds"), (), (), "x", "0" * 64, "0" * 64, "x"
            )
            with Store(store.home) as other:
                write(other, case, [record])
        return sound(*parts, **more)

    monkeypatch.setattr(reporting, "rendered", meanwhile)
    assert issue_report(store, case, tmp_path / "out").number == 2
    assert sorted(each.record.number for each in load(store, case).reports) == [1, 2]
