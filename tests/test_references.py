"""Every key beside a line of code stands in docs/references.md, and none stands there that no line uses."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
KEY = re.compile(
    r"\[([A-Z][A-Za-z]*[A-Z0-9-][A-Za-z0-9.-]*\d[A-Za-z0-9.]*|CRC|AIAG-MSA|PFAFF-GARRAHAN|SQLite-pragma)\]"
)


def keys_in_code() -> set[str]:
    found: set[str] = set()
    for path in (ROOT / "src").rglob("*.py"):
        found |= set(KEY.findall(path.read_text(encoding="utf-8")))
    return found


def keys_in_references() -> set[str]:
    text = (ROOT / "docs" / "references.md").read_text(encoding="utf-8")
    return set(re.findall(r"\*\*\[([^]]+)\]", text)) | set(re.findall(r", \[([A-Z][^]]+)\]", text))


def test_every_key_in_the_code_resolves() -> None:
    assert keys_in_code() - keys_in_references() - {"A-Za-z0-9"} == set()  # that one is a regular expression
    assert len(keys_in_code()) > 20
