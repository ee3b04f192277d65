"""What surface temperatures say: humidity at the surface, what would keep it below the criterion, and why a patch is cooler.

Contents: surfaces_shown. A temperature never sets a wetness status; between wet bulb and air it cannot tell evaporation from a
cold bridge, and says so.
"""

from __future__ import annotations

from desorb.core.air import AirState
from desorb.core.air.surface import required_relative_humidity, temperature_factor
from desorb.core.case import Case
from desorb.core.condensation import SURFACE_CRITERION_DEFAULT, air_lines, no_air_moved
from desorb.core.shown import Shown, Table
from desorb.core.surface_cause import cooler_patch, required_surface_temperature
from desorb.core.typed import read_figure
from desorb.errors import DesorbError, sentence

SURFACE, CANNOT_SAY = "surfaces", "cannot say"
UNCERTAINTY = "surface temperature uncertainty"  # setting, K
UNCERTAINTY_DEFAULT = "1.0"  # K; setting of ours, an infrared reading of a matt surface at best
COLUMNS = (
    "visit", "place", "surface, degC", "air", "surface humidity", "room humidity that keeps it", "surface needed",
    "temperature factor",
    "cooler than the air?",
)  # fmt: skip


def surfaces_shown(case: Case) -> tuple[Shown, ...]:
    """One for the case, with the status of the last visit that read surfaces."""
    lines = air_lines(case)
    found = [line for line in lines if line.entered.record.surface_temperature and line.state is not None]
    if not found:
        return ()
    try:
        criterion = read_figure(case.setting("surface criterion", SURFACE_CRITERION_DEFAULT))
        uncertainty = read_figure(case.setting(UNCERTAINTY, UNCERTAINTY_DEFAULT))
    except DesorbError as problem:
        step = f"correct the setting 'surface criterion' or '{UNCERTAINTY}'"
        return (
            Shown(
                SURFACE,
                "case",
                "Surfaces and the air before them",
                "",
                CANNOT_SAY,
                f"{sentence(problem)}.",
                next_steps=(step,),
            ),
        )
    outside = {
        line.entered.record.visit: line.state
        for line in lines
        if line.entered.record.kind == "outside" and line.state is not None
    }
    last = found[-1].entered.record.visit
    rows, above, notes, steps = [], [], [], []
    stopped = no_air_moved(case)
    for line in found:
        reading, state, humid = line.entered.record, line.state, line.surface_relative_humidity
        if state is None or humid is None:
            continue
        try:
            surface, temperature, humidity = (
                read_figure(text)
                for text in (reading.surface_temperature, reading.temperature, reading.relative_humidity)
            )
            patch = cooler_patch(surface, temperature, humidity, uncertainty)
            needed = required_surface_temperature(temperature, humidity, criterion)
            room = required_relative_humidity(temperature, surface, criterion)
        except DesorbError as problem:
            notes.append(f"{reading.place}, visit {reading.visit}: {sentence(problem)}.")
            steps.append(problem.next_step or "read air and surface again")
            continue
        if reading.visit == last:
            if humid >= criterion:
                above.append(f"{reading.place} {humid:.0f} %")
                steps.append(
                    f"{reading.place}: {stopped}"
                    if stopped
                    else f"{reading.place}: bring the room to {min(room, 100):.0f} % or the surface to {needed:.1f} degC"
                )
            steps += patch.next_tests
        rows.append((
            reading.visit, reading.place, reading.surface_temperature,
            f"{reading.temperature} degC, {reading.relative_humidity} %", f"{humid:.0f} %",
            "any" if room >= 100 else f"{room:.0f} %", f"{needed:.1f} degC",
            _factor(surface, state, outside.get(reading.visit)), f"{patch.finding}: {patch.because}",
        ))  # fmt: skip
    said = f"at or above {criterion:g} % at the surface: {', '.join(above)}" if above else (
        f"no surface that was read stands at {criterion:g} % or above"
    )  # fmt: skip
    return (
        Shown(
            kind=SURFACE, id="case", title="Surfaces and the air before them", zone="",
            status=f"{len(above)} at or above {criterion:g} %" if above else f"none at {criterion:g} %",
            words=f"Visit {last}: {said}.", tables=(Table(COLUMNS, tuple(rows)),) if rows else (),
            notes=(
                *notes,
                f"One reading is one moment: {criterion:g} % matters where it lasts for days, so log air and surface.",
                f"The temperatures are taken as right to {uncertainty:g} K (setting '{UNCERTAINTY}').",
                "A temperature sets no wetness status.",
            ),
            next_steps=tuple(dict.fromkeys(steps)), rests_on=tuple(line.entered.entry for line in found),
        ),
    )  # fmt: skip


def _factor(surface: float, inside: AirState, outside: AirState | None) -> str:
    if outside is None:
        return "outside air was not read"
    try:
        factor = temperature_factor(surface, float(inside.air_temperature), float(outside.air_temperature))
    except DesorbError as problem:
        return f"none: {problem.what}"
    return f"{factor:.2f}, if the temperatures held for hours"
