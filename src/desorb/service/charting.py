"""The charts of a case for the screen: the same specification as on paper, with a table of the figures beside it.

Contents: Chart; charts_of; chart_svg; with_fallback; bundle (the script that draws them, made once from the installed
wheel); face (a font file of the report, for the screen).
"""

from __future__ import annotations

import os
import secrets
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from desorb.errors import NotFound
from desorb.report import charts
from desorb.report.palette import FONT, fonts
from desorb.report.words import shown

SNIPPET = "window.vegaEmbed = vegaEmbed;"
FACES = ("Regular", "It", "Semibold")
_making = threading.Lock()


@dataclass(frozen=True, slots=True)
class Chart:
    """One panel: `spec` is what paper and screen draw, `rows` its figures as a table."""

    key: str
    title: str
    scale_words: str
    of: str
    alt: str
    spec: dict[str, Any]
    columns: list[str]
    rows: list[list[str]]


def charts_of(panels: list[dict[str, Any]]) -> list[Chart]:
    return [_chart(panel) for panel in panels]


def _chart(panel: dict[str, Any]) -> Chart:
    days = sorted({mark["day"] for line in panel["lines"] for segment in line["segments"] for mark in segment}
                  | {end["day"] for line in panel["lines"] for end in line["clipped"]})  # fmt: skip
    return Chart(
        panel["key"], panel["title"], panel["scale_words"], panel["of"], panel["alt"], charts.spec_of(panel),
        [f"day {day:g}" for day in days], [[line["name"], *(_cell(line, day) for day in days)] for line in panel["lines"]],
    )  # fmt: skip


def _cell(line: dict[str, Any], day: float) -> str:
    """What is drawn for one place on one day, in words."""
    said = [f"at the {end['side']} of the scale" for end in line["clipped"] if end["day"] == day]
    for mark in (mark for segment in line["segments"] for mark in segment if mark["day"] == day):
        many = (
            f" ({shown(mark['least'], 1)} to {shown(mark['most'], 1)}, {mark['count']} spots)"
            if mark["count"] > 1
            else ""
        )
        said.append(f"{shown(mark['excess'], 1)}{many}, {mark['status']}")
    said += [each["words"] for each in line["breaks"] if each["day"] == day]
    return "; ".join(said) or "not read"


def chart_svg(panels: list[dict[str, Any]], key: str) -> str:
    """The drawing of one panel, as it stands in the report."""
    panel = next((each for each in panels if each["key"] == key), None)
    if panel is None:
        raise NotFound(
            "there is no such chart", got=key, wanted=", ".join(each["key"] for each in panels) or "none yet"
        )
    return with_fallback(charts.draw(panel))


def with_fallback(svg: str) -> str:
    """A drawing for a screen, which may not have the typeface of the report."""
    return svg.replace(f'font-family="{FONT}"', f'font-family="{FONT}, sans-serif"')


def bundle(home: Path) -> bytes:
    """The script that draws the charts, from the installed wheel, kept in the store's folder under its version."""
    from importlib import metadata

    import vl_convert

    wheel = metadata.version("vl-convert-python")
    place = home / "made" / f"charts-{wheel}-{vl_convert.get_vega_version()}-{vl_convert.get_vega_embed_version()}.js"
    with _making:
        if not place.exists():
            script: str = vl_convert.javascript_bundle(SNIPPET)
            place.parent.mkdir(parents=True, exist_ok=True)
            temporary = place.with_name(f"{place.name}.{secrets.token_hex(4)}")
            temporary.write_bytes(script.encode())
            os.replace(temporary, place)
    return place.read_bytes()


def face(name: str) -> bytes:
    """One face of the typeface of the report, from its own wheel, so that paper and screen are set alike."""
    if name not in FACES:
        raise NotFound("there is no such face", got=name, wanted=", ".join(FACES))
    return (Path(fonts()) / f"SourceSansPro-{name}.otf").read_bytes()
