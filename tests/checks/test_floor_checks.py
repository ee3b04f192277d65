"""Check values for floor tests: every FL-MV-*, FL-N-*, FL-DEP and FL-DT50 row of the project's list, put literally.

Never regenerated from our own code. The rows FL-CM-* belong to the carbide method and are not checked here.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from desorb.core.floors.drying_time import planned_drying_time
from desorb.core.floors.emission import (
    emission_rate,
    grams_per_square_metre_day,
    micrograms_per_square_metre_second,
)
from desorb.core.floors.plan import places_for_square_feet, places_for_square_metres, probe_depth


def test_fl_mv_c_rate_of_a_dish() -> None:
    """Row FL-MV-C: 52.911 dm/(A t), derived from units; tolerance of the row 5e-4."""
    assert float(emission_rate(Decimal("1.5"), Decimal("0.4"), Decimal(66))) == pytest.approx(3.0063, abs=5e-4, rel=0)


def test_fl_mv_u_one_unit_in_others() -> None:
    """Row FL-MV-U: unit conversion, derived; tolerance of the row 1e-5."""
    assert float(micrograms_per_square_metre_second(Decimal(1))) == pytest.approx(56.50958, abs=1e-5, rel=0)
    assert float(grams_per_square_metre_day(Decimal(1))) == pytest.approx(4.882428, abs=1e-5, rel=0)


@pytest.mark.parametrize(("area", "tests"), [(1000, 3), (1001, 4), (10000, 12)])
def test_fl_n_number_of_places(area: float, tests: int) -> None:
    """Rows FL-N-1000, FL-N-1001, FL-N-10000: F2170/F1869, 3 + ceil((A - 1000)/1000), read and derived; exact."""
    assert places_for_square_feet(area) == tests


@pytest.mark.parametrize(("area", "tests"), [(1, 3), (100, 3), (100.1, 4), (360, 6), (1000, 12)])
def test_number_of_places_in_metres(area: float, tests: int) -> None:
    """360 m2 need 6: case C7 of the project. The others by hand from 3 + ceil((A - 100)/100)."""
    assert places_for_square_metres(area) == tests


def test_fl_dep_depth_of_the_probe() -> None:
    """Row FL-DEP: F2170, read; exact. 175 mm, one face, 70 mm: case C7. 20 % for two faces: limits row FLR-RH-11."""
    assert probe_depth(100, 1) == 40
    assert probe_depth(175, 1) == 70
    assert probe_depth(100, 2) == 20


def test_fl_dt50_drying_time_of_fifty_millimetres() -> None:
    """Row FL-DT50: BS 8204-1 rule, read in a trade page; exact."""
    assert planned_drying_time(50).days == 50
