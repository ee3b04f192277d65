"""A case with ten thousand entries through the real store and services: how long each step takes, and against what.

    python -m benchmarks.sizes [--entries N] [--report-readings N] [--profile STEP]

All data are invented and live in a temporary folder. Seconds depend on the machine, so each stands beside a yardstick
that ran in the same minute (an empty Python process, or reading the same payloads once with json.loads) and beside the
processor time: on a busy machine the clock runs on while others work.
--profile prints where the time goes in one step: fold, assess, verify, export, import or report.
"""

from __future__ import annotations

import argparse
import cProfile
import json
import os
import pstats
import random
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from desorb.core.assess import assess
from desorb.core.kinds import (
    CheckBlock,
    Construction,
    Instrument,
    Note,
    NotInspected,
    Readiness,
    Scale,
    ScaleShown,
    Zone,
)
from desorb.notebook.fold import fold
from desorb.notebook.store import Draft, Store
from desorb.notebook.writer import Writer
from desorb.service.assessing import as_objects
from desorb.service.cases import OpenCase, load, open_case, write
from desorb.service.instruments import describe_instrument, log_check
from desorb.service.take import take_air, take_readings

SEED = 20_260_302
BEGAN = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
CASE_NAME = "large-invented"
CONSTRUCTIONS = ("cement screed", "gypsum plaster", "lime plaster", "brick")
CONTROLS_OF_EACH = 6
THREADS, APPENDS_OF_EACH = 200, 5
STEPS = ("fold", "assess", "as JSON", "verify", "export", "import", "report")
COMPARATIVE = Scale(
    "comparative", "electrical impedance", "comparative", bottom="0", top="100", resolution="1", depth="20",
    repeatability="1",
)  # fmt: skip


class Clock:
    """The clock of the invented case."""

    def __init__(self) -> None:
        self.moment = BEGAN

    def __call__(self) -> datetime:
        return self.moment


def build(store: Store, name: str, *, zones: int, spots: int, visits: int) -> OpenCase:
    """Zones of four constructions with survey spots, sound zones with controls, and a sweep of all in each visit."""
    draw, clock = random.Random(SEED), Clock()
    block = CheckBlock("comparative", "50", "2", 7)
    describe_instrument(
        store, Instrument("m1", "invented meter with plates", "A-1", (COMPARATIVE,), block=(block,)), clock
    )
    describe_instrument(store, Instrument("h1", "invented thermometer and hygrometer", "B-1", (COMPARATIVE,)), clock)
    case = open_case(store, name, site="invented", time_zone="Europe/London", invented=True, clock=clock)
    described: list[Any] = [Construction(f"c{k}", f"invented {words}", words) for k, words in enumerate(CONSTRUCTIONS)]
    described += [Zone(f"sound-{k}", f"sound part {k}", f"c{k}", "inside", "no") for k in range(len(CONSTRUCTIONS))]
    described += [
        Zone(f"z{number}", f"room {number}", f"c{number % len(CONSTRUCTIONS)}", "inside", "yes")
        for number in range(zones)
    ]
    write(store, case, described, clock)
    places = [
        (f"k{k}-{n}", f"sound-{k}", "control") for k in range(len(CONSTRUCTIONS)) for n in range(CONTROLS_OF_EACH)
    ]
    places += [(f"z{number}-{n}", f"z{number}", "survey") for number in range(zones) for n in range(spots)]
    for visit in range(visits):
        _one_visit(store, case, clock, draw, visit, places)
    write(store, case, [NotInspected("", "", "everything in scope was reached", at=clock().isoformat())], clock)
    return case


