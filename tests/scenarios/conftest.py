"""A desk with a store of its own for each scenario."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from case_builder import Desk


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    with Desk(tmp_path) as opened:
        yield opened
