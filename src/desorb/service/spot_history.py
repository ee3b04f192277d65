"""The history of one spot: every reading with its context, whatever became of it, and what was concluded from it.

Contents: SpotHistory; spot_history.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from desorb.errors import NotFound
from desorb.notebook.chain import first_receipts
from desorb.notebook.store import Store
from desorb.report import comparisons, readings, record, visit_rows
from desorb.report.building import made_of
from desorb.report.words import listed
from desorb.service.standing import AsItStands


@dataclass(frozen=True, slots=True)
class SpotHistory:
    """All that the record holds of a spot, newest visit first."""

    spot: dict[str, Any]
    readings: list[dict[str, Any]]
    not_read: list[dict[str, Any]]
    assessments: dict[str, dict[str, Any]]  # by entry of the reading
    controls: dict[str, dict[str, Any]]  # by entry of the reading: the set it was compared with
    current: dict[str, Any] | None
    photos: list[dict[str, Any]]
    descriptions: list[dict[str, Any]]  # every time the spot was described
    serves: list[dict[str, Any]]  # sets of controls in which it stands, for a control spot


def spot_history(store: Store, found: AsItStands, spot: str) -> SpotHistory:
    """Raises NotFound for a spot that is neither described nor read."""
    look = found.look
    described = {each["id"]: each for each in made_of(look)["spots"]}
    rows = [row for row in readings.readings(look) if row["spot"] == spot]
    missing = [row for row in visit_rows.not_read(look) if row["spot"] == spot]
    if spot not in described and not rows and not missing:
        raise NotFound(
            "there is no such spot in this case", got=spot, wanted=listed(sorted(described), 20) or "none yet"
        )
    received = first_receipts(store.receipts(found.open.id))
    for row in rows:
        row["received_at"] = received.get(row["hash"], "")
    assessed = {
        each.readings[0]: comparisons.assessment_row(each, look)
        | {"findings": [{"words": finding.words, "blocks": finding.blocks, "next_step": finding.next_step,
                         "answered": finding.answered} for finding in each.findings]}
        for each in found.assessed.history if each.id == spot
    }  # fmt: skip
    sets = comparisons.controls(look)
    current = next((each for each in comparisons.spots(look) if each["id"] == spot), None)
    photos = [row for row in record.photos(look, frozenset()) if row["spot"] == spot]
    every = [
        {"entry": entered.entry, "claimed_at": entered.claimed_at, "words": entered.record.words, "x": entered.record.x,
         "y": entered.record.y, "height": entered.record.height}
        for entered in found.case.spots if entered.record.id == spot
    ]  # fmt: skip
    place = described.get(spot) or {
        "id": spot, "entry": "", "zone": "", "place": "", "element": "", "role": "", "words": "", "x": "", "y": "",
        "height": "", "why_unaffected": "", "offsets": "",
    }  # fmt: skip
    return SpotHistory(
        place, rows[::-1], missing, assessed, {entry: group for group in sets for entry in group["entries"]}, current,
        photos, every, [group for group in sets if any(used["spot"] == spot for used in group["used"])],
    )  # fmt: skip
