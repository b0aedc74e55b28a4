"""What a datasheet says of its pot life: refused where it contradicts itself, and told back in words."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from math import exp, log

from layup.chemistry.datasheet import Datasheet, Endpoint, FilmPoint, PotLifePoint
from layup.chemistry.film import film_life_s, last_open_conversion, open_conversion
from layup.chemistry.kinetics import Kinetics, gel_conversion
from layup.chemistry.mixing import network_words, parts_by_mass, stated_network
from layup.chemistry.ode import COARSE
from layup.chemistry.stated_point import CLOSEST_TEMPERATURES_K, DEFAULTS, pot_life_s, rate_fitted
from layup.errors import RangeError
from layup.units import in_hours, in_minutes, length, mass, temperature, temperature_change

EPOXIDE_HEAT_J_MOL = 105_000.0
"""Heat of one mole of epoxide with an amine (published for DGEBA with commercial TETA: 106.6 kJ/eq)."""
NCO_HEAT_J_MOL = 68_000.0
"""Heat of one mole of isocyanate with a polyol: 55 +- 2 kJ for aromatic ones by DSC (Sultan and Busnel 2006), 72 to 84
for aliphatic ones (other sources, from memory); the geometric middle of 55 and 84."""
URETHANE_HEAT_J_G = 190.0
"""Of a casting urethane whose equivalents are not stated: 55 to 84 kJ/mol make 150 to 235 J/g."""
THICK_BEFORE_GEL = 0.06
"""A mix is too thick to use at least this much conversion before its gel."""

LIKE_MASSES = 1.5
"""Masses this much apart tell how a cup keeps its heat."""
LOSS_REACH_LOG = 0.7
"""Two standard deviations of the heat loss to each side: what the model can reach."""
MASS_ERROR_LOG = 0.18
"""What two stated times may be off from each other, 1.28 of their own standard deviations of 10 % each."""
USUAL_LOSS_LOG_SD = 0.35
LITTLE_LEARNT = 0.9
"""Stated masses that leave this share of the heat loss's spread tell next to nothing of it."""
TACK_FREE_CONVERSION = 0.75
DISAGREEMENT_LOG = 0.2
"""Stated times that miss their common fit by more than this, as a logarithm, do not go together: twice what is unsure
of each for itself."""
COLDEST_USE_K, HOTTEST_USE_K = 278.15, 313.15
"""5 to 40 C: where the model is meant to be used."""


def stated_law(datasheet: Datasheet) -> tuple[Kinetics, tuple[str, ...]]:
    """Return the law before calibration, with heat and density from the datasheet where it states them."""
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
    balance, f, g = stated_network(datasheet)
    gel = gel_conversion(f, g, min(balance, 1.0 / balance))
    words.append(f"gels at conversion {gel:.2f} (Flory and Stockmayer): {network_words(datasheet)[1]}")
    return replace(base, conversion_gel=gel, conversion_working=min(base.conversion_working, gel - THICK_BEFORE_GEL))


def check_pot_lives(points: tuple[PotLifePoint, ...]) -> None:
    """Refuse pot lives that say nothing new or contradict each other."""
    for one, two in combinations(sorted(points, key=lambda point: (point.temperature_K, point.mass_g)), 2):
        apart_K = two.temperature_K - one.temperature_K
        alike = one.endpoint == two.endpoint and one.reaches_K == two.reaches_K
        same_vessel = (one.depth_m, one.diameter_m, one.film) == (two.depth_m, two.diameter_m, two.film)
        close = apart_K < CLOSEST_TEMPERATURES_K
        if alike and same_vessel and close and abs(log(two.mass_g / one.mass_g)) < log(LIKE_MASSES):
            raise RangeError(
                "pot life temperatures",
                "are too close to tell how the resin answers to heat",
                value=f"{temperature(one.temperature_K, '.4g')} and {temperature(two.temperature_K, '.4g')}",
                allowed=(
                    f"must be at least {temperature_change(CLOSEST_TEMPERATURES_K, 'g')} apart, or the masses "
                    f"{LIKE_MASSES:g} times"
                ),
                todo="keep the pot life nearest to your own mass and leave the other out",
            )
        if alike and two.mass_g >= one.mass_g and two.time_s >= one.time_s and apart_K > 0.0:
            raise RangeError(
                "pot life",
                "grows with temperature",
                value=f"{_minutes(one.time_s)} at {temperature(one.temperature_K, '.4g')}, "
                f"{_minutes(two.time_s)} at {temperature(two.temperature_K, '.4g')}",
                allowed="must be shorter where it is hotter",
                todo="check which time belongs to which temperature",
            )
        if alike and same_vessel and apart_K == 0.0 and one.depth_m is None and two.time_s > one.time_s:
            raise RangeError(
                "pot life",
                "grows with the mass",
                value=", ".join(f"{_minutes(each.time_s)} of {mass(each.mass_g, 'g')}" for each in (one, two)),
                allowed="must not be longer where more is mixed: it keeps its heat",
                todo="check which time belongs to which mass",
            )
        _check_endpoints(one, two)


