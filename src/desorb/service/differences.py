"""What changed since the last visit: spots, air, units, kit, and what was not read. Also as a text that is ready to send.

Contents: VisitDifference; since_last_visit (or between two visits that are named); summary_of (the plain text).
"""

from __future__ import annotations

import contextlib
from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from desorb.core.case import Case, Entered
from desorb.core.condensation import AirLine
from desorb.core.kinds import GONE, UnitReading, Visit
from desorb.core.typed import read_value
from desorb.core.visit_change import CHANGED, FIRST, NOT_READ, SAME, SpotChange, visit_changes
from desorb.errors import NotFound, NotUnderstood
from desorb.report.lookup import Lookup
from desorb.report.words import counted, day, instant, listed, shown
from desorb.service.standing import AsItStands

MOST_NAMED = 12


@dataclass(frozen=True, slots=True)
class VisitDifference:
    """Between two visits. `earlier` is '' when there was only one."""

    earlier: str
    earlier_at: str
    later: str
    later_at: str
    changed: tuple[SpotChange, ...]
    same: tuple[SpotChange, ...]
    not_comparable: tuple[SpotChange, ...]
    first: tuple[SpotChange, ...]
    not_read: tuple[SpotChange, ...]
    air: tuple[str, ...]
    air_missing: tuple[str, ...]
    units: tuple[str, ...]
    units_missing: tuple[str, ...]
    kit: tuple[str, ...]
    hazards: tuple[str, ...]
    not_done: tuple[str, ...]
    line: str
    summary: str


def since_last_visit(found: AsItStands, earlier: str = "", later: str = "") -> VisitDifference:
    """From the visit before the last to the last one, or between the two that are named. Raises NotFound."""
    look, case = found.look, found.case
    ordered = list(look.visits)
    for name in (earlier, later):
        if name and name not in look.visits:
            raise NotFound("there is no such visit in this case", got=name, wanted=listed(ordered) or "none yet")
    later = later or (ordered[-1] if ordered else "")
    before = [visit for visit in ordered if look.order[visit] < look.order.get(later, 0)]
    earlier = earlier or (before[-1] if before else "")
    changes = visit_changes(found.assessed.evidence, case, earlier, later) if later else []
    groups: dict[str, list[SpotChange]] = {"changed": [], "same": [], "other": [], "first": [], "not read": []}
    names = {SAME: "same", FIRST: "first", NOT_READ: "not read", **dict.fromkeys(CHANGED, "changed")}
    for change in changes:
        groups[names.get(change.change, "other")].append(change)
    air, air_missing = _air(found, earlier, later)
    units, units_missing = _units(case, earlier, later)
    made = VisitDifference(
        earlier, _begun(look.visits.get(earlier)), later, _begun(look.visits.get(later)), tuple(groups["changed"]),
        tuple(groups["same"]), tuple(groups["other"]), tuple(groups["first"]), tuple(groups["not read"]), tuple(air),
        tuple(air_missing), tuple(units), tuple(units_missing), tuple(_kit(found, earlier, later)),
        tuple(_hazards(found, earlier, later)), tuple(_not_done(case, later)), "", "",
    )  # fmt: skip
    return _with_words(made, found)


def _begun(entered: Entered[Visit] | None) -> str:
    return entered.record.begun_at if entered else ""


def _between(found: AsItStands, earlier: str, later: str, at: str) -> bool:
    """After the earlier visit began, and before the one after the later visit did."""
    visits, moment = found.look.visits, instant(at)
    start, following = instant(_begun(visits.get(earlier))), _following(found.look, later)
    if moment is None or start is None:
        return False
    end = instant(_begun(visits.get(following))) if following else None
    return _stamp(start) < _stamp(moment) and (end is None or _stamp(moment) <= _stamp(end))


def _stamp(moment: datetime) -> float:
    return moment.timestamp()


def _following(look: Lookup, visit: str) -> str:
    after = [name for name in look.visits if look.order[name] > look.order.get(visit, 0)]
    return after[0] if after else ""


def _air(found: AsItStands, earlier: str, later: str) -> tuple[list[str], list[str]]:
    """Figures side by side; no threshold says what is much."""
    then, now = _air_of(found, earlier), _air_of(found, later)
    said = []
    for place, line in now.items():
        reading, before = line.entered.record, then.get(place)
        figures = f"{reading.temperature} °C, {reading.relative_humidity} % RH"
        ratio = _ratio(line)
        if before is None:
            said.append(f"{place} ({reading.kind}): {figures}{ratio}; no reading of the visit before")
            continue
        old = before.entered.record
        said.append(
            f"{place} ({reading.kind}): {figures}{ratio}; before it was {old.temperature} °C, {old.relative_humidity} % RH"
            f"{_ratio(before)}"
        )
    return said, [f"{place}: air not read in visit {later}" for place in then if place not in now]


def _air_of(found: AsItStands, visit: str) -> dict[str, AirLine]:
    return {line.entered.record.place: line for line in found.assessed.air if line.entered.record.visit == visit}


def _ratio(line: AirLine) -> str:
    return f", {shown(float(line.state.humidity_ratio), 1)} g/kg dry air" if line.state is not None else ""


