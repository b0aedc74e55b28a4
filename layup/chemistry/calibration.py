"""Turn what a datasheet states into a rate law, with what is unsure about it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp, hypot, log, sqrt

from layup.chemistry.datasheet import Datasheet, FilmPoint, PotLifePoint
from layup.chemistry.film import Skin, film_life_s, last_open_conversion, open_conversion
from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K, Kinetics, gel_conversion
from layup.chemistry.mixing import mix_density_g_cm3, parts_by_mass, stated_network
from layup.chemistry.ode import COARSE, TOLERANCE
from layup.chemistry.statements import (
    CLOSEST_TEMPERATURES_K,
    DEFAULTS,
    check_films,
    check_pot_lives,
    film_warnings,
    film_words,
    mass_warnings,
    pot_life_s,
    pot_life_warnings,
    pot_life_words,
    rate_fitted,
)
from layup.chemistry.uncertainty import (
    AS_SAID,
    Covariance,
    Pairs,
    Uncertainty,
    Use,
    correlated,
    log_sd,
    sensitivities,
    shift_of,
    shifted,
)
from layup.dimensions import System
from layup.errors import RangeError
from layup.units import in_hours, system

LONGEST_OPEN_CONVERSION = 0.97
BLENDED = "times of a blend are between those of its hardeners, its band at least from the one's to the other's"
ENERGY, LOSS = 2, 3
"""Which of the variants are the activation energy and the heat loss."""


EPOXY_AMINE = Uncertainty()
OTHER_CHEMISTRY = Uncertainty(
    shared_time_log=0.20,
    own_time_log=0.15,
    activation_energy_J_mol=14_000.0,
    heat_log=0.20,
    a0_log=0.60,
    conversion_working=0.08,
    conversion_gel=0.08,
    conversion_open=0.10,
)


@dataclass(frozen=True, slots=True)
class Calibration:
    """A calibrated resin: its kinetics, the same half a standard deviation to each side, and what was assumed."""

    kinetics: Kinetics
    uncertainty: Uncertainty
    variants: Pairs
    """One pair for each unsure thing: the resin's and the stated times' rate, activation energy, heat loss, heat, a0,
    thickening, gel, and the film's limit or its stated time."""
    covariance: Covariance
    """Of those things, each in units of its own standard deviation; observations narrow it."""
    masses_g: tuple[float, float]
    """The least and the most mass that a pot life is stated for."""
    warnings: tuple[str, ...]
    assumptions: tuple[str, ...]
    skin: Skin | None = None
    """The thickest wet cloth of the part it is used for, which warms itself; None for a thin film."""

    @property
    def uses(self) -> tuple[tuple[Use, Use], ...]:
        """Return the mix in hand half a standard deviation to each side: its mass, its temperature."""
        mass_log, mix_K = 0.5 * self.uncertainty.mass_log, 0.5 * self.uncertainty.mix_temperature_K
        return (Use(exp(-mass_log)), Use(exp(mass_log))), (Use(warmer_K=-mix_K), Use(warmer_K=mix_K))

    @property
    def covariance_in_use(self) -> Covariance:
        """Return the covariance of the variants and, after them, of the uses, which know nothing of them."""
        more = len(self.uses)
        rows = [(*row, *[0.0] * more) for row in self.covariance]
        size = len(rows)
        rows += [tuple(float(size + i == j) for j in range(size + more)) for i in range(more)]
        return tuple(rows)

    def log_sds(self, times_s: Callable[[Kinetics, Use], tuple[float, ...]]) -> tuple[float, ...]:
        """Return the standard deviation of the logarithm of each time that `times_s` makes of a rate law and a use."""
        laws = sensitivities(self.variants, lambda law: times_s(law, AS_SAID))
        uses = sensitivities(self.uses, lambda use: times_s(self.kinetics, use))
        return tuple(hypot(log_sd(law, self.covariance), *use) for law, use in zip(laws, uses, strict=True))

    def with_faster(self, log_sd: float) -> Calibration:
        """Return one more unsure thing: how much faster one session is than the mean of all."""
        law = self.kinetics
        low, high = (replace(law, k_ref_per_s=law.k_ref_per_s * exp(side * log_sd)) for side in (-0.5, 0.5))
        size = len(self.covariance)
        rows = (*((*row, 0.0) for row in self.covariance), (*[0.0] * size, 1.0))
        return replace(self, variants=(*self.variants, (low, high)), covariance=rows)

    def without_last(self, deviations: float) -> Calibration:
        """Return the rest as it would be at none of the last unsure thing, which had moved by so many deviations."""
        back = shift_of(self.variants[-1:], (-deviations,))
        return replace(
            self,
            kinetics=shifted(self.kinetics, back),
            variants=tuple((shifted(low, back), shifted(high, back)) for low, high in self.variants[:-1]),
            covariance=tuple(row[:-1] for row in self.covariance[:-1]),
        )


