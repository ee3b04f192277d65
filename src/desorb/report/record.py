"""What the record says of itself and of the tools: instruments, rule, settings, photos, timeline, strikes, heads.

Contents: instruments; rule; photos; photo_marks; account (events, units, scans, salt tests, notes); findings; corrections; heads.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from desorb.core.kinds import Scale
from desorb.core.rule import (
    CONFIDENCE,
    COVERAGE,
    FEWEST_CONTROLS,
    ONE_SIDED,
    PREDICTION_1,
    TOLERANCE_1,
    UNDECIDED_SHARE,
)
from desorb.report.lookup import Lookup
from desorb.report.readings import strike_words
from desorb.report.words import grouped, scale_in_words, shortened, unit_in_words


def instruments(look: Lookup) -> list[dict[str, Any]]:
    """Each description of each instrument as it was entered, with its checks, readiness and the scales it showed."""
    case = look.case
    rows = []
    for entered in case.instruments:
        each = entered.record
        rows.append(
            {
                "entry": entered.entry, "id": each.id, "words": each.words, "serial": each.serial,
                "calibration_due": each.calibration_due, "calibration_reference": each.calibration_reference,
                "scales": [_scale(scale) for scale in each.scales],
                "block": [
                    {"scale": block.scale, "nominal": block.nominal, "tolerance": block.tolerance,
                     "interval_days": block.interval_days}
                    for block in each.block
                ],
                "corrections": [
                    {"scale": table.scale, "source": table.source, "temperatures": list(table.temperatures),
                     "additions": list(table.additions), "species": list(table.species),
                     "species_additions": list(table.species_additions)}
                    for table in each.corrections
                ],
            }
        )  # fmt: skip
    return rows


def _scale(scale: Scale) -> dict[str, Any]:
    return {
        "key": scale.key, "words": scale_in_words(scale), "standing": scale.standing, "principle": scale.principle,
        "claims": scale.claims, "method": scale.method, "material": scale.material, "basis": scale.basis,
        "unit": unit_in_words(scale.unit), "bottom": scale.bottom, "top": scale.top, "resolution": scale.resolution,
        "depth": scale.depth, "repeatability": scale.repeatability, "face": scale.face,
    }  # fmt: skip


def instrument_log(look: Lookup) -> dict[str, Any]:
    case = look.case
    return {
        "checks": [
            {
                "entry": entered.entry, "instrument": entered.record.instrument, "scale": entered.record.scale,
                "value": entered.record.value, "nominal": entered.record.nominal, "tolerance": entered.record.tolerance,
                "passed": entered.record.passed, "at": entered.record.at, "by": entered.record.by,
            }
            for entered in case.checks
        ],
        "readiness": [
            {
                "entry": entered.entry, "instrument": entered.record.instrument, "visit": entered.record.visit,
                "battery": entered.record.battery, "contacts_free": entered.record.contacts_free,
                "free_air": entered.record.free_air, "block": entered.record.block,
                "probe_settled": entered.record.probe_settled, "at": entered.record.at, "by": entered.record.by,
            }
            for entered in case.readiness
        ],
        "scales_shown": [
            {
                "entry": entered.entry, "instrument": entered.record.instrument, "visit": entered.record.visit,
                "scale": entered.record.scale, "shown": entered.record.shown, "at": entered.record.at,
                "when": entered.record.when,
            }
            for entered in case.scales_shown
        ],
    }  # fmt: skip


RULES_IN_WORDS = {
    TOLERANCE_1: (
        f"A reading is above control beyond the limit that covers {100 * COVERAGE:.0f} % of sound places with"
        f" {100 * CONFIDENCE:.0f} % confidence. It is no higher when it is within the margin at {100 * ONE_SIDED:.0f} %,"
        " one-sided, and not above the plain prediction limit. Between the two it cannot be said."
    ),
    PREDICTION_1: (
        f"A reading is above control beyond the {100 * ONE_SIDED:.0f} % one-sided prediction limit of the controls, which is at"
        " least their mean plus the repeatability limit of the scale. Otherwise it is no higher."
    ),
}
OF_ALL_RULES = (
    f"At least {FEWEST_CONTROLS} control spots. An element is above control if any spot is; it is no higher if none is,"
    f" the mean is within the margin, and at most {100 * UNDECIDED_SHARE:.0f} % of its spots are undecided. Compared unrounded."
)


def rule(look: Lookup) -> dict[str, Any]:
    """The rule of the case with its figures: the settings as last entered, older values beside them."""
    case = look.case
    version = case.setting("rule", TOLERANCE_1)
    return {
        "version": version,
        "words": f"{RULES_IN_WORDS.get(version, 'This version of desorb has no words for this rule.')} {OF_ALL_RULES}",
        "rows": [
            {
                "entry": entered.entry, "scale_class": entered.record.scale_class,
                "on_logarithms": entered.record.on_logarithms, "class_spread": entered.record.class_spread,
                "margin": entered.record.margin, "repeatability": entered.record.repeatability,
                "source": entered.record.source, "by": entered.record.by,
                "in_force": entered.record is case.rule_row(entered.record.scale_class),
            }
            for entered in case.rule_rows
        ],
        "settings": [
            {
                "entry": entered.entry, "key": entered.record.key, "value": entered.record.value,
                "unit": entered.record.unit, "source": entered.record.source, "by": entered.record.by,
            }
            for entered in case.settings
        ],
    }  # fmt: skip


def photos(look: Lookup, awaited: frozenset[str]) -> list[dict[str, Any]]:
    """The photos with the layers drawn over them; an original stays as it is."""
    marks: dict[str, list[dict[str, Any]]] = {}
    for each in photo_marks(look):
        marks.setdefault(each["sha256"], []).append(each)
    return [
        {
            "entry": entered.entry, "sha256": entered.record.sha256, "sha256_text": grouped(entered.record.sha256),
            "media_type": entered.record.media_type, "size": entered.record.size, "words": entered.record.words,
            "taken_at": entered.record.taken_at, "spot": entered.record.spot, "zone": entered.record.zone,
            "place": look.place_of_spot(entered.record.spot) or look.zone_words(entered.record.zone),
            "direction": entered.record.direction, "visit": entered.record.visit, "by": entered.record.by,
            "awaited": entered.record.sha256 in awaited, "marks": marks.get(entered.record.sha256, []),
        }
        for entered in look.case.photos
    ]  # fmt: skip


def photo_marks(look: Lookup) -> list[dict[str, Any]]:
    """What was drawn over photos: a mark, or an area that redacted copies leave out. Areas are shares of the picture."""
    return [
        {
            "entry": entered.entry, "sha256": entered.record.sha256, "shape": entered.record.shape,
            "area": list(entered.record.area), "words": entered.record.words, "at": entered.record.at,
            "by": entered.record.by,
        }
        for entered in look.case.photo_marks
    ]  # fmt: skip


def account(look: Lookup) -> dict[str, Any]:
    """What bears on the cause: told, seen, done. In order of the time it speaks of, as far as the text sorts."""
    case = look.case
    return {
        "events": [
            {
                "entry": entered.entry, "at": entered.record.at, "words": entered.record.words,
                "source": entered.record.source, "confidence": entered.record.confidence, "by": entered.record.by,
            }
            for entered in sorted(case.events, key=lambda entered: (entered.record.at, entered.order))
        ],
        "units": [
            {
                "entry": entered.entry, "unit": entered.record.unit, "type": entered.record.type,
                "zone": entered.record.zone, "place": look.zone_words(entered.record.zone),
                "change": entered.record.change, "at": entered.record.at, "words": entered.record.words,
                "by": entered.record.by,
            }
            for entered in case.unit_changes
        ],
        "scans": [
            {
                "entry": entered.entry, "visit": entered.record.visit,
                "place": look.place(entered.record.zone, entered.record.element), "area_m2": entered.record.area_m2,
                "spacing_m": entered.record.spacing_m, "edge": entered.record.edge, "at": entered.record.at,
                "by": entered.record.by,
            }
            for entered in case.scans
        ],
        "salt_tests": [
            {
                "entry": entered.entry, "place": look.place(entered.record.zone, entered.record.element),
                "result": entered.record.result, "method": entered.record.method, "at": entered.record.at,
                "by": entered.record.by,
            }
            for entered in case.salt_tests
        ],
        "notes": [
            {"entry": entered.entry, "words": entered.record.words, "at": entered.record.at, "by": entered.record.by}
            for entered in case.notes
        ],
    }  # fmt: skip


def findings(look: Lookup) -> list[dict[str, Any]]:
    """What the reader must know about the data, each once, what blocks most first."""
    weight = {"any status": 0, "no higher than control": 1, "nothing": 2}
    unique = dict.fromkeys(look.assessed.findings)
    return [
        {
            "code": finding.code, "words": finding.words, "blocks": finding.blocks, "next_step": finding.next_step,
            "visit": finding.visit, "instrument": finding.instrument, "scale": finding.scale,
            "spots": list(finding.spots), "entries": list(finding.entries), "answered": finding.answered,
        }
        for finding in sorted(unique, key=lambda finding: (bool(finding.answered), weight.get(finding.blocks, 3)))
    ]  # fmt: skip


def _said(record: Any) -> str:
    """What a struck entry said, as far as it is text: it counts nowhere and stays visible."""
    parts = [getattr(record, part.name) for part in fields(record) if part.name not in ("key", "source", "sha256")]
    flat = [", ".join(map(str, part)) if isinstance(part, tuple) else str(part) for part in parts]
    return shortened("; ".join(part for part in flat if part), 300)


def corrections(look: Lookup) -> list[dict[str, Any]]:
    """Strikes, strikes taken back, lawful removals, and what still waits for the entry it names."""
    case = look.case
    rows = [
        {"entry": each.strike.entry, "target": each.struck.entry, "kind": each.kind, "what": what,
         "by": each.strike.record.by, "at": each.strike.record.at, "why": each.strike.record.why,
         "words": "; ".join([_said(each.struck.record), *strike_words(each)[1:]])}
        for what, group in (("struck", case.struck), ("struck, and stands again", case.restored))
        for each in group
    ]  # fmt: skip
    rows += [
        {"entry": each.removal.entry, "target": each.entry, "kind": each.kind, "what": "lawfully removed",
         "by": each.removal.record.by, "at": each.removal.record.at, "why": each.removal.record.why,
         "words": f"on {each.removal.record.authority}; {', '.join(each.removal.record.rested)} rested on it"}
        for each in case.removed
    ]  # fmt: skip
    rows += [
        {"entry": each.entry, "target": grouped(each.record.target), "kind": "", "what": f"{what} that waits for its entry",
         "by": each.record.by, "at": each.record.at, "why": each.record.why, "words": "the entry has not arrived"}
        for what, group in (("strike", case.waiting_strikes), ("removal", case.waiting_removals))
        for each in group
    ]  # fmt: skip
    return rows + [
        {"entry": each.entry, "target": "", "kind": type(each.record).KIND, "what": "row changed, to be confirmed", "by": "",
         "at": each.claimed_at, "why": "", "words": "a row with this identity was taken before, with other content"}
        for each in case.changed_rows
    ]  # fmt: skip


def files(look: Lookup) -> list[dict[str, Any]]:
    return [
        {
            "entry": entered.entry, "name": entered.record.name, "sha256": entered.record.sha256,
            "sha256_text": grouped(entered.record.sha256), "rows": entered.record.rows, "kept": entered.record.kept,
            "problems": list(entered.record.problems), "at": entered.record.at,
        }
        for entered in look.case.files
    ]  # fmt: skip


def heads(look: Lookup) -> list[dict[str, Any]]:
    """The last evidence-bearing entry of each device: what a later copy of the record can be held against."""
    return [
        {"device": device, "n": n, "hash": hashed, "hash_text": grouped(hashed)}
        for device, (n, hashed) in sorted(look.case.evidence_heads.items())
    ]
