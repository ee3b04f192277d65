"""Relative humidity over saturated salt solutions: check points for a humidity probe.

The probe stands with the wet salt in a small closed vessel until both have one temperature and the reading rests.
Keys in square brackets stand in docs/references.md.
"""

from __future__ import annotations

import numpy as np

from desorb.core.saturation import Q, Range, numbers, require_in_range, shaped
from desorb.errors import InputError
from desorb.units import ZERO_CELSIUS_IN_KELVIN

# A [%] and B [K] of RH = A exp(B / T)  [CRC], read in the project's rules of trade 1.5
SATURATED_SALTS = {
    "LiCl": (14.53, -75.0),
    "MgCl2": (29.26, 34.0),
    "Ca(NO3)2": (1.89, 981.0),
    "Mg(NO3)2": (25.28, 220.0),
    "NaNO3": (26.94, 302.0),
    "NaCl": (69.20, 25.0),
    "KCl": (49.38, 159.0),
    "KNO3": (43.22, 225.0),
    "K2SO4": (86.75, 34.0),
}
SALT_TEMPERATURES = Range(
    "the saturated-salt fits", 15.0, 30.0, "degC", "[CRC], range ours: a room in which one checks"
)


def saturated_salt_relative_humidity(salt: str, temperature: Q) -> Q:
    """Relative humidity over the saturated solution; good to about 2 %RH in practice. [degC] -> [%]

    salt: a key of SATURATED_SALTS. temperature: 15 to 30 degC, any shape. Raises InputError for another salt or a
    missing temperature, OutOfRange. Source: [CRC].
    """
    if salt not in SATURATED_SALTS:
        raise InputError("no coefficients for this salt", got=repr(salt), wanted=", ".join(SATURATED_SALTS))
    degrees = numbers(temperature, "temperature")
    require_in_range(degrees, "temperature", SALT_TEMPERATURES)
    a, b = SATURATED_SALTS[salt]
    humidity = np.asarray(a * np.exp(b / (degrees + ZERO_CELSIUS_IN_KELVIN)))  # [CRC]
    return shaped(humidity, temperature)  # type: ignore[return-value]
