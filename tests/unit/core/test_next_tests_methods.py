"""Every test that is asked for names the kind of record in which its result is kept."""

from __future__ import annotations

import pytest

from desorb.core.kinds import RECORDS
from desorb.core.next_tests import TESTS

KINDS = {record.KIND for record in RECORDS}


@pytest.mark.parametrize("key", TESTS)
def test_a_result_has_a_place_in_the_record(key: str) -> None:
    assert TESTS[key].recorded_as in KINDS


def test_what_is_read_is_a_reading_and_what_goes_to_an_oven_is_none() -> None:
    others = {key: test.recorded_as for key, test in TESTS.items() if test.recorded_as != "reading"}
    assert others == {
        "state a margin": "rule-row", "answer finding": "finding-answer", "sample": "weighing",
        "carbide": "carbide-reading",
    }  # fmt: skip
