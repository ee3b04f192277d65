"""An independent general package on one non-linear case: `make oracle`."""

from __future__ import annotations

import numpy as np
import pytest
from transport_worlds import CLOSED, DAY

from desorb.core.transport import Air, Assembly, Climate, Layer, Side, compiled, simulate
from desorb.core.transport.check import HELD
from desorb.core.transport.properties import KELVIN

HELD_WATER, LARGEST, LENGTH = 100.0, 1e-9, 0.1
STEEPNESS = 4.0


@pytest.mark.oracle
def test_a_finite_element_package_finds_the_same_drying_profile() -> None:
    """Exponential diffusivity, one face held, one sealed: quadratic elements of scikit-fem, backward Euler extrapolated."""
    skfem = pytest.importorskip("skfem")
    helpers = pytest.importorskip("skfem.helpers")
    places = LENGTH * np.linspace(0.0, 1.0, 161) ** 1.5
    basis = skfem.Basis(skfem.MeshLine(places), skfem.ElementLineP2())

    @skfem.BilinearForm
    def stiffness(u, v, w):  # type: ignore[no-untyped-def]
        return LARGEST * np.exp(STEEPNESS * (w["old"] - 1.0)) * helpers.dot(helpers.grad(u), helpers.grad(v))

    mass = skfem.BilinearForm(lambda u, v, w: u * v).assemble(basis)
    fixed = basis.get_dofs(lambda x: np.isclose(x[0], 0.0)).all()
    moment = 20 * DAY

    def profile(steps: int) -> np.ndarray:
        theta = np.full(basis.N, 0.9)
        theta[fixed] = 0.3
        edges = moment * np.linspace(0.0, 1.0, steps + 1) ** 2
        for h in np.diff(edges):
            before = theta.copy()
            for _ in range(30):
                matrix = mass + h * stiffness.assemble(basis, old=basis.interpolate(theta))
                new = skfem.solve(*skfem.condense(matrix, mass @ before, x=theta, D=fixed))
                done = np.max(np.abs(new - theta)) < 1e-9
                theta = new
                if done:
                    break
        return theta

    coarse, fine = profile(200), profile(400)
    its = 2.0 * fine - coarse
    order = np.argsort(basis.doflocs[0])
    material = compiled(
        "exponential", water=lambda s: HELD_WATER * np.exp(-s / KELVIN),
        liquid_diffusivity=lambda w: LARGEST * np.exp(STEEPNESS * (w / HELD_WATER - 1.0)),
        permeability=lambda w: np.full_like(w, 1e-18), conductivity=lambda w: np.full_like(w, 1e3), dry_heat=1e6,
    )  # fmt: skip
    climate = Climate(Side(Air(20.0, 0.3), HELD), Side(Air(20.0, 0.5), CLOSED), moment)
    run = simulate(
        Assembly((Layer(material, LENGTH, 200),)), climate, start_humidity=0.9, outputs=[moment], tolerance=1e-5
    )
    ours = run.water(0)[0] / HELD_WATER
    theirs = np.interp(run.x, basis.doflocs[0][order], its[order])
    print(f"largest difference {np.max(np.abs(ours - theirs)):.1e} of the capacity")
    assert np.max(np.abs(ours - theirs)) < 1e-3
    assert float((mass @ its).sum()) * HELD_WATER == pytest.approx(run.mass[0], rel=1e-3)
