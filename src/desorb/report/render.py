"""From a case and its assessments to everything that is handed over: the paper and its twins.

Contents: Rendered; render.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from desorb.core.assess import Assessed
from desorb.core.case import Case
from desorb.core.shown import Shown
from desorb.report import charts, plan, plots
from desorb.report.beside import plots_of
from desorb.report.document import build_document
from desorb.report.letters import print_copy
from desorb.report.pdf import make_pdf
from desorb.report.twins import csv_twins, json_twin


@dataclass(frozen=True, slots=True)
class Rendered:
    pdf: bytes
    document: dict[str, Any]
    json: bytes
    csv: dict[str, bytes]


def render(
    case: Case,
    assessed: Assessed,
    *,
    number: int,
    issued_at: str,
    software: str,
    photos: Mapping[str, bytes],
    paper: str = "a4",
    note_of_known_on: str = "",
    methods: Sequence[Shown] = (),
    drying: Sequence[Shown] = (),
) -> Rendered:
    """Report `number` of a case. `photos`: the original bytes that have arrived, by SHA-256."""
    wanted = {entered.record.sha256 for entered in case.photos}
    document = build_document(
        case, assessed, number=number, issued_at=issued_at, software=software,
        photos_awaited=frozenset(wanted - set(photos)), note_of_known_on=note_of_known_on,
        methods=methods, drying=drying,
    )  # fmt: skip
    arrived = {name: content for name, content in photos.items() if name in wanted}
    pdf = make_pdf(document, arrived, draw_pictures(document), paper=paper)
    return Rendered(pdf, document, json_twin(document), csv_twins(document))


def draw_pictures(document: Mapping[str, Any]) -> dict[str, str]:
    """The plan and the charts as SVG, by key, from the dataset and with the signs that the fonts can draw."""
    higher = print_copy(document["higher"])
    pictures = {panel["key"]: charts.draw(panel) for panel in higher["charts"]}
    if higher["plan"]["drawn"]:
        pictures["plan"] = plan.draw(higher["plan"])
    for plot in map(print_copy, filter(plots.can_be_drawn, plots_of(document))):
        pictures[plot["key"]] = plots.draw_plot(plot)
    return pictures
