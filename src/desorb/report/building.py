"""The first two questions: what could hurt someone here, and what is it made of?

Contents: hurt (gates, hazards, answers, origin of the water); made_of (zones, constructions with their layers, spots,
rooms of the plan); offsets_in_words. Plain data; every row carries the id of its entry.
"""

from __future__ import annotations

from typing import Any

from desorb.core.case import latest_by_id
from desorb.core.gates import GATES, NOT_A_CLEARANCE, UNDER_EVERY_GATE
from desorb.core.kinds import Spot
from desorb.core.outcome import GateState
from desorb.report.lookup import Lookup

BRACKETS = {"not answered": "[ ]", "evidence recorded": "[e]", "stop": "[x]"}
FEW_ZONES = 2  # above it zones stand by their ids


def hurt(look: Lookup) -> dict[str, Any]:
    """Gates on arrival and before the next steps, and everything that was put forward about them."""
    case = look.case
    return {
        "gates": [gate_row(state, look) for state in look.assessed.gates],
        "gates_of_next_steps": [gate_row(state, look) for state in gates_of_next_steps(look)],
        "hazards": [
            {
                "entry": entered.entry, "gate": entered.record.gate, "zone": entered.record.zone,
                "place": look.zone_words(entered.record.zone) or "the site", "words": entered.record.words,
                "depth_mm": entered.record.depth_mm, "area_m2": entered.record.area_m2, "at": entered.record.at,
                "by": entered.record.by, "told_to": entered.record.told_to,
            }
            for entered in case.hazards
        ],
        "answers": [
            {
                "entry": entered.entry, "gate": entered.record.gate, "zones": list(entered.record.zones),
                "places": [
                    look.zone_words(zone) if len(entered.record.zones) <= FEW_ZONES else zone
                    for zone in entered.record.zones
                ],
                "materials": list(entered.record.materials), "reference": entered.record.reference,
                "by": entered.record.by, "competence": entered.record.competence, "for_what": entered.record.for_what,
                "result": entered.record.result, "at": entered.record.at,
                "wish_to_override": entered.record.wish_to_override,
            }
            for entered in case.gate_answers
        ],
        "water_origins": [
            {
                "entry": entered.entry, "zone": entered.record.zone,
                "place": look.zone_words(entered.record.zone) or "the site", "origin": entered.record.origin,
                "words": entered.record.words, "visible_mould": entered.record.visible_mould, "at": entered.record.at,
                "by": entered.record.by,
            }
            for entered in case.water_origins
        ],
        "under_every_gate": UNDER_EVERY_GATE,
        "not_a_clearance": NOT_A_CLEARANCE,
    }  # fmt: skip


def gates_of_next_steps(look: Lookup) -> list[GateState]:
    """The gates that the next tests meet, each state once."""
    states: dict[tuple[str, str, str, str], GateState] = {}
    for assessment in look.assessed.all:
        for state in assessment.gates:
            states.setdefault((state.gate, state.zone, state.state, state.words), state)
    known = set(look.assessed.gates)
    return [state for state in states.values() if state not in known]


def gate_row(state: GateState, look: Lookup) -> dict[str, Any]:
    zone = state.zone
    place = zone if ", " in zone else look.zone_words(zone)  # many zones stand by their ids
    return {
        "gate": state.gate, "question": GATES[state.gate].question if state.gate in GATES else state.gate,
        "bracket": BRACKETS.get(state.state, "[ ]"), "state": state.state, "zone": zone,
        "place": place or "the site", "words": state.words, "evidence": list(state.evidence),
        "asks": state.asks, "entries": list(state.entries),
    }  # fmt: skip


def made_of(look: Lookup) -> dict[str, Any]:
    """Zones, constructions with their layers and how each layer is known, and the spots."""
    return {
        "zones": [
            {
                "entry": entered.entry, "id": entered.record.id, "words": entered.record.words,
                "construction": entered.record.construction, "exposure": entered.record.exposure,
                "affected": entered.record.affected, "outline": list(entered.record.outline),
            }
            for entered in look.zones.values()
        ],
        "constructions": [
            {
                "entry": entered.entry, "id": entered.record.id, "words": entered.record.words,
                "material": entered.record.material, "built": entered.record.built,
                "risks": list(entered.record.risks),
                "layers": [
                    {"words": layer.words, "thickness_mm": layer.thickness_mm, "evidence": layer.evidence}
                    for layer in entered.record.layers
                ],
            }
            for entered in look.constructions.values()
        ],
        "spots": [
            {
                "entry": entered.entry, "id": entered.record.id, "zone": entered.record.zone,
                "place": look.place(entered.record.zone, entered.record.element), "element": entered.record.element,
                "role": entered.record.role, "words": entered.record.words, "x": entered.record.x, "y": entered.record.y,
                "height": entered.record.height, "why_unaffected": entered.record.why_unaffected,
                "offset_a": entered.record.offset_a, "offset_a_from": entered.record.offset_a_from,
                "offset_b": entered.record.offset_b, "offset_b_from": entered.record.offset_b_from,
                "offsets": offsets_in_words(entered.record),
            }
            for entered in look.spots.values()
        ],
        "rooms": [
            {
                "entry": entered.entry, "id": entered.record.id, "words": entered.record.words,
                "outline": list(entered.record.outline), "height": entered.record.height, "by": entered.record.by,
                "openings": [
                    {"kind": gap.kind, "wall": gap.wall, "start": gap.start, "width": gap.width, "words": gap.words}
                    for gap in entered.record.openings
                ],
            }
            for entered in latest_by_id(look.case.rooms).values()
        ],
    }  # fmt: skip


def offsets_in_words(spot: Spot) -> str:
    """How a spot is found again: two distances and the height."""
    parts = [
        f"{distance} m from {origin or 'a point that was not named'}"
        for distance, origin in ((spot.offset_a, spot.offset_a_from), (spot.offset_b, spot.offset_b_from))
        if distance
    ]
    if parts and spot.height:
        parts.append(f"{spot.height} m above the floor")
    return ", ".join(parts)
