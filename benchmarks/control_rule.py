"""How often the control rule is wrong, by simulation with the real rule code, beside simple rules.

    python -m benchmarks.control_rule [--quick] [--surveys N] [--seed N] [--write FILE]

Prints Markdown tables of rates with standard errors. --write puts the same text into a file; it holds no date and no
time, so that the same command gives the same file.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks._worlds import (
    CONTROL_NUMBERS,
    DAMP_SHARE,
    ELEMENT_SIZES,
    SIMPLE_RULES,
    SPOTS_OF_EACH_TRUTH,
    WORLDS,
    Counts,
    Row,
    World,
    run_row,
    scale_classes,
)
from desorb.core.case import Case, Entered
from desorb.core.compare import Comparison, Found
from desorb.core.elements import element_assessments
from desorb.core.evidence import Evidence
from desorb.core.kinds import Construction, Instrument, Reading, Scale, Spot, Zone
from desorb.core.outcome import ABOVE, NO_HIGHER, Assessment, Limits
from desorb.core.rule import PREDICTION_1, TOLERANCE_1, ControlSet

SEED = 20_260_301
SURVEYS, QUICK_SURVEYS = 600, 40
MEANT = 5.0  # % of places at the margin that the rule means to pass wrongly at most

Results = dict[tuple[int, int, int], tuple[Row, Counts]]


def simulate(surveys: int, seed: int) -> tuple[Results, int]:
    """Every row with a random stream of its own; and how many elements core/elements.py judged alike."""
    results: Results = {}
    agreed = 0
    for w, world in enumerate(WORLDS):
        for s, scale in enumerate(scale_classes()):
            for c, controls in enumerate(CONTROL_NUMBERS):
                sample: list[tuple[object, ...]] = []
                row = Row(scale, world, controls)
                results[w, s, c] = (row, run_row(row, surveys, np.random.SeedSequence([seed, w, s, c]), sample))
                for judged in sample:
                    _must_agree(*judged)
                agreed += len(sample)
    return results, agreed


def _must_agree(statuses: Any, prepared: Any, values: Any, status: Any) -> None:
    """The element rule of the simulation against core/elements.py, on one element of invented spots."""
    found = _by_core(statuses, prepared, values)
    if found != status:
        raise SystemExit(f"the simulation says {status!r} of an element, core/elements.py says {found!r}: {values}")


def _by_core(statuses: list[str], prepared: ControlSet, values: list[float]) -> str:
    scale = Scale("scale", "gravimetric", "measured")
    spots = [Spot(f"s{number}", "z", "floor") for number in range(len(values))]
    evidence = []
    for number, (spot, value) in enumerate(zip(spots, values, strict=True)):
        reading = Reading(spot.id, spot.id, "v", "i", "scale", (str(value),), "bare", "2026-03-01T10:00:00+00:00")
        entered = _entered(reading, number)
        figure = Decimal(str(value))
        evidence.append(
            Evidence(entered, Instrument("i", "oven"), scale, spot, Zone("z", "room", "c"), Construction("c", "slab", "screed"),
                     (), figure, figure, "", "", "", datetime(2026, 3, 1, tzinfo=UTC))
        )  # fmt: skip
    assessments = [
        Assessment("spot", spot.id, "z", "floor", "v", status, None, "", "", None, Limits(), TOLERANCE_1, "scale", "i",
                   "bare", "", (), (), (), (), ("reason",), (), None, ())
        for spot, status in zip(spots, statuses, strict=True)
    ]  # fmt: skip
    comparison = Comparison(None, prepared, Found(), [])
    return element_assessments(
        Case("case", spots=tuple(_entered(spot, number) for number, spot in enumerate(spots))),
        assessments,
        {each.spot.id: [each] for each in evidence},
        {each.entered.entry: comparison for each in evidence},
    )[0].status


def _entered(record: Any, number: int) -> Entered[Any]:
    return Entered(record, f"d/{number}", "", "d", number, number, number, "")


# -- text ------------------------------------------------------------------------------------------------------------


def cell(rate: tuple[float, float]) -> str:
    return f"{100 * rate[0]:.1f} ± {100 * rate[1]:.1f}"


def table(head: list[str], lines: Iterable[list[str]]) -> Iterator[str]:
    yield f"| {' | '.join(head)} |"
    yield f"|{'---|' * len(head)}"
    for line in lines:
        yield f"| {' | '.join(line)} |"
    yield ""


def of_world(results: Results, world: World) -> list[tuple[Row, Counts]]:
    return [(row, counts) for row, counts in results.values() if row.world is world]


def highest(rows: list[tuple[Row, Counts]], *key: str) -> str:
    return cell(max(counts.rate(*key) for _, counts in rows))


def summary(results: Results) -> Iterator[str]:
    """The worst row of each world, for each rule."""
    rules = (TOLERANCE_1, *SIMPLE_RULES)
    for title, truth, status in (
        ("Sound spots called above control", "sound", ABOVE),
        ("Affected spots passed as no higher", "affected", NO_HIGHER),
        ("Spots exactly at the margin passed as no higher", "at the margin", NO_HIGHER),
    ):
        yield f"### {title}: the highest rate over scales and control numbers, %\n"
        rows = ((world, of_world(results, world)) for world in WORLDS)
        yield from table(
            ["world", *rules],
            ([world.words, *(highest(found, name, truth, status) for name in rules)] for world, found in rows),
        )
    yield "### Elements of 20 spots: the highest rate over scales and control numbers, %\n"
    wrong = (("sound", ABOVE), ("damp spots", NO_HIGHER), ("at the margin", NO_HIGHER))
    keys = [(stage, "20", truth, status) for truth, status in wrong for stage in ("once", "repeated")]
    head = [f"{truth}: {'above' if status == ABOVE else 'no higher'}, {stage}" for stage, _, truth, status in keys]
    yield from table(
        ["world", *head],
        ([world.words, *(highest(of_world(results, world), *key) for key in keys)] for world in WORLDS),
    )


def above_what_is_meant(results: Results) -> Iterator[str]:
    over = []
    for row, counts in results.values():
        rate, error = counts.rate(TOLERANCE_1, "at the margin", NO_HIGHER)
        if 100 * rate > MEANT + 200 * error:
            over.append([row.world.words, row.scale.words, f"{row.controls}", cell((rate, error))])
    yield f"### Rows in which more than {MEANT:.0f} % + 2 standard errors of the spots at the margin pass\n"
    if over:
        yield from table(["world", "scale", "controls", "passed, %"], over)
    else:
        yield "None.\n"


def spots_of(results: Results, world: World) -> Iterator[str]:
    tolerance_keys = [
        (TOLERANCE_1, truth, status)
        for truth in ("sound", "affected", "at the margin")
        for status in (ABOVE, NO_HIGHER)
    ]
    head = [
        "scale", "controls", "sound: above", "90th percentile", "sound: no higher", "affected: above",
        "affected: no higher", "at the margin: above", "at the margin: no higher",
    ]  # fmt: skip
    lines = []
    for row, counts in of_world(results, world):
        cells = [cell(counts.rate(*key)) for key in tolerance_keys]
        ninetieth = f"{100 * counts.ninetieth(*tolerance_keys[0]):.0f}"
        lines.append([row.scale.words, f"{row.controls}", cells[0], ninetieth, *cells[1:]])
    yield "tolerance/1, %:\n"
    yield from table(head, lines)
    yield "Simple rules, %: sound above / affected no higher / at the margin no higher\n"
    wrong = (("sound", ABOVE), ("affected", NO_HIGHER), ("at the margin", NO_HIGHER))
    yield from table(
        ["scale", "controls", *SIMPLE_RULES],
        (
            [row.scale.words, f"{row.controls}"]
            + [" / ".join(cell(counts.rate(name, *key)) for key in wrong) for name in SIMPLE_RULES]
            for row, counts in of_world(results, world)
        ),
    )


def elements_of(results: Results, world: World) -> Iterator[str]:
    def two(counts: Counts, *key: str) -> str:
        return " → ".join(cell(counts.rate(stage, *key)) for stage in ("once", "repeated"))

    lines = []
    for row, counts in of_world(results, world):
        for size in ELEMENT_SIZES:
            sound, damp, margin = ((f"{size}", truth) for truth in ("sound", "damp spots", "at the margin"))
            simple = " / ".join(cell(counts.rate(PREDICTION_1, *place, NO_HIGHER)) for place in (sound, damp, margin))
            lines.append(
                [row.scale.words, f"{row.controls}", f"{size}", two(counts, *sound, ABOVE), two(counts, *sound, NO_HIGHER),
                 two(counts, *damp, ABOVE), two(counts, *damp, NO_HIGHER), two(counts, *margin, NO_HIGHER), simple]
            )  # fmt: skip
    yield "Elements, %: read once → undecided spots repeated\n"
    head = [
        "scale", "controls", "spots", "sound: above", "sound: no higher", "damp spots: above", "damp spots: no higher",
        "at the margin: no higher", "no spot above prediction/1: sound / damp spots / at the margin",
    ]  # fmt: skip
    yield from table(head, lines)


INTRODUCTION = """# Error rates of the control rule

