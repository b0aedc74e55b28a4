"""The earliest demoulding computed anew by scipy: the same equations written out once more, another integrator."""

from itertools import pairwise
from math import inf

import numpy as np
from scipy.integrate import solve_ivp

from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K

FARTHEST_S = 20 * 24 * 3600.0


def scipy_conversion(setting, mould_K, until_s):
    """Return a function of time [s]: the conversion on a steady mould, the same equations by scipy's LSODA."""
    kinetics, glass = setting.kinetics, setting.glass
    k = kinetics.k_ref_per_s * np.exp(
        -kinetics.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K * (1 / mould_K - 1 / 298.15)
    )

    def slope(_, state):
        a, ahead = state[0], glass.half_rate_lead_K
        transition_K = glass.uncured_K + (glass.cured_K - glass.uncured_K) * glass.shape * a / (
            1 - (1 - glass.shape) * a
        )
        x = transition_K - mould_K
        slowed = 1 + np.exp(-42.5 * (ahead / (51.6 + ahead) - x / (51.6 + abs(x))))
        return [k / slowed * (kinetics.a0 + a**kinetics.m) * (1 - a) ** kinetics.n]

    run = solve_ivp(slope, (0.0, until_s), [0.0], method="LSODA", rtol=1e-9, atol=1e-11, dense_output=True)
    return lambda t: float(run.sol(min(t, until_s))[0])


def scipy_demould_s(setting, history, lead_K=10.0, start=0.0, need=("glass", "gel")):
    """Integrate the same equations written out anew, by scipy's LSODA, and find the event."""
    times, kelvins = np.array(history).T
    kinetics, glass, points = (
        setting.kinetics,
        setting.glass,
        sorted(setting.clock.points, key=lambda p: p.temperature_K),
    )

    def warmth(t):
        return float(np.interp(t, times, kelvins))

    def transition(a):
        return glass.uncured_K + (glass.cured_K - glass.uncured_K) * glass.shape * a / (1 - (1 - glass.shape) * a)

    def per_stated(T):
        if not points:
            return 0.0
        energy = setting.clock.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K
        at = np.array([1 / p.temperature_K for p in points])
        logs = np.array([np.log(p.time_s) for p in points])
        if points[0].temperature_K >= T:
            return np.exp(-(logs[0] + energy * (1 / T - at[0])))
        if points[-1].temperature_K <= T:
            return np.exp(-(logs[-1] + energy * (1 / T - at[-1])))
        return np.exp(-np.interp(-1 / T, -at, logs))

    def slopes(t, state):
        T, a = warmth(t), state[0]
        x, ahead = transition(a) - T, glass.half_rate_lead_K
        k = kinetics.k_ref_per_s * np.exp(
            -kinetics.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K * (1 / T - 1 / 298.15)
        )
        diffusion = k * np.exp(42.5 * (ahead / (51.6 + ahead) - x / (51.6 + abs(x))))
        rate = 1 / (1 / k + 1 / diffusion) * (kinetics.a0 + a**kinetics.m) * (1 - a) ** kinetics.n
        return [rate, per_stated(T)]

    def ready(t, state):
        leads = {
            "glass": (transition(state[0]) - warmth(t) - lead_K) / 10,
            "gel": state[0] - kinetics.conversion_gel - 0.03,
        }
        leads = [leads[name] for name in need]
        return min(*leads, state[1] - 1) if points else min(leads)

    ready.terminal, ready.direction = True, 1.0
    edges = [0.0, *[t for t in times if t > 0.0], FARTHEST_S]
    state = [start, 0.0]
    for begin, end in pairwise(edges):
        run = solve_ivp(slopes, (begin, end), state, method="LSODA", rtol=1e-9, atol=1e-11, events=ready)
        if run.t_events[0].size:
            return float(run.t_events[0][0])
        state = run.y[:, -1]
        if ready(end, state) >= 0:
            return end
    return inf
