"""Change the code on purpose, and see whether the tests notice: mutmut on the control rule and on the record.

    python -m benchmarks.mutate [--only PART] [--write FILE]

Works on a copy of src/ and tests/ in a temporary folder, with two workers. Prints for each file how many mutants were
killed and how many survived, and every survivor with its line. Survivors that change nothing a test could see are listed
with the reason in benchmarks/mutation_explained.toml; the open ones ask for a test. --write puts the same text into a file.
"""

from __future__ import annotations

import argparse
import ast
import json
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
EXPLAINED = Path(__file__).with_name("mutation_explained.toml")
WORKERS = 2
SEED = 1
TARGETS = {  # file: patterns of the tests that are about it
    "src/desorb/core/rule.py": ("unit/core/test_rule*.py", "properties/test_rule*.py"),
    "src/desorb/notebook/chain.py": ("unit/notebook/test_chain*.py", "unit/notebook/test_fold*.py",
                                     "unit/notebook/test_heads*.py"),
    "src/desorb/notebook/entry.py": ("unit/notebook/test_canonical*.py", "unit/notebook/test_entry*.py",
                                     "unit/notebook/test_chain*.py"),
    "src/desorb/notebook/fold.py": ("unit/notebook/test_fold*.py", "unit/notebook/test_strikes*.py"),
}  # fmt: skip
KILLED = ("killed", "timeout", "suspicious", "segfault")


@dataclass(frozen=True, slots=True)
class Survivor:
    """A mutant that no test noticed. `line` is 0 when the place was not found."""

    name: str
    status: str
    file: str
    line: int
    was: str
    became: str
    words: bool  # only in what an error says

    @property
    def key(self) -> tuple[str, str, str]:
        return (self.file, self.was, self.became)


def prepare(folder: Path, file: str, tests: list[str]) -> None:
    """A copy of the tree, with the settings of the run added to its pyproject.toml."""
    leave = shutil.ignore_patterns("__pycache__")
    for name in ("src", "tests"):
        shutil.copytree(ROOT / name, folder / name, ignore=leave)
    settings = f"""
[tool.mutmut]
source_paths = ["src"]
only_mutate = {json.dumps([file])}
pytest_add_cli_args_test_selection = {json.dumps(tests)}
pytest_add_cli_args = ["-q", "-x", "-p", "no:cacheprovider", "--hypothesis-seed={SEED}"]
timeout_multiplier = 5.0
timeout_constant = 3.0
use_git_change_detection = false
"""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    (folder / "pyproject.toml").write_text(text + settings, encoding="utf-8")


def mutmut(folder: Path, *arguments: str) -> str:
    command = [sys.executable, "-m", "mutmut", *arguments]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise SystemExit(f"mutmut {arguments[0]} failed:\n{done.stdout[-1500:]}\n{done.stderr[-1500:]}")
    return done.stdout


def statuses_of(folder: Path) -> dict[str, str]:
    listed = mutmut(folder, "results", "--all", "true")
    return dict(re.findall(r"^\s*(\S+__mutmut_\d+): (.+?)\s*$", listed, flags=re.MULTILINE))


def survivor(folder: Path, name: str, status: str, file: str) -> Survivor:
    """What was changed, and where, from the difference that mutmut shows."""
    shown = mutmut(folder, "show", name).splitlines()
    start = next(number for number, line in enumerate(shown) if line.startswith("@@"))
    before = [line[1:] for line in shown[start + 1 :] if line[:1] in (" ", "-") and not line.startswith("---")]
    was = [line[1:] for line in shown[start + 1 :] if line.startswith("-")]
    became = [line[1:] for line in shown[start + 1 :] if line.startswith("+")]
    offset = next((number for number, line in enumerate(shown[start + 1 :]) if line[:1] in "+-"), 0)
    source = (folder / file).read_text(encoding="utf-8")
    line = place_of(before, offset, source, name)
    return Survivor(name, status, file, line, _joined(was), _joined(became), line in lines_of_errors(source))


def lines_of_errors(source: str) -> set[int]:
    """Lines that say what is raised. A changed sentence still refuses; tests of the doors look at the sentences."""
    raised = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Raise))
    return {line for node in raised for line in range(node.lineno, (node.end_lineno or node.lineno) + 1)}


def _joined(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


def place_of(before: list[str], offset: int, source: str, name: str) -> int:
    """The line of the change: the lines around it are looked for, from the function's own line on."""
    lines = source.splitlines()
    function = re.split(r"ǁ|x_", name.rpartition(".")[2].partition("__mutmut_")[0])[-1]
    begins = [
        node.lineno - 1
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.FunctionDef) and node.name.lstrip("_") == function.lstrip("_")
    ]
    for begin in [*begins, 0]:
        for first in range(max(0, begin - 3), len(lines) - len(before) + 1):
            if lines[first : first + len(before)] == before:
                return first + offset + 1
    return 0


