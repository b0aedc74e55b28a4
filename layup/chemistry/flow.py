"""Until when mix on the part still wets cloth, and until when it still leaves under the press."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import exp, hypot, log, pi
from typing import NamedTuple

from layup.chemistry.calibration import Calibration
from layup.chemistry.film import film_life_s
from layup.chemistry.kinetics import Kinetics, reduced_slope, reduced_time, stretch, unstretch
from layup.chemistry.life_band import log_sds
from layup.chemistry.numerics import first_at_or_above, integral
from layup.chemistry.ranges import require_between, require_positive
from layup.chemistry.uncertainty import EIGHTY_PERCENT, SHORTEST_S, Band, Use
from layup.chemistry.viscosity import conversion_thicker, viscosity_growth

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
FLOW_PANELS = 2
"""Enough for 1e-5 of what may still flow."""
CLOSE_LOG = 1e-6
"""How closely a conversion is found, as a share of what is left from it to the gel."""


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
    """Return how long a film wets cloth from first contact [s]; None where it is too thick from the start: warm it."""
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
    fluid = _fluid(kinetics, conversion_closing)
    if fluid <= 0.0:
        return 0.0
    factor = squeeze.per_fluidity * fluid / (fresh_Pa_s * kinetics.rate_constant_per_s(temperature_K))
    return 1.0 - 8.0 / pi**2 * sum(exp(-(odd**2) * pi**2 * factor / 4.0) / odd**2 for odd in range(1, 200, 2))


@lru_cache(maxsize=256)
def conversion_leaving(squeeze: Squeeze, kinetics: Kinetics, fresh_Pa_s: float, temperature_K: float) -> float | None:
    """Return the conversion at which a press must be closed for `LEAVES_SHARE` to leave; None where it never does.

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

    Returns
    -------
    float | None
        Conversion, 0 to the gel's [-]
    """
    require_positive("viscosity", fresh_Pa_s, unit="Pa s")
    wanted = LEAVES_FACTOR * fresh_Pa_s * kinetics.rate_constant_per_s(temperature_K) / squeeze.per_fluidity
    flows, gel = _fluid(kinetics, 0.0), kinetics.conversion_gel
    if flows < wanted:
        return None

    def more(log_left: float) -> float:
        """Return by how much more may flow than is wanted, with so much left to the gel: straight, but for a little."""
        return log(_fluid(kinetics, gel * (1.0 - exp(log_left))) / wanted)

    spare = log(flows / wanted)
    return gel * (1.0 - exp(first_at_or_above(more, -spare, 0.0, CLOSE_LOG, at_high=spare)))


def squeezes_out_until_s(squeeze: Squeeze, kinetics: Kinetics, fresh_Pa_s: float, temperature_K: float) -> float | None:
    """Return until when after first contact enough of a film still leaves [s]; None where that is never so."""
    conversion = conversion_leaving(squeeze, kinetics, fresh_Pa_s, temperature_K)
    if conversion is None:
        return None
    return reduced_time(kinetics, conversion) / kinetics.rate_constant_per_s(temperature_K)


class FilmFlow(NamedTuple):
    """Until when a film wets cloth and leaves under a press, each None where it starts too thick; and stays open."""

    wets: Band | None
    leaves: Band | None
    open: Band


@lru_cache(maxsize=64)
def film_flow(calibration: Calibration, squeeze: Squeeze, fresh_Pa_s: float, temperature_K: float) -> FilmFlow:
    """Return until when a film flows, with the 80 % bands.

    Parameters
    ----------
    calibration : Calibration
        The calibrated resin [-]
    squeeze : Squeeze
        Pressure, and the way to the edge [-]
    fresh_Pa_s : float
        Viscosity of the fresh mix at the part's temperature, above 0 [Pa s]
    temperature_K : float
        Temperature of the part [K]

    Returns
    -------
    FilmFlow
        Times from first contact [s]
    """

    def leaves_s(kinetics: Kinetics, permeable: float = 1.0) -> float | None:
        # a bed twice as open is as good as a mix half as thick
        return squeezes_out_until_s(squeeze, kinetics, fresh_Pa_s / permeable, temperature_K)

    def times_s(kinetics: Kinetics, _: Use) -> tuple[float, ...]:
        wets_s = wets_out_until_s(kinetics, fresh_Pa_s, temperature_K)
        return wets_s or SHORTEST_S, leaves_s(kinetics) or SHORTEST_S, film_life_s(kinetics, temperature_K)

    law = calibration.kinetics
    wets_log, leaves_log, open_log = log_sds(calibration, times_s)
    open_s, tight_s = (leaves_s(law, exp(half * PERMEABILITY_LOG)) or SHORTEST_S for half in (0.5, -0.5))
    open_until = _until(film_life_s(law, temperature_K), open_log)
    assert open_until is not None
    return FilmFlow(
        _until(wets_out_until_s(law, fresh_Pa_s, temperature_K), wets_log),
        _until(leaves_s(law), hypot(leaves_log, log(open_s / tight_s))),
        open_until,
    )


def _until(likely_s: float | None, log_sd: float) -> Band | None:
    return None if likely_s is None else Band.around(likely_s, log_sd)


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
