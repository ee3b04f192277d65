"""Export a case as a bag with its twins, and import a bag."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from desorb.core.case import latest_by_id
from desorb.notebook.bag import export_bag, import_bag, read_bag
from desorb.notebook.store import Store
from desorb.report.twins import csv_twins, json_twin
from desorb.service.cases import Clock, OpenCase, load, moment_text, now, write
from desorb.service.instruments import instruments, register
from desorb.service.reporting import SOFTWARE, document_of


def export_case(store: Store, case: OpenCase, folder: Path, clock: Clock = now) -> Path:
    """Write the bag: the record itself, and CSV and JSON twins of the case as it stands."""
    moment = moment_text(clock().isoformat(), case.time_zone)
    document = document_of(store, case, number=0, issued_at=moment)
    extra = {"json/case.json": json_twin(document)}
    extra |= {f"csv/{name}": content for name, content in csv_twins(document).items()}
    return export_bag(store, case.id, folder, extra_files=extra, now=moment, software=SOFTWARE)


def import_case(store: Store, bag: Path) -> dict[str, Any]:
    """Import a bag into the store: a union. Returns counts, and what was set aside with its reason."""
    content = read_bag(bag)
    arrival = import_bag(store, bag)
    _adopt_instruments(store, content.case)
    return {
        "case": store.opening_of(content.case).get("name", content.case), "id": content.case,
        "accepted": len(arrival.accepted), "known": len(arrival.known),
        "set_aside": [list(pair) for pair in arrival.set_aside],
    }  # fmt: skip


def _adopt_instruments(store: Store, case: str) -> None:
    """Instruments that came with a case and are not in this store's register: described here too, with their checks."""
    folded = load(store, OpenCase(case, "", "UTC"))
    known = instruments(store)
    for name, entered in latest_by_id(folded.instruments).items():
        if name not in known:
            checks = [each.record for each in folded.checks if each.record.instrument == name]
            write(store, register(store), [entered.record, *checks])
