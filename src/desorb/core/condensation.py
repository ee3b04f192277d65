"""What the air says about a surface: condensing now, above the 80 % criterion, or neither.

Contents: AirLine (one air reading with everything derived); air_lines; air_findings;
no_air_moved (what stands in the place of advice to heat or exhaust while a gate says stop).
The 80 % criterion is that of EN ISO 13788 as summarised in BS 5250 (read in a summary); the display tolerances are
settings of ours.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from desorb.core import air
from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.gates import STOP, gates_for
from desorb.core.kinds import AirReading
from desorb.core.outcome import BLOCKS_NOTHING, Finding
from desorb.core.typed import read_figure
from desorb.errors import InputError

SURFACE_CRITERION_DEFAULT = "80"  # % surface relative humidity  [ISO-13788]; a setting of the case
CONDENSING = 100.0


@dataclass(frozen=True, slots=True)
class AirLine:
    """One air reading with its derived state. `state` is None where the figures refuse, and `refusal` says why."""

    entered: Entered[AirReading]
    state: air.AirState | None
    refusal: str
    surface_relative_humidity: float | None  # %
    vapour_pressure_excess: float | None  # Pa, over the outside air of the same visit
    disagreements: tuple[str, ...]


def _number(text: str) -> float | None:
    return read_figure(text) if text else None


def air_lines(case: Case) -> list[AirLine]:
    """Every air reading with dew point, humidity ratio, vapour pressure and surface humidity, outside first per visit."""
    order = case.visit_order()
    lines = [_line(entered, case) for entered in case.air_readings]
    outside = {
        line.entered.record.visit: line.state.vapour_pressure
        for line in lines
        if line.state is not None and line.entered.record.kind == "outside"
    }
    finished = []
    for line in lines:
        reading = line.entered.record
        if line.state is not None and reading.visit in outside and reading.kind != "outside":
            excess = float(line.state.vapour_pressure) - float(outside[reading.visit])
            line = AirLine(
                line.entered, line.state, line.refusal, line.surface_relative_humidity, excess, line.disagreements
            )
        finished.append(line)
    return sorted(
        finished,
        key=lambda line: (
            order.get(line.entered.record.visit, 0), line.entered.record.kind != "outside", line.entered.order,
        ),
    )  # fmt: skip


def _line(entered: Entered[AirReading], case: Case) -> AirLine:
    reading = entered.record
    pressure = reading.pressure or case.setting("pressure")
    try:
        state, humid, disagreements = _derived(
            reading.temperature,
            reading.relative_humidity,
            reading.surface_temperature,
            reading.shown_dew_point,
            reading.shown_humidity_ratio,
            pressure,
            "" if pressure else case.setting("altitude"),
        )
    except InputError as problem:
        return AirLine(entered, None, str(problem), None, None, ())
    return AirLine(entered, state, "", humid, None, disagreements)


@lru_cache(maxsize=10_000)  # every part of a page asks again for the same readings
def _derived(
    temperature: str,
    relative_humidity: str,
    surface_temperature: str,
    shown_dew_point: str,
    shown_humidity_ratio: str,
    air_pressure: str,
    altitude: str,
) -> tuple[air.AirState, float | None, tuple[str, ...]]:
    """What follows from the texts of one reading: state, surface humidity [%], disagreements. Raises InputError."""
    pressure = _number(air_pressure)
    state = air.air_state(
        air_temperature=_number(temperature),
        relative_humidity=_number(relative_humidity),
        pressure=pressure,
        altitude=_number(altitude),
    )
    surface = _number(surface_temperature)
    humid = None if surface is None else float(air.surface_relative_humidity(state.vapour_pressure, surface))
    if not (shown_dew_point or shown_humidity_ratio):
        return state, humid, ()
    disagreements = air.displayed_disagreement(
        state.air_temperature,
        state.relative_humidity,
        displayed_dew_point=_number(shown_dew_point),
        displayed_humidity_ratio=_number(shown_humidity_ratio),
        pressure=state.pressure,
    )
    return state, humid, tuple(disagreements)


def air_findings(lines: list[AirLine], case: Case) -> list[Finding]:
    """Condensation, the 80 % criterion (unaffected rooms first of all), refused states, displays that disagree."""
    criterion = float(case.setting("surface criterion", SURFACE_CRITERION_DEFAULT))
    stopped = no_air_moved(case)
    findings = []
    for line in lines:
        reading = line.entered.record
        entries = (line.entered.entry,)

        def finding(
            code: str, words: str, next_step: str, reading: AirReading = reading, entries: tuple[str, ...] = entries
        ) -> Finding:
            return Finding(code, words, BLOCKS_NOTHING, next_step, reading.visit, reading.instrument, entries=entries)

        if line.refusal:
            findings.append(finding("air-refused", f"air at {reading.place}: {line.refusal}", "read the air again"))
        findings.extend(
            finding(
                "display-disagrees",
                f"air at {reading.place}: {words}",
                "ask which figure was mistyped, or check the probe",
            )
            for words in line.disagreements
        )
        humid = line.surface_relative_humidity
        if humid is None:
            continue
        room = "the unaffected room " if reading.kind == "unaffected" else ""
        where = f"{room}{reading.place} in visit {reading.visit}"
        at = f"{where}: surface at {reading.surface_temperature} degC, surface humidity {humid:.0f} %"
        if humid >= CONDENSING:
            findings.append(
                finding(
                    "condensing",
                    f"{at}: condensing now",
                    stopped or "warm the surface, dry or exhaust the air, and keep the door to the wet rooms closed",
                )
            )
        elif humid >= criterion:
            findings.append(
                finding(
                    "surface-humid",
                    f"{at}: above the {criterion:g} % criterion",
                    f"{stopped or 'close, exhaust or heat'}, and log the hours above {criterion:g} %",
                )
            )
    return findings


def no_air_moved(case: Case) -> str:
    """What stands in the place of advice to exhaust or heat while a gate of any zone says stop to moving air, or ''."""
    for zone in ("", *latest_by_id(case.zones)):
        for gate in gates_for("move air", zone, "", case):
            if gate.state == STOP:
                return f"neither exhaust nor heat while a gate says stop ({gate.words})"
    return ""