def explained() -> dict[tuple[str, str, str], str]:
    if not EXPLAINED.exists():
        return {}
    table = tomllib.loads(EXPLAINED.read_text(encoding="utf-8"))
    return {(row["file"], row["was"], row["became"]): row["why"] for row in table.get("mutant", [])}


# -- text ------------------------------------------------------------------------------------------------------------


def kind_of(each: Survivor, reasons: dict[tuple[str, str, str], str]) -> str:
    if each.key in reasons:
        return "Explained"
    return "Words" if each.words else "Open"


def text(statuses: dict[str, Counter[str]], survivors: list[Survivor], missing: list[str]) -> Iterator[str]:
    reasons = explained()
    yield "# What the tests notice when the code is changed on purpose\n"
    yield "Made by `python -m benchmarks.mutate`: mutmut changes one thing at a time (a comparison, a constant, an argument,"
    yield "a returned value) and runs the tests that are about the file. A mutant is killed when a test fails. A survivor is"
    yield "*explained* when the change makes no difference that a test could see, with the reason below. *Words* are changes"
    yield "inside the sentence of an error, which is raised all the same. Every *open* one asks for a test.\n"
    yield "| file | mutants | killed | survived: words | explained | open |"
    yield "|---|---|---|---|---|---|"
    for file, counts in statuses.items():
        of_file = [each for each in survivors if each.file == file]
        kinds = Counter(kind_of(each, reasons) for each in of_file)
        killed = sum(counts[status] for status in KILLED)
        figures = (sum(counts.values()), killed, kinds["Words"], kinds["Explained"], kinds["Open"])
        yield f"| `{file}` | {' | '.join(map(str, figures))} |"
    yield ""
    if missing:
        yield f"Not there, so not asked: {', '.join(f'`{name}`' for name in missing)}.\n"
    for title in ("Open", "Explained"):
        chosen = [each for each in survivors if kind_of(each, reasons) == title]
        yield f"## {title}\n"
        for each in chosen:
            note = "" if each.status == "survived" else f" ({each.status})"
            why = f"\n  {reasons[each.key]}" if each.key in reasons else ""
            yield f"- `{each.file.removeprefix('src/desorb/')}` line {each.line}{note}: `{each.was}` → `{each.became}`{why}"
        yield "" if chosen else "None.\n"
    yield "## Words\n"
    words = [each for each in survivors if kind_of(each, reasons) == "Words"]
    for file in dict.fromkeys(each.file for each in words):
        lines = Counter(each.line for each in words if each.file == file)
        counted = ", ".join(f"{line} ({number})" if number > 1 else f"{line}" for line, number in lines.items())
        yield f"- `{file.removeprefix('src/desorb/')}` lines {counted}"
    yield "" if words else "None.\n"


def run(file: str, tests: list[str], folder: Path) -> tuple[Counter[str], list[Survivor]]:
    """One file with the tests that are about it."""
    print(f"mutating {file}, with {', '.join(tests)} ...", file=sys.stderr, flush=True)
    prepare(folder, file, tests)
    mutmut(folder, "run", "--max-children", f"{WORKERS}")
    statuses = statuses_of(folder)
    left = [name for name, status in statuses.items() if status not in KILLED]
    with ThreadPoolExecutor(WORKERS) as pool:
        survivors = list(pool.map(lambda name: survivor(folder, name, statuses[name], file), left))
    return Counter(statuses.values()), sorted(survivors, key=lambda each: (each.line, each.became))


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.mutate", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--only", default="", help="only files whose path holds these letters")
    parser.add_argument("--write", type=Path, help="write the text into this file too")
    chosen = parser.parse_args()
    counts: dict[str, Counter[str]] = {}
    survivors: list[Survivor] = []
    missing: list[str] = []
    for file, patterns in TARGETS.items():
        found = {pattern: sorted((ROOT / "tests").glob(pattern)) for pattern in patterns}
        missing += [f"tests/{pattern}" for pattern, files in found.items() if not files]
        tests = [test.relative_to(ROOT).as_posix() for files in found.values() for test in files]
        if chosen.only in file and tests:
            with tempfile.TemporaryDirectory(prefix="desorb-mutants-") as temporary:
                counts[file], left = run(file, tests, Path(temporary) / "tree")
                survivors += left
    shown = "\n".join(text(counts, survivors, missing)).rstrip() + "\n"
    sys.stdout.write(shown)
    if chosen.write:
        chosen.write.write_text(shown, encoding="utf-8")


if __name__ == "__main__":
    main()
