"""Keep, dry, strip or clean: the options of each element as they were recorded, beside each other. People decide.

Contents: options_shown.
"""

from __future__ import annotations

from typing import Any

from desorb.core.case import Case, Entered
from desorb.core.drying.keep_or_strip import PEOPLE_DECIDE, CostLine, Decision, Option, compare, drying_cost
from desorb.core.drying_of_case.answers import answers_at
from desorb.core.kinds import DryingOption, OptionCost
from desorb.core.shown import Shown, Table
from desorb.core.typed import read_value
from desorb.errors import DesorbError, sentence

OPTIONS_OF_ELEMENT = "options"
COSTS = ("option", "cost", "amount", "currency", "days", "source")
EVIDENCE = ("option", "evidence", "where", "contamination", "where that is recorded")


def options_shown(case: Case) -> tuple[Shown, ...]:
    """One for each element with an option, a cost or a decision in the record, in the order they were entered."""
    every: list[Entered[Any]] = [*case.drying_options, *case.option_costs, *case.options_taken]
    recorded = sorted(every, key=lambda each: each.order)
    places = dict.fromkeys((each.record.zone, each.record.element) for each in recorded)
    return tuple(_shown(place, case) for place in places)


def _shown(place: tuple[str, str], case: Case) -> Shown:
    name = "/".join(place)
    found = [each for each in case.drying_options if (each.record.zone, each.record.element) == place]
    costs = _last_costs([each for each in case.option_costs if (each.record.zone, each.record.element) == place])
    taken = [each for each in case.options_taken if (each.record.zone, each.record.element) == place]
    decided = taken[-1].record if taken else None
    decision = Decision(decided.option, decided.by, decided.at, decided.reason) if decided else None
    notes = [
        f"Before that: {each.record.option}, by {each.record.by} on {each.record.at}: {each.record.reason}"
        for each in taken[:-1]
    ]
    cautions: tuple[str, ...] = ()
    try:
        compared = compare(name, [_option(key, of_it, costs) for key, of_it in _by_option(found).items()], decision)
        status = f"decided: {decided.option}" if decided else "not decided"
        words = f"{'. '.join(compared.words)}. " + (f"{compared.decision}." if decision else "Not decided.")
        steps: tuple[str, ...] = (compared.next_step,)
        cautions = tuple(
            f"{action}: {words[words.index(mark) + 2 :]}."
            for (action, _, _), words in zip(compared.totals, compared.words, strict=True)
            for mark in (". Caution", ". Before anything is disturbed") if mark in words
        )  # fmt: skip
    except DesorbError as problem:
        status = "cannot be compared"
        words = f"{sentence(problem)}."
        if decided:
            words += f" Decided all the same: {decided.option}, by {decided.by} on {decided.at}: {decided.reason}"
        steps = (problem.next_step or "record two options or more, each with evidence, cost and source",)
    cautions = (*_against_the_record(place[0], found, case), *cautions)
    known = {each.record.option for each in found}
    notes += [
        f"A cost of {each.record.option} ({each.record.name}) stands without that option." for each in costs
        if each.record.option not in known
    ]  # fmt: skip
    for key, of_it in _by_option(found).items():
        if len({each.record.contamination for each in of_it}) > 1:
            notes.append(
                f"{key}: contamination was recorded in several ways; the last one counts: {of_it[-1].record.contamination}."
            )
    tables = (
        Table(EVIDENCE, tuple((each.record.option, each.record.evidence, each.record.evidence_source, each.record.contamination,
                               each.record.contamination_source) for each in found)),
        Table(COSTS, tuple((each.record.option, each.record.name, each.record.amount, each.record.currency, each.record.days,
                            each.record.source) for each in costs)),
    )  # fmt: skip
    return Shown(
        kind=OPTIONS_OF_ELEMENT, id=name, title=f"Options for {name}", zone=place[0], status=status, words=words,
        cautions=cautions, tables=tuple(table for table in tables if table.rows),
        notes=(*notes, f"{PEOPLE_DECIDE[0].upper()}{PEOPLE_DECIDE[1:]}."), next_steps=steps,
        rests_on=(*(each.entry for each in found), *(each.entry for each in costs), *(each.entry for each in taken)),
    )  # fmt: skip


def _against_the_record(zone: str, found: list[Entered[DryingOption]], case: Case) -> list[str]:
    """Options whose contamination is milder than what is on record of the place, with that record."""
    answers = answers_at(zone, case)
    last = {each.record.option: each.record.contamination for each in found}
    said = []
    for name, answer, fitting in (
        ("Foul water", answers.foul_water, ("foul",)), ("Visible mould", answers.visible_mould, ("mould", "foul")),
    ):  # fmt: skip
        milder = [
            f"{option} ({contamination})" for option, contamination in last.items() if contamination not in fitting
        ]
        if answer.state == "yes" and milder:
            said.append(
                f"{name} is on record for {zone or 'the site'} ({answer.reference}), and these options say otherwise:"
                f" {', '.join(milder)}. The record stands until it is answered: take out or clean before anything is dried."
            )
    return said


def _last_costs(costs: list[Entered[OptionCost]]) -> list[Entered[OptionCost]]:
    """A cost entered again under its name stands as it was entered last."""
    return list({(each.record.option, each.record.name): each for each in costs}.values())


def _by_option(found: list[Entered[DryingOption]]) -> dict[str, list[Entered[DryingOption]]]:
    options: dict[str, list[Entered[DryingOption]]] = {}
    for each in found:
        options.setdefault(each.record.option, []).append(each)
    return options


def _option(key: str, of_it: list[Entered[DryingOption]], costs: list[Entered[OptionCost]]) -> Option:
    """All the evidence that was recorded; the contamination as it was recorded last."""
    lines: list[CostLine] = []
    for each in costs:
        cost = each.record
        if cost.option != key:
            continue
        line = CostLine(cost.name, cost.amount, cost.currency, cost.source)
        lines += drying_cost(float(read_value(cost.days).number), [line]) if cost.days else [line]
    last = of_it[-1].record
    evidence = tuple(dict.fromkeys((each.record.evidence, each.record.evidence_source) for each in of_it))
    return Option(key, evidence, tuple(lines), last.contamination, last.contamination_source)
