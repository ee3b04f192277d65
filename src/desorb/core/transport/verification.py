"""The engine against published benchmarks and closed forms, one line each: `desorb physics` prints them.

Contents: CASES (each from the rows of its tables); run_checks. Expected values come in from tables/physics; nothing there is
made by this engine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from desorb.core.transport import closed_forms, published
from desorb.core.transport.check import Check, Rows

CASES: dict[str, Callable[[Mapping[str, Rows]], Iterable[Check]]] = {
    "en15026": lambda data: published.en15026(data["en15026-bands"]),
    "hamstad2": lambda data: published.hamstad2(data["hamstad2"]),
    "crank": lambda data: closed_forms.plane_sheet(data["crank-dirichlet-uptake"], data["crank-robin-uptake"]),
    "halfspace": lambda data: closed_forms.half_space(data["halfspace-erfc"]),
    "halfspace-film": lambda data: closed_forms.half_space_film(data["halfspace-robin"]),
    "constant-flux": lambda data: closed_forms.constant_flux(data["slab-constant-flux"]),
    "sorptivity": lambda data: closed_forms.sorptivity(data["sorptivity"]),
    "lewis": lambda data: closed_forms.evaporation(data["evaporation-first-stage-lewis"]),
    "receding-front": lambda data: closed_forms.receding_front(data["receding-front"]),
    "iso13788": lambda data: published.iso13788(data["iso13788-single-plane"]),
    "mc90": lambda data: published.mc90(data["mc90-slab"]),
}


def run_checks(data: Mapping[str, Rows], only: str = "", progress: Callable[[str], None] | None = None) -> list[Check]:
    """Every case, or those whose name holds `only`."""
    found: list[Check] = []
    for name, case in CASES.items():
        if only in name:
            if progress is not None:
                progress(name)
            found.extend(case(data))
    return found
