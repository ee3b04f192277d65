"""Samples taken from a building: carbide test, oven, drilled profile, salts, chain of custody.

Contents: `carbide` (protocol and gas law), `gravimetric` (oven, constant mass), `profile` (total, hygroscopic, free),
`salts` (two editions side by side), `custody` (gaps in the chain), `numbers` (refusals).
"""

from desorb.core.samples.carbide import CarbideResult, CarbideTest, assess_carbide, protocol
from desorb.core.samples.custody import CustodyResult, CustodyStep, check_custody
from desorb.core.samples.gravimetric import OvenResult, Weighing, assess_oven
from desorb.core.samples.profile import DrilledSample, WallProfile, wall_profile
from desorb.core.samples.salts import SaltResult, classify_salts

__all__ = [
    "CarbideResult",
    "CarbideTest",
    "CustodyResult",
    "CustodyStep",
    "DrilledSample",
    "OvenResult",
    "SaltResult",
    "WallProfile",
    "Weighing",
    "assess_carbide",
    "assess_oven",
    "check_custody",
    "classify_salts",
    "protocol",
    "wall_profile",
]
