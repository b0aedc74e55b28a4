"""Stoichiometry: how much hardener the reactive groups of a resin call for."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from layup.chemistry.ranges import require_between, require_positive
from layup.errors import RangeError

NCO_G_MOL = 42.017
"""Molar mass of the isocyanate group, N=C=O."""
KOH_G_MOL = 56.1056
"""Molar mass of potassium hydroxide, in which OH numbers are counted."""


def phr(ahew_g_eq: float, eew_g_eq: float) -> float:
    """Find the parts of amine hardener for one hundred parts of epoxy resin.

    Parameters
    ----------
    ahew_g_eq : float
        Amine hydrogen equivalent weight of the hardener, 1 to 1 000 000 [g/eq]
    eew_g_eq : float
        Epoxide equivalent weight of the resin, 1 to 1 000 000 [g/eq]

    Returns
    -------
    phr : float
        Grams of hardener for 100 g of resin [-]

    Raises
    ------
    RangeError
        For an equivalent weight outside its range.

    Notes
    -----
    phr = 100 AHEW / EEW: one amine hydrogen for each epoxide. The maker's stated ratio always comes first; this
    checks it.

    References
    ----------
    H. Lee and K. Neville, Handbook of Epoxy Resins, McGraw-Hill, 1967.

    Examples
    --------
    >>> phr(20.0, 200.0)
    10.0
    """
    _require_equivalent("amine hydrogen equivalent weight", ahew_g_eq)
    _require_equivalent("epoxide equivalent weight", eew_g_eq)
    return 100.0 * ahew_g_eq / eew_g_eq


def blend_equivalent_weight(masses_g: Sequence[float], equivalent_weights: Sequence[float]) -> float:
    """Find the equivalent weight of a blend.

    Parameters
    ----------
    masses_g : sequence of float
        Mass of each ingredient, 0 or more, not all 0 [g]
    equivalent_weights : sequence of float
        Equivalent weight of each, 1 to 1 000 000, or inf for an inert filler or thinner [g/eq]

    Returns
    -------
    equivalent_weight_g_eq : float
        Equivalent weight of the blend; inf where every ingredient is inert [g/eq]

    Raises
    ------
    RangeError
        For a value outside its range, or lists of different lengths.

    Notes
    -----
    E = sum(m) / sum(m / e): equivalents add, and inert mass adds none.

    References
    ----------
    H. Lee and K. Neville, Handbook of Epoxy Resins, McGraw-Hill, 1967.

    Examples
    --------
    >>> round(blend_equivalent_weight((80, 10, 10), (189, 183, float("inf"))), 1)
    209.2
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
    """Find the equivalent weight of an isocyanate from its NCO content.

    Parameters
    ----------
    nco_percent : float
        Mass of NCO groups per 100 g, above 0, at most 75 [%]

    Returns
    -------
    equivalent_weight_g_eq : float
        Mass of isocyanate that holds one mole of NCO [g/eq]

    Raises
    ------
    RangeError
        For an NCO content outside its range.

    Notes
    -----
    E = 4201.7 / %NCO. No isocyanate holds more than 75 %: the lightest, methyl isocyanate, has 73.6 %.

    References
    ----------
    ASTM D2572, Isocyanate Groups in Urethane Materials or Prepolymers.

    Examples
    --------
    >>> round(isocyanate_equivalent_weight(31.5), 2)
    133.39
    """
    require_between(
        "NCO content", nco_percent, 0.0, 75.0, unit="%", todo="give percent by mass, 31.5 for 31.5 %", open_low=True
    )
    return 100.0 * NCO_G_MOL / nco_percent


def polyol_equivalent_weight(oh_number: float) -> float:
    """Find the equivalent weight of a polyol from its OH number.

    Parameters
    ----------
    oh_number : float
        Hydroxyl number, above 0, at most 2000 [mg KOH/g]

    Returns
    -------
    equivalent_weight_g_eq : float
        Mass of polyol that holds one mole of OH [g/eq]

    Raises
    ------
    RangeError
        For an OH number outside its range.

    Notes
    -----
    E = 56 105.6 / OH number. The densest polyols, glycerol and ethylene glycol, reach about 1800.

    References
    ----------
    ASTM D4274, Determination of Hydroxyl Numbers of Polyols.

    Examples
    --------
    >>> round(polyol_equivalent_weight(56), 1)
    1001.9
    """
    require_between("OH number", oh_number, 0.0, 2000.0, unit="mg KOH/g", open_low=True)
    return 1000.0 * KOH_G_MOL / oh_number


def isocyanate_parts(index: float, isocyanate_g_eq: float, polyol_g_eq: float) -> float:
    """Find the parts of isocyanate for one hundred parts of polyol at an index.

    Notes
    -----
    parts = 100 index E_NCO / E_OH. Some makers write the index as a percentage, 105 for 1.05.

    References
    ----------
    G. Oertel (ed.), Polyurethane Handbook, 2nd ed., Hanser, 1994.

    Examples
    --------
    >>> round(isocyanate_parts(1.05, 4200 / 31.5, 56100 / 56), 3)
    13.975
    """
    require_between("isocyanate index", index, 0.5, 5.0, todo="1.05 for an index of 105")
    _require_equivalent("isocyanate equivalent weight", isocyanate_g_eq)
    _require_equivalent("polyol equivalent weight", polyol_g_eq)
    return 100.0 * index * isocyanate_g_eq / polyol_g_eq


def _require_equivalent(where: str, value_g_eq: float) -> None:
    """Check that a mass per equivalent is one that a substance can have."""
    require_between(where, value_g_eq, 1.0, 1_000_000.0, unit="g/eq")
