"""The settings of one case: each change is an entry with who made it and where the figure comes from.

Contents: Choice, CHOICES_OF_CASE (what can be set, between which ends, and why there); change_setting; change_rule_row;
warnings_of_row (what a row does to the limit, in words); settings_in_force.
Old reports keep the figures they were made with: a change is a new entry, never an edit.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from desorb.core.case import Case
from desorb.core.evidence import scale_class
from desorb.core.kinds import Instrument, RuleRow, Setting
from desorb.core.rule import REPEATABILITY_FACTOR, RULES
from desorb.errors import InputError
from desorb.notebook.store import Store
from desorb.service.cases import Clock, OpenCase, load, now, write
from desorb.service.settings import CASE_YEARS, finite

LARGEST_RATIO = Decimal(1)  # setting of ours: a margin of 100 % would let a reading pass at twice the controls
SHARE_OF_SCALE = Decimal("0.3")  # setting of ours: from here on it is said that repeatability sets the margin
LONGEST = 400


@dataclass(frozen=True, slots=True)
class Choice:
    """One setting: its unit, its ends, and why they lie there. `words`: the values it can take instead."""

    key: str
    unit: str
    least: str
    most: str
    why: str
    words: tuple[str, ...] = ()


CHOICES_OF_CASE = (
    Choice("rule", "", "", "", "the rules this version of desorb knows", RULES),
    Choice("control fresh hours", "h", "1", "168", "a control older than a week tells of other weather and other heating;"
           " below an hour no set of controls could be read. Setting of ours"),
    Choice("asbestos trigger year", "year", "1980", "2100", "the first bans of every kind of asbestos came in the 1980s (from"
           " memory): an earlier year would stop nothing where asbestos may be"),
    Choice("fibre saturation", "% dry basis", "20", "40", "woods lie between about 22 and 35 % (from memory)"),
    Choice("surface criterion", "% surface RH", "50", "100", "a share of saturation at the surface; above 100 there is none"),
    Choice("altitude", "m", "-430", "5500", "from the shore of the Dead Sea to the highest towns (from memory)"),
    Choice("pressure", "Pa", "50000", "110000", "the range of the air equations of desorb"),
    Choice(CASE_YEARS, "years", "1", "100", "a case can be kept for another time than the others"),
)  # fmt: skip


def change_setting(
    store: Store, case: OpenCase, *, key: str, value: str, source: str, by: str, clock: Clock = now
) -> list[str]:
    """Write one setting into the case. Returns what a reader should know of it; nothing is written if it stands already."""
    choice = next((each for each in CHOICES_OF_CASE if each.key == key), None)
    if choice is None:
        raise InputError(
            "there is no such setting", got=repr(key), wanted=", ".join(each.key for each in CHOICES_OF_CASE)
        )
    _signed(source, by)
    text = value.strip()
    if choice.words:
        if text not in choice.words:
            raise InputError(f"this {key} is not known", got=repr(value), wanted=" or ".join(choice.words))
    else:
        number = finite(key, text)
        if not Decimal(choice.least) <= number <= Decimal(choice.most):
            raise InputError(
                f"{key} lies outside its ends", got=text, wanted=f"{choice.least} to {choice.most} {choice.unit}",
                next_step=f"the ends lie there because: {choice.why}",
            )  # fmt: skip
        if choice.unit in ("year", "years") and number != number.to_integral_value():
            raise InputError(f"{key} is a whole number", got=text)
        text = f"{number:f}"
    folded = load(store, case)
    before = folded.setting(key)
    record = Setting(key, text, choice.unit, source.strip(), by.strip())
    if before == text and folded.setting_source(key) == record.source:
        return [f"{key} stands at {text} already; nothing was written"]
    write(store, case, [record], clock)
    return _warnings_of_setting(key, before, text)


def _warnings_of_setting(key: str, before: str, after: str) -> list[str]:
    if key == "control fresh hours" and Decimal(after) > 72:
        return ["controls up to three days old and more are used now: they may no longer show how the sound part reads"]
    if key == "asbestos trigger year" and before and Decimal(after) < Decimal(before):
        return [f"buildings of {after} to {before} are no longer asked about: say in the source why that is right here"]
    if key == "rule" and before and before != after:
        return ["every spot is assessed anew under this rule; reports issued before keep theirs"]
    return []


def change_rule_row(store: Store, case: OpenCase, row: RuleRow, clock: Clock = now) -> list[str]:
    """Write how a class of scales behaves. A figure without a source is refused; a loose one is named."""
    _signed(row.source, row.by)
    if not row.scale_class.strip() or not row.scale_class.isprintable():
        raise InputError("a row names its class of scales", got=repr(row.scale_class))
    spread, margin = finite("class spread", row.class_spread), finite("margin", row.margin)
    repeatability = finite("repeatability", row.repeatability)
    if spread <= 0 or margin <= 0:
        raise InputError("class spread and margin lie above 0", got=f"{row.class_spread}, {row.margin}")
    if repeatability < 0:
        raise InputError("a repeatability limit is 0 or more", got=row.repeatability)
    if row.on_logarithms and max(spread, margin) > LARGEST_RATIO:
        raise InputError(
            "class spread and margin are ratios here: 0.10 is 10 %", got=f"{row.class_spread}, {row.margin}",
            wanted="at most 1",
            next_step="a margin of 1 would let a place pass at twice its controls; for points choose no logarithms",
        )  # fmt: skip
    folded = load(store, case)
    reach = reach_of_class(folded, row.scale_class)
    if reach and max(repeatability, Decimal(0) if row.on_logarithms else max(margin, spread)) >= reach:
        raise InputError(
            "this figure is as large as the whole scale", got=f"repeatability {row.repeatability}, margin {row.margin}",
            wanted=f"below {reach:f}, from the bottom to the top of a scale of this class in this case",
            next_step="repeatability is how far two readings of one spot differ, in digits of the scale",
        )  # fmt: skip
    written = RuleRow(
        row.scale_class.strip(), row.on_logarithms, f"{spread:f}", f"{margin:f}", f"{repeatability:f}", row.source.strip(),
        row.by.strip(),
    )  # fmt: skip
    if folded.rule_row(written.scale_class) == written:
        return ["this row stands already; nothing was written"]
    write(store, case, [written], clock)
    return warnings_of_row(written, folded)


def reach_of_class(case: Case, name: str) -> Decimal | None:
    """From the bottom to the top of the shortest scale of this class among the instruments of the case."""
    reaches = [
        Decimal(scale.top.replace(",", ".")) - Decimal(scale.bottom.replace(",", "."))
        for entered in case.instruments
        for scale in entered.record.scales
        if scale_class(scale) == name and scale.top and scale.bottom
    ]
    return min(reaches, default=None)


def warnings_of_row(row: RuleRow, case: Case) -> list[str]:
    """What a declared repeatability does to the limits. It can only widen them, so a large one is said."""
    repeatability, margin, spread = Decimal(row.repeatability), Decimal(row.margin), Decimal(row.class_spread)
    said = []
    reach = reach_of_class(case, row.scale_class)
    if row.on_logarithms:
        # the margin used is the larger of the ratio and 2 r at the level of the controls (core/rule.py)
        level = 2 * repeatability / margin
        if reach and level > SHARE_OF_SCALE * reach:
            said.append(
                f"the declared repeatability of {row.repeatability} is far larger than the class margin: wherever the controls"
                f" stand below {float(level):.4g} digits, the margin is twice the repeatability and no longer"
                f" {100 * float(margin):.3g} %. That loosens the limit: a wetter place passes"
            )
    elif repeatability > margin:
        said.append(
            f"the declared repeatability of {row.repeatability} points is larger than the margin of {row.margin}: it widens the"
            " limit above which a place reads higher, so that a wetter place may not be seen"
        )
    if not row.on_logarithms and repeatability / Decimal(str(REPEATABILITY_FACTOR)) > 2 * spread:
        said.append("the spread used is that of repeated readings and no longer that of sound places")
    return said


def warnings_of_instrument(instrument: Instrument) -> list[str]:
    """A scale whose own repeatability is a large part of it decides little: said when it is described."""
    said = []
    for scale in instrument.scales:
        if not (scale.repeatability and scale.top and scale.bottom):
            continue
        share = Decimal(scale.repeatability) / (Decimal(scale.top) - Decimal(scale.bottom))
        if share > Decimal("0.1"):
            said.append(
                f"scale {scale.key!r}: a repeatability of {scale.repeatability} is {100 * share:.0f} % of the whole scale. It"
                " loosens every limit made with it: is it in digits of this scale, and for one spot read twice?"
            )
    return said


def _signed(source: str, by: str) -> None:
    if not source.strip():
        raise InputError(
            "a limit without a source is no limit", got="no source",
            wanted="the standard and its edition, the data sheet, or 'setting of ours' with the reason",
        )  # fmt: skip
    if not by.strip():
        raise InputError("a change says who made it", got="no name", next_step="give your name")
    if max(len(source), len(by)) > LONGEST:
        raise InputError("this is too long to stand in a table", wanted=f"at most {LONGEST} letters")


@dataclass(frozen=True, slots=True)
class InForce:
    """A setting as it stands, and every value it had."""

    key: str
    value: str
    unit: str
    source: str
    by: str
    entry: str
    before: tuple[str, ...]
    choice: Choice | None


def settings_in_force(case: Case) -> list[InForce]:
    """The settings of a case as last entered, those that can be set first; settings of other doors stay visible."""
    keys = dict.fromkeys([choice.key for choice in CHOICES_OF_CASE] + [entered.record.key for entered in case.settings])
    rows = []
    for key in keys:
        entered = [each for each in case.settings if each.record.key == key]
        choice = next((each for each in CHOICES_OF_CASE if each.key == key), None)
        if not entered:
            rows.append(InForce(key, "", choice.unit if choice else "", "not set in this case", "", "", (), choice))
            continue
        last = entered[-1]
        before = tuple(f"{each.record.value} ({each.entry})" for each in entered[:-1])
        rows.append(
            InForce(
                key, last.record.value, last.record.unit, last.record.source, last.record.by, last.entry, before, choice
            )
        )
    return rows
