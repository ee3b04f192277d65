"""One-dimensional heat and moisture transport in layered building assemblies, as [EN15026] sets it out.

    assembly = Assembly((Layer(screed, 0.065), Film(sd=100.0), Layer(concrete, 0.15)))
    climate = Climate(Side(Air(20.0, 0.5)), Side(Air(12.0, 0.9), Surface(0.0, 0.0, sealed=True, adiabatic=True)), 60 * DAY)
    run = simulate(assembly, climate, start_humidity=(0.97, 0.9))

Contents: properties (a compiled material), assembly (layers, films, the mesh), climate (air and surfaces), run (one
simulation), ensemble (thousands), seen (what instruments would see), verification (published benchmarks). kernel, march
and lanes are compiled with numba on first use; twin is the same march in plain numpy.
"""

from __future__ import annotations

from desorb.core.transport.assembly import Assembly, Film, Layer
from desorb.core.transport.climate import Air, Climate, Side, Surface
from desorb.core.transport.ensemble import Ensemble, Variation, simulate_ensemble
from desorb.core.transport.properties import Properties, compiled
from desorb.core.transport.run import REPORT, SCREEN, Run, RunFailed, simulate

__all__ = [
    "Air",
    "Assembly",
    "Climate",
    "Ensemble",
    "Film",
    "Layer",
    "Properties",
    "REPORT",
    "Run",
    "RunFailed",
    "SCREEN",
    "Side",
    "Surface",
    "Variation",
    "compiled",
    "simulate",
    "simulate_ensemble",
]
