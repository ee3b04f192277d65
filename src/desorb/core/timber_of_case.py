"""What pin readings say of the timber of a case: decay risk in words of risk, what the air around it holds it at, depth.

Contents: timber_shown. Nothing here names a fungus or says that rot is present: a competent person inspects.
"""

from __future__ import annotations

from desorb.core.case import Case, latest_by_id
from desorb.core.condensation import AirLine, air_lines
from desorb.core.evidence import Evidence, evidence_of
from desorb.core.shown import Shown, Table
from desorb.core.timber import GENERIC_SCATTER
from desorb.core.typed import read_figure
from desorb.core.wood_in_air import DECAY_RISK, WoodReading, decay_risk, held_in_air
from desorb.errors import DesorbError, sentence

TIMBER = "timber"
ORDER = ("risk", "cannot say", "no sign of risk")
DECAY = ("spot", "last value", "visit", "correction", "decay", "why", "next")
DEPTHS = ("spot", "visit", "depth, mm", "value", "against the shallowest")


def timber_shown(case: Case) -> tuple[Shown, ...]:
    """One for each element read by pins in wood."""
    elements: dict[tuple[str, str], list[Evidence]] = {}
    for each in sorted(evidence_of(case)[0], key=lambda each: (each.taken, each.entered.order)):
        if each.scale.material == "wood" and each.scale.claims == "measured" and not each.is_control:
            elements.setdefault((each.zone.id, each.spot.element), []).append(each)
    lines = air_lines(case) if elements else []
    return tuple(_shown(case, zone, element, readings, lines) for (zone, element), readings in elements.items())


def _shown(case: Case, zone: str, element: str, readings: list[Evidence], lines: list[AirLine]) -> Shown:
    spots: dict[str, list[Evidence]] = {}
    for each in readings:
        spots.setdefault(each.spot.id, []).append(each)
    rows, states, steps = [], [], []
    for spot, of_spot in spots.items():
        risk = decay_risk([
            WoodReading(float(each.value), each.taken, each.correction == "corrected", each.entered.entry) for each in of_spot
        ])  # fmt: skip
        last = of_spot[-1]
        states.append(risk.state)
        steps.append(risk.next_step)
        rows.append(
            (spot, last.text(), last.reading.visit, last.correction_words, risk.state, risk.words, risk.next_step)
        )
    worst = min(states, key=ORDER.index)
    counted = "; ".join(f"{states.count(state)} {state}" for state in ORDER if state in states)
    tables = [Table(DECAY, tuple(rows))]
    if depths := _depths(spots):
        tables.append(Table(DEPTHS, depths))
    notes = [
        f"Decay risk means {DECAY_RISK:g} % or more at two visits a week or more apart. It is a risk and no finding of rot.",
        "Readings are never joined to one mean over depth.",
        *_air(lines, zone, readings[-1].reading.visit),
    ]
    known = latest_by_id(case.zones)
    return Shown(
        kind=TIMBER, id=f"{zone}/{element}", title=f"Timber: {element}, {known[zone].record.words or zone}", zone=zone,
        status=f"decay: {worst}", words=f"Decay by spot: {counted}.", tables=tuple(tables), notes=tuple(notes),
        next_steps=tuple(dict.fromkeys(steps)), rests_on=tuple(each.entered.entry for each in readings),
    )  # fmt: skip


def _air(lines: list[AirLine], zone: str, visit: str) -> list[str]:
    """What each air of the visit holds timber at. Which of them is the air around this timber is the reader's to say."""
    words = []
    for line in lines:
        reading = line.entered.record
        if reading.visit != visit or reading.kind not in ("affected", "unaffected", "void"):
            continue
        try:
            held = held_in_air(read_figure(reading.temperature), read_figure(reading.relative_humidity))
        except (DesorbError, ValueError) as problem:
            words.append(f"Air of {reading.place}: {sentence(problem)}.")
            continue
        words.append(
            f"Air of {reading.place} ({reading.temperature} degC, {reading.relative_humidity} %, visit {visit}) holds timber near"
            f" {held:.1f} % of dry mass, {GENERIC_SCATTER[0]:g} to {GENERIC_SCATTER[1]:g} points about it by species."
        )
    return words or [f"No air was read in {zone} at visit {visit}: what it holds timber at is not known."]


def _depths(spots: dict[str, list[Evidence]]) -> tuple[tuple[str, ...], ...]:
    """Spots that were read at two depths or more in one visit: each depth, and how far it lies from the shallowest."""
    rows = []
    for spot, readings in spots.items():
        visits: dict[str, dict[tuple[str, str], Evidence]] = {}
        for each in readings:
            if each.reading.depth_from:
                visits.setdefault(each.reading.visit, {})[each.depth_class] = each
        for visit, by_depth in visits.items():
            if len(by_depth) < 2:
                continue
            ordered = sorted(by_depth.values(), key=lambda each: read_figure(each.reading.depth_from))
            for each in ordered:
                apart = each.value - ordered[0].value
                said = "" if each is ordered[0] else f"{abs(apart)} points {'wetter' if apart > 0 else 'drier'}"
                if each.bound or ordered[0].bound:
                    said = "a value at an end of its scale shows no difference"
                rows.append((spot, visit, "-".join(filter(None, each.depth_class)), each.text(), said))
    return tuple(rows)
