"""What the samples of a case say: custody, oven, hygroscopic moisture, carbide and salts of each, and profiles of walls.

Contents: `figures` (text and times of the record as numbers), `weighed` (the weighings of one sample worked out), `parts`
(what each method says of one sample), `walls` (profiles_of_case: figures for the cause table, and the same as Shown),
`shown` (samples_shown). A row that cannot be used is named with its next step and stops only itself.
"""

from desorb.core.samples_of_case.figures import said
from desorb.core.samples_of_case.shown import samples_shown
from desorb.core.samples_of_case.walls import ProfileOfCase, profiles_of_case

__all__ = ["ProfileOfCase", "profiles_of_case", "said", "samples_shown"]
