"""The command line says what went wrong in words, and exits with the documented code."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from desorb.cli.main import app
from desorb.errors import DesorbError, InputError
from desorb.service.guide import guide

Run = Callable[..., Result]
DOCS = Path(__file__).parents[3] / "docs"


@pytest.fixture
def run(tmp_path: Path) -> Run:
    runner = CliRunner()

    def call(*words: str) -> Result:
        return runner.invoke(app, ["--home", str(tmp_path / "home"), *words])

    return call


@pytest.fixture
def first_case(run: Run, tmp_path: Path) -> Path:
    """The example of the guide, cut out of the guide itself."""
    blocks = re.findall(r"```(?:toml|csv)\n(.*?)```", guide(), re.DOTALL)
    for name, text in zip(("instruments.toml", "sheet.toml", "readings.csv"), blocks, strict=True):
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert run("instrument", str(tmp_path / "instruments.toml")).exit_code == 0
    assert run("check", "m1", "60", "--at", "2026-03-02T08:00+00:00").exit_code == 0
    assert run("new", "first", "--site", "an invented place", "--time-zone", "Europe/London").exit_code == 0
    assert run("take", "first", str(tmp_path / "sheet.toml")).exit_code == 0
    assert run("take", "first", str(tmp_path / "readings.csv")).exit_code == 0
    return tmp_path


def test_the_example_of_the_guide_works_as_printed(run: Run, first_case: Path) -> None:
    objects = json.loads(run("assess", "first", "--json").stdout)
    assert [(each["kind"], each["id"], each["status"]) for each in objects] == [
        ("spot", "k1", "above control"),
        ("element", "kitchen/floor", "above control"),
    ]
    wanted = {"status", "value", "limit", "rule", "controls_used", "controls_refused", "reasons", "next_test", "gates"}
    assert all(wanted <= set(each) for each in objects)
    assert objects[0]["value"] == 54
    assert len(objects[0]["controls_used"]) == 3


def test_taking_a_file_twice_adds_nothing(run: Run, first_case: Path) -> None:
    before = json.loads(run("log", "first", "--json").stdout)["entries"]
    again = run("take", "first", str(first_case / "readings.csv"))
    assert again.exit_code == 0
    assert "0 kept, 4 known already" in again.stdout
    assert json.loads(run("log", "first", "--json").stdout)["entries"] == before


def test_a_bad_row_is_named_and_the_good_ones_are_kept(run: Run, first_case: Path) -> None:
    table = first_case / "more.csv"
    table.write_text(
        "visit;taken_at;spot;zone;element;instrument;scale;value;covering\n"
        "v2;2026-03-03T10:00;k2;kitchen;floor;m1;comparative;4x;bare\n"
        "v2;2026-03-03T10:02;k3;kitchen;floor;m1;comparative;22;bare\n",
        encoding="utf-8",
    )
    done = run("take", "first", str(table))
    assert done.exit_code == 7
    assert "row 2, column value: got '4x'" in done.stdout
    assert "1 kept" in done.stdout


def test_the_guide_in_the_manual_is_the_guide_of_the_command() -> None:
    assert (DOCS / "manual" / "tables.md").read_text(encoding="utf-8") == guide() + "\n"


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("assess", "nowhere"), 2),
        (("new", "x", "--site", "s", "--time-zone", "Mars/Base"), 2),
        (("instrument", "missing.toml"), 2),
        (("air", "--temperature", "20"), 2),
        (("air", "--temperature", "77", "--relative-humidity", "50"), 2),
    ],
)
def test_what_cannot_be_used_is_refused_in_words(run: Run, words: tuple[str, ...], code: int) -> None:
    done = run(*words)
    assert isinstance(done.exception, DesorbError), done.output
    assert done.exception.exit_code == code
    assert str(done.exception).endswith(".")


def test_air_from_two_figures(run: Run) -> None:
    """19.5 degC and 74 %: dew point 14.7 degC and 10.44 g/kg (ASHRAE 2017 forms; worked figure of the trade notes)."""
    state = json.loads(run("air", "--temperature", "19.5", "--relative-humidity", "74", "--json").stdout)
    assert state["dew_point"] == pytest.approx(14.7, abs=0.1)
    assert state["humidity_ratio"] == pytest.approx(10.44, abs=0.05)


def test_a_target_for_a_joist_is_held_against_the_air_of_its_void(run: Run) -> None:
    """Before I order kit I ask whether the void could ever let the joist reach 15 %."""
    said = run("timber", "--temperature", "8", "--relative-humidity", "88", "--target", "15").output
    assert "not reachable" in said
    assert "19.8 %" in said
    assert "next: change the air" in said
    assert "12.0 %" in run("timber", "--temperature", "20", "--relative-humidity", "65").output


def test_a_floor_layer_gets_the_plan_of_a_test_with_the_cautions_first(run: Run) -> None:
    """360 m2 of slab, 175 mm on a membrane: six holes of 70 mm, a day's wait, and dust and services before any drilling."""
    said = run("floor-plan", "--area", "360", "--thickness", "175", "--edition", "2019").output
    assert said.index("silica") < said.index("6 places")
    assert "70 mm deep" in said
    assert "Wait 24 hours" in said
    assert "Wait 72 hours" in run("floor-plan", "--area", "360", "--thickness", "175", "--edition", "2011").output
    refused = run("floor-plan", "--area", "360", "--thickness", "175")
    assert isinstance(refused.exception, InputError)


