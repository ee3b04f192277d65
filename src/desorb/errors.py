"""Every error that desorb raises on purpose, drawn as a tree.

    DesorbError
    ├── InputError            what was given cannot be used             exit code 2
    │   ├── OutOfRange        a value outside the range of a formula
    │   ├── NotFound          a case, instrument, spot or entry that is not there
    │   └── NotUnderstood     a file, row or text that could not be read
    ├── Refused               desorb will not do this, and says why     exit code 3
    ├── StoreError            the store could not be used               exit code 4
    │   ├── StoreUnavailable  locked, full, unreadable, gone
    │   └── StoreUnfit        settings under which entries could be lost
    ├── RecordDamaged         the record does not verify                exit code 5
    └── ReportFailed          a report could not be made                exit code 6

All have one shape: what happened, what was got, what was wanted, what to do next.
Trouble in field data is not an error: it is a Finding (see core/kinds.py).
"""

from __future__ import annotations


class DesorbError(Exception):
    """Base of the tree. `what` is a sentence; the other parts may be empty."""

    exit_code = 1

    def __init__(self, what: str, *, got: str = "", wanted: str = "", next_step: str = "") -> None:
        self.what = what
        self.got = got
        self.wanted = wanted
        self.next_step = next_step
        super().__init__(str(self))

    def __str__(self) -> str:
        return f"{sentence(self)}. Next: {self.next_step}." if self.next_step else f"{sentence(self)}."


def sentence(problem: Exception) -> str:
    """What was wrong, without full stop and next step: for where the step is shown by itself."""
    if not isinstance(problem, DesorbError):
        return str(problem).rstrip(".")
    got = f"; got {problem.got}" if problem.got else ""
    wanted = f"; wanted {problem.wanted}" if problem.wanted else ""
    return f"{problem.what}{got}{wanted}"


class InputError(DesorbError):
    """What was given cannot be used."""

    exit_code = 2


class OutOfRange(InputError):
    """A value lies outside the range for which a formula or table is valid."""


class NotFound(InputError):
    """A case, instrument, spot or entry that is not there."""


class NotUnderstood(InputError):
    """A file, row or text that could not be read."""


class Refused(DesorbError):
    """desorb will not do this. The reason and the next step are in the sentence."""

    exit_code = 3


class StoreError(DesorbError):
    """The store could not be used."""

    exit_code = 4


class StoreUnavailable(StoreError):
    """The store is locked, full, unreadable or gone."""


class StoreUnfit(StoreError):
    """The store runs with settings under which acknowledged entries could be lost."""


class RecordDamaged(DesorbError):
    """The record does not verify."""

    exit_code = 5


class ReportFailed(DesorbError):
    """A report could not be made."""

    exit_code = 6
