"""How many published check values each public function of the core has, and how many of them were read in a source.

Counts the rows of tests/checks/*.toml by their `function` and `read`, the cells of wood_emc.csv, and the cases of the other
tests there by the functions they call; such a test counts as read where its docstring or module says "read" of its rows.
"""

from __future__ import annotations

import ast
import csv
import re
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path

CHECKS = Path(__file__).parents[1] / "tests" / "checks"


def of_tables() -> tuple[Counter[str], Counter[str]]:
    every: Counter[str] = Counter()
    read: Counter[str] = Counter()
    for table in CHECKS.glob("*.toml"):
        for row in tomllib.loads(table.read_text("utf-8"))["check"]:
            name = row["function"].removeprefix("desorb.core.")
            every[name] += 1
            read[name] += row["read"].startswith("read")
    cells = list(csv.DictReader((CHECKS / "wood_emc.csv").read_text("utf-8").splitlines()))
    every["timber.equilibrium_moisture_content"] += len(cells)
    return every, read


def of_tests() -> tuple[Counter[str], Counter[str]]:
    every: Counter[str] = Counter()
    read: Counter[str] = Counter()
    listed = subprocess.run(
        [sys.executable, "-m", "pytest", "--collect-only", "-q", "-p", "no:xdist", str(CHECKS)],
        capture_output=True, text=True, check=True, cwd=CHECKS.parents[1],
    ).stdout  # fmt: skip
    cases = Counter(re.findall(r"tests/checks/(\w+\.py::\w+)", listed))
    for path in CHECKS.glob("test_*.py"):
        if path.with_name(path.stem.removeprefix("test_").removesuffix("_checks") + ".toml").exists():
            continue
        tree = ast.parse(path.read_text("utf-8"))
        homes = {
            name.asname or name.name: f"{node.module.removeprefix('desorb.core.')}.{name.name}"
            for node in tree.body
            if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("desorb.core")
            for name in node.names
        }
        for test in (node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")):
            words = (ast.get_docstring(test) or "").casefold()
            called = {
                node.func.id
                for node in ast.walk(test)
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
            }
            number = cases[f"{path.name}::{test.name}"]
            for name in called & homes.keys():
                if homes[name].rpartition(".")[2][0].islower():
                    every[homes[name]] += number
                    read[homes[name]] += number if re.search(r"\bread\b", words) else 0
    return every, read


def main() -> None:
    every, read = of_tables()
    more, more_read = of_tests()
    every.update(more)
    read.update(more_read)
    for name, number in sorted(every.items()):
        print(f"{name:60} {number:5} values, {read[name]:4} read")
    print(f"{len(every)} functions, {sum(every.values())} values, {sum(read.values())} read")


if __name__ == "__main__":
    main()