def calibrate(datasheet: Datasheet) -> Calibration:
    """Calibrate a resin from its datasheet: the rate law, its band, and in words what was assumed.

    Raises RangeError if no pot life is stated, or the stated values contradict each other.

    One pot life gives the rate constant. More of them, at temperatures at least 5 K apart or of different masses, also
    give the activation energy, from its prior 56 +- 11 kJ/mol, and the heat loss, from ln 11 +- 0.35 (maximum a
    posteriori). A film time gives the conversion at which a film closes, G(a) = k(T) t, at most 0.03 below the gel.
    The heat is 105 kJ per mole of epoxide where its equivalent is stated; of a urethane 68 kJ per mole of the scarcer
    of isocyanate and hydroxyl, or 190 J/g; else 430 J/g.

    Parameters
    ----------
    datasheet : At least one pot life; a film time and a second temperature help most [-]
    """
    return _calibrated(datasheet, system())


@lru_cache(maxsize=64)
def _calibrated(datasheet: Datasheet, units: System) -> Calibration:
    """Calibrate a resin once; what was assumed is told in these `units`."""
    del units
    points = datasheet.pot_lives
    if not points:
        raise RangeError(
            "pot life",
            "is missing",
            allowed="needs a time with its mass and temperature",
            todo="read it off the datasheet, or time 100 g in a cup",
        )
    unsure = EPOXY_AMINE if datasheet.chemistry == "epoxy-amine" else OTHER_CHEMISTRY
    base, assumptions = stated_law(datasheet)
    check_pot_lives(points)
    fit = fit_points(points, base, unsure)
    base = fit.law
    unsure = replace(
        unsure,
        activation_energy_J_mol=fit.energy_sd_J_mol,
        film_coefficient_log=fit.film_coefficient_log_sd,
    )
    cup_law = rate_fitted(points, base, TOLERANCE)
    _check_open_times(datasheet.films, cup_law)
    kinetics = _with_films(cup_law, datasheet.films)
    check_films(datasheet.films, points[0], kinetics)
    variants = _variants(points, datasheet.films, cup_law, unsure)
    found = Calibration(
        kinetics=kinetics,
        uncertainty=unsure,
        variants=variants,
        covariance=correlated(len(variants), ENERGY, LOSS, fit.correlation),
        masses_g=(min(point.mass_g for point in points), max(point.mass_g for point in points)),
        warnings=(
            *pot_life_warnings(points, kinetics),
            *mass_warnings(points, kinetics, fit.film_coefficient_log_sd),
            *film_warnings(datasheet.films, cup_law),
        ),
        assumptions=(
            *pot_life_words(points, kinetics, unsure.activation_energy_J_mol),
            *assumptions,
            film_words(datasheet.films, kinetics),
            *([BLENDED] if datasheet.blend_log else []),
        ),
    )
    return found.with_faster(datasheet.blend_log) if datasheet.blend_log else found