ORDER: dict[Endpoint, int] = {"viscosity doubled": 0, "thickening": 1, "open": 2, "gel": 3}
"""Which end of a pot life comes before which."""
END_WORDS: dict[Endpoint, str] = {"viscosity doubled": "twice as thick", "open": "closed"}
"""What a pot life ends with, in a word or three, where that is not its name."""


def _check_endpoints(one: PotLifePoint, two: PotLifePoint) -> None:
    """Refuse a gel that comes before the thickening of a mix in a like vessel that is no cooler and no smaller."""
    if "temperature" in (one.endpoint, two.endpoint) or one.endpoint == two.endpoint:
        return
    first, later = sorted((one, two), key=lambda point: ORDER[point.endpoint])
    alike = (first.depth_m, first.film) == (later.depth_m, later.film)
    no_harder = later.temperature_K <= first.temperature_K and later.mass_g <= first.mass_g
    if alike and no_harder and later.time_s <= first.time_s:
        ends = {"gel": "in a gel", "thickening": "thick", "open": "closed"}[later.endpoint]
        before = {"viscosity doubled": "is twice as thick", "thickening": "thickens", "open": "closes"}[first.endpoint]
        raise RangeError(
            "pot life",
            f"ends {ends} before it {before}",
            value=f"{later.endpoint} {_minutes(later.time_s)} at {temperature(later.temperature_K, '.4g')}, "
            f"{first.endpoint} {_minutes(first.time_s)} at {temperature(first.temperature_K, '.4g')}",
            allowed=f"the {END_WORDS.get(later.endpoint, later.endpoint)} must come later",
            todo=f"check which time is to {later.endpoint} and which to {first.endpoint}",
        )


def check_films(films: tuple[FilmPoint, ...], point: PotLifePoint, kinetics: Kinetics) -> None:
    """Refuse a film that is stated to live shorter than the cup does at the film's own temperature."""
    for film in films:
        cup_s = pot_life_s(kinetics, replace(point, temperature_K=film.temperature_K))
        if film.time_s < cup_s:
            raise RangeError(
                "film time",
                "is shorter than the cup's pot life at the same temperature",
                value=f"{_minutes(film.time_s)} at {temperature(film.temperature_K, '.4g')}",
                allowed=f"must be at least the cup's {_minutes(cup_s)} there: a film stays cool and lives longer",
                todo="check which of the two times is the film's",
            )


def pot_life_warnings(points: tuple[PotLifePoint, ...], kinetics: Kinetics) -> tuple[str, ...]:
    """Return what to be wary of in the stated pot lives."""
    usual = f"{temperature.digits(278.15)} to {temperature(313.15)}"
    words = [
        f"the stated pot life of {_minutes(point.time_s)} ({mass(point.mass_g, 'g')} at "
        f"{temperature(point.temperature_K, '.4g')}) "
        f"does not go with the others: all together give {_minutes(fitted_s)} there"
        for point in points
        if abs(log((fitted_s := pot_life_s(kinetics, point)) / point.time_s)) > DISAGREEMENT_LOG
    ]
    for point in points:
        if not COLDEST_USE_K <= point.temperature_K <= HOTTEST_USE_K:
            words.append(
                f"pot life stated at {temperature(point.temperature_K, '.4g')}, outside {usual}: less sure in a shop"
            )
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
    last = last_open_conversion(kinetics)
    for film in films:
        if film.endpoint != "open" or (limit := open_conversion(kinetics, film)) <= last:
            continue
        what = "that was a tack-free time" if limit > TACK_FREE_CONVERSION else "a film closes before it gels"
        kept_s = film_life_s(kinetics, film.temperature_K, conversion_end=last)
        words.append(
            f"the film time of {_minutes(film.time_s)} implies a conversion of {limit:.2f}, and the gel is at "
            f"{kinetics.conversion_gel:.2f}: {what}, so it counts as {_minutes(kept_s)}"
        )
    return tuple(words)


