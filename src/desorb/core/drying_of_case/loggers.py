"""The logger files that were taken into the case: where each hung, how it was understood, and what it says.

Contents: loggers_shown.
"""

from __future__ import annotations

from desorb.core.case import Case, latest_by_id
from desorb.core.shown import Shown, Table

LOGGERS = "loggers"
FIGURES = ("figure", "value", "unit")


def loggers_shown(case: Case) -> tuple[Shown, ...]:
    """One for each logger file, as it was read last."""
    shown = []
    for entered in latest_by_id(case.logger_files).values():
        log = entered.record
        gaps = any(each.startswith("gap of") for each in log.findings)
        figures = tuple((each.name, each.value, each.unit) for each in log.figures)
        shown.append(
            Shown(
                kind=LOGGERS, id=log.id, title=f"Logger {log.id} at {log.place}", zone=log.zone,
                status="with gaps" if gaps else "without gaps",
                words=f"{log.rows} rows from {log.first_at} to {log.last_at} at {log.place} ({log.zone}).",
                tables=(Table(FIGURES, figures),) if figures else (),
                notes=(
                    f"File {log.name}, SHA-256 {log.sha256 or 'left out'}; taken {log.at}{f' by {log.by}' if log.by else ''}.",
                    f"Columns as they were understood: {'; '.join(log.columns)}.", f"Clock: {log.clock}.",
                    *(f"{each[0].upper()}{each[1:]}." for each in log.findings if each),
                ),
                next_steps=(f"read the kept file again: desorb logger --kept {log.id} --case (name of the case)",),
                rests_on=(entered.entry,),
            )
        )  # fmt: skip
    return tuple(shown)
