"""A desk with a store, the meters described and in check, and a small building. Made once, copied for each test."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from case_builder import METER, PIN_METER, PROBE, SMALL_BUILDING, Desk


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Desk]:
    """A case of which nothing is described."""
    with Desk(tmp_path) as opened:
        yield opened


@pytest.fixture(scope="session")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("furnished")
    with Desk(folder) as opened:
        opened.instruments(METER, PIN_METER, PROBE)
        for name, value in (("m1", "50"), ("p1", "18"), ("h1", "75.3")):
            opened.check(name, value, "2026-02-27T08:00")
        assert opened.sheet(SMALL_BUILDING).ok
    return folder / "store"


@pytest.fixture
def desk(tmp_path: Path, furnished: Path) -> Iterator[Desk]:
    """The same with meters and zones."""
    shutil.copytree(furnished, tmp_path / "store")
    with Desk(tmp_path) as opened:
        yield opened
