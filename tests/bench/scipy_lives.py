"""The rival of everything that computes lives: scipy's LSODA on the same two equations, written out once more."""

from math import exp

import numpy as np
from scipy.integrate import solve_ivp

from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K, Kinetics
from layup.chemistry.prediction import Vessel, heat_loss_of

TO_THICKENING, TO_THE_PEAK = "working", "peak"


def lsoda(
    law: Kinetics, vessel: Vessel, mass_g: float, shop_K: float, *, rtol: float, until: str = TO_THICKENING
) -> tuple[float, float]:
    """Return thickening time and peak of one cup: to thickening only, or on to the peak."""
    (tau_s, growth), over_R = heat_loss_of(law, vessel, mass_g), law.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K
    rise_K, k_ref, a0, working = law.adiabatic_rise_K, law.k_ref_per_s, law.a0, law.conversion_working
    assert law.is_default_order

    def rates(_: float, y: np.ndarray) -> list[float]:
        a, T = y
        rate = k_ref * exp(over_R * (1 / 298.15 - 1 / T)) * (a0 + a) * (1 - a) ** 2
        return [rate, rise_K * rate - (T - shop_K) * (1 + growth * abs(T - shop_K)) / tau_s]

    def thick(_: float, y: np.ndarray) -> float:
        return y[0] - working

    def cools(t: float, y: np.ndarray) -> float:
        return rates(t, y)[1] if y[0] > 0.05 else 1.0

    thick.terminal, cools.terminal, cools.direction = until == TO_THICKENING, True, -1
    events = [thick] if until == TO_THICKENING else [thick, cools]
    state, start_s, found_s, peak_K = [0.0, shop_K], 0.0, None, shop_K
    while True:  # a slow cup is past its peak before it thickens: go on to thickening
        run = solve_ivp(rates, (start_s, 1e8), state, method="LSODA", rtol=rtol, atol=[rtol, 100 * rtol], events=events)
        found_s = run.t_events[0][0] if len(run.t_events[0]) else found_s
        if len(events) == 1:
            return found_s, peak_K
        peak_K = run.y[1].max()
        if found_s is not None:
            return found_s, peak_K
        state, start_s, events = list(run.y[:, -1]), run.t[-1], [thick]
        thick.terminal = True
