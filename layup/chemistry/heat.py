"""How dangerous a mix's own heat is: Semenov's number for the whole of it, Frank-Kamenetskii's for its middle."""

from __future__ import annotations

from math import exp
from typing import Literal

from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K, Kinetics
from layup.chemistry.ranges import require_positive
from layup.chemistry.vessel import Vessel, heat_loss_of
from layup.errors import RangeError

HeatClass = Literal["warm", "hot", "runaway"]

SEMENOV_CRITICAL = 1.0 / exp(1.0)
"""Above it a mix that never ran out would run away (Semenov)."""
SEMENOV_RUNAWAY = 0.55
"""Above it one that does run out visibly runs away."""
HOT_K = 333.15
"""60 C: too hot to hold. From memory, a band."""
BOILING_K = 373.15

SLAB, CYLINDER, SPHERE = 0.878458, 2.0, 3.321992
"""Frank-Kamenetskii's critical numbers, for the half thickness or the radius."""


def semenov(
    kinetics: Kinetics, vessel: Vessel, mass_g: float, temperature_K: float, conversion_start: float = 0.0
) -> float:
    """Return Semenov's number, how much faster heat is made than lost as the mix warms.

    Parameters
    ----------
    kinetics : Kinetics
        The calibrated resin [-].
    vessel : Vessel
        Cup or tray [-].
    mass_g : float
        Mass of mix, above 0 [g].
    temperature_K : float
        Temperature of the surroundings, above 0 [K].
    conversion_start : float
        Conversion from which it goes on, 0 to below 1 [-].

    Returns
    -------
    float
        psi at the fastest conversion; critical at 1/e where nothing is used up [-].

    Notes
    -----
    psi = (dH/cp) tau k(T) max f(a) Ea/(R T^2), tau at the excess R T^2/Ea, where a critical mix stands.

    References
    ----------
    Semenov, Z. Phys. 48 (1928) 571 (from memory).

    Examples
    --------
    >>> round(semenov(Kinetics(4.8e-4), Vessel.tray(0.001), 100.0, 298.15), 3)
    0.196
    """
    require_positive("temperature", temperature_K, unit="K")
    fastest = kinetics.rate_per_s(max(conversion_start, kinetics.fastest_conversion()), temperature_K)
    loss = heat_loss_of(kinetics, vessel, mass_g)
    sharpness_per_K = kinetics.activation_energy_J_mol / (GAS_CONSTANT_J_MOL_K * temperature_K**2)
    tau_s = loss.tau_s / (1.0 + loss.growth_per_K / sharpness_per_K)
    return kinetics.adiabatic_rise_K * tau_s * fastest * sharpness_per_K


def heat_class(psi_max: float, peak_K: float) -> HeatClass:
    """Return the class of a mix's heat.

    Parameters
    ----------
    psi_max : float
        Semenov's number [-].
    peak_K : float
        The predicted peak [K].

    Returns
    -------
    HeatClass
        "warm", "hot" (too hot to hold, or beyond the critical number) or "runaway" [-].
    """
    if psi_max > SEMENOV_RUNAWAY or peak_K >= BOILING_K:
        return "runaway"
    return "hot" if psi_max > SEMENOV_CRITICAL or peak_K >= HOT_K else "warm"


def middle_runs_away(kinetics: Kinetics, vessel: Vessel, mass_g: float, temperature_K: float) -> float:
    """Return how near the middle of a mix is to running away although its surface stays cool.

    Parameters
    ----------
    kinetics : Kinetics
        The calibrated resin [-].
    vessel : Vessel
        Cup (taken as a long cylinder) or tray (a slab cooled from above and below) [-].
    mass_g : float
        Mass of mix, above 0 [g].
    temperature_K : float
        Temperature of the surface, above 0 [K].

    Returns
    -------
    float
        Frank-Kamenetskii's number over its critical value: above 1 the middle runs away [-].

    Raises
    ------
    RangeError
        If a value is out of range, or for a film.

    Notes
    -----
    delta = Ea/(R T^2) dH rho k(T) max f(a) r^2/k_th; critical 0.878 for a slab, 2 for a cylinder.

    References
    ----------
    Frank-Kamenetskii, Diffusion and Heat Transfer in Chemical Kinetics (1969), chapter 7 (from memory).

    Examples
    --------
    >>> round(middle_runs_away(Kinetics(4.80015e-4), Vessel.cup(), 100.0, 298.15), 1)
    4.3
    """
    require_positive("temperature", temperature_K, unit="K")
    require_positive("mass of mix", mass_g, unit="g")
    if vessel.kind == "film":
        raise RangeError("film", "has no middle", todo="a film takes the part's temperature")
    if vessel.depth_m is None:
        critical, radius_m = CYLINDER, 0.5 * vessel.width_m(mass_g / kinetics.density_g_cm3 * 1e-6)
    else:
        critical, radius_m = SLAB, 0.5 * vessel.depth_m
    heat_W_m3 = (
        kinetics.heat_J_g
        * kinetics.density_g_cm3
        * 1e6
        * kinetics.rate_per_s(kinetics.fastest_conversion(), temperature_K)
    )
    sharpness_per_K = kinetics.activation_energy_J_mol / (GAS_CONSTANT_J_MOL_K * temperature_K**2)
    return sharpness_per_K * heat_W_m3 * radius_m**2 / kinetics.conductivity_W_m_K / critical
