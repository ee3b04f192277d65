"""core/next_tests.py: every open question names the act that would settle it, what each outcome means, and its gates."""

from __future__ import annotations

import pytest
from case_builder import FieldBook, by_id

from desorb.core.gates import GATES_OF_ACTION
from desorb.core.kinds import COVERINGS
from desorb.core.next_tests import COATINGS, PERMISSIONS, TESTS, baring, next_test, work_list
from desorb.core.outcome import CANNOT_SAY


def house() -> FieldBook:
    book = FieldBook()
    book.building("screed", "cement screed", "kitchen", "utility: sound", words="floating screed")
    return book


@pytest.mark.parametrize("key", TESTS)
def test_each_test_can_be_done_by_someone_who_reads_it(key: str) -> None:
    """An act, at least one outcome, whose permission, a rank, and an action that the gates know."""
    test = TESTS[key]
    assert test.key == key
    assert test.words
    assert test.outcomes
    assert test.permission in PERMISSIONS
    assert 1 <= test.cost_rank <= 5
    assert test.action in GATES_OF_ACTION
    if test.action == "read":
        assert not test.disturbs_covering


@pytest.mark.parametrize("key", TESTS)
def test_no_word_is_left_unfilled(key: str) -> None:
    made = next_test(key, "kitchen", "vinyl", house().case(), material="cement screed", construction="floating screed",
                     instrument="m1", count=2, finding="step", place="void", spots="k1")  # fmt: skip
    assert "{" not in made.words
    assert "the material" not in made.words
    bare = next_test(key, "kitchen", "", house().case())
    assert "{" not in bare.words


@pytest.mark.parametrize("covering", [*COVERINGS, "other: rubber"])
def test_coatings_are_taken_off_at_a_patch_and_coverings_lifted(covering: str) -> None:
    assert baring(covering) == ("bare patch" if covering in COATINGS else "lift covering")
    assert set(COATINGS) <= set(COVERINGS)


def test_what_disturbs_a_covering_asks_about_that_covering() -> None:
    """Lifting vinyl asks about vinyl; drilling bare screed asks about the screed."""
    lift = next_test("lift covering", "kitchen", "vinyl", house().case(), material="cement screed")
    assert next(gate for gate in lift.gates if gate.gate == "asbestos").words.startswith("vinyl in kitchen")
    for covering in ("bare", "none", ""):
        hole = next_test("hole", "kitchen", covering, house().case(), material="cement screed")
        assert next(gate for gate in hole.gates if gate.gate == "asbestos").words.startswith("cement screed in kitchen")
    assert "through the bare" in next_test("hole", "kitchen", "", house().case()).words


def test_drilling_warns_of_dust_and_drying_of_gypsum() -> None:
    """Silica, and gypsum at 105 degC (common practice, no source)."""
    sample = next_test("sample", "kitchen", "", house().case())
    assert any("silica" in caution for caution in sample.cautions)
    assert any("105 degC" in caution for caution in sample.cautions)
    assert any("flammable gas" in caution for caution in next_test("carbide", "kitchen", "", house().case()).cautions)


def test_the_work_list_goes_by_permission_and_cost_and_keeps_equal_tests_together() -> None:
    """TASKS 63: cannot-say and above places in one list, cheapest first; the same test of one zone is one line."""
    book = house()
    book.controls("utility/floor", "18, 16, 19, 17, 20")
    book.controls("utility/floor", "14, 13, 15", covering="vinyl", names="v1 v2 v3")
    book.line("kitchen/floor", "22, 22.0, 60, 0")
    book.line("kitchen/floor", "14, 13", covering="vinyl", names="k5 k6")
    groups = work_list(book.assessed().spots)
    listed = {permission: [(item.test.key, item.places) for item in items] for permission, items in groups.items()}
    assert listed == {
        "no permission needed": [("contacts", ("kitchen.4",)), ("repeat", ("kitchen.1", "kitchen.2"))],
        "the occupant's consent to mark": [("depth or logging", ("kitchen.3",))],
        "the owner's consent to open up": [("lift covering", ("k5", "k6"))],
    }
    lift = groups["the owner's consent to open up"][0]
    assert lift.stopped_by == ("asbestos: not answered", "consent: not answered", "heritage: not answered")


def test_within_one_permission_the_cheapest_comes_first() -> None:
    """A hole through vinyl (rank 4) stands below lifting it (rank 3), whatever was found first."""
    from dataclasses import replace

    book = house()
    book.line("kitchen/floor", "14, 13, 15", covering="vinyl")
    case = book.case()
    hole, lift = (next_test(key, "kitchen", "vinyl", case) for key in ("hole", "lift covering"))
    spots = [
        replace(spot, next_test=test) for spot, test in zip(book.assessed().spots, (hole, lift, hole), strict=True)
    ]
    items = work_list(spots)["the owner's consent to open up"]
    assert [(item.test.key, item.places) for item in items] == [
        ("lift covering", ("kitchen.2",)), ("hole", ("kitchen.1", "kitchen.3")),
    ]  # fmt: skip


def test_what_is_settled_or_was_never_read_makes_no_line() -> None:
    from desorb.core.kinds import Spot

    book = house()
    book.controls("utility/floor", "18, 16, 19, 17, 20")
    book.line("kitchen/floor", "17, 18, 19")
    book.write(Spot("plan", "kitchen", "wall"))
    assessed = book.assessed()
    assert by_id(assessed)["kitchen/wall"].status == CANNOT_SAY
    assert work_list(assessed.all) == {}
