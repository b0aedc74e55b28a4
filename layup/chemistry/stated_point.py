"""One stated pot life: the vessel it is of, the rate constant that gives it, and what a law gives there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import exp, log

from layup.chemistry.datasheet import CupEndpoint, PotLifePoint
from layup.chemistry.history import ramps
from layup.chemistry.integrate import TOLERANCE, trajectory
from layup.chemistry.kinetics import Kinetics, reduced_time, speed_up, stretch
from layup.chemistry.prediction import heated_course
from layup.chemistry.self_heating import slopes_of
from layup.chemistry.vessel import Vessel

DEFAULTS = Kinetics(k_ref_per_s=1.0)
"""The model's defaults, with a rate constant still to be found."""

CUP = Vessel.cup()


def calibrate_point(
    time_s: float,
    mass_g: float,
    temperature_K: float,
    *,
    vessel: Vessel = CUP,
    endpoint: CupEndpoint = "thickening",
    kinetics: Kinetics = DEFAULTS,
) -> Kinetics:
    """Find the rate constant that gives a stated pot life.

    Parameters
    ----------
    time_s : float
        Stated pot life, above 0 [s].
    mass_g : float
        Mass it is stated for, above 0 [g].
    temperature_K : float
        Temperature of the mix at the start and of its surroundings, 250 to 400 [K].
    vessel : Vessel
        What it was measured in [-].
    endpoint : CupEndpoint
        "thickening" or "gel", what the stated time ends with [-].
    kinetics : Kinetics
        Everything but the rate constant [-].

    Returns
    -------
    Kinetics
        The same with its `k_ref_per_s` found.

    Raises
    ------
    RangeError
        If a value is out of range, or the mix is too thin to be anything but a film.

    Notes
    -----
    The root of ln t(k) = ln X lies between k without any self-heating, G(a)/(X k(T)/k_ref), and k without any heat
    loss, and is the only one there.

    Examples
    --------
    >>> calibrate_point(1800.0, 100.0, 298.15).k_ref_per_s
    0.000480015...
    """
    return calibrated(PotLifePoint(time_s, mass_g, temperature_K, endpoint), vessel, kinetics)


def calibrated(point: PotLifePoint, vessel: Vessel, kinetics: Kinetics, tolerance: float = TOLERANCE) -> Kinetics:
    """Return a law with the rate constant that gives one stated pot life; see `calibrate_point`.

    Parameters
    ----------
    point : PotLifePoint
        The stated pot life [-].
    vessel : Vessel
        What it was measured in [-].
    kinetics : Kinetics
        Everything but the rate constant [-].
    tolerance : float
        Error allowed in one step, relative in time [-].

    Returns
    -------
    Kinetics
        The same with its `k_ref_per_s` found [-].

    Raises
    ------
    RangeError
        If the mix is too thin to be anything but a film.
    """
    end = kinetics.conversion_gel if point.endpoint == "gel" else kinetics.conversion_working
    warmth = speed_up(point.temperature_K, kinetics.activation_energy_J_mol)
    isothermal_per_s = reduced_time(kinetics, end) / (point.time_s * warmth)
    if vessel.kind == "film":
        return replace(kinetics, k_ref_per_s=isothermal_per_s)
    adiabatic_per_s = _adiabatic_time(replace(kinetics, k_ref_per_s=1.0), point.temperature_K, end) / point.time_s

    def miss(log_k: float) -> float:
        """Return ln of the stated time over the predicted one: it grows with the rate constant."""
        course = heated_course(
            replace(kinetics, k_ref_per_s=exp(log_k)),
            vessel,
            mass_g=point.mass_g,
            start_K=point.temperature_K,
            ambient=point.temperature_K,
            conversion_end=end,
            tolerance=tolerance,
        )
        return log(point.time_s / course.last.time_s)

    log_k = _root(miss, log(adiabatic_per_s), log(isothermal_per_s), 10.0 * tolerance)
    return replace(kinetics, k_ref_per_s=exp(log_k))


def vessel_of(point: PotLifePoint) -> Vessel:
    """Return the vessel a pot life was measured in.

    Parameters
    ----------
    point : PotLifePoint
        The stated pot life [-].

    Returns
    -------
    Vessel
        A cup, or a tray where a depth is stated [-].
    """
    return Vessel.cup() if point.depth_m is None else Vessel.tray(point.depth_m)


def pot_life_s(kinetics: Kinetics, point: PotLifePoint, *, tolerance: float = TOLERANCE) -> float:
    """Return the pot life that a law gives where a datasheet states one.

    Parameters
    ----------
    kinetics : Kinetics
        The calibrated law [-].
    point : PotLifePoint
        The stated pot life [-].
    tolerance : float
        Error allowed in one step, relative in time [-].

    Returns
    -------
    float
        Time to what the stated one ends with [s].
    """
    end = kinetics.conversion_gel if point.endpoint == "gel" else kinetics.conversion_working
    return heated_course(
        kinetics,
        vessel_of(point),
        mass_g=point.mass_g,
        start_K=point.temperature_K,
        ambient=point.temperature_K,
        conversion_end=end,
        tolerance=tolerance,
    ).last.time_s


def _adiabatic_time(kinetics: Kinetics, temperature_K: float, conversion_end: float) -> float:
    """Return the time [s] to a conversion with no heat lost at all."""
    ambient = ramps(temperature_K)
    course = trajectory(
        lambda ramp: slopes_of(kinetics, 0.0, ramp),
        ambient,
        y_start=0.0,
        y_end=stretch(conversion_end, kinetics.a0),
        start_K=temperature_K,
    )
    return course.last.time_s


def _root(miss: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    """Return the root of a growing function known to lie in [low, high], by regula falsi with the Illinois rule."""
    at_low, at_high = miss(low), miss(high)
    if at_low >= 0.0 or high - low <= tolerance:  # no heat is lost, to rounding
        return low
    if at_high <= 0.0:  # no heat is kept, to rounding
        return high
    side = 0
    for _ in range(100):
        guess = high - at_high * (high - low) / (at_high - at_low)
        value = miss(guess)
        if abs(value) <= 0.1 * tolerance or high - low <= tolerance:
            return guess
        if value > 0.0:
            at_low *= 0.5 if side > 0 else 1.0
            high, at_high, side = guess, value, 1
        else:
            at_high *= 0.5 if side < 0 else 1.0
            low, at_low, side = guess, value, -1
    return guess
