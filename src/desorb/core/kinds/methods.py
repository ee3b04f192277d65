"""What is written down of the methods beside the scan: floor tests, samples, leak tests, and what speaks of a cause.

Figures stand as the text that was read; times are ISO 8601 with offset. '' means "not stated", and where it matters the
method says so: nothing is filled in. Who did what stands in `by`, where a sample or place lies stands in words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

FLOOR_METHODS = ("hole", "sleeve", "box", "dish", "carbide", "crushed sample")
WEIGHED = ("moist", "at 75 % humidity", "dry")
LEAK_TESTS = ("pressure hold in air", "pressure hold in water", "standing water", "dye", "meter no-use")


@dataclass(frozen=True, slots=True)
class LimitStated:
    """A limit that the user read on a sheet of the maker: without the sheet and its date it is refused."""

    KIND: ClassVar[str] = "limit-stated"
    id: str
    quantity: str
    comparison: str  # <=, <, >= or >
    value: str
    unit: str
    standard: str  # the sheet of the maker
    edition: str  # its date
    at: str
    clause: str = ""
    region: str = ""
    material: str = ""
    heated: str = ""  # yes, no or ''
    covering: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class SurveyPlace:
    """One reading of the survey that only picks places."""

    place: str
    value: str
    scale: str
    instrument: str


@dataclass(frozen=True, slots=True)
class FloorTest:
    """What a floor is tested by: method, floor, covering, country. Its plan follows from it."""

    KIND: ClassVar[str] = "floor-test"
    id: str
    zone: str
    method: str  # of FLOOR_METHODS
    area: str  # m2
    thickness: str  # mm
    drying_faces: str  # 1 or 2
    at: str
    edition: str = ""  # year of F2170, for a hole
    material: str = ""  # of the base, as the table of limits names it
    heated: str = ""  # yes, no or ''
    power_floated: str = ""
    covering: str = ""
    adhesive: str = ""
    region: str = ""
    survey: tuple[SurveyPlace, ...] = ()
    by: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class LimitTaken:
    """The limit that one floor test is held against, copied whole: a later edition of the table changes no old case."""

    KIND: ClassVar[str] = "limit-taken"
    test: str
    key: str
    quantity: str
    comparison: str
    value: str
    unit: str
    standard: str
    edition: str
    at: str
    clause: str = ""
    region: str = ""
    material: str = ""
    heated: str = ""
    covering: str = ""
    read: str = ""
    confidence: str = ""
    condition: str = ""
    note: str = ""
    superseded: str = ""  # yes or ''
    disputed: str = ""
    others: tuple[str, ...] = ()  # limits for the same place that were not taken, each in a sentence
    conflicts: tuple[str, ...] = ()
    reason: str = ""  # of the person who chose
    by: str = ""


@dataclass(frozen=True, slots=True)
class FloorPlace:
    """A hole drilled, a box sealed, a dish set, a sample place opened: waiting counts from here."""

    KIND: ClassVar[str] = "floor-place"
    test: str
    place: str
    at: str  # drilled, sealed, or (dish) ground bare and left open
    depth: str = ""  # mm
    lined: str = ""  # yes, no or ''
    sealed: str = ""  # box: to the floor all round
    survey_place: str = ""  # the place of the survey that it tests
    heating_off_at: str = ""  # heating in the floor and drying units off from
    service_since: str = ""  # floor and air as in use from
    coated: str = ""  # dish: coated or patched
    by: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class FloorReading:
    """One reading at one place of a floor test, with the state that decides whether it is valid."""

    KIND: ClassVar[str] = "floor-reading"
    test: str
    place: str
    at: str
    value: str  # %RH; of a dish the gain of mass, g
    instrument: str = ""
    uncertainty: str = ""  # either way, unit of the value; of a dish the step of the balance, g
    temperature: str = ""  # degC, in the hole
    service_temperature: str = ""  # degC, of the floor in use
    drift: str = ""  # %RH in the 5 min before
    probe_minutes: str = ""  # in the box before the reading
    heating_on: str = ""  # heating in the floor, during the test: yes, no or ''
    drying_on: str = ""  # units that dry the air
    air_temperature: str = ""  # degC, room
    air_humidity: str = ""  # %, room
    floor_temperature: str = ""  # degC, surface
    probe_checked_at: str = ""  # where the check stands elsewhere than in this record
    dish_area: str = ""  # ft2
    set_at: str = ""  # dish: sealed in from
    by: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Sample:
    """A sample taken: where, how deep, of what. For a floor test it names test and place."""

    KIND: ClassVar[str] = "sample"
    id: str
    zone: str
    element: str
    material: str
    taken_at: str
    height: str = ""  # m above floor
    depth_from: str = ""  # mm from the face
    depth_to: str = ""
    line: str = ""  # samples of one vertical line share its name
    test: str = ""
    place: str = ""
    container: str = ""
    by: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class CustodyEntry:
    """One step on the way of a sample: taken, sealed, sent, received."""

    KIND: ClassVar[str] = "custody"
    sample: str
    step: str
    at: str
    by: str = ""
    mass: str = ""  # g, with the container


@dataclass(frozen=True, slots=True)
class SampleWeighing:
    """One weighing of a sample, net of its dish. `state` of WEIGHED; dry: after so long in an oven at its temperature."""

    KIND: ClassVar[str] = "weighing"
    sample: str
    state: str
    mass: str  # g
    at: str
    oven_temperature: str = ""  # degC
    oven_since: str = ""
    regime: str = ""  # of the oven air, in words
    by: str = ""


@dataclass(frozen=True, slots=True)
class CarbideReading:
    """One carbide test of one sample, as read."""

    KIND: ClassVar[str] = "carbide-reading"
    sample: str
    at: str
    sample_mass: str  # g, moist
    gauge_pressure: str  # bar
    temperature: str  # degC at the reading
    free_volume: str  # mL, net of sample, balls and glass
    crushed: str = ""  # fully: yes, no or ''
    temperature_closed: str = ""
    reagent_mass: str = ""
    uncertainty: str = ""  # CM-%, either way
    by: str = ""


@dataclass(frozen=True, slots=True)
class CupReading:
    """Humidity of the air over a crushed sample in a closed cup."""

    KIND: ClassVar[str] = "cup-reading"
    sample: str
    at: str
    closed_at: str
    humidity: str  # %RH
    temperature: str  # degC
    instrument: str = ""
    uncertainty: str = ""  # %RH
    drift: str = ""  # %RH in the 5 min before
    crushed: str = ""
    probe_checked_at: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class SaltContent:
    """Ions in one sample, by a laboratory. Mass-%; '' not measured."""

    KIND: ClassVar[str] = "salt-content"
    sample: str
    at: str
    chloride: str = ""
    nitrate: str = ""
    sulphate: str = ""
    laboratory: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class LeakTest:
    """One leak test. Which figures it needs follows from its kind; what is missing is said, not filled in."""

    KIND: ClassVar[str] = "leak-test"
    id: str
    zone: str
    test: str  # of LEAK_TESTS
    system: str  # supply pipe, heating pipe or waste
    section: str  # from where to where
    start: str
    end: str
    planned_minutes: str
    at_start: str = ""  # bar gauge, mm or litres
    at_end: str = ""
    temperature_start: str = ""  # degC
    temperature_end: str = ""
    doubt: str = ""  # of one reading, its unit; of a meter its smallest step
    temperature_doubt: str = ""  # K
    allowance: str = ""  # mm of evaporation
    allowance_from: str = ""
    air_pressure: str = ""  # bar, of the day: pressure hold in air
    litres: str = ""
    poured_at: str = ""
    watched: tuple[str, ...] = ()
    looked_before: str = ""
    arrived_at: str = ""
    no_use_by: str = ""
    by: str = ""
    took_in_all: str = ""  # all of the system that could wet the zone, a hold at working pressure: yes, no or ''


@dataclass(frozen=True, slots=True)
class CauseObservation:
    """Something that speaks for or against a cause, under a name of the cause table, with its own words."""

    KIND: ClassVar[str] = "cause-observation"
    zone: str
    name: str
    known: str  # seen, told or assumed
    words: str
    at: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class CauseTest:
    """A test of the cause table that was done, and what it spoke out of the table."""

    KIND: ClassVar[str] = "cause-test"
    zone: str
    test: str
    words: str
    at: str
    disproves: tuple[str, ...] = ()
    valid: str = "yes"
    by: str = ""
