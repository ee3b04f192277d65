"""From the first to the last moment of a climate: steps, error control, restarts at jumps.

Contents: march. The stages themselves stand in kernel.py.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from desorb.core.transport.kernel import BDF2, DONE, EULER, FAILED, GAMMA, TR_BDF2, stage, stored

GROWTH, SHRINK, SAFETY = 4.0, 0.25, 0.9
LARGEST_RATIO = 2.0  # of two steps of BDF2, which loses its stability at 1 + sqrt(2): a larger one is made by TR-BDF2
HOPELESS = 1e-6  # s
TOO_SHORT = 1e-3  # of the proposal: a step cut so short has a rate that is mostly rounding, so the march begins afresh
MOST_ATTEMPTS, ATTEMPTS_A_PIECE = 200_000, 200  # beyond them a run is given up: it would go on for minutes


@njit(cache=True, nogil=True, error_model="numpy")
def boundary_at(moment: Any, times: Any, climate: Any, piece: Any, out: Any) -> Any:
    """Linear in time within piece `piece` of the climate."""
    span = times[piece + 1] - times[piece]
    share = (moment - times[piece]) / span if span > 0.0 else 1.0
    for side in range(2):
        for column in range(climate.shape[2]):
            low = climate[piece, side, column]
            out[side, column] = low + share * (climate[piece + 1, side, column] - low)


@njit(cache=True, nogil=True, error_model="numpy")
def march(
    u: Any,
    t: Any,
    model: Any,
    scale: Any,
    times: Any,
    climate: Any,
    outputs: Any,
    method: Any,
    tolerance: Any,
    first_step: Any,
    longest_step: Any,
    results: Any,
) -> Any:
    """March from times[0] to times[-1]. A moment that stands twice in `times` is a jump: the march restarts there.

    Shapes: u, t (nodes); climate (times, 2, 6); outputs (k) sorted, within the times; results: (u, t, m) at the outputs,
    (k, nodes) each, and the water that came in through each surface since the start, (k, 2), in kg/m2.
    Returns (state, steps taken, steps refused, iterations): state 0 done, 1 failed.
    """
    out_u, out_t, out_m, out_in = results
    faces, widths, tables, table_range = model[0], model[1], model[4], model[6]
    nodes = u.shape[0]
    work = np.zeros((nodes, 22))
    sides = np.zeros((2, 3))
    right = np.zeros((nodes, 2))
    du, dt = np.zeros(nodes), np.zeros(nodes)
    boundary = np.zeros((2, climate.shape[2]))
    m = np.zeros(nodes)
    stored(u, faces, widths, tables, table_range, work)
    m[:] = work[:, 2]
    rate_m, rate_t = np.zeros(nodes), np.zeros(nodes)  # dM/dt and dT/dt at the last moment
    old_m, old_t, older_m, older_t = m.copy(), t.copy(), m.copy(), t.copy()
    old_u = u.copy()
    mid_m, mid_t, known_m, known_t = np.zeros(nodes), np.zeros(nodes), np.zeros(nodes), np.zeros(nodes)
    mid_rate_m, mid_rate_t, new_rate_m, new_rate_t = np.zeros(nodes), np.zeros(nodes), np.zeros(nodes), np.zeros(nodes)
    flows, flow_rate, mid_flow = np.zeros(2), np.zeros(2), np.zeros(2)
    inflow, older_in, last_in = np.zeros(2), np.zeros(2), np.zeros(2)
    now = times[0]
    step = first_step
    last_step = 0.0
    restart = True
    piece = 0
    next_output = 0
    taken = refused = iterations = 0
    while next_output < outputs.shape[0] and outputs[next_output] <= now:
        out_u[next_output], out_t[next_output], out_m[next_output] = u, t, m
        next_output += 1
    last_piece = times.shape[0] - 2
    most = MOST_ATTEMPTS + ATTEMPTS_A_PIECE * times.shape[0]
    while piece <= last_piece:
        if times[piece + 1] <= now:
            if times[piece + 1] == times[piece]:
                restart = True
                step = min(step, first_step)
            piece += 1
            continue
        end = times[piece + 1]
        if next_output < outputs.shape[0] and outputs[next_output] < end:
            end = outputs[next_output]
        proposal = min(step, longest_step)
        left = end - now
        h = proposal
        if left <= proposal * 1.000001:
            h = left
        elif left < 2.0 * proposal:
            h = 0.5 * left
        old_u[:], old_m[:], old_t[:] = u, m, t
        used = EULER if restart else method
        if used == BDF2 and h > 1.001 * LARGEST_RATIO * last_step:
            used = TR_BDF2
        done = 0
        if used == TR_BDF2:
            half = 0.5 * GAMMA * h
            boundary_at(now + GAMMA * h, times, climate, piece, boundary)
            for i in range(nodes):
                known_m[i] = old_m[i] + half * rate_m[i]
                known_t[i] = old_t[i] + half * rate_t[i]
            done = stage(
                u, t, m, half, known_m, known_t, scale, tolerance, model, boundary, work, sides, right, du, dt, flows
            )
            iterations += max(done, 1)
            if done > 0:
                for i in range(nodes):
                    mid_m[i], mid_t[i] = m[i], t[i]
                    mid_rate_m[i] = (m[i] - known_m[i]) / half
                    mid_rate_t[i] = (t[i] - known_t[i]) / half
                mid_flow[:] = flows
                one = 1.0 / (GAMMA * (2.0 - GAMMA))
                two = (1.0 - GAMMA) * (1.0 - GAMMA) * one
                last = (1.0 - GAMMA) / (2.0 - GAMMA) * h
                boundary_at(now + h, times, climate, piece, boundary)
                for i in range(nodes):
                    known_m[i] = one * mid_m[i] - two * old_m[i]
                    known_t[i] = one * mid_t[i] - two * old_t[i]
                done = stage(
                    u,
                    t,
                    m,
                    last,
                    known_m,
                    known_t,
                    scale,
                    tolerance,
                    model,
                    boundary,
                    work,
                    sides,
                    right,
                    du,
                    dt,
                    flows,
                )
                iterations += max(done, 1)
        else:
            ratio = h / last_step if used == BDF2 else 0.0
            near = (1.0 + ratio) * (1.0 + ratio) / (1.0 + 2.0 * ratio)
            far = ratio * ratio / (1.0 + 2.0 * ratio)
            last = (1.0 + ratio) / (1.0 + 2.0 * ratio) * h
            boundary_at(now + h, times, climate, piece, boundary)
            for i in range(nodes):
                known_m[i] = near * old_m[i] - far * older_m[i]
                known_t[i] = near * old_t[i] - far * older_t[i]
            done = stage(
                u, t, m, last, known_m, known_t, scale, tolerance, model, boundary, work, sides, right, du, dt, flows
            )
            iterations += max(done, 1)
        error = 0.0
        if done > 0:
            for i in range(nodes):
                new_rate_m[i] = (m[i] - known_m[i]) / last
                new_rate_t[i] = (t[i] - known_t[i]) / last
            if used == TR_BDF2:
                constant = (-3.0 * GAMMA * GAMMA + 4.0 * GAMMA - 2.0) / (12.0 * (2.0 - GAMMA))
                first, second, third = 1.0 / GAMMA, 1.0 / (GAMMA * (1.0 - GAMMA)), 1.0 / (1.0 - GAMMA)
                for i in range(nodes):
                    wrong = 2.0 * constant * h * (first * rate_m[i] - second * mid_rate_m[i] + third * new_rate_m[i])
                    heat = 2.0 * constant * h * (first * rate_t[i] - second * mid_rate_t[i] + third * new_rate_t[i])
                    error = max(error, abs(wrong) / scale[i], abs(heat) / 100.0)
            elif used == BDF2:
                share = (1.0 + ratio) / (1.0 + 2.0 * ratio)  # of the third derivative, as the formula errs
                for i in range(nodes):
                    wrong = (m[i] - old_m[i] - h * rate_m[i]) - ratio * (
                        h * rate_m[i] - ratio * (old_m[i] - older_m[i])
                    )
                    heat = (t[i] - old_t[i] - h * rate_t[i]) - ratio * (h * rate_t[i] - ratio * (old_t[i] - older_t[i]))
                    error = max(error, abs(wrong) / scale[i] * share, abs(heat) / 100.0 * share)
            elif not restart:
                for i in range(nodes):
                    wrong = 0.5 * h * (new_rate_m[i] - rate_m[i])
                    heat = 0.5 * h * (new_rate_t[i] - rate_t[i])
                    error = max(error, abs(wrong) / scale[i], abs(heat) / 100.0)
        if done == 0 or not error < 1e30 or (error > tolerance and not restart and h > HOPELESS):
            u[:], m[:], t[:] = old_u, old_m, old_t
            refused += 1
            order = 2.0 if used == EULER else 3.0
            shrink = SHRINK if done == 0 else max(SHRINK, SAFETY * (tolerance / error) ** (1.0 / order))
            step = h * shrink
            if step < HOPELESS or taken + refused > most:
                return FAILED, taken, refused, iterations
            continue
        last_in[:] = inflow
        for side in range(2):
            if used == TR_BDF2:
                middle = last_in[side] + half * (flow_rate[side] + mid_flow[side])
                inflow[side] = one * middle - two * last_in[side] + last * flows[side]
            else:
                inflow[side] = near * last_in[side] - far * older_in[side] + last * flows[side]
            flow_rate[side] = flows[side]
            older_in[side] = last_in[side]
        older_m[:], older_t[:] = old_m, old_t
        rate_m[:], rate_t[:] = new_rate_m, new_rate_t
        last_step = h
        now = end if h == left else now + h
        taken += 1
        if restart:
            step = 2.0 * h if h >= proposal else proposal
            restart = h < TOO_SHORT * proposal
        else:
            order = 2.0 if used == EULER else 3.0
            grow = min(
                LARGEST_RATIO if method == BDF2 else GROWTH, SAFETY * (tolerance / max(error, 1e-12)) ** (1.0 / order)
            )
            proposed = h * max(grow, 0.2)
            step = proposed if h >= 0.999 * proposal else max(proposed, proposal)
            if h < TOO_SHORT * proposal:
                restart = True
                step = min(step, first_step)
        while next_output < outputs.shape[0] and outputs[next_output] <= now:
            out_u[next_output], out_t[next_output], out_m[next_output] = u, t, m
            out_in[next_output] = inflow
            next_output += 1
    return DONE, taken, refused, iterations
