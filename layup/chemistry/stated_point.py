"""One stated pot life: the vessel it is of, the rate constant that gives it, and what a law gives there.

What several stated pot lives tell together: activation energy and heat loss, beside the rate constant.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, hypot, inf, log, sqrt
from typing import TYPE_CHECKING

from layup.chemistry.datasheet import CupEndpoint, Endpoint, PotLifePoint
from layup.chemistry.kinetics import FULLY_CURED, Kinetics, reduced_time, speed_up, stretch
from layup.chemistry.numerics import first_at_or_above
from layup.chemistry.ode import COARSE, TOLERANCE, trajectory
from layup.chemistry.prediction import NO_LOSS, SelfHeating, heated_course, slopes_of
from layup.chemistry.temperature import ramps
from layup.chemistry.vessel import Vessel
from layup.chemistry.viscosity import conversion_thicker
from layup.errors import RangeError
from layup.units import in_minutes, temperature

if TYPE_CHECKING:
    from layup.chemistry.uncertainty import Uncertainty


# -- stated point ----------------------------------------------------------------------------------------------------

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
    ln t falls at least as fast as ln k grows, for a faster mix keeps more of its heat: the only root of ln t(k) = ln X
    is no further from any k than ln t is off there. Looked for from the law's own k, at most G(a)/(X k(T)/k_ref), which
    it takes without any self-heating.

    Examples
    --------
    >>> calibrate_point(1800.0, 100.0, 298.15).k_ref_per_s
    0.000474609...
    """
    return calibrated(PotLifePoint(time_s, mass_g, temperature_K, endpoint), vessel, kinetics)


def calibrated(point: PotLifePoint, vessel: Vessel, kinetics: Kinetics, tolerance: float = TOLERANCE) -> Kinetics:
    """Return a law with the rate constant that gives one stated pot life; see `calibrate_point`."""

    def miss(log_k: float) -> float:
        """Return ln of the stated time over the predicted one: it grows with the rate constant."""
        law = replace(kinetics, k_ref_per_s=exp(log_k))
        return log(point.time_s) - log(_time_in_s(law, point, vessel, tolerance))

    if point.endpoint == "temperature":
        low, high = _warming_bracket(point, vessel, kinetics, tolerance)
        log_k = first_at_or_above(miss, low, high, tolerance)
    else:
        end = end_conversion(kinetics, point.endpoint)
        warmth = speed_up(point.temperature_K, kinetics.activation_energy_J_mol)
        isothermal_per_s = reduced_time(kinetics, end) / (point.time_s * warmth)
        if vessel.kind == "film":
            return replace(kinetics, k_ref_per_s=isothermal_per_s)
        guess = log(min(kinetics.k_ref_per_s, isothermal_per_s))
        off = miss(guess)
        if off >= 0.0:
            log_k = first_at_or_above(miss, guess - off - tolerance, guess, tolerance, at_high=off)
        else:
            log_k = first_at_or_above(miss, guess, guess - off + tolerance, tolerance, at_low=off)
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
    0.12
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
    mix, ambient = SelfHeating.of(kinetics, NO_LOSS), ramps(temperature_K)
    course = trajectory(
        lambda ramp: slopes_of(mix, ramp.base_K, default_order=kinetics.is_default_order, exp=exp),
        ambient,
        y_start=0.0,
        y_end=stretch(conversion_end, kinetics.a0),
        start_K=temperature_K,
    )
    return course.last.time_s


# -- fitting ---------------------------------------------------------------------------------------------------------

CLOSEST_TEMPERATURES_K = 5.0
LOWEST_ENERGY_J_MOL, HIGHEST_ENERGY_J_MOL = 30_000.0, 90_000.0
SEARCHED_J_MOL = 15_000.0, 130_000.0
"""Where the ratio of two pot lives is known to grow with the activation energy."""
SEARCHED_LOG_LOSS = 1.5
"""How far from what is usual a heat loss is looked for, as a logarithm."""
FARTHEST_LOG = 3.0
"""A mix that never gets so warm as is stated counts as this much later."""


@dataclass(frozen=True, slots=True)
class Fit:
    """The law that stated times and what is usual agree on best, still without its rate constant."""

    law: Kinetics
    energy_sd_J_mol: float
    film_coefficient_log_sd: float
    correlation: float
    """Between activation energy and ln of the film coefficient."""


