"""Logger files: a year at 10 minutes through surface humidity and mould index, and a messy file of a million rows.

    python -m benchmarks.logs [--rows N] [--runs N]

The messy file has a preamble, day/month/year times, repeated rows, rows out of order, words for figures, gaps, a dead
sensor and both changes of summer time. Each reader runs in a process of its own, so that its peak of memory is its own.
Beside ours runs pandas where it is installed; where it is not, a plain loop of csv.reader and datetime that only reads
and counts. All data are invented. Seconds depend on the machine: the load stands beside them.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import subprocess
import sys
import tempfile
import time
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from desorb.core.logger import LoggedAir, summarise

ROWS_OF_A_YEAR = 365 * 24 * 6
FORMAT = "%d/%m/%Y %H:%M"
PEAK = """
import time
started = time.perf_counter()
{work}
seconds = time.perf_counter() - started
with open("/proc/self/status") as status:  # of this process alone; getrusage would keep the peak of its parent
    peak = next(line.split()[1] for line in status if line.startswith("VmHWM"))
print(rows, seconds, float(peak) / 1024)
"""
OURS = """
from pathlib import Path
from desorb.service.logger_cells import Columns, Stated
from desorb.service.logger_file import read_logger_file
started = time.perf_counter()
stated = Stated(Columns("Time", "Temperature", "Humidity", "Surface"), "C", "percent", "Europe/London", 90, {format!r})
rows = read_logger_file(Path({path!r}), stated).report.rows_kept
"""
PLAIN = """
import csv
from datetime import datetime
started = time.perf_counter()
kept = []
with open({path!r}, encoding="utf-8", newline="") as file:
    for cells in csv.reader(file):
        try:
            kept.append((datetime.strptime(cells[0], {format!r}), *map(float, cells[1:4])))
        except (ValueError, IndexError):
            pass
kept.sort()
rows = len(kept)
"""
PANDAS = """
import pandas
started = time.perf_counter()
table = pandas.read_csv({path!r}, skiprows=3)
table["Time"] = pandas.to_datetime(table["Time"], format={format!r}, errors="coerce")
for name in ("Temperature", "Humidity", "Surface"):
    table[name] = pandas.to_numeric(table[name], errors="coerce")
rows = len(table.dropna().sort_values("Time").drop_duplicates("Time"))
"""


def a_year() -> LoggedAir:
    """A room over a year with a surface sensor; the surface is damp in winter."""
    hours = np.arange(ROWS_OF_A_YEAR) / 6
    season, day = np.cos(2 * np.pi * hours / 8760), np.cos(2 * np.pi * hours / 24)
    temperature = 19 - 2 * season - day
    return LoggedAir(
        hours, temperature, 58 + 4 * season + 3 * day, (hours // 24).astype(np.int64), temperature - 5 - 2 * season
    )


def write_messy(path: Path, rows: int) -> None:
    """One row a minute from 1 January 2024 by the wall clock of London."""
    random = np.random.default_rng(54)
    begins, zone = datetime(2024, 1, 1, tzinfo=ZoneInfo("UTC")), ZoneInfo("Europe/London")
    chance = random.random(rows)
    lines = ["invented logger\n", "serial,0\n", "\n", "Time,Temperature,Humidity,Surface\n"]
    for row in range(rows):
        wall = (begins + timedelta(minutes=row)).astimezone(zone).strftime(FORMAT)
        line = f"{wall},{19 + 3 * chance[row]:.2f},{50 + 20 * chance[row]:.1f},{14 + 2 * chance[row]:.2f}\n"
        if chance[row] < 0.002:
            line = f"{wall},Err,--,\n"
        elif chance[row] < 0.003:
            line = f"{wall},{1999 + chance[row]:.1f},-1,\n"
        elif chance[row] < 0.004:
            line += line
        elif chance[row] < 0.005:
            lines[-1], line = line, lines[-1]
        elif 0.5 < chance[row] < 0.5005 or rows // 2 < row < rows // 2 + 600:
            continue
        lines.append(line)
    path.write_text("".join(lines), encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--runs", type=int, default=3)
    given = parser.parse_args()
    air = a_year()
    for _ in range(given.runs):
        started = time.perf_counter()
        found = summarise(air)
        seconds = time.perf_counter() - started
        above = found.surface.hours_above if found.surface else 0.0
        print(
            f"a year at 10 min, {found.rows} rows, surface humidity, mould index with band, 30 days, daily range: "
            f"{seconds:.2f} s ({above:.0f} h above 80 % at the surface); load {os.getloadavg()[0]:.1f}"
        )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "messy.csv"
        write_messy(path, given.rows)
        print(f"messy file: {given.rows} minutes, {path.stat().st_size / 1e6:.1f} MB")
        beside = ("csv.reader and datetime, reading only", PLAIN)
        if importlib.util.find_spec("pandas"):
            beside = ("pandas, reading and sorting only", PANDAS)
        else:
            print("pandas is not installed here; a plain loop stands beside ours instead")
        for name, work in (("ours, with clock, report and checks", OURS), beside) * given.runs:
            child = PEAK.format(work=work.format(path=str(path), format=FORMAT))
            ran = subprocess.run([sys.executable, "-c", child], check=True, capture_output=True, text=True)
            rows, seconds, peak = map(float, ran.stdout.split())
            print(f"  {name}: {seconds:.2f} s, peak {peak:.0f} MB, {rows:.0f} rows kept; load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
