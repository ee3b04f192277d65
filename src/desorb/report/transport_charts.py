"""A simulated run as charts: profile, water over time, drying rate. Each comes with the text that stands for it.

Contents: Chart; profile_chart; mass_chart; flux_chart; svg. The specification is the same for screen and paper.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from desorb.report.palette import FONT, INK, RULE, SLATE

if TYPE_CHECKING:
    from desorb.core.transport import Run

WIDTH, HEIGHT = 600, 230  # px of the plot
DAY = 86400.0
MOST_LINES = 5  # one lightness and one dash each
DASHES = ([1, 0], [6, 3], [2, 2], [8, 2, 2, 2], [4, 4])


@dataclass(frozen=True, slots=True)
class Chart:
    """A specification and its text alternative."""

    spec: dict[str, Any]
    alt: str


def profile_chart(run: Run, outputs: list[int] | None = None) -> Chart:
    """Relative humidity over depth at up to five outputs (without a choice: spread over the run)."""
    import altair

    chosen = (
        outputs if outputs is not None else np.unique(np.linspace(0, len(run.times) - 1, MOST_LINES).round()).tolist()
    )
    chosen = [int(each) for each in chosen][:MOST_LINES]
    names = [f"{run.times[each] / DAY:.4g} d" for each in chosen]
    rows = [
        {"depth": 1e3 * float(depth), "humidity": 100.0 * float(humidity), "when": name, "order": place}
        for each, name in zip(chosen, names, strict=True)
        for place, (depth, humidity) in enumerate(zip(run.x, run.humidity[each], strict=True))
    ]
    line = (
        altair.Chart(altair.NamedData("rows"))
        .mark_line(strokeWidth=1.6)
        .encode(
            x=altair.X("depth:Q", title="depth below side 0, mm", scale=altair.Scale(nice=False)),
            y=altair.Y("humidity:Q", title="relative humidity in the pores, %", scale=altair.Scale(zero=False)),
            order="order:Q",
            color=_shade("when", names),
            strokeDash=altair.StrokeDash(
                "when:N", scale=altair.Scale(domain=names, range=list(DASHES[: len(names)])), legend=None
            ),
        )
    )
    edges = np.cumsum([layer.thickness for layer in run.assembly.layers])[:-1]
    marks = altair.Chart(altair.NamedData("edges")).mark_rule(color=RULE).encode(x="edge:Q")
    parts = [marks, line] if edges.size else [line]
    tables = {"rows": rows} | ({"edges": [{"edge": 1e3 * float(edge)} for edge in edges]} if edges.size else {})
    first, last = run.humidity[chosen[0]], run.humidity[chosen[-1]]
    alt = (
        f"Profile of relative humidity through {1e3 * run.assembly.thickness:.0f} mm. After {names[0]}: {_span(100 * first)} %; "
        f"after {names[-1]}: {_span(100 * last)} %, at side 0 {100 * last[0]:.0f} %, at side 1 {100 * last[-1]:.0f} %."
    )
    return Chart(_whole(parts, tables), alt)


def mass_chart(run: Run) -> Chart:
    """Water in the assembly over time."""
    rows = [{"day": t / DAY, "value": float(m)} for t, m in zip(run.times.tolist(), run.mass, strict=True)]
    alt = (
        f"Water in the assembly over {run.times[-1] / DAY:.4g} days: {run.mass[0]:.3g} kg/m2 at the first output, "
        f"{run.mass[-1]:.3g} kg/m2 at the last, lowest {run.mass.min():.3g}, highest {run.mass.max():.3g}."
    )
    return Chart(_whole([_line("water in the assembly, kg/m²")], {"rows": rows}), alt)


def flux_chart(run: Run, side: int = 0) -> Chart:
    """Water that leaves through one side, between outputs, in g/(m2 h); below zero it comes in."""
    rate = -np.diff(run.inflow[:, side]) / np.diff(run.times) * 3.6e6
    middle = 0.5 * (run.times[1:] + run.times[:-1])
    rows = [{"day": float(t) / DAY, "value": float(g)} for t, g in zip(middle, rate, strict=True)]
    alt = (
        f"Water leaving through side {side}: {rate[0]:.3g} g per m2 and hour at first, {rate[-1]:.3g} at the end "
        f"of {run.times[-1] / DAY:.4g} days; most {rate.max():.3g}."
    )
    return Chart(_whole([_line(f"leaving through side {side}, g/(m² h)")], {"rows": rows}), alt)


def svg(chart: Chart) -> str:
    """The drawing, with the typeface of the house; the same figures give the same drawing."""
    import vl_convert

    from desorb.report.charts import register_font, steady

    register_font()
    return steady(vl_convert.vegalite_to_svg(chart.spec))


def _line(title: str) -> Any:
    import altair

    return (
        altair.Chart(altair.NamedData("rows"))
        .mark_line(strokeWidth=1.6, color=SLATE[4])
        .encode(
            x=altair.X("day:Q", title="days since the start", scale=altair.Scale(nice=False)),
            y=altair.Y("value:Q", title=title, scale=altair.Scale(zero=False)),
        )
    )


def _shade(column: str, names: list[str]) -> Any:
    import altair

    shades = [SLATE[2], SLATE[3], SLATE[4], INK, INK][: len(names)]
    return altair.Color(f"{column}:N", sort=names, title="after", scale=altair.Scale(domain=names, range=shades))


def _span(values: Any) -> str:
    return f"{values.min():.0f} to {values.max():.0f}"


def _whole(parts: list[Any], tables: dict[str, list[dict[str, Any]]]) -> dict[str, Any]:
    import altair

    text = {"labelColor": INK, "titleColor": INK, "titleFontWeight": "normal", "titleFontSize": 11, "labelFontSize": 11}
    axes = {"grid": False, "domainColor": INK, "tickColor": INK, **text}
    config = {
        "font": FONT,
        "aria": False,
        "background": "transparent",
        "view": {"stroke": None},
        "axis": axes,
        "legend": text,
    }
    chart = altair.LayerChart(layer=parts, width=WIDTH, height=HEIGHT, config=config)
    spec: dict[str, Any] = chart.to_dict(validate=False)
    return spec | {"datasets": tables}
