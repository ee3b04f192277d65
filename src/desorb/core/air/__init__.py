"""Moist air: its state from any two readings, what it does at a surface, and what an instrument displays about it.

Contents: `state` (AirState and air_state), `surface` (surface humidity, temperature factor, wet-bulb bound),
`equations` (the ASHRAE equations on arrays, for the rooms inside). Only the names below are meant for others.
"""

from desorb.core.air.equations import pressure_at_altitude
from desorb.core.air.state import AirState, AirStates, air_state, displayed_disagreement
from desorb.core.air.surface import (
    WetBulbBound,
    required_relative_humidity,
    saturated_salt_relative_humidity,
    surface_relative_humidity,
    temperature_factor,
    vapour_pressure_excess,
    wet_bulb_bound,
)

__all__ = [
    "AirState",
    "AirStates",
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
