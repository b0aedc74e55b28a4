"""What a person sees or measures of a batch, and how it moves the rate law and narrows the band of all that follows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import erfc, exp, hypot, log, pi, sqrt

from layup.chemistry.calibration import Calibration
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.looks import LookWord, word_conversion
from layup.chemistry.numerics import require_between, require_positive
from layup.chemistry.ode import COARSE, TOLERANCE
from layup.chemistry.prediction import Vessel, heat_loss_of
from layup.chemistry.stages import Stage, follow
from layup.chemistry.temperature import History
from layup.chemistry.uncertainty import AS_SAID, Use, rotate, sensitivities, shift_of, shifted

# -- observation -----------------------------------------------------------------------------------------------------


OBSERVED_LOG_SD = 0.10
"""How well a person times a change by eye and stick: about 10 % (common practice, no source)."""

LEAST_RISE_K, THERMOMETER_K = 5.0, 2.0
"""A mix that warmed by less tells nothing; how well a thermometer in a cup tells it (common practice, no source)."""


def with_readings(vessel: Vessel, ambient: float | History, readings: History, *, start_K: float) -> tuple[Stage, ...]:
    """Return the stages of a batch whose own temperature was read: readings count for more than the model.

    To `follow`: the readings as the mix's own history, then the model from the last of them. Between readings the
    temperature is taken as straight, which for a mix that heats itself errs on the warm, safe side.

    Parameters
    ----------
    ambient : The shop's temperature [K]
    start_K : Temperature of the mix at first contact [K]
    """
    if not readings:
        return (Stage(vessel, 0.0, ambient),)
    own = readings if readings[0][0] <= 0.0 else ((0.0, start_K), *readings)
    return Stage(Vessel.film(), 0.0, own), Stage(vessel, max(0.0, readings[-1][0]), ambient)


# -- assimilation ----------------------------------------------------------------------------------------------------

SURPRISE = 3.0
"""Standard deviations beyond which an observation says that something else is wrong."""


@dataclass(frozen=True, slots=True)
class Posterior:
    """What is known of ln k after an observation."""

    log_k: float
    log_k_sd: float
    gain: float
    """Change of ln k for each unit that ln t came later than predicted."""


@dataclass(frozen=True, slots=True)
class Learnt:
    """A calibration after an observation, with what it means in words."""

    calibration: Calibration
    surprise: float
    """How far the observation was from the prediction, in standard deviations; below zero where it came early."""
    words: tuple[str, ...]
    moved: tuple[float, ...] = ()
    """How far each unsure thing moved, in its own standard deviations as first stated."""


def assimilate(
    log_k: float,
    log_k_sd: float,
    *,
    observed_s: float,
    predicted_s: float,
    sensitivity: float,
    observed_log_sd: float = OBSERVED_LOG_SD,
) -> Posterior:
    """Update what is known of a rate constant with the time at which something was seen.

    Raises RangeError if a time or a standard deviation is not above zero.

    K = s_k^2 S/(S^2 s_k^2 + s_o^2); mu' = mu + K (ln t_o - ln t_p); s_k'^2 = s_k^2 s_o^2/(S^2 s_k^2 + s_o^2).

    >>> after = assimilate(0.0, 0.20, observed_s=1800.0, predicted_s=2167.56, sensitivity=-1.0965)
    >>> round(after.gain, 4), round(after.log_k, 4), round(after.log_k_sd, 4)
    (-0.755, 0.1403, 0.083)

    Parameters
    ----------
    log_k : Mean of ln k before [-]
    log_k_sd : Its standard deviation, above 0 [-]
    observed_s : Time at which the change was seen, above 0 [s]
    predicted_s : Time at which it was predicted, above 0 [s]
    sensitivity : S = d ln t/d ln k of the predicted time, below 0 [-]
    observed_log_sd : Standard deviation of ln t as observed, above 0 [-]
    """
    require_positive("standard deviation of ln k", log_k_sd)
    require_positive("standard deviation of the observation", observed_log_sd)
    require_positive("observed time", observed_s, unit="s")
    require_positive("predicted time", predicted_s, unit="s")
    variance = (sensitivity * log_k_sd) ** 2 + observed_log_sd**2
    gain = log_k_sd**2 * sensitivity / variance
    after_sd = log_k_sd * observed_log_sd / sqrt(variance)
    return Posterior(log_k + gain * log(observed_s / predicted_s), after_sd, gain)


@lru_cache(maxsize=64)
def learn(
    calibration: Calibration,
    word: LookWord,
    observed_s: float,
    stages: tuple[Stage, ...],
    *,
    mass_g: float,
    start_K: float,
    observed_log_sd: float = OBSERVED_LOG_SD,
    not_later: bool = False,
) -> Learnt:
    """Learn from one observation of one batch, for this batch and all later ones; the last ones are kept.

    The log-normal update of `assimilate`, for all that is unsure at once: with g the change of ln t_p over one
    standard deviation of each and C their covariance, v = g^T C g + s_o^2, shift = C g (ln t_o - ln t_p)/v and
    C' = C - C g g^T C/v. What this batch's own mass and temperature may be off by adds to s_o^2, and teaches nothing.
    "runny" only says that thickening is still to come: its likelihood is the share of a normal distribution beyond t_o,
    and mean and variance of the posterior are matched; what came not later than t_o has the share before it.

    Parameters
    ----------
    word : What the mix looked like: "runny", "thickening", "stringy" or "gelled" [-]
    observed_s : When it was first seen like that (runny: when it still was), from first contact, above 0 [s]
    mass_g : Mass of mix, above 0 [g]
    start_K : Temperature of the mix at first contact, 233 to 523 [K]
    observed_log_sd : Standard deviation of ln t as observed, above 0 [-]
    not_later : Nobody saw when it became so, only that it was so by then [-]
    """
    require_positive("time of the observation", observed_s, unit="s")
    require_positive("standard deviation of the observation", observed_log_sd)

    def times_s(kinetics: Kinetics, use: Use = AS_SAID, tolerance: float = COARSE) -> tuple[float, ...]:
        course = follow(
            kinetics,
            stages,
            mass_g=use.mass_g(mass_g),
            start_K=use.start_K(start_K),
            tolerance=tolerance,
        )
        return (max(course.reaches_s(word_conversion(kinetics, word)), 1.0),)

    predicted_s = times_s(calibration.kinetics, tolerance=TOLERANCE)[0]
    together, variance = _foretold(calibration, times_s, observed_log_sd)
    late = log(observed_s / predicted_s)
    if word == "runny" or not_later:
        side = -1.0 if not_later else 1.0
        step, shrink = _still_to_come(-side * late / sqrt(variance))
        push, shrink = side * step / sqrt(variance), shrink / variance
    else:
        push, shrink = late / variance, 1.0 / variance
    surprise = late / sqrt(variance)
    after = _moved_by(calibration, together, push, shrink)
    said = _words(word, observed_s, predicted_s, surprise, not_later=not_later)
    return Learnt(after, surprise, said, tuple(c * push for c in together))


def learn_rise(
    calibration: Calibration,
    rise_K: float,
    after_s: float,
    stages: Sequence[Stage],
    *,
    mass_g: float,
    start_K: float,
) -> Learnt:
    """Learn from a thermometer in a cup, which tells of the heat that it loses what no time tells.

    As `learn`, of ln(T - T_start) instead of ln t.

    Parameters
    ----------
    rise_K : How much warmer the mix was than at first contact, at least 5 [K]
    after_s : When, from first contact, above 0 [s]
    mass_g : Mass of mix, above 0 [g]
    start_K : Temperature of the mix at first contact, 233 to 523 [K]
    """
    require_between("rise of the mix", rise_K, LEAST_RISE_K, 400.0, unit="K")
    require_positive("time of the reading", after_s, unit="s")

    def rises_mK(kinetics: Kinetics, use: Use = AS_SAID) -> tuple[float, ...]:
        begin_K = use.start_K(start_K)
        course = follow(kinetics, stages, mass_g=use.mass_g(mass_g), start_K=begin_K, until_s=after_s, tolerance=COARSE)
        return (1000.0 * max(course.at(after_s)[1] - start_K, 0.1),)

    log_sd = hypot(OBSERVED_LOG_SD, THERMOMETER_K / rise_K)
    return _learn_number(calibration, rises_mK, 1000.0 * rise_K, log_sd, "warmed")


def learn_cooling(
    calibration: Calibration, excess_K: float, later_K: float, within_s: float, vessel: Vessel, *, mass_g: float
) -> Learnt:
    """Learn from how fast a set cup cools, which is the heat that it loses and nothing else.

    dx/dt = -x (1 + g x)/tau from x1 to x2 takes tau ln(x1 (1 + g x2)/(x2 (1 + g x1))); no reaction is left.

    Parameters
    ----------
    excess_K : How much warmer than the shop it was, past its hottest [K]
    later_K : And later, above 0 and less [K]
    within_s : How much later, above 0 [s]
    mass_g : Mass of mix, above 0 [g]
    """
    require_positive("time between the readings", within_s, unit="s")
    require_between("later excess", later_K, 0.0, excess_K, unit="K", open_low=True, open_high=True)

    def falls_s(kinetics: Kinetics, use: Use = AS_SAID) -> tuple[float, ...]:
        loss = heat_loss_of(kinetics, vessel, use.mass_g(mass_g))
        g = loss.growth_per_K
        return (loss.tau_s * log(excess_K * (1.0 + g * later_K) / (later_K * (1.0 + g * excess_K))),)

    read = hypot(THERMOMETER_K / excess_K, THERMOMETER_K / later_K) / log(excess_K / later_K)
    return _learn_number(calibration, falls_s, within_s, hypot(OBSERVED_LOG_SD, read), "cooled")


def _learn_number(
    calibration: Calibration,
    foretold: Callable[..., tuple[float, ...]],
    observed: float,
    observed_log_sd: float,
    what: str,
) -> Learnt:
    """Update all that is unsure at once with a number whose logarithm is normal."""
    together, variance = _foretold(calibration, foretold, observed_log_sd)
    ratio = observed / foretold(calibration.kinetics)[0]
    push = log(ratio) / variance
    after = _moved_by(calibration, together, push, 1.0 / variance)
    said = (f"{what}: {ratio:.2f} times what was foretold",)
    return Learnt(after, log(ratio) / sqrt(variance), said, tuple(c * push for c in together))


def _foretold(
    calibration: Calibration, foretold: Callable[..., tuple[float, ...]], observed_log_sd: float
) -> tuple[tuple[float, ...], float]:
    """Return how the unsure things move with what is foretold, and the variance of its logarithm as it is observed."""
    (sensitivity,) = sensitivities(calibration.variants, foretold)
    (by_use,) = sensitivities(calibration.uses, lambda use: foretold(calibration.kinetics, use))
    together = rotate(calibration.covariance, sensitivity)
    variance = sum(g * c for g, c in zip(sensitivity, together, strict=True))
    return together, variance + observed_log_sd**2 + sum(slope**2 for slope in by_use)


def _moved_by(calibration: Calibration, together: Sequence[float], push: float, shrink: float) -> Calibration:
    """Return a calibration after a Gaussian update along `together`, the covariance times the sensitivities."""
    shift = shift_of(calibration.variants, [c * push for c in together])
    return replace(
        calibration,
        kinetics=shifted(calibration.kinetics, shift),
        variants=tuple((shifted(low, shift), shifted(high, shift)) for low, high in calibration.variants),
        covariance=tuple(
            tuple(c - shrink * together[i] * together[j] for j, c in enumerate(row))
            for i, row in enumerate(calibration.covariance)
        ),
    )


def _still_to_come(ahead: float) -> tuple[float, float]:
    """Return mean shift and variance shrink of a standard normal, seen only to exceed `-ahead` of its deviations."""
    if ahead < -30.0:  # far in the tail the normal piles up on the edge
        return -ahead, 1.0
    ratio = exp(-0.5 * ahead * ahead) / sqrt(2.0 * pi) / (0.5 * erfc(-ahead / sqrt(2.0)))
    return ratio, ratio * (ahead + ratio)


def _words(
    word: LookWord, observed_s: float, predicted_s: float, surprise: float, *, not_later: bool = False
) -> tuple[str, ...]:
    off = f"{100 * abs(observed_s / predicted_s - 1.0):.0f} %"
    if word == "runny":
        if observed_s <= predicted_s:
            return ("still runny, as predicted",)
        said = f"still runny {off} beyond the predicted thickening: slower than thought"
    elif not_later and observed_s >= predicted_s:
        return (f"{word} by then, as predicted",)
    else:
        said = f"{word} came {off} {'sooner' if surprise < 0.0 else 'later'} than predicted"
    if abs(surprise) < SURPRISE:
        return (said,)
    return said, "that is further off than the model can explain: check mass, ratio and temperatures"
