"""Check values of the carbide test: every row FL-CM-* of the project's list, literal, never regenerated.

Source of all rows: the project's check values, DERIVED there from CaC2 + 2 H2O -> C2H2 + Ca(OH)2 and the ideal gas law.
"""

from __future__ import annotations

import pytest

from desorb.core.samples.carbide import (
    acetylene,
    carbide_needed,
    dry_basis,
    free_volume_of_charge,
    gauge_pressure,
    water_mass,
)


def test_one_gram_of_water() -> None:
    """FL-CM-n: 1 g of water gives 0.0277542 mol and uses 1.77902 g, within 1e-5."""
    assert acetylene(1.0) == pytest.approx(0.0277542, abs=1e-7, rel=0)  # tighter than the row's 1e-5
    assert carbide_needed(1.0) == pytest.approx(1.77902, abs=1e-5, rel=0)


@pytest.mark.parametrize(("row", "temperature", "volume"), [("FL-CM-V20", 20.0, 676.48), ("FL-CM-V30", 30.0, 699.55)])
def test_free_volume_of_a_check_ampoule(row: str, temperature: float, volume: float) -> None:
    """FL-CM-V20, FL-CM-V30: 1 g of water giving 1.0 bar, within 0.01 mL."""
    assert free_volume_of_charge(1.0, 1.0, temperature) == pytest.approx(volume, abs=0.01, rel=0), row


@pytest.mark.parametrize(
    ("row", "sample", "percent", "pressure"),
    [("FL-CM-50-1.8", 50.0, 1.8, 0.9), ("FL-CM-100-0.5", 100.0, 0.5, 0.5), ("FL-CM-20-5", 20.0, 5.0, 1.0)],
)
def test_pressure_of_a_sample(row: str, sample: float, percent: float, pressure: float) -> None:
    """FL-CM-50-1.8, FL-CM-100-0.5, FL-CM-20-5: free volume 676.48 mL, 20 degC, within 1e-3 bar; and back again."""
    assert gauge_pressure(sample * percent / 100, 20.0, 676.48) == pytest.approx(pressure, abs=1e-3, rel=0), row
    assert 100 * water_mass(pressure, 20.0, 676.48) / sample == pytest.approx(percent, abs=5e-3, rel=0), row


@pytest.mark.parametrize(
    ("wet", "dry", "within", "source"),
    [
        (2.0, 2.0408, 1e-4, "row FL-CM-dry"),
        (20.0, 25.0, 1e-9, "note of row FL-CM-dry"),
        (5.0, 5.26, 5e-3, "task 52"),
        (1.5, 1.52, 5e-3, "case C3-6"),
    ],
)
def test_dry_basis(wet: float, dry: float, within: float, source: str) -> None:
    assert dry_basis(wet) == pytest.approx(dry, abs=within, rel=0), source
