"""The charts as drawings: one panel of figures in, one SVG out. The same figures give the same bytes.

Contents: draw (a panel as SVG); spec_of (the same as a specification, for the screen too); register_font; steady (ids in order).
"""

from __future__ import annotations

import re
from functools import cache
from typing import Any

from desorb.report.layers import HEIGHT, WIDTH, Sheet, layers_of
from desorb.report.palette import FONT, INK, fonts

DEFINED = re.compile(r'\bid="([^"]+)"')


@cache
def register_font() -> None:
    import vl_convert

    vl_convert.register_font_directory(fonts())


def draw(panel: dict[str, Any]) -> str:
    """One panel as SVG."""
    import vl_convert

    register_font()
    return steady(vl_convert.vegalite_to_svg(spec_of(panel)))


def spec_of(panel: dict[str, Any], *, check: bool = False) -> dict[str, Any]:
    """One panel as a chart specification, for paper and screen. `check` holds it against the schema, which takes its time."""
    import altair
    from altair.utils import schemapi

    with schemapi.debug_mode(check):
        sheet = Sheet(panel)
        layers = layers_of(sheet)
        text = {
            "labelColor": INK,
            "titleColor": INK,
            "titleFontWeight": "normal",
            "titleFontSize": 11,
            "labelFontSize": 11,
        }
        axes = {"grid": False, "domainColor": INK, "tickColor": INK, **text}
        config = {"font": FONT, "aria": False, "background": "transparent", "view": {"stroke": None}, "axis": axes}
        chart = altair.LayerChart(layer=layers, width=WIDTH, height=HEIGHT, config=config)
        spec: dict[str, Any] = chart.to_dict(validate=check)
    return spec | {"datasets": sheet.tables}


def steady(svg: str) -> str:
    """Ids in the order in which they stand, so that a drawing does not depend on the drawings before it."""
    for number, name in enumerate(dict.fromkeys(DEFINED.findall(svg)), 1):
        svg = re.sub(rf'(id="|url\(#|href="#){re.escape(name)}(?=["\)])', rf"\g<1>part-{number}", svg)
    return svg if svg.endswith("\n") else f"{svg}\n"
