"""The engine against published values and closed forms. Expected values are never regenerated: their digests stand here."""

from __future__ import annotations

import hashlib
from importlib import resources

import pytest

from desorb.core.transport import published
from desorb.core.transport.check import Check
from desorb.core.transport.verification import CASES
from desorb.tables.check_values import physics_tables

# A changed digest means a changed published value: say in the commit where the new value was read.
DIGESTS = {
    "crank-dirichlet-uptake": "ca861fd53aff2786",
    "crank-robin-uptake": "0eb3ef89ed0a10f4",
    "en15026-bands": "b7bd08b335f43838",
    "evaporation-first-stage-lewis": "12412e0eafa17723",
    "halfspace-erfc": "4de402d1040f9866",
    "halfspace-robin": "2101b78fe93b9fdd",
    "hamstad2": "ce285021ae9fb2d8",
    "iso13788-single-plane": "469ec8db896cf11b",
    "mc90-slab": "518dad5ed0017325",
    "receding-front": "e58fb40815d337ac",
    "slab-constant-flux": "0b54c4bfc592bbab",
    "sorptivity": "64976794fc182a1d",
}


@pytest.fixture(scope="module")
def checks() -> dict[str, list[Check]]:
    data = physics_tables()
    return {name: list(case(data)) for name, case in CASES.items()}


@pytest.mark.parametrize("name", CASES)
def test_every_check_of_the_case_holds(name: str, checks: dict[str, list[Check]]) -> None:
    """Each line of `desorb physics`, by its case."""
    assert checks[name]
    assert [(each.id, each.expected, each.got) for each in checks[name] if not each.ok] == []


def test_ids_are_unique_and_name_their_case(checks: dict[str, list[Check]]) -> None:
    ids = [each.id for case in checks.values() for each in case]
    assert len(ids) == len(set(ids)) >= 290
    assert all(each.source and each.reason for case in checks.values() for each in case)


def test_every_band_of_the_annex_is_compared(checks: dict[str, list[Check]]) -> None:
    """EN 15026 annex A: all positions at 7, 30 and 365 days, moisture and temperature; the disputed limit says so."""
    assert len(checks["en15026"]) == len(physics_tables()["en15026-bands"])
    disputed = next(each for each in checks["en15026"] if each.id == "en15026-w-365d-0.04m")
    assert "75.6" in disputed.reason
    assert disputed.expected == "73.6 to 77.9"


def test_no_published_value_was_regenerated() -> None:
    folder = resources.files("desorb.tables").joinpath("physics")
    found = {
        name: hashlib.sha256(folder.joinpath(f"{name}.csv").read_bytes()).hexdigest()[:16] for name in sorted(DIGESTS)
    }
    assert found == DIGESTS
    assert set(physics_tables()) == set(DIGESTS)


@pytest.mark.parametrize(
    ("name", "key", "factor"),
    [
        ("hamstad2", "liquid_diffusivity", 1.02),
        ("mc90", "liquid_diffusivity", 1.05),
        ("en15026", "liquid_conductivity", 1.3),
        ("en15026", "conductivity", 1.2),
        ("en15026", "dry_heat", 1.2),
    ],
)
def test_a_wrong_coefficient_makes_the_checks_fail(
    name: str, key: str, factor: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Negative control: diffusivity 2 % or 5 % off, conductivities or heat 20 to 30 % off, and the checks say so."""
    good = published.compiled

    def wrong(title: str, **parts: object) -> object:
        given = parts[key]
        parts[key] = (lambda w: factor * given(w)) if callable(given) else factor * given  # type: ignore[operator]
        return good(title, **parts)  # type: ignore[arg-type]

    monkeypatch.setattr(published, "compiled", wrong)
    assert any(not each.ok for each in CASES[name](physics_tables()))


def test_leaving_out_the_cooling_makes_lewis_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    """Negative control: a surface held at the temperature of the air evaporates three times as fast."""
    from desorb.core.transport import closed_forms
    from desorb.core.transport.climate import Surface

    monkeypatch.setattr(closed_forms, "Surface", lambda convection, radiation: Surface(convection, 50.0))
    assert all(not each.ok for each in CASES["lewis"](physics_tables()) if each.id.endswith("rate"))


def test_the_half_space_depends_on_depth_over_root_of_time_only() -> None:
    """Self-similarity of the annex A solution: moisture at x after t is that at 2 x after 4 t, to the grid."""
    import numpy as np

    from desorb.core.transport import Air, Assembly, Climate, Side, simulate
    from desorb.core.transport.check import CLOSED, DAY, HELD, growing, layers_of

    material = published.en15026_material()
    assembly = Assembly(layers_of(material, growing(20.0, 200, 0.0004)))
    climate = Climate(Side(Air(30.0, 0.95), HELD), Side(Air(20.0, 0.5), CLOSED), 120 * DAY)
    run = simulate(assembly, climate, start_humidity=0.5, outputs=np.array([30, 120]) * DAY, tolerance=1e-5)
    for depth in (0.01, 0.02, 0.03, 0.05):
        early, late = (
            float(material.water(np.interp(factor * depth, run.x, run.potential[output])))
            for output, factor in ((0, 1), (1, 2))
        )
        assert early == pytest.approx(late, abs=0.35)
        heat = [
            float(np.interp(factor * 10 * depth, run.x, run.temperature[output])) for output, factor in ((0, 1), (1, 2))
        ]
        assert heat[0] == pytest.approx(heat[1], abs=0.02)
