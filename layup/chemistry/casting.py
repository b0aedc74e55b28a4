"""Cast sidewalls and tips: how much, in how many pours, in which colours, and when each is due.

The home of the names that others call; what moisture and isocyanates do is in `foam`.

What water does to a urethane, and what an isocyanate may do to you.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K
from layup.chemistry.ranges import require_between, require_positive
from layup.errors import RangeError

# -- foam ------------------------------------------------------------------------------------------------------------

WATER_g_mol = 18.015
AIR_Pa = 101_325.0

DRY_WOOD, DAMP_AIR = 0.10, 0.65
"""Wood moisture and humidity from which on a urethane is likely to foam (common practice, no source)."""

ISOCYANATE_CAUTIONS = (
    "The safety data sheet comes first.",
    "Isocyanates can make you allergic for life, by skin or breath: gloves, goggles, long sleeves, moving fresh air.",
    "Never heat, spray or sand it uncured without the breathing protection that its safety data sheet names.",
    "Once you are allergic, stop for good: the next breath may be an emergency.",
    "Keep water out of the cans: a closed wet can of isocyanate builds pressure.",
    "A thick pour heats itself: pour in steps, and never leave a full cup standing.",
)


def foam_volume_m3(water_g: float, temperature_K: float) -> float:
    """Find how much gas water makes in a urethane.

    Notes
    -----
    R-NCO + H2O -> R-NH2 + CO2: one mole of gas for each mole of water, V = n R T/p.

    Examples
    --------
    >>> round(foam_volume_m3(0.1, 298.15) * 1e6)
    136
    """
    require_between("water", water_g, 0.0, float("inf"), unit="g", open_high=True)
    require_between("temperature of the mix", temperature_K, 250.0, 400.0, unit="K")
    return water_g / WATER_g_mol * GAS_CONSTANT_J_MOL_K * temperature_K / AIR_Pa


def moisture_warnings(wood_moisture: float | None, relative_humidity: float | None) -> tuple[str, ...]:
    """Say what in the shop may foam a urethane.

    Parameters
    ----------
    wood_moisture : float or None
        Water in the wood over its dry mass, 0 to 1; None where it was not measured [-]
    relative_humidity : float or None
        Relative humidity of the air, 0 to 1; None where it was not measured [-]

    Returns
    -------
    warnings : tuple of str
        One sentence for each thing to mind [-]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    Wood above 10 % and air above 65 % are likely to foam a urethane (common practice, no source).

    Examples
    --------
    >>> moisture_warnings(0.08, 0.5)
    ()
    """
    warnings = []
    if wood_moisture is None:
        warnings.append("Measure the wood: water in it foams a urethane. Dry it to 10 % or less, and seal the channel.")
    elif require_between("wood moisture", wood_moisture, 0.0, 1.0, todo="a share, 0.08 for 8 %") > DRY_WOOD:
        warnings.append(
            f"The wood holds {100 * wood_moisture:.0f} % water: dry it to 10 % or less, or seal the channel first."
        )
    if relative_humidity is not None:
        humidity = require_between("relative humidity", relative_humidity, 0.0, 1.0, todo="a share, 0.5 for 50 %")
        if humidity > DAMP_AIR:
            warnings.append(
                f"The air is damp ({100 * humidity:.0f} %): open cans and pigments briefly, and pour at once."
            )
    return tuple(warnings)


# -- casting ---------------------------------------------------------------------------------------------------------

__all__ = [
    "ISOCYANATE_CAUTIONS",
    "SHARE_OF_LIFE",
    "Life",
    "Pour",
    "cast_mass_g",
    "channel_volume_m3",
    "colour_steps",
    "foam_volume_m3",
    "moisture_warnings",
    "split_pours",
    "trapezium_m2",
]

SHARE_OF_LIFE = 0.7
"""A pour is to be out of its cup by this share of its working time (common practice, no source)."""

Life = Callable[[float], float]
"""Working time [s] of a mass [g] in its cup: the low end of its band."""


@dataclass(frozen=True, slots=True)
class Pour:
    """One pour, in seconds from the start of the casting."""

    number: int
    mass_g: float
    mix_s: float
    """When its mixing starts."""
    poured_s: float
    """When it is out of the cup."""
    due_s: float
    """When it must be out of the cup."""

    @property
    def margin_s(self) -> float:
        """Return the time to spare before it is due [s]."""
        return self.due_s - self.poured_s


def trapezium_m2(top_m: float, bottom_m: float, depth_m: float) -> float:
    """Find the section of a channel with sloping walls.

    Examples
    --------
    >>> round(trapezium_m2(0.010, 0.006, 0.012) * 1e6)
    96
    """
    require_positive("width at the top", top_m, unit="m")
    require_between("width at the bottom", bottom_m, 0.0, float("inf"), unit="m", open_high=True)
    require_positive("depth of the channel", depth_m, unit="m")
    return 0.5 * (top_m + bottom_m) * depth_m


def channel_volume_m3(path_m: Sequence[tuple[float, float]], section_m2: float) -> float:
    """Find the volume of a channel from the path of its middle line and its section.

    Notes
    -----
    V = A L with L along the centroid of the section (second theorem of Pappus and Guldinus).

    Examples
    --------
    >>> round(channel_volume_m3([(0.0, 0.0), (1.6, 0.0)], 96e-6) * 1e6, 1)
    153.6
    """
    require_positive("section of the channel", section_m2, unit="m^2")
    if len(path_m) < 2:
        raise RangeError("path of the channel", "has too few points", value=len(path_m), allowed="two or more")
    length_m = sum(((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5 for (x1, y1), (x2, y2) in pairwise(path_m))
    require_positive("length of the channel", length_m, unit="m")
    return float(length_m * section_m2)


def cast_mass_g(volume_m3: float, density_g_cm3: float, waste: float = 0.1) -> float:
    """Find how much to mix for a casting.

    Examples
    --------
    >>> round(cast_mass_g(153.6e-6, 1.08), 1)
    182.5
    """
    require_positive("volume of the casting", volume_m3, unit="m^3")
    require_between("density of the mix", density_g_cm3, 0.3, 5.0, unit="g/cm^3")
    require_between("waste", waste, 0.0, 1.0, todo="a share, 0.1 for 10 %")
    return volume_m3 * 1e6 * density_g_cm3 * (1.0 + waste)


def split_pours(
    mass_g: float,
    life: Life,
    *,
    mixing_s: float,
    pouring_s: float,
    at_least: int = 1,
    between_s: float = 0.0,
    smallest_g: float = 0.0,
) -> tuple[Pour, ...]:
    """Find the fewest equal pours of which each leaves its cup in time.

    Parameters
    ----------
    mass_g : float
        Mass of the whole casting, above 0 [g]
    life : callable
        Working time of a mass in its cup, low end of its band: mass in g -> time in s [s]
    mixing_s : float
        Time to weigh the second part in, stir and scrape: it runs on the pour's clock, above 0 [s]
    pouring_s : float
        Time to pour the whole casting out of its cups, above 0 [s]
    at_least : int
        Fewest pours wanted, for colours or depth, 1 to 200 [-]
    between_s : float
        Time to wait from one pour out of the cup to the next mixing, as until the last has gelled; 0 or more [s]
    smallest_g : float
        Least mass that the scale can weigh on ratio, 0 or more [g]

    Returns
    -------
    pours : tuple of Pour
        The pours in order; empty where none that can be weighed leaves its cup in time [-]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    A pour must be out by 0.7 of its working time (common practice, no source). A smaller pour lives longer and is out
    sooner, so the first number of pours that works is the fewest.

    Examples
    --------
    >>> [round(pour.mass_g) for pour in split_pours(600.0, lambda mass_g: 400.0, mixing_s=60.0, pouring_s=600.0)]
    [200, 200, 200]
    """
    require_positive("mass of the casting", mass_g, unit="g")
    require_positive("mixing time", mixing_s, unit="s")
    require_positive("time to pour it all", pouring_s, unit="s")
    require_between("number of pours", at_least, 1, 200)
    require_between("wait between pours", between_s, 0.0, float("inf"), unit="s", open_high=True)
    require_between("smallest pour", smallest_g, 0.0, float("inf"), unit="g", open_high=True)
    for count in range(at_least, 201):
        each_g = mass_g / count
        if each_g < smallest_g:
            return ()
        allowed_s = SHARE_OF_LIFE * life(each_g)
        cup_s = mixing_s + pouring_s / count
        if cup_s <= allowed_s:
            starts = (i * (cup_s + between_s) for i in range(count))
            return tuple(Pour(i, each_g, at, at + cup_s, at + allowed_s) for i, at in enumerate(starts, 1))
    return ()


def colour_steps(masses_g: Sequence[float], loading: float, limit: float) -> tuple[tuple[float, float], ...]:
    """Find the grams of two pigments in each pour for a fade from one to the other.

    Parameters
    ----------
    masses_g : sequence of float
        Mix in each pour, in order, two or more, each above 0 [g]
    loading : float
        Pigment paste in all over the mix it goes into, above 0 to the limit [-]
    limit : float
        The maker's limit for that, above 0 to 0.5 [-]

    Returns
    -------
    pigments : tuple of (float, float)
        First and second pigment of each pour; all the first in the first pour, all the second in the last [g]

    Raises
    ------
    RangeError
        For fewer than two pours, or a loading beyond the maker's limit.

    Notes
    -----
    The share of the second pigment rises in equal steps, i/(n-1); loading stays the same, so that hardness and cure do.
    The pigment comes on top of the mix.

    Examples
    --------
    >>> colour_steps([100.0, 100.0, 100.0], 0.03, 0.05)
    ((3.0, 0.0), (1.5, 1.5), (0.0, 3.0))
    """
    if len(masses_g) < 2:
        raise RangeError("colour steps", "need more than one pour", value=len(masses_g), allowed="two or more")
    for mass_g in masses_g:
        require_positive("mass of a pour", mass_g, unit="g")
    require_between("the maker's limit for pigment", limit, 0.0, 0.5, open_low=True, todo="a share, 0.05 for 5 %")
    require_between(
        "pigment loading",
        loading,
        0.0,
        limit,
        open_low=True,
        source="the pigment maker's limit",
        todo="more pigment spoils the cure; take a stronger paste",
    )
    last = len(masses_g) - 1
    return tuple(
        (loading * mass_g * (last - i) / last, loading * mass_g * i / last) for i, mass_g in enumerate(masses_g)
    )
