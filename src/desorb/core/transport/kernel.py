"""One implicit stage of the march: fluxes, their derivatives and Newton, compiled with numba on first use.

Contents: saturation; look_up; divergence (fluxes and their derivatives); solve_blocks; stage (Newton); stored. march.py steps.
Vertex-centred finite volumes with nodes on interfaces. Per node: u = ln(1 + s / S0) with s the suction in Pa, and T in degC.
The stored water M (kg/m2 per node) is a state of its own: after the last linear solve M takes the value that the linearised
equation gave it, and the surface fluxes are booked linearised as well, so the water balance closes to rounding whatever the
number of iterations ("linearised-storage carry"). The small mismatch M - V w(u) enters the next stage.
The same scheme in plain numpy stands in twin.py; tests hold the two together.
Sources: mixed form [CELIA90]; TR-BDF2 with its error estimate [HOSEA96]; liquid flux as a difference of the matric flux
potential (Kirchhoff).
numba keeps compiled march and lanes by their own files: after a change in this file remove __pycache__ of this folder.
"""

from __future__ import annotations

from math import exp, sqrt
from typing import Any

import numpy as np
from numba import njit

# columns of a material table over u
W, PHI, THETA, DELTA, CONDUCTIVITY = 0, 1, 2, 3, 4
# columns of a boundary at one time
AIR_T, AIR_P, HEAT, VAPOUR, CONTACT, SOURCE = 0, 1, 2, 3, 4, 5
EULER, TR_BDF2, BDF2 = 0, 1, 2
GAMMA = 2.0 - sqrt(2.0)  # [HOSEA96]
LATENT = 2.5e6  # J/kg [EN15026]
WATER_HEAT = 4186.0  # J/(kg K)
RUN_OFF = (
    1e-6  # kg/(m2 s Pa): what no pore can hold leaves through the surface, and is booked as outflow; a setting of ours
)
MOST_ITERATIONS = 12
LARGEST_DU, LARGEST_DT = 1.5, 20.0
STEEP_DU = (
    0.1  # under free water the flow goes with exp(u): linearised over more than this it is neither right nor closed
)
KINK = 0.01  # a row of a table, and a little more
HEAT_TEST = 20.0  # K of the last change of temperature, for a tolerance of 1: a fifth of its error test
FAILED, DONE = 1, 0


@njit(cache=True, nogil=True, error_model="numpy")
def saturation(temperature: float) -> tuple[float, float]:
    """Saturation vapour pressure in Pa and its slope in Pa/K [ISO-13788] annex E."""
    if temperature >= 0.0:
        below = 237.3 + temperature
        pressure = 610.5 * exp(17.269 * temperature / below)
        return pressure, pressure * 17.269 * 237.3 / (below * below)
    below = 265.5 + temperature
    pressure = 610.5 * exp(21.875 * temperature / below)
    return pressure, pressure * 21.875 * 265.5 / (below * below)


@njit(cache=True, nogil=True, error_model="numpy")
def look_up(tables: Any, material: int, u: float, u_first: float, per_step: float, out: Any) -> None:
    """Values and slopes of the five columns at u: out[0:5] values, out[5:10] slopes. Linear between rows and beyond."""
    place = (u - u_first) * per_step
    row = int(place)
    last = tables.shape[1] - 2
    if row > last:
        row = last
    if place < 0.0:
        row = 0
    share = place - row
    for column in range(5):
        low = tables[material, row, column]
        rise = tables[material, row + 1, column] - low
        out[column] = low + share * rise
        out[5 + column] = rise * per_step


