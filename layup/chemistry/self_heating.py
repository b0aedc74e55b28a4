"""The slopes of a mix that heats itself and loses heat to its surroundings, for the march through its conversion."""

from __future__ import annotations

from collections.abc import Callable
from math import exp, inf

from layup.chemistry.history import Ramp
from layup.chemistry.integrate import Slopes
from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K, REFERENCE_K, Kinetics
from layup.chemistry.vessel import HeatLoss

NO_LOSS = HeatLoss(inf, 0.0)


def heated(
    rate_per_s: Callable[[float, float], float], a0: float, rise_K: float, loss: HeatLoss[float], ambient: Ramp
) -> Slopes:
    """Return the slopes of any rate law that heats itself and loses heat to its surroundings.

    Parameters
    ----------
    rate_per_s : Callable[[float, float], float]
        da/dt at a conversion and a temperature [1/s].
    a0 : float
        Shapes the integration variable, above 0 [-].
    rise_K : float
        dH/cp [K].
    loss : HeatLoss[float]
        How it loses heat [-].
    ambient : Ramp
        One straight piece of the surroundings' temperature [-].

    Returns
    -------
    Slopes
        A function of y, time and temperature [-].

    Notes
    -----
    dt/dy = (da/dy)/rate, dT/dy = (dH/cp) da/dy - x (1 + growth |x|)/tau dt/dy, x = T - T_amb(t).
    """
    base_K, slope_K_s = ambient.base_K, ambient.slope_K_s
    cooling_per_s, growth_per_K = 1.0 / loss.tau_s, loss.growth_per_K

    def slopes(y: float, time_s: float, temperature_K: float) -> tuple[float, float]:
        growth = exp(y)
        below = 1.0 + a0 * growth
        per_y = a0 * (1.0 + a0) * growth / (below * below)
        time_slope = per_y / rate_per_s(a0 * (growth - 1.0) / below, temperature_K)
        excess_K = temperature_K - base_K - slope_K_s * time_s
        lost = excess_K * (1.0 + growth_per_K * abs(excess_K)) * cooling_per_s
        return time_slope, rise_K * per_y - lost * time_slope

    return slopes


def slopes_of(kinetics: Kinetics, loss: HeatLoss[float], ambient: Ramp) -> Slopes:
    """Return the slopes dt/dy and dT/dy of a resin; the default law has a quicker form of its own.

    Parameters
    ----------
    kinetics : Kinetics
        The resin [-].
    loss : HeatLoss[float]
        How it loses heat [-].
    ambient : Ramp
        One straight piece of the surroundings' temperature [-].

    Returns
    -------
    Slopes
        A function of y, time and temperature [-].
    """
    a0, rise_K = kinetics.a0, kinetics.adiabatic_rise_K
    if not kinetics.is_default_order:
        return heated(kinetics.rate_per_s, a0, rise_K, loss, ambient)
    over_R = kinetics.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K
    at_reference = over_R / REFERENCE_K
    time_scale = 1.0 / ((1.0 + a0) ** 2 * kinetics.k_ref_per_s)
    heat_scale = rise_K * a0 * (1.0 + a0)
    base_K, slope_K_s = ambient.base_K, ambient.slope_K_s
    cooling_per_s, growth_per_K = 1.0 / loss.tau_s, loss.growth_per_K

    def slopes(y: float, time_s: float, temperature_K: float) -> tuple[float, float]:
        growth = exp(y)
        below = 1.0 + a0 * growth
        time_slope = time_scale * below * exp(over_R / temperature_K - at_reference)
        excess_K = temperature_K - base_K - slope_K_s * time_s
        lost = excess_K * (1.0 + growth_per_K * abs(excess_K)) * cooling_per_s
        return time_slope, heat_scale * growth / (below * below) - lost * time_slope

    return slopes
