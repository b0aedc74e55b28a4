"""What pressure does to wet cloth: the fibre fraction to expect, and how far the stack still gives."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, sqrt
from typing import NamedTuple

from layup.chemistry.ranges import require_between, require_positive
from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.errors import InputError

REFERENCE_Pa = 100_000.0
LOWEST_Pa, HIGHEST_Pa = 5_000.0, 1_000_000.0
PRESSURE_SCATTER = 0.44
"""Between 22 laboratories the pressure for one fibre fraction scatters by 42 to 46 % (Yong et al., Composites A 200
(2026), abstract): a log-normal's coefficient of variation."""
SCATTER = exp(EIGHTY_PERCENT * sqrt(log(1.0 + PRESSURE_SCATTER**2)))
"""How many times more or less pressure than stated the ends of the middle 80 % are worth."""


@dataclass(frozen=True, slots=True)
class Cloth:
    """How one kind of cloth packs: fibre fraction by volume at 100 kPa, and the exponent of the power law."""

    name: str
    fraction_low: float
    fraction_high: float
    exponent_low: float
    exponent_high: float
    source: str


CLOTHS = {
    cloth.name: cloth
    for cloth in (
        Cloth("mat", 0.20, 0.32, 0.10, 0.20, "from memory"),
        Cloth(
            "woven",
            0.48,
            0.555,
            0.04,
            0.10,
            "so that its band holds 0.457 (wet bag, plain weave; Sussmann et al., Polymers 10 (2018) 992, derived) and "
            "0.578 (bagged plain weave; JoVE 2023, 65376, abstract); exponents from memory",
        ),
        Cloth("stitched", 0.50, 0.585, 0.04, 0.10, "from memory"),
        Cloth("unidirectional", 0.53, 0.62, 0.03, 0.08, "from memory"),
    )
}
"""Kinds of cloth -> how they pack."""


class Fraction(NamedTuple):
    """A band of fibre volume fractions [-]."""

    low: float
    high: float


def fibre_fraction_under_pressure(cloth: str, pressure_Pa: float) -> Fraction:
    """Find the fibre volume fraction to expect of cloth pressed while the resin can still run out.

    Parameters
    ----------
    cloth : str
        "mat", "woven", "stitched" or "unidirectional" [-]
    pressure_Pa : float
        Pressure on the cloth itself, 5 kPa to 1 MPa [Pa]

    Returns
    -------
    fraction : Fraction
        Low and high end of the band [-]

    Raises
    ------
    InputError
        For another kind of cloth.
    RangeError
        For a pressure outside its range.

    Notes
    -----
    Vf = V100 (p/100 kPa)^B, each end of the band with the V100 and B that make it widest, at as much less or more
    pressure as laboratories scatter. It holds where the resin
    is thin when the press closes, has a way out, and has time to take it; less resin than fills the cloth leaves
    voids at the same thickness. Where the edges are closed the resin carries the pressure and Vf is what was laid.

    References
    ----------
    The power law of preform compaction: F. Robitaille and R. Gauvin, Polym. Compos. 19 (1998) 198; constants as given
    beside each kind of cloth in `CLOTHS`.

    Examples
    --------
    >>> tuple(round(end, 3) for end in fibre_fraction_under_pressure("woven", 100_000.0))
    (0.455, 0.586)
    """
    packing = _cloth(cloth)
    _require_pressure(pressure_Pa)
    flat, steep = packing.exponent_low, packing.exponent_high
    less, more = (pressure_Pa / REFERENCE_Pa * factor for factor in (1.0 / SCATTER, SCATTER))
    return Fraction(
        packing.fraction_low * min(less**flat, less**steep), packing.fraction_high * max(more**flat, more**steep)
    )


def bed_give_m(cloth: str, laminate_m: float) -> float:
    """Find how far wet cloth gives while the pressure on it changes, per relative change of pressure.

    Parameters
    ----------
    cloth : str
        "mat", "woven", "stitched" or "unidirectional" [-]
    laminate_m : float
        Thickness of all cloth between caul and mould, both skins together, above 0 to 0.05 [m]

    Returns
    -------
    give_m : float
        -dh/d(ln p), the lower end of it: the cloth that gives least asks most of the caul [m]

    Raises
    ------
    InputError
        For another kind of cloth.
    RangeError
        For a thickness outside its range.

    Notes
    -----
    With Vf = A p^B and Vf h fixed, dh = -B h dp/p. Core, rubber and mould give as well; leaving them out errs on the
    side of more clamps.

    Examples
    --------
    >>> round(bed_give_m("woven", 0.002) * 1e6)
    80
    """
    require_between("laminate thickness", laminate_m, 0.0, 0.05, unit="m", open_low=True)
    return _cloth(cloth).exponent_low * laminate_m


def _cloth(name: str) -> Cloth:
    if name not in CLOTHS:
        raise InputError("cloth", "is not a kind known here", value=name, allowed=f"one of {', '.join(CLOTHS)}")
    return CLOTHS[name]


def _require_pressure(pressure_Pa: float) -> None:
    require_positive("pressure", pressure_Pa, unit="Pa")
    require_between("pressure", pressure_Pa, LOWEST_Pa, HIGHEST_Pa, unit="Pa", source="hand clamps to a strong bladder")