@njit(cache=True, nogil=True, error_model="numpy")
def divergence(
    u: Any,
    t: Any,
    faces: Any,
    widths: Any,
    film_vapour: Any,
    film_heat: Any,
    tables: Any,
    dry_heat: Any,
    table_range: Any,
    boundary: Any,
    work: Any,
    sides: Any,
) -> Any:
    """Fill `work` with net inflow, storage and their derivatives; `sides` with the two surface flows.

    work[i]: 0 F, 1 G, 2 M(u), 3 C; 4 dF/du, 5 dF/dT, 6 dG/du, 7 dG/dT of the node itself; 8..11 the same by the node before;
    12..15 by the node after; 16 dM/du. sides[s]: 0 water inflow, 1 its du, 2 its dT.
    """
    nodes = u.shape[0]
    u_first, per_step = table_range[0], table_range[1]
    for i in range(nodes):
        row = work[i]
        for column in range(8):
            row[column] = 0.0
        row[16] = 0.0
    here = np.empty(10)
    after = np.empty(10)
    looked_up = -2  # the material of `here`
    p_here, slope_here = saturation(t[0])
    for face in range(nodes - 1):
        p_after, slope_after = saturation(t[face + 1])
        material = faces[face]
        if material < 0:  # a film: vapour and heat only
            look_up(tables, 0, u[face], u_first, per_step, here)  # only PHI counts, the same for every material
            look_up(tables, 0, u[face + 1], u_first, per_step, after)
            liquid_here = liquid_after = liquid = 0.0
            vapour = film_vapour[face]
            vapour_slope_here = vapour_slope_after = 0.0
            heat = film_heat[face]
            heat_slope_here = heat_slope_after = 0.0
        else:
            if material != looked_up:
                look_up(tables, material, u[face], u_first, per_step, here)
            look_up(tables, material, u[face + 1], u_first, per_step, after)
            per_width = 1.0 / widths[face]
            half = 0.5 * widths[face]
            liquid = (here[THETA] - after[THETA]) * per_width
            liquid_here, liquid_after = here[5 + THETA] * per_width, -after[5 + THETA] * per_width
            vapour = 0.5 * (here[DELTA] + after[DELTA]) * per_width
            vapour_slope_here, vapour_slope_after = (
                0.5 * here[5 + DELTA] * per_width,
                0.5 * after[5 + DELTA] * per_width,
            )
            heat = 0.5 * (here[CONDUCTIVITY] + after[CONDUCTIVITY]) * per_width
            heat_slope_here = 0.5 * here[5 + CONDUCTIVITY] * per_width
            heat_slope_after = 0.5 * after[5 + CONDUCTIVITY] * per_width
            work[face, 2] += half * here[W]
            work[face + 1, 2] += half * after[W]
            work[face, 16] += half * here[5 + W]
            work[face + 1, 16] += half * after[5 + W]
            work[face, 3] += half * (dry_heat[material] + WATER_HEAT * here[W])
            work[face + 1, 3] += half * (dry_heat[material] + WATER_HEAT * after[W])
        drop = here[PHI] * p_here - after[PHI] * p_after
        flow = liquid + vapour * drop
        flow_u_here = liquid_here + vapour * here[5 + PHI] * p_here + vapour_slope_here * drop
        flow_u_after = liquid_after - vapour * after[5 + PHI] * p_after + vapour_slope_after * drop
        flow_t_here = vapour * here[PHI] * slope_here
        flow_t_after = -vapour * after[PHI] * slope_after
        fall = t[face] - t[face + 1]
        carried = heat * fall + LATENT * vapour * drop
        carried_u_here = heat_slope_here * fall + LATENT * (flow_u_here - liquid_here)
        carried_u_after = heat_slope_after * fall + LATENT * (flow_u_after - liquid_after)
        carried_t_here = heat + LATENT * flow_t_here
        carried_t_after = -heat + LATENT * flow_t_after
        a, b = work[face], work[face + 1]
        a[0] -= flow
        b[0] += flow
        a[1] -= carried
        b[1] += carried
        a[4] -= flow_u_here
        a[5] -= flow_t_here
        a[6] -= carried_u_here
        a[7] -= carried_t_here
        a[12] = -flow_u_after
        a[13] = -flow_t_after
        a[14] = -carried_u_after
        a[15] = -carried_t_after
        b[4] += flow_u_after
        b[5] += flow_t_after
        b[6] += carried_u_after
        b[7] += carried_t_after
        b[8] = flow_u_here
        b[9] = flow_t_here
        b[10] = carried_u_here
        b[11] = carried_t_here
        p_here, slope_here = p_after, slope_after
        here, after = after, here
        looked_up = material
    for side in range(2):
        node = 0 if side == 0 else nodes - 1
        about = boundary[side]
        look_up(tables, 0, u[node], u_first, per_step, here)
        pressure, slope = saturation(t[node])
        water = about[VAPOUR] * (about[AIR_P] - here[PHI] * pressure)
        water_u = -about[VAPOUR] * here[5 + PHI] * pressure
        water_t = -about[VAPOUR] * here[PHI] * slope
        work[node, 1] += about[HEAT] * (about[AIR_T] - t[node]) + LATENT * water + about[SOURCE]
        work[node, 6] += LATENT * water_u
        work[node, 7] += -about[HEAT] + LATENT * water_t
        contact = max(about[CONTACT], RUN_OFF if u[node] < 0.0 else 0.0)
        if contact > 0.0:  # free water at the surface, or run-off: a conductance on suction, contact * (s - 0)
            rise = exp(u[node])
            water += contact * table_range[2] * (rise - 1.0)
            water_u += contact * table_range[2] * rise
        sides[side, 0] = water
        sides[side, 1] = water_u
        sides[side, 2] = water_t
        work[node, 0] += water
        work[node, 4] += water_u
        work[node, 5] += water_t


