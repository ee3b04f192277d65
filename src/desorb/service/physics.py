"""The engine of moisture transport, compared with what others published: what `desorb physics` and its page show.

Contents: COMPILING (what is said before numba compiles); is_compiled; compared; by_case; cases; verification_page (the text
of docs/verification.md).
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path

from desorb.core.transport.check import Check
from desorb.core.transport.verification import CASES, run_checks
from desorb.errors import NotFound
from desorb.tables.check_values import physics_tables

COMPILING = "numba compiles on first use: about half a minute, once for each version"

TITLES = {
    "en15026": "EN 15026 annex A: a half space wetted and warmed at its surface, bands at 7, 30 and 365 days",
    "hamstad2": "HAMSTAD benchmark 2: isothermal drying of a layer, analytic series",
    "crank": "Plane sheet (Crank): share of the water that has left, surface held or with a film",
    "halfspace": "Half space, surface held: error function",
    "halfspace-film": "Half space, uptake through a film",
    "constant-flux": "Slab that loses water at one rate, sealed back",
    "sorptivity": "Uptake through a wet face: Philip's integral for an exponential diffusivity",
    "lewis": "Evaporation from a wet surface that cools (Lewis)",
    "receding-front": "A wet front that withdraws, quasi-steady",
    "iso13788": "EN ISO 13788: condensation at one plane",
    "mc90": "Concrete slab with humidity-dependent diffusivity (MC90); class B, another numerical solution",
}


def is_compiled() -> bool:
    """Whether numba has kept the march from an earlier run, beside the module (it may have kept it elsewhere)."""
    found = find_spec("desorb.core.transport.march")
    return bool(found and found.origin and any(Path(found.origin).parent.glob("__pycache__/march.march-*.nbi")))


def cases() -> tuple[str, ...]:
    return tuple(CASES)


def compared(only: str = "", progress: Callable[[str], None] | None = None) -> list[Check]:
    """Every comparison, or those of the cases whose name holds `only`."""
    found = run_checks(physics_tables(), only, progress)
    if not found:
        raise NotFound("there is no such case", got=only, wanted=", ".join(CASES))
    return found


def by_case(checks: list[Check]) -> dict[str, list[Check]]:
    """Checks under the name of their case, in order."""

    def case(check: Check) -> str:
        return max((name for name in CASES if check.id.startswith(f"{name}-")), key=len)

    return {name: list(rows) for name, rows in groupby(checks, key=case)}


def verification_page(checks: list[Check]) -> str:
    """docs/verification.md: one table a case, expected beside got."""
    failed = sum(not check.ok for check in checks)
    lines = [
        "# Verification of the transport engine",
        "",
        "Made by `desorb physics --page`; a test holds its ids to what the engine is compared with. Expected values come from",
        "`src/desorb/tables/physics` (its README says where each was read) and are never made by this engine.",
        "",
        f"{len(checks)} comparisons, {failed} outside their tolerance.",
    ]
    for name, rows in by_case(checks).items():
        lines += ["", f"## {TITLES[name]}", "", f"Source: {rows[0].source}.", ""]
        lines += ["| id | expected | got | tolerance | holds |", "| --- | --- | --- | --- | --- |"]
        lines += [
            f"| {row.id} | {row.expected} | {row.got:.5g} | {f'{row.tolerance:.3g}' if row.tolerance else 'the band'} | "
            f"{'yes' if row.ok else 'NO'} |"
            for row in rows
        ]
        lines += ["", *(f"- {reason}" for reason in dict.fromkeys(row.reason for row in rows))]
    return "\n".join(lines) + "\n"
