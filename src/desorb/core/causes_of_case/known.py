"""What the entries of one zone say of its causes: persons, leak tests, salts, wall profiles, surfaces in air.

Contents: Known; known_of.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.causes.leak_tests import COLOUR, LOSS, NO_COLOUR, NO_LOSS, NOT_VALID
from desorb.core.causes.table import SEEN, DoneTest, Observation, cause_table
from desorb.core.causes_of_case.leak_tests import METER, TEST_OF, to_disprove, worked_out
from desorb.core.condensation import air_lines
from desorb.core.kinds import CauseObservation, CauseTest
from desorb.core.samples.profile import OUTER
from desorb.core.samples_of_case import profiles_of_case, said
from desorb.core.written import number, yes
from desorb.errors import DesorbError

NEAR_DEW_POINT = 1.0  # K; setting of ours: as near as a surface thermometer can tell
AT_DEPTH = 2 * OUTER  # mm; the outer 10 to 20 mm are discarded [RULES-4.1]
SEEN_IN = {  # what a leak test that showed something lets one say was seen: system and status, name of the observation
    ("pressure hold", "supply pipe", LOSS): "pressure falls",
    ("pressure hold", "heating pipe", LOSS): "heating loses pressure",
    ("standing water", "waste", LOSS): "standing water falls",
    ("dye", "waste", COLOUR): "colour arrived",
    (METER, "supply pipe", LOSS): "meter runs without use",
    (METER, "supply pipe", NO_LOSS): "meter still without use",
}


@dataclass(slots=True)
class Known:
    """What is known of the causes in one zone."""

    observations: list[Observation] = field(default_factory=list)
    done: list[DoneTest] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    entries: list[str] = field(default_factory=list)


def known_of(case: Case, zone: str) -> Known:
    """Everything that the record says of the causes in one zone."""
    known = Known()
    for gather in (_of_persons, _of_leak_tests, _of_salts, _of_profiles, _of_air):
        gather(case, zone, known)
    return known


def _of_persons(case: Case, zone: str, known: Known) -> None:
    """Observations and tests as persons wrote them. One that the table refuses is named and stops only itself."""
    rows: tuple[Entered[CauseObservation] | Entered[CauseTest], ...] = (*case.cause_observations, *case.cause_tests)
    for entered in rows:
        record = entered.record
        if record.zone != zone:
            continue
        known.entries.append(entered.entry)
        try:
            if isinstance(record, CauseObservation):
                one = Observation(record.name, record.known, record.words, entered.entry)
                cause_table([one])
                known.observations.append(one)
                continue
            done = DoneTest(record.test, record.disproves, record.words, entered.entry, record.valid == "yes")
            cause_table((), [done])
        except DesorbError as problem:
            words, step = said(problem)
            known.notes.append(f"Not in the table: {entered.entry}: {words}. Next: {step}.")
            continue
        known.done.append(done)
        if not done.valid:
            known.notes.append(
                f"{record.test} ({entered.entry}) was not valid and counts as not done: {record.words}. Next: repeat it."
            )


def _of_leak_tests(case: Case, zone: str, known: Known) -> None:
    for entered in latest_by_id(case.leak_tests).values():
        test = entered.record
        if test.zone != zone:
            continue
        known.entries.append(entered.entry)
        try:
            result = worked_out(test)
        except DesorbError as problem:
            words, step = said(problem)
            known.notes.append(f"Leak test {test.id} ({entered.entry}) is not in the table: {words}. Next: {step}.")
            continue
        if result.status == NOT_VALID:
            known.notes.append(
                f"Leak test {test.id} ({entered.entry}) counts as not done: {result.conclusion}. Next: {result.next_step}."
            )
            continue
        name = TEST_OF[test.test]
        seen = SEEN_IN.get((name, test.system, result.status))
        if seen:
            known.observations.append(Observation(seen, SEEN, result.observed, entered.entry))
        without = result.status in (NO_LOSS, NO_COLOUR)
        if without and name != METER and yes(test.took_in_all):
            by = test.by or "nobody named"
            words = f"{result.conclusion} It took in all of the {test.system} that could wet {zone}, by {by}."
            known.done.append(DoneTest(name, result.can_disprove, words, entered.entry, about=result.can_disprove))
            continue
        if without and name != METER:
            known.notes.append(
                f"Leak test {test.id} ({entered.entry}), {result.status}: {result.conclusion}. Next: {to_disprove(test)}."
            )
            continue
        about = result.can_disprove  # a hold of the supply pipe says nothing of the heating pipe
        known.done.append(DoneTest(name, result.disproves, result.conclusion, entered.entry, about=about))


def _of_salts(case: Case, zone: str, known: Known) -> None:
    """A positive strip is a test that salts stood. A negative one speaks for its place only: a person says what it settles."""
    for entered in case.salt_tests:
        strip = entered.record
        if strip.zone != zone or strip.result not in ("positive", "negative"):
            continue
        known.entries.append(entered.entry)
        words = f"{strip.element}: {strip.method}, {strip.result}"
        known.observations.append(Observation(f"salts strip {strip.result}", SEEN, words, entered.entry))
        if strip.result == "positive":
            known.done.append(DoneTest("salts strip", (), words, entered.entry))
        else:
            known.notes.append(
                f"{words} ({entered.entry}): it speaks for this place only. Next: if neither chloride nor nitrate is found"
                " anywhere in the damp, write a cause test 'salts strip' that says so."
            )


def _of_profiles(case: Case, zone: str, known: Known) -> None:
    """What the deepest band of a wall profile says, and only if it lies at depth."""
    for found in profiles_of_case(case):
        if found.zone != zone or found.profile is None or not found.profile.bands:
            continue
        band = found.profile.bands[-1]
        name, across = _of_band(band.rising), found.profile.across
        drier = bool(across) and all(words.startswith("Wetter near the surface") for words in across)
        if (name or drier) and band.depth_from < AT_DEPTH:
            known.notes.append(
                f"Wall profile {found.line}: its deepest band begins {band.depth_from} mm from the face, so it says nothing"
                f" of the depth. Next: drill from {AT_DEPTH} mm inwards."
            )
            continue
        of_profile = {name: f"{band.depth_from} to {band.depth_to} mm: {band.rising}"} if name else {}
        of_profile |= {"drier at depth than at the surface": " ".join(across)} if drier else {}
        for observed, words in of_profile.items():
            known.observations.append(Observation(observed, SEEN, f"wall profile {found.line}, {words}", found.entry))
            known.entries += found.entries


def _of_band(rising: str) -> str:
    """The observation that the sentence of the profile stands for; '' where it has no opinion or cannot say."""
    if rising.startswith("Profile consistent with rising damp"):
        return "free moisture at depth falls with height"
    if not rising.startswith("Profile not consistent with rising damp"):
        return ""
    return "no height profile at depth" if "not falling" in rising else "little free moisture at depth"


def _of_air(case: Case, zone: str, known: Known) -> None:
    """Surfaces at or near the dew point of the air beside them, read in this zone."""
    for line in air_lines(case):
        reading = line.entered.record
        if reading.place != zone or line.state is None or line.surface_relative_humidity is None:
            continue
        surface, dew_point = number(reading.surface_temperature), line.state.dew_point
        if surface is None or surface - Decimal(str(dew_point)) > Decimal(str(NEAR_DEW_POINT)):
            continue
        words = (
            f"surface {reading.surface_temperature} degC, dew point of the air {dew_point:.1f} degC, {reading.taken_at}"
        )
        known.observations.append(Observation("surface at or near dew point", SEEN, words, line.entered.entry))
        known.entries.append(line.entered.entry)
