"""The things a surveyor writes down, each as a frozen record. Every record is the payload of one entry.

Contents: instruments (Scale, CheckBlock, CorrectionTable, Instrument, InstrumentCheck, Readiness, ScaleShown);
the building (CaseOpened, Setting, RuleRow, Layer, Construction, Zone, Spot, Room, Opening, PlanPicture); the visit (Visit,
Reading, NotRead, AirReading, Scan, SaltTest, UnitChange, UnitReading); what could hurt and what was answered (GateAnswer, Hazard,
WaterOrigin); the account
(FindingAnswer, Event, Note, Photo, PhotoMark, NotInspected, FileTaken); the methods beside the scan (floor tests, samples, leak
tests, causes: kinds/methods.py); the record about itself (Strike, Removal, ReportIssued).

Measured values are kept as the text that was typed, so every field is text, a whole number, yes/no, a list or
another record: nothing here is a float, because what is hashed may not be one (see notebook/entry.py).
Units: degC, % RH, mm for depth and thickness, m for positions, Pa for pressure; '' means "not stated".
"""

from __future__ import annotations

from desorb.core.kinds.account import Event, FileTaken, FindingAnswer, Note, NotInspected, Photo, PhotoMark
from desorb.core.kinds.building import (
    OPENINGS,
    ROLES,
    CaseOpened,
    Construction,
    Layer,
    Opening,
    PlanPicture,
    Room,
    RuleRow,
    Setting,
    Spot,
    Zone,
)
from desorb.core.kinds.instrument import (
    ABSOLUTE_PRINCIPLES,
    CLAIMS,
    OTHER_PRINCIPLES,
    PRINCIPLES,
    RELATIVE_PRINCIPLES,
    CheckBlock,
    CorrectionTable,
    Instrument,
    InstrumentCheck,
    Readiness,
    Scale,
    ScaleShown,
)
from desorb.core.kinds.methods import (
    FLOOR_METHODS,
    LEAK_TESTS,
    WEIGHED,
    CarbideReading,
    CauseObservation,
    CauseTest,
    CupReading,
    CustodyEntry,
    FloorPlace,
    FloorReading,
    FloorTest,
    LeakTest,
    LimitStated,
    LimitTaken,
    SaltContent,
    Sample,
    SampleWeighing,
    SurveyPlace,
)
from desorb.core.kinds.record import Removal, ReportIssued, Strike
from desorb.core.kinds.safety import GateAnswer, Hazard, WaterOrigin
from desorb.core.kinds.visit import (
    BARE,
    COVERINGS,
    AirReading,
    NotRead,
    Reading,
    SaltTest,
    Scan,
    UnitChange,
    UnitReading,
    Visit,
)

RECORDS = (
    Instrument, InstrumentCheck, Readiness, ScaleShown, CaseOpened, Setting, RuleRow, Construction, Zone, Spot, Visit,
    Reading, NotRead, AirReading, Scan, SaltTest, UnitChange, UnitReading, Room, PlanPicture, GateAnswer, Hazard, WaterOrigin,
    FindingAnswer, Event, Note, Photo, PhotoMark, NotInspected, FileTaken, LimitStated, FloorTest, LimitTaken, FloorPlace,
    FloorReading, Sample, CustodyEntry, SampleWeighing, CarbideReading, CupReading, SaltContent, LeakTest, CauseObservation,
    CauseTest, Strike, Removal, ReportIssued,
)  # fmt: skip

__all__ = [
    "ABSOLUTE_PRINCIPLES",
    "AirReading",
    "BARE",
    "CLAIMS",
    "COVERINGS",
    "CarbideReading",
    "CaseOpened",
    "CauseObservation",
    "CauseTest",
    "CheckBlock",
    "Construction",
    "CorrectionTable",
    "CupReading",
    "CustodyEntry",
    "Event",
    "FLOOR_METHODS",
    "FileTaken",
    "FindingAnswer",
    "FloorPlace",
    "FloorReading",
    "FloorTest",
    "GateAnswer",
    "Hazard",
    "Instrument",
    "InstrumentCheck",
    "LEAK_TESTS",
    "Layer",
    "LeakTest",
    "LimitStated",
    "LimitTaken",
    "NotInspected",
    "NotRead",
    "Note",
    "OPENINGS",
    "OTHER_PRINCIPLES",
    "Opening",
    "PRINCIPLES",
    "Photo",
    "PhotoMark",
    "PlanPicture",
    "RECORDS",
    "RELATIVE_PRINCIPLES",
    "ROLES",
    "Readiness",
    "Reading",
    "Removal",
    "ReportIssued",
    "Room",
    "RuleRow",
    "SaltContent",
    "SaltTest",
    "Sample",
    "SampleWeighing",
    "Scale",
    "ScaleShown",
    "Scan",
    "Setting",
    "Spot",
    "Strike",
    "SurveyPlace",
    "UnitChange",
    "UnitReading",
    "Visit",
    "WEIGHED",
    "WaterOrigin",
    "Zone",
]
