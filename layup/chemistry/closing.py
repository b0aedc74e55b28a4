"""Pressure on the part and the force behind it: clamps, bolts, a bladder, a vacuum bag, and what it does to wet cloth.

The fibre fraction to expect and how far the stack still gives; in what order to close a press, and what to mind.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, sqrt
from typing import NamedTuple

from layup.chemistry.numerics import require_between, require_positive
from layup.chemistry.uncertainty import EIGHTY_PERCENT, Band
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


_WOVEN = (
    "so that its band holds 0.457 (wet bag, plain weave; Sussmann et al., Polymers 10 (2018) 992, derived) and 0.578 "
    "(bagged plain weave; JoVE 2023, 65376, abstract); exponents from memory"
)
CLOTHS = {
    cloth.name: cloth
    for cloth in (
        Cloth("mat", 0.20, 0.32, 0.10, 0.20, "from memory"),
        Cloth("woven", 0.48, 0.555, 0.04, 0.10, _WOVEN),
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

    Low and high end of the band. Raises InputError for another kind of cloth.

    Vf = V100 (p/100 kPa)^B, each end of the band with the V100 and B that make it widest, at as much less or more
    pressure as laboratories scatter. It holds where the resin is thin when the press closes, has a way out, and has
    time to take it; less resin than fills the cloth leaves voids at the same thickness. Where the edges are closed the
    resin carries the pressure and Vf is what was laid. Source: F. Robitaille and R. Gauvin, Polym. Compos. 19 (1998)
    198, the power law of preform compaction; constants as given beside each kind of cloth in `CLOTHS`.

    >>> tuple(round(end, 3) for end in fibre_fraction_under_pressure("woven", 100_000.0))
    (0.455, 0.586)

    Parameters
    ----------
    cloth : "mat", "woven", "stitched" or "unidirectional" [-]
    pressure_Pa : Pressure on the cloth itself, 5 kPa to 1 MPa [Pa]
    """
    packing = _cloth(cloth)
    require_between("pressure", pressure_Pa, LOWEST_Pa, HIGHEST_Pa, unit="Pa", source="hand clamps to a strong bladder")
    flat, steep = packing.exponent_low, packing.exponent_high
    less, more = (pressure_Pa / REFERENCE_Pa * factor for factor in (1.0 / SCATTER, SCATTER))
    return Fraction(
        packing.fraction_low * min(less**flat, less**steep), packing.fraction_high * max(more**flat, more**steep)
    )


def bed_give_m(cloth: str, laminate_m: float) -> float:
    """Find how far wet cloth gives while the pressure on it changes, per relative change of pressure.

    -dh/d(ln p), the lower end of it: the cloth that gives least asks most of the caul. Raises InputError for another
    kind of cloth.

    With Vf = A p^B and Vf h fixed, dh = -B h dp/p. Core, rubber and mould give as well; leaving them out errs on the
    side of more clamps.

    >>> round(bed_give_m("woven", 0.002) * 1e6)
    80

    Parameters
    ----------
    cloth : "mat", "woven", "stitched" or "unidirectional" [-]
    laminate_m : Thickness of all cloth between caul and mould, both skins together, above 0 to 0.05 [m]
    """
    require_between("laminate thickness", laminate_m, 0.0, 0.05, unit="m", open_low=True)
    return _cloth(cloth).exponent_low * laminate_m


def _cloth(name: str) -> Cloth:
    if name not in CLOTHS:
        raise InputError("cloth", "is not a kind known here", value=name, allowed=f"one of {', '.join(CLOTHS)}")
    return CLOTHS[name]


# -- closing care ----------------------------------------------------------------------------------------------------

_CLAMP_CAUTIONS = (
    "Clamps hold energy: stand beside them, fingers out from under the caul.",
    "Never beyond the clamp's rating; no pipe on its handle.",
    "Snug all, then tighten in rounds: pressed at one end first, a part slides or wrinkles.",
    "Go round again after 5 and 15 minutes: resin leaves and the force falls.",
)
TRAPPED = "Let excess resin out at both long edges: behind a closed edge it carries the pressure, not the cloth."
CAUTIONS: dict[str, tuple[str, ...]] = {
    "clamps": (*_CLAMP_CAUTIONS, TRAPPED),
    "bolts": (
        *_CLAMP_CAUTIONS,
        "One torque gives forces 30 % apart, and oil doubles them: keep threads alike.",
        TRAPPED,
    ),
    "bladder": (
        "A bladder is a pressure vessel: never beyond its rating.",
        "Bolt shut before air goes in; gauge at zero before unbolting.",
        "Air in steps, from beside the press.",
        "Frame: built for this force?",
        TRAPPED,
    ),
    "bag": (
        "Pump off, watch the gauge ten minutes: a leak draws air through the laminate.",
        "A bag presses from all sides: a hollow mould or a light core may collapse.",
        "Full vacuum foams some resins while they are thin: ask the datasheet.",
        "A resin trap keeps the pump alive; stay near a running pump.",
    ),
}
"""What to mind for each way of closing (common practice, no source)."""
AGAIN_s: dict[str, tuple[float, ...]] = {
    "clamps": (300.0, 900.0),
    "bolts": (300.0, 900.0),
    "bladder": (300.0,),
    "bag": (600.0,),
}
"""How long after closing to go round again, or to look whether the pressure holds (common practice, no source)."""


