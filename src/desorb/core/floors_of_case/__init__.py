"""Floor tests out of the record: plan, waiting, places and result of each, worked out from the entries of a case.

Contents: `figures` (text and times of the record as numbers), `places` (the readings of each place held against the limit),
`gathered` (floor_tests_of_case: the structured result), `words` (floor_tests: the same as Shown).
"""

from desorb.core.floors_of_case.gathered import FloorTestOfCase, floor_tests_of_case, limit_of
from desorb.core.floors_of_case.places import Attempt, PlaceOfCase
from desorb.core.floors_of_case.words import floor_tests

__all__ = ["Attempt", "FloorTestOfCase", "PlaceOfCase", "floor_tests", "floor_tests_of_case", "limit_of"]
