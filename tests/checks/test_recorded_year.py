"""A recorded outdoor climate against our dew point: two typical years shipped inside pvlib, read as a logger file.

Sources: the files 703165TY.csv and 723170TYA.CSV of pvlib's package data (typical meteorological years, hourly, TMY3 form: dry
bulb and dew point to 0.1 degC, humidity to 1 %). Compared where the dew point lies above freezing: below it the two files do not
keep one phase (one fits frost points for dew points, the other mostly water), so nothing is judged by them there.
The files hold rows that contradict themselves (a dew point that no air of that temperature and humidity has); of each such
row psychrolib must say the same, or it is our fault.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from desorb.core.saturation import saturation_vapour_pressure_over_water
from desorb.service.logger_cells import Columns, Stated
from desorb.service.logger_file import read_logger_file

pytestmark = pytest.mark.oracle
FILES = ("703165TY.csv", "723170TYA.CSV")
HALF_DEGREE_STEP, HALF_PERCENT = 0.05, 0.5  # half of the last digit in the file
CONSISTENT = 0.98  # share of rows of the worse file whose figures agree with one another; measured 98.5 % and 99.4 %


def _file(name: str) -> Path:
    pvlib = pytest.importorskip("pvlib")
    return Path(pvlib.__file__).parent / "data" / name


def _columns(path: Path) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    with path.open(encoding="utf-8") as file:
        next(file)  # the station
        rows = [
            tuple(float(row[name]) for name in ("Dry-bulb (C)", "RHum (%)", "Dew-point (C)"))
            for row in csv.DictReader(file)
        ]
    dry_bulb, humidity, dew_point = np.array(rows).T
    return dry_bulb, humidity, dew_point


@pytest.mark.parametrize("name", FILES)
def test_the_files_dew_point_is_ours_within_the_rounding_of_the_file(name: str) -> None:
    """Humidity from the file's dry bulb and dew point over water, beside the file's own: 8,760 hours a file."""
    psychrolib = pytest.importorskip("psychrolib")
    psychrolib.SetUnitSystem(psychrolib.SI)
    dry_bulb, humidity, dew_point = _columns(_file(name))
    assert len(dry_bulb) == 8760

    def over_water(temperature: np.ndarray) -> np.ndarray:
        return np.asarray(saturation_vapour_pressure_over_water(temperature))

    lowest = 100 * over_water(dew_point - HALF_DEGREE_STEP) / over_water(dry_bulb + HALF_DEGREE_STEP)
    highest = 100 * over_water(dew_point + HALF_DEGREE_STEP) / over_water(dry_bulb - HALF_DEGREE_STEP)
    agrees = (lowest - HALF_PERCENT <= humidity) & (humidity <= highest + HALF_PERCENT)
    above = dew_point > 0
    assert above.sum() > 4000
    assert agrees[above].mean() >= CONSISTENT
    for place in np.flatnonzero(~agrees & above):
        theirs = psychrolib.GetRelHumFromTDewPoint(dry_bulb[place], min(dew_point[place], dry_bulb[place]))
        margin = HALF_PERCENT + (highest[place] - lowest[place]) / 2
        assert abs(100 * theirs - humidity[place]) > margin - 0.01


@pytest.mark.parametrize("name", FILES)
def test_the_year_is_read_as_a_logger_file(name: str, tmp_path: Path) -> None:
    """Its own columns, date and time apart; hour 24:00 is no time, and every such row is named and left out."""
    path = tmp_path / name
    path.write_text(_file(name).read_text(encoding="utf-8"), encoding="utf-8")
    stated = Stated(
        Columns("Time (HH:MM)", "Dry-bulb (C)", "RHum (%)", "", "Date (MM/DD/YYYY)"), "C", "percent", "+00:00", 0,
        "%m/%d/%Y %H:%M",
    )  # fmt: skip
    found = read_logger_file(path, stated)
    assert found.report.rows_kept == 8760 - 365
