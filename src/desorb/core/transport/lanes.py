"""Eight members of an ensemble side by side: backward Euler over one shared sequence of steps, compiled with numba.

Contents: LANES; march_lanes. The members lie innermost in every array, so that the arithmetic of eight members goes through
the CPU's vector unit at once; table look-ups are made lane by lane.
Each step makes a given number of linear solves and keeps the linearised storage (see kernel.py), so the water balance holds to
rounding also with one solve. What a member's mismatch M - V w(u) has grown to is returned, and ensemble.py runs members that
drifted again with the adaptive march.
"""

from __future__ import annotations

from math import exp
from typing import Any

import numpy as np
from numba import njit

from desorb.core.transport.kernel import (
    AIR_P,
    AIR_T,
    CONDUCTIVITY,
    CONTACT,
    DELTA,
    HEAT,
    LARGEST_DU,
    LATENT,
    PHI,
    RUN_OFF,
    SOURCE,
    THETA,
    VAPOUR,
    WATER_HEAT,
    W,
)

LANES = 8


@njit(cache=True, nogil=True, fastmath={"contract"}, error_model="numpy", boundscheck=False)
def march_lanes(
    u: Any, t: Any, model: Any, cold: Any, per_degree: Any, saturation_table: Any, capacity: Any, factors: Any,
    exchange: Any, offsets: Any, weights: Any, means: Any, solves: Any, marks: Any, out_u: Any, out_t: Any, inflow: Any,
    drift: Any,
) -> Any:  # fmt: skip
    """March LANES members. u, t: (nodes, LANES), changed. factors: (materials, 4, LANES) on water, liquid, vapour and heat
    conduction; exchange: (2 sides, 2, LANES) on heat and vapour exchange; offsets: (2 sides, 2, LANES) in K and Pa on the air.

    weights: (k, 4) of each step: (near, far, span, guess), so that M = near M_old - far M_older + span F, from u and T carried
    on by `guess` of their last change; Euler is (1, 0, h, 0). solves: (k) linear solves of each step. means: (k, 2, 6) boundary
    of each step; marks: (k) index of the output after the step, or -1. out_u, out_t: (outputs, nodes, LANES); inflow: (outputs,
    2, LANES) kg/m2; drift: (LANES) largest mismatch at an output as a share of the capacity,
    or by how much a change of u had to be cut in the last solve of a step.
    """
    faces, widths, film_vapour, film_heat, tables, dry_heat, table_range = model
    nodes = u.shape[0]
    u_first, per_step, s0 = table_range[0], table_range[1], table_range[2]
    last_row = tables.shape[1] - 2
    last_degree = saturation_table.shape[0] - 2
    m = np.zeros((nodes, LANES))
    known_t = np.empty((nodes, LANES))
    known_m = np.empty((nodes, LANES))
    older_t = np.empty((nodes, LANES))
    older_u = np.empty((nodes, LANES))
    older_m = np.zeros((nodes, LANES))
    total_in = np.zeros((2, LANES))
    older_in = np.zeros((2, LANES))
    held = np.empty((nodes, LANES))
    slope = np.empty((nodes, LANES))
    store = np.empty((nodes, LANES))
    inner = np.empty((nodes, 6, LANES))  # F, G and the four derivatives of the node itself
    upper = np.empty((nodes, 4, LANES))
    lower = np.empty((nodes, 4, LANES))
    reduced = np.empty((nodes, 4, LANES))
    right = np.empty((nodes, 2, LANES))
    here = np.empty((10, LANES))
    after = np.empty((10, LANES))
    p_here, p_after = np.empty(LANES), np.empty(LANES)
    ps_here, ps_after = np.empty(LANES), np.empty(LANES)
    side_in = np.empty((2, 3, LANES))
    count = weights.shape[0]
    for i in range(nodes):
        for k in range(LANES):
            older_t[i, k] = t[i, k]
            older_u[i, k] = u[i, k]
    for step in range(-1, count):
        working = step >= 0  # before the first step only the storage is looked up
        near = far = h = guess = 0.0
        if working:
            near, far, h, guess = weights[step, 0], weights[step, 1], weights[step, 2], weights[step, 3]
            for i in range(nodes):
                for k in range(LANES):
                    known_m[i, k] = near * m[i, k] - far * older_m[i, k]
                    older_m[i, k] = m[i, k]
                    known_t[i, k] = near * t[i, k] - far * older_t[i, k]
                    rise = guess * (t[i, k] - older_t[i, k])
                    older_t[i, k] = t[i, k]
                    t[i, k] += rise
                    rise = guess * (u[i, k] - older_u[i, k])
                    older_u[i, k] = u[i, k]
                    u[i, k] += rise
        times = solves[step] if working else 1
        for solve in range(times):
            for i in range(nodes):
                for k in range(LANES):
                    held[i, k] = 0.0
                    slope[i, k] = 0.0
                    store[i, k] = 0.0
                for j in range(6):
                    for k in range(LANES):
                        inner[i, j, k] = 0.0
            for k in range(LANES):
                place = (t[0, k] - cold) * per_degree
                row = min(max(int(place), 0), last_degree)
                low = saturation_table[row]
                rise = saturation_table[row + 1] - low
                p_here[k] = low + (place - row) * rise
                ps_here[k] = rise * per_degree
            before = -2
            for face in range(nodes - 1):
                material = faces[face]
                used = material if material >= 0 else 0
                if used != before or face == 0:
                    for k in range(LANES):
                        place = (u[face, k] - u_first) * per_step
                        row = min(max(int(place), 0), last_row)
                        share = place - row
                        for column in range(5):
                            low = tables[used, row, column]
                            rise = tables[used, row + 1, column] - low
                            here[column, k] = low + share * rise
                            here[5 + column, k] = rise * per_step
                for k in range(LANES):
                    place = (u[face + 1, k] - u_first) * per_step
                    row = min(max(int(place), 0), last_row)
                    share = place - row
                    for column in range(5):
                        low = tables[used, row, column]
                        rise = tables[used, row + 1, column] - low
                        after[column, k] = low + share * rise
                        after[5 + column, k] = rise * per_step
                    place = (t[face + 1, k] - cold) * per_degree
                    row = min(max(int(place), 0), last_degree)
                    low = saturation_table[row]
                    rise = saturation_table[row + 1] - low
                    p_after[k] = low + (place - row) * rise
                    ps_after[k] = rise * per_degree
                before = used if material >= 0 else -2
                if material >= 0:
                    per_width = 1.0 / widths[face]
                    half = 0.5 * widths[face]
                    dry = dry_heat[material]
                    for k in range(LANES):
                        f_w = factors[material, 0, k]
                        f_l = factors[material, 1, k] * per_width
                        f_v = 0.5 * factors[material, 2, k] * per_width
                        f_h = 0.5 * factors[material, 3, k] * per_width
                        w_here, w_after = f_w * here[W, k], f_w * after[W, k]
                        held[face, k] += half * w_here
                        held[face + 1, k] += half * w_after
                        slope[face, k] += half * f_w * here[5 + W, k]
                        slope[face + 1, k] += half * f_w * after[5 + W, k]
                        store[face, k] += half * (dry + WATER_HEAT * w_here)
                        store[face + 1, k] += half * (dry + WATER_HEAT * w_after)
                        drop = here[PHI, k] * p_here[k] - after[PHI, k] * p_after[k]
                        vapour = f_v * (here[DELTA, k] + after[DELTA, k])
                        conduct = f_h * (here[CONDUCTIVITY, k] + after[CONDUCTIVITY, k])
                        fall = t[face, k] - t[face + 1, k]
                        flow = f_l * (here[THETA, k] - after[THETA, k]) + vapour * drop
                        v_u_here = vapour * here[5 + PHI, k] * p_here[k] + f_v * here[5 + DELTA, k] * drop
                        v_u_after = f_v * after[5 + DELTA, k] * drop - vapour * after[5 + PHI, k] * p_after[k]
                        u_here = f_l * here[5 + THETA, k] + v_u_here
                        u_after = v_u_after - f_l * after[5 + THETA, k]
                        t_here = vapour * here[PHI, k] * ps_here[k]
                        t_after = -vapour * after[PHI, k] * ps_after[k]
                        g_u_here = f_h * here[5 + CONDUCTIVITY, k] * fall + LATENT * v_u_here
                        g_u_after = f_h * after[5 + CONDUCTIVITY, k] * fall + LATENT * v_u_after
                        g_t_here = conduct + LATENT * t_here
                        g_t_after = LATENT * t_after - conduct
                        g = conduct * fall + LATENT * vapour * drop
                        inner[face, 0, k] -= flow
                        inner[face + 1, 0, k] += flow
                        inner[face, 1, k] -= g
                        inner[face + 1, 1, k] += g
                        inner[face, 2, k] -= u_here
                        inner[face, 3, k] -= t_here
                        inner[face, 4, k] -= g_u_here
                        inner[face, 5, k] -= g_t_here
                        inner[face + 1, 2, k] += u_after
                        inner[face + 1, 3, k] += t_after
                        inner[face + 1, 4, k] += g_u_after
                        inner[face + 1, 5, k] += g_t_after
                        upper[face, 0, k] = -u_after
                        upper[face, 1, k] = -t_after
                        upper[face, 2, k] = -g_u_after
                        upper[face, 3, k] = -g_t_after
                        lower[face + 1, 0, k] = u_here
                        lower[face + 1, 1, k] = t_here
                        lower[face + 1, 2, k] = g_u_here
                        lower[face + 1, 3, k] = g_t_here
                else:
                    vapour, conduct = film_vapour[face], film_heat[face]
                    for k in range(LANES):
                        drop = here[PHI, k] * p_here[k] - after[PHI, k] * p_after[k]
                        flow = vapour * drop
                        g = conduct * (t[face, k] - t[face + 1, k]) + LATENT * flow
                        u_here = vapour * here[5 + PHI, k] * p_here[k]
                        u_after = -vapour * after[5 + PHI, k] * p_after[k]
                        t_here = vapour * here[PHI, k] * ps_here[k]
                        t_after = -vapour * after[PHI, k] * ps_after[k]
                        inner[face, 0, k] -= flow
                        inner[face + 1, 0, k] += flow
                        inner[face, 1, k] -= g
                        inner[face + 1, 1, k] += g
                        inner[face, 2, k] -= u_here
                        inner[face, 3, k] -= t_here
                        inner[face, 4, k] -= LATENT * u_here
                        inner[face, 5, k] -= conduct + LATENT * t_here
                        inner[face + 1, 2, k] += u_after
                        inner[face + 1, 3, k] += t_after
                        inner[face + 1, 4, k] += LATENT * u_after
                        inner[face + 1, 5, k] += LATENT * t_after - conduct
                        upper[face, 0, k] = -u_after
                        upper[face, 1, k] = -t_after
                        upper[face, 2, k] = -LATENT * u_after
                        upper[face, 3, k] = conduct - LATENT * t_after
                        lower[face + 1, 0, k] = u_here
                        lower[face + 1, 1, k] = t_here
                        lower[face + 1, 2, k] = LATENT * u_here
                        lower[face + 1, 3, k] = conduct + LATENT * t_here
                here, after = after, here
                p_here, p_after = p_after, p_here
                ps_here, ps_after = ps_after, ps_here
            if step < 0:
                for i in range(nodes):
                    for k in range(LANES):
                        m[i, k] = held[i, k]
                break
            for side in range(2):
                node = 0 if side == 0 else nodes - 1
                about = means[step, side]
                for k in range(LANES):
                    place = (u[node, k] - u_first) * per_step
                    row = min(max(int(place), 0), last_row)
                    low = tables[0, row, PHI]
                    rise = tables[0, row + 1, PHI] - low
                    phi = low + (place - row) * rise
                    degree = (t[node, k] - cold) * per_degree
                    line = min(max(int(degree), 0), last_degree)
                    low_p = saturation_table[line]
                    rise_p = saturation_table[line + 1] - low_p
                    pressure = low_p + (degree - line) * rise_p
                    vapour = about[VAPOUR] * exchange[side, 1, k]
                    heat = about[HEAT] * exchange[side, 0, k]
                    water = vapour * (about[AIR_P] + offsets[side, 1, k] - phi * pressure)
                    water_u = -vapour * rise * per_step * pressure
                    water_t = -vapour * phi * rise_p * per_degree
                    inner[node, 1, k] += (
                        heat * (about[AIR_T] + offsets[side, 0, k] - t[node, k]) + LATENT * water + about[SOURCE]
                    )
                    inner[node, 4, k] += LATENT * water_u
                    inner[node, 5, k] += LATENT * water_t - heat
                    contact = max(about[CONTACT], RUN_OFF if u[node, k] < 0.0 else 0.0)
                    if contact > 0.0:
                        grown = exp(u[node, k])
                        water += contact * s0 * (grown - 1.0)
                        water_u += contact * s0 * grown
                    inner[node, 0, k] += water
                    inner[node, 2, k] += water_u
                    inner[node, 3, k] += water_t
                    side_in[side, 0, k] = water
                    side_in[side, 1, k] = water_u
                    side_in[side, 2, k] = water_t
            for i in range(nodes):
                if i == 0:
                    for k in range(LANES):
                        a = slope[i, k] - h * inner[i, 2, k]
                        b = -h * inner[i, 3, k]
                        c = -h * inner[i, 4, k]
                        d = store[i, k] - h * inner[i, 5, k]
                        first = known_m[i, k] + h * inner[i, 0, k] - held[i, k]
                        second = h * inner[i, 1, k] - store[i, k] * (t[i, k] - known_t[i, k])
                        inverse = 1.0 / (a * d - b * c)
                        right[i, 0, k] = (d * first - b * second) * inverse
                        right[i, 1, k] = (a * second - c * first) * inverse
                        e, f, g, q = upper[i, 0, k], upper[i, 1, k], upper[i, 2, k], upper[i, 3, k]
                        inverse *= -h
                        reduced[i, 0, k] = (d * e - b * g) * inverse
                        reduced[i, 1, k] = (d * f - b * q) * inverse
                        reduced[i, 2, k] = (a * g - c * e) * inverse
                        reduced[i, 3, k] = (a * q - c * f) * inverse
                else:
                    for k in range(LANES):
                        e, f = -h * lower[i, 0, k], -h * lower[i, 1, k]
                        g, q = -h * lower[i, 2, k], -h * lower[i, 3, k]
                        r0, r1 = reduced[i - 1, 0, k], reduced[i - 1, 1, k]
                        r2, r3 = reduced[i - 1, 2, k], reduced[i - 1, 3, k]
                        x0, x1 = right[i - 1, 0, k], right[i - 1, 1, k]
                        a = slope[i, k] - h * inner[i, 2, k] - e * r0 - f * r2
                        b = -h * inner[i, 3, k] - e * r1 - f * r3
                        c = -h * inner[i, 4, k] - g * r0 - q * r2
                        d = store[i, k] - h * inner[i, 5, k] - g * r1 - q * r3
                        first = known_m[i, k] + h * inner[i, 0, k] - held[i, k] - e * x0 - f * x1
                        second = h * inner[i, 1, k] - store[i, k] * (t[i, k] - known_t[i, k]) - g * x0 - q * x1
                        inverse = 1.0 / (a * d - b * c)
                        right[i, 0, k] = (d * first - b * second) * inverse
                        right[i, 1, k] = (a * second - c * first) * inverse
                        e, f, g, q = upper[i, 0, k], upper[i, 1, k], upper[i, 2, k], upper[i, 3, k]
                        inverse *= -h
                        reduced[i, 0, k] = (d * e - b * g) * inverse
                        reduced[i, 1, k] = (d * f - b * q) * inverse
                        reduced[i, 2, k] = (a * g - c * e) * inverse
                        reduced[i, 3, k] = (a * q - c * f) * inverse
            for back in range(nodes):
                i = nodes - 1 - back
                if back > 0:
                    for k in range(LANES):
                        x0, x1 = right[i + 1, 0, k], right[i + 1, 1, k]
                        right[i, 0, k] -= reduced[i, 0, k] * x0 + reduced[i, 1, k] * x1
                        right[i, 1, k] -= reduced[i, 2, k] * x0 + reduced[i, 3, k] * x1
                for k in range(LANES):
                    wish = right[i, 0, k]
                    change = min(LARGEST_DU, max(-LARGEST_DU, wish))
                    right[i, 0, k] = change
                    m[i, k] = held[i, k] + slope[i, k] * change
                    u[i, k] += change
                    t[i, k] += right[i, 1, k]
                    if solve == times - 1:
                        drift[k] = max(drift[k], abs(wish - change))
            if solve == times - 1:
                for side in range(2):
                    node = 0 if side == 0 else nodes - 1
                    for k in range(LANES):
                        came = near * total_in[side, k] - far * older_in[side, k]
                        older_in[side, k] = total_in[side, k]
                        total_in[side, k] = came + h * (
                            side_in[side, 0, k]
                            + side_in[side, 1, k] * right[node, 0, k]
                            + side_in[side, 2, k] * right[node, 1, k]
                        )
        if working:
            mark = marks[step]
            if mark >= 0:
                for i in range(nodes):
                    for k in range(LANES):
                        out_u[mark, i, k] = u[i, k]
                        out_t[mark, i, k] = t[i, k]
                        held[i, k] = 0.0
                for face in range(nodes - 1):
                    material = faces[face]
                    if material >= 0:
                        for end in range(2):
                            for k in range(LANES):
                                place = (u[face + end, k] - u_first) * per_step
                                row = min(max(int(place), 0), last_row)
                                low = tables[material, row, W]
                                water = low + (place - row) * (tables[material, row + 1, W] - low)
                                held[face + end, k] += 0.5 * widths[face] * factors[material, 0, k] * water
                for i in range(nodes):
                    for k in range(LANES):
                        drift[k] = max(drift[k], abs(m[i, k] - held[i, k]) / capacity[i])
                for side in range(2):
                    for k in range(LANES):
                        inflow[mark, side, k] = total_in[side, k]
