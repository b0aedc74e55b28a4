"""What a datasheet says of its pot life: refused where it contradicts itself, and told back in words."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from math import log

from layup.chemistry.datasheet import Datasheet, FilmPoint, PotLifePoint
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.stated_point import DEFAULTS, pot_life_s
from layup.errors import RangeError

EPOXIDE_HEAT_J_MOL = 105_000.0
"""Heat of one mole of epoxide with an amine (published for DGEBA with commercial TETA: 106.6 kJ/eq)."""

CLOSEST_TEMPERATURES_K = 5.0
TACK_FREE_CONVERSION = 0.75
DISAGREEMENT_LOG = 0.2
"""Stated times that miss their common fit by more than this, as a logarithm, do not go together: twice what is unsure
of each for itself."""
COLDEST_USE_K, HOTTEST_USE_K = 278.15, 313.15
"""5 to 40 C: where the model is meant to be used."""


def stated_law(datasheet: Datasheet) -> tuple[Kinetics, tuple[str, ...]]:
    """Return the law before calibration, with heat and density from the datasheet where it states them.

    Parameters
    ----------
    datasheet : Datasheet
        What the maker states [-].

    Returns
    -------
    tuple[Kinetics, tuple[str, ...]]
        The law without its rate constant, and in words where its heat comes from [-].
    """
    words = []
    resin, hardener = datasheet.resin, datasheet.hardener
    densities = resin.density_g_cm3, hardener.density_g_cm3
    base = DEFAULTS
    by_mass = None
    if datasheet.ratio_by == "weight" or None not in densities:
        by_mass = parts_by_mass(datasheet)
    if by_mass and densities[0] is not None and densities[1] is not None:
        volume = by_mass[0] / densities[0] + by_mass[1] / densities[1]
        base = replace(base, density_g_cm3=sum(by_mass) / volume)
    if datasheet.chemistry == "epoxy-amine" and by_mass and resin.equivalent_weight_g_eq:
        heat_J_g = EPOXIDE_HEAT_J_MOL * by_mass[0] / sum(by_mass) / resin.equivalent_weight_g_eq
        base = replace(base, heat_J_g=heat_J_g)
        words.append(f"heat of reaction {heat_J_g:.0f} J/g, from 105 kJ per mole of epoxide")
    else:
        words.append(f"heat of reaction {base.heat_J_g:.0f} J/g: typical, as it cannot be told from the equivalents")
    if datasheet.chemistry != "epoxy-amine":
        words.append("the rate law is an epoxy-amine's; this resin is another chemistry, so the band is wider")
    return base, tuple(words)


def check_pot_lives(points: tuple[PotLifePoint, ...]) -> None:
    """Refuse pot lives that say nothing new or contradict each other.

    Parameters
    ----------
    points : tuple[PotLifePoint, ...]
        The stated pot lives [-].

    Raises
    ------
    RangeError
        If two are too close in temperature, if one is longer where it is hotter, or if a mix gels before it thickens.
    """
    for one, two in combinations(sorted(points, key=lambda point: point.temperature_K), 2):
        apart_K = two.temperature_K - one.temperature_K
        if one.endpoint == two.endpoint and apart_K < CLOSEST_TEMPERATURES_K:
            raise RangeError(
                "pot life temperatures",
                "are too close to tell how the resin answers to heat",
                value=f"{_celsius(one.temperature_K)} and {_celsius(two.temperature_K)}",
                allowed=f"must be at least {CLOSEST_TEMPERATURES_K:g} °C apart",
                todo="keep the pot life nearest to your own mass and leave the other out",
            )
        if one.endpoint == two.endpoint and two.mass_g >= one.mass_g and two.time_s >= one.time_s and apart_K > 0.0:
            raise RangeError(
                "pot life",
                "grows with temperature",
                value=f"{_minutes(one.time_s)} at {_celsius(one.temperature_K)}, "
                f"{_minutes(two.time_s)} at {_celsius(two.temperature_K)}",
                allowed="must be shorter where it is hotter",
                todo="check which time belongs to which temperature",
            )
        _check_endpoints(one, two)


def _check_endpoints(one: PotLifePoint, two: PotLifePoint) -> None:
    """Refuse a gel that comes before the thickening of a mix in a like vessel that is no cooler and no smaller."""
    thick, gel = (one, two) if two.endpoint == "gel" else (two, one)
    alike = thick.endpoint != gel.endpoint and thick.depth_m == gel.depth_m
    if alike and gel.temperature_K <= thick.temperature_K and gel.mass_g <= thick.mass_g and gel.time_s <= thick.time_s:
        raise RangeError(
            "pot life",
            "ends in a gel before it thickens",
            value=f"gel {_minutes(gel.time_s)} at {_celsius(gel.temperature_K)}, "
            f"thickening {_minutes(thick.time_s)} at {_celsius(thick.temperature_K)}",
            allowed="the gel must come later",
            todo="check which time is to gel and which to thickening",
        )


def check_films(films: tuple[FilmPoint, ...], point: PotLifePoint, kinetics: Kinetics) -> None:
    """Refuse a film that is stated to live shorter than the cup does at the film's own temperature.

    Parameters
    ----------
    films : tuple[FilmPoint, ...]
        The stated film times [-].
    point : PotLifePoint
        A stated pot life, for its mass and vessel [-].
    kinetics : Kinetics
        The calibrated law [-].

    Raises
    ------
    RangeError
        If a film time is shorter than the cup's.
    """
    for film in films:
        cup_s = pot_life_s(kinetics, replace(point, temperature_K=film.temperature_K))
        if film.time_s < cup_s:
            raise RangeError(
                "film time",
                "is shorter than the cup's pot life at the same temperature",
                value=f"{_minutes(film.time_s)} at {_celsius(film.temperature_K)}",
                allowed=f"must be at least the cup's {_minutes(cup_s)} there: a film stays cool and lives longer",
                todo="check which of the two times is the film's",
            )


def pot_life_warnings(points: tuple[PotLifePoint, ...], kinetics: Kinetics) -> tuple[str, ...]:
    """Return what to be wary of in the stated pot lives.

    Parameters
    ----------
    points : tuple[PotLifePoint, ...]
        The stated pot lives [-].
    kinetics : Kinetics
        The calibrated law [-].

    Returns
    -------
    tuple[str, ...]
        One sentence each [-].
    """
    words = [
        f"the stated pot life of {_minutes(point.time_s)} ({point.mass_g:g} g at {_celsius(point.temperature_K)}) does "
        f"not go with the others: all together give {_minutes(fitted_s)} there"
        for point in points
        if abs(log((fitted_s := pot_life_s(kinetics, point)) / point.time_s)) > DISAGREEMENT_LOG
    ]
    for point in points:
        if not COLDEST_USE_K <= point.temperature_K <= HOTTEST_USE_K:
            words.append(f"pot life stated at {_celsius(point.temperature_K)}, outside 5 to 40 °C: less sure in a shop")
    return tuple(words)


def film_warnings(films: tuple[FilmPoint, ...], kinetics: Kinetics) -> tuple[str, ...]:
    """Return what to be wary of in the stated film times.

    Parameters
    ----------
    films : tuple[FilmPoint, ...]
        The stated film times [-].
    kinetics : Kinetics
        The calibrated law [-].

    Returns
    -------
    tuple[str, ...]
        One sentence each [-].
    """
    words = [
        f"film time to {film.endpoint} is not an open time: the film's limit is taken at thickening instead"
        for film in films
        if film.endpoint != "open"
    ]
    if kinetics.conversion_open is not None and kinetics.conversion_open > TACK_FREE_CONVERSION:
        words.append(
            f"the film time implies a conversion of {kinetics.conversion_open:.2f}: that was a tack-free time, "
            "so the part will not wet or bond for that long"
        )
    return tuple(words)


def pot_life_words(points: tuple[PotLifePoint, ...], kinetics: Kinetics, energy_sd_J_mol: float) -> tuple[str, ...]:
    """Return in words what the pot lives were taken to mean.

    Parameters
    ----------
    points : tuple[PotLifePoint, ...]
        The stated pot lives [-].
    kinetics : Kinetics
        The calibrated law [-].
    energy_sd_J_mol : float
        Standard deviation of the activation energy [J/mol].

    Returns
    -------
    tuple[str, ...]
        One sentence each [-].
    """
    words = [
        f"pot life {_minutes(point.time_s)} to {point.endpoint}: {point.mass_g:g} g at "
        f"{_celsius(point.temperature_K)}, "
        + ("in a cup as wide as the mix stands high" if point.depth_m is None else f"{point.depth_m * 1000:g} mm deep")
        for point in points
    ]
    energy = f"{kinetics.activation_energy_J_mol / 1000:.0f} kJ/mol, give or take {energy_sd_J_mol / 1000:.0f}"
    source = (
        "typical, as one temperature is stated"
        if len(points) == 1
        else "from the stated temperatures and what is typical"
    )
    words.append(f"activation energy {energy}: {source}")
    words.append("one temperature for the whole mix: the middle of a big cup can be hotter")
    return tuple(words)


def film_words(kinetics: Kinetics) -> str:
    """Return in words where a film's limit comes from.

    Parameters
    ----------
    kinetics : Kinetics
        The calibrated law [-].

    Returns
    -------
    str
        One sentence [-].
    """
    if kinetics.conversion_open is None:
        return "no open film time is stated: a film is taken to close where a cup thickens"
    return f"a film closes at conversion {kinetics.conversion_open:.2f}, from the stated film time"


def _celsius(temperature_K: float) -> str:
    """Return a temperature as people read it."""
    return f"{temperature_K - 273.15:.4g} °C"


def _minutes(time_s: float) -> str:
    """Return a time as people read it."""
    return f"{time_s / 60:.3g} min" if time_s < 7200 else f"{time_s / 3600:.3g} h"
