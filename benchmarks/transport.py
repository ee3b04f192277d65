"""How fast the transport engine is, against the same equations in scipy and numpy: ratios in one run, on one core.

Run: python -m benchmarks.transport [--quick]. Medians of repeats, CPU time; "error" is the largest error of the stored water at
daily outputs in % of its range, against 320 cells at a tolerance of 1e-5. Targets stand beside; a miss is printed as one.
Contents: problems; single runs; ensembles; a year, a fresh process, ten thousand members, memory; main.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from benchmarks._transport_baseline import baseline, numpy_members
from desorb.core.transport import (
    Air,
    Assembly,
    Climate,
    Layer,
    Properties,
    Run,
    RunFailed,
    Side,
    Surface,
    Variation,
    compiled,
    simulate,
    simulate_ensemble,
)
from desorb.core.transport.climate import coarser
from desorb.core.transport.properties import Floats, potential_of_humidity

DAY, HOUR = 86400.0, 3600.0
CLOSED = Surface(0.0, 0.0, sealed=True, adiabatic=True)
QUICK = "--quick" in sys.argv
CORES = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
METHODS = ("tr-bdf2", "bdf2", "euler")


def material(name: str, held: float, uptake: float, mu: float, bend: float, power: float) -> Properties:
    """Invented: sorption bends at `bend` Pa; liquid from an uptake coefficient."""
    slope = 3.8 * (uptake / held) ** 2
    return compiled(
        name, water=lambda s: held / (1.0 + (s / bend) ** power) ** 0.45,
        liquid_diffusivity=lambda w: slope * 1000.0 ** (w / held - 1.0),
        permeability=lambda w: np.full_like(w, 2e-10 / mu), conductivity=lambda w: 1.0 + 0.006 * w, dry_heat=1.8e6,
    )  # fmt: skip


CONCRETE = material("concrete", 150.0, 0.02, 100.0, 2e7, 1.0)
BRICK = material("brick", 200.0, 0.1, 10.0, 2e5, 1.6)


def room(days: int) -> Climate:
    """A daily course, a weather of six days and the noise of a logger, by hours; a closed back."""
    times = np.arange(0, days * 24 + 1) * HOUR
    chance = np.random.default_rng(1)
    temperature = 20.0 + 2.0 * np.sin(2 * np.pi * times / DAY) + chance.normal(0.0, 0.3, times.size)
    humidity = 0.5 + 0.06 * np.sin(2 * np.pi * times / DAY + 1.0) + 0.08 * np.sin(2 * np.pi * times / (6 * DAY))
    humidity = np.clip(humidity + chance.normal(0.0, 0.01, times.size), 0.05, 0.95)
    return Climate(Side(Air(temperature, humidity, times)), Side(Air(20.0, 0.5), CLOSED), days * DAY)


def thinned(climate: Climate, step: float) -> Climate:
    return (
        replace(climate, first=replace(climate.first, air=coarser(climate.first.air, step))) if step > HOUR else climate
    )


@dataclass(frozen=True)
class Problem:
    name: str
    material: Properties
    climate: Climate
    humidity: float
    equal_target: float

    def assembly(self, cells: int) -> Assembly:
        return Assembly((Layer(self.material, 0.1, cells),))

    @property
    def outputs(self) -> Floats:
        return np.arange(1, round(self.climate.duration / DAY) + 1) * DAY

    def run(self, cells: int, tolerance: float, method: str = "tr-bdf2", step: float = HOUR) -> Run:
        return simulate(
            self.assembly(cells), thinned(self.climate, step), start_humidity=self.humidity, outputs=self.outputs,
            tolerance=tolerance, method=method,
        )  # fmt: skip


WETTING = Climate(Side(Air(20.0, 0.5), wet=((0.0, 99 * DAY),)), Side(Air(20.0, 0.5), CLOSED), 15 * DAY)
PROBLEMS = (
    Problem("concrete 60 d", CONCRETE, room(60), 0.97, 1500.0),
    Problem("brick 60 d", BRICK, room(60), 0.97, 4000.0),
    Problem("wetting front 15 d", material("dense brick", 200.0, 0.02, 10.0, 2e5, 1.6), WETTING, 0.5, 5000.0),
)


def median_of(work: Callable[[], object], repeats: int = 9) -> float:
    """CPU seconds; the first call, which may compile, is not counted."""
    work()
    spent = []
    for _ in range(repeats):
        began = time.process_time()
        work()
        spent.append(time.process_time() - began)
    return statistics.median(spent)


def say(words: str, value: float, unit: str, target: float | None = None, *, at_most: bool = False) -> None:
    mark = ""
    if target is not None:
        good = value <= target if at_most else value >= target
        state = "met" if good else f"MISSED {max(value / target, target / value):.2f}x"
        mark = f"   target {'<=' if at_most else '>='} {target:g}: {state}"
    print(f"  {words:66s} {value:10.4g} {unit}{mark}", flush=True)


def error_of(held: Floats, best: Floats) -> float:
    return float(100.0 * np.max(np.abs(held - best)) / np.ptp(best))


def best_baseline(problem: Problem, best: Floats, kirchhoff: bool) -> tuple[float, float]:
    """(CPU seconds, error) of the quicker of BDF and LSODA that came through: medians of three, once where it is slow."""
    found = []
    for method in ("LSODA", "BDF"):
        start = float(potential_of_humidity(problem.humidity))
        spent = []
        for _ in range(1 if QUICK else 3):
            held, seconds = baseline(
                problem.assembly(40), problem.climate, start, problem.outputs, method=method, kirchhoff=kirchhoff
            )
            spent.append(seconds)
            if seconds > 8.0:
                break
        error = error_of(held, best)
        rule = "Kirchhoff" if kirchhoff else "arithmetic"
        print(f"  scipy {method}, {rule}: {statistics.median(spent):.2f} s, error {error:.3g} %", flush=True)
        if np.isfinite(error):
            found.append((statistics.median(spent), error))
    return min(found)


def single(problem: Problem) -> float:
    """Ratios for one run; returns the CPU seconds of the arithmetic baseline."""
    print(f"\n{problem.name}, 40 cells, rtol 1e-3")
    best = problem.run(320, 1e-5 if problem.climate is WETTING else 1e-4).mass
    spent_a, error_a = best_baseline(problem, best, kirchhoff=False)
    spent_k, _ = best_baseline(problem, best, kirchhoff=True)
    for method, target in (("tr-bdf2", 140.0), ("bdf2", 275.0)):
        spent = median_of(lambda method=method: problem.run(40, 1e-2, method))
        run = problem.run(40, 1e-2, method)
        say(
            f"{method}, same cells and face rule: {spent * 1e3:.2f} ms, {error_of(run.mass, best):.3g} %",
            spent_k / spent,
            "x",
            target,
        )
        say(
            f"{method}, relative water balance",
            np.abs(run.balance()).max(),
            "",
            1e-10 if method == "bdf2" else 1e-12,
            at_most=True,
        )
    good = []
    for cells in (12, 20, 40):
        for method in METHODS:
            for tolerance in (3e-2, 1e-2):
                for step in (HOUR, 3 * HOUR, 6 * HOUR) if problem.climate is not WETTING else (HOUR,):
                    try:
                        error = error_of(problem.run(cells, tolerance, method, step).mass, best)
                    except RunFailed as problem_of_run:
                        print(f"  {method}, {cells} cells, {tolerance:g}: {problem_of_run}")
                        continue
                    if error <= error_a:
                        steps = thinned(problem.climate, step)
                        work = lambda c=cells, m=method, t=tolerance, s=steps: simulate(  # noqa: E731
                            problem.assembly(c),
                            s,
                            start_humidity=problem.humidity,
                            outputs=problem.outputs,
                            tolerance=t,
                            method=m,
                        )
                        good.append(
                            (
                                median_of(work, 5),
                                f"{method} {cells} cells, {tolerance:g}, climate by {step / HOUR:g} h: {error:.3g} %",
                            )
                        )
    spent, words = min(good)
    say(f"no worse than the baseline: {words}, {spent * 1e3:.2f} ms", spent_a / spent, "x", problem.equal_target)
    return spent_a


def variation(members: int) -> Variation:
    chance = np.random.default_rng(5)
    return Variation(
        members, water=np.exp(chance.normal(0.0, 0.1, (members, 1))), liquid=np.exp(chance.normal(0.0, 0.6, (members, 1))),
        vapour=np.exp(chance.normal(0.0, 0.3, (members, 1))), vapour_exchange=np.exp(chance.normal(0.0, 0.2, (members, 2))),
        start_humidity=np.clip(0.97 + chance.normal(0.0, 0.008, members), 0.9, 0.99),
    )  # fmt: skip


def ensembles(problem: Problem, spent_a: float) -> None:
    """A member of a 30 d ensemble of 20 cells against one baseline run, scaled to 30 d, and against numpy over members."""
    print(f"\nensemble, {problem.material.name}, 30 d by hours, 20 cells, steps of 3 h")
    climate, outputs, members = room(30), np.arange(1, 31) * DAY, 64
    spread = variation(members)

    def lanes() -> Floats:
        return simulate_ensemble(problem.assembly(20), climate, spread, outputs=outputs, threads=1).inflow[:, :, 0]

    crowd = variation(512)
    each = (
        median_of(lambda: simulate_ensemble(problem.assembly(20), climate, crowd, outputs=outputs, threads=1), 5) / 512
    )
    say("members per second and core", 1.0 / each, "/s", 5000.0)
    single = simulate_ensemble(
        problem.assembly(160), climate, spread, outputs=outputs, step=450.0, solves=2, threads=CORES
    ).inflow[:, :, 0]  # fmt: skip
    error = 100.0 * np.max(np.abs(lanes() - single), axis=1) / np.max(np.abs(single), axis=1)
    say("error of a member, median, in % of the water lost", float(np.median(error)), "%", 0.2, at_most=True)
    say("error of a member, 95th of 100", float(np.quantile(error, 0.95)), "%")
    say("against one baseline run of 30 d (half of that of 60 d), floor", 0.5 * spent_a / each, "x", 1200.0)
    say("the same, goal", 0.5 * spent_a / each, "x", 5000.0)
    start = np.repeat(potential_of_humidity(np.full(512, 0.97))[None, :], 21, axis=0)
    seconds, steps = numpy_members(problem.assembly(20), climate, start, outputs, 3 * HOUR, 40)
    whole = simulate_ensemble_steps(climate, outputs)
    say("against numpy over 512 members, floor", seconds / steps * whole / 512 / each, "x", 2.0)
    say("the same, goal", seconds / steps * whole / 512 / each, "x", 10.0)


def simulate_ensemble_steps(climate: Climate, outputs: Floats) -> int:
    from desorb.core.transport.schedule import schedule_of

    return len(schedule_of(climate, outputs, step=3 * HOUR, wet_step=600.0, solves=1, second_order=True).weights)


FRESH = """
import time; began = time.perf_counter()
from desorb.core.transport import *
import numpy as np
m = compiled("x", water=lambda s: 150 / (1 + s / 2e7) ** 0.45, liquid_diffusivity=lambda w: 1e-10 * w / 150,
             permeability=lambda w: np.full_like(w, 2e-12), conductivity=lambda w: np.full_like(w, 1.6), dry_heat=2e6)
