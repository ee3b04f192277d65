"""Every lesson in examples/ runs, and says what its docstring promises."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("[0-9]*.py"))


@pytest.mark.parametrize("lesson", EXAMPLES, ids=lambda path: path.stem)
def test_the_lesson_runs(lesson: Path, capsys: pytest.CaptureFixture[str]) -> None:
    runpy.run_path(str(lesson), run_name="__main__")
    assert "above control" in capsys.readouterr().out
