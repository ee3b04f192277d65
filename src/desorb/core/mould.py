"""The mould index over a logged series of temperature and humidity.

Contents: sensitivities - critical humidity, weeks, highest index, isopleth - mould_index. A calculated index says what
could grow, never that somebody saw mould.

Times in hours, temperatures in degC, relative humidity in % over water. Gaps as in `core/surface_log.py`.
Keys in square brackets stand in docs/references.md; all figures of the model were read second hand [RULES-5.1].
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from desorb.core.saturation import Array, Range, numbers, require_in_range
from desorb.core.surface_log import Log
from desorb.errors import InputError, OutOfRange

HUMIDITY_UNCERTAINTY = 2.0  # %RH of a logger, setting of ours: half of what the band is made of
DECLINE_FACTORS = (1.0, 0.5, 0.25, 0.1)  # of the decline on pine; steps from memory [RULES-5.1]

GROWS = Range("the mould index", math.nextafter(0.0, 1.0), math.nextafter(50.0, 0.0), "degC", "[HUKKA99]")
ISOPLETH_TEMPERATURE = Range("the isopleth approximation", 5.0, 30.0, "degC", "ours: compared only there")


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """Growth on one class of material: k1 before and after index 1, A, B, C of the highest index, least RH [%]."""

    example: str
    before_one: float
    after_one: float
    a: float
    b: float
    c: float
    least_humidity: float


SENSITIVITIES = {  # [OJANEN10]
    "very sensitive": Sensitivity("pine sapwood", 1.0, 2.0, 1.0, 7.0, 2.0, 80.0),
    "sensitive": Sensitivity("glued boards, paper facings, spruce", 0.578, 0.386, 0.3, 6.0, 1.0, 80.0),
    "medium resistant": Sensitivity("concrete, mineral wool", 0.072, 0.097, 0.0, 5.0, 1.5, 85.0),
    "resistant": Sensitivity("glass, metal, polished polyurethane", 0.033, 0.014, 0.0, 3.0, 1.0, 85.0),
}
CLASS_WORDS = (  # [RULES-5.1]
    "no growth",
    "some growth, seen only under a microscope",
    "several colonies, seen only under a microscope",
    "visible growth on less than 10 %, or less than 50 % under a microscope",
    "visible growth on 10 to 50 %",
    "visible growth on more than 50 %",
    "growth over the whole surface",
)


@dataclass(frozen=True, slots=True)
class MouldIndex:
    """index: one per row; final and highest class 0 to 6; band: lowest and highest final class; gaps: from, to [h]."""

    index: Array = field(repr=False)
    final_class: int
    highest_class: int
    band: tuple[int, int]
    gaps: tuple[tuple[float, float], ...]
    words: str


def sensitivity_of(name: str) -> Sensitivity:
    """The class of material by its name. Raises InputError."""
    if name not in SENSITIVITIES:
        raise InputError(
            "This class of sensitivity is not known",
            got=repr(name),
            wanted=", ".join(SENSITIVITIES),
            next_step="choose the class nearest to the surface",
        )
    return SENSITIVITIES[name]


def critical_relative_humidity(temperature: float, sensitivity: str) -> float:
    """Below this nothing grows. [degC, between 0 and 50] -> [%] Source: [HUKKA99], floor [OJANEN10]."""
    return float(_critical(_growing_temperature(temperature), sensitivity_of(sensitivity)))


def weeks_to_first_growth(
    temperature: float, relative_humidity: float, spruce: bool = False, kiln_dried: bool = False
) -> float:
    """tm, index 1 on pine under constant conditions, seen under a microscope. [degC], [%] -> [weeks] [HUKKA99]"""
    temperatures, humidity = _growing_temperature(temperature), _humidity(relative_humidity)
    return float(_weeks_to_first(temperatures, humidity, spruce, kiln_dried))


def weeks_to_visible(temperature: float, relative_humidity: float, spruce: bool = False) -> float:
    """tv, index 3 on pine under constant conditions. [degC, between 0 and 50], [%] -> [weeks] [HUKKA99]"""
    t, rh = _growing_temperature(temperature), _humidity(relative_humidity)
    return float(np.exp(-0.74 * np.log(t) - 12.72 * np.log(rh) + 0.06 * spruce + 61.50))  # [HUKKA99] tv


def original_rate_after_one(temperature: float, relative_humidity: float, spruce: bool = False) -> float:
    """k1 above index 1 of the first model, before classes: index 1 to 3 takes tv - tm. [degC], [%] -> [-] [HUKKA99]"""
    first = weeks_to_first_growth(temperature, relative_humidity, spruce)
    return 2 / (weeks_to_visible(temperature, relative_humidity, spruce) / first - 1)  # [HUKKA99] k1, not tv/(tm-1)


def maximum_index(temperature: float, relative_humidity: float, sensitivity: str) -> float:
    """The index that growth ends at, not below 0. [degC], [%] -> [-] Below critical humidity nothing grows at all."""
    kind = sensitivity_of(sensitivity)
    return max(0.0, float(_highest(_growing_temperature(temperature), _humidity(relative_humidity), kind)))


def isopleth(temperature: float) -> float:
    """Lowest isopleth for mould, an approximation from a SINGLE SOURCE. [degC, 5 to 30] -> [%] [RULES-5.2]"""
    t = numbers(temperature, "temperature")
    require_in_range(t, "temperature", ISOPLETH_TEMPERATURE)
    return float(77.5 + 24.4 * np.exp(-0.12 * t))  # [RULES-5.2] growth of mycelium, quoted in one paper on cellars


def mould_index(
    log: Log,
    sensitivity: str,
    decline_factor: float = 1.0,
    start: float = 0.0,
    spruce: bool = False,
    humidity_uncertainty: float = HUMIDITY_UNCERTAINTY,
) -> MouldIndex:
    """The index along a log, by explicit Euler at the step of the log. [HUKKA99], [OJANEN10]

    decline_factor: above 0 to 1, how fast it declines in unfavourable hours against pine. start: 0 to 6.
    humidity_uncertainty [%RH, 0 to 10]: the band runs from the next more resistant class with the humidity that much
    lower, to the next more sensitive class with it that much higher (setting of ours: the parameters of the classes
    are poorly known [BERGER2018]). Cold or hot hours count as unfavourable (ours). Raises InputError, OutOfRange.
    """
    kind = sensitivity_of(sensitivity)
    for name, value, low, high in (
        ("decline factor", decline_factor, math.nextafter(0.0, 1.0), 1.0),
        ("start index", start, 0.0, 6.0),
        ("uncertainty of the humidity", humidity_uncertainty, 0.0, 10.0),
    ):
        if not low <= value <= high:
            raise OutOfRange(
                f"The {name} cannot be used",
                got=f"{value:g}",
                wanted=f"{low:.3g} to {high:g}",
                next_step="check the figure",
            )
    names = list(SENSITIVITIES)
    place = names.index(sensitivity)
    resistant = SENSITIVITIES[names[min(place + 1, len(names) - 1)]]
    sensitive = SENSITIVITIES[names[max(place - 1, 0)]]
    index = _march(log, log.relative_humidity, kind, decline_factor, start, spruce)
    ends = (
        _march(log, log.relative_humidity - humidity_uncertainty, resistant, decline_factor, start, spruce)[-1],
        _march(log, log.relative_humidity + humidity_uncertainty, sensitive, decline_factor, start, spruce)[-1],
    )
    final = _class(index[-1])
    band = (min(final, *map(_class, ends)), max(final, *map(_class, ends)))
    gaps = log.gaps()
    words = f"Calculated mould index at the end: class {final} of 6, {CLASS_WORDS[final]}; band {band[0]} to {band[1]}"
    words += f"; highest class on the way {_class(max(index))}. Calculated from the log: nobody looked for mould."
    if gaps:
        many = f"{len(gaps)} gaps of more than {log.longest_gap:g} h count"
        words += f" {many if len(gaps) > 1 else f'1 gap of more than {log.longest_gap:g} h counts'} as nothing."
    return MouldIndex(np.array(index), final, _class(max(index)), band, gaps, words)


def _growing_temperature(temperature: float) -> Array:
    values = numbers(temperature, "temperature")
    require_in_range(values, "temperature", GROWS)
    return values


def _humidity(relative_humidity: float) -> Array:
    values = numbers(relative_humidity, "relative humidity")
    require_in_range(
        values, "relative humidity", Range("a relative humidity that grows mould", 50.0, 100.0, "%", "ours")
    )
    return values


def _critical(temperature: Array, kind: Sensitivity) -> Array:
    curve = -0.00267 * temperature**3 + 0.160 * temperature**2 - 3.13 * temperature + 100  # [HUKKA99] RHcrit
    return np.where(temperature <= 20, np.maximum(curve, kind.least_humidity), kind.least_humidity)  # [OJANEN10]


def _highest(temperature: Array, humidity: Array, kind: Sensitivity) -> Array:
    critical = _critical(temperature, kind)
    x = (critical - humidity) / (critical - 100)
    return np.asarray(kind.a + kind.b * x - kind.c * x**2)  # [OJANEN10] Mmax


def _weeks_to_first(temperature: Array, humidity: Array, spruce: bool, kiln_dried: bool = False) -> Array:
    exponent = -0.68 * np.log(temperature) - 13.9 * np.log(humidity) + 0.14 * spruce - 0.33 * kiln_dried + 66.02
    return np.asarray(np.exp(exponent))  # [HUKKA99] tm


def _class(index: float) -> int:
    return min(int(index), len(CLASS_WORDS) - 1)  # whole classes reached: setting of ours


def _march(
    log: Log, humidity: Array, kind: Sensitivity, decline_factor: float, start: float, spruce: bool
) -> list[float]:
    steps, t, rh = log.steps(), log.temperature[:-1], np.clip(humidity[:-1], 0.0, 100.0)
    warm = (t > 0) & (t < 50)  # [HUKKA99]
    tame = np.where(warm, t, 20.0)
    growing = warm & (rh >= _critical(tame, kind))
    wet = np.where(growing, rh, 100.0)
    rate = steps / 24 / (7 * _weeks_to_first(tame, wet, spruce))  # [HUKKA99] index per step before k1, k2
    highest = _highest(tame, wet, kind)
    before_one, after_one, exp = kind.before_one, kind.after_one, math.exp
    index, dry = start, 0.0  # hours since growth was last possible; a gap neither adds to them nor resets them
    series = [start]
    for hours, grows, gain, top in zip(steps.tolist(), growing.tolist(), rate.tolist(), highest.tolist(), strict=True):
        if grows:
            dry = 0.0
            if index < top:
                index += (
                    gain * (before_one if index < 1 else after_one) * (1 - exp(2.3 * (index - top)))
                )  # [HUKKA99] k2
        else:
            later = dry + hours
            if index > 0:
                index = max(0.0, index - decline_factor * (_declined(later) - _declined(dry)))
            dry = later
        series.append(index)
    return series


def _declined(dry: float) -> float:
    """Decline of the index after so many hours without growth, on pine. [HUKKA99] per day 0.032, 0, 0.016"""
    return 0.032 / 24 * min(dry, 6.0) + 0.016 / 24 * max(dry - 24.0, 0.0)
