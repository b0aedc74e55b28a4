"""What a datasheet states of pot lives and films: the law that gives a stated point, checks, warnings and words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from math import exp, inf, log

from layup.chemistry.datasheet import Endpoint, FilmPoint, PotLifePoint
from layup.chemistry.film import film_life_s, last_open_conversion, open_conversion
from layup.chemistry.kinetics import (
    FULLY_CURED,
    GAUSS_PANEL,
    Kinetics,
    reduced_slope,
    reduced_time,
    speed_up,
    stretch,
    unstretch,
)
from layup.chemistry.numerics import first_at_or_above, integral
from layup.chemistry.ode import COARSE, TOLERANCE
from layup.chemistry.prediction import Vessel, heated_course
from layup.chemistry.viscosity import conversion_thicker
from layup.errors import RangeError
from layup.units import in_hours, in_minutes, length, mass, temperature, temperature_change

# -- stated point ----------------------------------------------------------------------------------------------------

DEFAULTS = Kinetics(k_ref_per_s=1.0)
"""The model's defaults, with a rate constant still to be found."""


def calibrated(point: PotLifePoint, vessel: Vessel, kinetics: Kinetics, tolerance: float = TOLERANCE) -> Kinetics:
    """Return a law with the rate constant that gives one stated pot life.

    ln t falls at least as fast as ln k grows, for a faster mix keeps more of its heat: the only root of ln t(k) = ln X
    is no further from any k than ln t is off there. Looked for from the law's own k, at most G(a)/(X k(T)/k_ref), which
    it takes without any self-heating.

    >>> calibrated(PotLifePoint(1800.0, 100.0, 298.15), Vessel.cup(), DEFAULTS).k_ref_per_s
    0.000474609...
    """

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
        if abs(off) <= tolerance:
            log_k = guess
        elif off >= 0.0:
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
            value=f"{temperature_change(rise_K)} warmer",
            allowed=f"must be below {temperature_change(FULLY_CURED * kinetics.adiabatic_rise_K)}, all its heat",
            todo="check the temperature that ends the pot life",
        )
    law = replace(kinetics, k_ref_per_s=1.0)

    def lossless(y: float) -> float:
        here_K = point.temperature_K + kinetics.adiabatic_rise_K * unstretch(y, kinetics.a0)
        return reduced_slope(law, y) / law.rate_constant_per_s(here_K)

    end = stretch(share, kinetics.a0)
    low = log(integral(lossless, 0.0, end, int(end / GAUSS_PANEL) + 1) / point.time_s)
    high = low + 0.5
    while _time_in_s(replace(kinetics, k_ref_per_s=exp(high)), point, vessel, tolerance) > point.time_s:
        high += 0.5
    return low, high


