"""What the record says of causes: every leak test worked out, and the cause table of each zone.

Contents: `cautions` (what could hurt someone at the place of a test), `leak_tests` (leak_tests_shown), `known` (what the
entries of one zone say), `tables` (causes_shown). Beside what was observed, the table takes what other entries of the zone
say by themselves; each such observation names the entry it comes from. Of leak tests only the water meter looks at all of
a system, so only that one disproves by itself: that another took in all of it, at working pressure, a person says in a
cause test. A row that cannot be used is named with its next step and stops only itself.
"""

from desorb.core.causes_of_case.leak_tests import TEST_OF, leak_tests_shown
from desorb.core.causes_of_case.tables import causes_shown

__all__ = ["TEST_OF", "causes_shown", "leak_tests_shown"]
