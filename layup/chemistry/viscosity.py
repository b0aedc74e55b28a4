"""How thick a mix is, fresh and as it sets; until when it wets cloth and leaves under the press."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import exp, inf, log, pi

from layup.chemistry.datasheet import ViscosityPoint
from layup.chemistry.kinetics import Kinetics, reduced_slope, reduced_time, stretch, unstretch
from layup.chemistry.numerics import Curve, first_at_or_above, integral, require_between, require_positive
from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.errors import RangeError
from layup.units import temperature, temperature_change, viscosity

# -- viscosity -------------------------------------------------------------------------------------------------------

WET_OUT_LIMIT_PA_S = 1.0
"""Thicker than this, cloth is slow to wet out by hand (common practice, no source)."""

FARTHEST_K = 10.0
"""How far beyond the stated temperatures a viscosity may be read."""

FLOW_ENERGY_OVER_R_K = 7000.0
"""How a laminating mix thins as it warms, where one point is stated: halved each 9 K (common practice, no source)."""


def viscosity_Pa_s(points: Sequence[ViscosityPoint], temperature_K: float) -> float:
    """Return the viscosity of the fresh mix at a temperature, from what the datasheet states.

    Raises RangeError if nothing is stated, if the stated values contradict each other, or if the temperature is too far
    off. ln(viscosity) is straight in 1/T between two points, and goes on straight beyond the outer ones. A single point
    goes on with a typical slope, B = 7000 K. Source: Andrade, Nature 125 (1930) 309: viscosity = A exp(B/T) (from
    memory).

    >>> stated = [ViscosityPoint(1.6, 288.15), ViscosityPoint(0.7, 298.15)]
    >>> round(viscosity_Pa_s(stated, 293.15), 3)
    1.051

    Parameters
    ----------
    points : One or more stated viscosities, at different temperatures [-]
    temperature_K : Temperature of the mix, at most 10 K beyond the stated ones [K]
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
        source=f"{temperature_change(FARTHEST_K)} beyond the stated ones",
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


def known_Pa_s(points: Sequence[ViscosityPoint], temperature_K: float) -> float | None:
    """Return the viscosity of the fresh mix at a temperature; None where none is stated near it.

    Parameters
    ----------
    temperature_K : Temperature of the mix [K]
    """
    stated_K = [point.temperature_K for point in points]
    if not stated_K or not min(stated_K) - FARTHEST_K <= temperature_K <= max(stated_K) + FARTHEST_K:
        return None
    return viscosity_Pa_s(points, temperature_K)


def viscosity_growth(conversion: float, conversion_gel: float) -> float:
    """Return how many times thicker a mix is than it was fresh, at the same temperature [-].

    (a_g/(a_g - a))^(2.5 + 4 a): without bound at the gel point. Both numbers are ours, to the shape of 64 rheometer
    runs (data set `viscosity` of the R package FDboost; W. Raffelt, TU Munich) by the rate law here from a fresh 0.03
    Pa s. Source: Castro and Macosko, AIChE J. 28 (1982) 250 (from memory).

    >>> round(viscosity_growth(0.3, 0.58), 2)
    14.8

    Parameters
    ----------
    conversion : Conversion, 0 to below the gel's [-]
    conversion_gel : Conversion at the gel, above 0 to 1 [-]
    """
    require_between("conversion at gel", conversion_gel, 0.0, 1.0, open_low=True)
    require_between("conversion", conversion, 0.0, conversion_gel, open_high=True)
    return float((conversion_gel / (conversion_gel - conversion)) ** (2.5 + 4.0 * conversion))


