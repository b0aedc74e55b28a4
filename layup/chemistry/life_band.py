"""How sure a pot life is: the 80 % band, from half a standard deviation to each side of everything unsure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, hypot, log

from layup.chemistry.calibration import Calibration
from layup.chemistry.film import film_time_s
from layup.chemistry.kinetics import Kinetics, stretch
from layup.chemistry.ode import COARSE
from layup.chemistry.prediction import Life, heated_course, predict, warmest_K
from layup.chemistry.statements import COLDEST_USE_K, HOTTEST_USE_K
from layup.chemistry.temperature import History, corners
from layup.chemistry.uncertainty import AS_SAID, EIGHTY_PERCENT, Band, Use, log_sd, sensitivities
from layup.chemistry.vessel import HeatClass, Vessel, heat_class, middle_runs_away, semenov
from layup.units import mass, temperature

FARTHEST_MASS = 10.0


@dataclass(frozen=True, slots=True)
class LifeBand:
    """A life with the bands of its times."""

    life: Life
    working_s: Band
    gel_s: Band
    open_s: Band | None
    """A film's own limit; None in a cup or tray."""
    psi_high: float
    """Semenov's number at the dangerous edge of its own 80 % band; 0 for a film."""
    heat_class_high: HeatClass
    """The class that number makes of it: near the edge of running away, `life.heat_class` alone says too little."""
    warnings: tuple[str, ...]


def predict_band(
    calibration: Calibration,
    vessel: Vessel,
    *,
    mass_g: float,
    start_K: float,
    ambient: float | History,
    conversion_start: float = 0.0,
) -> LifeBand:
    """Predict how long a mix lives, with the 80 % band.

    Parameters
    ----------
    calibration : Calibration
        The calibrated resin [-].
    vessel : Vessel
        Cup, tray or film [-].
    mass_g : float
        Mass of mix in the vessel, above 0; a film's does not matter [g].
    start_K : float
        Temperature of the mix at the start; a film takes the part's instead, 233 to 523 [K].
    ambient : float | History
        The shop's temperature (a film: the part's), one or (time_s, temperature_K) points, 233 to 523 [K].
    conversion_start : float
        Conversion at the start, 0 for a fresh mix, below 0.999 [-].

    Returns
    -------
    LifeBand
        The life, the ends of its 80 % band [s], and warnings in words.

    Raises
    ------
    RangeError
        If a value is out of range, or the mix is too thin to be anything but a film.

    Notes
    -----
    ln t is normal with variance sum(S_i^2), S_i the change of ln t over one standard deviation of the i-th unsure
    thing, of the resin or of the mix in hand, by central differences, each side calibrated anew. The band is
    t exp(+-1.2816 sqrt(sum(S_i^2))). Whatever the resin turns out to be, it gels after it thickens, so neither edge of
    the gel comes before thickening's: near the edge of running away, where the linear band of the gel is too wide, that
    keeps it honest.
    """
    life = predict(
        calibration.kinetics,
        vessel,
        mass_g=mass_g,
        start_K=start_K,
        ambient=ambient,
        conversion_start=conversion_start,
    )

    def times_s(kinetics: Kinetics, use: Use) -> tuple[float, float, float]:
        limits = kinetics.conversion_working, kinetics.conversion_gel, kinetics.conversion_film
        if vessel.kind == "film":
            at = [film_time_s(kinetics, ambient, limit, conversion_start=conversion_start) for limit in limits]
            return at[0], at[1], at[2]
        course = heated_course(
            kinetics,
            vessel,
            mass_g=use.mass_g(mass_g),
            start_K=use.start_K(start_K),
            ambient=ambient,
            conversion_start=conversion_start,
            conversion_end=max(conversion_start, *limits),
            tolerance=COARSE,
        )
        at = [course.at_y(stretch(limit, kinetics.a0)).time_s for limit in limits]
        return at[0], at[1], at[2]

    working, gel, film = log_sds(calibration, times_s)
    working_s = Band.around(life.working_s, working)
    psi_high = 0.0
    if vessel.kind != "film":
        around_K = warmest_K(start_K, ambient, until_s=life.peak_s)
        psi_high = psi_at_the_edge(calibration, vessel, mass_g, around_K, conversion_start)
    return LifeBand(
        life=life,
        working_s=working_s,
        gel_s=Band.around(life.gel_s, gel).no_sooner(working_s),
        open_s=None if life.open_s is None else Band.around(life.open_s, film),
        psi_high=psi_high,
        heat_class_high="warm" if vessel.kind == "film" else heat_class(psi_high, life.peak_K),
        warnings=use_warnings(calibration, vessel, mass_g, start_K, ambient, life),
    )


