"""What a person has to see to before a floor is touched, by method.

Contents: cautions_for. Nothing here permits drilling or grinding. Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

from desorb.core.samples.carbide import CAUTIONS as CARBIDE_CAUTIONS

DUST = (
    "Drilling, grinding or chiselling concrete frees silica dust: extract at the tool, wear a fitting mask, never drill, "
    "grind or sand dry."
)
SERVICES = (
    "Find cables, pipes and ducts in the floor before drilling; without a record of that, the hole is not answered for."
)
HEATED = "Drill a heated screed only at its marked measuring points, with the plan of the pipes at hand."
ASBESTOS = (
    "Old coverings and black or brown adhesives may hold asbestos: no drilling, scraping or sanding before a survey or a "
    "sample of that very material answers it."
)  # [CAR2012]
MEMBRANE = "A membrane that is pierced becomes a leak: do not drill through the floor."
DRILLING = (DUST, SERVICES, HEATED, ASBESTOS, MEMBRANE)
CAUTIONS = {
    "hole": DRILLING,
    "sleeve": DRILLING,
    "box": (ASBESTOS,),  # nothing is drilled; the place may have to be scraped clean
    "dish": (DUST, ASBESTOS),  # the place is ground
    "carbide": CARBIDE_CAUTIONS + DRILLING,
    "crushed sample": DRILLING,
}


def cautions_for(method: str) -> tuple[str, ...]:
    """Cautions of one method, in the order in which they are to be read; empty for a method that is not known."""
    return CAUTIONS.get(method, ())
