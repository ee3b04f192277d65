"""Can what arrived be read at all? Times that are times, numbers that are numbers, digests that are digests.

Contents: senseless (why a record from elsewhere cannot be used, or '').
A reading that was typed oddly is evidence of something and is kept as a finding; but a check whose date is no date, or a
scale whose end is no number, would leave every page of the case unreadable. Such an entry is set aside with this reason.
"""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from desorb.core.kinds import NUMBER_SETTINGS

LARGEST = Decimal("1e12")  # nothing that is measured in a building comes near
_LONGEST_NUMBER = 40  # characters
_DIGEST = re.compile(r"[0-9a-f]{64}")
# By kind of record: parts that must say something of their form, and parts that may also be empty.
_TIMES = {
    "InstrumentCheck": ("at",), "ScaleShown": ("at",), "Reading": ("taken_at",), "AirReading": ("taken_at",),
    "UnitReading": ("taken_at",), "Visit": ("begun_at",), "FloorTest": ("at",), "FloorPlace": ("at",), "FloorReading": ("at",),
    "Sample": ("taken_at",), "SampleWeighing": ("at",), "CarbideReading": ("at",), "CupReading": ("at", "closed_at"),
    "LeakTest": ("start", "end"), "Unit": ("at",), "Enclosure": ("at",), "UnitChange": ("at",),
    "LoggerTaken": ("first_at", "last_at"),
}  # fmt: skip
_TIMES_OR_NOTHING = {
    "Readiness": ("at",), "NotRead": ("at",), "FloorPlace": ("heating_off_at", "service_since"),
    "FloorReading": ("probe_checked_at", "set_at"), "SampleWeighing": ("oven_since",), "CupReading": ("probe_checked_at",),
    "Enclosure": ("ended_at",), "TimeLimit": ("began_at", "met_at"),
}  # fmt: skip
_NUMBERS = {"InstrumentCheck": ("value", "nominal", "tolerance"), "CheckBlock": ("nominal", "tolerance"),
    "LimitStated": ("value",), "LimitTaken": ("value",), "SurveyPlace": ("value",),
    "FloorTest": ("area", "thickness", "drying_faces"), "FloorReading": ("value",), "SampleWeighing": ("mass",),
    "CarbideReading": ("sample_mass", "gauge_pressure", "temperature", "free_volume"),
    "CupReading": ("humidity", "temperature"), "LeakTest": ("planned_minutes",), "Enclosure": ("volume",),
    "LoadTerm": ("litres_per_day", "low", "high"), "Circuit": ("voltage",), "Tariff": ("price",), "OptionCost": ("amount",),
    "TimeLimit": ("length",),
}  # fmt: skip
_NUMBERS_OR_NOTHING = {
    "Reading": ("depth_from", "depth_to", "temperature"),
    "AirReading": (
        "temperature", "relative_humidity", "pressure", "surface_temperature", "shown_dew_point", "shown_humidity_ratio",
        "settled_minutes", "first_temperature", "first_relative_humidity",
    ),
    "Spot": ("x", "y", "height", "offset_a", "offset_b"),
    "FloorTest": ("edition",), "FloorPlace": ("depth",), "Sample": ("height", "depth_from", "depth_to"),
    "FloorReading": (
        "uncertainty", "temperature", "service_temperature", "drift", "probe_minutes", "air_temperature", "air_humidity",
        "floor_temperature", "dish_area",
    ),
    "CustodyEntry": ("mass",), "SampleWeighing": ("oven_temperature",),
    "CarbideReading": ("temperature_closed", "reagent_mass", "uncertainty"), "CupReading": ("uncertainty", "drift"),
    "SaltContent": ("chloride", "nitrate", "sulphate"),
    "LeakTest": (
        "at_start", "at_end", "temperature_start", "temperature_end", "doubt", "temperature_doubt", "allowance",
        "air_pressure", "litres",
    ),
    "Unit": ("litres_per_day", "rated_temperature", "rated_humidity", "flow", "watts"), "Enclosure": ("air_changes",),
    "LoadTerm": ("area", "surface_temperature", "air_speed"), "Circuit": ("rating",), "Target": ("value",),
    "OptionCost": ("days",), "UnitChange": ("humidistat",),
    "UnitReading": ("hours", "collected", "energy"),
    "Hazard": ("depth_mm", "area_m2"), "Scan": ("area_m2", "spacing_m"),
}  # fmt: skip
_PLAIN = {  # what nobody types on site and the core reckons with as it stands: no comma for the decimal point
    "InstrumentCheck": ("nominal", "tolerance"), "CheckBlock": ("nominal", "tolerance"),
    "Scale": ("bottom", "top", "resolution", "depth", "repeatability"), "RuleRow": ("class_spread", "margin", "repeatability"),
}  # fmt: skip
_PLAIN_LISTS = {"CorrectionTable": ("temperatures", "additions", "species_additions")}
LARGEST_SETTING = Decimal("1e6")  # hours, degC, %, Pa, a year: nothing that is set comes near
_DATES_OR_NOTHING = {"Instrument": ("calibration_due",)}
_DATES = {"TimeLimit": ("began_on",)}
_DIGESTS = {"Photo": ("sha256",), "PhotoMark": ("sha256",), "PlanPicture": ("sha256",), "LoggerTaken": ("sha256",)}


def senseless(record: Any) -> str:
    """Why this record cannot be used by any page or assessment, or ''. Parts inside parts are looked at too."""
    name = type(record).__name__
    tables = (
        (_TIMES, _is_time, "is no time with its offset"),
        (_TIMES_OR_NOTHING, lambda text: not text or _is_time(text), "is no time with its offset"),
        (_NUMBERS, _is_number, "is no number"),
        (_NUMBERS_OR_NOTHING, lambda text: not text or _is_number(text), "is no number"),
        (_PLAIN, lambda text: not text or _is_plain(text), "is no number with a decimal point"),
        (
            _PLAIN_LISTS,
            lambda texts: all(_is_plain(text) for text in texts),
            "holds what is no number with a decimal point",
        ),
        (_DATES, _is_date, "is no date"),
        (_DATES_OR_NOTHING, lambda text: not text or _is_date(text), "is no date"),
        (_DIGESTS, lambda text: _DIGEST.fullmatch(text) is not None, "is no SHA-256"),
    )
    for parts, is_fit, words in tables:
        for part in parts.get(name, ()):
            if not is_fit(getattr(record, part)):
                return f"its {part} {words}: {str(getattr(record, part))[:40]!r}"
    if name == "Setting" and record.key in NUMBER_SETTINGS and not _is_setting(record.key, record.value):
        return f"its value is no figure for {record.key!r}: {record.value[:40]!r}"
    for field in fields(record):
        value = getattr(record, field.name)
        inner = value if isinstance(value, tuple) else ()
        for each in inner:
            reason = senseless(each) if is_dataclass(each) else ""
            if reason:
                return f"{field.name}: {reason}"
    return ""


def _is_time(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


def _is_date(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _is_setting(key: str, text: str) -> bool:
    return _is_plain(text) and (Decimal(text) >= 0 or key == "altitude") and abs(Decimal(text)) <= LARGEST_SETTING


def _is_plain(text: str) -> bool:
    return "," not in text and _is_number(text)


def _is_number(text: str) -> bool:
    if len(text) > _LONGEST_NUMBER:
        return False
    try:
        number = Decimal(text.replace(",", "."))
    except InvalidOperation:
        return False
    return number.is_finite() and abs(number) <= LARGEST