Made by `{command}`: {surveys} invented surveys for each row, seed {seed}.
The truths are ours; no figure here says anything about real buildings. The rule is the code of `desorb.core.rule`. The
element rule is written out in the simulation and was compared with `desorb.core.elements` on {agreed} of the simulated
elements: equal in all.

## How to read it

- **sound**: places like the controls, each with a value of its own. **affected**: the same at 1.5 times (comparative) or
  3 points higher (wood, gravimetric). **at the margin**: places that stand exactly where the rule's margin ends.
- A reading is the value of its place plus noise s_r = r / 2.8, shown in the digits of the display.
- *Above* is wrong of a sound place, and *no higher* of an affected one. Of places exactly at the margin the rule means
  to pass {meant:.0f} % at most. What is neither is *cannot say*, which the simple rules do not know.
- Each rate stands with its standard error. Spots of one survey share their controls, so surveys are counted and not
  spots ({spots} of each truth in each survey). 0.0 ± 0.0 means: in none of the {surveys} surveys.
- **90th percentile**: in nine surveys of ten at most this share of the sound spots is called above.
- Elements: with **damp spots** each spot is affected with probability {damp:.0%}, and at least one of those read is; a
  damp place that no spot hit is no error of the rule. **At the margin** the mean of the element stands there and its
  spots spread around it. **repeated**: every undecided spot is read again three times, the median counts, and the spread
  of these repeats is used where it is wider than the declared one.