def end_conversion(kinetics: Kinetics, endpoint: Endpoint) -> float:
    """Return the conversion with which a stated pot life ends.

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


# -- fitting ---------------------------------------------------------------------------------------------------------

CLOSEST_TEMPERATURES_K = 5.0


def rate_fitted(points: Sequence[PotLifePoint], base: Kinetics, tolerance: float = TOLERANCE) -> Kinetics:
    """Return a law with the rate constant of stated pot lives, the mean of what each gives."""
    logs = [log(calibrated(point, vessel_of(point), base, tolerance).k_ref_per_s) for point in points]
    return replace(base, k_ref_per_s=exp(sum(logs) / len(logs)))


# -- statements ------------------------------------------------------------------------------------------------------


LIKE_MASSES = 1.5
"""Masses this much apart tell how a cup keeps its heat."""
LOSS_REACH_LOG = 0.7
"""Two standard deviations of the heat loss to each side: what the model can reach."""
NEAREST_MASS = "trust the one nearest to your own mass"
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
                value=f"{_stated(one)}, {_stated(two)}",
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
            value=f"{later.endpoint} {_stated(later)}, {first.endpoint} {_stated(first)}",
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
                value=_stated(film),
                allowed=f"must be at least the cup's {_minutes(cup_s)} there: a film stays cool and lives longer",
                todo="check which of the two times is the film's",
            )


def pot_life_warnings(points: tuple[PotLifePoint, ...], kinetics: Kinetics) -> tuple[str, ...]:
    """Return what to be wary of in the stated pot lives."""
    usual = f"{temperature.digits(278.15)} to {temperature(313.15)}"
    words = [
        f"the stated pot life of {_minutes(point.time_s)} ({_measured(point)}) "
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
    """Return what to be wary of in the stated film times."""
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
    words = [f"{said}; {NEAREST_MASS}" for _, said in beyond_model(points, kinetics)]
    if any(_mass_pairs(points)) and loss_log_sd > LITTLE_LEARNT * USUAL_LOSS_LOG_SD:
        words.append(
            "the stated masses hardly tell how fast a cup loses its heat: that moves their times less than each is "
            "unsure by itself; a thermometer in the cup tells"
        )
    return tuple(words)


def beyond_model(points: tuple[PotLifePoint, ...], kinetics: Kinetics) -> Iterator[tuple[PotLifePoint, str]]:
    """Yield each pot life that a lighter one allows at no loss of heat that a cup may have, and why."""
    for light, heavy in _mass_pairs(points):
        reach_s = []
        for log_loss in (-LOSS_REACH_LOG, LOSS_REACH_LOG):
            coefficient_W_m2_K = DEFAULTS.film_coefficient_W_m2_K * exp(log_loss)
            law = rate_fitted((light,), replace(kinetics, film_coefficient_W_m2_K=coefficient_W_m2_K), COARSE)
            reach_s.append(pot_life_s(law, heavy, tolerance=COARSE))
        low_s, high_s = min(reach_s), max(reach_s)
        if not low_s / exp(MASS_ERROR_LOG) <= heavy.time_s <= high_s * exp(MASS_ERROR_LOG):
            lives, others = (f"{_minutes(point.time_s)} of {mass(point.mass_g, 'g')}" for point in (heavy, light))
            reach = f"{low_s / 60.0:.0f} to {in_minutes(high_s)}"
            yield heavy, f"{lives} is beyond this model ({reach}): {others}"


def _mass_pairs(points: tuple[PotLifePoint, ...]) -> Iterator[tuple[PotLifePoint, PotLifePoint]]:
    """Yield each lighter and heavier pot life that only their masses tell apart."""
    for light, heavy in combinations(sorted(points, key=lambda point: point.mass_g), 2):
        if (
            light.endpoint == heavy.endpoint
            and abs(light.temperature_K - heavy.temperature_K) < CLOSEST_TEMPERATURES_K
            and heavy.mass_g >= LIKE_MASSES * light.mass_g
            and not light.film
            and light.depth_m is None is heavy.depth_m
        ):
            yield light, heavy


def pot_life_words(points: tuple[PotLifePoint, ...], kinetics: Kinetics, energy_sd_J_mol: float) -> tuple[str, ...]:
    """Return in words what the pot lives were taken to mean."""
    words = [
        f"pot life {_minutes(point.time_s)} to {_end(point)}: {_measured(point)}, {_vessel(point)}" for point in points
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
    if point.reaches_K is not None:
        return f"where it reaches {temperature(point.reaches_K, '.4g')}"
    return END_WORDS.get(point.endpoint, point.endpoint)


def _vessel(point: PotLifePoint) -> str:
    if point.film:
        return "as a film"
    if point.depth_m is not None:
        return f"{length(point.depth_m, 'g')} deep"
    if point.diameter_m is not None:
        return f"in a cup {length(point.diameter_m, 'g')} wide"
    return "in a cup as wide as the mix stands high"


def _measured(point: PotLifePoint) -> str:
    return f"{mass(point.mass_g, 'g')} at {temperature(point.temperature_K, '.4g')}"


def _stated(point: PotLifePoint | FilmPoint) -> str:
    return f"{_minutes(point.time_s)} at {temperature(point.temperature_K, '.4g')}"


def _minutes(time_s: float) -> str:
    return in_minutes(time_s, ".3g") if time_s < 7200 else in_hours(time_s, ".3g")
