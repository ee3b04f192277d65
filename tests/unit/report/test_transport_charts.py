"""Charts of a simulated run: valid, in the house's colours, with a text that says what they show."""

from __future__ import annotations

import re

import altair
import pytest
from transport_worlds import DAY, brick, concrete, room

from desorb.core.transport import Assembly, Film, Layer, Run, simulate
from desorb.report import palette
from desorb.report.transport_charts import Chart, flux_chart, mass_chart, profile_chart, svg


@pytest.fixture(scope="module")
def run() -> Run:
    assembly = Assembly((Layer(brick(), 0.05), Film(2.0), Layer(concrete(), 0.1)))
    return simulate(assembly, room(20), start_humidity=(0.9, 0.97), outputs=[DAY * day for day in range(21)])


@pytest.mark.parametrize("make", [profile_chart, mass_chart, flux_chart])
def test_a_chart_is_drawn_in_the_colours_of_the_house(make: object, run: Run) -> None:
    """Put a run into a report: no colour that is not ours, the same bytes each time, valid by its schema."""
    chart: Chart = make(run)  # type: ignore[operator]
    drawing = svg(chart)
    assert svg(chart) == drawing
    allowed = {colour.lower() for colour in palette.PALETTE}
    assert {found.lower() for found in re.findall(r"#[0-9a-fA-F]{6}\b", drawing)} <= allowed
    altair.LayerChart.from_dict(chart.spec, validate=True)


def test_the_texts_say_what_a_person_should_see(run: Run) -> None:
    assert "through 150 mm" in profile_chart(run).alt
    assert "After 0 d: 90 to 97 %" in profile_chart(run).alt
    assert f"{run.mass[-1]:.3g} kg/m2 at the last" in mass_chart(run).alt
    assert "leaving through side 0" in flux_chart(run).alt


def test_the_profile_marks_interfaces_and_chosen_moments(run: Run) -> None:
    chart = profile_chart(run, [0, 20])
    assert chart.spec["datasets"]["edges"] == [{"edge": pytest.approx(50.0)}]
    assert {row["when"] for row in chart.spec["datasets"]["rows"]} == {"0 d", "20 d"}


def test_the_rate_adds_up_to_the_water_that_left(run: Run) -> None:
    rows = flux_chart(run).spec["datasets"]["rows"]
    assert sum(row["value"] for row in rows) * 24e-3 == pytest.approx(-run.inflow[-1, 0], rel=1e-9)
