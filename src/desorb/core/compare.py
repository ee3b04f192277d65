"""Against the control: which controls may be used for a reading, which are refused and why, and what the rule says.

Contents: differing_fields (why two readings are not comparable); ControlFinder (controls for a reading, with the
refusals); Comparison; compare (one reading against its controls).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal

from desorb.core.case import Case
from desorb.core.checks import repeatability_of
from desorb.core.evidence import Evidence, scale_class
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
DEPTH_TOLERANCE_MM = Decimal(5)  # setting of ours: depths this near count as the same


def differing_fields(control: Evidence, spot: Evidence) -> list[tuple[str, str]]:
    """(field, sentence) for everything in which a control differs from the spot. Empty: comparable."""
    differences: list[tuple[str, str]] = []

    def differ(name: str, of_control: str, of_spot: str) -> None:
        if of_control.casefold() != of_spot.casefold():
            words = f"{name}: this control is {of_control or 'not stated'}, the spot is {of_spot or 'not stated'}"
            differences.append((name, words))

    own, other = spot.scale.identity(), control.scale.identity()
    for name in own:
        differ(f"scale {name}", other[name], own[name])
    differ("instrument", control.instrument.id, spot.instrument.id)
    if control.construction.id != spot.construction.id:
        differ("material", control.construction.material, spot.construction.material)
        differ("construction", control.construction.words, spot.construction.words)
        differ("built", control.construction.built, spot.construction.built)
    differ("covering", _bare(control.reading.covering), _bare(spot.reading.covering))
    differ("preparation", control.reading.preparation, spot.reading.preparation)
    differ("finish", control.reading.finish, spot.reading.finish)
    if not _same_depth(control, spot):
        differences.append(("depth", f"depth: this control is {_depth(control)}, the spot is {_depth(spot)}"))
    if scale_class(spot.scale) == "wood pins":
        differ("correction", control.correction, spot.correction)
        if spot.correction == "uncorrected":
            differ("species", control.reading.species, spot.reading.species)
    return differences


def _bare(covering: str) -> str:
    return "bare" if covering == "none" else covering


def _same_depth(control: Evidence, spot: Evidence) -> bool:
    for one, other in zip(control.depth_class, spot.depth_class, strict=True):
        if bool(one) != bool(other):
            return False
        if one and abs(Decimal(one.replace(",", ".")) - Decimal(other.replace(",", "."))) > DEPTH_TOLERANCE_MM:
            return False
    return True


def _depth(each: Evidence) -> str:
    top, bottom = each.depth_class
    return f"{top or '0'}-{bottom} mm deep" if bottom else "at the depth of the instrument"


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
        each.scale, each.instrument.id, each.construction.id, reading.covering, reading.preparation, reading.finish,
        each.depth_class, each.correction, reading.species,
    )  # fmt: skip


class ControlFinder:
    """Looks up controls; made once for a case, asked for each reading.

    Fields are compared once for each pair of keys, not for each pair of readings: cost must not grow with the case.
    """

    def __init__(self, evidence: Iterable[Evidence], findings: Iterable[Finding], case: Case) -> None:
        self._fresh = timedelta(hours=float(case.setting("control fresh hours", FRESH_HOURS_DEFAULT)))
        self._by_spot: dict[str, dict[tuple[object, ...], list[Evidence]]] = defaultdict(lambda: defaultdict(list))
        self._differences: dict[tuple[tuple[object, ...], tuple[object, ...]], list[tuple[str, str]]] = {}
        self._voided = {
            entry: finding for finding in findings if finding.blocks == BLOCKS_BOTH for entry in finding.entries
        }
        for each in evidence:
            if each.is_control:
                self._by_spot[each.spot.id][comparison_key(each)].append(each)
        for groups in self._by_spot.values():
            for readings in groups.values():
                readings.sort(key=lambda each: (each.taken, each.entered.order))

    def find(self, spot: Evidence) -> Found:
        """Controls for this reading: one reading for each control spot, the nearest in time that is comparable."""
        found = Found()
        for control_spot, groups in self._by_spot.items():
            if control_spot != spot.spot.id:
                self._place(control_spot, groups, spot, found)
        return found

    def differences(self, control: Evidence, spot: Evidence) -> list[tuple[str, str]]:
        """differing_fields, remembered for each pair of keys."""
        pair = (comparison_key(control), comparison_key(spot))
        if pair not in self._differences:
            self._differences[pair] = differing_fields(control, spot)
        return self._differences[pair]

    def before(self, control: Evidence) -> Evidence | None:
        """The reading of a control spot before this one, in an earlier visit and comparable with it."""
        earlier = [
            each
            for each in self._by_spot[control.spot.id][comparison_key(control)]
            if each.taken < control.taken and each.reading.visit != control.reading.visit
        ]
        return earlier[-1] if earlier else None

    def _place(
        self, control_spot: str, groups: dict[tuple[object, ...], list[Evidence]], spot: Evidence, found: Found
    ) -> None:
        differing = [(readings, self.differences(readings[0], spot)) for readings in groups.values()]
        alike = [each for readings, fields in differing if not fields for each in readings]
        if not alike:
            fields = min((fields for _, fields in differing), key=len)
            names, words = tuple(name for name, _ in fields), "; ".join(words for _, words in fields)
            found.refused.append(Refusal(control_spot, names, words))
            return
        alike.sort(key=lambda each: (abs(each.taken - spot.taken), -each.entered.order))
        sound = [each for each in alike if each.entered.entry not in self._voided]
        if not sound:
            finding = self._voided[alike[0].entered.entry]
            found.refused.append(Refusal(control_spot, (finding.code,), finding.words))
            return
        nearest = sound[0]
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

    def _is_fresh(self, control: Evidence, spot: Evidence) -> bool:
        return control.reading.visit == spot.reading.visit or abs(control.taken - spot.taken) <= self._fresh


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
    """The rule row of the class of this scale, as entered in the case; None when nobody stated one."""
    row = case.rule_row(scale_class(each.scale))
    if row is None:
        return None
    return RuleInput(
        row.on_logarithms, float(row.class_spread), float(row.margin), repeatability_of(each, case), repeat_spread
    )


def compare(each: Evidence, finder: ControlFinder, case: Case, repeat_spread: float = 0.0) -> Comparison:
    """Compare one reading with its controls under the rule of the case."""
    found = finder.find(each)
    rule = rule_input(each, case, repeat_spread)
    name = case.setting("rule", TOLERANCE_1)
    used, why_not, older = list(found.used), "", False
    if found.at_an_end:
        why_not = "at an end"
    elif len(used) < FEWEST_CONTROLS and used and len(used) + len(found.stale) >= FEWEST_CONTROLS:
        if _moved(used, finder, rule):
            why_not = "moved"
        else:
            used, older = used + found.stale, True
    elif len(used) < FEWEST_CONTROLS:
        why_not = "stale" if len(used) + len(found.stale) >= FEWEST_CONTROLS else "few"
    if why_not or rule is None or name not in RULES:
        return Comparison(None, None, found, used, why_not or "no row", older)
    prepared = control_set([float(control.value) for control in used], rule)
    if prepared is None:
        return Comparison(None, None, found, used, "few", older)
    return Comparison(
        decide_with(prepared, float(each.value), len(each.repeats), name), prepared, found, used, "", older
    )


def _moved(fresh: list[Evidence], finder: ControlFinder, rule: RuleInput | None) -> bool:
    """Did a control that was read again move by more than repeatability since its reading before?"""
    limit = Decimal(str(rule.repeatability)) if rule else Decimal(0)
    return any(
        (earlier := finder.before(control)) is not None and abs(earlier.value - control.value) > limit
        for control in fresh
    )


def blocking(findings: Iterable[Finding], entries: set[str]) -> tuple[list[Finding], list[Finding]]:
    """Findings that bear on these entries and block: (any status, only a pass)."""
    bearing = [finding for finding in findings if entries & set(finding.entries)]
    return (
        [finding for finding in bearing if finding.blocks == BLOCKS_BOTH],
        [finding for finding in bearing if finding.blocks == BLOCKS_PASS],
    )
