"""Paper and ink: contrast of every pair of the tokens, lightness steps, and what may not stand in a script or a template.

Sources: WCAG 2.2 success criteria 1.4.3, 1.4.6 and 1.4.11 with the formula of relative luminance (from memory); CIE L* from
CIE 15 (from memory). The thresholds 7:1 for text and 3:1 for parts are those of WCAG; the lightness step of 8 is a setting of
ours.
"""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest

WEB = Path(__file__).resolve().parents[2] / "src" / "desorb" / "web"
PAPER = (WEB / "static" / "paper.css").read_text(encoding="utf-8")
SCRIPTS = sorted((WEB / "static").rglob("*.js"))
TEMPLATES = sorted((WEB / "templates").rglob("*.html"))
LONGEST_SCRIPT = 400  # lines, as for a module


def tokens(block: str) -> dict[str, str]:
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))


LIGHT = tokens(PAPER.split("@media")[0])
DARK = tokens(PAPER.split(':root[data-theme="dark"] {')[1].split("}")[0])
BY_DEVICE = tokens(PAPER.split("prefers-color-scheme: dark")[1].split("}")[0])


def luminance(colour: str) -> float:
    def linear(part: int) -> float:
        share = part / 255
        return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4  # [WCAG22]

    red, green, blue = (linear(int(colour[at : at + 2], 16)) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def lightness(colour: str) -> float:
    return 116 * luminance(colour) ** (1 / 3) - 16


def test_contrast_knows_its_ends() -> None:
    """Black on white is 21:1, and a colour on itself 1:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#7a4500", "#7a4500") == 1


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "soft"])
@pytest.mark.parametrize("text", ["ink", "quiet", "link", "plum"])
def test_text_is_read_at_arms_length(theme: dict[str, str], ground: str, text: str) -> None:
    """In a cellar with a torch, and in the sun: every text colour has 7:1 on paper and on its soft ground."""
    assert contrast(theme[text], theme[ground]) >= 7


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_parts_are_seen(theme: dict[str, str]) -> None:
    """Edges of fields, marks of the statuses and the ring of the focus have 3:1; the button of the next action 7:1."""
    for part in ("edge", "above", "no-higher", "umber"):
        assert contrast(theme[part], theme["paper"]) >= 3, part
    assert contrast(theme["on-umber"], theme["umber"]) >= 7
    assert contrast(theme["ink"], theme["paper"]) >= 10  # the value that is typed, and the keypad


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_the_five_steps_of_the_hue_differ_in_grey(theme: dict[str, str]) -> None:
    """Printed on a mono laser the five steps still differ, in one order."""
    steps = [lightness(theme[f"slate-{number}"]) for number in range(1, 6)]
    between = [later - earlier for earlier, later in itertools.pairwise(steps)]
    assert all(abs(step) >= 8 for step in between)
    assert len({step > 0 for step in between}) == 1


def test_both_ways_to_the_dark_theme_agree() -> None:
    """Chosen by the device or by the switch: the same colours."""
    assert BY_DEVICE == DARK


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.relative_to(WEB).as_posix())
def test_a_script_asks_nothing_twice_and_builds_nothing_from_text(script: Path) -> None:
    """No confirm boxes (undo instead), no markup made from data, no code made from text, no other address than our own."""
    text = script.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LONGEST_SCRIPT
    for word in (r"\bconfirm\(", r"\balert\(", r"\bprompt\(", r"\.innerHTML\b", r"\bouterHTML\b", "insertAdjacentHTML",
                 r"\beval\(", r"new Function\b", r"document\.write", r"https?://(?!www\.w3\.org/)"):  # fmt: skip
        assert re.search(word, text) is None, word


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.relative_to(WEB).as_posix())
def test_a_template_escapes_and_holds_no_script(template: Path) -> None:
    """What a person typed stays text: no script, no style and no handler in the markup, nothing let through unescaped."""
    text = template.read_text(encoding="utf-8")
    for word in (r"<script(?![^>]*\bsrc=)", r"<style\b", r"\sstyle=", r"\son[a-z]+=", r"\|\s*safe\b", 'type="number"',
                 r"https?://(?!www\.w3\.org/)", r"autoescape"):  # fmt: skip
        assert re.search(word, text) is None, word