def test_editions_that_conflict_are_shown_and_chosen_by_a_person_with_a_reason(run: Run) -> None:
    """Heated calcium sulphate, 0.5 or 0.3: I see both editions, and no limit is taken until I choose and say why."""
    asked = (
        "limits",
        "--quantity",
        "carbide moisture",
        "--material",
        "calcium sulphate",
        "--heated",
        "yes",
        "--region",
        "DE",
    )
    said = run(*asked).output
    assert "no limit is taken" in said
    assert "FLR-CM-04" in said
    assert "FLR-CM-05" in said
    assert isinstance(run(*asked, "--choice", "FLR-CM-05").exception, InputError)
    chosen = run(*asked, "--choice", "FLR-CM-05", "--reason", "the parquet trade asks for it").output
    assert "limit: <= 0.3" in chosen
    assert "relative humidity in a hole: <= 75" in run("limits").output


def test_a_carbide_test_shows_its_cautions_and_both_bases(run: Run) -> None:
    """First what could hurt me; then 50 g at 1.00 bar and 20 degC: 2.0 % wet basis, 2.04 % dry basis."""
    steps = run("carbide").output
    assert steps.index("flammable") < steps.index("1. ")
    figures = ("--sample-mass", "50", "--gauge-pressure", "1.0", "--temperature", "20", "--free-volume", "676.48")
    said = run("carbide", "--material", "cement", *figures, "--crushed").output
    assert "2.00 % wet basis, 2.04 % dry basis" in said  # rules of trade 3.7, row FL-CM-dry
    assert "not valid" in run("carbide", "--material", "cement", *figures).output
    assert isinstance(run("carbide", "--sample-mass", "50").exception, InputError)


def test_units_at_the_door_change_what_is_shown(run: Run) -> None:
    assert run("settings", "--temperature", "degF", "--humidity-ratio", "grains/lb").exit_code == 0
    shown = run("air", "--temperature", "20", "--relative-humidity", "50").stdout
    assert "68.0 degF" in shown
    assert "50.8 grains/lb" in shown


def test_a_struck_reading_counts_no_more_and_comes_back_when_the_strike_is_struck(run: Run, first_case: Path) -> None:
    entries = json.loads(run("log", "first", "--json").stdout)["entries"]
    reading = next(each for each in entries if each["kind"] == "reading" and "k1" in each["words"])
    strike = json.loads(run("strike", "first", reading["entry"], "--why", "wrong wall", "--by", "me", "--json").stdout)
    objects = json.loads(run("assess", "first", "--json").stdout)
    assert not [each for each in objects if each["id"] == "k1"]
    run("strike", "first", strike["strike"], "--why", "it was right", "--by", "me")
    objects = json.loads(run("assess", "first", "--json").stdout)
    assert next(each for each in objects if each["id"] == "k1")["status"] == "above control"


