"""Gates: what must be answered with evidence before someone enters, disturbs, energises or moves air.

Contents: the gates as data (GATES); which gates an action meets (GATES_OF_ACTION); gate_state (one gate, one place);
gates_for (an action at a place); arrival_gates (what could hurt someone here?); water_load.
A gate is not answered, has evidence recorded (by whom, for what), or says stop. It is never opened by desorb: under
every gate stands UNDER_EVERY_GATE. Local codes and licensed practice decide; the sentences are prompts to a competent
person (common practice, no source, unless a key stands beside them).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.kinds import RUNS, Construction, GateAnswer, Hazard, WaterOrigin
from desorb.core.outcome import GateState

NOT_ANSWERED, EVIDENCE, STOP = "not answered", "evidence recorded", "stop"
UNDER_EVERY_GATE = "desorb has not checked this evidence and gives no permission; a competent person on site decides."
MOVES_AIR = ("air mover", "blower", "fan", "extraction", "suction", "heater")  # words in the type of a unit
DENSITY_OF_WATER = 1000  # kg/m3, rounded
NOT_A_CLEARANCE = "not an electrical, structural, hygiene or asbestos clearance"


@dataclass(frozen=True, slots=True)
class Gate:
    key: str
    question: str
    asks: str  # the evidence that answers it
    stop: str  # what to do when the hazard is there


GATES = {
    gate.key: gate
    for gate in (
        Gate(
            "electricity",
            "Is water near anything electrical?",
            "isolation recorded, and the circuits tested by a competent electrician before they are energised",
            "keep out of the water; have a competent electrician isolate and test before anything is energised",
        ),
        Gate(
            "gas",
            "Is there a smell of gas, a fuel-burning appliance or an open flue?",
            "a check of appliances and flues by a registered gas engineer, before air is moved",
            "leave, open nothing electrical, call the gas emergency service and a registered engineer",
        ),
        Gate(
            "structure",
            "Does anything bulge, sag, lean or carry more water than it should?",
            "an inspection by a competent person, with what was found and what was propped or drained",
            "keep out from under it until a competent person has inspected, propped or drained it",
        ),
        Gate(
            "foul water",
            "Is the water foul, or is mould visible?",
            "a record that fouled material was taken out and the place cleaned, with a hygiene result",
            "move no air; order of work: make safe, take out fouled porous finishes, clean, verify hygiene, then move air",
        ),
        Gate(
            "asbestos",
            "Could the fabric hold asbestos?",
            "a suitable survey, or a sample result with reference, that covers this material at this place",
            "stop, keep out, do not sweep or ventilate, tell the person responsible for the building",
        ),
        Gate(
            "lead paint",
            "Could the paint hold lead?",
            "a paint test result with reference for this coating, before it is abraded or heated",
            "do not abrade or burn; keep children out; ask a competent person",
        ),
        Gate(
            "services",
            "Are cables, pipes or heating loops in the way?",
            "a trace of cables and pipes (in heated floors the pipe map), and for tensioned slabs or gas barriers"
            " the word of the engineer responsible",
            "do not drill or pin; trace the services first",
        ),
        Gate(
            "consent",
            "Who allows marks or opening up?",
            "consent in writing: who, when, how far",
            "do not mark, pin or open",
        ),
        Gate(
            "heritage",
            "Is the building listed or protected?",
            "the consent of the heritage authority, or its word that none is needed",
            "do not open or drill",
        ),
    )
}

OF_A_MATERIAL = ("asbestos", "lead paint")
GATES_OF_ACTION = {
    "enter": ("electricity", "gas", "structure"),
    "read": (),
    "pin": ("asbestos", "services", "consent", "heritage"),
    "lift a covering": ("asbestos", "consent", "heritage"),
    "abrade": ("asbestos", "lead paint", "consent", "heritage"),
    "drill": ("asbestos", "services", "consent", "heritage"),
    "take a sample": ("asbestos", "services", "consent", "heritage"),
    "carbide test": ("asbestos", "services", "consent", "heritage"),
    "move air": ("foul water", "asbestos", "gas"),
    "energise": ("electricity",),
}


def gate_state(gate: str, zone: str, material: str, case: Case) -> GateState:
    """The state of one gate at one place, for the material that would be disturbed ('' when it does not matter).

    The latest word counts: a hazard seen after the evidence says stop again, until evidence of that hazard. Evidence of one
    place or material says nothing of another. A wish to override is kept, and the gate stays not answered.
    """
    words: list[tuple[int, Entered[Hazard] | Entered[GateAnswer] | Entered[WaterOrigin]]] = [
        (hazard.order, hazard)
        for hazard in case.hazards
        if hazard.record.gate == gate and hazard.record.zone in ("", zone)
    ]
    words += [
        (origin.order, origin)
        for origin in case.water_origins
        if gate == "foul water" and origin.record.zone in ("", zone) and _is_foul(origin.record)
    ]
    words += [
        (answer.order, answer)
        for answer in case.gate_answers
        if answer.record.gate == gate and zone in answer.record.zones and is_evidence(answer.record)
    ]
    stops: list[tuple[Hazard | WaterOrigin, GateState]] = []  # what was seen and is not answered since
    state, seen = _standing(gate, zone, material, case), None
    for _, word in sorted(words, key=lambda each: each[0]):
        record = word.record
        if isinstance(record, Hazard):
            seen = record
            stops.append((record, _stopped(gate, zone, record, word.entry)))
        elif isinstance(record, WaterOrigin):
            stops.append((record, replace(_foul_state(record, zone), entries=(word.entry,))))
        else:
            stops = [each for each in (_answered(*stop, record) for stop in stops) if each is not None]
            if _bears_on(record, material):
                evidence = f"{record.result}; {record.reference}; by {record.by}, for {record.for_what}, {record.at}"
                state = GateState(
                    gate, EVIDENCE, zone, _evidence_words(record, seen), (evidence,), GATES[gate].asks, (word.entry,)
                )
    return stops[-1][1] if stops else state


def _stopped(gate: str, zone: str, seen: Hazard, entry: str) -> GateState:
    words = f"{seen.words} (seen {seen.at}): {GATES[gate].stop}{water_load(seen)}"
    return GateState(gate, STOP, zone, words, asks=GATES[gate].asks, entries=(entry,))


def _answered(
    seen: Hazard | WaterOrigin, state: GateState, answer: GateAnswer
) -> tuple[Hazard | WaterOrigin, GateState] | None:
    """None where the evidence answers what was seen; else the stop as it stands on, with why that evidence does not."""
    if isinstance(seen, Hazard) and answer.gate in OF_A_MATERIAL:
        named = [each.strip() for each in answer.materials if each.strip()]
        if not any(each.casefold() in seen.words.casefold() for each in named):
            of = ", ".join(named) or "no material"
            why = (
                f"evidence for {of} does not speak of it: name what was seen in the words in which it was written down"
            )
            return seen, replace(state, words=f"{state.words}. {why}")
    if _is_older(answer.at, seen.at):
        older = f"evidence of {answer.at} by {answer.by} is older than what was seen and does not answer it"
        return seen, replace(state, words=f"{state.words}. {older}")
    return None


def is_evidence(answer: GateAnswer) -> bool:
    """An answer counts as evidence if it says who, on what document, for what and with what result, and is no override."""
    named = (answer.reference, answer.by, answer.for_what, answer.result)
    return all(part.strip() for part in named) and not answer.wish_to_override


def _evidence_words(answer: GateAnswer, seen: Hazard | None) -> str:
    """Who said what of what, and what had been seen before: evidence is kept, never weighed."""
    before = f"; {seen.words} had been seen {seen.at}" if seen is not None else ""
    return f"{answer.result} ({answer.reference}, by {answer.by} for {answer.for_what}, {answer.at}){before}"


def _is_older(answered: str, seen: str) -> bool:
    try:
        return datetime.fromisoformat(answered) < datetime.fromisoformat(seen)
    except (ValueError, TypeError):  # a time that cannot be compared answers nothing
        return True


def _bears_on(answer: GateAnswer, material: str) -> bool:
    if answer.gate not in OF_A_MATERIAL:
        return True
    tested = {each.strip().casefold() for each in answer.materials}
    return material.strip().casefold() in tested - {""}  # evidence that names no material bears on none


def _standing(gate: str, zone: str, material: str, case: Case) -> GateState:
    """What the gate says before anybody answered it."""
    asks = GATES[gate].asks
    place = f"{material} in {zone}" if material and gate in OF_A_MATERIAL else zone or "the site"
    if gate == "foul water":
        origin = _origin(case, zone)
        if origin is not None and _is_foul(origin):
            return _foul_state(origin, zone)
        if origin is not None and origin.origin in ("clean", "grey") and origin.visible_mould == "no":
            return GateState(
                gate, EVIDENCE, zone, f"origin recorded as {origin.origin}, no visible mould, by {origin.by or 'nobody named'}",
                (f"{origin.words}; {origin.at}; clean water becomes worse with time",), asks,
            )  # fmt: skip
        return GateState(
            gate, NOT_ANSWERED, zone, f"the origin of the water in {place} and mould were not recorded", asks=asks
        )
    if gate == "asbestos":
        return GateState(gate, NOT_ANSWERED, zone, f"{place}: {_asbestos_words(zone, case)}", asks=asks)
    return GateState(gate, NOT_ANSWERED, zone, f"{GATES[gate].question} Nothing is recorded for {place}", asks=asks)


def _is_foul(origin: WaterOrigin) -> bool:
    return origin.origin == "foul" or origin.visible_mould == "yes"


def _foul_state(origin: WaterOrigin, zone: str) -> GateState:
    seen, gate = ("foul water" if origin.origin == "foul" else "visible mould"), GATES["foul water"]
    return GateState(gate.key, STOP, zone, f"{seen} in {zone or 'the site'}: {gate.stop}", asks=gate.asks)


def _asbestos_words(zone: str, case: Case) -> str:
    trigger = case.setting(
        "asbestos trigger year", "2000"
    )  # [CAR2012] trigger of Great Britain; a setting of the place
    construction = _construction(zone, case)
    built = construction.built if construction else ""
    if not built.isdecimal():
        return "year of building unknown: presume that asbestos is possible until a suitable survey or sample says otherwise"
    if not trigger.isdecimal():
        return f"built {built}; the trigger year of this place is set to {trigger!r}: presume that asbestos is possible"
    if int(built) < int(trigger):
        return f"built {built}, before {trigger}: presume that asbestos is possible until a survey or sample says otherwise"
    return (
        f"built {built}: the trigger year of this place is {trigger}, but a later year is not evidence; refurbishment,"
        " old stock and imports stay possible"
    )


def _construction(zone: str, case: Case) -> Construction | None:
    zones = latest_by_id(case.zones)
    constructions = latest_by_id(case.constructions)
    key = zones[zone].record.construction if zone in zones else ""
    return constructions[key].record if key in constructions else None


def _origin(case: Case, zone: str) -> WaterOrigin | None:
    """The worst word on origin counts: a later, milder word does not undo it. Only a hygiene record answers it."""
    words = [entered.record for entered in case.water_origins if entered.record.zone in ("", zone)]
    if not words:
        return None
    rank = {"clean": 0, "grey": 1, "unknown": 2, "foul": 3}
    return max(
        words, key=lambda word: (word.visible_mould == "yes", rank.get(word.origin, 2), word.visible_mould == "no")
    )


def gates_for(action: str, zone: str, material: str, case: Case) -> tuple[GateState, ...]:
    """The gates that an action meets at a place, each with its state."""
    states = [gate_state(gate, zone, material, case) for gate in GATES_OF_ACTION[action]]
    construction = _construction(zone, case)
    if construction and action in ("drill", "take a sample", "carbide test", "pin"):
        for risk in (each.strip().casefold() for each in construction.risks):
            if risk == "tanked":
                states.append(
                    GateState("consent", NOT_ANSWERED, zone, "tanking membrane: a puncture makes a leak", asks="the word of"
                              " the person responsible for the membrane, and how it will be made good")
                )  # fmt: skip
            elif risk in ("heated", "tensioned", "gas barrier"):
                states = [
                    GateState(
                        s.gate,
                        s.state,
                        s.zone,
                        f"{s.words}; this construction is {risk}",
                        s.evidence,
                        s.asks,
                        s.entries,
                    )
                    if s.gate == "services"
                    else s
                    for s in states
                ]
    return tuple(states)


def arrival_gates(case: Case) -> list[GateState]:
    """What could hurt someone here: every stop first, then the gates of entering. Zones with the same word stand together."""
    zones = list(dict.fromkeys([*latest_by_id(case.zones), *_places_of_hazards(case)])) or ["the site"]
    entering = GATES_OF_ACTION["enter"]
    states = [gate_state(gate, zone, "", case) for gate in GATES for zone in zones]
    shown = [state for state in states if state.state == STOP or state.gate in entering]
    together: dict[tuple[object, ...], list[GateState]] = {}
    for state in shown:
        words = state.words if state.state != NOT_ANSWERED else state.state
        together.setdefault((state.gate, state.state, words, state.evidence), []).append(state)
    merged = []
    for members in together.values():
        first = members[0]
        places = "the site" if len(members) == len(zones) else ", ".join(state.zone for state in members)
        words = first.words
        if first.state == NOT_ANSWERED:
            words = f"{GATES[first.gate].question} Nothing is recorded for {places}"
        merged.append(GateState(first.gate, first.state, places, words, first.evidence, first.asks, first.entries))
    order = (STOP, NOT_ANSWERED, EVIDENCE)
    return sorted(merged, key=lambda state: (order.index(state.state), list(GATES).index(state.gate)))


def _places_of_hazards(case: Case) -> list[str]:
    """Places of which a hazard is known, described as zones or not: a stop is never left out for want of a description."""
    named = [entered.record.zone for entered in case.hazards]
    named += [entered.record.zone for entered in case.water_origins if _is_foul(entered.record)]
    return [place for place in named if place]


def air_moved_despite_gate(case: Case) -> list[tuple[str, str, tuple[GateState, ...]]]:
    """Units that move air in a zone whose gates say stop: (entry, sentence, gates). They are recorded, not approved."""
    found = []
    for entered in case.unit_changes:
        change = entered.record
        moves_air = any(word in change.type.casefold() for word in MOVES_AIR)
        stops = tuple(gate for gate in gates_for("move air", change.zone, "", case) if gate.state == STOP)
        if moves_air and stops and change.change in RUNS:
            found.append(
                (
                    entered.entry,
                    f"{change.unit} ({change.type}) was set in {change.zone} on {change.at} while a gate says stop:"
                    f" {'; '.join(gate.words for gate in stops)}. Switch it off until the gate is answered; sealed"
                    " extraction only on the recorded decision of a competent person",
                    stops,
                )
            )
    return found


def water_load(hazard: Hazard) -> str:
    """Estimated load of standing or bulging water: depth x area x density."""
    try:
        kilograms = Decimal(hazard.depth_mm) / 1000 * Decimal(hazard.area_m2) * DENSITY_OF_WATER
    except ArithmeticError:  # no number, or one that is beyond all water
        return ""
    return f"; about {kilograms:.0f} kg of water ({hazard.depth_mm} mm over {hazard.area_m2} m2)"