def _one_visit(
    store: Store, case: OpenCase, clock: Clock, draw: random.Random, visit: int, places: list[tuple[str, str, str]]
) -> None:
    clock.moment = BEGAN + timedelta(days=3 * visit)
    name, begun = f"v{visit}", clock.moment.isoformat()
    log_check(store, "m1", "50", at=begun, by="N. Invented", clock=clock)
    ready = Readiness("m1", name, "yes", "yes", "yes", "yes", "yes", begun)
    write(store, case, [ready, ScaleShown(name, "m1", "comparative", "comparative", begun)], clock)
    rows = []
    for number, (spot, zone, role) in enumerate(places):
        level = 20.0 * (1 + (role == "survey") * (hash_of(spot) % 4 == 0) * 1.5 * 0.8**visit)
        presses = 3 if number % 5 == 0 else 1
        figures = [f"{max(1, round(level * draw.lognormvariate(0, 0.1)))}"]
        figures += [f"{max(1, int(figures[0]) + draw.choice((-1, 0, 1)))}" for _ in range(presses - 1)]
        rows.append(
            {"visit": name, "taken_at": (clock.moment + timedelta(seconds=8 * number)).isoformat(), "spot": spot,
             "zone": zone, "element": "floor", "role": role, "instrument": "m1", "scale": "comparative",
             "value": " ".join(figures), "covering": "bare", "by": "N. Invented"}
        )  # fmt: skip
    taken = take_readings(store, case, rows, clock=clock)
    if taken.problems:
        raise SystemExit(f"the invented rows were not taken: {taken.problems[0]}")
    air = {"visit": name, "taken_at": begun, "place": "room 1", "kind": "affected", "instrument": "h1",
           "temperature_c": "19.5", "rh_percent": "62"}  # fmt: skip
    take_air(store, case, [air], clock=clock)


def hash_of(text: str) -> int:
    """A number that is the same in every run."""
    return sum(ord(letter) * (place + 1) for place, letter in enumerate(text))


# -- measuring -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Taken:
    """The quickest of a few runs: seconds on the clock, and seconds of the processor in that run."""

    clock: float
    processor: float


def seconds(step: Callable[[], object], times: int = 3) -> Taken:
    taken = []
    for _ in range(times):
        before, began = _processor(), time.perf_counter()
        step()
        taken.append((time.perf_counter() - began, _processor() - before))
    return Taken(*min(taken))