def test_a_removal_takes_two_steps_and_leaves_cannot_say_removed(run: Run, first_case: Path) -> None:
    entries = json.loads(run("log", "first", "--json").stdout)["entries"]
    reading = next(each for each in entries if each["kind"] == "reading" and "k1" in each["words"])
    words = ("remove", "first", reading["entry"], "--why", "order", "--authority", "a court", "--by", "me")
    assert run(*words).exception.exit_code == 3  # type: ignore[union-attr]
    assert run(*words, "--yes-remove-for-good").exit_code == 0
    spot = next(each for each in json.loads(run("assess", "first", "--json").stdout) if each["id"] == "k1")
    assert spot["status"] == "cannot say"
    assert "removed" in spot["reasons"][0]
    assert run("verify", "first").exit_code == 0


def test_a_wish_to_override_is_kept_and_the_gate_stays_unanswered(run: Run, first_case: Path) -> None:
    words = ("gate", "first", "asbestos", "--zone", "kitchen", "--material", "cork tile")
    evidence = ("--reference", "lab 1", "--result", "none found", "--by", "lab", "--for", "lifting")
    overridden = json.loads(run(*words, *evidence, "--override", "--json").stdout)
    assert overridden[0]["state"] == "not answered"
    assert json.loads(run(*words, *evidence, "--json").stdout)[0]["state"] == "evidence recorded"


def test_a_failed_check_throws_doubt_back_over_the_case(run: Run, first_case: Path) -> None:
    done = json.loads(run("check", "m1", "70", "--at", "2026-03-09T08:00+00:00", "--json").stdout)
    assert done["passed"] is False
    assert done["cases_in_doubt"] == ["first"]
    spot = next(each for each in json.loads(run("assess", "first", "--json").stdout) if each["id"] == "k1")
    assert spot["status"] == "cannot say"
    assert "failed its check" in spot["reasons"][0]


def test_export_and_import_bring_back_the_same_assessments(run: Run, first_case: Path, tmp_path: Path) -> None:
    bag = tmp_path / "bag"
    assert run("export", "first", str(bag)).exit_code == 0
    elsewhere = CliRunner()
    other = ["--home", str(tmp_path / "other")]
    assert elsewhere.invoke(app, [*other, "import", str(bag)]).exit_code == 0
    again = elsewhere.invoke(app, [*other, "assess", "first", "--json"]).stdout
    assert json.loads(again) == json.loads(run("assess", "first", "--json").stdout)


def test_the_drying_is_shown_by_part_and_zone_and_names_its_parts(run: Run, first_case: Path) -> None:
    """A sheet of the manual taken: all of it with its parts named; one part by a word of it; and what is not there is said."""
    page = (DOCS / "manual" / "drying_under_way.md").read_text(encoding="utf-8")
    sheet = first_case / "drying.toml"
    sheet.write_text(page.split("```toml\n")[1].split("```")[0], encoding="utf-8")
    assert run("take", "first", str(sheet)).exit_code == 0
    every = run("drying", "first").stdout
    assert (
        "parts: what drying could harm, visit round, drying unit, enclosure, circuit, sheet for the household" in every
    )
    household = run("drying", "first", "--part", "Household").stdout
    assert household.startswith("For the people in the kitchen")
    assert "Enclosure" not in household
    nowhere = run("drying", "first", "--zone", "loft").stdout
    assert nowhere.startswith("nothing of that is said of this case; its parts: what drying could harm")
    assert "kitchen" in nowhere
    assert {each["kind"] for each in json.loads(run("drying", "first", "--json", "--part", "unit").stdout)} == {
        "drying unit"
    }