def mass_warnings(points: tuple[PotLifePoint, ...], kinetics: Kinetics, loss_log_sd: float) -> tuple[str, ...]:
    """Return what two masses at like temperatures cannot tell, and what of them is beyond the model's reach."""
    words = []
    pairs = [
        (light, heavy)
        for light, heavy in combinations(sorted(points, key=lambda point: point.mass_g), 2)
        if light.endpoint == heavy.endpoint
        and abs(light.temperature_K - heavy.temperature_K) < CLOSEST_TEMPERATURES_K
        and heavy.mass_g >= LIKE_MASSES * light.mass_g
        and not light.film
        and light.depth_m is None is heavy.depth_m
    ]
    for light, heavy in pairs:
        reach_s = []
        for log_loss in (-LOSS_REACH_LOG, LOSS_REACH_LOG):
            coefficient_W_m2_K = DEFAULTS.film_coefficient_W_m2_K * exp(log_loss)
            law = rate_fitted((light,), replace(kinetics, film_coefficient_W_m2_K=coefficient_W_m2_K), COARSE)
            reach_s.append(pot_life_s(law, heavy, tolerance=COARSE))
        low_s, high_s = min(reach_s), max(reach_s)
        if not low_s / exp(MASS_ERROR_LOG) <= heavy.time_s <= high_s * exp(MASS_ERROR_LOG):
            words.append(
                f"{mass(heavy.mass_g, 'g')} is stated to live {_minutes(heavy.time_s)}, {mass(light.mass_g, 'g')} "
                f"{_minutes(light.time_s)}: beyond this model, which makes it {_minutes(low_s)} to {_minutes(high_s)} "
                f"whatever the cup loses; trust the one nearest to your own mass"
            )
    if pairs and loss_log_sd > LITTLE_LEARNT * USUAL_LOSS_LOG_SD:
        words.append(
            "the stated masses hardly tell how fast a cup loses its heat: that moves their times less than each is "
            "unsure by itself; a thermometer in the cup tells"
        )
    return tuple(words)


def pot_life_words(points: tuple[PotLifePoint, ...], kinetics: Kinetics, energy_sd_J_mol: float) -> tuple[str, ...]:
    """Return in words what the pot lives were taken to mean."""
    words = [
        f"pot life {_minutes(point.time_s)} to {_end(point)}: {mass(point.mass_g, 'g')} at "
        f"{temperature(point.temperature_K, '.4g')}, {_vessel(point)}"
        for point in points
    ]
    energy = f"{kinetics.activation_energy_J_mol / 1000:.0f} kJ/mol, give or take {energy_sd_J_mol / 1000:.0f}"
    source = (
        "typical, as one temperature is stated"
        if len({point.temperature_K for point in points}) == 1
        else "from the stated temperatures and what is typical"
    )
    words.append(f"activation energy {energy}: {source}")
    words.append("one temperature for the whole mix: the middle of a big cup can be hotter")
    return tuple(words)


def film_words(films: tuple[FilmPoint, ...], kinetics: Kinetics) -> str:
    """Return in words where a film's limit comes from."""
    closes = f"a film closes at conversion {kinetics.conversion_open:.2f}"
    if any(film.endpoint == "open" for film in films):
        return f"{closes}, from the stated film time"
    return f"no open film time is stated: {closes}, give or take 0.07, as those of other makers do"


def _end(point: PotLifePoint) -> str:
    """Return what a stated pot life ends with, as people read it."""
    if point.reaches_K is not None:
        return f"where it reaches {temperature(point.reaches_K, '.4g')}"
    return END_WORDS.get(point.endpoint, point.endpoint)


def _vessel(point: PotLifePoint) -> str:
    """Return what a pot life was stated in, as people read it."""
    if point.film:
        return "as a film"
    if point.depth_m is not None:
        return f"{length(point.depth_m, 'g')} deep"
    if point.diameter_m is not None:
        return f"in a cup {length(point.diameter_m, 'g')} wide"
    return "in a cup as wide as the mix stands high"


def _minutes(time_s: float) -> str:
    """Return a time as people read it."""
    return f"{in_minutes(time_s, '.3g')}" if time_s < 7200 else f"{in_hours(time_s, '.3g')}"
