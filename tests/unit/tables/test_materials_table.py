"""The table of building materials: passports, bounds, gaps, sources that resolve."""

from __future__ import annotations

import re
import tomllib
from importlib import resources
from pathlib import Path

import pytest

from desorb.core.materials import FAMILIES, STATUSES, out_of_bounds
from desorb.errors import InputError, NotFound, NotUnderstood
from desorb.tables.materials import material, materials, read_materials

TEXT = resources.files("desorb.tables").joinpath("materials.toml").read_text(encoding="utf-8")
TABLE = tomllib.loads(TEXT)
KEYS = list(materials())
REFERENCES = (Path(__file__).parents[3] / "docs" / "references.md").read_text(encoding="utf-8")

ASKED = {
    "concrete": 3, "screed": 2, "brick": 3, "mortar": 4, "gypsum": 2, "timber": 2, "board": 3, "wool": 1, "foam": 1,
    "aerated concrete": 1,
}  # fmt: skip

ONE = """
[source.BOOK]
words = "a book"
edition = "2nd"
[source.SETTING]
words = "ours"
edition = ""
[[material]]
key = "x"
family = "brick"
words = "x"
"""


def test_every_kind_of_material_that_a_survey_meets_is_there() -> None:
    """Concrete, screeds, bricks, mortars, gypsum, wood, boards, insulation: at least so many of each."""
    families = [each.family for each in materials().values()]
    assert {family: families.count(family) >= count for family, count in ASKED.items()} == dict.fromkeys(ASKED, True)
    assert set(families) == set(FAMILIES)


@pytest.mark.parametrize("key", KEYS)
def test_every_figure_has_its_passport(key: str) -> None:
    """I point at any figure: unit, condition, source, edition and how it was read are there."""
    found = list(material(key).figures())
    assert len(found) >= 7
    for name, figure in found:
        assert all(text.strip() for text in (figure.unit, figure.source, figure.edition)), (key, name)
        assert figure.read in STATUSES, (key, name)
        assert figure.read != "lent", (key, name)


@pytest.mark.parametrize("key", KEYS)
def test_every_figure_lies_within_the_bounds_of_its_family(key: str) -> None:
    assert out_of_bounds(material(key)) == []


@pytest.mark.parametrize("key", KEYS)
def test_every_gap_is_stated_with_words(key: str) -> None:
    """Nothing is silently empty: where there is no figure, the table says so."""
    found = material(key)
    lacking = {
        name
        for name in (
            "density",
            "heat_capacity",
            "conductivity",
            "conductivity_moist",
            "sorption",
            "capillary",
            "absorption",
        )
        if getattr(found, name) is None
    }
    assert lacking == {name for name, _ in found.gaps}
    assert all(len(words) > 10 for _, words in found.gaps)


def test_every_source_stands_in_the_references_and_none_for_nothing() -> None:
    used = set(re.findall(r'source = "([A-Z0-9-]+)"', TEXT))
    assert used | {"SETTING"} == set(TABLE["source"])
    keys = set(re.findall(r"\*\*\[([^]]+)\]", REFERENCES)) | set(re.findall(r", \[([A-Z][^]]+)\]", REFERENCES))
    assert used - keys == set()


def test_memory_is_marked_wherever_only_memory_speaks() -> None:
    """EN ISO 10456, DIN 4108-4 and the supplements were seen by nobody: each of their figures says so."""
    for key in KEYS:
        for name, figure in material(key).figures():
            if any(f"[{source}]" in figure.source for source in ("ISO10456", "DIN4108", "KUENZEL95")):
                assert figure.read == "memory", (key, name)


def test_the_warned_figures_are_not_used() -> None:
    """Absorption without a unit, swapped render rows, a plaster that insulates: left out, with the reason."""
    assert material("concrete-2104").value("absorption") < 0.03
    assert material("calcium-silicate-brick").value("absorption") < 0.1
    assert material("gypsum-plaster").value("conductivity") > 0.5
    reasons = {key: " ".join(material(key).left_out) for key in KEYS}
    assert "1.27" in reasons["concrete-2104"]
    assert "2.7" in reasons["calcium-silicate-brick"]
    assert "0.2 W" in reasons["gypsum-plaster"]
    assert "swapped" in reasons["lime-cement-mortar"]
    assert "70" in reasons["cement-screed"]


def test_an_unknown_material_names_the_known_ones() -> None:
    with pytest.raises(NotFound, match="clay-brick-1650"):
        material("marzipan")


GOOD = 'density = { value = 1700, unit = "kg/m3", condition = "", source = "BOOK", read = "read" }'


def test_a_small_table_can_be_read() -> None:
    found = read_materials(f"{ONE}{GOOD}\ngaps = {{ sorption = 'not measured' }}\nleft_out = ['a slip']")["x"]
    assert found.value("density") == 1700
    assert found.gap("sorption") == "not measured"
    assert found.left_out == ("a slip",)
    assert found.spread_vapour is not None


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (GOOD.replace(', read = "read"', ""), "whole passport"),
        (GOOD.replace('unit = "kg/m3", ', ""), "whole passport"),
        (GOOD.replace(', source = "BOOK"', ""), "whole passport"),
        (GOOD.replace('condition = "", ', ""), "whole passport"),
        (GOOD.replace("value = 1700", "value = 1700, page = 3"), "or with more"),
        (GOOD.replace("BOOK", "HEARSAY"), "source the table does not know"),
        (GOOD.replace("density", "colour"), "name the table does not know"),
        (GOOD.replace('"read"', '"guessed"'), "how it was read"),
        (GOOD.replace("value = 1700, ", ""), "a value or points"),
    ],
)
def test_a_row_without_its_passport_is_refused(line: str, said: str) -> None:
    """A colleague adds a row and forgets the source: the table does not load, and says which figure."""
    with pytest.raises(InputError, match=said):
        read_materials(ONE + line)


def test_two_materials_cannot_share_a_key() -> None:
    with pytest.raises(NotUnderstood, match="share a key"):
        read_materials(ONE + '[[material]]\nkey = "x"\nfamily = "brick"\nwords = "again"\n')
