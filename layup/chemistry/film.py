"""A film on the part: it has the part's temperature, so its age is a dose and its life a closed form."""

from __future__ import annotations

from layup.chemistry.datasheet import FilmPoint
from layup.chemistry.kinetics import Kinetics, conversion_after, reduced_time, speed_up
from layup.chemistry.ranges import require_between
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K, History, time_of_dose_s

GEL_MARGIN = 0.03
"""Conversion from the gel to either side: a film has closed so far before it, and a part holds from so far past
it, for a network that has only begun tears (our own judgement, no source)."""


def film_life_s(
    kinetics: Kinetics, temperature_K: float, *, conversion_start: float = 0.0, conversion_end: float | None = None
) -> float:
    """Return how long a film at one temperature takes from one conversion to another.

    Parameters
    ----------
    kinetics : Kinetics
        The calibrated resin [-].
    temperature_K : float
        Temperature of the part, 233 to 523 [K].
    conversion_start : float
        Conversion now, 0 to below 1 [-].
    conversion_end : float | None
        Conversion at the end; None takes the film's own limit [-].

    Returns
    -------
    float
        Time, 0 if it is past the end already [s].

    Raises
    ------
    RangeError
        If the temperature or a conversion is out of range.

    Notes
    -----
    t = (G(a_end) - G(a_start))/k(T).

    Examples
    --------
    >>> round(film_life_s(Kinetics(4.80015e-4), 298.15) / 60)
    136
    """
    require_between("temperature", temperature_K, COLDEST_K, HOTTEST_K, unit="K")
    end = kinetics.conversion_film if conversion_end is None else conversion_end
    ahead = reduced_time(kinetics, end) - reduced_time(kinetics, conversion_start)
    return max(0.0, ahead) / kinetics.rate_constant_per_s(temperature_K)


def last_open_conversion(kinetics: Kinetics) -> float:
    """Return the conversion by which any film has closed: a little before it gels.

    Examples
    --------
    >>> round(last_open_conversion(Kinetics(1.0)), 3)
    0.547
    """
    return max(kinetics.conversion_gel - GEL_MARGIN, 0.5 * kinetics.conversion_gel)


def open_conversion(kinetics: Kinetics, film: FilmPoint) -> float:
    """Return the conversion that a resin has at the end of a stated film time.

    Examples
    --------
    >>> round(open_conversion(Kinetics(4.8e-4), FilmPoint(5400.0, 298.15)), 3)
    0.316
    """
    return conversion_after(kinetics, kinetics.rate_constant_per_s(film.temperature_K) * film.time_s)


def remaining_s(
    kinetics: Kinetics,
    dose_s: float,
    temperature_K: float,
    *,
    conversion_start: float = 0.0,
    conversion_end: float | None = None,
) -> float:
    """Return how long a film that has aged by a dose still has at one temperature.

    Parameters
    ----------
    kinetics : Kinetics
        The calibrated resin [-].
    dose_s : float
        Equivalent age since `conversion_start`, at 25 C, 0 or more [s].
    temperature_K : float
        Temperature of the part from now on, 233 to 523 [K].
    conversion_start : float
        Conversion when the dose began, 0 to below 1 [-].
    conversion_end : float | None
        Conversion at the end; None takes the film's own limit [-].

    Returns
    -------
    float
        Time left, 0 if it is past the end already [s].

    Raises
    ------
    RangeError
        If a value is out of range.

    Notes
    -----
    t = (G(a_end) - G(a_start) - k_ref t_e)/k(T).

    References
    ----------
    ASTM C1074, equivalent age.

    Examples
    --------
    >>> round(remaining_s(Kinetics(4.80015e-4), 1800.0, 298.15) / 60)
    106
    """
    require_between("dose", dose_s, 0.0, float("inf"), unit="s")
    whole_s = film_life_s(kinetics, temperature_K, conversion_start=conversion_start, conversion_end=conversion_end)
    return max(0.0, whole_s - dose_s / speed_up(temperature_K, kinetics.activation_energy_J_mol))


def film_time_s(
    kinetics: Kinetics,
    ambient: float | History,
    conversion_end: float,
    *,
    conversion_start: float = 0.0,
    from_s: float = 0.0,
) -> float:
    """Return when a film reaches a conversion, at the part's temperature as logged or forecast.

    Notes
    -----
    The dose that G(a_end) - G(a_start) = k_ref t_e asks for, looked up in the history.
    """
    ahead = reduced_time(kinetics, conversion_end) - reduced_time(kinetics, conversion_start)
    if ahead <= 0.0:
        return from_s
    return time_of_dose_s(ambient, kinetics.activation_energy_J_mol, ahead / kinetics.k_ref_per_s, from_s=from_s)
