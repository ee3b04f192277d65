"""Advice that stays silent until what could hurt is answered; and what drying itself can damage.

Contents: Answer and Answers - advice and FOUL_WATER_ORDER - sealed_extraction - hygiene_note - unaffected_room - over_drying.

Nothing here permits anything: an answer is what somebody put his name to, and a competent person on site decides. Local
codes and licensed practice come first.
"""

from __future__ import annotations

from dataclasses import dataclass

from desorb.core.air import AirState, surface_relative_humidity
from desorb.core.air.surface import SURFACE_CRITERION
from desorb.core.drying.given import figure
from desorb.core.gates import GATES, UNDER_EVERY_GATE
from desorb.core.surface_log import Log, hours_above
from desorb.core.wood_in_air import SERVICE_RANGES, held_in_air
from desorb.errors import InputError, NotFound, Refused

NOT_A_HYGIENE_CLEARANCE = "not a hygiene clearance"
SPREADS = "moving air carries what lies on foul or mouldy surfaces into clean rooms and into lungs"
FOUL_WATER_ORDER = (  # common practice; RULES section 6 (categories of water, personal protection), no text of a standard
    "make safe: electricity, gas, structure; protective clothing, cuts covered",
    "stop the source and close the place off from clean rooms",
    "take out foul porous finishes, wrapped, by people who do this work",
    "clean and disinfect what stays",
    "verify hygiene, with a result on record",
    "only then move air and dry",
)
# what is asked before air is moved, sucked or heated: the field of Answers -> (question, gate whose words say stop)
QUESTIONS = {
    "foul_water": ("Was the water foul?", "foul water"),
    "visible_mould": ("Is mould visible?", "foul water"),
    "damaged_asbestos": ("Is material damaged that could hold asbestos?", "asbestos"),
    "open_flue": ("Is there an open flue or a fuel-burning appliance that could spill carbon monoxide?", "gas"),
}
CAUTIONS = {  # common practice, no source
    "air moving": "direct it along wet surfaces only, and look again the next day at what was dry",
    "suction": "know what lies in the cavity and where the exhaust goes before anything is sucked",
    "heating": "old plaster, wide boards and panelling crack when warmed fast; keep heat off them",
    "ventilation": "compare outside with inside air again each day; it is of no use when outside is the wetter",
}
DEALT_WITH = "dealt with"


@dataclass(frozen=True, slots=True)
class Answer:
    """state: 'no', 'yes', 'dealt with' or '' (nobody asked). by: who says so. reference: the record of what was done."""

    state: str = ""
    by: str = ""
    reference: str = ""


@dataclass(frozen=True, slots=True)
class Answers:
    """The four questions. All start unanswered; nothing counts as 'no' because it was left out."""

    foul_water: Answer = Answer()
    visible_mould: Answer = Answer()
    damaged_asbestos: Answer = Answer()
    open_flue: Answer = Answer()


@dataclass(frozen=True, slots=True)
class Advice:
    """What may be talked about now. rests_on: who answered what. It is no permission."""

    kind: str
    words: str
    rests_on: tuple[str, ...]


def advice(kind: str, answers: Answers) -> Advice:
    """Advice on air moving, suction, heating or ventilation, once all four questions are answered by somebody named.

    'yes' needs it dealt with, on record. Refused says which question is open and what comes next. NotFound for other kinds.
    """
    if kind not in CAUTIONS:
        raise NotFound(
            "There is no advice of this kind", got=repr(kind), wanted=", ".join(CAUTIONS), next_step="name one of them"
        )
    rests_on = []
    for field, (question, gate) in QUESTIONS.items():
        answer: Answer = getattr(answers, field)
        _require_answered(kind, field, question, gate, answer)
        record = f", {answer.reference.strip()}" if answer.reference.strip() else ""
        rests_on.append(f"{question} {answer.state}, by {answer.by.strip()}{record}")
    return Advice(kind, f"{kind}: {CAUTIONS[kind]}. {UNDER_EVERY_GATE}", tuple(rests_on))


def _require_answered(kind: str, field: str, question: str, gate: str, answer: Answer) -> None:
    if answer.state not in ("no", "yes", DEALT_WITH):
        raise Refused(
            f"No advice on {kind} before this is answered: {question}",
            got=repr(answer.state),
            wanted="'no', or 'dealt with' and the record of it",
            next_step=f"ask and look, then record who says so; if yes: {GATES[gate].stop}",
        )
    if not answer.by.strip():
        raise Refused(
            f"No advice on {kind}: nobody stands by the answer to: {question}",
            got=f"{answer.state!r} by nobody",
            wanted="a name",
            next_step="record who looked and when",
        )
    if answer.state == "yes":
        foul = field in ("foul_water", "visible_mould")
        order = f"order of work: {'; '.join(FOUL_WATER_ORDER)}" if foul else GATES[gate].stop
        why = f" ({SPREADS})" if foul else ""
        raise Refused(
            f"No advice on {kind} while this stands at yes: {question}{why}",
            got=f"yes, by {answer.by.strip()}",
            wanted=GATES[gate].asks,
            next_step=order,
        )
    if answer.state == DEALT_WITH and not answer.reference.strip():
        raise Refused(
            f"No advice on {kind}: 'dealt with' without a record answers nothing: {question}",
            got="no reference",
            wanted=GATES[gate].asks,
            next_step="name the record: what was done, its result and its date",
        )


