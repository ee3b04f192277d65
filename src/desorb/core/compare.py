"""Against the control: which controls may be used for a reading, which are refused and why, and what the rule says.

Contents: differing_fields (why two readings are not comparable); ControlFinder (controls for a reading, with the
refusals); Comparison; compare (one reading against its controls).
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from functools import lru_cache

from desorb.core.case import Case
from desorb.core.checks import repeatability_of
from desorb.core.evidence import Evidence, scale_class
from desorb.core.kinds import Spot
from desorb.core.outcome import BLOCKS_BOTH, BLOCKS_PASS, Finding, Refusal
from desorb.core.rule import (
    FEWEST_CONTROLS,
    RULES,
    TOLERANCE_1,
    ControlSet,
    Decision,
    RuleInput,
    control_set,
    decide_with,
)

FRESH_HOURS_DEFAULT = "24"  # setting of ours
LONGEST_VISIT = timedelta(hours=48)  # setting of ours: longer than this, one visit is no longer one occasion
FEW_PARTS = (
    2  # so many differing parts of a scale are named one by one; more are another scale, if its word differs too
)
DEPTH_TOLERANCE_MM = Decimal(5)  # setting of ours: depths this near count as the same
SAME_PLACE_M = Decimal("0.05")  # setting of ours: a spot moved further than this is another spot


def differing_fields(control: Evidence, spot: Evidence) -> list[tuple[str, str]]:
    """(field, sentence) for everything in which a control differs from the spot. Empty: comparable."""
    differences: list[tuple[str, str]] = []

    def differ(name: str, of_control: str, of_spot: str) -> None:
        if of_control.casefold() != of_spot.casefold():
            words = f"{name}: this control is {of_control or 'not stated'}, the spot is {of_spot or 'not stated'}"
            differences.append((name, words))

    own, other = spot.scale.identity(), control.scale.identity()
    parts = [name for name in own if other[name].casefold() != own[name].casefold()]
    if len(parts) > FEW_PARTS and control.scale.key != spot.scale.key:
        words = f"scale: this control was read on {control.scale.key}, the spot on {spot.scale.key}"
        differences.append(("scale", words))
    else:
        for name in parts:
            differ(f"scale {name}", other[name], own[name])
    if _same_instrument(control) != _same_instrument(spot):
        words = f"instrument: this control was read with {_named(control)}, the spot with {_named(spot)}"
        differences.append(("instrument", words))
    if control.construction.id != spot.construction.id:
        differ("material", control.construction.material, spot.construction.material)
        of_control, of_spot = (f"{each.construction.words} ({each.construction.id})" for each in (control, spot))
        differences.append(("construction", f"construction: this control is {of_control}, the spot is {of_spot}"))
        differ("built", control.construction.built, spot.construction.built)
    differ("covering", _bare(control.reading.covering), _bare(spot.reading.covering))
    differ("preparation", control.reading.preparation, spot.reading.preparation)
    differ("finish", control.reading.finish, spot.reading.finish)
    if not _same_depth(control, spot):
        differences.append(("depth", f"depth: this control is {_depth(control)}, the spot is {_depth(spot)}"))
    if spot.correction or control.correction:
        differ("correction", control.correction, spot.correction)
        if spot.correction == "uncorrected" or not (control.reading.species and spot.reading.species):
            differ("species", control.reading.species, spot.reading.species)
    return differences


def _same_instrument(each: Evidence) -> tuple[str, str]:
    return (each.instrument.id, each.instrument.serial)


def _named(each: Evidence) -> str:
    serial = each.instrument.serial
    return f"{each.instrument.id} (serial {serial})" if serial else each.instrument.id


def _bare(covering: str) -> str:
    return "bare" if covering == "none" else covering


def _same_depth(control: Evidence, spot: Evidence) -> bool:
    for one, other in zip(control.depth_class, spot.depth_class, strict=True):
        if bool(one) != bool(other):
            return False
        if one and abs(_millimetres(one) - _millimetres(other)) > DEPTH_TOLERANCE_MM:
            return False
    (top, bottom), (other_top, other_bottom) = control.depth_class, spot.depth_class
    apart = bottom and (
        _millimetres(bottom) <= _millimetres(other_top or "0") or _millimetres(other_bottom) <= _millimetres(top or "0")
    )
    return not apart  # two thin bands, one below the other, are near and yet not the same


def _millimetres(text: str) -> Decimal:
    return Decimal(text.replace(",", "."))


def _depth(each: Evidence) -> str:
    top, bottom = each.depth_class
    return f"{top or '0'}-{bottom} mm deep" if bottom else "at the depth of the instrument"


def displaced(known: Spot, again: Spot) -> list[str]:
    """Coordinates, stated both times, that differ by more than 50 mm: that is another spot, whatever its id."""
    pairs = {name: (getattr(known, name), getattr(again, name)) for name in ("x", "y", "height")}
    return [
        name
        for name, (one, other) in pairs.items()
        if one and other and abs(Decimal(one) - Decimal(other)) > SAME_PLACE_M
    ]


def _one_place(one: Spot, other: Spot) -> bool:
    """Are both stated to stand at the same point of the same element?"""
    if (one.zone, one.element, bool(one.height)) != (other.zone, other.element, bool(other.height)):
        return False
    pairs = [(one.x, other.x), (one.y, other.y), (one.height or "0", other.height or "0")]
    try:
        return all(abs(Decimal(first) - Decimal(second)) <= SAME_PLACE_M for first, second in pairs)
    except ArithmeticError:  # a position that is not stated as a number says nothing
        return False


@dataclass(slots=True)
class Found:
    """The controls found for a reading."""

    used: list[Evidence] = field(default_factory=list)
    refused: list[Refusal] = field(default_factory=list)
    stale: list[Evidence] = field(default_factory=list)  # comparable in everything but time
    at_an_end: list[Evidence] = field(default_factory=list)  # comparable, but at an end of the scale

    def full_set_fresh(self) -> bool:
        return not self.stale


def comparison_key(each: Evidence) -> tuple[object, ...]:
    """Readings with equal keys differ in the same fields from any other reading."""
    reading = each.reading
    return (
        each.scale, _same_instrument(each), each.construction.id, reading.covering, reading.preparation, reading.finish,
        each.depth_class, each.correction, reading.species,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Alike:
    """Readings of one control spot that differ in nothing from a key, in order of time; refusal: why there are none."""

    sound: list[Evidence]
    voided: list[Evidence]  # by a finding that holds back both verdicts
    refusal: Refusal | None


def _nearest(readings: Sequence[Evidence], spot: Evidence) -> Evidence:
    """The reading nearest in time, of equally near ones the last written. readings: in order of time, one or more."""
    place = bisect_left(readings, spot.taken, key=lambda each: each.taken)
    near = [readings[place - 1]] if place else []
    if place < len(readings):  # the last one of its moment
        near.append(readings[bisect_right(readings, readings[place].taken, key=lambda each: each.taken) - 1])
    return min(near, key=lambda each: (abs(each.taken - spot.taken), -each.entered.order))


class ControlFinder:
    """Looks up controls; made once for a case, asked for each reading.

    Fields are compared once for each pair of keys, not for each pair of readings: cost must not grow with the case.
    """

    def __init__(self, evidence: Iterable[Evidence], findings: Iterable[Finding], case: Case) -> None:
        self._fresh = timedelta(hours=float(case.setting("control fresh hours", FRESH_HOURS_DEFAULT)))
        self._numbers: dict[tuple[object, ...], int] = {}  # one for each key: pairs of numbers are looked up faster
        self._by_spot: dict[str, dict[int, list[Evidence]]] = defaultdict(lambda: defaultdict(list))
        self._differences: dict[tuple[int, int], list[tuple[str, str]]] = {}
        self._of_key: dict[tuple[str, int], _Alike] = {}
        self._voided = {
            entry: finding for finding in findings if finding.blocks == BLOCKS_BOTH for entry in finding.entries
        }
        for each in evidence:
            if each.is_control:
                self._by_spot[each.spot.id][self._number(each)].append(each)
        for groups in self._by_spot.values():
            for readings in groups.values():
                readings.sort(key=lambda each: (each.taken, each.entered.order))

    def find(self, spot: Evidence) -> Found:
        """Controls for this reading: one reading for each control spot, the nearest in time that is comparable."""
        found, number = Found(), self._number(spot)
        for control_spot in self._by_spot:
            if control_spot != spot.spot.id:
                self._place(control_spot, spot, number, found)
        for position, control in reversed(list(enumerate(found.used))):
            twin = next((each for each in found.used[:position] if _one_place(each.spot, control.spot)), None)
            if twin is not None:
                words = f"it stands at the place of {twin.spot.id}: one place counts once"
                found.refused.append(Refusal(control.spot.id, ("place",), words))
                del found.used[position]
        return found

    def _number(self, each: Evidence) -> int:
        return self._numbers.setdefault(comparison_key(each), len(self._numbers))

    def _fields(self, pair: tuple[int, int], control: Evidence, spot: Evidence) -> list[tuple[str, str]]:
        """differing_fields, remembered for each pair of keys."""
        if pair not in self._differences:
            self._differences[pair] = differing_fields(control, spot)
        return self._differences[pair]

    def before(self, control: Evidence, since: str) -> list[Evidence]:
        """Comparable readings of a control spot in earlier visits, back to the visit `since`: small moves add up."""
        earlier = [
            each
            for each in self._by_spot[control.spot.id][self._number(control)]
            if each.taken < control.taken and each.reading.visit != control.reading.visit
        ]
        first = next((place for place, each in enumerate(earlier) if each.reading.visit == since), len(earlier))
        return earlier[first:]

    def _place(self, control_spot: str, spot: Evidence, number: int, found: Found) -> None:
        alike = self._alike(control_spot, spot, number)
        if alike.refusal is not None:
            found.refused.append(alike.refusal)
            return
        if not alike.sound:
            finding = self._voided[_nearest(alike.voided, spot).entered.entry]
            found.refused.append(Refusal(control_spot, (finding.code,), finding.words))
            return
        nearest = _nearest(alike.sound, spot)
        if nearest.zone.affected == "yes":
            found.refused.append(
                Refusal(control_spot, ("unaffected",), f"its zone {nearest.zone.id} is recorded as affected")
            )
        elif not self._is_fresh(nearest, spot):
            found.stale.append(nearest)
        elif nearest.bound:
            found.at_an_end.append(nearest)
            words = f"it stands at an end of the scale ({nearest.text()})"
            found.refused.append(Refusal(control_spot, ("end of scale",), words))
        else:
            found.used.append(nearest)

    def _alike(self, control_spot: str, spot: Evidence, number: int) -> _Alike:
        """The readings of a control spot that may stand beside readings of this key, remembered for the key."""
        if (control_spot, number) not in self._of_key:
            differing = [
                (readings, self._fields((of_control, number), readings[0], spot))
                for of_control, readings in self._by_spot[control_spot].items()
            ]
            every = [each for readings, fields in differing if not fields for each in readings]
            every.sort(key=lambda each: (each.taken, each.entered.order))
            refusal = None
            if not every:
                fields = min((fields for _, fields in differing), key=len)
                names, words = tuple(name for name, _ in fields), "; ".join(words for _, words in fields)
                refusal = Refusal(control_spot, names, words)
            sound = [each for each in every if each.entered.entry not in self._voided]
            voided = [each for each in every if each.entered.entry in self._voided]
            self._of_key[control_spot, number] = _Alike(sound, voided, refusal)
        return self._of_key[control_spot, number]

    def _is_fresh(self, control: Evidence, spot: Evidence) -> bool:
        apart = abs(control.taken - spot.taken)
        return apart <= self._fresh or (control.reading.visit == spot.reading.visit and apart <= LONGEST_VISIT)


@dataclass(slots=True)
class Comparison:
    """What the controls say of one reading, before findings and coverings have their word."""

    decision: Decision | None
    prepared: ControlSet | None
    found: Found
    used: list[Evidence]
    why_not: str = ""  # few, stale, moved, at an end, no row
    older_set: bool = False  # decided with controls of an earlier visit beside fresh ones that did not move


def rule_input(each: Evidence, case: Case, repeat_spread: float) -> RuleInput | None:
    """The rule row of the class of this scale, as entered in the case; None when nobody stated one with its source."""
    row = case.rule_row(scale_class(each.scale))
    if row is None or not row.source.strip():
        return None
    try:
        spread, margin = float(row.class_spread), float(row.margin)
    except ValueError:
        return None
    if not (0 < spread < math.inf and 0 < margin < math.inf):
        return None
    return RuleInput(row.on_logarithms, spread, margin, repeatability_of(each, case), repeat_spread)


def compare(each: Evidence, finder: ControlFinder, case: Case, repeat_spread: float = 0.0) -> Comparison:
    """Compare one reading with its controls under the rule of the case."""
    found = finder.find(each)
    rule = rule_input(each, case, repeat_spread)
    name = case.setting("rule", TOLERANCE_1)
    used, why_not, older = list(found.used), "", False
    if found.at_an_end:
        why_not = "at an end"
    elif len(used) < FEWEST_CONTROLS and used and len(used) + len(found.stale) >= FEWEST_CONTROLS:
        found.at_an_end = [control for control in found.stale if control.bound]
        why_not = "at an end" if found.at_an_end else _not_held_by(used, found.stale, finder, rule)
        if not why_not:
            used, older = used + found.stale, True
    elif len(used) < FEWEST_CONTROLS:
        why_not = "stale" if len(used) + len(found.stale) >= FEWEST_CONTROLS else "few"
    if why_not or rule is None or name not in RULES:
        return Comparison(None, None, found, used, why_not or "no row", older)
    prepared = _prepared(tuple(float(control.value) for control in used), rule)
    if prepared is None:
        return Comparison(None, None, found, used, "few", older)
    return Comparison(
        decide_with(prepared, float(each.value), len(each.repeats), name), prepared, found, used, "", older
    )


@lru_cache(maxsize=512)
def _prepared(values: tuple[float, ...], rule: RuleInput) -> ControlSet | None:
    """Many readings share one set of controls."""
    return control_set(values, rule)


def _not_held_by(fresh: list[Evidence], stale: list[Evidence], finder: ControlFinder, rule: RuleInput | None) -> str:
    """'' if controls read again vouch for the older ones: each was read with them, and moved no more than r since."""
    limit = Decimal(str(rule.repeatability)) if rule else Decimal(0)
    oldest = min(stale, key=lambda each: each.taken)
    earlier = [(control, each) for control in fresh for each in finder.before(control, oldest.reading.visit)]
    if not earlier:
        return "stale"
    return "moved" if any(abs(each.value - control.value) > limit for control, each in earlier) else ""


def blocking(findings: Iterable[Finding], entries: set[str]) -> tuple[list[Finding], list[Finding]]:
    """Findings that bear on these entries and block: (any status, only a pass)."""
    bearing = [finding for finding in findings if entries & set(finding.entries)]
    return (
        [finding for finding in bearing if finding.blocks == BLOCKS_BOTH],
        [finding for finding in bearing if finding.blocks == BLOCKS_PASS],
    )