- "Class spread right" means that sound places truly spread by the class spread of the rule row; the noise comes on top.
- "1.25 x mean" is a ruler for comparative scales. On scales in points it is far off, and shown to say so.

## What follows from it

- Few controls, a coarse display and a wide true spread cost decisions: more *cannot say*, and hardly more places at the
  margin that pass.
- What does harm is a repeatability limit that is stated too small. Repeats at a few spots show it; the spread that they
  show is then used.
- `prediction/1` and "mean + 2 s" pass many places that stand at the margin, most of all with three controls.
- The more spots an element has, the likelier one of them is called above by chance. Repeats at undecided spots do not
  cure that: the place itself stands high. A rule that only asks every spot to be below `prediction/1` is no way out: of
  20 spots with ten controls it holds back more sound elements, and with three controls it passes far more elements that
  stand at the margin.
"""


def text(results: Results, agreed: int, surveys: int, seed: int, command: str) -> str:
    lines = [
        INTRODUCTION.format(
            command=command, surveys=surveys, seed=seed, agreed=agreed, meant=MEANT, damp=DAMP_SHARE,
            spots=SPOTS_OF_EACH_TRUTH,
        ),
        "## In short\n",
        *summary(results),
        *above_what_is_meant(results),
    ]  # fmt: skip
    for world in WORLDS:
        lines += [f"## World: {world.words}\n", *spots_of(results, world), *elements_of(results, world)]
    return "\n".join(lines).rstrip() + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.control_rule", description=__doc__.split("\n")[0])
    parser.add_argument("--quick", action="store_true", help=f"{QUICK_SURVEYS} surveys a row")
    parser.add_argument("--surveys", type=int, help=f"surveys a row, else {SURVEYS}")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--write", type=Path, help="write the tables into this file too")
    chosen = parser.parse_args()
    surveys = chosen.surveys or (QUICK_SURVEYS if chosen.quick else SURVEYS)
    results, agreed = simulate(surveys, chosen.seed)
    options = [f"--surveys {surveys}"] * (surveys != SURVEYS) + [f"--seed {chosen.seed}"] * (chosen.seed != SEED)
    command = " ".join(["python -m benchmarks.control_rule", *options])
    shown = text(results, agreed, surveys, chosen.seed, command)
    sys.stdout.write(shown)
    if chosen.write:
        chosen.write.parent.mkdir(parents=True, exist_ok=True)
        chosen.write.write_text(shown, encoding="utf-8")


if __name__ == "__main__":
    main()