def sealed_extraction(decided_by: str, competence: str, recorded_in: str, answers: Answers) -> str:
    """Sealed extraction in a foul place: a sentence on the decision that a competent person took, never a decision of ours.

    Fabric that could hold damaged asbestos and open flues must be answered as for any other air moved. Refused, InputError.
    """
    for field in ("damaged_asbestos", "open_flue"):
        question, gate = QUESTIONS[field]
        _require_answered("sealed extraction", field, question, gate, getattr(answers, field))
    if not (decided_by.strip() and competence.strip() and recorded_in.strip()):
        raise Refused(
            f"Sealed extraction from a foul place needs the recorded decision of a competent person: {SPREADS}",
            got=f"by {decided_by!r}, competence {competence!r}, record {recorded_in!r}",
            wanted="who decided, in what he is competent, and where it is recorded",
            next_step=f"have it decided and recorded, or keep to the order of work: {'; '.join(FOUL_WATER_ORDER)}",
        )
    return (
        f"sealed extraction on the decision of {decided_by.strip()} ({competence.strip()}), recorded in {recorded_in.strip()};"
        f" exhaust outdoors, away from people and openings; {NOT_A_HYGIENE_CLEARANCE}. {UNDER_EVERY_GATE}"
    )


def hygiene_note(foul_water: Answer, clearance: str) -> str:
    """What a statement of dryness must say of hygiene; clearance: the reference attached, '' for none."""
    if clearance.strip():
        return f"hygiene: see {clearance.strip()}, which desorb has not checked"
    if foul_water.state == "no" and foul_water.by.strip():
        return f"{NOT_A_HYGIENE_CLEARANCE}; water recorded as not foul by {foul_water.by.strip()}"
    return f"{NOT_A_HYGIENE_CLEARANCE}: none is attached, and the water was not recorded as clean"


@dataclass(frozen=True, slots=True)
class RoomGuard:
    """An unaffected room. surface_humidity [%]; hours_above: hours logged above the criterion, None without a log."""

    surface_humidity: float
    warns: bool
    hours_above: float | None
    words: str
    next_step: str


def unaffected_room(
    air: AirState, coldest_surface: float | None, log: Log | None = None, criterion: float = SURFACE_CRITERION
) -> RoomGuard:
    """Is a room that was never wet being harmed? air, its coldest surface [degC], log of humidity AT that surface, [%]

    Above the criterion (80 %, [ISO-13788]) it warns; days in a row there bring mould. InputError without a surface.
    """
    limit = figure(criterion, "surface criterion", 50.0, 100.0, "%")
    if coldest_surface is None:
        raise InputError(
            "Without the coldest surface nothing can be said of an unaffected room",
            got="no surface temperature",
            wanted="degC of the coldest surface",
            next_step="find it (corners, behind furniture, window reveals) and measure it",
        )
    humidity = surface_relative_humidity(air.vapour_pressure, coldest_surface)
    logged = hours_above(log, limit).hours if log is not None else None
    counted = f"; {logged:g} h logged above {limit:g} %" if logged is not None else "; no log of hours above it yet"
    shown = (
        f"air with a dew point of {air.dew_point:.1f} degC at {coldest_surface:g} degC stands at {humidity:.0f} % there"
    )
    if humidity > limit:
        return RoomGuard(
            humidity, True, logged, f"warning: {shown}, above {limit:g} %{counted}",
            "close this room off from the wet ones, exhaust the moist air at its source, or warm this room, once the questions"
            " before moving and heating air are answered; read again tomorrow",
        )  # fmt: skip
    return RoomGuard(
        humidity, False, logged, f"{shown}, not above {limit:g} %{counted}",
        "read it again at every visit: the air of the wet rooms reaches it",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class OverDrying:
    """Timber against its range in service, % of dry mass. state: below, near, within or above."""

    state: str
    words: str
    next_step: str


def over_drying(moisture_content: float, heating: str, air_temperature: float, relative_humidity: float) -> OverDrying:
    """Is a timber floor dried below what it will hold in service? [%, corrected], how heated, air now [degC], [% RH]

    heating: a key of SERVICE_RANGES. near: within one point above the lower end (setting of ours), or the air now would
    take it below. InputError, OutOfRange.
    """
    if heating not in SERVICE_RANGES:
        raise NotFound(
            "No range in service is known for this heating",
            got=repr(heating),
            wanted=", ".join(SERVICE_RANGES),
            next_step="ask how the building is heated in use",
        )
    wood = figure(moisture_content, "moisture content", 2.0, 60.0, "% of dry mass")
    low, high, source = SERVICE_RANGES[heating]
    held = held_in_air(air_temperature, relative_humidity)
    shown = f"{wood:g} % against {low:g} to {high:g} % in service ({heating}; {source}); the air now holds wood near {held:.1f} %"
    if wood < low:
        return OverDrying(
            "below", f"{shown}: it is drier than it will be in service and shrinks, gaps or splits",
            "stop warm and dry air at this timber and let it come back slowly; do not fit or sand it now",
        )  # fmt: skip
    if wood < low + 1 or (wood <= high and held < low):
        return OverDrying(
            "near", f"{shown}: this air would take it below",
            "ease off before the next visit: less heat, a higher humidity, or shield the timber",
        )  # fmt: skip
    if wood <= high:
        return OverDrying("within", f"{shown}", "keep the air where it holds this range, and read again")
    return OverDrying("above", f"{shown}", "go on slowly, and set the air for the range in service, not drier")