c = Climate(Side(Air(20.0, 0.5)), Side(Air(20.0, 0.5), Surface(0.0, 0.0, sealed=True, adiabatic=True)), 60 * 86400.0)
simulate(Assembly((Layer(m, 0.1),)), c, start_humidity=0.97)
print(time.perf_counter() - began)
"""
MANY = """
import resource, time, numpy as np
from benchmarks.transport import CONCRETE, CORES, DAY, Assembly, Layer, room, simulate_ensemble, variation
parts = dict(assembly=Assembly((Layer(CONCRETE, 0.1, 20),)), climate=room(30), outputs=np.arange(1, 31) * DAY)
simulate_ensemble(variation=variation(8), **parts)
began = time.perf_counter()
found = simulate_ensemble(variation=variation(10_000), threads=CORES, **parts)
assert np.isfinite(found.inflow).all() and not found.failed
print(time.perf_counter() - began, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def whole() -> None:
    print("\na year by hours, concrete, 40 cells, tolerance 1e-2, warm")
    year, outputs = room(365), np.arange(1, 366) * DAY
    assembly = Assembly((Layer(CONCRETE, 0.1, 40),))
    best = simulate(assembly, year, start_humidity=0.97, outputs=outputs, tolerance=1e-4).mass
    times = {}
    for method in METHODS:
        work = lambda method=method: simulate(  # noqa: E731
            assembly, year, start_humidity=0.97, outputs=outputs, tolerance=1e-2, method=method
        )
        times[method] = median_of(work, 5)
        print(f"  {method}: {times[method] * 1e3:.1f} ms, error in time {error_of(work().mass, best):.3g} %")
    say("a year, the quickest integrator", 1e3 * min(times.values()), "ms", 50.0, at_most=True)
    print(f"\nprocesses of their own, wall clock, {CORES} cores")
    for words, code, repeats in (
        ("fresh process, compiled before, to the first answer", FRESH, 5),
        ("10,000 members x 30 d", MANY, 3),
    ):
        rows = []
        for _ in range(repeats + 1):
            began = time.perf_counter()
            out = subprocess.run(
                [sys.executable, "-c", code], capture_output=True, text=True, check=True
            ).stdout.split()
            rows.append([time.perf_counter() - began, *map(float, out)])
        columns = [statistics.median(column) for column in zip(*rows[1:], strict=True)]
        if code is FRESH:
            say(words, columns[0], "s", 2.0, at_most=True)
        else:
            say(words, columns[1], "s", 10.0, at_most=True)
            say("its memory, largest resident set", columns[2], "MiB", 1024.0, at_most=True)


def main() -> None:
    if hasattr(os, "sched_setaffinity"):
        allowed = os.sched_getaffinity(0)
        os.sched_setaffinity(0, {max(allowed)})
    print(f"load of the machine {os.getloadavg()[0]:.1f}; {CORES} cores; single figures on one core")
    spent = {problem.name: single(problem) for problem in PROBLEMS}
    for problem in PROBLEMS[:2]:
        ensembles(problem, spent[problem.name])
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, allowed)
    whole()


if __name__ == "__main__":
    main()
