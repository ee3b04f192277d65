"""Whether two instruments or two operators agree, out of the readings of a case, and whether each instrument stays steady.

Contents: agreement_shown. An overlap set is made of spots that both read on one visit, the same way, on a scale with the
same parts; no reading is changed or converted. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import combinations
from statistics import median

from desorb.core.bridge import Agreement, Pair, agreement
from desorb.core.case import Case, Entered
from desorb.core.checks import repeatability_of
from desorb.core.evidence import Evidence, evidence_of
from desorb.core.kinds import InstrumentCheck
from desorb.core.measurement_study import GaugeStudy, gauge_study, individuals_chart
from desorb.core.shown import Line, Plot, Shown, Table
from desorb.core.typed import read_value
from desorb.errors import DesorbError, InputError, sentence

INSTRUMENTS, OPERATORS, STUDY, BLOCK = "two instruments", "two operators", "gauge study", "check block"
LEAST_FOR_A_SIGNAL = 5  # with n values one jump lies within its own limits while 1/n + 2.66/(n - 1) > 1: up to n = 4
LEAST_CHECKS = 20  # values that settle the limits of a run chart; setting of ours
Place = tuple[str, ...]  # spot and how it was read


@dataclass(frozen=True, slots=True)
class _Sweep:
    """What one instrument or one operator read on one visit, on one scale."""

    visit: str
    who: str
    scale: tuple[str, ...]  # every part that must agree
    principle: str
    places: dict[Place, list[Evidence]]


def agreement_shown(case: Case) -> tuple[Shown, ...]:
    """Overlap sets of instruments and of operators, crossed studies, and the run chart of each check block."""
    evidence = evidence_of(case)[0]
    shown = [_pairs(INSTRUMENTS, first, second, case) for first, second in _overlaps(_by_instrument(evidence))]
    by_operator = _by_operator(evidence)
    shown += [_pairs(OPERATORS, first, second, case) for first, second in _overlaps(by_operator)]
    shown += _studies(by_operator)
    return (*shown, *_check_charts(case))


def _place(each: Evidence) -> Place:
    reading = each.reading
    return each.spot.id, reading.covering, reading.preparation, reading.finish, *each.depth_class


def _identity(each: Evidence) -> tuple[str, ...]:
    return tuple(f"{name}={value}" for name, value in sorted(each.scale.identity().items()))


def _sweeps(
    evidence: Iterable[Evidence], who: Callable[[Evidence], str], scale: Callable[[Evidence], tuple[str, ...]]
) -> list[_Sweep]:
    found: dict[tuple[object, ...], _Sweep] = {}
    for each in evidence:
        if not who(each):
            continue
        parts = scale(each)
        key = (each.reading.visit, who(each), parts)
        sweep = found.setdefault(key, _Sweep(each.reading.visit, who(each), parts, each.scale.principle, {}))
        sweep.places.setdefault(_place(each), []).append(each)
    return list(found.values())


def _by_instrument(evidence: list[Evidence]) -> list[_Sweep]:
    return _sweeps(evidence, lambda each: each.instrument.id, _identity)


def _by_operator(evidence: list[Evidence]) -> list[_Sweep]:
    """Operators with one instrument: the instrument is then a part of the scale."""
    return _sweeps(evidence, lambda each: each.reading.by.strip(), lambda each: (each.instrument.id, *_identity(each)))


def _overlaps(sweeps: list[_Sweep]) -> Iterable[tuple[_Sweep, _Sweep]]:
    """Two of one visit with a place in common: on one scale, or of one principle where no scale is shared at all."""
    for first, second in combinations(sweeps, 2):
        if first.visit != second.visit or first.who == second.who or not first.places.keys() & second.places.keys():
            continue
        shared = any(
            one.scale == other.scale
            for one in sweeps
            for other in sweeps
            if (one.visit, one.who, other.visit, other.who) == (first.visit, first.who, second.visit, second.who)
        )
        if first.scale == second.scale or (first.principle == second.principle and not shared):
            yield first, second


def _pairs(kind: str, first: _Sweep, second: _Sweep, case: Case) -> Shown:
    same_scale = first.scale == second.scale
    common = [place for place in first.places if place in second.places]
    name = f"{first.who} and {second.who}"
    pairs, rests_on = [], []
    spots = [place[0] for place in common]
    for place in common:
        left, right = first.places[place], second.places[place]
        spot = place[0] if spots.count(place[0]) == 1 else " ".join(filter(None, place))
        clipped = any(each.bound for each in (*left, *right))
        pairs.append(Pair(spot, _middle(left), _middle(right), clipped))
        rests_on += [each.entered.entry for each in (*left, *right)]
    some = first.places[common[0]][0], second.places[common[0]][0]
    allowed = min(repeatability_of(each, case) for each in some)
    title = f"{name} on visit {first.visit}: {len(common)} spot(s) read by both, scale {some[0].scale.key}"
    shown_id = f"{first.visit}: {name}, {some[0].scale.key}"
    rests = tuple(dict.fromkeys(rests_on))
    try:
        found = agreement(pairs, allowed, same_scale, name)
    except DesorbError as problem:
        step = problem.next_step or "read the spots again with both"
        return Shown(kind, shown_id, title, "", "no join", f"{sentence(problem)}.", next_steps=(step,), rests_on=rests)
    parts = zip(first.scale, second.scale, strict=False)
    differing = tuple(f"The scales differ: {one} against {other}." for one, other in parts if one != other)
    notes = (
        *differing,
        f"Allowed: {allowed:g}, the repeatability limit of the scale. A join changes no reading and converts none.",
        "A change of instrument or operator breaks the line of a trend.",
    )
    return Shown(
        kind=kind,
        id=shown_id,
        title=title,
        zone="",
        status="may be joined" if found.joined else "no join",
        words=f"{name}: {found.words}.",
        tables=(_pair_table(pairs, first.who, second.who, same_scale),),
        plots=_pair_plot(pairs, found),
        notes=notes,
        next_steps=(found.next_step,),
        rests_on=rests,
    )


def _middle(members: list[Evidence]) -> float:
    """Median of all repeats of one place; corrected values where the instrument corrects."""
    if len(members) == 1:
        return float(members[0].value)
    return float(median(each.value for each in members))


def _pair_table(pairs: list[Pair], first: str, second: str, same_scale: bool) -> Table:
    if not same_scale:
        return Table(("spot", first, second), tuple((p.spot, f"{p.first:g}", f"{p.second:g}") for p in pairs))
    rows = tuple(
        (p.spot, f"{p.first:g}", f"{p.second:g}", "end of scale" if p.clipped else f"{p.second - p.first:+.4g}")
        for p in pairs
    )
    return Table(("spot", first, second, "second minus first"), rows)


def _pair_plot(pairs: list[Pair], found: Agreement) -> tuple[Plot, ...]:
    """Difference over level, with the limits of agreement.  [BLAND-ALTMAN]"""
    if found.limits is None:
        return ()
    usable = sorted((pair for pair in pairs if not pair.clipped), key=lambda pair: pair.first + pair.second)
    levels = [f"{(pair.first + pair.second) / 2:.4g}" for pair in usable]
    points = tuple((level, f"{pair.second - pair.first:.4g}") for level, pair in zip(levels, usable, strict=True))
    limits = tuple(
        Line(f"{name} limit of agreement", tuple((level, f"{value:.4g}") for level in (levels[0], levels[-1])))
        for name, value in zip(("lower", "upper"), found.limits, strict=True)
    )
    return (Plot("difference over level", "mean of the two, digits", "second minus first, digits",
                 (Line("second minus first", points), *limits)),)  # fmt: skip


# -- crossed study -----------------------------------------------------------------------------------------------------


def _studies(sweeps: list[_Sweep]) -> list[Shown]:
    groups: dict[tuple[object, ...], list[_Sweep]] = {}
    for sweep in sweeps:
        groups.setdefault((sweep.visit, sweep.scale), []).append(sweep)
    return [shown for group in groups.values() if (shown := _study(group)) is not None]


def _study(group: list[_Sweep]) -> Shown | None:
    """A crossed study where every operator read every spot, with the same number of repeats, two or more."""
    places = list(group[0].places)
    if len(group) < 2 or len(places) < 2 or any(sweep.places.keys() != set(places) for sweep in group[1:]):
        return None
    readings = [
        [[repeat for each in sweep.places[place] for repeat in each.repeats] for place in places] for sweep in group
    ]
    counts = {len(cell) for operator in readings for cell in operator}
    if len(counts) != 1 or min(counts) < 2:
        return None
    all_evidence = [each for sweep in group for members in sweep.places.values() for each in members]
    operators = ", ".join(sweep.who for sweep in group)
    first = all_evidence[0]
    title = f"{operators} with {first.instrument.id} on visit {group[0].visit}: {len(places)} spots, {counts.pop()} repeats each"
    shown_id = f"{group[0].visit}: {operators}, {first.instrument.id}, {first.scale.key}"
    rests_on = tuple(each.entered.entry for each in all_evidence)
    clipped = sorted({each.spot.id for each in all_evidence if each.bound or any(r.bound for r in each.repeats)})
    try:
        if clipped:
            raise InputError(
                "A reading at an end of the scale has no spread", got=", ".join(clipped), wanted="readings within the scale",
                next_step="repeat the study on spots that stay within the scale",
            )  # fmt: skip
        numbers = [[[float(repeat.number) for repeat in cell] for cell in operator] for operator in readings]
        studies = [gauge_study(numbers, "kept"), gauge_study(numbers, "pooled")]
    except DesorbError as problem:
        step = problem.next_step or "repeat the study on spots from dry to wet"
        return Shown(
            STUDY, shown_id, title, "", "no study", f"{sentence(problem)}.", next_steps=(step,), rests_on=rests_on
        )
    kept, pooled = studies
    columns = ("operator x spot", "repeat", "operator", "operator x spot spread", "spots", "gauge over total", "groups")
    words = (
        f"Meter and hand make {_share(kept)} of the total spread (operator x spot kept) or {_share(pooled)} (pooled);"
        f" the gauge tells {_groups(kept)} or {_groups(pooled)} groups of these spots apart."
    )
    return Shown(
        STUDY, shown_id, title, "", "spread shared out", words, tables=(Table(columns, (_row(kept), _row(pooled))),),
        notes=("Spreads are standard deviations in digits of the scale. Both conventions are in use; neither is chosen.",
               "The total spread is that of these spots: spots that are more alike give the gauge a larger part."),
        next_steps=("repeat the study with other spots, from dry to wet, before it is used for another wall",),
        rests_on=rests_on,
    )  # fmt: skip


def _row(study: GaugeStudy) -> tuple[str, ...]:
    variances = (study.repeat_variance, study.operator_variance, study.interaction_variance, study.part_variance)
    return study.interaction, *(f"{math.sqrt(each):.3g}" for each in variances), _share(study), _groups(study)


def _share(study: GaugeStudy) -> str:
    return f"{study.gauge_share:.3f}"


def _groups(study: GaugeStudy) -> str:
    """Whole groups only: a part of a group tells nothing apart.  [AIAG-MSA] truncated"""
    count = study.distinct_categories
    return "all" if math.isinf(count) else str(math.floor(count))


# -- check block -------------------------------------------------------------------------------------------------------


def _check_charts(case: Case) -> list[Shown]:
    """One chart for each instrument, scale and nominal value of its block; two checks or more."""
    groups: dict[tuple[str, str, str], list[Entered[InstrumentCheck]]] = {}
    for entered in case.checks:
        check = entered.record
        groups.setdefault((check.instrument, check.scale, check.nominal), []).append(entered)
    return [_check_chart(*key, members) for key, members in groups.items() if len(members) > 1]


def _check_chart(instrument: str, scale: str, nominal: str, members: list[Entered[InstrumentCheck]]) -> Shown:
    title = f"Check block of {instrument}, scale {scale}, nominal {nominal}: {len(members)} checks"
    shown_id = f"{instrument}/{scale}/{nominal}"
    rests_on = tuple(each.entry for each in members)
    notes = []
    usable: list[tuple[datetime, int, Decimal, Entered[InstrumentCheck]]] = []
    for each in members:
        try:
            value = read_value(each.record.value)
            moment = datetime.fromisoformat(each.record.at)
            if value.bound or moment.tzinfo is None:
                raise ValueError
        except (DesorbError, ValueError):
            notes.append(
                f"Left out: {each.record.value!r} at {each.record.at!r} ({each.entry}) is no figure with a time."
            )
            continue
        usable.append((moment, each.order, value.number, each))
    usable.sort(key=lambda each: each[:2])
    try:
        chart = individuals_chart([float(number) for _, _, number, _ in usable])
    except DesorbError as problem:
        step = problem.next_step or "check the instrument on its block and write the figure down"
        return Shown(BLOCK, shown_id, title, "", "no chart", f"{sentence(problem)}.", notes=tuple(notes), next_steps=(step,),
                     rests_on=rests_on)  # fmt: skip
    if len(usable) < LEAST_CHECKS:
        notes.append(
            f"{len(usable)} checks: the limits are provisional until there are {LEAST_CHECKS} (setting of ours)."
        )
    if len(usable) < LEAST_FOR_A_SIGNAL:
        notes.append(f"With fewer than {LEAST_FOR_A_SIGNAL} checks no jump can be a signal, however large.")
    signals = [usable[place - 1][3] for place in chart.signals]
    named = ", ".join(f"{each.record.value} on {each.record.at} ({each.entry})" for each in signals)
    ends = f"limits {chart.lower:.4g} to {chart.upper:.4g}, centre {chart.centre:.4g}"
    xs = [str(number) for number in range(1, len(usable) + 1)]
    level = [
        Line(name, ((xs[0], f"{value:.4g}"), (xs[-1], f"{value:.4g}")))
        for name, value in (("centre", chart.centre), ("lower limit", chart.lower), ("upper limit", chart.upper))
    ]
    values = Line("check", tuple(zip(xs, (each.record.value for *_, each in usable), strict=True)))
    return Shown(
        kind=BLOCK,
        id=shown_id,
        title=title,
        zone="",
        status="signal" if signals else "no signal" if len(usable) >= LEAST_FOR_A_SIGNAL else "too few checks",
        words=f"Signal: {named} lies outside its {ends}." if signals else f"No check lies outside its {ends}.",
        tables=(Table(("check", "at", "value", "signal", "entry"), tuple(
            (x, e.record.at, e.record.value, "yes" if e in signals else "", e.entry)
            for x, (*_, e) in zip(xs, usable, strict=True))),),
        plots=(Plot(title, "check, in order of time", "digits of the scale", (values, *level)),),
        notes=(*notes, "A chart says whether the instrument is steady, not whether it passed: see its checks."),
        next_steps=(
            ("look at contacts, battery and block, check again, and say what was found",) if signals
            else ("go on checking at the interval of the block",)
        ),
        rests_on=rests_on,
    )  # fmt: skip
