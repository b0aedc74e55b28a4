"""What is unsure about a rate law: the ways in which it may move, what each does to a time, and the band of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import erfc, exp, inf, log, sqrt
from typing import NamedTuple, TypeVar

from layup.chemistry.kinetics import FULLY_CURED, Kinetics, conversion_after, reduced_time
from layup.chemistry.numerics import first_at_or_above
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K

# -- band ------------------------------------------------------------------------------------------------------------

EIGHTY_PERCENT = 1.2815515655446004
"""Standard deviations to each side of the middle 80 % of a normal distribution."""


class Band(NamedTuple):
    """What is expected, with the ends of its 80 % band; whoever holds one names the unit.

    One case in ten is below `low`, one beyond `high`.
    """

    low: float
    likely: float
    high: float

    @classmethod
    def around(cls, likely: float, log_sd: float) -> Band:
        """Return the band of something log-normal with a standard deviation of its logarithm."""
        factor = exp(EIGHTY_PERCENT * log_sd)
        return cls(likely / factor, likely, likely * factor)

    def later(self, by: float) -> Band:
        """Return the band so much further on."""
        return Band(self.low + by, self.likely + by, self.high + by)

    def times(self, factor: float) -> Band:
        """Return the band in another unit."""
        return Band(self.low * factor, self.likely * factor, self.high * factor)

    def no_sooner(self, than: Band) -> Band:
        """Return the band with neither end before that of another."""
        return Band(max(self.low, than.low), self.likely, max(self.high, than.high))


# -- unsure things ---------------------------------------------------------------------------------------------------

Pairs = tuple[tuple[Kinetics, Kinetics], ...]
"""For each unsure thing the rate law half a standard deviation to each side, calibrated anew."""

Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Use:
    """How a mix in hand may differ from what was said of it: by its scale and by its thermometer."""

    mass_factor: float = 1.0
    warmer_K: float = 0.0

    def mass_g(self, said_g: float) -> float:
        """Return the mass that is really there [g]."""
        return said_g * self.mass_factor

    def start_K(self, said_K: float) -> float:
        """Return the temperature it really starts from [K], within what the model takes."""
        return min(max(said_K + self.warmer_K, COLDEST_K), HOTTEST_K)


AS_SAID = Use()

Covariance = tuple[tuple[float, ...], ...]
"""Of the unsure things, each in units of its own standard deviation as first stated."""

MOST_OPEN = 0.998
SHORTEST_S = 1.0
"""Times below one second count as one: nothing is left to be unsure of."""


def correlated(count: int, one: int, other: int, correlation: float) -> Covariance:
    """Return the covariance of `count` things of which two move together."""

    def between(i: int, j: int) -> float:
        return correlation if {i, j} == {one, other} else float(i == j)

    return tuple(tuple(between(i, j) for j in range(count)) for i in range(count))


def sensitivities(
    variants: Sequence[tuple[Thing, Thing]], times_s: Callable[[Thing], tuple[float, ...]]
) -> tuple[tuple[float, ...], ...]:
    """Return how the logarithm of each time changes over one standard deviation of each unsure thing."""
    sides = [(times_s(low), times_s(high)) for low, high in variants]
    count = len(sides[0][0]) if sides else 0
    return tuple(
        tuple(log(max(high[j], SHORTEST_S) / max(low[j], SHORTEST_S)) for low, high in sides) for j in range(count)
    )


def log_sd(sensitivity: Sequence[float], covariance: Covariance) -> float:
    """Return the standard deviation of a time's logarithm, sqrt(g^T C g) [-].

    Parameters
    ----------
    sensitivity : Change of the logarithm over one standard deviation of each unsure thing [-]
    """
    return sqrt(max(0.0, sum(g * r for g, r in zip(sensitivity, rotate(covariance, sensitivity), strict=True))))


def rotate(covariance: Covariance, sensitivity: Sequence[float]) -> tuple[float, ...]:
    """Return C g, how the unsure things move together with what has that sensitivity."""
    return tuple(sum(c * g for c, g in zip(row, sensitivity, strict=True)) for row in covariance)


def shift_of(variants: Pairs, amounts: Sequence[float]) -> tuple[float, ...]:
    """Return how far so many standard deviations of each unsure thing move any law, on the scales of `shifted`."""
    shift = [0.0] * len(_coordinates(variants[0][0])) if variants else []
    for (low, high), amount in zip(variants, amounts, strict=True):
        change = zip(_coordinates(low), _coordinates(high), strict=True)
        shift = [by + amount * (after - before) for by, (before, after) in zip(shift, change, strict=True)]
    return tuple(shift)


def shifted(law: Kinetics, shift: Sequence[float]) -> Kinetics:
    """Return a rate law moved along scales without ends.

    Positive values move as logarithms, the conversions at thickening and gel as log-odds, and a film's limit by the
    logarithm of its reduced time, so that none leaves its range and a film's time stays log-normal.
    """
    place = [at + by for at, by in zip(_coordinates(law), shift, strict=True)]
    log_k, log_energy, log_loss, log_heat, log_a0, odds_working, odds_gel, log_open = place
    gel = FULLY_CURED / (1.0 + exp(-odds_gel))
    after = replace(
        law,
        k_ref_per_s=exp(log_k),
        activation_energy_J_mol=exp(log_energy),
        film_coefficient_W_m2_K=exp(log_loss),
        heat_J_g=exp(log_heat),
        a0=min(exp(log_a0), 1.0),
        conversion_gel=gel,
        conversion_working=gel / (1.0 + exp(-odds_working)),
    )
    return replace(after, conversion_open=min(conversion_after(after, exp(log_open)), MOST_OPEN))


def _coordinates(law: Kinetics) -> tuple[float, ...]:
    """Return the values of a law that may move, each on a scale without ends."""
    return (
        log(law.k_ref_per_s),
        log(law.activation_energy_J_mol),
        log(law.film_coefficient_W_m2_K),
        log(max(law.heat_J_g, 1e-6)),
        log(law.a0),
        log(law.conversion_working / (law.conversion_gel - law.conversion_working)),
        log(law.conversion_gel / (FULLY_CURED - law.conversion_gel)),
        log(reduced_time(law, law.conversion_open)),
    )


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """Standard deviations of what a calibration rests on, and of the mix in hand."""

    shared_time_log: float = 0.11
    """Of a stated time, as a logarithm: what cup and film of one resin share, the resin itself."""
    own_time_log: float = 0.10
    """What each stated time has for itself."""
    activation_energy_J_mol: float = 11_000.0
    model_energy_J_mol: float = 6000.0
    """Of what times at two temperatures tell: one rate law is not the resin."""
    film_coefficient_log: float = 0.35
    heat_log: float = 0.10
    specific_heat_log: float = 0.08
    a0_log: float = 0.40
    conversion_working: float = 0.05
    conversion_gel: float = 0.04
    """Of the conversion at the gel: an epoxy with its amine is published to gel at 0.55 to 0.65, theory says 0.577."""
    conversion_open: float = 0.07
    test_temperature_K: float = 0.7
    """Of the temperature a datasheet states."""
    mix_temperature_K: float = 1.5
    mass_log: float = 0.05


# -- wait ------------------------------------------------------------------------------------------------------------

NEAR_ENOUGH = 1e-6
"""How closely an end of the band is found, as a share of it."""
CLOSE_BY = 1.01
"""How much later than its soonest an end of the band is looked for first."""
NEVER_S = 1e9
"""A wait that is not over by then, thirty years, never is."""

Chance = Callable[[float], float]
"""The chance that a wait is over, by how long it has lasted [s]."""


class Wait(NamedTuple):
    """How long one wait takes: log-normal, with a standard deviation of its own to each side of the likely time."""

    likely_s: float
    early_log_sd: float
    late_log_sd: float
    """inf where a side of something unsure never comes."""

    def over_by(self, time_s: float) -> float:
        """Return the chance that the wait is over by a time [s]."""
        sd = self.early_log_sd if time_s < self.likely_s else self.late_log_sd
        if self.likely_s <= 0.0 or sd == 0.0:
            return float(time_s >= self.likely_s)
        if time_s <= 0.0:
            return 0.0
        return 0.5 * erfc(-log(time_s / self.likely_s) / sd / sqrt(2.0))


def when_s(over_by: Chance, guess_s: float, chance: float, least_s: float = 0.0) -> float:
    """Return by when a wait is over with a chance [s], looked for from `least_s` on; inf where that is never."""
    if guess_s == inf:
        return inf
    low_s, short = least_s, over_by(least_s) - chance
    if short >= 0.0:
        return least_s
    high_s = guess_s if guess_s > least_s else guess_s * CLOSE_BY
    while (over := over_by(high_s) - chance) < 0.0:
        if high_s > NEVER_S:
            return inf
        low_s, high_s, short = high_s, high_s + 4.0 * (high_s - low_s), over
    return first_at_or_above(
        lambda at_s: over_by(at_s) - chance, low_s, high_s, NEAR_ENOUGH * high_s, at_low=short, at_high=over
    )
