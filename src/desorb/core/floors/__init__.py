"""Floor tests before a covering is laid: plan, hole, box, dish, result by place, and drying time for planning.

Contents: `plan` (places, depth, waiting time), `cautions`, `hole` (humidity in a lined hole or sleeve), `box` (humidity
under a sealed box), `emission` (calcium chloride), `carbide` and `cup` (samples out of the floor), `outcome` (place by
place, then the floor; never a mean), `drying_time`.
"""

from desorb.core.floors.box import BoxReading, BoxTest, assess_box, room_air_at_the_floor
from desorb.core.floors.carbide import assess_carbide_place
from desorb.core.floors.cup import CupTest, assess_cup
from desorb.core.floors.drying_time import DryingTime, planned_drying_time
from desorb.core.floors.emission import EmissionReading, assess_emission, emission_rate
from desorb.core.floors.hole import HoleReading, assess_hole
from desorb.core.floors.outcome import FloorResult, PlaceResult, floor_result
from desorb.core.floors.plan import (
    BOX_QUANTITY,
    CARBIDE_QUANTITY,
    CRUSHED_QUANTITY,
    EMISSION_QUANTITY,
    HOLE_QUANTITY,
    FloorPlan,
    SurveyReading,
    plan_floor_test,
)

__all__ = [
    "BOX_QUANTITY",
    "BoxReading",
    "BoxTest",
    "CARBIDE_QUANTITY",
    "CRUSHED_QUANTITY",
    "CupTest",
    "DryingTime",
    "EMISSION_QUANTITY",
    "EmissionReading",
    "FloorPlan",
    "FloorResult",
    "HOLE_QUANTITY",
    "HoleReading",
    "PlaceResult",
    "SurveyReading",
    "assess_box",
    "assess_carbide_place",
    "assess_cup",
    "assess_emission",
    "assess_hole",
    "emission_rate",
    "floor_result",
    "plan_floor_test",
    "planned_drying_time",
    "room_air_at_the_floor",
]
