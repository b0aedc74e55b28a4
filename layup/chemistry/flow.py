"""Until when mix on the part still wets cloth, and until when it still leaves under the press."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, pi

from layup.chemistry.kinetics import Kinetics, reduced_time
from layup.chemistry.ranges import require_between, require_positive
from layup.chemistry.viscosity import conversion_thicker, viscosity_growth

WETS_OUT_PA_S = 2.0
"""Thicker than this, cloth does not wet out by hand (common practice, no source)."""
PERMEABILITY_m2 = 5e-11
"""Of pressed glass cloth along its plies at a fibre fraction of 0.5 (from memory: 1e-11 to 1e-10)."""
PACKING_EXPONENT = 0.07
"""B of Vf = V100 (p/100 kPa)^B: the middle of what woven and stitched cloth have."""
LEAVES_SHARE = 0.9
"""Mix that leaves less than this share of what would have run out leaves too late (our own judgement, no source)."""
PIECES = 64


@dataclass(frozen=True, slots=True)
class Squeeze:
    """A press on wet cloth: pressure on it, and how far the mix goes to the edge, half the part's width."""

    pressure_Pa: float
    path_m: float

    def __post_init__(self) -> None:
        require_positive("pressure", self.pressure_Pa, unit="Pa")
        require_positive("way out", self.path_m, unit="m")

    @property
    def per_fluidity(self) -> float:
        """Return the time factor that one Pa^-1 of the integral of dt/viscosity is worth [Pa]."""
        return PERMEABILITY_m2 * self.pressure_Pa / (PACKING_EXPONENT * self.path_m**2)


def wets_out_until_s(kinetics: Kinetics, fresh_Pa_s: float, temperature_K: float) -> float | None:
    """Return how long a film wets cloth from first contact [s]; None where it is too thick from the start: warm it.

    Parameters
    ----------
    kinetics : Kinetics
        The rate law [-]
    fresh_Pa_s : float
        Viscosity of the fresh mix at that temperature, above 0 [Pa s]
    temperature_K : float
        Temperature of the part [K]

    Returns
    -------
    float | None
        Time from first contact to 2 Pa s [s]
    """
    if fresh_Pa_s >= WETS_OUT_PA_S:
        return None
    conversion = conversion_thicker(WETS_OUT_PA_S / fresh_Pa_s, kinetics.conversion_gel)
    return reduced_time(kinetics, conversion) / kinetics.rate_constant_per_s(temperature_K)


def share_that_leaves(
    squeeze: Squeeze, kinetics: Kinetics, fresh_Pa_s: float, temperature_K: float, conversion_closing: float
) -> float:
    """Find how much of the mix that a press would drive out still leaves before the gel.

    Parameters
    ----------
    squeeze : Squeeze
        Pressure, and the way to the edge [-]
    kinetics : Kinetics
        The rate law [-]
    fresh_Pa_s : float
        Viscosity of the fresh mix at the part's temperature, above 0 [Pa s]
    temperature_K : float
        Temperature of the part [K]
    conversion_closing : float
        Conversion of the mix when the press closes, 0 to 1; none leaves from the gel on [-]

    Returns
    -------
    share : float
        Share of what would have run out of a mix that never sets, 0 to 1 [-]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    Terzaghi's consolidation with drained edges, U = 1 - 8/pi^2 sum exp(-(2i+1)^2 pi^2 Tv/4)/(2i+1)^2, its time factor
    Tv = K p/(B L^2) times the integral of dt/viscosity from closing to gel: Darcy's flow at the stiffness p/B of cloth
    that packs as Vf = V100 p^B. The viscosity grows with conversion; the part keeps its temperature.

    References
    ----------
    T. G. Gutowski, Z. Cai et al., J. Compos. Mater. 21 (1987) 650; K. Terzaghi, Theoretical Soil Mechanics, 1943,
    chapter 13 (both from memory).
    """
    require_positive("viscosity", fresh_Pa_s, unit="Pa s")
    require_between("conversion at closing", conversion_closing, 0.0, 1.0)
    gel = kinetics.conversion_gel
    if conversion_closing >= gel:
        return 0.0
    width = (gel - conversion_closing) / PIECES
    middles = (conversion_closing + (piece + 0.5) * width for piece in range(PIECES))
    fluid = sum(width / (kinetics.shape(a) * viscosity_growth(a, gel)) for a in middles)
    factor = squeeze.per_fluidity * fluid / (fresh_Pa_s * kinetics.rate_constant_per_s(temperature_K))
    return 1.0 - 8.0 / pi**2 * sum(exp(-(odd**2) * pi**2 * factor / 4.0) / odd**2 for odd in range(1, 200, 2))


def squeezes_out_until_s(squeeze: Squeeze, kinetics: Kinetics, fresh_Pa_s: float, temperature_K: float) -> float | None:
    """Return until when after first contact enough still leaves [s]; None where that is never so."""

    def enough(conversion: float) -> bool:
        return share_that_leaves(squeeze, kinetics, fresh_Pa_s, temperature_K, conversion) >= LEAVES_SHARE

    if not enough(0.0):
        return None
    low, high = 0.0, kinetics.conversion_gel
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if enough(middle) else (low, middle)
    return reduced_time(kinetics, low) / kinetics.rate_constant_per_s(temperature_K)
