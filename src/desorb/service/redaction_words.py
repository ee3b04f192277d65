"""Taking names out of a case: which fields hold free words, who becomes which role, what stands in the place of a name.

Contents: Names (what is looked for); Replaced, ToLookAt (for the preview); redacted_case; still_named (does a finished case
hold a listed name after all?).
Everything measured stays as it is: values, scales, times, places on the plan. The id of the case and digests are left out.
Names are replaced in every other text, also in the ids of zones and spots, everywhere by the same words, so that rows still
find each other.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import Any

from desorb.core.case import Case, Entered
from desorb.core.kinds import ROLES, FileTaken, LoggerTaken
from desorb.errors import InputError
from desorb.service.redaction_patterns import (
    COORDINATES,
    E_MAIL,
    PHONE,
    PLACE_CODES,
    glued,
    loose,
    pattern_of,
    plain,
    telephone,
)

# Never touched: what was measured, when, how it is sealed, and words of our own lists.
KEPT = frozenset({
    "hash", "device", "n", "clock", "order", "entry", "kind", "claimed_at", "sha256", "source_sha256", "target", "media_type",
    "value", "nominal", "tolerance", "taken_at", "begun_at", "at", "temperature", "relative_humidity",
    "first_temperature", "first_relative_humidity", "pressure", "surface_temperature", "shown_dew_point",
    "shown_humidity_ratio", "settled_minutes", "depth_from", "depth_to", "x", "y", "height", "thickness_mm", "outline", "area",
    "area_m2", "depth_mm", "spacing_m", "hours", "collected", "energy", "bottom", "top", "resolution", "depth", "repeatability",
    "temperatures", "additions", "species_additions", "calibration_due", "principle", "claims", "basis", "role", "affected",
    "gate", "change", "origin", "class_spread", "margin", "time_zone", "heads", "evidence_heads", "built", "shape", "evidence",
    "thickness", "drying_faces", "comparison", "quantity", "heated", "power_floated", "lined", "sealed", "coated", "drift",
    "service_temperature", "heating_on", "drying_on", "probe_minutes", "air_temperature", "air_humidity", "floor_temperature",
    "probe_checked_at", "dish_area", "set_at", "heating_off_at", "service_since", "mass", "state", "oven_temperature",
    "oven_since", "sample_mass", "gauge_pressure", "free_volume", "crushed", "temperature_closed", "reagent_mass", "humidity",
    "closed_at", "chloride", "nitrate", "sulphate", "start", "end", "planned_minutes", "at_start", "at_end",
    "temperature_start", "temperature_end", "doubt", "temperature_doubt", "allowance", "air_pressure", "litres", "known",
    "disproves", "valid", "uncertainty", "step", "system", "looked_before", "took_in_all", "litres_per_day", "rated_temperature",
    "rated_humidity", "domestic", "flow", "flow_at", "watts", "humidistat", "volume", "air_changes", "ended_at", "term", "low",
    "high", "voltage", "rating", "price", "currency", "option", "contamination", "amount", "days", "began_on", "began_at",
    "length",    "counted_in", "calendar", "met_at", "children", "rows", "first_at", "last_at", "columns",
    "visible_mould", "cap_off", "offset_a", "offset_b", "battery", "contacts_free", "free_air", "probe_settled", "scale_class",
})  # fmt: skip
# Ids and short words that other rows refer to: names are taken out, numbers are not looked for.
REFERENCES = frozenset({
    "id", "spot", "zone", "zones", "construction", "element", "elements", "instrument", "scale", "unit", "visit", "key", "serial",
    "rested", "source", "name", "species", "material", "materials", "method", "face", "type", "code", "finish", "preparation",
    "covering", "test", "sample", "line", "enclosure", "circuit", "inside", "outside",
})  # fmt: skip
PEOPLE = ("by", "opened_by", "told_to", "no_use_by", "given_to", "owner")
SURVEYING = frozenset(
    {
        "visit",
        "reading",
        "air-reading",
        "not-read",
        "unit-reading",
        "scan",
        "salt-test",
        "readiness",
        "floor-test",
        "floor-place",
        "floor-reading",
        "sample",
        "custody",
        "weighing",
        "carbide-reading",
        "cup-reading",
        "leak-test",
        "unit-change",
        "not-done",
        "logger-taken",
    }
)
CAPITALISED = re.compile(r"(?<![\w.])[^\W\d_a-z][a-z\u00df-\u017f]{2,}")
NO_ID = "redacted"  # in the place of the id of the case
SHORTEST_PART = 3  # letters of a part of a name that is looked for by itself


@dataclass(frozen=True, slots=True)
class Names:
    """What is looked for. `listed`: in any spelling of case; `derived`: parts of names in the record, as they are spelt."""

    listed: tuple[str, ...]
    derived: tuple[str, ...] = ()
    client: str = ""


@dataclass(frozen=True, slots=True)
class Replaced:
    """One text as it was and as it stands in the copy."""

    where: str
    field: str
    was: str
    becomes: str


@dataclass(frozen=True, slots=True)
class ToLookAt:
    """A text that still holds words with a capital letter, a name inside a longer word, a post code or a square of a grid:
    a person looks whether one says who or where."""

    where: str
    text: str
    words: tuple[str, ...]


@dataclass(slots=True)
class Redactor:
    """Replaces, and remembers what it did. Roles are numbered in the order in which people first appear in the record."""

    names: Names
    roles: dict[str, str] = field(default_factory=dict)
    replaced: list[Replaced] = field(default_factory=list)
    to_look_at: list[ToLookAt] = field(default_factory=list)
    plain_words: frozenset[str] = frozenset()  # also written small in this case: no name at the start of a sentence
    _patterns: list[tuple[re.Pattern[str], str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        numbered: dict[str, int] = {}
        for name in self.names.listed:
            numbered.setdefault(plain(name).casefold(), len(numbered) + 1)
        longest_first = sorted(self.names.listed, key=len, reverse=True)
        self._patterns = [(pattern_of(name), f"[name {numbered[plain(name).casefold()]}]") for name in longest_first]
        if self.names.client:
            self._patterns.insert(0, (pattern_of(self.names.client), "[client]"))
        for name in sorted(self.names.derived, key=len, reverse=True):
            number = numbered.setdefault(plain(name).casefold(), len(numbered) + 1)
            self._patterns.append((pattern_of(name, any_case=False), f"[name {number}]"))

    def role_of(self, person: str, is_surveyor: bool) -> str:
        if not person:
            return ""
        key = plain(person).casefold()
        if key not in self.roles:
            kind = "surveyor" if is_surveyor else "person"
            number = 1 + sum(role.startswith(kind) for role in self.roles.values())
            self.roles[key] = f"{kind} {number}"
        return self.roles[key]

    def names_out(self, text: str) -> str:
        before = out = loose(text)
        for pattern, instead in self._patterns:
            out = pattern.sub(instead, out)
        return unicodedata.normalize("NFC", out) if out != before else text

    def words_out(self, text: str) -> str:
        """Names, then e-mail addresses, coordinates and telephone numbers. A date is no telephone number."""
        before = plain(text)
        out = E_MAIL.sub("[e-mail]", before)
        out = self.names_out(out)
        out = COORDINATES.sub("[place by coordinates]", out)
        out = PHONE.sub(telephone, out)
        return out if out != before else text

    def walk(self, value: Any, where: str, name: str = "", kind: str = "") -> Any:
        """The same value without names; `name` is the field it stands in."""
        if isinstance(value, str):
            return self._text(value, where, name, kind)
        if isinstance(value, tuple):
            return tuple(self.walk(part, where, name, kind) for part in value)
        if isinstance(value, Mapping) or not is_dataclass(value) or isinstance(value, type):
            return value
        if isinstance(value, Entered):
            where, kind = value.entry, getattr(type(value.record), "KIND", "")
        kind = getattr(type(value), "KIND", kind)
        changed = {
            part.name: self.walk(getattr(value, part.name), where, part.name, kind)
            for part in fields(value)
            if part.name not in KEPT
        }
        return replace(value, **changed)

    def _text(self, value: str, where: str, name: str, kind: str) -> str:
        if not value:
            return value
        if name in PEOPLE:
            out = self.role_of(value, name == "opened_by" or kind in SURVEYING)
        elif name == "client":
            out = "[client]"
        elif name == "covering" and not value.startswith("other"):
            return value
        elif name == "values":  # a figure has no letters; whoever typed a name into the field is named by it
            out = self.names_out(value)
        elif name in REFERENCES:
            out = self.names_out(E_MAIL.sub("[e-mail]", value))
        else:
            out = self.words_out(value)
        if out != value:
            self._remember(Replaced(where, name, value, out))
        if name not in PEOPLE:
            self._look(where, out, name in REFERENCES or name == "values")
        return out

    def _remember(self, replaced: Replaced) -> None:
        if replaced not in self.replaced:
            self.replaced.append(replaced)

    def _look(self, where: str, text: str, is_id: bool) -> None:
        """Of an id or a value only what holds a listed name inside a longer word: it may be a plain word after all."""
        found = (
            []
            if is_id
            else [
                match.group()
                for match in CAPITALISED.finditer(text)
                if not (_begins_a_sentence(text, match.start()) and match.group().casefold() in self.plain_words)
            ]
        )
        found += [] if is_id else PLACE_CODES.findall(text)
        found += [name for name in self.names.listed if glued(name, text)]
        if found and all(each.text != text for each in self.to_look_at):
            self.to_look_at.append(ToLookAt(where, text, tuple(dict.fromkeys(found))))


def _begins_a_sentence(text: str, at: int) -> bool:
    before = text[:at].rstrip()
    return bool(before) and before[-1] in ".:;?"  # the first word of a text may be a name


def names_in(case: Case, listed: Sequence[str]) -> Names:
    """What is looked for in this case: what the user listed, who wrote or is named as a person, and the client."""
    clean = tuple(dict.fromkeys(plain(name).strip() for name in listed if name.strip()))
    for name in clean:
        if len(name) < 2 or len(name) > 80 or name in ROLES or name.isdigit():
            raise InputError("this cannot be taken out as a name", got=repr(name), wanted="a name of 2 to 80 letters")
    people: dict[str, None] = {}
    _collect(case, people)
    client = case.opened.record.client if case.opened else ""
    spelt = [*people, client]
    parts = [
        part
        for text in spelt
        for part in re.findall(r"[^\W\d_]+", text)
        if part[0].isupper() and len(part) >= SHORTEST_PART
    ]
    return Names(
        clean, tuple(dict.fromkeys([*(text for text in people if any(map(str.isupper, text))), *parts])), client
    )


def _collect(value: Any, people: dict[str, None]) -> None:
    if isinstance(value, tuple):
        for part in value:
            _collect(part, people)
    elif is_dataclass(value) and not isinstance(value, type):
        for part in fields(value):
            inside = getattr(value, part.name)
            if part.name in PEOPLE and isinstance(inside, str):
                people.setdefault(plain(inside), None)
            else:
                _collect(inside, people)


def _collect_words(value: Any, words: list[str]) -> None:
    if isinstance(value, str):
        words.append(value)
    elif isinstance(value, tuple):
        for part in value:
            _collect_words(part, words)
    elif is_dataclass(value) and not isinstance(value, type):
        for part in fields(value):
            _collect_words(getattr(value, part.name), words)


def redacted_case(case: Case, listed: Sequence[str]) -> tuple[Case, Redactor]:
    """The case as a copy for others may show it: no heads, for a copy that was changed proves nothing."""
    words: list[str] = []
    _collect_words(case, words)
    small = frozenset(word for text in words for word in re.findall(r"(?<![^\W_])[^\W\d_]+", text) if word.islower())
    redactor = Redactor(names_in(case, listed), plain_words=small)
    for visit in case.visits:  # people who survey are numbered by their visits
        redactor.role_of(visit.record.by, True)
    bare = replace(case, heads={}, evidence_heads={}, plan_pictures=(), reports=())
    changed = {
        part.name: redactor.walk(getattr(bare, part.name), "case", part.name)
        for part in fields(bare)
        if part.name not in ("id", *KEPT)
    }
    return _unsealed(replace(bare, **changed), {}), redactor


def _unsealed(value: Any, numbers: dict[str, str], name: str = "") -> Any:
    """Without the id of the case and without digests: an entry is numbered instead, everywhere by the same number."""
    if isinstance(value, tuple):
        return tuple(_unsealed(part, numbers, name) for part in value)
    if isinstance(value, str):
        return (
            numbers.setdefault(value, f"left out {len(numbers) + 1}") if name in ("hash", "target") and value else value
        )
    if isinstance(value, Mapping) or not is_dataclass(value) or isinstance(value, type):
        return value
    changed = {part.name: _unsealed(getattr(value, part.name), numbers, part.name) for part in fields(value)}
    if isinstance(value, Case):
        changed["id"] = NO_ID
    elif isinstance(value, FileTaken | LoggerTaken):
        changed["sha256"] = ""
    return replace(value, **changed)


def still_named(case: Case, names: Names) -> list[str]:
    """Listed names that a redacted case holds after all, each with where: none, or something is wrong with this module."""
    found: list[str] = []
    patterns = [(name, pattern_of(name)) for name in names.listed]

    def look(value: Any, where: str, name: str) -> None:
        if isinstance(value, str):
            if name not in KEPT and name != "covering":
                found.extend(
                    f"{each} in {name} of {where}" for each, pattern in patterns if pattern.search(loose(value))
                )
        elif isinstance(value, tuple):
            for part in value:
                look(part, where, name)
        elif is_dataclass(value) and not isinstance(value, type):
            where = value.entry if isinstance(value, Entered) else where
            for part in fields(value):
                look(getattr(value, part.name), where, part.name)

    for part in fields(case):
        if part.name != "id":
            look(getattr(case, part.name), "case", part.name)
    return found
