"""Every lesson in examples/ runs, and says what its docstring promises."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("[0-9]*.py"))
SAID = {
    "01_one_wet_floor": ["above control"],
    "02_a_slab_dries": ["% is still there", "water balance closes"],
    "03_what_the_probe_sees": ["probe 26 mm", "the membrane kept the water out of the slab"],
    "04_a_thousand_slabs": ["one in ten by day", "0 could not be run"],
}


@pytest.mark.parametrize("lesson", EXAMPLES, ids=lambda path: path.stem)
def test_the_lesson_runs(lesson: Path, capsys: pytest.CaptureFixture[str]) -> None:
    runpy.run_path(str(lesson), run_name="__main__")
    out = capsys.readouterr().out
    assert all(words in out for words in SAID[lesson.stem])
