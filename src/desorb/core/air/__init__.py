"""Moist air: its state from any two readings, what it does at a surface, and what an instrument displays about it.

Contents: `state` (AirState and air_state), `pairs` (which two readings determine it), `surface` (surface humidity,
temperature factor, wet-bulb bound), `display` (an instrument's own dew point and g/kg), `salts` (check points for a
humidity probe) and `equations` (the ASHRAE equations on arrays, unchecked). Others use only the names below.
"""

from desorb.core.air.display import displayed_disagreement
from desorb.core.air.equations import pressure_at_altitude
from desorb.core.air.salts import SATURATED_SALTS, saturated_salt_relative_humidity
from desorb.core.air.state import AirState, AirStates, air_state
from desorb.core.air.surface import (
    WetBulbBound,
    required_relative_humidity,
    surface_relative_humidity,
    temperature_factor,
    vapour_pressure_excess,
    wet_bulb_bound,
)

__all__ = [
    "AirState",
    "AirStates",
    "SATURATED_SALTS",
    "WetBulbBound",
    "air_state",
    "displayed_disagreement",
    "pressure_at_altitude",
    "required_relative_humidity",
    "saturated_salt_relative_humidity",
    "surface_relative_humidity",
    "temperature_factor",
    "vapour_pressure_excess",
    "wet_bulb_bound",
]
