"""Instruments: scales, check block, correction table, checks, readiness, the scale shown."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import ClassVar

ABSOLUTE_PRINCIPLES = ("gravimetric", "calcium carbide", "Karl Fischer", "azeotropic distillation")  # [EN16682]

RELATIVE_PRINCIPLES = ("electrical resistance", "capacitance", "electrical impedance", "relative humidity")  # [EN16682]

OTHER_PRINCIPLES = ("contact thermometer", "infrared thermometer", "other")

PRINCIPLES = ABSOLUTE_PRINCIPLES + RELATIVE_PRINCIPLES + OTHER_PRINCIPLES

CLAIMS = ("measured", "equivalent", "wood equivalent", "comparative")


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale is described, never picked from a list. Two readings share a scale only if every part agrees."""

    key: str  # the user's own short word
    principle: str  # one of PRINCIPLES
    claims: str  # one of CLAIMS: what its number claims to be
    method: str = ""  # the method it equals or is: "oven drying", "relative humidity in a hole"
    material: str = ""  # the material it was fitted to; '' for any
    basis: str = ""  # "dry" or "wet" for a mass percentage
    unit: str = ""  # '' for a scale without unit
    bottom: str = ""
    top: str = ""
    resolution: str = ""
    depth: str = ""  # nominal depth in mm
    repeatability: str = ""  # 95 % repeatability limit r, in scale digits
    face: str = ""  # what the instrument itself shows when it is set to this scale; '' means the key

    @property
    def standing(self) -> str:
        """'absolute' or 'relative', as EN 16682 groups the methods; 'other' for a temperature."""
        if self.principle in ABSOLUTE_PRINCIPLES:
            return "absolute"
        return "relative" if self.principle in RELATIVE_PRINCIPLES else "other"

    def identity(self) -> dict[str, str]:
        """What must agree for two readings to share this scale. Numbers compare as numbers: 0.0 equals 0."""
        return _identity_of(self)


@cache
def _identity_of(scale: Scale) -> dict[str, str]:
    numbers = {name: _plain(getattr(scale, name)) for name in ("bottom", "top", "resolution", "depth")}
    words = {name: getattr(scale, name) for name in ("principle", "claims", "method", "material", "basis", "unit")}
    return words | numbers


def _plain(text: str) -> str:
    return f"{Decimal(text.replace(',', '.')).normalize():f}" if text else ""


@dataclass(frozen=True, slots=True)
class CheckBlock:
    """The reference an instrument is checked on."""

    scale: str
    nominal: str
    tolerance: str
    interval_days: int


@dataclass(frozen=True, slots=True)
class CorrectionTable:
    """The instrument's own table: points to add at each temperature, and for each species."""

    scale: str
    source: str
    temperatures: tuple[str, ...]
    additions: tuple[str, ...]
    species: tuple[str, ...] = ()
    species_additions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Instrument:
    KIND: ClassVar[str] = "instrument"
    id: str
    words: str
    serial: str = ""
    scales: tuple[Scale, ...] = ()
    calibration_due: str = ""  # ISO date
    calibration_reference: str = ""
    block: tuple[CheckBlock, ...] = ()
    corrections: tuple[CorrectionTable, ...] = ()

    def scale(self, key: str) -> Scale | None:
        return next((scale for scale in self.scales if scale.key == key), None)


@dataclass(frozen=True, slots=True)
class InstrumentCheck:
    """A reading on the check block. Whether it passed is computed, never typed."""

    KIND: ClassVar[str] = "instrument-check"
    instrument: str
    scale: str
    value: str
    nominal: str
    tolerance: str
    at: str
    by: str = ""

    @property
    def passed(self) -> bool:
        return abs(Decimal(self.value.replace(",", ".")) - Decimal(self.nominal)) <= Decimal(self.tolerance)


@dataclass(frozen=True, slots=True)
class Readiness:
    """Fit to use before the first reading of a visit. Each part: 'yes', 'no' or '' (not looked at)."""

    KIND: ClassVar[str] = "readiness"
    instrument: str
    visit: str
    battery: str = ""
    contacts_free: str = ""  # a sticking contact reads low
    free_air: str = ""  # the reading in free air is at the bottom of the scale
    block: str = ""
    probe_settled: str = ""
    at: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class ScaleShown:
    """What the instrument itself showed as its scale: at the start of a sweep, after a pause, after a change."""

    KIND: ClassVar[str] = "scale-shown"
    visit: str
    instrument: str
    scale: str
    shown: str
    at: str
    when: str = "start"