def _with_films(kinetics: Kinetics, films: tuple[FilmPoint, ...]) -> Kinetics:
    """Return a law with the conversion at which a film closes: the stated open times', else the usual one."""
    limits = [open_conversion(kinetics, film) for film in films if film.endpoint == "open"]
    limit = min(limits, default=kinetics.conversion_open)
    return replace(kinetics, conversion_open=min(limit, last_open_conversion(kinetics)))


def _check_open_times(films: tuple[FilmPoint, ...], kinetics: Kinetics) -> None:
    """Refuse an open time by whose end the film would be cured."""
    for film in films:
        longest_s = film_life_s(kinetics, film.temperature_K, conversion_end=LONGEST_OPEN_CONVERSION)
        if film.endpoint == "open" and film.time_s > longest_s:
            raise RangeError(
                "film time",
                "is so long that the film would be cured by then",
                value=in_hours(film.time_s, ".3g"),
                allowed=f"must be below {in_hours(longest_s, '.3g')} for this pot life",
                todo="check that it is the open time, and not the time to handle or to sand",
            )


def _variants(
    points: tuple[PotLifePoint, ...], films: tuple[FilmPoint, ...], base: Kinetics, unsure: Uncertainty
) -> Pairs:
    """Return one pair of kinetics for each unsure thing, half a standard deviation to each side, recalibrated.

    A test a little warmer than stated makes cup and film faster together, so it is counted with what they share: the
    film by Arrhenius' law, the cup as much more as its time answers more steeply to the rate.
    """
    stated_open = any(film.endpoint == "open" for film in films)
    test_K = sum(point.temperature_K for point in points) / len(points)
    warmth_per_K = base.activation_energy_J_mol / (GAS_CONSTANT_J_MOL_K * test_K**2)
    warm_log = unsure.test_temperature_K * warmth_per_K
    own_log = unsure.own_time_log / sqrt(len(points))
    rise_log = hypot(unsure.heat_log, unsure.specific_heat_log)

    def refit(law: Kinetics, *, cup_log: float = 0.0, film_log: float = 0.0) -> Kinetics:
        """Return a law calibrated anew, to times that are off by so much."""
        cups = tuple(replace(point, time_s=point.time_s * exp(cup_log)) for point in points)
        moved = tuple(replace(film, time_s=film.time_s * exp(film_log)) for film in films)
        return _with_films(rate_fitted(cups, law, COARSE), moved)

    own = tuple(refit(base, cup_log=half * own_log) for half in (-0.5, 0.5))
    steepness = own_log / log(own[0].k_ref_per_s / own[1].k_ref_per_s)
    film_log = hypot(unsure.shared_time_log, warm_log)
    cup_log = hypot(unsure.shared_time_log, warm_log * steepness)

    def side(half: float) -> tuple[Kinetics, ...]:
        """Return every law with its own thing moved by `half` of its standard deviation."""
        energy_J_mol = base.activation_energy_J_mol + half * unsure.activation_energy_J_mol
        coefficient_W_m2_K = base.film_coefficient_W_m2_K * exp(half * unsure.film_coefficient_log)
        limit = _with_films(base, ()).conversion_open + half * unsure.conversion_open
        film = refit(base, film_log=half * unsure.own_time_log)
        if not stated_open:
            film = rate_fitted(points, replace(base, conversion_open=limit), COARSE)
        return (
            refit(base, cup_log=half * cup_log, film_log=half * film_log),
            refit(replace(base, activation_energy_J_mol=energy_J_mol)),
            refit(replace(base, film_coefficient_W_m2_K=coefficient_W_m2_K)),
            refit(replace(base, heat_J_g=base.heat_J_g * exp(half * rise_log))),
            refit(replace(base, a0=base.a0 * exp(half * unsure.a0_log))),
            refit(replace(base, conversion_working=base.conversion_working + half * unsure.conversion_working)),
            refit(replace(base, conversion_gel=base.conversion_gel + half * unsure.conversion_gel)),
            film,
        )

    shared, *others = zip(side(-0.5), side(0.5), strict=True)
    return shared, (own[0], own[1]), *others


