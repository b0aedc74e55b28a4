"""How thick the mix is at the shop's temperature, and how much thicker it gets as it sets."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import exp, inf, log

from layup.chemistry.datasheet import ViscosityPoint
from layup.chemistry.numerics import first_at_or_above
from layup.chemistry.ranges import require_between, require_positive
from layup.errors import RangeError
from layup.units import temperature, viscosity

WET_OUT_LIMIT_PA_S = 1.0
"""Thicker than this, cloth is slow to wet out by hand (common practice, no source)."""

FARTHEST_K = 10.0
"""How far beyond the stated temperatures a viscosity may be read."""

FLOW_ENERGY_OVER_R_K = 7000.0
"""How a laminating mix thins as it warms, where one point is stated: halved each 9 K (common practice, no source)."""


def viscosity_Pa_s(points: Sequence[ViscosityPoint], temperature_K: float) -> float:
    """Return the viscosity of the fresh mix at a temperature, from what the datasheet states.

    Parameters
    ----------
    points : Sequence[ViscosityPoint]
        One or more stated viscosities, at different temperatures [-].
    temperature_K : float
        Temperature of the mix, at most 10 K beyond the stated ones [K].

    Returns
    -------
    float
        Viscosity [Pa s].

    Raises
    ------
    RangeError
        If nothing is stated, if the stated values contradict each other, or if the temperature is too far off.

    Notes
    -----
    ln(viscosity) is straight in 1/T between two points, and goes on straight beyond the outer ones. A single point
    goes on with a typical slope, B = 7000 K.

    References
    ----------
    Andrade, Nature 125 (1930) 309: viscosity = A exp(B/T) (from memory).

    Examples
    --------
    >>> stated = [ViscosityPoint(1.6, 288.15), ViscosityPoint(0.7, 298.15)]
    >>> round(viscosity_Pa_s(stated, 293.15), 3)
    1.051
    """
    if not points:
        raise RangeError(
            "viscosity", "is not stated", allowed="needs at least one value", todo="add [[viscosity]] to the resin"
        )
    require_positive("temperature", temperature_K, unit="K")
    stated = sorted(points, key=lambda point: point.temperature_K)
    for cold, warm in pairwise(stated):
        if warm.temperature_K == cold.temperature_K or warm.viscosity_Pa_s > cold.viscosity_Pa_s:
            raise RangeError(
                "viscosity",
                "does not fall as the mix warms",
                value=_words(warm),
                allowed=f"must be below the {_words(cold)}",
                todo="check which value belongs to which temperature",
            )
    require_between(
        "temperature for a viscosity",
        temperature_K,
        stated[0].temperature_K - FARTHEST_K,
        stated[-1].temperature_K + FARTHEST_K,
        unit="K",
        source="10 K beyond the stated ones",
        todo="ask the maker for the viscosity there",
    )
    if len(stated) == 1:
        slope_K, near = FLOW_ENERGY_OVER_R_K, stated[0]
    else:
        pairs = list(pairwise(stated))
        cold, near = next((pair for pair in pairs if temperature_K <= pair[1].temperature_K), pairs[-1])
        fall = log(cold.viscosity_Pa_s / near.viscosity_Pa_s)
        slope_K = fall / (1.0 / cold.temperature_K - 1.0 / near.temperature_K)
    return near.viscosity_Pa_s * exp(slope_K * (1.0 / temperature_K - 1.0 / near.temperature_K))


def viscosity_growth(conversion: float, conversion_gel: float, *, a: float = 2.5, b: float = 4.0) -> float:
    """Return how many times thicker a mix is than it was fresh, at the same temperature.

    Parameters
    ----------
    conversion : float
        Conversion, 0 to below the gel's [-].
    conversion_gel : float
        Conversion at the gel, above 0 to 1 [-].
    a : float
        Exponent A, 0 to 10 [-].
    b : float
        Exponent B, 0 to 10 [-].

    Returns
    -------
    float
        Viscosity over the fresh mix's [-].

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    (a_g/(a_g - a))^(A + B a): without bound at the gel point. A and B are ours, to the shape of 64 rheometer runs (data
    set `viscosity` of the R package FDboost; W. Raffelt, TU Munich) by the rate law here from a fresh 0.03 Pa s.

    References
    ----------
    Castro and Macosko, AIChE J. 28 (1982) 250 (from memory).

    Examples
    --------
    >>> round(viscosity_growth(0.3, 0.58), 2)
    14.8
    """
    require_between("conversion at gel", conversion_gel, 0.0, 1.0, open_low=True)
    require_between("conversion", conversion, 0.0, conversion_gel, open_high=True)
    require_between("exponent a", a, 0.0, 10.0)
    require_between("exponent b", b, 0.0, 10.0)
    return float((conversion_gel / (conversion_gel - conversion)) ** (a + b * conversion))


def conversion_thicker(times: float, conversion_gel: float) -> float:
    """Return the conversion at which a mix is so many times thicker than it was fresh, at the same temperature.

    Parameters
    ----------
    times : float
        Viscosity over the fresh mix's, 1 to 1e12 [-]
    conversion_gel : float
        Conversion at the gel, above 0 to 1 [-]

    Returns
    -------
    conversion : float
        Conversion, 0 to the gel's [-]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    The inverse of `viscosity_growth`.

    Examples
    --------
    >>> round(conversion_thicker(2.0, 0.58), 4)
    0.1203
    """
    require_between("thickening", times, 1.0, 1e12)

    def thicker(conversion: float) -> float:
        return inf if conversion >= conversion_gel else log(viscosity_growth(conversion, conversion_gel) / times)

    return first_at_or_above(thicker, 0.0, conversion_gel, 1e-15)


def _words(point: ViscosityPoint) -> str:
    """Return a stated viscosity as people read it."""
    return f"{viscosity(point.viscosity_Pa_s, 'g')} at {temperature(point.temperature_K, '.4g')}"
