"""What comes out: findings, gate states, next tests and assessments. Results that can speak for themselves.

Contents: the statuses; Finding; GateState; NextTest; Refusal (a control not used, and why); Assessment.
"""

from __future__ import annotations

from dataclasses import dataclass

NO_HIGHER = "no higher than control"
ABOVE = "above control"
CANNOT_SAY = "cannot say"
STATUSES = (ABOVE, CANNOT_SAY, NO_HIGHER)

BLOCKS_NOTHING = "nothing"
BLOCKS_PASS = "no higher than control"  # the value stands, but no pass may rest on it
BLOCKS_BOTH = "any status"  # the value is kept and marked, and not compared


@dataclass(frozen=True, slots=True)
class Finding:
    """Something about the data that the reader must know. `blocks` says what may not rest on it."""

    code: str
    words: str
    blocks: str
    next_step: str
    visit: str = ""
    instrument: str = ""
    scale: str = ""
    spots: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()
    answered: str = ""  # what was done about it, by whom


@dataclass(frozen=True, slots=True)
class GateState:
    """A gate before an action: not answered, evidence recorded, or stop. desorb never opens a gate."""

    gate: str
    state: str
    zone: str
    words: str
    evidence: tuple[str, ...] = ()
    asks: str = ""
    entries: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NextTest:
    """What would settle it: the act, what each outcome would mean, what it needs first."""

    key: str
    words: str
    outcomes: tuple[str, ...]
    permission: str  # whose permission it needs
    cost_rank: int  # 1 is cheapest; an order of ours, not a price
    cautions: tuple[str, ...] = ()
    gates: tuple[GateState, ...] = ()


@dataclass(frozen=True, slots=True)
class Refusal:
    """A control that was not used: the spot, the fields that differ, and the sentence."""

    spot: str
    fields: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Limits:
    """The figures of the rule, in digits of the scale."""

    above_beyond: float | None = None  # the tolerance limit: a reading beyond it is above control
    no_higher_up_to: float | None = None  # the largest single reading that passes
    prediction: float | None = None  # the limit of prediction/1
    control_mean: float | None = None
    control_spread: float | None = None  # standard deviation used, in digits at the level of the control
    controls: int = 0
    margin: float | None = None  # in digits


@dataclass(frozen=True, slots=True)
class Assessment:
    """The status of one spot or one element, with everything it rests on."""

    kind: str  # "spot" or "element"
    id: str
    zone: str
    element: str
    visit: str
    status: str
    value: float | None
    value_text: str
    unit: str
    limit: float | None
    limits: Limits
    rule: str
    scale: str
    instrument: str
    covering: str
    taken_at: str
    readings: tuple[str, ...]
    controls_used: tuple[str, ...]
    controls_refused: tuple[Refusal, ...]
    controls_set_aside: tuple[str, ...]
    reasons: tuple[str, ...]
    findings: tuple[Finding, ...]
    next_test: NextTest | None
    gates: tuple[GateState, ...]
    spots: tuple[str, ...] = ()  # of an element
    spots_not_read: tuple[str, ...] = ()
    smallest_pocket: float | None = None  # share of the element that the sampling could have missed
    other_lines: tuple[str, ...] = ()
