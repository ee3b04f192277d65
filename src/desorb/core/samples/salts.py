"""Salt classes of a masonry sample by two editions of one body, side by side.

Contents: Edition; EDITIONS; SaltClass; SaltResult; classify_salts.

Ion contents in mass-%. In an edition the highest ion decides. The editions serve different purposes and disagree: both
are shown, neither is chosen. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from desorb.core.samples.numbers import require_between
from desorb.errors import InputError

IONS = ("chloride", "nitrate", "sulphate")


@dataclass(frozen=True, slots=True)
class Edition:
    """names: of the three classes, rising. ends: the middle class of each ion, mass-%, ends included."""

    name: str
    purpose: str
    names: tuple[str, str, str]
    ends: Mapping[str, tuple[Decimal, Decimal]]


EDITIONS = (
    Edition(
        "WTA 2-6-99/D",
        "outer 0 to 30 mm of masonry",
        ("low", "medium", "high"),
        {
            "chloride": (Decimal("0.2"), Decimal("0.5")),  # [RULES-4.2], row MS-10 of the limits
            "nitrate": (Decimal("0.1"), Decimal("0.3")),  # [RULES-4.2], row MS-11
            "sulphate": (Decimal("0.5"), Decimal("1.5")),  # [RULES-4.2], row MS-12
        },
    ),
    Edition(
        "WTA 3-13-01/D",
        "desalination of natural stone by compresses",
        ("none", "case by case", "urgent measures"),
        {
            "chloride": (Decimal("0.03"), Decimal("0.10")),  # [RULES-4.2], row MS-13
            "nitrate": (Decimal("0.05"), Decimal("0.15")),  # [RULES-4.2], row MS-14
            "sulphate": (Decimal("0.10"), Decimal("0.25")),  # [RULES-4.2], row MS-15
        },
    ),
)


@dataclass(frozen=True, slots=True)
class SaltClass:
    """Class by one edition. rank: 0 to 2. decided_by: the ions of the highest class."""

    edition: Edition
    rank: int
    decided_by: tuple[str, ...]
    missing: tuple[str, ...]

    @property
    def words(self) -> str:
        """Class, edition and what decided it, in one sentence."""
        least = "at least " if self.missing and self.rank < 2 else ""
        unknown = f"; not measured: {', '.join(self.missing)}" if self.missing else ""
        return (
            f"{self.edition.name} ({self.edition.purpose}): {least}{self.edition.names[self.rank]}, decided by "
            f"{' and '.join(self.decided_by)}{unknown}."
        )


@dataclass(frozen=True, slots=True)
class SaltResult:
    """One class for each edition; conflict: a sentence, or '' where both stand at the same step."""

    classes: tuple[SaltClass, ...]
    conflict: str


def classify_salts(contents: Mapping[str, Decimal]) -> SaltResult:
    """Class of one sample by each edition. contents: mass-% of chloride, nitrate, sulphate, 0 to 100; may be partial.

    Raises InputError for no ion or an unknown one, OutOfRange for a content outside 0 to 100. Source: [RULES-4.2].
    """
    unknown = sorted(set(contents) - set(IONS))
    if unknown or not contents:
        raise InputError(
            "The salts cannot be classed",
            got=", ".join(unknown) or "no ion",
            wanted=", ".join(IONS),
            next_step="enter the ions from the laboratory sheet, in mass-%",
        )
    for ion, content in contents.items():
        require_between(f"content of {ion}", content, 0.0, 100.0, "mass-%")
    classes = tuple(_by_edition(edition, contents) for edition in EDITIONS)
    conflict = ""
    if len({one.rank for one in classes}) > 1:
        said = ", ".join(f"'{one.edition.names[one.rank]}' by {one.edition.name}" for one in classes)
        conflict = f"The editions disagree: {said}. Their purposes differ; say which one the work follows."
    return SaltResult(classes, conflict)


def _by_edition(edition: Edition, contents: Mapping[str, Decimal]) -> SaltClass:
    ranks = {ion: _rank(content, edition.ends[ion]) for ion, content in contents.items()}
    highest = max(ranks.values())
    decided = tuple(ion for ion in IONS if ranks.get(ion) == highest)
    return SaltClass(edition, highest, decided, tuple(ion for ion in IONS if ion not in contents))


def _rank(content: Decimal, ends: tuple[Decimal, Decimal]) -> int:
    return 0 if content < ends[0] else 1 if content <= ends[1] else 2