def psi_at_the_edge(
    calibration: Calibration, vessel: Vessel, mass_g: float, temperature_K: float, conversion_start: float = 0.0
) -> float:
    """Return Semenov's number that is exceeded in one case out of ten.

    Parameters
    ----------
    calibration : Calibration
        The calibrated resin [-].
    vessel : Vessel
        Cup or tray [-].
    mass_g : float
        Mass of mix, above 0 [g].
    temperature_K : float
        Temperature of the surroundings, above 0 [K].
    conversion_start : float
        Conversion from which it goes on, 0 to below 1 [-].

    Returns
    -------
    float
        psi exp(1.2816 sqrt(sum(S_i^2))), S_i as for the times [-].
    """

    law = calibration.kinetics

    def log_psi(kinetics: Kinetics, use: Use = AS_SAID) -> float:
        around_K = temperature_K + use.warmer_K
        return log(semenov(kinetics, vessel, use.mass_g(mass_g), around_K, conversion_start))

    slopes = [log_psi(high) - log_psi(low) for low, high in calibration.variants]
    slopes += [log_psi(law, high) - log_psi(law, low) for low, high in calibration.uses]
    return exp(log_psi(law) + EIGHTY_PERCENT * log_sd(slopes, calibration.covariance_in_use))


def log_sds(calibration: Calibration, times_s: Callable[[Kinetics, Use], tuple[float, ...]]) -> tuple[float, ...]:
    """Return the standard deviation of the logarithm of each time that `times_s` makes of a rate law and a use."""
    laws = sensitivities(calibration.variants, lambda law: times_s(law, AS_SAID))
    uses = sensitivities(calibration.uses, lambda use: times_s(calibration.kinetics, use))
    return tuple(hypot(log_sd(law, calibration.covariance), *use) for law, use in zip(laws, uses, strict=True))


def use_warnings(
    calibration: Calibration,
    vessel: Vessel,
    mass_g: float,
    start_K: float,
    ambient: float | History,
    life: Life,
) -> tuple[str, ...]:
    """Return in words what makes one prediction less sure; how hot it gets, its heat class says."""
    words = []
    temperatures_K = [start_K, *(shop_K for _, shop_K in corners(ambient, from_s=0.0, until_s=life.gel_s))]
    least_g, most_g = calibration.masses_g
    if vessel.kind == "cup" and not least_g / FARTHEST_MASS <= mass_g <= most_g * FARTHEST_MASS:
        words.append(
            f"{mass(mass_g, 'g')} is more than ten times away from the {mass(least_g, 'g')} the pot life is stated for"
        )
    if vessel.kind != "film" and middle_runs_away(calibration.kinetics, vessel, mass_g, max(temperatures_K)) > 1.0:
        words.append("the middle of this much mix gets hotter than the one temperature given here")
    if not COLDEST_USE_K <= min(temperatures_K) <= max(temperatures_K) <= HOTTEST_USE_K:
        words.append(
            f"outside {temperature.digits(278.15)} to {temperature(313.15)}, where the model is meant to be used"
        )
    return tuple(words)