@njit(cache=True, nogil=True, error_model="numpy")
def solve_blocks(work: Any, step: Any, right: Any, du: Any, dt: Any) -> Any:
    """Block-tridiagonal elimination of (storage - step * J) x = right, 2 x 2 blocks: x into du, dt. `work[:, 17:]` is scratch."""
    nodes = du.shape[0]
    for i in range(nodes):
        row = work[i]
        a, b = row[16] - step * row[4], -step * row[5]
        c, d = -step * row[6] + row[21], row[3] - step * row[7]
        first, second = right[i, 0], right[i, 1]
        if i > 0:
            e, f, g, h = -step * row[8], -step * row[9], -step * row[10], -step * row[11]
            before = work[i - 1]
            a -= e * before[17] + f * before[19]
            b -= e * before[18] + f * before[20]
            c -= g * before[17] + h * before[19]
            d -= g * before[18] + h * before[20]
            first -= e * right[i - 1, 0] + f * right[i - 1, 1]
            second -= g * right[i - 1, 0] + h * right[i - 1, 1]
        inverse = 1.0 / (a * d - b * c)
        right[i, 0] = (d * first - b * second) * inverse
        right[i, 1] = (a * second - c * first) * inverse
        if i < nodes - 1:
            e, f, g, h = -step * row[12], -step * row[13], -step * row[14], -step * row[15]
            row[17] = (d * e - b * g) * inverse
            row[18] = (d * f - b * h) * inverse
            row[19] = (a * g - c * e) * inverse
            row[20] = (a * h - c * f) * inverse
    du[nodes - 1], dt[nodes - 1] = right[nodes - 1, 0], right[nodes - 1, 1]
    for i in range(nodes - 2, -1, -1):
        row = work[i]
        du[i] = right[i, 0] - row[17] * du[i + 1] - row[18] * dt[i + 1]
        dt[i] = right[i, 1] - row[19] * du[i + 1] - row[20] * dt[i + 1]


