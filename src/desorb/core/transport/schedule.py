"""The sequence of steps that the members of an ensemble share.

Contents: Schedule; schedule_of (edges of the steps, formula of each step, mean boundary of each step).
Steps are short after the start and after every jump, grow by GROWTH, and hit every output and every jump.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from desorb.core.transport.climate import Climate, boundary_table
from desorb.core.transport.properties import Floats

FIRST = 300.0  # s; the settings here are ours, chosen by measurement (docs/decisions)
GROWTH = 1.4
GUESS = 0.5  # of the last change, as a first guess of the next: halves the error of a single solve
AFTER_WET = 86400.0  # s
SOLVES_FLOODED = 14  # in the step in which water arrives or leaves: the potential falls by up to a dozen
FIRST_WET = 1.0  # s
GROWTH_WET = 1.3
SOLVES_WET = 2  # at least, in the first steps after a jump too


@dataclass(frozen=True)
class Schedule:
    """`weights` (steps, 4) and `solves` (steps) as lanes.march_lanes takes them; `means` (steps, 2, 6); `marks` (steps)."""

    edges: Floats
    weights: Floats
    solves: np.ndarray
    means: Floats
    marks: np.ndarray


def schedule_of(
    climate: Climate, outputs: Floats, *, step: float, wet_step: float, solves: int, second_order: bool
) -> Schedule:
    """`step` is the longest one; `wet_step` the longest while free water stands on a surface and for a day after."""
    edges, fresh, wet = _edges(climate, outputs, step, wet_step)
    lengths = np.diff(edges)
    weights = np.zeros((lengths.size, 4))
    means = _step_means(climate, edges)
    around = means.copy()
    for number, h in enumerate(lengths):
        ratio = 0.0 if fresh[number] or wet[number] or not second_order else h / lengths[number - 1]
        whole = 1.0 + 2.0 * ratio
        weights[number, :3] = (1.0 + ratio) ** 2 / whole, ratio**2 / whole, (1.0 + ratio) / whole * h
        weights[number, 3] = GUESS * ratio
        if ratio > 0.0:  # so that the scheme integrates the climate exactly, as Euler does with the mean
            carried = weights[number, 1] * lengths[number - 1] * means[number - 1]
            around[number] = (h * means[number] - carried) / weights[number, 2]
    marks = np.full(lengths.size, -1, dtype=np.int64)
    marks[np.searchsorted(edges, outputs) - 1] = np.arange(outputs.size)
    begins = np.array(fresh)
    early = begins | np.array([False, *fresh[:-1]])
    counts = np.where(np.array(wet) | early, max(SOLVES_WET, solves), solves)
    counts = np.where(begins & np.array(wet), max(SOLVES_FLOODED, solves), counts).astype(np.int64)
    return Schedule(edges, weights, counts, around, marks)


def _edges(climate: Climate, outputs: Floats, step: float, wet_step: float) -> tuple[Floats, list[bool], list[bool]]:
    """Edges; whether a step begins afresh (no memory of the step before); whether it lies in a wet stretch."""
    last = float(outputs[-1])
    times, _ = boundary_table(climate)
    jumps = {float(moment) for moment in times[1:][np.diff(times) == 0.0]} | {0.0}
    wet_spans = [(start, end + AFTER_WET) for side in (climate.first, climate.second) for start, end in side.wet]
    stops = {*jumps, *outputs.tolist(), *(edge for span in wet_spans for edge in span)}
    edges, fresh, wet = [0.0], [], []
    length = FIRST
    for stop in sorted(moment for moment in stops if 0.0 < moment <= last):
        while (left := stop - edges[-1]) > 0.0:
            begin = edges[-1]
            again = begin in jumps
            inside = any(start <= begin < end for start, end in wet_spans)
            cap = wet_step if inside else step
            if again:
                length = FIRST_WET if inside else min(FIRST, cap)
            else:
                length = min(length * (GROWTH_WET if inside else GROWTH), cap)
            h = left if left <= length * 1.000001 else 0.5 * left if left < 2.0 * length else length
            edges.append(stop if h == left else begin + h)
            fresh.append(again)
            wet.append(inside)
    return np.array(edges), fresh, wet


def _step_means(climate: Climate, edges: Floats) -> Floats:
    """Mean boundary of each step: with long steps a sampled climate would alias the day."""
    times, table = boundary_table(climate)
    spans = np.diff(times)
    means = np.empty((edges.size - 1, 2, 6))
    for side in range(2):
        for column in range(6):
            pieces = spans * 0.5 * (table[1:, side, column] + table[:-1, side, column])
            total = np.concatenate([[0.0], np.cumsum(pieces)])
            means[:, side, column] = np.diff(_integral_at(edges, times, table[:, side, column], total)) / np.diff(edges)
    return means


def _integral_at(moments: Floats, times: Floats, values: Floats, total: Floats) -> Floats:
    """Integral of a piecewise linear course up to each moment."""
    piece = np.clip(np.searchsorted(times, moments, side="right") - 1, 0, times.size - 2)
    span = times[piece + 1] - times[piece]
    part = moments - times[piece]
    slope = np.where(span > 0.0, (values[piece + 1] - values[piece]) / np.where(span > 0.0, span, 1.0), 0.0)
    found: Floats = total[piece] + part * values[piece] + 0.5 * part * part * slope
    return found
