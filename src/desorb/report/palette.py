"""The colours of the house and its one typeface.

Contents: INK, RULE, PAPER, SLATE (one hue in five lightnesses), UMBER, PLUM, PALETTE; FONT and fonts (its folder).
Text reaches a contrast of 7:1 and parts of 3:1 on white and on paper: tests/unit/report/test_charts.py computes both.
"""

from __future__ import annotations

INK, RULE, PAPER = "#1B2733", "#C9C4BA", "#FBFAF7"
SLATE = ("#DFE8EC", "#A9C0CC", "#6D93A8", "#34677F", "#123C52")  # one hue in five lightnesses
UMBER, PLUM = "#7A4500", "#5B1A3A"  # next action; gates and refusals
PALETTE = (INK, RULE, PAPER, *SLATE, UMBER, PLUM)
FONT = "Source Sans Pro"


def fonts() -> str:
    """The folder of the typeface, from its own package."""
    import importlib.resources

    return str(importlib.resources.files("font_source_sans_pro") / "files")
