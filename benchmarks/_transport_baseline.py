"""What the transport engine is measured against: the same equations in scipy and in numpy, written plainly.

Contents: baseline (method of lines: scipy BDF or LSODA, banded, any face rule); numpy_members (the ensemble's scheme, numpy over
members). Both take the material tables of the engine's own mesh, so that only the numerics differ.
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from desorb.core.transport import Assembly, Climate
from desorb.core.transport.climate import boundary_table
from desorb.core.transport.properties import ROWS, S0, U_FIRST, U_LAST, Floats
from desorb.core.transport.schedule import schedule_of
from desorb.core.transport.twin import LATENT, WATER_HEAT, saturation

PER_STEP = (ROWS - 1) / (U_LAST - U_FIRST)


def _rows(table: Floats, u: Floats) -> tuple[Floats, Floats]:
    place = (u - U_FIRST) * PER_STEP
    row = np.clip(place.astype(np.int64), 0, ROWS - 2)
    low = table[row]
    rise = table[row + 1] - low
    values = low + (place - row)[..., None] * rise
    return np.moveaxis(values, -1, 0), np.moveaxis(rise, -1, 0) * PER_STEP


def baseline(
    assembly: Assembly,
    climate: Climate,
    start: float,
    outputs: Floats,
    *,
    method: str,
    kirchhoff: bool,
    rtol: float = 1e-3,
) -> tuple[Floats, float]:
    """(stored water at the outputs in kg/m2, CPU seconds) of y = (u, T) by nodes, dw/du du/dt = div F, one material."""
    mesh = assembly.mesh
    table, dry = mesh.tables[0], float(mesh.dry_heat[0])
    left, right = mesh.half_widths()
    volume, widths, nodes = left + right, mesh.widths, mesh.x.size
    times, boundary = boundary_table(climate)
    flat = boundary.reshape(len(times), 12)
    conductivity = -np.gradient(table[:, 2], np.linspace(U_FIRST, U_LAST, ROWS)) / (
        S0 * np.exp(np.linspace(U_FIRST, U_LAST, ROWS))
    )  # K ds = -d Theta

    def rates(moment: float, y: Floats) -> Floats:
        u, t = y[0::2], y[1::2]
        values, slopes = _rows(table, u)
        water, phi, theta, delta, heat = values
        p, _ = saturation(t)
        place = min(max(int(np.searchsorted(times, moment, side="right")) - 1, 0), len(times) - 2)
        span = times[place + 1] - times[place]
        share = (moment - times[place]) / span if span > 0.0 else 0.0
        around = (flat[place] + share * (flat[place + 1] - flat[place])).reshape(2, 6)
        if kirchhoff:
            liquid = (theta[:-1] - theta[1:]) / widths
        else:
            k = np.interp(u, np.linspace(U_FIRST, U_LAST, ROWS), conductivity)
            liquid = 0.5 * (k[:-1] + k[1:]) * np.diff(S0 * np.expm1(u)) / widths
        vapour = 0.5 * (delta[:-1] + delta[1:]) / widths * (phi[:-1] * p[:-1] - phi[1:] * p[1:])
        flow = liquid + vapour
        carried = 0.5 * (heat[:-1] + heat[1:]) / widths * (t[:-1] - t[1:]) + LATENT * vapour
        net, warm = np.zeros(nodes), np.zeros(nodes)
        net[1:] += flow
        net[:-1] -= flow
        warm[1:] += carried
        warm[:-1] -= carried
        for side, node in ((0, 0), (1, nodes - 1)):
            air_t, air_p, exchange, beta, contact, source = around[side]
            gained = beta * (air_p - phi[node] * p[node])
            warm[node] += exchange * (air_t - t[node]) + LATENT * gained + source
            net[node] += gained + contact * S0 * np.expm1(u[node])
        out = np.empty(2 * nodes)
        out[0::2] = net / (volume * slopes[0])
        out[1::2] = warm / (volume * (dry + WATER_HEAT * water))
        return out

    y0 = np.empty(2 * nodes)
    y0[0::2], y0[1::2] = start, 20.0
    if method == "LSODA":
        more: dict[str, Any] = {"lband": 3, "uband": 3}
    else:
        index = np.arange(2 * nodes)
        more = {"jac_sparsity": (np.abs(index[:, None] // 2 - index[None, :] // 2) <= 1).astype(float)}
    began = time.process_time()
    found = solve_ivp(
        rates, (0.0, float(outputs[-1])), y0, method=method, t_eval=outputs, rtol=rtol, atol=1e-3 * rtol, **more
    )
    spent = time.process_time() - began
    if not found.success:
        return np.full(outputs.size, np.nan), spent
    held = np.array([_rows(table, y[0::2])[0][0] @ volume for y in found.y.T])
    return held, spent


def numpy_members(
    assembly: Assembly, climate: Climate, start: Floats, outputs: Floats, step: float, most: int
) -> tuple[float, int]:
    """(CPU seconds, steps made) of the ensemble's scheme (BDF2, one solve), vectorised by numpy over members: `start` (nodes, members)."""  # noqa: E501
    mesh = assembly.mesh
    table, dry, widths = mesh.tables[0], float(mesh.dry_heat[0]), mesh.widths[:, None]
    left, right = (half[:, None] for half in mesh.half_widths())
    plan = schedule_of(climate, outputs, step=step, wet_step=600.0, solves=1, second_order=True)
    u, t = start.copy(), np.full_like(start, 20.0)
    m = (left + right) * _rows(table, u)[0][0]
    old_m, old_t = m, t
    nodes = u.shape[0]
    began = time.process_time()
    for (near, far, h, _), around in zip(plan.weights[:most], plan.means[:most], strict=True):
        known_m, known_t, old_m, old_t = near * m - far * old_m, near * t - far * old_t, m, t
        (water, phi, theta, delta, heat), (water_u, phi_u, theta_u, delta_u, heat_u) = _rows(table, u)
        p, p_t = saturation(t)
        drop, fall = phi[:-1] * p[:-1] - phi[1:] * p[1:], t[:-1] - t[1:]
        vapour, conduct = 0.5 * (delta[:-1] + delta[1:]) / widths, 0.5 * (heat[:-1] + heat[1:]) / widths
        flow = (theta[:-1] - theta[1:]) / widths + vapour * drop
        v0 = vapour * phi_u[:-1] * p[:-1] + 0.5 * delta_u[:-1] / widths * drop
        v1 = 0.5 * delta_u[1:] / widths * drop - vapour * phi_u[1:] * p[1:]
        f_u = (theta_u[:-1] / widths + v0, v1 - theta_u[1:] / widths)
        f_t = (vapour * phi[:-1] * p_t[:-1], -vapour * phi[1:] * p_t[1:])
        g = conduct * fall + LATENT * vapour * drop
        g_u = (0.5 * heat_u[:-1] / widths * fall + LATENT * v0, 0.5 * heat_u[1:] / widths * fall + LATENT * v1)
        g_t = (conduct + LATENT * f_t[0], LATENT * f_t[1] - conduct)
        store = (left + right) * (dry + WATER_HEAT * water)
        slope = (left + right) * water_u
        net, warm = np.zeros_like(u), np.zeros_like(u)
        own = np.zeros((4, *u.shape))
        for target, flux, pair_u, pair_t, at in ((net, flow, f_u, f_t, 0), (warm, g, g_u, g_t, 2)):
            target[1:] += flux
            target[:-1] -= flux
            own[at, :-1] -= pair_u[0]
            own[at, 1:] += pair_u[1]
            own[at + 1, :-1] -= pair_t[0]
            own[at + 1, 1:] += pair_t[1]
        for side, node in ((0, 0), (1, nodes - 1)):
            air_t, air_p, exchange, beta = around[side, :4]
            gained = beta * (air_p - phi[node] * p[node])
            gained_u, gained_t = -beta * phi_u[node] * p[node], -beta * phi[node] * p_t[node]
            net[node] += gained
            warm[node] += exchange * (air_t - t[node]) + LATENT * gained
            own[0, node] += gained_u
            own[1, node] += gained_t
            own[2, node] += LATENT * gained_u
            own[3, node] += LATENT * gained_t - exchange
        first = known_m + h * net - (left + right) * water
        second = h * warm - store * (t - known_t)
        a, b, c, d = slope - h * own[0], -h * own[1], -h * own[2], store - h * own[3]
        e = [np.zeros_like(u) for _ in range(4)]
        for i in range(nodes):
            if i > 0:
                low = (-h * f_u[0][i - 1], -h * f_t[0][i - 1], -h * g_u[0][i - 1], -h * g_t[0][i - 1])
                a[i] -= low[0] * e[0][i - 1] + low[1] * e[2][i - 1]
                b[i] -= low[0] * e[1][i - 1] + low[1] * e[3][i - 1]
                c[i] -= low[2] * e[0][i - 1] + low[3] * e[2][i - 1]
                d[i] -= low[2] * e[1][i - 1] + low[3] * e[3][i - 1]
                first[i] -= low[0] * first[i - 1] + low[1] * second[i - 1]
                second[i] -= low[2] * first[i - 1] + low[3] * second[i - 1]
            inverse = 1.0 / (a[i] * d[i] - b[i] * c[i])
            first[i], second[i] = (
                (d[i] * first[i] - b[i] * second[i]) * inverse,
                (a[i] * second[i] - c[i] * first[i]) * inverse,
            )
            if i < nodes - 1:
                up = (h * f_u[1][i], h * f_t[1][i], h * g_u[1][i], h * g_t[1][i])
                e[0][i], e[1][i] = (d[i] * up[0] - b[i] * up[2]) * inverse, (d[i] * up[1] - b[i] * up[3]) * inverse
                e[2][i], e[3][i] = (a[i] * up[2] - c[i] * up[0]) * inverse, (a[i] * up[3] - c[i] * up[1]) * inverse
        for i in range(nodes - 2, -1, -1):
            first[i] -= e[0][i] * first[i + 1] + e[1][i] * second[i + 1]
            second[i] -= e[2][i] * first[i + 1] + e[3][i] * second[i + 1]
        m = (left + right) * water + slope * first
        u, t = u + first, t + second
    assert np.isfinite(u).all()
    return time.process_time() - began, min(most, len(plan.weights))
