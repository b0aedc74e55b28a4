"""Turn what a datasheet states into a rate law, with what is unsure about it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, hypot, log, sqrt

from layup.chemistry.datasheet import Datasheet, FilmPoint, PotLifePoint
from layup.chemistry.film import film_life_s
from layup.chemistry.integrate import TOLERANCE
from layup.chemistry.kinetics import Kinetics, conversion_after
from layup.chemistry.spread import Covariance, Pairs, independent
from layup.chemistry.stated_point import calibrated, pot_life_s, vessel_of
from layup.chemistry.statements import (
    CLOSEST_TEMPERATURES_K,
    check_films,
    check_pot_lives,
    film_warnings,
    film_words,
    pot_life_warnings,
    pot_life_words,
    stated_law,
)
from layup.errors import RangeError

LOWEST_ENERGY_J_MOL, HIGHEST_ENERGY_J_MOL = 30_000.0, 90_000.0
SEARCHED_J_MOL = 15_000.0, 130_000.0
"""Where the ratio of two pot lives is known to grow with the activation energy."""

LONGEST_OPEN_CONVERSION = 0.97

COARSE = 1e-6
"""Tolerance of what only a band or a first guess rests on."""


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """Standard deviations of what a calibration rests on."""

    time_log: float = 0.15
    """Of a stated time, as a logarithm: about 15 %."""
    activation_energy_J_mol: float = 8000.0
    film_coefficient_log: float = 0.30
    a0_log: float = 0.40
    conversion_working: float = 0.05
    conversion_gel: float = 0.04
    """Of the conversion at the gel: an epoxy with its amine is published to gel at 0.55 to 0.65, theory says 0.577."""
    own_time_log: float = 0.10
    """The part of `time_log` that each stated time has for itself; the rest they share."""


EPOXY_AMINE = Uncertainty()
OTHER_CHEMISTRY = Uncertainty(
    time_log=0.25,
    activation_energy_J_mol=12_000.0,
    a0_log=0.60,
    conversion_working=0.08,
    conversion_gel=0.08,
    own_time_log=0.15,
)


@dataclass(frozen=True, slots=True)
class Calibration:
    """A calibrated resin: its kinetics, the same half a standard deviation to each side, and what was assumed."""

    kinetics: Kinetics
    uncertainty: Uncertainty
    variants: Pairs
    """One pair for each thing that is unsure: stated time, activation energy, heat loss, a0, working limit, gel."""
    covariance: Covariance
    """Of those things, each in units of its own standard deviation; observations narrow it."""
    masses_g: tuple[float, float]
    """The least and the most mass that a pot life is stated for."""
    warnings: tuple[str, ...]
    assumptions: tuple[str, ...]


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
    One pot life gives the rate constant. More than one, at temperatures at least 5 K apart, also give the activation
    energy, combined with the prior 55 +- 8 kJ/mol (maximum a posteriori). A film time gives the conversion at which a
    film closes, G(a) = k(T) t. The heat is 105 kJ per mole of epoxide where its equivalent is stated, else 430 J/g.
    """
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
    energy_J_mol, energy_sd_J_mol = _fit_energy(points, base, unsure)
    unsure = replace(
        unsure,
        activation_energy_J_mol=energy_sd_J_mol,
        time_log=hypot(sqrt(unsure.time_log**2 - unsure.own_time_log**2), unsure.own_time_log / sqrt(len(points))),
    )
    base = replace(base, activation_energy_J_mol=energy_J_mol)
    cup_law = _fit(points, (), base, TOLERANCE)
    _check_open_times(datasheet.films, cup_law)
    kinetics = _with_films(cup_law, datasheet.films)
    check_films(datasheet.films, points[0], kinetics)
    variants = _variants(points, datasheet.films, base, unsure)
    return Calibration(
        kinetics=kinetics,
        uncertainty=unsure,
        variants=variants,
        covariance=independent(len(variants)),
        masses_g=(min(point.mass_g for point in points), max(point.mass_g for point in points)),
        warnings=(*pot_life_warnings(points, kinetics), *film_warnings(datasheet.films, kinetics)),
        assumptions=(
            *pot_life_words(points, kinetics, unsure.activation_energy_J_mol),
            *assumptions,
            film_words(kinetics),
        ),
    )


def _fit_energy(points: tuple[PotLifePoint, ...], base: Kinetics, unsure: Uncertainty) -> tuple[float, float]:
    """Return the activation energy and its standard deviation, maximum a posteriori where temperatures differ."""
    prior_J_mol, prior_sd_J_mol = base.activation_energy_J_mol, unsure.activation_energy_J_mol
    temperatures_K = [point.temperature_K for point in points]
    if max(temperatures_K) - min(temperatures_K) < CLOSEST_TEMPERATURES_K:
        return prior_J_mol, prior_sd_J_mol
    bare_J_mol, _ = _solve_energy(points, base, unsure.own_time_log, float("inf"))
    if not LOWEST_ENERGY_J_MOL <= bare_J_mol <= HIGHEST_ENERGY_J_MOL:
        raise RangeError(
            "pot lives",
            "do not fit together: they imply an activation energy no such resin has",
            value=f"{bare_J_mol / 1000:.0f} kJ/mol",
            allowed="must imply between 30 and 90 kJ/mol",
            todo="check the times, masses and temperatures, and that each ends as it says (gel or thickening)",
        )
    return _solve_energy(points, base, unsure.own_time_log, prior_sd_J_mol)