def _units(case: Case, earlier: str, later: str) -> tuple[list[str], list[str]]:
    """Hours, litres and energy of each unit in the later visit, beside the counters of the earlier one."""
    then = {each.record.unit: each.record for each in case.unit_readings if each.record.visit == earlier}
    now = {each.record.unit: each.record for each in case.unit_readings if each.record.visit == later}
    said = []
    for unit, record in now.items():
        before = then.get(unit)
        parts = [f"collected {record.collected} L since the visit before"] if record.collected else []
        parts += [_counter(name, unit_word, record, before) for name, unit_word in (("hours", "h"), ("energy", "kWh"))]
        parts += [_collected_in_all(case, unit, later)]
        said.append(f"{unit}: {'; '.join(part for part in parts if part) or 'no counter was written down'}")
    last = {each.record.unit: each.record.change for each in case.unit_changes}
    standing = {unit for unit, change in last.items() if change not in GONE}
    return said, [f"{unit}: counters not read in visit {later}" for unit in sorted(standing - set(now))]


def _collected_in_all(case: Case, unit: str, later: str) -> str:
    """Litres of all visits up to this one. A visit that wrote none down is counted out in words."""
    order = case.visit_order()
    until = order.get(later, -1)
    read = [
        each.record
        for each in case.unit_readings
        if each.record.unit == unit and order.get(each.record.visit, 0) <= until
    ]
    litres = []
    for each in read:
        with contextlib.suppress(NotUnderstood):
            litres.append(read_value(each.collected).number)
    if len(litres) < 2:
        return ""
    without = len(read) - len(litres)
    gap = f", {counted(without, 'visit')} without a figure left out" if without else ""
    return f"{sum(litres)} L in all at {counted(len(litres), 'visit')}{gap}"


def _counter(name: str, unit: str, record: UnitReading, before: UnitReading | None) -> str:
    text = getattr(record, name)
    if not text:
        return ""
    words = {"hours": "hour meter", "energy": "energy meter"}[name]
    try:
        ran = read_value(text).number - read_value(getattr(before, name, "")).number
    except NotUnderstood:
        return f"{words} {text} {unit}"
    if ran < 0:
        return f"{words} {text} {unit}, lower than before ({getattr(before, name)}): read it again or say why"
    return f"{words} {text} {unit}, {ran} {unit} more than at visit {before.visit if before else ''}"


def _kit(found: AsItStands, earlier: str, later: str) -> list[str]:
    return [
        f"{change.unit} ({change.type}) {change.change}, {found.look.zone_words(change.zone)}, {day(change.at)}"
        + (f": {change.words}" if change.words else "")
        for change in (entered.record for entered in found.case.unit_changes)
        if _between(found, earlier, later, change.at)
    ]


def _hazards(found: AsItStands, earlier: str, later: str) -> list[str]:
    return [
        f"{hazard.gate}, {found.look.zone_words(hazard.zone) or 'the site'}: {hazard.words}"
        for hazard in (entered.record for entered in found.case.hazards)
        if _between(found, earlier, later, hazard.at)
    ]


def _not_done(case: Case, later: str) -> list[str]:
    return [f"{each.record.words}: {each.record.reason}" for each in case.not_done if each.record.visit == later]


def _with_words(made: VisitDifference, found: AsItStands) -> VisitDifference:
    from dataclasses import replace

    return replace(made, line=_line(made), summary=summary_of(made, found))


def _line(made: VisitDifference) -> str:
    """One line for the case page."""
    if not made.later:
        return "No visit was begun yet."
    if not made.earlier:
        return f"Visit {made.later} is the only one: there is no earlier visit to compare with."
    kinds = Counter(change.change for change in made.changed)
    parts = [
        f"{counted(count, 'spot')} {kind.replace('reads', 'read') if count > 1 else kind}"
        for kind, count in kinds.items()
    ]
    parts += [f"{counted(len(made.same), 'spot')} within repeatability"] if made.same else []
    parts += [f"{counted(len(made.not_comparable), 'spot')} cannot be compared"] if made.not_comparable else []
    parts += [f"{counted(len(made.not_read), 'spot')} not read"] if made.not_read else []
    parts += [f"{counted(len(made.kit), 'change')} of drying units"] if made.kit else []
    return f"Since visit {made.earlier} ({day(made.earlier_at)}): {', '.join(parts) or 'nothing was read again'}."


def summary_of(made: VisitDifference, found: AsItStands) -> str:
    """Plain text for a message: what changed, what did not, what was not done. It states nothing about dryness."""
    opened = found.case.opened.record if found.case.opened else None
    lines = [f"{opened.name if opened else found.open.name}, {opened.site if opened else ''}".rstrip(", ")]
    if opened and opened.invented:
        lines.append("Invented data: a demonstration, no real building.")
    lines += [f"Visit {made.later} of {day(made.later_at)}" if made.later else "No visit yet", ""]
    lines.append(_line(made))
    for title, rows in (
        ("Changed by more than repeatability", [f"{each.spot}: {each.words}" for each in made.changed]),
        ("Cannot be compared", [f"{each.spot}: {each.words}" for each in made.not_comparable]),
        ("Read for the first time", [f"{each.spot}: {each.after}" for each in made.first]),
        ("Within repeatability", [listed([each.spot for each in made.same], MOST_NAMED)] if made.same else []),
        ("Not read", [f"{each.spot}: {each.words}" for each in made.not_read]),
        ("Air", [*made.air, *made.air_missing]),
        ("Drying units", [*made.units, *made.units_missing]),
        ("Units set, moved or taken away", list(made.kit)),
        ("Seen that could hurt someone", list(made.hazards)),
        ("Not done", list(made.not_done)),
    ):
        if rows:
            lines += ["", f"{title}:", *(f"- {row}" for row in rows[:MOST_NAMED])]
            if len(rows) > MOST_NAMED:
                lines.append(f"- and {len(rows) - MOST_NAMED} more")
    lines += ["", "A change of a reading is no statement about dryness. Status and limits stand in the assessments."]
    return "\n".join(lines)