# -- law before calibration ------------------------------------------------------------------------------------------


EPOXIDE_HEAT_J_MOL = 105_000.0
"""Heat of one mole of epoxide with an amine (published for DGEBA with commercial TETA: 106.6 kJ/eq)."""
NCO_HEAT_J_MOL = 68_000.0
"""Heat of one mole of isocyanate with a polyol: 55 +- 2 kJ for aromatic ones by DSC (Sultan and Busnel 2006), 72 to 84
for aliphatic ones (other sources, from memory); the geometric middle of 55 and 84."""
URETHANE_HEAT_J_G = 190.0
"""Of a casting urethane whose equivalents are not stated: 55 to 84 kJ/mol make 150 to 235 J/g."""
THICK_BEFORE_GEL = 0.06
"""A mix is too thick to use at least this much conversion before its gel."""


def stated_law(datasheet: Datasheet) -> tuple[Kinetics, tuple[str, ...]]:
    """Return the law before calibration, with heat and density from the datasheet where it states them."""
    words = []
    resin, hardener = datasheet.resin, datasheet.hardener
    by_mass = parts_by_mass(datasheet) if datasheet.ratio_by == "weight" or datasheet.densities_g_cm3 else None
    base = replace(DEFAULTS, density_g_cm3=mix_density_g_cm3(datasheet, DEFAULTS.density_g_cm3))
    if datasheet.chemistry == "epoxy-amine" and by_mass and resin.equivalent_weight_g_eq:
        heat_J_g = EPOXIDE_HEAT_J_MOL * by_mass[0] / sum(by_mass) / resin.equivalent_weight_g_eq
        base = replace(base, heat_J_g=heat_J_g)
        words.append(f"heat of reaction {heat_J_g:.0f} J/g, from 105 kJ per mole of epoxide")
    elif datasheet.chemistry == "urethane":
        heat_J_g = URETHANE_HEAT_J_G
        if by_mass and resin.equivalent_weight_g_eq and hardener.equivalent_weight_g_eq:
            oh, nco = by_mass[0] / resin.equivalent_weight_g_eq, by_mass[1] / hardener.equivalent_weight_g_eq
            heat_J_g = NCO_HEAT_J_MOL * min(oh, nco) / sum(by_mass)
        base = replace(base, heat_J_g=heat_J_g)
        words.append(f"heat of reaction {heat_J_g:.0f} J/g, from 55 to 84 kJ per mole of isocyanate")
    else:
        words.append(f"heat of reaction {base.heat_J_g:.0f} J/g: typical, as it cannot be told from the equivalents")
    if datasheet.chemistry != "epoxy-amine":
        words.append("the rate law is an epoxy-amine's; this resin is another chemistry, so the band is wider")
    return _with_gel(base, datasheet, words), tuple(words)


def _with_gel(base: Kinetics, datasheet: Datasheet, words: list[str]) -> Kinetics:
    """Return a law with the gel of a hardener whose functionality is stated; else with the usual one."""
    if datasheet.hardener.functionality is None:
        return base
    balance, f, g, said = stated_network(datasheet)
    gel = gel_conversion(f, g, min(balance, 1.0 / balance))
    words.append(f"gels at conversion {gel:.2f} (Flory and Stockmayer): {said[1]}")
    return replace(base, conversion_gel=gel, conversion_working=min(base.conversion_working, gel - THICK_BEFORE_GEL))


# -- fit of many stated points ---------------------------------------------------------------------------------------