@njit(cache=True, nogil=True, error_model="numpy")
def stage(
    u: Any,
    t: Any,
    m: Any,
    step: Any,
    m_known: Any,
    t_known: Any,
    scale: Any,
    tolerance: Any,
    model: Any,
    boundary: Any,
    work: Any,
    sides: Any,
    right: Any,
    du: Any,
    dt: Any,
    flows: Any,
) -> Any:
    """Solve M = m_known + step F, C (T - t_known) = step G. u, t, m are changed; flows gets the linearised surface inflows.

    Returns the number of iterations, or 0 when it did not settle. `scale` is V w_cap of each node in kg/m2.
    """
    faces, widths, film_vapour, film_heat, tables, dry_heat, table_range = model
    nodes = u.shape[0]
    for iteration in range(1, MOST_ITERATIONS + 1):
        divergence(u, t, faces, widths, film_vapour, film_heat, tables, dry_heat, table_range, boundary, work, sides)
        for i in range(nodes):
            row = work[i]
            right[i, 0] = m_known[i] + step * row[0] - row[2]
            right[i, 1] = step * row[1] - row[3] * (t[i] - t_known[i])
            row[21] = 0.0
        solve_blocks(work, step, right, du, dt)
        clipped = False
        for i in range(nodes):
            if not (abs(du[i]) <= LARGEST_DU and abs(dt[i]) <= LARGEST_DT):
                if not (abs(du[i]) < 1e12 and abs(dt[i]) < 1e12):
                    return 0
                clipped = True
                du[i] = min(LARGEST_DU, max(-LARGEST_DU, du[i]))
                dt[i] = min(LARGEST_DT, max(-LARGEST_DT, dt[i]))
            after = u[i] + du[i]
            if (u[i] >= 0.0 and after < -KINK) or (u[i] < 0.0 and after > KINK):
                clipped = (
                    True  # saturation is crossed: storage and run-off bend there, so stop just beyond and look again
                )
                du[i] = (KINK if u[i] < 0.0 else -KINK) - u[i]
        for i in range(nodes):
            m[i] = work[i, 2] + work[i, 16] * du[i]
        for side in range(2):
            node = 0 if side == 0 else nodes - 1
            flows[side] = sides[side, 0] + sides[side, 1] * du[node] + sides[side, 2] * dt[node]
        for i in range(nodes):
            u[i] += du[i]
            t[i] += dt[i]
        for side in range(2):
            if boundary[side, CONTACT] > 0.0 and abs(du[0 if side == 0 else nodes - 1]) > STEEP_DU:
                clipped = True
        if clipped:
            continue
        worst = 0.0
        heat_worst = 0.0
        stored(u, faces, widths, tables, table_range, work)
        for i in range(nodes):
            worst = max(worst, abs(m[i] - work[i, 2]) / scale[i])
            heat_worst = max(heat_worst, abs(dt[i]))
        if worst <= 0.1 * tolerance and heat_worst <= HEAT_TEST * tolerance:
            return iteration
    return 0


@njit(cache=True, nogil=True, error_model="numpy")
def stored(u: Any, faces: Any, widths: Any, tables: Any, table_range: Any, work: Any) -> Any:
    """V w(u) of each node into work[:, 2]."""
    nodes = u.shape[0]
    u_first, per_step, last = table_range[0], table_range[1], tables.shape[1] - 2
    for i in range(nodes):
        work[i, 2] = 0.0
    looked_up = -2
    after = 0.0
    for face in range(nodes - 1):
        material = faces[face]
        if material >= 0:
            if material == looked_up:
                here = after
            else:
                place = (u[face] - u_first) * per_step
                row = min(max(int(place), 0), last)
                here = tables[material, row, W]
                here += (place - row) * (tables[material, row + 1, W] - here)
            place = (u[face + 1] - u_first) * per_step
            row = min(max(int(place), 0), last)
            after = tables[material, row, W]
            after += (place - row) * (tables[material, row + 1, W] - after)
            work[face, 2] += 0.5 * widths[face] * here
            work[face + 1, 2] += 0.5 * widths[face] * after
        looked_up = material