def _processor() -> float:
    """Of this process and of those it has waited for."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


def process(arguments: list[str], home: Path, times: int = 3) -> Taken:
    environment = os.environ | {"DESORB_HOME": str(home)}

    def run() -> None:
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, env=environment)

    return seconds(run, times)


def line(words: str, taken: Taken, yardstick: Taken, of: str, target: float | None = None) -> None:
    aimed = ""
    if target is not None:
        ratio = taken.clock / target
        aimed = f"   {ratio:.2f} of the {target:g} s aimed at"
    print(
        f"{words:<48} {taken.clock:8.3f} s (processor {taken.processor:7.3f} s)"
        f" {taken.clock / yardstick.clock:8.1f} x {of}{aimed}",
        flush=True,
    )


def appends(folder: Path) -> None:
    """One caller with one commit each, beside many callers who share commits."""
    moment = BEGAN.isoformat()

    def draft(number: int) -> list[Draft]:
        return [Draft(Note(f"invented note {number}", moment), moment)]

    with Store(folder / "single") as store:
        store.assert_durable()
        case = open_case(store, "single", site="invented", time_zone="UTC", invented=True)
        waits = []
        began = time.perf_counter()
        for number in range(THREADS):
            before = time.perf_counter()
            store.append(case.id, draft(number))
            waits.append(time.perf_counter() - before)
        single = THREADS / (time.perf_counter() - began)
        say_appends("one caller, one commit each", single, waits, single)
    with Store(folder / "group") as store, Writer(store) as writer:
        store.assert_durable()
        case = open_case(store, "group", site="invented", time_zone="UTC", invented=True)
        waits = []
        gate = threading.Barrier(THREADS + 1)

        def caller(number: int) -> None:
            gate.wait()
            for turn in range(APPENDS_OF_EACH):
                before = time.perf_counter()
                writer.append(case.id, draft(number * APPENDS_OF_EACH + turn))
                waits.append(time.perf_counter() - before)

        threads = [threading.Thread(target=caller, args=(number,)) for number in range(THREADS)]
        for thread in threads:
            thread.start()
        gate.wait()
        began = time.perf_counter()
        for thread in threads:
            thread.join()
        rate = len(waits) / (time.perf_counter() - began)
        say_appends(f"{THREADS} callers x {APPENDS_OF_EACH}, shared commits", rate, waits, single)


def say_appends(words: str, rate: float, waits: list[float], single: float) -> None:
    cut = statistics.quantiles(waits, n=100)
    print(
        f"{'append: ' + words:<52} {rate:8.0f} /s {rate / single:7.1f} x one caller   "
        f"waiting p50 {1000 * cut[49]:.1f} ms, p99 {1000 * cut[98]:.1f} ms",
        flush=True,
    )


def profiled(step: Callable[[], object], lines: int = 35) -> None:
    profile = cProfile.Profile()
    profile.runcall(step)
    pstats.Stats(profile).strip_dirs().sort_stats("tottime").print_stats(lines)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.sizes", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--entries", type=int, default=10_000)
    parser.add_argument("--report-readings", type=int, default=2_000)
    parser.add_argument("--profile", choices=STEPS)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="desorb-sizes-") as temporary:
        measure(Path(temporary), chosen.entries, chosen.report_readings, chosen.profile)


def measure(folder: Path, entries: int, report_readings: int, profile: str | None) -> None:
    home, visits = folder / "home", 11
    zones = max(1, round(entries / 220 - 2))  # 20 spots in each zone, described once and read in each visit
    with Store(home) as store:
        store.assert_durable()
        built: list[OpenCase] = []
        building = seconds(lambda: built.append(build(store, CASE_NAME, zones=zones, spots=18, visits=visits)), 1)
        case = built[0]
        known = store.entries(case.id)
        steps = steps_of(store, case, folder, report_readings)
        if profile:
            profiled(steps[profile])
            return
        texts = [entry.payload_text or "" for entry in known]
        reading = seconds(lambda: [json.loads(text) for text in texts])
        print(
            f"case of {len(known)} entries, built through the services in {building.clock:.1f} s"
            f" (processor {building.processor:.1f} s)\n"
        )
        of = "json.loads of its payloads"
        line("yardstick: json.loads of its payloads", reading, reading, of)
        line("read the entries from the store, hashed again", seconds(lambda: store.entries(case.id)), reading, of)
        line("fold", seconds(steps["fold"]), reading, of, 0.5)
        folded = load(store, case)
        line("assess a folded case", seconds(lambda: assess(folded)), reading, of)
        assessed = assess(folded)
        line("the assessments as JSON", seconds(lambda: json.dumps(as_objects(assessed))), reading, of)
        for name, words in (
            ("verify", "verify the store"),
            ("export", "export as a bag"),
            ("import", "import the bag"),
        ):
            if name in steps:
                line(words, seconds(steps[name], 1), reading, of)
    bare = process(["-c", "pass"], home, 7)
    print()
    line("yardstick: python -c pass", bare, bare, "python -c pass")
    program = ["-m", "desorb.cli.main"]
    line("desorb --help, a fresh process", process([*program, "--help"], home), bare, "python -c pass", 0.3)
    line("desorb assess --json, a fresh process", process([*program, "assess", CASE_NAME, "--json"], home), bare,
         "python -c pass", 2.0)  # fmt: skip
    if "report" in steps:
        line(f"a report of {report_readings} readings", seconds(steps["report"], 1), bare, "python -c pass", 5.0)
    print()
    appends(folder)


def steps_of(store: Store, case: OpenCase, folder: Path, report_readings: int) -> dict[str, Callable[[], object]]:
    """The steps by name; those whose modules are not there yet are left out."""
    known = store.entries(case.id)
    folded = load(store, case)
    steps: dict[str, Callable[[], object]] = {"fold": lambda: fold(known), "assess": lambda: assess(folded)}
    steps["as JSON"] = lambda: json.dumps(as_objects(assess(folded)))
    if find_spec("desorb.notebook.verify"):
        from desorb.notebook.verify import verify_store

        steps["verify"] = lambda: must_be_sound(verify_store(store, case.id))
    if find_spec("desorb.notebook.bag"):
        from desorb.notebook.bag import export_bag, import_bag

        bag = folder / "bag"

        def export() -> None:
            export_bag(store, case.id, bag, now=BEGAN.isoformat())

        def bring_in() -> None:
            if not bag.exists():
                export()
            with Store(folder / "other") as other:
                import_bag(other, bag)

        steps |= {"export": export, "import": bring_in}
    if find_spec("desorb.report.render"):
        steps["report"] = report_step(folder, report_readings)
    return steps


def must_be_sound(verification: Any) -> None:
    if not verification.ok:
        raise SystemExit(f"the large case does not verify: {verification.faults[:3]}")


def report_step(folder: Path, readings: int) -> Callable[[], object]:
    from desorb.service.reporting import rendered

    store = Store(folder / "report")
    case = build(store, "report-invented", zones=round(readings / 10 / 18 - 1.3), spots=18, visits=10)
    return lambda: rendered(store, case, number=1, issued_at="2026-04-30T12:00:00+01:00")


if __name__ == "__main__":
    main()