def _solve_energy(
    points: tuple[PotLifePoint, ...], base: Kinetics, time_log_sd: float, prior_sd_J_mol: float
) -> tuple[float, float]:
    """Return the activation energy that fits stated times and the prior best, and its standard deviation."""
    prior_J_mol = base.activation_energy_J_mol
    energy_J_mol, weight = prior_J_mol, 0.0
    for _ in range(20):
        here = _disagreement(points, base, energy_J_mol)
        there = _disagreement(points, base, energy_J_mol + 1000.0)
        slopes = [(after - before) / 1000.0 for before, after in zip(here, there, strict=True)]
        weight = 1.0 / prior_sd_J_mol**2 + sum(slope**2 for slope in slopes) / time_log_sd**2
        pull = (prior_J_mol - energy_J_mol) / prior_sd_J_mol**2
        pull -= sum(slope * miss for slope, miss in zip(slopes, here, strict=True)) / time_log_sd**2
        better_J_mol = min(max(energy_J_mol + pull / weight, SEARCHED_J_MOL[0]), SEARCHED_J_MOL[1])
        settled = abs(better_J_mol - energy_J_mol) < 1.0
        energy_J_mol = better_J_mol
        if settled:
            break
    return energy_J_mol, 1.0 / sqrt(weight)


def _disagreement(points: tuple[PotLifePoint, ...], base: Kinetics, energy_J_mol: float) -> list[float]:
    """Return how far each stated time is from the common fit at an activation energy, as a logarithm."""
    law = replace(base, activation_energy_J_mol=energy_J_mol)
    common = _fit(points, (), law, COARSE)
    return [log(pot_life_s(common, point, tolerance=COARSE) / point.time_s) for point in points]


def _fit(points: tuple[PotLifePoint, ...], films: tuple[FilmPoint, ...], base: Kinetics, tolerance: float) -> Kinetics:
    """Return `base` with the rate constant of the stated pot lives (their mean) and the film's own limit."""
    logs = [log(calibrated(point, vessel_of(point), base, tolerance).k_ref_per_s) for point in points]
    return _with_films(replace(base, k_ref_per_s=exp(sum(logs) / len(logs))), films)


def _with_films(kinetics: Kinetics, films: tuple[FilmPoint, ...]) -> Kinetics:
    """Return a law with the conversion at which the stated open times end: G(a) = k(T) t."""
    limits = [
        conversion_after(kinetics, kinetics.rate_constant_per_s(film.temperature_K) * film.time_s)
        for film in films
        if film.endpoint == "open"
    ]
    return replace(kinetics, conversion_open=min(limits)) if limits else kinetics


def _check_open_times(films: tuple[FilmPoint, ...], kinetics: Kinetics) -> None:
    """Refuse an open time by whose end the film would be cured."""
    for film in films:
        longest_s = film_life_s(kinetics, film.temperature_K, conversion_end=LONGEST_OPEN_CONVERSION)
        if film.endpoint == "open" and film.time_s > longest_s:
            raise RangeError(
                "film time",
                "is so long that the film would be cured by then",
                value=f"{film.time_s / 3600.0:.3g} h",
                allowed=f"must be below {longest_s / 3600.0:.3g} h for this pot life",
                todo="check that it is the open time, and not the time to handle or to sand",
            )


def _variants(
    points: tuple[PotLifePoint, ...], films: tuple[FilmPoint, ...], base: Kinetics, unsure: Uncertainty
) -> Pairs:
    """Return one pair of kinetics for each unsure thing, half a standard deviation to each side, recalibrated."""
    stated_open = any(film.endpoint == "open" for film in films)

    def refit(law: Kinetics, *, time_log: float = 0.0, film_log: float = 0.0) -> Kinetics:
        """Return a law calibrated anew, to times that are off by so much."""
        moved = tuple(replace(point, time_s=point.time_s * exp(time_log)) for point in points)
        return _fit(moved, tuple(replace(film, time_s=film.time_s * exp(film_log)) for film in films), law, COARSE)

    def side(half: float) -> tuple[Kinetics, ...]:
        """Return every law with its own thing moved by `half` of its standard deviation."""
        energy_J_mol = base.activation_energy_J_mol + half * unsure.activation_energy_J_mol
        coefficient_W_m2_K = base.film_coefficient_W_m2_K * exp(half * unsure.film_coefficient_log)
        working = base.conversion_working + half * unsure.conversion_working
        gel = base.conversion_gel + half * unsure.conversion_gel
        return (
            refit(base, time_log=half * unsure.time_log),
            refit(replace(base, activation_energy_J_mol=energy_J_mol)),
            refit(replace(base, film_coefficient_W_m2_K=coefficient_W_m2_K)),
            refit(replace(base, a0=base.a0 * exp(half * unsure.a0_log))),
            refit(replace(base, conversion_working=working)),
            refit(replace(base, conversion_gel=gel)),
            *((refit(base, film_log=half * unsure.time_log),) if stated_open else ()),
        )

    return tuple(zip(side(-0.5), side(0.5), strict=True))
