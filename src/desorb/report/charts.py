"""The charts as drawings: one panel of figures in, one SVG out. The same figures give the same bytes.

Contents: the palette (INK, SLATE ...); draw (a panel); fonts (the folder with the one typeface).
Status is shape: filled square, open circle, dashed ring. Lines differ by lightness and by dashes, and carry their names.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER
from desorb.report.words import listed, shortened

if TYPE_CHECKING:
    import altair

INK, RULE, PAPER = "#1B2733", "#C9C4BA", "#FBFAF7"
SLATE = ("#DFE8EC", "#A9C0CC", "#6D93A8", "#34677F", "#123C52")  # one hue in five lightnesses
UMBER, PLUM = "#7A4500", "#5B1A3A"  # next action; gates and refusals
PALETTE = (INK, RULE, PAPER, *SLATE, UMBER, PLUM)
FONT = "Source Sans Pro"
WIDTH, HEIGHT = 600, 230  # px of the plot
TEXT_HEIGHT = 13  # px between two names at the end of their lines
LINE_STYLES = tuple((colour, dash) for dash in ([1, 0], [6, 3], [2, 2]) for colour in (SLATE[4], SLATE[3], SLATE[2]))
MANY_VISITS = 14
LONGEST_NAME = 30  # signs of the name at the end of a line
DEFINED = re.compile(r'\bid="([^"]+)"')


def fonts() -> str:
    """The folder of the typeface, from its own package."""
    import importlib.resources

    return str(importlib.resources.files("font_source_sans_pro") / "files")


@cache
def _register_font() -> None:
    import vl_convert

    vl_convert.register_font_directory(fonts())


def draw(panel: dict[str, Any]) -> str:
    """One panel as SVG."""
    import vl_convert

    _register_font()
    return _steady(vl_convert.vegalite_to_svg(spec_of(panel)))


def spec_of(panel: dict[str, Any], *, check: bool = False) -> dict[str, Any]:
    """One panel as a chart specification, for paper and screen. `check` holds it against the schema, which takes its time."""
    import altair
    from altair.utils import schemapi

    with schemapi.debug_mode(check):
        layers = [*_band(panel), *_changes(panel), *_lines(panel), *_marks(panel), *_arrows(panel), *_names(panel)]
        chart = altair.layer(*layers).properties(width=WIDTH, height=HEIGHT)
        chart = chart.configure(font=FONT, aria=False, background="transparent").configure_view(stroke=None)
        spec: dict[str, Any] = chart.to_dict(validate=check)
    return spec


def _steady(svg: str) -> str:
    """Ids in the order in which they stand, so that a drawing does not depend on the drawings before it."""
    for number, name in enumerate(dict.fromkeys(DEFINED.findall(svg)), 1):
        svg = re.sub(rf'(id="|url\(#|href="#){re.escape(name)}(?=["\)])', rf"\g<1>part-{number}", svg)
    return svg if svg.endswith("\n") else f"{svg}\n"


def _chart(rows: list[dict[str, Any]]) -> altair.Chart:
    import altair

    return altair.Chart(altair.InlineData(values=rows))


def _x(panel: dict[str, Any], field: str = "day") -> Any:
    import altair

    days = sorted({mark["day"] for line in panel["lines"] for segment in line["segments"] for mark in segment})
    few = [each for each in days if len(days) <= MANY_VISITS]
    axis = altair.Axis(
        title=f"days since the first visit, {panel['first_day']}", grid=False, domainColor=INK, tickColor=INK,
        labelColor=INK, titleColor=INK, titleFontWeight="normal", titleFontSize=11, labelFontSize=11, format=".2~f",
        values=few or altair.Undefined,
    )  # fmt: skip
    span = panel["last_day"] or 1.0
    return altair.X(
        f"{field}:Q", axis=axis, scale=altair.Scale(domain=[-0.03 * span, 1.03 * span], nice=False, zero=False)
    )


def _y(panel: dict[str, Any], field: str = "excess") -> Any:
    import altair

    unit = "no unit" if panel["unit"] == "no unit" else f"in {panel['unit']}"
    axis = altair.Axis(
        title=["above the mean of the controls,", f"digits of this scale ({unit})"], grid=False, domainColor=INK,
        tickColor=INK, labelColor=INK, titleColor=INK, titleFontWeight="normal", titleFontSize=11, labelFontSize=11,
        tickCount=6,
    )  # fmt: skip
    return altair.Y(f"{field}:Q", axis=axis, scale=altair.Scale(domain=[panel["low"], panel["high"]], nice=False))


def _band(panel: dict[str, Any]) -> list[altair.Chart]:
    """The control band in paper grey, a paler one where the limits of two places differ, and the mean as a line."""
    rows = panel["band"]
    if not rows:
        return []
    chart = _chart(rows)
    layers = [
        chart.mark_area(color=RULE, opacity=0.45).encode(_x(panel), _y(panel, "low"), y2="limit:Q"),
        chart.mark_line(color=INK, strokeWidth=0.8, strokeDash=[4, 2]).encode(_x(panel), _y(panel, "limit")),
    ]
    if any(row["highest_limit"] != row["limit"] for row in rows):
        layers.append(
            chart.mark_area(color=RULE, opacity=0.22).encode(_x(panel), _y(panel, "limit"), y2="highest_limit:Q")
        )
    ends = [{"start": rows[0]["day"], "end": rows[-1]["day"], "excess": 0}]
    mean = _chart(ends).mark_rule(color=INK, strokeWidth=0.8).encode(_x(panel, "start"), _y(panel), x2="end:Q")
    middle = (rows[0]["day"] + rows[min(1, len(rows) - 1)]["day"]) / 2
    words = _chart([{"day": middle, "excess": rows[0]["limit"], "words": "limit"}])
    text = words.mark_text(color=INK, align="center", baseline="bottom", dy=-3, fontSize=11)
    return [*layers, mean, text.encode(_x(panel), _y(panel), text="words:N")]


def _changes(panel: dict[str, Any]) -> list[altair.Chart]:
    """A thin upright rule with a word where a drying unit was set, moved or taken away."""
    rows = [row | {"words": shortened(row["words"], 40)} for row in panel["changes"]]
    rows = [row for row in rows if row["day"] <= panel["last_day"] * 1.03]
    if not rows:
        return []
    free = int(any(each["side"] == "top" for line in panel["lines"] for each in line["clipped"]))
    for number, row in enumerate(rows):
        row |= {"excess": panel["high"], "shift": free + number % 3}
    chart = _chart(rows)
    layers = [chart.mark_rule(color=INK, strokeWidth=0.6, strokeDash=[1, 2]).encode(_x(panel))]
    for shift in sorted({row["shift"] for row in rows}):
        part = _chart([row for row in rows if row["shift"] == shift])
        text = part.mark_text(color=INK, align="left", baseline="top", dx=3, dy=1 + shift * TEXT_HEIGHT, fontSize=11)
        layers.append(text.encode(_x(panel), _y(panel), text="words:N"))
    return layers


def _aside(panel: dict[str, Any], number: int) -> float:
    """Lines with ranges stand a little beside each other, so that the ranges do not cover each other."""
    if panel["of"] == "spots":
        return 0.0
    return round((number - (len(panel["lines"]) - 1) / 2) * float(panel["last_day"]) * 0.006, 4)


def _lines(panel: dict[str, Any]) -> list[altair.Chart]:
    layers = []
    for number, line in enumerate(panel["lines"]):
        colour, dash = LINE_STYLES[number % len(LINE_STYLES)]
        aside = _aside(panel, number)
        rows = [
            {
                "day": mark["day"] + aside,
                "excess": mark["excess"],
                "least": mark["least"],
                "most": mark["most"],
                "segment": at,
            }
            for at, segment in enumerate(line["segments"])
            for mark in segment
        ]
        if not rows:
            continue
        path = _chart(rows).mark_line(color=colour, strokeDash=dash, strokeWidth=1.4)
        layers.append(path.encode(_x(panel), _y(panel), detail="segment:N"))
        links = [
            {"day": one[-1]["day"] + aside, "excess": one[-1]["excess"],
             "then": other[0]["day"] + aside, "to": other[0]["excess"]}
            for one, other in pairwise(line["segments"])
        ]  # fmt: skip
        if links:  # the same place, but not one trend: something changed between
            dots = _chart(links).mark_rule(color=colour, strokeWidth=0.7, strokeDash=[1, 5])
            layers.append(dots.encode(_x(panel), _y(panel), x2="then:Q", y2="to:Q"))
        if any(row["least"] != row["most"] for row in rows):
            bars = _chart(rows).mark_rule(color=colour, strokeWidth=1)
            layers.append(bars.encode(_x(panel), _y(panel, "least"), y2="most:Q"))
    return layers


def _marks(panel: dict[str, Any]) -> list[altair.Chart]:
    """The statuses by shape: filled square, open circle, dashed ring."""
    shapes: dict[str, dict[str, Any]] = {
        ABOVE: {"shape": "square", "color": SLATE[4], "filled": True, "size": 46},
        NO_HIGHER: {"shape": "circle", "stroke": SLATE[2], "filled": False, "size": 46, "strokeWidth": 1.6},
        CANNOT_SAY: {"shape": "circle", "stroke": INK, "filled": False, "size": 60, "strokeDash": [2, 2]},
    }
    layers = []
    for status, shape in shapes.items():
        rows = [
            {"day": mark["day"] + _aside(panel, number), "excess": mark["excess"]}
            for number, line in enumerate(panel["lines"])
            for segment in line["segments"]
            for mark in segment
            if mark["status"] == status
        ]
        if rows:
            layers.append(_chart(rows).mark_point(opacity=1, **shape).encode(_x(panel), _y(panel)))
    return layers


def _arrows(panel: dict[str, Any]) -> list[altair.Chart]:
    """Values at an end of their scale: an arrow at the edge, with the name of the place."""
    layers = []
    sides: tuple[tuple[Literal["top", "bottom"], str, str], ...] = (
        ("top", "triangle-up", "high"), ("bottom", "triangle-down", "low"),
    )  # fmt: skip
    for side, shape, edge in sides:
        names: dict[float, list[str]] = {}
        for line in panel["lines"]:
            for each in line["clipped"]:
                if each["side"] == side:
                    many = f" ({each['count']})" if each["count"] > 1 else ""
                    names.setdefault(each["day"], []).append(f"{line['name']}{many}")
        if not names:
            continue
        sign = "\u2265" if side == "top" else "\u2264"
        rows = [
            {"day": when, "excess": panel[edge], "words": f"{sign} {listed(found, 3)}"}
            for when, found in sorted(names.items())
        ]
        chart = _chart(rows)
        layers.append(
            chart.mark_point(shape=shape, filled=True, color=SLATE[4], size=70, opacity=1).encode(_x(panel), _y(panel))
        )
        text = chart.mark_text(color=INK, align="left", baseline=side, dx=8, fontSize=11)
        layers.append(text.encode(_x(panel), _y(panel), text="words:N"))
    return layers


def _names(panel: dict[str, Any]) -> list[altair.Chart]:
    """Each line carries its name at its end, moved apart where two would cover each other."""
    ends = []
    for line in panel["lines"]:
        marks = [mark for segment in line["segments"] for mark in segment]
        if marks:
            words = shortened(line["name"], LONGEST_NAME)
            ends.append({"day": marks[-1]["day"], "excess": marks[-1]["excess"], "words": words})
    if not ends:
        return []
    ends.sort(key=lambda row: (row["excess"], row["words"]))
    step = (panel["high"] - panel["low"]) * TEXT_HEIGHT / HEIGHT
    for row, place in zip(ends, apart([row["excess"] for row in ends], step, panel["low"], panel["high"]), strict=True):
        row |= {"at": place, "edge": panel["last_day"] * 1.03 or 1.0, "from": row["day"]}
    import altair

    chart = _chart(ends)
    leader = chart.mark_rule(color=INK, strokeWidth=0.4, opacity=0.7)
    text = chart.mark_text(color=INK, align="left", baseline="middle", dx=4, fontSize=11)
    return [
        leader.encode(_x(panel, "from"), _y(panel), x2="edge:Q", y2=altair.Y2("at:Q")),
        text.encode(_x(panel, "edge"), _y(panel, "at"), text="words:N"),
    ]


def apart(wanted: list[float], step: float, low: float, high: float) -> list[float]:
    """Places for sorted names, at least a step apart and as near as can be to where they are wanted."""
    blocks: list[list[float]] = []  # [sum of (wanted - position in the block), count]
    for value in wanted:
        blocks.append([value, 1.0])
        while len(blocks) > 1:
            (total, count), (above, more) = blocks[-2], blocks[-1]
            if above / more - total / count >= step * count:
                break
            blocks[-2:] = [[total + above - more * count * step, count + more]]
    places: list[float] = []
    for total, count in blocks:
        places += [total / count + step * position for position in range(int(count))]
    lift = max(0.0, low - places[0]) if places else 0.0
    lift -= max(0.0, places[-1] + lift - high) if places else 0.0
    return [place + lift for place in places]