def fit_points(points: Sequence[PotLifePoint], base: Kinetics, unsure: Uncertainty) -> Fit:
    """Fit activation energy and heat loss to stated pot lives, maximum a posteriori.

    Notes
    -----
    Stated times tell the activation energy E' over their own span, which differs from the resin's E by the model's
    error: E' = E + N(0, s_m^2), E = N(E_0, s_E^2). Gauss-Newton finds E' and ln h at which
    sum (ln t/s_own)^2 + ((E' - E_0)^2/(s_E^2 + s_m^2)) + ((ln h - ln h_0)/s_h)^2 is least, ln k always at the mean of
    the times; with w = s_E^2/(s_E^2 + s_m^2), E = E_0 + w (E' - E_0), its variance w^2 Var(E') + w s_m^2.
    """
    alone = len(points) == 1
    if alone:
        return Fit(base, unsure.activation_energy_J_mol, unsure.film_coefficient_log, 0.0)
    temperatures_K = [point.temperature_K for point in points]
    if max(temperatures_K) - min(temperatures_K) >= CLOSEST_TEMPERATURES_K:
        bare = _gauss_newton(points, base, unsure.own_time_log, (float("inf"), 1e-9))
        if not LOWEST_ENERGY_J_MOL <= bare.energy_J_mol <= HIGHEST_ENERGY_J_MOL:
            raise RangeError(
                "pot lives",
                "do not fit together: they imply an activation energy no such resin has",
                value=f"{bare.energy_J_mol / 1000:.0f} kJ/mol",
                allowed="must imply between 30 and 90 kJ/mol",
                todo="check the times, masses and temperatures, and that each ends as it says",
            )
    wide_sd_J_mol = hypot(unsure.activation_energy_J_mol, unsure.model_energy_J_mol)
    found = _gauss_newton(points, base, unsure.own_time_log, (wide_sd_J_mol, unsure.film_coefficient_log))
    share = (unsure.activation_energy_J_mol / wide_sd_J_mol) ** 2
    energy_J_mol = base.activation_energy_J_mol + share * (found.energy_J_mol - base.activation_energy_J_mol)
    energy_sd_J_mol = sqrt(share**2 * found.energy_variance + share * unsure.model_energy_J_mol**2)
    loss_sd = sqrt(found.loss_variance)
    return Fit(
        law=replace(
            base,
            activation_energy_J_mol=energy_J_mol,
            film_coefficient_W_m2_K=base.film_coefficient_W_m2_K * exp(found.log_loss),
        ),
        energy_sd_J_mol=energy_sd_J_mol,
        film_coefficient_log_sd=loss_sd,
        correlation=share * found.together / (energy_sd_J_mol * loss_sd),
    )


def rate_fitted(points: Sequence[PotLifePoint], base: Kinetics, tolerance: float = TOLERANCE) -> Kinetics:
    """Return a law with the rate constant of stated pot lives, the mean of what each gives."""
    logs = [log(calibrated(point, vessel_of(point), base, tolerance).k_ref_per_s) for point in points]
    return replace(base, k_ref_per_s=exp(sum(logs) / len(logs)))


@dataclass(frozen=True, slots=True)
class _Found:
    energy_J_mol: float
    log_loss: float
    """From the usual one."""
    energy_variance: float
    loss_variance: float
    together: float


def _gauss_newton(
    points: Sequence[PotLifePoint], base: Kinetics, time_log_sd: float, prior_sds: tuple[float, float]
) -> _Found:
    """Return the activation energy and heat loss that fit stated times and their priors best, and their covariance."""
    prior_J_mol = base.activation_energy_J_mol
    energy_J_mol, log_loss = prior_J_mol, 0.0
    weigh = 1.0 / time_log_sd**2
    prior_energy, prior_loss = (1.0 / sd**2 for sd in prior_sds)
    ee = ll = el = 0.0
    for _ in range(20):
        here = _misses(points, base, energy_J_mol, log_loss)
        by_energy = _slopes(here, _misses(points, base, energy_J_mol + 1000.0, log_loss), 1000.0)
        by_loss = _slopes(here, _misses(points, base, energy_J_mol, log_loss + 0.1), 0.1)
        ee = prior_energy + weigh * _dot(by_energy, by_energy)
        ll = prior_loss + weigh * _dot(by_loss, by_loss)
        el = weigh * _dot(by_energy, by_loss)
        pull_e = prior_energy * (prior_J_mol - energy_J_mol) - weigh * _dot(by_energy, here)
        pull_l = -prior_loss * log_loss - weigh * _dot(by_loss, here)
        whole = ee * ll - el * el
        step_J_mol, step = (ll * pull_e - el * pull_l) / whole, (ee * pull_l - el * pull_e) / whole
        energy_J_mol = min(max(energy_J_mol + step_J_mol, SEARCHED_J_MOL[0]), SEARCHED_J_MOL[1])
        log_loss = min(max(log_loss + step, -SEARCHED_LOG_LOSS), SEARCHED_LOG_LOSS)
        if abs(step_J_mol) < 1.0 and abs(step) < 1e-4:
            break
    whole = ee * ll - el * el
    return _Found(energy_J_mol, log_loss, ll / whole, ee / whole, -el / whole)


def _misses(points: Sequence[PotLifePoint], base: Kinetics, energy_J_mol: float, log_loss: float) -> list[float]:
    """Return how far the common fit is from each stated time, as a logarithm."""
    law = replace(
        base,
        activation_energy_J_mol=energy_J_mol,
        film_coefficient_W_m2_K=base.film_coefficient_W_m2_K * exp(log_loss),
    )
    common = rate_fitted(points, law, COARSE)
    times_s = [pot_life_s(common, point, tolerance=COARSE) for point in points]
    return [min(log(time_s / point.time_s), FARTHEST_LOG) for time_s, point in zip(times_s, points, strict=True)]


def _slopes(here: Sequence[float], there: Sequence[float], step: float) -> list[float]:
    return [(after - before) / step for before, after in zip(here, there, strict=True)]


def _dot(one: Sequence[float], two: Sequence[float]) -> float:
    return sum(a * b for a, b in zip(one, two, strict=True))
