"""The march once more, slow and plain: numpy and a banded solver, to hold the compiled kernels to.

Contents: twin_march (same arguments and results as march.march, TR-BDF2 and backward Euler only).
Written from the equations, vectorised over nodes, without the kernels' bookkeeping: every stage solves for (u, T) with
scipy's banded solver. The step control is the same, so results agree far beyond the tolerance of a run.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.linalg import solve_banded

from desorb.core.transport.properties import ROWS, U_FIRST, U_LAST, Floats

GAMMA = 2.0 - np.sqrt(2.0)
LATENT, WATER_HEAT, RUN_OFF = 2.5e6, 4186.0, 1e-6
KINK = 0.01
PER_STEP = (ROWS - 1) / (U_LAST - U_FIRST)


def saturation(t: Floats) -> tuple[Floats, Floats]:
    warm = t >= 0.0
    a, b = np.where(warm, 17.269, 21.875), np.where(warm, 237.3, 265.5)
    pressure = 610.5 * np.exp(a * t / (b + t))
    return pressure, pressure * a * b / (b + t) ** 2


def looked_up(table: Floats, u: Floats) -> tuple[Floats, Floats]:
    """Values and slopes (columns, nodes) at u."""
    place = (u - U_FIRST) * PER_STEP
    row = np.clip(place.astype(int), 0, ROWS - 2)
    low, rise = table[row].T, (table[row + 1] - table[row]).T
    return low + (place - row) * rise, rise * PER_STEP


class Equations:
    """Net inflow F, heat G, storage and their Jacobian blocks at (u, T)."""

    def __init__(self, model: Any) -> None:
        self.faces, self.widths, self.film_vapour, self.film_heat, self.tables, self.dry_heat, table_range = model
        self.s0 = table_range[2]
        self.nodes = len(self.faces) + 1

    def at(self, u: Floats, t: Floats, boundary: Floats) -> dict[str, Floats]:
        n = self.nodes
        p, p_t = saturation(t)
        film = self.faces < 0
        material = np.where(film, 0, self.faces)
        left, right = np.zeros((5, n - 1)), np.zeros((5, n - 1))
        left_u, right_u = np.zeros((5, n - 1)), np.zeros((5, n - 1))
        for number, table in enumerate(self.tables):
            chosen = material == number
            left[:, chosen], left_u[:, chosen] = looked_up(table, u[:-1][chosen])
            right[:, chosen], right_u[:, chosen] = looked_up(table, u[1:][chosen])
        width = np.where(film, 1.0, self.widths)
        solid = np.where(film, 0.0, 1.0)
        vapour = np.where(film, self.film_vapour, 0.5 * (left[3] + right[3]) / width)
        heat = np.where(film, self.film_heat, 0.5 * (left[4] + right[4]) / width)
        drop = left[1] * p[:-1] - right[1] * p[1:]
        fall = t[:-1] - t[1:]
        flow = solid * (left[2] - right[2]) / width + vapour * drop
        v_left = vapour * left_u[1] * p[:-1] + solid * 0.5 * left_u[3] / width * drop
        v_right = -vapour * right_u[1] * p[1:] + solid * 0.5 * right_u[3] / width * drop
        flow_u = (solid * left_u[2] / width + v_left, -solid * right_u[2] / width + v_right)
        flow_t = (vapour * left[1] * p_t[:-1], -vapour * right[1] * p_t[1:])
        carried = heat * fall + LATENT * vapour * drop
        carried_u = (
            solid * 0.5 * left_u[4] / width * fall + LATENT * v_left,
            solid * 0.5 * right_u[4] / width * fall + LATENT * v_right,
        )
        carried_t = (heat + LATENT * flow_t[0], -heat + LATENT * flow_t[1])
        half = 0.5 * self.widths
        dry = np.where(film, 0.0, self.dry_heat[material])
        found = {
            "F": _net(flow), "G": _net(carried), "M": _at_nodes(half * left[0] * solid, half * right[0] * solid),
            "dM": _at_nodes(half * left_u[0] * solid, half * right_u[0] * solid),
            "C": _at_nodes(half * solid * (dry + WATER_HEAT * left[0]), half * solid * (dry + WATER_HEAT * right[0])),
        }  # fmt: skip
        blocks = np.zeros((n, n, 2, 2))
        at = np.arange(n - 1)
        for row, (by_u, by_t) in enumerate(((flow_u, flow_t), (carried_u, carried_t))):
            for column, pair in enumerate((by_u, by_t)):
                blocks[at, at, row, column] -= pair[0]
                blocks[at, at + 1, row, column] -= pair[1]
                blocks[at + 1, at, row, column] += pair[0]
                blocks[at + 1, at + 1, row, column] += pair[1]
        sides = np.zeros((2, 3))
        for side, node in enumerate((0, n - 1)):
            air_t, air_p, exchange, beta, contact, source = boundary[side]
            value, slope = looked_up(self.tables[0], u[node : node + 1])
            water = beta * (air_p - value[1, 0] * p[node])
            water_u, water_t = -beta * slope[1, 0] * p[node], -beta * value[1, 0] * p_t[node]
            found["G"][node] += exchange * (air_t - t[node]) + LATENT * water + source
            blocks[node, node, 1] += (LATENT * water_u, LATENT * water_t - exchange)
            contact = max(contact, RUN_OFF if u[node] < 0.0 else 0.0)
            water += contact * self.s0 * np.expm1(u[node])
            water_u += contact * self.s0 * np.exp(u[node]) if contact else 0.0
            found["F"][node] += water
            blocks[node, node, 0] += (water_u, water_t)
            sides[side] = water, water_u, water_t
        return found | {"J": blocks, "sides": sides}


def _net(flow: Floats) -> Floats:
    found: Floats = np.concatenate([[0.0], flow]) - np.concatenate([flow, [0.0]])
    return found


def _at_nodes(left: Floats, right: Floats) -> Floats:
    found: Floats = np.concatenate([left, [0.0]]) + np.concatenate([[0.0], right])
    return found


def _solve(blocks: Floats, first: Floats, second: Floats) -> tuple[Floats, Floats]:
    n = len(first)
    full = blocks.transpose(0, 2, 1, 3).reshape(2 * n, 2 * n)
    banded = np.zeros((7, 2 * n))
    for offset in range(-3, 4):
        diagonal = np.diagonal(full, offset)
        banded[3 - offset, max(offset, 0) : 2 * n + min(offset, 0)] = diagonal
    answer = solve_banded((3, 3), banded, np.stack([first, second], axis=1).ravel())
    return answer[0::2], answer[1::2]


def twin_stage(
    equations: Equations, u: Floats, t: Floats, step: float, m_known: Floats, t_known: Floats, scale: Floats,
    tolerance: float, boundary: Floats,
) -> tuple[int, Floats, Floats, Floats, Floats]:  # fmt: skip
    """(iterations or 0, u, T, M, surface inflows) of M = m_known + step F, C (T - t_known) = step G."""
    at = np.arange(equations.nodes)
    for iteration in range(1, 13):
        found = equations.at(u, t, boundary)
        blocks = -step * found["J"]
        blocks[at, at, 0, 0] += found["dM"]
        blocks[at, at, 1, 1] += found["C"]
        du, dt = _solve(
            blocks, m_known + step * found["F"] - found["M"], step * found["G"] - found["C"] * (t - t_known)
        )
        if not (np.isfinite(du).all() and np.isfinite(dt).all()):
            return 0, u, t, found["M"], np.zeros(2)
        clipped = bool((np.abs(du) > 1.5).any() or (np.abs(dt) > 20.0).any())
        if clipped:
            du, dt = np.clip(du, -1.5, 1.5), np.clip(dt, -20.0, 20.0)
        crossed = ((u >= 0.0) & (u + du < -KINK)) | ((u < 0.0) & (u + du > KINK))
        du = np.where(crossed, np.where(u < 0.0, KINK, -KINK) - u, du)
        clipped |= bool(crossed.any())
        clipped |= any(boundary[side][4] > 0.0 and abs(du[-side]) > 0.1 for side in (0, 1))  # steep under free water
        m = found["M"] + found["dM"] * du
        sides = found["sides"]
        flows = np.array([sides[s, 0] + sides[s, 1] * du[k] + sides[s, 2] * dt[k] for s, k in ((0, 0), (1, -1))])
        u, t = u + du, t + dt
        if clipped:
            continue
        worst = np.max(np.abs(m - equations.at(u, t, boundary)["M"]) / scale)
        if worst <= 0.1 * tolerance and np.max(np.abs(dt)) <= 20.0 * tolerance:
            return iteration, u, t, m, flows
    return 0, u, t, m, flows


def twin_march(
    u: Floats, t: Floats, model: Any, scale: Floats, times: Floats, climate: Floats, steps: Floats,
    tolerance: float, method: int,
) -> tuple[Floats, Floats, Floats, Floats]:  # fmt: skip
    """March over given steps (no control of their length), each within one piece of the climate; the first one by Euler.

    Returns u, T, M and the inflow (2) at the end. `method`: 0 backward Euler, 1 TR-BDF2.
    """
    equations = Equations(model)
    u, t = u.copy(), t.copy()
    boundary = np.array([[np.interp(times[0], times, climate[:, s, c]) for c in range(6)] for s in range(2)])
    m = equations.at(u, t, boundary)["M"]
    inflow, flow_rate = np.zeros(2), np.zeros(2)
    rate_m, rate_t = np.zeros_like(m), np.zeros_like(t)
    moment = times[0]

    def about(when: float) -> Floats:
        return np.array([[np.interp(when, times, climate[:, s, c]) for c in range(6)] for s in range(2)])

    for number, h in enumerate(steps):
        old_m, old_t, old_in = m, t, inflow
        if number == 0 or method == 0:
            done, u, t, m, flows = twin_stage(equations, u, t, h, old_m, old_t, scale, tolerance, about(moment + h))
            rate_m, rate_t, inflow = (m - old_m) / h, (t - old_t) / h, old_in + h * flows
        else:
            half = 0.5 * GAMMA * h
            known_m, known_t = old_m + half * rate_m, old_t + half * rate_t
            done, u, t, m, flows = twin_stage(
                equations, u, t, half, known_m, known_t, scale, tolerance, about(moment + GAMMA * h)
            )
            middle_m, middle_t, middle_in = m, t, old_in + half * (flow_rate + flows)
            one = 1.0 / (GAMMA * (2.0 - GAMMA))
            two = (1.0 - GAMMA) ** 2 * one
            last = (1.0 - GAMMA) / (2.0 - GAMMA) * h
            known_m, known_t = one * middle_m - two * old_m, one * middle_t - two * old_t
            again, u, t, m, flows = twin_stage(
                equations, u, t, last, known_m, known_t, scale, tolerance, about(moment + h)
            )
            done = min(done, again)
            rate_m, rate_t = (m - known_m) / last, (t - known_t) / last
            inflow = one * middle_in - two * old_in + last * flows
        if not done:
            raise ArithmeticError(f"step {number} of {h} s did not settle")
        flow_rate = flows
        moment += h
    return u, t, m, inflow
