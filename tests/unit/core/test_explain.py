"""core/explain.py: from an assessment to sentences that a tired person can read once."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_builder import METER, FieldBook, by_id

from desorb.core.explain import owner_sentence
from desorb.core.outcome import Limits

CONTROLS = "18, 16, 19, 17, 20"


def floor(spots: str, controls: str = CONTROLS, covering: str = "bare", **how: bool) -> FieldBook:
    book = FieldBook(**how)
    book.building("screed", "cement screed", "kitchen", "utility: sound")
    if controls:
        book.controls("utility/floor", controls, covering=covering)
    book.line("kitchen/floor", spots, covering=covering)
    return book


@pytest.mark.parametrize(
    ("spot", "said"),
    [
        ("24", "24 lies above 23.3 (5 controls, geometric mean 17.9, spread used 1.7)"),
        ("18", "18 is not higher than 20.6 (5 controls, geometric mean 17.9, spread used 1.7)"),
        (
            "22",
            "22 lies between 20.6 (no higher up to here) and 23.3 (above beyond here)"
            " (5 controls, geometric mean 17.9, spread used 1.7)",
        ),
    ],
)
def test_the_comparison_in_one_sentence(spot: str, said: str) -> None:
    assert floor(spot).spot("kitchen.1").reasons[0] == said


@pytest.mark.parametrize(
    ("controls", "said"),
    [
        ("", "3 more controls needed: 0 comparable of 3"), ("18", "2 more controls needed: 1 comparable of 3"),
        ("18, 17", "1 more control needed: 2 comparable of 3"),
        ("18, 17, 100", "control utility.c3 stands at an end of the scale"),
    ],
)  # fmt: skip
def test_why_there_was_no_comparison(controls: str, said: str) -> None:
    assert floor("18", controls).spot("kitchen.1").reasons[0].startswith(said)


def test_refused_controls_are_counted() -> None:
    book = floor("18", "18, 17")
    book.controls("utility/floor", "14, 13", covering="vinyl", names="v1 v2")
    assert (
        book.spot("kitchen.1").reasons[0]
        == "1 more control needed: 2 comparable of 3, 2 refused (by what differs first: covering 2)"
    )


def test_a_control_set_aside_is_named() -> None:
    said = floor("18", "18, 16, 19, 17, 60").spot("kitchen.1").reasons[0]
    assert "control utility.c5 was set aside as high by Grubbs' test: look whether it is wet" in said
    assert floor("18", "18, 16, 19, 17, 60").spot("kitchen.1").controls_set_aside == ("utility.c5",)


def test_a_class_left_out_is_said() -> None:
    assert "the class spread was left out" in floor("18", "10, 18, 30").spot("kitchen.1").reasons[0]


def test_an_older_set_is_said() -> None:
    book = floor("40")
    book.controls("utility/floor", "18", names="utility.c1", day=7)
    book.line("kitchen/floor", "40", day=7)
    assert "some of these controls are of an earlier visit" in book.spot("kitchen.1").reasons[0]


def test_a_margin_too_wide_is_said() -> None:
    """Above and within the margin at once: the sentence names both and decides nothing."""
    from desorb.core.kinds import RuleRow

    book = floor("30", "20, 20, 20, 20.0")
    book.write(RuleRow("comparative", True, "0.02", "3.0", "1", "somebody generous"))
    assert "beyond" in book.spot("kitchen.1").reasons[0]
    assert "the rule does not decide" in book.spot("kitchen.1").reasons[0]


def test_below_zero_cannot_stand_on_a_ratio_scale() -> None:
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen", "utility: sound")
    book.write(replace(METER, scales=(replace(METER.scales[0], bottom="-10"),)))
    book.controls("utility/floor", CONTROLS)
    book.line("kitchen/floor", "-1")
    assert "cannot stand on a ratio scale" in book.spot("kitchen.1").reasons[0]


def test_the_value_never_stands_alone() -> None:
    """Value, scale, repeats, covering and instrument stand together in the last sentence."""
    spot = floor("17 18 18", "14, 13, 15", "vinyl").spot("kitchen.1")
    assert spot.reasons[-1] == "18 on comparative (median of 3), through vinyl, with m1"
    assert floor("18").spot("kitchen.1").reasons[-1] == "18 on comparative (n = 1), bare, with m1"


@pytest.mark.parametrize(
    ("spot", "said"),
    [
        ("60", "This place reads higher than a sound part of the same construction."),
        (
            "100",
            "This place reads higher than a sound part of the same construction. The meter cannot show more than this.",
        ),
        ("18", "This place is not wetter than the sound part by more than 4.5 digits of this scale."),
    ],
)
def test_the_sentence_for_the_owner(spot: str, said: str) -> None:
    assert owner_sentence(floor(spot).spot("kitchen.1")) == said


def test_the_owner_is_told_the_next_step_and_why() -> None:
    said = owner_sentence(floor("17", "14, 13, 15", "vinyl").spot("kitchen.1"))
    assert said.startswith("The meter cannot answer this here. The next step is: lift a small piece of the vinyl")
    assert "Why: a reading through vinyl can show above, never no higher" in said


def test_the_owner_is_not_left_without_words() -> None:
    """No margin, no reason, no next test: there is still a sentence."""
    spot = floor("18").spot("kitchen.1")
    assert owner_sentence(replace(spot, limits=Limits())) == "This place is not wetter than the sound part."
    mute = replace(floor("22").spot("kitchen.1"), next_test=None, reasons=())
    assert (
        owner_sentence(mute)
        == "The meter cannot answer this here. The next step is: to read it again. Why: too little is known."
    )


@pytest.mark.parametrize(
    ("spots", "said"),
    [
        (
            "60, 18, 19",
            "The floor (kitchen) reads higher than a sound part of the same construction at one place or more.",
        ),
        (
            "17, 18, 19",
            "No place that was read on the floor (kitchen) reads higher than the sound part by more than the margin.",
        ),
        ("22", "It cannot be said yet whether the floor (kitchen) reads higher than the sound part."),
    ],
)
def test_the_sentence_for_an_element(spots: str, said: str) -> None:
    assert owner_sentence(by_id(floor(spots).assessed())["kitchen/floor"]) == said
