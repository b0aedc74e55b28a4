"""One stated pot life: the vessel it is of, the rate constant that gives it, and what a law gives there."""

from __future__ import annotations

from dataclasses import replace
from math import exp, inf, log

from layup.chemistry.datasheet import CupEndpoint, Endpoint, PotLifePoint
from layup.chemistry.kinetics import FULLY_CURED, Kinetics, reduced_time, speed_up, stretch
from layup.chemistry.ode import TOLERANCE, trajectory
from layup.chemistry.prediction import NO_LOSS, heated_course, slopes_of
from layup.chemistry.roots import first_at_or_above
from layup.chemistry.temperature import ramps
from layup.chemistry.vessel import Vessel
from layup.chemistry.viscosity import conversion_thicker
from layup.errors import RangeError
from layup.units import in_minutes, temperature

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

    Notes
    -----
    The root of ln t(k) = ln X lies between k without any self-heating, G(a)/(X k(T)/k_ref), and k without any heat
    loss, and is the only one there.

    Examples
    --------
    >>> calibrate_point(1800.0, 100.0, 298.15).k_ref_per_s
    0.000474609...
    """
    return calibrated(PotLifePoint(time_s, mass_g, temperature_K, endpoint), vessel, kinetics)


def calibrated(point: PotLifePoint, vessel: Vessel, kinetics: Kinetics, tolerance: float = TOLERANCE) -> Kinetics:
    """Return a law with the rate constant that gives one stated pot life; see `calibrate_point`."""
    if point.endpoint == "temperature":
        low, high = _warming_bracket(point, vessel, kinetics, tolerance)
    else:
        end = end_conversion(kinetics, point.endpoint)
        warmth = speed_up(point.temperature_K, kinetics.activation_energy_J_mol)
        isothermal_per_s = reduced_time(kinetics, end) / (point.time_s * warmth)
        if vessel.kind == "film":
            return replace(kinetics, k_ref_per_s=isothermal_per_s)
        adiabatic_per_s = _adiabatic_time(replace(kinetics, k_ref_per_s=1.0), point.temperature_K, end) / point.time_s
        low, high = log(adiabatic_per_s), log(isothermal_per_s)

    def miss(log_k: float) -> float:
        """Return ln of the stated time over the predicted one: it grows with the rate constant."""
        law = replace(kinetics, k_ref_per_s=exp(log_k))
        return log(point.time_s) - log(_time_in_s(law, point, vessel, tolerance))

    log_k = first_at_or_above(miss, low, high, tolerance)
    if point.endpoint == "temperature" and abs(miss(log_k)) > 100.0 * tolerance + 1e-6:
        raise RangeError(
            "pot life",
            "ends at a temperature that so little mix, so slow, never reaches",
            value=f"{in_minutes(point.time_s, '.3g')} to {temperature(point.reaches_K or 0.0, '.4g')}",
            allowed="must be shorter: slower than that, it loses its heat first",
            todo="check its mass, its temperatures and its vessel",
        )
    return replace(kinetics, k_ref_per_s=exp(log_k))


def _warming_bracket(point: PotLifePoint, vessel: Vessel, kinetics: Kinetics, tolerance: float) -> tuple[float, float]:
    """Return ln of a rate constant that warms the mix too slowly even without any heat loss, and of one fast enough."""
    rise_K = (point.reaches_K or point.temperature_K) - point.temperature_K
    share = rise_K / kinetics.adiabatic_rise_K if kinetics.adiabatic_rise_K > 0.0 else inf
    if vessel.kind == "film" or share >= FULLY_CURED:
        raise RangeError(
            "pot life",
            "ends at a temperature that this mix cannot reach",
            value=f"{rise_K:.0f} K warmer",
            allowed=f"must be below {FULLY_CURED * kinetics.adiabatic_rise_K:.0f} K, all its heat",
            todo="check the temperature that ends the pot life",
        )
    low = log(_adiabatic_time(replace(kinetics, k_ref_per_s=1.0), point.temperature_K, share) / point.time_s)
    high = low + 0.5
    while _time_in_s(replace(kinetics, k_ref_per_s=exp(high)), point, vessel, tolerance) > point.time_s:
        high += 0.5
    return low, high


def end_conversion(kinetics: Kinetics, endpoint: Endpoint) -> float:
    """Return the conversion with which a stated pot life ends.

    Examples
    --------
    >>> round(end_conversion(DEFAULTS, "viscosity doubled"), 3)
    0.194
    """
    if endpoint == "temperature":
        raise RangeError("pot life", "ends at a temperature, not at a conversion")
    if endpoint == "viscosity doubled":
        return conversion_thicker(2.0, kinetics.conversion_gel)
    if endpoint == "open":
        return kinetics.conversion_film
    return kinetics.conversion_gel if endpoint == "gel" else kinetics.conversion_working


def vessel_of(point: PotLifePoint) -> Vessel:
    """Return the vessel a pot life was measured in."""
    if point.film:
        return Vessel.film()
    return Vessel.cup(point.diameter_m) if point.depth_m is None else Vessel.tray(point.depth_m)


def pot_life_s(kinetics: Kinetics, point: PotLifePoint, *, tolerance: float = TOLERANCE) -> float:
    """Return the pot life that a law gives where a datasheet states one."""
    return _time_in_s(kinetics, point, vessel_of(point), tolerance)


def _time_in_s(kinetics: Kinetics, point: PotLifePoint, vessel: Vessel, tolerance: float) -> float:
    """Return the time [s] of a stated pot life in a vessel."""
    end = None if point.endpoint == "temperature" else end_conversion(kinetics, point.endpoint)
    if vessel.kind == "film" and end is not None:
        return reduced_time(kinetics, end) / kinetics.rate_constant_per_s(point.temperature_K)
    course = heated_course(
        kinetics,
        vessel,
        mass_g=point.mass_g,
        start_K=point.temperature_K,
        ambient=point.temperature_K,
        conversion_end=end,
        tolerance=tolerance,
    )
    if point.reaches_K is None:
        return course.last.time_s
    warm = course.at_temperature(point.reaches_K)
    return inf if warm is None else warm.time_s


def _adiabatic_time(kinetics: Kinetics, temperature_K: float, conversion_end: float) -> float:
    """Return the time [s] to a conversion with no heat lost at all."""
    ambient = ramps(temperature_K)
    course = trajectory(
        lambda ramp: slopes_of(kinetics, NO_LOSS, ramp),
        ambient,
        y_start=0.0,
        y_end=stretch(conversion_end, kinetics.a0),
        start_K=temperature_K,
    )
    return course.last.time_s
