"""Mixing a resin system: its ratio by mass, and whether that ratio fits its chemistry.

The home of the names that others call; the arithmetic is in `ratio`, `weighing` and `equivalents`.
"""

from __future__ import annotations

from layup.chemistry.datasheet import Datasheet
from layup.chemistry.equivalents import (
    blend_equivalent_weight,
    isocyanate_equivalent_weight,
    isocyanate_parts,
    phr,
    polyol_equivalent_weight,
)
from layup.chemistry.ratio import (
    correction,
    off_ratio,
    ratio_by_volume_to_weight,
    ratio_by_weight_to_volume,
    require_parts,
    split_mass,
)
from layup.chemistry.weighing import WEIGHING_LIMIT, reading_off_ratio, smallest_batch_g, worst_case_off_ratio
from layup.errors import InputError

__all__ = [
    "STOICHIOMETRY_LIMIT",
    "WEIGHING_LIMIT",
    "blend_equivalent_weight",
    "correction",
    "isocyanate_equivalent_weight",
    "isocyanate_parts",
    "off_ratio",
    "parts_by_mass",
    "phr",
    "polyol_equivalent_weight",
    "ratio_by_volume_to_weight",
    "ratio_by_weight_to_volume",
    "reading_off_ratio",
    "smallest_batch_g",
    "split_mass",
    "stoichiometry_gap",
    "stoichiometry_warning",
    "worst_case_off_ratio",
]

STOICHIOMETRY_LIMIT = 0.10
"""A stated ratio further than this from its equivalents is reported (common practice, no source)."""


def parts_by_mass(datasheet: Datasheet) -> tuple[float, float]:
    """Return a resin's mix ratio as parts by mass, converting a ratio by volume with the densities.

    Parameters
    ----------
    datasheet : Datasheet
        The resin system [-]

    Returns
    -------
    parts : tuple of float
        Resin and hardener by mass [-]

    Raises
    ------
    RangeError
        For a part or a density outside its range.
    InputError
        For a ratio by volume without both densities.
    """
    require_parts(datasheet.ratio)
    if datasheet.ratio_by == "weight":
        return datasheet.ratio
    densities = datasheet.resin.density_g_cm3, datasheet.hardener.density_g_cm3
    if densities[0] is None or densities[1] is None:
        missing = "resin" if densities[0] is None else "hardener"
        raise InputError(
            f"{datasheet.id} ratio",
            f"is by volume, and the {missing} has no density",
            allowed="grams need the density of both components",
            todo=f"give [{missing}] density from its safety data sheet, or the ratio by weight",
        )
    resin, hardener = ratio_by_volume_to_weight(datasheet.ratio, (densities[0], densities[1]))
    return resin, hardener


def stoichiometry_gap(datasheet: Datasheet) -> float | None:
    """Find how far a stated ratio is from the one that the equivalent weights call for.

    Parameters
    ----------
    datasheet : Datasheet
        The resin system [-]

    Returns
    -------
    gap : float or None
        +0.10 for 10 % more hardener than the equivalents call for; None where an equivalent weight, or a density
        that a ratio by volume needs, is not stated, or the chemistry is neither epoxy-amine nor urethane [-]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    gap = (h/E_h) / (r/E_r) - 1: hardener equivalents over resin equivalents. For an epoxy-amine this is the stated
    ratio over phr = 100 AHEW/EEW; for a urethane whose hardener is the isocyanate it is the index less one.
    """
    resin_g_eq, hardener_g_eq = datasheet.resin.equivalent_weight_g_eq, datasheet.hardener.equivalent_weight_g_eq
    if datasheet.chemistry == "other" or resin_g_eq is None or hardener_g_eq is None:
        return None
    densities = datasheet.resin.density_g_cm3, datasheet.hardener.density_g_cm3
    if datasheet.ratio_by == "volume" and None in densities:
        return None
    resin, hardener = parts_by_mass(datasheet)
    return 100.0 * hardener / resin / phr(hardener_g_eq, resin_g_eq) - 1.0


def stoichiometry_warning(datasheet: Datasheet) -> str | None:
    """Return the sentence to show where a stated ratio is more than 10 % from its equivalents.

    Parameters
    ----------
    datasheet : Datasheet
        The resin system [-]

    Returns
    -------
    warning : str or None
        One sentence, or None where nothing is to report [-]

    Raises
    ------
    RangeError
        For a value outside its range.
    """
    gap = stoichiometry_gap(datasheet)
    if gap is None or abs(gap) <= STOICHIOMETRY_LIMIT:
        return None
    side = "more" if gap > 0 else "less"
    kind = "AHEW and EEW" if datasheet.chemistry == "epoxy-amine" else "NCO and OH equivalents"
    return (
        f"The stated ratio has {100 * abs(gap):.0f} % {side} hardener than {kind} call for; "
        "check the ratio, by weight or by volume, and both equivalent weights against the datasheet."
    )
