"""Mix ratios as numbers: between mass and volume, over a batch, against what was poured; and stoichiometry."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from layup.chemistry.numerics import require_between, require_positive
from layup.errors import RangeError

# -- ratio -----------------------------------------------------------------------------------------------------------

LARGEST_MASS_G = 1e6
"""A tonne: far above any cup; what is above it was typed in other units."""


def require_parts(parts: Sequence[float]) -> None:
    """Check that a ratio has at least two parts, and none of them is nothing."""
    if len(parts) < 2:
        raise RangeError("ratio", "needs a part of resin and a part of hardener", value=f"parts given: {len(parts)}")
    for part in parts:
        require_between("ratio", part, 0.001, 100_000.0, todo="give the datasheet's own numbers, as in 100:30")


def require_poured(poured_g: Sequence[float], parts: Sequence[float]) -> None:
    """Check that there is one poured mass for each part of a ratio."""
    require_parts(parts)
    if len(poured_g) != len(parts):
        raise RangeError("poured mass", "every part needs one mass", value=f"{len(poured_g)} for {len(parts)} parts")
    for mass_g in poured_g:
        require_between("poured mass", mass_g, 0.0, LARGEST_MASS_G, unit="g")


def ratio_by_weight_to_volume(parts: Sequence[float], densities: Sequence[float]) -> tuple[float, ...]:
    """Convert a ratio by weight to parts by volume of the same mix [-], with the resin's number unchanged.

    Raises RangeError for a value outside its range, or lists of different lengths.

    v_i = p_i r_resin / r_i

    >>> [round(part, 2) for part in ratio_by_weight_to_volume((100, 30), (1.15, 0.97))]
    [100.0, 35.57]

    Parameters
    ----------
    parts : Parts by mass, resin first, 0.001 to 100 000 each [-]
    densities : Density of each component, 0.3 to 5 [g/cm^3]
    """
    _require_densities(parts, densities)
    return tuple(part * densities[0] / density for part, density in zip(parts, densities, strict=True))


def ratio_by_volume_to_weight(parts: Sequence[float], densities: Sequence[float]) -> tuple[float, ...]:
    """Convert a ratio by volume to parts by mass of the same mix [-], with the resin's number unchanged.

    Raises RangeError for a value outside its range, or lists of different lengths.

    p_i = v_i r_i / r_resin

    >>> [round(part, 2) for part in ratio_by_volume_to_weight((100, 50), (1.15, 0.97))]
    [100.0, 42.17]

    Parameters
    ----------
    parts : Parts by volume, resin first, 0.001 to 100 000 each [-]
    densities : Density of each component, 0.3 to 5 [g/cm^3]
    """
    _require_densities(parts, densities)
    return tuple(part * density / densities[0] for part, density in zip(parts, densities, strict=True))


def split_mass(total_g: float, parts: Sequence[float]) -> tuple[float, ...]:
    """Split a batch over its components, the mass of each [g].

    m_i = M p_i / sum(p)

    >>> split_mass(260.0, (100, 30))
    (200.0, 60.0)

    Parameters
    ----------
    total_g : Mass of the batch, above 0, at most 1 000 000 [g]
    parts : Parts by mass, resin first, 0.001 to 100 000 each [-]
    """
    require_between("batch mass", total_g, 0.0, LARGEST_MASS_G, unit="g", open_low=True)
    require_parts(parts)
    whole = sum(parts)
    return tuple(total_g * (part / whole) for part in parts)


def off_ratio(poured_g: Sequence[float], parts: Sequence[float]) -> float:
    """Find how far a poured mix is off its stated ratio.

    0 on ratio, +0.05 for 5 % too much hardener for the resin, -1 for none [-]; of more than two components, the one
    furthest off. Raises RangeError for a value outside its range, or lists of different lengths.

    off = (h/r) / (H/R) - 1, with h and r as poured and H and R as stated.

    >>> round(off_ratio((100.0, 33.0), (100, 30)), 6)
    0.1

    Parameters
    ----------
    poured_g : Mass of each component in the cup, resin above 0, the others 0 or more [g]
    parts : Parts by mass, in the same order, 0.001 to 100 000 each [-]
    """
    require_poured(poured_g, parts)
    require_positive("resin poured", poured_g[0], unit="g")
    scale = parts[0] / poured_g[0]
    return max((mass * scale / part - 1.0 for mass, part in zip(poured_g[1:], parts[1:], strict=True)), key=abs)


def correction(poured_g: Sequence[float], parts: Sequence[float]) -> tuple[float, ...]:
    """Find what to add of each component to a poured mix to bring it back on ratio [g].

    0 for the one that was over-poured. Raises RangeError for a value outside its range, or lists of different lengths.
    Nothing comes out of a cup, so the component poured most, for its parts, sets the batch: a_i = p_i max(m/p) - m_i.

    >>> correction((100.0, 33.0), (100, 30))
    (10.0, 0.0)

    Parameters
    ----------
    poured_g : Mass of each component in the cup, 0 or more, not all 0 [g]
    parts : Parts by mass, in the same order, 0.001 to 100 000 each [-]
    """
    require_poured(poured_g, parts)
    require_positive("poured mass", sum(poured_g), unit="g")
    fullest = max(range(len(parts)), key=lambda place: poured_g[place] / parts[place])
    return tuple(
        0.0 if place == fullest else max(0.0, poured_g[fullest] * (parts[place] / parts[fullest]) - poured_g[place])
        for place in range(len(parts))
    )


def _require_densities(parts: Sequence[float], densities: Sequence[float]) -> None:
    """Check one density for each part."""
    require_parts(parts)
    if len(densities) != len(parts):
        raise RangeError("ratio", "every part needs one density", value=f"{len(densities)} for {len(parts)} parts")
    for density in densities:
        require_between("density", density, 0.3, 5.0, unit="g/cm^3", todo="1150 kg/m^3 is 1.15 g/cm^3")


# -- equivalents -----------------------------------------------------------------------------------------------------

NCO_G_MOL = 42.017
"""Molar mass of the isocyanate group, N=C=O."""
KOH_G_MOL = 56.1056
"""Molar mass of potassium hydroxide, in which OH numbers are counted."""


def phr(ahew_g_eq: float, eew_g_eq: float) -> float:
    """Find the parts of amine hardener for one hundred parts of epoxy resin, both by mass [-].

    phr = 100 AHEW / EEW: one amine hydrogen for each epoxide. The maker's stated ratio always comes first; this
    checks it. Source: H. Lee and K. Neville, Handbook of Epoxy Resins, McGraw-Hill, 1967.

    >>> phr(20.0, 200.0)
    10.0

    Parameters
    ----------
    ahew_g_eq : Amine hydrogen equivalent weight of the hardener, 1 to 1 000 000 [g/eq]
    eew_g_eq : Epoxide equivalent weight of the resin, 1 to 1 000 000 [g/eq]
    """
    _require_equivalent("amine hydrogen equivalent weight", ahew_g_eq)
    _require_equivalent("epoxide equivalent weight", eew_g_eq)
    return 100.0 * ahew_g_eq / eew_g_eq


def blend_equivalent_weight(masses_g: Sequence[float], equivalent_weights: Sequence[float]) -> float:
    """Find the equivalent weight of a blend [g/eq]; inf where every ingredient is inert.

    Raises RangeError for a value outside its range, or lists of different lengths.

    E = sum(m) / sum(m / e): equivalents add, and inert mass adds none. Source: H. Lee and K. Neville, Handbook of Epoxy
    Resins, McGraw-Hill, 1967.

    >>> round(blend_equivalent_weight((80, 10, 10), (189, 183, float("inf"))), 1)
    209.2

    Parameters
    ----------
    masses_g : Mass of each ingredient, 0 or more, not all 0 [g]
    equivalent_weights : Equivalent weight of each, 1 to 1 000 000, or inf for an inert filler or thinner [g/eq]
    """
    if len(masses_g) != len(equivalent_weights) or not masses_g:
        raise RangeError(
            "blend",
            "every ingredient needs one mass and one equivalent weight",
            value=f"{len(masses_g)} masses, {len(equivalent_weights)} equivalent weights",
        )
    for mass_g in masses_g:
        require_between("blend mass", mass_g, 0.0, inf, unit="g")
    total_g = require_positive("blend mass", sum(masses_g), unit="g")
    for weight_g_eq in equivalent_weights:
        if weight_g_eq != inf:
            _require_equivalent("equivalent weight", weight_g_eq)
    equivalents = sum(mass / weight for mass, weight in zip(masses_g, equivalent_weights, strict=True))
    return total_g / equivalents if equivalents > 0.0 else inf


def isocyanate_equivalent_weight(nco_percent: float) -> float:
    """Find the mass of isocyanate that holds one mole of NCO [g/eq], its equivalent weight, from its NCO content.

    E = 4201.7 / %NCO. No isocyanate holds more than 75 %: the lightest, methyl isocyanate, has 73.6 %. Source: ASTM
    D2572, Isocyanate Groups in Urethane Materials or Prepolymers.

    >>> round(isocyanate_equivalent_weight(31.5), 2)
    133.39

    Parameters
    ----------
    nco_percent : Mass of NCO groups per 100 g, above 0, at most 75 [%]
    """
    require_between(
        "NCO content", nco_percent, 0.0, 75.0, unit="%", todo="give percent by mass, 31.5 for 31.5 %", open_low=True
    )
    return 100.0 * NCO_G_MOL / nco_percent


def polyol_equivalent_weight(oh_number: float) -> float:
    """Find the mass of polyol that holds one mole of OH [g/eq], its equivalent weight, from its OH number.

    E = 56 105.6 / OH number. The densest polyols, glycerol and ethylene glycol, reach about 1800. Source: ASTM D4274,
    Determination of Hydroxyl Numbers of Polyols.

    >>> round(polyol_equivalent_weight(56), 1)
    1001.9

    Parameters
    ----------
    oh_number : Hydroxyl number, above 0, at most 2000 [mg KOH/g]
    """
    require_between("OH number", oh_number, 0.0, 2000.0, unit="mg KOH/g", open_low=True)
    return 1000.0 * KOH_G_MOL / oh_number


def _require_equivalent(where: str, value_g_eq: float) -> None:
    """Check that a mass per equivalent is one that a substance can have."""
    require_between(where, value_g_eq, 1.0, 1_000_000.0, unit="g/eq")