def clamp_order(count: int) -> tuple[int, ...]:
    """Find the order in which to tighten a row of clamps.

    Their numbers from one end, 1 to `count` [-]: from the middle outwards, to and fro, so that resin and air have a way
    out (common practice, no source).

    >>> clamp_order(6)
    (3, 4, 2, 5, 1, 6)

    Parameters
    ----------
    count : How many stand in the row, 1 or more [-]
    """
    middle = (count + 1) / 2.0
    return tuple(sorted(range(1, count + 1), key=lambda number: (abs(number - middle), number)))


# -- closing ---------------------------------------------------------------------------------------------------------

NUT_FACTOR = 0.2
"""K of a dry steel bolt; 0.10 lubricated to 0.30 gritty (Mechanical Fastening, Joining, and Assembly)."""
TORQUE_SCATTER = 0.30
"""Scatter of the force that a torque wrench gives, 25 to 30 % (from memory)."""


def bolt_force_N(torque_Nm: float, diameter_m: float, nut_factor: float = NUT_FACTOR) -> Band:
    """Find the force of a bolt tightened to a torque. Force, with 30 % to each side for the scatter of a torque wrench.

    F = T/(K d). The scatter is that of one known K; not knowing K can double or halve the force. Source: Mechanical
    Fastening, Joining, and Assembly (T = K d F, K 0.10 to 0.30); the scatter of 25 to 30 % from memory.

    >>> round(bolt_force_N(10.0, 0.008).likely)
    6250

    Parameters
    ----------
    torque_Nm : Tightening torque, above 0 [N m]
    diameter_m : Nominal diameter of the thread, 0.002 to 0.064 [m]
    nut_factor : K: 0.2 for dry steel, 0.10 lubricated to 0.30 gritty; 0.05 to 0.5 [-]
    """
    require_positive("torque", torque_Nm, unit="N m")
    _require_thread(diameter_m, nut_factor)
    likely_N = torque_Nm / (nut_factor * diameter_m)
    return Band(likely_N * (1.0 - TORQUE_SCATTER), likely_N, likely_N * (1.0 + TORQUE_SCATTER))


def bolt_torque_Nm(force_N: float, diameter_m: float, nut_factor: float = NUT_FACTOR) -> float:
    """Find the torque that gives a bolt a force, T = K d F [N m].

    >>> bolt_torque_Nm(6250.0, 0.008)
    10.0

    Parameters
    ----------
    force_N : Force wanted, above 0 [N]
    diameter_m : Nominal diameter of the thread, 0.002 to 0.064 [m]
    nut_factor : K, 0.05 to 0.5 [-]
    """
    require_positive("force", force_N, unit="N")
    _require_thread(diameter_m, nut_factor)
    return nut_factor * diameter_m * force_N


def standard_atmosphere_Pa(altitude_m: float) -> float:
    """Find the pressure of the standard atmosphere.

    p = 101325 (1 - 0.0065 H/288.15)^5.25588 Pa, with the geopotential height H = r z/(r + z), r = 6356.766 km. Source:
    ISO 2533, Standard Atmosphere; U.S. Standard Atmosphere, 1976.

    >>> round(standard_atmosphere_Pa(2000.0))
    79501
    """
    require_between("altitude", altitude_m, -500.0, 9000.0, unit="m")
    height_m = 6_356_766.0 * altitude_m / (6_356_766.0 + altitude_m)
    return float(101_325.0 * (1.0 - 0.0065 * height_m / 288.15) ** (9.80665 / (287.05287 * 0.0065)))


def bag_pressure_Pa(altitude_m: float, left_Pa: float) -> float:
    """Find how hard a vacuum bag presses.

    Raises RangeError for a value outside its range, as where a gauge reading is given in place of the pressure left.
    Local pressure less what the pump leaves.

    >>> round(bag_pressure_Pa(500.0, 10_000.0))
    85461

    Parameters
    ----------
    altitude_m : Height of the shop above the sea, -500 to 9000 [m]
    left_Pa : Absolute pressure that the pump leaves in the bag, 0 to below the air's [Pa]
    """
    air_Pa = standard_atmosphere_Pa(altitude_m)
    todo = "give the absolute pressure in the bag: local air less what a vacuum gauge shows"
    require_between("pressure left in the bag", left_Pa, 0.0, air_Pa, unit="Pa", todo=todo, open_high=True)
    return air_Pa - left_Pa


def press_force_N(pressure_Pa: float, area_m2: float) -> float:
    """Find the force that a pressure puts on a part, and on the press that holds it.

    F = p A

    >>> round(press_force_N(100_000.0, 0.05 * 0.6))
    3000

    Parameters
    ----------
    pressure_Pa : Pressure on the part, or in the bladder above the air's, above 0 [Pa]
    area_m2 : Area pressed: of the part under clamps, of the bladder's contact under a bladder, above 0 [m^2]
    """
    require_positive("pressure", pressure_Pa, unit="Pa")
    require_positive("area pressed", area_m2, unit="m^2")
    return pressure_Pa * area_m2


def _require_thread(diameter_m: float, nut_factor: float) -> None:
    require_between("thread diameter", diameter_m, 0.002, 0.064, unit="m", todo="the nominal diameter, 8 mm for M8")
    require_between("nut factor (K)", nut_factor, 0.05, 0.5, source="0.10 lubricated to 0.30 gritty")
