"""The next test: what would settle an open question, cheapest first, with its gates and cautions.

Contents: the tests as data (TESTS); next_test (for one reason); work_list (the whole case, by permission).
Cost rank is an order of ours (1 reads again, 5 opens up); it is no price. Cautions are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from desorb.core.case import Case
from desorb.core.gates import NOT_ANSWERED, STOP, gates_for
from desorb.core.kinds import CarbideReading, FindingAnswer, Reading, RuleRow, SampleWeighing
from desorb.core.outcome import CANNOT_SAY, Assessment, NextTest

NOBODY = "no permission needed"
OCCUPANT = "the occupant's consent to mark"
OWNER = "the owner's consent to open up"
LABORATORY = "the owner's consent and a laboratory"
PERMISSIONS = (NOBODY, OCCUPANT, OWNER, LABORATORY)

PRESS = "press the contacts, never drag them; try a hidden place first; do not read where a mark was just wiped"
PINS = "pins mark paint, and wallpaper cannot be put right: ask the occupant and photograph first; pins are sharp"
DUST = "drilling mortar or concrete frees silica: extraction on the tool and breathing protection first"
CARBIDE = (
    "carbide makes a flammable gas and leaves a caustic residue: outdoors or well aired, eyes and hands protected,"
    " no flame, keep the residue from drains"
)
OVEN = "dry gypsum and calcium sulphate at low temperature: 105 degC drives out their own water"


COATINGS = ("paint", "impermeable paint", "varnish", "paper", "levelling compound", "bituminous adhesive", "tanking")


def baring(covering: str) -> str:
    """The test that bares the material: a coating is taken off at a patch, a covering is lifted."""
    return "bare patch" if covering in COATINGS else "lift covering"


@dataclass(frozen=True, slots=True)
class Test:
    key: str
    words: str
    outcomes: tuple[str, ...]
    permission: str
    cost_rank: int
    action: str
    cautions: tuple[str, ...] = ()
    disturbs_covering: bool = False
    recorded_as: str = Reading.KIND  # kind of record that the result is entered as


TESTS = {
    test.key: test
    for test in (
        Test("reread controls", "read the full set of controls again today",
             ("unchanged: the spot is assessed against them", "changed: find out why before any spot is assessed"),
             NOBODY, 1, "read", (PRESS,)),
        Test("more controls", "read {count} more control spot(s) on sound {construction}, {covering}, with {instrument}",
             ("three or more controls: the spot is assessed", "no sound place exists: use a hole, a box or a sample"),
             NOBODY, 1, "read", (PRESS,)),
        Test("repeat", "repeat the reading here until there are three to five, and add two control spots",
             ("it falls to one side: assessed", "it stays between: sample or hole at this spot"), NOBODY, 1, "read", (PRESS,)),
        Test("contacts", "free and clean the contacts, read a known damp reference place, then read here again",
             ("the reference reads and this place stays at the bottom: use a method whose range reaches lower",
              "the reference does not read: the instrument is not fit to use"), NOBODY, 1, "read", (PRESS,)),
        Test("instrument", "read again with an instrument that is in check and ready",
             ("the figure repeats: assessed", "it does not: go by the instrument that is in check"), NOBODY, 1, "read", (PRESS,)),
        Test("right scale", "read again on a scale fitted to {material}, or on a comparative scale with controls on it",
             ("comparable with controls on that scale: assessed", "no such scale: take a sample"), NOBODY, 1, "read", (PRESS,)),
        Test("state a margin", "state margin, class spread and repeatability for this scale, each with its source, or use"
             " the limit that belongs to the method",
             ("stated: assessed", "not known: the comparison stays supporting only"), NOBODY, 1, "read",
             recorded_as=RuleRow.KIND),
        Test("answer finding", "answer the open finding: {finding}",
             ("answered: the reading counts", "not answered: read this sweep again"), NOBODY, 1, "read",
             recorded_as=FindingAnswer.KIND),
        Test("depth or logging", "find how far and how deep: readings outwards until they meet the controls, then a"
             " moisture profile over depth or a logger for 7 to 14 days",
             ("wetter below: water from behind or below", "wetter at the surface: condensation or a spill"), OCCUPANT, 2, "pin",
             (PRESS, PINS, DUST)),
        Test("lift covering", "lift a small piece of the {covering}, and read the bare {material} beside bare controls",
             ("bare reading no higher than bare controls: assessed", "bare reading above: the covering hid it"),
             OWNER, 3, "lift a covering", (), True),
        Test("bare patch", "make a small bare patch in the {covering}, and read the bare {material} beside bare controls",
             ("bare reading no higher than bare controls: assessed", "bare reading above: the covering hid it"),
             OWNER, 3, "abrade", ("do not sand or scrape an old coating dry",), True),
        Test("hole", "relative humidity in a sealed hole through the {covering}, beside one in a sound place",
             ("no higher than the sound place: supports a pass", "higher: wet below the covering"),
             OWNER, 4, "drill", (DUST,), True),
        Test("sample", "drill a sample over a stated depth and dry it; hygroscopic moisture of the same sample at 75 % RH",
             ("free moisture like the sound place: not wet, whatever pins say", "free moisture higher: wet"),
             LABORATORY, 5, "take a sample", (DUST, OVEN), True, SampleWeighing.KIND),
        Test("carbide", "carbide test of a crushed sample over a stated depth, on site",
             ("at or below the limit that belongs to the covering: see the floor rules", "above it: not yet"),
             OWNER, 4, "carbide test", (DUST, CARBIDE), True, CarbideReading.KIND),
        Test("open up", "reach the place that was not inspected ({place})",
             ("sound: the element can be assessed", "wet: it is part of the damage"), OWNER, 3, "lift a covering", (), True),
        Test("read missing", "read the spots that were not read this visit: {spots}",
             ("all read: the element is assessed",), NOBODY, 1, "read", (PRESS,)),
    )
}  # fmt: skip


def next_test(key: str, zone: str, covering: str, case: Case, by_pins: bool = False, /, **words: object) -> NextTest:
    """One test with its gates at this place. `words` fill the sentence. Pins mark: reading again is then no mere look."""
    test = TESTS[key]
    material = (
        covering if test.disturbs_covering and covering not in ("", "bare", "none") else str(words.get("material", ""))
    )
    filled = test.words.format_map(_Filled(words | {"covering": covering or "bare"}))
    marks = by_pins and test.action == "read"
    return NextTest(
        key, filled, test.outcomes, OCCUPANT if marks and test.permission == NOBODY else test.permission, test.cost_rank,
        (*test.cautions, PINS) if marks else test.cautions, gates_for("pin" if marks else test.action, zone, material, case),
    )  # fmt: skip


class _Filled(dict[str, object]):
    def __missing__(self, key: str) -> str:
        return f"the {key}"


@dataclass(frozen=True, slots=True)
class WorkItem:
    """One line of the work list: a test and the places it would settle."""

    test: NextTest
    places: tuple[str, ...]
    stopped_by: tuple[str, ...]


def work_list(assessments: Iterable[Assessment]) -> dict[str, list[WorkItem]]:
    """Next tests over the whole case, grouped by the permission they need, cheapest first, equal tests together."""
    gathered: dict[tuple[str, str, str], tuple[NextTest, list[str]]] = {}
    for assessment in assessments:
        test = assessment.next_test
        if test is None or (assessment.kind == "element" and assessment.status == CANNOT_SAY and not assessment.spots):
            continue
        key = (test.key, test.words, assessment.zone)
        gathered.setdefault(key, (test, []))[1].append(assessment.id)
    groups: dict[str, list[WorkItem]] = {permission: [] for permission in PERMISSIONS}
    for test, places in gathered.values():
        stopped = tuple(f"{gate.gate}: {gate.state}" for gate in test.gates if gate.state in (STOP, NOT_ANSWERED))
        groups[test.permission].append(WorkItem(test, tuple(places), stopped))
    return {
        permission: sorted(items, key=lambda item: (item.test.cost_rank, item.test.key, item.places))
        for permission, items in groups.items()
        if items
    }
