"""What is worked out on site from the command line.

Figures: TASKS 20, 36, 37, 44, 49 and 50 of the project, forms of JOB F14 to F18.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result
from typer.testing import CliRunner

from desorb.cli.main import app
from desorb.errors import InputError, Refused

Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    def call(line: str) -> Result:
        return CliRunner().invoke(app, ["--home", str(tmp_path / "home"), *line.split()])

    return call


UNIT = (
    "unit-check --inlet 22/60 --outlet 33/28 --flow 350 --flow-at inlet --probe-temperature 0.3 --probe-humidity 2"
    " --flow-uncertainty 10"
)


def test_a_unit_by_its_air_and_by_its_tank(run: Run) -> None:
    """11.1 L/day while it runs; 12 h of 24 and 5.4 L agree; 24 h and 5.4 L do not, with the band of the probes (TASKS 20)."""
    agrees = run(f"{UNIT} --hours 12 --litres 5.4").output
    assert "11.1 L/day while it runs" in agrees
    assert "consistent" in agrees
    apart = run(f"{UNIT} --hours 24 --litres 5.4").output
    assert "mismatch" in apart
    assert "leave" in apart, "what the sensors leave open stands beside it"
    alone = run(UNIT).output
    assert "--hours" in alone


def test_a_share_of_own_air_comes_with_its_doubt(run: Run) -> None:
    """Room 20, inlet 24, outlet 36 degC: 0.25 of the inlet air is the unit's own (TASKS 50)."""
    said = run(UNIT.replace("22/60", "24/50").replace("33/28", "36/25") + " --room 20/60").output
    assert "0.25 of the inlet air" in said


def test_outside_air_is_compared_and_opening_up_is_not_advised_before_the_questions(run: Run) -> None:
    """Inside 21/46, outside 8/85: drier, and what it costs to warm it (TASKS 49); no advice to open (TASKS 44)."""
    line = "outside-air --inside 21/46 --outside {} --volume 50 --air-changes 2 --coldest-surface 15"
    said = run(line.format("8/85")).output
    assert "outside air is drier by 1.46 g/kg" in said
    assert "442 W" in said
    assert "cannot say" in said
    assert "Was the water foul?" in said
    assert "the wetter" in run(line.format("20/80")).output


def test_power_says_what_exceeds_and_never_what_is_fit(run: Run) -> None:
    """3 x 950 W and 6 x 250 W: 4,350 W, 18.9 A, 104.4 kWh; above 13 A; no price without the user's tariff (TASKS 37)."""
    line = "power --unit dehumidifier=950x3 --unit mover=250x6 --voltage 230 --circuit outlet"
    said = run(f"{line} --rating 13 --rating-source plug").output
    assert "4350 W, 18.9 A" in said
    assert "104.4 kWh" in said
    assert "exceeds 13 A" in said
    assert "electrician decides" in said
    below = run(f"{line} --rating 32 --rating-source breaker").output
    assert "exceeds" not in below
    assert "have the circuit checked" in below
    assert isinstance(run(f"{line} --price 0.3").exception, Refused)


def test_the_first_day_rule_is_labelled_and_stands_beside_another(run: Run) -> None:
    """Rated pints are no litres a day here, and two rules disagree (TASKS 36)."""
    said = run("first-day --volume 41 --wet-area 17 --whole-area 75").output
    assert "starting point" in said
    assert "not litres a day here" in said
    assert "the rules disagree" in said
    assert "23 % of the surface" in said


def test_a_build_up_is_checked_by_diffusion_alone_and_says_so(run: Run) -> None:
    """Inner insulation before brick: one plane between them; what the check cannot show stands in its help."""
    said = run(
        "build-up --layer plaster,15,0.5,10 --layer insulation,80,0.04,1 --layer brick,110,0.8,10 --inside 20/60 --outside 0/85"
    ).output
    assert "Condensation between insulation and brick" in said
    assert "by diffusion alone" in said


def test_evaporation_shows_every_form_and_that_they_disagree(run: Run) -> None:
    """Water of 18 degC under air of 20/50 at 1 m/s: four forms, the span of them, and that readings decide."""
    said = run("evaporation --water 18 --air 20/50 --speed 1").output
    assert said.count("kg/m2h: ") == 5
    assert "0.13 to 0.25 kg/m2h" in said
    assert "factor of about two" in said


@pytest.mark.parametrize(
    "line",
    [UNIT.replace("22/60", "22,60"), "power --unit mover --voltage 230 --circuit outlet",
     "build-up --layer plaster,15,0.5 --inside 20/60 --outside 0/85"],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_with_its_form(run: Run, line: str) -> None:
    """A comma for a stroke, a unit without watts, a layer without its last part: each names the form that is wanted."""
    problem = run(line).exception
    assert isinstance(problem, InputError)
    assert problem.wanted
    assert problem.next_step
