"""Does a drying unit do what it should? Its air, its tank, the way of its air, and plain reasons why it may not.

Contents: Reading and Sensors - air_side_removal - against_tank - recirculation - hints.

Figures from two sensors carry what the sensors leave open: at both sides of a unit the difference is small and the error
of the humidity is not. Capacity off the rating point stands in unit_capacity.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from desorb.core.air import AirState, air_state
from desorb.core.drying.given import figure
from desorb.errors import InputError, Refused

MISMATCH = 20.0  # % between air and tank; setting of ours, JOB F16
RECIRCULATES = (
    0.25  # share of a unit's own air at its inlet, above which it is re-sited; setting of ours, tasks list 50
)
LEAST_RISE = 3.0  # K between outlet and room that a share can be told from; setting of ours
ICES_BELOW = 15.0  # degC at the inlet of a refrigerant unit; common practice, no source
NEAR_HUMIDISTAT = 5.0  # %RH; setting of ours, about what two probes differ by


@dataclass(frozen=True, slots=True)
class Reading:
    """Air as read. air_temperature [degC], relative_humidity [%]."""

    air_temperature: float
    relative_humidity: float


@dataclass(frozen=True, slots=True)
class Sensors:
    """What one sensor leaves open, either way: temperature [K, 0 to 5], relative_humidity [% RH, 0.1 to 20], flow [%, 0 to 80].

    No default: a figure from two sensors means nothing without it.
    """

    temperature: float
    relative_humidity: float
    flow: float

    def __post_init__(self) -> None:
        figure(self.temperature, "temperature uncertainty", 0.0, 5.0, "K")
        figure(self.relative_humidity, "humidity uncertainty", 0.1, 20.0, "% RH")
        figure(self.flow, "flow uncertainty", 0.0, 80.0, "%")


@dataclass(frozen=True, slots=True)
class Removal:
    """litres_per_running_day and half_width, what the sensors leave open (root of squares). difference: in less out [g/kg]."""

    litres_per_running_day: float
    half_width: float
    difference: float
    words: str


@dataclass(frozen=True, slots=True)
class TankCheck:
    """finding: consistent, mismatch or cannot say. Litres a day by air and by tank; the band of the air figure."""

    finding: str
    by_air: float
    by_tank: float
    band: tuple[float, float]
    words: str
    next_step: str


@dataclass(frozen=True, slots=True)
class Recirculation:
    """share by temperature [-]; by_humidity: an interval, one decimal, or None where the sensors leave all open."""

    share: float
    by_humidity: tuple[float, float] | None
    resite: bool
    words: str
    next_step: str


def air_side_removal(
    inlet: Reading, outlet: Reading, flow: float, flow_at: str, sensors: Sensors, pressure: float | None = None
) -> Removal:
    """Water that a unit takes from its air while it runs: V rho_da (w_in - w_out) 24. [m3/h, 5 to 20 000], inlet or outlet

    Of a desiccant unit: its process air. Source: mass balance (JOB F16), [ASHRAE17] volume. Raises InputError, OutOfRange.
    """
    volume_flow = figure(flow, "flow", 5.0, 20_000.0, "m3/h")
    if flow_at not in ("inlet", "outlet"):
        raise InputError(
            "Where the flow was taken is not stated",
            got=repr(flow_at),
            wanted="inlet or outlet",
            next_step="say at which side: warm air is lighter",
        )

    def litres(shift: tuple[float, float, float, float], flow_share: float = 0.0) -> float:
        entering = _state(inlet, shift[0], shift[1], pressure)
        leaving = _state(outlet, shift[2], shift[3], pressure)
        volume = (entering if flow_at == "inlet" else leaving).specific_volume
        dry_air = volume_flow * (1 + flow_share) / volume  # kg/h
        return dry_air * (entering.humidity_ratio - leaving.humidity_ratio) * 24 / 1000

    middle = litres((0, 0, 0, 0))
    t, h = sensors.temperature, sensors.relative_humidity
    swings = [
        (litres(up) - litres(tuple(-each for each in up))) / 2  # type: ignore[arg-type]
        for up in ((t, 0.0, 0.0, 0.0), (0.0, h, 0.0, 0.0), (0.0, 0.0, t, 0.0), (0.0, 0.0, 0.0, h))
    ]
    swings.append(middle * sensors.flow / 100)
    half = math.sqrt(sum(each**2 for each in swings))
    difference = _state(inlet, 0, 0, pressure).humidity_ratio - _state(outlet, 0, 0, pressure).humidity_ratio
    wetter = "; the outlet is the wetter: it takes out nothing, or the sensors are swapped" if difference < 0 else ""
    words = (
        f"{middle:.1f} L/day while it runs, ±{half:.1f} for ±{h:g} %RH, ±{t:g} K and ±{sensors.flow:g} % of flow; inlet less"
        f" outlet {difference:.2f} g/kg{wetter}"
    )
    return Removal(middle, half, difference, words)


def against_tank(
    removal: Removal, running_hours: float, tank_litres: float, period_hours: float = 24.0, mismatch: float = MISMATCH
) -> TankCheck:
    """The air of a unit against its tank or pump counter. [h in the period], [L in the period], [h], [% of the air figure]

    consistent within the setting; mismatch above it, with the band; cannot say where the air shows no removal.
    """
    period = figure(period_hours, "period", 1.0, 24.0 * 60, "h")
    hours = figure(running_hours, "running hours", 0.0, period, "h")
    tank = figure(tank_litres, "litres in the tank", 0.0, 1e5, "L") * 24 / period
    allowed = figure(mismatch, "mismatch setting", 1.0, 100.0, "%")
    duty = hours / period
    by_air, half = removal.litres_per_running_day * duty, removal.half_width * duty
    band = (by_air - half, by_air + half)
    told = (
        f"{by_air:.1f} L/day by air over {hours:g} of {period:g} h, {tank:.1f} by tank; sensors leave {band[0]:.1f} to"
        f" {band[1]:.1f} open"
    )
    if by_air <= 0:
        return TankCheck(
            "cannot say", by_air, tank, band, f"{told}; the air shows no removal to compare",
            "see whether it runs, then read inlet and outlet with the same probe one after the other",
        )  # fmt: skip
    off = 100 * abs(tank - by_air) / by_air
    if off <= allowed:
        wide = "" if half <= by_air else "; the sensors leave so much open that this proves little"
        return TankCheck(
            "consistent", by_air, tank, band, f"{told}; {off:.0f} % apart{wide}",
            "keep reading hours and tank at every visit",
        )  # fmt: skip
    within = band[0] <= tank <= band[1]
    place = "inside what the sensors leave open" if within else "outside what the sensors leave open"
    return TankCheck(
        "mismatch", by_air, tank, band, f"{told}; {off:.0f} % apart, more than {allowed:g} %, and the tank lies {place}",
        "read both sides with one probe, check the running hours, the flow, leaks of tank and hose"
        + ("" if within else ", then whether the unit iced or stood full"),
    )  # fmt: skip


def recirculation(
    room: Reading, inlet: Reading, outlet: Reading, sensors: Sensors, setting: float = RECIRCULATES
) -> Recirculation:
    """Share of a unit's own outlet air at its inlet, by temperature: (T_in - T_room)/(T_out - T_room).

    By humidity, (w_room - w_in)/(w_room - w_out) is only an interval over the errors of the sensors. Refused where
    outlet and room are less than 3 K apart. Source: mixing of two streams, JOB F19.
    """
    limit = figure(setting, "recirculation setting", 0.0, 1.0, "(a share)")
    for reading in (room, inlet, outlet):
        _state(reading, 0, 0, None)  # refuses what cannot be air
    rise = outlet.air_temperature - room.air_temperature
    if rise < LEAST_RISE:
        raise Refused(
            "The outlet is not warmer than the room by enough to tell its air from the room's",
            got=f"{rise:.1f} K",
            wanted=f"{LEAST_RISE:g} K or more",
            next_step="let the unit run for half an hour and read again, or see the air with smoke",
        )
    share = (inlet.air_temperature - room.air_temperature) / rise
    cross = _humidity_share(room, inlet, outlet, sensors)
    open_words = "humidity leaves it open" if cross is None else f"by humidity {cross[0]:.1f} to {cross[1]:.1f}"
    words = f"{share:.2f} of the inlet air is the unit's own, by temperature; {open_words} (±{sensors.relative_humidity:g} %RH)"
    if not 0 <= share <= 1:
        return Recirculation(
            share, cross, False, f"{words}: mixing of room and outlet air cannot do this",
            "read room, inlet and outlet again with one probe; look for a heater or a cold surface nearby",
        )  # fmt: skip
    if share > limit:
        return Recirculation(
            share, cross, True, f"{words}: above {limit:g}",
            "re-site the unit or turn its outlet away from its inlet, and read again",
        )  # fmt: skip
    return Recirculation(
        share, cross, False, f"{words}: not above {limit:g}", "leave it, and read again when it is moved"
    )


def hints(
    refrigerant: bool, inlet: Reading, outlet: Reading, humidistat: float | None = None, runs: bool = True
) -> tuple[str, ...]:
    """Plain reasons why a unit may do little, in words; none is a finding. humidistat: its setting [% RH], None unknown."""
    said = []
    if refrigerant and inlet.air_temperature < ICES_BELOW:
        said.append(
            f"inlet at {inlet.air_temperature:g} degC: a refrigerant unit may ice below about {ICES_BELOW:g}"
            " (common practice); look at the coil, and warm the room or use a desiccant unit"
        )
    if humidistat is not None and inlet.relative_humidity <= humidistat + NEAR_HUMIDISTAT:
        said.append(
            f"inlet at {inlet.relative_humidity:g} % and the humidistat at {humidistat:g} %: it may have switched itself off;"
            " set it lower if more drying is wanted"
        )
    if humidistat is None:
        said.append("the humidistat setting was not read: a unit that rests may only obey it")
    if runs and refrigerant and outlet.air_temperature - inlet.air_temperature < LEAST_RISE:
        said.append(
            "the outlet is hardly warmer than the inlet: the fan may run without the compressor (defrosting, tank full, fault)"
        )
    if not runs:
        said.append("it does not run: tank full, power off, humidistat or fault")
    return tuple(said)


def _humidity_share(room: Reading, inlet: Reading, outlet: Reading, sensors: Sensors) -> tuple[float, float] | None:
    """Least and most over all corners of the humidity errors, within 0 to 1; None where the difference may vanish."""
    ends = (-sensors.relative_humidity, sensors.relative_humidity)
    ratios = [[_state(each, 0, end, None).humidity_ratio for end in ends] for each in (room, inlet, outlet)]
    corners = list(itertools.product(*ratios))
    below = [w_room - w_out for w_room, _, w_out in corners]
    if min(below) <= 0 <= max(below):
        return None
    shares = [(w_room - w_in) / (w_room - w_out) for w_room, w_in, w_out in corners]
    low, high = max(min(shares), 0.0), min(max(shares), 1.0)
    if low > high:
        return None
    return math.floor(10 * low) / 10, math.ceil(10 * high) / 10


def _state(reading: Reading, warmer: float, moister: float, pressure: float | None) -> AirState:
    """The state of air as read and shifted by an error; a shift past 1.1 or 100 % ends there."""
    humidity = reading.relative_humidity
    if moister:
        humidity = min(max(humidity + moister, 1.1), 100.0)
    return air_state(air_temperature=reading.air_temperature + warmer, relative_humidity=humidity, pressure=pressure)
