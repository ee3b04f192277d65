"""Chain of custody of a sample: who took, sealed, sent and received it, when, and its mass at each.

Contents: STEPS_OF_CUSTODY; CustodyStep; CustodyResult; check_custody.

The steps are the project's own (task 59), without a standard behind them. Masses in g, with the container.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from desorb.core.samples.numbers import require_between
from desorb.errors import InputError, NotUnderstood

STEPS_OF_CUSTODY = ("taken", "sealed", "sent", "received")
MASS_WITHIN = Decimal("0.1")  # g; setting of ours: two balances of 0.1 g may differ so much


@dataclass(frozen=True, slots=True)
class CustodyStep:
    """step: one of STEPS_OF_CUSTODY; at: ISO date and time; mass: g with the container, None if not weighed."""

    step: str
    by: str
    at: str
    mass: Decimal | None


@dataclass(frozen=True, slots=True)
class CustodyResult:
    """gaps: every gap by name; none means the chain is whole. Goes with the result of the sample."""

    sample: str
    gaps: tuple[str, ...]

    @property
    def words(self) -> str:
        """The state of the chain in one sentence."""
        if self.gaps:
            return f"Sample {self.sample}: custody broken: {'; '.join(self.gaps)}."
        return f"Sample {self.sample}: custody recorded without a gap from taken to received."


def check_custody(sample: str, steps: Sequence[CustodyStep], mass_within: Decimal = MASS_WITHIN) -> CustodyResult:
    """Looks for gaps: a step, name, time or mass missing, times out of order, mass changed. mass_within: g, 0 or more.

    Raises InputError for a step unknown or entered twice, NotUnderstood for a time that is none.
    """
    require_between("tolerance of mass", mass_within, 0.0, 1000.0, "g")
    names = [step.step for step in steps]
    for name in names:
        if name not in STEPS_OF_CUSTODY or names.count(name) > 1:
            raise InputError(
                "The steps of custody cannot be used",
                got=", ".join(names),
                wanted=f"each of {', '.join(STEPS_OF_CUSTODY)} once",
                next_step="correct the entry",
            )
    by_name = {step.step: step for step in steps}
    gaps: list[str] = []
    before: CustodyStep | None = None
    for name in STEPS_OF_CUSTODY:
        step = by_name.get(name)
        if step is None:
            gaps.append(f"no record that it was {name}")
            continue
        gaps += _missing(step)
        if before is not None:
            gaps += _between(before, step, mass_within)
        before = step
    return CustodyResult(sample, tuple(gaps))


def _missing(step: CustodyStep) -> list[str]:
    if step.mass is not None:
        require_between(f"mass when {step.step}", step.mass, 1e-6, math.inf, "g")
    parts = (("who", step.by.strip()), ("when", step.at.strip()), ("mass", step.mass))
    return [f"{name} not recorded when {step.step}" for name, value in parts if not value]


def _between(before: CustodyStep, step: CustodyStep, mass_within: Decimal) -> list[str]:
    gaps: list[str] = []
    if before.at.strip() and step.at.strip():
        earlier, later = _time(before), _time(step)
        if (earlier.tzinfo is None) != (later.tzinfo is None):
            gaps.append(f"times of {before.step} and {step.step} cannot be compared: one has no time zone")
        elif later < earlier:
            gaps.append(f"{step.step} at {step.at}, before it was {before.step} at {before.at}")
    if before.mass is not None and step.mass is not None and abs(step.mass - before.mass) > mass_within:
        gaps.append(f"mass {before.mass} g when {before.step}, {step.mass} g when {step.step}")
    return gaps


def _time(step: CustodyStep) -> datetime:
    try:
        return datetime.fromisoformat(step.at.strip())
    except ValueError as error:
        raise NotUnderstood(
            f"The time at which the sample was {step.step} could not be read",
            got=repr(step.at),
            wanted="an ISO date and time",
            next_step="correct the entry",
        ) from error
