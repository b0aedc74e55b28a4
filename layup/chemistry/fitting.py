"""What several stated pot lives tell together: activation energy and heat loss, beside the rate constant."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, hypot, log, sqrt
from typing import TYPE_CHECKING

from layup.chemistry.datasheet import PotLifePoint
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.ode import TOLERANCE
from layup.chemistry.stated_point import calibrated, pot_life_s, vessel_of
from layup.errors import RangeError

if TYPE_CHECKING:
    from layup.chemistry.uncertainty import Uncertainty

CLOSEST_TEMPERATURES_K = 5.0
LOWEST_ENERGY_J_MOL, HIGHEST_ENERGY_J_MOL = 30_000.0, 90_000.0
SEARCHED_J_MOL = 15_000.0, 130_000.0
"""Where the ratio of two pot lives is known to grow with the activation energy."""
SEARCHED_LOG_LOSS = 1.5
"""How far from what is usual a heat loss is looked for, as a logarithm."""
COARSE = 1e-6
"""Tolerance of what only a band or a first guess rests on."""
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
