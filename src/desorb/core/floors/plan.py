"""The plan of a floor test: how many places, how deep, how long to wait, and what must be seen to before drilling.

Contents: SurveyReading; FloorPlan; places_for_square_metres, places_for_square_feet, samples_for_square_metres,
probe_depth, waiting_hours, highest_survey_places, plan_floor_test.

Lengths in mm, areas in m2 or ft2 by name, times in hours unless the name says days. Nothing here permits drilling: the
cautions name what a person has to find out first. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from desorb.core.floors.cautions import cautions_for
from desorb.errors import InputError

HOLE, SLEEVE, BOX, DISH, CARBIDE, CRUSHED = "hole", "sleeve", "box", "dish", "carbide", "crushed sample"
METHODS = (HOLE, SLEEVE, BOX, DISH, CARBIDE, CRUSHED)
SAMPLED = (CARBIDE, CRUSHED)  # a sample is taken out of the floor; nothing waits
HOLE_QUANTITY = "relative humidity in a hole"
BOX_QUANTITY = "relative humidity in equilibrium with the floor, insulated hygrometer box"
EMISSION_QUANTITY = "moisture vapour emission rate"
CARBIDE_QUANTITY = "carbide moisture"
CRUSHED_QUANTITY = "corresponding relative humidity of crushed screed"
QUANTITIES = {
    HOLE: HOLE_QUANTITY, SLEEVE: HOLE_QUANTITY, BOX: BOX_QUANTITY, DISH: EMISSION_QUANTITY, CARBIDE: CARBIDE_QUANTITY,
    CRUSHED: CRUSHED_QUANTITY,
}  # fmt: skip
STANDARDS = {
    HOLE: "ASTM F2170", SLEEVE: "BS 8203 annex A", BOX: "BS 8203 annex A", DISH: "ASTM F1869",
    CARBIDE: "BEB work instruction / DIN 18560-4", CRUSHED: "TKB-Merkblatt 18",
}  # fmt: skip
FIRST_PLACES = 3  # [ASTM-F2170] 10.1: for the first 1000 ft2 (100 m2); then one for each further
FIRST_SAMPLES = 2  # for the first 100 m2, then one for each further; row FLR-CM-24 of the limits (CSTB, France)
SQUARE_METRES_PER_SQUARE_FOOT = 0.09290304  # by definition of the foot
SPANS = {  # settings of ours: what lies outside was measured in another unit, or slipped
    ("thickness", "mm"): (10.0, 2000.0), ("area", "m2"): (0.0, 1e6), ("area", "ft2"): (0.0, 1e7),
}  # fmt: skip
DEPTH_SHARE = {1: 0.40, 2: 0.20}  # [ASTM-F2170] 10.2: of the thickness, by the number of faces it dries from
FIRST_EDITION, EDITION_OF_24_HOURS = 2002, 2018  # the first from memory; the second [ASTM-F2170] 10.3
HOLE_WAIT, OLDER_HOLE_WAIT = 24.0, 72.0  # h; [ASTM-F2170] 10.3 from 2018, and before
SLEEVE_WAIT = 72.0  # h; common practice in the United Kingdom [RULES-3.4]
BOX_WAIT, POWER_FLOATED_BOX_WAIT = 72.0, 168.0  # h; [BS8203] annex A, and a trade text for 7 d
OPEN_HOURS = 24.0  # h that the ground place stays open before the dish is set; [ASTM-F1869]
EXPOSURE = (60.0, 72.0)  # h of the dish; [ASTM-F1869]
SERVICE_HOURS = 48.0  # h; [ASTM-F2170] 9, [ASTM-F1869]
HEATING_OFF_HOURS = 96.0  # h; [BS8203] annex A, before the test and during it
PROBE_CHECK_DAYS = 30.0  # d; [ASTM-F2170] 8; taken over for boxes, sleeves and cups: setting of ours


@dataclass(frozen=True, slots=True)
class SurveyReading:
    """One reading of a comparative survey. It helps to choose places and never accepts a floor."""

    place: str
    value: Decimal
    scale: str
    instrument: str


@dataclass(frozen=True, slots=True)
class FloorPlan:
    """What has to be done before a floor can be held against a limit. None where the method does not ask for it."""

    method: str  # of METHODS
    standard: str
    edition: str
    places: int
    drying_faces: int
    thickness: float  # mm
    depth: float | None  # mm
    waiting_hours: float
    service_hours: float | None
    heating_off_hours: float | None
    probe_check_days: float | None
    survey_places: tuple[str, ...]  # one place of the test belongs at one of these
    sentences: tuple[str, ...]
    cautions: tuple[str, ...]


def places_for_square_metres(area: float) -> int:
    """Least number of places: 3 for the first 100 m2, one for each further 100 m2 begun. [m2] Source: [ASTM-F2170]."""
    return _places(area, 100, "m2")


def places_for_square_feet(area: float) -> int:
    """Least number of places: 3 for the first 1000 ft2, one for each further 1000 begun. [ft2] [ASTM-F2170], [ASTM-F1869].

    1000 ft2 are 92.9 m2 and not 100: near a step the two forms can differ by one. Use the form of your edition.
    """
    return _places(area, 1000, "ft2")


def samples_for_square_metres(area: float) -> int:
    """Least number of samples: 2 for the first 100 m2, one for each further 100 m2 begun. [m2] Row FLR-CM-24."""
    _positive(area, "area", "m2")
    return FIRST_SAMPLES + max(0, math.ceil((area - 100) / 100))


def probe_depth(thickness: float, drying_faces: int) -> float:
    """Depth of the probe below the surface: 40 % of the thickness, 20 % if it dries from two faces. [mm] [ASTM-F2170]."""
    _positive(thickness, "thickness", "mm")
    if drying_faces not in DEPTH_SHARE:
        raise InputError(
            "The number of drying faces is not known",
            got=f"{drying_faces}",
            wanted="1 (on a membrane, metal deck or ground) or 2 (free above and below)",
            next_step="find out what lies under the slab",
        )
    return round(thickness * DEPTH_SHARE[drying_faces], 6)


def waiting_hours(method: str, edition: int | None = None, power_floated: bool = False) -> float:
    """Least time from drilling or sealing to the first reading; of a dish, from grinding to setting it; of a sample 0. [h]

    edition: the year of F2170, needed for a hole.
    """
    if method == DISH:
        return OPEN_HOURS
    if method in SAMPLED:
        return 0.0
    if method == SLEEVE:
        return SLEEVE_WAIT
    if method == BOX:
        return POWER_FLOATED_BOX_WAIT if power_floated else BOX_WAIT
    _known(method)
    if edition is None or edition < FIRST_EDITION:
        raise InputError(
            "The waiting time of a hole depends on the edition of F2170",
            got="no edition" if edition is None else f"{edition}",
            wanted=f"a year from {FIRST_EDITION}",
            next_step="read the year on the edition that your contract names, and give it as the edition (--edition 2019)",
        )
    return HOLE_WAIT if edition >= EDITION_OF_24_HOURS else OLDER_HOLE_WAIT


def highest_survey_places(survey: Sequence[SurveyReading]) -> tuple[str, ...]:
    """The place or places with the highest reading of one survey: one instrument, one scale. Empty without a survey."""
    kinds = sorted({f"{reading.instrument}, {reading.scale}" for reading in survey})
    if len(kinds) > 1:
        raise InputError(
            "Readings of different scales or instruments have no highest one",
            got=" and ".join(kinds),
            wanted="one instrument on one scale",
            next_step="give the survey of one of them",
        )
    top = max((reading.value for reading in survey), default=None)
    return tuple(dict.fromkeys(reading.place for reading in survey if reading.value == top))


def plan_floor_test(
    *,
    method: str,
    area: float,
    thickness: float,
    drying_faces: int,
    area_unit: str = "m2",
    edition: int | None = None,
    power_floated: bool = False,
    heated: bool | None = None,
    survey: Sequence[SurveyReading] = (),
) -> FloorPlan:
    """The plan for one floor. area: in area_unit, m2 or ft2; thickness: mm; edition: year of F2170, for a hole.

    Raises InputError for a method, unit, area, thickness or edition that cannot be used.
    """
    wait = waiting_hours(method, edition, power_floated)
    if area_unit not in ("m2", "ft2"):
        raise InputError(
            "The unit of the area is not known",
            got=area_unit,
            wanted="m2 or ft2",
            next_step="give the area in one of these",
        )
    if method in SAMPLED:
        places = samples_for_square_metres(area if area_unit == "m2" else area * SQUARE_METRES_PER_SQUARE_FOOT)
    else:
        places = places_for_square_metres(area) if area_unit == "m2" else places_for_square_feet(area)
    full_depth = probe_depth(thickness, drying_faces)
    depth = full_depth if method in (HOLE, SLEEVE) else None
    service = SERVICE_HOURS if method in (HOLE, DISH) else None
    off = HEATING_OFF_HOURS if method in (SLEEVE, BOX) else None
    check = None if method in (DISH, CARBIDE) else PROBE_CHECK_DAYS
    standard = STANDARDS[method]
    words = f"edition of {edition}" if method == HOLE else "edition not read"
    highest = highest_survey_places(survey)

    first, step = (FIRST_SAMPLES, "100 m2") if method in SAMPLED else (FIRST_PLACES, _step(area_unit))
    sentences = [f"Test at {places} places or more: {first} for the first {step}, one for each further {step} begun."]
    if method == CARBIDE:
        sentences.append("That number is the rule of CSTB CPT 3578/3774 (France); elsewhere it is a setting of ours.")
    elif method == CRUSHED:
        sentences.append(
            "That number is the French rule for the carbide test; for this method it is a setting of ours."
        )
    if method in (SLEEVE, BOX):
        sentences.append("That number is the rule of ASTM F2170; for this method it is a setting of ours.")
    if depth is not None:
        faces = "one face" if drying_faces == 1 else "two faces"
        share = f"{100 * DEPTH_SHARE[drying_faces]:.0f} % of {thickness:g} mm, drying from {faces}"
        sentences.append(f"Drill each hole {depth:g} mm deep ({share}), clean it and line it.")
        if method == SLEEVE:
            sentences.append("That depth is the rule of ASTM F2170; for a sleeve it is a setting of ours.")
        sentences.append(f"Wait {wait:g} hours or more after drilling ({standard}, {words}).")
    elif method == DISH:
        sentences.append(f"Grind each place bare, 20 by 20 inches, and leave it open for {wait:g} hours ({standard}).")
        low, high = EXPOSURE
        sentences.append(f"Seal the dish in and leave it {low:g} to {high:g} hours; weigh to 0.1 g before and after.")
        sentences.append("Not on gypsum, calcium sulphate or lightweight concrete, nor on coatings or patches.")
    elif method in SAMPLED:
        sentences += _sample_sentences(method, standard)
    else:
        floated = ", the floor being power-floated" if power_floated else ""
        sentences.append(f"Seal each insulated box to the floor and wait {wait:g} hours or more{floated} ({standard}).")
        sentences.append("Read again 24 hours later or more, until two readings in a row are equal.")
    if service is not None:
        sentences.append(f"Keep floor and air as they will be in use for {service:g} hours before, and while testing.")
    if off is not None:
        sentences.append(f"Turn heating in the floor and drying units off {off:g} hours before, and leave them off.")
    if check is not None:
        sentences.append(f"Check each probe against a known humidity, no more than {check:g} days before use.")
    if highest:
        sentences.append(f"Put one place or more at the highest reading of the survey: {', '.join(highest)}.")
    else:
        sentences.append("Read the floor all over with one meter first; one place belongs at the highest reading.")
    sentences.append("The survey chooses places only. Each place is held against the limit alone; no mean is taken.")
    if heated:
        sentences.append("The screed is heated: use its marked measuring points, even if others read higher.")
    return FloorPlan(
        method=method,
        standard=standard,
        edition=str(edition) if method == HOLE else "",
        places=places,
        drying_faces=drying_faces,
        thickness=thickness,
        depth=depth,
        waiting_hours=wait,
        service_hours=service,
        heating_off_hours=off,
        probe_check_days=check,
        survey_places=highest,
        sentences=tuple(sentences),
        cautions=cautions_for(method),
    )


def _sample_sentences(method: str, standard: str) -> list[str]:
    sentences = [
        "Take each sample out of the floor over a stated depth, and write down from which depth to which, in mm.",
        "No waiting is asked for. Keep each sample tightly closed from the floor to the vessel.",
    ]
    if method == CARBIDE:
        sentences.append(f"Crush, weigh, shake and read by the steps of the carbide test ({standard}).")
        sentences.append(
            "State how far the test may be off; where it is not stated, the error within one laboratory is taken."
        )
    else:
        sentences.append(
            f"Crush the sample, close it in a cup with the probe, and read when it has settled ({standard})."
        )
        sentences.append("How long the cup stays closed is a setting of ours: the source found does not give it.")
    return sentences


def _places(area: float, step: int, unit: str) -> int:
    _positive(area, "area", unit)
    return FIRST_PLACES + max(0, math.ceil((area - step) / step))  # [ASTM-F2170] 10.1


def _step(unit: str) -> str:
    return "100 m2" if unit == "m2" else "1000 ft2"


def _known(method: str) -> None:
    if method not in METHODS:
        raise InputError(
            "The method of the floor test is not known",
            got=method,
            wanted=", ".join(METHODS),
            next_step="choose one of these",
        )


def _positive(value: float, name: str, unit: str) -> None:
    low, high = SPANS[name, unit]
    if not (math.isfinite(value) and value > 0 and low <= value <= high):
        raise InputError(
            f"The {name} of the floor cannot be used",
            got=f"{value:g} {unit}",
            wanted=f"{low:g} to {high:g} {unit}" if low else f"above 0, to {high:g} {unit}",
            next_step="measure it, and check the unit",
        )