@lru_cache(maxsize=64)
def conversion_thicker(times: float, conversion_gel: float) -> float:
    """Return the conversion, 0 to the gel's [-], at which a mix is so many times thicker than fresh, as warm as then.

    The inverse of `viscosity_growth`.

    >>> round(conversion_thicker(2.0, 0.58), 4)
    0.1203

    Parameters
    ----------
    times : Viscosity over the fresh mix's, 1 to 1e12 [-]
    conversion_gel : Conversion at the gel, above 0 to 1 [-]
    """
    require_between("thickening", times, 1.0, 1e12)

    def thicker(conversion: float) -> float:
        return inf if conversion >= conversion_gel else log(viscosity_growth(conversion, conversion_gel) / times)

    return first_at_or_above(thicker, 0.0, conversion_gel, 1e-15)


def _words(point: ViscosityPoint) -> str:
    return f"{viscosity(point.viscosity_Pa_s, 'g')} at {temperature(point.temperature_K, '.4g')}"


# -- flow ------------------------------------------------------------------------------------------------------------

WETS_OUT_PA_S = 2.0
"""Thicker than this, cloth does not wet out by hand (common practice, no source)."""
PERMEABILITY_m2 = 5e-11
"""Of pressed glass cloth along its plies at a fibre fraction of 0.5 (from memory: 1e-11 to 1e-10)."""
PERMEABILITY_LOG = log(10.0) / (2.0 * EIGHTY_PERCENT)
"""Standard deviation of its logarithm: those ends are taken for the 80 % band."""
PACKING_EXPONENT = 0.07
"""B of Vf = V100 (p/100 kPa)^B: the middle of what woven and stitched cloth have."""
LEAVES_SHARE = 0.9
"""Mix that leaves less than this share of what would have run out leaves too late (our own judgement, no source)."""
LEAVES_FACTOR = 0.848085
"""Terzaghi's time factor at that share."""
LEAST_TERM = 1e-17
"""From which on the terms of that sum are nothing beside the first."""
FLOW_PANELS = 2
"""Enough for 1e-5 of what may still flow."""
LEAST_LEFT_LOG, LEFT_NODES = -6.0, 40
"""How close to the gel the flow that is left is tabulated, and at how many places: for 1e-6 of what is left to it."""


@dataclass(frozen=True, slots=True)
class Squeeze:
    """A press on wet cloth: pressure on it, and how far the mix goes to the edge, half the part's width."""

    pressure_Pa: float
    path_m: float
    permeability_m2: float = PERMEABILITY_m2
    """Of the cloth along its plies."""

    @property
    def per_fluidity(self) -> float:
        """Return the time factor that one Pa^-1 of the integral of dt/viscosity is worth [Pa]."""
        return self.permeability_m2 * self.pressure_Pa / (PACKING_EXPONENT * self.path_m**2)


def wets_out_until_s(kinetics: Kinetics, fresh_Pa_s: float, temperature_K: float) -> float | None:
    """Return how long a film wets cloth from first contact [s]; None where it is too thick from the start: warm it."""
    if fresh_Pa_s >= WETS_OUT_PA_S:
        return None
    conversion = conversion_thicker(WETS_OUT_PA_S / fresh_Pa_s, kinetics.conversion_gel)
    return _until_s(kinetics, conversion, temperature_K)


def _until_s(kinetics: Kinetics, conversion: float, temperature_K: float) -> float:
    return reduced_time(kinetics, conversion) / kinetics.rate_constant_per_s(temperature_K)


