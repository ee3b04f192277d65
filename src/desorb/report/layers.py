"""The layers of one panel: control band, changes of drying units, lines, marks, arrows at the edge, names.

Contents: Sheet (a panel while it is drawn); layers_of; runs_of_visits (the band, cut where nobody came); apart (places for
names that would cover each other).
Status is shape: filled square, open circle, dashed ring. Lines differ by lightness and by dashes, and carry their names.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER
from desorb.report.palette import INK, RULE, SLATE
from desorb.report.words import listed, shortened

if TYPE_CHECKING:
    import altair

WIDTH, HEIGHT = 600, 230  # px of the plot
TEXT_HEIGHT = 13  # px between two names at the end of their lines
LINE_STYLES = tuple((colour, dash) for dash in ([1, 0], [6, 3], [2, 2]) for colour in (SLATE[4], SLATE[3], SLATE[2]))
MANY_VISITS = 14
MOST_DAYS_BETWEEN = 31  # setting of ours: the control band is not drawn through a longer time without a visit
LONGEST_NAME = 30  # signs of the name at the end of a line


@dataclass(slots=True)
class Sheet:
    """One panel while it is drawn: its tables by name, so that rows are not copied with every layer, and its two axes."""

    panel: dict[str, Any]
    tables: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    axes: dict[str, Any] = field(default_factory=dict)

    def chart(self, rows: list[dict[str, Any]]) -> altair.Chart:
        import altair

        name = f"table-{len(self.tables)}"
        self.tables[name] = rows
        return altair.Chart(altair.NamedData(name))

    def x(self, column: str = "day") -> Any:
        import altair

        if "x" not in self.axes:
            lines = self.panel["lines"]
            days = sorted({mark["day"] for line in lines for segment in line["segments"] for mark in segment})
            few = [each for each in days if len(days) <= MANY_VISITS]
            title = f"days since the first visit, {self.panel['first_day']}"
            span = self.panel["last_day"] or 1.0
            self.axes["x"] = {
                "axis": altair.Axis(title=title, format=".2~f", values=few or altair.Undefined),
                "scale": altair.Scale(domain=[-0.03 * span, 1.03 * span], nice=False, zero=False),
            }
        return altair.X(f"{column}:Q", **self.axes["x"])

    def y(self, column: str = "excess") -> Any:
        import altair

        if "y" not in self.axes:
            unit = "no unit" if self.panel["unit"] == "no unit" else f"in {self.panel['unit']}"
            title = ["above the mean of the controls,", f"digits of this scale ({unit})"]
            self.axes["y"] = {
                "axis": altair.Axis(title=title, tickCount=6),
                "scale": altair.Scale(domain=[self.panel["low"], self.panel["high"]], nice=False),
            }
        return altair.Y(f"{column}:Q", **self.axes["y"])


def layers_of(sheet: Sheet) -> list[altair.Chart]:
    """All layers, the lowest first."""
    return [*_band(sheet), *_changes(sheet), *_lines(sheet), *_marks(sheet), *_arrows(sheet), *_names(sheet)]


def _channel(name: str, column: str) -> Any:
    """A channel as an object: working it out from a word takes longer than the drawing."""
    import altair

    return getattr(altair, name)(column)


def _band(sheet: Sheet) -> list[altair.Chart]:
    """The control band in paper grey, a paler one where the limits of two places differ, and the mean as a line."""
    panel = sheet.panel
    if not panel["band"]:
        return []
    runs = runs_of_visits(panel["band"], 0.01 * float(panel["last_day"] or 1.0))
    rows = [row | {"run": number} for number, run in enumerate(runs) for row in run]
    chart = sheet.chart(rows)
    run = _channel("Detail", "run:N")
    layers = [
        chart.mark_area(color=RULE, opacity=0.45).encode(sheet.x(), sheet.y("low"), run, y2=_channel("Y2", "limit:Q")),
        chart.mark_line(color=INK, strokeWidth=0.8, strokeDash=[4, 2]).encode(sheet.x(), sheet.y("limit"), run),
    ]
    if any(row["highest_limit"] != row["limit"] for row in rows):
        layers.append(
            chart.mark_area(color=RULE, opacity=0.22).encode(
                sheet.x(), sheet.y("limit"), run, y2=_channel("Y2", "highest_limit:Q")
            )
        )
    ends = [{"start": each[0]["day"], "end": each[-1]["day"], "excess": 0} for each in runs]
    mean = (
        sheet.chart(ends)
        .mark_rule(color=INK, strokeWidth=0.8)
        .encode(sheet.x("start"), sheet.y(), x2=_channel("X2", "end:Q"))
    )
    middle = (rows[0]["day"] + rows[1]["day"]) / 2
    words = sheet.chart([{"day": middle, "excess": rows[0]["limit"], "words": "limit"}])
    text = words.mark_text(color=INK, align="center", baseline="bottom", dy=-3, fontSize=11)
    return [*layers, mean, text.encode(sheet.x(), sheet.y(), text=_channel("Text", "words:N"))]


def runs_of_visits(band: list[dict[str, Any]], aside: float) -> list[list[dict[str, Any]]]:
    """The band in runs of visits that are near each other; a visit alone reaches `aside` days to both sides, to be seen."""
    runs: list[list[dict[str, Any]]] = []
    for row in band:
        if runs and row["day"] - runs[-1][-1]["day"] <= MOST_DAYS_BETWEEN:
            runs[-1].append(row)
        else:
            runs.append([row])
    return [
        run if len(run) > 1 else [run[0] | {"day": run[0]["day"] - aside}, run[0] | {"day": run[0]["day"] + aside}]
        for run in runs
    ]


def _changes(sheet: Sheet) -> list[altair.Chart]:
    """A thin upright rule with a word where a drying unit was set, moved or taken away."""
    panel = sheet.panel
    rows = [row | {"words": shortened(row["words"], 40)} for row in panel["changes"]]
    rows = [row for row in rows if row["day"] <= panel["last_day"] * 1.03]
    if not rows:
        return []
    free = int(any(each["side"] == "top" for line in panel["lines"] for each in line["clipped"]))
    for number, row in enumerate(rows):
        row |= {"excess": panel["high"], "shift": free + number % 3}
    chart = sheet.chart(rows)
    layers = [chart.mark_rule(color=INK, strokeWidth=0.6, strokeDash=[1, 2]).encode(sheet.x())]
    for shift in sorted({row["shift"] for row in rows}):
        part = sheet.chart([row for row in rows if row["shift"] == shift])
        text = part.mark_text(color=INK, align="left", baseline="top", dx=3, dy=1 + shift * TEXT_HEIGHT, fontSize=11)
        layers.append(text.encode(sheet.x(), sheet.y(), text=_channel("Text", "words:N")))
    return layers


def _aside(panel: dict[str, Any], number: int) -> float:
    """Lines with ranges stand a little beside each other, so that the ranges do not cover each other."""
    if panel["of"] == "spots":
        return 0.0
    return round((number - (len(panel["lines"]) - 1) / 2) * float(panel["last_day"]) * 0.006, 4)


def _lines(sheet: Sheet) -> list[altair.Chart]:
    panel = sheet.panel
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
        path = sheet.chart(rows).mark_line(color=colour, strokeDash=dash, strokeWidth=1.4)
        layers.append(path.encode(sheet.x(), sheet.y(), detail=_channel("Detail", "segment:N")))
        links = [
            {"day": one[-1]["day"] + aside, "excess": one[-1]["excess"],
             "then": other[0]["day"] + aside, "to": other[0]["excess"]}
            for one, other in pairwise(line["segments"])
        ]  # fmt: skip
        if links:  # the same place, but not one trend: something changed between
            dots = sheet.chart(links).mark_rule(color=colour, strokeWidth=0.7, strokeDash=[1, 5])
            layers.append(dots.encode(sheet.x(), sheet.y(), x2=_channel("X2", "then:Q"), y2=_channel("Y2", "to:Q")))
        if any(row["least"] != row["most"] for row in rows):
            bars = sheet.chart(rows).mark_rule(color=colour, strokeWidth=1)
            layers.append(bars.encode(sheet.x(), sheet.y("least"), y2=_channel("Y2", "most:Q")))
    return layers


def _marks(sheet: Sheet) -> list[altair.Chart]:
    """The statuses by shape: filled square, open circle, dashed ring."""
    panel = sheet.panel
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
            layers.append(sheet.chart(rows).mark_point(opacity=1, **shape).encode(sheet.x(), sheet.y()))
    return layers


def _arrows(sheet: Sheet) -> list[altair.Chart]:
    """Values at an end of their scale: an arrow at the edge, with the name of the place."""
    panel = sheet.panel
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
        chart = sheet.chart(rows)
        layers.append(
            chart.mark_point(shape=shape, filled=True, color=SLATE[4], size=70, opacity=1).encode(sheet.x(), sheet.y())
        )
        text = chart.mark_text(color=INK, align="left", baseline=side, dx=8, fontSize=11)
        layers.append(text.encode(sheet.x(), sheet.y(), text=_channel("Text", "words:N")))
    return layers


def _names(sheet: Sheet) -> list[altair.Chart]:
    """Each line carries its name at its end, moved apart where two would cover each other."""
    panel = sheet.panel
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
    chart = sheet.chart(ends)
    leader = chart.mark_rule(color=INK, strokeWidth=0.4, opacity=0.7)
    text = chart.mark_text(color=INK, align="left", baseline="middle", dx=4, fontSize=11)
    return [
        leader.encode(sheet.x("from"), sheet.y(), x2=_channel("X2", "edge:Q"), y2=_channel("Y2", "at:Q")),
        text.encode(sheet.x("edge"), sheet.y("at"), text=_channel("Text", "words:N")),
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