LOWEST_ENERGY_J_MOL, HIGHEST_ENERGY_J_MOL = 30_000.0, 90_000.0
SEARCHED_J_MOL = 15_000.0, 130_000.0
"""Where the ratio of two pot lives is known to grow with the activation energy."""
SEARCHED_LOG_LOSS = 1.5
"""How far from what is usual a heat loss is looked for, as a logarithm."""
FARTHEST_LOG = 3.0
"""A mix that never gets so warm as is stated counts as this much later."""


@dataclass(frozen=True, slots=True)
class FittedLaw:
    """The law that stated times and what is usual agree on best, still without its rate constant."""

    law: Kinetics
    energy_sd_J_mol: float
    film_coefficient_log_sd: float
    correlation: float
    """Between activation energy and ln of the film coefficient."""


def fit_points(points: Sequence[PotLifePoint], base: Kinetics, unsure: Uncertainty) -> FittedLaw:
    """Fit activation energy and heat loss to stated pot lives, maximum a posteriori.

    Stated times tell the activation energy E' over their own span, which differs from the resin's E by the model's
    error: E' = E + N(0, s_m^2), E = N(E_0, s_E^2). Gauss-Newton finds E' and ln h at which
    sum (ln t/s_own)^2 + ((E' - E_0)^2/(s_E^2 + s_m^2)) + ((ln h - ln h_0)/s_h)^2 is least, ln k always at the mean of
    the times; with w = s_E^2/(s_E^2 + s_m^2), E = E_0 + w (E' - E_0), its variance w^2 Var(E') + w s_m^2.
    """
    if len(points) == 1:
        return FittedLaw(base, unsure.activation_energy_J_mol, unsure.film_coefficient_log, 0.0)
    temperatures_K = [point.temperature_K for point in points]
    if max(temperatures_K) - min(temperatures_K) >= CLOSEST_TEMPERATURES_K:
        bare_J_mol, *_ = _gauss_newton(points, base, unsure.own_time_log, (float("inf"), 1e-9))
        if not LOWEST_ENERGY_J_MOL <= bare_J_mol <= HIGHEST_ENERGY_J_MOL:
            raise RangeError(
                "pot lives",
                "do not fit together: warmth speeds no such resin up like that",
                value=f"{bare_J_mol / 1000:.0f} kJ/mol",
                allowed="must imply between 30 and 90 kJ/mol",
                todo="check the times, masses and temperatures, and that each ends as it says",
            )
    wide_sd_J_mol = hypot(unsure.activation_energy_J_mol, unsure.model_energy_J_mol)
    fitted_J_mol, log_loss, (energy_variance, loss_variance, together) = _gauss_newton(
        points, base, unsure.own_time_log, (wide_sd_J_mol, unsure.film_coefficient_log)
    )
    share = (unsure.activation_energy_J_mol / wide_sd_J_mol) ** 2
    energy_J_mol = base.activation_energy_J_mol + share * (fitted_J_mol - base.activation_energy_J_mol)
    energy_sd_J_mol = sqrt(share**2 * energy_variance + share * unsure.model_energy_J_mol**2)
    loss_sd = sqrt(loss_variance)
    return FittedLaw(
        law=replace(
            base,
            activation_energy_J_mol=energy_J_mol,
            film_coefficient_W_m2_K=base.film_coefficient_W_m2_K * exp(log_loss),
        ),
        energy_sd_J_mol=energy_sd_J_mol,
        film_coefficient_log_sd=loss_sd,
        correlation=share * together / (energy_sd_J_mol * loss_sd),
    )


def _gauss_newton(
    points: Sequence[PotLifePoint], base: Kinetics, time_log_sd: float, prior_sds: tuple[float, float]
) -> tuple[float, float, tuple[float, float, float]]:
    """Return the activation energy and ln of the heat loss over the usual that fit stated times and priors best.

    And their covariance: both variances, and what they have together.
    """
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
    return energy_J_mol, log_loss, (ll / whole, ee / whole, -el / whole)


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
