"""Whether the values of a logger file are in the units that were stated, and which of them no air in a building has.

Contents: require_units_fit - left_out_as_implausible. Ranges are those of `core/air`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from desorb.core.logger import PLAUSIBLE_HUMIDITY, PLAUSIBLE_TEMPERATURE, PLAUSIBLE_VAPOUR
from desorb.core.saturation import Array, Range, pressure_over
from desorb.errors import Refused
from desorb.service.logger_cells import Block, Stated

MOST = 0.9  # share of values that shows another unit, setting of ours
HOTTEST_MEDIAN = 45.0  # degC, setting of ours: half of a log above it is an oven or degF
COLDEST_MEDIAN = 5.0  # degC, setting of ours: below it a file stated in F is asked about; it may be a loft in winter


def require_units_fit(whole: Block, stated: Stated, notes: list[str]) -> None:
    """Refused where most values say that another unit was meant; a note where they only may."""
    humidity, temperature = whole.humidity, whole.temperature
    if stated.humidity_unit == "percent" and (humidity <= PLAUSIBLE_HUMIDITY.low).mean() > MOST:
        raise Refused(
            "the relative humidity was stated in percent and looks like a fraction",
            got=f"values from {humidity.min():g} to {humidity.max():g}", wanted="values above 1 to 100 %",
            next_step="state the unit 'fraction' if the logger writes 0.55 for 55 %; else the probe is at its end",
        )  # fmt: skip
    if stated.humidity_unit == "fraction" and (humidity > PLAUSIBLE_HUMIDITY.high).mean() > MOST:
        raise Refused(
            "the relative humidity was stated as a fraction and looks like percent",
            got=f"values from {humidity.min() / 100:g} to {humidity.max() / 100:g}", wanted="values from 0 to 1",
            next_step="state the unit 'percent' if the logger writes 55 for 55 %",
        )  # fmt: skip
    middle = float(np.median(temperature))
    if stated.temperature_unit == "C" and middle > HOTTEST_MEDIAN:
        raise Refused(
            "the temperature was stated in C and looks like another unit", got=f"a median of {middle:g}",
            wanted=f"a median of at most {HOTTEST_MEDIAN:g} degC",
            next_step="state F if the logger writes 68 for a warm room; K and other units are not read",
        )  # fmt: skip
    if stated.temperature_unit == "F" and middle < COLDEST_MEDIAN:
        notes.append(
            f"stated in F, half of the log is below {middle:.1f} degC: if this was a heated room, the file is in C; "
            "then read it again with that unit"
        )


def left_out_as_implausible(whole: Block) -> tuple[dict[str, int], NDArray[np.bool_]]:
    """How many by reason, and which rows. An implausible surface temperature becomes NaN and its row stays."""
    hot, damp = _outside(whole.temperature, PLAUSIBLE_TEMPERATURE), _outside(whole.humidity, PLAUSIBLE_HUMIDITY)
    damp |= whole.humidity <= PLAUSIBLE_HUMIDITY.low
    damp &= ~hot  # each row counts once
    tame = np.where(hot, 20.0, whole.temperature)
    vapour = np.clip(whole.humidity, 0.0, 100.0) / 100 * pressure_over("water", tame)
    dry = _outside(vapour, PLAUSIBLE_VAPOUR) & ~hot & ~damp
    surface = _outside(whole.surface, PLAUSIBLE_TEMPERATURE) & ~np.isnan(whole.surface)
    whole.surface[surface] = np.nan
    counted = {
        f"temperature outside {_ends(PLAUSIBLE_TEMPERATURE)}": int(hot.sum()),
        f"relative humidity outside {_ends(PLAUSIBLE_HUMIDITY)}": int(damp.sum()),
        f"vapour pressure outside {_ends(PLAUSIBLE_VAPOUR)}": int(dry.sum()),
    }
    return {reason: many for reason, many in counted.items() if many}, hot | damp | dry


def _outside(values: Array, limits: Range) -> NDArray[np.bool_]:
    return ~((values >= limits.low) & (values <= limits.high))


def _ends(limits: Range) -> str:
    return f"{limits.low:g} to {limits.high:g} {limits.unit}"
