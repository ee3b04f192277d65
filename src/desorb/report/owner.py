"""The part for the owner: at most two pages, one plain sentence for each place, no term that is not explained.

Contents: owner_part; the budget of lines that keeps it on two pages; STEPS (the next tests in plain words).
What does not fit is counted and stands in the evidence part: nothing is left out silently, and a stop never is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from desorb.core import explain
from desorb.core.gates import GATES, NOT_A_CLEARANCE, NOT_ANSWERED, STOP
from desorb.core.next_tests import LABORATORY, NOBODY, OCCUPANT, OWNER, work_list
from desorb.core.outcome import ABOVE, CANNOT_SAY, NO_HIGHER, Assessment, GateState
from desorb.core.shown import Shown
from desorb.report.beside import owner_lines
from desorb.report.building import gates_of_next_steps
from desorb.report.comparisons import elements_worst_first
from desorb.report.lookup import Lookup
from desorb.report.words import TIME, counted, day, listed, shortened

SIGNS_ON_A_LINE = 84  # of the main column at the size of the owner part
LINES = {"hurt": 21, "found": 26, "next": 15, "not looked at": 8}  # of about 96 on two pages, with headings and legend
MOST_PLACES = 4
LONGEST_SENTENCE, SHORT_SENTENCE, FEW_STOPS = 330, 70, 3

STEPS = {
    "reread controls": "read the sound places again, on the same day",
    "more controls": "find and read more sound places of the same kind, for comparison",
    "repeat": "read these places again several times",
    "contacts": "clean the contacts of the meter, try it on a place known to be damp, and read again",
    "instrument": "read again with a meter that has passed its check",
    "right scale": "read again with the meter set for this material, or use another method",
    "state a margin": "write down how exact the meter is here, so that it can be compared at all",
    "answer finding": "clear up an open question about the meter, or read again",
    "depth or logging": "find out how far and how deep it goes",
    "bare patch": "clear a small bare patch and read there",
    "lift covering": "lift a small piece of the covering and read what lies below it",
    "hole": "measure the air in a small sealed hole",
    "sample": "drill a small sample, dry it and weigh it",
    "carbide": "test a crushed sample on site",
    "open up": "get to the place that was not reached",
    "read missing": "read the places that were not read this time",
}
PERMISSIONS = {
    NOBODY: "Nobody has to allow it:",
    OCCUPANT: "The occupant has to agree to marks:",
    OWNER: "The owner has to agree to opening up:",
    LABORATORY: "The owner has to agree, and a laboratory is needed:",
}
STATUS_WORDS = {
    ABOVE: "reads higher than a sound part of the same construction",
    CANNOT_SAY: "the meter cannot answer it yet; the next step is named",
    NO_HIGHER: "not higher than the sound part by more than a stated margin",
}
WHAT_IT_IS_NOT = (
    f"It is {NOT_A_CLEARANCE}.",
    "It speaks of the places that were read, on the days given. What lies between and behind them may differ.",
    "A meter shows whether a place reads higher than a sound one. It does not measure how much water there is.",
    "It says nothing of the house as a whole, and it names no cause.",
)
COMPARED = (
    "The meter is read on the places in question and on sound places of the same construction, on the same day. A sound"
    " place read for comparison is called a control. The number alone says nothing: only the comparison does."
)


def owner_part(
    look: Lookup, photos_awaited: int, methods: Sequence[Shown] = (), drying: Sequence[Shown] = ()
) -> dict[str, Any]:
    gates = _hurt(look)
    wanted = {
        "hurt": gates,
        "found": _found(look),
        "next": _steps(look),
        "not looked at": _not_looked_at(look, photos_awaited),
    }
    beside = owner_lines(methods, drying)
    taken = sum(_lines_of({"sentence": words}) for words in beside) + (2 if beside else 0)  # 2: the rule and its space
    room = _room({name: sum(map(_lines_of, items)) for name, items in wanted.items()}, taken)
    stops = sum(item["state"] == STOP for item in gates)
    kept = {name: _fit(items, room[name], stops if name == "hurt" else 1) for name, items in wanted.items()}
    opened = look.case.opened.record if look.case.opened else None
    return {
        "name": shortened(opened.name if opened else "", 120) or look.case.id or "A case without a name",
        "facts": _facts(look),
        "compared": COMPARED,
        "statuses": [{"status": status, "words": words} for status, words in STATUS_WORDS.items()],
        "hurt": kept["hurt"],
        "hurt_left": _left(kept["hurt"], gates, "open question"),
        "found": kept["found"],
        "found_left": _found_left(wanted["found"][len(kept["found"]) :]),
        "next": kept["next"],
        "next_left": _left(kept["next"], wanted["next"], "step"),
        "not_looked_at": kept["not looked at"],
        "not_looked_at_left": _left(kept["not looked at"], wanted["not looked at"], "place"),
        "is_not": list(WHAT_IT_IS_NOT),
        **({"beside": beside} if beside else {}),
    }


def _lines_of(item: dict[str, Any]) -> float:
    text = " ".join(str(item[name]) for name in ("lead", "sentence") if item.get(name))
    return -(-len(text) // SIGNS_ON_A_LINE) + 0.5


def _room(wanted: dict[str, float], taken: float) -> dict[str, float]:
    """Lines for each section: its share, and what the others leave over, in their order. `taken` comes off what was found."""
    shares = LINES | {"found": LINES["found"] - taken}
    room = {name: min(lines, wanted[name]) for name, lines in shares.items()}
    left = sum(shares.values()) - sum(room.values())
    for name in shares:
        more = min(left, wanted[name] - room[name])
        room[name] += more
        left -= more
    return room


def _fit(items: Sequence[dict[str, Any]], lines: float, keep: int) -> list[dict[str, Any]]:
    """As many items as fit into the lines, in their order; the first `keep` in any case."""
    kept: list[dict[str, Any]] = []
    used = 0.0
    for item in items:
        used += _lines_of(item)
        if used > lines and len(kept) >= keep:
            break
        kept.append(item)
    return kept


def _left(kept: Sequence[Any], items: Sequence[Any], what: str) -> str:
    count = len(items) - len(kept)
    return f"{counted(count, f'more {what}')} in the evidence part." if count else ""


def _found_left(rest: Sequence[dict[str, Any]]) -> str:
    """What is left out, by status and by name as far as it goes."""
    groups: dict[str, list[str]] = {}
    for item in rest:
        groups.setdefault(item["status"], []).append(item["lead"])
    said = [f"{status}, {len(names)} more: {shortened('; '.join(names), 120)}" for status, names in groups.items()]
    return f"In the evidence part: {'. '.join(said)}." if said else ""


def _plain(text: str, most: int = LONGEST_SENTENCE) -> str:
    """A sentence with its times in words, not too long."""
    return shortened(TIME.sub(lambda found: day(found.group()), text), most)


def _sentence(text: str) -> str:
    text = text.strip()
    text = text[:1].upper() + text[1:]
    return text if not text or text[-1] in ".?\u2026" else f"{text}."


def _facts(look: Lookup) -> list[dict[str, str]]:
    opened = look.case.opened.record if look.case.opened else None
    days = list(dict.fromkeys(day(entered.record.begun_at) for entered in look.visits.values()))
    people = list(dict.fromkeys(entered.record.by for entered in look.visits.values() if entered.record.by))
    facts = [
        ("Place", opened.site if opened else ""), ("For", opened.client if opened else ""),
        ("Surveyed by", listed(people, 4) or (opened.opened_by if opened else "")),
        ("Days on site", listed(days, 5)), ("Asked", opened.scope if opened else ""),
    ]  # fmt: skip
    return [{"name": name, "words": shortened(words or "not stated", 300)} for name, words in facts]


def _hurt(look: Lookup) -> list[dict[str, Any]]:
    """Stops first, then what nobody answered; equal gates of several places in one sentence."""
    groups: dict[tuple[str, str, str], list[GateState]] = {}
    next_steps = gates_of_next_steps(look)
    for state in [*look.assessed.gates, *next_steps]:
        if state.state in (STOP, NOT_ANSWERED):
            before = "work" if state in next_steps and state.state == NOT_ANSWERED else "entry"
            groups.setdefault((state.state, before, state.gate), []).append(state)
    stops = sum(state == STOP for state, _, _ in groups)
    most = LONGEST_SENTENCE if stops <= FEW_STOPS else SHORT_SENTENCE
    items = []
    for (standing, before, gate), states in sorted(groups.items(), key=lambda pair: (pair[0][0] != STOP, pair[0][1])):
        places = _places([each.zone for each in states], look, MOST_PLACES if standing == STOP else 2)
        if standing == STOP:
            lead, sentence = f"Stop, {places}:", _stop_sentence(gate, states, most)
        else:
            asks = _sentence(_plain(f"It needs: {'; '.join(dict.fromkeys(each.asks for each in states))}"))
            step = " The step that needs it waits for that answer." if before == "work" else ""
            lead, sentence = f"{_question(gate)} {_sentence(f'Not answered, {places}')}", f"{asks}{step}"
        items.append(
            {"state": standing, "lead": lead, "sentence": sentence,
             "entries": [entry for each in states for entry in each.entries]}
        )  # fmt: skip
    return items


def _stop_sentence(gate: str, states: Sequence[GateState], most: int) -> str:
    """What was seen, as short as need be, and what to do, in full."""
    act = GATES[gate].stop if gate in GATES else ""
    seen = [each.words.partition(act)[0].rstrip(" :") if act else each.words for each in states]
    after = [each.words.partition(act)[2] if act else "" for each in states]
    said = _plain("; ".join(dict.fromkeys(seen)), most)
    return _sentence(": ".join(part for part in (said, act) if part) + shortened("".join(dict.fromkeys(after)), 80))


def _places(zones: Sequence[str], look: Lookup, most: int) -> str:
    """'kitchen; hall and 3 more places', each place short enough to read."""
    each = [part for zone in zones for part in ([zone] if zone in look.zones else zone.split(", "))]
    words = [shortened(look.zone_words(zone) or "the site", 50) for zone in dict.fromkeys(each)]
    more = f" and {counted(len(words) - most, 'more place')}" if len(words) > most else ""
    return f"{'; '.join(words[:most])}{more}"


def _question(gate: str) -> str:
    return GATES[gate].question if gate in GATES else f"{gate}?"


def _found(look: Lookup) -> list[dict[str, Any]]:
    """One plain sentence for each element, the worst first."""
    return [
        {"status": each.status, "lead": look.place(each.zone, each.element), "sentence": _element_sentence(each, look),
         "entries": list(each.readings)}
        for each in elements_worst_first(look)
    ]  # fmt: skip


def _element_sentence(element: Assessment, look: Lookup) -> str:
    words = look.zone_words(element.zone)
    sentence = explain.owner_sentence(replace(element, zone=words))
    own = [each for each in look.assessed.spots if (each.zone, each.element) == (element.zone, element.element)]
    if element.status == ABOVE:
        above = [each.id for each in own if each.status == ABOVE]
        sentence += f" It is so at {len(above)} of {len(element.spots)} places read: {listed(above, 6)}."
        if any(each.value_text.startswith("\u2265") for each in own if each.status == ABOVE):
            sentence += " The meter was at the end of its scale there: at least this, we do not know how much more."
    elif element.status == CANNOT_SAY and element.next_test is not None:
        step = STEPS.get(element.next_test.key, element.next_test.words)
        sentence += f" What would settle it: {step}."
        higher = [each.id for each in own if each.status == ABOVE and each.id in element.spots_not_read]
        if higher:
            sentence = f"{listed(higher, 6)} read higher when last read and was not read again. {sentence}"
    elif element.status == NO_HIGHER and element.smallest_pocket is not None:
        sentence += (
            f" {len(element.spots)} places were read; a damp patch of up to {100 * element.smallest_pocket:.0f} % of it could"
            " have been missed."
        )
    last = look.last_visit
    if element.visit and element.visit != last:
        sentence += " It was not read at the last visit."
    return _plain(sentence)


def _steps(look: Lookup) -> list[dict[str, Any]]:
    """The work list in plain words: who has to allow it, what, where, and what it waits for."""
    found: dict[tuple[str, str], tuple[list[str], set[str], str]] = {}
    for permission, items in work_list(look.assessed.all).items():
        for item in items:
            places, waits, _ = found.setdefault((permission, item.test.key), ([], set(), item.test.words))
            places += [
                place for place in dict.fromkeys(_place_of(each, look) for each in item.places) if place not in places
            ]
            waits |= {stopped.partition(":")[0] for stopped in item.stopped_by}
    steps = []
    for (permission, key), (places, waits, words) in found.items():
        sentence = f"{STEPS.get(key, words)} ({listed(places, 4)})."
        if waits:
            sentence += f" Before that, these must be answered: {', '.join(sorted(waits))}."
        steps.append({"lead": PERMISSIONS.get(permission, permission), "sentence": _plain(sentence)})
    return steps


def _place_of(name: str, look: Lookup) -> str:
    """The place of a spot or an element in words."""
    if name in look.spots:
        return look.place_of_spot(name)
    zone, _, element = name.partition("/")
    return look.place(zone, element)


def _not_looked_at(look: Lookup, photos_awaited: int) -> list[dict[str, Any]]:
    items = [
        {"lead": f"{shortened(entered.record.place, 90)}:" if entered.record.place else "",
         "sentence": _plain(" ".join(filter(None, map(_sentence, (entered.record.why, entered.record.effect)))), 260),
         "entries": [entered.entry]}
        for entered in look.case.not_inspected
    ]  # fmt: skip
    for element in look.assessed.elements:
        if element.spots_not_read:
            count = len(element.spots_not_read)
            items.append(
                {"lead": f"{look.place(element.zone, element.element)}:", "entries": [],
                 "sentence": f"{counted(count, 'planned place')} not read at the last visit"
                             f" ({listed(element.spots_not_read, 6)})."}
            )  # fmt: skip
    if not look.case.not_inspected:
        items.append({"lead": "", "sentence": "Nobody wrote down what was not looked at.", "entries": []})
    if photos_awaited:
        items.append(
            {"lead": "", "sentence": f"{counted(photos_awaited, 'photo')} had not arrived yet.", "entries": []}
        )  # fmt: skip
    return items