def share_that_leaves(
    squeeze: Squeeze, kinetics: Kinetics, fresh_Pa_s: float, temperature_K: float, conversion_closing: float
) -> float:
    """Find how much of the mix that a press would drive out still leaves before the gel.

    The share of what would have run out of a mix that never sets, 0 to 1 [-].

    Terzaghi's consolidation with drained edges, U = 1 - 8/pi^2 sum exp(-(2i+1)^2 pi^2 Tv/4)/(2i+1)^2, its time factor
    Tv = K p/(B L^2) times the integral of dt/viscosity from closing to gel: Darcy's flow at the stiffness p/B of cloth
    that packs as Vf = V100 p^B. The viscosity grows with conversion; the part keeps its temperature. Source: T. G.
    Gutowski, Z. Cai et al., J. Compos. Mater. 21 (1987) 650; K. Terzaghi, Theoretical Soil Mechanics, 1943, chapter 13
    (both from memory).

    Parameters
    ----------
    fresh_Pa_s : Viscosity of the fresh mix at the part's temperature, above 0 [Pa s]
    temperature_K : Temperature of the part [K]
    conversion_closing : Conversion of the mix when the press closes, 0 to 1; none leaves from the gel on [-]
    """
    require_positive("viscosity", fresh_Pa_s, unit="Pa s")
    require_between("conversion at closing", conversion_closing, 0.0, 1.0)
    fluid = _fluid(kinetics, conversion_closing)
    if fluid <= 0.0:
        return 0.0
    factor = squeeze.per_fluidity * fluid / (fresh_Pa_s * kinetics.rate_constant_per_s(temperature_K))
    stays, odd = 0.0, 1
    while odd < 200 and (term := exp(-(odd**2) * pi**2 * factor / 4.0) / odd**2) > LEAST_TERM:
        stays, odd = stays + term, odd + 2
    return 1.0 - 8.0 / pi**2 * stays


def conversion_leaving(squeeze: Squeeze, kinetics: Kinetics, fresh_Pa_s: float, temperature_K: float) -> float | None:
    """Return the conversion [-] at which a press must be closed for `LEAVES_SHARE` to leave; None where it never does.

    0 to the gel's.

    Parameters
    ----------
    fresh_Pa_s : Viscosity of the fresh mix at the part's temperature, above 0 [Pa s]
    temperature_K : Temperature of the part [K]
    """
    wanted = LEAVES_FACTOR * fresh_Pa_s * kinetics.rate_constant_per_s(temperature_K) / squeeze.per_fluidity
    gel = kinetics.conversion_gel
    left, flow_log = _left_log(kinetics.a0, kinetics.m, kinetics.n, gel), log(wanted)
    if flow_log > left.x[-1]:
        return None
    beyond = min(flow_log - left.x[0], 0.0)  # so close to the gel it is straight
    return gel * (1.0 - exp(left(max(flow_log, left.x[0])) + beyond * left.slopes[0]))


@lru_cache(maxsize=64)
def _left_log(a0: float, m: float, n: float, gel: float) -> Curve:
    """Return ln of the share left to the gel against ln of what may still flow: all but straight, whatever the rate."""
    law = Kinetics(1.0, a0=a0, m=m, n=n, conversion_working=gel, conversion_gel=gel)
    logs = [LEAST_LEFT_LOG * (1.0 - i / LEFT_NODES) for i in range(LEFT_NODES + 1)]
    flows, slopes = [], []
    for left_log in logs:
        conversion = gel * (1.0 - exp(left_log))
        flows.append(_fluid(law, conversion))
        falls = 1.0 / (law.shape(conversion) * viscosity_growth(conversion, gel))
        slopes.append(flows[-1] / (falls * gel * exp(left_log)))
    return Curve(tuple(map(log, flows)), tuple(logs), tuple(slopes))


def squeezes_out_until_s(squeeze: Squeeze, kinetics: Kinetics, fresh_Pa_s: float, temperature_K: float) -> float | None:
    """Return until when after first contact enough of a film still leaves [s]; None where that is never so."""
    conversion = conversion_leaving(squeeze, kinetics, fresh_Pa_s, temperature_K)
    return None if conversion is None else _until_s(kinetics, conversion, temperature_K)


def _fluid(kinetics: Kinetics, conversion: float) -> float:
    """Return the integral of da/(f(a) growth(a)) from a conversion to the gel: how much a mix may still flow."""
    a0, gel = kinetics.a0, kinetics.conversion_gel
    if conversion >= gel:
        return 0.0
    return integral(
        lambda y: reduced_slope(kinetics, y) / viscosity_growth(unstretch(y, a0), gel),
        stretch(conversion, a0),
        stretch(gel, a0),
        FLOW_PANELS,
    )
