"""The rules of the house, held by tests: pure core, one way of imports, clean locks, no trace of one machine."""

from __future__ import annotations

import ast
import importlib
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src" / "desorb"
LONGEST_MODULE = 400  # lines

FORBIDDEN_CALLS = frozenset({"open", "print", "input", "now", "today", "utcnow"})
FORBIDDEN_NAMES = frozenset({"Path"})

# Written in two halves, so that this file does not name them itself.
REGISTRY_HOSTS = (
    "pypi" + ".org",
    "pythonhosted" + ".org",
    "npmjs" + ".org",
    "npmjs" + ".com",
    "yarnpkg" + ".com",
    "deb.debian" + ".org",
    "proxy.golang" + ".org",
    "crates" + ".io",
)
HOME_FOLDERS = ("/" + "root/", "/" + "home/", "/" + "Users/")
LINK = re.compile(r"\]\(([^)\s]+)\)")


def modules(folder: Path) -> list[Path]:
    return sorted(folder.rglob("*.py"))


def relative(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def tracked_files() -> list[Path]:
    """Every file that git holds or would add; skips the test where there is no git."""
    if shutil.which("git") is None or not (ROOT / ".git").exists():
        pytest.skip("no git here")
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    return [path for name in listed.split("\0") if name and (path := ROOT / name).is_file()]


def impurities(source: str) -> list[str]:
    """Calls to the forbidden names, by name or as an attribute, and any mention of Path."""
    found = []
    for node in ast.walk(ast.parse(source)):
        names: list[str] = []
        if isinstance(node, ast.Call):
            called = node.func
            name = called.id if isinstance(called, ast.Name) else getattr(called, "attr", "")
            names = [name] if name in FORBIDDEN_CALLS else []
        elif isinstance(node, ast.Name):
            names = [node.id] if node.id in FORBIDDEN_NAMES else []
        elif isinstance(node, ast.Attribute):
            names = [node.attr] if node.attr in FORBIDDEN_NAMES else []
        elif isinstance(node, ast.ImportFrom):
            names = [item.name for item in node.names if item.name in FORBIDDEN_CALLS | FORBIDDEN_NAMES]
        found += [f"line {getattr(node, 'lineno', '?')}: {name}" for name in names]
    return found


@pytest.mark.parametrize("path", modules(SOURCE / "core"), ids=relative)
def test_core_is_pure(path: Path) -> None:
    assert impurities(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "source",
    [
        "open('x')",
        "print(1)",
        "input()",
        "datetime.now()",
        "date.today()",
        "datetime.datetime.utcnow()",
        "from pathlib import Path",
        "pathlib.Path('x')",
        "from builtins import open as look",
    ],
)
def test_the_purity_test_sees_what_it_should(source: str) -> None:
    assert impurities(source)


def test_the_purity_test_lets_time_in_as_an_argument() -> None:
    assert impurities("def age(now, then): return now - then") == []


@pytest.mark.parametrize("path", modules(SOURCE), ids=relative)
def test_modules_stay_short(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= LONGEST_MODULE, f"{relative(path)} has {lines} lines: split it by what it is about"


def test_locks_name_no_address() -> None:
    locks = sorted(ROOT.glob("requirements*.lock"))
    assert locks
    for lock in locks:
        assert "://" not in lock.read_text(encoding="utf-8"), f"{lock.name} names an address"


def test_every_locked_package_has_a_hash() -> None:
    for lock in sorted(ROOT.glob("requirements*.lock")):
        for entry in re.split(r"\n(?=[a-z0-9])", lock.read_text(encoding="utf-8").strip()):
            assert re.match(r"[a-z0-9._-]+==\S+", entry), f"{lock.name}: {entry.splitlines()[0]}"
            assert "--hash=sha256:" in entry, f"{lock.name}: {entry.splitlines()[0]}"


def test_locks_agree_on_every_version() -> None:
    versions: dict[tuple[str, str], set[str]] = {}
    for lock in sorted(ROOT.glob("requirements*.lock")):
        for line in lock.read_text(encoding="utf-8").splitlines():
            if match := re.match(r"([a-z0-9._-]+)==(\S+)(?: ; (.*?))? \\$", line):
                versions.setdefault((match[1], match[3] or ""), set()).add(match[2])
    assert {name: found for name, found in versions.items() if len(found) > 1} == {}


def test_files_name_no_registry_and_no_path_of_this_machine() -> None:
    folders = {f"{ROOT}/", f"{Path.home()}/", *HOME_FOLDERS}
    temporary = Path(tempfile.gettempdir())
    folders |= {f"{parent}/" for parent in ROOT.parents if parent not in (Path("/"), temporary, *temporary.parents)}
    folders.discard("//")
    paths = re.compile("|".join(rf"(?<![\w.\-/]){re.escape(folder)}" for folder in sorted(folders)))
    found = []
    for path in tracked_files():
        text = path.read_bytes().decode("utf-8", errors="replace")
        found += [f"{relative(path)}: {host}" for host in REGISTRY_HOSTS if host in text]
        found += [f"{relative(path)}: {match[0]}" for match in paths.finditer(text)]
    assert found == []


def test_public_names_are_sorted_and_importable() -> None:
    door = importlib.import_module("desorb")
    assert list(door.__all__) == sorted(set(door.__all__))
    assert [name for name in door.__all__ if not hasattr(door, name)] == []


def test_import_contracts_hold() -> None:
    command = [str(Path(sys.executable).with_name("lint-imports")), "--no-logo", "--no-cache"]
    result = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout + result.stderr


def test_links_between_pages_lead_somewhere() -> None:
    broken = []
    for page in tracked_files():
        if page.suffix != ".md":
            continue
        for target in LINK.findall(page.read_text(encoding="utf-8")):
            file = target.partition("#")[0]
            if file and not re.match(r"[a-z]+:", target) and not (page.parent / file).exists():
                broken.append(f"{relative(page)}: {target}")
    assert broken == []
