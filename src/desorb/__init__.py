"""desorb: readings, decisions and records for damp buildings. The public door; tests/test_house.py guards it.

Names are brought in when they are asked for, so that opening the door stays quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_WHERE = {
    "Assessment": "desorb.core.outcome",
    "Case": "desorb.core.case",
    "DesorbError": "desorb.errors",
    "Finding": "desorb.core.outcome",
    "Instrument": "desorb.core.kinds",
    "Scale": "desorb.core.kinds",
    "Store": "desorb.notebook.store",
    "air_state": "desorb.core.air",
    "assess_case": "desorb.service.assessing",
    "describe_instrument": "desorb.service.instruments",
    "export_case": "desorb.service.bags",
    "find_case": "desorb.service.cases",
    "import_case": "desorb.service.bags",
    "issue_report": "desorb.service.reporting",
    "log_check": "desorb.service.instruments",
    "open_case": "desorb.service.cases",
    "open_store": "desorb.service.home",
    "strike": "desorb.service.cases",
    "take_air": "desorb.service.take",
    "take_file": "desorb.service.take",
    "take_readings": "desorb.service.take",
    "work_of": "desorb.service.assessing",
    "write": "desorb.service.cases",
}
__all__ = sorted(_WHERE)


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"desorb has no {name!r}")
    return getattr(import_module(_WHERE[name]), name)
