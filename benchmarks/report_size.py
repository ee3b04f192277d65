"""A report of two thousand readings in a fresh process: how long the whole render takes, and how large it becomes.

    python -m benchmarks.report_size [--readings N] [--runs N]

The target is 5 s for everything that `render` does, imports included, on a machine that does nothing else. All data are
invented. Seconds depend on the machine and on what else it does, so the seconds of computing stand beside those of the
clock, and an empty Python process beside both.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from pathlib import Path

TARGET = 5.0  # s
CHILD = """
import io, sys, time
sys.path.insert(0, {tests!r})
import report_case
from desorb.core.assess import assess

case = report_case.large_case({readings})
started, computed = time.perf_counter(), time.process_time()
assessed = assess(case, history=True)
between, computed_between = time.perf_counter(), time.process_time()
from desorb.report.render import render
made = render(case, assessed, number=1, issued_at=report_case.ISSUED, software="desorb", photos={{}})
done, computed_done = time.perf_counter(), time.process_time()
from pypdf import PdfReader
print(len(case.readings), between - started, computed_between - computed, done - between, computed_done - computed_between,
      len(PdfReader(io.BytesIO(made.pdf)).pages), len(made.pdf), len(made.json))
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--readings", type=int, default=2000)
    parser.add_argument("--runs", type=int, default=3)
    given = parser.parse_args()
    tests = str(Path(__file__).resolve().parents[1] / "tests")
    started = time.perf_counter()
    subprocess.run([sys.executable, "-c", "pass"], check=True)
    print(f"an empty Python process: {time.perf_counter() - started:.2f} s; load {os.getloadavg()[0]:.1f}")
    for _ in range(given.runs):
        child = CHILD.format(tests=tests, readings=given.readings)
        ran = subprocess.run([sys.executable, "-c", child], check=True, capture_output=True, text=True)
        readings, assess, assess_cpu, render, render_cpu, pages, pdf, twin = map(float, ran.stdout.split())
        kept = "kept" if render <= TARGET else "missed"
        print(
            f"{readings:.0f} readings: assess {assess:.2f} s ({assess_cpu:.2f} s computing), render {render:.2f} s"
            f" ({render_cpu:.2f} s computing; target {TARGET:.0f} s {kept}), {pages:.0f} pages,"
            f" PDF {pdf / 1e6:.1f} MB, JSON {twin / 1e6:.1f} MB; load {os.getloadavg()[0]:.1f}"
        )


if __name__ == "__main__":
    main()
