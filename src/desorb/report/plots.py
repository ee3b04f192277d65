"""The small charts of methods and drying: one plot in, one SVG out, in the look of the other charts.

Contents: draw_plot; can_be_drawn; undrawn (how many points are no plain number, such as a value at the end of a scale).
What is not drawn stands in the table of values below the chart.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from desorb.report.charts import register_font, steady
from desorb.report.layers import LINE_STYLES, MANY_VISITS
from desorb.report.palette import FONT, INK

WIDTH, HEIGHT = 600, 200  # px of the plot
LINES_OF_LEGEND = 300  # px of a label


def draw_plot(plot: Mapping[str, Any]) -> str:
    """One plot as SVG. Lines differ by lightness, dashes and shape, and a legend names them.
    Lines of one label are pieces of one course: they look alike and are not joined."""
    import altair
    import vl_convert

    register_font()
    labels = list(dict.fromkeys(line["label"] for line in plot["lines"]))
    rows = [
        {"line": line["label"], "piece": piece, "x": point[0], "y": point[1], "order": order}
        for piece, line in enumerate(plot["lines"])
        for order, point in enumerate(_points(line))
    ]
    places = sorted({row["x"] for row in rows})
    few = places if len(places) <= MANY_VISITS else altair.Undefined
    styles = [LINE_STYLES[number % len(LINE_STYLES)] for number in range(len(labels))]
    shapes = [("circle", "square", "triangle", "diamond")[number % 4] for number in range(len(labels))]
    legend = altair.Legend(title=None, orient="bottom", columns=3, labelLimit=LINES_OF_LEGEND, symbolType="stroke")
    base = altair.Chart(altair.InlineData(values=rows)).encode(
        x=altair.X(
            "x:Q",
            title=plot["x"],
            scale=altair.Scale(zero=False, nice=True),
            axis=altair.Axis(format=".2~f", values=few),
        ),
        y=altair.Y("y:Q", title=plot["y"], scale=altair.Scale(zero=False, nice=True), axis=altair.Axis(tickCount=6)),
        color=altair.Color(
            "line:N", scale=altair.Scale(domain=labels, range=[colour for colour, _ in styles]), legend=legend
        ),
    )
    dashes = altair.StrokeDash(
        "line:N", scale=altair.Scale(domain=labels, range=[dash for _, dash in styles]), legend=legend
    )
    marks = altair.Shape("line:N", scale=altair.Scale(domain=labels, range=shapes), legend=None)
    layers = [base.mark_line(strokeWidth=1.4).encode(
                  strokeDash=dashes, order=altair.Order("order:Q"), detail="piece:N"
              ),
              base.mark_point(filled=True, size=34, opacity=1).encode(shape=marks)]  # fmt: skip
    text = {"labelColor": INK, "titleColor": INK, "titleFontWeight": "normal", "titleFontSize": 11, "labelFontSize": 11}
    config = {
        "font": FONT, "aria": False, "background": "transparent", "view": {"stroke": None},
        "axis": {"grid": False, "domainColor": INK, "tickColor": INK, **text}, "legend": text,
    }  # fmt: skip
    chart = altair.LayerChart(layer=layers, width=WIDTH, height=HEIGHT, config=config)
    return steady(vl_convert.vegalite_to_svg(chart.to_dict(validate=False)))


def can_be_drawn(plot: Mapping[str, Any]) -> bool:
    """Two places on the axis at least: one point is no chart."""
    return len({x for line in plot["lines"] for x, _ in _points(line)}) > 1


def undrawn(plot: Mapping[str, Any]) -> int:
    return sum(len(line["points"]) - len(_points(line)) for line in plot["lines"])


def _points(line: Mapping[str, Any]) -> list[tuple[float, float]]:
    numbers = [(_number(x), _number(y)) for x, y in line["points"]]
    return [(x, y) for x, y in numbers if x is not None and y is not None]


def _number(text: str) -> float | None:
    try:
        value = float(text.replace("\u2212", "-"))
    except ValueError:
        return None
    return value if math.isfinite(value) else None
