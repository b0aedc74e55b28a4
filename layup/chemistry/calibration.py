"""Turn what a datasheet states into a rate law, with what is unsure about it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp, hypot, log, sqrt

from layup.chemistry.datasheet import Datasheet, FilmPoint, PotLifePoint
from layup.chemistry.film import Skin, film_life_s, last_open_conversion, open_conversion
from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K, Kinetics
from layup.chemistry.ode import COARSE, TOLERANCE
from layup.chemistry.stated_point import fit_points, rate_fitted
from layup.chemistry.statements import (
    check_films,
    check_pot_lives,
    film_warnings,
    film_words,
    mass_warnings,
    pot_life_warnings,
    pot_life_words,
    stated_law,
)
from layup.chemistry.uncertainty import Covariance, Pairs, Uncertainty, Use, correlated, moved
from layup.dimensions import System
from layup.errors import RangeError
from layup.units import in_hours, system

LONGEST_OPEN_CONVERSION = 0.97
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

    def with_faster(self, log_sd: float) -> Calibration:
        """Return one more unsure thing: how much faster one session is than the mean of all."""
        law = self.kinetics
        low, high = (replace(law, k_ref_per_s=law.k_ref_per_s * exp(side * log_sd)) for side in (-0.5, 0.5))
        size = len(self.covariance)
        rows = (*((*row, 0.0) for row in self.covariance), (*[0.0] * size, 1.0))
        return replace(self, variants=(*self.variants, (low, high)), covariance=rows)

    def without_last(self, deviations: float) -> Calibration:
        """Return the rest as it would be at none of the last unsure thing, which had moved by so many deviations."""
        back = (*[0.0] * (len(self.variants) - 1), -deviations)
        return replace(
            self,
            kinetics=moved(self.kinetics, self.variants, back),
            variants=tuple(
                (moved(low, self.variants, back), moved(high, self.variants, back)) for low, high in self.variants[:-1]
            ),
            covariance=tuple(row[:-1] for row in self.covariance[:-1]),
        )


def calibrate(datasheet: Datasheet) -> Calibration:
    """Calibrate a resin from its datasheet: the rate law, its band, and in words what was assumed.

    Parameters
    ----------
    datasheet : Datasheet
        At least one pot life; a film time and a second temperature help most [-].

    Returns
    -------
    Calibration
        Kinetics, uncertainty, warnings and assumptions.

    Raises
    ------
    RangeError
        If no pot life is stated, or the stated values contradict each other.

    Notes
    -----
    One pot life gives the rate constant. More of them, at temperatures at least 5 K apart or of different masses, also
    give the activation energy, from its prior 56 +- 11 kJ/mol, and the heat loss, from ln 11 +- 0.35 (maximum a
    posteriori). A film time gives the conversion at which a film closes, G(a) = k(T) t, at most 0.03 below the gel.
    The heat is 105 kJ per mole of epoxide where its equivalent is stated; of a urethane 68 kJ per mole of the scarcer
    of isocyanate and hydroxyl, or 190 J/g; else 430 J/g.
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
    return Calibration(
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
        ),
    )


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
                value=f"{in_hours(film.time_s, '.3g')}",
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
